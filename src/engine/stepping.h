/* How long steps are, besides the control of the error: the same for one loop and for many. */
#ifndef TL_ENGINE_STEPPING_H
#define TL_ENGINE_STEPPING_H

#include <math.h>

#define DEFAULT_RTOL    1e-5
#define FIRST_STEP_D    1e-3
#define LOCAL_SHARE     0.4 /* of the tolerance for one step, so that a run keeps to it */
#define SAME_INSTANT_D  1e-9
#define SHORT_STEP_D    1e-9 /* steps this short, again and again, are a stall */
#define MAX_SHORT_STEPS 10000

/* No longer than this from an instant on (longest_step.c). */
struct tl_model;
double tl_longest_step_d(const struct tl_model *m, double t_d);

/* As many equal steps to the next stop as the wanted size asks for. A little more than the last of
 * them, so that the evolution lands on the stop and leaves no crumb. */
static inline double even_step(double wanted_d, double left_d)
{
    const double steps = ceil(left_d / wanted_d);
    return steps > 1 ? left_d / steps : 2 * left_d;
}

/* The instant at which a step that ends at `until_d` looks at weather and temperature: what changes at
 * a stop (water let in, evaporation without the pump) has no part in the step that ends there. */
static inline double tl_before_stop_d(double t_d, double until_d)
{
    return fmin(t_d, until_d - SAME_INSTANT_D);
}

#endif
