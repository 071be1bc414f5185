/* What a keeper asks of a run's days: when oxygen is least and carbon dioxide most, what chlorine did,
 * when ammonia peaks in spring. Fed with the judge's samples of the tank, every 5 minutes or finer. */
#ifndef TOWERLOOP_DAILY_H
#define TOWERLOOP_DAILY_H

#include <stdbool.h>

#include "towerloop/model.h"

/* From this much warming on a run has a spring; judgement. */
#define TL_SPRING_K 8.0

/* A calendar day, as far as it was sampled; concentrations in g/m3. */
struct tl_day {
    double o2, o2_d; /* least, and when */
    double co2_least, co2_most, co2_most_d;
    double ph_least, ph_least_d, ph_most;
};

struct tl_daily {
    struct tl_day worst;         /* the day of least oxygen with fish in; all NAN: none were */
    double chlorine, chlorine_d; /* most in the tank at once, and when; NAN: there was none */
    double spring_tan, spring_d; /* most ammonia between the coldest day and the warmest after it,
                                      and when; NAN: no spring */
    double spring_degC;          /* of the water then */

    /* --- on the way --- */
    struct tl_day day;
    double midnight;
    double sum_degC, samples; /* of the day */
    double coldest_degC, warmest_degC;
    double peak_tan, peak_d, peak_degC; /* since the coldest day, not yet before a warmer one */
};

void tl_daily_init(struct tl_daily *d);
/* The tank at out->t_d (rising), as tl_model_glance() gives it; `occupied`: fish are in, or are never. */
void tl_daily_add(struct tl_daily *d, const struct tl_snapshot *s, bool occupied);
void tl_daily_finish(struct tl_daily *d);

#endif
