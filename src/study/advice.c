/* What would help. Every lever is a row of a table: which limits it may help against, and a function
 * that pulls it on a copy of the scenario and says so in words. Each is then tried in a run of its
 * own; only what improved the worst limit, at a price worth it, is kept. */
#include "towerloop/advice.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "costs.h"
#include "loop.h"
#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/heat_course.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

/* What a lever may look at. */
struct question {
    const struct tl_assessment *base;
    enum tl_limit_id worst;
    enum tl_unit_system units; /* of its words */
};

#define BIT(limit) (1u << (limit))
#define AMMONIA    (BIT(TL_LIMIT_NH3) | BIT(TL_LIMIT_TAN_CHRONIC) | BIT(TL_LIMIT_TAN_ACUTE))
#define NITROGEN   (AMMONIA | BIT(TL_LIMIT_NO2))
#define ANY        (BIT(TL_NLIMIT) - 1)
#define BUFFER     (BIT(TL_LIMIT_ALK) | BIT(TL_LIMIT_PH_LOW) | BIT(TL_LIMIT_PH_SWING))

struct lever {
    unsigned against; /* limits, as bits */
    /* Pull it on `s`; false when there is nothing to pull. */
    bool (*pull)(const struct question *q, struct tl_scenario *s, char *text);
};

static void say(char *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void say(char *text, const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    (void)tl_format(text, TL_ADVICE_TEXT, "%s", tl_text_string(&t));
    tl_text_free(&t);
}

/* Two digits: nobody weighs salt to the gram. */
static double round2(double x)
{
    if (!(x > 0))
        return 0;
    const double step = pow(10, floor(log10(x)) - 1);
    return ceil(x / step) * step;
}

/* So many digits, and never a power of ten. */
struct figure {
    char text[40];
};

static struct figure figure(double x, int digits)
{
    struct figure f;
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, x, digits, f.text, sizeof f.text);
    return f;
}

static struct figure amount(const struct question *q, enum tl_dim dim, double base_value)
{
    struct figure f;
    tl_display_text(dim, q->units, base_value, 2, f.text, sizeof f.text);
    return f;
}

static struct figure weight(const struct question *q, double mass_g)
{
    return amount(q, TL_DIM_MASS, mass_g);
}

/* --- the levers --------------------------------------------------------------------------------- */

static bool add_fewer_fish(const struct question *q, struct tl_scenario *s, char *text)
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
    say(text, "add only half of the new fish");
    return any;
}

static bool keep_fewer_fish(const struct question *q, struct tl_scenario *s, char *text)
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
    say(text, "start with a quarter fewer fish");
    return any;
}

static void halve(struct tl_ration *r)
{
    r->value /= 2;
    for (size_t i = 0; i < r->table.n; i++)
        r->table.y[i] /= 2;
}

static bool feed_half(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.feeding.meals == 0)
        return false;
    halve(&s->setup.feeding.ration);
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_RATION)
            halve(&s->setup.event[i].ration);
    say(text, "feed half as much");
    return true;
}

static bool more_trays(const struct question *q, struct tl_scenario *s, char *text)
{
    const int before = s->setup.tower.trays;
    (void)q;
    s->setup.tower.trays = before + (before + 1) / 2;
    say(text, "%d trays instead of %d", s->setup.tower.trays, before);
    return true;
}

#define MOST_TRAYS         200 /* of a scenario */
#define MOST_TIMES_AS_HIGH 4

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
static bool narrower_tower(const struct question *q, struct tl_scenario *s, char *text)
{
    struct tl_tower *t = &s->setup.tower;
    const double wanted = thirst(&s->setup);
    const int times = (int)fmin(fmax(round(wanted), 2), MOST_TIMES_AS_HIGH);
    char before[40], after[40];
    if (!(wanted > 1) || times * t->trays > MOST_TRAYS)
        return false;
    tl_display_text(TL_DIM_AREA, q->units, t->plan_area_m2, 3, before, sizeof before);
    t->plan_area_m2 /= times;
    tl_display_text(TL_DIM_AREA, q->units, t->plan_area_m2, 3, after, sizeof after);
    say(text,
        "the same media higher and narrower, well braced: %d trays of %s instead of %d of %s, so "
        "that "
        "more of them are wet",
        times * t->trays, after, t->trays, before);
    t->trays *= times;
    return true;
}

static bool seed_media(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.tower.biofilm != TL_BIOFILM_NEW)
        return false;
    s->setup.tower.biofilm = TL_BIOFILM_SEEDED;
    s->setup.tower.seeded_share = 0.3;
    say(text, "seed the media, 30 %% from a filter in use");
    return true;
}

static bool all_to_tower(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (s->setup.to_tower >= 1)
        return false;
    s->setup.to_tower = 1;
    say(text, "send all of the pump's flow over the tower");
    return true;
}

static bool keep_pumping(const struct question *q, struct tl_scenario *s, char *text)
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
    say(text, "a second pump ready on a supply of its own");
    return any;
}

static bool keep_pump_clean(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!(s->setup.pump.fouling_1_d > 0))
        return false;
    s->setup.pump.fouling_1_d = 0;
    say(text, "clean the pump often enough to keep its flow");
    return true;
}

static bool keep_aerating(const struct question *q, struct tl_scenario *s, char *text)
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
    say(text, "an aerator on a supply of its own that never stops");
    return any;
}

static bool more_air(const struct question *q, struct tl_scenario *s, char *text)
{
    double biomass_kg = 0;
    for (size_t i = 0; i < s->setup.fish_groups; i++)
        biomass_kg += s->setup.fish[i].count * s->setup.fish[i].mean_mass_g / 1000;
    /* double it; without one, about what the fish at rest use */
    const double before = s->setup.aerator_g_d;
    s->setup.aerator_g_d = before > 0 ? 2 * before : fmax(24, round2(2.4 * biomass_kg));
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_AERATOR)
            s->setup.event[i].value *= 2;
    if (q->units == TL_US)
        say(text, "an aerator of %s oxygen transfer instead of %s",
            amount(q, TL_DIM_MASS_FLOW, s->setup.aerator_g_d).text,
            amount(q, TL_DIM_MASS_FLOW, before).text);
    else /* as makers give it */
        say(text, "an aerator of %s g/h oxygen transfer instead of %s",
            figure(s->setup.aerator_g_d / 24, 3).text, figure(before / 24, 3).text);
    return true;
}

/* More of a water that holds chlorine would trade one harm for another. */
static bool more_trickle(const struct question *q, struct tl_scenario *s, char *text)
{
    const double before = s->setup.trickle_1_d;
    (void)q;
    if (s->setup.source.water[TL_HOCL] > 0 && !s->setup.source.dechlorinated)
        return false;
    s->setup.trickle_1_d = before > 0 ? 2 * before : 0.1;
    say(text, "trickle in %.3g %% of the tank a day instead of %.3g %%", 100 * s->setup.trickle_1_d,
        100 * before);
    return true;
}

static struct tl_event *append_event(struct tl_scenario *s)
{
    struct tl_event *more = realloc(s->setup.event, (s->setup.events + 1) * sizeof *s->setup.event);
    if (!more)
        return NULL;
    s->setup.event = more;
    more[s->setup.events] = (struct tl_event){0};
    return &more[s->setup.events++];
}

/* Chloride to ten times the worst nitrite, from the start. */
static bool salt(const struct question *q, struct tl_scenario *s, char *text)
{
    const double no2 = q->base->verdict.limit[TL_LIMIT_NO2].worst;
    const double ratio = s->limits.no2_chloride_ratio;
    const double have = fmin(s->setup.starting.water[TL_CL], s->setup.source.water[TL_CL]);
    const double short_g_m3 = 1.1 * ratio * no2 - have;

    if (q->base->verdict.limit[TL_LIMIT_NO2].grade != TL_DANGER || !(short_g_m3 > 0))
        return false;
    const double dose_g = round2(short_g_m3 * s->setup.tank.volume_m3 / 0.6066);
    /* what the trickle and the changes wash out is put back every week */
    const double washed = 1 - exp(-7 * s->setup.trickle_1_d) *
                                  (s->setup.change_every_d > 0 ? pow(1 - s->setup.change_amount,
                                                                     7 / s->setup.change_every_d)
                                                               : 1);
    const double weekly_g = washed > 0.01 ? round2(dose_g * washed) : 0;
    for (double t = s->setup.start_d; t <= s->setup.start_d + s->setup.length_d; t += 7) {
        struct tl_event *e = append_event(s);
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
        say(text, "plain salt, %s at the start and %s a week", weight(q, dose_g).text,
            weight(q, weekly_g).text);
    else
        say(text, "plain salt, %s at the start", weight(q, dose_g).text);
    return true;
}

static bool less_salt(const struct question *q, struct tl_scenario *s, char *text)
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
    say(text, "leave out the salt");
    return any;
}

static double booked(const struct tl_ledger_account *a, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    return 0;
}

/* Twice a week what nitrification took beyond what fish and decay gave back in this run. */
static bool baking_soda(const struct question *q, struct tl_scenario *s, char *text)
{
    const struct tl_ledger_account *a = &q->base->ledger.alkalinity;
    const double used_eq = booked(a, "nitrification") - booked(a, "fish") - booked(a, "decay");
    const double days = q->base->ledger.length_d;

    if (!(used_eq > 0) || !(days > 0))
        return false;
    const double dose_g = round2(used_eq / days * 3.5 * 84.007);
    for (double t = s->setup.start_d; t <= s->setup.start_d + s->setup.length_d; t += 3.5) {
        struct tl_event *e = append_event(s);
        if (!e)
            return false;
        *e = (struct tl_event){
            .at_d = t, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_BAKING_SODA, .value = dose_g};
    }
    say(text, "baking soda, %s twice a week", weight(q, dose_g).text);
    return true;
}

#define HOLD_ENOUGH                                                                                \
    1.2 /* times the caution of the alkalinity: held there it does not swing below */

/* A plan that holds more than is needed drives the pH up, and with it the poisonous part of ammonia. */
static bool hold_less(const struct question *q, struct tl_scenario *s, char *text)
{
    double *hold = &s->setup.dosing.hold_alkalinity_eq_m3;
    const double before = *hold;
    const double less = fmax(before / 2, HOLD_ENOUGH * s->limits.alk.caution);
    if (!(before > 0) || !(less < 0.9 * before))
        return false;
    *hold = less;
    say(text, "hold the alkalinity at %s instead of %s", amount(q, TL_DIM_ALKALINITY, less).text,
        amount(q, TL_DIM_ALKALINITY, before).text);
    return true;
}

#define KGAL_M3 3.785411784 /* 1000 US gallons: NIST Handbook 44, Appendix C */

static bool dechlorinate(const struct question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    const double per_m3 = u->params.thiosulfate_per_chlorine * u->source.water[TL_HOCL];
    if (u->source.dechlorinated || !(per_m3 > 0 || u->starting.water[TL_HOCL] > 0))
        return false;
    u->source.dechlorinated = true;
    u->starting.water[TL_HOCL] = 0;
    if (per_m3 > 0)
        say(text, "stir %s of sodium thiosulfate into each %s of new water, before fish meet it",
            weight(q, per_m3 * (q->units == TL_US ? KGAL_M3 : 1)).text,
            q->units == TL_US ? "1000 gal" : "m3");
    else
        say(text, "take the chlorine out of the water at the start");
    return true;
}

/* The same water little by little: free chlorine is used up as it comes, chloramine is not. */
static bool trickle_instead(const struct question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    (void)q;
    if (!(u->change_every_d > 0) || !(u->source.water[TL_HOCL] > 0) || u->source.dechlorinated ||
        u->source.chloramine)
        return false;
    u->trickle_1_d += u->change_amount / u->change_every_d;
    u->change_every_d = 0;
    say(text, "let the water trickle in, %s %% of the tank a day, instead of changing it at once",
        figure(100 * u->trickle_1_d, 2).text);
    return true;
}

#define ENOUGH_SHADE 0.95

static bool shade_tower(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!s->setup.sun.given || s->setup.sun.shaded >= ENOUGH_SHADE)
        return false;
    s->setup.sun.shaded = ENOUGH_SHADE;
    say(text,
        "shade the tower against algae: keep %s %% of the light off it, with something that lets "
        "air through",
        figure(100 * ENOUGH_SHADE, 2).text);
    return true;
}

static bool shade_tank(const struct question *q, struct tl_scenario *s, char *text)
{
    (void)q;
    if (!s->setup.sun.given || !(s->setup.green_g_m3 > 0) ||
        s->setup.sun.tank_shaded >= ENOUGH_SHADE)
        return false;
    s->setup.sun.tank_shaded = ENOUGH_SHADE;
    say(text, "shade the tank against green water: keep %s %% of the light off it",
        figure(100 * ENOUGH_SHADE, 2).text);
    return true;
}

/* --- against cold and heat, where the weather makes the temperature ------------------------------ */

#define COLD         BIT(TL_LIMIT_COLD)
#define WARM         BIT(TL_LIMIT_WARM)
#define CHANGES      (BIT(TL_LIMIT_HOUR_CHANGE) | BIT(TL_LIMIT_DAY_CHANGE))
#define KEPT_ABOVE   1.0 /* degC above the caution, so that the heater's band stays clear of it */
#define ANY_POWER_W  1e3 /* a m2 of water: more than any weather takes */
#define HEATER_SPARE 1.3 /* on the mean of its hardest day; common practice, no source */
#define ENOUGH_COVER 0.9
#define INSULATED    1.0 /* W/m2/K, 3 cm of foam */
#define TOWER_REST_D 90.0

/* The power that keeps the water at that, W: the mean of the day that asks for most; NAN: unknown. */
static double power_to_keep(const struct tl_setup *given, double degC)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    double most_w = NAN;

    if (tl_setup_copy(&s, given))
        return NAN;
    s.heater.keep_degC = degC;
    s.heater.power_w = ANY_POWER_W * (s.tank.surface_m2 + s.chamber.surface_m2);
    if (tl_model_build(&s, &m) == TL_OK && tl_model_heat(m)) {
        const struct tl_heat_course *h = tl_model_heat(m);
        /* the warm-up on the first day is not what it is sized by, but for a run that has no other */
        const double end = s.start_d + s.length_d;
        const double first = s.length_d > 2 ? s.start_d + 1 : s.start_d;
        const double over_d = fmin(1, end - first);
        for (double t = first; t + over_d <= end + 1e-9; t += 0.25) {
            const double w = (tl_heat_course_total(h, h->heater_j, t + over_d) -
                              tl_heat_course_total(h, h->heater_j, t)) /
                             (over_d * 86400);
            most_w = fmax(isnan(most_w) ? 0 : most_w, w);
        }
    }
    tl_model_free(m);
    tl_setup_free(&s);
    return most_w;
}

static bool heat(const struct question *q, struct tl_scenario *s, char *text)
{
    const double keep_degC = s->limits.cold.caution + KEPT_ABOVE;
    if (!q->base->outdoors || isnan(keep_degC))
        return false;
    const double power_w = round2(HEATER_SPARE * power_to_keep(&s->setup, keep_degC));
    if (!(power_w > s->setup.heater.power_w))
        return false;
    s->setup.heater = (struct tl_heater){power_w, keep_degC};
    say(text, "a heater of %s that keeps %s, put in by a licensed electrician",
        amount(q, TL_DIM_POWER, power_w).text, amount(q, TL_DIM_TEMPERATURE, keep_degC).text);
    return true;
}

static bool rest_tower(const struct question *q, struct tl_scenario *s, char *text)
{
    const double end = s->setup.start_d + s->setup.length_d;
    const double from_d = q->base->heat.frost_d;
    if (!q->base->outdoors || !(from_d < end))
        return false;
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_TO_TOWER)
            return false;
    struct tl_event *e = append_event(s);
    if (!e)
        return false;
    *e = (struct tl_event){
        .at_d = from_d, .for_d = fmin(TOWER_REST_D, end - from_d), .kind = TL_EVENT_TO_TOWER};
    say(text, "shut the tower from the first frost on, for %s days, the pump past it",
        figure(e->for_d, 2).text);
    return true;
}

static bool cover(const struct question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || s->setup.cover >= ENOUGH_COVER)
        return false;
    s->setup.cover = ENOUGH_COVER;
    say(text, "cover %s %% of the water, with an aerator under it",
        figure(100 * ENOUGH_COVER, 2).text);
    return true;
}

static bool uncover(const struct question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || !(s->setup.cover > 0))
        return false;
    s->setup.cover = 0;
    say(text, "take the cover off");
    return true;
}

static bool insulate(const struct question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || !(s->setup.wall_loss_w_m2_k > INSULATED))
        return false;
    s->setup.wall_loss_w_m2_k = INSULATED;
    say(text, "insulate the walls of tank and chamber, as 3 cm of foam does");
    return true;
}

#define ENOUGH_NET 0.8

static bool shade_water(const struct question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || s->setup.weather.shade >= ENOUGH_NET)
        return false;
    s->setup.weather.shade = ENOUGH_NET;
    say(text, "a net over the water that keeps off %s %% of the sun",
        figure(100 * ENOUGH_NET, 2).text);
    return true;
}

/* Whole weeks in so many days, between bounds. */
static double weeks_d(double days, double least_d, double most_d)
{
    return fmin(fmax(7 * floor(days / 7), least_d), most_d);
}

#define SLUDGE_LEFT 0.2 /* of the chamber, that may fill between two emptyings */

static bool empty_chamber(const struct question *q, struct tl_scenario *s, char *text)
{
    struct tl_emptying *e = &s->setup.emptying;
    const double filled_d = tl_solids_chamber_day(&q->base->solids, SLUDGE_LEFT);
    const double every_d = weeks_d(filled_d - s->setup.start_d, 7, 56);
    if (isnan(filled_d) || (e->every_d > 0 && e->every_d <= every_d))
        return false;
    e->every_d = every_d;
    say(text, "empty the settling chamber every %.0f days", every_d);
    return true;
}

#define BEFORE_CLOGGED 0.8 /* of the time in which the water begins to spread less */

/* All trays fill alike, so a rinse of the top one alone would not do. */
static bool rinse_trays(const struct question *q, struct tl_scenario *s, char *text)
{
    const double clogged_d =
        tl_solids_voids_day(&q->base->solids, s->setup.params.voids_open, NULL);
    const double every_d = weeks_d(BEFORE_CLOGGED * (clogged_d - s->setup.start_d), 14, 182);
    if (isnan(clogged_d))
        return false;
    const double end_d = s->setup.start_d + s->setup.length_d;
    for (double t = s->setup.start_d + every_d; t < end_d; t += every_d) {
        struct tl_event *e = append_event(s);
        if (!e)
            return false;
        *e = (struct tl_event){.at_d = t, .kind = TL_EVENT_CLEAN_TRAYS};
    }
    say(text, "rinse all trays in pond water every %.0f days", every_d);
    return true;
}

static const struct lever levers[] = {
    {NITROGEN | BIT(TL_LIMIT_O2), add_fewer_fish},
    {NITROGEN | BIT(TL_LIMIT_NO3), feed_half},
    {NITROGEN, seed_media},
    {NITROGEN, all_to_tower},
    {NITROGEN, more_trays},
    {NITROGEN, narrower_tower},
    {BIT(TL_LIMIT_NO2), salt},
    {BIT(TL_LIMIT_CHLORIDE), less_salt},
    {BIT(TL_LIMIT_O2) | NITROGEN, keep_pumping},
    {BIT(TL_LIMIT_O2) | NITROGEN, keep_pump_clean},
    {BIT(TL_LIMIT_O2), keep_aerating},
    {BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_CO2), more_air},
    {BUFFER, baking_soda},
    {AMMONIA | BIT(TL_LIMIT_PH_HIGH) | BIT(TL_LIMIT_PH_SWING), hold_less},
    {NITROGEN | BIT(TL_LIMIT_NO3) | BIT(TL_LIMIT_CHLORIDE) | BUFFER | WARM, more_trickle},
    {NITROGEN | BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_CO2) | BIT(TL_LIMIT_NO3), keep_fewer_fish},
    {ANY, dechlorinate},
    {BIT(TL_LIMIT_CHLORINE), trickle_instead},
    {NITROGEN | BIT(TL_LIMIT_O2), empty_chamber},
    {NITROGEN | BIT(TL_LIMIT_O2), rinse_trays},
    {NITROGEN | BIT(TL_LIMIT_O2), shade_tower},
    {AMMONIA | BIT(TL_LIMIT_O2) | BIT(TL_LIMIT_PH_HIGH) | BIT(TL_LIMIT_PH_SWING), shade_tank},
    {COLD, heat},
    {COLD, rest_tower},
    {COLD | CHANGES, cover},
    {COLD | CHANGES, insulate},
    {WARM | CHANGES, shade_water},
    {WARM, uncover},
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

#define SAME_BADNESS 1.02 /* two runs that differ by less are equally bad */

static bool deeper_in_danger(const struct tl_limit_verdict *before,
                             const struct tl_limit_verdict *after)
{
    if (after->grade < TL_DANGER)
        return false;
    return before->grade < TL_DANGER || badness(after) > SAME_BADNESS * badness(before) ||
           after->hours_danger > SAME_BADNESS * before->hours_danger;
}

/* A limit that falls to caution is a price worth paying against danger, and against nothing less; more
 * danger, or fish lost earlier, against nothing. */
static bool too_dear(const struct tl_assessment *before, const struct tl_assessment *after)
{
    const bool danger = before->verdict.grade == TL_DANGER;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *was = &before->verdict.limit[i];
        const struct tl_limit_verdict *is = &after->verdict.limit[i];
        if (deeper_in_danger(was, is) || (!danger && is->grade > was->grade))
            return true;
    }
    if (isnan(before->fish_lost_d))
        return !isnan(after->fish_lost_d);
    return after->fish_lost_d < before->fish_lost_d;
}

/* "un-ionised ammonia at worst 0.11, was 0.19 mg/L as N; beyond danger 3 h, was 36" */
static int explain(const struct tl_limit_verdict *before, const struct tl_limit_verdict *after,
                   char *text)
{
    const bool danger = before->grade == TL_DANGER;
    const double hours = danger ? before->hours_danger : before->hours_caution;
    const double hours_after = danger ? after->hours_danger : after->hours_caution;
    int n = tl_format(text, TL_ADVICE_TEXT, "%s at worst %s, was %s%s%s", before->name,
                      figure(after->worst, 2).text, figure(before->worst, 2).text,
                      *before->unit ? " " : "", before->unit);

    if (n > 0 && n < TL_ADVICE_TEXT && hours_after < 0.95 * hours)
        n += tl_format(text + n, (size_t)(TL_ADVICE_TEXT - n), "; beyond %s %.0f h, was %.0f",
                       danger ? "danger" : "caution", hours_after, hours);
    return n;
}

/* "; alkalinity then falls to 66: caution", for each limit that was better before, from `n` on. The
 * side that a limit is for need not be named. */
static void add_price(const struct tl_verdict *before, const struct tl_verdict *after, char *text,
                      int n)
{
    for (int i = 0; i < TL_NLIMIT && n > 0 && n < TL_ADVICE_TEXT; i++) {
        const struct tl_limit_verdict *is = &after->limit[i];
        if (is->grade > before->limit[i].grade)
            n += tl_format(text + n, (size_t)(TL_ADVICE_TEXT - n), "; %.*s then %s to %s: %s",
                           (int)strcspn(is->name, ","), is->name, is->below ? "falls" : "rises",
                           figure(is->worst, 2).text, tl_grade_text(is->grade));
    }
}

/* --- what limits -------------------------------------------------------------------------------- */

#define HARDLY_ANY_FLOW 0.2

#define MUCH_KILLED 0.5

/* What chlorine killed in all of the run, as a share of the film. */
static double killed(const struct tl_scenario *s, const struct tl_assessment *a)
{
    return tl_chlorine_kill(&s->setup.params, a->doses.chlorine_g_d_m3, 1);
}

static void explain_limiting(const struct tl_scenario *s, const struct tl_assessment *a,
                             enum tl_limit_id worst, char *text)
{
    const struct tl_limiting *l = &a->limiting;
    *text = '\0';
    if (isnan(l->at_d) || !(BIT(worst) & NITROGEN))
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
    if (l->flow < HARDLY_ANY_FLOW)
        say(text, "at the ammonia peak only %s %% of the pump's flow crossed the tower",
            figure(100 * l->flow, 2).text);
    else if (l->film < 0.5)
        say(text, "at the ammonia peak the tower held %s %% of a mature film: %s",
            figure(100 * l->film, 2).text,
            killed(s, a) > MUCH_KILLED ? "chlorine in the water kills it"
                                       : "it needs time or seed");
    else
        say(text, "at the ammonia peak the film worked at %s %% of its best, held back by %s",
            figure(100 * part[least].factor, 2).text, part[least].name);
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
                     const struct question *q, const volatile int *interrupted, char *text,
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

static size_t levers_against(enum tl_limit_id limit)
{
    size_t n = 0;
    for (size_t i = 0; i < sizeof levers / sizeof levers[0]; i++)
        n += (levers[i].against & BIT(limit)) != 0;
    return n;
}

/* Of the worst limit, which is `*helped`, or of the chlorine where that gained more. */
static double best_improvement(const struct tl_assessment *before,
                               const struct tl_assessment *after, int *helped)
{
    const int chlorine = TL_LIMIT_CHLORINE;
    const double better =
        improvement(&before->verdict.limit[*helped], &after->verdict.limit[*helped]);
    if (before->verdict.limit[chlorine].grade < before->verdict.grade)
        return better;
    const double less_chlorine =
        improvement(&before->verdict.limit[chlorine], &after->verdict.limit[chlorine]);
    if (less_chlorine <= better)
        return better;
    *helped = chlorine;
    return less_chlorine;
}

int tl_advise(const struct tl_scenario *s, const struct tl_assessment *base,
              const struct tl_advise_options *options, struct tl_advice *out)
{
    static const struct tl_advise_options usual;
    const struct tl_advise_options *o = options ? options : &usual;
    size_t number = 0;
    double gain[TL_ADVICE_MOST] = {0};
    const int worst = worst_limit(&base->verdict);

    memset(out, 0, sizeof *out);
    if (worst < 0)
        return TL_OK;
    const struct question q = {base, (enum tl_limit_id)worst, o->units};
    struct tl_bill as_it_is;
    int billed = bill_for(s, base, &as_it_is);
    if (billed)
        return billed;
    explain_limiting(s, base, q.worst, out->limiting);

    for (size_t i = 0; i < sizeof levers / sizeof levers[0]; i++) {
        struct tl_assessment after;
        struct tl_bill bill = {.build = NAN, .month = NAN};
        char text[TL_ADVICE_TEXT];
        bool ran = false;

        if (!(levers[i].against & BIT(worst)))
            continue;
        if (o->progress)
            o->progress(o->progress_arg, ++number, levers_against(q.worst));
        int status = try_lever(&levers[i], s, &q, o->interrupted, text, &after, &bill, &ran);
        if (status)
            return status;
        out->tried += ran;
        /* taking chlorine out is right whatever it brings to light */
        if (!ran || (levers[i].pull != dechlorinate && too_dear(base, &after)))
            continue;
        int helped = worst;
        const double better = best_improvement(base, &after, &helped);
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
        out->item[at].month_more = bill.month - as_it_is.month;
        char *because = out->item[at].because;
        add_price(&base->verdict, &after.verdict, because,
                  explain(&base->verdict.limit[helped], &after.verdict.limit[helped], because));
    }
    return TL_OK;
}
