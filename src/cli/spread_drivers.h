/* Which inputs a limit's worst value hangs on, for people: the longest first. */
#ifndef TL_SPREAD_DRIVERS_H
#define TL_SPREAD_DRIVERS_H

#include "tally.h"

struct tl_spread_driver {
    size_t input;
    double worse; /* rank correlation, -1 .. 1; above 0: more of it is worse */
};

/* At most `most` of them whose correlation is `weak` or more, into `out`; how many there are. */
size_t tl_spread_drivers(const struct tl_tally *t, enum tl_limit_id limit, double weak,
                         struct tl_spread_driver *out, size_t most);

/* "un-ionised ammonia" */
const char *tl_spread_limit_name(enum tl_limit_id id);
/* Values below the limit are the bad ones. */
bool tl_spread_limit_is_below(enum tl_limit_id id);
/* "parameters.mu_aob" -> "mu_aob" */
const char *tl_spread_input_name(const struct tl_spread_input *input);

#endif
