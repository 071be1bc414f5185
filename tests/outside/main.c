/* Runs every check against values from outside.
 *
 *     outside DATA                      print all checks; status 1 if one fails
 *     outside DATA --markdown           print the table of tests/OUTSIDE.md
 *     outside DATA --compare FILE       does FILE hold that table?
 *     outside DATA --perturb            can every check fail? Move what it tests by twice its
 *                                       tolerance, up and down, and demand that it does
 *
 * A check agrees, fails, or misses as known: where the model is known to differ from a publication,
 * the row says what the model gives, and the check fails when that changes or comes to agree. */
#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "data.h"
#include "moved.h"
#include "outside.h"

static const struct outside_group *const groups[] = {
    &outside_chemistry, &outside_units, &outside_process, &outside_film, &outside_tower,
    &outside_startup,   &outside_fish,  &outside_heat,    &outside_pipe, &outside_media,
};
#define GROUPS (sizeof groups / sizeof groups[0])

#define FILES                   64
#define PUBLICATIONS            128
#define COUNTED_PER_PUBLICATION 25

struct check {
    const struct outside_group *group;
    const struct outside_series *series;
    char what[160];
    double input[OUTSIDE_INPUTS];
    const char *printed; /* the expected value as the file has it */
    double expected;
    double tolerance;
    const char *basis;
    const char *status;
    const char *source;
    double known; /* what the model gives where it is known to miss, else NAN */
    double drift; /* how far that may change */
    double value;
};

struct publication {
    const char *name;
    size_t published; /* checks of status `published` */
};

struct suite {
    struct data_file file[FILES];
    const char *file_name[FILES];
    size_t files;
    struct check *check;
    size_t checks;
    struct publication publication[PUBLICATIONS];
    size_t publications;
};

/* --- collecting ----------------------------------------------------------------------------- */

/* A whole cell as a number; NAN when it is empty, `*bad` set when it is neither. */
static double number(const char *cell, bool *bad)
{
    char *end;
    double x;

    if (cell[0] == '\0')
        return NAN;
    x = strtod(cell, &end);
    if (*end != '\0' || !isfinite(x))
        *bad = true;
    return x;
}

static struct data_file *open_file(struct suite *s, const char *folder, const char *name)
{
    for (size_t i = 0; i < s->files; i++) {
        if (strcmp(s->file_name[i], name) == 0)
            return &s->file[i];
    }
    if (s->files == FILES || data_read(folder, name, &s->file[s->files]) != 0)
        return NULL;
    s->file_name[s->files] = name;
    return &s->file[s->files++];
}

/* The cell of an optional column, "" where there is none. */
static const char *optional(const struct data_file *d, size_t row, const char *name)
{
    const int column = data_column(d, name);

    return column < 0 ? "" : d->cell[row][column];
}

static void append(char *text, size_t size, const char *more)
{
    const size_t used = strlen(text);

    snprintf(text + used, size - used, "%s", more);
}

/* Fills a check from a row; -1 with a message when the row is not in order. */
static int read_row(const struct outside_series *sr, const struct data_file *d, size_t row,
                    struct check *c)
{
    static const char *const needed[] = {"value", "tolerance", "basis", "status", "source"};
    static const char *const known[] = {"published", "memory", "computed", "common practice"};
    const char *cell[5];
    bool bad = false;
    bool status_known = false;

    for (size_t i = 0; i < 5; i++) {
        const int column = data_column(d, needed[i]);

        cell[i] = column < 0 ? "" : d->cell[row][column];
        bad = bad || cell[i][0] == '\0';
    }
    c->series = sr;
    c->printed = cell[0];
    c->expected = number(cell[0], &bad);
    c->tolerance = number(cell[1], &bad);
    c->basis = cell[2];
    c->status = cell[3];
    c->source = cell[4];
    bad = bad || !(c->tolerance > 0.0);
    c->known = number(optional(d, row, "model"), &bad);
    c->drift = number(optional(d, row, "drift"), &bad);
    /* a known miss misses, and is held at least as tightly as an agreement */
    if (!isnan(c->known) || !isnan(c->drift))
        bad = bad || !(c->drift > 0.0 && c->drift <= c->tolerance) ||
              !(fabs(c->known - c->expected) > c->tolerance);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        status_known = status_known || strcmp(c->status, known[i]) == 0;
    snprintf(c->what, sizeof c->what, "%s", sr->what);
    for (size_t i = 0; i < OUTSIDE_INPUTS && sr->input[i].column != NULL; i++) {
        const struct outside_input *in = &sr->input[i];
        const int column = data_column(d, in->column);
        const char *text = column < 0 ? "" : d->cell[row][column];

        bad = bad || column < 0;
        c->input[i] = number(text, &bad);
        if (text[0] == '\0')
            continue;
        append(c->what, sizeof c->what, ", ");
        append(c->what, sizeof c->what, in->before);
        append(c->what, sizeof c->what, text);
        append(c->what, sizeof c->what, in->after);
    }
    if (bad || !status_known) {
        fprintf(stderr, "%s: row %zu is not in order\n", sr->file, row + 1);
        return -1;
    }
    return 0;
}

static int count_publication(struct suite *s, const struct check *c)
{
    size_t i = 0;

    if (strcmp(c->status, "published") != 0)
        return 0;
    while (i < s->publications && strcmp(s->publication[i].name, c->source) != 0)
        i++;
    if (i == PUBLICATIONS) {
        fprintf(stderr, "too many publications\n");
        return -1;
    }
    if (i == s->publications)
        s->publication[s->publications++] = (struct publication){c->source, 0};
    s->publication[i].published++;
    return 0;
}

/* The checks of one series, in the order of the file. */
static int collect_series(struct suite *s, const char *folder, const struct outside_group *group,
                          const struct outside_series *sr)
{
    struct data_file *d = open_file(s, folder, sr->file);
    const int quantity = d == NULL ? -1 : data_column(d, "quantity");
    const size_t before = s->checks;
    struct check *grown;

    if (d == NULL)
        return -1;
    grown = realloc(s->check, (s->checks + d->rows) * sizeof *grown);
    if (grown == NULL) {
        fprintf(stderr, "out of memory\n");
        return -1;
    }
    s->check = grown;
    for (size_t row = 0; row < d->rows; row++) {
        struct check *c = &s->check[s->checks];

        if (sr->quantity != NULL &&
            (quantity < 0 || strcmp(d->cell[row][quantity], sr->quantity) != 0))
            continue;
        memset(c, 0, sizeof *c);
        c->group = group;
        if (read_row(sr, d, row, c) != 0 || count_publication(s, c) != 0)
            return -1;
        c->value = sr->value(c->input);
        d->used[row]++;
        s->checks++;
    }
    if (s->checks == before) {
        fprintf(stderr, "%s: no row for \"%s\"\n", sr->file, sr->what);
        return -1;
    }
    return 0;
}

static int collect(struct suite *s, const char *folder)
{
    for (size_t g = 0; g < GROUPS; g++) {
        for (size_t i = 0; i < groups[g]->count; i++) {
            if (collect_series(s, folder, groups[g], &groups[g]->series[i]) != 0)
                return -1;
        }
    }
    /* a row that no series takes would look checked and is not */
    for (size_t i = 0; i < s->files; i++) {
        for (size_t row = 0; row < s->file[i].rows; row++) {
            if (s->file[i].used[row] != 1) {
                fprintf(stderr, "%s: row %zu is taken by %d series, not by one\n", s->file_name[i],
                        row + 1, s->file[i].used[row]);
                return -1;
            }
        }
    }
    return 0;
}

static void suite_free(struct suite *s)
{
    for (size_t i = 0; i < s->files; i++)
        data_free(&s->file[i]);
    free(s->check);
}

/* --- judging -------------------------------------------------------------------------------- */

enum outcome { AGREES, MISSES_AS_KNOWN, FAILS };

/* Written so that a not-a-number fails. */
static enum outcome judge(const struct check *c, double value)
{
    const bool agrees = fabs(value - c->expected) <= c->tolerance;

    if (isnan(c->known))
        return agrees ? AGREES : FAILS;
    /* to agree where a miss is on record is news, too */
    return !agrees && fabs(value - c->known) <= c->drift ? MISSES_AS_KNOWN : FAILS;
}

static bool passes(const struct check *c, double value)
{
    return judge(c, value) != FAILS;
}

static size_t of_outcome(const struct suite *s, enum outcome o)
{
    size_t n = 0;

    for (size_t i = 0; i < s->checks; i++)
        n += judge(&s->check[i], s->check[i].value) == o;
    return n;
}

static size_t failures(const struct suite *s)
{
    return of_outcome(s, FAILS);
}

static double value_moved(const struct check *c, double share)
{
    double value;

    moved_set(c->series->tested, share);
    value = c->series->value(c->input);
    moved_set(NULL, 0.0);
    return value;
}

/* Is the value `by` from where it was, or a little more? */
static bool far_enough(const struct check *c, double value, double by)
{
    const double share = (value - c->value) / by;

    return share >= 0.9995 && share <= 1.05;
}

/* Moves the tested function or parameter until the value lies `by` from where it was (secant rule).
 * Returns the value then reached, or NAN when the value does not follow it. */
static double move_function(const struct check *c, double by)
{
    double x0 = 0.0;
    double f0 = -by;
    double x1 = 1e-3;

    for (int i = 0; i < 50; i++) {
        const double value = value_moved(c, x1);
        const double f1 = value - c->value - by;
        double x2;

        if (far_enough(c, value, by))
            return value;
        if (!isfinite(f1) || !(fabs(f1 - f0) > 0.0))
            return NAN;
        /* aim a little beyond; at most a factor of two at a time, so that no sign turns */
        x2 = x1 - (f1 - 0.01 * by) * (x1 - x0) / (f1 - f0);
        x2 = fmin(fmax(x2, 0.5 * (1.0 + x1) - 1.0), 2.0 * (1.0 + x1) - 1.0);
        x0 = x1;
        f0 = f1;
        x1 = x2;
    }
    return NAN;
}

/* Every check, moved by twice its tolerance both ways, must fail, and the function it names must be
 * the one that moves it. */
static int perturb(const struct suite *s)
{
    size_t by_function = 0;
    size_t blind = 0;

    for (size_t i = 0; i < s->checks; i++) {
        const struct check *c = &s->check[i];

        for (int sign = -1; sign <= 1; sign += 2) {
            /* a hair over twice: a value at the edge of its tolerance must fall off too */
            const double by = sign * 2.002 * c->tolerance;
            const double value = c->series->tested == NULL ? c->value + by : move_function(c, by);

            if (isnan(value)) {
                printf("BLIND %s: does not follow %s\n", c->what, c->series->tested);
                blind++;
            } else if (passes(c, value)) {
                printf("BLIND %s: %g still passes\n", c->what, value);
                blind++;
            }
        }
        if (c->series->tested != NULL)
            by_function++;
    }
    printf("%zu checks moved by twice their tolerance up and down, %zu of them by moving the "
           "library function or the parameter they rest on: %zu times unnoticed\n",
           s->checks, by_function, blind);
    return blind == 0 && s->checks > 0 ? 0 : 1;
}

/* --- printing ------------------------------------------------------------------------------- */

/* Decimals that show a hundredth of the tolerance. */
static int decimals(double tolerance)
{
    const double d = ceil(-log10(tolerance)) + 1.0;

    return d < 0.0 ? 0 : (int)d;
}

/* The number rounded for print; in powers of ten when it is small, never "-0". */
static void show(char *text, size_t size, double x, double scale, int digits)
{
    if (scale < 1e-3) {
        snprintf(text, size, "%.4g", x);
        return;
    }
    snprintf(text, size, "%.*f", digits, x);
    if (strtod(text, NULL) == 0.0)
        snprintf(text, size, "%.*f", digits, 0.0);
}

struct shown {
    char value[40], deviation[40], tolerance[40];
};

static struct shown shown_check(const struct check *c)
{
    const int digits = decimals(c->tolerance);
    struct shown t;

    show(t.value, sizeof t.value, c->value, fabs(c->expected), digits);
    show(t.deviation, sizeof t.deviation, c->value - c->expected, fabs(c->expected), digits);
    snprintf(t.tolerance, sizeof t.tolerance, "%g", c->tolerance);
    return t;
}

/* Published checks that count: no more than 25 of one publication. */
static size_t counted(const struct suite *s)
{
    size_t n = 0;

    for (size_t i = 0; i < s->publications; i++) {
        const size_t of_this = s->publication[i].published;

        n += of_this < COUNTED_PER_PUBLICATION ? of_this : COUNTED_PER_PUBLICATION;
    }
    return n;
}

static size_t of_status(const struct suite *s, const char *status)
{
    size_t n = 0;

    for (size_t i = 0; i < s->checks; i++)
        n += strcmp(s->check[i].status, status) == 0;
    return n;
}

static const char *word(enum outcome o)
{
    static const char *const words[] = {"agrees", "misses, known", "FAILS"};

    return words[o];
}

static void write_counts(const struct suite *s, FILE *f)
{
    fprintf(f,
            "%zu checks: %zu agree, %zu miss as known, %zu fail.\nPublished %zu, of which %zu "
            "count, from %zu publications; computed %zu, memory %zu, common practice %zu.\n",
            s->checks, of_outcome(s, AGREES), of_outcome(s, MISSES_AS_KNOWN), failures(s),
            of_status(s, "published"), counted(s), s->publications, of_status(s, "computed"),
            of_status(s, "memory"), of_status(s, "common practice"));
}

static void print_plain(const struct suite *s)
{
    for (size_t i = 0; i < s->checks; i++) {
        const struct check *c = &s->check[i];
        const struct shown t = shown_check(c);
        const enum outcome o = judge(c, c->value);

        if (i == 0 || c->group != c[-1].group)
            printf("\n%s\n", c->group->title);
        printf("%-13s %s: %s%s%s, expected %s, off by %s, tolerance %s (%s); %s, %s\n", word(o),
               c->what, t.value, c->series->unit[0] == '\0' ? "" : " ", c->series->unit, c->printed,
               t.deviation, t.tolerance, c->basis, c->status, c->source);
        if (o == FAILS && !isnan(c->known))
            printf("%13s (a miss on record: %g, free to change by %g)\n", "", c->known, c->drift);
    }
    printf("\n");
    write_counts(s, stdout);
}

static void write_markdown(const struct suite *s, FILE *f)
{
    fprintf(f,
            "# Checks against the world outside\n\n"
            "Written by the test program `outside --markdown` and compared by a test: do not "
            "edit.\n\n"
            "Status: *published*, seen in a transcription of the named publication; *memory*, "
            "the publication is\nnamed but was not checked; *computed*, the published equation "
            "evaluated, a regression check;\n*common practice*, a rule of the trade without a "
            "source. The data files in `tests/data` name each\npublication in full. Only "
            "published checks count, at most %d of one publication.\n\n"
            "**misses, known**: the model differs from the publication by more than the "
            "tolerance; by how much is\non record, the check fails when that changes, and "
            "[the model's document](../src/model/MODEL.md) says why.\n\n",
            COUNTED_PER_PUBLICATION);
    write_counts(s, f);
    fprintf(f, "\n| group | agree | miss as known | fail |\n|---|---|---|---|\n");
    for (size_t g = 0; g < GROUPS; g++) {
        size_t n[3] = {0, 0, 0};

        for (size_t i = 0; i < s->checks; i++) {
            if (s->check[i].group == groups[g])
                n[judge(&s->check[i], s->check[i].value)]++;
        }
        fprintf(f, "| %s | %zu | %zu | %zu |\n", groups[g]->title, n[AGREES], n[MISSES_AS_KNOWN],
                n[FAILS]);
    }
    fprintf(f, "\n| publication | published checks |\n|---|---|\n");
    for (size_t i = 0; i < s->publications; i++)
        fprintf(f, "| %s | %zu |\n", s->publication[i].name, s->publication[i].published);
    for (size_t i = 0; i < s->checks; i++) {
        const struct check *c = &s->check[i];
        const struct shown t = shown_check(c);
        const enum outcome o = judge(c, c->value);

        if (i == 0 || c->group != c[-1].group)
            fprintf(f,
                    "\n## %s\n\n| check | unit | value | expected | deviation | tolerance | "
                    "outcome | because | status | source |\n"
                    "|---|---|---|---|---|---|---|---|---|---|\n",
                    c->group->title);
        fprintf(f, "| %s | %s | %s | %s | %s | %s | %s%s%s | %s | %s | %s |\n", c->what,
                c->series->unit, t.value, c->printed, t.deviation, t.tolerance,
                o == AGREES ? "" : "**", word(o), o == AGREES ? "" : "**", c->basis, c->status,
                c->source);
    }
}

/* Is the table in `path` the one we would write? */
static int compare(const struct suite *s, const char *path)
{
    char *ours = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&ours, &size);
    FILE *file = fopen(path, "rb");
    int line = 1;
    int result = 1;

    if (memory == NULL || file == NULL) {
        fprintf(stderr, "%s: %s\n", path, strerror(errno));
        goto done;
    }
    write_markdown(s, memory);
    fflush(memory);
    for (size_t i = 0; i <= size; i++) {
        const int theirs = fgetc(file);

        if (theirs != (i < size ? (unsigned char)ours[i] : EOF)) {
            printf("%s differs from line %d on; write it anew with --markdown\n", path, line);
            goto done;
        }
        line += theirs == '\n';
    }
    result = 0;
done:
    if (file != NULL)
        fclose(file);
    if (memory != NULL)
        fclose(memory);
    free(ours);
    return result;
}

int main(int argc, char **argv)
{
    static struct suite s;
    const char *mode = argc > 2 ? argv[2] : "";
    int result = 2;

    if (argc < 2) {
        fprintf(stderr, "usage: outside DATA [--markdown | --compare FILE | --perturb]\n");
    } else if (collect(&s, argv[1]) != 0) {
        result = 1;
    } else if (mode[0] == '\0') {
        print_plain(&s);
        result = failures(&s) == 0 ? 0 : 1;
    } else if (strcmp(mode, "--markdown") == 0) {
        write_markdown(&s, stdout);
        result = 0;
    } else if (strcmp(mode, "--compare") == 0 && argc > 3) {
        result = compare(&s, argv[3]);
    } else if (strcmp(mode, "--perturb") == 0) {
        result = perturb(&s);
    }
    suite_free(&s);
    return result;
}
