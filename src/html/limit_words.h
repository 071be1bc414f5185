/* Limits for readers: what they are called, and their values in the reader's units. */
#ifndef TL_HTML_LIMIT_WORDS_H
#define TL_HTML_LIMIT_WORDS_H

#include "towerloop/limits.h"
#include "towerloop/units.h"

const char *tl_limit_name(enum tl_limit_id limit);
/* "hourly mean": what is judged; "": each moment. */
const char *tl_limit_mean(enum tl_limit_id limit);
const char *tl_limit_unit(enum tl_limit_id limit, enum tl_unit_system units);
/* A value of summary.json. */
double tl_limit_value(enum tl_limit_id limit, enum tl_unit_system units, double value);

#endif
