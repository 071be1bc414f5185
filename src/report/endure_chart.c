/* Oxygen after a failure: writes the courses, the limits with their names and the marks for gnuplot. */
#include "endure_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "plot.h"
#include "towerloop/status.h"

enum { BOTTOM = 84 /* px */, WIDE = 80 /* em */ };

struct scale {
    double hours, highest;
};

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

/* Where a curve leaves the picture. */
static void name_all(struct tl_plot *p, const struct tl_endure_chart *c)
{
    const struct {
        double value;
        int style;
        const char *text;
    } limit[] = {{c->caution, 21, "caution below"},
                 {c->danger, 22, "danger below"},
                 {c->critical, 22, "fish die below"}};
    char text[TL_PLOT_NAME_SIZE];

    for (size_t k = 0; k < c->curves; k++)
        if (c->curve[k].points > 0 && isfinite(c->curve[k].value[c->curve[k].points - 1]))
            tl_plot_name(p, c->curve[k].value[c->curve[k].points - 1], 201 + (int)k,
                         c->curve[k].name);
    for (size_t i = 0; i < sizeof limit / sizeof *limit; i++) {
        snprintf(text, sizeof text, "%s %.3g", limit[i].text, limit[i].value);
        if (isfinite(limit[i].value))
            tl_plot_name(p, limit[i].value, limit[i].style, text);
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
    struct tl_plot p = tl_plot_new(BOTTOM, 0, s.highest);
    const struct tl_box *b = &p.box;
    FILE *count = tl_drawing_open(d, "endure_curves.gp");
    if (count)
        fprintf(count, "curves = %zu\n", c->curves);
    const int counted = tl_drawing_close(d, count);
    if (counted)
        return counted;
    FILE *f = tl_drawing_open(d, "endure_1.gp");
    if (f) {
        const double back_px = b->left + c->back_h / s.hours * (b->right - b->left);
        name_all(&p, c);
        tl_plot_write(f, &p, c->title, c->subject, "oxygen in the tank, mg/L");
        fprintf(f, "set xrange [0:%.6g]\nset xtics %g\n", s.hours, tl_nice_step(s.hours, 12));
        tl_put_text(f, "hours after the failure", WIDE, (b->left + b->right) / 2, 34,
                    b->picture_height, "center font small_font");
        if (any_below(c))
            tl_put_text(f, "where fish die a curve supposes that all of them live on", WIDE,
                        b->left, 13, b->picture_height, "left font small_font");
        tl_put_text(f, "it runs again", WIDE, back_px, b->top + 12, b->picture_height,
                    "center font small_font");
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
    }
    return tl_drawing_close(d, f);
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    int status = write_courses(d, arg);
    picture[(*n)++] = (struct tl_picture){.name = "endure", .height = TL_PLOT_PICTURE};
    return status ? status : write_script(d, arg);
}

int tl_endure_chart_draw(const struct tl_endure_chart *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir,
                                       .plots_dir = c->plots_dir,
                                       .formats = c->formats,
                                       .interrupted = c->interrupted};
    return tl_drawing_do(&o, outcome, write_all, c);
}
