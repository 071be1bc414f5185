/* How often and how long the tower stood without water, and how long its media stayed moist. */
#ifndef TOWERLOOP_STILL_WATCH_H
#define TOWERLOOP_STILL_WATCH_H

#include "towerloop/model.h"

struct tl_stills {
    size_t count;
    double longest_d, longest_at_d; /* and when that began, days since day 0 */
    double moist_d,
        moist_at_d; /* the least that media would stay moist, of all of them; INFINITY: under water */
    double dry_d;   /* in all, with media that had dried out */
};
struct tl_still_watch {
    struct tl_stills result;
    double since_d, dries_d; /* of the present one; since_d NAN: water runs */
    double dry_before_d;
};

void tl_still_watch_begin(struct tl_still_watch *w);
/* Samples in the order of time; water counts as back from the first one that shows it. */
void tl_still_watch_add(struct tl_still_watch *w, const struct tl_controls *c, double t_d);

#endif
