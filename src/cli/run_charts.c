/* Hands a scenario's title, dates, limits and events to the charts. */
#include "run_charts.h"

#include <math.h>
#include <stdlib.h>

#include "text.h"
#include "towerloop/status.h"

struct words {
    char text[TL_NAME_SIZE + 40];
};

/* A few words for the charts. */
static struct words describe(const struct tl_event *e, enum tl_unit_system units)
{
    static const char *const dose[TL_NDOSE] = {
        [TL_DOSE_BAKING_SODA] = "baking soda",
        [TL_DOSE_SALT] = "salt",
        [TL_DOSE_AMMONIUM_CHLORIDE] = "ammonium chloride",
    };
    struct words w = {""};
#define SAY(...) tl_format(w.text, sizeof w.text, __VA_ARGS__)
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        if (e->value > 0)
            SAY("pump %.3g %s", tl_display_value(TL_DIM_FLOW, units, e->value),
                tl_display_unit(TL_DIM_FLOW, units));
        else
            SAY("pump off");
        break;
    case TL_EVENT_PUMP_ON:
        SAY("pump on");
        break;
    case TL_EVENT_TO_TOWER:
        SAY("%.3g %% to the tower", 100 * e->value);
        break;
    case TL_EVENT_AERATOR:
        if (e->value > 0)
            SAY("aerator %.3g %s", tl_display_value(TL_DIM_MASS_FLOW, units, e->value),
                tl_display_unit(TL_DIM_MASS_FLOW, units));
        else
            SAY("aerator off");
        break;
    case TL_EVENT_AERATOR_ON:
        SAY("aerator on");
        break;
    case TL_EVENT_ADD_FISH:
        SAY("%.6g %s added", e->fish.count, e->fish.name);
        break;
    case TL_EVENT_REMOVE_FISH:
        SAY("%.6g %s removed", e->fish.count, e->fish.name);
        break;
    case TL_EVENT_RATION:
        if (e->ration.kind == TL_RATION_PER_BIOMASS)
            SAY("ration %.3g %%/d", 100 * e->ration.value);
        else if (e->ration.kind == TL_RATION_MASS)
            SAY("ration %.3g %s", tl_display_value(TL_DIM_MASS_FLOW, units, e->ration.value),
                tl_display_unit(TL_DIM_MASS_FLOW, units));
        else
            SAY("ration by temperature");
        break;
    case TL_EVENT_WATER_CHANGE:
        SAY("%.3g %% water changed", 100 * e->value);
        break;
    case TL_EVENT_DOSE:
        SAY("%.3g %s %s", tl_display_value(TL_DIM_MASS, units, e->value),
            tl_display_unit(TL_DIM_MASS, units), dose[e->dose]);
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        SAY("chamber cleaned");
        break;
    case TL_EVENT_CLEAN_TRAY:
        SAY("tray %d rinsed", e->tray);
        break;
    case TL_EVENT_CLEAN_TRAYS:
        SAY("all trays rinsed");
        break;
    case TL_NEVENT:
        break;
    }
#undef SAY
    return w;
}

int tl_run_charts(const struct tl_scenario *scenario, const char *series_csv, const char *folder,
                  enum tl_unit_system units, unsigned formats, const volatile int *interrupted,
                  struct tl_chart_outcome *outcome)
{
    const struct tl_setup *setup = &scenario->setup;
    size_t n = setup->events;
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct words *words = calloc(n + 1, sizeof *words);
    struct tl_chart_event *event = calloc(n + 1, sizeof *event);
    int status = TL_E_MEMORY;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!words || !event)
        goto done;

    for (size_t i = 0; i < n; i++) {
        const struct tl_event *e = &setup->event[i];
        words[i] = describe(e, units);
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
