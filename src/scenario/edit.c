/* "KEY=VALUE" from the command line or a variant, carried out on the tree before it is read: so an edit obeys
 * the same rules as the file. */
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "text.h"
#include "towerloop/status.h"

#define MOST_SEGMENTS 16

/* What is being carried out. */
struct edit {
    const char *from; /* for messages */
    struct tl_diag *diag;
};

static void fault(const struct edit *e, const char *key, const char *what, const char *expected)
{
    tl_diag_add(e->diag, TL_DIAG_ERROR, e->from, 0, 0, key, what, expected);
}

/* What a segment leads to, by the character behind it. */
static enum tl_node_kind kind_behind(char c)
{
    return c == '.' ? TL_NODE_MAPPING : c == '[' ? TL_NODE_LIST : TL_NODE_TEXT;
}

/* A new last child of `parent`. */
static struct tl_node *grow(const struct edit *e, struct tl_node *parent, enum tl_node_kind kind,
                            const char *key, size_t key_length)
{
    struct tl_node *n = tl_node_new(kind, e->from);
    if (!n)
        return NULL;
    n->key = key ? strndup(key, key_length) : NULL;
    n->text = strdup("");
    if ((key && !n->key) || !n->text) {
        tl_tree_free(n);
        return NULL;
    }
    tl_node_append(parent, n);
    return n;
}

/* A key below one that holds a single value, which for some is the mean of what the key would shape. */
static void fault_single(const struct edit *e, const struct tl_node *at, const char *path,
                         const char *whole)
{
    static const char what[] = "what stands there is a single value";
    struct tl_text parent = {0}, expected = {0};
    tl_text_add_bytes(&parent, whole, path > whole ? (size_t)(path - whole) - 1 : 0);
    const char *name = tl_text_string(&parent);
    if (at->kind == TL_NODE_TEXT && strcmp(path, "mean") != 0 && tl_key_find(name, "mean") &&
        tl_key_find(name, path))
        tl_text_addf(&expected, "both at once, as \"%s={mean: %s, %s: ...}\"", name, at->text,
                     path);
    else
        tl_text_add(&expected, "a key that has keys below it");
    fault(e, whole, what, tl_text_string(&expected));
    tl_text_free(&parent);
    tl_text_free(&expected);
}

/* The child that the path leads to. Some keys are paths themselves, as those of `spread`: "pump.flow". */
static struct tl_node *longest(const struct tl_node *at, const char *path)
{
    struct tl_node *found = NULL;
    for (struct tl_node *n = at->first; n; n = n->next) {
        const size_t length = strlen(n->key);
        if (strncmp(n->key, path, length) == 0 && strchr(".[", path[length]) &&
            (!found || strlen(found->key) < length))
            found = n;
    }
    return found;
}

/* One step from `*at` along the path: ".key" or "[3]". Moves *path behind it. TL_OK, TL_E_INPUT
 * (the fault is in `diag`) or TL_E_MEMORY. */
static int step(const struct edit *e, struct tl_node **at, const char **path, const char *whole)
{
    struct tl_node *found = NULL;
    if (**path == '[') {
        char *end;
        unsigned long index = strtoul(*path + 1, &end, 10);
        if (end == *path + 1 || *end != ']' || (*path)[1] == '-' || index > TL_TREE_NODES) {
            fault(e, whole, "not a place in a list", "a number in brackets, as fish[0].count");
            return TL_E_INPUT;
        }
        unsigned long count = 0;
        for (struct tl_node *n = (*at)->first; n; n = n->next, count++)
            if (count == index)
                found = n;
        if ((*at)->kind != TL_NODE_LIST || index > count) {
            fault(e, whole, "the list has no such place",
                  "[0] for the first item, up to one behind the last");
            return TL_E_INPUT;
        }
        *path = end + 1;
        if (!found)
            found = grow(e, *at, kind_behind(**path), NULL, 0);
    } else {
        size_t length = strcspn(*path, ".[");
        if ((*at)->kind != TL_NODE_MAPPING) {
            fault_single(e, *at, *path, whole);
            return TL_E_INPUT;
        }
        found = longest(*at, *path);
        if (found)
            length = strlen(found->key);
        const char *key = *path;
        *path += length;
        if (!found)
            found = grow(e, *at, kind_behind(**path), key, length);
    }
    *at = found;
    return found ? TL_OK : TL_E_MEMORY;
}

/* Put the content of `value` in the place of that of `n`. */
static void replace(const struct edit *e, struct tl_node *n, struct tl_node *value)
{
    tl_tree_free(n->first);
    free(n->text);
    n->kind = value->kind;
    n->text = value->text;
    n->quoted = value->quoted;
    n->faulty = value->faulty;
    n->first = value->first;
    n->last = value->last;
    for (struct tl_node *c = n->first; c; c = c->next)
        c->parent = n;
    n->file = e->from;
    n->line = n->column = n->key_line = n->key_column = 0;
    value->text = NULL;
    value->first = value->last = NULL;
}

int tl_tree_set(struct tl_node *root, const char *assignment, const char *from,
                struct tl_diag *diag)
{
    const struct edit edit = {from, diag};
    const char *equals = strchr(assignment, '=');
    struct tl_node *value = NULL;
    struct tl_node *at = root;
    char *key = NULL;
    bool cut;
    int status = TL_OK;

    if (!equals || equals == assignment) {
        fault(&edit, NULL, "not an assignment", "KEY=VALUE, as tower.trays=12");
        return TL_OK;
    }
    size_t length = (size_t)(equals - assignment);
    while (length > 0 && assignment[length - 1] == ' ')
        length--;
    key = strndup(assignment, length);
    if (!key)
        return TL_E_MEMORY;

    const char *text = equals + 1;
    if (text[strspn(text, " \t")] == '\0') {
        fault(&edit, key, "no value behind the =", NULL);
        goto done;
    }
    status = tl_tree_parse(from, false, text, strlen(text), &value, &cut, diag);
    if (status || !value || cut)
        goto done;

    const char *path = key;
    for (size_t i = 0; !status; i++) {
        if (i == MOST_SEGMENTS || *path == '\0') {
            fault(&edit, key, "not a path of keys", "keys joined by points, as tower.trays");
            goto done;
        }
        status = step(&edit, &at, &path, key);
        if (*path == '.')
            path++;
        else if (*path == '\0')
            break;
    }
    if (!status)
        replace(&edit, at, value);

done:
    tl_tree_free(value);
    free(key);
    return status == TL_E_MEMORY ? status : TL_OK;
}
