/* What an uncertain number may be: its distribution, as a scenario describes it. */
#ifndef TOWERLOOP_DISTRIBUTION_H
#define TOWERLOOP_DISTRIBUTION_H

enum tl_distribution_kind {
    TL_UNIFORM,   /* a: least, b: greatest; a < b */
    TL_NORMAL,    /* a: mean, b: standard deviation > 0 */
    TL_LOGNORMAL, /* a: median > 0, b: factor > 1, the geometric standard deviation: two values in
                    * three lie between a / b and a * b */
    TL_TRIANGULAR /* a: least, b: greatest, c: likeliest; a <= c <= b, a < b */
};

struct tl_distribution {
    enum tl_distribution_kind kind;
    double a, b, c;  /* base units of the key, but for the factor; what is not used is 0 */
    double min, max; /* what the key allows, both allowed: the distribution is cut there */
};

#endif
