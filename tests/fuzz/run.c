/* The whole way: a scenario's text is refused with messages, or a day of it is run; then its ledgers close,
 * every figure is finite, and its summary, its page and its calendar can be written. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "text.h"
#include "towerloop/assess.h"
#include "towerloop/series.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

/* Bounds to a run; the reader has those of a user. */
enum { TRAYS = 24, EVENTS = 300, FISH = 40, COLUMNS = 100, LINES = 52 };
#define ROWS_EVERY_D (1.0 / 24)

struct rows {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot now;
    double *cell;
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct rows *r = arg;
    const int status = tl_model_snapshot(r->model, r->work, c, t_d, y, &r->now);
    if (status != TL_OK)
        return status;
    const struct tl_series_shape shape = tl_series_shape_of(&r->now);
    tl_series_row(&r->now, r->cell);
    for (size_t i = 0; i < tl_series_columns(shape); i++) {
        char name[TL_SERIES_NAME_SIZE];
        tl_series_column_name(shape, i, name, sizeof name);
        tl_fuzz_require(!isinf(r->cell[i]), "%s is %g on day %g", name, r->cell[i], t_d);
    }
    tl_fuzz_require(isfinite(r->now.tank_ph) && isfinite(r->now.temperature_degC),
                    "pH %g at %g degC", r->now.tank_ph, r->now.temperature_degC);
    return TL_OK;
}

static void check_account(const struct tl_ledger_account *a)
{
    for (size_t i = 0; i < a->lines; i++)
        tl_fuzz_require(isfinite(a->line[i].amount), "%s, %s: %g", a->name, a->line[i].key,
                        a->line[i].amount);
    tl_fuzz_require(a->residual_rel <= TL_LEDGER_TOLERANCE, "%s leaves %g", a->name,
                    a->residual_rel);
}

static void check_text(const struct tl_outcome *o)
{
    char *text = NULL;
    size_t size = 0, width = 0;
    for (int units = TL_METRIC; units <= TL_US; units++) {
        FILE *f = open_memstream(&text, &size);
        tl_fuzz_require(f, "no memory");
        tl_fuzz_require(tl_text_report(o, (enum tl_unit_system)units, f), "no memory");
        fclose(f);
        tl_fuzz_require(tl_utf8_fault(text, size) == size, "a report that is not UTF-8");
        tl_fuzz_require(tl_fuzz_lines(text, size) - 1 <= LINES, "a report of %zu lines:\n%s",
                        tl_fuzz_lines(text, size) - 1, text);
        tl_fuzz_require(strstr(text, "licensed electrician"),
                        "no caution of mains beside water:\n%s", text);
        for (char *line = text; *line; line += width + (line[width] == '\n')) {
            width = strcspn(line, "\n");
            char *copy = strndup(line, width);
            tl_fuzz_require(copy, "no memory");
            tl_fuzz_require(tl_utf8_width(copy) <= 80, "wider than 80: %.*s", (int)width, line);
            free(copy);
        }
        free(text);
    }
}

static void check_summary(const struct tl_outcome *o)
{
    char *text = NULL;
    tl_fuzz_require(tl_summary_text(o, &text) == TL_OK, "no summary");
    json_t *root = json_loads(text, 0, NULL);
    tl_fuzz_require(root, "a summary that is no JSON:\n%s", text);
    json_decref(root);
    free(text);
}

static void check_calendar(const struct tl_outcome *o)
{
    char *text = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&text, &size);
    tl_fuzz_require(f, "no memory");
    tl_fuzz_require(tl_jobs_write_csv(o->jobs, o->scenario, f), "no memory");
    tl_fuzz_require(tl_jobs_write_ics(o->jobs, o->scenario, f), "no memory");
    fclose(f);
    tl_fuzz_require(tl_utf8_fault(text, size) == size && strlen(text) == size,
                    "a calendar that is no text");
    free(text);
}

static void check_outcome(const struct tl_scenario *s, const struct tl_assessment *a,
                          struct tl_upkeep *upkeep)
{
    struct tl_jobs jobs;
    tl_fuzz_require(tl_jobs_make(s, upkeep, a->verdict.filter_ready_d, a->end_d, &jobs) == TL_OK,
                    "no jobs");
    struct tl_outcome o = tl_assessment_outcome(a, s);
    o.jobs = &jobs;
    check_summary(&o);
    check_text(&o);
    check_calendar(&o);
    tl_jobs_free(&jobs);
}

static void run(const struct tl_scenario *s, const struct tl_model *m)
{
    struct tl_assessment *a = calloc(1, sizeof *a);
    struct tl_upkeep upkeep = {.days = 0};
    struct rows rows = {.model = m};
    tl_fuzz_require(a && tl_work_new(m, &rows.work) == TL_OK &&
                        tl_snapshot_alloc(m, &rows.now) == TL_OK,
                    "no memory");
    rows.now.trays = s->setup.tower.trays;
    rows.now.sunny = rows.now.green = true;
    rows.cell =
        calloc(tl_series_columns(tl_series_shape_of(&rows.now)) + COLUMNS, sizeof *rows.cell);
    tl_fuzz_require(rows.cell, "no memory");
    const struct tl_observer observer = {.period_d = ROWS_EVERY_D, .see = see, .arg = &rows};
    const struct tl_assess_options options = {
        .observer = &observer, .observers = 1, .upkeep = &upkeep};
    const int status = tl_assess(m, &s->limits, &options, a);
    tl_fuzz_require(status == TL_OK || status == TL_E_SOLVER, "status %d: %s", status, a->fault);
    tl_fuzz_require(status == TL_OK || *a->fault, "no reason");
    if (status == TL_OK) {
        check_account(&a->ledger.nitrogen);
        check_account(&a->ledger.oxygen);
        check_account(&a->ledger.alkalinity);
        check_account(&a->ledger.carbon);
        check_account(&a->ledger.charge);
        check_outcome(s, a, &upkeep);
    }
    tl_upkeep_free(&upkeep);
    tl_snapshot_free(&rows.now);
    tl_work_free(rows.work);
    free(rows.cell);
    free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_scenario s;
    struct tl_model *m = NULL;
    struct tl_diag diag;
    tl_diag_init(&diag);
    const int read =
        tl_scenario_read_text("pond.yaml", (const char *)data, size, NULL, NULL, &s, &diag);
    tl_fuzz_check_messages(&diag, read, "pond.yaml", tl_fuzz_lines(data, size));
    tl_diag_free(&diag);
    if (read != TL_OK)
        return 0;
    if (s.setup.tower.trays <= TRAYS && s.setup.events <= EVENTS && s.setup.fish_groups <= FISH) {
        s.setup.length_d = fmin(s.setup.length_d, 1);
        const int built = tl_model_build(&s.setup, &m);
        tl_fuzz_require(built == TL_OK, "a scenario that was read makes no model: status %d",
                        built);
        run(&s, m);
        tl_model_free(m);
    }
    tl_scenario_free(&s);
    return 0;
}
