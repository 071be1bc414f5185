/* The answer in a sentence. */
#include <math.h>
#include <string.h>

#include "document.h"
#include "limit_words.h"
#include "parts.h"
#include "towerloop/params.h"
#include "towerloop/solids.h"

/* Only warned of: how much of it forms is not reckoned. */
static void say_sulfide(struct tl_html *h, const struct tl_run_data *d)
{
    const char *bed = tl_run_data_text(d, "bed.bed_without_oxygen_and_nitrate.first_time");
    const char *chamber = tl_run_data_text(d, "bed.chamber_without_oxygen_and_nitrate.first_time");
    if (!json_is_true(tl_run_data_at(d, "bed.hydrogen_sulfide_can_form")))
        return;
    tl_html_open(h, "p");
    tl_html_text(h, "Hydrogen sulfide can form: ");
    if (*bed) {
        tl_html_textf(
            h, "media without oxygen and nitrate for up to %s on end, first at ",
            tl_hours_span(tl_run_data_number(d, "bed.bed_without_oxygen_and_nitrate.longest_hours"))
                .text);
        tl_run_data_time(h, d, bed);
    }
    if (*chamber) {
        tl_html_textf(
            h, "%ssettling chamber without oxygen and nitrate for up to %s on end, first at ",
            *bed ? "; " : "",
            tl_hours_span(
                tl_run_data_number(d, "bed.chamber_without_oxygen_and_nitrate.longest_hours"))
                .text);
        tl_run_data_time(h, d, chamber);
    }
    tl_html_text(h, ". It kills fish and people, and is not reckoned here. Where it smells of "
                    "rotten eggs, or did and no longer does, keep out, call for ventilation and "
                    "for help; do not stir up sludge or media with fish in the water.");
    tl_html_close(h);
}

static void say_standing_water(struct tl_html *h, const struct tl_run_data *d)
{
    const double filled_pct = tl_run_data_number(d, "solids.trays.most_voids_filled_pct");
    if (!(filled_pct >= 100 * TL_VOIDS_PONDING))
        return;
    tl_html_open(h, "p");
    tl_html_textf(h,
                  "Water stands on the trays and may run over: %s %% of the voids of tray %.0f are "
                  "filled at ",
                  tl_figure_of(filled_pct).text, tl_run_data_number(d, "solids.trays.fullest"));
    tl_run_data_time(h, d, tl_run_data_text(d, "solids.trays.time"));
    tl_html_text(h, ". Where to it runs is not reckoned. Rinse the trays in pond water.");
    tl_html_close(h);
}

/* "Beyond the danger level: un-ionised ammonia and nitrite." */
static void say_beyond(struct tl_html *h, const struct tl_run_data *d, enum tl_grade grade)
{
    size_t n = 0, said = 0;
    for (int i = 0; i < TL_NLIMIT; i++)
        n += d->result.limit[i].grade == grade;
    if (n == 0)
        return;
    tl_html_open(h, "p");
    tl_html_textf(h, "Past the %s level: ", tl_grade_text(grade));
    for (int i = 0; i < TL_NLIMIT; i++)
        if (d->result.limit[i].grade == grade) {
            tl_html_text(h, said == 0 ? "" : said + 1 == n ? " and " : "; ");
            tl_html_text(h, tl_limit_name((enum tl_limit_id)i));
            said++;
        }
    tl_html_text(h, ".");
    tl_html_close(h);
}

static void say_first(struct tl_html *h, const struct tl_run_data *d)
{
    int first = -1;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const char *breach = d->result.limit[i].first_breach;
        if (*breach && (first < 0 || strcmp(breach, d->result.limit[first].first_breach) < 0))
            first = i;
    }
    if (first < 0)
        return;
    tl_html_open(h, "p");
    tl_html_textf(h, "First to be passed: %s, at ", tl_limit_name((enum tl_limit_id)first));
    tl_run_data_time(h, d, d->result.limit[first].first_breach);
    tl_html_text(h, ".");
    tl_html_close(h);
}

static void say_grade(struct tl_html *h, const struct tl_run_data *d)
{
    const char *verdict = d->result.verdict;
    tl_html_open(h, "p");
    tl_html_text(h, "Verdict: ");
    tl_html_open(h, "span");
    tl_html_attributef(h, "class", "word %s", tl_grade_class(d->result.grade));
    tl_html_text(h, verdict);
    tl_html_close(h);
    tl_html_text(h, ".");
    tl_html_textf(h, " %s, %s.", d->result.grade == TL_WITHIN ? "No limit was passed" : "Judged",
                  tl_run_data_text(d, "verdict_basis"));
    tl_html_close(h);
}

/* How sure it is, where a spread was run. */
static void say_chance(struct tl_html *h, const struct tl_run_data *d)
{
    const double inputs = tl_run_data_number(d, "chance.inputs");
    if (!(inputs > 0))
        return;
    tl_html_open(h, "p");
    tl_html_textf(h, "Over %.0f uncertain input%s: within limits in %s, danger in %s.", inputs,
                  inputs == 1 ? "" : "s", tl_run_data_text(d, "chance.within_limits.text"),
                  tl_run_data_text(d, "chance.danger.text"));
    tl_html_textf(h, " With the scenario's own values: %s.",
                  tl_run_data_text(d, "chance.own_verdict"));
    tl_html_close(h);
}

static void say_ice(struct tl_html *h, const struct tl_run_data *d)
{
    if (!(tl_run_data_number(d, "heat.hours_ice") > 0))
        return;
    tl_html_open(h, "p");
    tl_html_text(h, "The water freezes, first at ");
    tl_run_data_time(h, d, tl_run_data_text(d, "heat.first_ice"));
    tl_html_text(h, tl_run_data_number(d, "heat.hours_ice_with_fish") > 0
                        ? ": fish in it are in danger."
                        : ", with no fish in it.");
    tl_html_close(h);
}

static void say_outside(struct tl_html *h, const struct tl_run_data *d)
{
    const json_t *ranges = tl_run_data_at(d, "ranges"), *row;
    size_t i;
    if (json_array_size(ranges) == 0)
        return;
    tl_html_element(h, "p",
                    "Some of it lies outside the range in which the equations were tested:");
    tl_html_open(h, "ul");
    json_array_foreach(ranges, i, row)
    {
        const char *what = NULL, *unit = NULL, *use = NULL, *source = NULL;
        double value = NAN, low = NAN, high = NAN;
        if (json_unpack((json_t *)row, "{s:s, s:s, s:s, s:s, s:F, s:F, s:F}", "what", &what, "unit",
                        &unit, "used_for", &use, "source", &source, "value", &value, "low", &low,
                        "high", &high) != 0)
            continue;
        const bool warmth = strcmp(unit, "degC") == 0;
        const enum tl_dim dim = warmth ? TL_DIM_TEMPERATURE : TL_DIM_NUMBER;
        const enum tl_unit_system units = d->report->units;
        tl_html_open(h, "li");
        tl_html_textf(h, "%s %s %s; %s is known from %s to %s (%s).", what,
                      tl_figure_of(tl_display_value(dim, units, value)).text,
                      warmth ? tl_display_unit(dim, units) : unit, use,
                      tl_figure_of(tl_display_value(dim, units, low)).text,
                      tl_figure_of(tl_display_value(dim, units, high)).text, source);
        tl_html_close(h);
    }
    tl_html_close(h);
}

static void say_cannot_tell(struct tl_html *h, const struct tl_run_data *d)
{
    const char *text = tl_run_data_text(d, "verdict_cannot_tell");
    if (*text)
        tl_html_element(h, "p", text);
}

void tl_part_verdict(struct tl_html *h, const struct tl_run_data *d)
{
    const json_t *warnings = tl_run_data_at(d, "warnings"), *warning;
    const char *lost = tl_run_data_text(d, "fish_lost_time");
    size_t i;
    tl_html_open(h, "div");
    tl_html_attributef(h, "class", "verdict %s", tl_grade_class(d->result.grade));
    say_grade(h, d);
    say_chance(h, d);
    if (*lost) {
        tl_html_open(h, "p");
        tl_html_textf(h, "Oxygen falls below %s mg/L at ",
                      tl_figure_of(d->report->scenario->setup.params.o2_critical).text);
        tl_run_data_time(h, d, lost);
        tl_html_text(h, ": carp are lost then. Nothing after it can be relied on.");
        tl_html_close(h);
    }
    say_ice(h, d);
    say_sulfide(h, d);
    say_standing_water(h, d);
    say_cannot_tell(h, d);
    say_beyond(h, d, TL_DANGER);
    say_beyond(h, d, TL_CAUTION);
    say_first(h, d);
    tl_html_close(h);
    say_outside(h, d);
    json_array_foreach(warnings, i, warning)
    {
        tl_html_open(h, "p");
        tl_html_text(h, "Note: ");
        tl_html_element(h, "bdi", json_is_string(warning) ? json_string_value(warning) : "");
        tl_html_close(h);
    }
}
