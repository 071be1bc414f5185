/* A log that the scenario names: a CSV with a header row that names the columns, then lines of a time
 * and values. Columns that are not asked for are passed over, with a warning where they might be meant. */
#ifndef TL_SCENARIO_CSV_LOG_H
#define TL_SCENARIO_CSV_LOG_H

#include "reader.h"

enum tl_csv_kind { TL_CSV_NUMBER, TL_CSV_WHOLE, TL_CSV_NAME };

struct tl_csv_column {
    const char *name;     /* in the first line: "temperature_degC" */
    const char *many;     /* "temperatures", for "there is no column of ..." */
    const char *one;      /* "a temperature of the water", for "... is not ..." */
    const char *expected; /* "a number from 0 to 40, in degC" */
    double min, max;      /* both allowed; NAME: unused */
    enum tl_csv_kind kind;
    bool optional; /* the column may be missing, and a field of it empty */
};

#define TL_CSV_COLUMNS 8 /* at most, besides the time */

struct tl_csv_layout {
    const struct tl_csv_column *column;
    size_t columns; /* 1 .. TL_CSV_COLUMNS; at most one of them a NAME */
    size_t most_rows;
    bool same_time;    /* lines may follow each other at the same instant */
    bool warns;        /* of columns it does not know: one spelt wrong would not be missed */
    const char *lines; /* "readings", for "there are no ..." */
};

struct tl_csv_log {
    char *path;
    size_t rows;
    size_t columns;
    double *time_d;             /* days since day 0, rising */
    double *value;              /* rows x columns; NAN: not given, or a NAME */
    char (*name)[TL_NAME_SIZE]; /* of each row; NULL without a column of names */
    unsigned *line;             /* of the file */
};

/* Read the file called `file`, counted from the scenario's folder, which it may not leave; only the command line may
 * name a file elsewhere, by its whole path. `n` is where the file is named. Times are `time_iso` or `time_d` (days since the date of the start). At most 64 MiB. False after
 * faults, which carry file, line and column, or out of memory; *out is then empty. Otherwise there is at
 * least one row. */
bool tl_csv_log_read(struct tl_reader *r, struct tl_node *n, const char *file,
                     const struct tl_csv_layout *layout, struct tl_csv_log *out);
/* Report a fault in a row that was read; `n` as above. */
void tl_csv_log_fault(struct tl_reader *r, struct tl_node *n, const struct tl_csv_log *log,
                      size_t row, const char *expected, const char *format, ...)
    __attribute__((format(printf, 6, 7)));
/* The same, and it is no fault. */
void tl_csv_log_warn(struct tl_reader *r, const struct tl_csv_log *log, size_t row,
                     const char *what);
void tl_csv_log_free(struct tl_csv_log *log);

#endif
