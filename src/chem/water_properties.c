/* Viscosity, surface tension and diffusivities of fresh water at 1 atm. */
#include "towerloop/chem.h"

#include <math.h>

#define KELVIN       273.15
#define VISCOSITY_20 1.002e-3 /* Pa s */

/* Kestin, Sokolov & Wakeham 1978, J. Phys. Chem. Ref. Data 7:941: -8 .. 150 degC. */
double tl_viscosity_pa_s(double t_degC)
{
    const double x = 20.0 - t_degC;

    return VISCOSITY_20 * pow(10.0, x / (t_degC + 96.0) * (1.2364 + x * (-1.37e-3 + x * 5.7e-6)));
}

/* A straight line near 20 degC (judgement), 0-30 degC: within 0.2 mN/m of IAPWS R1-76. */
double tl_surface_tension_n_m(double t_degC)
{
    return 0.0728 - 0.00015 * (t_degC - 20.0);
}

/* Stokes and Einstein: D goes with T/viscosity. */
static double diffusivity(double at_20, double t_degC)
{
    return at_20 * (t_degC + KELVIN) / (20.0 + KELVIN) * VISCOSITY_20 / tl_viscosity_pa_s(t_degC);
}

/* At 20 degC the CRC Handbook's values, carbon dioxide after Jaehne et al. 1987. The scaling holds
 * for carbon dioxide within 2 % at 10-35 degC and gives 7 % too little at 0 degC. */
double tl_diffusivity_o2_m2_s(double t_degC)
{
    return diffusivity(2.01e-9, t_degC);
}

double tl_diffusivity_co2_m2_s(double t_degC)
{
    return diffusivity(1.67e-9, t_degC);
}
