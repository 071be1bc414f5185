/* A Runge-Kutta method of fourth order that solves what is fast and linear in a loop exactly. */
#ifndef TOWERLOOP_ENGINE_EXPONENTIAL_RK4_H
#define TOWERLOOP_ENGINE_EXPONENTIAL_RK4_H

#include <gsl/gsl_odeiv2.h>

#include "rk4_kernel.h"

extern const gsl_odeiv2_step_type *const tl_step_exponential_rk4;

/* For the steps to come; before the first, there is no linear part. */
void tl_exponential_rk4_set(gsl_odeiv2_step *step, const struct tl_linear_part *linear);

#endif
