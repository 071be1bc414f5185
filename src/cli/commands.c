/* The table of commands, and finding the one that is asked for. */
#include <stdio.h>
#include <string.h>

#include "cli.h"

const struct tl_command *const tl_commands[] = {
    &tl_command_run,    &tl_command_chart,  &tl_command_check,
    &tl_command_keys,   &tl_command_water,  &tl_command_compare,
    &tl_command_endure, &tl_command_size,   &tl_command_fit,
    &tl_command_spread, &tl_command_merge,  &tl_command_report,
    &tl_command_log,    &tl_command_lesson, NULL,
};

static void print_commands(FILE *f)
{
    for (const struct tl_command *const *c = tl_commands; *c; c++)
        fprintf(f, "  %-10s %s\n", (*c)->name, (*c)->help);
}

static void print_help(void)
{
    printf("towerloop: water quality of a fish tank with a trickle tower, by simulation.\n\n"
           "usage: towerloop COMMAND [OPTION]... [FILE]\n\ncommands:\n");
    print_commands(stdout);
    printf("\ntowerloop COMMAND --help tells the options of a command; --version the version.\n");
}

static int usage_error(const char *word)
{
    if (word)
        tl_complain("there is no command '%s'; the commands are:", word);
    else
        tl_complain("say what to do; the commands are:");
    print_commands(stderr);
    return TL_EXIT_USAGE;
}

int tl_cli_run(int argc, char **argv)
{
    if (argc < 2)
        return usage_error(NULL);
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        print_help();
        return TL_EXIT_DONE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        tl_print_version();
        return TL_EXIT_DONE;
    }
    const struct tl_command *const *c = tl_commands;
    while (*c && strcmp(argv[1], (*c)->name) != 0)
        c++;
    tl_ends_at_once = *c && (*c)->prints_only;
    return *c ? (*c)->run(argc - 1, argv + 1) : usage_error(argv[1]);
}
