/* Loops side by side against the same loops by themselves, for every level of lanes that this processor
 * has; those it lacks are named and left out. */
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
#include "loops.h"
#include "near.h"
#include "runs.h"
#include "towerloop/status.h"

enum { PONDS = TL_BATCH_MOST, MOST_COMPONENTS = 400 };

/* Eight models of one form; their setups differ in whatever may. */
struct ponds {
    const struct tl_model *model[PONDS];
    size_t core;
};

static void vary(struct tl_setup *s, size_t i)
{
    const double x = (double)i;
    s->fish[0].count *= 1 + 0.1 * x;
    s->tank.volume_m3 *= 1 + 0.02 * x;
    s->chamber.volume_m3 *= 1 - 0.03 * x;
    s->tower.plan_area_m2 *= 1 + 0.05 * x;
    s->tower.submerged = i == 5;
    s->pump_flow_m3_d *= 1 - 0.04 * x;
    s->temperature.mean_degC -= 0.7 * x;
    s->source.water[TL_ALK] *= 1 - 0.05 * x;
    s->source.water[TL_CL] *= 1 + 3 * x;
    s->starting = s->source;
    s->params.mu_aob *= 1 + 0.03 * x;
    s->params.y_het *= 1 - 0.02 * x;
    s->params.k_chlorine_demand *= 1 + x;
    s->params.k_chloramine_demand *= 1 + x;
    s->params.voids_open += 0.08 * x;
    s->feeding.protein *= 1 - 0.03 * x;
    s->elevation_m = 100 * x;
    s->sun.noon_w_m2 *= 1 - 0.05 * x;
    s->sun.shaded += 0.05 * x;
    s->green_g_m3 *= 1 + x;
}

static struct ponds make_ponds(void (*setup)(struct tl_setup *), double length_d,
                               void (*change)(struct tl_setup *, size_t))
{
    struct ponds p;
    for (size_t i = 0; i < PONDS; i++) {
        struct tl_setup s;
        struct tl_model *m;
        setup(&s);
        s.length_d = length_d;
        if (change)
            change(&s, i);
        assert_int_equal(tl_model_build(&s, &m), TL_OK);
        p.model[i] = m;
        free_loop(&s);
    }
    p.core = tl_model_layout(p.model[0])->core;
    assert_true(p.core <= MOST_COMPONENTS);
    return p;
}

static void free_ponds(struct ponds *p)
{
    for (size_t i = 0; i < PONDS; i++)
        tl_model_free((struct tl_model *)p->model[i]);
}

static void reference(struct tl_setup *s)
{
    reference_loop(s, 40);
}

/* With so little room in the trays that most of it is filled from the start. */
static void clogged_loop(struct tl_setup *s)
{
    eventful_loop(s);
    s->params.film_density = 700;
}

/* NULL when this processor lacks it. */
static const char *level(size_t i)
{
    static const char *const all[] = {"baseline", "avx2", "avx512"};
    for (size_t k = 0; k < tl_batch_levels(); k++)
        if (strcmp(tl_batch_level_name(k), all[i]) == 0)
            return all[i];
    print_message("this processor has no %s: left out\n", all[i]);
    return NULL;
}
enum { LEVELS = 3 };

static struct tl_batch *new_batch(const struct ponds *p, size_t n, const char *name, double rtol,
                                  const struct tl_batch_observer *o)
{
    const struct tl_batch_options options = {
        .rtol = rtol, .level = name, .observer = o, .observers = o ? 1 : 0};
    struct tl_batch *b;
    assert_int_equal(tl_batch_new(p->model, n, &options, &b), TL_OK);
    return b;
}

static double difference(const double *a, const double *b, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++) {
        const double d = fabs(a[i] - b[i]) / (fabs(b[i]) + 1e-3);
        most = d <= most ? most : d;
    }
    return most;
}

/* --- the right-hand side -------------------------------------------------------------------------- */

static void compare_rates(void (*setup)(struct tl_setup *))
{
    struct ponds p = make_ponds(setup, 30, vary);
    static double y[PONDS][MOST_COMPONENTS], lanes[PONDS][MOST_COMPONENTS];
    static double one[MOST_COMPONENTS], again[PONDS][MOST_COMPONENTS];
    const double *in[PONDS];
    double *out[PONDS], *out_again[PONDS];

    for (size_t i = 0; i < PONDS; i++) {
        struct tl_controls c;
        assert_int_equal(tl_model_start(p.model[i], &c, y[i]), TL_OK);
        /* off the start: something of everything, and a little less than nothing */
        for (size_t k = 0; k < p.core; k++)
            y[i][k] += 0.3 + 0.01 * (double)(k % 7) + 0.05 * (double)i;
        y[i][TL_NO2] = -1e-6;
        y[i][TL_HOCL] = 0.02 * (double)i;
        in[i] = y[i];
        out[i] = lanes[i];
        out_again[i] = again[i];
    }
    for (size_t k = 0; k < LEVELS; k++) {
        if (!level(k))
            continue;
        struct tl_batch *b = new_batch(&p, PONDS, level(k), 0, NULL);
        assert_int_equal(tl_batch_rates(b, 3.4, in, out), TL_OK);
        for (size_t i = 0; i < PONDS; i++) {
            struct tl_work *w;
            static double full[2 * MOST_COMPONENTS];
            assert_int_equal(tl_work_new(p.model[i], &w), TL_OK);
            assert_int_equal(tl_loop_rhs(p.model[i], w, tl_batch_controls(b, i), 3.4, y[i], full),
                             TL_OK);
            memcpy(one, full, p.core * sizeof *one);
            near(difference(lanes[i], one, p.core), 0, 1e-9);
            tl_work_free(w);
        }
        tl_batch_free(b);

        /* the neighbours do not matter: one of them in trouble with its pH, from an odd guess on */
        const double kept = y[7][TL_ALK];
        y[7][TL_ALK] = -40;
        b = new_batch(&p, PONDS, level(k), 0, NULL);
        assert_int_equal(tl_batch_rates(b, 3.4, in, out_again), TL_OK);
        for (size_t i = 0; i < 7; i++)
            assert_memory_equal(again[i], lanes[i], p.core * sizeof(double));
        assert_true(difference(again[7], lanes[7], p.core) > 1e-3);
        y[7][TL_ALK] = kept;
        tl_batch_free(b);
    }
    free_ponds(&p);
}

static void rates_are_those_of_one(void **state)
{
    (void)state;
    compare_rates(eventful_loop);
    compare_rates(sunny_loop);
    compare_rates(clogged_loop);
}

/* --- whole runs ----------------------------------------------------------------------------------- */

struct hours {
    double value[64 * 24][3];
    size_t n;
};

static int see_one(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct hours *h = arg;
    (void)t_d;
    (void)c;
    memcpy(h->value[h->n++], y, sizeof h->value[0]);
    return TL_OK;
}

static int see_lanes(void *arg, const struct tl_batch *b, double t_d, size_t first, size_t wide,
                     const double *y)
{
    struct hours *h = arg;
    (void)t_d;
    for (size_t l = 0; l < wide && first + l < tl_batch_loops(b); l++) {
        struct hours *of = &h[first + l];
        for (size_t k = 0; k < 3; k++)
            of->value[of->n][k] = y[k * wide + l];
        of->n++;
    }
    return TL_OK;
}

/* Final states and hourly water of a batch against each loop by itself. */
static void compare(const struct ponds *p, size_t n, const char *name, double rtol,
                    double tolerance)
{
    struct hours *hours = calloc(PONDS + 1, sizeof *hours);
    struct hours *one = &hours[PONDS];
    const struct tl_batch_observer o = {1.0 / 24, 3, see_lanes, hours};
    struct tl_batch *b = new_batch(p, n, name, rtol, &o);
    double y[MOST_COMPONENTS];

    assert_int_equal(tl_batch_run(b), TL_OK);
    for (size_t i = 0; i < n; i++) {
        const struct tl_observer alone = {1.0 / 24, 3, see_one, one};
        *one = (struct hours){0};
        struct run r = whole_run(tl_model_setup(p->model[i]), rtol, &alone, 1);
        tl_batch_state(b, i, y);
        near(difference(y, r.y, p->core), 0, tolerance);
        assert_int_equal(hours[i].n, one->n);
        near(difference(hours[i].value[0], one->value[0], 3 * one->n), 0, tolerance);
        end_run(&r);
    }
    tl_batch_free(b);
    free(hours);
}

static void equal_ponds_take_the_steps_of_one(void **state)
{
    (void)state;
    struct ponds quiet = make_ponds(reference, 20, NULL);
    struct ponds busy = make_ponds(eventful_loop, 30, NULL);
    struct ponds sunny = make_ponds(sunny_loop, 30, NULL);
    struct ponds clogged = make_ponds(clogged_loop, 30, NULL);
    for (size_t k = 0; k < LEVELS; k++)
        if (level(k)) {
            compare(&quiet, PONDS, level(k), 1e-3, 1e-9);
            compare(&busy, 3, level(k), 1e-4, 1e-9);
            compare(&sunny, 2, level(k), 1e-4, 1e-9);
            compare(&clogged, 2, level(k), 1e-4, 1e-9);
        }
    free_ponds(&quiet);
    free_ponds(&busy);
    free_ponds(&sunny);
    free_ponds(&clogged);
}

static void unlike_ponds_agree_within_the_tolerance(void **state)
{
    (void)state;
    struct ponds p = make_ponds(sunny_loop, 30, vary);
    for (size_t k = 0; k < LEVELS; k++)
        if (level(k)) {
            compare(&p, PONDS, level(k), 1e-8, 3e-7);
            compare(&p, PONDS - 1, level(k), 1e-5, 3e-4);
        }
    free_ponds(&p);
}

static void all_levels_give_the_same(void **state)
{
    (void)state;
    struct ponds p = make_ponds(sunny_loop, 30, vary);
    double y[2][MOST_COMPONENTS];
    struct tl_batch *first = new_batch(&p, PONDS, "baseline", 0, NULL);
    assert_int_equal(tl_batch_run(first), TL_OK);
    for (size_t k = 1; k < LEVELS; k++) {
        if (!level(k))
            continue;
        struct tl_batch *b = new_batch(&p, PONDS, level(k), 0, NULL);
        assert_int_equal(tl_batch_run(b), TL_OK);
        for (size_t i = 0; i < PONDS; i++) {
            tl_batch_state(first, i, y[0]);
            tl_batch_state(b, i, y[1]);
            assert_memory_equal(y[0], y[1], p.core * sizeof(double));
        }
        tl_batch_free(b);
    }
    tl_batch_free(first);
    free_ponds(&p);
}

static void starve(struct tl_setup *s, size_t i)
{
    s->aerator_g_d = i == 2 ? 0 : 3000;
    s->fish[0].count *= i == 2 ? 12 : 1;
    s->tower.trays = 4;
}

static void the_lost_fish_are_noticed(void **state)
{
    (void)state;
    struct ponds p = make_ponds(reference, 3, starve);
    struct run alone = whole_run(tl_model_setup(p.model[2]), 1e-7, NULL, 0);
    const double lost_d = tl_engine_fish_lost_d(alone.engine);
    assert_true(lost_d > 0);
    for (size_t k = 0; k < LEVELS; k++) {
        if (!level(k))
            continue;
        struct tl_batch *b = new_batch(&p, PONDS, level(k), 1e-7, NULL);
        assert_int_equal(tl_batch_run(b), TL_OK);
        near(tl_batch_fish_lost_d(b, 2), lost_d, 2.0 / 86400);
        assert_true(isnan(tl_batch_fish_lost_d(b, 1)) && isnan(tl_batch_fish_lost_d(b, 3)));
        assert_string_equal(tl_batch_level(b), level(k));
        tl_batch_free(b);
    }
    end_run(&alone);
    free_ponds(&p);
}

/* --- what does not go together -------------------------------------------------------------------- */

static void other_meals(struct tl_setup *s, size_t i)
{
    if (i == 1)
        s->feeding.meal_s[0] += 60;
}
static void other_trays(struct tl_setup *s, size_t i)
{
    s->tower.trays -= i == 1;
}
static void other_length(struct tl_setup *s, size_t i)
{
    s->length_d += i == 1;
}
static void other_sun(struct tl_setup *s, size_t i)
{
    s->sun.given = i == 1;
}
static void other_growth(struct tl_setup *s, size_t i)
{
    s->feeding.grows = i == 1;
}
static void falls_that_aerate(struct tl_setup *s, size_t i)
{
    s->params.fall_aeration = i == 1;
}
static void one_pump_stops(struct tl_setup *s, size_t i)
{
    add_event(s,
              (struct tl_event){.at_d = 1.3, .kind = TL_EVENT_PUMP_FLOW, .value = i == 1 ? 0 : 50});
}
static void one_tower_dry(struct tl_setup *s, size_t i)
{
    s->to_tower = i == 1 ? 0 : 1;
}

static void what_does_not_fit_is_refused(void **state)
{
    (void)state;
    void (*const change[])(struct tl_setup *, size_t) = {
        other_meals, other_trays, other_length, other_growth, other_sun, falls_that_aerate};
    struct tl_batch *b = NULL;
    for (size_t i = 0; i < sizeof change / sizeof change[0]; i++) {
        struct ponds p = make_ponds(reference, 3, change[i]);
        assert_false(tl_batch_fits(p.model[0], p.model[1]));
        assert_true(tl_batch_fits(p.model[0], p.model[2]));
        assert_int_equal(tl_batch_new(p.model, 2, NULL, &b), TL_E_INPUT);
        free_ponds(&p);
    }
    struct ponds p = make_ponds(reference, 3, one_tower_dry);
    assert_int_equal(tl_batch_new(p.model, 2, NULL, &b), TL_E_INPUT);
    assert_int_equal(tl_batch_new(p.model, 0, NULL, &b), TL_E_INPUT);
    const struct tl_batch_options none = {.level = "avx1024"};
    assert_int_equal(tl_batch_new(p.model, 1, &none, &b), TL_E_INPUT);
    assert_null(b);
    assert_null(tl_batch_level_name(tl_batch_levels()));
    free_ponds(&p);

    p = make_ponds(reference, 3, one_pump_stops);
    b = new_batch(&p, PONDS, NULL, 0, NULL);
    assert_int_equal(tl_batch_run(b), TL_E_SOLVER);
    near(tl_batch_time_d(b), 1.3, 1e-6);
    tl_batch_free(b);
    free_ponds(&p);
}

static void bitter(struct tl_setup *s, size_t i)
{
    if (i == 3)
        s->source.water[TL_TAN] = NAN;
}

static void one_that_cannot_go_on_ends_the_batch(void **state)
{
    (void)state;
    struct ponds p = make_ponds(reference, 3, bitter);
    for (size_t k = 0; k < LEVELS; k++) {
        if (!level(k))
            continue;
        struct tl_batch *b = new_batch(&p, PONDS, level(k), 0, NULL);
        assert_int_equal(tl_batch_run(b), TL_E_SOLVER);
        tl_batch_free(b);
    }
    free_ponds(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rates_are_those_of_one),
        cmocka_unit_test(equal_ponds_take_the_steps_of_one),
        cmocka_unit_test(unlike_ponds_agree_within_the_tolerance),
        cmocka_unit_test(all_levels_give_the_same),
        cmocka_unit_test(the_lost_fish_are_noticed),
        cmocka_unit_test(what_does_not_fit_is_refused),
        cmocka_unit_test(one_that_cannot_go_on_ends_the_batch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
