/* The stops of the integrator: meals, events, what ends with a `for:`, scheduled water changes, emptyings and doses, steps
 * of a fouling pump. */
#include "schedule.h"

#include <math.h>
#include <stdlib.h>

#include "pump_plan.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"

#define MS_PER_DAY 86400000.0

/* Instants are kept to the millisecond, so that what is meant to fall together does. */
static double instant(double t_d)
{
    return round(t_d * MS_PER_DAY) / MS_PER_DAY;
}

static int compare_stops(const void *a, const void *b)
{
    const struct tl_stop *p = a;
    const struct tl_stop *q = b;

    if (p->t_d != q->t_d)
        return p->t_d < q->t_d ? -1 : 1;
    if (p->kind != q->kind)
        return p->kind < q->kind ? -1 : 1;
    return (p->index > q->index) - (p->index < q->index);
}

/* What is being made, and the span it lies in. */
struct list {
    const struct tl_setup *s;
    struct tl_stop *stop;
    size_t n;
    double begin, end;
};

static void put(struct list *l, double t_d, enum tl_stop_kind kind, size_t index)
{
    l->stop[l->n++] = (struct tl_stop){instant(t_d), kind, index};
}

static bool within(const struct list *l, double t_d)
{
    return instant(t_d) >= l->begin && instant(t_d) < l->end;
}

/* Whether the alkalinity is looked at after each water change. */
static bool doses_with_changes(const struct tl_setup *s)
{
    return s->dosing.hold_alkalinity_eq_m3 > 0 && !(s->dosing.every_d > 0);
}

static void put_events(struct list *l)
{
    for (size_t i = 0; i < l->s->events; i++) {
        const struct tl_event *e = &l->s->event[i];
        const bool dechlorinates = e->kind == TL_EVENT_DOSE && e->dose == TL_DOSE_THIOSULFATE;
        put(l, e->at_d, dechlorinates ? TL_STOP_DECHLORINATE : TL_STOP_EVENT, i);
        if (e->for_d > 0 && instant(e->at_d + e->for_d) < l->end)
            put(l, e->at_d + e->for_d, TL_STOP_RESTORE, i);
        if (e->kind == TL_EVENT_WATER_CHANGE && doses_with_changes(l->s))
            put(l, e->at_d, TL_STOP_DOSING, 0);
    }
}

static void put_changes(struct list *l)
{
    const struct tl_setup *s = l->s;
    if (!(s->change_every_d > 0))
        return;
    for (size_t k = 1; within(l, s->start_d + (double)k * s->change_every_d); k++) {
        const double at_d = s->start_d + (double)k * s->change_every_d;
        if (at_d >= s->no_change_from_d && at_d < s->no_change_to_d)
            continue;
        put(l, at_d, TL_STOP_CHANGE, 0);
        if (doses_with_changes(s))
            put(l, at_d, TL_STOP_DOSING, 0);
    }
}

static void put_emptyings(struct list *l)
{
    const struct tl_emptying *e = &l->s->emptying;
    if (!(e->every_d > 0))
        return;
    const double since = e->at_s / 86400.0;
    for (size_t k = 1; within(l, since + (double)k * e->every_d); k++)
        put(l, since + (double)k * e->every_d, TL_STOP_EMPTY, 0);
}

static void put_looks(struct list *l)
{
    const struct tl_dosing *d = &l->s->dosing;
    if (!(d->hold_alkalinity_eq_m3 > 0) || !(d->every_d > 0))
        return;
    /* day 0 begins before the run, by less than a day */
    const double first = d->at_s / 86400.0;
    for (size_t k = within(l, first) ? 0 : 1; instant(first + (double)k * d->every_d) < l->end; k++)
        put(l, first + (double)k * d->every_d, TL_STOP_DOSING, 0);
}

static void put_meals(struct list *l, int days)
{
    const struct tl_feeding *f = &l->s->feeding;
    for (size_t i = 0; i < f->log.n; i++)
        if (within(l, f->log.x[i]))
            put(l, f->log.x[i], TL_STOP_LOGGED_MEAL, i);
    for (int day = 0; day < days && f->log.n == 0; day++)
        for (size_t j = 0; j < f->meals; j++)
            if (within(l, day + f->meal_s[j] / 86400.0))
                put(l, day + f->meal_s[j] / 86400.0, TL_STOP_MEAL, 0);
}

/* The light has a kink there, over which no step should reach. */
static void put_light(struct list *l, int days)
{
    const double half_d = 0.5 * l->s->sun.hours_d;
    if (!l->s->sun.given || l->s->weather.given) /* under a sky the light rises smoothly */
        return;
    for (int day = 0; day < days; day++) {
        if (within(l, day + 0.5 - half_d))
            put(l, day + 0.5 - half_d, TL_STOP_LIGHT, 0);
        if (half_d < 0.5 && within(l, day + 0.5 + half_d))
            put(l, day + 0.5 + half_d, TL_STOP_LIGHT, 0);
    }
}

int tl_schedule_make(struct tl_model *m)
{
    const struct tl_setup *s = &m->setup;
    const double days = ceil(s->length_d) + 2;
    const double changes = s->change_every_d > 0 ? s->length_d / s->change_every_d + 2 : 0;
    const double looks = s->dosing.every_d > 0 ? s->length_d / s->dosing.every_d + 3 : changes;
    const double emptyings = s->emptying.every_d > 0 ? s->length_d / s->emptying.every_d + 2 : 0;
    const double foul_d = tl_pump_step_d(&s->pump);
    const double steps = foul_d > 0 ? s->length_d / foul_d + 2 : 0;
    const double most = days * (double)s->feeding.meals + (double)s->feeding.log.n + changes +
                        (s->sun.given ? 2 * days : 0) + looks + emptyings + steps +
                        3.0 * (double)s->events + 1;

    if (!(most < 1e8))
        return TL_E_INPUT;
    m->stop = malloc((size_t)most * sizeof *m->stop);
    if (!m->stop)
        return TL_E_MEMORY;

    struct list l = {s, m->stop, 0, instant(s->start_d), instant(s->start_d + s->length_d)};
    put_events(&l);
    put_changes(&l);
    put_emptyings(&l);
    put_looks(&l);
    put_meals(&l, (int)days);
    put_light(&l, (int)days);
    for (size_t k = 1; foul_d > 0 && within(&l, s->start_d + (double)k * foul_d); k++)
        put(&l, s->start_d + (double)k * foul_d, TL_STOP_FOUL, 0);
    qsort(m->stop, l.n, sizeof *m->stop, compare_stops);
    m->stops = l.n;
    return tl_pump_plan(m);
}

const struct tl_stop *tl_model_stops(const struct tl_model *m, size_t *count)
{
    *count = m->stops;
    return m->stop;
}
