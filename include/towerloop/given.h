/* What was given to the water over a run, and over its last month with fish: feed and doses.
 *
 * The last month is the last TL_MONTH_D days with fish in the tank. It begins with the last fish that
 * came into an empty tank, if that is later, or with the run; a run without fish counts as if they were
 * in all the time. */
#ifndef TOWERLOOP_GIVEN_H
#define TOWERLOOP_GIVEN_H

#include "towerloop/model.h"

#define TL_MONTH_D 30.0

struct tl_given {
    double feed_g; /* eaten or left over */
    double dose_g[TL_NDOSE];
    double held_g; /* of the baking soda: by the plan that holds the alkalinity */
};

struct tl_given_watch {
    double start_d, from_d, to_d; /* of the run, of its last month; days since day 0 */
    struct tl_given whole;        /* over the run so far */
    struct tl_given before;       /* up to the last month */
    struct tl_given month;        /* over the last month so far */
    /* in water too cold to feed in: feed, first seen, the coldest; NAN: none */
    double cold_feed_g, cold_feed_d, cold_feed_degC;
};

/* Finds the last month; nothing given yet. TL_OK or TL_E_MEMORY. */
int tl_given_watch(const struct tl_setup *s, struct tl_given_watch *out);
/* The run at `t_d`, rising; `y` with its running totals. What was given between two looks counts to the
 * month if the later of them lies in it. */
void tl_given_see(struct tl_given_watch *w, const struct tl_model *m, double t_d, const double *y);

#endif
