/* Oxygen in equilibrium with air, and the pressure of that air. */
#include "towerloop/chem.h"

#include <math.h>

#include "water_kernel.h"

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

double tl_o2_saturation(double t_degC, double salinity_g_kg, double pressure_atm)
{
    return lane_o2_saturation(t_degC, salinity_g_kg, pressure_atm);
}
