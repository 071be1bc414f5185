/* The chances of a spread as JSON. */
#ifndef TL_CHANCE_JSON_H
#define TL_CHANCE_JSON_H

#include <jansson.h>

#include "towerloop/summary.h"

/* `own`: the verdict of the run with the scenario's own values. NULL: out of memory. */
json_t *tl_chance_json(const struct tl_spread_verdict *v, const char *own);

#endif
