/* Runs of a scenario with other values, shared out over threads. */
#include "fit_runs.h"

#include <math.h>
#include <stdlib.h>

#include "fit_course.h"
#include "pool.h"
#include "settings.h"
#include "text.h"
#include "towerloop/status.h"

#define RTOL 1e-6 /* differences of runs are taken */

struct batch {
    struct tl_fit_runs *r;
    const double *x;
    double *value;
};

void tl_fit_setting(const struct tl_fit_quantity *q, double value, char text[TL_FIT_SETTING])
{
    const char *unit = tl_dim_base_unit(q->dim);
    (void)tl_format(text, TL_FIT_SETTING, "%s=%.17g%s%s", q->path, value, *unit ? " " : "", unit);
}

int tl_fit_read(const struct tl_fit_bench *b, const char *const *set, size_t sets,
                struct tl_scenario *out, struct tl_diag *diag)
{
    return tl_settings_read(b->file, b->set, b->sets, set, sets, out, diag);
}

static int run_one(void *arg, size_t i)
{
    const struct batch *batch = arg;
    const struct tl_fit_runs *r = batch->r;
    char text[TL_SQUARES_MOST + 1][TL_FIT_SETTING];
    const char *set[TL_SQUARES_MOST + 1];
    double *value = &batch->value[i * r->rows];
    size_t sets = 0;
    struct tl_scenario s;
    struct tl_diag diag;

    for (; sets < r->n; sets++)
        tl_fit_setting(r->quantity[sets], batch->x[i * r->n + sets], text[sets]);
    if (r->length_d > 0)
        (void)tl_format(text[sets++], TL_FIT_SETTING, "length=%.17g d", r->length_d);
    for (size_t k = 0; k < sets; k++)
        set[k] = text[k];
    for (size_t k = 0; k < r->rows; k++)
        value[k] = NAN;
    tl_diag_init(&diag);
    int status = tl_fit_read(r->bench, set, sets, &s, &diag);
    tl_diag_free(&diag);
    if (status == TL_OK) {
        const struct tl_fit_course c = {
            .row = r->row, .rows = r->rows, .rtol = RTOL, .interrupted = r->bench->interrupted};
        status = tl_fit_course(&s, &c, value);
        tl_scenario_free(&s);
    }
    return status == TL_E_INPUT || status == TL_E_SOLVER ? TL_OK : status;
}

static void count(void *arg, size_t done, size_t jobs)
{
    struct tl_fit_runs *r = arg;
    (void)done, (void)jobs;
    r->runs++;
    if (r->bench->progress)
        r->bench->progress(r->bench->progress_arg, r->runs);
}

int tl_fit_run(struct tl_fit_runs *r, size_t points, const double *x, double *value)
{
    struct batch batch = {.r = r, .x = x};
    batch.value = value;
    const struct tl_pool pool = {.job = run_one,
                                 .arg = &batch,
                                 .jobs = points,
                                 .threads = r->bench->threads,
                                 .interrupted = r->bench->interrupted,
                                 .progress = count,
                                 .progress_arg = r};
    return tl_pool_run(&pool);
}
