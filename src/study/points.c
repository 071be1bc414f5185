/* The Sobol sequence in Gray-code order (Antonov and Saleev 1979): point k is the exclusive or of those
 * direction numbers whose bits stand in the Gray code of k. GSL gives the sequence one point after the
 * other; the direction numbers are read off its points, and then any point can be had at once. Point 0,
 * the origin, which GSL leaves out, is kept: the first 2^m points are balanced only with it (Owen 2020,
 * "On dropping the first Sobol' point").
 *
 * The shift is digital: 30 random bits a dimension, exclusive or (L'Ecuyer and Lemieux 2002, "Recent
 * advances in randomized quasi-Monte Carlo methods"). It leaves the balance as it is, which a shift modulo
 * 1 does not. Each point lies in the middle of its cell of 2^-30, so none is 0 or 1.
 *
 * Some pairs of GSL's dimensions are bad: of 1000 points those of dimensions 9 and 17 leave every second square
 * of a 4 by 4 grid empty, which no shift mends. So within each block of 64 points every dimension goes in a
 * random order of its own (Latin supercube sampling, Owen 1998): one dimension stays as even as before, several
 * are paired by chance. */
#include "points.h"

#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdlib.h>

#include "towerloop/status.h"

enum { BITS = 30, BLOCK = 64 };

struct tl_points {
    uint64_t seed;
    unsigned dimensions, orders;
    uint32_t shift[TL_POINTS_DIMENSIONS];
    uint32_t direction[BITS][TL_POINTS_DIMENSIONS];
};

/* SplitMix64 (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number generators"): the
 * `count`-th number, from 0, of the stream of a seed. */
static uint64_t random_64(uint64_t seed, uint64_t count)
{
    uint64_t z = seed + (count + 1) * 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/* Point 2^j differs from the one before it by direction number j alone. */
static void read_directions(struct tl_points *p, gsl_qrng *q, size_t n)
{
    double x[TL_POINTS_DIMENSIONS];
    uint32_t before[TL_POINTS_DIMENSIONS] = {0};
    unsigned bit = 0;
    for (size_t k = 1; (size_t)1 << bit < n; k++) {
        gsl_qrng_get(q, x);
        for (unsigned i = 0; i < p->dimensions; i++) {
            const uint32_t now = (uint32_t)ldexp(x[i], BITS);
            if (k == (size_t)1 << bit)
                p->direction[bit][i] = now ^ before[i];
            before[i] = now;
        }
        bit += k == (size_t)1 << bit;
    }
}

int tl_points_new(struct tl_points **out, uint64_t seed, unsigned dimensions, unsigned orders,
                  size_t n)
{
    *out = NULL;
    if (dimensions < 1 || dimensions > TL_POINTS_DIMENSIONS || orders < 1 || orders > dimensions ||
        n < 1 || n > TL_POINTS_MOST)
        return TL_E_INPUT;
    struct tl_points *p = calloc(1, sizeof *p);
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, dimensions);
    if (!p || !q) {
        free(p);
        gsl_qrng_free(q);
        return TL_E_MEMORY;
    }
    p->dimensions = dimensions;
    p->seed = seed;
    p->orders = orders;
    for (unsigned i = 0; i < dimensions; i++)
        p->shift[i] = (uint32_t)(random_64(seed, i) >> (64 - BITS));
    read_directions(p, q, (n + BLOCK - 1) / BLOCK * BLOCK);
    gsl_qrng_free(q);
    *out = p;
    return TL_OK;
}

void tl_points_free(struct tl_points *p)
{
    free(p);
}

/* The point of the sequence that stands at place k in one dimension. */
static size_t shuffled(const struct tl_points *p, unsigned dimension, size_t k)
{
    const uint64_t key =
        random_64(p->seed, (k / BLOCK + 1) * TL_POINTS_DIMENSIONS + dimension % p->orders);
    unsigned char from[BLOCK];
    for (unsigned i = 0; i < BLOCK; i++)
        from[i] = (unsigned char)i;
    for (unsigned i = BLOCK - 1; i > 0; i--) {
        const unsigned j = (unsigned)(random_64(key, i) % (i + 1));
        const unsigned char other = from[j];
        from[j] = from[i];
        from[i] = other;
    }
    return k / BLOCK * BLOCK + from[k % BLOCK];
}

void tl_points_at(const struct tl_points *p, size_t k, double *u)
{
    for (unsigned i = 0; i < p->dimensions; i++) {
        const size_t at = shuffled(p, i, k);
        const size_t gray = at ^ (at >> 1);
        uint32_t x = p->shift[i];
        for (unsigned bit = 0; gray >> bit; bit++)
            if (gray >> bit & 1)
                x ^= p->direction[bit][i];
        u[i] = ldexp((double)x + 0.5, -BITS);
    }
}
