/* The list of messages about a user's input: every fault found, in the order found.
 *
 * A message reads `file:line:column: key: what is wrong; expected what was expected`; a warning has
 * `warning: ` before its key. */
#ifndef TOWERLOOP_DIAG_H
#define TOWERLOOP_DIAG_H

#include <stdbool.h>
#include <stddef.h>

enum tl_diag_level { TL_DIAG_ERROR, TL_DIAG_WARNING };

struct tl_diag_message {
    enum tl_diag_level level;
    char *file;    /* as the user named it; NULL when the message belongs to no file */
    unsigned line; /* 1-based; 0 = unknown */
    unsigned column;
    char *key;      /* dotted path of the key, or NULL */
    char *what;     /* what is wrong */
    char *expected; /* what was expected (printed behind "expected "), or NULL */
};

struct tl_diag {
    struct tl_diag_message *message;
    size_t count;
    size_t errors; /* messages of level TL_DIAG_ERROR */
    size_t capacity;
    bool lost; /* a message is missing, for lack of memory */
};

void tl_diag_init(struct tl_diag *d);
void tl_diag_free(struct tl_diag *d);

/* Add one message; all strings are copied and may be NULL where the struct says so. Out of
 * memory is remembered in `lost`. */
void tl_diag_add(struct tl_diag *d, enum tl_diag_level level, const char *file, unsigned line,
                 unsigned column, const char *key, const char *what, const char *expected);

/* Drop the messages from the `count`-th on; the number of errors stays. */
void tl_diag_cut(struct tl_diag *d, size_t count);

/* The message as one line of text without a newline, control characters made visible.
 * Caller frees; NULL when out of memory. */
char *tl_diag_text(const struct tl_diag_message *m);

#endif
