/* towerloop endure FILE: how long a loop endures without pump, aerator or power, and what helps. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "card_view.h"
#include "endure_chart.h"
#include "endure_sure.h"
#include "endure_view.h"
#include "json.h"
#include "posix.h"
#include "study_task.h"
#include "text.h"
#include "towerloop/status.h"

static const char *const charts[] = {"endure", NULL};
static const char *const files[] = {"scenario.yaml", "endure.csv", "oxygen.csv",
                                    "endure.json",   TL_CARD_FILE, TL_CARD_TEXT_FILE};
enum {
    FILES = sizeof files / sizeof *files,
    ALWAYS = FILES - 2
}; /* the card where it is asked for */

/* Everything one study holds. */
struct task {
    struct tl_study_task base;
    struct tl_endure_study study;
    char case_file[TL_ENDURE_CASES][TL_ENDURE_KEY + 8];
    const char *result[FILES + TL_ENDURE_CASES + 1]; /* names of all it writes */
    char print[TL_ENDURE_PRINT];
    struct tl_paired asked; /* what is uncertain */
    struct tl_endure_uncertain uncertain;
    struct tl_card card;
};

/* --- the folder --------------------------------------------------------------------------------- */

/* What the study was asked, besides the scenario. */
static json_t *question_of(const struct tl_options *o)
{
    const struct tl_endure_question *q = &o->endure;
    return json_pack("{s:s, s:f, s:o, s:o, s:f, s:f, s:f, s:f, s:o}", "fails",
                     tl_failure_name(q->fails), "outage_d", q->outage_d, "day",
                     tl_json_number(q->day), "clock_d", tl_json_number(q->clock_d), "aerator_g_d",
                     q->aerator_g_d, "battery_Wh", q->battery_wh, "battery_W", q->battery_w,
                     "aeration_g_kWh", q->aeration_g_kwh, "set", tl_json_texts(o->set, o->sets));
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
    return tl_study_path(&t->base.folder, name);
}

static int make_cases(const struct task *t)
{
    char *path = tl_study_path(&t->base.folder, "cases");
    int status = path ? tl_posix_make_folder(path, NULL) : TL_E_MEMORY;
    if (status != TL_OK)
        tl_complain("%s", tl_status_text(status));
    free(path);
    return status;
}

/* What an interrupted study has left. */
static size_t fetch_cases(struct task *t)
{
    size_t there = 0;
    for (size_t i = 0; i < tl_endure_cases(&t->study); i++) {
        char *path = case_path(t, i);
        there += path && tl_endure_fetch(&t->study, i, t->print, path);
        free(path);
    }
    return there;
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
    for (size_t i = 0; i < tl_endure_cases(&t->study); i++)
        done += t->study.done[i];
    return done;
}

static int do_cases(struct task *t)
{
    const struct tl_endure_options options = {.threads = t->base.options.threads,
                                              .interrupted = &tl_interrupted,
                                              .keep = keep_case,
                                              .keep_arg = t,
                                              .progress = say_case,
                                              .progress_arg = &t->base.progress};
    const size_t there = fetch_cases(t), cases = tl_endure_cases(&t->study);
    if (there > 0 && there < cases && !t->base.options.quiet)
        fprintf(stderr, "Going on: %zu of %zu cases are there already.\n", there, cases);
    int status = tl_endure_study_run(&t->study, &options);
    tl_progress_clear(&t->base.progress);
    const size_t done = count_done(t);
    if (done > 0)
        t->base.folder.made = false; /* what is done stays */
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted; %zu of %zu cases are kept; the same command goes on", done,
                    cases);
    else if (status != TL_OK)
        tl_complain("the study failed: %s",
                    status == TL_E_IO ? strerror(errno) : tl_status_text(status));
    return status;
}

/* --- the answer --------------------------------------------------------------------------------- */

static int write_scenario(const struct task *t)
{
    char *text = NULL;
    int status = tl_scenario_text(&t->base.scenario, &text);
    if (status == TL_OK)
        status = tl_study_write(&t->base.folder, files[0], text);
    free(text);
    return status;
}

static int write_card(struct task *t)
{
    char *page = tl_study_path(&t->base.folder, TL_CARD_FILE);
    char *text = tl_study_path(&t->base.folder, TL_CARD_TEXT_FILE);
    double soda_most_tan = INFINITY;
    int status = page && text ? TL_OK : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_card_soda(t->study.scenario, &tl_interrupted, &soda_most_tan);
    if (status == TL_OK)
        status = tl_card_make(&t->study, soda_most_tan, t->base.options.units, &t->card);
    tl_endure_sure_card(&t->study, &t->card.part[TL_CARD_TIMES].note);
    if (status == TL_OK && t->card.part[TL_CARD_TIMES].note.failed)
        status = TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_card_page(&t->card, page);
    if (status == TL_OK)
        status = tl_card_write_text(&t->card, text);
    free(page);
    free(text);
    return status;
}

static int write_results(void *arg)
{
    static int (*const writer[ALWAYS])(const struct tl_endure_study *, const char *) = {
        NULL, tl_endure_write_csv, tl_endure_write_courses, tl_endure_write_json};
    struct task *t = arg;
    int status = write_scenario(t);
    for (size_t i = 1; i < ALWAYS && status == TL_OK; i++) {
        char *path = tl_study_path(&t->base.folder, files[i]);
        status = path ? writer[i](&t->study, path) : TL_E_MEMORY;
        free(path);
    }
    if (status == TL_OK && t->base.options.card)
        status = write_card(t);
    return status == TL_OK ? tl_study_finish(&t->base.folder, NULL, 0) : status;
}

static int draw_chart(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    const struct task *t = arg;
    const struct tl_endure_study *s = &t->study;
    const struct tl_limits *l = &t->base.scenario.limits;
    char title[96];
    struct tl_endure_chart c = {.out_dir = folder,
                                .title = title,
                                .subject = t->base.scenario.title,
                                .curves = TL_ENDURE_FISH,
                                .step_h = TL_ENDURE_CURVE_MIN / 60,
                                .back_h = 24 * s->question.outage_d,
                                .caution = l->o2.caution,
                                .danger = l->o2.danger,
                                .critical = t->base.scenario.setup.params.o2_critical,
                                .interrupted = &tl_interrupted};
    (void)tl_format(title, sizeof title, "Oxygen when %s", tl_endure_words(s, s->question.fails));
    for (size_t k = 0; k < TL_ENDURE_FISH; k++) {
        const struct tl_endured *e = &s->result[tl_endure_course(k)];
        c.curve[k].value = e->curve_o2;
        c.curve[k].points = e->curve_points;
        (void)tl_format(c.curve[k].name, sizeof c.curve[k].name, "%.0f %% of the fish",
                        100 * tl_endure_fish[k]);
    }
    return tl_endure_chart_draw(&c, outcome);
}

static void print(void *arg)
{
    const struct task *t = arg;
    if (t->base.options.card)
        tl_card_text(&t->card, stdout);
    else
        tl_endure_text(&t->study, t->base.options.units, stdout);
}

static int judge(void *arg)
{
    const struct task *t = arg;
    const enum tl_grade level = t->base.options.fail_on;
    return level != TL_WITHIN && tl_endure_grade(&t->study) >= level ? TL_EXIT_FAIL_ON
                                                                     : TL_EXIT_DONE;
}

static void say_start(void *arg, size_t done, size_t starts)
{
    tl_progress_say(arg, "looking for the worst hour: %zu of %zu", done, starts);
}

static int plan_study(struct task *t)
{
    char why[TL_FAULT_SIZE];
    struct tl_endure_question question = t->base.options.endure;
    question.rows = t->base.options.card;
    const struct tl_endure_options options = {.threads = t->base.options.threads,
                                              .interrupted = &tl_interrupted,
                                              .progress = say_start,
                                              .progress_arg = &t->base.progress};
    int status = tl_endure_plan(&t->base.scenario, &question, &options, &t->study, why);
    tl_progress_clear(&t->base.progress);
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted while looking for the worst hour; nothing is kept");
    else if (status != TL_OK)
        tl_complain("%s: %s", t->base.options.word[0], *why ? why : tl_status_text(status));
    if (status == TL_OK)
        return tl_complain_memory(tl_endure_print(&t->base.scenario, t->print));
    return status;
}

/* Before the long search, as there may be mistakes in it. */
static int plan_uncertain(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    t->asked = (struct tl_paired){
        .file = o->word[0], .set = o->set, .sets = o->sets, .scenario = &t->base.scenario};
    if (o->uncertain == 0)
        return TL_OK;
    const int status = tl_uncertain_prepare(&t->base, &t->asked, 1);
    return status == TL_OK
               ? tl_uncertain_check(t->asked.spread.input, t->asked.spread.inputs, o->word[0], o)
               : status;
}

static int run_uncertain(struct task *t)
{
    if (t->base.options.uncertain == 0)
        return TL_OK;
    const int status = tl_endure_sure_run(&t->base, &t->study, &t->asked, &t->uncertain);
    if (status == TL_OK)
        t->study.uncertain = &t->uncertain;
    return status;
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status;
    if ((status = tl_study_read(&t->base)) != TL_OK || (status = plan_uncertain(t)) != TL_OK ||
        (status = plan_study(t)) != TL_OK)
        return status;
    name_results(t);
    if ((status = tl_study_open(&t->base, "endure", question_of(&t->base.options), t->result,
                                charts)) != TL_OK ||
        (status = make_cases(t)) != TL_OK || (status = do_cases(t)) != TL_OK)
        return status;
    return run_uncertain(t);
}

static void release(void *arg)
{
    struct task *t = arg;
    tl_endure_study_free(&t->study);
    tl_endure_uncertain_free(&t->uncertain);
    tl_paired_free(&t->asked, 1);
    tl_card_free(&t->card);
}

static int cmd_endure(int argc, char **argv)
{
    static const struct tl_study_steps steps = {&tl_command_endure,
                                                sizeof(struct task),
                                                answer,
                                                draw_chart,
                                                write_results,
                                                print,
                                                judge,
                                                release};
    return tl_study_command(argc, argv, &steps);
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
             TL_TAKES(CARD) | TL_TAKES(UNCERTAIN) | TL_TAKES(SEED) | TL_TAKES(INPUTS) |
             TL_TAKES(THREADS) | TL_TAKES(QUIET),
    .more = "It fails at the worst hour: every full hour is tried on the days of lowest\n"
            "oxygen, of warmest water, of most fish and on the last, in the weather also on\n"
            "that of coldest air; the one soonest short of oxygen is taken. Ice and frost are\n"
            "told of their own hour. Meals and trickle go on, changes of water wait; what the\n"
            "scenario plans for later is left out. The verdict takes in ammonia, nitrite, pH\n"
            "and all other limits for 14 days.\n"
            "An aerator's oxygen is counted as for the key `aerator`.\n"
            "--card prints a sheet for the wall instead of the tables: how long the fish\n"
            "have, what to do first, what to do in this tank when a test is bad. Each time on\n"
            "it is of the hour that is worst for it.\n"
            "--uncertain 1000 runs the failure that is asked about so many times more, at the\n"
            "same hour, each with other values for what is uncertain, as towerloop spread has\n"
            "them: how long the fish have in 95 of 100 runs. These runs are not kept.\n"
            "Without --out the results go to out/ and the name of FILE with -endure. After an\n"
            "interruption the same command goes on where it was.\n",
};
