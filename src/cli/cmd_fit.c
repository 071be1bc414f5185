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
static const char *const results[] = {"fitted.yaml", "residuals.csv", "forecast.csv", "fit.json",
                                      NULL};

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

/* The scenario with the fitted values, as a file. */
static int write_fitted(const struct task *t)
{
    struct tl_scenario s;
    struct tl_diag diag;
    char *text = NULL;
    tl_diag_init(&diag);
    int status = tl_fit_scenario(&t->bench, &t->fit, &s, &diag);
    if (status == TL_OK) {
        status = tl_scenario_text(&s, &text);
        tl_scenario_free(&s);
    }
    if (status == TL_OK)
        status = tl_study_write(&t->base.folder, results[0], text);
    tl_diag_free(&diag);
    free(text);
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
        char *path = tl_study_path(&t->base.folder, results[i + 1]);
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
        "fitted.yaml, the scenario with the fitted values, fit.json, residuals.csv,\n"
        "forecast.csv; charts/fit.png and fit.svg, the readings and the model, before\n"
        "and fitted.\n",
};
