/* What a run takes and what that costs: arithmetic on the scenario and on the feed in the ledger.
 *
 *   feed         nitrogen fed / (protein x nitrogen in protein), uneaten feed and extra meals included
 *   water        trickle x length + regular changes + changes by events + chambers refilled
 *   energy       watts x hours in which the pump moves water, the aerator brings oxygen; of several
 *                pumps each takes its share of the watts, fouled or not
 *   fish         the greatest mass stocked at any time, as the scenario gives it: without growth
 *   a month      30 d of the run on average: what it takes / length x 30
 *   whole run    the tower built, and what the run takes from start to end
 *
 * A price that is not given is not counted; with no price at all a sum is NAN. */
#ifndef TL_COSTS_H
#define TL_COSTS_H

#include "towerloop/scenario.h"

#define TL_MONTH_D 30.0

struct tl_amounts { /* over the whole run; NAN where it cannot be told */
    double feed_kg, water_m3, baking_soda_kg, salt_kg;
    double pump_kwh, aerator_kwh;
    double fish_kg;
};

struct tl_bill { /* in the user's currency */
    double build;
    double month;
    double whole_run;
    double month_per_kg; /* of fish; NAN unless the run stays within its limits */
};

/* `fed_g_n` is the nitrogen of the feed by the ledger. TL_OK or TL_E_MEMORY. */
int tl_amounts_of(const struct tl_scenario *s, double fed_g_n, struct tl_amounts *out);
/* `within`: the run stays within its limits. */
void tl_bill_of(const struct tl_scenario *s, const struct tl_amounts *a, bool within,
                struct tl_bill *out);
/* Energy where it is known: pump, aerator or both. NAN: neither. */
double tl_amounts_kwh(const struct tl_amounts *a);

#endif
