/* Values of a distribution by their rank. */
#ifndef TL_STUDY_DISTRIBUTION_H
#define TL_STUDY_DISTRIBUTION_H

#include "towerloop/distribution.h"

/* The quantile at `u`, inside (0, 1). What lies outside of min..max is cut off and the rest made
 * whole again: `u` runs over the ranks in between, so that the value rises with it. Finite, within
 * min..max; NAN when nothing of the distribution lies there, or for `u` outside of (0, 1). */
double tl_distribution_at(const struct tl_distribution *d, double u);

/* The share of the uncut distribution below `x`; 0..1. */
double tl_distribution_below(const struct tl_distribution *d, double x);

#endif
