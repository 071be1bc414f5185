/* Means over the last hours of a few quantities sampled at rising times. */
#ifndef TL_WINDOW_H
#define TL_WINDOW_H

#include <stdbool.h>
#include <stddef.h>

#define TL_WINDOW_CHANNELS 8

struct tl_window_piece { /* one interval between two samples */
    double length;
    double area[TL_WINDOW_CHANNELS];
};

struct tl_window {
    double length; /* how far back the mean reaches */
    size_t channels;
    struct tl_window_piece *ring;
    size_t capacity, first, count;
    size_t dropped; /* since the sums were last added up afresh */
    double span;    /* sum of the lengths in the ring */
    double sum[TL_WINDOW_CHANNELS];
    bool started;
    double last_t;
    double last[TL_WINDOW_CHANNELS];
};

void tl_window_init(struct tl_window *w, double length, size_t channels);
/* Forget all samples; the mean reaches back `length` from now on. */
void tl_window_restart(struct tl_window *w, double length);
/* TL_OK or TL_E_MEMORY. */
int tl_window_add(struct tl_window *w, double t, const double *value);
/* True once the window's whole length has been sampled. */
bool tl_window_full(const struct tl_window *w);
double tl_window_mean(const struct tl_window *w, size_t channel);
void tl_window_free(struct tl_window *w);

#endif
