/* The table of keys as others see it: forms made whole, defaults written by the reader's own types. */
#include "towerloop/keys.h"

#include <string.h>

#include "date.h"
#include "reader.h"
#include "towerloop/status.h"

#define VALUE_SIZE 128

size_t tl_key_list_size(void)
{
    return tl_key_count;
}

void tl_key_list_at(size_t i, struct tl_key_info *out)
{
    const struct tl_key *key = &tl_key_table[i];
    const char *point = strrchr(key->path, '.');
    *out = (struct tl_key_info){
        .path = key->path,
        .name = point ? point + 1 : key->path,
        .section = point ? (size_t)(point - key->path) : 0,
        .type = key->type->name,
        .help = key->help,
        .status = key->status,
        .otherwise = key->otherwise,
        .required = key->required,
        .action = key->action,
        .forms = key->type->forms,
    };
}

void tl_key_list_form(size_t i, size_t form, struct tl_form *out)
{
    const struct tl_key *key = &tl_key_table[i];
    *out = key->type->form[form];
    if (out->kind == TL_FORM_NUMBER && out->min >= out->max) {
        out->dim = key->dim;
        out->min = key->min;
        out->max = key->max;
    }
    if (out->kind == TL_FORM_KEYS)
        out->below = key->path;
}

bool tl_key_default(size_t i, char *text, size_t size)
{
    const struct tl_key *key = &tl_key_table[i];
    struct tl_draft draft;
    struct tl_text out = tl_text_over(text, size);
    /* items of lists have no draft of their own */
    if (key->required || key->otherwise || !key->type->write || strstr(key->path, "[]"))
        return false;
    tl_draft_default(&draft);
    bool known = key->type->write(&out, key, &draft) && !out.failed;
    tl_scenario_free(&draft.s);
    return known;
}

/* Defaults and limits of ranges are round in metric units, in others they are only about right. */
static int shown_digits(enum tl_unit_system system)
{
    return system == TL_METRIC ? 9 : 4;
}

static double shown_value(enum tl_dim dim, enum tl_unit_system system, double base_value)
{
    char text[VALUE_SIZE];
    tl_format(text, sizeof text, "%.*e", shown_digits(system) - 1,
              tl_display_value(dim, system, base_value));
    return tl_strtod(text, NULL);
}

void tl_key_shown_default(size_t i, enum tl_unit_system system, char *text, size_t size)
{
    const struct tl_key *key = &tl_key_table[i];
    char value[VALUE_SIZE];
    char ignored[VALUE_SIZE];
    double number;
    if (key->otherwise || key->required)
        tl_format(text, size, "%s", key->otherwise ? key->otherwise : "needed");
    else if (key->type->stands)
        tl_format(text, size, "its defaults");
    else if (!tl_key_default(i, value, sizeof value) || strcmp(value, "[]") == 0)
        tl_format(text, size, "none");
    else if (tl_parse_quantity(value, key->dim, &number, ignored, ignored, sizeof ignored) == TL_OK)
        tl_display_text(key->dim, system, number, shown_digits(system), text, size);
    else
        tl_format(text, size, "%s", value);
}

void tl_range_text(enum tl_dim dim, enum tl_unit_system system, double min, double max, char *text,
                   size_t size)
{
    const char *unit = tl_display_unit(dim, system);
    const char *blank = *unit ? " " : "";
    const double lo = shown_value(dim, system, min);
    const double hi = shown_value(dim, system, max);
    if (dim == TL_DIM_TIME && lo > 0 && lo < 0.01)
        tl_format(text, size, "%.9g s to %.9g d", lo * TL_SECONDS_A_DAY, hi);
    else if (dim == TL_DIM_RATE)
        tl_format(text, size, "%.9g to %.9g 1/d (%.9g to %.9g %%/d)", lo, hi, 100 * lo, 100 * hi);
    else
        tl_format(text, size, "%.9g to %.9g%s%s", lo, hi, blank, unit);
}

static void add_words(struct tl_text *t, const char *const *words)
{
    for (size_t i = 0; words[i]; i++)
        tl_text_addf(t, "%s%s", i > 0 ? ", " : "", words[i]);
}

static void add_form(struct tl_text *t, const struct tl_form *form, const char *type,
                     enum tl_unit_system system)
{
    char range[VALUE_SIZE];
    switch (form->kind) {
    case TL_FORM_WORDS:
        add_words(t, form->words);
        break;
    case TL_FORM_NUMBER:
        tl_range_text(form->dim, system, form->min, form->max, range, sizeof range);
        tl_text_addf(t, "%s%s%s%s", form->lead ? form->lead : "", form->lead ? " " : "",
                     form->whole && !form->lead ? "whole, " : "", range);
        break;
    case TL_FORM_TEXT:
        tl_text_add(t, type);
        break;
    case TL_FORM_LIST:
        tl_text_addf(t, form->below ? "list of %s" : "%s", form->below ? form->below : type);
        break;
    case TL_FORM_KEYS:
        tl_text_add(t, "keys");
        break;
    case TL_FORM_EDITS:
        tl_text_add(t, type);
        break;
    case TL_FORM_TABLE:
        tl_text_addf(t, "table of %s", form->below);
        break;
    }
}

void tl_key_shown_values(size_t i, enum tl_unit_system system, char *text, size_t size)
{
    const struct tl_key *key = &tl_key_table[i];
    struct tl_text all = tl_text_over(text, size);
    for (size_t f = 0; f < key->type->forms; f++) {
        struct tl_form form;
        tl_key_list_form(i, f, &form);
        if (form.silent)
            continue;
        if (all.length > 0)
            tl_text_add(&all, "; ");
        add_form(&all, &form, key->type->name, system);
    }
}
