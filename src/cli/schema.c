/* The form of a scenario file as a JSON Schema, from the table of keys: for editors that check while
 * one types. It knows structure, words and units; what hangs on several keys only the reader knows. */
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "key_pages.h"
#include "text.h"

#define DRAFT      "https://json-schema.org/draft/2020-12/schema"
#define SHOWN_SIZE 256

static json_t *keys_object(const char *section);

/* Where the pattern of a dimension stands: "volume" for "a volume". */
static const char *definition(enum tl_dim dim)
{
    const char *blank = strchr(tl_dim_name(dim), ' ');
    return blank ? blank + 1 : tl_dim_name(dim);
}

/* "<lead> 30 %" or "30 %", from the first to the last character. */
static json_t *quantity_pattern(const char *lead, enum tl_dim dim)
{
    struct tl_text t = {0};
    char *number = tl_dim_pattern(dim);
    tl_text_addf(&t, "^%s *%s *$", lead ? lead : "", number ? number : "");
    json_t *pattern = number && !t.failed ? json_string(t.data) : NULL;
    free(number);
    tl_text_free(&t);
    return pattern;
}

static json_t *definitions(void)
{
    json_t *all = json_object();
    for (int d = 0; d < TL_NDIM; d++) {
        const enum tl_dim dim = (enum tl_dim)d;
        if (dim != TL_DIM_NUMBER)
            tl_json_put(
                &all, definition(dim),
                json_pack("{s:s, s:o}", "type", "string", "pattern", quantity_pattern(NULL, dim)));
    }
    return all;
}

/* A number without a unit comes from a YAML loader as a number, and in quotation marks as text. */
static json_t *plain_number(const struct tl_form *f)
{
    return json_pack("{s:[s,s], s:f, s:f, s:o}", "type", f->whole ? "integer" : "number", "string",
                     "minimum", f->min, "maximum", f->max, "pattern",
                     quantity_pattern(NULL, f->dim));
}

static json_t *number(const struct tl_form *f)
{
    if (f->lead)
        return json_pack("{s:s, s:o}", "type", "string", "pattern",
                         quantity_pattern(f->lead, f->dim));
    if (f->dim == TL_DIM_NUMBER)
        return plain_number(f);
    struct tl_text reference = {0};
    tl_text_add(&reference, "#/$defs/");
    for (const char *s = definition(f->dim); *s; s++)
        tl_text_addf(&reference, *s == ' ' ? "%%20" : "%c", *s);
    json_t *object =
        reference.failed ? NULL : json_pack("{s:s}", "$ref", tl_text_string(&reference));
    tl_text_free(&reference);
    return object;
}

/* Some loaders (YAML 1.1) make truth values of these words, and numbers of digits. */
static json_t *words(const struct tl_form *f)
{
    static const struct {
        const char *word;
        bool truth;
    } truths[] = {{"no", false}, {"off", false}, {"false", false},
                  {"yes", true}, {"on", true},   {"true", true}};
    json_t *list = json_array();
    for (size_t i = 0; f->words[i]; i++) {
        tl_json_append(&list, json_string(f->words[i]));
        for (size_t t = 0; t < sizeof truths / sizeof *truths; t++)
            if (strcmp(f->words[i], truths[t].word) == 0)
                tl_json_append(&list, json_boolean(truths[t].truth));
        char *end;
        long whole = strtol(f->words[i], &end, 10);
        if (*end == '\0')
            tl_json_append(&list, json_integer(whole));
    }
    return json_pack("{s:o}", "enum", list);
}

/* Any text: what looks like a number or a truth value to a loader is still text to the reader. */
static json_t *text(const char *pattern)
{
    if (pattern)
        return json_pack("{s:s, s:s}", "type", "string", "pattern", pattern);
    return json_pack("{s:[s,s,s], s:i}", "type", "string", "number", "boolean", "minLength", 1);
}

static json_t *key_schema(size_t i);

/* "10 degC: 0.5 %/d": the first key below says what may stand before the colon, the second what
 * behind it. */
static json_t *table(const struct tl_form *f)
{
    json_t *before = NULL, *behind = NULL;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        struct tl_form form;
        tl_key_list_at(i, &key);
        if (strncmp(key.path, f->below, key.section) != 0 || strlen(f->below) != key.section)
            continue;
        tl_key_list_form(i, 0, &form);
        if (!before)
            before = quantity_pattern(NULL, form.dim);
        else if (!behind)
            behind = number(&form);
    }
    json_t *pairs = json_object();
    tl_json_put(&pairs, json_string_value(before), behind);
    json_decref(before);
    return json_pack("{s:s, s:o, s:b}", "type", "object", "patternProperties", pairs,
                     "additionalProperties", 0);
}

static json_t *form_schema(const struct tl_form *f)
{
    json_t *schema = NULL;
    switch (f->kind) {
    case TL_FORM_WORDS:
        return words(f);
    case TL_FORM_NUMBER:
        return number(f);
    case TL_FORM_TEXT:
        return text(f->pattern);
    case TL_FORM_KEYS:
        schema = keys_object(f->below);
        break;
    case TL_FORM_EDITS:
        schema = json_pack("{s:s}", "type", "object");
        break;
    case TL_FORM_TABLE:
        schema = table(f);
        break;
    case TL_FORM_LIST:
        schema = json_pack("{s:s, s:o}", "type", "array", "items",
                           f->below ? keys_object(f->below) : text(f->pattern));
        break;
    }
    if (f->filled)
        tl_json_put(&schema, f->kind == TL_FORM_LIST ? "minItems" : "minProperties",
                    json_integer(1));
    return schema;
}

static json_t *key_schema(size_t i)
{
    struct tl_key_info key;
    struct tl_form form;
    char value[SHOWN_SIZE], without[SHOWN_SIZE];
    struct tl_text description = {0};
    json_t *schema;
    tl_key_list_at(i, &key);
    if (key.forms == 1) {
        tl_key_list_form(i, 0, &form);
        schema = form_schema(&form);
    } else {
        json_t *any = json_array();
        for (size_t f = 0; f < key.forms; f++) {
            tl_key_list_form(i, f, &form);
            tl_json_append(&any, form_schema(&form));
        }
        schema = json_pack("{s:o}", "anyOf", any);
    }
    tl_key_shown_default(i, TL_METRIC, without, sizeof without);
    tl_text_add(&description, key.help);
    if (!key.required)
        tl_text_addf(&description, " (without it: %s)", without);
    tl_json_put(&schema, "description",
                description.failed ? NULL : json_string(tl_text_string(&description)));
    if (tl_key_default(i, value, sizeof value))
        tl_json_put(&schema, "default", json_string(value));
    tl_text_free(&description);
    return schema;
}

static json_t *has_key(const char *name)
{
    return json_pack("{s:[s]}", "required", name);
}

/* An event does something, and `for` goes with what can be put back. */
static void add_actions(json_t **schema, json_t *some, json_t *once)
{
    if (some && json_array_size(some) == 0)
        return;
    tl_json_put(schema, "anyOf", json_incref(some));
    tl_json_put(schema, "dependentSchemas",
                json_pack("{s:{s:{s:O}}}", "for", "not", "anyOf", once));
}

/* The keys directly below `section` ("" for the top of the file). */
static json_t *keys_object(const char *section)
{
    json_t *properties = json_object(), *required = json_array();
    json_t *some = json_array(), *once = json_array();
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        tl_key_list_at(i, &key);
        if (key.section != strlen(section) || strncmp(key.path, section, key.section) != 0)
            continue;
        tl_json_put(&properties, key.name, key_schema(i));
        if (key.required)
            tl_json_append(&required, json_string(key.name));
        if (key.action != TL_KEY_NO_ACTION)
            tl_json_append(&some, has_key(key.name));
        if (key.action == TL_KEY_ACTION)
            tl_json_append(&once, has_key(key.name));
    }
    json_t *schema = json_pack("{s:s, s:o, s:o, s:b}", "type", "object", "properties", properties,
                               "required", required, "additionalProperties", 0);
    add_actions(&schema, some, once);
    json_decref(some);
    json_decref(once);
    return schema;
}

json_t *tl_keys_schema(void)
{
    json_t *schema =
        json_pack("{s:s, s:s, s:s}", "$schema", DRAFT, "title", "towerloop scenario", "description",
                  "A fish tank with a trickle tower, as towerloop reads it. Whether "
                  "values go together is told by towerloop check.");
    json_t *keys = keys_object("");
    if (schema && json_object_update(schema, keys) != 0) {
        json_decref(schema);
        schema = NULL;
    }
    tl_json_put(&schema, "$defs", definitions());
    json_decref(keys);
    return schema;
}
