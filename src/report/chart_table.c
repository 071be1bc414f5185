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
    if (plan->starting || plan->view != TL_VIEW_RUN ||
        (plan->needs && (!needs || needs->lowest > needs->highest)))
        return;
    for (size_t p = 0; p < TL_PANELS && plan->panel[p].heading; p++) {
        const struct tl_panel *panel = &plan->panel[p];
        if (panel->tray_suffix)
            add_trays(t, id, panel);
        for (size_t k = 0; k < TL_CURVES && panel->curve[k].column; k++)
            add(t, id, panel, panel->curve[k].column, panel->curve[k].name);
    }
}

/* --- reading ------------------------------------------------------------------------------------ */

static int read(struct tl_chart_tables *t)
{
    struct tl_posix_locale locale;
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    const int status = tl_drawing_read(&t->d);
    tl_posix_plain_end(&locale);
    return status;
}

int tl_chart_tables_read(const struct tl_chart_options *o, double span_d,
                         struct tl_chart_outcome *outcome, struct tl_chart_tables **out)
{
    struct tl_chart_tables *t = calloc(1, sizeof *t);
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    *out = NULL;
    if (!t)
        return TL_E_MEMORY;
    t->o = *o;
    t->d = (struct tl_drawing){
        .o = &t->o, .outcome = outcome, .stretches = true, .stretch_span_d = span_d};
    int status = read(t);
    if (status != TL_OK) {
        tl_chart_tables_free(t);
        return status;
    }
    for (int id = 0; id < TL_NCHART; id++)
        find_columns(t, (enum tl_chart_id)id);
    *out = t;
    return TL_OK;
}

void tl_chart_tables_free(struct tl_chart_tables *t)
{
    if (t)
        tl_drawing_forget(&t->d);
    free(t);
}

/* --- asking ------------------------------------------------------------------------------------- */

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
    const char *unit = tl_display_unit(c->panel->dim, t->d.o->units);
    const char *mark = strstr(c->panel->heading, "%s");
    const size_t before = mark ? (size_t)(mark - c->panel->heading) : strlen(c->panel->heading);
    tl_format(panel, sizeof panel, "%.*s%s", (int)before, c->panel->heading, mark ? unit : "");
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

const char *tl_chart_subject(enum tl_chart_id id)
{
    return tl_chart_plan[id].subject;
}

const char *tl_chart_note(enum tl_chart_id id)
{
    return tl_chart_plan[id].note ? tl_chart_plan[id].note : "";
}
