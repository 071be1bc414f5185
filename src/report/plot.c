/* Words and frames on a picture; one plot with the names of its curves. */
#include "plot.h"

#include <math.h>

#include "drawing.h"
#include "gnuplot.h"

/* px; widths in em */
enum { TOP = 508, TITLE = 28, SUBJECT = 58, NAME_GAP = 18 };
enum { WIDE = 80, NAME_WIDTH = 17, TICKS = 10 };

void tl_put_text(FILE *f, const char *text, double em, double x, double y, double picture_height,
                 const char *how)
{
    fprintf(f, "set label ");
    tl_gnuplot_quote(f, text, em);
    fprintf(f, " at screen %.6f, %.6f %s\n", x / TL_PICTURE_WIDTH, y / picture_height, how);
}

void tl_put_margins(FILE *f, const struct tl_box *b)
{
    fprintf(f,
            "set lmargin at screen %.6f\nset rmargin at screen %.6f\n"
            "set bmargin at screen %.6f\nset tmargin at screen %.6f\n",
            b->left / TL_PICTURE_WIDTH, b->right / TL_PICTURE_WIDTH, b->bottom / b->picture_height,
            b->top / b->picture_height);
}

struct tl_plot tl_plot_new(double bottom, double low, double high)
{
    return (struct tl_plot){.box = {TL_PLOT_LEFT, TL_PLOT_RIGHT, bottom, TOP, TL_PLOT_PICTURE},
                            .low = low,
                            .high = high};
}

static void add_name(struct tl_plot *p, double value, const char *text, int style)
{
    const double share = fmin(fmax((value - p->low) / (p->high - p->low), 0), 1);
    const double y = p->box.bottom + share * (p->box.top - p->box.bottom);
    size_t at = p->names;
    if (at == TL_PLOT_NAMES)
        return;
    for (; at > 0 && p->name[at - 1].y > y; at--)
        p->name[at] = p->name[at - 1];
    p->name[at].y = y;
    p->name[at].style = style;
    snprintf(p->name[at].text, sizeof p->name[at].text, "%s", text);
    p->names++;
}

void tl_plot_name(struct tl_plot *p, double value, int style, const char *text)
{
    add_name(p, value, text, style);
}

void tl_plot_note(struct tl_plot *p, double value, const char *text)
{
    add_name(p, value, text, 0);
}

/* Each as near to where its curve ends as the others allow, with a line to there. */
void tl_plot_write_names(FILE *f, const struct tl_plot *p)
{
    double y[TL_PLOT_NAMES];
    for (size_t i = 0; i < p->names; i++)
        y[i] = p->name[i].y;
    tl_spread(y, p->names, NAME_GAP, p->box.bottom, p->box.top);
    for (size_t i = 0; i < p->names; i++) {
        tl_put_text(f, p->name[i].text, NAME_WIDTH, p->box.right + 36, y[i], p->box.picture_height,
                    "left font small_font");
        if (p->name[i].style)
            fprintf(f,
                    "set arrow from screen %.6f, %.6f to screen %.6f, %.6f nohead linestyle %d\n",
                    (p->box.right + 2) / TL_PICTURE_WIDTH, p->name[i].y / p->box.picture_height,
                    (p->box.right + 32) / TL_PICTURE_WIDTH, y[i] / p->box.picture_height,
                    p->name[i].style);
    }
}

void tl_plot_write(FILE *f, const struct tl_plot *p, const char *title, const char *subject,
                   const char *y_name)
{
    const struct tl_box *b = &p->box;
    tl_put_margins(f, b);
    fprintf(f, "set yrange [%.6g:%.6g]\nset ytics %g\n", p->low, p->high,
            tl_nice_step(p->high - p->low, TICKS));
    tl_put_text(f, title, WIDE, b->left, b->picture_height - TITLE, b->picture_height,
                "left font title_font");
    tl_put_text(f, subject, WIDE, b->left, b->picture_height - SUBJECT, b->picture_height,
                "left font subject_font");
    tl_put_text(f, y_name, WIDE, b->left, b->top + TL_PLOT_HEADING, b->picture_height,
                "left font heading_font");
    tl_plot_write_names(f, p);
}
