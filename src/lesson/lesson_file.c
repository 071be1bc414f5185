/* Reads a lesson from its file, strictly: every key must be known, every name in a text must be a figure. */
#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "lesson.h"
#include "text.h"
#include "towerloop/limits.h"
#include "towerloop/params.h"
#include "towerloop/status.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static const char *const source_word[TL_LESSON_SOURCES + 1] = {
#define WORD(id, word) [id] = (word),
    TL_LESSON_SOURCE_LIST(WORD)};
static const char *const take_word[TL_LESSON_TAKES + 1] = {TL_LESSON_TAKE_LIST(WORD)};
#undef WORD

struct reader {
    struct tl_lesson *l;
    struct tl_diag *diag;
};

/* --- messages --------------------------------------------------------------------------------- */

/* "figures.peak.take" */
static void add_path(struct tl_text *t, const struct tl_node *n)
{
    if (!n->parent)
        return;
    add_path(t, n->parent);
    if (n->key)
        tl_text_addf(t, "%s%s", t->length ? "." : "", n->key);
}

__attribute__((format(printf, 4, 5))) static void
fault(const struct reader *r, const struct tl_node *n, const char *expected, const char *what, ...)
{
    struct tl_text path = {0}, text = {0};
    va_list arguments;
    va_start(arguments, what);
    tl_text_addv(&text, what, arguments);
    va_end(arguments);
    add_path(&path, n);
    tl_diag_add(r->diag, TL_DIAG_ERROR, n->file, n->line, n->column,
                path.length ? tl_text_string(&path) : NULL, tl_text_string(&text), expected);
    tl_text_free(&path);
    tl_text_free(&text);
}

/* --- keys and values -------------------------------------------------------------------------- */

static size_t length_of(const char *const *word)
{
    size_t n = 0;
    while (word[n])
        n++;
    return n;
}

static int index_of(const char *const *word, const char *text)
{
    for (int i = 0; word[i]; i++)
        if (strcmp(word[i], text) == 0)
            return i;
    return -1;
}

static void add_list(struct tl_text *t, const char *const *word)
{
    for (size_t i = 0; word[i]; i++)
        tl_text_addf(t, "%s%s", i ? ", " : "", word[i]);
}

/* Whether it is a mapping of keys out of `known`. */
static bool check_keys(const struct reader *r, const struct tl_node *n, const char *const *known)
{
    if (n->kind != TL_NODE_MAPPING) {
        fault(r, n, "keys with their values", "this is none");
        return false;
    }
    for (const struct tl_node *c = n->first; c; c = c->next) {
        if (index_of(known, c->key) >= 0)
            continue;
        struct tl_text expected = {0};
        const int near = tl_nearest(c->key, known, length_of(known));
        if (near >= 0)
            tl_text_add(&expected, known[near]);
        else
            add_list(&expected, known);
        fault(r, c, tl_text_string(&expected), "there is no such key");
        tl_text_free(&expected);
    }
    return true;
}

/* A text under a key; NULL, with a message if it is needed, when there is none. */
static const char *text_of(const struct reader *r, const struct tl_node *n, const char *key,
                           bool needed)
{
    const struct tl_node *c = tl_node_child(n, key);
    if (c && c->kind == TL_NODE_TEXT && *c->text)
        return c->text;
    if (c)
        fault(r, c, "a text", "this is none");
    else if (needed)
        fault(r, n, NULL, "the key \"%s\" is missing", key);
    return NULL;
}

static bool is_number(const char *text, double *value)
{
    char *end;
    *value = tl_strtod(text, &end);
    return end != text && *end == '\0' && isfinite(*value);
}

static double number_of(const struct reader *r, const struct tl_node *n, const char *key,
                        double low, double high)
{
    double value = low;
    const char *text = text_of(r, n, key, true);
    if (text &&
        (!is_number(text, &value) || value < low || value > high || value != floor(value))) {
        char expected[64];
        tl_format(expected, sizeof expected, "a whole number from %g to %g", low, high);
        fault(r, tl_node_child(n, key), expected, "\"%s\" will not do", text);
        value = low;
    }
    return value;
}

/* A number or the name of a figure that was read before. */
static struct tl_lesson_operand operand(const struct reader *r, const struct tl_node *at,
                                        const char *text)
{
    struct tl_lesson_operand o = {.given = true, .figure = -1};
    if (is_number(text, &o.number))
        return o;
    o.figure = tl_lesson_find(r->l, text, strlen(text));
    if (o.figure < 0)
        fault(r, at, "a number, or the name of a figure that stands above", "\"%s\" is neither",
              text);
    return o;
}

static struct tl_lesson_operand operand_of(const struct reader *r, const struct tl_node *n,
                                           const char *key)
{
    const char *text = text_of(r, n, key, false);
    return text ? operand(r, tl_node_child(n, key), text)
                : (struct tl_lesson_operand){.figure = -1};
}

static void check_text(const struct reader *r, const struct tl_node *n)
{
    const char *wrong = tl_lesson_fill(r->l, NULL, n->text, NULL);
    if (wrong)
        fault(r, n, "the name of a figure in braces, as {peak}, {peak:1} or {day:clock}",
              "\"%.24s\" cannot be understood", wrong);
}

/* What is said before the run cannot have its numbers. */
static void check_plain(const struct reader *r, const struct tl_node *n)
{
    if (n && n->kind == TL_NODE_TEXT && strpbrk(n->text, "{}"))
        fault(r, n, "a text without braces", "the numbers of the run are not known yet");
}

static void read_texts(const struct reader *r, const struct tl_node *root, const char *key,
                       size_t least, size_t most,
                       void (*check)(const struct reader *r, const struct tl_node *n),
                       struct tl_lesson_texts *out)
{
    const struct tl_node *n = tl_node_child(root, key);
    if (!n || n->kind != TL_NODE_LIST || tl_node_count(n) < least || tl_node_count(n) > most) {
        char expected[64];
        tl_format(expected, sizeof expected, "a list of %zu to %zu texts", least, most);
        if (n)
            fault(r, n, expected, "this is none");
        else if (least > 0)
            fault(r, root, NULL, "the key \"%s\" is missing", key);
        return;
    }
    for (const struct tl_node *c = n->first; c; c = c->next) {
        if (c->kind != TL_NODE_TEXT || !*c->text) {
            fault(r, c, "a text", "this is none");
            continue;
        }
        if (check)
            check(r, c);
        out->text[out->n++] = c->text;
    }
}

/* --- figures ---------------------------------------------------------------------------------- */

static bool is_parameter(const char *name)
{
    static const char *const known[] = {
#define NAME(field, dflt, dim, lo, hi, status, help) #field,
        TL_PARAM_LIST(NAME)
#undef NAME
            NULL};
    return index_of(known, name) >= 0;
}

static bool is_limit(const char *name)
{
    static const char *const known[] = {
#define NAME(id, name, unit) name,
        TL_LIMIT_LIST(NAME)
#undef NAME
            NULL};
    return index_of(known, name) >= 0;
}

static void read_take(const struct reader *r, const struct tl_node *n, struct tl_lesson_figure *f)
{
    const bool limit = f->source == TL_LESSON_LIMIT;
    const char *text = text_of(r, n, "take", true);
    const int take = text ? index_of(take_word, text) : 0;
    if (!text)
        return;
    const bool of_limit = take >= TL_LESSON_CAUTION;
    if (take < 0 || of_limit != limit) {
        struct tl_text expected = {0};
        for (int i = limit ? TL_LESSON_CAUTION : 0;
             i < (limit ? TL_LESSON_TAKES : TL_LESSON_CAUTION); i++)
            tl_text_addf(&expected, "%s%s", expected.length ? ", " : "", take_word[i]);
        fault(r, tl_node_child(n, "take"), tl_text_string(&expected), "\"%s\" is none", text);
        tl_text_free(&expected);
        return;
    }
    f->take = (enum tl_lesson_take)take;
    if (f->take == TL_LESSON_AT && !f->at.given)
        fault(r, n, NULL, "the key \"at\" is missing");
    if ((f->take == TL_LESSON_WHEN_ABOVE || f->take == TL_LESSON_WHEN_BELOW) && !f->level.given)
        fault(r, n, NULL, "the key \"level\" is missing");
}

static void read_sides(const struct reader *r, const struct tl_node *n, struct tl_lesson_figure *f)
{
    if (n->kind != TL_NODE_LIST || tl_node_count(n) != 2 || n->first->kind != TL_NODE_TEXT ||
        n->last->kind != TL_NODE_TEXT) {
        fault(r, n, "two figures or numbers, as [peak, 24]", "this is none");
        return;
    }
    f->side[0] = operand(r, n->first, n->first->text);
    f->side[1] = operand(r, n->last, n->last->text);
}

static void read_source(const struct reader *r, const struct tl_node *n, struct tl_lesson_figure *f)
{
    const struct tl_node *c = tl_node_child(n, source_word[f->source]);
    if (f->source >= TL_LESSON_ADD) {
        read_sides(r, c, f);
        return;
    }
    f->of = text_of(r, n, source_word[f->source], true);
    if (!f->of)
        return;
    if (f->source == TL_LESSON_NUMBER)
        f->side[0] = operand(r, c, f->of);
    if (f->source == TL_LESSON_PARAMETER && !is_parameter(f->of))
        fault(r, c, "one that towerloop keys lists", "there is no parameter \"%s\"", f->of);
    if (f->source == TL_LESSON_LIMIT && !is_limit(f->of))
        fault(r, c, "the name of a limit as in summary.json", "there is no limit \"%s\"", f->of);
    if (f->source == TL_LESSON_COLUMN || f->source == TL_LESSON_LIMIT)
        read_take(r, n, f);
}

static bool is_name(const char *name)
{
    return strspn(name, "abcdefghijklmnopqrstuvwxyz_0123456789") == strlen(name) && *name >= 'a' &&
           *name <= 'z';
}

static void read_figure(const struct reader *r, const struct tl_node *n)
{
    static const char *const known[] = {
        "column", "limit", "summary", "parameter", "key", "number", "add",   "subtract", "multiply",
        "divide", "run",   "take",    "from",      "to",  "at",     "level", NULL};
    struct tl_lesson_figure f = {.name = n->key, .source = TL_LESSON_SOURCES};
    if (!is_name(n->key))
        fault(r, n, "small letters, digits and _, a letter first", "this is no name for a figure");
    if (!check_keys(r, n, known))
        return;
    for (int i = 0; i < TL_LESSON_SOURCES; i++) {
        if (!tl_node_child(n, source_word[i]))
            continue;
        if (f.source != TL_LESSON_SOURCES)
            fault(r, n, NULL, "%s and %s cannot both be the source of a figure",
                  source_word[f.source], source_word[i]);
        f.source = (enum tl_lesson_source)i;
    }
    f.from = operand_of(r, n, "from");
    f.to = operand_of(r, n, "to");
    f.at = operand_of(r, n, "at");
    f.level = operand_of(r, n, "level");
    f.run = text_of(r, n, "run", false);
    if (f.source == TL_LESSON_SOURCES) {
        struct tl_text expected = {0};
        add_list(&expected, source_word);
        fault(r, n, tl_text_string(&expected), "it has no source");
        tl_text_free(&expected);
        return;
    }
    read_source(r, n, &f);
    r->l->figure[r->l->figures++] = f;
}

static void read_figures(const struct reader *r, const struct tl_node *root)
{
    const struct tl_node *n = tl_node_child(root, "figures");
    if (!n || n->kind != TL_NODE_MAPPING || tl_node_count(n) > TL_LESSON_FIGURES) {
        fault(r, n ? n : root, "names, each with its source, 64 at most",
              n ? "these are no figures" : "the key \"figures\" is missing");
        return;
    }
    for (const struct tl_node *c = n->first; c; c = c->next)
        read_figure(r, c);
}

/* "a < b" */
static void read_claim(const struct reader *r, const struct tl_node *n)
{
    struct tl_lesson_claim *c = &r->l->claim[r->l->claims];
    const char *sign = n->kind == TL_NODE_TEXT ? strpbrk(n->text, "<>") : NULL;
    char left[64], right[64];
    if (!sign || sign - n->text < 2 || sign[-1] != ' ' || sign[1] != ' ' || strlen(n->text) > 60) {
        fault(r, n, "a comparison, as first_day < second_day", "this is none");
        return;
    }
    tl_format(left, sizeof left, "%.*s", (int)(sign - n->text - 1), n->text);
    tl_format(right, sizeof right, "%s", sign + 2);
    *c = (struct tl_lesson_claim){
        n->text, {operand(r, n, left), operand(r, n, right)}, *sign == '>'};
    r->l->claims++;
}

static void read_claims(const struct reader *r, const struct tl_node *root)
{
    const struct tl_node *n = tl_node_child(root, "holds");
    if (!n || n->kind != TL_NODE_LIST || !n->first || tl_node_count(n) > TL_LESSON_TEXTS) {
        fault(r, n ? n : root, "what must hold in the run, 1 to 16 comparisons",
              n ? "this is none" : "the key \"holds\" is missing");
        return;
    }
    for (const struct tl_node *c = n->first; c; c = c->next)
        read_claim(r, c);
}

/* --- the chart -------------------------------------------------------------------------------- */

static void read_line(const struct reader *r, const struct tl_node *n)
{
    static const char *const known[] = {"name", "column", "run", NULL};
    struct tl_lesson_chart *c = &r->l->chart;
    if (!check_keys(r, n, known))
        return;
    c->line[c->lines++] = (struct tl_lesson_line){
        text_of(r, n, "name", true), text_of(r, n, "column", true), text_of(r, n, "run", false)};
}

static void read_level(const struct reader *r, const struct tl_node *n)
{
    static const char *const known[] = {"name", "at", NULL};
    struct tl_lesson_chart *c = &r->l->chart;
    if (!check_keys(r, n, known))
        return;
    const char *name = text_of(r, n, "name", true);
    (void)text_of(r, n, "at", true);
    c->level[c->levels++] = (struct tl_lesson_level){name, operand_of(r, n, "at")};
}

static void read_items(const struct reader *r, const struct tl_node *chart, const char *key,
                       size_t least, size_t most,
                       void (*read)(const struct reader *r, const struct tl_node *n))
{
    const struct tl_node *n = tl_node_child(chart, key);
    if (!n && least == 0)
        return;
    if (!n || n->kind != TL_NODE_LIST || tl_node_count(n) < least || tl_node_count(n) > most) {
        char expected[64];
        tl_format(expected, sizeof expected, "%s: a list of %zu to %zu", key, least, most);
        fault(r, n ? n : chart, expected, n ? "this is none" : "the chart shows nothing");
        return;
    }
    for (const struct tl_node *c = n->first; c; c = c->next)
        read(r, c);
}

static void read_chart(const struct reader *r, const struct tl_node *root)
{
    static const char *const known[] = {"title", "unit", "across", "hours",  "from",
                                        "to",    "rows", "lines",  "levels", NULL};
    const struct tl_node *n = tl_node_child(root, "chart");
    struct tl_lesson_chart *c = &r->l->chart;
    if (!n) {
        fault(r, root, NULL, "the key \"chart\" is missing");
        return;
    }
    if (!check_keys(r, n, known))
        return;
    c->title = text_of(r, n, "title", true);
    c->unit = text_of(r, n, "unit", true);
    c->across = text_of(r, n, "across", true);
    const char *hours = text_of(r, n, "hours", false);
    c->hours = hours && strcmp(hours, "yes") == 0;
    if (hours && !c->hours && strcmp(hours, "no") != 0)
        fault(r, tl_node_child(n, "hours"), "yes or no", "\"%s\" is neither", hours);
    c->from = operand_of(r, n, "from");
    c->to = operand_of(r, n, "to");
    c->rows = (size_t)number_of(r, n, "rows", 2, TL_LESSON_TABLE);
    read_items(r, n, "lines", 1, TL_LESSON_LINES, read_line);
    read_items(r, n, "levels", 0, TL_LESSON_LEVELS, read_level);
}

/* --- the whole of it -------------------------------------------------------------------------- */

static void read_root(const struct reader *r, const struct tl_node *root)
{
    static const char *const known[] = {"format",    "lesson",  "title",   "scenario", "question",
                                        "choices",   "answer",  "figures", "holds",    "chart",
                                        "equations", "explain", "try",     "look",     "teacher",
                                        "sources",   NULL};
    struct tl_lesson *l = r->l;
    if (!check_keys(r, root, known))
        return;
    (void)number_of(r, root, "format", 1, 1);
    l->number = (unsigned)number_of(r, root, "lesson", 1, 99);
    l->title = text_of(r, root, "title", true);
    l->scenario = text_of(r, root, "scenario", true);
    l->question = text_of(r, root, "question", true);
    l->look = text_of(r, root, "look", true);
    read_figures(r, root);
    read_texts(r, root, "choices", 2, TL_LESSON_CHOICES, check_plain, &l->choice);
    check_plain(r, tl_node_child(root, "title"));
    check_plain(r, tl_node_child(root, "question"));
    if (l->look)
        check_text(r, tl_node_child(root, "look"));
    l->answer = (unsigned)number_of(r, root, "answer", 1, (double)(l->choice.n ? l->choice.n : 1));
    read_claims(r, root);
    read_chart(r, root);
    read_texts(r, root, "explain", 1, TL_LESSON_TEXTS, check_text, &l->explain);
    read_texts(r, root, "equations", 0, TL_LESSON_TEXTS, check_text, &l->equation);
    read_texts(r, root, "teacher", 0, TL_LESSON_TEXTS, check_text, &l->teacher);
    read_texts(r, root, "sources", 1, TL_LESSON_TEXTS, check_text, &l->source);
    read_texts(r, root, "try", 1, TL_LESSON_CHOICES, NULL, &l->set);
}

static void name_after(struct tl_lesson *l, const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    tl_format(l->name, sizeof l->name, "%.*s", (int)strcspn(name, "."), name);
}

/* It goes into the names of files and parts of a page. */
static bool is_plain(const char *name)
{
    return *name && strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789-") == strlen(name);
}

/* The tree of a file; NULL with TL_OK never happens: an empty file is a fault. */
static int read_tree(const char *path, struct tl_node **root, struct tl_diag *diag)
{
    char *text = NULL;
    size_t length = 0;
    bool cut = false;
    const size_t errors = diag->errors;
    int status = tl_read_plain_file(path, TL_TREE_BYTES, &text, &length);
    if (status == TL_OK)
        status = tl_tree_parse(path, true, text, length, root, &cut, diag);
    if (status == TL_OK && !*root && diag->errors == errors)
        tl_diag_add(diag, TL_DIAG_ERROR, path, 0, 0, NULL, "the file is empty", NULL);
    free(text);
    return status == TL_OK && diag->errors > errors ? TL_E_INPUT : status;
}

int tl_lesson_read(const char *path, struct tl_lesson *out, struct tl_diag *diag)
{
    const struct reader r = {out, diag};
    *out = (struct tl_lesson){.answer = 1};
    name_after(out, path);
    const size_t errors = diag->errors;
    if (!is_plain(out->name))
        tl_diag_add(diag, TL_DIAG_ERROR, path, 0, 0, NULL,
                    "a lesson cannot be called after this file",
                    "a name of small letters, digits and -");
    const int status = read_tree(path, &out->root, diag);
    if (status == TL_OK)
        read_root(&r, out->root);
    return status == TL_OK && diag->errors > errors ? TL_E_INPUT : status;
}

void tl_lesson_free(struct tl_lesson *l)
{
    tl_tree_free(l->root);
    l->root = NULL;
}

int tl_glossary_read(const char *path, struct tl_glossary *out, struct tl_diag *diag)
{
    const struct reader r = {NULL, diag};
    const size_t errors = diag->errors;
    out->root = NULL;
    int status = read_tree(path, &out->root, diag);
    if (status != TL_OK)
        return status;
    if (out->root->kind != TL_NODE_MAPPING)
        fault(&r, out->root, "words with their meanings", "this is none");
    for (const struct tl_node *c = out->root->first; c; c = c->next)
        if (c->kind != TL_NODE_TEXT || !*c->text)
            fault(&r, c, "a text", "this is none");
    return diag->errors > errors ? TL_E_INPUT : TL_OK;
}
