/* The sensitivity indices against functions whose indices are known in closed form, and what the sums do
 * when they are cut up, joined, or lack a result. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_rng.h>

#include "indices.h"
#include "near.h"
#include "points.h"
#include "towerloop/status.h"

/* What the unevenness of a Sobol sequence may add to an error, see indices.h. */
#define UNEVEN 0.001

enum { GROUPS = 32, POINTS = 32768, COORDINATES = 2 * TL_INDEX_INPUTS };

struct function {
    size_t inputs;
    double (*at)(const double *u); /* on the unit cube */
};

/* --- closed forms --------------------------------------------------------------------------------- */

/* Ishigami & Homma (1990), Proceedings of ISUMA '90, IEEE, 398-403: sin x1 + a sin^2 x2 + b x3^4 sin x1
 * for x between -pi and pi; a = 7, b = 0.1. */
#define ISHIGAMI_A 7.0
#define ISHIGAMI_B 0.1

static double ishigami(const double *u)
{
    const double x1 = M_PI * (2 * u[0] - 1), x2 = M_PI * (2 * u[1] - 1), x3 = M_PI * (2 * u[2] - 1);
    return sin(x1) + ISHIGAMI_A * sin(x2) * sin(x2) + ISHIGAMI_B * pow(x3, 4) * sin(x1);
}

/* By integration: E(f | x1) = sin x1 (1 + b pi^4 / 5) + a / 2, of variance (1 + b pi^4 / 5)^2 / 2;
 * E(f | x2) varies by a^2 / 8; what x1 and x3 do only together is b^2 pi^8 (1 / 18 - 1 / 50). */
static double ishigami_indices(struct tl_index *out)
{
    const double b = ISHIGAMI_B * pow(M_PI, 4);
    const double v1 = (1 + b / 5) * (1 + b / 5) / 2, v2 = ISHIGAMI_A * ISHIGAMI_A / 8;
    const double v13 = b * b * (1.0 / 18 - 1.0 / 50), v = v1 + v2 + v13;
    out[0] = (struct tl_index){.first = v1 / v, .total = (v1 + v13) / v};
    out[1] = (struct tl_index){.first = v2 / v, .total = v2 / v};
    out[2] = (struct tl_index){.first = 0, .total = v13 / v};
    return v;
}

/* The g function of Sobol', as in Saltelli & Sobol' (1995), Reliability Engineering and System Safety 50,
 * 225-239: the product of (|4 u_i - 2| + a_i) / (1 + a_i), each factor of mean 1 and of variance
 * 1 / (3 (1 + a_i)^2). */
static double g_a(size_t i)
{
    static const double a[] = {0, 0.5, 1, 3, 9, 9};
    return i < sizeof a / sizeof *a ? a[i] : 99;
}

static double g(const double *u, size_t inputs)
{
    double product = 1;
    for (size_t i = 0; i < inputs; i++)
        product *= (fabs(4 * u[i] - 2) + g_a(i)) / (1 + g_a(i));
    return product;
}

static double g6(const double *u)
{
    return g(u, 6);
}

static double g20(const double *u)
{
    return g(u, TL_INDEX_INPUTS);
}

static double g_indices(size_t inputs, struct tl_index *out)
{
    double product = 1;
    for (size_t i = 0; i < inputs; i++)
        product *= 1 + 1 / (3 * (1 + g_a(i)) * (1 + g_a(i)));
    for (size_t i = 0; i < inputs; i++) {
        const double v = 1 / (3 * (1 + g_a(i)) * (1 + g_a(i)));
        out[i] = (struct tl_index){.first = v / (product - 1),
                                   .total = v * product / (1 + v) / (product - 1)};
    }
    return product - 1;
}

/* --- the design ----------------------------------------------------------------------------------- */

/* The results of a base point. */
static void run(const struct function *f, const double *base, double *result)
{
    double u[TL_INDEX_INPUTS];
    for (size_t j = 0; j < TL_INDEX_RUNS(f->inputs); j++) {
        tl_index_point(base, f->inputs, j, u);
        result[j] = f->at(u);
    }
}

/* Groups of base points one after the other of an even sequence; `far` is added to every result. */
static void sum_up(const struct function *f, size_t points, double far,
                   struct tl_index_sums group[GROUPS])
{
    struct tl_points *p = NULL;
    double base[COORDINATES], result[TL_INDEX_RUNS(TL_INDEX_INPUTS)];
    assert_int_equal(tl_points_new(&p, 1, (unsigned)(2 * f->inputs), (unsigned)f->inputs, points),
                     TL_OK);
    memset(group, 0, GROUPS * sizeof *group);
    for (size_t k = 0; k < points; k++) {
        tl_points_at(p, k, base);
        run(f, base, result);
        for (size_t j = 0; j < TL_INDEX_RUNS(f->inputs); j++)
            result[j] += far;
        tl_index_add(&group[k * GROUPS / points], f->inputs, result);
    }
    tl_points_free(p);
}

static void compare(const struct function *f, const struct tl_index *exact, double variance,
                    double tolerance)
{
    struct tl_index_sums group[GROUPS];
    struct tl_indices found;
    sum_up(f, POINTS, 0, group);
    tl_index_solve(group, GROUPS, f->inputs, &found);
    assert_true(found.known);
    assert_int_equal(found.points, POINTS);
    assert_int_equal(found.missed, 0);
    near_rel(found.deviation, sqrt(variance), tolerance);
    for (size_t i = 0; i < f->inputs; i++) {
        const struct tl_index *x = &found.input[i];
        near(x->first, exact[i].first, tolerance);
        near(x->total, exact[i].total, tolerance);
        assert_true(fabs(x->first - exact[i].first) < 3 * x->first_error + UNEVEN);
        assert_true(fabs(x->total - exact[i].total) < 3 * x->total_error + UNEVEN);
    }
}

static void test_ishigami(void **state)
{
    const struct function f = {3, ishigami};
    struct tl_index exact[3];
    (void)state;
    const double variance = ishigami_indices(exact);
    /* as printed to four digits in Saltelli et al. (2008), Global Sensitivity Analysis: The Primer;
     * from memory */
    near(exact[0].first, 0.3139, 5e-5);
    near(exact[1].first, 0.4424, 5e-5);
    near(exact[2].total, 0.2437, 5e-5);
    compare(&f, exact, variance, 0.01);
}

static void test_g_function(void **state)
{
    const struct function f[] = {{6, g6}, {TL_INDEX_INPUTS, g20}};
    struct tl_index exact[TL_INDEX_INPUTS];
    (void)state;
    for (size_t k = 0; k < 2; k++) {
        const double variance = g_indices(f[k].inputs, exact);
        compare(&f[k], exact, variance, 0.02);
    }
}

/* --- the errors ----------------------------------------------------------------------------------- */

/* Of random points the jackknife's interval of two standard errors should hold the truth about 19 times
 * in 20. */
static void test_errors(void **state)
{
    enum { TIMES = 200, RANDOM_POINTS = 1024 };
    const struct function f = {3, ishigami};
    struct tl_index exact[3];
    size_t held[3][2] = {{0}};
    gsl_rng *r = gsl_rng_alloc(gsl_rng_mt19937);
    (void)state;
    assert_non_null(r);
    gsl_rng_set(r, 7);
    ishigami_indices(exact);
    for (int time = 0; time < TIMES; time++) {
        struct tl_index_sums group[GROUPS] = {{0}};
        struct tl_indices found;
        for (size_t k = 0; k < RANDOM_POINTS; k++) {
            double base[6], result[TL_INDEX_RUNS(3)];
            for (size_t i = 0; i < 6; i++)
                base[i] = gsl_rng_uniform_pos(r);
            run(&f, base, result);
            tl_index_add(&group[k * GROUPS / RANDOM_POINTS], 3, result);
        }
        tl_index_solve(group, GROUPS, 3, &found);
        assert_true(found.known);
        for (size_t i = 0; i < 3; i++) {
            const struct tl_index *x = &found.input[i];
            held[i][0] += fabs(x->first - exact[i].first) < 2 * x->first_error;
            held[i][1] += fabs(x->total - exact[i].total) < 2 * x->total_error;
        }
    }
    gsl_rng_free(r);
    /* 190 of 200 expected; 3 standard deviations of that count are 9 */
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < 2; k++) {
            assert_in_range(held[i][k], 190 - 10, 200);
        }
}

/* --- the sums ------------------------------------------------------------------------------------- */

static void assert_alike(const struct tl_indices *a, const struct tl_indices *b, size_t inputs,
                         double tolerance)
{
    near_rel(a->deviation, b->deviation, tolerance);
    for (size_t i = 0; i < inputs; i++) {
        near(a->input[i].first, b->input[i].first, tolerance);
        near(a->input[i].total, b->input[i].total, tolerance);
        near(a->input[i].first_error, b->input[i].first_error, tolerance);
        near(a->input[i].total_error, b->input[i].total_error, tolerance);
    }
}

/* A result far from zero has the indices of the same result around it. */
static void test_far(void **state)
{
    const struct function f = {6, g6};
    struct tl_index_sums group[GROUPS];
    struct tl_indices around, far;
    (void)state;
    sum_up(&f, 512, 0, group);
    tl_index_solve(group, GROUPS, f.inputs, &around);
    sum_up(&f, 512, 1e8, group);
    tl_index_solve(group, GROUPS, f.inputs, &far);
    assert_true(far.known);
    assert_alike(&around, &far, f.inputs, 1e-6);
}

/* Cut into pieces and joined, the sums are those of the whole. */
static void test_join(void **state)
{
    const struct function f = {6, g6};
    struct tl_index_sums group[GROUPS], pair[GROUPS] = {{0}}, none = {0};
    struct tl_indices fine, coarse;
    (void)state;
    sum_up(&f, 512, 0, group);
    for (size_t i = 0; i < GROUPS; i++) {
        tl_index_join(&pair[i / 2], f.inputs, &group[i]);
        tl_index_join(&pair[i / 2], f.inputs, &none);
    }
    tl_index_solve(group, GROUPS, f.inputs, &fine);
    tl_index_solve(pair, GROUPS, f.inputs, &coarse);
    assert_int_equal(coarse.points, 512);
    for (size_t i = 0; i < f.inputs; i++) {
        near(fine.input[i].first, coarse.input[i].first, 1e-12);
        near(fine.input[i].total, coarse.input[i].total, 1e-12);
    }
}

/* A base point without all its results is missed whole, whichever it lacks. */
static void test_missed(void **state)
{
    struct tl_index_sums s = {0};
    (void)state;
    for (size_t j = 0; j < TL_INDEX_RUNS(2); j++) {
        double result[] = {1, 2, 3, 4};
        result[j] = j % 2 ? NAN : INFINITY;
        tl_index_add(&s, 2, result);
    }
    assert_int_equal(s.points, 0);
    assert_int_equal(s.missed, 4);
    tl_index_add(&s, 2, (const double[]){1, 2, 3, 4});
    assert_int_equal(s.points, 1);
    near(s.mean, 1.5, 0);
    near(s.square, 0.5, 0);
    near(s.apart[1], 9, 0);
    near(s.cross[1], 1.5, 0);

    struct tl_index_sums group[2] = {s, {0}};
    struct tl_indices found;
    tl_index_solve(group, 2, 2, &found);
    assert_false(found.known); /* one group alone tells no error */
    assert_int_equal(found.missed, 4);
    group[1] = s;
    tl_index_solve(group, 2, 2, &found);
    assert_true(found.known);
    assert_int_equal(found.missed, 8);
}

/* A result that never changes has no indices, nor has one that only rounding changes. */
static void test_constant(void **state)
{
    (void)state;
    for (int k = 0; k < 2; k++) {
        struct tl_index_sums group[GROUPS] = {{0}};
        struct tl_indices found;
        for (size_t i = 0; i < 64; i++) {
            const double rounded = k ? 0.3 * (1 + 1e-16 * (double)(i % 3)) : 0.3;
            tl_index_add(&group[i / 2], 2, (const double[]){0.3, rounded, 0.3, rounded});
        }
        tl_index_solve(group, GROUPS, 2, &found);
        assert_false(found.known);
        assert_int_equal(found.points, 64);
        near(found.mean, 0.3, 1e-12);
    }
}

static void test_point(void **state)
{
    const double base[] = {1, 2, 3, 11, 12, 13};
    const double expected[][3] = {{1, 2, 3}, {11, 12, 13}, {11, 2, 3}, {1, 12, 3}, {1, 2, 13}};
    double u[3];
    (void)state;
    for (size_t j = 0; j < TL_INDEX_RUNS(3); j++) {
        tl_index_point(base, 3, j, u);
        assert_memory_equal(u, expected[j], sizeof u);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ishigami), cmocka_unit_test(test_g_function),
        cmocka_unit_test(test_errors),   cmocka_unit_test(test_far),
        cmocka_unit_test(test_join),     cmocka_unit_test(test_missed),
        cmocka_unit_test(test_constant), cmocka_unit_test(test_point),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
