/* The engine: cases with exact answers, what happens at stops, observers that change nothing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "runs.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

/* --- exact answers ---------------------------------------------------------------------------- */

/* C = C_in + (C_0 - C_in) exp(-r t) while the pump is off. */
static void dilution(void **state)
{
    (void)state;
    struct tl_setup s;
    dead_loop(&s);
    s.length_d = 10;
    s.pump_flow_m3_d = 0;
    s.source.water[TL_CL] = 100;
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    near(r.y[r.at->tank + TL_CL], 100 - 80 * exp(-1.0), 1e-6);
    near(r.y[r.at->chamber + TL_CL], 20, 1e-12);
    end_run(&r);
    free_loop(&s);
}

/* The oxygen deficit falls by exp(-k t), k from surface and aerator. */
static void reaeration(void **state)
{
    (void)state;
    struct tl_setup s;
    dead_loop(&s);
    s.length_d = 2;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.starting.water[TL_O2] = 2;
    s.aerator_g_d = 100;
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    double sat = tl_o2_saturation(24, 1.80655e-3 * 20, 1);
    double k = (0.6 * 10 + 100 / tl_o2_saturation(20, 0, 1)) * pow(1.024, 4) / 12;
    near(r.y[r.at->tank + TL_O2], sat - (sat - 2) * exp(-k * 2), 1e-6);
    end_run(&r);
    free_loop(&s);
}

/* Solids in a standing chamber settle by exp(-v A/V t) as long as the sludge does not hinder. */
static void settling(void **state)
{
    (void)state;
    struct tl_setup s;
    dead_loop(&s);
    s.length_d = 0.1;
    s.pump_flow_m3_d = 0;
    s.params.film_density = 1e9;
    s.starting.water[TL_XI] = 10;
    struct run r = whole_run(&s, 1e-9, NULL, 0);
    double left = 10 * exp(-20 * 1 / 0.8 * 0.1);
    near(r.y[r.at->chamber + TL_XI], left, 1e-6);
    near(r.y[r.at->sludge + 1], 0.8 * (10 - left), 1e-6);
    near(r.y[r.at->tank + TL_XI], 10 * exp(-0.1 * 0.1), 1e-6);
    end_run(&r);
    free_loop(&s);
}

/* A meal passes two stages: G2 = m k t exp(-k t). Excretion peaks at 1/k, 5 h at 20 degC. */
static void gut_chain(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 10);
    s.temperature.mean_degC = 20;
    s.feeding.meals = 1;
    s.feeding.meal_s[0] = 0; /* 00:00 of day 0 counts */
    s.length_d = 0.9;
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    double m = 0.01 * 10 * 1000;
    near(r.y[r.at->fish + TL_FISH_GUT1_G], m * exp(-4.8 * 0.9), 1e-5);
    near(r.y[r.at->fish + TL_FISH_GUT2_G], m * 4.8 * 0.9 * exp(-4.8 * 0.9), 1e-5);
    near(r.y[r.at->fish_total + TL_FED_G], m, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* Chlorine meets the demand, chloramine by its own rate; that leaves 0.1975 gN and 0.5 g chloride per g
 * Cl2. */
static void chloramine(void **state)
{
    (void)state;
    struct tl_setup s;
    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.starting.water[TL_HOCL] = 2;
    s.source.chloramine = true;
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    const double lost = 2 * (1 - exp(-s.params.k_chloramine_demand));
    near(r.y[r.at->tank + TL_HOCL], 2 - lost, 1e-6);
    near(r.y[r.at->tank + TL_TAN], lost * 0.1975, 1e-6);
    near(r.y[r.at->tank + TL_CL], 20 + 0.5 * lost, 1e-6);
    near(r.y[r.at->tank + TL_ALK], 4.5, 1e-9);
    end_run(&r);
    s.source.chloramine = false;
    r = whole_run(&s, 1e-8, NULL, 0);
    near(r.y[r.at->tank + TL_HOCL], 0, 1e-9);
    near(r.y[r.at->tank + TL_TAN], 0, 1e-9);
    near(r.y[r.at->tank + TL_CL], 21, 1e-6);
    end_run(&r);
    free_loop(&s);
}

/* --- stops -------------------------------------------------------------------------------------- */

static void doses_and_changes(void **state)
{
    (void)state;
    struct tl_setup s;
    dead_loop(&s);
    s.length_d = 3;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    struct tl_event dose = {.at_d = 1, .kind = TL_EVENT_DOSE};
    dose.dose = TL_DOSE_SALT;
    dose.value = 1200;
    add_event(&s, dose);
    dose.dose = TL_DOSE_BAKING_SODA;
    dose.value = 840.07;
    add_event(&s, dose);
    dose.dose = TL_DOSE_AMMONIUM_CHLORIDE;
    dose.value = 120;
    add_event(&s, dose);
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_WATER_CHANGE, .value = 0.25});
    struct run r = start_run(&s, 1e-8, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1.5), TL_OK);
    double salt = 20 + 0.6066 * 100 + 0.6628 * 10;
    near(r.y[r.at->tank + TL_CL], salt, 1e-9);
    near(r.y[r.at->tank + TL_ALK], 4.5 + 10.0 / 12, 1e-9);
    near(r.y[r.at->tank + TL_TAN], 2.619, 1e-9);
    assert_int_equal(tl_engine_advance(r.engine, 3), TL_OK);
    near(r.y[r.at->tank + TL_CL], 0.75 * salt + 0.25 * 20, 1e-9);
    near(r.y[r.at->tank + TL_TAN], 0.75 * 2.619, 1e-9);
    end_run(&r);
    free_loop(&s);
}

static double whole_loop(const struct run *r, const struct tl_setup *s, int component)
{
    return s->tank.volume_m3 * r->y[r->at->tank + (size_t)component] +
           s->chamber.volume_m3 * r->y[r->at->chamber + (size_t)component];
}

/* A dose by what is lacking brings tank and chamber together to the mark, once. */
static void doses_to_a_mark(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_doses d;
    dead_loop(&s);
    s.length_d = 3;
    s.trickle_1_d = 0;
    s.starting.water[TL_NO2] = 6;
    struct tl_event dose = {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT};
    dose.by = TL_DOSE_TO_RATIO;
    dose.value = 10;
    add_event(&s, dose);
    add_event(&s, dose); /* nothing is lacking any more */
    dose.by = TL_DOSE_MASS;
    dose.value = 7;
    add_event(&s, dose);
    dose.by = TL_DOSE_TO_CONTENT;
    dose.at_d = 2;
    dose.value = 200;
    add_event(&s, dose);
    dose.dose = TL_DOSE_BAKING_SODA;
    dose.value = 5;
    add_event(&s, dose);
    dose.value = 4; /* less than there is */
    add_event(&s, dose);
    struct run r = start_run(&s, 1e-8, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1), TL_OK);
    near(whole_loop(&r, &s, TL_CL), 12.8 * 60 + 7 * 0.6066, 1e-6);
    assert_int_equal(tl_engine_advance(r.engine, 3), TL_OK);
    near(whole_loop(&r, &s, TL_CL), 12.8 * 200, 1e-6);
    near(whole_loop(&r, &s, TL_ALK), 12.8 * 5, 1e-6);
    tl_model_doses(r.model, r.y, &d);
    assert_int_equal(d.measured, 5);
    near(d.event_g[0], 12.8 * 40 / 0.6066, 1e-6);
    near(d.event_g[1], 0, 0);
    near(d.event_g[2], (12.8 * 140 - 7 * 0.6066) / 0.6066, 1e-6);
    near(d.event_g[3], 12.8 * 0.5 * 84.007, 1e-6);
    near(d.event_g[4], 0, 0);
    assert_int_equal(d.event[2], 3);
    near(d.mass_g[TL_DOSE_SALT], 7 + d.event_g[0] + d.event_g[2], 1e-9);
    near(d.mass_g[TL_DOSE_BAKING_SODA], d.event_g[3], 0);
    near(d.mass_g[TL_DOSE_BAKING_SODA] / 84.007, r.y[r.at->dosed + TL_ALK], 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* The plan looks once a day at its hour and gives what is lacking, as far as it may. */
static void alkalinity_is_held(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_doses d;
    dead_loop(&s);
    s.start_d = 0.5;
    s.length_d = 3;
    s.trickle_1_d = 0;
    s.source.water[TL_ALK] = 2;
    s.dosing = (struct tl_dosing){
        .hold_alkalinity_eq_m3 = 5, .every_d = 1, .at_s = 6 * 3600, .at_most_g = 12.8 * 84.007 / 4};
    add_event(&s, (struct tl_event){.at_d = 3.4, .kind = TL_EVENT_WATER_CHANGE, .value = 0.1});
    struct run r = start_run(&s, 1e-8, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1.2), TL_OK); /* 06:00 of day 0 was before */
    near(whole_loop(&r, &s, TL_ALK), 12.8 * 4.5, 1e-7);
    assert_int_equal(tl_engine_advance(r.engine, 1.25), TL_OK);
    near(whole_loop(&r, &s, TL_ALK), 12.8 * 4.75, 1e-7);
    assert_int_equal(tl_engine_advance(r.engine, 3.5), TL_OK);
    tl_model_doses(r.model, r.y, &d);
    near(d.held_g, 12.8 * 0.5 * 84.007, 1e-4);
    near(d.held_most_g, s.dosing.at_most_g, 1e-6);
    near(d.held_most_d, 1.25, 0);
    near(d.held_times, 2, 0); /* on the third morning nothing was lacking */
    near(d.held_short, 1, 0);
    end_run(&r);

    /* with the change of water it looks after the change, and only then */
    s.dosing.every_d = 0;
    s.dosing.at_most_g = INFINITY;
    r = whole_run(&s, 1e-8, NULL, 0);
    tl_model_doses(r.model, r.y, &d);
    near(d.held_times, 1, 0);
    near(d.held_most_d, 3.4, 1e-8);
    near(whole_loop(&r, &s, TL_ALK), 12.8 * 5, 1e-7);
    assert_true(d.held_g > 12.8 * 0.5 * 84.007 + 1.2 * 2 * 84.007);
    end_run(&r);
    free_loop(&s);
}

/* Chlorine that comes at once, in the middle of a sample, and goes by a known rate: over the time that is
 * c / k (1 - exp(-k t)), and no ramp before it counts. */
static void chlorine_over_the_time(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_doses d;
    const double k_1_d = 50;
    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.params.k_chlorine_demand = k_1_d;
    s.source.water[TL_HOCL] = 2;
    add_event(&s, (struct tl_event){.at_d = 0.951, .kind = TL_EVENT_WATER_CHANGE, .value = 0.25});
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    tl_model_doses(r.model, r.y, &d);
    near_rel(d.chlorine_g_d_m3, 0.5 / k_1_d * -expm1(-k_1_d * 0.049), 1e-6);
    end_run(&r);
    free_loop(&s);
}

/* Thiosulfate takes chlorine away, that of the change at its instant, too, and leaves what the
 * demand of the water would leave. */
static void dechlorinator(void **state)
{
    (void)state;
    struct tl_setup s;
    const double chlorine = 0.25 * 12 * 2; /* g */
    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.params.k_chlorine_demand = 0;
    s.params.k_chloramine_demand = 0;
    s.source.chloramine = true;
    s.source.water[TL_HOCL] = 2;
    add_event(&s, (struct tl_event){.at_d = 0.5,
                                    .kind = TL_EVENT_DOSE,
                                    .dose = TL_DOSE_THIOSULFATE,
                                    .value = 0.8 * 7 * chlorine});
    add_event(&s, (struct tl_event){.at_d = 0.5, .kind = TL_EVENT_WATER_CHANGE, .value = 0.25});
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    near(r.y[r.at->tank + TL_HOCL], 0.2 * chlorine / 12, 1e-9);
    near(r.y[r.at->tank + TL_TAN], 0.1975 * 0.8 * chlorine / 12, 1e-9);
    near(r.y[r.at->tank + TL_CL], 20 + 0.5 * 0.8 * chlorine / 12, 1e-9);
    end_run(&r);
    s.event[0].value *= 10; /* more than enough takes no more than all */
    r = whole_run(&s, 1e-8, NULL, 0);
    near(r.y[r.at->tank + TL_HOCL], 0, 1e-12);
    near(r.y[r.at->tank + TL_CL], 20 + 0.5 * chlorine / 12, 1e-9);
    end_run(&r);

    /* treated before it is let in */
    s.events = 1;
    s.event[0] = s.event[1];
    s.source.dechlorinated = true;
    r = whole_run(&s, 1e-8, NULL, 0);
    near(r.y[r.at->tank + TL_HOCL], 0, 0);
    near(r.y[r.at->tank + TL_TAN], 0.1975 * chlorine / 12, 1e-9);
    near(r.y[r.at->tank + TL_CL], 20 + 0.5 * chlorine / 12, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* Media in tap water: a share of every film dies and stays as dead matter. */
static void rinsed_in_tap_water(void **state)
{
    (void)state;
    struct tl_setup s;
    double film[2][TL_NFILM];
    double tan[2];
    const double share = 1 - exp(-30.0 * 2 * 10 / 1440);
    reference_loop(&s, 0);
    s.fish_groups = 0;
    s.feeding.meals = 0;
    s.length_d = 1;
    s.source.water[TL_HOCL] = 2;
    s.source.dechlorinated = true; /* which the tap is not */
    add_event(&s, (struct tl_event){.at_d = 0.5, .kind = TL_EVENT_CLEAN_TRAY, .tray = 3});
    for (int i = 0; i < 2; i++) {
        s.event[0].tap_water = i == 1;
        s.event[0].contact_d = 10.0 / 1440;
        struct run r = start_run(&s, 0, NULL, 0);
        assert_int_equal(tl_engine_advance(r.engine, 0.5), TL_OK);
        memcpy(film[i], &r.y[r.at->cell + 2 * (size_t)TL_NFILM], sizeof film[i]);
        tan[i] = r.y[r.at->tank + TL_TAN];
        end_run(&r);
    }
    double dead = 0;
    for (int k = TL_FA; k <= TL_FH; k++) {
        near_rel(film[1][k], (1 - share) * film[0][k], 1e-9);
        dead += share * film[0][k];
    }
    near(film[0][TL_FS] + film[0][TL_FI], 0, 1e-12);
    near_rel(film[1][TL_FS], 0.92 * dead, 1e-9);
    near_rel(film[1][TL_FI], 0.08 * dead, 1e-9);
    near_rel((tan[1] - tan[0]) * 12, (0.086 - 0.03) * dead, 1e-6);
    free_loop(&s);
}

/* A log of meals is given as it stands; `none below` leaves out the meals of a ration. */
static void meals_by_log_and_by_temperature(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 10);
    s.length_d = 2;
    s.feeding.none_below_degC = 24.5;
    struct run r = whole_run(&s, 0, NULL, 0);
    near(r.y[r.at->fish_total + TL_FED_G], 0, 0);
    end_run(&r);
    s.feeding.none_below_degC = 24;
    r = whole_run(&s, 0, NULL, 0);
    near(r.y[r.at->fish_total + TL_FED_G], 200, 1e-9);
    end_run(&r);

    s.feeding.none_below_degC = 30;
    s.feeding.uneaten = 0.1;
    s.feeding.log.n = 4;
    s.feeding.log.x = calloc(4, sizeof(double));
    s.feeding.log.y = calloc(4, sizeof(double));
    const double at[] = {-0.5, 0, 1.25, 2};
    for (size_t i = 0; i < 4; i++) {
        s.feeding.log.x[i] = at[i];
        s.feeding.log.y[i] = 10 * pow(10, (double)i);
    }
    r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1), TL_OK);
    near(r.y[r.at->fish_total + TL_FED_G], 90, 1e-9);
    assert_int_equal(tl_engine_advance(r.engine, 2), TL_OK); /* the end is beyond the run */
    near(r.y[r.at->fish_total + TL_FED_G], 990, 1e-9);
    near(r.y[r.at->fish_total + TL_UNEATEN_G], 110, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* At one instant events act in file order, and before the meal of that instant. */
static void order_at_one_instant(void **state)
{
    (void)state;
    struct tl_setup s;
    const double at = 1 + 8.0 / 24;
    reference_loop(&s, 10);
    s.length_d = 2;
    struct tl_event add = {.at_d = at, .kind = TL_EVENT_ADD_FISH, .fish = {"koi", 20, 500}};
    struct tl_event take = {.at_d = at, .kind = TL_EVENT_REMOVE_FISH, .fish = {"koi", 40, 0}};
    add_event(&s, add);
    add_event(&s, take);
    add.fish = (struct tl_fish){"new", 4, 250};
    add_event(&s, add);
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, at - 1e-3), TL_OK);
    double fed = r.y[r.at->fish_total + TL_FED_G];
    near(fed, 100, 1e-9);
    assert_int_equal(tl_engine_advance(r.engine, at + 1e-3), TL_OK);
    near(tl_model_biomass(r.model, r.y), 1, 1e-9); /* all koi gone, the new ones stay */
    near(r.y[r.at->fish_total + TL_FED_G] - fed, 0.01 * 1000 / 3, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* `for:` brings back what was before; a pump that is off stops the tower and frees nitrogen there. */
static void pump_off_for_a_day(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 20);
    s.length_d = 4;
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_PUMP_FLOW, .value = 60});
    add_event(&s, (struct tl_event){.at_d = 2, .for_d = 1, .kind = TL_EVENT_PUMP_FLOW, .value = 0});
    struct run r = start_run(&s, 0, NULL, 0);
    const size_t aob = r.at->cell + TL_FA;
    assert_int_equal(tl_engine_advance(r.engine, 2), TL_OK);
    near(tl_engine_controls(r.engine)->flow_m3_d, 0, 0);
    double before = r.y[aob];
    double b = s.params.b_aob * pow(1.04, 4);
    /* moist for 12 h: only decay */
    assert_int_equal(tl_engine_advance(r.engine, 2.5), TL_OK);
    near_rel(r.y[aob], before * exp(-0.5 * b), 1e-5);
    assert_true(r.y[r.at->store] > 0);
    /* then 5 %/h besides */
    assert_int_equal(tl_engine_advance(r.engine, 2.999), TL_OK);
    near_rel(r.y[aob], before * exp(-0.999 * b - 0.499 * 1.2), 1e-5);
    double store = r.y[r.at->store];
    double tan = r.y[r.at->tank + TL_TAN];
    assert_true(store > 0.1);
    assert_int_equal(tl_engine_advance(r.engine, 3), TL_OK);
    near(tl_engine_controls(r.engine)->flow_m3_d, 60, 0);
    near(r.y[r.at->store], 0, 0);
    near(r.y[r.at->tank + TL_TAN] - tan, store / 12, 2e-3);
    end_run(&r);
    free_loop(&s);
}

static void cleaning(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 20);
    s.length_d = 6;
    add_event(&s, (struct tl_event){.at_d = 5, .kind = TL_EVENT_CLEAN_CHAMBER});
    add_event(&s, (struct tl_event){.at_d = 5, .kind = TL_EVENT_CLEAN_TRAY, .tray = 2});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 5 - 1e-6), TL_OK);
    const size_t tray2 = r.at->cell + TL_NFILM;
    double aob = r.y[tray2 + TL_FA];
    double sludge = r.y[r.at->sludge];
    assert_true(sludge > 1);
    assert_int_equal(tl_engine_advance(r.engine, 5), TL_OK);
    near(r.y[r.at->sludge] + r.y[r.at->sludge + 1], 0, 1e-12);
    near_rel(r.y[tray2 + TL_FA], 0.95 * aob, 1e-4);
    near(r.y[tray2 + TL_FS] + r.y[tray2 + TL_FI], 0, 1e-12);
    assert_true(r.y[r.at->cell + TL_FS] > 0);
    near_rel(r.y[r.at->sludge_out], sludge, 1e-4);
    end_run(&r);
    free_loop(&s);
}

/* Uneaten feed: 1.3 gCOD of solids a gram, the rest of its nitrogen as ammonia. */
static void uneaten_feed(void **state)
{
    (void)state;
    struct tl_setup s;
    const double at = 8.0 / 24;
    reference_loop(&s, 20);
    s.length_d = 1;
    s.feeding.uneaten = 0.1;
    s.feeding.meals = 1;
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, at - 1e-7), TL_OK);
    double xs = r.y[r.at->tank + TL_XS];
    double tan = r.y[r.at->tank + TL_TAN];
    assert_int_equal(tl_engine_advance(r.engine, at), TL_OK);
    near(r.y[r.at->tank + TL_XS] - xs, 1.3 * 20 / 12, 1e-4);
    near(r.y[r.at->tank + TL_TAN] - tan, (0.16 * 0.38 - 0.03 * 1.3) * 20 / 12, 1e-4);
    near(r.y[r.at->fish_total + TL_FED_G], 180, 1e-9);
    end_run(&r);
    free_loop(&s);
}

/* Oxygen below 0.7 mg/L: the instant is noted (crowded tank, everything off). */
static void fish_lost(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 80);
    s.length_d = 3;
    struct run ok = whole_run(&s, 0, NULL, 0);
    assert_true(isnan(tl_engine_fish_lost_d(ok.engine)));
    end_run(&ok);
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_PUMP_FLOW, .value = 0});
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_AERATOR, .value = 0});
    s.params.k_surface = 0;
    struct run r = whole_run(&s, 0, NULL, 0);
    double lost = tl_engine_fish_lost_d(r.engine);
    assert_true(lost > 1.02 && lost < 1.5);
    end_run(&r);
    free_loop(&s);
}

/* --- observers, tolerance ------------------------------------------------------------------------ */

struct count {
    unsigned long rows;
    double last_d;
    double lowest;
};

static int count_rows(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct count *n = arg;
    (void)c;
    assert_true(n->rows == 0 || t_d > n->last_d);
    n->rows++;
    n->last_d = t_d;
    for (size_t i = 0; i < TL_NWATER; i++)
        n->lowest = fmin(n->lowest, y[i]);
    return TL_OK;
}

static void observers_change_nothing(void **state)
{
    (void)state;
    struct tl_setup s;
    struct count n[2] = {{0, 0, 0}, {0, 0, 0}};
    struct tl_observer o[2] = {{5.0 / 1440, TL_NWATER, count_rows, &n[0]},
                               {0.37, 0, count_rows, &n[1]}};
    eventful_loop(&s);
    struct run a = whole_run(&s, 0, NULL, 0);
    struct run b = whole_run(&s, 0, o, 2);
    assert_memory_equal(a.y, b.y, a.at->size * sizeof(double));
    assert_int_equal(n[0].rows, 30 * 288 + 1);
    assert_int_equal(n[1].rows, 82 + 1);
    near(n[0].last_d, 30, 1e-9);
    assert_true(n[0].lowest >= -1e-4); /* nothing negative beyond tolerance */
    end_run(&a);
    end_run(&b);
    free_loop(&s);
}

/* At the instant of an event the state after it is shown. */
static int see_chloride(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    (void)c;
    if (fabs(t_d - 1) < 1e-6)
        *(double *)arg = y[TL_CL];
    return TL_OK;
}

static void rows_show_the_state_after(void **state)
{
    (void)state;
    struct tl_setup s;
    double seen = 0;
    struct tl_observer o = {1.0 / 96, TL_NWATER, see_chloride, &seen};
    struct tl_event salt = {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 1200};
    dead_loop(&s);
    s.length_d = 2;
    s.pump_flow_m3_d = 0;
    add_event(&s, salt);
    struct run r = whole_run(&s, 0, &o, 1);
    near(seen, 20 + 60.66, 1e-6);
    end_run(&r);
    free_loop(&s);
}

/* The exchange between tank and chamber holds the step short, whatever the tolerance: at loose ones
 * the error is far below what was asked for, so it falls by less than the tolerance does. */
static void error_stays_below_tolerance(void **state)
{
    (void)state;
    static const double rtol[] = {1e-3, 1e-4, 1e-5, 1e-6, 1e-7};
    struct tl_setup s;
    double error[5];
    reference_loop(&s, 40);
    s.tower.biofilm = TL_BIOFILM_NEW;
    s.length_d = 20.4;
    struct run ref = whole_run(&s, 1e-10, NULL, 0);
    for (size_t i = 0; i < 5; i++) {
        struct run r = whole_run(&s, rtol[i], NULL, 0);
        error[i] = 0;
        for (size_t k = 0; k <= TL_O2; k++) {
            size_t j = r.at->tank + k;
            error[i] = fmax(error[i], fabs(r.y[j] - ref.y[j]) / fmax(fabs(ref.y[j]), 0.05));
        }
        print_message("rtol %g: error %.2g\n", rtol[i], error[i]);
        end_run(&r);
    }
    assert_true(error[2] < 2e-4);
    assert_true(error[4] < error[0] / 100);
    assert_true(error[4] < 1e-6);
    end_run(&ref);
    free_loop(&s);
}

/* With the pump off and many fish only accuracy limits the step, and the error of the whole state falls
 * with the tolerance, decade for decade. */
static void error_falls_with_tolerance(void **state)
{
    (void)state;
    static const double rtol[] = {1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9};
    enum { DECADES = sizeof rtol / sizeof rtol[0] };
    struct tl_setup s;
    double error[DECADES] = {0};
    double scale[512];
    reference_loop(&s, 60);
    s.length_d = 5.4;
    s.pump_flow_m3_d = 0;
    s.chamber.surface_m2 = 0;
    struct run ref = whole_run(&s, 1e-12, NULL, 0);
    assert_true(ref.at->size <= 512);
    tl_model_scales(ref.model, scale);
    for (size_t i = 0; i < DECADES; i++) {
        struct run r = whole_run(&s, rtol[i], NULL, 0);
        for (size_t k = 0; k < r.at->core; k++)
            error[i] = fmax(error[i], fabs(r.y[k] - ref.y[k]) / (fabs(ref.y[k]) + scale[k]));
        print_message("rtol %g: error %.2g, %lu steps\n", rtol[i], error[i],
                      tl_engine_stats(r.engine)->steps);
        assert_true(error[i] <= rtol[i]);
        assert_true(i == 0 || error[i] < error[i - 1] / 4);
        end_run(&r);
    }
    assert_true(error[DECADES - 1] < error[0] / 1e5);
    end_run(&ref);
    free_loop(&s);
}

/* Stopped after each step, at every stop and at the end, a run is bit for bit the one left alone. */
static void interruptions_change_nothing(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_event last = {.kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 100};
    eventful_loop(&s);
    last.at_d = s.start_d + s.length_d;
    add_event(&s, last);
    struct run alone = whole_run(&s, 0, NULL, 0);

    const int always = 1;
    const struct tl_engine_options options = {.interrupted = &always};
    struct tl_engine *e = NULL;
    unsigned long steps = 0;
    int status;
    assert_int_equal(tl_engine_new(alone.model, &options, &e), TL_OK);
    while ((status = tl_engine_advance(e, INFINITY)) == TL_E_INTERRUPTED)
        steps++;
    assert_int_equal(status, TL_OK);
    assert_int_equal(steps, tl_engine_stats(alone.engine)->steps);
    assert_memory_equal(tl_engine_state(e), alone.y, alone.at->size * sizeof *alone.y);
    tl_engine_free(e);
    end_run(&alone);
    free_loop(&s);
}

/* Ammonia poured into a starved filter: its films wake up within seconds, far quicker than a step. */
static void sudden_dose(void **state)
{
    (void)state;
    struct tl_setup s;
    double tank[2][TL_NWATER];
    reference_loop(&s, 0);
    s.fish_groups = 0;
    s.length_d = 4;
    add_event(
        &s, (struct tl_event){
                .at_d = 3, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_AMMONIUM_CHLORIDE, .value = 100});
    for (int k = 0; k < 2; k++) {
        struct run r = start_run(&s, k == 0 ? 0 : 1e-8, NULL, 0);
        assert_int_equal(tl_engine_advance(r.engine, 3 - 1e-6), TL_OK);
        assert_true(r.y[r.at->tank + TL_TAN] < 0.02);
        assert_int_equal(tl_engine_advance(r.engine, 3 + 1.0 / 24), TL_OK);
        memcpy(tank[k], &r.y[r.at->tank], sizeof tank[k]);
        end_run(&r);
    }
    print_message("nitrite an hour after: %.6f, exactly %.6f\n", tank[0][TL_NO2], tank[1][TL_NO2]);
    for (size_t i = 0; i <= TL_O2; i++)
        near(tank[0][i], tank[1][i], 1e-5 * fmax(tank[1][i], 0.05));
    free_loop(&s);
}

static void bad_setups_are_refused(void **state)
{
    (void)state;
    struct tl_model *m = NULL;
    struct tl_setup s;
    reference_loop(&s, 1);
    s.tank.volume_m3 = 0;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    assert_null(m);
    s.tank.volume_m3 = 12;
    s.tower.trays = 0;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    s.tower.trays = 16;
    s.length_d = NAN;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    free_loop(&s);
}

/* A state that cannot be integrated ends the run with a name, a place and a time. */
static void faults_have_names(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_event bad = {.at_d = 1, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = NAN};
    reference_loop(&s, 20);
    s.length_d = 2;
    add_event(&s, bad);
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 2), TL_E_SOLVER);
    print_message("%s\n", tl_engine_fault(r.engine));
    assert_non_null(strstr(tl_engine_fault(r.engine), "day 1.0000"));
    assert_non_null(strstr(tl_engine_fault(r.engine), "in the tank"));
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dilution),
        cmocka_unit_test(reaeration),
        cmocka_unit_test(settling),
        cmocka_unit_test(gut_chain),
        cmocka_unit_test(chloramine),
        cmocka_unit_test(doses_and_changes),
        cmocka_unit_test(doses_to_a_mark),
        cmocka_unit_test(alkalinity_is_held),
        cmocka_unit_test(chlorine_over_the_time),
        cmocka_unit_test(dechlorinator),
        cmocka_unit_test(rinsed_in_tap_water),
        cmocka_unit_test(meals_by_log_and_by_temperature),
        cmocka_unit_test(order_at_one_instant),
        cmocka_unit_test(pump_off_for_a_day),
        cmocka_unit_test(cleaning),
        cmocka_unit_test(uneaten_feed),
        cmocka_unit_test(fish_lost),
        cmocka_unit_test(observers_change_nothing),
        cmocka_unit_test(rows_show_the_state_after),
        cmocka_unit_test(error_stays_below_tolerance),
        cmocka_unit_test(error_falls_with_tolerance),
        cmocka_unit_test(interruptions_change_nothing),
        cmocka_unit_test(sudden_dose),
        cmocka_unit_test(bad_setups_are_refused),
        cmocka_unit_test(faults_have_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
