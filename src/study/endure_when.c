/* When a failure is worst: the undisturbed scenario tells which days come into question, and runs of the
 * failure itself at their full hours tell which hour it is. The hour of lowest oxygen would not do: an
 * outage that begins earlier runs through the warm hours and the meals. */
#include <math.h>
#include <stdlib.h>

#include "endure_case.h"
#include "loop.h"
#include "pool.h"
#include "text.h"
#include "towerloop/endure.h"
#include "towerloop/status.h"
#include "towerloop/verdict.h"

#define OWN_OUTAGE_D   3.0  /* what the scenario changes for longer is how it runs */
#define ALIKE_DEGC     0.05 /* days this close to the warmest are as warm */
#define ALIKE_FISH     1e-3 /* the same for the mass of fish, as a share */
#define MOMENT_D       1e-6
#define DAYS_LOOKED_AT TL_ENDURE_DAY_ASKED

enum { HOURS = 24 };

static const struct {
    const char *name, *words;
} day_text[TL_NENDURE_DAY] = {
#define ROW(id, name, words) {name, words},
    TL_ENDURE_DAY_LIST(ROW)
#undef ROW
};

const char *tl_endure_day_name(enum tl_endure_day d)
{
    return day_text[d].name;
}

const char *tl_endure_day_words(enum tl_endure_day d)
{
    return day_text[d].words;
}

/* --- the scenario as it is ------------------------------------------------------------------------ */

struct hour {
    double o2, temperature_degC, air_degC; /* sums over its samples */
    double water[TL_NWATER];               /* the same */
    double fish_kg;                        /* where a failure would begin */
    double flow_m3_d, aerator_g_d;         /* the least of its samples */
    unsigned samples;
    bool fish_known;
    bool own_outage; /* the scenario itself has stopped something */
};

struct survey {
    const struct tl_model *model;
    const struct tl_temperature *air; /* NULL: no weather */
    size_t tank, o2;
    struct hour *hour; /* since day 0 */
    size_t hours;
    double past_hour_d; /* a failure begins so long after a full hour */
    bool goes_on;       /* for a day after the end of the scenario */
};

static int look(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct survey *s = arg;
    const size_t i = (size_t)((t_d + TL_SAME_INSTANT_D) * HOURS);
    if (i >= s->hours)
        return TL_OK;
    struct hour *h = &s->hour[i];
    const bool first = h->samples++ == 0;
    h->o2 += y[s->o2];
    for (int k = 0; k < TL_NWATER; k++)
        h->water[k] += y[s->tank + (size_t)k];
    h->temperature_degC += tl_model_temperature(s->model, t_d);
    if (s->air)
        h->air_degC += tl_temperature_at(s->air, t_d);
    if (!h->fish_known) {
        h->fish_kg = tl_model_biomass(s->model, y);
        h->fish_known = t_d >= (double)i / HOURS + s->past_hour_d - TL_SAME_INSTANT_D;
    }
    h->flow_m3_d = first ? c->flow_m3_d : fmin(h->flow_m3_d, c->flow_m3_d);
    h->aerator_g_d = first ? c->aerator_g_d : fmin(h->aerator_g_d, c->aerator_g_d);
    return TL_OK;
}

static bool changes_flows(enum tl_event_kind k)
{
    return k == TL_EVENT_PUMP_FLOW || k == TL_EVENT_PUMP_ON || k == TL_EVENT_PUMPS_RUNNING ||
           k == TL_EVENT_TO_TOWER || k == TL_EVENT_AERATOR || k == TL_EVENT_AERATOR_ON;
}

static void mark_own_outages(struct survey *s, const struct tl_setup *setup)
{
    for (size_t i = 0; i < setup->events; i++) {
        const struct tl_event *e = &setup->event[i];
        if (!changes_flows(e->kind) || !(e->for_d > 0) || e->for_d > OWN_OUTAGE_D)
            continue;
        for (size_t h = (size_t)(e->at_d * HOURS);
             h < s->hours && (double)h * TL_HOUR_D < e->at_d + e->for_d; h++)
            s->hour[h].own_outage = true;
    }
    /* a pump that was switched off, and on again */
    size_t since = 0;
    for (size_t h = 0; h < s->hours; h++) {
        if (s->hour[h].samples > 0 && !(s->hour[h].flow_m3_d > 0))
            continue;
        for (; since < h && h - since <= (size_t)(OWN_OUTAGE_D * HOURS); since++)
            s->hour[since].own_outage = true;
        since = h + 1;
    }
}

/* Neither at that hour nor in the day before it has the scenario stopped something itself. */
static bool is_calm(const struct survey *s, size_t hour)
{
    for (size_t i = 0; i <= HOURS && i <= hour; i++)
        if (s->hour[hour - i].own_outage)
            return false;
    return true;
}

static double end_of(const struct tl_setup *s)
{
    return s->start_d + s->length_d;
}

/* Whether the last day leaves the loop otherwise than the hours that are tried: fish that come late, on a
 * day that ends before midnight, or a pump that is throttled. Then the day after the end is looked at. */
static bool ends_otherwise(const struct tl_setup *s)
{
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        const bool stays =
            e->kind == TL_EVENT_ADD_FISH || e->kind == TL_EVENT_DEAD_FISH ||
            ((changes_flows(e->kind) || e->kind == TL_EVENT_RATION || e->kind == TL_EVENT_COVER) &&
             !(e->for_d > 0));
        if (stays && e->at_d >= end_of(s) - 1)
            return true;
    }
    return false;
}

/* The scenario to its end, or as it stands then for a day more. */
static int survey_all(const struct tl_setup *scenario, const struct tl_endure_options *o,
                      struct survey *s, char *why)
{
    struct tl_setup longer;
    struct tl_model *m = NULL;
    struct tl_engine *e = NULL;
    const struct tl_observer observer = {.period_d = TL_VERDICT_PERIOD_D, .see = look, .arg = s};
    const struct tl_engine_options options = {
        .observer = &observer, .observers = 1, .interrupted = o ? o->interrupted : NULL};

    int status = tl_setup_copy(&longer, scenario);
    if (status)
        return status;
    s->goes_on = ends_otherwise(scenario);
    if (s->goes_on) {
        tl_endure_plan_nothing_after(&longer, end_of(scenario));
        longer.length_d += 1 + TL_HOUR_D; /* it begins with the next full hour */
    }
    s->hours = (size_t)ceil(end_of(&longer) * HOURS);
    s->hour = calloc(s->hours + 1, sizeof *s->hour);
    status = s->hour ? tl_model_build(&longer, &m) : TL_E_MEMORY;
    if (!status) {
        s->model = m;
        s->air = longer.weather.given ? &longer.weather.air : NULL;
        s->tank = tl_model_layout(m)->tank;
        s->o2 = s->tank + TL_O2;
        status = tl_engine_new(m, &options, &e);
    }
    if (!status) {
        status = tl_engine_advance(e, tl_engine_end(e));
        (void)tl_format(why, TL_FAULT_SIZE, "%s", tl_engine_fault(e));
    }
    tl_engine_free(e);
    tl_model_free(m);
    s->model = NULL;
    if (!status)
        mark_own_outages(s, &longer);
    s->air = NULL;
    tl_setup_free(&longer);
    return status;
}

/* --- what the loop is like ------------------------------------------------------------------------ */

/* Temperature, flow and aerator just before anything fails at w->at_d: they hang on the plan alone. */
int tl_endure_look_up(const struct tl_setup *setup, struct tl_worst_hour *w)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    int status = tl_setup_copy(&s, setup);
    if (status)
        return status;
    tl_endure_plan_nothing_after(&s, w->at_d);
    s.length_d = w->at_d + MOMENT_D - s.start_d; /* a run has to have a length */
    status = tl_model_build(&s, &m);
    if (!status) {
        w->temperature_degC = tl_model_temperature(m, w->at_d);
        w->flow_m3_d = tl_model_last_flow_m3_d(m);
        w->aerator_g_d =
            tl_endure_standing(&s, TL_EVENT_AERATOR, TL_EVENT_AERATOR_ON, s.aerator_g_d);
    }
    tl_model_free(m);
    tl_setup_free(&s);
    return status;
}

/* What a failure stops has to run before it. NULL: it does. */
static const char *nothing_to_fail(enum tl_failure fails, double flow_m3_d, double aerator_g_d)
{
    switch (fails) {
    case TL_FAILURE_AERATOR:
        return aerator_g_d > 0 ? NULL : "no aerator runs at that hour, so none can fail";
    case TL_FAILURE_PUMP:
    case TL_FAILURE_HALF:
        return flow_m3_d > 0 ? NULL : "no pump runs at that hour, so none can fail";
    case TL_FAILURE_POWER:
    case TL_NFAILURE:
    default:
        return flow_m3_d > 0 || aerator_g_d > 0 ? NULL
                                                : "neither pump nor aerator runs at that hour";
    }
}

/* --- days and hours ------------------------------------------------------------------------------- */

struct choice {
    const struct tl_scenario *scenario;
    const struct tl_endure_question *q;
    struct survey survey;
    bool calm_only;
};

static bool fit(const struct choice *c, size_t hour)
{
    const struct hour *h = &c->survey.hour[hour];
    return h->samples > 0 && h->fish_kg > 0 &&
           !nothing_to_fail(c->q->fails, h->flow_m3_d, h->aerator_g_d) &&
           (isnan(c->q->clock_d) || hour % HOURS == (size_t)(c->q->clock_d * HOURS)) &&
           (!c->calm_only || is_calm(&c->survey, hour));
}

/* A day by the hours at which a failure could begin. */
struct day {
    double o2, temperature_degC, air_degC, fish_kg; /* lowest of an hour; means; most of an hour */
    bool fit;                                       /* there are such hours */
};

static struct day judge_day(const struct choice *c, size_t day)
{
    struct day d = {.o2 = INFINITY};
    double sum = 0;
    unsigned samples = 0;
    for (size_t i = day * HOURS; i < (day + 1) * HOURS && i < c->survey.hours; i++) {
        const struct hour *h = &c->survey.hour[i];
        sum += h->temperature_degC;
        d.air_degC += h->air_degC;
        samples += h->samples;
        if (!fit(c, i))
            continue;
        d.fit = true;
        d.o2 = fmin(d.o2, h->o2 / h->samples);
        d.fish_kg = fmax(d.fish_kg, h->fish_kg);
    }
    d.temperature_degC = samples > 0 ? sum / samples : NAN;
    d.air_degC = samples > 0 ? d.air_degC / samples : NAN;
    return d;
}

/* Whether `a` comes before the best so far; among days that are alike the one of lower oxygen does. */
static bool comes_before(enum tl_endure_day by, const struct day *a, const struct day *best)
{
    double more = 0, alike = 0;
    switch (by) {
    case TL_ENDURE_DAY_WARMEST:
        more = a->temperature_degC - best->temperature_degC;
        alike = ALIKE_DEGC;
        break;
    case TL_ENDURE_DAY_COLDEST:
        more = best->air_degC - a->air_degC; /* a heater holds the water until it fails */
        alike = ALIKE_DEGC;
        break;
    case TL_ENDURE_DAY_FISH:
        more = a->fish_kg - best->fish_kg;
        alike = ALIKE_FISH * best->fish_kg;
        break;
    case TL_ENDURE_DAY_LAST:
        return true;
    case TL_ENDURE_DAY_OXYGEN:
    case TL_ENDURE_DAY_ASKED:
    case TL_NENDURE_DAY:
    default:
        break;
    }
    return fabs(more) > alike ? more > 0 : a->o2 < best->o2;
}

/* The whole days of the scenario, from `first` to before `end`. */
static void whole_days(const struct tl_setup *s, size_t *first, size_t *end)
{
    *first = (size_t)ceil(s->start_d - TL_SAME_INSTANT_D);
    *end = (size_t)floor(end_of(s) + TL_SAME_INSTANT_D);
}

/* The days that come into question, each once; how many. */
static size_t pick_days(const struct choice *c, size_t day[DAYS_LOOKED_AT],
                        enum tl_endure_day by[DAYS_LOOKED_AT])
{
    size_t first, end, n = 0;
    whole_days(&c->scenario->setup, &first, &end);
    for (int k = 0; k < DAYS_LOOKED_AT; k++) {
        struct day best = {.fit = false};
        size_t best_day = 0;
        bool known = false;
        /* a heater or a pump that fails in frost; a temperature that is given stays as it is */
        if (k == TL_ENDURE_DAY_COLDEST && !c->scenario->setup.weather.given)
            continue;
        for (size_t i = first; i < end; i++) {
            const struct day d = judge_day(c, i);
            if (!d.fit || (best.fit && !comes_before((enum tl_endure_day)k, &d, &best)))
                continue;
            best = d;
            best_day = i;
        }
        for (size_t i = 0; i < n; i++)
            known |= day[i] == best_day;
        if (!best.fit || known)
            continue;
        day[n] = best_day;
        by[n++] = (enum tl_endure_day)k;
    }
    return n;
}

static void add_start(const struct choice *c, struct tl_endure_starts *out, double at_d,
                      enum tl_endure_day day)
{
    const struct hour *h = &c->survey.hour[(size_t)((at_d + TL_SAME_INSTANT_D) * HOURS)];
    out->start[out->n++] = (struct tl_endure_start){
        .when = {.at_d = at_d, .o2 = h->o2 / h->samples, .fish_kg = h->fish_kg},
        .day = day,
        .caution_min = NAN,
        .danger_min = NAN,
        .lost_min = NAN,
        .lowest_o2 = NAN,
        .lost_before_d = NAN,
        .film_left = {NAN, NAN},
        .frost = {.passed_min = INFINITY, .ice_min = INFINITY}};
    struct tl_endure_start *added = &out->start[out->n - 1];
    for (int i = 0; i < TL_NWATER; i++)
        added->when.water[i] = h->water[i] / h->samples;
    for (int i = 0; i < TL_ENDURE_STAGES; i++)
        added->stage_left[i] = NAN;
}

static void add_day(const struct choice *c, struct tl_endure_starts *out, size_t day,
                    enum tl_endure_day by)
{
    const bool clock = !isnan(c->q->clock_d);
    for (size_t i = day * HOURS; i < (day + 1) * HOURS && i < c->survey.hours; i++)
        if (fit(c, i))
            add_start(c, out, (double)day + (clock ? c->q->clock_d : (double)(i % HOURS) / HOURS),
                      by);
    out->days++;
}

/* As the last day left it: every hour of the day after the end. */
static void add_end(const struct choice *c, struct tl_endure_starts *out)
{
    const double end_d = end_of(&c->scenario->setup);
    const size_t first = (size_t)ceil((end_d - TL_SAME_INSTANT_D) * HOURS);
    const size_t before = out->n;
    for (size_t i = first; i < first + HOURS && i < c->survey.hours; i++)
        if (fit(c, i))
            add_start(c, out, (double)i / HOURS + c->survey.past_hour_d, TL_ENDURE_DAY_END);
    out->days += out->n > before;
}

/* Why there is no hour at which it could fail. */
static void say_why(const struct choice *c, char *why)
{
    size_t first, end;
    const char *nothing = NULL;
    double flow = 0, aerator = 0;
    bool fish = false;
    whole_days(&c->scenario->setup, &first, &end);
    if (!isnan(c->q->day)) {
        first = (size_t)c->q->day;
        end = first + 1;
    }
    for (size_t i = first * HOURS; i < end * HOURS && i < c->survey.hours; i++) {
        const struct hour *h = &c->survey.hour[i];
        fish |= h->samples > 0 && h->fish_kg > 0;
        flow = fmax(flow, h->flow_m3_d);
        aerator = fmax(aerator, h->aerator_g_d);
    }
    nothing = nothing_to_fail(c->q->fails, flow, aerator);
    if (fish && nothing)
        (void)tl_format(why, TL_FAULT_SIZE, "%s", nothing);
    else if (!isnan(c->q->day))
        (void)tl_format(why, TL_FAULT_SIZE, "there are no fish in the tank on day %.0f", c->q->day);
    else
        (void)tl_format(why, TL_FAULT_SIZE, "there are no fish in the tank on any whole day%s",
                        isnan(c->q->clock_d) ? "" : " at that time");
}

/* The starts to try. TL_OK or TL_E_INPUT. */
static int list_starts(struct choice *c, struct tl_endure_starts *out, char *why)
{
    const struct tl_setup *s = &c->scenario->setup;
    const double day_d = c->q->day, end_d = end_of(s);
    size_t day[DAYS_LOOKED_AT], first, end;
    enum tl_endure_day by[DAYS_LOOKED_AT];

    whole_days(s, &first, &end);
    if (isnan(day_d) && first >= end) {
        (void)tl_format(why, TL_FAULT_SIZE,
                        "the scenario is too short: it has no whole day from midnight to midnight");
        return TL_E_INPUT;
    }
    const double asked_d = day_d + (isnan(c->q->clock_d) ? 0 : c->q->clock_d);
    if (!isnan(day_d) && (asked_d < (isnan(c->q->clock_d) ? floor(s->start_d) : s->start_d) ||
                          asked_d >= end_d - TL_SAME_INSTANT_D)) {
        (void)tl_format(why, TL_FAULT_SIZE,
                        "that is not within the scenario, which goes from day %.4g to day %.4g",
                        s->start_d, end_d);
        return TL_E_INPUT;
    }
    if (!isnan(day_d)) {
        add_day(c, out, (size_t)day_d, TL_ENDURE_DAY_ASKED);
    } else {
        c->calm_only = true;
        size_t days = pick_days(c, day, by);
        if (days == 0) {
            c->calm_only = false;
            days = pick_days(c, day, by);
        }
        for (size_t i = 0; i < days; i++)
            add_day(c, out, day[i], by[i]);
        if (c->survey.goes_on)
            add_end(c, out);
    }
    if (out->n > 0)
        return TL_OK;
    say_why(c, why);
    return TL_E_INPUT;
}

/* --- trying them ---------------------------------------------------------------------------------- */

struct trials {
    const struct choice *choice;
    struct tl_endure_starts *starts;
    const volatile int *interrupted;
};

static int try_start(void *arg, size_t i)
{
    const struct trials *t = arg;
    const struct tl_endure_question *q = t->choice->q;
    const struct tl_scenario *scenario = t->choice->scenario;
    const struct tl_endure_case c = {.fails = q->fails,
                                     .outage_d = q->outage_d,
                                     .fish = 1,
                                     .judged = scenario->setup.weather.given};
    struct tl_endure_start *start = &t->starts->start[i];
    struct tl_endured e;

    int status = tl_endure_look_up(&scenario->setup, &start->when);
    if (status || t->starts->n == 1)
        return status;
    status = tl_endure_run(scenario, &start->when, &c, t->interrupted, &e);
    if (status)
        return status;
    start->caution_min = e.caution_min;
    start->danger_min = e.danger_min;
    start->lost_min = e.lost_min;
    start->lost_before_d = e.lost_before_d;
    start->lowest_o2 = *e.fault ? NAN : e.lowest_o2;
    start->film_left[0] = e.film_left[0];
    start->film_left[1] = e.film_left[1];
    for (int k = 0; k < TL_ENDURE_STAGES; k++)
        start->stage_left[k] = fmin(e.stage_left[k][0], e.stage_left[k][1]);
    if (c.judged && !*e.fault)
        start->frost = tl_endure_frost_of(&e, &scenario->limits);
    tl_endured_free(&e);
    return TL_OK;
}

static int try_all(const struct choice *c, const struct tl_endure_options *o,
                   struct tl_endure_starts *out)
{
    struct trials t = {.choice = c, .starts = out, .interrupted = o ? o->interrupted : NULL};
    const struct tl_pool pool = {.job = try_start,
                                 .arg = &t,
                                 .jobs = out->n,
                                 .threads = o ? o->threads : 0,
                                 .interrupted = t.interrupted,
                                 .progress = o ? o->progress : NULL,
                                 .progress_arg = o ? o->progress_arg : NULL};
    int status = tl_pool_run(&pool);
    if (!status)
        tl_endure_rank(out);
    return status;
}

int tl_endure_find(const struct tl_scenario *s, const struct tl_endure_question *q,
                   const struct tl_endure_options *o, struct tl_endure_starts *out,
                   char why[TL_FAULT_SIZE])
{
    struct choice c = {.scenario = s, .q = q};

    *out = (struct tl_endure_starts){.n = 0};
    *why = '\0';
    if (!isnan(q->clock_d))
        c.survey.past_hour_d = q->clock_d - floor(q->clock_d * HOURS) / HOURS;
    int status = survey_all(&s->setup, o, &c.survey, why);
    if (!status)
        status = list_starts(&c, out, why);
    if (!status)
        status = try_all(&c, o, out);
    free(c.survey.hour);
    return status;
}
