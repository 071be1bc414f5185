/* Means over the last hours of a few quantities sampled at rising times, in one lane or many (lanes.h):
 * a ring of intervals (trapezoids) with running sums. The sums are added up afresh each time as many
 * intervals have left as are in the ring, so rounding cannot pile up. */
#ifndef TL_WINDOW_H
#define TL_WINDOW_H

#include "lanes.h"
#include "towerloop/status.h"

#define TL_WINDOW_CHANNELS 8
#define TL_WINDOW_SLACK_D  1e-9 /* in comparing times (86 microseconds) */

struct tl_window {
    real sum[TL_WINDOW_CHANNELS];
    real last[TL_WINDOW_CHANNELS]; /* the last sample */
    double last_t;
    double length; /* how far back the mean reaches */
    double span;   /* sum of the lengths in the ring */
    size_t channels;
    double *piece;                 /* lengths of the intervals between two samples: the ring */
    real *area;                    /* `channels` to an interval */
    size_t capacity, first, count; /* the capacity is a power of two */
    size_t dropped;                /* since the sums were last added up afresh */
    bool started;
};

static inline void tl_window_init(struct tl_window *w, double length, size_t channels)
{
    memset(w, 0, sizeof *w);
    w->length = length;
    w->channels = channels;
}

/* Forget all samples; the mean reaches back `length` from now on. */
static inline void tl_window_restart(struct tl_window *w, double length)
{
    w->length = length;
    w->started = false;
    w->count = w->first = w->dropped = 0;
    w->span = 0;
    memset(w->sum, 0, sizeof w->sum);
}

static inline void tl_window_free(struct tl_window *w)
{
    free(w->piece);
    free(w->area);
    w->piece = NULL;
    w->area = NULL;
    w->count = w->capacity = 0;
}

/* Place in the ring of the interval `i` after the oldest. */
static inline size_t tl_window_place(const struct tl_window *w, size_t i)
{
    return (w->first + i) & (w->capacity - 1);
}

static inline int tl_window_grow(struct tl_window *w)
{
    const size_t capacity = w->capacity ? 2 * w->capacity : 32;
    const size_t bytes = w->channels * sizeof(real);
    double *piece = malloc(capacity * sizeof *piece);
    real *area = lane_alloc(capacity * bytes);
    if (!piece || !area) {
        free(piece);
        free(area);
        return TL_E_MEMORY;
    }
    for (size_t i = 0; i < w->count; i++) {
        const size_t from = tl_window_place(w, i);
        piece[i] = w->piece[from];
        memcpy(&area[i * w->channels], &w->area[from * w->channels], bytes);
    }
    free(w->piece);
    free(w->area);
    w->piece = piece;
    w->area = area;
    w->capacity = capacity;
    w->first = 0;
    return TL_OK;
}

static inline void tl_window_add_up_afresh(struct tl_window *w)
{
    w->span = 0;
    memset(w->sum, 0, sizeof w->sum);
    for (size_t i = 0; i < w->count; i++) {
        const size_t at = tl_window_place(w, i);
        w->span += w->piece[at];
        for (size_t c = 0; c < w->channels; c++)
            w->sum[c] += w->area[at * w->channels + c];
    }
    w->dropped = 0;
}

static inline void tl_window_drop_oldest(struct tl_window *w)
{
    w->span -= w->piece[w->first];
    for (size_t c = 0; c < w->channels; c++)
        w->sum[c] -= w->area[w->first * w->channels + c];
    w->first = tl_window_place(w, 1);
    w->count--;
    if (++w->dropped >= w->count)
        tl_window_add_up_afresh(w);
}

/* TL_OK or TL_E_MEMORY. */
static inline int tl_window_add(struct tl_window *w, double t, const real *value)
{
    const double dt = w->started ? t - w->last_t : 0;

    if (dt > 0) {
        if (w->count == w->capacity && tl_window_grow(w) != TL_OK)
            return TL_E_MEMORY;
        const size_t at = tl_window_place(w, w->count);
        w->piece[at] = dt;
        w->span += dt;
        for (size_t c = 0; c < w->channels; c++) {
            /* NOLINTNEXTLINE(clang-analyzer-core.*): there are as many values as channels */
            const real area = 0.5 * dt * (w->last[c] + value[c]);
            w->area[at * w->channels + c] = area;
            w->sum[c] += area;
        }
        w->count++;
        while (w->count > 1 && w->span - w->piece[w->first] >= w->length - TL_WINDOW_SLACK_D)
            tl_window_drop_oldest(w);
    }
    w->started = true;
    w->last_t = t;
    memcpy(w->last, value, w->channels * sizeof *value);
    return TL_OK;
}

/* True once the window's whole length has been sampled. */
static inline bool tl_window_full(const struct tl_window *w)
{
    return w->count > 0 && w->span >= w->length - TL_WINDOW_SLACK_D;
}

/* The last sample where there is no other. */
static inline real tl_window_mean(const struct tl_window *w, size_t channel)
{
    return w->count > 0 ? w->sum[channel] / w->span : w->last[channel];
}

#endif
