/* A run's series.csv as `chart` and `report` read it: all that goes to the plotter is written, which itself is not
 * started, and the curves are asked for as numbers. */
#include <math.h>
#include <string.h>

#include "chart_table.h"
#include "fuzz.h"
#include "loop_state.h"
#include "text.h"
#include "towerloop/chart.h"
#include "towerloop/status.h"

#define NO_PLOTS "/no/plots" /* where the scripts lie: so it ends before the plotter is started */

static void check_failure(int status, const char *fault)
{
    tl_fuzz_require(status == TL_OK || status == TL_E_CHART || status == TL_E_IO, "status %d",
                    status);
    tl_fuzz_require(status == TL_OK || *fault, "no reason for status %d", status);
}

static void check_range(struct tl_chart_range r, const char *heading)
{
    tl_fuzz_require(!(r.low > r.high), "%s: %g to %g", heading, r.low, r.high);
    tl_fuzz_require(!isinf(r.low) && !isinf(r.high), "%s: %g to %g", heading, r.low, r.high);
}

static void check_chart(const struct tl_chart_tables *t, enum tl_chart_id id)
{
    char text[TL_CHART_HEADING_SIZE];
    for (size_t column = 0; column < tl_chart_tables_columns(t, id); column++) {
        tl_chart_tables_heading(t, id, column, text);
        tl_fuzz_require(*text && tl_is_plain_text(text), "heading %zu of %s", column,
                        tl_chart_name(id));
        check_range(tl_chart_tables_cell(t, id, column, TL_WHOLE_RUN), text);
        for (size_t row = 0; row < tl_chart_tables_rows(t); row++)
            check_range(tl_chart_tables_cell(t, id, column, row), text);
    }
}

static bool check_tables(int status, struct tl_chart_tables *t, const struct tl_chart_outcome *o)
{
    char phases[TL_CHART_PHASES_SIZE];
    check_failure(status, o->fault);
    if (status != TL_OK)
        return false;
    for (int id = 0; id < TL_NCHART; id++)
        check_chart(t, (enum tl_chart_id)id);
    for (size_t row = 0; row < tl_chart_tables_rows(t); row++) {
        tl_fuzz_require(isfinite(tl_chart_tables_from_d(t, row)), "row %zu begins nowhere", row);
        tl_chart_tables_phases(t, row, phases);
    }
    for (size_t tray = 0; tray <= tl_chart_tables_trays(t); tray++)
        for (size_t column = 0; column < tl_chart_profile_columns(); column++)
            check_range(tl_chart_tables_tray(t, tray, column).range, "profile");
    tl_chart_tables_free(t);
    return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct tl_chart_event event[] = {{.t_d = 0.5, .end_d = 0.75, .text = "pump off"},
                                                  {.t_d = 1, .text = "salt"},
                                                  {.t_d = 1.0001, .text = "salt"},
                                                  {.t_d = 40, .text = "20 koi come"}};
    static const double meal_d[] = {0.25, 0.75};
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_tables *tables;
    struct tl_limits limits;
    struct tl_loop_state state;
    char series[256], charts[256], why[TL_CHART_FAULT_SIZE] = "";
    tl_fuzz_put("series.csv", data, size);
    tl_format(series, sizeof series, "%s", tl_fuzz_path("series.csv"));
    tl_format(charts, sizeof charts, "%s", tl_fuzz_path("charts"));
    tl_limits_default(&limits);
    struct tl_chart_options o = {.series_csv = series,
                                 .out_dir = charts,
                                 .plots_dir = NO_PLOTS,
                                 .title = "A pond",
                                 .start_year = 2027,
                                 .start_month = 5,
                                 .start_day = 1,
                                 .event = event,
                                 .events = sizeof event / sizeof *event,
                                 .limit = limit,
                                 .limits = tl_chart_limits(&limits, limit, TL_CHART_LIMITS),
                                 .starting = true,
                                 .ready_d = 20,
                                 .ready_tan_mgN_L = 1,
                                 .ready_no2_mgN_L = 0.5,
                                 .meal_d = meal_d,
                                 .meals = sizeof meal_d / sizeof *meal_d};
    int status = tl_charts_draw(&o, &outcome);
    tl_fuzz_require(status == TL_E_CHART || status == TL_E_IO, "status %d", status);
    check_failure(status, outcome.fault);
    const bool drawn = strncmp(outcome.fault, NO_PLOTS, strlen(NO_PLOTS)) == 0;
    o.units = TL_US;
    status = tl_chart_tables_read(&o, 0, &outcome, &tables);
    bool told = check_tables(status, tables, &outcome);
    status = tl_chart_tables_read_startup(&o, &outcome, &tables);
    told &= check_tables(status, tables, &outcome);
    status = tl_chart_tables_read_day(&o, &outcome, &tables);
    told &= check_tables(status, tables, &outcome);
    tl_fuzz_require(told == drawn, "of charts and their numbers only one can be had");
    check_failure(tl_loop_state_read(series, NULL, &state, why, sizeof why), why);
    return 0;
}
