/* The chart of a sizing: what the limits have to spare against the quantity, or, of two quantities, one
 * against the other. */
#ifndef TOWERLOOP_REPORT_SIZE_CHART_H
#define TOWERLOOP_REPORT_SIZE_CHART_H

#include <stdbool.h>

#include "towerloop/chart.h"

#define TL_SIZE_CURVES 5

struct tl_size_chart {
    const char *out_dir, *plots_dir; /* as in tl_chart_options */
    const char *title;
    const char *subject; /* of the scenario */
    const char *x_name;  /* "tower.trays" or "pump.flow, m3/h" */
    const char *y_name;  /* "to spare, % of the limit" */
    const double *x;     /* rising */
    size_t points;
    struct {
        char name[48];
        const double *y;     /* NAN: none */
    } curve[TL_SIZE_CURVES]; /* the tightest first */
    size_t curves;
    bool joined;   /* points joined by lines; else nothing is known between them */
    double asked;  /* a line across with its name, NAN: none */
    double lowest; /* y from here; what lies below is cut off. NAN: from 0 */
    double answer; /* x of the answer; NAN: none */
    const char *answer_name;
    unsigned formats;
    const volatile int *interrupted;
};

/* Draws size.png and so on. Returns what tl_charts_draw() does. */
int tl_size_chart_draw(const struct tl_size_chart *c, struct tl_chart_outcome *outcome);

#endif
