/* Many ponds judged side by side against each judged by itself. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "batch.h"
#include "lane_judge.h"
#include "loops.h"
#include "near.h"
#include "towerloop/assess.h"
#include "towerloop/chem.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"

/* The levels of this processor, "scalar" first. */
static size_t levels(void)
{
    return 1 + tl_batch_levels();
}
static const char *level(size_t i)
{
    return i == 0 ? "scalar" : tl_batch_level_name(i - 1);
}

/* Equal, or both not a number. */
static void same(double value, double expected, double tolerance)
{
    if (isnan(expected))
        assert_true(value != value);
    else
        near(value, expected, tolerance);
}

static void same_verdict(const struct tl_verdict *v, const struct tl_verdict *w, double tolerance)
{
    const double times = fmin(1e-9, tolerance);
    assert_int_equal(v->grade, w->grade);
    same(v->hours_empty, w->hours_empty, times);
    same(v->occupied_from_d, w->occupied_from_d, times);
    same(v->filter_ready_d, w->filter_ready_d, times);
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *a = &v->limit[i];
        const struct tl_limit_verdict *b = &w->limit[i];
        assert_string_equal(a->name, b->name);
        assert_string_equal(a->unit, b->unit);
        assert_int_equal(a->grade, b->grade);
        assert_int_equal(a->judged, b->judged);
        assert_int_equal(a->below, b->below);
        same(a->worst, b->worst, tolerance * (1 + fabs(b->worst)));
        same(a->caution, b->caution, tolerance * (1 + fabs(b->caution)));
        same(a->danger, b->danger, tolerance * (1 + fabs(b->danger)));
        same(a->hours_caution, b->hours_caution, times);
        same(a->hours_danger, b->hours_danger, times);
        same(a->first_breach_d, b->first_breach_d, times);
    }
}

static void same_ranges(const struct tl_ranges *a, const struct tl_ranges *b, double tolerance)
{
    for (size_t i = 0; i < TL_NRANGE; i++) {
        assert_int_equal(a->note[i].outside, b->note[i].outside);
        if (b->note[i].outside) {
            near_rel(a->note[i].value, b->note[i].value, tolerance);
            near(a->note[i].first_d, b->note[i].first_d, 1e-9);
        }
    }
}

/* --- the judges alone, on the same samples -------------------------------------------------------- */

/* A water that wanders, different in each lane, through all limits. */
static void wander(double t_d, size_t lane, double water[TL_NWATER])
{
    const double x = (double)lane;
    const double slow = sin(2 * M_PI * (t_d / 9 + 0.1 * x));
    const double fast = sin(2 * M_PI * (t_d + 0.07 * x));
    water[TL_TAN] = fmax(0, 1.5 + 0.2 * x + 1.5 * slow + 0.3 * fast);
    water[TL_NO2] = fmax(0, 0.5 + 0.5 * slow - 0.2 * fast + 0.1 * x);
    water[TL_NO3] = 60 + 50 * slow + x;
    water[TL_O2] = 6 + 3.5 * fast - 0.2 * x;
    water[TL_ALK] = 1.5 + 0.8 * slow + 0.1 * x;
    water[TL_TIC] = 1.55 + 0.75 * slow + 0.1 * x + 0.15 * fast;
    water[TL_SS] = water[TL_XS] = water[TL_XI] = 1;
    water[TL_CL] = 5 + 4 * slow + 10 * x;
    water[TL_HOCL] = fmax(0, 0.015 * fast);
}

static void judges_in_lanes_judge_alike(void **state)
{
    (void)state;
    enum { MOST = TL_BATCH_MOST };
    for (size_t k = 1; k < levels(); k++) {
        const struct tl_lane_judge_level *l = tl_lane_judge_level(level(k));
        assert_non_null(l);
        const size_t wide = (size_t)l->wide;
        struct tl_lane_judge *lanes = l->create(40);
        struct tl_judge *one[MOST];
        double h[MOST];
        double *y = aligned_alloc(64, TL_NWATER * MOST * sizeof *y);
        unsigned strange_ever = 0;
        for (size_t i = 0; i < wide; i++) {
            struct tl_limits limits;
            tl_limits_default(&limits);
            limits.o2.caution -= 0.3 * (double)i;
            if (i == 1) {
                limits.tan_caution = 1.2;
                limits.tan_danger = 2;
                limits.ph_swing.danger = NAN;
            }
            const double *value = (const double *)&limits;
            for (size_t n = 0; n < sizeof limits / sizeof *value; n++)
                lanes->limits[n * wide + i] = value[n];
            h[i] = 1e-8;
            assert_int_equal(tl_judge_new(&limits, 40, &one[i]), TL_OK);
        }
        for (int n = 0; n <= 40 * 288; n++) {
            const double t_d = 0.25 + (double)n / 288;
            const bool occupied = t_d > 2 && !(t_d > 20 && t_d < 21.3);
            unsigned strange = 0;
            for (size_t i = 0; i < wide; i++) {
                const double t_degC = 18 + (double)i + (double)(n / 3000);
                double water[TL_NWATER];
                struct tl_carbonate c;
                wander(t_d, i, water);
                tl_carbonate_constants(t_degC, &c);
                lanes->temperature[i] = t_degC;
                for (size_t q = 0; q < TL_NWATER; q++)
                    y[q * wide + i] = water[q];
                assert_int_equal(
                    tl_solve_ph(&c, water[TL_ALK], water[TL_TIC], water[TL_TAN], &h[i]), TL_OK);
                assert_int_equal(tl_judge_add(one[i], t_d, t_degC, water, -log10(h[i]), occupied),
                                 TL_OK);
            }
            assert_int_equal(l->add(lanes, t_d, y, occupied, &strange), TL_OK);
            for (size_t i = 0; i < wide; i++) {
                near(lanes->ph[i], -log10(h[i]), 1e-12);
                const bool out = lanes->ph[i] > 9 || lanes->ph[i] < 6.5;
                assert_int_equal((strange >> i) & 1, out);
            }
            strange_ever |= strange;
        }
        assert_true(strange_ever != 0);
        l->close(lanes);
        for (size_t i = 0; i < wide; i++) {
            struct tl_verdict v, w;
            l->read(lanes, i, &v);
            tl_judge_finish(one[i], &w);
            assert_int_equal(w.grade, TL_DANGER);
            same_verdict(&v, &w, 1e-9);
            tl_judge_free(one[i]);
        }
        free(y);
        l->release(lanes);
    }
}

/* --- ponds ---------------------------------------------------------------------------------------- */

enum { MANY = 13 };

struct many {
    struct tl_pond pond[MANY];
    struct tl_limits limits;
    size_t n;
};

static void make(struct many *p, size_t n, void (*setup)(struct tl_setup *), double length_d,
                 void (*change)(struct tl_setup *, size_t))
{
    *p = (struct many){.n = n};
    tl_limits_default(&p->limits);
    for (size_t i = 0; i < n; i++) {
        struct tl_setup s;
        struct tl_model *m;
        setup(&s);
        s.length_d = length_d;
        if (change)
            change(&s, i);
        assert_int_equal(tl_model_build(&s, &m), TL_OK);
        p->pond[i] = (struct tl_pond){.model = m, .limits = &p->limits};
        free_loop(&s);
    }
}

static void clear(struct many *p)
{
    for (size_t i = 0; i < p->n; i++)
        tl_model_free((struct tl_model *)p->pond[i].model);
}

static void run(struct many *p, const char *name, unsigned threads, double rtol)
{
    const struct tl_ponds_options o = {.rtol = rtol, .level = name, .threads = threads};
    for (size_t i = 0; i < p->n; i++)
        p->pond[i].status = 99;
    assert_int_equal(tl_ponds_run(p->pond, p->n, &o), TL_OK);
}

static void reference(struct tl_setup *s)
{
    reference_loop(s, 40);
}

static void more_fish(struct tl_setup *s, size_t i)
{
    s->fish[0].count *= 0.1 + 0.15 * (double)i;
    s->source.water[TL_ALK] = s->starting.water[TL_ALK] = 4.5 - 0.3 * (double)i;
    s->temperature.mean_degC = 12 + (double)i;
}

static void equal_ponds_are_judged_as_one(void **state)
{
    (void)state;
    static struct many p;
    void (*const setup[])(struct tl_setup *) = {reference, eventful_loop};
    for (size_t s = 0; s < 2; s++) {
        make(&p, 8, setup[s], 32, NULL);
        struct tl_assessment *a = malloc(sizeof *a);
        const struct tl_assess_options o = {.rtol = 1e-4};
        assert_int_equal(tl_assess(p.pond[0].model, &p.limits, &o, a), TL_OK);
        for (size_t k = 0; k < levels(); k++) {
            run(&p, level(k), 1, 1e-4);
            for (size_t i = 0; i < p.n; i++) {
                assert_int_equal(p.pond[i].status, TL_OK);
                assert_string_equal(p.pond[i].level, level(k));
                same_verdict(&p.pond[i].verdict, &a->verdict, 1e-9);
                same_ranges(&p.pond[i].ranges, &a->ranges, 1e-9);
                same(p.pond[i].fish_lost_d, a->fish_lost_d, 1e-9);
            }
        }
        free(a);
        clear(&p);
    }
}

/* From far too much water for so few fish to media from a filter in use. */
static void new_media(struct tl_setup *s, size_t i)
{
    static const double seeded[] = {0, 0, 0, 0.1, 0.3, 0.6};
    s->tower.biofilm = i < 3 ? TL_BIOFILM_NEW : TL_BIOFILM_SEEDED;
    s->tower.seeded_share = seeded[i % 6];
    s->temperature.mean_degC = 20;
    s->fish[0].count *= i % 6 < 3 ? 1 : 0.3;
    if (i % 6 < 2)
        s->tank.volume_m3 *= i % 6 == 0 ? 60 : 10;
}

static void films_are_looked_at_in_lanes_too(void **state)
{
    (void)state;
    static struct many p;
    static struct tl_pond alone[6];
    void (*const setup[])(struct tl_setup *) = {reference, eventful_loop};
    size_t ready = 0, low_only = 0;
    for (size_t s = 0; s < 2; s++) {
        make(&p, 6, setup[s], s > 0 ? 30 : 20, new_media);
        run(&p, "scalar", 1, 1e-5);
        memcpy(alone, p.pond, sizeof alone);
        for (size_t i = 0; i < 6; i++) {
            const struct tl_verdict *v = &alone[i].verdict;
            assert_true(v->film.asked && v->film.came_in_g > 0);
            assert_true(isnan(v->filter_ready_d) || v->filter_ready_d >= v->low_from_d);
            ready += isnan(v->filter_ready_d) ? 0 : 1;
            low_only += isnan(v->filter_ready_d) && !isnan(v->low_from_d) ? 1 : 0;
        }
        for (size_t k = 1; k < levels(); k++) {
            run(&p, level(k), 1, 1e-5);
            for (size_t i = 0; i < 6; i++) {
                const struct tl_verdict *v = &p.pond[i].verdict, *w = &alone[i].verdict;
                assert_string_equal(p.pond[i].level, level(k));
                same(v->filter_ready_d, w->filter_ready_d, 1e-2);
                /* the days end with a step, and steps differ */
                near(v->film.came_in_g, w->film.came_in_g, 0.02 * w->film.came_in_g);
                near(v->film.oxidised_g, w->film.oxidised_g, 0.02 * w->film.oxidised_g);
                near(v->film.nitrite_oxidised_g, w->film.nitrite_oxidised_g,
                     0.02 * w->film.nitrite_oxidised_g);
                near(v->film.growth_1_d, w->film.growth_1_d, 2e-3);
            }
        }
        clear(&p);
    }
    assert_true(ready > 0 && low_only > 0);
}

static void unlike_ponds_keep_their_own(void **state)
{
    (void)state;
    static struct many p;
    static struct tl_pond alone[MANY], first[MANY];
    size_t grades[3] = {0}, outside = 0;
    make(&p, MANY, reference, 6, more_fish);
    run(&p, "scalar", 1, 1e-7);
    memcpy(alone, p.pond, sizeof alone);
    for (size_t k = 1; k < levels(); k++)
        for (unsigned threads = 1; threads <= 3; threads++) {
            run(&p, level(k), threads, 1e-7);
            for (size_t i = 0; i < p.n; i++) {
                same_verdict(&p.pond[i].verdict, &alone[i].verdict, 1e-5);
                same_ranges(&p.pond[i].ranges, &alone[i].ranges, 1e-5);
                grades[p.pond[i].verdict.grade]++;
                outside += tl_ranges_outside(&p.pond[i].ranges) > 0;
                /* whatever the level and the threads, bit by bit */
                if (k == 1 && threads == 1)
                    first[i] = p.pond[i];
                same_verdict(&p.pond[i].verdict, &first[i].verdict, 0);
                same_ranges(&p.pond[i].ranges, &first[i].ranges, 0);
            }
        }
    assert_true(grades[TL_CAUTION] > 0 && grades[TL_DANGER] > 0 && outside > 0);
    clear(&p);
}

/* Water full of oxygen flows in, the more the later the pond, at all altitudes and salinities. */
static void with_oxygen(struct tl_setup *s, size_t i)
{
    s->source.water[TL_O2] = 40;
    s->source.water[TL_CL] = s->starting.water[TL_CL] = 1000 * (double)(i % 3);
    s->trickle_1_d = 2 * (double)i;
    s->elevation_m = 200 * (double)i;
}

static void too_much_oxygen_is_seen_in_lanes(void **state)
{
    (void)state;
    static struct many p;
    static struct tl_ranges alone[MANY];
    size_t outside = 0;
    make(&p, MANY, reference, 3, with_oxygen);
    run(&p, "scalar", 1, 1e-7);
    for (size_t i = 0; i < p.n; i++)
        alone[i] = p.pond[i].ranges;
    for (size_t k = 1; k < levels(); k++) {
        run(&p, level(k), 1, 1e-7);
        for (size_t i = 0; i < p.n; i++) {
            same_ranges(&p.pond[i].ranges, &alone[i], 1e-5);
            outside += p.pond[i].ranges.note[TL_RANGE_SUPERSATURATION].outside;
        }
    }
    assert_true(outside > 0 && outside < p.n * (levels() - 1));
    clear(&p);
}

/* Every third pond has another form, one of its own kind none like it; two part from their neighbours
 * and one cannot be run at all. */
static void mixture(struct tl_setup *s, size_t i)
{
    more_fish(s, i);
    if (i % 3 == 1)
        s->tower.trays = 10;
    if (i == 12)
        s->tower.trays = 5;
    if (i % 3 == 2)
        s->trickle_1_d = 0.05;
    if (i == 8)
        s->source.water[TL_TAN] = NAN;
    add_event(s, (struct tl_event){.at_d = 1.5,
                                   .for_d = 0.2,
                                   .kind = TL_EVENT_PUMP_FLOW,
                                   .value = i == 3 || i == 4 ? 0 : 80});
}

static void neighbours_do_not_suffer(void **state)
{
    (void)state;
    static struct many p;
    static struct tl_pond alone[MANY];
    make(&p, MANY, reference, 3, mixture);
    run(&p, "scalar", 2, 1e-6);
    memcpy(alone, p.pond, sizeof alone);
    for (size_t k = 1; k < levels(); k++) {
        run(&p, level(k), 2, 1e-6);
        for (size_t i = 0; i < p.n; i++) {
            assert_int_equal(p.pond[i].status, i == 8 ? TL_E_SOLVER : TL_OK);
            if (i != 8)
                same_verdict(&p.pond[i].verdict, &alone[i].verdict, 1e-4);
        }
        assert_string_equal(p.pond[12].level, "scalar");
    }
    clear(&p);
}

static void fish_come_and_go(struct tl_setup *s, size_t i)
{
    more_fish(s, i);
    add_event(s, (struct tl_event){.at_d = 1.2,
                                   .kind = TL_EVENT_REMOVE_FISH,
                                   .fish = {"koi", i == 5 ? 1e4 : 3, 0}});
}

static void an_empty_tank_parts_from_the_others(void **state)
{
    (void)state;
    static struct many p;
    static struct tl_pond alone[MANY];
    make(&p, 8, reference, 2.5, fish_come_and_go);
    run(&p, "scalar", 2, 1e-6);
    memcpy(alone, p.pond, sizeof alone);
    assert_true(alone[5].verdict.hours_empty > 24);
    for (size_t k = 1; k < levels(); k++) {
        run(&p, level(k), 2, 1e-6);
        for (size_t i = 0; i < p.n; i++)
            same_verdict(&p.pond[i].verdict, &alone[i].verdict, 1e-4);
    }
    clear(&p);
}

/* --- who looks on --------------------------------------------------------------------------------- */

enum { SEEN = 3 * 24 + 1 };
struct seen {
    double t_d, tan, ph, fish_kg;
};

static int look(void *arg, size_t pond, size_t instant, const struct tl_snapshot *g)
{
    struct seen *s = arg;
    assert_in_range(instant, 0, SEEN - 1);
    s[pond * SEEN + instant] = (struct seen){g->t_d, g->tank[TL_TAN], g->tank_ph, g->fish_kg};
    return TL_OK;
}

static void ponds_are_seen_as_often_as_asked(void **state)
{
    (void)state;
    static struct many p;
    struct seen *alone = calloc((size_t)MANY * SEEN, sizeof *alone);
    struct seen *lanes = calloc((size_t)MANY * SEEN, sizeof *lanes);
    make(&p, MANY, reference, 3, mixture);
    struct tl_ponds_options o = {
        .rtol = 1e-6, .level = "scalar", .period_d = 1.0 / 24, .see = look, .arg = alone};
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), TL_OK);
    o.level = NULL;
    o.arg = lanes;
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), TL_OK);
    for (size_t i = 0; i < (size_t)MANY * SEEN; i++) {
        if (i / SEEN == 8)
            continue;
        near(lanes[i].t_d, (double)(i % SEEN) / 24, 1e-9);
        near(lanes[i].t_d, alone[i].t_d, 0);
        near(lanes[i].tan, alone[i].tan, 1e-4);
        near(lanes[i].ph, alone[i].ph, 1e-4);
        near(lanes[i].fish_kg, alone[i].fish_kg, 1e-9);
    }
    free(alone);
    free(lanes);
    clear(&p);
}

static int refuse(void *arg, size_t pond, size_t instant, const struct tl_snapshot *g)
{
    (void)arg;
    (void)g;
    return pond == 2 && instant == 5 ? 77 : TL_OK;
}

static void a_run_can_be_ended(void **state)
{
    (void)state;
    static struct many p;
    const volatile int stop = 1;
    make(&p, 4, reference, 3, more_fish);
    struct tl_ponds_options o = {.period_d = 0.1, .see = refuse};
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), 77);
    o.level = "scalar";
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), 77);
    o = (struct tl_ponds_options){.interrupted = &stop};
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), TL_E_INTERRUPTED);
    o = (struct tl_ponds_options){.level = "avx1024"};
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), TL_E_INPUT);
    o = (struct tl_ponds_options){.see = refuse};
    assert_int_equal(tl_ponds_run(p.pond, p.n, &o), TL_E_INPUT);
    assert_int_equal(tl_ponds_run(p.pond, 0, NULL), TL_OK);
    clear(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(judges_in_lanes_judge_alike),
        cmocka_unit_test(equal_ponds_are_judged_as_one),
        cmocka_unit_test(unlike_ponds_keep_their_own),
        cmocka_unit_test(films_are_looked_at_in_lanes_too),
        cmocka_unit_test(too_much_oxygen_is_seen_in_lanes),
        cmocka_unit_test(neighbours_do_not_suffer),
        cmocka_unit_test(an_empty_tank_parts_from_the_others),
        cmocka_unit_test(ponds_are_seen_as_often_as_asked),
        cmocka_unit_test(a_run_can_be_ended),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
