/* Reads columns of series.csv (RFC 4180) line by line, keeping those that are wanted. */
#include "recorded.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"
#include "towerloop/status.h"

/* Takes the next cell off a line and ends it with NUL; NULL when the line is used up. */
static char *next_cell(char **rest)
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

void tl_recorded_free(struct tl_recorded *r)
{
    for (size_t i = 0; i < r->columns; i++) {
        free(r->name[i]);
        free(r->value[i]);
    }
    free(r->name);
    free(r->value);
    *r = (struct tl_recorded){0};
}

double *tl_recorded_column(const struct tl_recorded *r, const char *name)
{
    for (size_t i = 0; i < r->columns; i++)
        if (r->name[i] && !strcmp(r->name[i], name))
            return r->value[i];
    return NULL;
}

/* Reads the header; *place[i] is where the i-th cell of a line goes, or -1. */
static int read_header(char *line, bool (*want)(const char *name), struct tl_recorded *out,
                       int **place, size_t *cells)
{
    size_t count = 1;

    for (const char *p = line; *p; p++)
        count += *p == ',';
    *place = malloc(count * sizeof **place);
    out->name = calloc(count, sizeof *out->name);
    out->value = calloc(count, sizeof *out->value);
    if (!*place || !out->name || !out->value)
        return TL_E_MEMORY;
    *cells = 0;
    for (char *cell; (cell = next_cell(&line));) {
        (*place)[*cells] = -1;
        if (want(cell)) {
            (*place)[*cells] = (int)out->columns;
            out->name[out->columns] = strdup(cell);
            if (!out->name[out->columns++])
                return TL_E_MEMORY;
        }
        ++*cells;
    }
    return TL_OK;
}

static int grow(struct tl_recorded *out, size_t *room)
{
    size_t more = *room ? 2 * *room : 1024;

    for (size_t i = 0; i < out->columns; i++) {
        double *p = realloc(out->value[i], more * sizeof *p);
        if (!p)
            return TL_E_MEMORY;
        out->value[i] = p;
    }
    *room = more;
    return TL_OK;
}

/* False when a cell is no number. Columns after the end of a short line have no value. */
static bool read_row(char *line, const int *place, size_t cells, struct tl_recorded *out)
{
    for (size_t i = 0; i < out->columns; i++)
        out->value[i][out->rows] = NAN;
    for (size_t i = 0; i < cells; i++) {
        char *cell = next_cell(&line), *end;
        if (!cell)
            break;
        if (place[i] < 0 || !*cell)
            continue;
        double v = tl_strtod(cell, &end);
        if (end == cell || *end)
            return false;
        out->value[place[i]][out->rows] = v;
    }
    return true;
}

int tl_recorded_read(const char *path, bool (*want)(const char *name), struct tl_recorded *out,
                     char *fault, size_t size)
{
    int status = TL_E_IO, *place = NULL;
    size_t length = 0, cells = 0, room = 0;
    char *line = NULL;
    const double *t = NULL;
    FILE *f;

    *out = (struct tl_recorded){0};
    f = fopen(path, "re");
    if (!f || getline(&line, &length, f) < 0) {
        snprintf(fault, size, "%s: %s", path, f && !ferror(f) ? "is empty" : strerror(errno));
        goto done;
    }
    status = read_header(line, want, out, &place, &cells);
    if (status)
        goto done;
    status = TL_E_CHART;
    while (getline(&line, &length, f) >= 0) {
        if (out->rows == room && (status = grow(out, &room)))
            goto done;
        status = TL_E_CHART;
        t = tl_recorded_column(out, "time_d");
        if (!t || !read_row(line, place, cells, out) || !isfinite(t[out->rows]) ||
            (out->rows && !(t[out->rows] >= t[out->rows - 1]))) {
            snprintf(fault, size, "%s:%zu: this is not a row of a run", path, out->rows + 2);
            goto done;
        }
        out->rows++;
    }
    if (ferror(f)) {
        status = TL_E_IO;
        snprintf(fault, size, "%s: %s", path, strerror(errno));
        goto done;
    }
    if (!t || out->rows < 2 || t[out->rows - 1] <= t[0]) {
        snprintf(fault, size, "%s: holds too few rows to draw", path);
        goto done;
    }
    status = TL_OK;
done:
    if (status == TL_E_MEMORY)
        snprintf(fault, size, "out of memory while reading %s", path);
    if (status)
        tl_recorded_free(out);
    if (f)
        fclose(f);
    free(line);
    free(place);
    return status;
}
