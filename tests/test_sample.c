/* What one sample of water means. Published values: un-ionised ammonia, criteria and oxygen are
 * checked in tests/outside for the functions; here they are checked as a keeper gets them. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "judged.h"
#include "near.h"
#include "towerloop/chem.h"
#include "towerloop/sample.h"
#include "towerloop/units.h"

/* A pond in good order, everything measured. */
static struct tl_sample good(void)
{
    return (struct tl_sample){.temperature_degC = 20,
                              .ph = 7.5,
                              .tan_gN_m3 = 0.1,
                              .no2_gN_m3 = 0.05,
                              .no3_gN_m3 = 10,
                              .alk_eq_m3 = 3,
                              .chloride_g_m3 = 30,
                              .o2_g_m3 = 8.5,
                              .elevation_m = 0,
                              .salinity_g_g = 0};
}

static double value(const struct tl_sample *s, enum tl_figure_id id)
{
    const struct tl_figures f = judge(s);
    return f.figure[id].value;
}

static enum tl_grade grade(const struct tl_sample *s, enum tl_figure_id id)
{
    const struct tl_figures f = judge(s);
    assert_true(f.figure[id].judged);
    return f.figure[id].grade;
}

/* --- against published values ----------------------------------------------------------------- */

/* Masser 1999, SRAC publication 452: fractions printed to four decimals. */
static void un_ionised_share_as_published(void **state)
{
    static const double row[][3] = {{20, 7.0, .0039}, {20, 7.4, .0098}, {20, 8.0, .0381},
                                    {10, 7.0, .0018}, {10, 7.6, .0073}, {10, 8.0, .0182}};
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct tl_sample s = good();
        s.temperature_degC = row[i][0];
        s.ph = row[i][1];
        s.tan_gN_m3 = 2;
        near(value(&s, TL_FIGURE_NH3_SHARE), 100 * row[i][2], 0.01);
        near(value(&s, TL_FIGURE_NH3), 2 * row[i][2], 0.0002);
    }
}

/* US EPA 2013, EPA 822-R-13-001, acute, salmonids absent, as adopted in Oregon's table 30(b), two
 * figures: half a unit of the second either way. With salmonids it is 13 at pH 7.5 and 10 degC. */
static void acute_criterion_as_published(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.temperature_degC = 10;
    near(judge(&s).figure[TL_FIGURE_TAN_ACUTE].danger, 21, 0.5);
    s.temperature_degC = 20;
    s.ph = 7;
    near(judge(&s).figure[TL_FIGURE_TAN_ACUTE].danger, 17, 0.5);
    s.tan_gN_m3 = 16.4;
    assert_int_equal(grade(&s, TL_FIGURE_TAN_ACUTE), TL_WITHIN);
    s.tan_gN_m3 = 17.6;
    assert_int_equal(grade(&s, TL_FIGURE_TAN_ACUTE), TL_DANGER);
}

/* ISO 5814: 9.09 mg/L at 20 degC and 101.325 kPa; 14.62 at 0 degC, 8.26 at 25 degC. USGS DOTABLES,
 * Benson & Krause 1984: factor 0.9685 at 10 degC and 5 g/kg. */
static void oxygen_saturation_as_published(void **state)
{
    struct tl_sample s = good();
    (void)state;
    near(value(&s, TL_FIGURE_O2_SAT), 9.09, 0.01);
    near(value(&s, TL_FIGURE_O2_SHARE), 100 * 8.5 / 9.09, 0.1);
    s.temperature_degC = 25;
    near(value(&s, TL_FIGURE_O2_SAT), 8.26, 0.01);
    s.temperature_degC = 10;
    const double fresh = value(&s, TL_FIGURE_O2_SAT);
    s.salinity_g_g = 0.005;
    near(value(&s, TL_FIGURE_O2_SAT) / fresh, 0.9685, 0.00006);
}

/* Stumm & Morgan 1996, as worked in textbooks: bicarbonate water in which pH is pK1 holds as much
 * carbon dioxide as bicarbonate. pK1 6.38 at 20 degC (Harned & Davis 1943). */
static void carbon_dioxide_at_its_own_pk(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.ph = 6.38;
    s.tan_gN_m3 = 0;
    near_rel(value(&s, TL_FIGURE_CO2) / 44.01, s.alk_eq_m3, 0.02);
    near_rel(value(&s, TL_FIGURE_TIC), 2 * s.alk_eq_m3, 0.02);
}

/* SRAC publication 462: chloride 10 times nitrite keeps nitrite out of the gills. */
static void salt_lifts_the_danger_of_nitrite(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.no2_gN_m3 = 2;
    s.chloride_g_m3 = 19;
    near(value(&s, TL_FIGURE_CL_NO2), 9.5, 1e-9);
    assert_int_equal(grade(&s, TL_FIGURE_NO2), TL_DANGER);
    s.chloride_g_m3 = 21;
    assert_int_equal(grade(&s, TL_FIGURE_NO2), TL_CAUTION);
    s.chloride_g_m3 = NAN; /* not measured protects nobody */
    assert_int_equal(grade(&s, TL_FIGURE_NO2), TL_DANGER);
    s.chloride_g_m3 = 1000;
    s.no2_gN_m3 = 5.1; /* too much whatever the salt */
    assert_int_equal(grade(&s, TL_FIGURE_NO2), TL_DANGER);
}

/* --- judging ------------------------------------------------------------------------------------ */

static void good_water_is_within_limits(void **state)
{
    const struct tl_sample s = good();
    const struct tl_figures f = judge(&s);
    (void)state;
    assert_int_equal(f.grade, TL_WITHIN);
    assert_int_equal(f.missing, 0);
    assert_int_equal(f.assumed, 0);
    assert_int_equal(f.outside, 0);
    assert_false(f.contradictory);
    assert_string_equal(tl_figures_verdict(&f), "within limits");
    for (int i = 0; i < TL_NFIGURE; i++)
        assert_true(isfinite(f.figure[i].value));
}

static void each_limit_judges_its_figure(void **state)
{
    static const struct {
        enum tl_reading_id reading;
        enum tl_figure_id figure;
        double caution, danger;
    } row[] = {
        {TL_READING_NITRITE, TL_FIGURE_NO2, 0.3, 3.5},
        {TL_READING_NITRATE, TL_FIGURE_NO3, 50, 110},
        {TL_READING_OXYGEN, TL_FIGURE_O2, 5, 2},
        /* US EPA 1986: 110 % of 9.09 mg/L; 200 % is judgement */
        {TL_READING_OXYGEN, TL_FIGURE_O2_SHARE, 10.1, 18.3},
        {TL_READING_CHLORIDE, TL_FIGURE_CHLORIDE, 3100, 5600},
        /* sea salt, 1.80655 g/kg for each g/L of chloride: 5.4 and 9.9 g/kg */
        {TL_READING_SALINITY, TL_FIGURE_CHLORIDE, 0.0056, 0.0101},
        {TL_READING_TEMPERATURE, TL_FIGURE_TEMPERATURE, 2.9, 1.4},
        {TL_READING_TEMPERATURE, TL_FIGURE_TEMPERATURE, 30.1, 35.1},
        {TL_READING_PH, TL_FIGURE_PH, 6.9, 5.9},
        {TL_READING_PH, TL_FIGURE_PH, 8.6, 9.1},
        {TL_READING_ALKALINITY, TL_FIGURE_ALK, MEQ(69), MEQ(39)},
        /* 0.02 and 0.05 mg/L of un-ionised ammonia at 1.23 %, pH 7.5 and 20 degC */
        {TL_READING_AMMONIA, TL_FIGURE_NH3, 1.8, 4.5},
    };
    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct tl_sample s = good();
        double *reading[TL_NREADING] = {
#define FIELD(id, field, name, dim, least, most) &s.field,
            TL_READING_LIST(FIELD)
#undef FIELD
        };
        assert_int_equal(grade(&s, row[i].figure), TL_WITHIN);
        *reading[row[i].reading] = row[i].caution;
        assert_int_equal(grade(&s, row[i].figure), TL_CAUTION);
        *reading[row[i].reading] = row[i].danger;
        assert_int_equal(grade(&s, row[i].figure), TL_DANGER);
        assert_int_equal(judge(&s).grade, TL_DANGER);
    }
}

/* 44.01 g of carbon dioxide a mol */
static void carbon_dioxide_is_judged(void **state)
{
    struct tl_sample s = good();
    (void)state;
    assert_int_equal(grade(&s, TL_FIGURE_CO2), TL_WITHIN);
    s.ph = 7.1;
    near(value(&s, TL_FIGURE_CO2), 25, 1);
    assert_int_equal(grade(&s, TL_FIGURE_CO2), TL_CAUTION);
    s.ph = 6.9;
    assert_int_equal(grade(&s, TL_FIGURE_CO2), TL_DANGER);
}

/* --- what is missing, assumed, outside ---------------------------------------------------------- */

static void nothing_is_guessed(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.ph = NAN;
    struct tl_figures f = judge(&s);
    const enum tl_figure_id need_ph[] = {TL_FIGURE_NH3_SHARE, TL_FIGURE_NH3,  TL_FIGURE_TAN_CHRONIC,
                                         TL_FIGURE_TAN_ACUTE, TL_FIGURE_HNO2, TL_FIGURE_PH,
                                         TL_FIGURE_CO2,       TL_FIGURE_TIC};
    for (size_t i = 0; i < sizeof need_ph / sizeof *need_ph; i++) {
        assert_true(isnan(f.figure[need_ph[i]].value));
        assert_false(f.figure[need_ph[i]].judged);
        assert_int_equal(f.figure[need_ph[i]].missing, TL_READING_BIT(PH));
    }
    assert_true(f.figure[TL_FIGURE_NO2].judged);
    assert_int_equal(f.missing, TL_READING_BIT(PH));

    tl_sample_init(&s);
    f = judge(&s);
    for (int i = 0; i < TL_NFIGURE; i++)
        assert_true(isnan(f.figure[i].value) && f.figure[i].missing != 0);
}

/* What even the mildest case is, the water is; what only the worst is, it may be. */
static void ammonia_without_temperature_or_ph(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.temperature_degC = NAN;
    s.ph = 8.2;
    s.tan_gN_m3 = 20;
    struct tl_figures f = judge(&s);
    const struct tl_figure *nh3 = &f.figure[TL_FIGURE_NH3];
    assert_false(nh3->judged);
    /* Emerson et al. 1975: 0.09018 + 2729.92 / 273.15 = 10.084 */
    near_rel(nh3->least, 20 / (1 + pow(10, 10.084 - 8.2)), 0.001);
    assert_true(nh3->most > 10 * nh3->least);
    assert_int_equal(nh3->grade, TL_DANGER);
    assert_int_equal(f.untold, 0);
    assert_string_equal(tl_figures_verdict(&f), "danger");

    s.tan_gN_m3 = 0.5;
    f = judge(&s);
    assert_int_equal(f.figure[TL_FIGURE_NH3].grade, TL_WITHIN);
    assert_int_equal(f.figure[TL_FIGURE_NH3].worst, TL_DANGER);
    assert_true(f.untold & TL_FIGURE_BIT(NH3));
    assert_int_equal(f.grade, TL_WITHIN);
    assert_int_equal(tl_figures_grade(&f), TL_DANGER);
    assert_string_equal(tl_figures_verdict(&f), "cannot be told");

    s.tan_gN_m3 = 0.01; /* all of it may be un-ionised */
    f = judge(&s);
    assert_string_equal(tl_figures_verdict(&f), "within limits");

    s.ph = NAN;
    s.tan_gN_m3 = 0.3;
    f = judge(&s);
    assert_int_equal(f.may_be, TL_DANGER);
    s.temperature_degC = 10;
    s.tan_gN_m3 = 1000; /* beyond the criterion of pH 6, and 0.18 mg/L un-ionised there */
    assert_int_equal(judge(&s).grade, TL_DANGER);
}

static void gases_without_temperature(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.temperature_degC = NAN;
    s.tan_gN_m3 = 0;
    s.ph = 7.8; /* at 7.5 there may be 16 mg/L of carbon dioxide in cold water */
    assert_int_equal(judge(&s).may_be, TL_WITHIN);
    s.o2_g_m3 = 12; /* full at 7 degC, 187 % at 40 */
    assert_int_equal(judge(&s).may_be, TL_WITHIN);
    s.o2_g_m3 = 18; /* 123 % at 0 degC (14.6 mg/L when full) */
    struct tl_figures f = judge(&s);
    assert_int_equal(f.grade, TL_CAUTION);
    assert_int_equal(f.may_be, TL_DANGER);
    s.o2_g_m3 = 30;
    assert_int_equal(judge(&s).grade, TL_DANGER);

    s = good();
    s.temperature_degC = NAN;
    s.tan_gN_m3 = 0;
    s.ph = 7;
    s.alk_eq_m3 = 20; /* a sixth of that is carbon dioxide at its pK of 6.3 */
    f = judge(&s);
    assert_int_equal(f.figure[TL_FIGURE_CO2].grade, TL_DANGER);
    assert_true(f.figure[TL_FIGURE_CO2].least > 0.1 * 20 * 44);
    assert_true(f.figure[TL_FIGURE_CO2].most > f.figure[TL_FIGURE_CO2].least);
}

/* A salinity and a chloride that disagree: the saltier of the two counts. */
static void salt_is_judged_either_way(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.salinity_g_g = 0.036;
    struct tl_figures f = judge(&s);
    near(f.figure[TL_FIGURE_CHLORIDE].value, 36e3 / 1.80655, 1e-6);
    assert_true(f.chloride_from_salinity);
    s.chloride_g_m3 = NAN;
    f = judge(&s);
    assert_int_equal(f.grade, TL_DANGER);
    assert_int_equal(f.figure[TL_FIGURE_CHLORIDE].missing, 0);
    s.chloride_g_m3 = 20000;
    s.salinity_g_g = 0.001;
    f = judge(&s);
    near(f.figure[TL_FIGURE_CHLORIDE].value, 20000, 0);
    assert_false(f.chloride_from_salinity);
}

static void assumptions_are_named(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.elevation_m = s.salinity_g_g = NAN;
    struct tl_figures f = judge(&s);
    assert_int_equal(f.assumed, TL_READING_BIT(ELEVATION) | TL_READING_BIT(SALINITY));
    assert_true(f.salt_from_chloride);
    near(f.salinity_g_kg, 1.80655e-3 * 30, 1e-12); /* as the simulation has it */

    s.chloride_g_m3 = s.tan_gN_m3 = NAN;
    f = judge(&s);
    assert_int_equal(f.assumed, TL_READING_BIT(ELEVATION) | TL_READING_BIT(SALINITY) |
                                    TL_READING_BIT(CHLORIDE) | TL_READING_BIT(AMMONIA));
    near(f.salinity_g_kg, 0, 0);
    assert_true(isfinite(f.figure[TL_FIGURE_CO2].value));
}

static void elevation_thins_the_air(void **state)
{
    struct tl_sample s = good();
    (void)state;
    const double low = value(&s, TL_FIGURE_O2_SAT);
    s.elevation_m = 1500;
    /* ICAO standard atmosphere: 845.6 hPa at 1500 m; saturation goes nearly with the pressure */
    near_rel(value(&s, TL_FIGURE_O2_SAT) / low, 845.6 / 1013.25, 0.005);
}

static void ranges_are_watched(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.temperature_degC = 33;
    struct tl_figures f = judge(&s);
    assert_int_equal(f.outside, 1u << TL_RANGE_EPA_TEMPERATURE | 1u << TL_RANGE_FISH_TEMPERATURE);
    near(f.range_value[TL_RANGE_EPA_TEMPERATURE], 33, 0);
    assert_true(f.figure[TL_FIGURE_TAN_ACUTE].outside != 0);
    assert_int_equal(f.figure[TL_FIGURE_NH3].outside, 0);
    assert_string_equal(tl_figures_verdict(&f), "caution");
    s.temperature_degC = 12;
    f = judge(&s);
    assert_string_equal(tl_figures_verdict(&f), "caution: outside published range");

    /* every limit is about the fish, whose own range counts whatever was measured */
    tl_sample_init(&s);
    s.temperature_degC = 33;
    s.ph = 7.5;
    f = judge(&s);
    assert_int_equal(f.outside, 1u << TL_RANGE_FISH_TEMPERATURE);
    assert_int_equal(tl_figures_grade(&f), TL_CAUTION);
    s.temperature_degC = 24;
    assert_int_equal(judge(&s).outside, 0);
    assert_int_equal(tl_figures_grade(&f), TL_CAUTION);

    s = good();
    s.salinity_g_g = 0.002;
    f = judge(&s);
    assert_int_equal(f.outside, 1u << TL_RANGE_FRESH);
    assert_true(f.figure[TL_FIGURE_CO2].outside != 0);
    assert_int_equal(f.figure[TL_FIGURE_O2_SAT].outside, 0);

    s = good();
    s.elevation_m = 6000;
    f = judge(&s);
    assert_int_equal(f.outside, 1u << TL_RANGE_PRESSURE);
    s.temperature_degC = NAN; /* nothing is left that the pressure goes into */
    assert_int_equal(judge(&s).outside, 0);
}

static void water_that_cannot_be(void **state)
{
    struct tl_sample s = good();
    (void)state;
    s.ph = 10.5;
    s.alk_eq_m3 = 0.1;
    const struct tl_figures f = judge(&s);
    assert_true(f.contradictory);
    assert_true(isnan(f.figure[TL_FIGURE_CO2].value));
    assert_true(isnan(f.figure[TL_FIGURE_TIC].value));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(un_ionised_share_as_published),
        cmocka_unit_test(acute_criterion_as_published),
        cmocka_unit_test(oxygen_saturation_as_published),
        cmocka_unit_test(carbon_dioxide_at_its_own_pk),
        cmocka_unit_test(salt_lifts_the_danger_of_nitrite),
        cmocka_unit_test(good_water_is_within_limits),
        cmocka_unit_test(each_limit_judges_its_figure),
        cmocka_unit_test(carbon_dioxide_is_judged),
        cmocka_unit_test(nothing_is_guessed),
        cmocka_unit_test(ammonia_without_temperature_or_ph),
        cmocka_unit_test(gases_without_temperature),
        cmocka_unit_test(salt_is_judged_either_way),
        cmocka_unit_test(assumptions_are_named),
        cmocka_unit_test(elevation_thins_the_air),
        cmocka_unit_test(ranges_are_watched),
        cmocka_unit_test(water_that_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
