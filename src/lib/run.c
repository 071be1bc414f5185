/* The facade's run: begun at the first need, held anywhere, recorded as a table on its way. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "handle.h"

static int record(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct tl_loop *l = arg;
    const int status = tl_model_snapshot(l->model, l->work, controls, t_d, y, &l->snapshot);
    if (status)
        return status;
    if (l->rows == l->capacity)
        return TL_E_MEMORY;
    tl_series_row(&l->snapshot, l->cell);
    for (size_t c = 0; c < l->columns; c++)
        l->table[c * l->capacity + l->rows] = l->cell[c];
    l->rows++;
    return TL_OK;
}

static void progress(void *arg, double done)
{
    struct tl_loop *l = arg;
    if (l->watch && l->watch(l->watch_arg, tl_loop_time_d(l), done) != 0)
        l->stop = 1;
}

static int begin(struct tl_loop *l)
{
    const struct tl_observer recorder = {
        .period_d = l->scenario.report_every_d, .see = record, .arg = l};
    const struct tl_assess_options options = {
        .rtol = l->rtol,
        .observer = &recorder,
        .observers = 1,
        .interrupted = &l->stop,
        .progress = progress,
        .progress_arg = l,
    };
    l->table = calloc(l->columns, l->capacity * sizeof *l->table);
    l->cell = calloc(l->columns, sizeof *l->cell);
    if (!l->table || !l->cell)
        return TL_E_MEMORY;
    int status = tl_work_new(l->model, &l->work);
    if (!status)
        status = tl_snapshot_alloc(l->model, &l->snapshot);
    if (!status)
        status = tl_trial_new(l->model, &l->scenario.limits, &options, &l->trial);
    return status;
}

int tl_loop_begin(struct tl_loop *l)
{
    if (!l->model)
        return tl_loop_fail(l, TL_E_INPUT, "the scenario could not be read");
    if (l->trial || l->failed)
        return l->failed;
    l->failed = begin(l);
    if (l->failed)
        (void)tl_loop_fail(l, l->failed, "%s", tl_status_text(l->failed));
    return l->failed;
}

int tl_loop_set_rtol(struct tl_loop *l, double rtol)
{
    if (l->trial)
        return tl_loop_fail(l, TL_E_INPUT, "the run has begun, its tolerance stays as it is");
    if (!(rtol >= TL_RTOL_LEAST && rtol <= TL_RTOL_MOST))
        return tl_loop_fail(l, TL_E_INPUT, "the tolerance %g is not from %g to %g", rtol,
                            TL_RTOL_LEAST, TL_RTOL_MOST);
    l->rtol = rtol;
    return TL_OK;
}

void tl_loop_watch(struct tl_loop *l, int (*watch)(void *arg, double t_d, double done), void *arg)
{
    l->watch = watch;
    l->watch_arg = arg;
}

/* The run has come to its end, or can go no further. */
static int finish(struct tl_loop *l, int status)
{
    l->failed = tl_trial_finish(l->trial, status, &l->assessment);
    l->judged = l->failed == TL_OK;
    if (l->failed)
        (void)tl_loop_fail(l, l->failed, "%s",
                           l->assessment.fault[0] ? l->assessment.fault
                                                  : tl_status_text(l->failed));
    return l->failed;
}

int tl_loop_advance(struct tl_loop *l, double t_d)
{
    if (isnan(t_d))
        return tl_loop_fail(l, TL_E_INPUT, "the day to go on to is not a number");
    if (l->running)
        return tl_loop_fail(l, TL_E_INPUT, "the loop is running already");
    int status = tl_loop_begin(l);
    if (status || l->judged)
        return status;

    l->stop = 0;
    l->running = true;
    status = tl_trial_advance(l->trial, t_d);
    l->running = false;
    if (status == TL_E_INTERRUPTED)
        return tl_loop_fail(l, status, "stopped at day %.4f", tl_loop_time_d(l));
    if (status || t_d >= tl_loop_end_d(l))
        return finish(l, status);
    return TL_OK;
}

int tl_loop_run(struct tl_loop *l)
{
    return tl_loop_advance(l, INFINITY);
}

double tl_loop_time_d(const struct tl_loop *l)
{
    return l->trial ? tl_engine_time(tl_trial_engine(l->trial)) : tl_loop_start_d(l);
}

/* --- the table ---------------------------------------------------------------------------------- */

size_t tl_loop_columns(const struct tl_loop *l)
{
    return l->model ? l->columns : 0;
}

const char *tl_loop_column_name(const struct tl_loop *l, size_t column)
{
    return column < tl_loop_columns(l) ? l->name[column] : NULL;
}

int tl_loop_find_column(const struct tl_loop *l, const char *name)
{
    for (size_t c = 0; c < tl_loop_columns(l); c++)
        if (strcmp(l->name[c], name) == 0)
            return (int)c;
    return -1;
}

size_t tl_loop_rows(const struct tl_loop *l)
{
    return l->rows;
}

size_t tl_loop_rows_planned(const struct tl_loop *l)
{
    return l->model ? l->capacity : 0;
}

const double *tl_loop_column(const struct tl_loop *l, size_t column)
{
    return l->table && column < l->columns ? l->table + column * l->capacity : NULL;
}

int tl_loop_value(struct tl_loop *l, const char *column, double *value)
{
    int status = TL_OK;
    if (!l->trial)
        status = tl_loop_begin(l);
    if (status)
        return status;
    const int c = tl_loop_find_column(l, column);
    if (c < 0)
        return tl_loop_fail(l, TL_E_INPUT, "there is no column \"%s\"", column);
    const struct tl_engine *e = tl_trial_engine(l->trial);
    status = tl_model_snapshot(l->model, l->work, tl_engine_controls(e), tl_engine_time(e),
                               tl_engine_state(e), &l->snapshot);
    if (status)
        return tl_loop_fail(l, status, "the water cannot be evaluated at day %.4f",
                            tl_engine_time(e));
    tl_series_row(&l->snapshot, l->cell);
    *value = l->cell[c];
    return TL_OK;
}
