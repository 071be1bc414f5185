/* What drives a result: variance-based sensitivity indices (Sobol' 1993), independent of any model, from
 * sums that take one base point after the other and can be joined.
 *
 * A base point is two points of the unit cube, A and B, and the results at A, at B and, for each input i,
 * at A with the i-th coordinate of B. With f the result, V its variance over A and B, N base points:
 *
 *     first order  S_i  = 1/N sum f(B) (f(AB_i) - f(A)) / V        (Saltelli et al. 2010, table 2 b)
 *     total        ST_i = 1/(2N) sum (f(A) - f(AB_i))^2 / V        (Jansen 1999; there, table 2 f)
 *
 * S_i is the share of the variance that would go if input i were known; ST_i the share that would stay if
 * all others were. Inputs must be independent.
 *
 * Saltelli, Annoni, Azzini, Campolongo, Ratto, Tarantola (2010), Computer Physics Communications 181,
 * 259-270. Jansen (1999), Computer Physics Communications 117, 35-43. */
#ifndef TL_STUDY_INDICES_H
#define TL_STUDY_INDICES_H

#include <stdbool.h>
#include <stddef.h>

/* At most so many inputs: a base point takes twice as many coordinates, and GSL's Sobol sequence has 40. */
#define TL_INDEX_INPUTS 20
/* The runs of a base point: A, B, and one an input. */
#define TL_INDEX_RUNS(inputs) ((inputs) + 2)

/* The coordinates of run `run` (0: A, 1: B, 2 + i: A with the i-th of B) out of the 2 * inputs
 * coordinates of a base point, A first: the earlier ones of a Sobol sequence are the more even. */
void tl_index_point(const double *base, size_t inputs, size_t run, double *out);

/* Sums of base points, around their own mean, so that nothing is lost to a large mean. */
struct tl_index_sums {
    size_t points;                 /* taken in */
    size_t missed;                 /* base points that lack a result: left out whole, but counted */
    double mean;                   /* of f over A and B */
    double square;                 /* sum of (f - mean)^2 over A and B */
    double cross[TL_INDEX_INPUTS]; /* sum of (f(B) - mean) (f(AB_i) - f(A)) */
    double difference[TL_INDEX_INPUTS]; /* sum of f(AB_i) - f(A) */
    double apart[TL_INDEX_INPUTS];      /* sum of (f(A) - f(AB_i))^2 */
};

/* A base point more, of TL_INDEX_RUNS(inputs) results in the order of tl_index_point(); sums begin as
 * zeros. One result that is not finite, and the point is missed. */
void tl_index_add(struct tl_index_sums *s, size_t inputs, const double *result);
/* Takes in those of `more`. The last digits hang on the order, so join in a fixed one. */
void tl_index_join(struct tl_index_sums *s, size_t inputs, const struct tl_index_sums *more);

struct tl_index {
    double first, total;
    double first_error, total_error; /* standard */
};

struct tl_indices {
    bool
        known; /* false: under two groups with points in them, or the result is everywhere the same */
    size_t points, missed;
    double mean, deviation; /* of the result, over A and B */
    struct tl_index input[TL_INDEX_INPUTS];
};

/* The indices of all groups together, with standard errors by the jackknife that leaves out one group at
 * a time (Efron & Tukey, see Efron 1982, chapter 3): groups of about as many points each, 2 or more. Of
 * points of a Sobol sequence they tell the scatter, not what the unevenness of its later coordinates does to
 * all groups alike: up to some thousandths at some thousand base points (test_indices). */
void tl_index_solve(const struct tl_index_sums *group, size_t groups, size_t inputs,
                    struct tl_indices *out);

#endif
