/* The arithmetic of a chart's layout. */
#include "layout.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

double tl_nice_step(double span, double most)
{
    double raw = span / most;
    double power = pow(10, floor(log10(raw)));
    double m = raw / power;

    return power * (m <= 1 + 1e-9 ? 1 : m <= 2 + 1e-9 ? 2 : m <= 5 + 1e-9 ? 5 : 10);
}

/* --- the calendar -------------------------------------------------------------------------- */

/* Days since 1 March of year 0 (proleptic Gregorian): leap days come last in such years. */
static long day_number(int year, int month, int day)
{
    long y = month > 2 ? year : year - 1, m = (month + 9) % 12;
    return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1;
}

static struct tl_calendar from_day_number(long n)
{
    long y = (10000 * n + 14780) / 3652425, rest;

    for (;; y--) {
        rest = n - (365 * y + y / 4 - y / 100 + y / 400);
        if (rest >= 0)
            break;
    }
    long m = (100 * rest + 52) / 3060;
    return (struct tl_calendar){(int)(y + (m + 2) / 12), (int)((m + 2) % 12 + 1),
                                (int)(rest - (306 * m + 5) / 10 + 1)};
}

struct tl_calendar tl_calendar_at(const struct tl_calendar *start, long days)
{
    return from_day_number(day_number(start->year, start->month, start->day) + days);
}

static const char *const month_name[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

static void put_date(char *text, size_t size, const struct tl_calendar *c, bool with_year)
{
    const char *month = month_name[(c->month - 1) % 12];

    if (with_year)
        snprintf(text, size, "%d %s %d", c->day, month, c->year);
    else
        snprintf(text, size, "%d %s", c->day, month);
}

/* From here on people reckon in months. */
#define MONTHS_FROM_D 120

/* --- ticks --------------------------------------------------------------------------------- */

static size_t month_ticks(const struct tl_calendar *start, double from_d, double to_d, double most,
                          struct tl_tick *out)
{
    static const int steps[] = {1, 2, 3, 6, 12, 24, 60, 120};
    const long origin = day_number(start->year, start->month, start->day);
    size_t n = 0, s = 0;
    int year = 0;

    while (s + 1 < sizeof steps / sizeof *steps && (to_d - from_d) / 30.44 / steps[s] > most)
        s++;
    struct tl_calendar c = tl_calendar_at(start, (long)floor(from_d));
    for (long m = c.year * 12L / steps[s] * steps[s]; n < TL_TICKS; m += steps[s]) {
        c = (struct tl_calendar){(int)(m / 12), (int)(m % 12) + 1, 1};
        long day = day_number(c.year, c.month, 1) - origin;
        if ((double)day > to_d)
            break;
        if ((double)day < from_d)
            continue;
        out[n].t_d = (double)day;
        snprintf(out[n].clock, sizeof out[n].clock, "day %ld", day);
        if (steps[s] >= 6)
            snprintf(out[n].date, sizeof out[n].date, "%s %d", month_name[c.month - 1], c.year);
        else
            put_date(out[n].date, sizeof out[n].date, &c, c.year != year);
        year = c.year;
        n++;
    }
    return n;
}

static size_t day_ticks(const struct tl_calendar *start, double from_d, double to_d, double most,
                        struct tl_tick *out)
{
    long step = lround(fmax(1, tl_nice_step(to_d - from_d, most)));
    long day = (long)ceil(from_d / (double)step - 1e-9) * step;
    size_t n = 0;
    int year = 0;

    for (; (double)day <= to_d + 1e-9 && n < TL_TICKS; day += step) {
        struct tl_calendar c = tl_calendar_at(start, day);
        out[n].t_d = (double)day;
        snprintf(out[n].clock, sizeof out[n].clock, "day %ld", day);
        put_date(out[n].date, sizeof out[n].date, &c, c.year != year);
        n++;
        year = c.year;
    }
    return n;
}

/* Times of row are rounded to the microday, so the last tick may lie that far beyond. */
#define LATE_D 2e-6

static size_t clock_ticks(const struct tl_calendar *start, double from_d, double to_d, int step_min,
                          struct tl_tick *out)
{
    long minute = (long)ceil((from_d - LATE_D) * 1440 / step_min) * step_min;
    size_t n = 0;
    int year = 0;

    for (; (double)minute / 1440 <= to_d + LATE_D && n < TL_TICKS; minute += step_min) {
        const long day = minute / 1440;
        const bool midnight = minute % 1440 == 0;
        out[n].t_d = fmin(fmax((double)minute / 1440, from_d), to_d);
        snprintf(out[n].clock, sizeof out[n].clock, "%02ld:%02ld", minute / 60 % 24, minute % 60);
        out[n].date[0] = '\0';
        if (n == 0 || midnight) {
            struct tl_calendar c = tl_calendar_at(start, day);
            char date[24];
            /* the first one stands at the edge, without room for the year */
            put_date(date, sizeof date, &c, n > 0 && c.year != year);
            snprintf(out[n].date, sizeof out[n].date, "day %ld, %s", day, date);
            year = n > 0 ? c.year : 0;
        }
        if (n == 1 && midnight) /* the first tick's date would run into this one */
            out[0].date[0] = '\0';
        n++;
    }
    return n;
}

size_t tl_time_ticks(const struct tl_calendar *start, double from_d, double to_d, double width_px,
                     struct tl_tick out[TL_TICKS])
{
    static const int minutes[] = {5, 10, 15, 30, 60, 120, 180, 360, 720};
    double span = to_d - from_d, most = floor(width_px / 90);

    for (size_t i = 0; i < sizeof minutes / sizeof *minutes; i++)
        if (span * 1440 / minutes[i] <= most * 1.1)
            return clock_ticks(start, from_d, to_d, minutes[i], out);
    return span < MONTHS_FROM_D ? day_ticks(start, from_d, to_d, most, out)
                                : month_ticks(start, from_d, to_d, floor(width_px / 80), out);
}

/* --- words --------------------------------------------------------------------------------- */

/* Least squares under "rising by at least gap": pool neighbours that violate it (isotonic
 * regression of position[i] - i*gap). */
void tl_spread(double *position, size_t n, double gap, double low, double high)
{
    for (size_t i = 0; i < n; i++)
        position[i] -= (double)i * gap;
    for (size_t i = 1; i < n; i++) {
        /* the block that ends at i swallows blocks below until it lies no lower than them */
        double sum = position[i];
        size_t from = i;
        while (from > 0 && position[from - 1] > sum / (double)(i - from + 1))
            sum += position[--from];
        for (size_t k = from; k <= i; k++)
            position[k] = sum / (double)(i - from + 1);
    }
    double top = n ? high - (double)(n - 1) * gap : high;
    for (size_t i = 0; i < n; i++) {
        position[i] = fmax(low, fmin(top, position[i]));
        position[i] += (double)i * gap;
    }
}

static double text_from(const struct tl_word *w)
{
    return w->to_the_left ? w->x - w->width : w->x + 1;
}

static double text_to(const struct tl_word *w)
{
    return w->to_the_left ? w->x - 1 : w->x + w->width;
}

static bool clash(const struct tl_word *a, const struct tl_word *b)
{
    if (a->row == b->row)
        return text_from(a) <= text_to(b) && text_from(b) <= text_to(a);
    /* the higher one's line passes the lower one's text */
    const struct tl_word *high = a->row > b->row ? a : b, *low = high == a ? b : a;
    return high->x >= text_from(low) && high->x <= text_to(low);
}

int tl_place_words(struct tl_word *word, size_t n, int rows, double left_px, double right_px)
{
    int used = 0;

    for (size_t i = n; i-- > 0;) { /* from the right: what lies left of a line must go higher */
        struct tl_word *w = &word[i];
        const bool must_turn = w->x + w->width > right_px;
        bool placed = false;
        for (int side = 0; side < 2 && !placed; side++)
            for (int k = 0; k < rows && !placed; k++) {
                w->to_the_left = side;
                /* one that turns left for want of room goes high, to leave the rows below it to the
                 * lines that come next */
                w->row = side && !must_turn ? rows - 1 - k : k;
                placed = side ? text_from(w) >= left_px : text_to(w) <= right_px;
                for (size_t other = i + 1; other < n && placed; other++)
                    placed = word[other].row < 0 || !clash(w, &word[other]);
            }
        if (!placed)
            w->row = -1;
        else if (w->row >= used)
            used = w->row + 1;
    }
    return used;
}
