/* Everything that depends on the temperature of the loop alone, computed once a temperature. */
#ifndef TOWERLOOP_MODEL_CLIMATE_H
#define TOWERLOOP_MODEL_CLIMATE_H

#include "lanes.h"
#include "towerloop/setup.h"
#include "water_kernel.h"

struct tl_climate {
    real t_degC;
    /* films, 1/d; depths gCOD/m2 */
    real mu[3]; /* A, N, H */
    real decay[3];
    real hydrolysis;
    real depth_a; /* active depth of ammonia oxidisers */
    real depth_n;
    real per_depth_a, per_depth_n; /* 1/depth */
    /* water and gas */
    struct lane_carbonate k;
    real o2_sat;           /* fresh water, g/m3 */
    real salting_out;      /* o2 saturation falls by exp(-salting_out * g/kg) */
    real co2_sat;          /* mol/m3 */
    real k_surface;        /* m/d */
    real aerator_m3_per_g; /* aerator conductance per SOTR, m3/d per g/d */
    real source_tic;       /* mol/m3 */
    real source_o2;        /* g/m3 */
    /* fish */
    real gut;     /* 1/d */
    real basal_n; /* gN/kg/d */
    real rest_o2; /* g/kg/d of a fish of 1 g */
};

#if TL_WIDE == 1
void tl_climate_at(const struct tl_setup *s, double pressure_atm, double t_degC,
                   struct tl_climate *out);

/* Passage through each of the two gut stages, 1/d. */
double tl_gut_rate(const struct tl_params *p, double t_degC);

/* Oxygen saturation of water with its chloride, g/m3. */
double tl_o2_saturation_in(const struct tl_climate *c, const double *water);
#endif

/* g/kg of salt that goes with chloride: the Knudsen relation of sea water. */
#define TL_SALINITY_PER_CHLORIDE 1.80655e-3

static inline real lane_o2_saturation_in(const struct tl_climate *c, const real *water)
{
    return c->o2_sat *
           lane_exp(-c->salting_out * TL_SALINITY_PER_CHLORIDE * tl_positive(water[TL_CL]));
}

/* pH dependence of a guild, 1 at its optimum: Batstone et al. 2002, in terms of [H+] (mol/L).
 * ten_hi = 10^-hi, ten_lo = 10^lo, scale = 1 + 2 * 10^((lo - hi) / 2). */
struct tl_ph_bell {
    real ten_hi, ten_lo, scale;
};
#if TL_WIDE == 1
void tl_ph_bell_make(double lo, double hi, struct tl_ph_bell *b);
#endif
static inline real tl_ph_bell_at(const struct tl_ph_bell *b, real h)
{
    return b->scale / (1 + b->ten_hi / h + b->ten_lo * h);
}

#endif
