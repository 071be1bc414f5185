/* Whether the series.csv of a run is as the run wrote it, before anything is drawn from it. */
#ifndef TL_RUN_SERIES_H
#define TL_RUN_SERIES_H

#include <stddef.h>

/* Goes through the table of the run in `folder`: its first line has to name the columns in their order, every
 * cell to be empty or a number that can be, the times to rise, and the last row to be at the end that summary.json
 * names. TL_OK; TL_E_INPUT with file, line and what was expected in `why`; TL_E_IO when it cannot be read, `why`
 * says so; TL_E_MEMORY; TL_E_INTERRUPTED once *interrupted (may be NULL). */
int tl_run_series_check(const char *folder, const volatile int *interrupted, char *why,
                        size_t size);

#endif
