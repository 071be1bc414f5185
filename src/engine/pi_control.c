/* Proportional-integral control of the step size: Gustafsson 1991, ACM Trans. Math. Softw. 17:533, with
 * the exponents of Hairer & Wanner, Solving Ordinary Differential Equations II, section IV.2 (from
 * memory):
 *
 *     h_new = h SAFETY e^(-0.7/k) e_last^(0.4/k)
 *
 * where e is the error against the tolerance and its leading term goes with h^k. A control that looks
 * at the last error alone bounces where stability limits the step: every other step is lost. */
#include "pi_control.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define SAFETY          0.98
#define SAFETY_REJECTED 0.9
#define LEAST_CHANGE    0.2
#define MOST_CHANGE     2.0
#define LEAST_ERROR     1e-4 /* remembered: one lucky step does not hold the next ones back */

struct state {
    double rtol;
    const double *scale;
    size_t n;
    struct tl_pi pi;
};

static void *pi_alloc(void)
{
    return calloc(1, sizeof(struct state));
}

static int pi_init(void *vstate, double eps_abs, double eps_rel, double a_y, double a_dydt)
{
    (void)vstate;
    (void)eps_abs;
    (void)eps_rel;
    (void)a_y;
    (void)a_dydt;
    return GSL_SUCCESS;
}

/* Not a number counts as worse than any. */
static double error_of(const struct state *s, const double *restrict y, const double *restrict yerr)
{
    double most = 0;
    bool numbers = true;
    for (size_t i = 0; i < s->n; i++) {
        const double e = fabs(yerr[i]) / (fabs(y[i]) + s->scale[i]);
        numbers = numbers && e >= 0;
        most = most >= e ? most : e;
    }
    return numbers ? most / s->rtol : INFINITY;
}

static double limited(double change, double most)
{
    if (!(change > LEAST_CHANGE))
        return LEAST_CHANGE;
    return change < most ? change : most;
}

bool tl_pi_adjust(struct tl_pi *s, double k, double e, double *h)
{
    if (!(e <= 1)) {
        *h *= limited(SAFETY_REJECTED * pow(e, -1 / k), SAFETY_REJECTED);
        s->rejected = true;
        return false;
    }
    double change = MOST_CHANGE;
    if (e > 0)
        change = SAFETY * pow(e, -0.7 / k) * pow(s->last, 0.4 / k);
    change = limited(change, s->rejected ? 1 : MOST_CHANGE);
    s->last = fmax(e, LEAST_ERROR);
    s->rejected = false;
    *h *= change;
    return true;
}

void tl_pi_forget(struct tl_pi *pi)
{
    pi->last = 1;
    pi->rejected = false;
}

static int pi_hadjust(void *vstate, size_t dim, unsigned int order, const double y[],
                      const double yerr[], const double yp[], double *h)
{
    struct state *s = vstate;
    const double before = *h;

    (void)dim;
    (void)yp;
    if (!tl_pi_adjust(&s->pi, order, error_of(s, y, yerr), h))
        return GSL_ODEIV_HADJ_DEC;
    /* a smaller next step is no rejection of this one */
    return *h > before ? GSL_ODEIV_HADJ_INC : GSL_ODEIV_HADJ_NIL;
}

static int pi_errlevel(void *vstate, const double y, const double dydt, const double h,
                       const size_t i, double *level)
{
    const struct state *s = vstate;
    (void)dydt;
    (void)h;
    *level = s->rtol * (fabs(y) + s->scale[i]);
    return GSL_SUCCESS;
}

static int pi_set_driver(void *vstate, const gsl_odeiv2_driver *d)
{
    (void)vstate;
    (void)d;
    return GSL_SUCCESS;
}

static void pi_free(void *vstate)
{
    free(vstate);
}

static const gsl_odeiv2_control_type type = {"pi",        pi_alloc,      pi_init, pi_hadjust,
                                             pi_errlevel, pi_set_driver, pi_free};

gsl_odeiv2_control *tl_pi_control_new(double rtol, const double *scale, size_t n)
{
    gsl_odeiv2_control *c = gsl_odeiv2_control_alloc(&type);
    if (!c)
        return NULL;
    struct state *s = c->state;
    *s = (struct state){.rtol = rtol, .scale = scale, .n = n, .pi = {.last = 1}};
    return c;
}

void tl_pi_control_forget(gsl_odeiv2_control *control)
{
    struct state *s = control->state;
    tl_pi_forget(&s->pi);
}
