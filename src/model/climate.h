/* Everything that depends on the temperature of the loop alone, computed once a temperature. */
#ifndef TOWERLOOP_MODEL_CLIMATE_H
#define TOWERLOOP_MODEL_CLIMATE_H

#include "lanes.h"
#include "towerloop/setup.h"
#include "water_kernel.h"

/* The parameters, in lanes. */
#if TL_WIDE == 1
#define lane_params tl_params
#else
struct lane_params {
#define TL_PARAM_LANES(field, dflt, dim, lo, hi, status, help) real field;
    TL_PARAM_LIST(TL_PARAM_LANES)
#undef TL_PARAM_LANES
};
#endif

/* What the air and the source water bring along: reals only. */
struct tl_surroundings {
    real pressure_atm;
    real source_alk, source_tan, source_cl; /* base units */
    real source_h;                          /* [H+], mol/L */
    real source_o2;                         /* g/m3; NAN: saturated at the loop's temperature */
    real sunny;                             /* 1: with sun; 0 */
};

struct tl_climate {
    real t_degC;
    /* films, 1/d; depths gCOD/m2 */
    real mu[3]; /* A, N, H */
    real decay[3];
    real hydrolysis;
    real depth_a; /* active depth of ammonia oxidisers */
    real depth_n;
    real per_depth_a, per_depth_n; /* 1/depth */
    /* algae, 1/d; 0 without sun */
    real algae_growth, algae_respiration, algae_death;
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
void tl_surroundings_make(const struct tl_setup *s, double pressure_atm,
                          struct tl_surroundings *out);
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

/* Passage through each of the two gut stages, 1/d. */
static inline real lane_gut_rate(const struct lane_params *p, real t_degC)
{
    return p->k_gut * lane_pow(p->theta_gut, t_degC - 20);
}

#if TL_WIDE == 1 /* the library's own, which tests replace when they are linked */
#define lane_o2_saturation tl_o2_saturation
#endif

/* Temperature dependence of every rate and constant. Model document, "Default values" and
 * "Chemistry". */
static inline void lane_climate_at(const struct lane_params *p,
                                   const struct tl_surroundings *around, real t_degC,
                                   struct tl_climate *out)
{
    const real dt = t_degC - 20;
    const real decay = lane_pow(p->theta_decay, dt);

    out->t_degC = t_degC;
    out->mu[0] = p->mu_aob * lane_pow(p->theta_mu_aob, dt);
    out->mu[1] = p->mu_nob * lane_pow(p->theta_mu_nob, dt);
    out->mu[2] = p->mu_het * lane_pow(p->theta_mu_het, dt);
    out->decay[0] = p->b_aob * decay;
    out->decay[1] = p->b_nob * decay;
    out->decay[2] = p->b_het * decay;
    out->hydrolysis = p->k_hydrolysis * lane_pow(p->theta_hydrolysis, dt);
    /* half-order film: the active depth goes with the growth rate to the power -1/2 */
    out->depth_a = p->l_aob * lane_pow(p->theta_mu_aob, -0.5 * dt);
    out->depth_n = p->l_nob * lane_pow(p->theta_mu_nob, -0.5 * dt);
    out->per_depth_a = 1 / out->depth_a;
    out->per_depth_n = 1 / out->depth_n;

    out->algae_growth = out->algae_respiration = out->algae_death = lane_all(0);
    if (lane_any(around->sunny > 0)) {
        const real algae = around->sunny * lane_pow(p->theta_algae, dt);
        out->algae_growth = p->mu_algae * algae;
        out->algae_respiration = p->b_algae * algae;
        out->algae_death = p->death_algae * algae;
    }

    lane_carbonate_constants(t_degC, &out->k);
    out->o2_sat = lane_o2_saturation(t_degC, lane_all(0), around->pressure_atm);
    out->salting_out =
        -lane_log(lane_o2_saturation(t_degC, lane_all(1), around->pressure_atm) / out->o2_sat);
    out->co2_sat = lane_co2_saturation(&out->k, p->co2_in_air, around->pressure_atm);

    const real gas = lane_pow(p->theta_gas, dt);
    out->k_surface = p->k_surface * gas;
    out->aerator_m3_per_g = gas / lane_o2_saturation(lane_all(20), lane_all(0), lane_all(1));

    out->source_tic =
        lane_tic_from_h(&out->k, around->source_alk, around->source_h, around->source_tan);
    out->source_o2 = lane_select(
        lane_nan(around->source_o2),
        out->o2_sat * lane_exp(-out->salting_out * TL_SALINITY_PER_CHLORIDE * around->source_cl),
        around->source_o2);

    out->gut = lane_gut_rate(p, t_degC);
    out->basal_n = p->n_basal * lane_pow(p->theta_basal, dt);
    out->rest_o2 = 24 * p->o2_activity * p->o2_rest * lane_exp(p->o2_rest_temperature * t_degC);
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
