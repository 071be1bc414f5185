/* Random loops for a program of tests: scenario i is that of seed `first_seed` + i. */
#ifndef TOWERLOOP_TESTS_RANDOM_LOOPS_H
#define TOWERLOOP_TESTS_RANDOM_LOOPS_H

#include "generate.h"
#include "towerloop/scenario.h"

struct random_loops {
    uint64_t first_seed;
    char folder[32]; /* of the scenario and what it reads */
    char file[64];   /* the scenario that was made last */
    struct coverage *seen;
};

/* TL_SEED (environment) goes before `seed`. 0, or -1 when something cannot be made. */
int random_loops_begin(struct random_loops *r, uint64_t seed);
int random_loops_end(struct random_loops *r);

/* The scenario of a seed; wish->folder is filled in. What the reader says against it is shown with its
 * text. A status of the reader. */
int random_loop(const struct random_loops *r, uint64_t seed, struct wish wish,
                struct tl_scenario *out);

#endif
