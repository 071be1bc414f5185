/* What the levers of the advice have in common, and those of them that work on the heat of the water. A
 * lever pulls on a copy of the scenario and says so in words; it is false where there is nothing to pull,
 * or where it is known beforehand that it cannot help. */
#ifndef TL_LEVERS_H
#define TL_LEVERS_H

#include <stdbool.h>

#include "towerloop/assess.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"

#define TL_LIMIT_BIT(limit) (1u << (limit))
#define TL_ICE              TL_NLIMIT /* stands beside the limits as something to help against */

/* What a lever may look at. */
struct tl_question {
    const struct tl_assessment *base;
    enum tl_limit_id worst;
    unsigned against;          /* limits, and ice, that help is sought against, as bits */
    enum tl_unit_system units; /* of its words */
};

void tl_lever_say(char *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

struct tl_lever_figure {
    char text[40];
};
/* So many digits, and never a power of ten. */
struct tl_lever_figure tl_lever_figure(double x, int digits);
/* Two digits and the unit. */
struct tl_lever_figure tl_lever_amount(const struct tl_question *q, enum tl_dim dim,
                                       double base_value);
/* Up to two digits: nobody weighs salt to the gram. */
double tl_lever_round2(double x);

/* Oxygen transfer of an aerator for the fish at the start, g/d: about what they use at rest. */
double tl_lever_aerator_g_d(const struct tl_setup *s);
/* One more event, all zero; NULL: no memory. */
struct tl_event *tl_lever_append_event(struct tl_scenario *s);

bool tl_lever_heat(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_heat_less(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_keep_heating(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_rest_tower(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_cover(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_uncover(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_insulate(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_shade_water(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_temper(const struct tl_question *q, struct tl_scenario *s, char *text);
bool tl_lever_smaller_changes(const struct tl_question *q, struct tl_scenario *s, char *text);

#endif
