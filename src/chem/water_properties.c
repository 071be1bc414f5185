/* Viscosity, surface tension and diffusivities of fresh water at 1 atm. */
#include "packing_kernel.h"

double tl_viscosity_pa_s(double t_degC)
{
    return lane_viscosity_pa_s(t_degC);
}

double tl_surface_tension_n_m(double t_degC)
{
    return lane_surface_tension_n_m(t_degC);
}

double tl_diffusivity_o2_m2_s(double t_degC)
{
    return lane_diffusivity(TL_DIFFUSIVITY_O2, t_degC, tl_viscosity_pa_s(t_degC));
}

double tl_diffusivity_co2_m2_s(double t_degC)
{
    return lane_diffusivity(TL_DIFFUSIVITY_CO2, t_degC, tl_viscosity_pa_s(t_degC));
}
