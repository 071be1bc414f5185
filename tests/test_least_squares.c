/* The least squares against certified results, and what bounds, starts and loss do to them. */
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
#include "least_squares.h"
#include "near.h"
#include "towerloop/status.h"

/* --- NIST Statistical Reference Datasets ---------------------------------------------------------- */

struct set {
    const char *name;
    struct curve curve;
    bool from_first; /* the farther starting point leads there without bounds, too */
    struct tl_squares_axis axis[TL_SQUARES_MOST]; /* ranges for the search from many points */
    /* read */
    double start[2][TL_SQUARES_MOST], value[TL_SQUARES_MOST], deviation[TL_SQUARES_MOST], sum;
};

static double mgh09(const double *b, double x)
{
    return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
}

static double mgh10(const double *b, double x)
{
    return b[0] * exp(b[1] / (x + b[2]));
}

static double mgh17(const double *b, double x)
{
    return b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]);
}

static double rat43(const double *b, double x)
{
    return b[0] / pow(1 + exp(b[1] - b[2] * x), 1 / b[3]);
}

static double eckerle4(const double *b, double x)
{
    const double z = (x - b[2]) / b[1];
    return b[0] / b[1] * exp(-z * z / 2);
}

static double thurber(const double *b, double x)
{
    return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1 + x * (b[4] + x * (b[5] + x * b[6])));
}

/* clang-format off */
static const struct set sets[] = {
    {.name = "BoxBOD", .curve.y = curve_boxbod, .from_first = false, .axis = {{1, 1000, true}, {0.01, 10, true}}},
    {.name = "MGH09", .curve.y = mgh09, .from_first = false, .axis = {{0.01, 10, true}, {0.01, 50, true}, {0.01, 50, true}, {0.01, 50, true}}},
    {.name = "MGH10", .curve.y = mgh10, .from_first = false, .axis = {{1e-3, 3, true}, {1e3, 1e6, true}, {100, 3e4, true}}},
    {.name = "MGH17", .curve.y = mgh17, .from_first = false, .axis = {{0, 1, false}, {0, 5, false}, {-5, 0, false}, {1e-3, 0.1, true}, {1e-3, 0.1, true}}},
    {.name = "Rat42", .curve.y = curve_rat42, .from_first = true, .axis = {{10, 1000, true}, {0.1, 10, true}, {0.001, 1, true}}},
    {.name = "Rat43", .curve.y = rat43, .from_first = true, .axis = {{100, 2000, true}, {0.1, 20, true}, {0.01, 5, true}, {0.1, 10, true}}},
    {.name = "Eckerle4", .curve.y = eckerle4, .from_first = false, .axis = {{0.1, 20, true}, {1, 50, true}, {400, 500, false}}},
    {.name = "Thurber", .curve.y = thurber, .from_first = true, .axis = {{500, 3000, true}, {500, 5000, true}, {100, 2000, true}, {10, 300, true},
                                {0.1, 5, true}, {0.05, 2, true}, {0.01, 0.3, true}}},
};
/* clang-format on */
enum { SETS = sizeof sets / sizeof *sets };

static void read_set(struct set *s)
{
    struct data_file d;
    curve_read(&s->curve, s->name);
    assert_int_equal(data_read(DATA_DIR, "strd_certified.csv", &d), 0);
    for (size_t i = 0; i < d.rows; i++)
        if (strcmp(d.cell[i][0], s->name) == 0) {
            if (s->curve.axes == 0)
                s->sum = data_number(&d, i, "sum");
            s->start[0][s->curve.axes] = data_number(&d, i, "start1");
            s->start[1][s->curve.axes] = data_number(&d, i, "start2");
            s->deviation[s->curve.axes] = data_number(&d, i, "deviation");
            s->value[s->curve.axes++] = data_number(&d, i, "value");
        }
    data_free(&d);
    assert_true(s->curve.readings > s->curve.axes && s->curve.axes > 0);
}

static void fit_set(struct set *s, size_t start, bool bounded, struct tl_squares_result *out)
{
    struct tl_squares_axis axis[TL_SQUARES_MOST];
    for (size_t j = 0; j < s->curve.axes; j++)
        axis[j] = bounded ? s->axis[j] : (struct tl_squares_axis){-INFINITY, INFINITY, false};
    const struct tl_squares_problem p = {.axes = s->curve.axes,
                                         .axis = axis,
                                         .residuals = s->curve.readings,
                                         .at = curve_residuals,
                                         .arg = &s->curve,
                                         .start = s->start[start],
                                         .starts = bounded ? 64 : 0};
    assert_int_equal(tl_squares_fit(&p, out, NULL), TL_OK);
}

static void check_set(const struct set *s, const struct tl_squares_result *r, const char *how)
{
    printf("%s %s: sum %.10g, certified %.10g, %lu evaluations\n", s->name, how, r->sum, s->sum,
           r->evaluations);
    near_rel(r->sum, s->sum, 1e-8);
    for (size_t j = 0; j < s->curve.axes; j++) {
        near_rel(r->x[j], s->value[j], 1e-5);
        near_rel(r->error[j], s->deviation[j], 1e-4);
    }
}

static void test_certified(void **state)
{
    (void)state;
    for (size_t k = 0; k < SETS; k++) {
        struct set s = sets[k];
        struct tl_squares_result r;
        read_set(&s);
        fit_set(&s, 1, false, &r);
        check_set(&s, &r, "from the second start");
        if (s.from_first) {
            fit_set(&s, 0, false, &r);
            check_set(&s, &r, "from the first start");
        }
        fit_set(&s, 0, true, &r);
        check_set(&s, &r, "within bounds");
        for (size_t j = 0; j < s.curve.axes; j++) {
            assert_true(r.low[j] < r.x[j] && r.x[j] < r.high[j]);
            assert_true(r.low[j] >= s.axis[j].low && r.high[j] <= s.axis[j].high);
        }
    }
}

/* --- a straight line, by its closed form ------------------------------------------------------------ */

static const struct tl_squares_axis wide[] = {{-INFINITY, INFINITY, false},
                                              {-INFINITY, INFINITY, false}};
static const double begin[] = {1, 1};

static void draw_line(struct line *l)
{
    *l = (struct line){{0}};
    for (size_t i = 0; i < LINE; i++)
        l->y[i] = 2 + 0.5 * (double)i + (i % 2 ? 0.3 : -0.3);
}

static void test_interval(void **state)
{
    struct line l;
    struct tl_squares_result r;
    double mean_y = 0, mean_x = 0, sxx = 0, sxy = 0, rss = 0;
    (void)state;

    draw_line(&l);
    struct tl_squares_problem p = {.axes = 2,
                                   .axis = wide,
                                   .residuals = LINE,
                                   .at = line_residuals,
                                   .arg = &l,
                                   .start = begin};
    for (size_t i = 0; i < LINE; i++) {
        mean_y += l.y[i] / LINE;
        mean_x += (double)i / LINE;
    }
    for (size_t i = 0; i < LINE; i++) {
        sxx += ((double)i - mean_x) * ((double)i - mean_x);
        sxy += ((double)i - mean_x) * (l.y[i] - mean_y);
    }
    const double slope = sxy / sxx;
    for (size_t i = 0; i < LINE; i++)
        rss += pow(l.y[i] - mean_y - slope * ((double)i - mean_x), 2);
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_OK);
    near_rel(r.x[1], slope, 1e-8);
    near_rel(r.sum, rss, 1e-8);
    /* t of 10 degrees of freedom, 95 %: 1.812 (any table of Student's t) */
    near_rel(r.high[1] - r.low[1], 2 * 1.812 * sqrt(rss / (LINE - 2) / sxx), 1e-3);
    /* residuals that are smaller than their standard error of 1 narrow nothing */
    p.scaled = true;
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_OK);
    near_rel(r.scale, 1, 1e-12);
    near_rel(r.error[1], sqrt(1 / sxx), 1e-6);
    /* the intercept and the slope pull against each other: -mean / root mean square of x */
    near_rel(r.correlation[0][1], -mean_x / sqrt(sxx / LINE + mean_x * mean_x), 1e-6);
}

static void test_robust(void **state)
{
    struct line l;
    struct tl_squares_result clean, plain, robust;
    double weight[LINE];
    (void)state;

    draw_line(&l);
    struct tl_squares_problem p = {.axes = 2,
                                   .axis = wide,
                                   .residuals = LINE,
                                   .at = line_residuals,
                                   .arg = &l,
                                   .start = begin};
    assert_int_equal(tl_squares_fit(&p, &clean, NULL), TL_OK);
    l.y[LINE - 1] += 30;
    assert_int_equal(tl_squares_fit(&p, &plain, NULL), TL_OK);
    p.robust = true;
    assert_int_equal(tl_squares_fit(&p, &robust, weight), TL_OK);
    assert_true(robust.converged);
    assert_true(fabs(robust.x[1] - clean.x[1]) < 0.25 * fabs(plain.x[1] - clean.x[1]));
    assert_true(weight[LINE - 1] < 0.1);
    near_rel(weight[0], 1, 1e-12);
    /* at the minimum of Huber's loss its influences balance */
    double balance = 0, balance_x = 0;
    for (size_t i = 0; i < LINE; i++) {
        const double residual = robust.x[0] + robust.x[1] * (double)i - l.y[i];
        const double pull = fmax(-TL_SQUARES_HUBER, fmin(TL_SQUARES_HUBER, residual));
        balance += pull;
        balance_x += pull * (double)i;
    }
    near(balance, 0, 1e-3);
    near(balance_x, 0, 1e-2);
}

static void test_bounds(void **state)
{
    static const struct tl_squares_axis axis[] = {{-10, 10, false}, {0.6, 3, true}};
    struct line l;
    struct tl_squares_result r;
    (void)state;

    draw_line(&l);
    const struct tl_squares_problem p = {.axes = 2,
                                         .axis = axis,
                                         .residuals = LINE,
                                         .at = line_residuals,
                                         .arg = &l,
                                         .start = begin};
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_OK);
    near_rel(r.x[1], 0.6, 1e-6);
    near_rel(r.low[1], 0.6, 1e-6);
    assert_true(r.high[1] > 0.61 &&
                r.high[1] <= 3); /* there, too, it is not known to the last digit */
}

static int second_counts_not(void *arg, size_t points, const double *x, double *r)
{
    const struct line *l = arg;
    for (size_t k = 0; k < points; k++)
        for (size_t i = 0; i < LINE; i++)
            r[k * LINE + i] = x[2 * k] - l->y[i];
    return TL_OK;
}

static int refuses(void *arg, size_t points, const double *x, double *r)
{
    (void)arg, (void)points;
    r[0] = x[0];
    return TL_E_INTERRUPTED;
}

static void test_faults(void **state)
{
    struct line l;
    struct tl_squares_result r;
    (void)state;

    draw_line(&l);
    struct tl_squares_problem p = {.axes = 2,
                                   .axis = wide,
                                   .residuals = LINE,
                                   .at = second_counts_not,
                                   .arg = &l,
                                   .start = begin};
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_E_SOLVER);
    p.at = refuses;
    assert_int_equal(tl_squares_fit(&p, &r, NULL), TL_E_INTERRUPTED);
}

static void test_slopes(void **state)
{
    static const struct tl_squares_axis axis[] = {{-10, 10, false}, {0.1, 10, true}};
    struct line l;
    double jacobian[LINE * 2];
    (void)state;

    draw_line(&l);
    const struct tl_squares_problem p = {.axes = 2,
                                         .axis = axis,
                                         .residuals = LINE,
                                         .at = line_residuals,
                                         .arg = &l,
                                         .start = begin};
    assert_int_equal(tl_squares_slopes(&p, jacobian), TL_OK);
    for (size_t i = 0; i < LINE; i++) {
        /* u = asin(0.1), dx/du = 10 cos u; the slope lies in the middle of its logarithms */
        near_rel(jacobian[2 * i], 10 * sqrt(0.99), 1e-6);
        near(jacobian[2 * i + 1], (double)i * log(10), 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_certified), cmocka_unit_test(test_interval),
        cmocka_unit_test(test_robust),    cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_faults),    cmocka_unit_test(test_slopes),
    };
    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
