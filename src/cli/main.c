/* The program: what belongs to the process. The commands are listed in commands.c. */
#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "answer.h"
#include "cli.h"
#include "posix.h"

volatile int tl_interrupted;
volatile int tl_ends_at_once;
bool tl_answer_is_lost;

static void interrupt(int signal_number)
{
    (void)signal_number;
    tl_interrupted = 1;
    if (tl_ends_at_once)
        _Exit(TL_EXIT_INTERRUPTED);
}

int main(int argc, char **argv)
{
    gsl_set_error_handler_off(); /* its default handler aborts */
    tl_posix_unset("POSIXLY_CORRECT"); /* options may follow FILE */
    tl_posix_hold_streams();
    tl_posix_watch(interrupt);

    return tl_answer_end(tl_cli_run(argc, argv));
}
