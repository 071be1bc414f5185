/* Looks on while solids fill trays and settling chamber, once an hour. */
#include <math.h>

#include "loop.h"
#include "towerloop/settling.h"
#include "towerloop/solids.h"

#define LOOK_D (1.0 / 24)
#define SLACK  1e-9
#define BACK   0.999 /* of the film before a rinse counts as all of it */

static size_t mark_of(double share)
{
    const double tenth = ceil(10 * share - SLACK);
    return tenth > 0 ? (size_t)tenth : 0;
}

double tl_solids_voids_day(const struct tl_solids_result *r, double share, int *tray)
{
    const size_t mark = mark_of(share);
    if (mark >= TL_SOLIDS_MARKS)
        return NAN;
    if (tray)
        *tray = r->voids_tray[mark];
    return r->voids_d[mark];
}

double tl_solids_chamber_day(const struct tl_solids_result *r, double share)
{
    const size_t mark = mark_of(share);
    return mark < TL_SOLIDS_MARKS ? r->chamber_d[mark] : NAN;
}

void tl_solids_watch_begin(struct tl_solids_watch *w, const struct tl_model *m)
{
    const struct tl_setup *s = tl_model_setup(m);
    const double overflow = tl_overflow_rate_m_d(s->pump_flow_m3_d, s->chamber.surface_m2);

    *w = (struct tl_solids_watch){
        .result = {.overflow_m_d = overflow,
                   .pass_share = tl_settled_share_mixed(s->params.v_settle, overflow),
                   .caught_share = NAN,
                   .most_voids_d = NAN,
                   .most_chamber_d = NAN,
                   .rinsed_d = NAN,
                   .rinse_lost = NAN,
                   .rinse_days = NAN},
        .next_d = s->start_d,
        .rinsed_d = NAN,
        .leached_d = s->start_d};
    for (size_t i = 0; i < TL_SOLIDS_MARKS; i++)
        w->result.voids_d[i] = w->result.chamber_d[i] = NAN;
}

static void see_trays(struct tl_solids_watch *w, const struct tl_model *m, double t_d,
                      const double *y)
{
    struct tl_solids_result *r = &w->result;
    const int trays = tl_model_setup(m)->tower.trays;

    for (int i = 0; i < trays; i++) {
        const double filled = tl_model_voids_filled(m, y, i);
        for (size_t k = 0; k < TL_SOLIDS_MARKS && filled >= (double)k / 10; k++)
            if (isnan(r->voids_d[k])) {
                r->voids_d[k] = t_d;
                r->voids_tray[k] = i + 1;
            }
        if (isnan(r->most_voids_d) || filled > r->most_voids) {
            r->most_voids = filled;
            r->most_voids_d = t_d;
            r->most_voids_tray = i + 1;
            r->lost_area = 1 - tl_model_voids_spread(m, y, i);
        }
    }
}

static void see_chamber(struct tl_solids_watch *w, const struct tl_model *m, double t_d,
                        const double *y)
{
    struct tl_solids_result *r = &w->result;
    const double filled = tl_model_chamber_filled(m, y);

    for (size_t k = 0; k < TL_SOLIDS_MARKS && filled >= (double)k / 10; k++)
        if (isnan(r->chamber_d[k]))
            r->chamber_d[k] = t_d;
    if (isnan(r->most_chamber_d) || filled > r->most_chamber) {
        r->most_chamber = filled;
        r->most_chamber_d = t_d;
    }
}

/* What sludge has given back so far: ammonia, gN, and dissolved organics, gCOD. */
static void leached(const struct tl_model *m, const double *totals, double *out)
{
    const double *extent = &totals[tl_model_layout(m)->extent_chamber];
    out[0] = tl_model_setup(m)->params.i_organics * extent[TL_SLUDGE_OXIDISED];
    out[1] = extent[TL_SLUDGE_TO_ORGANICS];
}

static void see_sludge(struct tl_solids_watch *w, const struct tl_model *m, double t_d,
                       const double *totals)
{
    struct tl_solids_result *r = &w->result;
    const double days = t_d - w->leached_d;
    double now[2];

    if (days < 1 - SLACK)
        return;
    leached(m, totals, now);
    r->sludge_tan_g_d = fmax(r->sludge_tan_g_d, (now[0] - w->leached[0]) / days);
    r->sludge_ss_g_d = fmax(r->sludge_ss_g_d, (now[1] - w->leached[1]) / days);
    w->leached_d = t_d;
    w->leached[0] = now[0];
    w->leached[1] = now[1];
}

static bool rinsed_since(const struct tl_setup *s, double after_d, double until_d, double *at_d)
{
    bool any = false;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if ((e->kind == TL_EVENT_CLEAN_TRAY || e->kind == TL_EVENT_CLEAN_TRAYS) &&
            e->at_d > after_d + SLACK && e->at_d <= until_d + SLACK) {
            *at_d = any ? fmin(*at_d, e->at_d) : e->at_d;
            any = true;
        }
    }
    return any;
}

/* The rinse that is followed took so many days; kept when it is the longest. */
static void keep_rinse(struct tl_solids_watch *w, double days)
{
    struct tl_solids_result *r = &w->result;
    if (isnan(r->rinse_days) || days > r->rinse_days) {
        r->rinsed_d = w->rinsed_d;
        r->rinse_lost = w->lost;
        r->rinse_days = days;
    }
    w->rinsed_d = NAN;
}

/* Rinses that fall into the time of another are part of it. */
static void see_rinses(struct tl_solids_watch *w, const struct tl_model *m, double last_d,
                       double t_d, const double *y)
{
    const struct tl_setup *s = tl_model_setup(m);
    const double before_g = w->oxidisers_g;
    double at_d = NAN;

    w->oxidisers_g = tl_model_oxidisers_g(m, y);
    if (isnan(w->rinsed_d) && rinsed_since(s, last_d, t_d, &at_d)) {
        w->rinsed_d = at_d;
        w->before_g = before_g;
        w->lost = 0;
    }
    if (isnan(w->rinsed_d) || !(w->before_g > 0))
        return;
    w->lost = fmax(w->lost, 1 - w->oxidisers_g / w->before_g);
    if (w->oxidisers_g >= BACK * w->before_g)
        keep_rinse(w, t_d - w->rinsed_d);
}

void tl_solids_watch_add(struct tl_solids_watch *w, const struct tl_model *m, double t_d,
                         const double *y, const double *totals)
{
    if (t_d < w->next_d - SLACK)
        return;
    see_trays(w, m, t_d, y);
    see_chamber(w, m, t_d, y);
    see_sludge(w, m, t_d, totals);
    see_rinses(w, m, w->next_d - LOOK_D, t_d, y);
    w->next_d = t_d + LOOK_D;
}

/* Of the solids that left the water, those that settled: the others went over the edge with it, rotted
 * in it, or stayed in the trays. */
static double caught_share(const struct tl_layout *at, const double *y)
{
    const double *chamber = &y[at->extent_chamber], *tower = &y[at->extent_tower];
    const double settled = chamber[TL_SETTLE_S] + chamber[TL_SETTLE_I];
    const double held = tower[TL_NFILM_PROCESS] + tower[TL_NFILM_PROCESS + 1] - tower[TL_SLOUGH_S] -
                        tower[TL_SLOUGH_I];
    const double left = settled + y[at->water_out + TL_XS] + y[at->water_out + TL_XI] +
                        y[at->extent_tank + TL_HYDROLYSE_WATER] + chamber[TL_HYDROLYSE_WATER] +
                        fmax(held, 0);
    return left > 0 ? settled / left : NAN;
}

void tl_solids_watch_end(struct tl_solids_watch *w, const struct tl_model *m, const double *y,
                         struct tl_solids_result *out)
{
    if (!isnan(w->rinsed_d))
        keep_rinse(w, INFINITY);
    w->result.caught_share = caught_share(tl_model_layout(m), y);
    *out = w->result;
}
