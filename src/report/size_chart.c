/* What limits have to spare: writes the curves, their names and the marks for gnuplot. */
#include "size_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "gnuplot.h"
#include "posix.h"
#include "towerloop/status.h"

/* px */
enum { HEIGHT = 620, TOP = 508, BOTTOM = 72, NAME_GAP = 18, TITLE_Y = 592, SUBJECT_Y = 562 };
enum { MOST_NAMES = TL_SIZE_CURVES + 1, WIDE = 80 /* em */, NAME_WIDTH = 17 };

struct scale {
    double left, right, bottom, top;
    bool log;
};

static double screen_y(double px)
{
    return px / HEIGHT;
}

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

/* --- words -------------------------------------------------------------------------------------- */

static void put_text(FILE *f, const char *text, double em, double x, double y, const char *how)
{
    fprintf(f, "set label ");
    tl_gnuplot_quote(f, text, em);
    fprintf(f, " at screen %.6f, %.6f %s\n", x / TL_PICTURE_WIDTH, screen_y(y), how);
}

static double height_of(const struct scale *s, double value)
{
    const double share = (value - s->bottom) / (s->top - s->bottom);
    return BOTTOM + fmin(fmax(share, 0), 1) * (TOP - BOTTOM);
}

struct name {
    double y; /* px */
    const char *text;
};

/* Sorted by height, as tl_spread() wants them. */
static void insert(struct name *names, size_t *n, double y, const char *text)
{
    size_t at = (*n)++;
    for (; at > 0 && names[at - 1].y > y; at--)
        names[at] = names[at - 1];
    names[at] = (struct name){y, text};
}

/* Where a curve leaves the picture. */
static void write_names(FILE *f, const struct tl_size_chart *c, const struct scale *s)
{
    struct name name[MOST_NAMES];
    double y[MOST_NAMES];
    char asked[48];
    size_t n = 0;

    for (size_t k = 0; k < c->curves; k++) {
        size_t i = c->points;
        while (i > 0 && !isfinite(c->curve[k].y[i - 1]))
            i--;
        if (i > 0)
            insert(name, &n, height_of(s, c->curve[k].y[i - 1]), c->curve[k].name);
    }
    if (!isnan(c->asked)) {
        snprintf(asked, sizeof asked, "asked for, %.3g %%", c->asked);
        insert(name, &n, height_of(s, c->asked), asked);
    }
    for (size_t i = 0; i < n; i++)
        y[i] = name[i].y;
    tl_spread(y, n, NAME_GAP, BOTTOM, TOP);
    for (size_t i = 0; i < n; i++) {
        put_text(f, name[i].text, NAME_WIDTH, TL_PLOT_RIGHT + 22, y[i], "left font small_font");
        fprintf(f, "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle 23\n",
                (TL_PLOT_RIGHT + 2.0) / TL_PICTURE_WIDTH, screen_y(name[i].y),
                (TL_PLOT_RIGHT + 18.0) / TL_PICTURE_WIDTH, screen_y(y[i]));
    }
}

/* --- the script --------------------------------------------------------------------------------- */

static void write_axes(FILE *f, const struct tl_size_chart *c, const struct scale *s)
{
    fprintf(f,
            "set lmargin at screen %.6f\nset rmargin at screen %.6f\n"
            "set bmargin at screen %.6f\nset tmargin at screen %.6f\n"
            "set xrange [%.9g:%.9g]\nset yrange [%.6g:%.6g]\nset ytics %g\ncurves = %zu\n",
            (double)TL_PLOT_LEFT / TL_PICTURE_WIDTH, (double)TL_PLOT_RIGHT / TL_PICTURE_WIDTH,
            screen_y(BOTTOM), screen_y(TOP), s->left, s->right, s->bottom, s->top,
            tl_nice_step(s->top - s->bottom, 10), c->curves);
    if (s->log)
        fprintf(f, "set logscale x 2\n");
    else
        fprintf(f, "set xtics %g\n", tl_nice_step(s->right - s->left, 12));
    put_text(f, c->title, WIDE, TL_PLOT_LEFT, TITLE_Y, "left font title_font");
    put_text(f, c->subject, WIDE, TL_PLOT_LEFT, SUBJECT_Y, "left font subject_font");
    put_text(f, c->y_name, WIDE, TL_PLOT_LEFT, TOP + 24, "left font heading_font");
    put_text(f, c->x_name, WIDE, (TL_PLOT_LEFT + TL_PLOT_RIGHT) / 2.0, 22,
             "center font small_font");
}

static double across(const struct scale *s, double x)
{
    const double share =
        s->log ? log(x / s->left) / log(s->right / s->left) : (x - s->left) / (s->right - s->left);
    return TL_PLOT_LEFT + share * (TL_PLOT_RIGHT - TL_PLOT_LEFT);
}

static int write_script(struct tl_drawing *d, const struct tl_size_chart *c)
{
    const struct scale s = find_scale(c);
    FILE *f = tl_drawing_open(d, "size_1.gp");
    if (f) {
        write_axes(f, c, &s);
        if (s.bottom < 0)
            fprintf(f, "set object rectangle from graph 0, graph 0 to graph 1, first 0 behind "
                       "fillcolor rgb danger_shade fillstyle solid noborder\n");
        if (!isnan(c->asked))
            fprintf(
                f,
                "set arrow from graph 0, first %.6g to graph 1, first %.6g nohead linestyle 21\n",
                c->asked, c->asked);
        if (!isnan(c->answer)) {
            fprintf(f, "set arrow from %.9g, graph 0 to %.9g, graph 1 nohead linestyle 23\n",
                    c->answer, c->answer);
            put_text(f, c->answer_name, WIDE, across(&s, c->answer), TOP + 12,
                     across(&s, c->answer) > (TL_PLOT_LEFT + TL_PLOT_RIGHT) / 2.0
                         ? "right font small_font"
                         : "left font small_font");
        }
        write_names(f, c, &s);
    }
    return tl_drawing_close(d, f);
}

int tl_size_chart_draw(const struct tl_size_chart *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir,
                                       .plots_dir = c->plots_dir,
                                       .formats = c->formats,
                                       .interrupted = c->interrupted};
    struct tl_drawing d = {.o = &o, .outcome = outcome, .trays = 1};
    const struct tl_picture picture = {"size", HEIGHT};
    struct tl_posix_locale locale;
    int status;

    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    if (!(status = tl_drawing_make_folder(&d)) && !(status = write_curves(&d, c)) &&
        !(status = write_script(&d, c)))
        status = tl_drawing_paint(&d, &picture, 1);
    tl_drawing_remove_folder(&d);
    tl_posix_plain_end(&locale);
    return status;
}
