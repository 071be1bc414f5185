/* How far a reading is from what the model says, in standard errors. */
#ifndef TL_STUDY_FIT_READING_H
#define TL_STUDY_FIT_READING_H

#include "towerloop/measured.h"

/* The standard error of a reading, in base units: the log's own, else what kits and meters of hobby
 * grade do, by judgement. > 0. */
double tl_fit_error(const struct tl_measured *m);

/* The signed root of the deviance, -2 log of the likelihood over its greatest, of normal errors: for a
 * number (value - reading) / error; for `<`, `>` and a pair of colours by the share of the normal
 * distribution that falls there, so that its square is what maximum likelihood adds up. Above 0: `value`
 * is higher than was read. */
double tl_fit_residual(const struct tl_measured *m, double error, double value);

#endif
