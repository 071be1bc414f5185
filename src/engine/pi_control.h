/* Step size control that looks at the last two errors. */
#ifndef TOWERLOOP_ENGINE_PI_CONTROL_H
#define TOWERLOOP_ENGINE_PI_CONTROL_H

#include <gsl/gsl_odeiv2.h>
#include <stddef.h>

/* A step is accepted when every component i of the first n has |yerr| <= rtol (|y| + scale[i]);
 * `scale` stays the caller's. NULL when memory runs out. */
gsl_odeiv2_control *tl_pi_control_new(double rtol, const double *scale, size_t n);

/* What was learnt from the last step does not hold any more. */
void tl_pi_control_forget(gsl_odeiv2_control *control);

#endif
