/* towerloop size FILE: the least or most of a quantity that keeps every limit with a margin. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "size_chart.h"
#include "size_uncertain.h"
#include "steady.h"
#include "study_task.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024
#define TRIALS   "trials.json"
#define ANSWER   "answer"

static const char *const charts[] = {"size", NULL};
static const char *const results[] = {TRIALS, "size.csv", "size.json", NULL};

/* Everything one sizing holds. */
struct task {
    struct tl_study_task base;
    struct tl_size_bench bench;
    struct tl_size_view view;
    char *store; /* path of the trials */
};

/* --- what is asked ------------------------------------------------------------------------------ */

#define SMALL_SHARE 1e-3 /* of the range */

/* Whether the scenario can have any other value of it than what it has; says why not. */
static bool can_be(const struct task *t, const struct tl_size_quantity *q, bool most)
{
    const double small = q->low + SMALL_SHARE * (q->high - q->low);
    const double value[] = {0.5 * q->given, 2 * q->given, q->whole ? floor(small) : small, q->low,
                            q->high};
    const struct tl_size_bench bench = {
        .file = t->base.options.word[0], .set = t->base.options.set, .sets = t->base.options.sets};
    struct tl_diag first;
    bool good = false;
    tl_diag_init(&first);
    for (size_t i = 0; i < sizeof value / sizeof *value && !good; i++) {
        char text[TL_SIZE_SETTING];
        const char *set[] = {text};
        struct tl_scenario s;
        struct tl_diag diag;
        if (value[i] < q->low || value[i] > q->high || value[i] == q->given ||
            (q->whole && value[i] != floor(value[i])))
            continue;
        tl_size_setting(q, value[i], text);
        tl_diag_init(&diag);
        good = tl_size_read(&bench, set, 1, &s, first.count == 0 ? &first : &diag) == TL_OK;
        if (good)
            tl_scenario_free(&s);
        tl_diag_free(&diag);
    }
    if (!good) {
        tl_complain("--%s: %s: the scenario can have no other value there:",
                    most ? "most" : "least", q->path);
        tl_complain_diag(&first, false);
    }
    tl_diag_free(&first);
    return good;
}

static int read_quantities(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    int status = TL_OK;
    if (o->goals == 0 && !o->by_hand) {
        tl_complain(
            "say what to size, as --least tower.trays or --most \"fish[0].count\"; or ask for "
            "--by-hand");
        return TL_E_INPUT;
    }
    for (size_t i = 0; i < o->goals; i++) {
        char why[WHY_SIZE] = "", expected[WHY_SIZE] = "";
        const struct tl_size_goal *g = &o->goal[i];
        const int one = tl_size_quantity(&t->base.scenario, g->path, g->most, o->units,
                                         &t->view.quantity[i], why, expected, WHY_SIZE);
        if (one == TL_E_MEMORY)
            return tl_complain_memory(one);
        if (one != TL_OK)
            tl_complain("--%s: %s: %s; expected %s", g->most ? "most" : "least", g->path, why,
                        expected);
        if (one != TL_OK || !can_be(t, &t->view.quantity[i], g->most))
            status = TL_E_INPUT;
    }
    if (o->goals == 2 && strcmp(o->goal[0].path, o->goal[1].path) == 0) {
        tl_complain("%s is asked for twice", o->goal[0].path);
        status = TL_E_INPUT;
    }
    t->view.quantities = o->goals;
    return status;
}

/* Which day is judged; says so when the steady one was asked for in vain. */
static void choose_day(struct task *t)
{
    const char *obstacle = tl_steady_obstacle(&t->base.scenario.setup);
    if (t->base.options.steady && obstacle)
        tl_complain(
            "--steady: no day of this loop repeats itself, as %s; the worst of the run counts",
            obstacle);
    t->view.obstacle = obstacle;
    t->view.steady = t->base.options.steady && !obstacle;
}

/* --- the folder --------------------------------------------------------------------------------- */

static json_t *question_of(const struct task *t)
{
    const struct tl_options *o = &t->base.options;
    json_t *wanted = json_array();
    for (size_t i = 0; i < o->goals; i++)
        tl_json_append(&wanted,
                       json_pack("{s:s}", o->goal[i].most ? "most" : "least", o->goal[i].path));
    return json_pack("{s:o, s:f, s:b, s:b, s:f, s:s, s:o}", "wanted", wanted, "margin", o->margin,
                     "steady", o->steady, "by_hand", o->by_hand, "rtol", o->rtol, "units",
                     o->units == TL_US ? "us" : "metric", "set", tl_json_texts(o->set, o->sets));
}

/* --- the search --------------------------------------------------------------------------------- */

static void say_trials(void *arg, const struct tl_size_bench *b)
{
    char searches[64] = "";
    if (b->of > 0)
        tl_format(searches, sizeof searches, "%zu of %zu answers found, ", b->done, b->of);
    tl_progress_say(arg, "sizing: %s%zu values tried, %zu of them run now", searches, b->trials,
                    b->runs);
}

static int open_bench(struct task *t)
{
    t->store = tl_study_path(&t->base.folder, TRIALS);
    if (!t->store)
        return TL_E_MEMORY;
    t->bench = (struct tl_size_bench){.file = t->base.options.word[0],
                                      .set = t->base.options.set,
                                      .sets = t->base.options.sets,
                                      .steady = t->view.steady,
                                      .rtol = t->base.options.rtol,
                                      .interrupted = &tl_interrupted,
                                      .store = t->store,
                                      .progress = say_trials,
                                      .progress_arg = &t->base.progress};
    return tl_size_bench_open(&t->bench);
}

/* "tower.trays=22" beside the answer's own setting. */
static int buy(struct task *t, const char *what, const char *setting)
{
    const struct tl_size_view *v = &t->view;
    struct tl_size_buy *b = &t->view.buy[t->view.buys];
    char answer[TL_SIZE_SETTING];
    const char *set[] = {answer, b->setting};
    tl_size_setting(&v->quantity[0], v->one.point[v->one.answer].value, answer);
    tl_format(b->what, sizeof b->what, "%s", what);
    tl_format(b->setting, sizeof b->setting, "%s", setting);
    t->view.buys++;
    return tl_size_try(&t->bench, set, 2, &b->trial);
}

static int buy_more(struct task *t)
{
    const struct tl_size_view *v = &t->view;
    struct tl_scenario s;
    struct tl_diag diag;
    char answer[TL_SIZE_SETTING], what[64], setting[TL_SIZE_SETTING], flow[40];
    const char *set[] = {answer};

    tl_size_setting(&v->quantity[0], v->one.point[v->one.answer].value, answer);
    tl_diag_init(&diag);
    int status = tl_size_read(&t->bench, set, 1, &s, &diag);
    tl_diag_free(&diag);
    if (status != TL_OK)
        return status;
    const int trays = s.setup.tower.trays + 1;
    /* a flow that follows from a curve cannot be set */
    const double flow_m3_d = s.setup.pump.curve.n > 0 ? 0 : 1.1 * s.setup.pump_flow_m3_d;
    tl_scenario_free(&s);
    tl_format(what, sizeof what, "one more tray, %d", trays);
    tl_format(setting, sizeof setting, "tower.trays=%d", trays);
    status = buy(t, what, setting);
    if (status == TL_OK && flow_m3_d > 0) {
        tl_display_text(TL_DIM_FLOW, t->base.options.units, flow_m3_d, 3, flow, sizeof flow);
        tl_format(what, sizeof what, "10 %% more flow, %s", flow);
        tl_format(setting, sizeof setting, "pump.flow=%.15g m3/d", flow_m3_d);
        status = buy(t, what, setting);
    }
    return status;
}

static int search(struct task *t)
{
    struct tl_size_view *v = &t->view;
    struct tl_size_task task = {.bench = &t->bench,
                                .quantity = &v->quantity[v->quantities == 2],
                                .margin = v->margin,
                                .threads = t->base.options.threads};
    if (v->quantities == 0)
        return TL_OK;
    if (v->quantities == 2)
        return tl_size_solve_front(&task, &v->quantity[0], &v->front);
    int status = tl_size_solve(&task, &v->one);
    if (status == TL_OK && tl_size_found(v))
        status = buy_more(t);
    return status;
}

static int search_and_tell(struct task *t)
{
    errno = 0;
    int status = open_bench(t);
    if (status == TL_OK)
        status = search(t);
    const int reason = errno;
    tl_progress_clear(&t->base.progress);
    if (t->bench.trials > 0)
        t->base.folder.made = false; /* what is done stays */
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted; values tried: %zu; the same command goes on from there",
                    t->bench.trials);
    else if (status != TL_OK)
        tl_complain("the sizing failed: %s",
                    status == TL_E_IO && reason ? strerror(reason) : tl_status_text(status));
    return status;
}

/* --- the answer's own run ----------------------------------------------------------------------- */

/* The scenario with the answer put in, or as it is. */
static int read_answer(struct task *t, struct tl_scenario *out)
{
    const struct tl_size_view *v = &t->view;
    struct tl_diag diag;
    char answer[TL_SIZE_SETTING];
    const char *set[] = {answer};
    const bool one = v->quantities == 1 && tl_size_found(v);
    if (one)
        tl_size_setting(&v->quantity[0], v->one.point[v->one.answer].value, answer);
    tl_diag_init(&diag);
    int status = tl_size_read(&t->bench, set, one ? 1 : 0, out, &diag);
    tl_complain_diag(&diag, false);
    if (status != TL_OK && diag.errors == 0)
        tl_complain("%s: %s", t->base.options.word[0], tl_status_text(status));
    tl_diag_free(&diag);
    return status;
}

static int reckon_by_hand(struct task *t, const struct tl_scenario *s)
{
    const struct tl_assess_options options = {.rtol = t->base.options.rtol,
                                              .interrupted = &tl_interrupted};
    struct tl_assessment *a = calloc(1, sizeof *a);
    struct tl_model *m = NULL;
    int status = a ? tl_model_build(&s->setup, &m) : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_assess(m, &s->limits, &options, a);
    if (status == TL_OK || status == TL_E_SOLVER) {
        tl_handbook_make(s, status == TL_OK ? a : NULL, t->view.margin, &t->view.hand);
        status = TL_OK;
    }
    tl_model_free(m);
    free(a);
    return status;
}

/* The run of the answer, kept in the folder, with what it takes and costs. */
static int run_own(struct task *t)
{
    const struct tl_record_options options = {
        .assess = {.rtol = t->base.options.rtol, .interrupted = &tl_interrupted}, .rows = true};
    struct tl_size_own_run *own = &t->view.own;
    struct tl_amounts run;
    char why[WHY_SIZE] = "";
    int status = tl_study_run(&t->base.folder, ANSWER, &own->scenario, &options, &own->result, NULL,
                              why, sizeof why);
    if (status == TL_OK)
        status = tl_amounts_of(&own->scenario, &own->result.given, &run);
    if (status == TL_OK)
        status = tl_amounts_of_month(&own->scenario, &own->result.given_a_month, &own->month);
    if (status == TL_OK) {
        tl_bill_of(&own->scenario, &run, &own->month, own->result.grade == TL_WITHIN, &own->bill);
        tl_build_sheet_of(&own->scenario, &own->sheet);
        own->made = true;
    }
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the answer's run failed: %s", *why ? why : tl_status_text(status));
    return status;
}

static int run_answer(struct task *t)
{
    int status = read_answer(t, &t->view.own.scenario);
    if (status != TL_OK)
        return status;
    tl_progress_say(&t->base.progress, "running the answer");
    if (t->view.by_hand)
        status = reckon_by_hand(t, &t->view.own.scenario);
    if (status == TL_OK && t->view.quantities == 1 && tl_size_found(&t->view))
        status = run_own(t);
    tl_progress_clear(&t->base.progress);
    return status;
}

/* --- results ------------------------------------------------------------------------------------ */

static int write_results(void *arg)
{
    static const char name[][TL_STUDY_NAME_SIZE] = {ANSWER};
    struct task *t = arg;
    char *csv = tl_study_path(&t->base.folder, "size.csv");
    char *json = tl_study_path(&t->base.folder, "size.json");
    int status = csv && json ? tl_size_write_csv(&t->view, csv) : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_size_write_json(&t->view, json);
    if (status == TL_OK)
        status = tl_study_finish(&t->base.folder, name, 1);
    if (status == TL_OK)
        t->base.folder.made = false;
    free(csv);
    free(json);
    return status;
}

/* Columns of what limits have to spare, the tightest at the answer (or at the best value) first. */
static size_t chart_limits(const struct tl_size_result *r, int order[TL_SIZE_CURVES])
{
    const struct tl_size_trial *at =
        &r->point[r->outcome == TL_SIZE_NEVER ? r->best : r->answer].trial;
    size_t n = 0;
    for (int i = 0; i < TL_NSIZE_LIMIT; i++) {
        if (isnan(at->spare[i]))
            continue;
        size_t k = n < TL_SIZE_CURVES ? n++ : TL_SIZE_CURVES;
        for (; k > 0 && at->spare[order[k - 1]] > at->spare[i]; k--)
            if (k < TL_SIZE_CURVES)
                order[k] = order[k - 1];
        if (k < TL_SIZE_CURVES)
            order[k] = i;
    }
    return n;
}

#define LOWEST_SHOWN (-100.0)

static void chart_one(const struct tl_size_view *v, double *x, double *y, struct tl_size_chart *c)
{
    const struct tl_size_result *r = &v->one;
    int order[TL_SIZE_CURVES] = {0};
    c->curves = chart_limits(r, order);
    c->joined = true;
    c->points = r->points;
    c->lowest = LOWEST_SHOWN;
    c->asked = 100 * v->margin;
    c->y_name = "to spare, % of the limit";
    for (size_t i = 0; i < r->points; i++)
        x[i] = r->point[i].value;
    for (size_t k = 0; k < c->curves; k++) {
        for (size_t i = 0; i < r->points; i++)
            y[k * r->points + i] = 100 * r->point[i].trial.spare[order[k]];
        c->curve[k].y = &y[k * r->points];
        tl_format(c->curve[k].name, sizeof c->curve[k].name, "%s", tl_size_limit_name(order[k]));
    }
    if (r->outcome != TL_SIZE_NEVER)
        c->answer = r->point[r->answer].value;
}

static void chart_two(const struct tl_size_view *v, double *x, double *y, struct tl_size_chart *c)
{
    c->points = v->front.n;
    c->curves = 1;
    for (size_t i = 0; i < v->front.n; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        x[i] = v->front.first[i];
        y[i] = r->outcome == TL_SIZE_NEVER ? NAN : r->point[r->answer].value;
    }
    c->curve[0].y = y;
    tl_format(c->curve[0].name, sizeof c->curve[0].name, "%s that will do",
              v->quantity[1].most ? "most" : "least");
}

static void name_axis(const struct tl_size_quantity *q, char *text, size_t size)
{
    tl_format(text, size, "%s%s%s", q->path, *q->unit ? ", " : "", q->unit);
}

static int draw_chart(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    struct task *t = arg;
    struct tl_size_view *v = &t->view;
    const size_t points = v->quantities == 2 ? v->front.n : v->one.points;
    char title[160], axis[2][128] = {"", ""}, answer[64] = "";
    if (points == 0)
        return TL_OK;
    double *x = calloc((1 + TL_SIZE_CURVES) * points, sizeof *x);
    if (!x)
        return TL_E_MEMORY;
    struct tl_size_chart c = {.out_dir = folder,
                              .title = title,
                              .subject = t->base.scenario.title,
                              .x_name = axis[0],
                              .y_name = axis[1],
                              .x = x,
                              .asked = NAN,
                              .lowest = NAN,
                              .answer = NAN,
                              .answer_name = answer,
                              .interrupted = &tl_interrupted};
    for (size_t i = 0; i < v->quantities; i++)
        name_axis(&v->quantity[i], axis[i], sizeof axis[i]);
    tl_format(title, sizeof title, "The %s %s that keeps every limit",
              v->quantity[v->quantities - 1].most ? "most" : "least",
              v->quantity[v->quantities - 1].path);
    if (v->quantities == 1)
        chart_one(v, x, x + points, &c);
    else
        chart_two(v, x, x + points, &c);
    if (!isnan(c.answer))
        tl_size_value_text(&v->quantity[0], c.answer, answer, sizeof answer);
    int status = tl_size_chart_draw(&c, outcome);
    free(x);
    return status;
}

static void print(void *arg)
{
    const struct task *t = arg;
    tl_size_text(&t->view, stdout);
}

static int judge(void *arg)
{
    const struct task *t = arg;
    return tl_size_found(&t->view) ? TL_EXIT_DONE : TL_EXIT_FAILED;
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status = tl_study_read(&t->base);
    if (status != TL_OK)
        return status;
    if ((status = read_quantities(t)) != TL_OK)
        return status;
    t->view.scenario = &t->base.scenario;
    t->view.margin = t->base.options.margin;
    t->view.by_hand = t->base.options.by_hand;
    t->view.units = t->base.options.units;
    choose_day(t);
    if ((status = tl_size_uncertain_check(&t->base, &t->view)) != TL_OK)
        return status;
    if ((status = tl_study_open(&t->base, "size", question_of(t), results, charts)) != TL_OK ||
        (status = search_and_tell(t)) != TL_OK || (status = run_answer(t)) != TL_OK)
        return status;
    return tl_size_uncertain_run(&t->base, &t->view);
}

static void release(void *arg)
{
    struct task *t = arg;
    tl_size_bench_close(&t->bench);
    tl_size_result_free(&t->view.one);
    tl_size_front_free(&t->view.front);
    tl_scenario_free(&t->view.own.scenario);
    tl_size_sure_free(&t->view.sure);
    free(t->store);
}

static int cmd_size(int argc, char **argv)
{
    static const struct tl_study_steps steps = {
        &tl_command_size, sizeof(struct task), answer, draw_chart, write_results, print, judge,
        release};
    return tl_study_command(argc, argv, &steps);
}

const struct tl_command tl_command_size = {
    .name = "size",
    .run = cmd_size,
    .help = "the least or most of something that keeps every limit",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(RTOL) |
             TL_TAKES(LEAST) | TL_TAKES(MOST) | TL_TAKES(MARGIN) | TL_TAKES(STEADY) |
             TL_TAKES(BY_HAND) | TL_TAKES(UNCERTAIN) | TL_TAKES(SEED) | TL_TAKES(INPUTS) |
             TL_TAKES(THREADS) | TL_TAKES(NO_CHARTS) | TL_TAKES(QUIET),
    .more = "--least tower.trays, --most \"fish[0].count\", --least pump.flow: any key with a\n"
            "number that the water depends on. With two of them: the second one at each of\n"
            "some values of the first. A limit is its caution value. When no value will do,\n"
            "that is said, and the exit status is 1. A value outside the published range of\n"
            "an equation is marked.\n"
            "--steady: the filter ready, the water settled, the settling chamber drained at\n"
            "the interval that the answer names. A loop that does not settle within 600\n"
            "days is none.\n"
            "--uncertain 1000 says how sure the answer is: in how many of 100 runs, each with\n"
            "other values for what is uncertain, as towerloop spread makes them, the water\n"
            "stays within limits there, and at the value beside it that does not hold.\n"
            "Without --out the results go to out/ and the name of FILE with -size. After an\n"
            "interruption the same command goes on where it was.\n",
};
