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

static double value_of(const struct tl_squares_axis *a, double u)
{
    if (!is_bounded(a))
        return u;
    const double low = scaled(a, a->low), high = scaled(a, a->high);
    const double z = low + (high - low) * (1 + sin(u)) / 2;
    return fmin(fmax(a->log ? exp(z) : z, a->low), a->high);
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

/* At `points` angles u, into s->r. */
static int reckon(struct search *s, size_t points, const double *u)
{
    const struct tl_squares_problem *p = s->p;
    for (size_t k = 0; k < points; k++)
        for (size_t j = 0; j < p->axes; j++)
            s->x[k * p->axes + j] = value_of(&p->axis[j], u[k * p->axes + j]);
    s->status = p->at(p->arg, points, s->x, s->r);
    s->evaluations += points;
    for (size_t k = 0; k < points * p->residuals && !s->status; k++)
        if (!(fabs(s->r[k]) < VERY_LARGE))
            s->r[k] = VERY_LARGE;
    return s->status;
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
    gsl_matrix *covariance; /* of u, of residuals with a standard error of 1 */
};

/* From found->u with found->weight; leaves the minimum and its covariance there. */
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
    return gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, f->covariance)
               ? TL_E_SOLVER
               : reckon(s, 1, f->u);
}

static double moved(const double *from, const double *to, size_t n)
{
    double most = 0;
    for (size_t j = 0; j < n; j++)
        most = fmax(most, fabs(to[j] - from[j]) / fmax(1, fabs(to[j])));
    return most;
}

/* Search, and search again with weights that follow from the residuals, until nothing changes. */
static int settle(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *f)
{
    const struct tl_squares_problem *p = s->p;
    const double enough = 1e-4;
    bool still = false;

    gsl_vector_set_all(f->weight, 1);
    int status = descend(s, w, f);
    for (int k = 0; p->robust && k < REWEIGHTED && !status && !still; k++) {
        double before[TL_SQUARES_MOST];
        memcpy(before, f->u, sizeof before);
        weigh(s->r, p->residuals, f->weight);
        status = descend(s, w, f);
        still = moved(before, f->u, p->axes) < enough;
    }
    if (p->robust && !status) {
        weigh(s->r, p->residuals, f->weight);
        f->converged = f->converged && still;
    }
    f->loss = loss_of(p, s->r);
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
    for (; *n <= BEST_STARTS && *n <= starts; (*n)++) {
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

static double bent(const struct tl_squares_axis *a, double u)
{
    return value_of(a, is_bounded(a) ? fmin(fmax(u, -M_PI_2), M_PI_2) : u);
}

/* The slope of x by u. */
static double slope_of(const struct tl_squares_axis *a, double u)
{
    if (!is_bounded(a))
        return 1;
    const double span = scaled(a, a->high) - scaled(a, a->low);
    return span / 2 * cos(u) * (a->log ? value_of(a, u) : 1);
}

static int read_out(struct search *s, const struct found *f, struct tl_squares_result *out,
                    double *weight)
{
    const struct tl_squares_problem *p = s->p;
    const double freedom = (double)(p->residuals - p->axes);
    const double t = gsl_cdf_tdist_Pinv(0.95, freedom);
    double weighted = 0;

    if (reckon(s, 1, f->u))
        return s->status;
    out->sum = 0;
    for (size_t i = 0; i < p->residuals; i++) {
        const double square = s->r[i] * s->r[i];
        out->sum += square;
        weighted += gsl_vector_get(f->weight, i) * square;
        if (weight)
            weight[i] = gsl_vector_get(f->weight, i);
    }
    out->scale = p->scaled ? fmax(1, weighted / freedom) : weighted / freedom;
    out->converged = f->converged;
    out->evaluations = s->evaluations;
    for (size_t j = 0; j < p->axes; j++) {
        const struct tl_squares_axis *a = &p->axis[j];
        const double variance = gsl_matrix_get(f->covariance, j, j);
        if (!(variance > 0))
            return TL_E_SOLVER;
        const double error = sqrt(out->scale * variance);
        /* the sine is the same on both sides of its crest: come back to the near one */
        const double u = is_bounded(a) ? asin(sin(f->u[j])) : f->u[j];
        out->x[j] = value_of(a, u);
        out->error[j] = error * fabs(slope_of(a, u));
        out->low[j] = bent(a, u - t * error);
        out->high[j] = bent(a, u + t * error);
        for (size_t k = 0; k < p->axes; k++) {
            const double other = gsl_matrix_get(f->covariance, k, k);
            const bool turned = is_bounded(a) && cos(f->u[j]) < 0;
            const bool other_turned = is_bounded(&p->axis[k]) && cos(f->u[k]) < 0;
            out->correlation[j][k] = (turned == other_turned ? 1 : -1) *
                                     gsl_matrix_get(f->covariance, j, k) / sqrt(variance * other);
        }
    }
    return TL_OK;
}

static bool found_new(struct found *f, const struct tl_squares_problem *p)
{
    *f = (struct found){.loss = INFINITY,
                        .weight = gsl_vector_alloc(p->residuals),
                        .covariance = gsl_matrix_alloc(p->axes, p->axes)};
    return f->weight && f->covariance;
}

static void found_free(struct found *f)
{
    gsl_vector_free(f->weight);
    gsl_matrix_free(f->covariance);
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
        const int one = settle(s, w, &f);
        status = s->status;
        if (one == TL_OK && f.loss < best->loss) {
            const struct found other = *best;
            *best = f;
            f.weight = other.weight;
            f.covariance = other.covariance;
        }
    }
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
