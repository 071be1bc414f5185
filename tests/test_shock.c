/* Film that is knocked out, fish left dead, media that dry: what they do to the state, and that the
 * books close. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "process.h"
#include "runs.h"
#include "towerloop/air.h"
#include "towerloop/ledger.h"
#include "towerloop/shock.h"
#include "towerloop/shock_watch.h"
#include "towerloop/status.h"
#include "towerloop/still_watch.h"

#define INSTANT_D 1e-6

static void closes(const struct run *r, double length_d, struct tl_ledger *l)
{
    char fault[200] = "";
    tl_ledger_draw_up(r->model, tl_engine_start_state(r->engine), r->y, length_d, l);
    if (tl_ledger_check(l, fault, sizeof fault))
        fail_msg("%s", fault);
    const struct tl_ledger_account *const account[] = {&l->nitrogen, &l->oxygen, &l->alkalinity,
                                                       &l->carbon, &l->charge};
    for (size_t i = 0; i < 5; i++)
        near(account[i]->residual_rel, 0, 1e-9);
}

static double line_of(const struct tl_ledger_account *a, enum tl_ledger_side side, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (a->line[i].side == side && strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    fail_msg("no line %s", key);
    return NAN;
}

/* --- what kills ------------------------------------------------------------------------------- */

/* The points are those of the publications that MODEL.md names; straight between them. */
static void shares_of_the_table(void **state)
{
    (void)state;
    near(tl_medicine_kill(TL_DOSE_FORMALDEHYDE, 0), 0, 0);
    near(tl_medicine_kill(TL_DOSE_FORMALDEHYDE, 37), 0.60, 1e-12);
    near(tl_medicine_kill(TL_DOSE_FORMALDEHYDE, 18.5 / 2 + 37 / 2.0), 0.40, 1e-12);
    near(tl_medicine_kill(TL_DOSE_FORMALDEHYDE, 1e4), 0.95, 1e-12);
    near(tl_medicine_kill(TL_DOSE_PEROXIDE, 100), 0.97, 1e-12);
    near(tl_medicine_kill(TL_DOSE_CHLORAMINE_T, 12), 0.45, 1e-12);
    near(tl_medicine_known_to(TL_DOSE_FORMALDEHYDE), 120, 0);
    near(tl_medicine_known_to(TL_DOSE_CHLORAMINE_T), 24, 0);
    near(tl_medicine_kill(TL_DOSE_SALT, 20000), 0, 0);
    near(tl_medicine_kill(TL_DOSE_BAKING_SODA, 100), 0, 0);
    for (int drug = TL_DOSE_FORMALDEHYDE; drug < TL_NDOSE; drug++) {
        double before = 0;
        assert_true(tl_dose_is_medicine((enum tl_dose)drug));
        for (double c = 0; c < 200; c += 0.5) {
            const double killed = tl_medicine_kill((enum tl_dose)drug, c);
            assert_true(killed >= before && killed < 1);
            before = killed;
        }
    }
    assert_false(tl_dose_is_medicine(TL_DOSE_THIOSULFATE));
}

/* As much salt in small steps as at once; what the salt for nitrite takes is far below any harm. */
static void salt_in_steps(void **state)
{
    (void)state;
    double left = 1;
    near(tl_salt_kill(0, 3000), 0, 0);
    near(tl_salt_kill(0, 15000), 0.95, 1e-12);
    near(tl_salt_kill(9000, 9000), 0, 0);
    near(tl_salt_kill(9000, 2000), 0, 0);
    for (int i = 0; i < 15; i++)
        left *= 1 - tl_salt_kill(1000.0 * i, 1000.0 * (i + 1));
    near(1 - left, 0.95, 1e-12);
}

/* --- films ------------------------------------------------------------------------------------ */

/* Film and water just before and just after what happens on day 1. */
static void around(const struct tl_event *e, double *before, double *after, size_t *size,
                   struct tl_layout *at)
{
    struct tl_setup s;
    reference_loop(&s, 20);
    s.length_d = 3;
    add_event(&s, *e);
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1 - INSTANT_D), TL_OK);
    *size = r.at->core;
    *at = *r.at;
    memcpy(before, r.y, *size * sizeof *before);
    assert_int_equal(tl_engine_advance(r.engine, 1 + INSTANT_D), TL_OK);
    memcpy(after, r.y, *size * sizeof *after);
    struct tl_ledger l;
    assert_int_equal(tl_engine_advance(r.engine, 3), TL_OK);
    closes(&r, 3, &l);
    end_run(&r);
    free_loop(&s);
}

static void a_share_dies_where_it_is_told(void **state)
{
    (void)state;
    for (enum tl_where where = TL_WHERE_ALL; where <= TL_WHERE_WALLS; where++) {
        double before[2000], after[2000];
        struct tl_layout at;
        size_t size;
        around(
            &(struct tl_event){.at_d = 1, .kind = TL_EVENT_KNOCK_OUT, .value = 0.4, .where = where},
            before, after, &size, &at);
        assert_true(size < 2000);
        for (size_t i = at.tank_wall; i < at.fish; i += TL_NFILM) {
            const bool tray = i >= at.cell;
            const double killed =
                where == TL_WHERE_ALL || tray == (where == TL_WHERE_TOWER) ? 0.4 : 0;
            double dead = 0;
            for (int g = 0; g < 3; g++) {
                near_rel(after[i + (size_t)g], (1 - killed) * before[i + (size_t)g], 1e-5);
                dead += killed * before[i + (size_t)g];
            }
            /* the dead lie where they died */
            near(after[i + TL_FS] - before[i + TL_FS], 0.92 * dead, 1e-4 * before[i + TL_FH]);
            near(after[i + TL_FI] - before[i + TL_FI], 0.08 * dead, 1e-4 * before[i + TL_FH]);
        }
    }
}

static void medicine_kills_by_its_content(void **state)
{
    (void)state;
    static const struct tl_event dose[] = {
        {.at_d = 1,
         .kind = TL_EVENT_DOSE,
         .dose = TL_DOSE_FORMALDEHYDE,
         .by = TL_DOSE_TO_CONTENT,
         .value = 37},
        {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_FORMALDEHYDE, .value = 37 * 12.8},
        {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_PEROXIDE, .value = 30 * 12.8},
        {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_CHLORAMINE_T, .value = 24 * 12.8},
        /* 20 mg/L of chloride were there */
        {.at_d = 1,
         .kind = TL_EVENT_DOSE,
         .dose = TL_DOSE_SALT,
         .by = TL_DOSE_TO_CONTENT,
         .value = 15000 * TL_CHLORIDE_G_PER_G_SALT},
        {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 2000 * 12.8},
    };
    static const double killed[] = {0.60, 0.60, 0.40, 0.80, 0.95, 0};
    for (size_t k = 0; k < sizeof dose / sizeof dose[0]; k++) {
        double before[2000], after[2000];
        struct tl_layout at;
        size_t size;
        around(&dose[k], before, after, &size, &at);
        near_rel(after[at.cell + TL_FA], (1 - killed[k]) * before[at.cell + TL_FA], 1e-4);
        near_rel(after[at.tank_wall + TL_FN], (1 - killed[k]) * before[at.tank_wall + TL_FN], 1e-4);
        if (dose[k].dose == TL_DOSE_FORMALDEHYDE)
            near_rel(after[at.formaldehyde], 37 * 12.8, 1e-4);
    }
}

/* Formaldehyde is burnt to the last, and each gram of it takes 32/30.03 g of oxygen and leaves its
 * carbon: atomic masses. */
static void formaldehyde_takes_oxygen(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger l;
    dead_loop(&s);
    s.length_d = 30;
    s.trickle_1_d = 0;
    add_event(&s,
              (struct tl_event){
                  .at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_FORMALDEHYDE, .value = 60.052});
    struct run r = whole_run(&s, 0, NULL, 0);
    closes(&r, 30, &l);
    near(line_of(&l.oxygen, TL_LEDGER_OUT, "formaldehyde"), 64, 0.02);
    near(line_of(&l.carbon, TL_LEDGER_IN, "formaldehyde"), 2, 1e-3);
    near(r.y[r.at->formaldehyde], 0, 1e-3);
    end_run(&r);

    s.change_every_d = 1; /* half of it goes with the water */
    s.change_amount = 12.8 / 12 / 2;
    s.params.k_formaldehyde = 0;
    s.length_d = 1.5;
    r = whole_run(&s, 0, NULL, 0);
    near_rel(r.y[r.at->formaldehyde], 60.052 / 2, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* --- recovery, as published ------------------------------------------------------------------- */

struct after {
    double tan_before, tan_8d, most;
};

static int keep_most(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct after *a = arg;
    (void)c;
    if (t_d > 21)
        a->most = fmax(a->most, y[TL_TAN]);
    return TL_OK;
}

static struct after recovery(double content_g_m3)
{
    struct after out = {0, 0, 0};
    struct tl_setup s;
    const struct tl_observer o = {.period_d = 0.25, .see = keep_most, .arg = &out};
    reference_loop(&s, 20);
    s.length_d = 29;
    s.temperature.mean_degC = 20;
    add_event(&s, (struct tl_event){.at_d = 20,
                                    .kind = TL_EVENT_DOSE,
                                    .dose = TL_DOSE_FORMALDEHYDE,
                                    .by = TL_DOSE_TO_CONTENT,
                                    .value = content_g_m3});
    struct run r = start_run(&s, 0, &o, 1);
    assert_int_equal(tl_engine_advance(r.engine, 20 - INSTANT_D), TL_OK);
    out.tan_before = r.y[TL_TAN];
    assert_int_equal(tl_engine_advance(r.engine, 28), TL_OK);
    out.tan_8d = r.y[TL_TAN];
    end_run(&r);
    free_loop(&s);
    return out;
}

/* Fredricks et al. 2018: from 37 mg/L of formaldehyde on ammonia rose and was not back in 8 days; 9.25
 * was mild. */
static void formaldehyde_as_published(void **state)
{
    (void)state;
    const struct after mild = recovery(9.25), hard = recovery(37);
    print_message("ammonia %.3g; 9.25 mg/L: most %.3g; 37 mg/L: most %.3g, after 8 d %.3g\n",
                  mild.tan_before, mild.most, hard.most, hard.tan_8d);
    assert_true(hard.tan_8d > 1.1 * hard.tan_before);
    assert_true(mild.most < 1.2 * mild.tan_before);
    assert_true(hard.most - hard.tan_before > 5 * (mild.most - mild.tan_before));
}

/* --- dead fish -------------------------------------------------------------------------------- */

/* Two of 40 fish of 500 g: 27 gN/kg come back as ammonia and in solids; half is gone after 40 to 230 h
 * (Chidami & Amyot 2008, shallow water). */
static void dead_fish_rot(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger l;
    reference_loop(&s, 20);
    s.temperature.mean_degC = 20;
    s.length_d = 30;
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_DEAD_FISH, .fish = {"koi", 2, 0}});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1 + 1e-9), TL_OK);
    near_rel(r.y[r.at->dead], 1, 1e-3);
    near_rel(r.y[r.at->fish], 19, 1e-3);
    near(r.y[r.at->fish + TL_FISH_NUMBER], 38, 0);
    const double half_d = log(2) / 0.15;
    assert_true(24 * half_d > 40 && 24 * half_d < 230);
    assert_int_equal(tl_engine_advance(r.engine, 1 + half_d), TL_OK);
    near_rel(r.y[r.at->dead], 0.5, 1e-3);
    assert_int_equal(tl_engine_advance(r.engine, 30), TL_OK);
    closes(&r, 30, &l);
    const double rotted = 1 - exp(-0.15 * 29);
    near_rel(line_of(&l.nitrogen, TL_LEDGER_IN, "dead_fish"), 27 * rotted, 1e-3);
    near_rel(line_of(&l.nitrogen, TL_LEDGER_NOTE, "dead_fish_ammonia"), (27 - 13.5) * rotted, 1e-3);
    near_rel(line_of(&l.oxygen, TL_LEDGER_NOTE, "dead_fish_demand"), 450 * rotted, 1e-3);
    end_run(&r);

    /* taken out after three days, what is left of them goes; no fish of that name do nothing */
    s.event[0].for_d = 3;
    s.event[0].fish.count = 1;
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_DEAD_FISH, .fish = {"carp", 2, 0}});
    r = whole_run(&s, 0, NULL, 0);
    closes(&r, 30, &l);
    near_rel(line_of(&l.nitrogen, TL_LEDGER_IN, "dead_fish"), 13.5 * (1 - exp(-0.45)), 1e-3);
    near(r.y[r.at->dead], 0, 0);
    near(r.y[r.at->dead + 1], 0, 0);
    end_run(&r);

    /* solids of more nitrogen than fish hold: all of it goes into them, and no ammonia is taken away */
    s.params.i_organics = 0.12;
    r = whole_run(&s, 0, NULL, 0);
    closes(&r, 30, &l);
    near(line_of(&l.nitrogen, TL_LEDGER_NOTE, "dead_fish_ammonia"), 0, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* --- drying ----------------------------------------------------------------------------------- */

static double moist_h(const struct tl_setup *s, double t_d)
{
    struct tl_model *m = NULL;
    assert_int_equal(tl_model_build(s, &m), TL_OK);
    const double h = 24 * tl_moist_d(m, t_d, 16);
    tl_model_free(m);
    return h;
}

static void summer(struct tl_setup *s)
{
    reference_loop(s, 1);
    s->length_d = 5;
    s->temperature.kind = TL_TEMPERATURE_WEATHER;
    s->weather = (struct tl_weather){.given = true,
                                     .air = {.mean_degC = 25},
                                     .humidity = 0.6,
                                     .wind_m_s = 1,
                                     .cloud = 0.2,
                                     .latitude_deg = 48,
                                     .shade = 1,
                                     .day_of_year = 190};
}

static void media_dry_sooner_in_sun_and_wind(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 1);
    near(moist_h(&s, 1.4), 12, 0); /* of which nothing is known */
    s.sun.given = true;
    s.sun.shaded = 1;
    near(moist_h(&s, 1.4), 12, 0.01);
    s.sun.shaded = 0;
    const double sunlit = moist_h(&s, 1.4);
    assert_true(sunlit < 8);
    near(moist_h(&s, 1.7), 12, 1); /* in the evening */
    /* half of the light: what a noon of 600 W/m2 evaporates in an hour, by hand */
    s.sun.hours_d = 1e3; /* ever noon */
    s.sun.noon_w_m2 = 600;
    const double slope = (tl_vapour_pressure_pa(20.5) - tl_vapour_pressure_pa(19.5));
    const double sun_kg_h =
        3600 * 0.9 * 600 * slope / (slope + 66) / tl_latent_heat_j_kg(20); /* m2 */
    const double held = 1000 * 0.05 * 0.0762;
    s.sun.hours_d = 1;
    s.sun.noon_w_m2 = 600 / cos(M_PI * 0.05); /* about noon, a mean of the hour */
    near_rel(moist_h(&s, 1.45), held / (sun_kg_h + held / 12), 0.05);
    free_loop(&s);

    summer(&s);
    const double shade = moist_h(&s, 1.4);
    s.weather.shade = 0;
    const double sun = moist_h(&s, 1.4);
    s.weather.wind_m_s = 4;
    const double wind = moist_h(&s, 1.4);
    s.weather.wind_m_s = 1;
    s.weather.humidity = 0.3;
    const double dry = moist_h(&s, 1.4);
    s.weather.shade = 1;
    s.weather.humidity = 1;
    const double fog = moist_h(&s, 1.4);
    s.weather.humidity = 0.5;
    s.weather.air.mean_degC = -5;
    const double frost = moist_h(&s, 1.4);
    print_message("shade %.3g h, sun %.3g, with wind %.3g, in dry air %.3g\n", shade, sun, wind,
                  dry);
    assert_true(wind < sun && dry < sun && sun < 0.7 * shade && shade < 12 && wind > 0.5);
    near(fog, 12, 0);
    near(frost, 12, 0);
    s.tower.stays_moist_d = 2;
    near(moist_h(&s, 1.4), 48, 0);
    s.tower.stays_moist_d = NAN;
    s.weather.air.mean_degC = 25;
    s.tower.submerged = true;
    near(moist_h(&s, 1.4), 12, 0);
    free_loop(&s);
}

/* By hand: the top tray gives the air that crosses it what it lacks at the wet bulb. */
static void drying_in_the_shade_by_hand(void **state)
{
    (void)state;
    struct tl_setup s;
    summer(&s);
    s.params.tower_air_wind = 0;
    s.params.tower_air_still = 0.01; /* so slow that it leaves saturated */
    s.params.media_holds = 0.001;
    const double wet = tl_wet_bulb_degC(25, 0.6, 101325);
    const double lacks = tl_humidity_ratio(tl_vapour_pressure_pa(wet), 101325) -
                         tl_humidity_ratio(0.6 * tl_vapour_pressure_pa(25), 101325);
    const double air_kg_h = 3600 * 0.01 * sqrt(0.27) * 0.0762 * 1.17;
    near_rel(moist_h(&s, 1), 1000 * 0.001 * 0.27 * 0.0762 / (air_kg_h * lacks), 0.02);
    free_loop(&s);
}

/* A trickle that wets next to nothing saves no film, and water it is not: the tower stands. */
static void a_jet_wets_no_tower(void **state)
{
    (void)state;
    static const double load_m_h[] = {0, 0.0003, 0.12, 0.13};
    double left[4];
    for (int i = 0; i < 4; i++) {
        struct tl_setup s;
        summer(&s);
        s.weather.shade = 1;
        add_event(&s, (struct tl_event){.at_d = 1.375,
                                        .for_d = 2,
                                        .kind = TL_EVENT_PUMP_FLOW,
                                        .value = load_m_h[i] * 24 * s.tower.plan_area_m2});
        struct run r = start_run(&s, 0, NULL, 0);
        assert_int_equal(tl_engine_advance(r.engine, 1.375), TL_OK);
        const double before = r.y[r.at->cell + TL_FA];
        assert_int_equal(isnan(tl_engine_controls(r.engine)->dry_since_d), i == 3);
        assert_int_equal(tl_engine_advance(r.engine, 3.375 - INSTANT_D), TL_OK);
        left[i] = r.y[r.at->cell + TL_FA] / before;
        end_run(&r);
        free_loop(&s);
    }
    near_rel(left[1], left[0], 0.02);
    near_rel(left[2], left[0], 0.02);
    assert_true(left[3] > 1.5 * left[0]);
}

/* Media under water run out of oxygen, but do not dry. */
static void media_under_water_do_not_dry(void **state)
{
    (void)state;
    struct tl_setup s;
    summer(&s);
    s.tower.submerged = true;
    add_event(&s, (struct tl_event){.at_d = 1.375, .for_d = 2, .kind = TL_EVENT_PUMP_FLOW});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1.375 + INSTANT_D), TL_OK);
    near(tl_engine_controls(r.engine)->dry_since_d, 1.375, 1e-9);
    assert_true(isinf(tl_dry_out_d(tl_engine_controls(r.engine))));
    assert_int_equal(tl_engine_advance(r.engine, 3.375 - INSTANT_D), TL_OK);
    assert_false(tl_engine_controls(r.engine)->dried_out);
    end_run(&r);
    free_loop(&s);
}

/* Film in the sun dies first: the model starts its extra decay when the media are dry. */
static void dry_media_lose_film(void **state)
{
    (void)state;
    double left[2];
    for (int sunny = 0; sunny < 2; sunny++) {
        struct tl_setup s;
        summer(&s);
        s.weather.shade = 1 - sunny;
        add_event(&s, (struct tl_event){.at_d = 1.375, .for_d = 0.4, .kind = TL_EVENT_PUMP_FLOW});
        struct run r = start_run(&s, 0, NULL, 0);
        assert_int_equal(tl_engine_advance(r.engine, 1.375), TL_OK);
        const double before = r.y[r.at->cell + TL_FA];
        const struct tl_controls *c = tl_engine_controls(r.engine);
        near(c->dry_since_d, 1.375, 1e-9);
        near(c->dries_d, 1.375 + tl_moist_d(r.model, 1.375, c->wetted_at_m_h), 1e-12);
        assert_int_equal(tl_engine_advance(r.engine, 1.775 - INSTANT_D), TL_OK);
        left[sunny] = r.y[r.at->cell + TL_FA] / before;
        assert_int_equal(tl_engine_advance(r.engine, 1.775 + INSTANT_D), TL_OK);
        assert_true(isinf(tl_dry_out_d(c)));
        end_run(&r);
        free_loop(&s);
    }
    print_message("left after 9.6 h: shade %.3g, sun %.3g\n", left[0], left[1]);
    assert_true(left[1] < 0.95 * left[0]);
}

/* --- what is told of it ------------------------------------------------------------------------ */

struct watched {
    struct run *r;
    struct tl_work *work;
    struct tl_shock_watch shocks;
    struct tl_still_watch stills;
};

static int watch(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct watched *w = arg;
    struct tl_snapshot glance;
    int status = tl_model_glance(w->r->model, w->work, c, t_d, y, &glance);
    if (status)
        return status;
    tl_shock_watch_add(&w->shocks, w->r->model, &glance, y, tl_engine_time(w->r->engine), w->r->y);
    tl_still_watch_add(&w->stills, c, t_d);
    return TL_OK;
}

/* What starves after a shock was not killed by it. */
static void starving_is_no_kill(void **state)
{
    (void)state;
    struct tl_setup s;
    static struct watched w;
    struct run r;
    const struct tl_observer o = {.period_d = 5.0 / 1440, .see = watch, .arg = &w};
    reference_loop(&s, 20);
    s.length_d = 30;
    s.feeding.ration.value = 0;
    add_event(&s, (struct tl_event){.at_d = 5, .kind = TL_EVENT_KNOCK_OUT, .value = 0.3});
    tl_shock_watch_begin(&w.shocks, &s);
    tl_still_watch_begin(&w.stills);
    w.r = &r;
    r = start_run(&s, 0, &o, 1);
    assert_int_equal(tl_work_new(r.model, &w.work), TL_OK);
    assert_int_equal(tl_engine_advance(r.engine, 30), TL_OK);
    assert_int_equal(w.shocks.result.count, 1);
    near(w.shocks.result.of[0].killed, 0.3, 0.005);
    tl_work_free(w.work);
    end_run(&r);
    free_loop(&s);
}

static void shocks_and_stops_are_told(void **state)
{
    (void)state;
    struct tl_setup s;
    static struct watched w;
    struct run r;
    const struct tl_observer o = {.period_d = 5.0 / 1440, .see = watch, .arg = &w};
    reference_loop(&s, 20);
    s.length_d = 60;
    const struct tl_event events[] = {
        {.at_d = 20.5, .kind = TL_EVENT_KNOCK_OUT, .value = 0.5},
        {.at_d = 21.5, .kind = TL_EVENT_KNOCK_OUT, .value = 0.2},
        {.at_d = 58, .kind = TL_EVENT_KNOCK_OUT, .value = 0.3},
        {.at_d = 10, .for_d = 0.25, .kind = TL_EVENT_PUMP_FLOW},
        {.at_d = 12, .for_d = 0.75, .kind = TL_EVENT_PUMP_FLOW},
        /* too weak to tell of */
        {.at_d = 5, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_FORMALDEHYDE, .value = 1},
    };
    for (size_t i = 0; i < sizeof events / sizeof events[0]; i++)
        add_event(&s, events[i]);
    tl_shock_watch_begin(&w.shocks, &s);
    tl_still_watch_begin(&w.stills);
    w.r = &r;
    r = start_run(&s, 0, &o, 1);
    assert_int_equal(tl_work_new(r.model, &w.work), TL_OK);
    assert_int_equal(tl_engine_advance(r.engine, 60), TL_OK);

    const struct tl_shocks *shocks = &w.shocks.result;
    assert_int_equal(shocks->count, 2);
    const struct tl_shock *first = &shocks->of[0];
    assert_int_equal(first->times, 2);
    assert_int_equal(first->event, 0);
    near(first->at_d, 20.5, 0);
    near(first->killed, 0.57, 0.04); /* 60 %, less what grew in the day between */
    assert_true(first->oxidation_d >= 1 && first->oxidation_d < first->oxidisers_d);
    assert_true(first->oxidisers_d > 2 && first->oxidisers_d < 36);
    assert_true(first->tan > 0.2 && first->tan_d > 20.5 && first->tan_d < 40);
    assert_true(first->no2 > 0);
    near(shocks->of[1].killed, 0.3, 0.01);
    assert_true(isnan(shocks->of[1].oxidisers_d));

    const struct tl_stills *stills = &w.stills.result;
    assert_int_equal(stills->count, 2);
    near(stills->longest_d, 0.75, 1e-6);
    near(stills->longest_at_d, 12, 1e-9);
    near(stills->moist_d, 0.5, 1e-9);
    near(stills->dry_d, 0.25, 1e-6);
    tl_work_free(w.work);
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shares_of_the_table),
        cmocka_unit_test(salt_in_steps),
        cmocka_unit_test(a_share_dies_where_it_is_told),
        cmocka_unit_test(medicine_kills_by_its_content),
        cmocka_unit_test(formaldehyde_takes_oxygen),
        cmocka_unit_test(formaldehyde_as_published),
        cmocka_unit_test(dead_fish_rot),
        cmocka_unit_test(media_dry_sooner_in_sun_and_wind),
        cmocka_unit_test(drying_in_the_shade_by_hand),
        cmocka_unit_test(dry_media_lose_film),
        cmocka_unit_test(a_jet_wets_no_tower),
        cmocka_unit_test(media_under_water_do_not_dry),
        cmocka_unit_test(starving_is_no_kill),
        cmocka_unit_test(shocks_and_stops_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
