/* The upkeep of a loop by date: what the scenario plans, what a run shows to be due, and when to test the
 * water. A run is watched day by day; the jobs follow from its days. */
#ifndef TOWERLOOP_UPKEEP_H
#define TOWERLOOP_UPKEEP_H

#include <stdbool.h>
#include <stdio.h>

#include "towerloop/model.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"

/* --- the days of a run ---------------------------------------------------------------------------- */

/* A day from midnight to midnight, as far as it was sampled. */
struct tl_upkeep_day {
    int samples;
    double alk_least_eq_m3;  /* of the tank */
    double tan_most_gN_m3;   /* total ammonia of the tank, of a moment */
    double nh3_most_gN_m3;   /* its un-ionised part */
    double no2_most_gN_m3;   /* nitrite of the tank */
    double ph_most;          /* of the tank */
    double water_least_degC; /* of the loop */
    double water_most_degC;
    double air_least_degC; /* while water crosses the tower; INFINITY: never, or no weather */
    /* as the day begins */
    double chamber_filled; /* by packed sludge, share of its volume */
    double top_cover;      /* of the top tray by algae, 0..1 */
    /* over the day */
    double top_up_m3; /* source water for what evaporates; 0 without weather */
    double fed_g;
    double fish_kg; /* the most at a time of it */
};

struct tl_upkeep {
    struct tl_upkeep_day *day; /* by the day of the run, 0 the first */
    size_t days;
    double
        *voids_filled; /* of each tray as each day begins, share; trays of day 0, of day 1, ... */
    int trays;
    struct tl_upkeep_dose { /* given, as the totals show */
        double at_d, mass_g;
        enum tl_dose dose;
        bool held; /* by the plan that holds the alkalinity */
    } * dose;
    size_t doses, room;
    double fed_g, held_g, dosed_g[TL_NDOSE]; /* totals so far */
};

/* Nothing seen yet; room for the days of a model. TL_OK or TL_E_MEMORY. */
int tl_upkeep_begin(struct tl_upkeep *u, const struct tl_model *m);
/* A sample (rising times): a glance at the tank, the state proper `y` of the same instant, and a state
 * that has the running totals. TL_OK or TL_E_MEMORY. */
int tl_upkeep_see(struct tl_upkeep *u, const struct tl_model *m, const struct tl_snapshot *glance,
                  const double *y, const double *totals);
void tl_upkeep_free(struct tl_upkeep *u);
/* Of a tray's voids as a day begins, share; tray from 1, 0: of the fullest. 0 where nothing is known. */
double tl_upkeep_voids_filled(const struct tl_upkeep *u, size_t day, int tray);

/* --- the jobs --------------------------------------------------------------------------------------- */

/* id, word in calendar.csv, dimension of the amount */
#define TL_JOB_LIST(X)                                                                             \
    X(FISH_IN, "fish arrive", TL_DIM_NUMBER)                                                       \
    X(FISH_OUT, "fish leave", TL_DIM_NUMBER)                                                       \
    X(DECHLORINATE, "dechlorinate", TL_DIM_MASS)                                                   \
    X(CHANGE_WATER, "change water", TL_DIM_VOLUME)                                                 \
    X(DOSE, "dose", TL_DIM_MASS)                                                                   \
    X(EMPTY_CHAMBER, "empty chamber", TL_DIM_VOLUME)                                               \
    X(RINSE_TRAY, "rinse tray", TL_DIM_NUMBER)                                                     \
    X(HOSE_TRAY, "hose tray", TL_DIM_NUMBER)                                                       \
    X(CLEAN_PUMP, "clean pump", TL_DIM_NUMBER)                                                     \
    X(RATION, "change ration", TL_DIM_NUMBER)                                                      \
    X(STOP_FEEDING, "stop feeding", TL_DIM_NUMBER)                                                 \
    X(FEED_AGAIN, "feed again", TL_DIM_NUMBER)                                                     \
    X(HEATER, "check heater", TL_DIM_NUMBER)                                                       \
    X(FROST, "before frost", TL_DIM_NUMBER)                                                        \
    X(TEST, "test water", TL_DIM_NUMBER)

enum tl_job_kind {
#define TL_JOB_ENUM(id, word, dim) TL_JOB_##id,
    TL_JOB_LIST(TL_JOB_ENUM)
#undef TL_JOB_ENUM
        TL_NJOB
};

/* id, word in calendar.csv */
#define TL_JOB_FROM_LIST(X)                                                                        \
    X(PLAN, "scenario")     /* its events and plans */                                             \
    X(RUN, "run")           /* due, as the run shows */                                            \
    X(PRACTICE, "practice") /* common practice */

enum tl_job_from {
#define TL_JOB_FROM_ENUM(id, word) TL_JOB_FROM_##id,
    TL_JOB_FROM_LIST(TL_JOB_FROM_ENUM)
#undef TL_JOB_FROM_ENUM
        TL_NJOB_FROM
};

/* From these on something is due; judgement. Rates at which a loop fills are in the run. */
#define TL_DUE_CHAMBER_FILLED 0.5
#define TL_DUE_TRAY_FILLED    0.25
#define TL_DUE_TOP_COVER      0.5
#define TL_DUE_PUMP_KEPT      0.8
/* What one dose of baking soda may add to the alkalinity, eq/m3: 30 mg/L as CaCO3; judgement. Less where
 * ammonia asks for it. */
#define TL_DUE_SODA_EQ_M3 0.6

/* Why the water is tested: once a week, or daily. */
enum tl_test_why {
    TL_TEST_WEEKLY,
    TL_TEST_NEW_FILTER,
    TL_TEST_NEW_FISH,
    TL_TEST_FED_AGAIN,
    TL_TEST_MEDICINE, /* or film that was knocked out otherwise */
    TL_TEST_DEAD_FISH,
    TL_TEST_STOOD, /* a filter without water or power, or just back */
    TL_TEST_DANGER /* the run is beyond danger of ammonia, nitrite or alkalinity */
};

struct tl_job {
    double t_d;   /* days since day 0 */
    bool all_day; /* any time of the day that begins at t_d */
    enum tl_job_kind kind;
    enum tl_job_from from;
    double amount;                /* base unit of the kind's dimension; NAN: none */
    double figure;                /* what the run has then, and what its reason is; NAN: unknown.
                                     TEST: enum tl_test_why; DECHLORINATE by an event: what the
                                     water that is let in with it takes, g */
    int tray;                     /* RINSE_TRAY, HOSE_TRAY: from 1; 0: all of them */
    bool held_back;               /* DOSE: due, but first the ammonia has to come down */
    double most_tan_gN_m3;        /* DOSE from a run: only while total ammonia is no more; NAN:
                                     whatever it is, there are no fish */
    bool bit_by_bit;              /* DECHLORINATE: for the water that runs in over a week */
    const struct tl_event *event; /* of the scenario; NULL: none */
};

/* Of the sodium thiosulfate that is needed; a scenario that plans less is told what it takes. */
#define TL_DECHLORINATOR_ENOUGH 0.99

/* A filter that counts as ready may leave poison in the water. */
struct tl_after_ready {
    bool nh3, no2; /* un-ionised ammonia, nitrite are beyond caution on some day after it */
    double
        within_d; /* the first of a week of days in which neither is; NAN: there is none by the end */
};

struct tl_jobs {
    struct tl_job *job; /* by time, those of all day before those of an hour */
    size_t n, room;
    struct tl_after_ready after; /* of a filter that began new or seeded */
};

/* Draw up the jobs. `run` NULL: only what is planned, without what a run would show. `ready_d`: when a new
 * filter is ready, NAN: not; `end_d`: no job from there on. They point into the scenario. TL_OK or
 * TL_E_MEMORY, and then *out is empty. */
int tl_jobs_make(const struct tl_scenario *s, const struct tl_upkeep *run, double ready_d,
                 double end_d, struct tl_jobs *out);
void tl_jobs_free(struct tl_jobs *j);

struct tl_job_words {
    char what[192]; /* "change 1.8 m3 of water" */
    char why[256];  /* "15 % of the tank every 7 d" */
};
struct tl_job_words tl_job_words(const struct tl_scenario *s, const struct tl_job *j,
                                 enum tl_unit_system units);
const char *tl_job_word(enum tl_job_kind kind);
const char *tl_dose_name(enum tl_dose dose); /* "baking soda" */
enum tl_dim tl_job_dim(enum tl_job_kind kind);
const char *tl_job_from_word(enum tl_job_from from);

/* --- as files ----------------------------------------------------------------------------------------- */

/* calendar.csv: RFC 4180, metric, line feeds. The times of jobs of all day are dates. False when memory
 * ran out, also below. */
bool tl_jobs_write_csv(const struct tl_jobs *j, const struct tl_scenario *s, FILE *f);
/* calendar.ics: RFC 5545, in local time without a zone. Jobs of an hour begin then and last 15 min. The same
 * jobs give the same bytes. */
bool tl_jobs_write_ics(const struct tl_jobs *j, const struct tl_scenario *s, FILE *f);

#endif
