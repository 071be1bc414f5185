/* The answer of `towerloop fit`: on the terminal, and as files. */
#ifndef TL_FIT_VIEW_H
#define TL_FIT_VIEW_H

#include <stdio.h>

#include "fit.h"
#include "towerloop/scenario.h"

void tl_fit_text(const struct tl_fit *f, const struct tl_scenario *s, enum tl_unit_system units,
                 FILE *out);

/* residuals.csv (a row a reading), forecast.csv and fit.json. TL_OK, TL_E_IO (errno says why) or
 * TL_E_MEMORY. */
int tl_fit_write_residuals(const struct tl_fit *f, const struct tl_scenario *s, const char *path);
int tl_fit_write_forecast(const struct tl_fit *f, const struct tl_scenario *s, const char *path);
int tl_fit_write_json(const struct tl_fit *f, const struct tl_scenario *s, const char *path);

#endif
