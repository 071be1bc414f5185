/* Sizing of random loops: the answer keeps every limit with the margin, the value beside it does not, and
 * the number of threads changes nothing.
 *
 * usage: test_size_property LOOPS: how many of them. Loop i is that of seed TL_SEED + i (environment; a
 * fixed one when it is not set). */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "deadly.h"
#include "random_loops.h"
#include "size.h"
#include "text.h"
#include "towerloop/assess.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"

#define DEFAULT_SEED 20270701
#define ROUNDING     1e-9 /* of shares */
#define ONE_PERCENT  0.01

static struct random_loops random_loops;
static int loops = 20;

static const struct {
    const char *path;
    bool most;
} question[] = {
    {"tower.trays", false},
    {"fish[0].count", true},
    {"pump.flow", false},
    {"feeding.ration", true},
    {"tank.volume", false},
    {"water change.trickle", false},
    {"aerator.oxygen transfer", false},
    {"fish[0].mean mass", true},
};
enum { QUESTIONS = sizeof question / sizeof *question };

/* Limits that a loop is given, near its own worst values; the others are taken away. */
static const struct {
    enum tl_limit_id id;
    const char *key, *unit;
} own_limit[] = {
    {TL_LIMIT_NH3, "limits.ammonia", "mg/L as N"},
    {TL_LIMIT_NO2, "limits.nitrite", "mg/L as N"},
    {TL_LIMIT_NO3, "limits.nitrate", "mg/L as N"},
    {TL_LIMIT_O2, "limits.oxygen", "mg/L"},
    {TL_LIMIT_ALK, "limits.alkalinity", "mg/L as CaCO3"},
};
static const char *const no_limit[] = {"limits.total ammonia.caution=1000 mg/L as N",
                                       "limits.total ammonia.danger=1000 mg/L as N",
                                       "limits.pH.caution low=none",
                                       "limits.pH.caution high=none",
                                       "limits.pH.danger low=none",
                                       "limits.pH.danger high=none",
                                       "limits.pH swing.caution=none",
                                       "limits.pH swing.danger=none",
                                       "limits.carbon dioxide.caution=none",
                                       "limits.carbon dioxide.danger=none",
                                       "limits.chlorine.caution=none",
                                       "limits.chlorine.danger=none",
                                       "limits.temperature.caution low=none",
                                       "limits.temperature.caution high=none",
                                       "limits.temperature.danger low=none",
                                       "limits.temperature.danger high=none"};
enum {
    OWN = sizeof own_limit / sizeof *own_limit,
    NONE = sizeof no_limit / sizeof *no_limit,
    SETS = NONE + 2 * OWN
};

struct asked {
    uint64_t seed;
    struct tl_scenario scenario;
    struct tl_size_quantity quantity;
    double margin;
    char own[2 * OWN][TL_SIZE_SETTING];
    const char *set[SETS + 1]; /* and room for the value that is tried */
};

/* From nearer than the margin asks for to so far that the given value will do with ease. */
static void set_limits(struct asked *a, struct rng *r)
{
    static struct tl_assessment run;
    struct tl_model *m = NULL;
    size_t n = 0;
    for (; n < NONE; n++)
        a->set[n] = no_limit[n];
    assert_int_equal(tl_model_build(&a->scenario.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &a->scenario.limits, NULL, &run), TL_OK);
    tl_model_free(m);
    for (size_t i = 0; i < OWN; i++) {
        const struct tl_limit_verdict *l = &run.verdict.limit[own_limit[i].id];
        const double factor = rng_scale(r, 0.8, 2);
        const double level =
            l->below ? l->worst / (factor * (1 + a->margin)) : l->worst * factor / (1 - a->margin);
        char *caution = a->own[2 * i], *danger = a->own[2 * i + 1];
        if (rng_chance(r, 0.5) && level > 0)
            tl_format(caution, TL_SIZE_SETTING, "%s.caution=%.6g %s", own_limit[i].key, level,
                      own_limit[i].unit);
        else
            tl_format(caution, TL_SIZE_SETTING, "%s.caution=none", own_limit[i].key);
        tl_format(danger, TL_SIZE_SETTING, "%s.danger=none", own_limit[i].key);
        a->set[n++] = caution;
        a->set[n++] = danger;
    }
}

/* The loop and the question of a seed; false where the loop has no such number. */
static bool ask(uint64_t seed, struct asked *a)
{
    const struct wish wish = {.shortest_d = 1, .longest_d = 3};
    struct rng r = {seed};
    char why[256], expected[256];
    const int k = (int)(rng_next(&r) % QUESTIONS);
    a->seed = seed;
    a->margin = rng_chance(&r, 0.3) ? 0 : rng_between(&r, 0, 0.2);
    assert_int_equal(random_loop(&random_loops, seed, wish, &a->scenario), TL_OK);
    /* beside a log of the meals no other ration is allowed */
    const bool logged =
        a->scenario.setup.feeding.log.n > 0 && strcmp(question[k].path, "feeding.ration") == 0;
    if (!logged && tl_size_quantity(&a->scenario, question[k].path, question[k].most, TL_METRIC,
                                    &a->quantity, why, expected, sizeof why) == TL_OK) {
        set_limits(a, &r);
        return true;
    }
    tl_scenario_free(&a->scenario);
    return false;
}

static void size(const struct asked *a, unsigned threads, struct tl_size_result *r)
{
    struct tl_size_bench bench = {.file = random_loops.file, .set = a->set, .sets = SETS};
    const struct tl_size_task task = {
        .bench = &bench, .quantity = &a->quantity, .margin = a->margin, .threads = threads};
    assert_int_equal(tl_size_bench_open(&bench), TL_OK);
    assert_int_equal(tl_size_solve(&task, r), TL_OK);
    tl_size_bench_close(&bench);
}

/* --- judging a value without the search's own means ------------------------------------------------ */

/* The least share of a limit that is to spare: below any margin where fish are lost, where nothing is
 * judged, and where it does not run. */
static double to_spare(const struct tl_assessment *run, const struct tl_scenario *s)
{
    const struct tl_verdict *v = &run->verdict;
    const double band = s->limits.ph_high.caution - s->limits.ph_low.caution;
    const struct tl_event *overdose = tl_setup_overdose(&s->setup);
    double least = INFINITY;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *l = &v->limit[i];
        const double own = isnan(l->caution) ? l->danger : l->caution;
        const double deadly = tl_deadly_from((enum tl_limit_id)i);
        const double level = l->below ? fmax(own, deadly) : fmin(own, deadly);
        const bool ph = i == TL_LIMIT_PH_LOW || i == TL_LIMIT_PH_HIGH;
        const bool heat = i == TL_LIMIT_COLD || i == TL_LIMIT_WARM;
        const double away = l->below ? l->worst - level : level - l->worst;
        if (l->judged && !isnan(level) && !isnan(l->worst))
            least = fmin(least, heat ? fmin(1, away / TL_SIZE_HEAT_BAND_DEGC)
                                     : away / (ph ? band : level));
    }
    if (isinf(least))
        return -1;
    if (overdose)
        least = fmin(least, 1 - tl_medicine_content_g_m3(&s->setup, overdose) /
                                    tl_medicine_known_to(overdose->dose));
    /* hydrogen sulfide and water that stands on clogged trays */
    least =
        fmin(least, 1 - fmax(run->bed.bed.longest_h, run->bed.chamber.longest_h) / TL_WITHOUT_H);
    return fmin(least, 1 - run->solids.most_voids / TL_VOIDS_PONDING);
}

static double run_with(struct asked *a, double value)
{
    static struct tl_assessment assessment;
    const struct tl_assess_options options = {.rtol = 0};
    struct tl_scenario s;
    struct tl_model *m = NULL;
    struct tl_diag diag;
    char setting[TL_SIZE_SETTING];
    const struct tl_scenario_options with = {.set = a->set, .sets = SETS + 1};
    double least = -1;

    tl_size_setting(&a->quantity, value, setting);
    a->set[SETS] = setting;
    tl_diag_init(&diag);
    int status = tl_scenario_read(random_loops.file, &with, &s, &diag);
    tl_diag_free(&diag);
    if (status)
        return least;
    if (tl_model_build(&s.setup, &m) == TL_OK &&
        tl_assess(m, &s.limits, &options, &assessment) == TL_OK &&
        !isfinite(assessment.fish_lost_d))
        least = to_spare(&assessment, &s);
    tl_model_free(m);
    tl_scenario_free(&s);
    return least;
}

static bool keeps(struct asked *a, double value)
{
    return run_with(a, value) >= a->margin - ROUNDING;
}

static bool fails(struct asked *a, double value)
{
    return run_with(a, value) < a->margin + ROUNDING;
}

/* --- the properties ------------------------------------------------------------------------------- */

/* Towards the side where it should fail. */
static double beside(const struct tl_size_quantity *q, double value)
{
    const double step = q->whole ? 1 : ONE_PERCENT * fabs(value);
    return q->most ? value + step : value - step;
}

static bool in_range(const struct tl_size_quantity *q, double value)
{
    return value >= q->low && value <= q->high;
}

static int complain(const struct asked *a, const struct tl_size_result *r, const char *what)
{
    print_error("seed %llu, %s %s, margin %.4g, answer %.9g: %s\n", (unsigned long long)a->seed,
                a->quantity.most ? "most" : "least", a->quantity.path, a->margin,
                r->point[r->answer].value, what);
    return 1;
}

/* How many things are wrong with an answer. */
static int faults(struct asked *a, const struct tl_size_result *r)
{
    const struct tl_size_quantity *q = &a->quantity;
    const double answer = r->point[r->answer].value;
    int wrong = 0;
    if (!keeps(a, answer))
        wrong += complain(a, r, "does not keep every limit");
    if (r->outcome != TL_SIZE_FOUND)
        return wrong;
    const double neighbour = r->point[r->neighbour].value;
    const double gap = q->most ? neighbour - answer : answer - neighbour;
    if (!fails(a, neighbour))
        wrong += complain(a, r, "the value beside it holds, too");
    if (q->whole ? gap != 1 : !(gap > 0 && gap <= ONE_PERCENT * fabs(answer) * (1 + ROUNDING)))
        wrong += complain(a, r, "the value beside it is further away");
    if (r->one_turn && in_range(q, beside(q, answer)) && !fails(a, beside(q, answer)))
        wrong += complain(a, r, "a step further holds, too");
    return wrong;
}

static void answers_hold_and_the_next_do_not(void **state)
{
    (void)state;
    int tried = 0, found = 0, at_end = 0, wrong = 0;
    for (uint64_t i = 0; tried < loops; i++) {
        struct asked a;
        struct tl_size_result r;
        if (!ask(random_loops.first_seed + i, &a))
            continue;
        size(&a, 0, &r);
        tried++;
        found += r.outcome == TL_SIZE_FOUND;
        at_end += r.outcome == TL_SIZE_AT_END;
        if (r.outcome != TL_SIZE_NEVER)
            wrong += faults(&a, &r);
        else if (a.quantity.given > 0 && keeps(&a, a.quantity.given)) {
            print_error("seed %llu: none was found, but the given value holds\n",
                        (unsigned long long)a.seed);
            wrong++;
        }
        tl_size_result_free(&r);
        tl_scenario_free(&a.scenario);
    }
    print_message("%d questions: %d answers, %d without an end\n", tried, found, at_end);
    assert_true(found >= tried / 8);
    assert_int_equal(wrong, 0);
}

static void threads_change_nothing(void **state)
{
    (void)state;
    int tried = 0;
    for (uint64_t i = 0; tried < 1 + loops / 4; i++) {
        struct asked a;
        struct tl_size_result one, many;
        if (!ask(random_loops.first_seed + i, &a))
            continue;
        size(&a, 1, &one);
        size(&a, 3, &many);
        assert_int_equal(one.outcome, many.outcome);
        assert_int_equal(one.answer, many.answer);
        assert_int_equal(one.neighbour, many.neighbour);
        assert_int_equal(one.best, many.best);
        assert_int_equal(one.points, many.points);
        for (size_t k = 0; k < one.points; k++) {
            const struct tl_size_point *p = &one.point[k], *q = &many.point[k];
            assert_memory_equal(&p->value, &q->value, sizeof p->value);
            assert_int_equal(p->holds, q->holds);
            assert_memory_equal(p->trial.worst, q->trial.worst, sizeof p->trial.worst);
        }
        tl_size_result_free(&one);
        tl_size_result_free(&many);
        tl_scenario_free(&a.scenario);
        tried++;
    }
}

static int set_up(void **state)
{
    (void)state;
    gsl_set_error_handler_off();
    return random_loops_begin(&random_loops, DEFAULT_SEED);
}

static int tear_down(void **state)
{
    (void)state;
    return random_loops_end(&random_loops);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_hold_and_the_next_do_not),
        cmocka_unit_test(threads_change_nothing),
    };
    if (argc != 2)
        return 2;
    loops = (int)strtol(argv[1], NULL, 10);
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
