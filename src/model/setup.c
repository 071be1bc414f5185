/* The description of a loop: defaults, deep copy, release. */
#include "towerloop/setup.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define PI 3.14159265358979323846

void tl_params_default(struct tl_params *p)
{
    *p = (struct tl_params){
#define TL_PARAM_DEFAULT(field, dflt, dim, lo, hi, status, help) .field = (dflt),
        TL_PARAM_LIST(TL_PARAM_DEFAULT)
#undef TL_PARAM_DEFAULT
    };
}

void tl_setup_default(struct tl_setup *s)
{
    *s = (struct tl_setup){
        .length_d = 60,
        .temperature = {.kind = TL_TEMPERATURE_CONSTANT, .mean_degC = 20},
        .weather = {.air = {.kind = TL_TEMPERATURE_CONSTANT, .mean_degC = 15},
                    .humidity = 0.7,
                    .wind_m_s = 1,
                    .cloud = 0.5,
                    .latitude_deg = 45,
                    .day_of_year = 1},
        .heater = {.keep_degC = NAN},
        .wall_loss_w_m2_k = 3,
        .source_degC = NAN,
        .start_degC = NAN,
        .to_tower = 1,
        .tower = {.media = "lava rock",
                  .specific_surface_m2_m3 = 200,
                  .media_size_m = 0.03,
                  .void_fraction = 0.45,
                  .critical_surface_tension_n_m = 0.061,
                  .biofilm = TL_BIOFILM_MATURE,
                  .stays_moist_d = NAN,
                  .die_off_1_d = 0.05 * 24,
                  .tray_gap_m = 0.1,
                  .lowest_tray_m = 0.3},
        .pump = {.count = 1, .head_m = NAN, .pipe = {NAN, NAN, TL_PIPE_SMOOTH_M, TL_PIPE_OUTLET}},
        .sun = {.hours_d = 8.0 / 24, .noon_w_m2 = 600},
        .feeding = {.protein = 0.38, .appetite = 1, .feed_conversion = 1.8},
        .emptying = {.at_s = 9 * 3600},
        .dosing = {.every_d = 1, .at_s = 9 * 3600, .at_most_g = INFINITY},
    };
    tl_params_default(&s->params);
}

double tl_thiosulfate_g(const struct tl_setup *s, double source_water_m3)
{
    return source_water_m3 * s->source.water[TL_HOCL] * s->params.thiosulfate_per_chlorine;
}

size_t tl_table_before(const struct tl_table *t, double x)
{
    size_t lo = 0;
    size_t hi = t->n - 1;
    while (hi - lo > 1) {
        size_t mid = lo + (hi - lo) / 2;
        if (t->x[mid] <= x)
            lo = mid;
        else
            hi = mid;
    }
    return lo;
}

double tl_table_at(const struct tl_table *t, double x)
{
    if (t->n == 0)
        return 0;
    if (x <= t->x[0])
        return t->y[0];
    if (x >= t->x[t->n - 1])
        return t->y[t->n - 1];

    const size_t lo = tl_table_before(t, x);
    double w = (x - t->x[lo]) / (t->x[lo + 1] - t->x[lo]);
    return t->y[lo] + w * (t->y[lo + 1] - t->y[lo]);
}

void tl_table_free(struct tl_table *t)
{
    free(t->x);
    free(t->y);
    *t = (struct tl_table){0};
}

double tl_temperature_at(const struct tl_temperature *t, double t_d)
{
    switch (t->kind) {
    case TL_TEMPERATURE_READINGS:
        return tl_table_at(&t->readings, t_d) + t->warmer_degC;
    case TL_TEMPERATURE_SINES:
        return t->mean_degC + t->warmer_degC +
               t->seasonal_swing_degC * cos(2 * PI * (t_d - t->warmest_noon_d) / 365.25) +
               t->daily_swing_degC * cos(2 * PI * (t_d - 16.0 / 24));
    case TL_TEMPERATURE_WEATHER:
        return NAN;
    case TL_TEMPERATURE_CONSTANT:
    default:
        return t->mean_degC + t->warmer_degC;
    }
}

double tl_water_temperature_at(const struct tl_temperature *t, double t_d)
{
    const double degC = tl_temperature_at(t, t_d);
    return t->warmer_degC != 0 ? fmin(fmax(degC, 0), 40) : degC;
}

/* A copy of `n` elements, or NULL; no elements give NULL too and are no failure. */
static int copy_array(void **to, const void *from, size_t n, size_t size)
{
    *to = NULL;
    if (n == 0 || !from)
        return TL_OK;
    *to = malloc(n * size);
    if (!*to)
        return TL_E_MEMORY;
    memcpy(*to, from, n * size);
    return TL_OK;
}

static int table_copy(struct tl_table *to, const struct tl_table *from)
{
    void *x = NULL;
    void *y = NULL;
    int status = copy_array(&x, from->x, from->n, sizeof *from->x);
    if (!status)
        status = copy_array(&y, from->y, from->n, sizeof *from->y);
    *to = (struct tl_table){.x = x, .y = y, .n = status ? 0 : from->n};
    return status;
}

int tl_setup_copy(struct tl_setup *to, const struct tl_setup *from)
{
    void *meals = NULL;
    void *fish = NULL;
    void *events = NULL;

    /* plain fields first; every pointer is then replaced by a copy or by NULL */
    *to = *from;
    to->temperature.readings = (struct tl_table){0};
    to->pump.curve = (struct tl_table){0};
    to->weather.air.readings = (struct tl_table){0};
    to->weather.frozen = (struct tl_table){0};
    for (int i = 0; i < TL_NWEATHER_LOG; i++)
        to->weather.log[i] = (struct tl_table){0};
    to->feeding.ration.table = (struct tl_table){0};
    to->feeding.log = (struct tl_table){0};
    to->feeding.meal_s = NULL;
    to->feeding.meals = 0;
    to->fish = NULL;
    to->fish_groups = 0;
    to->event = NULL;
    to->events = 0;

    int status = table_copy(&to->temperature.readings, &from->temperature.readings);
    if (!status)
        status = table_copy(&to->pump.curve, &from->pump.curve);
    if (!status)
        status = table_copy(&to->weather.air.readings, &from->weather.air.readings);
    if (!status)
        status = table_copy(&to->weather.frozen, &from->weather.frozen);
    for (int i = 0; i < TL_NWEATHER_LOG && !status; i++)
        status = table_copy(&to->weather.log[i], &from->weather.log[i]);
    if (!status)
        status = table_copy(&to->feeding.ration.table, &from->feeding.ration.table);
    if (!status)
        status = table_copy(&to->feeding.log, &from->feeding.log);
    if (!status)
        status = copy_array(&meals, from->feeding.meal_s, from->feeding.meals, sizeof(int));
    if (!status)
        status = copy_array(&fish, from->fish, from->fish_groups, sizeof *from->fish);
    if (!status)
        status = copy_array(&events, from->event, from->events, sizeof *from->event);

    to->feeding.meal_s = meals;
    to->fish = fish;
    to->event = events;
    if (!status) {
        to->feeding.meals = from->feeding.meals;
        to->fish_groups = from->fish_groups;
        to->events = events ? from->events : 0;
        for (size_t i = 0; i < to->events; i++)
            to->event[i].ration.table = (struct tl_table){0};
        for (size_t i = 0; i < to->events && !status; i++)
            status = table_copy(&to->event[i].ration.table, &from->event[i].ration.table);
    }
    if (status)
        tl_setup_free(to);
    return status;
}

void tl_setup_free(struct tl_setup *s)
{
    tl_table_free(&s->temperature.readings);
    tl_table_free(&s->pump.curve);
    tl_table_free(&s->weather.air.readings);
    tl_table_free(&s->weather.frozen);
    for (int i = 0; i < TL_NWEATHER_LOG; i++)
        tl_table_free(&s->weather.log[i]);
    tl_table_free(&s->feeding.ration.table);
    tl_table_free(&s->feeding.log);
    for (size_t i = 0; i < s->events; i++)
        tl_table_free(&s->event[i].ration.table);
    free(s->feeding.meal_s);
    free(s->fish);
    free(s->event);
    s->feeding.meal_s = NULL;
    s->feeding.meals = 0;
    s->fish = NULL;
    s->fish_groups = 0;
    s->event = NULL;
    s->events = 0;
}

size_t tl_dead_before(const struct tl_setup *s, size_t event)
{
    size_t before = 0;
    for (size_t i = 0; i < event; i++)
        before += s->event[i].kind == TL_EVENT_DEAD_FISH;
    return before;
}

/* Whether of those of this name that are there at the start, or come at `t_d`, any are left once all is done that
 * happens at that instant. */
static bool any_stay(const struct tl_setup *s, const char *name, double t_d)
{
    double count = 0;
    for (size_t i = 0; i < s->fish_groups && t_d <= s->start_d; i++)
        if (strcmp(s->fish[i].name, name) == 0)
            count += s->fish[i].count;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->at_d > t_d || (e->at_d < t_d && t_d > s->start_d) || strcmp(e->fish.name, name) != 0)
            continue;
        if (e->kind == TL_EVENT_ADD_FISH)
            count += e->fish.count;
        else if (e->kind == TL_EVENT_REMOVE_FISH || e->kind == TL_EVENT_DEAD_FISH)
            count = fmax(0, count - e->fish.count);
    }
    return count > 0;
}

double tl_setup_most_change(const struct tl_setup *s)
{
    double most = s->change_every_d > 0 && s->change_every_d < s->length_d ? s->change_amount : 0;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_WATER_CHANGE)
            most = fmax(most, s->event[i].value);
    return tl_setup_ever_fish(s) ? most : 0;
}

bool tl_setup_ever_fish(const struct tl_setup *s)
{
    for (size_t i = 0; i < s->fish_groups; i++)
        if (s->fish[i].count > 0 && any_stay(s, s->fish[i].name, s->start_d))
            return true;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_ADD_FISH && e->fish.count > 0 &&
            e->at_d < s->start_d + s->length_d && any_stay(s, e->fish.name, e->at_d))
            return true;
    }
    return false;
}
