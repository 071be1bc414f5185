/* Variants: a name, and keys with other values. They are kept as the same "KEY=VALUE" that --set takes,
 * so that a variant obeys the rules of the file, and carried out when it is read. */
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "towerloop/status.h"

#define MOST_VARIANTS 100

static void add_flow(struct tl_text *t, const struct tl_node *n)
{
    if (n->kind == TL_NODE_TEXT) {
        tl_write_quoted(t, n->text);
        return;
    }
    const bool list = n->kind == TL_NODE_LIST;
    tl_text_add(t, list ? "[" : "{");
    for (const struct tl_node *c = n->first; c; c = c->next) {
        if (c != n->first)
            tl_text_add(t, ", ");
        if (!list) {
            tl_write_quoted(t, c->key);
            tl_text_add(t, ": ");
        }
        add_flow(t, c);
    }
    tl_text_add(t, list ? "]" : "}");
}

static void edits_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    static const char *const never[] = {"variants", "format"};
    static const char expected[] = "keys with their values, as tower.trays: 8";
    struct tl_variant *v = base;
    (void)key;
    if (n->kind != TL_NODE_MAPPING || !n->first) {
        tl_fault(r, n, expected, n->kind == TL_NODE_LIST ? "this is a list" : "nothing is changed");
        return;
    }
    v->set = calloc(tl_node_count(n) + 1, sizeof *v->set);
    if (!v->set) {
        r->out_of_memory = true;
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next) {
        struct tl_text t = {0};
        const size_t length = strcspn(c->key, ".[");
        for (size_t i = 0; i < sizeof never / sizeof *never; i++)
            if (strncmp(c->key, never[i], length) == 0 && never[i][length] == '\0')
                tl_fault_key(r, c, expected, "a variant cannot change this");
        if (strchr(c->key, '='))
            tl_fault_key(r, c, expected, "there is a = in the key");
        if (c->kind == TL_NODE_TEXT && c->text[0] == '\0' && !c->quoted)
            tl_fault(r, c, NULL, "no value");
        tl_text_addf(&t, "%s=", c->key);
        add_flow(&t, c);
        if (t.failed) {
            tl_text_free(&t);
            r->out_of_memory = true;
            return;
        }
        v->set[v->sets++] = t.data;
    }
}
const struct tl_value_type tl_type_edits = {
    .name = "keys with their values, as tower.trays: 8",
    .read = edits_read,
    TL_FORMS({.kind = TL_FORM_EDITS, .filled = true}),
};

static void variant_list_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    struct tl_scenario *s = base;
    (void)key;
    if (n->kind != TL_NODE_LIST) {
        tl_fault(r, n, "a list of variants, as - {name: fewer trays, set: {tower.trays: 8}}",
                 "this is not a list");
        return;
    }
    const size_t count = tl_node_count(n);
    if (count > MOST_VARIANTS) {
        tl_fault(r, n, "at most 100 variants", "%zu variants", count);
        return;
    }
    s->variant = calloc(count + 1, sizeof *s->variant);
    if (!s->variant) {
        r->out_of_memory = true;
        return;
    }
    for (struct tl_node *c = n->first; c && !r->out_of_memory; c = c->next) {
        struct tl_variant *v = &s->variant[s->variants];
        v->line = c->line;
        tl_read_item(r, c, "variants[]", v);
        for (size_t i = 0; i < s->variants; i++)
            if (v->name[0] && strcmp(v->name, s->variant[i].name) == 0)
                tl_fault(r, c, "another name", "a second variant called \"%s\"", v->name);
        s->variants++;
    }
}
const struct tl_value_type tl_type_variant_list = {
    .name = "a list of variants",
    .read = variant_list_read,
    TL_FORMS({.kind = TL_FORM_LIST, .below = "variants[]"}),
};

/* --- reading one ------------------------------------------------------------------------------ */

/* What is wrong in the variant's own changes stands where the variant does, and every message says which
 * variant it is about. */
static void bring_home(const char *path, const struct tl_variant *v, const struct tl_diag *from,
                       struct tl_diag *to)
{
    for (size_t i = 0; i < from->count; i++) {
        const struct tl_diag_message *m = &from->message[i];
        const bool own = m->file && strcmp(m->file, TL_FROM_VARIANT) == 0;
        struct tl_text key = {0};
        tl_text_addf(&key, "variant \"%s\"%s%s", v->name, m->key ? ": " : "", m->key ? m->key : "");
        tl_diag_add(to, m->level, own ? path : m->file, own ? v->line : m->line,
                    own ? 0 : m->column, tl_text_string(&key), m->what, m->expected);
        to->lost = to->lost || key.failed;
        tl_text_free(&key);
    }
    to->lost = to->lost || from->lost;
}

int tl_scenario_read_variant(const char *path, const struct tl_scenario_options *options,
                             const struct tl_variant *v, struct tl_scenario *out,
                             struct tl_diag *diag)
{
    static const struct tl_scenario_options none = {.sets = 0};
    const struct tl_scenario_options *o = options ? options : &none;
    const size_t sets = v->sets + o->sets;
    const char **set = calloc(sets + 1, sizeof *set);
    const char **from = calloc(sets + 1, sizeof *from);
    struct tl_diag own;
    int status = TL_E_MEMORY;
    *out = (struct tl_scenario){0};
    tl_diag_init(&own);
    if (!set || !from)
        goto done;
    for (size_t i = 0; i < v->sets; i++) {
        set[i] = v->set[i];
        from[i] = TL_FROM_VARIANT;
    }
    for (size_t i = 0; i < o->sets; i++) {
        set[v->sets + i] = o->set[i];
        from[v->sets + i] = o->set_from ? o->set_from[i] : NULL;
    }
    const struct tl_scenario_options all = {set, sets, from};
    status = tl_scenario_read(path, &all, out, &own);
    bring_home(path, v, &own, diag);
done:
    tl_diag_free(&own);
    free(from);
    free(set);
    return status;
}
