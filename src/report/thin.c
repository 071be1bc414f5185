/* Fewer points for the same picture: extremes of buckets, means with extremes of days, and no points
 * on straight stretches. */
#include "thin.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "towerloop/status.h"

enum { MOST_STRETCHES = 70 };
/* Times are written with six digits after the point: a row may seem so much earlier than it was. */
#define EARLY_D 1e-6

static void begin_piece(struct tl_trace *tr)
{
    tr->low.row = tr->high.row = tr->gap.row = tr->rows;
    tr->sum = 0;
    tr->count = 0;
    tr->piece_rows = 0;
}

static int begin(struct tl_trace *tr, size_t room)
{
    tr->lowest = INFINITY;
    tr->highest = -INFINITY;
    begin_piece(tr);
    tr->point = malloc(room * sizeof *tr->point);
    return tr->point ? TL_OK : TL_E_MEMORY;
}

int tl_trace_points(struct tl_trace *tr, size_t rows, size_t most)
{
    *tr = (struct tl_trace){.rows = rows, .pieces = rows <= most ? rows : (most - 2) / 2};
    return begin(tr, 3 * tr->pieces + 2);
}

int tl_trace_bands(struct tl_trace *tr, size_t rows, double from_t, double to_t, size_t bands)
{
    *tr = (struct tl_trace){.rows = rows, .pieces = bands, .from_t = from_t, .to_t = to_t};
    return begin(tr, bands);
}

int tl_trace_steps(struct tl_trace *tr, size_t rows, const double *edge, size_t bands)
{
    *tr = (struct tl_trace){.rows = rows, .pieces = bands, .edge = edge};
    return begin(tr, 2 * bands);
}

void tl_trace_free(struct tl_trace *tr)
{
    free(tr->point);
    *tr = (struct tl_trace){0};
}

/* --- pieces -------------------------------------------------------------------------------- */

static void keep(struct tl_trace *tr, const struct tl_pick *p)
{
    if (p->row == tr->rows || (tr->points > 0 && p->row <= tr->last_kept))
        return;
    tr->point[tr->points++] = (struct tl_point){p->t, p->value, p->value, p->value};
    tr->last_kept = p->row;
}

static int by_row(const void *a, const void *b)
{
    size_t ra = ((const struct tl_pick *)a)->row, rb = ((const struct tl_pick *)b)->row;
    return (ra > rb) - (ra < rb);
}

static void end_bucket(struct tl_trace *tr)
{
    struct tl_pick pick[3] = {tr->low, tr->high, tr->gap};
    qsort(pick, 3, sizeof *pick, by_row);
    for (size_t i = 0; i < 3; i++)
        keep(tr, &pick[i]);
}

static double band_end(const struct tl_trace *tr, double band)
{
    return tr->from_t + (tr->to_t - tr->from_t) / (double)tr->pieces * band;
}

/* Mean, lowest and highest of the piece so far. */
static struct tl_point of_piece(const struct tl_trace *tr, double t)
{
    const bool empty = tr->low.row == tr->rows;
    const double mean = tr->count > 0 ? tr->sum / (double)tr->count
                                      : 0.5 * (tr->low.value + tr->high.value); /* of extremes */
    return (struct tl_point){t, empty ? NAN : mean, empty ? NAN : tr->low.value,
                             empty ? NAN : tr->high.value};
}

static void end_band(struct tl_trace *tr)
{
    tr->point[tr->points++] = of_piece(tr, band_end(tr, (double)tr->piece + 0.5));
}

static void end_step(struct tl_trace *tr)
{
    const double to_t = tr->edge[tr->piece + 1];
    if (tr->piece_rows == 0 && tr->points > 0) {
        tr->point[tr->points - 1].t = to_t;
        return;
    }
    tr->point[tr->points++] = of_piece(tr, tr->edge[tr->piece]);
    tr->point[tr->points++] = of_piece(tr, to_t);
}

static bool of_bands(const struct tl_trace *tr)
{
    return tr->to_t > tr->from_t;
}

static void end_piece(struct tl_trace *tr)
{
    if (tr->edge)
        end_step(tr);
    else if (of_bands(tr))
        end_band(tr);
    else
        end_bucket(tr);
    begin_piece(tr);
    tr->piece++;
}

/* Does the row that comes belong to a later piece? */
static bool is_over(const struct tl_trace *tr, double t)
{
    if (tr->piece + 1 >= tr->pieces)
        return false;
    if (tr->edge)
        return t >= tr->edge[tr->piece + 1] - EARLY_D;
    return of_bands(tr) ? t >= band_end(tr, (double)tr->piece + 1)
                        : tr->row >= (tr->piece + 1) * tr->rows / tr->pieces;
}

static void add(struct tl_trace *tr, double t, double value, bool counts)
{
    const struct tl_pick now = {tr->row, t, value};

    while (is_over(tr, t))
        end_piece(tr);
    if (!isfinite(value)) {
        if (tr->gap.row == tr->rows)
            tr->gap = (struct tl_pick){tr->row, t, NAN};
    } else {
        if (tr->low.row == tr->rows || value < tr->low.value)
            tr->low = now;
        if (tr->high.row == tr->rows || value > tr->high.value)
            tr->high = now;
        if (value < tr->lowest) {
            tr->lowest = value;
            tr->lowest_t = t;
        }
        if (value > tr->highest) {
            tr->highest = value;
            tr->highest_t = t;
        }
        tr->sum += counts ? value : 0;
        tr->count += counts;
    }
    if (!tr->edge && !of_bands(tr) && (tr->row == 0 || tr->row + 1 == tr->rows)) {
        if (tr->row > 0)
            end_bucket(tr);
        keep(tr, &now);
    }
    tr->piece_rows++;
    tr->row++;
}

void tl_trace_add(struct tl_trace *tr, double t, double value)
{
    add(tr, t, value, true);
}

void tl_trace_add_extreme(struct tl_trace *tr, double t, double value)
{
    add(tr, t, value, false);
}

/* --- straight stretches -------------------------------------------------------------------- */

/* The slopes of the lines from a point that pass near enough to all points since. */
struct cone {
    double least[3], most[3]; /* of value, low, high */
};

static void open_wide(struct cone *c)
{
    for (int k = 0; k < 3; k++) {
        c->least[k] = -INFINITY;
        c->most[k] = INFINITY;
    }
}

/* Narrows the cone to pass near `to` as well; false when the line to it does not lie in the cone. */
static bool narrow(struct cone *c, const struct tl_point *from, const struct tl_point *to,
                   double tolerance)
{
    const double dt = to->t - from->t;
    const double rise[3] = {to->value - from->value, to->low - from->low, to->high - from->high};

    for (int k = 0; k < 3; k++)
        if (rise[k] < c->least[k] * dt || rise[k] > c->most[k] * dt)
            return false;
    for (int k = 0; k < 3; k++) {
        c->least[k] = fmax(c->least[k], (rise[k] - tolerance) / dt);
        c->most[k] = fmin(c->most[k], (rise[k] + tolerance) / dt);
    }
    return true;
}

/* Takes out the points on lines within `tolerance`. A line is followed until the next point would
 * leave some point on it too far away. */
static void straighten(struct tl_trace *tr, double tolerance)
{
    const struct tl_point *from = NULL, *pending = NULL;  /* the line's start, and its end so far */
    bool lowest = false, highest = false, in_gap = false; /* already kept */
    struct cone cone;
    size_t n = 0; /* points are kept in place: none is overwritten before it has been read */

    for (size_t i = 0; i < tr->points; i++) {
        const struct tl_point *p = &tr->point[i];
        const bool gap = !isfinite(p->value);
        const bool extreme =
            (p->low <= tr->lowest && !lowest) || (p->high >= tr->highest && !highest);
        if (pending && (gap || !narrow(&cone, from, p, tolerance))) {
            tr->point[n++] = *pending;
            from = pending;
            pending = NULL;
            open_wide(&cone);
        }
        if (gap && in_gap)
            continue;
        in_gap = gap;
        if (gap || extreme || !from || p->t <= from->t) {
            lowest = lowest || p->low <= tr->lowest;
            highest = highest || p->high >= tr->highest;
            from = gap ? NULL : p;
            tr->point[n++] = *p;
            pending = NULL;
            open_wide(&cone);
        } else {
            if (!pending)
                narrow(&cone, from, p, tolerance);
            pending = p;
        }
    }
    if (pending)
        tr->point[n++] = *pending;
    tr->points = n;
}

void tl_trace_finish(struct tl_trace *tr)
{
    while (tr->piece < tr->pieces)
        end_piece(tr);
}

void tl_trace_end(struct tl_trace *tr, double tolerance, size_t most)
{
    tl_trace_finish(tr);
    const double height = tr->highest > tr->lowest ? tr->highest - tr->lowest : 0;
    straighten(tr, tolerance * height);
    for (double more = fmax(1.5 * tolerance, 1e-6); tr->points > most && more < 1; more *= 1.5)
        straighten(tr, more * height);
}

double tl_stretch_length(double span_d)
{
    static const double length_d[] = {1.0 / 24, 2.0 / 24, 3.0 / 24, 0.25, 0.5, 1, 2, 7, 14, 30};
    for (size_t i = 0; i < sizeof length_d / sizeof *length_d; i++)
        if (span_d / length_d[i] <= MOST_STRETCHES)
            return length_d[i];
    return 30 * ceil(span_d / 30 / MOST_STRETCHES);
}

size_t tl_band_count(double from, double to, double length)
{
    double bands = floor((to - from) / length + 0.5);
    return bands < 1 ? 1 : (size_t)bands;
}
