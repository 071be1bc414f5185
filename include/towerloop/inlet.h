/* Source water that is let in at once, by changes and by refills of the settling chamber, and the
 * dechlorinator that meets it. */
#ifndef TOWERLOOP_INLET_H
#define TOWERLOOP_INLET_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/setup.h"

/* Later, and fish were in the chlorine, d. */
#define TL_DOSE_SOON_D (1.0 / 1440)

struct tl_inlet {
    double t_d;       /* days since day 0 */
    double tank_m3;   /* of a change */
    double refill_m3; /* of the chamber */
    double needed_g; /* sodium thiosulfate for its chlorine; 0: it has none, or is treated before */
    double given_g;  /* with it */
};
struct tl_inlet tl_inlet_at(const struct tl_setup *s, double t_d);
/* Whether its chlorine comes in with less dechlorinator than that takes. */
bool tl_inlet_untreated(const struct tl_inlet *i);
/* Whether an event lets water in. */
bool tl_event_lets_in(const struct tl_event *e);

/* Calls `see` once for each instant of a run at which water is let in: those of the plan in order of
 * time, then those of events alone. */
void tl_inlets(const struct tl_setup *s, void (*see)(void *arg, const struct tl_inlet *i),
               void *arg);

#endif
