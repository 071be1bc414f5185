/* Looks on while algae grow. */
#include <math.h>
#include <string.h>

#include "loop.h"
#include "towerloop/algae.h"

static void begin_day(struct tl_algae_watch *w, double day)
{
    w->day = day;
    w->o2_low = w->ph_low = INFINITY;
    w->o2_high = w->ph_high = -INFINITY;
}

void tl_algae_watch_begin(struct tl_algae_watch *w, const struct tl_model *m)
{
    *w = (struct tl_algae_watch){.result = {.half_covered_d = NAN, .nitrogen_share = NAN}};
    w->result.sunny = tl_model_lit_trays(m) > 0;
    w->result.green = tl_model_has_green_water(m);
    begin_day(w, NAN);
}

void tl_algae_watch_add(struct tl_algae_watch *w, const struct tl_model *m,
                        const struct tl_snapshot *glance, const double *y)
{
    struct tl_algae_result *r = &w->result;

    if (!r->sunny)
        return;
    if (isnan(r->half_covered_d) && tl_model_cover(m, y, 0) > 0.5)
        r->half_covered_d = glance->t_d;
    if (floor(glance->t_d) != w->day)
        begin_day(w, floor(glance->t_d));
    w->o2_low = fmin(w->o2_low, glance->tank[TL_O2]);
    w->o2_high = fmax(w->o2_high, glance->tank[TL_O2]);
    w->ph_low = fmin(w->ph_low, glance->tank_ph);
    w->ph_high = fmax(w->ph_high, glance->tank_ph);
    r->o2_swing_g_m3 = fmax(r->o2_swing_g_m3, w->o2_high - w->o2_low);
    r->ph_swing = fmax(r->ph_swing, w->ph_high - w->ph_low);
    if (r->green) {
        const struct tl_setup *s = tl_model_setup(m);
        r->green_most_g_m3 =
            fmax(r->green_most_g_m3,
                 y[tl_model_layout(m)->green] / (s->tank.volume_m3 + s->chamber.volume_m3));
    }
}

static double note(const struct tl_ledger_account *a, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (a->line[i].side == TL_LEDGER_NOTE && strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    return 0;
}

/* gN in a water. */
static double dissolved_n(const double *water, double volume_m3)
{
    return volume_m3 * (water[TL_TAN] + water[TL_NO2] + water[TL_NO3]);
}

void tl_algae_watch_end(struct tl_algae_watch *w, const struct tl_model *m,
                        const struct tl_ledger *ledger, const double *y_start, const double *y,
                        struct tl_algae_result *out)
{
    struct tl_algae_result *r = &w->result;
    const struct tl_setup *s = tl_model_setup(m);
    const struct tl_layout *at = tl_model_layout(m);
    const struct tl_ledger_account *n = &ledger->nitrogen;

    if (r->sunny) {
        const double all = n->throughput + dissolved_n(&y_start[at->tank], s->tank.volume_m3) +
                           dissolved_n(&y_start[at->chamber], s->chamber.volume_m3);
        r->top_cover = tl_model_cover(m, y, 0);
        r->nitrogen_g = note(n, "taken_by_algae") - note(n, "returned_by_algae");
        r->nitrogen_share = all > 0 ? r->nitrogen_g / all : NAN;
    }
    *out = *r;
}
