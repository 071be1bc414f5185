/* Curves taken in row by row and kept as few points: how many rows there are does not matter. */
#ifndef TOWERLOOP_REPORT_THIN_H
#define TOWERLOOP_REPORT_THIN_H

#include <stddef.h>

struct tl_point {
    double t;
    double value; /* NAN: a gap in the curve. Of a band it is the mean. */
    double low;   /* of a band its lowest and highest value, else the value */
    double high;
};

struct tl_trace {
    struct tl_point *point; /* in order of time */
    size_t points;
    double lowest, highest; /* of all values; lowest > highest when there is none */
    double lowest_t, highest_t;

    /* while rows come in */
    size_t rows, row, last_kept;
    size_t pieces, piece; /* the rows are cut into so many: bands, or buckets of neighbours */
    double from_t, to_t;  /* of bands */
    const double *edge;   /* of bands drawn as steps */
    size_t piece_rows;    /* of the band so far */
    struct tl_pick {
        size_t row;
        double t, value;
    } low, high, gap; /* of the piece so far; row == rows: none */
    double sum;
    size_t count;
};

/* Begin a curve of `rows` rows. Of buckets of neighbours the lowest, the highest and the first gap
 * stay, and so do the ends: at most `most` (>= 4) points and the gaps. TL_OK or TL_E_MEMORY. */
int tl_trace_points(struct tl_trace *tr, size_t rows, size_t most);
/* The same with `bands` equal stretches of time, each with mean, lowest and highest. */
int tl_trace_bands(struct tl_trace *tr, size_t rows, double from_t, double to_t, size_t bands);
/* The same with bands of any length as steps: each has a point where it begins and one where it ends, which
 * is where the next one begins. edge[0..bands] rise, and stay the caller's until the end. A band
 * between rows takes on what was before it. */
int tl_trace_steps(struct tl_trace *tr, size_t rows, const double *edge, size_t bands);
/* The next row, at a time not before the last one; a value that is not a number is a gap. */
void tl_trace_add(struct tl_trace *tr, double t, double value);
/* The same of a value that is no row: it counts as lowest or highest, not for a mean. The curve was begun
 * with one row more for each. */
void tl_trace_add_extreme(struct tl_trace *tr, double t, double value);
/* After the last row: all bands are there then. */
void tl_trace_finish(struct tl_trace *tr);
/* The same, and leaves out points that the line between their neighbours shows within
 * `tolerance`, a share of the curve's height; a larger one as long as there are more than `most`. The
 * lowest and the highest point stay. */
void tl_trace_end(struct tl_trace *tr, double tolerance, size_t most);
void tl_trace_free(struct tl_trace *tr);

/* The shortest of the lengths people reckon in, an hour to a month, of which at most some seventy make up
 * so many days. */
double tl_stretch_length(double span_d);
/* How many stretches of about `length` go into from..to: at least 1. */
size_t tl_band_count(double from, double to, double length);

#endif
