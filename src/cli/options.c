/* The options of the commands: one table gives the names, the argument and the help. */
#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "least_squares.h"
#include "spread_runs.h"
#include "text.h"
#include "towerloop/engine.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define WHAT_SIZE 256

void tl_print_version(void)
{
    struct tl_build b;
    tl_build_info(&b);
    printf("towerloop %s (%s, %s, GSL %s)\n", b.version, b.commit, b.compiler, b.gsl);
}

static const unsigned long always = TL_TAKES(HELP) | TL_TAKES(VERSION);

static const struct {
    const char *name;
    int letter;
    const char *argument, *help;
} option_table[TL_NOPTION] = {
#define ROW(id, name, letter, argument, help) {name, letter, argument, help},
    TL_OPTION_LIST(ROW)
#undef ROW
};

static bool takes(const struct tl_command *command, int id)
{
    return ((command->takes | always) >> id & 1) != 0;
}

void tl_options_help(const struct tl_command *command)
{
    printf("towerloop %s: %s\n\nusage: towerloop %s [OPTION]...%s%s\n\n", command->name,
           command->help, command->name, *command->words ? " " : "", command->words);
    for (int id = 0; id < TL_NOPTION; id++) {
        char left[40];
        const int letter = option_table[id].letter;
        if (!takes(command, id))
            continue;
        snprintf(left, sizeof left, "%c%c%s --%s %s", letter ? '-' : ' ', letter ? letter : ' ',
                 letter ? "," : " ", option_table[id].name,
                 option_table[id].argument ? option_table[id].argument : "");
        printf("  %-21s %s\n", left, option_table[id].help);
    }
    if (command->more)
        printf("\n%s", command->more);
}

static bool read_rtol(const char *text, double *rtol)
{
    size_t used = tl_parse_number(text, rtol);
    return used > 0 && text[used] == '\0' && *rtol >= TL_RTOL_LEAST && *rtol <= TL_RTOL_MOST;
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

/* Of a run: 0 is the day it starts. */
static bool read_day(const char *text, long *day)
{
    const size_t digits = strspn(text, "0123456789");
    *day = strtol(text, NULL, 10);
    return digits > 0 && digits <= 6 && text[digits] == '\0';
}

/* "png,svg" */
static bool read_formats(const char *text, unsigned *formats)
{
    static const struct {
        const char *name;
        unsigned bit;
    } format[] = {{"png", TL_CHART_PNG}, {"svg", TL_CHART_SVG}, {"pdf", TL_CHART_PDF}};
    *formats = 0;
    for (;;) {
        const size_t length = strcspn(text, ",");
        size_t i = 0;
        while (i < 3 &&
               (strlen(format[i].name) != length || strncmp(format[i].name, text, length) != 0))
            i++;
        if (i == 3)
            return false;
        *formats |= format[i].bit;
        if (text[length] == '\0')
            return true;
        text += length + 1;
    }
}

/* A quantity from above `low` to `high`, in base units. */
static bool read_between(const char *name, const char *text, enum tl_dim dim, double low,
                         double high, double *value)
{
    char what[WHAT_SIZE], expected[WHAT_SIZE];
    if (tl_parse_quantity(text, dim, value, what, expected, WHAT_SIZE) != TL_OK) {
        tl_complain("--%s: '%s': %s%s%s", name, text, what, *expected ? "; expected " : "",
                    expected);
        return false;
    }
    if (*value > low && *value <= high)
        return true;
    tl_complain("--%s: '%s' will not do; expected more than %g and at most %g %s", name, text, low,
                high, tl_dim_base_unit(dim));
    return false;
}

/* "22:30", as a share of the day */
static bool read_clock(const char *text, double *clock_d)
{
    int hour = 0, minute = 0;
    if (strlen(text) != 5 || text[2] != ':' || strspn(text, "0123456789:") != 5)
        return false;
    hour = 10 * (text[0] - '0') + text[1] - '0';
    minute = 10 * (text[3] - '0') + text[4] - '0';
    *clock_d = (hour * 60 + minute) / 1440.0;
    return strchr(text, ':') == strrchr(text, ':') && hour < 24 && minute < 60;
}

/* "day 55 14:00", "14:00", "day 55"; what is not named is NAN. */
static bool read_at(const char *text, double *day, double *clock_d)
{
    double day_read = NAN, clock_read = NAN;
    bool clock = true;
    if (strncmp(text, "day ", 4) == 0) {
        const size_t digits = strspn(text + 4, "0123456789");
        if (digits == 0 || digits > 6)
            return false;
        day_read = tl_strtod(text + 4, NULL);
        text += 4 + digits;
        clock = *text != '\0';
        if (clock && *text++ != ' ')
            return false;
    }
    if (clock && !read_clock(text, &clock_read))
        return false;
    *day = day_read;
    *clock_d = clock_read;
    return true;
}

static bool read_failure(const char *text, enum tl_failure *fails)
{
    for (int i = 0; i < TL_NFAILURE; i++)
        if (strcmp(text, tl_failure_name((enum tl_failure)i)) == 0) {
            *fails = (enum tl_failure)i;
            return true;
        }
    return false;
}

static bool read_threads(const char *text, unsigned *threads)
{
    double n;
    const size_t used = tl_parse_number(text, &n);
    if (used == 0 || text[used] != '\0' || !(n >= 1 && n <= 256) || n != floor(n))
        return false;
    *threads = (unsigned)n;
    return true;
}

/* Those of `endure`. */
static bool take_endure(struct tl_endure_question *q, enum tl_option_id id, const char *argument)
{
    const char *name = option_table[id].name;
    switch (id) {
    case TL_OPTION_OUTAGE:
        return read_between(name, argument, TL_DIM_TIME, 0, 7, &q->outage_d);
    case TL_OPTION_AERATOR:
        return read_between(name, argument, TL_DIM_MASS_FLOW, 0, 1e6, &q->aerator_g_d);
    case TL_OPTION_BATTERY:
        return read_between(name, argument, TL_DIM_ENERGY, 0, 1e6, &q->battery_wh);
    case TL_OPTION_WATTS:
        return read_between(name, argument, TL_DIM_POWER, 0, 1e5, &q->battery_w);
    case TL_OPTION_EFFICIENCY:
        return read_between(name, argument, TL_DIM_AERATION, 0, 1e4, &q->aeration_g_kwh);
    case TL_OPTION_AT:
        if (read_at(argument, &q->day, &q->clock_d))
            return true;
        tl_complain("--at: '%s' is no time; expected one as 22:30, day 55 or day 55 22:30",
                    argument);
        return false;
    case TL_OPTION_FAILS:
        if (read_failure(argument, &q->fails))
            return true;
        tl_complain("--fails: '%s' is none; expected power, pump, aerator or half", argument);
        return false;
    default:
        return true;
    }
}

static bool take_goal(struct tl_options *o, const char *path, bool most)
{
    if (o->goals == TL_SIZE_GOALS) {
        tl_complain("--%s %s: two at most can be sized at once", most ? "most" : "least", path);
        return false;
    }
    o->goal[o->goals++] = (struct tl_size_goal){path, most};
    return true;
}

static bool take_share(const char *name, const char *text, double *share)
{
    char what[WHAT_SIZE], expected[WHAT_SIZE];
    if (tl_parse_quantity(text, TL_DIM_FRACTION, share, what, expected, WHAT_SIZE) == TL_OK &&
        *share >= 0 && *share <= 0.9)
        return true;
    tl_complain("--%s: '%s' will not do; expected a share from 0 to 90 %%", name, text);
    return false;
}

static bool take_answer(const char *text, unsigned *answer)
{
    *answer = strlen(text) == 1 && *text >= '1' && *text <= '9' ? (unsigned)(*text - '0') : 0;
    if (*answer > 0)
        return true;
    tl_complain("--answer: '%s' will not do; expected the number of a choice, as 2", text);
    return false;
}

/* A whole number without a sign. */
static bool read_whole(const char *text, char **end, uint64_t most, uint64_t *value)
{
    errno = 0;
    *value = strtoull(text, end, 10);
    return *text >= '0' && *text <= '9' && errno == 0 && *value <= most;
}

static bool read_shard(const char *text, unsigned *shard, unsigned *shards)
{
    enum { MOST = 100000 };
    uint64_t index, of;
    char *end;
    if (!read_whole(text, &end, MOST, &index) || *end != '/' ||
        !read_whole(end + 1, &end, MOST, &of) || *end != '\0' || index < 1 || index > of)
        return false;
    *shard = (unsigned)index;
    *shards = (unsigned)of;
    return true;
}

/* Those of `spread`. */
static bool take_spread(struct tl_options *o, enum tl_option_id id, const char *argument)
{
    const char *expected = NULL;
    uint64_t runs = 0;
    char *end;
    o->drawn |= id == TL_OPTION_SEED || id == TL_OPTION_INPUTS;
    if (id == TL_OPTION_RUNS || id == TL_OPTION_UNCERTAIN) {
        if (!read_whole(argument, &end, TL_SPREAD_RUNS_MOST, &runs) || *end != '\0' ||
            runs < TL_SPREAD_RUNS_LEAST)
            expected = "a whole number from 10 to 1000000";
        *(id == TL_OPTION_RUNS ? &o->runs : &o->uncertain) = (size_t)runs;
    } else if (id == TL_OPTION_SEED) {
        if (!read_whole(argument, &end, UINT64_MAX, &o->seed) || *end != '\0')
            expected = "a whole number from 0 on";
    } else if (id == TL_OPTION_SHARD) {
        if (!read_shard(argument, &o->shard, &o->shards))
            expected = "a part and the number of parts, as 2/7";
    } else if (id == TL_OPTION_INPUTS) {
        o->published = strcmp(argument, "published") == 0;
        if (!o->published && strcmp(argument, "own") != 0)
            expected = "own or published";
    } else {
        o->level = tl_ponds_level(argument);
        if (!o->level)
            expected = "scalar, baseline, avx2 or avx512, as far as this processor has it";
    }
    if (expected)
        tl_complain("--%s: '%s' will not do; expected %s", option_table[id].name, argument,
                    expected);
    return expected == NULL;
}

#define FORECAST_D 60.0 /* no further than that */

/* Those of `fit`. */
static bool take_fit(struct tl_options *o, enum tl_option_id id, const char *argument)
{
    const char *name = option_table[id].name;
    if (id == TL_OPTION_HOLD_BACK)
        return take_share(name, argument, &o->hold_back);
    if (id == TL_OPTION_FORECAST)
        return read_between(name, argument, TL_DIM_TIME, 0, FORECAST_D, &o->forecast_d);
    for (size_t i = 0; i < o->fits; i++)
        if (strcmp(o->fit[i], argument) == 0) {
            tl_complain("--fit: %s is asked for twice", argument);
            return false;
        }
    if (o->fits == TL_SQUARES_MOST) {
        tl_complain("--fit %s: %d at most can be fitted at once", argument, TL_SQUARES_MOST);
        return false;
    }
    o->fit[o->fits++] = argument;
    return true;
}

/* One option; false when its argument is wrong, which has been reported then. */
static bool take(struct tl_options *o, enum tl_option_id id, const char *argument)
{
    switch (id) {
    case TL_OPTION_OUT:
        o->out = argument;
        if (*argument)
            return true;
        tl_complain("--out: the name of the folder is empty");
        return false;
    case TL_OPTION_FORCE:
        o->force = true;
        return true;
    case TL_OPTION_SET:
        o->set[o->sets++] = argument;
        return true;
    case TL_OPTION_VARY:
        o->vary[o->varies++] = argument;
        return true;
    case TL_OPTION_UNITS:
        if (read_units(argument, &o->units))
            return true;
        tl_complain("--units: '%s' is none; expected metric or us", argument);
        return false;
    case TL_OPTION_RTOL:
        if (read_rtol(argument, &o->rtol))
            return true;
        tl_complain("--rtol: '%s' will not do; expected a number from %g to %g", argument,
                    TL_RTOL_LEAST, TL_RTOL_MOST);
        return false;
    case TL_OPTION_FAIL_ON:
        if (read_level(argument, &o->fail_on))
            return true;
        tl_complain("--fail-on: '%s' is no level; expected caution or danger", argument);
        return false;
    case TL_OPTION_FORMAT:
        if (read_formats(argument, &o->formats))
            return true;
        tl_complain("--format: '%s' will not do; expected png, svg, pdf, joined by commas",
                    argument);
        return false;
    case TL_OPTION_DAY:
        o->day_given = read_day(argument, &o->day);
        if (!o->day_given)
            tl_complain("--day: '%s' is no day; expected a whole number, as 12", argument);
        return o->day_given;
    case TL_OPTION_NO_CHARTS:
        o->charts = false;
        return true;
    case TL_OPTION_REPORT:
        o->report = true;
        return true;
    case TL_OPTION_CARD:
        o->card = true;
        return true;
    case TL_OPTION_JSON:
        o->json = true;
        return true;
    case TL_OPTION_SCHEMA:
        o->schema = true;
        return true;
    case TL_OPTION_FIX:
        o->fix = true;
        return true;
    case TL_OPTION_LEAST:
    case TL_OPTION_MOST:
        return take_goal(o, argument, id == TL_OPTION_MOST);
    case TL_OPTION_MARGIN:
        return take_share(option_table[id].name, argument, &o->margin);
    case TL_OPTION_FIT:
    case TL_OPTION_HOLD_BACK:
    case TL_OPTION_FORECAST:
        return take_fit(o, id, argument);
    case TL_OPTION_CSV:
        o->csv = true;
        break;
    case TL_OPTION_STEADY:
        o->steady = true;
        return true;
    case TL_OPTION_BY_HAND:
        o->by_hand = true;
        return true;
    case TL_OPTION_ANSWER:
        return take_answer(argument, &o->answer);
    case TL_OPTION_HTML:
        o->html = argument;
        if (*argument)
            return true;
        tl_complain("--html: the name of the file is empty");
        return false;
    case TL_OPTION_TEACHER:
        o->teacher = true;
        return true;
    case TL_OPTION_THREADS:
        if (read_threads(argument, &o->threads))
            return true;
        tl_complain("--threads: '%s' will not do; expected a whole number from 1 to 256", argument);
        return false;
    case TL_OPTION_SPREAD:
        o->spread = argument;
        return true;
    case TL_OPTION_SENSITIVITY:
        o->sensitivity = true;
        return true;
    case TL_OPTION_RUNS:
    case TL_OPTION_UNCERTAIN:
    case TL_OPTION_SEED:
    case TL_OPTION_SHARD:
    case TL_OPTION_INPUTS:
    case TL_OPTION_LEVEL:
        return take_spread(o, id, argument);
    case TL_OPTION_OUTAGE:
    case TL_OPTION_AT:
    case TL_OPTION_FAILS:
    case TL_OPTION_AERATOR:
    case TL_OPTION_BATTERY:
    case TL_OPTION_WATTS:
    case TL_OPTION_EFFICIENCY:
        return take_endure(&o->endure, id, argument);
    case TL_OPTION_QUIET:
        o->quiet = true;
        return true;
    case TL_OPTION_HELP:
    case TL_OPTION_VERSION:
    case TL_NOPTION:
        break;
    }
    return true;
}

/* How many words stand where, for the message. */
static int wrong_words(const struct tl_command *command, size_t given)
{
    if (command->most_words == 0)
        tl_complain("%s takes no arguments besides options; %zu given", command->name, given);
    else
        tl_complain("%s takes %s; %zu given; towerloop %s --help tells more", command->name,
                    command->words, given, command->name);
    return TL_EXIT_USAGE;
}

int tl_options_read(int argc, char **argv, const struct tl_command *command, struct tl_options *o,
                    bool *finished)
{
    enum { FIRST_ID = 256 }; /* above every letter */
    struct option long_options[TL_NOPTION + 1] = {{NULL, 0, NULL, 0}};
    char short_options[2 + 2 * TL_NOPTION] = ":";
    size_t options = 0, letters = 1;

    for (int id = 0; id < TL_NOPTION; id++) {
        if (!takes(command, id))
            continue;
        long_options[options++] = (struct option){
            option_table[id].name, option_table[id].argument ? required_argument : no_argument,
            NULL, FIRST_ID + id};
        if (option_table[id].letter) {
            short_options[letters++] = (char)option_table[id].letter;
            if (option_table[id].argument)
                short_options[letters++] = ':';
        }
    }
    *finished = true;
    *o = (struct tl_options){.charts = true,
                             .margin = 0.1,
                             .hold_back = 0.2,
                             .units = TL_METRIC,
                             .runs = 1000,
                             .seed = 1,
                             .shard = 1,
                             .shards = 1,
                             .fail_on = TL_WITHIN};
    tl_endure_question_default(&o->endure);
    o->set = calloc((size_t)argc, sizeof *o->set);
    o->word = calloc((size_t)argc, sizeof *o->word);
    o->vary = calloc((size_t)argc, sizeof *o->vary);
    o->fit = calloc((size_t)argc, sizeof *o->fit);
    if (!o->set || !o->word || !o->vary || !o->fit) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }

    int letter;
    optind = 1;
    opterr = 0; /* the messages are ours */
    while ((letter = getopt_long(argc, argv, short_options, long_options, NULL)) != -1) {
        if (letter == ':') {
            tl_complain("%s needs an argument; towerloop %s --help lists the options",
                        argv[optind - 1], command->name);
            return TL_EXIT_USAGE;
        }
        if (letter == '?') {
            tl_complain("%s is no option of %s or is used wrongly; towerloop %s --help lists them",
                        argv[optind - 1], command->name, command->name);
            return TL_EXIT_USAGE;
        }
        int id = letter - FIRST_ID;
        for (int i = 0; i < TL_NOPTION && letter < FIRST_ID; i++)
            if (option_table[i].letter == letter)
                id = i;
        if (id == TL_OPTION_HELP) {
            tl_options_help(command);
            return TL_EXIT_DONE;
        }
        if (id == TL_OPTION_VERSION) {
            tl_print_version();
            return TL_EXIT_DONE;
        }
        if (!take(o, (enum tl_option_id)id, optarg))
            return TL_EXIT_USAGE;
    }
    for (int i = optind; i < argc; i++)
        o->word[o->words++] = argv[i];
    if (o->words < command->least_words || o->words > command->most_words)
        return wrong_words(command, o->words);
    if (o->drawn && o->uncertain == 0 && takes(command, TL_OPTION_UNCERTAIN)) {
        tl_complain(
            "--seed and --inputs are about uncertain runs; expected --uncertain N with them");
        return TL_EXIT_USAGE;
    }
    *finished = false;
    return TL_EXIT_DONE;
}

void tl_options_free(struct tl_options *o)
{
    free(o->set);
    free(o->vary);
    free(o->fit);
    free(o->word);
    o->set = o->vary = o->word = NULL;
}
