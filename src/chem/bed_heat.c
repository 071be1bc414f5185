/* Heat and vapour from water that trickles over media to the air that crosses them. */
#include <math.h>

#include "towerloop/air.h"
#include "towerloop/heat.h"

#define WATER_J_KG_K 4186.0
#define KELVIN       273.15
#define WARMEST_DEGC 60.0 /* of water; the perfect gas has no answer near boiling */
#define STEP_DEGC    0.1  /* over which the slope of the saturation curve is taken */

/* Sutherland's law for air, Pa s. */
static double viscosity_pa_s(double t_degC)
{
    const double k = t_degC + KELVIN;
    return 1.458e-6 * k * sqrt(k) / (k + 110.4);
}

/* Of water vapour in air, m2/s: 0.25 cm2/s at 25 degC and 1 atm. */
static double diffusivity_m2_s(double t_degC, double pressure_pa)
{
    return 2.5e-5 * pow((t_degC + KELVIN) / 298.15, 1.81) * 101325 / pressure_pa;
}

double tl_onda_gas_m_s(double area_m2_m3, double size_m, double air_m_s,
                       const struct tl_moist_air *air)
{
    const double density = tl_air_density_kg_m3(air->t_degC, air->humidity_ratio, air->pressure_pa);
    const double mu = viscosity_pa_s(air->t_degC);
    const double d = diffusivity_m2_s(air->t_degC, air->pressure_pa);
    const double packing = size_m < 0.015 ? 2.0 : 5.23;
    const double re = density * air_m_s / (area_m2_m3 * mu);
    return packing * area_m2_m3 * d * pow(re, 0.7) * cbrt(mu / (density * d)) *
           pow(area_m2_m3 * size_m, -2);
}

static double saturated_j_kg(double t_degC, double pressure_pa, double *humidity_ratio)
{
    *humidity_ratio = tl_humidity_ratio(tl_vapour_pressure_pa(t_degC), pressure_pa);
    return tl_air_enthalpy_j_kg(t_degC, *humidity_ratio);
}

struct tl_bed_heat tl_bed_cool(const struct tl_bed *bed, double water_kg_s, double water_degC,
                               const struct tl_moist_air *air)
{
    struct tl_bed_heat out = {0, 0};
    const double t = fmin(WARMEST_DEGC, fmax(0, water_degC));
    double w, warmer_w;

    if (!(bed->air_kg_s > 0) || !(water_kg_s > 0))
        return out;
    const double share = -expm1(-bed->film_kg_s / bed->air_kg_s);
    const double h = saturated_j_kg(t, air->pressure_pa, &w);
    const double slope =
        (saturated_j_kg(t + STEP_DEGC, air->pressure_pa, &warmer_w) - h) / STEP_DEGC;
    const double most_w =
        bed->air_kg_s * share * (h - tl_air_enthalpy_j_kg(air->t_degC, air->humidity_ratio));
    const double x = bed->air_kg_s * share * slope / (water_kg_s * WATER_J_KG_K);
    const double cooled = x > 1e-9 ? -expm1(-x) / x : 1;
    out.heat_w = most_w * cooled;
    out.vapour_kg_s = bed->air_kg_s * share * (w - air->humidity_ratio) * cooled;
    return out;
}
