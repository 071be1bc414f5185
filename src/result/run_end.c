/* What a run ends in the middle of. */
#include "towerloop/run_end.h"

#include <math.h>

#include "text.h"
#include "towerloop/shock.h"
#include "towerloop/units.h"

#define SAME_TIME_D 1e-9
/* Oxygen is gone or is not within a day; ammonia and nitrite take about two weeks to follow a change of the
 * filter. Judgement. */
#define DAY_D    1.0
#define FILTER_D 14.0
/* So much more food or fish than before is an event of two weeks, and so little of its flow is next to none of a
 * pump. Judgement. */
#define MORE_FOOD   1.5
#define MANY_FISH   0.5
#define LITTLE_FLOW (1 / 3.0)

enum happening {
    POWER_FAILED,
    PUMP_STOPPED,
    PUMP_THROTTLED,
    TOWER_STOPPED,
    AERATOR_STOPPED,
    HEATER_STOPPED,
    MANY_FISH_CAME,
    FISH_CAME,
    FISH_DIED,
    FOOD_CHANGED,
    AMMONIUM_DOSED,
    SALT_DOSED,
    MEDICINE_GIVEN,
    FILM_LOST,
    RINSED,
    CHLORINE_CAME,
    HAPPENINGS
};

static const struct {
    const char *words;
    double shows_d; /* after so long the run has shown what it does */
} of[HAPPENINGS] = {
    [POWER_FAILED] = {"the power failed", FILTER_D},
    [PUMP_STOPPED] = {"the pump stopped", FILTER_D},
    [PUMP_THROTTLED] = {"the pump brought less than a third of its flow", FILTER_D},
    [TOWER_STOPPED] = {"the water to the tower stopped", FILTER_D},
    [AERATOR_STOPPED] = {"the aerator stopped", DAY_D},
    [HEATER_STOPPED] = {"the heater stopped", FILTER_D},
    [MANY_FISH_CAME] = {"fish by half as many again were added", FILTER_D},
    [FISH_CAME] = {"fish were added", DAY_D},
    [FISH_DIED] = {"fish died", DAY_D},
    [FOOD_CHANGED] = {"the ration was changed", FILTER_D},
    [AMMONIUM_DOSED] = {"ammonium chloride was dosed", DAY_D},
    [SALT_DOSED] = {"salt was dosed", DAY_D},
    [MEDICINE_GIVEN] = {"medicine was given", FILTER_D},
    [FILM_LOST] = {"film was lost", FILTER_D},
    [RINSED] = {"trays were rinsed in tap water", FILTER_D},
    [CHLORINE_CAME] = {"water with chlorine came in", DAY_D},
};

/* How long before the end each last happened, in days; NAN: not, or so long ago that the run shows it. */
struct ends {
    double since_d[HAPPENINGS];
};

/* --- what is off -------------------------------------------------------------------------------- */

enum control { PUMP, TO_TOWER, AERATOR, HEATER, NO_CONTROL };

static enum control control_of(const struct tl_event *e)
{
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
    case TL_EVENT_PUMP_ON:
    case TL_EVENT_PUMPS_RUNNING:
        return PUMP;
    case TL_EVENT_TO_TOWER:
        return TO_TOWER;
    case TL_EVENT_AERATOR:
    case TL_EVENT_AERATOR_ON:
        return AERATOR;
    case TL_EVENT_HEATER_OFF:
    case TL_EVENT_HEATER_ON:
        return HEATER;
    default:
        return NO_CONTROL;
    }
}

/* The event that set a control as it is at the end; NULL: none did, or what it did is over. */
static const struct tl_event *in_force(const struct tl_setup *s, enum control c)
{
    const double end_d = s->start_d + s->length_d;
    const struct tl_event *last = NULL;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        const bool over = e->for_d > 0 && e->at_d + e->for_d < end_d - SAME_TIME_D;
        if (control_of(e) == c && !over && (!last || e->at_d >= last->at_d))
            last = e;
    }
    return last;
}

static void see_control(const struct tl_setup *s, enum control c, double given,
                        enum happening stopped, struct ends *out)
{
    const struct tl_event *e = in_force(s, c);
    if (!e || !(given > 0) || e->kind == TL_EVENT_PUMP_ON || e->kind == TL_EVENT_AERATOR_ON ||
        e->kind == TL_EVENT_HEATER_ON)
        return;
    const double full = e->kind == TL_EVENT_PUMPS_RUNNING ? s->pump.count : given;
    const bool off = e->kind == TL_EVENT_HEATER_OFF || !(e->value > 0);
    if (!off && !(c == PUMP && e->value < LITTLE_FLOW * full))
        return;
    out->since_d[e->of_power ? POWER_FAILED
                 : off       ? stopped
                             : PUMP_THROTTLED] = s->start_d + s->length_d - e->at_d;
}

/* --- what came ---------------------------------------------------------------------------------- */

static bool more_food(const struct tl_setup *s, const struct tl_event *e)
{
    const struct tl_ration *before = &s->feeding.ration;
    const struct tl_event *last = NULL;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *other = &s->event[i];
        const bool over = other->for_d > 0 && other->at_d + other->for_d <= e->at_d + SAME_TIME_D;
        if (other->kind == TL_EVENT_RATION && other->at_d < e->at_d && !over &&
            (!last || other->at_d >= last->at_d))
            last = other;
    }
    if (last)
        before = &last->ration;
    return e->ration.kind != before->kind || e->ration.kind == TL_RATION_TABLE ||
           e->ration.value >= MORE_FOOD * before->value;
}

/* Salt harms later by the film that it kills; what it does to the fish is in the chloride. */
static bool kills_film(const struct tl_setup *s, const struct tl_event *e)
{
    const double both_m3 = s->tank.volume_m3 + s->chamber.volume_m3;
    const double chloride =
        e->by == TL_DOSE_MASS
            ? s->starting.water[TL_CL] + TL_CHLORIDE_G_PER_G_SALT * e->value / both_m3
            : e->value;
    return e->by != TL_DOSE_TO_RATIO && tl_salt_kill(0, chloride) > 0;
}

/* Thiosulfate was dosed with it, or within the day before. */
static bool dechlorinated(const struct tl_setup *s, const struct tl_event *change)
{
    bool any = false;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        any = any || (e->kind == TL_EVENT_DOSE && e->dose == TL_DOSE_THIOSULFATE &&
                      e->at_d <= change->at_d && e->at_d > change->at_d - 1);
    }
    return any;
}

/* Of those there are when these come; who left before is counted as there. */
static bool many_fish(const struct tl_setup *s, const struct tl_event *added)
{
    double there_g = 0;
    for (size_t i = 0; i < s->fish_groups; i++)
        there_g += s->fish[i].count * s->fish[i].mean_mass_g;
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e != added && e->kind == TL_EVENT_ADD_FISH && e->at_d <= added->at_d)
            there_g += e->fish.count * e->fish.mean_mass_g;
    }
    return added->fish.count * added->fish.mean_mass_g >= MANY_FISH * there_g;
}

static enum happening what_came(const struct tl_setup *s, const struct tl_event *e)
{
    const bool chlorine = s->source.water[TL_HOCL] > 0;
    switch (e->kind) {
    case TL_EVENT_ADD_FISH:
        return !(e->fish.count > 0) ? HAPPENINGS : many_fish(s, e) ? MANY_FISH_CAME : FISH_CAME;
    case TL_EVENT_DEAD_FISH:
        return FISH_DIED;
    case TL_EVENT_RATION:
        return more_food(s, e) ? FOOD_CHANGED : HAPPENINGS;
    case TL_EVENT_DOSE:
        return tl_dose_is_medicine(e->dose)                  ? MEDICINE_GIVEN
               : e->dose == TL_DOSE_AMMONIUM_CHLORIDE        ? AMMONIUM_DOSED
               : e->dose == TL_DOSE_SALT && kills_film(s, e) ? SALT_DOSED
                                                             : HAPPENINGS;
    case TL_EVENT_KNOCK_OUT:
        return FILM_LOST;
    case TL_EVENT_CLEAN_TRAY:
    case TL_EVENT_CLEAN_TRAYS:
        return e->tap_water && chlorine ? RINSED : HAPPENINGS;
    case TL_EVENT_WATER_CHANGE:
        return chlorine && e->value > 0 && !dechlorinated(s, e) ? CHLORINE_CAME : HAPPENINGS;
    default:
        return HAPPENINGS;
    }
}

static struct ends look(const struct tl_setup *s)
{
    struct ends ends;
    for (int i = 0; i < HAPPENINGS; i++)
        ends.since_d[i] = NAN;
    if (!tl_setup_ever_fish(s))
        return ends;
    see_control(s, PUMP, s->pump_flow_m3_d, PUMP_STOPPED, &ends);
    see_control(s, TO_TOWER, s->to_tower, TOWER_STOPPED, &ends);
    see_control(s, AERATOR, s->aerator_g_d, AERATOR_STOPPED, &ends);
    see_control(s, HEATER, s->heater.power_w, HEATER_STOPPED, &ends);
    for (size_t i = 0; i < s->events; i++) {
        const double since_d = s->start_d + s->length_d - s->event[i].at_d;
        const enum happening h = what_came(s, &s->event[i]);
        if (h < HAPPENINGS && !(ends.since_d[h] <= since_d))
            ends.since_d[h] = since_d;
    }
    for (int i = 0; i < HAPPENINGS; i++)
        if (!(ends.since_d[i] < of[i].shows_d - SAME_TIME_D))
            ends.since_d[i] = NAN;
    return ends;
}

bool tl_run_ends_in_event(const struct tl_setup *s)
{
    const struct ends ends = look(s);
    bool any = false;
    for (int i = 0; i < HAPPENINGS; i++)
        any = any || !isnan(ends.since_d[i]);
    return any;
}

void tl_run_end_say(const struct tl_setup *s, struct tl_text *out)
{
    const struct ends ends = look(s);
    double longer_d = 0;
    int count = 0, said = 0;
    for (int i = 0; i < HAPPENINGS; i++)
        count += !isnan(ends.since_d[i]);
    if (count == 0)
        return;
    tl_text_addf(out, "%sThe run ends ", out->length > 0 ? " " : "");
    for (int i = 0; i < HAPPENINGS; i++) {
        const double since_d = ends.since_d[i];
        if (isnan(since_d))
            continue;
        tl_text_add(out, said == 0 ? "" : said + 1 == count ? " and " : ", ");
        if (since_d * 1440 < 1)
            tl_text_addf(out, "just after %s", of[i].words);
        else if (since_d >= 2)
            tl_text_addf(out, "%.0f days after %s", since_d, of[i].words);
        else
            tl_text_addf(out, "%s after %s", tl_hours_span(24 * since_d).text, of[i].words);
        longer_d = fmax(longer_d, of[i].shows_d - since_d);
        said++;
    }
    const double days = ceil(longer_d - SAME_TIME_D);
    tl_text_add(out, ": what comes after is not in it. Make it longer by ");
    if (days > 1)
        tl_text_addf(out, "%.0f days at least.", days);
    else
        tl_text_add(out, "a day at least.");
}
