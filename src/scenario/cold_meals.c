/* Feed given in water in which koi and carp hardly digest. Where the weather makes the temperature only a run
 * can tell. */
#include <math.h>
#include <stdlib.h>

#include "loop.h"
#include "reader.h"
#include "towerloop/status.h"
#include "towerloop/stock.h"

#define DAY_S 86400.0

struct cold_meals {
    double days;
    double lowest_degC;
};

/* The one that began last and has not ended. */
static const struct tl_ration *ration_at(const struct tl_setup *s,
                                         const struct tl_event *const *sorted, double t_d)
{
    const struct tl_ration *ration = &s->feeding.ration;
    for (size_t i = 0; i < s->events && sorted[i]->at_d <= t_d; i++)
        if (sorted[i]->kind == TL_EVENT_RATION &&
            !(sorted[i]->for_d > 0 && t_d >= sorted[i]->at_d + sorted[i]->for_d))
            ration = &sorted[i]->ration;
    return ration;
}

static double fish_kg_at(const struct tl_stock *stock, size_t n, double t_d)
{
    double kg = 0;
    for (size_t i = 0; i < n && stock[i].from_d <= t_d; i++)
        kg = stock[i].kg;
    return kg;
}

static void count(const struct tl_setup *s, const struct tl_event *const *sorted,
                  const struct tl_stock *stock, size_t n, struct cold_meals *out)
{
    const struct tl_feeding *f = &s->feeding;
    const double end_d = s->start_d + s->length_d;
    for (double day = floor(s->start_d); day < end_d; day++) {
        bool any = false;
        for (size_t i = 0; i < f->meals; i++) {
            const double t_d = day + f->meal_s[i] / DAY_S;
            const double degC = tl_water_temperature_at(&s->temperature, t_d);
            if (t_d < s->start_d || t_d > end_d || !(degC < TL_TOO_COLD_TO_FEED_DEGC) ||
                degC < f->none_below_degC)
                continue;
            const double kg = fish_kg_at(stock, n, t_d);
            if (!(tl_ration_g_d(ration_at(s, sorted, t_d), kg, kg, degC) >
                  TL_CRUMB_1_D * 1000 * kg))
                continue;
            out->lowest_degC = fmin(out->lowest_degC, degC);
            any = true;
        }
        out->days += any;
    }
}

void tl_check_cold_meals(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    /* what was read with a fault is not to be trusted */
    if (r->diag->errors > 0 || r->cut || s->temperature.kind == TL_TEMPERATURE_WEATHER ||
        s->feeding.log.n > 0 || s->feeding.none_below_degC >= TL_TOO_COLD_TO_FEED_DEGC)
        return;
    const struct tl_event **sorted = NULL;
    struct tl_stock *stock = NULL;
    size_t n = 0;
    struct cold_meals cold = {.lowest_degC = INFINITY};
    if (tl_events_by_time(s, &sorted) == TL_OK && tl_stock_of(s, &stock, &n) == TL_OK)
        count(s, sorted, stock, n, &cold);
    free(sorted);
    free(stock);
    struct tl_node *place = tl_place(r, "feeding.ration");
    if (cold.days > 0)
        tl_warn(r, place ? place : tl_place(r, "feeding"),
                "fed in water below %g degC on %.0f day%s, down to %.3g degC: koi and carp hardly "
                "digest it there; `none below: %g degC` leaves those meals out",
                TL_TOO_COLD_TO_FEED_DEGC, cold.days, cold.days > 1 ? "s" : "", cold.lowest_degC,
                TL_TOO_COLD_TO_FEED_DEGC);
}
