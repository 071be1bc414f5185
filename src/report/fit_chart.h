/* The chart of a fit: what was read, and what the model says with the scenario's own values and the fitted
 * ones. One panel a quantity and place, one time axis for all. */
#ifndef TOWERLOOP_REPORT_FIT_CHART_H
#define TOWERLOOP_REPORT_FIT_CHART_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/chart.h"

enum tl_fit_mark {
    TL_FIT_MARK_NUMBER,  /* bar: one standard error to each side */
    TL_FIT_MARK_COLOURS, /* between two colours: the bar joins them */
    TL_FIT_MARK_BELOW,   /* `high` is the bound */
    TL_FIT_MARK_ABOVE,   /* `low` is the bound */
    TL_FIT_MARKS
};

struct tl_fit_chart_reading {
    double t_d; /* days since 00:00 of the start date */
    enum tl_fit_mark mark;
    double low, high; /* ends of the bar, in the unit of the axis; an open end is not looked at */
    bool held;        /* back, while the fit was tried */
    bool wild;        /* so far off that it hardly counts */
};

struct tl_fit_chart_point {
    double t_d, before, fitted; /* t_d rising; NAN: no such water, a gap */
};

struct tl_fit_chart_panel {
    char name[96];  /* with the unit: "nitrite in the tank, mg/L as N" */
    bool from_zero; /* the axis begins at 0; else around the values */
    const struct tl_fit_chart_reading *reading;
    size_t readings; /* at least 1 */
    const struct tl_fit_chart_point *point;
    size_t points; /* at least 1 */
};

#define TL_FIT_PANELS 40

struct tl_fit_chart {
    const struct tl_fit_chart_panel *panel; /* from the top down */
    size_t panels;                          /* 1..TL_FIT_PANELS */
    double from_d, to_d;                    /* of the time axis; from_d < to_d */
    bool fitted;                            /* false: the readings told nothing */
    const char *note;                       /* at the foot; "": none */
};

/* Draws fit.png and so on. Of `o` are used: where they go, scripts, title, start date, formats, time
 * limit, interruption. Returns what tl_charts_draw() does; TL_E_CHART for no or too many panels, or no
 * time between the ends. */
int tl_fit_chart_draw(const struct tl_fit_chart *c, const struct tl_chart_options *o,
                      struct tl_chart_outcome *outcome);

#endif
