/* Numbers of the charts in a table. */
#include "numbers.h"

#include <string.h>

struct tl_figure tl_figure_range(struct tl_chart_range r)
{
    const struct tl_figure low = tl_figure_of(r.low), high = tl_figure_of(r.high);
    struct tl_figure f = low;
    if (strcmp(low.text, high.text) != 0)
        tl_format(f.text, sizeof f.text, "%.28s to %.28s", low.text, high.text);
    return f;
}

struct tl_figure tl_figure_spread(struct tl_chart_spread s)
{
    const struct tl_figure range = tl_figure_range(s.range);
    struct tl_figure f = tl_figure_of(s.mean);
    if (strcmp(f.text, range.text) != 0) {
        const size_t n = strlen(f.text);
        tl_format(f.text + n, sizeof f.text - n, " (%.40s)", range.text);
    }
    return f;
}

void tl_stretch_note(struct tl_html *h, const struct tl_chart_tables *t)
{
    tl_html_open(h, "p");
    tl_html_textf(
        h,
        "Each row is a stretch of %s that begins at that time, and has the lowest value to "
        "the highest.",
        tl_figure_with_unit(TL_DIM_TIME, TL_METRIC, tl_chart_tables_stretch_d(t)).text);
    if (tl_chart_tables_far_apart_h(t) > 0)
        tl_html_textf(h,
                      " It is made from rows %s h apart and the lowest and highest of the run: in "
                      "between the water may have gone further. The table of limits counts every "
                      "hour.",
                      tl_figure_of(tl_chart_tables_far_apart_h(t)).text);
    tl_html_close(h);
}

void tl_stretch_cell(struct tl_html *h, const struct tl_date *start,
                     const struct tl_chart_tables *t, size_t row)
{
    const struct tl_date date = tl_date_at(start, tl_chart_tables_from_d(t, row) + 1e-6);
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "row");
    char part[40];
    tl_format(part, sizeof part, "%04d-%02d-%02d", date.year, date.month, date.day);
    tl_html_classed(h, "span", "figure", part);
    if (tl_chart_tables_stretch_d(t) < 1)
        tl_html_textf(h, " %02d:%02d", date.second / 3600, date.second / 60 % 60);
    tl_html_close(h);
}
