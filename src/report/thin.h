/* Fewer points for the same picture. */
#ifndef TOWERLOOP_REPORT_THIN_H
#define TOWERLOOP_REPORT_THIN_H

#include <stddef.h>

/* Chooses at most `most` (>= 5) of the n points for drawing; a value that is not a number is a gap.
 * Writes the rising indices chosen to `keep` (room for min(n, most)) and returns how many. Of each
 * bucket of neighbours the lowest, the highest and the first gap stay; so do the ends. */
size_t tl_thin(const double *value, size_t n, size_t most, size_t *keep);

struct tl_band { /* a stretch of time, at its middle */
    double t;
    double mean; /* NAN: no value in it */
    double low;
    double high;
};

/* How many stretches of about `length` the rising times t[0..n-1] make: at least 1. */
size_t tl_band_count(const double *t, size_t n, double length);
/* Mean, lowest and highest of each of `bands` equal stretches. */
void tl_bands(const double *t, const double *value, size_t n, size_t bands, struct tl_band *out);

#endif
