/* The answer of `towerloop compare`: on the terminal, and as files. */
#ifndef TL_COMPARE_VIEW_H
#define TL_COMPARE_VIEW_H

#include <stdio.h>

#include "compare.h"
#include "towerloop/units.h"

/* Lines of at most 80 columns. */
void tl_compare_text(const struct tl_compare *c, enum tl_unit_system units, FILE *f);

/* compare.csv: a row a variant, metric. Caller frees; NULL when out of memory. */
char *tl_compare_csv(const struct tl_compare *c);
/* compare.json. */
char *tl_compare_json(const struct tl_compare *c);

#endif
