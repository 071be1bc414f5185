/* Many ponds at once: scenarios that were read are run and judged side by side in the vector lanes of
 * the processor, and by several threads.
 *
 *     struct tl_ensemble *e;
 *     if (tl_ensemble_new(loops, n, &e) == TL_OK && tl_ensemble_run(e) == TL_OK)
 *         for (size_t i = 0; i < n; i++)
 *             puts(tl_ensemble_verdict(e, i));
 *     tl_ensemble_free(e);
 *
 * Side by side. Ponds of one form - as many trays, cells of media and groups of fish, meals and events
 *            of the same kinds at the same times, the same days - go in batches of eight, in the order
 *            given; everything else may differ. A pond without a fellow, and one whose batch cannot go
 *            on together, is run by itself.
 * Figures.   Those of tl_loop_run() to within the tolerance of the solver, since the ponds of a batch
 *            share its steps. They do not hang on the number of threads nor, bit by bit, on the level
 *            of the lanes. There are no table, no ledger and no advice: run the pond by itself.
 * Handles.   The loops must outlive the ensemble; it reads them, and several may run at once. What was
 *            run with tl_loop_run() does not matter here. Arguments must not be NULL unless it is said.
 * Errors, ownership, units: as in towerloop.h. */
#ifndef TOWERLOOP_ENSEMBLE_H
#define TOWERLOOP_ENSEMBLE_H

#include <stddef.h>

#include "towerloop/api.h"
#include "towerloop/status.h"
#include "towerloop/towerloop.h"

#ifdef __cplusplus
extern "C" {
#endif

struct tl_ensemble;

/* Of `ponds` scenarios, at least one; the array is copied, the same loop may stand in it twice.
 * TL_OK; TL_E_INPUT: there is none, or one could not be read; TL_E_MEMORY. *e is NULL on failure. */
TL_API int tl_ensemble_new(struct tl_loop *const *loop, size_t ponds, struct tl_ensemble **e);
/* NULL does nothing. */
TL_API void tl_ensemble_free(struct tl_ensemble *e);

/* --- how to run it ------------------------------------------------------------------------------- */

/* Relative tolerance of the solver, 1e-10 .. 1e-2; 1e-5 when never called. TL_OK or TL_E_INPUT. */
TL_API int tl_ensemble_set_rtol(struct tl_ensemble *e, double rtol);
/* How many threads share the batches, the calling one among them; 0, and when never called: one a
 * processor. */
TL_API void tl_ensemble_set_threads(struct tl_ensemble *e, unsigned threads);

/* The levels of lanes of this processor, the widest last: "baseline" (2 ponds to a vector), "avx2" (4),
 * "avx512" (8). The widest is taken unless another one, or "scalar" (each pond by itself), is named.
 * TL_OK, or TL_E_INPUT: not on this processor. NULL: there are not that many. */
TL_API size_t tl_ensemble_levels(void);
TL_API const char *tl_ensemble_level_name(size_t index);
TL_API int tl_ensemble_set_level(struct tl_ensemble *e, const char *level);

struct tl_ensemble_tank { /* the tank's water at an instant */
    double t_d;           /* days since 00:00 of the scenario's start date */
    double temperature_degC;
    double ph;
    double ammonia_gN_m3; /* total ammonia */
    double nh3_gN_m3;     /* of it un-ionised: Emerson et al. 1975, 0-50 degC, pH 6-10 */
    double nitrite_gN_m3, nitrate_gN_m3;
    double oxygen_g_m3;
    double alkalinity_eq_m3;
    double chloride_g_m3, chlorine_g_m3;
    double fish_kg; /* mass of all fish, in lanes as it was at the last meal or event */
};

/* Have `see` called for every pond each `period_d` (above 0) from its start, and at its end: `instant`
 * 0, 1, … tl_ensemble_instants() - 1. It is called from all threads, for several ponds at the same
 * time, for one pond in rising order; a pond that leaves its batch begins at instant 0 once more. So
 * it should write what it keeps to a place of (pond, instant). A return other than 0 ends the run. NULL:
 * nobody looks. TL_OK, or TL_E_INPUT: no such period. */
TL_API int tl_ensemble_watch(struct tl_ensemble *e, double period_d,
                             int (*see)(void *arg, size_t pond, size_t instant,
                                        const struct tl_ensemble_tank *tank),
                             void *arg);
/* How often a pond is seen; 0 while nobody looks, or no such pond. */
TL_API size_t tl_ensemble_instants(const struct tl_ensemble *e, size_t pond);

/* Run and judge all ponds, from their start. TL_OK, though single ponds may have failed; TL_E_MEMORY;
 * or what `see` returned. It may be called again, after changes to the settings above. */
TL_API int tl_ensemble_run(struct tl_ensemble *e);

/* --- what came out ------------------------------------------------------------------------------- */

TL_API size_t tl_ensemble_ponds(const struct tl_ensemble *e);
/* TL_OK; TL_E_SOLVER or TL_E_LEDGER: it could not be run, by itself neither, and tl_loop_run() tells
 * why; TL_E_INPUT: no such pond, or not run. All functions below give nothing unless it is TL_OK. */
TL_API int tl_ensemble_status(const struct tl_ensemble *e, size_t pond);
/* As tl_loop_verdict(); NULL: none. */
TL_API const char *tl_ensemble_verdict(const struct tl_ensemble *e, size_t pond);
/* As tl_loop_limit(), names and number as there. TL_OK or TL_E_INPUT. */
TL_API int tl_ensemble_limit(const struct tl_ensemble *e, size_t pond, size_t index,
                             struct tl_loop_limit *limit);
/* As tl_loop_fish_lost_d() and tl_loop_ready_d(); NAN: never, or none. */
TL_API double tl_ensemble_fish_lost_d(const struct tl_ensemble *e, size_t pond);
TL_API double tl_ensemble_ready_d(const struct tl_ensemble *e, size_t pond);
/* What a record should say of the processor, "avx512, x86 avx512f fma": the level of the lanes the pond
 * was really run in ("scalar": by itself), and what the C library picks its functions by. Static; NULL:
 * not run. */
TL_API const char *tl_ensemble_dispatch(const struct tl_ensemble *e, size_t pond);

#ifdef __cplusplus
}
#endif

#endif
