/* A Runge-Kutta method of fourth order that solves what is fast and linear in a loop exactly. */
#ifndef TOWERLOOP_ENGINE_EXPONENTIAL_RK4_H
#define TOWERLOOP_ENGINE_EXPONENTIAL_RK4_H

#include <gsl/gsl_odeiv2.h>
#include <stddef.h>

/* The parts of the state that the stepper knows something about. Without pairs and chains it is the
 * classical method of Runge and Kutta. */
struct tl_linear_part {
    size_t core; /* the rates look at the first `core` components only; 0: at all */

    /* `pairs` components, one behind another in each water, of a water that follows the one it is fed
     * from: (follower - leader) decays at this rate. Never negative. */
    size_t leader, follower, pairs;
    double exchange_1_d;
    double follower_share; /* of the volume of both */

    /* `chains` times, `stride` apart: the component at `chain` decays into the next one, that decays
     * away, both at chain_rate(arg, t). Nothing else acts on them, and their yerr is 0. */
    size_t chain, chains, stride;
    double (*chain_rate)(void *arg, double t_d);
    void *arg;
};

extern const gsl_odeiv2_step_type *const tl_step_exponential_rk4;

/* For the steps to come; before the first, there is no linear part. */
void tl_exponential_rk4_set(gsl_odeiv2_step *step, const struct tl_linear_part *linear);

#endif
