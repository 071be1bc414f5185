/* Everything known after a run, and its two written forms: summary.json and the text for the
 * terminal. */
#ifndef TOWERLOOP_SUMMARY_H
#define TOWERLOOP_SUMMARY_H

#include <stdio.h>

#include "towerloop/algae.h"
#include "towerloop/bed.h"
#include "towerloop/daily.h"
#include "towerloop/engine.h"
#include "towerloop/extremes.h"
#include "towerloop/given.h"
#include "towerloop/heat_course.h"
#include "towerloop/ledger.h"
#include "towerloop/ranges.h"
#include "towerloop/scenario.h"
#include "towerloop/shock_watch.h"
#include "towerloop/solids.h"
#include "towerloop/still_watch.h"
#include "towerloop/units.h"
#include "towerloop/upkeep.h"
#include "towerloop/verdict.h"

struct tl_text;

struct tl_build { /* what made the program; static strings */
    const char *version, *commit, *compiler, *gsl;
    /* "scalar, x86 avx512f fma": how many loops a vector held - "scalar": one, each by itself - and
     * the features of the processor by which the C library picks its functions; both can change the
     * last digits of a run. */
    const char *dispatch;
};
/* For a run by itself, or for runs side by side in the lanes of a level: "scalar", "baseline", "avx2",
 * "avx512". */
void tl_build_info(struct tl_build *b);
void tl_build_info_at(struct tl_build *b, const char *level);

struct tl_advice_text {  /* a lever that was tried and helped */
    const char *lever;   /* what to do */
    const char *because; /* what it changed */
    /* What it costs more, to build and over the whole run, by the scenario's prices; NAN: not known. */
    double build_more, run_more;
};

struct tl_spread_chance {
    size_t runs, of;
    double low, high; /* of the share, 90 % */
    char text[96];    /* "83 of 100 runs (90 % sure: 80 to 86)" */
};

struct tl_spread_verdict { /* what a spread of the same scenario found */
    enum tl_grade grade;
    size_t runs, inputs;
    struct tl_spread_chance within, danger;
    char but
        [96]; /* ", but so few runs can show no better; it takes 59": said in one breath with it; "": nothing */
};

struct json_t;

struct tl_outcome {
    const struct tl_scenario *scenario;
    const struct tl_verdict *verdict;
    const struct tl_ranges *ranges;
    const struct tl_extremes *extremes;
    const struct tl_given_watch *given;
    const struct tl_ledger *ledger;
    const struct tl_daily *daily; /* NULL: not followed; the same with the next */
    const struct tl_doses *doses;
    const struct tl_engine_stats *stats;
    const struct tl_heat_summary *heat;     /* NULL: the temperature was given */
    const struct tl_shocks *shocks;         /* NULL: not followed */
    const struct tl_stills *stills;         /* the same */
    const struct tl_algae_result *algae;    /* NULL, or not sunny: nothing is said of them */
    const struct tl_solids_result *solids;  /* NULL: not followed */
    const struct tl_bed_result *bed;        /* NULL: not followed */
    const struct tl_jobs *jobs;             /* by date; NULL: no calendar is written */
    const struct tl_advice_text *advice;    /* best first */
    const struct tl_spread_verdict *spread; /* NULL: it is not known how sure the verdict is */
    size_t advices;
    size_t tried;         /* levers that were, whether they helped or not */
    const char *limiting; /* what holds the tower back, in words; NULL or \"\": not in question */
    const char *const *warning; /* messages a reader of the result needs */
    size_t warnings;
    double fish_lost_d;     /* first moment oxygen is too low for carp to live; NAN: never */
    double end_d;           /* last instant of the run, days since day 0 */
    double last_flow_m3_d;  /* of the pump at that instant */
    double least_flow_m3_d; /* of the pump while it runs */
    struct json_t *written; /* object: checksum of each file beside it; NULL: none is told */
    double rtol;            /* relative tolerance the user asked for; 0: the default */
};

/* The verdict over everything: a run that left a published range or whose water froze is never "within
 * limits"; one in which hydrogen sulfide can form, water stood on a clogged tray, medicine was given where
 * there are fish, or that ends in the middle of an event (run_end.h) is at least "caution"; one that lost
 * fish, had ice while fish were in, or got medicine beyond all that is known with fish in, is "danger"; none
 * is better than that of the spread. One of "within limits", "caution", "danger", "caution: outside published
 * range", "caution: effect of medicine not judged", "caution: ends in the middle of an event". */
const char *tl_outcome_verdict(const struct tl_outcome *o);
enum tl_grade tl_outcome_grade(const struct tl_outcome *o);
/* The same without the spread: with the scenario's own values. */
const char *tl_outcome_own_verdict(const struct tl_outcome *o);
enum tl_grade tl_outcome_own_grade(const struct tl_outcome *o);
/* Medicine is given, and there are fish at some time. */
bool tl_outcome_medicine(const struct tl_outcome *o);
/* What the verdict cannot tell: where it is not danger, of a run that has fish for less than two weeks, or none
 * at all, or ends before its new filter is shown to be ready; and of one with too much medicine or oxygen, or that
 * ends in the middle of an event. Sentences in plain words, empty where there is nothing to say. Caller frees. */
void tl_outcome_cannot_tell(const struct tl_outcome *o, struct tl_text *out);
/* Of these, the sentences that stand by any verdict. Appended, after a blank where the text is not empty. */
void tl_outcome_not_judged(const struct tl_outcome *o, struct tl_text *out);
/* The same of a run that has fish for so many days, or none; `empty`: of only a part of it;
 * `unready`: its filter is. */
void tl_run_cannot_tell(const struct tl_setup *s, double judged_d, bool empty, bool unready,
                        struct tl_text *out);
/* Films that began new or seeded, and no day on which the filter is ready (NAN). */
bool tl_filter_unready(const struct tl_setup *s, double ready_d);
/* Why such a filter is not, though its water is low, in plain sentences; empty otherwise. Caller frees. */
void tl_filter_unproven(const struct tl_verdict *v, struct tl_text *out);
/* A sentence about a dose of medicine beyond all that is known (tl_setup_overdose()), or nothing. Appended, after a
 * blank where the text is not empty. */
void tl_overdose_say(const struct tl_setup *s, struct tl_text *out);
/* How many model parameters differ from their defaults. */
int tl_outcome_parameters_changed(const struct tl_outcome *o);

/* The text of summary.json, closed by a line feed. Keys and their order: contract document, "Folder
 * of a run". 17 digits; null where there is no number. Caller frees. TL_OK or TL_E_MEMORY. */
int tl_summary_text(const struct tl_outcome *o, char **out);
/* The same as a file, which appears under `path` when whole. TL_OK, TL_E_IO (errno says why) or
 * TL_E_MEMORY. */
int tl_summary_write(const struct tl_outcome *o, const char *path);

/* At most 40 lines of at most 80 columns, 48 where there is heat to speak of, one more for each limit of
 * temperature, each line of what is not judged (tl_outcome_not_judged()) and each that a warning is longer than
 * usual. Lines end in a plain line feed; no colour. Concentrations are mg/L in both unit systems. False: memory
 * was short, and something is missing. */
bool tl_text_report(const struct tl_outcome *o, enum tl_unit_system units, FILE *f);

#endif
