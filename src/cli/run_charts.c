/* Hands a scenario's title, dates, limits and events to the charts. */
#include "run_charts.h"

#include <stdlib.h>
#include <string.h>

#include "event_words.h"
#include "text.h"
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
    struct tl_event_words *words, *fed_words;
    struct tl_chart_event *event, *fed;
    double *meal_d;
};

static void add_events(const struct tl_run_charts *c, struct course *k)
{
    const struct tl_setup *setup = &c->scenario->setup;
    for (size_t i = 0; i < setup->events; i++) {
        const struct tl_event *e = &setup->event[i];
        k->words[i] = tl_event_words(e, c->units);
        say_how_long(&k->words[i], e);
        k->event[i] = (struct tl_chart_event){
            .t_d = e->at_d, .end_d = e->at_d + e->for_d, .text = k->words[i].text};
    }
}

static void add_meals(const struct tl_run_charts *c, struct course *k)
{
    const struct tl_feeding *f = &c->scenario->setup.feeding;
    for (size_t i = 0; i < f->meals; i++)
        k->meal_d[i] = f->meal_s[i] / 86400.0;
    for (size_t i = 0; i < f->log.n; i++) {
        char mass[40];
        tl_display_text(TL_DIM_MASS, c->units, f->log.y[i], 3, mass, sizeof mass);
        tl_format(k->fed_words[i].text, sizeof k->fed_words[i].text, "meal, %s", mass);
        k->fed[i] = (struct tl_chart_event){.t_d = f->log.x[i], .text = k->fed_words[i].text};
    }
}

static bool begin(const struct tl_setup *setup, struct course *k)
{
    k->words = calloc(setup->events + 1, sizeof *k->words);
    k->event = calloc(setup->events + 1, sizeof *k->event);
    k->fed_words = calloc(setup->feeding.log.n + 1, sizeof *k->fed_words);
    k->fed = calloc(setup->feeding.log.n + 1, sizeof *k->fed);
    k->meal_d = calloc(setup->feeding.meals + 1, sizeof *k->meal_d);
    return k->words && k->event && k->fed_words && k->fed && k->meal_d;
}

static void end(struct course *k)
{
    free(k->words);
    free(k->event);
    free(k->fed_words);
    free(k->fed);
    free(k->meal_d);
}

int tl_run_charts(const struct tl_run_charts *c, struct tl_chart_outcome *outcome)
{
    const struct tl_scenario *scenario = c->scenario;
    const struct tl_setup *setup = &scenario->setup;
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct course k = {0};
    int status = TL_E_MEMORY;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!begin(setup, &k))
        goto done;
    add_events(c, &k);
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
        .event = k.event,
        .events = setup->events,
        .limit = limit,
        .limits = tl_chart_limits(&scenario->limits, limit, TL_CHART_LIMITS),
        .starting = setup->tower.biofilm != TL_BIOFILM_MATURE,
        .ready_d = c->ready_d,
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
