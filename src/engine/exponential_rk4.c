/* Runge-Kutta of fourth order, exponential in the exchange of water between tank and chamber.
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
#include "exponential_rk4.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

struct state {
    struct tl_linear_part linear;
    double *k1, *k2, *k3, *k4, *y0, *stage;
    double *n2, *n3, *n4, *d4; /* of the pairs: N - N1 of the stages, difference in the fourth */
};

enum { VECTORS = 10 };

struct phi {
    double one, two, three;
};

/* phi_1 ... phi_3 of -z, z >= 0: below 1 by the series of phi_3, above by the recursion. */
static struct phi phi(double z)
{
    struct phi p;

    if (z < 1) {
        double term = 1.0 / 6;
        p.three = 0;
        for (int k = 4; k < 22; k++) {
            p.three += term;
            term *= -z / k;
        }
        p.two = 0.5 - z * p.three;
        p.one = 1 - z * p.two;
    } else {
        p.one = -expm1(-z) / z;
        p.two = (1 - p.one) / z;
        p.three = (0.5 - p.two) / z;
    }
    return p;
}

/* --- one step --------------------------------------------------------------------------------- */

struct step {
    double t, h;
    struct phi half, full;
    double tau_half, tau_full; /* integrals of the chains' rate */
};

static struct step begin_step(const struct tl_linear_part *l, double t, double h)
{
    struct step s = {.t = t, .h = h};

    s.half = phi(0.5 * l->exchange_1_d * h);
    s.full = phi(l->exchange_1_d * h);
    if (l->chains > 0) {
        const double r0 = l->chain_rate(l->arg, t);
        const double r1 = l->chain_rate(l->arg, t + 0.5 * h);
        const double r2 = l->chain_rate(l->arg, t + h);
        s.tau_half = h * (5 * r0 + 8 * r1 - r2) / 24;
        s.tau_full = h * (r0 + 4 * r1 + r2) / 6;
    }
    return s;
}

/* stage = y0 + c k */
static void advance(double *restrict stage, const double *restrict y0, double c,
                    const double *restrict k, size_t n)
{
    for (size_t i = 0; i < n; i++)
        stage[i] = y0[i] + c * k[i];
}

/* The followers of a stage, from their leaders and the difference d1 + a F1 + b n (n may be NULL);
 * the difference is noted in `d` unless that is NULL. */
static void follow(const struct state *s, double a, double b, const double *n, double *d)
{
    const struct tl_linear_part *l = &s->linear;
    const double *u0 = &s->y0[l->leader];
    const double *v0 = &s->y0[l->follower];
    const double *du = &s->k1[l->leader];
    const double *dv = &s->k1[l->follower];

    for (size_t i = 0; i < l->pairs; i++) {
        const double difference = v0[i] - u0[i] + a * (dv[i] - du[i]) + (n ? b * n[i] : 0);
        s->stage[l->follower + i] = s->stage[l->leader + i] + difference;
        if (d)
            d[i] = difference;
    }
}

/* N - N1 of the stage with this derivative. */
static void note_remainder(const struct state *s, const double *k, double *n)
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
static void decay(const struct state *s, double tau)
{
    const struct tl_linear_part *l = &s->linear;
    const double left = l->chains > 0 ? exp(-tau) : 0;

    for (size_t j = 0; j < l->chains; j++) {
        const size_t i = l->chain + j * l->stride;
        s->stage[i] = s->y0[i] * left;
        s->stage[i + 1] = (s->y0[i + 1] + s->y0[i] * tau) * left;
    }
}

/* The new state: the classical weights, then how the waters share and what the chains keep. */
static void finish(const struct state *s, const struct step *p, double *restrict y, size_t dim)
{
    const struct tl_linear_part *l = &s->linear;
    const double *restrict k1 = s->k1;
    const double *restrict k2 = s->k2;
    const double *restrict k3 = s->k3;
    const double *restrict k4 = s->k4;
    const double *restrict y0 = s->y0;
    const double sixth = p->h / 6;

    for (size_t i = 0; i < dim; i++)
        y[i] = y0[i] + sixth * (k1[i] + 2 * (k2[i] + k3[i]) + k4[i]);

    const struct phi *f = &p->full;
    for (size_t i = 0; i < l->pairs; i++) {
        const size_t u = l->leader + i;
        const size_t v = l->follower + i;
        const double d =
            y0[v] - y0[u] +
            p->h * (f->one * (k1[v] - k1[u]) + (2 * f->two - 4 * f->three) * (s->n2[i] + s->n3[i]) +
                    (4 * f->three - f->two) * s->n4[i]);
        const double moved = l->follower_share * (y[u] + d - y[v]);
        y[v] = y[u] + d - moved;
        y[u] -= moved;
    }

    const double left = l->chains > 0 ? exp(-p->tau_full) : 0;
    for (size_t j = 0; j < l->chains; j++) {
        const size_t i = l->chain + j * l->stride;
        const double both = y[i] + y[i + 1];
        y[i] = y0[i] * left;
        y[i + 1] = both - y[i];
    }
}

static void estimate_error(const struct state *s, const struct step *p, const double *restrict y,
                           const double *restrict k5, double *restrict yerr, size_t core,
                           size_t dim)
{
    const struct tl_linear_part *l = &s->linear;
    const double sixth = p->h / 6;

    for (size_t i = 0; i < core; i++)
        yerr[i] = sixth * (s->k4[i] - k5[i]);
    for (size_t i = core; i < dim; i++)
        yerr[i] = 0;
    const double weight = p->h * (4 * p->full.three - p->full.two);
    for (size_t i = 0; i < l->pairs; i++) {
        const size_t u = l->leader + i;
        const size_t v = l->follower + i;
        yerr[v] = yerr[u] + weight * ((s->k4[v] - s->k4[u]) - (k5[v] - k5[u]) +
                                      l->exchange_1_d * (s->d4[i] - (y[v] - y[u])));
    }
    for (size_t j = 0; j < l->chains; j++)
        yerr[l->chain + j * l->stride] = yerr[l->chain + j * l->stride + 1] = 0;
}

static int stages(struct state *s, const struct step *p, size_t core,
                  const gsl_odeiv2_system *system)
{
    const double h = p->h;
    const double middle = p->t + 0.5 * h;

    advance(s->stage, s->y0, 0.5 * h, s->k1, core);
    follow(s, 0.5 * h * p->half.one, 0, NULL, NULL);
    decay(s, p->tau_half);
    int status = GSL_ODEIV_FN_EVAL(system, middle, s->stage, s->k2);
    if (status)
        return status;
    note_remainder(s, s->k2, s->n2);

    advance(s->stage, s->y0, 0.5 * h, s->k2, core);
    follow(s, 0.5 * h * p->half.one, h * p->half.two, s->n2, NULL);
    decay(s, p->tau_half);
    status = GSL_ODEIV_FN_EVAL(system, middle, s->stage, s->k3);
    if (status)
        return status;
    note_remainder(s, s->k3, s->n3);

    advance(s->stage, s->y0, h, s->k3, core);
    follow(s, h * p->full.one, 2 * h * p->full.two, s->n3, s->d4);
    decay(s, p->tau_full);
    status = GSL_ODEIV_FN_EVAL(system, p->t + h, s->stage, s->k4);
    if (status)
        return status;
    note_remainder(s, s->k4, s->n4);
    return GSL_SUCCESS;
}

/* --- what GSL asks for ------------------------------------------------------------------------ */

static void *exponential_alloc(size_t dim)
{
    struct state *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->k1 = calloc(VECTORS * dim, sizeof *s->k1);
    if (!s->k1) {
        free(s);
        return NULL;
    }
    double **const vector[VECTORS] = {&s->k1,    &s->k2, &s->k3, &s->k4, &s->y0,
                                      &s->stage, &s->n2, &s->n3, &s->n4, &s->d4};
    for (size_t i = 1; i < VECTORS; i++)
        *vector[i] = s->k1 + i * dim;
    return s;
}

static int exponential_apply(void *vstate, size_t dim, double t, double h, double y[],
                             double yerr[], const double dydt_in[], double dydt_out[],
                             const gsl_odeiv2_system *system)
{
    struct state *s = vstate;
    const size_t core = s->linear.core > 0 ? s->linear.core : dim;
    const struct step p = begin_step(&s->linear, t, h);
    int status = GSL_SUCCESS;

    memcpy(s->y0, y, dim * sizeof *y);
    if (dydt_in)
        memcpy(s->k1, dydt_in, dim * sizeof *y);
    else
        status = GSL_ODEIV_FN_EVAL(system, t, y, s->k1);
    if (status == GSL_SUCCESS)
        status = stages(s, &p, core, system);
    if (status == GSL_SUCCESS) {
        double *k5 = dydt_out ? dydt_out : s->stage;
        finish(s, &p, y, dim);
        status = GSL_ODEIV_FN_EVAL(system, t + h, y, k5);
        if (status == GSL_SUCCESS)
            estimate_error(s, &p, y, k5, yerr, core, dim);
    }
    if (status != GSL_SUCCESS)
        memcpy(y, s->y0, dim * sizeof *y);
    return status;
}

static int exponential_set_driver(void *vstate, const gsl_odeiv2_driver *d)
{
    (void)vstate;
    (void)d;
    return GSL_SUCCESS;
}

/* Nothing is kept from step to step but the linear part. */
static int exponential_reset(void *vstate, size_t dim)
{
    (void)vstate;
    (void)dim;
    return GSL_SUCCESS;
}

static unsigned int exponential_order(void *vstate)
{
    (void)vstate;
    return 4;
}

static void exponential_free(void *vstate)
{
    struct state *s = vstate;
    free(s->k1);
    free(s);
}

static const gsl_odeiv2_step_type type = {"exponential_rk4",
                                          1, /* can use dydt_in */
                                          1, /* gives the exact dydt_out */
                                          exponential_alloc,
                                          exponential_apply,
                                          exponential_set_driver,
                                          exponential_reset,
                                          exponential_order,
                                          exponential_free};
const gsl_odeiv2_step_type *const tl_step_exponential_rk4 = &type;

void tl_exponential_rk4_set(gsl_odeiv2_step *step, const struct tl_linear_part *linear)
{
    struct state *s = step->state;
    s->linear = *linear;
}
