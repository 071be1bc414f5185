/* Wetted area and liquid-side mass transfer of a trickled packing; the water in its voids; weirs. */
#include "packing_kernel.h"

#include <math.h>

/* Morris & Jackson 1953 */
#define LEAST_WETTING_M2_H        0.08
#define LEAST_WETTING_COARSE_M2_H 0.12
#define COARSE_M                  0.075

#define SATURATION_POWER 2.43 /* Saez & Carbonell 1985 */

void tl_onda(const struct tl_packing *p, double q_m_h, double t_degC, struct tl_wetting *out)
{
    lane_onda(p, q_m_h, t_degC, out);
}

/* The exponent of Onda's formula goes with the load to the power 0.1 - 2 x 0.05 + 2 x 0.2. */
double tl_load_that_wets_m_h(const struct tl_packing *p, double wetted_fraction, double t_degC)
{
    struct tl_wetting at_one;

    tl_onda(p, 1, t_degC, &at_one);
    return pow(log1p(-wetted_fraction) / log1p(-at_one.wetted_fraction), 2.5);
}

double tl_least_wetting_load_m_h(const struct tl_packing *p)
{
    return p->area_m2_m3 * (p->size_m > COARSE_M ? LEAST_WETTING_COARSE_M2_H : LEAST_WETTING_M2_H);
}

double tl_bed_surface_m2_m3(double void_fraction, double size_m, double shape)
{
    return 6 * (1 - void_fraction) / (shape * size_m);
}

/* a v + b v2 = rho g */
double tl_most_drained_load_m_h(double area_m2_m3, double void_fraction, double t_degC)
{
    const double solid = 1 - void_fraction;
    const double size_m = 6 * solid / area_m2_m3;
    const double cube = void_fraction * void_fraction * void_fraction;
    const double a = 150 * lane_viscosity_pa_s(t_degC) * solid * solid / (cube * size_m * size_m);
    const double b = 1.75 * TL_RHO_KG_M3 * solid / (cube * size_m);
    const double weight = TL_RHO_KG_M3 * TL_G_M_S2;

    return 3600 * 2 * weight / (a + sqrt(a * a + 4 * b * weight));
}

double tl_water_in_voids(double area_m2_m3, double void_fraction, double q_m_h, double t_degC)
{
    const double most = tl_most_drained_load_m_h(area_m2_m3, void_fraction, t_degC);

    return fmin(1, pow(q_m_h / most, 1 / SATURATION_POWER));
}

double tl_load_that_fills_m_h(double area_m2_m3, double void_fraction, double filled, double t_degC)
{
    return tl_most_drained_load_m_h(area_m2_m3, void_fraction, t_degC) *
           pow(filled, SATURATION_POWER);
}

double tl_weir_ratio(double ab, double drop_m, double t_degC)
{
    return 1 + ab * lane_weir_gain(lane_weir_drop(drop_m), t_degC);
}
