/* The numbers of the model, how well each is known, and which of them the scenario changed. */
#include <math.h>
#include <string.h>

#include "document.h"
#include "parts.h"
#include "towerloop/params.h"

static const struct parameter {
    const char *key, *status, *help;
    double usual;
    enum tl_dim dim;
} parameter[] = {
#define ROW(field, dflt, dimension, lo, hi, status_, help_)                                        \
    {#field, (status_), (help_), (dflt), TL_DIM_##dimension},
    TL_PARAM_LIST(ROW)
#undef ROW
};
enum { PARAMETERS = sizeof parameter / sizeof *parameter };

static void read_values(const struct tl_params *p, double value[PARAMETERS])
{
    size_t n = 0;
#define VALUE(field, dflt, dim, lo, hi, status, help) value[n++] = p->field;
    TL_PARAM_LIST(VALUE)
#undef VALUE
}

static void add_quantity(struct tl_html *h, const struct parameter *p, double value)
{
    char text[64];
    tl_display_text(p->dim, TL_METRIC, value, 4, text, sizeof text);
    tl_html_classed(h, "td", "number", text);
}

/* Those that were changed, or those that were not. */
static void add_rows(struct tl_html *h, const double *value, bool changed)
{
    for (size_t i = 0; i < PARAMETERS; i++) {
        const struct parameter *p = &parameter[i];
        if ((value[i] != p->usual) != changed)
            continue;
        tl_html_open(h, "tr");
        tl_html_open(h, "th");
        tl_html_attribute(h, "scope", "row");
        tl_html_element(h, "code", p->key);
        tl_html_close(h);
        add_quantity(h, p, value[i]);
        if (changed)
            add_quantity(h, p, p->usual);
        tl_html_element(h, "td", p->status);
        tl_html_classed(h, "td", "wide", p->help);
        tl_html_close(h);
    }
}

static size_t count_changed(const double *value)
{
    size_t n = 0;
    for (size_t i = 0; i < PARAMETERS; i++)
        n += value[i] != parameter[i].usual;
    return n;
}

void tl_part_assumptions(struct tl_html *h, const struct tl_scenario *scenario)
{
    static const char *const of_changed[] = {"Parameter", "Value here", "Default", "Status",
                                             "What it is, and its source"};
    static const char *const of_others[] = {"Parameter", "Value", "Status",
                                            "What it is, and its source"};
    double value[PARAMETERS];
    read_values(&scenario->setup.params, value);
    const size_t changed = count_changed(value);
    tl_html_element(h, "p",
                    "The answer rests on numbers of the model. Their status says how well each is "
                    "known: published (a paper gives it), memory (a paper is named, its value was "
                    "not looked up again), judgement (chosen so that published behaviour comes "
                    "out), common practice (no source).");
    if (changed == 0) {
        tl_html_element(h, "p", "The scenario changes none of them.");
    } else {
        tl_table_begin(h, "changed", "Changed by the scenario");
        tl_table_head(h, of_changed, 5);
        add_rows(h, value, true);
        tl_table_end(h);
    }
    tl_html_open(h, "details");
    tl_html_open(h, "summary");
    tl_html_textf(h, "The %zu parameters at their defaults", PARAMETERS - changed);
    tl_html_close(h);
    tl_table_begin(h, "defaults", "Parameters at their defaults");
    tl_table_head(h, of_others, 4);
    add_rows(h, value, false);
    tl_table_end(h);
    tl_html_close(h);
}
