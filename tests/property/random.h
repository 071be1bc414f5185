/* Random numbers for tests: SplitMix64 (Steele, Lea & Flood 2014), the same on every machine. */
#ifndef TOWERLOOP_TESTS_RANDOM_H
#define TOWERLOOP_TESTS_RANDOM_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct rng {
    uint64_t state;
};

static inline uint64_t rng_next(struct rng *r)
{
    uint64_t z = r->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/* lo <= x < hi */
static inline double rng_between(struct rng *r, double lo, double hi)
{
    return lo + (hi - lo) * (double)(rng_next(r) >> 11) / 9007199254740992.0;
}

/* The same, even in the logarithm. */
static inline double rng_scale(struct rng *r, double lo, double hi)
{
    return exp(rng_between(r, log(lo), log(hi)));
}

static inline int rng_below(struct rng *r, int n)
{
    return (int)(rng_next(r) % (uint64_t)n);
}

static inline bool rng_chance(struct rng *r, double p)
{
    return rng_between(r, 0, 1) < p;
}

#endif
