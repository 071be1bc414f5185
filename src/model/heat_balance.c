/* The heat balance of the loop at one instant: sun, sky, surface, walls, tower, waters, heater. */
#include "heat_balance.h"

#include <math.h>

#include "towerloop/air.h"
#include "towerloop/chem.h"
#include "towerloop/sun.h"

#define ATM_PA           101325.0
#define DAY_S            86400.0
#define WATER_EMISSIVITY 0.97
#define MEAN_SAMPLES     96   /* of the air's temperature, for a mean */
#define WARMEST_DEGC     60.0 /* as in a bed: a trial of the solver may be far off */
#define HEATER_BAND_DEGC 0.5  /* over which the heater comes to full power */

double tl_heat_capacity_j_k(const struct tl_setup *s)
{
    return TL_WATER_J_M3_K * (s->tank.volume_m3 + s->chamber.volume_m3);
}

double tl_heat_degC(const struct tl_setup *s, double heat_j)
{
    return fmax(0, heat_j) / tl_heat_capacity_j_k(s);
}

static double mean_air(const struct tl_setup *s, double length_d)
{
    double sum = 0;
    for (int i = 0; i < MEAN_SAMPLES; i++)
        sum += tl_temperature_at(&s->weather.air, s->start_d + (i + 0.5) / MEAN_SAMPLES * length_d);
    return sum / MEAN_SAMPLES;
}

double tl_heat_source_degC(const struct tl_setup *s)
{
    if (!isnan(s->source_degC))
        return s->source_degC;
    return fmax(0, s->weather.air.kind == TL_TEMPERATURE_READINGS ? mean_air(s, s->length_d)
                                                                  : s->weather.air.mean_degC);
}

double tl_heat_start_degC(const struct tl_setup *s)
{
    return isnan(s->start_degC) ? fmax(0, mean_air(s, 1)) : s->start_degC;
}

static double logged(const struct tl_weather *w, enum tl_weather_log which, double otherwise,
                     double t_d)
{
    return w->log[which].n > 0 ? tl_table_at(&w->log[which], t_d) : otherwise;
}

double tl_weather_sun_w_m2(const struct tl_weather *w, double t_d)
{
    if (w->log[TL_LOG_SUN].n > 0)
        return tl_table_at(&w->log[TL_LOG_SUN], t_d);
    const double declination = tl_sun_declination_rad(w->day_of_year + t_d);
    const double noon_d = t_d - floor(t_d) - 0.5;
    return tl_sun_w_m2(tl_sun_sin_height(w->latitude_deg, declination, noon_d),
                       logged(w, TL_LOG_CLOUD, w->cloud, t_d));
}

/* Each tray gets fresh air, which crosses it from the windward side. */
static void tower_air(const struct tl_model *m, double wind_m_s, double load_m_h, double at_degC,
                      struct tl_open_air *out)
{
    const struct tl_tower *t = &m->setup.tower;
    const struct tl_params *p = &m->setup.params;
    const struct tl_packing packing = {t->specific_surface_m2_m3, t->media_size_m,
                                       t->critical_surface_tension_n_m};
    const double through_m_s = p->tower_air_still + p->tower_air_wind * wind_m_s;
    const double face_m2 = sqrt(t->plan_area_m2) * t->media_depth_m;
    const double media_m2 = t->plan_area_m2 * t->media_depth_m * t->specific_surface_m2_m3;
    const struct tl_moist_air *air = &out->air;
    struct tl_wetting wet;

    if (t->submerged || !(load_m_h > 0) || !(through_m_s > 0))
        return;
    tl_onda(&packing, load_m_h, at_degC, &wet);
    const double density =
        tl_air_density_kg_m3(air->t_degC, air->humidity_ratio, air->pressure_pa) /
        (1 + air->humidity_ratio);
    const double film = tl_onda_gas_m_s(packing.area_m2_m3, packing.size_m, through_m_s, air);
    out->tray.air_kg_s = density * through_m_s * face_m2;
    out->tray.film_kg_s = density * film * media_m2 * wet.wetted_fraction;
}

void tl_open_air_at(const struct tl_model *m, double t_d, double tower_flow_m3_d, double at_degC,
                    struct tl_open_air *out)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_weather *w = &s->weather;
    const double area_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    const double air_degC = tl_temperature_at(&w->air, t_d);
    const double wind = logged(w, TL_LOG_WIND, w->wind_m_s, t_d);
    const double cloud = logged(w, TL_LOG_CLOUD, w->cloud, t_d);
    const double pressure_pa = m->pressure_atm * ATM_PA;
    const double vapour_pa =
        logged(w, TL_LOG_HUMIDITY, w->humidity, t_d) * tl_vapour_pressure_pa(air_degC);
    const double evaporation = s->params.evaporation * tl_evaporation_w_m2_pa(wind);

    *out = (struct tl_open_air){
        .air = {air_degC, tl_humidity_ratio(vapour_pa, pressure_pa), pressure_pa},
        .vapour_pa = vapour_pa,
        .evaporation_w_m2_pa = evaporation,
        .convection_w_m2_k = tl_convection_w_m2_k(evaporation, pressure_pa),
        .sun_w =
            area_m2 * (1 - s->params.water_albedo) * (1 - w->shade) * tl_weather_sun_w_m2(w, t_d),
        .sky_w = area_m2 * WATER_EMISSIVITY * tl_sky_emissivity(air_degC, vapour_pa, cloud) *
                 tl_black_body_w_m2(air_degC),
        .tower_kg_s = tower_flow_m3_d * TL_WATER_KG_M3 / DAY_S,
    };
    tower_air(m, wind, tower_flow_m3_d / 24 / s->tower.plan_area_m2, at_degC, out);
}

/* Down the trays; returns the heat the air takes, W. */
static double tower_w(const struct tl_model *m, const struct tl_open_air *around, double water_degC,
                      struct tl_heat_flows *out)
{
    double t = water_degC;
    double sum = 0;

    out->tower_vapour_kg_s = 0;
    if (!(around->tray.air_kg_s > 0))
        return 0;
    for (int i = 0; i < m->setup.tower.trays; i++) {
        const struct tl_bed_heat tray =
            tl_bed_cool(&around->tray, around->tower_kg_s, t, &around->air);
        sum += tray.heat_w;
        out->tower_vapour_kg_s += tray.vapour_kg_s;
        t -= tray.heat_w * TL_WATER_KG_M3 / (around->tower_kg_s * TL_WATER_J_M3_K);
    }
    out->tray_ice = t < 0;
    return sum;
}

double tl_heat_balance(const struct tl_model *m, const struct tl_open_air *around,
                       double source_degC, double heat_j, struct tl_heat_flows *out)
{
    const struct tl_setup *s = &m->setup;
    const double area_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    const double walls_m2 = s->tank.walls_m2 + s->chamber.walls_m2;
    const double water_j_kg_k = TL_WATER_J_M3_K / TL_WATER_KG_M3;
    const double t = tl_heat_degC(s, heat_j);
    const double trickle_m3_s = s->trickle_1_d * s->tank.volume_m3 / DAY_S;
    const double latent_w = area_m2 * around->evaporation_w_m2_pa *
                            (tl_vapour_pressure_pa(fmin(t, WARMEST_DEGC)) - around->vapour_pa);
    double *w = out->w;
    double sum = 0;

    out->tray_ice = false;
    const double to_air = tower_w(m, around, t, out);
    out->vapour_kg_s = latent_w / tl_latent_heat_j_kg(t) + out->tower_vapour_kg_s;
    w[TL_HEAT_SUN] = around->sun_w;
    w[TL_HEAT_LONG_WAVE] = around->sky_w - area_m2 * WATER_EMISSIVITY * tl_black_body_w_m2(t);
    w[TL_HEAT_EVAPORATION] = -latent_w;
    w[TL_HEAT_CONVECTION] = area_m2 * around->convection_w_m2_k * (around->air.t_degC - t);
    w[TL_HEAT_WALLS] = walls_m2 * s->wall_loss_w_m2_k * (around->air.t_degC - t);
    /* the vapour's enthalpy counts from water at 0 degC; the water it was took its own warmth along,
     * which what tops it up at the water's temperature would bring back */
    w[TL_HEAT_TOWER] = out->tower_vapour_kg_s * water_j_kg_k * t - to_air;
    w[TL_HEAT_SOURCE_WATER] = TL_WATER_J_M3_K * trickle_m3_s * (source_degC - t);
    w[TL_HEAT_TOP_UP] = water_j_kg_k * fmax(0, out->vapour_kg_s) * (source_degC - t);
    w[TL_HEAT_HEATER] =
        s->heater.power_w > 0
            ? s->heater.power_w * fmin(1, fmax(0, (s->heater.keep_degC - t) / HEATER_BAND_DEGC))
            : 0;
    for (int i = 0; i < TL_NHEAT_FLOW; i++)
        sum += w[i];
    return sum;
}
