/* Up to TL_BATCH_MOST loops of one form, run side by side in vector lanes with one step for all: that
 * of the loop that needs the shortest.
 *
 * A loop in a batch follows the same equations and formulas as one by itself (engine.h); its running totals are
 * left out, or kept by the trapezoid of each step, good to tell shares but not to close a ledger. Its stops are its own. What the batch gives depends on which
 * loops are in it and in which order, and on neither the level of the processor nor the time of day. */
#ifndef TL_ENGINE_BATCH_H
#define TL_ENGINE_BATCH_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/engine.h"

#define TL_BATCH_MOST 8

/* The levels of lanes that this processor has, widest last: "baseline", "avx2", "avx512". */
size_t tl_batch_levels(void);
const char *tl_batch_level_name(size_t index); /* NULL: there are not that many */

/* Whether the two can lie side by side: as many trays, cells and groups of fish, the same kinds of
 * stops at the same instants, the same days. Everything else may differ. */
bool tl_batch_fits(const struct tl_model *a, const struct tl_model *b);

struct tl_batch;

/* Sees the loops at even instants as a struct tl_observer does, a group of `wide` of them at a time:
 * component i of loop `first` + l is y[i * wide + l]; only those below the batch's size are loops. */
struct tl_batch_observer {
    double period_d;
    size_t need; /* leading components of the state; 0: all of the state proper */
    int (*see)(void *arg, const struct tl_batch *b, double t_d, size_t first, size_t wide,
               const double *y);
    void *arg;
};

struct tl_batch_options {
    double rtol;       /* 0: the engine's default */
    bool totals;       /* keep the running totals: see tl_batch_totals() */
    const char *level; /* NULL: the widest this processor has */
    const struct tl_batch_observer *observer;
    size_t observers;
    const volatile int *interrupted;
};

/* The models must outlive the batch. TL_OK; TL_E_INPUT: none, too many, they do not fit, or no such
 * level here; TL_E_MEMORY. */
int tl_batch_new(const struct tl_model *const *model, size_t loops,
                 const struct tl_batch_options *options, struct tl_batch **out);
/* To the end. TL_OK; TL_E_SOLVER: one of them cannot go on, or they parted: water ran in one and stood
 * in another; TL_E_INTERRUPTED; or an observer's code. What a loop would have met by itself, its own
 * run tells. */
int tl_batch_run(struct tl_batch *b);
void tl_batch_free(struct tl_batch *b);

size_t tl_batch_loops(const struct tl_batch *b);
const char *tl_batch_level(const struct tl_batch *b);
double tl_batch_time_d(const struct tl_batch *b);
const struct tl_model *tl_batch_model(const struct tl_batch *b, size_t loop);
const struct tl_controls *tl_batch_controls(const struct tl_batch *b, size_t loop);
/* Mass of fish since the last stop that changed it, kg. */
double tl_batch_fish_kg(const struct tl_batch *b, size_t loop);
/* As tl_engine_fish_lost_d(). */
double tl_batch_fish_lost_d(const struct tl_batch *b, size_t loop);
/* The state proper, into y. */
void tl_batch_state(const struct tl_batch *b, size_t loop, double *y);
/* The state with the running totals, of a batch that keeps them, as it is when observers are called: at the
 * end of the step. */
void tl_batch_totals(const struct tl_batch *b, size_t loop, double *y);
const struct tl_engine_stats *tl_batch_stats(const struct tl_batch *b);
/* Rates of the state proper of one loop, each at its y, as they are in the batch's lanes; for tests.
 * TL_OK or TL_E_SOLVER. */
int tl_batch_rates(struct tl_batch *b, double t_d, const double *const *y, double *const *dydt);

#endif
