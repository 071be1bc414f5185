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

/* More than twice what any command has been seen to need. */
#define STACK_KB 256

int main(int argc, char **argv)
{
    size_t stack;
    gsl_set_error_handler_off();       /* its default handler aborts */
    tl_posix_unset("POSIXLY_CORRECT"); /* options may follow FILE */
    tl_posix_hold_streams();
    tl_posix_watch(interrupt);
    if (!tl_posix_stack((size_t)STACK_KB << 10, &stack)) {
        tl_complain("only %zu kB of stack are allowed here; towerloop needs %d (ulimit -s %d)",
                    stack >> 10, STACK_KB, STACK_KB);
        return TL_EXIT_FAILED;
    }

    return tl_answer_end(tl_cli_run(argc, argv));
}
