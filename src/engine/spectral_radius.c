/* The spectral radius by power iteration: the growth of a small nudge along the fastest mode. */
#include "spectral_radius.h"

#include <math.h>
#include <string.h>

#define NUDGE 1e-2 /* of the scales: far above the rounding and the iterations inside the rates */

static double normalise(double *v, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += v[i] * v[i];
    const double norm = sqrt(sum);
    for (size_t i = 0; i < n && norm > 0; i++)
        v[i] /= norm;
    return norm;
}

double tl_spectral_radius(tl_rhs *rhs, void *arg, double t, const double *y, const double *dydt,
                          const double *scale, size_t n, size_t size, int rounds, double *direction,
                          double *probe, double *slope)
{
    double radius = 0;

    if (!(normalise(direction, n) > 0)) {
        /* the present change and a pattern that no symmetry of the loop shares */
        for (size_t i = 0; i < n; i++)
            direction[i] = dydt[i] / scale[i] + ((i % 3) == 0 ? 1 : -0.5);
        normalise(direction, n);
    }
    for (int k = 0; k < rounds; k++) {
        memcpy(probe, y, size * sizeof *y);
        for (size_t i = 0; i < n; i++)
            probe[i] += NUDGE * direction[i] * scale[i];
        if (rhs(t, probe, slope, arg) != 0)
            return -1;
        for (size_t i = 0; i < n; i++)
            direction[i] = (slope[i] - dydt[i]) / (NUDGE * scale[i]);
        radius = normalise(direction, n);
    }
    return radius;
}
