/* GSL's trust region with bounds, starting points, a robust loss and intervals around it. */
#include "least_squares.h"

#include <float.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

#define STEP        6e-6 /* cube root of the rounding error: central differences */
#define TOLERANCE   1e-10
#define ITERATIONS  400
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

double tl_squares_value(const struct tl_squares_axis *a, double share)
{
    if (!is_bounded(a))
        return share;
    const double low = scaled(a, a->low), high = scaled(a, a->high);
    const double x = low + (high - low) * fmin(fmax(share, 0), 1);
    return fmin(fmax(a->log ? exp(x) : x, a->low), a->high);
}

static double share_of(const struct tl_squares_axis *a, double u)
{
    return is_bounded(a) ? (1 + sin(u)) / 2 : u;
}

static double value_of(const struct tl_squares_axis *a, double u)
{
    return tl_squares_value(a, share_of(a, u));
}

double tl_squares_share(const struct tl_squares_axis *a, double x)
{
    if (!is_bounded(a))
        return x;
    const double low = scaled(a, a->low), span = scaled(a, a->high) - low;
    const double z = scaled(a, fmin(fmax(x, a->low), a->high));
    return span > 0 ? fmin(fmax((z - low) / span, 0), 1) : 0.5;
}

static double angle_of(const struct tl_squares_axis *a, double x)
{
    if (!is_bounded(a))
        return x;
    return fmin(fmax(asin(2 * tl_squares_share(a, x) - 1), -INSIDE), INSIDE);
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

/* --- the loss ----------------------------------------------------------------------------------- */

/* What a residual adds to the loss: its square, or Huber's. */
static double loss_of_one(const struct tl_squares_problem *p, double r)
{
    const double size = fabs(r);
    return p->robust && size > TL_SQUARES_HUBER ? TL_SQUARES_HUBER * (2 * size - TL_SQUARES_HUBER)
                                                : r * r;
}

static double loss_of(const struct tl_squares_problem *p, const double *r)
{
    double sum = 0;
    for (size_t i = 0; i < p->residuals; i++)
        sum += loss_of_one(p, r[i]);
    return sum;
}

/* Its square is the loss, so that least squares of it find the least loss. */
static double rooted(const struct tl_squares_problem *p, double r)
{
    return p->robust ? copysign(sqrt(loss_of_one(p, r)), r) : r;
}

/* --- what GSL asks for --------------------------------------------------------------------------- */

static int residuals_at(const gsl_vector *u, void *arg, gsl_vector *f)
{
    struct search *s = arg;
    double at[TL_SQUARES_MOST];
    for (size_t j = 0; j < s->p->axes; j++)
        at[j] = gsl_vector_get(u, j);
    if (reckon(s, 1, at))
        return GSL_EBADFUNC;
    for (size_t i = 0; i < s->p->residuals; i++)
        gsl_vector_set(f, i, rooted(s->p, s->r[i]));
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
                           (rooted(p, s->r[(2 * j + 1) * p->residuals + i]) -
                            rooted(p, s->r[2 * j * p->residuals + i])) /
                               width[j]);
    return GSL_SUCCESS;
}

static int search_new(struct search *s, const struct tl_squares_problem *p)
{
    const size_t places = 2 * p->axes > p->starts + 1 ? 2 * p->axes : p->starts + 1;
    *s = (struct search){.p = p};
    s->x = calloc(places * p->axes + 1, sizeof *s->x);
    s->r = calloc(places * p->residuals, sizeof *s->r);
    return s->x && s->r ? TL_OK : TL_E_MEMORY;
}

static void search_free(struct search *s)
{
    free(s->x);
    free(s->r);
}

/* --- one search --------------------------------------------------------------------------------- */

struct found {
    bool converged;
    double u[TL_SQUARES_MOST];
    double loss;
};

/* Steps until angles or, where `enough` says so, the loss change no more. */
static bool walk(const struct tl_squares_problem *p, gsl_multifit_nlinear_workspace *w)
{
    const double tolerance = p->tolerance > 0 ? p->tolerance : TOLERANCE;
    const gsl_vector *f = gsl_multifit_nlinear_residual(w);
    double loss;
    int info = 0;

    gsl_blas_ddot(f, f, &loss);
    for (int k = 0; k < ITERATIONS; k++) {
        const double before = loss;
        const int code = gsl_multifit_nlinear_iterate(w);
        /* no progress: differences cannot tell a better place from this one */
        if (code != GSL_SUCCESS)
            return code == GSL_ENOPROG;
        gsl_blas_ddot(f, f, &loss);
        if (before - loss < p->enough ||
            gsl_multifit_nlinear_test(tolerance, tolerance * tolerance, 0, &info, w) == GSL_SUCCESS)
            return true;
    }
    return false;
}

/* From found->u; leaves the minimum there. */
static int descend(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *f)
{
    const struct tl_squares_problem *p = s->p;
    gsl_multifit_nlinear_fdf fdf = {
        .f = residuals_at, .df = slopes_at, .n = p->residuals, .p = p->axes, .params = s};
    const gsl_vector_view start = gsl_vector_view_array(f->u, p->axes);

    f->converged = gsl_multifit_nlinear_init(&start.vector, &fdf, w) == GSL_SUCCESS && walk(p, w);
    if (s->status)
        return s->status;
    for (size_t j = 0; j < p->axes; j++)
        f->u[j] = gsl_vector_get(gsl_multifit_nlinear_position(w), j);
    gsl_blas_ddot(gsl_multifit_nlinear_residual(w), gsl_multifit_nlinear_residual(w), &f->loss);
    return TL_OK;
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

/* Slopes by the shares z of the ranges. An angle cannot serve here: at the end of a range nothing changes
 * with it. There the difference is taken inwards. */
static int share_slopes(struct search *s, const double *z, gsl_matrix *jacobian)
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
            s->x[k * p->axes + j] = tl_squares_value(&p->axis[j], k == 2 * j       ? low
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
            gsl_matrix_set(jacobian, i, j, rise / width[j]);
        }
    return TL_OK;
}

/* (J'J)^-1 by Householder's QR of J with columns of length 1, which is lost; `tau` is room for it. Not by
 * gsl_multifit_nlinear_covar(), which does not look whether it got its memory. */
static int invert_square(gsl_matrix *j, double *tau, gsl_matrix *out)
{
    double length[TL_SQUARES_MOST] = {0};
    gsl_vector_view room = gsl_vector_view_array(tau, j->size2);
    for (size_t k = 0; k < j->size2; k++) {
        gsl_vector_view column = gsl_matrix_column(j, k);
        length[k] = gsl_blas_dnrm2(&column.vector);
        if (!(length[k] > 0) || !isfinite(length[k]))
            return TL_E_SOLVER;
        gsl_vector_scale(&column.vector, 1 / length[k]);
    }
    if (gsl_linalg_QR_decomp(j, &room.vector))
        return TL_E_SOLVER;
    const gsl_matrix_view r = gsl_matrix_submatrix(j, 0, 0, j->size2, j->size2);
    for (size_t k = 0; k < j->size2; k++)
        if (!(fabs(gsl_matrix_get(j, k, k)) > DBL_EPSILON))
            return TL_E_SOLVER;
    /* columns of R'^-1, whose products are wanted */
    gsl_matrix_set_identity(out);
    gsl_blas_dtrsm(CblasLeft, CblasUpper, CblasTrans, CblasNonUnit, 1, &r.matrix, out);
    gsl_blas_dtrsm(CblasLeft, CblasUpper, CblasNoTrans, CblasNonUnit, 1, &r.matrix, out);
    for (size_t k = 0; k < j->size2; k++)
        for (size_t l = 0; l < j->size2; l++)
            gsl_matrix_set(out, k, l, gsl_matrix_get(out, k, l) / length[k] / length[l]);
    return TL_OK;
}

/* The slope of x by z. */
static double slope_of(const struct tl_squares_axis *a, double x)
{
    return is_bounded(a) ? (scaled(a, a->high) - scaled(a, a->low)) * (a->log ? x : 1) : 1;
}

double tl_squares_quantile(const struct tl_squares_problem *p)
{
    const double level = p->level > 0 ? p->level : 0.9;
    return gsl_cdf_tdist_Pinv((1 + level) / 2, (double)(p->residuals - p->axes));
}

/* What was found, and how well it is known. */
static int read_errors(const struct tl_squares_problem *p, const double *z,
                       const gsl_matrix *covariance, struct tl_squares_result *out)
{
    const double t = tl_squares_quantile(p);
    for (size_t j = 0; j < p->axes; j++) {
        const struct tl_squares_axis *a = &p->axis[j];
        const double variance = gsl_matrix_get(covariance, j, j);
        if (!(variance > 0))
            return TL_E_SOLVER;
        const double error = sqrt(out->scale * variance);
        out->x[j] = tl_squares_value(a, z[j]);
        out->share_error[j] = error;
        out->error[j] = error * slope_of(a, out->x[j]);
        out->low[j] = tl_squares_value(a, z[j] - t * error);
        out->high[j] = tl_squares_value(a, z[j] + t * error);
        for (size_t k = 0; k < p->axes; k++)
            out->correlation[j][k] = gsl_matrix_get(covariance, j, k) /
                                     sqrt(variance * gsl_matrix_get(covariance, k, k));
    }
    return TL_OK;
}

/* How far the residuals lie, for the covariance of an M-estimate with Huber's loss (Huber 1981, Robust
 * Statistics, ch. 7.6, from memory): scale is K^2 (sum of psi^2 / (n - p)) / m^2, m the share of residuals
 * that are not cut, K = 1 + p/n (1 - m)/m. Without the loss m is 1, and it is the usual variance. */
static void read_scale(const struct tl_squares_problem *p, const double *r,
                       struct tl_squares_result *out)
{
    const double n = (double)p->residuals, axes = (double)p->axes;
    double squares = 0, whole = 0;
    for (size_t i = 0; i < p->residuals; i++) {
        const double size = fabs(r[i]);
        const bool cut = p->robust && size > TL_SQUARES_HUBER;
        out->sum += size * size;
        squares += cut ? TL_SQUARES_HUBER * TL_SQUARES_HUBER : size * size;
        whole += !cut;
    }
    const double m = fmax(whole, 1) / n, k = 1 + axes / n * (1 - m) / m;
    out->scale = k * k * squares / (n - axes) / (m * m);
    if (p->scaled)
        out->scale = fmax(1, out->scale);
    out->unit = out->scale * m;
}

static int read_out(struct search *s, const struct found *f, struct tl_squares_result *out,
                    double *weight)
{
    const struct tl_squares_problem *p = s->p;
    double z[TL_SQUARES_MOST] = {0}, tau[TL_SQUARES_MOST],
           square[TL_SQUARES_MOST * TL_SQUARES_MOST];
    gsl_matrix_view covariance = gsl_matrix_view_array(square, p->axes, p->axes);
    gsl_matrix *jacobian = gsl_matrix_alloc(p->residuals, p->axes);
    int status = jacobian ? reckon(s, 1, f->u) : TL_E_MEMORY;

    for (size_t j = 0; j < p->axes; j++)
        z[j] = share_of(&p->axis[j], f->u[j]);
    if (!status)
        read_scale(p, s->r, out);
    for (size_t i = 0; i < p->residuals && weight && !status; i++)
        weight[i] = p->robust ? fmin(1, TL_SQUARES_HUBER / fmax(fabs(s->r[i]), DBL_MIN)) : 1;
    if (!status)
        status = share_slopes(s, z, jacobian);
    if (!status)
        status = invert_square(jacobian, tau, &covariance.matrix);
    if (!status)
        status = read_errors(p, z, &covariance.matrix, out);
    out->loss = f->loss;
    out->converged = f->converged;
    out->evaluations = s->evaluations;
    gsl_matrix_free(jacobian);
    return status;
}

/* Searches from each start; the lowest minimum is left in `best`. */
static int search_all(struct search *s, gsl_multifit_nlinear_workspace *w, struct found *best)
{
    double start[BEST_STARTS + 1][TL_SQUARES_MOST];
    size_t n = 0;
    int status = choose_starts(s, start, &n);

    best->loss = INFINITY;
    for (size_t k = 0; k < n && !status; k++) {
        struct found f = {.loss = INFINITY};
        memcpy(f.u, start[k], sizeof f.u);
        status = descend(s, w, &f);
        if (!status && f.loss < best->loss)
            *best = f;
    }
    return status;
}

static gsl_multifit_nlinear_workspace *room_for(const struct tl_squares_problem *p)
{
    const gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
    return gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, p->residuals, p->axes);
}

int tl_squares_fit(const struct tl_squares_problem *p, struct tl_squares_result *out,
                   double *weight)
{
    struct search s = {0};
    struct found best = {0};

    memset(out, 0, sizeof *out);
    gsl_multifit_nlinear_workspace *w = room_for(p);
    int status = w ? search_new(&s, p) : TL_E_MEMORY;
    if (!status)
        status = search_all(&s, w, &best);
    if (!status)
        status = isfinite(best.loss) ? read_out(&s, &best, out, weight) : TL_E_SOLVER;
    search_free(&s);
    gsl_multifit_nlinear_free(w);
    return status;
}

int tl_squares_descend(const struct tl_squares_problem *p, double *x, double *loss, bool *converged)
{
    struct search s = {0};
    struct found f = {0};

    gsl_multifit_nlinear_workspace *w = p->axes > 0 ? room_for(p) : NULL;
    int status = w || p->axes == 0 ? search_new(&s, p) : TL_E_MEMORY;
    for (size_t j = 0; j < p->axes; j++)
        f.u[j] = angle_of(&p->axis[j], p->start[j]);
    f.converged = true;
    if (!status && p->axes > 0) {
        status = descend(&s, w, &f);
    } else if (!status) {
        status = reckon(&s, 1, f.u);
        f.loss = loss_of(p, s.r);
    }
    for (size_t j = 0; j < p->axes; j++)
        x[j] = value_of(&p->axis[j], f.u[j]);
    *loss = f.loss;
    *converged = f.converged;
    search_free(&s);
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
