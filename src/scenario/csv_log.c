/* Reading a log: every fault becomes a message with file, line and column, and reading goes on. */
#include "csv_log.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "csv_field.h"
#include "date.h"
#include "posix.h"
#include "towerloop/status.h"

#define MOST_BYTES  (64u * 1024u * 1024u)
#define MOST_FAULTS 20 /* a file of the wrong kind has one in each line */
#define MOST_FIELD  (TL_NAME_SIZE + 32)
#define MISSING     (-1)

struct csv {
    struct tl_reader *r;
    struct tl_node *node; /* where the scenario names the file */
    const struct tl_csv_layout *layout;
    struct tl_csv_log *log;
    unsigned line;
    unsigned faults;
    double last_d; /* the latest time so far, of lines with a fault elsewhere as well */
    int time_at;   /* index of the column of times */
    int time_d_at; /* that of time_d where time_iso is read; MISSING: there is none */
    int columns;   /* of the first line */
    bool iso;
    int at[TL_CSV_COLUMNS]; /* index of each column, MISSING: there is none */
};

/* A field of a line. */
struct field {
    char text[MOST_FIELD];
    size_t column; /* where it begins, from 1 */
};

static void fault(struct csv *c, size_t column, const char *what, const char *expected)
{
    tl_diag_add(c->r->diag, TL_DIAG_ERROR, c->log->path, c->line, (unsigned)column, NULL, what,
                expected);
    tl_mark_faulty(c->node);
    c->faults++;
}

static bool is_quoted_well(struct csv *c, const char *line)
{
    const char *what = NULL;
    const size_t column = tl_csv_quote_fault(line, &what);
    if (column > 0)
        fault(c, column, what, TL_CSV_QUOTES_EXPECTED);
    return column == 0;
}

/* Names of columns that are not read, the first few of them. */
struct unread {
    struct tl_text names;
    size_t n;
};

#define NAMED_UNREAD 5

static void note_unread(struct unread *u, const char *field)
{
    if (u->n++ < NAMED_UNREAD)
        tl_text_addf(&u->names, "%s%s", u->n > 1 ? ", " : "", field);
}

static void warn_of_unread(struct csv *c, const struct unread *u)
{
    struct tl_text known = {0};
    char more[40] = "";
    if (u->n == 0)
        return;
    if (u->n > NAMED_UNREAD)
        tl_format(more, sizeof more, " and %zu more", u->n - NAMED_UNREAD);
    for (size_t k = 0; k < c->layout->columns; k++)
        tl_text_addf(&known, "%s%s",
                     k == 0                       ? ""
                     : k + 1 < c->layout->columns ? ", "
                                                  : " and ",
                     c->layout->column[k].name);
    tl_warn(c->r, c->node, "the column%s %s%s of the file %s not read; its columns are called %s",
            u->n > 1 ? "s" : "", tl_text_string(&u->names), more, u->n > 1 ? "are" : "is",
            tl_text_string(&known));
    c->r->out_of_memory = c->r->out_of_memory || u->names.failed || known.failed;
    tl_text_free(&known);
}

static void read_header(struct csv *c, const char *line)
{
    char field[MOST_FIELD];
    char what[128];
    char expected[128];
    int time_d = MISSING;
    int time_iso = MISSING;
    struct unread unread = {.n = 0};
    for (size_t k = 0; k < TL_CSV_COLUMNS; k++)
        c->at[k] = MISSING;
    if (!is_quoted_well(c, line))
        return;
    for (int index = 0; line; index++) {
        line = tl_csv_field(line, field, sizeof field);
        c->columns = index + 1;
        if (strcmp(field, "time_iso") == 0)
            time_iso = index;
        if (strcmp(field, "time_d") == 0)
            time_d = index;
        bool known = index == time_iso || index == time_d;
        for (size_t k = 0; k < c->layout->columns; k++)
            if (strcmp(field, c->layout->column[k].name) == 0) {
                c->at[k] = index;
                known = true;
            }
        if (!known && c->layout->warns && *field)
            note_unread(&unread, field);
    }
    warn_of_unread(c, &unread);
    tl_text_free(&unread.names);
    c->iso = time_iso != MISSING;
    c->time_at = c->iso ? time_iso : time_d;
    c->time_d_at = c->iso ? time_d : MISSING;
    if (c->time_at == MISSING)
        fault(c, 1, "there is no column of times", "time_iso or time_d in the first line");
    for (size_t k = 0; k < c->layout->columns; k++) {
        if (c->at[k] != MISSING || c->layout->column[k].optional)
            continue;
        tl_format(what, sizeof what, "there is no column of %s", c->layout->column[k].many);
        tl_format(expected, sizeof expected, "%s in the first line", c->layout->column[k].name);
        fault(c, 1, what, expected);
    }
}

static bool plain_number(const char *text, double *out)
{
    return text[0] && tl_parse_number(text, out) == strlen(text) && isfinite(*out);
}

static bool read_time(struct csv *c, const struct field *f, double *t)
{
    struct tl_date date;
    char what[MOST_FIELD + 64];
    if (c->iso ? !tl_date_parse(f->text, &date) : !plain_number(f->text, t)) {
        tl_format(what, sizeof what, "\"%s\" is not a time", f->text);
        fault(c, f->column, what, c->iso ? TL_DATE_EXPECTED : "days since the date of the start");
        return false;
    }
    if (c->iso)
        *t = tl_days_since(&c->r->draft->s.start, &date);
    if (*t > c->last_d || (*t == c->last_d && c->layout->same_time)) {
        c->last_d = *t;
        return true;
    }
    if (c->layout->same_time)
        fault(c, f->column, "earlier than the line before", "times that do not fall");
    else
        fault(c, f->column, "not later than the line before", "times that rise");
    return false;
}

/* What time_d says of a line whose time_iso was read. */
static bool agrees(struct csv *c, const struct field *f, double iso_d)
{
    char what[MOST_FIELD + 64];
    double t = NAN;
    if (f->text[0] == '\0' || (plain_number(f->text, &t) && tl_csv_same_time(iso_d, t)))
        return true;
    tl_format(what, sizeof what, "time_d is \"%s\", but by time_iso it is day %.5g", f->text,
              iso_d);
    fault(c, f->column, what, TL_CSV_SAME_TIME_EXPECTED);
    return false;
}

static bool read_value(struct csv *c, size_t k, const struct field *f)
{
    const struct tl_csv_column *column = &c->layout->column[k];
    struct tl_csv_log *log = c->log;
    double *value = &log->value[log->rows * log->columns + k];
    char what[MOST_FIELD + 128];
    *value = NAN;
    if (column->optional && f->text[0] == '\0')
        return true;
    if (column->kind == TL_CSV_NAME) {
        const size_t length = strlen(f->text);
        if (log->name && length > 0 && length < TL_NAME_SIZE && tl_is_plain_text(f->text)) {
            memcpy(log->name[log->rows], f->text, length + 1);
            return true;
        }
    } else if (plain_number(f->text, value) && *value >= column->min && *value <= column->max &&
               (column->kind != TL_CSV_WHOLE || *value == floor(*value))) {
        return true;
    }
    tl_format(what, sizeof what, "\"%s\" is not %s", f->text, column->one);
    fault(c, f->column, what, column->expected);
    return false;
}

/* One line, put behind the last row. */
static void read_line(struct csv *c, const char *line)
{
    struct tl_csv_log *log = c->log;
    const char *s = line;
    struct field f, time_d = {.column = 0};
    bool good = true, timed = false;
    bool many = false;
    int index = 0;
    if (!is_quoted_well(c, line))
        return;
    if (log->name)
        log->name[log->rows][0] = '\0';
    for (size_t k = 0; k < log->columns; k++)
        log->value[log->rows * log->columns + k] = NAN;
    for (; s; index++) {
        f.column = (size_t)(s - line) + 1;
        s = tl_csv_field(s, f.text, sizeof f.text);
        if (index >= c->columns && f.text[0] && !many) {
            fault(c, f.column, "the line has more columns than the first line",
                  "a decimal point, and no comma inside a number");
            many = true;
        }
        if (index == c->time_at)
            timed = read_time(c, &f, &log->time_d[log->rows]);
        if (index == c->time_d_at)
            time_d = f;
        for (size_t k = 0; k < log->columns; k++)
            if (index == c->at[k])
                good = read_value(c, k, &f) && good;
    }
    good = timed && good;
    if (timed && time_d.column > 0)
        good = agrees(c, &time_d, log->time_d[log->rows]) && good;
    bool few = index <= c->time_at;
    for (size_t k = 0; k < log->columns; k++)
        few |= index <= c->at[k] && !c->layout->column[k].optional;
    if (few)
        fault(c, 1, "the line has too few columns", "as many as the first line");
    else if (good && !many)
        log->line[log->rows++] = c->line;
}

static void read_lines(struct csv *c, const char *text)
{
    char what[64];
    char expected[64];
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
        text += 3;
    for (c->line = 1; *text && c->faults < MOST_FAULTS; c->line++) {
        const size_t length = strcspn(text, "\n");
        if (c->line == 1) {
            read_header(c, text);
            if (c->faults > 0)
                return;
        } else if (strspn(text, " \t\r") < length) {
            if (c->log->rows == c->layout->most_rows) {
                tl_format(expected, sizeof expected, "at most %zu lines", c->layout->most_rows);
                fault(c, 1, "too many lines", expected);
                return;
            }
            read_line(c, text);
        }
        text += length + (text[length] == '\n');
    }
    c->line = 0;
    if (c->log->rows == 0 && c->faults == 0) {
        tl_format(what, sizeof what, "there are no %s", c->layout->lines);
        tl_format(expected, sizeof expected, "lines of times and %s", c->layout->column[0].many);
        fault(c, 0, what, expected);
    }
}

/* Room for every line of the text. */
static bool reserve(const char *text, const struct tl_csv_layout *layout, struct tl_csv_log *log)
{
    size_t rows = 1;
    bool named = false;
    for (const char *s = text; (s = strchr(s, '\n')); s++)
        rows++;
    rows = rows < layout->most_rows ? rows : layout->most_rows;
    rows++; /* a line with a fault in it is overwritten by the next */
    for (size_t k = 0; k < layout->columns; k++)
        named |= layout->column[k].kind == TL_CSV_NAME;
    log->columns = layout->columns;
    log->time_d = malloc(rows * sizeof *log->time_d);
    log->value = malloc((rows * layout->columns + 1) * sizeof *log->value);
    log->line = malloc(rows * sizeof *log->line);
    if (named)
        log->name = malloc(rows * sizeof *log->name);
    return log->time_d && log->value && log->line && (log->name || !named);
}

/* --- where the file lies ------------------------------------------------------------------------- */

/* A scenario may come from anybody, a command line does not. */
static bool is_from_command_line(const struct tl_reader *r, const struct tl_node *n)
{
    return n && n->file != r->file && strcmp(n->file, TL_FROM_VARIANT) != 0;
}

/* Whether something on the way from the folder to the file is a link, or no file and no folder. */
static bool is_linked(char *path, size_t folder_length)
{
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    for (char *end = path + folder_length; end && kind != TL_POSIX_OTHER;) {
        end = strchr(end, '/');
        if (end)
            *end = '\0';
        (void)tl_posix_look(path, &kind); /* what cannot be looked at cannot be opened */
        if (end)
            *end++ = '/';
    }
    return kind == TL_POSIX_OTHER;
}

/* Whether it lies in the scenario's folder or below, links followed. The system is asked only where it
 * matters: it cannot tell below a folder that may not be looked into. */
static bool is_below(struct tl_reader *r, const char *file, char *path)
{
    bool up = false;
    for (const char *s = file; s; s = strchr(s, '/')) {
        s += *s == '/';
        up = up || (strncmp(s, "..", 2) == 0 && (s[2] == '/' || s[2] == '\0'));
    }
    if (!up && !is_linked(path, strlen(r->folder)))
        return true;
    errno = 0;
    const bool below = tl_posix_overlap(path, *r->folder ? r->folder : ".");
    r->out_of_memory = r->out_of_memory || errno == ENOMEM;
    return below;
}

/* Reports where it may not lie. */
static bool may_be_read(struct tl_reader *r, struct tl_node *n, const char *file, char *path)
{
    if (file[0] == '/' ? is_from_command_line(r, n) : is_below(r, file, path))
        return true;
    if (!r->out_of_memory)
        tl_fault(r, n,
                 "a file in the scenario's folder or below it; another one only by its whole path "
                 "behind --set",
                 "\"%s\" lies outside of the scenario's folder", file);
    return false;
}

bool tl_csv_log_read(struct tl_reader *r, struct tl_node *n, const char *file,
                     const struct tl_csv_layout *layout, struct tl_csv_log *out)
{
    struct csv c = {.r = r, .node = n, .layout = layout, .log = out, .last_d = -INFINITY};
    struct tl_text path = {0};
    char *text = NULL;
    size_t length = 0;
    char reason[128];
    bool good = false;
    *out = (struct tl_csv_log){0};

    if (!r->folder) {
        tl_fault(r, n, "a file that lies beside the scenario", "files cannot be named here");
        return false;
    }
    tl_text_addf(&path, "%s%s", file[0] == '/' ? "" : r->folder, file);
    out->path = path.data;
    if (!path.failed && !may_be_read(r, n, file, path.data))
        goto done;
    int status =
        path.failed ? TL_E_MEMORY : tl_read_plain_file(path.data, MOST_BYTES, &text, &length);
    if (status == TL_E_MEMORY)
        r->out_of_memory = true;
    else if (status == TL_E_IO)
        tl_fault(r, n, "a CSV file, its path counted from the scenario's folder", "\"%s\": %s",
                 path.data, strerror_r(errno, reason, sizeof reason));
    else if (status == TL_E_REFUSED)
        tl_fault(r, n, "a CSV file, its path counted from the scenario's folder",
                 "\"%s\" is a folder, a pipe or a device", path.data);
    else if (status == TL_E_INPUT)
        tl_fault(r, n, "a smaller file", "\"%s\" is larger than 64 MiB", path.data);
    if (status)
        goto done;

    if (tl_utf8_fault(text, length) < length || strlen(text) < length) {
        fault(&c, 0, "not UTF-8 text", "a CSV file");
    } else if (!reserve(text, layout, out)) {
        r->out_of_memory = true;
    } else {
        read_lines(&c, text);
        good = c.faults == 0;
    }
done:
    free(text);
    if (!good)
        tl_csv_log_free(out);
    return good;
}

void tl_csv_log_fault(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log,
                      size_t row, const char *expected, const char *format, ...)
{
    struct tl_text what = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&what, format, args);
    va_end(args);
    tl_diag_add(r->diag, TL_DIAG_ERROR, log->path, log->line[row], 1, NULL, tl_text_string(&what),
                expected);
    tl_mark_faulty(n);
    tl_text_free(&what);
}

void tl_csv_log_warn(struct tl_reader *r, const struct tl_csv_log *log, size_t row,
                     const char *what)
{
    tl_diag_add(r->diag, TL_DIAG_WARNING, log->path, log->line[row], 1, NULL, what, NULL);
}

void tl_csv_log_free(struct tl_csv_log *log)
{
    free(log->path);
    free(log->time_d);
    free(log->value);
    free(log->name);
    free(log->line);
    *log = (struct tl_csv_log){0};
}
