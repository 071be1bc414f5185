/* Looks on while the tower stands. */
#include "towerloop/still_watch.h"

#include <math.h>

void tl_still_watch_begin(struct tl_still_watch *w)
{
    *w = (struct tl_still_watch){.result = {.longest_at_d = NAN, .moist_d = NAN, .moist_at_d = NAN},
                                 .since_d = NAN};
}

/* The present one, as it has been up to `t_d`. */
static void stood(struct tl_still_watch *w, double t_d)
{
    struct tl_stills *r = &w->result;

    if (t_d - w->since_d > r->longest_d || isnan(r->longest_at_d)) {
        r->longest_d = t_d - w->since_d;
        r->longest_at_d = w->since_d;
    }
    r->dry_d = w->dry_before_d + fmax(0, t_d - w->dries_d);
}

void tl_still_watch_add(struct tl_still_watch *w, const struct tl_controls *c, double t_d)
{
    struct tl_stills *r = &w->result;

    if (!isnan(w->since_d))
        stood(w, t_d);
    if (c->dry_since_d == w->since_d)
        return;
    w->since_d = c->dry_since_d;
    if (isnan(w->since_d))
        return;
    w->dries_d = c->dries_d;
    w->dry_before_d = r->dry_d;
    r->count++;
    if (!(w->dries_d - w->since_d >= r->moist_d)) {
        r->moist_d = w->dries_d - w->since_d;
        r->moist_at_d = w->since_d;
    }
    stood(w, t_d);
}
