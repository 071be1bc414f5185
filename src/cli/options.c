/* The options of the commands: one table gives the names, the argument and the help. */
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "towerloop/summary.h"

#define RTOL_MIN 1e-10
#define RTOL_MAX 1e-2

/* letter, long name, what the argument is (NULL: none), help */
#define OPTION_LIST(X)                                                                             \
    X('o', "out", "DIR", "folder for the results; default: out/ and the name of FILE")             \
    X('f', "force", NULL, "replace a folder of earlier results")                                   \
    X('s', "set", "KEY=VALUE", "change a key, as tower.trays=12; may be repeated")                 \
    X('u', "units", "SYSTEM", "metric or us: units of the printed answer")                         \
    X('r', "rtol", "X", "relative tolerance of the solver; default 1e-5")                          \
    X('F', "fail-on", "LEVEL", "exit 3 if the verdict is at least: caution, danger")               \
    X('C', "no-charts", NULL, "draw no charts")                                                    \
    X('q', "quiet", NULL, "print nothing but errors")                                              \
    X('h', "help", NULL, "this text")                                                              \
    X('V', "version", NULL, "the version")

/* Only -o and -h are promised as single letters; the others are ids. */
static const char short_options[] = ":o:h";

void tl_print_version(void)
{
    struct tl_build b;
    tl_build_info(&b);
    printf("towerloop %s (%s, %s, GSL %s)\n", b.version, b.commit, b.compiler, b.gsl);
}

static void help_line(char letter, const char *name, const char *argument, const char *help)
{
    char left[40];
    bool is_short = strchr(short_options, letter) != NULL;
    snprintf(left, sizeof left, "%c%c%s --%s %s", is_short ? '-' : ' ', is_short ? letter : ' ',
             is_short ? "," : " ", name, argument ? argument : "");
    printf("  %-21s %s\n", left, help);
}

void tl_options_help(const struct tl_command *command)
{
    printf("towerloop %s: %s\n\nusage: towerloop %s [OPTION]... FILE\n\n", command->name,
           command->help, command->name);
#define HELP(letter, name, argument, help) help_line(letter, name, argument, help);
    OPTION_LIST(HELP)
#undef HELP
}

static bool read_rtol(const char *text, double *rtol)
{
    size_t used = tl_parse_number(text, rtol);
    return used > 0 && text[used] == '\0' && *rtol >= RTOL_MIN && *rtol <= RTOL_MAX;
}

static bool read_units(const char *text, enum tl_unit_system *units)
{
    *units = strcmp(text, "us") == 0 ? TL_US : TL_METRIC;
    return *units == TL_US || strcmp(text, "metric") == 0;
}

static bool read_level(const char *text, enum tl_grade *grade)
{
    *grade = strcmp(text, "danger") == 0 ? TL_DANGER : TL_CAUTION;
    return *grade == TL_DANGER || strcmp(text, "caution") == 0;
}

/* One option; false when its argument is wrong, which has been reported then. */
static bool take(struct tl_options *o, int letter, const char *argument)
{
    switch (letter) {
    case 'o':
        o->out = argument;
        if (*argument)
            return true;
        tl_complain("--out: the name of the folder is empty");
        return false;
    case 'f':
        o->force = true;
        return true;
    case 's':
        o->set[o->sets++] = argument;
        return true;
    case 'u':
        if (read_units(argument, &o->units))
            return true;
        tl_complain("--units: '%s' is none; expected metric or us", argument);
        return false;
    case 'r':
        if (read_rtol(argument, &o->rtol))
            return true;
        tl_complain("--rtol: '%s' will not do; expected a number from %g to %g", argument, RTOL_MIN,
                    RTOL_MAX);
        return false;
    case 'F':
        if (read_level(argument, &o->fail_on))
            return true;
        tl_complain("--fail-on: '%s' is no level; expected caution or danger", argument);
        return false;
    case 'C':
        o->charts = false;
        return true;
    default:
        o->quiet = true;
        return true;
    }
}

int tl_options_read(int argc, char **argv, const struct tl_command *command, struct tl_options *o,
                    bool *finished)
{
    static const struct option long_options[] = {
#define LONG(letter, name, argument, help)                                                         \
    {name, (argument) != NULL ? required_argument : no_argument, NULL, letter},
        OPTION_LIST(LONG)
#undef LONG
            {NULL, 0, NULL, 0},
    };
    *finished = true;
    *o = (struct tl_options){.charts = true, .units = TL_METRIC, .fail_on = TL_WITHIN};
    o->set = calloc((size_t)argc, sizeof *o->set);
    if (!o->set) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }

    int letter;
    optind = 1;
    opterr = 0; /* the messages are ours */
    while ((letter = getopt_long(argc, argv, short_options, long_options, NULL)) != -1) {
        switch (letter) {
        case 'h':
            tl_options_help(command);
            return TL_EXIT_DONE;
        case 'V':
            tl_print_version();
            return TL_EXIT_DONE;
        case ':':
            tl_complain("%s needs an argument; towerloop %s --help lists the options",
                        argv[optind - 1], command->name);
            return TL_EXIT_USAGE;
        case '?':
            tl_complain("%s is no option of %s or is used wrongly; towerloop %s --help lists them",
                        argv[optind - 1], command->name, command->name);
            return TL_EXIT_USAGE;
        default:
            if (!take(o, letter, optarg))
                return TL_EXIT_USAGE;
        }
    }
    if (optind + 1 != argc) {
        tl_complain("%s takes one scenario file; %d given", command->name, argc - optind);
        return TL_EXIT_USAGE;
    }
    o->file = argv[optind];
    *finished = false;
    return TL_EXIT_DONE;
}

void tl_options_free(struct tl_options *o)
{
    free(o->set);
    o->set = NULL;
}
