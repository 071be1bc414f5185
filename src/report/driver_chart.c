/* Writes the bars of what drives the risk, their names and figures for gnuplot. One plot holds all panels:
 * its scale upwards counts pixels. */
#include "driver_chart.h"

#include <math.h>
#include <stdio.h>

#include "drawing.h"
#include "plot.h"
#include "towerloop/status.h"

/* px */
enum { LEFT = 510, RIGHT = 1080, HEAD = 108, PANEL_HEAD = 34, BAR = 26, PANEL_GAP = 16, FOOT = 76 };
enum { HALF = 8, BESIDE = 8, NAME_GAP = 14, MARGIN = 24 };
enum { WIDE = 74, NAME_WIDTH = 30, NOTE_WIDTH = 1000 /* em */ };
enum { WHOLE = 1, MORE, LESS }; /* kinds of bars in drivers.gp */

/* The height of the plot. */
static double height_of(const struct tl_driver_chart *c)
{
    double height = 0;
    for (size_t i = 0; i < c->panels; i++)
        height += PANEL_HEAD + (double)c->panel[i].bars * BAR + PANEL_GAP;
    return height;
}

static double lowest(const struct tl_driver_chart *c)
{
    return c->two_sides ? -1 : 0;
}

static double cut(const struct tl_driver_chart *c, double value)
{
    return fmin(fmax(value, lowest(c)), 1);
}

static double across(const struct tl_driver_chart *c, double value)
{
    return LEFT + (value - lowest(c)) / (1 - lowest(c)) * (RIGHT - LEFT);
}

static void write_bar(FILE *f, double value, double y, int half, int kind)
{
    fprintf(f, "%.6g %.6g 0 %.6g %.6g %.6g %d\n", value, y, value, y - half, y + half, kind);
}

static int write_bars(struct tl_drawing *d, const struct tl_driver_chart *c)
{
    FILE *f = tl_drawing_open(d, "drivers.dat");
    double y = height_of(c);
    for (size_t i = 0; f && i < c->panels; i++) {
        y -= PANEL_HEAD;
        for (size_t k = 0; k < c->panel[i].bars; k++, y -= BAR) {
            const struct tl_driver_bar *b = &c->panel[i].bar[k];
            if (isfinite(b->whole))
                write_bar(f, cut(c, b->whole), y - BAR / 2.0, HALF, WHOLE);
            write_bar(f, cut(c, b->value), y - BAR / 2.0, HALF, b->value < 0 ? LESS : MORE);
        }
        y -= PANEL_GAP;
    }
    return tl_drawing_close(d, f);
}

/* In a column of their own, where no bar and no name is in their way. */
static void put_figures(FILE *f, const struct tl_driver_chart *c, const struct tl_driver_bar *b,
                        double y, double picture)
{
    char text[48];
    if (c->two_sides)
        snprintf(text, sizeof text, "%+.2f", b->value);
    else if (isfinite(b->whole))
        snprintf(text, sizeof text, "%.0f, %.0f %%", 100 * cut(c, b->value),
                 100 * cut(c, b->whole));
    else
        snprintf(text, sizeof text, "%.0f %%", 100 * cut(c, b->value));
    tl_put_text(f, text, WIDE, TL_PICTURE_WIDTH - MARGIN, y, picture, "right font small_font");
}

/* Where there is nothing to either side, beside the bars of a panel. */
static void put_zero(FILE *f, double top, double bottom)
{
    fprintf(f, "set arrow from 0, %g to 0, %g nohead linewidth 1 linecolor rgb '#404040' front\n",
            bottom, top);
}

static void put_panels(FILE *f, const struct tl_driver_chart *c, const struct tl_box *b)
{
    double y = b->top;
    for (size_t i = 0; i < c->panels; i++) {
        tl_put_text(f, c->panel[i].name, WIDE, MARGIN, y - PANEL_HEAD / 2.0, b->picture_height,
                    "left font heading_font");
        y -= PANEL_HEAD;
        put_zero(f, y - b->bottom, y - b->bottom - (double)c->panel[i].bars * BAR);
        for (size_t k = 0; k < c->panel[i].bars; k++, y -= BAR) {
            const struct tl_driver_bar *bar = &c->panel[i].bar[k];
            tl_put_text(f, bar->name, NAME_WIDTH, LEFT - NAME_GAP, y - BAR / 2.0, b->picture_height,
                        "right font small_font");
            put_figures(f, c, bar, y - BAR / 2.0, b->picture_height);
        }
        y -= PANEL_GAP;
    }
}

static void put_sides(FILE *f, const struct tl_driver_chart *c, const struct tl_box *b)
{
    const double zero = across(c, 0);
    if (c->left)
        tl_put_text(f, c->left, WIDE, zero - BESIDE, b->top + BESIDE, b->picture_height,
                    "right font small_font");
    if (c->right)
        tl_put_text(f, c->right, WIDE, zero + BESIDE, b->top + BESIDE, b->picture_height,
                    "left font small_font");
}

static int write_script(struct tl_drawing *d, const struct tl_driver_chart *c)
{
    const double plot = height_of(c), picture = HEAD + plot + FOOT;
    const struct tl_box b = {LEFT, RIGHT, FOOT, FOOT + plot, picture};
    FILE *f = tl_drawing_open(d, "%s_1.gp", c->name);
    if (f) {
        tl_put_margins(f, &b);
        fprintf(f, "set xrange [%g:1]\nset yrange [0:%g]\n", lowest(c), plot);
        fprintf(f, "set xtics %g\n", c->two_sides ? 0.5 : 0.2);
        tl_put_text(f, d->o->title ? d->o->title : "", WIDE, MARGIN, picture - 28, picture,
                    "left font title_font");
        tl_put_text(f, c->subject, WIDE, MARGIN, picture - 58, picture, "left font subject_font");
        fprintf(f, "right_bar = '%s'\nleft_bar = '#5f8fbf'\n",
                c->two_sides ? "#c2571a" : "#0b4f8a");
        put_sides(f, c, &b);
        put_panels(f, c, &b);
        if (c->note)
            tl_put_text(f, c->note, NOTE_WIDTH, MARGIN, 18, picture, "left font small_font");
    }
    return tl_drawing_close(d, f);
}

static int check(struct tl_drawing *d, const struct tl_driver_chart *c)
{
    bool good = c->panels > 0 && c->panels <= TL_DRIVER_PANELS;
    for (size_t i = 0; i < c->panels && good; i++)
        good = c->panel[i].bars > 0 && c->panel[i].bars <= TL_DRIVER_BARS;
    return good ? TL_OK
                : tl_drawing_fail(d, TL_E_CHART, "%s: nothing or too much to draw", c->name);
}

static int write_all(struct tl_drawing *d, const void *arg, struct tl_picture *picture, size_t *n)
{
    const struct tl_driver_chart *c = arg;
    int status;
    if ((status = check(d, c)) != TL_OK || (status = write_bars(d, c)) != TL_OK)
        return status;
    picture[(*n)++] = (struct tl_picture){
        .name = c->name, .height = HEAD + (int)height_of(c) + FOOT, .script = "drivers"};
    return write_script(d, c);
}

int tl_driver_chart_draw(const struct tl_driver_chart *c, const struct tl_chart_options *o,
                         struct tl_chart_outcome *outcome)
{
    return tl_drawing_do(o, outcome, write_all, c);
}
