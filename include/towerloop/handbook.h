/* What a handbook would say of a loop: feed load, area from an areal rate, flow from a mass balance,
 * each line with its formula, its numbers and its source. No simulation is in it; the figures of one
 * can be set beside it. */
#ifndef TOWERLOOP_HANDBOOK_H
#define TOWERLOOP_HANDBOOK_H

#include <stddef.h>

#include "towerloop/assess.h"
#include "towerloop/scenario.h"

/* --- the formulas ------------------------------------------------------------------------------- */

/* Ammonia nitrogen from feed, g/d: feed times protein share times 0.092 (Timmons & Ebeling 2013). */
double tl_handbook_tan_g_d(double feed_g_d, double protein);
/* Ammonia taken up by a film, gN/m2/d, at `tan_gN_m3`: 1.859 (S - 0.07)/(S + 1.93) at 27.2 degC (Zhu &
 * Chen 1999, Aquac. Eng. 20), 4.3 % a degree (Zhu & Chen 2002). 0 at or below 0.07. */
double tl_handbook_areal_rate(double tan_gN_m3, double t_degC);
/* The same by the line 0.05368 T - 0.0859, 5 to 22.5 degC (Speece 1973); 0 where that is negative. */
double tl_handbook_areal_line(double t_degC);
/* Resting oxygen use of a fish, g/kg/d: 0.0674 W^-0.193 e^(0.0562 T) mg/g/h; and the oxygen it cannot
 * do without, 1.35 W^-0.107 g/m3 (Yamanaka et al. 2013; crucian carp, 15 to 30 degC). */
double tl_handbook_rest_o2_g_kg_d(double mass_g, double t_degC);
double tl_handbook_critical_o2(double mass_g);
/* Flow that carries `load_g_d` in while its concentration changes by `difference_g_m3`: m3/d.
 * INFINITY where there is no difference. */
double tl_handbook_flow_m3_d(double load_g_d, double difference_g_m3);

/* Growth of suspended heterotrophs at steady state, after Metcalf & Eddy, 5th edition, example 8-3. */
struct tl_handbook_sludge {
    /* given */
    double flow_m3_d, bcod_g_m3, nbvss_g_m3, inert_tss_g_m3, srt_d, t_degC;
    /* follows; rates in g/d */
    double mu_1_d, b_1_d, left_bcod_g_m3;
    double biomass_g_d, debris_g_d, vss_g_d, tss_g_d;
};
void tl_handbook_sludge(struct tl_handbook_sludge *s);

/* Time that suspended ammonia oxidisers have to stay, d, so as not to be washed out (same example):
 * at this ammonia and oxygen, times a factor of safety. INFINITY when they cannot live there. */
double tl_handbook_nitrifier_stay_d(double tan_gN_m3, double o2_g_m3, double t_degC, double safety);
/* Baking soda, g/d, that leaves `left` of the alkalinity in a flow in which nitrification makes
 * `nitrate_gN_m3`; alkalinities in g CaCO3/m3. Negative: none is needed. */
double tl_handbook_baking_soda_g_d(double flow_m3_d, double have, double left,
                                   double nitrate_gN_m3);

/* --- the lines ---------------------------------------------------------------------------------- */

#define TL_HANDBOOK_LINES 24
#define TL_HANDBOOK_TEXT  160

struct tl_handbook_line {
    const char *key;                /* for files: "ammonia_from_feed" */
    const char *name;               /* for people */
    char formula[TL_HANDBOOK_TEXT]; /* with its numbers: "96 g/d x 0.38 x 0.092" */
    double value;                   /* NAN or INFINITY: it cannot be done */
    const char *unit;               /* metric, whatever the reader's system */
    const char *source;             /* "arithmetic" where nothing else is in it */
    double simulated;               /* NAN: there is no such figure */
    const char *why;                /* they differ; "" where nothing stands beside it */
};

struct tl_handbook {
    struct tl_handbook_line line[TL_HANDBOOK_LINES];
    size_t lines;
};

/* The arithmetic for a scenario, with every limit kept by `margin` (0.1: by a tenth), and the figures
 * of its simulated run beside it where `run` is not NULL. Everything at its worst: fish are all there
 * ever are, the temperature is the warmest of the run, the pH the higher of that of the source and the
 * highest of the run, feed the most of any day. */
void tl_handbook_make(const struct tl_scenario *s, const struct tl_assessment *run, double margin,
                      struct tl_handbook *out);

#endif
