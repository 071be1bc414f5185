/* The same run by any solver: the stops of a model carried out around somebody else's integration of
 * its right-hand side, and the tank's ammonia, nitrite and oxygen noted every hour. */
#ifndef TOWERLOOP_BENCH_WALK_H
#define TOWERLOOP_BENCH_WALK_H

#include <stdbool.h>
#include <stddef.h>

#include "loop.h"

#define HOUR_D   (1.0 / 24)
#define COMPARED 3 /* TAN, NO2, O2 */

struct hours {
    double (*value)[COMPARED];
    size_t n, capacity;
};

void note_hour(struct hours *h, const double *tank);
/* Largest |y - exact|/max(|exact|, 0.05); infinite when the two are not equally long. */
double largest_error(const struct hours *h, const struct hours *exact);

/* A run in the hands of another solver: only the state proper is integrated, `y` has room for all. */
struct walk {
    const struct tl_model *model;
    const struct tl_layout *at;
    struct tl_work *work;
    struct tl_controls controls;
    struct tl_saved *saved;
    const struct tl_stop *stop;
    size_t stops, next_stop;
    double t_d, end_d;
    double *y, *dydt, *scale;
    unsigned long evaluations;
    struct hours hours;
};

/* A way of integrating. `open` and `restart` make it ready to go on from w->t_d, w->y; `go` takes
 * w->y to `t_d` without passing `until_d`, the next stop. False: it gave up. */
struct solver {
    const char *name;
    void *(*open)(struct walk *w, const struct solver *s, double rtol);
    bool (*restart)(void *state, struct walk *w);
    bool (*go)(void *state, struct walk *w, double t_d, double until_d);
    void (*close)(void *state);
    const void *kind; /* what the functions of one library tell their solvers apart by */
};

/* The whole run; the hours are in `out`. False: the solver gave up. */
bool walk(const struct tl_model *m, const struct solver *s, double rtol, struct hours *out,
          unsigned long *evaluations);

/* The right-hand side of the state proper, counted: 0 or not. */
int walk_rhs(struct walk *w, double t_d, const double *y, double *dydt);

extern const struct solver gsl_solvers[];
extern const size_t gsl_solver_count;
extern const struct solver sundials_solvers[];
extern const size_t sundials_solver_count;

#endif
