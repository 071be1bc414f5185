/* The heat of the loop: against closed solutions, its own ledger, and what every keeper knows. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "heat_balance.h"
#include "heat_course.h"
#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "sky.h"
#include "towerloop/air.h"
#include "towerloop/engine.h"
#include "towerloop/status.h"

/* The reference loop in weather that does not change. */
static void outdoors(struct tl_setup *s, double air_degC)
{
    reference_loop(s, 20);
    s->length_d = 20;
    s->temperature.kind = TL_TEMPERATURE_WEATHER;
    s->weather.given = true;
    s->weather.air.mean_degC = air_degC;
    s->weather.day_of_year = 121;
}

/* A year from the first of January, summers warm, winters frosty. */
static void year(struct tl_setup *s)
{
    outdoors(s, 9);
    s->length_d = 365;
    s->weather.air.kind = TL_TEMPERATURE_SINES;
    s->weather.air.seasonal_swing_degC = 11;
    s->weather.air.daily_swing_degC = 5;
    s->weather.air.warmest_noon_d = 206.5;
    s->weather.day_of_year = 1;
    s->weather.latitude_deg = 48;
}

/* Sixty days of that year, from a day of it on. */
static void part_of_year(struct tl_setup *s, double first_d)
{
    year(s);
    s->length_d = 60;
    s->weather.air.warmest_noon_d -= first_d;
    s->weather.day_of_year += first_d;
}

static struct tl_model *built(const struct tl_setup *s)
{
    struct tl_model *m = NULL;
    assert_int_equal(tl_model_build(s, &m), TL_OK);
    assert_non_null(tl_model_heat(m));
    return m;
}

static double end_of(const struct tl_setup *s)
{
    struct tl_model *m = built(s);
    const double t = tl_model_temperature(m, s->start_d + s->length_d);
    tl_model_free(m);
    return t;
}

/* Sum of all temperatures of the course, in even steps: a figure that every change must move. */
static double mean_of(const struct tl_setup *s, double from_d, double to_d)
{
    struct tl_model *m = built(s);
    double sum = 0;
    for (int i = 0; i < 1000; i++)
        sum += tl_model_temperature(m, from_d + (i + 0.5) / 1000 * (to_d - from_d));
    tl_model_free(m);
    return sum / 1000;
}

static void no_surface(struct tl_setup *s)
{
    s->tank.surface_m2 = 0;
    s->chamber.surface_m2 = 0;
}

/* Nothing but what a test gives it back. */
static void cut_off(struct tl_setup *s)
{
    no_surface(s);
    s->wall_loss_w_m2_k = 0;
    s->trickle_1_d = 0;
}

/* Nothing but walls: Newton's law of cooling. */
static void test_walls_alone(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 5);
    no_surface(&s);
    s.to_tower = 0;
    s.trickle_1_d = 0;
    s.start_degC = 25;
    struct tl_model *m = built(&s);
    const double conductance = s.wall_loss_w_m2_k * (s.tank.walls_m2 + s.chamber.walls_m2);
    const double tau_d =
        998.0 * 4186.0 * (s.tank.volume_m3 + s.chamber.volume_m3) / conductance / 86400;
    for (int day = 1; day <= 20; day += 3)
        near(tl_model_temperature(m, day), 5 + 20 * exp(-day / tau_d), 1e-5);
    tl_model_free(m);
    free_loop(&s);
}

/* Nothing but the tower: the water comes to the wet bulb of the air and stays there. */
static void test_tower_leads_to_the_wet_bulb(void **state)
{
    const double air[] = {5, 15, 30};
    (void)state;
    for (size_t i = 0; i < sizeof air / sizeof *air; i++) {
        struct tl_setup s;
        outdoors(&s, air[i]);
        cut_off(&s);
        s.weather.humidity = 0.5;
        s.start_degC = 20;
        const double wet = tl_wet_bulb_degC(air[i], 0.5, tl_pressure_atm(s.elevation_m) * 101325);
        s.source_degC = wet;
        /* the Lewis relation counts enthalpy, the wet bulb the water's own warmth, too */
        near(end_of(&s), wet, 0.15);
        free_loop(&s);
    }
}

/* However little water trickles through however much air, it leaves no colder than the wet bulb: the air
 * can take no more than the water brings. */
static void test_little_water_leaves_at_the_wet_bulb(void **state)
{
    struct tl_setup s;
    struct tl_open_air around;
    struct tl_heat_flows flows;
    (void)state;
    outdoors(&s, 12);
    s.weather.humidity = 0.6;
    struct tl_model *m = built(&s);
    const double wet = tl_wet_bulb_degC(12, 0.6, m->pressure_atm * 101325);
    const double flow_m3_d = 0.5;
    tl_open_air_at(m, 0.5, flow_m3_d, 0, 20, &around);
    (void)tl_heat_balance(m, &around, 10, 20 * tl_heat_capacity_j_k(&s), &flows);
    const double most_w = flow_m3_d / 86400 * TL_WATER_J_M3_K * (20 - wet);
    /* what the vapour takes along is not the water's to lose twice: 4 % */
    assert_true(-flows.w[TL_HEAT_TOWER] > 0.93 * most_w && -flows.w[TL_HEAT_TOWER] < 1.02 * most_w);
    assert_false(flows.tray_ice);

    /* and in one bed of any size */
    const struct tl_bed gale = {100, 1000};
    const struct tl_bed_heat out = tl_bed_cool(&gale, 0.1, 20, &around.air);
    assert_true(out.heat_w > 0.8 * 0.1 * 4186 * (20 - wet) &&
                out.heat_w < 1.15 * 0.1 * 4186 * (20 - wet));
    tl_model_free(m);
    free_loop(&s);
}

/* The sun keeps to clock and calendar: nothing at midnight, most at noon, more in June than in
 * December, and the other way round in the south. */
static void test_sun_keeps_time(void **state)
{
    struct tl_setup s;
    struct tl_open_air at[5];
    struct tl_open_air spring, autumn;
    const double when[5] = {171, 171.3, 171.5, 354.5, 171.7};
    (void)state;
    year(&s);
    for (int south = 0; south < 2; south++) {
        s.weather.latitude_deg = south ? -48 : 48;
        struct tl_model *m = built(&s);
        for (int i = 0; i < 5; i++)
            tl_open_air_at(m, when[i], 0, 0, 10, &at[i]);
        tl_open_air_at(m, 79.5, 0, 0, 10, &spring); /* equinoxes */
        tl_open_air_at(m, 265.5, 0, 0, 10, &autumn);
        near_rel(spring.sun_w, autumn.sun_w, 0.05);
        near(at[0].sun_w, 0, 0);
        assert_true(at[2].sun_w > at[1].sun_w);
        near_rel(at[4].sun_w, at[1].sun_w, 1e-2);
        assert_true(south ? at[3].sun_w > 2 * at[2].sun_w : at[2].sun_w > 2 * at[3].sun_w);
        tl_model_free(m);
    }
    free_loop(&s);
}

/* kWh/m2 of a year. */
static double sun_of_year(const struct tl_setup *s)
{
    double sum = 0;
    for (int hour = 0; hour < 365 * 24; hour++)
        sum += tl_weather_sun_w_m2(&s->weather, (hour + 0.5) / 24) / 1000;
    return sum;
}

/* A mean cover is no cover of the hour. In the open at 48 degrees north 1100 to 1250 kWh/m2 come down in
 * a year, of some 1800 under skies that stay clear (from memory); a log keeps to the hour. */
static void test_mean_cover(void **state)
{
    static double x[730], y[730];
    struct tl_setup s;
    struct tl_open_air mean, clear, overcast;
    (void)state;
    year(&s);
    s.weather.cloud = 0.55;
    const double sum = sun_of_year(&s);
    assert_true(sum > 1100 && sum < 1250);
    struct tl_model *m = built(&s);
    tl_open_air_at(m, 100, 0, 0, 10, &mean);
    s.weather.cloud = 0;
    near_rel(sun_of_year(&s), 1840, 0.03);

    /* days wholly clear or overcast, logged: about as much */
    for (int i = 0; i < 365; i++) {
        x[2 * i] = i;
        x[2 * i + 1] = i + 1 - 1e-6;
        y[2 * i] = y[2 * i + 1] = i * 11 % 20 < 11;
    }
    s.weather.log[TL_LOG_CLOUD] = (struct tl_table){.x = x, .y = y, .n = 730};
    near_rel(sun_of_year(&s), sum, 0.09);
    for (int i = 0; i < 730; i++)
        y[i] = 0.55;
    near_rel(sun_of_year(&s), 1840 * (1 - 0.75 * pow(0.55, 3.4)), 0.03);
    s.weather.log[TL_LOG_CLOUD] = (struct tl_table){0};
    tl_model_free(m);

    /* and the sky: between that of a clear and of an overcast hour in the share of the cover */
    m = built(&s);
    tl_open_air_at(m, 100, 0, 0, 10, &clear);
    tl_model_free(m);
    s.weather.cloud = 1;
    m = built(&s);
    tl_open_air_at(m, 100, 0, 0, 10, &overcast);
    near_rel(mean.sky_w, 0.45 * clear.sky_w + 0.55 * overcast.sky_w, 1e-12);
    tl_model_free(m);
    free_loop(&s);
}

/* A net hides the sky from the water in the share it takes of the sun; wind and dry air pass it. */
static void test_shade_hides_the_sky(void **state)
{
    struct tl_setup s;
    struct tl_open_air around[3];
    struct tl_heat_flows flows[3];
    (void)state;
    outdoors(&s, 20);
    s.weather.humidity = 0.5;
    s.weather.cloud = 0;
    for (int i = 0; i < 3; i++) {
        s.weather.shade = i / 2.0;
        struct tl_model *m = built(&s);
        tl_open_air_at(m, 100.5, 0, 0, 20, &around[i]);
        (void)tl_heat_balance(m, &around[i], 20, 20 * tl_heat_capacity_j_k(&s), &flows[i]);
        tl_model_free(m);
    }
    assert_true(flows[0].w[TL_HEAT_LONG_WAVE] < -500);
    near_rel(flows[1].w[TL_HEAT_LONG_WAVE], flows[0].w[TL_HEAT_LONG_WAVE] / 2, 1e-9);
    near(flows[2].w[TL_HEAT_LONG_WAVE], 0, 1e-6); /* the net is as warm as the water */
    near_rel(flows[1].w[TL_HEAT_SUN], flows[0].w[TL_HEAT_SUN] / 2, 1e-9);
    near(flows[2].w[TL_HEAT_SUN], 0, 0);
    near(flows[2].w[TL_HEAT_EVAPORATION], flows[0].w[TL_HEAT_EVAPORATION], 0);
    free_loop(&s);
}

/* Nothing but a change of half the tank: the waters mix. */
static void test_changed_water_mixes(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 15);
    cut_off(&s);
    s.to_tower = 0;
    s.start_degC = 20;
    s.source_degC = 8;
    add_event(&s, (struct tl_event){.at_d = 3, .kind = TL_EVENT_WATER_CHANGE, .value = 0.5});
    struct tl_model *m = built(&s);
    const double share = 0.5 * s.tank.volume_m3 / (s.tank.volume_m3 + s.chamber.volume_m3);
    near(tl_model_temperature(m, 3 - 1e-6), 20, 1e-9);
    near(tl_model_temperature(m, 3), 20 + share * (8 - 20), 1e-9);
    near(tl_model_temperature(m, 20), 20 + share * (8 - 20), 1e-9);
    near(tl_model_heat(m)->summary.tank_jump_degC, 0.5 * 12, 1e-9);
    near(tl_model_heat(m)->summary.tank_jump_d, 3, 0);
    tl_model_free(m);

    /* the chamber is refilled from the tank, which takes the new water; within the hour they add up */
    add_event(&s, (struct tl_event){.at_d = 3 + 0.5 / 24, .kind = TL_EVENT_CLEAN_CHAMBER});
    m = built(&s);
    near(tl_model_heat(m)->summary.tank_jump_degC,
         0.5 * 12 + s.chamber.volume_m3 / s.tank.volume_m3 * 12 * (1 - share), 1e-9);
    tl_model_free(m);
    s.event[1].at_d = 4;
    m = built(&s);
    near(tl_model_heat(m)->summary.tank_jump_degC, 0.5 * 12, 1e-9);
    tl_model_free(m);

    /* no fish in, nothing to harm */
    s.events = 1;
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_REMOVE_FISH, .fish = s.fish[0]});
    m = built(&s);
    near(tl_model_heat(m)->summary.tank_jump_degC, 0, 0);
    tl_model_free(m);
    free_loop(&s);
}

/* A trickle alone: dilution. */
static void test_trickle_alone(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 15);
    cut_off(&s);
    s.to_tower = 0;
    s.trickle_1_d = 0.2;
    s.start_degC = 20;
    s.source_degC = 10;
    const double rate = 0.2 * s.tank.volume_m3 / (s.tank.volume_m3 + s.chamber.volume_m3);
    near(end_of(&s), 10 + 10 * exp(-rate * 20), 1e-5);
    free_loop(&s);
}

static double sum_of_flows(const struct tl_heat_summary *h, double *turned_over)
{
    double sum = 0;
    *turned_over = 0;
    for (int i = 0; i < TL_NHEAT_FLOW; i++) {
        sum += h->flow_j[i];
        *turned_over += fabs(h->flow_j[i]);
    }
    return sum;
}

/* What is stored is what came in less what went out, whatever happens. */
static void test_ledger_closes(void **state)
{
    struct tl_setup s;
    double turned_over;
    (void)state;
    eventful_loop(&s);
    s.temperature.kind = TL_TEMPERATURE_WEATHER;
    s.weather.given = true;
    s.weather.air.mean_degC = 2;
    s.weather.air.kind = TL_TEMPERATURE_SINES;
    s.weather.air.daily_swing_degC = 8;
    s.heater = (struct tl_heater){.power_w = 1500, .keep_degC = 6};
    struct tl_model *m = built(&s);
    const struct tl_heat_summary *h = &tl_model_heat(m)->summary;
    const double sum = sum_of_flows(h, &turned_over);
    near(sum, h->stored_j, 1e-9 * turned_over);
    /* and what is stored shows in the water */
    const double capacity = tl_heat_capacity_j_k(&s);
    const struct tl_heat_course *c = tl_model_heat(m);
    near(h->stored_j,
         capacity * (c->water_degC[c->n - 1] - c->water_degC[0]) -
             c->ice_kg[c->n - 1] * TL_FUSION_J_KG,
         1e-9 * turned_over);
    near_rel(c->evaporated_m3[c->n - 1], h->evaporated_m3, 1e-12);
    tl_model_free(m);
    free_loop(&s);
}

/* Chloride in both waters at the end of a run, g. */
static double chloride_at_end(const struct tl_setup *s, double *evaporated_m3)
{
    struct tl_engine *e = NULL;
    struct tl_model *m = built(s);
    const struct tl_layout *at = tl_model_layout(m);

    assert_int_equal(tl_engine_new(m, &(struct tl_engine_options){.rtol = 1e-8}, &e), TL_OK);
    assert_int_equal(tl_engine_advance(e, INFINITY), TL_OK);
    const double *y = tl_engine_state(e);
    const double sum =
        s->tank.volume_m3 * y[at->tank + TL_CL] + s->chamber.volume_m3 * y[at->chamber + TL_CL];
    *evaporated_m3 = tl_model_heat(m)->summary.evaporated_m3;
    tl_engine_free(e);
    tl_model_free(m);
    return sum;
}

/* What evaporates leaves its salt behind, and source water brings more; dew drives some out. */
static void test_salt_stays(void **state)
{
    struct tl_setup s;
    double evaporated_m3;
    (void)state;
    outdoors(&s, 28);
    s.trickle_1_d = 0;
    const double both_m3 = s.tank.volume_m3 + s.chamber.volume_m3;
    const double before = both_m3 * s.starting.water[TL_CL];
    double after = chloride_at_end(&s, &evaporated_m3);
    assert_true(evaporated_m3 > 0.5);
    near_rel(after - before, evaporated_m3 * s.source.water[TL_CL], 1e-5);

    s.weather.humidity = 1; /* air as moist as can be over water kept cold: dew */
    s.start_degC = 4;
    s.length_d = 0.2;
    after = chloride_at_end(&s, &evaporated_m3);
    assert_true(evaporated_m3 < 0);
    /* the water that spills over is thinned by the dew before it */
    const double spilled = -evaporated_m3 * s.starting.water[TL_CL];
    assert_true(before - after < spilled);
    assert_true(before - after > spilled * (1 + evaporated_m3 / s.tank.volume_m3));
    free_loop(&s);
}

/* Steps eight times finer change next to nothing; between two steps the course is a straight line, even
 * where ice goes and the water begins to warm. */
static void test_steps_are_fine_enough(void **state)
{
    struct tl_setup s;
    (void)state;
    part_of_year(&s, 30);
    struct tl_model *coarse = built(&s);
    struct tl_model *fine = built(&s);
    assert_int_equal(tl_heat_solve(fine, TL_HEAT_STEP_D / 8), TL_OK);
    for (int i = 0; i < 960; i++)
        near(tl_model_temperature(coarse, i / 16.0), tl_model_temperature(fine, i / 16.0), 0.002);
    for (int i = 0; i < 600; i++)
        near(tl_model_temperature(coarse, i / 10.0), tl_model_temperature(fine, i / 10.0), 0.01);
    near_rel(tl_model_heat(coarse)->summary.evaporated_m3,
             tl_model_heat(fine)->summary.evaporated_m3, 1e-3);
    tl_model_free(coarse);
    tl_model_free(fine);
    free_loop(&s);
}

/* A thimble under a large tower: a step is far longer than the water takes to follow the air. */
static void test_small_water_stays_sound(void **state)
{
    struct tl_setup s;
    (void)state;
    year(&s);
    s.tank.volume_m3 = 0.002;
    s.chamber.volume_m3 = 0.001;
    s.start_degC = 35;
    struct tl_model *m = built(&s);
    const struct tl_heat_course *c = tl_model_heat(m);
    for (size_t i = 0; i < c->n; i++)
        assert_true(c->water_degC[i] >= 0 && c->water_degC[i] < 36);
    tl_model_free(m);
    free_loop(&s);
}

static double later_mean(const struct tl_setup *s)
{
    return mean_of(s, 30, 60);
}

static void test_more_of_a_thing_moves_the_water(void **state)
{
    struct tl_setup s;
    (void)state;
    part_of_year(&s, 152);
    const double july = later_mean(&s);

    /* shade and wind and dry air cool, clouds do */
    s.weather.shade = 0.5;
    assert_true(later_mean(&s) < july - 0.2);
    s.weather.shade = 0;
    s.weather.humidity = 0.4;
    assert_true(later_mean(&s) < july - 1);
    s.weather.humidity = 0.7;
    s.weather.cloud = 1;
    assert_true(later_mean(&s) < july);
    free_loop(&s);

    part_of_year(&s, 305);
    const double december = later_mean(&s);
    assert_true(july > december + 10);
    double warmer = december;
    s.heater.keep_degC = 15;
    for (double w = 500; w <= 32000; w *= 2) {
        s.heater.power_w = w;
        const double t = later_mean(&s);
        assert_true(t >= warmer); /* a little heat only melts ice */
        warmer = t;
    }
    assert_true(warmer > 10 && warmer <= 15);
    s.heater.power_w = 0;

    /* the more water crosses the tower in winter, the colder it gets */
    double colder = INFINITY;
    for (double share = 0; share < 1.01; share += 0.25) {
        s.to_tower = share;
        const double t = mean_of(&s, 0, 20);
        assert_true(t < colder);
        colder = t;
    }
    free_loop(&s);
}

/* The heater holds what it can and says for how long it could not. */
static void test_heater(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 5);
    s.start_degC = 18;
    s.heater = (struct tl_heater){.power_w = 50e3, .keep_degC = 18};
    struct tl_model *m = built(&s);
    assert_true(tl_model_heat(m)->summary.lowest_degC > 17.4);
    near(tl_model_heat(m)->summary.heater_short_h, 0, 0);
    tl_model_free(m);

    s.heater.power_w = 500;
    m = built(&s);
    const struct tl_heat_summary *h = &tl_model_heat(m)->summary;
    assert_true(h->lowest_degC < 15);
    assert_true(h->heater_short_h > 400);
    /* at full power, but for the start when the water is as warm as it should be */
    near_rel(h->flow_j[TL_HEAT_HEATER], 500 * 20 * 86400.0, 0.02);
    tl_model_free(m);
    free_loop(&s);
}

/* Cold water at the start is no fault of the heater, nor is water that cooled while it was off. */
static void test_warm_up_is_not_weakness(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 15);
    s.start_degC = 8;
    s.heater = (struct tl_heater){.power_w = 10e3, .keep_degC = 18};
    struct tl_model *m = built(&s);
    near(tl_model_heat(m)->summary.heater_short_h, 0, 0);
    assert_true(tl_model_temperature(m, s.length_d) > 17.4);
    tl_model_free(m);

    struct tl_event off = {.at_d = 8, .for_d = 3, .kind = TL_EVENT_HEATER_OFF};
    s.event = &off;
    s.events = 1;
    m = built(&s);
    assert_true(tl_model_temperature(m, 11) < 17);
    near(tl_model_heat(m)->summary.heater_short_h, 0, 0);
    tl_model_free(m);
    s.event = NULL;
    s.events = 0;

    /* one that never gets there is too weak from twice the time on that it would take without losses:
     * 2 x 10 K x heat capacity / 1 kW */
    s.heater.power_w = 1e3;
    m = built(&s);
    const double allowed_h = 2 * 10 * tl_heat_capacity_j_k(&s) / 1e3 / 3600;
    const double expected = 24 * s.length_d - allowed_h;
    assert_true(expected > 0);
    near(tl_model_heat(m)->summary.heater_short_h, expected, 1);
    tl_model_free(m);
    free_loop(&s);
}

/* An event takes the heater away and gives it back: the water cools in between as without one. */
static void test_heater_switched(void **state)
{
    struct tl_setup s;
    struct tl_event off = {.at_d = 2, .for_d = 2, .kind = TL_EVENT_HEATER_OFF};
    (void)state;
    outdoors(&s, 5);
    s.length_d = 8;
    s.start_degC = 18;
    s.heater = (struct tl_heater){.power_w = 50e3, .keep_degC = 18};
    s.event = &off;
    s.events = 1;
    struct tl_model *m = built(&s);
    const double at_2 = tl_model_temperature(m, 2), at_4 = tl_model_temperature(m, 4);
    assert_true(at_2 > 17.4 && at_4 < 14);
    assert_true(tl_model_temperature(m, 7) > 17.4); /* back again */
    assert_true(tl_model_setup(m)->heater.power_w == 50e3);
    const struct tl_heat_course *h = tl_model_heat(m);
    near(tl_heat_course_total(h, h->heater_j, 4), tl_heat_course_total(h, h->heater_j, 2), 1e-6);
    tl_model_free(m);

    /* off for good, then on */
    struct tl_event both[2] = {{.at_d = 2, .kind = TL_EVENT_HEATER_OFF},
                               {.at_d = 4, .kind = TL_EVENT_HEATER_ON}};
    s.event = both;
    s.events = 2;
    m = built(&s);
    near(tl_model_temperature(m, 4), at_4, 1e-9);
    assert_true(tl_model_temperature(m, 7) > 17.4);
    tl_model_free(m);
    s.event = NULL;
    s.events = 0;
    free_loop(&s);
}

/* A cover lets through no sun, sky, wind or vapour, and of the air's warmth what its own loss says. */
static void test_cover(void **state)
{
    struct tl_setup s;
    struct tl_open_air open, half, closed;
    struct tl_heat_flows flows[3];
    (void)state;
    outdoors(&s, 5);
    s.weather.latitude_deg = 48;
    s.params.cover_heat_loss = 2;
    struct tl_model *m = built(&s);
    const double heat_j = 20 * tl_heat_capacity_j_k(&s);
    tl_open_air_at(m, 5.5, 0, 0, 20, &open);
    tl_open_air_at(m, 5.5, 0, 0.5, 20, &half);
    tl_open_air_at(m, 5.5, 0, 1, 20, &closed);
    (void)tl_heat_balance(m, &open, 10, heat_j, &flows[0]);
    (void)tl_heat_balance(m, &half, 10, heat_j, &flows[1]);
    (void)tl_heat_balance(m, &closed, 10, heat_j, &flows[2]);
    for (int i = TL_HEAT_SUN; i <= TL_HEAT_EVAPORATION; i++) {
        assert_true(fabs(flows[0].w[i]) > 100);
        near_rel(flows[1].w[i], flows[0].w[i] / 2, 1e-9);
        near(flows[2].w[i], 0, 1e-9);
    }
    near(flows[2].vapour_kg_s, 0, 1e-12);
    const double area_m2 = s.tank.surface_m2 + s.chamber.surface_m2;
    near_rel(flows[2].w[TL_HEAT_CONVECTION], 2 * area_m2 * (5 - 20), 1e-9);
    near_rel(flows[1].w[TL_HEAT_CONVECTION],
             (flows[0].w[TL_HEAT_CONVECTION] + flows[2].w[TL_HEAT_CONVECTION]) / 2, 1e-9);
    tl_model_free(m);
    free_loop(&s);
}

static double coldest_of(struct tl_setup *s)
{
    struct tl_model *m = built(s);
    double turned_over;
    const struct tl_heat_summary *h = &tl_model_heat(m)->summary;
    const double coldest = h->lowest_degC;
    const double sum = sum_of_flows(h, &turned_over);
    near(sum, h->stored_j, 1e-9 * turned_over);
    tl_model_free(m);
    return coldest;
}

/* Put on for some days of frost it keeps the water warmer; off again, it is as without. */
static void test_cover_switched(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, -4);
    s.start_degC = 12;
    s.to_tower = 0;
    s.wall_loss_w_m2_k = 0;
    s.length_d = 5;
    const double bare = coldest_of(&s);
    s.cover = 0.9;
    const double covered = coldest_of(&s);
    assert_true(covered > bare + 1);
    struct tl_event e = {.at_d = 0.5, .kind = TL_EVENT_COVER, .value = 0};
    s.event = &e;
    s.events = 1;
    const double taken_off = coldest_of(&s);
    assert_true(taken_off > bare && taken_off < bare + 0.5 * (covered - bare));
    e.for_d = 1;
    const double for_a_day = coldest_of(&s);
    assert_true(for_a_day > taken_off && for_a_day < covered);
    s.cover = 0;
    e = (struct tl_event){.at_d = 0.5, .kind = TL_EVENT_COVER, .value = 0.9};
    assert_true(coldest_of(&s) > bare + 0.5 * (covered - bare));
    e.kind = TL_EVENT_COVER_ON;
    near(coldest_of(&s), bare, 1e-9);
    s.event = NULL;
    s.events = 0;
    free_loop(&s);
}

/* A lasting frost: the water stays at 0 degC and freezes; warm air melts it again. */
static void test_ice(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, -10);
    s.length_d = 60;
    s.start_degC = 4;
    static double x[] = {0, 29, 31, 60};
    static double y[] = {-10, -10, 15, 15};
    s.weather.air.kind = TL_TEMPERATURE_READINGS;
    s.weather.air.readings = (struct tl_table){.x = x, .y = y, .n = 4};
    struct tl_model *m = built(&s);
    const struct tl_heat_course *c = tl_model_heat(m);
    const struct tl_heat_summary *h = &c->summary;
    near(h->lowest_degC, 0, 0);
    near(tl_model_temperature(m, 28), 0, 0);
    assert_true(h->most_ice_kg > 1000);
    assert_true(h->most_ice_d > 29 && h->most_ice_d < 31);
    assert_true(h->ice_d > 0 && h->ice_d < 3);
    assert_true(h->ice_h > 27 * 24);
    near(h->fish_ice_h, h->ice_h, 0);
    /* 5 mm of it close the surface */
    const double closes_kg = 0.005 * 917 * (s.tank.surface_m2 + s.chamber.surface_m2);
    for (size_t i = 0; i < c->n; i++)
        near(c->frozen[i], fmin(1, c->ice_kg[i] / closes_kg), 1e-9);
    struct tl_sky sky;
    tl_model_sky(m, 28, &sky);
    near(sky.frozen, 1, 0);
    tl_model_sky(m, 60, &sky);
    near(sky.frozen, 0, 0);
    assert_true(h->frost_h > 29 * 24 && h->frost_h < 31 * 24);
    near(h->frost_d, 1.0 / 96, 1e-9);
    near(c->ice_kg[c->n - 1], 0, 0);
    assert_true(tl_model_temperature(m, 60) > 5);
    tl_model_free(m);

    /* without water on the trays no ice there */
    s.to_tower = 0;
    m = built(&s);
    near(tl_model_heat(m)->summary.frost_h, 0, 0);
    assert_true(isnan(tl_model_heat(m)->summary.frost_d));
    tl_model_free(m);
    s.weather.air.readings = (struct tl_table){0};
    free_loop(&s);
}

/* Ice harms no fish that have left; those that are left behind, or come, count from then on. */
static void test_ice_without_fish(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, -10);
    s.length_d = 30;
    s.start_degC = 4;
    struct tl_event leave = {.at_d = 0.1, .kind = TL_EVENT_REMOVE_FISH, .fish = s.fish[0]};
    struct tl_event come = {.at_d = 20, .kind = TL_EVENT_ADD_FISH, .fish = s.fish[0]};
    add_event(&s, leave);
    struct tl_model *m = built(&s);
    const struct tl_heat_summary *h = &tl_model_heat(m)->summary;
    assert_true(h->ice_h > 20 * 24);
    near(h->fish_ice_h, 0, 0);
    tl_model_free(m);
    add_event(&s, come);
    m = built(&s);
    near(tl_model_heat(m)->summary.fish_ice_h, 10 * 24, 1e-6);
    tl_model_free(m);
    s.event[0].fish.count -= 1;
    s.events = 1;
    m = built(&s);
    h = &tl_model_heat(m)->summary;
    near(h->fish_ice_h, h->ice_h, 0);
    tl_model_free(m);
    free_loop(&s);
}

/* Air of -10 degC in a gale, without sun, on water of 0 degC that nothing else warms or cools. */
static void arctic(struct tl_setup *s, double degC)
{
    static double x[] = {0, 400}, y[] = {0, 0};
    outdoors(s, degC);
    s->wall_loss_w_m2_k = 0;
    s->trickle_1_d = 0;
    s->to_tower = 0;
    s->start_degC = 0;
    s->source_degC = 0;
    s->weather.wind_m_s = 40;
    s->weather.humidity = 1;
    s->weather.cloud = 1;
    s->weather.log[TL_LOG_SUN] = (struct tl_table){.x = x, .y = y, .n = 2};
}

static double most_ice_of(struct tl_setup *s)
{
    struct tl_model *m = built(s);
    const double kg = tl_model_heat(m)->summary.most_ice_kg;
    tl_model_free(m);
    return kg;
}

/* Ice keeps the water's heat in. Stefan 1891, Ann. Phys. 278:269: with its top as cold as the air it
 * grows to the root of 2 k / (rho L) x degree days; for clear ice 3.5 cm per root of a degree day. */
static void test_ice_grows_as_stefan_has_it(void **state)
{
    struct tl_setup s;
    (void)state;
    arctic(&s, -10);
    const double kg_m = 917 * (s.tank.surface_m2 + s.chamber.surface_m2);
    near_rel(most_ice_of(&s) / kg_m, 0.035 * sqrt(10 * 20), 0.05);
    s.length_d = 5;
    near_rel(most_ice_of(&s) / kg_m, 0.035 * sqrt(10 * 5), 0.08);
    s.weather.log[TL_LOG_SUN] = (struct tl_table){0};
    free_loop(&s);
}

/* There is no more ice than water, and it thaws again in spring. */
static void test_frozen_to_the_bottom(void **state)
{
    static double x[] = {0, 60, 61, 200};
    static double y[] = {-30, -30, 15, 15};
    struct tl_setup s;
    (void)state;
    arctic(&s, -30);
    const double water_kg = 998 * (s.tank.volume_m3 + s.chamber.volume_m3);
    struct tl_model *m = built(&s);
    assert_true(isnan(tl_model_heat(m)->summary.frozen_d));
    tl_model_free(m);

    s.wall_loss_w_m2_k = 20;
    s.length_d = 200;
    s.weather.air.kind = TL_TEMPERATURE_READINGS;
    s.weather.air.readings = (struct tl_table){.x = x, .y = y, .n = 4};
    s.heater = (struct tl_heater){.power_w = 10, .keep_degC = 5};
    m = built(&s);
    const struct tl_heat_course *c = tl_model_heat(m);
    const struct tl_heat_summary *h = &c->summary;
    double turned_over;
    assert_true(h->most_ice_kg > 0.97 * water_kg && h->most_ice_kg <= water_kg);
    assert_true(h->frozen_d > 1 && h->frozen_d < 40);
    const double sum = sum_of_flows(h, &turned_over);
    near(sum, h->stored_j, 1e-9 * turned_over);
    /* what melts it is what froze it, not what two months of frost would have made */
    assert_true(tl_heat_course_total(c, c->ice_kg, 60) > 0.97 * water_kg);
    assert_true(tl_model_temperature(m, 200) > 5);
    tl_model_free(m);
    s.weather.air.readings = (struct tl_table){0};
    s.weather.log[TL_LOG_SUN] = (struct tl_table){0};
    free_loop(&s);
}

/* The tower's water comes back no colder than 0 degC: it chills the pond and does not make its ice. */
static void test_tower_makes_no_ice_of_the_pond(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, -10);
    s.start_degC = 4;
    cut_off(&s);
    struct tl_model *m = built(&s);
    const struct tl_heat_summary *h = &tl_model_heat(m)->summary;
    assert_true(h->lowest_degC < 0.05);
    near(h->most_ice_kg, 0, 0.1);
    assert_true(h->tray_ice_h > 18 * 24);
    near_rel(h->flow_j[TL_HEAT_TOWER] + h->flow_j[TL_HEAT_TOP_UP], -4 * tl_heat_capacity_j_k(&s),
             0.02);
    tl_model_free(m);
    free_loop(&s);
}

/* Events that switch the pump reach the tower: it cools while it runs, and not while it stands. */
static void test_pump_events(void **state)
{
    struct tl_setup s;
    (void)state;
    outdoors(&s, 8);
    cut_off(&s);
    s.start_degC = 20;
    add_event(&s,
              (struct tl_event){.at_d = 0.5, .for_d = 9.5, .kind = TL_EVENT_PUMP_FLOW, .value = 0});
    struct tl_model *m = built(&s);
    const double stopped = tl_model_temperature(m, 0.5);
    near(tl_model_temperature(m, 10), stopped, 1e-9);
    near(tl_heat_course_evaporation_m3_d(tl_model_heat(m), 5), 0, 0);
    assert_true(stopped < 19);
    assert_true(tl_model_temperature(m, 11) < stopped - 2);
    assert_true(tl_heat_course_evaporation_m3_d(tl_model_heat(m), 10.1) > 0);
    tl_model_free(m);
    free_loop(&s);
}

/* Logged values take the place of the constant ones. */
static void test_logs(void **state)
{
    static double x[] = {0, 20};
    static double y[TL_NWEATHER_LOG][2] = {{0.4, 0.4}, {3, 3}, {1, 1}};
    static double sun_x[20 * 8 + 1],
        dark[20 * 8 + 1]; /* every 3 h: across a gap the sun is reckoned */
    const struct tl_table sun = {.x = sun_x, .y = dark, .n = sizeof sun_x / sizeof *sun_x};
    struct tl_setup s;
    (void)state;
    for (size_t i = 0; i < sun.n; i++)
        sun_x[i] = (double)i / 8;
    outdoors(&s, 15);
    s.weather.humidity = 0.4;
    s.weather.wind_m_s = 3;
    s.weather.cloud = 1; /* of the hour and on the mean the same only when clear or overcast */
    s.weather.log[TL_LOG_SUN] = sun;
    const double constant = end_of(&s);
    s.weather.log[TL_LOG_SUN] = (struct tl_table){0};
    free_loop(&s);
    outdoors(&s, 15);
    for (int i = 0; i < TL_NWEATHER_LOG; i++)
        s.weather.log[i] = i == TL_LOG_SUN ? sun : (struct tl_table){.x = x, .y = y[i], .n = 2};
    near(end_of(&s), constant, 1e-9);
    for (int i = 0; i < TL_NWEATHER_LOG; i++)
        s.weather.log[i] = (struct tl_table){0};
    free_loop(&s);
}

/* A log that ends at noon does not shine on, nor through the night to the next reading. */
static void test_sun_beyond_its_log(void **state)
{
    static double x[] = {3.375, 3.5, 4.375, 4.5};
    static double y[] = {100, 800, 400, 600};
    struct tl_setup s;
    (void)state;
    year(&s);
    const double noon = tl_weather_sun_w_m2(&s.weather, 9.5);
    s.weather.log[TL_LOG_SUN] = (struct tl_table){.x = x, .y = y, .n = 2};
    near(tl_weather_sun_w_m2(&s.weather, 3.5), 800, 0);
    near(tl_weather_sun_w_m2(&s.weather, 3.4375), 450, 1e-12);
    near(tl_weather_sun_w_m2(&s.weather, 4), 0, 0);
    near(tl_weather_sun_w_m2(&s.weather, 3), 0, 0);
    near(tl_weather_sun_w_m2(&s.weather, 9.5), noon, 0);
    const double afternoon = tl_weather_sun_w_m2(&s.weather, 3.6);
    assert_true(afternoon > 0);
    s.weather.log[TL_LOG_SUN].n = 4;
    near(tl_weather_sun_w_m2(&s.weather, 3.5), 800, 0);
    near(tl_weather_sun_w_m2(&s.weather, 3.6), afternoon, 0);
    near(tl_weather_sun_w_m2(&s.weather, 4), 0, 0);
    near(tl_weather_sun_w_m2(&s.weather, 4.375), 400, 0);
    near(tl_weather_sun_w_m2(&s.weather, 4.4375), 500, 1e-12);
    s.weather.log[TL_LOG_SUN] = (struct tl_table){0};
    free_loop(&s);
}

static void test_a_temperature_needs_weather(void **state)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    (void)state;
    outdoors(&s, 15);
    s.weather.given = false;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    s.weather.given = true;
    s.weather.air.kind = TL_TEMPERATURE_WEATHER;
    assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
    free_loop(&s);
}

/* A sensor that reads no humidity must not make the sky as cold as space: by Prata 1996 dry air still comes
 * to 0.67; the bound lies below that, and over any air that is not as dry the law holds. */
static void test_a_dry_sky_still_radiates(void **state)
{
    (void)state;
    near(tl_sky_emissivity(20, 0, 0), 0.55, 1e-12);
    near(tl_sky_emissivity(20, 1400, 0), 1.24 * pow(14 / 293.15, 1.0 / 7), 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_walls_alone),
        cmocka_unit_test(test_a_dry_sky_still_radiates),
        cmocka_unit_test(test_tower_leads_to_the_wet_bulb),
        cmocka_unit_test(test_little_water_leaves_at_the_wet_bulb),
        cmocka_unit_test(test_sun_keeps_time),
        cmocka_unit_test(test_mean_cover),
        cmocka_unit_test(test_shade_hides_the_sky),
        cmocka_unit_test(test_changed_water_mixes),
        cmocka_unit_test(test_trickle_alone),
        cmocka_unit_test(test_ledger_closes),
        cmocka_unit_test(test_salt_stays),
        cmocka_unit_test(test_steps_are_fine_enough),
        cmocka_unit_test(test_small_water_stays_sound),
        cmocka_unit_test(test_more_of_a_thing_moves_the_water),
        cmocka_unit_test(test_heater),
        cmocka_unit_test(test_warm_up_is_not_weakness),
        cmocka_unit_test(test_heater_switched),
        cmocka_unit_test(test_ice),
        cmocka_unit_test(test_ice_without_fish),
        cmocka_unit_test(test_cover),
        cmocka_unit_test(test_cover_switched),
        cmocka_unit_test(test_ice_grows_as_stefan_has_it),
        cmocka_unit_test(test_frozen_to_the_bottom),
        cmocka_unit_test(test_tower_makes_no_ice_of_the_pond),
        cmocka_unit_test(test_pump_events),
        cmocka_unit_test(test_logs),
        cmocka_unit_test(test_sun_beyond_its_log),
        cmocka_unit_test(test_a_temperature_needs_weather),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
