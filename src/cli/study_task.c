/* From the options of a study to its folder and its answer. */
#include "study_task.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "out_place.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024

/* --- beginning -------------------------------------------------------------------------------- */

int tl_study_read(struct tl_study_task *t)
{
    int status = tl_cli_read_scenario(t->options.word[0], &t->options, &t->scenario, &t->diag);
    for (enum tl_input i = 0; status == TL_OK && i < TL_NINPUT; i++)
        t->named[i] = tl_scenario_input_path(&t->scenario, i);
    return status;
}

static const char **list_inputs(const struct tl_study_task *t)
{
    const struct tl_options *o = &t->options;
    const char **input = calloc(o->words + TL_NINPUT + 1, sizeof *input);
    for (size_t i = 0; input && i < o->words; i++)
        input[i] = o->word[i];
    for (size_t i = 0, n = o->words; input && i < TL_NINPUT; i++)
        if (t->named[i])
            input[n++] = t->named[i];
    return input;
}

int tl_study_open(struct tl_study_task *t, const char *kind, json_t *question,
                  const char *const *result, const char *const *chart)
{
    char why[WHY_SIZE] = "", ending[32];
    t->question = question;
    if (!t->input)
        t->input = list_inputs(t);
    t->plan = (struct tl_study_plan){kind, question, t->input, result, chart};
    tl_format(ending, sizeof ending, "-%s", kind);
    char *place = tl_out_place(&t->options, ending);
    int status = question && t->input && place ? tl_study_begin(&t->folder, &t->plan, place,
                                                                t->options.force, why, sizeof why)
                                               : TL_E_MEMORY;
    if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    free(place);
    return status;
}

/* --- the answer ------------------------------------------------------------------------------- */

static int draw(struct tl_study_task *t, const struct tl_study_steps *steps)
{
    struct tl_chart_outcome outcome = {.lacks = TL_CHART_LACKS_NOTHING};
    char *folder = tl_study_path(&t->folder, "charts");
    int status = TL_E_MEMORY;
    if (folder) {
        tl_progress_say(&t->progress, "drawing the charts");
        status = steps->draw(t, folder, &outcome);
        tl_progress_clear(&t->progress);
        tl_posix_remove_empty(folder);
    }
    free(folder);
    return tl_complain_charts(status, &outcome);
}

static int write(struct tl_study_task *t, const struct tl_study_steps *steps)
{
    errno = 0;
    int status = steps->write(t);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("the results cannot be written: %s", tl_cli_cause(status, errno));
    return status;
}

static int work(struct tl_study_task *t, const struct tl_study_steps *steps)
{
    int status, chart_status = TL_OK;
    if ((status = steps->answer(t)) != TL_OK)
        return tl_exit_for(status);
    if (t->options.charts && steps->draw && (chart_status = draw(t, steps)) == TL_E_INTERRUPTED)
        return TL_EXIT_INTERRUPTED;
    if ((status = write(t, steps)) != TL_OK)
        return tl_exit_for(status);
    if (!t->options.quiet) {
        steps->print(t);
        tl_answer_place("Results", t->folder.place);
    }
    return chart_status == TL_OK ? steps->judge(t) : TL_EXIT_FAILED;
}

static void release(struct tl_study_task *t)
{
    tl_study_end(&t->folder);
    json_decref(t->question);
    free(t->input);
    for (enum tl_input i = 0; i < TL_NINPUT; i++)
        free(t->named[i]);
    tl_scenario_free(&t->scenario);
    tl_diag_free(&t->diag);
}

int tl_study_command(int argc, char **argv, const struct tl_study_steps *steps)
{
    struct tl_study_task *t = calloc(1, steps->size);
    bool finished;
    if (!t) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }
    int code = tl_options_read(argc, argv, steps->command, &t->options, &finished);
    if (!finished) {
        tl_diag_init(&t->diag);
        tl_progress_begin(&t->progress, t->options.quiet);
        code = work(t, steps);
        steps->release(t);
        release(t);
    }
    tl_options_free(&t->options);
    free(t);
    return code;
}
