/* What a run takes and what that costs: arithmetic on the scenario and on what the run was given.
 *
 *   feed         as given, uneaten feed and extra meals included
 *   water        trickle x time + regular changes + changes by events + chambers refilled; what replaces
 *                evaporation, where that is worked out from the weather
 *   energy       watts x hours in which the pump moves water, the aerator brings oxygen; of several
 *                pumps each takes its share of the watts, fouled or not; what the heater gave
 *   fish         the greatest mass stocked at any time, as the scenario gives it: without growth
 *   whole run    the tower built, and what the run takes from start to end
 *   a month      what the last month with fish takes, see given.h. Where that is shorter than 30 d the
 *                rest is taken to go on as it ends: the same feed a day, water and baking soda by the
 *                plan, pump and aerator as they run then. What events do (outages, doses, changes of
 *                water, chambers cleaned) counts once. A heater counts with the month of the run in which
 *                it takes most: a run that ends in May says nothing of January.
 *
 * A price that is not given is not counted; with no price at all a sum is NAN. */
#ifndef TL_COSTS_H
#define TL_COSTS_H

#include "towerloop/given.h"
#include "towerloop/heat_course.h"
#include "towerloop/scenario.h"

struct tl_amounts { /* NAN where it cannot be told */
    double feed_kg, water_m3, baking_soda_kg, salt_kg;
    double pump_kwh, aerator_kwh;
    double heater_kwh; /* 0 without a heater */
    bool outdoors;     /* the temperature follows from the weather; then, of the whole run: */
    struct tl_heat_summary heat;
    double fish_kg;
};

struct tl_bill { /* in the user's currency */
    double build;
    double month;
    double running;      /* what the run takes from start to end, without the tower */
    double whole_run;    /* both of them */
    double month_per_kg; /* of fish; NAN unless the run stays within its limits */
};

/* Over the whole run, and over a month. TL_OK, TL_E_MEMORY, or what the model that works out the heat was
 * refused with. */
int tl_amounts_of(const struct tl_scenario *s, const struct tl_given *given,
                  struct tl_amounts *out);
int tl_amounts_of_month(const struct tl_scenario *s, const struct tl_given *given_a_month,
                        struct tl_amounts *out);
/* `within`: the run stays within its limits. */
void tl_bill_of(const struct tl_scenario *s, const struct tl_amounts *run,
                const struct tl_amounts *month, bool within, struct tl_bill *out);
/* Energy where it is known: pump, aerator and heater. NAN: none of them. */
double tl_amounts_kwh(const struct tl_amounts *a);

#endif
