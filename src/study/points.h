/* Points that fill a cube evenly: a Sobol sequence with a seeded digital shift, in each dimension in an order of its
 * own. */
#ifndef TL_STUDY_POINTS_H
#define TL_STUDY_POINTS_H

#include <stddef.h>
#include <stdint.h>

#define TL_POINTS_DIMENSIONS 40 /* most: GSL's sequence has no more */
#define TL_POINTS_MOST       ((size_t)1 << 30)

struct tl_points;

/* The first `n` points (1..TL_POINTS_MOST) in `dimensions` (1..TL_POINTS_DIMENSIONS), of which those that lie
 * `orders` (1..dimensions) apart go in the same order and so are evenly paired. TL_OK; TL_E_INPUT otherwise, and
 * TL_E_MEMORY. */
int tl_points_new(struct tl_points **out, uint64_t seed, unsigned dimensions, unsigned orders,
                  size_t n);
void tl_points_free(struct tl_points *p);

/* Point `k` < n into u[dimensions], each inside (0, 1). Depends on seed and k alone, and each
 * coordinate on its own dimension alone: neither on n, nor on what was asked before. Any point costs
 * about the same; threads may share `p`. */
void tl_points_at(const struct tl_points *p, size_t k, double *u);

#endif
