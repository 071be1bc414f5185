/* The carbonate system of fresh water as an ideal solution: constants, pH, carbon dioxide.
 *
 * No activity correction is made. At fixed carbon dioxide and alkalinity the true pH is lower by
 * about 0.03 at an ionic strength of 0.005 mol/L and 0.045 at 0.01 (Davies). */
#include "towerloop/chem.h"

#include <math.h>

#include "towerloop/status.h"

#define KELVIN           273.15
#define MOL_M3_PER_MOL_L 1000.0

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

/* The [H+] at which water alone carries `alk` (mol/L): the root of Kw/h - h = alk. */
static double h_of_water(double kw, double alk)
{
    const double root = sqrt(alk * alk + 4.0 * kw);

    /* of the two equal forms the one that does not subtract */
    return alk > 0.0 ? 2.0 * kw / (root + alk) : 0.5 * (root - alk);
}

/* Newton on f(h) = (alkalinity held at h) - ALK. Every term of f is r/(h + r) with r > 0, or Kw/h,
 * or -h, so f falls steadily and |h f''/f'| <= 2: after a Newton step of relative size e the
 * relative error is at most about e^2. A step below 1e-6 therefore leaves 1e-12.
 *
 * Each evaluation narrows the bracket (lo, hi) by the sign of f. Where Newton would leave it or
 * shrinks too slowly, the geometric mean of the bracket is taken, its open ends first closed by
 * what water alone, and water with every acid fully dissociated, would need. */
int tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3, double tan_gN_m3,
                double *h_mol_L)
{
    const double alk = alk_eq_m3 / MOL_M3_PER_MOL_L;
    const double tic = fmax(tic_mol_m3, 0.0) / MOL_M3_PER_MOL_L;
    const double tan = fmax(tan_gN_m3, 0.0) / (TL_N_G_PER_MOL * MOL_M3_PER_MOL_L);
    const double k1 = k->k1;
    const double k1k2 = k->k1 * k->k2;
    const double kw = k->kw;
    const double ka = k->ka;
    double h = *h_mol_L;
    double lo = 0.0;
    double hi = INFINITY;
    double last = INFINITY; /* size of the step before */

    if (!isfinite(alk_eq_m3 + tic_mol_m3 + tan_gN_m3 + h + k1 + k1k2 + kw + ka))
        return TL_E_SOLVER;
    if (h <= 0.0)
        h = 1e-8;
    for (int i = 0; i < 100; i++) {
        const double per_h = 1.0 / h;
        const double per_d = 1.0 / (h * (h + k1) + k1k2);
        const double per_a = 1.0 / (h + ka);
        const double carbon = tic * k1 * per_d;
        const double nh3 = tan * ka * per_a;
        const double water = kw * per_h;
        const double f = carbon * (h + 2.0 * k->k2) + nh3 + water - h - alk;
        /* -f'; of the carbonate term: tic k1 (h^2 + 4 k2 h + k1 k2)/d^2 */
        const double slope =
            carbon * per_d * (h * (h + 4.0 * k->k2) + k1k2) + nh3 * per_a + water * per_h + 1.0;
        const double step = f / slope;
        double next = h + step;

        if (fabs(step) <= 1e-6 * h) {
            *h_mol_L = next;
            return TL_OK;
        }
        if (f > 0.0)
            lo = h;
        else
            hi = h;
        if (next <= lo || next >= hi || fabs(step) > 0.5 * last) {
            /* a little wide, so that rounding cannot shut the root out */
            lo = fmax(lo, h_of_water(kw, alk) * (1.0 - 1e-6));
            hi = fmin(hi, h_of_water(kw, alk - 2.0 * tic - tan) * (1.0 + 1e-6));
            next = sqrt(lo * hi);
        }
        last = fabs(next - h);
        h = next;
    }
    return TL_E_SOLVER;
}

/* H2CO3* = TIC h^2/(h^2 + K1 h + K1 K2), Stumm & Morgan 1996; any positive h. */
double tl_co2_mol_m3(const struct tl_carbonate *k, double h_mol_L, double tic_mol_m3)
{
    const double h = h_mol_L;

    return tic_mol_m3 * h * h / (h * (h + k->k1) + k->k1 * k->k2);
}

/* The alkalinity balance solved for the inorganic carbon; any positive h. */
double tl_tic_from_h(const struct tl_carbonate *k, double alk_eq_m3, double h_mol_L,
                     double tan_gN_m3)
{
    const double h = h_mol_L;
    const double nh3_mol_m3 = fmax(tan_gN_m3, 0.0) / TL_N_G_PER_MOL * k->ka / (h + k->ka);
    const double water_mol_m3 = (k->kw / h - h) * MOL_M3_PER_MOL_L;
    const double charge_per_tic = k->k1 * (h + 2.0 * k->k2) / (h * (h + k->k1) + k->k1 * k->k2);

    return (alk_eq_m3 - water_mol_m3 - nh3_mol_m3) / charge_per_tic;
}

/* Henry's law, KH after Plummer & Busenberg 1982. The share of dry air is taken of the whole
 * pressure: the water vapour in the air, 2 % of it at 20 degC, is left out. */
double tl_co2_saturation(const struct tl_carbonate *k, double pco2_ppm, double pressure_atm)
{
    return k->kh * pco2_ppm * 1e-6 * pressure_atm * MOL_M3_PER_MOL_L;
}
