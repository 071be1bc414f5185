/* The program: finds the command and hands over to it. */
#include <gsl/gsl_errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"

const struct tl_command *const tl_commands[] = {
    &tl_command_run,
    &tl_command_chart,
    NULL,
};

volatile int tl_interrupted;

static void interrupt(int signal_number)
{
    (void)signal_number;
    tl_interrupted = 1;
}

static void watch_signals(void)
{
    struct sigaction action = {.sa_handler = interrupt};
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    /* a reader of stdout that has gone is noticed when writing to it */
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
}

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

int main(int argc, char **argv)
{
    int code = TL_EXIT_USAGE;
    gsl_set_error_handler_off(); /* its default handler aborts */
    watch_signals();

    if (argc < 2) {
        code = usage_error(NULL);
    } else if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        print_help();
        code = TL_EXIT_DONE;
    } else if (strcmp(argv[1], "--version") == 0) {
        tl_print_version();
        code = TL_EXIT_DONE;
    } else {
        const struct tl_command *const *c = tl_commands;
        while (*c && strcmp(argv[1], (*c)->name) != 0)
            c++;
        code = *c ? (*c)->run(argc - 1, argv + 1) : usage_error(argv[1]);
    }
    if (fflush(stdout) != 0 && code == TL_EXIT_DONE) {
        tl_complain("the answer could not be written to standard output");
        code = TL_EXIT_FAILED;
    }
    return code;
}
