/* Nonlinear least squares by GSL's trust region (Levenberg and Marquardt; Moré 1978), independent of any
 * model: bounds, several starting points, a loss that outlying residuals do not rule, intervals.
 *
 * A bounded quantity x in [low, high] is sought as an angle u, x = low + (high - low)(1 + sin u)/2, or
 * the same of log x; so no step leaves the range. One without bounds is sought as it is. */
#ifndef TL_STUDY_LEAST_SQUARES_H
#define TL_STUDY_LEAST_SQUARES_H

#include <stdbool.h>
#include <stddef.h>

#define TL_SQUARES_MOST 12 /* quantities */
/* Huber's constant: 95 % efficient for normal errors (Huber 1964; Holland & Welsch 1977) */
#define TL_SQUARES_HUBER 1.345

struct tl_squares_axis {
    double low, high; /* both finite, low < high; or -INFINITY and INFINITY */
    bool log;         /* bounds > 0: by its logarithm */
};

struct tl_squares_problem {
    size_t axes; /* 1 .. TL_SQUARES_MOST */
    const struct tl_squares_axis *axis;
    size_t residuals; /* more than axes */
    /* The residuals at `points` places: x[points][axes] to r[points][residuals]. Residuals that are
     * not finite count as very large. A return other than 0 ends the search with that code. */
    int (*at)(void *arg, size_t points, const double *x, double *r);
    void *arg;
    const double *start; /* [axes] */
    size_t
        starts; /* places besides `start` to look at first, a Sobol sequence over the bounds; 0 where
                      an axis has none. At most 64 */
    double
        step; /* of the differences: absolute in u for a bounded axis, relative for others; 0: 6e-6 */
    double tolerance; /* of u; 0: 1e-10 */
    double enough;    /* a step that lowers the loss by less ends a search; 0: none does */
    double level;     /* of the intervals; 0: 0.9 */
    bool robust;      /* Huber's loss; residuals are then in standard errors */
    bool scaled; /* residuals are in standard errors: intervals are not narrower than these say,
                         but wider where the residuals are larger */
};

struct tl_squares_result {
    bool converged;
    unsigned long evaluations; /* places the residuals were reckoned at */
    double x[TL_SQUARES_MOST];
    double error[TL_SQUARES_MOST];       /* standard, of x, linearised */
    double share_error[TL_SQUARES_MOST]; /* the same of tl_squares_share() */
    /* Student's t, linearised in x or, within bounds on a logarithm, in log x; cut off at the
     * bounds */
    double low[TL_SQUARES_MOST], high[TL_SQUARES_MOST];
    double correlation[TL_SQUARES_MOST][TL_SQUARES_MOST];
    double sum;   /* of squares, not weighted */
    double loss;  /* the same, or Huber's */
    double scale; /* what the covariance was multiplied with */
    double unit;  /* by which the loss rises one standard error away */
};

/* x as a share 0..1 of its range, on a logarithm if it is sought there, and back; without bounds x itself. */
double tl_squares_share(const struct tl_squares_axis *a, double x);
double tl_squares_value(const struct tl_squares_axis *a, double share);

/* Student's t that a two-sided interval of the problem's level reaches to. */
double tl_squares_quantile(const struct tl_squares_problem *p);

/* `weight` takes what the loss gave each residual, 0..1; may be NULL. TL_OK; TL_E_SOLVER: no minimum was
 * found, or the residuals do not depend on one of the quantities; TL_E_MEMORY; or what at() returned. */
int tl_squares_fit(const struct tl_squares_problem *p, struct tl_squares_result *out,
                   double *weight);

/* Downhill from p->start to the least loss, with nothing about intervals: x[axes] is there, *loss what it
 * comes to. `starts` and `scaled` are not looked at;
 * axes may be 0, then nothing moves. Status as above. */
int tl_squares_descend(const struct tl_squares_problem *p, double *x, double *loss,
                       bool *converged);

/* What residuals tell about each quantity before anything is fitted: the columns d r / d u at `start`, in
 * jacobian[residuals][axes]. Status as above. */
int tl_squares_slopes(const struct tl_squares_problem *p, double *jacobian);

#endif
