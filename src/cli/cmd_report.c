/* towerloop report DIR: the results in a folder as one page. */
#include <errno.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "compare_drawing.h"
#include "place.h"
#include "posix.h"
#include "report_file.h"
#include "run_charts.h"
#include "run_folder.h"
#include "run_result.h"
#include "run_series.h"
#include "spread_verdict.h"
#include "study_folder.h"
#include "text.h"
#include "towerloop/status.h"

#define COMPARISON "compare.json"
#define SPREAD     "spread.json"
#define KIND_SIZE  80

/* One report on its way. */
struct task {
    const struct tl_options *o;
    const char *folder; /* of the results */
    enum tl_report_kind kind;
    char *place;  /* where the report goes */
    char *charts; /* drawn anew, in the units that are asked for; NULL: none */
    int chart_status;
    struct tl_scenario scenario;
    struct tl_spread_verdict spread; /* where one was named */
    struct tl_diag diag;
};

/* --- which folder, and where to ------------------------------------------------------------------- */

static bool holds(const char *folder, const char *file)
{
    char *path = tl_place_below(folder, file);
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    const bool there = path && tl_posix_look(path, &kind) == TL_OK && kind == TL_POSIX_FILE;
    free(path);
    return there;
}

static int no_results(const struct task *t)
{
    char kind[KIND_SIZE];
    if (tl_study_kind(t->folder, kind, sizeof kind) != TL_OK)
        return TL_E_MEMORY;
    if (*kind)
        tl_complain("%s holds the results of %s, which have no page; expected the folder of a run, "
                    "a comparison or a spread",
                    t->folder, kind);
    else
        tl_complain("%s holds no results of towerloop; expected the folder of a run, a comparison "
                    "or a spread",
                    *t->folder ? t->folder : "''");
    return TL_E_INPUT;
}

static int look_at_folder(struct task *t)
{
    errno = 0;
    if (tl_run_folder_is_ours(t->folder))
        t->kind = TL_REPORT_RUN;
    else if (errno != ENOMEM && holds(t->folder, COMPARISON))
        t->kind = TL_REPORT_COMPARE;
    else if (errno != ENOMEM && holds(t->folder, SPREAD))
        t->kind = TL_REPORT_SPREAD;
    else
        return errno == ENOMEM ? TL_E_MEMORY : no_results(t);
    return TL_OK;
}

/* The folder of the results, whose report is replaced, or another. */
static int look_at_place(struct task *t)
{
    char why[TL_PATH_SIZE] = "";
    t->place = tl_place_new(t->o->out ? t->o->out : t->folder);
    char *path = t->place ? tl_place_below(t->place, TL_REPORT_FILE) : NULL;
    if (!path)
        return TL_E_MEMORY;
    const int status = tl_place_file(path, !t->o->out || t->o->force, !t->o->out, why, sizeof why);
    if (status != TL_OK)
        tl_complain("%s", why);
    free(path);
    return status;
}

/* --- the charts ------------------------------------------------------------------------------------- */

static int draw(struct task *t, struct tl_chart_outcome *outcome)
{
    if (t->kind == TL_REPORT_COMPARE)
        return tl_compare_draw_again(t->folder, t->charts, &tl_interrupted, outcome);
    char *series = tl_place_below(t->folder, "series.csv");
    struct tl_run_result result;
    int status = series ? tl_run_result_load(t->folder, &result) : TL_E_MEMORY;
    const struct tl_run_charts wanted = {.scenario = &t->scenario,
                                         .series_csv = series,
                                         .folder = t->charts,
                                         .units = t->o->units,
                                         .formats = TL_CHART_SVG,
                                         .result = &result,
                                         .interrupted = &tl_interrupted};
    if (status == TL_OK)
        status = tl_run_charts(&wanted, outcome);
    else if (status == TL_E_INPUT || status == TL_E_IO)
        (void)tl_format(outcome->fault, sizeof outcome->fault,
                        "%s/summary.json cannot be read as that of a run", t->folder);
    free(series);
    return status;
}

static void remove_charts(const struct task *t)
{
    if (!tl_posix_remove_tree(t->charts))
        tl_complain("a folder of the drawing could not be deleted: %s", t->charts);
}

/* Into a folder that goes again. Charts that cannot be drawn are left out of the report. */
static int draw_charts(struct task *t)
{
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    char *stem = tl_place_below(t->place, ".charts");
    t->charts = stem ? tl_posix_new_folder(stem) : NULL;
    free(stem);
    if (!t->charts) {
        tl_complain("%s cannot be written to: %s", t->place, strerror(errno));
        return TL_E_IO;
    }
    const int status = draw(t, &outcome);
    if (status == TL_OK)
        return TL_OK;
    t->chart_status = tl_complain_charts(status, &outcome);
    if (status == TL_E_INTERRUPTED || status == TL_E_MEMORY)
        return status;
    remove_charts(t);
    free(t->charts);
    t->charts = NULL;
    return TL_OK;
}

/* Those of a spread lie there: they cannot be drawn without its runs. */
static int find_charts(struct task *t)
{
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    t->charts = tl_place_below(t->folder, "charts");
    if (!t->charts)
        return TL_E_MEMORY;
    const int status = tl_posix_look(t->charts, &kind);
    if (status != TL_OK)
        tl_complain("%s cannot be read: %s", t->charts, strerror(errno));
    if (kind != TL_POSIX_FOLDER) {
        free(t->charts);
        t->charts = NULL;
    }
    return status;
}

/* --- the report ------------------------------------------------------------------------------------- */

/* That of the run, or of the first variant. */
static int read_scenario(struct task *t)
{
    char why[TL_PATH_SIZE] = "";
    char *path = t->kind == TL_REPORT_COMPARE
                     ? tl_compare_first_scenario(t->folder, why, sizeof why)
                     : tl_place_below(t->folder, "scenario.yaml");
    if (*why)
        tl_complain("%s", why);
    const int status = path   ? tl_cli_read_scenario(path, t->o, &t->scenario, &t->diag)
                       : *why ? TL_E_INPUT
                              : TL_E_MEMORY;
    free(path);
    return status;
}

static int read_spread(struct task *t)
{
    char why[TL_PATH_SIZE] = "";
    if (!t->o->spread)
        return TL_OK;
    int status = TL_E_INPUT;
    if (t->kind != TL_REPORT_RUN)
        (void)tl_format(why, sizeof why, "expected the folder of a run to go with it, not %s",
                        t->folder);
    else
        status = tl_spread_verdict_load(t->o->spread, &t->scenario, &t->spread, why, sizeof why);
    if (status != TL_OK)
        tl_complain("--spread: %s", *why ? why : tl_status_text(status));
    return status;
}

static int write_report(struct task *t)
{
    struct tl_report r = {.folder = t->folder,
                          .charts = t->charts,
                          .no_charts = !t->o->charts ? "Charts were not asked for (--no-charts)."
                                       : t->kind == TL_REPORT_SPREAD
                                           ? "The spread was made without charts."
                                           : "No charts: gnuplot is missing or could not draw.",
                          .scenario = &t->scenario,
                          .spread = t->o->spread ? &t->spread : NULL,
                          .units = t->o->units};
    const int status = tl_cli_report(&r, t->kind, t->place);
    if (status == TL_OK && !t->o->quiet)
        tl_tell("Report: %s/%s", t->place, TL_REPORT_FILE);
    return status;
}

/* The page would draw curves of another run, or of a part of it, beside the verdict. What cannot be read
 * at all is told of where it is drawn. */
static int check_series(struct task *t)
{
    char why[TL_PATH_SIZE] = "";
    int status = TL_OK;
    if (t->kind == TL_REPORT_RUN)
        status = tl_run_series_check(t->folder, &tl_interrupted, why, sizeof why);
    else if (t->kind == TL_REPORT_COMPARE)
        status = tl_compare_check_series(t->folder, &tl_interrupted, why, sizeof why);
    if (status == TL_E_INPUT)
        tl_complain("%s", why);
    return status == TL_E_IO ? TL_OK : status;
}

static int answer(struct task *t)
{
    int status, made = 0;
    if ((status = look_at_folder(t)) != TL_OK || (status = look_at_place(t)) != TL_OK ||
        (status = read_scenario(t)) != TL_OK || (status = read_spread(t)) != TL_OK ||
        (status = check_series(t)) != TL_OK)
        return status;
    status = tl_place_parents(t->place, &made);
    if (status == TL_OK)
        status = tl_posix_make_folder(t->place, NULL);
    if (status == TL_E_IO)
        tl_complain("%s cannot be made: %s", t->place, strerror(errno));
    if (status == TL_OK && t->o->charts)
        status = t->kind == TL_REPORT_SPREAD ? find_charts(t) : draw_charts(t);
    if (status == TL_OK && tl_interrupted)
        status = TL_E_INTERRUPTED;
    if (status == TL_OK)
        status = write_report(t);
    if (t->charts && t->kind != TL_REPORT_SPREAD)
        remove_charts(t);
    if (status != TL_OK && t->o->out && tl_posix_remove_empty(t->place))
        tl_place_no_parents(t->place, made);
    return status;
}

static int cmd_report(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_report, &o, &finished);
    if (!finished) {
        struct task t = {.o = &o, .folder = o.word[0]};
        tl_diag_init(&t.diag);
        const int status = answer(&t);
        if (status == TL_E_MEMORY)
            tl_complain("out of memory");
        code = status == TL_OK && t.chart_status == TL_OK ? TL_EXIT_DONE : tl_exit_for(status);
        tl_scenario_free(&t.scenario);
        tl_diag_free(&t.diag);
        free(t.charts);
        free(t.place);
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_report = {
    .name = "report",
    .run = cmd_report,
    .help = "the results of a run, a comparison or a spread as one page",
    .words = "DIR",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(UNITS) | TL_TAKES(NO_CHARTS) |
             TL_TAKES(SPREAD) | TL_TAKES(QUIET),
    .more = "DIR is the folder of a run, a comparison or a spread. The page holds all it\n"
            "needs and loads nothing from the network. Without --out it replaces\n"
            "DIR/report.html; that of a spread has the charts that lie in DIR.\n"
            "--spread takes the chances from the folder of a spread of the same scenario.\n",
};
