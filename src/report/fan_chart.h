/* Fan charts: how many runs of the same loop, with uncertain inputs, spread over time.
 *
 * For each quantity and each moment the caller works out what 5, 25, 50, 75 and 95 % of the runs stay
 * below, as an ensemble's streamed statistics give it, and hands over the rows:
 *
 *     struct tl_fan_row row[] = {{.t_d = 0, .share = {7.1, 7.3, 7.5, 7.6, 7.8}}, ...};
 *     struct tl_fan_chart fan = {.name = "spread_oxygen", .subject = "Oxygen in 1000 runs",
 *                                .y_name = "Oxygen in the tank, mg/L", .row = row, .rows = n,
 *                                .caution = 6, .danger = 3, .side = TL_CHART_BELOW};
 *     struct tl_chart_options o = {.out_dir = "charts", .title = scenario->title, ...};
 *     status = tl_fan_charts_draw(&fan, 1, &o, &outcome);
 *
 * which makes charts/spread_oxygen.png and .svg. */
#ifndef TOWERLOOP_REPORT_FAN_CHART_H
#define TOWERLOOP_REPORT_FAN_CHART_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/chart.h"

enum { TL_FAN_SHARES = 5, TL_FANS = 16 };

struct tl_fan_row {
    double t_d; /* days since 00:00 of the start date, rising */
    double
        share[TL_FAN_SHARES]; /* 5, 25, 50, 75, 95 % of the runs lie below, in the unit of the axis;
                                    rising; NAN: none, a gap */
};

struct tl_fan_chart {
    const char *name;    /* of the picture, without its ending: small letters, digits, "_" */
    const char *subject; /* "Oxygen in 1000 runs" */
    const char *y_name;  /* with the unit: "Oxygen, mg/L" */
    const struct tl_fan_row *row;
    size_t rows;             /* at least 2 */
    double caution, danger;  /* in the unit of the axis; NAN: none */
    enum tl_chart_side side; /* on which they are broken */
    bool from_zero;          /* the axis begins at 0; else around the values */
    const char *note;        /* below the plot, what the limits are not told by it; NULL: none */
};

/* Draws n (at most TL_FANS) pictures. Of `o` are used: where they go, scripts, title, start date, events,
 * formats, time limit, interruption. Returns what tl_charts_draw() does; TL_E_CHART for too many pictures or too few
 * rows. */
int tl_fan_charts_draw(const struct tl_fan_chart *fan, size_t n, const struct tl_chart_options *o,
                       struct tl_chart_outcome *outcome);

#endif
