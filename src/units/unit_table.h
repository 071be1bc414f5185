/* Every unit a dimension is written in. One row: spelling, then base = (value + offset) x multiply
 * / divide. U rows are named in messages and help; S rows are further spellings. The first row of a
 * dimension is its base unit and converts by exactly 1. Spelled-out words ("gallons per hour") are
 * brought to these short forms before the look-up, see words[] in units.c.
 *
 * Exact by definition: inch 0.0254 m, pound 453.59237 g, US gallon 231 in3 = 3.785411784 L,
 * imperial gallon 4.54609 L (NIST SP 811). Molar masses g/mol: N 14.007, H 1.008, O 15.999 (IUPAC
 * 2021). A month is 30 days. 1 meq/L = 50.04 mg/L as CaCO3 (molar mass 100.09); 1 dH = 10 mg/L CaO (56.077 g/mol). */
#ifndef TL_UNITS_UNIT_TABLE_H
#define TL_UNITS_UNIT_TABLE_H

#define L_PER_GAL     3.785411784
#define L_PER_IMP_GAL 4.54609
#define G_PER_LB      453.59237
#define G_PER_OZ      (G_PER_LB / 16)
#define M_PER_FT      0.3048
#define M_PER_IN      0.0254
#define BTU_WH        0.29307107017 /* International Table */
#define DAY_MIN       1440
#define DAY_S         86400

/* clang-format off */
#define TL_UNITS_NUMBER(U, S) U("", 1, 1, 0)
#define TL_UNITS_FRACTION(U, S) S("fraction", 1, 1, 0) U("%", 1, 100, 0)
#define TL_UNITS_TIME(U, S)                                                                        \
    U("d", 1, 1, 0) U("h", 1, 24, 0) U("min", 1, DAY_MIN, 0) U("s", 1, DAY_S, 0) U("week", 7, 1, 0)
#define TL_UNITS_RATE(U, S)                                                                        \
    U("1/d", 1, 1, 0) U("%/d", 1, 100, 0) U("1/h", 24, 1, 0) U("%/h", 24, 100, 0)                  \
    U("%/week", 1, 700, 0) U("%/month", 1, 3000, 0) S("/d", 1, 1, 0) S("/h", 24, 1, 0) S("1/week", 1, 7, 0)
#define TL_UNITS_LENGTH(U, S)                                                                      \
    U("m", 1, 1, 0) U("cm", 1, 100, 0) U("mm", 1, 1000, 0) U("in", M_PER_IN, 1, 0)                 \
    U("ft", M_PER_FT, 1, 0) S("yd", 3 * M_PER_FT, 1, 0) S("km", 1000, 1, 0)
#define TL_UNITS_AREA(U, S)                                                                        \
    U("m2", 1, 1, 0) U("cm2", 1, 1e4, 0) U("ft2", M_PER_FT * M_PER_FT, 1, 0)                       \
    U("in2", M_PER_IN * M_PER_IN, 1, 0) S("sq m", 1, 1, 0)                                         \
    S("sq ft", M_PER_FT * M_PER_FT, 1, 0) S("sqft", M_PER_FT * M_PER_FT, 1, 0)                     \
    S("sq in", M_PER_IN * M_PER_IN, 1, 0)
#define TL_UNITS_VOLUME(U, S)                                                                      \
    U("m3", 1, 1, 0) U("L", 1, 1000, 0) U("gal", L_PER_GAL, 1000, 0)                               \
    U("imp gal", L_PER_IMP_GAL, 1000, 0) U("ft3", M_PER_FT * M_PER_FT * M_PER_FT, 1, 0)            \
    S("mL", 1, 1e6, 0) S("cu m", 1, 1, 0) S("cu ft", M_PER_FT * M_PER_FT * M_PER_FT, 1, 0)
#define TL_UNITS_FLOW(U, S)                                                                        \
    U("m3/d", 1, 1, 0) U("m3/h", 24, 1, 0) U("L/h", 24, 1000, 0) U("L/min", DAY_MIN, 1000, 0)      \
    U("gal/h", L_PER_GAL * 24, 1000, 0) U("gal/min", L_PER_GAL * DAY_MIN, 1000, 0)                 \
    U("imp gal/h", L_PER_IMP_GAL * 24, 1000, 0)                                                    \
    S("imp gal/min", L_PER_IMP_GAL * DAY_MIN, 1000, 0) S("L/d", 1, 1000, 0)                        \
    S("L/s", DAY_S, 1000, 0) S("gal/d", L_PER_GAL, 1000, 0) S("lph", 24, 1000, 0)                  \
    S("lpm", DAY_MIN, 1000, 0) S("gph", L_PER_GAL * 24, 1000, 0)                                   \
    S("gpm", L_PER_GAL * DAY_MIN, 1000, 0) S("gpd", L_PER_GAL, 1000, 0)
#define TL_UNITS_TEMPERATURE(U, S)                                                                 \
    U("degC", 1, 1, 0) U("degF", 5, 9, -32) S("C", 1, 1, 0) S("F", 5, 9, -32) S("deg C", 1, 1, 0)  \
    S("deg F", 5, 9, -32) S("K", 1, 1, -273.15)
#define TL_UNITS_TEMPERATURE_SPAN(U, S)                                                            \
    U("degC", 1, 1, 0) U("degF", 5, 9, 0) S("C", 1, 1, 0) S("F", 5, 9, 0) S("deg C", 1, 1, 0)      \
    S("deg F", 5, 9, 0) S("K", 1, 1, 0)
#define TL_UNITS_MASS(U, S)                                                                        \
    U("g", 1, 1, 0) U("kg", 1000, 1, 0) U("lb", G_PER_LB, 1, 0) U("oz", G_PER_OZ, 1, 0)            \
    S("mg", 1, 1000, 0)
#define TL_UNITS_MASS_FLOW(U, S)                                                                   \
    U("g/d", 1, 1, 0) U("g/h", 24, 1, 0) U("kg/d", 1000, 1, 0) U("lb/d", G_PER_LB, 1, 0)           \
    U("oz/d", G_PER_OZ, 1, 0) S("kg/h", 24000, 1, 0) S("lb/h", G_PER_LB * 24, 1, 0)                \
    S("oz/h", G_PER_OZ * 24, 1, 0) S("mg/h", 24, 1000, 0)
#define TL_UNITS_CONC(U, S)                                                                        \
    S("g/m3", 1, 1, 0) U("mg/L", 1, 1, 0) U("ug/L", 1, 1000, 0) U("ppm", 1, 1, 0)                  \
    S("g/L", 1000, 1, 0) S("ppb", 1, 1000, 0)
#define TL_UNITS_AS(U, S, form, multiply, divide)                                                  \
    U("mg/L as " form, multiply, divide, 0) S("ppm as " form, multiply, divide, 0)                 \
    S("g/m3 as " form, multiply, divide, 0) S("ug/L as " form, multiply, (divide) * 1000, 0)
#define TL_UNITS_CONC_N(U, S)                                                                      \
    TL_UNITS_AS(U, S, "N", 1, 1)                                                                   \
    TL_UNITS_AS(U, S, "NO3", 14.007, 62.004)                                                       \
    TL_UNITS_AS(U, S, "NO2", 14.007, 46.005)                                                       \
    TL_UNITS_AS(U, S, "NH3", 14.007, 17.031)                                                       \
    TL_UNITS_AS(U, S, "NH4", 14.007, 18.039)                                                       \
    S("gN/m3", 1, 1, 0) S("mgN/L", 1, 1, 0) S("mg N/L", 1, 1, 0)
#define TL_UNITS_CONC_COD(U, S)                                                                    \
    S("gCOD/m3", 1, 1, 0) U("mg/L as COD", 1, 1, 0) S("g/m3 as COD", 1, 1, 0)                      \
    S("ppm as COD", 1, 1, 0) S("mgCOD/L", 1, 1, 0) S("mg COD/L", 1, 1, 0)
#define TL_UNITS_ALKALINITY(U, S)                                                                  \
    U("meq/L", 1, 1, 0) U("mg/L as CaCO3", 1, 50.04, 0) U("dH", 20, 56.077, 0) S("eq/m3", 1, 1, 0) \
    S("ppm as CaCO3", 1, 50.04, 0) S("g/m3 as CaCO3", 1, 50.04, 0) S("mg/L CaCO3", 1, 50.04, 0)    \
    S("ppm CaCO3", 1, 50.04, 0) S("dKH", 20, 56.077, 0) S("degdH", 20, 56.077, 0)                  \
    S("degKH", 20, 56.077, 0)
#define TL_UNITS_SPECIFIC_SURFACE(U, S)                                                            \
    U("m2/m3", 1, 1, 0) U("ft2/ft3", 1, M_PER_FT, 0) S("1/m", 1, 1, 0)
#define TL_UNITS_VELOCITY(U, S)                                                                    \
    U("m/d", 1, 1, 0) U("m/h", 24, 1, 0) U("ft/d", M_PER_FT, 1, 0) U("ft/h", M_PER_FT * 24, 1, 0)  \
    S("cm/d", 1, 100, 0) S("cm/h", 24, 100, 0) S("mm/s", DAY_S, 1000, 0) S("m/s", DAY_S, 1, 0)
#define TL_UNITS_SURFACE_TENSION(U, S)                                                             \
    U("N/m", 1, 1, 0) U("mN/m", 1, 1000, 0) S("dyn/cm", 1, 1000, 0)
#define TL_UNITS_PER_LENGTH(U, S) U("1/m", 1, 1, 0) U("1/ft", 1, M_PER_FT, 0) S("1/cm", 100, 1, 0)
#define TL_UNITS_FILM(U, S) U("gCOD/m2", 1, 1, 0) S("g COD/m2", 1, 1, 0)
#define TL_UNITS_YIELD_N(U, S) U("gCOD/gN", 1, 1, 0) S("g COD/g N", 1, 1, 0)
#define TL_UNITS_YIELD_COD(U, S) U("gCOD/gCOD", 1, 1, 0) S("g COD/g COD", 1, 1, 0)
#define TL_UNITS_N_CONTENT(U, S) U("gN/gCOD", 1, 1, 0) S("g N/g COD", 1, 1, 0)
#define TL_UNITS_KILL(U, S) U("m3/g/d", 1, 1, 0) S("L/mg/d", 1, 1, 0)
#define TL_UNITS_SLOUGH(U, S) U("1/d per m/h", 1, 1, 0)
#define TL_UNITS_PER_MASS(U, S)                                                                    \
    U("g/g", 1, 1, 0) U("%", 1, 100, 0) S("kg/kg", 1, 1, 0) S("g/kg", 1, 1000, 0) S("ppt", 1, 1000, 0)
#define TL_UNITS_COD_PER_MASS(U, S) U("gCOD/g", 1, 1, 0) S("g COD/g", 1, 1, 0)
#define TL_UNITS_N_PER_FISH(U, S) U("gN/kg", 1, 1, 0) S("g N/kg", 1, 1, 0)
#define TL_UNITS_FISH_RATE(U, S) U("g/kg/d", 1, 1, 0) S("mg/kg/h", 24, 1000, 0)
#define TL_UNITS_AIR_SHARE(U, S) U("ppm of air", 1, 1, 0) S("ppm", 1, 1, 0)
#define TL_UNITS_POWER(U, S) U("W", 1, 1, 0) U("kW", 1000, 1, 0)
#define TL_UNITS_ENERGY(U, S) U("Wh", 1, 1, 0) U("kWh", 1000, 1, 0) S("MJ", 1e6, 3600, 0)
#define TL_UNITS_AERATION(U, S) U("g/kWh", 1, 1, 0) U("kg/kWh", 1000, 1, 0)
#define TL_UNITS_ENERGY_PRICE(U, S) U("per kWh", 1, 1, 0) S("per MJ", 18, 5, 0)
#define TL_UNITS_MASS_PRICE(U, S)                                                                  \
    U("per kg", 1, 1, 0) U("per g", 1000, 1, 0) U("per lb", 1000, G_PER_LB, 0)                     \
    U("per oz", 1000, G_PER_OZ, 0) S("per t", 1, 1000, 0)
#define TL_UNITS_VOLUME_PRICE(U, S)                                                                \
    U("per m3", 1, 1, 0) U("per L", 1000, 1, 0) U("per gal", 1000, L_PER_GAL, 0)                   \
    U("per imp gal", 1000, L_PER_IMP_GAL, 0)                                                       \
    U("per ft3", 1, M_PER_FT * M_PER_FT * M_PER_FT, 0)                                             \
    S("per cu ft", 1, M_PER_FT * M_PER_FT * M_PER_FT, 0)
#define TL_UNITS_BULK_DENSITY(U, S)                                                                \
    U("kg/m3", 1, 1, 0) U("kg/L", 1000, 1, 0) U("g/L", 1, 1, 0)                                    \
    U("lb/ft3", G_PER_LB, 1000 * M_PER_FT * M_PER_FT * M_PER_FT, 0)
#define TL_UNITS_SPEED(U, S)                                                                       \
    U("m/s", 1, 1, 0) U("km/h", 10, 36, 0) U("mph", 1609.344, 3600, 0) U("ft/s", M_PER_FT, 1, 0)   \
    S("kmh", 10, 36, 0)
#define TL_UNITS_ANGLE(U, S) U("deg", 1, 1, 0)
#define TL_UNITS_HEAT_LOSS(U, S)                                                                   \
    U("W/m2/K", 1, 1, 0) U("Btu/h/ft2/degF", BTU_WH * 1.8, M_PER_FT * M_PER_FT, 0)                 \
    S("W/m2/degC", 1, 1, 0) S("W/m2 K", 1, 1, 0) S("W/(m2 K)", 1, 1, 0)
#define TL_UNITS_LIGHT(U, S)      U("W/m2", 1, 1, 0) S("kW/m2", 1000, 1, 0)
#define TL_UNITS_EXTINCTION(U, S) U("m2/gCOD", 1, 1, 0) S("m2/g COD", 1, 1, 0)
#define TL_UNITS_DIFFUSIVITY(U, S)                                                                 \
    U("m2/d", 1, 1, 0) U("m2/s", DAY_S, 1, 0) U("cm2/s", DAY_S, 10000, 0)
/* clang-format on */

#endif
