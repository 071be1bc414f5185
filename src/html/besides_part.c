/* What a run tells besides its limits. */
#include <math.h>

#include "document.h"
#include "formalin.h"
#include "parts.h"
#include "towerloop/shock_watch.h"
#include "towerloop/upkeep.h"

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

/* A filter that is ready may leave poison in the water. */
static void say_after_ready(struct tl_html *h, const struct tl_run_data *d)
{
    const json_t *after = tl_run_data_at(d, "after_filter_ready");
    const bool nh3 = json_is_true(json_object_get(after, "un_ionised_ammonia_beyond_caution"));
    const bool no2 = json_is_true(json_object_get(after, "nitrite_beyond_caution"));
    const double within_d = tl_run_data_number(d, "after_filter_ready.within_caution_from_day");
    if (!nh3 && !no2)
        return;
    tl_html_textf(h, "; but %s beyond caution after that, ",
                  nh3 && no2 ? "un-ionised ammonia and nitrite are"
                  : nh3      ? "un-ionised ammonia is"
                             : "nitrite is");
    if (isnan(within_d))
        tl_html_text(h, "with no week within it by the end");
    else
        tl_html_textf(h, "until day %s", tl_figure_of(floor(within_d)).text);
    tl_html_text(h, ": test daily, feed little");
}

static void say_filter(struct tl_html *h, const struct tl_run_data *d)
{
    const struct tl_setup *s = &d->report->scenario->setup;
    if (s->tower.biofilm == TL_BIOFILM_MATURE)
        return;
    begin(h, "Filter ready");
    const char *because = tl_run_data_text(d, "filter_work.not_ready_because");
    if (*because)
        tl_html_text(h, because);
    else if (isnan(d->result.filter_ready_d))
        tl_html_text(h, "not within this run");
    else
        tl_html_textf(h, "from day %s on total ammonia and nitrite stay low",
                      tl_figure_of(floor(d->result.filter_ready_d)).text);
    say_after_ready(h, d);
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
    const double tray_ice_h = tl_run_data_number(d, "heat.hours_ice_in_tower");
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
        tl_html_text(h, "; no air comes through ice: only aerator and tower bring oxygen");
        tl_html_close(h);
    }
    if (frost_h > 0) {
        begin(h, "Frost");
        tl_html_textf(h,
                      "air below freezing for %s with the tower running: ice can weigh the "
                      "stack down and empty the tank",
                      tl_hours_span(frost_h).text);
        tl_html_close(h);
    }
    if (tray_ice_h > 0) {
        begin(h, "Ice in the tower");
        tl_html_textf(h, "water freezes in the trays for %s%s", tl_hours_span(tray_ice_h).text,
                      tray_ice_h > frost_h ? ", in air above freezing as well: it evaporates" : "");
        tl_html_close(h);
    }
}

/* In the same words as the text of a run. */
static void say_cold_feed(struct tl_html *h, const struct tl_run_data *d)
{
    const enum tl_unit_system units = d->report->units;
    const double feed_g = tl_run_data_number(d, "cold_feed.mass_g");
    const struct tl_figure least =
        tl_figure_with_unit(TL_DIM_TEMPERATURE, units, TL_TOO_COLD_TO_FEED_DEGC);
    if (!(feed_g > 0))
        return;
    begin(h, "Feed in cold water");
    tl_html_textf(h, "%s in water below %s", tl_figure_with_unit(TL_DIM_MASS, units, feed_g).text,
                  least.text);
    add_time(h, d, ", first at ", "cold_feed.first_time");
    tl_html_textf(h,
                  ", in water down to %s; koi and carp hardly digest it there: stop feeding below "
                  "%s",
                  tl_figure_with_unit(TL_DIM_TEMPERATURE, units,
                                      tl_run_data_number(d, "cold_feed.coldest_degC"))
                      .text,
                  least.text);
    tl_html_close(h);
}

static void say_doses(struct tl_html *h, const struct tl_run_data *d)
{
    static const char *const path[TL_NDOSE] = {
        [TL_DOSE_BAKING_SODA] = "given.baking_soda_g",
        [TL_DOSE_SALT] = "given.salt_g",
        [TL_DOSE_AMMONIUM_CHLORIDE] = "given.ammonium_chloride_g",
        [TL_DOSE_THIOSULFATE] = "given.sodium_thiosulfate_g",
        [TL_DOSE_FORMALDEHYDE] = "given.formaldehyde_g",
        [TL_DOSE_PEROXIDE] = "given.hydrogen_peroxide_g",
        [TL_DOSE_CHLORAMINE_T] = "given.chloramine_t_g",
    };
    const enum tl_unit_system units = d->report->units;
    size_t said = 0;
    for (int i = 0; i < TL_NDOSE; i++) {
        const double g = tl_run_data_number(d, path[i]);
        if (!(g > 0))
            continue;
        if (said++ == 0)
            begin(h, "Dosed in all");
        tl_html_text(h, said > 1 ? ", " : "");
        if (i == TL_DOSE_FORMALDEHYDE)
            tl_html_textf(h, "%s (%s of %s)", tl_formalin(units, g).text,
                          tl_figure_with_unit(TL_DIM_MASS, units, g).text,
                          tl_dose_name((enum tl_dose)i));
        else
            tl_html_textf(h, "%s %s", tl_figure_with_unit(TL_DIM_MASS, units, g).text,
                          tl_dose_name((enum tl_dose)i));
    }
    if (said > 0)
        tl_html_close(h);
}

/* "after 3.1 d", or that it was not. */
static void add_back(struct tl_html *h, const char *what, const json_t *after_d)
{
    if (json_is_number(after_d))
        tl_html_textf(h, "%s after %.1f d", what, json_number_value(after_d));
    else
        tl_html_textf(h, "%s not by the end", what);
}

static void add_most(struct tl_html *h, const struct tl_run_data *d, const char *before,
                     const json_t *shock, const char *most, const char *time)
{
    const char *iso = json_string_value(json_object_get(shock, time));
    tl_html_textf(h, "%s %s mg/L at ", before,
                  tl_figure_of(json_number_value(json_object_get(shock, most))).text);
    tl_run_data_time(h, d, iso ? iso : "");
}

static void say_shocks(struct tl_html *h, const struct tl_run_data *d)
{
    const json_t *shocks = tl_run_data_at(d, "shocks"), *shock;
    size_t i;
    json_array_foreach(shocks, i, shock)
    {
        const char *iso = json_string_value(json_object_get(shock, "time"));
        const char *cause = json_string_value(json_object_get(shock, "cause"));
        const double times = json_number_value(json_object_get(shock, "times"));
        const double killed = json_number_value(json_object_get(shock, "ammonia_oxidisers_killed"));
        begin(h, "Shock to the filter");
        tl_html_textf(h, "%s, ", cause ? cause : "film was killed");
        tl_run_data_time(h, d, iso ? iso : "");
        if (times > 1)
            tl_html_textf(h, ", and %.0f more before it was back", times - 1);
        tl_html_textf(h, "; %s %% of the ammonia oxidisers died. Back at %.0f %%: ",
                      tl_figure_of(100 * killed).text, 100 * TL_SHOCK_BACK);
        add_back(h, "ammonia oxidation", json_object_get(shock, "ammonia_oxidation_back_d"));
        add_back(h, ", the oxidisers", json_object_get(shock, "ammonia_oxidisers_back_d"));
        add_most(h, d, ". From then on, highest moments: ammonia", shock, "ammonia_most_mgN_L",
                 "ammonia_most_time");
        add_most(h, d, ", nitrite", shock, "nitrite_most_mgN_L", "nitrite_most_time");
        tl_html_close(h);
    }
}

static void say_stills(struct tl_html *h, const struct tl_run_data *d)
{
    const double times = tl_run_data_number(d, "tower_without_water.times");
    const double longest_h = tl_run_data_number(d, "tower_without_water.longest_h");
    const double moist_h = tl_run_data_number(d, "tower_without_water.media_moist_h");
    const double dry_h = tl_run_data_number(d, "tower_without_water.dry_h");
    if (!(times > 0 && longest_h > 0))
        return;
    begin(h, "Tower without water");
    if (times > 1)
        tl_html_textf(h, "%.0f times, longest %s", times, tl_hours_span(longest_h).text);
    else
        tl_html_textf(h, "once, %s", tl_hours_span(longest_h).text);
    add_time(h, d, " from ", "tower_without_water.longest_from");
    if (isnan(moist_h))
        tl_html_text(h, "; its media stay under water, which runs out of oxygen");
    else
        tl_html_textf(h, "; its media stay moist for %s%s", times > 1 ? "at least " : "",
                      tl_hours_span(moist_h).text);
    if (dry_h > 0)
        tl_html_textf(h, ", then film died in dry media for %s", tl_hours_span(dry_h).text);
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
    say_cold_feed(h, d);
    say_chlorine(h, d);
    say_doses(h, d);
    say_shocks(h, d);
    say_stills(h, d);
    say_algae(h, d);
    tl_html_close_or_drop(h);
}
