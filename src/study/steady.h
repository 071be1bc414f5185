/* The day that repeats itself: the periodic steady state of a loop whose inputs are the same every day.
 *
 * One simulated day maps the state at its start to that at its end; the steady state is what the map
 * leaves alone. Plain days come near it slowly (films and sludge take months to years), so the days are
 * combined by Anderson acceleration (Walker & Ni 2011, SIAM J. Numer. Anal. 49:1715): each next state
 * is the mixture of earlier days that would have changed least.
 *
 * The search starts with mature films, whatever the run starts with: a loop that has run in.
 *
 * Sludge gathers in the settling chamber for years, and the fuller the chamber, the less settles in it:
 * it has to be drained. The steady day is that before a draining: inert sludge is held at what gathers
 * until sludge takes a tenth of the chamber, or in 90 days where that is sooner (common practice, no
 * source). A draining disturbs the loop for weeks, ammonia above all (what sludge gave off is missing, the
 * films come down to that, and then it comes back); so the steady day is judged together with the days
 * behind several drainings at that interval. */
#ifndef TL_STUDY_STEADY_H
#define TL_STUDY_STEADY_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/assess.h"
#include "towerloop/limits.h"
#include "towerloop/setup.h"

/* Why the days of this loop are not alike, in words ("its temperature follows the seasons"); NULL:
 * they are. */
const char *tl_steady_obstacle(const struct tl_setup *s);

#define TL_STEADY_TOLERANCE 3e-5 /* distance from the steady state, relative, that is good enough */
#define TL_STEADY_DAYS      1500
#define TL_STEADY_DRAIN_D   90  /* the chamber is drained at least as often as that, */
#define TL_STEADY_FILLED    0.1 /* and when sludge takes this share of it */

struct tl_steady_options {
    double rtol; /* of the solver; 0: 1e-7, tighter than for a run, as errors add up over days */
    double tolerance; /* 0: TL_STEADY_TOLERANCE */
    size_t most_days; /* 0: TL_STEADY_DAYS */
    bool plain;       /* one day after the other, without acceleration */
    const volatile int *interrupted;
};

struct tl_steady {
    size_t days;    /* simulated to get there */
    double change;  /* largest relative change over the last of them */
    bool converged; /* false: `most_days` did not do */
    double *state;  /* at the start of the day, the state proper; `core` long */
    size_t core;
    /* what the day reckons with: as the setup plans it, else whole days, from 1 */
    double drain_every_d;
    double full_after_d; /* without draining; INFINITY: never */
};

/* TL_OK with out->converged telling whether it was found; TL_E_INPUT when the days are not alike;
 * TL_E_SOLVER, TL_E_INTERRUPTED or TL_E_MEMORY. Free with tl_steady_free(), whatever came of it. */
int tl_steady_find(const struct tl_setup *s, const struct tl_steady_options *options,
                   struct tl_steady *out);
/* Judges the steady day and what follows on it: a chamber drained every steady->drain_every_d days, for
 * half a year and two such intervals at least. As tl_assess(). */
int tl_steady_assess(const struct tl_setup *s, const struct tl_limits *limits,
                     const struct tl_steady *steady, const struct tl_assess_options *options,
                     struct tl_assessment *out);
void tl_steady_free(struct tl_steady *s);

#endif
