/* Reads columns of series.csv (RFC 4180) line by line: once through for its times, then its rows. */
#include "recorded.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "posix.h"
#include "text.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

char *tl_recorded_cell(char **rest)
{
    char *cell = *rest, *end;

    if (!cell)
        return NULL;
    if (*cell == '"') {
        char *to = ++cell;
        for (end = cell; *end && (*end != '"' || end[1] == '"'); end++) {
            if (*end == '"')
                end++;
            *to++ = *end;
        }
        if (*end)
            end++;
        *rest = *end == ',' ? end + 1 : NULL;
        *to = '\0';
        return cell;
    }
    end = cell + strcspn(cell, ",\r\n");
    *rest = *end == ',' ? end + 1 : NULL;
    *end = '\0';
    return cell;
}

void tl_recorded_close(struct tl_recorded *r)
{
    for (size_t i = 0; i < r->columns; i++)
        free(r->name[i]);
    free(r->name);
    free(r->place);
    free(r->line);
    if (r->f)
        fclose(r->f);
    *r = (struct tl_recorded){0};
}

size_t tl_recorded_column(const struct tl_recorded *r, const char *name)
{
    for (size_t i = 0; i < r->columns; i++)
        if (r->name[i] && !strcmp(r->name[i], name))
            return i;
    return r->columns;
}

/* A header of 200 trays has some 60 kB. */
enum { LONGEST_LINE = 1 << 20 };

/* Reads a line with its end. False at the end of the file, and where it is no line of a run. */
static bool next_line(struct tl_recorded *r)
{
    if (!fgets(r->line, LONGEST_LINE, r->f))
        return false;
    const size_t length = strlen(r->line);
    r->broken = (length == 0 || r->line[length - 1] != '\n') && !feof(r->f);
    return !r->broken;
}

/* Says why a line could not be had: at the end of the file `at_end` tells. */
static int no_line(const struct tl_recorded *r, int at_end, const char *says, char *fault,
                   size_t size)
{
    const bool failed = ferror(r->f);
    snprintf(fault, size, "%s: %s", r->path, failed ? strerror(errno) : says);
    return failed ? TL_E_IO : at_end;
}

static int stop(const struct tl_recorded *r)
{
    return r->interrupted && *r->interrupted ? TL_E_INTERRUPTED : TL_OK;
}

static int no_row(const struct tl_recorded *r, char *fault, size_t size)
{
    snprintf(fault, size, "%s:%zu: this is not a row of a run", r->path, r->row + 2);
    return TL_E_CHART;
}

/* Reads the header; place[i] is where the i-th cell of a line goes, or -1. */
static int read_header(struct tl_recorded *r, bool (*want)(const char *name))
{
    char *rest = r->line;
    size_t count = 1;

    for (const char *p = rest; *p; p++)
        count += *p == ',';
    r->place = malloc(count * sizeof *r->place);
    r->name = calloc(count, sizeof *r->name);
    if (!r->place || !r->name)
        return TL_E_MEMORY;
    for (char *cell; (cell = tl_recorded_cell(&rest));) {
        r->place[r->cells] = -1;
        if (want(cell)) {
            char *name = strdup(cell);
            if (!name)
                return TL_E_MEMORY;
            r->place[r->cells] = (int)r->columns;
            r->name[r->columns++] = name;
        }
        r->cells++;
    }
    return TL_OK;
}

/* The cells of the line as numbers, up to the column `last`. False when a cell is no number or there
 * is no time; columns after the end of a short line have no value. */
static bool read_cells(struct tl_recorded *r, size_t last, double *value)
{
    char *rest = r->line;

    for (size_t i = 0; i <= last && i < r->columns; i++)
        value[i] = NAN;
    for (size_t i = 0; i < r->cells; i++) {
        const char *cell = tl_recorded_cell(&rest);
        double v = NAN;
        if (!cell || r->place[i] > (int)last)
            break;
        if (r->place[i] < 0 || !*cell)
            continue;
        if (tl_parse_number(cell, &v) != strlen(cell) || !isfinite(v))
            return false;
        value[r->place[i]] = v;
    }
    return true;
}

#define LATEST_D 1e5 /* no run is as long */

/* Goes through the file for the number of rows and their times. */
static int read_times(struct tl_recorded *r, char *fault, size_t size)
{
    double *value = malloc((r->columns + 1) * sizeof *value);
    const size_t time = tl_recorded_column(r, "time_d");
    int status = value ? TL_OK : TL_E_MEMORY;

    while (!status && next_line(r)) {
        if (time == r->columns || !read_cells(r, time, value) ||
            !(value[time] >= (r->row ? r->to_d : 0) && value[time] <= LATEST_D)) {
            status = no_row(r, fault, size);
            break;
        }
        if (r->row++ == 0)
            r->from_d = value[time];
        r->to_d = value[time];
        status = stop(r);
    }
    free(value);
    if (!status && r->broken)
        status = no_row(r, fault, size);
    if (!status && (ferror(r->f) || r->row < 2 || r->to_d <= r->from_d))
        status = no_line(r, TL_E_CHART, "holds too few rows to draw", fault, size);
    return status;
}

int tl_recorded_open(const char *path, bool (*want)(const char *name),
                     const volatile int *interrupted, struct tl_recorded *out, char *fault,
                     size_t size)
{
    struct tl_recorded *r = out;
    int status;

    bool other;
    *r = (struct tl_recorded){
        .path = path, .interrupted = interrupted, .f = tl_posix_open_file(path, &other)};
    if (!r->f) {
        snprintf(fault, size, "%s: %s", path,
                 other ? "is a folder, a pipe or a device" : strerror(errno));
        return TL_E_IO;
    }
    r->line = malloc(LONGEST_LINE);
    if (!r->line) {
        status = TL_E_MEMORY;
        goto done;
    }
    if (!next_line(r)) {
        status = no_line(r, TL_E_IO, r->broken ? "is no table of a run" : "is empty", fault, size);
        goto done;
    }
    if ((status = read_header(r, want)) || (status = read_times(r, fault, size)))
        goto done;
    r->rows = r->row;
    r->row = 0;
    if (fseek(r->f, 0, SEEK_SET) || !next_line(r))
        status = no_line(r, TL_E_IO, "cannot be read twice", fault, size);
done:
    if (status == TL_E_MEMORY)
        snprintf(fault, size, "out of memory while reading %s", path);
    if (status)
        tl_recorded_close(r);
    return status;
}

/* Times are written with six digits after the point. */
#define TIME_OFF_D 1e-6

int tl_recorded_keep(struct tl_recorded *r, double from_d, double to_d, char *fault, size_t size)
{
    double *value = malloc((r->columns + 1) * sizeof *value);
    const size_t time = tl_recorded_column(r, "time_d"), all = r->rows;
    size_t before = 0, kept = 0;
    int status = value ? TL_OK : TL_E_MEMORY;

    for (size_t i = 0; i < all && !status && !(status = stop(r)); i++) {
        if (!next_line(r) || !read_cells(r, time, value)) {
            status = no_line(r, TL_E_CHART, "became shorter while it was read", fault, size);
        } else if (value[time] < from_d - TIME_OFF_D) {
            before++;
        } else if (value[time] <= to_d + TIME_OFF_D) {
            r->from_d = kept++ ? r->from_d : value[time];
            r->to_d = value[time];
        }
    }
    free(value);
    if (!status && fseek(r->f, 0, SEEK_SET))
        status = no_line(r, TL_E_IO, "cannot be read twice", fault, size);
    for (size_t i = 0; i <= before && !status; i++) /* the header, too */
        if (!next_line(r))
            status = no_line(r, TL_E_IO, "cannot be read twice", fault, size);
    r->rows = kept;
    r->row = before;
    return status;
}

int tl_recorded_next(struct tl_recorded *r, double *value, char *fault, size_t size)
{
    if (stop(r))
        return stop(r);
    if (!next_line(r))
        return no_line(r, TL_E_CHART, "became shorter while it was read", fault, size);
    if (!read_cells(r, r->columns, value))
        return no_row(r, fault, size);
    r->row++;
    return TL_OK;
}
