/* The interpolation of dense_kernel.h for one loop. */
#include "dense_output.h"

#include "dense_kernel.h"

void tl_hermite(double t0, double t1, const double *y0, const double *f0, const double *y1,
                const double *f1, double t, size_t n, double *y)
{
    const struct tl_dense step = {t0, t1, y0, f0, y1, f1};
    tl_dense_at(&step, t, n, y);
}

void tl_hermite_transient(double t0, double t1, const double *y0, const double *f0,
                          const double *y1, const double *f1, double t, double exchange_1_d,
                          size_t leader, size_t follower, size_t n, double *y)
{
    const struct tl_dense step = {t0, t1, y0, f0, y1, f1};
    tl_dense_transient(&step, t, exchange_1_d, leader, follower, n, y);
}

double tl_fall_below(double t0, double t1, double y0, double f0, double y1, double f1, double limit)
{
    double lo = t0;
    double hi = y0 < limit ? t0 : t1;

    while (hi - lo > 1.0 / 86400) {
        const double mid = 0.5 * (lo + hi);
        double value = 0;
        tl_hermite(t0, t1, &y0, &f0, &y1, &f1, mid, 1, &value);
        if (value < limit)
            hi = mid;
        else
            lo = mid;
    }
    return hi;
}
