/* A blank log of measurements for a scenario: a sheet to print and write on, and a CSV to fill in. */
#ifndef TL_RESULT_LOG_SHEET_H
#define TL_RESULT_LOG_SHEET_H

#include "text.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"

/* Lines of a page, for A4 and Letter at six lines an inch; a form feed goes between pages. */
#define TL_SHEET_LINES 60

/* A line a test of the water: daily with a new filter or new fish, otherwise weekly; 14 to a page, and
 * below them the jobs that the scenario plans for these days. At most 80 columns. TL_OK, TL_E_MEMORY. */
int tl_log_sheet_text(const struct tl_scenario *s, enum tl_unit_system units, struct tl_text *out);
/* The log of measured.h with a line for each reading of these tests, its value blank. TL_OK, TL_E_MEMORY. */
int tl_log_sheet_csv(const struct tl_scenario *s, enum tl_unit_system units, struct tl_text *out);

#endif
