/* The charts of a run. */
#ifndef TL_RUN_CHARTS_H
#define TL_RUN_CHARTS_H

#include <stdbool.h>

#include "towerloop/chart.h"
#include "towerloop/scenario.h"

/* What the pictures of a run are called, without their ending; closed by NULL. */
extern const char *const tl_run_chart_names[TL_NCHART + 1];

struct tl_run_charts {
    const struct tl_scenario *scenario;
    const char *series_csv;
    const char *folder; /* for the pictures */
    enum tl_unit_system units;
    unsigned formats; /* TL_CHART_PNG | …; 0: the default */
    double ready_d;   /* when a new filter is ready; NAN: never */
    bool day_given;   /* `day` is what the charts of a day show, else the last full one */
    long day;
    const volatile int *interrupted;
};
/* Draw the charts. Returns what tl_charts_draw() does. */
int tl_run_charts(const struct tl_run_charts *c, struct tl_chart_outcome *outcome);

#endif
