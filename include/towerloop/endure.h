/* How long a loop endures a failure of its pump, its aerator or the power, and what helps.
 *
 * Nothing here is a model of its own: each case is the scenario with a few events more, run by the
 * engine. A failure begins with the worst hour of the scenario's last whole day and lasts for the
 * outage; what the scenario plans for later is left out, and what it had changed for a time is as it
 * was before. Meals, trickle and water changes go on. */
#ifndef TOWERLOOP_ENDURE_H
#define TOWERLOOP_ENDURE_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/engine.h"
#include "towerloop/scenario.h"

/* id, name, what it is in words */
#define TL_FAILURE_LIST(X)                                                                         \
    X(TL_FAILURE_POWER, "power", "pump and aerator stop")                                          \
    X(TL_FAILURE_PUMP, "pump", "only the pump stops")                                              \
    X(TL_FAILURE_AERATOR, "aerator", "only the aerator stops")                                     \
    X(TL_FAILURE_HALF, "half", "one of two half-size pumps stops")

enum tl_failure {
#define TL_FAILURE_ENUM(id, name, words) id,
    TL_FAILURE_LIST(TL_FAILURE_ENUM)
#undef TL_FAILURE_ENUM
        TL_NFAILURE
};
const char *tl_failure_name(enum tl_failure f);
const char *tl_failure_words(enum tl_failure f);

/* --- when it fails ------------------------------------------------------------------------------ */

struct tl_worst_hour {
    double at_d; /* days since day 0: the failure begins */
    double o2;   /* mean over the hour from there, g/m3 */
    double temperature_degC;
    double fish_kg;
    double flow_m3_d; /* what the pump and the aerator did just before */
    double aerator_g_d;
};

/* Follow the scenario to the hour of its last whole day whose mean oxygen is lowest, or to the
 * instant `clock_d` (0..1, share of that day) unless that is NAN. TL_OK; TL_E_INPUT with a reason in
 * `why` (no whole day, no fish); TL_E_SOLVER with one; TL_E_INTERRUPTED; TL_E_MEMORY. */
int tl_endure_find(const struct tl_scenario *s, double clock_d, const volatile int *interrupted,
                   struct tl_worst_hour *out, char why[TL_FAULT_SIZE]);

/* --- one case ----------------------------------------------------------------------------------- */

struct tl_endure_case {
    enum tl_failure fails;
    double outage_d; /* > 0 */
    double follow_d; /* how long it is followed after the outage, >= 0 */
    double fish;     /* share of the scenario's fish and of feed given by mass; 1 = as they are */
    double warmer_degC;
    bool feed_stopped;  /* from the failure until the power is back */
    double extra_g_d;   /* an emergency aerator, its transfer as that of `aerator` */
    double extra_for_d; /* how long it runs; at most the outage counts */
};

#define TL_ENDURE_STAGES 4 /* of the film: after 2, 6, 12 and 24 h */
extern const double tl_endure_stage_d[TL_ENDURE_STAGES];

/* Guilds of the film, in the order of the arrays below: ammonia oxidisers, nitrite oxidisers,
 * heterotrophs. */
#define TL_ENDURE_GUILDS 3

/* Concentrations in g/m3 (nitrogen as N); NAN: not to be told. Minutes count from the failure and are
 * INFINITY when the outage ends before. */
struct tl_endured {
    double o2_before;
    double caution_min, danger_min, lost_min; /* oxygen below the limits and the critical value */
    double lowest_o2;                         /* until the power is back */
    double film_left[TL_ENDURE_GUILDS];       /* in the trays when the power is back, 1 = all */
    double stage_left[TL_ENDURE_STAGES][TL_ENDURE_GUILDS]; /* NAN beyond the outage */
    /* highest in the tank from the failure on */
    double peak_tan, peak_nh3, peak_no2;
    /* Days from the end of the outage until un-ionised ammonia, nitrite and oxygen are back beyond no
     * caution limit for good, or back where they were on the day before the failure if that was
     * beyond. INFINITY: not in the days followed; NAN: nothing followed, or fish were lost. */
    double nh3_back_d, no2_back_d, o2_back_d;
    /* the course of oxygen: at 0, 1, … times TL_ENDURE_CURVE_MIN after the failure */
    double *curve_o2;
    size_t curve_points;
    char fault[TL_FAULT_SIZE]; /* why this case could not be reckoned to its end; empty: it was */
};

#define TL_ENDURE_CURVE_MIN 5.0

/* Run one case. TL_OK (look at out->fault), TL_E_INTERRUPTED or TL_E_MEMORY. */
int tl_endure_run(const struct tl_scenario *s, const struct tl_worst_hour *when,
                  const struct tl_endure_case *c, const volatile int *interrupted,
                  struct tl_endured *out);
void tl_endured_free(struct tl_endured *e);

/* The least transfer of an emergency aerator that keeps oxygen out of danger through the outage of
 * `c`, to one part in a hundred, on the safe side; 0 when none is needed, INFINITY when none will do.
 * Status as above. */
int tl_endure_need(const struct tl_scenario *s, const struct tl_worst_hour *when,
                   const struct tl_endure_case *c, const volatile int *interrupted,
                   double *transfer_g_d);

#endif
