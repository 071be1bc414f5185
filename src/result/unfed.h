/* Fish that get nothing to eat in a run, or nothing any more. */
#ifndef TL_UNFED_H
#define TL_UNFED_H

#include "towerloop/setup.h"

struct tl_text;

/* A sentence where fish are in at some time and nothing is fed in the whole run, or where a log of meals tells nothing
 * of the first or the last TL_UNFED_DAYS days or more. Appended, after a blank where the text is not empty. */
#define TL_UNFED_DAYS 3 /* judgement: ammonia follows the feed within days */
void tl_unfed_say(const struct tl_setup *s, struct tl_text *out);

#endif
