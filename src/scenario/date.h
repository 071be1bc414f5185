/* Dates and clock times as texts and as day counts. */
#ifndef TL_SCENARIO_DATE_H
#define TL_SCENARIO_DATE_H

#include <stdbool.h>

#include "towerloop/scenario.h"

#define TL_SECONDS_A_DAY 86400
#define TL_DATE_EXPECTED "a date as 2027-05-01 or 2027-05-01 06:00, in the years 1900 to 2200"

/* What these texts look like, as regular expressions (ECMA-262); which days a month has is left out. */
#define TL_CLOCK_SHAPE     "(?:[01]?[0-9]|2[0-3]):[0-5][0-9](?::[0-5][0-9])?"
#define TL_MONTH_DAY_SHAPE "(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])"
#define TL_CLOCK_PATTERN   "^" TL_CLOCK_SHAPE "$"
#define TL_DATE_PATTERN                                                                            \
    "^(?:19[0-9]{2}|2[01][0-9]{2}|2200)-" TL_MONTH_DAY_SHAPE "(?:[ T]" TL_CLOCK_SHAPE ")?$"
#define TL_DAY_OF_YEAR_PATTERN "^" TL_MONTH_DAY_SHAPE "$"

/* Days since 1970-01-01 of a day in the Gregorian calendar. */
long tl_day_number(int year, int month, int day);
bool tl_day_exists(int year, int month, int day);
/* "2027-05-01", "2027-05-01 06:00", "2027-05-01T06:00:30". */
bool tl_date_parse(const char *text, struct tl_date *out);
/* "08:00", "8:00" or "08:00:30", the whole text. */
bool tl_clock_parse(const char *text, int *second);
/* Two digits at `s`, or -1. */
int tl_two_digits(const char *s);
/* Days from 00:00 of `start`'s day to `d`. */
double tl_days_since(const struct tl_date *start, const struct tl_date *d);

#endif
