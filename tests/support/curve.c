#include "curve.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "towerloop/status.h"

double data_number(const struct data_file *d, size_t row, const char *column)
{
    return strtod(d->cell[row][data_column(d, column)], NULL);
}

void curve_read(struct curve *c, const char *name)
{
    struct data_file d;
    assert_int_equal(data_read(DATA_DIR, "strd_readings.csv", &d), 0);
    for (size_t i = 0; i < d.rows; i++)
        if (strcmp(d.cell[i][0], name) == 0) {
            assert_true(c->readings < CURVE_READINGS);
            c->x[c->readings] = data_number(&d, i, "x");
            c->seen[c->readings++] = data_number(&d, i, "y");
        }
    data_free(&d);
}

int curve_residuals(void *arg, size_t points, const double *x, double *r)
{
    const struct curve *c = arg;
    for (size_t k = 0; k < points; k++)
        for (size_t i = 0; i < c->readings; i++)
            r[k * c->readings + i] = c->y(&x[k * c->axes], c->x[i]) - c->seen[i];
    return TL_OK;
}

int line_residuals(void *arg, size_t points, const double *x, double *r)
{
    const struct line *l = arg;
    for (size_t k = 0; k < points; k++)
        for (size_t i = 0; i < LINE; i++)
            r[k * LINE + i] = x[2 * k] + x[2 * k + 1] * (double)i - l->y[i];
    return TL_OK;
}

double curve_boxbod(const double *b, double x)
{
    return b[0] * (1 - exp(-b[1] * x));
}

double curve_rat42(const double *b, double x)
{
    return b[0] / (1 + exp(b[1] - b[2] * x));
}
