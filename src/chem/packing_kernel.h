/* Properties of fresh water at 1 atm, and what a trickled packing makes of them, for one lane or many
 * (lanes.h); see chem.h. */
#ifndef TL_CHEM_PACKING_KERNEL_H
#define TL_CHEM_PACKING_KERNEL_H

#include "water_kernel.h"

#define TL_G_M_S2       9.81
#define TL_RHO_KG_M3    998.2    /* water at 20 degC, taken as constant */
#define TL_VISCOSITY_20 1.002e-3 /* Pa s */

/* At 20 degC, m2/s: the CRC Handbook's values, carbon dioxide after Jaehne et al. 1987. */
#define TL_DIFFUSIVITY_O2  2.01e-9
#define TL_DIFFUSIVITY_CO2 1.67e-9

#if TL_WIDE == 1
#define lane_packing tl_packing
#define lane_wetting tl_wetting
#else
struct lane_packing {
    real area_m2_m3, size_m, sigma_c_n_m;
};
struct lane_wetting {
    real wetted_fraction, kl_o2_m_s, kl_co2_m_s;
};
#endif

/* Kestin, Sokolov & Wakeham 1978, J. Phys. Chem. Ref. Data 7:941: -8 .. 150 degC. */
static inline real lane_viscosity_pa_s(real t_degC)
{
    const real x = 20.0 - t_degC;

    return TL_VISCOSITY_20 *
           lane_pow(lane_all(10.0), x / (t_degC + 96.0) * (1.2364 + x * (-1.37e-3 + x * 5.7e-6)));
}

/* A straight line near 20 degC (judgement), 0-30 degC: within 0.2 mN/m of IAPWS R1-76. */
static inline real lane_surface_tension_n_m(real t_degC)
{
    return 0.0728 - 0.00015 * (t_degC - 20.0);
}

/* Stokes and Einstein: D goes with T/viscosity. For carbon dioxide within 2 % at 10-35 degC; 7 % too
 * little at 0 degC. */
static inline real lane_diffusivity(double at_20, real t_degC, real viscosity_pa_s)
{
    return at_20 * (t_degC + TL_KELVIN) / (20.0 + TL_KELVIN) * TL_VISCOSITY_20 / viscosity_pa_s;
}

/* What of a drop counts in the formula for weirs of the Water Research Laboratory 1973, m: h (1 - 0.11 h),
 * which has its top at 4.5 m. */
static inline double lane_weir_drop(double drop_m)
{
    const double h = drop_m < 0.5 / 0.11 ? drop_m : 0.5 / 0.11;

    return h * (1 - 0.11 * h);
}

/* Deficit ratio of such a weir less 1, for a quality and structure ab of 1. */
static inline real lane_weir_gain(real counted_drop_m, real t_degC)
{
    return 0.38 * counted_drop_m * (1.0 + 0.046 * t_degC);
}

/* Onda, Takeuchi & Okumoto 1968, J. Chem. Eng. Japan 1:56, in the form the handbooks of chemical
 * engineering give (from memory). Fitted to rings, saddles and spheres up to 50 mm at liquid loads
 * of some 0.4-43 kg/m2/s; broken rock was not among them, so the wetted share is an estimate. */
static inline void lane_onda(const struct lane_packing *p, real q_m_h, real t_degC,
                             struct lane_wetting *out)
{
    const real a = p->area_m2_m3;
    const real mu = lane_viscosity_pa_s(t_degC);
    const real sigma = lane_surface_tension_n_m(t_degC);
    const real liquid = TL_RHO_KG_M3 * q_m_h / 3600.0; /* kg/m2/s */
    const real re = liquid / (a * mu);
    const real fr = liquid * liquid * a / (TL_RHO_KG_M3 * TL_RHO_KG_M3 * TL_G_M_S2);
    const real we = liquid * liquid / (TL_RHO_KG_M3 * sigma * a);
    const real wetted = 1.0 - lane_exp(-1.45 * lane_pow(p->sigma_c_n_m / sigma, lane_all(0.75)) *
                                       lane_pow(re, lane_all(0.1)) * lane_pow(fr, lane_all(-0.05)) *
                                       lane_pow(we, lane_all(0.2)));
    const real film = 0.0051 * lane_pow(liquid / (a * wetted * mu), lane_all(2.0 / 3.0)) *
                      lane_pow(a * p->size_m, lane_all(0.4)) *
                      lane_cbrt(mu * TL_G_M_S2 / TL_RHO_KG_M3);
    const real nu = mu / TL_RHO_KG_M3;

    out->wetted_fraction = wetted;
    out->kl_o2_m_s = film / lane_sqrt(nu / lane_diffusivity(TL_DIFFUSIVITY_O2, t_degC, mu));
    out->kl_co2_m_s = film / lane_sqrt(nu / lane_diffusivity(TL_DIFFUSIVITY_CO2, t_degC, mu));
}

#endif
