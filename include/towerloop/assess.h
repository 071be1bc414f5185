/* One run, judged: engine, verdict, published ranges and ledger together. Every study is made of
 * these. */
#ifndef TOWERLOOP_ASSESS_H
#define TOWERLOOP_ASSESS_H

#include "towerloop/algae.h"
#include "towerloop/bed.h"
#include "towerloop/daily.h"
#include "towerloop/engine.h"
#include "towerloop/extremes.h"
#include "towerloop/given.h"
#include "towerloop/heat_course.h"
#include "towerloop/ledger.h"
#include "towerloop/ranges.h"
#include "towerloop/shock_watch.h"
#include "towerloop/solids.h"
#include "towerloop/still_watch.h"
#include "towerloop/summary.h"
#include "towerloop/upkeep.h"
#include "towerloop/verdict.h"

struct tl_assessment {
    struct tl_verdict verdict;
    struct tl_ranges ranges;
    struct tl_extremes extremes;
    struct tl_given_watch given;
    struct tl_ledger ledger;
    struct tl_engine_stats stats;
    struct tl_algae_result algae;
    struct tl_bed_result bed;
    struct tl_shocks shocks;
    struct tl_stills stills;
    struct tl_solids_result solids; /* not of a run that failed */
    struct tl_limiting limiting;    /* at the moment of most ammonia in the tank */
    struct tl_daily daily;
    struct tl_doses doses;  /* not of a run that failed */
    double fish_lost_d;     /* NAN: never */
    double end_d;           /* where the run ended */
    double last_flow_m3_d;  /* what the pump moved there */
    double least_flow_m3_d; /* the least that is planned while it runs */
    bool outdoors;          /* the temperature followed from the weather; then: */
    struct tl_heat_summary heat;
    char fault[TL_FAULT_SIZE]; /* of the solver or the ledger, when that is what was returned */
};

struct tl_assess_options {
    double rtol;                        /* 0: the default */
    const struct tl_observer *observer; /* more of them, a recorder for instance; may be NULL */
    size_t observers;                   /* at most TL_ASSESS_OBSERVERS */
    struct tl_upkeep *upkeep;  /* filled day by day, the caller frees it; NULL: not followed */
    const double *start_state; /* as of the engine; NULL: that of the setup */
    const volatile int *interrupted;
    void (*progress)(void *arg, double done);
    void *progress_arg;
};

#define TL_ASSESS_OBSERVERS 4

/* A run that is judged on its way and can be held anywhere. `m` and what the observers point to must
 * outlive it. */
struct tl_trial;

/* `options` may be NULL. TL_OK, TL_E_MEMORY, or TL_E_INPUT for too many observers. */
int tl_trial_new(const struct tl_model *m, const struct tl_limits *limits,
                 const struct tl_assess_options *options, struct tl_trial **out);
/* As tl_engine_advance(). */
int tl_trial_advance(struct tl_trial *t, double t_d);
const struct tl_engine *tl_trial_engine(const struct tl_trial *t);
/* Judge what was run; once, and nothing can be advanced after it. `status` is how the last advance
 * ended: anything but TL_OK is returned again, with the solver's reason in out->fault and no ledger
 * drawn up. Otherwise TL_OK, or TL_E_LEDGER with the reason there. */
int tl_trial_finish(struct tl_trial *t, int status, struct tl_assessment *out);
void tl_trial_free(struct tl_trial *t);

/* Run the model to its end and judge it. TL_OK; TL_E_SOLVER or TL_E_LEDGER with the reason in
 * out->fault; TL_E_INTERRUPTED; TL_E_MEMORY; TL_E_INPUT for too many observers; or an observer's
 * code. `options` may be NULL. */
int tl_assess(const struct tl_model *m, const struct tl_limits *limits,
              const struct tl_assess_options *options, struct tl_assessment *out);

/* What a summary says of a run, as far as its assessment knows it; both must outlive it. Advice, jobs, warnings,
 * the spread and the tolerance are the caller's to add. */
struct tl_outcome tl_assessment_outcome(const struct tl_assessment *a, const struct tl_scenario *s);

#endif
