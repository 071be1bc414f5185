/* Quantiles of four distributions, cut to a range. */
#include "distribution.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdbool.h>

/* Ranks above one half are counted from the top: 1 - u has no digits left for the upper tail. */
struct rank {
    double below, above; /* below + above is 1 */
};

static struct rank rank_of(const struct tl_distribution *d, double x)
{
    switch (d->kind) {
    case TL_UNIFORM:
        return (struct rank){gsl_cdf_flat_P(x, d->a, d->b), gsl_cdf_flat_Q(x, d->a, d->b)};
    case TL_NORMAL:
        return (struct rank){gsl_cdf_gaussian_P(x - d->a, d->b),
                             gsl_cdf_gaussian_Q(x - d->a, d->b)};
    case TL_LOGNORMAL:
        return x <= 0 ? (struct rank){0, 1}
                      : (struct rank){gsl_cdf_lognormal_P(x, log(d->a), log(d->b)),
                                      gsl_cdf_lognormal_Q(x, log(d->a), log(d->b))};
    case TL_TRIANGULAR:
        break;
    }
    if (x <= d->a || x >= d->b)
        return x <= d->a ? (struct rank){0, 1} : (struct rank){1, 0};
    if (x < d->c) {
        const double below = (x - d->a) * (x - d->a) / ((d->b - d->a) * (d->c - d->a));
        return (struct rank){below, 1 - below};
    }
    const double above = (d->b - x) * (d->b - x) / ((d->b - d->a) * (d->b - d->c));
    return (struct rank){1 - above, above};
}

double tl_distribution_below(const struct tl_distribution *d, double x)
{
    return rank_of(d, x).below;
}

static double value_of(const struct tl_distribution *d, struct rank r)
{
    const bool low = r.below <= r.above;
    switch (d->kind) {
    case TL_UNIFORM:
        return low ? gsl_cdf_flat_Pinv(r.below, d->a, d->b)
                   : gsl_cdf_flat_Qinv(r.above, d->a, d->b);
    case TL_NORMAL:
        return d->a +
               (low ? gsl_cdf_gaussian_Pinv(r.below, d->b) : gsl_cdf_gaussian_Qinv(r.above, d->b));
    case TL_LOGNORMAL:
        return low ? gsl_cdf_lognormal_Pinv(r.below, log(d->a), log(d->b))
                   : gsl_cdf_lognormal_Qinv(r.above, log(d->a), log(d->b));
    case TL_TRIANGULAR:
        break;
    }
    return r.below < (d->c - d->a) / (d->b - d->a)
               ? d->a + sqrt(r.below * (d->b - d->a) * (d->c - d->a))
               : d->b - sqrt(r.above * (d->b - d->a) * (d->b - d->c));
}

double tl_distribution_at(const struct tl_distribution *d, double u)
{
    const struct rank min = rank_of(d, d->min);
    const struct rank max = rank_of(d, d->max);
    if (!(u > 0 && u < 1) || !(min.below < max.below || max.above < min.above))
        return NAN;
    const struct rank r = {min.below * (1 - u) + max.below * u,
                           min.above * (1 - u) + max.above * u};
    return fmin(fmax(value_of(d, r), d->min), d->max);
}
