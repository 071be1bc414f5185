/* Failures of pump, aerator and power: the scenario with events added, run by the engine and watched
 * minute by minute. */
#include "towerloop/endure.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "endure_case.h"
#include "loop.h"
#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/heat_course.h"
#include "towerloop/status.h"
#include "towerloop/verdict.h"

#define MINUTE_D           (1.0 / 1440)
#define CLEARLY_WATER_DEGC 0.5
#define NEARLY             1.05 /* this close to the worst of the day before counts as back */

static const struct {
    const char *name, *words;
} failure[TL_NFAILURE] = {
#define ROW(id, name, words) {name, words},
    TL_FAILURE_LIST(ROW)
#undef ROW
};

const char *tl_failure_name(enum tl_failure f)
{
    return failure[f].name;
}

const char *tl_failure_words(enum tl_failure f)
{
    return failure[f].words;
}

const double tl_endure_stage_d[TL_ENDURE_STAGES] = {2 * TL_HOUR_D, 6 * TL_HOUR_D, 12 * TL_HOUR_D,
                                                    1};

/* --- the scenario, changed ---------------------------------------------------------------------- */

void tl_endure_plan_nothing_after(struct tl_setup *s, double at_d)
{
    size_t kept = 0;
    for (size_t i = 0; i < s->events; i++) {
        struct tl_event *e = &s->event[i];
        const bool comes_now = e->kind == TL_EVENT_ADD_FISH && e->at_d <= at_d + TL_SAME_INSTANT_D;
        if (e->at_d >= at_d - TL_SAME_INSTANT_D && !comes_now) {
            tl_table_free(&e->ration.table);
            continue;
        }
        if (e->at_d + e->for_d > at_d)
            e->for_d = at_d - e->at_d;
        s->event[kept++] = *e;
    }
    s->events = kept;
}

static int add_event(struct tl_setup *s, struct tl_event e)
{
    struct tl_event *more = realloc(s->event, (s->events + 1) * sizeof *more);
    if (!more)
        return TL_E_MEMORY;
    s->event = more;
    s->event[s->events++] = e;
    return TL_OK;
}

static void stock(struct tl_setup *s, double share)
{
    for (size_t i = 0; i < s->fish_groups; i++)
        s->fish[i].count *= share;
    if (s->feeding.ration.kind == TL_RATION_MASS)
        s->feeding.ration.value *= share;
    for (size_t i = 0; i < s->feeding.log.n; i++)
        s->feeding.log.y[i] *= share;
    for (size_t i = 0; i < s->events; i++) {
        struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_ADD_FISH || e->kind == TL_EVENT_REMOVE_FISH ||
            e->kind == TL_EVENT_DEAD_FISH)
            e->fish.count *= share;
        if (e->kind == TL_EVENT_RATION && e->ration.kind == TL_RATION_MASS)
            e->ration.value *= share;
    }
}

static int stop_feed(struct tl_setup *s, double from_d, double for_d)
{
    for (size_t i = 0; i < s->feeding.log.n; i++)
        if (s->feeding.log.x[i] >= from_d && s->feeding.log.x[i] < from_d + for_d)
            s->feeding.log.y[i] = 0;
    return add_event(s, (struct tl_event){.at_d = from_d,
                                          .for_d = for_d,
                                          .kind = TL_EVENT_RATION,
                                          .ration.kind = TL_RATION_PER_BIOMASS});
}

static void warm(struct tl_temperature *t, double by_degC)
{
    t->mean_degC += by_degC;
    for (size_t i = 0; i < t->readings.n; i++) /* water of 0 degC gets no colder */
        t->readings.y[i] = fmax(t->readings.y[i] + by_degC, fmin(t->readings.y[i], 0));
}

static void note_cold(const struct tl_heat_course *h, double at_d, double back_d,
                      struct tl_endured *out)
{
    out->water_back_degC = tl_heat_course_degC(h, back_d);
    for (size_t i = 0; i < h->n; i++) {
        if (h->t_d[i] < at_d || !(h->ice_kg[i] > 0))
            continue;
        if (isinf(out->ice_min))
            out->ice_min = (h->t_d[i] - at_d) / MINUTE_D;
        out->most_ice_kg = fmax(out->most_ice_kg, h->ice_kg[i]);
    }
}

/* What the weather makes of the water becomes readings, so that a case is warmer by just what it
 * says. What it does from `at_d` on is noted in `out`, which may be NULL. */
static int keep_course(struct tl_setup *s, double at_d, double back_d, struct tl_endured *out)
{
    struct tl_model *m = NULL;
    if (!s->weather.given)
        return TL_OK;
    /* of a course that was kept, only what follows is worked out anew */
    const bool kept = s->temperature.kind == TL_TEMPERATURE_READINGS;
    if (kept && tl_table_at(&s->temperature.readings, at_d) > CLEARLY_WATER_DEGC)
        s->weather.known_until_d = at_d;
    s->temperature.kind = TL_TEMPERATURE_WEATHER;
    int status = tl_model_build(s, &m);
    if (status)
        return status;
    const struct tl_heat_course *h = tl_model_heat(m);
    struct tl_table *to = &s->temperature.readings, *ice = &s->weather.frozen;
    if (out)
        note_cold(h, at_d, back_d, out);
    tl_table_free(to);
    *to = (struct tl_table){.x = malloc(h->n * sizeof *to->x), .y = malloc(h->n * sizeof *to->y)};
    tl_table_free(ice);
    *ice =
        (struct tl_table){.x = malloc(h->n * sizeof *ice->x), .y = malloc(h->n * sizeof *ice->y)};
    if (to->x && to->y && ice->x && ice->y) {
        memcpy(to->x, h->t_d, h->n * sizeof *to->x);
        memcpy(to->y, h->water_degC, h->n * sizeof *to->y);
        to->n = h->n;
        memcpy(ice->x, h->t_d, h->n * sizeof *ice->x);
        memcpy(ice->y, h->frozen, h->n * sizeof *ice->y);
        ice->n = h->n;
        s->temperature.kind = TL_TEMPERATURE_READINGS;
    } else {
        status = TL_E_MEMORY;
    }
    tl_model_free(m);
    return status;
}

int tl_endure_keep_course(struct tl_setup *s)
{
    return keep_course(s, 0, 0, NULL);
}

/* The tank's aerators from the failure to the end of the outage. */
static int set_aerators(struct tl_setup *s, const struct tl_worst_hour *when,
                        const struct tl_endure_case *c)
{
    const bool stops = c->fails == TL_FAILURE_POWER || c->fails == TL_FAILURE_AERATOR;
    const double left = stops ? 0 : when->aerator_g_d;
    const double extra_d = c->extra_g_d > 0 ? fmin(c->extra_for_d, c->outage_d) : 0;
    struct tl_event e = {.kind = TL_EVENT_AERATOR};
    int status = TL_OK;

    if (extra_d > 0) {
        e.at_d = when->at_d;
        e.for_d = extra_d;
        e.value = left + c->extra_g_d;
        status = add_event(s, e);
    }
    if (!status && extra_d < c->outage_d && stops) {
        e.at_d = when->at_d + extra_d;
        e.for_d = c->outage_d - extra_d;
        e.value = 0;
        status = add_event(s, e);
    }
    return status;
}

double tl_endure_standing(const struct tl_setup *s, enum tl_event_kind sets,
                          enum tl_event_kind restores, double from_start)
{
    double value = from_start, since_d = -INFINITY;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if ((e->kind != sets && e->kind != restores) || e->for_d > 0 || e->at_d < since_d)
            continue;
        since_d = e->at_d;
        value = e->kind == sets ? e->value : from_start;
    }
    return value;
}

/* Half a pump is one of two where the scenario has two, else half the flow. */
static int set_pump(struct tl_setup *s, const struct tl_worst_hour *when,
                    const struct tl_endure_case *c)
{
    if (c->fails == TL_FAILURE_AERATOR)
        return TL_OK;
    struct tl_event e = {
        .at_d = when->at_d, .for_d = c->outage_d, .kind = TL_EVENT_PUMP_FLOW, .value = 0};
    const double running = tl_endure_standing(s, TL_EVENT_PUMPS_RUNNING, TL_NEVENT, s->pump.count);
    if (c->fails == TL_FAILURE_HALF && s->pump.count == 2 && running == 2) {
        e.kind = TL_EVENT_PUMPS_RUNNING;
        e.value = 1;
    } else if (c->fails == TL_FAILURE_HALF) {
        e.value = when->flow_m3_d / 2;
    }
    return add_event(s, e);
}

static int stop_heater(struct tl_setup *s, const struct tl_worst_hour *when,
                       const struct tl_endure_case *c)
{
    if (c->fails != TL_FAILURE_POWER || !(s->heater.power_w > 0))
        return TL_OK;
    return add_event(s, (struct tl_event){
                            .at_d = when->at_d, .for_d = c->outage_d, .kind = TL_EVENT_HEATER_OFF});
}

static int change_setup(struct tl_setup *s, const struct tl_worst_hour *when,
                        const struct tl_endure_case *c, struct tl_endured *out)
{
    tl_endure_plan_nothing_after(s, when->at_d);
    stock(s, c->fish);
    s->length_d = when->at_d + c->outage_d + c->follow_d - s->start_d;
    /* nobody is there to change water, which would bring oxygen; one at the same instant has been */
    s->no_change_from_d = when->at_d + TL_SAME_INSTANT_D;
    s->no_change_to_d = when->at_d + c->outage_d;
    int status = set_pump(s, when, c);
    if (!status)
        status = set_aerators(s, when, c);
    if (!status && c->feed_stopped)
        status = stop_feed(s, when->at_d, c->outage_d);
    if (!status)
        status = stop_heater(s, when, c);
    if (!status) /* the tower cools no more, the heater is off */
        status = keep_course(s, when->at_d, when->at_d + c->outage_d, out);
    if (!status)
        warm(&s->temperature, c->warmer_degC);
    return status;
}

int tl_endure_fail(struct tl_setup *s, double at_d, const struct tl_endure_case *c)
{
    struct tl_worst_hour when = {.at_d = at_d};
    const int status = tl_endure_look_up(s, &when);
    return status ? status : change_setup(s, &when, c, NULL);
}

/* --- watching ----------------------------------------------------------------------------------- */

/* A value that shall come back: its level, and when it was last beyond. */
struct recovery {
    double level;
    double before; /* worst of the day before */
    double last_beyond_d;
};

struct watch {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot glance; /* no trays */
    const struct tl_limits *limits;
    struct tl_endured *out;
    double at_d, back_d; /* of the failure, of the power */
    double fish_kg;      /* the observer is not shown them */
    bool failed;         /* it has begun */
    double last_d, last_o2;
    struct recovery nh3, no2, o2;
    size_t curve_room;
    /* where the case is judged, else NULL: of the day before the failure, and from it on */
    struct tl_judge *before, *after;
    struct tl_ranges ranges;
};

/* Minutes after the failure at which oxygen passed `limit` on its way from the last sample. */
static void cross(const struct watch *w, double t_d, double o2, double limit, double *minutes)
{
    if (!isinf(*minutes) || !(o2 < limit))
        return;
    const double share = w->last_o2 > limit ? (w->last_o2 - limit) / (w->last_o2 - o2) : 0;
    *minutes = (w->last_d + share * (t_d - w->last_d) - w->at_d) / MINUTE_D;
}

/* The course in even steps from the failure on. */
static void draw(struct watch *w, double t_d, double o2)
{
    struct tl_endured *out = w->out;
    while (out->curve_points < w->curve_room) {
        const double due_d = w->at_d + (double)out->curve_points * TL_ENDURE_CURVE_MIN * MINUTE_D;
        if (due_d > t_d + TL_SAME_INSTANT_D)
            return;
        const double share = t_d > w->last_d ? (due_d - w->last_d) / (t_d - w->last_d) : 1;
        out->curve_o2[out->curve_points++] = w->last_o2 + share * (o2 - w->last_o2);
    }
}

static void follow_outage(struct watch *w, double t_d, double o2)
{
    cross(w, t_d, o2, w->limits->o2.caution, &w->out->caution_min);
    cross(w, t_d, o2, w->limits->o2.danger, &w->out->danger_min);
    w->out->lowest_o2 = fmin(w->out->lowest_o2, o2);
}

static void follow_temperature(struct watch *w, double t_d)
{
    const double degC = w->glance.temperature_degC, minutes = (t_d - w->at_d) / MINUTE_D;
    if (isinf(w->out->cold_min) && degC < w->limits->cold.danger)
        w->out->cold_min = minutes;
    if (isinf(w->out->warm_min) && degC > w->limits->warm.danger)
        w->out->warm_min = minutes;
}

static void follow_recovery(struct watch *w, double t_d, double nh3, double no2, double o2)
{
    if (nh3 > w->nh3.level)
        w->nh3.last_beyond_d = t_d;
    if (no2 > w->no2.level)
        w->no2.last_beyond_d = t_d;
    if (o2 < w->o2.level)
        w->o2.last_beyond_d = t_d;
}

/* By all limits, as any run is; there are fish, or nothing would have been asked. */
static int judge(struct watch *w, double t_d)
{
    struct tl_judge *j = w->failed ? w->after : w->before;
    if (!j)
        return TL_OK;
    w->glance.fish_kg = w->fish_kg;
    if (w->failed)
        tl_ranges_add(&w->ranges, &w->glance);
    return tl_judge_add(j, t_d, w->glance.temperature_degC, w->glance.tank, w->glance.tank_ph,
                        true);
}

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct watch *w = arg;
    if (t_d < w->at_d - 1)
        return TL_OK;
    int status = tl_model_glance(w->model, w->work, c, t_d, y, &w->glance);
    if (!status)
        status = judge(w, t_d);
    if (status)
        return status;
    const double *tank = w->glance.tank;
    const double nh3 =
        tank[TL_TAN] * tl_nh3_fraction(w->glance.temperature_degC, w->glance.tank_ph);

    if (!w->failed) {
        w->nh3.before = fmax(w->nh3.before, nh3);
        w->no2.before = fmax(w->no2.before, tank[TL_NO2]);
        w->o2.before = fmin(w->o2.before, tank[TL_O2]);
        return TL_OK;
    }
    if (nh3 > w->out->peak_nh3) {
        w->out->peak_nh3 = nh3;
        w->out->nh3_tan = tank[TL_TAN];
        w->out->nh3_ph = w->glance.tank_ph;
    }
    w->out->peak_tan = fmax(w->out->peak_tan, tank[TL_TAN]);
    w->out->peak_no2 = fmax(w->out->peak_no2, tank[TL_NO2]);
    follow_temperature(w, t_d);
    draw(w, t_d, tank[TL_O2]);
    if (t_d <= w->back_d + TL_SAME_INSTANT_D)
        follow_outage(w, t_d, tank[TL_O2]);
    else
        follow_recovery(w, t_d, nh3, tank[TL_NO2], tank[TL_O2]);
    w->last_d = t_d;
    w->last_o2 = tank[TL_O2];
    return TL_OK;
}

/* From here on it has failed. */
static void begin_watch(struct watch *w, double o2)
{
    w->failed = true;
    w->last_d = w->at_d;
    w->last_o2 = o2;
    w->out->o2_before = o2;
    w->out->lowest_o2 = o2;
    w->nh3.level = fmax(w->limits->nh3.caution, NEARLY * w->nh3.before);
    w->no2.level = fmax(w->limits->no2.caution, NEARLY * w->no2.before);
    w->o2.level = fmin(w->limits->o2.caution, w->o2.before / NEARLY);
}

/* --- films -------------------------------------------------------------------------------------- */

static void weigh(const struct tl_model *m, const double *y, double mass[TL_ENDURE_GUILDS])
{
    static const enum tl_film_component guild[TL_ENDURE_GUILDS] = {TL_FA, TL_FN, TL_FH};
    const struct tl_layout *at = tl_model_layout(m);
    for (int g = 0; g < TL_ENDURE_GUILDS; g++) {
        mass[g] = 0;
        for (size_t i = at->cell; i < at->fish; i += TL_NFILM)
            mass[g] += y[i + (size_t)guild[g]];
    }
}

static void compare_films(const struct tl_model *m, const double *y,
                          const double before[TL_ENDURE_GUILDS], double left[TL_ENDURE_GUILDS])
{
    double now[TL_ENDURE_GUILDS];
    weigh(m, y, now);
    for (int g = 0; g < TL_ENDURE_GUILDS; g++)
        left[g] = before[g] > 0 ? now[g] / before[g] : NAN;
}

/* --- one case ----------------------------------------------------------------------------------- */

/* Through the outage, held where the films are to be weighed. */
static int endure_outage(struct tl_engine *e, const struct watch *w, struct tl_endured *out)
{
    double before[TL_ENDURE_GUILDS];
    int status = TL_OK;

    weigh(w->model, tl_engine_state(e), before);
    for (int i = 0; i < TL_ENDURE_STAGES && !status; i++) {
        const double t_d = w->at_d + tl_endure_stage_d[i];
        if (t_d > w->back_d - TL_SAME_INSTANT_D)
            break;
        status = tl_engine_advance(e, t_d);
        if (!status)
            compare_films(w->model, tl_engine_state(e), before, out->stage_left[i]);
    }
    if (!status)
        status = tl_engine_advance(e, w->back_d);
    if (status)
        return status;
    compare_films(w->model, tl_engine_state(e), before, out->film_left);
    for (int i = 0; i < TL_ENDURE_STAGES; i++)
        if (fabs(w->at_d + tl_endure_stage_d[i] - w->back_d) <= TL_SAME_INSTANT_D)
            memcpy(out->stage_left[i], out->film_left, sizeof out->film_left);
    return TL_OK;
}

/* A level is back once a whole day passed without being beyond: fish are fed every day. */
static double back_after(const struct recovery *r, double back_d, double end_d)
{
    if (isnan(r->last_beyond_d))
        return 0;
    return r->last_beyond_d > end_d - 1 ? INFINITY : r->last_beyond_d - back_d;
}

/* Who dies was in danger, whatever the limits say; fish that were lost before do not die of it. */
static void note_death(struct tl_endured *out, double lost_d, double at_d, double back_d)
{
    if (lost_d < at_d)
        out->lost_before_d = lost_d;
    if (!(lost_d <= back_d))
        return;
    out->lost_min = fmax(0, lost_d - at_d) / MINUTE_D;
    if (isnan(out->lost_before_d)) {
        out->danger_min = fmin(out->danger_min, out->lost_min);
        out->caution_min = fmin(out->caution_min, out->danger_min);
    }
}

static void judge_recovery(const struct watch *w, double end_d, struct tl_endured *out)
{
    if (end_d <= w->back_d + 1 || !isinf(out->lost_min))
        return;
    out->nh3_back_d = back_after(&w->nh3, w->back_d, end_d);
    out->no2_back_d = back_after(&w->no2, w->back_d, end_d);
    out->o2_back_d = back_after(&w->o2, w->back_d, end_d);
}

static int begin_judging(struct watch *w, const struct tl_setup *s, const struct tl_limits *limits)
{
    const double end_d = s->start_d + s->length_d;
    tl_ranges_init(&w->ranges, s, isnan(limits->tan_caution) || isnan(limits->tan_danger));
    int status = tl_judge_new(limits, fmin(1, fmax(w->at_d - s->start_d, MINUTE_D)), &w->before);
    return status ? status : tl_judge_new(limits, end_d - w->at_d, &w->after);
}

static void finish_judging(struct watch *w, struct tl_endured *out)
{
    struct tl_verdict before, after;
    tl_judge_finish(w->before, &before);
    tl_judge_finish(w->after, &after);
    for (int i = 0; i < TL_NLIMIT; i++)
        out->limit[i] = (struct tl_endured_limit){.worst = after.limit[i].worst,
                                                  .caution = after.limit[i].caution,
                                                  .danger = after.limit[i].danger,
                                                  .grade = after.limit[i].grade,
                                                  .before = before.limit[i].grade};
    for (int i = 0; i < TL_NRANGE; i++)
        out->outside[i] = w->ranges.note[i].outside ? w->ranges.note[i].value : NAN;
}

static int run_model(struct watch *w, const volatile int *interrupted, struct tl_endured *out)
{
    const struct tl_observer o = {.period_d = MINUTE_D, .need = TL_NWATER, .see = see, .arg = w};
    const struct tl_engine_options options = {
        .observer = &o, .observers = 1, .interrupted = interrupted};
    struct tl_engine *e = NULL;

    int status = tl_engine_new(w->model, &options, &e);
    if (status)
        return status;
    status = tl_engine_advance(e, w->at_d);
    if (!status) {
        begin_watch(w, tl_engine_state(e)[tl_model_layout(w->model)->tank + TL_O2]);
        status = endure_outage(e, w, out);
    }
    if (!status)
        status = tl_engine_advance(e, tl_engine_end(e));
    if (!status) {
        note_death(out, tl_engine_fish_lost_d(e), w->at_d, w->back_d);
        judge_recovery(w, tl_engine_end(e), out);
    } else if (status == TL_E_SOLVER) {
        (void)tl_format(out->fault, sizeof out->fault, "%s",
                        *tl_engine_fault(e) ? tl_engine_fault(e) : tl_status_text(status));
        status = TL_OK;
    }
    tl_engine_free(e);
    return status;
}

void tl_endured_nothing(struct tl_endured *out)
{
    *out = (struct tl_endured){.o2_before = NAN,
                               .caution_min = INFINITY,
                               .danger_min = INFINITY,
                               .lost_min = INFINITY,
                               .lost_before_d = NAN,
                               .lowest_o2 = NAN,
                               .ice_min = INFINITY,
                               .cold_min = INFINITY,
                               .warm_min = INFINITY,
                               .nh3_tan = NAN,
                               .nh3_ph = NAN,
                               .water_back_degC = NAN,
                               .nh3_back_d = NAN,
                               .no2_back_d = NAN,
                               .o2_back_d = NAN};
    for (int g = 0; g < TL_ENDURE_GUILDS; g++) {
        out->film_left[g] = NAN;
        for (int i = 0; i < TL_ENDURE_STAGES; i++)
            out->stage_left[i][g] = NAN;
    }
    for (int i = 0; i < TL_NLIMIT; i++)
        out->limit[i] = (struct tl_endured_limit){NAN, NAN, NAN, NAN, NAN};
    for (int i = 0; i < TL_NRANGE; i++)
        out->outside[i] = NAN;
}

int tl_endure_run(const struct tl_scenario *s, const struct tl_worst_hour *when,
                  const struct tl_endure_case *c, const volatile int *interrupted,
                  struct tl_endured *out)
{
    struct tl_model *m = NULL;
    struct tl_setup setup;
    struct watch w = {.limits = &s->limits,
                      .out = out,
                      .at_d = when->at_d,
                      .back_d = when->at_d + c->outage_d,
                      .fish_kg = when->fish_kg * c->fish,
                      .nh3.last_beyond_d = NAN,
                      .no2.last_beyond_d = NAN,
                      .o2 = {.before = INFINITY, .last_beyond_d = NAN}};

    tl_endured_nothing(out);
    int status = tl_setup_copy(&setup, &s->setup);
    if (status)
        return status;
    status = change_setup(&setup, when, c, out);
    w.curve_room = 1 + (size_t)((c->outage_d + c->follow_d) / (TL_ENDURE_CURVE_MIN * MINUTE_D));
    if (!status && !(out->curve_o2 = calloc(w.curve_room, sizeof *out->curve_o2)))
        status = TL_E_MEMORY;
    if (!status)
        status = tl_model_build(&setup, &m);
    if (!status) {
        w.model = m;
        status = tl_work_new(m, &w.work);
    }
    if (!status && c->judged)
        status = begin_judging(&w, &setup, &s->limits);
    if (!status)
        status = run_model(&w, interrupted, out);
    if (!status && c->judged)
        finish_judging(&w, out);
    tl_judge_free(w.before);
    tl_judge_free(w.after);
    tl_work_free(w.work);
    tl_model_free(m);
    tl_setup_free(&setup);
    if (status)
        tl_endured_free(out);
    return status;
}

void tl_endured_free(struct tl_endured *e)
{
    free(e->curve_o2);
    e->curve_o2 = NULL;
    e->curve_points = 0;
}
