/* Litres, kilograms and metres of a tower. */
#include "build_sheet.h"

#include <math.h>

#include "towerloop/pump.h"
#include "towerloop/status.h"

#define WATER_KG_M3 1000.0 /* to the nearest half per cent at any temperature of a pond */

void tl_build_sheet_of(const struct tl_scenario *s, struct tl_build_sheet *out)
{
    const struct tl_tower *t = &s->setup.tower;
    const struct tl_building *b = &s->building;
    struct tl_duty duty;
    const double media_m3 = t->trays * t->media_depth_m * t->plan_area_m2;
    const double dry_kg = media_m3 * b->bulk_density_kg_m3;
    const double trays_kg = t->trays * b->tray_mass_g / 1000;
    /* a submerged stack is full of water whenever it runs, between its trays too */
    const double gaps_m3 = t->submerged ? t->trays * t->tray_gap_m * t->plan_area_m2 : 0;
    const double full_m3 = media_m3 * fmax(t->void_fraction, b->water_held) + gaps_m3;
    const double held_m3 = t->submerged ? full_m3 : media_m3 * b->water_held;
    *out = (struct tl_build_sheet){
        .media_m3 = media_m3,
        .media_kg = dry_kg,
        .wet_kg = dry_kg + trays_kg + held_m3 * WATER_KG_M3,
        .flooded_kg = dry_kg + trays_kg + full_m3 * WATER_KG_M3,
        .height_m = t->trays * (t->media_depth_m + t->tray_gap_m),
        .footprint_m2 = t->plan_area_m2,
    };
    out->lift_m = s->setup.pump.curve.n > 0 && !isnan(s->setup.pump.head_m) ? s->setup.pump.head_m
                                                                            : tl_tower_lift_m(t);
    if (tl_pump_duty(&s->setup, s->setup.pump.count, &duty) != TL_OK)
        duty.flow_m3_d = duty.head_m = NAN;
    out->pump_m3_d = duty.flow_m3_d;
    out->head_m = duty.head_m;
    out->load_kg_m2 = out->wet_kg / out->footprint_m2;
    out->slenderness = out->height_m / sqrt(out->footprint_m2);
}
