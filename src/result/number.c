/* Writes a double with six significant digits. */
#include "number.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "text.h"

#define DIGITS       6
#define DIGITS_LIMIT 1000000u /* 10^DIGITS */
/* The scaled value is below 10^DIGITS and at most three roundings away from the exact one, that is
 * 4e-10; nearer than this to a tie, its rounding is left to printf. */
#define DOUBT 1e-8

/* 10^k: exact up to 10^15, beyond that to one unit in the last place. */
static double power_of_ten(int k)
{
    static const double small[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                   1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    return k >= 0 && k < 16 ? small[k] : pow(10.0, k);
}

static double scale(double value, int k)
{
    if (k >= 0)
        return k > 300 ? value * 1e300 * power_of_ten(k - 300) : value * power_of_ten(k);
    return value / power_of_ten(-k);
}

/* `value` (> 0) as `*digits` x 10^(*exponent - DIGITS + 1), `*digits` having exactly six digits. False
 * when it lies so near to half-way between two of them that the rounding is in doubt. */
static bool split(double value, unsigned *digits, int *exponent)
{
    int binary;
    frexp(value, &binary);
    *exponent = (int)floor((binary - 1) * 0.30102999566398120);
    double scaled = scale(value, DIGITS - 1 - *exponent);
    if (scaled >= DIGITS_LIMIT) { /* the estimate is low by at most one */
        ++*exponent;
        scaled = scale(value, DIGITS - 1 - *exponent);
    }
    unsigned n = (unsigned)scaled;
    const double above_half = scaled - n - 0.5;
    n += above_half > 0;
    if (n >= DIGITS_LIMIT) {
        n /= 10;
        ++*exponent;
    }
    *digits = n;
    return fabs(above_half) > DOUBT;
}

size_t tl_number_write(char *text, double value)
{
    char *p = text;
    if (!isfinite(value)) {
        *p = '\0';
        return 0;
    }
    if (value == 0) {
        strcpy(p, "0");
        return 1;
    }
    unsigned n;
    int exponent;
    if (!split(fabs(value), &n, &exponent)) {
        int length = tl_format(text, TL_NUMBER_SIZE, "%.*g", DIGITS, value);
        if (length > 0)
            return (size_t)length;
    }
    if (value < 0)
        *p++ = '-';

    char digit[DIGITS];
    int last = 0; /* last digit that is not a trailing zero */
    for (int i = DIGITS - 1; i >= 0; i--) {
        digit[i] = (char)('0' + n % 10);
        n /= 10;
        if (last == 0 && digit[i] != '0')
            last = i;
    }

    if (exponent < -4 || exponent >= DIGITS) { /* 1.23457e-05 */
        *p++ = digit[0];
        if (last > 0)
            *p++ = '.';
        for (int i = 1; i <= last; i++)
            *p++ = digit[i];
        *p++ = 'e';
        *p++ = exponent < 0 ? '-' : '+';
        int e = exponent < 0 ? -exponent : exponent;
        if (e >= 100)
            *p++ = (char)('0' + e / 100);
        *p++ = (char)('0' + e / 10 % 10);
        *p++ = (char)('0' + e % 10);
    } else if (exponent < 0) { /* 0.0123457 */
        *p++ = '0';
        *p++ = '.';
        for (int i = -1; i > exponent; i--)
            *p++ = '0';
        for (int i = 0; i <= last; i++)
            *p++ = digit[i];
    } else { /* 123.457 */
        for (int i = 0; i <= exponent; i++)
            *p++ = digit[i];
        if (last > exponent)
            *p++ = '.';
        for (int i = exponent + 1; i <= last; i++)
            *p++ = digit[i];
    }
    *p = '\0';
    return (size_t)(p - text);
}
