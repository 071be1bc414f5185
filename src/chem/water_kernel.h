/* Chemistry of the water for one lane or many (lanes.h): the functions of chem.h that a running loop
 * asks for again and again. What they give, and where it is from, stands in chem.h. */
#ifndef TL_CHEM_WATER_KERNEL_H
#define TL_CHEM_WATER_KERNEL_H

#include "lanes.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

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

#endif
