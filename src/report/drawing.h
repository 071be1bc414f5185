/* One drawing of a run's charts on its way from the columns to the scripts for gnuplot. */
#ifndef TOWERLOOP_REPORT_DRAWING_H
#define TOWERLOOP_REPORT_DRAWING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "between.h"
#include "layout.h"
#include "plan.h"
#include "recorded.h"
#include "thin.h"
#include "towerloop/chart.h"

/* px; fonts are sized in px too */
enum {
    TL_PICTURE_WIDTH = 1200,
    TL_PLOT_LEFT = 76,
    TL_PLOT_RIGHT = 908, /* the names of curves and limits stand right of it */
    TL_TEXT_SIZE = 17,
    TL_SMALL_SIZE = 15,
    TL_TITLE_SIZE = 24
};
enum { TL_WORDS = 40, TL_TITLE_LINES = 2 };

struct tl_drawing {
    const struct tl_chart_options *o;
    struct tl_chart_outcome *outcome;
    enum tl_chart_view view;
    struct tl_recorded run; /* its rows, or those of its day */
    struct tl_drawn_curve {
        const char *column;           /* of `run`, or one that follows from others */
        const struct tl_panel *panel; /* whose unit it is drawn in; NULL: as it is recorded */
        struct tl_trace trace;
        struct tl_between between;
    } * curve;
    size_t curves;
    double from_d, to_d;
    size_t trays;
    size_t bands;  /* 0: curves are drawn point by point */
    double band_d; /* about the length of a band */
    double *edge;  /* where bands that are drawn begin, and where the last one ends; or NULL */
    size_t cuts;   /* so many of these bands begin at an event */
    /* For tables: every curve is told in stretches of one length, the last one cut short. It suits the run,
     * or something longer, of `stretch_span_d` days. */
    bool stretches;
    double stretch_span_d;
    double least_stretch_d; /* none shorter */
    char *folder;           /* of the drawing's own files */
    char title[TL_TITLE_LINES][512];
    struct tl_tick tick[TL_TICKS];
    size_t ticks;
    struct tl_word word[TL_WORDS];
    const struct tl_chart_event *event[TL_WORDS]; /* in order of time, one a word */
    size_t times[TL_WORDS]; /* how many events of the same words it stands for */
    size_t words;
    size_t unnamed; /* events without a word */
    int word_rows;
};

/* Sets the user's message and returns `status`. */
int tl_drawing_fail(struct tl_drawing *d, int status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* Opens a file in the drawing's own folder for writing; NULL when that fails. Closing reports any
 * failure so far, that of opening (f is NULL) included. */
FILE *tl_drawing_open(struct tl_drawing *d, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
int tl_drawing_close(struct tl_drawing *d, FILE *f);

/* The drawing's own folder, below that of the pictures. */
int tl_drawing_make_folder(struct tl_drawing *d);
void tl_drawing_remove_folder(struct tl_drawing *d);

struct tl_picture {
    const char *name;   /* of the picture, without its ending */
    int height;         /* px */
    bool banded;        /* its curves are days with their range */
    const char *script; /* that draws it; NULL: the one of its name */
};
/* Lets gnuplot draw pictures whose scripts load what lies in the drawing's folder, looks at them and
 * puts them in place. TL_OK or a failure of which the user is told. */
int tl_drawing_paint(struct tl_drawing *d, const struct tl_picture *picture, size_t n);

/* All of that for pictures that are no run's: `write` puts the scripts and their data into the folder
 * and gives the pictures, at most TL_OWN_PICTURES. Returns what tl_charts_draw() does. */
enum { TL_OWN_PICTURES = 16 };
int tl_drawing_do(const struct tl_chart_options *o, struct tl_chart_outcome *outcome,
                  int (*write)(struct tl_drawing *d, const void *arg, struct tl_picture *picture,
                               size_t *n),
                  const void *arg);

/* Reads the table into curves, in the units of the axes. TL_OK or a failure of which the user is told
 * (out of memory apart). */
int tl_drawing_read(struct tl_drawing *d);
/* The same of the rows up to a moment; without two of them there are no curves. */
int tl_drawing_read_start(struct tl_drawing *d, double until_d);
/* The same for the day that the options name: of what the profile shows one band, the day. Without a full
 * day, or with too few rows in it, there are no curves. */
int tl_drawing_read_day(struct tl_drawing *d);
/* The curve of a column, or NULL. */
const struct tl_trace *tl_drawing_trace(const struct tl_drawing *d, const char *column);
/* Whether this panel is drawn: an optional one is if its first curve has anything above 0. */
bool tl_drawing_has_panel(const struct tl_drawing *d, const struct tl_panel *p);
/* Frees the curves. */
void tl_drawing_forget(struct tl_drawing *d);

/* Gives title, ticks and event words their places. TL_OK or TL_E_MEMORY. */
int tl_drawing_lay_out(struct tl_drawing *d);
/* Lines and shades of the events in a plot. */
void tl_drawing_put_events(FILE *f, const struct tl_drawing *d);
/* Their words above a plot. */
enum { TL_EVENT_WORD_LINE = 20 /* px, a row of them */ };
struct tl_event_words_place {
    double top, picture;   /* of the plot, of the picture: px */
    double heading_px;     /* height of the headings between plot and words */
    double from_px, to_px; /* between these no heading stands in the way of a line */
};
void tl_drawing_put_event_words(FILE *f, const struct tl_drawing *d,
                                const struct tl_event_words_place *at);
/* Writes the data of the curves for gnuplot: <prefix><column>.dat. */
int tl_drawing_write_data(struct tl_drawing *d, const char *prefix);
/* What the profile down the tower needs; *height_px becomes the picture's. */
int tl_drawing_write_profile(struct tl_drawing *d, int *height_px);
/* Writes what the chart's script loads: <name>_1.gp … for its panels and <name>_words.gp for what
 * stands around them. *height_px becomes the picture's. */
int tl_drawing_write_panels(struct tl_drawing *d, enum tl_chart_id id, int *height_px);

#endif
