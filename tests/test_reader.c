/* Reading scenarios: what a good one gives, what each bad one is answered with (bad/NAME.yaml and
 * the exact messages in bad/NAME.expect), edits, and writing and reading back. */
#include <dirent.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "comma.h"
#include "near.h"
#include "reader.h"
#include "towerloop/status.h"

static const char good_text[] =
    "format: 1\n"
    "title: Holding tank before the spring delivery\n"
    "start: 2027-05-01 06:00  # a comment\n"
    "length: 60 d\n"
    "report every: 15 min\n"
    "place: {elevation: 180 m}\n"
    "temperature: 22 degC\n"
    "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}\n"
    "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
    "pump: {flow: 1200 gal/h, to tower: 100 %}\n"
    "tower: {trays: 16, media depth: 3 in, plan area: 0.27 m2, media: lava rock, biofilm: mature}\n"
    "aerator: {oxygen transfer: 12 g/h}\n"
    "source water: {alkalinity: 225 mg/L as CaCO3, pH: 7.8, nitrate: 2 mg/L as N, chloride: 20 "
    "mg/L,"
    " chlorine: 0 mg/L}\n"
    "starting water: {ammonia: 0.5 mg/L as N}\n"
    "water change: {trickle: 10 %/d}\n"
    "fish: [{name: koi, count: 80, mean mass: 500 g}]\n"
    "feeding: {ration: 1 %/d, protein: 38 %, uneaten: 0 %, meals: [\"18:00\", 8:00, \"13:00\"]}\n"
    "limits: {oxygen: {caution: 6 mg/L, danger: 3 mg/L}}\n"
    "parameters: {mu_aob: 0.78 1/d}\n"
    "events:\n"
    "  - {for: 6 h, pump: off, at: day 20 14:00}\n"
    "  - {at: day 22, aerator: off}\n"
    "  - {at: day 30, add fish: {name: new koi, count: 20, mean mass: 400 g}}\n"
    "  - {at: day 31, remove fish: {name: koi, count: 5}}\n"
    "  - {at: day 35, ration: 3 %/d, for: 1 d}\n"
    "  - {at: day 40, change water: 30 %}\n"
    "  - {at: day 41, dose: {baking soda: 500 g}}\n"
    "  - {at: day 42, clean: settling chamber}\n";

/* Everything that the sample above does not use. */
static const char rich_text[] =
    "length: 400 d\n"
    "start: 2027-11-30 07:08:09\n"
    "title: \"A \\\"quoted\\\" title with \\\\ and \xc3\xbc\"\n"
    "temperature: {mean: 58 degF, seasonal swing: 9.1 degF, warmest day: 07-25, daily swing: 1.3 "
    "degC}\n"
    "tank: {length: 11 ft, width: 2.1 m, depth: 1.13 m, surface: 6.5 m2}\n"
    "settling chamber: {diameter: 90 cm, depth: 1 m, emptied: {every: 30.5 d, at: \"07:08:09\"}}\n"
    "pump: {curve: [{head: 0 ft, flow: 20 gpm}, {flow: 0 gpm, head: 3.1 m}, {head: 2 m, flow: 9 "
    "gpm}],\n"
    "  head: 1.3 m, pipe: {length: 11 ft, inner diameter: 2 in, roughness: 0.1 mm, fittings: 3},\n"
    "  count: 2, fouling: 3.3 %/month, to tower: 70 %}\n"
    "tower: {trays: 7, media depth: 0.31 m, plan area: 3 ft2, biofilm: seeded 33 %, submerged: "
    "yes,\n"
    "  stays moist: 7 h, die-off: 3.3 %/h, specific surface: 61 ft2/ft3, void: 47 %}\n"
    "source water: {alkalinity: 7 dH, pH: 7.1, oxygen: 7.7 mg/L, chlorine: 0.3 ppm,\n"
    "  chlorine form: chloramine, dechlorinated: yes, ammonia: 0.1 mg/L as NH4, nitrate: 10 mg/L "
    "as NO3}\n"
    "starting water: {oxygen: saturation, pH: 7.3, solids: 3.1 mg/L as COD, inert solids: 1 mg/L "
    "as COD,\n"
    "  dissolved organics: 0.7 mg/L as COD, nitrite: 0.3 mg/L as NO2}\n"
    "water change: {every: 7 d, amount: 15 %}\n"
    "fish: [{name: \"a, b\", count: 3, mean mass: 1 lb}, {name: 'c: \"d\"', count: 7, mean mass: 3 "
    "oz}]\n"
    "feeding: {ration: [{at: 8 degC, ration: 0 %/d}, {at: 59 degF, ration: 0.7 %/d}], protein: 41 "
    "%,\n"
    "  uneaten: 3 %, none below: 7.7 degC, feed conversion: 1.7, meals: [00:00, 12:34:56]}\n"
    "dosing: {baking soda: {hold alkalinity: 4.7 dH, every: 2 d, at: 07:08:09, at most: 1 lb}}\n"
    "limits: {total ammonia: {danger: 3 mg/L as NH3}, nitrate: {caution: none}, pH: {danger high: "
    "9.1},\n"
    "  alkalinity: {caution: 5 dH}, filter ready: {ammonia: 0.7 mg/L as N}}\n"
    "parameters: {n_of_fish: 28.1 gN/kg, wall_share: 11 %}\n"
    "events:\n"
    "  - {at: day 1.2345678901234567, pump: {flow: 600 gal/h, to tower: 50 %}, for: 100 min}\n"
    "  - {at: day 2 03:04:05, flow: 5 m3/h}\n"
    "  - {at: day 3, pump: on, aerator: 7 g/h}\n"
    "  - {at: day 4, aerator: on, to tower: 33 %}\n"
    "  - {at: day 5, ration: 200 g/d}\n"
    "  - {at: day 6, ration: {8 degC: 0.1 %/d, 20 degC: 1.3 %/d}, for: 3 h}\n"
    "  - {at: day 7, dose: {salt: 3 lb, ammonium chloride: 7 g}}\n"
    "  - {at: day 8, clean: tray 7}\n"
    "  - {at: day 9, clean: all trays, rinsed in: pond water}\n"
    "  - {at: day 10, dose: {salt: {to chloride: 123 mg/L}}}\n"
    "  - {at: day 11, dose: {salt: {to chloride ratio: 11}, sodium thiosulfate: 1 oz}}\n"
    "  - {at: day 12, dose: {baking soda: {to alkalinity: 5.1 dH}}}\n";

/* The weather takes the place of a given temperature. */
static const char outdoors_text[] =
    "length: 400 d\n"
    "start: 2028-02-29\n"
    "weather: {air temperature: {mean: 48 degF, seasonal swing: 9.1 degC, warmest day: 07-25, "
    "daily swing: 7.3 degF},\n"
    "  humidity: 71 %, wind: 3 mph, cloud: 47 %, latitude: 48.1 deg, shade: 31 %}\n"
    "heater: {power: 1.7 kW, keep at: 9.1 degC}\n"
    "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2, wall heat loss: 0.3 "
    "Btu/h/ft2/degF}\n"
    "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
    "pump: {flow: 1200 gal/h}\n"
    "tower: {trays: 16, media depth: 3 in, plan area: 4 ft2}\n"
    "source water: {alkalinity: 225 mg/L as CaCO3, pH: 7.8, temperature: 9.7 degC}\n"
    "starting water: {temperature: 41 degF}\n";

/* --- helpers --------------------------------------------------------------------------------- */

static char *messages(const struct tl_diag *d)
{
    struct tl_text all = {0};
    tl_text_add(&all, "");
    for (size_t i = 0; i < d->count; i++) {
        char *one = tl_diag_text(&d->message[i]);
        assert_non_null(one);
        tl_text_addf(&all, "%s\n", one);
        free(one);
    }
    assert_false(all.failed);
    return all.data;
}

static int read_with(const char *text, const char *const *set, size_t sets, struct tl_scenario *s,
                     char **said)
{
    struct tl_diag diag;
    struct tl_scenario_options options = {.set = set, .sets = sets};
    tl_diag_init(&diag);
    int status = tl_scenario_read_text("test.yaml", text, strlen(text), NULL, &options, s, &diag);
    assert_int_equal(status != TL_OK, diag.errors > 0);
    *said = messages(&diag);
    tl_diag_free(&diag);
    return status;
}

/* A scenario that must be read without a word. */
static void read_good(const char *text, struct tl_scenario *s)
{
    char *said;
    int status = read_with(text, NULL, 0, s, &said);
    if (said[0])
        print_error("%s", said);
    assert_int_equal(status, TL_OK);
    assert_string_equal(said, "");
    free(said);
}

static char *written(const struct tl_scenario *s)
{
    char *text = NULL;
    size_t length = 0;
    FILE *f = open_memstream(&text, &length);
    assert_non_null(f);
    assert_int_equal(tl_scenario_write(s, f), TL_OK);
    fclose(f);
    return text;
}

static bool same_double(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

static void assert_same_table(const struct tl_table *a, const struct tl_table *b)
{
    assert_int_equal(a->n, b->n);
    for (size_t i = 0; i < a->n; i++)
        assert_true(a->x[i] == b->x[i] && a->y[i] == b->y[i]);
}

static void assert_same_ration(const struct tl_ration *a, const struct tl_ration *b)
{
    assert_int_equal(a->kind, b->kind);
    assert_true(a->value == b->value);
    assert_same_table(&a->table, &b->table);
}

static void assert_same_fish(const struct tl_fish *a, const struct tl_fish *b)
{
    assert_string_equal(a->name, b->name);
    assert_true(a->count == b->count && a->mean_mass_g == b->mean_mass_g);
}

static void assert_same_events(const struct tl_setup *a, const struct tl_setup *b)
{
    assert_int_equal(a->events, b->events);
    for (size_t i = 0; i < a->events; i++) {
        const struct tl_event *x = &a->event[i];
        const struct tl_event *y = &b->event[i];
        assert_true(x->at_d == y->at_d && x->for_d == y->for_d && x->kind == y->kind &&
                    x->value == y->value && x->tray == y->tray && x->dose == y->dose);
        assert_true(x->by == y->by && x->tap_water == y->tap_water &&
                    x->contact_d == y->contact_d && x->logged == y->logged);
        assert_same_fish(&x->fish, &y->fish);
        assert_same_ration(&x->ration, &y->ration);
    }
}

/* Every double the table knows, bit for bit, and the rest field by field. */
static void assert_same(const struct tl_scenario *a, const struct tl_scenario *b)
{
    const struct tl_setup *x = &a->setup;
    const struct tl_setup *y = &b->setup;
    size_t compared = 0;
    for (size_t i = 0; i < tl_key_count; i++) {
        const struct tl_key *key = &tl_key_table[i];
        if ((key->type != &tl_type_quantity && key->type != &tl_type_limit &&
             key->type != &tl_type_change) ||
            strstr(key->path, "[]"))
            continue;
        double p = *(const double *)((const char *)a + key->offset);
        double q = *(const double *)((const char *)b + key->offset);
        if (!same_double(p, q))
            fail_msg("%s: %.17g became %.17g", key->path, p, q);
        compared++;
    }
    assert_true(compared > 130);
    assert_same_table(&x->pump.curve, &y->pump.curve);
    assert_int_equal(x->pump.count, y->pump.count);
    assert_string_equal(a->title, b->title);
    assert_memory_equal(&a->start, &b->start, sizeof a->start);
    assert_true(x->start_d == y->start_d);
    assert_int_equal(x->temperature.kind, y->temperature.kind);
    assert_true(x->temperature.warmest_noon_d == y->temperature.warmest_noon_d);
    assert_same_table(&x->temperature.readings, &y->temperature.readings);
    assert_int_equal(x->tower.trays, y->tower.trays);
    assert_string_equal(x->tower.media, y->tower.media);
    assert_int_equal(x->tower.biofilm, y->tower.biofilm);
    assert_true(x->tower.seeded_share == y->tower.seeded_share);
    assert_int_equal(x->tower.submerged, y->tower.submerged);
    for (size_t i = 0; i < TL_NWATER; i++)
        assert_true(x->source.water[i] == y->source.water[i] &&
                    x->starting.water[i] == y->starting.water[i]);
    assert_true(x->source.o2_given == y->source.o2_given &&
                x->starting.o2_given == y->starting.o2_given &&
                x->source.chloramine == y->source.chloramine &&
                x->starting.chloramine == y->starting.chloramine);
    assert_int_equal(x->fish_groups, y->fish_groups);
    for (size_t i = 0; i < x->fish_groups; i++)
        assert_same_fish(&x->fish[i], &y->fish[i]);
    assert_true(x->source.dechlorinated == y->source.dechlorinated);
    assert_true(x->dosing.hold_alkalinity_eq_m3 == y->dosing.hold_alkalinity_eq_m3 &&
                x->dosing.every_d == y->dosing.every_d && x->dosing.at_s == y->dosing.at_s &&
                x->dosing.at_most_g == y->dosing.at_most_g);
    assert_same_table(&x->feeding.log, &y->feeding.log);
    assert_same_ration(&x->feeding.ration, &y->feeding.ration);
    assert_int_equal(x->feeding.meals, y->feeding.meals);
    assert_memory_equal(x->feeding.meal_s, y->feeding.meal_s, x->feeding.meals * sizeof(int));
    assert_int_equal(x->feeding.grows, y->feeding.grows);
    assert_true(x->feeding.feed_conversion == y->feeding.feed_conversion);
    assert_same_events(x, y);
}

/* --- good scenarios -------------------------------------------------------------------------- */

static void the_sample(void **state)
{
    struct tl_scenario sc;
    (void)state;
    read_good(good_text, &sc);
    const struct tl_setup *s = &sc.setup;
    assert_string_equal(sc.path, "test.yaml");
    assert_string_equal(sc.title, "Holding tank before the spring delivery");
    assert_true(sc.start.year == 2027 && sc.start.month == 5 && sc.start.day == 1);
    assert_int_equal(sc.start.second, 6 * 3600);
    assert_true(s->start_d == 0.25 && s->length_d == 60 && sc.report_every_d == 15.0 / 1440);
    assert_true(s->elevation_m == 180);
    assert_int_equal(s->temperature.kind, TL_TEMPERATURE_CONSTANT);
    assert_true(s->temperature.mean_degC == 22);
    assert_true(s->tank.volume_m3 == 12 && s->tank.surface_m2 == 10 && s->tank.walls_m2 == 28);
    near(s->chamber.volume_m3, 0.8, 1e-15);
    near(s->pump_flow_m3_d, 1200 * 3.785411784e-3 * 24, 1e-10);
    assert_true(s->to_tower == 1);
    assert_int_equal(s->tower.trays, 16);
    near(s->tower.media_depth_m, 0.0762, 1e-15);
    assert_true(s->tower.specific_surface_m2_m3 == 200 && s->tower.media_size_m == 0.03);
    assert_int_equal(s->tower.biofilm, TL_BIOFILM_MATURE);
    assert_true(isnan(s->tower.stays_moist_d));
    near(s->tower.die_off_1_d, 1.2, 1e-15);
    assert_true(s->aerator_g_d == 288);
    near(s->source.water[TL_ALK], 225 / 50.04, 1e-14);
    assert_true(s->source.ph == 7.8 && s->source.water[TL_NO3] == 2 && !s->source.o2_given);
    /* what starting water does not name comes from the source */
    assert_true(s->starting.water[TL_TAN] == 0.5 && s->starting.water[TL_NO3] == 2);
    assert_true(s->starting.water[TL_CL] == 20 && s->starting.ph == 7.8);
    assert_true(s->starting.water[TL_ALK] == s->source.water[TL_ALK]);
    assert_true(s->trickle_1_d == 0.1 && s->change_every_d == 0);
    assert_int_equal(s->fish_groups, 1);
    assert_string_equal(s->fish[0].name, "koi");
    assert_true(s->fish[0].count == 80 && s->fish[0].mean_mass_g == 500);
    assert_int_equal(s->feeding.ration.kind, TL_RATION_PER_BIOMASS);
    assert_true(s->feeding.ration.value == 0.01 && !s->feeding.grows);
    assert_int_equal(s->feeding.meals, 3); /* sorted */
    assert_int_equal(s->feeding.meal_s[0], 8 * 3600);
    assert_int_equal(s->feeding.meal_s[2], 18 * 3600);
    assert_int_equal(s->events, 8);
    assert_int_equal(s->event[0].kind, TL_EVENT_PUMP_FLOW);
    assert_true(s->event[0].at_d == 20 + 14.0 / 24 && s->event[0].for_d == 0.25);
    assert_int_equal(s->event[0].line, 21);
    assert_int_equal(s->event[3].kind, TL_EVENT_REMOVE_FISH);
    assert_int_equal(s->event[6].dose, TL_DOSE_BAKING_SODA);
    assert_true(s->event[6].value == 500);
    assert_int_equal(s->event[7].kind, TL_EVENT_CLEAN_CHAMBER);
    assert_true(isnan(sc.limits.tan_caution));
    near(sc.limits.alk.danger, 40 / 50.04, 1e-15);
    tl_scenario_free(&sc);
}

static void the_rich_one(void **state)
{
    struct tl_scenario sc;
    (void)state;
    read_good(rich_text, &sc);
    const struct tl_setup *s = &sc.setup;
    assert_string_equal(sc.title, "A \"quoted\" title with \\ and \xc3\xbc");
    near(s->start_d, (7 * 3600 + 8 * 60 + 9) / 86400.0, 1e-15);
    assert_int_equal(s->temperature.kind, TL_TEMPERATURE_SINES);
    near(s->temperature.mean_degC, 26 / 1.8, 1e-12);
    /* 25 July is 128 days before 30 November */
    assert_true(s->temperature.warmest_noon_d == -128 + 0.5);
    const double l = 11 * 0.3048;
    near(s->tank.volume_m3, l * 2.1 * 1.13, 1e-12);
    assert_true(s->tank.surface_m2 == 6.5); /* a value that is given wins */
    near(s->tank.walls_m2, l * 2.1 + 2 * (l + 2.1) * 1.13, 1e-12);
    near(s->chamber.volume_m3, 3.14159265358979 / 4 * 0.81, 1e-12);
    near(s->chamber.walls_m2, 3.14159265358979 * (0.81 / 4 + 0.9), 1e-12);
    assert_true(s->emptying.every_d == 30.5 && s->emptying.at_s == 7 * 3600 + 8 * 60 + 9);
    assert_int_equal(s->tower.biofilm, TL_BIOFILM_SEEDED);
    assert_true(s->tower.seeded_share == 0.33 && s->tower.submerged);
    assert_true(s->tower.void_fraction == 0.47 && s->tower.media_size_m == 0.03);
    assert_true(s->source.o2_given && s->source.water[TL_O2] == 7.7 && s->source.chloramine);
    assert_true(!s->starting.o2_given && s->starting.ph == 7.3 && s->starting.chloramine);
    assert_true(s->starting.water[TL_XS] == 3.1 && s->starting.water[TL_XI] == 1);
    assert_true(s->change_every_d == 7 && s->change_amount == 0.15);
    assert_int_equal(s->feeding.ration.kind, TL_RATION_TABLE);
    assert_int_equal(s->feeding.ration.table.n, 2);
    near(s->feeding.ration.table.x[1], 15, 1e-12);
    assert_true(s->feeding.grows && s->feeding.feed_conversion == 1.7);
    assert_true(isnan(sc.limits.no3.caution) && sc.limits.no3.danger == 100);
    /* the thiosulfate turns the chloramine of the source water into chloride and ammonia */
    assert_true(s->source.dechlorinated && s->source.water[TL_HOCL] == 0.3);
    assert_true(s->starting.water[TL_HOCL] == 0);
    near(s->starting.water[TL_CL], 0.15, 1e-12);
    near(s->starting.water[TL_TAN] - s->source.water[TL_TAN], 0.3 * 0.1975, 1e-12);
    near(s->feeding.none_below_degC, 7.7, 1e-12);
    near(s->dosing.hold_alkalinity_eq_m3, 4.7 * 0.35663, 1e-3);
    near(s->dosing.at_most_g, 453.59237, 1e-9);
    assert_true(s->dosing.every_d == 2 && s->dosing.at_s == 7 * 3600 + 8 * 60 + 9);
    assert_int_equal(s->events, 17);
    assert_true(s->event[13].by == TL_DOSE_TO_CONTENT && s->event[13].value == 123);
    assert_true(s->event[14].by == TL_DOSE_TO_RATIO && s->event[14].value == 11);
    assert_int_equal(s->event[15].dose, TL_DOSE_THIOSULFATE);
    assert_int_equal(s->event[16].dose, TL_DOSE_BAKING_SODA);
    assert_int_equal(s->event[16].by, TL_DOSE_TO_CONTENT);
    assert_int_equal(s->event[0].kind, TL_EVENT_PUMP_FLOW);
    assert_int_equal(s->event[1].kind, TL_EVENT_TO_TOWER);
    assert_true(s->event[1].at_d == s->event[0].at_d && s->event[1].for_d == 100.0 / 1440);
    assert_int_equal(s->event[3].kind, TL_EVENT_PUMP_ON);
    assert_int_equal(s->event[8].ration.kind, TL_RATION_TABLE);
    assert_int_equal(s->event[11].tray, 7);
    tl_scenario_free(&sc);
}

/* Tap water has its default time of contact, and what it kills is said. */
static void rinsed_in_tap_water(void **state)
{
    static const char *const set[] = {
        "events[7]={at: day 42, clean: tray 1, rinsed in: tap water}", "events[7].contact=3 min",
        "source water={alkalinity: 3 meq/L, pH: 7.5, chlorine: 2 mg/L, dechlorinated: yes}"};
    struct tl_scenario s;
    char *said;
    (void)state;
    assert_int_equal(read_with(good_text, set, 1, &s, &said), TL_OK);
    assert_string_equal(said, "");
    assert_true(s.setup.event[7].tap_water);
    near(s.setup.event[7].contact_d, 10.0 / 1440, 1e-15);
    tl_scenario_free(&s);
    free(said);
    assert_int_equal(read_with(good_text, set, 3, &s, &said), TL_OK);
    near(s.setup.event[7].contact_d, 3.0 / 1440, 1e-15);
    assert_non_null(strstr(said, "3 min in tap water with 2 mg/L of chlorine kill about 12 %"));
    assert_null(strstr(said, "no dechlorinator"));
    tl_scenario_free(&s);
    free(said);
}

/* Growth may be stated with the group or with the feeding. */
static void growth(void **state)
{
    static const char *const set[] = {"fish[0].feed conversion=1.6", "feeding.growth=none"};
    struct tl_scenario s;
    char *said;
    (void)state;
    assert_int_equal(read_with(good_text, set, 1, &s, &said), TL_OK);
    assert_true(s.setup.feeding.grows && s.setup.feeding.feed_conversion == 1.6);
    tl_scenario_free(&s);
    free(said);
    assert_int_equal(read_with(good_text, set + 1, 1, &s, &said), TL_OK);
    assert_false(s.setup.feeding.grows);
    tl_scenario_free(&s);
    free(said);
    assert_int_equal(read_with(good_text, set, 2, &s, &said), TL_E_INPUT);
    assert_string_equal(said, "--set: feeding.growth: both growth: none and a feed conversion; "
                              "expected one of the two\n");
    free(said);
}

/* As some editors save it: a byte order mark, and lines that end in CR LF. */
static void saved_by_another_editor(void **state)
{
    struct tl_text t = {0};
    struct tl_scenario plain;
    struct tl_scenario other;
    (void)state;
    tl_text_add(&t, "\xef\xbb\xbf");
    for (const char *c = good_text; *c; c++)
        tl_text_add_bytes(&t, *c == '\n' ? "\r\n" : c, *c == '\n' ? 2 : 1);
    read_good(good_text, &plain);
    read_good(t.data, &other);
    assert_same(&plain, &other);
    tl_scenario_free(&plain);
    tl_scenario_free(&other);
    tl_text_free(&t);
}

/* Feed in water too cold for it is warned of, by the ration of the day. */
static void cold_meals(void **state)
{
    (void)state;
    static const struct {
        const char *set[3];
        size_t sets;
        const char *says; /* NULL: nothing */
    } c[] = {
        {{"temperature=7.9 degC"},
         1,
         "warning: feeding.ration: fed in water below 8 degC on 60 days, down to "
         "7.9 degC"},
        {{"temperature=8 degC"}, 1, NULL},
        {{"temperature=4 degC", "feeding.none below=8 degC"}, 2, NULL},
        {{"temperature=4 degC", "feeding.none below=6 degC"}, 2, NULL},
        {{"temperature=4 degC", "feeding.ration=0 %/d"}, 2, "on 1 day,"}, /* of the event */
    };
    for (size_t i = 0; i < sizeof c / sizeof c[0]; i++) {
        struct tl_scenario s;
        char *said = NULL;
        assert_int_equal(read_with(good_text, c[i].set, c[i].sets, &s, &said), TL_OK);
        const char *found = strstr(said, "fed in water below");
        assert_int_equal(found != NULL, c[i].says != NULL);
        if (c[i].says)
            assert_non_null(strstr(said, c[i].says));
        free(said);
        tl_scenario_free(&s);
    }
}

static void readings(void **state)
{
    struct tl_scenario s;
    struct tl_diag diag;
    (void)state;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(BAD_DIR "/good/readings.yaml", NULL, &s, &diag), TL_OK);
    char *said = messages(&diag);
    assert_string_equal(said, "");
    free(said);
    const struct tl_table *t = &s.setup.temperature.readings;
    assert_int_equal(s.setup.temperature.kind, TL_TEMPERATURE_READINGS);
    assert_int_equal(t->n, 3);
    assert_true(t->x[0] == 0 && t->x[1] == 1.5 && t->x[2] == 5);
    assert_true(t->y[0] == 10 && t->y[1] == 12.25 && t->y[2] == 11);
    char *text = written(&s);
    assert_non_null(strstr(text, "\ntemperature: {file: \"inputs/readings.csv\"}\n"));
    free(text);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
}

/* --- edits ----------------------------------------------------------------------------------- */

static void edits(void **state)
{
    static const char *const set[] = {
        "tower.trays=12",
        "settling chamber.volume = 700 L",
        "fish[0].count=100",
        "fish[1]={name: other, count: 1, mean mass: 1 kg}",
        "fish[2].name=third",
        "fish[2].count=2",
        "fish[2].mean mass=3 kg",
        "limits.nitrite.danger=1 mg/L as N",
        "events[1].aerator=6 g/h",
        "temperature={mean: 15 degC}",
        "feeding.meals=[\"06:00\"]",
        "parameters.y_aob=0.2 gCOD/gN",
    };
    struct tl_scenario s;
    char *said;
    (void)state;
    assert_int_equal(read_with(good_text, set, sizeof set / sizeof *set, &s, &said), TL_OK);
    assert_string_equal(said, "");
    assert_int_equal(s.setup.tower.trays, 12);
    near(s.setup.chamber.volume_m3, 0.7, 1e-15);
    assert_true(s.setup.chamber.surface_m2 == 1);
    assert_int_equal(s.setup.fish_groups, 3);
    assert_true(s.setup.fish[0].count == 100 && s.setup.fish[1].mean_mass_g == 1000);
    assert_string_equal(s.setup.fish[2].name, "third");
    assert_true(s.limits.no2.danger == 1 && s.limits.no2.caution == 0.2);
    assert_true(s.setup.event[1].value == 144);
    assert_int_equal(s.setup.temperature.kind, TL_TEMPERATURE_SINES);
    assert_int_equal(s.setup.feeding.meals, 1);
    assert_true(s.setup.params.y_aob == 0.2);
    tl_scenario_free(&s);
    free(said);
}

static void bad_edits(void **state)
{
    static const struct {
        const char *set, *said;
    } bad[] = {
        {"tower.trays", "--set: not an assignment; expected KEY=VALUE, as tower.trays=12\n"},
        {"=3", "--set: not an assignment; expected KEY=VALUE, as tower.trays=12\n"},
        {"tower.trays=", "--set: tower.trays: no value behind the =\n"},
        {"tower.trays=x", "--set: tower.trays: \"x\" is not a number; expected a plain number\n"},
        {"tower.trays=0", "--set: tower.trays: \"0\" is outside the range; expected 1 to 200\n"},
        {"tower.tray=3",
         "--set: tower.tray: unknown key (did you mean \"trays\"?); expected one of "
         "trays, media depth, plan area, media, biofilm, submerged, specific surface, "
         "media size, void, critical surface tension, stays moist, die-off\n"},
        {"tower..trays=3",
         "--set: tower.: unknown key; expected one of "
         "trays, media depth, plan area, media, biofilm, submerged, specific surface, "
         "media size, void, critical surface tension, stays moist, die-off\n"},
        {"tower.=3", "--set: tower.: not a path of keys; expected keys joined by points, as "
                     "tower.trays\n"},
        {"tower.trays.x=3", "--set: tower.trays.x: what stands there is a single value; expected a "
                            "key that has keys below it\n"},
        {"temperature.daily swing=3 degC",
         "--set: temperature.daily swing: what stands there is a single value; expected both at "
         "once, as \"temperature={mean: 22 degC, daily swing: ...}\"\n"},
        {"temperature.quux=3 degC", "--set: temperature.quux: what stands there is a single value; "
                                    "expected a key that has keys below it\n"},
        {"fish[4].count=3",
         "--set: fish[4].count: the list has no such place; expected [0] for the "
         "first item, up to one behind the last\n"},
        {"fish[-1].count=3", "--set: fish[-1].count: not a place in a list; expected a number in "
                             "brackets, as fish[0].count\n"},
        {"fish[x]=3", "--set: fish[x]: not a place in a list; expected a number in brackets, as "
                      "fish[0].count\n"},
        {"tower[0]=3", "--set: tower[0]: the list has no such place; expected [0] for the first "
                       "item, up to one behind the last\n"},
        {"title=[a",
         "--set: not readable as YAML: did not find expected ',' or ']' (while parsing a "
         "flow sequence); expected a comma between items and a bracket at the end\n"},
        {"title=*a", "--set: aliases (*) are not supported; expected the value written out\n"},
        {"title=a\nb: c", "--set: not readable as YAML: mapping values are not allowed in this "
                          "context; expected quotation marks around a text that holds \": \", keys "
                          "of one mapping set in alike\n"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct tl_scenario s;
        char *said;
        assert_int_equal(read_with(good_text, &bad[i].set, 1, &s, &said), TL_E_INPUT);
        assert_string_equal(said, bad[i].said);
        free(said);
    }
}

/* --- writing and reading back ---------------------------------------------------------------- */

static void assert_round_trip(const struct tl_scenario *s)
{
    struct tl_scenario back;
    char *text = written(s);
    read_good(text, &back);
    assert_same(s, &back);
    char *again = written(&back);
    assert_string_equal(text, again);
    free(again);
    free(text);
    tl_scenario_free(&back);
}

static void round_trip(void **state)
{
    static const char *const texts[] = {good_text, rich_text, outdoors_text};
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct tl_scenario s;
        read_good(texts[i], &s);
        assert_round_trip(&s);
        tl_scenario_free(&s);
    }
}

static double uniform(uint64_t *seed) /* 0..1, Marsaglia 2003, xorshift64 */
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return (double)(*seed >> 11) / 9007199254740992.0;
}

/* Every quantity of the table takes values with all their digits. */
static void round_trip_of_any(const char *text, const char *const *without)
{
    struct tl_scenario s;
    uint64_t seed = 20270501;
    read_good(text, &s);
    for (int round = 0; round < 60; round++) {
        for (size_t i = 0; i < tl_key_count; i++) {
            const struct tl_key *key = &tl_key_table[i];
            if ((key->type != &tl_type_quantity && key->type != &tl_type_limit) ||
                strstr(key->path, "[]"))
                continue;
            bool written = true;
            for (size_t k = 0; without[k]; k++)
                written = written && strncmp(key->path, without[k], strlen(without[k])) != 0;
            if (!written)
                continue;
            double *value = (double *)((char *)&s + key->offset);
            if (isnan(*value))
                continue;
            *value =
                *value == 0 ? 1e-6 * uniform(&seed) : *value * (0.999 + 0.002 * uniform(&seed));
            *value = fmin(fmax(*value, key->min), key->max);
        }
        for (size_t i = 0; i < s.setup.events; i++) {
            s.setup.event[i].at_d += 0.01 * uniform(&seed);
            if (s.setup.event[i].kind == TL_EVENT_TO_TOWER) /* with the pump, as it was written */
                s.setup.event[i].value = uniform(&seed);
        }
        assert_round_trip(&s);
    }
    tl_scenario_free(&s);
}

static void round_trip_of_any_double(void **state)
{
    static const char *const in_rich[] = {"weather.", "heater.", "tank.wall heat loss", NULL};
    static const char *const in_outdoors[] = {"temperature.", "pump.", NULL};
    (void)state;
    round_trip_of_any(rich_text, in_rich);
    round_trip_of_any(outdoors_text, in_outdoors);
}

static void outdoors(void **state)
{
    struct tl_scenario s;
    (void)state;
    read_good(outdoors_text, &s);
    const struct tl_weather *w = &s.setup.weather;
    assert_true(w->given);
    assert_int_equal(s.setup.temperature.kind, TL_TEMPERATURE_WEATHER);
    near(w->air.mean_degC, (48 - 32) / 1.8, 1e-12);
    near(w->air.daily_swing_degC, 7.3 / 1.8, 1e-12);
    near(w->wind_m_s, 3 * 0.44704, 1e-12);
    near(w->day_of_year, 60, 0);
    near(w->air.warmest_noon_d, 31 + 30 + 31 + 30 + 25 + 0.5, 0); /* from 29 February */
    near(s.setup.wall_loss_w_m2_k, 0.3 * 5.678263, 1e-6);
    near(s.setup.source_degC, 9.7, 1e-12);
    near(s.setup.start_degC, 5, 1e-12);
    char *text = written(&s);
    assert_non_null(strstr(text, "\ntemperature: from weather\n"));
    free(text);
    tl_scenario_free(&s);
}

/* A log: what it has takes the place of the keys, and its gaps are no readings. */
static void weather_log(void **state)
{
    struct tl_scenario s;
    struct tl_diag diag;
    (void)state;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(BAD_DIR "/good/weather.yaml", NULL, &s, &diag), TL_OK);
    char *said = messages(&diag);
    assert_non_null(strstr(said,
                           "good/weather.csv:2:1: warning: air_temperature_degC has no reading "
                           "for 36 h (lines 2 to 3), 3.5 d (lines 3 to 4); a straight line"));
    assert_non_null(strstr(said, "humidity_pct has no reading for 5 d (lines 2 to 4); a straight"));
    assert_non_null(strstr(said,
                           "sun_W_m2 has no reading for 36 h (lines 2 to 3), 3.5 d (lines 3 to "
                           "4); meanwhile the sun is reckoned from latitude and cloud"));
    free(said);
    const struct tl_weather *w = &s.setup.weather;
    assert_int_equal(w->air.readings.n, 3);
    near(w->air.readings.y[2], -3.5, 0);
    assert_int_equal(w->log[TL_LOG_HUMIDITY].n, 2);
    near(w->log[TL_LOG_HUMIDITY].x[1], 5, 0);
    near(w->log[TL_LOG_HUMIDITY].y[1], 0.9, 1e-15);
    assert_int_equal(w->log[TL_LOG_WIND].n, 0);
    assert_int_equal(w->log[TL_LOG_CLOUD].n, 0);
    assert_int_equal(w->log[TL_LOG_SUN].n, 3);
    char *text = written(&s);
    assert_non_null(strstr(text, "  air temperature: {file: \"inputs/weather.csv\"}\n"));
    free(text);
    struct tl_scenario copy;
    assert_int_equal(tl_scenario_copy(&copy, &s), TL_OK);
    assert_true(copy.setup.weather.log[TL_LOG_SUN].y != w->log[TL_LOG_SUN].y);
    near(copy.setup.weather.log[TL_LOG_SUN].y[1], 410, 0);
    tl_scenario_free(&copy);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
}

/* What keepers dose is passed without a word; the doses of bad/much_dosed.yaml are not. */
static void sensible_doses(void **state)
{
    struct tl_scenario s;
    struct tl_diag diag;
    (void)state;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(BAD_DIR "/good/dosed.yaml", NULL, &s, &diag), TL_OK);
    char *said = messages(&diag);
    assert_string_equal(said, "");
    assert_int_equal(s.setup.events, 8);
    free(said);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
}

/* Beside a temperature that is given the weather is put aside, and said to be. */
static void weather_beside_a_temperature(void **state)
{
    static const char *const set[] = {"temperature=21 degC"};
    struct tl_scenario s;
    char *said;
    (void)state;
    assert_int_equal(read_with(outdoors_text, set, 1, &s, &said), TL_OK);
    assert_non_null(strstr(said, "warning: weather: not used"));
    free(said);
    assert_false(s.setup.weather.given);
    near(s.setup.temperature.mean_degC, 21, 0);
    tl_scenario_free(&s);
}

static void the_locale_does_not_matter(void **state)
{
    struct tl_scenario s;
    struct tl_scenario in_comma;
    (void)state;
    read_good(rich_text, &s);
    char *text = written(&s);
    if (!comma_locale_set()) {
        free(text);
        tl_scenario_free(&s);
        skip();
    }
    read_good(rich_text, &in_comma);
    char *comma_text = written(&in_comma);
    comma_locale_reset();
    assert_same(&s, &in_comma);
    assert_string_equal(text, comma_text);
    free(text);
    free(comma_text);
    tl_scenario_free(&in_comma);
    tl_scenario_free(&s);
}

static void copies_stand_alone(void **state)
{
    struct tl_scenario s;
    struct tl_scenario copy;
    (void)state;
    read_good(rich_text, &s);
    assert_int_equal(tl_scenario_copy(&copy, &s), TL_OK);
    assert_same(&s, &copy);
    assert_ptr_not_equal(s.title, copy.title);
    tl_scenario_free(&s);
    assert_round_trip(&copy);
    tl_scenario_free(&copy);
    tl_scenario_free(&copy); /* an empty one */
}

/* --- bad files ------------------------------------------------------------------------------- */

static char *slurp(const char *path, size_t *length)
{
    char *text = NULL;
    if (tl_read_file(path, 4u * 1024u * 1024u, &text, length))
        fail_msg("%s cannot be read", path);
    return text;
}

/* A file may begin with lines "# set: KEY=VALUE". */
static size_t edits_of(const char *text, char **set, size_t most)
{
    size_t n = 0;
    while (strncmp(text, "# set: ", 7) == 0 && n < most) {
        size_t length = strcspn(text, "\n");
        set[n++] = strndup(text + 7, length - 7);
        text += length + 1;
    }
    return n;
}

static bool is_answered(const char *name)
{
    char path[512];
    char *set[8];
    size_t length;
    size_t expected_length;
    struct tl_scenario s;
    struct tl_diag diag;
    tl_diag_init(&diag);
    tl_format(path, sizeof path, BAD_DIR "/%s", name);
    char *text = slurp(path, &length);
    size_t sets = edits_of(text, set, 8);
    tl_format(path, sizeof path, BAD_DIR "/%.*s.expect", (int)(strlen(name) - 5), name);
    char *expected = slurp(path, &expected_length);

    struct tl_scenario_options options = {.set = (const char *const *)set, .sets = sets};
    int status = tl_scenario_read_text(name, text, length, BAD_DIR "/", &options, &s, &diag);
    char *said = messages(&diag);
    /* the folder of the tests differs from machine to machine */
    for (char *at; (at = strstr(said, BAD_DIR "/"));)
        memmove(at, at + strlen(BAD_DIR "/"), strlen(at + strlen(BAD_DIR "/")) + 1);
    bool right = strcmp(said, expected) == 0 && (status == TL_E_INPUT) == (diag.errors > 0);
    if (!right)
        print_error("%s: is answered with\n%sinstead of\n%s", name, said, expected);
    if (getenv("TOWERLOOP_WRITE_EXPECT")) { /* to look at after a change of messages */
        FILE *f = fopen(path, "w");
        assert_non_null(f);
        fputs(said, f);
        fclose(f);
    }
    if (status == TL_OK)
        tl_scenario_free(&s);
    for (size_t i = 0; i < sets; i++)
        free(set[i]);
    free(said);
    free(expected);
    free(text);
    tl_diag_free(&diag);
    return right;
}

static void bad_files(void **state)
{
    size_t files = 0;
    size_t wrong = 0;
    (void)state;
    DIR *dir = opendir(BAD_DIR);
    assert_non_null(dir);
    for (struct dirent *e; (e = readdir(dir));) {
        size_t length = strlen(e->d_name);
        if (length < 6 || strcmp(e->d_name + length - 5, ".yaml") != 0)
            continue;
        files++;
        wrong += !is_answered(e->d_name);
    }
    closedir(dir);
    assert_true(files >= 40);
    assert_int_equal(wrong, 0);
}

/* --- bounds ---------------------------------------------------------------------------------- */

static void expect_only(const char *text, size_t length, const char *expected)
{
    struct tl_scenario s;
    struct tl_diag diag;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read_text("big.yaml", text, length, NULL, NULL, &s, &diag),
                     TL_E_INPUT);
    char *said = messages(&diag);
    if (!strstr(said, expected))
        print_error("%.60s is answered with\n%.500s\n", text, said);
    assert_non_null(strstr(said, expected));
    assert_true(diag.count <= 201);
    free(said);
    tl_diag_free(&diag);
}

static char *repeated(const char *start, const char *part, size_t times, const char *end,
                      size_t *length)
{
    struct tl_text t = {0};
    tl_text_add(&t, start);
    for (size_t i = 0; i < times; i++)
        tl_text_add(&t, part);
    tl_text_add(&t, end);
    *length = t.length;
    return t.data;
}

static void bounds(void **state)
{
    static const struct {
        const char *start, *part;
        size_t times;
        const char *end, *said;
    } big[] = {
        {"#", "x", 1024 * 1024, "", "big.yaml: larger than 1 MiB; expected a smaller file\n"},
        {"a: ", "[", 40, "",
         "big.yaml:1:35: nested deeper than 32 levels; expected a flatter file\n"},
        {"a: ", "[", 1000 * 1000, "", "nested deeper than 32 levels"},
        {"", "{x: ", 40, "", "nested deeper than 32 levels"},
        {"", "? ", 4000, "", "nested deeper than 32 levels"},
        {"", "- ", 4000, "", "nested deeper than 32 levels"},
        {"<<: ", "[", 40, "", "nested deeper than 32 levels"},
        {"a: [", "1,", 200 * 1000, "", "more than 100000 nodes; expected a smaller file\n"},
        {"", "a: 1\n", 49 * 1000, "", "big.yaml:2:1: a: this key stands here a second time"},
        {"fish: [", "{},", 49 * 1000, "]",
         "fish: 49000 groups of fish; expected at most 100 groups"},
        {"variants: [", "{},", 101, "]", "variants: 101 variants; expected at most 100 variants"},
        {"feeding: {meals: [", "1,", 1441, "]}",
         "feeding.meals: 1441 meals a day; expected at most 1440 meals a day, one a minute"},
        {"events: [", "{},", 10001, "]", "events: 10001 events; expected at most 10000 events"},
        {"events: [", "{},", 10000, "]", "events[0].at: missing; expected a time: day 20"},
        {"feeding: {meals: [", "08:00,", 1440, "]}",
         "feeding.meals[1]: 08:00 stands here a second"},
        {"feeding: {ration: [", "{at: 1 degC},", 20 * 1000, "]}",
         "feeding.ration[0].ration: missing"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof big / sizeof *big; i++) {
        size_t length;
        char *text = repeated(big[i].start, big[i].part, big[i].times, big[i].end, &length);
        assert_non_null(text);
        expect_only(text, length, big[i].said);
        free(text);
    }
}

/* Many faults, each with a suggestion and a place to look up, are answered soon. */
static void many_unknown_keys(void **state)
{
    struct tl_text t = {0};
    (void)state;
    tl_text_add(&t, "parameters: {");
    for (int i = 0; i < 49000; i++)
        tl_text_addf(&t, "mu_ao%d: 1,\n", i);
    tl_text_add(&t, "}");
    expect_only(t.data, t.length,
                "big.yaml:1:14: parameters.mu_ao0: unknown key (did you mean \"mu_aob\"?)");
    tl_text_free(&t);
}

/* Any start of a good file is answered and crashes nothing. */
static void every_start_of_a_file(void **state)
{
    (void)state;
    for (size_t length = 0; length < strlen(rich_text); length++) {
        struct tl_scenario s;
        struct tl_diag diag;
        tl_diag_init(&diag);
        int status = tl_scenario_read_text("cut.yaml", rich_text, length, NULL, NULL, &s, &diag);
        assert_true(status == TL_OK || status == TL_E_INPUT);
        if (status == TL_OK)
            tl_scenario_free(&s);
        tl_diag_free(&diag);
    }
}

/* Nor do bytes that are changed at random. */
static void damaged_files(void **state)
{
    uint64_t seed = 4711;
    (void)state;
    for (int round = 0; round < 3000; round++) {
        char text[sizeof rich_text];
        struct tl_scenario s;
        struct tl_diag diag;
        memcpy(text, round % 2 ? rich_text : good_text,
               round % 2 ? sizeof rich_text : sizeof good_text);
        size_t length = strlen(text);
        for (int i = 0; i < 3; i++)
            text[(size_t)(uniform(&seed) * (double)length)] =
                (char)(unsigned char)(uniform(&seed) * 256);
        tl_diag_init(&diag);
        int status = tl_scenario_read_text("bad.yaml", text, length, NULL, NULL, &s, &diag);
        assert_true(status == TL_OK || status == TL_E_INPUT);
        char *said = messages(&diag);
        assert_int_equal(tl_utf8_fault(said, strlen(said)), strlen(said));
        free(said);
        if (status == TL_OK)
            tl_scenario_free(&s);
        tl_diag_free(&diag);
    }
}

static void no_file(void **state)
{
    struct tl_scenario s;
    struct tl_diag diag;
    (void)state;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(BAD_DIR "/no such.yaml", NULL, &s, &diag), TL_E_IO);
    assert_int_equal(tl_scenario_read(BAD_DIR, NULL, &s, &diag), TL_E_IO);
    assert_int_equal(diag.errors, 2);
    assert_string_equal(diag.message[0].what, "No such file or directory");
    tl_diag_free(&diag);
}

/* --- messages -------------------------------------------------------------------------------- */

static void control_characters_are_shown(void **state)
{
    struct tl_diag_message m = {.level = TL_DIAG_WARNING,
                                .file = (char *)"a\x1b[31m\n",
                                .line = 3,
                                .key = (char *)"k\xc2\x9bz",
                                .what = (char *)"\xff\xc3\xbc\xe2\x80\xae\xef\xbb\xbf",
                                .expected = (char *)"e\x7f"};
    (void)state;
    char *text = tl_diag_text(&m);
    assert_string_equal(
        text, "a\\x1b[31m\\n:3: warning: k\\x9bz: \\xff\xc3\xbc\\u202e\\ufeff; expected e\\x7f");
    free(text);
}

static void nearest_words(void **state)
{
    static const char *const words[] = {"volume", "surface", "wetted walls"};
    (void)state;
    assert_int_equal(tl_nearest("volmue", words, 3), 0);
    assert_int_equal(tl_nearest("Volume", words, 3), 0);
    assert_int_equal(tl_nearest("surfaces", words, 3), 1);
    assert_int_equal(tl_nearest("weted wals", words, 3), 2);
    assert_int_equal(tl_nearest("colour", words, 3), -1);
    assert_int_equal(tl_nearest("", words, 3), -1);
    const char *const ph[] = {"pH"};
    assert_int_equal(tl_nearest("ph", ph, 1), 0);
    assert_int_equal(tl_nearest("KH", ph, 1), -1); /* carbonate hardness, no slip */
}

/* Variants, costs and building: read, copied, and one of them carried out. */
static void variants(void **state)
{
    static const char more[] = "costs: {currency: crowns, electricity: 0.30 per kWh, tray: 12}\n"
                               "building: {tray gap: 5 cm}\n"
                               "variants:\n"
                               "  - name: more fish\n"
                               "    set:\n"
                               "      tower.trays: 7\n"
                               "      pump: {flow: 3 m3/h, to tower: 50 %}\n"
                               "      title: \"a \\\"quoted\\\" one\"\n"
                               "      events: [{at: day 1, pump: off, for: 2 h}]\n"
                               "  - {name: as it is}\n";
    struct tl_scenario s, copy, v;
    struct tl_diag diag;
    (void)state;
    char *text = NULL;
    struct tl_text all = {0};
    tl_text_addf(&all, "%s%s", good_text, more);
    read_good(tl_text_string(&all), &s);
    assert_string_equal(s.costs.currency, "crowns");
    near(s.costs.electricity_per_kwh, 0.30, 0);
    near(s.costs.tray_each, 12, 0);
    assert_true(isnan(s.costs.water_per_m3));
    near(s.setup.tower.tray_gap_m, 0.05, 1e-15);
    near(s.building.bulk_density_kg_m3, 800, 0); /* as the media */
    assert_int_equal(s.variants, 2);
    assert_int_equal(s.variant[1].sets, 0);
    assert_int_equal(tl_scenario_copy(&copy, &s), TL_OK);
    const struct tl_variant *more_fish = &copy.variant[0];
    assert_string_equal(more_fish->name, "more fish");
    assert_int_equal(more_fish->sets, 4);

    FILE *f = fopen("variants.yaml", "w");
    assert_non_null(f);
    fputs(tl_text_string(&all), f);
    fclose(f);
    tl_diag_init(&diag);
    const char *const set[] = {"tower.trays=9"};
    const struct tl_scenario_options options = {.set = set, .sets = 1};
    assert_int_equal(tl_scenario_read_variant("variants.yaml", NULL, more_fish, &v, &diag), TL_OK);
    assert_int_equal(v.setup.tower.trays, 7);
    near(v.setup.pump_flow_m3_d, 72, 1e-12);
    near(v.setup.to_tower, 0.5, 0);
    assert_string_equal(v.title, "a \"quoted\" one");
    assert_int_equal(v.setup.events, 1);
    assert_int_equal(tl_scenario_text(&v, &text), TL_OK);
    assert_null(strstr(text, "variants"));
    free(text);
    tl_scenario_free(&v);
    /* the command's own changes come after it */
    assert_int_equal(tl_scenario_read_variant("variants.yaml", &options, more_fish, &v, &diag),
                     TL_OK);
    assert_int_equal(v.setup.tower.trays, 9);
    tl_scenario_free(&v);
    assert_int_equal(diag.count, 0);

    char *spoilt = more_fish->set[0];
    copy.variant[0].set[0] = strdup("tower.treys=7");
    assert_int_equal(tl_scenario_read_variant("variants.yaml", NULL, more_fish, &v, &diag),
                     TL_E_INPUT);
    char *said = messages(&diag);
    assert_non_null(strstr(said, "variant \"more fish\": tower.treys: unknown key"));
    assert_ptr_equal(strstr(said, "variants.yaml:"), said);
    free(said);
    free(copy.variant[0].set[0]);
    copy.variant[0].set[0] = spoilt;
    tl_diag_free(&diag);
    tl_text_free(&all);
    tl_scenario_free(&copy);
    tl_scenario_free(&s);
    remove("variants.yaml");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sample),
        cmocka_unit_test(the_rich_one),
        cmocka_unit_test(cold_meals),
        cmocka_unit_test(rinsed_in_tap_water),
        cmocka_unit_test(growth),
        cmocka_unit_test(saved_by_another_editor),
        cmocka_unit_test(readings),
        cmocka_unit_test(edits),
        cmocka_unit_test(bad_edits),
        cmocka_unit_test(round_trip),
        cmocka_unit_test(round_trip_of_any_double),
        cmocka_unit_test(outdoors),
        cmocka_unit_test(weather_log),
        cmocka_unit_test(sensible_doses),
        cmocka_unit_test(weather_beside_a_temperature),
        cmocka_unit_test(the_locale_does_not_matter),
        cmocka_unit_test(copies_stand_alone),
        cmocka_unit_test(bad_files),
        cmocka_unit_test(bounds),
        cmocka_unit_test(many_unknown_keys),
        cmocka_unit_test(every_start_of_a_file),
        cmocka_unit_test(damaged_files),
        cmocka_unit_test(no_file),
        cmocka_unit_test(control_characters_are_shown),
        cmocka_unit_test(nearest_words),
        cmocka_unit_test(variants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
