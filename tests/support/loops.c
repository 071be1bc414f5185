#include "loops.h"

#include <stdlib.h>

void reference_loop(struct tl_setup *s, double fish_kg)
{
    tl_setup_default(s);
    s->temperature.mean_degC = 24;
    s->tank = (struct tl_basin){12, 10, 28};
    s->chamber = (struct tl_basin){0.8, 1, 4};
    s->pump_flow_m3_d = 4.542 * 24;
    s->tower.trays = 16;
    s->tower.media_depth_m = 0.0762;
    s->tower.plan_area_m2 = 0.27;
    s->aerator_g_d = 7.5 * fish_kg;
    s->source.water[TL_O2] = 8;
    s->source.o2_given = true;
    s->source.water[TL_ALK] = 4.5;
    s->source.ph = 7.8;
    s->source.water[TL_NO3] = 2;
    s->source.water[TL_CL] = 20;
    s->starting = s->source;
    s->trickle_1_d = 0.1;

    s->fish = calloc(1, sizeof *s->fish);
    s->fish_groups = 1;
    s->fish[0] = (struct tl_fish){.name = "koi", .count = 2 * fish_kg, .mean_mass_g = 500};
    s->feeding.ration.value = 0.01;
    s->feeding.meal_s = calloc(3, sizeof *s->feeding.meal_s);
    s->feeding.meals = 3;
    s->feeding.meal_s[0] = 8 * 3600;
    s->feeding.meal_s[1] = 13 * 3600;
    s->feeding.meal_s[2] = 18 * 3600;
}

void dead_loop(struct tl_setup *s)
{
    reference_loop(s, 0);
    s->fish_groups = 0;
    s->feeding.meals = 0;
    s->tower.biofilm = TL_BIOFILM_NEW;
    s->params.new_aob = 0;
    s->params.new_nob = 0;
    s->params.new_het = 0;
    s->params.f_attach = 0;
    s->params.k_hydrolysis = 0;
}

void eventful_loop(struct tl_setup *s)
{
    reference_loop(s, 30);
    s->length_d = 30;
    s->temperature.kind = TL_TEMPERATURE_SINES;
    s->temperature.mean_degC = 20;
    s->temperature.seasonal_swing_degC = 6;
    s->temperature.warmest_noon_d = 20.5;
    s->temperature.daily_swing_degC = 2;
    s->feeding.uneaten = 0.05;
    s->feeding.grows = true;
    s->source.chloramine = true;
    s->source.water[TL_HOCL] = 0.5;
    s->source.water[TL_SS] = 1;
    s->source.water[TL_TAN] = 0.1;
    s->change_every_d = 7;
    s->change_amount = 0.15;
    s->emptying.every_d = 8;

    struct tl_event table = {.at_d = 20, .for_d = 1, .kind = TL_EVENT_RATION};
    table.ration.kind = TL_RATION_TABLE;
    table.ration.table.n = 2;
    table.ration.table.x = calloc(2, sizeof(double));
    table.ration.table.y = calloc(2, sizeof(double));
    table.ration.table.x[0] = 5;
    table.ration.table.x[1] = 25;
    table.ration.table.y[0] = 0.002;
    table.ration.table.y[1] = 0.02;

    const struct tl_event events[] = {
        {.at_d = 2, .for_d = 1.2, .kind = TL_EVENT_PUMP_FLOW},
        {.at_d = 4, .for_d = 0.2, .kind = TL_EVENT_AERATOR},
        {.at_d = 5, .kind = TL_EVENT_TO_TOWER, .value = 0.4},
        {.at_d = 6, .kind = TL_EVENT_ADD_FISH, .fish = {"new", 10, 300}},
        {.at_d = 7.5, .kind = TL_EVENT_REMOVE_FISH, .fish = {"koi", 7, 0}},
        {.at_d = 8,
         .for_d = 2,
         .kind = TL_EVENT_RATION,
         .ration = {.kind = TL_RATION_MASS, .value = 500}},
        {.at_d = 9, .kind = TL_EVENT_WATER_CHANGE, .value = 0.3},
        {.at_d = 10, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_BAKING_SODA, .value = 100},
        {.at_d = 10, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_SALT, .value = 100},
        {.at_d = 10, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_AMMONIUM_CHLORIDE, .value = 100},
        {.at_d = 11, .kind = TL_EVENT_CLEAN_CHAMBER},
        {.at_d = 12, .kind = TL_EVENT_CLEAN_TRAY, .tray = 1},
        {.at_d = 13, .kind = TL_EVENT_CLEAN_TRAYS, .tap_water = true, .contact_d = 0.01},
        {.at_d = 13.2, .kind = TL_EVENT_DOSE, .by = TL_DOSE_TO_CONTENT, .value = 5},
        {.at_d = 13.4,
         .kind = TL_EVENT_DOSE,
         .dose = TL_DOSE_SALT,
         .by = TL_DOSE_TO_RATIO,
         .value = 30},
        {.at_d = 14, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_THIOSULFATE, .value = 5},
        {.at_d = 14, .kind = TL_EVENT_PUMP_FLOW, .value = 50},
        {.at_d = 15, .kind = TL_EVENT_PUMP_ON},
        {.at_d = 16, .kind = TL_EVENT_AERATOR_ON},
        {.at_d = 16.5, .for_d = 2, .kind = TL_EVENT_DEAD_FISH, .fish = {"koi", 1, 0}},
        {.at_d = 17, .kind = TL_EVENT_KNOCK_OUT, .value = 0.1, .where = TL_WHERE_TOWER},
        {.at_d = 17.3,
         .kind = TL_EVENT_DOSE,
         .dose = TL_DOSE_FORMALDEHYDE,
         .by = TL_DOSE_TO_CONTENT,
         .value = 10},
        table,
        {.at_d = 22, .for_d = 0.1, .kind = TL_EVENT_TO_TOWER, .value = 0},
    };
    for (size_t i = 0; i < sizeof events / sizeof events[0]; i++)
        add_event(s, events[i]);
}

void sunny_loop(struct tl_setup *s)
{
    eventful_loop(s);
    s->sun.given = true;
    s->sun.shaded = 0.1;
    s->sun.tank_shaded = 0.2;
    s->green_g_m3 = 5;
    add_event(s, (struct tl_event){.at_d = 20.6, .kind = TL_EVENT_HOSE_TRAY, .tray = 2});
    add_event(s, (struct tl_event){.at_d = 25.6, .kind = TL_EVENT_HOSE_TRAYS});
}

void add_event(struct tl_setup *s, struct tl_event e)
{
    s->event = realloc(s->event, (s->events + 1) * sizeof *s->event);
    s->event[s->events++] = e;
}

void free_loop(struct tl_setup *s)
{
    tl_setup_free(s);
}
