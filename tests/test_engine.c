/* The engine: cases with exact answers, what happens at stops, observers that change nothing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
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

/* Chlorine meets the demand; chloramine leaves 0.1975 gN and 0.5 g chloride per g Cl2. */
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
    near(r.y[r.at->tank + TL_HOCL], 0, 1e-9);
    near(r.y[r.at->tank + TL_TAN], 2 * 0.1975, 1e-6);
    near(r.y[r.at->tank + TL_CL], 21, 1e-6);
    near(r.y[r.at->tank + TL_ALK], 4.5, 1e-9);
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
