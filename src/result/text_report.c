/* The answer for the terminal: the verdict, what was simulated, the limits, where the nitrogen and
 * the oxygen went, what helps. At most 40 lines of 80 columns, 48 where the weather makes the
 * temperature, and one more for each of its limits that is told. */
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "formalin.h"
#include "loop.h"
#include "number.h"
#include "page.h"
#include "towerloop/pump.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"
#include "towerloop/stock.h"
#include "towerloop/summary.h"
#include "towerloop/upkeep.h"

/* Three digits for people: 0.0123, 1.23, 123, 1234. */
struct shown {
    char text[TL_NUMBER_SIZE];
};

/* No powers of ten for people. */
#define SMALL    1e-4
#define LARGE    1e6
#define WRITABLE 1e15
#define SCANT    5e-4 /* a share that is not worth a line */
#define BOOKED_G 0.05 /* less of what algae did is not told */

static struct shown show(double value)
{
    struct shown s;
    double step = 1;
    if (value != 0 && isfinite(value) && fabs(value) < 1000)
        step = pow(10.0, floor(log10(fabs(value))) - 2);
    if (isnan(value))
        strcpy(s.text, "-");
    else if (fabs(value) >= LARGE && fabs(value) < WRITABLE)
        snprintf(s.text, sizeof s.text, "%.0f", value);
    else if (value > 0 && value < SMALL)
        strcpy(s.text, "<0.0001");
    else if (value <= 0 && value > -SMALL) /* what the solver leaves of nothing */
        strcpy(s.text, "0");
    else
        tl_number_write(s.text, step < 1 ? round(value / step) * step : round(value));
    return s;
}

/* "05-13 d12", at most ten columns */
static struct shown show_day(const struct tl_outcome *o, double t_d)
{
    struct shown s;
    if (isnan(t_d)) {
        strcpy(s.text, "-");
        return s;
    }
    struct tl_date date = tl_date_at(&o->scenario->start, t_d);
    int day = (int)floor(t_d);
    if (day < 1000)
        snprintf(s.text, sizeof s.text, "%02u-%02u d%d", (unsigned)date.month % 100,
                 (unsigned)date.day % 100, day);
    else
        snprintf(s.text, sizeof s.text, "d%d", day);
    return s;
}

/* "76.2 mm" in the reader's units */
struct quantity {
    char text[64];
};

static struct quantity quantity(enum tl_dim dim, enum tl_unit_system units, double base)
{
    struct quantity q;
    struct shown number = show(tl_display_value(dim, units, base));
    snprintf(q.text, sizeof q.text, "%s %s", number.text, tl_display_unit(dim, units));
    return q;
}

/* Short lengths and heavy masses read better in another unit of the same system. */
static struct quantity depth(enum tl_unit_system units, double base_m)
{
    struct quantity q;
    double value = tl_display_value(TL_DIM_LENGTH, units, base_m);
    snprintf(q.text, sizeof q.text, "%s %s", show(value * (units == TL_US ? 12 : 1000)).text,
             units == TL_US ? "in" : "mm");
    return q;
}

static struct quantity volume(enum tl_unit_system units, double base_m3)
{
    struct quantity q = quantity(TL_DIM_VOLUME, units, base_m3);
    if (units == TL_METRIC && fabs(base_m3) < 1)
        snprintf(q.text, sizeof q.text, "%s L", show(1000 * base_m3).text);
    return q;
}

#define G_PER_OUNCE    28.349523125 /* avoirdupois: NIST Handbook 44, Appendix C */
#define OUNCES_BELOW_G (16 * G_PER_OUNCE)

static struct quantity weight(enum tl_unit_system units, double base_g)
{
    struct quantity q = quantity(TL_DIM_MASS, units, base_g);
    if (units == TL_METRIC && base_g >= 1000)
        snprintf(q.text, sizeof q.text, "%s kg", show(base_g / 1000).text);
    if (units == TL_US && base_g < OUNCES_BELOW_G)
        snprintf(q.text, sizeof q.text, "%s oz", show(base_g / G_PER_OUNCE).text);
    return q;
}

/* --- what was simulated ------------------------------------------------------------------- */

static void add_temperature(struct tl_text *w, const struct tl_scenario *s,
                            enum tl_unit_system units)
{
    const struct tl_temperature *t = &s->setup.temperature;
    if (t->kind == TL_TEMPERATURE_WEATHER) {
        tl_text_add(w, "by the weather");
        return;
    }
    if (t->kind == TL_TEMPERATURE_READINGS) {
        tl_text_addf(w, "from %s",
                     s->input[TL_INPUT_TEMPERATURE] ? s->input[TL_INPUT_TEMPERATURE] : "readings");
        if (t->warmer_degC != 0)
            tl_text_addf(w, ", %s %s",
                         quantity(TL_DIM_TEMPERATURE_SPAN, units, fabs(t->warmer_degC)).text,
                         t->warmer_degC > 0 ? "warmer" : "colder");
        return;
    }
    tl_text_addf(w, "%s", quantity(TL_DIM_TEMPERATURE, units, t->mean_degC + t->warmer_degC).text);
    if (t->kind != TL_TEMPERATURE_SINES)
        return;
    if (t->seasonal_swing_degC > 0)
        tl_text_addf(w, ", seasons +-%s",
                     quantity(TL_DIM_TEMPERATURE_SPAN, units, t->seasonal_swing_degC).text);
    if (t->daily_swing_degC > 0)
        tl_text_addf(w, ", day +-%s",
                     quantity(TL_DIM_TEMPERATURE_SPAN, units, t->daily_swing_degC).text);
}

#define MORE_FISH 1.005 /* times the fish at the start: less is not told */

/* As stocked, without growth; 0: not known. */
static double most_fish_g(const struct tl_setup *s)
{
    struct tl_stock *stock = NULL;
    size_t n = 0;
    double most_kg = 0;
    if (tl_stock_of(s, &stock, &n) != TL_OK)
        return 0;
    for (size_t i = 0; i < n; i++)
        most_kg = fmax(most_kg, stock[i].kg);
    free(stock);
    return 1000 * most_kg;
}

static void add_fish(struct tl_text *w, const struct tl_setup *s, enum tl_unit_system units)
{
    double count = 0, mass_g = 0;
    for (size_t i = 0; i < s->fish_groups; i++) {
        count += s->fish[i].count;
        mass_g += s->fish[i].count * s->fish[i].mean_mass_g;
    }
    const double most_g = most_fish_g(s);
    if (count <= 0) {
        tl_text_addf(w, "No fish at the start");
        if (most_g > 0)
            tl_text_addf(w, ", at most %s", weight(units, most_g).text);
    } else {
        const char *name = s->fish_groups == 1 ? s->fish[0].name : "fish";
        tl_text_addf(w, "Fish: %s %s, %s", show(count).text, name, weight(units, mass_g).text);
        if (most_g > MORE_FISH * mass_g)
            tl_text_addf(w, " at the start, at most %s", weight(units, most_g).text);
    }
    const struct tl_feeding *f = &s->feeding;
    if (f->log.n > 0)
        tl_text_addf(w, "; fed as logged");
    else if (f->ration.kind == TL_RATION_TABLE)
        tl_text_addf(w, "; feed by temperature");
    else if (f->ration.value <= 0)
        tl_text_addf(w, "; not fed");
    else if (f->ration.kind == TL_RATION_PER_BIOMASS)
        tl_text_addf(w, "; feed %s %%/d", show(100 * f->ration.value).text);
    else
        tl_text_addf(w, "; feed %s", quantity(TL_DIM_MASS_FLOW, units, f->ration.value).text);
    if (f->log.n > 0 || f->ration.kind == TL_RATION_TABLE || f->ration.value > 0)
        tl_text_addf(w, ", %s %% protein", show(100 * f->protein).text);
}

static void add_media(struct tl_text *w, const struct tl_tower *t)
{
    if (t->biofilm == TL_BIOFILM_SEEDED)
        tl_text_addf(w, "; seeded %s %%", show(100 * t->seeded_share).text);
    else
        tl_text_add(w, t->biofilm == TL_BIOFILM_NEW ? "; new media" : "; mature");
}

/* Only where there is more to say than a flow that stays. */
static void write_pump(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_setup *s = &o->scenario->setup;
    struct tl_text w = {0};
    struct tl_duty duty;

    if (s->pump.count > 1)
        tl_text_addf(&w, "%d pumps", s->pump.count);
    else if (s->pump.curve.n > 0 || s->pump.fouling_1_d > 0)
        tl_text_add(&w, "Pump");
    if (s->pump.curve.n > 0 && tl_pump_duty(s, s->pump.count, &duty) == TL_OK)
        tl_text_addf(&w, ", by curve against %s", quantity(TL_DIM_LENGTH, units, duty.head_m).text);
    if (s->pump.fouling_1_d > 0)
        tl_text_addf(&w, ", fouling: %s clean, %s at the least, %s at the end",
                     quantity(TL_DIM_FLOW, units, s->pump_flow_m3_d).text,
                     quantity(TL_DIM_FLOW, units, o->least_flow_m3_d).text,
                     quantity(TL_DIM_FLOW, units, o->last_flow_m3_d).text);
    if (!tl_text_is_empty(&w))
        tl_page_put(p, 2, 2, &w);
    tl_text_free(&w);
}

static void write_setup(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_scenario *s = o->scenario;
    const struct tl_setup *u = &s->setup;
    struct tl_text w = {0};

    tl_page_wrap(p, 1, 0, s->title && *s->title ? s->title : "(no title)");
    tl_text_addf(&w, "%s %s from %04d-%02d-%02d; water ", show(u->length_d).text,
                 u->length_d == 1 ? "day" : "days", s->start.year, s->start.month, s->start.day);
    add_temperature(&w, s, units);
    if (u->events > 0)
        tl_text_addf(&w, "; %zu event%s", u->events, u->events > 1 ? "s" : "");
    tl_page_put(p, 2, 2, &w);

    tl_text_addf(&w, "Tank %s, settling chamber %s; pump %s, %s %% to the tower",
                 quantity(TL_DIM_VOLUME, units, u->tank.volume_m3).text,
                 quantity(TL_DIM_VOLUME, units, u->chamber.volume_m3).text,
                 quantity(TL_DIM_FLOW, units, u->pump_flow_m3_d).text,
                 show(100 * u->to_tower).text);
    if (u->cover > 0)
        tl_text_addf(&w, "; %s %% of the water covered", show(100 * u->cover).text);
    tl_page_put(p, 2, 2, &w);

    write_pump(p, o, units);
    tl_text_addf(&w, "Tower: %d tray%s of %s, %s deep, %s%s", u->tower.trays,
                 u->tower.trays == 1 ? "" : "s", u->tower.media,
                 depth(units, u->tower.media_depth_m).text,
                 quantity(TL_DIM_AREA, units, u->tower.plan_area_m2).text,
                 u->tower.submerged ? ", under water" : "");
    add_media(&w, &u->tower);
    if (u->aerator_g_d > 0)
        tl_text_addf(&w, "; aerator %s", quantity(TL_DIM_MASS_FLOW, units, u->aerator_g_d).text);
    tl_page_put(p, 2, 2, &w);

    add_fish(&w, u, units);
    tl_page_put(p, 2, 2, &w);
}

static int lines_of(const char *text)
{
    return tl_page_lines_of(2, text);
}

/* --- verdict ------------------------------------------------------------------------------ */

/* Names that fit the table, in the order of TL_LIMIT_LIST. */
static const char *const short_name[TL_NLIMIT] = {
    [TL_LIMIT_NH3] = "un-ionised ammonia",
    [TL_LIMIT_TAN_CHRONIC] = "ammonia (30 days)",
    [TL_LIMIT_TAN_ACUTE] = "ammonia (1 hour)",
    [TL_LIMIT_NO2] = "nitrite",
    [TL_LIMIT_NO3] = "nitrate",
    [TL_LIMIT_O2] = "oxygen",
    [TL_LIMIT_PH_LOW] = "lowest pH",
    [TL_LIMIT_PH_HIGH] = "highest pH",
    [TL_LIMIT_PH_SWING] = "pH swing in a day",
    [TL_LIMIT_ALK] = "alkalinity",
    [TL_LIMIT_CO2] = "carbon dioxide",
    [TL_LIMIT_CHLORINE] = "chlorine",
    [TL_LIMIT_CHLORIDE] = "chloride (salt)",
    [TL_LIMIT_COLD] = "coldest water",
    [TL_LIMIT_WARM] = "warmest water",
    [TL_LIMIT_HOUR_CHANGE] = "temp. change, 1 h",
    [TL_LIMIT_DAY_CHANGE] = "temp. change, 1 d",
};

/* Another thing beyond a limit, after its lead where it is the first. */
static void add_name(struct tl_text *w, int *items, const char *lead, const char *name)
{
    if ((*items)++ == 0)
        tl_text_addf(w, " %s: %s", lead, name);
    else
        tl_text_addf(w, ", %s", name);
}

static void add_names(struct tl_text *w, const struct tl_outcome *o, enum tl_grade grade,
                      const char *lead)
{
    const bool frozen = o->heat && o->heat->ice_h > 0;
    int items = 0;
    if (frozen && grade == (o->heat->fish_ice_h > 0 ? TL_DANGER : TL_CAUTION))
        add_name(w, &items, lead, "ice on the water");
    if (o->bed && tl_bed_sulfide(o->bed) && grade == TL_CAUTION)
        add_name(w, &items, lead, "hydrogen sulfide can form");
    if (o->solids && o->solids->most_voids >= TL_VOIDS_PONDING && grade == TL_CAUTION)
        add_name(w, &items, lead, "water stands on the trays");
    const bool overdose = tl_setup_overdose(&o->scenario->setup) != NULL;
    if (overdose && grade == TL_DANGER)
        add_name(w, &items, lead, "medicine beyond all that is known");
    if (tl_outcome_medicine(o) && !overdose && grade == TL_CAUTION)
        add_name(w, &items, lead, "effect of medicine not judged");
    for (int i = 0; i < TL_NLIMIT; i++)
        if (o->verdict->limit[i].grade == grade)
            add_name(w, &items, lead, short_name[i]);
    if (items > 0)
        tl_text_addf(w, ".");
}

#define RANGE_LINES 3

/* As many of them as have room, none of them in part. */
static void write_ranges(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    struct tl_text w = {0};
    size_t kept = 0;
    for (int i = 0; i < TL_NRANGE; i++) {
        const struct tl_range_note *n = &o->ranges->note[i];
        const bool warmth = strcmp(n->unit, "degC") == 0;
        const enum tl_dim dim = warmth ? TL_DIM_TEMPERATURE : TL_DIM_NUMBER;
        const char *unit = warmth ? tl_display_unit(dim, units) : n->unit;
        if (!n->outside)
            continue;
        tl_text_addf(&w, "%s %s %s%s%s (%s: %s to %s, %s)",
                     kept > 0 ? "," : "Outside published range:", n->what,
                     show(tl_display_value(dim, units, n->value)).text, *unit ? " " : "", unit,
                     n->use, show(tl_display_value(dim, units, n->low)).text,
                     show(tl_display_value(dim, units, n->high)).text, n->source);
        if (lines_of(tl_text_string(&w)) > RANGE_LINES) {
            p->left_out = true;
            break;
        }
        kept = w.length;
    }
    if (kept > 0) {
        struct tl_text all = {0};
        tl_text_addf(&all, "%.*s.", (int)kept, tl_text_string(&w));
        tl_page_put(p, RANGE_LINES, 2, &all);
    }
    p->failed = p->failed || w.failed;
    tl_text_free(&w);
}

#define VERDICT_LINES 8 /* every limit by its name, and how sure it is */

/* Lines of the verdict that have room of their own: those of what is not judged, and what there is above
 * VERDICT_LINES. No other line goes for them, and none of them is cut. */
static int lines_besides(struct tl_page *p, const struct tl_outcome *o,
                         const struct tl_text *verdict)
{
    struct tl_text before = {0}, last = {0};
    tl_outcome_not_judged(o, &last);
    if (verdict->length >= last.length)
        tl_text_add_bytes(&before, tl_text_string(verdict), verdict->length - last.length);
    const int all = lines_of(tl_text_string(verdict));
    const int first = lines_of(tl_text_string(&before));
    p->failed = p->failed || before.failed || last.failed;
    tl_text_free(&before);
    tl_text_free(&last);
    return all - (first < VERDICT_LINES ? first : VERDICT_LINES);
}

static void write_verdict(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    struct tl_text w = {0};
    int changed = tl_outcome_parameters_changed(o);
    const int own_limits = tl_limits_changed(&o->scenario->limits);

    tl_text_addf(&w, "Verdict: %s", tl_outcome_verdict(o));
    if (o->spread) {
        if (tl_outcome_grade(o) > tl_outcome_own_grade(o))
            tl_text_addf(&w, " (%s with the scenario's own values)%s", tl_outcome_own_verdict(o),
                         o->spread->but);
        tl_text_addf(&w, ". Within limits in %s, danger in %s, over %zu uncertain input%s",
                     o->spread->within.text, o->spread->danger.text, o->spread->inputs,
                     o->spread->inputs == 1 ? "" : "s");
    } else if (tl_outcome_grade(o) == TL_WITHIN) {
        tl_text_addf(&w, ", with default parameters");
        if (changed)
            tl_text_addf(&w, " but for %d", changed);
    }
    if (own_limits)
        tl_text_addf(&w, ", by limits of your own (values changed: %d)", own_limits);
    tl_text_addf(&w, ".");
    add_names(&w, o, TL_DANGER, "Beyond danger");
    add_names(&w, o, TL_CAUTION, "Beyond caution");
    struct tl_text blind = {0};
    tl_outcome_cannot_tell(o, &blind);
    if (!tl_text_is_empty(&blind))
        tl_text_add(&w, " ");
    tl_text_add_text(&w, 0, &blind);
    tl_text_free(&blind);
    const int more = lines_besides(p, o, &w);
    p->most += more;
    tl_page_put(p, VERDICT_LINES + more, 2, &w);

    if (!isnan(o->fish_lost_d)) {
        tl_text_addf(&w, "%s: oxygen under %s mg/L, carp are lost; the run's promise ends here.",
                     show_day(o, o->fish_lost_d).text,
                     show(o->scenario->setup.params.o2_critical).text);
        tl_page_put_whole(p, 1, 0, &w);
    }

    write_ranges(p, o, units);
}

/* A temperature that is given is told only where it is beyond its limits. */
static bool is_told(const struct tl_outcome *o, int limit)
{
    return limit < TL_LIMIT_COLD || o->heat || o->verdict->limit[limit].grade > TL_WITHIN;
}

static double in_units(int limit, enum tl_unit_system units, double value)
{
    if (limit < TL_LIMIT_COLD)
        return value;
    return tl_display_value(
        limit < TL_LIMIT_HOUR_CHANGE ? TL_DIM_TEMPERATURE : TL_DIM_TEMPERATURE_SPAN, units, value);
}

static void write_limits(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    struct tl_text w = {0};
    bool temperature = false;
    /* columns as in the rows below */
    tl_text_addf(&w, "%-18s %7s %7s %6s  %-10s %14s  %s", "", "worst", "caution", "danger", "when",
                 "hours beyond", "first");
    tl_page_put(p, 1, 0, &w);
    tl_text_addf(&w, "%-18s %7s %7s %6s  %-10s %7s %6s  %s", "limit", "value", "value", "value", "",
                 "caution", "danger", "breach");
    tl_page_put(p, 1, 0, &w);
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *v = &o->verdict->limit[i];
        if (!is_told(o, i))
            continue;
        temperature = temperature || i >= TL_LIMIT_COLD;
        struct quantity name;
        const bool an_hour = i == TL_LIMIT_NO2 || i == TL_LIMIT_CHLORINE;
        if (i == TL_LIMIT_NH3) /* all of it does not fit; the charts mark its highest moment */
            snprintf(name.text, sizeof name.text, "un-ionised, 1 hour");
        else
            snprintf(name.text, sizeof name.text, "%s%s", short_name[i],
                     an_hour ? " (1 hour)" : "");
        tl_text_addf(&w, "%-18s %7s %7s %6s  %-10s %7s %6s  %s", name.text,
                     show(in_units(i, units, v->worst)).text,
                     show(in_units(i, units, v->caution)).text,
                     show(in_units(i, units, v->danger)).text, show_day(o, v->worst_d).text,
                     tl_hours_text(v->hours_caution).text, tl_hours_text(v->hours_danger).text,
                     show_day(o, v->first_breach_d).text);
        tl_page_put(p, 1, 0, &w);
    }
    tl_text_add(&w, "mg/L; nitrogen as N, alkalinity as CaCO3; ");
    if (temperature)
        tl_text_addf(&w, "water in %s; ", tl_display_unit(TL_DIM_TEMPERATURE, units));
    tl_text_add(&w, "d: day; worst: against its limit then");
    tl_page_put(p, 2, 0, &w);
}

/* --- media --------------------------------------------------------------------------------- */

/* Only warned of: how much of it forms is not reckoned. */
static void write_sulfide(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_bed_result *b = o->bed;
    struct tl_text w = {0};
    if (!b || !tl_bed_sulfide(b))
        return;
    tl_text_add(&w, "Hydrogen sulfide can form:");
    if (!isnan(b->bed.first_d))
        tl_text_addf(&w, " media without oxygen and nitrate for up to %s on end, first on %s%s",
                     tl_hours_span(b->bed.longest_h).text, show_day(o, b->bed.first_d).text,
                     isnan(b->chamber.first_d) ? "" : ";");
    if (!isnan(b->chamber.first_d))
        tl_text_addf(&w, " settling chamber without %s for up to %s on end, first on %s",
                     isnan(b->bed.first_d) ? "oxygen and nitrate" : "them",
                     tl_hours_span(b->chamber.longest_h).text,
                     show_day(o, b->chamber.first_d).text);
    tl_text_add(&w,
                ". It kills fish and people, and is not reckoned here. Where it smells of rotten "
                "eggs, or did and no longer does, keep out, call for ventilation and for help; "
                "do not stir up sludge or media with fish in the water.");
    tl_page_put_whole(p, 6, 0, &w);
}

/* --- heat --------------------------------------------------------------------------------- */

static void write_ice(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_heat_summary *h = o->heat;
    struct tl_text w = {0};
    if (!h || !(h->ice_h > 0 || h->frost_h > 0 || h->tray_ice_h > 0))
        return;
    if (h->ice_h > 0) {
        tl_text_addf(&w, "The water freezes from %s on, up to %s of ice",
                     show_day(o, h->ice_d).text, weight(units, 1000 * h->most_ice_kg).text);
        if (!isnan(h->frozen_d))
            tl_text_addf(&w, ", frozen to the bottom on %s", show_day(o, h->frozen_d).text);
        tl_text_add(&w,
                    h->fish_ice_h > 0 ? ": fish in it are in danger." : ", with no fish in it.");
        tl_text_add(&w, " No air comes through ice: only aerator and tower bring oxygen.");
    }
    if (h->frost_h > 0)
        tl_text_addf(&w,
                     "%sAir below %s for %s with the tower running, first on %s: ice can form "
                     "on trays and pipes, weigh the stack down and empty the tank.",
                     w.length > 0 ? " " : "", quantity(TL_DIM_TEMPERATURE, units, 0).text,
                     tl_hours_span(h->frost_h).text, show_day(o, h->frost_d).text);
    if (h->tray_ice_h > 0)
        tl_text_addf(&w, "%sWater freezes in the trays for %s%s.", w.length > 0 ? " " : "",
                     tl_hours_span(h->tray_ice_h).text,
                     h->tray_ice_h > h->frost_h ? ", in air above freezing as well: it evaporates"
                                                : "");
    tl_page_put_whole(p, 5, 0, &w);
}

static struct shown kwh(double joule)
{
    return show(fabs(joule) < 0.5e6 ? 0 : joule / 3.6e6);
}

static void write_heat(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_heat_summary *h = o->heat;
    const struct tl_scenario *s = o->scenario;
    const enum tl_dim t = TL_DIM_TEMPERATURE;
    struct tl_text w = {0};
    if (!h)
        return;
    tl_text_addf(&w, "Water %s (%s) to %s (%s), air %s to %s. ",
                 quantity(t, units, h->lowest_degC).text, show_day(o, h->lowest_d).text,
                 quantity(t, units, h->highest_degC).text, show_day(o, h->highest_d).text,
                 quantity(t, units, h->air_lowest_degC).text,
                 quantity(t, units, h->air_highest_degC).text);
    tl_text_addf(&w, "Evaporation %s a day, most %s on %s; top-up %s in all.",
                 volume(units, h->evaporated_m3 / s->setup.length_d).text,
                 volume(units, h->most_evaporated_m3_d).text,
                 show_day(o, h->most_evaporated_d).text, volume(units, h->top_up_m3).text);
    tl_page_put_whole(p, 3, 2, &w);

    const double *j = h->flow_j;
    tl_text_addf(
        &w, "Heat, kWh, evaporation included: sun %s, tower %s, surface %s, walls %s, new water %s",
        kwh(j[TL_HEAT_SUN]).text, kwh(j[TL_HEAT_TOWER]).text,
        kwh(j[TL_HEAT_LONG_WAVE] + j[TL_HEAT_EVAPORATION] + j[TL_HEAT_CONVECTION]).text,
        kwh(j[TL_HEAT_WALLS]).text, kwh(j[TL_HEAT_SOURCE_WATER] + j[TL_HEAT_TOP_UP]).text);
    if (s->setup.heater.power_w > 0) {
        const double price = s->costs.electricity_per_kwh;
        tl_text_addf(&w, ", heater %s", kwh(j[TL_HEAT_HEATER]).text);
        if (!isnan(price))
            tl_text_addf(&w, " for %s%s%s", show(j[TL_HEAT_HEATER] / 3.6e6 * price).text,
                         *s->costs.currency ? " " : "", s->costs.currency);
        if (h->heater_short_h > 0)
            tl_text_addf(&w, ", too weak for %s", tl_hours_span(h->heater_short_h).text);
    }
    tl_text_add(&w, "; losses negative.");
    tl_page_put_whole(p, 3, 2, &w);
}

static void write_cold_meals(struct tl_page *p, const struct tl_outcome *o,
                             enum tl_unit_system units)
{
    const struct tl_given_watch *g = o->given;
    struct tl_text w = {0};
    if (!(g->cold_feed_g > 0))
        return;
    const struct quantity least = quantity(TL_DIM_TEMPERATURE, units, TL_TOO_COLD_TO_FEED_DEGC);
    tl_text_addf(&w,
                 "Fed in water below %s: %s g, first on %s, in water down to %s. Koi and carp "
                 "hardly digest it there: stop feeding below %s.",
                 least.text, show(g->cold_feed_g).text, show_day(o, g->cold_feed_d).text,
                 quantity(TL_DIM_TEMPERATURE, units, g->cold_feed_degC).text, least.text);
    tl_page_put_whole(p, 2, 0, &w);
}

static void write_empty(struct tl_page *p, const struct tl_outcome *o)
{
    struct tl_text w = {0};
    if (!(o->verdict->hours_empty > 0))
        return;
    tl_text_addf(&w, "Limits count while fish are in: from %s on; %s days without fish.",
                 show_day(o, o->verdict->occupied_from_d).text,
                 show(o->verdict->hours_empty / 24).text);
    tl_page_put_whole(p, 1, 0, &w);
}

/* Soda given by the evening of a day raises the pH as well. */
static bool soda_by(const struct tl_outcome *o, double t_d)
{
    const struct tl_setup *s = &o->scenario->setup;
    bool any = o->doses && o->doses->held_times > 0 && s->dosing.hold_alkalinity_eq_m3 > 0;
    for (size_t i = 0; i < s->events; i++)
        any = any || (s->event[i].kind == TL_EVENT_DOSE &&
                      s->event[i].dose == TL_DOSE_BAKING_SODA && s->event[i].at_d < floor(t_d) + 1);
    return any;
}

/* Water from the tap or a well holds more carbon dioxide than a tank with a tower keeps. */
static void write_settling(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_limit_verdict *swing = &o->verdict->limit[TL_LIMIT_PH_SWING];
    const struct tl_limit_verdict *co2 = &o->verdict->limit[TL_LIMIT_CO2];
    if (swing->grade == TL_WITHIN || !(swing->worst_d < 1) || !(co2->worst_d < 1) ||
        soda_by(o, swing->worst_d) || (o->algae && o->algae->green))
        return;
    tl_page_wrap(p, 2, 0,
                 "pH swing on day 0: the tower drives carbon dioxide out of the fresh water at the "
                 "start. For a tank in use, put its own pH under `starting water`.");
}

static void write_algae(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_algae_result *a = o->algae;
    struct tl_text w = {0};
    if (!a || !a->sunny)
        return;
    const bool spread = a->top_cover >= SCANT || !isnan(a->half_covered_d);
    if (spread)
        tl_text_addf(&w, "Algae cover %s %% of the top tray at the end",
                     show(100 * a->top_cover).text);
    if (!isnan(a->half_covered_d))
        tl_text_addf(&w, ", half of it first on %s", show_day(o, a->half_covered_d).text);
    if (a->nitrogen_share >= SCANT)
        tl_text_addf(&w, "%s kept %s %% of the nitrogen", spread ? "; they" : "Algae",
                     show(100 * a->nitrogen_share).text);
    else if (a->nitrogen_share <= -SCANT)
        tl_text_addf(&w, "%s gave back %s g of nitrogen more than they took",
                     spread ? "; they" : "Algae", show(-a->nitrogen_g).text);
    if (!tl_text_is_empty(&w))
        tl_text_add(&w, ".");
    /* told only where no shade was tried */
    if (!isnan(a->half_covered_d) && o->scenario->setup.sun.shaded == 0)
        tl_text_add(&w, " Half shade does not stop them: it takes 95 % or more, of something that "
                        "lets air through.");
    if (!tl_text_is_empty(&w))
        tl_page_put_whole(p, 3, 2, &w);
    if (!a->green)
        return;
    tl_text_addf(&w,
                 "Green water: within a day oxygen moves by up to %s mg/L, pH by up to %s. A bloom "
                 "can die in a day and take the oxygen with it; this is not reckoned.",
                 show(a->o2_swing_g_m3).text, show(a->ph_swing).text);
    tl_text_addf(&w, " Rotting, its %s mg/L as COD would take up to as much oxygen",
                 show(a->green_most_g_m3).text);
    if (o->daily && !isnan(o->daily->worst.o2))
        tl_text_addf(&w, "; the water held %s at its lowest", show(o->daily->worst.o2).text);
    tl_text_add(&w, ".");
    tl_page_put_whole(p, 4, 2, &w);
}

/* " But nitrite is beyond caution after that, until 06-20 d57: test daily, feed little." */
static void add_after_ready(struct tl_text *w, const struct tl_outcome *o,
                            const struct tl_after_ready *a)
{
    if (!a->nh3 && !a->no2)
        return;
    tl_text_addf(w, " But %s beyond caution after that, ",
                 a->nh3 && a->no2 ? "un-ionised ammonia and nitrite are"
                 : a->nh3         ? "un-ionised ammonia is"
                                  : "nitrite is");
    if (isnan(a->within_d))
        tl_text_add(w, "with no week within it by the end");
    else
        tl_text_addf(w, "until %s", show_day(o, a->within_d).text);
    tl_text_add(w, ": test daily, feed little.");
}

static void write_ready(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_scenario *s = o->scenario;
    struct tl_text w = {0};
    if (s->setup.tower.biofilm == TL_BIOFILM_MATURE)
        return;
    struct shown tan = show(s->limits.ready_tan), no2 = show(s->limits.ready_no2);
    tl_filter_unproven(o->verdict, &w);
    if (!tl_text_is_empty(&w))
        p->most++; /* it takes two lines */
    if (tl_text_is_empty(&w) && isnan(o->verdict->filter_ready_d))
        tl_text_addf(&w, "The filter is not ready by the end: ammonia %s, nitrite %s not held.",
                     tan.text, no2.text);
    else if (tl_text_is_empty(&w))
        tl_text_addf(&w, "The filter is ready from %s on: ammonia within %s, nitrite within %s.",
                     show_day(o, o->verdict->filter_ready_d).text, tan.text, no2.text);
    if (o->jobs)
        add_after_ready(&w, o, &o->jobs->after);
    tl_page_put_whole(p, 4, 2, &w);
}

/* --- room on the page ------------------------------------------------------------------------- */

#define LEDGER_LINES  5
#define CAUTION_LINES 2
#define LEAST_COST    0.01 /* of money: less is not told */
#define POINTER_LINES 1    /* to what found no room */

#define MOST_LINES          40
#define MOST_LINES_OUTDOORS 48 /* of ice, heat and green water there is more to say */

/* "; costs 1447 EUR more to run these 243 days" */
static void add_cost(struct tl_text *w, const struct tl_scenario *s, double more, const char *what)
{
    if (fabs(more) >= LEAST_COST)
        tl_text_addf(w, "; costs %s%s%s %s to %s", show(fabs(more)).text,
                     *s->costs.currency ? " " : "", s->costs.currency, more > 0 ? "more" : "less",
                     what);
}

static void add_advice(struct tl_text *w, const struct tl_outcome *o,
                       const struct tl_advice_text *a)
{
    const struct tl_scenario *s = o->scenario;
    struct quantity run;
    snprintf(run.text, sizeof run.text, "run these %s days", show(s->setup.length_d).text);
    tl_text_addf(w, "- %s: %s", a->lever, a->because);
    add_cost(w, s, a->build_more, "build");
    add_cost(w, s, a->run_more, run.text);
}

/* Lines that the first of the advice would take, or that there is none. */
static int best_advice_lines(const struct tl_outcome *o)
{
    struct tl_text w = {0};
    if (o->advices == 0)
        return o->tried > 0;
    add_advice(&w, o, &o->advice[0]);
    const int lines = 1 + lines_of(tl_text_string(&w));
    tl_text_free(&w);
    return lines;
}

/* Lines that all of the advice would take. */
static int advice_lines(const struct tl_outcome *o)
{
    int lines = best_advice_lines(o) + (o->limiting && *o->limiting ? 2 : 0);
    for (size_t i = 1; i < o->advices; i++) {
        struct tl_text w = {0};
        add_advice(&w, o, &o->advice[i]);
        lines += lines_of(tl_text_string(&w));
        tl_text_free(&w);
    }
    return lines;
}

/* A sentence that stands there only while `reserved` lines and the end of the page keep their room.
 * summary.json has it in any case. Empties the text. */
static void put_beside(struct tl_page *p, int reserved, struct tl_text *w)
{
    const int lines = lines_of(tl_text_string(w));
    p->failed = p->failed || w->failed;
    if (p->lines + lines + reserved + CAUTION_LINES + POINTER_LINES <= p->most) {
        tl_page_put(p, lines, 2, w);
        return;
    }
    tl_text_free(w);
    p->left_out = true;
}

/* An `urgent` sentence leaves room for the best advice only, another one for all of it and the ledger. */
static void put_if_room(struct tl_page *p, const struct tl_outcome *o, bool urgent,
                        struct tl_text *w)
{
    put_beside(p, urgent ? best_advice_lines(o) : advice_lines(o) + LEDGER_LINES, w);
}

#define LITTLE_O2    3.0  /* g/m3 */
#define MUCH_AIRLESS 0.25 /* of the film */

/* What is worth more room than the ledger comes before it, the rest after it. */
static void write_bed(struct tl_page *p, const struct tl_outcome *o, bool pressing)
{
    const struct tl_bed_result *b = o->bed;
    struct tl_text w = {0};
    if (!b || isnan(b->least_o2.value))
        return;
    const bool presses =
        b->submerged || b->least_o2.value < LITTLE_O2 || b->most_airless.value > MUCH_AIRLESS;
    if (presses != pressing)
        return;
    tl_text_addf(&w,
                 "%s: oxygen at least %s mg/L (tray %d), voids filled up to %s %% (tray %d), film "
                 "without oxygen up to %s %% (tray %d).",
                 b->submerged ? "Media under water" : "Media in air",
                 show(round(100 * b->least_o2.value) / 100).text, b->least_o2.tray,
                 show(100 * b->most_filled.value).text, b->most_filled.tray,
                 show(100 * b->most_airless.value).text, b->most_airless.tray);
    put_beside(p, pressing ? best_advice_lines(o) : advice_lines(o), &w);
}

/* --- ledger ------------------------------------------------------------------------------- */

/* NAN: not booked. */
static double amount(const struct tl_ledger_account *a, enum tl_ledger_side side, const char *key)
{
    for (size_t i = 0; i < a->lines; i++) {
        if (a->line[i].side == side && strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    }
    return NAN;
}

static struct shown booked(const struct tl_ledger_account *a, enum tl_ledger_side side,
                           const char *key)
{
    return show(amount(a, side, key));
}

/* ", algae 12", where there is any. */
static void add_booked(struct tl_text *w, const char *before, const struct tl_ledger_account *a,
                       enum tl_ledger_side side, const char *key)
{
    if (fabs(amount(a, side, key)) >= BOOKED_G)
        tl_text_addf(w, "%s %s", before, booked(a, side, key).text);
}

static void write_ledger(struct tl_page *p, const struct tl_outcome *outcome)
{
    const struct tl_ledger *l = outcome->ledger;
    const struct tl_ledger_account *n = &l->nitrogen, *o = &l->oxygen;
    struct tl_text w = {0};

    tl_text_addf(&w,
                 "Nitrogen, g: fed %s; excreted %s, in solids %s, retained by fish %s (by "
                 "difference); oxidised in tower %s, on tank wall %s, on chamber wall %s; out with "
                 "water %s",
                 booked(n, TL_LEDGER_IN, "feed").text, booked(n, TL_LEDGER_NOTE, "excreted").text,
                 booked(n, TL_LEDGER_NOTE, "faeces").text,
                 booked(n, TL_LEDGER_OUT, "retained_by_fish").text,
                 booked(n, TL_LEDGER_NOTE, "oxidised_tower").text,
                 booked(n, TL_LEDGER_NOTE, "oxidised_tank_wall").text,
                 booked(n, TL_LEDGER_NOTE, "oxidised_chamber_wall").text,
                 booked(n, TL_LEDGER_OUT, "water").text);
    add_booked(&w, ", as nitrogen gas", n, TL_LEDGER_OUT, "nitrogen_gas");
    add_booked(&w, ", with green water", n, TL_LEDGER_OUT, "green_water");
    add_booked(&w, ", hosed off with algae", n, TL_LEDGER_OUT, "hosed_algae");
    add_booked(&w, "; from dead fish", n, TL_LEDGER_IN, "dead_fish");
    tl_text_addf(&w, "; more in store %s.", show(n->stored).text);
    put_beside(p, best_advice_lines(outcome), &w);

    tl_text_addf(&w, "Oxygen, g: in by tank surface %s, aerator %s, tower %s",
                 booked(o, TL_LEDGER_IN, "tank_surface").text,
                 booked(o, TL_LEDGER_IN, "aerator").text, booked(o, TL_LEDGER_IN, "tower").text);
    add_booked(&w, ", algae in the light", o, TL_LEDGER_IN, "algae");
    tl_text_addf(&w, "; used by fish %s, nitrifiers %s, heterotrophs %s, sludge %s",
                 booked(o, TL_LEDGER_OUT, "fish").text, booked(o, TL_LEDGER_OUT, "nitrifiers").text,
                 booked(o, TL_LEDGER_OUT, "heterotrophs").text,
                 booked(o, TL_LEDGER_OUT, "sludge").text);
    add_booked(&w, ", formaldehyde", o, TL_LEDGER_OUT, "formaldehyde");
    add_booked(&w, ", algae", o, TL_LEDGER_OUT, "algae");
    tl_text_add(&w, ".");
    put_beside(p, best_advice_lines(outcome), &w);

    /* where nothing has to be advised there is room for it */
    if (outcome->advices > 0)
        return;
    const struct tl_ledger_account *a = &l->alkalinity;
    tl_text_addf(&w, "Alkalinity, eq: source water %s, doses %s, fish %s; nitrification takes %s.",
                 booked(a, TL_LEDGER_IN, "source_water").text,
                 booked(a, TL_LEDGER_IN, "doses").text, booked(a, TL_LEDGER_IN, "fish").text,
                 booked(a, TL_LEDGER_OUT, "nitrification").text);
    put_beside(p, advice_lines(outcome), &w);
}

/* --- the days, chlorine and doses ------------------------------------------------------------ */

/* "05-13 d12, 07:40", or only its end */
static struct quantity show_time(const struct tl_outcome *o, double t_d, bool day)
{
    struct quantity q;
    const struct tl_date date = tl_date_at(&o->scenario->start, t_d);
    snprintf(q.text, sizeof q.text, "%s%s%02d:%02d", day ? show_day(o, t_d).text : "",
             day ? ", " : "", date.second / 3600, date.second / 60 % 60);
    return q;
}

static void write_worst_day(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_day *d = o->daily ? &o->daily->worst : NULL;
    const struct tl_limit_verdict *v = o->verdict->limit;
    const bool breached = v[TL_LIMIT_O2].grade > TL_WITHIN || v[TL_LIMIT_CO2].grade > TL_WITHIN ||
                          v[TL_LIMIT_PH_LOW].grade > TL_WITHIN;
    struct tl_text w = {0};
    if (!d || isnan(d->o2))
        return;
    tl_text_addf(
        &w, "Day of least oxygen, %s: %s at %s; pH down to %s; momentary CO2 from %s to %s, at %s",
        show_day(o, d->o2_d).text, show(d->o2).text, show_time(o, d->o2_d, false).text,
        show(d->ph_least).text, show(d->co2_least).text, show(d->co2_most).text,
        show_time(o, d->co2_most_d, false).text);
    put_if_room(p, o, breached, &w);
}

static void write_spring(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_limit_verdict *v = o->verdict->limit;
    const bool breached = v[TL_LIMIT_NH3].grade > TL_WITHIN || v[TL_LIMIT_NO2].grade > TL_WITHIN ||
                          v[TL_LIMIT_TAN_ACUTE].grade > TL_WITHIN;
    struct tl_text w = {0};
    if (!o->daily || isnan(o->daily->spring_tan))
        return;
    tl_text_addf(&w, "Spring: highest moment of ammonia %s mg/L on %s, in water of %s.",
                 show(o->daily->spring_tan).text, show_day(o, o->daily->spring_d).text,
                 quantity(TL_DIM_TEMPERATURE, units, o->daily->spring_degC).text);
    put_if_room(p, o, breached, &w);
}

static struct quantity crystals(const struct tl_setup *s, enum tl_unit_system units,
                                double volume_m3)
{
    return weight(units, tl_thiosulfate_g(s, volume_m3));
}

/* The share of the tank that is changed at once, by plan or at the most by an event. */
static double share_changed(const struct tl_setup *s)
{
    double share = s->change_every_d > 0 ? s->change_amount : 0;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_WATER_CHANGE)
            share = fmax(share, s->event[i].value);
    return share;
}

static bool empties_chamber(const struct tl_setup *s)
{
    bool any = s->emptying.every_d > 0;
    for (size_t i = 0; i < s->events; i++)
        any = any || s->event[i].kind == TL_EVENT_CLEAN_CHAMBER;
    return any;
}

static void write_dechlorinator(struct tl_page *p, const struct tl_outcome *o,
                                enum tl_unit_system units)
{
    const struct tl_setup *s = &o->scenario->setup;
    const double share = share_changed(s);
    const bool empties = empties_chamber(s), tops_up = o->heat && o->heat->top_up_m3 > 0;
    struct tl_text w = {0};
    if (!(s->source.water[TL_HOCL] > 0) || !(share > 0 || empties || s->trickle_1_d > 0 || tops_up))
        return;
    tl_text_addf(&w, "Sodium thiosulfate %s:", s->source.dechlorinated ? "used" : "needed");
    if (share > 0)
        tl_text_addf(&w, " %s for a change of %s %%,",
                     crystals(s, units, share * s->tank.volume_m3).text, show(100 * share).text);
    if (empties)
        tl_text_addf(&w, " %s for a refill of the settling chamber,",
                     crystals(s, units, s->chamber.volume_m3).text);
    if (s->trickle_1_d > 0)
        tl_text_addf(&w, " %s a day for the trickle,",
                     crystals(s, units, s->trickle_1_d * s->tank.volume_m3).text);
    if (tops_up)
        tl_text_addf(&w, " up to %s a day for the top-up,",
                     crystals(s, units, fmax(o->heat->most_evaporated_m3_d, 0)).text);
    tl_text_addf(&w, " before fish meet it");
    if (o->doses && o->doses->mass_g[TL_DOSE_THIOSULFATE] > 0)
        tl_text_addf(&w, "; dosed in all of the run: %s",
                     weight(units, o->doses->mass_g[TL_DOSE_THIOSULFATE]).text);
    tl_text_add(&w, ".");
    put_if_room(p, o, true, &w);
}

/* How often media were rinsed in chlorine, and the rinse that killed most. */
static void write_rinses(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    const struct tl_event *worst = NULL;
    double most = 0, most_killed = 0;
    int rinses = 0;
    struct tl_text w = {0};
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        const double killed = tl_chlorine_kill(&s->params, s->source.water[TL_HOCL], e->contact_d);
        const double of_all = e->kind == TL_EVENT_CLEAN_TRAYS ? killed : killed / s->tower.trays;
        if (!e->tap_water || !(killed > 0))
            continue;
        rinses++;
        if (of_all > most) {
            most = of_all;
            most_killed = killed;
            worst = e;
        }
    }
    if (!worst)
        return;
    tl_text_add(&w, "Rinsing in tap water killed ");
    if (rinses > 1)
        tl_text_addf(&w, "film %d times, at most ", rinses);
    tl_text_addf(&w, "%s %% of the film on ", show(100 * most_killed).text);
    if (worst->kind == TL_EVENT_CLEAN_TRAYS)
        tl_text_add(&w, "all trays");
    else
        tl_text_addf(&w, "tray %d", worst->tray);
    tl_text_addf(&w, " (%s); use pond water.", show_day(o, worst->at_d).text);
    put_if_room(p, o, true, &w);
}

#define MUCH_KILLED 0.2 /* of the film, by chlorine that fish may not feel */

static void write_chlorine(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_setup *s = &o->scenario->setup;
    const struct tl_daily *d = o->daily;
    struct tl_text w = {0};
    const double killed_by_water =
        o->doses ? tl_chlorine_kill(&s->params, o->doses->chlorine_g_d_m3, 1) : 0;
    if (d && d->chlorine > 0 &&
        (killed_by_water > MUCH_KILLED || !(d->chlorine <= o->scenario->limits.chlorine.caution))) {
        tl_text_addf(
            &w,
            "Chlorine at most %s mg/L at a moment, %s (above: a mean of 1 h; US EPA: 0.019 "
            "for 1 h, 0.011 for 4 d); in all it kills up to %s %% of the film.",
            show(d->chlorine).text, show_time(o, d->chlorine_d, true).text,
            show(100 * killed_by_water).text);
        put_if_room(p, o, true, &w);
    }
    const double left = o->ledger ? amount(&o->ledger->nitrogen, TL_LEDGER_IN, "chloramine") : 0;
    if (left > 0) {
        tl_text_addf(&w, "The chloramine left %s of ammonia, as N.", weight(units, left).text);
        put_if_room(p, o, true, &w);
    }
    write_rinses(p, o);
}

/* Only what the scenario does not say by itself. */
static void write_doses(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    const struct tl_setup *s = &o->scenario->setup;
    const struct tl_doses *d = o->doses;
    const double weeks = (o->end_d - s->start_d) / 7;
    size_t unneeded = 0;
    struct tl_text w = {0};
    if (d && s->dosing.hold_alkalinity_eq_m3 > 0) {
        tl_text_addf(&w, "Baking soda to hold the alkalinity: %s in all",
                     weight(units, d->held_g).text);
        if (d->held_times > 0)
            tl_text_addf(&w, ", %s a week, most %s on %s", weight(units, d->held_g / weeks).text,
                         weight(units, d->held_most_g).text, show_day(o, d->held_most_d).text);
        if (d->held_short > 0)
            tl_text_addf(&w, "; too little was allowed %s time%s", show(d->held_short).text,
                         d->held_short > 1 ? "s" : "");
        tl_text_addf(&w, ".");
        put_if_room(p, o, true, &w);
    }
    for (size_t i = 0; d && i < d->measured && i < TL_DOSES_SHOWN; i++) {
        const struct tl_event *e = &s->event[d->event[i]];
        if (!(d->event_g[i] > 0)) {
            unneeded++;
            continue;
        }
        tl_text_add(&w, w.length == 0 ? "Dosed: " : ", ");
        if (e->dose == TL_DOSE_FORMALDEHYDE)
            tl_text_addf(&w, "%s (%s of %s) on %s", tl_formalin(units, d->event_g[i]).text,
                         weight(units, d->event_g[i]).text, tl_dose_name(e->dose),
                         show_day(o, e->at_d).text);
        else
            tl_text_addf(&w, "%s %s on %s", weight(units, d->event_g[i]).text,
                         tl_dose_name(e->dose), show_day(o, e->at_d).text);
    }
    if (unneeded > 0)
        tl_text_addf(&w, "%s no dose was needed %zu time%s", w.length == 0 ? "Dosed:" : ";",
                     unneeded, unneeded > 1 ? "s" : "");
    if (tl_text_is_empty(&w))
        return;
    if (d && d->measured > TL_DOSES_SHOWN)
        tl_text_addf(&w, "; and %zu more", d->measured - TL_DOSES_SHOWN);
    tl_text_addf(&w, ".");
    put_if_room(p, o, true, &w);
}

/* --- upkeep ---------------------------------------------------------------------------------- */

#define WRAP_LOSS 20 /* columns that breaking at blanks may leave empty */

/* Whether a job is the first of its kind. */
static bool opens_kind(const struct tl_jobs *jobs, size_t at)
{
    for (size_t i = 0; i < at; i++)
        if (jobs->job[i].kind == jobs->job[at].kind && jobs->job[i].from == jobs->job[at].from)
            return false;
    return true;
}

/* The first jobs of each kind that come from there, as long as there is room. How many. */
static int add_jobs(struct tl_text *w, const struct tl_outcome *o, enum tl_unit_system units,
                    enum tl_job_from from, const char *lead, size_t columns)
{
    int added = 0;
    for (size_t i = 0; o->jobs && i < o->jobs->n; i++) {
        const struct tl_job *j = &o->jobs->job[i];
        struct tl_text more = {0};
        if (j->from != from || !opens_kind(o->jobs, i))
            continue;
        tl_text_addf(&more, "%s %s %s", added == 0 ? lead : ";", show_day(o, j->t_d).text,
                     tl_job_words(o->scenario, j, units).what);
        const bool fits =
            tl_utf8_width(tl_text_string(w)) + tl_utf8_width(tl_text_string(&more)) <= columns;
        if (fits)
            tl_text_add_text(w, 0, &more);
        added += fits;
        w->failed = w->failed || more.failed;
        tl_text_free(&more);
    }
    return added;
}

/* A line of the next jobs, or two where they push nothing out. What the run shows to be due comes before
 * all but the best of the advice; what the scenario plans anyway, where room is left. */
static void write_jobs(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    struct tl_text w = {0};
    const int end = p->most - CAUTION_LINES - POINTER_LINES;
    const int all = advice_lines(o) + LEDGER_LINES;
    const int lines = p->lines + 2 + all <= end ? 2 : 1;
    const size_t columns = (size_t)(lines * TL_PAGE_COLUMNS - (lines - 1) * WRAP_LOSS);
    tl_text_add(&w, "In calendar.csv,");
    const int due = add_jobs(&w, o, units, TL_JOB_FROM_RUN, " due:", columns);
    const int planned =
        add_jobs(&w, o, units, TL_JOB_FROM_PLAN, due > 0 ? "; planned:" : " planned:", columns);
    const int limiting = o->limiting && *o->limiting ? 2 : 0;
    const int reserved = due > 0 ? best_advice_lines(o) + limiting + LEDGER_LINES : all;
    if (due + planned > 0 && p->lines + lines + reserved <= end)
        tl_page_put(p, lines, 2, &w);
    tl_text_free(&w);
}

/* --- shocks ------------------------------------------------------------------------------------ */

#define SHOCK_SHOWS_D 14 /* ammonia and nitrite are worst days to two weeks after film died */
#define MISHAP_D      7  /* longer, and the tower was switched off on purpose */

#define DRY_TOLD_H 0.1 /* less is nothing */

static void write_stills(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_stills *s = o->stills;
    struct tl_text w = {0};
    if (!s || s->count == 0 || !(s->longest_d > 0))
        return;
    if (s->count > 1)
        tl_text_addf(&w, "Tower without water %zu times, longest ", s->count);
    else
        tl_text_add(&w, "Tower without water once, ");
    tl_text_addf(&w, "%s (%s); its media stay ", tl_hours_span(24 * s->longest_d).text,
                 show_day(o, s->longest_at_d).text);
    if (isfinite(s->moist_d))
        tl_text_addf(&w, "moist for %s%s", s->count > 1 ? "at least " : "",
                     tl_hours_span(24 * s->moist_d).text);
    else
        tl_text_add(&w, "under water, which runs out of oxygen");
    if (24 * s->dry_d >= DRY_TOLD_H)
        tl_text_addf(&w, ", then film died in dry media for %s", tl_hours_span(24 * s->dry_d).text);
    tl_text_add(&w, ".");
    put_if_room(p, o, s->dry_d > 0 && s->longest_d < MISHAP_D, &w);
}

/* "after 3.1 d", or that it was not. */
static struct quantity back(double after_d)
{
    struct quantity q;
    if (isnan(after_d))
        snprintf(q.text, sizeof q.text, "not by the end");
    else
        snprintf(q.text, sizeof q.text, "after %.1f d", after_d);
    return q;
}

static void write_shocks(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    struct tl_text w = {0};
    for (size_t i = 0; o->shocks && i < o->shocks->count && i < TL_SHOCKS_SHOWN; i++) {
        const struct tl_shock *k = &o->shocks->of[i];
        const struct tl_event *e = &s->event[k->event];
        tl_text_addf(&w, "Shock, %s: %s", show_day(o, k->at_d).text,
                     e->kind == TL_EVENT_DOSE ? tl_dose_name(e->dose) : "film knocked out");
        if (k->times > 1)
            tl_text_addf(&w, " and %zu more before it was back", k->times - 1);
        tl_text_addf(
            &w,
            "; %s %% of the ammonia oxidisers died. Back at %.0f %%: ammonia oxidation %s, "
            "the oxidisers %s. From then on, highest moments: ammonia %s on %s, nitrite %s on %s.",
            show(100 * k->killed).text, 100 * TL_SHOCK_BACK, back(k->oxidation_d).text,
            back(k->oxidisers_d).text, show(k->tan).text, show_day(o, k->tan_d).text,
            show(k->no2).text, show_day(o, k->no2_d).text);
        const double left_d = s->start_d + s->length_d - k->at_d;
        if (isnan(k->oxidation_d) && left_d < SHOCK_SHOWS_D)
            tl_text_addf(&w,
                         " The run ends %.1f d after it, before all the harm can show: ask for a "
                         "longer one.",
                         left_d);
        put_if_room(p, o, true, &w);
    }
    if (!tl_setup_gives_medicine(s))
        return;
    tl_text_add(&w,
                "Medicine is for a veterinarian to decide: what it does to fish is not reckoned "
                "here. Never mix, read the label, aerate; not every drug is legal everywhere.");
    put_if_room(p, o, true, &w);
}

/* --- what helps, and cautions -------------------------------------------------------------- */

/* The best of it is there in any case; more of it whole or not at all. */
static void write_advice(struct tl_page *p, const struct tl_outcome *o)
{
    struct tl_text w = {0};
    const int room = p->most - CAUTION_LINES;
    if (o->limiting && *o->limiting) {
        tl_text_addf(&w, "What limits: %s", o->limiting);
        put_beside(p, best_advice_lines(o), &w);
    }
    if (o->advices > 0)
        tl_page_wrap(p, 1, 0, "What helps (each one was tried in a run of its own):");
    else if (o->tried > 0)
        tl_page_wrap(p, 1, 0, "Nothing that was tried helps enough, each in a run of its own.");
    for (size_t i = 0; i < o->advices; i++) {
        add_advice(&w, o, &o->advice[i]);
        const bool last = i + 1 == o->advices && !p->left_out;
        const int left = room - (last ? 0 : POINTER_LINES) - p->lines;
        if (i > 0 && lines_of(tl_text_string(&w)) > left) {
            p->left_out = true;
            break;
        }
        tl_page_put(p, left, 2, &w);
    }
    tl_text_free(&w);
    if (p->left_out)
        tl_page_wrap(p, POINTER_LINES, 0, "The rest of this answer is in summary.json.");
}

static bool uses_chemicals(const struct tl_setup *s)
{
    for (size_t i = 0; i < s->events; i++) {
        if (s->event[i].kind == TL_EVENT_DOSE)
            return true;
    }
    return s->source.water[TL_HOCL] > 0 || s->dosing.hold_alkalinity_eq_m3 > 0;
}

/* --- solids ----------------------------------------------------------------------------------- */

#define LONG_D       60.0
#define MUCH_LEACHED 0.05 /* of the ammonia, that sludge gives back */

static void write_voids(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_solids_result *r = o->solids;
    int tray = 0;
    const double from_d = tl_solids_voids_day(r, o->scenario->setup.params.voids_open, &tray);
    const double ponds_d = tl_solids_voids_day(r, TL_VOIDS_PONDING, NULL);
    struct tl_text w = {0};
    if (isnan(from_d))
        return;
    tl_text_addf(&w,
                 "Trays clog: from %s on the water spreads less over tray %d; at most %s %% of the "
                 "voids of tray %d are filled (%s), which costs %s %% of its wetted area. ",
                 show_day(o, from_d).text, tray, show(100 * r->most_voids).text, r->most_voids_tray,
                 show_day(o, r->most_voids_d).text, show(100 * r->lost_area).text);
    if (!isnan(ponds_d))
        tl_text_addf(&w,
                     "From %s on it stands on a tray and may run over; where to is not "
                     "reckoned. ",
                     show_day(o, ponds_d).text);
    tl_text_addf(&w, "Rinse the trays in pond water by %s.", show_day(o, from_d).text);
    put_if_room(p, o, true, &w);
}

static void write_rinse_back(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_solids_result *r = o->solids;
    struct tl_text w = {0};
    if (isnan(r->rinsed_d))
        return;
    tl_text_addf(&w, "The rinse of %s took %s %% of the tower's ammonia oxidisers; ",
                 show_day(o, r->rinsed_d).text, show(100 * r->rinse_lost).text);
    if (isfinite(r->rinse_days))
        tl_text_addf(&w, "after %s days there were as many again.", show(r->rinse_days).text);
    else
        tl_text_add(&w, "by the end there were still fewer.");
    put_if_room(p, o, false, &w);
}

/* Before all else where it fills; else what it does, in a long run, where nothing wants the room. */
static void write_chamber(struct tl_page *p, const struct tl_outcome *o, bool urgent,
                          enum tl_unit_system units)
{
    const struct tl_solids_result *r = o->solids;
    const double half_d = tl_solids_chamber_day(r, 0.5), full_d = tl_solids_chamber_day(r, 0.9);
    const double excreted = amount(&o->ledger->nitrogen, TL_LEDGER_NOTE, "excreted");
    const double freed = amount(&o->ledger->nitrogen, TL_LEDGER_NOTE, "from_sludge");
    struct tl_text w = {0};
    if (isnan(half_d) == urgent || !isfinite(r->overflow_m_d) || !(r->overflow_m_d > 0) ||
        (!urgent && o->scenario->setup.length_d < LONG_D))
        return;
    tl_text_addf(&w,
                 "Settling chamber: %s %s/h over it; clean it keeps %s %% of the solids in a pass",
                 show(tl_display_value(TL_DIM_LENGTH, units, r->overflow_m_d / 24)).text,
                 tl_display_unit(TL_DIM_LENGTH, units), show(100 * r->pass_share).text);
    if (!isnan(r->caught_share))
        tl_text_addf(&w, "; it took %s %% of the solids that left the water",
                     show(100 * r->caught_share).text);
    if (!isnan(half_d))
        tl_text_addf(&w, "; half full of sludge on %s", show_day(o, half_d).text);
    if (!isnan(full_d))
        tl_text_addf(&w, ", 90 %% on %s: the solids pass on", show_day(o, full_d).text);
    if (!isnan(half_d))
        tl_text_add(&w, "; empty it by then");
    tl_text_add(&w, ".");
    if (freed > MUCH_LEACHED * excreted)
        tl_text_addf(
            &w, " Its sludge gave back up to %s g of ammonia nitrogen and %s g of organics a day.",
            show(r->sludge_tan_g_d).text, show(r->sludge_ss_g_d).text);
    if (!isnan(half_d))
        put_if_room(p, o, true, &w);
    else if (p->lines + lines_of(tl_text_string(&w)) + advice_lines(o) + CAUTION_LINES +
                 POINTER_LINES <=
             p->most)
        tl_page_put(p, TL_PAGE_LINES, 2, &w);
    tl_text_free(&w);
}

/* What a chamber that is emptied by plan did for a long run. */
static void write_kept_open(struct tl_page *p, const struct tl_outcome *o,
                            enum tl_unit_system units)
{
    const struct tl_solids_result *r = o->solids;
    const struct tl_setup *s = &o->scenario->setup;
    struct tl_text w = {0};
    if (s->length_d < LONG_D || !empties_chamber(s) ||
        r->most_voids >= fmin(s->params.voids_open, TL_DUE_TRAY_FILLED) ||
        !isnan(tl_solids_chamber_day(r, 0.5)))
        return;
    tl_text_addf(&w, "Trays stay open: at most %s %% of the voids of tray %d are filled (%s).",
                 show(100 * r->most_voids).text, r->most_voids_tray,
                 show_day(o, r->most_voids_d).text);
    if (s->chamber.volume_m3 > 0) {
        tl_text_addf(&w, " Settling chamber: at most %s %% sludge",
                     show(100 * r->most_chamber).text);
        if (s->emptying.every_d > 0)
            tl_text_addf(&w, ", emptied every %s",
                         quantity(TL_DIM_TIME, units, s->emptying.every_d).text);
        tl_text_add(&w, ".");
    }
    put_if_room(p, o, true, &w);
}

static void write_solids(struct tl_page *p, const struct tl_outcome *o, enum tl_unit_system units)
{
    if (!o->solids)
        return;
    write_voids(p, o);
    write_chamber(p, o, true, units);
    write_kept_open(p, o, units);
    write_rinse_back(p, o);
}

static void write_cautions(struct tl_page *p, const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    struct tl_text w = {0};
    if (s->pump_flow_m3_d > 0 || s->aerator_g_d > 0)
        tl_text_addf(&w, " Mains beside water: licensed electrician, local codes.");
    if (s->tower.trays * s->tower.media_depth_m > 0.75)
        tl_text_addf(&w, " Tall wet stack: brace it.");
    if (uses_chemicals(s))
        tl_text_addf(&w, " Chemicals: gloves, label, small doses.");
    if (tl_outcome_grade(o) != TL_WITHIN && tl_setup_ever_fish(s))
        tl_text_addf(&w, " Ailing fish: ask a veterinarian.");
    p->failed = p->failed || w.failed;
    if (w.length > 0)
        tl_page_wrap(p, CAUTION_LINES, 0, tl_text_string(&w) + 1);
    tl_text_free(&w);
}

bool tl_text_report(const struct tl_outcome *o, enum tl_unit_system units, FILE *f)
{
    const bool more = o->heat || (o->algae && o->algae->green);
    struct tl_page p = {.most = more ? MOST_LINES_OUTDOORS : MOST_LINES};
    for (int i = TL_LIMIT_COLD; i < TL_NLIMIT; i++)
        p.most += is_told(o, i);
    write_verdict(&p, o, units);
    write_ice(&p, o, units);
    write_sulfide(&p, o);
    tl_page_blank(&p);
    write_setup(&p, o, units);
    tl_page_blank(&p);
    write_limits(&p, o, units);
    write_empty(&p, o);
    write_cold_meals(&p, o, units);
    write_settling(&p, o);
    write_ready(&p, o);
    write_heat(&p, o, units);
    write_dechlorinator(&p, o, units);
    write_chlorine(&p, o, units);
    write_doses(&p, o, units);
    write_shocks(&p, o);
    write_stills(&p, o);
    write_spring(&p, o, units);
    write_worst_day(&p, o);
    write_solids(&p, o, units);
    write_algae(&p, o);
    write_bed(&p, o, true);
    write_jobs(&p, o, units);
    write_ledger(&p, o);
    write_bed(&p, o, false);
    if (o->solids)
        write_chamber(&p, o, false, units);
    write_advice(&p, o);
    write_cautions(&p, o);
    tl_page_print(&p, f);
    return !p.failed;
}
