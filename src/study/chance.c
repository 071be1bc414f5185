/* C. J. Clopper and E. S. Pearson 1934, "The use of confidence or fiducial limits illustrated in the case of
 * the binomial", Biometrika 26:404-413. The tails are summed and the ends found by halving: GSL's inverse of the
 * beta distribution, which would give them at once, does not converge for some counts among many runs. */
#include "chance.h"

#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "text.h"

#define TAIL 0.05

enum { HALVINGS = 60 };

/* Of drawing `x` of `n`, each with the chance `p`, or further away from n * p on that side: `up`, more. */
static double tail(size_t x, size_t n, double p, bool up)
{
    const double odds = p / (1 - p);
    double term = exp(gsl_sf_lnchoose((unsigned)n, (unsigned)x) + (double)x * log(p) +
                      (double)(n - x) * log1p(-p));
    double sum = term;
    for (size_t k = x; k != (up ? n : 0) && term > sum * 1e-17; k += up ? 1 : (size_t)-1) {
        term *=
            up ? (double)(n - k) / (double)(k + 1) * odds : (double)k / (double)(n - k + 1) / odds;
        sum += term;
    }
    return sum;
}

/* The chance at which the tail that begins at `x` is as likely as it may be, between two of which one is `x` of
 * `n` itself. */
static double end(size_t x, size_t n, bool up)
{
    double from = up ? 0 : (double)x / (double)n, to = up ? (double)x / (double)n : 1;
    for (int i = 0; i < HALVINGS; i++) {
        const double p = (from + to) / 2;
        if ((tail(x, n, p, up) < TAIL) == up)
            from = p;
        else
            to = p;
    }
    return (from + to) / 2;
}

struct tl_chance tl_chance_of(size_t runs, size_t of)
{
    return (struct tl_chance){.runs = runs,
                              .of = of,
                              .low = runs > 0 ? end(runs, of, true) : 0,
                              .high = runs < of ? end(runs, of, false) : 1};
}

/* Value r lies above the quantile where fewer than r of the values lie below it, which are then r - 1 or fewer of
 * so many, each with the chance `share`. */
size_t tl_chance_rank(size_t of, double share)
{
    size_t low = 0, high = (size_t)(share * (double)of) + 1; /* it lies below what is expected */
    while (high - low > 1) {
        const size_t r = low + (high - low) / 2;
        if (tail(r - 1, of, share, false) <= TAIL)
            low = r;
        else
            high = r;
    }
    return low;
}

size_t tl_chance_least(double share)
{
    return (size_t)ceil(log(TAIL) / log1p(-share));
}

/* Hundredths as a text: whole ones from 10 to 90, else one digit, or the first that tells them from 0 and from
 * 100, at most so many; `way` < 0: rounded down, > 0: up. */
static const char *hundredths(double share, int way, double most_digits, char text[TL_CHANCE_SIZE])
{
    const double slack = 1e-6; /* 0.3 times 10 is less than 3 */
    const double p = 100 * share, apart = fmin(p, 100 - p);
    const double first = apart >= 10 || apart <= 0 ? 0
                         : apart >= 0.1            ? 1
                                                   : ceil(-log10(apart) - slack);
    const double digits = fmin(first, most_digits);
    const double x = p * pow(10, digits);
    const double rounded = way < 0 ? floor(x + slack) : way > 0 ? ceil(x - slack) : round(x);
    (void)tl_format(text, TL_CHANCE_SIZE, "%.*f", (int)digits, rounded / pow(10, digits));
    if (strchr(text, '.') && text[strlen(text) - 1] == '0')
        (void)tl_format(text, TL_CHANCE_SIZE, "%g", rounded / pow(10, digits)); /* 6, not 6.0 */
    return text;
}

void tl_chance_text(const struct tl_chance *c, char text[TL_CHANCE_SIZE])
{
    enum { DIGITS = 4 }; /* one run of a million */
    char share[TL_CHANCE_SIZE], low[TL_CHANCE_SIZE], high[TL_CHANCE_SIZE];
    hundredths(c->low, -1, DIGITS, low);
    hundredths(c->high, 1, DIGITS, high);
    if (c->runs == 0)
        (void)tl_format(text, TL_CHANCE_SIZE, "none of %zu runs (90 %% sure: at most %s of 100)",
                        c->of, high);
    else if (c->runs == c->of)
        (void)tl_format(text, TL_CHANCE_SIZE, "all %zu runs (90 %% sure: at least %s of 100)",
                        c->of, low);
    else if (c->of < 100)
        (void)tl_format(text, TL_CHANCE_SIZE, "%zu of %zu runs (90 %% sure: %s to %s of 100)",
                        c->runs, c->of, low, high);
    else
        (void)tl_format(text, TL_CHANCE_SIZE, "%s of 100 runs (90 %% sure: %s to %s)",
                        hundredths((double)c->runs / (double)c->of, 0, DIGITS, share), low, high);
}

void tl_chance_share_text(const struct tl_chance *c, char text[TL_CHANCE_SIZE])
{
    tl_chance_text(c, text);
    *strstr(text, " (") = '\0';
}

void tl_chance_short(const struct tl_chance *c, char text[TL_CHANCE_SIZE])
{
    char share[TL_CHANCE_SIZE], low[TL_CHANCE_SIZE], high[TL_CHANCE_SIZE];
    const double p = c->of > 0 ? (double)c->runs / (double)c->of : 0;
    const bool few = c->runs > 0 && p < 0.001, most = c->runs < c->of && p > 0.999;
    (void)tl_format(text, TL_CHANCE_SIZE, "%s%s (%s-%s)",
                    few    ? "<"
                    : most ? ">"
                           : "",
                    hundredths(few    ? 0.001
                               : most ? 0.999
                                      : p,
                               0, 1, share),
                    hundredths(c->low, -1, 1, low), hundredths(c->high, 1, 1, high));
}
