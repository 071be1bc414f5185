/* What would help. Every lever is a row of a table: which limits it may help against, and a function
 * that pulls it on a copy of the scenario and says so in words. Each is then tried in a run of its
 * own; only what improved a limit that is beyond, at a price worth it, is kept. */
#include "towerloop/advice.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "costs.h"
#include "levers.h"
#include "loop.h"
#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/heat_course.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"
#include "towerloop/units.h"
#include "towerloop/upkeep.h"

#define BIT(limit) TL_LIMIT_BIT(limit)
#define AMMONIA    (BIT(TL_LIMIT_NH3) | BIT(TL_LIMIT_TAN_CHRONIC) | BIT(TL_LIMIT_TAN_ACUTE))
#define NITROGEN   (AMMONIA | BIT(TL_LIMIT_NO2))
#define COLD       (BIT(TL_LIMIT_COLD) | BIT(TL_ICE))
#define WARM       BIT(TL_LIMIT_WARM)
#define CHANGES    (BIT(TL_LIMIT_HOUR_CHANGE) | BIT(TL_LIMIT_DAY_CHANGE))
#define ANY        (BIT(TL_NLIMIT) - 1)
#define BUFFER     (BIT(TL_LIMIT_ALK) | BIT(TL_LIMIT_PH_LOW) | BIT(TL_LIMIT_PH_SWING))

struct lever {
    unsigned against;  /* limits and ice, as bits */
    bool whatever_for; /* right whatever it brings to light, so that no price is too dear */
    /* Pull it on `s`; false when there is nothing to pull. */
    bool (*pull)(const struct tl_question *q, struct tl_scenario *s, char *text);
};

static struct tl_lever_figure weight(const struct tl_question *q, double mass_g)
{
    return tl_lever_amount(q, TL_DIM_MASS, mass_g);
}

/* --- the levers --------------------------------------------------------------------------------- */

static bool add_fewer_fish(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    bool any = false;
    (void)q;
    for (size_t i = 0; i < s->setup.events; i++) {
        struct tl_event *e = &s->setup.event[i];
        if (e->kind == TL_EVENT_ADD_FISH && e->fish.count >= 2) {
            e->fish.count = floor(e->fish.count / 2);
            any = true;
        }
    }
    tl_lever_say(text, "add only half of the new fish");
    return any;
}

static bool keep_fewer_fish(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    bool any = false;
    (void)q;
    for (size_t i = 0; i < s->setup.fish_groups; i++) {
        struct tl_fish *f = &s->setup.fish[i];
        if (f->count >= 4) {
            f->count = floor(f->count * 0.75);
            any = true;
        }
    }
    /* events that take fish away still find them: the model takes at most what is there */
    tl_lever_say(text, "start with a quarter fewer fish");
    return any;
}

static void halve(struct tl_ration *r)
{
    r->value /= 2;
    for (size_t i = 0; i < r->table.n; i++)
        r->table.y[i] /= 2;
}

static bool feed_half(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.feeding.meals == 0)
        return false;
    halve(&s->setup.feeding.ration);
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_RATION)
            halve(&s->setup.event[i].ration);
    tl_lever_say(text, "feed half as much");
    return true;
}

static double lowest_degC(const struct tl_assessment *a)
{
    return a->outdoors ? a->heat.lowest_degC : a->verdict.limit[TL_LIMIT_COLD].worst;
}

static bool feeds_at(const struct tl_ration *r, double degC)
{
    return r->kind == TL_RATION_TABLE ? tl_table_at(&r->table, degC) > 0 : r->value > 0;
}

/* Fish hardly digest in cold water, and a cold film oxidises little of what comes of it. */
static bool fast_in_the_cold(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_feeding *f = &s->setup.feeding;
    const double below = fmax(lowest_degC(q->base), f->none_below_degC);
    bool feeds = feeds_at(&f->ration, below);
    for (size_t i = 0; i < s->setup.events; i++)
        feeds = feeds || (s->setup.event[i].kind == TL_EVENT_RATION &&
                          feeds_at(&s->setup.event[i].ration, below));
    if (f->meals == 0 || !(below < TL_TOO_COLD_TO_FEED_DEGC) || !feeds)
        return false;
    f->none_below_degC = TL_TOO_COLD_TO_FEED_DEGC;
    tl_lever_say(text, "feed nothing while the water is below %s",
                 tl_lever_amount(q, TL_DIM_TEMPERATURE, TL_TOO_COLD_TO_FEED_DEGC).text);
    return true;
}

#define HARDLY_ANY_FLOW 0.2 /* of the pump's, over the tower */
#define FULL_GROWN      0.5 /* of a mature film */

/* The tower had water at the ammonia peak, and a film if it began without one; more of it would else be as
 * dry or as bare. */
static bool tower_worked(const struct tl_setup *s, const struct tl_limiting *l)
{
    return isnan(l->at_d) || (l->flow >= HARDLY_ANY_FLOW &&
                              (s->tower.biofilm == TL_BIOFILM_MATURE || l->film >= FULL_GROWN));
}

/* What holds the film back is nothing that the water lacks, or does not bring. */
static bool area_limits(const struct tl_setup *s, const struct tl_limiting *l)
{
    return tower_worked(s, l) &&
           !(fmin(l->oxygen, fmin(l->alkalinity, l->ph)) < fmin(l->depth, l->ammonia));
}

static bool more_trays(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const int before = s->setup.tower.trays;
    if (!tower_worked(&s->setup, &q->base->limiting))
        return false;
    s->setup.tower.trays = before + (before + 1) / 2;
    tl_lever_say(text, "%d trays instead of %d", s->setup.tower.trays, before);
    return true;
}

#define MOST_TRAYS         200 /* of a scenario */
#define MOST_TIMES_AS_HIGH 4
#define THIRSTY            1.5 /* from here on twice as narrow is nearer to well wetted */

/* The load at which the media count as well wetted, over that of the pump; 0 where they lie under water or
 * nothing flows. */
static double thirst(const struct tl_setup *s)
{
    const struct tl_tower *t = &s->tower;
    const struct tl_packing p = {t->specific_surface_m2_m3, t->media_size_m,
                                 t->critical_surface_tension_n_m};
    struct tl_duty duty;
    if (t->submerged || tl_pump_duty(s, s->pump.count, &duty) != TL_OK ||
        !(duty.flow_m3_d * s->to_tower > 0))
        return 0;
    const double load_m_h = duty.flow_m3_d * s->to_tower / 24 / t->plan_area_m2;
    return tl_least_wetting_load_m_h(&p) / load_m_h;
}

/* The same media in two to four times as many trays of so much less area. */
static bool narrower_tower(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_tower *t = &s->setup.tower;
    const double wanted = thirst(&s->setup);
    const int times = (int)fmin(fmax(round(wanted), 2), MOST_TIMES_AS_HIGH);
    char before[40], after[40];
    if (!(wanted >= THIRSTY) || !area_limits(&s->setup, &q->base->limiting) ||
        times * t->trays > MOST_TRAYS)
        return false;
    tl_display_text(TL_DIM_AREA, q->units, t->plan_area_m2, 3, before, sizeof before);
    t->plan_area_m2 /= times;
    tl_display_text(TL_DIM_AREA, q->units, t->plan_area_m2, 3, after, sizeof after);
    tl_lever_say(
        text,
        "the same media higher and narrower, well braced: %d trays of %s instead of %d of %s, so "
        "that "
        "more of them are wet",
        times * t->trays, after, t->trays, before);
    t->trays *= times;
    return true;
}

static bool seed_media(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.tower.biofilm != TL_BIOFILM_NEW)
        return false;
    s->setup.tower.biofilm = TL_BIOFILM_SEEDED;
    s->setup.tower.seeded_share = 0.3;
    tl_lever_say(text, "seed the media, 30 %% from a filter in use");
    return true;
}

static bool all_to_tower(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.to_tower >= 1)
        return false;
    s->setup.to_tower = 1;
    tl_lever_say(text, "send all of the pump's flow over the tower");
    return true;
}

static bool keep_pumping(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    size_t kept = 0;
    (void)q;
    for (size_t i = 0; i < s->setup.events; i++) {
        struct tl_event *e = &s->setup.event[i];
        if ((e->kind == TL_EVENT_PUMP_FLOW && e->value == 0) ||
            (e->kind == TL_EVENT_PUMPS_RUNNING && e->value < s->setup.pump.count))
            tl_table_free(&e->ration.table);
        else
            s->setup.event[kept++] = *e;
    }
    const bool any = kept < s->setup.events;
    s->setup.events = kept;
    tl_lever_say(text, "a second pump ready on a supply of its own");
    return any;
}

static bool keep_pump_clean(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!(s->setup.pump.fouling_1_d > 0))
        return false;
    s->setup.pump.fouling_1_d = 0;
    tl_lever_say(text, "clean the pump often enough to keep its flow");
    return true;
}

static bool keep_aerating(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    size_t kept = 0;
    (void)q;
    for (size_t i = 0; i < s->setup.events; i++) {
        struct tl_event *e = &s->setup.event[i];
        if (e->kind == TL_EVENT_AERATOR && e->value < s->setup.aerator_g_d)
            tl_table_free(&e->ration.table);
        else
            s->setup.event[kept++] = *e;
    }
    const bool any = kept < s->setup.events;
    s->setup.events = kept;
    tl_lever_say(text, "an aerator on a supply of its own that never stops");
    return any;
}

static bool more_air(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double before = s->setup.aerator_g_d;
    s->setup.aerator_g_d = before > 0 ? 2 * before : tl_lever_aerator_g_d(&s->setup);
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_AERATOR)
            s->setup.event[i].value *= 2;
    if (q->units == TL_US)
        tl_lever_say(text, "an aerator of %s oxygen transfer instead of %s",
                     tl_lever_amount(q, TL_DIM_MASS_FLOW, s->setup.aerator_g_d).text,
                     tl_lever_amount(q, TL_DIM_MASS_FLOW, before).text);
    else /* as makers give it */
        tl_lever_say(text, "an aerator of %s g/h oxygen transfer instead of %s",
                     tl_lever_figure(s->setup.aerator_g_d / 24, 3).text,
                     tl_lever_figure(before / 24, 3).text);
    return true;
}

static double booked(const struct tl_ledger_account *a, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    return 0;
}

#define WORTH_RINSING 0.08 /* of what the fish excrete: less shows in no worst value */

/* So much more trickle would take off a part of the nitrogen that shows. */
static bool rinses_nitrogen(const struct tl_question *q, const struct tl_setup *s, double more_1_d)
{
    const struct tl_limit_verdict *v = q->base->verdict.limit;
    const double most_g_m3 = fmax(v[TL_LIMIT_TAN_ACUTE].worst, v[TL_LIMIT_NO2].worst);
    const double excreted_g_d =
        booked(&q->base->ledger.nitrogen, "excreted") / q->base->ledger.length_d;
    return !(more_1_d * s->tank.volume_m3 * most_g_m3 < WORTH_RINSING * excreted_g_d);
}

/* More of a water that holds chlorine would trade one harm for another. */
static bool more_trickle(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double before = s->setup.trickle_1_d;
    const double more_1_d = before > 0 ? before : 0.1;
    if (s->setup.source.water[TL_HOCL] > 0 && !s->setup.source.dechlorinated)
        return false;
    if (!(q->against & ~NITROGEN) && !rinses_nitrogen(q, &s->setup, more_1_d))
        return false;
    s->setup.trickle_1_d = before + more_1_d;
    tl_lever_say(text, "trickle in %.3g %% of the tank a day instead of %.3g %%",
                 100 * s->setup.trickle_1_d, 100 * before);
    return true;
}

/* Chloride to ten times the worst nitrite, from the start. */
static bool salt(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double no2 = q->base->verdict.limit[TL_LIMIT_NO2].worst;
    const double ratio = s->limits.no2_chloride_ratio;
    const double have = fmin(s->setup.starting.water[TL_CL], s->setup.source.water[TL_CL]);
    const double short_g_m3 = 1.1 * ratio * no2 - have;

    if (q->base->verdict.limit[TL_LIMIT_NO2].grade != TL_DANGER || !(short_g_m3 > 0))
        return false;
    const double dose_g = tl_lever_round2(short_g_m3 * s->setup.tank.volume_m3 / 0.6066);
    /* what the trickle and the changes wash out is put back every week */
    const double washed = 1 - exp(-7 * s->setup.trickle_1_d) *
                                  (s->setup.change_every_d > 0 ? pow(1 - s->setup.change_amount,
                                                                     7 / s->setup.change_every_d)
                                                               : 1);
    const double weekly_g = washed > 0.01 ? tl_lever_round2(dose_g * washed) : 0;
    for (double t = s->setup.start_d; t <= s->setup.start_d + s->setup.length_d; t += 7) {
        struct tl_event *e = tl_lever_append_event(s);
        if (!e)
            return false;
        *e = (struct tl_event){.at_d = t,
                               .kind = TL_EVENT_DOSE,
                               .dose = TL_DOSE_SALT,
                               .value = t > s->setup.start_d ? weekly_g : dose_g};
        if (weekly_g <= 0)
            break;
    }
    if (weekly_g > 0)
        tl_lever_say(text, "plain salt, %s at the start and %s a week", weight(q, dose_g).text,
                     weight(q, weekly_g).text);
    else
        tl_lever_say(text, "plain salt, %s at the start", weight(q, dose_g).text);
    return true;
}

static bool less_salt(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    size_t kept = 0;
    (void)q;
    for (size_t i = 0; i < s->setup.events; i++) {
        struct tl_event *e = &s->setup.event[i];
        if (e->kind != TL_EVENT_DOSE || e->dose != TL_DOSE_SALT)
            s->setup.event[kept++] = *e;
    }
    const bool any = kept < s->setup.events;
    s->setup.events = kept;
    tl_lever_say(text, "leave out the salt");
    return any;
}

static bool beyond_caution(const struct tl_assessment *a, unsigned limits)
{
    for (int i = 0; i < TL_NLIMIT; i++)
        if ((limits & BIT(i)) && a->verdict.limit[i].grade > TL_WITHIN)
            return true;
    return false;
}

/* Twice a week what nitrification took beyond what fish and decay gave back in this run. */
static bool baking_soda(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const struct tl_ledger_account *a = &q->base->ledger.alkalinity;
    const double used_eq = booked(a, "nitrification") - booked(a, "fish") - booked(a, "decay");
    const double days = q->base->ledger.length_d;

    /* nitrogen that runs away for want of alkalinity: what little it then took is no measure */
    if ((q->against & NITROGEN) || !(used_eq > 0) || !(days > 0))
        return false;
    const double dose_g = tl_lever_round2(used_eq / days * 3.5 * 84.007);
    for (double t = s->setup.start_d; t <= s->setup.start_d + s->setup.length_d; t += 3.5) {
        struct tl_event *e = tl_lever_append_event(s);
        if (!e)
            return false;
        *e = (struct tl_event){
            .at_d = t, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_BAKING_SODA, .value = dose_g};
    }
    tl_lever_say(text, "baking soda, %s twice a week%s", weight(q, dose_g).text,
                 beyond_caution(q->base, AMMONIA) ? ", once the ammonia is within caution" : "");
    return true;
}

#define HOLD_ENOUGH                                                                                \
    1.2 /* times the caution of the alkalinity: held there it does not swing below */

#define MORNING_S 32400 /* 09:00, as a plan that names no time */

/* From the first day on, before a filter without alkalinity stops and ammonia runs away. */
static bool hold_alkalinity(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double wanted = HOLD_ENOUGH * s->limits.alk.caution;
    if (!(q->against & NITROGEN) || s->setup.dosing.hold_alkalinity_eq_m3 > 0 || !(wanted > 0) ||
        !(q->base->verdict.limit[TL_LIMIT_ALK].grade > TL_WITHIN))
        return false;
    const double most_g = TL_DUE_SODA_EQ_M3 * TL_BAKING_SODA_G_PER_EQ *
                          (s->setup.tank.volume_m3 + s->setup.chamber.volume_m3);
    s->setup.dosing = (struct tl_dosing){
        .hold_alkalinity_eq_m3 = wanted, .every_d = 1, .at_s = MORNING_S, .at_most_g = most_g};
    tl_lever_say(
        text, "baking soda from the first day on, at most %s a day, to hold the alkalinity at %s",
        weight(q, most_g).text, tl_lever_amount(q, TL_DIM_ALKALINITY, wanted).text);
    return true;
}

/* A plan that holds more than is needed drives the pH up, and with it the poisonous part of ammonia. */
static bool hold_less(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    double *hold = &s->setup.dosing.hold_alkalinity_eq_m3;
    const double before = *hold;
    const double less = fmax(before / 2, HOLD_ENOUGH * s->limits.alk.caution);
    if (!(before > 0) || !(less < 0.9 * before))
        return false;
    *hold = less;
    tl_lever_say(text, "hold the alkalinity at %s instead of %s",
                 tl_lever_amount(q, TL_DIM_ALKALINITY, less).text,
                 tl_lever_amount(q, TL_DIM_ALKALINITY, before).text);
    return true;
}

#define KGAL_M3 3.785411784 /* 1000 US gallons: NIST Handbook 44, Appendix C */

static bool dechlorinate(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    const double per_m3 = u->params.thiosulfate_per_chlorine * u->source.water[TL_HOCL];
    if (u->source.dechlorinated || !(per_m3 > 0 || u->starting.water[TL_HOCL] > 0))
        return false;
    u->source.dechlorinated = true;
    u->starting.water[TL_HOCL] = 0;
    if (per_m3 > 0)
        tl_lever_say(text,
                     "stir %s of sodium thiosulfate into each %s of new water, before fish meet it",
                     weight(q, per_m3 * (q->units == TL_US ? KGAL_M3 : 1)).text,
                     q->units == TL_US ? "1000 gal" : "m3");
    else
        tl_lever_say(text, "take the chlorine out of the water at the start");
    return true;
}

/* The same water little by little: free chlorine is used up as it comes, chloramine is not. */
static bool trickle_instead(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    (void)q;
    if (!(u->change_every_d > 0) || !(u->source.water[TL_HOCL] > 0) || u->source.dechlorinated ||
        u->source.chloramine)
        return false;
    u->trickle_1_d += u->change_amount / u->change_every_d;
    u->change_every_d = 0;
    tl_lever_say(
        text, "let the water trickle in, %s %% of the tank a day, instead of changing it at once",
        tl_lever_figure(100 * u->trickle_1_d, 2).text);
    return true;
}

#define ENOUGH_SHADE 0.95

static bool shade_tower(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!s->setup.sun.given || s->setup.sun.shaded >= ENOUGH_SHADE)
        return false;
    s->setup.sun.shaded = ENOUGH_SHADE;
    tl_lever_say(
        text,
        "shade the tower against algae: keep %s %% of the light off it, with something that lets "
        "air through",
        tl_lever_figure(100 * ENOUGH_SHADE, 2).text);
    return true;
}

static bool shade_tank(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!s->setup.sun.given || !(s->setup.green_g_m3 > 0) ||
        s->setup.sun.tank_shaded >= ENOUGH_SHADE)
        return false;
    s->setup.sun.tank_shaded = ENOUGH_SHADE;
    tl_lever_say(text,
                 "shade the tank by %s %% against green water, bit by bit over two weeks and with "
                 "more air",
                 tl_lever_figure(100 * ENOUGH_SHADE, 2).text);
    return true;
}

/* Whole weeks in so many days, between bounds. */
static double weeks_d(double days, double least_d, double most_d)
{
    return fmin(fmax(7 * floor(days / 7), least_d), most_d);
}

#define SLUDGE_LEFT  0.2  /* of the chamber, that may fill between two emptyings */
#define SLUDGE_BLAME 0.05 /* of what the fish excrete or breathe: from there on sludge counts */
#define HALF_FULL    0.5  /* from here on the chamber keeps fewer solids */

static bool sludge_matters(const struct tl_question *q)
{
    const struct tl_ledger_account *n = &q->base->ledger.nitrogen, *o = &q->base->ledger.oxygen;
    return q->base->solids.most_chamber >= HALF_FULL ||
           ((q->against & NITROGEN) &&
            booked(n, "from_sludge") > SLUDGE_BLAME * booked(n, "excreted")) ||
           ((q->against & BIT(TL_LIMIT_O2)) &&
            booked(o, "sludge") > SLUDGE_BLAME * booked(o, "fish"));
}

static bool empty_chamber(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_emptying *e = &s->setup.emptying;
    const double filled_d = tl_solids_chamber_day(&q->base->solids, SLUDGE_LEFT);
    const double every_d = weeks_d(filled_d - s->setup.start_d, 7, 56);
    if (isnan(filled_d) || !sludge_matters(q) || (e->every_d > 0 && e->every_d <= every_d))
        return false;
    e->every_d = every_d;
    tl_lever_say(text, "empty the settling chamber every %.0f days", every_d);
    return true;
}

#define BEFORE_CLOGGED 0.8 /* of the time in which the water begins to spread less */

/* All trays fill alike, so a rinse of the top one alone would not do. */
static bool rinse_trays(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double clogged_d =
        tl_solids_voids_day(&q->base->solids, s->setup.params.voids_open, NULL);
    const double every_d = weeks_d(BEFORE_CLOGGED * (clogged_d - s->setup.start_d), 14, 182);
    if (isnan(clogged_d))
        return false;
    const double end_d = s->setup.start_d + s->setup.length_d;
    for (double t = s->setup.start_d + every_d; t < end_d; t += every_d) {
        struct tl_event *e = tl_lever_append_event(s);
        if (!e)
            return false;
        *e = (struct tl_event){.at_d = t, .kind = TL_EVENT_CLEAN_TRAYS};
    }
    tl_lever_say(text, "rinse all trays in pond water every %.0f days", every_d);
    return true;
}

#define LIES_D 1 /* who looks at the tank every day finds it within that */

/* Fish that died are found and taken out within a day. */
static bool take_out_dead(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    bool any = false;
    (void)q;
    for (size_t i = 0; i < s->setup.events; i++) {
        struct tl_event *e = &s->setup.event[i];
        if (e->kind == TL_EVENT_DEAD_FISH && !(e->for_d > 0 && e->for_d <= LIES_D)) {
            e->for_d = LIES_D;
            any = true;
        }
    }
    tl_lever_say(text, "look for dead fish every day, and take them out within %d day", LIES_D);
    return any;
}

static const struct lever levers[] = {
    {NITROGEN | BIT(TL_LIMIT_O2), false, add_fewer_fish},
    {NITROGEN | BIT(TL_LIMIT_NO3) | BIT(TL_LIMIT_O2), true, fast_in_the_cold},
    {NITROGEN | BIT(TL_LIMIT_NO3), false, feed_half},
    {NITROGEN | BUFFER | BIT(TL_LIMIT_NO3) | BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_CO2), true,
     take_out_dead},
    {NITROGEN, false, seed_media},
    {NITROGEN, false, all_to_tower},
    {NITROGEN, false, more_trays},
    {NITROGEN, false, narrower_tower},
    {BIT(TL_LIMIT_NO2), false, salt},
    {BIT(TL_LIMIT_CHLORIDE), false, less_salt},
    {BIT(TL_LIMIT_O2) | NITROGEN, false, keep_pumping},
    {BIT(TL_LIMIT_O2) | NITROGEN, false, keep_pump_clean},
    {BIT(TL_LIMIT_O2), false, keep_aerating},
    {BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_CO2), false, more_air},
    {BUFFER, false, baking_soda},
    {BUFFER | NITROGEN, false, hold_alkalinity},
    {AMMONIA | BIT(TL_LIMIT_PH_HIGH) | BIT(TL_LIMIT_PH_SWING), false, hold_less},
    {NITROGEN | BIT(TL_LIMIT_NO3) | BIT(TL_LIMIT_CHLORIDE) | BUFFER | WARM, false, more_trickle},
    {NITROGEN | BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_CO2) | BIT(TL_LIMIT_NO3), false, keep_fewer_fish},
    {ANY, true, dechlorinate},
    {BIT(TL_LIMIT_CHLORINE), false, trickle_instead},
    {NITROGEN | BIT(TL_LIMIT_O2), false, empty_chamber},
    {NITROGEN | BIT(TL_LIMIT_O2), false, rinse_trays},
    {NITROGEN | BIT(TL_LIMIT_O2), false, shade_tower},
    {AMMONIA | BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_PH_HIGH) | BIT(TL_LIMIT_PH_SWING), false,
     shade_tank},
    {CHANGES | WARM | COLD, false, tl_lever_temper},
    {CHANGES, false, tl_lever_smaller_changes},
    {COLD | CHANGES, false, tl_lever_keep_heating},
    {COLD, false, tl_lever_heat},
    {WARM | CHANGES, false, tl_lever_heat_less},
    {COLD, false, tl_lever_rest_tower},
    {COLD | CHANGES, false, tl_lever_cover},
    {COLD | CHANGES, false, tl_lever_insulate},
    {WARM | CHANGES, false, tl_lever_shade_water},
    {WARM, false, tl_lever_uncover},
};

/* --- comparing ---------------------------------------------------------------------------------- */

#define TWICE_DEGC                                                                                 \
    2.0 /* so far beyond a limit of temperature is as bad as twice another; judgement */

/* How bad a limit is, as one number to compare runs by: the grade, then how long, then how far. */
static double badness(const struct tl_limit_verdict *v)
{
    if (!v->judged || isnan(v->worst))
        return 0;
    double limit = v->grade == TL_DANGER && !isnan(v->danger) ? v->danger : v->caution;
    double excess = 0;
    if (v->unit && strcmp(v->unit, "degC") == 0) /* no ratio: 0 degC is no nothing */
        return 1 + (v->below ? limit - v->worst : v->worst - limit) / TWICE_DEGC;
    if (limit > 0 && v->worst > 0)
        excess = v->below ? limit / v->worst : v->worst / limit;
    return excess;
}

/* The limit that matters most: the worst grade, then the furthest beyond it. */
static int worst_limit(const struct tl_verdict *v)
{
    int worst = -1;
    for (int i = 0; i < TL_NLIMIT; i++) {
        if (v->limit[i].grade == TL_WITHIN)
            continue;
        if (worst < 0 || v->limit[i].grade > v->limit[worst].grade ||
            (v->limit[i].grade == v->limit[worst].grade &&
             badness(&v->limit[i]) > badness(&v->limit[worst])))
            worst = i;
    }
    return worst;
}

/* An improvement must be worth its effort: a better grade, a tenth less time beyond the limit, or the
 * worst value a tenth of the way back to the limit. */
static double improvement(const struct tl_limit_verdict *before,
                          const struct tl_limit_verdict *after)
{
    if (after->grade > before->grade)
        return -1;
    const double limit =
        before->grade == TL_DANGER && !isnan(before->danger) ? before->danger : before->caution;
    const double excess = fabs(before->worst - limit);
    const double gained =
        before->below ? after->worst - before->worst : before->worst - after->worst;
    const double hours = before->grade == TL_DANGER ? before->hours_danger : before->hours_caution;
    const double hours_after =
        before->grade == TL_DANGER ? after->hours_danger : after->hours_caution;
    const double shorter = hours > 0 ? (hours - hours_after) / hours : 0;
    const double nearer = excess > 0 ? gained / excess : 0;

    if (gained < 0 && shorter <= 0)
        return -1;
    if (after->grade == before->grade && shorter < 0.1 && nearer < 0.1)
        return -1;
    return 10.0 * (before->grade - after->grade) + fmin(shorter, 1) + fmin(nearer, 1);
}

/* With fish in: no other harms. */
static double ice_h(const struct tl_assessment *a)
{
    return a->outdoors ? a->heat.fish_ice_h : 0;
}

#define SAME_BADNESS 1.02 /* two runs that differ by less are equally bad */

static double hours_at(const struct tl_limit_verdict *v, enum tl_grade grade)
{
    return grade == TL_DANGER ? v->hours_danger : v->hours_caution;
}

/* Beyond that grade as before, and worse than before; or only now. */
static bool deeper(const struct tl_limit_verdict *before, const struct tl_limit_verdict *after,
                   enum tl_grade grade)
{
    if (after->grade < grade)
        return false;
    return before->grade < grade || badness(after) > SAME_BADNESS * badness(before) ||
           hours_at(after, grade) > SAME_BADNESS * hours_at(before, grade);
}

/* The fish are lost without it, and not with it. */
static bool saves(const struct tl_question *q, const struct tl_assessment *after)
{
    return !isnan(q->base->fish_lost_d) && isnan(after->fish_lost_d);
}

/* A limit that falls to caution is a price worth paying against danger, and against nothing less; more
 * danger only for the fish's lives, fish lost earlier for nothing. Where nothing is in danger, what betters the worst limit may
 * make a lesser one a little worse within its caution, and not the other way round. */
static bool too_dear(const struct tl_question *q, const struct tl_assessment *after)
{
    const struct tl_assessment *before = q->base;
    const bool danger = before->verdict.grade == TL_DANGER;
    const bool betters_worst =
        improvement(&before->verdict.limit[q->worst], &after->verdict.limit[q->worst]) > 0;
    if (ice_h(after) > SAME_BADNESS * ice_h(before))
        return true;
    if (saves(q, after))
        return false;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *was = &before->verdict.limit[i];
        const struct tl_limit_verdict *is = &after->verdict.limit[i];
        if (deeper(was, is, TL_DANGER) || (!danger && is->grade > was->grade) ||
            (!danger && !betters_worst && (BIT(i) & q->against) && deeper(was, is, TL_CAUTION)))
            return true;
    }
    if (isnan(before->fish_lost_d))
        return !isnan(after->fish_lost_d);
    return after->fish_lost_d < before->fish_lost_d;
}

static enum tl_dim dim_of(int limit)
{
    return !(BIT(limit) & (COLD | WARM | CHANGES)) ? TL_DIM_NUMBER
           : BIT(limit) & CHANGES                  ? TL_DIM_TEMPERATURE_SPAN
                                                   : TL_DIM_TEMPERATURE;
}

/* Of a limit, without its unit. */
static struct tl_lever_figure value_of(int limit, enum tl_unit_system units, double x)
{
    const enum tl_dim dim = dim_of(limit);
    if (dim == TL_DIM_NUMBER)
        return tl_lever_figure(x, 2);
    const double tenths = round(10 * tl_display_value(dim, units, x));
    return tl_lever_figure(tenths == 0 ? 0 : tenths / 10, 4);
}

static const char *unit_of(int limit, enum tl_unit_system units, const char *unit)
{
    const enum tl_dim dim = dim_of(limit);
    return dim == TL_DIM_NUMBER ? unit : tl_display_unit(dim, units);
}

/* "un-ionised ammonia at worst 0.11, was 0.19 mg/L as N; beyond danger 3 h, was 36" */
static void explain(const struct tl_question *q, int limit, const struct tl_assessment *run,
                    struct tl_text *w)
{
    const struct tl_limit_verdict *before = &q->base->verdict.limit[limit];
    const struct tl_limit_verdict *after = &run->verdict.limit[limit];
    const bool danger = before->grade == TL_DANGER;
    const double hours = danger ? before->hours_danger : before->hours_caution;
    const double hours_after = danger ? after->hours_danger : after->hours_caution;
    const char *unit = unit_of(limit, q->units, before->unit);

    tl_text_addf(w, "%s at worst %s, was %s%s%s", before->name,
                 value_of(limit, q->units, after->worst).text,
                 value_of(limit, q->units, before->worst).text, *unit ? " " : "", unit);
    if (hours_after < 0.95 * hours)
        tl_text_addf(w, "; beyond %s %s, was %s", danger ? "danger" : "caution",
                     tl_hours_span(hours_after).text, tl_hours_span(hours).text);
}

static void explain_ice(const struct tl_question *q, const struct tl_assessment *run,
                        struct tl_text *w)
{
    const double before_h = ice_h(q->base), after_h = ice_h(run);
    if (!(q->against & BIT(TL_ICE)) || !(after_h < 0.95 * before_h))
        return;
    tl_text_add(w, w->length > 0 ? "; " : "");
    if (after_h > 0)
        tl_text_addf(w, "ice for %s, was %s", tl_hours_span(after_h).text,
                     tl_hours_span(before_h).text);
    else
        tl_text_addf(w, "no ice, was %s", tl_hours_span(before_h).text);
}

/* A heater that the lever puts in, or that has more to do by it. */
static void explain_heater(const struct tl_question *q, const struct tl_assessment *run,
                           struct tl_text *w)
{
    const double short_h = run->outdoors ? run->heat.heater_short_h : 0;
    if (short_h > 0 && short_h != q->base->heat.heater_short_h)
        tl_text_addf(w, "; the heater is too weak for %s", tl_hours_span(short_h).text);
}

/* "; alkalinity then falls to 66: caution", for each limit that was better before. The side that a limit
 * is for need not be named. */
static void add_price(const struct tl_question *q, const struct tl_assessment *run,
                      struct tl_text *w)
{
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *is = &run->verdict.limit[i];
        const char *unit = dim_of(i) == TL_DIM_NUMBER ? "" : unit_of(i, q->units, is->unit);
        if (is->grade > q->base->verdict.limit[i].grade)
            tl_text_addf(w, "; %.*s then %s to %s%s%s: %s", (int)strcspn(is->name, ","), is->name,
                         is->below ? "falls" : "rises", value_of(i, q->units, is->worst).text,
                         *unit ? " " : "", unit, tl_grade_text(is->grade));
    }
}

/* "; out of danger: nitrite": what else was in it, ammonia once. */
static void add_won(const struct tl_question *q, const struct tl_assessment *run, int helped,
                    struct tl_text *w)
{
    unsigned told = BIT(helped) & AMMONIA ? AMMONIA : BIT(helped);
    const unsigned before = told;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *is = &run->verdict.limit[i];
        if ((BIT(i) & told) || q->base->verdict.limit[i].grade < TL_DANGER ||
            is->grade == TL_DANGER)
            continue;
        tl_text_addf(w, "%s%.*s", told == before ? "; out of danger: " : ", ",
                     (int)strcspn(is->name, ","), is->name);
        told |= BIT(i) & AMMONIA ? AMMONIA : BIT(i);
    }
}

static bool stays_in_danger(const struct tl_question *q, const struct tl_assessment *run, int i)
{
    return run->verdict.limit[i].grade == TL_DANGER && q->base->verdict.limit[i].grade == TL_DANGER;
}

/* Ammonia is named once. */
static bool named_as_danger(const struct tl_question *q, const struct tl_assessment *run, int i)
{
    const bool nh3 = i != TL_LIMIT_NH3 && (BIT(i) & AMMONIA);
    return stays_in_danger(q, run, i) && !(nh3 && stays_in_danger(q, run, TL_LIMIT_NH3));
}

/* "; still danger: nitrite 2.4, alkalinity 31": all that remains in danger, or else the worst in caution,
 * unless it was named as a price. What the lever helped most against has its figure before. */
static void add_still(const struct tl_question *q, const struct tl_assessment *run, int helped,
                      struct tl_text *w)
{
    bool others = false;
    int named = 0;
    for (int i = 0; i < TL_NLIMIT; i++)
        others = others || (i != helped && named_as_danger(q, run, i));
    tl_text_add(w, "; still danger");
    for (int i = 0; others && i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *is = &run->verdict.limit[i];
        const char *unit = unit_of(i, q->units, is->unit);
        if (!named_as_danger(q, run, i))
            continue;
        tl_text_addf(w, "%s%.*s", named++ ? ", " : ": ", (int)strcspn(is->name, ","), is->name);
        if (i != helped)
            tl_text_addf(w, " %s%s%s", value_of(i, q->units, is->worst).text, *unit ? " " : "",
                         unit);
    }
}

static void add_rest(const struct tl_question *q, const struct tl_assessment *run, int helped,
                     struct tl_text *w)
{
    const int worst = worst_limit(&run->verdict);
    const enum tl_grade grade = worst < 0 ? TL_WITHIN : run->verdict.limit[worst].grade;
    if (ice_h(run) > 0 && grade < TL_DANGER) {
        tl_text_add(w, "; still danger: ice on the water");
        return;
    }
    if (grade == TL_DANGER) {
        for (int i = 0; i < TL_NLIMIT; i++)
            if (stays_in_danger(q, run, i)) {
                add_still(q, run, helped, w);
                return;
            }
        return;
    }
    if (worst < 0 || grade > q->base->verdict.limit[worst].grade)
        return;
    const struct tl_limit_verdict *is = &run->verdict.limit[worst];
    const char *unit = unit_of(worst, q->units, is->unit);
    tl_text_addf(w, "; still %s", tl_grade_text(grade));
    if (worst != helped)
        tl_text_addf(w, ": %s %s%s%s", is->name, value_of(worst, q->units, is->worst).text,
                     *unit ? " " : "", unit);
}

/* --- what limits -------------------------------------------------------------------------------- */

#define MUCH_KILLED 0.5

/* What chlorine killed in all of the run, as a share of the film. */
static double killed(const struct tl_scenario *s, const struct tl_assessment *a)
{
    return tl_chlorine_kill(&s->setup.params, a->doses.chlorine_g_d_m3, 1);
}

static void explain_limiting(const struct tl_scenario *s, const struct tl_assessment *a,
                             unsigned against, char *text)
{
    const struct tl_limiting *l = &a->limiting;
    *text = '\0';
    if (isnan(l->at_d) || !(against & NITROGEN))
        return;
    const struct {
        double factor;
        const char *name;
    } part[] = {
        {l->ammonia, "low ammonia"},
        {l->oxygen, "low oxygen in the trays"},
        {l->alkalinity, "low alkalinity"},
        {l->ph, "pH"},
        {l->depth, "too little area: it is too thick to work in depth"},
    };
    size_t least = 0;
    for (size_t i = 1; i < sizeof part / sizeof part[0]; i++)
        if (part[i].factor < part[least].factor)
            least = i;
    if (!(l->flow > 0))
        tl_lever_say(text, "at the ammonia peak no water, or a mere trickle, crossed the tower");
    else if (l->flow < HARDLY_ANY_FLOW)
        tl_lever_say(text, "at the ammonia peak only %s %% of the pump's flow crossed the tower",
                     tl_lever_figure(100 * l->flow, 2).text);
    else if (l->film < FULL_GROWN)
        tl_lever_say(text, "at the ammonia peak the tower held %s %% of a mature film: %s",
                     tl_lever_figure(100 * l->film, 2).text,
                     killed(s, a) > MUCH_KILLED ? "chlorine in the water kills it"
                     : s->setup.tower.biofilm == TL_BIOFILM_MATURE
                         ? "it died back and needs time or seed"
                         : "it needs time or seed");
    else
        tl_lever_say(text,
                     "at the ammonia peak the film worked at %s %% of its best, held back by %s",
                     tl_lever_figure(100 * part[least].factor, 2).text, part[least].name);
}

/* --- trying --------------------------------------------------------------------------------------- */

/* What a run of the scenario costs. TL_OK or TL_E_MEMORY. */
static int bill_for(const struct tl_scenario *s, const struct tl_assessment *a, struct tl_bill *out)
{
    struct tl_amounts run = {.feed_kg = 0}, month = run;
    tl_bill_of(s, &run, &month, false, out);
    if (isnan(out->whole_run)) /* nothing has a price */
        return TL_OK;
    int status = tl_amounts_of(s, &a->given.whole, &run);
    if (status == TL_OK)
        status = tl_amounts_of_month(s, &a->given.month, &month);
    if (status == TL_OK)
        tl_bill_of(s, &run, &month, false, out);
    return status;
}

static int try_lever(const struct lever *lever, const struct tl_scenario *s,
                     const struct tl_question *q, const volatile int *interrupted, char *text,
                     struct tl_assessment *after, struct tl_bill *bill, bool *ran)
{
    struct tl_scenario changed;
    struct tl_model *m = NULL;
    const struct tl_assess_options options = {.interrupted = interrupted};

    *ran = false;
    int status = tl_scenario_copy(&changed, s);
    if (status)
        return status;
    if (!lever->pull(q, &changed, text))
        goto done;
    status = tl_model_build(&changed.setup, &m);
    if (status)
        goto done;
    status = tl_assess(m, &changed.limits, &options, after);
    *ran = status == TL_OK;
    if (status == TL_OK)
        status = bill_for(&changed, after, bill);
    if (status != TL_E_MEMORY && status != TL_E_INTERRUPTED)
        status = TL_OK;
done:
    tl_model_free(m);
    tl_scenario_free(&changed);
    return status;
}

static size_t levers_against(unsigned limits)
{
    size_t n = 0;
    for (size_t i = 0; i < sizeof levers / sizeof levers[0]; i++)
        n += (levers[i].against & limits) != 0;
    return n;
}

/* All that is in danger, or, where nothing is, all that is beyond caution: what is furthest beyond its
 * limit need not be what kills, nor have a lever that helps. */
static unsigned sought_against(const struct tl_assessment *a, int worst)
{
    const struct tl_limit_verdict *v = a->verdict.limit;
    unsigned bits = 0;
    for (int i = 0; worst >= 0 && i < TL_NLIMIT; i++)
        if (v[i].grade == v[worst].grade)
            bits |= BIT(i);
    if (v[TL_LIMIT_CHLORINE].grade > TL_WITHIN && v[TL_LIMIT_CHLORINE].grade == a->verdict.grade)
        bits |= BIT(TL_LIMIT_CHLORINE);
    if (ice_h(a) > 0)
        bits |= BIT(TL_ICE);
    return bits;
}

/* As improvement(): no ice at all is like two grades better. */
static double less_ice(const struct tl_assessment *before, const struct tl_assessment *after)
{
    const double shorter = (ice_h(before) - ice_h(after)) / ice_h(before);
    return shorter < 0.1 ? -1 : shorter + (ice_h(after) > 0 ? 0 : 20);
}

#define LIVES 1e3 /* comes before all that limits can gain */

/* What a run gained against all that help is sought against; 0: nothing. `helped` is what the reason tells
 * of: what is worst of all, or kills for a reason of its own, where that got better, or else what got
 * better most. Cold and its ice count once, and so do the limits of ammonia. */
static double gain_of(const struct tl_question *q, const struct tl_assessment *after, int *helped)
{
    const unsigned foremost = BIT(q->worst) | COLD | WARM | CHANGES | BIT(TL_LIMIT_CHLORINE);
    double sum = 0, most = 0, cold = 0, ammonia = 0;
    bool told = false;
    for (int i = 0; i <= TL_ICE; i++) {
        if (!(q->against & BIT(i)))
            continue;
        const double better =
            i == TL_ICE ? less_ice(q->base, after)
                        : improvement(&q->base->verdict.limit[i], &after->verdict.limit[i]);
        const bool first = (BIT(i) & foremost) != 0;
        if (better > 0 && first >= told && (better > most || first > told) &&
            !(i == TL_ICE && *helped == TL_LIMIT_COLD && cold > 0)) {
            most = better;
            told = first;
            *helped = i;
        }
        if (BIT(i) & COLD)
            cold = fmax(cold, better);
        else if (BIT(i) & AMMONIA)
            ammonia = fmax(ammonia, better);
        else
            sum += fmax(better, 0);
    }
    return sum + cold + ammonia;
}

static void say_because(const struct tl_question *q, const struct tl_assessment *after, int helped,
                        char *text)
{
    struct tl_text w = {0};
    if (helped != TL_ICE)
        explain(q, helped, after, &w);
    add_won(q, after, helped, &w);
    explain_ice(q, after, &w);
    explain_heater(q, after, &w);
    add_price(q, after, &w);
    add_rest(q, after, helped, &w);
    if (!isnan(after->fish_lost_d))
        tl_text_add(&w, "; fish are lost all the same");
    tl_lever_say(text, "%s", tl_text_string(&w));
    tl_text_free(&w);
}

int tl_advise(const struct tl_scenario *s, const struct tl_assessment *base,
              const struct tl_advise_options *options, struct tl_advice *out)
{
    static const struct tl_advise_options usual;
    const struct tl_advise_options *o = options ? options : &usual;
    size_t number = 0;
    double gain[TL_ADVICE_MOST] = {0};
    const int worst = worst_limit(&base->verdict);
    const unsigned against = sought_against(base, worst);

    memset(out, 0, sizeof *out);
    if (against == 0)
        return TL_OK;
    const struct tl_question q = {base, worst < 0 ? TL_LIMIT_COLD : (enum tl_limit_id)worst,
                                  against, o->units};
    struct tl_bill as_it_is;
    int billed = bill_for(s, base, &as_it_is);
    if (billed)
        return billed;
    explain_limiting(s, base, against, out->limiting);

    for (size_t i = 0; i < sizeof levers / sizeof levers[0]; i++) {
        struct tl_assessment after;
        struct tl_bill bill = {.build = NAN, .running = NAN};
        char text[TL_ADVICE_TEXT];
        bool ran = false;

        if (!(levers[i].against & against))
            continue;
        if (o->progress)
            o->progress(o->progress_arg, ++number, levers_against(against));
        int status = try_lever(&levers[i], s, &q, o->interrupted, text, &after, &bill, &ran);
        if (status)
            return status;
        out->tried += ran;
        if (!ran || (!levers[i].whatever_for && too_dear(&q, &after)))
            continue;
        int helped = (int)q.worst;
        const double better = gain_of(&q, &after, &helped) + (saves(&q, &after) ? LIVES : 0);
        if (!(better > 0))
            continue;

        /* keep the list sorted, best first */
        size_t at = out->items < TL_ADVICE_MOST ? out->items : TL_ADVICE_MOST;
        while (at > 0 && gain[at - 1] < better)
            at--;
        if (at == TL_ADVICE_MOST)
            continue;
        if (out->items < TL_ADVICE_MOST)
            out->items++;
        for (size_t k = out->items - 1; k > at; k--) {
            out->item[k] = out->item[k - 1];
            gain[k] = gain[k - 1];
        }
        gain[at] = better;
        memcpy(out->item[at].lever, text, sizeof text);
        out->item[at].build_more = bill.build - as_it_is.build;
        out->item[at].run_more = bill.running - as_it_is.running;
        say_because(&q, &after, helped, out->item[at].because);
    }
    return TL_OK;
}
