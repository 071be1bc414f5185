/* Runge-Kutta of fourth order, exponential in the exchange of water between tank and chamber, in one
 * lane or many (lanes.h).
 *
 * The settling chamber follows the tank within minutes (flow over volume: 100 to 2000 a day), all else
 * in a loop is slower than some 20 a day. With u the leader (tank), v the follower (chamber), the
 * difference d = v - u obeys
 *
 *     d' = -q d + N(t, y),     N = v' - u' + q d     of moderate size,
 *
 * and the method of Krogstad 2005, J. Comput. Phys. 203:72, solves -q d exactly and N by fourth
 * order. In terms of the derivatives F1 ... F4 of the stages, z = q h, and
 * phi_k(z) = integral over 0 <= s <= 1 of exp(-(1-s) z) s^(k-1)/(k-1)!:
 *
 *     d2  = d1 + h/2 phi_1(z/2) F1
 *     d3  = d1 + h (1/2 phi_1(z/2) F1 + phi_2(z/2) (N2 - N1))
 *     d4  = d1 + h (phi_1(z) F1 + 2 phi_2(z) (N3 - N1))
 *     d5  = d1 + h (phi_1(z) F1 + (2 phi_2 - 4 phi_3)(N2 + N3 - 2 N1) + (4 phi_3 - phi_2)(N4 - N1))
 *
 * With q = 0 this is the classical method, which all other components get.
 *
 * What the classical weights say about the mass in both waters is kept: the difference decides only
 * how it is shared. So a ledger whose totals are components of the state closes to rounding.
 *
 * A chain of two equal linear decays (the guts of the fish) is solved in closed form in every stage,
 * the rate's course between three instants taken as a parabola. The end of the second link comes from
 * the balance, again so that the ledger closes.
 *
 * The derivative at the new point is the first stage of the next step. In place of the fourth stage it
 * makes a method of third order; the difference is the estimate of the error. */
#ifndef TL_ENGINE_RK4_KERNEL_H
#define TL_ENGINE_RK4_KERNEL_H

#include <string.h>

#include "lanes.h"

/* The parts of the state that the stepper knows something about. Without pairs and chains it is the
 * classical method of Runge and Kutta. */
struct tl_linear_part {
    size_t core; /* the rates look at the first `core` components only; 0: at all */

    /* `pairs` components, one behind another in each water, of a water that follows the one it is fed
     * from: (follower - leader) decays at this rate. Never negative. */
    size_t leader, follower, pairs;
    real exchange_1_d;
    real follower_share; /* of the volume of both */

    /* `chains` times, `stride` apart: the component at `chain` decays into the next one, that decays
     * away, both at chain_rate(arg, t). Nothing else acts on them, and their yerr is 0. */
    size_t chain, chains, stride;
    real (*chain_rate)(void *arg, double t_d);
    void *arg;
};

/* The right-hand side: 0, or anything else to give the step up. */
typedef int tl_rates(void *arg, double t, const real *y, real *dydt);

struct tl_rk4 {
    struct tl_linear_part linear;
    real *k1, *k2, *k3, *k4, *y0, *stage;
    real *n2, *n3, *n4, *d4; /* of the pairs: N - N1 of the stages, difference in the fourth */
};

enum { TL_RK4_VECTORS = 10 };

struct tl_phi {
    real one, two, three;
};

/* phi_1 ... phi_3 of -z, z >= 0: below 1 by the series of phi_3, above by the recursion. */
static inline struct tl_phi phi(real z)
{
    const mask near = z < 1;
    struct tl_phi p = {z, z, z};

    if (lane_any(near)) {
        real term = lane_all(1.0 / 6);
        p.three = lane_all(0);
        for (int k = 4; k < 22; k++) {
            p.three += term;
            term *= -z / k;
        }
        p.two = 0.5 - z * p.three;
        p.one = 1 - z * p.two;
    }
    if (lane_any(lane_not(near))) {
        const real one = -lane_expm1(-z) / z;
        const real two = (1 - one) / z;
        p.three = lane_select(near, p.three, (0.5 - two) / z);
        p.two = lane_select(near, p.two, two);
        p.one = lane_select(near, p.one, one);
    }
    return p;
}

/* --- one step --------------------------------------------------------------------------------- */

struct tl_rk4_step {
    double t, h;
    struct tl_phi half, full;
    real tau_half, tau_full; /* integrals of the chains' rate */
};

static inline struct tl_rk4_step begin_step(const struct tl_linear_part *l, double t, double h)
{
    struct tl_rk4_step s = {.t = t, .h = h};

    s.half = phi(0.5 * l->exchange_1_d * h);
    s.full = phi(l->exchange_1_d * h);
    if (l->chains > 0) {
        const real r0 = l->chain_rate(l->arg, t);
        const real r1 = l->chain_rate(l->arg, t + 0.5 * h);
        const real r2 = l->chain_rate(l->arg, t + h);
        s.tau_half = h * (5 * r0 + 8 * r1 - r2) / 24;
        s.tau_full = h * (r0 + 4 * r1 + r2) / 6;
    }
    return s;
}

/* stage = y0 + c k */
static inline void advance(real *restrict stage, const real *restrict y0, double c,
                           const real *restrict k, size_t n)
{
    for (size_t i = 0; i < n; i++)
        stage[i] = y0[i] + c * k[i];
}

/* The followers of a stage, from their leaders and the difference d1 + a F1 + b n (n may be NULL);
 * the difference is noted in `d` unless that is NULL. */
static inline void follow(const struct tl_rk4 *s, real a, real b, const real *n, real *d)
{
    const struct tl_linear_part *l = &s->linear;
    const real *u0 = &s->y0[l->leader];
    const real *v0 = &s->y0[l->follower];
    const real *du = &s->k1[l->leader];
    const real *dv = &s->k1[l->follower];

    for (size_t i = 0; i < l->pairs; i++) {
        const real difference = v0[i] - u0[i] + a * (dv[i] - du[i]) + (n ? b * n[i] : lane_all(0));
        s->stage[l->follower + i] = s->stage[l->leader + i] + difference;
        if (d)
            d[i] = difference;
    }
}

/* N - N1 of the stage with this derivative. */
static inline void note_remainder(const struct tl_rk4 *s, const real *k, real *n)
{
    const struct tl_linear_part *l = &s->linear;

    for (size_t i = 0; i < l->pairs; i++) {
        const size_t u = l->leader + i;
        const size_t v = l->follower + i;
        n[i] = (k[v] - k[u]) - (s->k1[v] - s->k1[u]) +
               l->exchange_1_d * ((s->stage[v] - s->stage[u]) - (s->y0[v] - s->y0[u]));
    }
}

/* The chains after the time in which their rate adds up to tau. */
static inline void decay(const struct tl_rk4 *s, real tau)
{
    const struct tl_linear_part *l = &s->linear;
    const real left = l->chains > 0 ? lane_exp(-tau) : tau;

    for (size_t j = 0; j < l->chains; j++) {
        const size_t i = l->chain + j * l->stride;
        s->stage[i] = s->y0[i] * left;
        s->stage[i + 1] = (s->y0[i + 1] + s->y0[i] * tau) * left;
    }
}

/* The new state: the classical weights, then how the waters share and what the chains keep. */
static inline void finish(const struct tl_rk4 *s, const struct tl_rk4_step *p, real *restrict y,
                          size_t dim)
{
    const struct tl_linear_part *l = &s->linear;
    const real *restrict k1 = s->k1;
    const real *restrict k2 = s->k2;
    const real *restrict k3 = s->k3;
    const real *restrict k4 = s->k4;
    const real *restrict y0 = s->y0;
    const double sixth = p->h / 6;

    for (size_t i = 0; i < dim; i++)
        y[i] = y0[i] + sixth * (k1[i] + 2 * (k2[i] + k3[i]) + k4[i]);

    const struct tl_phi *f = &p->full;
    for (size_t i = 0; i < l->pairs; i++) {
        const size_t u = l->leader + i;
        const size_t v = l->follower + i;
        const real d =
            y0[v] - y0[u] +
            p->h * (f->one * (k1[v] - k1[u]) + (2 * f->two - 4 * f->three) * (s->n2[i] + s->n3[i]) +
                    (4 * f->three - f->two) * s->n4[i]);
        const real moved = l->follower_share * (y[u] + d - y[v]);
        y[v] = y[u] + d - moved;
        y[u] -= moved;
    }

    const real left = l->chains > 0 ? lane_exp(-p->tau_full) : p->tau_full;
    for (size_t j = 0; j < l->chains; j++) {
        const size_t i = l->chain + j * l->stride;
        const real both = y[i] + y[i + 1];
        y[i] = y0[i] * left;
        y[i + 1] = both - y[i];
    }
}

static inline void estimate_error(const struct tl_rk4 *s, const struct tl_rk4_step *p,
                                  const real *restrict y, const real *restrict k5,
                                  real *restrict yerr, size_t core, size_t dim)
{
    const struct tl_linear_part *l = &s->linear;
    const double sixth = p->h / 6;

    for (size_t i = 0; i < core; i++)
        yerr[i] = sixth * (s->k4[i] - k5[i]);
    for (size_t i = core; i < dim; i++)
        yerr[i] = lane_all(0);
    const real weight = p->h * (4 * p->full.three - p->full.two);
    for (size_t i = 0; i < l->pairs; i++) {
        const size_t u = l->leader + i;
        const size_t v = l->follower + i;
        yerr[v] = yerr[u] + weight * ((s->k4[v] - s->k4[u]) - (k5[v] - k5[u]) +
                                      l->exchange_1_d * (s->d4[i] - (y[v] - y[u])));
    }
    for (size_t j = 0; j < l->chains; j++)
        yerr[l->chain + j * l->stride] = yerr[l->chain + j * l->stride + 1] = lane_all(0);
}

static inline int stages(struct tl_rk4 *s, const struct tl_rk4_step *p, size_t core,
                         tl_rates *rates, void *arg)
{
    const double h = p->h;
    const double middle = p->t + 0.5 * h;

    advance(s->stage, s->y0, 0.5 * h, s->k1, core);
    follow(s, 0.5 * h * p->half.one, lane_all(0), NULL, NULL);
    decay(s, p->tau_half);
    int status = rates(arg, middle, s->stage, s->k2);
    if (status)
        return status;
    note_remainder(s, s->k2, s->n2);

    advance(s->stage, s->y0, 0.5 * h, s->k2, core);
    follow(s, 0.5 * h * p->half.one, h * p->half.two, s->n2, NULL);
    decay(s, p->tau_half);
    status = rates(arg, middle, s->stage, s->k3);
    if (status)
        return status;
    note_remainder(s, s->k3, s->n3);

    advance(s->stage, s->y0, h, s->k3, core);
    follow(s, h * p->full.one, 2 * h * p->full.two, s->n3, s->d4);
    decay(s, p->tau_full);
    status = rates(arg, p->t + h, s->stage, s->k4);
    if (status)
        return status;
    note_remainder(s, s->k4, s->n4);
    return 0;
}

/* Cut the work vectors out of `memory`, TL_RK4_VECTORS times `dim` reals. */
static inline void tl_rk4_place(struct tl_rk4 *s, real *memory, size_t dim)
{
    real **const vector[TL_RK4_VECTORS] = {&s->k1,    &s->k2, &s->k3, &s->k4, &s->y0,
                                           &s->stage, &s->n2, &s->n3, &s->n4, &s->d4};
    for (size_t i = 0; i < TL_RK4_VECTORS; i++)
        *vector[i] = memory + i * dim;
}

/* One step of y from t to t + h. dydt_in: the rates at its start, NULL when they are not known;
 * dydt_out gets those at its end (may be NULL); yerr the estimate of the error. 0, or what `rates`
 * returned; y is as it was then. */
static inline int tl_rk4_apply(struct tl_rk4 *s, size_t dim, double t, double h, real *y,
                               real *yerr, const real *dydt_in, real *dydt_out, tl_rates *rates,
                               void *arg)
{
    const size_t core = s->linear.core > 0 ? s->linear.core : dim;
    const struct tl_rk4_step p = begin_step(&s->linear, t, h);
    int status = 0;

    memcpy(s->y0, y, dim * sizeof *y);
    if (dydt_in)
        memcpy(s->k1, dydt_in, dim * sizeof *y);
    else
        status = rates(arg, t, y, s->k1);
    if (!status)
        status = stages(s, &p, core, rates, arg);
    if (!status) {
        real *k5 = dydt_out ? dydt_out : s->stage;
        finish(s, &p, y, dim);
        status = rates(arg, t + h, y, k5);
        if (!status)
            estimate_error(s, &p, y, k5, yerr, core, dim);
    }
    if (status)
        memcpy(y, s->y0, dim * sizeof *y);
    return status;
}

#endif
