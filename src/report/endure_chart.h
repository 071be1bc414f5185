/* The chart of a study of failures: oxygen over the hours after, one curve a stocking level. */
#ifndef TOWERLOOP_REPORT_ENDURE_CHART_H
#define TOWERLOOP_REPORT_ENDURE_CHART_H

#include "towerloop/chart.h"

#define TL_ENDURE_CURVES 8

struct tl_endure_chart {
    const char *out_dir, *plots_dir; /* as in tl_chart_options */
    const char *title;               /* what fails, and when */
    const char *subject;             /* of the scenario */
    struct {
        char name[32];
        const double *value; /* mg/L, at 0, 1, … steps; NAN: none */
        size_t points;
    } curve[TL_ENDURE_CURVES]; /* the first is the highest */
    size_t curves;
    double step_h;
    double back_h;                    /* the power is back */
    double caution, danger, critical; /* mg/L; NAN: none */
    unsigned formats;
    const volatile int *interrupted;
};

/* Draws endure.png and so on. Returns what tl_charts_draw() does. */
int tl_endure_chart_draw(const struct tl_endure_chart *c, struct tl_chart_outcome *outcome);

#endif
