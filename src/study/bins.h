/* Fixed bins that runs are counted in, so that counts of many runs take no more room than those of few, and
 * can be joined in any order.
 *
 * Bin 0 holds what lies below `low`, the last what lies at or above the top; in between each bin is as
 * wide as stated: by a share of its lower edge (`log`), or by a step. A value read back as the middle of its bin
 * is off by at most half of that. */
#ifndef TL_BINS_H
#define TL_BINS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct tl_bins {
    bool log;       /* edges rise by the factor 1 + width; else by width */
    double low;     /* lower edge of bin 1; above 0 where `log` */
    double width;   /* above 0 */
    uint16_t count; /* with the two outer ones; at least 3 */
};

/* The bin of a value, which is not NAN: 0 to count - 1, rising with the value. */
size_t tl_bins_at(const struct tl_bins *b, double value);
/* The value at the middle of a bin: between its edges, by their root of the product where `log`. Below the
 * lowest edge: 0 where `log`, else the edge; above the top: the top. */
double tl_bins_middle(const struct tl_bins *b, size_t bin);

/* The first bin at which `share` (0..1) of all that was counted is reached; SIZE_MAX: nothing was. */
size_t tl_bins_quantile(const uint32_t *counted, size_t bins, double share);

#endif
