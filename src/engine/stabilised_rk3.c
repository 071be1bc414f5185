/* Stabilised explicit Runge-Kutta methods of third order.
 *
 * With s stages the stability polynomial 1 + z + z^2/2 + z^3/6 + g4 z^4 + ... + gs z^s is the one that
 * stays within 0.95 on the longest stretch of the negative axis (van der Houwen & Sommeijer 1980, Z.
 * Angew. Math. Mech. 60:479, describe the idea); the coefficients are our own, found by linear
 * programming. The method behind it is a chain, each stage starting from the one before,
 *
 *     Y1 = y,  Yi = y + h ai F(Yi-1),  y' = y + h (b1 F1 + bs-1 Fs-1 + bs Fs),
 *
 * whose s + 2 coefficients follow from the order conditions and the polynomial. With three stages it
 * is the method of Bogacki & Shampine 1989, Appl. Math. Lett. 2:321. The derivative at the new point
 * is the first stage of the next step; it enters the error estimate, a second-order method's
 * difference. A test checks order, stability and estimate. */
#include "stabilised_rk3.h"

#include <gsl/gsl_errno.h>
#include <stdlib.h>
#include <string.h>

enum { FEWEST = 3, MOST = 8 };

struct tableau {
    double limit; /* of radius * h */
    double a[MOST - 1];
    double b_first, b_before, b_last;
    double e_first, e_before, e_last, e_new; /* of the error estimate */
};

/* clang-format off */
static const struct tableau tableau[MOST - FEWEST + 1] = {
    {2.5, {1.0 / 2, 3.0 / 4}, 2.0 / 9, 1.0 / 3, 4.0 / 9, -5.0 / 72, 1.0 / 12, 1.0 / 9, -1.0 / 8},
    {5.95, {0.234901705882679, 0.62105189293999974, 0.80000000000000004},
     0.24081904945359489, 0.59986530285638628, 0.15931564769001877,
     -0.06542250512310295, 0.15736639717045647, 0.028944034002531729, -0.12088792604988521},
    {10.4, {0.05680569439458838, 0.20610598553784362, 0.60399101598237115, 0.80000000000000004},
     0.2370288528666365, 0.5631217276079733, 0.19984941952539018,
     -0.069084742407891198, 0.1752241201464339, -0.0015279169334049547, -0.10461146080513774},
    {15.85, {0.025258917095165059, 0.07260119003885597, 0.17650764724361229, 0.41712849525229867, 0.80000000000000004},
     0.17522143228807835, 0.41743209454789537, 0.40734647316402639,
     -0.11840251211881581, 0.23774054693483176, -0.1008483910631557, -0.018489643752860274},
    {22.29, {0.014628826734801537, 0.039002548560310463, 0.084552855847206274, 0.18368461091138233, 0.41154314730794278, 0.80000000000000004},
     0.17251009370840512, 0.41701394610662812, 0.41047596018496674,
     -0.12120528773694962, 0.2419070828644202, -0.10573296444681857, -0.014968830680652037},
    {29.72, {0.0092947911072877604, 0.023581235824708922, 0.047390739656631611, 0.091812913115367059, 0.18802061818127772, 0.40833348980768924, 0.80000000000000004},
     0.17091844555150154, 0.4168475968972547, 0.41223395755124381,
     -0.12414435239760231, 0.24876940090287691, -0.11522085438617394, -0.0094041941191006506},
};
/* clang-format on */

struct state {
    double radius;
    double *first, *before, *last, *y0, *stage;
};

static void *stabilised_alloc(size_t dim)
{
    struct state *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->first = calloc(5 * dim, sizeof *s->first);
    if (!s->first) {
        free(s);
        return NULL;
    }
    s->before = s->first + dim;
    s->last = s->first + 2 * dim;
    s->y0 = s->first + 3 * dim;
    s->stage = s->first + 4 * dim;
    return s;
}

static int stabilised_apply(void *vstate, size_t dim, double t, double h, double y[], double yerr[],
                            const double dydt_in[], double dydt_out[],
                            const gsl_odeiv2_system *system)
{
    struct state *s = vstate;
    int stages = FEWEST;
    while (stages <= MOST && tableau[stages - FEWEST].limit < h * s->radius)
        stages++;
    if (stages > MOST)
        return GSL_FAILURE;
    const struct tableau *m = &tableau[stages - FEWEST];

    memcpy(s->y0, y, dim * sizeof *y);
    int status = GSL_SUCCESS;
    if (dydt_in)
        memcpy(s->first, dydt_in, dim * sizeof *y);
    else
        status = GSL_ODEIV_FN_EVAL(system, t, y, s->first);

    const double *from = s->first;
    double *to = s->last;
    double *other = s->before;
    for (int i = 0; i < stages - 1 && status == GSL_SUCCESS; i++) {
        const double ha = h * m->a[i];
        for (size_t k = 0; k < dim; k++)
            s->stage[k] = s->y0[k] + ha * from[k];
        status = GSL_ODEIV_FN_EVAL(system, t + ha, s->stage, to);
        from = to;
        to = other;
        other = (double *)from;
    }
    if (status == GSL_SUCCESS) {
        const double *last = from;
        const double *before = to;
        for (size_t k = 0; k < dim; k++)
            y[k] = s->y0[k] +
                   h * (m->b_first * s->first[k] + m->b_before * before[k] + m->b_last * last[k]);
        status = GSL_ODEIV_FN_EVAL(system, t + h, y, dydt_out ? dydt_out : s->stage);
        const double *now = dydt_out ? dydt_out : s->stage;
        for (size_t k = 0; k < dim; k++)
            yerr[k] = h * (m->e_first * s->first[k] + m->e_before * before[k] +
                           m->e_last * last[k] + m->e_new * now[k]);
    }
    if (status != GSL_SUCCESS)
        memcpy(y, s->y0, dim * sizeof *y);
    return status;
}

static int stabilised_set_driver(void *vstate, const gsl_odeiv2_driver *d)
{
    (void)vstate;
    (void)d;
    return GSL_SUCCESS;
}

static int stabilised_reset(void *vstate, size_t dim)
{
    (void)vstate;
    (void)dim;
    return GSL_SUCCESS;
}

static unsigned int stabilised_order(void *vstate)
{
    (void)vstate;
    return 3;
}

static void stabilised_free(void *vstate)
{
    struct state *s = vstate;
    free(s->first);
    free(s);
}

static const gsl_odeiv2_step_type type = {"stabilised_rk3",
                                          1,
                                          1,
                                          stabilised_alloc,
                                          stabilised_apply,
                                          stabilised_set_driver,
                                          stabilised_reset,
                                          stabilised_order,
                                          stabilised_free};
const gsl_odeiv2_step_type *const tl_step_stabilised_rk3 = &type;

void tl_stabilised_rk3_radius(gsl_odeiv2_step *step, double radius_1_d)
{
    struct state *s = step->state;
    s->radius = radius_1_d;
}

double tl_stabilised_rk3_limit(int stages)
{
    return tableau[stages - FEWEST].limit;
}
