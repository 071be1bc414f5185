/* Water chemistry and gas transfer as pure functions: doubles in, doubles out, no state.
 *
 * Temperatures are degrees Celsius, concentrations g/m3 (= mg/L) unless the name says otherwise.
 * Each function names its source and the range the source gives; outside it the equation is
 * evaluated all the same and the caller has to warn. */
#ifndef TOWERLOOP_CHEM_H
#define TOWERLOOP_CHEM_H

#include <stdbool.h>

#include "towerloop/api.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TL_N_G_PER_MOL    14.007
#define TL_CACO3_G_PER_EQ 50.04 /* mg/L as CaCO3 per meq/L */

/* --- oxygen ------------------------------------------------------------------------------- */

/* Pressure of the standard atmosphere at an elevation, in atm (101.325 kPa). U.S. Standard
 * Atmosphere 1976, troposphere: valid -500 .. 11 000 m. */
TL_API double tl_pressure_atm(double elevation_m);

/* Oxygen in equilibrium with water-vapour-saturated air, g/m3. Benson & Krause 1980 (fresh water,
 * 1 atm) and 1984 (salinity, pressure): 0-40 degC, 0-40 g/kg, 0.5-1.1 atm. */
TL_API double tl_o2_saturation(double t_degC, double salinity_g_kg, double pressure_atm);

/* --- ammonia and nitrous acid ------------------------------------------------------------- */

/* pKa of ammonium. Emerson et al. 1975: 0-50 degC, fresh water. */
TL_API double tl_ammonia_pka(double t_degC);
/* Share of total ammonia that is un-ionised NH3 (molar, so also as N), 0..1. */
TL_API double tl_nh3_fraction(double t_degC, double ph);
/* Nitrous acid nitrogen (gN/m3) in water holding `no2_gN_m3`. Anthonisen et al. 1976. */
TL_API double tl_hno2(double t_degC, double ph, double no2_gN_m3);

/* --- carbonate system --------------------------------------------------------------------- */

struct tl_carbonate { /* equilibrium constants at one temperature, ideal solution */
    double k1;        /* mol/L; Plummer & Busenberg 1982, 0-90 degC */
    double k2;        /* mol/L; same */
    double kh;        /* mol/(L atm); same */
    double kw;        /* mol2/L2; pKw = 4470.99/T - 6.0875 + 0.01706 T, Harned & Hamer 1933 */
    double ka;        /* mol/L, ammonium; Emerson et al. 1975 */
};

TL_API void tl_carbonate_constants(double t_degC, struct tl_carbonate *k);

/* [H+] in mol/L that satisfies the alkalinity balance
 *     ALK = [HCO3-] + 2 [CO3--] + [OH-] - [H+] + [NH3].
 * `*h_mol_L` is a first guess on entry (any positive value; 1e-8 will do) and the answer on return.
 * Safeguarded Newton, relative tolerance 1e-12. tic and tan below 0 count as 0. Returns TL_OK or
 * TL_E_SOLVER (not a number among the inputs); then *h_mol_L is unchanged. */
TL_API int tl_solve_ph(const struct tl_carbonate *k, double alk_eq_m3, double tic_mol_m3,
                       double tan_gN_m3, double *h_mol_L);

/* Dissolved carbon dioxide (H2CO3*), mol/m3, of water with this [H+] and inorganic carbon. */
TL_API double tl_co2_mol_m3(const struct tl_carbonate *k, double h_mol_L, double tic_mol_m3);

/* Total inorganic carbon (mol/m3) of water with this alkalinity, [H+] and TAN; negative when the
 * three cannot stand together (alkalinity too low for that pH). */
TL_API double tl_tic_from_h(const struct tl_carbonate *k, double alk_eq_m3, double h_mol_L,
                            double tan_gN_m3);

/* Carbon dioxide in equilibrium with air of `pco2_ppm` (mol/m3). */
TL_API double tl_co2_saturation(const struct tl_carbonate *k, double pco2_ppm, double pressure_atm);

/* --- criteria ----------------------------------------------------------------------------- */

/* US EPA 2013 ammonia criteria, EPA 822-R-13-001, in mg TAN/L (as N): pH 6.5-9.0, 0-30 degC. */
TL_API double tl_epa_ammonia_acute(double t_degC, double ph, bool salmonids_present);
TL_API double tl_epa_ammonia_chronic(double t_degC, double ph, bool mussels_present);

/* The same for many values of [H+] at one temperature: salmonids absent, mussels absent. */
struct tl_epa_warmth {
    double acute, chronic;
};
TL_API void tl_epa_ammonia_warmth(double t_degC, struct tl_epa_warmth *w);
TL_API void tl_epa_ammonia_at(const struct tl_epa_warmth *w, double h_mol_L, double *acute,
                              double *chronic);

/* --- properties of water ------------------------------------------------------------------ */

/* Kestin et al. 1978. */
TL_API double tl_viscosity_pa_s(double t_degC);
/* 0.0728 - 0.00015 (t - 20). */
TL_API double tl_surface_tension_n_m(double t_degC);
/* 2.01e-9 at 20 degC for oxygen, 1.67e-9 for carbon dioxide, scaled by T(K)/viscosity. */
TL_API double tl_diffusivity_o2_m2_s(double t_degC);
TL_API double tl_diffusivity_co2_m2_s(double t_degC);

/* --- trickled packing --------------------------------------------------------------------- */

struct tl_packing {
    double area_m2_m3;  /* specific surface */
    double size_m;      /* nominal size */
    double sigma_c_n_m; /* critical surface tension of the material */
};
struct tl_wetting {
    double wetted_fraction; /* a_w/a, 0..1 */
    double kl_o2_m_s;       /* liquid film coefficients */
    double kl_co2_m_s;
};
/* Wetted area and liquid-side mass transfer of a trickled packing at the hydraulic load `q_m_h`
 * (> 0). Onda, Takeuchi & Okumoto 1968, J. Chem. Eng. Japan 1:56. */
TL_API void tl_onda(const struct tl_packing *p, double q_m_h, double t_degC,
                    struct tl_wetting *out);
/* The hydraulic load, m/h, at which Onda's formula wets the share `wetted_fraction` (between 0 and 1). */
TL_API double tl_load_that_wets_m_h(const struct tl_packing *p, double wetted_fraction,
                                    double t_degC);
/* The least hydraulic load, m/h, at which a packing counts as well wetted: 0.08 m2/h times the specific
 * surface, 0.12 for pieces above 75 mm. Morris & Jackson 1953, Absorption Towers (from memory). */
TL_API double tl_least_wetting_load_m_h(const struct tl_packing *p);

/* Specific surface of a bed of solid pieces, m2/m3: 6 (1 - voids)/(shape x size), geometry. `shape` is
 * the sphericity: 1 for spheres, less for anything else. */
TL_API double tl_bed_surface_m2_m3(double void_fraction, double size_m, double shape);
/* The hydraulic load, m/h, that drains through a clean bed whose voids are full of water, by its own
 * weight; what comes beyond it stands on top. Ergun 1952, Chem. Eng. Prog. 48(2):89, solved for the
 * velocity; the size in it is that of spheres of the same surface, 6 (1 - voids)/surface. */
TL_API double tl_most_drained_load_m_h(double area_m2_m3, double void_fraction, double t_degC);
/* Share of the voids that running water takes up at the hydraulic load `q_m_h` (>= 0), at most 1: the
 * relative permeability is the 2.43rd power of the saturation. Saez & Carbonell 1985, AIChE J. 31:52
 * (from memory; water that drains no more is left out, and inertia is taken to follow the same power). */
TL_API double tl_water_in_voids(double area_m2_m3, double void_fraction, double q_m_h,
                                double t_degC);
/* A bed whose voids are fuller than this has no way left for air: judgement. */
#define TL_MOST_VOIDS_FILLED 0.5
/* The hydraulic load, m/h, that fills the voids so far. */
TL_API double tl_load_that_fills_m_h(double area_m2_m3, double void_fraction, double filled,
                                     double t_degC);

/* Oxygen deficit above a weir over that below it, >= 1. Water Research Laboratory 1973, Notes on Water
 * Pollution 61: 1 + 0.38 ab h (1 - 0.11 h)(1 + 0.046 T). `ab`: quality of the water (1.8 clean, 1.0
 * moderately polluted, 0.65 gross) times the structure (1 for a free fall); `drop_m`: h, of which no
 * more than 4.5 m count, where the formula has its top. */
TL_API double tl_weir_ratio(double ab, double drop_m, double t_degC);

#ifdef __cplusplus
}
#endif

#endif
