/* Oxygen in equilibrium with air, and the pressure of that air. */
#include "towerloop/chem.h"

#include <math.h>

#define KELVIN 273.15

/* U.S. Standard Atmosphere 1976, lowest layer, -500 .. 11 000 m:
 *     p/p0 = (1 - L z/T0)^(g M/(R L)), the elevation taken as geopotential. */
double tl_pressure_atm(double elevation_m)
{
    const double t0_K = 288.15;
    const double lapse_K_m = 0.0065;
    const double g_m_s2 = 9.80665;
    const double air_kg_mol = 0.0289644;
    const double gas_j_mol_K = 8.31432;

    return pow(1.0 - lapse_K_m * elevation_m / t0_K,
               g_m_s2 * air_kg_mol / (gas_j_mol_K * lapse_K_m));
}

/* Benson & Krause 1980, Limnol. Oceanogr. 25:662 (fresh water, 1 atm) and 1984, 29:620 (salinity,
 * pressure), in the form adopted by USGS Technical Memorandum 2011.03.
 * 0-40 degC, 0-40 g/kg, 0.5-1.1 atm. The vapour pressure is that of fresh water. */
double tl_o2_saturation(double t_degC, double salinity_g_kg, double pressure_atm)
{
    const double r = 1.0 / (t_degC + KELVIN);
    const double ln_fresh =
        -139.34411 + r * (1.575701e5 + r * (-6.642308e7 + r * (1.243800e10 + r * -8.621949e11)));
    const double ln_salt = -salinity_g_kg * (0.017674 + r * (-10.754 + r * 2140.7));
    const double vapour_atm = exp(11.8571 + r * (-3840.70 + r * -216961.0));
    /* departure of oxygen from an ideal gas; this polynomial takes degrees Celsius */
    const double theta = 0.000975 + t_degC * (-1.426e-5 + t_degC * 6.436e-8);
    const double pressure_factor = (pressure_atm - vapour_atm) * (1.0 - theta * pressure_atm) /
                                   ((1.0 - vapour_atm) * (1.0 - theta));

    return exp(ln_fresh + ln_salt) * pressure_factor;
}
