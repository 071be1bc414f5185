/* towerloop check FILE: look whether a scenario can be run, and say back what was understood. */
#include <stdlib.h>

#include "answer.h"
#include "cli.h"
#include "towerloop/status.h"
#include "understood.h"

#define JSON_DIGITS 17 /* reading them back gives the same numbers */

/* Each must be a scenario that can be run, too. */
static int check_variants(const struct tl_options *o, const struct tl_scenario *scenario,
                          struct tl_diag *diag)
{
    const struct tl_scenario_options options = {.set = o->set, .sets = o->sets};
    int status = TL_OK;
    for (size_t i = 0; i < scenario->variants; i++) {
        struct tl_scenario variant;
        int fault = tl_cli_read_variant(o->word[0], &options, &scenario->variant[i], !o->quiet,
                                        &variant, diag);
        tl_scenario_free(&variant);
        if (fault != TL_OK)
            status = fault;
    }
    return status;
}

static int check(const struct tl_options *o, struct tl_diag *diag)
{
    struct tl_scenario scenario = {0};
    struct tl_understood understood = {.written = NULL};
    bool *given = calloc(tl_key_list_size(), sizeof *given);
    if (!given) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }
    int fault = tl_cli_read_given(o->word[0], o, given, &scenario, diag);
    if (fault == TL_OK)
        fault = check_variants(o, &scenario, diag);
    int status = fault;
    if (fault == TL_OK)
        status = tl_understood_make(&scenario, given, &understood);
    if (o->json && !o->quiet && (status == TL_OK || fault == TL_E_INPUT))
        tl_answer_json(tl_understood_json(fault == TL_OK ? &understood : NULL, o->word[0], diag),
                       JSON_DIGITS);
    else if (status == TL_OK && !o->quiet)
        tl_understood_print(&understood, o->units);
    if (status != TL_OK && status != fault)
        tl_complain("%s", tl_status_text(status));
    tl_understood_free(&understood);
    tl_scenario_free(&scenario);
    free(given);
    return status == TL_OK ? TL_EXIT_DONE : tl_exit_for(status);
}

static int cmd_check(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_check, &o, &finished);
    if (!finished) {
        struct tl_diag diag;
        tl_diag_init(&diag);
        code = check(&o, &diag);
        tl_diag_free(&diag);
    }
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_check = {
    .name = "check",
    .run = cmd_check,
    .help = "look for mistakes in a scenario and say back what it means",
    .words = "FILE",
    .least_words = 1,
    .most_words = 1,
    .takes = TL_TAKES(SET) | TL_TAKES(UNITS) | TL_TAKES(JSON) | TL_TAKES(QUIET),
    .more = "Nothing is simulated or written. The exit code is 0 for a scenario that can be\n"
            "run, 2 for one with mistakes, which are told as run tells them.\n",
    .prints_only = true,
};
