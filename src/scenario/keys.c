/* The table of keys: one row gives a key its type, dimension, range, place and meaning. The reader,
 * its messages, --set, the writer and the list of keys all go by it.
 *
 * Rows of a section stand together behind the row of the section. Defaults are not repeated here:
 * they are those of tl_setup_default(), tl_params_default() and tl_limits_default(). */
#include <string.h>

#include "reader.h"

/* clang-format off */

#define AT(member) offsetof(struct tl_draft, member)
#define REQUIRED true
#define OPTIONAL false

/* what several rows have in common */
#define WATER_TEMPERATURE TEMPERATURE, 0, 40
#define AIR_TEMPERATURE   TEMPERATURE, -40, 50
#define DAILY_RATION      RATE, 0, 1
#define TRAYS             NUMBER, 1, 200
#define FISH_COUNT        NUMBER, 0, 1e7
#define FISH_MASS         MASS, 0.01, 1e5
#define CONVERSION        NUMBER, 0.5, 20
#define NO_VALUE          NUMBER, 0, 0
#define EPA               .otherwise = "EPA 2013 criterion"
#define MEDIA             .otherwise = "as the media"

/* the shapes of rows; what stands behind the help is further members */
#define ROW(path_, type_, range, offset_, required_, ...)                                          \
    ROW_OF(path_, type_, range, offset_, required_, __VA_ARGS__)
#define ROW_OF(path_, type_, dim_, lo, hi, offset_, required_, help_, ...)                         \
    {.path = path_, .type = &tl_type_##type_, .dim = TL_DIM_##dim_, .min = lo, .max = hi,          \
     .offset = offset_, .required = required_, .help = help_, __VA_ARGS__}
#define RANGE(dim, lo, hi) dim, lo, hi

#define SECTION(path, required, help) ROW(path, section, NO_VALUE, 0, required, help)
#define VALUE(path, type, member, required, ...)                                                   \
    ROW(path, type, NO_VALUE, AT(member), required, __VA_ARGS__)
#define QUANTITY(path, dim, lo, hi, member, required, ...)                                         \
    ROW(path, quantity, RANGE(dim, lo, hi), AT(member), required, __VA_ARGS__)
#define LIMIT(path, type, dim, hi, member, ...)                                                    \
    ROW("limits." path, type, RANGE(dim, 0, hi), AT(s.limits.member), OPTIONAL, __VA_ARGS__)
#define LIMIT_PAIR(name, dim, hi, member, help)                                                          \
    SECTION("limits." name, OPTIONAL, help),                                                       \
        LIMIT(name ".caution", limit, dim, hi, member.caution, "value that calls for attention"),  \
        LIMIT(name ".danger", limit, dim, hi, member.danger, "value that calls for action now")
#define ITEM(path, type, range, strct, member, required, ...)                                      \
    ROW(path, type, range, offsetof(struct strct, member), required, __VA_ARGS__)
#define ACTION(path, type, range, ident, act, help)                                                \
    ROW("events[]." path, type, range, 0, OPTIONAL, help, .id = ident, .action = TL_KEY_##act)

#define SIDES .otherwise = "from the sides"
#define BASIN(name, basin, shape, biggest)                                                         \
    SECTION(name, REQUIRED, "volume, surface and wetted walls, or the sides they follow from"),    \
        QUANTITY(name ".volume", VOLUME, 0.001, biggest, s.setup.basin.volume_m3, OPTIONAL,        \
                 "water held", SIDES),                                                             \
        QUANTITY(name ".surface", AREA, 0, biggest, s.setup.basin.surface_m2, OPTIONAL,            \
                 "water surface open to the air", SIDES),                                          \
        QUANTITY(name ".wetted walls", AREA, 0, biggest, s.setup.basin.walls_m2, OPTIONAL,         \
                 "walls and bottom under water", SIDES),                                           \
        SIDE(name ".length", shape.length_m, "of a rectangular one"),                              \
        SIDE(name ".width", shape.width_m, "of a rectangular one"),                                \
        SIDE(name ".depth", shape.depth_m, "of the water"),                                        \
        SIDE(name ".diameter", shape.diameter_m, "of a round one")
#define SIDE(path, member, help)                                                                   \
    ROW(path, side, RANGE(LENGTH, 0.01, 1000), AT(member), OPTIONAL, help)

#define COST(name, dim, hi, member, help)                                                          \
    ROW("costs." name, quantity, RANGE(dim, 0, hi), AT(s.costs.member), OPTIONAL, help)
#define PLAN(name, type, range, member, required, ...)                                             \
    ROW("dosing.baking soda." name, type, range, AT(s.setup.dosing.member), required, __VA_ARGS__)
#define BUILDING(name, dim, lo, hi, member, ...)                                                   \
    ROW("building." name, quantity, RANGE(dim, lo, hi), AT(s.building.member), OPTIONAL, __VA_ARGS__)
#define CONTENT(name, which, dim, hi, component, ...)                                              \
    QUANTITY(name, dim, 0, hi, s.setup.which.water[component], OPTIONAL, __VA_ARGS__)
#define WATER(name, which, required, ...)                                                          \
    QUANTITY(name ".alkalinity", ALKALINITY, 0, 50, s.setup.which.water[TL_ALK], required,         \
             "acid it takes to bring the pH to 4.5", __VA_ARGS__),                                 \
        QUANTITY(name ".pH", NUMBER, 4, 11, s.setup.which.ph, required, "acid or base",            \
                 __VA_ARGS__),                                                                     \
        CONTENT(name ".ammonia", which, CONC_N, 1000, TL_TAN, "total ammonia", __VA_ARGS__),       \
        CONTENT(name ".nitrite", which, CONC_N, 1000, TL_NO2, "nitrite", __VA_ARGS__),             \
        CONTENT(name ".nitrate", which, CONC_N, 10000, TL_NO3, "nitrate", __VA_ARGS__),            \
        ROW(name ".oxygen", oxygen, RANGE(CONC, 0, 40), AT(s.setup.which), OPTIONAL,               \
            "dissolved oxygen", __VA_ARGS__),                                                      \
        CONTENT(name ".chloride", which, CONC, 20000, TL_CL, "chloride", __VA_ARGS__),             \
        CONTENT(name ".chlorine", which, CONC, 20, TL_HOCL, "residual chlorine, as Cl2",           \
                __VA_ARGS__),                                                                      \
        CONTENT(name ".dissolved organics", which, CONC_COD, 10000, TL_SS,                         \
                "dissolved biodegradable organic matter", __VA_ARGS__),                            \
        CONTENT(name ".solids", which, CONC_COD, 10000, TL_XS, "biodegradable solids",             \
                __VA_ARGS__),                                                                      \
        CONTENT(name ".inert solids", which, CONC_COD, 10000, TL_XI, "solids that do not rot",     \
                __VA_ARGS__)

#define PARAMETER(field, dflt, dim, lo, hi, sure, help)                                            \
    QUANTITY("parameters." #field, dim, lo, hi, s.setup.params.field, OPTIONAL, help,              \
             .status = sure),

const struct tl_key tl_key_table[] = {
    VALUE("format", format, s, OPTIONAL, "version of this form of file, 1"),
    VALUE("title", text, s.title, OPTIONAL, "what the scenario is about",
          .otherwise = "the file's name"),
    VALUE("start", date_time, s.start, OPTIONAL, "local standard time; day 0 is its date"),
    QUANTITY("length", TIME, 0.01, 3660, s.setup.length_d, REQUIRED, "how long the run is"),
    QUANTITY("report every", TIME, 1.0 / 86400, 366, s.report_every_d, OPTIONAL,
             "time from one row of the results to the next"),

    SECTION("place", OPTIONAL, "where the loop stands"),
    QUANTITY("place.elevation", LENGTH, -430, 6000, s.setup.elevation_m, OPTIONAL,
             "above the sea; gives the air pressure"),

    ROW("temperature", temperature, WATER_TEMPERATURE, AT(s.setup.temperature), OPTIONAL,
        "of all the water: one value, swings around a mean, a file of readings, or (with weather "
        "and without this key, too) worked out from the weather"),
    ROW("temperature.mean", quantity, WATER_TEMPERATURE, AT(s.setup.temperature.mean_degC),
        OPTIONAL, "mean over the year", .otherwise = "needed, or a file"),
    QUANTITY("temperature.seasonal swing", TEMPERATURE_SPAN, 0, 30,
             s.setup.temperature.seasonal_swing_degC, OPTIONAL,
             "from the mean to the warmest day"),
    VALUE("temperature.warmest day", warmest_day, water_warmest, OPTIONAL,
          "needed with a seasonal swing"),
    QUANTITY("temperature.daily swing", TEMPERATURE_SPAN, 0, 15,
             s.setup.temperature.daily_swing_degC, OPTIONAL,
             "from the day's mean to its warmest hour, 16:00"),
    QUANTITY("temperature.warmer", TEMPERATURE_SPAN, -10, 10, s.setup.temperature.warmer_degC, OPTIONAL,
             "added to mean or file, below 0 degC taken off; the water stays between 0 and 40 degC"),
    VALUE("temperature.file", file, s.input[TL_INPUT_TEMPERATURE], OPTIONAL,
          "CSV with the columns time_iso or time_d, and temperature_degC"),

    ROW("weather", weather, NO_VALUE, 0, OPTIONAL,
        "outdoors: the temperature of the water is worked out from it",
        .otherwise = "the temperature is given"),
    ROW("weather.air temperature", air_temperature, AIR_TEMPERATURE, AT(s.setup.weather.air),
        REQUIRED, "one value, swings around a mean, or a file of readings"),
    ROW("weather.air temperature.mean", quantity, AIR_TEMPERATURE,
        AT(s.setup.weather.air.mean_degC), OPTIONAL, "mean over the year",
        .otherwise = "needed, or a file"),
    QUANTITY("weather.air temperature.seasonal swing", TEMPERATURE_SPAN, 0, 40,
             s.setup.weather.air.seasonal_swing_degC, OPTIONAL,
             "from the mean to the warmest day"),
    VALUE("weather.air temperature.warmest day", warmest_day, air_warmest, OPTIONAL,
          "needed with a seasonal swing"),
    QUANTITY("weather.air temperature.daily swing", TEMPERATURE_SPAN, 0, 25,
             s.setup.weather.air.daily_swing_degC, OPTIONAL,
             "from the day's mean to its warmest hour, 16:00"),
    VALUE("weather.air temperature.file", file, s.input[TL_INPUT_WEATHER], OPTIONAL,
          "CSV with the columns time_iso or time_d, air_temperature_degC and, if you have them, "
          "humidity_pct, wind_m_s, cloud_pct, sun_W_m2 in place of the keys"),
    QUANTITY("weather.warmer", TEMPERATURE_SPAN, -10, 10, s.setup.weather.air.warmer_degC, OPTIONAL,
             "added to the air temperature at all times; below 0 degC taken off"),
    QUANTITY("weather.humidity", FRACTION, 0, 1, s.setup.weather.humidity, OPTIONAL,
             "relative humidity of the air", .status = "judgement"),
    QUANTITY("weather.wind", SPEED, 0, 40, s.setup.weather.wind_m_s, OPTIONAL,
             "over the water; a sheltered garden has 0.5 to 1.5 m/s", .status = "judgement"),
    QUANTITY("weather.cloud", FRACTION, 0, 1, s.setup.weather.cloud, OPTIONAL,
             "share of the sky under cloud, a mean over days; of the hour only in a log", .status = "judgement"),
    QUANTITY("weather.latitude", ANGLE, -90, 90, s.setup.weather.latitude_deg, OPTIONAL,
             "for the sun's height; south is negative",
             .otherwise = "needed, or sun_W_m2 in the file"),
    QUANTITY("weather.shade", FRACTION, 0, 1, s.setup.weather.shade, OPTIONAL,
             "share of the sun that is kept off the water"),
    ROW("heater", heater, NO_VALUE, 0, OPTIONAL, "warms the water, with weather",
        .otherwise = "none"),
    QUANTITY("heater.power", POWER, 0, 1e6, s.setup.heater.power_w, OPTIONAL, "of the heater"),
    ROW("heater.keep at", quantity, WATER_TEMPERATURE, AT(s.setup.heater.keep_degC), OPTIONAL,
        "temperature below which it heats", .otherwise = "needed with a power"),

    SECTION("sun", OPTIONAL, "sunlight: algae grow on the trays"),
    ROW("sun.hours", sun, RANGE(TIME, 0.01, 1), AT(s.setup.sun.hours_d), OPTIONAL,
        "of sun a day, half before and half after 12:00; the same every day",
        .otherwise = "needed, or weather"),
    ROW("sun.noon", sun, RANGE(LIGHT, 0, 1400), AT(s.setup.sun.noon_w_m2), OPTIONAL,
        "sun and sky light on level ground at noon", .otherwise = "600 W/m2, or as the weather",
        .status = "judgement"),
    ROW("sun.shaded", sun, RANGE(FRACTION, 0, 1), AT(s.setup.sun.shaded), OPTIONAL,
        "share of the light kept off the tower, by shade that lets air through",
        .otherwise = "0 %"),
    ROW("sun.tank shaded", sun, RANGE(FRACTION, 0, 1), AT(s.setup.sun.tank_shaded), OPTIONAL,
        "share of the light kept off the tank", .otherwise = "0 %, or as weather.shade"),

    BASIN("tank", tank, tank, 1e6),
    QUANTITY("tank.wall heat loss", HEAT_LOSS, 0, 50, s.setup.wall_loss_w_m2_k, OPTIONAL,
             "through wetted walls of tank and chamber, with weather; thin plastic in the open 6, "
             "3 cm of foam 1, sunk in the ground 1", .status = "judgement"),
    QUANTITY("tank.cover", FRACTION, 0, 1, s.setup.cover, OPTIONAL,
             "share of the water, tank and chamber, under a cover that keeps off sun, wind and air"),
    ROW("tank.green water", green_water, RANGE(CONC_COD, 0, 1000), AT(s.setup.green_g_m3), OPTIONAL,
        "algae afloat at the start, as organic matter; with sun", .otherwise = "none"),
    BASIN("settling chamber", chamber, chamber, 1e6),
    SECTION("settling chamber.emptied", OPTIONAL,
            "by plan: sludge and water go, the tank's water fills it, source water the tank"),
    ROW("settling chamber.emptied.every", emptied_every, RANGE(TIME, 1, 3660),
        AT(s.setup.emptying.every_d), REQUIRED,
        "time from one emptying to the next, the first so long after day 0"),
    ROW("settling chamber.emptied.at", emptied_clock, NO_VALUE, AT(s.setup.emptying.at_s), OPTIONAL,
        "clock time", .otherwise = "09:00"),

    SECTION("pump", REQUIRED, "the pump behind the settling chamber: its flow, or its curve"),
    ROW("pump.flow", pump_flow, RANGE(FLOW, 0, 1e6), AT(s.setup.pump_flow_m3_d), OPTIONAL,
        "water it moves, as it arrives; of all pumps together",
        .otherwise = "needed, or a curve"),
    VALUE("pump.curve", pump_curve, s.setup, OPTIONAL,
          "flow of one pump by the head it lifts against, instead of flow"),
    ITEM("pump.curve[].head", quantity, RANGE(LENGTH, 0, 200), tl_curve_point, head_m, REQUIRED,
         "height and friction it works against"),
    ITEM("pump.curve[].flow", quantity, RANGE(FLOW, 0, 1e6), tl_curve_point, flow_m3_d, REQUIRED,
         "what one pump moves then; 0 at the greatest head"),
    QUANTITY("pump.head", LENGTH, 0, 200, s.setup.pump.head_m, OPTIONAL,
             "with a curve: height above the tank's water at which the water leaves the pipe",
             .otherwise = "top of the tower"),
    ROW("pump.pipe", pipe, NO_VALUE, 0, OPTIONAL, "with a curve: what friction is reckoned from",
        .otherwise = "no friction"),
    QUANTITY("pump.pipe.length", LENGTH, 0, 1000, s.setup.pump.pipe.length_m, REQUIRED,
             "from the pump to the outlet"),
    QUANTITY("pump.pipe.inner diameter", LENGTH, 0.005, 2, s.setup.pump.pipe.diameter_m, REQUIRED,
             "of pipe or hose"),
    QUANTITY("pump.pipe.roughness", LENGTH, 0, 0.002, s.setup.pump.pipe.roughness_m, OPTIONAL,
             "height of the bumps inside; smooth plastic 0.0015 mm (Moody 1944)",
             .otherwise = "0.0015 mm", .status = "published"),
    QUANTITY("pump.pipe.fittings", NUMBER, 0, 1000, s.setup.pump.pipe.fittings, OPTIONAL,
             "sum of the loss coefficients K of bends, valves and outlet; the outlet alone is 1, a "
             "bend about 1, a non-return valve about 2",
             .otherwise = "1", .status = "common practice"),
    ROW("pump.count", integer, RANGE(NUMBER, 1, TL_MOST_PUMPS), AT(s.setup.pump.count), OPTIONAL,
        "equal pumps side by side, each with a non-return valve"),
    QUANTITY("pump.fouling", RATE, 0, 1, s.setup.pump.fouling_1_d, OPTIONAL,
             "share of the clean flow at any one head lost with time, until the pump is cleaned; a month is 30 days",
             .status = "judgement"),
    QUANTITY("pump.to tower", FRACTION, 0, 1, s.setup.to_tower, OPTIONAL,
             "share of the flow that crosses the tower; the rest returns to the tank"),

    SECTION("tower", REQUIRED, "trays, media depth and plan area of the trickle tower"),
    ROW("tower.trays", integer, TRAYS, AT(s.setup.tower.trays), REQUIRED,
        "trays above one another"),
    QUANTITY("tower.media depth", LENGTH, 0.005, 3, s.setup.tower.media_depth_m, REQUIRED,
             "of the media in one tray"),
    QUANTITY("tower.plan area", AREA, 0.001, 1e4, s.setup.tower.plan_area_m2, REQUIRED,
             "of one tray, seen from above"),
    VALUE("tower.media", media, s.setup.tower.media, OPTIONAL, "what the trays are filled with"),
    ROW("tower.biofilm", biofilm, RANGE(FRACTION, 0, 1), AT(s.setup.tower), OPTIONAL,
        "at the start, on media and walls; seeded: a share of mature. Taken as mature where it is left out: name it"),
    VALUE("tower.submerged", yes_no, s.setup.tower.submerged, OPTIONAL,
          "the media lie under water, without air"),
    QUANTITY("tower.specific surface", SPECIFIC_SURFACE, 1, 2000,
             s.setup.tower.specific_surface_m2_m3, OPTIONAL, "of the media", MEDIA),
    QUANTITY("tower.media size", LENGTH, 0.001, 0.5, s.setup.tower.media_size_m, OPTIONAL,
             "nominal size of a piece", MEDIA),
    QUANTITY("tower.void", FRACTION, 0.05, 0.99, s.setup.tower.void_fraction, OPTIONAL,
             "share of the bed between the pieces", MEDIA),
    QUANTITY("tower.critical surface tension", SURFACE_TENSION, 0.001, 0.1,
             s.setup.tower.critical_surface_tension_n_m, OPTIONAL,
             "of the material", MEDIA),
    QUANTITY("tower.stays moist", TIME, 0, 30, s.setup.tower.stays_moist_d, OPTIONAL,
             "after the water stops, before films die off faster; not under water",
             .otherwise = "12 h, sooner in sun or dry wind"),
    QUANTITY("tower.die-off", RATE, 0, 240, s.setup.tower.die_off_1_d, OPTIONAL,
             "extra loss of film in dry media"),

    SECTION("aerator", OPTIONAL, "air blown into the tank"),
    QUANTITY("aerator.oxygen transfer", MASS_FLOW, 0, 1e7, s.setup.aerator_g_d, OPTIONAL,
             "standard oxygen transfer rate, clean water at 20 degC without oxygen"),

    SECTION("source water", REQUIRED, "alkalinity and pH of the water that is let in"),
    WATER("source water", source, REQUIRED, .otherwise = NULL),
    ROW("source water.temperature", quantity, WATER_TEMPERATURE, AT(s.setup.source_degC), OPTIONAL,
        "with weather", .otherwise = "the air's mean"),
    VALUE("source water.chlorine form", chlorine_form, s.setup.source.chloramine, OPTIONAL,
          "what the residual chlorine is"),
    VALUE("source water.dechlorinated", yes_no, s.setup.source.dechlorinated, OPTIONAL,
          "sodium thiosulfate is stirred in first; chloramine leaves its ammonia"),
    SECTION("starting water", OPTIONAL, "in tank and chamber at the start; what is not named comes "
                                        "from the source water"),
    WATER("starting water", starting, OPTIONAL, .otherwise = "as source water"),
    ROW("starting water.temperature", quantity, WATER_TEMPERATURE, AT(s.setup.start_degC), OPTIONAL,
        "with weather", .otherwise = "the air's mean on the first day"),

    SECTION("water change", OPTIONAL, "source water let in, the same volume overflows"),
    QUANTITY("water change.trickle", RATE, 0, 100, s.setup.trickle_1_d, OPTIONAL,
             "all the time, share of the tank's volume"),
    ROW("water change.every", change, RANGE(TIME, 0.01, 3660), AT(s.setup.change_every_d), OPTIONAL,
        "time from one change to the next"),
    ROW("water change.amount", change, RANGE(FRACTION, 0, 1), AT(s.setup.change_amount), OPTIONAL,
        "share of the tank's volume at each change"),

    VALUE("fish", fish_list, s.setup, OPTIONAL, "groups of fish at the start"),
    ITEM("fish[].name", name, NO_VALUE, tl_fish, name, REQUIRED, "of the group"),
    ITEM("fish[].count", count, FISH_COUNT, tl_fish, count, REQUIRED, "number of fish"),
    ITEM("fish[].mean mass", quantity, FISH_MASS, tl_fish, mean_mass_g, REQUIRED,
         "of one fish"),
    ROW("fish[].growth", group_growth, NO_VALUE, 0, OPTIONAL,
        "as under feeding; the same for all groups"),
    ROW("fish[].feed conversion", group_conversion, CONVERSION, 0, OPTIONAL,
        "as under feeding; the same for all groups"),

    SECTION("feeding", OPTIONAL, "what the fish get"),
    ROW("feeding.ration", ration, DAILY_RATION, AT(s.setup.feeding.ration), OPTIONAL,
          "of their mass a day, mass of feed a day, or a list by temperature"),
    QUANTITY("feeding.protein", FRACTION, 0, 1, s.setup.feeding.protein, OPTIONAL,
             "share of the feed"),
    QUANTITY("feeding.uneaten", FRACTION, 0, 1, s.setup.feeding.uneaten, OPTIONAL,
             "share of each meal that the fish leave"),
    QUANTITY("feeding.appetite", NUMBER, 0, 5, s.setup.feeding.appetite, OPTIONAL,
             "what is given, as a multiple of what ration, events and log say"),
    VALUE("feeding.meals", clocks, s.setup.feeding, OPTIONAL, "clock times"),
    QUANTITY("feeding.none below", TEMPERATURE, 0, 40, s.setup.feeding.none_below_degC, OPTIONAL,
             "no meal of the ration in water colder than this"),
    SECTION("feeding.log", OPTIONAL, "meals as they were given, instead of ration and meals"),
    VALUE("feeding.log.file", log_file, s.input[TL_INPUT_FEED], REQUIRED,
          "CSV with the columns time_iso or time_d, and feed_g", .id = TL_INPUT_FEED),
    VALUE("feeding.growth", growth, s.setup.feeding.grows, OPTIONAL,
          "none: the mass of the fish stays"),
    ROW("feeding.feed conversion", conversion, CONVERSION, AT(s.setup.feeding), OPTIONAL,
        "mass of feed per mass gained; the fish grow"),
    ITEM("ration[].at", quantity, WATER_TEMPERATURE, tl_ration_point, at_degC, REQUIRED,
         "temperature of the water"),
    ITEM("ration[].ration", quantity, DAILY_RATION, tl_ration_point, ration_1_d, REQUIRED,
         "of the mass of the fish a day"),

    SECTION("deliveries", OPTIONAL, "fish that come and go, besides those in events"),
    VALUE("deliveries.file", log_file, s.input[TL_INPUT_DELIVERIES], REQUIRED,
          "CSV with the columns time_iso or time_d, name, count (below 0: they leave), mean_mass_g",
          .id = TL_INPUT_DELIVERIES),

    SECTION("dosing", OPTIONAL, "what is dosed by plan"),
    SECTION("dosing.baking soda", REQUIRED, "what brings the alkalinity back up to a floor, at each look at it"),
    PLAN("hold alkalinity", plan_quantity, RANGE(ALKALINITY, 0.01, 50), hold_alkalinity_eq_m3,
         REQUIRED, "the floor: mean of tank and chamber"),
    PLAN("every", plan_every, RANGE(TIME, 1, 366), every_d, OPTIONAL,
         "time from one look to the next; water change: after each of them", .otherwise = "1 d"),
    PLAN("at", plan_clock, NO_VALUE, at_s, OPTIONAL, "clock time of the looks",
         .otherwise = "09:00"),
    PLAN("at most", plan_quantity, RANGE(MASS, 0.1, 1e7), at_most_g, OPTIONAL,
         "given at one look", .otherwise = "no bound"),

    SECTION("limits", OPTIONAL, "what the verdict judges by"),
    LIMIT_PAIR("ammonia", CONC_N, 100, nh3, "un-ionised ammonia, the poisonous part"),
    SECTION("limits.total ammonia", OPTIONAL, "total ammonia"),
    LIMIT("total ammonia.caution", quantity, CONC_N, 1000, tan_caution, "mean of 30 days", EPA),
    LIMIT("total ammonia.danger", quantity, CONC_N, 1000, tan_danger, "mean of an hour", EPA),
    LIMIT_PAIR("nitrite", CONC_N, 1000, no2, "nitrite"),
    LIMIT("nitrite.chloride ratio", quantity, NUMBER, 1000, no2_chloride_ratio,
          "chloride to nitrite nitrogen, by mass, from which the salt protects"),
    LIMIT("nitrite.danger with salt", limit, CONC_N, 1000, no2_danger_with_salt,
          "danger whatever the chloride"),
    LIMIT_PAIR("nitrate", CONC_N, 10000, no3, "nitrate"),
    LIMIT_PAIR("oxygen", CONC, 40, o2, "dissolved oxygen"),
    SECTION("limits.pH", OPTIONAL, "pH"),
    LIMIT("pH.caution low", limit, NUMBER, 14, ph_low.caution, "lowest without a caution"),
    LIMIT("pH.caution high", limit, NUMBER, 14, ph_high.caution, "highest without a caution"),
    LIMIT("pH.danger low", limit, NUMBER, 14, ph_low.danger, "lowest without danger"),
    LIMIT("pH.danger high", limit, NUMBER, 14, ph_high.danger, "highest without danger"),
    LIMIT_PAIR("pH swing", NUMBER, 14, ph_swing, "rise and fall of the pH in a day"),
    LIMIT_PAIR("alkalinity", ALKALINITY, 50, alk, "alkalinity"),
    LIMIT_PAIR("carbon dioxide", CONC, 1000, co2, "carbon dioxide"),
    LIMIT_PAIR("chlorine", CONC, 20, chlorine, "residual chlorine"),
    LIMIT_PAIR("chloride", CONC, 50000, chloride, "chloride, which salt brings"),
    SECTION("limits.temperature", OPTIONAL, "of the water"),
    LIMIT("temperature.caution low", limit, TEMPERATURE, 40, cold.caution,
          "lowest without a caution"),
    LIMIT("temperature.caution high", limit, TEMPERATURE, 40, warm.caution,
          "highest without a caution"),
    LIMIT("temperature.danger low", limit, TEMPERATURE, 40, cold.danger,
          "lowest without danger"),
    LIMIT("temperature.danger high", limit, TEMPERATURE, 40, warm.danger,
          "highest without danger"),
    LIMIT_PAIR("temperature change in an hour", TEMPERATURE_SPAN, 40, hour_change,
               "warmest less coldest water within an hour"),
    LIMIT_PAIR("temperature change in a day", TEMPERATURE_SPAN, 40, day_change,
               "warmest less coldest water within a day"),
    SECTION("limits.filter ready", OPTIONAL, "from when a new filter counts as ready, if its film does the work"),
    LIMIT("filter ready.ammonia", quantity, CONC_N, 1000, ready_tan, "total ammonia at most"),
    LIMIT("filter ready.nitrite", quantity, CONC_N, 1000, ready_no2, "nitrite at most"),

    SECTION("parameters", OPTIONAL, "of the model"),
    TL_PARAM_LIST(PARAMETER)

    SECTION("costs", OPTIONAL, "what things cost; what is left out is not counted"),
    ROW("costs.currency", name, NO_VALUE, AT(s.costs.currency), OPTIONAL, "a word for the money"),
    COST("pump", POWER, 1e6, pump_w, "electrical power while all pumps run; each takes its share"),
    COST("aerator", POWER, 1e6, aerator_w, "electrical power while it runs"),
    COST("electricity", ENERGY_PRICE, 1e6, electricity_per_kwh, "price"),
    COST("water", VOLUME_PRICE, 1e6, water_per_m3, "price of the source water"),
    COST("feed", MASS_PRICE, 1e6, feed_per_kg, "price"),
    COST("baking soda", MASS_PRICE, 1e6, baking_soda_per_kg, "price"),
    COST("salt", MASS_PRICE, 1e6, salt_per_kg, "price"),
    COST("media", VOLUME_PRICE, 1e9, media_per_m3, "price, to build the tower"),
    COST("tray", NUMBER, 1e6, tray_each, "price of one, to build the tower"),
    COST("other", NUMBER, 1e9, other_once, "whatever else it takes to build it, once"),

    SECTION("building", OPTIONAL, "weight and height of the tower: for the build sheet and the head of the pump"),
    BUILDING("bulk density", BULK_DENSITY, 10, 5000, bulk_density_kg_m3,
             "of the dry media as they lie", MEDIA, .status = "memory"),
    BUILDING("water held", FRACTION, 0, 1, water_held,
             "by running media, as film and in pores; share of their volume", MEDIA,
             .status = "judgement"),
    QUANTITY("building.tray gap", LENGTH, 0, 5, s.setup.tower.tray_gap_m, OPTIONAL,
             "free height above the media of each tray", .status = "judgement"),
    BUILDING("tray mass", MASS, 0, 1e7, tray_mass_g, "of one empty tray", .status = "judgement"),
    QUANTITY("building.lowest tray", LENGTH, 0, 50, s.setup.tower.lowest_tray_m, OPTIONAL,
             "its bottom above the water of the tank", .status = "judgement"),

    ROW("variants", variant_list, NO_VALUE, AT(s), OPTIONAL,
        "the scenario with some keys changed, for compare"),
    ITEM("variants[].name", name, NO_VALUE, tl_variant, name, REQUIRED, "of the variant"),
    ROW("variants[].set", edits, NO_VALUE, 0, OPTIONAL, "what is changed",
        .otherwise = "as it is"),

    VALUE("spread", spread, s, OPTIONAL,
          "numbers that are not known for sure, and how far they may be off, for spread",
          .otherwise = "built-in ranges"),

    VALUE("events", event_list, s.setup, OPTIONAL, "what happens during the run"),
    ITEM("events[].at", event_time, NO_VALUE, tl_event, at_d, REQUIRED,
         "day 20, day 20 14:00 or day 20.5; day 0 is the date of the start"),
    ITEM("events[].for", quantity, RANGE(TIME, 1.0 / 86400, 3660), tl_event, for_d, OPTIONAL,
         "after that, what was before comes back", .otherwise = "it stays"),
    ACTION("pump", pump_action, NO_VALUE, 0, LASTING_ACTION,
           "the pump stops, starts again or is set"),
    ACTION("pump.flow", quantity_action, RANGE(FLOW, 0, 1e6), TL_EVENT_PUMP_FLOW, NO_ACTION,
           "water it moves"),
    ACTION("pump.to tower", quantity_action, RANGE(FRACTION, 0, 1), TL_EVENT_TO_TOWER, NO_ACTION,
           "share of the flow that crosses the tower"),
    ACTION("flow", quantity_action, RANGE(FLOW, 0, 1e6), TL_EVENT_PUMP_FLOW, LASTING_ACTION,
           "of the pump"),
    ACTION("pumps running", running_action, RANGE(NUMBER, 0, TL_MOST_PUMPS), TL_EVENT_PUMPS_RUNNING,
           LASTING_ACTION, "how many of the pumps run"),
    ACTION("to tower", quantity_action, RANGE(FRACTION, 0, 1), TL_EVENT_TO_TOWER, LASTING_ACTION,
           "share of the flow that crosses the tower"),
    ACTION("aerator", aerator_action, RANGE(MASS_FLOW, 0, 1e7), TL_EVENT_AERATOR, LASTING_ACTION,
           "the aerator stops, starts again or is set to an oxygen transfer"),
    ACTION("cover", cover_action, RANGE(FRACTION, 0, 1), TL_EVENT_COVER, LASTING_ACTION,
           "the cover of the water is taken off, put on again or set to a share"),
    ACTION("heater", heater_action, NO_VALUE, 0, LASTING_ACTION,
           "the heater stops or starts again"),
    ACTION("power", power_action, NO_VALUE, 0, LASTING_ACTION,
           "of the mains: pump, aerator and heater stop together or start again"),
    ACTION("add fish", fish_action, NO_VALUE, TL_EVENT_ADD_FISH, ACTION, "a group, or more of one"),
    ITEM("events[].add fish.name", name, NO_VALUE, tl_fish, name, REQUIRED, "of the group"),
    ITEM("events[].add fish.count", count, FISH_COUNT, tl_fish, count, REQUIRED, "number of fish"),
    ITEM("events[].add fish.mean mass", quantity, FISH_MASS, tl_fish, mean_mass_g, REQUIRED,
         "of one fish"),
    ACTION("remove fish", fish_action, NO_VALUE, TL_EVENT_REMOVE_FISH, ACTION, "some of a group"),
    ITEM("events[].remove fish.name", name, NO_VALUE, tl_fish, name, REQUIRED, "of the group"),
    ITEM("events[].remove fish.count", count, FISH_COUNT, tl_fish, count, REQUIRED,
         "number of fish"),
    ACTION("dead fish", dead_action, NO_VALUE, TL_EVENT_DEAD_FISH, ACTION,
           "some of a group die and lie in the tank"),
    ITEM("events[].dead fish.name", name, NO_VALUE, tl_event, fish.name, REQUIRED, "of the group"),
    ITEM("events[].dead fish.count", count, FISH_COUNT, tl_event, fish.count, REQUIRED,
         "number of fish"),
    ITEM("events[].dead fish.left", quantity, RANGE(TIME, 1.0 / 86400, 3660), tl_event, for_d,
         OPTIONAL, "how long they lie there before they are taken out",
         .otherwise = "they stay"),
    ACTION("ration", ration_action, DAILY_RATION, TL_EVENT_RATION, LASTING_ACTION,
           "as under feeding"),
    ACTION("change water", quantity_action, RANGE(FRACTION, 0, 1), TL_EVENT_WATER_CHANGE, ACTION,
           "share of the tank's volume"),
    ACTION("dose", dose, NO_VALUE, 0, ACTION, "put into the tank"),
    ACTION("dose.baking soda", dose_action, RANGE(MASS, 0, 1e7), TL_DOSE_BAKING_SODA, NO_ACTION,
           "raises the alkalinity"),
    ACTION("dose.baking soda.to alkalinity", dose_target, RANGE(ALKALINITY, 0, 50),
           TL_DOSE_ID(TL_DOSE_BAKING_SODA, TL_DOSE_TO_CONTENT), NO_ACTION,
           "as much as tank and chamber lack"),
    ACTION("dose.salt", dose_action, RANGE(MASS, 0, 1e9), TL_DOSE_SALT, NO_ACTION,
           "common salt, against nitrite"),
    ACTION("dose.salt.to chloride", dose_target, RANGE(CONC, 0, 20000),
           TL_DOSE_ID(TL_DOSE_SALT, TL_DOSE_TO_CONTENT), NO_ACTION,
           "as much as tank and chamber lack"),
    ACTION("dose.salt.to chloride ratio", dose_target, RANGE(NUMBER, 0, 1000),
           TL_DOSE_ID(TL_DOSE_SALT, TL_DOSE_TO_RATIO), NO_ACTION,
           "the same, chloride to the nitrite nitrogen of that moment, by mass"),
    ACTION("dose.ammonium chloride", dose_mass, RANGE(MASS, 0, 1e7), TL_DOSE_AMMONIUM_CHLORIDE,
           NO_ACTION, "feeds a filter without fish"),
    ACTION("dose.sodium thiosulfate", dose_mass, RANGE(MASS, 0, 1e7), TL_DOSE_THIOSULFATE,
           NO_ACTION, "crystals (5 H2O); takes chlorine away, also that of a change at the same time"),
    ACTION("dose.formalin", medicine, NO_VALUE, 0, NO_ACTION,
           "a medicine, formaldehyde: kills film, takes oxygen; ask a veterinarian"),
    ACTION("dose.formalin.pure", dose_mass, RANGE(MASS, 0, 1e7), TL_DOSE_FORMALDEHYDE, NO_ACTION,
           "mass of formaldehyde itself"),
    ACTION("dose.formalin.37 percent solution", dose_solution, RANGE(VOLUME, 0, 1e3),
           TL_DOSE_FORMALDEHYDE, NO_ACTION, "volume of the solution sold; 1 mL holds 0.40 g"),
    ACTION("dose.formalin.to content", dose_target, RANGE(CONC, 0, 1000),
           TL_DOSE_ID(TL_DOSE_FORMALDEHYDE, TL_DOSE_TO_CONTENT), NO_ACTION,
           "formaldehyde itself in tank and chamber"),
    ACTION("dose.hydrogen peroxide", medicine, NO_VALUE, 0, NO_ACTION,
           "a medicine: kills film; ask a veterinarian"),
    ACTION("dose.hydrogen peroxide.pure", dose_mass, RANGE(MASS, 0, 1e7), TL_DOSE_PEROXIDE,
           NO_ACTION, "mass of the peroxide itself; 1 L of a 3 % solution holds about 30 g"),
    ACTION("dose.hydrogen peroxide.to content", dose_target, RANGE(CONC, 0, 1000),
           TL_DOSE_ID(TL_DOSE_PEROXIDE, TL_DOSE_TO_CONTENT), NO_ACTION,
           "peroxide itself in tank and chamber"),
    ACTION("dose.chloramine-T", medicine, NO_VALUE, 0, NO_ACTION,
           "a medicine: kills film; ask a veterinarian"),
    ACTION("dose.chloramine-T.pure", dose_mass, RANGE(MASS, 0, 1e7), TL_DOSE_CHLORAMINE_T,
           NO_ACTION, "mass of the powder"),
    ACTION("dose.chloramine-T.to content", dose_target, RANGE(CONC, 0, 1000),
           TL_DOSE_ID(TL_DOSE_CHLORAMINE_T, TL_DOSE_TO_CONTENT), NO_ACTION,
           "the powder in tank and chamber"),
    ACTION("knock out", quantity_action, RANGE(FRACTION, 0, 1), TL_EVENT_KNOCK_OUT, ACTION,
           "share of the living film that dies, whatever of"),
    ITEM("events[].where", where, NO_VALUE, tl_event, where, OPTIONAL,
         "film is knocked out", .otherwise = "all"),
    ACTION("clean", clean_action, TRAYS, 0, ACTION, "what is cleaned; a tray is rinsed"),
    ACTION("hose", hose_action, TRAYS, 0, ACTION, "the trays that algae are hosed off"),
    ITEM("events[].rinsed in", rinse, NO_VALUE, tl_event, tap_water, OPTIONAL,
         "what the media are rinsed in; tap water: source water as it comes, with its chlorine",
         .otherwise = "pond water"),
    ITEM("events[].contact", quantity, RANGE(TIME, 1.0 / 86400, 1), tl_event, contact_d, OPTIONAL,
         "how long the media lie in tap water", .otherwise = "10 min"),
};

/* clang-format on */

#define COUNT (sizeof tl_key_table / sizeof *tl_key_table)
const size_t tl_key_count = COUNT;
_Static_assert(COUNT <= TL_MOST_KEYS, "tl_reader.at is too short");

bool tl_key_in(const struct tl_key *key, const char *prefix, const char **name)
{
    size_t length = strlen(prefix);
    *name = key->path;
    if (length > 0) {
        if (strncmp(key->path, prefix, length) != 0 || key->path[length] != '.')
            return false;
        *name = key->path + length + 1;
    }
    return strchr(*name, '.') == NULL;
}

const struct tl_key *tl_key_find(const char *prefix, const char *name)
{
    const char *own;
    for (size_t i = 0; i < COUNT; i++)
        if (tl_key_in(&tl_key_table[i], prefix, &own) && strcmp(own, name) == 0)
            return &tl_key_table[i];
    return NULL;
}
