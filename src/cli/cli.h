/* What the commands share: exit codes, options, messages. */
#ifndef TL_CLI_H
#define TL_CLI_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/diag.h"
#include "towerloop/units.h"
#include "towerloop/verdict.h"

enum tl_exit {
    TL_EXIT_DONE = 0,
    TL_EXIT_FAILED = 1,  /* I/O, solver, ledger, folder refused */
    TL_EXIT_USAGE = 2,   /* bad input or usage */
    TL_EXIT_FAIL_ON = 3, /* --fail-on reached */
    TL_EXIT_INTERRUPTED = 130
};

struct tl_options {
    const char *file;
    const char *out; /* NULL: the default */
    bool force;
    bool quiet;
    bool charts;
    enum tl_unit_system units;
    const char **set; /* KEY=VALUE texts */
    size_t sets;
    double rtol;           /* 0: the default */
    enum tl_grade fail_on; /* TL_WITHIN: never */
};

struct tl_command {
    const char *name;
    int (*run)(int argc, char **argv); /* argv[0] is the command's name; returns an exit code */
    const char *help;                  /* one line */
};

extern const struct tl_command tl_command_run;

/* Read the arguments of `command`. TL_EXIT_DONE: go on. Otherwise *finished is set and the value is
 * what to exit with: --help or --version was answered, or a mistake was reported. */
int tl_options_read(int argc, char **argv, const struct tl_command *command, struct tl_options *o,
                    bool *finished);
void tl_options_free(struct tl_options *o);
/* Print the options a command knows to stdout. */
void tl_options_help(const struct tl_command *command);
void tl_print_version(void);

/* "towerloop: …" to stderr. */
void tl_complain(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* Every message about the input to stderr, warnings only if `warnings`. */
void tl_complain_diag(const struct tl_diag *d, bool warnings);

/* Non-zero once the user has asked to stop (SIGINT, SIGTERM); watched by everything that lasts. */
extern volatile int tl_interrupted;

#endif
