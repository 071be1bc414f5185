/* What a job is and why it is due, in words. */
#include <math.h>

#include "formalin.h"
#include "text.h"
#include "towerloop/pump.h"
#include "towerloop/upkeep.h"

static const struct {
    const char *word;
    enum tl_dim dim;
} kinds[TL_NJOB] = {
#define KIND(id, word, dim) {word, dim},
    TL_JOB_LIST(KIND)
#undef KIND
};

const char *tl_job_word(enum tl_job_kind kind)
{
    return kinds[kind].word;
}

enum tl_dim tl_job_dim(enum tl_job_kind kind)
{
    return kinds[kind].dim;
}

const char *tl_job_from_word(enum tl_job_from from)
{
    static const char *const words[TL_NJOB_FROM] = {
#define FROM(id, word) word,
        TL_JOB_FROM_LIST(FROM)
#undef FROM
    };
    return words[from];
}

/* What the sentences are made of. */
struct speaker {
    const struct tl_scenario *s;
    const struct tl_job *j;
    enum tl_unit_system units;
    struct tl_job_words *w;
};

#define HEATER_BAND_K 1.0 /* a heater that holds the water lets it fall no deeper */

#define WHAT(p, ...) tl_format((p)->w->what, sizeof(p)->w->what, __VA_ARGS__)
#define WHY(p, ...)  tl_format((p)->w->why, sizeof(p)->w->why, __VA_ARGS__)

struct quantity {
    char text[96];
};

static struct quantity quantity(const struct speaker *p, enum tl_dim dim, double base)
{
    struct quantity q;
    tl_display_text(dim, p->units, base, 3, q.text, sizeof q.text);
    return q;
}

/* To a tenth of a degree. */
static struct quantity degrees(const struct speaker *p, double degC)
{
    struct quantity q;
    const double tenths = round(10 * tl_display_value(TL_DIM_TEMPERATURE, p->units, degC));
    tl_format(q.text, sizeof q.text, "%.1f %s", tenths == 0 ? 0.0 : tenths / 10,
              tl_display_unit(TL_DIM_TEMPERATURE, p->units));
    return q;
}

static struct quantity percent(double share)
{
    struct quantity q;
    tl_format(q.text, sizeof q.text, "%.3g %%", 100 * share);
    return q;
}

const char *tl_dose_name(enum tl_dose dose)
{
    static const char *const name[TL_NDOSE] = {
        [TL_DOSE_BAKING_SODA] = "baking soda",
        [TL_DOSE_SALT] = "salt",
        [TL_DOSE_AMMONIUM_CHLORIDE] = "ammonium chloride",
        [TL_DOSE_THIOSULFATE] = "sodium thiosulfate",
        [TL_DOSE_FORMALDEHYDE] = "formaldehyde",
        [TL_DOSE_PEROXIDE] = "hydrogen peroxide",
        [TL_DOSE_CHLORAMINE_T] = "chloramine-T",
    };
    return name[dose];
}

/* --- kind by kind --------------------------------------------------------------------------------- */

static void say_fish(const struct speaker *p)
{
    const struct tl_fish *f = &p->j->event->fish;
    const bool in = p->j->kind == TL_JOB_FISH_IN;
    WHAT(p, "%.10g %s %s", f->count, f->name, in ? "arrive" : "leave");
    if (in)
        WHY(p, "as the scenario plans; %s in all",
            quantity(p, TL_DIM_MASS, f->count * f->mean_mass_g).text);
}

static void say_change(const struct speaker *p)
{
    const struct tl_setup *s = &p->s->setup;
    WHAT(p, "change %s of water", quantity(p, TL_DIM_VOLUME, p->j->amount).text);
    if (p->j->event)
        WHY(p, "as the scenario plans: %s of the tank", percent(p->j->event->value).text);
    else
        WHY(p, "as the scenario plans: %s of the tank every %s", percent(s->change_amount).text,
            quantity(p, TL_DIM_TIME, s->change_every_d).text);
}

static void say_dechlorinate(const struct speaker *p)
{
    const struct tl_setup *s = &p->s->setup;
    const struct quantity mass = quantity(p, TL_DIM_MASS, p->j->amount);
    const struct quantity chlorine = quantity(p, TL_DIM_CONC, s->source.water[TL_HOCL]);
    WHY(p, "the source water holds %s of chlorine", chlorine.text);
    if (!p->j->bit_by_bit) {
        WHAT(p, "%s of sodium thiosulfate into the new water", mass.text);
        if (p->j->event && p->j->event->value < TL_DECHLORINATOR_ENOUGH * p->j->amount)
            WHY(p, "the %s that the scenario plans are too little for %s of chlorine",
                quantity(p, TL_DIM_MASS, p->j->event->value).text, chlorine.text);
        return;
    }
    WHAT(p, "%s%ssodium thiosulfate, spread over the %s of this week",
         isnan(p->j->amount) ? "" : mass.text, isnan(p->j->amount) ? "" : " of ",
         !s->weather.given    ? "trickle"
         : s->trickle_1_d > 0 ? "trickle and top-up"
                              : "top-up");
    WHY(p, "it holds %s of chlorine: into that water before it runs in, never at once",
        chlorine.text);
}

static struct quantity mark(const struct speaker *p)
{
    const struct tl_event *e = p->j->event;
    struct quantity q;
    if (e->by == TL_DOSE_TO_RATIO)
        tl_format(q.text, sizeof q.text, "until chloride is %.3g times nitrite", e->value);
    else if (e->dose == TL_DOSE_BAKING_SODA)
        tl_format(q.text, sizeof q.text, "up to %s", quantity(p, TL_DIM_ALKALINITY, e->value).text);
    else
        tl_format(q.text, sizeof q.text, "up to %s%s", quantity(p, TL_DIM_CONC, e->value).text,
                  e->dose == TL_DOSE_SALT ? " chloride" : "");
    return q;
}

/* "300 g of salt" */
static struct quantity measured(const struct speaker *p)
{
    const struct tl_job *j = p->j;
    const struct quantity mass = quantity(p, TL_DIM_MASS, j->amount);
    struct quantity q;
    if (j->event->dose == TL_DOSE_FORMALDEHYDE)
        tl_format(q.text, sizeof q.text, "%s (%s of %s)", tl_formalin(p->units, j->amount).text,
                  mass.text, tl_dose_name(j->event->dose));
    else
        tl_format(q.text, sizeof q.text, "%s of %s", mass.text, tl_dose_name(j->event->dose));
    return q;
}

static void say_dose_event(const struct speaker *p)
{
    const struct tl_job *j = p->j;
    const struct quantity dose = measured(p);
    if (j->event->by == TL_DOSE_MASS)
        WHAT(p, "%s", dose.text);
    else if (j->amount > 0)
        WHAT(p, "%s, %s", dose.text, mark(p).text);
    else
        WHAT(p, "%s, %s", tl_dose_name(j->event->dose), mark(p).text);
    if (j->event->dose >= TL_DOSE_FORMALDEHYDE)
        WHY(p, "as the scenario plans; medicine: a veterinarian decides, aerate, test daily");
    else if (j->event->by != TL_DOSE_MASS && j->amount == 0)
        WHY(p, "as the scenario plans; the run needed none");
}

/* ": not while ammonia is over 0.49 mg/L as N, or over what the emergency card says", rounded down: the card
 * is made for the warmest hour. "": whatever it is. */
static struct quantity only_below(double most_gN_m3)
{
    struct quantity q = {""};
    if (!(most_gN_m3 > 0))
        return q;
    const double digit = pow(10, floor(log10(most_gN_m3)) - 1);
    tl_format(q.text, sizeof q.text,
              ": not while ammonia is over %.2g mg/L as N, or over what the emergency card says",
              digit * floor(most_gN_m3 / digit + 1e-9));
    return q;
}

static void say_dose(const struct speaker *p)
{
    const struct tl_job *j = p->j;
    const enum tl_dim alk = TL_DIM_ALKALINITY;
    if (j->event) {
        say_dose_event(p);
        return;
    }
    if (j->held_back) {
        WHAT(p, "no baking soda yet: first bring the ammonia down");
        WHY(p,
            "the alkalinity is %.3g mg/L as CaCO3 the next day, the floor is %.3g; but with a dose "
            "the ammonia would be beyond caution: change water, feed less, test. If What "
            "helps names baking soda, go by that: it was tried",
            floor(10 * tl_display_value(alk, TL_METRIC, j->figure)) / 10,
            tl_display_value(alk, TL_METRIC, p->s->limits.alk.caution));
        return;
    }
    WHAT(p, "%s of baking soda", quantity(p, TL_DIM_MASS, j->amount).text);
    if (j->from == TL_JOB_FROM_RUN) {
        WHY(p,
            "without it the alkalinity is %.3g mg/L as CaCO3 the next day, the floor is %.3g; "
            "test first%s",
            floor(10 * tl_display_value(alk, TL_METRIC, j->figure)) / 10,
            tl_display_value(alk, TL_METRIC, p->s->limits.alk.caution),
            only_below(j->most_tan_gN_m3).text);
    } else {
        WHY(p, "holds the alkalinity at %s, as the scenario plans",
            quantity(p, alk, p->s->setup.dosing.hold_alkalinity_eq_m3).text);
    }
}

static void say_chamber(const struct speaker *p)
{
    WHAT(p, "empty the settling chamber");
    if (p->j->from == TL_JOB_FROM_RUN)
        WHY(p, "about %s of it is sludge by then, as the run goes", percent(p->j->figure).text);
    else if (!isnan(p->j->figure))
        WHY(p, "as the scenario plans; %s of it is sludge by then", percent(p->j->figure).text);
}

static void add_tray(const struct speaker *p, char *text, size_t size)
{
    if (p->j->tray > 0)
        tl_format(text, size, "tray %d", p->j->tray);
    else
        tl_format(text, size, "all trays");
}

static void say_rinse(const struct speaker *p)
{
    const struct tl_event *e = p->j->event;
    char tray[32];
    add_tray(p, tray, sizeof tray);
    WHAT(p, "rinse %s in %s water", tray, e && e->tap_water ? "tap" : "pond");
    if (e && e->tap_water && p->s->setup.source.water[TL_HOCL] > 0)
        WHY(p, "as the scenario plans, but chlorine kills the film: pond water does not");
    else if (p->j->from == TL_JOB_FROM_RUN)
        WHY(p, "about %s of its voids are full by then; one tray at a time",
            percent(p->j->figure).text);
    else if (!isnan(p->j->figure))
        WHY(p, "as the scenario plans; up to %s of a tray's voids are full by then",
            percent(p->j->figure).text);
}

static void say_hose(const struct speaker *p)
{
    char tray[32];
    add_tray(p, tray, sizeof tray);
    WHAT(p, "hose the algae off %s", p->j->from == TL_JOB_FROM_RUN ? "the top tray" : tray);
    if (!isnan(p->j->figure))
        WHY(p, "%salgae cover %s of the top tray by then",
            p->j->from == TL_JOB_FROM_RUN ? "" : "as the scenario plans; ",
            percent(p->j->figure).text);
}

static void say_pump(const struct speaker *p)
{
    WHAT(p, "clean the pump");
    if (p->j->from == TL_JOB_FROM_RUN)
        WHY(p, "fouling leaves %s of its clean flow by then", percent(p->j->figure).text);
}

static void say_ration(const struct speaker *p)
{
    const struct tl_event *e = p->j->event;
    struct quantity length = {""};
    if (e->for_d > 0)
        length = quantity(p, TL_DIM_TIME, e->for_d);
    const char *before = e->for_d > 0 ? " for " : "";
    if (e->ration.kind == TL_RATION_PER_BIOMASS)
        WHAT(p, "feed %.3g %% of the fish's mass a day%s%s", 100 * e->ration.value, before,
             length.text);
    else if (e->ration.kind == TL_RATION_MASS)
        WHAT(p, "feed %s a day%s%s", quantity(p, TL_DIM_MASS, e->ration.value).text, before,
             length.text);
    else
        WHAT(p, "feed by temperature%s%s", before, length.text);
}

static void say_feeding(const struct speaker *p)
{
    const bool again = p->j->kind == TL_JOB_FEED_AGAIN;
    WHAT(p, again ? "begin to feed again, little at first" : "stop feeding");
    WHY(p, "the water comes %s to %s on that day: the scenario feeds by temperature%s",
        again ? "up" : "down", degrees(p, p->j->figure).text,
        again ? "; the filter has starved since, and more so if it ran dry: test daily" : "");
}

static void say_heater(const struct speaker *p)
{
    const double keep_degC = p->s->setup.heater.keep_degC;
    const bool fails = p->j->figure < keep_degC - HEATER_BAND_K;
    WHAT(p, fails ? "before the cold: a stronger heater, or a spare one ready"
                  : "check that the heater works");
    WHY(p, "%sthe water comes down to %s, and is to be kept at %s",
        fails ? "the heater is too weak or off: " : "", degrees(p, p->j->figure).text,
        degrees(p, keep_degC).text);
}

static void say_frost(const struct speaker *p)
{
    WHAT(p, "before frost: heater on, or tower off and no feed");
    WHY(p, "air down to %s while water crosses the tower: trays and pipes can ice up",
        degrees(p, p->j->figure).text);
}

static void say_test(const struct speaker *p)
{
    static const char in_danger[] =
        "every day: as the run goes, ammonia, nitrite or alkalinity is beyond its danger level "
        "then, or was within the week before; see What helps";
    static const char *const daily_for[] = {
        [TL_TEST_WEEKLY] = NULL,
        [TL_TEST_NEW_FILTER] =
            "every day while a filter is new, until its ammonia and nitrite are low",
        [TL_TEST_NEW_FISH] = "every day for a week after fish have come",
        [TL_TEST_FED_AGAIN] = "every day for a week after a filter has starved",
        [TL_TEST_MEDICINE] = "every day for four weeks after film was killed, or may have been",
        [TL_TEST_DEAD_FISH] = "every day while a dead fish lies there, and a week after",
        [TL_TEST_STOOD] = "every day while the filter stands without water, and a week after",
        [TL_TEST_DANGER] = in_danger,
    };
    const char *daily = daily_for[(int)p->j->figure];
    const bool danger = p->j->figure == (double)TL_TEST_DANGER;
    WHAT(p, "test the water: ammonia, nitrite, pH%s",
         danger  ? ", alkalinity"
         : daily ? ""
                 : ", nitrate, alkalinity");
    WHY(p, "%s; common practice", daily ? daily : "once a week");
}

struct tl_job_words tl_job_words(const struct tl_scenario *s, const struct tl_job *j,
                                 enum tl_unit_system units)
{
    static void (*const say[TL_NJOB])(const struct speaker *p) = {
        [TL_JOB_FISH_IN] = say_fish,
        [TL_JOB_FISH_OUT] = say_fish,
        [TL_JOB_CHANGE_WATER] = say_change,
        [TL_JOB_DECHLORINATE] = say_dechlorinate,
        [TL_JOB_DOSE] = say_dose,
        [TL_JOB_EMPTY_CHAMBER] = say_chamber,
        [TL_JOB_RINSE_TRAY] = say_rinse,
        [TL_JOB_HOSE_TRAY] = say_hose,
        [TL_JOB_CLEAN_PUMP] = say_pump,
        [TL_JOB_RATION] = say_ration,
        [TL_JOB_STOP_FEEDING] = say_feeding,
        [TL_JOB_FEED_AGAIN] = say_feeding,
        [TL_JOB_HEATER] = say_heater,
        [TL_JOB_FROST] = say_frost,
        [TL_JOB_TEST] = say_test,
    };
    struct tl_job_words w = {"", "as the scenario plans"};
    const struct speaker p = {s, j, units, &w};
    say[j->kind](&p);
    return w;
}
