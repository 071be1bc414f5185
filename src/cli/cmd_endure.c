/* towerloop endure FILE: how long a loop endures without pump, aerator or power, and what helps. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "endure_chart.h"
#include "endure_view.h"
#include "posix.h"
#include "progress.h"
#include "study_folder.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024

static const char *const charts[] = {"endure", NULL};
static const char *const files[] = {"scenario.yaml", "endure.csv", "oxygen.csv", "endure.json"};
enum { FILES = sizeof files / sizeof *files };

/* Everything one study holds. */
struct task {
    struct tl_options options;
    struct tl_progress progress;
    struct tl_diag diag;
    struct tl_scenario scenario;
    struct tl_endure_study study;
    struct tl_study folder;
    json_t *question;
    char *temperatures; /* path, or NULL */
    char case_file[TL_ENDURE_CASES][TL_ENDURE_KEY + 8];
    const char *result[FILES + TL_ENDURE_CASES + 1]; /* names of all it writes */
    char print[TL_ENDURE_PRINT];
};

/* --- the folder --------------------------------------------------------------------------------- */

/* out/<file name without its ending>-endure */
static char *default_place(const char *file)
{
    struct tl_text place = {0};
    const char *slash = strrchr(file, '/');
    const char *name = slash ? slash + 1 : file;
    const char *dot = strrchr(name, '.');
    tl_text_add(&place, "out/");
    tl_text_add_bytes(&place, name, dot && dot != name ? (size_t)(dot - name) : strlen(name));
    tl_text_add(&place, "-endure");
    if (place.failed)
        tl_text_free(&place);
    return place.data;
}

/* What the study was asked, besides the scenario. */
static json_t *question_of(const struct tl_options *o)
{
    const struct tl_endure_question *q = &o->endure;
    json_t *set = json_array();
    for (size_t i = 0; i < o->sets; i++)
        json_array_append_new(set, json_string(o->set[i]));
    return json_pack("{s:s, s:f, s:o, s:f, s:f, s:f, s:f, s:o}", "fails", tl_failure_name(q->fails),
                     "outage_d", q->outage_d, "clock_d",
                     isnan(q->clock_d) ? json_null() : json_real(q->clock_d), "aerator_g_d",
                     q->aerator_g_d, "battery_Wh", q->battery_wh, "battery_W", q->battery_w,
                     "aeration_g_kWh", q->aeration_g_kwh, "set", set);
}

static void name_results(struct task *t)
{
    size_t n = 0;
    for (; n < FILES; n++)
        t->result[n] = files[n];
    for (size_t i = 0; i < TL_ENDURE_CASES; i++) {
        (void)tl_format(t->case_file[i], sizeof t->case_file[i], "%s.json", t->study.key[i]);
        t->result[n++] = t->case_file[i];
    }
    t->result[n] = NULL;
}

static char *case_path(const struct task *t, size_t i)
{
    char name[TL_ENDURE_KEY + 16];
    (void)tl_format(name, sizeof name, "cases/%s", t->case_file[i]);
    return tl_study_path(&t->folder, name);
}

static int make_cases(const struct task *t)
{
    char *path = tl_study_path(&t->folder, "cases");
    int status = path ? tl_posix_make_folder(path, NULL) : TL_E_MEMORY;
    free(path);
    return status;
}

/* What an interrupted study has left. */
static size_t fetch_cases(struct task *t)
{
    size_t there = 0;
    for (size_t i = 0; i < TL_ENDURE_CASES; i++) {
        char *path = case_path(t, i);
        there += path && tl_endure_fetch(&t->study, i, t->print, path);
        free(path);
    }
    return there;
}

static int begin_folder(struct task *t, const struct tl_study_plan *plan)
{
    char why[WHY_SIZE] = "";
    const struct tl_options *o = &t->options;
    char *place = o->out ? strdup(o->out) : default_place(o->word[0]);
    int status =
        place ? tl_study_begin(&t->folder, plan, place, o->force, why, sizeof why) : TL_E_MEMORY;
    if (status == TL_OK)
        status = make_cases(t);
    if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    free(place);
    return status;
}

/* --- the cases ---------------------------------------------------------------------------------- */

static int keep_case(void *arg, const struct tl_endure_study *s, size_t i)
{
    const struct task *t = arg;
    char *path = case_path(t, i);
    int status = path ? tl_endure_keep(s, i, t->print, path) : TL_E_MEMORY;
    free(path);
    return status;
}

static void say_case(void *arg, size_t done, size_t cases)
{
    tl_progress_say(arg, "failing: case %zu of %zu", done, cases);
}

static size_t count_done(const struct task *t)
{
    size_t done = 0;
    for (size_t i = 0; i < TL_ENDURE_CASES; i++)
        done += t->study.done[i];
    return done;
}

static int do_cases(struct task *t)
{
    const struct tl_endure_options options = {.threads = t->options.threads,
                                              .interrupted = &tl_interrupted,
                                              .keep = keep_case,
                                              .keep_arg = t,
                                              .progress = say_case,
                                              .progress_arg = &t->progress};
    const size_t there = fetch_cases(t);
    if (there > 0 && there < TL_ENDURE_CASES && !t->options.quiet)
        fprintf(stderr, "Going on: %zu of %d cases are there already.\n", there, TL_ENDURE_CASES);
    int status = tl_endure_study_run(&t->study, &options);
    tl_progress_clear(&t->progress);
    const size_t done = count_done(t);
    if (done > 0)
        t->folder.made = false; /* what is done stays */
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted; %zu of %d cases are kept, the same command goes on from there",
                    done, TL_ENDURE_CASES);
    else if (status != TL_OK)
        tl_complain("the study failed: %s",
                    status == TL_E_IO ? strerror(errno) : tl_status_text(status));
    return status;
}

/* --- the answer --------------------------------------------------------------------------------- */

static int write_scenario(const struct task *t)
{
    char *text = NULL;
    int status = tl_scenario_text(&t->scenario, &text);
    if (status == TL_OK)
        status = tl_study_write(&t->folder, files[0], text);
    free(text);
    return status;
}

static int write_results(const struct task *t)
{
    static int (*const writer[FILES])(const struct tl_endure_study *, const char *) = {
        NULL, tl_endure_write_csv, tl_endure_write_courses, tl_endure_write_json};
    errno = 0;
    int status = write_scenario(t);
    for (size_t i = 1; i < FILES && status == TL_OK; i++) {
        char *path = tl_study_path(&t->folder, files[i]);
        status = path ? writer[i](&t->study, path) : TL_E_MEMORY;
        free(path);
    }
    if (status == TL_OK)
        status = tl_study_finish(&t->folder, NULL, 0);
    if (status != TL_OK)
        tl_complain("the results cannot be written: %s",
                    errno ? strerror(errno) : tl_status_text(status));
    return status;
}

static int draw_chart(struct task *t)
{
    const struct tl_endure_study *s = &t->study;
    const struct tl_limits *l = &t->scenario.limits;
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    char title[96];
    char *folder = tl_study_path(&t->folder, "charts");
    struct tl_endure_chart c = {.out_dir = folder,
                                .title = title,
                                .subject = t->scenario.title,
                                .curves = TL_ENDURE_FISH,
                                .step_h = TL_ENDURE_CURVE_MIN / 60,
                                .back_h = 24 * s->question.outage_d,
                                .caution = l->o2.caution,
                                .danger = l->o2.danger,
                                .critical = t->scenario.setup.params.o2_critical,
                                .interrupted = &tl_interrupted};
    if (!folder)
        return TL_E_MEMORY;
    (void)tl_format(title, sizeof title, "Oxygen when %s", tl_failure_words(s->question.fails));
    for (size_t k = 0; k < TL_ENDURE_FISH; k++) {
        const struct tl_endured *e = &s->result[tl_endure_course(k)];
        c.curve[k].value = e->curve_o2;
        c.curve[k].points = e->curve_points;
        (void)tl_format(c.curve[k].name, sizeof c.curve[k].name, "%.0f %% of the fish",
                        100 * tl_endure_fish[k]);
    }
    tl_progress_say(&t->progress, "drawing the chart");
    int status = tl_endure_chart_draw(&c, &outcome);
    tl_progress_clear(&t->progress);
    tl_posix_remove_empty(folder);
    free(folder);
    return tl_complain_charts(status, &outcome);
}

static int answer(struct task *t)
{
    const struct tl_options *o = &t->options;
    int status, chart_status = TL_OK;
    if (o->charts && (chart_status = draw_chart(t)) == TL_E_INTERRUPTED)
        return TL_EXIT_INTERRUPTED;
    if ((status = write_results(t)) != TL_OK)
        return tl_exit_for(status);
    if (!o->quiet) {
        tl_endure_text(&t->study, o->units, stdout);
        fprintf(stderr, "Results: %s\n", t->folder.place);
    }
    if (chart_status != TL_OK)
        return TL_EXIT_FAILED;
    if (o->fail_on != TL_WITHIN && tl_endure_grade(&t->study) >= o->fail_on)
        return TL_EXIT_FAIL_ON;
    return TL_EXIT_DONE;
}

static int plan_study(struct task *t)
{
    char why[TL_FAULT_SIZE];
    tl_progress_say(&t->progress, "looking for the worst hour");
    int status = tl_endure_plan(&t->scenario, &t->options.endure, &tl_interrupted, &t->study, why);
    tl_progress_clear(&t->progress);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("%s: %s", t->options.word[0], *why ? why : tl_status_text(status));
    if (status == TL_OK)
        status = tl_endure_print(&t->scenario, t->print);
    return status;
}

static int endure(struct task *t)
{
    int status;
    if ((status = tl_cli_read_scenario(t->options.word[0], &t->options, &t->scenario, &t->diag)) !=
        TL_OK)
        return tl_exit_for(status);
    tl_progress_begin(&t->progress, t->options.quiet);
    if ((status = plan_study(t)) != TL_OK)
        return tl_exit_for(status);
    name_results(t);
    t->question = question_of(&t->options);
    t->temperatures = tl_scenario_input_path(&t->scenario, TL_INPUT_TEMPERATURE);
    const char *const input[] = {t->options.word[0], t->temperatures, NULL};
    const struct tl_study_plan plan = {.kind = "endure",
                                       .question = t->question,
                                       .input = input,
                                       .results = t->result,
                                       .charts = charts};
    if ((status = begin_folder(t, &plan)) != TL_OK || (status = do_cases(t)) != TL_OK)
        return tl_exit_for(status);
    return answer(t);
}

static int cmd_endure(int argc, char **argv)
{
    struct task *t = calloc(1, sizeof *t);
    bool finished;
    if (!t) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }
    int code = tl_options_read(argc, argv, &tl_command_endure, &t->options, &finished);
    if (!finished) {
        tl_diag_init(&t->diag);
        code = endure(t);
        tl_study_end(&t->folder);
        tl_endure_study_free(&t->study);
        json_decref(t->question);
        free(t->temperatures);
        tl_scenario_free(&t->scenario);
        tl_diag_free(&t->diag);
    }
    tl_options_free(&t->options);
    free(t);
    return code;
}

const struct tl_command tl_command_endure = {
    .name = "endure",
    .run = cmd_endure,
    .help = "how long the fish last without pump, aerator or power",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(FAIL_ON) |
             TL_TAKES(NO_CHARTS) | TL_TAKES(OUTAGE) | TL_TAKES(AT) | TL_TAKES(FAILS) |
             TL_TAKES(AERATOR) | TL_TAKES(BATTERY) | TL_TAKES(WATTS) | TL_TAKES(EFFICIENCY) |
             TL_TAKES(THREADS) | TL_TAKES(QUIET),
    .more = "It fails at the hour of lowest oxygen on the last whole day of the scenario. Meals,\n"
            "trickle and water changes go on; what the scenario plans for later is left out.\n"
            "Without --out the results go to out/ and the name of FILE with -endure. After an\n"
            "interruption the same command goes on where it was.\n",
};
