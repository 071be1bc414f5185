/* Means over the last hours: a ring of intervals (trapezoids) with running sums. The sums are added
 * up afresh each time as many intervals have left as are in the ring, so rounding cannot pile up. */
#include "window.h"

#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

/* Slack in comparing times, in days (86 microseconds). */
static const double time_slack = 1e-9;

void tl_window_init(struct tl_window *w, double length, size_t channels)
{
    memset(w, 0, sizeof *w);
    w->length = length;
    w->channels = channels;
}

void tl_window_restart(struct tl_window *w, double length)
{
    w->length = length;
    w->started = false;
    w->count = w->first = w->dropped = 0;
    w->span = 0;
    memset(w->sum, 0, sizeof w->sum);
}

static int grow(struct tl_window *w)
{
    size_t capacity = w->capacity ? 2 * w->capacity : 32;
    struct tl_window_piece *ring = malloc(capacity * sizeof *ring);
    if (!ring)
        return TL_E_MEMORY;
    for (size_t i = 0; i < w->count; i++)
        ring[i] = w->ring[(w->first + i) % w->capacity];
    free(w->ring);
    w->ring = ring;
    w->capacity = capacity;
    w->first = 0;
    return TL_OK;
}

static void add_up_afresh(struct tl_window *w)
{
    w->span = 0;
    memset(w->sum, 0, sizeof w->sum);
    for (size_t i = 0; i < w->count; i++) {
        const struct tl_window_piece *p = &w->ring[(w->first + i) % w->capacity];
        w->span += p->length;
        for (size_t c = 0; c < w->channels; c++)
            w->sum[c] += p->area[c];
    }
    w->dropped = 0;
}

static void drop_oldest(struct tl_window *w)
{
    const struct tl_window_piece *p = &w->ring[w->first];
    w->span -= p->length;
    for (size_t c = 0; c < w->channels; c++)
        w->sum[c] -= p->area[c];
    w->first = (w->first + 1) % w->capacity;
    w->count--;
    if (++w->dropped >= w->count)
        add_up_afresh(w);
}

int tl_window_add(struct tl_window *w, double t, const double *value)
{
    double dt = w->started ? t - w->last_t : 0;

    if (dt > 0) {
        if (w->count == w->capacity && grow(w) != TL_OK)
            return TL_E_MEMORY;
        struct tl_window_piece *p = &w->ring[(w->first + w->count) % w->capacity];
        p->length = dt;
        w->span += dt;
        for (size_t c = 0; c < w->channels; c++) {
            p->area[c] = 0.5 * dt * (w->last[c] + value[c]);
            w->sum[c] += p->area[c];
        }
        w->count++;
        while (w->count > 1 && w->span - w->ring[w->first].length >= w->length - time_slack)
            drop_oldest(w);
    }
    w->started = true;
    w->last_t = t;
    memcpy(w->last, value, w->channels * sizeof *value);
    return TL_OK;
}

bool tl_window_full(const struct tl_window *w)
{
    return w->count > 0 && w->span >= w->length - time_slack;
}

double tl_window_mean(const struct tl_window *w, size_t channel)
{
    return w->sum[channel] / w->span;
}

void tl_window_free(struct tl_window *w)
{
    free(w->ring);
    w->ring = NULL;
    w->count = w->capacity = 0;
}
