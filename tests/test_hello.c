/* The step API on a card: describe a loop, build a model, run it, read it, free it. Read this first. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/engine.h"
#include "towerloop/ledger.h"
#include "towerloop/status.h"

/* An observer is a function and its argument; this one keeps the lowest oxygen of the tank. */
static int keep_lowest_oxygen(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    double *lowest = arg;
    (void)t_d;
    (void)c;
    *lowest = fmin(*lowest, y[TL_O2]); /* the tank's water comes first in the state */
    return TL_OK;
}

static void two_days_of_a_small_loop(void **state)
{
    (void)state;

    /* 1. describe: defaults first, so that no field is ever unset; everything in m, m3, d, g */
    struct tl_setup setup;
    tl_setup_default(&setup);
    setup.length_d = 2;
    setup.tank = (struct tl_basin){.volume_m3 = 3, .surface_m2 = 3, .walls_m2 = 9};
    setup.chamber = (struct tl_basin){.volume_m3 = 0.2, .surface_m2 = 0.3, .walls_m2 = 1.5};
    setup.pump_flow_m3_d = 2 * 24;
    setup.tower.trays = 6;
    setup.tower.media_depth_m = 0.08;
    setup.tower.plan_area_m2 = 0.2;
    setup.source.water[TL_ALK] = 3;
    setup.source.ph = 7.6;
    setup.starting = setup.source;

    struct tl_fish koi = {.name = "koi", .count = 10, .mean_mass_g = 300};
    int meal_s[] = {9 * 3600};
    setup.fish = &koi;
    setup.fish_groups = 1;
    setup.feeding.ration.value = 0.01; /* 1 %/d of biomass */
    setup.feeding.meal_s = meal_s;
    setup.feeding.meals = 1;

    /* 2. build: a model is constant from here on and owns its own copy of the setup */
    struct tl_model *model = NULL;
    assert_int_equal(tl_model_build(&setup, &model), TL_OK);

    /* 3. run, with an eye on the tank every five minutes */
    double lowest_oxygen = INFINITY;
    struct tl_observer eye = {.period_d = 5.0 / 1440,
                              .need = TL_NWATER,
                              .see = keep_lowest_oxygen,
                              .arg = &lowest_oxygen};
    struct tl_engine_options options = {.observer = &eye, .observers = 1};
    struct tl_engine *engine = NULL;
    assert_int_equal(tl_engine_new(model, &options, &engine), TL_OK);
    assert_int_equal(tl_engine_advance(engine, tl_engine_end(engine)), TL_OK);

    /* 4. read: the state as a row of output, and the ledger */
    struct tl_snapshot now;
    struct tl_work *work = NULL;
    assert_int_equal(tl_work_new(model, &work), TL_OK);
    assert_int_equal(tl_snapshot_alloc(model, &now), TL_OK);
    assert_int_equal(tl_model_snapshot(model, work, tl_engine_controls(engine),
                                       tl_engine_time(engine), tl_engine_state(engine), &now),
                     TL_OK);
    near(now.t_d, 2, 1e-9);
    near(now.fish_kg, 3, 1e-12);
    assert_true(lowest_oxygen > 5 && lowest_oxygen < 9);
    assert_true(now.tank_ph > 7 && now.tank_ph < 8.8);

    struct tl_ledger ledger;
    char fault[200];
    tl_ledger_draw_up(model, tl_engine_start_state(engine), tl_engine_state(engine), 2, &ledger);
    assert_int_equal(tl_ledger_check(&ledger, fault, sizeof fault), TL_OK);

    /* 5. free */
    tl_snapshot_free(&now);
    tl_work_free(work);
    tl_engine_free(engine);
    tl_model_free(model);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_days_of_a_small_loop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
