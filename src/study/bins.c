/* Bins of equal or of growing width. */
#include "bins.h"

#include <math.h>

static double edge(const struct tl_bins *b, size_t inner)
{
    return b->log ? b->low * pow(1 + b->width, (double)inner) : b->low + b->width * (double)inner;
}

size_t tl_bins_at(const struct tl_bins *b, double value)
{
    if (!(value >= b->low))
        return 0;
    const double inner =
        floor(b->log ? log(value / b->low) / log1p(b->width) : (value - b->low) / b->width);
    const size_t last = b->count - 1u;
    return inner >= (double)(last - 1) ? last : 1 + (size_t)inner;
}

double tl_bins_middle(const struct tl_bins *b, size_t bin)
{
    if (bin == 0)
        return b->log ? 0 : b->low;
    if (bin >= b->count - 1u)
        return edge(b, b->count - 2u);
    const double from = edge(b, bin - 1), to = edge(b, bin);
    return b->log ? sqrt(from * to) : (from + to) / 2;
}

size_t tl_bins_quantile(const uint32_t *counted, size_t bins, double share)
{
    uint64_t all = 0, below = 0;
    for (size_t i = 0; i < bins; i++)
        all += counted[i];
    const double wanted = fmax(1, ceil(share * (double)all));
    for (size_t i = 0; i < bins; i++) {
        below += counted[i];
        if (all > 0 && (double)below >= wanted)
            return i;
    }
    return SIZE_MAX;
}
