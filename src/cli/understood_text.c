/* A scenario said back in words and in the units the keeper thinks in. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "build_sheet.h"
#include "costs.h"
#include "event_words.h"
#include "page.h"
#include "towerloop/settling.h"
#include "understood.h"

#define LABEL_COLUMNS 16
#define MOST_LINES    30
#define DIGITS        4
#define DAY_S         86400

#define LITTLE_FRICTION_M 0.001

/* Hands "Label   text" to whoever listens, or prints it in lines that fit; empties the text. */
static void say(const struct tl_understood *u, const char *label, struct tl_text *text)
{
    struct tl_text line = {0};
    struct tl_page page = {.lines = 0};
    if (u->hear) {
        u->hear(u->hear_arg, label, text->failed ? NULL : tl_text_string(text));
        tl_text_free(text);
        return;
    }
    tl_text_addf(&line, "%-*s", LABEL_COLUMNS, label);
    tl_text_add_text(&line, 0, text);
    tl_text_free(text);
    tl_page_put(&page, MOST_LINES, LABEL_COLUMNS, &line);
    tl_answer_page(stdout, &page);
}

static void add_quantity(struct tl_text *t, const char *before, enum tl_dim dim,
                         enum tl_unit_system units, double value, const char *behind)
{
    char shown[TL_SHOWN_SIZE];
    tl_display_text(dim, units, value, DIGITS, shown, sizeof shown);
    tl_text_addf(t, "%s%s%s", before, shown, behind);
}

struct plain {
    char text[TL_SHOWN_SIZE];
};

/* A number to so many digits, large ones written out. */
static struct plain plain(double value, int digits)
{
    struct plain p;
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, digits, p.text, sizeof p.text);
    return p;
}

/* "2027-05-01", with the clock time where it is not midnight. */
static void add_date(struct tl_text *t, const struct tl_date *d)
{
    tl_text_addf(t, "%04d-%02d-%02d", d->year, d->month, d->day);
    if (d->second > 0)
        tl_text_addf(t, " %02d:%02d", d->second / 3600, d->second / 60 % 60);
    if (d->second % 60 > 0)
        tl_text_addf(t, ":%02d", d->second % 60);
}

static void say_time(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_scenario *s = u->scenario;
    const struct tl_date end = tl_date_at(&s->start, u->end_d);
    add_date(&t, &s->start);
    tl_text_add(&t, " to ");
    add_date(&t, &end);
    add_quantity(&t, ", ", TL_DIM_TIME, units, s->setup.length_d, "");
    add_quantity(&t, "; a row of results every ", TL_DIM_TIME, units, s->report_every_d, "");
    say(u, "Time", &t);
}

static void add_shift(struct tl_text *t, double warmer_degC, enum tl_unit_system units)
{
    if (warmer_degC != 0)
        add_quantity(t, ", all taken ", TL_DIM_TEMPERATURE_SPAN, units, fabs(warmer_degC),
                     warmer_degC > 0 ? " warmer" : " colder");
}

/* A temperature that is given, of water or air; `file` has its readings. */
static void add_temperature(struct tl_text *t, const struct tl_understood *u,
                            const struct tl_temperature *given, enum tl_input file,
                            enum tl_unit_system units)
{
    const struct tl_scenario *s = u->scenario;
    const double mean_degC = given->mean_degC + given->warmer_degC;
    if (given->kind == TL_TEMPERATURE_CONSTANT) {
        add_quantity(t, "", TL_DIM_TEMPERATURE, units, mean_degC, " all the time");
    } else if (given->kind == TL_TEMPERATURE_SINES) {
        const struct tl_date warmest = tl_date_at(&s->start, floor(given->warmest_noon_d));
        add_quantity(t, "", TL_DIM_TEMPERATURE, units, mean_degC, " on average");
        if (given->seasonal_swing_degC > 0) {
            add_quantity(t, "; up to ", TL_DIM_TEMPERATURE_SPAN, units, given->seasonal_swing_degC,
                         "");
            tl_text_addf(t, " warmer and colder with the seasons, warmest on %02d-%02d",
                         warmest.month, warmest.day);
        }
        if (given->daily_swing_degC > 0)
            add_quantity(t, "; up to ", TL_DIM_TEMPERATURE_SPAN, units, given->daily_swing_degC,
                         " warmer and colder within the day");
    } else {
        double lo = INFINITY, hi = -INFINITY;
        for (size_t i = 0; i < given->readings.n; i++) {
            lo = fmin(lo, given->readings.y[i]);
            hi = fmax(hi, given->readings.y[i]);
        }
        tl_text_addf(t, "%zu readings from %s, ", given->readings.n, s->input[file]);
        add_quantity(t, "", TL_DIM_TEMPERATURE, units, lo, " to ");
        add_quantity(t, "", TL_DIM_TEMPERATURE, units, hi, "");
        add_shift(t, given->warmer_degC, units);
    }
}

static void add_day(struct tl_text *t, const struct tl_understood *u, double t_d)
{
    const struct tl_date date = tl_date_at(&u->scenario->start, t_d);
    tl_text_add(t, " on ");
    add_date(t, &(struct tl_date){date.year, date.month, date.day, 0});
}

static void say_temperature(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_heat_summary *h = &u->heat;
    if (!u->outdoors) {
        add_temperature(&t, u, &u->scenario->setup.temperature, TL_INPUT_TEMPERATURE, units);
    } else {
        tl_text_add(&t, "from the weather: ");
        add_quantity(&t, "", TL_DIM_TEMPERATURE, units, h->lowest_degC, "");
        add_day(&t, u, h->lowest_d);
        add_quantity(&t, ", ", TL_DIM_TEMPERATURE, units, h->highest_degC, "");
        add_day(&t, u, h->highest_d);
        if (h->ice_h > 0) {
            tl_text_add(&t, "; the water begins to freeze");
            add_day(&t, u, h->ice_d);
        }
    }
    say(u, "Temperature", &t);
}

static void add_log(struct tl_text *t, const char *lead, const struct tl_table *log,
                    enum tl_dim dim, enum tl_unit_system units, double value, const char *file)
{
    if (log->n > 0)
        tl_text_addf(t, "%s from %s", lead, file);
    else {
        tl_text_addf(t, "%s ", lead);
        add_quantity(t, "", dim, units, value, "");
    }
}

static void say_weather(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    const struct tl_weather *w = &s->weather;
    const char *file = u->scenario->input[TL_INPUT_WEATHER];
    if (!u->outdoors)
        return;
    tl_text_add(&t, "air ");
    add_temperature(&t, u, &w->air, TL_INPUT_WEATHER, units);
    add_log(&t, "; humidity", &w->log[TL_LOG_HUMIDITY], TL_DIM_FRACTION, units, w->humidity, file);
    add_log(&t, "; wind", &w->log[TL_LOG_WIND], TL_DIM_SPEED, units, w->wind_m_s, file);
    add_log(&t, "; cloud", &w->log[TL_LOG_CLOUD], TL_DIM_FRACTION, units, w->cloud, file);
    if (w->log[TL_LOG_SUN].n > 0)
        tl_text_addf(&t, "; sun from %s", file);
    else
        add_quantity(&t, "; latitude ", TL_DIM_ANGLE, units, w->latitude_deg, "");
    if (w->shade > 0)
        add_quantity(&t, "; shade keeps off ", TL_DIM_FRACTION, units, w->shade, " of the sun");
    say(u, "Weather", &t);
    add_quantity(&t, "", TL_DIM_VOLUME, units, u->heat.evaporated_m3 / s->length_d, " a day");
    add_quantity(&t, ", at most ", TL_DIM_VOLUME, units, u->heat.most_evaporated_m3_d, "");
    add_day(&t, u, u->heat.most_evaporated_d);
    tl_text_add(&t, "; source water makes up for it");
    say(u, "Evaporation", &t);
    if (!(s->heater.power_w > 0))
        return;
    add_quantity(&t, "", TL_DIM_POWER, units, s->heater.power_w, "");
    add_quantity(&t, ", keeps ", TL_DIM_TEMPERATURE, units, s->heater.keep_degC, "");
    if (u->heat.heater_short_h > 0)
        tl_text_addf(&t, "; too weak for %s of the run",
                     tl_hours_span(u->heat.heater_short_h).text);
    say(u, "Heater", &t);
}

static void say_cover(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const double cover = u->scenario->setup.cover;
    if (!(cover > 0))
        return;
    add_quantity(&t, "over ", TL_DIM_FRACTION, units, cover,
                 " of tank and chamber; it keeps sun, wind and air off");
    say(u, "Cover", &t);
}

static void say_sun(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    const struct tl_sun *sun = &s->sun;
    if (!sun->given)
        return;
    if (s->weather.given) {
        tl_text_add(&t, "as the weather has it");
    } else {
        add_quantity(&t, "", TL_DIM_TIME, units, sun->hours_d, " a day around noon");
        add_quantity(&t, ", ", TL_DIM_LIGHT, units, sun->noon_w_m2, " at noon");
    }
    tl_text_addf(&t, "; shade keeps %.3g %% off the tower, %.3g %% off the tank", 100 * sun->shaded,
                 100 * sun->tank_shaded);
    say(u, "Sun", &t);
    if (s->green_g_m3 > 0)
        add_quantity(&t, "green water: ", TL_DIM_CONC_COD, units, s->green_g_m3, " at the start");
    if (!tl_text_is_empty(&t))
        say(u, "", &t);
}

static void say_basin(const struct tl_understood *u, const char *label, const struct tl_basin *b,
                      enum tl_unit_system units)
{
    struct tl_text t = {0};
    add_quantity(&t, "", TL_DIM_VOLUME, units, b->volume_m3, "");
    add_quantity(&t, ", water surface ", TL_DIM_AREA, units, b->surface_m2, "");
    add_quantity(&t, ", wetted walls ", TL_DIM_AREA, units, b->walls_m2, "");
    say(u, label, &t);
}

/* What the settling chamber catches as it is, clean. */
static void say_chamber(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    const double overflow_m_d = tl_overflow_rate_m_d(s->pump_flow_m3_d, s->chamber.surface_m2);
    const double share = tl_settled_share_mixed(s->params.v_settle, overflow_m_d);
    say_basin(u, "Chamber", &s->chamber, units);
    if (s->pump_flow_m3_d > 0 && s->chamber.surface_m2 > 0) {
        const double turnover_1_d = s->pump_flow_m3_d / s->tank.volume_m3;
        const char *length = tl_display_unit(TL_DIM_LENGTH, units);
        tl_text_addf(
            &t,
            "overflow rate %s %s/h (common practice %.3g to %.3g); clean it catches %.3g %% of "
            "the solids in a pass (mixed; without mixing %.3g %%), in a day %.3g %% of those in "
            "the tank's water",
            plain(tl_display_value(TL_DIM_LENGTH, units, overflow_m_d / 24), 3).text, length,
            tl_display_value(TL_DIM_LENGTH, units, TL_USUAL_OVERFLOW_LOW_M_H),
            tl_display_value(TL_DIM_LENGTH, units, TL_USUAL_OVERFLOW_HIGH_M_H), 100 * share,
            100 * tl_settled_share_ideal(s->params.v_settle, overflow_m_d),
            -100 * expm1(-share * turnover_1_d));
        say(u, "", &t);
    }
    if (s->emptying.every_d > 0) {
        add_quantity(&t, "emptied every ", TL_DIM_TIME, units, s->emptying.every_d, "");
        tl_text_addf(&t, " at %02d:%02d", s->emptying.at_s / 3600, s->emptying.at_s / 60 % 60);
        add_quantity(&t, ", for ", TL_DIM_VOLUME, units, s->chamber.volume_m3,
                     " of source water each time");
    } else {
        tl_text_add(&t, "not emptied by plan");
    }
    say(u, "", &t);
}

/* Where curve and system meet. */
static void say_duty(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_duty *d = &u->duty;
    if (u->scenario->setup.pump.curve.n == 0)
        return;
    add_quantity(&t, "by its curve against ", TL_DIM_LENGTH, units, d->head_m, "");
    add_quantity(&t, ": a lift of ", TL_DIM_LENGTH, units, d->lift_m, "");
    if (isnan(d->velocity_m_s)) {
        tl_text_add(&t, ", and no pipe is given whose friction would take from it");
    } else {
        if (d->friction_m < LITTLE_FRICTION_M)
            tl_text_add(&t, " and next to nothing lost in the pipe");
        else
            add_quantity(&t, " and ", TL_DIM_LENGTH, units, d->friction_m, " lost in the pipe");
        tl_text_addf(&t, ", where the water runs at %.3g %s/s",
                     tl_display_value(TL_DIM_LENGTH, units, d->velocity_m_s),
                     tl_display_unit(TL_DIM_LENGTH, units));
    }
    say(u, "", &t);
}

/* Several of them. */
static void say_pumps(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_pump *p = &u->scenario->setup.pump;
    if (p->count < 2)
        return;
    tl_text_addf(&t, "%d equal pumps, each with a non-return valve; with one off the others move ",
                 p->count);
    add_quantity(&t, "", TL_DIM_FLOW, units, u->one_less_m3_d, "");
    tl_text_addf(&t, ", %.3g %% of the flow", 100 * u->one_less_m3_d / u->duty.flow_m3_d);
    if (p->curve.n == 0)
        tl_text_add(&t, "; a curve would show how much more that is against less friction");
    say(u, "", &t);
}

static void say_fouling(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_pump *p = &u->scenario->setup.pump;
    if (!(p->fouling_1_d > 0))
        return;
    tl_text_addf(&t, "fouls: until it is cleaned it loses %s %% of its clean flow a month",
                 plain(100 * TL_MONTH_D * p->fouling_1_d, 3).text);
    if (p->curve.n > 0)
        tl_text_add(&t, " at any one head, and what that leaves against this lift and pipe is");
    tl_text_add(&t, p->curve.n > 0 ? " " : "; ");
    if (u->least_flow_m3_d != u->last_flow_m3_d)
        add_quantity(&t, "", TL_DIM_FLOW, units, u->least_flow_m3_d, " at the least, ");
    add_quantity(&t, "", TL_DIM_FLOW, units, u->last_flow_m3_d, " at the end of the run");
    say(u, "", &t);
}

static void say_pump(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    add_quantity(&t, "", TL_DIM_FLOW, units, s->pump_flow_m3_d, "");
    tl_text_addf(&t, ", the tank's water %s times an hour; %.4g %% of it crosses the tower",
                 plain(u->turnover_1_h, 3).text, 100 * s->to_tower);
    say(u, "Pump", &t);
    say_duty(u, units);
    say_pumps(u, units);
    say_fouling(u, units);
}

/* What the water does on the media: what it wets, and how full it stands between them. */
static void say_wetting(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const char *length = tl_display_unit(TL_DIM_LENGTH, units);
    const double per_load = u->scenario->setup.tower.plan_area_m2 * 24;
    if (isnan(u->wetted))
        return;
    tl_text_addf(&t, "the water wets %s %% of the media; well wetted from %s %s/h on, ",
                 plain(100 * u->wetted, 2).text,
                 plain(tl_display_value(TL_DIM_LENGTH, units, u->wets_well_m_h), 3).text, length);
    add_quantity(&t, "", TL_DIM_FLOW, units, u->wets_well_m_h * per_load, "");
    say(u, "", &t);
    tl_text_addf(&t, "it fills %s %% of their voids; more than half is too much, %s %s/h",
                 plain(100 * u->voids_filled, 2).text,
                 plain(tl_display_value(TL_DIM_LENGTH, units, u->fills_half_m_h), 3).text, length);
    if (u->wets_well_m_h > u->fills_half_m_h)
        tl_text_add(&t, ": these media cannot be well wetted and still let air through, coarser "
                        "ones can");
    say(u, "", &t);
    if (u->scenario->setup.params.fall_aeration > 0) {
        tl_text_add(&t, "the falls below the trays aerate the water as well");
        say(u, "", &t);
    }
}

static void say_tower(const struct tl_understood *u, enum tl_unit_system units)
{
    static const char *const film[] = {[TL_BIOFILM_NEW] = "new, nothing lives in it yet",
                                       [TL_BIOFILM_SEEDED] = "seeded",
                                       [TL_BIOFILM_MATURE] = "mature"};
    struct tl_text t = {0};
    const struct tl_tower *tower = &u->scenario->setup.tower;
    tl_text_addf(&t, "%d tray%s with ", tower->trays, tower->trays == 1 ? "" : "s");
    add_quantity(&t, "", TL_DIM_LENGTH, units, tower->media_depth_m, "");
    tl_text_addf(&t, " of %s each", tower->media);
    add_quantity(&t, ", ", TL_DIM_AREA, units, tower->plan_area_m2, " seen from above");
    say(u, "Tower", &t);
    add_quantity(&t, "", TL_DIM_VOLUME, units, u->media_volume_m3, " of media");
    add_quantity(&t, " with a surface of ", TL_DIM_AREA, units, u->media_area_m2, "");
    if (tower->submerged) {
        tl_text_add(&t, "; under water, without air");
    } else {
        const char *length = tl_display_unit(TL_DIM_LENGTH, units);
        tl_text_addf(&t, "; hydraulic load %s %s/h",
                     plain(tl_display_value(TL_DIM_LENGTH, units, u->load_m_h), 3).text, length);
    }
    say(u, "", &t);
    say_wetting(u, units);
    tl_text_addf(&t, "biofilm: %s", film[tower->biofilm]);
    if (tower->biofilm == TL_BIOFILM_SEEDED)
        tl_text_addf(&t, ", %.4g %% of a mature one", 100 * tower->seeded_share);
    say(u, "", &t);
}

static void say_aerator(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    if (u->scenario->setup.aerator_g_d > 0)
        add_quantity(&t, "", TL_DIM_MASS_FLOW, units, u->scenario->setup.aerator_g_d,
                     " of oxygen into oxygen-free water");
    else
        tl_text_add(&t, "none");
    say(u, "Aerator", &t);
}

/* Every value of a section that is not zero. */
static void say_section(const struct tl_understood *u, const char *label, const char *section,
                        enum tl_unit_system units)
{
    struct tl_text t = {0};
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        char shown[TL_SHOWN_SIZE];
        tl_key_list_at(i, &key);
        const char *value =
            tl_understood_in(&key, section) ? tl_understood_value(u, key.path) : NULL;
        if (!value || strncmp(value, "0 ", 2) == 0 || strcmp(value, "no") == 0)
            continue;
        tl_understood_shown(i, value, units, shown);
        tl_text_addf(&t, "%s%s %s", t.length > 0 ? ", " : "", key.name, shown);
    }
    if (!tl_text_is_empty(&t))
        say(u, label, &t);
}

static void say_water_change(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    if (s->trickle_1_d > 0) {
        tl_text_addf(&t, "%.4g %% of the tank a day", 100 * s->trickle_1_d);
        add_quantity(&t, " (", TL_DIM_VOLUME, units, s->trickle_1_d * s->tank.volume_m3,
                     ") trickles in");
    }
    if (s->change_every_d > 0) {
        tl_text_addf(&t, "%s%.4g %% of the tank", t.length > 0 ? "; " : "", 100 * s->change_amount);
        add_quantity(&t, " (", TL_DIM_VOLUME, units, s->change_amount * s->tank.volume_m3, ")");
        add_quantity(&t, " every ", TL_DIM_TIME, units, s->change_every_d, "");
    }
    if (tl_text_is_empty(&t))
        tl_text_add(&t, "none");
    say(u, "Water change", &t);
}

static void say_fish(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    for (size_t i = 0; i < s->fish_groups; i++) {
        const struct tl_fish *f = &s->fish[i];
        tl_text_addf(&t, "%.10g %s of ", f->count, f->name);
        add_quantity(&t, "", TL_DIM_MASS, units, f->mean_mass_g, "");
        add_quantity(&t, ": ", TL_DIM_MASS, units, f->count * f->mean_mass_g, "");
        say(u, i == 0 ? "Fish" : "", &t);
    }
    if (s->fish_groups == 0) {
        tl_text_add(&t, "none at the start");
        say(u, "Fish", &t);
        return;
    }
    tl_text_addf(&t, "together %.10g fish", u->fish);
    add_quantity(&t, ", ", TL_DIM_MASS, units, u->fish_g, "");
    const double per_m3 = u->fish_g / s->tank.volume_m3;
    if (units == TL_METRIC)
        tl_text_addf(&t, ", %.3g kg in each m3 of the tank", per_m3 / 1000);
    else
        tl_text_addf(&t, ", %.3g lb in each 100 gal of the tank",
                     100 * tl_display_value(TL_DIM_MASS, units, per_m3) /
                         tl_display_value(TL_DIM_VOLUME, units, 1));
    say(u, "", &t);
}

static void add_ration_table(struct tl_text *t, const struct tl_table *table,
                             enum tl_unit_system units)
{
    tl_text_add(t, "by temperature:");
    for (size_t i = 0; i < table->n; i++) {
        add_quantity(t, i > 0 ? ", " : " ", TL_DIM_TEMPERATURE, units, table->x[i], "");
        tl_text_addf(t, " %.4g %%/d", 100 * table->y[i]);
    }
    tl_text_add(t, " of their mass");
}

static void add_feed_log(struct tl_text *t, const struct tl_understood *u,
                         enum tl_unit_system units)
{
    const struct tl_setup *s = &u->scenario->setup;
    const struct tl_table *log = &s->feeding.log;
    size_t meals = 0;
    double sum = 0;
    for (size_t i = 0; i < log->n; i++)
        if (log->x[i] >= s->start_d && log->x[i] < s->start_d + s->length_d) {
            meals++;
            sum += s->feeding.appetite * log->y[i];
        }
    tl_text_addf(t, "%zu meals from %s, ", meals, u->scenario->input[TL_INPUT_FEED]);
    add_quantity(t, "", TL_DIM_MASS, units, sum, " of feed in all");
}

static void say_dosing(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_dosing *d = &u->scenario->setup.dosing;
    if (!(d->hold_alkalinity_eq_m3 > 0))
        return;
    add_quantity(&t, "baking soda holds an alkalinity of ", TL_DIM_ALKALINITY, units,
                 d->hold_alkalinity_eq_m3, "");
    if (d->every_d > 0) {
        add_quantity(&t, "; looked at every ", TL_DIM_TIME, units, d->every_d, "");
        tl_text_addf(&t, " at %02d:%02d", d->at_s / 3600, d->at_s / 60 % 60);
    } else {
        tl_text_add(&t, "; looked at after each water change");
    }
    if (isfinite(d->at_most_g))
        add_quantity(&t, ", at most ", TL_DIM_MASS, units, d->at_most_g, " each");
    say(u, "Dosing", &t);
}

static void say_feeding(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_feeding *f = &u->scenario->setup.feeding;
    if (f->log.n > 0)
        add_feed_log(&t, u, units);
    else if (f->ration.kind == TL_RATION_TABLE)
        add_ration_table(&t, &f->ration.table, units);
    else if (f->ration.kind == TL_RATION_PER_BIOMASS && f->ration.value > 0)
        tl_text_addf(&t, "%.4g %% of their mass a day", 100 * f->ration.value);
    if (t.length > 0 && f->log.n == 0 && f->appetite != 1)
        tl_text_addf(&t, ", times %.4g (appetite)", f->appetite);
    if (u->feed_g_d > 0)
        add_quantity(&t, t.length > 0 ? ", at the start " : "", TL_DIM_MASS, units, u->feed_g_d,
                     " of feed a day");
    if (tl_text_is_empty(&t)) {
        tl_text_add(&t, "none");
        say(u, "Feeding", &t);
        return;
    }
    if (f->meals > 0)
        tl_text_addf(&t, "; %zu meal%s a day, at", f->meals, f->meals > 1 ? "s" : "");
    for (size_t i = 0; i < f->meals; i++)
        tl_text_addf(&t, "%s %02d:%02d", i > 0 ? "," : "", f->meal_s[i] / 3600,
                     f->meal_s[i] / 60 % 60);
    if (f->none_below_degC > 0 && f->log.n == 0)
        add_quantity(&t, "; none below ", TL_DIM_TEMPERATURE, units, f->none_below_degC, "");
    say(u, "Feeding", &t);
    tl_text_addf(&t, "%.4g %% protein, %.4g %% left uneaten", 100 * f->protein, 100 * f->uneaten);
    if (f->grows)
        tl_text_addf(&t, "; the fish gain 1 g for %.4g g of feed", f->feed_conversion);
    else
        tl_text_add(&t, "; the fish keep their mass");
    say(u, "", &t);
}

/* What differs from its default in limits or parameters. */
static void say_changed(const struct tl_understood *u, const char *label, const char *section,
                        enum tl_unit_system units)
{
    const size_t length = strlen(section);
    size_t changed = 0;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        struct tl_text t = {0};
        char shown[TL_SHOWN_SIZE], usual[TL_SHOWN_SIZE];
        tl_key_list_at(i, &key);
        if (strncmp(key.path, section, length) != 0 || !tl_understood_differs(u, i))
            continue;
        tl_understood_shown(i, tl_understood_value(u, key.path), units, shown);
        tl_key_shown_default(i, units, usual, sizeof usual);
        tl_text_addf(&t, "%s: %s instead of %s", key.path + length + 1, shown, usual);
        say(u, changed++ == 0 ? label : "", &t);
    }
    if (changed == 0) {
        struct tl_text t = {0};
        tl_text_add(&t, "all at their defaults");
        say(u, label, &t);
    }
}

static int by_time(const void *a, const void *b)
{
    const struct tl_event *x = *(const struct tl_event *const *)a;
    const struct tl_event *y = *(const struct tl_event *const *)b;
    if (x->at_d != y->at_d)
        return x->at_d < y->at_d ? -1 : 1;
    return x < y ? -1 : x > y;
}

static void say_events(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    const struct tl_setup *s = &u->scenario->setup;
    const struct tl_event **sorted = calloc(s->events + 1, sizeof *sorted);
    t.failed = !sorted;
    for (size_t i = 0; sorted && i < s->events; i++)
        sorted[i] = &s->event[i];
    if (sorted)
        qsort(sorted, s->events, sizeof *sorted, by_time);
    for (size_t i = 0; sorted && i < s->events; i++) {
        const struct tl_event *e = sorted[i];
        const struct tl_date when = tl_date_at(&u->scenario->start, e->at_d);
        add_date(&t, &when);
        tl_text_addf(&t, " (day %.0f): %s", floor(e->at_d + 0.5 / DAY_S),
                     tl_event_words(e, units).text);
        if (e->for_d > 0)
            add_quantity(&t, ", for ", TL_DIM_TIME, units, e->for_d, "");
        say(u, i == 0 ? "Events" : "", &t);
    }
    if (s->events == 0 || !sorted) {
        tl_text_add(&t, "none");
        say(u, "Events", &t);
    }
    free(sorted);
}

static void say_variants(const struct tl_understood *u)
{
    const struct tl_scenario *s = u->scenario;
    for (size_t i = 0; i < s->variants; i++) {
        const struct tl_variant *v = &s->variant[i];
        struct tl_text t = {0};
        tl_text_addf(&t, "%s:", v->name);
        for (size_t k = 0; k < v->sets; k++)
            tl_text_addf(&t, "%s %.*s", k > 0 ? "," : "", (int)strcspn(v->set[k], "="), v->set[k]);
        tl_text_add(&t, v->sets > 0 ? " changed" : " as it is");
        say(u, i == 0 ? "Variants" : "", &t);
    }
}

static void say_costs(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        char shown[TL_SHOWN_SIZE];
        tl_key_list_at(i, &key);
        const char *value =
            tl_understood_in(&key, "costs") ? tl_understood_value(u, key.path) : NULL;
        if (!value || strcmp(key.name, "currency") == 0)
            continue;
        tl_understood_shown(i, value, units, shown);
        tl_text_addf(&t, "%s%s %s", t.length > 0 ? ", " : "", key.name, shown);
    }
    if (t.length > 0 && u->scenario->costs.currency[0])
        tl_text_addf(&t, "; in %s", u->scenario->costs.currency);
    if (!tl_text_is_empty(&t))
        say(u, "Costs", &t);
}

static void say_build_sheet(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    struct tl_build_sheet b;
    tl_build_sheet_of(u->scenario, &b);
    add_quantity(&t, "", TL_DIM_VOLUME, units, b.media_m3, " of media, ");
    add_quantity(&t, "", TL_DIM_MASS, units, b.media_kg * 1000, " dry; ");
    add_quantity(&t, "the stack wet ", TL_DIM_MASS, units, b.wet_kg * 1000, ", ");
    add_quantity(&t, "up to ", TL_DIM_MASS, units, b.flooded_kg * 1000, " with clogged drains");
    say(u, "Build sheet", &t);
    add_quantity(&t, "", TL_DIM_LENGTH, units, b.height_m, " high on ");
    add_quantity(&t, "", TL_DIM_AREA, units, b.footprint_m2, "; the pump lifts ");
    add_quantity(&t, "", TL_DIM_LENGTH, units, b.lift_m, ", losses in pipes besides");
    say(u, "", &t);
    if (!isnan(b.head_m)) {
        add_quantity(&t, "duty of the pump: ", TL_DIM_FLOW, units, b.pump_m3_d, "");
        add_quantity(&t, " against a head of ", TL_DIM_LENGTH, units, b.head_m, "");
        say(u, "", &t);
    }
    tl_text_add(&t, "brace it against tipping on firm, level ground; mains beside water: "
                    "residual-current device, licensed electrician, local codes");
    say(u, "", &t);
}

/* The keys of one section that were left to the program: first those with a value, then "name, name:
 * from the sides". */
static void add_defaults(const struct tl_understood *u, const char *section, bool with_value,
                         enum tl_unit_system units, struct tl_text *t)
{
    const char *otherwise = NULL;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        char shown[TL_SHOWN_SIZE];
        tl_key_list_at(i, &key);
        if (!tl_understood_in(&key, section) || !tl_understood_defaulted(u, i) ||
            (key.otherwise == NULL) != with_value)
            continue;
        if (otherwise && strcmp(otherwise, key.otherwise) != 0)
            tl_text_addf(t, " %s; ", otherwise);
        else if (t->length > 0)
            tl_text_add(t, with_value || otherwise ? ", " : "; ");
        otherwise = key.otherwise;
        tl_text_add(t, key.name);
        if (with_value) {
            tl_key_shown_default(i, units, shown, sizeof shown);
            tl_text_addf(t, " %s", shown);
        }
    }
    if (otherwise)
        tl_text_addf(t, " %s", otherwise);
}

static void say_defaults(const struct tl_understood *u, enum tl_unit_system units)
{
    bool first = true;
    for (size_t i = 0; i <= tl_key_list_size(); i++) {
        struct tl_key_info key = {.path = ""};
        struct tl_text t = {0}, line = {0};
        if (i > 0) /* a section; the top of the file goes first */
            tl_key_list_at(i - 1, &key);
        add_defaults(u, key.path, true, units, &t);
        add_defaults(u, key.path, false, units, &t);
        if (t.length > 0 || t.failed) {
            tl_text_addf(&line, "%s%s", key.path, *key.path ? ": " : "");
            tl_text_add_text(&line, 0, &t);
            say(u, first ? "Not in the file" : "", &line);
            first = false;
        }
        tl_text_free(&t);
    }
}

void tl_understood_tell(const struct tl_understood *u, enum tl_unit_system units)
{
    const struct tl_scenario *s = u->scenario;
    struct tl_text t = {0};
    tl_text_add(&t, s->title);
    say(u, "Title", &t);
    say_time(u, units);
    add_quantity(&t, "", TL_DIM_LENGTH, units, s->setup.elevation_m, " above the sea");
    say(u, "Place", &t);
    say_temperature(u, units);
    say_weather(u, units);
    say_sun(u, units);
    say_basin(u, "Tank", &s->setup.tank, units);
    say_chamber(u, units);
    say_cover(u, units);
    say_pump(u, units);
    say_tower(u, units);
    say_aerator(u, units);
    say_section(u, "Source water", "source water", units);
    say_section(u, "Starting water", "starting water", units);
    say_water_change(u, units);
    say_fish(u, units);
    say_feeding(u, units);
    say_dosing(u, units);
    say_changed(u, "Limits", "limits", units);
    say_changed(u, "Parameters", "parameters", units);
    say_events(u, units);
    say_variants(u);
    say_costs(u, units);
    say_build_sheet(u, units);
}

void tl_understood_print(const struct tl_understood *u, enum tl_unit_system units)
{
    struct tl_text t = {0};
    tl_understood_tell(u, units);
    say_defaults(u, units);
    tl_text_add(&t, "no mistakes found; this scenario can be run");
    printf("\n");
    say(u, "Checked", &t);
}
