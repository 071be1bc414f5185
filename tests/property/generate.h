/* Random scenarios, written as a keeper would write them. */
#ifndef TOWERLOOP_TESTS_GENERATE_H
#define TOWERLOOP_TESTS_GENERATE_H

#include "random.h"
#include "text.h"
#include "towerloop/setup.h"

struct coverage; /* how often each key of the reader was written */

struct wish {
    double shortest_d, longest_d; /* length of the run */
    const char *folder;           /* where files of readings may be put */
    bool outdoors;                /* now and then weather instead of a temperature */
    bool instants;                /* many events at one instant, none with `for:` */
};

/* A valid scenario, different for each seed, as YAML. */
void generate(uint64_t seed, const struct wish *wish, struct tl_text *out, struct coverage *seen);

struct coverage *coverage_new(void);
/* Prints the keys that were never written; returns how many, out of *all. */
size_t coverage_missing(const struct coverage *seen, size_t *all);
void coverage_free(struct coverage *seen);

#endif
