/* The program: what belongs to the process. The commands are listed in commands.c. */
#include <gsl/gsl_errno.h>
#include <signal.h>
#include <stdio.h>

#include "cli.h"

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

int main(int argc, char **argv)
{
    gsl_set_error_handler_off(); /* its default handler aborts */
    watch_signals();

    int code = tl_cli_run(argc, argv);
    if (fflush(stdout) != 0 && code == TL_EXIT_DONE) {
        tl_complain("the answer could not be written to standard output");
        code = TL_EXIT_FAILED;
    }
    return code;
}
