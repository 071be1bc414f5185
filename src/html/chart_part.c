/* The charts of a run, each with the numbers it was drawn from. */
#include <stdlib.h>

#include "chart_extremes.h"
#include "numbers.h"
#include "parts.h"
#include "place.h"
#include "towerloop/status.h"

/* In the order a newcomer reads: all at a glance first. */
static const enum tl_chart_id order[TL_NCHART] = {
    TL_CHART_OVERVIEW,    TL_CHART_STARTUP,  TL_CHART_DAY,    TL_CHART_TRAYS,
    TL_CHART_AMMONIA,     TL_CHART_NITROGEN, TL_CHART_OXYGEN, TL_CHART_PH_ALKALINITY,
    TL_CHART_TEMPERATURE, TL_CHART_BIOFILM};

enum span { RUN, STARTUP, DAY, SPANS };
static const char *const over[SPANS] = {
    "Over the run:", "While the filter starts up:", "Over the day:"};

struct charts {
    struct tl_html *h;
    const struct tl_run_data *d;
    struct tl_chart_tables *tables[SPANS];
};

/* Where the numbers of a chart are; SPANS: it is not drawn for this run. */
static enum span span_of(const struct charts *c, enum tl_chart_id id)
{
    enum span s = RUN;
    while (s < SPANS && tl_chart_tables_columns(c->tables[s], id) == 0)
        s++;
    return s;
}

static void add_description(struct tl_text *t, const struct charts *c, enum span span,
                            enum tl_chart_id id)
{
    const struct tl_chart_tables *tables = c->tables[span];
    char heading[TL_CHART_HEADING_SIZE];
    tl_text_add(t, over[span]);
    for (size_t k = 0; k < tl_chart_tables_columns(tables, id); k++) {
        tl_chart_tables_heading(tables, id, k, heading);
        tl_text_addf(t, " %s %s;", heading,
                     tl_figure_range(tl_chart_tables_cell(tables, id, k, TL_WHOLE_RUN)).text);
    }
    tl_text_add(t, " the numbers stand in the table below.");
}

static void begin_table(struct tl_html *h, enum tl_chart_id id)
{
    tl_html_open(h, "details");
    tl_html_open(h, "summary");
    tl_html_textf(h, "Numbers of this chart: %s", tl_chart_subject(id));
    tl_html_close(h);
}

static void begin_rows(struct tl_html *h, enum tl_chart_id id)
{
    char table_id[64];
    tl_format(table_id, sizeof table_id, "%s-numbers", tl_chart_name(id));
    tl_table_begin(h, table_id, tl_chart_subject(id));
    tl_html_open(h, "thead");
    tl_html_open(h, "tr");
}

static void add_heading(struct tl_html *h, const char *text)
{
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "col");
    tl_html_text(h, text);
    tl_html_close(h);
}

static void end_head(struct tl_html *h)
{
    tl_html_close(h);
    tl_html_close(h);
    tl_html_open(h, "tbody");
}

static void end_table(struct tl_html *h)
{
    tl_table_end(h);
    tl_html_close(h); /* details */
}

static void add_phases(struct tl_html *h, const struct tl_chart_tables *tables, size_t row)
{
    char phases[TL_CHART_PHASES_SIZE];
    tl_chart_tables_phases(tables, row, phases);
    tl_html_element(h, "td", *phases ? phases : "-");
}

/* A row a stretch of time; of a start-up with its phases. */
static void add_table(struct charts *c, enum span span, enum tl_chart_id id)
{
    const struct tl_chart_tables *tables = c->tables[span];
    struct tl_html *h = c->h;
    char heading[TL_CHART_HEADING_SIZE];
    const size_t columns = tl_chart_tables_columns(tables, id);
    begin_table(h, id);
    tl_stretch_note(h, tables);
    begin_rows(h, id);
    add_heading(h, "From");
    if (span == STARTUP)
        add_heading(h, "Phase");
    for (size_t k = 0; k < columns; k++) {
        tl_chart_tables_heading(tables, id, k, heading);
        add_heading(h, heading);
    }
    end_head(h);
    for (size_t row = 0; row < tl_chart_tables_rows(tables); row++) {
        tl_html_open(h, "tr");
        tl_stretch_cell(h, &c->d->report->scenario->start, tables, row);
        if (span == STARTUP)
            add_phases(h, tables, row);
        for (size_t k = 0; k < columns; k++)
            tl_html_classed(h, "td", "number",
                            tl_figure_range(tl_chart_tables_cell(tables, id, k, row)).text);
        tl_html_close(h);
    }
    end_table(h);
}

static void add_note(struct tl_html *h, enum tl_chart_id id)
{
    tl_html_open(h, "p");
    tl_html_attribute(h, "class", "note");
    if (*tl_chart_note(id))
        tl_html_text(h, tl_chart_note(id));
    tl_html_close_or_drop(h);
}

static int add_chart(struct charts *c, enum tl_chart_id id)
{
    struct tl_text description = {0};
    const enum span span = span_of(c, id);
    if (span == SPANS)
        return TL_OK;
    add_description(&description, c, span, id);
    int status = tl_part_picture(c->h, c->d->report, tl_chart_name(id), tl_chart_subject(id),
                                 tl_text_string(&description));
    add_note(c->h, id);
    add_table(c, span, id);
    tl_html_close(c->h); /* figure */
    status = description.failed ? TL_E_MEMORY : status;
    tl_text_free(&description);
    return status == TL_E_CHART ? TL_OK : status;
}

/* --- down the tower ----------------------------------------------------------------------------- */

static void add_tray(struct tl_html *h, const struct tl_chart_tables *day, size_t tray)
{
    char name[32];
    tl_format(name, sizeof name, "Tray %zu", tray);
    tl_table_row(h, tray > 0 ? name : "Water in");
    for (size_t k = 0; k < tl_chart_profile_columns(); k++)
        tl_html_classed(h, "td", "number",
                        tl_figure_spread(tl_chart_tables_tray(day, tray, k)).text);
    tl_html_close(h);
}

/* A row a tray. */
static void add_trays_table(struct charts *c)
{
    const struct tl_chart_tables *day = c->tables[DAY];
    const struct tl_date date =
        tl_date_at(&c->d->report->scenario->start, tl_chart_tables_from_d(day, 0) + 1e-6);
    struct tl_html *h = c->h;
    char heading[TL_CHART_HEADING_SIZE];
    begin_table(h, TL_CHART_TRAYS);
    tl_html_open(h, "p");
    tl_html_textf(h,
                  "Each row is a tray, the top one first, and has the mean of %04d-%02d-%02d, then "
                  "the lowest value to the highest.",
                  date.year, date.month, date.day);
    tl_html_close(h);
    begin_rows(h, TL_CHART_TRAYS);
    add_heading(h, "Tray");
    for (size_t k = 0; k < tl_chart_profile_columns(); k++) {
        tl_chart_profile_heading(k, heading);
        add_heading(h, heading);
    }
    end_head(h);
    for (size_t tray = 0; tray <= tl_chart_tables_trays(day); tray++)
        add_tray(h, day, tray);
    end_table(h);
}

static int add_trays_chart(struct charts *c)
{
    const enum tl_chart_id id = TL_CHART_TRAYS;
    if (tl_chart_tables_trays(c->tables[DAY]) == 0)
        return TL_OK;
    const int status = tl_part_picture(c->h, c->d->report, tl_chart_name(id), tl_chart_subject(id),
                                       "Tray by tray; the numbers stand in the table below.");
    add_note(c->h, id);
    add_trays_table(c);
    tl_html_close(c->h); /* figure */
    return status == TL_E_CHART ? TL_OK : status;
}

/* --- all of them -------------------------------------------------------------------------------- */

static int read_tables(struct charts *c, const struct tl_chart_options *o,
                       struct tl_chart_outcome *outcome)
{
    int status = tl_chart_tables_read(o, 0, outcome, &c->tables[RUN]);
    if (status == TL_OK)
        status = tl_chart_tables_read_startup(o, outcome, &c->tables[STARTUP]);
    if (status == TL_OK)
        status = tl_chart_tables_read_day(o, outcome, &c->tables[DAY]);
    return status;
}

int tl_part_charts(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size)
{
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct tl_chart_extreme extreme[TL_CHART_EXTREMES];
    struct tl_chart_outcome outcome;
    struct charts c = {.h = h, .d = d};
    char *series = tl_place_below(d->report->folder, "series.csv");
    const struct tl_chart_options options = {
        .series_csv = series,
        .units = d->report->units,
        .limit = limit,
        .limits = tl_chart_limits(&d->report->scenario->limits, limit, TL_CHART_LIMITS),
        .extreme = extreme,
        .extremes = tl_chart_extremes_of(&d->result, extreme),
        .starting = d->report->scenario->setup.tower.biofilm != TL_BIOFILM_MATURE,
        .ready_d = d->result.filter_ready_d,
        .interrupted = d->report->interrupted,
    };
    int status = series ? read_tables(&c, &options, &outcome) : TL_E_MEMORY;
    if (status != TL_OK && status != TL_E_MEMORY)
        tl_format(why, size, "%s", outcome.fault);
    if (status == TL_OK && !d->report->charts)
        tl_html_element(h, "p", d->report->no_charts);
    for (size_t i = 0; i < TL_NCHART && status == TL_OK; i++)
        status = order[i] == TL_CHART_TRAYS ? add_trays_chart(&c) : add_chart(&c, order[i]);
    for (enum span s = RUN; s < SPANS; s++)
        tl_chart_tables_free(c.tables[s]);
    free(series);
    return status;
}
