/* When source water is let in, how much of it, and what is dosed against its chlorine. */
#include "towerloop/inlet.h"

#include <math.h>

/* Sodium thiosulfate that meets the water let in at `t_d`. */
static double dechlorinator_g(const struct tl_setup *s, double t_d)
{
    double mass_g = 0;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_DOSE && e->dose == TL_DOSE_THIOSULFATE && e->at_d >= t_d - 1e-9 &&
            e->at_d <= t_d + TL_DOSE_SOON_D)
            mass_g += e->value;
    }
    return mass_g;
}

/* One of the instants that lie so far apart, the first `every_d` after `since_d`. */
static bool is_planned(double t_d, double since_d, double every_d)
{
    const double k = round((t_d - since_d) / every_d);
    return every_d > 0 && k >= 1 && fabs(since_d + k * every_d - t_d) < TL_DOSE_SOON_D;
}

static bool is_planned_change(const struct tl_setup *s, double t_d)
{
    return is_planned(t_d, s->start_d, s->change_every_d);
}

static double emptied_since_d(const struct tl_setup *s)
{
    return s->emptying.at_s / 86400.0;
}

static bool is_planned_refill(const struct tl_setup *s, double t_d)
{
    return is_planned(t_d, emptied_since_d(s), s->emptying.every_d);
}

bool tl_event_lets_in(const struct tl_event *e)
{
    return (e->kind == TL_EVENT_WATER_CHANGE && e->value > 0) || e->kind == TL_EVENT_CLEAN_CHAMBER;
}

struct tl_inlet tl_inlet_at(const struct tl_setup *s, double t_d)
{
    struct tl_inlet in = {.t_d = t_d};
    if (is_planned_change(s, t_d))
        in.tank_m3 += s->change_amount * s->tank.volume_m3;
    if (is_planned_refill(s, t_d))
        in.refill_m3 += s->chamber.volume_m3;
    for (size_t i = 0; i < s->events; i++) {
        if (!(fabs(s->event[i].at_d - t_d) < TL_DOSE_SOON_D))
            continue;
        if (s->event[i].kind == TL_EVENT_WATER_CHANGE)
            in.tank_m3 += s->event[i].value * s->tank.volume_m3;
        else if (s->event[i].kind == TL_EVENT_CLEAN_CHAMBER)
            in.refill_m3 += s->chamber.volume_m3;
    }
    if (!s->source.dechlorinated)
        in.needed_g = tl_thiosulfate_g(s, in.tank_m3 + in.refill_m3);
    in.given_g = dechlorinator_g(s, t_d);
    return in;
}

bool tl_inlet_untreated(const struct tl_inlet *i)
{
    return i->given_g < 0.99 * i->needed_g;
}

/* At the instant of an event, because a plan or an event before it lets water in then. */
static bool is_seen(const struct tl_setup *s, size_t event)
{
    const double t_d = s->event[event].at_d;
    bool any = is_planned_change(s, t_d) || is_planned_refill(s, t_d);
    for (size_t i = 0; i < event; i++)
        any = any ||
              (tl_event_lets_in(&s->event[i]) && fabs(s->event[i].at_d - t_d) < TL_DOSE_SOON_D);
    return any;
}

static void hand_on(const struct tl_setup *s, double t_d,
                    void (*see)(void *arg, const struct tl_inlet *i), void *arg)
{
    const struct tl_inlet in = tl_inlet_at(s, t_d);
    see(arg, &in);
}

void tl_inlets(const struct tl_setup *s, void (*see)(void *arg, const struct tl_inlet *i),
               void *arg)
{
    const double end_d = s->start_d + s->length_d;
    for (double t = s->start_d + s->change_every_d; s->change_every_d > 0 && t < end_d;
         t += s->change_every_d)
        hand_on(s, t, see, arg);
    for (double t = emptied_since_d(s) + s->emptying.every_d; s->emptying.every_d > 0 && t < end_d;
         t += s->emptying.every_d)
        if (!is_planned_change(s, t))
            hand_on(s, t, see, arg);
    for (size_t i = 0; i < s->events; i++)
        if (tl_event_lets_in(&s->event[i]) && !is_seen(s, i))
            hand_on(s, s->event[i].at_d, see, arg);
}
