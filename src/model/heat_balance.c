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
#define THAWED_DEGC      0.5  /* of the water, from which on warm air over the trays warms it all */
#define ICE_W_M_K        2.2  /* at 0 degC, clear ice; from memory */
#define MOST_NEWTON      50
#define SLOPE_DEGC       1e-3

double tl_heat_capacity_j_k(const struct tl_setup *s)
{
    return TL_WATER_J_M3_K * (s->tank.volume_m3 + s->chamber.volume_m3);
}

double tl_heat_degC(const struct tl_setup *s, double heat_j)
{
    return fmax(0, heat_j) / tl_heat_capacity_j_k(s);
}

static double water_kg(const struct tl_setup *s)
{
    return TL_WATER_KG_M3 * (s->tank.volume_m3 + s->chamber.volume_m3);
}

double tl_heat_ice_kg(const struct tl_setup *s, double heat_j)
{
    return fmin(water_kg(s), fmax(0, -heat_j) / TL_FUSION_J_KG);
}

double tl_heat_liquid(const struct tl_setup *s, double heat_j)
{
    return 1 - tl_heat_ice_kg(s, heat_j) / water_kg(s);
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
    return fmax(0, s->weather.air.kind == TL_TEMPERATURE_READINGS
                       ? mean_air(s, s->length_d)
                       : s->weather.air.mean_degC + s->weather.air.warmer_degC);
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

/* Beyond its ends a log says nothing, nor across a gap: a reading at noon would shine all night. */
static bool says(const struct tl_table *log, double t_d)
{
    if (log->n == 0 || !(t_d >= log->x[0] && t_d <= log->x[log->n - 1]))
        return false;
    if (t_d == log->x[log->n - 1])
        return true;
    const size_t i = tl_table_before(log, t_d);
    return t_d == log->x[i] || log->x[i + 1] - log->x[i] <= TL_WEATHER_GAP_D;
}

double tl_weather_sun_w_m2(const struct tl_weather *w, double t_d)
{
    const struct tl_table *log = &w->log[TL_LOG_SUN];
    if (says(log, t_d))
        return tl_table_at(log, t_d);
    const double declination = tl_sun_declination_rad(w->day_of_year + t_d);
    const double noon_d = t_d - floor(t_d) - 0.5;
    const double sin_height = tl_sun_sin_height(w->latitude_deg, declination, noon_d);
    return w->log[TL_LOG_CLOUD].n > 0
               ? tl_sun_w_m2(sin_height, tl_table_at(&w->log[TL_LOG_CLOUD], t_d))
               : tl_sun_mean_w_m2(sin_height, w->cloud);
}

/* Of the sky over open water and, over its shaded share, of the net, which is about as warm as the air and
 * hides the sky. The sky's: at the logged cover, or of clear and overcast hours in the shares that
 * make the mean cover. */
static double sky_emissivity(const struct tl_weather *w, double t_d, double air_degC,
                             double vapour_pa)
{
    const double sky =
        w->log[TL_LOG_CLOUD].n > 0
            ? tl_sky_emissivity(air_degC, vapour_pa, tl_table_at(&w->log[TL_LOG_CLOUD], t_d))
            : (1 - w->cloud) * tl_sky_emissivity(air_degC, vapour_pa, 0) +
                  w->cloud * tl_sky_emissivity(air_degC, vapour_pa, 1);
    return (1 - w->shade) * sky + w->shade;
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

void tl_open_air_at(const struct tl_model *m, double t_d, double tower_flow_m3_d, double cover,
                    double at_degC, struct tl_open_air *out)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_weather *w = &s->weather;
    const double area_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    const double air_degC = tl_temperature_at(&w->air, t_d);
    const double wind = logged(w, TL_LOG_WIND, w->wind_m_s, t_d);
    const double pressure_pa = m->pressure_atm * ATM_PA;
    const double vapour_pa =
        logged(w, TL_LOG_HUMIDITY, w->humidity, t_d) * tl_vapour_pressure_pa(air_degC);
    const double evaporation = s->params.evaporation * tl_evaporation_w_m2_pa(wind);

    *out = (struct tl_open_air){
        .air = {air_degC, tl_humidity_ratio(vapour_pa, pressure_pa), pressure_pa},
        .vapour_pa = vapour_pa,
        .evaporation_w_m2_pa = evaporation,
        .convection_w_m2_k = tl_convection_w_m2_k(evaporation, pressure_pa),
        .open = 1 - cover,
        .sun_w = (1 - cover) * area_m2 * (1 - s->params.water_albedo) * (1 - w->shade) *
                 tl_weather_sun_w_m2(w, t_d),
        .sky_w = (1 - cover) * area_m2 * WATER_EMISSIVITY *
                 sky_emissivity(w, t_d, air_degC, vapour_pa) * tl_black_body_w_m2(air_degC),
        .tower_kg_s = tower_flow_m3_d * TL_WATER_KG_M3 / DAY_S,
    };
    tower_air(m, wind, tower_flow_m3_d / 24 / s->tower.plan_area_m2, at_degC, out);
}

/* Down the trays; returns the heat the air takes from the water that comes back, W. That water is never
 * colder than 0 degC: what the air takes beyond that freezes water in the trays, and stays there. While
 * ice lies on the water, warm air melts that of the trays and does not reach the pond. */
static double tower_w(const struct tl_model *m, const struct tl_open_air *around, double water_degC,
                      struct tl_heat_flows *out)
{
    double t = water_degC;
    double sum = 0;

    out->tower_vapour_kg_s = 0;
    if (!(around->tray.air_kg_s > 0))
        return 0;
    const double thawed = fmin(1, water_degC / THAWED_DEGC);
    const double water_w_k = around->tower_kg_s * TL_WATER_J_M3_K / TL_WATER_KG_M3;
    for (int i = 0; i < m->setup.tower.trays; i++) {
        const struct tl_bed_heat tray =
            tl_bed_cool(&around->tray, around->tower_kg_s, t, &around->air);
        const double most_w = water_w_k * t;
        const bool freezes = tray.heat_w > most_w;
        const double share = freezes ? most_w / tray.heat_w : tray.heat_w < 0 ? thawed : 1;
        out->tray_ice = out->tray_ice || freezes;
        sum += share * tray.heat_w;
        out->tower_vapour_kg_s += share * tray.vapour_kg_s;
        t = fmax(0, t - share * tray.heat_w / water_w_k);
    }
    return sum;
}

/* What the surface of water or ice at `t_degC` gains, W; the sun is counted as taken up there. Under a cover
 * there is neither sun, sky nor vapour, and heat goes through it to the air. */
static double surface_w(const struct tl_setup *s, const struct tl_open_air *around, double t_degC,
                        double w[TL_NHEAT_FLOW])
{
    const double all_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    const double area_m2 = around->open * all_m2;
    const double cover_w_k = (all_m2 - area_m2) * s->params.cover_heat_loss;

    w[TL_HEAT_SUN] = around->sun_w;
    w[TL_HEAT_LONG_WAVE] = around->sky_w - area_m2 * WATER_EMISSIVITY * tl_black_body_w_m2(t_degC);
    w[TL_HEAT_EVAPORATION] =
        -area_m2 * around->evaporation_w_m2_pa *
        (tl_vapour_pressure_pa(fmin(t_degC, WARMEST_DEGC)) - around->vapour_pa);
    w[TL_HEAT_CONVECTION] =
        (area_m2 * around->convection_w_m2_k + cover_w_k) * (around->air.t_degC - t_degC);
    return w[TL_HEAT_SUN] + w[TL_HEAT_LONG_WAVE] + w[TL_HEAT_EVAPORATION] + w[TL_HEAT_CONVECTION];
}

/* Top of the ice: as cold as lets through the ice what it loses (Stefan 1891); melting at 0 degC. By
 * Newton's method from 0 degC down: what is lost bends one way, so that it never goes too far. */
static double ice_top_degC(const struct tl_setup *s, const struct tl_open_air *around,
                           double ice_kg)
{
    const double area_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    double w[TL_NHEAT_FLOW];
    double t = 0;

    if (!(area_m2 > 0) || !(ice_kg > 0))
        return 0;
    const double through_w_k = ICE_W_M_K * area_m2 * area_m2 * TL_ICE_KG_M3 / ice_kg;
    for (int i = 0; i < MOST_NEWTON; i++) {
        const double gain = surface_w(s, around, t, w) - through_w_k * t;
        const double slope =
            (surface_w(s, around, t + SLOPE_DEGC, w) - through_w_k * (t + SLOPE_DEGC) - gain) /
            SLOPE_DEGC;
        const double by = -gain / slope;
        t = fmin(0, t + by);
        if (t >= 0 || fabs(by) < 1e-9)
            break;
    }
    return t;
}

double tl_heat_balance(const struct tl_model *m, const struct tl_open_air *around,
                       double source_degC, double heat_j, struct tl_heat_flows *out)
{
    const struct tl_setup *s = &m->setup;
    const double walls_m2 = s->tank.walls_m2 + s->chamber.walls_m2;
    const double water_j_kg_k = TL_WATER_J_M3_K / TL_WATER_KG_M3;
    const double t = tl_heat_degC(s, heat_j);
    const double trickle_m3_s = s->trickle_1_d * s->tank.volume_m3 / DAY_S;
    double *w = out->w;
    double sum = 0;

    out->tray_ice = false;
    const double to_air = tower_w(m, around, t, out);
    const double ice_kg = tl_heat_ice_kg(s, heat_j);
    (void)surface_w(s, around, ice_kg > 0 ? ice_top_degC(s, around, ice_kg) : t, w);
    out->vapour_kg_s = out->tower_vapour_kg_s - w[TL_HEAT_EVAPORATION] / tl_latent_heat_j_kg(t);
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

    /* the last of the water: when it is ice there is nothing left to lose */
    const double left = tl_heat_liquid(s, heat_j) / TL_HEAT_FROZEN;
    if (left >= 1 || sum >= 0)
        return sum;
    for (int i = 0; i < TL_NHEAT_FLOW; i++)
        w[i] *= left;
    out->vapour_kg_s *= left;
    out->tower_vapour_kg_s *= left;
    return left * sum;
}
