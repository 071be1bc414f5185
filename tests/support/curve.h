/* Curves through readings, for least squares: NIST's Statistical Reference Datasets and others. */
#ifndef TOWERLOOP_TESTS_CURVE_H
#define TOWERLOOP_TESTS_CURVE_H

#include <stddef.h>

#include "outside/data.h"

enum { CURVE_READINGS = 64 };

struct curve {
    double (*y)(const double *b, double x);
    size_t axes, readings;
    double x[CURVE_READINGS], seen[CURVE_READINGS];
};

/* The number in a cell of a data file. */
double data_number(const struct data_file *d, size_t row, const char *column);

/* Adds the readings of a set of strd_readings.csv; fails the running test when there is no room. */
void curve_read(struct curve *c, const char *name);

/* For tl_squares_problem: `arg` is a struct curve. */
int curve_residuals(void *arg, size_t points, const double *x, double *r);

/* A straight line of x[0] + x[1] * i through LINE readings; `arg` is a struct line. */
enum { LINE = 12 };

struct line {
    double y[LINE];
};

int line_residuals(void *arg, size_t points, const double *x, double *r);

double curve_boxbod(const double *b, double x);
double curve_rat42(const double *b, double x);

#endif
