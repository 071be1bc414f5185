/* The fish as the scenario gives them, from change to change: what they weigh when they come, without
 * growth. */
#ifndef TOWERLOOP_STOCK_H
#define TOWERLOOP_STOCK_H

#include "towerloop/setup.h"

struct tl_stock {
    double from_d; /* to the next one's from_d; the last to the end of the run */
    double kg;
};

/* The events in order of time; those of one instant as in the file. Caller frees. TL_OK or TL_E_MEMORY. */
int tl_events_by_time(const struct tl_setup *s, const struct tl_event ***out);
/* At least one: the first is from the start of the run. Caller frees. TL_OK or TL_E_MEMORY. */
int tl_stock_of(const struct tl_setup *s, struct tl_stock **out, size_t *n);

#endif
