/* Limits on the charts of a comparison. */
#include "compare_limits.h"

#include <math.h>

#include "plan.h"

#define SAME 0.002 /* of three digits */

size_t tl_levels_begin(const struct tl_chart_limit *limit, size_t limits,
                       struct tl_level out[TL_CHART_LIMITS])
{
    size_t n = 0;
    for (; n < limits && n < TL_CHART_LIMITS; n++) {
        const double value = tl_plan_moves(&limit[n]) ? NAN : limit[n].value;
        out[n] = (struct tl_level){&limit[n], value, value};
    }
    return n;
}

void tl_levels_see(struct tl_level *level, size_t n, double temperature_degC, double ph,
                   double chloride_mg_L)
{
    for (size_t i = 0; i < n; i++) {
        if (!tl_plan_moves(level[i].limit))
            continue;
        const double at = tl_plan_limit_in(level[i].limit, temperature_degC, ph, chloride_mg_L);
        level[i].low = fmin(level[i].low, at);
        level[i].high = fmax(level[i].high, at);
    }
}

bool tl_level_stays(const struct tl_level *l)
{
    return l->high - l->low <= SAME * l->high;
}
