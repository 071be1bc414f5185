/* The curves of the charts as numbers, by the same plan as the pictures. */
#include "chart_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drawing.h"
#include "plan.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"
#include "views.h"

enum { MOST_COLUMNS = TL_PANELS * TL_CURVES };

struct column {
    const struct tl_panel *panel;
    const char *name; /* of the curve */
    char tray[32];    /* instead, of a tray */
    const struct tl_trace *trace;
};

struct tl_chart_tables {
    struct tl_chart_options o; /* as given; only its units are asked for later */
    struct tl_drawing d;
    bool starting; /* of the charts of a start-up */
    struct column column[TL_NCHART][MOST_COLUMNS];
    size_t columns[TL_NCHART];
};

/* --- which columns ------------------------------------------------------------------------------ */

static void add(struct tl_chart_tables *t, enum tl_chart_id id, const struct tl_panel *panel,
                const char *column, const char *name)
{
    const struct tl_trace *trace = tl_drawing_trace(&t->d, column);
    if (!trace || trace->lowest > trace->highest || t->columns[id] == MOST_COLUMNS)
        return;
    struct column *c = &t->column[id][t->columns[id]++];
    *c = (struct column){.panel = panel, .name = name, .trace = trace};
}

/* The trays that have names on the chart, too. */
static void add_trays(struct tl_chart_tables *t, enum tl_chart_id id, const struct tl_panel *panel)
{
    const size_t trays = t->d.trays;
    const size_t shown[] = {1, (trays + 1) / 2, trays};
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        char column[64];
        if (i > 0 && shown[i] == shown[i - 1])
            continue;
        snprintf(column, sizeof column, "tray%02zu%s", shown[i], panel->tray_suffix);
        const size_t before = t->columns[id];
        add(t, id, panel, column, NULL);
        if (t->columns[id] > before)
            snprintf(t->column[id][before].tray, sizeof t->column[id][before].tray, "tray %zu%s",
                     shown[i],
                     shown[i] == 1       ? " (top)"
                     : shown[i] == trays ? " (bottom)"
                                         : "");
    }
}

static void find_columns(struct tl_chart_tables *t, enum tl_chart_id id)
{
    const struct tl_chart_plan *plan = &tl_chart_plan[id];
    const struct tl_trace *needs = plan->needs ? tl_drawing_trace(&t->d, plan->needs) : NULL;
    if (plan->starting != t->starting || plan->view != t->d.view ||
        t->d.run.rows < plan->least_rows ||
        (plan->needs && (!needs || needs->lowest > needs->highest)))
        return;
    for (size_t p = 0; p < TL_PANELS && plan->panel[p].heading; p++) {
        const struct tl_panel *panel = &plan->panel[p];
        if (!tl_drawing_has_panel(&t->d, panel))
            continue;
        if (panel->tray_suffix)
            add_trays(t, id, panel);
        for (size_t k = 0; k < TL_CURVES && panel->curve[k].column; k++)
            add(t, id, panel, panel->curve[k].column, panel->curve[k].name);
    }
}

/* --- reading ------------------------------------------------------------------------------------ */

static int read_startup(struct tl_drawing *d)
{
    return d->o->starting ? tl_drawing_read_start(d, tl_startup_until_d(d->o)) : TL_OK;
}

static int in_plain_numbers(struct tl_drawing *d, int (*read)(struct tl_drawing *d))
{
    struct tl_posix_locale locale;
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    const int status = read(d);
    tl_posix_plain_end(&locale);
    return status;
}

/* `as` has what is not as in every table. */
static int make(const struct tl_chart_options *o, const struct tl_chart_tables *as,
                int (*read)(struct tl_drawing *d), struct tl_chart_outcome *outcome,
                struct tl_chart_tables **out)
{
    struct tl_chart_tables *t = calloc(1, sizeof *t);
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    *out = NULL;
    if (!t)
        return TL_E_MEMORY;
    *t = *as;
    t->o = *o;
    t->d.o = &t->o;
    t->d.outcome = outcome;
    t->d.stretches = true;
    const int status = in_plain_numbers(&t->d, read);
    if (status != TL_OK) {
        tl_chart_tables_free(t);
        return status;
    }
    for (int id = 0; id < TL_NCHART && t->d.curves > 0; id++)
        find_columns(t, (enum tl_chart_id)id);
    *out = t;
    return TL_OK;
}

int tl_chart_tables_read(const struct tl_chart_options *o, double span_d,
                         struct tl_chart_outcome *outcome, struct tl_chart_tables **out)
{
    const struct tl_chart_tables as = {.d = {.stretch_span_d = span_d}};
    return make(o, &as, tl_drawing_read, outcome, out);
}

int tl_chart_tables_read_startup(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                                 struct tl_chart_tables **out)
{
    const struct tl_chart_tables as = {.starting = true, .d = {.least_stretch_d = 1}};
    return make(o, &as, read_startup, outcome, out);
}

int tl_chart_tables_read_day(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                             struct tl_chart_tables **out)
{
    const struct tl_chart_tables as = {.d = {.view = TL_VIEW_DAY}};
    return make(o, &as, tl_drawing_read_day, outcome, out);
}

void tl_chart_tables_free(struct tl_chart_tables *t)
{
    if (t)
        tl_drawing_forget(&t->d);
    free(t);
}

/* --- asking ------------------------------------------------------------------------------------- */

double tl_chart_tables_far_apart_h(const struct tl_chart_tables *t)
{
    const double apart_h = tl_rows_apart_h(&t->d.run);
    return apart_h > TL_ROWS_FAR_APART_H ? apart_h : 0;
}

double tl_chart_tables_stretch_d(const struct tl_chart_tables *t)
{
    return t->d.band_d;
}

size_t tl_chart_tables_rows(const struct tl_chart_tables *t)
{
    return t->d.bands;
}

double tl_chart_tables_from_d(const struct tl_chart_tables *t, size_t row)
{
    return t->d.from_d + (double)row * t->d.band_d;
}

size_t tl_chart_tables_columns(const struct tl_chart_tables *t, enum tl_chart_id id)
{
    return t->columns[id];
}

void tl_chart_tables_heading(const struct tl_chart_tables *t, enum tl_chart_id id, size_t column,
                             char heading[TL_CHART_HEADING_SIZE])
{
    const struct column *c = &t->column[id][column];
    char panel[TL_CHART_HEADING_SIZE];
    tl_panel_heading(c->panel, t->d.o->units, panel, sizeof panel);
    tl_format(heading, TL_CHART_HEADING_SIZE, "%s: %s", panel, c->name ? c->name : c->tray);
}

static struct tl_chart_range range_of(const struct tl_trace *trace, size_t row)
{
    if (!trace || (row >= trace->points && trace->lowest > trace->highest))
        return (struct tl_chart_range){NAN, NAN};
    if (row >= trace->points)
        return (struct tl_chart_range){trace->lowest, trace->highest};
    return (struct tl_chart_range){trace->point[row].low, trace->point[row].high};
}

struct tl_chart_range tl_chart_tables_cell(const struct tl_chart_tables *t, enum tl_chart_id id,
                                           size_t column, size_t row)
{
    return range_of(t->column[id][column].trace, row);
}

struct tl_chart_range tl_chart_tables_of(const struct tl_chart_tables *t, const char *column,
                                         size_t row)
{
    const bool whole = row == TL_WHOLE_RUN;
    if (!whole && row >= t->d.bands)
        return (struct tl_chart_range){NAN, NAN};
    return range_of(tl_drawing_trace(&t->d, column), row);
}

void tl_chart_tables_phases(const struct tl_chart_tables *t, size_t row,
                            char phases[TL_CHART_PHASES_SIZE])
{
    struct tl_phase phase[TL_PHASES];
    const size_t n = t->starting ? tl_startup_phases(&t->d, phase) : 0;
    const double from_d = tl_chart_tables_from_d(t, row);
    const bool last = row + 1 == t->d.bands; /* it has its end, too */
    *phases = '\0';
    for (size_t i = 0; i < n; i++) {
        const bool begun = phase[i].from_d < from_d + t->d.band_d || last;
        const bool goes_on = i + 1 == n || phase[i + 1].from_d > from_d;
        const size_t used = strlen(phases);
        if (begun && goes_on)
            tl_format(phases + used, TL_CHART_PHASES_SIZE - used, "%s%s", used ? "; " : "",
                      phase[i].name);
    }
}

/* --- down the tower ----------------------------------------------------------------------------- */

size_t tl_chart_tables_trays(const struct tl_chart_tables *t)
{
    const struct tl_trace *needs = tl_drawing_trace(&t->d, tl_chart_plan[TL_CHART_TRAYS].needs);
    const bool there = t->d.view == TL_VIEW_DAY && needs && needs->lowest <= needs->highest;
    return there ? t->d.trays : 0;
}

size_t tl_chart_profile_columns(void)
{
    return TL_PROFILES;
}

void tl_chart_profile_heading(size_t column, char heading[TL_CHART_HEADING_SIZE])
{
    tl_format(heading, TL_CHART_HEADING_SIZE, "%s, %s", tl_profile[column].heading,
              tl_profile[column].unit);
}

struct tl_chart_spread tl_chart_tables_tray(const struct tl_chart_tables *t, size_t tray,
                                            size_t column)
{
    const struct tl_profile *p = &tl_profile[column];
    char name[64];
    snprintf(name, sizeof name, "tray%02zu%s", tray, p->tray_suffix);
    const struct tl_trace *trace = tray > 0    ? tl_drawing_trace(&t->d, name)
                                   : p->coming ? tl_drawing_trace(&t->d, p->coming)
                                               : NULL;
    if (!trace || trace->points == 0)
        return (struct tl_chart_spread){NAN, {NAN, NAN}};
    const struct tl_point *day = &trace->point[0];
    return (struct tl_chart_spread){day->value, {day->low, day->high}};
}

const char *tl_chart_subject(enum tl_chart_id id)
{
    return tl_chart_plan[id].subject;
}

const char *tl_chart_note(enum tl_chart_id id)
{
    return tl_chart_plan[id].note ? tl_chart_plan[id].note : "";
}
