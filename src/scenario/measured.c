/* Reads a log of measurements, and writes lines of one. */
#include "towerloop/measured.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "csv_field.h"
#include "date.h"
#include "reader.h"
#include "text.h"
#include "towerloop/status.h"

#define MOST_BYTES  (16u * 1024u * 1024u)
#define MOST_ROWS   100000
#define MOST_FAULTS 20 /* a file of the wrong kind has one in each line */
#define FIELD_SIZE  (TL_NAME_SIZE + 32)
#define TEXT_SIZE   512
#define NUMBER_SIZE 64

/* id, the name in the first line, whether it is needed */
#define COLUMN_LIST(X)                                                                             \
    X(TIME_ISO, "time_iso", false)                                                                 \
    X(TIME_D, "time_d", false)                                                                     \
    X(PLACE, "place", false)                                                                       \
    X(QUANTITY, "quantity", true)                                                                  \
    X(VALUE, "value", true)                                                                        \
    X(UNIT, "unit", true)                                                                          \
    X(ERROR, "error", false)                                                                       \
    X(METHOD, "method", false)                                                                     \
    X(NOTE, "note", false)

enum column {
#define COLUMN_ENUM(id, name, needed) COLUMN_##id,
    COLUMN_LIST(COLUMN_ENUM)
#undef COLUMN_ENUM
        COLUMNS
};

static const struct {
    const char *name;
    bool needed;
} columns[COLUMNS] = {
#define COLUMN_ROW(id, name, needed) {name, needed},
    COLUMN_LIST(COLUMN_ROW)
#undef COLUMN_ROW
};

static const char *const places[TL_NPLACE] = {
#define PLACE_WORD(id, word) word,
    TL_PLACE_LIST(PLACE_WORD)
#undef PLACE_WORD
};

static const struct tl_measured_row quantities[TL_NMEASURED] = {
#define QUANTITY_ROW(id, word, dim, least, most, error_dim) {word, dim, error_dim, least, most},
    TL_MEASURED_LIST(QUANTITY_ROW)
#undef QUANTITY_ROW
};

const struct tl_measured_row *tl_measured_row(enum tl_measured_quantity quantity)
{
    return &quantities[quantity];
}

const char *tl_measured_place_word(enum tl_measured_place place)
{
    return places[place];
}

/* --- reading ------------------------------------------------------------------------------- */

struct field {
    char text[FIELD_SIZE];
    unsigned column; /* where it begins, from 1; 0: the line has none */
};

struct log_reader {
    const char *name;
    const struct tl_date *start;
    struct tl_diag *diag;
    struct tl_measured_log *log;
    unsigned line;
    unsigned faults;
    bool midnight;            /* it was said that a date is taken as 00:00 */
    int named;                /* columns of the first line */
    int is[COLUMNS];          /* index of each, -1: there is none */
    struct field of[COLUMNS]; /* of the line that is read */
};

static void message(struct log_reader *r, enum tl_diag_level level, unsigned column,
                    const char *expected, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

static void message(struct log_reader *r, enum tl_diag_level level, unsigned column,
                    const char *expected, const char *format, ...)
{
    struct tl_text what = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&what, format, args);
    va_end(args);
    tl_diag_add(r->diag, level, r->name, r->line, column, NULL, tl_text_string(&what), expected);
    tl_text_free(&what);
    r->faults += level == TL_DIAG_ERROR;
}

static bool is_quoted_well(struct log_reader *r, const char *line)
{
    const char *what = NULL;
    const size_t column = tl_csv_quote_fault(line, &what);
    if (column > 0)
        message(r, TL_DIAG_ERROR, (unsigned)column, TL_CSV_QUOTES_EXPECTED, "%s", what);
    return column == 0;
}

static const char *text_of(const struct log_reader *r, enum column c)
{
    return r->of[c].text;
}

/* As spreadsheets write where the comma is a decimal one. */
static bool has_other_separator(const char *line)
{
    const size_t length = strcspn(line, "\r\n");
    return strcspn(line, ",") >= length && strcspn(line, ";\t") < length;
}

static void read_header(struct log_reader *r, const char *line)
{
    char field[FIELD_SIZE];
    const char *s = line;
    for (int c = 0; c < COLUMNS; c++)
        r->is[c] = -1;
    if (has_other_separator(line)) {
        message(r, TL_DIAG_ERROR, 1, "columns separated by commas, decimal points in the numbers",
                "the columns are separated by semicolons or tabs");
        return;
    }
    if (!is_quoted_well(r, line))
        return;
    for (int index = 0; s; index++) {
        const unsigned at = (unsigned)(s - line) + 1;
        s = tl_csv_field(s, field, sizeof field);
        r->named = index + 1;
        int c = 0;
        while (c < COLUMNS && strcmp(field, columns[c].name) != 0)
            c++;
        if (c == COLUMNS && *field)
            message(r, TL_DIAG_WARNING, at, NULL, "the column %s is not read", field);
        else if (c < COLUMNS && r->is[c] >= 0)
            message(r, TL_DIAG_ERROR, at, NULL, "there is a second column %s", field);
        else if (c < COLUMNS)
            r->is[c] = index;
    }
    if (r->is[COLUMN_TIME_ISO] < 0 && r->is[COLUMN_TIME_D] < 0)
        message(r, TL_DIAG_ERROR, 1, "time_iso or time_d in the first line",
                "there is no column of times");
    for (int c = 0; c < COLUMNS; c++)
        if (columns[c].needed && r->is[c] < 0)
            message(r, TL_DIAG_ERROR, 1,
                    "time_iso,place,quantity,value,unit,error,method,note in the first line",
                    "there is no column %s", columns[c].name);
}

/* Where both columns are filled in they have to say the same. */
static bool agrees(struct log_reader *r, double iso_d)
{
    const struct field *f = &r->of[COLUMN_TIME_D];
    double days = NAN;
    if (*f->text == '\0' ||
        (tl_parse_number(f->text, &days) == strlen(f->text) && tl_csv_same_time(iso_d, days)))
        return true;
    message(r, TL_DIAG_ERROR, f->column, TL_CSV_SAME_TIME_EXPECTED,
            "time_d is \"%s\", but by time_iso it is day %.5g", f->text, iso_d);
    return false;
}

static bool read_time(struct log_reader *r, struct tl_measured *m)
{
    const bool iso = r->is[COLUMN_TIME_ISO] >= 0;
    const struct field *f = &r->of[iso ? COLUMN_TIME_ISO : COLUMN_TIME_D];
    struct tl_date date;
    double days = NAN;
    if (iso ? tl_date_parse(f->text, &date)
            : *f->text && tl_parse_number(f->text, &days) == strlen(f->text) && fabs(days) < 1e6) {
        m->t_d = iso ? tl_days_since(r->start, &date) : days;
        if (iso && !strchr(f->text, ':') && !r->midnight) {
            message(r, TL_DIAG_WARNING, f->column, NULL,
                    "\"%s\" has no time of day and is taken as 00:00, here and below", f->text);
            r->midnight = true;
        }
        return !iso || agrees(r, m->t_d);
    }
    message(r, TL_DIAG_ERROR, f->column,
            iso ? TL_DATE_EXPECTED : "days since the date of the start", "\"%s\" is not a time",
            f->text);
    return false;
}

/* The index of a word among others, or -1 after a message. */
static int read_word(struct log_reader *r, enum column c, const char *const *known, int n)
{
    const struct field *f = &r->of[c];
    for (int i = 0; i < n; i++)
        if (strcmp(f->text, known[i]) == 0)
            return i;
    const int nearest = tl_nearest(f->text, known, (size_t)n);
    if (nearest >= 0) {
        message(r, TL_DIAG_ERROR, f->column, NULL, "\"%s\" is no %s (did you mean \"%s\"?)",
                f->text, columns[c].name, known[nearest]);
        return -1;
    }
    struct tl_text all = {0};
    for (int i = 0; i < n; i++)
        tl_text_addf(&all, "%s%s", i ? ", " : "one of ", known[i]);
    message(r, TL_DIAG_ERROR, f->column, tl_text_string(&all), "\"%s\" is no %s", f->text,
            columns[c].name);
    tl_text_free(&all);
    return -1;
}

static bool read_place(struct log_reader *r, struct tl_measured *m)
{
    const int place =
        *text_of(r, COLUMN_PLACE) ? read_word(r, COLUMN_PLACE, places, TL_NPLACE) : TL_PLACE_TANK;
    m->place = (enum tl_measured_place)place;
    return place >= 0;
}

static bool read_quantity(struct log_reader *r, struct tl_measured *m)
{
    const char *known[TL_NMEASURED];
    for (int i = 0; i < TL_NMEASURED; i++)
        known[i] = quantities[i].word;
    /* as a scenario calls it */
    const int quantity = strcmp(text_of(r, COLUMN_QUANTITY), "ammonia") == 0
                             ? TL_MEASURED_TAN
                             : read_word(r, COLUMN_QUANTITY, known, TL_NMEASURED);
    m->quantity = (enum tl_measured_quantity)quantity;
    return quantity >= 0;
}

/* A number of the log and its unit as one quantity in base units. */
static bool convert(struct log_reader *r, enum column c, enum tl_dim dim, double number,
                    double *out)
{
    char quantity[2 * FIELD_SIZE], what[TEXT_SIZE], expected[TEXT_SIZE];
    const char *unit = text_of(r, COLUMN_UNIT);
    if (dim == TL_DIM_NUMBER && strcmp(unit, "pH") == 0)
        unit = "";
    tl_format(quantity, sizeof quantity, "%.15g%s%s", number, *unit ? " " : "", unit);
    if (tl_parse_quantity(quantity, dim, out, what, expected, sizeof what) == TL_OK)
        return true;
    /* the number is good, so it is the unit */
    const struct field *f = r->of[COLUMN_UNIT].column > 0 ? &r->of[COLUMN_UNIT] : &r->of[c];
    message(r, TL_DIAG_ERROR, f->column, dim == TL_DIM_NUMBER ? "no unit, or pH" : expected, "%s",
            what);
    return false;
}

static const char *skip_blanks(const char *s)
{
    return s + strspn(s, " ");
}

/* What may stand between the ends of a range. */
static const char *skip_to(const char *s)
{
    static const char *const mark[] = {"-", "\xe2\x80\x93", "to "};
    s = skip_blanks(s);
    for (size_t i = 0; i < sizeof mark / sizeof *mark; i++)
        if (strncmp(s, mark[i], strlen(mark[i])) == 0)
            return skip_blanks(s + strlen(mark[i]));
    return NULL;
}

/* The shape of a value: its kind and one or two numbers, in the unit of the log. */
static bool parse_value(const char *s, enum tl_measured_kind *kind, double *first, double *second)
{
    *kind = *s == '<' ? TL_MEASURED_BELOW : *s == '>' ? TL_MEASURED_ABOVE : TL_MEASURED_AT;
    if (*kind != TL_MEASURED_AT)
        s = skip_blanks(s + 1);
    size_t used = tl_parse_number(s, first);
    *second = *first;
    if (used == 0 || !isfinite(*first))
        return false;
    s += used;
    const char *end = *kind == TL_MEASURED_AT ? skip_to(s) : NULL;
    if (!end)
        return *s == '\0';
    *kind = TL_MEASURED_BETWEEN;
    used = tl_parse_number(end, second);
    return used > 0 && end[used] == '\0' && isfinite(*second) && *second > *first;
}

static bool read_value(struct log_reader *r, struct tl_measured *m)
{
    const struct tl_measured_row *row = &quantities[m->quantity];
    const struct field *f = &r->of[COLUMN_VALUE];
    double first, second;
    char expected[TEXT_SIZE];
    if (!parse_value(f->text, &m->kind, &first, &second)) {
        message(
            r, TL_DIAG_ERROR, f->column,
            "a number with a decimal point, as 0.5, <0.25, >5, or 0.25-0.5 with the lower first",
            "\"%s\" is not a reading", f->text);
        return false;
    }
    if (!convert(r, COLUMN_VALUE, row->dim, first, &m->low) ||
        !convert(r, COLUMN_VALUE, row->dim, second, &m->high))
        return false;
    const double bound = row->least - 1e-12; /* conversion rounds */
    const bool nothing = m->kind == TL_MEASURED_BELOW && !(m->high > row->least);
    if (nothing || m->low < bound || m->high > row->most * (1 + 1e-12)) {
        tl_range_text(row->dim, TL_METRIC, row->least, row->most, expected, sizeof expected);
        message(r, TL_DIAG_ERROR, f->column, expected, "\"%s\" is outside the range of %s", f->text,
                row->word);
        return false;
    }
    if (m->kind == TL_MEASURED_BELOW)
        m->low = row->least;
    if (m->kind == TL_MEASURED_ABOVE)
        m->high = row->most;
    return true;
}

/* In the unit of the line, or a share of its value. */
static bool read_error(struct log_reader *r, struct tl_measured *m)
{
    const struct field *f = &r->of[COLUMN_ERROR];
    double number = NAN;
    m->error = NAN;
    if (*f->text == '\0')
        return true;
    const size_t used = tl_parse_number(f->text, &number);
    const char *rest = skip_blanks(f->text + used);
    const bool share = strcmp(rest, "%") == 0;
    if (used == 0 || !isfinite(number) || !(number > 0) || (*rest && !share)) {
        message(r, TL_DIAG_ERROR, f->column, "a number above 0 in the unit of the line, or as 10 %",
                "\"%s\" is not an error of a reading", f->text);
        return false;
    }
    if (share) {
        const double of = m->kind == TL_MEASURED_BELOW   ? m->high
                          : m->kind == TL_MEASURED_ABOVE ? m->low
                                                         : 0.5 * (m->low + m->high);
        if (!(of > 0)) {
            message(r, TL_DIAG_ERROR, f->column, "a number in the unit of the line",
                    "\"%s\" of a reading of 0 says nothing", f->text);
            return false;
        }
        m->error = number / 100 * of;
        return true;
    }
    return convert(r, COLUMN_ERROR, quantities[m->quantity].error_dim, number, &m->error);
}

static bool read_method(struct log_reader *r, struct tl_measured *m)
{
    const struct field *f = &r->of[COLUMN_METHOD];
    const size_t length = strlen(f->text);
    if (length >= sizeof m->method || !tl_is_plain_text(f->text)) {
        message(r, TL_DIAG_ERROR, f->column, "a name of at most 127 bytes",
                "the name of the method is too long or has control characters");
        return false;
    }
    memcpy(m->method, f->text, length + 1);
    return true;
}

/* Take the line apart; false: it has more fields than it should. */
static bool split(struct log_reader *r, const char *line)
{
    char field[FIELD_SIZE];
    const char *s = line;
    for (int c = 0; c < COLUMNS; c++)
        r->of[c] = (struct field){.column = 0};
    for (int index = 0; s; index++) {
        const unsigned at = (unsigned)(s - line) + 1;
        s = tl_csv_field(s, field, sizeof field);
        if (index >= r->named && *field) {
            message(r, TL_DIAG_ERROR, at,
                    "a decimal point, and quotation marks around text with a comma in it",
                    "the line has more columns than the first line");
            return false;
        }
        for (int c = 0; c < COLUMNS; c++)
            if (index == r->is[c]) {
                memcpy(r->of[c].text, field, sizeof field);
                r->of[c].column = at;
            }
    }
    return true;
}

/* One line, put behind the last row. Every field is looked at, so that all that is wrong is told. */
static void read_line(struct log_reader *r, const char *line)
{
    struct tl_measured *m = &r->log->row[r->log->rows];
    if (!is_quoted_well(r, line) || !split(r, line))
        return;
    if (*text_of(r, COLUMN_VALUE) == '\0') {
        r->log->blank++;
        return;
    }
    *m = (struct tl_measured){.line = r->line};
    bool good = read_time(r, m);
    good = read_place(r, m) && good;
    if (read_quantity(r, m))
        good = read_value(r, m) && read_error(r, m) && good;
    else
        good = false;
    good = read_method(r, m) && good;
    if (good)
        r->log->rows++;
}

static void read_lines(struct log_reader *r, const char *text)
{
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
        text += 3;
    for (r->line = 1; *text && r->faults < MOST_FAULTS; r->line++) {
        const size_t length = strcspn(text, "\n");
        if (r->line == 1) {
            read_header(r, text);
            if (r->faults > 0)
                return;
        } else if (strspn(text, " \t\r,") < length) {
            if (r->log->rows == MOST_ROWS) {
                message(r, TL_DIAG_ERROR, 1, "at most 100000", "too many readings");
                return;
            }
            read_line(r, text);
        }
        text += length + (text[length] == '\n');
    }
    r->line = 0;
    if (r->log->rows == 0 && r->faults == 0)
        message(r, TL_DIAG_ERROR, 0, "at least one line with a value",
                r->log->blank > 0 ? "no reading is filled in" : "there are no readings");
}

static int by_time(const void *a, const void *b)
{
    const struct tl_measured *p = a, *q = b;
    if (p->t_d != q->t_d)
        return p->t_d < q->t_d ? -1 : 1;
    return (p->line > q->line) - (p->line < q->line);
}

/* Room for every line of the text, and one more: a line with a fault is overwritten by the next. */
static bool reserve(const char *text, struct tl_measured_log *log)
{
    size_t rows = 2;
    for (const char *s = text; rows < MOST_ROWS && (s = strchr(s, '\n')); s++)
        rows++;
    log->row = malloc((rows + 1) * sizeof *log->row);
    return log->row != NULL;
}

int tl_measured_read_text(const char *name, const char *text, size_t length,
                          const struct tl_date *start, struct tl_measured_log *out,
                          struct tl_diag *diag)
{
    struct log_reader r = {.name = name, .start = start, .diag = diag, .log = out};
    *out = (struct tl_measured_log){.path = strdup(name)};
    char *own = strndup(text, length); /* as far as its first NUL byte, and one behind it */
    int status = TL_E_MEMORY;
    if (!out->path || !own)
        goto done;
    status = TL_E_INPUT;
    if (tl_utf8_fault(text, length) < length || strlen(own) < length) {
        message(&r, TL_DIAG_ERROR, 0, "a CSV file", "not UTF-8 text");
    } else if (!reserve(own, out)) {
        status = TL_E_MEMORY;
    } else {
        read_lines(&r, own);
        if (r.faults == 0) {
            qsort(out->row, out->rows, sizeof *out->row, by_time);
            status = TL_OK;
        }
    }
done:
    free(own);
    if (status != TL_OK)
        tl_measured_free(out);
    return status;
}

int tl_measured_read(const char *path, const struct tl_date *start, struct tl_measured_log *out,
                     struct tl_diag *diag)
{
    struct log_reader r = {.name = *path ? path : "FILE", .diag = diag};
    char *text = NULL;
    size_t length = 0;
    char reason[128];
    *out = (struct tl_measured_log){0};
    errno = 0;
    int status = tl_read_plain_file(path, MOST_BYTES, &text, &length);
    if (status == TL_E_IO)
        message(&r, TL_DIAG_ERROR, 0, "a log of measurements", "cannot be read: %s",
                strerror_r(errno, reason, sizeof reason));
    else if (status == TL_E_REFUSED)
        message(&r, TL_DIAG_ERROR, 0, "a log of measurements", "is a folder, a pipe or a device");
    else if (status == TL_E_INPUT)
        message(&r, TL_DIAG_ERROR, 0, "a smaller file", "is larger than 16 MiB");
    if (status != TL_OK)
        return status == TL_E_MEMORY ? status : TL_E_INPUT;
    status = tl_measured_read_text(path, text, length, start, out, diag);
    free(text);
    return status;
}

void tl_measured_free(struct tl_measured_log *log)
{
    free(log->path);
    free(log->row);
    *log = (struct tl_measured_log){0};
}

/* --- writing ------------------------------------------------------------------------------- */

void tl_measured_add_header(struct tl_text *t)
{
    tl_text_add(t, "time_iso,place,quantity,value,unit,error,method,note\n");
}

static void add_value(struct tl_text *t, const struct tl_measured *m, enum tl_unit_system units)
{
    const enum tl_dim dim = quantities[m->quantity].dim;
    const double low = tl_display_value(dim, units, m->low);
    const double high = tl_display_value(dim, units, m->high);
    if (m->kind == TL_MEASURED_BETWEEN)
        tl_text_addf(t, "%.6g-%.6g", low, high);
    else
        tl_text_addf(t, "%s%.6g",
                     m->kind == TL_MEASURED_BELOW   ? "<"
                     : m->kind == TL_MEASURED_ABOVE ? ">"
                                                    : "",
                     m->kind == TL_MEASURED_BELOW ? high : low);
}

static void add_quoted(struct tl_text *t, const char *s)
{
    const char *mark = *s ? "\"" : "";
    tl_text_add(t, mark);
    for (; *s; s++)
        tl_text_add_bytes(t, *s == '"' ? "\"\"" : s, *s == '"' ? 2 : 1);
    tl_text_add(t, mark);
}

void tl_measured_add(struct tl_text *t, const struct tl_measured *m, const struct tl_date *start,
                     enum tl_unit_system units, bool blank)
{
    const struct tl_measured_row *row = &quantities[m->quantity];
    const struct tl_date date = tl_date_at(start, m->t_d);
    char iso[NUMBER_SIZE];
    tl_date_iso(&date, iso, sizeof iso);
    tl_text_addf(t, "%s,%s,%s,", iso, places[m->place], row->word);
    if (!blank)
        add_value(t, m, units);
    tl_text_addf(t, ",%s,", tl_display_unit(row->dim, units));
    if (!blank && !isnan(m->error))
        tl_text_addf(t, "%.6g", tl_display_value(row->error_dim, units, m->error));
    tl_text_add(t, ",");
    add_quoted(t, m->method);
    tl_text_add(t, ",\n");
}
