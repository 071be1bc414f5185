/* Looks through series.csv line by line. A table that was cut, edited or sorted by another program draws
 * charts that look right and are not. */
#include "run_series.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "posix.h"
#include "text.h"
#include "towerloop/series.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

enum { LONGEST_LINE = 1 << 20 }; /* a row of 200 trays has some 20 kB */

struct table {
    FILE *f;
    char *line;
    const char *path;
    size_t number; /* of the line, from 1 */
    struct tl_series_shape shape;
    double last_d;
    char last_iso[32];
    char *why;
    size_t size;
};

static int fault(struct table *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

static int fault(struct table *t, const char *format, ...)
{
    struct tl_text what = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&what, format, args);
    va_end(args);
    (void)tl_format(t->why, t->size, "%s:%zu: %s", t->path, t->number, tl_text_string(&what));
    tl_text_free(&what);
    return TL_E_INPUT;
}

/* The next line without its end. TL_OK, TL_E_INPUT for one that is not whole, or *end. */
static int next_line(struct table *t, bool *end)
{
    *end = !fgets(t->line, LONGEST_LINE, t->f);
    if (*end && ferror(t->f)) {
        (void)tl_format(t->why, t->size, "%s: %s", t->path, strerror(errno));
        return TL_E_IO;
    }
    if (*end)
        return TL_OK;
    t->number++;
    const size_t length = strlen(t->line);
    if (length == 0 || t->line[length - 1] != '\n')
        return fault(t, "this is not a whole line of a run; expected the file as the run wrote it");
    t->line[length - 1] = '\0';
    return TL_OK;
}

/* Takes a cell off the line; NULL: there is none. */
static char *next_cell(char **rest)
{
    char *cell = *rest;
    if (!cell)
        return NULL;
    char *comma = strchr(cell, ',');
    *rest = comma ? comma + 1 : NULL;
    if (comma)
        *comma = '\0';
    return cell;
}

static size_t count(const char *line, const char *word)
{
    size_t n = 0;
    for (const char *s = line; (s = strstr(s, word)); s += strlen(word))
        n++;
    return n;
}

/* The columns the run has follow from what it has: trays, algae. */
static int check_header(struct table *t)
{
    char *rest = t->line;
    t->shape = (struct tl_series_shape){.trays = (int)count(t->line, "_voids_filled_pct"),
                                        .sunny = strstr(t->line, "_algae_cover_pct") != NULL,
                                        .green = strstr(t->line, "tank_algae_mgCOD_L") != NULL};
    const size_t columns = tl_series_columns(t->shape) + 1; /* time_iso too */
    for (size_t c = 0; c < columns; c++) {
        char expected[TL_SERIES_NAME_SIZE] = "time_iso";
        const char *name = next_cell(&rest);
        if (c != 1)
            tl_series_column_name(t->shape, c == 0 ? 0 : c - 1, expected, sizeof expected);
        if (!name || strcmp(name, expected) != 0)
            return fault(t, "column %zu is called \"%.*s\"; expected \"%s\", as the run wrote it",
                         c + 1, (int)tl_utf8_cut(name ? name : "", 40), name ? name : "", expected);
    }
    return rest ? fault(t, "there are more than the %zu columns of a run", columns) : TL_OK;
}

/* What no water, no air and no fish tank has; wide enough for whatever a run can come to. */
static bool can_be(const char *name, double value)
{
    static const struct {
        const char *ends;
        double least, most;
    } range[] = {
        {"_ph", 0, 14},    {"temperature_degC", -100, 100}, {"_o2_mg_L", 0, 1e4}, {"_pct", -1, 1e5},
        {"", -1e12, 1e12},
    };
    const size_t length = strlen(name);
    size_t i = 0;
    while (strlen(range[i].ends) > length ||
           strcmp(name + length - strlen(range[i].ends), range[i].ends) != 0)
        i++;
    return value >= range[i].least && value <= range[i].most;
}

static int check_cell(struct table *t, size_t column, const char *cell)
{
    char name[TL_SERIES_NAME_SIZE];
    double value = NAN;
    if (*cell == '\0' && column > 0)
        return TL_OK;
    tl_series_column_name(t->shape, column, name, sizeof name);
    if (tl_parse_number(cell, &value) != strlen(cell) || !isfinite(value) || !can_be(name, value))
        return fault(t, "%s is \"%.*s\"; expected a number that can be", name,
                     (int)tl_utf8_cut(cell, 40), cell);
    if (column > 0)
        return TL_OK;
    if (value < t->last_d)
        return fault(t, "the time falls; expected the rows in the order of the run");
    t->last_d = value;
    return TL_OK;
}

static int check_row(struct table *t)
{
    const size_t columns = tl_series_columns(t->shape) + 1;
    char *rest = t->line;
    int status = TL_OK;
    for (size_t c = 0; c < columns && !status; c++) {
        const char *cell = next_cell(&rest);
        if (!cell)
            return fault(t, "the row has %zu cells; expected %zu", c, columns);
        if (c == 1)
            (void)tl_format(t->last_iso, sizeof t->last_iso, "%s", cell);
        else
            status = check_cell(t, c == 0 ? 0 : c - 1, cell);
    }
    return !status && rest ? fault(t, "the row has more than %zu cells", columns) : status;
}

/* As summary.json names it; a summary that cannot be read is told of where it is needed. */
static int check_end(struct table *t, const char *folder)
{
    struct tl_text path = {0};
    tl_text_addf(&path, "%s/summary.json", folder);
    json_t *root = path.failed ? NULL : tl_json_read(path.data);
    const bool no_memory = path.failed || (!root && errno == ENOMEM);
    const char *end = json_string_value(json_object_get(root, "end"));
    int status = no_memory ? TL_E_MEMORY : TL_OK;
    if (end && strcmp(end, t->last_iso) != 0)
        status = fault(t,
                       "this is the last row, at %s; expected the end of the run as in "
                       "summary.json, %s: the file was cut or is of another run",
                       *t->last_iso ? t->last_iso : "no time", end);
    json_decref(root);
    tl_text_free(&path);
    return status;
}

int tl_run_series_check(const char *folder, const volatile int *interrupted, char *why, size_t size)
{
    struct tl_text path = {0};
    struct table t = {.why = why, .size = size, .last_d = -INFINITY};
    bool other = false, end = false;
    int status = TL_E_MEMORY;
    char *line = malloc(LONGEST_LINE);

    *why = '\0';
    tl_text_addf(&path, "%s/series.csv", folder);
    t.path = tl_text_string(&path);
    t.line = line;
    if (path.failed || !line)
        goto done;
    t.f = tl_posix_open_file(t.path, &other);
    if (!t.f) {
        (void)tl_format(why, size, "%s: %s", t.path,
                        other ? "is a folder, a pipe or a device" : strerror(errno));
        status = TL_E_IO;
        goto done;
    }
    status = next_line(&t, &end);
    if (!status)
        status = end ? fault(&t, "the file is empty") : check_header(&t);
    while (!status && !end) {
        status = next_line(&t, &end);
        if (!status && !end)
            status = interrupted && *interrupted ? TL_E_INTERRUPTED : check_row(&t);
    }
    if (!status)
        status = check_end(&t, folder);
done:
    if (t.f)
        fclose(t.f);
    free(line);
    tl_text_free(&path);
    return status;
}
