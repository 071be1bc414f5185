/* Everything that depends on the temperature of the loop alone, computed once a temperature. */
#ifndef TOWERLOOP_MODEL_CLIMATE_H
#define TOWERLOOP_MODEL_CLIMATE_H

#include "towerloop/chem.h"
#include "towerloop/setup.h"

struct tl_climate {
    double t_degC;
    /* films, 1/d; depths gCOD/m2 */
    double mu[3]; /* A, N, H */
    double decay[3];
    double hydrolysis;
    double depth_a; /* active depth of ammonia oxidisers */
    double depth_n;
    double per_depth_a, per_depth_n; /* 1/depth */
    /* water and gas */
    struct tl_carbonate k;
    double o2_sat;           /* fresh water, g/m3 */
    double salting_out;      /* o2 saturation falls by exp(-salting_out * g/kg) */
    double co2_sat;          /* mol/m3 */
    double k_surface;        /* m/d */
    double aerator_m3_per_g; /* aerator conductance per SOTR, m3/d per g/d */
    double source_tic;       /* mol/m3 */
    double source_o2;        /* g/m3 */
    /* fish */
    double gut;     /* 1/d */
    double basal_n; /* gN/kg/d */
    double rest_o2; /* g/kg/d of a fish of 1 g */
};

void tl_climate_at(const struct tl_setup *s, double pressure_atm, double t_degC,
                   struct tl_climate *out);

/* Passage through each of the two gut stages, 1/d. */
double tl_gut_rate(const struct tl_params *p, double t_degC);

/* g/kg of salt that goes with chloride: the Knudsen relation of sea water. */
#define TL_SALINITY_PER_CHLORIDE 1.80655e-3

/* Oxygen saturation of water with its chloride, g/m3. */
double tl_o2_saturation_in(const struct tl_climate *c, const double *water);

/* pH dependence of a guild, 1 at its optimum: Batstone et al. 2002, in terms of [H+] (mol/L).
 * ten_hi = 10^-hi, ten_lo = 10^lo, scale = 1 + 2 * 10^((lo - hi) / 2). */
struct tl_ph_bell {
    double ten_hi, ten_lo, scale;
};
void tl_ph_bell_make(double lo, double hi, struct tl_ph_bell *b);
static inline double tl_ph_bell_at(const struct tl_ph_bell *b, double h)
{
    return b->scale / (1 + b->ten_hi / h + b->ten_lo * h);
}

#endif
