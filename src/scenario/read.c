/* Reading a scenario: the tree of the file is walked by the table of keys; every fault becomes a
 * message with its place, and reading goes on. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "towerloop/status.h"

#define MOST_SHOWN      200  /* messages */
#define MOST_KEPT       1000 /* messages, before they are sorted */
#define MOST_NEIGHBOURS 25   /* keys that an unknown one is answered with */

/* "fish[0].count", from the node up. */
static void add_path(struct tl_text *t, struct tl_node *n)
{
    if (!n->parent)
        return;
    add_path(t, n->parent);
    if (n->key) {
        if (t->length > 0)
            tl_text_add(t, ".");
        tl_text_add_bytes(t, n->key, tl_utf8_cut(n->key, 60));
        return;
    }
    size_t index = 0;
    for (struct tl_node *c = n->parent->first; c != n; c = c->next)
        index++;
    tl_text_addf(t, "[%zu]", index);
}

void tl_mark_faulty(struct tl_node *n)
{
    for (; n && !n->faulty; n = n->parent)
        n->faulty = true;
}

static void report_at(struct tl_reader *r, enum tl_diag_level level, struct tl_node *n, bool at_key,
                      const char *expected, const char *format, va_list args)
    __attribute__((format(printf, 6, 0)));

static void report_at(struct tl_reader *r, enum tl_diag_level level, struct tl_node *n, bool at_key,
                      const char *expected, const char *format, va_list args)
{
    struct tl_text key = {0};
    struct tl_text what = {0};
    if (level == TL_DIAG_ERROR)
        tl_mark_faulty(n);
    if (r->diag->count >= MOST_KEPT) {
        r->diag->errors += level == TL_DIAG_ERROR;
        return;
    }
    add_path(&key, n);
    tl_text_addv(&what, format, args);
    tl_diag_add(r->diag, level, n->file, at_key ? n->key_line : n->line,
                at_key ? n->key_column : n->column, key.data, tl_text_string(&what), expected);
    r->diag->lost = r->diag->lost || key.failed || what.failed;
    tl_text_free(&key);
    tl_text_free(&what);
}

void tl_fault(struct tl_reader *r, struct tl_node *n, const char *expected, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    report_at(r, TL_DIAG_ERROR, n, false, expected, format, args);
    va_end(args);
}

void tl_fault_text(struct tl_reader *r, struct tl_node *n, const char *expected, const char *what)
{
    size_t length = tl_utf8_cut(n->text, 40);
    tl_fault(r, n, expected, "\"%.*s%s\" %s", (int)length, n->text, n->text[length] ? "..." : "",
             what);
}

void tl_fault_key(struct tl_reader *r, struct tl_node *n, const char *expected, const char *format,
                  ...)
{
    va_list args;
    va_start(args, format);
    report_at(r, TL_DIAG_ERROR, n, true, expected, format, args);
    va_end(args);
}

void tl_warn(struct tl_reader *r, struct tl_node *n, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    report_at(r, TL_DIAG_WARNING, n, false, NULL, format, args);
    va_end(args);
}

void tl_fault_missing(struct tl_reader *r, struct tl_node *section, const char *name,
                      const char *expected)
{
    struct tl_text key = {0};
    tl_mark_faulty(section);
    if (r->cut || r->diag->count >= MOST_KEPT)
        return;
    add_path(&key, section);
    if (key.length > 0)
        tl_text_add(&key, ".");
    tl_text_add(&key, name);
    bool top = !section->parent; /* the whole file is no place to point at */
    tl_diag_add(r->diag, TL_DIAG_ERROR, section->file, top ? 0 : section->key_line,
                top ? 0 : section->key_column, key.data, "missing", expected);
    r->diag->lost = r->diag->lost || key.failed;
    tl_text_free(&key);
}

struct tl_node *tl_place(const struct tl_reader *r, const char *path)
{
    for (size_t i = 0; i < tl_key_count; i++)
        if (strcmp(tl_key_table[i].path, path) == 0)
            return r->at[i];
    return NULL;
}

/* Answer an unknown key with the one it may stand for, and its neighbours when they are few. */
static void unknown_key(struct tl_reader *r, struct tl_node *n, const char *prefix)
{
    const char *name[TL_MOST_KEYS + 1] = {NULL};
    size_t names = 0;
    for (size_t i = 0; i < tl_key_count; i++)
        if (tl_key_in(&tl_key_table[i], prefix, &name[names]))
            names++;

    struct tl_text expected = {0};
    int nearest = r->diag->count < MOST_KEPT ? tl_nearest(n->key, name, names) : -1;
    for (size_t i = 0; i < names && names <= MOST_NEIGHBOURS; i++)
        tl_text_addf(&expected, "%s%s", i == 0 ? "one of " : ", ", name[i]);
    if (nearest >= 0)
        tl_fault_key(r, n, expected.data, "unknown key (did you mean \"%s\"?)", name[nearest]);
    else if (n->key[0] >= '0' && n->key[0] <= '9')
        tl_fault_key(r, n, "1200 or 1.2, not 1,200", "a comma ends a value here");
    else
        tl_fault_key(r, n, expected.data, "unknown key");
    r->diag->lost = r->diag->lost || expected.failed;
    tl_text_free(&expected);
}

/* A required key is missing: say what it takes and what it means. */
static void required_key(struct tl_reader *r, struct tl_node *section, const struct tl_key *key,
                         const char *name)
{
    struct tl_text expected = {0};
    if ((key->type == &tl_type_quantity || key->type == &tl_type_plan_quantity) &&
        key->dim != TL_DIM_NUMBER)
        tl_text_addf(&expected, "%s in %s: ", tl_dim_name(key->dim), tl_dim_units(key->dim));
    else if (key->type == &tl_type_quantity)
        tl_text_addf(&expected, "%s: ", tl_dim_name(key->dim));
    else if (!key->type->stands)
        tl_text_addf(&expected, "%s: ", key->type->name);
    tl_text_add(&expected, key->help);
    tl_fault_missing(r, section, name, expected.data);
    r->diag->lost = r->diag->lost || expected.failed;
    tl_text_free(&expected);
}

static size_t keys_in(const char *prefix)
{
    size_t n = 0;
    const char *name;
    for (size_t i = 0; i < tl_key_count; i++)
        n += tl_key_in(&tl_key_table[i], prefix, &name);
    return n;
}

void tl_read_section(struct tl_reader *r, struct tl_node *n, const char *prefix, void *base)
{
    bool unknown = false;
    if (n->kind != TL_NODE_MAPPING) {
        tl_fault(r, n, "keys with values",
                 n->kind == TL_NODE_LIST ? "this is a list" : "this is not a mapping");
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next) {
        const struct tl_key *key = strchr(c->key, '.') ? NULL : tl_key_find(prefix, c->key);
        if (!key) {
            unknown_key(r, c, prefix);
            unknown = true;
            continue;
        }
        size_t row = (size_t)(key - tl_key_table);
        if (r->at[row])
            continue; /* repeated: already reported */
        r->at[row] = c;
        if (c->kind == TL_NODE_TEXT && c->faulty)
            tl_mark_faulty(n); /* no text that can be read: already reported */
        else
            key->type->read(r, c, key, base);
    }
    /* the message about an unknown one names it already where there is but one that can stand there */
    const bool named = unknown && keys_in(prefix) == 1;
    for (size_t i = 0; i < tl_key_count && !named; i++) {
        const struct tl_key *key = &tl_key_table[i];
        const char *name;
        if (key->required && !r->at[i] && tl_key_in(key, prefix, &name))
            required_key(r, n, key, name);
    }
}

void tl_read_item(struct tl_reader *r, struct tl_node *n, const char *prefix, void *base)
{
    size_t length = strlen(prefix);
    for (size_t i = 0; i < tl_key_count; i++)
        if (strncmp(tl_key_table[i].path, prefix, length) == 0)
            r->at[i] = NULL;
    tl_read_section(r, n, prefix, base);
}

/* Where a message goes: the scenario in file order with what has no place last, then other files,
 * then the command line. */
struct ranked {
    struct tl_diag_message message;
    size_t index;
    int group;
};

static int by_place(const void *a, const void *b)
{
    const struct ranked *x = a;
    const struct ranked *y = b;
    unsigned line_x = x->message.line - 1; /* 0, no place, wraps to the last */
    unsigned line_y = y->message.line - 1;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    if (line_x != line_y)
        return line_x < line_y ? -1 : 1;
    if (x->message.column != y->message.column)
        return x->message.column < y->message.column ? -1 : 1;
    return x->index < y->index ? -1 : 1;
}

/* In their order; but where more than MOST_SHOWN are to be cut, those that will stay come first, and no error gives
 * way to a warning. */
static void put_back(struct tl_diag *d, size_t first, const struct ranked *ranked, size_t n)
{
    size_t left[2] = {MOST_SHOWN, MOST_SHOWN}; /* of errors and of warnings */
    size_t errors = 0, kept = 0, cut = 0;
    for (size_t i = 0; i < n; i++)
        errors += ranked[i].message.level == TL_DIAG_ERROR;
    left[1] -= errors < MOST_SHOWN ? errors : MOST_SHOWN;
    const size_t shown = n < MOST_SHOWN ? n : MOST_SHOWN;
    for (size_t i = 0; i < n; i++) {
        size_t *more = &left[ranked[i].message.level != TL_DIAG_ERROR];
        d->message[first + (*more > 0 ? kept++ : shown + cut++)] = ranked[i].message;
        *more -= *more > 0;
    }
}

/* Bring the messages from `first` on into that order and keep as many as someone may read. */
static int sort_messages(struct tl_diag *d, size_t first, const char *file)
{
    size_t n = d->count - first;
    if (n < 2)
        return TL_OK;
    struct ranked *ranked = malloc(n * sizeof *ranked);
    if (!ranked)
        return TL_E_MEMORY;
    for (size_t i = 0; i < n; i++) {
        const char *of = d->message[first + i].file;
        int group = of && strcmp(of, file) == 0 ? 0 : of && strcmp(of, TL_FROM_SET) == 0 ? 2 : 1;
        ranked[i] = (struct ranked){d->message[first + i], i, group};
    }
    qsort(ranked, n, sizeof *ranked, by_place);
    put_back(d, first, ranked, n);
    free(ranked);
    if (n > MOST_SHOWN) {
        tl_diag_cut(d, first + MOST_SHOWN);
        tl_diag_add(d, TL_DIAG_WARNING, file, 0, 0, NULL, "more faults are not shown", NULL);
    }
    return TL_OK;
}

static int read_tree(struct tl_reader *r, const struct tl_scenario_options *options,
                     const char *text, size_t length)
{
    int status = tl_tree_parse(r->file, true, text, length, &r->root, &r->cut, r->diag);
    if (status || !r->root)
        return status;
    if (r->root->kind != TL_NODE_MAPPING) {
        tl_fault(r, r->root, "keys with values, beginning with \"format: 1\"",
                 "this is not a scenario");
        return TL_OK;
    }
    for (size_t i = 0; options && i < options->sets && !status; i++)
        status = tl_tree_set(r->root, options->set[i],
                             options->set_from && options->set_from[i] ? options->set_from[i]
                                                                       : TL_FROM_SET,
                             r->diag);
    if (status)
        return status;

    tl_read_section(r, r->root, "", r->draft);
    if (!r->out_of_memory)
        tl_finish(r);
    return r->out_of_memory ? TL_E_MEMORY : TL_OK;
}

/* `given`: NULL, or a flag a key. */
static int read_text(const char *name, const char *text, size_t length, const char *folder,
                     const struct tl_scenario_options *options, bool *given,
                     struct tl_scenario *out, struct tl_diag *diag)
{
    struct tl_draft draft;
    struct tl_reader r = {.diag = diag, .file = name, .folder = folder, .draft = &draft};
    size_t first = diag->count;
    size_t errors = diag->errors;
    *out = (struct tl_scenario){0};
    tl_draft_default(&draft);
    draft.s.path = strdup(name);

    int status = draft.s.path ? read_tree(&r, options, text, length) : TL_E_MEMORY;
    if (!status)
        status = sort_messages(diag, first, name);
    if (!status && diag->lost)
        status = TL_E_MEMORY;
    if (!status && diag->errors > errors)
        status = TL_E_INPUT;
    if (!status)
        *out = draft.s;
    else
        tl_scenario_free(&draft.s);
    for (size_t i = 0; given && i < tl_key_count; i++)
        given[i] = r.at[i] != NULL;
    free(r.event_entry);
    free(r.deliveries);
    tl_tree_free(r.root);
    return status;
}

int tl_scenario_read_text(const char *name, const char *text, size_t length, const char *folder,
                          const struct tl_scenario_options *options, struct tl_scenario *out,
                          struct tl_diag *diag)
{
    return read_text(name, text, length, folder, options, NULL, out, diag);
}

int tl_scenario_read(const char *path, const struct tl_scenario_options *options,
                     struct tl_scenario *out, struct tl_diag *diag)
{
    return tl_scenario_read_given(path, options, NULL, out, diag);
}

int tl_scenario_read_given(const char *path, const struct tl_scenario_options *options, bool *given,
                           struct tl_scenario *out, struct tl_diag *diag)
{
    char *text = NULL;
    char *folder = NULL;
    size_t length = 0;
    char reason[128];
    *out = (struct tl_scenario){0};

    int status = *path ? tl_read_input(path, TL_TREE_BYTES, &text, &length) : TL_E_IO;
    if (!*path)
        tl_diag_add(diag, TL_DIAG_ERROR, "FILE", 0, 0, NULL, "the name is empty",
                    "the path of a scenario file");
    else if (status == TL_E_IO)
        tl_diag_add(diag, TL_DIAG_ERROR, path, 0, 0, NULL, strerror_r(errno, reason, sizeof reason),
                    "a readable file");
    else if (status == TL_E_REFUSED)
        tl_diag_add(diag, TL_DIAG_ERROR, path, 0, 0, NULL, "this is a folder or a device",
                    "a readable file");
    else if (status == TL_E_INPUT)
        tl_diag_add(diag, TL_DIAG_ERROR, path, 0, 0, NULL, "larger than 1 MiB", "a smaller file");
    if (status)
        return status == TL_E_REFUSED ? TL_E_IO : status;

    const char *slash = strrchr(path, '/');
    folder = slash ? strndup(path, (size_t)(slash - path) + 1) : strdup("");
    status =
        folder ? read_text(path, text, length, folder, options, given, out, diag) : TL_E_MEMORY;
    free(folder);
    free(text);
    return status;
}
