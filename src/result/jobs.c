/* Draws up the jobs of a calendar from a scenario and the days of its run. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/pump.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"
#include "towerloop/upkeep.h"

#define WEEK_D         7
#define FEEDING_DAYS   3  /* so many days alike make a stop of feeding, or a new beginning */
#define SPELL_DAYS     14 /* frost, or a cold heater, is told of anew after so many days without */
#define REMIND_DAYS    28 /* and again after so many days of a spell that goes on */
#define HEATER_AHEAD_K 1
#define AFTER_ARRIVAL  7 /* days with a test each */
/* Common practice, no source; a film that medicine killed takes about four weeks to come back. */
#define AFTER_MISHAP   7
#define AFTER_DANGER   7
#define AFTER_MEDICINE 28
#define SHORT_STOP_D   (2.0 / 24) /* a filter that stands no longer is not hurt: judgement */
#define SOON_D         1e-3
#define ROUNDING       1e-9
#define SODA_PARTS     4             /* a dose is cut to no less than a part of so many */
#define LEAST_ALK      1e-3          /* eq/m3: a ratio to less says nothing */
#define SEEN_WITHIN_D  (10.0 / 1440) /* of a dose, by samples every 5 minutes */

/* What is being made. */
struct maker {
    const struct tl_scenario *s;
    const struct tl_setup *setup;
    const struct tl_upkeep *run; /* NULL: there is none */
    double end_d;
    struct tl_jobs *jobs;
    bool failed;
};

static const struct tl_job no_job = {.amount = NAN, .figure = NAN};

static void put(struct maker *m, struct tl_job job)
{
    struct tl_jobs *j = m->jobs;
    /* a scenario that names no hour means midnight, a keeper the day */
    job.all_day = fabs(job.t_d - round(job.t_d)) < 1e-9;
    if (!(job.t_d < m->end_d))
        return;
    if (j->n == j->room) {
        const size_t room = j->room ? 2 * j->room : 64;
        struct tl_job *grown = realloc(j->job, room * sizeof *grown);
        if (!grown) {
            m->failed = true;
            return;
        }
        j->job = grown;
        j->room = room;
    }
    j->job[j->n++] = job;
}

/* --- what the scenario plans -------------------------------------------------------------------- */

/* Events that are something to do. Pumps, aerator and heater that are switched are what happens to a
 * loop, an outage for one, and nothing a calendar should ask for. */
static const struct {
    bool is_job;
    enum tl_job_kind kind;
} job_of[TL_NEVENT] = {
    [TL_EVENT_ADD_FISH] = {true, TL_JOB_FISH_IN},
    [TL_EVENT_REMOVE_FISH] = {true, TL_JOB_FISH_OUT},
    [TL_EVENT_RATION] = {true, TL_JOB_RATION},
    [TL_EVENT_WATER_CHANGE] = {true, TL_JOB_CHANGE_WATER},
    [TL_EVENT_DOSE] = {true, TL_JOB_DOSE},
    [TL_EVENT_CLEAN_CHAMBER] = {true, TL_JOB_EMPTY_CHAMBER},
    [TL_EVENT_CLEAN_TRAY] = {true, TL_JOB_RINSE_TRAY},
    [TL_EVENT_CLEAN_TRAYS] = {true, TL_JOB_RINSE_TRAY},
    [TL_EVENT_CLEAN_PUMP] = {true, TL_JOB_CLEAN_PUMP},
    [TL_EVENT_HOSE_TRAY] = {true, TL_JOB_HOSE_TRAY},
    [TL_EVENT_HOSE_TRAYS] = {true, TL_JOB_HOSE_TRAY},
};

static const struct tl_upkeep_day *day_of(const struct maker *m, double t_d)
{
    const size_t day = (size_t)fmax(floor(t_d), 0);
    return m->run && day < m->run->days && m->run->day[day].samples > 0 ? &m->run->day[day] : NULL;
}

/* What the run gave at an event that names a mark and no mass: 0 where it needed none. */
static double given_at(const struct maker *m, const struct tl_event *e)
{
    for (size_t i = 0; m->run && i < m->run->doses; i++) {
        const struct tl_upkeep_dose *d = &m->run->dose[i];
        if (!d->held && d->dose == e->dose && d->at_d > e->at_d - SOON_D &&
            d->at_d < e->at_d + SEEN_WITHIN_D)
            return d->mass_g;
    }
    return m->run ? 0 : NAN;
}

static double amount_of(const struct maker *m, const struct tl_event *e)
{
    switch (e->kind) {
    case TL_EVENT_ADD_FISH:
    case TL_EVENT_REMOVE_FISH:
        return e->fish.count;
    case TL_EVENT_WATER_CHANGE:
        return e->value * m->setup->tank.volume_m3;
    case TL_EVENT_DOSE:
        return e->by == TL_DOSE_MASS ? e->value : given_at(m, e);
    case TL_EVENT_CLEAN_CHAMBER:
        return m->setup->chamber.volume_m3;
    default:
        return NAN;
    }
}

static bool is_dechlorinator(const struct tl_event *e)
{
    return e->kind == TL_EVENT_DOSE && e->dose == TL_DOSE_THIOSULFATE;
}

/* Of what the job is about, as the run has it on that day. */
static double figure_of(const struct maker *m, const struct tl_event *e)
{
    const struct tl_upkeep_day *d = day_of(m, e->at_d);
    if (!d)
        return NAN;
    switch (e->kind) {
    case TL_EVENT_CLEAN_CHAMBER:
        return d->chamber_filled;
    case TL_EVENT_CLEAN_TRAY:
    case TL_EVENT_CLEAN_TRAYS:
        return tl_upkeep_voids_filled(m->run, (size_t)fmax(floor(e->at_d), 0),
                                      e->kind == TL_EVENT_CLEAN_TRAY ? e->tray : 0);
    case TL_EVENT_HOSE_TRAY:
    case TL_EVENT_HOSE_TRAYS:
        return d->top_cover;
    default:
        return NAN;
    }
}

/* The scenario's own dose against the chlorine of water that is let in then. */
static struct tl_job *planned_dechlorinator(const struct maker *m, double t_d)
{
    for (size_t i = 0; i < m->jobs->n; i++) {
        struct tl_job *j = &m->jobs->job[i];
        if (j->event && is_dechlorinator(j->event) && fabs(j->t_d - t_d) < SOON_D)
            return j;
    }
    return NULL;
}

/* Sodium thiosulfate with the water that a change or a refill lets in at once; where the scenario doses too
 * little of it, so much more. */
static void put_dechlorinator(struct maker *m, double t_d, double volume_m3)
{
    const double takes_g = tl_thiosulfate_g(m->setup, volume_m3);
    struct tl_job *planned = planned_dechlorinator(m, t_d);
    struct tl_job job = no_job;
    if (!(takes_g > 0))
        return;
    if (planned) {
        planned->figure += takes_g;
        if (planned->amount < TL_DECHLORINATOR_ENOUGH * planned->figure)
            planned->amount = planned->figure;
        return;
    }
    job.t_d = t_d;
    job.kind = TL_JOB_DECHLORINATE;
    job.amount = takes_g;
    put(m, job);
}

static void put_events(struct maker *m)
{
    const struct tl_setup *s = m->setup;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        struct tl_job job = no_job;
        if (!job_of[e->kind].is_job)
            continue;
        job.t_d = e->at_d;
        job.kind = is_dechlorinator(e) ? TL_JOB_DECHLORINATE : job_of[e->kind].kind;
        job.amount = amount_of(m, e);
        job.figure = is_dechlorinator(e) ? 0 : figure_of(m, e);
        job.tray = e->kind == TL_EVENT_CLEAN_TRAY || e->kind == TL_EVENT_HOSE_TRAY ? e->tray : 0;
        job.event = e;
        put(m, job);
    }
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind == TL_EVENT_WATER_CHANGE || e->kind == TL_EVENT_CLEAN_CHAMBER)
            put_dechlorinator(m, e->at_d, amount_of(m, e));
    }
}

static void put_changes(struct maker *m)
{
    const struct tl_setup *s = m->setup;
    struct tl_job job = no_job;
    job.kind = TL_JOB_CHANGE_WATER;
    job.amount = s->change_amount * s->tank.volume_m3;
    for (size_t k = 1; s->change_every_d > 0 && job.t_d < m->end_d; k++) {
        job.t_d = s->start_d + (double)k * s->change_every_d;
        put(m, job);
        if (job.t_d < m->end_d)
            put_dechlorinator(m, job.t_d, job.amount);
    }
}

static void put_emptyings(struct maker *m)
{
    const struct tl_emptying *e = &m->setup->emptying;
    struct tl_job job = no_job;
    job.kind = TL_JOB_EMPTY_CHAMBER;
    job.amount = m->setup->chamber.volume_m3;
    for (size_t k = 1; e->every_d > 0 && job.t_d < m->end_d; k++) {
        job.t_d = e->at_s / 86400.0 + (double)k * e->every_d;
        const struct tl_upkeep_day *d = day_of(m, job.t_d);
        job.figure = d ? d->chamber_filled : NAN;
        put(m, job);
        put_dechlorinator(m, job.t_d, job.amount);
    }
}

/* What trickles in, and what replaces the water that evaporates: that is known from a run only. NAN:
 * there is some, and how much is not known. */
static double runs_in_m3(const struct maker *m, double from_d, double to_d)
{
    const struct tl_setup *s = m->setup;
    double m3 = s->trickle_1_d * s->tank.volume_m3 * (to_d - fmax(from_d, s->start_d));
    for (double day = from_d; s->weather.given && m->run && day < to_d; day++)
        m3 += day_of(m, day) ? day_of(m, day)->top_up_m3 : 0;
    return s->weather.given && !m->run && !(m3 > 0) ? NAN : m3;
}

/* Water that runs in bit by bit is told of once a week. */
static void put_inflow(struct maker *m)
{
    struct tl_job job = no_job;
    if (!(m->setup->source.water[TL_HOCL] > 0))
        return;
    job.kind = TL_JOB_DECHLORINATE;
    job.bit_by_bit = true;
    for (; job.t_d < m->end_d; job.t_d += WEEK_D) {
        job.amount =
            tl_thiosulfate_g(m->setup, runs_in_m3(m, job.t_d, fmin(job.t_d + WEEK_D, m->end_d)));
        if (!(job.amount <= 0))
            put(m, job);
    }
}

/* Doses that a plan measured out; without a run they are not known. */
static void put_looks(struct maker *m)
{
    struct tl_job job = no_job;
    job.kind = TL_JOB_DOSE;
    for (size_t i = 0; m->run && i < m->run->doses; i++) {
        if (!m->run->dose[i].held)
            continue;
        job.t_d = m->run->dose[i].at_d;
        job.amount = m->run->dose[i].mass_g;
        put(m, job);
    }
}

/* --- what the run shows ------------------------------------------------------------------------- */

/* Of doses only baking soda is asked for by a run; another substance is no stand-in for it. */
static bool is_soda(const struct tl_job *j)
{
    return !j->event || j->event->dose == TL_DOSE_BAKING_SODA;
}

/* One of all trays is one of each. */
static bool planned_on(const struct maker *m, enum tl_job_kind kind, double day, int tray)
{
    for (size_t i = 0; i < m->jobs->n; i++) {
        const struct tl_job *j = &m->jobs->job[i];
        if (j->kind == kind && j->from == TL_JOB_FROM_PLAN && floor(j->t_d) == day &&
            (kind != TL_JOB_DOSE || is_soda(j)) && (j->tray == 0 || j->tray == tray))
            return true;
    }
    return false;
}

/* A job of all day. False where the scenario plans it for that day anyway. */
static bool put_due(struct maker *m, enum tl_job_kind kind, size_t day, double amount,
                    double figure, int tray)
{
    struct tl_job job = {.t_d = (double)day,
                         .kind = kind,
                         .from = TL_JOB_FROM_RUN,
                         .amount = amount,
                         .figure = figure,
                         .tray = tray};
    if (planned_on(m, kind, job.t_d, tray))
        return false;
    put(m, job);
    return true;
}

/* Something that fills up and is emptied. The run goes on without the jobs it shows, so a second time is
 * reckoned from what came to it since the first, or as fast again as the first time, if that is sooner:
 * what decays in a full chamber is not yet there in an emptied one. */
static void put_filling(struct maker *m, enum tl_job_kind kind, double amount, double due, int tray,
                        double (*filled)(const struct tl_upkeep *u, size_t day, int tray))
{
    const struct tl_upkeep *u = m->run;
    double before = 0, last = 0;
    size_t since = 0, first_took = 0;
    for (size_t i = 0; i < u->days; i++) {
        if (u->day[i].samples == 0)
            continue;
        const double now = filled(u, i, tray);
        if (now < 0.5 * last) { /* the scenario emptied it */
            before = 0;
            since = i;
        }
        last = now;
        if (now - before < due && !(first_took > 0 && i - since >= first_took))
            continue;
        (void)put_due(m, kind, i, amount, fmax(now - before, due), tray);
        if (first_took == 0)
            first_took = i - since;
        before = now;
        since = i;
    }
}

/* Once, and anew after the scenario had them hosed off: how fast they come back hangs on the season. */
static void put_hosing(struct maker *m)
{
    const struct tl_upkeep *u = m->run;
    bool told = false;
    double last = 0;
    for (size_t i = 0; i < u->days; i++) {
        const double now = u->day[i].top_cover;
        told = told && !(now < 0.5 * last);
        last = now;
        if (told || !(now >= TL_DUE_TOP_COVER))
            continue;
        (void)put_due(m, TL_JOB_HOSE_TRAY, i, NAN, now, 1);
        told = true;
    }
}

static double chamber_filled(const struct tl_upkeep *u, size_t day, int tray)
{
    (void)tray;
    return u->day[day].chamber_filled;
}

/* What doses up to the day before added is still there, but for what water changes took. */
static double washed(const struct maker *m, size_t day, double added)
{
    const struct tl_setup *s = m->setup;
    double left = added * fmax(1 - s->trickle_1_d, 0);
    for (size_t i = 0; i < m->jobs->n; i++)
        if (m->jobs->job[i].kind == TL_JOB_CHANGE_WATER &&
            floor(m->jobs->job[i].t_d) == (double)day)
            left *= 1 - m->jobs->job[i].amount / s->tank.volume_m3;
    return left;
}

/* The total ammonia up to which it is right to have added so much alkalinity: the rule of the card. With
 * the carbon dioxide of the water as it is, [H+] goes as 1/alkalinity. The warmest water and the highest pH
 * of a day need not meet. NAN: without fish it may be anything. */
static double soda_most_tan(const struct maker *m, size_t day, double added_eq_m3)
{
    const struct tl_upkeep_day *d = &m->run->day[day];
    const double alk = fmax(d->alk_least_eq_m3, LEAST_ALK);
    const double ph = d->ph_most + log10(1 + added_eq_m3 / alk);
    return d->fish_kg > 0 ? tl_soda_most_tan_gN_m3(&m->s->limits, d->water_most_degC, ph) : NAN;
}

/* Whether ammonia allows so much added alkalinity on the eve of a day and on the day, and how much of it would
 * on both. */
static bool soda_is_right(const struct maker *m, size_t eve, size_t day, double added_eq_m3,
                          double *most_tan)
{
    const double on_eve = soda_most_tan(m, eve, added_eq_m3);
    const double on_day = soda_most_tan(m, day, added_eq_m3);
    *most_tan = fmin(on_eve, on_day);
    return !(m->run->day[eve].tan_most_gN_m3 > on_eve) &&
           !(m->run->day[day].tan_most_gN_m3 > on_day);
}

/* The largest dose that is right on top of what was added before, eq/m3; 0: none. */
static double soda_dose(const struct maker *m, size_t eve, size_t day, double added_eq_m3,
                        double *most_tan)
{
    for (double parts = 1; parts <= SODA_PARTS; parts *= 2)
        if (soda_is_right(m, eve, day, added_eq_m3 + TL_DUE_SODA_EQ_M3 / parts, most_tan))
            return TL_DUE_SODA_EQ_M3 / parts;
    return 0;
}

/* Baking soda on the eve of the day that the alkalinity would pass its floor. It raises the pH, and with it
 * the poisonous part of the ammonia: where that would be beyond caution the dose is smaller, or the job says
 * so in place of a dose, once for as long as it lasts. */
static void put_soda(struct maker *m)
{
    const struct tl_setup *s = m->setup;
    const struct tl_upkeep *u = m->run;
    const double floor_eq_m3 = m->s->limits.alk.caution;
    const double g_per_eq_m3 = TL_BAKING_SODA_G_PER_EQ * (s->tank.volume_m3 + s->chamber.volume_m3);
    double added = 0;
    double dosed_d = -1;
    bool told = false;
    if (s->dosing.hold_alkalinity_eq_m3 > 0 || !(floor_eq_m3 > 0))
        return;
    for (size_t i = 0; i < u->days; i++) {
        const struct tl_upkeep_day *d = &u->day[i];
        const size_t eve = i > 0 ? i - 1 : 0;
        added = washed(m, i, added);
        if (d->samples == 0 || !(d->alk_least_eq_m3 + added < floor_eq_m3))
            continue;
        struct tl_job dose = {.t_d = (double)eve,
                              .kind = TL_JOB_DOSE,
                              .from = TL_JOB_FROM_RUN,
                              .figure = d->alk_least_eq_m3 + added};
        const double dose_eq_m3 = soda_dose(m, eve, i, added, &dose.most_tan_gN_m3);
        dose.held_back = !(dose_eq_m3 > 0);
        dose.amount = dose.held_back ? NAN : dose_eq_m3 * g_per_eq_m3;
        /* day 0 is the eve of itself and of day 1: one day does not ask for a dose and forbid it */
        if ((dose.held_back && (told || dose.t_d == dosed_d)) ||
            planned_on(m, TL_JOB_DOSE, dose.t_d, 0))
            continue;
        put(m, dose);
        told = dose.held_back;
        dosed_d = told ? dosed_d : dose.t_d;
        added += dose_eq_m3;
    }
}

static double cleaned_by_plan(const struct tl_setup *s, double from_d, double to_d)
{
    double last = from_d;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_CLEAN_PUMP && s->event[i].at_d > last &&
            s->event[i].at_d <= to_d)
            last = s->event[i].at_d;
    return last;
}

static void put_pump(struct maker *m)
{
    const struct tl_setup *s = m->setup;
    double clean_d = s->start_d;
    for (size_t i = 0; s->pump.fouling_1_d > 0 && (double)i < m->end_d; i++) {
        const double t_d = (double)i;
        clean_d = cleaned_by_plan(s, clean_d, t_d);
        const double kept = tl_pump_kept(&s->pump, fmax(t_d - clean_d, 0));
        if (kept > TL_DUE_PUMP_KEPT + ROUNDING)
            continue;
        (void)put_due(m, TL_JOB_CLEAN_PUMP, i, NAN, kept, 0);
        clean_d = t_d;
    }
}

static bool is_cold(const struct tl_upkeep_day *d, double below_degC,
                    double (*least)(const struct tl_upkeep_day *d))
{
    return d->samples > 0 && least(d) < below_degC;
}

/* From day `from` to the end of the spell. */
static double coldest(const struct tl_upkeep *u, size_t from, double below_degC,
                      double (*least)(const struct tl_upkeep_day *d))
{
    double degC = INFINITY;
    size_t mild = 0;
    for (size_t i = from; i < u->days && mild < SPELL_DAYS; i++) {
        mild++;
        if (!is_cold(&u->day[i], below_degC, least))
            continue;
        degC = fmin(degC, least(&u->day[i]));
        mild = 0;
    }
    return degC;
}

/* The eve of the first day of a cold spell, and again as long as it goes on. */
static void put_spells(struct maker *m, enum tl_job_kind kind, double below_degC,
                       double (*least)(const struct tl_upkeep_day *d))
{
    const struct tl_upkeep *u = m->run;
    size_t mild = SPELL_DAYS, told = 0;
    for (size_t i = 0; i < u->days; i++) {
        if (!is_cold(&u->day[i], below_degC, least)) {
            mild++;
            continue;
        }
        if (mild >= SPELL_DAYS || i - told >= REMIND_DAYS) {
            (void)put_due(m, kind, i > 0 ? i - 1 : 0, NAN, coldest(u, i, below_degC, least), 0);
            told = i;
        }
        mild = 0;
    }
}

static double air_least(const struct tl_upkeep_day *d)
{
    return d->air_least_degC;
}

static double water_least(const struct tl_upkeep_day *d)
{
    return d->water_least_degC;
}

/* A crumb on the warmest hour of a day is no feeding. */
static bool is_fed(const struct tl_upkeep_day *d)
{
    return d->fed_g > TL_CRUMB_1_D * 1000 * d->fish_kg;
}

/* Whether so many days from `i` on, as far as the run goes, are fed, or are not. */
static bool days_alike(const struct tl_upkeep *u, size_t i, bool fed)
{
    for (size_t k = i; k < i + FEEDING_DAYS && k < u->days && u->day[k].samples > 1; k++)
        if (is_fed(&u->day[k]) != fed || !(u->day[k].fish_kg > 0))
            return false;
    return true;
}

/* Only where the temperature decides. */
static void put_feeding(struct maker *m)
{
    const struct tl_feeding *f = &m->setup->feeding;
    const struct tl_upkeep *u = m->run;
    if (f->log.n > 0 || !(f->none_below_degC > 0 || f->ration.kind == TL_RATION_TABLE))
        return;
    bool feeding = u->days > 0 && is_fed(&u->day[0]);
    for (size_t i = 1; i < u->days; i++) {
        const struct tl_upkeep_day *d = &u->day[i];
        if (d->samples < 2 || !(d->fish_kg > 0) || is_fed(d) == feeding ||
            !days_alike(u, i, !feeding))
            continue;
        feeding = !feeding;
        (void)put_due(m, feeding ? TL_JOB_FEED_AGAIN : TL_JOB_STOP_FEEDING, i, NAN,
                      feeding ? d->water_most_degC : d->water_least_degC, 0);
    }
}

/* --- tests of the water -------------------------------------------------------------------------- */

/* Days of daily tests from an event on that hurts the filter or burdens it; 0: none. */
static double watched_d(const struct tl_event *e, enum tl_test_why *why)
{
    switch (e->kind) {
    case TL_EVENT_ADD_FISH:
        *why = TL_TEST_NEW_FISH;
        return AFTER_ARRIVAL;
    case TL_EVENT_DEAD_FISH:
        *why = TL_TEST_DEAD_FISH;
        return e->for_d + AFTER_MISHAP;
    case TL_EVENT_KNOCK_OUT:
        *why = TL_TEST_MEDICINE;
        return AFTER_MEDICINE;
    case TL_EVENT_DOSE:
        *why = TL_TEST_MEDICINE;
        return tl_dose_is_medicine(e->dose) ? AFTER_MEDICINE : 0;
    case TL_EVENT_PUMP_ON:
        *why = TL_TEST_STOOD;
        return AFTER_MISHAP;
    case TL_EVENT_PUMP_FLOW:
    case TL_EVENT_PUMPS_RUNNING:
    case TL_EVENT_TO_TOWER:
        *why = TL_TEST_STOOD;
        return e->value > 0 || (e->for_d > 0 && e->for_d < SHORT_STOP_D) ? 0
                                                                         : e->for_d + AFTER_MISHAP;
    default:
        return 0;
    }
}

/* From the day that the filter counts as ready. */
static struct tl_after_ready after_ready(const struct maker *m, double ready_d)
{
    const struct tl_limits *l = &m->s->limits;
    struct tl_after_ready a = {.within_d = ready_d};
    int within = 0;
    for (double day = floor(ready_d); day < m->end_d && day_of(m, day); day++) {
        const struct tl_upkeep_day *d = day_of(m, day);
        const bool nh3 = d->fish_kg > 0 && d->nh3_most_gN_m3 > l->nh3.caution;
        const bool no2 = d->fish_kg > 0 && d->no2_most_gN_m3 > l->no2.caution;
        if (nh3 || no2) {
            a = (struct tl_after_ready){a.nh3 || nh3, a.no2 || no2, NAN};
            within = 0;
        } else if (++within == WEEK_D) {
            a.within_d = fmax(ready_d, day + 1 - WEEK_D);
            break;
        }
    }
    return a;
}

/* Within the last week fish were in water beyond danger, as the run goes. */
static bool was_danger(const struct maker *m, double day)
{
    const struct tl_limits *l = &m->s->limits;
    for (double t_d = fmax(day - AFTER_DANGER, 0); t_d <= day; t_d++) {
        const struct tl_upkeep_day *d = day_of(m, t_d);
        if (d && d->fish_kg > 0 &&
            (d->nh3_most_gN_m3 > l->nh3.danger || d->no2_most_gN_m3 > l->no2.danger ||
             d->alk_least_eq_m3 < l->alk.danger))
            return true;
    }
    return false;
}

/* `ready_d`: when a new filter is, and the water within caution. */
static enum tl_test_why tested_daily(const struct maker *m, double ready_d, double day)
{
    const struct tl_setup *s = m->setup;
    enum tl_test_why why = TL_TEST_WEEKLY;
    if (s->tower.biofilm != TL_BIOFILM_MATURE && !(day > ready_d))
        return TL_TEST_NEW_FILTER;
    if (was_danger(m, day))
        return TL_TEST_DANGER;
    for (size_t i = 0; i < s->events; i++) {
        const double watched = watched_d(&s->event[i], &why);
        if (watched > 0 && day >= floor(s->event[i].at_d) &&
            day <= floor(s->event[i].at_d + watched))
            return why;
    }
    for (size_t i = 0; i < m->jobs->n; i++)
        if (m->jobs->job[i].kind == TL_JOB_FEED_AGAIN && day >= m->jobs->job[i].t_d &&
            day <= m->jobs->job[i].t_d + AFTER_ARRIVAL)
            return TL_TEST_FED_AGAIN;
    return TL_TEST_WEEKLY;
}

static void put_tests(struct maker *m, double ready_d)
{
    double last = -WEEK_D;
    for (double day = 0; day < m->end_d; day++) {
        const enum tl_test_why why = tested_daily(m, ready_d, day);
        if (why == TL_TEST_WEEKLY && day < last + WEEK_D)
            continue;
        struct tl_job job = no_job;
        job.t_d = day;
        job.kind = TL_JOB_TEST;
        job.from = TL_JOB_FROM_PRACTICE;
        job.figure = why;
        put(m, job);
        last = day;
    }
}

/* --- all of them ----------------------------------------------------------------------------------- */

static int compare(const void *a, const void *b)
{
    const struct tl_job *p = a, *q = b;
    if (floor(p->t_d) != floor(q->t_d))
        return p->t_d < q->t_d ? -1 : 1;
    if (p->all_day != q->all_day)
        return p->all_day ? -1 : 1;
    if (p->t_d != q->t_d)
        return p->t_d < q->t_d ? -1 : 1;
    if (p->kind != q->kind)
        return p->kind < q->kind ? -1 : 1;
    if (p->event != q->event)
        return p->event < q->event ? -1 : 1;
    return (p->tray > q->tray) - (p->tray < q->tray);
}

static void put_shown(struct maker *m)
{
    const struct tl_setup *s = m->setup;
    put_filling(m, TL_JOB_EMPTY_CHAMBER, s->chamber.volume_m3, TL_DUE_CHAMBER_FILLED, 0,
                chamber_filled);
    for (int tray = 1; tray <= m->run->trays; tray++)
        put_filling(m, TL_JOB_RINSE_TRAY, NAN, TL_DUE_TRAY_FILLED, tray, tl_upkeep_voids_filled);
    put_hosing(m);
    put_soda(m);
    put_spells(m, TL_JOB_FROST, 0, air_least);
    if (s->heater.power_w > 0)
        put_spells(m, TL_JOB_HEATER, s->heater.keep_degC + HEATER_AHEAD_K, water_least);
    put_feeding(m);
}

int tl_jobs_make(const struct tl_scenario *s, const struct tl_upkeep *run, double ready_d,
                 double end_d, struct tl_jobs *out)
{
    struct maker m = {.s = s, .setup = &s->setup, .run = run, .end_d = end_d, .jobs = out};
    *out = (struct tl_jobs){0};
    put_events(&m);
    put_changes(&m);
    put_emptyings(&m);
    put_inflow(&m);
    put_looks(&m);
    put_pump(&m);
    if (run)
        put_shown(&m);
    out->after = after_ready(&m, ready_d);
    put_tests(&m, out->after.within_d);
    if (m.failed) {
        tl_jobs_free(out);
        return TL_E_MEMORY;
    }
    if (out->n > 0)
        qsort(out->job, out->n, sizeof *out->job, compare);
    return TL_OK;
}

void tl_jobs_free(struct tl_jobs *j)
{
    free(j->job);
    *j = (struct tl_jobs){0};
}
