/* How long media stay moist after the water stops. Model document, section "Drying". */
#include <math.h>

#include "heat_balance.h"
#include "model_private.h"
#include "towerloop/air.h"

#define ALBEDO       0.1 /* of wet rock */
#define STEP_D       (1.0 / 144)
#define DAY_S        86400.0
#define WATER_KG_M3  1000.0
#define SLOPE_DEGC   0.5
#define PSYCHRO_PA_K 66.0 /* of air at 1 atm, times the pressure over it */
#define ATM_PA       101325.0
#define USUAL_DEGC   20.0 /* of air of which nothing is said */

/* Sun and sky light that falls on the top tray, W/m2 of its plan area. */
static double light_w_m2(const struct tl_setup *s, double t_d)
{
    const double from_noon = (t_d - floor(t_d) - 0.5) / s->sun.hours_d;
    const double open = 1 - (s->sun.given ? s->sun.shaded : s->weather.shade);

    if (s->weather.given)
        return open * tl_weather_sun_w_m2(&s->weather, t_d);
    if (s->sun.given && fabs(from_noon) < 0.5)
        return open * s->sun.noon_w_m2 * cos(M_PI * from_noon);
    return 0;
}

/* Of the heat a wet surface takes up, the share that evaporates water (Penman 1948). */
static double share_to_vapour(double air_degC, double pressure_pa)
{
    const double slope = (tl_vapour_pressure_pa(air_degC + SLOPE_DEGC) -
                          tl_vapour_pressure_pa(air_degC - SLOPE_DEGC)) /
                         (2 * SLOPE_DEGC);
    return slope / (slope + PSYCHRO_PA_K * pressure_pa / ATM_PA);
}

/* Into the air that crosses the tray, kg/s: it leaves saturated, at the wet bulb, as far as the gas
 * film lets it. */
static double into_air_kg_s(const struct tl_open_air *around)
{
    const struct tl_moist_air *air = &around->air;
    if (!(around->tray.air_kg_s > 0))
        return 0;
    const double humidity = fmin(1, around->vapour_pa / tl_vapour_pressure_pa(air->t_degC));
    const double wet_degC = tl_wet_bulb_degC(air->t_degC, humidity, air->pressure_pa);
    const double full = tl_humidity_ratio(tl_vapour_pressure_pa(wet_degC), air->pressure_pa);
    const double share = -expm1(-around->tray.film_kg_s / around->tray.air_kg_s);
    return around->tray.air_kg_s * share * fmax(0, full - air->humidity_ratio);
}

/* Water the top tray loses at an instant, kg/d; `indoors` where no weather is known. */
static double drying_kg_d(const struct tl_model *m, double t_d, double wetted_at_m_h,
                          double indoors_kg_d)
{
    const struct tl_setup *s = &m->setup;
    const double sun_w = (1 - ALBEDO) * s->tower.plan_area_m2 * light_w_m2(s, t_d);
    double air_degC = USUAL_DEGC;
    double air_kg_d = indoors_kg_d;

    if (s->weather.given) {
        struct tl_open_air around;
        air_degC = tl_temperature_at(&s->weather.air, t_d);
        tl_open_air_at(m, t_d, wetted_at_m_h * 24 * s->tower.plan_area_m2, 0, fmax(0, air_degC),
                       &around);
        air_kg_d = DAY_S * into_air_kg_s(&around);
    }
    if (air_degC < 0) /* frozen: nothing dries before it thaws */
        return 0;
    return air_kg_d + DAY_S * sun_w * share_to_vapour(air_degC, m->pressure_atm * ATM_PA) /
                          tl_latent_heat_j_kg(air_degC);
}

double tl_moist_d(const struct tl_model *m, double t_d, double wetted_at_m_h)
{
    const struct tl_setup *s = &m->setup;
    const double held_kg =
        WATER_KG_M3 * s->params.media_holds * s->tower.plan_area_m2 * s->tower.media_depth_m;
    double lost_kg = 0;
    double moist_d = 0;

    if (!isnan(s->tower.stays_moist_d))
        return s->tower.stays_moist_d;
    if (!(s->weather.given || s->sun.given))
        return TL_STAYS_MOIST_D;
    while (moist_d < TL_STAYS_MOIST_D) {
        const double rate_kg_d =
            drying_kg_d(m, t_d + moist_d + STEP_D / 2, wetted_at_m_h, held_kg / TL_STAYS_MOIST_D);
        const double left_kg = held_kg - lost_kg;
        if (rate_kg_d * STEP_D >= left_kg)
            return moist_d + (rate_kg_d > 0 ? left_kg / rate_kg_d : 0);
        lost_kg += rate_kg_d * STEP_D;
        moist_d += STEP_D;
    }
    return TL_STAYS_MOIST_D;
}
