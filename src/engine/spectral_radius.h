/* How fast the fastest mode of a system decays. */
#ifndef TL_ENGINE_SPECTRAL_RADIUS_H
#define TL_ENGINE_SPECTRAL_RADIUS_H

#include <stddef.h>

typedef int tl_rhs(double t, const double y[], double dydt[], void *arg);

/* Nonlinear power iteration (Sommeijer, Shampine & Verwer 1998, J. Comput. Appl. Math. 88:315): each
 * of `rounds` calls of `rhs` turns `direction` (components in units of `scale`) towards the mode of
 * the largest eigenvalue and measures how much the derivative changes along it. `dydt` is the
 * derivative at (t, y); `probe` and `slope` are room for `size` values each; only the first `n`
 * components are turned. A direction of zeros stands for none known. Returns the radius, 1/d, or a
 * negative number when `rhs` fails. */
double tl_spectral_radius(tl_rhs *rhs, void *arg, double t, const double *y, const double *dydt,
                          const double *scale, size_t n, size_t size, int rounds, double *direction,
                          double *probe, double *slope);

#endif
