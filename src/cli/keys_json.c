/* The list of keys as JSON, for programs. What its members mean is told by `towerloop keys --help`
 * and the reference of keys; names are only ever added. */
#include <string.h>

#include "json.h"
#include "key_pages.h"

#define LIST_FORMAT 1
#define SHOWN_SIZE  256

static json_t *text_or_null(const char *text)
{
    return text ? json_string(text) : json_null();
}

static json_t *words_array(const char *const *words)
{
    json_t *array = json_array();
    for (; *words; words++)
        tl_json_append(&array, json_string(*words));
    return array;
}

/* "m3, L, gal" as an array. */
static json_t *units_array(enum tl_dim dim)
{
    json_t *array = json_array();
    for (const char *unit = tl_dim_units(dim); *unit;) {
        size_t length = strcspn(unit, ",");
        tl_json_append(&array, json_stringn(unit, length));
        unit += length;
        unit += strspn(unit, ", ");
    }
    return array;
}

static json_t *form_object(const struct tl_form *f)
{
    switch (f->kind) {
    case TL_FORM_WORDS:
        return json_pack("{s:s, s:o}", "kind", "words", "words", words_array(f->words));
    case TL_FORM_NUMBER:
        return json_pack("{s:s, s:o, s:b, s:s, s:s, s:f, s:f, s:o}", "kind", "number", "lead",
                         text_or_null(f->lead), "whole", f->whole, "dimension", tl_dim_name(f->dim),
                         "unit", tl_dim_base_unit(f->dim), "min", f->min, "max", f->max, "units",
                         units_array(f->dim));
    case TL_FORM_TEXT:
        return json_pack("{s:s, s:o}", "kind", "text", "pattern", text_or_null(f->pattern));
    case TL_FORM_KEYS:
        return json_pack("{s:s, s:s}", "kind", "keys", "below", f->below);
    case TL_FORM_LIST:
        return json_pack("{s:s, s:o, s:o}", "kind", "list", "below", text_or_null(f->below),
                         "pattern", text_or_null(f->pattern));
    case TL_FORM_EDITS:
        return json_pack("{s:s}", "kind", "edits");
    case TL_FORM_TABLE:
        return json_pack("{s:s, s:s}", "kind", "table", "below", f->below);
    }
    return NULL;
}

static json_t *forms_array(size_t i, size_t forms)
{
    json_t *array = json_array();
    for (size_t f = 0; f < forms; f++) {
        struct tl_form form;
        tl_key_list_form(i, f, &form);
        tl_json_append(&array, form_object(&form));
    }
    return array;
}

static json_t *key_object(size_t i, enum tl_unit_system units)
{
    struct tl_key_info key;
    char value[SHOWN_SIZE], without[SHOWN_SIZE], values[SHOWN_SIZE];
    tl_key_list_at(i, &key);
    const bool known = tl_key_default(i, value, sizeof value);
    tl_key_shown_default(i, units, without, sizeof without);
    tl_key_shown_values(i, units, values, sizeof values);
    return json_pack("{s:s, s:o, s:s, s:s, s:s, s:b, s:o, s:o, s:o, s:o, s:{s:s, s:s}}", "path",
                     key.path, "section", json_stringn(key.path, key.section), "name", key.name,
                     "type", key.type, "meaning", key.help, "required", key.required, "default",
                     text_or_null(known ? value : NULL), "otherwise", text_or_null(key.otherwise),
                     "status", text_or_null(key.status), "forms", forms_array(i, key.forms),
                     "shown", "without", without, "values", values);
}

json_t *tl_keys_json(const bool *chosen, enum tl_unit_system units)
{
    json_t *keys = json_array();
    for (size_t i = 0; i < tl_key_list_size(); i++)
        if (chosen[i])
            tl_json_append(&keys, key_object(i, units));
    return json_pack("{s:i, s:o, s:o}", "format", LIST_FORMAT, "keys", keys, "media",
                     tl_media_json());
}
