/* Reading quantities: every spelling, every refusal, and that base units pass through untouched.
 *
 * Exact factors: NIST SP 811 (inch, pound, US and imperial gallon). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "comma.h"
#include "near.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

#define SIZE 512

static double parse(const char *text, enum tl_dim dim)
{
    char what[SIZE] = "";
    char expected[SIZE] = "";
    double value = NAN;
    if (tl_parse_quantity(text, dim, &value, what, expected, SIZE))
        print_error("\"%s\": %s; expected %s\n", text, what, expected);
    return value;
}

static void spellings(void **state)
{
    static const struct {
        const char *text;
        enum tl_dim dim;
        double value;
    } good[] = {
        {"7.8", TL_DIM_NUMBER, 7.8},
        {"-0.193", TL_DIM_NUMBER, -0.193},
        {"+.5e-3", TL_DIM_NUMBER, 0.0005},
        {"60 %", TL_DIM_FRACTION, 0.6},
        {"7 %", TL_DIM_FRACTION, 0.07},
        {"30%", TL_DIM_FRACTION, 0.3},
        {"30 percent", TL_DIM_FRACTION, 0.3},
        {"0.25 fraction", TL_DIM_FRACTION, 0.25},
        {"60 d", TL_DIM_TIME, 60},
        {"60 days", TL_DIM_TIME, 60},
        {"1 day", TL_DIM_TIME, 1},
        {"6 h", TL_DIM_TIME, 0.25},
        {"6 hours", TL_DIM_TIME, 0.25},
        {"6 hrs", TL_DIM_TIME, 0.25},
        {"15 min", TL_DIM_TIME, 15.0 / 1440},
        {"90 seconds", TL_DIM_TIME, 90.0 / 86400},
        {"2 weeks", TL_DIM_TIME, 14},
        {"0.78 1/d", TL_DIM_RATE, 0.78},
        {"10 %/d", TL_DIM_RATE, 0.1},
        {"10 % per day", TL_DIM_RATE, 0.1},
        {"10 % / day", TL_DIM_RATE, 0.1},
        {"5 %/h", TL_DIM_RATE, 1.2},
        {"70 %/week", TL_DIM_RATE, 0.1},
        {"2 1/h", TL_DIM_RATE, 48},
        {"3 m", TL_DIM_LENGTH, 3},
        {"3 metres", TL_DIM_LENGTH, 3},
        {"76.2 mm", TL_DIM_LENGTH, 0.0762},
        {"7.62 cm", TL_DIM_LENGTH, 0.0762},
        {"3 in", TL_DIM_LENGTH, 0.0762},
        {"3 inches", TL_DIM_LENGTH, 0.0762},
        {"4 ft", TL_DIM_LENGTH, 1.2192},
        {"4 feet", TL_DIM_LENGTH, 1.2192},
        {"10 m2", TL_DIM_AREA, 10},
        {"10 m^2", TL_DIM_AREA, 10},
        {"10 m\xc2\xb2", TL_DIM_AREA, 10},
        {"10 sq ft", TL_DIM_AREA, 0.9290304},
        {"10 square feet", TL_DIM_AREA, 0.9290304},
        {"10 ft2", TL_DIM_AREA, 0.9290304},
        {"12 m3", TL_DIM_VOLUME, 12},
        {"12 m\xc2\xb3", TL_DIM_VOLUME, 12},
        {"12 m^3", TL_DIM_VOLUME, 12},
        {"800 L", TL_DIM_VOLUME, 0.8},
        {"800 l", TL_DIM_VOLUME, 0.8},
        {"800 litres", TL_DIM_VOLUME, 0.8},
        {"800liter", TL_DIM_VOLUME, 0.8},
        {"1000 gal", TL_DIM_VOLUME, 3.785411784},
        {"1000 US gallons", TL_DIM_VOLUME, 3.785411784},
        {"1000 imp gal", TL_DIM_VOLUME, 4.54609},
        {"1000 imperial gallons", TL_DIM_VOLUME, 4.54609},
        {"1000 ft3", TL_DIM_VOLUME, 28.316846592},
        {"4.5 m3/h", TL_DIM_FLOW, 108},
        {"1200 gal/h", TL_DIM_FLOW, 109.0198593792},
        {"1200 gph", TL_DIM_FLOW, 109.0198593792},
        {"1200 gallons per hour", TL_DIM_FLOW, 109.0198593792},
        {"20 gpm", TL_DIM_FLOW, 109.0198593792},
        {"20 GPM", TL_DIM_FLOW, 109.0198593792},
        {"100 imp gal/h", TL_DIM_FLOW, 10.910616},
        {"100 L/min", TL_DIM_FLOW, 144},
        {"6000 l/h", TL_DIM_FLOW, 144},
        {"6000 lph", TL_DIM_FLOW, 144},
        {"22 degC", TL_DIM_TEMPERATURE, 22},
        {"22 \xc2\xb0"
         "C",
         TL_DIM_TEMPERATURE, 22},
        {"22 C", TL_DIM_TEMPERATURE, 22},
        {"22C", TL_DIM_TEMPERATURE, 22},
        {"22 degrees Celsius", TL_DIM_TEMPERATURE, 22},
        {"77 degF", TL_DIM_TEMPERATURE, 25},
        {"77 \xc2\xb0"
         "F",
         TL_DIM_TEMPERATURE, 25},
        {"77 F", TL_DIM_TEMPERATURE, 25},
        {"9 degF", TL_DIM_TEMPERATURE_SPAN, 5},
        {"5 degC", TL_DIM_TEMPERATURE_SPAN, 5},
        {"500 g", TL_DIM_MASS, 500},
        {"0.5 kg", TL_DIM_MASS, 500},
        {"1 lb", TL_DIM_MASS, 453.59237},
        {"2 lbs", TL_DIM_MASS, 907.18474},
        {"16 oz", TL_DIM_MASS, 453.59237},
        {"12 g/h", TL_DIM_MASS_FLOW, 288},
        {"1 kg/d", TL_DIM_MASS_FLOW, 1000},
        {"200 g/day", TL_DIM_MASS_FLOW, 200},
        {"1 lb/d", TL_DIM_MASS_FLOW, 453.59237},
        {"6 mg/L", TL_DIM_CONC, 6},
        {"6 mg/l", TL_DIM_CONC, 6},
        {"6 ppm", TL_DIM_CONC, 6},
        {"11 ug/L", TL_DIM_CONC, 0.011},
        {"11 \xc2\xb5g/L", TL_DIM_CONC, 0.011},
        {"0.5 mg/L as N", TL_DIM_CONC_N, 0.5},
        {"0.5 ppm as N", TL_DIM_CONC_N, 0.5},
        {"62.004 mg/L as NO3", TL_DIM_CONC_N, 14.007},
        {"46.005 mg/l as no2", TL_DIM_CONC_N, 14.007},
        {"17.031 mg/L as NH3", TL_DIM_CONC_N, 14.007},
        {"18.039 mg/L as NH4", TL_DIM_CONC_N, 14.007},
        {"5 mg/L as COD", TL_DIM_CONC_COD, 5},
        {"50.04 mg/L as CaCO3", TL_DIM_ALKALINITY, 1},
        {"50.04 ppm CaCO3", TL_DIM_ALKALINITY, 1},
        {"2 meq/L", TL_DIM_ALKALINITY, 2},
        {"56.077 dH", TL_DIM_ALKALINITY, 20},
        {"56.077 \xc2\xb0"
         "dH",
         TL_DIM_ALKALINITY, 20},
        {"56.077 dKH", TL_DIM_ALKALINITY, 20},
        {"200 m2/m3", TL_DIM_SPECIFIC_SURFACE, 200},
        {"60.96 ft2/ft3", TL_DIM_SPECIFIC_SURFACE, 200},
        {"0.6 m/d", TL_DIM_VELOCITY, 0.6},
        {"1 m/h", TL_DIM_VELOCITY, 24},
        {"61 mN/m", TL_DIM_SURFACE_TENSION, 0.061},
        {"0.03 1/d per m/h", TL_DIM_SLOUGH, 0.03},
        {"420 ppm", TL_DIM_AIR_SHARE, 420},
        {"0.3 kW", TL_DIM_POWER, 300},
        {"1.2 kWh", TL_DIM_ENERGY, 1200},
        {"3.6 MJ", TL_DIM_ENERGY, 1000}, /* 1 kWh = 3.6 MJ, NIST SP 811 */
        {"0.7 kg/kWh", TL_DIM_AERATION, 700},
        {"0.30 per kWh", TL_DIM_ENERGY_PRICE, 0.30},
        {"0.30/kWh", TL_DIM_ENERGY_PRICE, 0.30},
        {"4 per lb", TL_DIM_MASS_PRICE, 4 / 0.45359237},
        {"0.4 per L", TL_DIM_VOLUME_PRICE, 400},
        {"0.4 per litre", TL_DIM_VOLUME_PRICE, 400},
        {"1 per gallon", TL_DIM_VOLUME_PRICE, 1 / 0.003785411784},
        {"50 lb/ft3", TL_DIM_BULK_DENSITY, 50 * 0.45359237 / (0.3048 * 0.3048 * 0.3048)},
        {"0.8 kg/L", TL_DIM_BULK_DENSITY, 800},
        {"0.6 kW/m2", TL_DIM_LIGHT, 600},
        {"0.07 m2/g COD", TL_DIM_EXTINCTION, 0.07},
        {"2 m2/s", TL_DIM_DIFFUSIVITY, 172800},
    };
    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        near_rel(parse(good[i].text, good[i].dim), good[i].value, 4e-15);
}

static void refusals(void **state)
{
    static const struct {
        const char *text;
        enum tl_dim dim;
        const char *what, *expected;
    } bad[] = {
        {"", TL_DIM_LENGTH, "\"\" is not a number", "a length in m, cm, mm, in, ft"},
        {"three in", TL_DIM_LENGTH, "\"three in\" is not a number", NULL},
        {"3", TL_DIM_LENGTH, "\"3\" has no unit", "a length in m, cm, mm, in, ft"},
        {"0", TL_DIM_CONC, "\"0\" has no unit", "a concentration in mg/L, ug/L, ppm"},
        {"3 inn", TL_DIM_LENGTH, "\"3 inn\" has an unknown unit \"inn\"", NULL},
        {"3 gal", TL_DIM_LENGTH, "\"3 gal\" is a volume, not a length", NULL},
        {"10 %", TL_DIM_RATE, "\"10 %\" is a share, not a rate",
         "a rate in 1/d, %/d, 1/h, %/h, %/week, %/month"},
        {"7.8 mg/L", TL_DIM_NUMBER, "\"7.8 mg/L\" is a concentration, not a plain number",
         "a plain number"},
        {"0.5 mg/L", TL_DIM_CONC_N, "\"0.5 mg/L\" does not say as what",
         "a concentration of nitrogen in mg/L as N, mg/L as NO3, mg/L as NO2, mg/L as NH3, "
         "mg/L as NH4"},
        {"0.5 ppm", TL_DIM_CONC_N, "\"0.5 ppm\" does not say as what", NULL},
        {"0.5 mg/L as NO4", TL_DIM_CONC_N,
         "\"0.5 mg/L as NO4\" has an unknown unit \"mg/L as NO4\"", NULL},
        {"100 mg/L", TL_DIM_ALKALINITY, "\"100 mg/L\" does not say as what",
         "an alkalinity in meq/L, mg/L as CaCO3, dH"},
        {"1,5 m", TL_DIM_LENGTH, "\"1,5 m\" has a comma; write a decimal point and no separators",
         NULL},
        {"1,200 gal/h", TL_DIM_FLOW,
         "\"1,200 gal/h\" has a comma; write a decimal point and no separators", NULL},
        {"inf m", TL_DIM_LENGTH, "\"inf m\" is not a number", NULL},
        {"nan", TL_DIM_NUMBER, "\"nan\" is not a number", NULL},
        {"-nan m", TL_DIM_LENGTH, "\"-nan m\" is not a number", NULL},
        {"0x10 m", TL_DIM_LENGTH, "\"0x10 m\" has an unknown unit \"x10 m\"", NULL},
        {"1e999 m", TL_DIM_LENGTH, "\"1e999 m\" is too large a number", NULL},
        {"1e308 week", TL_DIM_TIME, "\"1e308 week\" is too large a number", NULL},
        {"1 2 m", TL_DIM_LENGTH, "\"1 2 m\" has an unknown unit \"2 m\"", NULL},
        {"1_000 m", TL_DIM_LENGTH, "\"1_000 m\" has an unknown unit \"_000 m\"", NULL},
        {"1.2.3 m", TL_DIM_LENGTH, "\"1.2.3 m\" has an unknown unit \".3 m\"", NULL},
        {"5 Mm", TL_DIM_VOLUME, "\"5 Mm\" is a length, not a volume", NULL},
        {"5 gal gal", TL_DIM_VOLUME, "\"5 gal gal\" has an unknown unit \"gal gal\"", NULL},
    };
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char what[SIZE] = "";
        char expected[SIZE] = "";
        double value = 42;
        assert_int_equal(tl_parse_quantity(bad[i].text, bad[i].dim, &value, what, expected, SIZE),
                         TL_E_INPUT);
        assert_string_equal(what, bad[i].what);
        if (bad[i].expected)
            assert_string_equal(expected, bad[i].expected);
        assert_true(value == 42); /* untouched */
    }
}

/* A text of any length, well-formed or not, overruns nothing and is cut in the message. */
static void long_texts(void **state)
{
    char text[2000];
    char what[SIZE] = "";
    char expected[SIZE] = "";
    double value;
    (void)state;
    memset(text, '1', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    assert_int_equal(tl_parse_quantity(text, TL_DIM_NUMBER, &value, what, expected, SIZE),
                     TL_E_INPUT);
    memcpy(text, "1 ", 2);
    for (size_t i = 2; i + 2 < sizeof text; i += 2)
        memcpy(text + i, "\xc2\xb0", 2);
    assert_int_equal(tl_parse_quantity(text, TL_DIM_LENGTH, &value, what, expected, SIZE),
                     TL_E_INPUT);
    assert_true(strlen(what) < 160);
    char small[8];
    char other[8];
    assert_int_equal(tl_parse_quantity("1 mile", TL_DIM_LENGTH, &value, small, other, sizeof small),
                     TL_E_INPUT);
    assert_true(strlen(small) < sizeof small && strlen(other) < sizeof other);
}

static void base_units_pass_untouched(void **state)
{
    static const double values[] = {0.1, 1.0 / 3, 5e-324, 1.7976931348623157e308, -2.5, 0};
    (void)state;
    for (enum tl_dim dim = TL_DIM_NUMBER; dim < TL_NDIM; dim++) {
        assert_non_null(tl_dim_base_unit(dim));
        assert_non_null(tl_dim_name(dim));
        for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
            char text[128];
            snprintf(text, sizeof text, "%.17g %s", values[i], tl_dim_base_unit(dim));
            assert_true(parse(text, dim) == values[i]);
        }
    }
}

static void listed_units_are_read(void **state)
{
    (void)state;
    for (enum tl_dim dim = TL_DIM_FRACTION; dim < TL_NDIM; dim++) {
        char list[SIZE];
        char *rest = list;
        snprintf(list, sizeof list, "%s", tl_dim_units(dim));
        assert_true(strlen(list) > 0);
        while (rest) {
            char *comma = strstr(rest, ", ");
            if (comma)
                *comma = '\0';
            char text[SIZE + 8];
            snprintf(text, sizeof text, "40 %s", rest);
            assert_true(isfinite(parse(text, dim)));
            rest = comma ? comma + 2 : NULL;
        }
    }
    assert_string_equal(tl_dim_units(TL_DIM_NUMBER), "");
}

static void display(void **state)
{
    (void)state;
    assert_string_equal(tl_display_unit(TL_DIM_VOLUME, TL_METRIC), "m3");
    assert_string_equal(tl_display_unit(TL_DIM_VOLUME, TL_US), "gal");
    assert_string_equal(tl_display_unit(TL_DIM_CONC, TL_US), "mg/L");
    near(tl_display_value(TL_DIM_TEMPERATURE, TL_US, 25), 77, 1e-12);
    near(tl_display_value(TL_DIM_TEMPERATURE_SPAN, TL_US, 5), 9, 1e-12);
    near(tl_display_value(TL_DIM_ALKALINITY, TL_METRIC, 2), 100.08, 1e-12);
    for (enum tl_dim dim = TL_DIM_NUMBER; dim < TL_NDIM; dim++) {
        for (enum tl_unit_system system = TL_METRIC; system <= TL_US; system++) {
            char text[128];
            snprintf(text, sizeof text, "%.17g %s", tl_display_value(dim, system, 12.5),
                     tl_display_unit(dim, system));
            near_rel(parse(text, dim), 12.5, 1e-14);
        }
    }
}

static void displays_as(double value, const char *expected)
{
    char text[64];
    tl_display_text(TL_DIM_CONC, TL_METRIC, value, 3, text, sizeof text);
    assert_string_equal(text, expected);
}

/* What the solver leaves of nothing is nothing. */
static void next_to_nothing(void **state)
{
    (void)state;
    displays_as(-5e-29, "0 mg/L");
    displays_as(-0.0, "0 mg/L");
    displays_as(-1.27e-6, "0 mg/L");
    displays_as(6.36e-28, "0 mg/L");
    displays_as(-0.00123, "-0.00123 mg/L");
    displays_as(1.5e-6, "1.5e-06 mg/L");
}

static void the_locale_does_not_matter(void **state)
{
    char what[SIZE] = "";
    char expected[SIZE] = "";
    (void)state;
    if (!comma_locale_set())
        skip();
    double value = parse("1.5 m", TL_DIM_LENGTH);
    int comma = tl_parse_quantity("1,5 m", TL_DIM_LENGTH, &value, what, expected, SIZE);
    comma_locale_reset();
    assert_true(value == 1.5);
    assert_int_equal(comma, TL_E_INPUT);
}

static void numbers(void **state)
{
    double value;
    (void)state;
    assert_int_equal(tl_parse_number("20.5 14:00", &value), 4);
    assert_true(value == 20.5);
    assert_int_equal(tl_parse_number("1e", &value), 1);
    assert_int_equal(tl_parse_number("1e+", &value), 1);
    assert_int_equal(tl_parse_number("1e+2x", &value), 4);
    assert_int_equal(tl_parse_number(".", &value), 0);
    assert_int_equal(tl_parse_number("-", &value), 0);
    assert_int_equal(tl_parse_number("", &value), 0);
    assert_int_equal(tl_parse_number("1e999", &value), 5);
    assert_true(isinf(value));
}

static void check_shown(enum tl_dim dim, enum tl_unit_system system, double value, int digits,
                        const char *expected)
{
    char text[64];
    tl_display_text(dim, system, value, digits, text, sizeof text);
    assert_string_equal(text, expected);
}

static void shown(void **state)
{
    (void)state;
    check_shown(TL_DIM_TIME, TL_METRIC, 60, 4, "60 d");
    check_shown(TL_DIM_TIME, TL_METRIC, 0.25, 4, "6 h");
    check_shown(TL_DIM_TIME, TL_US, 15.0 / 1440, 4, "15 min");
    check_shown(TL_DIM_TIME, TL_METRIC, 10.0 / 86400, 4, "10 s");
    check_shown(TL_DIM_TIME, TL_METRIC, 0.1 / 86400, 4, "0.1 s");
    check_shown(TL_DIM_TIME, TL_METRIC, 0, 4, "0 d");
    check_shown(TL_DIM_VOLUME, TL_METRIC, 12, 4, "12 m3");
    check_shown(TL_DIM_VOLUME, TL_US, 100, 4, "26420 gal"); /* 1 US gal = 3.785411784 L exactly */
    check_shown(TL_DIM_VOLUME, TL_US, 1e5, 4, "26420000 gal");
    check_shown(TL_DIM_LENGTH, TL_METRIC, 0.0762, 4, "76.2 mm");
    check_shown(TL_DIM_LENGTH, TL_METRIC, 0.5, 4, "0.5 m");
    check_shown(TL_DIM_LENGTH, TL_METRIC, 0, 4, "0 m");
    check_shown(TL_DIM_LENGTH, TL_US, 0.0762, 4, "3 in");
    check_shown(TL_DIM_VOLUME, TL_METRIC, 0.8, 4, "800 L");
    check_shown(TL_DIM_MASS, TL_METRIC, 500, 4, "500 g");
    check_shown(TL_DIM_MASS, TL_METRIC, 24000, 4, "24 kg");
    check_shown(TL_DIM_MASS, TL_US, 28.349523125, 4, "1 oz");
    check_shown(TL_DIM_MASS, TL_US, 453.59237, 4, "1 lb");
    check_shown(TL_DIM_NUMBER, TL_METRIC, 7.8, 4, "7.8");
    check_shown(TL_DIM_FRACTION, TL_METRIC, 0.38, 4, "38 %");
    check_shown(TL_DIM_TEMPERATURE, TL_US, 20, 4, "68 degF");
}

static void hours(void **state)
{
    (void)state;
    assert_string_equal(tl_hours_text(0).text, "-");
    assert_string_equal(tl_hours_text(-1).text, "-");
    assert_string_equal(tl_hours_text(NAN).text, "-");
    assert_string_equal(tl_hours_text(INFINITY).text, "-");
    assert_string_equal(tl_hours_text(0.01).text, "0.1"); /* passed is passed */
    assert_string_equal(tl_hours_text(1.66).text, "1.7");
    assert_string_equal(tl_hours_text(34.43).text, "34.4");
    assert_string_equal(tl_hours_text(99.94).text, "99.9");
    assert_string_equal(tl_hours_text(99.96).text, "100");
    assert_string_equal(tl_hours_text(159.17).text, "159");
    assert_string_equal(tl_hours_text(1177.8).text, "1178"); /* no powers, no lost digits */
    assert_string_equal(tl_hours_text(17520).text, "17520");
    assert_string_equal(tl_hours_span(0).text, "0 h");
    assert_string_equal(tl_hours_span(0.001).text, "1 min");
    assert_string_equal(tl_hours_span(0.2).text, "12 min");
    assert_string_equal(tl_hours_span(0.99).text, "59 min");
    assert_string_equal(tl_hours_span(0.995).text, "1 h");
    assert_string_equal(tl_hours_span(1.66).text, "1.7 h");
    assert_string_equal(tl_hours_span(170.08).text, "170 h");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spellings),
        cmocka_unit_test(refusals),
        cmocka_unit_test(long_texts),
        cmocka_unit_test(base_units_pass_untouched),
        cmocka_unit_test(listed_units_are_read),
        cmocka_unit_test(display),
        cmocka_unit_test(next_to_nothing),
        cmocka_unit_test(the_locale_does_not_matter),
        cmocka_unit_test(numbers),
        cmocka_unit_test(shown),
        cmocka_unit_test(hours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
