/* Walks along one quantity while the others follow, until the loss has risen enough. */
#include "least_squares_profile.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <string.h>

#include "towerloop/status.h"

enum {
    FURTHER = 10, /* steps outwards, at most */
    NEARER = 12,  /* steps of the root finder, at most */
    PLACES = 2 + FURTHER + NEARER,
    AGAIN = 2 /* times that a lower minimum is begun from */
};
#define LOWER     0.01 /* of the unit: a tenth of a standard error off is another minimum */
#define EXACT     1e-7 /* standard errors, where no other tolerance is asked for */
#define AT_BOUND  1e-6 /* share of the range */
#define LEAST_OUT 1.2  /* factors by which a step outwards grows */
#define MOST_OUT  2.0

/* A place on the profile. */
struct place {
    double z;                  /* of the quantity: share of its range, or itself without one */
    double far;                /* standard errors away, by the rise of the loss */
    double x[TL_SQUARES_MOST]; /* of the others, in their order */
};

struct walk {
    const struct tl_squares_problem *p;
    const struct tl_squares_result *r;
    struct tl_squares_profile *out;
    unsigned long most, used;
    size_t axis;
    double value; /* of that axis, while the others are fitted */
    double t;
    struct place place[PLACES]; /* on this side, the minimum first */
    size_t places;
    double better[TL_SQUARES_MOST]; /* where the loss is lower than the minimum */
    bool has_better, spent;
    int status;
};

/* --- the others ------------------------------------------------------------------------------------ */

static size_t other(const struct walk *w, size_t k)
{
    return k < w->axis ? k : k + 1;
}

static int reckon_with(void *arg, size_t points, const double *x, double *r)
{
    struct walk *w = arg;
    const size_t axes = w->p->axes;
    double all[2 * TL_SQUARES_MOST * TL_SQUARES_MOST];
    w->used += points;
    if (w->used > w->most) {
        w->spent = true;
        return TL_E_SOLVER;
    }
    for (size_t i = 0; i < points; i++) {
        all[i * axes + w->axis] = w->value;
        for (size_t k = 0; k + 1 < axes; k++)
            all[i * axes + other(w, k)] = x[i * (axes - 1) + k];
    }
    return w->p->at(w->p->arg, points, all, r);
}

/* Where the others are to be looked for: on the line through the two nearest places, or along the
 * correlations from the minimum. */
static void predict(const struct walk *w, double z, double *x)
{
    const struct place *near_by = &w->place[0], *next = NULL;
    for (size_t i = 1; i < w->places; i++) {
        const struct place *one = &w->place[i];
        if (fabs(one->z - z) < fabs(near_by->z - z)) {
            next = near_by;
            near_by = one;
        } else if (!next || fabs(one->z - z) < fabs(next->z - z)) {
            next = one;
        }
    }
    for (size_t k = 0; k + 1 < w->p->axes; k++) {
        const size_t j = other(w, k);
        const struct tl_squares_axis *a = &w->p->axis[j];
        const double here = tl_squares_share(a, near_by->x[k]);
        const double slope =
            next
                ? (here - tl_squares_share(a, next->x[k])) / (near_by->z - next->z)
                : w->r->correlation[w->axis][j] * w->r->share_error[j] / w->r->share_error[w->axis];
        x[k] = tl_squares_value(a, here + slope * (z - near_by->z));
    }
}

/* The least loss with the quantity at z. */
static int least_loss(struct walk *w, double z, struct place *found, double *loss)
{
    struct tl_squares_problem p = *w->p;
    struct tl_squares_axis axis[TL_SQUARES_MOST];
    double start[TL_SQUARES_MOST] = {0};
    bool converged = true;

    w->value = tl_squares_value(&w->p->axis[w->axis], z);
    predict(w, z, start);
    for (size_t k = 0; k + 1 < p.axes; k++)
        axis[k] = w->p->axis[other(w, k)];
    p.axes--;
    p.axis = axis;
    p.start = start;
    p.starts = 0;
    p.at = reckon_with;
    p.arg = w;
    const int status = tl_squares_descend(&p, found->x, loss, &converged);
    /* a loss that is still too high would make the interval too narrow */
    if (!status && !converged)
        w->spent = true;
    return status;
}

static void remember_better(struct walk *w, const struct place *found)
{
    w->has_better = true;
    w->better[w->axis] = w->value;
    for (size_t k = 0; k + 1 < w->p->axes; k++)
        w->better[other(w, k)] = found->x[k];
}

/* How much further than t standard errors z is, by the rise of the loss. NAN: to be given up. */
static double beyond(double z, void *arg)
{
    struct walk *w = arg;
    double loss = 0;
    for (size_t i = 0; i < w->places; i++)
        if (w->place[i].z == z)
            return w->place[i].far - w->t;
    struct place *found = &w->place[w->places];
    if (w->status || w->spent || w->has_better || w->places == PLACES)
        return NAN;
    w->status = least_loss(w, z, found, &loss);
    if (w->status || w->spent)
        return NAN;
    const double rise = (loss - w->r->loss) / w->r->unit;
    if (rise < -LOWER) {
        remember_better(w, found);
        return NAN;
    }
    found->z = z;
    found->far = sqrt(fmax(0, rise));
    w->places++;
    return found->far - w->t;
}

/* --- one end ---------------------------------------------------------------------------------------- */

/* Between two places on either side of the end. */
static double close_in(struct walk *w, double inner, double outer)
{
    const double exact = w->p->enough > 0 ? 3 * sqrt(w->p->enough) : EXACT;
    gsl_function f = {beyond, w};
    gsl_root_fsolver *s = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    double low = fmin(inner, outer), high = fmax(inner, outer);
    double at_low = beyond(low, w), at_high = beyond(high, w);
    double last = fabs(at_low) < fabs(at_high) ? at_low : at_high;

    if (!s) {
        w->status = TL_E_MEMORY;
        return NAN;
    }
    int code = gsl_root_fsolver_set(s, &f, low, high);
    for (int k = 0; k < NEARER && !code && !(fabs(last) < exact); k++) {
        code = gsl_root_fsolver_iterate(s);
        last = w->place[w->places - 1].far - w->t;
        low = gsl_root_fsolver_x_lower(s);
        high = gsl_root_fsolver_x_upper(s);
    }
    gsl_root_fsolver_free(s);
    at_low = beyond(low, w);
    at_high = beyond(high, w);
    const double across = at_high - at_low;
    if (fabs(last) < exact && fabs(across) > 0)
        return low - at_low * (high - low) / across;
    return outer < inner ? low : high; /* the wider one */
}

/* The end on one side of the minimum: -1 or 1. */
static double find_end(struct walk *w, int side, bool *open)
{
    const size_t j = w->axis;
    const struct tl_squares_axis *a = &w->p->axis[j];
    const bool bounded = isfinite(a->low);
    const double from = tl_squares_share(a, w->r->x[j]);
    const double bound = bounded ? fmax(side, 0) : copysign(INFINITY, side);
    double inner = from, step = w->t * w->r->share_error[j];

    w->place[0] = (struct place){.z = from};
    for (size_t k = 0; k + 1 < w->p->axes; k++)
        w->place[0].x[k] = w->r->x[other(w, k)];
    w->places = 1;
    *open = fabs(bound - from) < AT_BOUND;
    for (int k = 0; k < FURTHER && !*open; k++) {
        double outer = from + side * step;
        if (bounded)
            outer = fmin(fmax(outer, 0), 1);
        const double further = beyond(outer, w);
        if (isnan(further))
            return NAN;
        if (further >= 0)
            return close_in(w, inner, outer);
        *open = outer == bound;
        step *= fmin(fmax(1.05 * w->t / (further + w->t), LEAST_OUT), MOST_OUT);
        inner = outer;
    }
    *open = true;
    return bound;
}

static void find_interval(struct walk *w)
{
    const struct tl_squares_axis *a = &w->p->axis[w->axis];
    struct tl_squares_profile *o = w->out;
    const size_t j = w->axis;
    const double low = find_end(w, -1, &o->low_open[j]);
    const double high = isnan(low) ? NAN : find_end(w, 1, &o->high_open[j]);
    o->low[j] = isnan(low) ? NAN : tl_squares_value(a, low);
    o->high[j] = isnan(high) ? NAN : tl_squares_value(a, high);
}

/* --- all of it --------------------------------------------------------------------------------------- */

/* The intervals around a minimum; in w->better where a lower one was met. */
static void find_intervals(struct walk *w)
{
    w->has_better = false;
    for (w->axis = 0; w->axis < w->p->axes && !w->status && !w->spent && !w->has_better; w->axis++)
        find_interval(w);
    w->out->complete = !w->status && !w->spent && !w->has_better;
}

int tl_squares_fit_profiled(const struct tl_squares_problem *p, unsigned long most,
                            struct tl_squares_result *result, double *weight,
                            struct tl_squares_profile *out)
{
    struct tl_squares_problem from = *p;
    struct walk w = {.p = p, .r = result, .out = out, .most = most};
    int status = TL_OK;

    memset(out, 0, sizeof *out);
    do {
        status = tl_squares_fit(&from, result, weight);
        out->evaluations += result->evaluations;
        if (status || out->improved > AGAIN)
            break;
        w.t = tl_squares_quantile(p);
        find_intervals(&w);
        out->improved += w.has_better;
        from.start = w.better;
        from.starts = 0;
    } while (w.has_better && !w.status);
    out->evaluations += w.used;
    if (out->improved > AGAIN)
        result->converged = false;
    return status || w.spent ? status : w.status;
}
