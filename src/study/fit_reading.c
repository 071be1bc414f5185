/* Errors of kits and meters, and the deviance of readings that are numbers, bounds or pairs of colours. */
#include "fit_reading.h"

#include <gsl/gsl_sf_erf.h>
#include <math.h>

/* A fixed part and a share of the value, added as variances. Judgement: about half a step of a drop or
 * colour kit's scale; oxygen, pH and temperature as of a hand-held meter that is looked after. */
static const struct {
    double fixed, share;
} usual[TL_NMEASURED] = {
    [TL_MEASURED_TAN] = {0.1, 0.15},      [TL_MEASURED_NH3] = {0.01, 0.3},
    [TL_MEASURED_NO2] = {0.05, 0.15},     [TL_MEASURED_NO3] = {1, 0.2},
    [TL_MEASURED_PH] = {0.2, 0},          [TL_MEASURED_ALKALINITY] = {0.18, 0.05},
    [TL_MEASURED_O2] = {0.3, 0.03},       [TL_MEASURED_CO2] = {2, 0.2},
    [TL_MEASURED_TEMPERATURE] = {0.5, 0}, [TL_MEASURED_CHLORIDE] = {10, 0.1},
    [TL_MEASURED_CHLORINE] = {0.05, 0.2},
};

double tl_fit_error(const struct tl_measured *m)
{
    const double value = m->kind == TL_MEASURED_BELOW   ? m->high
                         : m->kind == TL_MEASURED_ABOVE ? m->low
                                                        : (m->low + m->high) / 2;
    return m->error > 0 ? m->error
                        : hypot(usual[m->quantity].fixed, usual[m->quantity].share * value);
}

/* Logarithm of the normal distribution's upper tail. */
static double log_tail(double z)
{
    return gsl_sf_log_erfc(z / M_SQRT2) - M_LN2;
}

static double root(double log_share, double log_most)
{
    return sqrt(2 * fmax(0, log_most - log_share));
}

/* Of the normal distribution between two bounds, a < b and a + b >= 0. */
static double log_between(double a, double b)
{
    const double near_tail = log_tail(a);
    return near_tail + log1p(-exp(log_tail(b) - near_tail));
}

double tl_fit_residual(const struct tl_measured *m, double error, double value)
{
    const double middle = (m->low + m->high) / 2, half = (m->high - m->low) / 2 / error;
    const double away = fabs(value - middle) / error;

    switch (m->kind) {
    case TL_MEASURED_BELOW:
        return root(log_tail((value - m->high) / error), 0);
    case TL_MEASURED_ABOVE:
        return -root(log_tail((m->low - value) / error), 0);
    case TL_MEASURED_BETWEEN:
        return copysign(root(log_between(away - half, away + half), log_between(-half, half)),
                        value - middle);
    case TL_MEASURED_AT:
        break;
    }
    return (value - m->low) / error;
}
