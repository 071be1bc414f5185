/* series.csv: one row per instant, metric, RFC 4180 with plain line feeds. Columns and their order:
 * contract document, "Folder of a run". A cell without a value is empty. */
#ifndef TOWERLOOP_SERIES_H
#define TOWERLOOP_SERIES_H

#include "towerloop/model.h"
#include "towerloop/scenario.h"

/* What decides on the columns. */
struct tl_series_shape {
    int trays;
    bool sunny; /* the cover of each tray by algae */
    bool green; /* green water */
};
struct tl_series_shape tl_series_shape_of(const struct tl_snapshot *row);

/* The columns that hold numbers, `time_d` first; `time_iso`, the second column of the file, is text
 * and not among them. */
size_t tl_series_columns(struct tl_series_shape shape);
#define TL_SERIES_NAME_SIZE 64
/* The name of one of them; "" for a column there is not. */
void tl_series_column_name(struct tl_series_shape shape, size_t column, char *name, size_t size);
/* One row in that order: tl_series_columns(tl_series_shape_of(row)) cells, NAN where the file has an empty one. */
void tl_series_row(const struct tl_snapshot *row, double *cell);

struct tl_series;

/* Start the file (it appears under `path` when finished). `start`: the scenario's start date.
 * TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY. */
int tl_series_open(const char *path, const struct tl_date *start, struct tl_series_shape shape,
                   struct tl_series **out);
/* Append a row. TL_OK or TL_E_IO. */
int tl_series_add(struct tl_series *s, const struct tl_snapshot *row);
/* Finish the file; frees `s` whatever happens. TL_OK or TL_E_IO (then there is no file). */
int tl_series_close(struct tl_series *s);
/* Drop the file and free `s`; `s` may be NULL. */
void tl_series_abort(struct tl_series *s);

#endif
