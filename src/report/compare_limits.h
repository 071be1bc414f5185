/* Limits on the charts of a comparison: one that moves with the water is followed through all variants, as
 * one line stands for all of them only if it is the same all the time. */
#ifndef TOWERLOOP_REPORT_COMPARE_LIMITS_H
#define TOWERLOOP_REPORT_COMPARE_LIMITS_H

#include <stdbool.h>

#include "compare_chart.h"

struct tl_level {
    const struct tl_chart_limit *limit;
    uint32_t of;      /* as in tl_compare_limit */
    double low, high; /* where it has been; NAN: nowhere */
};

size_t tl_levels_begin(const struct tl_compare_limit *limit, size_t limits,
                       struct tl_level out[TL_COMPARE_LIMITS]);
/* One more moment of the i-th variant. */
void tl_levels_see(struct tl_level *level, size_t n, size_t variant, double temperature_degC,
                   double ph, double chloride_mg_L);
/* Whether three digits say all of it. */
bool tl_level_stays(const struct tl_level *l);

#endif
