/* Writes the panels, the bars of the readings and the key of a fit for gnuplot. */
#include "fit_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "layout.h"
#include "plot.h"
#include "towerloop/status.h"

/* px */
enum { PANEL = 244, GAP = 44, HEAD = 112, FOOT = 62, KEY_STEP = 22, KEY_LEAD = 44 };
enum { WIDE = 66 /* em */, KEY_WIDTH = 16 };
enum { BEFORE = 401, FITTED, BAR }; /* line styles of fit.gp */
/* gnuplot's filled marks: circle, square, triangles down and up; one less is the hollow one */
static const int filled[TL_FIT_MARKS] = {7, 5, 11, 9};
enum { CROSS = 2 };
#define HEAD_ROOM  0.08
#define LEAST_SPAN 0.2 /* of an axis that does not begin at 0 */

struct scale {
    double low, high;
};

static double height_of(const struct tl_fit_chart *c)
{
    return HEAD + (double)c->panels * PANEL + FOOT;
}

static void take_in(struct scale *s, double value)
{
    if (isfinite(value)) {
        s->low = fmin(s->low, value);
        s->high = fmax(s->high, value);
    }
}

static struct scale find_scale(const struct tl_fit_chart_panel *p, bool fitted)
{
    struct scale s = {INFINITY, -INFINITY};
    for (size_t i = 0; i < p->points; i++) {
        take_in(&s, p->point[i].before);
        take_in(&s, fitted ? p->point[i].fitted : NAN);
    }
    for (size_t i = 0; i < p->readings; i++) {
        const struct tl_fit_chart_reading *r = &p->reading[i];
        take_in(&s, r->mark == TL_FIT_MARK_BELOW ? NAN : r->low);
        take_in(&s, r->mark == TL_FIT_MARK_ABOVE ? NAN : r->high);
    }
    if (!(s.low <= s.high))
        s = (struct scale){0, 1};
    if (p->from_zero) {
        s.low = 0;
        s.high = s.high > 0 ? s.high * (1 + HEAD_ROOM) : 1;
    } else {
        const double room = fmax(HEAD_ROOM * (s.high - s.low), LEAST_SPAN / 2);
        s = (struct scale){s.low - room, s.high + room};
    }
    return s;
}

static int mark_of(const struct tl_fit_chart_reading *r)
{
    return r->wild ? CROSS : filled[r->mark] - r->held;
}

static int write_data(struct tl_drawing *d, const struct tl_fit_chart_panel *p, size_t i,
                      const struct scale *s)
{
    FILE *f = tl_drawing_open(d, "fit_curve_%zu.dat", i + 1);
    for (size_t k = 0; f && k < p->points; k++)
        if (isfinite(p->point[k].before) && isfinite(p->point[k].fitted))
            fprintf(f, "%.9g %.6g %.6g\n", p->point[k].t_d, p->point[k].before, p->point[k].fitted);
        else
            putc('\n', f);
    const int status = tl_drawing_close(d, f);
    if (status)
        return status;
    f = tl_drawing_open(d, "fit_reading_%zu.dat", i + 1);
    for (size_t k = 0; f && k < p->readings; k++) {
        const struct tl_fit_chart_reading *r = &p->reading[k];
        /* open bars end with the panel */
        const double low = r->mark == TL_FIT_MARK_BELOW ? s->low : fmax(r->low, s->low);
        const double high = r->mark == TL_FIT_MARK_ABOVE ? s->high : r->high;
        const double value = r->mark == TL_FIT_MARK_BELOW   ? r->high
                             : r->mark == TL_FIT_MARK_ABOVE ? r->low
                                                            : (r->low + r->high) / 2;
        fprintf(f, "%.9g %.6g %.6g %.6g %d %d\n", r->t_d, value, low, high, mark_of(r),
                r->held && !r->wild);
    }
    return tl_drawing_close(d, f);
}

/* --- the key ------------------------------------------------------------------------------------ */

struct key {
    FILE *f;
    double y, height;
};

static void put_key_text(struct key *k, const char *text)
{
    tl_put_text(k->f, text, KEY_WIDTH, TL_PLOT_RIGHT + KEY_LEAD, k->y, k->height,
                "left font small_font");
    k->y -= KEY_STEP;
}

static void put_line(struct key *k, int style, const char *text)
{
    fprintf(k->f, "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %d\n",
            (TL_PLOT_RIGHT + 10.0) / TL_PICTURE_WIDTH, k->y / k->height,
            (TL_PLOT_RIGHT + 38.0) / TL_PICTURE_WIDTH, k->y / k->height, style);
    put_key_text(k, text);
}

static void put_mark(struct key *k, int type, const char *text)
{
    char how[96];
    snprintf(how, sizeof how,
             "point pointtype %d pointsize 1 linewidth 1.3 linecolor rgb '#202020'", type);
    tl_put_text(k->f, "", 1, TL_PLOT_RIGHT + 24, k->y, k->height, how);
    put_key_text(k, text);
}

/* Whatever is on the picture, and no more. */
static void put_key(FILE *f, const struct tl_fit_chart *c, double top)
{
    static const char *const text[TL_FIT_MARKS] = {
        "read, one standard error", "read between two colours", "read as less than this",
        "read as more than this"};
    struct key k = {f, top - 6, height_of(c)};
    bool any[TL_FIT_MARKS] = {false}, held = false, wild = false;
    for (size_t i = 0; i < c->panels; i++)
        for (size_t j = 0; j < c->panel[i].readings; j++) {
            const struct tl_fit_chart_reading *r = &c->panel[i].reading[j];
            any[r->mark] |= !r->wild;
            held |= r->held;
            wild |= r->wild;
        }
    if (c->fitted)
        put_line(&k, FITTED, "model, fitted");
    put_line(&k, BEFORE, "model, scenario as it was");
    for (int m = 0; m < TL_FIT_MARKS; m++)
        if (any[m])
            put_mark(&k, filled[m], text[m]);
    if (held)
        put_mark(&k, filled[TL_FIT_MARK_NUMBER] - 1, "hollow: held back to try it");
    if (wild)
        put_mark(&k, CROSS, "far off: hardly counts");
}

/* --- the panels --------------------------------------------------------------------------------- */

static void write_times(FILE *f, const struct tl_drawing *d, const struct tl_fit_chart *c,
                        bool last)
{
    const struct tl_calendar start = {d->o->start_year, d->o->start_month, d->o->start_day};
    struct tl_tick tick[TL_TICKS];
    const size_t n = tl_time_ticks(&start, c->from_d, c->to_d, TL_PLOT_RIGHT - TL_PLOT_LEFT, tick);
    fprintf(f, "set xrange [%.9g:%.9g]\nset xtics (", c->from_d, c->to_d);
    for (size_t i = 0; i < n; i++) /* double quotes, for the two lines: these texts are our own */
        fprintf(f, "%s\"%s%s%s\" %.9g", i ? ", " : "", last ? tick[i].clock : "", last ? "\\n" : "",
                last ? tick[i].date : "", tick[i].t_d);
    fprintf(f, ")\n");
}

static void put_title(FILE *f, const struct tl_drawing *d, const struct tl_fit_chart *c)
{
    const double height = height_of(c);
    tl_put_text(f, c->fitted ? "Readings and the fitted loop" : "Readings and the loop, not fitted",
                WIDE, TL_PLOT_LEFT, height - 28, height, "left font title_font");
    tl_put_text(f, d->o->title ? d->o->title : "", WIDE, TL_PLOT_LEFT, height - 58, height,
                "left font subject_font");
}

static int write_panel(struct tl_drawing *d, const struct tl_fit_chart *c, size_t i)
{
    const struct tl_fit_chart_panel *p = &c->panel[i];
    const struct scale s = find_scale(p, c->fitted);
    const double height = height_of(c), top = height - HEAD - (double)i * PANEL;
    const struct tl_box b = {TL_PLOT_LEFT, TL_PLOT_RIGHT, top - PANEL + GAP, top, height};
    FILE *f = tl_drawing_open(d, "fit_%zu.gp", i + 1);
    if (f) {
        const bool last = i + 1 == c->panels;
        fprintf(f, "unset label; unset arrow\n");
        tl_put_margins(f, &b);
        fprintf(f, "set yrange [%.6g:%.6g]\nset ytics %g\n", s.low, s.high,
                tl_nice_step(s.high - s.low, 5));
        write_times(f, d, c, last);
        tl_put_text(f, p->name, WIDE, b.left, b.top + 16, height, "left font heading_font");
        if (i == 0) {
            put_title(f, d, c);
            put_key(f, c, b.top);
        }
        if (last && *c->note)
            tl_put_text(f, c->note, WIDE, b.left, 16, height, "left font small_font");
    }
    const int status = tl_drawing_close(d, f);
    return status ? status : write_data(d, p, i, &s);
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    const struct tl_fit_chart *c = arg;
    if (c->panels < 1 || c->panels > TL_FIT_PANELS || !(c->to_d > c->from_d))
        return tl_drawing_fail(d, TL_E_CHART, "no readings to draw");
    FILE *f = tl_drawing_open(d, "fit_panels.gp");
    if (f)
        fprintf(f, "panels = %zu\nfitted = %d\n", c->panels, c->fitted);
    int status = tl_drawing_close(d, f);
    for (size_t i = 0; i < c->panels && !status; i++)
        status = write_panel(d, c, i);
    picture[(*n)++] = (struct tl_picture){.name = "fit", .height = (int)height_of(c)};
    return status;
}

int tl_fit_chart_draw(const struct tl_fit_chart *c, const struct tl_chart_options *o,
                      struct tl_chart_outcome *outcome)
{
    return tl_drawing_do(o, outcome, write_all, c);
}
