/* The charts of a run. */
#ifndef TL_RUN_CHARTS_H
#define TL_RUN_CHARTS_H

#include <stdbool.h>

#include "event_words.h"
#include "run_result.h"
#include "towerloop/chart.h"
#include "towerloop/scenario.h"

/* What the pictures of a run are called, without their ending; closed by NULL. */
extern const char *const tl_run_chart_names[TL_NCHART + 1];

struct tl_run_charts {
    const struct tl_scenario *scenario;
    const char *series_csv;
    const char *folder; /* for the pictures */
    enum tl_unit_system units;
    unsigned formats;                   /* TL_CHART_PNG | …; 0: the default */
    const struct tl_run_result *result; /* of the run; NULL: not known */
    bool day_given; /* `day` is what the charts of a day show, else the last full one */
    long day;
    const volatile int *interrupted;
};
/* The events of a scenario as charts mark them, untreated water with them. */
struct tl_run_events {
    struct tl_chart_event *event; /* their texts lie in `words` */
    size_t events, room;
    struct tl_event_words *words;
    const struct tl_scenario *scenario;
};
/* TL_OK or TL_E_MEMORY. Free in any case. */
int tl_run_events_list(const struct tl_scenario *scenario, enum tl_unit_system units,
                       struct tl_run_events *out);
void tl_run_events_free(struct tl_run_events *e);

/* Draw the charts. Returns what tl_charts_draw() does. */
int tl_run_charts(const struct tl_run_charts *c, struct tl_chart_outcome *outcome);

#endif
