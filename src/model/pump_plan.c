/* What the pumps move after each stop: events that set them, fouling, cleaning.
 *
 * A flow that an event names is what flows from then on. It is a ceiling: when one of the pumps fails
 * afterwards, or they foul, it falls in the ratio of what they could move by themselves. */
#include "pump_plan.h"

#include <math.h>
#include <stdlib.h>

#include "towerloop/pump.h"
#include "towerloop/status.h"

/* What an event may change and `for:` puts back. */
struct setting {
    double named_m3_d; /* flow that an event names; NAN: the pumps' own */
    double own_then;   /* what the pumps could move by themselves at that time */
    double running;
};

struct pumps {
    const struct tl_setup *s;
    struct setting now;
    struct setting *before; /* of each event */
    double cleaned_d;       /* when it was last clean */
    double clean_ones;      /* running pumps, by what fouling leaves of them */
    double own_m3_d;        /* what that many can move */
};

/* Bring what the pumps can move up to date. */
static int look(struct pumps *p, double t_d)
{
    struct tl_duty duty;
    const double clean_ones = p->now.running * tl_pump_kept(&p->s->pump, t_d - p->cleaned_d);
    if (clean_ones == p->clean_ones)
        return TL_OK;
    int status = tl_pump_duty(p->s, clean_ones, &duty);
    p->clean_ones = clean_ones;
    p->own_m3_d = duty.flow_m3_d;
    return status;
}

static double flow(const struct pumps *p)
{
    if (isnan(p->now.named_m3_d))
        return p->own_m3_d;
    if (!(p->clean_ones > 0))
        return 0;
    return p->now.own_then > 0 ? p->now.named_m3_d * fmin(1, p->own_m3_d / p->now.own_then)
                               : p->now.named_m3_d;
}

static void put(struct pumps *p, const struct tl_event *e, size_t index, double t_d)
{
    p->before[index] = p->now;
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        p->now.named_m3_d = e->value;
        p->now.own_then = p->own_m3_d;
        break;
    case TL_EVENT_PUMP_ON:
        p->now.named_m3_d = NAN;
        break;
    case TL_EVENT_PUMPS_RUNNING:
        p->now.running = e->value;
        break;
    case TL_EVENT_CLEAN_PUMP:
        p->cleaned_d = t_d;
        break;
    default:
        break;
    }
}

static void put_back(struct pumps *p, const struct tl_event *e, size_t index)
{
    const struct setting *before = &p->before[index];
    if (e->kind == TL_EVENT_PUMPS_RUNNING) {
        p->now.running = before->running;
    } else if (e->kind == TL_EVENT_PUMP_FLOW || e->kind == TL_EVENT_PUMP_ON) {
        p->now.named_m3_d = before->named_m3_d;
        p->now.own_then = before->own_then;
    }
}

static bool is_of_pumps(const struct tl_setup *s, const struct tl_stop *stop)
{
    if (stop->kind == TL_STOP_FOUL)
        return true;
    if (stop->kind != TL_STOP_EVENT && stop->kind != TL_STOP_RESTORE)
        return false;
    const enum tl_event_kind kind = s->event[stop->index].kind;
    return kind == TL_EVENT_PUMP_FLOW || kind == TL_EVENT_PUMP_ON ||
           kind == TL_EVENT_PUMPS_RUNNING || kind == TL_EVENT_CLEAN_PUMP;
}

int tl_pump_plan(struct tl_model *m)
{
    const struct tl_setup *s = &m->setup;
    struct pumps p = {.s = s,
                      .now = {.named_m3_d = NAN, .running = s->pump.count},
                      .cleaned_d = s->start_d,
                      .clean_ones = s->pump.count,
                      .own_m3_d = s->pump_flow_m3_d};
    int status = TL_OK;

    p.before = calloc(s->events + 1, sizeof *p.before);
    m->stop_flow_m3_d = malloc((m->stops + 1) * sizeof *m->stop_flow_m3_d);
    if (!p.before || !m->stop_flow_m3_d)
        status = TL_E_MEMORY;
    for (size_t i = 0; i < m->stops && !status; i++) {
        const struct tl_stop *stop = &m->stop[i];
        if (is_of_pumps(s, stop)) {
            status = look(&p, stop->t_d); /* before it changes anything */
            if (stop->kind == TL_STOP_EVENT)
                put(&p, &s->event[stop->index], stop->index, stop->t_d);
            else if (stop->kind == TL_STOP_RESTORE)
                put_back(&p, &s->event[stop->index], stop->index);
            if (!status)
                status = look(&p, stop->t_d);
        }
        m->stop_flow_m3_d[i] = flow(&p);
    }
    free(p.before);
    return status;
}
