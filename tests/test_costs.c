/* Amounts, bills and build sheets against figures worked out by hand, and against the ledger of a run. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "build_sheet.h"
#include "costs.h"
#include "near.h"
#include "towerloop/assess.h"
#include "towerloop/status.h"

static const char pond[] =
    "format: 1\n"
    "start: 2027-05-01 06:00\n"
    "length: 10 d\n"
    "temperature: 20 degC\n"
    "tank: {volume: 10 m3, surface: 10 m2, wetted walls: 28 m2}\n"
    "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
    "pump: {flow: 4 m3/h, count: 4, fouling: 1 %/month}\n"
    "tower: {trays: 10, media depth: 10 cm, plan area: 0.4 m2, biofilm: mature}\n"
    "aerator: {oxygen transfer: 8 g/h}\n"
    "source water: {alkalinity: 100 mg/L as CaCO3, pH: 7.8}\n"
    "water change: {trickle: 2 %/d, every: 2 d, amount: 15 %}\n"
    "fish: [{name: koi, count: 20, mean mass: 500 g}]\n"
    "feeding: {ration: 100 g/d, protein: 40 %, uneaten: 10 %, meals: [\"08:00\", \"18:00\"]}\n"
    "building: {bulk density: 800 kg/m3, water held: 25 %, tray gap: 5 cm, tray mass: 3 kg,\n"
    "           lowest tray: 40 cm}\n"
    "costs: {currency: EUR, pump: 50 W, aerator: 20 W, electricity: 0.30 per kWh,\n"
    "        water: 4 per m3, feed: 5 per kg, baking soda: 3 per kg, salt: 0.5 per kg,\n"
    "        media: 0.4 per L, tray: 12, other: 80}\n";
static const char happenings[] =
    "events:\n"
    "  - {at: day 2, pump: off, for: 12 h}\n"
    "  - {at: day 4, aerator: off}\n"
    "  - {at: day 6, aerator: on}\n"
    "  - {at: day 7, flow: 2 m3/h}\n"
    "  - {at: day 3, add fish: {name: koi, count: 10, mean mass: 800 g}}\n"
    "  - {at: day 5, remove fish: {name: koi, count: 15}}\n"
    "  - {at: day 6, add fish: {name: carp, count: 2, mean mass: 1 kg}}\n"
    "  - {at: day 8, change water: 30 %}\n"
    "  - {at: day 8 12:00, clean: settling chamber}\n"
    "  - {at: day 9, dose: {baking soda: 400 g, salt: 2 kg}}\n";

static const struct tl_given nothing = {.feed_g = 0};

static void read_pond(const char *more, struct tl_scenario *s)
{
    char text[4096];
    struct tl_diag d;
    tl_diag_init(&d);
    snprintf(text, sizeof text, "%s%s", pond, more);
    int status = tl_scenario_read_text("pond.yaml", text, strlen(text), NULL, NULL, s, &d);
    for (size_t i = 0; i < d.count; i++)
        print_error("%s\n", d.message[i].what);
    assert_int_equal(status, TL_OK);
    tl_diag_free(&d);
}

static void test_amounts_by_hand(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a;
    (void)state;
    read_pond(happenings, &s);
    const struct tl_given given = {.feed_g = 1000,
                                   .dose_g = {[TL_DOSE_BAKING_SODA] = 400, [TL_DOSE_SALT] = 2000}};
    assert_int_equal(tl_amounts_of(&s, &given, &a), TL_OK);
    near(a.feed_kg, 1, 1e-12);
    /* 2 %/d for 10 d, 15 % after 2, 4, 6 and 8 d, 30 %; the chamber once */
    near(a.water_m3, 10 * (0.2 + 4 * 0.15 + 0.3) + 0.8, 1e-12);
    near(a.pump_kwh, 9.5 * 24 * 0.050, 1e-12);  /* half a day off; a lower flow is on */
    near(a.aerator_kwh, 8 * 24 * 0.020, 1e-12); /* two days off */
    near(a.baking_soda_kg, 0.4, 1e-12);
    near(a.salt_kg, 2, 1e-12);
    near(a.fish_kg, 20 * 0.5 + 10 * 0.8, 1e-12); /* on day 3; 9 kg leave, 2 kg come */
    near(tl_amounts_kwh(&a), 9.5 * 24 * 0.050 + 8 * 24 * 0.020, 1e-12);
    tl_scenario_free(&s);
}

/* What `for:` puts back is what was before, be that on or off. */
static void test_hours_on(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a;
    (void)state;
    read_pond("events:\n"
              "  - {at: day 1, aerator: off}\n"
              "  - {at: day 2, aerator: 5 g/h, for: 6 h}\n"
              "  - {at: day 4, pump: off}\n"
              "  - {at: day 5, pump: on, for: 1 d}\n"
              "  - {at: day 10, pump: on, for: 2 d}\n",
              &s);
    assert_int_equal(tl_amounts_of(&s, &nothing, &a), TL_OK);
    near(a.aerator_kwh, (0.75 + 0.25) * 24 * 0.020, 1e-12);  /* it starts at 06:00 */
    near(a.pump_kwh, (3.75 + 1 + 0.25) * 24 * 0.050, 1e-12); /* and ends at 06:00 */
    tl_scenario_free(&s);
}

/* Each of several pumps takes its share; fouling changes nothing. */
static void test_pumps_share_the_power(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a;
    (void)state;
    read_pond("events:\n"
              "  - {at: day 1, pumps running: 1, for: 2 d}\n"
              "  - {at: day 2, pump: off, for: 12 h}\n"
              "  - {at: day 5, pumps running: 0}\n"
              "  - {at: day 6, pumps running: 4}\n"
              "  - {at: day 9, pumps running: 3}\n",
              &s);
    assert_int_equal(tl_amounts_of(&s, &nothing, &a), TL_OK);
    /* from day 0.25 to 10.25; four of them where not said otherwise */
    near(a.pump_kwh, (0.75 + 0.25 * 1.5 + 2 + 3 + 0.75 * 1.25) * 24 * 0.050, 1e-12);
    tl_scenario_free(&s);
}

static void test_bill_by_hand(void **state)
{
    struct tl_scenario s;
    struct tl_bill bill;
    const struct tl_amounts a = {.feed_kg = 1,
                                 .water_m3 = 5,
                                 .baking_soda_kg = 0.4,
                                 .salt_kg = 2,
                                 .pump_kwh = 12,
                                 .aerator_kwh = NAN,
                                 .fish_kg = 20};
    const double run = 1 * 5 + 5 * 4 + 0.4 * 3 + 2 * 0.5 + 12 * 0.30;
    (void)state;
    read_pond("", &s);
    const struct tl_amounts month = {.feed_kg = 4, .water_m3 = 10, .pump_kwh = 36, .fish_kg = 16};
    const double a_month = 4 * 5 + 10 * 4 + 36 * 0.30;
    tl_bill_of(&s, &a, &month, true, &bill);
    near(bill.build, 400 * 0.4 + 10 * 12 + 80, 1e-12);
    near(bill.month, a_month, 1e-12);
    near(bill.whole_run, 360 + run, 1e-12);
    near(bill.month_per_kg, a_month / 16, 1e-12);
    tl_bill_of(&s, &a, &month, false, &bill);
    assert_true(isnan(bill.month_per_kg)); /* not carried within limits */
    tl_scenario_free(&s);
}

static void test_without_prices_nothing_is_counted(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a;
    struct tl_bill bill;
    (void)state;
    read_pond("", &s);
    s.costs = (struct tl_costs){"", NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    assert_int_equal(tl_amounts_of(&s, &nothing, &a), TL_OK);
    assert_true(isnan(tl_amounts_kwh(&a)));
    tl_bill_of(&s, &a, &a, true, &bill);
    assert_true(isnan(bill.build) && isnan(bill.month) && isnan(bill.whole_run) &&
                isnan(bill.month_per_kg));
    s.costs.tray_each = 12;
    tl_bill_of(&s, &a, &a, true, &bill);
    near(bill.build, 120, 1e-12);
    near(bill.whole_run, 120, 1e-12);
    assert_true(isnan(bill.month));
    tl_scenario_free(&s);
}

/* --- a month ---------------------------------------------------------------------------------- */

static void amounts_of_month(const char *more, struct tl_given given, struct tl_amounts *a)
{
    struct tl_scenario s;
    read_pond(more, &s);
    assert_int_equal(tl_amounts_of_month(&s, &given, a), TL_OK);
    tl_scenario_free(&s);
}

/* A chamber of 800 L emptied on days 3, 6 and 9 of ten, and so on through a month. */
static void test_an_emptied_chamber_takes_water(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a, emptied;
    const struct tl_given none = {.feed_g = 0};
    (void)state;
    read_pond(happenings, &s);
    assert_int_equal(tl_amounts_of(&s, &none, &a), TL_OK);
    s.setup.emptying.every_d = 3;
    assert_int_equal(tl_amounts_of(&s, &none, &emptied), TL_OK);
    near(emptied.water_m3 - a.water_m3, 3 * 0.8, 1e-12);
    assert_int_equal(tl_amounts_of_month(&s, &none, &emptied), TL_OK);
    s.setup.emptying.every_d = 0;
    assert_int_equal(tl_amounts_of_month(&s, &none, &a), TL_OK);
    near(emptied.water_m3 - a.water_m3, (3 + 20 / 3.0) * 0.8, 1e-12);
    tl_scenario_free(&s);
}

/* Ten days drawn out to thirty: what events do counts once. */
static void test_a_short_run_is_drawn_out(void **state)
{
    struct tl_amounts a;
    const struct tl_given given = {.feed_g = 1000,
                                   .dose_g = {[TL_DOSE_BAKING_SODA] = 400, [TL_DOSE_SALT] = 2000},
                                   .held_g = 300};
    (void)state;
    amounts_of_month(happenings, given, &a);
    near(a.feed_kg, 3, 1e-12);
    /* 2 %/d; 15 % four times, then ten more times in 20 days; 30 % and the chamber once */
    near(a.water_m3, 10 * (0.6 + 14 * 0.15 + 0.3) + 0.8, 1e-12);
    near(a.pump_kwh, 29.5 * 24 * 0.050, 1e-12);   /* half a day off, once */
    near(a.aerator_kwh, 28 * 24 * 0.020, 1e-12);  /* two days off, once */
    near(a.baking_soda_kg, 0.4 + 2 * 0.3, 1e-12); /* the plan goes on */
    near(a.salt_kg, 2, 1e-12);
    near(a.fish_kg, 20 * 0.5 + 10 * 0.8, 1e-12);
}

/* What is off at the end stays off; a `for:` that goes on beyond it does not. */
static void test_it_goes_on_as_it_ends(void **state)
{
    struct tl_amounts a;
    (void)state;
    amounts_of_month("events:\n"
                     "  - {at: day 5 06:00, aerator: off}\n"
                     "  - {at: day 9 06:00, pump: off, for: 5 d}\n",
                     nothing, &a);
    near(a.aerator_kwh, 5 * 24 * 0.020, 1e-12);
    near(a.pump_kwh, 29 * 24 * 0.050, 1e-12);
}

static void check_month(const char *length, const char *more, double from_d, double to_d)
{
    struct tl_scenario s;
    struct tl_given_watch w;
    char text[4096];
    struct tl_diag d;
    tl_diag_init(&d);
    snprintf(text, sizeof text, "%s%s", pond, more);
    char *days = strstr(text, "length: 10 d");
    assert_non_null(days);
    memcpy(days, length, strlen(length));
    assert_int_equal(tl_scenario_read_text("pond.yaml", text, strlen(text), NULL, NULL, &s, &d),
                     TL_OK);
    assert_int_equal(tl_given_watch(&s.setup, &w), TL_OK);
    near(w.from_d, from_d, 1e-12);
    near(w.to_d, to_d, 1e-12);
    tl_diag_free(&d);
    tl_scenario_free(&s);
}

static void test_which_month(void **state)
{
    (void)state;
    check_month("length: 10 d", "", 0.25, 10.25);
    check_month("length: 90 d", "", 60.25, 90.25);
    check_month("length: 90 d", "events:\n  - {at: day 70, remove fish: {name: koi, count: 20}}\n",
                40, 70);
    check_month("length: 90 d",
                "events:\n"
                "  - {at: day 70, remove fish: {name: koi, count: 20}}\n"
                "  - {at: day 80, add fish: {name: carp, count: 2, mean mass: 1 kg}}\n",
                80, 90.25);
    check_month("length: 90 d",
                "events:\n"
                "  - {at: day 70, remove fish: {name: koi, count: 20}}\n"
                "  - {at: day 70, add fish: {name: carp, count: 2, mean mass: 1 kg}}\n",
                60.25, 90.25); /* never empty */
}

/* --- a run ------------------------------------------------------------------------------------ */

static double ledger_in(const struct tl_ledger_account *a, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (a->line[i].side == TL_LEDGER_IN && strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    fail_msg("no %s", key);
    return NAN;
}

static void assess(const char *more, double length_d, struct tl_scenario *s,
                   struct tl_assessment *got)
{
    struct tl_model *m = NULL;
    read_pond(more, s);
    s->setup.length_d = length_d;
    assert_int_equal(tl_model_build(&s->setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &s->limits, NULL, got), TL_OK);
    tl_model_free(m);
}

/* The run books what came in; the source water's alkalinity tells how much of it that was. */
static void test_amounts_of_a_run(void **state)
{
    struct tl_scenario s;
    struct tl_amounts a;
    static struct tl_assessment got;
    (void)state;
    assess(happenings, 10, &s, &got);
    near(got.given.whole.feed_g, ledger_in(&got.ledger.nitrogen, "feed") / (0.40 * 0.16), 1e-9);
    assert_int_equal(tl_amounts_of(&s, &got.given.whole, &a), TL_OK);
    near(a.feed_kg, 0.1 * 10, 1e-6); /* 20 meals of 50 g */
    near(a.baking_soda_kg, 0.4, 1e-12);
    near(a.salt_kg, 2, 1e-12);
    near(a.water_m3, ledger_in(&got.ledger.alkalinity, "source_water") / (100 / 50.04), 1e-6);
    near(got.given.month.feed_g, got.given.whole.feed_g, 1e-12);
    tl_scenario_free(&s);
}

/* It is from day 10.25 to 40.25: all of it with twice the feed, none with the salt. */
static void test_the_last_month_of_a_run(void **state)
{
    struct tl_scenario s;
    static struct tl_assessment got;
    (void)state;
    assess("events:\n"
           "  - {at: day 5, dose: {salt: 1 kg}}\n"
           "  - {at: day 7, ration: 200 g/d}\n",
           40, &s, &got);
    near(got.given.whole.feed_g, 7 * 100 + 33 * 200, 1e-9);
    near(got.given.month.feed_g, 30 * 200, 1e-9);
    near(got.given.whole.dose_g[TL_DOSE_SALT], 1000, 1e-12);
    near(got.given.month.dose_g[TL_DOSE_SALT], 0, 1e-12);
    tl_scenario_free(&s);
}

static void test_build_sheet_by_hand(void **state)
{
    struct tl_scenario s;
    struct tl_build_sheet b;
    (void)state;
    read_pond("", &s);
    tl_build_sheet_of(&s, &b);
    near(b.media_m3, 0.4, 1e-12);
    near(b.media_kg, 320, 1e-12);
    near(b.wet_kg, 320 + 30 + 100, 1e-12);
    near(b.flooded_kg, 320 + 30 + 180, 1e-12); /* void 45 % */
    near(b.height_m, 1.5, 1e-12);
    near(b.lift_m, 1.9, 1e-12);
    near(b.footprint_m2, 0.4, 1e-12);
    near(b.load_kg_m2, 450 / 0.4, 1e-12);
    near(b.slenderness, 1.5 / sqrt(0.4), 1e-12);
    s.setup.tower.submerged = true; /* full of water, in the gaps of 0.5 m in all too */
    tl_build_sheet_of(&s, &b);
    near(b.wet_kg, 320 + 30 + 180 + 200, 1e-12);
    near(b.flooded_kg, b.wet_kg, 0);
    near(b.load_kg_m2, b.wet_kg / 0.4, 1e-12);
    tl_scenario_free(&s);
}

static void test_feed_in_the_cold(void **state)
{
    struct tl_scenario s;
    struct tl_assessment got;
    (void)state;
    assess("", 2, &s, &got);
    near(got.given.cold_feed_g, 0, 0);
    tl_scenario_free(&s);
    struct tl_model *m = NULL;
    read_pond("", &s);
    s.setup.length_d = 2;
    s.setup.temperature.mean_degC = 4;
    assert_int_equal(tl_model_build(&s.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &s.limits, NULL, &got), TL_OK);
    tl_model_free(m);
    near(got.given.cold_feed_g, got.given.whole.feed_g, 1e-9);
    assert_true(got.given.cold_feed_g > 10);
    near(got.given.cold_feed_degC, 4, 0);
    assert_true(got.given.cold_feed_d < 1.3);
    tl_scenario_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_amounts_by_hand),
        cmocka_unit_test(test_hours_on),
        cmocka_unit_test(test_pumps_share_the_power),
        cmocka_unit_test(test_bill_by_hand),
        cmocka_unit_test(test_without_prices_nothing_is_counted),
        cmocka_unit_test(test_a_short_run_is_drawn_out),
        cmocka_unit_test(test_an_emptied_chamber_takes_water),
        cmocka_unit_test(test_it_goes_on_as_it_ends),
        cmocka_unit_test(test_which_month),
        cmocka_unit_test(test_feed_in_the_cold),
        cmocka_unit_test(test_amounts_of_a_run),
        cmocka_unit_test(test_the_last_month_of_a_run),
        cmocka_unit_test(test_build_sheet_by_hand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
