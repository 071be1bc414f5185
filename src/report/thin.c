/* Fewer points for the same picture: extremes of buckets, and means with extremes of days. */
#include "thin.h"

#include <math.h>

static void choose(size_t i, size_t *keep, size_t *kept)
{
    if (*kept == 0 || keep[*kept - 1] < i)
        keep[(*kept)++] = i;
}

size_t tl_thin(const double *value, size_t n, size_t most, size_t *keep)
{
    size_t kept = 0;

    if (n <= most) {
        for (size_t i = 0; i < n; i++)
            keep[kept++] = i;
        return kept;
    }
    /* the ends, and up to three points of each bucket */
    size_t buckets = (most - 2) / 3;
    choose(0, keep, &kept);
    for (size_t b = 0; b < buckets; b++) {
        size_t from = b * n / buckets, to = (b + 1) * n / buckets;
        size_t low = to, high = to, gap = to;
        for (size_t i = from; i < to; i++) {
            if (!isfinite(value[i])) {
                if (gap == to)
                    gap = i;
                continue;
            }
            if (low == to || value[i] < value[low])
                low = i;
            if (high == to || value[i] > value[high])
                high = i;
        }
        size_t pick[3] = {low, high, gap};
        for (int a = 0; a < 2; a++) /* in order of time */
            for (int c = 0; c < 2 - a; c++)
                if (pick[c] > pick[c + 1]) {
                    size_t swap = pick[c];
                    pick[c] = pick[c + 1];
                    pick[c + 1] = swap;
                }
        for (int a = 0; a < 3; a++)
            if (pick[a] < to)
                choose(pick[a], keep, &kept);
    }
    choose(n - 1, keep, &kept);
    return kept;
}

size_t tl_band_count(const double *t, size_t n, double length)
{
    double bands = n > 1 ? floor((t[n - 1] - t[0]) / length + 0.5) : 0;
    return bands < 1 ? 1 : (size_t)bands;
}

void tl_bands(const double *t, const double *value, size_t n, size_t bands, struct tl_band *out)
{
    double step = n > 1 ? (t[n - 1] - t[0]) / (double)bands : 0;
    size_t i = 0;

    for (size_t b = 0; b < bands; b++) {
        double end = t[0] + step * (double)(b + 1), sum = 0;
        size_t count = 0;
        out[b] = (struct tl_band){t[0] + step * ((double)b + 0.5), NAN, INFINITY, -INFINITY};
        for (; i < n && (b + 1 == bands || t[i] < end); i++) {
            if (!isfinite(value[i]))
                continue;
            sum += value[i];
            count++;
            out[b].low = fmin(out[b].low, value[i]);
            out[b].high = fmax(out[b].high, value[i]);
        }
        if (count)
            out[b].mean = sum / (double)count;
        else
            out[b].low = out[b].high = NAN;
    }
}
