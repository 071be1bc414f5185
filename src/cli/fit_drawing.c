/* Readings and courses of a fit, in the units of the answer, for its chart. */
#include "fit_drawing.h"

#include <math.h>
#include <stdlib.h>

#include "cli.h"
#include "fit_chart.h"
#include "text.h"
#include "towerloop/status.h"

/* One point in two hours shows the course of a day; a long log makes do with fewer. */
#define STEP_D      (2.0 / 24)
#define MOST_STEPS  4000.0
#define LEAST_STEPS 500.0
/* Around the readings, as a share of the time they span and in days. */
#define MARGIN         0.03
#define LEAST_MARGIN_D 0.25

struct sheet {
    struct tl_fit_chart_panel panel[TL_FIT_PANELS];
    size_t panels;
    struct tl_fit_chart_reading *reading;
    struct tl_fit_chart_point *point;
    double from_d, to_d;
    size_t outside; /* readings that are not of the loop's water */
};

static bool is_drawn(const struct tl_fit *f, size_t i)
{
    return f->point[i].use <= TL_FIT_HELD;
}

static void find_times(struct sheet *h, const struct tl_fit *f, const struct tl_scenario *s)
{
    const double begins_d = s->start.second / 86400.0;
    h->from_d = INFINITY;
    h->to_d = -INFINITY;
    for (size_t i = 0; i < f->log->rows; i++)
        if (is_drawn(f, i)) {
            h->from_d = fmin(h->from_d, f->log->row[i].t_d);
            h->to_d = fmax(h->to_d, f->log->row[i].t_d);
        } else if (f->point[i].use != TL_FIT_REPEATED) {
            h->outside++;
        }
    const double margin = fmax(MARGIN * (h->to_d - h->from_d), LEAST_MARGIN_D);
    h->from_d = fmax(h->from_d - margin, begins_d);
    h->to_d = fmin(h->to_d + margin, begins_d + s->setup.length_d);
}

static struct tl_fit_chart_reading show(const struct tl_fit *f, size_t i, enum tl_unit_system units)
{
    static const enum tl_fit_mark mark[] = {[TL_MEASURED_AT] = TL_FIT_MARK_NUMBER,
                                            [TL_MEASURED_BELOW] = TL_FIT_MARK_BELOW,
                                            [TL_MEASURED_ABOVE] = TL_FIT_MARK_ABOVE,
                                            [TL_MEASURED_BETWEEN] = TL_FIT_MARK_COLOURS};
    const struct tl_measured *m = &f->log->row[i];
    const struct tl_measured_row *row = tl_measured_row(m->quantity);
    const double error =
        m->kind == TL_MEASURED_AT ? tl_display_value(row->error_dim, units, f->point[i].error) : 0;
    return (struct tl_fit_chart_reading){.t_d = m->t_d,
                                         .mark = mark[m->kind],
                                         .low = tl_display_value(row->dim, units, m->low) - error,
                                         .high = tl_display_value(row->dim, units, m->high) + error,
                                         .held = f->n > 0 && f->point[i].use == TL_FIT_HELD,
                                         .wild = f->n > 0 && tl_fit_is_wild(f, i)};
}

/* A panel begins where place or quantity change; its readings come after those of the panel before. */
static void lay_out(struct sheet *h, const struct tl_fit *f, const struct tl_fit_curve *curve,
                    size_t curves, enum tl_unit_system units)
{
    size_t readings = 0;
    for (size_t i = 0, next; i < curves && h->panels < TL_FIT_PANELS; i = next) {
        const struct tl_fit_curve *c = &curve[i];
        const struct tl_measured_row *row = tl_measured_row(c->quantity);
        struct tl_fit_chart_panel *p = &h->panel[h->panels++];
        for (next = i;
             next < curves && curve[next].place == c->place && curve[next].quantity == c->quantity;
             next++)
            h->point[next] = (struct tl_fit_chart_point){
                curve[next].t_d, tl_display_value(row->dim, units, curve[next].before),
                tl_display_value(row->dim, units, curve[next].after)};
        p->point = &h->point[i];
        p->points = next - i;
        p->reading = &h->reading[readings];
        for (size_t k = 0; k < f->log->rows; k++)
            if (is_drawn(f, k) && f->log->row[k].place == c->place &&
                f->log->row[k].quantity == c->quantity)
                h->reading[readings + p->readings++] = show(f, k, units);
        readings += p->readings;
        p->from_zero = c->quantity != TL_MEASURED_PH && c->quantity != TL_MEASURED_TEMPERATURE;
        tl_format(p->name, sizeof p->name, "%s, %s%s%s", row->word,
                  tl_measured_place_word(c->place), row->dim == TL_DIM_NUMBER ? "" : ", ",
                  row->dim == TL_DIM_NUMBER ? "" : tl_display_unit(row->dim, units));
    }
}

static int paint(const struct sheet *h, const struct tl_fit *f, const struct tl_scenario *s,
                 const char *folder, struct tl_chart_outcome *outcome)
{
    char note[96] = "";
    if (h->outside > 0)
        tl_format(note, sizeof note, "Not shown: %zu reading%s outside the run or without water.",
                  h->outside, h->outside == 1 ? "" : "s");
    const struct tl_fit_chart chart = {.panel = h->panel,
                                       .panels = h->panels,
                                       .from_d = h->from_d,
                                       .to_d = h->to_d,
                                       .fitted = f->n > 0,
                                       .note = note};
    const struct tl_chart_options o = {.out_dir = folder,
                                       .title = s->title,
                                       .start_year = s->start.year,
                                       .start_month = s->start.month,
                                       .start_day = s->start.day,
                                       .interrupted = &tl_interrupted};
    return tl_fit_chart_draw(&chart, &o, outcome);
}

int tl_fit_draw(const struct tl_fit_bench *b, const struct tl_fit *f, const struct tl_scenario *s,
                enum tl_unit_system units, const char *folder, struct tl_chart_outcome *outcome)
{
    struct sheet h = {.panels = 0};
    struct tl_fit_curve *curve = NULL;
    size_t curves = 0;
    find_times(&h, f, s);
    if (!(h.to_d > h.from_d))
        return TL_OK;
    const double span_d = h.to_d - h.from_d;
    const double step_d = fmax(fmin(STEP_D, span_d / LEAST_STEPS), span_d / MOST_STEPS);
    int status = tl_fit_curves(b, f, h.from_d, h.to_d, step_d, &curve, &curves);
    h.point = calloc(curves + 1, sizeof *h.point);
    h.reading = calloc(f->log->rows + 1, sizeof *h.reading);
    if (status == TL_OK && (!h.point || !h.reading))
        status = TL_E_MEMORY;
    if (status == TL_OK) {
        lay_out(&h, f, curve, curves, units);
        status = paint(&h, f, s, folder, outcome);
    }
    free(curve);
    free(h.point);
    free(h.reading);
    return status;
}
