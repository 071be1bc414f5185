/* Failures on random loops: more fish and warmer water never last longer, and the number of threads
 * changes nothing.
 *
 * usage: test_endure_property LOOPS: how many of them. Loop i is that of seed TL_SEED + i (environment; a
 * fixed one when it is not set). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "random_loops.h"
#include "towerloop/endure.h"
#include "towerloop/status.h"

#define DEFAULT_SEED 20270601
#define ALMOST_MIN   0.05 /* what the solver's tolerance may move a moment */

static struct random_loops random_loops;
static int loops = 20;

/* The scenario of a seed, and its worst hour; false where there is no fish to lose or no whole day. */
static bool make(uint64_t seed, struct tl_scenario *s, struct tl_worst_hour *when)
{
    const struct wish wish = {.shortest_d = 1.5, .longest_d = 5};
    char why[TL_FAULT_SIZE];

    assert_int_equal(random_loop(&random_loops, seed, wish, s), TL_OK);
    const int status = tl_endure_find(s, NAN, NULL, when, why);
    if (status)
        tl_scenario_free(s);
    return status == TL_OK;
}

static double minutes(const struct tl_scenario *s, const struct tl_worst_hour *when, double fish,
                      double warmer)
{
    const struct tl_endure_case c = {
        .fails = TL_FAILURE_POWER, .outage_d = 0.5, .fish = fish, .warmer_degC = warmer};
    struct tl_endured e;
    assert_int_equal(tl_endure_run(s, when, &c, NULL, &e), TL_OK);
    assert_string_equal(e.fault, "");
    const double danger = e.danger_min;
    tl_endured_free(&e);
    return danger;
}

/* A ration by temperature may be less in warmer water: such a loop can last longer there. */
static bool fed_by_temperature(const struct tl_setup *s)
{
    bool table = s->feeding.ration.kind == TL_RATION_TABLE;
    for (size_t i = 0; i < s->events; i++)
        table |= s->event[i].kind == TL_EVENT_RATION && s->event[i].ration.kind == TL_RATION_TABLE;
    return table;
}

static void never_longer(void **state)
{
    (void)state;
    int tried = 0, broken = 0, sooner = 0;
    for (int i = 0; i < loops; i++) {
        const uint64_t seed = random_loops.first_seed + (uint64_t)i;
        struct tl_scenario s;
        struct tl_worst_hour when;
        if (!make(seed, &s, &when))
            continue;
        const double as_it_is = minutes(&s, &when, 1, 0);
        const double more_fish = minutes(&s, &when, 1.5, 0);
        const double warmer = fed_by_temperature(&s.setup) ? 0 : minutes(&s, &when, 1, 3);
        tried++;
        sooner += more_fish < as_it_is;
        if (more_fish > as_it_is + ALMOST_MIN || warmer > as_it_is + ALMOST_MIN) {
            print_error("seed %llu: %.2f min; half as many fish again %.2f, 3 degC more %.2f\n",
                        (unsigned long long)seed, as_it_is, more_fish, warmer);
            broken++;
        }
        tl_scenario_free(&s);
    }
    print_message("%d loops, sooner in danger with more fish in %d\n", tried, sooner);
    assert_true(tried >= loops / 3 && sooner >= tried / 8);
    assert_int_equal(broken, 0);
}

static void study(const struct tl_scenario *s, unsigned threads, struct tl_endure_study *out)
{
    struct tl_endure_question q;
    char why[TL_FAULT_SIZE];
    const struct tl_endure_options o = {.threads = threads};
    tl_endure_question_default(&q);
    assert_int_equal(tl_endure_plan(s, &q, NULL, out, why), TL_OK);
    assert_int_equal(tl_endure_study_run(out, &o), TL_OK);
}

static void threads_change_nothing(void **state)
{
    (void)state;
    int tried = 0;
    for (int i = 0; tried < 3; i++) {
        struct tl_scenario s;
        struct tl_worst_hour when;
        if (!make(random_loops.first_seed + (uint64_t)i, &s, &when))
            continue;
        if (!(when.flow_m3_d > 0 || when.aerator_g_d > 0)) {
            tl_scenario_free(&s);
            continue;
        }
        struct tl_endure_study one, four;
        study(&s, 1, &one);
        study(&s, 4, &four);
        assert_memory_equal(&one.need_g_d, &four.need_g_d, sizeof one.need_g_d);
        for (int k = 0; k < TL_ENDURE_NEED; k++) {
            const struct tl_endured *a = &one.result[k], *b = &four.result[k];
            assert_true(one.done[k] && four.done[k]);
            assert_memory_equal(&a->o2_before, &b->o2_before,
                                offsetof(struct tl_endured, curve_o2) -
                                    offsetof(struct tl_endured, o2_before));
            assert_int_equal(a->curve_points, b->curve_points);
            assert_true(a->curve_points > 0);
            assert_memory_equal(a->curve_o2, b->curve_o2, a->curve_points * sizeof *a->curve_o2);
        }
        tl_endure_study_free(&one);
        tl_endure_study_free(&four);
        tl_scenario_free(&s);
        tried++;
    }
}

static int set_up(void **state)
{
    (void)state;
    return random_loops_begin(&random_loops, DEFAULT_SEED);
}

static int tear_down(void **state)
{
    (void)state;
    return random_loops_end(&random_loops);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(never_longer),
        cmocka_unit_test(threads_change_nothing),
    };
    if (argc != 2)
        return 2;
    loops = atoi(argv[1]);
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
