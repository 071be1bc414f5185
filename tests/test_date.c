/* The calendar, against days of the week and day counts known from outside. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "date.h"

/* Julian day numbers of noon: 1858-11-17 is 2400001 - 1 (modified Julian day 0), 2000-01-01 is
 * 2451545 (the epoch J2000.0, IAU 1976); 1970-01-01 is 2440588. */
static void day_numbers(void **state)
{
    (void)state;
    assert_int_equal(tl_day_number(1970, 1, 1), 0);
    assert_int_equal(tl_day_number(2000, 1, 1), 2451545 - 2440588);
    assert_int_equal(tl_day_number(1858, 11, 17), 2400001 - 2440588);
    /* 400 Gregorian years are 146097 days */
    assert_int_equal(tl_day_number(2200, 3, 1) - tl_day_number(1800, 3, 1), 146097);
}

static void leap_years(void **state)
{
    (void)state;
    assert_true(tl_day_exists(2028, 2, 29));
    assert_false(tl_day_exists(2027, 2, 29));
    assert_true(tl_day_exists(2000, 2, 29));
    assert_false(tl_day_exists(2100, 2, 29));
    assert_false(tl_day_exists(2027, 4, 31));
    assert_false(tl_day_exists(2027, 13, 1));
    assert_false(tl_day_exists(2027, 0, 1));
    assert_false(tl_day_exists(2027, 1, 0));
}

static void there_and_back(void **state)
{
    const struct tl_date start = {1900, 1, 1, 0};
    int day = 0;
    int month = 1;
    int year = 1900;
    (void)state;
    /* count every day of three centuries by hand */
    for (int t = 0; t < 109938; t++) {
        static const int length[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
        int leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
        if (++day > length[month - 1] + (month == 2 && leap)) {
            day = 1;
            if (++month > 12) {
                month = 1;
                year++;
            }
        }
        struct tl_date d = tl_date_at(&start, t + 0.5);
        assert_true(d.year == year && d.month == month && d.day == day && d.second == 43200);
    }
    assert_int_equal(year, 2200);
}

static void times_of_a_run(void **state)
{
    const struct tl_date start = {2027, 5, 1, 6 * 3600};
    char text[32];
    (void)state;
    struct tl_date d = tl_date_at(&start, 0.25);
    tl_date_iso(&d, text, sizeof text);
    assert_string_equal(text, "2027-05-01T06:00:00");
    d = tl_date_at(&start, 20 + 14.0 / 24);
    tl_date_iso(&d, text, sizeof text);
    assert_string_equal(text, "2027-05-21T14:00:00");
    d = tl_date_at(&start, 30.999999); /* rounds to the second, over midnight */
    tl_date_iso(&d, text, sizeof text);
    assert_string_equal(text, "2027-06-01T00:00:00");
    d = tl_date_at(&start, -0.5);
    tl_date_iso(&d, text, sizeof text);
    assert_string_equal(text, "2027-04-30T12:00:00");
    d = tl_date_at(&start, 245);
    tl_date_iso(&d, text, sizeof text);
    assert_string_equal(text, "2028-01-01T00:00:00");
    assert_true(tl_days_since(&start, &d) == 245);
}

static void texts(void **state)
{
    static const char *const bad[] = {"",
                                      "2027",
                                      "2027-05",
                                      "2027-05-32",
                                      "2027-02-29",
                                      "27-05-01",
                                      "2027/05/01",
                                      "1899-12-31",
                                      "2201-01-01",
                                      "2027-05-01 6:0",
                                      "2027-05-01 24:00",
                                      "2027-05-01 06:60",
                                      "2027-05-01 06:00:60",
                                      "2027-05-01T06:00Z",
                                      "2027-05-01  06:00",
                                      "2027-05-01 06",
                                      "2027-05-01T",
                                      "2027-05-0a"};
    struct tl_date d;
    int second;
    (void)state;
    assert_true(tl_date_parse("2027-05-01", &d));
    assert_true(d.year == 2027 && d.month == 5 && d.day == 1 && d.second == 0);
    assert_true(tl_date_parse("2028-02-29 23:59:59", &d));
    assert_true(d.month == 2 && d.day == 29 && d.second == 86399);
    assert_true(tl_date_parse("2027-05-01 6:00", &d));
    assert_int_equal(d.second, 6 * 3600);
    assert_true(tl_date_parse("2027-05-01T06:30", &d));
    assert_int_equal(d.second, 6 * 3600 + 1800);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(tl_date_parse(bad[i], &d));
    assert_true(tl_clock_parse("08:05", &second));
    assert_int_equal(second, 8 * 3600 + 300);
    assert_true(tl_clock_parse("8:05", &second));
    assert_int_equal(second, 8 * 3600 + 5 * 60);
    assert_true(tl_clock_parse("7:05:09", &second));
    assert_int_equal(second, 7 * 3600 + 5 * 60 + 9);
    assert_false(tl_clock_parse(":05", &second));
    assert_false(tl_clock_parse("8:5", &second));
    assert_false(tl_clock_parse("8", &second));
    assert_false(tl_clock_parse("008:05", &second));
    assert_false(tl_clock_parse("x:05", &second));
    assert_false(tl_clock_parse("8:05:9", &second));
    assert_false(tl_clock_parse("08:05 ", &second));
    assert_false(tl_clock_parse("-8:05", &second));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(day_numbers),    cmocka_unit_test(leap_years),
        cmocka_unit_test(there_and_back), cmocka_unit_test(times_of_a_run),
        cmocka_unit_test(texts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
