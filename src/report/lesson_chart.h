/* The chart of a lesson: a few courses over days or hours in one plot. */
#ifndef TOWERLOOP_REPORT_LESSON_CHART_H
#define TOWERLOOP_REPORT_LESSON_CHART_H

#include "towerloop/chart.h"

enum { TL_LESSON_CURVES = 4, TL_LESSON_MARKS = 3 };

struct tl_lesson_chart_plan {
    const char *out_dir;
    const char *name; /* of the pictures, without their ending: letters, digits and "-" alone */
    const char *title, *subject;  /* of the chart and of the lesson */
    const char *upwards, *across; /* what the scales show */
    double from, to;              /* of the scale across */
    struct {
        const char *name;
        const double *across, *value; /* NAN: none */
        size_t points;
    } curve[TL_LESSON_CURVES];
    size_t curves;
    struct {
        const char *name;
        double value;
    } level[TL_LESSON_MARKS]; /* lines from side to side */
    size_t levels;
    const volatile int *interrupted;
};

/* Draws <name>.png and <name>.svg. Returns what tl_charts_draw() does. */
int tl_lesson_chart_draw(const struct tl_lesson_chart_plan *c, struct tl_chart_outcome *outcome);

/* The step of a scale for `span` in at most `most` of them, for those who draw with letters. */
double tl_lesson_chart_step(double span, double most);

#endif
