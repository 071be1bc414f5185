/* The model piece by piece: what a setup is compiled into, how each part depends on temperature, the
 * rates of a film and their derivatives, the schedule, snapshots. Expected values are worked out here
 * from the setup, by formulas written out again. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "runs.h"
#include "schedule.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

/* --- tables ----------------------------------------------------------------------------------- */

/* The arrays are longer than the table: what lies behind it must not be read. */
static void tables_are_linear_and_end(void **state)
{
    (void)state;
    double x[] = {1, 2, 4, 8, -100};
    double y[] = {10, 30, 20, 60, -1e9};
    const struct tl_table t = {x, y, 4};
    for (int i = 0; i < 4; i++)
        near(tl_table_at(&t, x[i]), y[i], 0);
    near(tl_table_at(&t, 0), 10, 0);
    near(tl_table_at(&t, 1.25), 15, 1e-12);
    near(tl_table_at(&t, 3), 25, 1e-12);
    near(tl_table_at(&t, 7), 50, 1e-12);
    near(tl_table_at(&t, 9), 60, 0);
    const struct tl_table one = {x, y, 1};
    near(tl_table_at(&one, 0.5), 10, 0);
    near(tl_table_at(&one, 1.5), 10, 0);
    const struct tl_table two = {x, y, 2};
    near(tl_table_at(&two, 1.5), 20, 1e-12);
    near(tl_table_at(&two, 3), 30, 0);
    const struct tl_table none = {x, y, 0};
    near(tl_table_at(&none, 1), 0, 0);
}

static void copies_are_whole_and_apart(void **state)
{
    (void)state;
    struct tl_setup s, copy;
    eventful_loop(&s);
    double days[] = {0, 5};
    double degC[] = {12, 18};
    s.temperature.readings = (struct tl_table){days, degC, 2};
    s.feeding.ration.table = (struct tl_table){days, degC, 2};
    assert_int_equal(tl_setup_copy(&copy, &s), TL_OK);
    assert_int_equal(copy.events, s.events);
    assert_int_equal(copy.fish_groups, s.fish_groups);
    assert_int_equal(copy.feeding.meals, 3);
    for (size_t i = 0; i < s.events; i++) {
        const struct tl_table *t = &s.event[i].ration.table;
        const struct tl_table *c = &copy.event[i].ration.table;
        assert_int_equal(c->n, t->n);
        for (size_t k = 0; k < t->n; k++) {
            near(c->x[k], t->x[k], 0);
            near(c->y[k], t->y[k], 0);
        }
        assert_true(t->n == 0 || c->x != t->x);
        near(copy.event[i].at_d, s.event[i].at_d, 0);
    }
    near(tl_table_at(&copy.temperature.readings, 2.5), 15, 1e-12);
    near(tl_table_at(&copy.feeding.ration.table, 2.5), 15, 1e-12);
    assert_int_equal(copy.feeding.meal_s[2], 18 * 3600);
    near(copy.fish[0].mean_mass_g, 500, 0);
    tl_setup_free(&copy);
    s.temperature.readings = s.feeding.ration.table = (struct tl_table){0};
    free_loop(&s);
}

static void setup_has_its_defaults(void **state)
{
    (void)state;
    struct tl_setup s;
    tl_setup_default(&s);
    near(s.length_d, 60, 0);
    near(s.temperature.mean_degC, 20, 0);
    near(s.to_tower, 1, 0);
    near(s.tower.specific_surface_m2_m3, 200, 0);
    near(s.tower.media_size_m, 0.03, 0);
    near(s.tower.void_fraction, 0.45, 0);
    near(s.tower.critical_surface_tension_n_m, 0.061, 0);
    assert_true(isnan(s.tower.stays_moist_d)); /* 12 h at the most */
    near(s.tower.die_off_1_d, 1.2, 1e-15);
    near(s.feeding.protein, 0.38, 0);
    near(s.feeding.feed_conversion, 1.8, 0);
    tl_setup_free(&s);
}

/* --- what is refused -------------------------------------------------------------------------- */

static void one_bad_value_is_enough(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 1);
    const struct {
        double *value, bad;
    } row[] = {
        {&s.tank.volume_m3, 0},
        {&s.tank.volume_m3, INFINITY},
        {&s.tank.surface_m2, -1},
        {&s.tank.surface_m2, INFINITY},
        {&s.tank.walls_m2, -1},
        {&s.tank.walls_m2, INFINITY},
        {&s.chamber.volume_m3, 0},
        {&s.chamber.surface_m2, NAN},
        {&s.chamber.walls_m2, NAN},
        {&s.tower.media_depth_m, 0},
        {&s.tower.media_depth_m, INFINITY},
        {&s.tower.plan_area_m2, 0},
        {&s.tower.plan_area_m2, INFINITY},
        {&s.tower.specific_surface_m2_m3, 0},
        {&s.tower.media_size_m, 0},
        {&s.tower.void_fraction, 0},
        {&s.pump_flow_m3_d, -1},
        {&s.pump_flow_m3_d, INFINITY},
        {&s.to_tower, -0.1},
        {&s.to_tower, 1.1},
        {&s.length_d, 0},
        {&s.length_d, INFINITY},
        {&s.start_d, -0.1},
        {&s.start_d, 1},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct tl_model *m = NULL;
        const double good = *row[i].value;
        *row[i].value = row[i].bad;
        if (tl_model_build(&s, &m) != TL_E_INPUT || m)
            fail_msg("row %zu was not refused", i);
        *row[i].value = good;
    }
    const struct {
        double *value, good;
    } edge[] = {
        {&s.tank.surface_m2, 0}, {&s.tank.walls_m2, 0}, {&s.chamber.surface_m2, 0},
        {&s.pump_flow_m3_d, 0},  {&s.to_tower, 0},      {&s.to_tower, 1},
        {&s.start_d, 0.999},
    };
    for (size_t i = 0; i < sizeof edge / sizeof edge[0]; i++) {
        struct tl_model *m = NULL;
        const double before = *edge[i].value;
        *edge[i].value = edge[i].good;
        if (tl_model_build(&s, &m) != TL_OK)
            fail_msg("edge %zu was refused", i);
        tl_model_free(m);
        *edge[i].value = before;
    }
    struct tl_model *m = NULL;
    s.tower.trays = 0;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    s.tower.trays = 1;
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    tl_model_free(m);
    free_loop(&s);
}

/* --- geometry, start ---------------------------------------------------------------------------- */

static void trays_are_cut_into_cells(void **state)
{
    (void)state;
    static const struct {
        double depth;
        int cells;
    } row[] = {{1e-11, 1}, {0.05, 1}, {0.1, 1}, {0.101, 2}, {0.2, 2}, {0.3, 3}, {0.31, 4}};
    struct tl_setup s;
    reference_loop(&s, 1);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct tl_model *m = NULL;
        s.tower.media_depth_m = row[i].depth;
        assert_int_equal(tl_model_build(&s, &m), TL_OK);
        const struct tl_layout *at = tl_model_layout(m);
        assert_int_equal(at->fish - at->cell, row[i].cells * 16 * TL_NFILM);
        near_rel(m->cell_depth_m, row[i].depth / row[i].cells, 1e-12);
        near_rel(m->cell_media_m2, 0.27 * 200 * row[i].depth / row[i].cells, 1e-12);
        near_rel(m->site.cell_capture, -expm1(-0.05 * row[i].depth / row[i].cells), 1e-12);
        tl_model_free(m);
    }
    free_loop(&s);
}

static void films_start_as_told(void **state)
{
    (void)state;
    static const double mature[TL_NFILM] = {0.4, 0.12, 1.0, 0.3, 0.5};
    static const double fresh[TL_NFILM] = {2e-4, 1e-4, 1e-3, 0, 0};
    for (int kind = 0; kind < 3; kind++) {
        struct tl_setup s;
        struct tl_wetting wet;
        reference_loop(&s, 1);
        s.tower.biofilm = (enum tl_biofilm)kind;
        s.tower.seeded_share = 0.3;
        struct run r = start_run(&s, 0, NULL, 0);
        tl_onda(&(struct tl_packing){200, 0.03, 0.061}, 4.542 / 0.27, 24, &wet);
        for (size_t i = 0; i < TL_NFILM; i++) {
            const double film = kind == TL_BIOFILM_NEW      ? fresh[i]
                                : kind == TL_BIOFILM_SEEDED ? 0.3 * mature[i]
                                                            : mature[i];
            near(r.y[r.at->tank_wall + i], film * 2.8, 1e-12);
            near(r.y[r.at->chamber_wall + i], film * 0.4, 1e-12);
            for (size_t j = 0; j < 16; j++)
                near(r.y[r.at->cell + j * TL_NFILM + i],
                     film * 0.27 * 0.0762 * 200 * wet.wetted_fraction, 1e-9);
        }
        near(r.y[r.at->fish + TL_FISH_BIOMASS_KG], 1, 1e-12);
        near(r.y[r.at->fish + TL_FISH_NUMBER], 2, 0);
        near(r.y[r.at->sludge] + r.y[r.at->sludge + 1], 0, 0);
        for (size_t i = r.at->core; i < r.at->size; i++)
            near(r.y[i], 0, 0);
        end_run(&r);
        free_loop(&s);
    }
}

/* A tower that stands at the start is wetted as by the least load that wets one, 1.25 m/h. */
static void standing_tower_starts_wet(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_wetting wet;
    reference_loop(&s, 1);
    s.pump_flow_m3_d = 0;
    s.start_d = 0.25;
    struct run r = start_run(&s, 0, NULL, 0);
    tl_onda(&(struct tl_packing){200, 0.03, 0.061}, 1.25, 24, &wet);
    near_rel(r.y[r.at->cell], 0.4 * 0.27 * 0.0762 * 200 * wet.wetted_fraction, 1e-12);
    near(tl_engine_controls(r.engine)->wetted_at_m_h, 1.25, 0);
    near(tl_engine_controls(r.engine)->dry_since_d, 0.25, 0);
    end_run(&r);
    free_loop(&s);
}

/* Both waters start as told; oxygen not given is that of saturation, chloride counted. */
static void waters_start_as_told(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_carbonate k;
    reference_loop(&s, 1);
    s.starting.o2_given = false;
    s.starting.water[TL_CL] = 3000;
    s.starting.water[TL_TAN] = 2;
    s.elevation_m = 800;
    struct run r = start_run(&s, 0, NULL, 0);
    tl_carbonate_constants(24, &k);
    const double tic = tl_tic_from_h(&k, 4.5, pow(10, -7.8), 2);
    const size_t zone[] = {r.at->tank, r.at->chamber};
    for (size_t i = 0; i < 2; i++) {
        const double *water = &r.y[zone[i]];
        near_rel(water[TL_O2], tl_o2_saturation(24, 1.80655e-3 * 3000, tl_pressure_atm(800)), 2e-5);
        near_rel(water[TL_TIC], tic, 1e-12);
        near(water[TL_CL], 3000, 0);
        near(water[TL_TAN], 2, 0);
        near(water[TL_NO3], 2, 0);
    }
    end_run(&r);
    free_loop(&s);
}

/* The absolute tolerances are part of what makes a run repeatable. */
static void scales_are_kept(void **state)
{
    (void)state;
    static const double water[TL_NWATER] = {
        [TL_TAN] = 0.05, [TL_NO2] = 0.05, [TL_NO3] = 0.5,   [TL_O2] = 0.5,
        [TL_ALK] = 0.1,  [TL_TIC] = 0.1,  [TL_SS] = 2,      [TL_XS] = 5,
        [TL_XI] = 5,     [TL_CL] = 1,     [TL_HOCL] = 0.001};
    static const double film[TL_NFILM] = {1e-4, 1e-4, 1e-3, 1e-2, 1e-2};
    double scale[400];
    struct tl_setup s;
    reference_loop(&s, 1);
    s.chamber.walls_m2 = 0;
    struct run r = start_run(&s, 0, NULL, 0);
    assert_true(r.at->size <= 400);
    tl_model_scales(r.model, scale);
    for (size_t i = 0; i < TL_NWATER; i++) {
        near(scale[r.at->tank + i], water[i], 0);
        near(scale[r.at->chamber + i], water[i], 0);
    }
    for (size_t i = 0; i < TL_NFILM; i++) {
        near_rel(scale[r.at->tank_wall + i], 2.8 * film[i], 1e-12);
        near_rel(scale[r.at->chamber_wall + i], 0.01 * film[i], 1e-12);
        for (size_t j = 0; j < 16; j++)
            near_rel(scale[r.at->cell + j * TL_NFILM + i], film[i] * 0.5 * 0.27 * 0.0762 * 200,
                     1e-12);
    }
    near(scale[r.at->sludge] + scale[r.at->sludge + 1], 2, 0);
    for (size_t i = 0; i < TL_FISH_SLOTS; i++)
        near(scale[r.at->fish + i], 1, 0);
    near(scale[r.at->store], 0.1, 0);
    for (size_t i = r.at->core; i < r.at->size; i++)
        assert_true(scale[i] >= 1e30);
    end_run(&r);
    free_loop(&s);
}

static void everything_has_its_name(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 1);
    s.tower.media_depth_m = 0.2; /* two cells a tray */
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_ADD_FISH, .fish = {"new", 1, 1}});
    struct run r = start_run(&s, 0, NULL, 0);
    const struct tl_layout *at = r.at;
    const struct {
        size_t at;
        const char *name;
    } row[] = {
        {at->tank + TL_TAN, "total ammonia nitrogen in the tank"},
        {at->tank + TL_HOCL, "residual chlorine in the tank"},
        {at->chamber + TL_TAN, "total ammonia nitrogen in the settling chamber"},
        {at->chamber + TL_HOCL, "residual chlorine in the settling chamber"},
        {at->sludge, "sludge in the settling chamber"},
        {at->sludge + 1, "sludge in the settling chamber"},
        {at->tank_wall + TL_FA, "ammonia oxidisers on the tank's walls"},
        {at->tank_wall + TL_FI, "trapped inert solids on the tank's walls"},
        {at->chamber_wall + TL_FA, "ammonia oxidisers on the settling chamber's walls"},
        {at->chamber_wall + TL_FI, "trapped inert solids on the settling chamber's walls"},
        {at->cell + TL_FA, "ammonia oxidisers in tray 1"},
        {at->cell + TL_NFILM + TL_FI, "trapped inert solids in tray 1"},
        {at->cell + 2 * TL_NFILM + TL_FN, "nitrite oxidisers in tray 2"},
        {at->fish - 1, "trapped inert solids in tray 16"},
        {at->fish, "fish group 'koi'"},
        {at->fish + TL_FISH_SLOTS - 1, "fish group 'koi'"},
        {at->fish + TL_FISH_SLOTS, "fish group 'new'"},
        {at->store, "nitrogen freed in the standing tower"},
        {at->core, "a running total"},
        {at->size - 1, "a running total"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        char name[128];
        tl_model_component_name(r.model, row[i].at, name, sizeof name);
        assert_string_equal(name, row[i].name);
    }
    end_run(&r);
    free_loop(&s);
}

/* --- temperature -------------------------------------------------------------------------------- */

static void temperature_of_the_moment(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_model *m = NULL;
    reference_loop(&s, 1);
    s.temperature = (struct tl_temperature){.kind = TL_TEMPERATURE_SINES,
                                            .mean_degC = 15,
                                            .seasonal_swing_degC = 8,
                                            .warmest_noon_d = 100.5,
                                            .daily_swing_degC = 2};
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    near(tl_model_temperature(m, 100.5), 15 + 8 + 2 * cos(2 * M_PI * 4 / 24), 1e-9);
    near(tl_model_temperature(m, 100 + 16.0 / 24), 15 + 8 + 2, 1e-3);
    near(tl_model_temperature(m, 100.5 + 365.25 / 2),
         15 - 8 + 2 * cos(2 * M_PI * (365.25 / 2 - 4.0 / 24)), 1e-9);
    near(tl_model_temperature(m, 100.5 + 365.25 / 4),
         15 + 2 * cos(2 * M_PI * (365.25 / 4 - 4.0 / 24)), 1e-9);
    tl_model_free(m);
    free_loop(&s);
}

static void everything_follows_temperature(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_climate c;
    reference_loop(&s, 1);
    const struct tl_params *p = &s.params;
    static const double degC[] = {4, 20, 27};
    for (size_t i = 0; i < 3; i++) {
        const double t = degC[i];
        const double dt = t - 20;
        tl_climate_at(&s, 0.9, t, &c);
        near_rel(c.mu[0], 0.78 * pow(1.08, dt), 1e-12);
        near_rel(c.mu[1], 0.78 * pow(1.061, dt), 1e-12);
        near_rel(c.mu[2], 6 * pow(1.07, dt), 1e-12);
        near_rel(c.decay[0], 0.08 * pow(1.04, dt), 1e-12);
        near_rel(c.decay[1], 0.08 * pow(1.04, dt), 1e-12);
        near_rel(c.decay[2], 0.40 * pow(1.04, dt), 1e-12);
        near_rel(c.hydrolysis, 0.15 * pow(1.07, dt), 1e-12);
        near_rel(c.depth_a, 0.32 / sqrt(pow(1.08, dt)), 1e-12);
        near_rel(c.depth_n, 0.30 / sqrt(pow(1.061, dt)), 1e-12);
        near_rel(c.gut, 4.8 * pow(1.07, dt), 1e-12);
        near_rel(c.basal_n, 0.12 * pow(1.09, dt), 1e-12);
        near_rel(c.rest_o2, 1.5 * 0.0674 * exp(0.0562 * t) * 24, 1e-12);
        near_rel(c.k_surface, 0.6 * pow(1.024, dt), 1e-12);
        near_rel(c.aerator_m3_per_g, pow(1.024, dt) / tl_o2_saturation(20, 0, 1), 1e-12);
        near_rel(c.o2_sat, tl_o2_saturation(t, 0, 0.9), 1e-12);
        const double salty[TL_NWATER] = {[TL_CL] = 2000};
        near_rel(tl_o2_saturation_in(&c, salty), tl_o2_saturation(t, 1.80655e-3 * 2000, 0.9), 2e-5);
        near_rel(c.source_tic, tl_tic_from_h(&c.k, 4.5, pow(10, -7.8), 0), 1e-12);
        near(c.source_o2, 8, 0);
    }
    near(p->mu_aob, 0.78, 0);
    /* the cubic of Kestin et al. 1978, away from 20 degC where it vanishes */
    for (double t = 0; t <= 40; t += 8) {
        const double x = 20 - t;
        const double exponent = (1.2364 * x - 1.37e-3 * x * x + 5.7e-6 * x * x * x) / (t + 96);
        near_rel(tl_viscosity_pa_s(t), 1.002e-3 * pow(10, exponent), 1e-12);
    }
    s.source.o2_given = false;
    s.source.water[TL_CL] = 2000;
    tl_climate_at(&s, 0.9, 27, &c);
    near_rel(c.source_o2, tl_o2_saturation(27, 1.80655e-3 * 2000, 0.9), 2e-5);
    free_loop(&s);
}

/* The correlation of Onda, Takeuchi & Okumoto 1968 written out in powers of its groups. */
static void wetting_as_written(void **state)
{
    (void)state;
    static const struct tl_packing packing[] = {{200, 0.03, 0.061}, {90, 0.05, 0.033}};
    static const double load_m_h[] = {1.5, 16.8, 40};
    for (size_t i = 0; i < 2; i++)
        for (size_t j = 0; j < 3; j++) {
            const double t = 12;
            const struct tl_packing *p = &packing[i];
            const double mu = tl_viscosity_pa_s(t);
            const double sigma = 0.0728 - 0.00015 * (t - 20);
            const double l = 998.2 * load_m_h[j] / 3600;
            const double a = p->area_m2_m3;
            struct tl_wetting wet;
            tl_onda(p, load_m_h[j], t, &wet);
            const double wetted =
                1 - exp(-1.45 * pow(p->sigma_c_n_m / sigma, 0.75) * pow(l / (a * mu), 0.1) *
                        pow(l * l * a / (998.2 * 998.2 * 9.81), -0.05) *
                        pow(l * l / (998.2 * sigma * a), 0.2));
            const double film = 0.0051 * pow(l / (a * wetted * mu), 2.0 / 3) *
                                pow(a * p->size_m, 0.4) * pow(mu * 9.81 / 998.2, 1.0 / 3);
            near_rel(wet.wetted_fraction, wetted, 1e-12);
            near_rel(wet.kl_o2_m_s, film * sqrt(998.2 * tl_diffusivity_o2_m2_s(t) / mu), 1e-12);
            near_rel(wet.kl_co2_m_s, film * sqrt(998.2 * tl_diffusivity_co2_m2_s(t) / mu), 1e-12);
        }
}

/* Half of what it is at its best at either limit of a narrow bell; symmetrical. */
static void ph_bell_has_its_shape(void **state)
{
    (void)state;
    struct tl_ph_bell b;
    tl_ph_bell_make(6.5, 9.5, &b);
    const double scale = 1 + 2 * pow(10, -1.5);
    near_rel(tl_ph_bell_at(&b, 1e-8), 1, 1e-12);
    near_rel(tl_ph_bell_at(&b, pow(10, -6.5)), scale / (2 + 1e-3), 1e-12);
    near_rel(tl_ph_bell_at(&b, pow(10, -9.5)), scale / (2 + 1e-3), 1e-12);
    near_rel(tl_ph_bell_at(&b, 1e-6), scale / (1 + pow(10, -3.5) + sqrt(10)), 1e-12);
}

/* --- film --------------------------------------------------------------------------------------- */

static double monod(double s, double k)
{
    return s / (k + s);
}

static void film_rates_as_written(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_film_model f;
    struct tl_climate c;
    struct tl_film_switch sw;
    double rate[TL_NFILM_PROCESS];
    const double film[TL_NFILM] = {0.5, 0.2, 1.5, 0.7, 0.9};
    const struct tl_film_water w = {1.3, 0.4, 2.1, 5.5, 3.7};
    const double water[TL_NWATER] = {[TL_TAN] = 1.3, [TL_ALK] = 0.7, [TL_HOCL] = 0.02};
    const double h = pow(10, -8.1);
    const double t = 26;
    reference_loop(&s, 1);
    s.params.b_nob = 0.11; /* the defaults of the two guilds are the same */
    tl_film_model_make(&s.params, &f);
    tl_climate_at(&s, 1, t, &c);
    tl_film_switch_at(&f, &c, h, water, &sw);
    tl_film_rates(&f, &c, &sw, film, 0.45, &w, rate);

    const double m_alk = 0.49 / (0.09 + 0.49);
    const double nh3 = 1.3 * tl_nh3_fraction(t, 8.1);
    const double bell_a = (1 + 2 * pow(10, -1.5)) / (1 + pow(10, -1.4) + pow(10, -1.6));
    const double bell_n = (1 + 2 * pow(10, -1.65)) / (1 + pow(10, -1.4) + pow(10, -1.9));
    near_rel(sw.a, bell_a * m_alk, 1e-9);
    near_rel(sw.n, bell_n * m_alk * 0.64 / (0.64 + nh3), 1e-9);
    near_rel(sw.kill, 0.6, 1e-12);
    const double over = (1.5 + 0.7 + 0.9) / 12;
    const double m_t = monod(1.3, 0.01);
    near_rel(rate[TL_GROW_A],
             0.78 * pow(1.08, 6) * sw.a / (1 + 0.5 / (0.32 * pow(1.08, -3)) + over) *
                 monod(1.3, 1) * monod(5.5, 0.6) * (0.5 + 1e-5),
             1e-12);
    near_rel(rate[TL_GROW_N],
             0.78 * pow(1.061, 6) * sw.n / (1 + 0.2 / (0.30 * pow(1.061, -3)) + over) *
                 monod(0.4, 0.5) * monod(5.5, 1.2) * m_t * (0.2 + 1e-5),
             1e-12);
    near_rel(rate[TL_GROW_H],
             6 * pow(1.07, 6) * 3 / (3 + 1.5) * monod(2.1, 5) * monod(5.5, 0.2) * m_t *
                 (1.5 + 1e-5),
             1e-12);
    near_rel(rate[TL_DECAY_A], (0.08 * pow(1.04, 6) + 0.6) * 0.5, 1e-12);
    near_rel(rate[TL_DECAY_N], (0.11 * pow(1.04, 6) + 0.6) * 0.2, 1e-12);
    near_rel(rate[TL_DECAY_H], (0.40 * pow(1.04, 6) + 0.6) * 1.5, 1e-12);
    near_rel(rate[TL_DETACH_A], 0.2 * 0.1 * 2.2 / 5 * 0.5, 1e-12);
    near_rel(rate[TL_DETACH_N], 0.2 * 0.1 * 2.2 / 5 * 0.2, 1e-12);
    near_rel(rate[TL_DETACH_H], 0.1 * 2.2 / 5 * 1.5, 1e-12);
    near_rel(rate[TL_HYDROLYSE_FILM], 0.15 * pow(1.07, 6) * 0.7, 1e-12);
    near_rel(rate[TL_SLOUGH_S], 0.45 * 0.7, 1e-12);
    near_rel(rate[TL_SLOUGH_I], 0.45 * 0.9, 1e-12);

    /* on nitrate: how deep oxygen comes, 2 D S/j by the film's thickness, and where it is lacking */
    const double used = (3.43 / 0.18 - 1) * rate[TL_GROW_A] + (1.14 / 0.06 - 1) * rate[TL_GROW_N] +
                        (1 / 0.63 - 1) * rate[TL_GROW_H];
    const double depth = 2 * 1.7e-4 * 5.5 * monod(5.5, 0.2) / used / (3.8 / 30000);
    const double airless = 1 / (1 + depth + depth * depth + depth * depth * depth);
    near_rel(rate[TL_GROW_H_NO3],
             0.8 * 6 * pow(1.07, 6) * 3 / (3 + 1.5) * monod(2.1, 5) * monod(3.7, 0.5) * m_t *
                 (1 - (1 - airless) * monod(5.5, 0.2)) * (1.5 + 1e-5),
             1e-12);
    free_loop(&s);
}

/* Derivatives against differences; below zero a substrate does nothing. */
static void film_derivatives(void **state)
{
    (void)state;
    static const double point[][4] = {
        {1.3, 0.4, 2.1, 5.5}, {0.02, 0.01, 0.3, 0.4}, {8, 6, 20, 9},      {-0.1, 0.2, 1, 3},
        {0.2, -0.1, 1, 3},    {0.2, 0.2, -1, 3},      {0.2, 0.2, 1, -0.1}};
    const double growth_max[3] = {0.7, 0.3, 2.5};
    struct tl_setup s;
    struct tl_film_model f;
    reference_loop(&s, 1);
    tl_film_model_make(&s.params, &f);
    for (size_t i = 0; i < sizeof point / sizeof point[0]; i++) {
        double growth[3];
        double d[3][4];
        const struct tl_film_water w = {point[i][0], point[i][1], point[i][2], point[i][3], 0};
        tl_film_growth(&f, growth_max, &w, growth, d);
        for (size_t k = 0; k < 4; k++) {
            const double step = 1e-5 * fabs(point[i][k]);
            double up[4], down[4], high[3], low[3];
            memcpy(up, point[i], sizeof up);
            memcpy(down, point[i], sizeof down);
            up[k] += step;
            down[k] -= step;
            tl_film_growth(&f, growth_max, &(struct tl_film_water){up[0], up[1], up[2], up[3], 0},
                           high, NULL);
            tl_film_growth(&f, growth_max,
                           &(struct tl_film_water){down[0], down[1], down[2], down[3], 0}, low,
                           NULL);
            for (size_t g = 0; g < 3; g++) {
                near(d[g][k], (high[g] - low[g]) / (2 * step), 1e-6 + 1e-6 * fabs(d[g][k]));
                assert_true(point[i][k] > 0 || d[g][k] == 0);
            }
        }
    }
    free_loop(&s);
}

/* Decay goes on in a tower that stands: what is written over is not added to. */
static void standing_tower(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_model *m = NULL;
    struct tl_work *w = NULL;
    reference_loop(&s, 1);
    s.tower.trays = 2;
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    assert_int_equal(tl_work_new(m, &w), TL_OK);
    tl_work_climate(m, w, 20);
    const double film[2 * TL_NFILM] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
    for (int dry = 0; dry < 2; dry++) {
        const double extra = dry ? 1.2 : 0;
        double rate[3] = {7, 7, 7};
        double d[2 * TL_NFILM] = {7, 7, 7, 7, 7, 7, 7, 7, 7, 7};
        struct tl_flows flows;
        tl_model_flows(m, &(struct tl_controls){.dried_out = dry}, &flows);
        tl_tower_idle(&m->form, &m->film, w, flows.drying_1_d, film, d, rate);
        near_rel(rate[0], (0.08 + extra) * 7, 1e-12);
        near_rel(rate[1], (0.08 + extra) * 9, 1e-12);
        near_rel(rate[2], (0.40 + extra) * 11, 1e-12);
        for (int j = 0; j < 2; j++) {
            const double *x = &film[j * TL_NFILM];
            const double dead = (0.08 + extra) * (x[0] + x[1]) + (0.40 + extra) * x[2];
            near_rel(d[j * TL_NFILM + TL_FA], -(0.08 + extra) * x[0], 1e-12);
            near_rel(d[j * TL_NFILM + TL_FN], -(0.08 + extra) * x[1], 1e-12);
            near_rel(d[j * TL_NFILM + TL_FH], -(0.40 + extra) * x[2], 1e-12);
            near_rel(d[j * TL_NFILM + TL_FS], 0.92 * dead, 1e-12);
            near_rel(d[j * TL_NFILM + TL_FI], 0.08 * dead, 1e-12);
        }
    }
    tl_work_free(w);
    tl_model_free(m);
    free_loop(&s);
}

/* The right-hand side of tank and chamber term by term, the pump off. */
static void balance_of_tank_and_chamber(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_work *w = NULL;
    struct tl_carbonate k;
    reference_loop(&s, 0);
    s.fish[0] = (struct tl_fish){"koi", 30, 400};
    s.feeding.grows = true;
    s.pump_flow_m3_d = 0;
    s.tank.walls_m2 = 0;
    s.chamber.walls_m2 = 0;
    s.source.chloramine = true;
    s.source.water[TL_HOCL] = 0.3;
    const double t = 24;
    struct run r = start_run(&s, 0, NULL, 0);
    const struct tl_layout *at = r.at;
    double *y = calloc(2 * at->size, sizeof *y);
    double *d = y + at->size;
    struct tl_controls c = *tl_engine_controls(r.engine);
    c.aerator_g_d = 120;
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    memcpy(y, r.y, at->size * sizeof *y);
    double *tank = &y[at->tank];
    double *chamber = &y[at->chamber];
    tank[TL_O2] = 5;
    tank[TL_TAN] = 0.8;
    tank[TL_HOCL] = 0.02;
    tank[TL_XS] = 3;
    tank[TL_XI] = 4;
    tank[TL_SS] = 1;
    chamber[TL_O2] = 2;
    chamber[TL_XS] = 6;
    chamber[TL_XI] = 7;
    y[at->sludge] = 3000;
    y[at->sludge + 1] = 1800;
    y[at->fish + TL_FISH_GUT1_G] = 50;
    y[at->fish + TL_FISH_GUT2_G] = 20;
    assert_int_equal(tl_loop_rhs(r.model, w, &c, 0, y, d), TL_OK);

    /* fish */
    const double gut = 4.8 * pow(1.07, 4);
    const double absorbed = gut * 20;
    const double basal = 0.12 * pow(1.09, 4) * 12;
    const double excreted = 0.092 * 0.38 * absorbed + basal;
    const double rest_mg_g_h = 1.5 * 0.0674 * pow(400, -0.193) * exp(0.0562 * t);
    const double o2_used = (0.25 * absorbed + rest_mg_g_h * 24 * 12) * 5 / 5.5;
    near_rel(d[at->fish + TL_FISH_GUT1_G], -gut * 50, 1e-12);
    near_rel(d[at->fish + TL_FISH_GUT2_G], gut * 30, 1e-12);
    near_rel(d[at->fish + TL_FISH_BIOMASS_KG], absorbed / 1800 - basal / 27, 1e-12);
    near(d[at->fish + TL_FISH_NUMBER], 0, 0);
    near_rel(d[at->fish_total + TL_ABSORBED_G], absorbed, 1e-12);
    near_rel(d[at->fish_total + TL_BASAL_N_G], basal, 1e-12);
    near_rel(d[at->fish_total + TL_FISH_O2_G], o2_used, 1e-12);

    /* gas */
    const double o2_sat = tl_o2_saturation(t, 1.80655e-3 * 20, 1);
    const double surface = 0.6 * pow(1.024, 4) * 10;
    const double aerator = 120 * pow(1.024, 4) / tl_o2_saturation(20, 0, 1);
    double h = 1e-8;
    tl_carbonate_constants(t, &k);
    assert_int_equal(tl_solve_ph(&k, tank[TL_ALK], tank[TL_TIC], tank[TL_TAN], &h), TL_OK);
    const double co2 = 0.9 * (tl_co2_saturation(&k, 420, 1) - tl_co2_mol_m3(&k, h, tank[TL_TIC]));
    near_rel(d[at->gas_o2 + TL_GAS_TANK_SURFACE], surface * (o2_sat - 5), 1e-5);
    near_rel(d[at->gas_o2 + TL_GAS_AERATOR], aerator * (o2_sat - 5), 1e-5);
    near_rel(d[at->gas_o2 + TL_GAS_CHAMBER_SURFACE], surface / 10 * (o2_sat - 2), 1e-5);
    near_rel(d[at->gas_tic + TL_GAS_TANK_SURFACE], surface * co2, 1e-5);
    near_rel(d[at->gas_tic + TL_GAS_AERATOR], aerator * co2, 1e-5);

    /* a cover and ice close the surface, and nothing else */
    double *closed = calloc(at->size, sizeof *closed);
    assert_non_null(closed);
    c.cover = 0.75;
    assert_int_equal(tl_loop_rhs(r.model, w, &c, 0, y, closed), TL_OK);
    c.cover = 0;
    near_rel(closed[at->gas_o2 + TL_GAS_TANK_SURFACE], d[at->gas_o2 + TL_GAS_TANK_SURFACE] / 4,
             1e-12);
    near_rel(closed[at->gas_o2 + TL_GAS_CHAMBER_SURFACE],
             d[at->gas_o2 + TL_GAS_CHAMBER_SURFACE] / 4, 1e-12);
    near_rel(closed[at->gas_tic + TL_GAS_TANK_SURFACE], d[at->gas_tic + TL_GAS_TANK_SURFACE] / 4,
             1e-12);
    near(closed[at->gas_o2 + TL_GAS_AERATOR], d[at->gas_o2 + TL_GAS_AERATOR], 0);
    near(closed[at->gas_o2 + TL_GAS_TOWER], d[at->gas_o2 + TL_GAS_TOWER], 0);
    free(closed);

    /* the tank's water, 12 m3, 1.2 m3/d of source water */
    const double hydrolysis = 0.15 * pow(1.07, 4);
    const double lost = 0.5 * 0.02 * 12;
    near_rel(12 * d[at->tank + TL_TAN], excreted + 0.1975 * lost - 1.2 * 0.8, 1e-9);
    near(12 * d[at->tank + TL_NO3], 0, 1e-12);
    near_rel(12 * d[at->tank + TL_ALK], excreted / 14.007, 1e-9);
    near_rel(12 * d[at->tank + TL_O2], (surface + aerator) * (o2_sat - 5) - o2_used + 1.2 * (8 - 5),
             1e-5);
    near_rel(12 * d[at->tank + TL_TIC],
             (surface + aerator) * co2 + 0.95 / 32 * o2_used +
                 1.2 * (tl_tic_from_h(&k, 4.5, pow(10, -7.8), 0) - tank[TL_TIC]),
             1e-5);
    near_rel(12 * d[at->tank + TL_SS], 0.12 * absorbed + 12 * hydrolysis * 3 - 1.2 * 1, 1e-9);
    near_rel(12 * d[at->tank + TL_XS], 0.15 * absorbed - 12 * hydrolysis * 3 - 1.2 * 3, 1e-9);
    near_rel(12 * d[at->tank + TL_XI], 0.15 * absorbed - 1.2 * 4, 1e-9);
    near_rel(12 * d[at->tank + TL_HOCL], 1.2 * (0.3 - 0.02) - lost, 1e-9);
    near_rel(12 * d[at->tank + TL_CL], 0.5 * lost, 1e-9);
    near_rel(d[at->source_in + TL_CL], 1.2 * 20, 1e-9);
    near_rel(d[at->water_out + TL_XI], 1.2 * 4, 1e-9);
    near_rel(d[at->chlorine_met], tank[TL_HOCL], 1e-12);
    near_rel(d[at->chlorine_lost], lost + 0.5 * chamber[TL_HOCL] * 0.8, 1e-9);

    /* the chamber: sludge fills a fifth of it */
    const double settles = 20 * 1 * (1 - 0.2);
    const double oxidised = hydrolysis * 3000 * 2 / 2.5;
    const double no3 = chamber[TL_NO3];
    const double on_no3 = 0.8 * no3 / (0.5 + no3) * hydrolysis * 3000 * 0.5 / 2.5;
    const double dissolved = hydrolysis * 3000 * 0.5 / 2.5 - on_no3;
    const double chamber_lost = 0.5 * chamber[TL_HOCL] * 0.8;
    near_rel(d[at->sludge], settles * 6 - oxidised - dissolved - on_no3, 1e-9);
    near_rel(d[at->sludge + 1], settles * 7, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_XS], -settles * 6 - 0.8 * hydrolysis * 6, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_XI], -settles * 7, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_SS], dissolved + 0.8 * hydrolysis * 6, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_O2], surface / 10 * (o2_sat - 2) - oxidised, 1e-5);
    const double freed = 0.03 * (oxidised + on_no3);
    near_rel(0.8 * d[at->chamber + TL_TAN], freed + 0.1975 * chamber_lost, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_NO3], -on_no3 / 2.86, 1e-9);
    near_rel(0.8 * d[at->chamber + TL_ALK], (freed + on_no3 / 2.86) / 14.007, 1e-9);
    tl_work_free(w);
    free(y);
    end_run(&r);
    free_loop(&s);
}

/* A tray whose water cannot be balanced is named, by the tray and not the cell. */
static void faulty_tray_is_named(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_work *w = NULL;
    reference_loop(&s, 1);
    s.tower.media_depth_m = 0.2; /* two cells a tray */
    struct run r = start_run(&s, 0, NULL, 0);
    double *y = malloc(2 * r.at->size * sizeof *y);
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    memcpy(y, r.y, r.at->size * sizeof *y);
    const struct tl_controls *c = tl_engine_controls(r.engine);
    assert_int_equal(tl_loop_rhs(r.model, w, c, 0, y, y + r.at->size), TL_OK);
    assert_int_equal(tl_work_fault_tray(w), 0);
    y[r.at->cell + 5 * TL_NFILM + TL_FH] = NAN; /* second cell of tray 3 */
    assert_int_equal(tl_loop_rhs(r.model, w, c, 0, y, y + r.at->size), TL_E_SOLVER);
    assert_int_equal(tl_work_fault_tray(w), 3);
    tl_work_clear_fault(w);
    assert_int_equal(tl_work_fault_tray(w), 0);
    tl_work_free(w);
    free(y);
    end_run(&r);
    free_loop(&s);
}

/* --- schedule ----------------------------------------------------------------------------------- */

/* In time order; at one instant restores, events in file order, the regular change, the chamber emptied by
 * plan, the meal. */
static void stops_are_in_order(void **state)
{
    (void)state;
    static const struct tl_event event[] = {
        {.at_d = 2, .kind = TL_EVENT_WATER_CHANGE, .value = 0.1},
        {.at_d = 1, .for_d = 1, .kind = TL_EVENT_PUMP_FLOW},
        {.at_d = 2, .kind = TL_EVENT_CLEAN_CHAMBER},
        {.at_d = 0.5, .for_d = 1.5, .kind = TL_EVENT_AERATOR},
        {.at_d = 0.75, .for_d = 9, .kind = TL_EVENT_TO_TOWER},    /* outlasts the run */
        {.at_d = 2.5, .for_d = 0.75, .kind = TL_EVENT_PUMP_FLOW}, /* to its very end */
    };
    static const struct tl_stop expected[] = {
        {0.25, TL_STOP_MEAL, 0}, {0.5, TL_STOP_EVENT, 3},    {0.75, TL_STOP_EVENT, 4},
        {1, TL_STOP_EVENT, 1},   {1, TL_STOP_MEAL, 0},       {1.125, TL_STOP_CHANGE, 0},
        {1.25, TL_STOP_MEAL, 0}, {2, TL_STOP_RESTORE, 1},    {2, TL_STOP_RESTORE, 3},
        {2, TL_STOP_EVENT, 0},   {2, TL_STOP_EVENT, 2},      {2, TL_STOP_CHANGE, 0},
        {2, TL_STOP_EMPTY, 0},   {2, TL_STOP_MEAL, 0},       {2.25, TL_STOP_MEAL, 0},
        {2.5, TL_STOP_EVENT, 5}, {2.875, TL_STOP_CHANGE, 0}, {3, TL_STOP_MEAL, 0},
    };
    struct tl_setup s;
    struct tl_model *m = NULL;
    size_t n = 0;
    reference_loop(&s, 1);
    s.start_d = 0.25;
    s.length_d = 3;
    s.feeding.meals = 2;
    s.feeding.meal_s[0] = 0;
    s.feeding.meal_s[1] = 6 * 3600;
    s.change_every_d = 0.875;
    s.change_amount = 0.1;
    s.emptying.every_d = 2;
    s.emptying.at_s = 0;
    for (size_t i = 0; i < sizeof event / sizeof event[0]; i++)
        add_event(&s, event[i]);
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    const struct tl_stop *stop = tl_model_stops(m, &n);
    assert_int_equal(n, sizeof expected / sizeof expected[0]);
    for (size_t i = 0; i < n; i++) {
        near(stop[i].t_d, expected[i].t_d, 1e-12);
        assert_int_equal(stop[i].kind, expected[i].kind);
        assert_int_equal(stop[i].index, expected[i].index);
    }
    tl_model_free(m);
    free_loop(&s);
}

/* What a plan does every five days is what events do. */
static void emptied_by_plan_or_by_events(void **state)
{
    (void)state;
    struct run r[2];
    for (int planned = 0; planned < 2; planned++) {
        struct tl_setup s;
        reference_loop(&s, 40);
        s.length_d = 17;
        if (planned)
            s.emptying.every_d = 5; /* at 09:00 */
        for (int day = 5; day < 17 && !planned; day += 5)
            add_event(&s, (struct tl_event){.at_d = day + 0.375, .kind = TL_EVENT_CLEAN_CHAMBER});
        r[planned] = whole_run(&s, 0, NULL, 0);
        free_loop(&s);
    }
    const struct tl_layout *at = r[0].at;
    assert_memory_equal(r[0].y, r[1].y, at->size * sizeof(double));
    assert_true(r[0].y[at->sludge_out + 1] > 2 * r[0].y[at->sludge + 1]);
    end_run(&r[0]);
    end_run(&r[1]);
}

static void instants_are_kept_to_the_millisecond(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_model *m = NULL;
    size_t n = 0;
    reference_loop(&s, 1);
    s.feeding.meals = 0;
    add_event(&s, (struct tl_event){.at_d = 1.5 + 0.4e-3 / 86400, .kind = TL_EVENT_CLEAN_CHAMBER});
    add_event(&s, (struct tl_event){.at_d = 1.5, .kind = TL_EVENT_CLEAN_TRAYS});
    add_event(&s, (struct tl_event){.at_d = 1.5 - 1e-3 / 86400, .kind = TL_EVENT_CLEAN_TRAYS});
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    const struct tl_stop *stop = tl_model_stops(m, &n);
    assert_int_equal(n, 3);
    assert_int_equal(stop[0].index, 2);
    assert_int_equal(stop[1].index, 0);
    assert_int_equal(stop[2].index, 1);
    near(stop[1].t_d, stop[2].t_d, 0);
    tl_model_free(m);
    /* more stops than memory is asked for */
    s.change_every_d = 1e-9;
    s.length_d = 3660;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    free_loop(&s);
}

/* A rinsed tray loses what is trapped in it and 5 % of each film, all of it booked; the others and
 * the walls nothing. */
static void rinsing(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 1);
    s.length_d = 1;
    s.tower.media_depth_m = 0.2; /* two cells a tray */
    add_event(&s, (struct tl_event){.at_d = 0, .kind = TL_EVENT_CLEAN_TRAY, .tray = 2});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 0), TL_OK);
    const double *before = tl_engine_start_state(r.engine);
    for (size_t i = 0; i < TL_NFILM; i++) {
        const double keep = i <= TL_FH ? 0.95 : 0;
        double lost = 0;
        for (size_t j = 0; j < 32; j++) {
            const size_t at = r.at->cell + j * TL_NFILM + i;
            near_rel(r.y[at], before[at] * (j == 2 || j == 3 ? keep : 1), 1e-12);
            lost += before[at] - r.y[at];
        }
        near_rel(r.y[r.at->film_out + i], lost, 1e-9);
        near(r.y[r.at->tank_wall + i], before[r.at->tank_wall + i], 0);
    }
    end_run(&r);
    free_loop(&s);
}

/* --- rations, snapshot -------------------------------------------------------------------------- */

static void rations(void **state)
{
    (void)state;
    double x[] = {10, 20};
    double y[] = {0.001, 0.02};
    const struct tl_ration share = {.kind = TL_RATION_PER_BIOMASS, .value = 0.01};
    const struct tl_ration mass = {.kind = TL_RATION_MASS, .value = 300};
    const struct tl_ration table = {.kind = TL_RATION_TABLE, .table = {x, y, 2}};
    near(tl_ration_g_d(&share, 2, 5, 20), 20, 1e-12);
    near(tl_ration_g_d(&mass, 2, 5, 20), 120, 1e-12);
    near(tl_ration_g_d(&mass, 0, 0, 20), 0, 0);
    near(tl_ration_g_d(&table, 2, 5, 15), 21, 1e-12);
}

/* A row shows what the state holds, by its own volumes and areas. */
static void snapshot_shows_the_state(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_snapshot now;
    struct tl_work *w = NULL;
    struct tl_carbonate k;
    reference_loop(&s, 20);
    s.tower.media_depth_m = 0.2; /* two cells a tray */
    s.tower.trays = 3;
    s.to_tower = 0.75;
    s.length_d = 2;
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_ADD_FISH, .fish = {"new", 4, 250}});
    add_event(&s, (struct tl_event){.at_d = 1.5, .kind = TL_EVENT_PUMP_FLOW, .value = 0});
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    assert_int_equal(tl_snapshot_alloc(r.model, &now), TL_OK);
    assert_int_equal(tl_engine_advance(r.engine, 1.2), TL_OK);
    assert_int_equal(tl_model_snapshot(r.model, w, tl_engine_controls(r.engine), 1.2, r.y, &now),
                     TL_OK);
    const double *y = r.y;
    const struct tl_layout *at = r.at;
    struct tl_wetting wet;
    tl_onda(&(struct tl_packing){200, 0.03, 0.061}, 0.75 * 4.542 / 0.27, 24, &wet);
    const double area = 0.27 * 0.2 * 200 * wet.wetted_fraction;
    near(now.t_d, 1.2, 0);
    near(now.temperature_degC, 24, 0);
    near(now.pressure_atm, 1, 1e-9);
    near_rel(now.flow_m3_d, 4.542 * 24, 1e-12);
    near_rel(now.tower_flow_m3_d, 0.75 * 4.542 * 24, 1e-12);
    assert_true(now.tower_on);
    near(now.fish_kg, 21, 1e-9);
    near(now.feed_g_d, 210, 1e-9);
    near(now.sludge_gCOD, y[at->sludge] + y[at->sludge + 1], 1e-12);
    assert_true(y[at->sludge + 1] > 0);
    tl_carbonate_constants(24, &k);
    double h = 1e-8;
    assert_int_equal(tl_solve_ph(&k, now.tank[TL_ALK], now.tank[TL_TIC], now.tank[TL_TAN], &h),
                     TL_OK);
    near(now.tank_ph, -log10(h), 1e-6);
    assert_int_equal(
        tl_solve_ph(&k, now.chamber[TL_ALK], now.chamber[TL_TIC], now.chamber[TL_TAN], &h), TL_OK);
    near(now.chamber_ph, -log10(h), 1e-6);
    assert_int_equal(
        tl_solve_ph(&k, now.tower_out[TL_ALK], now.tower_out[TL_TIC], now.tower_out[TL_TAN], &h),
        TL_OK);
    near(now.tower_out_ph, -log10(h), 1e-6);
    for (size_t i = 0; i < TL_NWATER; i++) {
        near(now.tank[i], y[at->tank + i], 0);
        near(now.chamber[i], y[at->chamber + i], 0);
    }
    for (size_t i = 0; i < TL_NFILM; i++) {
        near_rel(now.tank_wall[i], y[at->tank_wall + i] / 2.8, 1e-12);
        near_rel(now.chamber_wall[i], y[at->chamber_wall + i] / 0.4, 1e-12);
    }
    for (size_t tray = 0; tray < 3; tray++) {
        const double *cell = &y[at->cell + 2 * tray * TL_NFILM];
        double all = 0;
        for (size_t i = 0; i < TL_NFILM; i++) {
            near_rel(now.tray[tray][i], (cell[i] + cell[TL_NFILM + i]) / area, 1e-9);
            all += cell[i] + cell[TL_NFILM + i];
        }
        near_rel(now.tray_voids_filled[tray], all / 30000 / (0.27 * 0.2 * 0.45), 1e-12);
    }
    near(now.tray_tan[2], now.tower_out[TL_TAN], 0);
    near(now.tray_o2[2], now.tower_out[TL_O2], 0);
    near(now.tray_no2[2], now.tower_out[TL_NO2], 0);
    double *d = calloc(at->size, sizeof *d); /* what the loop lets the fish excrete */
    assert_non_null(d);
    assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 1.2, y, d), TL_OK);
    assert_true(d[at->fish_total + TL_ABSORBED_G] > 0);
    near_rel(now.excreted_gN_d,
             0.092 * 0.38 * d[at->fish_total + TL_ABSORBED_G] + d[at->fish_total + TL_BASAL_N_G],
             1e-12);
    free(d);
    assert_true(now.tray_tan[0] > now.tray_tan[1] && now.tray_tan[1] > now.tray_tan[2]);
    assert_true(now.chamber[TL_TAN] > now.tray_tan[0]);

    assert_int_equal(tl_engine_advance(r.engine, 1.6), TL_OK);
    assert_int_equal(tl_model_snapshot(r.model, w, tl_engine_controls(r.engine), 1.6, r.y, &now),
                     TL_OK);
    assert_false(now.tower_on);
    assert_true(isnan(now.tower_out_ph) && isnan(now.tray_o2[0]) && isnan(now.tray_tan[2]));
    for (size_t i = 0; i < TL_NWATER; i++)
        assert_true(isnan(now.tower_out[i]));
    near_rel(now.tray[0][TL_FA], (y[at->cell] + y[at->cell + TL_NFILM]) / area, 1e-9);
    tl_snapshot_free(&now);
    tl_work_free(w);
    end_run(&r);
    free_loop(&s);
}

/* What holds the tower back, against the same factors taken from its trays. */
static void limiting_factors(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_work *w = NULL;
    struct tl_limiting l;
    struct tl_snapshot now;
    reference_loop(&s, 20);
    s.tower.trays = 1;
    s.length_d = 2;
    struct run r = start_run(&s, 0, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 1.2), TL_OK);
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    assert_int_equal(tl_snapshot_alloc(r.model, &now), TL_OK);
    struct tl_controls c = *tl_engine_controls(r.engine);
    assert_int_equal(tl_model_snapshot(r.model, w, &c, 1.2, r.y, &now), TL_OK);
    tl_model_limiting(r.model, w, &c, 1.2, r.y, &l);
    const double *film = now.tray[0];
    const double alk = now.chamber[TL_ALK];
    struct tl_ph_bell bell;
    tl_ph_bell_make(6.5, 9.5, &bell);
    near(l.at_d, 1.2, 0);
    near_rel(l.film, film[TL_FA] / 0.4, 1e-9);
    near_rel(l.ammonia, monod(now.tray_tan[0], 1), 1e-3);
    near_rel(l.oxygen, monod(now.tray_o2[0], 0.6), 1e-3);
    near_rel(l.alkalinity, alk * alk / (0.09 + alk * alk), 1e-9);
    near_rel(l.ph, tl_ph_bell_at(&bell, pow(10, -now.chamber_ph)), 1e-6);
    near_rel(l.depth,
             1 / (1 + film[TL_FA] / (0.32 * pow(1.08, -2)) +
                  (film[TL_FH] + film[TL_FS] + film[TL_FI]) / 12),
             1e-9);
    /* a tower that stands is told by the flow */
    c.to_tower = 0;
    tl_model_limiting(r.model, w, &c, 1.2, r.y, &l);
    near(l.at_d, 1.2, 0);
    near(l.flow, 0, 0);
    tl_snapshot_free(&now);
    tl_work_free(w);
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tables_are_linear_and_end),
        cmocka_unit_test(copies_are_whole_and_apart),
        cmocka_unit_test(setup_has_its_defaults),
        cmocka_unit_test(one_bad_value_is_enough),
        cmocka_unit_test(trays_are_cut_into_cells),
        cmocka_unit_test(films_start_as_told),
        cmocka_unit_test(standing_tower_starts_wet),
        cmocka_unit_test(waters_start_as_told),
        cmocka_unit_test(scales_are_kept),
        cmocka_unit_test(everything_has_its_name),
        cmocka_unit_test(temperature_of_the_moment),
        cmocka_unit_test(everything_follows_temperature),
        cmocka_unit_test(wetting_as_written),
        cmocka_unit_test(ph_bell_has_its_shape),
        cmocka_unit_test(film_rates_as_written),
        cmocka_unit_test(film_derivatives),
        cmocka_unit_test(standing_tower),
        cmocka_unit_test(balance_of_tank_and_chamber),
        cmocka_unit_test(faulty_tray_is_named),
        cmocka_unit_test(stops_are_in_order),
        cmocka_unit_test(emptied_by_plan_or_by_events),
        cmocka_unit_test(instants_are_kept_to_the_millisecond),
        cmocka_unit_test(rinsing),
        cmocka_unit_test(rations),
        cmocka_unit_test(snapshot_shows_the_state),
        cmocka_unit_test(limiting_factors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
