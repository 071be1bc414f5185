/* The answer of `towerloop water` as JSON. Names are only ever added; units are metric. */
#include <math.h>

#include "json.h"
#include "towerloop/chem.h"
#include "water.h"

#define WATER_FORMAT 1

static json_t *reading_names(unsigned set)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NREADING; i++)
        if (set >> i & 1)
            tl_json_append(&array, json_string(tl_reading_name((enum tl_reading_id)i)));
    return array;
}

static json_t *figure_keys(unsigned set)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NFIGURE; i++)
        if (set >> i & 1)
            tl_json_append(&array, json_string(tl_figure_row((enum tl_figure_id)i)->key));
    return array;
}

/* --- the sample ----------------------------------------------------------------------------- */

static json_t *readings_object(const struct tl_sample *s)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "temperature_degC",
                     tl_json_number(s->temperature_degC), "ph", tl_json_number(s->ph),
                     "ammonia_mgN_L", tl_json_number(s->tan_gN_m3), "nitrite_mgN_L",
                     tl_json_number(s->no2_gN_m3), "nitrate_mgN_L", tl_json_number(s->no3_gN_m3),
                     "alkalinity_mgCaCO3_L", tl_json_number(s->alk_eq_m3 * TL_CACO3_G_PER_EQ),
                     "chloride_mg_L", tl_json_number(s->chloride_g_m3), "oxygen_mg_L",
                     tl_json_number(s->o2_g_m3), "elevation_m", tl_json_number(s->elevation_m),
                     "salinity_g_kg", tl_json_number(1000 * s->salinity_g_g));
}

static json_t *assumed_array(const struct tl_figures *f)
{
    const struct {
        enum tl_reading_id id;
        double value;
        const char *unit;
    } row[] = {
        {TL_READING_ELEVATION, f->elevation_m, "m"},
        {TL_READING_SALINITY, f->salinity_g_kg, "g/kg"},
        {TL_READING_CHLORIDE, 0, "mg/L"},
        {TL_READING_AMMONIA, 0, "mg/L as N"},
    };
    json_t *array = json_array();
    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        if (f->assumed >> row[i].id & 1)
            tl_json_append(&array,
                           json_pack("{s:s, s:o, s:s}", "reading", tl_reading_name(row[i].id),
                                     "value", tl_json_number(row[i].value), "unit", row[i].unit));
    return array;
}

static json_t *ranges_array(const struct tl_figures *f, unsigned set)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NSAMPLE_RANGE; i++) {
        const struct tl_range_row *r = tl_range_row(i);
        if (!(set >> i & 1))
            continue;
        tl_json_append(&array,
                       json_pack("{s:s, s:s, s:s, s:s, s:o, s:o, s:o}", "what", r->what, "unit",
                                 r->unit, "used_for", r->use, "source", r->source, "low",
                                 tl_json_number(r->low), "high", tl_json_number(r->high), "value",
                                 tl_json_number(f->range_value[i])));
    }
    return array;
}

static json_t *figures_array(const struct tl_figures *f)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NFIGURE; i++) {
        const struct tl_figure *g = &f->figure[i];
        const struct tl_figure_row *r = tl_figure_row((enum tl_figure_id)i);
        tl_json_append(
            &array,
            json_pack("{s:s, s:s, s:o, s:s, s:s, s:o, s:o, s:s, s:o, s:b, s:o, s:o, s:o}", "key",
                      r->key, "name", r->name, "value", tl_json_number(g->value), "unit", r->unit,
                      "source", *r->source ? r->source : "measured", "caution",
                      tl_json_number(g->caution), "danger", tl_json_number(g->danger),
                      "limits_source", r->limits, "grade",
                      g->judged || g->grade > TL_WITHIN ? json_string(tl_grade_text(g->grade))
                                                        : json_null(),
                      "outside", g->outside != 0, "missing", reading_names(g->missing), "least",
                      tl_json_number(g->least), "most", tl_json_number(g->most)));
    }
    return array;
}

/* --- the plan ------------------------------------------------------------------------------- */

static json_t *water_object(const struct tl_sample *s)
{
    json_t *object = readings_object(s);
    if (object)
        tl_json_put(&object, "nh3_mgN_L", tl_json_number(tl_sample_nh3(s)));
    return object;
}

/* What the amount counts in; chlorine and salt in grams whatever the reader's system. */
static json_t *step_object(const struct tl_remedy_step *s)
{
    const enum tl_dim dim = tl_remedy_dim(s->kind);
    return json_pack("{s:s, s:o, s:s, s:f, s:b, s:o, s:o, s:o, s:o}", "kind",
                     tl_remedy_key(s->kind), "amount", tl_json_number(s->amount), "unit",
                     tl_dim_base_unit(dim), "wait_h", 24 * s->wait_d, "harsh", s->harsh, "because",
                     figure_keys(s->because), "before", water_object(&s->before), "mixed",
                     water_object(&s->mixed), "settled", water_object(&s->settled));
}

static json_t *held_object(const struct tl_remedy_held *h)
{
    static const char *const why[] = {
        [TL_OBSTACLE_NONE] = "none",
        [TL_OBSTACLE_AMMONIA] = "un-ionised ammonia",
        [TL_OBSTACLE_PH] = "pH",
        [TL_OBSTACLE_TEMPERATURE] = "temperature",
        [TL_OBSTACLE_FIGURE] = "figure",
        [TL_OBSTACLE_NO_USE] = "no use",
        [TL_OBSTACLE_READINGS] = "readings",
    };
    if (h->obstacle == TL_OBSTACLE_NONE)
        return json_null();
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:o}", "why", why[h->obstacle], "figure",
                     h->figure < TL_NFIGURE ? json_string(tl_figure_row(h->figure)->key)
                                            : json_null(),
                     "amount", tl_json_number(h->amount), "before", water_object(&h->before),
                     "mixed", water_object(&h->mixed), "settled", water_object(&h->settled));
}

static json_t *plan_object(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;
    json_t *steps = json_array();
    for (int i = 0; i < p->steps; i++)
        tl_json_append(&steps, step_object(&p->step[i]));
    json_t *held =
        json_pack("{s:o, s:o, s:o}", "change_water", held_object(&p->change), "baking_soda",
                  held_object(&p->soda), "more_air", held_object(&p->air));
    json_t *source = water_object(&p->source);
    if (source) {
        tl_json_put(&source, "chlorine_mgCl2_L", tl_json_number(p->source_chlorine_g_m3));
        tl_json_put(&source, "chlorine_assumed", json_boolean(p->chlorine_assumed));
        tl_json_put(&source, "chloramine_assumed", json_boolean(p->chloramine_assumed));
    }
    return json_pack("{s:b, s:f, s:b, s:o, s:o, s:o, s:o, s:o, s:b, s:o, s:o, s:o}", "needed",
                     p->needed, "volume_m3", w->in.volume_m3, "volume_given", w->volume_given,
                     "source", source, "steps", steps, "held", held, "end", water_object(&p->end),
                     "left", figure_keys(p->left), "ph_by_bounds", p->by_bounds, "measure",
                     reading_names(p->measure), "measure_source", reading_names(p->measure_source),
                     "fish_ammonia_mgN_L_d", tl_json_number(p->fish_tan_g_m3_d));
}

json_t *tl_water_json(const struct tl_water *w, bool fix)
{
    const struct tl_figures *f = &w->figures;
    json_t *root = json_pack(
        "{s:i, s:s?, s:o, s:o, s:o, s:o, s:o, s:b, s:s?, s:o}", "format", WATER_FORMAT, "verdict",
        tl_water_judged(w) ? tl_figures_verdict(f) : NULL, "readings", readings_object(&w->in.pond),
        "assumed", assumed_array(f), "figures", figures_array(f), "ranges",
        ranges_array(f, f->outside), "missing", reading_names(f->missing), "contradictory",
        f->contradictory, "may_be", tl_water_judged(w) ? tl_grade_text(tl_figures_grade(f)) : NULL,
        "cannot_be_told", figure_keys(f->untold));
    if (fix)
        tl_json_put(&root, "plan", plan_object(w));
    return root;
}
