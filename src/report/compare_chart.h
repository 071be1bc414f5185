/* The charts of a comparison: its variants laid over each other, and a page of small pictures. */
#ifndef TOWERLOOP_REPORT_COMPARE_CHART_H
#define TOWERLOOP_REPORT_COMPARE_CHART_H

#include <stdbool.h>
#include <stdint.h>

#include "towerloop/chart.h"

enum {
    TL_COMPARE_CURVES = 12, /* more cannot be told apart */
    /* total ammonia, un-ionised ammonia, nitrite, oxygen; laid over each other also alkalinity,
     * pH and, outdoors, the temperature of the water */
    TL_COMPARE_SMALL = 4,
    TL_COMPARE_PANELS = 7,
    TL_COMPARE_PAGE = 24, /* rows of small pictures */
    TL_COMPARE_LIMITS = 96
};

/* A limit, and which of the first TL_COMPARE_PAGE variants have it. */
struct tl_compare_limit {
    struct tl_chart_limit limit;
    uint32_t of; /* bit i: the i-th one */
};

struct tl_compare_chart {
    const char *out_dir, *plots_dir; /* as in tl_chart_options */
    const char *title;
    struct tl_compare_curves {
        const char *name;
        const char *series_csv;
        const struct tl_chart_extreme *extreme; /* as in tl_chart_options */
        size_t extremes;
    } * variant;
    size_t variants;                      /* at most TL_COMPARE_PAGE are drawn */
    const struct tl_compare_limit *limit; /* each once; at most TL_COMPARE_LIMITS */
    size_t limits;
    int start_year, start_month, start_day; /* the date of day 0; year 0: it is not shown */
    bool outdoors;                          /* the weather makes the temperature of some variant */
    unsigned formats;
    const volatile int *interrupted;
};

/* Draws compare.png and compare_multiples.png and so on. Returns what tl_charts_draw() does. */
int tl_compare_chart_draw(const struct tl_compare_chart *c, struct tl_chart_outcome *outcome);

/* What panel `q` shows: a column of series.csv, and in words with its unit. */
const char *tl_compare_panel_column(size_t q);
const char *tl_compare_panel_text(size_t q);

#endif
