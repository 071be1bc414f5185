/* Where the solids of a run went: how far they filled the trays and the settling chamber and on which day,
 * what the sludge gave back, and how long the film took to come back from a rinse. */
#ifndef TOWERLOOP_SOLIDS_H
#define TOWERLOOP_SOLIDS_H

#include "towerloop/model.h"

#define TL_SOLIDS_MARKS 11 /* 0, 10, ... 100 % */
#define TL_VOIDS_PONDING                                                                           \
    0.9 /* filled share of the voids from which water stands on a tray; judgement */

struct tl_solids_result {
    /* When the first tray, or the chamber, was filled to each mark, days since day 0; NAN: never. */
    double voids_d[TL_SOLIDS_MARKS], chamber_d[TL_SOLIDS_MARKS];
    int voids_tray[TL_SOLIDS_MARKS]; /* which tray, from 1 */
    double most_voids, most_voids_d; /* of any tray, 0..1 and beyond */
    int most_voids_tray;
    double lost_area; /* share of that tray's wetted area that it cost then */
    double most_chamber, most_chamber_d;
    double
        overflow_m_d;  /* over the chamber, at the flow of the start; INFINITY without a surface */
    double pass_share; /* of the solids in the water, that the clean chamber keeps in one pass */
    double caught_share; /* of the solids that left the water, those that settled; NAN: none left */
    double sludge_tan_g_d; /* most that sludge gave back in a day: ammonia, gN */
    double sludge_ss_g_d;  /* and dissolved organics, gCOD */
    /* Of the rinse after which it took longest: when, the share of the ammonia oxidisers of all trays
     * that was gone, and the days until there were as many again. NAN: nothing was rinsed; INFINITY
     * days: not by the end. */
    double rinsed_d, rinse_lost, rinse_days;
};

/* Day on which the first tray's voids, or the chamber, were filled to `share` (0..1, rounded up to a
 * mark), days since day 0; NAN: never. `tray` gets its number from 1; may be NULL. */
double tl_solids_voids_day(const struct tl_solids_result *r, double share, int *tray);
double tl_solids_chamber_day(const struct tl_solids_result *r, double share);

/* Gathers it from samples in the order of time. */
struct tl_solids_watch {
    struct tl_solids_result result;
    double next_d;                /* of the next look */
    double oxidisers_g, before_g; /* at the last look; before the rinse that is followed */
    double rinsed_d, lost;        /* NAN: none is followed */
    double leached_d, leached[2]; /* running totals of sludge at the last full day */
};

void tl_solids_watch_begin(struct tl_solids_watch *w, const struct tl_model *m);
/* The state proper `y` at an instant, and the running totals at it or a step later. */
void tl_solids_watch_add(struct tl_solids_watch *w, const struct tl_model *m, double t_d,
                         const double *y, const double *totals);
/* `y` is the state at the end. */
void tl_solids_watch_end(struct tl_solids_watch *w, const struct tl_model *m, const double *y,
                         struct tl_solids_result *out);

#endif
