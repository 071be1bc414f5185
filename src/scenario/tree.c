/* From YAML events to a tree, within bounds. The event interface of libyaml is used because its
 * documents follow aliases and get slow on deep nesting; a scenario needs neither. */
#include "tree.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

#include "text.h"
#include "towerloop/status.h"

struct builder {
    const char *file;
    bool places;
    struct tl_diag *diag;
    struct tl_node *root;
    struct tl_node *open[TL_TREE_DEPTH]; /* containers around the current place */
    size_t depth;
    size_t nodes;
    char *key; /* of the next value, when the innermost container is a mapping */
    yaml_mark_t key_mark;
    bool dropped_key; /* the key was at fault: drop its value without another message */
    size_t skip;      /* > 0: inside a container that is dropped */
    bool key_skip;    /* ... which stood in place of a key */
    unsigned documents;
    bool stop;
    size_t characters; /* of the text */
    yaml_mark_t end;   /* where they end */
};

static yaml_mark_t place_of(const char *text, size_t length, size_t offset)
{
    yaml_mark_t at = {0};
    for (size_t i = 0; i < offset; i++) {
        const bool ends =
            text[i] == '\n' || (text[i] == '\r' && (i + 1 == length || text[i + 1] != '\n'));
        at.column = ends ? 0 : at.column + (((unsigned char)text[i] & 0xc0) != 0x80);
        at.line += ends;
    }
    return at;
}

static size_t characters(const char *text, size_t length)
{
    size_t n = 0;
    for (size_t i = 0; i < length; i++)
        n += ((unsigned char)text[i] & 0xc0) != 0x80;
    return n;
}

/* What is not there at the end is missed there: the parser has a line more, which no editor shows. */
static yaml_mark_t seen(const struct builder *b, yaml_mark_t at)
{
    return at.index < b->characters ? at : b->end;
}

static void fault(struct builder *b, yaml_mark_t at, const char *key, const char *what,
                  const char *expected)
{
    at = seen(b, at);
    unsigned line = b->places ? (unsigned)at.line + 1 : 0;
    unsigned column = b->places ? (unsigned)at.column + 1 : 0;
    tl_diag_add(b->diag, TL_DIAG_ERROR, b->file, line, column, key, what, expected);
}

struct tl_node *tl_node_new(enum tl_node_kind kind, const char *file)
{
    struct tl_node *n = calloc(1, sizeof *n);
    if (n) {
        n->kind = kind;
        n->file = file;
    }
    return n;
}

void tl_node_append(struct tl_node *parent, struct tl_node *child)
{
    if (parent->last)
        parent->last->next = child;
    else
        parent->first = child;
    parent->last = child;
    child->parent = parent;
}

size_t tl_node_count(const struct tl_node *parent)
{
    size_t n = 0;
    for (const struct tl_node *c = parent->first; c; c = c->next)
        n++;
    return n;
}

struct tl_node *tl_node_child(const struct tl_node *mapping, const char *key)
{
    for (struct tl_node *n = mapping->first; n; n = n->next)
        if (n->key && strcmp(n->key, key) == 0)
            return n;
    return NULL;
}

void tl_tree_free(struct tl_node *n)
{
    while (n) { /* siblings in a loop, children by recursion: at most TL_TREE_DEPTH deep */
        struct tl_node *next = n->next;
        tl_tree_free(n->first);
        free(n->key);
        free(n->text);
        free(n);
        n = next;
    }
}

static bool wants_key(const struct builder *b)
{
    return b->depth > 0 && b->open[b->depth - 1]->kind == TL_NODE_MAPPING && !b->key &&
           !b->dropped_key;
}

/* A scalar that is a key. TL_OK or TL_E_MEMORY. */
static int take_key(struct builder *b, const yaml_event_t *e)
{
    const char *text = (const char *)e->data.scalar.value;
    b->key_mark = e->start_mark;
    if (strlen(text) != e->data.scalar.length) {
        fault(b, e->start_mark, NULL, "a key holds a NUL byte", NULL);
        b->dropped_key = true;
    } else if (strcmp(text, "<<") == 0) {
        fault(b, e->start_mark, "<<", "merging mappings is not supported", "the keys written out");
        b->dropped_key = true;
    } else {
        b->key = strdup(text);
        if (!b->key)
            return TL_E_MEMORY;
    }
    return TL_OK;
}

/* Hang a value into the tree; opens it when it is a container. TL_OK or TL_E_MEMORY. */
static int take_value(struct builder *b, const yaml_event_t *e, enum tl_node_kind kind)
{
    if (b->dropped_key) {
        b->dropped_key = false;
        b->skip = kind != TL_NODE_TEXT;
        return TL_OK;
    }

    struct tl_node *n = tl_node_new(kind, b->file);
    if (!n)
        return TL_E_MEMORY;
    n->key = b->key;
    b->key = NULL;
    if (b->places) {
        const yaml_mark_t at = seen(b, e->start_mark);
        n->line = (unsigned)at.line + 1;
        n->column = (unsigned)at.column + 1;
        n->key_line = n->key ? (unsigned)b->key_mark.line + 1 : n->line;
        n->key_column = n->key ? (unsigned)b->key_mark.column + 1 : n->column;
    }
    if (b->depth > 0)
        tl_node_append(b->open[b->depth - 1], n);
    else
        b->root = n;

    if (kind != TL_NODE_TEXT) {
        b->open[b->depth++] = n;
        return TL_OK;
    }
    const char *text = (const char *)e->data.scalar.value;
    n->text = strdup(text);
    if (!n->text)
        return TL_E_MEMORY;
    n->quoted = e->data.scalar.style != YAML_PLAIN_SCALAR_STYLE;
    if (strlen(text) != e->data.scalar.length || !tl_is_plain_text(text)) {
        fault(b, e->start_mark, n->key, "the text holds a line break or a control character",
              "text on one line");
        for (struct tl_node *m = n; m && !m->faulty; m = m->parent)
            m->faulty = true;
    }
    return TL_OK;
}

static int take(struct builder *b, const yaml_event_t *e, enum tl_node_kind kind)
{
    if (++b->nodes > TL_TREE_NODES) {
        fault(b, e->start_mark, NULL, "more than 100000 nodes", "a smaller file");
        b->stop = true;
        return TL_OK;
    }
    if (kind != TL_NODE_TEXT && b->depth + b->skip >= TL_TREE_DEPTH) {
        fault(b, e->start_mark, NULL, "nested deeper than 32 levels", "a flatter file");
        b->stop = true;
        return TL_OK;
    }
    if (b->skip > 0) {
        b->skip += kind != TL_NODE_TEXT;
        return TL_OK;
    }
    if (!wants_key(b))
        return take_value(b, e, kind);
    if (kind == TL_NODE_TEXT)
        return take_key(b, e);
    fault(b, e->start_mark, NULL, "a list or mapping stands as a key", "a plain key");
    b->skip = 1;
    b->key_skip = true;
    return TL_OK;
}

static int by_key(const void *a, const void *b)
{
    const struct tl_node *x = *(struct tl_node *const *)a;
    const struct tl_node *y = *(struct tl_node *const *)b;
    int order = strcmp(x->key, y->key);
    if (order == 0)
        order = x->key_line != y->key_line ? (x->key_line > y->key_line ? 1 : -1)
                                           : (x->key_column > y->key_column ? 1 : -1);
    return order;
}

/* Report keys that stand twice in a mapping, by sorting: a file may hold 50 000 of them. */
static int check_repeats(struct builder *b, const struct tl_node *mapping)
{
    size_t n = tl_node_count(mapping);
    if (n < 2)
        return TL_OK;
    struct tl_node **sorted = malloc(n * sizeof *sorted);
    if (!sorted)
        return TL_E_MEMORY;
    n = 0;
    for (struct tl_node *c = mapping->first; c; c = c->next)
        sorted[n++] = c;
    qsort(sorted, n, sizeof *sorted, by_key);
    for (size_t i = 1, first = 0; i < n; i++) {
        if (strcmp(sorted[i]->key, sorted[first]->key) != 0) {
            first = i;
            continue;
        }
        char what[96] = "this key stands here a second time";
        if (b->places)
            tl_format(what, sizeof what,
                      "this key stands here a second time (the first is at %u:%u)",
                      sorted[first]->key_line, sorted[first]->key_column);
        tl_diag_add(b->diag, TL_DIAG_ERROR, b->file, sorted[i]->key_line, sorted[i]->key_column,
                    sorted[i]->key, what, NULL);
    }
    free(sorted);
    return TL_OK;
}

static int close_container(struct builder *b)
{
    if (b->skip > 0) {
        if (--b->skip == 0 && b->key_skip) {
            b->key_skip = false;
            b->dropped_key = true;
        }
        return TL_OK;
    }
    struct tl_node *n = b->open[--b->depth];
    return n && n->kind == TL_NODE_MAPPING ? check_repeats(b, n) : TL_OK;
}

static void refuse_properties(struct builder *b, const yaml_event_t *e, const yaml_char_t *anchor,
                              const yaml_char_t *tag)
{
    if (anchor)
        fault(b, e->start_mark, NULL, "anchors (&) are not supported", "the value alone");
    if (tag)
        fault(b, e->start_mark, NULL, "tags (!) are not supported", "the value alone");
}

static int handle(struct builder *b, const yaml_event_t *e)
{
    switch (e->type) {
    case YAML_DOCUMENT_START_EVENT:
        if (++b->documents > 1) {
            fault(b, e->start_mark, NULL, "a second document begins here", "one document a file");
            b->stop = true;
        }
        return TL_OK;
    case YAML_ALIAS_EVENT:
        fault(b, e->start_mark, b->key, "aliases (*) are not supported", "the value written out");
        if (b->skip > 0)
            return TL_OK;
        b->dropped_key = wants_key(b);
        free(b->key);
        b->key = NULL;
        return TL_OK;
    case YAML_SCALAR_EVENT:
        refuse_properties(b, e, e->data.scalar.anchor, e->data.scalar.tag);
        return take(b, e, TL_NODE_TEXT);
    case YAML_SEQUENCE_START_EVENT:
        refuse_properties(b, e, e->data.sequence_start.anchor, e->data.sequence_start.tag);
        return take(b, e, TL_NODE_LIST);
    case YAML_MAPPING_START_EVENT:
        refuse_properties(b, e, e->data.mapping_start.anchor, e->data.mapping_start.tag);
        return take(b, e, TL_NODE_MAPPING);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        return close_container(b);
    case YAML_STREAM_END_EVENT:
        b->stop = true;
        return TL_OK;
    default:
        return TL_OK;
    }
}

/* What to do about the faults of syntax that people make most. */
static const char *hint(const char *problem)
{
    static const struct {
        const char *problem, *hint;
    } hints[] = {
        {"mapping values are not allowed",
         "quotation marks around a text that holds \": \", keys of one mapping set in alike"},
        {"cannot start any token",
         "blanks instead of tabs, quotation marks around signs as @ or `"},
        {"expected ',' or", "a comma between items and a bracket at the end"},
        {"did not find expected key", "keys of one mapping set in alike"},
        {"expected <block end>", "keys of one mapping set in alike"},
        {"could not find expected ':'", "a colon and a blank behind each key"},
        {"end of stream", "a quotation mark at the end of the text"},
    };
    for (size_t i = 0; problem && i < sizeof hints / sizeof *hints; i++)
        if (strstr(problem, hints[i].problem))
            return hints[i].hint;
    return NULL;
}

static void syntax_fault(struct builder *b, const yaml_parser_t *p, const char *text, size_t length)
{
    struct tl_text what = {0};
    const yaml_mark_t at =
        p->error == YAML_READER_ERROR ? place_of(text, length, p->problem_offset) : p->problem_mark;
    tl_text_addf(&what, "not readable as YAML: %s", p->problem ? p->problem : "unknown fault");
    if (p->context && b->places && p->context_mark.line != p->problem_mark.line)
        tl_text_addf(&what, " (%s from line %zu)", p->context, p->context_mark.line + 1);
    else if (p->context)
        tl_text_addf(&what, " (%s)", p->context);
    fault(b, at, NULL, tl_text_string(&what), hint(p->problem));
    tl_text_free(&what);
}

/* What breaks a line in YAML, but not in the editor in which the line of a message is looked for. */
static size_t odd_break(const char *text, size_t length)
{
    static const char *const odd[] = {"\xc2\x85", "\xe2\x80\xa8", "\xe2\x80\xa9"};
    size_t first = length;
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        const char *found = memmem(text, first, odd[i], strlen(odd[i]));
        first = found ? (size_t)(found - text) : first;
    }
    return first;
}

/* Bytes that no scenario holds; they would confuse what follows. */
static bool check_bytes(struct builder *b, const char *text, size_t length)
{
    const char *nul = memchr(text, '\0', length);
    const struct {
        size_t at;
        const char *what, *expected;
    } bad[] = {
        {tl_utf8_fault(text, length), "not UTF-8", "text in UTF-8"},
        {nul ? (size_t)(nul - text) : length, "a NUL byte", "text in UTF-8"},
        {odd_break(text, length), "a line separator, which is not seen", "a new line, or a blank"}};
    size_t first = 0;
    for (size_t i = 1; i < sizeof bad / sizeof *bad; i++)
        if (bad[i].at < bad[first].at)
            first = i;
    if (bad[first].at == length)
        return true;
    fault(b, place_of(text, length, bad[first].at), NULL, bad[first].what, bad[first].expected);
    return false;
}

int tl_tree_parse(const char *file, bool places, const char *text, size_t length,
                  struct tl_node **root, bool *cut, struct tl_diag *diag)
{
    struct builder b = {.file = file, .places = places, .diag = diag};
    size_t errors = diag->errors;
    int status = TL_OK;
    *root = NULL;
    *cut = true;
    if (length > TL_TREE_BYTES) {
        tl_diag_add(diag, TL_DIAG_ERROR, file, 0, 0, NULL, "larger than 1 MiB", "a smaller file");
        return TL_OK;
    }
    b.characters = length; /* at most */
    if (!check_bytes(&b, text, length))
        return TL_OK;

    if (length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        text += 3; /* a byte order mark, which libyaml would count as an indent */
        length -= 3;
    }
    b.characters = characters(text, length);
    b.end = place_of(text, length, length);
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser))
        return TL_E_MEMORY;
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
    while (!status && !b.stop) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            if (parser.error == YAML_MEMORY_ERROR)
                status = TL_E_MEMORY;
            else
                syntax_fault(&b, &parser, text, length);
            break;
        }
        *cut = event.type != YAML_STREAM_END_EVENT;
        status = handle(&b, &event);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    free(b.key);
    while (!status && b.depth > 0) { /* left open where the reading ended */
        struct tl_node *n = b.open[--b.depth];
        assert(n);
        status = n->kind == TL_NODE_MAPPING ? check_repeats(&b, n) : TL_OK;
    }
    *root = b.root;
    if (!status && !b.root && diag->errors == errors)
        tl_diag_add(diag, TL_DIAG_ERROR, file, 0, 0, NULL, "there is nothing in it",
                    "a scenario, beginning with \"format: 1\"");
    if (status) {
        tl_tree_free(b.root);
        *root = NULL;
    }
    return status;
}
