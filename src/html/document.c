/* Head, contents, sections, tables, foot of a page. */
#include "document.h"

#include <math.h>

#include "own_file.h"
#include "report_css.h"

/* Nothing is fetched, run or sent, whatever the page holds: only the style sheet whose digest this is. */
#define POLICY                                                                                     \
    "default-src 'none'; style-src '" TL_REPORT_CSS_DIGEST "'; base-uri 'none'; form-action "      \
    "'none'"

static void meta(struct tl_html *h, const char *key, const char *name, const char *content)
{
    tl_html_void(h, "meta");
    tl_html_attribute(h, key, name);
    tl_html_attribute(h, "content", content);
    tl_html_void_end(h);
}

const struct tl_document_kind tl_document_report = {
    "report", "Skip to the answer",
    "Not on paper: the tables of numbers of the charts and of the ledger, parameters at their "
    "defaults, and the text of the scenario. They stand in the file report.html."};

static void head(struct tl_html *h, const char *kind, const char *title)
{
    tl_html_open(h, "head");
    tl_html_void(h, "meta");
    tl_html_attribute(h, "charset", "utf-8");
    tl_html_void_end(h);
    meta(h, "name", TL_OWN_PAGE_NAME, TL_OWN_PAGE_MARK);
    meta(h, "http-equiv", "Content-Security-Policy", POLICY);
    meta(h, "name", "viewport", "width=device-width, initial-scale=1");
    meta(h, "name", "color-scheme", "light dark");
    meta(h, "name", "referrer", "no-referrer");
    tl_html_open(h, "title");
    tl_html_textf(h, "%s - %s", title, kind);
    tl_html_close(h);
    tl_html_style(h, tl_report_css);
    tl_html_close(h);
}

static void contents(struct tl_html *h, const struct tl_document_part *part, size_t n)
{
    tl_html_open(h, "nav");
    tl_html_attribute(h, "aria-labelledby", "contents");
    tl_html_open(h, "h2");
    tl_html_attribute(h, "id", "contents");
    tl_html_text(h, "Contents");
    tl_html_close(h);
    tl_html_open(h, "ul");
    for (size_t i = 0; i < n; i++) {
        tl_html_open(h, "li");
        tl_html_open(h, "a");
        tl_html_attributef(h, "href", "#%s", part[i].id);
        tl_html_text(h, part[i].heading);
        tl_html_close(h);
        tl_html_close(h);
    }
    tl_html_close(h);
    tl_html_close(h);
}

void tl_document_begin_as(struct tl_html *h, const struct tl_document_kind *kind, const char *title,
                          const char *lead, const struct tl_document_part *part, size_t n)
{
    tl_html_begin(h);
    tl_html_open(h, "html");
    tl_html_attribute(h, "lang", "en");
    head(h, kind->name, title);
    tl_html_open(h, "body");
    tl_html_open(h, "a");
    tl_html_attribute(h, "class", "skip");
    tl_html_attribute(h, "href", "#main");
    tl_html_text(h, kind->skip);
    tl_html_close(h);
    tl_html_open(h, "header");
    tl_html_users(h, "h1", title);
    tl_html_element(h, "p", lead);
    tl_html_classed(h, "p", "narrow",
                    "Wide tables and pictures move sideways under a finger, or with the arrow "
                    "keys.");
    tl_html_close(h);
    contents(h, part, n);
    tl_html_open(h, "main");
    tl_html_attribute(h, "id", "main");
    tl_html_attribute(h, "class", kind->name);
    tl_html_attribute(h, "tabindex", "-1");
}

void tl_document_begin(struct tl_html *h, const char *title, const char *lead,
                       const struct tl_document_part *part, size_t n)
{
    tl_document_begin_as(h, &tl_document_report, title, lead, part, n);
}

void tl_document_end_as(struct tl_html *h, const struct tl_document_kind *kind, const char *version,
                        const char *commit)
{
    tl_html_close(h); /* main */
    tl_html_open(h, "footer");
    tl_html_classed(h, "p", "on-paper", kind->on_paper);
    tl_html_open(h, "p");
    tl_html_textf(
        h,
        "Made by towerloop %s (%s). A simulation to rank choices by; it does not replace a "
        "test kit.",
        version, commit);
    tl_html_close(h);
    tl_html_close(h);
    tl_html_close(h); /* body */
    tl_html_close(h); /* html */
}

void tl_document_end(struct tl_html *h, const char *version, const char *commit)
{
    tl_document_end_as(h, &tl_document_report, version, commit);
}

void tl_document_section(struct tl_html *h, const struct tl_document_part *part)
{
    tl_html_open(h, "section");
    tl_html_attributef(h, "aria-labelledby", "%s", part->id);
    tl_html_open(h, "h2");
    tl_html_attribute(h, "id", part->id);
    tl_html_text(h, part->heading);
    tl_html_close(h);
}

/* --- tables ------------------------------------------------------------------------------------- */

void tl_table_begin(struct tl_html *h, const char *id, const char *caption)
{
    tl_html_open(h, "div");
    tl_html_attribute(h, "class", "scroll");
    tl_html_attribute(h, "role", "group");
    tl_html_attribute(h, "tabindex", "0");
    tl_html_attribute(h, "aria-labelledby", id);
    tl_html_open(h, "table");
    tl_html_open(h, "caption");
    tl_html_attribute(h, "id", id);
    tl_html_text(h, caption);
    tl_html_close(h);
}

void tl_table_head(struct tl_html *h, const char *const *heading, size_t n)
{
    tl_html_open(h, "thead");
    tl_html_open(h, "tr");
    for (size_t i = 0; i < n; i++) {
        tl_html_open(h, "th");
        tl_html_attribute(h, "scope", "col");
        tl_html_text(h, heading[i]);
        tl_html_close(h);
    }
    tl_html_close(h);
    tl_html_close(h);
    tl_html_open(h, "tbody");
}

void tl_table_end(struct tl_html *h)
{
    tl_html_close(h); /* tbody */
    tl_html_close(h); /* table */
    tl_html_close(h); /* div */
}

void tl_table_row(struct tl_html *h, const char *heading)
{
    tl_html_open(h, "tr");
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "row");
    tl_html_element(h, "bdi", heading);
    tl_html_close(h);
}

void tl_table_number(struct tl_html *h, double value)
{
    tl_html_classed(h, "td", "number", tl_figure_of(value).text);
}

/* --- numbers ------------------------------------------------------------------------------------ */

#define DIGITS 3

struct tl_figure tl_figure_of(double value)
{
    struct tl_figure f = {"-"};
    if (isfinite(value))
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, DIGITS, f.text, sizeof f.text);
    return f;
}

struct tl_figure tl_figure_with_unit(enum tl_dim dim, enum tl_unit_system units, double base)
{
    struct tl_figure f = {"-"};
    if (isfinite(base))
        tl_display_text(dim, units, base, DIGITS, f.text, sizeof f.text);
    return f;
}
