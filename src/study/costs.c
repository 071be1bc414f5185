/* Amounts from the scenario's own plan, and their prices. */
#include "costs.h"

#include <math.h>
#include <stdlib.h>

#include "towerloop/model.h"
#include "towerloop/status.h"
#include "towerloop/stock.h"

#define HOURS_A_DAY 24.0
#define G_PER_KG    1000.0
#define W_PER_KW    1000.0
#define J_A_KWH     3.6e6

/* A part of the run; `more_d` days more go on as it ends. */
struct stretch {
    const struct tl_setup *s;
    const struct tl_event **sorted;
    double from_d, to_d, more_d;
};

static bool holds(const struct stretch *x, double t_d)
{
    return t_d >= x->from_d && t_d < x->to_d;
}

/* Something that events switch: to their `value` by one kind, to `usual` by another (TL_NEVENT: none),
 * and back after a `for:`. No two `for:` of one thing overlap, so what comes back is what was before. */
struct switched {
    enum tl_event_kind set, restore;
    double usual, now, before;
    double back_at; /* INFINITY: no `for:` is going on */
};

static struct switched switched(enum tl_event_kind set, enum tl_event_kind restore, double usual)
{
    return (struct switched){set, restore, usual, usual, usual, INFINITY};
}

static void change(struct switched *w, const struct tl_event *e)
{
    if (e->kind != w->set && e->kind != w->restore)
        return;
    w->before = w->now;
    w->now = e->kind == w->restore ? w->usual : e->value;
    if (e->for_d > 0)
        w->back_at = e->at_d + e->for_d;
}

static void put_back(struct switched *w, double t_d)
{
    if (w->back_at > t_d)
        return;
    w->now = w->before;
    w->back_at = INFINITY;
}

/* Without the `for:` that is going on. */
static double in_the_end(const struct switched *w)
{
    return isfinite(w->back_at) ? w->before : w->now;
}

static double part(const struct stretch *x, double from_d, double to_d)
{
    return fmax(0, fmin(to_d, x->to_d) - fmax(from_d, x->from_d));
}

/* Days in which `a` is on, each by how much `b` there is. */
static double days_on(const struct stretch *x, struct switched a, struct switched b)
{
    double since = x->s->start_d;
    double days = 0;
    for (size_t i = 0; i <= x->s->events; i++) {
        const struct tl_event *e = i < x->s->events ? x->sorted[i] : NULL;
        const double at = e ? fmin(e->at_d, x->to_d) : x->to_d;
        while (fmin(a.back_at, b.back_at) <= at) {
            const double back_at = fmin(a.back_at, b.back_at);
            days += a.now > 0 ? b.now * part(x, since, back_at) : 0;
            since = back_at;
            put_back(&a, back_at);
            put_back(&b, back_at);
        }
        days += a.now > 0 ? b.now * part(x, since, at) : 0;
        since = at;
        if (!e || e->at_d >= x->to_d)
            break;
        change(&a, e);
        change(&b, e);
    }
    return days + (in_the_end(&a) > 0 ? in_the_end(&b) * x->more_d : 0);
}

/* The greatest mass stocked at any time of the stretch. */
static int most_fish_kg(const struct stretch *x, double *most)
{
    struct tl_stock *stock = NULL;
    size_t n = 0;
    int status = tl_stock_of(x->s, &stock, &n);
    *most = 0;
    for (size_t i = 0; status == TL_OK && i < n; i++)
        if (stock[i].from_d < x->to_d && (i + 1 == n || stock[i + 1].from_d > x->from_d))
            *most = fmax(*most, stock[i].kg);
    free(stock);
    return status;
}

/* How often something falls into the stretch that comes again every `every_d` after `since_d`. */
static double times(const struct stretch *x, double since_d, double every_d)
{
    const double end_d = x->s->start_d + x->s->length_d - 0.5e-3 / 86400;
    double n = 0;
    if (!(every_d > 0))
        return 0;
    for (size_t k = 1; since_d + (double)k * every_d < end_d; k++)
        n += holds(x, since_d + (double)k * every_d);
    return n + x->more_d / every_d;
}

static double water_m3(const struct stretch *x)
{
    const struct tl_setup *s = x->s;
    double tanks = s->trickle_1_d * (x->to_d - x->from_d + x->more_d);
    double chambers = times(x, s->emptying.at_s / 86400.0, s->emptying.every_d);
    tanks += s->change_amount * times(x, s->start_d, s->change_every_d);
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        tanks += e->kind == TL_EVENT_WATER_CHANGE && holds(x, e->at_d) ? e->value : 0;
        chambers += e->kind == TL_EVENT_CLEAN_CHAMBER && holds(x, e->at_d);
    }
    return tanks * s->tank.volume_m3 + chambers * s->chamber.volume_m3;
}

/* Of the `days` on end in which the heater gave most, looked for day by day, J. */
static double most_heat_j(const struct tl_setup *s, const struct tl_heat_course *h, double days)
{
    const double end_d = s->start_d + s->length_d;
    double most_j = 0;
    for (double to_d = end_d; to_d - days > s->start_d - 1e-9; to_d--)
        most_j = fmax(most_j, tl_heat_course_total(h, h->heater_j, to_d) -
                                  tl_heat_course_total(h, h->heater_j, to_d - days));
    return most_j;
}

/* What the weather adds, where the temperature follows from it. */
static int add_heat(const struct stretch *x, double more, struct tl_amounts *out)
{
    struct tl_model *m = NULL;
    if (x->s->temperature.kind != TL_TEMPERATURE_WEATHER)
        return TL_OK;
    int status = tl_model_build(x->s, &m);
    if (status == TL_OK) {
        const struct tl_heat_course *h = tl_model_heat(m);
        out->outdoors = true;
        out->heat = h->summary;
        out->water_m3 += (1 + more) * (tl_heat_course_total(h, h->top_up_m3, x->to_d) -
                                       tl_heat_course_total(h, h->top_up_m3, x->from_d));
        out->heater_kwh = (1 + more) / J_A_KWH * most_heat_j(x->s, h, x->to_d - x->from_d);
    }
    tl_model_free(m);
    return status;
}

static int amounts_of(const struct tl_scenario *scenario, struct stretch *x,
                      const struct tl_given *given, struct tl_amounts *out)
{
    const struct tl_setup *s = &scenario->setup;
    const double days = x->to_d - x->from_d;
    const double more = days > 0 ? x->more_d / days : 0;
    double fish_kg = 0;
    x->s = s;
    int status = tl_events_by_time(s, &x->sorted);
    if (status == TL_OK)
        status = most_fish_kg(x, &fish_kg);
    if (status == TL_OK) {
        const double pump_d =
            days_on(x, switched(TL_EVENT_PUMP_FLOW, TL_EVENT_PUMP_ON, s->pump_flow_m3_d),
                    switched(TL_EVENT_PUMPS_RUNNING, TL_NEVENT, s->pump.count)) /
            s->pump.count;
        const double aerator_d =
            days_on(x, switched(TL_EVENT_AERATOR, TL_EVENT_AERATOR_ON, s->aerator_g_d),
                    switched(TL_NEVENT, TL_NEVENT, 1));
        *out = (struct tl_amounts){
            .feed_kg = given->feed_g / G_PER_KG * (1 + more),
            .water_m3 = water_m3(x),
            .baking_soda_kg =
                (given->dose_g[TL_DOSE_BAKING_SODA] + more * given->held_g) / G_PER_KG,
            .salt_kg = given->dose_g[TL_DOSE_SALT] / G_PER_KG,
            .pump_kwh = pump_d * HOURS_A_DAY * scenario->costs.pump_w / W_PER_KW,
            .aerator_kwh = aerator_d * HOURS_A_DAY * scenario->costs.aerator_w / W_PER_KW,
            .fish_kg = fish_kg,
        };
        status = add_heat(x, more, out);
    }
    free(x->sorted);
    return status;
}

int tl_amounts_of(const struct tl_scenario *s, const struct tl_given *given, struct tl_amounts *out)
{
    struct stretch whole = {.from_d = s->setup.start_d,
                            .to_d = s->setup.start_d + s->setup.length_d};
    return amounts_of(s, &whole, given, out);
}

int tl_amounts_of_month(const struct tl_scenario *s, const struct tl_given *given_a_month,
                        struct tl_amounts *out)
{
    struct tl_given_watch w;
    int status = tl_given_watch(&s->setup, &w);
    if (status != TL_OK)
        return status;
    struct stretch month = {
        .from_d = w.from_d, .to_d = w.to_d, .more_d = fmax(0, TL_MONTH_D - (w.to_d - w.from_d))};
    return amounts_of(s, &month, given_a_month, out);
}

double tl_amounts_kwh(const struct tl_amounts *a)
{
    const double part[] = {a->pump_kwh, a->aerator_kwh, a->heater_kwh > 0 ? a->heater_kwh : NAN};
    double sum = NAN;
    for (size_t i = 0; i < sizeof part / sizeof *part; i++)
        if (!isnan(part[i]))
            sum = isnan(sum) ? part[i] : sum + part[i];
    return sum;
}

/* Adds amount x price to a sum that is NAN while it has no part. */
static void add(double *sum, double amount, double price)
{
    if (!isnan(amount) && !isnan(price))
        *sum = (isnan(*sum) ? 0 : *sum) + amount * price;
}

static double price_of(const struct tl_costs *c, const struct tl_amounts *a)
{
    double sum = NAN;
    add(&sum, tl_amounts_kwh(a), c->electricity_per_kwh);
    add(&sum, a->water_m3, c->water_per_m3);
    add(&sum, a->feed_kg, c->feed_per_kg);
    add(&sum, a->baking_soda_kg, c->baking_soda_per_kg);
    add(&sum, a->salt_kg, c->salt_per_kg);
    return sum;
}

void tl_bill_of(const struct tl_scenario *s, const struct tl_amounts *run,
                const struct tl_amounts *month, bool within, struct tl_bill *out)
{
    const struct tl_costs *c = &s->costs;
    const struct tl_tower *t = &s->setup.tower;
    *out = (struct tl_bill){.build = NAN,
                            .month = price_of(c, month),
                            .running = price_of(c, run),
                            .whole_run = NAN,
                            .month_per_kg = NAN};
    add(&out->build, t->trays * t->media_depth_m * t->plan_area_m2, c->media_per_m3);
    add(&out->build, t->trays, c->tray_each);
    add(&out->build, 1, c->other_once);
    add(&out->whole_run, 1, out->build);
    add(&out->whole_run, 1, out->running);
    if (within && month->fish_kg > 0)
        out->month_per_kg = out->month / month->fish_kg;
}
