/* What the commands share: exit codes, options, messages. */
#ifndef TL_CLI_H
#define TL_CLI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "towerloop/chart.h"
#include "towerloop/diag.h"
#include "towerloop/endure.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"
#include "towerloop/verdict.h"

/* id, code, meaning */
#define TL_EXIT_LIST(X)                                                                            \
    X(TL_EXIT_DONE, 0, "done")                                                                     \
    X(TL_EXIT_FAILED, 1, "the run failed: a file, the solver, a ledger, a folder that is refused") \
    X(TL_EXIT_USAGE, 2, "a mistake in the input or in the command")                                \
    X(TL_EXIT_FAIL_ON, 3, "the verdict reached the level of --fail-on")                            \
    X(TL_EXIT_INTERRUPTED, 130, "interrupted")

enum tl_exit {
#define TL_EXIT_ENUM(id, code, meaning) id = (code),
    TL_EXIT_LIST(TL_EXIT_ENUM)
#undef TL_EXIT_ENUM
};

/* Every option there is: id, long name, single letter (0: none), argument (NULL: none), help. */
#define TL_OPTION_LIST(X)                                                                          \
    X(OUT, "out", 'o', "DIR", "folder for the results")                                            \
    X(FORCE, "force", 0, NULL, "replace earlier results")                                          \
    X(SET, "set", 0, "KEY=VALUE", "change a key, as tower.trays=12; may be repeated")              \
    X(VARY, "vary", 0, "KEY=A,B", "give a key each of these values; may be repeated")              \
    X(UNITS, "units", 0, "SYSTEM", "metric or us: units of the printed answer")                    \
    X(RTOL, "rtol", 0, "X", "relative tolerance of the solver; default 1e-5")                      \
    X(FAIL_ON, "fail-on", 0, "LEVEL", "exit 3 if the verdict is at least: caution, danger")        \
    X(NO_CHARTS, "no-charts", 0, NULL, "draw no charts")                                           \
    X(REPORT, "report", 0, NULL, "write report.html too: all of it on one page")                   \
    X(CARD, "card", 0, NULL, "an emergency card for the wall: card.html and card.txt")             \
    X(FORMAT, "format", 0, "LIST", "of the charts: png, svg, pdf, joined by commas")               \
    X(DAY, "day", 0, "N", "whose 24 hours are shown; default: the last full day")                  \
    X(JSON, "json", 0, NULL, "answer as JSON, for other programs")                                 \
    X(SCHEMA, "schema", 0, NULL, "a JSON Schema of the scenario file")                             \
    X(CSV, "csv", 0, NULL, "a table for a spreadsheet, not a sheet to print")                      \
    X(FIX, "fix", 0, NULL, "what to do now, in order, when the water is bad")                      \
    X(OUTAGE, "outage", 0, "TIME", "how long it fails, as 6 h; default 12 h")                      \
    X(AT, "at", 0, "WHEN", "14:00, day 55 or day 55 14:00; default: the worst hour")               \
    X(FAILS, "fails", 0, "WHAT", "power (default), pump, aerator, half: one of two pumps")         \
    X(AERATOR, "aerator", 0, "RATE", "of an emergency; default: as the loop's, or 10 g/h")         \
    X(BATTERY, "battery", 0, "ENERGY", "usable charge of a battery; default 500 Wh")               \
    X(WATTS, "watts", 0, "POWER", "of the aerator on the battery; default 40 W")                   \
    X(EFFICIENCY, "efficiency", 0, "RATE", "oxygen it brings; default 0.7 kg/kWh")                 \
    X(LEAST, "least", 0, "KEY", "find the least of it, as tower.trays; up to two of these")        \
    X(MOST, "most", 0, "KEY", "find the most of it, as fish[0].count")                             \
    X(MARGIN, "margin", 0, "SHARE", "to spare at every limit; default 10 %")                       \
    X(STEADY, "steady", 0, NULL, "judge the day that repeats itself, not the run")                 \
    X(BY_HAND, "by-hand", 0, NULL, "a handbook's arithmetic beside it, line by line")              \
    X(ANSWER, "answer", 0, "N", "your choice; it goes on without asking")                          \
    X(HTML, "html", 0, "FILE", "write the page to FILE, not into the folder")                      \
    X(TEACHER, "teacher", 0, NULL, "all lessons with their answers, and the words explained")      \
    X(FIT, "fit", 0, "KEY", "fit this, as parameters.mu_aob; may be repeated")                     \
    X(HOLD_BACK, "hold-back", 0, "SHARE",                                                          \
      "of the readings, the last, to try the fit; default 20 %")                                   \
    X(FORECAST, "forecast", 0, "TIME", "what to expect so long after the last reading, as 1 d")    \
    X(RUNS, "runs", 0, "N", "how many runs, 10 to 1000000; default 1000")                          \
    X(UNCERTAIN, "uncertain", 0, "N", "how sure: so many runs over what is uncertain, as 1000")    \
    X(SEED, "seed", 0, "S", "another number takes other values; default 1")                        \
    X(SHARD, "shard", 0, "I/N", "only part I of N, as 2/7; merge joins the parts")                 \
    X(INPUTS, "inputs", 0, "WHICH", "own: those of FILE (default); published: built-in ones")      \
    X(SPREAD, "spread", 0, "DIR", "of a spread of this scenario: how sure the verdict is")         \
    X(SENSITIVITY, "sensitivity", 0, NULL, "what share of the uncertainty each input makes")       \
    X(LEVEL, "level", 0, "LEVEL", "vectors: scalar, baseline, avx2, avx512; default: widest")      \
    X(THREADS, "threads", 0, "N", "runs side by side; default: one a processor")                   \
    X(QUIET, "quiet", 0, NULL, "print nothing but errors")                                         \
    X(HELP, "help", 'h', NULL, "this text")                                                        \
    X(VERSION, "version", 0, NULL, "the version")

enum tl_option_id {
#define TL_OPTION_ENUM(id, name, letter, argument, help) TL_OPTION_##id,
    TL_OPTION_LIST(TL_OPTION_ENUM)
#undef TL_OPTION_ENUM
        TL_NOPTION
};
/* For the set of options a command takes. */
#define TL_TAKES(id) (1ul << TL_OPTION_##id)

/* Something to be sized. */
struct tl_size_goal {
    const char *path; /* of its key */
    bool most;        /* else the least */
};
enum { TL_SIZE_GOALS = 2 };

struct tl_options {
    const char **word; /* what is no option: files, folders */
    size_t words;
    const char *out; /* NULL: the default */
    bool force;
    bool quiet;
    bool charts;
    bool report; /* report.html is asked for */
    bool card;
    bool json;
    bool schema;
    bool csv;
    bool fix;
    bool day_given; /* `day` was asked for */
    long day;
    unsigned formats; /* TL_CHART_PNG | …; 0: the default */
    enum tl_unit_system units;
    const char **set; /* KEY=VALUE texts */
    size_t sets;
    const char **vary; /* KEY=VALUE,VALUE texts */
    size_t varies;
    double rtol; /* 0: the default */
    struct tl_endure_question endure;
    struct tl_size_goal goal[TL_SIZE_GOALS];
    size_t goals;
    double margin;    /* a share of each limit */
    const char **fit; /* keys */
    size_t fits;
    double hold_back;  /* a share */
    double forecast_d; /* 0: none */
    bool steady;
    bool by_hand;
    unsigned answer;  /* a choice of a lesson; 0: none */
    const char *html; /* where the page of a lesson goes; NULL: into the folder */
    bool teacher;
    size_t runs;
    size_t uncertain; /* runs; 0: none */
    uint64_t seed;
    unsigned shard, shards; /* 1..shards; 1 of 1: all of it */
    bool drawn;             /* `seed` or `published` was asked for */
    bool published;         /* the built-in ranges, whatever the scenario has */
    bool sensitivity;
    const char *spread;    /* folder of one; NULL: none */
    const char *level;     /* of vectors; NULL: the widest */
    unsigned threads;      /* 0: one a processor */
    enum tl_grade fail_on; /* TL_WITHIN: never */
};

struct tl_command {
    const char *name;
    int (*run)(int argc, char **argv); /* argv[0] is the command's name; returns an exit code */
    const char *help;                  /* one line */
    const char *words;                 /* as help shows them, "FILE" */
    size_t least_words, most_words;
    unsigned long takes; /* options, besides --help and --version */
    const char *more;    /* printed below the options: examples; NULL: nothing */
    bool prints_only;    /* it leaves no files: the user may end it anywhere */
};

/* In the order they are listed, closed by NULL. */
extern const struct tl_command *const tl_commands[];
/* Find the command in argv[1] and hand over to it. Returns an exit code. */
int tl_cli_run(int argc, char **argv);
extern const struct tl_command tl_command_run, tl_command_chart, tl_command_keys, tl_command_check,
    tl_command_water, tl_command_compare, tl_command_endure, tl_command_size, tl_command_report,
    tl_command_log, tl_command_lesson, tl_command_fit, tl_command_spread, tl_command_merge;

/* Read the arguments of `command`. TL_EXIT_DONE: go on. Otherwise *finished is set and the value is
 * what to exit with: --help or --version was answered, or a mistake was reported. */
int tl_options_read(int argc, char **argv, const struct tl_command *command, struct tl_options *o,
                    bool *finished);
void tl_options_free(struct tl_options *o);
/* Print the options a command knows to stdout. */
void tl_options_help(const struct tl_command *command);
void tl_print_version(void);

/* Read a scenario with the options' --set edits and print every message about it. TL_OK,
 * TL_E_INPUT (a file that is not there is a mistake in the command) or TL_E_MEMORY. */
int tl_cli_read_scenario(const char *file, const struct tl_options *o, struct tl_scenario *out,
                         struct tl_diag *diag);
/* The same, and which keys are named: see tl_scenario_read_given(). */
int tl_cli_read_given(const char *file, const struct tl_options *o, bool *given,
                      struct tl_scenario *out, struct tl_diag *diag);
/* Read one of the variants of a scenario whose own messages are in `diag`; what they said already is
 * not said again. Values as of tl_cli_read_scenario(). */
int tl_cli_read_variant(const char *file, const struct tl_scenario_options *options,
                        const struct tl_variant *v, bool warnings, struct tl_scenario *out,
                        struct tl_diag *diag);
/* Report TL_E_MEMORY, and nothing else. Returns the status. */
int tl_complain_memory(int status);
/* Why something failed: what the system said (an errno, 0: nothing), unless memory ran out. */
const char *tl_cli_cause(int status, int reason);
/* Exit code for a failure that has been reported. */
int tl_exit_for(int status);
/* Report charts that are not there. The answer counts all the same (TL_OK) where the machine lacks a
 * program or a font. */
int tl_complain_charts(int status, const struct tl_chart_outcome *c);

/* "towerloop: …", or the line as it is, to stderr, with nothing in it that could steer a terminal. */
void tl_complain(const char *format, ...) __attribute__((format(printf, 1, 2)));
void tl_tell(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* Every message about the input to stderr, warnings only if `warnings`. */
void tl_complain_diag(const struct tl_diag *d, bool warnings);

/* Non-zero once the user has asked to stop (SIGINT, SIGTERM); watched by everything that lasts. */
extern volatile int tl_interrupted;
/* Whether that ends the program at once. */
extern volatile int tl_ends_at_once;

#endif
