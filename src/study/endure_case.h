/* What the files of the study of failures share: a scenario whose plans end at an instant. */
#ifndef TL_ENDURE_CASE_H
#define TL_ENDURE_CASE_H

#include "towerloop/endure.h"

#define TL_HOUR_D         (1.0 / 24)
#define TL_SAME_INSTANT_D 1e-9

/* Nothing planned for `at_d` or later happens, but for fish that come at that instant, and what lasts for a time ends there. */
void tl_endure_plan_nothing_after(struct tl_setup *s, double at_d);

/* What a change that an event made for good set, or `from_start`: of the events of kind `sets`, and of
 * kind `restores`, which brings `from_start` back (TL_NEVENT: there is no such kind). */
double tl_endure_standing(const struct tl_setup *s, enum tl_event_kind sets,
                          enum tl_event_kind restores, double from_start);

/* What the weather makes of the water as the scenario stands becomes readings; the weather stays beside
 * them, for a case to be worked out anew from it. TL_OK, TL_E_MEMORY, or what the model was refused with. */
int tl_endure_keep_course(struct tl_setup *s);

/* A result of which nothing is known. */
void tl_endured_nothing(struct tl_endured *out);

/* A row of a card, at all hours for which it is tried: the soonest times and the lowest oxygen of them; nothing
 * where only one start is asked about, and of the failure whose starts were tried before. Status as tl_endure_run(). */
int tl_endure_try_row(const struct tl_endure_study *s, enum tl_endure_row row,
                      const volatile int *interrupted, struct tl_endured *out);

/* Let a scenario fail at `at_d` as the case says, and end when what follows is over. TL_OK, TL_E_MEMORY, or what the
 * model was refused with. */
int tl_endure_fail(struct tl_setup *s, double at_d, const struct tl_endure_case *c);
/* Temperature, flow and aerator at w->at_d, as the plan has them. As above. */
int tl_endure_look_up(const struct tl_setup *setup, struct tl_worst_hour *w);

/* What a case that was judged says of the water's temperature. */
struct tl_endure_frost tl_endure_frost_of(const struct tl_endured *e, const struct tl_limits *l);
/* Of the starts that were tried, the one that is worst for each matter. */
void tl_endure_rank(struct tl_endure_starts *s);

#endif
