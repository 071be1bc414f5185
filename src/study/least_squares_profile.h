/* Intervals by the profile of the loss: one quantity is held at a value, the others are fitted anew, and
 * the interval ends where the loss has risen by t^2 of the result's unit (Bates & Watts 1988, Nonlinear
 * Regression Analysis, ch. 6.1; Seber & Wild 1989, Nonlinear Regression, ch. 5.9). t^2 is the quantile of
 * F with 1 and n - p degrees of freedom, so that of a straight line it is Student's interval. With Huber's
 * loss the rise is that of its test by the ratio of losses (Heritier & Ronchetti 1994, from memory). */
#ifndef TL_STUDY_LEAST_SQUARES_PROFILE_H
#define TL_STUDY_LEAST_SQUARES_PROFILE_H

#include "least_squares.h"

struct tl_squares_profile {
    /* false: no interval, as there were not `most` places enough, or lower minima again and again */
    bool complete;
    unsigned long evaluations; /* places the residuals were reckoned at, the fit's own included */
    unsigned improved; /* times that a lower minimum was met, and all begun again from there */
    /* Where the loss does not rise enough up to the end of the range, that end, and open */
    double low[TL_SQUARES_MOST], high[TL_SQUARES_MOST];
    bool low_open[TL_SQUARES_MOST], high_open[TL_SQUARES_MOST];
};

/* tl_squares_fit(), and the intervals. `most` bounds the places at which residuals are reckoned for the
 * intervals. Status as of tl_squares_fit(). */
int tl_squares_fit_profiled(const struct tl_squares_problem *p, unsigned long most,
                            struct tl_squares_result *result, double *weight,
                            struct tl_squares_profile *out);

#endif
