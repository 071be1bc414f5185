/* Cubic Hermite interpolation inside a step, in one lane or many (lanes.h): Hairer, Norsett & Wanner,
 * Solving Ordinary Differential Equations I, section II.6 (from memory). */
#ifndef TL_ENGINE_DENSE_KERNEL_H
#define TL_ENGINE_DENSE_KERNEL_H

#include "lanes.h"

struct tl_dense { /* a step: state and rates at both ends */
    double t0, t1;
    const real *y0, *f0, *y1, *f1;
};

static inline void tl_dense_at(const struct tl_dense *s, double t, size_t n, real *y)
{
    const double h = s->t1 - s->t0;
    double x = h > 0 ? (t - s->t0) / h : 0;

    if (x < 0)
        x = 0;
    else if (x > 1)
        x = 1;
    const double a = x * x * (3 - 2 * x);
    const double b = h * x * (1 - x) * (1 - x);
    const double c = -h * x * x * (1 - x);
    for (size_t i = 0; i < n; i++)
        y[i] = s->y0[i] + a * (s->y1[i] - s->y0[i]) + b * s->f0[i] + c * s->f1[i];
}

/* With d = follower - leader, d' = -q d + N: settled, and N on a straight line between the ends, it
 * would be N/q - N'/q^2. The rest is the transient; the cubic's own idea of it is taken out. */
static inline void tl_dense_transient(const struct tl_dense *s, double t, real q, size_t leader,
                                      size_t follower, size_t n, real *y)
{
    const double h = s->t1 - s->t0;
    const mask fast = q * h > 1;

    if (!lane_any(fast) || t <= s->t0 || t >= s->t1)
        return;
    const real whole[2] = {lane_all(1), lane_exp(-q * h)};
    const real slope[2] = {-q, -q * whole[1]};
    const struct tl_dense course = {s->t0, s->t1, &whole[0], &slope[0], &whole[1], &slope[1]};
    real cubic;
    tl_dense_at(&course, t, 1, &cubic);
    const real missing = lane_exp(-q * (t - s->t0)) - cubic;
    for (size_t i = 0; i < n; i++) {
        const size_t u = leader + i;
        const size_t v = follower + i;
        const real n0 = s->f0[v] - s->f0[u] + q * (s->y0[v] - s->y0[u]);
        const real n1 = s->f1[v] - s->f1[u] + q * (s->y1[v] - s->y1[u]);
        const real settled = n0 / q - (n1 - n0) / (h * q * q);
        y[v] += lane_select(fast, missing * (s->y0[v] - s->y0[u] - settled), lane_all(0));
    }
}

#endif
