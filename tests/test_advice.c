/* Advice: a lever is listed only when its own run did improve the worst limit. */
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
#include "towerloop/advice.h"
#include "towerloop/status.h"

static void read_scenario(const char *const *set, size_t sets, struct tl_scenario *s)
{
    struct tl_scenario_options options = {.set = set, .sets = sets};
    struct tl_diag d;
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(DATA_DIR "/section10_parameters.yaml", &options, s, &d),
                     TL_OK);
    tl_diag_free(&d);
}

static void assess(const struct tl_scenario *s, struct tl_assessment *a)
{
    struct tl_model *m = NULL;
    assert_int_equal(tl_model_build(&s->setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &s->limits, NULL, a), TL_OK);
    tl_model_free(m);
}

/* How far it got, counted by the calls. */
struct told {
    size_t calls, levers;
};

static void hear(void *arg, size_t lever, size_t levers)
{
    struct told *t = arg;
    assert_int_equal(lever, ++t->calls);
    assert_true(t->levers == 0 || levers == t->levers);
    t->levers = levers;
}

static void advise_in(enum tl_unit_system units, const char *const *set, size_t sets,
                      struct tl_assessment *base, struct tl_advice *out)
{
    struct tl_scenario s;
    struct told told = {0};
    const struct tl_advise_options options = {
        .units = units, .progress = hear, .progress_arg = &told};
    read_scenario(set, sets, &s);
    assess(&s, base);
    assert_int_equal(tl_advise(&s, base, &options, out), TL_OK);
    assert_int_equal(told.calls, told.levers); /* to the last */
    assert_true(told.calls >= out->tried);
    for (size_t i = 0; i < out->items; i++)
        print_message("- %s: %s\n", out->item[i].lever, out->item[i].because);
    print_message("(%zu tried) %s\n", out->tried, out->limiting);
    tl_scenario_free(&s);
}

static int lists(const struct tl_advice *a, const char *word)
{
    for (size_t i = 0; i < a->items; i++)
        if (strstr(a->item[i].lever, word))
            return 1;
    return 0;
}

static void advise(const char *const *set, size_t sets, struct tl_assessment *base,
                   struct tl_advice *out)
{
    advise_in(TL_METRIC, set, sets, base, out);
}

static const char *const frost[] = {
    "temperature=from weather",
    "weather={air temperature: {mean: -4 degC, daily swing: 3 degC}, latitude: 48 deg}",
    "start=2027-01-05",
    "starting water.temperature=5 degC",
    "length=12 d",
    "tank.wall heat loss=4 W/m2/K",
    "fish=[{name: koi, count: 1, mean mass: 100 g}]"};

/* Too cold: what keeps warmth in or brings it. The heater is sized so that its run stays out of caution. */
static void cold_water(void **state)
{
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(frost, 7, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_COLD].grade, TL_DANGER);
    assert_non_null(strstr(a.item[0].lever, "a heater of "));
    assert_non_null(strstr(a.item[0].because, "temperature, low side at worst "));
    assert_false(lists(&a, "a net over the water"));

    /* run it with that heater, and with half of its power */
    double kw = strtod(strstr(a.item[0].lever, "heater of ") + strlen("heater of "), NULL);
    if (strstr(a.item[0].lever, " W "))
        kw /= 1000;
    for (int half = 0; half < 2; half++) {
        char power[64];
        const char *set[9];
        struct tl_scenario s;
        struct tl_assessment with;
        memcpy(set, frost, sizeof frost);
        snprintf(power, sizeof power, "heater.power=%g W", (half ? 500 : 1000) * kw);
        set[7] = power;
        set[8] = "heater.keep at=4 degC";
        read_scenario(set, 9, &s);
        assess(&s, &with);
        assert_int_equal(with.verdict.limit[TL_LIMIT_COLD].grade > TL_WITHIN, half);
        tl_scenario_free(&s);
    }
}

/* A milder spell: the tower shut, a cover or walls of foam help by themselves. */
static void cool_water(void **state)
{
    const char *set[10];
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    memcpy(set, frost, sizeof frost);
    set[1] = "weather={air temperature: {mean: 1 degC, daily swing: 4 degC}, latitude: 48 deg}";
    set[3] = "starting water.temperature=7 degC";
    set[7] = "source water.temperature=8 degC";
    advise(set, 8, &base, &a);
    assert_true(base.verdict.limit[TL_LIMIT_COLD].grade > TL_WITHIN);
    assert_true(lists(&a, "shut the tower from the first frost on, for 12 days"));
    assert_true(lists(&a, "cover 90 % of the water"));

    /* where little else takes the warmth */
    set[5] = "tank.wall heat loss=6 W/m2/K";
    set[8] = "tank.cover=90 %";
    set[9] = "pump.to tower=0 %";
    advise(set, 10, &base, &a);
    assert_true(lists(&a, "insulate the walls"));
    assert_false(lists(&a, "cover 90 %") || lists(&a, "shut the tower"));
}

/* Too warm. */
static void warm_water(void **state)
{
    static const char *const set[] = {"temperature=from weather",
                                      "weather={air temperature: {mean: 31 degC, daily swing: 6 "
                                      "degC}, latitude: 35 deg, cloud: 0 %, "
                                      "humidity: 90 %}",
                                      "start=2027-07-05",
                                      "starting water.temperature=29 degC",
                                      "length=12 d",
                                      "limits.temperature.caution high=29 degC",
                                      "limits.temperature.danger high=30 degC",
                                      "fish=[{name: koi, count: 1, mean mass: 100 g}]"};
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(set, 8, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_WARM].grade, TL_DANGER);
    assert_true(lists(&a, "a net over the water"));
    assert_false(lists(&a, "a heater of ") || lists(&a, "take the cover off"));
}

/* Few fish in soft water: nothing to say, nothing tried. */
static void nothing_to_say(void **state)
{
    (void)state;
    static const char *const set[] = {"length=5 d", "fish[0].count=2", "temperature=20 degC",
                                      "source water.alkalinity=80 mg/L as CaCO3",
                                      "starting water={pH: 8.0}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 5, &base, &advice);
    assert_int_equal(base.verdict.grade, TL_WITHIN);
    assert_int_equal(advice.items, 0);
    assert_int_equal(advice.tried, 0);
    assert_string_equal(advice.limiting, "");
}

/* The lever that is named first does what it promises when it is pulled by hand. */
static void a_lever_keeps_its_promise(void **state)
{
    (void)state;
    static const char *const set[] = {"length=20 d"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 1, &base, &advice);
    assert_int_equal(base.verdict.grade, TL_DANGER);
    assert_true(advice.items > 0 && advice.tried >= advice.items);
    assert_true(lists(&advice, "trays instead of 16"));

    static const char *const more[] = {"length=20 d", "tower.trays=24"};
    struct tl_scenario s;
    struct tl_assessment after;
    read_scenario(more, 2, &s);
    assess(&s, &after);
    assert_true(after.verdict.limit[TL_LIMIT_NH3].worst < base.verdict.limit[TL_LIMIT_NH3].worst);
    char promised[32];
    (void)snprintf(promised, sizeof promised, "%.2g", after.verdict.limit[TL_LIMIT_NH3].worst);
    for (size_t i = 0; i < advice.items; i++)
        if (strstr(advice.item[i].lever, "trays instead of 16"))
            assert_non_null(strstr(advice.item[i].because, promised));
    tl_scenario_free(&s);
}

/* No pump, no air: only a supply that does not stop is left to name; salt would do nothing. */
static void a_night_without_power(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=3 d", "fish[0].count=120",
        "events=[{at: day 1, pump: off, for: 9 h}, {at: day 1, aerator: off, for: 9 h}]"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 3, &base, &advice);
    assert_int_equal(base.verdict.limit[TL_LIMIT_O2].grade, TL_DANGER);
    assert_true(lists(&advice, "pump") || lists(&advice, "aerator"));
    assert_false(lists(&advice, "salt"));
}

/* Soft source water: baking soda is named, and the amount is a sensible one. */
static void soft_water(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=60 d",
        "source water.alkalinity=60 mg/L as CaCO3",
        "source water.pH=7.4",
        "limits.ammonia={caution: 5 mg/L as N, danger: 9 mg/L as N}",
        "limits.total ammonia={caution: 50 mg/L as N, danger: 90 mg/L as N}",
        "limits.nitrite={caution: 50 mg/L as N, danger: 90 mg/L as N}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 6, &base, &advice);
    assert_true(base.verdict.limit[TL_LIMIT_ALK].grade == TL_DANGER);
    assert_true(lists(&advice, "baking soda"));
}

/* Alkalinity is furthest beyond its limit, and what kills is the ammonia that a filter without it leaves:
 * help is sought against both, and told with what is won and what stays. */
static void against_every_danger(void **state)
{
    (void)state;
    static const char *const set[] = {"length=40 d", "fish[0].count=60",
                                      "source water={alkalinity: 20 mg/L as CaCO3, pH: 7.2}",
                                      "starting water={pH: 7.6}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 4, &base, &advice);
    const struct tl_limit_verdict *v = base.verdict.limit;
    assert_int_equal(v[TL_LIMIT_ALK].grade, TL_DANGER);
    assert_int_equal(v[TL_LIMIT_NH3].grade, TL_DANGER);
    assert_true(v[TL_LIMIT_ALK].danger / v[TL_LIMIT_ALK].worst >
                v[TL_LIMIT_NH3].worst / v[TL_LIMIT_NH3].danger);
    assert_true(lists(&advice, "baking soda from the first day on"));
    assert_true(lists(&advice, "plain salt")); /* against nitrite and nothing else */
    assert_non_null(strstr(advice.limiting, "ammonia peak"));
    int won = 0, stays = 0;
    for (size_t i = 0; i < advice.items; i++) {
        won += strstr(advice.item[i].because, "out of danger: ") != NULL;
        stays += strstr(advice.item[i].because, "still danger: ") != NULL;
    }
    assert_true(won > 0 && stays > 0);
}

/* Fish that suffocate: what keeps them alive comes before all that betters other limits, and who dies all the same
 * is told so. */
static void lives_come_first(void **state)
{
    (void)state;
    static const char *const set[] = {"length=40 d",
                                      "fish[0].count=110",
                                      "source water={alkalinity: 20 mg/L as CaCO3, pH: 7.2}",
                                      "starting water={pH: 7.6}",
                                      "aerator.oxygen transfer=0 g/d",
                                      "events=[{at: day 30 20:00, pump: off, for: 12 h}]"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, sizeof set / sizeof *set, &base, &advice);
    assert_true(isfinite(base.fish_lost_d));
    assert_true(advice.items > 1);
    assert_null(strstr(advice.item[0].because, "lost all the same"));
    size_t lost = 0;
    for (size_t i = 1; i < advice.items; i++) {
        const bool dies = strstr(advice.item[i].because, "lost all the same") != NULL;
        assert_true(dies || lost == 0);
        lost += dies;
    }
    assert_true(lost > 0);
}

/* New media: seeding is named, and the film is said to be young. */
static void new_media(void **state)
{
    (void)state;
    static const char *const set[] = {"length=40 d", "fish[0].count=50", "tower.biofilm=new",
                                      "feeding.ration=0.6 %/d"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 4, &base, &advice);
    assert_true(lists(&advice, "seed the media"));
    assert_non_null(strstr(advice.limiting, "mature film"));
}

/* The verdict does not depend on who else looks on. */
static int idle(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    (void)arg;
    (void)t_d;
    (void)c;
    (void)y;
    return TL_OK;
}

static void same_verdict_whoever_looks(void **state)
{
    (void)state;
    static const char *const set[] = {"length=10 d"};
    struct tl_scenario s;
    struct tl_model *m = NULL;
    struct tl_assessment a;
    struct tl_assessment b;
    struct tl_observer o = {0.0123, 0, idle, NULL};
    struct tl_assess_options options = {.observer = &o, .observers = 1};
    read_scenario(set, 1, &s);
    assert_int_equal(tl_model_build(&s.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &s.limits, NULL, &a), TL_OK);
    assert_int_equal(tl_assess(m, &s.limits, &options, &b), TL_OK);
    for (int i = 0; i < TL_NLIMIT; i++)
        assert_memory_equal(&a.verdict.limit[i].worst, &b.verdict.limit[i].worst, sizeof(double));
    tl_model_free(m);
    tl_scenario_free(&s);
}

/* 140, and not 1.4e+02. */
static void large_figures_are_written_out(void **state)
{
    (void)state;
    static const char *const set[] = {"length=10 d", "starting water={nitrate: 150 mg/L as N}",
                                      "fish[0].count=5", "water change={trickle: 4 %/d}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 4, &base, &advice);
    assert_int_equal(base.verdict.limit[TL_LIMIT_NO3].grade, TL_DANGER);
    assert_true(advice.items > 0);
    for (size_t i = 0; i < advice.items; i++) {
        assert_null(strstr(advice.item[i].because, "e+"));
        assert_non_null(strstr(advice.item[i].because, "was 150 mg/L as N"));
    }
}

/* Taking chlorine out is named whatever else is worse, first, and with what then comes to light; more of
 * the same water is not. */
static void chlorine_first(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=20 d",
        "tower.trays=8",
        "fish[0].count=80",
        "feeding.ration=1 %/d",
        "source water={alkalinity: 3 meq/L, pH: 7.8, chlorine: 4 mg/L}",
        "source water.chlorine form=chloramine",
        "water change={trickle: 30 %/d}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 7, &base, &advice);
    assert_int_equal(base.verdict.limit[TL_LIMIT_CHLORINE].grade, TL_DANGER);
    assert_int_equal(base.verdict.limit[TL_LIMIT_NO2].grade, TL_WITHIN);
    assert_non_null(strstr(advice.item[0].lever, "stir 28 g of sodium thiosulfate"));
    assert_non_null(strstr(advice.item[0].because, "nitrite then rises to"));
    assert_false(lists(&advice, "trickle"));
    /* the same by the ounce: 28 g/m3 x 3.785411784 m3 / 28.349523125 g = 3.739 */
    advise_in(TL_US, set, 7, &base, &advice);
    assert_non_null(strstr(advice.item[0].lever, "stir 3.7 oz of sodium thiosulfate into each 1000 "
                                                 "gal of new water"));
}

/* Words in ounces where the keeper reads ounces, of the same lever. */
static void in_units_of_the_keeper(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=60 d",
        "source water.alkalinity=60 mg/L as CaCO3",
        "source water.pH=7.4",
        "limits.ammonia={caution: 5 mg/L as N, danger: 9 mg/L as N}",
        "limits.total ammonia={caution: 50 mg/L as N, danger: 90 mg/L as N}",
        "limits.nitrite={caution: 50 mg/L as N, danger: 90 mg/L as N}"};
    struct tl_assessment base;
    struct tl_advice metric, us;
    advise_in(TL_METRIC, set, 6, &base, &metric);
    advise_in(TL_US, set, 6, &base, &us);
    assert_int_equal(metric.items, us.items);
    int weighed = 0;
    for (size_t i = 0; i < us.items; i++) {
        static const char lead[] = "baking soda, ";
        char *unit;
        if (strncmp(metric.item[i].lever, lead, sizeof lead - 1) != 0)
            continue;
        const double g = strtod(metric.item[i].lever + sizeof lead - 1, &unit);
        assert_int_equal(strncmp(unit, " g twice", 8), 0);
        const double oz = strtod(us.item[i].lever + sizeof lead - 1, &unit);
        assert_int_equal(strncmp(unit, " oz twice", 9), 0);
        near_rel(oz * 28.349523125, g, 0.01); /* two digits each */
        weighed++;
    }
    assert_int_equal(weighed, 1);
}

/* A plan that holds far more alkalinity than nitrifiers need drives the pH up: hold less. */
static void a_plan_that_overdoses(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=20 d",
        "fish[0].count=4",
        "temperature=26 degC",
        "source water={alkalinity: 100 mg/L as CaCO3, pH: 7.8}",
        "starting water={pH: 8.2, ammonia: 0.4 mg/L as N}",
        "tower.biofilm=new",
        "dosing.baking soda={hold alkalinity: 900 mg/L as CaCO3, every: 1 d}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 7, &base, &advice);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_true(lists(&advice, "hold the alkalinity at 450 mg/L as CaCO3 instead of 900 mg/L"));
    /* no plan, or one that holds little, is not told to hold less */
    static const char *const little[] = {
        "length=20 d", "fish[0].count=20", "temperature=26 degC", "tower.biofilm=new",
        "dosing.baking soda={hold alkalinity: 85 mg/L as CaCO3, every: 1 d}"};
    advise(little, 5, &base, &advice);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_false(lists(&advice, "hold the alkalinity"));
}

/* Free chlorine below its limit that kills the film faster than it grows: dechlorinating is tried. */
static void chlorine_that_only_films_feel(void **state)
{
    (void)state;
    static const char *const set[] = {
        "length=40 d", "fish[0].count=40",
        "source water={alkalinity: 150 mg/L as CaCO3, pH: 7.8, chlorine: 4 mg/L}",
        "starting water.chlorine=0 mg/L", "water change={trickle: 10 %/d}"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 5, &base, &advice);
    assert_int_equal(base.verdict.limit[TL_LIMIT_CHLORINE].grade, TL_WITHIN);
    assert_int_equal(base.verdict.grade, TL_DANGER);
    assert_non_null(strstr(advice.item[0].lever, "sodium thiosulfate"));
    assert_non_null(strstr(advice.limiting, "chlorine"));
}

/* Danger to the fish taken away is worth a caution elsewhere, which is said. */
static void a_caution_for_a_danger(void **state)
{
    (void)state;
    static const char *const set[] = {"length=60 d",
                                      "fish[0].count=60",
                                      "feeding.ration=0.5 %/d",
                                      "pump.fouling=100 %/month",
                                      "temperature=24 degC",
                                      "source water.alkalinity=96 mg/L as CaCO3"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(set, 6, &base, &advice);
    assert_int_equal(base.verdict.grade, TL_DANGER);
    assert_int_equal(base.verdict.limit[TL_LIMIT_ALK].grade, TL_WITHIN);
    assert_true(lists(&advice, "clean the pump often enough"));
    int said = 0;
    for (size_t i = 0; i < advice.items; i++)
        said |= strstr(advice.item[i].lever, "clean the pump") &&
                strstr(advice.item[i].because, "; alkalinity then falls to ") &&
                strstr(advice.item[i].because, ": caution");
    assert_true(said);
    assert_non_null(strstr(advice.limiting, "no water, or a mere trickle, crossed the tower"));
}

/* Media that are hardly wet are put up narrower. Where they are wet nobody says so. */
static void dry_media_are_wetted(void **state)
{
    (void)state;
    static const char *const dry[] = {
        "length=12 d",         "tower.trays=1",          "tower.plan area=3.6 m2",
        "fish[0].count=3",     "fish[0].mean mass=7 kg", "source water.alkalinity=60 mg/L as CaCO3",
        "tower.biofilm=mature"};
    static const char *const wet[] = {"length=12 d", "tower.trays=12", "tower.plan area=0.27 m2",
                                      "tower.biofilm=mature"};
    struct tl_assessment base;
    struct tl_advice advice;
    advise(dry, 7, &base, &advice);
    assert_true(lists(&advice, "4 trays of 0.9 m2 instead of 1 of 3.6 m2"));
    advise(wet, 4, &base, &advice);
    assert_true(advice.tried > 0);
    assert_false(lists(&advice, "narrower"));
}

static const char *because(const struct tl_advice *a, const char *word)
{
    for (size_t i = 0; i < a->items; i++)
        if (strstr(a->item[i].lever, word))
            return a->item[i].because;
    fail_msg("nothing says: %s", word);
    return NULL;
}

/* Ice closes the water and the fish run out of oxygen. That is the worst limit, but what keeps the water
 * open comes first: an aerator leaves the fish in water that freezes. A heater helps where no limit of cold
 * is set, too. */
static void ice_over_fish(void **state)
{
    const char *set[11];
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    memcpy(set, frost, sizeof frost);
    set[1] = "weather={air temperature: -15 degC, latitude: 48 deg}";
    set[4] = "length=40 d";
    set[6] = "fish=[{name: koi, count: 60, mean mass: 500 g}]";
    set[7] = "aerator.oxygen transfer=0 g/d";
    set[8] = "pump.flow=0 m3/h";
    set[9] = "feeding={}";
    advise(set, 10, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_O2].grade, TL_DANGER);
    assert_true(base.heat.ice_h > 0);
    assert_non_null(strstr(a.item[0].lever, "a heater of "));
    assert_non_null(strstr(a.item[0].because, "no ice, was "));
    assert_true(lists(&a, "an aerator of "));

    memcpy(set, frost, sizeof frost);
    set[7] = "limits.temperature={caution low: none, danger low: none}";
    advise(set, 8, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_COLD].grade, TL_WITHIN);
    assert_non_null(strstr(a.item[0].lever, "a heater of "));
    assert_non_null(strstr(a.item[0].because, "no ice, was "));
}

/* Cold water let in at once: the cure is at the tap, and not a cover or a net that make the tank a little
 * colder beforehand. */
static void cold_tap(void **state)
{
    static const char *const set[] = {
        "temperature=from weather",
        "weather={air temperature: {mean: 20 degC, daily swing: 4 degC}, latitude: 48 deg}",
        "start=2027-06-20",
        "starting water.temperature=22 degC",
        "source water.temperature=4 degC",
        "length=12 d",
        "fish=[{name: koi, count: 4, mean mass: 500 g}]",
        "events=[{at: day 5 12:00, change water: 60 %}]"};
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(set, 8, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_HOUR_CHANGE].grade, TL_DANGER);
    assert_non_null(strstr(a.item[0].lever, "bring new water to the temperature of the tank"));
    assert_true(lists(&a, "change half as much water at once, and the rest a day later"));
    assert_false(lists(&a, "cover") || lists(&a, "a net") || lists(&a, "insulate"));

    /* degrees of change, in those of the keeper */
    advise_in(TL_US, set, 8, &base, &a);
    assert_non_null(strstr(a.item[0].because, " degF"));
    assert_null(strstr(a.item[0].because, "degC"));
    assert_null(strstr(a.item[0].lever, "degC"));
    double after = 0, before = 0;
    const char *said = because(&a, "change half as much");
    assert_int_equal(
        sscanf(said, "temperature change in an hour at worst %lf, was %lf degF", &after, &before),
        2);
    near(before, 1.8 * base.verdict.limit[TL_LIMIT_HOUR_CHANGE].worst, 0.051);
}

/* A heater that failed wants another one; one that is set too high, a lower mark. */
static void heaters(void **state)
{
    const char *set[10];
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    memcpy(set, frost, sizeof frost);
    set[3] = "starting water.temperature=9 degC";
    set[7] = "heater={power: 12 kW, keep at: 9 degC}";
    set[8] = "events=[{at: day 3, heater: off, for: 6 d}]";
    advise(set, 9, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_COLD].grade, TL_DANGER);
    assert_non_null(strstr(a.item[0].lever, "a second heater ready"));
    assert_false(lists(&a, "a heater of "));

    /* one that is too weak as well is replaced by one that keeps what it was to keep */
    set[7] = "heater={power: 1 kW, keep at: 9 degC}";
    set[8] = "title=x";
    advise(set, 9, &base, &a);
    assert_non_null(strstr(a.item[0].lever, " set to 9 degC"));

    set[1] = "weather={air temperature: 12 degC, latitude: 48 deg}";
    set[7] = "heater={power: 100 kW, keep at: 40 degC}";
    advise(set, 9, &base, &a);
    assert_int_equal(base.verdict.limit[TL_LIMIT_WARM].grade, TL_DANGER);
    assert_non_null(strstr(a.item[0].lever, "set the heater to 13 degC at first instead of 40"));
}

/* What is fed in the cold stays in the water; a pH that then is not held down is no price for it. */
static void fed_in_the_cold(void **state)
{
    static const char *const set[] = {"temperature=4 degC", "length=20 d", "fish[0].count=60",
                                      "tower.trays=8"};
    static const char *const table[] = {"temperature=4 degC",
                                        "length=20 d",
                                        "fish[0].count=60",
                                        "tower.trays=8",
                                        "feeding.ration={8 degC: 0 %/d, 12 degC: 1 %/d}",
                                        "starting water={ammonia: 3 mg/L as N, pH: 8.3}"};
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(set, 4, &base, &a);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_non_null(strstr(a.item[0].lever, "feed nothing while the water is below 8 degC"));
    advise(table, 6, &base, &a);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_false(lists(&a, "feed nothing"));
}

/* No run for what cannot help: media that are wet, a tower that had no water or no film. */
static void levers_that_cannot_help(void **state)
{
    static const char *const wet[] = {"length=10 d", "tower.plan area=0.32 m2"};
    static const char *const bare[] = {"length=10 d", "tower.biofilm=new"};
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(wet, 2, &base, &a);
    assert_true(a.items > 0);
    assert_false(lists(&a, "narrower"));
    assert_int_equal(a.tried, 4);
    advise(bare, 2, &base, &a);
    assert_true(base.limiting.film < 0.5);
    assert_false(lists(&a, "trays instead of"));
    assert_int_equal(a.tried, 4);
}

/* Dead fish that lie for good: found within a day they harm less. Who finds them sooner needs no such advice. */
static void dead_fish(void **state)
{
    static const char *const lie[] = {"length=30 d",
                                      "events=[{at: day 5, dead fish: {name: koi, count: 12}}]"};
    static const char *const found[] = {
        "length=30 d", "events=[{at: day 5, dead fish: {name: koi, count: 12, left: 6 h}}]"};
    struct tl_assessment base;
    struct tl_advice a;
    (void)state;
    advise(lie, 2, &base, &a);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_true(lists(&a, "look for dead fish every day, and take them out within 1 day"));
    advise(found, 2, &base, &a);
    assert_true(base.verdict.grade > TL_WITHIN);
    assert_false(lists(&a, "dead fish"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_to_say),
        cmocka_unit_test(a_lever_keeps_its_promise),
        cmocka_unit_test(a_night_without_power),
        cmocka_unit_test(soft_water),
        cmocka_unit_test(against_every_danger),
        cmocka_unit_test(lives_come_first),
        cmocka_unit_test(new_media),
        cmocka_unit_test(chlorine_first),
        cmocka_unit_test(in_units_of_the_keeper),
        cmocka_unit_test(a_plan_that_overdoses),
        cmocka_unit_test(chlorine_that_only_films_feel),
        cmocka_unit_test(a_caution_for_a_danger),
        cmocka_unit_test(large_figures_are_written_out),
        cmocka_unit_test(same_verdict_whoever_looks),
        cmocka_unit_test(cold_water),
        cmocka_unit_test(cool_water),
        cmocka_unit_test(warm_water),
        cmocka_unit_test(dry_media_are_wetted),
        cmocka_unit_test(ice_over_fish),
        cmocka_unit_test(cold_tap),
        cmocka_unit_test(heaters),
        cmocka_unit_test(fed_in_the_cold),
        cmocka_unit_test(levers_that_cannot_help),
        cmocka_unit_test(dead_fish),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
