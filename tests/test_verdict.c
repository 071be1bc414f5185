/* The verdict on made-up waters whose answer can be worked out by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/chem.h"
#include "towerloop/ranges.h"
#include "towerloop/status.h"
#include "towerloop/verdict.h"
#include "window.h"

#define MINUTES(n) ((n) / 1440.0)

/* What the tank holds at an instant. */
struct tank {
    double temperature_degC;
    double water[TL_NWATER];
    double ph;
};
typedef void recipe(double t_d, struct tank *tank);

static struct tl_limits limits(void)
{
    struct tl_limits l = {
        .nh3 = {0.02, 0.05},
        .tan_caution = NAN,
        .tan_danger = NAN,
        .no2 = {0.2, 0.5},
        .no2_chloride_ratio = 10,
        .no2_danger_with_salt = 5,
        .no3 = {40, 100},
        .o2 = {6, 3},
        .ph_low = {7.0, 6.0},
        .ph_high = {8.5, 9.0},
        .ph_swing = {0.5, 1.0},
        .alk = {70 / 50.04, 40 / 50.04},
        .co2 = {15, 30},
        .chlorine = {0.011, 0.019},
        .chloride = {3000, 5500},
        .cold = {3, 1.5},
        .warm = {30, 35},
        .hour_change = {2, 5},
        .day_change = {5, 10},
        .ready_tan = 1.0,
        .ready_no2 = 0.5,
    };
    return l;
}

static void good_water(struct tank *tank)
{
    *tank = (struct tank){.temperature_degC = 20, .ph = 7.5};
    tank->water[TL_TAN] = 0.1;
    tank->water[TL_NO2] = 0.05;
    tank->water[TL_NO3] = 10;
    tank->water[TL_O2] = 8;
    tank->water[TL_ALK] = 3;
    tank->water[TL_TIC] = 3.1;
    tank->water[TL_CL] = 20;
}

/* Judge `days` from `start_d`, a sample every `step` days and one at the end. */
static struct tl_verdict judge_with(const struct tl_limits *l, recipe *make, double start_d,
                                    double days, double step)
{
    struct tl_judge *j = NULL;
    struct tl_verdict v;
    long n = lround(days / step);
    assert_int_equal(tl_judge_new(l, days, &j), TL_OK);
    for (long k = 0; k <= n; k++) {
        struct tank tank;
        double t = start_d + (double)k * step;
        good_water(&tank);
        make(t, &tank);
        assert_int_equal(tl_judge_add(j, t, tank.temperature_degC, tank.water, tank.ph, true),
                         TL_OK);
    }
    tl_judge_finish(j, &v);
    tl_judge_free(j);
    return v;
}

static struct tl_verdict judge_days(recipe *make, double days)
{
    struct tl_limits l = limits();
    return judge_with(&l, make, 0, days, TL_VERDICT_PERIOD_D);
}

/* ------------------------------------------------------------------------------------------- */

static void as_it_is(double t, struct tank *tank)
{
    (void)t;
    (void)tank;
}

static void test_good_water_is_within_limits(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(as_it_is, 40);
    assert_int_equal(v.grade, TL_WITHIN);
    for (int i = 0; i < TL_NLIMIT; i++) {
        assert_true(v.limit[i].judged);
        assert_int_equal(v.limit[i].grade, TL_WITHIN);
        near(v.limit[i].hours_caution, 0, 0);
        assert_true(isnan(v.limit[i].first_breach_d));
        assert_true(isfinite(v.limit[i].worst));
    }
    near(v.limit[TL_LIMIT_O2].worst, 8, 1e-12);
    near(v.limit[TL_LIMIT_ALK].worst, 3 * 50.04, 1e-9);
    near(v.limit[TL_LIMIT_ALK].caution, 70, 1e-9);
    near(v.filter_ready_d, 0, 0);
    assert_string_equal(tl_grade_text(v.grade), "within limits");
}

/* Deadly water until day 40, then good water. */
static void bad_first(double t, struct tank *tank)
{
    if (t < 40) {
        tank->water[TL_TAN] = 5;
        tank->water[TL_NO2] = 9;
        tank->water[TL_O2] = 1;
        tank->ph = 9.5;
    }
}

/* Judge bad_first() over 50 days, with fish from `from_d` until `until_d`. */
static struct tl_verdict judge_stay(double from_d, double until_d)
{
    const struct tl_limits l = limits();
    struct tl_judge *j = NULL;
    struct tl_verdict v;
    assert_int_equal(tl_judge_new(&l, 50, &j), TL_OK);
    for (long k = 0; k <= 50 * 288; k++) {
        struct tank tank;
        const double t = (double)k / 288;
        good_water(&tank);
        bad_first(t, &tank);
        assert_int_equal(tl_judge_add(j, t, tank.temperature_degC, tank.water, tank.ph,
                                      t >= from_d && t < until_d),
                         TL_OK);
    }
    tl_judge_finish(j, &v);
    tl_judge_free(j);
    return v;
}

static void test_water_without_fish_is_not_judged(void **state)
{
    (void)state;
    struct tl_verdict v = judge_stay(40, 99);
    assert_int_equal(v.grade, TL_WITHIN);
    near(v.hours_empty, 40 * 24, 1e-6);
    near(v.occupied_from_d, 40, 1e-9);
    near(v.filter_ready_d, 40, 1e-9);
    for (int i = 0; i < TL_NLIMIT; i++)
        assert_true(v.limit[i].judged); /* means over what is left of the run, too */
    near(v.limit[TL_LIMIT_NH3].worst, 0.1 * tl_nh3_fraction(20, 7.5), 1e-9);

    /* an hour too early is seen */
    v = judge_stay(40 - 1.0 / 24, 99);
    assert_int_equal(v.grade, TL_DANGER);
    near(v.limit[TL_LIMIT_O2].hours_danger, 1, 0.09);
    near(v.limit[TL_LIMIT_O2].first_breach_d, 40 - 1.0 / 24, 1e-9);

    /* fish that leave take the limits along */
    v = judge_stay(10, 20);
    near(v.limit[TL_LIMIT_NO2].hours_danger, 240, 1.1);
    near(v.hours_empty, 40 * 24, 0.1);
}

/* Oxygen 5 from 12:00 to 18:00 of day 1, in the middle of it 2 from 14:00 to 15:00. */
static void oxygen_dip(double t, struct tank *tank)
{
    double hour = 24 * (t - 1);
    if (hour > 12 && hour < 18 + 1e-9)
        tank->water[TL_O2] = hour > 14 && hour < 15 + 1e-9 ? 2 : 5;
}

static void test_oxygen_dip_is_timed(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(oxygen_dip, 3);
    const struct tl_limit_verdict *o2 = &v.limit[TL_LIMIT_O2];
    assert_int_equal(v.grade, TL_DANGER);
    assert_int_equal(o2->grade, TL_DANGER);
    near(o2->worst, 2, 0);
    near(o2->hours_caution, 6, 5.01 / 60);
    near(o2->hours_danger, 1, 5.01 / 60);
    near(o2->first_breach_d, 1.5, MINUTES(5.01));
    near(o2->worst_d, 1 + 14.0 / 24, MINUTES(5.01));
    assert_int_equal(v.limit[TL_LIMIT_NH3].grade, TL_WITHIN);
}

/* Chlorine of 0.10 for 5 minutes at day 1; of 0.015 from noon to 16:00 of day 2. */
static void chlorine_bursts(double t, struct tank *tank)
{
    if (fabs(t - 1) < MINUTES(1))
        tank->water[TL_HOCL] = 0.10;
    if (t > 2.5 && t < 2.5 + 4.0 / 24)
        tank->water[TL_HOCL] = 0.015;
}

static void test_short_burst_is_judged_by_the_hour(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(chlorine_bursts, 4);
    const struct tl_limit_verdict *c = &v.limit[TL_LIMIT_CHLORINE];
    /* the burst gives an hourly mean of 0.10/12 = 0.0083, under the caution value */
    assert_int_equal(c->grade, TL_CAUTION);
    near(c->worst, 0.015, 1e-12);
    /* the mean passes 0.011 after 44 minutes and falls below it 16 minutes after the end */
    near(c->first_breach_d, 2.5 + MINUTES(44), MINUTES(7));
    near(c->hours_caution, 4 - 28.0 / 60, 0.2);
    near(c->hours_danger, 0, 0);
}

/* Ammonia of 5 comes in the last minutes of four days, the alkalinity falls with it. */
static void dosed_at_the_end(double t, struct tank *tank)
{
    if (t > 4 - MINUTES(1)) {
        tank->water[TL_TAN] = 5;
        tank->water[TL_ALK] = 0.5;
    }
}

/* The same 20 minutes before the end; it falls as it is judged. */
static void dosed_before_the_end(double t, struct tank *tank)
{
    if (t > 4 - MINUTES(21))
        tank->water[TL_TAN] = 5 - 100 * (t - 4 + MINUTES(20));
}

/* Ammonia that rises by a twentieth an hour. */
static void rising_to_the_end(double t, struct tank *tank)
{
    tank->water[TL_TAN] = 0.1 * exp(0.05 * 24 * (t - 4));
}

static void test_the_end_counts_by_the_time_there_is(void **state)
{
    (void)state;
    const double share = tl_nh3_fraction(20, 7.5);
    struct tl_verdict v = judge_days(dosed_at_the_end, 4);
    near(v.limit[TL_LIMIT_NH3].worst, 5 * share, 1e-9);
    assert_int_equal(v.limit[TL_LIMIT_NH3].grade, TL_DANGER);
    near(v.limit[TL_LIMIT_NH3].worst_d, 4, 1e-9);
    near(v.limit[TL_LIMIT_NH3].hours_danger, 5.0 / 60, 1e-6);
    near(v.limit[TL_LIMIT_TAN_ACUTE].worst, 5, 1e-9);
    near(v.limit[TL_LIMIT_ALK].worst, 0.5 * 50.04, 1e-9);
    assert_int_equal(v.limit[TL_LIMIT_ALK].grade, TL_DANGER);

    /* samples of 5 minutes: the first after the dose is its own, and the mean since then is not the hour's */
    v = judge_days(dosed_before_the_end, 4);
    const double first = 5, last = 5 - 100 * MINUTES(20);
    near(v.limit[TL_LIMIT_TAN_ACUTE].worst, (first + last) / 2, 1e-9);

    /* what rises slowly is told by the hour */
    v = judge_days(rising_to_the_end, 4);
    const double hour = 0.1 * (1 - exp(-0.05)) / 0.05;
    near(v.limit[TL_LIMIT_TAN_ACUTE].worst, hour, 1e-6);

    /* the same jump before the end is judged by the hour */
    v = judge_days(dosed_before_the_end, 5);
    assert_true(v.limit[TL_LIMIT_TAN_ACUTE].worst < 5);
}

/* Fish that come with the last sample have that one. */
static void test_fish_at_the_end_are_judged(void **state)
{
    (void)state;
    const struct tl_limits l = limits();
    struct tl_judge *j = NULL;
    struct tl_verdict v;
    assert_int_equal(tl_judge_new(&l, 1, &j), TL_OK);
    for (long k = 0; k <= 288; k++) {
        struct tank tank;
        good_water(&tank);
        tank.water[TL_HOCL] = 1;
        assert_int_equal(tl_judge_add(j, (double)k / 288, 20, tank.water, tank.ph, k == 288),
                         TL_OK);
    }
    tl_judge_finish(j, &v);
    tl_judge_free(j);
    assert_true(v.limit[TL_LIMIT_CHLORINE].judged);
    near(v.limit[TL_LIMIT_CHLORINE].worst, 1, 1e-12);
    assert_int_equal(v.limit[TL_LIMIT_CHLORINE].grade, TL_DANGER);
    near(v.limit[TL_LIMIT_NO3].worst, 10, 1e-12);
}

/* Half an hour of sea water, then a salt bath that stays. */
static void salted(double t, struct tank *tank)
{
    if (t > 1 && t < 1 + 0.5 / 24)
        tank->water[TL_CL] = 8000;
    if (t >= 2)
        tank->water[TL_CL] = 6000;
}

static void test_salt_harms(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(salted, 3);
    const struct tl_limit_verdict *c = &v.limit[TL_LIMIT_CHLORIDE];
    assert_int_equal(c->grade, TL_DANGER);
    near(c->worst, 6000, 1e-9);
    assert_true(c->first_breach_d > 1 && c->first_breach_d < 1.05);
    near(c->hours_danger, 24 - 0.9, 0.2);
}

/* 20 degC but for an hour of 2 degC from day 1.5 on, and 36 degC from day 3 on. */
static void cold_and_hot(double t, struct tank *tank)
{
    if (t > 1.5 - 1e-9 && t < 1.5 + 1.0 / 24 - 1e-9)
        tank->temperature_degC = 2;
    if (t > 3 - 1e-9)
        tank->temperature_degC = 36;
}

static void test_cold_and_hot_water(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(cold_and_hot, 4);
    const struct tl_limit_verdict *cold = &v.limit[TL_LIMIT_COLD], *warm = &v.limit[TL_LIMIT_WARM];
    assert_true(cold->below && !warm->below);
    assert_int_equal(cold->grade, TL_CAUTION);
    near(cold->worst, 2, 0);
    near(cold->hours_caution, 1, 0.01);
    near(cold->first_breach_d, 1.5, MINUTES(0.1));
    assert_int_equal(warm->grade, TL_DANGER);
    near(warm->worst, 36, 0);
    near(warm->hours_danger, 24, 0.1);
}

/* A rise of 0.25 degC every 5 minutes for half an hour, and a fall to where it was after 20 hours. */
static void rise_and_fall(double t, struct tank *tank)
{
    const double after = t - 2;
    if (after >= 0 && after < 20.0 / 24 - 1e-9)
        tank->temperature_degC += fmin(1.5, after / MINUTES(20));
}

/* The same rise ten times as high. */
static void high_rise_and_fall(double t, struct tank *tank)
{
    rise_and_fall(t, tank);
    tank->temperature_degC = 20 + 7 * (tank->temperature_degC - 20);
}

static void test_change_of_temperature(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(as_it_is, 3);
    near(v.limit[TL_LIMIT_HOUR_CHANGE].worst, 0, 0);
    near(v.limit[TL_LIMIT_DAY_CHANGE].worst, 0, 0);

    v = judge_days(rise_and_fall, 4);
    const struct tl_limit_verdict *hour = &v.limit[TL_LIMIT_HOUR_CHANGE];
    const struct tl_limit_verdict *day = &v.limit[TL_LIMIT_DAY_CHANGE];
    near(hour->worst, 1.5, 1e-9);
    near(day->worst, 1.5, 1e-9);
    near(day->worst_d, 2 + MINUTES(30), MINUTES(5.1));
    assert_int_equal(v.grade, TL_WITHIN);

    /* by 10.5 degC: both are beyond their danger, for as long as the rise or the fall lies inside */
    v = judge_days(high_rise_and_fall, 4);
    near(hour->worst, 10.5, 1e-9);
    near(hour->first_breach_d, 2 + MINUTES(10), MINUTES(5));
    /* from the breach until the last 2 (5) degC of the rise are an hour old; an hour after the fall */
    near(hour->hours_caution, 75.0 / 60 + 1, 1e-6);
    near(hour->hours_danger, 65.0 / 60 + 1, 1e-6);
    assert_int_equal(hour->grade, TL_DANGER);
    assert_int_equal(day->grade, TL_DANGER);
    near(day->worst, 10.5, 1e-9);
    /* a day and at most half an hour after the fall it is forgotten */
    near(day->hours_danger, 20 - 0.5 + 24 + 0.25, 0.3);
}

/* The day's change does not ask where midnight is, nor how many pieces were left out. */
static void cold_front(double t, struct tank *tank)
{
    tank->temperature_degC = t < 1.75 ? 20 : t > 2.25 ? 8 : 20 - 24 * (t - 1.75);
}

static void test_change_across_midnight(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(cold_front, 4);
    near(v.limit[TL_LIMIT_DAY_CHANGE].worst, 12, 1e-9);
    near(v.limit[TL_LIMIT_HOUR_CHANGE].worst, 1, 0.1); /* 1 degC an hour */
    assert_int_equal(v.limit[TL_LIMIT_HOUR_CHANGE].grade, TL_WITHIN);
    assert_int_equal(v.limit[TL_LIMIT_DAY_CHANGE].grade, TL_DANGER);
}

/* After ten days at one temperature, by 6 degC within 10 minutes. */
static void late_shock(double t, struct tank *tank)
{
    tank->temperature_degC = 20 - 6 * fmin(1, fmax(0, (t - 10) / MINUTES(10)));
}

static void test_change_after_long_rest(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(late_shock, 14);
    const struct tl_limit_verdict *hour = &v.limit[TL_LIMIT_HOUR_CHANGE];
    near(hour->worst, 6, 1e-9);
    near(hour->first_breach_d, 10, MINUTES(6));
    near(hour->hours_danger, 55.0 / 60, 1e-6);
    near(v.limit[TL_LIMIT_DAY_CHANGE].worst, 6, 1e-9);
    near(v.limit[TL_LIMIT_DAY_CHANGE].hours_caution, 24.25, 0.26);
}

/* pH 7, 20 degC: the acute criterion is 16.76025 mg/L (EPA 822-R-13-001). */
static void neutral_with_ammonia(double t, struct tank *tank)
{
    (void)t;
    tank->ph = 7.0;
    tank->water[TL_TAN] = 16;
}

static void test_epa_criteria(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(neutral_with_ammonia, 31);
    const struct tl_limit_verdict *acute = &v.limit[TL_LIMIT_TAN_ACUTE];
    const struct tl_limit_verdict *chronic = &v.limit[TL_LIMIT_TAN_CHRONIC];
    near_rel(acute->danger, 16.76025, 1e-5);
    assert_true(isnan(acute->caution));
    assert_int_equal(acute->grade, TL_WITHIN);
    near(acute->worst, 16, 1e-9);
    /* 0.9405 (0.0278/(1+10^0.688) + 1.1994/(1+10^-0.688)) 7.547 at pH 7, 20 degC */
    near_rel(chronic->caution,
             0.9405 * (0.0278 / (1 + pow(10, 0.688)) + 1.1994 / (1 + pow(10, -0.688))) * 7.547,
             1e-9);
    assert_true(isnan(chronic->danger));
    assert_int_equal(chronic->grade, TL_CAUTION);
    near(chronic->first_breach_d, 30, 1e-6);
    near(chronic->hours_caution, 31 * 24, 1e-3);
    near(chronic->hours_danger, 0, 0);
}

static void ammonia_for_ten_days(double t, struct tank *tank)
{
    tank->ph = 7.0;
    tank->water[TL_TAN] = t < 10 ? 12 : 0;
}

static void test_long_term_mean_needs_its_window(void **state)
{
    (void)state;
    /* 12 mg/L for a third of 30 days is a mean of 4; the criterion at pH 7 and 20 degC is 7.1 */
    struct tl_verdict v = judge_days(ammonia_for_ten_days, 30);
    near(v.limit[TL_LIMIT_TAN_CHRONIC].worst, 4, 0.01);
    assert_int_equal(v.limit[TL_LIMIT_TAN_CHRONIC].grade, TL_WITHIN);
    /* a run of 10 days is judged as a whole, at its end */
    v = judge_days(ammonia_for_ten_days, 10 - MINUTES(5));
    near(v.limit[TL_LIMIT_TAN_CHRONIC].worst, 12, 1e-9);
    near(v.limit[TL_LIMIT_TAN_CHRONIC].worst_d, 10 - MINUTES(5), 1e-9);
    near(v.limit[TL_LIMIT_TAN_CHRONIC].hours_caution, 240, 0.1);
}

/* pH 7 in the first half of every hour, 8 in the second. */
static void two_kinds_of_water(double t, struct tank *tank)
{
    double minute = fmod(t * 1440 + 1e-6, 60);
    tank->ph = minute < 30 ? 7 : 8;
    tank->water[TL_TAN] = 5;
}

static void test_criterion_that_moves(void **state)
{
    (void)state;
    /* it ends in the milder water: the other would count by itself there */
    struct tl_verdict v = judge_days(two_kinds_of_water, 2 + MINUTES(25));
    /* the mean of 5/criterion over an hour: trapezoids give each pH half of the time */
    double ratio =
        2.5 / tl_epa_ammonia_acute(20, 7, false) + 2.5 / tl_epa_ammonia_acute(20, 8, false);
    near_rel(v.limit[TL_LIMIT_TAN_ACUTE].danger, 5 / ratio, 1e-6);
    near(v.limit[TL_LIMIT_TAN_ACUTE].worst, 5, 1e-9);
}

static void test_given_ammonia_limits(void **state)
{
    (void)state;
    struct tl_limits l = limits();
    l.tan_caution = 2;
    l.tan_danger = 15;
    struct tl_verdict v = judge_with(&l, neutral_with_ammonia, 0, 2, TL_VERDICT_PERIOD_D);
    near(v.limit[TL_LIMIT_TAN_CHRONIC].caution, 2, 0);
    near(v.limit[TL_LIMIT_TAN_ACUTE].danger, 15, 0);
    assert_int_equal(v.limit[TL_LIMIT_TAN_ACUTE].grade, TL_DANGER);
    near(v.limit[TL_LIMIT_TAN_ACUTE].hours_danger, 48, 1e-6);
}

static double nitrite, chloride;
static void nitrite_and_salt(double t, struct tank *tank)
{
    (void)t;
    tank->water[TL_NO2] = nitrite;
    tank->water[TL_CL] = chloride;
}

static void test_nitrite_and_chloride(void **state)
{
    (void)state;
    const struct {
        double nitrite, chloride;
        enum tl_grade grade;
        double danger;
    } row[] = {
        {0.1, 0, TL_WITHIN, 0.5}, {0.3, 0, TL_CAUTION, 0.5}, {0.6, 0, TL_DANGER, 0.5},
        {0.6, 20, TL_CAUTION, 2}, {2.1, 20, TL_DANGER, 2},   {4.9, 500, TL_CAUTION, 5},
        {5.1, 500, TL_DANGER, 5},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        nitrite = row[i].nitrite;
        chloride = row[i].chloride;
        struct tl_verdict v = judge_days(nitrite_and_salt, 1);
        assert_int_equal(v.limit[TL_LIMIT_NO2].grade, row[i].grade);
        near(v.limit[TL_LIMIT_NO2].danger, row[i].danger, 1e-9);
        near(v.limit[TL_LIMIT_NO2].worst, row[i].nitrite, 1e-9);
    }
}

/* Day 1: 7.4 by night, 8.1 from noon on. Between two days it falls by 0.7 as well, which is not a
 * swing within one day. */
static void swinging_ph(double t, struct tank *tank)
{
    tank->ph = t >= 1.5 && t < 2 ? 8.1 : 7.4;
}

static void test_swing_belongs_to_calendar_days(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(swinging_ph, 4);
    const struct tl_limit_verdict *s = &v.limit[TL_LIMIT_PH_SWING];
    assert_int_equal(s->grade, TL_CAUTION);
    near(s->worst, 0.7, 1e-12);
    near(s->worst_d, 1.5, MINUTES(5.01));
    near(s->first_breach_d, 1.5, MINUTES(5.01));
    near(s->hours_caution, 24, 1e-9);
    near(s->hours_danger, 0, 0);

    /* begun at 06:00 of day 0, the first day has 18 hours */
    struct tl_limits l = limits();
    l.ph_swing = (struct tl_limit_pair){-1, 1}; /* any swing counts */
    v = judge_with(&l, as_it_is, 0.25, 1.5, TL_VERDICT_PERIOD_D);
    near(v.limit[TL_LIMIT_PH_SWING].hours_caution, 36, 1e-9);
}

static void rising_nitrate(double t, struct tank *tank)
{
    tank->water[TL_NO3] = 20 * t;
}

static void test_nitrate_by_the_day(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(rising_nitrate, 4);
    const struct tl_limit_verdict *n = &v.limit[TL_LIMIT_NO3];
    /* the mean over the last day of 20 t is 20 (t - 1/2): 70 at the end, 40 at t = 2.5 */
    near(n->worst, 70, 1e-6);
    near(n->first_breach_d, 2.5, MINUTES(5.01));
    near(n->hours_caution, 36, 0.1);
}

static void sour_water(double t, struct tank *tank)
{
    (void)t;
    tank->ph = 6.5;
    tank->water[TL_ALK] = 0.6; /* 30 mg/L as CaCO3 */
    tank->water[TL_TIC] = 1.0;
}

static void test_sour_water(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(sour_water, 1);
    assert_int_equal(v.limit[TL_LIMIT_PH_LOW].grade, TL_CAUTION);
    assert_int_equal(v.limit[TL_LIMIT_ALK].grade, TL_DANGER);
    near(v.limit[TL_LIMIT_ALK].worst, 0.6 * 50.04, 1e-9);
    near(v.limit[TL_LIMIT_ALK].hours_danger, 24, 1e-6);
    /* pK1 = 6.38 at 20 degC (Plummer & Busenberg 1982): 10^-6.5/(10^-6.5 + 10^-6.38) of the carbon */
    double share = 1 / (1 + pow(10, 6.5 - 6.38));
    near_rel(v.limit[TL_LIMIT_CO2].worst, 44.01 * share, 0.01);
}

/* Ammonia falls below 1 at day 5 but for one bad sample at day 6; nitrite is good from day 4. */
static void starting_filter(double t, struct tank *tank)
{
    tank->water[TL_TAN] = t < 5 || fabs(t - 6) < MINUTES(1) ? 3 : 0.9;
    tank->water[TL_NO2] = t < 4 ? 2 : 0.4;
}

static void test_filter_ready(void **state)
{
    (void)state;
    near(judge_days(starting_filter, 10).filter_ready_d, 6 + MINUTES(5), 1e-9);
    near(judge_days(starting_filter, 9.01).filter_ready_d, 6 + MINUTES(5), 1e-9);
    assert_true(isnan(judge_days(starting_filter, 8.9).filter_ready_d));
    assert_true(isnan(judge_days(starting_filter, 3).filter_ready_d));
}

static void waves(double t, struct tank *tank)
{
    tank->water[TL_TAN] = 1.5 + sin(6.3 * t);
    tank->water[TL_O2] = 6 + 1.5 * cos(6.1 * t);
    tank->ph = 7.9 + 0.3 * sin(2 * 3.14159265 * t);
}

static void test_finer_samples_change_little(void **state)
{
    (void)state;
    struct tl_limits l = limits();
    struct tl_verdict a = judge_with(&l, waves, 0, 20, TL_VERDICT_PERIOD_D);
    struct tl_verdict b = judge_with(&l, waves, 0, 20, TL_VERDICT_PERIOD_D / 5);
    for (int i = 0; i < TL_NLIMIT; i++) {
        near(a.limit[i].worst, b.limit[i].worst, 2e-3 * fabs(b.limit[i].worst) + 1e-9);
        near(a.limit[i].hours_caution, b.limit[i].hours_caution, 2);
        assert_int_equal(a.limit[i].grade, b.limit[i].grade);
    }
    assert_int_equal(a.limit[TL_LIMIT_O2].grade, TL_CAUTION);
    assert_int_equal(a.limit[TL_LIMIT_NH3].grade, TL_DANGER);
}

static void test_window_against_plain_sum(void **state)
{
    (void)state;
    enum { N = 20000 };
    static double t[N], x[N];
    struct tl_window w;
    uint32_t seed = 12345;
    tl_window_init(&w, 1.0, 1);
    for (int i = 0; i < N; i++) {
        seed = seed * 1664525u + 1013904223u;
        t[i] = (i ? t[i - 1] : 0) + 0.001 + 0.004 * seed / 4294967296.0;
        /* a huge value early on must leave no trace in later means */
        x[i] = i == 100 ? 1e9 : 1 + sin(t[i]);
        assert_int_equal(tl_window_add(&w, t[i], &x[i]), TL_OK);
    }
    assert_true(tl_window_full(&w));
    double area = 0, span = 0;
    for (int i = N - 1; i > 0 && span < 1.0 - 1e-9; i--) {
        area += 0.5 * (t[i] - t[i - 1]) * (x[i] + x[i - 1]);
        span += t[i] - t[i - 1];
    }
    near(tl_window_mean(&w, 0), area / span, 1e-12);
    tl_window_free(&w);
}

/* --- published ranges ------------------------------------------------------------------------ */

static void test_ranges(void **state)
{
    (void)state;
    /* lava rock of 30 mm */
    struct tl_setup setup = {.tower = {.plan_area_m2 = 0.25,
                                       .specific_surface_m2_m3 = 200,
                                       .media_size_m = 0.03,
                                       .void_fraction = 0.45}};
    struct tl_snapshot s = {.temperature_degC = 20,
                            .pressure_atm = 1,
                            .tank_ph = 7.5,
                            .tower_on = true,
                            .tower_flow_m3_d = 0.25 * 24 * 10,
                            .fish_kg = 20};
    struct tl_ranges r;

    tl_ranges_init(&r, &setup, true);
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);

    /* cold: fish only; then colder; then no fish */
    s.t_d = 1;
    s.temperature_degC = 10;
    tl_ranges_add(&r, &s);
    s.t_d = 2;
    s.temperature_degC = 8;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 1);
    assert_true(r.note[TL_RANGE_FISH_TEMPERATURE].outside);
    near(r.note[TL_RANGE_FISH_TEMPERATURE].value, 8, 0);
    near(r.note[TL_RANGE_FISH_TEMPERATURE].first_d, 1, 0);
    tl_ranges_init(&r, &setup, true);
    s.fish_kg = 0;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);

    /* hot: the ammonia criteria end at 30 degC, unless the scenario has its own */
    s.temperature_degC = 32;
    tl_ranges_add(&r, &s);
    assert_true(r.note[TL_RANGE_EPA_TEMPERATURE].outside);
    tl_ranges_init(&r, &setup, false);
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);

    /* exactly 40 m/h is inside, 41 is not; nothing counts while the tower stands */
    s.tower_flow_m3_d = 0.25 * 24 * 40;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);
    s.tower_flow_m3_d = 0;
    s.tower_on = false;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);
    s.tower_flow_m3_d = 0.25 * 24 * 41;
    s.tower_on = true;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 1);
    near_rel(r.note[TL_RANGE_LOAD].value, 41, 1e-12);

    /* thin air and sea water */
    s.pressure_atm = 0.45;
    s.tank[TL_CL] = 25000;
    tl_ranges_add(&r, &s);
    assert_true(r.note[TL_RANGE_PRESSURE].outside);
    assert_true(r.note[TL_RANGE_SALINITY].outside);
}

/* What is outside of the wetting formula's pieces is said of a tower that trickles, and only of it. */
/* Oxygen far above saturation counts after an hour on end, with fish in. */
static bool supersaturated(double pct, double minutes, double gap_at, double fish_kg)
{
    struct tl_setup setup = {0};
    struct tl_ranges r;
    struct tl_snapshot s = {
        .temperature_degC = 20, .pressure_atm = 0.9, .tank_ph = 7.5, .fish_kg = fish_kg};
    const double full = tl_o2_saturation(20, 0, 0.9);
    tl_ranges_init(&r, &setup, true);
    for (double m = 0; m <= minutes; m += 5) {
        s.t_d = 3 + MINUTES(m);
        s.tank[TL_O2] = full * (m == gap_at ? 1 : pct / 100);
        tl_ranges_add(&r, &s);
    }
    const struct tl_range_note *n = &r.note[TL_RANGE_SUPERSATURATION];
    if (n->outside) {
        near_rel(n->value, pct, 1e-9);
        near(n->first_d, 3 + 1.0 / 24, MINUTES(0.1));
    }
    return n->outside;
}

static void test_supersaturation(void **state)
{
    (void)state;
    assert_true(supersaturated(150, 60, -1, 20));
    assert_true(supersaturated(325, 90, -1, 20));
    assert_false(supersaturated(146, 600, -1, 20));
    assert_false(supersaturated(150, 55, -1, 20));
    assert_false(supersaturated(150, 90, 45, 20));
    assert_false(supersaturated(325, 90, -1, 0));
    /* a tenth above the saturation of all gases (US EPA 1986), the others, 79.05 % of the air, at theirs */
    near(0.7905 + 0.2095 * TL_SUPERSATURATED_PCT / 100, 1.10, 0.005);
}

static void test_ranges_of_media(void **state)
{
    (void)state;
    /* netting of 50 mm: 200 x 0.05 = 10, the pieces of the formula's end at 7 */
    struct tl_setup setup = {.tower = {.plan_area_m2 = 0.25,
                                       .specific_surface_m2_m3 = 200,
                                       .media_size_m = 0.05,
                                       .void_fraction = 0.93}};
    struct tl_snapshot s = {.temperature_degC = 20, .pressure_atm = 1, .tank_ph = 7.5};
    struct tl_ranges r;

    tl_ranges_init(&r, &setup, true);
    tl_ranges_add(&r, &s); /* the tower stands */
    assert_int_equal(tl_ranges_outside(&r), 0);
    s.tower_flow_m3_d = 0.25 * 24 * 10;
    s.tower_on = true;
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 1);
    near_rel(r.note[TL_RANGE_MEDIA_SHAPE].value, 10, 1e-12);

    setup.tower.submerged = true;
    tl_ranges_init(&r, &setup, true);
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 0);

    /* sand of 1 mm: too small for the formula, and its voids hold the water */
    setup.tower.submerged = false;
    setup.tower.specific_surface_m2_m3 = 3600;
    setup.tower.media_size_m = 0.001;
    setup.tower.void_fraction = 0.4;
    tl_ranges_init(&r, &setup, true);
    tl_ranges_add(&r, &s);
    assert_int_equal(tl_ranges_outside(&r), 2);
    near_rel(r.note[TL_RANGE_MEDIA_SIZE].value, 1, 1e-12);
    assert_true(r.note[TL_RANGE_PONDING].outside);
}

/* 4 degC in the mixed loop are more in a tank that takes the new water alone. */
static void test_tank_takes_the_jump_alone(void **state)
{
    (void)state;
    struct tl_verdict v = judge_days(cold_and_hot, 1);
    const struct tl_limit_verdict *hour = &v.limit[TL_LIMIT_HOUR_CHANGE],
                                  *day = &v.limit[TL_LIMIT_DAY_CHANGE];
    tl_verdict_take_jump(&v, 1.9, 0.5, 1);
    assert_int_equal(hour->grade, TL_WITHIN);
    near(hour->worst, 1.9, 0);
    tl_verdict_take_jump(&v, 9, 2, 1); /* after the end */
    near(hour->worst, 1.9, 0);
    tl_verdict_take_jump(&v, 7.7, 0.5, 1);
    assert_int_equal(hour->grade, TL_DANGER);
    assert_int_equal(day->grade, TL_CAUTION);
    assert_int_equal(v.grade, TL_DANGER);
    near(hour->worst, 7.7, 0);
    near(hour->first_breach_d, 0.5, 0);
    near(hour->hours_danger, 1, 1e-12);
    near(day->hours_caution, 12, 1e-12);
    tl_verdict_take_jump(&v, 3, 0.25, 1); /* less than was seen */
    near(hour->worst, 7.7, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_water_is_within_limits),
        cmocka_unit_test(test_water_without_fish_is_not_judged),
        cmocka_unit_test(test_oxygen_dip_is_timed),
        cmocka_unit_test(test_short_burst_is_judged_by_the_hour),
        cmocka_unit_test(test_the_end_counts_by_the_time_there_is),
        cmocka_unit_test(test_fish_at_the_end_are_judged),
        cmocka_unit_test(test_salt_harms),
        cmocka_unit_test(test_cold_and_hot_water),
        cmocka_unit_test(test_change_of_temperature),
        cmocka_unit_test(test_tank_takes_the_jump_alone),
        cmocka_unit_test(test_change_across_midnight),
        cmocka_unit_test(test_change_after_long_rest),
        cmocka_unit_test(test_epa_criteria),
        cmocka_unit_test(test_long_term_mean_needs_its_window),
        cmocka_unit_test(test_criterion_that_moves),
        cmocka_unit_test(test_given_ammonia_limits),
        cmocka_unit_test(test_nitrite_and_chloride),
        cmocka_unit_test(test_swing_belongs_to_calendar_days),
        cmocka_unit_test(test_nitrate_by_the_day),
        cmocka_unit_test(test_sour_water),
        cmocka_unit_test(test_filter_ready),
        cmocka_unit_test(test_finer_samples_change_little),
        cmocka_unit_test(test_window_against_plain_sum),
        cmocka_unit_test(test_ranges),
        cmocka_unit_test(test_supersaturation),
        cmocka_unit_test(test_ranges_of_media),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
