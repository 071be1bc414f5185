/* The limits a verdict judges by: model document, "Limits the verdict uses". Each can be overridden
 * under `limits:` of a scenario. */
#ifndef TOWERLOOP_LIMITS_H
#define TOWERLOOP_LIMITS_H

#include <stdbool.h>

/* id, key under `limits:`, unit of the values */
#define TL_LIMIT_LIST(X)                                                                           \
    X(TL_LIMIT_NH3, "un-ionised ammonia", "mg/L as N")                                             \
    X(TL_LIMIT_TAN_CHRONIC, "total ammonia, long term", "mg/L as N")                               \
    X(TL_LIMIT_TAN_ACUTE, "total ammonia, short term", "mg/L as N")                                \
    X(TL_LIMIT_NO2, "nitrite", "mg/L as N")                                                        \
    X(TL_LIMIT_NO3, "nitrate", "mg/L as N")                                                        \
    X(TL_LIMIT_O2, "oxygen", "mg/L")                                                               \
    X(TL_LIMIT_PH_LOW, "pH, low side", "")                                                         \
    X(TL_LIMIT_PH_HIGH, "pH, high side", "")                                                       \
    X(TL_LIMIT_PH_SWING, "pH swing in a day", "")                                                  \
    X(TL_LIMIT_ALK, "alkalinity", "mg/L as CaCO3")                                                 \
    X(TL_LIMIT_CO2, "carbon dioxide", "mg/L")                                                      \
    X(TL_LIMIT_CHLORINE, "chlorine", "mg/L")                                                       \
    X(TL_LIMIT_CHLORIDE, "chloride", "mg/L")                                                       \
    X(TL_LIMIT_COLD, "temperature, low side", "degC")                                              \
    X(TL_LIMIT_WARM, "temperature, high side", "degC")                                             \
    X(TL_LIMIT_HOUR_CHANGE, "temperature change in an hour", "degC")                               \
    X(TL_LIMIT_DAY_CHANGE, "temperature change in a day", "degC")

enum tl_limit_id {
#define TL_LIMIT_ENUM(id, name, unit) id,
    TL_LIMIT_LIST(TL_LIMIT_ENUM)
#undef TL_LIMIT_ENUM
        TL_NLIMIT
};

/* A caution and a danger value; NAN = there is none of that kind, or (TAN) the EPA 2013 criterion of
 * the moment applies: chronic gives the caution, acute the danger. */
struct tl_limit_pair {
    double caution;
    double danger;
};

/* Base units: gN/m3, g/m3, pH, eq/m3, degC. In a scenario the keys are:
 *   ammonia (un-ionised, NH3-N) · total ammonia · nitrite · nitrate · oxygen · pH · pH swing ·
 *   alkalinity · carbon dioxide · chlorine · chloride · temperature · temperature change in an hour ·
 *   temperature change in a day · filter ready
 * each {caution: …, danger: …}; pH and temperature {caution low, caution high, danger low, danger high};
 * nitrite has besides {chloride ratio, danger with salt}; filter ready {ammonia, nitrite}. */
struct tl_limits {
    struct tl_limit_pair nh3;
    double tan_caution;          /* NAN: EPA 2013 chronic, mussels absent, 30-day mean */
    double tan_danger;           /* NAN: EPA 2013 acute, salmonids absent, 1-hour mean */
    struct tl_limit_pair no2;    /* danger counts while Cl : NO2-N is below no2_chloride_ratio */
    double no2_chloride_ratio;   /* by mass */
    double no2_danger_with_salt; /* danger whatever the chloride */
    struct tl_limit_pair no3;
    struct tl_limit_pair o2;
    struct tl_limit_pair ph_low;
    struct tl_limit_pair ph_high;
    struct tl_limit_pair ph_swing;
    struct tl_limit_pair alk;
    struct tl_limit_pair co2;
    struct tl_limit_pair chlorine;
    struct tl_limit_pair chloride; /* stands for salt, for fish of fresh water */
    struct tl_limit_pair cold;     /* of the water, degC */
    struct tl_limit_pair warm;
    struct tl_limit_pair hour_change; /* warmest less coldest within an hour, within a day */
    struct tl_limit_pair day_change;
    double ready_tan; /* thresholds of filter_ready_day, gN/m3 */
    double ready_no2;
};

void tl_limits_default(struct tl_limits *l);
/* How many of its values are not the default ones. */
int tl_limits_changed(const struct tl_limits *l);

/* The nitrite (gN/m3) that harms in water with this chloride. Chloride keeps nitrite out of the
 * gills: the danger value holds below the ratio only, the higher one whatever the chloride. */
double tl_nitrite_danger(const struct tl_limits *l, double chloride_g_m3);

/* The total ammonia (gN/m3) above which water of this temperature and pH should get no baking soda, which
 * raises the pH and with it the poisonous part of the ammonia: its caution, or its danger where there is no
 * caution, of un-ionised and of total ammonia, whichever is less. 0-40 degC, `ph` as it is with the dose. */
double tl_soda_most_tan_gN_m3(const struct tl_limits *l, double t_degC, double ph);

#endif
