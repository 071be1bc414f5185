/* Writes summary.json: the run in numbers, for scripts. */
#include "towerloop/summary.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "chance_json.h"
#include "json.h"
#include "loop.h"
#include "text.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"

#define HOURS_A_DAY 24.0

static json_t *iso_time(const struct tl_outcome *o, double t_d)
{
    char text[32];
    if (!isfinite(t_d))
        return json_null();
    struct tl_date date = tl_date_at(&o->scenario->start, t_d);
    tl_date_iso(&date, text, sizeof text);
    return json_string(text);
}

/* null, too, for a file name that is not UTF-8. */
static json_t *text_or_null(const char *text)
{
    const bool shown = text && tl_utf8_fault(text, strlen(text)) == strlen(text);
    return shown ? json_string(text) : json_null();
}

static json_t *limits_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *v = &o->verdict->limit[i];
        json_t *row = json_pack(
            "{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}", "name", v->name, "unit", v->unit,
            "caution", tl_json_number(v->caution), "danger", tl_json_number(v->danger), "worst",
            tl_json_number(v->worst), "worst_time", iso_time(o, v->worst_d), "hours_caution",
            tl_json_number(v->hours_caution), "hours_danger", tl_json_number(v->hours_danger),
            "first_breach", iso_time(o, v->first_breach_d), "verdict", tl_grade_text(v->grade));
        tl_json_append(&array, row);
    }
    return array;
}

static json_t *extremes_array(const struct tl_outcome *o)
{
    static const struct {
        const char *name, *unit;
    } row[TL_NEXTREME] = {
#define ROW(id, name, unit) [id] = {name, unit},
        TL_EXTREME_LIST(ROW)
#undef ROW
    };
    json_t *array = json_array();
    for (int i = 0; i < TL_NEXTREME; i++) {
        const struct tl_extreme *x = &o->extremes->of[i];
        tl_json_append(&array,
                       json_pack("{s:s, s:s, s:o, s:o, s:o, s:o}", "name", row[i].name, "unit",
                                 row[i].unit, "lowest", tl_json_number(x->lowest), "lowest_time",
                                 iso_time(o, x->lowest_d), "highest", tl_json_number(x->highest),
                                 "highest_time", iso_time(o, x->highest_d)));
    }
    return array;
}

static const char *const dose_key[TL_NDOSE] = {
    [TL_DOSE_BAKING_SODA] = "baking_soda_g",
    [TL_DOSE_SALT] = "salt_g",
    [TL_DOSE_AMMONIUM_CHLORIDE] = "ammonium_chloride_g",
    [TL_DOSE_THIOSULFATE] = "sodium_thiosulfate_g",
    [TL_DOSE_FORMALDEHYDE] = "formaldehyde_g",
    [TL_DOSE_PEROXIDE] = "hydrogen_peroxide_g",
    [TL_DOSE_CHLORAMINE_T] = "chloramine_t_g",
};

/* Medicine only where there is some. */
static json_t *given_object(const struct tl_outcome *o, const struct tl_given *g, double from_d,
                            double to_d)
{
    json_t *given = json_pack("{s:o, s:o, s:f, s:f, s:f, s:f, s:f, s:f}", "from",
                              iso_time(o, from_d), "to", iso_time(o, to_d), "feed_g", g->feed_g,
                              "baking_soda_g", g->dose_g[TL_DOSE_BAKING_SODA],
                              "baking_soda_by_plan_g", g->held_g, "salt_g", g->dose_g[TL_DOSE_SALT],
                              "ammonium_chloride_g", g->dose_g[TL_DOSE_AMMONIUM_CHLORIDE],
                              "sodium_thiosulfate_g", g->dose_g[TL_DOSE_THIOSULFATE]);
    for (int k = TL_DOSE_FORMALDEHYDE; k < TL_NDOSE; k++)
        if (g->dose_g[k] > 0)
            tl_json_put(&given, dose_key[k], json_real(g->dose_g[k]));
    return given;
}

static json_t *account_object(const struct tl_ledger_account *a)
{
    json_t *side[] = {[TL_LEDGER_IN] = json_object(),
                      [TL_LEDGER_OUT] = json_object(),
                      [TL_LEDGER_STORED] = json_object(),
                      [TL_LEDGER_NOTE] = json_object()};
    for (size_t i = 0; i < a->lines; i++)
        tl_json_put(&side[a->line[i].side], a->line[i].key, tl_json_number(a->line[i].amount));
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "unit", a->unit, "in",
                     side[TL_LEDGER_IN], "out", side[TL_LEDGER_OUT], "stored",
                     tl_json_number(a->stored), "residual_rel", tl_json_number(a->residual_rel),
                     "stored_in", side[TL_LEDGER_STORED], "notes", side[TL_LEDGER_NOTE]);
}

static json_t *ledger_object(const struct tl_ledger *l)
{
    const struct tl_ledger_account *const account[] = {&l->nitrogen, &l->oxygen, &l->alkalinity,
                                                       &l->carbon, &l->charge};
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof account / sizeof account[0]; i++)
        tl_json_put(&object, account[i]->name, account_object(account[i]));
    return object;
}

static json_t *advice_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (size_t i = 0; i < o->advices; i++)
        tl_json_append(&array,
                       json_pack("{s:s, s:s, s:o, s:o}", "lever", o->advice[i].lever, "because",
                                 o->advice[i].because, "cost_to_build_more",
                                 tl_json_number(o->advice[i].build_more), "cost_over_run_more",
                                 tl_json_number(o->advice[i].run_more)));
    return array;
}

/* What a filter that is ready leaves in the water; null where nobody asked. */
static json_t *after_ready_object(const struct tl_outcome *o)
{
    const struct tl_after_ready *a = o->jobs ? &o->jobs->after : NULL;
    if (!a || isnan(o->verdict->filter_ready_d))
        return json_null();
    return json_pack("{s:b, s:b, s:o}", "un_ionised_ammonia_beyond_caution", a->nh3,
                     "nitrite_beyond_caution", a->no2, "within_caution_from_day",
                     tl_json_number(a->within_d));
}

/* Of films that began new or seeded, in the last days of the run. */
static json_t *film_object(const struct tl_verdict *v)
{
    const struct tl_film_work *w = &v->film;
    struct tl_text text = {0};
    tl_filter_unproven(v, &text);
    json_t *o =
        json_pack("{s:f, s:o, s:f, s:f, s:f, s:o, s:o}", "days", TL_READY_DAYS,
                  "water_low_from_day", tl_json_number(v->low_from_d), "came_in_gN", w->came_in_g,
                  "oxidised_gN", w->oxidised_g, "nitrite_oxidised_gN", w->nitrite_oxidised_g,
                  "growth_per_day", tl_json_number(w->growth_1_d), "not_ready_because",
                  text_or_null(text.length > 0 ? tl_text_string(&text) : NULL));
    if (text.failed) {
        json_decref(o);
        o = NULL;
    }
    tl_text_free(&text);
    return o;
}

static json_t *parameters_object(const struct tl_params *p)
{
    json_t *object = json_object();
#define PARAMETER(field, dflt, dim, lo, hi, status, help)                                          \
    tl_json_put(&object, #field, tl_json_number(p->field));
    TL_PARAM_LIST(PARAMETER)
#undef PARAMETER
    return object;
}

static json_t *ranges_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NRANGE; i++) {
        const struct tl_range_note *n = &o->ranges->note[i];
        if (!n->outside)
            continue;
        tl_json_append(&array,
                       json_pack("{s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:o}", "what", n->what,
                                 "unit", n->unit, "used_for", n->use, "source", n->source, "low",
                                 tl_json_number(n->low), "high", tl_json_number(n->high), "value",
                                 tl_json_number(n->value), "first_time", iso_time(o, n->first_d)));
    }
    return array;
}

static json_t *warnings_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (size_t i = 0; i < o->warnings; i++)
        tl_json_append(&array, json_string(o->warning[i]));
    return array;
}

/* The files a run was given besides the scenario; copies lie in inputs/. */
static json_t *inputs_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (enum tl_input i = 0; i < TL_NINPUT; i++)
        if (o->scenario->input[i])
            tl_json_append(&array, json_string(tl_scenario_input_name(o->scenario, i)));
    return array;
}

/* null where the temperature was given. Heat in kWh, gains of the water positive. */
static json_t *heat_object(const struct tl_outcome *o)
{
    const struct tl_heat_summary *h = o->heat;
    const double days = o->scenario->setup.length_d;
    if (!h)
        return json_null();
    json_t *flows = json_object();
#define FLOW(id, name) tl_json_put(&flows, #name, tl_json_number(h->flow_j[TL_HEAT_##id] / 3.6e6));
    TL_HEAT_FLOW_LIST(FLOW)
#undef FLOW
    return json_pack(
        "{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, "
        "s:o, "
        "s:o, s:o, s:o, s:o, s:o, s:o}",
        "mean_degC", tl_json_number(h->mean_degC), "lowest_degC", tl_json_number(h->lowest_degC),
        "lowest_time", iso_time(o, h->lowest_d), "highest_degC", tl_json_number(h->highest_degC),
        "highest_time", iso_time(o, h->highest_d), "air_lowest_degC",
        tl_json_number(h->air_lowest_degC), "air_highest_degC", tl_json_number(h->air_highest_degC),
        "evaporated_L", tl_json_number(1000 * h->evaporated_m3), "evaporated_in_tower_L",
        tl_json_number(1000 * h->tower_evaporated_m3), "evaporation_L_d",
        tl_json_number(1000 * h->evaporated_m3 / days), "most_evaporation_L_d",
        tl_json_number(1000 * h->most_evaporated_m3_d), "most_evaporation_day",
        iso_time(o, h->most_evaporated_d), "top_up_L", tl_json_number(1000 * h->top_up_m3),
        "hours_frost_on_tower", tl_json_number(h->frost_h), "first_frost_on_tower",
        iso_time(o, h->frost_d), "hours_ice_in_tower", tl_json_number(h->tray_ice_h), "hours_ice",
        tl_json_number(h->ice_h), "hours_ice_with_fish", tl_json_number(h->fish_ice_h), "first_ice",
        iso_time(o, h->ice_d), "most_ice_kg", tl_json_number(h->most_ice_kg), "frozen_to_bottom",
        iso_time(o, h->frozen_d), "hours_heater_short", tl_json_number(h->heater_short_h),
        "flows_kWh", flows, "stored_kWh", tl_json_number(h->stored_j / 3.6e6));
}

static json_t *stats_object(const struct tl_engine_stats *s)
{
    return json_pack("{s:I, s:I, s:I, s:I}", "steps", (json_int_t)s->steps, "rejected",
                     (json_int_t)s->rejected, "evaluations", (json_int_t)s->evaluations, "stops",
                     (json_int_t)s->stops);
}

/* The pump at the start and at the end of the run; head null where the flow was given. */
static json_t *pump_object(const struct tl_outcome *o)
{
    const struct tl_setup *s = &o->scenario->setup;
    struct tl_duty duty;
    if (tl_pump_duty(s, s->pump.count, &duty))
        return NULL;
    return json_pack("{s:i, s:f, s:f, s:o, s:f}", "count", s->pump.count, "start_m3_h",
                     duty.flow_m3_d / HOURS_A_DAY, "end_m3_h", o->last_flow_m3_d / HOURS_A_DAY,
                     "head_m", tl_json_number(duty.head_m), "fouling_1_d", s->pump.fouling_1_d);
}

/* The day of least oxygen with fish in. */
static json_t *worst_day(const struct tl_outcome *o)
{
    const struct tl_day *d = o->daily ? &o->daily->worst : NULL;
    if (!d || isnan(d->o2))
        return json_null();
    return json_pack("{s:f, s:o, s:f, s:f, s:o, s:f, s:o, s:f}", "oxygen_least_mg_L", d->o2,
                     "oxygen_least_time", iso_time(o, d->o2_d), "co2_least_mg_L", d->co2_least,
                     "co2_most_mg_L", d->co2_most, "co2_most_time", iso_time(o, d->co2_most_d),
                     "ph_least", d->ph_least, "ph_least_time", iso_time(o, d->ph_least_d),
                     "ph_most", d->ph_most);
}

static json_t *chlorine_object(const struct tl_outcome *o)
{
    const struct tl_daily *d = o->daily;
    if (!d || isnan(d->chlorine) || !o->doses)
        return json_null();
    const double met = o->doses->chlorine_g_d_m3;
    return json_pack("{s:f, s:o, s:f, s:f}", "most_mg_L", d->chlorine, "most_time",
                     iso_time(o, d->chlorine_d), "dose_mg_L_d", met, "film_killed_at_most",
                     tl_chlorine_kill(&o->scenario->setup.params, met, 1));
}

static json_t *spring_object(const struct tl_outcome *o)
{
    const struct tl_daily *d = o->daily;
    if (!d || isnan(d->spring_tan))
        return json_null();
    return json_pack("{s:f, s:o, s:f}", "ammonia_most_mgN_L", d->spring_tan, "ammonia_most_time",
                     iso_time(o, d->spring_d), "temperature_degC", d->spring_degC);
}

/* The plan that holds the alkalinity. */
static json_t *held_object(const struct tl_outcome *o)
{
    const struct tl_doses *d = o->doses;
    if (!(o->scenario->setup.dosing.hold_alkalinity_eq_m3 > 0))
        return json_null();
    return json_pack("{s:f, s:f, s:o, s:f, s:f}", "mass_g", d->held_g, "most_g", d->held_most_g,
                     "most_time", iso_time(o, d->held_times > 0 ? d->held_most_d : NAN), "times",
                     d->held_times, "times_bounded", d->held_short);
}

/* What no scenario says by itself; the masses in all stand under `given`. */
static json_t *doses_object(const struct tl_outcome *o)
{
    const struct tl_doses *d = o->doses;
    json_t *measured = json_array();
    if (!d) {
        json_decref(measured);
        return json_null();
    }
    for (size_t i = 0; i < d->measured && i < TL_DOSES_SHOWN; i++) {
        const struct tl_event *e = &o->scenario->setup.event[d->event[i]];
        tl_json_append(&measured, json_pack("{s:o, s:f}", "time", iso_time(o, e->at_d),
                                            dose_key[e->dose], d->event_g[i]));
    }
    return json_pack("{s:o, s:o}", "held_alkalinity", held_object(o), "measured", measured);
}

/* What each shock did; only where there are some. NULL when out of memory. */
static json_t *shocks_array(const struct tl_outcome *o)
{
    json_t *array = json_array();
    for (size_t i = 0; i < o->shocks->count && i < TL_SHOCKS_SHOWN; i++) {
        const struct tl_shock *k = &o->shocks->of[i];
        const struct tl_event *e = &o->scenario->setup.event[k->event];
        tl_json_append(
            &array,
            json_pack("{s:o, s:s, s:i, s:f, s:o, s:o, s:f, s:o, s:f, s:o}", "time",
                      iso_time(o, k->at_d), "cause",
                      e->kind == TL_EVENT_DOSE ? tl_dose_name(e->dose) : "film knocked out",
                      "times", (int)k->times, "ammonia_oxidisers_killed", k->killed,
                      "ammonia_oxidation_back_d", tl_json_number(k->oxidation_d),
                      "ammonia_oxidisers_back_d", tl_json_number(k->oxidisers_d),
                      "ammonia_most_mgN_L", k->tan, "ammonia_most_time", iso_time(o, k->tan_d),
                      "nitrite_most_mgN_L", k->no2, "nitrite_most_time", iso_time(o, k->no2_d)));
    }
    return array;
}

/* Only where the tower stood. NULL when out of memory. */
static json_t *stills_object(const struct tl_outcome *o)
{
    const struct tl_stills *s = o->stills;
    return json_pack("{s:i, s:f, s:o, s:o, s:o, s:f}", "times", (int)s->count, "longest_h",
                     24 * s->longest_d, "longest_from", iso_time(o, s->longest_at_d),
                     "media_moist_h", tl_json_number(24 * s->moist_d), "media_moist_from",
                     iso_time(o, s->moist_at_d), "dry_h", 24 * s->dry_d);
}

/* Only where there is sun. NULL when out of memory. */
static json_t *algae_object(const struct tl_outcome *o)
{
    const struct tl_algae_result *a = o->algae;
    return json_pack("{s:f, s:o, s:f, s:o, s:f, s:f, s:b, s:f}", "top_tray_cover", a->top_cover,
                     "half_covered_time", iso_time(o, a->half_covered_d), "nitrogen_taken_gN",
                     a->nitrogen_g, "nitrogen_share", tl_json_number(a->nitrogen_share),
                     "oxygen_swing_mg_L", a->o2_swing_g_m3, "ph_swing", a->ph_swing, "green_water",
                     a->green, "green_water_most_mgCOD_L", a->green_most_g_m3);
}

static json_t *bed_extreme(const struct tl_outcome *o, const struct tl_bed_extreme *e)
{
    return json_pack("{s:o, s:o, s:o}", "value", tl_json_number(e->value), "tray",
                     e->tray > 0 ? json_integer(e->tray) : json_null(), "time",
                     iso_time(o, e->at_d));
}

static json_t *bed_spell(const struct tl_outcome *o, const struct tl_bed_spell *s)
{
    return json_pack("{s:f, s:o}", "longest_hours", s->longest_h, "first_time",
                     iso_time(o, s->first_d));
}

/* null where it was not followed. Shares are 0..1. */
static json_t *bed_object(const struct tl_outcome *o)
{
    const struct tl_bed_result *b = o->bed;
    if (!b)
        return json_null();
    return json_pack("{s:b, s:o, s:o, s:o, s:o, s:o, s:b}", "submerged", b->submerged,
                     "least_oxygen_mg_L", bed_extreme(o, &b->least_o2), "most_voids_filled",
                     bed_extreme(o, &b->most_filled), "most_film_without_oxygen",
                     bed_extreme(o, &b->most_airless), "bed_without_oxygen_and_nitrate",
                     bed_spell(o, &b->bed), "chamber_without_oxygen_and_nitrate",
                     bed_spell(o, &b->chamber), "hydrogen_sulfide_can_form", tl_bed_sulfide(b));
}

/* When each tenth was reached. */
static json_t *marks_array(const struct tl_outcome *o, const double *day)
{
    json_t *array = json_array();
    for (int i = 1; i < TL_SOLIDS_MARKS; i++)
        if (!isnan(day[i]))
            tl_json_append(&array,
                           json_pack("{s:i, s:o}", "pct", 10 * i, "time", iso_time(o, day[i])));
    return array;
}

/* NULL when out of memory. */
static json_t *solids_object(const struct tl_outcome *o)
{
    const struct tl_solids_result *r = o->solids;
    const bool surface = isfinite(r->overflow_m_d);
    json_t *tray =
        json_pack("{s:i, s:f, s:f, s:o, s:o}", "fullest", r->most_voids_tray,
                  "most_voids_filled_pct", 100 * r->most_voids, "lost_area_pct", 100 * r->lost_area,
                  "time", iso_time(o, r->most_voids_d), "voids_filled", marks_array(o, r->voids_d));
    json_t *chamber =
        json_pack("{s:o, s:f, s:o, s:f, s:o, s:o, s:f, s:f}", "overflow_rate_m_h",
                  tl_json_number(surface ? r->overflow_m_d / 24 : NAN), "caught_in_a_pass_share",
                  r->pass_share, "caught_share", tl_json_number(r->caught_share), "most_filled_pct",
                  100 * r->most_chamber, "time", iso_time(o, r->most_chamber_d), "filled",
                  marks_array(o, r->chamber_d), "sludge_ammonia_gN_d", r->sludge_tan_g_d,
                  "sludge_organics_gCOD_d", r->sludge_ss_g_d);
    json_t *rinse = isnan(r->rinsed_d)
                        ? json_null()
                        : json_pack("{s:o, s:f, s:o}", "time", iso_time(o, r->rinsed_d),
                                    "film_lost_share", r->rinse_lost, "days_back",
                                    tl_json_number(isfinite(r->rinse_days) ? r->rinse_days : NAN));
    return json_pack("{s:o, s:o, s:o}", "trays", tray, "chamber", chamber, "rinse", rinse);
}

/* NULL when out of memory: json_pack refuses a member that is NULL. */
/* null where there is nothing to say. */
static json_t *cannot_tell(const struct tl_outcome *o)
{
    struct tl_text text = {0};
    tl_outcome_cannot_tell(o, &text);
    json_t *j = tl_text_is_empty(&text) ? json_null()
                : text.failed           ? NULL
                                        : json_string(tl_text_string(&text));
    tl_text_free(&text);
    return j;
}

/* null where all meals were given in water warm enough to digest them. */
static json_t *cold_feed_object(const struct tl_outcome *o)
{
    const struct tl_given_watch *w = o->given;
    if (!(w->cold_feed_g > 0))
        return json_null();
    return json_pack("{s:f, s:o, s:f}", "mass_g", w->cold_feed_g, "first_time",
                     iso_time(o, w->cold_feed_d), "coldest_degC", w->cold_feed_degC);
}

static json_t *summary_object(const struct tl_outcome *o)
{
    struct tl_build build;
    tl_build_info(&build);
    const bool own = tl_limits_changed(&o->scenario->limits) > 0;
    const char *basis = tl_outcome_parameters_changed(o)
                            ? own ? "with parameters and limits set by the scenario"
                                  : "with parameters set by the scenario"
                        : own ? "with default parameters and limits set by the scenario"
                              : "with default parameters";
    const struct tl_scenario *scenario = o->scenario;
    const struct tl_given_watch *w = o->given;
    return json_pack(
        "{s:i, s:s, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o,"
        " s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:f, s:o, s:o, s:o, "
        "s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
        "format", 1, "version", build.version, "build", tl_json_build(), "scenario",
        text_or_null(scenario->title), "verdict", tl_outcome_verdict(o), "limits", limits_array(o),
        "filter_ready_day", tl_json_number(o->verdict->filter_ready_d), "ledger",
        ledger_object(o->ledger), "advice", advice_array(o), "parameters",
        parameters_object(&scenario->setup.params),
        /* beyond the contract */
        "after_filter_ready", after_ready_object(o), "verdict_basis", basis, "ranges",
        ranges_array(o), "warnings", warnings_array(o), "fish_lost_time",
        iso_time(o, o->fish_lost_d), "start", iso_time(o, scenario->setup.start_d), "end",
        iso_time(o, o->end_d), "stats", stats_object(o->stats), "scenario_file",
        text_or_null(scenario->path), "inputs", inputs_array(o), "limiting",
        text_or_null(o->limiting), "rtol", tl_json_number(o->rtol > 0 ? o->rtol : NAN),
        "hours_without_fish", o->verdict->hours_empty, "pump", pump_object(o), "extremes",
        extremes_array(o), "given", given_object(o, &w->whole, w->start_d, o->end_d), "last_month",
        given_object(o, &w->month, w->from_d, w->to_d),

        "worst_day", worst_day(o), "chlorine", chlorine_object(o), "spring", spring_object(o),
        "doses", doses_object(o), "heat", heat_object(o), "bed", bed_object(o),
        "verdict_cannot_tell", cannot_tell(o), "cold_feed", cold_feed_object(o));
}

static int take_piece(const char *piece, size_t length, void *text)
{
    tl_text_add_bytes(text, piece, length);
    return ((struct tl_text *)text)->failed ? -1 : 0;
}

int tl_summary_text(const struct tl_outcome *o, char **out)
{
    struct tl_text text = {0};
    json_t *root = summary_object(o);
    if (o->spread)
        tl_json_put(&root, "chance", tl_chance_json(o->spread, tl_outcome_own_verdict(o)));
    if (o->algae && o->algae->sunny)
        tl_json_put(&root, "algae", algae_object(o));
    if (o->verdict->film.asked)
        tl_json_put(&root, "filter_work", film_object(o->verdict));
    if (o->solids)
        tl_json_put(&root, "solids", solids_object(o));
    if (o->stills && o->stills->count > 0)
        tl_json_put(&root, "tower_without_water", stills_object(o));
    if (o->shocks && o->shocks->count > 0)
        tl_json_put(&root, "shocks", shocks_array(o));
    if (o->written)
        tl_json_put(&root, "written", json_incref(o->written));
    if (!root)
        return TL_E_MEMORY;
    const size_t flags = JSON_INDENT(2) | JSON_REAL_PRECISION(17);
    const bool failed = json_dump_callback(root, take_piece, &text, flags) != 0;
    tl_text_add(&text, "\n");
    json_decref(root);
    if (failed || text.failed) {
        tl_text_free(&text);
        return TL_E_MEMORY;
    }
    *out = text.data;
    return TL_OK;
}

int tl_summary_write(const struct tl_outcome *o, const char *path)
{
    struct tl_atomic_file file;
    char *text = NULL;
    int status = tl_summary_text(o, &text);
    if (status == TL_OK)
        status = tl_atomic_open(&file, path);
    if (status == TL_OK) {
        fputs(text, file.f);
        status = tl_atomic_commit(&file);
    }
    free(text);
    return status;
}
