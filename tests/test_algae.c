/* Algae on the trays and in the tank: light, cover, what they take and give, what is hosed off. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "heat_balance.h"
#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "runs.h"
#include "towerloop/algae.h"
#include "towerloop/ledger.h"
#include "towerloop/status.h"

static void in_the_sun(struct tl_setup *s, double length_d)
{
    reference_loop(s, 20);
    s->length_d = length_d;
    s->sun = (struct tl_sun){.given = true, .hours_d = 8.0 / 24, .noon_w_m2 = 600};
}

static double cover(const struct run *r, size_t tray)
{
    return tl_model_cover(r->model, r->y, tray);
}

/* --- light ---------------------------------------------------------------------------------------- */

static void light_is_a_half_sine(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_sky sky;
    double sum = 0;
    in_the_sun(&s, 1);
    s.sun.shaded = 0.3;
    s.sun.tank_shaded = 0.8;
    struct run r = start_run(&s, 0, NULL, 0);

    tl_model_sky(r.model, 3.5, &sky);
    near_rel(sky.tower, 0.7 * 600, 1e-12);
    near_rel(sky.tank, 0.2 * 600, 1e-12);
    /* a quarter of the way down from noon */
    tl_model_sky(r.model, 3.5 + 2.0 / 24, &sky);
    near_rel(sky.tower, 0.7 * 600 * sqrt(0.5), 1e-12);
    tl_model_sky(r.model, 3.5 - 4.01 / 24, &sky);
    near(sky.tower, 0, 0);
    tl_model_sky(r.model, 3, &sky);
    near(sky.tank, 0, 0);
    for (int i = 0; i < 10000; i++) {
        tl_model_sky(r.model, (i + 0.5) / 10000, &sky);
        sum += sky.tower / 10000;
    }
    near_rel(sum, 0.7 * 600 * (8.0 / 24) * 2 / M_PI, 1e-5);
    end_run(&r);
    free_loop(&s);
}

/* With weather the light is that of the heat balance, and knows the season. */
static void light_comes_from_the_weather(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_sky sky;
    double cover_of[2];
    for (int winter = 0; winter < 2; winter++) {
        in_the_sun(&s, 40);
        s.weather.given = true;
        s.weather.latitude_deg = 50;
        s.weather.cloud = 0.3;
        s.weather.day_of_year = winter ? 340 : 160;
        s.sun.shaded = 0.25;
        struct run r = whole_run(&s, 0, NULL, 0);
        tl_model_sky(r.model, 10.6, &sky);
        near_rel(sky.tower, 0.75 * tl_weather_sun_w_m2(&s.weather, 10.6), 1e-12);
        near_rel(sky.tank, tl_weather_sun_w_m2(&s.weather, 10.6), 1e-12);
        assert_true(sky.tank > 50 && sky.tank < 1000);
        tl_model_sky(r.model, 10, &sky);
        near(sky.tank, 0, 0);
        cover_of[winter] = cover(&r, 0);
        end_run(&r);
        free_loop(&s);
    }
    assert_true(cover_of[0] > 5 * cover_of[1] && cover_of[1] > 0);
}

/* The mean over the depth in closed form against Simpson's rule. */
static void light_fades_with_depth(void **state)
{
    (void)state;
    struct tl_film_model f;
    struct tl_params p;
    const double depth_m = 1.3, algae_g_m3 = 25, light = 420;
    double sum = 0;
    tl_params_default(&p);
    tl_film_model_make(&p, &f);
    const double k = p.dim_water + p.dim_algae * algae_g_m3;
    for (int i = 0; i <= 1000; i++) {
        const double below = light * exp(-k * depth_m * i / 1000);
        sum += (i == 0 || i == 1000 ? 1 : i % 2 ? 4 : 2) * below / (p.light_algae + below) / 3000;
    }
    near_rel(tl_algae_in_depth(&f, light, algae_g_m3, depth_m), sum, 1e-9);
    near(tl_algae_in_depth(&f, 0, algae_g_m3, depth_m), 0, 0);
    assert_true(tl_algae_in_depth(&f, light, 2 * algae_g_m3, depth_m) < sum);
}

/* --- mats ----------------------------------------------------------------------------------------- */

/* Common practice, no source: after 19 months in full sun the top tray is overgrown, the second nearly
 * clean, the third clean. */
static void nineteen_months_in_full_sun(void **state)
{
    (void)state;
    for (double t_degC = 12; t_degC <= 26; t_degC += 7) {
        struct tl_setup s;
        in_the_sun(&s, 580);
        s.temperature.mean_degC = t_degC;
        struct run r = whole_run(&s, 1e-4, NULL, 0);
        assert_true(cover(&r, 0) > 0.9);
        assert_true(cover(&r, 1) < 0.15 && cover(&r, 1) > 0.02);
        assert_true(cover(&r, 2) < 0.02);
        /* open faces alike but for their size */
        near_rel(r.y[r.at->mat + 1], s.params.edge_algae * r.y[r.at->mat], 1e-6);
        end_run(&r);
        free_loop(&s);
    }
}

static void more_shade_never_means_more_algae(void **state)
{
    (void)state;
    double before[3] = {1, 1, 1};
    for (double shade = 0; shade <= 1.001; shade += 0.1) {
        struct tl_setup s;
        in_the_sun(&s, 60);
        s.sun.shaded = fmin(shade, 1);
        struct run r = whole_run(&s, 0, NULL, 0);
        for (size_t j = 0; j < 3; j++) {
            assert_true(cover(&r, j) <= before[j] + 1e-9);
            before[j] = cover(&r, j);
        }
        end_run(&r);
        free_loop(&s);
    }
    near(before[0], 0, 1e-12); /* in the dark there are none */
}

/* All of the wetted area bears films alike, so a loop with spoiled spread is one with less media. */
static void a_mat_spoils_the_spread(void **state)
{
    (void)state;
    double tan[2];
    for (int spoils = 0; spoils < 2; spoils++) {
        struct tl_setup s;
        in_the_sun(&s, 90);
        if (!spoils)
            s.params.spread_algae = 0;
        struct run r = whole_run(&s, 0, NULL, 0);
        struct tl_work *w;
        struct tl_snapshot seen;
        assert_int_equal(tl_work_new(r.model, &w), TL_OK);
        assert_int_equal(tl_snapshot_alloc(r.model, &seen), TL_OK);
        assert_int_equal(
            tl_model_snapshot(r.model, w, tl_engine_controls(r.engine), 90, r.y, &seen), TL_OK);
        near_rel(w->spread, 1 - s.params.spread_algae * cover(&r, 0), 1e-12);
        near_rel(seen.tray[3][TL_FH] * w->spread * w->cell_wet_m2,
                 r.y[r.at->cell + 3 * TL_NFILM + TL_FH], 1e-12);
        tan[spoils] = r.y[TL_TAN];
        tl_snapshot_free(&seen);
        tl_work_free(w);
        end_run(&r);
        free_loop(&s);
    }
    assert_true(tan[1] > 1.1 * tan[0]);
}

static void a_standing_tower_leaves_its_algae(void **state)
{
    (void)state;
    struct tl_setup s;
    in_the_sun(&s, 3);
    s.pump_flow_m3_d = 0;
    struct run r = start_run(&s, 0, NULL, 0);
    struct tl_work *w;
    double y[1000], dydt[1000];
    assert_true(r.at->size < 1000);
    for (size_t i = 0; i < r.at->size; i++)
        y[i] = r.y[i];
    y[r.at->mat] = 8;
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 0.5, y, dydt), TL_OK);
    for (size_t j = 0; j < r.model->form.lit; j++)
        near(dydt[r.at->mat + j], 0, 0);
    tl_work_free(w);
    end_run(&r);
    free_loop(&s);
}

/* --- what they take ------------------------------------------------------------------------------- */

static void ammonium_is_taken_first(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_film_model f;
    struct tl_climate c;
    double water[TL_NWATER] = {[TL_NO3] = 20, [TL_O2] = 8, [TL_TIC] = 1};
    in_the_sun(&s, 1);
    tl_film_model_make(&s.params, &f);
    tl_climate_at(&s, 1, 20, &c);
    near_rel(c.algae_growth, s.params.mu_algae, 1e-12);

    struct tl_algae_water in = tl_algae_water(&f, &c, water, 1e-8);
    near(in.on_tan, 0, 0);
    assert_true(in.on_no3 > 0.9 * c.algae_growth);
    water[TL_TAN] = 1;
    in = tl_algae_water(&f, &c, water, 1e-8);
    assert_true(in.on_tan > 20 * in.on_no3);
    assert_true(in.on_tan + in.on_no3 < c.algae_growth);
    /* at a pH of 11 nearly all carbon is carbonate, out of their reach */
    assert_true(tl_algae_water(&f, &c, water, 1e-11).on_tan < 0.9 * in.on_tan);
    water[TL_TAN] = water[TL_NO3] = -0.1;
    in = tl_algae_water(&f, &c, water, 1e-8);
    near(in.on_tan + in.on_no3, 0, 0);
    free_loop(&s);
}

static double booked(const struct tl_ledger_account *a, enum tl_ledger_side side, const char *text)
{
    for (size_t i = 0; i < a->lines; i++)
        if (a->line[i].side == side && strcmp(a->line[i].key, text) == 0)
            return a->line[i].amount;
    fail_msg("no line %s", text);
    return NAN;
}

static void ledgers_close_with_algae(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger l;
    char fault[TL_FAULT_SIZE] = "";
    sunny_loop(&s);
    struct run r = whole_run(&s, 0, NULL, 0);
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, s.length_d, &l);
    if (tl_ledger_check(&l, fault, sizeof fault))
        fail_msg("%s", fault);
    assert_true(fabs(l.nitrogen.residual_rel) < 1e-9 && fabs(l.carbon.residual_rel) < 1e-9);
    /* none of the ways out is empty, and what was taken is more than what is left of it */
    const double hosed = booked(&l.nitrogen, TL_LEDGER_OUT, "hosed_algae");
    const double out = booked(&l.nitrogen, TL_LEDGER_OUT, "green_water");
    const double stored = booked(&l.nitrogen, TL_LEDGER_STORED, "algae");
    const double taken = booked(&l.nitrogen, TL_LEDGER_NOTE, "taken_by_algae");
    assert_true(hosed > 0 && out > 0 && stored > 0);
    assert_true(taken > hosed + out + stored);
    assert_true(booked(&l.oxygen, TL_LEDGER_IN, "algae") > taken / s.params.i_algae);
    end_run(&r);
    free_loop(&s);
}

static void what_is_hosed_off(void **state)
{
    (void)state;
    struct tl_setup s;
    double y[1000];
    in_the_sun(&s, 60);
    add_event(&s, (struct tl_event){.at_d = 50.0, .kind = TL_EVENT_HOSE_TRAY, .tray = 1});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_true(r.at->size < 1000);
    assert_int_equal(tl_engine_advance(r.engine, 50 - 1e-6), TL_OK);
    for (size_t i = 0; i < r.at->size; i++)
        y[i] = r.y[i];
    assert_int_equal(tl_engine_advance(r.engine, 50), TL_OK);
    near(r.y[r.at->mat], 0, 0);
    near_rel(r.y[r.at->algae_out + TL_ALGAE_HOSED], y[r.at->mat], 1e-4);
    near_rel(r.y[r.at->mat + 1], y[r.at->mat + 1], 1e-4);
    for (size_t k = 0; k < TL_NFILM; k++) {
        near_rel(r.y[r.at->cell + k], (1 - s.params.clean_loss) * y[r.at->cell + k], 1e-4);
        near_rel(r.y[r.at->cell + TL_NFILM + k], y[r.at->cell + TL_NFILM + k], 1e-4);
    }
    assert_int_equal(tl_engine_advance(r.engine, 60), TL_OK);
    assert_true(cover(&r, 0) > 0 && cover(&r, 0) < 0.1); /* and grows anew */
    end_run(&r);
    free_loop(&s);
}

/* --- green water ---------------------------------------------------------------------------------- */

struct day {
    const struct tl_model *m;
    struct tl_work *w;
    struct tl_snapshot s;
    double low[2], high[2]; /* oxygen, pH */
    double low_d, high_d;   /* of oxygen */
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct day *d = arg;
    const int status = tl_model_glance(d->m, d->w, c, t_d, y, &d->s);
    if (t_d < 4)
        return status;
    if (d->s.tank[TL_O2] < d->low[0])
        d->low_d = t_d;
    if (d->s.tank[TL_O2] > d->high[0])
        d->high_d = t_d;
    d->low[0] = fmin(d->low[0], d->s.tank[TL_O2]);
    d->high[0] = fmax(d->high[0], d->s.tank[TL_O2]);
    d->low[1] = fmin(d->low[1], d->s.tank_ph);
    d->high[1] = fmax(d->high[1], d->s.tank_ph);
    return status;
}

static struct day fifth_day(double green_g_m3)
{
    struct tl_setup s;
    struct day d = {.low = {INFINITY, INFINITY}, .high = {-INFINITY, -INFINITY}};
    const struct tl_observer o = {1.0 / 288, 0, see, &d};
    in_the_sun(&s, 5);
    s.sun.hours_d = 14.0 / 24;
    s.aerator_g_d = 0;
    s.green_g_m3 = green_g_m3;
    struct run r = start_run(&s, 0, &o, 1);
    d.m = r.model;
    assert_int_equal(tl_work_new(r.model, &d.w), TL_OK);
    assert_int_equal(tl_engine_advance(r.engine, 5), TL_OK);
    if (green_g_m3 > 0)
        assert_true(r.y[r.at->green] > green_g_m3 * (s.tank.volume_m3 + s.chamber.volume_m3));
    else
        assert_true(r.at->green == r.at->core);
    tl_work_free(d.w);
    end_run(&r);
    free_loop(&s);
    return d;
}

static void green_water_makes_oxygen_and_ph_swing(void **state)
{
    (void)state;
    const struct day clear = fifth_day(0);
    const struct day green = fifth_day(20);
    assert_true(green.high[0] - green.low[0] > clear.high[0] - clear.low[0] + 1);
    assert_true(green.high[1] - green.low[1] > clear.high[1] - clear.low[1] + 0.3);
    /* highest in the sun, lowest outside of it */
    const double high_h = 24 * (green.high_d - 4), low_h = 24 * (green.low_d - 4);
    assert_true(high_h > 10 && high_h < 18);
    assert_true(low_h < 8 || low_h > 18);
}

/* --- none of it ----------------------------------------------------------------------------------- */

static void without_sun_there_is_nothing(void **state)
{
    (void)state;
    struct tl_setup s;
    in_the_sun(&s, 1);
    s.sun.given = false;
    s.green_g_m3 = 10; /* the reader refuses it; the model has no light for it */
    struct run r = start_run(&s, 0, NULL, 0);
    assert_true(r.at->mat == r.at->core && r.at->green == r.at->core);
    assert_true(r.at->extent_mat == r.at->gas_o2 && r.at->algae_out == r.at->size);
    assert_int_equal(tl_model_lit_trays(r.model), 0);
    assert_false(tl_model_has_green_water(r.model));
    end_run(&r);

    s.sun = (struct tl_sun){.given = true, .hours_d = 0, .noon_w_m2 = 600};
    struct tl_model *m;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_is_a_half_sine),
        cmocka_unit_test(light_comes_from_the_weather),
        cmocka_unit_test(light_fades_with_depth),
        cmocka_unit_test(nineteen_months_in_full_sun),
        cmocka_unit_test(more_shade_never_means_more_algae),
        cmocka_unit_test(a_mat_spoils_the_spread),
        cmocka_unit_test(a_standing_tower_leaves_its_algae),
        cmocka_unit_test(ammonium_is_taken_first),
        cmocka_unit_test(ledgers_close_with_algae),
        cmocka_unit_test(what_is_hosed_off),
        cmocka_unit_test(green_water_makes_oxygen_and_ph_swing),
        cmocka_unit_test(without_sun_there_is_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
