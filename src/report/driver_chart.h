/* What drives the risk: for each limit, bars of the inputs that its worst value hangs on most. */
#ifndef TOWERLOOP_REPORT_DRIVER_CHART_H
#define TOWERLOOP_REPORT_DRIVER_CHART_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/chart.h"

enum { TL_DRIVER_PANELS = 4, TL_DRIVER_BARS = 8 };

struct tl_driver_bar {
    const char *name; /* of the input */
    double value;     /* -1 .. 1 where the chart has two sides, else 0 .. 1; cut off there */
    double whole;     /* a paler bar behind it, from 0; NAN: none */
};

struct tl_driver_panel {
    const char *name; /* "un-ionised ammonia, beyond danger in 8 of 100 runs" */
    const struct tl_driver_bar *bar;
    size_t bars; /* 1 .. TL_DRIVER_BARS, the longest first */
};

struct tl_driver_chart {
    const char *name;    /* of the picture, without its ending */
    const char *subject; /* under the scenario's title */
    const struct tl_driver_panel *panel;
    size_t panels;    /* 1 .. TL_DRIVER_PANELS */
    bool two_sides;   /* bars below 0 go to the left */
    const char *left; /* what bars to either side say, over the first panel; NULL: nothing */
    const char *right;
    const char *note; /* below; NULL: nothing */
};

/* Draws the picture. Of `o` are used: where it goes, scripts, title, formats, time limit, interruption.
 * Returns what tl_charts_draw() does; TL_E_CHART for too many or too few panels or bars. */
int tl_driver_chart_draw(const struct tl_driver_chart *c, const struct tl_chart_options *o,
                         struct tl_chart_outcome *outcome);

#endif
