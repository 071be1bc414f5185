/* C. J. Clopper and E. S. Pearson 1934, "The use of confidence or fiducial limits illustrated in the case of
 * the binomial", Biometrika 26:404-413; as quantiles of the beta distribution. */
#include "chance.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#include "text.h"

#define TAIL 0.05

struct tl_chance tl_chance_of(size_t runs, size_t of)
{
    const double x = (double)runs, n = (double)of;
    struct tl_chance c = {runs, of, 0, 1};
    if (runs > 0)
        c.low = gsl_cdf_beta_Pinv(TAIL, x, n - x + 1);
    if (runs < of)
        c.high = gsl_cdf_beta_Qinv(TAIL, x + 1, n - x);
    return c;
}

/* Hundredths as a text: whole ones from 10 to 90, else with one digit; `way` < 0: rounded down, > 0: up. */
static const char *hundredths(double share, int way, char text[TL_CHANCE_SIZE])
{
    enum { SLACK = 1000000 }; /* 0.3 times 10 is less than 3 */
    const double p = 100 * share, tenths = p < 10 || p > 90 ? 10 : 1;
    const double x = p * tenths;
    const double rounded = (way < 0   ? floor(x + 1.0 / SLACK)
                            : way > 0 ? ceil(x - 1.0 / SLACK)
                                      : round(x)) /
                           tenths;
    (void)tl_format(text, TL_CHANCE_SIZE, "%.*f", rounded == floor(rounded) ? 0 : 1, rounded);
    return text;
}

/* Few or many, but not none and not all. */
static const char *about(const struct tl_chance *c, const char **lead, char text[TL_CHANCE_SIZE])
{
    const double share = (double)c->runs / (double)c->of;
    *lead = share < 0.001 ? "fewer than " : share > 0.999 ? "more than " : "";
    return hundredths(fmin(fmax(share, 0.001), 0.999), 0, text);
}

void tl_chance_text(const struct tl_chance *c, char text[TL_CHANCE_SIZE])
{
    char a[TL_CHANCE_SIZE], b[TL_CHANCE_SIZE], d[TL_CHANCE_SIZE];
    const char *lead;
    if (c->runs == 0)
        (void)tl_format(text, TL_CHANCE_SIZE, "none of %zu runs (90 %% sure: at most %s of 100)",
                        c->of, hundredths(c->high, 1, a));
    else if (c->runs == c->of)
        (void)tl_format(text, TL_CHANCE_SIZE, "all %zu runs (90 %% sure: at least %s of 100)",
                        c->of, hundredths(c->low, -1, a));
    else if (c->of < 100)
        (void)tl_format(text, TL_CHANCE_SIZE, "%zu of %zu runs (90 %% sure: %s to %s of 100)",
                        c->runs, c->of, hundredths(c->low, -1, a), hundredths(c->high, 1, b));
    else {
        const char *share = about(c, &lead, d);
        (void)tl_format(text, TL_CHANCE_SIZE, "%s%s of 100 runs (90 %% sure: %s to %s)", lead,
                        share, hundredths(c->low, -1, a), hundredths(c->high, 1, b));
    }
}

void tl_chance_short(const struct tl_chance *c, char text[TL_CHANCE_SIZE])
{
    char a[TL_CHANCE_SIZE], b[TL_CHANCE_SIZE], d[TL_CHANCE_SIZE];
    const char *lead = "";
    const char *share = c->runs == 0 ? "0" : c->runs == c->of ? "100" : about(c, &lead, d);
    (void)tl_format(text, TL_CHANCE_SIZE, "%s%s (%s-%s)",
                    *lead == 'f'   ? "<"
                    : *lead == 'm' ? ">"
                                   : "",
                    share, hundredths(c->low, -1, a), hundredths(c->high, 1, b));
}
