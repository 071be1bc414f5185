/* What the parts of the fit share: runs side by side, and choosing what to fit. */
#ifndef TL_STUDY_FIT_RUNS_H
#define TL_STUDY_FIT_RUNS_H

#include "fit.h"

#define TL_FIT_STEP 0.02 /* of differences, in u: a run's own error is far smaller */

/* Runs of one scenario with other values of some quantities. */
struct tl_fit_runs {
    const struct tl_fit_bench *bench;
    const struct tl_fit_quantity *const *quantity;
    size_t n;
    const struct tl_measured *row; /* by time: what is asked of each run */
    size_t rows;
    double length_d; /* of the runs; 0: the scenario's */
    size_t runs;     /* counted */
};

/* x[points][n] to value[points][rows], NAN where there is none, or no such run. TL_OK,
 * TL_E_INTERRUPTED or TL_E_MEMORY. */
int tl_fit_run(struct tl_fit_runs *r, size_t points, const double *x, double *value);

/* "KEY=VALUE", read back bit for bit. */
void tl_fit_setting(const struct tl_fit_quantity *q, double value, char text[TL_FIT_SETTING]);
/* Read the scenario with the bench's settings and some more. */
int tl_fit_read(const struct tl_fit_bench *b, const char *const *set, size_t sets,
                struct tl_scenario *out, struct tl_diag *diag);

/* Of all quantities those that the residuals tell: the slopes d r / d u are in
 * jacobian[residuals][quantities]. Each must come out within half of its range (90 %), together with
 * those taken before it. Fills `told` and `not_from` in; returns how many are in `fitted`, at most
 * `most`. */
size_t tl_fit_choose(struct tl_fit_quantity *q, size_t quantities, const double *jacobian,
                     size_t residuals, size_t most, size_t *fitted);

/* Of all quantities, which were asked for, those that the residuals depend on at all. The others are marked
 * as taken back. Otherwise the same. */
size_t tl_fit_take_asked(struct tl_fit_quantity *q, size_t quantities, const double *jacobian,
                         size_t residuals, size_t *fitted);

/* What the model says after the last reading, with 90 % of what the parameters leave open. */
int tl_fit_look_ahead(const struct tl_fit_bench *b, const struct tl_scenario *s, struct tl_fit *f);
/* Quantities and places of the log, in rising order; `pair` takes one row of each, at most
 * TL_NMEASURED * TL_NPLACE. Returns how many. */
size_t tl_fit_pairs(const struct tl_fit *f, struct tl_measured *pair);

#endif
