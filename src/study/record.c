/* Runs a scenario with its rows recorded, and writes the parts of a run's folder. */
#include "record.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "text.h"
#include "towerloop/series.h"
#include "towerloop/status.h"
#include "written.h"

#define INPUT_FILE_MAX (64u << 20)

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

int tl_record_simulate(const struct tl_scenario *scenario, const struct tl_assess_options *options,
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
        (status = tl_series_open(series_path, &scenario->start, tl_series_shape_of(&r.snapshot),
                                 &r.series)) != TL_OK)
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

/* --- the parts of the folder ------------------------------------------------------------------ */

/* A file of the draft that `write` fills. */
static int write_file(const struct tl_run_folder *f, const char *name,
                      int (*write)(const struct tl_outcome *outcome, FILE *to),
                      const struct tl_outcome *outcome)
{
    struct tl_atomic_file file;
    char *path = tl_run_folder_path(f, name);
    int status = path ? tl_atomic_open(&file, path) : TL_E_MEMORY;
    free(path);
    if (status != TL_OK)
        return status;
    status = write(outcome, file.f);
    if (status == TL_OK)
        return tl_atomic_commit(&file);
    int reason = errno;
    tl_atomic_abort(&file);
    errno = reason;
    return status;
}

static int write_scenario(const struct tl_outcome *outcome, FILE *f)
{
    return tl_scenario_write(outcome->scenario, f);
}

static int write_csv(const struct tl_outcome *outcome, FILE *f)
{
    return tl_jobs_write_csv(outcome->jobs, outcome->scenario, f) ? TL_OK : TL_E_MEMORY;
}

static int write_ics(const struct tl_outcome *outcome, FILE *f)
{
    return tl_jobs_write_ics(outcome->jobs, outcome->scenario, f) ? TL_OK : TL_E_MEMORY;
}

static int copy_input(const struct tl_run_folder *f, const struct tl_scenario *s,
                      enum tl_input which)
{
    char *from = tl_scenario_input_path(s, which);
    struct tl_text to = {0};
    struct tl_atomic_file file;
    char *data = NULL;
    size_t length = 0;

    tl_text_addf(&to, "%s/inputs/%s", f->draft, tl_scenario_input_name(s, which));
    int status = !from || to.failed ? TL_E_MEMORY : tl_run_folder_sub(f, "inputs");
    if (status == TL_OK)
        status = tl_read_plain_file(from, INPUT_FILE_MAX, &data, &length);
    if (status == TL_OK)
        status = tl_atomic_open(&file, tl_text_string(&to));
    if (status == TL_OK) {
        fwrite(data, 1, length, file.f);
        status = tl_atomic_commit(&file);
    }
    free(data);
    free(from);
    tl_text_free(&to);
    return status;
}

static int add_sum(const struct tl_run_folder *f, const char *name, json_t *written)
{
    char *path = tl_run_folder_path(f, name);
    const int status = path ? tl_written_add(written, name, path) : TL_E_MEMORY;
    const int reason = errno;
    free(path);
    errno = reason;
    return status;
}

/* What somebody may edit and run again. */
static int fill_scenario(const struct tl_run_folder *f, const struct tl_outcome *outcome,
                         json_t *written)
{
    const struct tl_scenario *s = outcome->scenario;
    int status = write_file(f, "scenario.yaml", write_scenario, outcome);
    if (status == TL_OK)
        status = add_sum(f, "scenario.yaml", written);
    for (enum tl_input i = 0; status == TL_OK && i < TL_NINPUT; i++) {
        struct tl_text name = {0};
        if (!s->input[i])
            continue;
        tl_text_addf(&name, "inputs/%s", tl_scenario_input_name(s, i));
        status = name.failed ? TL_E_MEMORY : copy_input(f, s, i);
        if (status == TL_OK)
            status = add_sum(f, name.data, written);
        tl_text_free(&name);
    }
    return status;
}

static int fill_results(const struct tl_run_folder *f, const struct tl_outcome *outcome)
{
    int status = TL_OK;
    if (outcome->jobs)
        status = write_file(f, "calendar.csv", write_csv, outcome);
    if (outcome->jobs && status == TL_OK)
        status = write_file(f, "calendar.ics", write_ics, outcome);
    if (status != TL_OK)
        return status;
    char *path = tl_run_folder_path(f, "summary.json");
    status = path ? tl_summary_write(outcome, path) : TL_E_MEMORY;
    free(path);
    return status;
}

int tl_record_fill(const struct tl_run_folder *f, const struct tl_outcome *outcome)
{
    struct tl_outcome told = *outcome;
    told.written = json_object();
    int status = told.written ? fill_scenario(f, outcome, told.written) : TL_E_MEMORY;
    if (status == TL_OK)
        status = fill_results(f, &told);
    json_decref(told.written);
    return status;
}

/* --- the whole of it -------------------------------------------------------------------------- */

static int simulate(const struct tl_run_folder *f, const struct tl_scenario *s,
                    const struct tl_record_options *o, struct tl_assessment *out)
{
    struct tl_model *model = NULL;
    int status;
    if (o->rows) {
        char *series = tl_run_folder_path(f, "series.csv");
        status = series ? tl_record_simulate(s, &o->assess, series, out) : TL_E_MEMORY;
        free(series);
        return status;
    }
    if ((status = tl_model_build(&s->setup, &model)) == TL_OK)
        status = tl_assess(model, &s->limits, &o->assess, out);
    tl_model_free(model);
    return status;
}

int tl_record_run(const struct tl_scenario *scenario, const struct tl_record_options *options,
                  const char *place, char *why, size_t size)
{
    struct tl_run_folder folder = {0};
    struct tl_assessment *a = calloc(1, sizeof *a);
    struct tl_record_options watched = *options;
    struct tl_upkeep upkeep = {.days = 0};
    struct tl_jobs jobs = {.n = 0};
    watched.assess.upkeep = &upkeep;
    *why = '\0';
    errno = 0;
    int status =
        a ? tl_run_folder_begin(&folder, place, NULL, options->force, why, size) : TL_E_MEMORY;
    if (status == TL_OK && (status = simulate(&folder, scenario, &watched, a)) == TL_OK &&
        (status = tl_jobs_make(scenario, &upkeep, a->verdict.filter_ready_d, a->end_d, &jobs)) ==
            TL_OK) {
        struct tl_outcome outcome = tl_assessment_outcome(a, scenario);
        outcome.jobs = &jobs;
        outcome.rtol = options->assess.rtol;
        status = tl_record_fill(&folder, &outcome);
    }
    if (status == TL_OK)
        status = tl_run_folder_commit(&folder, options->force, why, size);
    if (status != TL_OK && !*why)
        tl_format(why, size, "%s",
                  a && a->fault[0]                  ? a->fault
                  : status == TL_E_IO && errno != 0 ? strerror(errno)
                                                    : tl_status_text(status));
    tl_run_folder_end(&folder);
    tl_jobs_free(&jobs);
    tl_upkeep_free(&upkeep);
    free(a);
    return status;
}
