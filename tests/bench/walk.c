/* Stops, hours and errors for every solver alike; how it integrates is its own affair. */
#include "walk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define SAME_INSTANT_D 1e-9

static const int compared[COMPARED] = {TL_TAN, TL_NO2, TL_O2};

void note_hour(struct hours *h, const double *tank)
{
    if (h->n == h->capacity) {
        h->capacity = h->capacity ? 2 * h->capacity : 10000;
        h->value = realloc(h->value, h->capacity * sizeof *h->value);
        if (!h->value)
            abort();
    }
    for (int k = 0; k < COMPARED; k++)
        h->value[h->n][k] = tank[compared[k]];
    h->n++;
}

double largest_error(const struct hours *h, const struct hours *exact)
{
    double most = h->n == exact->n ? 0 : INFINITY;

    for (size_t i = 0; i < h->n && i < exact->n; i++)
        for (int k = 0; k < COMPARED; k++) {
            const double x = exact->value[i][k];
            const double off = fabs(h->value[i][k] - x) / fmax(fabs(x), 0.05);
            if (!(off <= most))
                most = off;
        }
    return most;
}

int walk_rhs(struct walk *w, double t_d, const double *y, double *dydt)
{
    w->evaluations++;
    memcpy(w->y, y, w->at->core * sizeof *y);
    int status = tl_loop_rhs(w->model, w->work, &w->controls, t_d, w->y, w->dydt);
    memcpy(dydt, w->dydt, w->at->core * sizeof *dydt);
    return status != TL_OK;
}

static void carry_out_stops(struct walk *w)
{
    while (w->next_stop < w->stops && w->stop[w->next_stop].t_d <= w->t_d + SAME_INSTANT_D)
        tl_stop_apply(w->model, w->work, &w->stop[w->next_stop++], w->saved, &w->controls, w->y);
    if (tl_dry_out_d(&w->controls) <= w->t_d + SAME_INSTANT_D)
        w->controls.dried_out = true;
}

static void open_walk(struct walk *w, const struct tl_model *m)
{
    const struct tl_setup *s = tl_model_setup(m);

    *w = (struct walk){.model = m, .at = tl_model_layout(m)};
    w->stop = tl_model_stops(m, &w->stops);
    w->t_d = s->start_d;
    w->end_d = s->start_d + s->length_d;
    w->saved = calloc(s->events + 1, sizeof *w->saved);
    w->y = calloc(3 * w->at->size, sizeof *w->y);
    if (!w->saved || !w->y || tl_work_new(m, &w->work) || tl_model_start(m, &w->controls, w->y))
        abort();
    w->dydt = w->y + w->at->size;
    w->scale = w->dydt + w->at->size;
    tl_model_scales(m, w->scale);
}

static bool walk_on(struct walk *w, const struct solver *s, void *state)
{
    const double start_d = w->t_d;

    while (w->t_d < w->end_d) {
        carry_out_stops(w);
        if (!s->restart(state, w))
            return false;
        double until = fmin(w->end_d, tl_dry_out_d(&w->controls));
        if (w->next_stop < w->stops)
            until = fmin(until, w->stop[w->next_stop].t_d);
        for (;;) {
            const double hour_d = start_d + (double)w->hours.n * HOUR_D;
            const double t_d = hour_d < until - SAME_INSTANT_D ? hour_d : until;
            if (t_d > w->t_d + SAME_INSTANT_D && !s->go(state, w, t_d, until))
                return false;
            w->t_d = t_d;
            if (t_d == until)
                break;
            note_hour(&w->hours, &w->y[w->at->tank]);
        }
    }
    note_hour(&w->hours, &w->y[w->at->tank]);
    return true;
}

bool walk(const struct tl_model *m, const struct solver *s, double rtol, struct hours *out,
          unsigned long *evaluations)
{
    struct walk w;

    open_walk(&w, m);
    void *state = s->open(&w, s, rtol);
    const bool done = state && walk_on(&w, s, state);
    if (state)
        s->close(state);
    *out = w.hours;
    *evaluations = w.evaluations;
    tl_work_free(w.work);
    free(w.saved);
    free(w.y);
    return done;
}
