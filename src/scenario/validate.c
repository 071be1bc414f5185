/* After the keys are read: what follows from several of them is filled in, and what no single key
 * can show is checked. A check looks only at values that were read without a fault. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "loop.h"
#include "reader.h"
#include "towerloop/chem.h"
#include "towerloop/inlet.h"
#include "towerloop/media.h"

#define PI              3.14159265358979323846
#define MOST_ROWS       5e6
#define MOST_CELLS      2000
#define CELL_DEPTH_M    0.1
#define LEAST_VOLUME_M3 0.001

/* Hydraulic load of the media within common practice and published extremes. */
#define LEAST_LOAD_M_H 1.25
#define MOST_LOAD_M_H  40

static bool given(const struct tl_reader *r, const char *path)
{
    return tl_place(r, path) != NULL;
}

/* Given without a fault, or left to its default. */
static bool sound(const struct tl_reader *r, const char *path)
{
    const struct tl_node *n = tl_place(r, path);
    return !n || !n->faulty;
}

/* The node of a key, or of the section around it, or of the file. */
static struct tl_node *near_place(const struct tl_reader *r, const char *path)
{
    struct tl_node *n = tl_place(r, path);
    char section[64];
    if (!n) {
        size_t length = strcspn(path, ".");
        tl_format(section, sizeof section, "%.*s", (int)length, path);
        n = tl_place(r, section);
    }
    return n ? n : r->root;
}

/* --- filling in ------------------------------------------------------------------------------ */

static void fill_basin(struct tl_reader *r, const char *name, struct tl_basin *basin,
                       const struct tl_shape *shape)
{
    static const char *const part_name[] = {"volume", "surface", "wetted walls"};
    double *part[] = {&basin->volume_m3, &basin->surface_m2, &basin->walls_m2};
    struct tl_node *n = tl_place(r, name);
    if (!n || n->faulty || n->kind != TL_NODE_MAPPING)
        return;

    bool length = tl_node_child(n, "length");
    bool width = tl_node_child(n, "width");
    bool depth = tl_node_child(n, "depth");
    bool round = tl_node_child(n, "diameter");
    bool sides = length || width || depth || round;
    double from_sides[3] = {0};
    if (round && (length || width)) {
        tl_fault(r, n, "length, width and depth, or diameter and depth",
                 "both a rectangle and a circle");
        return;
    }
    if (sides && !(depth && (round || (length && width)))) {
        tl_fault(r, n, "length, width and depth, or diameter and depth", "a side is missing");
        return;
    }
    if (sides) {
        double d = shape->depth_m;
        double area = round ? PI / 4 * shape->diameter_m * shape->diameter_m
                            : shape->length_m * shape->width_m;
        double around = round ? PI * shape->diameter_m : 2 * (shape->length_m + shape->width_m);
        from_sides[0] = area * d;
        from_sides[1] = area;
        from_sides[2] = area + around * d;
    }
    for (size_t i = 0; i < 3; i++) {
        if (tl_node_child(n, part_name[i]))
            continue;
        if (sides)
            *part[i] = from_sides[i];
        else
            tl_fault_missing(r, n, part_name[i],
                             "its value, or the sides it follows from (length, "
                             "width and depth, or diameter and depth)");
    }
    if (sides && basin->volume_m3 < LEAST_VOLUME_M3)
        tl_fault(r, n, "at least 1 L", "the sides give %.3g m3", basin->volume_m3);
}

static void fill_media(struct tl_reader *r)
{
    struct tl_tower *t = &r->draft->s.setup.tower;
    struct tl_building *b = &r->draft->s.building;
    const struct tl_media *m = tl_media_find(t->media);
    double *const to[TL_NMEDIA_FIGURE] = {
        [TL_MEDIA_SURFACE] = &t->specific_surface_m2_m3,
        [TL_MEDIA_SIZE] = &t->media_size_m,
        [TL_MEDIA_VOIDS] = &t->void_fraction,
        [TL_MEDIA_SIGMA] = &t->critical_surface_tension_n_m,
        [TL_MEDIA_DENSITY] = &b->bulk_density_kg_m3,
        [TL_MEDIA_HELD] = &b->water_held,
    };
    for (int i = 0; i < TL_NMEDIA_FIGURE; i++)
        if (!given(r, tl_media_figure_key((enum tl_media_figure)i)))
            *to[i] = m->value[i];
}

static void fill_starting_water(struct tl_reader *r)
{
    static const struct {
        const char *path;
        enum tl_water_component component;
    } contents[] = {
        {"starting water.alkalinity", TL_ALK},
        {"starting water.ammonia", TL_TAN},
        {"starting water.nitrite", TL_NO2},
        {"starting water.nitrate", TL_NO3},
        {"starting water.chloride", TL_CL},
        {"starting water.chlorine", TL_HOCL},
        {"starting water.solids", TL_XS},
        {"starting water.inert solids", TL_XI},
        {"starting water.dissolved organics", TL_SS},
    };
    const struct tl_source *from = &r->draft->s.setup.source;
    struct tl_source *to = &r->draft->s.setup.starting;
    for (size_t i = 0; i < sizeof contents / sizeof *contents; i++)
        if (!given(r, contents[i].path))
            to->water[contents[i].component] = from->water[contents[i].component];
    if (!given(r, "starting water.pH"))
        to->ph = from->ph;
    if (!given(r, "starting water.oxygen")) {
        to->water[TL_O2] = from->water[TL_O2];
        to->o2_given = from->o2_given;
    }
    to->chloramine = from->chloramine;
    if (!from->dechlorinated)
        return;
    /* what stands in for the source water here has met the thiosulfate, too */
    const double chlorine = from->water[TL_HOCL];
    if (!given(r, "starting water.chlorine"))
        to->water[TL_HOCL] = 0;
    if (!given(r, "starting water.chloride"))
        to->water[TL_CL] += TL_CHLORIDE_PER_CHLORINE * chlorine;
    if (!given(r, "starting water.ammonia") && from->chloramine)
        to->water[TL_TAN] += TL_CHLORAMINE_N_PER_CHLORINE * chlorine;
}

/* Noon of the warmest day in the year of the start; 29 February counts as 1 March elsewhere. */
static void fill_swings(struct tl_reader *r, struct tl_node *n, const struct tl_month_day *warmest,
                        double lo, double hi, struct tl_temperature *t)
{
    const struct tl_date *start = &r->draft->s.start;
    char range[64];
    if (warmest->month > 0)
        t->warmest_noon_d = (double)(tl_day_number(start->year, warmest->month, warmest->day) -
                                     tl_day_number(start->year, start->month, start->day)) +
                            0.5;
    else if (t->seasonal_swing_degC > 0)
        tl_fault_missing(r, n, "warmest day", "month-day, as 07-25");
    const double swing = t->seasonal_swing_degC + t->daily_swing_degC;
    tl_format(range, sizeof range, "%.6g to %.6g degC at all times", lo, hi);
    if (t->mean_degC - swing < lo || t->mean_degC + swing > hi)
        tl_fault(r, n, range, "swings from %.6g to %.6g degC", t->mean_degC - swing,
                 t->mean_degC + swing);
}

static void fill_temperature(struct tl_reader *r)
{
    struct tl_draft *d = r->draft;
    struct tl_temperature *t = &d->s.setup.temperature;
    struct tl_node *n = tl_place(r, "temperature");
    if (!n || n->faulty)
        return;
    if (t->kind == TL_TEMPERATURE_READINGS) {
        if (sound(r, "length") && sound(r, "start"))
            tl_read_temperatures(r, tl_place(r, "temperature.file"));
    } else if (t->kind == TL_TEMPERATURE_SINES) {
        fill_swings(r, n, &d->water_warmest, 0, 40, t);
    } else if (t->kind == TL_TEMPERATURE_WEATHER && !given(r, "weather")) {
        tl_fault(r, n, "a section weather:, or a temperature",
                 "there is no weather to work it "
                 "out from");
    }
}

/* The weather is for a temperature that is not given; beside one that is, it is dropped. */
static void drop_weather(struct tl_reader *r)
{
    struct tl_scenario *s = &r->draft->s;
    tl_warn(r, tl_place(r, "weather"),
            "not used: the temperature of the water is given (take that away, or write "
            "temperature: from weather)");
    s->setup.weather.given = false;
    free(s->input[TL_INPUT_WEATHER]);
    s->input[TL_INPUT_WEATHER] = NULL;
}

static void warn_without_weather(struct tl_reader *r)
{
    static const char *const path[] = {"heater", "source water.temperature",
                                       "starting water.temperature"};
    for (size_t i = 0; i < sizeof path / sizeof *path; i++)
        if (given(r, path[i]) && sound(r, path[i]))
            tl_warn(r, tl_place(r, path[i]), "has no effect without weather:");
    /* a complete scenario names it whatever it has */
    struct tl_setup usual;
    tl_setup_default(&usual);
    if (given(r, "tank.wall heat loss") && sound(r, "tank.wall heat loss") &&
        r->draft->s.setup.wall_loss_w_m2_k != usual.wall_loss_w_m2_k)
        tl_warn(r, tl_place(r, "tank.wall heat loss"), "has no effect without weather:");
    tl_setup_free(&usual);
}

static void fill_weather(struct tl_reader *r)
{
    struct tl_draft *d = r->draft;
    struct tl_setup *s = &d->s.setup;
    struct tl_weather *w = &s->weather;
    struct tl_node *n = tl_place(r, "weather");
    struct tl_node *air = tl_place(r, "weather.air temperature");
    if (!n) {
        warn_without_weather(r);
        return;
    }
    if (given(r, "temperature") && s->temperature.kind != TL_TEMPERATURE_WEATHER) {
        if (sound(r, "temperature"))
            drop_weather(r);
        return;
    }
    s->temperature.kind = TL_TEMPERATURE_WEATHER;
    w->day_of_year = (double)(tl_day_number(d->s.start.year, d->s.start.month, d->s.start.day) -
                              tl_day_number(d->s.start.year, 1, 1)) +
                     1;
    if (air && !air->faulty && w->air.kind == TL_TEMPERATURE_SINES)
        fill_swings(r, air, &d->air_warmest, -40, 50, &w->air);
    if (air && !air->faulty && w->air.kind == TL_TEMPERATURE_READINGS && sound(r, "length") &&
        sound(r, "start"))
        tl_read_weather(r, tl_place(r, "weather.air temperature.file"));
    const bool sun_unknown = w->air.kind == TL_TEMPERATURE_READINGS && w->air.readings.n == 0;
    if (!given(r, "weather.latitude") && w->log[TL_LOG_SUN].n == 0 && !sun_unknown)
        tl_fault_missing(r, n, "latitude", "degrees north of the equator, as 48 deg");
    if (s->heater.power_w > 0 && !given(r, "heater.keep at"))
        tl_fault_missing(r, tl_place(r, "heater"), "keep at",
                         "the temperature below which it heats, as 18 degC");
}

/* Copies in the folder of a run lie beside each other under their own names. */
static void check_input_names(struct tl_reader *r)
{
    static const char *const key[TL_NINPUT] = {[TL_INPUT_TEMPERATURE] = "temperature.file",
                                               [TL_INPUT_WEATHER] = "weather.air temperature.file",
                                               [TL_INPUT_FEED] = "feeding.log.file",
                                               [TL_INPUT_DELIVERIES] = "deliveries.file"};
    const struct tl_scenario *s = &r->draft->s;
    for (enum tl_input i = 1; i < TL_NINPUT; i++)
        for (enum tl_input k = 0; k < i; k++)
            if (s->input[i] && s->input[k] && strcmp(s->input[i], s->input[k]) != 0 &&
                strcmp(tl_scenario_input_name(s, i), tl_scenario_input_name(s, k)) == 0)
                tl_fault(r, tl_place(r, key[i]), "files of different names",
                         "\"%s\" is called as another file is", s->input[i]);
}

static void read_logs(struct tl_reader *r)
{
    struct tl_node *feed = tl_place(r, "feeding.log.file");
    struct tl_node *deliveries = tl_place(r, "deliveries.file");
    if (!given(r, "length") || !sound(r, "length") || !sound(r, "start"))
        return;
    if (feed && !feed->faulty)
        tl_read_feed_log(r, feed);
    if (deliveries && !deliveries->faulty)
        tl_read_deliveries(r, deliveries);
    check_input_names(r);
}

static void fill_growth(struct tl_reader *r)
{
    struct tl_draft *d = r->draft;
    struct tl_feeding *f = &d->s.setup.feeding;
    if (d->group_conversion > 0) {
        if (f->grows && f->feed_conversion != d->group_conversion)
            tl_fault(r, tl_place(r, "feeding.feed conversion"), "one feed conversion for all fish",
                     "a group of fish has %.6g", d->group_conversion);
        f->grows = true;
        f->feed_conversion = d->group_conversion;
    }
    if (d->growth_none && f->grows)
        tl_fault(r, near_place(r, "feeding.growth"), "one of the two",
                 "both growth: none and a feed conversion");
}

/* "pond" out of "summer/pond.yaml". */
static void fill_title(struct tl_reader *r)
{
    struct tl_scenario *s = &r->draft->s;
    if (s->title)
        return;
    const char *slash = strrchr(r->file, '/');
    const char *name = slash ? slash + 1 : r->file;
    const char *dot = strrchr(name, '.');
    if (tl_is_plain_text(name))
        s->title = strndup(name, dot && dot > name ? (size_t)(dot - name) : strlen(name));
    else
        s->title = strdup("untitled");
    if (!s->title)
        r->out_of_memory = true;
}

/* --- checks ---------------------------------------------------------------------------------- */

static void temperature_range(const struct tl_temperature *t, double *lo, double *hi)
{
    double swing =
        t->kind == TL_TEMPERATURE_SINES ? t->seasonal_swing_degC + t->daily_swing_degC : 0;
    if (t->kind == TL_TEMPERATURE_WEATHER) { /* what water in the open comes to */
        *lo = 0;
        *hi = 35;
        return;
    }
    *lo = t->mean_degC - swing;
    *hi = t->mean_degC + swing;
    for (size_t i = 0; i < t->readings.n; i++) {
        *lo = i == 0 ? t->readings.y[0] : fmin(*lo, t->readings.y[i]);
        *hi = i == 0 ? t->readings.y[0] : fmax(*hi, t->readings.y[i]);
    }
    if (t->warmer_degC != 0) {
        *lo = fmin(fmax(*lo + t->warmer_degC, 0), 40);
        *hi = fmin(fmax(*hi + t->warmer_degC, 0), 40);
    }
}

/* Alkalinity and pH can stand together when inorganic carbon is left to make them. */
static void check_water(struct tl_reader *r, const char *name, const struct tl_source *water)
{
    double t[2];
    struct tl_node *n = tl_place(r, name);
    if (!n || n->faulty || !sound(r, "source water") || !sound(r, "temperature"))
        return;
    temperature_range(&r->draft->s.setup.temperature, &t[0], &t[1]);
    for (size_t i = 0; i < 2; i++) {
        struct tl_carbonate k;
        tl_carbonate_constants(t[i], &k);
        if (tl_tic_from_h(&k, water->water[TL_ALK], pow(10, -water->ph), water->water[TL_TAN]) >= 0)
            continue;
        tl_fault(r, n, "more alkalinity or a lower pH",
                 "the alkalinity is too low for a pH of %.6g at %.6g degC", water->ph, t[i]);
        return;
    }
}

struct shown {
    char text[40];
};

/* Rounded, and never with a power of ten. */
static struct shown shown(enum tl_dim dim, double value, int digits)
{
    struct shown s;
    tl_display_text(dim, TL_METRIC, value, digits, s.text, sizeof s.text);
    return s;
}

/* Too little water wets few of the media; too much stands in their voids and keeps the air out. */
static void check_load(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const struct tl_tower *t = &s->tower;
    const struct tl_packing p = {t->specific_surface_m2_m3, t->media_size_m,
                                 t->critical_surface_tension_n_m};
    const double load = s->pump_flow_m3_d * s->to_tower / 24 / t->plan_area_m2;
    const struct shown water = shown(TL_DIM_NUMBER, load, 3);
    struct tl_wetting wet;
    double t_degC[2];

    if (!(load > 0) || !sound(r, "temperature"))
        return;
    temperature_range(&s->temperature, &t_degC[0], &t_degC[1]);
    if (load < LEAST_LOAD_M_H) {
        tl_onda(&p, load, t_degC[0], &wet);
        tl_warn(r, tl_place(r, "tower.plan area"),
                "%s m of water an hour cross the media, outside %.6g to %.6g m/h where towers are "
                "known to work; they wet about %s %% of the media, and from %s m/h on media "
                "like these count as well wetted: more water, or higher and narrower%s",
                water.text, LEAST_LOAD_M_H, (double)MOST_LOAD_M_H,
                shown(TL_DIM_NUMBER, 100 * wet.wetted_fraction, 2).text,
                shown(TL_DIM_NUMBER, tl_least_wetting_load_m_h(&p), 2).text,
                load < TL_STREAKS_M_H && !t->submerged
                    ? "; so little counts as no water on the tower"
                    : "");
    } else if (load > MOST_LOAD_M_H) {
        tl_warn(r, tl_place(r, "tower.plan area"),
                "%s m of water an hour cross the media, outside %.6g to %.6g m/h where towers are "
                "known to work; less water, or lower and wider",
                water.text, LEAST_LOAD_M_H, (double)MOST_LOAD_M_H);
    }
    const double filled =
        tl_water_in_voids(t->specific_surface_m2_m3, t->void_fraction, load, t_degC[0]);
    if (filled >= 1)
        tl_warn(
            r, tl_place(r, "tower.plan area"),
            "%s m of water an hour are more than drains through the media, %s m/h; water "
            "stands on the trays and runs over: coarser media, or wider trays",
            water.text,
            shown(TL_DIM_NUMBER,
                  tl_most_drained_load_m_h(t->specific_surface_m2_m3, t->void_fraction, t_degC[0]),
                  2)
                .text);
    else if (filled > TL_MOST_VOIDS_FILLED)
        tl_warn(r, tl_place(r, "tower.plan area"),
                "%s m of water an hour fill %.0f %% of the voids of the media, and more than %.0f "
                "%% leave no way for air: coarser media, or wider trays",
                water.text, 100 * filled, 100 * TL_MOST_VOIDS_FILLED);
}

static void check_tower(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const struct tl_tower *t = &s->tower;
    if (sound(r, "tower") && given(r, "tower")) {
        double cells = ceil(t->media_depth_m / CELL_DEPTH_M - 1e-9) * t->trays;
        if (cells > MOST_CELLS)
            tl_fault(r, tl_place(r, "tower.media depth"), "a smaller tower",
                     "%.0f layers of 0.1 m in all trays together, more than %d", cells, MOST_CELLS);
    }
    if (sound(r, "tower") && sound(r, "pump") && given(r, "tower") && !t->submerged)
        check_load(r);
}

static bool feeds(const struct tl_ration *ration)
{
    for (size_t i = 0; i < ration->table.n; i++)
        if (ration->table.y[i] > 0)
            return true;
    return ration->kind != TL_RATION_TABLE && ration->value > 0;
}

static void check_feeding(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const struct tl_feeding *f = &s->feeding;
    const bool logged = given(r, "feeding.log");
    bool fed = feeds(&f->ration);
    bool changed = false;
    for (size_t i = 0; i < s->events; i++) {
        changed |= s->event[i].kind == TL_EVENT_RATION;
        fed = fed || (s->event[i].kind == TL_EVENT_RATION && feeds(&s->event[i].ration));
    }
    if (logged && (fed || changed || f->meals > 0)) {
        tl_fault(r, tl_place(r, "feeding.log"), "a log, or a ration and meals",
                 "a log of the meals given, and %s besides",
                 f->meals > 0        ? "meals"
                 : feeds(&f->ration) ? "a ration"
                                     : "a ration in an event");
        return;
    }
    if (logged && given(r, "feeding.none below"))
        tl_warn(r, tl_place(r, "feeding.none below"),
                "changes nothing: the log says what was fed, however cold the water");
    if (fed && f->meals == 0 && sound(r, "feeding.meals")) {
        struct tl_node *n = tl_place(r, "feeding");
        tl_fault_missing(r, n ? n : r->root, n ? "meals" : "feeding.meals",
                         "clock times, as [\"08:00\", \"18:00\"]");
    }

    /* uneaten feed is solids of a fixed nitrogen content, and must hold at least that much */
    const struct tl_params *p = &s->params;
    if (f->uneaten > 0 && sound(r, "feeding") && sound(r, "parameters") &&
        (f->protein < 0.25 || p->n_of_protein * f->protein < p->i_organics * p->cod_of_feed))
        tl_fault(r, near_place(r, "feeding.uneaten"), "a protein of 25 % or more",
                 "uneaten feed with a protein of %.6g %%", 100 * f->protein);
}

/* series.csv: values of a row, and bytes of a value; measured. */
#define VALUES_ALWAYS 59
#define VALUES_A_TRAY 10
#define VALUE_BYTES   9
#define MUCH_GB       1.0 /* a page or a chart of it takes minutes; judgement */
#define MOST_GB       4.0

static void check_results_size(struct tl_reader *r, struct tl_node *n, double rows)
{
    const double a_row = VALUES_ALWAYS + VALUES_A_TRAY * (double)r->draft->s.setup.tower.trays;
    const double gb = rows * a_row * VALUE_BYTES / 1e9;
    if (!sound(r, "tower"))
        return;
    if (gb > MOST_GB)
        tl_fault(r, n, "at most 4 GB; longer, as 15 min",
                 "about %.3g GB of results, %.0f rows of %.0f values", gb, rows, a_row);
    else if (gb > MUCH_GB)
        tl_warn(r, n, "about %.2g GB of results, %.0f rows of %.0f values", gb, rows, a_row);
}

static void check_times(struct tl_reader *r)
{
    const struct tl_scenario *s = &r->draft->s;
    struct tl_node *n = near_place(r, "report every");
    if (!given(r, "length") || !sound(r, "length") || !sound(r, "report every"))
        return;
    if (s->report_every_d > s->setup.length_d && !given(r, "report every"))
        tl_fault(r, near_place(r, "length"), "a longer run, or a shorter `report every`",
                 "shorter than the %.3g min from one row of results to the next",
                 24 * 60 * s->report_every_d);
    else if (s->report_every_d > s->setup.length_d)
        tl_fault(r, n, "no more than the length", "longer than the run");
    else if (s->setup.length_d / s->report_every_d > MOST_ROWS)
        tl_fault(r, n, "at most 5 million rows", "%.0f rows of results",
                 s->setup.length_d / s->report_every_d);
    else
        check_results_size(r, n, s->setup.length_d / s->report_every_d);
}

static void check_water_change(struct tl_reader *r)
{
    const bool every = given(r, "water change.every");
    const bool amount = given(r, "water change.amount");
    if (every != amount)
        tl_fault_missing(r, tl_place(r, "water change"), every ? "amount" : "every",
                         every ? "a share of the tank, as 15 %" : "a time, as 7 d");
}

#define MOST_CHANGE 0.5 /* of the tank, at once, with fish in it; common practice, no source */

static void check_share(struct tl_reader *r, struct tl_node *n, double share)
{
    if (n && share > MOST_CHANGE + 1e-9 && tl_setup_ever_fish(&r->draft->s.setup))
        tl_warn(r, n,
                "%s %% of the tank is changed at once; with fish in it common practice is at most "
                "%.0f %%; what it does to "
                "fish that little water is left is not judged",
                shown(TL_DIM_NUMBER, 100 * share, 3).text, 100 * MOST_CHANGE);
}

static void check_shares(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (!sound(r, "water change") || !sound(r, "fish") || !sound(r, "events"))
        return;
    check_share(r, tl_place(r, "water change.amount"), s->change_amount);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_WATER_CHANGE)
            check_share(r, r->event_entry[i], s->event[i].value);
}

/* --- doses and chlorine ------------------------------------------------------------------------ */

static bool changes_water(const struct tl_setup *s)
{
    bool any = s->change_every_d > 0;
    for (size_t i = 0; i < s->events; i++)
        any = any || s->event[i].kind == TL_EVENT_WATER_CHANGE;
    return any;
}

static void check_dosing(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *every = tl_place(r, "dosing.baking soda.every");
    if (every && !every->faulty && !(s->dosing.every_d > 0) && !changes_water(s))
        tl_fault(r, every, "a time, as 1 d, or water changes", "there is no water change");
}

#define MEAL_SHARE   0.1  /* of the body mass, in one meal: far more than fish eat; judgement */
#define RATION_SHARE 0.15 /* in a day; fry of a gram eat a tenth; judgement */

/* At the start or added. */
static double all_fish_g(const struct tl_setup *s)
{
    double all_g = 0;
    for (size_t i = 0; i < s->fish_groups; i++)
        all_g += s->fish[i].count * s->fish[i].mean_mass_g;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_ADD_FISH)
            all_g += s->event[i].fish.count * s->event[i].fish.mean_mass_g;
    return all_g;
}

/* A log of meals for fish that are not there, or that no fish could eat. */
static void check_log(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const struct tl_table *log = &s->feeding.log;
    struct tl_node *n = tl_place(r, "feeding.log");
    if (log->n == 0 || !n || !sound(r, "fish") || !sound(r, "events"))
        return;
    const double all_g = all_fish_g(s);
    if (!(all_g > 0)) {
        tl_warn(r, n, "there are no fish: what the log says is not fed");
        return;
    }
    size_t most = 0;
    for (size_t i = 1; i < log->n; i++)
        most = log->y[i] > log->y[most] ? i : most;
    const double meal_g = s->feeding.appetite * log->y[most];
    if (meal_g > MEAL_SHARE * all_g)
        tl_warn(r, n,
                "the largest meal, %s g on day %s, is %s %% of the mass of all fish at the "
                "start or added; look at its unit and its decimal point",
                shown(TL_DIM_NUMBER, meal_g, 4).text, shown(TL_DIM_NUMBER, log->x[most], 4).text,
                shown(TL_DIM_NUMBER, 100 * meal_g / all_g, 3).text);
}

#define MOST_STOCK_KG_M3                                                                           \
    100 /* about what intensive culture in tanks with pure oxygen has; from memory */

#define MOST_WATER_KG_M3                                                                           \
    1000 /* what the water weighs: fish weigh about as much, and take its room */

/* More fish than water holds, by a slip of count, mass or volume. */
static void check_stock(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct tl_node *n = tl_place(r, "fish");
    if (!n || !sound(r, "fish") || !sound(r, "events") || !sound(r, "tank") || !given(r, "tank"))
        return;
    const double kg_m3 = all_fish_g(s) / 1000 / s->tank.volume_m3;
    if (kg_m3 > MOST_WATER_KG_M3)
        tl_fault(r, n, "fish that find room in the water: look at count, mean mass and volume",
                 "all fish at the start or added are %s kg in each m3 of the tank, more than the "
                 "water weighs",
                 shown(TL_DIM_NUMBER, kg_m3, 3).text);
    else if (kg_m3 > MOST_STOCK_KG_M3)
        tl_warn(r, n,
                "all fish at the start or added are %s kg in each m3 of the tank; more than %d is "
                "beyond what tanks are known to hold: look at count, mean mass and volume",
                shown(TL_DIM_NUMBER, kg_m3, 3).text, MOST_STOCK_KG_M3);
}

/* Oxygen transfer is told for clean water without oxygen, at 20 degC: over what the tank holds at saturation it is how
 * often that is renewed. Stirred reactors blown with pure oxygen come to about ten times a minute; once a second is
 * a slip of the unit, and seconds are nothing to be reckoned here. Judgement. */
#define FULL_G_M3        9.09
#define MOST_AERATOR_1_D 86400.0

static void check_transfer(struct tl_reader *r, struct tl_node *n, double transfer_g_d)
{
    const double full_g = FULL_G_M3 * r->draft->s.setup.tank.volume_m3;
    if (n && transfer_g_d > MOST_AERATOR_1_D * full_g)
        tl_fault(r, n, "an oxygen transfer of this tank: look at its unit and the tank's volume",
                 "%s g of oxygen a day would fill the tank from none to saturation more than once "
                 "a second",
                 shown(TL_DIM_NUMBER, transfer_g_d, 3).text);
}

static void check_aerator(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (!sound(r, "tank") || !given(r, "tank") || !sound(r, "aerator") || !sound(r, "events"))
        return;
    check_transfer(r, tl_place(r, "aerator.oxygen transfer"), s->aerator_g_d);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_AERATOR)
            check_transfer(r, r->event_entry[i], s->event[i].value);
}

/* Of all fish, a day, at the most. */
static double ration_share(const struct tl_ration *ration, double all_g)
{
    double share = 0;
    if (ration->kind == TL_RATION_MASS)
        return all_g > 0 ? ration->value / all_g : 0;
    if (ration->kind == TL_RATION_PER_BIOMASS)
        return ration->value;
    for (size_t i = 0; i < ration->table.n; i++)
        share = fmax(share, ration->table.y[i]);
    return share;
}

static void check_ration(struct tl_reader *r, struct tl_node *n, const struct tl_ration *ration)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double share = s->feeding.appetite * ration_share(ration, all_fish_g(s));
    const double kg_m3 = share * all_fish_g(s) / 1000 / s->tank.volume_m3;
    if (n && sound(r, "tank") && given(r, "tank") && kg_m3 > MOST_WATER_KG_M3)
        tl_fault(r, n, "a ration of this tank: look at its unit and its decimal point",
                 "%s kg of feed a day in each m3 of the tank", shown(TL_DIM_NUMBER, kg_m3, 3).text);
    else if (n && share > RATION_SHARE + 1e-9)
        tl_warn(r, n,
                "a ration of %s %% of the mass of all fish a day; more than %.0f %% is far more "
                "than fish eat, and what they leave fouls the water: look at its unit and its "
                "decimal point",
                shown(TL_DIM_NUMBER, 100 * share, 3).text, 100 * RATION_SHARE);
}

static void check_rations(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (!sound(r, "fish") || !sound(r, "events") || !sound(r, "feeding"))
        return;
    check_ration(r, tl_place(r, "feeding.ration"), &s->feeding.ration);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_RATION)
            check_ration(r, r->event_entry[i], &s->event[i].ration);
}

/* All the time: as a trickle, or for what evaporates. */
static bool runs_in(const struct tl_setup *s)
{
    return s->trickle_1_d > 0 || s->weather.given;
}

/* Source water gets in, by whatever way. */
static bool lets_water_in(const struct tl_setup *s)
{
    bool any = runs_in(s) || s->emptying.every_d > 0 || changes_water(s);
    for (size_t i = 0; i < s->events; i++)
        any = any || s->event[i].kind == TL_EVENT_CLEAN_CHAMBER;
    return any;
}

/* Times at which water is let in with too little of it. */
struct undosed {
    size_t times;
    double t_d, needed_g, given_g; /* of the first one found */
};

static void look_at(void *arg, const struct tl_inlet *in)
{
    struct undosed *u = arg;
    if (!tl_inlet_untreated(in))
        return;
    if (u->times++ == 0 || in->t_d < u->t_d) {
        u->t_d = in->t_d;
        u->needed_g = in->needed_g;
        u->given_g = in->given_g;
    }
}

static struct shown clock_of(double t_d)
{
    struct shown s;
    const int minute = (int)round(1440 * (t_d - floor(t_d + TL_DOSE_SOON_D / 2)));
    tl_format(s.text, sizeof s.text, "%02d:%02d", minute / 60, minute % 60);
    return s;
}

static void check_dechlorinator(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    struct undosed u = {.t_d = INFINITY};
    if (!sound(r, "water change") || !sound(r, "events") || !sound(r, "tank") ||
        !sound(r, "settling chamber"))
        return;
    tl_inlets(s, look_at, &u);
    if (u.times > 0)
        tl_warn(r, near_place(r, "source water.chlorine"),
                "the water let in on day %.0f %s (a change, or the refill of the settling chamber) "
                "needs %s g of sodium thiosulfate and gets %s g at that time (times with too "
                "little: %zu); a dose before it does nothing, and until a later one the fish are "
                "in chlorine",
                floor(u.t_d + TL_DOSE_SOON_D / 2), clock_of(u.t_d).text,
                shown(TL_DIM_NUMBER, u.needed_g, 3).text, shown(TL_DIM_NUMBER, u.given_g, 3).text,
                u.times);
    if (runs_in(s) && !(s->source.water[TL_HOCL] <= r->draft->s.limits.chlorine.caution))
        tl_warn(r, near_place(r, "source water.chlorine"),
                "water trickles in or replaces what evaporates all the time, and doses at an hour "
                "do not meet its chlorine: treat it before it runs in (dechlorinated: yes)");
}

/* Media rinsed under a tap of which nothing is known. */
static void check_tap(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    if (given(r, "source water.chlorine") || !sound(r, "events"))
        return;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].tap_water)
            tl_warn(r, r->event_entry[i],
                    "no chlorine is given for the source water, so this rinse is counted as "
                    "harmless; tap water mostly holds some: state it under source water");
}

/* Chlorine that nothing is dosed against, and media that are rinsed in it. */
static void check_chlorine(struct tl_reader *r)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double chlorine = s->source.water[TL_HOCL];
    bool dosed = s->source.dechlorinated;
    for (size_t i = 0; i < s->events; i++)
        dosed =
            dosed || (s->event[i].kind == TL_EVENT_DOSE && s->event[i].dose == TL_DOSE_THIOSULFATE);
    check_tap(r);
    if (!(chlorine > 0) || !sound(r, "source water"))
        return;
    if (dosed && !s->source.dechlorinated)
        check_dechlorinator(r);
    const double limit = r->draft->s.limits.chlorine.caution;
    if (!dosed && lets_water_in(s) && !(chlorine <= limit))
        tl_warn(r, near_place(r, "source water.chlorine"),
                "the source water holds %.3g mg/L of chlorine, and no dechlorinator is dosed; fish "
                "are harmed by far less, see the limit of chlorine",
                chlorine);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].tap_water)
            tl_warn(r, r->event_entry[i],
                    "%s in tap water with %.3g mg/L of chlorine kill about %s %% of the "
                    "film; common practice: rinse media in pond water or water without chlorine",
                    shown(TL_DIM_TIME, s->event[i].contact_d, 3).text, chlorine,
                    shown(TL_DIM_NUMBER,
                          100 * tl_chlorine_kill(&s->params, chlorine, s->event[i].contact_d), 2)
                        .text);
}

static void check_limits(struct tl_reader *r)
{
    const struct tl_limits *l = &r->draft->s.limits;
    const struct {
        const char *key, *caution, *danger;
        double caution_value, danger_value;
        bool below; /* values below the limit are the bad ones */
    } pairs[] = {
#define PAIR(name, member, below)                                                                  \
    {"limits." name,    "limits." name ".caution", "limits." name ".danger",                       \
     l->member.caution, l->member.danger,          below}
        PAIR("ammonia", nh3, false),
        PAIR("nitrite", no2, false),
        PAIR("nitrate", no3, false),
        PAIR("oxygen", o2, true),
        PAIR("pH swing", ph_swing, false),
        PAIR("alkalinity", alk, true),
        PAIR("carbon dioxide", co2, false),
        PAIR("chlorine", chlorine, false),
        PAIR("chloride", chloride, false),
        PAIR("temperature change in an hour", hour_change, false),
        PAIR("temperature change in a day", day_change, false),
#undef PAIR
        {"limits.total ammonia", "limits.total ammonia.caution", "limits.total ammonia.danger",
         l->tan_caution, l->tan_danger, false},
        {"limits.pH", "limits.pH.caution low", "limits.pH.danger low", l->ph_low.caution,
         l->ph_low.danger, true},
        {"limits.pH", "limits.pH.caution high", "limits.pH.danger high", l->ph_high.caution,
         l->ph_high.danger, false},
        {"limits.temperature", "limits.temperature.caution low", "limits.temperature.danger low",
         l->cold.caution, l->cold.danger, true},
        {"limits.temperature", "limits.temperature.caution high", "limits.temperature.danger high",
         l->warm.caution, l->warm.danger, false},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        double beyond = pairs[i].caution_value - pairs[i].danger_value;
        struct tl_node *n = tl_place(r, pairs[i].key);
        if (!n || !sound(r, pairs[i].caution) || !sound(r, pairs[i].danger))
            continue;
        if (pairs[i].below ? beyond < 0 : beyond > 0) /* false when either is not a number */
            tl_fault(r, n,
                     pairs[i].below ? "a caution above the danger" : "a caution below the danger",
                     "the caution lies beyond the danger (limits not named keep their defaults)");
    }
    if (given(r, "limits.pH") && sound(r, "limits.pH") && l->ph_low.caution >= l->ph_high.caution)
        tl_fault(r, tl_place(r, "limits.pH"), "a range", "caution low is not below caution high");
    if (given(r, "limits.temperature") && sound(r, "limits.temperature") &&
        l->cold.caution >= l->warm.caution)
        tl_fault(r, tl_place(r, "limits.temperature"), "a range",
                 "caution low is not below caution high");
}

static void check_heater(struct tl_reader *r)
{
    const struct tl_scenario *s = &r->draft->s;
    const double keep_degC = s->setup.heater.keep_degC, warm_degC = s->limits.warm.caution;
    if (!given(r, "heater.keep at") || !sound(r, "heater.keep at") || !sound(r, "limits") ||
        !(s->setup.heater.power_w > 0) || !(keep_degC > warm_degC))
        return;
    tl_warn(r, tl_place(r, "heater.keep at"),
            "keeps the water at %s degC or more, and above %s degC it is too warm for the fish "
            "(limits: temperature: caution high)",
            shown(TL_DIM_NUMBER, keep_degC, 3).text, shown(TL_DIM_NUMBER, warm_degC, 3).text);
}

static void check_parameters(struct tl_reader *r)
{
    const struct tl_params *p = &r->draft->s.setup.params;
    if (given(r, "parameters") && sound(r, "parameters") &&
        (p->ph_lo_aob >= p->ph_hi_aob || p->ph_lo_nob >= p->ph_hi_nob))
        tl_fault(r, tl_place(r, "parameters"), "ph_lo below ph_hi",
                 "the lower pH of half activity is not below the upper one");
}

void tl_finish(struct tl_reader *r)
{
    struct tl_setup *s = &r->draft->s.setup;
    if (r->cut)
        return;
    s->start_d = (double)r->draft->s.start.second / TL_SECONDS_A_DAY;
    fill_title(r);
    fill_basin(r, "tank", &s->tank, &r->draft->tank);
    fill_basin(r, "settling chamber", &s->chamber, &r->draft->chamber);
    fill_media(r);
    tl_fill_pump(r);
    tl_settle_power(r);
    fill_starting_water(r);
    fill_temperature(r);
    fill_weather(r);
    read_logs(r);
    fill_growth(r);

    check_water(r, "source water", &s->source);
    check_water(r, "starting water", &s->starting);
    if (sound(r, "tank") && sound(r, "settling chamber") && given(r, "tank") &&
        s->chamber.volume_m3 > s->tank.volume_m3)
        tl_fault(r, near_place(r, "settling chamber.volume"), "a chamber smaller than the tank",
                 "%.6g m3, more than the tank's %.6g m3", s->chamber.volume_m3, s->tank.volume_m3);
    check_tower(r);
    tl_check_pump(r);
    check_feeding(r);
    tl_check_cold_meals(r);
    check_times(r);
    check_water_change(r);
    check_shares(r);
    check_dosing(r);
    check_chlorine(r);
    double t[2];
    temperature_range(&s->temperature, &t[0], &t[1]);
    tl_check_doses(r, t[0], t[1]);
    tl_check_medicine(r);
    check_log(r);
    check_stock(r);
    check_aerator(r);
    check_rations(r);
    check_limits(r);
    check_heater(r);
    check_parameters(r);
    tl_check_events(r);
    tl_fill_sun(r);
    tl_fill_spread(r);
}
