/* summary.json and the text for the terminal, from an outcome made by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "near.h"
#include "page.h"
#include "text.h"
#include "towerloop/run_end.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

/* Everything an outcome points to. */
struct bench {
    struct tl_scenario scenario;
    struct tl_fish fish;
    struct tl_event event;
    struct tl_verdict verdict;
    struct tl_ranges ranges;
    struct tl_extremes extremes;
    struct tl_given_watch given;
    struct tl_ledger ledger;
    struct tl_engine_stats stats;
    struct tl_advice_text advice[5];
    const char *warning[1];
    struct tl_heat_summary heat;
    struct tl_outcome outcome;
};

static char title[] = "Holding tank before the spring delivery";

static void fill_account(struct tl_ledger_account *a, const char *name, const char *unit)
{
    static const struct tl_ledger_line line[] = {
        {TL_LEDGER_IN, "feed", "feed", 1234},
        {TL_LEDGER_OUT, "water", "out with water", 600.125},
        {TL_LEDGER_OUT, "retained_by_fish", "retained by fish, by difference", -12.5},
        {TL_LEDGER_STORED, "water", "in water", 33},
        {TL_LEDGER_NOTE, "oxidised_tower", "oxidised in the tower", 700},
    };
    *a = (struct tl_ledger_account){
        .name = name, .unit = unit, .stored = 33, .residual_rel = 1.0 / 3e9, .worst_part = "water"};
    a->lines = sizeof line / sizeof *line;
    memcpy(a->line, line, sizeof line);
}

static void fill(struct bench *b)
{
    memset(b, 0, sizeof *b);
    struct tl_scenario *s = &b->scenario;
    tl_setup_default(&s->setup);
    tl_limits_default(&s->limits);
    s->title = title;
    s->start = (struct tl_date){2027, 5, 1, 6 * 3600};
    s->setup.start_d = 0.25;
    s->setup.length_d = 60;
    strcpy(b->fish.name, "koi");
    b->fish.count = 80;
    b->fish.mean_mass_g = 500;
    s->setup.fish = &b->fish;
    s->setup.fish_groups = 1;
    s->limits.ready_tan = 1;
    s->limits.ready_no2 = 0.5;

    static const char *const name[] = {
#define NAME(id, name_, unit) name_,
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    for (int i = 0; i < TL_NLIMIT; i++)
        b->verdict.limit[i] = (struct tl_limit_verdict){.name = name[i],
                                                        .unit = "mg/L",
                                                        .judged = true,
                                                        .caution = 0.02,
                                                        .danger = 0.05,
                                                        .worst = 0.0123456,
                                                        .worst_d = 12.5,
                                                        .first_breach_d = NAN};
    b->verdict.limit[TL_LIMIT_TAN_CHRONIC].danger = NAN;
    b->verdict.limit[TL_LIMIT_COLD].below = true;
    b->verdict.filter_ready_d = 33.25;
    tl_ranges_init(&b->ranges, &s->setup, true);
    tl_extremes_init(&b->extremes);
    b->extremes.of[TL_EXTREME_TAN] = (struct tl_extreme){0.1, 3.5, 1.098, 12.5};
    b->given = (struct tl_given_watch){.start_d = 0.25, .from_d = 30.25, .to_d = 60.25};
    b->given.whole = (struct tl_given){.feed_g = 6000, .dose_g = {[TL_DOSE_SALT] = 500}};
    b->given.month = (struct tl_given){.feed_g = 3100, .held_g = 12.5};
    fill_account(&b->ledger.nitrogen, "nitrogen", "gN");
    fill_account(&b->ledger.oxygen, "oxygen", "g");
    fill_account(&b->ledger.alkalinity, "alkalinity", "eq");
    fill_account(&b->ledger.carbon, "carbon", "mol");
    fill_account(&b->ledger.charge, "charge", "eq");
    b->stats.steps = 1000;
    for (int i = 0; i < 5; i++)
        b->advice[i] = (struct tl_advice_text){
            "run the pump at twice the flow",
            "the highest un-ionised ammonia falls from 0.081 to 0.034 mg/L as N", 12.5, NAN};
    b->warning[0] = "nothing \"much\"";
    b->outcome = (struct tl_outcome){.scenario = s,
                                     .verdict = &b->verdict,
                                     .ranges = &b->ranges,
                                     .extremes = &b->extremes,
                                     .given = &b->given,
                                     .ledger = &b->ledger,
                                     .stats = &b->stats,
                                     .advice = b->advice,
                                     .advices = 1,
                                     .warning = b->warning,
                                     .warnings = 1,
                                     .fish_lost_d = NAN,
                                     .end_d = 60.25};
}

static void done(struct bench *b)
{
    b->scenario.setup.fish = NULL;
    b->scenario.setup.fish_groups = 0;
    b->scenario.setup.event = NULL;
    b->scenario.setup.events = 0;
    b->scenario.setup.feeding.meal_s = NULL;
    tl_setup_free(&b->scenario.setup);
}

/* As bad as it gets: every limit broken, fish lost, all ranges left. */
static void fill_worst(struct bench *b)
{
    fill(b);
    struct tl_setup *u = &b->scenario.setup;
    for (int i = 0; i < TL_NLIMIT; i++) {
        struct tl_limit_verdict *v = &b->verdict.limit[i];
        v->grade = i % 2 ? TL_DANGER : TL_CAUTION;
        v->hours_caution = 12345.6;
        v->hours_danger = 1234.5;
        v->first_breach_d = 999.9;
        v->worst_d = 1234.5;
        v->worst = 1234.56;
    }
    b->verdict.grade = TL_DANGER;
    b->verdict.filter_ready_d = NAN;
    b->verdict.low_from_d = 0.25;
    b->verdict.film = (struct tl_film_work){
        .asked = true, .came_in_g = 123456, .oxidised_g = 12345, .nitrite_oxidised_g = 1e-5};
    for (int i = 0; i < TL_NRANGE; i++) {
        b->ranges.note[i].outside = true;
        b->ranges.note[i].value = 123.456;
        b->ranges.note[i].first_d = 3;
    }
    b->heat = (struct tl_heat_summary){.highest_degC = 39.87,
                                       .lowest_d = 1234.5,
                                       .highest_d = 1111.5,
                                       .air_lowest_degC = -39.9,
                                       .air_highest_degC = 49.9,
                                       .evaporated_m3 = 1234.5,
                                       .most_evaporated_m3_d = 12.34,
                                       .most_evaporated_d = 1100,
                                       .top_up_m3 = 1234.5,
                                       .frost_h = 12345.6,
                                       .frost_d = 1,
                                       .ice_h = 1234.5,
                                       .fish_ice_h = 1234.5,
                                       .ice_d = 1000.5,
                                       .most_ice_kg = 12345.6,
                                       .most_ice_d = 1010,
                                       .frozen_d = 1005,
                                       .tray_ice_h = 1234.5,
                                       .heater_short_h = 1234.5};
    for (int i = 0; i < TL_NHEAT_FLOW; i++)
        b->heat.flow_j[i] = i % 2 ? -1.2345e12 : 2.3456e12;
    u->heater = (struct tl_heater){.power_w = 2000, .keep_degC = 18};
    b->scenario.costs.electricity_per_kwh = 0.3;
    b->outcome.heat = &b->heat;
    b->outcome.fish_lost_d = 1234.5;
    b->outcome.advices = 5;
    u->tower.biofilm = TL_BIOFILM_NEW;
    u->tower.trays = 16;
    u->tower.media_depth_m = 0.0762;
    u->pump_flow_m3_d = 109;
    u->aerator_g_d = 300;
    b->event = (struct tl_event){.at_d = 3, .kind = TL_EVENT_DOSE, .value = 500};
    u->event = &b->event;
    u->events = 1;
}

/* --- summary.json ---------------------------------------------------------------------------- */

static json_t *written(const struct tl_outcome *o)
{
    char path[] = "/tmp/tl_summary_XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    assert_int_equal(tl_summary_write(o, path), TL_OK);
    json_error_t error;
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
    remove(path);
    assert_non_null(root);
    return root;
}

static double real(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static const char *text(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_string(value));
    return json_string_value(value);
}

static void test_summary(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    json_t *root = written(&b.outcome);

    static const char *const order[] = {
        "format", "version",          "build",  "scenario", "verdict",
        "limits", "filter_ready_day", "ledger", "advice",   "parameters"};
    void *at = json_object_iter(root);
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
        assert_string_equal(json_object_iter_key(at), order[i]);
        at = json_object_iter_next(root, at);
    }
    assert_int_equal(json_integer_value(json_object_get(root, "format")), 1);
    assert_string_equal(text(root, "scenario"), title);
    assert_string_equal(text(root, "verdict"), "within limits");
    const json_t *build = json_object_get(root, "build");
    static const char *const build_key[] = {"commit", "compiler", "gsl", "dispatch"};
    for (int i = 0; i < 4; i++)
        assert_true(strlen(text(build, build_key[i])) > 0);
    near(real(root, "filter_ready_day"), 33.25, 0);

    const json_t *limits = json_object_get(root, "limits");
    assert_int_equal(json_array_size(limits), TL_NLIMIT);
    const json_t *nh3 = json_array_get(limits, TL_LIMIT_NH3);
    assert_string_equal(text(nh3, "name"), "un-ionised ammonia");
    near(real(nh3, "worst"), 0.0123456, 0); /* 17 digits: the very double */
    assert_string_equal(text(nh3, "worst_time"), "2027-05-13T12:00:00");
    assert_true(json_is_null(json_object_get(nh3, "first_breach")));
    near(real(nh3, "hours_caution"), 0, 0);
    assert_string_equal(text(nh3, "verdict"), "within limits");
    assert_true(
        json_is_null(json_object_get(json_array_get(limits, TL_LIMIT_TAN_CHRONIC), "danger")));

    const json_t *nitrogen = json_object_get(json_object_get(root, "ledger"), "nitrogen");
    near(real(json_object_get(nitrogen, "in"), "feed"), 1234, 0);
    near(real(json_object_get(nitrogen, "out"), "retained_by_fish"), -12.5, 0);
    near(real(nitrogen, "stored"), 33, 0);
    near(real(nitrogen, "residual_rel"), 1.0 / 3e9, 0);
    assert_non_null(json_object_get(json_object_get(root, "ledger"), "alkalinity"));

    const json_t *tan = json_array_get(json_object_get(root, "extremes"), TL_EXTREME_TAN);
    assert_string_equal(text(tan, "name"), "total ammonia");
    near(real(tan, "highest"), 1.098, 0);
    assert_string_equal(text(tan, "highest_time"), "2027-05-13T12:00:00");
    near(real(tan, "lowest"), 0.1, 0);
    assert_string_equal(text(tan, "lowest_time"), "2027-05-04T12:00:00");
    assert_true(json_is_null(json_object_get(
        json_array_get(json_object_get(root, "extremes"), TL_EXTREME_NO2), "highest")));
    const json_t *month = json_object_get(root, "last_month");
    assert_string_equal(text(month, "from"), "2027-05-31T06:00:00");
    assert_string_equal(text(month, "to"), "2027-06-30T06:00:00");
    near(real(month, "feed_g"), 3100, 0);
    near(real(month, "baking_soda_by_plan_g"), 12.5, 0);
    near(real(json_object_get(root, "given"), "feed_g"), 6000, 0);
    near(real(json_object_get(root, "given"), "salt_g"), 500, 0);

    const json_t *advice = json_array_get(json_object_get(root, "advice"), 0);
    assert_string_equal(text(advice, "lever"), "run the pump at twice the flow");
    assert_non_null(text(advice, "because"));
    near(real(advice, "cost_to_build_more"), 12.5, 0);
    assert_true(json_is_null(json_object_get(advice, "cost_over_run_more")));
    near(real(json_object_get(root, "parameters"), "mu_aob"), 0.78, 0);
    assert_int_equal(json_array_size(json_object_get(root, "ranges")), 0);
    assert_string_equal(json_string_value(json_array_get(json_object_get(root, "warnings"), 0)),
                        "nothing \"much\"");
    assert_string_equal(text(root, "verdict_basis"), "with default parameters");
    json_decref(root);

    b.scenario.setup.params.mu_aob = 0.9;
    b.verdict.filter_ready_d = NAN;
    b.verdict.limit[0].worst = INFINITY;
    b.scenario.path = (char[]){"bad \xff name.yaml"};
    root = written(&b.outcome);
    assert_true(json_is_null(json_object_get(root, "filter_ready_day")));
    assert_true(
        json_is_null(json_object_get(json_array_get(json_object_get(root, "limits"), 0), "worst")));
    assert_true(json_is_null(json_object_get(root, "scenario_file")));
    assert_string_not_equal(text(root, "verdict_basis"), "with default parameters");
    json_decref(root);
    done(&b);
}

/* 1 % of their mass at noon. */
static void feed(struct bench *b)
{
    static int noon_s = 12 * 3600;
    struct tl_feeding *f = &b->scenario.setup.feeding;
    f->ration = (struct tl_ration){.kind = TL_RATION_PER_BIOMASS, .value = 0.01};
    f->meal_s = &noon_s;
    f->meals = 1;
}

/* Whether the scenario ends in the middle of its one event, and the sentence about it. */
static bool ends_in(struct bench *b, struct tl_event e, const char *sentence)
{
    struct tl_setup *s = &b->scenario.setup;
    struct tl_text said = {0};
    s->event = &e;
    s->events = 1;
    const bool ends = tl_run_ends_in_event(s);
    tl_outcome_cannot_tell(&b->outcome, &said);
    assert_string_equal(tl_text_string(&said), ends ? sentence : "");
    tl_text_free(&said);
    assert_string_equal(tl_outcome_verdict(&b->outcome),
                        ends ? "caution: ends in the middle of an event" : "within limits");
    assert_int_equal(tl_outcome_grade(&b->outcome), ends ? TL_CAUTION : TL_WITHIN);
    s->event = NULL;
    s->events = 0;
    return ends;
}

#define END_SAYS(when, more)                                                                       \
    "The run ends " when ": what comes after is not in it. Make it longer by " more " at least."

/* A failure that lasts, or what harms later and came in the last day, is never within limits. */
static void test_end_in_the_middle_of_an_event(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    feed(&b);
    struct tl_setup *s = &b.scenario.setup;
    const double end_d = s->start_d + s->length_d;
    struct tl_event e = {.kind = TL_EVENT_PUMP_FLOW, .at_d = end_d - 2.0 / 24, .of_power = true};
    s->pump_flow_m3_d = 24;
    s->aerator_g_d = 100;

    assert_true(ends_in(&b, e, END_SAYS("2 h after the power failed", "14 days")));
    e.of_power = false;
    e.at_d = end_d - 13.5;
    assert_true(ends_in(&b, e, END_SAYS("14 days after the pump stopped", "a day")));
    e.at_d = end_d - 15; /* the run shows it */
    assert_false(ends_in(&b, e, ""));
    e.at_d = end_d - 0.5;
    e.for_d = 0.5; /* to the end */
    assert_true(ends_in(&b, e, END_SAYS("12 h after the pump stopped", "14 days")));
    e.for_d = 0.4; /* over */
    assert_false(ends_in(&b, e, ""));
    e = (struct tl_event){.kind = TL_EVENT_PUMP_FLOW, .at_d = end_d - 0.1, .value = 12};
    assert_false(ends_in(&b, e, "")); /* half of its flow */
    e.value = 7;
    assert_true(ends_in(
        &b, e, END_SAYS("2.4 h after the pump brought less than a third of its flow", "14 days")));
    e = (struct tl_event){.kind = TL_EVENT_HEATER_OFF, .at_d = end_d - 3};
    assert_false(ends_in(&b, e, "")); /* there is none */
    s->heater.power_w = 1000;
    assert_true(ends_in(&b, e, END_SAYS("3 days after the heater stopped", "11 days")));
    s->heater.power_w = 0;
    e = (struct tl_event){.kind = TL_EVENT_AERATOR, .at_d = end_d - 10.0 / 1440};
    assert_true(ends_in(&b, e, END_SAYS("10 min after the aerator stopped", "a day")));
    e.at_d = end_d - 1; /* oxygen has told */
    assert_false(ends_in(&b, e, ""));
    e.at_d = end_d - 0.1;
    s->aerator_g_d = 0; /* there is none */
    assert_false(ends_in(&b, e, ""));

    e = (struct tl_event){.kind = TL_EVENT_ADD_FISH, .at_d = end_d, .fish = {.count = 9}};
    assert_true(ends_in(&b, e, END_SAYS("just after fish were added", "a day")));
    e.at_d = end_d - 1;
    assert_false(ends_in(&b, e, ""));
    const double there_g = s->fish[0].count * s->fish[0].mean_mass_g;
    assert_true(there_g > 0);
    e.fish.mean_mass_g = 0.49 * there_g / e.fish.count;
    assert_false(ends_in(&b, e, ""));
    e.fish.mean_mass_g = 0.51 * there_g / e.fish.count;
    e.at_d = end_d - 10;
    assert_true(
        ends_in(&b, e, END_SAYS("10 days after fish by half as many again were added", "4 days")));
    e.at_d = end_d - 14;
    assert_false(ends_in(&b, e, ""));
    e = (struct tl_event){
        .kind = TL_EVENT_DOSE, .dose = TL_DOSE_AMMONIUM_CHLORIDE, .value = 1, .at_d = end_d - 0.25};
    assert_true(ends_in(&b, e, END_SAYS("6 h after ammonium chloride was dosed", "a day")));
    e.dose = TL_DOSE_BAKING_SODA;
    assert_false(ends_in(&b, e, ""));
    e.dose = TL_DOSE_SALT;
    e.by = TL_DOSE_TO_CONTENT;
    e.value = 1000; /* no film dies of it */
    assert_false(ends_in(&b, e, ""));
    e.value = 10000;
    assert_true(ends_in(&b, e, END_SAYS("6 h after salt was dosed", "a day")));
    e = (struct tl_event){.kind = TL_EVENT_KNOCK_OUT, .value = 0.5, .at_d = end_d - 0.25};
    assert_true(ends_in(&b, e, END_SAYS("6 h after film was lost", "14 days")));
    e = (struct tl_event){.kind = TL_EVENT_WATER_CHANGE, .value = 0.5, .at_d = end_d - 0.25};
    assert_false(ends_in(&b, e, ""));
    s->source.water[TL_HOCL] = 1;
    assert_true(ends_in(&b, e, END_SAYS("6 h after water with chlorine came in", "a day")));
    s->source.water[TL_HOCL] = 0;
    e = (struct tl_event){
        .kind = TL_EVENT_RATION, .at_d = end_d - 0.25, .ration = s->feeding.ration};
    assert_false(ends_in(&b, e, ""));
    e.ration.value = 0.02;
    assert_true(ends_in(&b, e, END_SAYS("6 h after the ration was changed", "14 days")));
    s->fish_groups = 0; /* nobody is harmed */
    assert_false(tl_run_ends_in_event(s));
    done(&b);
}

/* What medicine does to fish is not judged: never within limits, and outside where nothing is known. */
static void test_medicine_is_never_within_limits(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    struct tl_setup *s = &b.scenario.setup;
    struct tl_event e = {.at_d = 5,
                         .kind = TL_EVENT_DOSE,
                         .dose = TL_DOSE_CHLORAMINE_T,
                         .by = TL_DOSE_TO_CONTENT,
                         .value = 1};
    s->event = &e;
    s->events = 1;
    tl_ranges_init(&b.ranges, s, true);
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_CAUTION);
    assert_string_equal(tl_outcome_verdict(&b.outcome), "caution: effect of medicine not judged");
    e.value = 1000;
    tl_ranges_init(&b.ranges, s, true);
    assert_true(b.ranges.note[TL_RANGE_CHLORAMINE_T].outside);
    struct tl_text said = {0};
    assert_string_equal(tl_outcome_verdict(&b.outcome), "danger");
    tl_outcome_cannot_tell(&b.outcome, &said);
    assert_string_equal(
        tl_text_string(&said),
        "1000 mg/L of chloramine-T is far too much for fish: nothing is known of it "
        "above 24 mg/L.");
    tl_text_free(&said);
    s->tank.volume_m3 = 10;
    s->chamber.volume_m3 = 1;
    e.by = TL_DOSE_MASS; /* the same by its mass */
    e.value = 24.5 * (s->tank.volume_m3 + s->chamber.volume_m3);
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_DANGER);
    e.value = 24 * (s->tank.volume_m3 + s->chamber.volume_m3);
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_CAUTION);
    e.by = TL_DOSE_TO_CONTENT;
    e.value = 1000;
    struct tl_event both[] = {e,
                              {.at_d = 1, .kind = TL_EVENT_REMOVE_FISH, .fish = {.count = 1e6}},
                              {.at_d = 7, .kind = TL_EVENT_ADD_FISH, .fish = {.count = 1}}};
    s->event = both; /* they are out, and the next come two days later */
    s->events = 3;
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_DANGER);
    both[2].at_d = 8; /* or three */
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_CAUTION);
    s->event = &e;
    s->events = 1;
    s->fish_groups = 0; /* nobody in it, but a table that ends */
    assert_string_equal(tl_outcome_verdict(&b.outcome), "caution: outside published range");
    e.value = 1;
    tl_ranges_init(&b.ranges, s, true);
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_WITHIN);
    s->event = NULL;
    s->events = 0;
    done(&b);
}

/* Little was asked, so little is answered; a danger stands by itself. */
static void test_what_the_verdict_cannot_tell(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    feed(&b);
    struct tl_setup *s = &b.scenario.setup;
    json_t *root = written(&b.outcome);
    assert_true(json_is_null(json_object_get(root, "verdict_cannot_tell")));
    assert_true(json_is_null(json_object_get(root, "cold_feed")));
    json_decref(root);

    b.given.cold_feed_g = 300;
    b.given.cold_feed_d = 12.5;
    b.given.cold_feed_degC = 4.5;
    s->length_d = 0.25;
    root = written(&b.outcome);
    assert_non_null(strstr(text(root, "verdict_cannot_tell"), "A run of 6 h is too short"));
    near(real(json_object_get(root, "cold_feed"), "mass_g"), 300, 0);
    near(real(json_object_get(root, "cold_feed"), "coldest_degC"), 4.5, 0);
    assert_string_equal(text(json_object_get(root, "cold_feed"), "first_time"),
                        "2027-05-13T12:00:00");
    json_decref(root);

    s->length_d = 60; /* fish for the last ten days only */
    b.verdict.hours_empty = 24 * 50;
    root = written(&b.outcome);
    assert_non_null(strstr(text(root, "verdict_cannot_tell"), "A time with fish of 10 d is too"));
    json_decref(root);

    b.verdict.hours_empty = 0;
    s->fish_groups = 0;
    root = written(&b.outcome);
    assert_non_null(strstr(text(root, "verdict_cannot_tell"), "There are no fish in this run"));
    assert_null(strstr(text(root, "verdict_cannot_tell"), "too short"));
    json_decref(root);

    s->length_d = 1;
    b.verdict.grade = TL_DANGER;
    root = written(&b.outcome);
    assert_true(json_is_null(json_object_get(root, "verdict_cannot_tell")));
    json_decref(root);
    done(&b);
}

static void test_verdict_over_everything(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    assert_string_equal(tl_outcome_verdict(&b.outcome), "within limits");
    b.ranges.note[TL_RANGE_LOAD].outside = true;
    assert_string_equal(tl_outcome_verdict(&b.outcome), "caution: outside published range");
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_CAUTION);
    json_t *root = written(&b.outcome);
    const json_t *note = json_array_get(json_object_get(root, "ranges"), 0);
    assert_string_equal(text(note, "what"), "hydraulic load");
    near(real(note, "high"), 40, 0);
    json_decref(root);
    b.verdict.grade = TL_CAUTION;
    assert_string_equal(tl_outcome_verdict(&b.outcome), "caution");
    b.outcome.fish_lost_d = 3;
    assert_string_equal(tl_outcome_verdict(&b.outcome), "danger");
    done(&b);
}

/* --- text ------------------------------------------------------------------------------------ */

static char *report(const struct tl_outcome *o, enum tl_unit_system units)
{
    static char out[16384];
    FILE *f = tmpfile();
    assert_non_null(f);
    tl_text_report(o, units, f);
    rewind(f);
    size_t n = fread(out, 1, sizeof out - 1, f);
    out[n] = '\0';
    fclose(f);
    return out;
}

/* Counts lines and checks that none is wider than a terminal. */
static int lines_of(const char *out)
{
    int lines = 0, width = 0;
    for (const char *p = out; *p; p++) {
        if (*p == '\n') {
            assert_true(width <= 80);
            lines++;
            width = 0;
        } else if (((unsigned char)*p & 0xc0) != 0x80) {
            width++;
        }
        assert_false((unsigned char)*p < 0x20 && *p != '\n');
    }
    assert_int_equal(width, 0);
    return lines;
}

static void assert_contains(const char *out, const char *part)
{
    if (!strstr(out, part))
        fail_msg("\"%s\" is missing in:\n%s", part, out);
}

/* A spread takes the place of the parameters' word, and the worse of the two verdicts holds. */
static void test_text_of_a_spread(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    struct tl_spread_verdict spread = {
        .grade = TL_WITHIN,
        .runs = 1000,
        .inputs = 20,
        .within = {990, 1000, 0.98, 0.995, "99 of 100 runs (90 % sure: 98 to 99.5)"},
        .danger = {2, 1000, 0, 0.01, "0.2 of 100 runs"}};
    b.outcome.spread = &spread;
    const char *out = report(&b.outcome, TL_METRIC);
    assert_contains(out,
                    "Verdict: within limits. Within limits in 99 of 100 runs (90 % sure: 98 to");
    assert_contains(out, "over 20 uncertain");
    assert_null(strstr(out, "default parameters"));
    spread.grade = TL_DANGER;
    out = report(&b.outcome, TL_METRIC);
    assert_contains(out, "Verdict: danger (within limits with the scenario's own values). Within");
    assert_string_equal(tl_outcome_verdict(&b.outcome), "danger");
    assert_string_equal(tl_outcome_own_verdict(&b.outcome), "within limits");
    b.verdict.grade = TL_DANGER;
    spread.grade = TL_CAUTION;
    assert_int_equal(tl_outcome_grade(&b.outcome), TL_DANGER);
}

/* What a lever costs, for as long as the run goes; the difference may be nothing, or a gain. */
static void test_text_of_a_price(void **state)
{
    static const char eur[] = "EUR";
    (void)state;
    struct bench b;
    fill(&b);
    memcpy(b.scenario.costs.currency, eur, sizeof eur);
    b.advice[0] = (struct tl_advice_text){"a heater", "no ice", 0, 1447};
    assert_contains(report(&b.outcome, TL_METRIC),
                    "- a heater: no ice; costs 1447 EUR more to run these 60 days\n");
    b.advice[0] = (struct tl_advice_text){"a heater", "no ice", 300, -2};
    assert_contains(report(&b.outcome, TL_METRIC),
                    "- a heater: no ice; costs 300 EUR more to build; costs 2 EUR less");
    b.advice[0] = (struct tl_advice_text){"a heater", "no ice", NAN, 0};
    assert_contains(report(&b.outcome, TL_METRIC), "- a heater: no ice\n");
}

/* The verdict is for all that come, so the head names them. */
static void test_text_of_fish_that_come(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    b.event = (struct tl_event){.at_d = 3,
                                .kind = TL_EVENT_ADD_FISH,
                                .fish = {.name = "koi", .count = 44, .mean_mass_g = 800}};
    assert_contains(report(&b.outcome, TL_METRIC), "Fish: 80 koi, 40 kg; not fed");
    b.scenario.setup.event = &b.event;
    b.scenario.setup.events = 1;
    assert_contains(report(&b.outcome, TL_METRIC),
                    "Fish: 80 koi, 40 kg at the start, at most 75.2 kg; not fed");
}

static void test_text_when_all_is_well(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    const char *out = report(&b.outcome, TL_METRIC);
    assert_true(lines_of(out) <= 40);
    assert_contains(out, title);
    assert_contains(out, "Verdict: within limits, with default parameters.");
    b.scenario.setup.params.mu_aob = 0.9;
    assert_contains(report(&b.outcome, TL_METRIC), "with default parameters but for 1.");
    b.scenario.setup.params.mu_aob = 0.78;
    out = report(&b.outcome, TL_METRIC);
    assert_contains(out, "0.0123");
    assert_contains(out, "05-13 d12");
    assert_contains(out, "retained by fish -12.5 (by");
    assert_contains(out, "run the pump at twice the flow");
    done(&b);
}

/* The lines that what is not judged may take by itself. */
static int lines_not_judged(const struct bench *b)
{
    struct tl_text w = {0};
    tl_outcome_not_judged(&b->outcome, &w);
    const int lines = tl_page_lines_of(2, tl_text_string(&w));
    tl_text_free(&w);
    return lines;
}

static void test_text_of_the_worst_run_fits(void **state)
{
    (void)state;
    struct bench b;
    fill_worst(&b);
    const char *out = report(&b.outcome, TL_US);
    /* 4 of temperature, the filter's proof */
    assert_true(lines_of(out) <= 48 + 4 + 1 + lines_not_judged(&b));
    assert_contains(out, "Verdict: danger. Beyond danger: ice on the water");
    assert_contains(out, "for an hour or more, 123 % at the most.");
    assert_contains(out, "The water freezes from d1000 on, up to 27217 lb of ice, frozen to the");
    assert_contains(out, "Heat, kWh, evaporation included: sun");
    const char *top_up = strstr(out, "top-up");
    assert_non_null(top_up);
    assert_contains(top_up, "in all.");
    assert_contains(out, "too weak for 1235 h");
    assert_contains(out, "in the trays for 1235 h.");
    assert_contains(out, "Ailing fish");
    b.heat.tray_ice_h = 9 * b.heat.frost_h; /* the longest sentence about ice, to its end */
    out = report(&b.outcome, TL_US);
    assert_non_null(strstr(out, "in air above freezing as well: it"));
    assert_contains(strstr(out, "in air above freezing as well: it"), "evaporates.");
    assert_contains(out, "Ailing fish");
    b.outcome.heat = NULL;
    out = report(&b.outcome, TL_US);
    assert_true(lines_of(out) <= 40 + 4 + 1 + lines_not_judged(&b));
    assert_contains(out, "Verdict: danger.");
    assert_contains(out, "carp are lost; the run's promise ends here.");
    assert_contains(out, "Outside published range: ");
    assert_contains(out, "not shown to be ready");
    assert_contains(out, "veterinarian"); /* the last line is still there */
    done(&b);
}

/* Trays ice up in dry air above freezing, too, with no frost before it; nothing is told twice. */
static void test_text_of_ice_in_trays(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    b.heat =
        (struct tl_heat_summary){.ice_d = NAN, .frost_d = NAN, .frozen_d = NAN, .tray_ice_h = 461};
    b.outcome.heat = &b.heat;
    assert_contains(report(&b.outcome, TL_METRIC),
                    "\nWater freezes in the trays for 461 h, in air above freezing as well: it");
    done(&b);
}

/* In the keeper's degrees, whole, and as many as have room. */
static void test_text_of_ranges(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    struct tl_range_note *n = &b.ranges.note[TL_RANGE_FISH_TEMPERATURE];
    n->outside = true;
    n->value = 0;
    assert_contains(report(&b.outcome, TL_METRIC),
                    "temperature 0 degC (oxygen use of fish: 15 to 30,");
    assert_contains(report(&b.outcome, TL_US),
                    "temperature 32 degF (oxygen use of fish: 59 to 86,");
    for (int i = 0; i < TL_NRANGE; i++)
        b.ranges.note[i].outside = true;
    const char *out = report(&b.outcome, TL_METRIC);
    assert_contains(out, "The rest of this answer is in summary.json.");
    assert_null(strstr(out, "..."));
    done(&b);
}

/* No pronoun for what was not named. */
static void test_text_of_sulfide(void **state)
{
    struct tl_bed_result bed = {.bed.first_d = NAN, .chamber = {.first_d = 5, .longest_h = 1810}};
    (void)state;
    struct bench b;
    fill(&b);
    b.outcome.bed = &bed;
    assert_contains(report(&b.outcome, TL_METRIC),
                    "settling chamber without oxygen and nitrate for");
    bed.bed = bed.chamber;
    assert_contains(report(&b.outcome, TL_METRIC), "settling chamber without them for");
    done(&b);
}

/* What is due comes first; neither it nor what is planned makes the page too long. */
static void test_jobs_on_the_page(void **state)
{
    static struct tl_job job[] = {
        {.t_d = 7, .kind = TL_JOB_CHANGE_WATER, .amount = 1.8, .figure = NAN},
        {.t_d = 9, .kind = TL_JOB_TEST, .from = TL_JOB_FROM_PRACTICE, .amount = NAN},
        {.t_d = 12, .kind = TL_JOB_CLEAN_PUMP, .from = TL_JOB_FROM_RUN, .amount = NAN},
        {.t_d = 14, .kind = TL_JOB_CHANGE_WATER, .amount = 1.8, .figure = NAN},
    };
    static const struct tl_jobs jobs = {.job = job, .n = 4};
    (void)state;
    struct bench b;
    fill(&b);
    b.outcome.jobs = &jobs;
    const char *out = report(&b.outcome, TL_METRIC);
    assert_contains(out, "In calendar.csv, due: 05-13 d12 clean the pump; planned: 05-08 d7 change "
                         "1.8 m3\n  of water\n");
    assert_null(strstr(out, "05-15 d14"));
    assert_null(strstr(out, "test the water"));
    assert_contains(report(&b.outcome, TL_US), "d7 change 476 gal");
    b.outcome.jobs = &(struct tl_jobs){.job = &job[1], .n = 1};
    assert_null(strstr(report(&b.outcome, TL_METRIC), "calendar.csv"));
    done(&b);
    fill_worst(&b);
    b.outcome.jobs = &jobs;
    assert_true(lines_of(report(&b.outcome, TL_METRIC)) <= 48 + 4 + 1 + lines_not_judged(&b));
    assert_contains(report(&b.outcome, TL_METRIC), "veterinarian");
    done(&b);
}

static void test_text_is_made_safe(void **state)
{
    (void)state;
    struct bench b;
    char nasty[] = "red \x1b[31m title \xc2\x9b with \t tabs";
    char wide[400];
    fill(&b);
    b.scenario.title = nasty;
    const char *out = report(&b.outcome, TL_METRIC);
    lines_of(out);
    assert_contains(out, "red ?[31m title ? with ? tabs");
    /* 130 characters of three bytes, no blank */
    wide[0] = '\0';
    for (int i = 0; i < 130; i++)
        strcat(wide, "\xe9\xaf\x89");
    b.scenario.title = wide;
    lines_of(report(&b.outcome, TL_METRIC));
    done(&b);
}

/* A sentence that must be whole makes the page longer, as far as there is paper. */
static void test_whole_sentences(void **state)
{
    (void)state;
    char long_text[8 * TL_PAGE_COLUMNS + 1] = "";
    for (int i = 0; i < 8 * TL_PAGE_COLUMNS / 10; i++)
        strcat(long_text, "ninechars ");
    struct tl_page p = {.most = 3};
    struct tl_text w = {0};
    tl_text_add(&w, long_text);
    assert_int_equal(tl_page_lines_of(0, long_text), 8);
    tl_page_put_whole(&p, 2, 0, &w);
    assert_int_equal(p.lines, 8);
    assert_int_equal(p.most, 3 + 6);
    assert_null(strstr(p.line[7], "..."));
    tl_text_add(&w, "short");
    tl_page_put_whole(&p, 2, 0, &w);
    assert_int_equal(p.most, 3 + 6);
    for (int i = 0; i < TL_PAGE_LINES; i++) {
        tl_text_add(&w, long_text);
        tl_page_put_whole(&p, 2, 0, &w);
    }
    assert_int_equal(p.lines, TL_PAGE_LINES);
}

/* What the solver leaves of nothing, of either sign, is nothing. */
static void test_nothing_is_told_as_nothing(void **state)
{
    (void)state;
    struct bench b;
    fill(&b);
    b.verdict.limit[TL_LIMIT_NO3].worst = -5e-29;
    b.verdict.limit[TL_LIMIT_CHLORINE].worst = -0.0;
    b.verdict.limit[TL_LIMIT_O2].worst = -1.27e-6;
    const char *out = report(&b.outcome, TL_METRIC);
    assert_contains(out, "\nnitrate                  0 ");
    assert_contains(out, "\nchlorine (1 hour)        0 ");
    assert_contains(out, "\noxygen                   0 ");
    assert_null(strstr(out, "-0 "));
    done(&b);
}

static void test_wrapping(void **state)
{
    (void)state;
    struct tl_page p = {.lines = 0};
    tl_page_wrap(&p, 3, 2,
                 "one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
                 "fifteen sixteen");
    assert_int_equal(p.lines, 2);
    assert_string_equal(p.line[0], "one two three four five six seven eight nine ten eleven twelve "
                                   "thirteen fourteen"); /* 80 columns */
    assert_string_equal(p.line[1], "  fifteen sixteen");
    /* 39 ideographs of two columns each, a blank and one of one column more do not fit on 80 */
    struct tl_page wide = {.lines = 0};
    char text[160] = "";
    for (int i = 0; i < 39; i++)
        strcat(text, "\xe9\xaf\x89");
    strcat(text, " a");
    tl_page_wrap(&wide, 3, 0, text);
    assert_int_equal(wide.lines, 1); /* 80 columns */
    strcat(text, "b");
    wide.lines = 0;
    tl_page_wrap(&wide, 3, 0, text);
    assert_int_equal(wide.lines, 2);
    /* marks without a column of their own: a line's room is bounded all the same */
    char marks[2 * 400 + 1] = "";
    for (int i = 0; i < 400; i++)
        strcat(marks, "\xcc\x88");
    wide.lines = 0;
    tl_page_wrap(&wide, TL_PAGE_LINES, 0, marks);
    assert_int_equal(wide.lines, 5);
    tl_page_wrap(&p, 1, 2,
                 "one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
                 "fifteen sixteen");
    assert_int_equal(p.lines, 3);
    assert_string_equal(p.line[2], "one two three four five six seven eight nine ten eleven twelve "
                                   "thirteen ...");
    for (int i = 0; i < 100; i++)
        tl_page_wrap(&p, 2, 0, "more");
    assert_int_equal(p.lines, TL_PAGE_LINES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_summary),
        cmocka_unit_test(test_end_in_the_middle_of_an_event),
        cmocka_unit_test(test_medicine_is_never_within_limits),
        cmocka_unit_test(test_what_the_verdict_cannot_tell),
        cmocka_unit_test(test_verdict_over_everything),
        cmocka_unit_test(test_text_of_a_spread),
        cmocka_unit_test(test_text_of_a_price),
        cmocka_unit_test(test_text_of_fish_that_come),
        cmocka_unit_test(test_text_when_all_is_well),
        cmocka_unit_test(test_text_of_ice_in_trays),
        cmocka_unit_test(test_text_of_ranges),
        cmocka_unit_test(test_text_of_sulfide),
        cmocka_unit_test(test_text_of_the_worst_run_fits),
        cmocka_unit_test(test_jobs_on_the_page),
        cmocka_unit_test(test_text_is_made_safe),
        cmocka_unit_test(test_whole_sentences),
        cmocka_unit_test(test_nothing_is_told_as_nothing),
        cmocka_unit_test(test_wrapping),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
