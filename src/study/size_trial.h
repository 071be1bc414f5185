/* One trial of a sizing: the scenario with some keys changed, run, and how much every limit has to spare.
 * Trials that were run are kept in a file, so that the same command goes on from there. */
#ifndef TL_SIZE_TRIAL_H
#define TL_SIZE_TRIAL_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <threads.h>

#include "towerloop/assess.h"
#include "towerloop/scenario.h"

enum tl_trial_end {
    TL_TRIAL_RAN,
    TL_TRIAL_REFUSED, /* no scenario can have these values */
    TL_TRIAL_FAILED   /* the solver gave up, or no steady day was found */
};

#define TL_SIZE_HEAT_BAND_DEGC                                                                     \
    1.0 /* from freezing or a limit of temperature: so far away all is to spare */

/* What a verdict has no limit for is held to one of its own: ice by how far the water stays above freezing,
 * a heater by the hours it is too weak, hydrogen sulfide by the longest spell without oxygen and nitrate,
 * clogging by the voids that are filled, medicine by the highest content of which anything is known. id, name,
 * unit */
#define TL_SIZE_OWN_LIST(X)                                                                        \
    X(TL_SIZE_ICE, "ice on the water", "h")                                                        \
    X(TL_SIZE_HEATER_SHORT, "heater too weak", "h")                                                \
    X(TL_SIZE_SULFIDE, "hydrogen sulfide", "h without oxygen and nitrate")                         \
    X(TL_SIZE_PONDED, "water stands on trays", "% of voids")                                       \
    X(TL_SIZE_MEDICINE, "too much medicine", "mg/L")

enum tl_size_limit_id {
    TL_SIZE_BEFORE_OWN = TL_NLIMIT - 1,
#define TL_SIZE_ENUM(id, name, unit) id,
    TL_SIZE_OWN_LIST(TL_SIZE_ENUM)
#undef TL_SIZE_ENUM
        TL_NSIZE_LIMIT
};

/* A limit is its caution value, or its danger value where there is no other. What it has to spare is a
 * share of it: 0.1 where the worst value stays a tenth away, 0 at the limit, below 0 beyond it. Of pH
 * it is a share of the way from the lower to the upper limit, of the temperature a share of 1 degC. */
struct tl_size_trial {
    enum tl_trial_end end;
    bool fish_lost;
    bool unready; /* the run's filter, which began new or seeded, is not shown to be ready */
    double spare[TL_NSIZE_LIMIT]; /* NAN: there is no such limit, or it was not judged */
    double worst[TL_NSIZE_LIMIT];
    double level[TL_NSIZE_LIMIT];
    double
        least; /* of `spare`, at most -1 when fish are lost or it did not run; NAN: no limit at all */
    int tightest, next;        /* the limits with least to spare; -1: none */
    double outside[TL_NRANGE]; /* furthest value outside a published range; NAN: it stayed inside */
    size_t steady_days;        /* it took to find the steady day; 0: the run itself was judged */
    double drain_every_d, full_after_d; /* the chamber, as tl_steady; NAN: the run was judged */
    char why[160];                      /* it did not run */
};

/* Whether every limit has `margin` to spare; a tank without fish, where no limit is judged, is no answer. */
bool tl_size_holds(const struct tl_size_trial *t, double margin);
/* Whether an equation was used outside the range it was published for. */
bool tl_size_outside(const struct tl_size_trial *t);
/* From a run that was judged. */
void tl_size_judge(const struct tl_verdict *v, const struct tl_limits *limits, bool fish_lost,
                   struct tl_size_trial *out);

/* Adds the weather's limits over a run of `length_d`, with the heater `keeps` where there is one. */
void tl_size_judge_heat(const struct tl_heat_summary *h, bool keeps, double length_d,
                        struct tl_size_trial *out);
/* Adds those of the media. */
void tl_size_judge_media(const struct tl_bed_result *bed, const struct tl_solids_result *solids,
                         struct tl_size_trial *out);

/* Adds medicine that is given with fish in the water, where it is too much. */
void tl_size_judge_medicine(const struct tl_setup *s, struct tl_size_trial *out);

/* Where trials are made. */
struct tl_size_bench {
    const char *file;       /* of the scenario */
    const char *const *set; /* KEY=VALUE, carried out before those of a trial */
    size_t sets;
    bool steady; /* the day that repeats itself is judged, not the run */
    double rtol; /* 0: the default */
    const volatile int *interrupted;
    const char *store; /* path of the file of trials; NULL: they are not kept */
    /* called after each trial, by one thread at a time, with what was counted; may be NULL */
    void (*progress)(void *arg, const struct tl_size_bench *b);
    void *progress_arg;
    /* its own */
    mtx_t lock;
    json_t *kept;
    size_t trials, runs; /* runs: how many had to be run */
    size_t done, of;     /* searches; of: 0 where there is only one */
};

/* One of the searches has come to its end. */
void tl_size_bench_count(struct tl_size_bench *b);

/* Reads the trials that are kept, if they are of the same build. Fill in the upper part first. TL_OK or
 * TL_E_MEMORY; tl_size_bench_close() is due afterwards. */
int tl_size_bench_open(struct tl_size_bench *b);
void tl_size_bench_close(struct tl_size_bench *b);

/* Try the scenario with these settings; from any thread. TL_OK, also where the trial did not run, which
 * out->end says; TL_E_INTERRUPTED, TL_E_IO (the trial cannot be kept; errno says why) or TL_E_MEMORY. */
int tl_size_try(struct tl_size_bench *b, const char *const *set, size_t sets,
                struct tl_size_trial *out);
/* Read the scenario with these settings, as a trial does. As tl_scenario_read(). */
int tl_size_read(const struct tl_size_bench *b, const char *const *set, size_t sets,
                 struct tl_scenario *out, struct tl_diag *diag);

#endif
