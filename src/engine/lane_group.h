/* A few loops of one form in vector lanes, one vector's worth of them: what the code compiled for a
 * level of the processor offers to the batch, which is compiled for any.
 *
 * Levels differ in how many lanes a vector has; a batch has the same loops whatever the level, in as
 * many groups as it takes, and every lane's numbers are the same on all of them, bit by bit. */
#ifndef TL_ENGINE_LANE_GROUP_H
#define TL_ENGINE_LANE_GROUP_H

#include <stdbool.h>
#include <stddef.h>

#include "tower_kernel.h"

/* Value i of lane l stands at [i * wide + l] of all arrays. The structs of reals of the model lie in
 * here as such arrays: lane l has the doubles of the one-lane struct, in their order. */
struct tl_lane_group {
    struct tl_form form;
    bool tower_on;       /* water crosses the tower */
    double *film;        /* struct tl_film_model */
    double *site;        /* struct tl_site */
    double *scale;       /* form.at.core; what counts as small */
    double *flows;       /* struct tl_flows, its reals */
    double *temperature; /* degC, as `warm` left it */
    double *sky;         /* struct tl_sky, likewise */
    bool steady;         /* they never change */
    double *y;           /* form.at.core: state at the end of the last step */
    double *y0;          /* at its start */
    double *f0, *f1;     /* rates at its start and end */
    double
        *total; /* form.at.size, from form.at.core on: the running totals, where they are booked */
    /* Puts temperatures and sky of this instant in place. */
    void (*warm)(void *arg, double t_d);
    void *arg;
};

enum { TL_LANE_FLOWS = 6, TL_LANE_SKY = 4 };

struct tl_lane_level {
    const char *name; /* "baseline", "avx2", "avx512" */
    int wide;

    /* All in it zero; NULL when memory runs out. */
    struct tl_lane_group *(*create)(const struct tl_form *form, double rtol);
    void (*release)(struct tl_lane_group *g);
    /* dydt of the state y at an instant, `form.at.size` values each lane: TL_OK or TL_E_SOLVER. */
    int (*rates)(struct tl_lane_group *g, double t_d, const double *y, double *dydt);
    /* After `flows` were put in, and before anything else. */
    void (*flow_anew)(struct tl_lane_group *g);
    /* After flows or water changed: bounds *h_d so that no lane's transient is stepped over. */
    void (*begin)(struct tl_lane_group *g, double t_d, double *h_d);
    /* f0 from y, after y was changed: TL_OK or TL_E_SOLVER. */
    int (*start)(struct tl_lane_group *g, double t_d);
    /* One step of y. *error: the largest of all lanes against the tolerance, infinite where something
     * is not a number. TL_OK; else y is as it was. */
    int (*step)(struct tl_lane_group *g, double t_d, double h_d, double *error);
    void (*undo)(struct tl_lane_group *g);   /* the step */
    void (*accept)(struct tl_lane_group *g); /* the end's rates are the next start's */
    /* The last step of h_d, before it is accepted, into the running totals. */
    void (*book)(struct tl_lane_group *g, double h_d);
    /* The leading `need` components inside the last step, before it is accepted. */
    void (*interpolate)(struct tl_lane_group *g, double t0_d, double t1_d, double t_d, size_t need,
                        double *out);
};

extern const struct tl_lane_level tl_lanes_baseline;
#ifdef __x86_64__
extern const struct tl_lane_level tl_lanes_avx2;
extern const struct tl_lane_level tl_lanes_avx512;
#endif

#endif
