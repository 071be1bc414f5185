/* The plan out of bad water: what must hold for every one, tried on random samples, and the steps of
 * some whose outcome is known. The water is followed with the chemistry's own functions. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "../property/random.h"
#include "near.h"
#include "towerloop/chem.h"
#include "towerloop/remedy.h"
#include "towerloop/status.h"

#define PONDS     10000
#define SLACK     1e-6
#define MEQ(mg_L) ((mg_L) / 50.04)

static struct tl_limits limits(void)
{
    struct tl_limits l;
    tl_limits_default(&l);
    return l;
}

static struct tl_figures judge(const struct tl_sample *s)
{
    const struct tl_limits l = limits();
    struct tl_figures f;
    tl_sample_judge(s, &l, &f);
    return f;
}

static struct tl_remedy plan(const struct tl_remedy_input *in)
{
    const struct tl_limits l = limits();
    struct tl_remedy r;
    tl_remedy_plan(in, &l, &r);
    return r;
}

/* --- the water, followed independently ------------------------------------------------------ */

static double carbon(const struct tl_sample *s)
{
    struct tl_carbonate k;
    tl_carbonate_constants(s->temperature_degC, &k);
    return tl_tic_from_h(&k, s->alk_eq_m3, pow(10, -s->ph), s->tan_gN_m3);
}

static double gas(const struct tl_sample *s)
{
    struct tl_carbonate k;
    tl_carbonate_constants(s->temperature_degC, &k);
    return tl_co2_mol_m3(&k, pow(10, -s->ph), carbon(s));
}

static double nh3(const struct tl_sample *s)
{
    return s->tan_gN_m3 * tl_nh3_fraction(s->temperature_degC, s->ph);
}

static double solve(const struct tl_sample *s, double tic)
{
    struct tl_carbonate k;
    double h = 1e-8;
    tl_carbonate_constants(s->temperature_degC, &k);
    assert_int_equal(tl_solve_ph(&k, s->alk_eq_m3, tic, s->tan_gN_m3, &h), TL_OK);
    return -log10(h);
}

/* What a step makes of the water, from its amount alone. */
static struct tl_sample applied(const struct tl_remedy *r, const struct tl_remedy_step *s,
                                const struct tl_sample *w, double volume_m3)
{
    struct tl_sample out = *w;
    const double f = s->amount;
    if (s->kind == TL_REMEDY_CHANGE_WATER) {
        const struct tl_sample *in = &r->source;
        out.temperature_degC = (1 - f) * w->temperature_degC + f * in->temperature_degC;
        out.tan_gN_m3 = (1 - f) * w->tan_gN_m3 + f * in->tan_gN_m3;
        out.no2_gN_m3 = (1 - f) * w->no2_gN_m3 + f * in->no2_gN_m3;
        out.no3_gN_m3 = (1 - f) * w->no3_gN_m3 + f * in->no3_gN_m3;
        out.chloride_g_m3 = (1 - f) * w->chloride_g_m3 + f * in->chloride_g_m3;
        out.alk_eq_m3 = (1 - f) * w->alk_eq_m3 + f * in->alk_eq_m3;
        if (!r->by_bounds)
            out.ph = solve(&out, (1 - f) * carbon(w) + f * carbon(in));
    } else if (s->kind == TL_REMEDY_BAKING_SODA) {
        const double eq_m3 = s->amount / 84.007 / volume_m3;
        out.alk_eq_m3 += eq_m3;
        out.ph = solve(&out, carbon(w) + eq_m3);
    } else if (s->kind == TL_REMEDY_SALT) {
        /* sodium chloride: 35.45 g of chloride in 58.44 g */
        out.chloride_g_m3 = (isnan(w->chloride_g_m3) ? 0 : w->chloride_g_m3) +
                            s->amount * 35.45 / 58.44 / volume_m3;
    }
    return out;
}

/* --- random ponds --------------------------------------------------------------------------- */

static double maybe(struct rng *r, double chance, double value)
{
    return rng_chance(r, chance) ? value : NAN;
}

static void random_water(struct rng *r, double known, struct tl_sample *s)
{
    tl_sample_init(s);
    s->temperature_degC = maybe(r, known, rng_between(r, 2, 32));
    s->ph = maybe(r, known, rng_between(r, 5.2, 9.6));
    s->tan_gN_m3 = maybe(r, known, rng_scale(r, 0.01, 30));
    s->no2_gN_m3 = maybe(r, known, rng_scale(r, 0.01, 20));
    s->no3_gN_m3 = maybe(r, known, rng_scale(r, 1, 300));
    s->alk_eq_m3 = maybe(r, known, rng_scale(r, 0.05, 8));
    s->chloride_g_m3 = maybe(r, 0.5, rng_scale(r, 1, 1500));
    s->o2_g_m3 = maybe(r, 0.6, rng_between(r, 1, 12));
    s->elevation_m = maybe(r, 0.3, rng_between(r, 0, 3000));
    s->salinity_g_g = maybe(r, 0.2, rng_between(r, 0, 0.006));
}

static void random_input(struct rng *r, struct tl_remedy_input *in)
{
    const double known = rng_chance(r, 0.6) ? 1 : 0.85;
    random_water(r, known, &in->pond);
    random_water(r, rng_chance(r, 0.6) ? 1 : 0.8, &in->source);
    /* most sources are better than the pond */
    if (rng_chance(r, 0.8)) {
        in->source.tan_gN_m3 = maybe(r, 0.5, rng_scale(r, 0.001, 0.5));
        in->source.no2_gN_m3 = maybe(r, 0.5, rng_scale(r, 0.001, 0.5));
        in->source.no3_gN_m3 = maybe(r, 0.5, rng_scale(r, 0.1, 30));
        if (rng_chance(r, 0.7))
            in->source.ph = in->pond.ph + rng_between(r, -0.6, 0.6);
        in->source.temperature_degC = in->pond.temperature_degC + rng_between(r, -8, 8);
    }
    in->volume_m3 = rng_scale(r, 0.5, 100);
    in->fish_g = maybe(r, 0.5, rng_scale(r, 100, 2e5));
    in->source_chlorine_g_m3 = maybe(r, 0.7, rng_chance(r, 0.5) ? 0 : rng_between(r, 0.1, 4));
    in->form = (enum tl_chlorine_form)rng_below(r, 3);
}

/* --- what must hold ------------------------------------------------------------------------- */

static void fail_pond(int pond, int step, const char *what, double a, double b)
{
    fail_msg("pond %d, step %d: %s (%.10g, %.10g)", pond, step, what, a, b);
}

static void same_reading(int pond, int step, double is, double expected, double tolerance,
                         const char *what)
{
    if (isnan(is) != isnan(expected) || fabs(is - expected) > tolerance)
        fail_pond(pond, step, what, is, expected);
}

/* The step says of the water what the water does. */
static void check_water(int pond, int i, const struct tl_remedy *r, const struct tl_sample *now,
                        double volume_m3)
{
    const struct tl_remedy_step *s = &r->step[i];
    const struct tl_sample after = applied(r, s, now, volume_m3);

    same_reading(pond, i, s->before.ph, now->ph, 1e-12, "starts elsewhere");
    same_reading(pond, i, s->before.tan_gN_m3, now->tan_gN_m3, 1e-12, "starts elsewhere");
    if (s->kind == TL_REMEDY_MORE_AIR)
        return;
    same_reading(pond, i, s->mixed.tan_gN_m3, after.tan_gN_m3, 1e-9, "ammonia");
    same_reading(pond, i, s->mixed.no2_gN_m3, after.no2_gN_m3, 1e-9, "nitrite");
    same_reading(pond, i, s->mixed.no3_gN_m3, after.no3_gN_m3, 1e-9, "nitrate");
    /* the molar masses here are rounded */
    same_reading(pond, i, s->mixed.chloride_g_m3, after.chloride_g_m3,
                 1e-3 * fabs(after.chloride_g_m3), "chloride");
    same_reading(pond, i, s->mixed.temperature_degC, after.temperature_degC, 1e-9, "temperature");
    if (r->by_bounds && s->kind == TL_REMEDY_CHANGE_WATER)
        return;
    same_reading(pond, i, s->mixed.alk_eq_m3, after.alk_eq_m3, 1e-9, "alkalinity");
    same_reading(pond, i, s->mixed.ph, after.ph, 1e-6, "pH");
}

static void check_grades(int pond, int i, const struct tl_sample *before,
                         const struct tl_sample *after)
{
    const struct tl_figures was = judge(before), is = judge(after);
    for (int k = 0; k < TL_NFIGURE; k++) {
        const struct tl_figure *a = &was.figure[k], *b = &is.figure[k];
        if (a->judged && b->judged && b->grade > a->grade)
            fail_pond(pond, i, tl_figure_row((enum tl_figure_id)k)->name, a->value, b->value);
        /* in danger the way is out, not further in */
        if (a->judged && b->grade == TL_DANGER && a->below == b->below) {
            const double deeper =
                b->below ? a->value / b->value : b->value / b->danger / (a->value / a->danger);
            if (deeper > 1 + 2e-6)
                fail_pond(pond, i, "deeper in danger", a->value, b->value);
        }
    }
}

/* The cardinal ones: what fish feel in a step. */
static void check_fish(int pond, int i, const struct tl_remedy_step *s, const struct tl_sample *to,
                       double nh3_most)
{
    if (nh3(to) > nh3_most * (1 + SLACK))
        fail_pond(pond, i, "un-ionised ammonia rises", nh3(to), nh3_most);
    if (fabs(to->ph - s->before.ph) > 0.3 + SLACK ||
        fabs(s->mixed.ph - s->settled.ph) > 0.3 + SLACK)
        fail_pond(pond, i, "pH moves too far", s->before.ph, to->ph);
    if (fabs(to->temperature_degC - s->before.temperature_degC) > 2 + SLACK)
        fail_pond(pond, i, "temperature", s->before.temperature_degC, to->temperature_degC);
    check_grades(pond, i, &s->before, to);
}

/* Air is measured against the water before the plan. */
static void check_air(int pond, int i, const struct tl_remedy_step *s,
                      const struct tl_remedy_input *in, double nh3_most)
{
    if (nh3(&s->mixed) > nh3_most * (1 + SLACK))
        fail_pond(pond, i, "air raises un-ionised ammonia", nh3(&s->mixed), nh3_most);
    if (fabs(s->mixed.ph - s->before.ph) > 0.3 + SLACK)
        fail_pond(pond, i, "air moves the pH too far", s->before.ph, s->mixed.ph);
    check_grades(pond, i, &in->pond, &s->mixed);
}

static void check_amount(int pond, int i, const struct tl_remedy_step *s)
{
    const bool has_none = s->kind == TL_REMEDY_STOP_FEEDING || s->kind == TL_REMEDY_MORE_AIR;
    if (has_none ? !isnan(s->amount) : !(s->amount > 0 && isfinite(s->amount)))
        fail_pond(pond, i, "amount", s->amount, 0);
    if (s->kind == TL_REMEDY_CHANGE_WATER && s->amount > 0.5)
        fail_pond(pond, i, "more than half", s->amount, 0.5);
    if (!(s->wait_d >= 0))
        fail_pond(pond, i, "wait", s->wait_d, 0);
}

struct tally {
    int needed, changed, several, salted, soda, air, harsh, cured, held_ammonia, bounds;
};

static void count(const struct tl_remedy *r, struct tally *t)
{
    int changes = 0;
    for (int i = 0; i < r->steps; i++) {
        changes += r->step[i].kind == TL_REMEDY_CHANGE_WATER;
        t->salted += r->step[i].kind == TL_REMEDY_SALT;
        t->soda += r->step[i].kind == TL_REMEDY_BAKING_SODA;
        t->air += r->step[i].kind == TL_REMEDY_MORE_AIR;
        t->harsh += r->step[i].harsh;
    }
    t->needed += r->needed;
    t->changed += changes > 0;
    t->several += changes > 1;
    t->bounds += changes > 0 && r->by_bounds;
    t->cured += r->needed && r->left == 0;
    t->held_ammonia +=
        r->change.obstacle == TL_OBSTACLE_AMMONIA || r->soda.obstacle == TL_OBSTACLE_AMMONIA;
}

static void check_plan(int pond, const struct tl_remedy_input *in, const struct tl_remedy *r)
{
    /* half of the caution level of 0.02 mg/L is the floor below which a rise is no poison */
    const double nh3_most = fmax(nh3(&in->pond), 0.01);
    const double co2 = gas(&in->pond);
    struct tl_sample now = in->pond;

    if (!r->needed)
        assert_int_equal(r->steps, 0);
    for (int i = 0; i < r->steps; i++) {
        const struct tl_remedy_step *s = &r->step[i];
        check_amount(pond, i, s);
        check_water(pond, i, r, &now, in->volume_m3);
        if (s->kind == TL_REMEDY_MORE_AIR) {
            if (!s->harsh)
                check_air(pond, i, s, in, nh3_most);
            else
                assert_true(in->pond.o2_g_m3 < 6);
            continue; /* what the plan reckons with is water whose gas stays */
        }
        check_fish(pond, i, s, &s->mixed, nh3_most);
        check_fish(pond, i, s, &s->settled, nh3_most);
        if (s->kind == TL_REMEDY_BAKING_SODA && nh3(&s->settled) > 0.02 * (1 + SLACK))
            fail_pond(pond, i, "soda before ammonia is down", nh3(&s->before), nh3(&s->settled));
        const bool moves = s->kind == TL_REMEDY_CHANGE_WATER || s->kind == TL_REMEDY_BAKING_SODA;
        if (moves && isfinite(s->settled.alk_eq_m3))
            near_rel(gas(&s->settled), co2, 1e-5);
        now = s->settled;
    }
    const struct tl_figures end = judge(&now);
    for (int k = 0; k < TL_NFIGURE; k++)
        if (!(r->left >> k & 1) && end.figure[k].grade > TL_WITHIN)
            fail_pond(pond, r->steps, "not within caution at the end", end.figure[k].value,
                      end.figure[k].caution);
    check_grades(pond, r->steps, &in->pond, &now);
}

static void no_plan_harms(void **state)
{
    struct tally t = {0};
    (void)state;
    for (int pond = 0; pond < PONDS; pond++) {
        struct rng r = {.state = 20270601u + (uint64_t)pond};
        struct tl_remedy_input in;
        random_input(&r, &in);
        const struct tl_remedy p = plan(&in);
        check_plan(pond, &in, &p);
        count(&p, &t);
    }
    print_message("%d needed, %d changed (%d several, %d by bounds), %d salted, %d soda, %d air "
                  "(%d harsh), %d cured, %d held by ammonia\n",
                  t.needed, t.changed, t.several, t.bounds, t.salted, t.soda, t.air, t.harsh,
                  t.cured, t.held_ammonia);
    /* every kind of step was in it */
    assert_true(t.changed > PONDS / 50 && t.several > PONDS / 200 && t.bounds > PONDS / 1000);
    assert_true(t.salted > PONDS / 50 && t.soda > PONDS / 200 && t.air > PONDS / 50);
    assert_true(t.harsh > PONDS / 1000 && t.cured > PONDS / 1000 && t.held_ammonia > PONDS / 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_plan_harms),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
