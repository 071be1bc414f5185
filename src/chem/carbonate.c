/* The carbonate system of fresh water as an ideal solution: constants, pH, carbon dioxide.
 *
 * No activity correction is made. At fixed carbon dioxide and alkalinity the true pH is lower by
 * about 0.03 at an ionic strength of 0.005 mol/L and 0.045 at 0.01 (Davies). */
#include "towerloop/chem.h"

#include <math.h>

#include "water_kernel.h"

void tl_carbonate_constants(double t_degC, struct tl_carbonate *k)
{
    lane_carbonate_constants(t_degC, k);
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

double tl_tic_from_h(const struct tl_carbonate *k, double alk_eq_m3, double h_mol_L,
                     double tan_gN_m3)
{
    return lane_tic_from_h(k, alk_eq_m3, h_mol_L, tan_gN_m3);
}

double tl_co2_saturation(const struct tl_carbonate *k, double pco2_ppm, double pressure_atm)
{
    return lane_co2_saturation(k, pco2_ppm, pressure_atm);
}
