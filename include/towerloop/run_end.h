/* A run that ends in the middle of an event: a failure that lasts to its end, or something that harms later and
 * came shortly before. What comes after is in no figure of the run, so none of it is known to be borne. */
#ifndef TOWERLOOP_RUN_END_H
#define TOWERLOOP_RUN_END_H

#include <stdbool.h>

#include "towerloop/setup.h"

struct tl_text;

/* By the scenario alone, where there are fish at some time. For less than two weeks before the end: the pump (or two
 * thirds of its flow), the water to the tower, the heater or the power is off; fish came by half as many again, or
 * get half as much again to eat; medicine was given, film was knocked out or rinsed with chlorine. For less than
 * a day: the aerator is off; fish came or died; ammonium chloride or salt that kills film was dosed, or
 * water with chlorine came in without thiosulfate. */
bool tl_run_ends_in_event(const struct tl_setup *s);
/* A sentence that says which and for how much longer the run should go on; nothing where there is none.
 * Appended, after a blank where the text is not empty. */
void tl_run_end_say(const struct tl_setup *s, struct tl_text *out);

#endif
