/* A scenario said back as JSON: keys as in the file, values in base units with the unit named. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "text.h"
#include "towerloop/status.h"
#include "understood.h"

#define CHECK_FORMAT 1

/* null, too, for a file name that is not UTF-8. */
static json_t *text_or_null(const char *text)
{
    const bool shown = text && tl_utf8_fault(text, strlen(text)) == strlen(text);
    return shown ? json_string(text) : json_null();
}

static bool find_key(const char *section, const char *name, size_t *key)
{
    for (*key = 0; *key < tl_key_list_size(); (*key)++) {
        struct tl_key_info info;
        tl_key_list_at(*key, &info);
        if (tl_understood_in(&info, section) && strcmp(info.name, name) == 0)
            return true;
    }
    return false;
}

/* A number with a unit becomes {value, unit}, a plain one a number, all else stays text. */
static json_t *value_json(size_t key, const char *text)
{
    struct tl_key_info info;
    char ignored[TL_SHOWN_SIZE];
    double number;
    tl_key_list_at(key, &info);
    for (size_t f = 0; f < info.forms; f++) {
        struct tl_form form;
        tl_key_list_form(key, f, &form);
        if (form.kind != TL_FORM_NUMBER || form.lead ||
            tl_parse_quantity(text, form.dim, &number, ignored, ignored, sizeof ignored) != TL_OK)
            continue;
        if (form.dim == TL_DIM_NUMBER)
            return json_real(number);
        return json_pack("{s:f, s:s}", "value", number, "unit", tl_dim_base_unit(form.dim));
    }
    return json_string(text);
}

/* The section whose keys stand in a value: its own, or those of the items of a list. */
static const char *section_in(size_t key, enum tl_form_kind kind)
{
    struct tl_key_info info;
    tl_key_list_at(key, &info);
    for (size_t f = 0; f < info.forms; f++) {
        struct tl_form form;
        tl_key_list_form(key, f, &form);
        if (form.kind == kind)
            return form.below;
    }
    return NULL;
}

static json_t *mapping_json(const struct tl_node *n, const char *section);

static json_t *node_json(const struct tl_node *n, size_t key)
{
    const char *below;
    switch (n->kind) {
    case TL_NODE_TEXT:
        return value_json(key, n->text);
    case TL_NODE_MAPPING:
        below = section_in(key, TL_FORM_KEYS);
        return mapping_json(n, below ? below : "");
    case TL_NODE_LIST:
        break;
    }
    json_t *array = json_array();
    below = section_in(key, TL_FORM_LIST);
    for (const struct tl_node *c = n->first; c; c = c->next)
        tl_json_append(&array, c->kind == TL_NODE_MAPPING ? mapping_json(c, below ? below : "")
                                                          : json_string(c->text));
    return array;
}

static json_t *mapping_json(const struct tl_node *n, const char *section)
{
    json_t *object = json_object();
    for (const struct tl_node *c = n->first; c; c = c->next) {
        size_t key;
        if (find_key(section, c->key, &key))
            tl_json_put(&object, c->key, node_json(c, key));
    }
    return object;
}

static json_t *messages_json(const struct tl_diag *diag)
{
    json_t *array = json_array();
    for (size_t i = 0; i < diag->count; i++) {
        const struct tl_diag_message *m = &diag->message[i];
        char *text = tl_diag_text(m);
        tl_json_append(&array,
                       json_pack("{s:s, s:o, s:i, s:i, s:o, s:o, s:o, s:o}", "level",
                                 m->level == TL_DIAG_ERROR ? "error" : "warning", "file",
                                 text_or_null(m->file), "line", (int)m->line, "column",
                                 (int)m->column, "key", text_or_null(m->key), "what",
                                 text_or_null(m->what), "expected", text_or_null(m->expected),
                                 "text", text ? text_or_null(text) : NULL));
        free(text);
    }
    return array;
}

static json_t *defaulted_json(const struct tl_understood *u)
{
    json_t *array = json_array();
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info info;
        tl_key_list_at(i, &info);
        if (tl_understood_defaulted(u, i))
            tl_json_append(&array, json_string(info.path));
    }
    return array;
}

static json_t *pump_json(const struct tl_understood *u)
{
    const struct tl_duty *d = &u->duty;
    return json_pack("{s:f, s:o, s:o, s:o, s:o, s:f, s:f}", "flow_m3_h", d->flow_m3_d / 24,
                     "head_m", tl_json_number(d->head_m), "lift_m", tl_json_number(d->lift_m),
                     "friction_m", tl_json_number(d->friction_m), "velocity_m_s",
                     tl_json_number(d->velocity_m_s), "one_less_m3_h", u->one_less_m3_d / 24,
                     "end_m3_h", u->last_flow_m3_d / 24);
}

static json_t *wetting_json(const struct tl_understood *u)
{
    if (isnan(u->wetted))
        return json_null();
    return json_pack("{s:f, s:f, s:f, s:f}", "wetted_share", u->wetted, "well_wetted_from_m_h",
                     u->wets_well_m_h, "voids_filled_share", u->voids_filled,
                     "voids_half_filled_from_m_h", u->fills_half_m_h);
}

static json_t *derived_json(const struct tl_understood *u)
{
    return json_pack(
        "{s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:o, s:o, s:o, s:o, s:o, s:o}", "turnover_1_h",
        u->turnover_1_h, "media_volume_m3", u->media_volume_m3, "media_area_m2", u->media_area_m2,
        "hydraulic_load_m_h", u->load_m_h, "fish", u->fish, "fish_kg", u->fish_g / 1000,
        "fish_kg_m3", u->fish_g / 1000 / u->scenario->setup.tank.volume_m3, "feed_g_d",
        tl_json_number(u->feed_g_d), "water_lowest_degC",
        tl_json_number(u->outdoors ? u->heat.lowest_degC : NAN), "water_highest_degC",
        tl_json_number(u->outdoors ? u->heat.highest_degC : NAN), "evaporation_L_d",
        tl_json_number(u->outdoors ? 1000 * u->heat.evaporated_m3 / u->scenario->setup.length_d
                                   : NAN),
        "pump", pump_json(u), "wetting", wetting_json(u));
}

json_t *tl_understood_json(const struct tl_understood *u, const char *file,
                           const struct tl_diag *diag)
{
    return json_pack("{s:i, s:o, s:b, s:o, s:o, s:o, s:o}", "format", CHECK_FORMAT, "file",
                     text_or_null(file), "sound", u != NULL, "messages", messages_json(diag),
                     "scenario", u ? mapping_json(u->written, "") : json_null(), "derived",
                     u ? derived_json(u) : json_null(), "defaulted",
                     u ? defaulted_json(u) : json_null());
}
