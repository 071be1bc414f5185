/* Runs a scenario and records its rows on the way. */
#include "run_simulate.h"

#include <errno.h>

#include "towerloop/series.h"
#include "towerloop/status.h"

/* Rows have a workspace of their own: solvers start from their last answer there, so sharing the
 * judge's would let `report every` touch the verdict's last digits. */
struct recorder {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot snapshot;
    struct tl_series *series;
};

static int record(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct recorder *r = arg;
    int status = tl_model_snapshot(r->model, r->work, controls, t_d, y, &r->snapshot);
    return status != TL_OK ? status : tl_series_add(r->series, &r->snapshot);
}

int tl_run_simulate(const struct tl_scenario *scenario, const struct tl_assess_options *options,
                    const char *series_path, struct tl_assessment *out)
{
    struct tl_assess_options recorded = *options;
    struct recorder r = {.model = NULL};
    struct tl_model *model = NULL;
    int status;

    out->fault[0] = '\0';
    if ((status = tl_model_build(&scenario->setup, &model)) != TL_OK)
        return status;
    r.model = model;
    if ((status = tl_work_new(model, &r.work)) != TL_OK ||
        (status = tl_snapshot_alloc(model, &r.snapshot)) != TL_OK ||
        (status = tl_series_open(series_path, &scenario->start, r.snapshot.trays, &r.series)) !=
            TL_OK)
        goto done;

    const struct tl_observer recorder = {
        .period_d = scenario->report_every_d, .see = record, .arg = &r};
    recorded.observer = &recorder;
    recorded.observers = 1;
    if ((status = tl_assess(model, &scenario->limits, &recorded, out)) != TL_OK)
        goto done;
    status = tl_series_close(r.series);
    r.series = NULL;

done:;
    int reason = errno;
    tl_series_abort(r.series);
    tl_snapshot_free(&r.snapshot);
    tl_work_free(r.work);
    tl_model_free(model);
    errno = reason;
    return status;
}
