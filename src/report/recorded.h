/* Reads a run's series.csv row by row: its length costs no memory. */
#ifndef TOWERLOOP_REPORT_RECORDED_H
#define TOWERLOOP_REPORT_RECORDED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

struct tl_recorded {
    size_t columns; /* those that are wanted */
    char **name;    /* [columns] */
    size_t rows;
    double from_d, to_d; /* time of the first and of the last row */

    const char *path;
    FILE *f;
    char *line;
    const volatile int *interrupted;
    bool broken; /* a line is too long for one of a run, or holds a NUL byte */
    size_t row;  /* how many have been read */
    size_t cells;
    int *place; /* [cells]: which column it is, or -1 */
};

/* Opens the table and goes through its times; the columns for which want() is true are read, `time_d`
 * must be among them. Non-zero *interrupted (may be NULL) ends it, and what follows, with TL_E_INTERRUPTED. TL_OK; TL_E_IO (also for a folder, a pipe or a device) or TL_E_MEMORY; TL_E_CHART when the file is no such table or its
 * times do not rise; `fault` says why. On failure *out is empty. `path` must outlive it. */
int tl_recorded_open(const char *path, bool (*want)(const char *name),
                     const volatile int *interrupted, struct tl_recorded *out, char *fault,
                     size_t size);
/* Leaves only the rows from from_d to to_d, right after opening: `rows`, `from_d` and `to_d` are theirs;
 * without any, `rows` is 0. Fails as above, and leaves the table open. */
int tl_recorded_keep(struct tl_recorded *r, double from_d, double to_d, char *fault, size_t size);
/* The next of the `rows` rows into value[columns], NAN where the cell is empty. Fails as above. */
int tl_recorded_next(struct tl_recorded *r, double *value, char *fault, size_t size);
void tl_recorded_close(struct tl_recorded *r);
/* Takes the next cell off a line of such a file and ends it with NUL; NULL when the line is used up. */
char *tl_recorded_cell(char **rest);
/* The number of a column, or `columns` if there is none of that name. */
size_t tl_recorded_column(const struct tl_recorded *r, const char *name);

#endif
