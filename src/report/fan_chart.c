/* Writes frame, bands and words of fan charts for gnuplot. */
#include "fan_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "gnuplot.h"
#include "layout.h"
#include "plot.h"
#include "towerloop/status.h"

enum { BOTTOM = 92, NOTE_FOOT = 16, NOTE_LINE = 21, SUBJECT = 58 /* px */ };
enum { LOW_90 = 0, LOW_50, MEDIAN, HIGH_50, HIGH_90 };
/* line styles of fan.gp and style.gp */
enum { NINE_IN_TEN = 31, HALF = 32, LINE = 1, CAUTION = 21, DANGER = 22 };
/* Limits further off than this, in spans of the values, would press the bands flat. */
#define FAR 2.0
/* Above and below values that are all alike, as a share of them. */
#define LEAST_ROOM 0.02

struct fans {
    const struct tl_fan_chart *fan;
    size_t n;
};

struct scale {
    double low, high;
};

/* Words of events need room above the heading. */
static int height_of(const struct tl_drawing *d)
{
    return TL_PLOT_PICTURE + TL_EVENT_WORD_LINE * d->word_rows;
}

static void take_in(struct scale *s, double value, double reach)
{
    if (isfinite(value) && value > s->low - reach && value < s->high + reach) {
        s->low = fmin(s->low, value);
        s->high = fmax(s->high, value);
    }
}

static struct scale find_scale(const struct tl_fan_chart *c)
{
    struct scale s = {INFINITY, -INFINITY};
    for (size_t i = 0; i < c->rows; i++)
        if (isfinite(c->row[i].share[MEDIAN])) {
            s.low = fmin(s.low, c->row[i].share[LOW_90]);
            s.high = fmax(s.high, c->row[i].share[HIGH_90]);
        }
    if (!(s.low <= s.high))
        s = (struct scale){0, 1};
    if (c->from_zero)
        s.low = fmin(0, s.low);
    const double reach = FAR * fmax(s.high - s.low, 1e-9);
    take_in(&s, c->caution, reach);
    take_in(&s, c->danger, reach);
    const double room =
        fmax(fmax(0.06 * (s.high - s.low), LEAST_ROOM * fmax(fabs(s.low), fabs(s.high))), 1e-9);
    s.high += room;
    s.low -= c->from_zero && s.low >= 0 ? 0 : room;
    return s;
}

static int write_rows(struct tl_drawing *d, const struct tl_fan_chart *c)
{
    FILE *f = tl_drawing_open(d, "%s.dat", c->name);
    for (size_t i = 0; f && i < c->rows; i++) {
        const struct tl_fan_row *r = &c->row[i];
        if (isfinite(r->share[MEDIAN]))
            fprintf(f, "%.9g %.6g %.6g %.6g %.6g %.6g\n", r->t_d, r->share[LOW_90],
                    r->share[LOW_50], r->share[MEDIAN], r->share[HIGH_50], r->share[HIGH_90]);
        else
            putc('\n', f);
    }
    return tl_drawing_close(d, f);
}

static void write_limit(FILE *f, struct tl_plot *p, const struct tl_fan_chart *c, double value,
                        const char *word, int style)
{
    char text[TL_PLOT_NAME_SIZE];
    const bool inside = value >= p->low && value <= p->high;
    if (!isfinite(value))
        return;
    snprintf(text, sizeof text, "%s %s %.3g%s", word, c->side == TL_CHART_ABOVE ? "above" : "below",
             value, inside ? "" : " (off scale)");
    if (!inside) {
        tl_plot_note(p, value, text);
        return;
    }
    tl_plot_name(p, value, style, text);
    fprintf(f,
            "set arrow from graph 0, first %.9g to graph 1, first %.9g nohead linestyle %d front\n",
            value, value, style);
    if (style == DANGER)
        fprintf(f,
                "set object rectangle from graph 0, first %.9g to graph 1, graph %d behind "
                "fillcolor rgb danger_shade fillstyle solid noborder\n",
                value, c->side == TL_CHART_ABOVE);
}

/* Where the bands end. */
static void name_bands(struct tl_plot *p, const struct tl_fan_chart *c)
{
    size_t i = c->rows;
    while (i > 0 && !isfinite(c->row[i - 1].share[MEDIAN]))
        i--;
    if (i == 0)
        return;
    const double *end = c->row[i - 1].share;
    tl_plot_name(p, end[HIGH_90], NINE_IN_TEN, "9 in 10 runs");
    tl_plot_name(p, (end[HIGH_50] + end[MEDIAN]) / 2, HALF, "half of the runs");
    tl_plot_name(p, end[MEDIAN], LINE, "median: half below it");
}

static void write_times(FILE *f, const struct tl_drawing *d)
{
    fprintf(f, "set xrange [%.9g:%.9g]\nset xtics (", d->from_d, d->to_d);
    for (size_t i = 0; i < d->ticks; i++) /* double quotes, for the two lines: these are our own */
        fprintf(f, "%s\"%s\\n%s\" %.9g", i ? ", " : "", d->tick[i].clock, d->tick[i].date,
                d->tick[i].t_d);
    fprintf(f, ")\n");
}

static void put_note(FILE *f, const struct tl_plot *p, int line, const char *text)
{
    tl_put_text(f, text, 1e6, p->box.left, NOTE_FOOT + line * NOTE_LINE, p->box.picture_height,
                "left font small_font");
}

static void write_events(FILE *f, const struct tl_drawing *d, const struct tl_plot *p,
                         const struct tl_fan_chart *c)
{
    const struct tl_event_words_place at = {.top = p->box.top,
                                            .picture = p->box.picture_height,
                                            .heading_px = TL_PLOT_HEADING + TL_TEXT_SIZE,
                                            .from_px = TL_PLOT_LEFT +
                                                       tl_text_width(c->y_name) * TL_TEXT_SIZE + 6,
                                            .to_px = INFINITY};
    char more[48];
    tl_drawing_put_events(f, d);
    tl_drawing_put_event_words(f, d, &at);
    snprintf(more, sizeof more, "and %zu more event%s", d->unnamed, d->unnamed == 1 ? "" : "s");
    if (d->unnamed)
        tl_put_text(f, more, 60, TL_PICTURE_WIDTH - 16, at.picture - SUBJECT, at.picture,
                    "right font small_font");
}

static int write_fan(struct tl_drawing *d, const struct tl_fan_chart *c)
{
    const struct scale s = find_scale(c);
    struct tl_plot p = tl_plot_new(BOTTOM + (c->note ? NOTE_LINE : 0), s.low, s.high);
    p.box.picture_height = height_of(d);
    FILE *f = tl_drawing_open(d, "%s_1.gp", c->name);
    if (f) {
        name_bands(&p, c);
        write_limit(f, &p, c, c->caution, "caution", CAUTION);
        write_limit(f, &p, c, c->danger, "danger", DANGER);
        tl_plot_write(f, &p, d->o->title ? d->o->title : "", c->subject, c->y_name);
        write_times(f, d);
        write_events(f, d, &p, c);
        put_note(f, &p, c->note ? 1 : 0,
                 "At each moment half of the runs lie in the dark band, 9 in 10 in the light and "
                 "dark ones.");
        if (c->note)
            put_note(f, &p, 0, c->note);
    }
    return tl_drawing_close(d, f);
}

/* The fans of one drawing share its events, so each is laid out anew: they need not span the same time. */
static int lay_out(struct tl_drawing *d, const struct tl_fan_chart *c)
{
    d->from_d = c->row[0].t_d;
    d->to_d = c->row[c->rows - 1].t_d;
    d->words = d->unnamed = 0;
    return tl_drawing_lay_out(d) ? tl_drawing_fail(d, TL_E_MEMORY, "out of memory") : TL_OK;
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    const struct fans *all = arg;
    int status = TL_OK;
    if (all->n > TL_FANS)
        return tl_drawing_fail(d, TL_E_CHART, "more than %d charts at once", TL_FANS);
    for (size_t i = 0; i < all->n && !status; i++) {
        const struct tl_fan_chart *c = &all->fan[i];
        if (c->rows < 2 || !(c->row[c->rows - 1].t_d > c->row[0].t_d))
            return tl_drawing_fail(d, TL_E_CHART, "%s: too few rows to draw", c->name);
        if (!(status = lay_out(d, c)) && !(status = write_rows(d, c)))
            status = write_fan(d, c);
        picture[(*n)++] =
            (struct tl_picture){.name = c->name, .height = height_of(d), .script = "fan"};
    }
    return status;
}

int tl_fan_charts_draw(const struct tl_fan_chart *fan, size_t n, const struct tl_chart_options *o,
                       struct tl_chart_outcome *outcome)
{
    const struct fans all = {fan, n};
    return tl_drawing_do(o, outcome, write_all, &all);
}
