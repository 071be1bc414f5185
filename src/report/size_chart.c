/* What limits have to spare: writes the curves, their names and the marks for gnuplot. */
#include "size_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "gnuplot.h"
#include "plot.h"
#include "towerloop/status.h"

enum { BOTTOM = 72, ABOVE = 12, BESIDE = 6, GAP = 16, /* px */ WIDE = 80 /* em */ };

struct scale {
    double left, right, bottom, top;
    bool log;
};

static struct scale find_scale(const struct tl_size_chart *c)
{
    struct scale s = {
        .left = c->x[0], .right = c->x[c->points - 1], .bottom = NAN, .top = -INFINITY};
    s.log = s.left > 0 && s.right > 8 * s.left;
    if (!(s.right > s.left)) {
        s.left -= 0.5;
        s.right += 0.5;
    }
    s.bottom = isnan(c->lowest) ? 0 : INFINITY;
    for (size_t k = 0; k < c->curves; k++)
        for (size_t i = 0; i < c->points; i++)
            if (isfinite(c->curve[k].y[i])) {
                s.top = fmax(s.top, c->curve[k].y[i]);
                s.bottom = fmin(s.bottom, c->curve[k].y[i]);
            }
    if (!isfinite(s.top))
        s.top = 1;
    if (!isnan(c->lowest))
        s.bottom = fmin(fmax(s.bottom, c->lowest), 0);
    s.top = fmax(s.top, isnan(c->asked) ? s.top : 2 * c->asked);
    s.top += 0.05 * (s.top - s.bottom);
    return s;
}

static int write_curves(struct tl_drawing *d, const struct tl_size_chart *c)
{
    int status = TL_OK;
    for (size_t k = 0; k < c->curves && !status; k++) {
        FILE *f = tl_drawing_open(d, "spare_%zu.dat", k + 1);
        for (size_t i = 0; f && i < c->points; i++)
            if (isfinite(c->curve[k].y[i]))
                fprintf(f, "%.9g %.6g\n", c->x[i], c->curve[k].y[i]);
        status = tl_drawing_close(d, f);
    }
    return status;
}

/* --- the script --------------------------------------------------------------------------------- */

/* Where a curve leaves the picture. */
static void name_all(struct tl_plot *p, const struct tl_size_chart *c)
{
    char asked[TL_PLOT_NAME_SIZE];
    for (size_t k = 0; k < c->curves; k++) {
        size_t i = c->points;
        while (i > 0 && !isfinite(c->curve[k].y[i - 1]))
            i--;
        if (i > 0)
            tl_plot_name(p, c->curve[k].y[i - 1], 301 + (int)k, c->curve[k].name);
    }
    snprintf(asked, sizeof asked, "asked for, %.3g %%", c->asked);
    if (!isnan(c->asked))
        tl_plot_name(p, c->asked, 21, asked);
}

static double across(const struct scale *s, const struct tl_box *b, double x)
{
    const double share =
        s->log ? log(x / s->left) / log(s->right / s->left) : (x - s->left) / (s->right - s->left);
    return b->left + share * (b->right - b->left);
}

/* Above the line, or beside its upper end where the heading stands above it. */
static void put_answer(FILE *f, const struct tl_size_chart *c, const struct tl_box *b, double x_px)
{
    const double heading_ends = b->left + TL_TEXT_SIZE * tl_text_width(c->y_name) + GAP;
    const bool left_of_it = x_px > (b->left + b->right) / 2;
    const double width = TL_SMALL_SIZE * tl_text_width(c->answer_name);
    const bool clear = (left_of_it ? x_px - width : x_px) > heading_ends;
    fprintf(f, "set arrow from %.9g, graph 0 to %.9g, graph 1 nohead linestyle 23\n", c->answer,
            c->answer);
    tl_put_text(f, c->answer_name, WIDE,
                clear        ? x_px
                : left_of_it ? x_px - BESIDE
                             : x_px + BESIDE,
                clear ? b->top + ABOVE : b->top - ABOVE, b->picture_height,
                left_of_it ? "right font small_font" : "left font small_font");
}

static int write_script(struct tl_drawing *d, const struct tl_size_chart *c)
{
    const struct scale s = find_scale(c);
    struct tl_plot p = tl_plot_new(BOTTOM, s.bottom, s.top);
    const struct tl_box *b = &p.box;
    FILE *f = tl_drawing_open(d, "size_1.gp");
    if (f) {
        name_all(&p, c);
        if (s.bottom < 0)
            tl_plot_note(&p, s.bottom / 2, "below 0: limit broken");
        tl_plot_write(f, &p, c->title, c->subject, c->y_name);
        fprintf(f, "set xrange [%.9g:%.9g]\ncurves = %zu\njoined = %d\n", s.left, s.right,
                c->curves, c->joined);
        if (s.log)
            fprintf(f, "set logscale x 2\n");
        else
            fprintf(f, "set xtics %g\n", tl_nice_step(s.right - s.left, 12));
        tl_put_text(f, c->x_name, WIDE, (b->left + b->right) / 2, 22, b->picture_height,
                    "center font small_font");
        if (s.bottom < 0)
            fprintf(f, "set object rectangle from graph 0, graph 0 to graph 1, first 0 behind "
                       "fillcolor rgb danger_shade fillstyle solid noborder\n");
        if (!isnan(c->asked))
            fprintf(
                f,
                "set arrow from graph 0, first %.6g to graph 1, first %.6g nohead linestyle 21\n",
                c->asked, c->asked);
        if (!isnan(c->answer))
            put_answer(f, c, b, across(&s, b, c->answer));
    }
    return tl_drawing_close(d, f);
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    int status = write_curves(d, arg);
    picture[(*n)++] = (struct tl_picture){.name = "size", .height = TL_PLOT_PICTURE};
    return status ? status : write_script(d, arg);
}

int tl_size_chart_draw(const struct tl_size_chart *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir,
                                       .plots_dir = c->plots_dir,
                                       .formats = c->formats,
                                       .interrupted = c->interrupted};
    return tl_drawing_do(&o, outcome, write_all, c);
}
