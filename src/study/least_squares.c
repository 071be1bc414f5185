/* GSL's trust region with bounds, starting points, reweighting and intervals around it. */
#include "least_squares.h"

#include <float.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define STEP        6e-6 /* cube root of the rounding error: central differences */
#define TOLERANCE   1e-10
#define ITERATIONS  400
#define REWEIGHTED  30    /* times at most */
#define VERY_LARGE  1e100 /* a residual that is not finite; its square is */
#define INSIDE      1.5   /* largest angle to start from: at pi/2 nothing changes with it */
#define BEST_STARTS 3     /* searches are begun at these */
#define MOST_STARTS 64

struct search {
    const struct tl_squares_problem *p;
    double *x, *r; /* of 2 axes places, or of all starts */
    int status;    /* of at() */
    unsigned long evaluations;
};

/* --- angles ------------------------------------------------------------------------------------- */

static bool is_bounded(const struct tl_squares_axis *a)
{
    return isfinite(a->low);
}

static double scaled(const struct tl_squares_axis *a, double x)
{
    return a->log ? log(x) : x;
}

/* At a share z of its range, or at z itself without one. */
static double value_at(const struct tl_squares_axis *a, double z)
{
    if (!is_bounded(a))
        return z;
    const double low = scaled(a, a->low), high = scaled(a, a->high);
    const double x = low + (high - low) * fmin(fmax(z, 0), 1);
    return fmin(fmax(a->log ? exp(x) : x, a->low), a->high);
}

static double share_of(const struct tl_squares_axis *a, double u)
{
    return is_bounded(a) ? (1 + sin(u)) / 2 : u;
}

static double value_of(const struct tl_squares_axis *a, double u)
{
    return value_at(a, share_of(a, u));
}

static double angle_of(const struct tl_squares_axis *a, double x)
{
    if (!is_bounded(a))
        return x;
    const double low = scaled(a, a->low), span = scaled(a, a->high) - low;
    const double z = scaled(a, fmin(fmax(x, a->low), a->high));
    const double share = span > 0 ? (z - low) / span : 0.5;
    return fmin(fmax(asin(fmin(fmax(2 * share - 1, -1), 1)), -INSIDE), INSIDE);
}

/* --- residuals ---------------------------------------------------------------------------------- */

/* At the places in s->x, into s->r. */
static int reckon_there(struct search *s, size_t points)
{
    const struct tl_squares_problem *p = s->p;
    if (s->status) /* the searching goes on after a step that failed, which must not be forgotten */
        return s->status;
    s->status = p->at(p->arg, points, s->x, s->r);
    s->evaluations += points;
    for (size_t k = 0; k < points * p->residuals && !s->status; k++)
        if (!(fabs(s->r[k]) < VERY_LARGE))
            s->r[k] = VERY_LARGE;
    return s->status;
}

/* At `points` angles u. */
static int reckon(struct search *s, size_t points, const double *u)
{
    const struct tl_squares_problem *p = s->p;
    for (size_t k = 0; k < points; k++)
        for (size_t j = 0; j < p->axes; j++)
            s->x[k * p->axes + j] = value_of(&p->axis[j], u[k * p->axes + j]);
    return reckon_there(s, points);
}

static int residuals_at(const gsl_vector *u, void *arg, gsl_vector *f)
{
    struct search *s = arg;
    double at[TL_SQUARES_MOST];
    for (size_t j = 0; j < s->p->axes; j++)
        at[j] = gsl_vector_get(u, j);
    if (reckon(s, 1, at))
        return GSL_EBADFUNC;
    for (size_t i = 0; i < s->p->residuals; i++)
        gsl_vector_set(f, i, s->r[i]);
    return GSL_SUCCESS;
}

/* Central differences, all places at once. */
static int slopes_at(const gsl_vector *u, void *arg, gsl_matrix *jacobian)
{
    struct search *s = arg;
    const struct tl_squares_problem *p = s->p;
    const double step = p->step > 0 ? p->step : STEP;
    double at[2 * TL_SQUARES_MOST * TL_SQUARES_MOST] = {0}, width[TL_SQUARES_MOST] = {0};

    for (size_t j = 0; j < p->axes; j++) {
        const double here = gsl_vector_get(u, j);
        const double h = is_bounded(&p->axis[j]) || here == 0 ? step : step * fabs(here);
        for (size_t k = 0; k < p->axes; k++)
            at[2 * j * p->axes + k] = at[(2 * j + 1) * p->axes + k] = gsl_vector_get(u, k);
        at[2 * j * p->axes + j] = here - h;
        at[(2 * j + 1) * p->axes + j] = here + h;
        width[j] = (here + h) - (here - h);
    }
    if (reckon(s, 2 * p->axes, at))
        return GSL_EBADFUNC;
    for (size_t j = 0; j < p->axes; j++)
        for (size_t i = 0; i < p->residuals; i++)
            gsl_matrix_set(jacobian, i, j,
                           (s->r[(2 * j + 1) * p->residuals + i] - s->r[2 * j * p->residuals + i]) /
                               width[j]);
    return GSL_SUCCESS;
}

static int search_new(struct search *s, const struct tl_squares_problem *p)
{
    const size_t places = 2 * p->axes > p->starts + 1 ? 2 * p->axes : p->starts + 1;
    *s = (struct search){.p = p};
    s->x = calloc(places * p->axes, sizeof *s->x);
    s->r = calloc(places * p->residuals, sizeof *s->r);
    return s->x && s->r ? TL_OK : TL_E_MEMORY;
}

static void search_free(struct search *s)
{
    free(s->x);
    free(s->r);
}

/* --- the loss ----------------------------------------------------------------------------------- */

static double loss_of(const struct tl_squares_problem *p, const double *r)
{
    double sum = 0;
    for (size_t i = 0; i < p->residuals; i++) {
        const double size = fabs(r[i]);
        sum += p->robust && size > TL_SQUARES_HUBER
                   ? 2 * TL_SQUARES_HUBER * size - TL_SQUARES_HUBER * TL_SQUARES_HUBER
                   : size * size;
    }
    return sum;
}

static void weigh(const double *r, size_t n, gsl_vector *weight)
{
    for (size_t i = 0; i < n; i++)
        gsl_vector_set(weight, i, fmin(1, TL_SQUARES_HUBER / fmax(fabs(r[i]), DBL_MIN)));
}

/* --- one search --------------------------------------------------------------------------------- */

struct found {
    bool converged;
    double u[TL_SQUARES_MOST];
    double loss;
    gsl_vector *weight;
};

/* From found->u with found->weight; leaves the minimum there. */
static int descend(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *f)
{
    const struct tl_squares_problem *p = s->p;
    gsl_multifit_nlinear_fdf fdf = {
        .f = residuals_at, .df = slopes_at, .n = p->residuals, .p = p->axes, .params = s};
    const gsl_vector_view start = gsl_vector_view_array(f->u, p->axes);
    const double tolerance = p->tolerance > 0 ? p->tolerance : TOLERANCE;
    int info = 0;

    int code = gsl_multifit_nlinear_winit(&start.vector, f->weight, &fdf, w);
    if (code == GSL_SUCCESS)
        code = gsl_multifit_nlinear_driver(ITERATIONS, tolerance, tolerance * tolerance, 0, NULL,
                                           NULL, &info, w);
    if (s->status)
        return s->status;
    /* no progress: differences cannot tell a better place from this one */
    f->converged = code == GSL_SUCCESS || code == GSL_ENOPROG;
    for (size_t j = 0; j < p->axes; j++)
        f->u[j] = gsl_vector_get(gsl_multifit_nlinear_position(w), j);
    return reckon(s, 1, f->u);
}

static double moved(const double *from, const double *to, size_t n)
{
    double most = 0;
    for (size_t j = 0; j < n; j++)
        most = fmax(most, fabs(to[j] - from[j]) / fmax(1, fabs(to[j])));
    return most;
}

/* Search again with weights that follow from the residuals, until nothing changes; s->r are those at
 * f->u. */
static int settle(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *f)
{
    const struct tl_squares_problem *p = s->p;
    const double enough = fmax(1e-4, p->tolerance);
    bool still = false;
    int status = reckon(s, 1, f->u);

    for (int k = 0; k < REWEIGHTED && !status && !still; k++) {
        double before[TL_SQUARES_MOST];
        memcpy(before, f->u, sizeof before);
        weigh(s->r, p->residuals, f->weight);
        status = descend(s, w, f);
        still = moved(before, f->u, p->axes) < enough;
    }
    if (!status)
        weigh(s->r, p->residuals, f->weight);
    f->converged = f->converged && still;
    return status;
}

/* --- starting points ------------------------------------------------------------------------------ */

/* The best places to begin a search from, the given one first. Returns how many in *n. */
static int choose_starts(struct search *s, double start[BEST_STARTS + 1][TL_SQUARES_MOST],
                         size_t *n)
{
    const struct tl_squares_problem *p = s->p;
    double u[MOST_STARTS][TL_SQUARES_MOST], packed[MOST_STARTS * TL_SQUARES_MOST],
        loss[MOST_STARTS];
    const size_t starts = p->starts < MOST_STARTS ? p->starts : MOST_STARTS;

    for (size_t j = 0; j < p->axes; j++)
        start[0][j] = angle_of(&p->axis[j], p->start[j]);
    *n = 1;
    if (starts == 0)
        return TL_OK;
    gsl_qrng *sobol = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)p->axes);
    if (!sobol)
        return TL_E_MEMORY;
    for (size_t k = 0; k < starts; k++) {
        gsl_qrng_get(sobol, u[k]);
        for (size_t j = 0; j < p->axes; j++)
            packed[k * p->axes + j] = u[k][j] = asin(2 * u[k][j] - 1);
    }
    gsl_qrng_free(sobol);
    if (reckon(s, starts, packed))
        return s->status;
    for (size_t k = 0; k < starts; k++)
        loss[k] = loss_of(p, &s->r[k * p->residuals]);
    for (; *n <= BEST_STARTS && *n <= (starts + 7) / 8; (*n)++) {
        size_t best = 0;
        for (size_t k = 1; k < starts; k++)
            if (loss[k] < loss[best])
                best = k;
        memcpy(start[*n], u[best], sizeof u[best]);
        loss[best] = INFINITY;
    }
    return TL_OK;
}

/* --- the result ----------------------------------------------------------------------------------- */

/* Weighted slopes by the shares z of the ranges. An angle cannot serve here: at the end of a range
 * nothing changes with it. There the difference is taken inwards. */
static int share_slopes(struct search *s, const struct found *f, const double *z,
                        gsl_matrix *jacobian)
{
    const struct tl_squares_problem *p = s->p;
    const double step = p->step > 0 ? p->step : STEP;
    double width[TL_SQUARES_MOST] = {0};

    for (size_t j = 0; j < p->axes; j++) {
        const bool bounded = is_bounded(&p->axis[j]);
        const double h = bounded ? step / 2 : z[j] == 0 ? step : step * fabs(z[j]);
        const double low = bounded ? fmax(z[j] - h, 0) : z[j] - h;
        const double high = bounded ? fmin(z[j] + h, 1) : z[j] + h;
        for (size_t k = 0; k < 2 * p->axes; k++)
            s->x[k * p->axes + j] = value_at(&p->axis[j], k == 2 * j       ? low
                                                          : k == 2 * j + 1 ? high
                                                                           : z[j]);
        width[j] = high - low;
    }
    if (reckon_there(s, 2 * p->axes))
        return s->status;
    for (size_t j = 0; j < p->axes; j++)
        for (size_t i = 0; i < p->residuals; i++) {
            const double rise =
                s->r[(2 * j + 1) * p->residuals + i] - s->r[2 * j * p->residuals + i];
            gsl_matrix_set(jacobian, i, j, sqrt(gsl_vector_get(f->weight, i)) * rise / width[j]);
        }
    return TL_OK;
}

/* The slope of x by z. */
static double slope_of(const struct tl_squares_axis *a, double x)
{
    return is_bounded(a) ? (scaled(a, a->high) - scaled(a, a->low)) * (a->log ? x : 1) : 1;
}

/* What was found, and how well it is known. */
static int read_errors(const struct tl_squares_problem *p, const double *z,
                       const gsl_matrix *covariance, struct tl_squares_result *out)
{
    const double t = gsl_cdf_tdist_Pinv(0.95, (double)(p->residuals - p->axes));
    for (size_t j = 0; j < p->axes; j++) {
        const struct tl_squares_axis *a = &p->axis[j];
        const double variance = gsl_matrix_get(covariance, j, j);
        if (!(variance > 0))
            return TL_E_SOLVER;
        const double error = sqrt(out->scale * variance);
        out->x[j] = value_at(a, z[j]);
        out->error[j] = error * slope_of(a, out->x[j]);
        out->low[j] = value_at(a, z[j] - t * error);
        out->high[j] = value_at(a, z[j] + t * error);
        for (size_t k = 0; k < p->axes; k++)
            out->correlation[j][k] = gsl_matrix_get(covariance, j, k) /
                                     sqrt(variance * gsl_matrix_get(covariance, k, k));
    }
    return TL_OK;
}

static int read_out(struct search *s, const struct found *f, struct tl_squares_result *out,
                    double *weight)
{
    const struct tl_squares_problem *p = s->p;
    double z[TL_SQUARES_MOST] = {0}, weighted = 0;
    gsl_matrix *jacobian = gsl_matrix_alloc(p->residuals, p->axes);
    gsl_matrix *covariance = gsl_matrix_alloc(p->axes, p->axes);
    int status = jacobian && covariance ? reckon(s, 1, f->u) : TL_E_MEMORY;

    for (size_t j = 0; j < p->axes; j++)
        z[j] = share_of(&p->axis[j], f->u[j]);
    for (size_t i = 0; i < p->residuals && !status; i++) {
        const double square = s->r[i] * s->r[i];
        out->sum += square;
        weighted += gsl_vector_get(f->weight, i) * square;
        if (weight)
            weight[i] = gsl_vector_get(f->weight, i);
    }
    out->scale = weighted / (double)(p->residuals - p->axes);
    if (p->scaled)
        out->scale = fmax(1, out->scale);
    if (!status)
        status = share_slopes(s, f, z, jacobian);
    if (!status && gsl_multifit_nlinear_covar(jacobian, 0, covariance))
        status = TL_E_SOLVER;
    if (!status)
        status = read_errors(p, z, covariance, out);
    out->converged = f->converged;
    out->evaluations = s->evaluations;
    gsl_matrix_free(jacobian);
    gsl_matrix_free(covariance);
    return status;
}

static bool found_new(struct found *f, const struct tl_squares_problem *p)
{
    *f = (struct found){.loss = INFINITY, .weight = gsl_vector_alloc(p->residuals)};
    return f->weight != NULL;
}

static void found_free(struct found *f)
{
    gsl_vector_free(f->weight);
}

/* Searches from each start; the lowest minimum is left in `best`. */
static int search_all(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *best)
{
    double start[BEST_STARTS + 1][TL_SQUARES_MOST];
    struct found f;
    size_t n = 0;
    int status = found_new(&f, s->p) ? choose_starts(s, start, &n) : TL_E_MEMORY;

    for (size_t k = 0; k < n && !status; k++) {
        memcpy(f.u, start[k], sizeof f.u);
        f.converged = false;
        gsl_vector_set_all(f.weight, 1);
        const int one = descend(s, w, &f);
        status = s->status;
        f.loss = loss_of(s->p, s->r);
        if (one == TL_OK && f.loss < best->loss) {
            const struct found other = *best;
            *best = f;
            f.weight = other.weight;
        }
    }
    if (!status && s->p->robust && isfinite(best->loss))
        status = settle(s, w, best);
    found_free(&f);
    return status;
}

int tl_squares_fit(const struct tl_squares_problem *p, struct tl_squares_result *out,
                   double *weight)
{
    gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
    struct search s = {0};
    struct found best = {0};

    memset(out, 0, sizeof *out);
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, p->residuals, p->axes);
    int status = w && found_new(&best, p) ? search_new(&s, p) : TL_E_MEMORY;
    if (!status)
        status = search_all(&s, w, &best);
    if (!status)
        status = isfinite(best.loss) ? read_out(&s, &best, out, weight) : TL_E_SOLVER;
    search_free(&s);
    found_free(&best);
    gsl_multifit_nlinear_free(w);
    return status;
}

int tl_squares_slopes(const struct tl_squares_problem *p, double *jacobian)
{
    struct search s;
    double u[TL_SQUARES_MOST];
    int status = search_new(&s, p);
    if (!status) {
        gsl_matrix_view into = gsl_matrix_view_array(jacobian, p->residuals, p->axes);
        const gsl_vector_view at = gsl_vector_view_array(u, p->axes);
        for (size_t j = 0; j < p->axes; j++)
            u[j] = angle_of(&p->axis[j], p->start[j]);
        slopes_at(&at.vector, &s, &into.matrix);
        status = s.status;
    }
    search_free(&s);
    return status;
}
