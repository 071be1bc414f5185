/* towerloop merge DIR...: the parts of a spread put together. */
#include <stdio.h>
#include <stdlib.h>

#include "posix.h"
#include "spread_drawing.h"
#include "spread_merge.h"
#include "spread_view.h"
#include "study_task.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024

struct task {
    struct tl_study_task base;
    struct tl_merge merge;
    struct tl_tally tally;
};

static const char **copies(const struct tl_merge *m)
{
    size_t n = 0;
    while (m->input[n])
        n++;
    const char **input = calloc(n + 1, sizeof *input);
    for (size_t i = 0; input && i < n; i++)
        input[i] = m->input[i];
    return input;
}

static int open_parts(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    char why[WHY_SIZE];
    if (!o->out) {
        tl_complain("merge needs --out DIR, the folder for the results");
        return TL_E_INPUT;
    }
    for (size_t i = 0; i < o->words; i++)
        if (tl_posix_overlap(o->out, o->word[i])) {
            tl_complain("--out %s: the part %s lies there; expected a folder of its own", o->out,
                        o->word[i]);
            return TL_E_INPUT;
        }
    const int status = tl_merge_open(o->word, o->words, &t->merge, why, sizeof why);
    if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    return status;
}

static int add_up(struct task *t)
{
    char why[WHY_SIZE] = "";
    int status = tl_tally_new(&t->merge.spread, &t->tally);
    if (status == TL_OK)
        status = tl_spread_collect(&t->merge.spread, (const char *const *)t->merge.folder,
                                   t->merge.folders, &tl_interrupted, &t->tally, why, sizeof why);
    if (status != TL_OK && status != TL_E_INTERRUPTED)
        tl_complain("%s", *why ? why : tl_status_text(status));
    return status;
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status;
    if ((status = open_parts(t)) != TL_OK || (status = add_up(t)) != TL_OK)
        return status;
    t->base.input = copies(&t->merge);
    if (!t->base.input)
        return tl_complain_memory(TL_E_MEMORY);
    return tl_study_open(&t->base, "spread", tl_spread_question(&t->merge.spread, NULL),
                         tl_spread_results, tl_spread_charts);
}

static int draw_charts(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    const struct task *t = arg;
    return tl_spread_draw(&t->tally, t->base.options.units, 0, folder, outcome);
}

static int write_results(void *arg)
{
    struct task *t = arg;
    int status = tl_spread_write_scenario(&t->merge.scenario, &t->base.folder);
    if (status == TL_OK)
        status = tl_spread_write(&t->tally, &t->base.folder);
    if (status == TL_OK)
        t->base.folder.made = false; /* it stays */
    return status;
}

static void print(void *arg)
{
    const struct task *t = arg;
    tl_spread_print(&t->tally, t->base.options.json, t->base.options.units);
}

static int judge(void *arg)
{
    const struct task *t = arg;
    const enum tl_grade level = t->base.options.fail_on;
    return level != TL_WITHIN && tl_tally_verdict(&t->tally) >= level ? TL_EXIT_FAIL_ON
                                                                      : TL_EXIT_DONE;
}

static void release(void *arg)
{
    struct task *t = arg;
    tl_tally_free(&t->tally);
    tl_merge_close(&t->merge);
}

static int cmd_merge(int argc, char **argv)
{
    static const struct tl_study_steps steps = {&tl_command_merge,
                                                sizeof(struct task),
                                                answer,
                                                draw_charts,
                                                write_results,
                                                print,
                                                judge,
                                                release};
    return tl_study_command(argc, argv, &steps);
}

const struct tl_command tl_command_merge = {
    .name = "merge",
    .run = cmd_merge,
    .help = "put the parts of a spread together",
    .words = "DIR...",
    .least_words = 1,
    .most_words = 100000,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(UNITS) | TL_TAKES(FAIL_ON) |
             TL_TAKES(NO_CHARTS) | TL_TAKES(JSON) | TL_TAKES(QUIET),
    .more = "Each DIR is the folder of one part, as towerloop spread --shard made it; all\n"
            "parts have to be given, in any order. They must be of one scenario, with the\n"
            "same inputs, seed and number of runs, by one version of towerloop on one kind\n"
            "of processor; else it is said what differs, and nothing is written.\n"
            "The files are those that one spread of all runs gives, byte for byte. The runs\n"
            "stay where they are: the folder holds the results alone.\n",
};
