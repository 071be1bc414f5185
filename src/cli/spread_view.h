/* The answer of `towerloop spread` and `towerloop merge`: on the terminal, and as files. */
#ifndef TL_SPREAD_VIEW_H
#define TL_SPREAD_VIEW_H

#include <jansson.h>
#include <stdio.h>

#include "study_folder.h"
#include "tally.h"
#include "towerloop/units.h"

/* Names of the files, closed by NULL. */
extern const char *const tl_spread_results[];

void tl_spread_text(const struct tl_tally *t, enum tl_unit_system units, FILE *out);

/* What spread.json holds. NULL: out of memory. */
json_t *tl_spread_json(const struct tl_tally *t);
/* spread.json; spread.csv, a row a quantity and interval; chances.csv, a row a limit; and the study's end.
 * TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY. */
int tl_spread_write(const struct tl_tally *t, const struct tl_study *folder);
/* scenario.yaml, which a merge reads. */
int tl_spread_write_scenario(const struct tl_scenario *s, const struct tl_study *folder);

/* Print what the options ask for: the text, or spread.json. */
void tl_spread_print(const struct tl_tally *t, bool json, enum tl_unit_system units);

#endif
