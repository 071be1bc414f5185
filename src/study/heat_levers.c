/* Levers on the heat of the water: against cold and ice, against heat, and against a temperature that
 * jumps. All but one of them work only where the weather makes the temperature. */
#include <math.h>

#include "levers.h"
#include "towerloop/heat_course.h"
#include "towerloop/status.h"

#define COLD         (TL_LIMIT_BIT(TL_LIMIT_COLD) | TL_LIMIT_BIT(TL_ICE))
#define WARM         TL_LIMIT_BIT(TL_LIMIT_WARM)
#define CHANGES      (TL_LIMIT_BIT(TL_LIMIT_HOUR_CHANGE) | TL_LIMIT_BIT(TL_LIMIT_DAY_CHANGE))
#define KEPT_ABOVE   1.0 /* degC above the caution, so that the heater's band stays clear of it */
#define FREE_OF_ICE  4.0 /* degC, where no limit of cold is set */
#define ANY_POWER_W  1e3 /* a m2 of water: more than any weather takes */
#define HEATER_SPARE 1.3 /* on the mean of its hardest day; common practice, no source */
#define ENOUGH_COVER 0.9
#define INSULATED    1.0 /* W/m2/K, 3 cm of foam */
#define TOWER_REST_D 90.0
#define ENOUGH_NET   0.8
#define SOFTER       0.8 /* of the change in a day that is caution: what a heater is let warm up by */
#define STREAM_1_D   0.5 /* of the tank, by trickle: from there on it makes the temperature */
#define ALIKE_DEGC   1.0
#define SLACK_D      (10.0 / 1440) /* the samples that are judged lie 5 minutes apart */

static struct tl_lever_figure temperature(const struct tl_question *q, double degC)
{
    return tl_lever_amount(q, TL_DIM_TEMPERATURE, degC);
}

/* Events of these kinds that stand for something that failed. How many went. */
static size_t drop_heater_off(struct tl_setup *s)
{
    size_t kept = 0;
    for (size_t i = 0; i < s->events; i++) {
        if (s->event[i].kind == TL_EVENT_HEATER_OFF)
            tl_table_free(&s->event[i].ration.table);
        else
            s->event[kept++] = s->event[i];
    }
    const size_t gone = s->events - kept;
    s->events = kept;
    return gone;
}

/* --- heaters -------------------------------------------------------------------------------------- */

/* The power that keeps the water at that if it never fails, W: the mean of the day that asks for most; NAN:
 * unknown. */
static double power_to_keep(const struct tl_setup *given, double degC)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    double most_w = NAN;

    if (tl_setup_copy(&s, given))
        return NAN;
    (void)drop_heater_off(&s);
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

/* What a heater of the scenario is to keep stays, unless that is too little or too much. */
static double to_keep_degC(const struct tl_scenario *s)
{
    const double least =
        isnan(s->limits.cold.caution) ? FREE_OF_ICE : s->limits.cold.caution + KEPT_ABOVE;
    const struct tl_heater *h = &s->setup.heater;
    return h->power_w > 0 && h->keep_degC > least && !(h->keep_degC > s->limits.warm.caution)
               ? h->keep_degC
               : least;
}

bool tl_lever_heat(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double keep_degC = to_keep_degC(s);
    if (!q->base->outdoors)
        return false;
    const double power_w = tl_lever_round2(HEATER_SPARE * power_to_keep(&s->setup, keep_degC));
    if (!(power_w > s->setup.heater.power_w))
        return false;
    s->setup.heater = (struct tl_heater){power_w, keep_degC};
    tl_lever_say(text, "a heater of %s set to %s, put in by a licensed electrician",
                 tl_lever_amount(q, TL_DIM_POWER, power_w).text, temperature(q, keep_degC).text);
    return true;
}

/* A bigger heater that is switched off as well would not do. */
bool tl_lever_keep_heating(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || !(s->setup.heater.power_w > 0) || drop_heater_off(&s->setup) == 0)
        return false;
    tl_lever_say(text, "a second heater ready, on a supply of its own that a licensed electrician "
                       "put in, and an alarm that tells when the water cools");
    return true;
}

/* The first water temperature of the run, degC; NAN: unknown. */
static double first_degC(const struct tl_setup *s)
{
    struct tl_model *m = NULL;
    double degC = NAN;
    if (tl_model_build(s, &m) == TL_OK && tl_model_heat(m))
        degC = tl_heat_course_degC(tl_model_heat(m), s->start_d);
    tl_model_free(m);
    return degC;
}

/* A heater that is set too high, or that warms cold water up at once. */
bool tl_lever_heat_less(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_heater *h = &s->setup.heater;
    const struct tl_limits *l = &s->limits;
    const double before = h->keep_degC;
    if (!q->base->outdoors || !(h->power_w > 0))
        return false;
    const double highest = isnan(l->warm.caution) ? INFINITY : l->warm.caution - KEPT_ABOVE;
    const double slow = SOFTER * l->day_change.caution;
    double keep = fmin(before, highest);
    if ((q->against & CHANGES) && slow > 0)
        keep = fmin(keep, first_degC(&s->setup) + slow);
    if (!(keep < before - ALIKE_DEGC))
        return false;
    h->keep_degC = keep;
    if (keep < highest && slow > 0)
        tl_lever_say(text,
                     "set the heater to %s at first instead of %s, and raise it by no more "
                     "than %s a day",
                     temperature(q, keep).text, temperature(q, before).text,
                     tl_lever_amount(q, TL_DIM_TEMPERATURE_SPAN, slow).text);
    else
        tl_lever_say(text, "set the heater to %s instead of %s", temperature(q, keep).text,
                     temperature(q, before).text);
    return true;
}

/* --- water that is let in ------------------------------------------------------------------------- */

static bool within(double t_d, double from_d, double to_d)
{
    return t_d > from_d - SLACK_D && t_d < to_d + SLACK_D;
}

/* The last instant, up to `to_d`, of those that lie so far apart. */
static double last_planned(double since_d, double every_d, double to_d)
{
    const double k = floor((to_d + SLACK_D - since_d) / every_d);
    return every_d > 0 && k >= 1 ? since_d + k * every_d : -INFINITY;
}

static bool let_in_between(const struct tl_setup *s, double from_d, double to_d)
{
    bool any =
        s->trickle_1_d > STREAM_1_D ||
        within(last_planned(s->start_d, s->change_every_d, to_d), from_d, to_d) ||
        within(last_planned(s->emptying.at_s / 86400.0, s->emptying.every_d, to_d), from_d, to_d);
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        any = any || ((e->kind == TL_EVENT_WATER_CHANGE || e->kind == TL_EVENT_CLEAN_CHAMBER) &&
                      within(e->at_d, from_d, to_d));
    }
    return any;
}

/* Where the worst change of temperature began, if new water made it; NAN: it did not. */
static double jump_d(const struct tl_question *q, const struct tl_setup *s)
{
    const struct {
        enum tl_limit_id limit;
        double window_d;
    } change[] = {{TL_LIMIT_HOUR_CHANGE, 1.0 / 24}, {TL_LIMIT_DAY_CHANGE, 1}};
    for (size_t i = 0; i < sizeof change / sizeof change[0]; i++) {
        const struct tl_limit_verdict *v = &q->base->verdict.limit[change[i].limit];
        const double from_d = v->worst_d - change[i].window_d;
        if ((q->against & TL_LIMIT_BIT(change[i].limit)) && v->grade > TL_WITHIN &&
            let_in_between(s, from_d, v->worst_d))
            return fmax(from_d, s->start_d);
    }
    return NAN;
}

/* Only a change that is sought to be helped against, and that the weather did not make. */
static bool by_new_water(const struct tl_question *q, const struct tl_setup *s)
{
    return (q->against & CHANGES) && !(q->against & (COLD | WARM)) && !isnan(jump_d(q, s));
}

bool tl_lever_temper(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_model *m = NULL;
    double degC = NAN;
    const double at_d = q->base->outdoors ? jump_d(q, &s->setup) : NAN;
    if (isnan(at_d))
        return false;
    if (tl_model_build(&s->setup, &m) == TL_OK && tl_model_heat(m))
        degC = tl_heat_course_degC(tl_model_heat(m), at_d);
    tl_model_free(m);
    if (isnan(degC) || fabs(degC - s->setup.source_degC) < ALIKE_DEGC)
        return false;
    s->setup.source_degC = degC;
    tl_lever_say(text, "bring new water to the temperature of the tank, here %s, before it goes in",
                 temperature(q, degC).text);
    return true;
}

/* The same water in two halves, a day apart. */
bool tl_lever_smaller_changes(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    const size_t events = u->events;
    const bool planned = u->change_every_d > 0;
    bool any = planned;
    if (!q->base->outdoors || isnan(jump_d(q, u)))
        return false;
    u->change_amount /= 2;
    u->change_every_d /= 2;
    for (size_t i = 0; i < events; i++) {
        if (u->event[i].kind != TL_EVENT_WATER_CHANGE)
            continue;
        struct tl_event *half = tl_lever_append_event(s);
        if (!half)
            return false;
        u->event[i].value /= 2;
        *half = u->event[i];
        half->at_d += 1;
        any = true;
    }
    tl_lever_say(text, "change half as much water at once, and %s",
                 planned ? "twice as often" : "the rest a day later");
    return any;
}

/* --- what the weather meets ------------------------------------------------------------------------ */

bool tl_lever_rest_tower(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    const double end = s->setup.start_d + s->setup.length_d;
    const double from_d = q->base->heat.frost_d;
    if (!q->base->outdoors || !(from_d < end))
        return false;
    for (size_t i = 0; i < s->setup.events; i++)
        if (s->setup.event[i].kind == TL_EVENT_TO_TOWER)
            return false;
    struct tl_event *e = tl_lever_append_event(s);
    if (!e)
        return false;
    *e = (struct tl_event){
        .at_d = from_d, .for_d = fmin(TOWER_REST_D, end - from_d), .kind = TL_EVENT_TO_TOWER};
    tl_lever_say(text, "shut the tower from the first frost on, for %s days, the pump past it",
                 tl_lever_figure(e->for_d, 2).text);
    return true;
}

/* No air comes through a cover, so an aerator belongs under it. */
bool tl_lever_cover(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    struct tl_setup *u = &s->setup;
    if (!q->base->outdoors || u->cover >= ENOUGH_COVER || by_new_water(q, u))
        return false;
    u->cover = ENOUGH_COVER;
    if (!(u->aerator_g_d > 0))
        u->aerator_g_d = tl_lever_aerator_g_d(u);
    tl_lever_say(text, "cover %s %% of the water, with an aerator under it",
                 tl_lever_figure(100 * ENOUGH_COVER, 2).text);
    return true;
}

bool tl_lever_uncover(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || !(s->setup.cover > 0))
        return false;
    s->setup.cover = 0;
    tl_lever_say(text, "take the cover off");
    return true;
}

bool tl_lever_insulate(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || !(s->setup.wall_loss_w_m2_k > INSULATED) ||
        by_new_water(q, &s->setup))
        return false;
    s->setup.wall_loss_w_m2_k = INSULATED;
    tl_lever_say(text, "insulate the walls of tank and chamber, as 3 cm of foam does");
    return true;
}

bool tl_lever_shade_water(const struct tl_question *q, struct tl_scenario *s, char *text)
{
    if (!q->base->outdoors || s->setup.weather.shade >= ENOUGH_NET || by_new_water(q, &s->setup))
        return false;
    s->setup.weather.shade = ENOUGH_NET;
    tl_lever_say(text, "a net over the water that keeps off %s %% of the sun",
                 tl_lever_figure(100 * ENOUGH_NET, 2).text);
    return true;
}
