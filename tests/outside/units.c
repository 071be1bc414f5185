/* Units as people write them against published conversions. */
#include "outside.h"

#include <math.h>

#include "towerloop/chem.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

static double parsed(const char *text, enum tl_dim dim)
{
    char what[256];
    char expected[256];
    double value;

    if (tl_parse_quantity(text, dim, &value, what, expected, sizeof what) != TL_OK)
        return NAN;
    return value;
}

/* A function that reads `text` and gives it in the unit of which `per_base` make a base unit. */
#define READS(name, text, dim, per_base)                                                           \
    static double name(const double *in)                                                           \
    {                                                                                              \
        (void)in;                                                                                  \
        return (per_base)*parsed(text, dim);                                                       \
    }
READS(gallon, "1 gal", TL_DIM_VOLUME, 1e3)
READS(imperial_gallon, "1 imp gal", TL_DIM_VOLUME, 1e3)
READS(inch, "1 in", TL_DIM_LENGTH, 1e2)
READS(foot, "1 ft", TL_DIM_LENGTH, 1.0)
READS(pound, "1 lb", TL_DIM_MASS, 1e-3)
READS(german_degree, "1 dH", TL_DIM_ALKALINITY, TL_CACO3_G_PER_EQ)
READS(as_nh3, "1 mg/L as NH3", TL_DIM_CONC_N, 1.0)
READS(as_nh4, "1 mg/L as NH4", TL_DIM_CONC_N, 1.0)
READS(as_no2, "1 mg/L as NO2", TL_DIM_CONC_N, 1.0)
READS(as_no3, "1 mg/L as NO3", TL_DIM_CONC_N, 1.0)
/* clang-format off */
#define ROW(text, unit, value) {"units.csv", text, text, unit, {{0}}, value, "tl_parse_quantity"}

static const struct outside_series series[] = {
    ROW("1 gal", "L", gallon),
    ROW("1 imp gal", "L", imperial_gallon),
    ROW("1 in", "cm", inch),
    ROW("1 ft", "m", foot),
    ROW("1 lb", "kg", pound),
    ROW("1 dH", "mg/L as CaCO3", german_degree),
    ROW("1 mg/L as NH3", "mg/L as N", as_nh3),
    ROW("1 mg/L as NH4", "mg/L as N", as_nh4),
    ROW("1 mg/L as NO2", "mg/L as N", as_no2),
    ROW("1 mg/L as NO3", "mg/L as N", as_no3),
};
/* clang-format on */

const struct outside_group outside_units = {
    "Units",
    series,
    sizeof series / sizeof series[0],
};
