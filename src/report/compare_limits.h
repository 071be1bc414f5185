/* Limits on the charts of a comparison: one that moves with the water is followed through all variants, as
 * one line stands for all of them only if it is the same all the time. */
#ifndef TOWERLOOP_REPORT_COMPARE_LIMITS_H
#define TOWERLOOP_REPORT_COMPARE_LIMITS_H

#include <stdbool.h>

#include "towerloop/chart.h"

struct tl_level {
    const struct tl_chart_limit *limit;
    double low, high; /* where it has been; NAN: nowhere */
};

/* Of limits that all variants share. */
size_t tl_levels_begin(const struct tl_chart_limit *limit, size_t limits,
                       struct tl_level out[TL_CHART_LIMITS]);
/* One more moment of one of the variants. */
void tl_levels_see(struct tl_level *level, size_t n, double temperature_degC, double ph,
                   double chloride_mg_L);
/* Whether three digits say all of it. */
bool tl_level_stays(const struct tl_level *l);

#endif
