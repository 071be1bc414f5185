/* Moist air: vapour pressure, humidity ratio, enthalpy, density, wet bulb. */
#include "towerloop/air.h"

#include <math.h>

#define WATER_TO_AIR 0.621945 /* molar masses */
#define R_DRY_AIR    287.042  /* J/(kg K) */
#define KELVIN       273.15

double tl_vapour_pressure_pa(double t_degC)
{
    return 611.21 * exp((18.678 - t_degC / 234.5) * (t_degC / (257.14 + t_degC)));
}

double tl_humidity_ratio(double vapour_pa, double pressure_pa)
{
    return WATER_TO_AIR * vapour_pa / (pressure_pa - vapour_pa);
}

double tl_air_enthalpy_j_kg(double t_degC, double humidity_ratio)
{
    return 1006.0 * t_degC + humidity_ratio * (2.501e6 + 1860.0 * t_degC);
}

double tl_air_density_kg_m3(double t_degC, double humidity_ratio, double pressure_pa)
{
    return (1 + humidity_ratio) * pressure_pa /
           (R_DRY_AIR * (t_degC + KELVIN) * (1 + humidity_ratio / WATER_TO_AIR));
}

double tl_latent_heat_j_kg(double t_degC)
{
    return 2.501e6 - 2326.0 * t_degC;
}

double tl_wet_bulb_degC(double t_degC, double humidity, double pressure_pa)
{
    const double w = tl_humidity_ratio(humidity * tl_vapour_pressure_pa(t_degC), pressure_pa);
    double lo = t_degC - 60; /* no air is drier than dry: it would be at most some 30 degC below */
    double hi = t_degC;

    while (hi - lo > 1e-6) {
        const double wet = 0.5 * (lo + hi);
        const double saturated = tl_humidity_ratio(tl_vapour_pressure_pa(wet), pressure_pa);
        const double is = (tl_latent_heat_j_kg(wet) * saturated - 1006.0 * (t_degC - wet)) /
                          (2.501e6 + 1860.0 * t_degC - 4186.0 * wet);
        if (is > w)
            hi = wet;
        else
            lo = wet;
    }
    return 0.5 * (lo + hi);
}
