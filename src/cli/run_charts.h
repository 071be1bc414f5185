/* The charts of a run. */
#ifndef TL_RUN_CHARTS_H
#define TL_RUN_CHARTS_H

#include "towerloop/chart.h"
#include "towerloop/scenario.h"

/* What the pictures of a run are called, without their ending; closed by NULL. */
extern const char *const tl_run_chart_names[TL_NCHART + 1];

/* Draw the charts of `series_csv` into `folder`. Returns what tl_charts_draw() does. */
int tl_run_charts(const struct tl_scenario *scenario, const char *series_csv, const char *folder,
                  enum tl_unit_system units, unsigned formats, const volatile int *interrupted,
                  struct tl_chart_outcome *outcome);

#endif
