/* What readings can tell: the parameters whose slopes are long enough, and not along one another. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "fit_runs.h"
#include "number_at.h"
#include "text.h"
#include "towerloop/status.h"

#define QUANTILE 1.645 /* of the normal distribution: 90 % two-sided */
#define NOTHING  100   /* times the range: all but the errors of two runs */
#define ENOUGH   0.5   /* the 90 % interval takes less than so much of the range */

static const struct {
    const char *path;
    double low, high;
    const char *source;
} known[] = {
#define ROW(path, low, high, source) {path, low, high, source},
    TL_FIT_LIST(ROW)
#undef ROW
};

int tl_fit_quantity(const struct tl_scenario *s, const char *path, struct tl_fit_quantity *out,
                    char *what, char *expected, size_t size)
{
    struct tl_number_at at;
    double low = 0.5, high = 2;

    int status = tl_scenario_number_at(s, path, &at, what, expected, size);
    if (status)
        return status;
    if (at.whole || strlen(path) >= TL_FIT_PATH) {
        (void)tl_format(what, size, "it is counted, and a fit needs what can change by little");
        (void)tl_format(expected, size, "a quantity, as parameters.mu_aob or pump.flow");
        return TL_E_INPUT;
    }
    *out = (struct tl_fit_quantity){.dim = at.dim,
                                    .given = at.value,
                                    .source = "half to twice its value",
                                    .told = NAN,
                                    .not_from = -1};
    memcpy(out->path, path, strlen(path) + 1);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i].path, path) == 0) {
            low = known[i].low;
            high = known[i].high;
            out->source = known[i].source;
        }
    if (at.value > 0) {
        out->range = (struct tl_squares_axis){fmax(low * at.value, at.min),
                                              fmin(high * at.value, at.max), true};
    } else {
        out->range = (struct tl_squares_axis){at.min, at.max, false};
        out->source = "all that the key allows";
    }
    if (out->range.low < out->range.high)
        return TL_OK;
    (void)tl_format(what, size, "it can have no other value than it has");
    return TL_E_INPUT;
}

/* --- choosing ----------------------------------------------------------------------------------- */

static double product(const double *jacobian, size_t rows, size_t columns, size_t a, size_t b)
{
    double sum = 0;
    for (size_t i = 0; i < rows; i++)
        sum += jacobian[i * columns + a] * jacobian[i * columns + b];
    return sum;
}

/* Half a 90 % interval as a share of the range, by the standard error of u: the range is 2 in sin u. */
static double share_of(double variance)
{
    return QUANTILE * sqrt(variance) / 2;
}

/* The widest of the shares when these are fitted together; INFINITY: they cannot be. */
static double widest(const double *jacobian, size_t rows, size_t columns, const size_t *column,
                     size_t n)
{
    double normal[TL_SQUARES_MOST * TL_SQUARES_MOST] = {0};
    double most = 0;
    gsl_matrix_view m = gsl_matrix_view_array(normal, n, n);
    for (size_t a = 0; a < n; a++)
        for (size_t b = 0; b < n; b++)
            gsl_matrix_set(&m.matrix, a, b, product(jacobian, rows, columns, column[a], column[b]));
    if (gsl_linalg_cholesky_decomp1(&m.matrix) || gsl_linalg_cholesky_invert(&m.matrix))
        return INFINITY;
    for (size_t a = 0; a < n; a++)
        most = fmax(most, share_of(gsl_matrix_get(&m.matrix, a, a)));
    return most;
}

/* The quantity among `fitted` whose slopes are most like those of `j`. */
static int likest(const double *jacobian, size_t rows, size_t columns, size_t j,
                  const size_t *fitted, size_t n)
{
    double most = -1;
    int found = -1;
    for (size_t k = 0; k < n; k++) {
        const double like = fabs(product(jacobian, rows, columns, j, fitted[k])) /
                            sqrt(product(jacobian, rows, columns, fitted[k], fitted[k]));
        if (like > most) {
            most = like;
            found = (int)fitted[k];
        }
    }
    return found;
}

/* What each is told by the readings if nothing else is fitted. */
static void look_alone(struct tl_fit_quantity *q, size_t quantities, const double *jacobian,
                       size_t residuals)
{
    for (size_t j = 0; j < quantities; j++) {
        q[j].told = share_of(1 / product(jacobian, residuals, quantities, j, j));
        q[j].chosen = q[j].taken_back = false;
        q[j].not_from = -1;
    }
}

size_t tl_fit_take_asked(struct tl_fit_quantity *q, size_t quantities, const double *jacobian,
                         size_t residuals, size_t *fitted)
{
    size_t n = 0;
    look_alone(q, quantities, jacobian, residuals);
    for (size_t j = 0; j < quantities; j++) {
        q[j].chosen = q[j].told < NOTHING;
        q[j].taken_back = !q[j].chosen;
        if (q[j].chosen)
            fitted[n++] = j;
    }
    return n;
}

size_t tl_fit_choose(struct tl_fit_quantity *q, size_t quantities, const double *jacobian,
                     size_t residuals, size_t most, size_t *fitted)
{
    size_t n = 0;
    look_alone(q, quantities, jacobian, residuals);
    for (bool more = true; more && n < most && n < TL_SQUARES_MOST;) {
        double least = ENOUGH / 2;
        more = false;
        for (size_t j = 0; j < quantities; j++) {
            if (q[j].chosen || !(q[j].told < ENOUGH / 2))
                continue;
            size_t with[TL_SQUARES_MOST];
            memcpy(with, fitted, n * sizeof *fitted);
            with[n] = j;
            const double one = widest(jacobian, residuals, quantities, with, n + 1);
            if (one < least) {
                least = one;
                fitted[n] = j;
                more = true;
            }
        }
        if (more)
            q[fitted[n++]].chosen = true;
    }
    for (size_t j = 0; j < quantities; j++)
        if (!q[j].chosen && q[j].told < ENOUGH / 2)
            q[j].not_from = likest(jacobian, residuals, quantities, j, fitted, n);
    return n;
}
