/* The water and the film down the tower over a day: a narrow plot a quantity, the top tray uppermost. */
#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "gnuplot.h"
#include "plan.h"
#include "plot.h"
#include "towerloop/status.h"
#include "views.h"

/* px */
enum {
    HEAD = 150,  /* title lines, subject, headings of two lines */
    TITLE = 31,  /* a line of the title */
    FOOT = 70,   /* figures of the scales, the note */
    TRAY = 20,   /* a tray, if they are not too many */
    LEAST = 220, /* the plots */
    MOST = 560,
    LEFT = 96,
    RIGHT = 1184,
    GAP = 34,
    MARGIN = 24
};
enum { TICKS = 4, NAMED = 20 /* trays with their figures, at most */, WIDE = 80 /* em */ };

static const struct tl_trace *trace_of(const struct tl_drawing *d, const struct tl_profile *p,
                                       size_t tray)
{
    char name[64];
    snprintf(name, sizeof name, "tray%02zu%s", tray, p->tray_suffix);
    return tl_drawing_trace(d, name);
}

/* The mean of the day with its lowest and highest, a line a tray; before them the water that comes
 * down on the first. Returns the highest of all by *highest. */
static int write_profile(struct tl_drawing *d, size_t i, double *highest)
{
    const struct tl_profile *p = &tl_profile[i];
    FILE *f = tl_drawing_open(d, "trays_%zu.dat", i + 1);
    *highest = 0;
    for (size_t tray = 0; f && tray <= d->trays; tray++) {
        const struct tl_trace *trace = tray        ? trace_of(d, p, tray)
                                       : p->coming ? tl_drawing_trace(d, p->coming)
                                                   : NULL;
        if (!trace || trace->points == 0 || !isfinite(trace->point[0].value))
            continue;
        const struct tl_point *day = &trace->point[0];
        fprintf(f, "%zu %.6g %.6g %.6g\n", tray, day->value, day->low, day->high);
        *highest = fmax(*highest, day->high);
    }
    return tl_drawing_close(d, f);
}

static double plots_height(const struct tl_drawing *d)
{
    return fmin(MOST, fmax(LEAST, TRAY * (double)(d->trays + 1)));
}

static void write_ticks(const struct tl_drawing *d, FILE *f, bool named)
{
    const size_t step = (size_t)fmax(1, tl_nice_step((double)d->trays, NAMED));
    fprintf(f, "set ytics (\"%s\" 0", named ? "water in" : "");
    for (size_t tray = 1; tray <= d->trays; tray++)
        if (tray == d->trays || (tray % step == 0 && d->trays - tray > step / 2)) {
            if (named)
                fprintf(f, ", \"tray %zu\" %zu", tray, tray);
            else
                fprintf(f, ", \"\" %zu", tray);
        }
    fprintf(f, ")\n");
}

static void write_words(const struct tl_drawing *d, FILE *f, double height)
{
    double y = height - 10 - TITLE * 0.5;
    char subject[160];
    for (size_t i = 0; i < TL_TITLE_LINES; i++)
        if (*d->title[i]) {
            tl_put_text(f, d->title[i], 1e6, MARGIN, y, height, "left font title_font");
            y -= TITLE;
        }
    tl_view_subject(d, TL_CHART_TRAYS, subject, sizeof subject);
    tl_put_text(f, subject, WIDE, MARGIN, y, height, "left font subject_font");
    tl_put_text(f, tl_chart_plan[TL_CHART_TRAYS].note, 1e6, MARGIN, 16, height,
                "left font small_font");
}

int tl_drawing_write_profile(struct tl_drawing *d, int *height_px)
{
    const double each = (double)(RIGHT - LEFT + GAP) / TL_PROFILES;
    const double height = FOOT + plots_height(d) + HEAD - (*d->title[1] ? 0 : TITLE);
    int status = TL_OK;

    for (size_t i = 0; i < TL_PROFILES && !status; i++) {
        const double left = LEFT + (double)i * each;
        const struct tl_box b = {left, left + each - GAP, FOOT, FOOT + plots_height(d), height};
        double highest;
        if ((status = write_profile(d, i, &highest)))
            break;
        const double to = highest > 0 ? 1.08 * highest : 1;
        FILE *f = tl_drawing_open(d, "trays_%zu.gp", i + 1);
        if (f) {
            fprintf(f, "unset label\n");
            tl_put_margins(f, &b);
            fprintf(f, "set xrange [0:%.6g]\nset xtics %g\nset yrange [%zu.6:-0.6]\n", to,
                    tl_nice_step(to, TICKS), d->trays);
            write_ticks(d, f, i == 0);
            tl_put_text(f, tl_profile[i].heading, 18, b.left, b.top + 32, height,
                        "left font small_font");
            tl_put_text(f, tl_profile[i].unit, 18, b.left, b.top + 14, height,
                        "left font small_font");
            if (i == 0)
                write_words(d, f, height);
        }
        status = tl_drawing_close(d, f);
    }
    *height_px = (int)height;
    return status;
}
