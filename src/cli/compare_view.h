/* The answer of `towerloop compare`: on the terminal, and as files. */
#ifndef TL_COMPARE_VIEW_H
#define TL_COMPARE_VIEW_H

#include <stdio.h>

#include "compare.h"
#include "towerloop/units.h"

/* Lines of at most 80 columns. */
void tl_compare_text(const struct tl_compare *c, enum tl_unit_system units, FILE *f);

/* compare.csv (a row a variant, metric) and compare.json. TL_OK, TL_E_IO (errno says why) or
 * TL_E_MEMORY. */
int tl_compare_write_csv(const struct tl_compare *c, const char *path);
int tl_compare_write_json(const struct tl_compare *c, const char *path);

#endif
