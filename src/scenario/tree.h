/* The YAML of a scenario as a tree of mappings, lists and texts, each with its place. */
#ifndef TL_SCENARIO_TREE_H
#define TL_SCENARIO_TREE_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/diag.h"

#define TL_TREE_BYTES (1024u * 1024u)
#define TL_TREE_DEPTH 32
#define TL_TREE_NODES 100000

enum tl_node_kind { TL_NODE_TEXT, TL_NODE_MAPPING, TL_NODE_LIST };

struct tl_node {
    enum tl_node_kind kind;
    char *key;  /* in a mapping: the key; else NULL */
    char *text; /* TL_NODE_TEXT; never NULL there */
    bool quoted;
    bool faulty;           /* a fault was found in it or below it, here or by the reader */
    const char *file;      /* for messages; outlives the tree */
    unsigned line, column; /* of the value; 0 = no place in a file */
    unsigned key_line, key_column;
    struct tl_node *parent;
    struct tl_node *first, *last; /* children in file order */
    struct tl_node *next;
};

/* Parse one document. Faults go to `diag`; *cut is set when one ended the reading early (the tree
 * then holds what stood before it). `file` is used in messages and not copied; without `places`
 * nodes have line 0. *root is NULL when there is nothing. TL_OK or TL_E_MEMORY. */
int tl_tree_parse(const char *file, bool places, const char *text, size_t length,
                  struct tl_node **root, bool *cut, struct tl_diag *diag);
void tl_tree_free(struct tl_node *n);

struct tl_node *tl_node_new(enum tl_node_kind kind, const char *file);
void tl_node_append(struct tl_node *parent, struct tl_node *child);
size_t tl_node_count(const struct tl_node *parent);
/* The child under `key`, or NULL. */
struct tl_node *tl_node_child(const struct tl_node *mapping, const char *key);

/* Carry out "KEY=VALUE" on the tree: missing mappings are made, the value is YAML in flow form.
 * `from` says where it comes from; it outlives the tree. TL_OK (also when the fault is in `diag`) or
 * TL_E_MEMORY. */
#define TL_FROM_SET     "--set"
#define TL_FROM_VARIANT "variant" /* of the scenario itself, until messages are brought home */
int tl_tree_set(struct tl_node *root, const char *assignment, const char *from,
                struct tl_diag *diag);

#endif
