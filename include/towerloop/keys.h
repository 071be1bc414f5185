/* The keys of a scenario, for whoever lists, documents or checks them: the reader's own table. */
#ifndef TOWERLOOP_KEYS_H
#define TOWERLOOP_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/units.h"

enum tl_form_kind {
    TL_FORM_WORDS,  /* one of `words` */
    TL_FORM_NUMBER, /* a number from `min` to `max` in a unit of `dim` */
    TL_FORM_TEXT,   /* text on one line, in the shape of `pattern` */
    TL_FORM_KEYS,   /* keys: those directly below `below` */
    TL_FORM_LIST,  /* a list of items with the keys below `below`; if that is NULL, of such texts */
    TL_FORM_EDITS, /* paths of other keys with their values */
    TL_FORM_TABLE  /* one quantity to another, "10 degC: 0.5 %/d": the two keys below `below` */
};

/* One way in which a value can be written. Members that the kind does not need are 0. */
struct tl_form {
    enum tl_form_kind kind;
    bool silent;              /* a further spelling: understood, but not offered */
    bool whole;               /* NUMBER: without a fraction */
    bool filled;              /* KEYS, LIST, TABLE: not empty */
    const char *const *words; /* WORDS: closed by NULL */
    const char *lead;         /* NUMBER: the word before it ("seeded 30 %"), or NULL */
    const char *pattern;      /* TEXT, LIST: regular expression (ECMA-262), or NULL: any text */
    const char *below;        /* KEYS, LIST, TABLE: "tank", "fish[]" */
    enum tl_dim dim;          /* NUMBER */
    double min, max;          /* NUMBER: both allowed; base unit */
};

/* What a key of an event does. */
enum tl_key_action {
    TL_KEY_NO_ACTION,
    TL_KEY_ACTION,        /* something is done */
    TL_KEY_LASTING_ACTION /* something changes, and `for:` can put it back */
};

struct tl_key_info {
    const char *path;      /* "tank.volume"; of an item of a list: "fish[].count" */
    const char *name;      /* "volume", the end of the path */
    size_t section;        /* bytes of the path before the name and its point; 0: top */
    const char *type;      /* "a quantity" */
    const char *help;      /* what it means */
    const char *status;    /* of a parameter, how well its default is known; else NULL */
    const char *otherwise; /* what holds without it, where that is no fixed value; else NULL */
    bool required;         /* wherever its section stands */
    enum tl_key_action action;
    size_t forms; /* ways to write it, at least one */
};

size_t tl_key_list_size(void);
/* Key `i` of the list, in the order of a scenario; what it points to is static. */
void tl_key_list_at(size_t i, struct tl_key_info *out);
/* One of its forms. */
void tl_key_list_form(size_t i, size_t form, struct tl_form *out);

/* What holds when the key is left out, as a scenario would say it, in base units. False (and "")
 * when it is required, when `otherwise` says it, or when there is nothing then. */
bool tl_key_default(size_t i, char *text, size_t size);

/* For people: what holds without the key ("needed", "15 min", "none"), and the values it takes
 * ("0.01 to 20 m3", "yes, no"), in the units they expect. */
void tl_key_shown_default(size_t i, enum tl_unit_system system, char *text, size_t size);
void tl_key_shown_values(size_t i, enum tl_unit_system system, char *text, size_t size);

#endif
