/* Sizing: what limits have to spare, the search against trying every value, and that the answer depends
 * on nothing but the question. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "posix.h"
#include "size.h"
#include "steady.h"
#include "towerloop/status.h"

/* Water that starts in balance with the air, so that the first day is like the others. */
#define SMALL                                                                                      \
    "format: 1\ntitle: Small loop\nstart: 2027-06-01\nlength: 6 d\ntemperature: 20 degC\n"         \
    "tank: {volume: 6 m3, surface: 6 m2, wetted walls: 18 m2}\n"                                   \
    "settling chamber: {volume: 500 L, surface: 0.8 m2, wetted walls: 3 m2}\n"                     \
    "pump: {flow: 3 m3/h, to tower: 100 %}\n"                                                      \
    "tower: {trays: 8, media depth: 3 in, plan area: 0.2 m2, biofilm: mature}\n"                   \
    "aerator: {oxygen transfer: 6 g/h}\n"                                                          \
    "source water: {alkalinity: 80 mg/L as CaCO3, pH: 8.1,  nitrate: 2 mg/L as N,\n"               \
    "               chloride: 20 mg/L}\n"                                                          \
    "water change: {trickle: 20 %/d}\n"                                                            \
    "fish: [{name: koi, count: 12, mean mass: 500 g}]\n"                                           \
    "feeding: {ration: 0.4 %/d, protein: 38 %, meals: [\"08:00\", \"12:00\", \"17:00\"]}\n"
#define MARGIN 0.1

struct bed {
    char *folder;
    char file[256], store[256];
    struct tl_scenario scenario;
    struct tl_size_bench bench;
};

static int set_up(void **state)
{
    struct bed *b = calloc(1, sizeof *b);
    struct tl_diag diag;
    assert_non_null(b);
    gsl_set_error_handler_off();
    b->folder = tl_posix_new_folder("size-test");
    assert_non_null(b->folder);
    snprintf(b->file, sizeof b->file, "%s/small.yaml", b->folder);
    snprintf(b->store, sizeof b->store, "%s/trials.json", b->folder);
    FILE *f = fopen(b->file, "w");
    assert_non_null(f);
    fputs(SMALL, f);
    fclose(f);
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(b->file, NULL, &b->scenario, &diag), TL_OK);
    tl_diag_free(&diag);
    b->bench = (struct tl_size_bench){.file = b->file};
    assert_int_equal(tl_size_bench_open(&b->bench), TL_OK);
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bed *b = *state;
    tl_size_bench_close(&b->bench);
    tl_scenario_free(&b->scenario);
    tl_posix_remove_tree(b->folder);
    free(b->folder);
    free(b);
    return 0;
}

static struct tl_size_quantity quantity(const struct bed *b, const char *path, bool most)
{
    struct tl_size_quantity q;
    char why[256], expected[256];
    assert_int_equal(tl_size_quantity(&b->scenario, path, most, TL_METRIC, &q, why, expected, 256),
                     TL_OK);
    return q;
}

static void solve(struct bed *b, const struct tl_size_quantity *q, double margin, unsigned threads,
                  struct tl_size_result *r)
{
    const struct tl_size_task task = {
        .bench = &b->bench, .quantity = q, .margin = margin, .threads = threads};
    assert_int_equal(tl_size_solve(&task, r), TL_OK);
}

/* --- the number at a path ------------------------------------------------------------------------- */

static void test_numbers_are_found(void **state)
{
    struct bed *b = *state;
    struct tl_size_quantity q = quantity(b, "tower.trays", false);
    assert_true(q.whole);
    near(q.given, 8, 0);
    near(q.low, 1, 0);
    q = quantity(b, "fish[0].count", true);
    assert_true(q.whole && q.most);
    near(q.given, 12, 0);
    q = quantity(b, "pump.flow", false);
    assert_false(q.whole);
    near(q.given, 3, 1e-12);
    assert_string_equal(q.unit, "m3/h");
    q = quantity(b, "water change.trickle", false);
    near(q.given, 20, 1e-12);
    assert_string_equal(q.unit, "%/d");
    q = quantity(b, "feeding.ration", true);
    near(q.given, 0.4, 1e-12);
    q = quantity(b, "tank.volume", false);
    near(q.given, 6, 1e-12);
}

static void test_what_is_no_number_is_refused(void **state)
{
    const struct bed *b = *state;
    static const char *const path[] = {"tower.tray",
                                       "tower",
                                       "title",
                                       "fish[1].count",
                                       "fish[].count",
                                       "fish[0]",
                                       "fish[0].name",
                                       "",
                                       "limits.oxygen.caution",
                                       "events[0].at",
                                       "feeding.meals",
                                       "fish[x].count",
                                       "events[0].flow",
                                       "tower.media",
                                       "fish[0][0].count"};
    struct tl_size_quantity q;
    char why[256], expected[256];
    for (size_t i = 0; i < sizeof path / sizeof *path; i++) {
        *why = *expected = '\0';
        assert_int_equal(
            tl_size_quantity(&b->scenario, path[i], false, TL_METRIC, &q, why, expected, 256),
            TL_E_INPUT);
        assert_true(*why && *expected);
    }
    tl_size_quantity(&b->scenario, "tower.tray", false, TL_METRIC, &q, why, expected, 256);
    assert_string_equal(expected, "perhaps tower.trays");
    tl_size_quantity(&b->scenario, "events[0].dose.salt.to chloride", false, TL_METRIC, &q, why,
                     expected, 256);
    assert_string_equal(why, "what an event does cannot be varied here: it happens once in a run");
}

/* What is written for --set says the same number to the reader, whatever the unit. */
static void test_settings_read_back(void **state)
{
    struct bed *b = *state;
    static const char *const path[] = {"pump.flow", "water change.trickle", "tank.surface",
                                       "tower.media depth", "fish[0].mean mass"};
    for (int units = TL_METRIC; units <= TL_US; units++)
        for (size_t i = 0; i < sizeof path / sizeof *path; i++) {
            struct tl_size_quantity q, back;
            struct tl_scenario s;
            struct tl_diag diag;
            char text[TL_SIZE_SETTING], why[256], expected[256];
            const char *set[] = {text};
            assert_int_equal(tl_size_quantity(&b->scenario, path[i], false,
                                              (enum tl_unit_system)units, &q, why, expected, 256),
                             TL_OK);
            tl_size_setting(&q, 1.25 * q.given, text);
            tl_diag_init(&diag);
            assert_int_equal(tl_size_read(&b->bench, set, 1, &s, &diag), TL_OK);
            assert_int_equal(tl_size_quantity(&s, path[i], false, (enum tl_unit_system)units, &back,
                                              why, expected, 256),
                             TL_OK);
            near_rel(back.given, 1.25 * q.given, 1e-12);
            tl_scenario_free(&s);
            tl_diag_free(&diag);
        }
}

/* --- what is to spare ----------------------------------------------------------------------------- */

static struct tl_verdict verdict(void)
{
    struct tl_verdict v = {.grade = TL_WITHIN};
    for (int i = 0; i < TL_NLIMIT; i++)
        v.limit[i] = (struct tl_limit_verdict){.caution = NAN, .danger = NAN, .worst = NAN};
    return v;
}

static void set_limit(struct tl_verdict *v, int i, bool below, double caution, double danger,
                      double worst)
{
    v->limit[i].judged = true;
    v->limit[i].below = below;
    v->limit[i].caution = caution;
    v->limit[i].danger = danger;
    v->limit[i].worst = worst;
}

static void test_what_is_to_spare(void **state)
{
    struct tl_verdict v = verdict();
    struct tl_limits limits;
    struct tl_size_trial t;
    (void)state;
    tl_limits_default(&limits);

    tl_size_judge(&v, &limits, false, &t);
    assert_true(isnan(t.least) && t.tightest == -1 && t.next == -1);
    assert_false(tl_size_holds(&t, 0)); /* nothing was judged */

    set_limit(&v, TL_LIMIT_NH3, false, 0.02, 0.05, 0.015);
    set_limit(&v, TL_LIMIT_O2, true, 6, 3, 6.6);
    set_limit(&v, TL_LIMIT_TAN_ACUTE, false, NAN, 4, 1);
    set_limit(&v, TL_LIMIT_PH_LOW, true, 7, 6, 7.3);
    set_limit(&v, TL_LIMIT_PH_HIGH, false, 8.5, 9, 8.2);
    tl_size_judge(&v, &limits, false, &t);
    near(t.spare[TL_LIMIT_NH3], 0.25, 1e-12);
    near(t.spare[TL_LIMIT_O2], 0.1, 1e-12);
    near(t.spare[TL_LIMIT_TAN_ACUTE], 0.75, 1e-12);
    near(t.spare[TL_LIMIT_PH_LOW], 0.3 / 1.5, 1e-9); /* of the band from 7 to 8.5 */
    near(t.spare[TL_LIMIT_PH_HIGH], 0.3 / 1.5, 1e-9);
    assert_true(isnan(t.spare[TL_LIMIT_NO3]));
    assert_int_equal(t.tightest, TL_LIMIT_O2);
    assert_int_equal(t.next, TL_LIMIT_PH_LOW);
    near(t.least, 0.1, 1e-12);
    assert_true(tl_size_holds(&t, 0.0999) && !tl_size_holds(&t, 0.1001));

    v.limit[TL_LIMIT_O2].worst = 5.4;
    tl_size_judge(&v, &limits, false, &t);
    near(t.least, -0.1, 1e-12);
    assert_false(tl_size_holds(&t, 0));

    v.limit[TL_LIMIT_O2].worst = 7;
    tl_size_judge(&v, &limits, true, &t);
    assert_true(t.least <= -1 && !tl_size_holds(&t, 0)); /* fish lost */
}

static void test_ice_and_a_weak_heater_fail(void **state)
{
    struct tl_verdict v = verdict();
    struct tl_limits limits;
    struct tl_heat_summary h = {.lowest_degC = 4};
    struct tl_size_trial t;
    (void)state;
    tl_limits_default(&limits);
    tl_size_judge(&v, &limits, false, &t);
    tl_size_judge_heat(&h, true, 10, &t);
    assert_int_equal(t.tightest, -1); /* still nobody to judge for */

    set_limit(&v, TL_LIMIT_O2, true, 6, 3, 9);
    tl_size_judge(&v, &limits, false, &t);
    tl_size_judge_heat(&h, true, 10, &t);
    assert_int_equal(t.tightest, TL_LIMIT_O2);
    near(t.spare[TL_SIZE_ICE], 1, 0);
    assert_true(tl_size_holds(&t, 0.1));

    set_limit(&v, TL_LIMIT_COLD, true, 3, 1.5, 3.2);
    set_limit(&v, TL_LIMIT_DAY_CHANGE, false, 5, 10, 6);
    tl_size_judge(&v, &limits, false, &t); /* also where the temperature is given */
    tl_size_judge_heat(&h, true, 10, &t);
    near(t.spare[TL_LIMIT_COLD], 0.2, 1e-9); /* of 1 degC */
    near(t.spare[TL_LIMIT_DAY_CHANGE], -0.2, 1e-9);
    assert_int_equal(t.tightest, TL_LIMIT_DAY_CHANGE);
    v.limit[TL_LIMIT_COLD].worst = 12;
    v.limit[TL_LIMIT_DAY_CHANGE].worst = 2;
    tl_size_judge(&v, &limits, false, &t);

    h.lowest_degC = 0.05;
    tl_size_judge_heat(&h, true, 10, &t);
    assert_int_equal(t.tightest, TL_SIZE_ICE);
    assert_true(tl_size_holds(&t, 0.04) && !tl_size_holds(&t, 0.06));

    h.lowest_degC = 0;
    h.ice_h = 12;
    tl_size_judge_heat(&h, true, 10, &t);
    assert_int_equal(t.tightest, TL_SIZE_ICE);
    assert_false(tl_size_holds(&t, 0));

    h = (struct tl_heat_summary){.lowest_degC = 4, .heater_short_h = 3};
    tl_size_judge(&v, &limits, false, &t);
    tl_size_judge_heat(&h, false, 10, &t);
    assert_true(isnan(t.spare[TL_SIZE_HEATER_SHORT])); /* there is no heater */
    tl_size_judge_heat(&h, true, 10, &t);
    assert_int_equal(t.tightest, TL_SIZE_HEATER_SHORT);
    assert_false(tl_size_holds(&t, 0));
}

static void test_media_without_oxygen_or_open_voids_fail(void **state)
{
    struct tl_verdict v = verdict();
    struct tl_limits limits;
    struct tl_bed_result bed = {.submerged = true};
    struct tl_solids_result solids = {.most_voids = 0.1};
    struct tl_size_trial t;
    (void)state;
    tl_limits_default(&limits);
    set_limit(&v, TL_LIMIT_O2, true, 6, 3, 9);
    tl_size_judge(&v, &limits, false, &t);
    tl_size_judge_media(&bed, &solids, &t);
    assert_true(tl_size_holds(&t, 0.1));
    assert_int_equal(t.tightest, TL_LIMIT_O2);

    bed.chamber.longest_h = 1.5 * TL_WITHOUT_H;
    tl_size_judge_media(&bed, &solids, &t);
    assert_int_equal(t.tightest, TL_SIZE_SULFIDE);
    near(t.least, -0.5, 1e-12);

    bed.chamber.longest_h = 0;
    solids.most_voids = TL_VOIDS_PONDING;
    tl_size_judge_media(&bed, &solids, &t);
    assert_int_equal(t.tightest, TL_SIZE_PONDED);
    assert_false(tl_size_holds(&t, 0.01));
}

/* --- the search ----------------------------------------------------------------------------------- */

static bool holds_with(struct bed *b, const struct tl_size_quantity *q, double value)
{
    struct tl_size_trial t;
    char text[TL_SIZE_SETTING];
    const char *set[] = {text};
    tl_size_setting(q, value, text);
    assert_int_equal(tl_size_try(&b->bench, set, 1, &t), TL_OK);
    return tl_size_holds(&t, MARGIN);
}

/* By trying them one by one. */
static void test_most_fish_is_that_of_counting(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const struct tl_size_quantity q = quantity(b, "fish[0].count", true);
    double most = 0;
    for (double n = 1; n <= 40; n++)
        if (holds_with(b, &q, n))
            most = n;
    assert_true(most > 4 && most < 40);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    near(r.point[r.answer].value, most, 0);
    near(r.point[r.neighbour].value, most + 1, 0);
    assert_true(r.point[r.answer].holds && !r.point[r.neighbour].holds && r.one_turn);
    tl_size_result_free(&r);
}

/* Nor one in which none stay; one that was never to have any is judged as if it had. */
static void test_a_tank_without_fish_is_no_answer(void **state)
{
    struct bed *b = *state;
    const char *const empty[][2] = {
        {"fish[0].count=0", "length=3 d"},
        {"length=3 d", "events=[{at: day 0, remove fish: {name: koi, count: 12}}]"},
        {"fish=[]", "events=[{at: day 1, add fish: {name: koi, count: 0, mean mass: 1 kg}}]"},
        {"fish=[]", "length=3 d"}};
    for (size_t i = 0; i < 4; i++) {
        struct tl_size_trial t;
        assert_int_equal(tl_size_try(&b->bench, empty[i], 2, &t), TL_OK);
        assert_int_equal(t.end, TL_TRIAL_RAN);
        assert_true((isnan(t.least) && t.tightest == -1) == (i < 3));
        assert_true(i == 3 || !tl_size_holds(&t, -INFINITY));
    }
}

static void test_least_trays_is_that_of_counting(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const char *const more_fish[] = {"fish[0].count=20"};
    b->bench.set = more_fish;
    b->bench.sets = 1;
    const struct tl_size_quantity q = quantity(b, "tower.trays", false);
    double least = 1;
    while (least < 100 && !holds_with(b, &q, least))
        least++;
    assert_true(least > 4);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    near(r.point[r.answer].value, least, 0);
    near(r.point[r.neighbour].value, least - 1, 0);
    tl_size_result_free(&r);
}

/* Of a quantity without steps: three digits, run itself, and the next three digits fail. */
static void check_continuous(struct bed *b, const char *path, bool most)
{
    struct tl_size_result r;
    const struct tl_size_quantity q = quantity(b, path, most);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    const double answer = r.point[r.answer].value;
    const double beside = r.point[r.neighbour].value;
    const double digit = pow(10, floor(log10(answer)) - 2);
    char text[64], three[64];
    snprintf(text, sizeof text, "%.9g", answer);
    snprintf(three, sizeof three, "%.3g", answer);
    assert_true(strtod(text, NULL) == strtod(three, NULL));
    near_rel(fabs(answer - beside), digit, 1e-6);
    assert_true(most ? beside > answer : beside < answer);
    assert_true(holds_with(b, &q, answer));
    assert_false(holds_with(b, &q, beside));
    for (size_t i = 1; i < r.points; i++)
        assert_true(r.point[i - 1].value < r.point[i].value);
    tl_size_result_free(&r);
}

static void test_continuous_quantities(void **state)
{
    check_continuous(*state, "feeding.ration", true);
    check_continuous(*state, "fish[0].mean mass", true);
    const char *const more_fish[] = {"fish[0].count=20"};
    struct bed *b = *state;
    b->bench.set = more_fish;
    b->bench.sets = 1;
    check_continuous(*state, "tower.plan area", false);
    check_continuous(*state, "tower.media depth", false);
}

static void same_results(const struct tl_size_result *a, const struct tl_size_result *c)
{
    assert_int_equal(a->points, c->points);
    assert_int_equal(a->answer, c->answer);
    for (size_t i = 0; i < a->points; i++) {
        assert_true(a->point[i].trial.least == c->point[i].trial.least ||
                    (isnan(a->point[i].trial.least) && isnan(c->point[i].trial.least)));
        assert_memory_equal(a->point[i].trial.worst, c->point[i].trial.worst,
                            sizeof c->point[i].trial.worst);
        assert_memory_equal(a->point[i].trial.outside, c->point[i].trial.outside,
                            sizeof c->point[i].trial.outside);
    }
}

static void test_threads_change_nothing(void **state)
{
    static const char *const path[] = {"fish[0].count", "feeding.ration"};
    struct bed *b = *state;
    for (size_t i = 0; i < 2; i++) {
        struct tl_size_result one, four;
        const struct tl_size_quantity q = quantity(b, path[i], true);
        solve(b, &q, MARGIN, 1, &one);
        tl_size_bench_close(&b->bench);
        assert_int_equal(tl_size_bench_open(&b->bench), TL_OK); /* forget what was run */
        solve(b, &q, MARGIN, 4, &four);
        same_results(&one, &four);
        tl_size_result_free(&one);
        tl_size_result_free(&four);
    }
}

static void test_goes_on_from_what_is_kept(void **state)
{
    struct bed *b = *state;
    struct tl_size_result first, again;
    const struct tl_size_quantity q = quantity(b, "fish[0].count", true);
    b->bench.store = b->store;
    tl_size_bench_close(&b->bench);
    assert_int_equal(tl_size_bench_open(&b->bench), TL_OK);
    solve(b, &q, MARGIN, 2, &first);
    assert_int_equal(b->bench.runs, first.points);
    tl_size_bench_close(&b->bench);
    assert_int_equal(tl_size_bench_open(&b->bench), TL_OK);
    solve(b, &q, MARGIN, 2, &again);
    assert_int_equal(b->bench.runs, 0);
    assert_int_equal(b->bench.trials, first.points);
    same_results(&first, &again);
    b->bench.rtol = 1e-6; /* another way to run is another trial */
    tl_size_result_free(&again);
    solve(b, &q, MARGIN, 2, &again);
    assert_true(b->bench.runs > 0);
    tl_size_result_free(&first);
    tl_size_result_free(&again);
}

/* No number of trays keeps nitrate that the source water brings in. */
static void test_nothing_will_do(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const char *const nitrate[] = {"source water.nitrate=60 mg/L as N"};
    b->bench.set = nitrate;
    b->bench.sets = 1;
    const struct tl_size_quantity q = quantity(b, "tower.trays", false);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_NEVER);
    assert_true(r.points >= 7);
    for (size_t i = 0; i < r.points; i++) {
        assert_false(r.point[i].holds);
        assert_true(r.point[i].trial.spare[TL_LIMIT_NO3] < MARGIN);
        assert_true(r.point[r.best].trial.least >= r.point[i].trial.least);
    }
    tl_size_result_free(&r);
}

/* Without any aerator it holds: there is nothing less to be had. */
static void test_no_end(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const struct tl_size_quantity q = quantity(b, "aerator.oxygen transfer", false);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_AT_END);
    near(r.point[r.answer].value, 0, 0); /* the surface and the tower do */
    tl_size_result_free(&r);
}

/* Unfed fish get no meals, and without meals there is no ration but none: no value is beside that one. */
static void test_none_is_all_there_can_be(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const char *const unfed[] = {"feeding.ration=0 %/d", "feeding.meals=[]"};
    b->bench.set = unfed;
    b->bench.sets = 2;
    struct tl_size_quantity q = quantity(b, "feeding.ration", true);
    q.given = 0;
    solve(b, &q, 0, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_AT_END);
    near(r.point[r.answer].value, 0, 0);
    tl_size_result_free(&r);
}

/* Few fish leave the pH too high, many too much ammonia: what holds is narrower than the first grid, and
 * lies between values that all fail. */
static void test_a_window_between_failures(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    const char *const hard[] = {"source water.alkalinity=100 mg/L as CaCO3", "source water.pH=8.2"};
    b->bench.set = hard;
    b->bench.sets = 2;
    const struct tl_size_quantity q = quantity(b, "fish[0].count", true);
    double least = 0, most = 0;
    for (double n = 40; n >= 1; n--)
        if (holds_with(b, &q, n)) {
            most = fmax(most, n);
            least = n;
        }
    assert_true(least > 12 && most < 24); /* the grid has 12 and 24 */
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    near(r.point[r.answer].value, most, 0);
    assert_false(r.one_turn);
    tl_size_result_free(&r);
}

/* Little shade does nothing: what holds is far from where a doubled start would end. */
static void test_a_share_is_looked_for_up_to_its_end(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    struct tl_size_quantity q;
    struct tl_scenario green;
    struct tl_diag diag;
    char why[256], expected[256];
    const char *const sunny[] = {"sun={hours: 12 h}", "tank.green water=10 mg/L as COD"};
    b->bench.set = sunny;
    b->bench.sets = 2;
    tl_diag_init(&diag);
    assert_int_equal(tl_size_read(&b->bench, NULL, 0, &green, &diag), TL_OK);
    assert_int_equal(tl_size_quantity(&green, "sun.tank shaded", false, TL_METRIC, &q, why,
                                      expected, sizeof why),
                     TL_OK);
    solve(b, &q, MARGIN, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    assert_true(r.point[r.answer].value > 50 && r.point[r.answer].value < 99);
    assert_false(r.point[r.neighbour].holds);
    near(r.point[0].value, 0, 0);
    near(r.point[r.points - 1].value, 100, 0);
    tl_size_result_free(&r);

    /* as the first of two quantities, too */
    struct tl_size_front front;
    const struct tl_size_quantity fish = quantity(b, "fish[0].count", true);
    const struct tl_size_task task = {.bench = &b->bench, .quantity = &fish, .margin = MARGIN};
    assert_int_equal(tl_size_solve_front(&task, &q, &front), TL_OK);
    near(front.first[0], 0, 0);
    near(front.first[front.n - 1], 100, 0);
    tl_size_front_free(&front);
    tl_scenario_free(&green);
    tl_diag_free(&diag);
}

/* A chamber as large as the tank cannot be: the search stays on this side of it. */
static void test_what_cannot_be_does_not_hold(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    struct tl_size_trial t;
    const char *const set[] = {"settling chamber.volume=7 m3"};
    assert_int_equal(tl_size_try(&b->bench, set, 1, &t), TL_OK);
    assert_int_equal(t.end, TL_TRIAL_REFUSED);
    assert_true(*t.why && !tl_size_holds(&t, 0));
    const struct tl_size_quantity q = quantity(b, "settling chamber.volume", true);
    solve(b, &q, 0, 0, &r);
    assert_true(r.outcome != TL_SIZE_NEVER);
    assert_true(r.point[r.answer].holds);
    assert_int_equal(r.point[r.answer].trial.end, TL_TRIAL_RAN);
    tl_size_result_free(&r);
}

static void test_two_quantities(void **state)
{
    struct bed *b = *state;
    struct tl_size_front one, two;
    const struct tl_size_quantity trays = quantity(b, "tower.trays", false);
    const struct tl_size_quantity fish = quantity(b, "fish[0].count", true);
    struct tl_size_task task = {
        .bench = &b->bench, .quantity = &fish, .margin = MARGIN, .threads = 1};
    assert_int_equal(tl_size_solve_front(&task, &trays, &one), TL_OK);
    task.threads = 3;
    assert_int_equal(tl_size_solve_front(&task, &trays, &two), TL_OK);
    assert_int_equal(one.n, TL_SIZE_FRONT);
    assert_int_equal(b->bench.of, TL_SIZE_FRONT);
    assert_int_equal(b->bench.done, 2 * TL_SIZE_FRONT); /* twice */
    for (size_t i = 0; i < one.n; i++) {
        same_results(&one.second[i], &two.second[i]);
        assert_int_equal(one.second[i].outcome, TL_SIZE_FOUND);
        const struct tl_size_result *r = &one.second[i];
        assert_true(r->point[r->answer].holds && !r->point[r->neighbour].holds);
        assert_true(i == 0 || one.first[i] > one.first[i - 1]);
    }
    /* another number of trays is another loop */
    assert_true(one.second[0].point[one.second[0].answer].trial.least !=
                one.second[3].point[one.second[3].answer].trial.least);
    near(one.first[3], 8, 0);
    tl_size_front_free(&one);
    tl_size_front_free(&two);
}

/* A trial knows that an equation was used where nobody has measured, and keeps that. */
static void test_ranges_are_noted_and_kept(void **state)
{
    struct bed *b = *state;
    struct tl_size_trial first, again;
    const char *const trickle[] = {"pump.flow=0.2 m3/h"}; /* 1 m/h on 0.2 m2 */
    b->bench.store = b->store;
    assert_int_equal(tl_size_try(&b->bench, NULL, 0, &first), TL_OK);
    assert_false(tl_size_outside(&first));
    assert_int_equal(tl_size_try(&b->bench, trickle, 1, &first), TL_OK);
    assert_true(tl_size_outside(&first));
    near(first.outside[TL_RANGE_LOAD], 1, 1e-9);
    assert_true(isnan(first.outside[TL_RANGE_FISH_TEMPERATURE]));
    tl_size_bench_close(&b->bench);
    assert_int_equal(tl_size_bench_open(&b->bench), TL_OK);
    assert_int_equal(tl_size_try(&b->bench, trickle, 1, &again), TL_OK);
    assert_int_equal(b->bench.runs, 0);
    near(again.outside[TL_RANGE_LOAD], 1, 1e-9);
    assert_true(isnan(again.outside[TL_RANGE_FISH_TEMPERATURE]));
}

/* What the water does not depend on is nothing to be sized. */
static void test_idle_keys_are_refused(void **state)
{
    struct bed *b = *state;
    static const char *const path[] = {"length",
                                       "report every",
                                       "costs.pump",
                                       "costs.tray",
                                       "building.tray mass",
                                       "building.tray gap",
                                       "building.lowest tray",
                                       "pump.count",
                                       "pump.pipe.length",
                                       "temperature.mean"};
    struct tl_size_quantity q;
    char why[256], expected[256];
    for (size_t i = 0; i < sizeof path / sizeof *path; i++)
        assert_int_equal(
            tl_size_quantity(&b->scenario, path[i], false, TL_METRIC, &q, why, expected, 256),
            TL_E_INPUT);
    assert_string_equal(expected, "the key temperature");
    /* a log of meals takes the place of the ration */
    double *const meal = calloc(1, sizeof *meal);
    assert_non_null(meal);
    b->scenario.setup.feeding.log = (struct tl_table){.x = meal, .y = meal, .n = 1};
    assert_int_equal(
        tl_size_quantity(&b->scenario, "feeding.ration", true, TL_METRIC, &q, why, expected, 256),
        TL_E_INPUT);
    b->scenario.setup.feeding.log = (struct tl_table){NULL, NULL, 0};
    free(meal);
    assert_int_equal(
        tl_size_quantity(&b->scenario, "feeding.ration", true, TL_METRIC, &q, why, expected, 256),
        TL_OK);
    /* with a curve the height counts */
    struct tl_scenario *s = &b->scenario;
    static double head[] = {0, 3}, flow[] = {90, 0};
    s->setup.pump.curve = (struct tl_table){head, flow, 2};
    assert_int_equal(
        tl_size_quantity(s, "building.tray gap", false, TL_METRIC, &q, why, expected, 256), TL_OK);
    assert_int_equal(tl_size_quantity(s, "pump.count", false, TL_METRIC, &q, why, expected, 256),
                     TL_OK);
    s->setup.pump.curve = (struct tl_table){NULL, NULL, 0};
}

static void test_steady_day(void **state)
{
    struct bed *b = *state;
    struct tl_size_trial run, steady;
    struct tl_size_result r;
    assert_null(tl_steady_obstacle(&b->scenario.setup));
    assert_int_equal(tl_size_try(&b->bench, NULL, 0, &run), TL_OK);
    b->bench.steady = true;
    assert_int_equal(tl_size_try(&b->bench, NULL, 0, &steady), TL_OK);
    assert_int_equal(run.steady_days, 0);
    assert_true(steady.steady_days > 10);
    assert_true(isnan(run.drain_every_d));
    near(steady.drain_every_d, TL_STEADY_DRAIN_D, 0);
    assert_true(steady.full_after_d > TL_STEADY_DRAIN_D);
    assert_true(steady.worst[TL_LIMIT_NO3] >
                run.worst[TL_LIMIT_NO3]); /* it takes weeks to gather */
    const struct tl_size_quantity q = quantity(b, "fish[0].count", true);
    solve(b, &q, 0.05, 0, &r);
    assert_int_equal(r.outcome, TL_SIZE_FOUND);
    tl_size_result_free(&r);
}

static void test_interrupted(void **state)
{
    struct bed *b = *state;
    struct tl_size_result r;
    volatile int stop = 1;
    const struct tl_size_quantity q = quantity(b, "fish[0].count", true);
    const struct tl_size_task task = {.bench = &b->bench, .quantity = &q, .margin = MARGIN};
    b->bench.interrupted = &stop;
    assert_int_equal(tl_size_solve(&task, &r), TL_E_INTERRUPTED);
    tl_size_result_free(&r);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_numbers_are_found),
        TEST(test_what_is_no_number_is_refused),
        TEST(test_settings_read_back),
        cmocka_unit_test(test_what_is_to_spare),
        cmocka_unit_test(test_ice_and_a_weak_heater_fail),
        cmocka_unit_test(test_media_without_oxygen_or_open_voids_fail),
        TEST(test_most_fish_is_that_of_counting),
        TEST(test_a_tank_without_fish_is_no_answer),
        TEST(test_least_trays_is_that_of_counting),
        TEST(test_continuous_quantities),
        TEST(test_threads_change_nothing),
        TEST(test_goes_on_from_what_is_kept),
        TEST(test_nothing_will_do),
        TEST(test_no_end),
        TEST(test_none_is_all_there_can_be),
        TEST(test_a_window_between_failures),
        TEST(test_a_share_is_looked_for_up_to_its_end),
        TEST(test_what_cannot_be_does_not_hold),
        TEST(test_two_quantities),
        TEST(test_ranges_are_noted_and_kept),
        TEST(test_idle_keys_are_refused),
        TEST(test_steady_day),
        TEST(test_interrupted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
