/* Hands a scenario's title, dates, limits and events to the charts. */
#include "run_charts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chart_extremes.h"
#include "text.h"
#include "towerloop/inlet.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"

const char *const tl_run_chart_names[TL_NCHART + 1] = {
#define NAME(id, name) [id] = (name),
    TL_CHART_LIST(NAME)
#undef NAME
};

/* "pump off, 8 h" */
static void say_how_long(struct tl_event_words *w, const struct tl_event *e)
{
    const size_t n = strlen(w->text);
    const double hours = 24 * e->for_d;
    if (!(e->for_d > 0) || e->kind == TL_EVENT_DEAD_FISH)
        return;
    tl_format(w->text + n, sizeof w->text - n, ", %.3g %s",
              hours < 1    ? 60 * hours
              : hours < 48 ? hours
                           : e->for_d,
              hours < 1    ? "min"
              : hours < 48 ? "h"
                           : "d");
}

/* All that is passed on for one drawing, and freed after it. */
struct course {
    struct tl_run_events events;
    struct tl_event_words *fed_words;
    struct tl_chart_event *fed;
    double *meal_d;
};

static enum tl_chart_weight weight_of(const struct tl_event *e, const struct tl_setup *s)
{
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        return e->value < s->pump_flow_m3_d ? TL_CHART_OUTAGE : TL_CHART_UPKEEP;
    case TL_EVENT_PUMPS_RUNNING:
        return e->value < s->pump.count ? TL_CHART_OUTAGE : TL_CHART_UPKEEP;
    case TL_EVENT_TO_TOWER:
        return e->value < s->to_tower ? TL_CHART_OUTAGE : TL_CHART_UPKEEP;
    case TL_EVENT_AERATOR:
        return e->value < s->aerator_g_d ? TL_CHART_OUTAGE : TL_CHART_UPKEEP;
    case TL_EVENT_HEATER_OFF:
        return TL_CHART_OUTAGE;
    case TL_EVENT_KNOCK_OUT:
    case TL_EVENT_DEAD_FISH:
        return TL_CHART_HARM;
    case TL_EVENT_CLEAN_TRAY:
    case TL_EVENT_CLEAN_TRAYS:
        return e->tap_water ? TL_CHART_HARM : TL_CHART_UPKEEP;
    case TL_EVENT_ADD_FISH:
    case TL_EVENT_REMOVE_FISH:
    case TL_EVENT_RATION:
        return TL_CHART_STOCK;
    case TL_EVENT_DOSE:
        return tl_dose_is_medicine(e->dose) ? TL_CHART_HARM : TL_CHART_DOSE;
    default:
        return TL_CHART_UPKEEP;
    }
}

/* Chlorine that fish or film feel comes in with it. */
static bool is_untreated(const struct tl_scenario *s, const struct tl_inlet *in)
{
    return tl_inlet_untreated(in) &&
           !(s->setup.source.water[TL_HOCL] <= s->limits.chlorine.caution);
}

static void add_events(struct tl_run_events *k, enum tl_unit_system units)
{
    const struct tl_setup *setup = &k->scenario->setup;
    for (size_t i = 0; i < setup->events; i++) {
        const struct tl_event *e = &setup->event[i];
        struct tl_event_words *w = &k->words[k->events];
        enum tl_chart_weight weight = weight_of(e, setup);
        *w = tl_event_words(e, units);
        say_how_long(w, e);
        if (tl_event_lets_in(e)) {
            const struct tl_inlet in = tl_inlet_at(setup, e->at_d);
            if (is_untreated(k->scenario, &in)) {
                const size_t n = strlen(w->text);
                tl_format(w->text + n, sizeof w->text - n, ", untreated");
                weight = TL_CHART_HARM;
            }
        }
        k->event[k->events++] = (struct tl_chart_event){
            .t_d = e->at_d, .end_d = e->at_d + e->for_d, .text = w->text, .weight = weight};
    }
}

/* Of the plan of changes; an event says it itself. */
static void add_untreated(void *arg, const struct tl_inlet *in)
{
    struct tl_run_events *k = arg;
    const struct tl_setup *setup = &k->scenario->setup;
    if (!is_untreated(k->scenario, in))
        return;
    for (size_t i = 0; i < setup->events; i++)
        if (tl_event_lets_in(&setup->event[i]) &&
            fabs(setup->event[i].at_d - in->t_d) < TL_DOSE_SOON_D)
            return;
    if (k->events == k->room)
        return;
    struct tl_event_words *w = &k->words[k->events];
    if (in->tank_m3 > 0)
        tl_format(w->text, sizeof w->text, "%.3g %% water changed, untreated",
                  100 * in->tank_m3 / setup->tank.volume_m3);
    else
        tl_format(w->text, sizeof w->text, "chamber refilled, untreated");
    k->event[k->events++] =
        (struct tl_chart_event){.t_d = in->t_d, .text = w->text, .weight = TL_CHART_HARM};
}

static void count_inlet(void *arg, const struct tl_inlet *in)
{
    size_t *n = arg;
    (void)in;
    (*n)++;
}

int tl_run_events_list(const struct tl_scenario *scenario, enum tl_unit_system units,
                       struct tl_run_events *out)
{
    const struct tl_setup *setup = &scenario->setup;
    *out = (struct tl_run_events){.room = setup->events, .scenario = scenario};
    tl_inlets(setup, count_inlet, &out->room);
    out->words = calloc(out->room + 1, sizeof *out->words);
    out->event = calloc(out->room + 1, sizeof *out->event);
    if (!out->words || !out->event)
        return TL_E_MEMORY;
    add_events(out, units);
    tl_inlets(setup, add_untreated, out);
    return TL_OK;
}

void tl_run_events_free(struct tl_run_events *e)
{
    free(e->words);
    free(e->event);
}

static void add_meals(const struct tl_run_charts *c, struct course *k)
{
    const struct tl_feeding *f = &c->scenario->setup.feeding;
    for (size_t i = 0; i < f->meals; i++)
        k->meal_d[i] = f->meal_s[i] / 86400.0;
    for (size_t i = 0; i < f->log.n; i++) {
        char mass[40];
        tl_display_text(TL_DIM_MASS, c->units, f->appetite * f->log.y[i], 3, mass, sizeof mass);
        tl_format(k->fed_words[i].text, sizeof k->fed_words[i].text, "meal, %s", mass);
        k->fed[i] = (struct tl_chart_event){.t_d = f->log.x[i], .text = k->fed_words[i].text};
    }
}

static bool begin(const struct tl_setup *setup, struct course *k)
{
    k->fed_words = calloc(setup->feeding.log.n + 1, sizeof *k->fed_words);
    k->fed = calloc(setup->feeding.log.n + 1, sizeof *k->fed);
    k->meal_d = calloc(setup->feeding.meals + 1, sizeof *k->meal_d);
    return k->fed_words && k->fed && k->meal_d;
}

static void end(struct course *k)
{
    tl_run_events_free(&k->events);
    free(k->fed_words);
    free(k->fed);
    free(k->meal_d);
}

int tl_run_charts(const struct tl_run_charts *c, struct tl_chart_outcome *outcome)
{
    const struct tl_scenario *scenario = c->scenario;
    const struct tl_setup *setup = &scenario->setup;
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct tl_chart_extreme extreme[TL_CHART_EXTREMES];
    struct course k = {.meal_d = NULL};
    int status = TL_E_MEMORY;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (tl_run_events_list(scenario, c->units, &k.events) || !begin(setup, &k))
        goto done;
    add_meals(c, &k);
    const struct tl_chart_options options = {
        .series_csv = c->series_csv,
        .out_dir = c->folder,
        .title = scenario->title,
        .start_year = scenario->start.year,
        .start_month = scenario->start.month,
        .start_day = scenario->start.day,
        .units = c->units,
        .formats = c->formats,
        .event = k.events.event,
        .events = k.events.events,
        .limit = limit,
        .limits = tl_chart_limits(&scenario->limits, limit, TL_CHART_LIMITS),
        .starting = setup->tower.biofilm != TL_BIOFILM_MATURE,
        .extreme = extreme,
        .extremes = c->result ? tl_chart_extremes_of(c->result, extreme) : 0,
        .ready_d = c->result ? c->result->filter_ready_d : NAN,
        .ready_tan_mgN_L = scenario->limits.ready_tan,
        .ready_no2_mgN_L = scenario->limits.ready_no2,
        .day_given = c->day_given,
        .day = c->day,
        .meal_d = k.meal_d,
        .meals = setup->feeding.meals,
        .fed = k.fed,
        .feds = setup->feeding.log.n,
        .interrupted = c->interrupted,
    };
    status = tl_charts_draw(&options, outcome);

done:
    end(&k);
    return status;
}
