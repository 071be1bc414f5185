/* Physical dimensions, and numbers as people write them: "1200 gal/h", "3 in", "75 degF".
 *
 * Inside the library everything is in the base unit of its dimension; conversion happens here and
 * nowhere else. */
#ifndef TOWERLOOP_UNITS_H
#define TOWERLOOP_UNITS_H

#include <stdbool.h>
#include <stddef.h>

/* id, base unit (what a value without conversion means, and how it is written back), name */
#define TL_DIM_LIST(X)                                                                             \
    X(TL_DIM_NUMBER, "", "a plain number")                                                         \
    X(TL_DIM_FRACTION, "fraction", "a share")                                                      \
    X(TL_DIM_TIME, "d", "a time")                                                                  \
    X(TL_DIM_RATE, "1/d", "a rate")                                                                \
    X(TL_DIM_LENGTH, "m", "a length")                                                              \
    X(TL_DIM_AREA, "m2", "an area")                                                                \
    X(TL_DIM_VOLUME, "m3", "a volume")                                                             \
    X(TL_DIM_FLOW, "m3/d", "a flow of water")                                                      \
    X(TL_DIM_TEMPERATURE, "degC", "a temperature")                                                 \
    X(TL_DIM_TEMPERATURE_SPAN, "degC", "a temperature difference")                                 \
    X(TL_DIM_MASS, "g", "a mass")                                                                  \
    X(TL_DIM_MASS_FLOW, "g/d", "a mass per time")                                                  \
    X(TL_DIM_CONC, "g/m3", "a concentration")                                                      \
    X(TL_DIM_CONC_N, "mg/L as N", "a concentration of nitrogen")                                   \
    X(TL_DIM_CONC_COD, "gCOD/m3", "a concentration of organic matter")                             \
    X(TL_DIM_ALKALINITY, "meq/L", "an alkalinity")                                                 \
    X(TL_DIM_SPECIFIC_SURFACE, "m2/m3", "a specific surface")                                      \
    X(TL_DIM_VELOCITY, "m/d", "a velocity")                                                        \
    X(TL_DIM_SURFACE_TENSION, "N/m", "a surface tension")                                          \
    X(TL_DIM_PER_LENGTH, "1/m", "a number per length")                                             \
    X(TL_DIM_FILM, "gCOD/m2", "a film density")                                                    \
    X(TL_DIM_YIELD_N, "gCOD/gN", "a yield on nitrogen")                                            \
    X(TL_DIM_YIELD_COD, "gCOD/gCOD", "a yield on organic matter")                                  \
    X(TL_DIM_N_CONTENT, "gN/gCOD", "a nitrogen content")                                           \
    X(TL_DIM_KILL, "m3/g/d", "a rate per concentration")                                           \
    X(TL_DIM_SLOUGH, "1/d per m/h", "a rate per hydraulic load")                                   \
    X(TL_DIM_PER_MASS, "g/g", "a mass per mass")                                                   \
    X(TL_DIM_COD_PER_MASS, "gCOD/g", "organic matter per mass of feed")                            \
    X(TL_DIM_N_PER_FISH, "gN/kg", "nitrogen per mass of fish")                                     \
    X(TL_DIM_FISH_RATE, "g/kg/d", "a mass per mass of fish and day")                               \
    X(TL_DIM_AIR_SHARE, "ppm of air", "a share of the air by volume")                              \
    X(TL_DIM_POWER, "W", "a power")                                                                \
    X(TL_DIM_ENERGY, "Wh", "an energy")                                                            \
    X(TL_DIM_AERATION, "g/kWh", "an aeration efficiency")                                          \
    X(TL_DIM_ENERGY_PRICE, "per kWh", "a price of energy")                                         \
    X(TL_DIM_MASS_PRICE, "per kg", "a price by mass")                                              \
    X(TL_DIM_VOLUME_PRICE, "per m3", "a price by volume")                                          \
    X(TL_DIM_BULK_DENSITY, "kg/m3", "a bulk density")                                              \
    X(TL_DIM_SPEED, "m/s", "a speed")                                                              \
    X(TL_DIM_ANGLE, "deg", "an angle")                                                             \
    X(TL_DIM_HEAT_LOSS, "W/m2/K", "a heat loss per area and degree")                               \
    X(TL_DIM_LIGHT, "W/m2", "an amount of light")                                                  \
    X(TL_DIM_EXTINCTION, "m2/gCOD", "an extinction by organic matter")                             \
    X(TL_DIM_DIFFUSIVITY, "m2/d", "a diffusivity")

enum tl_dim {
#define TL_DIM_ENUM(id, base, name) id,
    TL_DIM_LIST(TL_DIM_ENUM)
#undef TL_DIM_ENUM
        TL_NDIM
};

const char *tl_dim_base_unit(enum tl_dim dim);
const char *tl_dim_name(enum tl_dim dim);

/* "3 in" with TL_DIM_LENGTH -> 0.0762. Decimal points only, whatever the locale. Returns TL_OK and
 * sets *base_value (always finite); or TL_E_INPUT with what is wrong and what was expected in the
 * two buffers (each of `size` bytes, never overrun). */
int tl_parse_quantity(const char *text, enum tl_dim dim, double *base_value, char *what,
                      char *expected, size_t size);

/* The plain number `text` starts with: digits with a decimal point and exponent, no blanks, no hex,
 * no "inf" or "nan". Returns how many bytes it takes, 0 when there is none; *value is NAN when it
 * is longer than any double needs, infinite when it overflows. */
size_t tl_parse_number(const char *text, double *value);

/* The units a dimension is written in, joined by ", " for messages and help. Static storage. */
const char *tl_dim_units(enum tl_dim dim);

/* The unit a reader of the metric or US system expects for a dimension, and the value in it.
 * e.g. TL_DIM_VOLUME -> "m3" / "gal", TL_DIM_TEMPERATURE -> "degC" / "degF". Chemistry stays mg/L. */
enum tl_unit_system { TL_METRIC, TL_US };
const char *tl_display_unit(enum tl_dim dim, enum tl_unit_system system);
double tl_display_value(enum tl_dim dim, enum tl_unit_system system, double base_value);
/* Value and unit as a text of so many significant digits, large ones without powers of ten: "26420
 * gal". Times, and small lengths and the like, get the unit that suits them: "15 min", "76.2 mm".
 * Next to nothing, a ten-thousandth below it to a ten-millionth above, is 0. */
void tl_display_text(enum tl_dim dim, enum tl_unit_system system, double base_value, int digits,
                     char *text, size_t size);

/* Hours beyond a limit and the like, the same in every table and sentence: tenths below 100 h, rounded to
 * the nearest but never to nothing, whole hours from there on. "-" for none, and for what is not finite. */
struct tl_hours {
    char text[24];
};
struct tl_hours tl_hours_text(double hours);
/* The same with its unit, and in minutes below an hour: "170 h", "1.7 h", "12 min", "0 h". */
struct tl_hours tl_hours_span(double hours);

/* A regular expression (ECMA-262, no anchors) for a number with a unit of a dimension, in every
 * spelling that tl_parse_quantity() takes. Caller frees; NULL when out of memory. */
char *tl_dim_pattern(enum tl_dim dim);

#endif
