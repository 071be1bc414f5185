/* The heat balance of the loop at one instant. */
#ifndef TOWERLOOP_MODEL_HEAT_BALANCE_H
#define TOWERLOOP_MODEL_HEAT_BALANCE_H

#include <stdbool.h>

#include "model_private.h"
#include "towerloop/heat.h"

#define TL_WATER_J_M3_K (998.0 * 4186.0)
#define TL_WATER_KG_M3  998.0
#define TL_FUSION_J_KG  3.34e5
#define TL_ICE_KG_M3    917.0

/* What does not hang on the temperature of the water. */
struct tl_open_air {
    struct tl_moist_air air;
    double vapour_pa;
    double evaporation_w_m2_pa;
    double convection_w_m2_k;
    double sun_w; /* taken up */
    double sky_w; /* long-wave, taken up */
    double open;  /* share of the surface that no cover closes: all of the above counts for that */
    struct tl_bed tray; /* one of them */
    double tower_kg_s;  /* water that crosses it */
};

/* Means of the air that stand in for temperatures that were not given. */
double tl_heat_source_degC(const struct tl_setup *s);
double tl_heat_start_degC(const struct tl_setup *s);

/* Sun and sky light on level ground: as logged, or as the sky lets it through. */
double tl_weather_sun_w_m2(const struct tl_weather *w, double t_d);

/* `tower_flow_m3_d` crosses the trays; `at_degC` is about the water's temperature, for its wetting; `cover`:
 * covered share of the surface. */
void tl_open_air_at(const struct tl_model *m, double t_d, double tower_flow_m3_d, double cover,
                    double at_degC, struct tl_open_air *out);

struct tl_heat_flows {
    double w[TL_NHEAT_FLOW];
    double vapour_kg_s;       /* from surfaces and tower, less dew */
    double tower_vapour_kg_s; /* of it in the tower */
    bool tray_ice;            /* water would leave the tower below 0 degC */
};
/* Returns their sum, W. `heat_j` is the heat of all water over that at 0 degC; below 0 it is ice, which
 * lies on the water and keeps its heat in. Nothing more is lost once all the water is ice. */
double tl_heat_balance(const struct tl_model *m, const struct tl_open_air *around,
                       double source_degC, double heat_j, struct tl_heat_flows *out);

/* Of all water, J/K, and its temperature. */
double tl_heat_capacity_j_k(const struct tl_setup *s);
double tl_heat_degC(const struct tl_setup *s, double heat_j);
/* Ice in it, kg: at most as much as there is water. */
double tl_heat_ice_kg(const struct tl_setup *s, double heat_j);
/* Share of the water that is still liquid, 0..1. */
double tl_heat_liquid(const struct tl_setup *s, double heat_j);
/* With less liquid water than this the loop counts as frozen to the bottom. */
#define TL_HEAT_FROZEN 0.05

#endif
