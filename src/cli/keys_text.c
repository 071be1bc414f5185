/* The list of keys as text: two lines a key. */
#include <stdio.h>
#include <string.h>

#include "answer.h"
#include "key_pages.h"
#include "page.h"

#define SHOWN_SIZE    256
#define MEANING_LEAD  4
#define VALUES_COLUMN 55
#define MOST_LINES    10

/* Prints the text and empties it. */
static void print(struct tl_text *text, int indent)
{
    struct tl_page page = {.lines = 0};
    tl_page_put(&page, MOST_LINES, indent, text);
    tl_answer_page(stdout, &page);
}

static void print_key(size_t i, bool narrowed, enum tl_unit_system units)
{
    struct tl_key_info key;
    struct tl_text line = {0};
    char without[SHOWN_SIZE], values[SHOWN_SIZE];
    tl_key_list_at(i, &key);
    tl_key_shown_default(i, units, without, sizeof without);
    tl_key_shown_values(i, units, values, sizeof values);
    tl_text_addf(&line, "%-33s %-20s %s", key.path, without, values);
    print(&line, VALUES_COLUMN);

    tl_text_addf(&line, "%*s%s", MEANING_LEAD, "", key.help);
    if (key.status)
        tl_text_addf(&line, " [%s]", key.status);
    print(&line, MEANING_LEAD);

    for (size_t f = 0; narrowed && f < key.forms; f++) {
        struct tl_form form;
        tl_key_list_form(i, f, &form);
        if (form.kind != TL_FORM_NUMBER || form.dim == TL_DIM_NUMBER)
            continue;
        tl_text_addf(&line, "%*sin %s", MEANING_LEAD, "", tl_dim_units(form.dim));
        print(&line, MEANING_LEAD);
    }
}

/* The first part of a path: "fish" of "fish[].count". */
static size_t group_length(const char *path)
{
    return strcspn(path, ".[");
}

static bool same_group(const char *a, const char *b)
{
    return group_length(a) == group_length(b) && strncmp(a, b, group_length(a)) == 0;
}

/* Whether a key stands at the top of the file with nothing below it. */
static bool stands_alone(size_t i)
{
    struct tl_key_info key, next;
    tl_key_list_at(i, &key);
    if (key.section > 0 || i + 1 == tl_key_list_size())
        return key.section == 0;
    tl_key_list_at(i + 1, &next);
    return !same_group(key.path, next.path);
}

void tl_keys_print(const bool *chosen, bool narrowed, enum tl_unit_system units)
{
    struct tl_key_info key, before = {.path = ""};
    size_t last = 0;
    printf("%-33s %-20s %s\n", "Key", "Without it", "Values");
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        if (!chosen[i])
            continue;
        tl_key_list_at(i, &key);
        if (!same_group(before.path, key.path) &&
            !(*before.path && stands_alone(i) && stands_alone(last)))
            printf("\n");
        print_key(i, narrowed, units);
        before = key;
        last = i;
    }
}
