/* From the rows of the table to the curves of the charts, row by row. */
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "drawing.h"
#include "plan.h"
#include "towerloop/status.h"

/* So few that an SVG file stays below 300 kB: that of eight curves with their bands, that of four panels
 * of trays (up to some fifty trays, then the lines would become too angular). Up to MOST_STEPS bands each is
 * a step; more are so narrow (3 px) that a line through their middles does. */
enum {
    POINTS = 1250,
    MOST_BANDS = 460,
    MOST_STEPS = 280,
    TRAY_POINTS = 13000,
    LEAST_TRAY_POINTS = 60
};
enum { HOURS = 24 }; /* of a day */
/* Times are written with six digits after the point. */
#define LATE_D      2e-6
#define BAND_FROM_D 32.0 /* from this length on, days melt into a band with a mean line */

/* Curves may be off by a fifth of a pixel on the tallest panels: that of oxygen, those of the trays. */
#define OFF      (0.2 / 420)
#define TRAY_OFF (0.2 / 170)

/* What is drawn but not recorded. */
enum { SATURATION, TAN_CAUTION, TAN_DANGER, NO2_DANGER, FREEZING, DERIVED };
static const char *const derived_name[DERIVED] = {TL_COLUMN_SATURATION, TL_COLUMN_TAN_CAUTION,
                                                  TL_COLUMN_TAN_DANGER, TL_COLUMN_NO2_DANGER,
                                                  TL_COLUMN_FREEZING};

/* What it follows from: columns of the table (past the last one: there is none) and limits that change
 * with the water. */
struct source {
    size_t o2, o2_percent, temperature, ph, chloride;
    const struct tl_chart_limit *chronic, *acute, *no2; /* or NULL */
};

/* The limit of this kind that changes with the water, if there is one. */
static const struct tl_chart_limit *
moving_limit(const struct tl_drawing *d, enum tl_chart_quantity quantity, enum tl_chart_level level)
{
    for (size_t i = 0; i < d->o->limits; i++) {
        const struct tl_chart_limit *l = &d->o->limit[i];
        if (l->quantity == quantity && l->level == level && tl_plan_moves(l))
            return l;
    }
    return NULL;
}

static struct source find_source(const struct tl_drawing *d)
{
    return (struct source){
        .o2 = tl_recorded_column(&d->run, "tank_o2_mg_L"),
        .o2_percent = tl_recorded_column(&d->run, "tank_o2_sat_pct"),
        .temperature = tl_recorded_column(&d->run, "temperature_degC"),
        .ph = tl_recorded_column(&d->run, "tank_ph"),
        .chloride = tl_recorded_column(&d->run, "tank_chloride_mg_L"),
        .chronic = moving_limit(d, TL_CHART_OF_TAN, TL_CHART_CAUTION),
        .acute = moving_limit(d, TL_CHART_OF_TAN, TL_CHART_DANGER),
        .no2 = moving_limit(d, TL_CHART_OF_NO2, TL_CHART_DANGER),
    };
}

/* The saturated concentration, from what the tank holds and how near to saturation that is, and the
 * limits that change with the water. `value` has a NAN past its last column. */
static void derive(const struct source *s, const double *value, double *derived)
{
    const double share = value[s->o2_percent];
    const struct tl_chart_limit *const limit[DERIVED] = {
        [TAN_CAUTION] = s->chronic, [TAN_DANGER] = s->acute, [NO2_DANGER] = s->no2};

    derived[SATURATION] = share > 0 ? 100 * value[s->o2] / share : NAN;
    for (int i = TAN_CAUTION; i <= NO2_DANGER; i++)
        derived[i] = limit[i] ? tl_plan_limit_in(limit[i], value[s->temperature], value[s->ph],
                                                 value[s->chloride])
                              : NAN;
    derived[FREEZING] = 0;
}

const struct tl_trace *tl_drawing_trace(const struct tl_drawing *d, const char *column)
{
    for (size_t i = 0; i < d->curves; i++)
        if (!strcmp(d->curve[i].column, column))
            return &d->curve[i].trace;
    return NULL;
}

/* --- the curves ---------------------------------------------------------------------------- */

static bool is_recorded(const struct tl_drawing *d, const char *column)
{
    size_t i = 0;
    while (column && i < d->curves && strcmp(d->curve[i].column, column) != 0)
        i++;
    return !column || i < d->curves;
}

/* What the axis of a column's panel is in; fails when a column that is drawn is missing. */
static int find_units(struct tl_drawing *d)
{
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < TL_PANELS && is_recorded(d, tl_chart_plan[c].needs); p++) {
            const struct tl_panel *panel = &tl_chart_plan[c].panel[p];
            if (tl_chart_plan[c].view != d->view)
                continue;
            for (size_t k = 0; k < TL_CURVES && panel->curve[k].column; k++) {
                const char *column = panel->curve[k].column;
                size_t i = 0;
                while (i < d->curves && strcmp(d->curve[i].column, column) != 0)
                    i++;
                if (i == d->curves && panel->optional)
                    continue;
                if (i == d->curves)
                    return tl_drawing_fail(d, TL_E_CHART, "%s has no column %s", d->o->series_csv,
                                           column);
                if (panel->dim != TL_DIM_NUMBER)
                    d->curve[i].panel = panel;
            }
        }
    return TL_OK;
}

/* Those that come before the row at t_d. */
static void add_extremes(const struct tl_drawing *d, struct tl_drawn_curve *curve, double t_d)
{
    for (const struct tl_chart_extreme *e; (e = tl_between_next(&curve->between, t_d));)
        tl_trace_add_extreme(&curve->trace, e->t_d,
                             curve->panel ? tl_panel_value(curve->panel, d->o->units, e->value)
                                          : e->value);
}

static int begin_curves(struct tl_drawing *d)
{
    const struct tl_recorded *r = &d->run;
    /* a row whose time was rounded down belongs to the stretch that begins there */
    const double early_d = d->stretches ? LATE_D / 2 : 0;
    const double bands_from = d->from_d - early_d;
    const double bands_to = d->stretches ? bands_from + (double)d->bands * d->band_d : d->to_d;
    int status = TL_OK;

    for (size_t i = 0; i < d->curves && !status; i++) {
        struct tl_trace *trace = &d->curve[i].trace;
        tl_between_find(&d->curve[i].between, d->o->extreme, d->o->extremes,
                        tl_plan_quantity(d->curve[i].column), r);
        const size_t rows = r->rows + d->curve[i].between.n;
        if (d->view == TL_VIEW_DAY && tl_plan_is_profile(d->curve[i].column))
            status = tl_trace_bands(trace, rows, d->from_d, d->to_d, 1);
        else if (d->edge)
            status = tl_trace_steps(trace, rows, d->edge, d->bands);
        else
            status = d->bands ? tl_trace_bands(trace, rows, bands_from, bands_to, d->bands)
                              : tl_trace_points(trace, rows, POINTS);
    }
    return status;
}

static void end_curves(struct tl_drawing *d)
{
    size_t trays = 0;

    for (size_t i = 0; d->stretches && i < d->curves; i++)
        tl_trace_finish(&d->curve[i].trace);
    if (d->stretches)
        return;
    for (size_t i = 0; i < d->curves; i++)
        trays += tl_plan_is_tray(d->curve[i].column);
    for (size_t i = 0; i < d->curves; i++) {
        struct tl_trace *trace = &d->curve[i].trace;
        if (tl_plan_is_tray(d->curve[i].column)) {
            const size_t share = TRAY_POINTS / trays;
            tl_trace_end(trace, TRAY_OFF, share > LEAST_TRAY_POINTS ? share : LEAST_TRAY_POINTS);
        } else {
            tl_trace_end(trace, OFF, trace->points);
        }
    }
}

static int read_rows(struct tl_drawing *d, double *value)
{
    const size_t columns = d->run.columns, time = tl_recorded_column(&d->run, "time_d");
    const struct source source = find_source(d);
    double *derived = &value[columns + 1];

    value[columns] = NAN;
    for (size_t row = 0; row < d->run.rows; row++) {
        int status = tl_recorded_next(&d->run, value, d->outcome->fault, sizeof d->outcome->fault);
        if (status)
            return status;
        derive(&source, value, derived);
        for (size_t i = 0; i < d->curves; i++) {
            double v = i < columns ? value[i] : derived[i - columns];
            if (d->curve[i].panel)
                v = tl_panel_value(d->curve[i].panel, d->o->units, v);
            add_extremes(d, &d->curve[i], value[time]);
            tl_trace_add(&d->curve[i].trace, value[time], v);
        }
    }
    return TL_OK;
}

/* What is left to do once the table is open. */
static int read_open(struct tl_drawing *d)
{
    struct tl_recorded *r = &d->run;
    int status = TL_OK;
    double *value = malloc((r->columns + 1 + DERIVED) * sizeof *value);
    d->curve = calloc(r->columns + DERIVED, sizeof *d->curve);
    if (!value || !d->curve) {
        status = TL_E_MEMORY;
        goto done;
    }
    d->curves = r->columns + DERIVED;
    for (size_t i = 0; i < d->curves; i++) {
        d->curve[i].column = i < r->columns ? r->name[i] : derived_name[i - r->columns];
    }
    if ((status = find_units(d)) || (status = begin_curves(d)) || (status = read_rows(d, value)))
        goto done;
    end_curves(d);
    char name[64];
    do
        snprintf(name, sizeof name, "tray%02zu_aob_gCOD_m2", d->trays + 1);
    while (tl_drawing_trace(d, name) && ++d->trays);
done:
    free(value);
    return status;
}

static int by_value(const void *a, const void *b)
{
    const double va = *(const double *)a, vb = *(const double *)b;
    return (va > vb) - (va < vb);
}

/* Adds where an event begins or ends to the edges, unless one is there. */
static void cut_at(struct tl_drawing *d, double t_d)
{
    size_t i = 0;
    if (d->bands >= MOST_STEPS || !(t_d > d->from_d && t_d < d->to_d))
        return;
    while (i <= d->bands && !(fabs(d->edge[i] - t_d) < LATE_D))
        i++;
    if (i <= d->bands)
        return;
    d->edge[++d->bands] = t_d;
    d->cuts++;
}

/* Bands of about band_d, and cut at events, so that none shows an effect before its cause; the weightiest
 * first, as long as there is room. */
static int find_edges(struct tl_drawing *d)
{
    const size_t whole = d->bands;
    d->edge = malloc((MOST_STEPS + 2) * sizeof *d->edge);
    if (!d->edge)
        return TL_E_MEMORY;
    for (size_t i = 0; i <= whole; i++)
        d->edge[i] = d->from_d + (d->to_d - d->from_d) * (double)i / (double)whole;
    for (int weight = TL_CHART_PHASE; weight >= TL_CHART_MEAL; weight--)
        for (size_t i = 0; i < d->o->events; i++)
            if ((int)d->o->event[i].weight == weight) {
                cut_at(d, d->o->event[i].t_d);
                cut_at(d, d->o->event[i].end_d);
            }
    qsort(d->edge, d->bands + 1, sizeof *d->edge, by_value);
    return TL_OK;
}

/* As points, as days or as stretches, whatever suits its length. */
static int read_span(struct tl_drawing *d)
{
    const struct tl_recorded *r = &d->run;
    d->from_d = r->from_d;
    d->to_d = r->to_d;
    const double span = r->to_d - r->from_d;
    if (d->stretches) {
        d->band_d = fmax(tl_stretch_length(fmax(span, d->stretch_span_d)), d->least_stretch_d);
        d->bands = (size_t)fmax(1, ceil(span / d->band_d - 1e-6));
    } else if (span > BAND_FROM_D && (double)r->rows / span >= 4) {
        d->band_d = ceil(span / MOST_BANDS);
        d->bands = tl_band_count(d->from_d, d->to_d, d->band_d);
        const int status = d->bands <= MOST_STEPS ? find_edges(d) : TL_OK;
        if (status)
            return status;
    }
    return read_open(d);
}

int tl_drawing_read(struct tl_drawing *d)
{
    const int status = tl_recorded_open(d->o->series_csv, tl_plan_wants, d->o->interrupted, &d->run,
                                        d->outcome->fault, sizeof d->outcome->fault);
    return status ? status : read_span(d);
}

int tl_drawing_read_start(struct tl_drawing *d, double until_d)
{
    struct tl_recorded *r = &d->run;
    int status = tl_recorded_open(d->o->series_csv, tl_plan_wants, d->o->interrupted, r,
                                  d->outcome->fault, sizeof d->outcome->fault);
    if (!status && until_d < r->to_d)
        status =
            tl_recorded_keep(r, r->from_d, until_d, d->outcome->fault, sizeof d->outcome->fault);
    if (status)
        return status;
    return r->rows < 2 ? TL_OK : read_span(d);
}

int tl_drawing_read_day(struct tl_drawing *d)
{
    struct tl_recorded *r = &d->run;
    int status = tl_recorded_open(d->o->series_csv, tl_plan_wants_of_day, d->o->interrupted, r,
                                  d->outcome->fault, sizeof d->outcome->fault);
    d->view = TL_VIEW_DAY;
    if (status)
        return status;
    d->from_d = d->o->day_given ? (double)d->o->day : floor(r->to_d + LATE_D) - 1;
    d->to_d = d->from_d + 1;
    if (r->from_d > d->from_d + LATE_D || r->to_d < d->to_d - LATE_D)
        return TL_OK;
    if ((status =
             tl_recorded_keep(r, d->from_d, d->to_d, d->outcome->fault, sizeof d->outcome->fault)))
        return status;
    if (r->rows < 2)
        return TL_OK;
    if (d->stretches) { /* hours, if there is a row for each */
        d->bands = r->rows > HOURS ? HOURS : HOURS / 2;
        d->band_d = 1.0 / (double)d->bands;
    }
    return read_open(d);
}

void tl_drawing_forget(struct tl_drawing *d)
{
    for (size_t i = 0; i < d->curves; i++)
        tl_trace_free(&d->curve[i].trace);
    free(d->curve);
    free(d->edge);
    tl_recorded_close(&d->run);
}
