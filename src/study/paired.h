/* Several scenarios, each run over what is uncertain in it, all with the same points of one sequence (common
 * random numbers): run k of one and run k of another lie at the same place in the range of every input that both
 * have. So what differs between them is the scenarios' own doing.
 *
 * The first takes the points that a spread of it takes, so its chances are that spread's; each other one, too, as far
 * as it has the inputs of the first in their order. */
#ifndef TL_PAIRED_H
#define TL_PAIRED_H

#include "chance.h"
#include "spread_runs.h"

struct tl_paired_plan {
    size_t runs; /* TL_SPREAD_RUNS_LEAST … TL_SPREAD_RUNS_MOST */
    uint64_t seed;
    enum tl_spread_from from;
};

struct tl_paired { /* one of the scenarios */
    /* in; what is pointed to must outlive it */
    const char *file; /* read with `set` it gives `scenario` */
    const char *const *set;
    size_t sets;
    const struct tl_scenario *scenario;
    char *folder; /* of its blocks, which is made; freed with the rest */
    /* its own */
    struct tl_spread spread;
    unsigned char coordinate[TL_SPREAD_MOST];
    /* out */
    size_t unknown;        /* runs that cannot be calculated: they count as danger */
    size_t impossible;     /* of these, those whose values cannot stand together */
    enum tl_grade verdict; /* as tl_tally_verdict() */
    struct tl_chance within, caution, danger; /* caution: that or worse */
    struct tl_chance lost;                    /* fish */
    struct tl_chance outside;                 /* of a published range: caution at least */
    struct tl_chance better, worse;           /* graded than the same run of the first */
    struct tl_chance limit[TL_NLIMIT][2];     /* beyond caution, beyond danger */
};

/* Read what is uncertain in each and share out the coordinates. TL_OK; TL_E_INPUT or TL_E_IO with the faults in
 * `diag`; TL_E_REFUSED: together they have more than TL_SPREAD_MOST inputs; TL_E_MEMORY. tl_paired_free() is due in any
 * case. */
int tl_paired_prepare(struct tl_paired *p, size_t n, const struct tl_paired_plan *plan,
                      struct tl_diag *diag);
void tl_paired_free(struct tl_paired *p, size_t n);

struct tl_paired_course {
    unsigned threads; /* 0: one a processor */
    const volatile int *interrupted;
    void (*progress)(void *arg, size_t runs, size_t of); /* by one thread at a time; may be NULL */
    void *progress_arg;
};

/* Run the blocks that do not lie in the folders whole, and count. As tl_spread_run(), and TL_E_INPUT with the block
 * that has gone meanwhile in `why`. */
int tl_paired_run(struct tl_paired *p, size_t n, const struct tl_paired_course *course, char *why,
                  size_t size);

/* The limit that is most often beyond caution, or beyond danger: TL_NLIMIT where none is. */
enum tl_limit_id tl_paired_weakest(const struct tl_paired *p, enum tl_grade grade);

#endif
