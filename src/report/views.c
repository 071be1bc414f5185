/* The events of the charts that name more than the run's own: phases of a start-up, meals of a day. */
#include "views.h"

#include <math.h>
#include <stdlib.h>

#include "text.h"
#include "towerloop/status.h"

/* Room for `more` events beside those of the run. */
static int begin(struct tl_view *v, const struct tl_chart_options *o, size_t more)
{
    *v = (struct tl_view){.o = *o};
    v->event = calloc(o->events + more + 1, sizeof *v->event);
    v->text = calloc(more + 1, sizeof *v->text);
    v->o.event = v->event;
    v->o.events = 0;
    return v->event && v->text ? TL_OK : TL_E_MEMORY;
}

void tl_view_free(struct tl_view *v)
{
    free(v->event);
    free(v->text);
    *v = (struct tl_view){0};
}

static void add(struct tl_view *v, double t_d, double end_d, const char *text,
                enum tl_chart_weight weight)
{
    v->event[v->o.events++] = (struct tl_chart_event){t_d, end_d, text, weight};
}

/* --- the start-up -------------------------------------------------------------------------------- */

double tl_startup_until_d(const struct tl_chart_options *o)
{
    return isnan(o->ready_d) ? INFINITY : fmax(1.5 * o->ready_d, o->ready_d + 14);
}

/* A peak, and the phase that it begins ("": none). */
static void add_peak(struct tl_view *v, size_t i, const char *of, const struct tl_trace *trace,
                     double until_d, const char *phase)
{
    char value[16];
    tl_format(value, sizeof value, trace->highest < 9.95 ? "%.2g" : "%.0f", trace->highest);
    tl_format(v->text[i].text, sizeof v->text[i].text, "%s peak, %s mg/L%s%s", of, value,
              *phase ? ": " : "", phase);
    add(v, trace->highest_t, until_d, v->text[i].text, TL_CHART_PHASE);
}

static bool has_values(const struct tl_trace *trace)
{
    return trace && trace->lowest <= trace->highest;
}

/* Does first ammonia have its peak, then nitrite, and both before the end? */
static bool peaks_in_order(const struct tl_drawing *run, const struct tl_trace *tan,
                           const struct tl_trace *no2)
{
    const double over_d = isnan(run->o->ready_d) ? run->to_d : run->o->ready_d;
    return run->from_d < tan->highest_t && tan->highest_t < no2->highest_t &&
           no2->highest_t < over_d;
}

size_t tl_startup_phases(const struct tl_drawing *startup, struct tl_phase phase[TL_PHASES])
{
    const struct tl_trace *tan = tl_drawing_trace(startup, "tank_tan_mgN_L");
    const struct tl_trace *no2 = tl_drawing_trace(startup, "tank_no2_mgN_L");
    const double ready_d = startup->o->ready_d;
    size_t n = 0;
    if (!has_values(tan) || !has_values(no2))
        return 0;
    if (peaks_in_order(startup, tan, no2)) {
        phase[n++] = (struct tl_phase){startup->from_d, "ammonia builds up"};
        phase[n++] = (struct tl_phase){tan->highest_t, "nitrite builds up"};
        phase[n++] = (struct tl_phase){no2->highest_t, "nitrite falls"};
    }
    phase[n++] = isnan(ready_d)
                     ? (struct tl_phase){startup->to_d, "not ready by the end of this run"}
                     : (struct tl_phase){ready_d, "filter ready"};
    return n;
}

static void add_phases(struct tl_view *v, const struct tl_drawing *run)
{
    const struct tl_trace *tan = tl_drawing_trace(run, "tank_tan_mgN_L");
    const struct tl_trace *no2 = tl_drawing_trace(run, "tank_no2_mgN_L");
    const double ready_d = run->o->ready_d;
    if (!has_values(tan) || !has_values(no2))
        return;
    const bool in_order = peaks_in_order(run, tan, no2);
    if (in_order)
        add(v, run->from_d, 0, "ammonia builds up", TL_CHART_PHASE);
    /* the middle phase is shaded */
    add_peak(v, 0, "ammonia", tan, in_order ? no2->highest_t : 0,
             in_order ? "nitrite builds up" : "");
    add_peak(v, 1, "nitrite", no2, 0, in_order ? "it falls" : "");
    if (isnan(ready_d)) {
        add(v, run->to_d, 0, "not ready by the end of this run", TL_CHART_PHASE);
    } else {
        if (ready_d > run->from_d)
            tl_format(v->text[2].text, sizeof v->text[2].text, "filter ready, day %.0f",
                      floor(ready_d));
        else
            tl_format(v->text[2].text, sizeof v->text[2].text, "filter ready from the start");
        add(v, ready_d, 0, v->text[2].text, TL_CHART_PHASE);
    }
}

int tl_view_startup(struct tl_drawing *startup, struct tl_view *v)
{
    const struct tl_chart_options *o = startup->o;
    if (begin(v, o, TL_PHASES) != TL_OK)
        return TL_E_MEMORY;
    add_phases(v, startup);
    for (size_t i = 0; i < o->events; i++)
        v->event[v->o.events++] = o->event[i];
    v->o.limits = 0;
    while (v->o.limits < o->limits && v->o.limits < TL_CHART_LIMITS) {
        v->limit[v->o.limits] = o->limit[v->o.limits];
        v->o.limits++;
    }
    v->limit[v->o.limits++] = (struct tl_chart_limit){.quantity = TL_CHART_OF_TAN,
                                                      .level = TL_CHART_READY,
                                                      .side = TL_CHART_BELOW,
                                                      .value = o->ready_tan_mgN_L,
                                                      .text = "ready: ammonia"};
    v->limit[v->o.limits++] = (struct tl_chart_limit){.quantity = TL_CHART_OF_NO2,
                                                      .level = TL_CHART_READY,
                                                      .side = TL_CHART_BELOW,
                                                      .value = o->ready_no2_mgN_L,
                                                      .text = "ready: nitrite"};
    v->o.limit = v->limit;
    startup->o = &v->o;
    return tl_drawing_lay_out(startup);
}

/* --- a day --------------------------------------------------------------------------------------- */

/* What the curve has at a moment or last had before it. */
static double value_at(const struct tl_trace *trace, double t)
{
    double value = NAN;
    for (size_t i = 0; trace && i < trace->points && (i == 0 || trace->point[i].t <= t + 1e-9); i++)
        if (isfinite(trace->point[i].value))
            value = trace->point[i].value;
    return value;
}

/* The meals of the ration, each its share of what is fed that day. */
static void add_meals(struct tl_view *v, const struct tl_drawing *day)
{
    const struct tl_chart_options *o = day->o;
    const struct tl_trace *feed = tl_drawing_trace(day, "feed_g_d");
    for (size_t i = 0; i < o->meals && o->feds == 0; i++) {
        const double t_d = day->from_d + o->meal_d[i];
        const double meal_g = value_at(feed, t_d) / (double)o->meals;
        char mass[40];
        if (!(meal_g > 0))
            continue;
        tl_display_text(TL_DIM_MASS, o->units, meal_g, 3, mass, sizeof mass);
        tl_format(v->text[i].text, sizeof v->text[i].text, "meal, %s", mass);
        add(v, t_d, 0, v->text[i].text, TL_CHART_MEAL);
    }
    for (size_t i = 0; i < o->feds; i++) /* those of other days find no place */
        v->event[v->o.events++] = o->fed[i];
}

int tl_view_day(struct tl_drawing *day, struct tl_view *v)
{
    const struct tl_chart_options *o = day->o;
    if (begin(v, o, o->meals + o->feds) != TL_OK)
        return TL_E_MEMORY;
    add_meals(v, day);
    for (size_t i = 0; i < o->events; i++) {
        const struct tl_chart_event *e = &o->event[i];
        if (e->end_d > day->from_d && e->t_d < day->from_d) /* it began before and goes on */
            add(v, day->from_d, e->end_d, e->text, e->weight);
        else
            v->event[v->o.events++] = *e;
    }
    day->o = &v->o;
    return tl_drawing_lay_out(day);
}

void tl_view_subject(const struct tl_drawing *d, enum tl_chart_id id, char *text, size_t size)
{
    static const char *const month[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    const struct tl_calendar start = {d->o->start_year, d->o->start_month, d->o->start_day};
    const struct tl_calendar c = tl_calendar_at(&start, lround(d->from_d));
    if (d->view == TL_VIEW_DAY)
        tl_format(text, size, "%s: day %.0f, %d %s %d, the %s", tl_chart_plan[id].subject,
                  d->from_d, c.day, month[(c.month + 11) % 12], c.year,
                  d->o->day_given ? "one asked for" : "last full day of the run");
    else
        tl_format(text, size, "%s", tl_chart_plan[id].subject);
}
