/* Whole runs of a loop, for checks on what comes out of all of it together. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_WHOLE_RUN_H
#define TOWERLOOP_TESTS_OUTSIDE_WHOLE_RUN_H

#include "loop.h"
#include "towerloop/engine.h"

struct whole_run {
    struct tl_model *model;
    struct tl_engine *engine;
    const struct tl_layout *at;
    const double *y; /* the state, as it goes */
};

/* A run at its start, with at most one observer (NULL: none); -1 when it cannot be made. */
int whole_run_start(const struct tl_setup *s, const struct tl_observer *o, struct whole_run *out);
/* On to day `t_d`, INFINITY for the end; 0 or -1. */
int whole_run_to(struct whole_run *r, double t_d);
void whole_run_end(struct whole_run *r);

/* Extent of a film process over the whole loop so far: tank, chamber and tower, gCOD. */
double whole_run_extent(const struct whole_run *r, int process);

#endif
