/* The failure of a study, at its worst hour, in many runs over what is uncertain: when oxygen passes its limits. Run
 * k takes the point that run k of a spread of the scenario takes. */
#ifndef TL_ENDURE_UNCERTAIN_H
#define TL_ENDURE_UNCERTAIN_H

#include "chance.h"
#include "spread_runs.h"
#include "towerloop/endure.h"

/* id, key */
#define TL_ENDURE_MOMENT_LIST(X)                                                                   \
    X(TL_ENDURE_CAUTION, "caution")                                                                \
    X(TL_ENDURE_DANGER, "danger")                                                                  \
    X(TL_ENDURE_LOST, "fish_loss")

enum tl_endure_moment {
#define TL_ENDURE_MOMENT_ENUM(id, key) id,
    TL_ENDURE_MOMENT_LIST(TL_ENDURE_MOMENT_ENUM)
#undef TL_ENDURE_MOMENT_ENUM
        TL_NENDURE_MOMENT
};

struct tl_endure_uncertain {
    const struct tl_spread *spread; /* what was asked */
    size_t runs;
    size_t unknown;                         /* that cannot be calculated: each counts as at once */
    size_t impossible;                      /* of these, those whose values cannot stand together */
    size_t lost_before;                     /* fish lost before it fails: at once, too */
    double *minutes[TL_NENDURE_MOMENT];     /* [runs], rising; INFINITY: not in the outage */
    struct tl_chance of[TL_NENDURE_MOMENT]; /* that it comes in the outage */
};

/* TL_OK; TL_E_INTERRUPTED; TL_E_REFUSED: the scenario is no longer the one that was read; TL_E_MEMORY. Of `o` threads,
 * interrupted and progress count, by runs. tl_endure_uncertain_free() is due in any case. */
int tl_endure_uncertain_run(const struct tl_endure_study *s, const struct tl_spread *spread,
                            const struct tl_endure_options *o, struct tl_endure_uncertain *out);
void tl_endure_uncertain_free(struct tl_endure_uncertain *u);

/* Minutes such that it is sure, at 95 %, that in `share` of all runs at most it comes sooner (Wilks 1941: the value of
 * a rank in order). INFINITY: so few have it in the outage at all; NAN: too few runs to tell, see
 * tl_chance_least(). */
double tl_endure_no_sooner(const struct tl_endure_uncertain *u, enum tl_endure_moment m,
                           double share);

#endif
