/* towerloop lesson [NAME]: a question, a run, an explanation with the numbers of that run. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "cli.h"
#include "json.h"
#include "lesson_chart.h"
#include "lesson_page.h"
#include "lesson_view.h"
#include "place.h"
#include "posix.h"
#include "progress.h"
#include "shelf.h"
#include "towerloop/status.h"

#define WHY_SIZE      1024
#define LESSON_FORMAT 1
#define DIGITS        10

/* Everything one command holds. */
struct task {
    const struct tl_options *o;
    struct tl_progress progress;
    struct tl_diag diag;
    struct tl_shelf shelf;
    struct tl_glossary glossary; /* of the teacher's sheet */
    struct tl_lesson_task *one;
    size_t lessons;
    unsigned answer; /* the learner's; 0: none */
    const char *input[TL_SHELF_LESSONS + 1], *chart[TL_SHELF_LESSONS + 1];
    struct tl_study_plan plan;
    json_t *question;
    struct tl_study study;
    char *page; /* its path */
    int chart_status;
};

static const char *const results[] = {"lesson.html", "teacher.html", "lesson.json", NULL};

/* --- which lesson ----------------------------------------------------------------------------- */

static bool is_file(const char *word)
{
    const char *end = strrchr(word, '.');
    return end && strcmp(end, ".lesson") == 0;
}

static int read_shelf(struct task *t)
{
    errno = 0;
    const int status = tl_shelf_read(NULL, &t->shelf, &t->diag);
    tl_complain_diag(&t->diag, true);
    if (status == TL_E_IO)
        tl_complain("the lessons cannot be read: %s: %s", t->shelf.folder, strerror(errno));
    else if (status == TL_OK && t->shelf.lessons == 0)
        tl_complain("there are no lessons in %s", t->shelf.folder);
    return status == TL_OK && t->shelf.lessons == 0 ? TL_E_IO : status;
}

/* A lesson of the user's own: the scenario lies beside it. */
static int read_own(struct task *t, const char *path)
{
    const char *slash = strrchr(path, '/');
    errno = 0;
    t->shelf.folder = slash ? strndup(path, (size_t)(slash - path)) : strdup(".");
    t->shelf.path[0] = strdup(path);
    if (!t->shelf.folder || !t->shelf.path[0])
        return TL_E_MEMORY;
    t->shelf.lessons = 1;
    const int status = tl_lesson_read(t->shelf.path[0], &t->shelf.lesson[0], &t->diag);
    tl_complain_diag(&t->diag, true);
    if (status == TL_E_IO || status == TL_E_REFUSED)
        tl_complain("%s: %s", path, errno ? strerror(errno) : "this is no file");
    return status == TL_E_IO || status == TL_E_REFUSED ? TL_E_INPUT : status;
}

static const struct tl_lesson *find_lesson(const struct task *t, const char *name)
{
    const char *all[TL_SHELF_LESSONS];
    for (size_t i = 0; i < t->shelf.lessons; i++) {
        all[i] = t->shelf.lesson[i].name;
        if (strcmp(all[i], name) == 0)
            return &t->shelf.lesson[i];
    }
    const int near = tl_nearest(name, all, t->shelf.lessons);
    if (near >= 0)
        tl_complain("there is no lesson '%s'; did you mean %s?", name, all[near]);
    else
        tl_complain("there is no lesson '%s'; towerloop lesson lists them", name);
    return NULL;
}

static int add_lesson(struct task *t, const struct tl_lesson *l)
{
    return tl_lesson_task_read(&t->one[t->lessons++], l, t->shelf.folder);
}

static int read_glossary(struct task *t)
{
    char *path = tl_place_below(t->shelf.folder, "glossary.terms");
    errno = 0;
    const int status = path ? tl_glossary_read(path, &t->glossary, &t->diag) : TL_E_MEMORY;
    tl_complain_diag(&t->diag, true);
    if (status == TL_E_IO)
        tl_complain("%s: %s", path, strerror(errno));
    free(path);
    return status;
}

static int read_chosen(struct task *t)
{
    const char *word = t->o->words ? t->o->word[0] : NULL;
    int status = word && is_file(word) ? read_own(t, word) : read_shelf(t);
    if (status != TL_OK)
        return status;
    t->one = calloc(t->shelf.lessons, sizeof *t->one);
    if (!t->one)
        return TL_E_MEMORY;
    if (word) {
        const struct tl_lesson *l = is_file(word) ? &t->shelf.lesson[0] : find_lesson(t, word);
        return l ? add_lesson(t, l) : TL_E_INPUT;
    }
    status = read_glossary(t);
    for (size_t i = 0; i < t->shelf.lessons && status == TL_OK; i++)
        status = add_lesson(t, &t->shelf.lesson[i]);
    return status;
}

static int choose(struct task *t)
{
    return tl_complain_memory(read_chosen(t));
}

/* --- the learner's choice --------------------------------------------------------------------- */

static int check_answer(const struct task *t)
{
    const size_t choices = t->one[0].lesson->choice.n;
    if (t->answer <= choices)
        return TL_OK;
    tl_complain("--answer: there is no choice %u; expected 1 to %zu", t->answer, choices);
    return TL_E_INPUT;
}

/* A number of one digit and nothing else; 0: an empty line; -1: neither. */
static int read_choice(const char *line, size_t choices)
{
    if (line[strspn(line, " \t\r\n")] == '\0')
        return 0;
    const char *digit = line + strspn(line, " \t");
    const int choice = *digit - '0';
    const bool alone = *digit && digit[1 + strspn(digit + 1, " \t\r\n")] == '\0';
    return alone && choice >= 1 && choice <= (int)choices ? choice : -1;
}

/* Only somebody at a terminal is asked. */
static int ask(struct task *t)
{
    const size_t choices = t->one[0].lesson->choice.n;
    char line[128];
    int choice = -1;
    if (t->answer > 0 || !tl_posix_is_terminal(stdin) || !tl_posix_is_terminal(stdout))
        return TL_OK;
    fflush(stdout);
    while (choice < 0) {
        fprintf(stderr, "Your choice, 1 to %zu, or Enter to go on: ", choices);
        fflush(stderr);
        if (!tl_posix_wait_line(stdin, &tl_interrupted))
            return TL_E_INTERRUPTED;
        if (!fgets(line, sizeof line, stdin))
            choice = 0;
        else if (strchr(line, '\n'))
            choice = read_choice(line, choices);
    }
    t->answer = (unsigned)choice;
    return TL_OK;
}

/* --- the folder ------------------------------------------------------------------------------- */

static void list_input(struct task *t, const char *path)
{
    size_t n = 0;
    while (t->input[n] && strcmp(t->input[n], path) != 0)
        n++;
    t->input[n] = path;
}

static json_t *question_of(const struct task *t)
{
    json_t *names = json_array();
    for (size_t i = 0; i < t->lessons; i++)
        tl_json_append(&names, json_string(t->one[i].lesson->name));
    return json_pack("{s:o, s:b}", "lessons", names, "teacher", (int)t->o->teacher);
}

static char *place_of(const struct task *t)
{
    struct tl_text place = {0};
    if (t->o->out)
        tl_text_add(&place, t->o->out);
    else
        tl_text_addf(&place, "out/lesson-%s", t->o->teacher ? "teacher" : t->one[0].lesson->name);
    if (place.failed)
        tl_text_free(&place);
    return place.data;
}

static int look_at_page(const struct task *t)
{
    char why[WHY_SIZE] = "";
    const int status =
        t->o->html ? tl_place_file(t->o->html, t->o->force, false, why, sizeof why) : TL_OK;
    if (status != TL_OK)
        tl_complain("%s", why);
    return status;
}

static int open_folder(struct task *t)
{
    char why[WHY_SIZE] = "";
    int status = TL_OK;
    for (size_t i = 0; i < t->lessons && status == TL_OK; i++) {
        list_input(t, t->one[i].path);
        t->chart[i] = t->one[i].lesson->name;
        status = tl_lesson_task_name(&t->one[i]);
    }
    t->question = question_of(t);
    t->plan = (struct tl_study_plan){"lesson", t->question, t->input, results, t->chart};
    char *place = place_of(t);
    if (status == TL_OK)
        status = t->question && place
                     ? tl_study_begin(&t->study, &t->plan, place, t->o->force, why, sizeof why)
                     : TL_E_MEMORY;
    if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    free(place);
    return status;
}

/* --- the runs and what is made of them -------------------------------------------------------- */

static int run_all(struct task *t)
{
    int status = TL_OK;
    for (size_t i = 0; i < t->lessons && status == TL_OK; i++) {
        tl_progress_say(&t->progress, "simulating: lesson %zu of %zu", i + 1, t->lessons);
        status = tl_lesson_task_run(&t->one[i], &t->study);
    }
    tl_progress_clear(&t->progress);
    return status;
}

static int draw_one(const struct tl_lesson_task *one, const char *charts,
                    struct tl_chart_outcome *outcome)
{
    const struct tl_lesson_chart *c = &one->lesson->chart;
    struct tl_lesson_chart_plan plan = {.out_dir = charts,
                                        .name = one->lesson->name,
                                        .title = c->title,
                                        .subject = one->lesson->title,
                                        .upwards = c->unit,
                                        .across = c->across,
                                        .from = one->told.from,
                                        .to = one->told.to,
                                        .curves = c->lines,
                                        .levels = c->levels,
                                        .interrupted = &tl_interrupted};
    for (size_t k = 0; k < c->lines; k++) {
        plan.curve[k].name = c->line[k].name;
        plan.curve[k].across = one->told.course[k].across;
        plan.curve[k].value = one->told.course[k].value;
        plan.curve[k].points = one->told.course[k].points;
    }
    for (size_t k = 0; k < c->levels; k++) {
        plan.level[k].name = c->level[k].name;
        plan.level[k].value = one->told.level[k];
    }
    return tl_lesson_chart_draw(&plan, outcome);
}

static int draw_all(struct task *t, const char *charts)
{
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    int status = TL_OK;
    for (size_t i = 0; i < t->lessons && status == TL_OK; i++) {
        tl_progress_say(&t->progress, "drawing the charts");
        status = draw_one(&t->one[i], charts, &outcome);
    }
    tl_progress_clear(&t->progress);
    t->chart_status = tl_complain_charts(status, &outcome);
    return status == TL_E_INTERRUPTED || status == TL_E_MEMORY ? status : TL_OK;
}

/* The figures, for other programs. */
static int write_figures(const struct task *t)
{
    json_t *all = json_object();
    for (size_t i = 0; i < t->lessons; i++) {
        const struct tl_lesson *l = t->one[i].lesson;
        json_t *figures = json_object();
        for (size_t k = 0; k < l->figures; k++)
            tl_json_put(&figures, l->figure[k].name, tl_json_number(t->one[i].told.value[k]));
        tl_json_put(&all, l->name,
                    json_pack("{s:s, s:i, s:s, s:o}", "title", l->title, "answer", (int)l->answer,
                              "try", t->one[i].command, "figures", figures));
    }
    char *path = tl_study_path(&t->study, "lesson.json");
    const int status =
        path ? tl_json_write(tl_json_result(LESSON_FORMAT, json_pack("{s:o}", "lessons", all)),
                             path, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS))
             : TL_E_MEMORY;
    if (!path)
        json_decref(all);
    free(path);
    return status;
}

static int write_page(struct task *t, const char *charts, char *why)
{
    struct tl_lesson_told *told = calloc(t->lessons, sizeof *told);
    char **command = calloc(t->lessons, sizeof *command);
    t->page = t->o->html ? strdup(t->o->html)
                         : tl_study_path(&t->study, t->o->teacher ? "teacher.html" : "lesson.html");
    int status = told && command && t->page ? TL_OK : TL_E_MEMORY;
    for (size_t i = 0; i < t->lessons && status == TL_OK; i++) {
        told[i] = t->one[i].told;
        command[i] = t->one[i].command;
    }
    if (status == TL_OK) {
        const struct tl_lesson_page page = {.told = told,
                                            .charts = t->o->charts ? charts : NULL,
                                            .command = command,
                                            .lessons = t->lessons,
                                            .glossary = t->o->teacher ? &t->glossary : NULL};
        status = tl_lesson_page_write(&page, t->page, why);
    }
    free(told);
    free(command);
    return status;
}

static int keep_runs(struct task *t)
{
    size_t n = 0;
    char(*name)[TL_STUDY_NAME_SIZE] = calloc(t->lessons * TL_LESSON_RUNS, sizeof *name);
    if (!name)
        return TL_E_MEMORY;
    for (size_t i = 0; i < t->lessons; i++)
        for (size_t k = 0; k < t->one[i].runs; k++)
            memcpy(name[n++], t->one[i].folder[k], sizeof *name);
    const int status = tl_study_finish(&t->study, name, n);
    free(name);
    return status;
}

static int write_all(struct task *t)
{
    char why[TL_LESSON_WHY] = "";
    char *charts = tl_study_path(&t->study, "charts");
    int status = charts ? TL_OK : TL_E_MEMORY;
    errno = 0;
    if (status == TL_OK && t->o->charts)
        status = draw_all(t, charts);
    if (charts)
        tl_posix_remove_empty(charts);
    if (status == TL_OK)
        status = write_figures(t);
    if (status == TL_OK)
        status = keep_runs(t);
    if (status == TL_OK) /* last: the same command will not replace a page that lies elsewhere */
        status = write_page(t, charts, why);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the results cannot be written: %s", *why ? why : tl_cli_cause(status, errno));
    free(charts);
    return status;
}

/* --- the answer ------------------------------------------------------------------------------- */

static int print_list(struct task *t)
{
    const int status = tl_complain_memory(read_shelf(t));
    if (status != TL_OK)
        return status;
    printf("Each lesson asks a question, runs a pond, and explains what came out.\n\n");
    for (size_t i = 0; i < t->shelf.lessons; i++)
        printf("  %-11s %s\n", t->shelf.lesson[i].name, t->shelf.lesson[i].title);
    printf("\ntowerloop lesson NAME begins one; towerloop lesson --teacher has the answers.\n");
    return TL_OK;
}

/* Where the picture is; none that could not be drawn. */
static void say_chart(const struct task *t)
{
    static const char *const ending[] = {"png", "svg"};
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    for (size_t i = 0; i < 2 && kind != TL_POSIX_FILE; i++) {
        struct tl_text path = {0};
        tl_text_addf(&path, "%s/charts/%s.%s", t->study.place, t->one[0].lesson->name, ending[i]);
        if (!path.failed && tl_posix_look(path.data, &kind) == TL_OK && kind == TL_POSIX_FILE)
            tl_tell("Chart: %s", path.data);
        tl_text_free(&path);
    }
}

static void print_answer(const struct task *t)
{
    for (size_t i = 0; i < t->lessons; i++) {
        if (t->o->teacher)
            tl_lesson_print_teacher(&t->one[i], stdout);
        else
            tl_lesson_print_answer(&t->one[i], t->answer, stdout);
    }
    if (t->o->teacher)
        tl_lesson_print_glossary(&t->glossary, stdout);
    if (!t->o->teacher && t->o->charts)
        say_chart(t);
    tl_answer_place("Page", t->page);
    tl_answer_place("Results", t->study.place);
}

static int teach(struct task *t)
{
    int status;
    t->answer = t->o->answer;
    if ((status = choose(t)) != TL_OK || (status = look_at_page(t)) != TL_OK)
        return status;
    if (!t->o->teacher) {
        if ((status = check_answer(t)) != TL_OK)
            return status;
        if (!t->o->quiet) {
            tl_lesson_print_question(t->one[0].lesson, stdout);
            status = ask(t);
        }
    }
    if (status != TL_OK || (status = open_folder(t)) != TL_OK)
        return status;
    tl_progress_begin(&t->progress, t->o->quiet);
    if ((status = run_all(t)) != TL_OK || (status = write_all(t)) != TL_OK)
        return status;
    if (!t->o->quiet)
        print_answer(t);
    return TL_OK;
}

/* Words and options that do not go together. */
static int check_words(const struct tl_options *o)
{
    if (o->teacher && (o->words > 0 || o->answer > 0))
        tl_complain("--teacher has all lessons and their answers; expected no %s with it",
                    o->words > 0 ? "NAME" : "--answer");
    else if (!o->teacher && o->words == 0 && (o->answer > 0 || o->html || o->out))
        tl_complain("say which lesson; towerloop lesson lists them");
    else
        return TL_OK;
    return TL_E_INPUT;
}

static int cmd_lesson(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_lesson, &o, &finished);
    struct task *t = finished ? NULL : calloc(1, sizeof *t);
    if (!finished && !t) {
        tl_complain("out of memory");
        code = TL_EXIT_FAILED;
    }
    if (t) {
        t->o = &o;
        tl_diag_init(&t->diag);
        int status = check_words(&o);
        if (status == TL_OK)
            status = o.words > 0 || o.teacher ? teach(t) : print_list(t);
        code = status == TL_OK && t->chart_status == TL_OK ? TL_EXIT_DONE : tl_exit_for(status);
        tl_study_end(&t->study);
        json_decref(t->question);
        for (size_t i = 0; i < t->lessons; i++)
            tl_lesson_task_free(&t->one[i]);
        free(t->one);
        tl_tree_free(t->glossary.root);
        tl_shelf_free(&t->shelf);
        tl_diag_free(&t->diag);
        free(t->page);
        free(t);
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_lesson = {
    .name = "lesson",
    .run = cmd_lesson,
    .help = "learn how a filter works: a question, a run, its explanation",
    .words = "[NAME]",
    .least_words = 0,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(NO_CHARTS) | TL_TAKES(ANSWER) |
             TL_TAKES(HTML) | TL_TAKES(TEACHER) | TL_TAKES(QUIET),
    .more = "Without NAME it lists the lessons. On a terminal it waits for your choice\n"
            "before it runs; Enter goes on without one. NAME may also be a file of your own\n"
            "that ends in .lesson. The page holds the same, with the answer folded away; it\n"
            "needs no network. Without --out the results go to out/lesson-NAME.\n",
};
