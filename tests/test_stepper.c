/* The stabilised Runge-Kutta methods: order, stability, error estimate, and the spectral radius that
 * chooses among them. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "spectral_radius.h"
#include "stabilised_rk3.h"

enum { FEWEST = 3, MOST = 8 };

/* Two coupled nonlinear equations with a known solution: y = 1/(1 + t), z = sin(t). */
static int curved(double t, const double y[], double dydt[], void *arg)
{
    (void)arg;
    dydt[0] = -y[0] * y[0] + (y[1] - sin(t)) * y[0];
    dydt[1] = cos(t) * (y[0] * (1 + t)) * (1 + y[1] - sin(t));
    return GSL_SUCCESS;
}

static int decay(double t, const double y[], double dydt[], void *arg)
{
    (void)t;
    dydt[0] = *(const double *)arg * y[0];
    return GSL_SUCCESS;
}

/* A radius for which a step of size h takes just `stages` stages. */
static double radius_for(int stages, double h)
{
    return 0.999 * tl_stabilised_rk3_limit(stages) / h;
}

/* Error of y and the estimate of the last step, after going to t = 1 in n steps. */
static double error_after(int stages, int n, double *estimate)
{
    const gsl_odeiv2_system system = {curved, NULL, 2, NULL};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_stabilised_rk3, 2);
    double y[2] = {1, 0}, yerr[2], in[2], out[2];
    const double h = 1.0 / n;
    tl_stabilised_rk3_radius(step, radius_for(stages, h));
    curved(0, y, in, NULL);
    for (int k = 0; k < n; k++) {
        assert_int_equal(gsl_odeiv2_step_apply(step, k * h, h, y, yerr, in, out, &system), 0);
        memcpy(in, out, sizeof in);
    }
    double now[2];
    curved(1, y, now, NULL);
    assert_memory_equal(now, out, sizeof now); /* the last stage is the first of the next step */
    gsl_odeiv2_step_free(step);
    *estimate = hypot(yerr[0], yerr[1]);
    return hypot(y[0] - 0.5, y[1] - sin(1));
}

static void order_is_three(void **state)
{
    (void)state;
    for (int stages = FEWEST; stages <= MOST; stages++) {
        double rough, fine;
        const double coarse_error = error_after(stages, 40, &rough);
        const double fine_error = error_after(stages, 80, &fine);
        const double order = log2(coarse_error / fine_error);
        print_message("%d stages: order %.2f, of the estimate %.2f; error %.1e\n", stages, order,
                      log2(rough / fine), fine_error);
        near(order, 3, 0.15);
        near(log2(rough / fine), 3, 0.15); /* of one step */
        assert_true(fine_error < 1e-5);
    }
}

/* What a step makes of y = 1 when dy/dt = z y, h = 1. */
static double amplification(gsl_odeiv2_step *step, double z, double *estimate)
{
    const gsl_odeiv2_system system = {decay, NULL, 1, &z};
    double y = 1, yerr = 0;
    assert_int_equal(gsl_odeiv2_step_apply(step, 0, 1, &y, &yerr, NULL, NULL, &system), 0);
    *estimate = yerr;
    return y;
}

static void stability_reaches_the_limit(void **state)
{
    (void)state;
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_stabilised_rk3, 1);
    for (int stages = FEWEST; stages <= MOST; stages++) {
        const double limit = tl_stabilised_rk3_limit(stages);
        double estimate;
        tl_stabilised_rk3_radius(step, radius_for(stages, 1));
        for (int k = 1; k <= 1000; k++) {
            const double z = -limit * k / 1000;
            const double r = amplification(step, z, &estimate);
            assert_true(fabs(r) <= (stages == FEWEST ? 1 : k > 100 ? 0.951 : 1));
            assert_true(fabs(estimate) < 2.5);
        }
        /* a little further and it grows: the limit is where it is said to be */
        assert_true(fabs(amplification(step, -1.03 * limit, &estimate)) > 1);
        assert_true(limit > (stages == FEWEST ? 2.49 : 0.37 * stages * stages));
        near(amplification(step, -1e-3, &estimate), exp(-1e-3), 1e-12);
    }
    gsl_odeiv2_step_free(step);
}

static void too_large_a_step_fails(void **state)
{
    (void)state;
    double z = -1;
    const gsl_odeiv2_system system = {decay, NULL, 1, &z};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_stabilised_rk3, 1);
    double y = 1, yerr = 0;
    tl_stabilised_rk3_radius(step, 1.01 * tl_stabilised_rk3_limit(MOST));
    assert_int_not_equal(gsl_odeiv2_step_apply(step, 0, 1, &y, &yerr, NULL, NULL, &system), 0);
    near(y, 1, 0);
    gsl_odeiv2_step_free(step);
}

/* Eigenvalues -2, -30 and -7, far from diagonal; components of unlike size. */
static int mixed(double t, const double y[], double dydt[], void *arg)
{
    static const double scale[3] = {1, 1e3, 1e-2};
    (void)t;
    (void)arg;
    const double a = y[0] / scale[0], b = y[1] / scale[1], c = y[2] / scale[2];
    dydt[0] = scale[0] * (-2 * a);
    dydt[1] = scale[1] * (20 * a - 30 * b);
    dydt[2] = scale[2] * (5 * a - 8 * b - 7 * c);
    return GSL_SUCCESS;
}

static void radius_is_found(void **state)
{
    (void)state;
    const double scale[3] = {1, 1e3, 1e-2};
    const double y[3] = {3, 100, 0.5};
    double dydt[3], direction[3] = {0}, probe[3], slope[3];
    mixed(0, y, dydt, NULL);
    double radius =
        tl_spectral_radius(mixed, NULL, 0, y, dydt, scale, 3, 3, 12, direction, probe, slope);
    near_rel(radius, 30, 0.01);
    /* it goes on from there */
    radius = tl_spectral_radius(mixed, NULL, 0, y, dydt, scale, 3, 3, 2, direction, probe, slope);
    near_rel(radius, 30, 0.001);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(order_is_three),
        cmocka_unit_test(stability_reaches_the_limit),
        cmocka_unit_test(too_large_a_step_fails),
        cmocka_unit_test(radius_is_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
