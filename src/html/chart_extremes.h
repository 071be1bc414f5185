/* How far a run went, for its charts and their tables. */
#ifndef TL_HTML_CHART_EXTREMES_H
#define TL_HTML_CHART_EXTREMES_H

#include "run_result.h"
#include "towerloop/chart.h"

/* Draws up what the result knows beyond the rows of series.csv. Returns how many. */
size_t tl_chart_extremes_of(const struct tl_run_result *r,
                            struct tl_chart_extreme out[TL_CHART_EXTREMES]);

#endif
