/* Wetted area and liquid-side mass transfer of a trickled packing. */
#include "towerloop/chem.h"

#include <math.h>

#define G_M_S2    9.81
#define RHO_KG_M3 998.2 /* water at 20 degC, taken as constant */

/* Onda, Takeuchi & Okumoto 1968, J. Chem. Eng. Japan 1:56, in the form the handbooks of chemical
 * engineering give (from memory). Fitted to rings, saddles and spheres up to 50 mm at liquid loads
 * of some 0.4-43 kg/m2/s; broken rock was not among them, so the wetted share is an estimate. */
void tl_onda(const struct tl_packing *p, double q_m_h, double t_degC, struct tl_wetting *out)
{
    const double a = p->area_m2_m3;
    const double mu = tl_viscosity_pa_s(t_degC);
    const double sigma = tl_surface_tension_n_m(t_degC);
    const double liquid = RHO_KG_M3 * q_m_h / 3600.0; /* kg/m2/s */
    const double re = liquid / (a * mu);
    const double fr = liquid * liquid * a / (RHO_KG_M3 * RHO_KG_M3 * G_M_S2);
    const double we = liquid * liquid / (RHO_KG_M3 * sigma * a);
    const double wetted = 1.0 - exp(-1.45 * pow(p->sigma_c_n_m / sigma, 0.75) * pow(re, 0.1) *
                                    pow(fr, -0.05) * pow(we, 0.2));
    const double film = 0.0051 * pow(liquid / (a * wetted * mu), 2.0 / 3.0) *
                        pow(a * p->size_m, 0.4) * cbrt(mu * G_M_S2 / RHO_KG_M3);
    const double nu = mu / RHO_KG_M3;

    out->wetted_fraction = wetted;
    out->kl_o2_m_s = film / sqrt(nu / tl_diffusivity_o2_m2_s(t_degC));
    out->kl_co2_m_s = film / sqrt(nu / tl_diffusivity_co2_m2_s(t_degC));
}
