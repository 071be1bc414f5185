/* The charts of a run, each with the numbers it was drawn from. */
#include <stdlib.h>

#include "numbers.h"
#include "parts.h"
#include "place.h"
#include "towerloop/status.h"

/* In the order a newcomer reads: all at a glance first. */
static const enum tl_chart_id order[TL_NCHART] = {
    TL_CHART_OVERVIEW, TL_CHART_STARTUP, TL_CHART_DAY,           TL_CHART_AMMONIA,
    TL_CHART_NITROGEN, TL_CHART_OXYGEN,  TL_CHART_PH_ALKALINITY, TL_CHART_TEMPERATURE,
    TL_CHART_TRAYS,    TL_CHART_BIOFILM};

struct charts {
    struct tl_html *h;
    const struct tl_run_data *d;
    const struct tl_chart_tables *tables;
};

static void add_description(struct tl_text *t, const struct charts *c, enum tl_chart_id id)
{
    const struct tl_chart_tables *tables = c->tables;
    char heading[TL_CHART_HEADING_SIZE];
    tl_text_add(t, "Over the run:");
    for (size_t k = 0; k < tl_chart_tables_columns(tables, id); k++) {
        tl_chart_tables_heading(tables, id, k, heading);
        tl_text_addf(t, " %s %s;", heading,
                     tl_figure_range(tl_chart_tables_cell(tables, id, k, TL_WHOLE_RUN)).text);
    }
    tl_text_add(t, " the numbers stand in the table below.");
}

static void add_table(struct charts *c, enum tl_chart_id id)
{
    const struct tl_chart_tables *tables = c->tables;
    struct tl_html *h = c->h;
    char text[TL_CHART_HEADING_SIZE], table_id[64];
    const size_t columns = tl_chart_tables_columns(tables, id);
    tl_format(table_id, sizeof table_id, "%s-numbers", tl_chart_name(id));
    tl_html_open(h, "details");
    tl_html_open(h, "summary");
    tl_html_textf(h, "Numbers of this chart: %s", tl_chart_subject(id));
    tl_html_close(h);
    tl_stretch_note(h, tables);
    tl_table_begin(h, table_id, tl_chart_subject(id));
    tl_html_open(h, "thead");
    tl_html_open(h, "tr");
    for (size_t k = 0; k <= columns; k++) {
        tl_html_open(h, "th");
        tl_html_attribute(h, "scope", "col");
        if (k > 0)
            tl_chart_tables_heading(tables, id, k - 1, text);
        tl_html_text(h, k > 0 ? text : "From");
        tl_html_close(h);
    }
    tl_html_close(h);
    tl_html_close(h);
    tl_html_open(h, "tbody");
    for (size_t row = 0; row < tl_chart_tables_rows(tables); row++) {
        tl_html_open(h, "tr");
        tl_stretch_cell(h, &c->d->report->scenario->start, tables, row);
        for (size_t k = 0; k < columns; k++)
            tl_html_classed(h, "td", "number",
                            tl_figure_range(tl_chart_tables_cell(tables, id, k, row)).text);
        tl_html_close(h);
    }
    tl_table_end(h);
    tl_html_close(h);
}

/* A chart without numbers of its own, if this run has it. */
static int add_plain_chart(struct charts *c, enum tl_chart_id id)
{
    if (!tl_part_has_picture(c->d->report, tl_chart_name(id)))
        return TL_OK;
    const int status = tl_part_picture(c->h, c->d->report, tl_chart_name(id), tl_chart_subject(id),
                                       tl_chart_note(id));
    tl_html_open(c->h, "p");
    tl_html_attribute(c->h, "class", "note");
    tl_html_textf(c->h, "%s Its numbers are in series.csv.", tl_chart_note(id));
    tl_html_close(c->h);
    tl_html_close(c->h); /* figure */
    return status == TL_E_MEMORY ? status : TL_OK;
}

static int add_chart(struct charts *c, enum tl_chart_id id)
{
    struct tl_text description = {0};
    if (tl_chart_tables_columns(c->tables, id) == 0)
        return add_plain_chart(c, id);
    add_description(&description, c, id);
    int status = tl_part_picture(c->h, c->d->report, tl_chart_name(id), tl_chart_subject(id),
                                 tl_text_string(&description));
    tl_html_open(c->h, "p");
    tl_html_attribute(c->h, "class", "note");
    if (*tl_chart_note(id))
        tl_html_text(c->h, tl_chart_note(id));
    tl_html_close_or_drop(c->h);
    add_table(c, id);
    tl_html_close(c->h); /* figure */
    status = description.failed ? TL_E_MEMORY : status;
    tl_text_free(&description);
    return status == TL_E_MEMORY ? status : TL_OK;
}

int tl_part_charts(struct tl_html *h, const struct tl_run_data *d, char *why, size_t size)
{
    struct tl_chart_limit limit[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_tables *tables = NULL;
    char *series = tl_place_below(d->report->folder, "series.csv");
    const struct tl_chart_options options = {
        .series_csv = series,
        .units = d->report->units,
        .limit = limit,
        .limits = tl_chart_limits(&d->report->scenario->limits, limit, TL_CHART_LIMITS),
    };
    int status = series ? tl_chart_tables_read(&options, 0, &outcome, &tables) : TL_E_MEMORY;
    if (status != TL_OK && status != TL_E_MEMORY)
        tl_format(why, size, "%s", outcome.fault);
    if (status == TL_OK && !d->report->charts)
        tl_html_element(h, "p", d->report->no_charts);
    struct charts c = {h, d, tables};
    for (size_t i = 0; i < TL_NCHART && status == TL_OK; i++)
        status = add_chart(&c, order[i]);
    tl_chart_tables_free(tables);
    free(series);
    return status;
}
