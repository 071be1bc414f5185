/* From the result of a run to the extremes that its charts show. */
#include "chart_extremes.h"

#include <math.h>

#include "date.h"

struct list {
    struct tl_date start;
    struct tl_chart_extreme *out;
    size_t n;
};

static void add(struct list *l, enum tl_chart_quantity quantity, enum tl_chart_side side,
                double value, const char *time)
{
    struct tl_date date;
    if (l->n == TL_CHART_EXTREMES || isnan(value) || !tl_date_parse(time, &date))
        return;
    l->out[l->n++] = (struct tl_chart_extreme){
        .quantity = quantity, .side = side, .value = value, .t_d = tl_days_since(&l->start, &date)};
}

size_t tl_chart_extremes_of(const struct tl_run_result *r,
                            struct tl_chart_extreme out[TL_CHART_EXTREMES])
{
    static const enum tl_chart_quantity of[TL_NEXTREME] = {
        [TL_EXTREME_TAN] = TL_CHART_OF_TAN,
        [TL_EXTREME_NO2] = TL_CHART_OF_NO2,
        [TL_EXTREME_NO3] = TL_CHART_OF_NO3,
        [TL_EXTREME_O2] = TL_CHART_OF_O2,
        [TL_EXTREME_PH] = TL_CHART_OF_PH,
        [TL_EXTREME_ALK] = TL_CHART_OF_ALK,
        [TL_EXTREME_CHLORINE] = TL_CHART_OF_CHLORINE,
    };
    static const struct {
        enum tl_limit_id limit;
        enum tl_chart_quantity quantity;
        enum tl_chart_side side;
        bool of_hour;
    } limit[] = {
        {TL_LIMIT_NH3, TL_CHART_OF_NH3, TL_CHART_ABOVE, true},
        {TL_LIMIT_COLD, TL_CHART_OF_TEMPERATURE, TL_CHART_BELOW, false},
        {TL_LIMIT_WARM, TL_CHART_OF_TEMPERATURE, TL_CHART_ABOVE, false},
    };
    struct list l = {.out = out};
    if (!tl_date_parse(r->start, &l.start))
        return 0;

    for (size_t i = 0; i < sizeof limit / sizeof *limit; i++) {
        const struct tl_run_limit *worst = &r->limit[limit[i].limit];
        const size_t before = l.n;
        add(&l, limit[i].quantity, limit[i].side, worst->worst, worst->worst_time);
        if (l.n > before)
            out[before].of_hour = limit[i].of_hour;
    }
    for (int i = 0; i < TL_NEXTREME; i++) {
        const struct tl_extreme_pair *e = &r->extreme[i];
        const bool low =
            of[i] == TL_CHART_OF_O2 || of[i] == TL_CHART_OF_PH || of[i] == TL_CHART_OF_ALK;
        if (low)
            add(&l, of[i], TL_CHART_BELOW, e->lowest, e->lowest_time);
        if (!low || of[i] == TL_CHART_OF_PH)
            add(&l, of[i], TL_CHART_ABOVE, e->highest, e->highest_time);
    }
    return l.n;
}
