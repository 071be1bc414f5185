/* Numbers of the charts in a table: where the rows begin, and ranges. */
#ifndef TL_HTML_NUMBERS_H
#define TL_HTML_NUMBERS_H

#include "chart_table.h"
#include "document.h"
#include "towerloop/scenario.h"

/* "0.21", or "0.21 to 0.34" */
struct tl_figure tl_figure_range(struct tl_chart_range r);
/* "0.27 (0.21 to 0.34)", the mean first */
struct tl_figure tl_figure_spread(struct tl_chart_spread s);
/* "Each row is a stretch of 1 d ..." */
void tl_stretch_note(struct tl_html *h, const struct tl_chart_tables *t);
/* The row's heading: when its stretch begins. */
void tl_stretch_cell(struct tl_html *h, const struct tl_date *start,
                     const struct tl_chart_tables *t, size_t row);

#endif
