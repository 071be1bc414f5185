/* How large an emergency aerator has to be: the least that holds oxygen at the start where it is lowest,
 * then looked at from all others, as a stronger aerator may make another one the worst. */
#include <math.h>

#include "towerloop/endure.h"
#include "towerloop/status.h"

#define PRECISION    1.01
#define LEAST_G_D_KG 0.01 /* no smaller aerator is looked for */

struct search {
    const struct tl_scenario *scenario;
    struct tl_endure_case c;
    double level; /* oxygen is held at */
    const volatile int *interrupted;
};

/* Lowest oxygen with so strong an aerator; -INFINITY: not to be told. */
static int lowest(struct search *s, const struct tl_worst_hour *when, double transfer_g_d,
                  double *o2)
{
    struct tl_endured out;
    s->c.extra_g_d = transfer_g_d;
    int status = tl_endure_run(s->scenario, when, &s->c, s->interrupted, &out);
    if (!status) {
        *o2 = *out.fault ? -INFINITY : out.lowest_o2;
        tl_endured_free(&out);
    }
    return status;
}

/* The least transfer that holds one start, when *transfer_g_d does not. */
static int hold(struct search *s, const struct tl_worst_hour *when, double *transfer_g_d)
{
    enum { RAISES = 20 };
    double low = fmax(*transfer_g_d, LEAST_G_D_KG * when->fish_kg), o2 = -INFINITY;
    double high = fmax(PRECISION * low, when->fish_kg); /* 1 g/d a kg of fish: far too little */
    double more =
        high > when->fish_kg ? PRECISION : 2; /* what held another start is nearly enough */
    int status = lowest(s, when, high, &o2);

    for (int i = 0; i < RAISES && !status && o2 < s->level; i++) {
        low = high;
        high *= more;
        more = fmin(2, more * more);
        status = lowest(s, when, high, &o2);
    }
    *transfer_g_d = INFINITY;
    if (status || o2 < s->level)
        return status;
    while (high > PRECISION * low && !status) {
        const double middle = sqrt(low * high);
        status = lowest(s, when, middle, &o2);
        if (o2 >= s->level)
            high = middle;
        else
            low = middle;
    }
    *transfer_g_d = high;
    return status;
}

static bool of_one_day(const struct tl_endure_start *a, const struct tl_endure_start *b)
{
    return floor(a->when.at_d) == floor(b->when.at_d);
}

/* All of the day of the worst, and of other days the start of lowest oxygen. */
static bool is_looked_at(const struct tl_endure_starts *starts, size_t i)
{
    const struct tl_endure_start *one = &starts->start[i];
    if (of_one_day(one, &starts->start[starts->worst]))
        return true;
    for (size_t k = 0; k < starts->n; k++)
        if (of_one_day(one, &starts->start[k]) && starts->start[k].lowest_o2 < one->lowest_o2)
            return false;
    return true;
}

/* Lowest oxygen of the starts that are looked at, and which start has it. Without an aerator it is
 * known, but for a start that is the only one. */
static int lowest_of_all(struct search *s, const struct tl_endure_starts *starts,
                         double transfer_g_d, size_t *at, double *least)
{
    int status = TL_OK;
    *least = INFINITY;
    for (size_t i = 0; i < starts->n && !status; i++) {
        double o2 = starts->start[i].lowest_o2;
        if (!is_looked_at(starts, i))
            continue;
        if (transfer_g_d > 0 || isnan(o2))
            status = lowest(s, &starts->start[i].when, transfer_g_d, &o2);
        if (o2 < *least) {
            *least = o2;
            *at = i;
        }
    }
    return status;
}

int tl_endure_need(const struct tl_scenario *s, const struct tl_endure_starts *starts,
                   const struct tl_endure_case *c, const volatile int *interrupted,
                   double *transfer_g_d)
{
    const double danger = s->limits.o2.danger, critical = s->setup.params.o2_critical;
    const double level = fmax(isnan(danger) ? 0 : danger, critical) + TL_ENDURE_MARGIN_O2;
    struct search search = {.scenario = s, .c = *c, .level = level, .interrupted = interrupted};
    double least = 0;
    size_t at = starts->worst;

    search.c.follow_d = 0;
    search.c.extra_for_d = c->outage_d;
    *transfer_g_d = 0;
    int status = lowest_of_all(&search, starts, 0, &at, &least);
    while (!status && least < level) {
        status = hold(&search, &starts->start[at].when, transfer_g_d);
        if (status || isinf(*transfer_g_d))
            break;
        status = lowest_of_all(&search, starts, *transfer_g_d, &at, &least);
    }
    return status;
}
