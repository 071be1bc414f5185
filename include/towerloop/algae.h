/* What the algae of a run came to: how far they spread, what they took, how they moved oxygen and pH. */
#ifndef TOWERLOOP_ALGAE_H
#define TOWERLOOP_ALGAE_H

#include <stdbool.h>

#include "towerloop/ledger.h"
#include "towerloop/model.h"

struct tl_algae_result {
    bool sunny, green; /* there are mats; there is green water. Not sunny: nothing else counts */
    double top_cover;  /* of the first tray at the end, 0..1 */
    double half_covered_d; /* when it first passed 50 %, days since day 0; NAN: never */
    /* in the tank: the most between the lowest and the highest of one day */
    double o2_swing_g_m3, ph_swing;
    double
        green_most_g_m3; /* green water at its thickest, gCOD/m3: what its rotting takes of oxygen */
    double nitrogen_g;   /* taken by growth, less what was given back in breathing and death */
    /* of all that came in or was dissolved in the water at the start; NAN where there is none */
    double nitrogen_share;
};

/* Gathers it from samples in the order of time. */
struct tl_algae_watch {
    struct tl_algae_result result;
    double day, o2_low, o2_high, ph_low, ph_high; /* of the present day */
};

void tl_algae_watch_begin(struct tl_algae_watch *w, const struct tl_model *m);
/* Tank and pH of `glance`, the state proper `y` of the same instant. */
void tl_algae_watch_add(struct tl_algae_watch *w, const struct tl_model *m,
                        const struct tl_snapshot *glance, const double *y);
/* `y_start` and `y` are the states at the start and at the end. */
void tl_algae_watch_end(struct tl_algae_watch *w, const struct tl_model *m,
                        const struct tl_ledger *ledger, const double *y_start, const double *y,
                        struct tl_algae_result *out);

#endif
