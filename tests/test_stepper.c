/* The stepper of the engine by itself: its order, its first and last stage, its error estimate, what it
 * solves exactly and what it keeps; and the control of the step size. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "dense_output.h"
#include "exponential_rk4.h"
#include "near.h"
#include "pi_control.h"

/* --- a small loop with a known solution ------------------------------------------------------- */

/* Two waters and a chain:
 *
 *     u = 2 + sin t,  v = u + exp(-q t) + (sin(2 t)/10 - cos t)/q,  a' = -r a,  b' = r a - r b,  r = 2 + sin(3 t)
 *
 * u is fed by v and by b, all of it written so that the solution holds; w = 1/(1 + t) hangs on u. */
enum { U, V, A, B, W, ALL };
struct loop {
    double q;
    double decay; /* 0: v is smooth */
};

static double rate(void *arg, double t)
{
    (void)arg;
    return 2 + sin(3 * t);
}

static double tau(double t)
{
    return 2 * t + (1 - cos(3 * t)) / 3;
}

static void solution(const struct loop *l, double t, double *y)
{
    y[U] = 2 + sin(t);
    y[V] = y[U] + l->decay * exp(-l->q * t) + (0.1 * sin(2 * t) - cos(t)) / l->q;
    y[A] = 3 * exp(-tau(t));
    y[B] = (1 + 3 * tau(t)) * exp(-tau(t));
    y[W] = 1 / (1 + t);
}

static int loop_rhs(double t, const double y[], double dydt[], void *arg)
{
    const struct loop *l = arg;
    double s[ALL];
    solution(l, t, s);
    dydt[U] = cos(t) + 2 * (y[V] - s[V]) - 3 * (y[U] - s[U]) + y[U] * (y[B] - s[B]);
    /* v' = q (u - v) + what is left of the solution's */
    dydt[V] = l->q * (y[U] - y[V]) + 0.1 * sin(2 * t) + (0.2 * cos(2 * t) + sin(t)) / l->q +
              (y[W] - s[W]) * y[V];
    dydt[A] = -rate(NULL, t) * y[A];
    dydt[B] = rate(NULL, t) * (y[A] - y[B]);
    dydt[W] = -y[W] * y[W] * (1 + y[U] - s[U]);
    return GSL_SUCCESS;
}

static struct tl_linear_part linear(const struct loop *l)
{
    return (struct tl_linear_part){.leader = U,
                                   .follower = V,
                                   .pairs = 1,
                                   .exchange_1_d = l->q,
                                   .follower_share = 0.2,
                                   .chain = A,
                                   .chains = 1,
                                   .stride = 2,
                                   .chain_rate = rate};
}

struct outcome {
    double error, chain_error, estimate;
    double y[ALL], out[ALL];
};

/* From 0 to 1 in n steps. */
static struct outcome go(struct loop *l, const struct tl_linear_part *known, int n)
{
    const gsl_odeiv2_system system = {loop_rhs, NULL, ALL, l};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, ALL);
    struct outcome o = {0};
    double in[ALL], yerr[ALL], exact[ALL];
    const double h = 1.0 / n;

    if (known)
        tl_exponential_rk4_set(step, known);
    solution(l, 0, o.y);
    loop_rhs(0, o.y, in, l);
    for (int k = 0; k < n; k++) {
        assert_int_equal(gsl_odeiv2_step_apply(step, k * h, h, o.y, yerr, in, o.out, &system),
                         GSL_SUCCESS);
        memcpy(in, o.out, sizeof in);
    }
    solution(l, 1, exact);
    for (int i = 0; i < ALL; i++) {
        const double off = fabs(o.y[i] - exact[i]);
        if (i == A || i == B)
            o.chain_error = fmax(o.chain_error, off);
        else
            o.error = fmax(o.error, off);
        o.estimate = fmax(o.estimate, fabs(yerr[i]));
    }
    gsl_odeiv2_step_free(step);
    return o;
}

/* Halving the step divides the error by 2^4, with and without a linear part. */
static void fourth_order(void **state)
{
    (void)state;
    struct loop mild = {2, 1};
    const struct tl_linear_part known = linear(&mild);
    for (int with = 0; with < 2; with++) {
        const struct outcome a = go(&mild, with ? &known : NULL, 40);
        const struct outcome b = go(&mild, with ? &known : NULL, 80);
        print_message("%s linear part: error %.2g, %.2g: order %.2f\n", with ? "with" : "without",
                      a.error, b.error, log2(a.error / b.error));
        near(log2(a.error / b.error), 4, 0.3);
        assert_true(b.error < 1e-8);
    }
}

/* However fast the exchange is, large steps stay accurate and converge, if by a lower order. */
static void fast_exchange(void **state)
{
    (void)state;
    static const double q[] = {100, 1e3, 1e5};
    for (size_t i = 0; i < 3; i++) {
        struct loop l = {q[i], 0};
        const struct tl_linear_part known = linear(&l);
        const struct outcome a = go(&l, &known, 10);
        const struct outcome b = go(&l, &known, 20);
        print_message("q = %g: error %.2g, %.2g\n", q[i], a.error, b.error);
        assert_true(a.error < 1e-4);
        assert_true(b.error < a.error / 4);
    }
}

/* Nothing but exchange and a chain: both are exact in one step of any size. */
static int bare_rhs(double t, const double y[], double dydt[], void *arg)
{
    const double q = *(const double *)arg;
    (void)t;
    dydt[0] = 0;
    dydt[1] = q * (y[0] - y[1]);
    dydt[2] = -3 * y[2];
    dydt[3] = 3 * (y[2] - y[3]);
    return GSL_SUCCESS;
}

static double three(void *arg, double t)
{
    (void)arg;
    (void)t;
    return 3;
}

static void linear_part_is_exact(void **state)
{
    (void)state;
    double q = 40;
    const gsl_odeiv2_system system = {bare_rhs, NULL, 4, &q};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, 4);
    const struct tl_linear_part known = {.follower = 1,
                                         .pairs = 1,
                                         .exchange_1_d = q,
                                         .chain = 2,
                                         .chains = 1,
                                         .stride = 2,
                                         .chain_rate = three};
    double y[4] = {1, 5, 2, 0.5}, yerr[4], in[4], out[4];
    tl_exponential_rk4_set(step, &known);
    bare_rhs(0, y, in, &q);
    assert_int_equal(gsl_odeiv2_step_apply(step, 0, 0.1, y, yerr, in, out, &system), GSL_SUCCESS);
    near(y[0], 1, 0);
    near(y[1], 1 + 4 * exp(-4.0), 1e-14);
    near(y[2], 2 * exp(-0.3), 1e-15);
    near(y[3], (0.5 + 2 * 0.3) * exp(-0.3), 1e-5); /* by balance, with a quadrature */
    near(yerr[1], 0, 1e-13);
    near(yerr[2], 0, 0);
    near(yerr[3], 0, 0);
    gsl_odeiv2_step_free(step);
}

/* The exchange moves mass and makes none: of volumes 4 and 1 the sum goes by the classical weights of
 * what enters, and so does a total kept beside it. */
static int closed_rhs(double t, const double y[], double dydt[], void *arg)
{
    const double q = *(const double *)arg;
    const double eaten = y[1] * y[1] / (3 + y[1]); /* in the follower */
    dydt[0] = 0.25 * q * (y[1] - y[0]) + cos(5 * t);
    dydt[1] = q * (y[0] - y[1]) - eaten;
    dydt[2] = 4 * cos(5 * t) - eaten; /* what the loop gained */
    return GSL_SUCCESS;
}

static void mass_is_kept(void **state)
{
    (void)state;
    double q = 130;
    const gsl_odeiv2_system system = {closed_rhs, NULL, 3, &q};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, 3);
    const struct tl_linear_part known = {
        .core = 2, .follower = 1, .pairs = 1, .exchange_1_d = q, .follower_share = 0.2};
    double y[3] = {1, 9, 0}, yerr[3], in[3], out[3];
    tl_exponential_rk4_set(step, &known);
    closed_rhs(0, y, in, &q);
    for (int k = 0; k < 50; k++) {
        assert_int_equal(gsl_odeiv2_step_apply(step, 0.04 * k, 0.04, y, yerr, in, out, &system),
                         GSL_SUCCESS);
        memcpy(in, out, sizeof in);
        near(4 * y[0] + y[1] - y[2], 13, 1e-13);
        near(yerr[2], 0, 0); /* beyond the core: not controlled */
    }
    assert_true(fabs(y[2]) > 1);
    gsl_odeiv2_step_free(step);
}

/* The last stage is the derivative at the new point. */
static void last_stage_is_the_next_first(void **state)
{
    (void)state;
    struct loop l = {100, 1};
    const struct tl_linear_part known = linear(&l);
    const struct outcome o = go(&l, &known, 20);
    double now[ALL];
    loop_rhs(1, o.y, now, &l);
    assert_memory_equal(now, o.out, sizeof now);
}

/* The estimate is that of a method of third order: above the error of the last step, and falling with
 * the fourth power of its size. */
static void estimate_is_honest(void **state)
{
    (void)state;
    struct loop l = {2, 1};
    const struct tl_linear_part known = linear(&l);
    const struct outcome a = go(&l, &known, 40);
    const struct outcome b = go(&l, &known, 80);
    print_message("estimates %.2g, %.2g; errors %.2g, %.2g\n", a.estimate, b.estimate, a.error,
                  b.error);
    near(log2(a.estimate / b.estimate), 4, 0.4);
    assert_true(a.estimate > a.error / 40); /* of one step against all of them */
    assert_true(a.estimate < 1e4 * a.error);
}

/* A stage that cannot be evaluated leaves the state as it was. */
static int failing_rhs(double t, const double y[], double dydt[], void *arg)
{
    (void)y;
    (void)arg;
    dydt[0] = 1;
    return t > 0.5 ? GSL_FAILURE : GSL_SUCCESS;
}

static void failure_restores_the_state(void **state)
{
    (void)state;
    const gsl_odeiv2_system system = {failing_rhs, NULL, 1, NULL};
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, 1);
    double y = 3, yerr = 0, in = 1, out = 0;
    assert_int_not_equal(gsl_odeiv2_step_apply(step, 0, 0.9, &y, &yerr, &in, &out, &system),
                         GSL_SUCCESS);
    near(y, 3, 0);
    gsl_odeiv2_step_free(step);
}

/* --- between the steps -------------------------------------------------------------------------- */

/* A transient of the exchange inside a step, on top of a cubic: cubic interpolation alone misses it. */
static void transients_are_interpolated(void **state)
{
    (void)state;
    const double q = 140, h = 0.03, t0 = 2;
    double u0 = 1, fu0 = 2, u1 = 1 + 2 * h, fu1 = 2; /* the leader: a straight line */
    const double lag = -2 / q;                       /* the follower behind it */
    double v0 = u0 + lag + 0.7, fv0 = fu0 - q * 0.7;
    double v1 = u1 + lag + 0.7 * exp(-q * h), fv1 = fu1 - q * 0.7 * exp(-q * h);
    const double y0[2] = {u0, v0}, f0[2] = {fu0, fv0}, y1[2] = {u1, v1}, f1[2] = {fu1, fv1};
    double plain = 0, better = 0;
    for (double x = 0.05; x < 1; x += 0.05) {
        const double exact = 1 + 2 * x * h + lag + 0.7 * exp(-q * x * h);
        double y[2];
        tl_hermite(t0, t0 + h, y0, f0, y1, f1, t0 + x * h, 2, y);
        near(y[0], 1 + 2 * x * h, 1e-14);
        plain = fmax(plain, fabs(y[1] - exact));
        tl_hermite_transient(t0, t0 + h, y0, f0, y1, f1, t0 + x * h, q, 0, 1, 1, y);
        better = fmax(better, fabs(y[1] - exact));
        near(y[0], 1 + 2 * x * h, 1e-14);
    }
    print_message("transient missed by %.2g, with its own term by %.2g\n", plain, better);
    assert_true(plain > 1e-2);
    assert_true(better < 1e-12);
}

/* --- control ------------------------------------------------------------------------------------ */

static void control_of_the_step(void **state)
{
    (void)state;
    const double scale[2] = {1, 1e-3};
    gsl_odeiv2_control *c = tl_pi_control_new(1e-4, scale, 2);
    gsl_odeiv2_step *step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, 3);
    const double y[3] = {-3, 0, 0};
    double level = 0;
    assert_int_equal(gsl_odeiv2_control_errlevel(c, -3, 0, 1, 0, &level), GSL_SUCCESS);
    near_rel(level, 4e-4, 1e-12);

    /* the worst component decides; what lies beyond n is not looked at */
    double h = 1;
    double yerr[3] = {2e-4, -1.6e-6, 1e9};
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_DEC);
    near_rel(h, 0.9 * pow(16, -0.25), 1e-12);
    /* after a step that was too large it does not grow at once */
    h = 1;
    yerr[1] = 0;
    yerr[0] = 4e-9;
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_NIL);
    near(h, 1, 0);
    /* then by two at the most */
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_INC);
    near(h, 2, 0);
    /* an accepted step with a growing error makes the next one smaller without being repeated */
    h = 1;
    yerr[0] = 3.9e-4;
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_NIL);
    assert_true(h < 0.6);
    tl_pi_control_forget(c);
    h = 1;
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_NIL);
    assert_true(h > 0.9);
    yerr[0] = NAN;
    assert_int_equal(gsl_odeiv2_control_hadjust(c, step, y, yerr, NULL, &h), GSL_ODEIV_HADJ_DEC);
    gsl_odeiv2_control_free(c);
    gsl_odeiv2_step_free(step);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fourth_order),
        cmocka_unit_test(fast_exchange),
        cmocka_unit_test(linear_part_is_exact),
        cmocka_unit_test(mass_is_kept),
        cmocka_unit_test(last_stage_is_the_next_first),
        cmocka_unit_test(estimate_is_honest),
        cmocka_unit_test(failure_restores_the_state),
        cmocka_unit_test(transients_are_interpolated),
        cmocka_unit_test(control_of_the_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
