/* Looks on while film dies and comes back. */
#include "towerloop/shock_watch.h"

#include <math.h>

#define SLACK_D   1e-6
#define NOTICED   0.005 /* share killed from which on it is worth telling */
#define LEAST_D   0.25  /* of a stretch, for a rate */
#define WINDOW_D  1.0   /* so that meals and nights even out */
#define UNTIL_NOW 1e-9

void tl_shock_watch_begin(struct tl_shock_watch *w, const struct tl_setup *s)
{
    *w = (struct tl_shock_watch){.seen_d = NAN};
    for (size_t i = 0; i < s->events; i++)
        w->any = w->any || tl_event_is_shock(&s->event[i]);
}

/* Ammonia oxidised a day, gN/d, over the last day or what is known of it; NAN: too little. */
static double rate_g_d(const struct tl_shock_watch *w, double since_d)
{
    const size_t last = (w->samples - 1) % TL_SHOCK_SAMPLES;
    const size_t known = w->samples < TL_SHOCK_SAMPLES ? w->samples : TL_SHOCK_SAMPLES;
    size_t first = last;
    for (size_t i = 1; i < known; i++) {
        const size_t at = (w->samples - 1 - i) % TL_SHOCK_SAMPLES;
        if (w->t_d[at] < w->t_d[last] - WINDOW_D - UNTIL_NOW || w->t_d[at] < since_d)
            break;
        first = at;
    }
    const double length_d = w->t_d[last] - w->t_d[first];
    return length_d >= LEAST_D ? (w->oxidised_g[last] - w->oxidised_g[first]) / length_d : NAN;
}

static struct tl_shock *present(struct tl_shock_watch *w)
{
    const size_t n = w->result.count;
    return n > 0 && n <= TL_SHOCKS_SHOWN ? &w->result.of[n - 1] : NULL;
}

/* The shock between the last sample and this one, if it killed anything. */
static void look_for_shock(struct tl_shock_watch *w, const struct tl_setup *s, double t_d,
                           double living_g)
{
    if (isnan(w->seen_d) || !(w->living_g > 0) || !(living_g < (1 - NOTICED) * w->living_g))
        return;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (!tl_event_is_shock(e) || e->at_d < w->seen_d - SLACK_D || e->at_d > t_d + SLACK_D)
            continue;
        w->last_d = e->at_d;
        if (!w->open) {
            w->open = true;
            w->before_g = w->living_g;
            w->before_g_d = rate_g_d(w, -INFINITY);
            w->result.count++;
            if (present(w))
                *present(w) = (struct tl_shock){
                    .event = i, .at_d = e->at_d, .oxidation_d = NAN, .oxidisers_d = NAN};
        }
        if (present(w)) {
            present(w)->times++;
            /* only now: what starves afterwards was not killed */
            present(w)->killed = fmax(present(w)->killed, 1 - living_g / w->before_g);
        }
        return;
    }
}

static void follow(struct tl_shock_watch *w, const double *tank, double t_d)
{
    struct tl_shock *k = present(w);
    const double since_d = t_d - w->last_d;

    if (!k)
        return;
    if (tank[TL_TAN] > k->tan) {
        k->tan = tank[TL_TAN];
        k->tan_d = t_d;
    }
    if (tank[TL_NO2] > k->no2) {
        k->no2 = tank[TL_NO2];
        k->no2_d = t_d;
    }
    /* a whole day of it after the last shock */
    if (since_d < WINDOW_D - SLACK_D)
        k->oxidation_d = NAN;
    else if (isnan(k->oxidation_d) && rate_g_d(w, w->last_d) >= TL_SHOCK_BACK * w->before_g_d)
        k->oxidation_d = since_d;
}

void tl_shock_watch_add(struct tl_shock_watch *w, const struct tl_model *m,
                        const struct tl_snapshot *glance, const double *y, double totals_d,
                        const double *totals)
{
    if (!w->any)
        return;
    const double living_g = tl_living_oxidisers_g(m, y);
    look_for_shock(w, tl_model_setup(m), glance->t_d, living_g);
    const size_t at = w->samples++ % TL_SHOCK_SAMPLES;
    w->t_d[at] = totals_d;
    w->oxidised_g[at] = tl_ammonia_oxidised_g(m, totals);
    if (w->result.count > 0)
        follow(w, glance->tank, glance->t_d);
    if (w->open && living_g >= TL_SHOCK_BACK * w->before_g) {
        w->open = false;
        if (present(w))
            present(w)->oxidisers_d = glance->t_d - w->last_d;
    }
    w->seen_d = glance->t_d;
    w->living_g = living_g;
}
