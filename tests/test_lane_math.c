/* The functions that lanes have of their own against the C library's, and the masks. Compiled with
 * several lanes. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "lanes.h"
#include "near.h"

static void exp_is_that_of_the_library(void **state)
{
    (void)state;
    for (double x = -700; x < 700; x += 0.377) {
        const real y = lane_exp(lane_all(x) + (real){0, 1e-3});
        near_rel(y[0], exp(x), 4 * DBL_EPSILON);
        near_rel(y[1], exp(x + 1e-3), 4 * DBL_EPSILON);
    }
    for (double x = 1e-18; x < 1; x *= 3) {
        near_rel(lane_exp(lane_all(-x))[1], exp(-x), 2 * DBL_EPSILON);
        near(lane_expm1(lane_all(-x))[1], expm1(-x), 2 * DBL_EPSILON);
    }
    near(lane_exp(lane_all(0))[0], 1, 0);
    near(lane_exp(lane_all(-1e300))[0], 0, 1e-300);
    assert_true(isnan(lane_exp((real){0, NAN})[1]));
}

static void log_and_pow_are_those_of_the_library(void **state)
{
    (void)state;
    for (double x = 1e-300; x < 1e300; x *= 1.7) {
        const real y = lane_log((real){x, 2 * x});
        near_rel(y[0], log(x), 4 * DBL_EPSILON);
        near_rel(y[1], log(2 * x), 4 * DBL_EPSILON);
        near_rel(lane_log10(lane_all(x))[1], log10(x), 4 * DBL_EPSILON);
    }
    for (double x = 0.7; x < 1.5; x += 1e-3)
        near(lane_log(lane_all(x))[0], log(x), 2 * DBL_EPSILON);
    near(lane_log(lane_all(1))[0], 0, 0);
    for (double mass = 0.01; mass < 1e5; mass *= 1.3)
        near_rel(lane_pow(lane_all(mass), (real){-0.193, 0.9})[0], pow(mass, -0.193),
                 8 * DBL_EPSILON);
}

static void lanes_keep_apart(void **state)
{
    (void)state;
    const real x = {-2, 3};
    const real nan = {NAN, 1};

    near(tl_positive(x)[0], 0, 0);
    near(tl_positive(x)[1], 3, 0);
    near(lane_abs(x)[0], 2, 0);
    near(lane_select(x > 0, lane_all(7), x)[0], -2, 0);
    near(lane_select(x > 0, lane_all(7), x)[1], 7, 0);
    near(lane_max(x, lane_all(0))[0], 0, 0);
    near(lane_min(x, lane_all(0))[1], 0, 0);
    near(lane_max(nan, lane_all(5))[0], 5, 0);
    near(lane_min(lane_all(5), nan)[0], 5, 0);
    near(lane_min(lane_all(5), nan)[1], 1, 0);
    near(lane_sqrt(lane_all(9))[1], 3, 0);
    assert_true(lane_any(x > 0));
    assert_true(lane_any(x < 0));
    assert_false(lane_any(x > 5));
    assert_true(lane_any(lane_every(true)) && !lane_any(lane_every(false)));
    assert_false(lane_any(lane_not(lane_finite(x))));
    assert_true(lane_any(lane_not(lane_finite(nan))));
    assert_true(lane_any(lane_not(lane_finite((real){1, INFINITY}))));
    near(lane_value(&x, 1), 3, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exp_is_that_of_the_library),
        cmocka_unit_test(log_and_pow_are_those_of_the_library),
        cmocka_unit_test(lanes_keep_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
