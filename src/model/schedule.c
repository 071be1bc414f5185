/* The stops of the integrator: meals, events, what ends with a `for:`, scheduled water changes, steps
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

int tl_schedule_make(struct tl_model *m)
{
    const struct tl_setup *s = &m->setup;
    const double end = instant(s->start_d + s->length_d);
    const double days = ceil(s->length_d) + 2;
    const double changes = s->change_every_d > 0 ? s->length_d / s->change_every_d + 2 : 0;
    const double foul_d = tl_pump_step_d(&s->pump);
    const double steps = foul_d > 0 ? s->length_d / foul_d + 2 : 0;
    const double most =
        days * (double)s->feeding.meals + changes + steps + 2.0 * (double)s->events + 1;

    if (!(most < 1e8))
        return TL_E_INPUT;
    m->stop = malloc((size_t)most * sizeof *m->stop);
    if (!m->stop)
        return TL_E_MEMORY;

    size_t n = 0;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        m->stop[n++] = (struct tl_stop){instant(e->at_d), TL_STOP_EVENT, i};
        if (e->for_d > 0 && instant(e->at_d + e->for_d) < end)
            m->stop[n++] = (struct tl_stop){instant(e->at_d + e->for_d), TL_STOP_RESTORE, i};
    }
    if (s->change_every_d > 0)
        for (size_t k = 1; instant(s->start_d + (double)k * s->change_every_d) < end; k++)
            m->stop[n++] = (struct tl_stop){instant(s->start_d + (double)k * s->change_every_d),
                                            TL_STOP_CHANGE, 0};
    for (int day = 0; day < (int)days; day++)
        for (size_t j = 0; j < s->feeding.meals; j++) {
            const double t = instant(day + s->feeding.meal_s[j] / 86400.0);
            if (t >= instant(s->start_d) && t < end)
                m->stop[n++] = (struct tl_stop){t, TL_STOP_MEAL, 0};
        }

    for (size_t k = 1; foul_d > 0 && instant(s->start_d + (double)k * foul_d) < end; k++)
        m->stop[n++] = (struct tl_stop){instant(s->start_d + (double)k * foul_d), TL_STOP_FOUL, 0};

    qsort(m->stop, n, sizeof *m->stop, compare_stops);
    m->stops = n;
    return tl_pump_plan(m);
}

const struct tl_stop *tl_model_stops(const struct tl_model *m, size_t *count)
{
    *count = m->stops;
    return m->stop;
}
