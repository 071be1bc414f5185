/* The first step after a sudden change, in one lane or many (lanes.h).
 *
 * A sudden change of water or flows sets off a transient in the chamber. The stepper solves it exactly,
 * but what it does to the films on its way is only sampled at the start of a step, with a weight of
 * 1/6, and the error estimate is blind to what has gone by the end. So the first step is bounded by
 * the change of rates to come, from now to when the chamber has followed; the control lets the next
 * ones no more than double. What a rate owes to the exchange itself does not count. */
#ifndef TL_ENGINE_TRANSIENT_KERNEL_H
#define TL_ENGINE_TRANSIENT_KERNEL_H

#include "lanes.h"
#include "stepping.h"
#include "towerloop/component.h"

#define LEAST_START_D   1e-6 /* of a step after a sudden change */
#define TRANSIENT_SHARE 0.5  /* of the time the chamber takes to follow */

struct tl_transient {
    real exchange_1_d;    /* flow over the chamber's volume, above 0 */
    real share;           /* chamber over tank, by volume */
    size_t tank, chamber; /* where they stand in the state */
    double rtol;
};

/* The waters once the chamber has followed: `probe` holds the present state. */
static inline void tl_transient_end(const struct tl_transient *c, const real *now, real *probe)
{
    for (size_t k = 0; k < TL_NWATER; k++)
        probe[c->chamber + k] += (now[c->chamber + k] - now[c->tank + k]) / c->exchange_1_d;
}

/* The bounded step, at most h_d, from the rates now and then. */
static inline real tl_transient_step(const struct tl_transient *c, const real *y, const real *probe,
                                     const real *now, const real *then, const real *scale, real h_d)
{
    for (size_t k = 0; k < TL_NWATER; k++) {
        const size_t u = c->tank + k;
        const real moved = c->exchange_1_d * c->share * (probe[c->chamber + k] - y[c->chamber + k]);
        const real change = lane_abs(then[u] - now[u] - moved);
        const real level = LOCAL_SHARE * c->rtol * (lane_abs(y[u]) + scale[u]);
        h_d = lane_select(change * h_d > 6 * level,
                          lane_max(6 * level / change, lane_all(LEAST_START_D)), h_d);
    }
    return h_d;
}

#endif
