/* Cubic Hermite interpolation inside a step (Hairer, Norsett & Wanner, Solving Ordinary Differential
 * Equations I, section II.6; from memory). */
#include "dense_output.h"

#include <math.h>

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

/* With d = follower - leader, d' = -q d + N: settled, and N on a straight line between the ends, it
 * would be N/q - N'/q^2. The rest is the transient; the cubic's own idea of it is taken out. */
void tl_hermite_transient(double t0, double t1, const double *y0, const double *f0,
                          const double *y1, const double *f1, double t, double exchange_1_d,
                          size_t leader, size_t follower, size_t n, double *y)
{
    const double h = t1 - t0;
    const double q = exchange_1_d;
    const double end = exp(-q * h);
    const double whole[2] = {1, end};
    const double slope[2] = {-q, -q * end};
    double cubic = 0;

    if (!(q * h > 1) || t <= t0 || t >= t1)
        return;
    tl_hermite(t0, t1, &whole[0], &slope[0], &whole[1], &slope[1], t, 1, &cubic);
    const double missing = exp(-q * (t - t0)) - cubic;
    for (size_t i = 0; i < n; i++) {
        const size_t u = leader + i;
        const size_t v = follower + i;
        const double n0 = f0[v] - f0[u] + q * (y0[v] - y0[u]);
        const double n1 = f1[v] - f1[u] + q * (y1[v] - y1[u]);
        const double settled = n0 / q - (n1 - n0) / (h * q * q);
        y[v] += missing * (y0[v] - y0[u] - settled);
    }
}
