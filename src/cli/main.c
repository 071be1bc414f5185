/* The program: what belongs to the process. The commands are listed in commands.c. */
#include <gsl/gsl_errno.h>
#include <stdio.h>

#include "cli.h"
#include "posix.h"

volatile int tl_interrupted;

static void interrupt(int signal_number)
{
    (void)signal_number;
    tl_interrupted = 1;
}

int main(int argc, char **argv)
{
    gsl_set_error_handler_off(); /* its default handler aborts */
    tl_posix_watch(interrupt);

    int code = tl_cli_run(argc, argv);
    if (fflush(stdout) != 0 && code == TL_EXIT_DONE) {
        tl_complain("the answer could not be written to standard output");
        code = TL_EXIT_FAILED;
    }
    return code;
}
