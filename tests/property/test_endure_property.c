/* Failures on random loops: no hour is worse than the one that is chosen, more fish and warmer water
 * never last longer, and the number of threads changes nothing.
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

/* The scenario of a seed, and its worst hour; false where there is nothing to fail, no fish to lose or no
 * whole day. */
static bool make(uint64_t seed, struct tl_scenario *s, struct tl_worst_hour *when)
{
    struct tl_endure_question q;
    struct tl_endure_starts starts;
    const struct wish wish = {.shortest_d = 1.5, .longest_d = 5};
    char why[TL_FAULT_SIZE];

    assert_int_equal(random_loop(&random_loops, seed, wish, s), TL_OK);
    tl_endure_question_default(&q);
    const int status = tl_endure_find(s, &q, NULL, &starts, why);
    *when = starts.start[starts.worst].when;
    if (status)
        tl_scenario_free(s);
    return status == TL_OK;
}

/* Minutes to danger, and the lowest oxygen unless `lowest_o2` is NULL. */
static double minutes(const struct tl_scenario *s, const struct tl_worst_hour *when, double fish,
                      double warmer, double *lowest_o2)
{
    const struct tl_endure_case c = {
        .fails = TL_FAILURE_POWER, .outage_d = 0.5, .fish = fish, .warmer_degC = warmer};
    struct tl_endured e;
    assert_int_equal(tl_endure_run(s, when, &c, NULL, &e), TL_OK);
    assert_string_equal(e.fault, "");
    const double danger = e.danger_min;
    if (lowest_o2)
        *lowest_o2 = e.lowest_o2;
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
        const double as_it_is = minutes(&s, &when, 1, 0, NULL);
        const double more_fish = minutes(&s, &when, 1.5, 0, NULL);
        const double warmer = fed_by_temperature(&s.setup) ? 0 : minutes(&s, &when, 1, 3, NULL);
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

/* The scenario has changed a flow before the end of that hour, or in the day before it. */
static bool is_disturbed(const struct tl_setup *s, double at_d)
{
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        const bool flows = e->kind == TL_EVENT_PUMP_FLOW || e->kind == TL_EVENT_PUMP_ON ||
                           e->kind == TL_EVENT_PUMPS_RUNNING || e->kind == TL_EVENT_TO_TOWER ||
                           e->kind == TL_EVENT_AERATOR || e->kind == TL_EVENT_AERATOR_ON;
        if (flows && e->at_d < at_d + 1.01 / 24 && e->at_d + e->for_d > at_d - 1 - 1.01 / 24)
            return true;
    }
    return false;
}

static void no_hour_is_worse(void **state)
{
    (void)state;
    int tried = 0, worse = 0, moved = 0;
    for (int i = 0; i < loops / 2; i++) {
        const uint64_t seed = random_loops.first_seed + (uint64_t)i;
        struct tl_scenario s;
        struct tl_worst_hour when;
        struct tl_endure_starts one;
        struct tl_endure_question q;
        char why[TL_FAULT_SIZE];
        double lowest_o2 = INFINITY, lowest_at_d = NAN;
        if (!make(seed, &s, &when))
            continue;
        double chosen_o2, other_o2;
        const double chosen = minutes(&s, &when, 1, 0, &chosen_o2);
        for (int hour = 0; hour < 24; hour++) {
            tl_endure_question_default(&q);
            q.day = floor(when.at_d);
            q.clock_d = hour / 24.0;
            if (tl_endure_find(&s, &q, NULL, &one, why) != TL_OK)
                continue; /* without fish, or nothing runs */
            if (one.start[0].when.o2 < lowest_o2) {
                lowest_o2 = one.start[0].when.o2;
                lowest_at_d = one.start[0].when.at_d;
            }
            if (is_disturbed(&s.setup, one.start[0].when.at_d))
                continue; /* an outage of the scenario's own is not to be doubled */
            const double other = minutes(&s, &one.start[0].when, 1, 0, &other_o2);
            const bool is_worse =
                other < chosen || (isinf(other) && isinf(chosen) && other_o2 < chosen_o2);
            if (is_worse)
                print_error("seed %llu: %.2f min, %.3f mg/L from day %.4f; %.2f, %.3f from %.4f\n",
                            (unsigned long long)seed, chosen, chosen_o2, when.at_d, other, other_o2,
                            one.start[0].when.at_d);
            worse += is_worse;
        }
        moved += fabs(lowest_at_d - when.at_d) > 1e-6;
        tried++;
        tl_scenario_free(&s);
    }
    print_message("%d loops, %d with another hour than that of lowest oxygen\n", tried, moved);
    assert_true(tried >= loops / 6 && moved > 0);
    assert_int_equal(worse, 0);
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
        cmocka_unit_test(no_hour_is_worse),
        cmocka_unit_test(never_longer),
        cmocka_unit_test(threads_change_nothing),
    };
    if (argc != 2)
        return 2;
    loops = atoi(argv[1]);
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
