/* Step size control that looks at the last two errors. */
#ifndef TOWERLOOP_ENGINE_PI_CONTROL_H
#define TOWERLOOP_ENGINE_PI_CONTROL_H

#include <gsl/gsl_odeiv2.h>
#include <stdbool.h>
#include <stddef.h>

/* What the control remembers. */
struct tl_pi {
    double last; /* error against the tolerance; 1 before the first step */
    bool rejected;
};

/* Whether a step whose error is `e` times the tolerance is accepted, and the size for the next one, or
 * the next try; the leading term of the error goes with h^k. */
bool tl_pi_adjust(struct tl_pi *pi, double k, double e, double *h);
void tl_pi_forget(struct tl_pi *pi);

/* The same for GSL. A step is accepted when every component i of the first n has |yerr| <= rtol (|y| + scale[i]);
 * `scale` stays the caller's. NULL when memory runs out. */
gsl_odeiv2_control *tl_pi_control_new(double rtol, const double *scale, size_t n);

/* What was learnt from the last step does not hold any more. */
void tl_pi_control_forget(gsl_odeiv2_control *control);

#endif
