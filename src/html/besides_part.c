/* What a run tells besides its limits. */
#include <math.h>

#include "document.h"
#include "parts.h"

static void begin(struct tl_html *h, const char *label)
{
    tl_html_element(h, "dt", label);
    tl_html_open(h, "dd");
}

static void add_time(struct tl_html *h, const struct tl_run_data *d, const char *before,
                     const char *path)
{
    const char *iso = tl_run_data_text(d, path);
    if (!*iso)
        return;
    tl_html_text(h, before);
    tl_run_data_time(h, d, iso);
}

static void say_filter(struct tl_html *h, const struct tl_run_data *d)
{
    const struct tl_setup *s = &d->report->scenario->setup;
    if (s->tower.biofilm == TL_BIOFILM_MATURE)
        return;
    begin(h, "Filter ready");
    if (isnan(d->result.filter_ready_d))
        tl_html_text(h, "not within this run");
    else
        tl_html_textf(h, "from day %s on ammonia and nitrite stay low",
                      tl_figure_of(floor(d->result.filter_ready_d)).text);
    tl_html_close(h);
}

static void say_worst_day(struct tl_html *h, const struct tl_run_data *d)
{
    if (isnan(tl_run_data_number(d, "worst_day.oxygen_least_mg_L")))
        return;
    begin(h, "Day of least oxygen");
    tl_html_textf(h, "%s mg/L",
                  tl_figure_of(tl_run_data_number(d, "worst_day.oxygen_least_mg_L")).text);
    add_time(h, d, " at ", "worst_day.oxygen_least_time");
    tl_html_textf(h, "; carbon dioxide then up to %s mg/L, pH down to %s",
                  tl_figure_of(tl_run_data_number(d, "worst_day.co2_most_mg_L")).text,
                  tl_figure_of(tl_run_data_number(d, "worst_day.ph_least")).text);
    tl_html_close(h);
}

static void say_heat(struct tl_html *h, const struct tl_run_data *d)
{
    const enum tl_unit_system units = d->report->units;
    const double coldest = tl_run_data_number(d, "heat.lowest_degC");
    const double warmest = tl_run_data_number(d, "heat.highest_degC");
    const double ice_kg = tl_run_data_number(d, "heat.most_ice_kg");
    const double frost_h = tl_run_data_number(d, "heat.hours_frost_on_tower");
    if (isnan(coldest))
        return;
    begin(h, "Water temperature");
    tl_html_textf(h, "from %s", tl_figure_with_unit(TL_DIM_TEMPERATURE, units, coldest).text);
    add_time(h, d, " at ", "heat.lowest_time");
    tl_html_textf(h, " to %s", tl_figure_with_unit(TL_DIM_TEMPERATURE, units, warmest).text);
    add_time(h, d, " at ", "heat.highest_time");
    tl_html_textf(h, "; %s evaporate in a day, on average",
                  tl_figure_with_unit(TL_DIM_VOLUME, units,
                                      tl_run_data_number(d, "heat.evaporation_L_d") / 1000)
                      .text);
    tl_html_close(h);
    if (ice_kg > 0) {
        begin(h, "Ice");
        tl_html_textf(h, "up to %s on the water",
                      tl_figure_with_unit(TL_DIM_MASS, units, 1000 * ice_kg).text);
        add_time(h, d, ", first at ", "heat.first_ice");
        tl_html_close(h);
    }
    if (frost_h > 0) {
        begin(h, "Frost");
        tl_html_textf(h,
                      "air below freezing for %s hours with the tower running: ice can weigh the "
                      "stack down and empty the tank",
                      tl_figure_hours(frost_h).text);
        tl_html_close(h);
    }
}

static void say_doses(struct tl_html *h, const struct tl_run_data *d)
{
    static const struct {
        const char *path, *name;
    } dose[] = {{"doses.baking_soda_g", "baking soda"},
                {"doses.salt_g", "salt"},
                {"doses.ammonium_chloride_g", "ammonium chloride"},
                {"doses.sodium_thiosulfate_g", "sodium thiosulfate"}};
    size_t said = 0;
    for (size_t i = 0; i < sizeof dose / sizeof *dose; i++) {
        const double g = tl_run_data_number(d, dose[i].path);
        if (!(g > 0))
            continue;
        if (said++ == 0)
            begin(h, "Dosed in all");
        tl_html_textf(h, "%s%s %s", said > 1 ? ", " : "",
                      tl_figure_with_unit(TL_DIM_MASS, d->report->units, g).text, dose[i].name);
    }
    if (said > 0)
        tl_html_close(h);
}

static void say_chlorine(struct tl_html *h, const struct tl_run_data *d)
{
    const double most = tl_run_data_number(d, "chlorine.most_mg_L");
    if (!(most > 0))
        return;
    begin(h, "Chlorine");
    tl_html_textf(h, "at most %s mg/L", tl_figure_of(most).text);
    add_time(h, d, " at ", "chlorine.most_time");
    tl_html_textf(h, "; it kills up to %s %% of the film",
                  tl_figure_of(100 * tl_run_data_number(d, "chlorine.film_killed_at_most")).text);
    tl_html_close(h);
}

static void say_algae(struct tl_html *h, const struct tl_run_data *d)
{
    const double cover = tl_run_data_number(d, "algae.top_tray_cover");
    if (isnan(cover))
        return;
    begin(h, "Algae");
    tl_html_textf(h, "%s %% of the top tray is covered at the end", tl_figure_of(100 * cover).text);
    tl_html_textf(h, "; in a day they swing oxygen by up to %s mg/L and pH by up to %s",
                  tl_figure_of(tl_run_data_number(d, "algae.oxygen_swing_mg_L")).text,
                  tl_figure_of(tl_run_data_number(d, "algae.ph_swing")).text);
    tl_html_close(h);
}

void tl_part_besides(struct tl_html *h, const struct tl_run_data *d)
{
    tl_html_open(h, "dl");
    tl_html_attribute(h, "class", "asked");
    say_filter(h, d);
    say_worst_day(h, d);
    say_heat(h, d);
    say_chlorine(h, d);
    say_doses(h, d);
    say_algae(h, d);
    tl_html_close_or_drop(h);
}
