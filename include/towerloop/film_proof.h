/* Whether films that began new or seeded were shown to do the filter's work. Water that stays low says nothing of
 * them where there is much of it, or where little comes in.
 *
 * Shown: over the last TL_READY_DAYS of the run they oxidised, to nitrite and on to nitrate, at least
 * TL_PROOF_SHARE of the ammonia nitrogen that came in, and their ammonia oxidisers grew by less than
 * TL_PROOF_GROWTH_1_D. What came in: from fish, feed, dead fish, source water and doses, and what decay freed less
 * what heterotrophs took; none where nothing came from outside. What algae take is no work of the films.
 *
 * From when on: the first of the moments TL_PROOF_STEP_D apart from which on they oxidised TL_PROOF_AT_WORK of it in
 * every TL_READY_DAYS in which something came in. */
#ifndef TOWERLOOP_FILM_PROOF_H
#define TOWERLOOP_FILM_PROOF_H

#include <stdbool.h>

#include "towerloop/ledger.h"
#include "towerloop/setup.h"
#include "towerloop/verdict.h"

/* Judgement: films that have grown up oxidise nearly all of it; the rest leaves with water. */
#define TL_PROOF_SHARE 0.5
/* From when on: films that were seeded grow into their load, and part of it fills the water at first. Judgement. */
#define TL_PROOF_AT_WORK 0.2
/* A day, of the ammonia oxidisers in the last days of the run; judgement: new ones grow by 15 % and more. */
#define TL_PROOF_GROWTH_1_D 0.05
#define TL_PROOF_A_DAY      4
#define TL_PROOF_STEP_D     (1.0 / TL_PROOF_A_DAY)
#define TL_PROOF_SUMS       (TL_PROOF_A_DAY * (int)TL_READY_DAYS + 1) /* those of these days, both ends */

struct tl_film_proof {
    bool asked; /* the films began new or seeded */
    double start_d;
    unsigned long taken; /* sums, TL_PROOF_STEP_D apart; the last TL_PROOF_SUMS are kept */
    struct tl_ammonia_sums at[TL_PROOF_SUMS];
    double from_d; /* the first of the days from which on it was shown; NAN: not */
};

/* Whether they oxidised that share of what came in, to nitrite and on to nitrate. */
bool tl_film_oxidised(const struct tl_film_work *w, double share);

void tl_film_proof_begin(struct tl_film_proof *p, const struct tl_setup *s);
/* Whether tl_film_proof_add() is to be called at this instant. */
bool tl_film_proof_due(const struct tl_film_proof *p, double t_d);
void tl_film_proof_add(struct tl_film_proof *p, const struct tl_ammonia_sums *sums);
/* Into the verdict of a run that ended at `end_d` with these sums: a filter is ready when the water is low and its
 * films were shown to keep it so. Nothing where nobody asked. */
void tl_film_proof_end(struct tl_film_proof *p, double end_d, const struct tl_ammonia_sums *sums,
                       struct tl_verdict *v);

#endif
