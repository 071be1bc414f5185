/* The number that a scenario has at a path of keys, and the range it may move in. */
#ifndef TL_NUMBER_AT_H
#define TL_NUMBER_AT_H

#include <stdbool.h>

#include "towerloop/scenario.h"
#include "towerloop/units.h"

struct tl_number_at {
    bool whole;
    enum tl_dim dim;
    double min, max; /* both allowed; base unit */
    double value;    /* what holds in the scenario; base unit */
};

/* `path` as in --set: "tower.trays", "fish[0].count", "events[2].add fish.count". TL_OK; TL_E_MEMORY;
 * or TL_E_INPUT with what is wrong, and what was expected, in the two buffers of `size` bytes. Limits are refused:
 * to move one makes nothing better; and so is what the water does not depend on. */
int tl_scenario_number_at(const struct tl_scenario *s, const char *path, struct tl_number_at *out,
                          char *what, char *expected, size_t size);

/* What the table of keys alone says of it; `value` is NAN, and nothing is known of a place in a list. */
int tl_number_key(const char *path, struct tl_number_at *out, char *what, char *expected,
                  size_t size);

/* What the table of keys says in words of the key at a path; NULL: there is none. */
const char *tl_number_key_help(const char *path);

#endif
