/* How far a run went between its rows, for the curves drawn from them. */
#ifndef TOWERLOOP_REPORT_BETWEEN_H
#define TOWERLOOP_REPORT_BETWEEN_H

#include "recorded.h"
#include "towerloop/chart.h"

#define TL_ROWS_FAR_APART_H 1.5 /* from here on they may miss what a day does */

/* How far apart the rows are, in hours, on average; 0: there are none between which. */
double tl_rows_apart_h(const struct tl_recorded *r);

/* Those of one curve, in order of time. */
struct tl_between {
    const struct tl_chart_extreme *extreme[TL_CHART_EXTREMES];
    size_t n, told;
};

/* Of `extreme[extremes]` those of the quantity that lie between the first and the last row. A mean of an hour is
 * no moment: beside rows that are close it says nothing, and is left out. */
void tl_between_find(struct tl_between *b, const struct tl_chart_extreme *extreme, size_t extremes,
                     enum tl_chart_quantity quantity, const struct tl_recorded *r);
/* The next one up to a row at `t_d`, or NULL. Each is given once. */
const struct tl_chart_extreme *tl_between_next(struct tl_between *b, double t_d);

#endif
