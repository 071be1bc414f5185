/* A table of published values: comment lines (#), a header line, rows without quotes. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_DATA_H
#define TOWERLOOP_TESTS_OUTSIDE_DATA_H

#include <stddef.h>

#define DATA_COLUMNS 16
#define DATA_ROWS    256

struct data_file {
    char *text;
    size_t columns;
    size_t rows;
    const char *header[DATA_COLUMNS];
    const char *cell[DATA_ROWS][DATA_COLUMNS];
    int used[DATA_ROWS]; /* how many series took the row */
};

/* 0, or -1 with the reason on stderr. On failure nothing needs to be freed. */
int data_read(const char *folder, const char *name, struct data_file *out);
void data_free(struct data_file *d);
/* Index of a column, or -1. */
int data_column(const struct data_file *d, const char *name);

#endif
