/* The Gregorian calendar in local standard time: dates to day numbers and back, and their texts. */
#include "date.h"

#include <math.h>
#include <string.h>

#include "text.h"

/* Days in the 400 years after which the calendar repeats, and from 0000-03-01 to 1970-01-01. */
#define ERA_DAYS 146097
#define EPOCH    719468

/* Years are counted from March, so that a leap day is the last of its year: month m of that count
 * (0 = March) begins (153 m + 2) / 5 days into it. */
long tl_day_number(int year, int month, int day)
{
    long y = month > 2 ? year : year - 1;
    long m = month > 2 ? month - 3 : month + 9;
    long era = (y >= 0 ? y : y - 399) / 400;
    long of_era = y - 400 * era;
    long of_year = (153 * m + 2) / 5 + day - 1;
    return era * ERA_DAYS + of_era * 365 + of_era / 4 - of_era / 100 + of_year - EPOCH;
}

static void from_day_number(long number, struct tl_date *out)
{
    number += EPOCH;
    long era = (number >= 0 ? number : number - ERA_DAYS + 1) / ERA_DAYS;
    long left = number - era * ERA_DAYS;
    /* take out the leap days: they follow 1460, 36524 and 146096 days of 4, 100 and 400 years */
    long y = (left - left / 1460 + left / 36524 - left / 146096) / 365;
    long of_year = left - (365 * y + y / 4 - y / 100);
    long m = (5 * of_year + 2) / 153;
    out->day = (int)(of_year - (153 * m + 2) / 5) + 1;
    out->month = (int)(m < 10 ? m + 3 : m - 9);
    out->year = (int)(y + 400 * era) + (out->month <= 2);
}

bool tl_day_exists(int year, int month, int day)
{
    if (month < 1 || month > 12 || day < 1)
        return false;
    long next = month < 12 ? tl_day_number(year, month + 1, 1) : tl_day_number(year + 1, 1, 1);
    return day <= next - tl_day_number(year, month, 1);
}

int tl_two_digits(const char *s)
{
    if (s[0] < '0' || s[0] > '9' || s[1] < '0' || s[1] > '9')
        return -1;
    return (s[0] - '0') * 10 + (s[1] - '0');
}

bool tl_clock_parse(const char *text, int *second)
{
    const char *colon = strchr(text, ':');
    if (colon != text + 1 && colon != text + 2)
        return false;
    size_t rest = strlen(colon);
    if (rest != 3 && (rest != 6 || colon[3] != ':'))
        return false;
    int h = colon == text + 2              ? tl_two_digits(text)
            : *text >= '0' && *text <= '9' ? *text - '0'
                                           : -1;
    int m = tl_two_digits(colon + 1);
    int s = rest == 6 ? tl_two_digits(colon + 4) : 0;
    if (h < 0 || h > 23 || m < 0 || m > 59 || s < 0 || s > 59)
        return false;
    *second = (h * 60 + m) * 60 + s;
    return true;
}

bool tl_date_parse(const char *text, struct tl_date *out)
{
    if (strlen(text) < 10 || text[4] != '-' || text[7] != '-')
        return false;
    int century = tl_two_digits(text);
    int rest = tl_two_digits(text + 2);
    struct tl_date d = {.month = tl_two_digits(text + 5), .day = tl_two_digits(text + 8)};
    if (century < 0 || rest < 0)
        return false;
    d.year = century * 100 + rest;
    if (d.year < 1900 || d.year > 2200 || !tl_day_exists(d.year, d.month, d.day))
        return false;
    if (text[10] != '\0' &&
        ((text[10] != ' ' && text[10] != 'T') || !tl_clock_parse(text + 11, &d.second)))
        return false;
    *out = d;
    return true;
}

double tl_days_since(const struct tl_date *start, const struct tl_date *d)
{
    long days = tl_day_number(d->year, d->month, d->day) -
                tl_day_number(start->year, start->month, start->day);
    return (double)days + (double)d->second / TL_SECONDS_A_DAY;
}

struct tl_date tl_date_at(const struct tl_date *start, double t_d)
{
    struct tl_date d;
    double seconds = round(t_d * TL_SECONDS_A_DAY);
    double days = floor(seconds / TL_SECONDS_A_DAY);
    from_day_number(tl_day_number(start->year, start->month, start->day) + (long)days, &d);
    d.second = (int)(seconds - days * TL_SECONDS_A_DAY);
    return d;
}

void tl_date_iso(const struct tl_date *d, char *text, size_t size)
{
    tl_format(text, size, "%04d-%02d-%02dT%02d:%02d:%02d", d->year, d->month, d->day,
              d->second / 3600, d->second / 60 % 60, d->second % 60);
}
