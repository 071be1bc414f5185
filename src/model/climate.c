/* Temperature dependence of every rate and constant. Model document, "Default values" and
 * "Chemistry". */
#include "climate.h"

#include <math.h>

void tl_ph_bell_make(double lo, double hi, struct tl_ph_bell *b)
{
    b->ten_hi = pow(10, -hi);
    b->ten_lo = pow(10, lo);
    b->scale = 1 + 2 * pow(10, 0.5 * (lo - hi));
}

double tl_o2_saturation_in(const struct tl_climate *c, const double *water)
{
    return lane_o2_saturation_in(c, water);
}

double tl_gut_rate(const struct tl_params *p, double t_degC)
{
    return p->k_gut * pow(p->theta_gut, t_degC - 20);
}

void tl_climate_at(const struct tl_setup *s, double pressure_atm, double t_degC,
                   struct tl_climate *out)
{
    const struct tl_params *p = &s->params;
    const double dt = t_degC - 20;
    const double decay = pow(p->theta_decay, dt);

    out->t_degC = t_degC;
    out->mu[0] = p->mu_aob * pow(p->theta_mu_aob, dt);
    out->mu[1] = p->mu_nob * pow(p->theta_mu_nob, dt);
    out->mu[2] = p->mu_het * pow(p->theta_mu_het, dt);
    out->decay[0] = p->b_aob * decay;
    out->decay[1] = p->b_nob * decay;
    out->decay[2] = p->b_het * decay;
    out->hydrolysis = p->k_hydrolysis * pow(p->theta_hydrolysis, dt);
    /* half-order film: the active depth goes with the growth rate to the power -1/2 */
    out->depth_a = p->l_aob * pow(p->theta_mu_aob, -0.5 * dt);
    out->depth_n = p->l_nob * pow(p->theta_mu_nob, -0.5 * dt);
    out->per_depth_a = 1 / out->depth_a;
    out->per_depth_n = 1 / out->depth_n;

    tl_carbonate_constants(t_degC, &out->k);
    out->o2_sat = tl_o2_saturation(t_degC, 0, pressure_atm);
    out->salting_out = -log(tl_o2_saturation(t_degC, 1, pressure_atm) / out->o2_sat);
    out->co2_sat = tl_co2_saturation(&out->k, p->co2_in_air, pressure_atm);

    const double gas = pow(p->theta_gas, dt);
    out->k_surface = p->k_surface * gas;
    out->aerator_m3_per_g = gas / tl_o2_saturation(20, 0, 1);

    const struct tl_source *src = &s->source;
    out->source_tic =
        tl_tic_from_h(&out->k, src->water[TL_ALK], pow(10, -src->ph), src->water[TL_TAN]);
    out->source_o2 =
        src->o2_given
            ? src->water[TL_O2]
            : out->o2_sat * exp(-out->salting_out * TL_SALINITY_PER_CHLORIDE * src->water[TL_CL]);

    out->gut = tl_gut_rate(p, t_degC);
    out->basal_n = p->n_basal * pow(p->theta_basal, dt);
    out->rest_o2 = 24 * p->o2_activity * p->o2_rest * exp(p->o2_rest_temperature * t_degC);
}
