/* Reads feed and doses off the running totals. */
#include "towerloop/given.h"

#include <math.h>
#include <stdlib.h>

#include "loop.h"
#include "towerloop/status.h"
#include "towerloop/stock.h"

static const double time_slack = 1e-9; /* days */

static void find_month(const struct tl_stock *stock, size_t n, struct tl_given_watch *w)
{
    size_t last = n; /* the last stretch with fish */
    while (last > 0 && !(stock[last - 1].kg > 0))
        last--;
    if (last == 0)
        return;
    size_t first = last - 1;
    while (first > 0 && stock[first - 1].kg > 0)
        first--;
    w->to_d = last < n ? stock[last].from_d : w->to_d;
    w->from_d = stock[first].from_d;
}

int tl_given_watch(const struct tl_setup *s, struct tl_given_watch *out)
{
    struct tl_stock *stock = NULL;
    size_t n = 0;
    *out = (struct tl_given_watch){.start_d = s->start_d,
                                   .from_d = s->start_d,
                                   .to_d = s->start_d + s->length_d,
                                   .cold_feed_d = NAN,
                                   .cold_feed_degC = NAN};
    int status = tl_stock_of(s, &stock, &n);
    if (status != TL_OK)
        return status;
    find_month(stock, n, out);
    out->from_d = fmax(out->from_d, out->to_d - TL_MONTH_D);
    free(stock);
    return TL_OK;
}

static struct tl_given less(const struct tl_given *a, const struct tl_given *b)
{
    struct tl_given out = {.feed_g = a->feed_g - b->feed_g, .held_g = a->held_g - b->held_g};
    for (int i = 0; i < TL_NDOSE; i++)
        out.dose_g[i] = a->dose_g[i] - b->dose_g[i];
    return out;
}

/* A meal is seen a sample late: where none is given in the cold, the water may have cooled since. */
static void see_cold_meal(struct tl_given_watch *w, const struct tl_model *m, double t_d, double kg,
                          double feed_g)
{
    const struct tl_feeding *f = &tl_model_setup(m)->feeding;
    const double degC = tl_model_temperature(m, t_d);
    if (!(degC < TL_TOO_COLD_TO_FEED_DEGC) ||
        (f->log.n == 0 && f->none_below_degC >= TL_TOO_COLD_TO_FEED_DEGC) ||
        !(feed_g > TL_CRUMB_1_D * 1000 * kg / fmax(1, (double)f->meals)))
        return;
    w->cold_feed_g += feed_g;
    w->cold_feed_degC = fmin(w->cold_feed_degC, degC);
    w->cold_feed_d = fmin(w->cold_feed_d, t_d);
}

void tl_given_see(struct tl_given_watch *w, const struct tl_model *m, double t_d, const double *y)
{
    const struct tl_layout *at = tl_model_layout(m);
    const double *fish = &y[at->fish_total];
    const double feed_g = fish[TL_FED_G] + fish[TL_UNEATEN_G];
    see_cold_meal(w, m, t_d, tl_model_biomass(m, y), feed_g - w->whole.feed_g);
    w->whole.feed_g = feed_g;
    w->whole.held_g = y[at->plan + TL_PLAN_G];
    for (int i = 0; i < TL_NDOSE; i++)
        w->whole.dose_g[i] = y[at->dosed_g + (size_t)i];
    if (t_d > w->to_d + time_slack)
        return;
    if (w->from_d > w->start_d && t_d <= w->from_d + time_slack)
        w->before = w->whole;
    w->month = less(&w->whole, &w->before);
}
