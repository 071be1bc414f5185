/* What a spread of the same scenario has found, out of its folder. */
#ifndef TL_SPREAD_VERDICT_H
#define TL_SPREAD_VERDICT_H

#include <jansson.h>
#include <stddef.h>

#include "towerloop/scenario.h"
#include "towerloop/summary.h"

/* Whatever scenario it is of: what was found, and all of spread.json, which the caller takes over. As the next. */
int tl_spread_verdict_read(const char *folder, struct tl_spread_verdict *out, json_t **all,
                           char *why, size_t size);

/* TL_OK; TL_E_INPUT with the reason in `why`: no folder of a whole spread, one of another scenario, or by another
 * version of the program; TL_E_MEMORY. */
int tl_spread_verdict_load(const char *folder, const struct tl_scenario *scenario,
                           struct tl_spread_verdict *out, char *why, size_t size);

#endif
