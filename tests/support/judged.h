/* Samples of water judged by the default limits. */
#ifndef TOWERLOOP_TESTS_JUDGED_H
#define TOWERLOOP_TESTS_JUDGED_H

#include "towerloop/sample.h"

/* mg/L as CaCO3 to eq/m3 */
#define MEQ(mg_L) ((mg_L) / 50.04)

static inline struct tl_limits default_limits(void)
{
    struct tl_limits l;
    tl_limits_default(&l);
    return l;
}

static inline struct tl_figures judge(const struct tl_sample *s)
{
    const struct tl_limits l = default_limits();
    struct tl_figures f;
    tl_sample_judge(s, &l, &f);
    return f;
}

#endif
