/* Many loops, each judged on its way: those of one form side by side in vector lanes, eight to a batch,
 * the batches shared out over threads.
 *
 * Which loops go together follows from their order alone, so that the results are the same, bit by
 * bit, for any number of threads and any level of lanes. They are those of tl_assess() within the
 * tolerance: a batch takes the steps that suit all loops in it. There is no ledger in lanes; it is
 * drawn up when a loop is run by itself. */
#ifndef TOWERLOOP_PONDS_H
#define TOWERLOOP_PONDS_H

#include "towerloop/limits.h"
#include "towerloop/model.h"
#include "towerloop/ranges.h"
#include "towerloop/verdict.h"

struct tl_pond { /* one loop of many */
    /* in */
    const struct tl_model *model; /* must outlive the run */
    const struct tl_limits *limits;
    /* out */
    int status; /* TL_OK; TL_E_SOLVER, TL_E_LEDGER: the loop cannot be run, by itself neither */
    const char *level; /* of the lanes it was run in; "scalar": by itself */
    struct tl_verdict verdict;
    struct tl_ranges ranges;
    double fish_lost_d; /* NAN: never */
};

struct tl_ponds_options {
    double rtol;      /* 0: the engine's default, 1e-5 */
    unsigned threads; /* 0: one a processor */
    const char
        *level; /* "baseline", "avx2", "avx512": no wider than that; "scalar": each by itself;
                          NULL: the widest this processor has */
    /* Sees each pond every `period_d` from its start, and at its end: `glance` as from
     * tl_model_glance(), instant 0, 1, …. Called from any thread, for several ponds at once but for
     * each in rising order. A pond that leaves its batch is run anew and seen from instant 0 again. A
     * return other than 0 ends everything with that code. NULL: nobody looks. */
    double period_d;
    int (*see)(void *arg, size_t pond, size_t instant, const struct tl_snapshot *glance);
    void *arg;
    const volatile int *interrupted;
};

/* The static name of a level that this processor has, or of "scalar"; NULL: it has none of that name. */
const char *tl_ponds_level(const char *name);
/* The name of the widest. */
const char *tl_ponds_widest(void);

/* Run and judge all. TL_OK, though single ponds may have failed; TL_E_INPUT: this processor, or this
 * build, has no such level; TL_E_INTERRUPTED; TL_E_MEMORY; or what `see` returned. `options` may be
 * NULL. */
int tl_ponds_run(struct tl_pond *pond, size_t ponds, const struct tl_ponds_options *options);

#endif
