/* Reads a table of published values into memory and cuts it into cells in place. */
#include "data.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char *read_whole(const char *path)
{
    FILE *f = fopen(path, "rb");
    char *text = NULL;
    size_t capacity = 0;

    if (f == NULL)
        return NULL;
    /* up to the NUL that no text file holds: the whole file */
    if (getdelim(&text, &capacity, '\0', f) < 0) {
        free(text);
        text = NULL;
    }
    fclose(f);
    return text;
}

/* Cuts a line at its commas; the number of cells, or 0 when there are too many. */
static size_t cut(char *line, const char **cell)
{
    size_t n = 0;

    for (char *p = line; p != NULL;) {
        if (n == DATA_COLUMNS)
            return 0;
        cell[n++] = strsep(&p, ",");
    }
    return n;
}

int data_read(const char *folder, const char *name, struct data_file *out)
{
    char path[4096];
    const char *why = "cannot be read";
    char *rest;
    char *line;

    memset(out, 0, sizeof *out);
    if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path)
        goto fail;
    out->text = read_whole(path);
    if (out->text == NULL)
        goto fail;
    rest = out->text;
    while ((line = strsep(&rest, "\n")) != NULL) {
        if (line[0] == '#' || line[0] == '\0')
            continue;
        if (out->columns == 0) {
            out->columns = cut(line, out->header);
            why = "has too many columns";
            if (out->columns == 0)
                goto fail;
            continue;
        }
        why = "has too many rows";
        if (out->rows == DATA_ROWS)
            goto fail;
        why = "has a row whose number of cells differs from the header's";
        if (cut(line, out->cell[out->rows]) != out->columns)
            goto fail;
        out->rows++;
    }
    why = "has no rows";
    if (out->rows == 0)
        goto fail;
    return 0;
fail:
    fprintf(stderr, "%s/%s %s\n", folder, name, why);
    data_free(out);
    return -1;
}

void data_free(struct data_file *d)
{
    free(d->text);
    memset(d, 0, sizeof *d);
}

int data_column(const struct data_file *d, const char *name)
{
    for (size_t i = 0; i < d->columns; i++) {
        if (strcmp(d->header[i], name) == 0)
            return (int)i;
    }
    return -1;
}
