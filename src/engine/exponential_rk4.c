/* The method of rk4_kernel.h as a stepper of GSL. */
#include "exponential_rk4.h"

#include <gsl/gsl_errno.h>
#include <stdlib.h>

static void *exponential_alloc(size_t dim)
{
    struct tl_rk4 *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    double *memory = calloc(TL_RK4_VECTORS * dim, sizeof *memory);
    if (!memory) {
        free(s);
        return NULL;
    }
    tl_rk4_place(s, memory, dim);
    return s;
}

static int rates(void *arg, double t, const double *y, double *dydt)
{
    const gsl_odeiv2_system *system = arg;
    return GSL_ODEIV_FN_EVAL(system, t, y, dydt);
}

static int exponential_apply(void *vstate, size_t dim, double t, double h, double y[],
                             double yerr[], const double dydt_in[], double dydt_out[],
                             const gsl_odeiv2_system *system)
{
    return tl_rk4_apply(vstate, dim, t, h, y, yerr, dydt_in, dydt_out, rates, (void *)system);
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
    struct tl_rk4 *s = vstate;
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
    struct tl_rk4 *s = step->state;
    s->linear = *linear;
}
