/* towerloop spread FILE: many runs over what is not known, and how sure that makes the verdict. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "out_place.h"
#include "posix.h"
#include "spread_drawing.h"
#include "spread_merge.h"
#include "spread_view.h"
#include "study_task.h"
#include "text.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"
#include "uncertain.h"

#define WHY_SIZE 1024
#define GOES_ON  "interrupted; the same command goes on where it was"

/* Everything one spread holds. */
struct task {
    struct tl_study_task base;
    struct tl_spread spread;
    struct tl_spread_shard shard;
    struct tl_tally tally; /* of all runs; not of a shard */
    char *place;           /* of a shard, where none was named */
    char *blocks;          /* their folder */
};

static bool is_shard(const struct task *t)
{
    return t->shard.of > 1;
}

static int read_inputs(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    struct tl_diag diag;
    tl_diag_init(&diag);
    const int status = tl_spread_inputs_read(o->word[0], o->set, o->sets,
                                             o->published ? TL_SPREAD_PUBLISHED : TL_SPREAD_OWN,
                                             &t->spread.input, &t->spread.inputs, &diag);
    tl_complain_diag(&diag, false); /* warnings were said when the scenario was read */
    if (status == TL_E_MEMORY)
        tl_complain("out of memory");
    tl_diag_free(&diag);
    return status ? status : tl_uncertain_check(t->spread.input, t->spread.inputs, o->word[0], o);
}

static int prepare(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    if (o->sensitivity && t->spread.inputs > TL_INDEX_INPUTS) {
        tl_complain("--sensitivity takes %d uncertain inputs at most, and there are %zu; expected "
                    "a spread: in the scenario with the %d that a run without --sensitivity shows "
                    "to matter most",
                    TL_INDEX_INPUTS, t->spread.inputs, TL_INDEX_INPUTS);
        return TL_E_INPUT;
    }
    t->shard = (struct tl_spread_shard){o->shard, o->shards};
    t->spread.file = o->word[0];
    t->spread.set = o->set;
    t->spread.sets = o->sets;
    t->spread.runs = o->runs;
    t->spread.seed = o->seed;
    t->spread.sensitivity = o->sensitivity;
    t->spread.level = o->level ? o->level : tl_ponds_widest();
    t->spread.scenario = &t->base.scenario;
    const int status = tl_spread_prepare(&t->spread);
    if (status)
        tl_complain("%s", tl_status_text(status));
    return status;
}

/* A shard has a folder of its own. */
static int choose_place(struct task *t)
{
    struct tl_text place = {0};
    if (!is_shard(t) || t->base.options.out)
        return TL_OK;
    tl_text_add(&place, "out/");
    tl_add_file_stem(&place, t->base.options.word[0]);
    tl_text_addf(&place, "-spread-%u-of-%u", t->shard.index, t->shard.of);
    t->base.options.out = t->place = place.data;
    return place.failed ? TL_E_MEMORY : TL_OK;
}

static int open_folder(struct task *t)
{
    int status = choose_place(t);
    if (status == TL_OK)
        status = tl_study_open(&t->base, "spread", tl_spread_question(&t->spread, &t->shard),
                               tl_spread_results, tl_spread_charts);
    if (status != TL_OK)
        return status;
    t->blocks = tl_study_path(&t->base.folder, TL_SPREAD_BLOCKS);
    status = t->blocks ? tl_posix_make_folder(t->blocks, NULL) : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_spread_write_scenario(&t->base.scenario, &t->base.folder);
    if (status != TL_OK)
        tl_complain("%s cannot be written: %s", t->base.folder.place,
                    status == TL_E_IO ? strerror(errno) : tl_status_text(status));
    return status;
}

static void say_runs(void *arg, size_t runs, size_t of)
{
    tl_progress_say(arg, "%zu of %zu runs", runs, of);
}

static int run_blocks(struct task *t)
{
    const struct tl_spread_course course = {.folder = t->blocks,
                                            .shard = t->shard,
                                            .threads = t->base.options.threads,
                                            .interrupted = &tl_interrupted,
                                            .progress = say_runs,
                                            .progress_arg = &t->base.progress};
    const int status = tl_spread_run(&t->spread, &course);
    const int reason = errno;
    t->base.folder.made = false; /* what is done stays, whatever comes */
    tl_progress_clear(&t->base.progress);
    if (status == TL_E_INTERRUPTED)
        tl_complain(GOES_ON);
    else if (status == TL_E_REFUSED)
        tl_complain("%s, or a file it names, was changed while it was run; --force starts anew, "
                    "and put back as it was the same command goes on",
                    t->spread.file);
    else if (status != TL_OK)
        tl_complain("%s: %s", t->blocks,
                    status == TL_E_IO ? strerror(reason) : tl_status_text(status));
    return status;
}

static int add_up(struct task *t)
{
    const char *const folder[] = {t->blocks};
    char why[WHY_SIZE] = "";
    int status = tl_tally_new(&t->spread, &t->tally);
    if (status == TL_OK)
        status =
            tl_spread_collect(&t->spread, folder, 1, &tl_interrupted, &t->tally, why, sizeof why);
    if (status == TL_E_INTERRUPTED)
        tl_complain(GOES_ON);
    else if (status != TL_OK)
        tl_complain("%s", *why ? why : tl_status_text(status));
    return status == TL_E_INPUT ? TL_E_IO : status;
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status;
    if ((status = tl_study_read(&t->base)) != TL_OK || (status = read_inputs(t)) != TL_OK ||
        (status = prepare(t)) != TL_OK || (status = open_folder(t)) != TL_OK ||
        (status = run_blocks(t)) != TL_OK)
        return status;
    return is_shard(t) ? TL_OK : add_up(t);
}

static int draw_charts(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    const struct task *t = arg;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    return is_shard(t) ? TL_OK
                       : tl_spread_draw(&t->tally, t->base.options.units, 0, folder, outcome);
}

static int write_results(void *arg)
{
    struct task *t = arg;
    return is_shard(t) ? tl_study_finish(&t->base.folder, NULL, 0)
                       : tl_spread_write(&t->tally, &t->base.folder);
}

static void print(void *arg)
{
    const struct task *t = arg;
    if (is_shard(t) && t->base.options.json)
        printf("{\"shard\": %u, \"shards\": %u, \"complete\": true}\n", t->shard.index,
               t->shard.of);
    else if (is_shard(t))
        printf("Part %u of %u is done. When all are:\n"
               "  towerloop merge DIR... --out DIR, with the folders of all %u parts\n",
               t->shard.index, t->shard.of, t->shard.of);
    else
        tl_spread_print(&t->tally, t->base.options.json, t->base.options.units);
}

static int judge(void *arg)
{
    const struct task *t = arg;
    const enum tl_grade level = t->base.options.fail_on;
    return !is_shard(t) && level != TL_WITHIN && tl_tally_verdict(&t->tally) >= level
               ? TL_EXIT_FAIL_ON
               : TL_EXIT_DONE;
}

static void release(void *arg)
{
    struct task *t = arg;
    tl_tally_free(&t->tally);
    tl_spread_free(&t->spread);
    free(t->spread.input);
    free(t->blocks);
    free(t->place);
}

static int cmd_spread(int argc, char **argv)
{
    static const struct tl_study_steps steps = {&tl_command_spread,
                                                sizeof(struct task),
                                                answer,
                                                draw_charts,
                                                write_results,
                                                print,
                                                judge,
                                                release};
    return tl_study_command(argc, argv, &steps);
}

const struct tl_command tl_command_spread = {
    .name = "spread",
    .run = cmd_spread,
    .help = "how sure is it? Many runs over what is not known for certain",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(RUNS) |
             TL_TAKES(SEED) | TL_TAKES(INPUTS) | TL_TAKES(SHARD) | TL_TAKES(SENSITIVITY) |
             TL_TAKES(LEVEL) | TL_TAKES(THREADS) | TL_TAKES(FAIL_ON) | TL_TAKES(NO_CHARTS) |
             TL_TAKES(JSON) | TL_TAKES(QUIET),
    .more = "Each run takes other values for what is uncertain: those that FILE lists under\n"
            "spread:, or without it the ranges that towerloop has built in. The answer says\n"
            "in how many of 100 runs the water stays within limits, and how sure that is.\n"
            "A grade holds unless it is sure, at 95 %, that fewer than 5 of 100 runs reach\n"
            "it; --fail-on goes by that; 59 runs are the least that can show better than\n"
            "danger. A run that cannot be calculated counts as danger.\n"
            "The same seed gives the same answer, with any number of threads and parts, on\n"
            "one kind of processor. More runs give narrower intervals: 100 for a first look,\n"
            "10000 for chances below 1 of 100. It takes no more memory for many than for few.\n"
            "\n"
            "--sensitivity makes for each run as many more as there are inputs, and one, and\n"
            "says what share of the variance of each limit's worst value an input makes by\n"
            "itself, and together with the others. At most 20 inputs; 1000 runs or more.\n"
            "\n"
            "Parts, for several machines or processors:\n"
            "  towerloop spread pond.yaml --shard 1/2 --out a\n"
            "  towerloop spread pond.yaml --shard 2/2 --out b\n"
            "  towerloop merge a b --out out/pond-spread\n"
            "gives the files that towerloop spread pond.yaml gives, byte for byte.\n"
            "\n"
            "Without --out the results go to out/ and the name of FILE with -spread:\n"
            "spread.json; spread.csv, what 5 to 95 % of the runs stay below, day by day;\n"
            "chances.csv, a row a limit; scenario.yaml; charts/, fans of the water and what\n"
            "drives the risk; blocks/, the runs. After an interruption the same\n"
            "command goes on where it was.\n",
};
