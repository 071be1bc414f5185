/* Profile intervals: exact ones of a line, published ones, ends that are not there, lower minima. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "curve.h"
#include "least_squares_profile.h"
#include "near.h"
#include "towerloop/status.h"

#define MANY 100000

/* --- a straight line -------------------------------------------------------------------------------- */

static const struct tl_squares_axis wide[] = {{-INFINITY, INFINITY, false},
                                              {-INFINITY, INFINITY, false}};
static const struct tl_squares_axis bounded[] = {{-10, 10, false}, {0.01, 10, true}};
static const double begin[] = {1, 1};

static void draw_line(struct line *l)
{
    *l = (struct line){{0}};
    for (size_t i = 0; i < LINE; i++)
        l->y[i] = 2 + 0.5 * (double)i + (i % 3 ? 0.3 : -0.6);
}

static struct tl_squares_problem line_problem(struct line *l, const struct tl_squares_axis *axis)
{
    return (struct tl_squares_problem){
        .axes = 2, .axis = axis, .residuals = LINE, .at = line_residuals, .arg = l, .start = begin};
}

static void test_line(void **state)
{
    struct line l;
    struct tl_squares_result r;
    struct tl_squares_profile profile;
    double mean_y = 0, sxx = 0, sxy = 0, rss = 0;
    const double mean_x = (LINE - 1) / 2.0;
    (void)state;

    draw_line(&l);
    for (size_t i = 0; i < LINE; i++)
        mean_y += l.y[i] / LINE;
    for (size_t i = 0; i < LINE; i++) {
        sxx += ((double)i - mean_x) * ((double)i - mean_x);
        sxy += ((double)i - mean_x) * (l.y[i] - mean_y);
    }
    const double slope = sxy / sxx, intercept = mean_y - slope * mean_x;
    for (size_t i = 0; i < LINE; i++)
        rss += pow(l.y[i] - intercept - slope * (double)i, 2);
    /* Student's t of 10 degrees of freedom, 95 %: 1.812461 (any table) */
    const double t = 1.812461, s = sqrt(rss / (LINE - 2));
    const double of_slope = t * s / sqrt(sxx);
    const double of_intercept = t * s * sqrt(1.0 / LINE + mean_x * mean_x / sxx);
    for (int within = 0; within < 2; within++) {
        const struct tl_squares_problem p = line_problem(&l, within ? bounded : wide);
        assert_int_equal(tl_squares_fit_profiled(&p, MANY, &r, NULL, &profile), TL_OK);
        assert_true(profile.complete && r.converged);
        assert_int_equal(profile.improved, 0);
        near_rel(profile.low[0], intercept - of_intercept, 1e-5);
        near_rel(profile.high[0], intercept + of_intercept, 1e-5);
        near_rel(profile.low[1], slope - of_slope, 1e-5);
        near_rel(profile.high[1], slope + of_slope, 1e-5);
        assert_false(profile.low_open[0] || profile.high_open[0] || profile.low_open[1] ||
                     profile.high_open[1]);
    }
}

/* At each end of an interval the loss, minimised by hand over the other, is t^2 units higher. */
static void test_robust(void **state)
{
    struct line l;
    struct tl_squares_result r;
    struct tl_squares_profile profile;
    (void)state;

    draw_line(&l);
    for (size_t i = 0; i < LINE; i++)
        l.y[i] *= 3;
    l.y[LINE - 1] += 30;
    struct tl_squares_problem p = line_problem(&l, wide);
    p.robust = p.scaled = true;
    assert_int_equal(tl_squares_fit_profiled(&p, MANY, &r, NULL, &profile), TL_OK);
    assert_true(profile.complete && r.unit > 1);
    /* Huber 1981: residuals that are cut bring less, and count for less */
    double squares = 0, cut = 0;
    for (size_t i = 0; i < LINE; i++) {
        const double far = fabs(r.x[0] + r.x[1] * (double)i - l.y[i]);
        squares += pow(fmin(far, TL_SQUARES_HUBER), 2);
        cut += far > TL_SQUARES_HUBER;
    }
    const double m = 1 - cut / LINE, k = 1 + 2.0 / LINE * (1 - m) / m;
    assert_true(cut > 0 && cut < LINE / 2.0);
    near_rel(r.unit, k * k * squares / (LINE - 2) / m, 1e-9);
    for (int high = 0; high < 2; high++) {
        const double slope = high ? profile.high[1] : profile.low[1];
        double least = INFINITY;
        for (double intercept = -10; intercept < 20; intercept += 1e-4) {
            double loss = 0;
            for (size_t i = 0; i < LINE; i++) {
                const double far = fabs(intercept + slope * (double)i - l.y[i]);
                loss += far < TL_SQUARES_HUBER ? far * far
                                               : TL_SQUARES_HUBER * (2 * far - TL_SQUARES_HUBER);
            }
            least = fmin(least, loss);
        }
        near_rel((least - r.loss) / r.unit, 1.812461 * 1.812461, 1e-4);
    }
}

/* --- published ones --------------------------------------------------------------------------------- */

enum { MOST_AXES = 3 };

struct set {
    const char *name;
    double start[MOST_AXES];
    struct curve curve;
};

static double michaelis(const double *b, double x)
{
    return b[0] * x / (b[1] + x);
}

/* clang-format off */
static const struct set sets[] = {
    {"Puromycin", {200, 0.1}, {michaelis, 2, 12,
     {0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.10, 1.10},
     {76, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200}}},
    {"BoxBOD", {100, 0.75}, {curve_boxbod, 2, 0, {0}, {0}}},
    {"Rat42", {75, 2.5, 0.07}, {curve_rat42, 3, 0, {0}, {0}}},
};
/* clang-format on */
enum { SETS = sizeof sets / sizeof *sets };

static void test_published(void **state)
{
    struct data_file d;
    size_t checked = 0;
    (void)state;

    assert_int_equal(data_read(DATA_DIR, "profile_intervals.csv", &d), 0);
    for (size_t k = 0; k < SETS; k++) {
        struct set s = sets[k];
        struct tl_squares_axis axis[MOST_AXES];
        curve_read(&s.curve, s.name);
        assert_true(s.curve.readings > s.curve.axes);
        for (size_t j = 0; j < s.curve.axes; j++)
            axis[j] = wide[0];
        for (size_t i = 0; i < d.rows; i++) {
            if (strcmp(d.cell[i][0], s.name) != 0)
                continue;
            struct tl_squares_result r;
            struct tl_squares_profile profile;
            const size_t j = (size_t)data_number(&d, i, "parameter");
            const struct tl_squares_problem p = {.axes = s.curve.axes,
                                                 .axis = axis,
                                                 .residuals = s.curve.readings,
                                                 .at = curve_residuals,
                                                 .arg = &s.curve,
                                                 .start = s.start,
                                                 .level = data_number(&d, i, "level")};
            assert_int_equal(tl_squares_fit_profiled(&p, MANY, &r, NULL, &profile), TL_OK);
            assert_true(profile.complete);
            printf("%s, %zu: %.10g to %.10g, linearised %.10g to %.10g, %lu evaluations\n", s.name,
                   j, profile.low[j], profile.high[j], r.low[j], r.high[j], profile.evaluations);
            near_rel(profile.low[j], data_number(&d, i, "low"), data_number(&d, i, "tolerance"));
            near_rel(profile.high[j], data_number(&d, i, "high"), data_number(&d, i, "tolerance"));
            checked++;
        }
    }
    assert_int_equal(checked, d.rows);
    data_free(&d);
}

/* --- ends that are not there -------------------------------------------------------------------------- */

/* A rate seen only after it has done its work, and one of which next to nothing is seen. */
static int late(void *arg, size_t points, const double *x, double *r)
{
    const double *seen = arg;
    for (size_t k = 0; k < points; k++)
        for (size_t i = 0; i < LINE; i++)
            r[k * LINE + i] =
                (1 - exp(-x[2 * k] * (double)(i + 3)) + 1e-4 * x[2 * k + 1] - seen[i]) / 0.02;
    return TL_OK;
}

static void test_open(void **state)
{
    static const struct tl_squares_axis axis[] = {{0.05, 20, true}, {1, 5, true}};
    static const double start[] = {1, 2};
    double seen[LINE];
    struct tl_squares_result r;
    struct tl_squares_profile profile;
    (void)state;

    for (size_t i = 0; i < LINE; i++)
        seen[i] = 1 + (i % 2 ? 0.01 : -0.01);
    const struct tl_squares_problem p = {.axes = 2,
                                         .axis = axis,
                                         .residuals = LINE,
                                         .at = late,
                                         .arg = seen,
                                         .start = start,
                                         .step = 0.02,
                                         .tolerance = 1e-3,
                                         .enough = 1e-4,
                                         .robust = true,
                                         .scaled = true};
    assert_int_equal(tl_squares_fit_profiled(&p, MANY, &r, NULL, &profile), TL_OK);
    assert_true(profile.complete);
    /* it is fast, nobody knows how fast: 3 days leave less than some 2 % */
    assert_false(profile.low_open[0]);
    assert_true(profile.low[0] > 0.8 && profile.low[0] < 1.6);
    assert_true(profile.high_open[0]);
    near_rel(profile.high[0], 20, 1e-9);
    assert_true(profile.low_open[1] && profile.high_open[1]);
    near_rel(profile.low[1], 1, 1e-9);
    near_rel(profile.high[1], 5, 1e-9);
}

/* --- a lower minimum on the way, and places that run out ------------------------------------------------ */

/* Two valleys: around 3 a shallow one, around -1 the deeper. */
static int valleys(void *arg, size_t points, const double *x, double *r)
{
    (void)arg;
    for (size_t k = 0; k < points; k++) {
        r[3 * k] = 0.2 * (x[k] - 3) * (x[k] + 1);
        r[3 * k + 1] = 0.2 * (x[k] + 1);
        r[3 * k + 2] = 1;
    }
    return TL_OK;
}

static void test_lower(void **state)
{
    static const double start[] = {3.2};
    struct tl_squares_result r;
    struct tl_squares_profile profile;
    (void)state;

    const struct tl_squares_problem p = {
        .axes = 1, .axis = wide, .residuals = 3, .at = valleys, .start = start, .scaled = true};
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_OK);
    assert_true(r.x[0] > 2);
    assert_int_equal(tl_squares_fit_profiled(&p, MANY, &r, NULL, &profile), TL_OK);
    near_rel(r.x[0], -1, 1e-6);
    assert_true(profile.complete && profile.improved == 1);
    assert_true(profile.low[0] < -1 && profile.high[0] > -1);
}

static void test_spent(void **state)
{
    struct line l;
    struct tl_squares_result r;
    struct tl_squares_profile profile;
    (void)state;

    draw_line(&l);
    const struct tl_squares_problem p = line_problem(&l, wide);
    assert_int_equal(tl_squares_fit_profiled(&p, 10, &r, NULL, &profile), TL_OK);
    assert_false(profile.complete);
    assert_true(r.converged && r.low[1] < r.x[1] && r.x[1] < r.high[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_line),      cmocka_unit_test(test_robust),
        cmocka_unit_test(test_published), cmocka_unit_test(test_open),
        cmocka_unit_test(test_lower),     cmocka_unit_test(test_spent),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
