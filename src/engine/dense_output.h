/* Values inside a step. */
#ifndef TOWERLOOP_ENGINE_DENSE_OUTPUT_H
#define TOWERLOOP_ENGINE_DENSE_OUTPUT_H

#include <stddef.h>

/* Cubic Hermite interpolation of n components between (t0, y0, f0) and (t1, y1, f1), the state and
 * its derivative at both ends of a step: third order, continuous with its first derivative. `t` is
 * clipped to the step; t0 = t1 gives y0. */
void tl_hermite(double t0, double t1, const double *y0, const double *f0, const double *y1,
                const double *f1, double t, size_t n, double *y);

/* The same for the components of a water that follows another, `n` of them: y holds what tl_hermite()
 * gave from 0 to follower + n. In steps much longer than 1/exchange_1_d the follower may hold a dying
 * transient exp(-exchange t) that no cubic can show; it is told from the ends of the step by how far
 * the follower is from the course it would settle on, and put in its place. */
void tl_hermite_transient(double t0, double t1, const double *y0, const double *f0,
                          const double *y1, const double *f1, double t, double exchange_1_d,
                          size_t leader, size_t follower, size_t n, double *y);

/* The instant, to the second, at which a component that is below `limit` at t1 falls below it; t0 when
 * it is below there already. */
double tl_fall_below(double t0, double t1, double y0, double f0, double y1, double f1,
                     double limit);

#endif
