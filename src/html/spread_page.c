/* The report of a spread: how sure a verdict is, out of spread.json and the charts beside it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance_cell.h"
#include "document.h"
#include "limit_words.h"
#include "page_file.h"
#include "parts.h"
#include "place.h"
#include "posix.h"
#include "spread_verdict.h"
#include "towerloop/status.h"
#include "watched.h"

enum { ANSWER, LIMITS, CHARTS, INPUTS, CAUTIONS, ASKED, PARTS };
static const struct tl_document_part part[PARTS] = {
    [ANSWER] = {"answer", "The answer"},
    [LIMITS] = {"limits", "The limits: in how many runs each is broken"},
    [CHARTS] = {"charts", "The charts"},
    [INPUTS] = {"inputs", "What is uncertain"},
    [CAUTIONS] = {"cautions", "Before you build or change anything"},
    [ASKED] = {"asked", "What was asked"},
};

static const struct chart {
    const char *name, *caption, *description;
} chart[] = {
#define FAN "Median, half and nine tenths of the runs over time; the numbers stand in spread.csv."
    {"spread_oxygen", "Oxygen", FAN},
    {"spread_unionised_ammonia", "Un-ionised ammonia", FAN},
    {"spread_ammonia", "Total ammonia", FAN},
    {"spread_nitrite", "Nitrite", FAN},
    {"spread_ph", "pH", FAN},
    {"spread_temperature", "Temperature", FAN},
#undef FAN
    {"drivers", "What drives the risk",
     "Bars of the rank correlation of the inputs with the worst value of a limit; the numbers "
     "stand "
     "in spread.json."},
    {"sensitivity", "What makes the worst value uncertain",
     "Bars of the share of each input in the variance of the worst value; the numbers stand in "
     "spread.json."},
};

struct page {
    struct tl_html *h;
    const struct tl_report *r;
    json_t *all; /* spread.json */
    struct tl_spread_verdict verdict;
};

static const char *text_at(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

static double number_at(const json_t *object, const char *key)
{
    const json_t *at = json_object_get(object, key);
    return json_is_number(at) ? json_number_value(at) : NAN;
}

/* --- the answer --------------------------------------------------------------------------------- */

static void write_answer(struct page *p)
{
    const struct tl_spread_verdict *v = &p->verdict;
    const double unknown = number_at(p->all, "not_known");
    const double lost =
        number_at(json_object_get(json_object_get(p->all, "chance"), "fish_lost"), "runs");
    tl_html_open(p->h, "div");
    tl_html_attributef(p->h, "class", "verdict %s", tl_grade_class(v->grade));
    tl_html_open(p->h, "p");
    tl_html_text(p->h, "Verdict: ");
    tl_html_classed(p->h, "span", tl_grade_class(v->grade), tl_grade_text(v->grade));
    tl_html_textf(p->h, "%s. Within limits in %s. Danger in %s.", v->but, v->within.text,
                  v->danger.text);
    tl_html_close(p->h);
    if (lost > 0) {
        tl_html_open(p->h, "p");
        tl_html_textf(p->h, "Fish are lost, or it is not known, in %.0f of %zu runs.", lost,
                      v->runs);
        tl_html_close(p->h);
    }
    if (unknown > 0) {
        tl_html_open(p->h, "p");
        tl_html_textf(p->h, "Runs that could not be calculated, and count as danger: %.0f.",
                      unknown);
        tl_html_close(p->h);
    }
    tl_html_element(p->h, "p",
                    "A grade holds unless it is sure that fewer than 5 of 100 runs reach it. The "
                    "chances are those of the inputs' ranges; what the model leaves out is not in "
                    "them.");
    tl_html_close(p->h);
}

/* --- the limits --------------------------------------------------------------------------------- */

static void add_limit(struct page *p, enum tl_limit_id id, const json_t *limit)
{
    const enum tl_unit_system units = p->r->units;
    const char *unit = tl_limit_unit(id, units);
    const bool below =
        id == TL_LIMIT_O2 || id == TL_LIMIT_PH_LOW || id == TL_LIMIT_ALK || id == TL_LIMIT_COLD;
    const double first_d = number_at(json_object_get(limit, "first_breach_d"), "q50");
    char heading[96];
    tl_format(heading, sizeof heading, "%s%s%s", tl_limit_name(id), *unit ? ", " : "", unit);
    tl_table_row(p->h, heading);
    tl_chance_cell(p->h, json_object_get(limit, "caution"), tl_grade_class(TL_CAUTION));
    tl_chance_cell(p->h, json_object_get(limit, "danger"), tl_grade_class(TL_DANGER));
    tl_table_number(p->h,
                    tl_limit_value(id, units, number_at(json_object_get(limit, "worst"), "q50")));
    tl_table_number(
        p->h, tl_limit_value(id, units,
                             number_at(json_object_get(limit, "worst"), below ? "q05" : "q95")));
    tl_table_number(p->h, floor(first_d));
    tl_html_close(p->h);
}

static void write_limits(struct page *p)
{
    static const char *const head[] = {"Limit",
                                       "Caution, of 100 runs",
                                       "Danger, of 100 runs",
                                       "Worst, middle run",
                                       "Worst, 1 run in 20 goes beyond",
                                       "First broken, day"};
    const json_t *limits = json_object_get(p->all, "limits");
    tl_table_begin(p->h, "chances", "Chance of each limit, with its 90 % interval");
    tl_table_head(p->h, head, sizeof head / sizeof *head);
    for (int i = 0; i < TL_NLIMIT; i++)
        add_limit(p, (enum tl_limit_id)i, json_array_get(limits, (size_t)i));
    tl_table_end(p->h);
    tl_html_classed(p->h, "p", "note",
                    "The day a limit is first broken is that of the middle run of those that break "
                    "it. Ammonia, nitrite and nitrate are counted as nitrogen (as N).");
}

/* --- the charts --------------------------------------------------------------------------------- */

static bool is_there(const struct tl_report *r, const char *name)
{
    char file[64];
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    tl_format(file, sizeof file, "%s.svg", name);
    char *path = r->charts ? tl_place_below(r->charts, file) : NULL;
    const bool there = path && tl_posix_look(path, &kind) == TL_OK && kind == TL_POSIX_FILE;
    free(path);
    return there;
}

static int write_charts(struct page *p)
{
    int status = TL_OK;
    size_t drawn = 0;
    for (size_t i = 0;
         i < sizeof chart / sizeof *chart && (status == TL_OK || status == TL_E_CHART); i++) {
        if (!is_there(p->r, chart[i].name))
            continue;
        status = tl_part_picture(p->h, p->r, chart[i].name, chart[i].caption, chart[i].description);
        tl_html_close(p->h);
        drawn++;
    }
    if (drawn == 0)
        tl_html_element(p->h, "p", p->r->no_charts);
    return status == TL_E_CHART ? TL_OK : status;
}

/* --- the inputs --------------------------------------------------------------------------------- */

static void add_input(struct page *p, const json_t *in)
{
    static const char *const number[][2] = {
        {"least", "from"},   {"likeliest", "likeliest"},   {"greatest", "to"},
        {"mean", "mean"},    {"standard_deviation", "sd"}, {"median", "median"},
        {"factor", "factor"}};
    size_t said = 0;
    tl_html_open(p->h, "tr");
    tl_html_open(p->h, "th");
    tl_html_attribute(p->h, "scope", "row");
    if (*text_at(in, "words") && strcmp(text_at(in, "words"), text_at(in, "key")) != 0)
        tl_html_textf(p->h, "%s ", text_at(in, "words"));
    tl_html_element(p->h, "code", text_at(in, "key"));
    tl_html_close(p->h);
    tl_html_open(p->h, "td");
    tl_html_textf(p->h, "%s: ", text_at(in, "distribution"));
    for (size_t i = 0; i < sizeof number / sizeof *number; i++) {
        const double value = number_at(in, number[i][0]);
        if (!isnan(value))
            tl_html_textf(p->h, "%s%s %s", said++ ? ", " : "", number[i][1],
                          tl_figure_of(value).text);
    }
    tl_html_textf(p->h, " %s", text_at(in, "unit"));
    tl_html_close(p->h);
    tl_html_element(p->h, "td", text_at(in, "nature"));
    tl_html_element(p->h, "td", text_at(in, "status"));
    tl_html_classed(p->h, "td", "wide", text_at(in, "source"));
    tl_html_close(p->h);
}

static void write_inputs(struct page *p)
{
    static const char *const head[] = {"What, and its key", "Distribution", "Nature", "Status",
                                       "Source"};
    const json_t *inputs = json_object_get(p->all, "inputs"), *in;
    size_t i;
    tl_html_open(p->h, "p");
    tl_html_textf(p->h,
                  "Each of the %zu runs took other values for these, independently (seed %s).",
                  p->verdict.runs, text_at(p->all, "seed"));
    tl_html_close(p->h);
    tl_table_begin(p->h, "ranges", "Uncertain inputs and their ranges, in base units");
    tl_table_head(p->h, head, sizeof head / sizeof *head);
    json_array_foreach(inputs, i, in) add_input(p, in);
    tl_table_end(p->h);
}

/* --- the page ----------------------------------------------------------------------------------- */

static int write_part(struct page *p, int id)
{
    switch (id) {
    case ANSWER:
        write_answer(p);
        return TL_OK;
    case LIMITS:
        write_limits(p);
        return TL_OK;
    case CHARTS:
        return write_charts(p);
    case INPUTS:
        write_inputs(p);
        return TL_OK;
    case CAUTIONS:
        tl_part_cautions(p->h, p->r->scenario, p->verdict.grade, p->r->units);
        return TL_OK;
    default:
        tl_part_asked(p->h, p->r);
        return TL_OK;
    }
}

static int write_page(struct page *p)
{
    const char *title = p->r->scenario->title;
    char lead[120];
    int status = TL_OK;
    tl_format(lead, sizeof lead, "Report of a spread: %zu runs over %zu uncertain input%s.",
              p->verdict.runs, p->verdict.inputs, p->verdict.inputs == 1 ? "" : "s");
    tl_document_begin(p->h, title && *title ? title : "(no title)", lead, part, PARTS);
    for (int id = 0; id < PARTS && status == TL_OK; id++) {
        tl_document_section(p->h, &part[id]);
        status = write_part(p, id);
        tl_html_close(p->h);
    }
    tl_document_end(p->h, text_at(p->all, "version"),
                    text_at(json_object_get(p->all, "build"), "commit"));
    return status;
}

int tl_report_spread(const struct tl_report *r, const char *path, char *why, size_t size)
{
    struct tl_html h = {.depth = 0};
    struct page p = {.h = &h, .r = r};
    *why = '\0';
    int status = tl_spread_verdict_read(r->folder, &p.verdict, &p.all, why, size);
    if (status == TL_OK)
        status = write_page(&p);
    if (status == TL_OK)
        status = tl_page_file_write(&h, path, why, size);
    tl_html_free(&h);
    json_decref(p.all);
    return status;
}
