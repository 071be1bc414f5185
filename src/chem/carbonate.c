/* The carbonate system of fresh water as an ideal solution: constants, pH, carbon dioxide.
 *
 * No activity correction is made. At fixed carbon dioxide and alkalinity the true pH is lower by
 * about 0.03 at an ionic strength of 0.005 mol/L and 0.045 at 0.01 (Davies). */
#include "towerloop/chem.h"

#include <math.h>

#include "water_kernel.h"

#define KELVIN 273.15

/* K1, K2, KH: Plummer & Busenberg 1982, Geochim. Cosmochim. Acta 46:1011, 0-90 degC.
 * Kw: Harned & Hamer 1933, J. Am. Chem. Soc. 55:2194, 0-60 degC. Ka: Emerson et al. 1975.
 * The molal scale of the sources is taken as molar: 0.4 % at 30 degC. */
void tl_carbonate_constants(double t_degC, struct tl_carbonate *k)
{
    const double t = t_degC + KELVIN;
    const double log_t = log10(t);
    const double log_k1 =
        -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / (t * t);
    const double log_k2 =
        -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / (t * t);
    const double log_kh =
        108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * log_t + 669365.0 / (t * t);
    const double pkw = 4470.99 / t - 6.0875 + 0.01706 * t;

    k->k1 = exp(M_LN10 * log_k1);
    k->k2 = exp(M_LN10 * log_k2);
    k->kh = exp(M_LN10 * log_kh);
    k->kw = exp(-M_LN10 * pkw);
    k->ka = exp(-M_LN10 * tl_ammonia_pka(t_degC));
}

int tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3, double tan_gN_m3,
                double *h_mol_L)
{
    return lane_solve_ph(k, alk_eq_m3, tic_mol_m3, tan_gN_m3, h_mol_L);
}

double tl_co2_mol_m3(const struct tl_carbonate *k, double h_mol_L, double tic_mol_m3)
{
    return lane_co2_mol_m3(k, h_mol_L, tic_mol_m3);
}

/* The alkalinity balance solved for the inorganic carbon; any positive h. */
double tl_tic_from_h(const struct tl_carbonate *k, double alk_eq_m3, double h_mol_L,
                     double tan_gN_m3)
{
    const double h = h_mol_L;
    const double nh3_mol_m3 = fmax(tan_gN_m3, 0.0) / TL_N_G_PER_MOL * k->ka / (h + k->ka);
    const double water_mol_m3 = (k->kw / h - h) * TL_MOL_M3_PER_MOL_L;
    const double charge_per_tic = k->k1 * (h + 2.0 * k->k2) / (h * (h + k->k1) + k->k1 * k->k2);

    return (alk_eq_m3 - water_mol_m3 - nh3_mol_m3) / charge_per_tic;
}

/* Henry's law, KH after Plummer & Busenberg 1982. The share of dry air is taken of the whole
 * pressure: the water vapour in the air, 2 % of it at 20 degC, is left out. */
double tl_co2_saturation(const struct tl_carbonate *k, double pco2_ppm, double pressure_atm)
{
    return k->kh * pco2_ppm * 1e-6 * pressure_atm * TL_MOL_M3_PER_MOL_L;
}
