/* Looks at what new films oxidise of what comes in. */
#include "towerloop/film_proof.h"

#include <math.h>

#define STEPS     (TL_PROOF_SUMS - 1)
#define SLACK_D   1e-6
#define NOTHING_G 1e-6 /* of ammonia nitrogen in three days: no fish, no feed, no dose */

void tl_film_proof_begin(struct tl_film_proof *p, const struct tl_setup *s)
{
    *p = (struct tl_film_proof){
        .asked = s->tower.biofilm != TL_BIOFILM_MATURE, .start_d = s->start_d, .from_d = NAN};
}

static double instant_d(const struct tl_film_proof *p, unsigned long taken)
{
    return p->start_d + (double)taken * TL_PROOF_STEP_D;
}

bool tl_film_proof_due(const struct tl_film_proof *p, double t_d)
{
    return p->asked && t_d >= instant_d(p, p->taken) - SLACK_D;
}

static struct tl_film_work work_between(const struct tl_ammonia_sums *from,
                                        const struct tl_ammonia_sums *to)
{
    const double loaded = to->loaded_g - from->loaded_g;
    return (struct tl_film_work){
        .asked = true,
        .came_in_g = loaded > NOTHING_G ? loaded + fmax(0, to->freed_g - from->freed_g) : 0,
        .oxidised_g = to->oxidised_g - from->oxidised_g,
        .nitrite_oxidised_g = to->nitrite_oxidised_g - from->nitrite_oxidised_g,
        .growth_1_d = pow(to->aob_g / from->aob_g, 1 / TL_READY_DAYS) - 1};
}

bool tl_film_oxidised(const struct tl_film_work *w, double share)
{
    const double least = share * w->came_in_g;
    return w->came_in_g > 0 && w->oxidised_g >= least && w->nitrite_oxidised_g >= least;
}

/* Days in which nothing came in show nothing, neither for the films nor against them. */
static void take_days(struct tl_film_proof *p, double from_d, const struct tl_film_work *w)
{
    if (!(w->came_in_g > 0))
        return;
    if (!tl_film_oxidised(w, TL_PROOF_AT_WORK))
        p->from_d = NAN;
    else if (isnan(p->from_d))
        p->from_d = from_d;
}

void tl_film_proof_add(struct tl_film_proof *p, const struct tl_ammonia_sums *sums)
{
    const unsigned long now = p->taken++;
    p->at[now % TL_PROOF_SUMS] = *sums;
    if (now < STEPS)
        return;
    const struct tl_film_work w = work_between(&p->at[(now - STEPS) % TL_PROOF_SUMS], sums);
    take_days(p, instant_d(p, now - STEPS), &w);
}

void tl_film_proof_end(struct tl_film_proof *p, double end_d, const struct tl_ammonia_sums *sums,
                       struct tl_verdict *v)
{
    if (!p->asked)
        return;
    v->filter_ready_d = NAN;
    v->film = (struct tl_film_work){.asked = true};
    const double steps = floor((end_d - TL_READY_DAYS - p->start_d + SLACK_D) / TL_PROOF_STEP_D);
    if (!(steps >= 0 && steps < (double)p->taken))
        return;
    const unsigned long first = (unsigned long)steps;
    v->film = work_between(&p->at[first % TL_PROOF_SUMS], sums);
    take_days(p, instant_d(p, first), &v->film);
    const bool shown =
        tl_film_oxidised(&v->film, TL_PROOF_SHARE) && v->film.growth_1_d < TL_PROOF_GROWTH_1_D;
    if (shown && !isnan(p->from_d) && !isnan(v->low_from_d))
        v->filter_ready_d = fmax(v->low_from_d, p->from_d);
}
