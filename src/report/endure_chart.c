/* Oxygen after a failure: writes the courses, the limits with their names and the marks for gnuplot. */
#include "endure_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "gnuplot.h"
#include "posix.h"
#include "towerloop/status.h"

/* px */
enum { HEIGHT = 620, TOP = 508, BOTTOM = 84, NAME_GAP = 18, TITLE_Y = 592, SUBJECT_Y = 562 };
enum { MOST_NAMES = TL_ENDURE_CURVES + 3, WIDE = 80 /* em */, NAME_WIDTH = 17 };

struct scale {
    double hours, highest;
};

static double screen_y(double px)
{
    return px / HEIGHT;
}

static struct scale find_scale(const struct tl_endure_chart *c)
{
    struct scale s = {.hours = c->back_h, .highest = 1};
    for (size_t k = 0; k < c->curves; k++) {
        if (c->curve[k].points > 1)
            s.hours = fmax(s.hours, (double)(c->curve[k].points - 1) * c->step_h);
        for (size_t i = 0; i < c->curve[k].points; i++)
            s.highest = fmax(s.highest, c->curve[k].value[i]);
    }
    s.highest = ceil(1.05 * fmax(s.highest, fmax(c->caution, 0)));
    return s;
}

static int write_courses(struct tl_drawing *d, const struct tl_endure_chart *c)
{
    int status = TL_OK;
    for (size_t k = 0; k < c->curves && !status; k++) {
        FILE *f = tl_drawing_open(d, "course_%zu.dat", k + 1);
        for (size_t i = 0; f && i < c->curve[k].points; i++)
            if (isfinite(c->curve[k].value[i]))
                fprintf(f, "%.9g %.6g\n", (double)i * c->step_h, c->curve[k].value[i]);
        status = tl_drawing_close(d, f);
    }
    return status;
}

/* --- names on the right ------------------------------------------------------------------------- */

struct name {
    double y; /* px */
    char text[48];
};

/* Sorted by height, as tl_spread() wants them. */
static void insert(struct name *names, size_t *n, double y, const char *text)
{
    size_t at = (*n)++;
    for (; at > 0 && names[at - 1].y > y; at--)
        names[at] = names[at - 1];
    names[at].y = y;
    snprintf(names[at].text, sizeof names[at].text, "%s", text);
}

static void put_text(FILE *f, const char *text, double em, double x, double y, const char *how)
{
    fprintf(f, "set label ");
    tl_gnuplot_quote(f, text, em);
    fprintf(f, " at screen %.6f, %.6f %s\n", x / TL_PICTURE_WIDTH, screen_y(y), how);
}

static double height_of(const struct scale *s, double value)
{
    return BOTTOM + value / s->highest * (TOP - BOTTOM);
}

/* Where a curve leaves the picture. */
static void write_names(FILE *f, const struct tl_endure_chart *c, const struct scale *s)
{
    const struct {
        double value;
        const char *text;
    } limit[] = {
        {c->caution, "caution"}, {c->danger, "danger"}, {c->critical, "critical: fish die"}};
    struct name name[MOST_NAMES];
    double y[MOST_NAMES];
    size_t n = 0;
    char text[48];

    for (size_t k = 0; k < c->curves; k++)
        if (c->curve[k].points > 0 && isfinite(c->curve[k].value[c->curve[k].points - 1]))
            insert(name, &n, height_of(s, c->curve[k].value[c->curve[k].points - 1]),
                   c->curve[k].name);
    for (size_t i = 0; i < sizeof limit / sizeof *limit; i++) {
        if (!isfinite(limit[i].value))
            continue;
        snprintf(text, sizeof text, "%s, %.3g", limit[i].text, limit[i].value);
        insert(name, &n, height_of(s, limit[i].value), text);
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

static void write_limit(FILE *f, double value, double hours, int style)
{
    if (isfinite(value))
        fprintf(f, "set arrow from 0, %.6g to %.6g, %.6g nohead linestyle %d\n", value, hours,
                value, style);
}

static bool any_below(const struct tl_endure_chart *c)
{
    for (size_t k = 0; k < c->curves; k++)
        for (size_t i = 0; i < c->curve[k].points; i++)
            if (c->curve[k].value[i] < c->critical)
                return true;
    return false;
}

static int write_script(struct tl_drawing *d, const struct tl_endure_chart *c)
{
    const struct scale s = find_scale(c);
    FILE *f = tl_drawing_open(d, "endure_1.gp");
    if (f) {
        const double back_px = TL_PLOT_LEFT + c->back_h / s.hours * (TL_PLOT_RIGHT - TL_PLOT_LEFT);
        fprintf(
            f,
            "set lmargin at screen %.6f\nset rmargin at screen %.6f\n"
            "set bmargin at screen %.6f\nset tmargin at screen %.6f\n"
            "set xrange [0:%.6g]\nset yrange [0:%.6g]\nset xtics %g\nset ytics %g\ncurves = %zu\n",
            (double)TL_PLOT_LEFT / TL_PICTURE_WIDTH, (double)TL_PLOT_RIGHT / TL_PICTURE_WIDTH,
            screen_y(BOTTOM), screen_y(TOP), s.hours, s.highest, tl_nice_step(s.hours, 12),
            tl_nice_step(s.highest, 10), c->curves);
        put_text(f, c->title, WIDE, TL_PLOT_LEFT, TITLE_Y, "left font title_font");
        put_text(f, c->subject, WIDE, TL_PLOT_LEFT, SUBJECT_Y, "left font subject_font");
        put_text(f, "oxygen in the tank, mg/L", WIDE, TL_PLOT_LEFT, TOP + 24,
                 "left font heading_font");
        put_text(f, "hours after the failure", WIDE, (TL_PLOT_LEFT + TL_PLOT_RIGHT) / 2.0, 34,
                 "center font small_font");
        if (any_below(c))
            put_text(f, "below the critical line a course supposes that all fish live on", WIDE,
                     TL_PLOT_LEFT, 13, "left font small_font");
        put_text(f, "it runs again", WIDE, back_px, TOP + 12, "center font small_font");
        fprintf(f, "set arrow from %.6g, graph 0 to %.6g, graph 1 nohead linestyle 23\n", c->back_h,
                c->back_h);
        if (isfinite(c->danger))
            fprintf(f,
                    "set object rectangle from graph 0, first 0 to graph 1, first %.6g behind "
                    "fillcolor rgb danger_shade fillstyle solid noborder\n",
                    c->danger);
        write_limit(f, c->caution, s.hours, 21);
        write_limit(f, c->danger, s.hours, 22);
        write_limit(f, c->critical, s.hours, 22);
        write_names(f, c, &s);
    }
    return tl_drawing_close(d, f);
}

int tl_endure_chart_draw(const struct tl_endure_chart *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir,
                                       .plots_dir = c->plots_dir,
                                       .formats = c->formats,
                                       .interrupted = c->interrupted};
    struct tl_drawing d = {.o = &o, .outcome = outcome, .trays = 1};
    const struct tl_picture picture = {"endure", HEIGHT};
    struct tl_posix_locale locale;
    int status;

    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    if (!tl_posix_plain_begin(&locale))
        return TL_E_MEMORY;
    if (!(status = tl_drawing_make_folder(&d)) && !(status = write_courses(&d, c)) &&
        !(status = write_script(&d, c)))
        status = tl_drawing_paint(&d, &picture, 1);
    tl_drawing_remove_folder(&d);
    tl_posix_plain_end(&locale);
    return status;
}
