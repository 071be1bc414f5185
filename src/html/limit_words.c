/* Limits for readers. Temperatures alone are told in the reader's units: a test kit knows mg/L only. */
#include "limit_words.h"

#include <stdbool.h>

static bool is_temperature(enum tl_limit_id limit)
{
    return limit == TL_LIMIT_COLD || limit == TL_LIMIT_WARM;
}

static bool is_change(enum tl_limit_id limit)
{
    return limit == TL_LIMIT_HOUR_CHANGE || limit == TL_LIMIT_DAY_CHANGE;
}

const char *tl_limit_name(enum tl_limit_id limit)
{
    static const char *const text[TL_NLIMIT] = {
#define NAME(id, name, unit) [id] = (name),
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    return text[limit];
}

const char *tl_limit_mean(enum tl_limit_id limit)
{
    switch (limit) {
    case TL_LIMIT_NH3:
    case TL_LIMIT_TAN_ACUTE:
    case TL_LIMIT_NO2:
    case TL_LIMIT_ALK:
    case TL_LIMIT_CO2:
    case TL_LIMIT_CHLORINE:
    case TL_LIMIT_CHLORIDE:
        return "hourly mean";
    case TL_LIMIT_NO3:
        return "daily mean";
    case TL_LIMIT_TAN_CHRONIC:
        return "mean of 30 days";
    default:
        return "";
    }
}

const char *tl_limit_unit(enum tl_limit_id limit, enum tl_unit_system units)
{
    static const char *const text[TL_NLIMIT] = {
#define UNIT(id, name, unit) [id] = (unit),
        TL_LIMIT_LIST(UNIT)
#undef UNIT
    };
    return is_temperature(limit) ? tl_display_unit(TL_DIM_TEMPERATURE, units)
           : is_change(limit)    ? tl_display_unit(TL_DIM_TEMPERATURE_SPAN, units)
                                 : text[limit];
}

double tl_limit_value(enum tl_limit_id limit, enum tl_unit_system units, double value)
{
    return is_temperature(limit) ? tl_display_value(TL_DIM_TEMPERATURE, units, value)
           : is_change(limit)    ? tl_display_value(TL_DIM_TEMPERATURE_SPAN, units, value)
                                 : value;
}
