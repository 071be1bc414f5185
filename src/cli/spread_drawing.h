/* The charts of a spread: fans of what the water does in all its runs, and what drives the risk. */
#ifndef TL_SPREAD_DRAWING_H
#define TL_SPREAD_DRAWING_H

#include "tally.h"
#include "towerloop/chart.h"

/* What the pictures are called, without their ending; closed by NULL. Not every spread has all of them. */
extern const char *const tl_spread_charts[];

/* Into `folder`; `formats`: TL_CHART_PNG | …, 0 for the default. Returns what tl_charts_draw() does. */
int tl_spread_draw(const struct tl_tally *t, enum tl_unit_system units, unsigned formats,
                   const char *folder, struct tl_chart_outcome *outcome);

/* Draw those of the spread in `folder` again, from its runs, into `place`, which must be there. A status; failures
 * have been reported, but for TL_E_MEMORY. */
int tl_spread_draw_again(const char *folder, enum tl_unit_system units, unsigned formats,
                         const char *place);

#endif
