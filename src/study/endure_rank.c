/* Which of the starts that were tried is worst, for each of the matters that are told of them. */
#include <math.h>

#include "endure_case.h"
#include "towerloop/endure.h"
#include "towerloop/verdict.h"

/* Cold and warmth count from what they are midway between the cautions. */
struct tl_endure_frost tl_endure_frost_of(const struct tl_endured *e, const struct tl_limits *l)
{
    const double mid = 0.5 * (l->cold.caution + l->warm.caution);
    struct tl_endure_frost f = {
        .passed_min = INFINITY, .ice_min = e->ice_min, .most_ice_kg = e->most_ice_kg};
    for (int i = TL_LIMIT_COLD; i <= TL_LIMIT_DAY_CHANGE; i++) {
        const struct tl_endured_limit *x = &e->limit[i];
        const double from = i == TL_LIMIT_COLD || i == TL_LIMIT_WARM ? mid : 0;
        const double chill = (x->worst - from) / (x->danger - from);
        if (!(chill > f.chill)) /* NAN counts as nothing */
            continue;
        f.chill = chill;
        f.limit = i;
        f.worst = x->worst;
        f.danger = x->danger;
        f.before = x->before >= TL_DANGER;
        f.passed_min = i == TL_LIMIT_COLD   ? e->cold_min
                       : i == TL_LIMIT_WARM ? e->warm_min
                                            : INFINITY;
    }
    return f;
}

bool tl_endure_freezes(const struct tl_endure_frost *f)
{
    return isfinite(f->ice_min) || f->chill >= 1;
}

static bool is_worse(const struct tl_endure_start *a, const struct tl_endure_start *b)
{
    if (a->danger_min != b->danger_min)
        return a->danger_min < b->danger_min;
    if (a->lost_min != b->lost_min)
        return a->lost_min < b->lost_min;
    return a->lowest_o2 < b->lowest_o2;
}

/* 3: the failure makes the ice, 2: it makes the water too cold or too warm, 1: it was so before, 0: neither. */
static int rank_of_frost(const struct tl_endure_frost *f)
{
    if (f->ice_min > 0 && isfinite(f->ice_min))
        return 3;
    if (f->chill >= 1 && !(f->before > 0) && isinf(f->ice_min))
        return 2;
    return tl_endure_freezes(f) ? 1 : 0;
}

static bool is_colder(const struct tl_endure_frost *a, const struct tl_endure_frost *b)
{
    const int rank_a = rank_of_frost(a), rank_b = rank_of_frost(b);
    if (rank_a != rank_b)
        return rank_a > rank_b;
    if (a->ice_min != b->ice_min)
        return a->ice_min < b->ice_min;
    return a->most_ice_kg != b->most_ice_kg ? a->most_ice_kg > b->most_ice_kg : a->chill > b->chill;
}

/* Fish that were lost before it fails do not die of it. */
static bool lives(const struct tl_endure_start *a)
{
    return isnan(a->lost_before_d);
}

static bool is_short(const struct tl_endure_start *a)
{
    return isfinite(a->caution_min) || isfinite(a->danger_min) || isfinite(a->lost_min);
}

static bool of_one_day(const struct tl_endure_start *a, const struct tl_endure_start *b)
{
    return floor(a->when.at_d) == floor(b->when.at_d);
}

static double film_of(const struct tl_endure_start *a)
{
    return fmin(a->film_left[0], a->film_left[1]);
}

/* Where oxygen suffices at every hour, what comes near to too little of it does so in the warmest water. */
static size_t lowest_of_warmest_day(const struct tl_endure_starts *s)
{
    size_t at = s->warmest;
    for (size_t i = 0; i < s->n; i++)
        if (of_one_day(&s->start[i], &s->start[s->warmest]) &&
            is_worse(&s->start[i], &s->start[at]))
            at = i;
    return at;
}

void tl_endure_rank(struct tl_endure_starts *s)
{
    const struct tl_endure_start *x = s->start;
    bool any_short = false;
    s->worst = s->film = s->warmest = s->frost = 0;
    for (size_t i = 0; i < s->n; i++) {
        any_short |= is_short(&x[i]);
        if (is_worse(&x[i], &x[s->worst]))
            s->worst = i;
        if (!(film_of(&x[i]) >= film_of(&x[s->film])))
            s->film = i;
        if (x[i].when.temperature_degC > x[s->warmest].when.temperature_degC)
            s->warmest = i;
        if (is_colder(&x[i].frost, &x[s->frost].frost))
            s->frost = i;
    }
    if (s->n == 1)
        return; /* nothing is known of it yet */
    if (!tl_endure_freezes(&x[s->frost].frost))
        s->frost = s->n;
    s->caution = s->lost = s->worst;
    if (!any_short)
        s->worst = lowest_of_warmest_day(s);
    for (size_t i = 0; i < s->n; i++) {
        if (lives(&x[i]) && x[i].caution_min < x[s->caution].caution_min)
            s->caution = i;
        if (lives(&x[i]) && x[i].lost_min < x[s->lost].lost_min)
            s->lost = i;
    }
}
