/* Which extremes of a run its curves take in, and when. */
#include "between.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define LATE_D 2e-6 /* times are written with six digits after the point */

double tl_rows_apart_h(const struct tl_recorded *r)
{
    return r->rows > 1 ? 24 * (r->to_d - r->from_d) / (double)(r->rows - 1) : 0;
}

static bool is_taken_in(const struct tl_chart_extreme *e, const struct tl_recorded *r)
{
    return isfinite(e->value) && e->t_d > r->from_d + LATE_D && e->t_d < r->to_d - LATE_D &&
           (!e->of_hour || tl_rows_apart_h(r) > TL_ROWS_FAR_APART_H);
}

static int by_time(const void *a, const void *b)
{
    const struct tl_chart_extreme *const *ea = a, *const *eb = b;
    return ((*ea)->t_d > (*eb)->t_d) - ((*ea)->t_d < (*eb)->t_d);
}

void tl_between_find(struct tl_between *b, const struct tl_chart_extreme *extreme, size_t extremes,
                     enum tl_chart_quantity quantity, const struct tl_recorded *r)
{
    *b = (struct tl_between){.n = 0};
    for (size_t i = 0; i < extremes && b->n < TL_CHART_EXTREMES; i++)
        if (quantity != TL_CHART_OF_NOTHING && extreme[i].quantity == quantity &&
            is_taken_in(&extreme[i], r))
            b->extreme[b->n++] = &extreme[i];
    qsort(b->extreme, b->n, sizeof *b->extreme, by_time);
}

const struct tl_chart_extreme *tl_between_next(struct tl_between *b, double t_d)
{
    return b->told < b->n && b->extreme[b->told]->t_d <= t_d ? b->extreme[b->told++] : NULL;
}
