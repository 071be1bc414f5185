/* Extremes of the water, sample by sample. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/extremes.h"

static void test_before_the_first_sample(void **state)
{
    struct tl_extremes e;
    (void)state;
    tl_extremes_init(&e);
    for (int i = 0; i < TL_NEXTREME; i++)
        assert_true(isnan(e.of[i].lowest) && isnan(e.of[i].lowest_d) && isnan(e.of[i].highest) &&
                    isnan(e.of[i].highest_d));
}

static void test_the_lowest_and_the_highest_with_their_times(void **state)
{
    static const double tan[] = {0.5, 1.25, 0.25, 1.25, 0.75};
    struct tl_extremes e;
    (void)state;
    tl_extremes_init(&e);
    for (int i = 0; i < 5; i++) {
        const double water[TL_NWATER] = {
            [TL_TAN] = tan[i],    [TL_NO2] = 1 + i,       [TL_NO3] = 20 - i,
            [TL_O2] = 8 - tan[i], [TL_ALK] = 2 - 0.1 * i, [TL_HOCL] = 0.01 * i};
        tl_extremes_add(&e, 10 + i, water, 7.5 + 0.1 * i);
    }
    near(e.of[TL_EXTREME_TAN].highest, 1.25, 0);
    near(e.of[TL_EXTREME_TAN].highest_d, 11, 0); /* the first of equals */
    near(e.of[TL_EXTREME_TAN].lowest, 0.25, 0);
    near(e.of[TL_EXTREME_TAN].lowest_d, 12, 0);
    near(e.of[TL_EXTREME_NO2].highest, 5, 0);
    near(e.of[TL_EXTREME_NO2].lowest, 1, 0);
    near(e.of[TL_EXTREME_NO3].highest_d, 10, 0);
    near(e.of[TL_EXTREME_NO3].lowest, 16, 0);
    near(e.of[TL_EXTREME_O2].lowest, 6.75, 0);
    near(e.of[TL_EXTREME_O2].lowest_d, 11, 0);
    near(e.of[TL_EXTREME_PH].highest, 7.9, 1e-15);
    near(e.of[TL_EXTREME_ALK].lowest, 1.6 * 50.04, 1e-3); /* eq/m3 to mg/L as CaCO3 */
    near(e.of[TL_EXTREME_CHLORINE].highest, 0.04, 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_before_the_first_sample),
        cmocka_unit_test(test_the_lowest_and_the_highest_with_their_times),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
