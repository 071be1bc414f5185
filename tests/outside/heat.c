/* Moist air, open water, sun, and water cooled on media against published values. */
#include "outside.h"

#include <math.h>

#include "towerloop/air.h"
#include "towerloop/heat.h"
#include "towerloop/sun.h"

#define STANDARD_PA 101325.0
#define PSI_PA      6894.757
#define LB_KG       0.45359237
#define BTU_H_W     0.29307107
#define FT2_M2      0.09290304
#define PI          3.14159265358979323846

/* --- moist air ------------------------------------------------------------------------------ */

static double saturation_pressure(const double *in)
{
    return tl_vapour_pressure_pa(in[0]);
}

static double humidity_ratio(const double *in)
{
    return tl_humidity_ratio(in[1] / 100 * tl_vapour_pressure_pa(in[0]), STANDARD_PA);
}

static double enthalpy(const double *in)
{
    return tl_air_enthalpy_j_kg(in[0], humidity_ratio(in));
}

/* The relative humidity, %, at which the wet bulb is the one given. */
static double humidity_of_wet_bulb(const double *in)
{
    double lo = 0;
    double hi = 1;
    for (int i = 0; i < 50; i++) {
        const double mid = 0.5 * (lo + hi);
        if (tl_wet_bulb_degC(in[0], mid, STANDARD_PA) < in[1])
            lo = mid;
        else
            hi = mid;
    }
    return 100 * lo;
}

static double latent_heat(const double *in)
{
    return tl_latent_heat_j_kg(in[0]) / 1000;
}

static double volume_of_dry_air(const double *in)
{
    return 1 / tl_air_density_kg_m3(in[0], 0, STANDARD_PA);
}

/* --- open water ----------------------------------------------------------------------------- */

static double over_ashrae(const double *in)
{
    return 100 * tl_evaporation_w_m2_pa(in[0]) / (0.089 + 0.0782 * in[0]);
}

#define POND_M2     (500 * FT2_M2)
#define POND_DEGC   ((80.0 - 32) / 1.8)
#define POND_AIR    ((15.0 - 32) / 1.8)
#define POND_AIR_PA (0.074 * PSI_PA)

static double pond_evaporation_w(double wind_m_s)
{
    return tl_evaporation_w_m2_pa(wind_m_s) * POND_M2 *
           (tl_vapour_pressure_pa(POND_DEGC) - POND_AIR_PA);
}

static double pond_evaporation_lb_h(const double *in)
{
    return pond_evaporation_w(in[0]) / tl_latent_heat_j_kg(POND_DEGC) * 3600 / LB_KG;
}

static double pond_evaporation_btu_h(const double *in)
{
    return pond_evaporation_w(in[0]) / BTU_H_W;
}

static double pond_convection_btu_h(const double *in)
{
    return tl_convection_w_m2_k(tl_evaporation_w_m2_pa(in[0]), STANDARD_PA) * POND_M2 *
           (POND_DEGC - POND_AIR) / BTU_H_W;
}

/* The source lets the pond radiate to a sky as warm as the air: one wholly overcast. */
static double pond_radiation_btu_h(const double *in)
{
    (void)in;
    return 0.97 * POND_M2 *
           (tl_black_body_w_m2(POND_DEGC) -
            tl_sky_emissivity(POND_AIR, POND_AIR_PA, 1) * tl_black_body_w_m2(POND_AIR)) /
           BTU_H_W;
}

static double pool_evaporation_kg_s(const double *in)
{
    const double w = 0.0115;
    const double air_pa = STANDARD_PA * w / (0.621945 + w);
    return tl_evaporation_w_m2_pa(in[0]) * 500 * (tl_vapour_pressure_pa(25) - air_pa) /
           tl_latent_heat_j_kg(25);
}

static double convection_over_evaporation(const double *in)
{
    (void)in;
    return tl_convection_w_m2_k(1, 1e5);
}

/* --- sun and sky ---------------------------------------------------------------------------- */

#define THIRD_OF_SEPTEMBER 246

static double declination(const double *in)
{
    (void)in;
    return tl_sun_declination_rad(THIRD_OF_SEPTEMBER);
}

static double daylight_h(const double *in)
{
    const double d = tl_sun_declination_rad(THIRD_OF_SEPTEMBER);
    double up = 0;
    for (int i = 0; i < 14400; i++)
        up += tl_sun_sin_height(in[0], d, (i + 0.5) / 14400 - 0.5) > 0;
    return up / 600;
}

static double clear_day_mj_m2(const double *in)
{
    const double d = tl_sun_declination_rad(THIRD_OF_SEPTEMBER);
    double sum = 0;
    for (int i = 0; i < 720; i++) /* the afternoon; the morning is its mirror */
        sum += tl_sun_w_m2(tl_sun_sin_height(in[0], d, (i + 0.5) / 1440), 0);
    return 2 * sum * 60 / 1e6;
}

/* 15 May in Rio de Janeiro, where in May the sun shines 7.1 of 10.9 hours. */
static double mean_day_mj_m2(const double *in)
{
    const double d = tl_sun_declination_rad(135);
    double sum = 0;
    for (int i = 0; i < 720; i++)
        sum += tl_sun_mean_w_m2(tl_sun_sin_height(in[0], d, (i + 0.5) / 1440), 1 - 7.1 / 10.9);
    return 2 * sum * 60 / 1e6;
}

/* Air at 22.1 degC and 2.1 kPa; the sun came through to 0.77 of a clear day's. */
static double net_longwave_mj_m2(const double *in)
{
    const double cloud = pow((1 - 0.77) / 0.75, 1 / 3.4);
    (void)in;
    return tl_black_body_w_m2(22.1) * (1 - tl_sky_emissivity(22.1, 2100, cloud)) * 86400 / 1e6;
}

/* --- a tower -------------------------------------------------------------------------------- */

/* From the bottom up, slice by slice: the air leaves each slice as the water above it meets it. */
#define SLICES 4000

static double cooled_from_degC(const double *in)
{
    const double units = 3.25;
    const double water_per_air = (163.5 - 72) / (45 - 29) * 1000 / 4186;
    struct tl_moist_air air = {30, 0, STANDARD_PA};
    double h = 72e3;
    double t = 29;

    (void)in;
    for (int i = 0; i < SLICES; i++) {
        const struct tl_bed slice = {1, units / SLICES};
        air.humidity_ratio = (h - tl_air_enthalpy_j_kg(air.t_degC, 0)) / (2.501e6 + 1860 * 30.0);
        const struct tl_bed_heat out = tl_bed_cool(&slice, water_per_air, t, &air);
        h += out.heat_w;
        t += out.heat_w / (water_per_air * 4186);
    }
    return t;
}

/* clang-format off */
#define T    {"temperature_c", "", " degC"}
#define WIND {"wind_m_s", "wind ", " m/s"}
static const struct outside_series series[] = {
    {"moist_air.csv", "saturation pressure", "saturation pressure of water vapour", "Pa", {T},
     saturation_pressure, "tl_vapour_pressure_pa"},
    {"moist_air.csv", "humidity ratio", "humidity ratio", "kg/kg",
     {T, {"humidity_pct", "", " %"}}, humidity_ratio, "tl_humidity_ratio"},
    {"moist_air.csv", "enthalpy", "enthalpy of moist air", "J/kg",
     {T, {"humidity_pct", "", " %"}}, enthalpy, "tl_air_enthalpy_j_kg"},
    {"moist_air.csv", "humidity of air by its wet bulb", "relative humidity by the wet bulb", "%",
     {T, {"wet_bulb_c", "wet bulb ", " degC"}}, humidity_of_wet_bulb, "tl_wet_bulb_degC"},
    {"moist_air.csv", "latent heat", "latent heat of water", "kJ/kg", {T}, latent_heat,
     "tl_latent_heat_j_kg"},
    {"moist_air.csv", "volume of dry air", "volume of dry air", "m3/kg", {T}, volume_of_dry_air,
     "tl_air_density_kg_m3"},
    {"pond_heat.csv", "evaporation over ASHRAE's", "evaporation of quiet water over ASHRAE's", "%",
     {WIND}, over_ashrae, "tl_evaporation_w_m2_pa"},
    {"pond_heat.csv", "evaporation of a pond", "evaporation of a pond of 500 ft2 at 80 degF",
     "lb/h", {WIND}, pond_evaporation_lb_h, "tl_evaporation_w_m2_pa"},
    {"pond_heat.csv", "heat by evaporation", "pond of 500 ft2 at 80 degF, evaporation", "Btu/h",
     {WIND}, pond_evaporation_btu_h, "tl_evaporation_w_m2_pa"},
    {"pond_heat.csv", "heat by convection", "the same pond in air at 15 degF, convection", "Btu/h",
     {WIND}, pond_convection_btu_h, "tl_convection_w_m2_k"},
    {"pond_heat.csv", "heat by radiation", "the same pond, radiation to an overcast sky", "Btu/h",
     {{0}}, pond_radiation_btu_h, "tl_sky_emissivity"},
    {"pond_heat.csv", "evaporation of a pool", "evaporation of a pool of 500 m2 at 25 degC",
     "kg/s", {WIND}, pool_evaporation_kg_s, "tl_evaporation_w_m2_pa"},
    {"pond_heat.csv", "convection over evaporation", "convection over evaporation at 1000 mb",
     "Pa/K", {{0}}, convection_over_evaporation, "tl_convection_w_m2_k"},
    {"pond_heat.csv", "declination", "declination of the sun, 3 September", "rad", {{0}},
     declination, "tl_sun_declination_rad"},
    {"pond_heat.csv", "daylight", "daylight, 3 September", "h",
     {{"latitude", "latitude ", " deg"}}, daylight_h, NULL},
    {"pond_heat.csv", "sun on a clear day", "sun on a clear day, 3 September", "MJ/m2",
     {{"latitude", "latitude ", " deg"}}, clear_day_mj_m2, "tl_sun_w_m2"},
    {"pond_heat.csv", "sun in a month", "sun of a mean day in May, Rio de Janeiro", "MJ/m2",
     {{"latitude", "latitude ", " deg"}}, mean_day_mj_m2, "tl_sun_mean_w_m2"},
    {"pond_heat.csv", "net long-wave loss", "net long-wave loss, a day in May", "MJ/m2", {{0}},
     net_longwave_mj_m2, "tl_sky_emissivity"},
    {"pond_heat.csv", "water cooled in a tower", "water that 3.25 transfer units cool to 29 degC",
     "degC", {{0}}, cooled_from_degC, "tl_vapour_pressure_pa"},
};
/* clang-format on */

const struct outside_group outside_heat = {
    "Heat and moist air",
    series,
    sizeof series / sizeof series[0],
};
