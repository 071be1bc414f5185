/* The report of a comparison. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "abreast.h"
#include "chance_cell.h"
#include "chart_extremes.h"
#include "compare_chart.h"
#include "compare_data.h"
#include "limit_words.h"
#include "numbers.h"
#include "page_file.h"
#include "parts.h"
#include "place.h"
#include "towerloop/status.h"

enum { ANSWER, VARIANTS, LIMITS, CHARTS, BUILD, CAUTIONS, ASKED, ASSUMED, FILES, PARTS };
static const struct tl_document_part part[PARTS] = {
    [ANSWER] = {"answer", "The answer"},
    [VARIANTS] = {"variants", "The variants: what each takes and costs"},
    [LIMITS] = {"limits", "The limits"},
    [CHARTS] = {"charts", "The charts"},
    [BUILD] = {"build", "What each is made of"},
    [CAUTIONS] = {"cautions", "Before you build or change anything"},
    [ASKED] = {"asked", "What was asked"},
    [ASSUMED] = {"assumed", "What is assumed"},
    [FILES] = {"files", "The files that were given"},
};

struct page {
    struct tl_html *h;
    const struct tl_report *r;
    struct tl_compare_data data;
};

/* --- the answer --------------------------------------------------------------------------------- */

static size_t count(const struct page *p, enum tl_grade grade)
{
    size_t n = 0;
    for (size_t i = 0; i < p->data.variants; i++)
        n += p->data.variant[i].result.grade == grade;
    return n;
}

/* " (so in 83 of 100 runs)" where uncertain runs were made: of what is good, or else of danger. */
static void say_chance(struct page *p, const struct tl_compare_variant *v, enum tl_grade grade)
{
    const json_t *uncertain = json_object_get(v->figures, "uncertain");
    struct tl_chance c;
    char text[TL_CHANCE_SIZE];
    if (!tl_chance_read(json_object_get(uncertain, grade == TL_WITHIN ? "within_limits" : "danger"),
                        &c))
        return;
    tl_chance_share_text(&c, text);
    tl_html_textf(p->h, " (%s in %s)", grade == TL_WITHIN ? "so" : "danger", text);
}

/* What the verdicts stand on. */
static void say_how_sure(struct page *p)
{
    const json_t *asked = json_object_get(p->data.root, "uncertain");
    tl_html_open(p->h, "p");
    tl_html_text(p->h, "These verdicts count with the default parameters of the model: see What is "
                       "assumed.");
    if (json_is_object(asked))
        tl_html_textf(p->h,
                      " How sure they are was tried by %.0f runs of each variant, each with other "
                      "values for %zu uncertain inputs, the same values for all: see the table.",
                      json_number_value(json_object_get(asked, "runs")),
                      json_array_size(json_object_get(asked, "inputs")));
    tl_html_close(p->h);
}

static void say_those(struct page *p, enum tl_grade grade, const char *lead)
{
    size_t said = 0;
    if (count(p, grade) == 0)
        return;
    tl_html_open(p->h, "p");
    tl_html_open(p->h, "span");
    tl_html_attributef(p->h, "class", "word %s", tl_grade_class(grade));
    tl_html_text(p->h, lead);
    tl_html_close(p->h);
    tl_html_text(p->h, ": ");
    for (size_t i = 0; i < p->data.variants; i++)
        if (p->data.variant[i].result.grade == grade) {
            tl_html_text(p->h, said++ > 0 ? "; " : "");
            tl_html_element(p->h, "bdi", p->data.variant[i].name);
            say_chance(p, &p->data.variant[i], grade);
        }
    tl_html_text(p->h, ".");
    tl_html_close(p->h);
}

/* No limit names it: how much of it forms is not reckoned. */
static void say_sulfide(struct page *p)
{
    size_t said = 0;
    tl_html_open(p->h, "p");
    for (size_t i = 0; i < p->data.variants; i++) {
        if (!p->data.variant[i].result.sulfide)
            continue;
        tl_html_text(p->h, said++ > 0 ? "; " : "Hydrogen sulfide can form: ");
        tl_html_element(p->h, "bdi", p->data.variant[i].name);
    }
    if (said > 0)
        tl_html_text(p->h, ". It kills fish and people. Keep out of places that smell of rotten "
                           "eggs, or did and no longer do; call for ventilation and for help.");
    tl_html_close_or_drop(p->h);
}

/* Whose verdict goes by limits of its own. */
static void say_own_limits(struct page *p)
{
    size_t said = 0;
    tl_html_open(p->h, "p");
    for (size_t i = 0; i < p->data.variants; i++)
        if (p->data.variant[i].result.own_limits) {
            tl_html_text(p->h, said++ > 0 ? "; " : "By limits of their own: ");
            tl_html_element(p->h, "bdi", p->data.variant[i].name);
        }
    if (said > 0)
        tl_html_text(p->h, ".");
    tl_html_close_or_drop(p->h);
}

/* Once for all that say it. */
static void say_cannot_tell(struct page *p)
{
    const struct tl_compare_variant *v = p->data.variant;
    for (size_t i = 0; i < p->data.variants; i++) {
        const char *text = v[i].result.cannot_tell;
        size_t alike = 0, named = 0, before = 0;
        for (size_t k = 0; k < p->data.variants; k++) {
            const bool same = strcmp(v[k].result.cannot_tell, text) == 0;
            alike += same;
            before += same && k < i;
        }
        if (!*text || before > 0)
            continue;
        tl_html_open(p->h, "p");
        tl_html_text(p->h, text);
        for (size_t k = i; k < p->data.variants && alike < p->data.variants; k++)
            if (strcmp(v[k].result.cannot_tell, text) == 0) {
                tl_html_text(p->h, named++ > 0 ? "; " : " That holds for: ");
                tl_html_element(p->h, "bdi", v[k].name);
            }
        tl_html_text(p->h, named > 0 ? "." : "");
        tl_html_close(p->h);
    }
}

static const char *text_at(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

static void say_cheapest(struct page *p)
{
    const json_t *cheapest = json_object_get(p->data.root, "cheapest");
    const char *within = text_at(cheapest, "within limits");
    const char *without = text_at(cheapest, "without danger");
    const char *why_none = text_at(cheapest, "none because the variants");
    tl_html_open(p->h, "p");
    if (within || without) {
        tl_html_text(p->h, within
                               ? "The cheapest that stays within limits with default parameters: "
                               : "The cheapest with caution at most: ");
        tl_html_element(p->h, "bdi", within ? within : without);
        tl_html_text(p->h, ".");
    } else if (why_none) {
        tl_html_textf(p->h, "None is called the cheapest: the variants %s.", why_none);
    }
    tl_html_close_or_drop(p->h);
}

static void write_answer(struct page *p)
{
    const enum tl_grade best = count(p, TL_WITHIN) > 0    ? TL_WITHIN
                               : count(p, TL_CAUTION) > 0 ? TL_CAUTION
                                                          : TL_DANGER;
    tl_html_open(p->h, "div");
    tl_html_attributef(p->h, "class", "verdict %s", tl_grade_class(best));
    if (best != TL_WITHIN)
        tl_html_element(p->h, "p", "No variant stays within limits.");
    say_those(p, TL_WITHIN, "Within limits");
    say_those(p, TL_CAUTION, "Caution");
    say_those(p, TL_DANGER, "Danger");
    say_own_limits(p);
    say_cannot_tell(p);
    say_sulfide(p);
    say_cheapest(p);
    say_how_sure(p);
    tl_html_close(p->h);
}

/* --- the variants --------------------------------------------------------------------------------- */

/* A row a figure, a column a variant. */
struct line {
    const char *heading, *figure;
    enum tl_dim dim;
    double factor; /* to the base unit of `dim` */
};

static void add_line(struct page *p, const struct line *l, size_t from, size_t to)
{
    tl_table_row(p->h, l->heading);
    for (size_t i = from; i < to; i++) {
        const double value = tl_compare_data_number(&p->data.variant[i], l->figure);
        tl_html_classed(p->h, "td", "figure",
                        l->dim == TL_DIM_NUMBER
                            ? tl_figure_of(value).text
                            : tl_figure_with_unit(l->dim, p->r->units, l->factor * value).text);
    }
    tl_html_close(p->h);
}

static void add_verdicts(struct page *p, size_t from, size_t to)
{
    tl_table_row(p->h, "Verdict");
    for (size_t i = from; i < to; i++)
        tl_html_classed(p->h, "td", tl_grade_class(p->data.variant[i].result.grade),
                        p->data.variant[i].result.verdict);
    tl_html_close(p->h);
    tl_table_row(p->h, "Fish lost for want of oxygen");
    for (size_t i = from; i < to; i++)
        tl_html_element(p->h, "td", p->data.variant[i].result.fish_lost ? "yes" : "no");
    tl_html_close(p->h);
}

/* Of 100 runs, with the 90 % interval; where they were made. */
static void add_chances(struct page *p, size_t from, size_t to)
{
    static const struct {
        const char *heading, *name;
        bool bad;
    } row[] = {{"Within limits, of 100 uncertain runs", "within_limits", false},
               {"Danger, of 100", "danger", true},
               {"Fish lost, of 100", "fish_lost", true},
               {"Better than the first with the same values, of 100", "better_than_first", false},
               {"Worse than it, of 100", "worse_than_first", false}};
    if (!json_is_object(json_object_get(p->data.root, "uncertain")))
        return;
    for (size_t k = 0; k < sizeof row / sizeof *row; k++) {
        tl_table_row(p->h, row[k].heading);
        for (size_t i = from; i < to; i++)
            tl_chance_cell(p->h,
                           json_object_get(json_object_get(p->data.variant[i].figures, "uncertain"),
                                           row[k].name),
                           row[k].bad ? tl_grade_class(TL_DANGER) : NULL);
        tl_html_close(p->h);
    }
}

static void write_lines(struct page *p, const char *name, const char *caption,
                        const struct line *line, size_t lines, bool verdicts)
{
    for (size_t from = 0; from < p->data.variants; from += TL_ABREAST) {
        const size_t to = tl_abreast_end(&p->data, from);
        tl_abreast_begin(p->h, &p->data, name, caption, from);
        if (verdicts)
            add_verdicts(p, from, to);
        if (verdicts)
            add_chances(p, from, to);
        for (size_t k = 0; k < lines; k++)
            add_line(p, &line[k], from, to);
        tl_table_end(p->h);
    }
}

static void write_variants(struct page *p)
{
    static const struct line line[] = {
        {"Days", "length_d", TL_DIM_NUMBER, 1},
        {"Fish, at most", "fish_kg", TL_DIM_MASS, 1000},
        {"Feed", "feed_kg", TL_DIM_MASS, 1000},
        {"Water", "water_m3", TL_DIM_VOLUME, 1},
        {"Pump, kWh", "pump_kWh", TL_DIM_NUMBER, 1},
        {"Aerator, kWh", "aerator_kWh", TL_DIM_NUMBER, 1},
        {"Heater, kWh", "heater_kWh", TL_DIM_NUMBER, 1},
        {"Cost to build", "cost_to_build", TL_DIM_NUMBER, 1},
        {"Cost a month", "cost_a_month", TL_DIM_NUMBER, 1},
        {"Cost, built and run to the end", "cost_whole_run", TL_DIM_NUMBER, 1},
    };
    const char *currency = text_at(p->data.variant[0].figures, "currency");
    write_lines(p, "takes", "What each variant takes and costs", line, sizeof line / sizeof *line,
                true);
    tl_html_open(p->h, "p");
    tl_html_attribute(p->h, "class", "note");
    tl_html_text(p->h, "Costs are in ");
    tl_html_element(p->h, "bdi", currency ? currency : "the currency of the file");
    tl_html_text(p->h, "; what has no price is not counted. A month is the last 30 days with fish, "
                       "with a heater by its dearest 30.");
    tl_html_close(p->h);
}

static void write_build(struct page *p)
{
    static const struct line line[] = {
        {"Media", "media_m3", TL_DIM_VOLUME, 1},
        {"Media, dry", "media_dry_kg", TL_DIM_MASS, 1000},
        {"The stack, wet", "stack_wet_kg", TL_DIM_MASS, 1000},
        {"The stack with clogged drains", "stack_flooded_kg", TL_DIM_MASS, 1000},
        {"Height of the stack", "stack_height_m", TL_DIM_LENGTH, 1},
        {"Its footprint", "stack_footprint_m2", TL_DIM_AREA, 1},
        {"The pump lifts", "pump_lift_m", TL_DIM_LENGTH, 1},
        {"Flow of the pump", "pump_m3_h", TL_DIM_FLOW, 24},
    };
    write_lines(p, "sheet", "Build sheet", line, sizeof line / sizeof *line, false);
}

/* --- the limits ----------------------------------------------------------------------------------- */

/* "0.0604, danger: 153 h" */
static void add_worst(struct tl_html *h, enum tl_limit_id id, enum tl_unit_system units,
                      const struct tl_run_limit *l)
{
    tl_html_open(h, "td");
    tl_html_text(h, tl_figure_of(tl_limit_value(id, units, l->worst)).text);
    if (l->grade != TL_WITHIN) {
        const double hours = l->grade == TL_DANGER ? l->hours_danger : l->hours_caution;
        tl_html_text(h, " ");
        tl_html_open(h, "span");
        tl_html_attribute(h, "class", tl_grade_class(l->grade));
        tl_html_textf(h, "%s, %s", tl_grade_text(l->grade), tl_hours_span(hours).text);
        tl_html_close(h);
    }
    tl_html_close(h);
}

static void write_limits(struct page *p)
{
    for (size_t from = 0; from < p->data.variants; from += TL_ABREAST) {
        tl_abreast_begin(p->h, &p->data, "worst", "Worst value of each limit, and hours past it",
                         from);
        for (int k = 0; k < TL_NLIMIT; k++) {
            const enum tl_limit_id id = (enum tl_limit_id)k;
            const char *unit = tl_limit_unit(id, p->r->units);
            char heading[96];
            tl_format(heading, sizeof heading, "%s%s%s", tl_limit_name(id), *unit ? ", " : "",
                      unit);
            tl_table_row(p->h, heading);
            for (size_t i = from; i < tl_abreast_end(&p->data, from); i++)
                add_worst(p->h, id, p->r->units, &p->data.variant[i].result.limit[k]);
            tl_html_close(p->h);
        }
        tl_table_end(p->h);
    }
    tl_html_classed(p->h, "p", "note",
                    "Past caution, fish are under stress or a margin is gone; past danger, it "
                    "harms or kills. Ammonia, nitrite and nitrate are counted as nitrogen (as N).");
}

/* --- the charts ------------------------------------------------------------------------------------- */

struct numbers {
    struct tl_chart_tables *of[TL_COMPARE_CURVES];
    struct tl_chart_outcome outcome;
    size_t n, longest; /* the variant with most rows */
};

static int read_numbers(struct page *p, struct numbers *n, char *why, size_t size)
{
    double span_d = 0;
    int status = TL_OK;
    for (size_t i = 0; i < p->data.variants; i++)
        span_d = fmax(span_d, tl_compare_data_number(&p->data.variant[i], "length_d"));
    for (; n->n < TL_COMPARE_CURVES && n->n < p->data.variants && status == TL_OK; n->n++) {
        char *series = tl_place_below(p->data.variant[n->n].folder, "series.csv");
        struct tl_chart_extreme extreme[TL_CHART_EXTREMES];
        const struct tl_chart_options o = {
            .series_csv = series, /* metric, as the chart */
            .extreme = extreme,
            .extremes = tl_chart_extremes_of(&p->data.variant[n->n].result, extreme),
            .interrupted = p->r->interrupted};
        status = series ? tl_chart_tables_read(&o, span_d, &n->outcome, &n->of[n->n]) : TL_E_MEMORY;
        free(series);
        if (status == TL_OK &&
            tl_chart_tables_rows(n->of[n->n]) > tl_chart_tables_rows(n->of[n->longest]))
            n->longest = n->n;
    }
    if (status != TL_OK && status != TL_E_MEMORY)
        tl_format(why, size, "%s", n->outcome.fault);
    return status;
}

static void add_numbers(struct page *p, const struct numbers *n, const char *column,
                        const char *caption, size_t from)
{
    const struct tl_chart_tables *longest = n->of[n->longest];
    const size_t to = from + TL_ABREAST < n->n ? from + TL_ABREAST : n->n;
    char id[96], text[200];
    tl_format(id, sizeof id, "%s-%zu", column, from + 1);
    tl_format(text, sizeof text, n->n > TL_ABREAST ? "%s, variants %zu to %zu" : "%s", caption,
              from + 1, to);
    tl_table_begin(p->h, id, text);
    tl_abreast_heads(p->h, &p->data, "From", from, to);
    for (size_t row = 0; row < tl_chart_tables_rows(longest); row++) {
        tl_html_open(p->h, "tr");
        tl_stretch_cell(p->h, &p->r->scenario->start, longest, row);
        for (size_t i = from; i < to; i++)
            tl_html_classed(p->h, "td", "number",
                            tl_figure_range(tl_chart_tables_of(n->of[i], column, row)).text);
        tl_html_close(p->h);
    }
    tl_table_end(p->h);
}

static void write_numbers(struct page *p, const struct numbers *n)
{
    tl_html_open(p->h, "details");
    tl_html_element(p->h, "summary", "Numbers of these charts");
    tl_stretch_note(p->h, n->of[n->longest]);
    for (size_t q = 0; q < TL_COMPARE_PANELS; q++)
        for (size_t from = 0; from < n->n; from += TL_ABREAST)
            add_numbers(p, n, tl_compare_panel_column(q), tl_compare_panel_text(q), from);
    tl_html_close(p->h);
}

static int add_chart(struct page *p, const char *name, const char *caption)
{
    const int status = tl_part_picture(
        p->h, p->r, name, caption,
        "Total ammonia, un-ionised ammonia, nitrite and oxygen of the variants over "
        "time; the numbers stand in the tables below.");
    tl_html_close(p->h);
    return status == TL_E_CHART ? TL_OK : status;
}

static int write_charts(struct page *p, char *why, size_t size)
{
    struct numbers n = {.n = 0};
    int status = read_numbers(p, &n, why, size);
    if (status == TL_OK && !p->r->charts)
        tl_html_element(p->h, "p", p->r->no_charts);
    if (status == TL_OK && p->r->charts)
        status = add_chart(p, "compare", "The variants laid over each other");
    if (status == TL_OK && p->r->charts)
        status = add_chart(p, "compare_multiples", "The variants side by side");
    if (status == TL_OK)
        write_numbers(p, &n);
    for (size_t i = 0; i < n.n; i++)
        tl_chart_tables_free(n.of[i]);
    return status;
}

/* --- the rest --------------------------------------------------------------------------------------- */

static int write_asked(struct page *p)
{
    tl_html_open(p->h, "p");
    tl_html_textf(p->h, "%zu variants of a loop were run, which differ in this:", p->data.variants);
    tl_html_close(p->h);
    const int status = tl_compare_differences(p->h, p->r, &p->data);
    tl_html_open(p->h, "h3");
    tl_html_text(p->h, "The first of them: ");
    tl_html_element(p->h, "bdi", p->data.variant[0].name);
    tl_html_close(p->h);
    tl_part_asked(p->h, p->r);
    return status;
}

static int write_files(struct page *p, char *why, size_t size)
{
    const json_t *inputs = json_object_get(p->data.study, "inputs"), *input;
    char *folder = tl_place_below(p->r->folder, "inputs");
    int status = folder ? TL_OK : TL_E_MEMORY;
    size_t i;
    json_array_foreach(inputs, i, input)
    {
        const char *name = json_string_value(input);
        if (status != TL_OK || !name || strchr(name, '/') || *name == '.')
            continue;
        status = tl_part_file(p->h, folder, name, why, size);
    }
    free(folder);
    return status;
}

static int write_part(struct page *p, int id, char *why, size_t size)
{
    switch (id) {
    case ANSWER:
        write_answer(p);
        return TL_OK;
    case VARIANTS:
        write_variants(p);
        return TL_OK;
    case LIMITS:
        write_limits(p);
        return TL_OK;
    case CHARTS:
        return write_charts(p, why, size);
    case BUILD:
        write_build(p);
        return TL_OK;
    case CAUTIONS:
        tl_part_cautions(p->h, p->r->scenario,
                         count(p, TL_WITHIN) == p->data.variants ? TL_WITHIN : TL_DANGER,
                         p->r->units);
        return TL_OK;
    case ASKED:
        return write_asked(p);
    case ASSUMED:
        tl_part_assumptions(p->h, p->r->scenario);
        return TL_OK;
    default:
        return write_files(p, why, size);
    }
}

static int write_page(struct page *p, char *why, size_t size)
{
    const char *title = p->r->scenario->title;
    char lead[120];
    int status = TL_OK;
    tl_format(lead, sizeof lead, "Report of a comparison of %zu variants by simulation.",
              p->data.variants);
    tl_document_begin(p->h, title && *title ? title : "(no title)", lead, part, PARTS);
    for (int id = 0; id < PARTS && status == TL_OK; id++) {
        tl_document_section(p->h, &part[id]);
        status = write_part(p, id, why, size);
        tl_html_close(p->h);
    }
    const char *version = text_at(p->data.root, "version");
    const char *commit = text_at(json_object_get(p->data.root, "build"), "commit");
    tl_document_end(p->h, version ? version : "", commit ? commit : "");
    return status;
}

int tl_report_compare(const struct tl_report *r, const char *path, char *why, size_t size)
{
    struct tl_html h = {.depth = 0};
    struct page p = {.h = &h, .r = r};
    *why = '\0';
    int status = tl_compare_data_load(r->folder, &p.data, why, size);
    if (status == TL_OK)
        status = write_page(&p, why, size);
    if (status == TL_OK)
        status = tl_page_file_write(&h, path, why, size);
    tl_html_free(&h);
    tl_compare_data_free(&p.data);
    return status;
}
