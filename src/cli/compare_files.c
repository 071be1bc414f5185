/* A comparison as CSV and as JSON: metric, 17 digits where a program reads it. */
#include <math.h>
#include <string.h>

#include "atomic_file.h"
#include "compare_view.h"
#include "json.h"
#include "text.h"
#include "towerloop/status.h"
#include "uncertain.h"

#define COMPARE_FORMAT 1
#define JSON_DIGITS    17

static const char *const limit_name[TL_NLIMIT] = {
#define NAME(id, name, unit) [id] = (name),
    TL_LIMIT_LIST(NAME)
#undef NAME
};

static const char *const column[TL_NLIMIT] = {
    [TL_LIMIT_NH3] = "nh3_mgN_L",
    [TL_LIMIT_TAN_CHRONIC] = "tan_30d_mgN_L",
    [TL_LIMIT_TAN_ACUTE] = "tan_1h_mgN_L",
    [TL_LIMIT_NO2] = "no2_mgN_L",
    [TL_LIMIT_NO3] = "no3_mgN_L",
    [TL_LIMIT_O2] = "o2_mg_L",
    [TL_LIMIT_PH_LOW] = "ph_low",
    [TL_LIMIT_PH_HIGH] = "ph_high",
    [TL_LIMIT_PH_SWING] = "ph_swing",
    [TL_LIMIT_ALK] = "alkalinity_mgCaCO3_L",
    [TL_LIMIT_CO2] = "co2_mg_L",
    [TL_LIMIT_CHLORINE] = "chlorine_mgCl2_L",
    [TL_LIMIT_CHLORIDE] = "chloride_mg_L",
    [TL_LIMIT_COLD] = "temperature_low_degC",
    [TL_LIMIT_WARM] = "temperature_high_degC",
    [TL_LIMIT_HOUR_CHANGE] = "temperature_change_1h_degC",
    [TL_LIMIT_DAY_CHANGE] = "temperature_change_1d_degC",
};

/* NAN, which is left empty, where the temperature is given. */
#define OUTDOORS(figure) (row->amounts.outdoors ? row->amounts.heat.figure : NAN)

/* What a row has besides the limits: name, value. */
#define FIGURES(X)                                                                                 \
    X(length_d, row->scenario.setup.length_d)                                                      \
    X(hours_without_fish, row->result.hours_without_fish)                                          \
    X(total_ammonia_highest_mgN_L, row->result.extreme[TL_EXTREME_TAN].highest)                    \
    X(nitrite_highest_mgN_L, row->result.extreme[TL_EXTREME_NO2].highest)                          \
    X(least_tray_oxygen_mg_L, row->result.least_o2)                                                \
    X(most_voids_filled, row->result.most_filled)                                                  \
    X(most_film_without_oxygen, row->result.most_airless)                                          \
    X(hydrogen_sulfide_can_form, row->result.sulfide)                                              \
    X(fish_kg, row->amounts.fish_kg)                                                               \
    X(feed_kg, row->amounts.feed_kg)                                                               \
    X(water_m3, row->amounts.water_m3)                                                             \
    X(pump_kWh, row->amounts.pump_kwh)                                                             \
    X(aerator_kWh, row->amounts.aerator_kwh)                                                       \
    X(heater_kWh, row->amounts.heater_kwh)                                                         \
    X(water_lowest_degC, OUTDOORS(lowest_degC))                                                    \
    X(water_highest_degC, OUTDOORS(highest_degC))                                                  \
    X(evaporated_m3, OUTDOORS(evaporated_m3))                                                      \
    X(hours_frost_on_tower, OUTDOORS(frost_h))                                                     \
    X(most_ice_kg, OUTDOORS(most_ice_kg))                                                          \
    X(baking_soda_kg, row->amounts.baking_soda_kg)                                                 \
    X(salt_kg, row->amounts.salt_kg)                                                               \
    X(cost_to_build, row->bill.build)                                                              \
    X(cost_a_month, row->bill.month)                                                               \
    X(cost_whole_run, row->bill.whole_run)                                                         \
    X(cost_a_month_per_kg_fish, row->bill.month_per_kg)                                            \
    X(media_m3, row->sheet.media_m3)                                                               \
    X(media_dry_kg, row->sheet.media_kg)                                                           \
    X(stack_wet_kg, row->sheet.wet_kg)                                                             \
    X(stack_flooded_kg, row->sheet.flooded_kg)                                                     \
    X(stack_height_m, row->sheet.height_m)                                                         \
    X(stack_footprint_m2, row->sheet.footprint_m2)                                                 \
    X(pump_lift_m, row->sheet.lift_m)                                                              \
    X(pump_m3_h, row->sheet.pump_m3_d / 24)                                                        \
    X(pump_head_m, row->sheet.head_m)

/* --- CSV -------------------------------------------------------------------------------------- */

static void add_cell(struct tl_text *t, double x)
{
    if (isfinite(x))
        tl_text_addf(t, ",%.9g", x);
    else
        tl_text_add(t, ",");
}

static const char *const range_name[TL_NRANGE] = {
#define NAME(id, what, unit, low, high, use, source) [id] = (what),
    TL_RANGE_LIST(NAME)
#undef NAME
};

/* What lay outside the published ranges, each once. */
static void add_outside(struct tl_text *t, const struct tl_run_result *r)
{
    const char *last = "";
    tl_text_add(t, ",\"");
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(r->outside[i]) && strcmp(last, range_name[i]) != 0) {
            tl_text_addf(t, "%s%s", *last ? "; " : "", range_name[i]);
            last = range_name[i];
        }
    tl_text_add(t, "\"");
}

/* runs, of them within limits, in danger, with fish lost, better and worse than the first variant; the ends of
 * the 90 % interval. Empty where that was not asked, and the last two for the first variant. */
#define CHANCES(X)                                                                                 \
    X(uncertain_within_limits, within, false)                                                      \
    X(uncertain_danger, danger, false)                                                             \
    X(uncertain_fish_lost, lost, false)                                                            \
    X(uncertain_better_than_first, better, true)                                                   \
    X(uncertain_worse_than_first, worse, true)

static void add_chance(struct tl_text *t, const struct tl_chance *c)
{
    add_cell(t, (double)c->runs);
    add_cell(t, c->low);
    add_cell(t, c->high);
}

static void add_chances(struct tl_text *t, const struct tl_paired *p, bool first)
{
    if (p)
        add_cell(t, (double)p->spread.runs);
    else
        tl_text_add(t, ",");
#define CHANCE(name, member, against_first)                                                        \
    if (p && !((against_first) && first))                                                          \
        add_chance(t, &p->member);                                                                 \
    else                                                                                           \
        tl_text_add(t, ",,,");
    CHANCES(CHANCE)
#undef CHANCE
}

static void add_row(struct tl_text *t, const struct tl_compare_row *row, const char *run,
                    const struct tl_paired *uncertain, bool first)
{
    tl_text_add_cell(t, row->name);
    tl_text_addf(t, ",%s,", run);
    tl_text_add_cell(t, row->result.verdict);
    tl_text_addf(t, ",%s,", row->result.fish_lost ? "yes" : "no");
    tl_text_add_cell(t, row->scenario.costs.currency);
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_run_limit *l = &row->result.limit[i];
        add_cell(t, l->worst);
        add_cell(t, l->hours_caution);
        add_cell(t, l->hours_danger);
        tl_text_addf(t, ",%s", tl_grade_text(l->grade));
    }
    add_outside(t, &row->result);
#define CELL(name, value) add_cell(t, value);
    FIGURES(CELL)
#undef CELL
    add_chances(t, uncertain, first);
    tl_text_add(t, "\n");
}

int tl_compare_write_csv(const struct tl_compare *c, const char *path)
{
    struct tl_atomic_file file;
    struct tl_text t = {0};
    tl_text_add(&t, "variant,run,verdict,fish_lost,currency");
    for (int i = 0; i < TL_NLIMIT; i++)
        tl_text_addf(&t, ",%s_worst,%s_hours_caution,%s_hours_danger,%s_verdict", column[i],
                     column[i], column[i], column[i]);
    tl_text_add(&t, ",outside_published_range");
#define COLUMN(name, value) tl_text_add(&t, "," #name);
    FIGURES(COLUMN)
#undef COLUMN
    tl_text_add(&t, ",uncertain_runs");
#define COLUMN(name, member, against_first)                                                        \
    tl_text_add(&t, "," #name "_runs," #name "_low," #name "_high");
    CHANCES(COLUMN)
#undef COLUMN
    tl_text_add(&t, "\n");
    for (size_t i = 0; i < c->rows; i++)
        add_row(&t, &c->row[i], c->run[i], c->uncertain ? &c->uncertain[i] : NULL, i == 0);
    int status = t.failed ? TL_E_MEMORY : tl_atomic_open(&file, path);
    if (status == TL_OK) {
        fputs(t.data, file.f);
        status = tl_atomic_commit(&file);
    }
    tl_text_free(&t);
    return status;
}

/* --- JSON ------------------------------------------------------------------------------------- */

static json_t *text_or_null(const char *text)
{
    return text && *text ? json_string(text) : json_null();
}

static json_t *limits_json(const struct tl_run_result *r)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_run_limit *l = &r->limit[i];
        tl_json_append(
            &array, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "name",
                              limit_name[i], "unit", l->unit, "caution", tl_json_number(l->caution),
                              "danger", tl_json_number(l->danger), "worst",
                              tl_json_number(l->worst), "worst_time", text_or_null(l->worst_time),
                              "hours_caution", tl_json_number(l->hours_caution), "hours_danger",
                              tl_json_number(l->hours_danger), "first_breach",
                              text_or_null(l->first_breach), "verdict", tl_grade_text(l->grade)));
    }
    return array;
}

static json_t *outside_json(const struct tl_run_result *r)
{
    static const char *const use[TL_NRANGE] = {
#define USE(id, what, unit, low, high, use_, source) [id] = (use_),
        TL_RANGE_LIST(USE)
#undef USE
    };
    json_t *array = json_array();
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(r->outside[i]))
            tl_json_append(&array, json_pack("{s:s, s:s, s:f}", "what", range_name[i], "used_for",
                                             use[i], "value", r->outside[i]));
    return array;
}

static json_t *row_json(const struct tl_compare_row *row, const char *run)
{
    struct tl_text folder = {0};
    tl_text_addf(&folder, "runs/%s", run);
    json_t *object =
        folder.failed
            ? NULL
            : json_pack(
                  "{s:s, s:s, s:o, s:s, s:o, s:b, s:b, s:o, s:o, s:o, s:o}", "name", row->name,
                  "run", tl_text_string(&folder), "file", text_or_null(row->scenario.path),
                  "verdict", row->result.verdict, "verdict_cannot_tell",
                  text_or_null(*row->result.cannot_tell ? row->result.cannot_tell : NULL),
                  "own_limits", row->result.own_limits, "fish_lost", row->result.fish_lost,
                  "filter_ready_day", tl_json_number(row->result.filter_ready_d), "limits",
                  limits_json(&row->result), "outside_published_range", outside_json(&row->result),
                  "currency", text_or_null(row->scenario.costs.currency));
#define MEMBER(name, value) tl_json_put(&object, #name, tl_json_number(value));
    FIGURES(MEMBER)
#undef MEMBER
    tl_text_free(&folder);
    return object;
}

static json_t *row_of(const struct tl_compare *c, size_t i)
{
    json_t *object = row_json(&c->row[i], c->run[i]);
    tl_json_put(&object, "uncertain",
                c->uncertain ? tl_uncertain_json(&c->uncertain[i], i == 0) : json_null());
    return object;
}

static json_t *cheapest_json(const struct tl_compare *c, enum tl_grade worst)
{
    const struct tl_compare_row *row = tl_compare_cheapest(c, worst);
    return text_or_null(row ? row->name : NULL);
}

int tl_compare_write_json(const struct tl_compare *c, const char *path)
{
    json_t *rows = json_array();
    for (size_t i = 0; i < c->rows; i++)
        tl_json_append(&rows, row_of(c, i));
    json_t *root = tl_json_result(
        COMPARE_FORMAT,
        json_pack("{s:o, s:{s:o, s:o, s:o}, s:o}", "variants", rows, "cheapest", "within limits",
                  cheapest_json(c, TL_WITHIN), "without danger", cheapest_json(c, TL_CAUTION),
                  "none because the variants", text_or_null(tl_compare_unlike(c)), "uncertain",
                  c->uncertain ? tl_uncertain_asked_json(&c->uncertain->spread) : json_null()));
    return tl_json_write(root, path, JSON_INDENT(2) | JSON_REAL_PRECISION(JSON_DIGITS));
}
