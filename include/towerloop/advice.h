/* What would help: levers tried one by one in runs of their own, the ones that did help, best first. */
#ifndef TOWERLOOP_ADVICE_H
#define TOWERLOOP_ADVICE_H

#include <stddef.h>

#include "towerloop/assess.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"

#define TL_ADVICE_MOST 4
#define TL_ADVICE_TEXT 640

struct tl_advice {
    struct {
        char lever[TL_ADVICE_TEXT];
        char because[TL_ADVICE_TEXT];
        /* What it costs more than the loop as it is, to build and to run from start to end, by the
         * scenario's prices: see costs.h for what is counted; NAN: no price. */
        double build_more, run_more;
    } item[TL_ADVICE_MOST];
    size_t items;
    size_t tried; /* levers that were run */
    char limiting
        [TL_ADVICE_TEXT]; /* what held the tower back, in words; "" when it is not in question */
};

struct tl_advise_options {
    enum tl_unit_system units; /* of the words */
    const volatile int *interrupted;
    /* before each lever: which one of how many, from 1 */
    void (*progress)(void *arg, size_t lever, size_t levers);
    void *progress_arg;
};

/* Try the levers that could help against what `base` (the assessment of `s`) is in danger of, or, where
 * nothing is in danger, against what is beyond caution; and taking the chlorine out of chlorinated water
 * whatever is worst. Each is run once, so there are never more runs than levers. A lever is listed if one
 * of those limits, or the chlorine, got better and no limit got into danger or further into it; what stays
 * in danger is named. One that lets another limit
 * fall to caution is listed only against danger, and says so. Taking chlorine out is listed whatever
 * it brings to light, since film that chlorine kept down makes nitrite again, and says so, too. Nothing is tried when the run is within
 * limits. TL_OK, TL_E_MEMORY or TL_E_INTERRUPTED; a lever whose run fails is left out. `options` may
 * be NULL. */
int tl_advise(const struct tl_scenario *s, const struct tl_assessment *base,
              const struct tl_advise_options *options, struct tl_advice *out);

#endif
