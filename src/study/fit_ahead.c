/* The model beyond the last reading, and its whole course for a chart. */
#include <math.h>
#include <stdlib.h>

#include "fit_reading.h"
#include "fit_runs.h"
#include "towerloop/status.h"

enum { MOMENTS = 8 }; /* of a forecast */
#define NUDGE    0.5  /* of a standard error: the differences of a forecast */
#define QUANTILE 1.645

size_t tl_fit_pairs(const struct tl_fit *f, struct tl_measured *pair)
{
    size_t n = 0;
    for (int place = 0; place < TL_NPLACE; place++)
        for (int quantity = 0; quantity < TL_NMEASURED; quantity++)
            for (size_t i = 0; i < f->log->rows; i++) {
                const struct tl_measured *m = &f->log->row[i];
                if ((int)m->place == place && (int)m->quantity == quantity &&
                    f->point[i].use <= TL_FIT_HELD) {
                    pair[n++] = *m;
                    break;
                }
            }
    return n;
}

static int by_time(const void *a, const void *b)
{
    const double x = ((const struct tl_measured *)a)->t_d, y = ((const struct tl_measured *)b)->t_d;
    return (x > y) - (x < y);
}

static void list_fitted(const struct tl_fit *f, const struct tl_fit_quantity **q)
{
    for (size_t j = 0; j < f->n; j++)
        q[j] = &f->quantity[f->fitted[j]];
}

/* --- beyond the last reading -------------------------------------------------------------------- */

/* x: the estimates, then two places for each of them, a little lower and a little higher. */
static void place_around(const struct tl_fit *f, double *x)
{
    for (size_t k = 0; k <= 2 * f->n; k++)
        for (size_t j = 0; j < f->n; j++) {
            const struct tl_squares_axis *range = &f->quantity[f->fitted[j]].range;
            const double by = NUDGE * f->result.error[j];
            const double to = f->result.x[j] + (k == 2 * j + 1 ? -by : k == 2 * j + 2 ? by : 0);
            x[k * f->n + j] = fmin(fmax(to, range->low), range->high);
        }
}

/* The standard error of value[0][i] that the parameters leave. */
static double left_open(const struct tl_fit *f, const double *x, const double *value, size_t rows,
                        size_t i)
{
    double slope[TL_SQUARES_MOST], variance = 0;
    for (size_t j = 0; j < f->n; j++) {
        const size_t low = 2 * j + 1, high = 2 * j + 2;
        const double across = x[high * f->n + j] - x[low * f->n + j];
        slope[j] = across > 0 ? (value[high * rows + i] - value[low * rows + i]) / across *
                                    f->result.error[j]
                              : 0;
    }
    for (size_t j = 0; j < f->n; j++)
        for (size_t k = 0; k < f->n; k++)
            variance += slope[j] * slope[k] * f->result.correlation[j][k];
    return sqrt(fmax(0, variance));
}

/* The standard error of a reading like `m` that shows `value`, as readings of this log were off. */
static double error_at(const struct tl_fit *f, const struct tl_measured *m, double value)
{
    struct tl_measured as = *m;
    as.kind = TL_MEASURED_AT;
    as.low = as.high = value;
    return tl_fit_error(&as) * (f->n > 0 ? sqrt(f->result.scale) : 1);
}

static int by_pair(const void *a, const void *b)
{
    const struct tl_fit_forecast *x = a, *y = b;
    const int place = (int)x->place - (int)y->place;
    const int quantity = (int)x->quantity - (int)y->quantity;
    return place != 0 ? place : quantity != 0 ? quantity : (x->t_d > y->t_d) - (x->t_d < y->t_d);
}

int tl_fit_look_ahead(const struct tl_fit_bench *b, const struct tl_scenario *s, struct tl_fit *f)
{
    const struct tl_fit_quantity *q[TL_SQUARES_MOST];
    struct tl_measured row[TL_NMEASURED * TL_NPLACE * MOMENTS];
    struct tl_measured pair[TL_NMEASURED * TL_NPLACE];
    const size_t pairs = tl_fit_pairs(f, pair), rows = pairs * MOMENTS;
    const size_t points = 2 * f->n + 1;
    double *x = calloc(points * (f->n + 1), sizeof *x);
    double *value = calloc(points * rows + 1, sizeof *value);
    double last_d = 0;
    int status = TL_E_MEMORY;

    f->forecast = calloc(rows + 1, sizeof *f->forecast);
    if (!x || !value || !f->forecast)
        goto done;
    for (size_t i = 0; i < f->log->rows; i++)
        if (f->point[i].use <= TL_FIT_HELD)
            last_d = f->log->row[i].t_d;
    for (size_t i = 0; i < rows; i++) {
        row[i] = pair[i / MOMENTS];
        row[i].t_d = last_d + f->question.forecast_d * (double)(i % MOMENTS + 1) / MOMENTS;
    }
    qsort(row, rows, sizeof *row, by_time);
    list_fitted(f, q);
    place_around(f, x);
    const double end_d = last_d + f->question.forecast_d;
    const double run_ends_d = s->start.second / 86400.0 + s->setup.length_d;
    struct tl_fit_runs r = {
        .bench = b,
        .quantity = q,
        .n = f->n,
        .row = row,
        .rows = rows,
        .length_d = end_d < run_ends_d ? 0 : ceil(end_d + 1 - s->start.second / 86400.0)};
    status = tl_fit_run(&r, points, x, value);
    f->runs += r.runs;
    for (size_t i = 0; i < rows && !status; i++) {
        const double open = left_open(f, x, value, rows, i), error = error_at(f, &row[i], value[i]);
        const double known = f->n > 0 ? QUANTILE * open : NAN;
        const double seen = QUANTILE * hypot(open, error),
                     least = tl_measured_row(row[i].quantity)->least;
        f->forecast[f->forecasts++] =
            (struct tl_fit_forecast){.quantity = row[i].quantity,
                                     .place = row[i].place,
                                     .t_d = row[i].t_d,
                                     .value = value[i],
                                     .low = value[i] - known,
                                     .high = value[i] + known,
                                     .read_low = fmax(value[i] - seen, least),
                                     .read_high = value[i] + seen};
    }
    qsort(f->forecast, f->forecasts, sizeof *f->forecast, by_pair);
done:
    free(x);
    free(value);
    return status;
}

/* --- for a chart -------------------------------------------------------------------------------- */

/* Values of one run at the rows into `before` or `after`. */
static int run_once(const struct tl_fit_bench *b, const struct tl_fit *f, bool fitted,
                    const struct tl_measured *row, size_t rows, double *value)
{
    const struct tl_fit_quantity *q[TL_SQUARES_MOST];
    list_fitted(f, q);
    struct tl_fit_runs r = {
        .bench = b, .quantity = q, .n = fitted ? f->n : 0, .row = row, .rows = rows};
    return tl_fit_run(&r, 1, f->result.x, value);
}

static int by_curve(const void *a, const void *b)
{
    const struct tl_fit_curve *x = a, *y = b;
    const int place = (int)x->place - (int)y->place;
    const int quantity = (int)x->quantity - (int)y->quantity;
    return place != 0 ? place : quantity != 0 ? quantity : (x->t_d > y->t_d) - (x->t_d < y->t_d);
}

int tl_fit_curves(const struct tl_fit_bench *b, const struct tl_fit *f, double from_d, double to_d,
                  double step_d, struct tl_fit_curve **curve, size_t *curves)
{
    struct tl_measured pair[TL_NMEASURED * TL_NPLACE];
    const size_t pairs = tl_fit_pairs(f, pair);
    const size_t moments = (size_t)((to_d - from_d) / step_d) + 1, rows = pairs * moments;
    struct tl_measured *row = calloc(rows + 1, sizeof *row);
    double *before = calloc(rows + 1, sizeof *before), *after = calloc(rows + 1, sizeof *after);
    int status = TL_E_MEMORY;

    *curve = calloc(rows + 1, sizeof **curve);
    *curves = 0;
    if (!row || !before || !after || !*curve)
        goto done;
    for (size_t i = 0; i < rows; i++) {
        const size_t moment = i / pairs;
        row[i] = pair[i % pairs];
        row[i].t_d = from_d + step_d * (double)moment;
    }
    status = run_once(b, f, false, row, rows, before);
    if (!status)
        status = run_once(b, f, true, row, rows, after);
    for (size_t i = 0; i < rows && !status; i++)
        (*curve)[(*curves)++] =
            (struct tl_fit_curve){row[i].quantity, row[i].place, row[i].t_d, before[i], after[i]};
    qsort(*curve, *curves, sizeof **curve, by_curve);
done:
    free(row);
    free(before);
    free(after);
    return status;
}
