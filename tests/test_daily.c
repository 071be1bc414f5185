/* The days of a run: what is least and most, chlorine over time, the ammonia of spring. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/daily.h"

#define HOUR (1.0 / 24)

static struct tl_snapshot sample(double t_d)
{
    struct tl_snapshot s = {.t_d = t_d, .temperature_degC = 20, .tank_ph = 7.5};
    s.tank[TL_O2] = 8;
    s.tank_co2_mol_m3 = 0.05;
    return s;
}

static void the_worst_day(void **state)
{
    struct tl_daily d;
    (void)state;
    tl_daily_init(&d);
    for (int h = 6; h <= 72; h++) {
        struct tl_snapshot s = sample(h * HOUR);
        s.tank_ph = 7.5 + 0.001 * h;
        if (h == 30)
            s.tank[TL_O2] = 5; /* at dawn of day 1 */
        if (h == 40)
            s.tank_co2_mol_m3 = 0.1;
        if (h == 10)
            s.tank[TL_O2] = 5.5;
        if (h == 50)
            s.tank[TL_O2] = 1; /* nobody is in then */
        tl_daily_add(&d, &s, h != 50);
    }
    tl_daily_finish(&d);
    near(d.worst.o2, 5, 0);
    near(d.worst.o2_d, 30 * HOUR, 1e-12);
    near(d.worst.co2_most, 4.401, 1e-9);
    near(d.worst.co2_most_d, 40 * HOUR, 1e-12);
    near(d.worst.co2_least, 2.2005, 1e-9);
    near(d.worst.ph_least, 7.524, 1e-12); /* from midnight to midnight */
    near(d.worst.ph_least_d, 1, 1e-12);
    near(d.worst.ph_most, 7.547, 1e-12);
    assert_true(isnan(d.chlorine) && isnan(d.spring_tan));
}

static void a_tank_nobody_is_in(void **state)
{
    struct tl_daily d;
    (void)state;
    tl_daily_init(&d);
    for (int h = 0; h < 48; h++) {
        const struct tl_snapshot s = sample(h * HOUR);
        tl_daily_add(&d, &s, false);
    }
    tl_daily_finish(&d);
    assert_true(isnan(d.worst.o2) && isnan(d.worst.co2_most) && isnan(d.worst.ph_least));
}

static void most_chlorine(void **state)
{
    struct tl_daily d;
    (void)state;
    tl_daily_init(&d);
    for (int h = 0; h <= 24; h++) {
        struct tl_snapshot s = sample(h * HOUR);
        s.tank[TL_HOCL] = h >= 6 && h <= 10 ? 0.2 * (10 - h) : h == 20 ? -1e-12 : 0;
        tl_daily_add(&d, &s, true);
    }
    tl_daily_finish(&d);
    near(d.chlorine, 0.8, 1e-12);
    near(d.chlorine_d, 6 * HOUR, 1e-12);
}

/* A year of days: coldest on day 30, warmest on day 210. */
static void spring(double swing, double from_d, struct tl_daily *d)
{
    tl_daily_init(d);
    for (int day = (int)from_d; day < (int)from_d + 400; day++)
        for (int part = 0; part < 4; part++) {
            struct tl_snapshot s = sample(day + 0.25 * part);
            s.temperature_degC = 14 - swing * cos(2 * M_PI * (day - 30) / 365.25);
            s.tank[TL_TAN] = 0.2;
            if (day == 10 || day == 375)
                s.tank[TL_TAN] = 2; /* before the coldest day */
            if (day == 100 && part == 1)
                s.tank[TL_TAN] = 0.9;
            if (day == 150)
                s.tank[TL_TAN] = 0.7;
            if (day == 260)
                s.tank[TL_TAN] = 3; /* after the warmest */
            tl_daily_add(d, &s, true);
        }
    tl_daily_finish(d);
}

static void ammonia_in_spring(void **state)
{
    struct tl_daily d;
    (void)state;
    spring(9, 0, &d);
    near(d.spring_tan, 0.9, 0);
    near(d.spring_d, 100.25, 0);
    near(d.spring_degC, 14 - 9 * cos(2 * M_PI * 70 / 365.25), 1e-9);
    spring(3, 0, &d); /* too little warming to be one */
    assert_true(isnan(d.spring_tan) && isnan(d.spring_d) && isnan(d.spring_degC));
    /* begun in autumn: all that lies before the coldest day is forgotten */
    spring(9, -150, &d);
    near(d.spring_tan, 0.9, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_worst_day),
        cmocka_unit_test(a_tank_nobody_is_in),
        cmocka_unit_test(most_chlorine),
        cmocka_unit_test(ammonia_in_spring),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
