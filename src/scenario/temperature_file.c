/* A CSV of temperature readings: a header row, a column of times, a column of temperatures; other
 * columns are passed over. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "reader.h"
#include "towerloop/status.h"

#define MOST_BYTES  (64u * 1024u * 1024u)
#define MOST_FAULTS 20 /* a file of the wrong kind has one in each line */
#define MOST_FIELD  64

enum column { TIME_ISO, TIME_D, TEMPERATURE, COLUMNS };
static const char *const column_name[COLUMNS] = {"time_iso", "time_d", "temperature_degC"};

struct csv {
    struct tl_reader *r;
    struct tl_node *node; /* where the scenario names the file */
    const char *path;
    unsigned line;
    unsigned faults;
    int at[COLUMNS]; /* index of the column, -1: there is none */
};

static void fault(struct csv *c, size_t column, const char *what, const char *expected)
{
    tl_diag_add(c->r->diag, TL_DIAG_ERROR, c->path, c->line, (unsigned)column, NULL, what,
                expected);
    tl_mark_faulty(c->node);
    c->faults++;
}

/* Copy the field at `s` without blanks and quotation marks around it; returns what follows it, and
 * NULL behind the last. A field too long for any of ours is cut. */
static const char *next_field(const char *s, char field[MOST_FIELD])
{
    size_t length = strcspn(s, ",\n");
    const char *next = s[length] == ',' ? s + length + 1 : NULL;
    const char *end = s + length;
    while (s < end && (*s == ' ' || *s == '"' || *s == '\t'))
        s++;
    while (end > s && (end[-1] == ' ' || end[-1] == '"' || end[-1] == '\r' || end[-1] == '\t'))
        end--;
    length = (size_t)(end - s);
    if (length >= MOST_FIELD)
        length = tl_utf8_cut(s, MOST_FIELD - 1);
    memcpy(field, s, length);
    field[length] = '\0';
    return next;
}

static void read_header(struct csv *c, const char *line)
{
    char field[MOST_FIELD];
    for (size_t i = 0; i < COLUMNS; i++)
        c->at[i] = -1;
    for (int index = 0; line; index++) {
        line = next_field(line, field);
        for (size_t i = 0; i < COLUMNS; i++)
            if (strcmp(field, column_name[i]) == 0)
                c->at[i] = index;
    }
    if (c->at[TIME_ISO] < 0 && c->at[TIME_D] < 0)
        fault(c, 1, "there is no column of times", "time_iso or time_d in the first line");
    if (c->at[TEMPERATURE] < 0)
        fault(c, 1, "there is no column of temperatures", "temperature_degC in the first line");
}

static bool read_time(struct csv *c, const char *field, bool iso, size_t column, double *t)
{
    struct tl_date date;
    char what[128];
    if (iso ? tl_date_parse(field, &date)
            : tl_parse_number(field, t) == strlen(field) && field[0] && isfinite(*t)) {
        if (iso)
            *t = tl_days_since(&c->r->draft->s.start, &date);
        return true;
    }
    tl_format(what, sizeof what, "\"%s\" is not a time", field);
    fault(c, column, what, iso ? TL_DATE_EXPECTED : "days since the date of the start");
    return false;
}

/* One line of readings, added to the table. */
static void read_line(struct csv *c, const char *line, struct tl_table *t)
{
    const int time_column = c->at[TIME_ISO] >= 0 ? c->at[TIME_ISO] : c->at[TIME_D];
    const char *s = line;
    char field[MOST_FIELD];
    char what[128];
    double time = NAN;
    double degC = NAN;
    bool good = true;
    int index = 0;
    for (; s; index++) {
        size_t column = (size_t)(s - line) + 1;
        s = next_field(s, field);
        if (index == time_column) {
            good = read_time(c, field, c->at[TIME_ISO] >= 0, column, &time) && good;
            if (good && t->n > 0 && time <= t->x[t->n - 1]) {
                fault(c, column, "not later than the line before", "times that rise");
                good = false;
            }
        } else if (index == c->at[TEMPERATURE]) {
            if (tl_parse_number(field, &degC) == strlen(field) && degC >= 0 && degC <= 40)
                continue;
            tl_format(what, sizeof what, "\"%s\" is not a temperature of the water", field);
            fault(c, column, what, "a number from 0 to 40, in degC");
            good = false;
        }
    }
    if (index <= time_column || index <= c->at[TEMPERATURE]) {
        fault(c, 1, "the line has too few columns", "as many as the first line");
        good = false;
    }
    if (good) {
        t->x[t->n] = time;
        t->y[t->n++] = degC;
    }
}

static void read_lines(struct csv *c, const char *text, struct tl_table *t)
{
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
        text += 3;
    for (c->line = 1; *text && c->faults < MOST_FAULTS; c->line++) {
        size_t length = strcspn(text, "\n");
        if (c->line == 1) {
            read_header(c, text);
            if (c->faults > 0)
                return;
        } else if (strspn(text, " \t\r") < length) {
            read_line(c, text, t);
        }
        text += length + (text[length] == '\n');
    }
    c->line = 0;
    if (t->n == 0 && c->faults == 0)
        fault(c, 0, "there are no readings", "lines of times and temperatures");
}

void tl_read_temperatures(struct tl_reader *r, struct tl_node *n)
{
    struct tl_draft *d = r->draft;
    const char *name = d->s.temperature_file;
    struct csv c = {.r = r, .node = n};
    struct tl_text path = {0};
    struct tl_table t = {0};
    char *text = NULL;
    size_t length = 0;
    char reason[128];

    if (!r->folder) {
        tl_fault(r, n, "a temperature written out", "files cannot be named here");
        return;
    }
    tl_text_addf(&path, "%s%s", name[0] == '/' ? "" : r->folder, name);
    int status = path.failed ? TL_E_MEMORY : tl_read_file(path.data, MOST_BYTES, &text, &length);
    if (status == TL_E_MEMORY)
        goto no_memory;
    if (status == TL_E_IO)
        tl_fault(r, n, "a CSV file, its path counted from the scenario's folder", "\"%s\": %s",
                 path.data, strerror_r(errno, reason, sizeof reason));
    else if (status == TL_E_INPUT)
        tl_fault(r, n, "a smaller file", "\"%s\" is larger than 64 MiB", path.data);
    if (status)
        goto done;

    c.path = path.data;
    size_t bad = tl_utf8_fault(text, length);
    if (bad < length || strlen(text) < length) {
        fault(&c, 0, "not UTF-8 text", "a CSV file");
        goto done;
    }
    size_t lines = 1;
    for (const char *s = text; (s = strchr(s, '\n')); s++)
        lines++;
    t.x = malloc(lines * sizeof *t.x);
    t.y = malloc(lines * sizeof *t.y);
    if (!t.x || !t.y)
        goto no_memory;
    read_lines(&c, text, &t);
    if (c.faults == 0) {
        const struct tl_setup *s = &d->s.setup;
        if (t.x[0] > s->start_d || t.x[t.n - 1] < s->start_d + s->length_d)
            tl_warn(r, n,
                    "the readings cover day %.6g to %.6g of a run from day %.6g to %.6g; "
                    "beyond them the temperature stays at the nearest reading",
                    t.x[0], t.x[t.n - 1], s->start_d, s->start_d + s->length_d);
        d->s.setup.temperature.readings = t;
        t = (struct tl_table){0};
    }
    goto done;

no_memory:
    r->out_of_memory = true;
done:
    tl_table_free(&t);
    free(text);
    tl_text_free(&path);
}
