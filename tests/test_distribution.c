/* Quantiles of distributions, whole and cut, and points that fill a cube evenly. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "distribution.h"
#include "near.h"
#include "points.h"
#include "towerloop/status.h"

#define PI 3.14159265358979323846

static const struct tl_distribution whole[] = {
    {TL_UNIFORM, -2, 4, 0, -INFINITY, INFINITY},
    {TL_NORMAL, 18, 1.5, 0, -INFINITY, INFINITY},
    {TL_LOGNORMAL, 0.78, 1.3, 0, 0, INFINITY},
    {TL_TRIANGULAR, 0.5, 2.1, 0.78, -INFINITY, INFINITY},
};
#define WHOLE (sizeof whole / sizeof *whole)

/* Quantiles of the normal distribution: NIST/SEMATECH handbook 1.3.6.7.1, table of the cumulative
 * distribution; 1.644854 and 2.326348 from memory. Triangular: the median in closed form, Evans,
 * Hastings and Peacock, from memory. */
static void quantiles_are_those_of_the_books(void **state)
{
    (void)state;
    near(tl_distribution_at(&whole[0], 0.25), -0.5, 1e-15);
    near(tl_distribution_at(&whole[1], 0.5), 18, 1e-15);
    near(tl_distribution_at(&whole[1], 0.95), 18 + 1.5 * 1.644854, 1e-5);
    near(tl_distribution_at(&whole[1], 0.01), 18 - 1.5 * 2.326348, 1e-5);
    near(tl_distribution_at(&whole[2], 0.5), 0.78, 1e-15);
    /* one standard deviation is one factor: 0.8413 of the normal distribution lies below it */
    near(tl_distribution_below(&whole[2], 0.78 * 1.3), 0.841345, 1e-6);
    near(tl_distribution_below(&whole[2], 0.78 / 1.3), 0.158655, 1e-6);
    near(tl_distribution_at(&whole[3], 0.5), 2.1 - sqrt(1.6 * 1.32 / 2), 1e-14);
    near(tl_distribution_below(&whole[3], 0.78), 0.28 / 1.6, 1e-15);
}

/* Every distribution, whole and cut on one side and on both: within its range, rising, and its rank leads
 * back to it. */
static void values_rise_within_the_range(void **state)
{
    (void)state;
    for (size_t i = 0; i < WHOLE; i++)
        for (int cut = 0; cut < 4; cut++) {
            struct tl_distribution d = whole[i];
            if (cut & 1)
                d.min = tl_distribution_at(&whole[i], 0.2);
            if (cut & 2)
                d.max = tl_distribution_at(&whole[i], 0.9);
            const double from = cut & 1 ? 0.2 : 0, to = cut & 2 ? 0.9 : 1;
            double before = -INFINITY;
            for (int k = 0; k <= 2000; k++) {
                const double u = k == 0      ? ldexp(0.5, -30)
                                 : k == 2000 ? 1 - ldexp(0.5, -30)
                                             : k / 2000.0;
                const double x = tl_distribution_at(&d, u);
                assert_true(isfinite(x) && x >= d.min && x <= d.max);
                assert_true(x > before);
                near(tl_distribution_below(&d, x), from + u * (to - from), 1e-9);
                before = x;
            }
        }
}

static void nothing_comes_of_no_range(void **state)
{
    (void)state;
    struct tl_distribution d = {TL_UNIFORM, 1, 2, 0, 3, 4};
    assert_true(isnan(tl_distribution_at(&d, 0.5)));
    d = (struct tl_distribution){TL_TRIANGULAR, 1, 2, 1, 0, 5};
    near(tl_distribution_at(&d, 0.75), 1.5, 1e-15); /* likeliest at an end */
    assert_true(isnan(tl_distribution_at(&d, 0)));
    assert_true(isnan(tl_distribution_at(&d, 1)));
    assert_true(isnan(tl_distribution_at(&d, NAN)));
}

/* A tail far out still has all of its digits. */
static void a_far_tail_is_resolved(void **state)
{
    (void)state;
    const struct tl_distribution d = {TL_NORMAL, 0, 1, 0, 6, 12};
    const double x = tl_distribution_at(&d, 0.5);
    /* median above 6: Q(x) = Q(6) / 2, by the error function */
    near(erfc(x / sqrt(2)) / erfc(6 / sqrt(2)), 0.5, 1e-9);
}

/* --- points ------------------------------------------------------------------------------------- */

static struct tl_points *points(uint64_t seed, unsigned dimensions, size_t n)
{
    struct tl_points *p = NULL;
    assert_int_equal(tl_points_new(&p, seed, dimensions, dimensions, n), TL_OK);
    return p;
}

/* A point is the same however many there are, in however many dimensions, and in whatever order. */
static void a_point_hangs_on_seed_and_place_alone(void **state)
{
    (void)state;
    struct tl_points *few = points(7, 40, 1000), *many = points(7, 40, 100000);
    struct tl_points *flat = points(7, 3, 1000), *other = points(8, 3, 1000);
    double a[40], b[40], c[3], d[3];
    for (size_t k = 1000; k-- > 0;) {
        tl_points_at(few, k, a);
        tl_points_at(many, k, b);
        tl_points_at(flat, k, c);
        tl_points_at(other, k, d);
        assert_memory_equal(a, b, sizeof a);
        assert_memory_equal(a, c, sizeof c);
        assert_memory_not_equal(a, d, sizeof d);
        for (int i = 0; i < 40; i++)
            assert_true(a[i] > 0 && a[i] < 1);
    }
    tl_points_free(few);
    tl_points_free(many);
    tl_points_free(flat);
    tl_points_free(other);
}

/* Of any 2^m points from a multiple of it on, one lies in each of 2^m equal steps of each dimension: what
 * makes them even (Sobol 1967), and what the shift leaves as it is. */
static void each_step_has_one_point(void **state)
{
    (void)state;
    enum { N = 256, FROM = 3 * N };
    struct tl_points *p = points(1, 40, FROM + N);
    int seen[40][N] = {{0}};
    double u[40];
    for (size_t k = FROM; k < FROM + N; k++) {
        tl_points_at(p, k, u);
        for (int i = 0; i < 40; i++)
            seen[i][(int)(u[i] * N)]++;
    }
    for (int i = 0; i < 40; i++)
        for (int step = 0; step < N; step++)
            assert_int_equal(seen[i][step], 1);
    tl_points_free(p);
}

/* A smooth function of which the mean is 1. */
static double bump(const double *u, int n)
{
    double f = 1;
    for (int i = 0; i < n; i++)
        f *= 1 + 0.5 * sin(2 * PI * u[i]) + (u[i] - 0.5);
    return f;
}

static int rising(const void *a, const void *b)
{
    const uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

/* Whether both blocks are the same numbers, but for the shift and the order. */
static bool same_numbers(const uint32_t *mine, const uint32_t *gsl, uint32_t shift)
{
    enum { BLOCK = 64 };
    uint32_t a[BLOCK], b[BLOCK];
    for (int k = 0; k < BLOCK; k++) {
        a[k] = mine[k] ^ shift;
        b[k] = gsl[k];
    }
    qsort(a, BLOCK, sizeof *a, rising);
    qsort(b, BLOCK, sizeof *b, rising);
    return memcmp(a, b, sizeof a) == 0;
}

/* The sequence itself is GSL's: without the shift, the points of a block of 64 are in each dimension the numbers that
 * GSL gives there, the origin before its first, in another order. */
static void the_sequence_is_that_of_gsl(void **state)
{
    (void)state;
    enum { D = 5, BLOCK = 64, BLOCKS = 9 };
    static uint32_t mine[D][BLOCKS * BLOCK], its[D][BLOCKS * BLOCK];
    struct tl_points *p = points(3, D, BLOCKS * BLOCK);
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, D);
    double u[D], x[D] = {0};
    for (size_t k = 0; k < BLOCKS * BLOCK; k++) {
        tl_points_at(p, k, u);
        if (k > 0)
            gsl_qrng_get(q, x);
        for (int i = 0; i < D; i++) {
            mine[i][k] = (uint32_t)ldexp(u[i], 30);
            its[i][k] = (uint32_t)ldexp(x[i], 30);
        }
    }
    for (int i = 0; i < D; i++) {
        int shifts = 0;
        for (int k = 0; k < BLOCK; k++) { /* what the origin has become */
            bool all = true;
            for (int block = 0; block < BLOCKS && all; block++)
                all = same_numbers(mine[i] + block * BLOCK, its[i] + block * BLOCK, mine[i][k]);
            shifts += all;
        }
        assert_true(shifts > 0); /* a block is the same from each of its points */
    }
    gsl_qrng_free(q);
    tl_points_free(p);
}

/* Of 1000 points about 1 in 20 lies in the upper corner of that size of any two dimensions, for every seed: GSL's
 * sequence alone leaves that of some pairs empty, and then no point tells of what happens there. */
static void no_pair_leaves_a_corner_empty(void **state)
{
    (void)state;
    enum { N = 1000, D = 40 };
    const double edge = 1 - sqrt(0.05);
    static bool high[N][D];
    double most_off = 0;
    for (uint64_t seed = 1; seed <= 6; seed++) {
        struct tl_points *p = points(seed, D, N);
        for (size_t k = 0; k < N; k++) {
            double u[D];
            tl_points_at(p, k, u);
            for (int i = 0; i < D; i++)
                high[k][i] = u[i] > edge;
        }
        for (int i = 0; i < D; i++)
            for (int j = 0; j < i; j++) {
                int both = 0;
                for (size_t k = 0; k < N; k++)
                    both += high[k][i] && high[k][j];
                most_off = fmax(most_off, fabs(both / (double)N - 0.05));
            }
        tl_points_free(p);
    }
    print_message("share of a corner off by at most %.4f\n", most_off);
    assert_true(most_off < 5 * sqrt(0.05 * 0.95 / N)); /* of 4680 by chance: four of these */
}

/* The mean over 1024 points in 5 dimensions is off by less than half as much as that of as many random points, at the
 * root of the mean square of 50 seeds. */
static void a_mean_is_closer_than_by_chance(void **state)
{
    (void)state;
    enum { N = 1024, D = 5, SEEDS = 50 };
    gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
    double even = 0, chance = 0, u[D];
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        struct tl_points *p = points(seed, D, N);
        double sum = 0, by_chance = 0;
        for (size_t k = 0; k < N; k++) {
            tl_points_at(p, k, u);
            sum += bump(u, D) / N;
            for (int i = 0; i < D; i++)
                u[i] = gsl_rng_uniform(random);
            by_chance += bump(u, D) / N;
        }
        even += (sum - 1) * (sum - 1) / SEEDS;
        chance += (by_chance - 1) * (by_chance - 1) / SEEDS;
        tl_points_free(p);
    }
    print_message("off by %.5f, random points by %.5f (rms)\n", sqrt(even), sqrt(chance));
    assert_true(sqrt(even) < sqrt(chance) / 2);
    gsl_rng_free(random);
}

/* Beyond 40 dimensions GSL 2.7 hands out a generator as if all were well, which then gives whatever lay in
 * its memory, mostly zeros; so none is asked of it. */
static void more_than_forty_dimensions_are_refused(void **state)
{
    (void)state;
    struct tl_points *p = NULL;
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, 41);
    assert_non_null(q);
    gsl_qrng_free(q);
    assert_int_equal(tl_points_new(&p, 1, 41, 41, 10), TL_E_INPUT);
    assert_null(p);
    assert_int_equal(tl_points_new(&p, 1, 0, 1, 10), TL_E_INPUT);
    assert_int_equal(tl_points_new(&p, 1, 4, 4, 0), TL_E_INPUT);
    assert_int_equal(tl_points_new(&p, 1, 4, 4, TL_POINTS_MOST + 1), TL_E_INPUT);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quantiles_are_those_of_the_books),
        cmocka_unit_test(values_rise_within_the_range),
        cmocka_unit_test(nothing_comes_of_no_range),
        cmocka_unit_test(a_far_tail_is_resolved),
        cmocka_unit_test(a_point_hangs_on_seed_and_place_alone),
        cmocka_unit_test(each_step_has_one_point),
        cmocka_unit_test(the_sequence_is_that_of_gsl),
        cmocka_unit_test(no_pair_leaves_a_corner_empty),
        cmocka_unit_test(a_mean_is_closer_than_by_chance),
        cmocka_unit_test(more_than_forty_dimensions_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
