/* Bins, the intervals of a run, and chances in words. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "bins.h"
#include "chance.h"
#include "near.h"
#include "watched.h"

static void each_bin_is_as_wide_as_it_says(void **state)
{
    (void)state;
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        const struct tl_bins *b = &tl_watched(w)->bins;
        for (size_t i = 1; i + 1 < b->count; i++) {
            const double middle = tl_bins_middle(b, i);
            const double half = b->log ? middle * (sqrt(1 + b->width) - 1) : b->width / 2;
            assert_int_equal(tl_bins_at(b, middle), i);
            /* just inside and just outside of the edges */
            assert_int_equal(tl_bins_at(b, middle + half * 0.9999), i);
            assert_int_equal(
                tl_bins_at(b, middle + half * 1.0001 + (b->log ? half * half / middle : 0)), i + 1);
            assert_int_equal(tl_bins_at(b, middle - half * 1.0001), i - 1);
        }
    }
}

static void what_lies_outside_is_kept_at_the_ends(void **state)
{
    (void)state;
    const struct tl_bins share = {true, 0.1, 0.5, 5}, step = {false, 6, 0.5, 4};
    assert_int_equal(tl_bins_at(&share, 0), 0);
    assert_int_equal(tl_bins_at(&share, -DBL_MAX), 0);
    assert_int_equal(tl_bins_at(&share, 0.0999), 0);
    assert_int_equal(tl_bins_at(&share, 0.1), 1);
    assert_int_equal(tl_bins_at(&share, 1e300), 4);
    assert_int_equal(tl_bins_at(&share, INFINITY), 4);
    near(tl_bins_middle(&share, 0), 0, 0);
    near(tl_bins_middle(&share, 1), 0.1 * sqrt(1.5), 1e-15);
    near(tl_bins_middle(&share, 4), 0.1 * 1.5 * 1.5 * 1.5, 1e-15);
    assert_int_equal(tl_bins_at(&step, -7), 0);
    assert_int_equal(tl_bins_at(&step, 6.49), 1);
    assert_int_equal(tl_bins_at(&step, 6.5), 2);
    assert_int_equal(tl_bins_at(&step, 7), 3);
    near(tl_bins_middle(&step, 0), 6, 0);
    near(tl_bins_middle(&step, 1), 6.25, 0);
    near(tl_bins_middle(&step, 3), 7, 0);
}

/* Every watched value that water can have finds a bin that is not an outer one. */
static void the_bins_reach_far_enough(void **state)
{
    (void)state;
    static const double low[TL_NWATCHED] = {0.1, 0.01, 1e-4, 0.01, 4, 4, 1, 0.1, 0, 0};
    static const double high[TL_NWATCHED] = {30, 100, 5, 100, 11, 11, 800, 1000, 45, 45};
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        const struct tl_bins *b = &tl_watched(w)->bins;
        assert_in_range(tl_bins_at(b, low[w]), 1, b->count - 2u);
        assert_in_range(tl_bins_at(b, high[w]), 1, b->count - 2u);
    }
}

static void a_quantile_is_the_first_bin_that_reaches_it(void **state)
{
    (void)state;
    const uint32_t counted[] = {0, 5, 0, 90, 4, 1, 0};
    assert_int_equal(tl_bins_quantile(counted, 7, 0), 1);
    assert_int_equal(tl_bins_quantile(counted, 7, 0.05), 1);
    assert_int_equal(tl_bins_quantile(counted, 7, 0.0501), 3);
    assert_int_equal(tl_bins_quantile(counted, 7, 0.5), 3);
    assert_int_equal(tl_bins_quantile(counted, 7, 0.95), 3);
    assert_int_equal(tl_bins_quantile(counted, 7, 0.99), 4);
    assert_int_equal(tl_bins_quantile(counted, 7, 1), 5);
    const uint32_t none[3] = {0};
    assert_true(tl_bins_quantile(none, 3, 0.5) == SIZE_MAX);
}

/* --- intervals ---------------------------------------------------------------------------------- */

static void intervals_end_at_midnight(void **state)
{
    (void)state;
    const struct tl_intervals v = tl_intervals_of(0.25, 60); /* from 6 o'clock */
    near(v.length_d, 1, 0);
    assert_int_equal(v.count, 61);
    assert_int_equal(tl_interval_at(&v, 0.25), 0);
    assert_int_equal(tl_interval_at(&v, 0.9999), 0);
    assert_int_equal(tl_interval_at(&v, 1), 1);
    assert_int_equal(tl_interval_at(&v, 60.25), 60);
    near(tl_interval_middle(&v, 0), (0.25 + 1) / 2, 1e-12);
    near(tl_interval_middle(&v, 1), 1.5, 1e-12);
    near(tl_interval_middle(&v, 60), 60.125, 1e-12);
    /* sums of samples that miss midnight by rounding belong behind it */
    double t_d = 0.25;
    for (int i = 0; i < 36; i++)
        t_d += v.sample_d;
    assert_int_equal(tl_interval_at(&v, t_d), 1);
}

static void a_run_has_few_intervals(void **state)
{
    (void)state;
    struct tl_intervals v = tl_intervals_of(0, 60);
    assert_int_equal(v.count, 60);
    assert_int_equal(tl_interval_at(&v, 60), 59); /* the end is the last day's */
    v = tl_intervals_of(0, 2);
    near(v.length_d, 1.0 / 24, 1e-15);
    assert_int_equal(v.count, 48);
    for (int hour = 0; hour < 24; hour++) /* a start on the hour begins no earlier interval */
        assert_int_equal(tl_intervals_of(hour / 24.0, 2).count, 48);
    for (double length_d = 0.01; length_d < 4000; length_d *= 1.37) {
        v = tl_intervals_of(0.6, length_d);
        assert_in_range(v.count, 1, 400);
        assert_int_equal(tl_interval_at(&v, 0.6), 0);
        assert_int_equal(tl_interval_at(&v, 0.6 + length_d), v.count - 1);
        for (size_t i = 0; i < v.count; i++)
            assert_int_equal(tl_interval_at(&v, tl_interval_middle(&v, i)), i);
    }
}

/* --- chances ------------------------------------------------------------------------------------ */

/* Of drawing at least `x` of `n`, each with the chance `p`. */
static double at_least(size_t x, size_t n, double p)
{
    double sum = 0;
    for (size_t k = x; k <= n; k++)
        sum += exp(lgamma((double)n + 1) - lgamma((double)k + 1) - lgamma((double)(n - k) + 1) +
                   (double)k * log(p) + (double)(n - k) * log1p(-p));
    return sum;
}

/* What Clopper and Pearson 1934 ask of the ends: 5 % for the count or more, and for the count or less. */
static void the_interval_is_exact(void **state)
{
    (void)state;
    static const size_t count[][2] = {{1, 20},      {10, 20},         {19, 20},    {60, 1000},
                                      {3, 1000},    {9999, 10000},    {1, 100000}, {99000, 100000},
                                      {1, 1000000}, {500000, 1000000}};
    for (size_t i = 0; i < sizeof count / sizeof *count; i++) {
        const size_t x = count[i][0], n = count[i][1];
        const struct tl_chance c = tl_chance_of(x, n);
        near(at_least(x, n, c.low), 0.05, 1e-9);
        near(1 - at_least(x + 1, n, c.high), 0.05, 1e-9);
    }
    struct tl_chance c = tl_chance_of(0, 1000);
    near(c.low, 0, 0);
    near(c.high, 1 - pow(0.05, 1.0 / 1000), 1e-12);
    c = tl_chance_of(1000, 1000);
    near(c.low, pow(0.05, 1.0 / 1000), 1e-12);
    near(c.high, 1, 0);
    c = tl_chance_of(0, 0);
    near(c.low, 0, 0);
    near(c.high, 1, 0);
}

static void says(size_t runs, size_t of, const char *expected, const char *expected_short)
{
    const struct tl_chance c = tl_chance_of(runs, of);
    char text[TL_CHANCE_SIZE];
    tl_chance_text(&c, text);
    assert_string_equal(text, expected);
    tl_chance_short(&c, text);
    assert_string_equal(text, expected_short);
}

static void words_never_round_to_none_or_all(void **state)
{
    (void)state;
    says(830, 1000, "83 of 100 runs (90 % sure: 80 to 85)", "83 (80-85)");
    says(60, 1000, "6 of 100 runs (90 % sure: 4.8 to 7.4)", "6 (4.8-7.4)");
    says(0, 1000, "none of 1000 runs (90 % sure: at most 0.3 of 100)", "0 (0-0.3)");
    says(0, 100000, "none of 100000 runs (90 % sure: at most 0.003 of 100)", "0 (0-0.1)");
    says(1000, 1000, "all 1000 runs (90 % sure: at least 99.7 of 100)", "100 (99.7-100)");
    says(9999, 10000, "99.99 of 100 runs (90 % sure: 99.95 to 99.9995)", ">99.9 (99.9-100)");
    says(1, 10000, "0.01 of 100 runs (90 % sure: 0.0005 to 0.05)", "<0.1 (0-0.1)");
    says(999999, 1000000, "99.9999 of 100 runs (90 % sure: 99.9995 to 100)", ">99.9 (99.9-100)");
    says(999, 1000, "99.9 of 100 runs (90 % sure: 99.5 to 99.995)", "99.9 (99.5-100)");
    says(17, 20, "17 of 20 runs (90 % sure: 65 to 95.8 of 100)", "85 (65-95.8)");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_bin_is_as_wide_as_it_says),
        cmocka_unit_test(what_lies_outside_is_kept_at_the_ends),
        cmocka_unit_test(the_bins_reach_far_enough),
        cmocka_unit_test(a_quantile_is_the_first_bin_that_reaches_it),
        cmocka_unit_test(intervals_end_at_midnight),
        cmocka_unit_test(a_run_has_few_intervals),
        cmocka_unit_test(the_interval_is_exact),
        cmocka_unit_test(words_never_round_to_none_or_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
