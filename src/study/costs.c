/* Amounts from the scenario's own plan, and their prices. */
#include "costs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define HOURS_A_DAY 24.0

static double end_of(const struct tl_setup *s)
{
    return s->start_d + s->length_d;
}

static int by_time(const void *a, const void *b)
{
    const struct tl_event *x = *(const struct tl_event *const *)a;
    const struct tl_event *y = *(const struct tl_event *const *)b;
    if (x->at_d != y->at_d)
        return x->at_d < y->at_d ? -1 : 1;
    return (x > y) - (x < y);
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

/* Days in which `a` is on, each by how much `b` there is. */
static double days_on(const struct tl_setup *s, const struct tl_event *const *sorted,
                      struct switched a, struct switched b)
{
    double since = s->start_d;
    double days = 0;
    for (size_t i = 0; i <= s->events; i++) {
        const struct tl_event *e = i < s->events ? sorted[i] : NULL;
        const double at = e ? e->at_d : end_of(s);
        while (fmin(a.back_at, b.back_at) <= at) {
            const double back_at = fmin(a.back_at, b.back_at);
            days += a.now > 0 ? b.now * (back_at - since) : 0;
            since = back_at;
            put_back(&a, back_at);
            put_back(&b, back_at);
        }
        days += a.now > 0 ? b.now * (at - since) : 0;
        since = at;
        if (e) {
            change(&a, e);
            change(&b, e);
        }
    }
    return days;
}

struct group {
    const char *name;
    double count, mass_g; /* of all of them */
};

static struct group *find(struct group *group, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(group[i].name, name) == 0)
            return &group[i];
    return NULL;
}

/* The greatest mass stocked at any time. */
static int most_fish_g(const struct tl_setup *s, const struct tl_event *const *sorted, double *most)
{
    size_t n = 0;
    double now = 0;
    struct group *group = calloc(s->fish_groups + s->events + 1, sizeof *group);
    if (!group)
        return TL_E_MEMORY;
    for (size_t i = 0; i < s->fish_groups; i++) {
        const struct tl_fish *f = &s->fish[i];
        group[n++] = (struct group){f->name, f->count, f->count * f->mean_mass_g};
        now += f->count * f->mean_mass_g;
    }
    *most = now;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_fish *f = &sorted[i]->fish;
        struct group *g = find(group, n, f->name);
        if (sorted[i]->kind == TL_EVENT_ADD_FISH) {
            if (!g) {
                g = &group[n++];
                *g = (struct group){f->name, 0, 0};
            }
            g->count += f->count;
            g->mass_g += f->count * f->mean_mass_g;
            now += f->count * f->mean_mass_g;
        } else if (sorted[i]->kind == TL_EVENT_REMOVE_FISH && g && g->count > 0) {
            const double taken = fmin(f->count, g->count) / g->count * g->mass_g;
            g->count = fmax(g->count - f->count, 0);
            g->mass_g -= taken;
            now -= taken;
        }
        *most = fmax(*most, now);
    }
    free(group);
    return TL_OK;
}

static double water_m3(const struct tl_setup *s)
{
    double tanks = s->trickle_1_d * s->length_d;
    double chambers = 0;
    if (s->change_every_d > 0)
        for (size_t k = 1; (double)k * s->change_every_d < s->length_d - 0.5e-3 / 86400; k++)
            tanks += s->change_amount;
    for (size_t i = 0; i < s->events; i++) {
        tanks += s->event[i].kind == TL_EVENT_WATER_CHANGE ? s->event[i].value : 0;
        chambers += s->event[i].kind == TL_EVENT_CLEAN_CHAMBER;
    }
    return tanks * s->tank.volume_m3 + chambers * s->chamber.volume_m3;
}

static double dosed_kg(const struct tl_setup *s, enum tl_dose dose)
{
    double g = 0;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_DOSE && s->event[i].dose == dose)
            g += s->event[i].value;
    return g / 1000;
}

int tl_amounts_of(const struct tl_scenario *scenario, double fed_g_n, struct tl_amounts *out)
{
    const struct tl_setup *s = &scenario->setup;
    const double n_per_feed = s->feeding.protein * s->params.n_of_protein;
    double fish_g = 0;
    const struct tl_event **sorted = calloc(s->events + 1, sizeof *sorted);
    if (!sorted)
        return TL_E_MEMORY;
    for (size_t i = 0; i < s->events; i++)
        sorted[i] = &s->event[i];
    qsort(sorted, s->events, sizeof *sorted, by_time);
    int status = most_fish_g(s, sorted, &fish_g);
    const double pump_d =
        days_on(s, sorted, switched(TL_EVENT_PUMP_FLOW, TL_EVENT_PUMP_ON, s->pump_flow_m3_d),
                switched(TL_EVENT_PUMPS_RUNNING, TL_NEVENT, s->pump.count)) /
        s->pump.count;
    const double aerator_d =
        days_on(s, sorted, switched(TL_EVENT_AERATOR, TL_EVENT_AERATOR_ON, s->aerator_g_d),
                switched(TL_NEVENT, TL_NEVENT, 1));
    *out = (struct tl_amounts){
        .feed_kg = n_per_feed > 0 ? fed_g_n / n_per_feed / 1000 : NAN,
        .water_m3 = water_m3(s),
        .baking_soda_kg = dosed_kg(s, TL_DOSE_BAKING_SODA),
        .salt_kg = dosed_kg(s, TL_DOSE_SALT),
        .pump_kwh = pump_d * HOURS_A_DAY * scenario->costs.pump_w / 1000,
        .aerator_kwh = aerator_d * HOURS_A_DAY * scenario->costs.aerator_w / 1000,
        .fish_kg = fish_g / 1000,
    };
    free(sorted);
    return status;
}

double tl_amounts_kwh(const struct tl_amounts *a)
{
    if (isnan(a->pump_kwh))
        return a->aerator_kwh;
    return isnan(a->aerator_kwh) ? a->pump_kwh : a->pump_kwh + a->aerator_kwh;
}

/* Adds amount x price to a sum that is NAN while it has no part. */
static void add(double *sum, double amount, double price)
{
    if (!isnan(amount) && !isnan(price))
        *sum = (isnan(*sum) ? 0 : *sum) + amount * price;
}

void tl_bill_of(const struct tl_scenario *s, const struct tl_amounts *a, bool within,
                struct tl_bill *out)
{
    const struct tl_costs *c = &s->costs;
    const struct tl_tower *t = &s->setup.tower;
    double run = NAN;
    *out = (struct tl_bill){.build = NAN, .month = NAN, .whole_run = NAN, .month_per_kg = NAN};
    add(&out->build, t->trays * t->media_depth_m * t->plan_area_m2, c->media_per_m3);
    add(&out->build, t->trays, c->tray_each);
    add(&out->build, 1, c->other_once);
    add(&run, tl_amounts_kwh(a), c->electricity_per_kwh);
    add(&run, a->water_m3, c->water_per_m3);
    add(&run, a->feed_kg, c->feed_per_kg);
    add(&run, a->baking_soda_kg, c->baking_soda_per_kg);
    add(&run, a->salt_kg, c->salt_per_kg);
    add(&out->whole_run, 1, out->build);
    add(&out->whole_run, 1, run);
    out->month = run / s->setup.length_d * TL_MONTH_D;
    if (within && a->fish_kg > 0)
        out->month_per_kg = out->month / a->fish_kg;
}
