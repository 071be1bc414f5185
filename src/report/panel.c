/* The panels of a chart: their scale, limits, names and events, written as gnuplot commands. */
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "drawing.h"
#include "gnuplot.h"
#include "plan.h"
#include "plot.h"
#include "text.h"
#include "towerloop/status.h"
#include "views.h"

/* px */
enum {
    TOP = 10,
    TITLE_LINE = 31,
    SUBJECT_LINE = 32,
    HEADING_LINE = 26,
    GAP = 14,
    TICK_LINES = 68,
    NOTE_LINE = 21,
    FOOT = 6,
    MARGIN = 24,
    NAME_GAP = 17
};
enum { NAMES = 16, WORD_ROWS = 5, WORD_WIDTH = 28 /* em */, FOLD_FROM = 12 };

struct beside { /* the name of a curve or limit, right of the plot */
    double y;   /* where the curve ends, px from the bottom of the picture */
    int style;  /* 0: no line to it (a limit outside the scale) */
    char text[96];
};

struct spot { /* one panel while it is being laid out; px from the bottom of the picture */
    const struct tl_chart_plan *plan;
    const struct tl_panel *panel;
    int top, bottom, picture;
    double low, high; /* of the scale */
    bool empty;       /* no value at all */
    double heading_px;
    char mark[96]; /* "lowest 3.2 mg/L, …", or nothing */
    struct beside name[NAMES];
    size_t names;
    FILE *f;
};

static double screen_x(double px)
{
    return px / TL_PICTURE_WIDTH;
}

static double plot_x(const struct tl_drawing *d, double t)
{
    return TL_PLOT_LEFT + (t - d->from_d) / (d->to_d - d->from_d) * (TL_PLOT_RIGHT - TL_PLOT_LEFT);
}

static double plot_y(const struct spot *s, double value)
{
    return s->bottom + (value - s->low) / (s->high - s->low) * (s->top - s->bottom);
}

/* --- scale --------------------------------------------------------------------------------- */

static bool concerns(const struct tl_panel *p, const struct tl_chart_limit *l)
{
    return isfinite(l->value) && !tl_plan_moves(l) && l->quantity != TL_CHART_OF_NOTHING &&
           l->quantity == p->quantity;
}

static const struct tl_trace *tray_trace(const struct tl_drawing *d, const struct tl_panel *p,
                                         size_t tray)
{
    char name[64];
    snprintf(name, sizeof name, "tray%02zu%s", tray, p->tray_suffix);
    return tl_drawing_trace(d, name);
}

/* Where it is on the panel's scale. */
static double level_of(const struct tl_panel *p, const struct tl_drawing *d,
                       const struct tl_chart_limit *l)
{
    return tl_panel_value(p, d->o->units, l->value);
}

/* Widens low..high by the values of a curve. */
static void take_in(const struct tl_trace *trace, double *low, double *high)
{
    if (trace) {
        *low = fmin(*low, trace->lowest);
        *high = fmax(*high, trace->highest);
    }
}

/* Takes a limit into the scale if that leaves the curves room; low, high: of the curves alone. The
 * first limit a keeper would meet is shown from further away, and when a filter is ready always. False
 * when it stays outside. */
static bool take_in_limit(struct spot *s, enum tl_chart_level level, double value, double low,
                          double high)
{
    const double reach = fmax(1, high - low);
    const double times = level == TL_CHART_DANGER ? 3 : level == TL_CHART_CAUTION ? 6 : INFINITY;

    if (s->panel->range == TL_AROUND_DATA ? value < low - reach || value > high + reach
                                          : high > 0 && value > times * high)
        return false;
    s->low = fmin(s->low, value);
    s->high = fmax(s->high, value);
    return true;
}

static void find_scale(struct spot *s, const struct tl_drawing *d)
{
    const struct tl_panel *p = s->panel;

    s->low = INFINITY;
    s->high = -INFINITY;
    for (size_t k = 0; k < TL_CURVES && p->curve[k].column; k++)
        if (!p->curve[k].limit)
            take_in(tl_drawing_trace(d, p->curve[k].column), &s->low, &s->high);
    for (size_t tray = 1; p->tray_suffix && tray <= d->trays; tray++)
        take_in(tray_trace(d, p, tray), &s->low, &s->high);
    s->empty = !(s->low <= s->high);
    if (s->empty)
        s->low = s->high = 0;
    if (p->range == TL_FROM_ZERO)
        s->low = fmin(0, s->low);

    const double low = s->low, high = s->high;
    for (int level = TL_CHART_CAUTION; level <= TL_CHART_READY; level++) {
        for (size_t i = 0; i < d->o->limits; i++)
            if (concerns(p, &d->o->limit[i]) && (int)d->o->limit[i].level == level)
                take_in_limit(s, d->o->limit[i].level, level_of(p, d, &d->o->limit[i]), low, high);
        for (size_t k = 0; k < TL_CURVES && p->curve[k].column; k++) {
            double least = INFINITY, most = -INFINITY;
            if (!p->curve[k].limit || p->curve[k].style == TL_STYLE_REFERENCE ||
                (p->curve[k].style == TL_STYLE_DANGER) != level)
                continue;
            take_in(tl_drawing_trace(d, p->curve[k].column), &least, &most);
            /* one that swings is shown up to twice its least, which is where it matters */
            if (least <= most && take_in_limit(s, (enum tl_chart_level)level, least, low, high))
                take_in_limit(s, (enum tl_chart_level)level, fmin(most, 2 * least), low, INFINITY);
        }
    }
    /* spare room, so that the uppermost figure of the scale stays clear of the heading */
    const double spare = fmax(0.06, 12.0 / p->height);
    if (p->range == TL_FROM_ZERO) {
        if (s->high <= s->low)
            s->high = s->low + 1;
        const double more = spare * (s->high - s->low);
        s->high += more;
        s->low -= s->low < 0 ? more : 0;
    } else {
        const double span = s->high - s->low, more = fmax(spare * span, 0.5 * (0.5 - span));
        s->low -= more;
        s->high += more;
    }
}

/* --- names on the right -------------------------------------------------------------------- */

static struct beside *add_name(struct spot *s, double y, int style)
{
    if (s->names == NAMES)
        return NULL;
    s->name[s->names] = (struct beside){.y = y, .style = style};
    return &s->name[s->names++];
}

/* The value a curve ends with on the picture; NAN when it has none. Of bands it is the mean, of
 * limits that change with time the least in the band. */
static double last_value(const struct tl_trace *trace, bool limit)
{
    size_t i = trace ? trace->points : 0;

    while (i > 0 && !isfinite(trace->point[i - 1].value))
        i--;
    if (i == 0)
        return NAN;
    return limit ? trace->point[i - 1].low : trace->point[i - 1].value;
}

static void name_curves(struct spot *s, const struct tl_drawing *d)
{
    const struct tl_panel *p = s->panel;
    struct beside *n;

    for (size_t k = 0; k < TL_CURVES && p->curve[k].column; k++) {
        const struct tl_curve *c = &p->curve[k];
        const struct tl_trace *trace = tl_drawing_trace(d, c->column);
        double end = last_value(trace, c->limit);
        double least = INFINITY, most = -INFINITY;
        if (c->limit)
            take_in(trace, &least, &most);
        bool off = c->limit && (least > s->high || most < s->low);
        if (off && (s->plan->brief || c->style == TL_STYLE_REFERENCE))
            continue;
        if (isfinite(end) && (n = add_name(s, fmin(s->top, plot_y(s, end)), off ? 0 : c->style)))
            snprintf(n->text, sizeof n->text, "%s%s", c->name,
                     off || (c->limit && (end > s->high || end < s->low)) ? " (off scale)" : "");
    }
    /* of the trays the top, the middle and the bottom one */
    size_t named[3] = {1, (d->trays + 1) / 2, d->trays};
    for (size_t k = 0; k < 3 && p->tray_suffix && d->trays; k++) {
        if (k && named[k] == named[k - 1])
            continue;
        double end = last_value(tray_trace(d, p, named[k]), false);
        if (isfinite(end) && (n = add_name(s, plot_y(s, end), TL_STYLE_TRAY + (int)named[k])))
            snprintf(n->text, sizeof n->text, "tray %zu%s", named[k],
                     d->trays == 1          ? ""
                     : named[k] == 1        ? " (top)"
                     : named[k] == d->trays ? " (bottom)"
                                            : "");
    }
}

static void draw_limits(struct spot *s, const struct tl_drawing *d)
{
    for (size_t i = 0; i < d->o->limits; i++) {
        const struct tl_chart_limit *l = &d->o->limit[i];
        if (!concerns(s->panel, l))
            continue;
        const double value = level_of(s->panel, d, l);
        bool inside = value >= s->low && value <= s->high;
        if (!inside && s->plan->brief)
            continue;
        static const int style_of[] = {[TL_CHART_CAUTION] = TL_STYLE_CAUTION,
                                       [TL_CHART_DANGER] = TL_STYLE_DANGER,
                                       [TL_CHART_READY] = TL_STYLE_READY};
        const int style = style_of[l->level];
        /* those outside wait at the edge, in order of their values */
        double y =
            inside ? plot_y(s, value) : (value > s->high ? s->top : s->bottom) + 1e-6 * value;
        struct beside *n = add_name(s, y, inside ? style : 0);
        const char *side = l->side == TL_CHART_ABOVE ? "above" : "below";
        if (n && l->text)
            snprintf(n->text, sizeof n->text, "%.60s %s %.3g%s", l->text, side, value,
                     inside ? "" : " (off scale)");
        else if (n)
            snprintf(n->text, sizeof n->text, "%s %s %.3g%s",
                     l->level == TL_CHART_DANGER ? "danger" : "caution", side, value,
                     inside ? "" : " (off scale)");
        if (!inside)
            continue;
        fprintf(s->f,
                "set arrow from graph 0, first %.9g to graph 1, first %.9g nohead "
                "linestyle %d back\n",
                value, value, style);
        if (l->level == TL_CHART_DANGER)
            fprintf(s->f,
                    "set object rectangle from graph 0, first %.9g to graph 1, graph %d behind "
                    "fillcolor rgb danger_shade fillstyle solid noborder\n",
                    value, l->side == TL_CHART_ABOVE);
    }
}

static int by_y(const void *a, const void *b)
{
    double ya = ((const struct beside *)a)->y, yb = ((const struct beside *)b)->y;
    return (ya > yb) - (ya < yb);
}

static void write_names(struct spot *s)
{
    enum {
        SAMPLE_FROM = TL_PLOT_RIGHT + 3,
        SAMPLE_TO = TL_PLOT_RIGHT + 32,
        TEXT_AT = TL_PLOT_RIGHT + 36
    };
    double y[NAMES];

    qsort(s->name, s->names, sizeof *s->name, by_y);
    for (size_t i = 0; i < s->names; i++)
        y[i] = s->name[i].y;
    tl_spread(y, s->names, NAME_GAP, s->bottom + 4, s->top);
    for (size_t i = 0; i < s->names; i++) {
        const struct beside *n = &s->name[i];
        if (n->style)
            fprintf(s->f,
                    "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %d\n",
                    screen_x(SAMPLE_FROM), n->y / s->picture, screen_x(SAMPLE_TO),
                    y[i] / s->picture, n->style);
        tl_put_text(s->f, n->text, (TL_PICTURE_WIDTH - 6.0 - TEXT_AT) / TL_SMALL_SIZE, TEXT_AT,
                    y[i], s->picture, "left font small_font");
    }
}

/* --- frame, mark, events ------------------------------------------------------------------- */

static void write_frame(struct spot *s, const struct tl_drawing *d, bool last)
{
    const struct tl_panel *p = s->panel;
    char heading[160];

    tl_panel_heading(p, d->o->units, heading, sizeof heading);
    s->heading_px = tl_text_width(heading) * TL_TEXT_SIZE;
    fprintf(s->f,
            "unset label; unset arrow; unset object\n"
            "set lmargin at screen %.6f; set rmargin at screen %.6f\n"
            "set tmargin at screen %.6f; set bmargin at screen %.6f\n",
            screen_x(TL_PLOT_LEFT), screen_x(TL_PLOT_RIGHT), (double)s->top / s->picture,
            (double)s->bottom / s->picture);
    fprintf(s->f, "set xrange [%.9g:%.9g]; set yrange [%.9g:%.9g]; set ytics %.9g\n", d->from_d,
            d->to_d, s->low, s->high,
            tl_nice_step(s->high - s->low, fmax(4, (s->top - s->bottom) / 45.0)));
    tl_put_text(s->f, heading, TL_PICTURE_WIDTH, TL_PLOT_LEFT, s->top + HEADING_LINE * 0.5,
                s->picture, "left font heading_font");
    /* double quotes, for the two lines: these texts are our own */
    fprintf(s->f, "set xtics (");
    for (size_t i = 0; i < d->ticks; i++)
        fprintf(s->f, "%s\"%s%s%s\" %.9g", i ? ", " : "", last ? d->tick[i].clock : "",
                last ? "\\n" : "", last ? d->tick[i].date : "", d->tick[i].t_d);
    fprintf(s->f, ")\n");
    if (s->empty)
        fprintf(s->f, "set label 'no values recorded' at graph 0.5, 0.5 center font small_font\n");
}

/* The extreme of the run that is the one of the curve, or NULL. */
static const struct tl_chart_extreme *known_extreme(const struct tl_drawing *d,
                                                    const struct tl_panel *p, double value)
{
    const enum tl_chart_side side = p->mark == TL_MARK_LOWEST ? TL_CHART_BELOW : TL_CHART_ABOVE;
    for (size_t i = 0; i < d->o->extremes; i++) {
        const struct tl_chart_extreme *e = &d->o->extreme[i];
        if (e->quantity == p->quantity && e->side == side && fabs(e->value - value) < 1e-6)
            return e;
    }
    return NULL;
}

/* "in the tank": between rows far apart the run may have gone further, unless it has told how far. */
static void where_extreme(const struct tl_drawing *d, const struct tl_panel *p, double value,
                          char *text, size_t size)
{
    const struct tl_chart_extreme *known = known_extreme(d, p, value);
    const double apart_h = tl_rows_apart_h(&d->run);
    if (known && known->of_hour)
        snprintf(text, size, "mean of an hour");
    else if (!known && apart_h > TL_ROWS_FAR_APART_H)
        snprintf(text, size, "of rows %.2g h apart", apart_h);
    else
        snprintf(text, size, p->moments ? "moment in the tank" : "in the tank");
}

/* A ring around the lowest or highest point of the first curve; its value and time stand beside the
 * heading, where no curve can run through them. */
static void mark_extreme(struct spot *s, const struct tl_drawing *d)
{
    const struct tl_panel *p = s->panel;
    const bool lowest = p->mark == TL_MARK_LOWEST;

    if (p->mark != TL_MARK_LOWEST && p->mark != TL_MARK_HIGHEST)
        return;
    const struct tl_trace *trace = tl_drawing_trace(d, p->curve[0].column);
    if (!trace || !(trace->lowest <= trace->highest))
        return;
    const double value = lowest ? trace->lowest : trace->highest;
    const double t = lowest ? trace->lowest_t : trace->highest_t;
    long minutes = lround(t * 1440);
    double y = s->top + HEADING_LINE * 0.5;
    char where[40];
    where_extreme(d, p, value, where, sizeof where);
    snprintf(s->mark, sizeof s->mark, "%s %s: %.3g mg/L, day %ld %02ld:%02ld",
             lowest ? "lowest" : "highest", where, value, minutes / 1440, minutes / 60 % 24,
             minutes % 60);
    tl_put_text(s->f, s->mark, 60, TL_PLOT_RIGHT - 18, y, s->picture, "right font small_font");
    tl_put_text(s->f, "", 1, TL_PLOT_RIGHT - 7, y, s->picture, "point @ring");
    fprintf(s->f, "set label '' at first %.9g, %.9g front point @ring\n", t, value);
}

/* Shade where the water of the first curve is at its freezing point, and say so beside the heading. A
 * band counts whole, whenever in it there was ice. */
static void mark_ice(struct spot *s, const struct tl_drawing *d)
{
    const struct tl_panel *p = s->panel;
    const double freezing = tl_display_value(p->dim, d->o->units, 0);

    const double half_d = d->bands && !d->edge ? d->band_d / 2 : 0;

    if (p->mark != TL_MARK_ICE)
        return;
    const struct tl_trace *trace = tl_drawing_trace(d, p->curve[0].column);
    for (size_t i = 0, next; trace && i < trace->points; i = next) {
        next = i + 1;
        if (!(trace->point[i].low <= freezing))
            continue;
        while (next < trace->points && trace->point[next].low <= freezing)
            next++;
        fprintf(s->f,
                "set object rectangle from first %.9g, graph 0 to first %.9g, graph 1 behind "
                "fillcolor rgb ice_shade fillstyle solid noborder\n",
                fmax(trace->point[i].t - half_d, d->from_d),
                fmin(trace->point[d->edge && next < trace->points ? next : next - 1].t + half_d,
                     d->to_d));
        if (d->bands && d->band_d > 1)
            snprintf(s->mark, sizeof s->mark, "shaded blue: ice at some hour of %.0f days",
                     d->band_d);
        else
            snprintf(s->mark, sizeof s->mark, "shaded blue: ice %s",
                     d->bands ? "at some hour of the day" : "on the water");
    }
    tl_put_text(s->f, s->mark, 40, TL_PLOT_RIGHT, s->top + HEADING_LINE * 0.5, s->picture,
                "right font small_font");
}

void tl_drawing_put_events(FILE *f, const struct tl_drawing *d)
{
    for (size_t i = 0; i < d->words; i++) {
        const struct tl_chart_event *e = d->event[i];
        if (e->end_d > e->t_d)
            fprintf(f,
                    "set object rectangle from first %.9g, graph 0 to first %.9g, graph 1 behind "
                    "fillcolor rgb event_shade fillstyle transparent solid 0.35 noborder\n",
                    e->t_d, fmin(e->end_d, d->to_d));
        fprintf(f,
                "set arrow from first %.9g, graph 0 to first %.9g, graph 1 nohead linestyle %d "
                "back\n",
                e->t_d, e->t_d, TL_STYLE_EVENT);
    }
}

static int write_panel(struct spot *s, struct tl_drawing *d, enum tl_chart_id id, size_t index,
                       bool last)
{
    s->f = tl_drawing_open(d, "%s_%zu.gp", tl_chart_name(id), index + 1);
    if (s->f) {
        find_scale(s, d);
        write_frame(s, d, last);
        name_curves(s, d);
        /* shades, the later over the earlier: nothing covers the field of danger */
        tl_drawing_put_events(s->f, d);
        mark_ice(s, d);
        draw_limits(s, d);
        write_names(s);
        mark_extreme(s, d);
    }
    return tl_drawing_close(d, s->f);
}

/* --- around the panels --------------------------------------------------------------------- */

/* What stands beside the line of the i-th event. */
static void event_words(const struct tl_drawing *d, size_t i, char *text, size_t size)
{
    tl_text_clean(d->event[i]->text, WORD_WIDTH, false, text, size - 40);
    if (d->times[i] > 1)
        snprintf(text + strlen(text), 40, " (first of %zu)", d->times[i]);
}

void tl_drawing_put_event_words(FILE *f, const struct tl_drawing *d,
                                const struct tl_event_words_place *at)
{
    char text[256];

    for (size_t i = 0; i < d->words; i++) {
        const struct tl_word *w = &d->word[i];
        double y = at->top + at->heading_px + TL_EVENT_WORD_LINE * (w->row + 0.5);
        /* the line from the plot to the word leaves out the heading where it would strike it through */
        bool free = w->x > at->from_px && w->x < at->to_px;
        fprintf(f, "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %d\n",
                screen_x(w->x), (at->top + (free ? 0 : at->heading_px)) / at->picture,
                screen_x(w->x), (y + 7) / at->picture, TL_STYLE_EVENT);
        event_words(d, i, text, sizeof text);
        tl_put_text(f, text, TL_PICTURE_WIDTH, w->x + (w->to_the_left ? -5 : 5), y, at->picture,
                    w->to_the_left ? "right font small_font" : "left font small_font");
    }
}

static bool is_lasting(const struct tl_chart_event *e)
{
    return e->end_d > e->t_d;
}

/* Has one of the same words been shaded before the i-th? */
static bool is_named_before(const struct tl_drawing *d, size_t i)
{
    size_t k = 0;
    while (k < i && !(is_lasting(d->event[k]) && !strcmp(d->event[k]->text, d->event[i]->text)))
        k++;
    return k < i;
}

/* "Grey: while an event lasts (pump off)": each of them once. False when none is shaded. */
static bool name_lasting(const struct tl_drawing *d, char *text, size_t size)
{
    size_t named = 0;

    tl_format(text, size, "Grey: while an event lasts (");
    for (size_t i = 0; i < d->words; i++) {
        const struct tl_chart_event *e = d->event[i];
        if (!is_lasting(e) || is_named_before(d, i))
            continue;
        /* "nitrite peak, 6 mg/L: it falls": of a phase what begins, not what it begins with */
        const char *begins = e->weight == TL_CHART_PHASE ? strstr(e->text, ": ") : NULL;
        char words[256];
        tl_text_clean(begins ? begins + 2 : e->text, WORD_WIDTH, false, words, sizeof words);
        tl_format(text + strlen(text), size - strlen(text), "%s%s", named++ ? "; " : "", words);
    }
    tl_format(text + strlen(text), size - strlen(text), ").");
    return named > 0;
}

/* Does a limit that changes with the water stand on the chart? */
static bool has_moving_limit(const struct tl_drawing *d, const struct tl_chart_plan *plan)
{
    for (size_t p = 0; p < TL_PANELS && plan->panel[p].heading; p++)
        for (size_t k = 0; k < TL_CURVES && plan->panel[p].curve[k].column; k++) {
            const struct tl_curve *c = &plan->panel[p].curve[k];
            const struct tl_trace *trace = tl_drawing_trace(d, c->column);
            if (c->limit && c->style != TL_STYLE_REFERENCE && trace &&
                trace->lowest <= trace->highest)
                return true;
        }
    return false;
}

/* What a line stands for where it is no curve through every row. */
static void note_bands(const struct tl_drawing *d, const struct tl_chart_plan *plan, char *note,
                       size_t size)
{
    const bool shaded = !plan->panel[0].tray_suffix, each = !(d->band_d > 1);
    char of[40] = "each day";
    if (!each)
        snprintf(of, sizeof of, "every %.0f days", d->band_d);
    tl_format(note, size, "%s: mean of %s%s.%s%s", d->edge ? "Steps" : "Line", of,
              d->cuts > 0 ? ", cut where an event falls" : "",
              !shaded ? ""
              : each  ? " Shaded: the day’s lowest to highest."
                      : " Shaded: their lowest to highest.",
              !has_moving_limit(d, plan) ? ""
              : each                     ? " Limits that move: the day’s strictest."
                                         : " Limits that move: their strictest.");
}

/* Nothing where the rows are close. */
static void note_rows(const struct tl_drawing *d, const struct tl_chart_plan *plan, char *note,
                      size_t size)
{
    const double apart_h = tl_rows_apart_h(&d->run);
    *note = '\0';
    if (apart_h > TL_ROWS_FAR_APART_H && !plan->panel[0].tray_suffix)
        tl_format(
            note, size,
            "Rows %.3g h apart: between them only the lowest and highest of the run are drawn. "
            "The table of limits counts every hour.",
            apart_h);
}

static void put_note(const struct spot *first, FILE *f, const char *note, double *foot)
{
    if (!*note)
        return;
    tl_put_text(f, note, 1e6, MARGIN, *foot, first->picture, "left font small_font");
    *foot += NOTE_LINE;
}

static void write_words(const struct tl_drawing *d, const struct spot *first, FILE *f)
{
    const struct tl_chart_plan *plan = first->plan;
    double y = first->picture - TOP - TITLE_LINE * 0.5, foot = FOOT + NOTE_LINE * 0.5;
    char note[160];

    for (size_t i = 0; i < TL_TITLE_LINES; i++)
        if (*d->title[i]) {
            tl_put_text(f, d->title[i], 1e6, MARGIN, y, first->picture, "left font title_font");
            y -= TITLE_LINE;
        }
    y -= (SUBJECT_LINE - TITLE_LINE) * 0.5;
    char subject[160];
    tl_view_subject(d, (enum tl_chart_id)(plan - tl_chart_plan), subject, sizeof subject);
    tl_put_text(f, subject, 1e6, MARGIN, y, first->picture, "left font subject_font");
    if (d->unnamed) {
        snprintf(note, sizeof note, "and %zu more event%s", d->unnamed, d->unnamed == 1 ? "" : "s");
        tl_put_text(f, note, 60, TL_PICTURE_WIDTH - 16, y, first->picture, "right font small_font");
    }
    if (plan->note)
        put_note(first, f, plan->note, &foot);
    note_rows(d, plan, note, sizeof note);
    put_note(first, f, note, &foot);
    if (d->bands) {
        note_bands(d, plan, note, sizeof note);
        put_note(first, f, note, &foot);
    }
    char grey[512];
    if (name_lasting(d, grey, sizeof grey))
        tl_put_text(f, grey, (TL_PICTURE_WIDTH - 2.0 * MARGIN) / TL_SMALL_SIZE, MARGIN, foot,
                    first->picture, "left font small_font");
    const double mark_px = tl_text_width(first->mark) * TL_SMALL_SIZE;
    const struct tl_event_words_place at = {.top = first->top,
                                            .picture = first->picture,
                                            .heading_px = HEADING_LINE,
                                            .from_px = TL_PLOT_LEFT + first->heading_px + 6,
                                            .to_px = *first->mark ? TL_PLOT_RIGHT - 22 - mark_px
                                                                  : INFINITY};
    tl_drawing_put_event_words(f, d, &at);
}

bool tl_drawing_has_panel(const struct tl_drawing *d, const struct tl_panel *p)
{
    if (!p->optional)
        return p->heading != NULL;
    const struct tl_trace *first =
        p->tray_suffix ? tray_trace(d, p, 1) : tl_drawing_trace(d, p->curve[0].column);
    return first && first->highest > 0;
}

/* How many panels of a chart there are to draw. */
static size_t panels_of(const struct tl_drawing *d, const struct tl_chart_plan *plan)
{
    size_t n = 0;
    while (n < TL_PANELS && tl_drawing_has_panel(d, &plan->panel[n]))
        n++;
    return n;
}

int tl_drawing_write_panels(struct tl_drawing *d, enum tl_chart_id id, int *height_px)
{
    const struct tl_chart_plan *plan = &tl_chart_plan[id];
    const size_t panels = panels_of(d, plan);
    int head = TOP + SUBJECT_LINE + TL_EVENT_WORD_LINE * d->word_rows, picture, status = TL_OK;
    struct spot first = {.plan = plan};

    for (size_t i = 0; i < TL_TITLE_LINES; i++)
        head += *d->title[i] ? TITLE_LINE : 0;
    picture = head + TICK_LINES + FOOT - GAP;
    picture += plan->note ? NOTE_LINE : 0;
    picture += d->bands ? NOTE_LINE : 0;
    char grey[512], rows[160];
    note_rows(d, plan, rows, sizeof rows);
    picture += *rows ? NOTE_LINE : 0;
    picture += name_lasting(d, grey, sizeof grey) ? NOTE_LINE : 0;
    for (size_t i = 0; i < panels; i++)
        picture += HEADING_LINE + plan->panel[i].height + GAP;

    int top = picture - head - HEADING_LINE;
    for (size_t i = 0; i < panels && !status; i++) {
        struct spot s = {.plan = plan,
                         .panel = &plan->panel[i],
                         .top = top,
                         .bottom = top - plan->panel[i].height,
                         .picture = picture};
        status = write_panel(&s, d, id, i, i + 1 == panels);
        top = s.bottom - GAP - HEADING_LINE;
        if (i == 0)
            first = s;
    }
    if (status)
        return status;
    FILE *f = tl_drawing_open(d, "%s_words.gp", tl_chart_name(id));
    if (f)
        write_words(d, &first, f);
    *height_px = picture;
    return tl_drawing_close(d, f);
}

/* --- the same for all charts --------------------------------------------------------------- */

static int by_time(const void *a, const void *b)
{
    const struct tl_chart_event *ea = *(const struct tl_chart_event *const *)a,
                                *eb = *(const struct tl_chart_event *const *)b;
    return ea->t_d != eb->t_d ? (ea->t_d > eb->t_d) - (ea->t_d < eb->t_d) : (ea > eb) - (ea < eb);
}

/* The weightiest first, of equal weight the earliest. */
static int by_weight(const void *a, const void *b)
{
    const struct tl_chart_event *ea = *(const struct tl_chart_event *const *)a,
                                *eb = *(const struct tl_chart_event *const *)b;
    return ea->weight != eb->weight ? (ea->weight < eb->weight) - (ea->weight > eb->weight)
                                    : by_time(a, b);
}

/* An event that may get a word, for so many of the same words. */
struct choice {
    const struct tl_chart_event *event; /* first, for by_time() */
    size_t times;
};

/* Many events: of those with the same words the first stands for all. Returns how many there are to
 * choose from, in the order of the events. */
static size_t fold_events(struct tl_drawing *d, const struct tl_chart_event **event, size_t n,
                          struct choice out[TL_WORDS])
{
    size_t choices = 0;
    for (size_t i = 0; i < n; i++) {
        size_t k = n > FOLD_FROM ? 0 : choices;
        while (k < choices && strcmp(out[k].event->text, event[i]->text))
            k++;
        if (k < choices)
            out[k].times++;
        else if (choices < TL_WORDS)
            out[choices++] = (struct choice){event[i], 1};
        else
            d->unnamed++;
    }
    return choices;
}

/* Gives each of these its place, in order of time. False when one finds none. */
static bool place_words(struct tl_drawing *d, const struct choice *choice, size_t n)
{
    struct choice in_time[TL_WORDS];
    char text[256];
    bool all = true;

    memcpy(in_time, choice, n * sizeof *choice);
    qsort(in_time, n, sizeof *in_time, by_time);
    d->words = n;
    for (size_t i = 0; i < n; i++) {
        d->event[i] = in_time[i].event;
        d->times[i] = in_time[i].times;
        event_words(d, i, text, sizeof text);
        d->word[i] = (struct tl_word){.x = plot_x(d, d->event[i]->t_d),
                                      .width = tl_text_width(text) * TL_SMALL_SIZE + 10};
    }
    d->word_rows = tl_place_words(d->word, n, WORD_ROWS, TL_PLOT_LEFT, TL_PICTURE_WIDTH - 10);
    for (size_t i = 0; i < n; i++)
        all = all && d->word[i].row >= 0;
    return all;
}

/* One after the other, each if it leaves those before it their places. */
static void choose_words(struct tl_drawing *d, struct choice *choice, size_t n)
{
    size_t kept = 0;
    if (place_words(d, choice, n))
        return;
    for (size_t i = 0; i < n; i++) {
        choice[kept] = choice[i];
        if (place_words(d, choice, kept + 1))
            kept++;
        else
            d->unnamed += choice[i].times;
    }
    (void)place_words(d, choice, kept);
}

/* Chooses the events to show, and gives each word its place. */
static int place_events(struct tl_drawing *d)
{
    const struct tl_chart_event **event = malloc((d->o->events + 1) * sizeof *event);
    struct choice choice[TL_WORDS];
    size_t n = 0;

    if (!event)
        return TL_E_MEMORY;
    for (size_t i = 0; i < d->o->events; i++)
        if (d->o->event[i].text && d->o->event[i].t_d >= d->from_d && d->o->event[i].t_d <= d->to_d)
            event[n++] = &d->o->event[i];
    qsort(event, n, sizeof *event, by_weight);
    n = fold_events(d, event, n, choice);
    free(event);
    choose_words(d, choice, n);
    return TL_OK;
}

int tl_drawing_lay_out(struct tl_drawing *d)
{
    const struct tl_calendar start = {d->o->start_year, d->o->start_month, d->o->start_day};
    const char *title = d->o->title ? d->o->title : "";
    /* bold type is about a tenth wider */
    const double width = (TL_PICTURE_WIDTH - 2.0 * MARGIN) / TL_TITLE_SIZE / 1.1;

    size_t used = tl_text_clean(title, width, true, d->title[0], sizeof d->title[0]);
    tl_text_clean(title + used, width, false, d->title[1], sizeof d->title[1]);
    d->ticks = tl_time_ticks(&start, d->from_d, d->to_d, TL_PLOT_RIGHT - TL_PLOT_LEFT, d->tick);
    return place_events(d);
}
