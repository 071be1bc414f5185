/* Wetted area and liquid-side mass transfer of a trickled packing. */
#include "packing_kernel.h"

void tl_onda(const struct tl_packing *p, double q_m_h, double t_degC, struct tl_wetting *out)
{
    lane_onda(p, q_m_h, t_degC, out);
}
