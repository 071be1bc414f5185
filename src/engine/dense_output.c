/* Cubic Hermite interpolation inside a step (Hairer, Norsett & Wanner, Solving Ordinary Differential
 * Equations I, section II.6; from memory). */
#include "dense_output.h"

void tl_hermite(double t0, double t1, const double *y0, const double *f0, const double *y1,
                const double *f1, double t, size_t n, double *y)
{
    const double h = t1 - t0;
    double x = h > 0 ? (t - t0) / h : 0;

    if (x < 0)
        x = 0;
    else if (x > 1)
        x = 1;
    const double a = x * x * (3 - 2 * x);
    const double b = h * x * (1 - x) * (1 - x);
    const double c = -h * x * x * (1 - x);
    for (size_t i = 0; i < n; i++)
        y[i] = y0[i] + a * (y1[i] - y0[i]) + b * f0[i] + c * f1[i];
}
