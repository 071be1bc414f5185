/* The charts of a comparison: what all variants share, and the folders their rows lie in. */
#include "compare_drawing.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chart_extremes.h"
#include "compare_chart.h"
#include "compare_data.h"
#include "place.h"
#include "run_series.h"
#include "text.h"
#include "towerloop/diag.h"
#include "towerloop/status.h"

static bool same_limit(const struct tl_chart_limit *a, const struct tl_chart_limit *b)
{
    return a->quantity == b->quantity && a->level == b->level && a->side == b->side &&
           (a->value == b->value || (isnan(a->value) && isnan(b->value))) &&
           a->chloride_ratio == b->chloride_ratio && a->highest == b->highest;
}

/* Those of all the variants that are drawn, each once. */
static size_t all_limits(const struct tl_compare_shown *variant, size_t variants,
                         struct tl_compare_limit out[TL_COMPARE_LIMITS])
{
    size_t n = 0;
    for (size_t i = 0; i < variants && i < TL_COMPARE_PAGE; i++) {
        struct tl_chart_limit own[TL_CHART_LIMITS];
        const size_t owns = tl_chart_limits(&variant[i].scenario->limits, own, TL_CHART_LIMITS);
        for (size_t k = 0; k < owns; k++) {
            size_t at = 0;
            while (at < n && !same_limit(&out[at].limit, &own[k]))
                at++;
            if (at == n && n < TL_COMPARE_LIMITS)
                out[n++] = (struct tl_compare_limit){.limit = own[k]};
            if (at < n)
                out[at].of |= UINT32_C(1) << i;
        }
    }
    return n;
}

/* Of a run of another version it cannot be told. */
static int find_extremes(const struct tl_compare_shown *variant,
                         struct tl_chart_extreme out[TL_CHART_EXTREMES], size_t *n,
                         struct tl_chart_outcome *outcome)
{
    struct tl_run_result result;
    const int status = tl_run_result_load(variant->folder, &result);
    *n = status == TL_OK ? tl_chart_extremes_of(&result, out) : 0;
    if (status == TL_E_IO)
        (void)tl_format(outcome->fault, sizeof outcome->fault, "%s/summary.json: %s",
                        variant->folder, strerror(errno));
    return status == TL_E_INPUT ? TL_OK : status;
}

int tl_compare_draw(const struct tl_compare_shown *variant, size_t n, const char *charts,
                    unsigned formats, const volatile int *interrupted,
                    struct tl_chart_outcome *outcome)
{
    struct tl_compare_limit limit[TL_COMPARE_LIMITS];
    struct tl_compare_curves *curves = calloc(n, sizeof *curves);
    char **path = calloc(n, sizeof *path);
    struct tl_chart_extreme(*extreme)[TL_CHART_EXTREMES] = calloc(n, sizeof *extreme);
    int status = curves && path && extreme ? TL_OK : TL_E_MEMORY;
    bool outdoors = false;
    for (size_t i = 0; i < n && status == TL_OK; i++) {
        const enum tl_temperature_kind kind = variant[i].scenario->setup.temperature.kind;
        outdoors = outdoors || kind == TL_TEMPERATURE_WEATHER;
        path[i] = tl_place_below(variant[i].folder, "series.csv");
        curves[i] = (struct tl_compare_curves){
            .name = variant[i].name, .series_csv = path[i], .extreme = extreme[i]};
        status = path[i] ? find_extremes(&variant[i], extreme[i], &curves[i].extremes, outcome)
                         : TL_E_MEMORY;
    }
    if (status == TL_OK) {
        const struct tl_compare_chart chart = {
            .out_dir = charts,
            .title = variant[0].scenario->title,
            .variant = curves,
            .variants = n,
            .limit = limit,
            .limits = all_limits(variant, n, limit),
            .start_year = variant[0].scenario->start.year,
            .start_month = variant[0].scenario->start.month,
            .start_day = variant[0].scenario->start.day,
            .outdoors = outdoors,
            .formats = formats,
            .interrupted = interrupted,
        };
        status = tl_compare_chart_draw(&chart, outcome);
    }
    for (size_t i = 0; path && i < n; i++)
        free(path[i]);
    free(path);
    free(extreme);
    free(curves);
    return status;
}

/* --- from a folder ---------------------------------------------------------------------------------- */

/* The scenario of a run; it was written by us, so there is nothing to be told about it. */
static int read_quietly(const char *folder, struct tl_scenario *out)
{
    struct tl_diag diag;
    char *path = tl_place_below(folder, "scenario.yaml");
    tl_diag_init(&diag);
    const int status = path ? tl_scenario_read(path, NULL, out, &diag) : TL_E_MEMORY;
    tl_diag_free(&diag);
    free(path);
    return status;
}

static int draw_data(const struct tl_compare_data *d, const char *charts,
                     const volatile int *interrupted, struct tl_chart_outcome *outcome)
{
    struct tl_scenario *scenario = calloc(d->variants, sizeof *scenario);
    struct tl_compare_shown *shown = calloc(d->variants, sizeof *shown);
    size_t read = 0;
    int status = scenario && shown ? TL_OK : TL_E_MEMORY;
    for (; read < d->variants && status == TL_OK; read++) {
        status = read_quietly(d->variant[read].folder, &scenario[read]);
        if (status != TL_OK)
            break;
        shown[read] = (struct tl_compare_shown){d->variant[read].name, d->variant[read].folder,
                                                &scenario[read]};
    }
    if (status == TL_OK)
        status = tl_compare_draw(shown, d->variants, charts, TL_CHART_SVG, interrupted, outcome);
    for (size_t i = 0; i < read; i++)
        tl_scenario_free(&scenario[i]);
    free(scenario);
    free(shown);
    return status;
}

int tl_compare_draw_again(const char *folder, const char *charts, const volatile int *interrupted,
                          struct tl_chart_outcome *outcome)
{
    struct tl_compare_data d;
    *outcome = (struct tl_chart_outcome){.lacks = TL_CHART_LACKS_NOTHING};
    int status = tl_compare_data_load(folder, &d, outcome->fault, sizeof outcome->fault);
    if (status == TL_OK)
        status = draw_data(&d, charts, interrupted, outcome);
    tl_compare_data_free(&d);
    return status;
}

int tl_compare_check_series(const char *folder, const volatile int *interrupted, char *why,
                            size_t size)
{
    struct tl_compare_data d;
    int status = tl_compare_data_load(folder, &d, why, size);
    for (size_t i = 0; i < d.variants && !status; i++)
        status = tl_run_series_check(d.variant[i].folder, interrupted, why, size);
    tl_compare_data_free(&d);
    return status;
}

char *tl_compare_first_scenario(const char *folder, char *why, size_t size)
{
    struct tl_compare_data d;
    char *path = NULL;
    const int status = tl_compare_data_load(folder, &d, why, size);
    if (status == TL_OK)
        path = tl_place_below(d.variant[0].folder, "scenario.yaml");
    else if (status == TL_E_MEMORY)
        tl_format(why, size, "%s", tl_status_text(status));
    tl_compare_data_free(&d);
    return path;
}
