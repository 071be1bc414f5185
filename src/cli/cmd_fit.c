/* towerloop fit FILE READINGS: the few values of a scenario that a log of readings can tell. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fit_drawing.h"
#include "fit_view.h"
#include "json.h"
#include "study_task.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 2048

static const char *const charts[] = {"fit", NULL};
static const char *const results[] = {"fitted.yaml", "residuals.csv",      "forecast.csv",
                                      "fit.json",    "fitted-spread.yaml", NULL};
enum { FITTED = 0, TABLES = 1, SPREAD = 4 };

/* Everything one fit holds. */
struct task {
    struct tl_study_task base;
    struct tl_measured_log log;
    struct tl_fit_bench bench;
    struct tl_fit fit;
};

static json_t *question_of(const struct tl_options *o)
{
    return json_pack("{s:o, s:f, s:f, s:o}", "fit", tl_json_texts(o->fit, o->fits), "hold_back",
                     o->hold_back, "forecast_d", o->forecast_d, "set",
                     tl_json_texts(o->set, o->sets));
}

static int read_log(struct task *t)
{
    struct tl_diag diag;
    tl_diag_init(&diag);
    const int status =
        tl_measured_read(t->base.options.word[1], &t->base.scenario.start, &t->log, &diag);
    tl_complain_diag(&diag, !t->base.options.quiet);
    if (status == TL_E_MEMORY)
        tl_complain("out of memory");
    tl_diag_free(&diag);
    return status;
}

static void say_runs(void *arg, size_t runs)
{
    tl_progress_say(arg, "fitting: %zu runs", runs);
}

static int solve(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    const struct tl_fit_question q = {
        .key = o->fit, .keys = o->fits, .hold_back = o->hold_back, .forecast_d = o->forecast_d};
    char why[WHY_SIZE] = "";
    t->bench = (struct tl_fit_bench){.file = o->word[0],
                                     .set = o->set,
                                     .sets = o->sets,
                                     .threads = o->threads,
                                     .interrupted = &tl_interrupted,
                                     .progress = say_runs,
                                     .progress_arg = &t->base.progress};
    const int status = tl_fit_solve(&t->bench, &t->log, &q, &t->fit, why, sizeof why);
    tl_progress_clear(&t->base.progress);
    if (status == TL_E_INTERRUPTED) {
        tl_complain("interrupted; nothing is kept");
    } else if (status != TL_OK) {
        char *rest = why;
        if (!*why)
            tl_complain("the fit failed: %s", tl_status_text(status));
        for (const char *line; (line = strsep(&rest, "\n")) && *line;)
            tl_complain("%s%s", status == TL_E_INPUT ? "--fit: " : "", line);
    }
    return status;
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status;
    if ((status = tl_study_read(&t->base)) != TL_OK || (status = read_log(t)) != TL_OK)
        return status;
    if ((status = tl_study_open(&t->base, "fit", question_of(&t->base.options), results, charts)) !=
        TL_OK)
        return status;
    return solve(t);
}

/* What a reader of the file should know before it is run. */
static void add_comment(struct tl_text *t, const struct tl_fit *f, bool spread)
{
    tl_text_addf(t, "# Written by towerloop fit: %zu value%s fitted to %zu readings", f->n,
                 f->n == 1 ? "" : "s", f->used);
    tl_text_add(t, f->n > 0 ? ":\n" : ".\n");
    for (size_t j = 0; j < f->n; j++) {
        const struct tl_fit_quantity *q = &f->quantity[f->fitted[j]];
        const struct tl_fit_interval i = tl_fit_interval(f, j);
        tl_text_addf(t, "#   %s: %.4g, was %.4g, 90 %% interval %s%.4g to %.4g%s, %s\n", q->path,
                     f->result.x[j], q->given, i.low_open ? "open below, " : "", i.low, i.high,
                     i.high_open ? ", open above" : "", tl_dim_base_unit(q->dim));
    }
    if (f->n > 0 && !tl_fit_is_sound(f))
        tl_text_add(
            t, "# Do not rely on them: the search did not settle, a value lies at the end of its "
               "range,\n# or they were not tried, or did no better, on readings they had not "
               "seen.\n");
    if (spread)
        tl_text_add(t,
                    "# spread: has their intervals as ranges of their own. That two of them make "
                    "up for\n# each other is lost, which makes what comes of it wider, as a rule. "
                    "That the model\n# may be wrong is not in it.\n");
}

static int write_scenario(const struct task *t, const struct tl_scenario *s, const char *name,
                          bool spread)
{
    struct tl_text all = {0};
    char *text = NULL;
    add_comment(&all, &t->fit, spread);
    int status = tl_scenario_text(s, &text);
    if (status == TL_OK) {
        tl_text_add(&all, text);
        status =
            all.failed ? TL_E_MEMORY : tl_study_write(&t->base.folder, name, tl_text_string(&all));
    }
    free(text);
    tl_text_free(&all);
    return status;
}

/* The scenario with the fitted values; once more with what they leave open, where that is worth it. */
static int write_fitted(const struct task *t)
{
    struct tl_scenario s;
    struct tl_diag diag;
    tl_diag_init(&diag);
    int status = tl_fit_scenario(&t->bench, &t->fit, &s, &diag);
    if (status == TL_OK) {
        status = write_scenario(t, &s, results[FITTED], false);
        if (status == TL_OK && tl_fit_is_sound(&t->fit)) {
            status = tl_fit_spread(&t->bench, &t->fit, &s, &diag);
            if (status == TL_OK)
                status = write_scenario(t, &s, results[SPREAD], true);
            else if (status == TL_E_INPUT) /* the scenario's own list is full */
                status = TL_OK;
        }
        tl_scenario_free(&s);
    }
    tl_diag_free(&diag);
    return status;
}

static int write_results(void *arg)
{
    static int (*const writer[])(const struct tl_fit *, const struct tl_scenario *,
                                 const char *) = {tl_fit_write_residuals, tl_fit_write_forecast,
                                                  tl_fit_write_json};
    struct task *t = arg;
    int status = write_fitted(t);
    for (size_t i = 0; i < sizeof writer / sizeof *writer && status == TL_OK; i++) {
        char *path = tl_study_path(&t->base.folder, results[TABLES + i]);
        status = path ? writer[i](&t->fit, &t->base.scenario, path) : TL_E_MEMORY;
        free(path);
    }
    if (status == TL_OK)
        status = tl_study_finish(&t->base.folder, NULL, 0);
    if (status == TL_OK)
        t->base.folder.made = false; /* it stays */
    return status;
}

static int draw_chart(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    const struct task *t = arg;
    return tl_fit_draw(&t->bench, &t->fit, &t->base.scenario, t->base.options.units, folder,
                       outcome);
}

static void print(void *arg)
{
    const struct task *t = arg;
    tl_fit_text(&t->fit, &t->base.scenario, t->base.options.units, stdout);
}

static int judge(void *arg)
{
    (void)arg;
    return TL_EXIT_DONE;
}

static void release(void *arg)
{
    struct task *t = arg;
    tl_fit_free(&t->fit);
    tl_measured_free(&t->log);
}

static int cmd_fit(int argc, char **argv)
{
    static const struct tl_study_steps steps = {
        &tl_command_fit, sizeof(struct task), answer, draw_chart, write_results, print, judge,
        release};
    return tl_study_command(argc, argv, &steps);
}

const struct tl_command tl_command_fit = {
    .name = "fit",
    .run = cmd_fit,
    .help = "what readings of the water tell about the loop",
    .words = "FILE READINGS",
    .least_words = 2,
    .most_words = 2,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(FIT) |
             TL_TAKES(HOLD_BACK) | TL_TAKES(FORECAST) | TL_TAKES(NO_CHARTS) | TL_TAKES(THREADS) |
             TL_TAKES(QUIET),
    .more = "READINGS is a CSV as towerloop log FILE --csv begins it: a line a reading, in\n"
            "which <0.25 and 0.25-0.5 (between two colours) are values, too. Without --fit up\n"
            "to four of the keys below are fitted, those that the readings tell; the others\n"
            "stay:\n"
            "\n"
#define ROW(path, low, high, source) "  " path "\n"
    TL_FIT_LIST(ROW)
#undef ROW
        "\n"
        "Without --out the results go to out/ and the name of FILE with -fit:\n"
        "fitted.yaml, the scenario with the fitted values, fitted-spread.yaml, the same\n"
        "with their intervals for towerloop spread, where the fit is sound, fit.json,\n"
        "residuals.csv, forecast.csv; charts/fit.png and fit.svg, the readings and the\n"
        "model, before and fitted.\n",
};
