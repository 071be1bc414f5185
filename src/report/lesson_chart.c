/* The chart of a lesson: writes the courses and the script for gnuplot. */
#include "lesson_chart.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drawing.h"
#include "plot.h"
#include "towerloop/status.h"

enum { BOTTOM = 84 /* px */, WIDE = 80 /* em */, TICKS = 12 };
/* line styles of plots/style.gp, and the first of plots/lesson.gp */
enum { CAUTION = 21, DANGER = 22, CURVE = 201 };

/* From zero, so that a small change does not look like a large one; pH alone has no zero. */
static void find_scale(const struct tl_lesson_chart_plan *c, double *low, double *high)
{
    double lowest = INFINITY, highest = -INFINITY;
    for (size_t k = 0; k < c->curves; k++)
        for (size_t i = 0; i < c->curve[k].points; i++) {
            lowest = fmin(lowest, c->curve[k].value[i]);
            highest = fmax(highest, c->curve[k].value[i]);
        }
    for (size_t k = 0; k < c->levels; k++)
        highest = fmax(highest, c->level[k].value);
    const double step = tl_nice_step(fmax(highest, 1e-6), 10);
    *low = fmin(0, floor(lowest / step) * step);
    *high = ceil(1.05 * fmax(highest, 1e-6) / step) * step;
}

static int write_courses(struct tl_drawing *d, const struct tl_lesson_chart_plan *c)
{
    int status = TL_OK;
    for (size_t k = 0; k < c->curves && !status; k++) {
        FILE *f = tl_drawing_open(d, "course_%zu.dat", k + 1);
        for (size_t i = 0; f && i < c->curve[k].points; i++)
            if (isfinite(c->curve[k].value[i]))
                fprintf(f, "%.9g %.6g\n", c->curve[k].across[i], c->curve[k].value[i]);
        status = tl_drawing_close(d, f);
    }
    return status;
}

static int level_style(const char *name)
{
    return strncmp(name, "caution", 7) == 0 ? CAUTION : DANGER;
}

static void name_all(struct tl_plot *p, const struct tl_lesson_chart_plan *c)
{
    char text[TL_PLOT_NAME_SIZE];
    for (size_t k = 0; k < c->curves; k++) {
        size_t last = c->curve[k].points;
        while (last > 0 && !isfinite(c->curve[k].value[last - 1]))
            last--;
        if (last > 0)
            tl_plot_name(p, c->curve[k].value[last - 1], CURVE + (int)k, c->curve[k].name);
    }
    for (size_t k = 0; k < c->levels; k++) {
        snprintf(text, sizeof text, "%s, %.3g", c->level[k].name, c->level[k].value);
        tl_plot_name(p, c->level[k].value, level_style(c->level[k].name), text);
    }
}

static int write_script(struct tl_drawing *d, const struct tl_lesson_chart_plan *c)
{
    double low, high;
    find_scale(c, &low, &high);
    struct tl_plot p = tl_plot_new(BOTTOM, low, high);
    FILE *f = tl_drawing_open(d, "lesson_1.gp");
    if (f) {
        const struct tl_box *b = &p.box;
        name_all(&p, c);
        tl_plot_write(f, &p, c->title, c->subject, c->upwards);
        fprintf(f, "set xrange [%.6g:%.6g]\nset xtics %g\ncurves = %zu\n", c->from, c->to,
                tl_nice_step(c->to - c->from, TICKS), c->curves);
        tl_put_text(f, c->across, WIDE, (b->left + b->right) / 2, 34, b->picture_height,
                    "center font small_font");
        for (size_t k = 0; k < c->levels; k++)
            fprintf(f, "set arrow from %.6g, %.6g to %.6g, %.6g nohead linestyle %d\n", c->from,
                    c->level[k].value, c->to, c->level[k].value, level_style(c->level[k].name));
    }
    return tl_drawing_close(d, f);
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    const struct tl_lesson_chart_plan *c = arg;
    const int status = write_courses(d, c);
    picture[(*n)++] =
        (struct tl_picture){.name = c->name, .height = TL_PLOT_PICTURE, .script = "lesson"};
    return status ? status : write_script(d, c);
}

int tl_lesson_chart_draw(const struct tl_lesson_chart_plan *c, struct tl_chart_outcome *outcome)
{
    const struct tl_chart_options o = {.out_dir = c->out_dir, .interrupted = c->interrupted};
    return tl_drawing_do(&o, outcome, write_all, c);
}

double tl_lesson_chart_step(double span, double most)
{
    return tl_nice_step(span, most);
}
