/* Where the solids go: what a chamber catches, the days on which trays and chamber are filled, and what a
 * rinse costs. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "runs.h"
#include "towerloop/assess.h"
#include "towerloop/settling.h"
#include "towerloop/status.h"

/* --- what a chamber catches ---------------------------------------------------------------------- */

/* Where no more gathers in the chamber's water than leaves it, a pass takes v A/(Q + v A). */
static void a_pass_takes_the_share_of_a_mixed_chamber(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_controls c;
    struct tl_model *m = NULL;
    struct tl_work *w = NULL;
    dead_loop(&s);
    s.chamber.surface_m2 = 2.5;
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    assert_int_equal(tl_work_new(m, &w), TL_OK);
    const struct tl_layout *at = tl_model_layout(m);
    double *y = calloc(2 * at->size, sizeof *y), *dydt = y + at->size;
    assert_int_equal(tl_model_start(m, &c, y), TL_OK);
    const double overflow = tl_overflow_rate_m_d(s.pump_flow_m3_d, s.chamber.surface_m2);
    const double share = tl_settled_share_mixed(s.params.v_settle, overflow);
    near_rel(share, 20 * 2.5 / (s.pump_flow_m3_d + 20 * 2.5), 1e-12);
    y[at->tank + TL_XI] = 30;
    y[at->chamber + TL_XI] = 30 * (1 - share);
    assert_int_equal(tl_loop_rhs(m, w, &c, 0, y, dydt), TL_OK);
    near(dydt[at->chamber + TL_XI], 0, 1e-9);
    near_rel(dydt[at->extent_chamber + TL_SETTLE_I], share * s.pump_flow_m3_d * 30, 1e-12);
    /* half full it settles half as fast */
    y[at->sludge + 1] = 0.5 * s.params.film_density * s.chamber.volume_m3;
    near_rel(tl_model_chamber_filled(m, y), 0.5, 1e-12);
    assert_int_equal(tl_loop_rhs(m, w, &c, 0, y, dydt), TL_OK);
    near_rel(dydt[at->extent_chamber + TL_SETTLE_I], 0.5 * share * s.pump_flow_m3_d * 30, 1e-12);
    free(y);
    tl_work_free(w);
    tl_model_free(m);
    free_loop(&s);
}

static void shares_at_their_ends(void **state)
{
    (void)state;
    near(tl_settled_share_mixed(0, 10), 0, 0);
    near(tl_settled_share_mixed(20, 0), 1, 0);
    near(tl_settled_share_mixed(20, INFINITY), 0, 0);
    near(tl_settled_share_ideal(20, 40), 0.5, 1e-15);
    near(tl_settled_share_ideal(20, 20), 1, 0);
    near(tl_settled_share_ideal(20, INFINITY), 0, 0);
    assert_true(isinf(tl_overflow_rate_m_d(10, 0)));
    for (double q = 1; q < 1e4; q *= 3) /* mixing never helps */
        assert_true(tl_settled_share_mixed(20, q) < tl_settled_share_ideal(20, q));
}

/* --- days and rinses ----------------------------------------------------------------------------- */

struct seen {
    const struct tl_model *m;
    double voids_30_d, chamber_20_d, most_voids;
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct seen *s = arg;
    const struct tl_setup *u = tl_model_setup(s->m);
    const struct tl_layout *at = tl_model_layout(s->m);
    (void)c;
    for (int j = 0; j < u->tower.trays; j++) {
        double all = 0;
        for (int k = 0; k < TL_NFILM; k++)
            all += y[at->cell + (size_t)(j * TL_NFILM + k)];
        const double x = all / (u->params.film_density * u->tower.void_fraction *
                                u->tower.plan_area_m2 * u->tower.media_depth_m);
        s->most_voids = fmax(s->most_voids, x);
        if (isnan(s->voids_30_d) && x >= 0.3)
            s->voids_30_d = t_d;
    }
    if (isnan(s->chamber_20_d) &&
        y[at->sludge] + y[at->sludge + 1] >= 0.2 * u->params.film_density * u->chamber.volume_m3)
        s->chamber_20_d = t_d;
    return TL_OK;
}

static struct tl_assessment assessed(const struct tl_setup *s, struct seen *seen)
{
    struct tl_assessment a;
    struct tl_limits limits;
    const struct tl_observer o = {1.0 / 24, 0, see, seen};
    const struct tl_assess_options options = {.observer = &o, .observers = seen ? 1 : 0};
    struct tl_model *m = NULL;
    tl_limits_default(&limits);
    assert_int_equal(tl_model_build(s, &m), TL_OK);
    if (seen)
        *seen = (struct seen){m, NAN, NAN, 0};
    assert_int_equal(tl_assess(m, &limits, &options, &a), TL_OK);
    tl_model_free(m);
    return a;
}

/* A loop whose solids lie so loose that its trays and its chamber fill within a month. */
static void filling_loop(struct tl_setup *s)
{
    reference_loop(s, 40);
    s->length_d = 40;
    s->params.film_density = 4000;
}

static void days_of_the_marks(void **state)
{
    (void)state;
    struct tl_setup s;
    struct seen seen;
    int tray = 0;
    filling_loop(&s);
    const struct tl_assessment a = assessed(&s, &seen);
    const struct tl_solids_result *r = &a.solids;
    assert_true(seen.voids_30_d > 1 && seen.chamber_20_d > 1);
    near(tl_solids_voids_day(r, 0.3, &tray), seen.voids_30_d, 1.0 / 24 + 1e-9);
    near(tl_solids_voids_day(r, 0.25, NULL), seen.voids_30_d, 1.0 / 24 + 1e-9); /* the next mark */
    assert_int_equal(tray, 1);
    near(tl_solids_chamber_day(r, 0.2), seen.chamber_20_d, 1.0 / 24 + 1e-9);
    near_rel(r->most_voids, seen.most_voids, 1e-3);
    assert_true(isnan(tl_solids_voids_day(r, 1, NULL)) && isnan(tl_solids_voids_day(r, 1.2, NULL)));
    const double u = (r->most_voids - 0.3) / 0.7;
    near_rel(r->lost_area, 0.8 * u * u, 1e-9);
    assert_true(r->caught_share > 0.5 && r->caught_share < 1);
    assert_true(isnan(r->rinsed_d));
    /* what sludge gives back in a day, at most, is more than its mean */
    double freed = 0;
    for (size_t i = 0; i < a.ledger.nitrogen.lines; i++)
        if (strcmp(a.ledger.nitrogen.line[i].key, "from_sludge") == 0)
            freed = a.ledger.nitrogen.line[i].amount;
    assert_true(freed > 0 && r->sludge_tan_g_d > freed / s.length_d);
    free_loop(&s);
}

/* A rinse opens the voids, takes 5 % of the film, and the film is back within days. */
static void a_rinse_is_followed(void **state)
{
    (void)state;
    struct tl_setup s;
    struct seen seen;
    filling_loop(&s);
    add_event(&s, (struct tl_event){.at_d = 20.5, .kind = TL_EVENT_CLEAN_TRAYS});
    struct tl_assessment a = assessed(&s, &seen);
    near(a.solids.rinsed_d, 20.5, 1e-9);
    assert_true(a.solids.rinse_lost >= s.params.clean_loss - 0.01 && a.solids.rinse_lost < 0.06);
    assert_true(a.solids.rinse_days > 0 && a.solids.rinse_days < 15);
    free_loop(&s);
    /* one that ends before they are back */
    filling_loop(&s);
    s.length_d = 20.6;
    add_event(&s, (struct tl_event){.at_d = 20.5, .kind = TL_EVENT_CLEAN_TRAYS});
    a = assessed(&s, NULL);
    assert_true(isinf(a.solids.rinse_days));
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pass_takes_the_share_of_a_mixed_chamber),
        cmocka_unit_test(shares_at_their_ends),
        cmocka_unit_test(days_of_the_marks),
        cmocka_unit_test(a_rinse_is_followed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
