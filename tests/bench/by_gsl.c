/* The run by GSL's own steppers, adaptive, as its manual shows. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dense_output.h"
#include "walk.h"

#define FIRST_STEP_D   1e-5
#define LARGEST_STEP_D 0.1

struct by_gsl {
    gsl_odeiv2_system system;
    gsl_odeiv2_step *step;
    gsl_odeiv2_control *control;
    gsl_odeiv2_evolve *evolve;
    double t_d, h_d, t0_d; /* how far the steps have gone; start of the last one */
    size_t n;
    double *y, *y0; /* at the end and the start of the last step */
};

static int rhs(double t_d, const double y[], double dydt[], void *arg)
{
    return walk_rhs(arg, t_d, y, dydt) ? GSL_FAILURE : GSL_SUCCESS;
}

static void close_gsl(void *state)
{
    struct by_gsl *g = state;
    gsl_odeiv2_evolve_free(g->evolve);
    gsl_odeiv2_control_free(g->control);
    gsl_odeiv2_step_free(g->step);
    free(g->y);
    free(g);
}

static void *open_gsl(struct walk *w, const struct solver *s, double rtol)
{
    struct by_gsl *g = calloc(1, sizeof *g);
    const size_t n = w->at->core;

    if (!g)
        return NULL;
    gsl_set_error_handler_off();
    g->n = n;
    g->y = calloc(2 * n, sizeof *g->y);
    g->y0 = g->y + n;
    g->h_d = FIRST_STEP_D;
    g->system = (gsl_odeiv2_system){rhs, NULL, n, w};
    g->step = gsl_odeiv2_step_alloc(*(const gsl_odeiv2_step_type *const *)s->kind, n);
    g->control = gsl_odeiv2_control_scaled_new(rtol, rtol, 1, 0, w->scale, n);
    g->evolve = gsl_odeiv2_evolve_alloc(n);
    return g;
}

static bool restart_gsl(void *state, struct walk *w)
{
    struct by_gsl *g = state;

    memcpy(g->y, w->y, g->n * sizeof *g->y);
    memcpy(g->y0, w->y, g->n * sizeof *g->y);
    g->t_d = g->t0_d = w->t_d;
    gsl_odeiv2_step_reset(g->step);
    gsl_odeiv2_evolve_reset(g->evolve);
    return true;
}

static bool go_gsl(void *state, struct walk *w, double t_d, double until_d)
{
    struct by_gsl *g = state;

    while (g->t_d < t_d) {
        memcpy(g->y0, g->y, g->n * sizeof *g->y);
        g->t0_d = g->t_d;
        g->h_d = fmin(g->h_d, LARGEST_STEP_D);
        if (gsl_odeiv2_evolve_apply(g->evolve, g->control, g->step, &g->system, &g->t_d, until_d,
                                    &g->h_d, g->y))
            return false;
    }
    if (t_d == until_d) {
        memcpy(w->y, g->y, g->n * sizeof *g->y);
        return true;
    }
    if (g->step->type->gives_exact_dydt_out)
        tl_hermite(g->t0_d, g->t_d, g->y0, g->evolve->dydt_in, g->y, g->evolve->dydt_out, t_d,
                   TL_NWATER, w->y);
    return true;
}

#define BY_GSL(name, type)                                                                         \
    {                                                                                              \
        name, open_gsl, restart_gsl, go_gsl, close_gsl, &(type)                                    \
    }
const struct solver gsl_solvers[] = {
    BY_GSL("GSL rkf45", gsl_odeiv2_step_rkf45),
    BY_GSL("GSL rkck", gsl_odeiv2_step_rkck),
    BY_GSL("GSL rk8pd", gsl_odeiv2_step_rk8pd),
};
const size_t gsl_solver_count = sizeof gsl_solvers / sizeof gsl_solvers[0];
