/* Hands a scenario's title, dates, limits and events to the charts. */
#include "run_charts.h"

#include <stdlib.h>

#include "event_words.h"
#include "towerloop/status.h"

const char *const tl_run_chart_names[TL_NCHART + 1] = {
#define NAME(id, name) [id] = (name),
    TL_CHART_LIST(NAME)
#undef NAME
};

int tl_run_charts(const struct tl_scenario *scenario, const char *series_csv, const char *folder,
                  enum tl_unit_system units, unsigned formats, const volatile int *interrupted,
                  struct tl_chart_outcome *outcome)
{
    const struct tl_setup *setup = &scenario->setup;
    size_t n = setup->events;
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct tl_event_words *words = calloc(n + 1, sizeof *words);
    struct tl_chart_event *event = calloc(n + 1, sizeof *event);
    int status = TL_E_MEMORY;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!words || !event)
        goto done;

    for (size_t i = 0; i < n; i++) {
        const struct tl_event *e = &setup->event[i];
        words[i] = tl_event_words(e, units);
        event[i] = (struct tl_chart_event){
            .t_d = e->at_d, .end_d = e->at_d + e->for_d, .text = words[i].text};
    }
    const struct tl_chart_options options = {
        .series_csv = series_csv,
        .out_dir = folder,
        .title = scenario->title,
        .start_year = scenario->start.year,
        .start_month = scenario->start.month,
        .start_day = scenario->start.day,
        .units = units,
        .formats = formats,
        .event = event,
        .events = n,
        .limit = limit,
        .limits = tl_chart_limits(&scenario->limits, limit, TL_CHART_LIMITS),
        .interrupted = interrupted,
    };
    status = tl_charts_draw(&options, outcome);

done:
    free(words);
    free(event);
    return status;
}
