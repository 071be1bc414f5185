/* The table of limits. */
#include <math.h>

#include "document.h"
#include "limit_words.h"
#include "parts.h"
#include "text.h"

static void add_row(struct tl_html *h, const struct tl_run_data *d, int i)
{
    const struct tl_run_limit *l = &d->result.limit[i];
    const enum tl_limit_id id = (enum tl_limit_id)i;
    const enum tl_unit_system units = d->report->units;
    const char *unit = tl_limit_unit(id, units);
    tl_html_open(h, "tr");
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "row");
    tl_html_text(h, tl_limit_name(id));
    if (*unit) {
        char small[64];
        tl_format(small, sizeof small, "%s%s%s", unit, *tl_limit_mean(id) ? ", " : "",
                  tl_limit_mean(id));
        tl_html_text(h, " ");
        tl_html_element(h, "small", small);
    }
    tl_html_close(h);
    tl_html_classed(h, "td", tl_grade_class(l->grade),
                    isnan(l->worst) ? "not judged" : tl_grade_text(l->grade));
    tl_table_number(h, tl_limit_value(id, units, l->worst));
    tl_table_number(h, tl_limit_value(id, units, l->caution));
    tl_table_number(h, tl_limit_value(id, units, l->danger));
    tl_html_open(h, "td");
    tl_run_data_time(h, d, l->worst_time);
    tl_html_close(h);
    tl_html_classed(h, "td", "number", tl_hours_text(l->hours_caution).text);
    tl_html_classed(h, "td", "number", tl_hours_text(l->hours_danger).text);
    tl_html_open(h, "td");
    tl_run_data_time(h, d, l->first_breach);
    tl_html_close(h);
    tl_html_close(h);
}

void tl_part_limits(struct tl_html *h, const struct tl_run_data *d)
{
    static const char *const heading[] = {
        "Limit",        "Verdict",           "Worst value",        "Caution level",
        "Danger level", "When it was worst", "Hours past caution", "Hours past danger",
        "First passed"};
    tl_table_begin(h, "limits-table", "The water of the tank against each limit");
    tl_table_head(h, heading, sizeof heading / sizeof *heading);
    for (int i = 0; i < TL_NLIMIT; i++)
        add_row(h, d, i);
    tl_table_end(h);
    tl_html_classed(
        h, "p", "note",
        "Past caution, fish are under stress or a margin is gone; past danger, it harms or kills. "
        "Ammonia, nitrite and nitrate are counted as nitrogen (as N): 1 mg/L as N is 1.29 mg/L "
        "NH4, 3.28 mg/L NO2 or 4.43 mg/L NO3 of a test kit. \"-\": there is none. The levels of "
        "total ammonia and of nitrite move with pH, warmth and salt; shown are those of the worst "
        "moment.");
    if (d->result.hours_without_fish > 0) {
        tl_html_open(h, "p");
        tl_html_textf(h, "For %s there are no fish in the tank; they are not judged.",
                      tl_hours_span(d->result.hours_without_fish).text);
        tl_html_close(h);
    }
}
