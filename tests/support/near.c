#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

void near_at(double value, double expected, double tolerance, const char *what, const char *file,
             int line)
{
    /* written so that a NaN fails */
    if (!(fabs(value - expected) <= tolerance)) {
        print_error("%s = %.12g, expected %.12g within %.3g (off by %.3g)\n", what, value, expected,
                    tolerance, value - expected);
        _fail(file, line);
    }
}

void near_rel_at(double value, double expected, double tolerance, const char *what,
                 const char *file, int line)
{
    near_at(value, expected, tolerance * fabs(expected), what, file, line);
}
