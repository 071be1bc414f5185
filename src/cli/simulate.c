/* One run: model, engine, and the two observers (the judge every 5 minutes, the rows as often as the
 * scenario says), then the ledger. */
#include "simulate.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text.h"
#include "towerloop/series.h"
#include "towerloop/status.h"

/* What an observer works with. Each has a workspace of its own: solvers start from their last answer
 * there, so sharing one would let the rows touch the verdict's last digits. */
struct watch {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot snapshot;
    /* the judge's */
    struct tl_judge *judge;
    struct tl_ranges *ranges;
    /* the recorder's */
    struct tl_series *series;
};

static int watch_new(const struct tl_model *model, struct watch *w)
{
    w->model = model;
    int status = tl_work_new(model, &w->work);
    return status != TL_OK ? status : tl_snapshot_alloc(model, &w->snapshot);
}

static void watch_free(struct watch *w)
{
    tl_judge_free(w->judge);
    tl_series_abort(w->series);
    tl_snapshot_free(&w->snapshot);
    tl_work_free(w->work);
}

static int judge(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct watch *w = arg;
    struct tl_snapshot *s = &w->snapshot;
    int status = tl_model_snapshot(w->model, w->work, controls, t_d, y, s);
    if (status != TL_OK)
        return status;
    tl_ranges_add(w->ranges, s);
    return tl_judge_add(w->judge, t_d, s->temperature_degC, s->tank, s->tank_ph);
}

static int record(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct watch *w = arg;
    int status = tl_model_snapshot(w->model, w->work, controls, t_d, y, &w->snapshot);
    return status != TL_OK ? status : tl_series_add(w->series, &w->snapshot);
}

/* A line for the user where the failure has not left one. */
static void explain(int status, int reason, const struct tl_engine *engine,
                    struct tl_simulation *out)
{
    if (status == TL_OK || out->fault[0] != '\0')
        return;
    const char *said = engine ? tl_engine_fault(engine) : "";
    if (status == TL_E_SOLVER && *said)
        tl_format(out->fault, sizeof out->fault, "%s", said);
    else if (status == TL_E_IO)
        tl_format(out->fault, sizeof out->fault, "series.csv cannot be written: %s",
                  strerror(reason));
    else
        tl_format(out->fault, sizeof out->fault, "%s", tl_status_text(status));
}

int tl_simulate(const struct tl_scenario *scenario, double rtol, const volatile int *interrupted,
                const char *series_path, struct tl_simulation *out)
{
    const struct tl_limits *limits = &scenario->limits;
    struct tl_model *model = NULL;
    struct tl_engine *engine = NULL;
    struct watch judging = {.ranges = &out->ranges}, recording = {.model = NULL};
    int status;

    memset(out, 0, sizeof *out);
    out->fish_lost_d = NAN;
    tl_ranges_init(&out->ranges, &scenario->setup,
                   isnan(limits->tan_caution) || isnan(limits->tan_danger));

    if ((status = tl_model_build(&scenario->setup, &model)) != TL_OK)
        goto done;
    if ((status = watch_new(model, &judging)) != TL_OK ||
        (status = watch_new(model, &recording)) != TL_OK ||
        (status = tl_judge_new(limits, scenario->setup.length_d, &judging.judge)) != TL_OK ||
        (status = tl_series_open(series_path, &scenario->start, scenario->setup.tower.trays,
                                 &recording.series)) != TL_OK)
        goto done;

    const struct tl_observer observers[] = {
        {.period_d = TL_VERDICT_PERIOD_D, .see = judge, .arg = &judging},
        {.period_d = scenario->report_every_d, .see = record, .arg = &recording},
    };
    const struct tl_engine_options options = {
        .rtol = rtol, .observer = observers, .observers = 2, .interrupted = interrupted};
    if ((status = tl_engine_new(model, &options, &engine)) != TL_OK ||
        (status = tl_engine_advance(engine, tl_engine_end(engine))) != TL_OK)
        goto done;

    out->end_d = tl_engine_time(engine);
    out->stats = *tl_engine_stats(engine);
    out->fish_lost_d = tl_engine_fish_lost_d(engine);
    tl_judge_finish(judging.judge, &out->verdict);
    tl_ledger_draw_up(model, tl_engine_start_state(engine), tl_engine_state(engine),
                      scenario->setup.length_d, &out->ledger);
    if ((status = tl_ledger_check(&out->ledger, out->fault, sizeof out->fault)) != TL_OK)
        goto done;
    status = tl_series_close(recording.series);
    recording.series = NULL;

done:
    explain(status, errno, engine, out);
    watch_free(&judging);
    watch_free(&recording);
    tl_engine_free(engine);
    tl_model_free(model);
    return status;
}
