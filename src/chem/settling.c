/* What a settling chamber catches: settling.h. */
#include "towerloop/settling.h"

#include <math.h>

double tl_overflow_rate_m_d(double flow_m3_d, double surface_m2)
{
    return surface_m2 > 0 ? flow_m3_d / surface_m2 : INFINITY;
}

double tl_settled_share_mixed(double v_m_d, double overflow_m_d)
{
    return v_m_d > 0 ? 1 / (1 + overflow_m_d / v_m_d) : 0;
}

double tl_settled_share_ideal(double v_m_d, double overflow_m_d)
{
    return v_m_d < overflow_m_d ? v_m_d / overflow_m_d : 1;
}
