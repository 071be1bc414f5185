/* The runs of a lesson, in the folder of its study. */
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "lesson_view.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

int tl_lesson_task_read(struct tl_lesson_task *t, const struct tl_lesson *lesson, const char *shelf)
{
    static const struct tl_options none = {.quiet = true}; /* no warnings: nobody can act on them */
    struct tl_diag diag;
    t->lesson = lesson;
    t->path = tl_place_below(shelf, lesson->scenario);
    if (!t->path)
        return TL_E_MEMORY;
    tl_diag_init(&diag);
    int status = tl_cli_read_scenario(t->path, &none, &t->scenario[0], &diag);
    if (status == TL_OK)
        t->runs = 1;
    if (status == TL_OK && t->scenario[0].variants >= TL_LESSON_RUNS) {
        tl_complain("%s: a lesson has %d variants at most", t->path, TL_LESSON_RUNS - 1);
        status = TL_E_INPUT;
    }
    for (size_t i = 0; status == TL_OK && i < t->scenario[0].variants; i++) {
        status = tl_cli_read_variant(t->path, NULL, &t->scenario[0].variant[i], false,
                                     &t->scenario[t->runs], &diag);
        t->runs += status == TL_OK;
    }
    tl_diag_free(&diag);
    return status;
}

static const char *variant_of(const struct tl_lesson_task *t, size_t run)
{
    return run > 0 ? t->scenario[0].variant[run - 1].name : NULL;
}

int tl_lesson_task_name(struct tl_lesson_task *t)
{
    bool failed = false;
    for (size_t i = 0; i < t->runs; i++) {
        struct tl_text text = {0};
        tl_text_add(&text, t->lesson->name);
        if (i > 0)
            tl_text_addf(&text, " %s", variant_of(t, i));
        failed = failed || text.failed;
        tl_study_name(tl_text_string(&text), t->folder, i, t->folder[i]);
        tl_text_free(&text);
    }
    return failed ? TL_E_MEMORY : TL_OK;
}

/* Quoted where the shell would take it apart. */
static void add_word(struct tl_text *t, const char *word)
{
    const bool plain = word[strcspn(word, " '\"[]{}()$*?;&|<>\\")] == '\0';
    tl_text_addf(t, plain ? "%s" : "\"%s\"", word);
}

/* The scenario's copy lies in the folder of the study. */
static int make_command(struct tl_lesson_task *t, const char *place)
{
    struct tl_text path = {0}, command = {0};
    const char *slash = strrchr(t->lesson->scenario, '/');
    tl_text_addf(&path, "%s/inputs/%s", place, slash ? slash + 1 : t->lesson->scenario);
    tl_text_add(&command, "towerloop run ");
    add_word(&command, tl_text_string(&path));
    for (size_t i = 0; i < t->lesson->set.n; i++) {
        tl_text_add(&command, " --set ");
        add_word(&command, t->lesson->set.text[i]);
    }
    tl_text_addf(&command, " --out out/try-%s", t->lesson->name);
    const bool failed = path.failed || command.failed;
    tl_text_free(&path);
    if (failed)
        tl_text_free(&command);
    t->command = command.data;
    return failed ? TL_E_MEMORY : TL_OK;
}

static int run_all(struct tl_lesson_task *t, const struct tl_study *study, char *why)
{
    const struct tl_record_options options = {.assess = {.interrupted = &tl_interrupted},
                                              .rows = true};
    int status = TL_OK;
    for (size_t i = 0; i < t->runs && status == TL_OK; i++) {
        struct tl_run_result result;
        status = tl_study_run(study, t->folder[i], &t->scenario[i], &options, &result, NULL, why,
                              TL_LESSON_WHY);
    }
    return status;
}

int tl_lesson_task_run(struct tl_lesson_task *t, const struct tl_study *study)
{
    char why[TL_LESSON_WHY] = "";
    char *folder[TL_LESSON_RUNS] = {NULL};
    struct tl_lesson_run run[TL_LESSON_RUNS];
    int status = run_all(t, study, why);
    for (size_t i = 0; i < t->runs && status == TL_OK; i++) {
        struct tl_text name = {0};
        tl_text_addf(&name, "runs/%s", t->folder[i]);
        folder[i] = name.failed ? NULL : tl_study_path(study, name.data);
        tl_text_free(&name);
        run[i] = (struct tl_lesson_run){variant_of(t, i), &t->scenario[i], folder[i]};
        status = folder[i] ? TL_OK : TL_E_MEMORY;
    }
    if (status == TL_OK)
        status = tl_lesson_tell(t->lesson, run, t->runs, &t->told, why);
    if (status == TL_OK)
        status = make_command(t, study->place);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the lesson \"%s\" failed: %s", t->lesson->name,
                    *why ? why : tl_status_text(status));
    for (size_t i = 0; i < t->runs; i++)
        free(folder[i]);
    return status;
}

void tl_lesson_task_free(struct tl_lesson_task *t)
{
    for (size_t i = 0; i < t->runs; i++)
        tl_scenario_free(&t->scenario[i]);
    tl_lesson_told_free(&t->told);
    free(t->command);
    free(t->path);
}
