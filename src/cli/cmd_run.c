/* towerloop run FILE: simulate a scenario, write its folder, print the answer. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "cli.h"
#include "out_place.h"
#include "place.h"
#include "posix.h"
#include "progress.h"
#include "record.h"
#include "report_file.h"
#include "run_charts.h"
#include "run_leftover.h"
#include "spread_verdict.h"
#include "towerloop/advice.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define WHY_SIZE 1024

/* Everything one run holds. */
struct run {
    struct tl_options options;
    struct tl_progress progress;
    struct tl_diag diag;
    struct tl_scenario scenario;
    struct tl_run_folder folder;
    struct tl_assessment assessment;
    struct tl_advice advice;
    struct tl_upkeep upkeep;
    struct tl_jobs jobs;
    struct tl_spread_verdict spread; /* where one was named */
    char **warning;                  /* texts of the warnings about the input */
    size_t warnings;
};

static int draw_charts(struct run *r)
{
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    char *series = tl_run_folder_path(&r->folder, "series.csv");
    char *charts = tl_run_folder_path(&r->folder, "charts");
    struct tl_run_result result;
    int status = series && charts ? tl_run_result_load(r->folder.draft, &result) : TL_E_MEMORY;
    if (status == TL_E_INPUT || status == TL_E_IO)
        (void)tl_format(outcome.fault, sizeof outcome.fault, "summary.json cannot be read again");
    if (status == TL_OK) {
        tl_progress_say(&r->progress, "drawing the charts");
        const struct tl_run_charts wanted = {.scenario = &r->scenario,
                                             .series_csv = series,
                                             .folder = charts,
                                             .units = r->options.units,
                                             .result = &result,
                                             .interrupted = &tl_interrupted};
        status = tl_run_charts(&wanted, &outcome);
        tl_progress_clear(&r->progress);
        tl_posix_remove_empty(charts);
    }
    free(series);
    free(charts);
    return tl_complain_charts(status, &outcome);
}

/* --- the run ---------------------------------------------------------------------------------- */

static void say_left(void *arg, const char *path, bool old)
{
    (void)arg;
    if (old)
        tl_complain("%s holds earlier results that a run had moved away when it was killed; move "
                    "them back, or "
                    "delete them",
                    path);
    else
        tl_complain("%s is what a run that was killed has left; it may be deleted", path);
}

/* Whether all that is read stays where it is when the folder at `place` is replaced. */
static int look_at_inputs(const struct run *r, const char *place, char *why, size_t size)
{
    const char *file[] = {r->options.word[0], NULL};
    int status = tl_place_apart(place, file, why, size);
    for (enum tl_input i = 0; i < TL_NINPUT && status == TL_OK; i++) {
        if (!r->scenario.input[i])
            continue;
        char *path = tl_scenario_input_path(&r->scenario, i);
        file[0] = path;
        status = path ? tl_place_apart(place, file, why, size) : TL_E_MEMORY;
        free(path);
    }
    return status;
}

static int begin_folder(struct run *r)
{
    char why[WHY_SIZE] = "";
    char *place = tl_out_place(&r->options, "");
    int status = place ? TL_OK : TL_E_MEMORY;
    if (status == TL_OK && r->options.force)
        status = look_at_inputs(r, place, why, sizeof why);
    if (status == TL_OK)
        status = tl_run_folder_begin(&r->folder, place, tl_run_chart_names, r->options.force, why,
                                     sizeof why);
    if (status == TL_OK && r->folder.locked) /* without locks there is no telling what is in use */
        status = tl_run_leftovers(r->folder.place, say_left, NULL);
    if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    free(place);
    return status;
}

static int keep_warnings(struct run *r)
{
    bool whole = (r->warning = calloc(r->diag.count + 1, sizeof *r->warning)) != NULL;
    for (size_t i = 0; whole && i < r->diag.count; i++) {
        if (r->diag.message[i].level != TL_DIAG_WARNING)
            continue;
        whole = (r->warning[r->warnings] = tl_diag_text(&r->diag.message[i])) != NULL;
        r->warnings += whole;
    }
    if (!whole)
        tl_complain("%s", tl_status_text(TL_E_MEMORY));
    return whole ? TL_OK : TL_E_MEMORY;
}

static void say_simulated(void *arg, double done)
{
    tl_progress_say(arg, "simulating: %.0f %%", floor(100 * done));
}

static int simulate(struct run *r)
{
    const struct tl_assess_options options = {.rtol = r->options.rtol,
                                              .upkeep = &r->upkeep,
                                              .interrupted = &tl_interrupted,
                                              .progress = say_simulated,
                                              .progress_arg = &r->progress};
    char *series = tl_run_folder_path(&r->folder, "series.csv");
    errno = 0;
    int status =
        series ? tl_record_simulate(&r->scenario, &options, series, &r->assessment) : TL_E_MEMORY;
    int reason = errno;
    tl_progress_clear(&r->progress);
    free(series);
    if (status == TL_E_IO)
        tl_complain("series.csv cannot be written: %s", strerror(reason));
    else if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the run failed: %s",
                    r->assessment.fault[0] ? r->assessment.fault : tl_status_text(status));
    return status;
}

static void say_lever(void *arg, size_t lever, size_t levers)
{
    tl_progress_say(arg, "looking for what helps: lever %zu of %zu", lever, levers);
}

static int advise(struct run *r)
{
    const struct tl_advise_options options = {.units = r->options.units,
                                              .interrupted = &tl_interrupted,
                                              .progress = say_lever,
                                              .progress_arg = &r->progress};
    int status = tl_advise(&r->scenario, &r->assessment, &options, &r->advice);
    tl_progress_clear(&r->progress);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("looking for what helps failed: %s", tl_status_text(status));
    return status;
}

static int fill_folder(struct run *r, const struct tl_outcome *outcome)
{
    errno = 0;
    int status = tl_record_fill(&r->folder, outcome);
    if (status != TL_OK)
        tl_complain("the results cannot be written: %s", tl_cli_cause(status, errno));
    return status;
}

/* What the page says of charts that are not there. */
static const char *no_charts(const struct run *r, int chart_status)
{
    if (!r->options.charts)
        return "Charts were not asked for in this run (--no-charts).";
    return chart_status == TL_OK ? "No charts were drawn on this machine: gnuplot is missing."
                                 : "The charts could not be drawn.";
}

/* Of the draft, which has all but this. */
static int write_report(struct run *r, int chart_status)
{
    char *charts = tl_run_folder_path(&r->folder, "charts");
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    if (!charts)
        return tl_complain_memory(TL_E_MEMORY);
    int status = tl_posix_look(charts, &kind);
    struct tl_report report = {.folder = r->folder.draft,
                               .charts = kind == TL_POSIX_FOLDER ? charts : NULL,
                               .no_charts = no_charts(r, chart_status),
                               .scenario = &r->scenario,
                               .units = r->options.units};
    if (status != TL_OK)
        tl_complain("%s cannot be read: %s", charts, strerror(errno));
    else
        status = tl_cli_report(&report, TL_REPORT_RUN, r->folder.draft);
    free(charts);
    return status;
}

static int move_into_place(struct run *r)
{
    char why[WHY_SIZE] = "";
    int status = tl_run_folder_commit(&r->folder, r->options.force, why, sizeof why);
    if (status != TL_OK || *why)
        tl_complain("%s", *why ? why : tl_status_text(status));
    return status;
}

/* The answer is printed once it is all in place. */
static void answer(const struct run *r, const struct tl_outcome *outcome)
{
    if (r->options.quiet)
        return;
    if (!tl_text_report(outcome, r->options.units, stdout))
        tl_answer_lost();
    tl_answer_place("Results", r->folder.place);
}

static int finish(struct run *r)
{
    struct tl_advice_text advice[TL_ADVICE_MOST];
    for (size_t i = 0; i < r->advice.items; i++)
        advice[i] =
            (struct tl_advice_text){r->advice.item[i].lever, r->advice.item[i].because,
                                    r->advice.item[i].build_more, r->advice.item[i].run_more};
    struct tl_outcome outcome = tl_assessment_outcome(&r->assessment, &r->scenario);
    outcome.jobs = &r->jobs;
    outcome.advice = advice;
    outcome.advices = r->advice.items;
    outcome.tried = r->advice.tried;
    outcome.limiting = r->advice.limiting;
    outcome.spread = r->options.spread ? &r->spread : NULL;
    outcome.warning = (const char *const *)r->warning;
    outcome.warnings = r->warnings;
    outcome.rtol = r->options.rtol;
    int status, chart_status = TL_OK;

    if ((status = tl_jobs_make(&r->scenario, &r->upkeep, r->assessment.verdict.filter_ready_d,
                               r->assessment.end_d, &r->jobs)) != TL_OK) {
        tl_complain("%s", tl_status_text(status));
        return tl_exit_for(status);
    }
    if ((status = fill_folder(r, &outcome)) != TL_OK)
        return tl_exit_for(status);
    if (r->options.charts && (chart_status = draw_charts(r)) == TL_E_INTERRUPTED)
        return TL_EXIT_INTERRUPTED;
    const int report_status = r->options.report ? write_report(r, chart_status) : TL_OK;
    if (tl_interrupted)
        return TL_EXIT_INTERRUPTED;
    if ((status = move_into_place(r)) != TL_OK)
        return tl_exit_for(status);
    answer(r, &outcome);
    if (chart_status != TL_OK || report_status != TL_OK)
        return TL_EXIT_FAILED;
    if (r->options.fail_on != TL_WITHIN && tl_outcome_grade(&outcome) >= r->options.fail_on)
        return TL_EXIT_FAIL_ON;
    return TL_EXIT_DONE;
}

static int read_spread(struct run *r)
{
    char why[WHY_SIZE] = "";
    if (!r->options.spread)
        return TL_OK;
    const int status =
        tl_spread_verdict_load(r->options.spread, &r->scenario, &r->spread, why, sizeof why);
    if (status != TL_OK)
        tl_complain("--spread: %s", *why ? why : tl_status_text(status));
    return status;
}

static int run_scenario(struct run *r)
{
    int status;
    if ((status = tl_cli_read_scenario(r->options.word[0], &r->options, &r->scenario, &r->diag)) !=
            TL_OK ||
        (status = keep_warnings(r)) != TL_OK || (status = read_spread(r)) != TL_OK ||
        (status = begin_folder(r)) != TL_OK)
        return tl_exit_for(status);
    tl_progress_begin(&r->progress, r->options.quiet);
    if ((status = simulate(r)) != TL_OK || (status = advise(r)) != TL_OK)
        return tl_exit_for(status);
    return finish(r);
}

static int cmd_run(int argc, char **argv)
{
    struct run r = {.warnings = 0};
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_run, &r.options, &finished);
    if (!finished) {
        tl_diag_init(&r.diag);
        code = run_scenario(&r);
        tl_run_folder_end(&r.folder);
        tl_jobs_free(&r.jobs);
        tl_upkeep_free(&r.upkeep);
        tl_scenario_free(&r.scenario);
        for (size_t i = 0; i < r.warnings; i++)
            free(r.warning[i]);
        free(r.warning);
        tl_diag_free(&r.diag);
    }
    tl_options_free(&r.options);
    return code;
}

const struct tl_command tl_command_run = {
    .name = "run",
    .run = cmd_run,
    .help = "simulate a scenario: verdict, table, charts",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(RTOL) |
             TL_TAKES(FAIL_ON) | TL_TAKES(NO_CHARTS) | TL_TAKES(REPORT) | TL_TAKES(SPREAD) |
             TL_TAKES(QUIET),
    .more = "Without --out the results go to out/ and the name of FILE. --spread takes the\n"
            "chances from the folder of a spread of the same scenario, and the worse of the\n"
            "two verdicts holds.\n",
};
