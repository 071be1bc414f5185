/* `spread:`: numbers of the scenario that are not known for sure, each a path of keys with a distribution.
 * They are looked at last, against what the scenario then is. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "number_at.h"
#include "reader.h"
#include "towerloop/status.h"

#define TEXT_SIZE   512
#define MOST_FACTOR 100
#define LIKE_THESE  "a quantity, as pump.flow or feeding.appetite"

static const char like[] = "a distribution, as {uniform: [0.5 1/d, 1 1/d]}, {triangular: [least, "
                           "likeliest, greatest]}, {normal: {mean: ..., sd: ...}} or {lognormal: "
                           "{median: ..., factor: 1.3}}";

/* How each distribution is written: a list of values, or a mapping of two names. */
static const struct {
    const char *name;
    const char *first, *second; /* NULL: a list */
    size_t values;
    const char *expected;
} shape[] = {
    [TL_UNIFORM] = {"uniform", NULL, NULL, 2, "a list of two values, [least, greatest]"},
    [TL_NORMAL] = {"normal", "mean", "sd", 2, "two keys, {mean: ..., sd: ...}"},
    [TL_LOGNORMAL] = {"lognormal", "median", "factor", 2, "two keys, {median: ..., factor: 1.3}"},
    [TL_TRIANGULAR] = {"triangular", NULL, NULL, 3,
                       "a list of three values, [least, likeliest, greatest]"},
};

#define SHAPES (sizeof shape / sizeof *shape)

/* --- one distribution --------------------------------------------------------------------------- */

/* The values in the order in which they are written. */
static bool read_values(struct tl_reader *r, struct tl_node *n, enum tl_distribution_kind kind,
                        struct tl_node *at[3])
{
    if (!shape[kind].first) {
        size_t count = 0;
        for (struct tl_node *c = n->first; c; c = c->next, count++)
            if (count < 3)
                at[count] = c;
        if (n->kind == TL_NODE_LIST && count == shape[kind].values)
            return true;
    } else if (n->kind == TL_NODE_MAPPING) {
        at[0] = tl_node_child(n, shape[kind].first);
        at[1] = tl_node_child(n, shape[kind].second);
        if (at[0] && at[1] && tl_node_count(n) == 2)
            return true;
    }
    tl_fault(r, n, shape[kind].expected, "this is not how %s is written", shape[kind].name);
    return false;
}

static bool read_number(struct tl_reader *r, struct tl_node *n, enum tl_dim dim, double min,
                        double max, double *out)
{
    const struct tl_key key = {.dim = dim, .min = min, .max = max};
    return tl_read_number(r, n, &key, out);
}

/* What `second` of the mapping is: above 0, or a factor above 1. */
static bool read_width(struct tl_reader *r, struct tl_node *n, struct tl_uncertain *u)
{
    const bool factor = u->d.kind == TL_LOGNORMAL;
    const enum tl_dim dim = factor                         ? TL_DIM_NUMBER
                            : u->dim == TL_DIM_TEMPERATURE ? TL_DIM_TEMPERATURE_SPAN
                                                           : u->dim;
    const double least = factor ? 1 : 0;
    if (!read_number(r, n, dim, least, factor ? MOST_FACTOR : u->d.max - u->d.min, &u->d.b))
        return false;
    if (u->d.b > least)
        return true;
    tl_fault(r, n, factor ? "a factor above 1" : "a standard deviation above 0",
             "there is no width to it");
    return false;
}

/* The median of a factor is above 0, and what is counted from no natural zero has no factor. */
static bool factor_fits(struct tl_reader *r, struct tl_node *n, const struct tl_uncertain *u)
{
    if (u->dim == TL_DIM_TEMPERATURE || u->dim == TL_DIM_TEMPERATURE_SPAN) {
        tl_fault(r, n, "uniform, triangular or normal",
                 "a temperature is off by degrees, not by a factor");
        return false;
    }
    if (u->d.a > 0)
        return true;
    tl_fault(r, n, "a median above 0", "a factor needs a median above 0");
    return false;
}

static bool read_distribution(struct tl_reader *r, struct tl_node *n, struct tl_uncertain *u)
{
    struct tl_node *at[3] = {NULL};
    struct tl_distribution *d = &u->d;
    size_t kind = 0;
    struct tl_node *child = n->kind == TL_NODE_MAPPING ? n->first : NULL;
    if (!child || child->next) {
        tl_fault(r, n, like, child ? "more than one distribution" : "this is no distribution");
        return false;
    }
    while (kind < SHAPES && strcmp(child->key, shape[kind].name) != 0)
        kind++;
    if (kind == SHAPES) {
        tl_fault_key(r, child, "one of uniform, normal, lognormal, triangular",
                     "no such distribution");
        return false;
    }
    d->kind = (enum tl_distribution_kind)kind;
    if (!read_values(r, child, d->kind, at) ||
        !read_number(r, at[0], u->dim, d->min, d->max, &d->a))
        return false;
    if (shape[kind].first)
        return read_width(r, at[1], u) && (d->kind != TL_LOGNORMAL || factor_fits(r, child, u));
    struct tl_node *last = at[shape[kind].values - 1];
    if (!read_number(r, last, u->dim, d->min, d->max, &d->b))
        return false;
    if (d->kind == TL_TRIANGULAR && !read_number(r, at[1], u->dim, d->min, d->max, &d->c))
        return false;
    if (d->a < d->b && (d->kind != TL_TRIANGULAR || (d->a <= d->c && d->c <= d->b)))
        return true;
    tl_fault(r, child, shape[kind].expected,
             d->a < d->b ? "the likeliest value does not lie between the other two"
                         : "the least value is not below the greatest");
    return false;
}

/* --- the list ----------------------------------------------------------------------------------- */

/* "fish[3].mean mass" -> "fish[].mean mass" */
static void without_places(const char *path, char *out, size_t size)
{
    size_t length = 0;
    bool inside = false;
    for (; *path && length + 1 < size; path++) {
        inside = inside && *path != ']';
        if (!inside)
            out[length++] = *path;
        inside = inside || *path == '[';
    }
    out[length] = '\0';
}

/* Whether keys lie below the path. */
static bool is_section(const char *path)
{
    char plain[TL_UNCERTAIN_PATH];
    without_places(path, plain, sizeof plain);
    const size_t length = strlen(plain);
    for (size_t i = 0; i < tl_key_count; i++) {
        const char *key = tl_key_table[i].path;
        if (strncmp(key, plain, length) == 0 && (key[length] == '.' || key[length] == '['))
            return true;
    }
    return false;
}

static bool is_distribution(const struct tl_node *n)
{
    for (size_t i = 0; i < SHAPES; i++)
        if (n->kind == TL_NODE_MAPPING && tl_node_child(n, shape[i].name))
            return true;
    return false;
}

static void keep(struct tl_reader *r, struct tl_node *n, const struct tl_uncertain *u)
{
    struct tl_scenario *s = &r->draft->s;
    if (s->spreads == TL_UNCERTAIN_MOST) {
        tl_fault_key(r, n, "at most 40 numbers", "too many numbers that are not known for sure");
        return;
    }
    struct tl_uncertain *more = realloc(s->spread, (s->spreads + 1) * sizeof *more);
    if (!more) {
        r->out_of_memory = true;
        return;
    }
    s->spread = more;
    s->spread[s->spreads++] = *u;
}

/* Examples of a key with a number are of what is counted, too. */
static bool is_any_number(const char *expected)
{
    static const char such[] = "a key with a number";
    return strncmp(expected, such, sizeof such - 1) == 0;
}

/* `known`: all else could be read, so that it is known what the scenario has at the path. */
static void read_entry(struct tl_reader *r, struct tl_node *n, const char *path, bool known)
{
    struct tl_scenario *s = &r->draft->s;
    struct tl_uncertain u = {.dim = TL_DIM_NUMBER};
    struct tl_number_at at;
    char what[TEXT_SIZE];
    char expected[TEXT_SIZE];
    for (size_t i = 0; i < s->spreads; i++)
        if (strcmp(s->spread[i].path, path) == 0) {
            tl_fault_key(r, n, "each number once", "%s stands here a second time", path);
            return;
        }
    int status = tl_number_key(path, &at, what, expected, sizeof what);
    if (!status && known)
        status = tl_scenario_number_at(s, path, &at, what, expected, sizeof what);
    if (status) {
        if (status == TL_E_MEMORY)
            r->out_of_memory = true;
        else
            tl_fault_key(r, n, is_any_number(expected) ? LIKE_THESE : expected, "%s", what);
        return;
    }
    if (at.whole) {
        tl_fault_key(r, n, LIKE_THESE,
                     "it is counted, and a spread needs what can change by little");
        return;
    }
    tl_format(u.path, sizeof u.path, "%s", path);
    u.dim = at.dim;
    u.d.min = at.min;
    u.d.max = at.max;
    if (read_distribution(r, n, &u))
        keep(r, n, &u);
}

/* Paths may be written joined by points, or as mappings and lists within one another; --set makes these. */
static void read_below(struct tl_reader *r, struct tl_node *n, const char *path, bool known)
{
    size_t place = 0;
    for (struct tl_node *c = n->first; c && !r->out_of_memory; c = c->next, place++) {
        char below[TL_UNCERTAIN_PATH];
        const size_t length =
            c->key
                ? (size_t)tl_format(below, sizeof below, "%s%s%s", path, *path ? "." : "", c->key)
                : (size_t)tl_format(below, sizeof below, "%s[%zu]", path, place);
        if (length >= sizeof below)
            tl_fault_key(r, c, "a path of keys, as parameters.mu_aob", "there is no such key");
        else if (c->first && is_section(below) && !is_distribution(c))
            read_below(r, c, below, known);
        else
            read_entry(r, c, below, known);
    }
}

void tl_fill_spread(struct tl_reader *r)
{
    struct tl_node *n = tl_place(r, "spread");
    if (n && !n->faulty)
        read_below(r, n, "", !r->root->faulty);
}

static void spread_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    (void)key;
    (void)base;
    if (n->kind != TL_NODE_MAPPING || !n->first)
        tl_fault(r, n,
                 "keys with their distributions, as parameters.mu_aob: {uniform: [0.5 1/d, 1 1/d]}",
                 n->kind == TL_NODE_LIST                          ? "this is a list"
                 : n->kind == TL_NODE_TEXT && n->text && *n->text ? "this is a single value"
                                                                  : "nothing stands in it");
}

static bool spread_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_scenario *s = base;
    (void)key;
    for (size_t i = 0; i < s->spreads; i++) {
        const struct tl_uncertain *u = &s->spread[i];
        const struct tl_distribution *d = &u->d;
        const enum tl_dim width = u->dim == TL_DIM_TEMPERATURE ? TL_DIM_TEMPERATURE_SPAN : u->dim;
        tl_text_add(out, "\n  ");
        tl_write_quoted(out, u->path);
        tl_text_addf(out, ": {%s: %s", shape[d->kind].name, shape[d->kind].first ? "{" : "[");
        if (shape[d->kind].first)
            tl_text_addf(out, "%s: ", shape[d->kind].first);
        tl_write_number(out, u->dim, d->a);
        tl_text_add(out, ", ");
        if (shape[d->kind].first)
            tl_text_addf(out, "%s: ", shape[d->kind].second);
        if (d->kind == TL_TRIANGULAR) {
            tl_write_number(out, u->dim, d->c);
            tl_text_add(out, ", ");
        }
        tl_write_number(out,
                        d->kind == TL_LOGNORMAL ? TL_DIM_NUMBER
                        : d->kind == TL_NORMAL  ? width
                                                : u->dim,
                        d->b);
        tl_text_add(out, shape[d->kind].first ? "}}" : "]}");
    }
    return s->spreads > 0;
}

const struct tl_value_type tl_type_spread = {
    .name = "keys with their distributions, as parameters.mu_aob: {uniform: [0.5 1/d, 1 1/d]}",
    .read = spread_read,
    .write = spread_write,
    TL_FORMS({.kind = TL_FORM_EDITS, .filled = true}),
};
