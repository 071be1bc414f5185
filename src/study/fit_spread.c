/* The intervals of a fit as ranges for a spread, among the other things that are not known for sure. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_runs.h"
#include "number_at.h"
#include "spread_inputs.h"
#include "towerloop/status.h"

#define QUANTILE  1.645 /* of the normal distribution: 90 % two-sided */
#define WHAT_SIZE 256

/* Wide enough for the farther end on both sides; where an end is open, any value up to it alike. */
static struct tl_distribution range_of(const struct tl_fit *f, size_t j,
                                       const struct tl_number_at *at)
{
    const struct tl_fit_interval i = tl_fit_interval(f, j);
    const double x = f->result.x[j];
    struct tl_distribution d = {
        .kind = TL_UNIFORM, .a = i.low, .b = i.high, .min = at->min, .max = at->max};
    if (!i.low_open && !i.high_open && i.low > 0) {
        d.kind = TL_LOGNORMAL;
        d.a = x;
        d.b = pow(fmax(i.high / x, x / i.low), 1 / QUANTILE);
    }
    return d;
}

/* The row of a path, a new one if need be; NULL: there is no room. */
static struct tl_uncertain *row_of(struct tl_scenario *s, const char *path)
{
    for (size_t i = 0; i < s->spreads; i++)
        if (strcmp(s->spread[i].path, path) == 0)
            return &s->spread[i];
    if (s->spreads == TL_UNCERTAIN_MOST)
        return NULL;
    memcpy(s->spread[s->spreads].path, path, strlen(path) + 1);
    return &s->spread[s->spreads++];
}

int tl_fit_spread(const struct tl_fit_bench *b, const struct tl_fit *f, struct tl_scenario *s,
                  struct tl_diag *diag)
{
    char what[WHAT_SIZE], expected[WHAT_SIZE];
    struct tl_spread_input *input = NULL;
    size_t n = 0;
    int status = tl_spread_inputs_read(b->file, b->set, b->sets, TL_SPREAD_OWN, &input, &n, diag);
    struct tl_uncertain *row = calloc(TL_UNCERTAIN_MOST, sizeof *row);
    if (!row)
        status = TL_E_MEMORY;
    if (status) {
        free(input);
        free(row);
        return status;
    }
    free(s->spread);
    s->spread = row;
    s->spreads = n;
    for (size_t i = 0; i < n; i++) {
        row[i] = (struct tl_uncertain){.dim = input[i].dim, .d = input[i].d};
        memcpy(row[i].path, input[i].path, sizeof row[i].path);
    }
    free(input);
    for (size_t j = 0; j < f->n && !status; j++) {
        const struct tl_fit_quantity *q = &f->quantity[f->fitted[j]];
        struct tl_number_at at;
        struct tl_uncertain *r = row_of(s, q->path);
        status =
            r ? tl_scenario_number_at(s, q->path, &at, what, expected, sizeof what) : TL_E_INPUT;
        if (!status) {
            r->dim = q->dim;
            r->d = range_of(f, j, &at);
        }
    }
    return status;
}
