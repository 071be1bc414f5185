/* The reference of commands and keys as Markdown, from the program's own tables.
 *
 * usage: make_reference [FILE]
 *
 * Prints it; with FILE it compares instead, and exits with 1 if FILE says anything else. With
 * TOWERLOOP_WRITE_REFERENCE=1 in the environment it writes FILE anew. */
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "cli.h"
#include "text.h"
#include "towerloop/keys.h"
#include "towerloop/measured.h"
#include "towerloop/status.h"
#include "towerloop/upkeep.h"

#define SHOWN_SIZE 256
#define MOST_BYTES (4u << 20)

volatile int tl_interrupted; /* the commands watch it; nobody interrupts here */
volatile int tl_ends_at_once;
bool tl_answer_is_lost; /* and they keep note here of what memory was short for */

static const struct {
    const char *name;
    int letter;
    const char *argument, *help;
} options[TL_NOPTION] = {
#define OPTION(id, name, letter, argument, help) {name, letter, argument, help},
    TL_OPTION_LIST(OPTION)
#undef OPTION
};

static const struct {
    int code;
    const char *meaning;
} exits[] = {
#define EXIT(id, code, meaning) {code, meaning},
    TL_EXIT_LIST(EXIT)
#undef EXIT
};

/* A cell of a table: a bar would end it. */
static void add_cell(struct tl_text *t, const char *s)
{
    tl_text_add(t, " ");
    for (; *s; s++)
        tl_text_addf(t, *s == '|' ? "\\%c" : "%c", *s);
    tl_text_add(t, " |");
}

/* --- commands --------------------------------------------------------------------------------- */

static void add_command(struct tl_text *t, const struct tl_command *c)
{
    const unsigned long takes = c->takes | TL_TAKES(HELP) | TL_TAKES(VERSION);
    tl_text_addf(t, "\n### towerloop %s\n\n`towerloop %s [OPTION]...%s%s`: %s.\n\n", c->name,
                 c->name, *c->words ? " " : "", c->words, c->help);
    tl_text_add(t, "| option | meaning |\n|---|---|\n");
    for (int i = 0; i < TL_NOPTION; i++) {
        if (!(takes >> i & 1))
            continue;
        tl_text_add(t, "| `");
        if (options[i].letter)
            tl_text_addf(t, "-%c`, `", options[i].letter);
        tl_text_addf(t, "--%s%s%s` |", options[i].name, options[i].argument ? " " : "",
                     options[i].argument ? options[i].argument : "");
        add_cell(t, options[i].help);
        tl_text_add(t, "\n");
    }
    if (c->more)
        tl_text_addf(t, "\n```text\n%s```\n", c->more);
}

static void add_commands(struct tl_text *t)
{
    tl_text_add(t, "\n## Commands\n");
    for (const struct tl_command *const *c = tl_commands; *c; c++)
        add_command(t, *c);
    tl_text_add(t, "\n## Exit codes\n\n| code | meaning |\n|---|---|\n");
    for (size_t i = 0; i < sizeof exits / sizeof *exits; i++) {
        tl_text_addf(t, "| %d |", exits[i].code);
        add_cell(t, exits[i].meaning);
        tl_text_add(t, "\n");
    }
}

/* --- keys ------------------------------------------------------------------------------------- */

/* The first part of a path: "fish" of "fish[].count". */
static size_t group_length(const char *path)
{
    return strcspn(path, ".[");
}

static bool same_group(const char *a, const char *b)
{
    return group_length(a) == group_length(b) && strncmp(a, b, group_length(a)) == 0;
}

static void add_units(struct tl_text *t, size_t i, size_t forms)
{
    struct tl_text units = {0};
    for (size_t f = 0; f < forms; f++) {
        struct tl_form form;
        tl_key_list_form(i, f, &form);
        if (form.kind == TL_FORM_NUMBER && form.dim != TL_DIM_NUMBER)
            tl_text_addf(&units, "%s%s", units.length > 0 ? "; " : "", tl_dim_units(form.dim));
    }
    add_cell(t, tl_text_string(&units));
    tl_text_free(&units);
}

static void add_key(struct tl_text *t, size_t i, const struct tl_key_info *key)
{
    char shown[SHOWN_SIZE];
    struct tl_text meaning = {0};
    tl_text_addf(t, "| `%s` |", key->path);
    tl_key_shown_default(i, TL_METRIC, shown, sizeof shown);
    add_cell(t, shown);
    tl_key_shown_values(i, TL_METRIC, shown, sizeof shown);
    add_cell(t, shown);
    add_units(t, i, key->forms);
    tl_text_add(&meaning, key->help);
    if (key->status)
        tl_text_addf(&meaning, " [%s]", key->status);
    add_cell(t, tl_text_string(&meaning));
    tl_text_add(t, "\n");
    tl_text_free(&meaning);
}

static void add_keys(struct tl_text *t)
{
    struct tl_key_info before = {.path = ""};
    bool lone_before = false; /* keys without a section stand under one heading */
    tl_text_add(
        t, "\n## Keys of a scenario\n\n"
           "*Without it* is what holds when the key is left out; *needed* keys cannot be. The "
           "keys of an\nitem of a list have `[]` in their name. Every number with a dimension "
           "carries a unit; ranges are\nshown in one of them. How well the default of a "
           "parameter is known stands in brackets:\npublished, memory (a publication is named, "
           "its value was not looked up again), judgement (chosen so\nthat published behaviour "
           "comes out), common practice (no source).\n");
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key, next = {.path = ""};
        tl_key_list_at(i, &key);
        if (i + 1 < tl_key_list_size())
            tl_key_list_at(i + 1, &next);
        const bool lone = key.section == 0 && !same_group(key.path, next.path);
        if (lone ? !lone_before : !same_group(before.path, key.path)) {
            if (lone)
                tl_text_add(t, "\n### The run\n\n");
            else
                tl_text_addf(t, "\n### %.*s\n\n", (int)group_length(key.path), key.path);
            tl_text_add(t, "| key | without it | values | units | meaning |\n"
                           "|---|---|---|---|---|\n");
        }
        add_key(t, i, &key);
        lone_before = lone;
        before = key;
    }
}

/* --- files ------------------------------------------------------------------------------------ */

static const char calendar[] =
    "\n## The calendar of a run\n\n"
    "`calendar.csv` has a line a job, by date, metric.\n\n"
    "| column | meaning |\n|---|---|\n"
    "| `time_iso` | a date, or date and time where the scenario names an hour |\n"
    "| `time_d` | days since the date of the start |\n"
    "| `job` | %s |\n"
    "| `from` | `scenario`: it is planned there; `run`: the run shows it to be due; `practice`: "
    "common practice |\n"
    "| `amount`, `unit` | mass, volume or count of fish; empty where there is none |\n"
    "| `what`, `why` | for people |\n\n"
    "Due by the run, all judgement: the chamber when %.0f %% of it is sludge, a tray when %.0f %% "
    "of\nits voids are full, hosing when algae cover %.0f %% of the top tray, the pump when "
    "%.0f %% of\nits clean flow is left, baking soda (%.0f mg/L as CaCO3 of alkalinity at a "
    "time) on the eve of\nthe day that the alkalinity passes its caution level, where no plan "
    "holds it. Switching pump,\naerator or heater is no job: in a scenario it often stands for a "
    "failure. `calendar.ics` holds the\nsame jobs as iCalendar (RFC 5545): of all day, or of "
    "15 minutes in local time without a zone.\n";

static const char log_columns[] =
    "\n## The log of measurements\n\n"
    "What kits and meters showed, a CSV with a line a reading; `towerloop log FILE --csv` prints a "
    "blank\none. The first line names the columns, in any order; lines may stand in any order.\n\n"
    "| column | meaning |\n|---|---|\n"
    "| `time_iso` | `2027-05-03` or `2027-05-03T08:00`, local standard time; or a column `time_d`: "
    "days since the date of the scenario's start |\n"
    "| `place` | tank (also when blank), chamber, tower out |\n"
    "| `quantity` | see below; ammonia stands for total ammonia |\n"
    "| `value` | a number, or `<0.25` below the lowest step, `>5` above the last, `0.25-0.5` "
    "between two; blank: not measured |\n"
    "| `unit` | nitrogen and alkalinity have to say as what |\n"
    "| `error` | may be left out: standard error in the same unit, or as `10 %` of the value |\n"
    "| `method` | may be left out: the kit or the meter |\n"
    "| `note` | may be left out: not read |\n\n"
    "| quantity | units | from | to |\n|---|---|---|---|\n";

static void add_calendar(struct tl_text *t)
{
    struct tl_text jobs = {0};
    for (int k = 0; k < TL_NJOB; k++)
        tl_text_addf(&jobs, "%s%s", k ? ", " : "", tl_job_word((enum tl_job_kind)k));
    tl_text_addf(t, calendar, tl_text_string(&jobs), 100 * TL_DUE_CHAMBER_FILLED,
                 100 * TL_DUE_TRAY_FILLED, 100 * TL_DUE_TOP_COVER, 100 * TL_DUE_PUMP_KEPT,
                 50.04 * TL_DUE_SODA_EQ_M3);
    tl_text_free(&jobs);
}

static void add_log(struct tl_text *t)
{
    tl_text_add(t, log_columns);
    for (int q = 0; q < TL_NMEASURED; q++) {
        const struct tl_measured_row *row = tl_measured_row((enum tl_measured_quantity)q);
        const char *unit = tl_display_unit(row->dim, TL_METRIC);
        const char *blank = *unit ? " " : "";
        tl_text_addf(t, "| %s | %s | %.6g%s%s | %.6g%s%s |\n", row->word,
                     row->dim == TL_DIM_NUMBER ? "none, or pH" : tl_dim_units(row->dim),
                     tl_display_value(row->dim, TL_METRIC, row->least), blank, unit,
                     tl_display_value(row->dim, TL_METRIC, row->most), blank, unit);
    }
}

/* --- what programs read ----------------------------------------------------------------------- */

static const char programs[] =
    "\n## For other programs\n\n"
    "`towerloop keys --json` prints `{format, keys[]}`. `format` is 1; members are only ever "
    "added.\n\n"
    "| member of a key | meaning |\n|---|---|\n"
    "| `path` | its name from the top of the file, as `--set` takes it |\n"
    "| `section`, `name` | the path in two parts; `section` is empty at the top |\n"
    "| `type`, `meaning` | for people |\n"
    "| `required` | true: wherever its section stands, it has to |\n"
    "| `default` | what holds without it, as a scenario says it, in base units; null: nothing, or "
    "see "
    "`otherwise` |\n"
    "| `otherwise` | what holds without it where that is no fixed value, for people; or null |\n"
    "| `status` | of a parameter, how well its default is known; else null |\n"
    "| `forms` | the ways to write a value, see below |\n"
    "| `shown` | `{without, values}`: default and values for people, in the units of `--units` "
    "|\n\n"
    "A form is an object with a `kind`: `words` (one of `words`), `number` (from `min` to `max` in "
    "the "
    "base\nunit `unit`; written in one of `units`; `whole` without a fraction; behind the word "
    "`lead` "
    "where that\nis not null), `text` (like the regular expression `pattern`, or any), `keys` "
    "(those "
    "below `below`),\n`list` (of items with the keys below `below`, or of texts like `pattern`), "
    "`table` "
    "(one quantity to\nanother, the two keys below `below`).\n\n"
    "`towerloop check --json FILE` prints an object, also for a file with mistakes (exit code "
    "2).\n\n"
    "| member | meaning |\n|---|---|\n"
    "| `format` | 1; members are only ever added |\n"
    "| `file` | as it was named |\n"
    "| `sound` | true: it can be run |\n"
    "| `messages[]` | `{level, file, line, column, key, what, expected, text}`: `level` is error "
    "or "
    "warning; `line` 0 means no place; `text` is the whole message |\n"
    "| `scenario` | the complete scenario with its keys as in the file: a number with a unit is "
    "`{value, "
    "unit}` in base units, a plain number a number, all else text; null when not sound |\n"
    "| `derived` | `{turnover_1_h, media_volume_m3, media_area_m2, hydraulic_load_m_h, fish, "
    "fish_kg, "
    "fish_kg_m3, feed_g_d, water_lowest_degC, water_highest_degC, "
    "evaporation_L_d}`, at the start, the last three over the run and null where the temperature "
    "is given; `feed_g_d` is null where feeding follows the "
    "temperature; null "
    "when not sound |\n"
    "| `defaulted[]` | paths of the keys that the file leaves to the program, but for limits and "
    "parameters; null when not sound |\n\n"
    "`towerloop keys --schema` prints a JSON Schema (draft 2020-12) of the scenario file.\n";

/* ---------------------------------------------------------------------------------------------- */

static int write_anew(const char *path, const struct tl_text *text)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status == TL_OK) {
        fwrite(text->data, 1, text->length, file.f);
        status = tl_atomic_commit(&file);
    }
    if (status != TL_OK)
        fprintf(stderr, "%s: %s\n", path, strerror(errno));
    return status == TL_OK ? EXIT_SUCCESS : EXIT_FAILURE;
}

static int compare(const char *path, const struct tl_text *text)
{
    char *there = NULL;
    size_t length = 0, line = 1;
    const int status = tl_read_file(path, MOST_BYTES, &there, &length);
    const bool same =
        status == TL_OK && length == text->length && memcmp(there, text->data, length) == 0;
    if (!same) {
        for (size_t i = 0; status == TL_OK && i < length && there[i] == text->data[i]; i++)
            line += there[i] == '\n';
        fprintf(stderr,
                "%s:%zu: not what the tables of the program say; write it anew with\n"
                "TOWERLOOP_WRITE_REFERENCE=1 meson test -C BUILD reference\n",
                path, line);
    }
    free(there);
    return same ? EXIT_SUCCESS : EXIT_FAILURE;
}

int main(int argc, char **argv)
{
    struct tl_text t = {0};
    const char *write = getenv("TOWERLOOP_WRITE_REFERENCE");
    tl_text_add(&t,
                "# Reference\n\nEvery command and every key of a scenario. This page is written by "
                "`tests/doc/make_reference.c` from\nthe tables the program itself works by; change "
                "those, then write it anew.\n");
    add_commands(&t);
    add_keys(&t);
    add_calendar(&t);
    add_log(&t);
    tl_text_add(&t, programs);
    int code = EXIT_FAILURE;
    if (t.failed)
        fprintf(stderr, "out of memory\n");
    else if (argc < 2)
        code = fputs(t.data, stdout) >= 0 ? EXIT_SUCCESS : EXIT_FAILURE;
    else if (write && strcmp(write, "1") == 0)
        code = write_anew(argv[1], &t);
    else
        code = compare(argv[1], &t);
    tl_text_free(&t);
    return code;
}
