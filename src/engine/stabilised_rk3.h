/* Explicit Runge-Kutta methods of third order whose stability grows with the square of the number of
 * stages, as a stepper for gsl_odeiv2. */
#ifndef TL_ENGINE_STABILISED_RK3_H
#define TL_ENGINE_STABILISED_RK3_H

#include <gsl/gsl_odeiv2.h>

/* A step takes as many stages, 3 to 8, as its size needs for the spectral radius it was told; a step
 * too large for 8 stages fails, so that GSL halves it. */
extern const gsl_odeiv2_step_type *const tl_step_stabilised_rk3;

/* Tell the stepper the spectral radius of the system, 1/d: the size of its most negative eigenvalue,
 * with whatever margin it deserves. Until then it is taken as 0. */
void tl_stabilised_rk3_radius(gsl_odeiv2_step *step, double radius_1_d);

/* The largest radius_1_d * h that `stages` (3..8) allow: what the tests check the tableau against. */
double tl_stabilised_rk3_limit(int stages);

#endif
