/* Limits on the charts of a comparison. */
#include "compare_limits.h"

#include <math.h>

#include "plan.h"

#define SAME 0.002 /* of three digits */

size_t tl_levels_begin(const struct tl_compare_limit *limit, size_t limits,
                       struct tl_level out[TL_COMPARE_LIMITS])
{
    size_t n = 0;
    for (; n < limits && n < TL_COMPARE_LIMITS; n++) {
        const struct tl_chart_limit *l = &limit[n].limit;
        const double value = tl_plan_moves(l) ? NAN : l->value;
        out[n] = (struct tl_level){l, limit[n].of, value, value};
    }
    return n;
}

void tl_levels_see(struct tl_level *level, size_t n, size_t variant, double temperature_degC,
                   double ph, double chloride_mg_L)
{
    for (size_t i = 0; i < n; i++) {
        if (!tl_plan_moves(level[i].limit) || !(level[i].of >> variant & 1))
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
