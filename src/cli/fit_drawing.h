/* The chart of a fit. */
#ifndef TL_FIT_DRAWING_H
#define TL_FIT_DRAWING_H

#include "fit.h"
#include "towerloop/chart.h"

/* Draws charts/fit.png and fit.svg into `folder`; nothing where no reading is of the loop's water. As
 * tl_charts_draw(). */
int tl_fit_draw(const struct tl_fit_bench *b, const struct tl_fit *f, const struct tl_scenario *s,
                enum tl_unit_system units, const char *folder, struct tl_chart_outcome *outcome);

#endif
