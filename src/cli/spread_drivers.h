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

/* The same of the sensitivity indices, by the total one, the largest first: at most `most` inputs of a total
 * of `weak` or more. None where they are not told. */
size_t tl_spread_shares(const struct tl_tally *t, const struct tl_indices *found, double weak,
                        size_t *out, size_t most);

/* Whether they are worth a number: known, with an error of TL_SPREAD_UNKNOWN at most, from TL_SPREAD_POINTS base points
 * or more, as fewer leave the error itself unknown. */
#define TL_SPREAD_UNKNOWN 0.25
#define TL_SPREAD_POINTS  (2 * TL_TALLY_GROUPS)
bool tl_spread_shares_told(const struct tl_tally *t, const struct tl_indices *found);
/* The largest standard error of an index; 0 where they are not known. */
double tl_spread_shares_error(const struct tl_tally *t, const struct tl_indices *found);

/* The first-order index for people: by chance an estimate may lie below 0, or above that of the total. */
double tl_spread_alone(const struct tl_index *x);

/* "un-ionised ammonia" */
const char *tl_spread_limit_name(enum tl_limit_id id);
/* Values below the limit are the bad ones. */
bool tl_spread_limit_is_below(enum tl_limit_id id);
/* "parameters.mu_aob" -> "mu_aob" */
const char *tl_spread_input_name(const struct tl_spread_input *input);
/* "how fast ammonia-eating bacteria grow (mu_aob)"; the name alone where there are no words. */
enum { TL_SPREAD_LABEL = TL_SPREAD_WORDS + TL_SPREAD_PATH + 4 };
void tl_spread_label(const struct tl_spread_input *input, char label[TL_SPREAD_LABEL]);

#endif
