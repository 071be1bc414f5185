/* Writes random scenarios. Every key goes by the reader's own table, so that a key nobody writes is
 * found out. Values keep to what makes sense together; all that is odd but allowed may come. */
#include "generate.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "reader.h"
#include "towerloop/media.h"

struct coverage {
    unsigned long key[TL_MOST_KEYS];
};

struct coverage *coverage_new(void)
{
    return calloc(1, sizeof(struct coverage));
}

void coverage_free(struct coverage *seen)
{
    free(seen);
}

size_t coverage_missing(const struct coverage *seen, size_t *all)
{
    size_t missing = 0;
    for (size_t i = 0; i < tl_key_count; i++)
        if (seen->key[i] == 0) {
            print_message("never written: %s\n", tl_key_table[i].path);
            missing++;
        }
    *all = tl_key_count;
    return missing;
}

/* --- the writer ------------------------------------------------------------------------------- */

#define MOST_FISH 8

struct writer {
    struct rng rng;
    struct rng keeper; /* for what a keeper doses and notes down, so that the rest stays as it is */
    struct rng sky;    /* for the weather, likewise */
    struct rng doubt;  /* for what is uncertain, likewise */
    struct rng healer; /* for medicine and mishaps, likewise */
    bool outdoors;
    const struct wish *wish;
    struct tl_text *out;
    struct coverage *seen;
    bool first; /* in the mapping that is being written */
    double length_d, start_d;
    bool logged; /* meals come from a log */
    bool sunny;
    bool changes; /* water is changed at some time */
    double tank_m3, flow_m3_d, fish_kg;
    int trays, pumps;
    double fish_left[MOST_FISH]; /* of each group at the start, not yet removed */
    int groups;
    struct tl_params p;
};

static const struct tl_key *mark(struct writer *w, const char *path)
{
    for (size_t i = 0; i < tl_key_count; i++)
        if (strcmp(tl_key_table[i].path, path) == 0) {
            w->seen->key[i]++;
            return &tl_key_table[i];
        }
    fail_msg("%s is no key of the reader", path);
    return NULL;
}

static const char *own_name(const char *path)
{
    const char *dot = strrchr(path, '.');
    return dot ? dot + 1 : path;
}

static const struct tl_key *name_key(struct writer *w, const char *path)
{
    const struct tl_key *key = mark(w, path);
    tl_text_addf(w->out, "%s%s: ", w->first ? "" : ", ", own_name(path));
    w->first = false;
    return key;
}

/* A quantity in the base unit or, now and then, in the unit an American would use. */
static void add_quantity(struct writer *w, enum tl_dim dim, double value)
{
    const char *unit = tl_dim_base_unit(dim);
    if (rng_chance(&w->rng, 0.3)) {
        value = tl_display_value(dim, TL_US, value);
        unit = tl_display_unit(dim, TL_US);
    }
    tl_text_addf(w->out, "%.17g%s%s", value, *unit ? " " : "", unit);
}

static void quantity(struct writer *w, const char *path, double value)
{
    const struct tl_key *key = name_key(w, path);
    add_quantity(w, key->dim, value);
}

/* With a chance only. */
static void maybe(struct writer *w, double chance, const char *path, double value)
{
    if (rng_chance(&w->rng, chance))
        quantity(w, path, value);
}

static void word(struct writer *w, const char *path, const char *text)
{
    name_key(w, path);
    tl_text_add(w->out, text);
}

static void open_section(struct writer *w, const char *path)
{
    name_key(w, path);
    tl_text_add(w->out, "{");
    w->first = true;
}

static void close_section(struct writer *w)
{
    tl_text_add(w->out, "}");
    w->first = false;
}

static void end_line(struct writer *w)
{
    tl_text_add(w->out, "\n");
    w->first = true;
}

/* --- the parts -------------------------------------------------------------------------------- */

static void head(struct writer *w)
{
    struct rng *r = &w->rng;
    const int second = rng_chance(r, 0.3) ? 0 : 60 * rng_below(r, 1440);

    w->length_d = rng_scale(r, w->wish->shortest_d, w->wish->longest_d);
    w->start_d = second / 86400.0;
    if (rng_chance(r, 0.9)) {
        word(w, "format", "1");
        end_line(w);
    }
    if (rng_chance(r, 0.5)) {
        word(w, "title", "\"A random pond\"");
        end_line(w);
    }
    name_key(w, "start");
    tl_text_addf(w->out, "20%02d-%02d-%02d %02d:%02d\n", 20 + rng_below(r, 30),
                 1 + rng_below(r, 12), 1 + rng_below(r, 28), second / 3600, second / 60 % 60);
    w->first = true;
    name_key(w, "length");
    tl_text_addf(w->out, "%.17g d\n", w->length_d);
    w->first = true;
    if (rng_chance(r, 0.5)) {
        quantity(w, "report every", w->length_d / rng_scale(r, 1.01, 500));
        end_line(w);
    }
    if (rng_chance(r, 0.5)) {
        open_section(w, "place");
        quantity(w, "place.elevation", rng_between(r, -100, 2500));
        close_section(w);
        end_line(w);
    }
}

static void write_readings(struct writer *w)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/readings.csv", w->wish->folder);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    double degC = rng_between(&w->rng, 4, 30);
    (void)fprintf(f, "time_d,temperature_degC\n");
    for (double t = w->start_d; t < w->start_d + w->length_d + 1; t += 0.25) {
        (void)fprintf(f, "%.6f,%.3f\n", t, degC);
        degC = fmin(fmax(degC + rng_between(&w->rng, -1.5, 1.5), 2), 34);
    }
    (void)fclose(f);
}

static void perhaps_warmer(struct writer *w, const char *path)
{
    if (rng_chance(&w->doubt, 0.3))
        quantity(w, path, rng_between(&w->doubt, -2, 2));
}

static void temperature(struct writer *w)
{
    struct rng *r = &w->rng;
    const int kind = rng_below(r, 3);

    if (kind == 0) {
        name_key(w, "temperature");
        add_quantity(w, TL_DIM_TEMPERATURE, rng_between(r, 3, 34));
    } else if (kind == 1) {
        open_section(w, "temperature");
        quantity(w, "temperature.mean", rng_between(r, 10, 24));
        if (rng_chance(r, 0.7)) {
            quantity(w, "temperature.seasonal swing", rng_between(r, 0, 6));
            name_key(w, "temperature.warmest day");
            tl_text_addf(w->out, "%02d-%02d", 1 + rng_below(r, 12), 1 + rng_below(r, 28));
        }
        maybe(w, 0.7, "temperature.daily swing", rng_between(r, 0, 3));
        perhaps_warmer(w, "temperature.warmer");
        close_section(w);
    } else {
        open_section(w, "temperature");
        word(w, "temperature.file", "readings.csv");
        perhaps_warmer(w, "temperature.warmer");
        close_section(w);
        write_readings(w);
    }
    end_line(w);
}

static void write_weather_log(struct writer *w)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/weather.csv", w->wish->folder);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    const double step_d =
        rng_chance(&w->rng, 0.5) ? 0.125 : 0.25; /* the sun is logged, or all gaps */
    (void)fprintf(f, "time_d,air_temperature_degC,wind_m_s,sun_W_m2\n");
    for (double t = w->start_d; t < w->start_d + w->length_d + 1; t += step_d)
        (void)fprintf(f, "%.6f,%.3f,%.3f,%.1f\n", t, rng_between(&w->rng, -8, 30),
                      rng_between(&w->rng, 0, 6), rng_between(&w->rng, 0, 900));
    (void)fclose(f);
}

/* The chances of the weather are its own. */
static void look_at_the_sky(struct writer *w)
{
    const struct rng rest = w->rng;
    w->rng = w->sky;
    w->sky = rest;
}

static void weather(struct writer *w)
{
    struct rng *r = &w->rng;
    open_section(w, "weather");
    const int kind = rng_below(r, 3);
    if (kind == 0) {
        name_key(w, "weather.air temperature");
        add_quantity(w, TL_DIM_TEMPERATURE, rng_between(r, -5, 28));
    } else {
        open_section(w, "weather.air temperature");
        if (kind == 1) {
            quantity(w, "weather.air temperature.mean", rng_between(r, 2, 18));
            quantity(w, "weather.air temperature.seasonal swing", rng_between(r, 0, 12));
            word(w, "weather.air temperature.warmest day", "07-20");
            maybe(w, 0.7, "weather.air temperature.daily swing", rng_between(r, 0, 8));
        } else {
            word(w, "weather.air temperature.file", "weather.csv");
            write_weather_log(w);
        }
        close_section(w);
    }
    perhaps_warmer(w, "weather.warmer");
    maybe(w, 0.5, "weather.humidity", rng_between(r, 0.05, 1));
    if (kind != 2)
        maybe(w, 0.5, "weather.wind", rng_between(r, 0, 8));
    maybe(w, 0.5, "weather.cloud", rng_between(r, 0, 1));
    quantity(w, "weather.latitude", rng_between(r, -60, 60));
    maybe(w, 0.3, "weather.shade", rng_between(r, 0, 1));
    close_section(w);
    end_line(w);
    if (rng_chance(r, 0.3)) {
        open_section(w, "heater");
        quantity(w, "heater.power", rng_scale(r, 10, 20000));
        quantity(w, "heater.keep at", rng_between(r, 4, 28));
        close_section(w);
        end_line(w);
    }
}

static void climate(struct writer *w)
{
    const size_t before = w->out->length;
    temperature(w);
    if (!w->wish->outdoors || !rng_chance(&w->sky, 0.3))
        return;
    w->outdoors = true;
    w->out->length = before;
    w->out->data[before] = '\0';
    look_at_the_sky(w);
    if (rng_chance(&w->rng, 0.2)) {
        word(w, "temperature", "from weather");
        end_line(w);
    }
    weather(w);
    look_at_the_sky(w);
}

/* Of a section that means something only outdoors. */
static void maybe_outdoors(struct writer *w, const char *path, double lo, double hi)
{
    if (!w->outdoors)
        return;
    look_at_the_sky(w);
    maybe(w, 0.6, path, rng_between(&w->rng, lo, hi));
    look_at_the_sky(w);
}

static void emptied(struct writer *w)
{
    struct rng *r = &w->keeper;
    open_section(w, "settling chamber.emptied");
    quantity(w, "settling chamber.emptied.every", rng_between(r, 1, fmax(1.1, 0.7 * w->length_d)));
    if (rng_chance(r, 0.6)) {
        name_key(w, "settling chamber.emptied.at");
        tl_text_addf(w->out, "\"%02d:%02d\"", rng_below(r, 24), rng_below(r, 60));
    }
    close_section(w);
}

static void basin(struct writer *w, const char *name, double volume, bool green)
{
    struct rng *r = &w->rng;
    const double depth = rng_between(r, 0.4, 2);
    const double area = volume / depth;
    char path[64];
#define OF_BASIN(key) ((void)snprintf(path, sizeof path, "%s." key, name), path)

    open_section(w, name);
    if (rng_chance(r, 0.6)) {
        quantity(w, OF_BASIN("volume"), volume);
        quantity(w, OF_BASIN("surface"), area * rng_between(r, 0, 1.2));
        quantity(w, OF_BASIN("wetted walls"), rng_between(r, 0, 3) * area);
    } else if (rng_chance(r, 0.5)) {
        const double wide = sqrt(area) * rng_between(r, 0.6, 1);
        quantity(w, OF_BASIN("length"), area / wide);
        quantity(w, OF_BASIN("width"), wide);
        quantity(w, OF_BASIN("depth"), depth);
        maybe(w, 0.3, OF_BASIN("surface"), 0.5 * area);
    } else {
        quantity(w, OF_BASIN("diameter"), sqrt(4 / M_PI * area));
        quantity(w, OF_BASIN("depth"), depth);
        maybe(w, 0.3, OF_BASIN("wetted walls"), 0.5 * area);
    }
#undef OF_BASIN
    if (strcmp(name, "tank") == 0)
        maybe_outdoors(w, "tank.wall heat loss", 0, 10);
    if (strcmp(name, "tank") == 0 && rng_chance(&w->keeper, 0.2))
        quantity(w, "tank.cover", rng_between(&w->keeper, 0, 1));
    if (green && rng_chance(&w->keeper, 0.2))
        word(w, "tank.green water", "none");
    else if (green)
        quantity(w, "tank.green water", rng_scale(&w->keeper, 0.01, 100));
    if (strcmp(name, "settling chamber") == 0 && rng_chance(&w->keeper, 0.3))
        emptied(w);
    close_section(w);
    end_line(w);
}

/* Of about the flow that is wanted: the tower is as high as it comes out, so the pump lifts to a
 * height of its own. */
static void curve(struct writer *w)
{
    struct rng *r = &w->rng;
    const double lift = rng_between(r, 0, 3);
    const int points = 2 + rng_below(r, 4);

    name_key(w, "pump.curve");
    tl_text_add(w->out, "[");
    for (int i = 0; i < points; i++) {
        tl_text_add(w->out, i > 0 ? ", {" : "{");
        w->first = true;
        quantity(w, "pump.curve[].head", (lift + 1) * 1.5 * i / (points - 1));
        quantity(w, "pump.curve[].flow", 2 * w->flow_m3_d * (1 - pow(i / (points - 1.0), 2)));
        tl_text_add(w->out, "}");
    }
    tl_text_add(w->out, "]");
    w->first = false;
    quantity(w, "pump.head", lift);
    if (rng_chance(r, 0.6)) {
        open_section(w, "pump.pipe");
        quantity(w, "pump.pipe.length", rng_scale(r, 1, 30));
        quantity(w, "pump.pipe.inner diameter",
                 fmax(0.006, sqrt(w->flow_m3_d / 86400 / rng_between(r, 0.3, 2))));
        maybe(w, 0.3, "pump.pipe.roughness", rng_scale(r, 1e-6, 1e-3));
        maybe(w, 0.5, "pump.pipe.fittings", rng_between(r, 0, 12));
        close_section(w);
    }
}

static void hardware(struct writer *w)
{
    struct rng *r = &w->rng;

    w->tank_m3 = rng_scale(r, 0.5, 60);
    basin(w, "tank", w->tank_m3, w->sunny && rng_chance(&w->keeper, 0.6));
    basin(w, "settling chamber", w->tank_m3 * rng_scale(r, 0.05, 0.5), false);
    w->flow_m3_d = w->tank_m3 * 24 * rng_scale(r, 0.05, 1.2);

    const double to_tower = rng_chance(r, 0.4) ? rng_between(r, 0.2, 1) : 1;
    open_section(w, "pump");
    if (rng_chance(r, 0.35))
        curve(w);
    else
        quantity(w, "pump.flow", rng_chance(r, 0.03) ? 0 : w->flow_m3_d);
    w->pumps = rng_chance(r, 0.3) ? 2 + rng_below(r, 3) : 1;
    if (w->pumps > 1) {
        name_key(w, "pump.count");
        tl_text_addf(w->out, "%d", w->pumps);
    }
    maybe(w, 0.3, "pump.fouling", rng_scale(r, 1e-4, 0.2));
    if (to_tower < 1)
        quantity(w, "pump.to tower", rng_chance(r, 0.1) ? 0 : to_tower);
    close_section(w);
    end_line(w);

    w->trays = 1 + rng_below(r, 20);
    open_section(w, "tower");
    name_key(w, "tower.trays");
    tl_text_addf(w->out, "%d", w->trays);
    quantity(w, "tower.media depth", rng_between(r, 0.03, w->trays > 8 ? 0.1 : 0.35));
    quantity(w, "tower.plan area",
             fmax(0.002, w->flow_m3_d * to_tower / 24 / rng_scale(r, 0.8, 45)));
    if (rng_chance(r, 0.5))
        word(w, "tower.media", tl_media_names[rng_below(r, (int)tl_media_count())]);
    static const char *const film[] = {"new", "mature", "seeded 30 %", "seeded 5 %"};
    if (rng_chance(r, 0.8))
        word(w, "tower.biofilm", film[rng_below(r, 4)]);
    if (rng_chance(r, 0.2))
        word(w, "tower.submerged", rng_chance(r, 0.5) ? "yes" : "no");
    maybe(w, 0.2, "tower.specific surface", rng_scale(r, 50, 800));
    maybe(w, 0.2, "tower.media size", rng_scale(r, 0.01, 0.08));
    maybe(w, 0.2, "tower.void", rng_between(r, 0.3, 0.95));
    maybe(w, 0.2, "tower.critical surface tension", rng_between(r, 0.03, 0.075));
    maybe(w, 0.3, "tower.stays moist", rng_scale(r, 0.01, 2));
    maybe(w, 0.3, "tower.die-off", rng_scale(r, 0.1, 20));
    close_section(w);
    end_line(w);

    if (rng_chance(r, 0.7)) {
        open_section(w, "aerator");
        quantity(w, "aerator.oxygen transfer", w->tank_m3 * rng_scale(r, 1, 80));
        close_section(w);
        end_line(w);
    }
}

static void water(struct writer *w, const char *name, bool source)
{
    struct rng *r = &w->rng;
    const double scale = source ? 1 : 3;
    char path[64];
#define OF_WATER(key) ((void)snprintf(path, sizeof path, "%s." key, name), path)

    open_section(w, name);
    maybe(w, source ? 1 : 0.5, OF_WATER("alkalinity"), rng_scale(r, 0.6, 6));
    quantity(w, OF_WATER("pH"), rng_between(r, 6.6, 8.2));
    maybe(w, 0.4, OF_WATER("ammonia"), scale * rng_scale(r, 0.01, 2));
    maybe(w, 0.3, OF_WATER("nitrite"), scale * rng_scale(r, 0.01, 1));
    maybe(w, 0.5, OF_WATER("nitrate"), scale * rng_scale(r, 0.1, 30));
    if (rng_chance(r, 0.4)) {
        if (rng_chance(r, 0.3))
            word(w, OF_WATER("oxygen"), "saturation");
        else
            quantity(w, OF_WATER("oxygen"), rng_between(r, 1, 12));
    }
    maybe(w, 0.5, OF_WATER("chloride"), rng_scale(r, 1, 3000));
    maybe(w, 0.3, OF_WATER("chlorine"), rng_scale(r, 0.01, 2));
    maybe(w, 0.3, OF_WATER("dissolved organics"), scale * rng_scale(r, 0.1, 10));
    maybe(w, 0.3, OF_WATER("solids"), scale * rng_scale(r, 0.1, 10));
    maybe(w, 0.3, OF_WATER("inert solids"), scale * rng_scale(r, 0.1, 10));
    if (source && rng_chance(r, 0.4))
        word(w, OF_WATER("chlorine form"), rng_chance(r, 0.7) ? "chloramine" : "free");
    if (source && rng_chance(&w->keeper, 0.3))
        word(w, OF_WATER("dechlorinated"), rng_chance(&w->keeper, 0.7) ? "yes" : "no");
    maybe_outdoors(w, OF_WATER("temperature"), 1, 30);
#undef OF_WATER
    close_section(w);
    end_line(w);
}

static void water_change(struct writer *w)
{
    struct rng *r = &w->rng;

    if (rng_chance(r, 0.3))
        return;
    open_section(w, "water change");
    maybe(w, 0.7, "water change.trickle", rng_scale(r, 0.01, 1));
    if (w->first || rng_chance(r, 0.5)) {
        quantity(w, "water change.every", fmax(w->length_d * rng_between(r, 0.1, 1.2), 0.02));
        quantity(w, "water change.amount", rng_between(r, 0.02, 0.9));
        w->changes = true;
    }
    close_section(w);
    end_line(w);
}

static void sunshine(struct writer *w)
{
    struct rng *r = &w->keeper;

    if (!w->sunny)
        return;
    open_section(w, "sun");
    if (!w->outdoors) {
        quantity(w, "sun.hours", rng_between(r, 0.05, 1));
        if (rng_chance(r, 0.6))
            quantity(w, "sun.noon", rng_between(r, 0, 1000));
    }
    if (w->outdoors || rng_chance(r, 0.6))
        quantity(w, "sun.shaded", rng_between(r, 0, 1));
    if (rng_chance(r, 0.6))
        quantity(w, "sun.tank shaded", rng_between(r, 0, 1));
    close_section(w);
    end_line(w);
}

static const char *const group_name[] = {"koi", "orfe", "tench"};

static void fish_group(struct writer *w, const char *prefix, const char *name, double kg)
{
    char path[64];
    const double mass_g = rng_scale(&w->rng, 5, 4000);
    const double count = fmax(1, round(1000 * kg / mass_g));

    (void)snprintf(path, sizeof path, "%s.name", prefix);
    word(w, path, name);
    (void)snprintf(path, sizeof path, "%s.count", prefix);
    name_key(w, path);
    tl_text_addf(w->out, "%.0f", count);
    (void)snprintf(path, sizeof path, "%s.mean mass", prefix);
    quantity(w, path, mass_g);
    if (strcmp(prefix, "fish[]") == 0)
        w->fish_left[w->groups++] = count;
}

enum growth { GROWTH_DEFAULT, GROWTH_NONE, GROWTH_GROUP_NONE, GROWTH_FEEDING, GROWTH_GROUP };

static void fish(struct writer *w, enum growth growth)
{
    struct rng *r = &w->rng;
    const int groups = rng_chance(r, 0.1) ? 0 : 1 + rng_below(r, 3);

    w->fish_kg = w->tank_m3 * rng_scale(r, 0.05, 8);
    if (groups == 0 && growth != GROWTH_GROUP_NONE && growth != GROWTH_GROUP)
        return;
    name_key(w, "fish");
    tl_text_add(w->out, "[");
    for (int i = 0; i < (groups ? groups : 1); i++) {
        tl_text_add(w->out, i > 0 ? ", {" : "{");
        w->first = true;
        fish_group(w, "fish[]", group_name[i], w->fish_kg / (groups ? groups : 1));
        if (growth == GROWTH_GROUP_NONE)
            word(w, "fish[].growth", "none");
        if (growth == GROWTH_GROUP)
            word(w, "fish[].feed conversion", "1.6");
        tl_text_add(w->out, "}");
    }
    tl_text_add(w->out, "]");
    end_line(w);
}

static void ration(struct writer *w, const char *path)
{
    struct rng *r = &w->rng;
    const int kind = rng_below(r, 4);

    name_key(w, path);
    if (kind == 0) {
        add_quantity(w, TL_DIM_MASS_FLOW, 1000 * w->fish_kg * rng_scale(r, 0.001, 0.03));
    } else if (kind == 1) {
        tl_text_add(w->out, "[");
        double degC = rng_between(r, 2, 8);
        for (int i = 0; i < 3; i++) {
            tl_text_add(w->out, i > 0 ? ", {" : "{");
            w->first = true;
            quantity(w, "ration[].at", degC);
            quantity(w, "ration[].ration", rng_between(r, 0, 0.02));
            tl_text_add(w->out, "}");
            degC += rng_between(r, 3, 10);
        }
        tl_text_add(w->out, "]");
        w->first = false;
    } else {
        tl_text_addf(w->out, "%.17g %%/d", rng_chance(r, 0.1) ? 0 : rng_scale(r, 0.05, 3));
    }
}

/* A CSV in the folder, with columns nobody asks for, too. */
static FILE *open_log(struct writer *w, const char *name, const char *header)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", w->wish->folder, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    (void)fprintf(f, "%s\r\n", header);
    return f;
}

static void feed_log(struct writer *w)
{
    struct rng *r = &w->keeper;
    FILE *f = open_log(w, "feed.csv", "who,time_d,feed_g");
    for (double t = rng_between(r, -0.5, 0.2); t < w->length_d + 2; t += rng_scale(r, 0.05, 0.9))
        (void)fprintf(f, "\"A, B\",%.9f,%.3f\r\n", t,
                      1000 * w->fish_kg * rng_scale(r, 0.0002, 0.01));
    (void)fclose(f);
    open_section(w, "feeding.log");
    word(w, "feeding.log.file", "feed.csv");
    close_section(w);
}

static void deliveries(struct writer *w)
{
    struct rng *r = &w->keeper;
    double here = 0;
    FILE *f = open_log(w, "deliveries.csv", "time_d,name,count,mean_mass_g");
    const double end = w->start_d + w->length_d;
    for (double t = w->start_d + 0.01 * w->length_d; t < end;
         t += w->length_d * rng_between(r, 0.2, 0.6)) {
        const double mass_g = rng_scale(r, 5, 2000);
        const double leave = floor(rng_between(r, 0, here + 1));
        const double come = 1 + round(1000 * w->fish_kg * rng_between(r, 0, 0.3) / mass_g);
        if (leave > 0)
            (void)fprintf(f, "%.9f,\"bought \"\"in\"\"\",%.0f,\n", t, -leave);
        (void)fprintf(f, "%.9f,\"bought \"\"in\"\"\",%.0f,%.3f\n", t, come, mass_g);
        here += come - leave;
    }
    (void)fclose(f);
    open_section(w, "deliveries");
    word(w, "deliveries.file", "deliveries.csv");
    close_section(w);
    end_line(w);
}

static void dosing(struct writer *w)
{
    struct rng *r = &w->keeper;
    open_section(w, "dosing");
    open_section(w, "dosing.baking soda");
    quantity(w, "dosing.baking soda.hold alkalinity", rng_scale(r, 0.5, 6));
    if (rng_chance(r, 0.6)) {
        if (w->changes && !w->wish->instants && rng_chance(r, 0.3))
            word(w, "dosing.baking soda.every", "water change");
        else
            quantity(w, "dosing.baking soda.every", rng_between(r, 1, 3));
    }
    if (rng_chance(r, 0.6)) {
        name_key(w, "dosing.baking soda.at");
        tl_text_addf(w->out, "\"%02d:%02d\"", rng_below(r, 24), rng_below(r, 60));
    }
    maybe(w, 0.5, "dosing.baking soda.at most", w->tank_m3 * rng_scale(r, 0.5, 500));
    close_section(w);
    close_section(w);
    end_line(w);
}

static void feeding(struct writer *w, enum growth growth)
{
    struct rng *r = &w->rng;
    const double protein = rng_between(r, 0.2, 0.55);
    const bool leaves =
        protein > 0.25 && w->p.n_of_protein * protein > 1.001 * w->p.i_organics * w->p.cod_of_feed;
    int minute = rng_below(r, 300);

    open_section(w, "feeding");
    w->logged = !w->wish->instants && rng_chance(&w->keeper, 0.1);
    if (w->logged)
        feed_log(w);
    else
        ration(w, "feeding.ration");
    if (rng_chance(&w->keeper, 0.2))
        quantity(w, "feeding.none below", rng_between(&w->keeper, 0, 20));
    if (rng_chance(&w->doubt, 0.3))
        quantity(w, "feeding.appetite", rng_between(&w->doubt, 0.7, 1.3));
    quantity(w, "feeding.protein", protein);
    if (leaves)
        maybe(w, 0.5, "feeding.uneaten", rng_between(r, 0, 0.3));
    if (!w->logged) {
        name_key(w, "feeding.meals");
        tl_text_add(w->out, "[");
        for (int i = 0, n = 1 + rng_below(r, 4); i < n; i++) {
            tl_text_addf(w->out, "%s\"%02d:%02d\"", i > 0 ? ", " : "", minute / 60, minute % 60);
            minute += 1 + rng_below(r, 370);
        }
        tl_text_add(w->out, "]");
    }
    if (growth == GROWTH_NONE)
        word(w, "feeding.growth", "none");
    if (growth == GROWTH_FEEDING)
        quantity(w, "feeding.feed conversion", rng_between(r, 1, 3));
    close_section(w);
    end_line(w);
}

static void limits(struct writer *w)
{
    /* in pairs that keep their order whichever of them are written */
    static const struct {
        const char *section, *key[2];
        double value[2];
    } pair[] = {
        {"limits.ammonia", {"limits.ammonia.caution", "limits.ammonia.danger"}, {0.03, 0.06}},
        {"limits.total ammonia",
         {"limits.total ammonia.caution", "limits.total ammonia.danger"},
         {1.5, 4}},
        {"limits.nitrite", {"limits.nitrite.caution", "limits.nitrite.danger"}, {0.3, 0.7}},
        {"limits.nitrite",
         {"limits.nitrite.chloride ratio", "limits.nitrite.danger with salt"},
         {12, 6}},
        {"limits.nitrate", {"limits.nitrate.caution", "limits.nitrate.danger"}, {50, 110}},
        {"limits.oxygen", {"limits.oxygen.caution", "limits.oxygen.danger"}, {5.5, 4}},
        {"limits.pH", {"limits.pH.caution low", "limits.pH.caution high"}, {6.8, 8.6}},
        {"limits.pH", {"limits.pH.danger low", "limits.pH.danger high"}, {6.2, 9.2}},
        {"limits.pH swing", {"limits.pH swing.caution", "limits.pH swing.danger"}, {0.4, 0.9}},
        {"limits.alkalinity", {"limits.alkalinity.caution", "limits.alkalinity.danger"}, {1.6, 1}},
        {"limits.carbon dioxide",
         {"limits.carbon dioxide.caution", "limits.carbon dioxide.danger"},
         {12, 25}},
        {"limits.chlorine", {"limits.chlorine.caution", "limits.chlorine.danger"}, {0.01, 0.02}},
        {"limits.chloride", {"limits.chloride.caution", "limits.chloride.danger"}, {800, 2500}},
        {"limits.temperature",
         {"limits.temperature.caution low", "limits.temperature.caution high"},
         {4, 28}},
        {"limits.temperature",
         {"limits.temperature.danger low", "limits.temperature.danger high"},
         {2, 33}},
        {"limits.temperature change in an hour",
         {"limits.temperature change in an hour.caution",
          "limits.temperature change in an hour.danger"},
         {1.5, 4}},
        {"limits.temperature change in a day",
         {"limits.temperature change in a day.caution",
          "limits.temperature change in a day.danger"},
         {4, 8}},
        {"limits.filter ready",
         {"limits.filter ready.ammonia", "limits.filter ready.nitrite"},
         {0.8, 0.4}},
    };
    const size_t i = (size_t)rng_below(&w->rng, (int)(sizeof pair / sizeof pair[0]));

    open_section(w, "limits");
    open_section(w, pair[i].section);
    quantity(w, pair[i].key[0], pair[i].value[0]);
    if (strstr(pair[i].key[1], "with salt") && rng_chance(&w->rng, 0.3))
        word(w, pair[i].key[1], "none");
    else
        quantity(w, pair[i].key[1], pair[i].value[1]);
    close_section(w);
    close_section(w);
    end_line(w);
}

/* A few of the model's parameters somewhat off their defaults. */
static void parameters(struct writer *w)
{
    struct rng *r = &w->rng;

    open_section(w, "parameters");
#define VARY(field, dflt, dim, lo, hi, status, help)                                               \
    if (rng_chance(r, 0.06)) {                                                                     \
        double value = (dflt)*exp(rng_between(r, -0.35, 0.35));                                    \
        if (strncmp(#field, "theta", 5) == 0)                                                      \
            value = (dflt) + rng_between(r, -0.02, 0.02);                                          \
        else if (strcmp(#field, "film_density") == 0 && rng_chance(&w->keeper, 0.7))               \
            value = rng_between(&w->keeper, 1000, 4000); /* trays clog within the run */           \
        else if (strncmp(#field, "ph_", 3) == 0)                                                   \
            value = (dflt) + rng_between(r, -0.4, 0.4);                                            \
        else if ((dflt) == 0)                                                                      \
            value = rng_between(r, 0.1, 1.8);                                                      \
        w->p.field = fmin(fmax(value, (lo) + 1e-9), (hi)-1e-9);                                    \
        quantity(w, "parameters." #field, w->p.field);                                             \
    }
    TL_PARAM_LIST(VARY)
#undef VARY
    if (w->first) /* a section may not be empty */
        quantity(w, "parameters.mu_aob", w->p.mu_aob);
    close_section(w);
    end_line(w);
}

/* --- events ----------------------------------------------------------------------------------- */

enum quantity_kept { PUMP, PUMPS_RUNNING, TO_TOWER, AERATOR, COVER, HEATER, RATION, QUANTITIES };

struct calendar {
    double free_from[QUANTITIES]; /* of a `for:` that is still running */
    double instant_d;
};

static void begin_event(struct writer *w, double at_d)
{
    const int second = (int)round(at_d * 86400);

    tl_text_add(w->out, "  - {");
    w->first = true;
    name_key(w, "events[].at");
    if (rng_chance(&w->rng, 0.7))
        tl_text_addf(w->out, "day %d %02d:%02d:%02d", second / 86400, second / 3600 % 24,
                     second / 60 % 60, second % 60);
    else
        tl_text_addf(w->out, "day %.17g", second / 86400.0);
}

/* Whole seconds within the run. */
static double some_time(struct writer *w, const struct calendar *c, double from)
{
    const double end = w->start_d + w->length_d;
    double t = rng_between(&w->rng, from, end);
    if (w->wish->instants || (rng_chance(&w->rng, 0.25) && c->instant_d >= from))
        t = c->instant_d;
    t = ceil(t * 86400) / 86400;
    return t < end ? t : floor(end * 86400) / 86400;
}

/* Change one quantity, perhaps for a while only. */
static void change(struct writer *w, struct calendar *c, enum quantity_kept what)
{
    struct rng *r = &w->rng;
    const double end = w->start_d + w->length_d;
    double *free_from = &c->free_from[what];

    if (what == RATION && w->logged)
        return;
    if (!(*free_from < end - 0.001))
        return;
    const double at = some_time(w, c, *free_from);
    if (at < *free_from)
        return;
    begin_event(w, at);
    if (what == PUMP) {
        const int form = rng_below(r, 5);
        if (form <= 1)
            word(w, "events[].pump", form == 0 ? "off" : "on");
        else if (form == 2)
            quantity(w, "events[].flow", w->flow_m3_d * rng_between(r, 0.2, 1.5));
        else {
            open_section(w, "events[].pump");
            quantity(w, "events[].pump.flow", w->flow_m3_d * rng_between(r, 0, 1.3));
            if (c->free_from[TO_TOWER] <= at && form == 3) {
                quantity(w, "events[].pump.to tower", rng_between(r, 0, 1));
                c->free_from[TO_TOWER] = end;
            }
            close_section(w);
        }
    } else if (what == PUMPS_RUNNING) {
        name_key(w, "events[].pumps running");
        tl_text_addf(w->out, "%d", rng_below(r, w->pumps + 1));
    } else if (what == TO_TOWER) {
        quantity(w, "events[].to tower", rng_chance(r, 0.3) ? 0 : rng_between(r, 0, 1));
    } else if (what == AERATOR) {
        const int form = rng_below(r, 3);
        if (form <= 1)
            word(w, "events[].aerator", form == 0 ? "off" : "on");
        else
            quantity(w, "events[].aerator", w->tank_m3 * rng_scale(r, 1, 60));
    } else if (what == COVER) {
        const int form = rng_below(r, 3);
        if (form <= 1)
            word(w, "events[].cover", form == 0 ? "off" : "on");
        else
            quantity(w, "events[].cover", rng_between(r, 0, 1));
    } else if (what == HEATER) {
        word(w, "events[].heater", rng_chance(r, 0.5) ? "off" : "on");
    } else {
        ration(w, "events[].ration");
    }
    *free_from = at;
    if (!w->wish->instants && rng_chance(r, 0.5)) {
        const double lasts = fmax(w->length_d * rng_between(r, 0.01, 0.5), 2.0 / 86400);
        quantity(w, "events[].for", lasts);
        *free_from = at + lasts + 1.0 / 86400;
    }
    tl_text_add(w->out, "}\n");
}

/* What hangs on the water of that moment. */
static void measured_dose(struct writer *w, struct calendar *c)
{
    static const char *const target[] = {"events[].dose.salt.to chloride",
                                         "events[].dose.salt.to chloride ratio",
                                         "events[].dose.baking soda.to alkalinity"};
    static const double most[] = {600, 40, 6};
    struct rng *r = &w->keeper;
    /* thiosulfate acts after what else happens at its instant */
    const int which = rng_below(r, w->wish->instants ? 3 : 4);

    begin_event(w, some_time(w, c, w->start_d));
    open_section(w, "events[].dose");
    if (which == 3) {
        quantity(w, "events[].dose.sodium thiosulfate", w->tank_m3 * rng_scale(r, 0.01, 30));
    } else {
        open_section(w, which == 2 ? "events[].dose.baking soda" : "events[].dose.salt");
        quantity(w, target[which], most[which] * rng_scale(r, 0.05, 1));
        close_section(w);
    }
    close_section(w);
}

static void rinse(struct writer *w)
{
    struct rng *r = &w->keeper;
    const bool tap = rng_chance(r, 0.6);
    if (!tap && rng_chance(r, 0.5))
        return;
    word(w, "events[].rinsed in", tap ? "tap water" : "pond water");
    if (tap)
        maybe(w, 0.6, "events[].contact", rng_scale(r, 1e-4, 0.1));
}

/* What is done at once. */
static void act(struct writer *w, struct calendar *c)
{
    static const char *const dose[] = {"events[].dose.baking soda", "events[].dose.salt",
                                       "events[].dose.ammonium chloride"};
    static const double most_g_m3[] = {300, 2000, 8};
    struct rng *r = &w->rng;
    const int kind = rng_below(r, 6);
    const int group = w->groups ? rng_below(r, w->groups) : 0;

    if (kind == 1 && (w->groups == 0 || w->fish_left[group] < 1))
        return;
    begin_event(w, some_time(w, c, w->start_d));
    if (kind == 0) {
        open_section(w, "events[].add fish");
        fish_group(w, "events[].add fish", rng_chance(r, 0.5) ? "koi" : "guest",
                   w->fish_kg * rng_between(r, 0.05, 0.8));
        close_section(w);
    } else if (kind == 1) {
        const double leave = 1 + floor(rng_between(r, 0, w->fish_left[group]) * 0.999);
        open_section(w, "events[].remove fish");
        word(w, "events[].remove fish.name", group_name[group]);
        name_key(w, "events[].remove fish.count");
        tl_text_addf(w->out, "%.0f", leave);
        close_section(w);
        w->fish_left[group] -= leave;
    } else if (kind == 2) {
        quantity(w, "events[].change water", rng_between(r, 0.01, 0.95));
    } else if (kind <= 4) {
        const int which = rng_below(r, 3);
        open_section(w, "events[].dose");
        quantity(w, dose[which], w->tank_m3 * most_g_m3[which] * rng_scale(r, 0.01, 1));
        close_section(w);
        if (rng_chance(&w->keeper, 0.6)) {
            tl_text_add(w->out, "}\n");
            measured_dose(w, c);
        }
    } else {
        static const char *const cleaned[] = {"all trays", "settling chamber", "pump"};
        const int which = rng_below(r, 4);
        name_key(w, "events[].clean");
        if (which == 3)
            tl_text_addf(w->out, "tray %d", 1 + rng_below(r, w->trays));
        else
            tl_text_add(w->out, cleaned[which]);
        if (which == 0 || which == 3)
            rinse(w);
    }
    tl_text_add(w->out, "}\n");
}

static void hose(struct writer *w, struct calendar *c)
{
    begin_event(w, some_time(w, c, w->start_d));
    name_key(w, "events[].hose");
    if (rng_chance(&w->keeper, 0.5))
        tl_text_addf(w->out, "tray %d}\n", 1 + rng_below(&w->keeper, w->trays));
    else
        tl_text_add(w->out, "all trays}\n");
}

static void medicine(struct writer *w)
{
    static const char *const drug[] = {"events[].dose.formalin", "events[].dose.hydrogen peroxide",
                                       "events[].dose.chloramine-T"};
    static const char *const pure[] = {"events[].dose.formalin.pure",
                                       "events[].dose.hydrogen peroxide.pure",
                                       "events[].dose.chloramine-T.pure"};
    static const char *const content[] = {"events[].dose.formalin.to content",
                                          "events[].dose.hydrogen peroxide.to content",
                                          "events[].dose.chloramine-T.to content"};
    struct rng *r = &w->rng;
    const int which = rng_below(r, 3);
    const int form = rng_below(r, which == 0 ? 3 : 2);
    const double mg_L = rng_scale(r, 0.5, 150);

    open_section(w, "events[].dose");
    open_section(w, drug[which]);
    if (form == 0)
        quantity(w, pure[which], w->tank_m3 * mg_L);
    else if (form == 1)
        quantity(w, content[which], mg_L);
    else
        quantity(w, "events[].dose.formalin.37 percent solution", w->tank_m3 * mg_L / 400e3);
    close_section(w);
    close_section(w);
}

static void corpse(struct writer *w, int group)
{
    const double die = 1 + floor(rng_between(&w->rng, 0, w->fish_left[group]) * 0.999);

    open_section(w, "events[].dead fish");
    word(w, "events[].dead fish.name", group_name[group]);
    name_key(w, "events[].dead fish.count");
    tl_text_addf(w->out, "%.0f", die);
    maybe(w, 0.6, "events[].dead fish.left", rng_scale(&w->rng, 0.01, 10));
    close_section(w);
    w->fish_left[group] -= die;
}

/* The mains, after all that is planned for what they drive. */
static double power(const struct calendar *c)
{
    return fmax(c->free_from[PUMP], fmax(c->free_from[AERATOR], c->free_from[HEATER]));
}

static void mishap(struct writer *w, const struct calendar *c, int kind)
{
    static const char *const where[] = {"all", "tower", "walls"};
    struct rng *r = &w->rng;
    const int group = w->groups ? rng_below(r, w->groups) : 0;
    const double end = w->start_d + w->length_d;
    const double from = kind == 3 ? power(c) : w->start_d;
    double at = w->wish->instants ? c->instant_d : rng_between(r, from, fmax(from, end - 0.001));

    at = ceil(at * 86400) / 86400;
    if (!(at < end) || at < from || (kind == 2 && (w->groups == 0 || w->fish_left[group] < 1)))
        return;
    begin_event(w, at);
    if (kind == 0) {
        medicine(w);
    } else if (kind == 1) {
        quantity(w, "events[].knock out", rng_between(r, 0, 1));
        if (rng_chance(r, 0.7))
            word(w, "events[].where", where[rng_below(r, 3)]);
    } else if (kind == 2) {
        corpse(w, group);
    } else {
        word(w, "events[].power", rng_chance(r, 0.8) ? "off" : "on");
        maybe(w, 0.7, "events[].for", fmax(w->length_d * rng_between(r, 0.01, 0.5), 2.0 / 86400));
    }
    tl_text_add(w->out, "}\n");
}

/* Medicine and mishaps, one after another, without a change in anything else. */
static void mishaps(struct writer *w, const struct calendar *c)
{
    const struct rng rest = w->rng;

    w->rng = w->healer;
    for (int kind = 0; kind < 4; kind++)
        if (rng_chance(&w->rng, 0.25))
            mishap(w, c, kind);
    w->rng = rest;
}

static void events(struct writer *w)
{
    struct rng *r = &w->rng;
    struct calendar c;
    const int n = w->wish->instants ? 6 : rng_below(r, 7);

    if (n == 0)
        return;
    for (int i = 0; i < QUANTITIES; i++)
        c.free_from[i] = w->start_d;
    c.instant_d = rng_between(r, w->start_d, w->start_d + 0.8 * w->length_d);
    c.instant_d = ceil(c.instant_d * 86400) / 86400;
    if (w->wish->instants) /* meals come at whole minutes: not then */
        c.instant_d = (60 * floor(c.instant_d * 1440) + 37) / 86400;
    word(w, "events", "\n");
    /* one that always finds a place, for a list may not be empty */
    begin_event(w, some_time(w, &c, w->start_d));
    quantity(w, "events[].change water", 0.1);
    w->changes = true;
    tl_text_add(w->out, "}\n");
    if (w->sunny)
        hose(w, &c);
    for (int i = 0; i < n; i++) {
        if (rng_chance(r, 0.5))
            change(w, &c, (enum quantity_kept)rng_below(r, QUANTITIES));
        else
            act(w, &c);
    }
    mishaps(w, &c);
    w->first = true;
}

/* --- what changes no figure of the water -------------------------------------------------------- */

static void money(struct writer *w)
{
    open_section(w, "costs");
    word(w, "costs.currency", "\"EUR\"");
    maybe(w, 0.5, "costs.pump", 60);
    maybe(w, 0.5, "costs.aerator", 30);
    maybe(w, 0.5, "costs.electricity", 0.3);
    maybe(w, 0.5, "costs.water", 4);
    maybe(w, 0.5, "costs.feed", 5);
    maybe(w, 0.5, "costs.baking soda", 3);
    maybe(w, 0.5, "costs.salt", 0.5);
    maybe(w, 0.5, "costs.media", 400);
    maybe(w, 0.5, "costs.tray", 12);
    maybe(w, 0.5, "costs.other", 100);
    close_section(w);
    end_line(w);
}

static void building(struct writer *w)
{
    open_section(w, "building");
    quantity(w, "building.bulk density", 750);
    maybe(w, 0.5, "building.water held", 0.1);
    maybe(w, 0.5, "building.tray gap", 0.2);
    maybe(w, 0.5, "building.tray mass", 3000);
    maybe(w, 0.5, "building.lowest tray", 0.5);
    close_section(w);
    end_line(w);
}

static void variants(struct writer *w)
{
    name_key(w, "variants");
    tl_text_add(w->out, "[{");
    w->first = true;
    word(w, "variants[].name", "\"fewer trays\"");
    word(w, "variants[].set", "{tower.trays: 1}");
    tl_text_add(w->out, "}]");
    end_line(w);
}

static void spread(struct writer *w)
{
    static const char *const one[] = {
        "{parameters.mu_aob: {uniform: [0.5 1/d, 1 1/d]}}",
        "{parameters: {k_surface: {triangular: [0.1 m/d, 0.6 m/d, 1 m/d]}}}",
        "{tower.specific surface: {lognormal: {median: 200 m2/m3, factor: 1.4}}}",
        "{source water.pH: {normal: {mean: 7.6, sd: 0.2}}}",
    };
    word(w, "spread", one[rng_below(&w->doubt, 4)]);
    end_line(w);
}

void generate(uint64_t seed, const struct wish *wish, struct tl_text *out, struct coverage *seen)
{
    struct writer w = {.rng = {seed * 0x2545f4914f6cdd1du + 1},
                       .keeper = {seed * 0x9e3779b97f4a7c15u + 3},
                       .sky = {seed * 0xd1342543de82ef95u + 5},
                       .doubt = {seed * 0xe7037ed1a0b428dbu + 9},
                       .healer = {seed * 0xa0761d6478bd642fu + 7},
                       .wish = wish,
                       .out = out,
                       .seen = seen,
                       .first = true};
    struct rng *r = &w.rng;
    const enum growth growth = (enum growth)rng_below(r, 5);

    tl_params_default(&w.p);
    w.sunny = rng_chance(&w.keeper, 0.4);
    head(&w);
    climate(&w);
    hardware(&w);
    sunshine(&w);
    water(&w, "source water", true);
    if (rng_chance(r, 0.6))
        water(&w, "starting water", false);
    water_change(&w);
    fish(&w, growth);
    if (rng_chance(r, 0.5))
        parameters(&w);
    feeding(&w, growth);
    if (rng_chance(r, 0.5))
        limits(&w);
    events(&w);
    if (rng_chance(&w.keeper, 0.3))
        dosing(&w);
    if (rng_chance(&w.keeper, 0.15))
        deliveries(&w);
    if (rng_chance(r, 0.3))
        money(&w);
    if (rng_chance(r, 0.3))
        building(&w);
    if (rng_chance(r, 0.3))
        variants(&w);
    if (rng_chance(&w.doubt, 0.2))
        spread(&w);
    assert_false(out->failed);
}
