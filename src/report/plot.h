/* Words and frames on a picture, in px from the left and from the bottom, and the plot that a picture
 * with only one of them has: names of curves and limits stand right of it, where they leave it. */
#ifndef TOWERLOOP_REPORT_PLOT_H
#define TOWERLOOP_REPORT_PLOT_H

#include <stdbool.h>
#include <stdio.h>

/* Text of the user or of the program, cut to `em` times the type's size; `how` is gnuplot's. */
void tl_put_text(FILE *f, const char *text, double em, double x, double y, double picture_height,
                 const char *how);

struct tl_box {
    double left, right, bottom, top, picture_height;
};
void tl_put_margins(FILE *f, const struct tl_box *b);

enum { TL_PLOT_NAMES = 24, TL_PLOT_NAME_SIZE = 128 };
struct tl_plot {
    struct tl_box box;
    double low, high; /* of its scale upwards */
    struct tl_plot_name {
        double y;
        char text[TL_PLOT_NAME_SIZE];
        int style;         /* of the stroke that leads to it; 0: none */
    } name[TL_PLOT_NAMES]; /* from the bottom up */
    size_t names;
};

/* A plot on a picture of TL_PLOT_PICTURE px. On a higher one there is room above its heading, which stands
 * in the middle of TL_PLOT_HEADING * 2 px. */
enum { TL_PLOT_PICTURE = 620, TL_PLOT_HEADING = 24 };
struct tl_plot tl_plot_new(double bottom, double low, double high);
/* Has `text` written at the height of `value`, with a stroke there in the line style of what it names; what
 * lies outside the scale stands at its end. */
void tl_plot_name(struct tl_plot *p, double value, int style, const char *text);
/* The same for what is not drawn: without the stroke that leads to it. */
void tl_plot_note(struct tl_plot *p, double value, const char *text);
void tl_plot_write_names(FILE *f, const struct tl_plot *p);
/* Writes the frame, the scale upwards, the headings and the names. */
void tl_plot_write(FILE *f, const struct tl_plot *p, const char *title, const char *subject,
                   const char *y_name);

#endif
