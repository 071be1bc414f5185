/* Running a setup in a test. */
#ifndef TOWERLOOP_TESTS_RUNS_H
#define TOWERLOOP_TESTS_RUNS_H

#include "loop.h"
#include "towerloop/engine.h"

struct run {
    struct tl_model *model;
    struct tl_engine *engine;
    const struct tl_layout *at;
    const double *y; /* the state, as it goes */
};

/* A run at its start; it fails the test when it cannot be made. rtol 0: the default. */
struct run start_run(const struct tl_setup *s, double rtol, const struct tl_observer *o,
                     size_t observers);
/* A run at its end; a fault of the engine fails the test. */
struct run whole_run(const struct tl_setup *s, double rtol, const struct tl_observer *o,
                     size_t observers);
void end_run(struct run *r);

#endif
