/* The columns of a run's series.csv that a report needs. */
#ifndef TOWERLOOP_REPORT_RECORDED_H
#define TOWERLOOP_REPORT_RECORDED_H

#include <stdbool.h>
#include <stddef.h>

struct tl_recorded {
    size_t rows;
    size_t columns;
    char **name;    /* [columns] */
    double **value; /* [columns][rows]; NAN where the cell is empty */
};

/* Reads the columns for which want() is true, the others are skipped. TL_OK; TL_E_IO or
 * TL_E_MEMORY; TL_E_CHART when the file is no such table or its times do not rise; `fault` says why.
 * On failure *out is empty. */
int tl_recorded_read(const char *path, bool (*want)(const char *name), struct tl_recorded *out,
                     char *fault, size_t size);
void tl_recorded_free(struct tl_recorded *r);
/* A column by name, or NULL. */
double *tl_recorded_column(const struct tl_recorded *r, const char *name);

#endif
