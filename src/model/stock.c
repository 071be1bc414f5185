/* Follows the fish through the scenario's plan. */
#include "towerloop/stock.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define G_PER_KG 1000.0

static int by_time(const void *a, const void *b)
{
    const struct tl_event *x = *(const struct tl_event *const *)a;
    const struct tl_event *y = *(const struct tl_event *const *)b;
    if (x->at_d != y->at_d)
        return x->at_d < y->at_d ? -1 : 1;
    return (x > y) - (x < y);
}

int tl_events_by_time(const struct tl_setup *s, const struct tl_event ***out)
{
    *out = calloc(s->events + 1, sizeof **out);
    if (!*out)
        return TL_E_MEMORY;
    for (size_t i = 0; i < s->events; i++)
        (*out)[i] = &s->event[i];
    qsort(*out, s->events, sizeof **out, by_time);
    return TL_OK;
}

/* Fish of one name. */
struct group {
    const char *name;
    double count, kg; /* of all of them */
};

static struct group *find(struct group *group, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(group[i].name, name) == 0)
            return &group[i];
    return NULL;
}

static void join(struct group *group, size_t *n, const struct tl_fish *f)
{
    struct group *g = find(group, *n, f->name);
    if (!g) {
        g = &group[(*n)++];
        *g = (struct group){f->name, 0, 0};
    }
    g->count += f->count;
    g->kg += f->count * f->mean_mass_g / G_PER_KG;
}

static void leave(struct group *group, size_t n, const struct tl_fish *f)
{
    struct group *g = find(group, n, f->name);
    if (!g || !(g->count > 0))
        return;
    const double share = fmin(1, f->count / g->count);
    g->count *= 1 - share;
    g->kg *= 1 - share;
}

static double all_kg(const struct group *group, size_t n)
{
    double kg = 0;
    for (size_t i = 0; i < n; i++)
        kg += group[i].kg;
    return kg;
}

static void follow(const struct tl_setup *s, const struct tl_event *const *sorted,
                   struct group *group, struct tl_stock *stock, size_t *n)
{
    size_t groups = 0;
    for (size_t i = 0; i < s->fish_groups; i++)
        join(group, &groups, &s->fish[i]);
    stock[0] = (struct tl_stock){s->start_d, all_kg(group, groups)};
    *n = 1;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = sorted[i];
        if (e->kind == TL_EVENT_ADD_FISH)
            join(group, &groups, &e->fish);
        else if (e->kind == TL_EVENT_REMOVE_FISH || e->kind == TL_EVENT_DEAD_FISH)
            leave(group, groups, &e->fish);
        else
            continue;
        /* what happens at one instant is one change */
        const size_t at = e->at_d > stock[*n - 1].from_d ? (*n)++ : *n - 1;
        stock[at] = (struct tl_stock){e->at_d, all_kg(group, groups)};
    }
}

int tl_stock_of(const struct tl_setup *s, struct tl_stock **out, size_t *n)
{
    const struct tl_event **sorted = NULL;
    const size_t most = s->fish_groups + s->events + 1;
    struct group *group = calloc(most, sizeof *group);
    struct tl_stock *stock = calloc(s->events + 1, sizeof *stock);
    int status = group && stock ? tl_events_by_time(s, &sorted) : TL_E_MEMORY;
    if (status == TL_OK)
        follow(s, sorted, group, stock, n);
    free(sorted);
    free(group);
    if (status == TL_OK)
        *out = stock;
    else
        free(stock);
    return status;
}
