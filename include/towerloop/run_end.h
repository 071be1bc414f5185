/* A run that ends in the middle of an event: a failure that lasts to its end, or something that harms later and
 * came shortly before. What comes after is in no figure of the run, so none of it is known to be borne. */
#ifndef TOWERLOOP_RUN_END_H
#define TOWERLOOP_RUN_END_H

#include <stdbool.h>

#include "towerloop/setup.h"

struct tl_text;

/* By the scenario alone, where there are fish at some time: the pump, the water to the tower or the power is off at
 * the end for less than two weeks, or the aerator for less than a day; or within the last day fish came, died or
 * got half as much again to eat, ammonium chloride, a medicine or salt that kills film was dosed, film was
 * knocked out or rinsed with chlorine, or water with chlorine came in without thiosulfate. */
bool tl_run_ends_in_event(const struct tl_setup *s);
/* A sentence that says which and for how much longer the run should go on; nothing where there is none.
 * Appended, after a blank where the text is not empty. */
void tl_run_end_say(const struct tl_setup *s, struct tl_text *out);

#endif
