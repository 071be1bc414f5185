/* The day that repeats itself against the long run: a run in one go, until its days are alike. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "runs.h"
#include "steady.h"
#include "towerloop/status.h"

#define TIGHT   1e-7
#define ALIKE   1e-6 /* largest relative change from one day to the next at the end of a long run */
#define LONGEST 4000.0
#define MONTHS  400.0
#define AS_GOOD 1e-3 /* relative, of every component */
#define SLACK   1e-4 /* relative, of a worst value: what two ways to run the same differ by */
#define CLOSE   0.1
#define ENDLESS                                                                                    \
    1e9 /* so much fits into the chamber that it never fills, as the steady day has it */

/* The reference loop, which never changes from day to day. */
static void daily_loop(struct tl_setup *s, double fish_kg)
{
    reference_loop(s, fish_kg);
    s->length_d = LONGEST;
    s->params.film_density = ENDLESS;
}

static double change(const struct run *r, const double *scale, const double *before)
{
    double most = 0;
    for (size_t i = 0; i < r->at->core; i++)
        if (i != r->at->sludge + 1) /* inert sludge gathers for ever */
            most = fmax(most, fabs(r->y[i] - before[i]) / (fabs(r->y[i]) + scale[i]));
    return most;
}

/* Runs until two days are alike; returns how many days that took. */
static size_t run_until_alike(struct run *r, const double *scale)
{
    double *before = malloc(r->at->core * sizeof *before);
    size_t days = 0;
    assert_non_null(before);
    do {
        memcpy(before, r->y, r->at->core * sizeof *before);
        assert_int_equal(tl_engine_advance(r->engine, (double)++days), TL_OK);
    } while (change(r, scale, before) > ALIKE && (double)days < LONGEST);
    assert_true((double)days < LONGEST);
    free(before);
    return days;
}

static void compare_with_long_run(struct tl_setup *s, const char *what)
{
    struct tl_steady steady;
    struct run r = start_run(s, TIGHT, NULL, 0);
    double *scale = malloc(r.at->size * sizeof *scale);
    double worst = 0;
    size_t where = 0;
    char name[128];

    assert_non_null(scale);
    tl_model_scales(r.model, scale);
    const size_t days = run_until_alike(&r, scale);
    assert_int_equal(tl_steady_find(s, NULL, &steady), TL_OK);
    assert_true(steady.converged);
    assert_int_equal(steady.core, r.at->core);
    for (size_t i = 0; i < steady.core; i++) {
        const double off = fabs(steady.state[i] - r.y[i]) / (fabs(r.y[i]) + scale[i]);
        assert_true(steady.state[i] >= 0);
        if (i != r.at->sludge + 1 && off > worst) {
            worst = off;
            where = i;
        }
    }
    tl_model_component_name(r.model, where, name, sizeof name);
    print_message("%s: %zu days accelerated, %zu in a row; furthest apart %.1e (%s)\n", what,
                  steady.days, days, worst, name);
    assert_true(worst < AS_GOOD);
    assert_true(3 * steady.days < days);
    tl_steady_free(&steady);
    free(scale);
    end_run(&r);
    free_loop(s);
}

static void test_same_as_the_long_run(void **state)
{
    struct tl_setup s;
    (void)state;
    daily_loop(&s, 20);
    compare_with_long_run(&s, "20 kg of fish");
    daily_loop(&s, 60);
    compare_with_long_run(&s, "60 kg of fish");
    daily_loop(&s, 80);
    compare_with_long_run(&s, "80 kg of fish, overloaded");
}

static void test_new_media_and_a_daily_swing(void **state)
{
    struct tl_setup s;
    (void)state;
    daily_loop(&s, 25);
    s.tower.biofilm = TL_BIOFILM_NEW;
    s.temperature.kind = TL_TEMPERATURE_SINES;
    s.temperature.mean_degC = 18;
    s.temperature.daily_swing_degC = 2;
    compare_with_long_run(&s, "25 kg of fish, new media, warm afternoons");
}

static void test_plain_days_come_to_the_same(void **state)
{
    struct tl_setup s;
    struct tl_steady fast, plain;
    const struct tl_steady_options on_foot = {.plain = true, .tolerance = ALIKE};
    (void)state;
    daily_loop(&s, 30);
    assert_int_equal(tl_steady_find(&s, NULL, &fast), TL_OK);
    assert_int_equal(tl_steady_find(&s, &on_foot, &plain), TL_OK);
    assert_true(plain.converged && fast.days < plain.days);
    near_rel(fast.state[TL_TAN], plain.state[TL_TAN], AS_GOOD);
    near_rel(fast.state[TL_NO3], plain.state[TL_NO3], AS_GOOD);
    tl_steady_free(&fast);
    tl_steady_free(&plain);
    free_loop(&s);
}

/* Many fish on little feed in cold water that is hardly changed: left alone, a mixture of days leads so
 * far away that no steady day is found in three times as many days. */
static void test_mixtures_stay_in_bounds(void **state)
{
    const struct tl_steady_options soon = {.most_days = 500};
    struct tl_setup s;
    struct tl_steady steady;
    (void)state;
    daily_loop(&s, 128);
    s.temperature.mean_degC = 5;
    s.tank.volume_m3 = 16.3;
    s.pump_flow_m3_d = 7;
    s.aerator_g_d = 440;
    s.tower.trays = 10;
    s.tower.media_depth_m = 0.0573;
    s.source.water[TL_ALK] = 1.69;
    s.starting = s.source;
    s.trickle_1_d = 0.001;
    s.feeding.ration.value = 0.00169;
    assert_int_equal(tl_steady_find(&s, &soon, &steady), TL_OK);
    assert_true(steady.converged);
    tl_steady_free(&steady);
    free_loop(&s);
}

/* Media on which next to nothing grows yet look as if they would stay so; a loop does not stay there. */
static void test_bare_media_are_no_steady_state(void **state)
{
    struct tl_setup s;
    struct tl_steady bare, mature;
    (void)state;
    daily_loop(&s, 25);
    assert_int_equal(tl_steady_find(&s, NULL, &mature), TL_OK);
    s.params.mature_aob = s.params.mature_nob = s.params.mature_het = 0;
    s.params.mature_trapped = s.params.mature_inert = 0;
    s.params.f_attach = 1e-12;
    assert_int_equal(tl_steady_find(&s, NULL, &bare), TL_OK);
    assert_true(bare.converged);
    near_rel(bare.state[TL_TAN], mature.state[TL_TAN], 0.01);
    tl_steady_free(&bare);
    tl_steady_free(&mature);
    free_loop(&s);
}

/* Days that run out are said, not hidden. */
static void test_too_few_days(void **state)
{
    struct tl_setup s;
    struct tl_steady steady;
    const struct tl_steady_options few = {.most_days = 5};
    (void)state;
    daily_loop(&s, 20);
    assert_int_equal(tl_steady_find(&s, &few, &steady), TL_OK);
    assert_false(steady.converged);
    assert_int_equal(steady.days, 5);
    assert_true(steady.change > 0);
    tl_steady_free(&steady);
    free_loop(&s);
}

/* --- drained ------------------------------------------------------------------------------------- */

/* The loop with its chamber drained every so many days. */
static void drain(struct tl_setup *s, double first_d, double every_d, double length_d)
{
    s->length_d = length_d;
    for (double at_d = first_d; at_d < length_d; at_d += every_d)
        add_event(s, (struct tl_event){.at_d = at_d, .kind = TL_EVENT_CLEAN_CHAMBER});
}

/* What a long run, drained all along, comes to in the end: the worst of three intervals
 * after MONTHS. */
static void judge_long_run(const struct tl_setup *loop, double every_d, double hour_d,
                           struct tl_assessment *a)
{
    struct tl_limits limits;
    struct tl_setup s;
    struct tl_model *m = NULL;
    const double begin_d = ceil(MONTHS / every_d) * every_d;
    tl_limits_default(&limits);
    assert_int_equal(tl_setup_copy(&s, loop), TL_OK);
    drain(&s, hour_d, every_d, begin_d);
    struct run r = whole_run(&s, 0, NULL, 0);
    tl_setup_free(&s);
    assert_int_equal(tl_setup_copy(&s, loop), TL_OK);
    drain(&s, hour_d, every_d, 3 * every_d);
    const struct tl_assess_options options = {.start_state = r.y};
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    assert_int_equal(tl_assess(m, &limits, &options, a), TL_OK);
    tl_model_free(m);
    tl_setup_free(&s);
    end_run(&r);
}

/* Nowhere better than the long run, drained at night or at noon, and not much worse. Total ammonia is a
 * mean of 30 days, and of other ones. */
static void check_safe_side(const struct tl_assessment *steady, const struct tl_assessment run[2],
                            const char *what)
{
    static const enum tl_limit_id judged[] = {TL_LIMIT_NH3, TL_LIMIT_NO2,    TL_LIMIT_NO3,
                                              TL_LIMIT_O2,  TL_LIMIT_PH_LOW, TL_LIMIT_PH_HIGH,
                                              TL_LIMIT_ALK, TL_LIMIT_CO2};
    for (size_t i = 0; i < sizeof judged / sizeof *judged; i++) {
        const struct tl_limit_verdict *s = &steady->verdict.limit[judged[i]];
        double worse[2];
        for (int noon = 0; noon < 2; noon++) {
            const double long_run = run[noon].verdict.limit[judged[i]].worst;
            worse[noon] = (s->below ? long_run - s->worst : s->worst - long_run) / long_run;
        }
        print_message("%s: %s %.6g, safer than the long run by %.2e\n", what, s->name, s->worst,
                      fmin(worse[0], worse[1]));
        assert_true(fmin(worse[0], worse[1]) > -SLACK);
        assert_true(fmin(worse[0], worse[1]) < CLOSE);
    }
}

static size_t steady_sludge(const struct tl_setup *s)
{
    struct run r = start_run(s, 0, NULL, 0);
    const size_t sludge = r.at->sludge;
    end_run(&r);
    return sludge;
}

static void compare_drained(struct tl_setup *s, const char *what, double *every_d)
{
    static struct tl_assessment steady_days, long_run[2];
    struct tl_steady steady;
    struct tl_limits limits;
    tl_limits_default(&limits);
    assert_int_equal(tl_steady_find(s, NULL, &steady), TL_OK);
    assert_true(steady.converged);
    assert_int_equal(tl_steady_assess(s, &limits, &steady, NULL, &steady_days), TL_OK);
    judge_long_run(s, steady.drain_every_d, 0, &long_run[0]);
    judge_long_run(s, steady.drain_every_d, 0.5, &long_run[1]);
    check_safe_side(&steady_days, long_run, what);
    *every_d = steady.drain_every_d;
    assert_true(steady.full_after_d > steady.drain_every_d);
    /* as full as just before a draining: what gathers in that time, a tenth of the chamber at most */
    const double room_g = s->params.film_density * s->chamber.volume_m3;
    const double a_day_g = room_g / steady.full_after_d;
    const double inert_g = steady.state[steady_sludge(s) + 1];
    near_rel(inert_g / a_day_g, steady.drain_every_d, 0.1);
    assert_true(steady.state[steady_sludge(s)] + inert_g < 1.01 * TL_STEADY_FILLED * room_g);
    tl_steady_free(&steady);
    free_loop(s);
}

static void test_never_better_than_the_long_run(void **state)
{
    struct tl_setup s;
    double every_d;
    (void)state;
    reference_loop(&s, 15);
    compare_drained(&s, "15 kg of fish", &every_d);
    near(every_d, TL_STEADY_DRAIN_D, 0);
    reference_loop(&s, 60);
    compare_drained(&s, "60 kg of fish", &every_d);
    assert_true(every_d > 1 && every_d < TL_STEADY_DRAIN_D);
    reference_loop(&s, 30);
    s.chamber.volume_m3 /= 4;
    compare_drained(&s, "30 kg of fish, a small chamber", &every_d);
    assert_true(every_d > 1 && every_d < TL_STEADY_DRAIN_D);
}

/* A chamber that is emptied by plan holds what gathers until then, and is judged so. */
static void test_emptied_by_plan(void **state)
{
    struct tl_setup s;
    struct tl_steady steady;
    struct tl_assessment a;
    struct tl_model *m = NULL;
    struct tl_limits limits;
    (void)state;
    tl_limits_default(&limits);
    reference_loop(&s, 30);
    s.emptying.every_d = 25;
    assert_int_equal(tl_steady_find(&s, NULL, &steady), TL_OK);
    assert_true(steady.converged);
    near(steady.drain_every_d, 25, 0);
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    const double *sludge = &steady.state[tl_model_layout(m)->sludge];
    const double room_g = s.params.film_density * s.chamber.volume_m3;
    near_rel(sludge[1], 25 * (room_g - sludge[0]) / steady.full_after_d, 0.02);
    assert_int_equal(tl_steady_assess(&s, &limits, &steady, NULL, &a), TL_OK);
    /* day 1 and every 25 days for half a year, none besides */
    near(a.end_d, 1 + 8 * 25, 1e-9);
    near_rel(a.ledger.alkalinity.line[0].amount,
             (s.trickle_1_d * s.tank.volume_m3 * a.end_d + 8 * s.chamber.volume_m3) *
                 s.source.water[TL_ALK],
             1e-6);
    tl_model_free(m);
    tl_steady_free(&steady);
    free_loop(&s);
}

static void test_days_that_differ_are_refused(void **state)
{
    struct tl_setup s;
    struct tl_steady steady;
    (void)state;

    daily_loop(&s, 20);
    assert_null(tl_steady_obstacle(&s));
    s.temperature.kind = TL_TEMPERATURE_SINES;
    s.temperature.daily_swing_degC = 2;
    assert_null(tl_steady_obstacle(&s));
    s.temperature.seasonal_swing_degC = 5;
    assert_string_equal(tl_steady_obstacle(&s), "its temperature follows the seasons");
    assert_int_equal(tl_steady_find(&s, NULL, &steady), TL_E_INPUT);
    tl_steady_free(&steady);
    s.temperature.kind = TL_TEMPERATURE_CONSTANT;
    assert_null(tl_steady_obstacle(&s));
    s.change_every_d = 7;
    s.change_amount = 0.1;
    assert_string_equal(tl_steady_obstacle(&s), "its water is changed at intervals");
    s.change_every_d = 0;
    s.feeding.grows = true;
    assert_string_equal(tl_steady_obstacle(&s), "its fish grow");
    free_loop(&s);

    daily_loop(&s, 20);
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_CLEAN_CHAMBER});
    assert_string_equal(tl_steady_obstacle(&s), "it has events");
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_same_as_the_long_run),
        cmocka_unit_test(test_new_media_and_a_daily_swing),
        cmocka_unit_test(test_plain_days_come_to_the_same),
        cmocka_unit_test(test_mixtures_stay_in_bounds),
        cmocka_unit_test(test_bare_media_are_no_steady_state),
        cmocka_unit_test(test_too_few_days),
        cmocka_unit_test(test_never_better_than_the_long_run),
        cmocka_unit_test(test_emptied_by_plan),
        cmocka_unit_test(test_days_that_differ_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
