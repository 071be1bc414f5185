/* Solves the heat balance from stop to stop over the schedule, ahead of the run.
 *
 * The heat of the water, less that of the ice, is the one unknown; its equation may be stiff (a small
 * tank, a large tower). Alexander's singly diagonal Runge-Kutta method of second order (1977, SIAM J.
 * Numer. Anal. 14:1006) damps what is faster than a step. What is booked are the flows of its stages,
 * so the ledger closes whatever the step. */
#include "heat_course.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "heat_balance.h"
#include "schedule.h"
#include "towerloop/status.h"

#define DAY_S     86400.0
#define GAMMA     0.29289321881345254 /* 1 - sqrt(1/2) */
#define ROOT_DEGC 1e-9                /* as exact as a stage is solved */
#define MOST_ROOT 100
#define CLOSED_M  0.005 /* of ice; judgement */
/* Of the time a heater would take to warm the water up if none of its heat were lost, it gets so much
 * before it counts as too weak; judgement. */
#define WARM_UP 2.0

struct solve {
    struct tl_model *m;
    struct tl_heat_course *c;
    struct tl_heat_summary *sum;
    struct tl_controls controls;
    struct tl_saved *saved; /* one an event */
    struct tl_work *work;
    double *y; /* of the loop at the start: the stops change it, nobody reads it */
    size_t room;
    double source_degC;
    double
        heater_w; /* of the setup; what the balance reads of it is 0 while an event keeps it off */
    double warm_from_d; /* from here on the heater has had its time to warm the water up */
    double heat_j;
    bool fish_ever;
    double jump_degC, jump_from_d; /* of the tank by water let in since then */
    double evaporated_m3;
    double day; /* midnight of the present day */
    double day_m3, day_d;
    double degC_d; /* of the run so far */
};

static double tower_flow_m3_d(const struct solve *s)
{
    return tl_load_m_h(s->m, &s->controls) * 24 * s->m->setup.tower.plan_area_m2;
}

/* Thin ice has holes; from CLOSED_M on it lies from edge to edge. */
static double closed_by(const struct tl_setup *s, double ice_kg)
{
    const double area_m2 = s->tank.surface_m2 + s->chamber.surface_m2;
    return ice_kg > 0 ? fmin(1, ice_kg / (area_m2 * TL_ICE_KG_M3 * CLOSED_M)) : 0;
}

static int add_node(struct solve *s, double t_d)
{
    struct tl_heat_course *c = s->c;
    const double degC = tl_heat_degC(&s->m->setup, s->heat_j);
    const double ice_kg = tl_heat_ice_kg(&s->m->setup, s->heat_j);

    if (c->n == s->room)
        return TL_E_SOLVER;
    c->t_d[c->n] = t_d;
    c->water_degC[c->n] = degC;
    c->evaporated_m3[c->n] = s->evaporated_m3;
    c->ice_kg[c->n] = ice_kg;
    c->frozen[c->n] = closed_by(&s->m->setup, ice_kg);
    c->top_up_m3[c->n] = s->sum->top_up_m3;
    c->heater_j[c->n] = s->sum->flow_j[TL_HEAT_HEATER];
    c->n++;
    if (!(degC >= s->sum->lowest_degC)) {
        s->sum->lowest_degC = degC;
        s->sum->lowest_d = t_d;
    }
    if (!(degC <= s->sum->highest_degC)) {
        s->sum->highest_degC = degC;
        s->sum->highest_d = t_d;
    }
    if (ice_kg > s->sum->most_ice_kg) {
        s->sum->most_ice_kg = ice_kg;
        s->sum->most_ice_d = t_d;
    }
    return TL_OK;
}

/* A stage: heat = from_j + weight_s x the sum of the flows at that heat. That sum falls as the water
 * gets warmer, so the root lies between from_j and where an explicit step would lead. */
static double solve_stage(const struct solve *s, const struct tl_open_air *around, double from_j,
                          double weight_s, struct tl_heat_flows *flows)
{
    const double close = ROOT_DEGC * tl_heat_capacity_j_k(&s->m->setup);
    double a = from_j;
    double fa = -weight_s * tl_heat_balance(s->m, around, s->source_degC, a, flows);
    if (fabs(fa) <= close)
        return a;
    double b = a - fa;
    double fb = b - from_j - weight_s * tl_heat_balance(s->m, around, s->source_degC, b, flows);
    double x = b;

    /* Illinois variant of the false position */
    for (int i = 0; i < MOST_ROOT && fabs(fb) > close && a != b; i++) {
        x = (a * fb - b * fa) / (fb - fa);
        const double fx =
            x - from_j - weight_s * tl_heat_balance(s->m, around, s->source_degC, x, flows);
        if ((fx > 0) != (fb > 0)) {
            a = b;
            fa = fb;
        } else {
            fa /= 2;
        }
        b = x;
        fb = fx;
    }
    return x;
}

static void close_day(struct solve *s)
{
    if (s->day_d <= 0)
        return;
    /* a part of a day is no day, but for a run that has no whole one */
    if (s->day_d > 0.99 || isnan(s->sum->most_evaporated_d)) {
        const double m3_d = s->day_m3 / fmax(s->day_d, 1e-6);
        if (!(m3_d <= s->sum->most_evaporated_m3_d)) {
            s->sum->most_evaporated_m3_d = m3_d;
            s->sum->most_evaporated_d = s->day;
        }
    }
    s->day_m3 = s->day_d = 0;
}

static void note_first(double *first_d, double t_d)
{
    if (isnan(*first_d))
        *first_d = t_d;
}

static void begin_warm_up(struct solve *s, double t_d)
{
    const struct tl_heater *h = &s->m->setup.heater;
    const double lacks_j = tl_heat_capacity_j_k(&s->m->setup) * fmax(0, h->keep_degC) - s->heat_j;
    s->warm_from_d = t_d;
    if (h->power_w > 0)
        s->warm_from_d += WARM_UP * fmax(0, lacks_j) / h->power_w / DAY_S;
}

/* A heater of no power that should keep something is short as well. */
static bool heater_short(const struct solve *s, double t_d, const struct tl_heat_flows *flows)
{
    const double power_w = s->m->setup.heater.power_w;
    if (t_d < s->warm_from_d)
        return false;
    if (power_w > 0)
        return flows->w[TL_HEAT_HEATER] >= power_w;
    if (s->heater_w > 0) /* switched off */
        return false;
    return tl_heat_degC(&s->m->setup, s->heat_j) < s->m->setup.heater.keep_degC;
}

/* Counts hours by the state at the end of the step. */
static void watch(struct solve *s, double t_d, double step_d, const struct tl_open_air *around,
                  const struct tl_heat_flows *flows)
{
    struct tl_heat_summary *sum = s->sum;
    const double air = around->air.t_degC;

    sum->air_lowest_degC = fmin(sum->air_lowest_degC, air);
    sum->air_highest_degC = fmax(sum->air_highest_degC, air);
    if (air < 0 && around->tray.air_kg_s > 0) {
        sum->frost_h += step_d * 24;
        note_first(&sum->frost_d, t_d);
    }
    if (flows->tray_ice)
        sum->tray_ice_h += step_d * 24;
    if (s->heat_j < 0) {
        sum->ice_h += step_d * 24;
        sum->fish_ice_h += tl_model_biomass(s->m, s->y) > 0 ? step_d * 24 : 0;
        note_first(&sum->ice_d, t_d);
    }
    if (tl_heat_liquid(&s->m->setup, s->heat_j) < TL_HEAT_FROZEN)
        note_first(&sum->frozen_d, t_d);
    if (heater_short(s, t_d, flows))
        sum->heater_short_h += step_d * 24;
}

static int step(struct solve *s, double t_d, double to_d)
{
    const struct tl_model *m = s->m;
    const double dt_s = (to_d - t_d) * DAY_S;
    const double degC = tl_heat_degC(&m->setup, s->heat_j);
    const double flow = tower_flow_m3_d(s);
    struct tl_open_air around[2];
    struct tl_heat_flows flows[2];
    const double weight[2] = {1 - GAMMA, GAMMA};

    tl_open_air_at(m, t_d + GAMMA * (to_d - t_d), flow, s->controls.cover, degC, &around[0]);
    tl_open_air_at(m, to_d, flow, s->controls.cover, degC, &around[1]);
    const double first = solve_stage(s, &around[0], s->heat_j, GAMMA * dt_s, &flows[0]);
    const double q = tl_heat_balance(m, &around[0], s->source_degC, first, &flows[0]);
    const double second =
        solve_stage(s, &around[1], s->heat_j + weight[0] * dt_s * q, GAMMA * dt_s, &flows[1]);
    (void)tl_heat_balance(m, &around[1], s->source_degC, second, &flows[1]);

    const double before_m3 = s->evaporated_m3;
    for (int k = 0; k < 2; k++) {
        for (int i = 0; i < TL_NHEAT_FLOW; i++) {
            s->sum->flow_j[i] += weight[k] * dt_s * flows[k].w[i];
            s->heat_j += weight[k] * dt_s * flows[k].w[i];
        }
        const double m3 = weight[k] * dt_s / TL_WATER_KG_M3;
        s->evaporated_m3 += m3 * flows[k].vapour_kg_s;
        s->sum->tower_evaporated_m3 += m3 * flows[k].tower_vapour_kg_s;
        s->sum->top_up_m3 += m3 * fmax(0, flows[k].vapour_kg_s);
    }
    watch(s, to_d, to_d - t_d, &around[1], &flows[1]);
    if (floor(t_d + 1e-9) != s->day) {
        close_day(s);
        s->day = floor(t_d + 1e-9);
    }
    s->day_m3 += s->evaporated_m3 - before_m3;
    s->day_d += to_d - t_d;
    s->degC_d += (to_d - t_d) * 0.5 * (degC + tl_heat_degC(&m->setup, s->heat_j));
    return add_node(s, to_d);
}

/* Source water that takes the place of the loop's at a stop, m3. */
static double changed_m3(const struct tl_setup *s, const struct tl_stop *stop)
{
    if (stop->kind == TL_STOP_CHANGE)
        return s->change_amount * s->tank.volume_m3;
    if (stop->kind == TL_STOP_EMPTY)
        return s->chamber.volume_m3;
    if (stop->kind != TL_STOP_EVENT)
        return 0;
    const struct tl_event *e = &s->event[stop->index];
    return e->kind == TL_EVENT_WATER_CHANGE    ? e->value * s->tank.volume_m3
           : e->kind == TL_EVENT_CLEAN_CHAMBER ? s->chamber.volume_m3
                                               : 0;
}

#define HOUR_D (1.0 / 24)

/* All new water goes into the tank. Changes within an hour add up, as if nothing mixed between them. */
static void watch_jump(struct solve *s, double t_d, double m3)
{
    const struct tl_setup *u = &s->m->setup;
    const double share = fmin(1, m3 / u->tank.volume_m3);
    if (!(t_d - s->jump_from_d <= HOUR_D)) {
        s->jump_from_d = t_d;
        s->jump_degC = 0;
    }
    s->jump_degC += share * fabs(s->source_degC - tl_heat_degC(u, s->heat_j));
    if (s->fish_ever && !(tl_model_biomass(s->m, s->y) > 0))
        return;
    if (s->jump_degC > s->sum->tank_jump_degC) {
        s->sum->tank_jump_degC = s->jump_degC;
        s->sum->tank_jump_d = t_d;
    }
}

static void switch_heater(struct solve *s, const struct tl_stop *stop)
{
    if (stop->kind != TL_STOP_EVENT && stop->kind != TL_STOP_RESTORE)
        return;
    const enum tl_event_kind kind = s->m->setup.event[stop->index].kind;
    double *power_w = &s->m->setup.heater.power_w;
    if (kind != TL_EVENT_HEATER_OFF && kind != TL_EVENT_HEATER_ON)
        return;
    if (stop->kind == TL_STOP_RESTORE) {
        *power_w = s->saved[stop->index].value;
    } else {
        s->saved[stop->index].value = *power_w;
        *power_w = kind == TL_EVENT_HEATER_ON ? s->heater_w : 0;
    }
    begin_warm_up(s, stop->t_d);
}

static void switch_flows(struct solve *s, const struct tl_stop *stop)
{
    switch_heater(s, stop);
    (void)tl_stop_apply(s->m, s->work, stop, s->saved, &s->controls, s->y);
}

static int stop_at(struct solve *s, const struct tl_stop *stop)
{
    const struct tl_setup *u = &s->m->setup;
    const double m3 = changed_m3(u, stop);

    switch_flows(s, stop);
    if (!(m3 > 0))
        return TL_OK;
    watch_jump(s, stop->t_d, m3);
    const double j = TL_WATER_J_M3_K * m3 * (s->source_degC - tl_heat_degC(u, s->heat_j));
    s->heat_j += j;
    s->sum->flow_j[TL_HEAT_SOURCE_WATER] += j;
    return add_node(s, stop->t_d);
}

static int advance(struct solve *s, double t_d, double to_d, double step_d)
{
    const double steps = fmax(1, ceil((to_d - t_d) / step_d - 1e-9));
    int status = TL_OK;
    for (double k = 0; k < steps && !status; k++)
        status = step(s, t_d + k / steps * (to_d - t_d),
                      k + 1 < steps ? t_d + (k + 1) / steps * (to_d - t_d) : to_d);
    return status;
}

/* Feed and doses leave heat and flows as they are. */
static bool moves_water(const struct tl_stop *stop)
{
    return stop->kind == TL_STOP_RESTORE || stop->kind == TL_STOP_EVENT ||
           stop->kind == TL_STOP_CHANGE || stop->kind == TL_STOP_EMPTY ||
           stop->kind == TL_STOP_FOUL;
}

/* The part of the course that is known, node by node; where it ends. */
static int take_known(struct solve *s, double *until_d)
{
    const struct tl_setup *u = &s->m->setup;
    const struct tl_table *known = &u->temperature.readings;
    const double capacity_j_k = tl_heat_capacity_j_k(u);
    *until_d = u->start_d;
    if (!(u->weather.known_until_d > u->start_d) || known->n == 0)
        return TL_OK;
    *until_d = u->weather.known_until_d;
    int status = TL_OK;
    for (size_t i = 0; i < known->n && known->x[i] < *until_d && !status; i++) {
        s->heat_j = capacity_j_k * known->y[i];
        status = add_node(s, known->x[i]);
    }
    s->heat_j = capacity_j_k * tl_table_at(known, *until_d);
    return status ? status : add_node(s, *until_d);
}

static int run(struct solve *s, double step_d)
{
    const struct tl_setup *u = &s->m->setup;
    const double end = u->start_d + u->length_d;
    double now;
    int status = take_known(s, &now);

    for (size_t i = 0; i < s->m->stops && !status; i++) {
        const struct tl_stop *stop = &s->m->stop[i];
        if (!moves_water(stop) || stop->t_d > end)
            continue;
        if (stop->t_d < now) { /* its heat is in what is known */
            switch_flows(s, stop);
            continue;
        }
        if (stop->t_d > now) {
            status = advance(s, now, stop->t_d, step_d);
            now = stop->t_d;
        }
        if (!status)
            status = stop_at(s, stop);
    }
    if (!status && end > now)
        status = advance(s, now, end, step_d);
    close_day(s);
    return status;
}

static int make_room(struct solve *s, double step_d)
{
    struct tl_heat_course *c = s->c;
    /* every stop may end a step and add a node of its own */
    const double most = s->m->setup.length_d / step_d + 3.0 * (double)s->m->stops + 8;
    s->room = (size_t)most;
    c->t_d = malloc(s->room * sizeof *c->t_d);
    c->water_degC = malloc(s->room * sizeof *c->water_degC);
    c->evaporated_m3 = malloc(s->room * sizeof *c->evaporated_m3);
    c->ice_kg = malloc(s->room * sizeof *c->ice_kg);
    c->frozen = malloc(s->room * sizeof *c->frozen);
    c->top_up_m3 = malloc(s->room * sizeof *c->top_up_m3);
    c->heater_j = malloc(s->room * sizeof *c->heater_j);
    s->saved = calloc(s->m->setup.events + 1, sizeof *s->saved);
    s->y = calloc(s->m->at.size, sizeof *s->y);
    return c->t_d && c->water_degC && c->evaporated_m3 && c->ice_kg && c->frozen && c->top_up_m3 &&
                   c->heater_j && s->saved && s->y
               ? TL_OK
               : TL_E_MEMORY;
}

int tl_heat_solve(struct tl_model *m, double step_d)
{
    struct solve s = {.m = m, .day = floor(m->setup.start_d), .heater_w = m->setup.heater.power_w};
    struct tl_heat_summary *sum;
    int status;

    tl_heat_course_free(m->heat);
    m->heat = s.c = calloc(1, sizeof *s.c);
    if (!s.c)
        return TL_E_MEMORY;
    s.sum = sum = &s.c->summary;
    sum->lowest_degC = sum->highest_degC = NAN;
    sum->most_evaporated_m3_d = sum->most_evaporated_d = NAN;
    sum->frost_d = sum->ice_d = sum->most_ice_d = sum->frozen_d = NAN;
    sum->tank_jump_d = NAN;
    s.jump_from_d = -INFINITY;
    s.fish_ever = tl_setup_ever_fish(&m->setup);
    sum->air_lowest_degC = INFINITY;
    sum->air_highest_degC = -INFINITY;
    if ((status = make_room(&s, step_d)) != TL_OK)
        goto done;
    s.source_degC = tl_heat_source_degC(&m->setup);
    s.heat_j = tl_heat_capacity_j_k(&m->setup) * tl_heat_start_degC(&m->setup);
    const double start_j = s.heat_j;
    begin_warm_up(&s, m->setup.start_d);
    if ((status = add_node(&s, m->setup.start_d)) != TL_OK ||
        (status = tl_work_new(m, &s.work)) != TL_OK ||
        (status = tl_model_start(m, &s.controls, s.y)) != TL_OK ||
        (status = run(&s, step_d)) != TL_OK)
        goto done;
    sum->stored_j = s.heat_j - start_j;
    sum->evaporated_m3 = s.evaporated_m3;
    sum->mean_degC = s.degC_d / m->setup.length_d;
done:
    m->setup.heater.power_w = s.heater_w;
    tl_work_free(s.work);
    free(s.saved);
    free(s.y);
    return status;
}

void tl_heat_course_free(struct tl_heat_course *c)
{
    if (!c)
        return;
    free(c->t_d);
    free(c->water_degC);
    free(c->evaporated_m3);
    free(c->ice_kg);
    free(c->frozen);
    free(c->top_up_m3);
    free(c->heater_j);
    free(c);
}

double tl_heat_course_total(const struct tl_heat_course *c, const double *total, double t_d)
{
    const struct tl_table t = {.x = c->t_d, .y = (double *)total, .n = c->n};
    return tl_table_at(&t, t_d);
}

double tl_heat_course_degC(const struct tl_heat_course *c, double t_d)
{
    return tl_heat_course_total(c, c->water_degC, t_d);
}

double tl_heat_course_evaporation_m3_d(const struct tl_heat_course *c, double t_d)
{
    size_t lo = 0;
    size_t hi = c->n - 1;

    if (c->n < 2)
        return 0;
    while (hi - lo > 1) {
        const size_t mid = lo + (hi - lo) / 2;
        if (c->t_d[mid] <= t_d)
            lo = mid;
        else
            hi = mid;
    }
    /* an instant at which the water changes has no width */
    while (hi + 1 < c->n && !(c->t_d[hi] > c->t_d[lo]))
        hi++;
    const double width = c->t_d[hi] - c->t_d[lo];
    return width > 0 ? (c->evaporated_m3[hi] - c->evaporated_m3[lo]) / width : 0;
}
