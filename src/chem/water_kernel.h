/* Chemistry of the water for one lane or many (lanes.h): the functions of chem.h that a running loop
 * asks for again and again. What they give, and where it is from, stands in chem.h. */
#ifndef TL_CHEM_WATER_KERNEL_H
#define TL_CHEM_WATER_KERNEL_H

#include "lanes.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

#define TL_KELVIN           273.15
#define TL_MOL_M3_PER_MOL_L 1000.0

#if TL_WIDE == 1
#define lane_carbonate  tl_carbonate
#define lane_epa_warmth tl_epa_warmth
#else
struct lane_carbonate {
    real k1, k2, kh, kw, ka;
};
struct lane_epa_warmth {
    real acute, chronic;
};
#endif

/* The [H+] at which water alone carries `alk` (mol/L): the root of Kw/h - h = alk. */
static inline real lane_h_of_water(real kw, real alk)
{
    const real root = lane_sqrt(alk * alk + 4.0 * kw);

    /* of the two equal forms the one that does not subtract */
    return lane_select(alk > 0.0, 2.0 * kw / (root + alk), 0.5 * (root - alk));
}

/* Newton on f(h) = (alkalinity held at h) - ALK. Every term of f is r/(h + r) with r > 0, or Kw/h,
 * or -h, so f falls steadily and |h f''/f'| <= 2: after a Newton step of relative size e the
 * relative error is at most about e^2. A step below 1e-6 therefore leaves 1e-12.
 *
 * Each evaluation narrows the bracket (lo, hi) by the sign of f. Where Newton would leave it or
 * shrinks too slowly, the geometric mean of the bracket is taken, its open ends first closed by
 * what water alone, and water with every acid fully dissociated, would need. */
static inline int lane_solve_ph(const struct lane_carbonate *k, real alk_eq_m3, real tic_mol_m3,
                                real tan_gN_m3, real *h_mol_L)
{
    const real alk = alk_eq_m3 / TL_MOL_M3_PER_MOL_L;
    const real tic = tl_positive(tic_mol_m3) / TL_MOL_M3_PER_MOL_L;
    const real tan = tl_positive(tan_gN_m3) / (TL_N_G_PER_MOL * TL_MOL_M3_PER_MOL_L);
    const real k1 = k->k1;
    const real k1k2 = k->k1 * k->k2;
    const real kw = k->kw;
    const real ka = k->ka;
    real h = *h_mol_L;
    real lo = lane_all(0);
    real hi = lane_all(INFINITY);
    real last = lane_all(INFINITY); /* size of the step before */
    real answer = h;
    mask open = lane_every(true);

    if (lane_any(
            lane_not(lane_finite(alk_eq_m3 + tic_mol_m3 + tan_gN_m3 + h + k1 + k1k2 + kw + ka))))
        return TL_E_SOLVER;
    h = lane_select(h <= 0.0, lane_all(1e-8), h);
    for (int i = 0; i < 100; i++) {
        const real per_h = 1.0 / h;
        const real per_d = 1.0 / (h * (h + k1) + k1k2);
        const real per_a = 1.0 / (h + ka);
        const real carbon = tic * k1 * per_d;
        const real nh3 = tan * ka * per_a;
        const real water = kw * per_h;
        const real f = carbon * (h + 2.0 * k->k2) + nh3 + water - h - alk;
        /* -f'; of the carbonate term: tic k1 (h^2 + 4 k2 h + k1 k2)/d^2 */
        const real slope =
            carbon * per_d * (h * (h + 4.0 * k->k2) + k1k2) + nh3 * per_a + water * per_h + 1.0;
        const real step = f / slope;
        real next = h + step;

        const mask small = lane_abs(step) <= 1e-6 * h;
        answer = lane_select(open & small, next, answer);
        open &= lane_not(small);
        if (!lane_any(open)) {
            *h_mol_L = answer;
            return TL_OK;
        }
        lo = lane_select(f > 0.0, h, lo);
        hi = lane_select(f > 0.0, hi, h);
        const mask wild = open & ((next <= lo) | (next >= hi) | (lane_abs(step) > 0.5 * last));
        if (lane_any(wild)) {
            /* a little wide, so that rounding cannot shut the root out */
            const real least = lane_h_of_water(kw, alk) * (1.0 - 1e-6);
            const real most = lane_h_of_water(kw, alk - 2.0 * tic - tan) * (1.0 + 1e-6);
            lo = lane_select(wild, lane_max(lo, least), lo);
            hi = lane_select(wild, lane_min(hi, most), hi);
            next = lane_select(wild, lane_sqrt(lo * hi), next);
        }
        last = lane_abs(next - h);
        h = lane_select(open, next, h);
    }
    return TL_E_SOLVER;
}

/* H2CO3* = TIC h^2/(h^2 + K1 h + K1 K2), Stumm & Morgan 1996; any positive h. */
static inline real lane_co2_mol_m3(const struct lane_carbonate *k, real h, real tic_mol_m3)
{
    return tic_mol_m3 * h * h / (h * (h + k->k1) + k->k1 * k->k2);
}

/* 10^-pk of the two sigmoids of the criteria. */
#define TL_EPA_ACUTE_K   6.251726927756862e-08  /* pk 7.204 */
#define TL_EPA_CHRONIC_K 2.0511621788255667e-08 /* pk 7.688 */

/* The sigmoids in terms of [H+]: x = K/h, so one division instead of a power. */
static inline void lane_epa_ammonia_at(const struct lane_epa_warmth *w, real h, real *acute,
                                       real *chronic)
{
    *acute = w->acute * (0.0114 * TL_EPA_ACUTE_K + 1.6181 * h) / (TL_EPA_ACUTE_K + h);
    *chronic = w->chronic * (0.0278 * TL_EPA_CHRONIC_K + 1.1994 * h) / (TL_EPA_CHRONIC_K + h);
}

/* Emerson, Russo, Lund & Thurston 1975, J. Fish. Res. Board Can. 32:2379: 0-50 degC, fresh water of
 * ionic strength near 0. */
static inline real lane_ammonia_pka(real t_degC)
{
    return 0.09018 + 2729.92 / (t_degC + TL_KELVIN);
}

/* K1, K2, KH: Plummer & Busenberg 1982, Geochim. Cosmochim. Acta 46:1011, 0-90 degC.
 * Kw: Harned & Hamer 1933, J. Am. Chem. Soc. 55:2194, 0-60 degC. Ka: Emerson et al. 1975.
 * The molal scale of the sources is taken as molar: 0.4 % at 30 degC. */
static inline void lane_carbonate_constants(real t_degC, struct lane_carbonate *k)
{
    const real t = t_degC + TL_KELVIN;
    const real log_t = lane_log10(t);
    const real log_k1 =
        -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / (t * t);
    const real log_k2 =
        -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / (t * t);
    const real log_kh =
        108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * log_t + 669365.0 / (t * t);
    const real pkw = 4470.99 / t - 6.0875 + 0.01706 * t;

    k->k1 = lane_exp(M_LN10 * log_k1);
    k->k2 = lane_exp(M_LN10 * log_k2);
    k->kh = lane_exp(M_LN10 * log_kh);
    k->kw = lane_exp(-M_LN10 * pkw);
    k->ka = lane_exp(-M_LN10 * lane_ammonia_pka(t_degC));
}

/* The alkalinity balance solved for the inorganic carbon; any positive h. */
static inline real lane_tic_from_h(const struct lane_carbonate *k, real alk_eq_m3, real h_mol_L,
                                   real tan_gN_m3)
{
    const real h = h_mol_L;
    const real nh3_mol_m3 = tl_positive(tan_gN_m3) / TL_N_G_PER_MOL * k->ka / (h + k->ka);
    const real water_mol_m3 = (k->kw / h - h) * TL_MOL_M3_PER_MOL_L;
    const real charge_per_tic = k->k1 * (h + 2.0 * k->k2) / (h * (h + k->k1) + k->k1 * k->k2);

    return (alk_eq_m3 - water_mol_m3 - nh3_mol_m3) / charge_per_tic;
}

/* Henry's law, KH after Plummer & Busenberg 1982. The share of dry air is taken of the whole
 * pressure: the water vapour in the air, 2 % of it at 20 degC, is left out. */
static inline real lane_co2_saturation(const struct lane_carbonate *k, real pco2_ppm,
                                       real pressure_atm)
{
    return k->kh * pco2_ppm * 1e-6 * pressure_atm * TL_MOL_M3_PER_MOL_L;
}

/* Benson & Krause 1980, Limnol. Oceanogr. 25:662 (fresh water, 1 atm) and 1984, 29:620 (salinity,
 * pressure), in the form adopted by USGS Technical Memorandum 2011.03.
 * 0-40 degC, 0-40 g/kg, 0.5-1.1 atm. The vapour pressure is that of fresh water. */
static inline real lane_o2_saturation(real t_degC, real salinity_g_kg, real pressure_atm)
{
    const real r = 1.0 / (t_degC + TL_KELVIN);
    const real ln_fresh =
        -139.34411 + r * (1.575701e5 + r * (-6.642308e7 + r * (1.243800e10 + r * -8.621949e11)));
    const real ln_salt = -salinity_g_kg * (0.017674 + r * (-10.754 + r * 2140.7));
    const real vapour_atm = lane_exp(11.8571 + r * (-3840.70 + r * -216961.0));
    /* departure of oxygen from an ideal gas; this polynomial takes degrees Celsius */
    const real theta = 0.000975 + t_degC * (-1.426e-5 + t_degC * 6.436e-8);
    const real pressure_factor = (pressure_atm - vapour_atm) * (1.0 - theta * pressure_atm) /
                                 ((1.0 - vapour_atm) * (1.0 - theta));

    return lane_exp(ln_fresh + ln_salt) * pressure_factor;
}

static inline void lane_epa_ammonia_warmth(real t_degC, struct lane_epa_warmth *w)
{
    w->acute = 0.7249 *
               lane_min(lane_all(51.93), 23.12 * lane_pow(lane_all(10.0), 0.036 * (20.0 - t_degC)));
    w->chronic =
        0.9405 * 7.547 * lane_pow(lane_all(10.0), 0.028 * (20.0 - lane_max(t_degC, lane_all(7.0))));
}

#endif
