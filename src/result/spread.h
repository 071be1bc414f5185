/* Highest less lowest value of the last hours, in one lane or many (lanes.h): of pieces of time, the last of
 * which is still open. The window reaches back for its length and less than a piece more. */
#ifndef TL_RESULT_SPREAD_H
#define TL_RESULT_SPREAD_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "lanes.h"
#include "window.h"

#define TL_SPREAD_PIECES 49

struct tl_spread {
    double piece_d;
    size_t pieces; /* in the ring */
    size_t open;   /* number of the piece that is open, counted from day 0 */
    bool started;
    real low[TL_SPREAD_PIECES], high[TL_SPREAD_PIECES];
    real closed_low, closed_high; /* of all pieces but the open one */
};

/* `pieces` < TL_SPREAD_PIECES to the length. */
static inline void tl_spread_init(struct tl_spread *s, double length_d, size_t pieces)
{
    s->piece_d = length_d / (double)pieces;
    s->pieces = pieces + 1;
    s->started = false;
}

/* Forget all values. */
static inline void tl_spread_restart(struct tl_spread *s)
{
    s->started = false;
}

/* The pieces up to `piece` begin empty; all do that are left from before a restart. */
static inline void tl_spread_turn(struct tl_spread *s, size_t piece)
{
    const size_t fresh = s->started && piece - s->open < s->pieces ? piece - s->open : s->pieces;
    for (size_t k = 0; k < fresh; k++) {
        const size_t at = (s->pieces + piece % s->pieces - k) % s->pieces;
        s->low[at] = lane_all(INFINITY);
        s->high[at] = lane_all(-INFINITY);
    }
    s->open = piece;
    s->started = true;
    s->closed_low = lane_all(INFINITY);
    s->closed_high = lane_all(-INFINITY);
    for (size_t i = 0; i < s->pieces; i++) {
        s->closed_low = lane_min(s->closed_low, s->low[i]);
        s->closed_high = lane_max(s->closed_high, s->high[i]);
    }
}

/* A value at `t` >= 0, not earlier than the last; the spread with it. */
static inline real tl_spread_add(struct tl_spread *s, double t, real value)
{
    const size_t piece = (size_t)((t + TL_WINDOW_SLACK_D) / s->piece_d);
    if (!s->started || piece > s->open)
        tl_spread_turn(s, piece);
    const size_t at = s->open % s->pieces;
    s->low[at] = lane_min(s->low[at], value);
    s->high[at] = lane_max(s->high[at], value);
    return lane_max(s->closed_high, s->high[at]) - lane_min(s->closed_low, s->low[at]);
}

#endif
