/* Sums of base points and the estimators out of them. */
#include "indices.h"

#include <float.h>
#include <math.h>

/* A deviation below this share of the mean is rounding. */
#define SAME (64 * DBL_EPSILON)

void tl_index_point(const double *base, size_t inputs, size_t run, double *out)
{
    for (size_t i = 0; i < inputs; i++)
        out[i] = base[run == 1 || run == 2 + i ? inputs + i : i];
}

void tl_index_add(struct tl_index_sums *s, size_t inputs, const double *result)
{
    const double a = result[0], b = result[1];
    for (size_t j = 0; j < TL_INDEX_RUNS(inputs); j++)
        if (!isfinite(result[j])) {
            s->missed++;
            return;
        }
    struct tl_index_sums one = {
        .points = 1, .mean = a + (b - a) / 2, .square = (a - b) * (a - b) / 2};
    for (size_t i = 0; i < inputs; i++) {
        one.difference[i] = result[2 + i] - a;
        one.apart[i] = one.difference[i] * one.difference[i];
        one.cross[i] = (b - one.mean) * one.difference[i];
    }
    tl_index_join(s, inputs, &one);
}

/* Chan, Golub & LeVeque (1983), American Statistician 37, 242-247, for the squares; the cross sums move
 * to the common mean by what they hold of differences. */
void tl_index_join(struct tl_index_sums *s, size_t inputs, const struct tl_index_sums *more)
{
    s->missed += more->missed;
    if (more->points == 0)
        return;
    const double n = (double)s->points, m = (double)more->points;
    const double step = more->mean - s->mean;
    const double mean = s->points ? s->mean + step * (m / (n + m)) : more->mean;
    s->square += more->square + 2 * step * step * (n * m / (n + m));
    for (size_t i = 0; i < inputs; i++) {
        s->cross[i] += (s->mean - mean) * s->difference[i] + more->cross[i] +
                       (more->mean - mean) * more->difference[i];
        s->difference[i] += more->difference[i];
        s->apart[i] += more->apart[i];
    }
    s->mean = mean;
    s->points += more->points;
}

/* Whether the sums show any variance; the indices without errors. */
static bool estimate(const struct tl_index_sums *s, size_t inputs, struct tl_index *out)
{
    const double n = (double)s->points;
    const double variance = s->points ? s->square / (2 * n) : 0;
    if (!(sqrt(variance) > SAME * fabs(s->mean)))
        return false;
    for (size_t i = 0; i < inputs; i++)
        out[i] = (struct tl_index){.first = s->cross[i] / n / variance,
                                   .total = s->apart[i] / (2 * n) / variance};
    return true;
}

/* All groups but `without`. */
static struct tl_index_sums join_all(const struct tl_index_sums *group, size_t groups,
                                     size_t inputs, size_t without)
{
    struct tl_index_sums all = {.points = 0};
    for (size_t g = 0; g < groups; g++)
        if (g != without)
            tl_index_join(&all, inputs, &group[g]);
    return all;
}

/* Running mean and sum of squares of what is left with one group out. */
struct left {
    double mean, square;
};

static void add(struct left *l, double value, double n)
{
    const double step = value - l->mean;
    l->mean += step / n;
    l->square += step * (value - l->mean);
}

/* Standard errors into `out`; false where the result no longer varies without one of the groups. */
static bool jackknife(const struct tl_index_sums *group, size_t groups, size_t inputs,
                      struct tl_index *out)
{
    struct left first[TL_INDEX_INPUTS] = {{0}}, total[TL_INDEX_INPUTS] = {{0}};
    struct tl_index without[TL_INDEX_INPUTS];
    double n = 0;
    for (size_t g = 0; g < groups; g++) {
        if (group[g].points == 0)
            continue;
        const struct tl_index_sums rest = join_all(group, groups, inputs, g);
        if (!estimate(&rest, inputs, without))
            return false;
        n++;
        for (size_t i = 0; i < inputs; i++) {
            add(&first[i], without[i].first, n);
            add(&total[i], without[i].total, n);
        }
    }
    for (size_t i = 0; i < inputs; i++) {
        out[i].first_error = sqrt((n - 1) / n * first[i].square);
        out[i].total_error = sqrt((n - 1) / n * total[i].square);
    }
    return n > 1;
}

void tl_index_solve(const struct tl_index_sums *group, size_t groups, size_t inputs,
                    struct tl_indices *out)
{
    const struct tl_index_sums all = join_all(group, groups, inputs, groups);
    *out = (struct tl_indices){.points = all.points, .missed = all.missed, .mean = all.mean};
    if (all.points == 0)
        return;
    out->deviation = sqrt(all.square / (2 * (double)all.points));
    out->known = estimate(&all, inputs, out->input) && jackknife(group, groups, inputs, out->input);
}
