/* Friction in a pipe after Darcy and Weisbach. */
#include "towerloop/pipe.h"

#include <math.h>

#include "towerloop/chem.h"

#define SECONDS_A_DAY 86400.0
#define WATER_KG_M3   1000.0
#define LAMINAR_RE    2000.0
#define TURBULENT_RE  4000.0

static double turbulent(double reynolds, double roughness)
{
    const double root = log10(roughness / 3.7 + 5.74 / pow(reynolds, 0.9));
    return 0.25 / (root * root);
}

double tl_friction_factor(double reynolds, double roughness)
{
    if (!(reynolds > 0))
        return 0;
    if (reynolds <= LAMINAR_RE)
        return 64 / reynolds;
    if (reynolds >= TURBULENT_RE)
        return turbulent(reynolds, roughness);
    const double share = (reynolds - LAMINAR_RE) / (TURBULENT_RE - LAMINAR_RE);
    return (1 - share) * 64 / LAMINAR_RE + share * turbulent(TURBULENT_RE, roughness);
}

double tl_pipe_velocity_m_s(const struct tl_pipe *p, double flow_m3_d)
{
    return flow_m3_d / SECONDS_A_DAY / (M_PI / 4 * p->diameter_m * p->diameter_m);
}

double tl_pipe_loss_m(const struct tl_pipe *p, double flow_m3_d, double t_degC)
{
    const double v_m_s = tl_pipe_velocity_m_s(p, flow_m3_d);
    const double viscosity_m2_s = tl_viscosity_pa_s(t_degC) / WATER_KG_M3;
    const double f =
        tl_friction_factor(v_m_s * p->diameter_m / viscosity_m2_s, p->roughness_m / p->diameter_m);
    return (f * p->length_m / p->diameter_m + p->fittings) * v_m_s * v_m_s / (2 * TL_GRAVITY_M_S2);
}
