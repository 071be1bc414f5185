/* The list of messages about a user's input, and how one reads. */
#include "towerloop/diag.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

void tl_diag_init(struct tl_diag *d)
{
    *d = (struct tl_diag){0};
}

static void message_free(struct tl_diag_message *m)
{
    free(m->file);
    free(m->key);
    free(m->what);
    free(m->expected);
}

void tl_diag_free(struct tl_diag *d)
{
    for (size_t i = 0; i < d->count; i++)
        message_free(&d->message[i]);
    free(d->message);
    tl_diag_init(d);
}

/* A copy, or NULL for NULL; out of memory clears *ok. */
static char *copy(const char *s, bool *ok)
{
    if (!s)
        return NULL;
    char *c = strdup(s);
    if (!c)
        *ok = false;
    return c;
}

void tl_diag_add(struct tl_diag *d, enum tl_diag_level level, const char *file, unsigned line,
                 unsigned column, const char *key, const char *what, const char *expected)
{
    if (level == TL_DIAG_ERROR)
        d->errors++;
    if (d->count == d->capacity) {
        size_t capacity = d->capacity ? 2 * d->capacity : 16;
        struct tl_diag_message *grown = realloc(d->message, capacity * sizeof *grown);
        if (!grown) {
            d->lost = true;
            return;
        }
        d->message = grown;
        d->capacity = capacity;
    }

    bool ok = true;
    struct tl_diag_message m = {.level = level, .line = line, .column = column};
    m.file = copy(file, &ok);
    m.key = copy(key, &ok);
    m.what = copy(what ? what : "", &ok);
    m.expected = copy(expected, &ok);
    if (ok)
        d->message[d->count++] = m;
    else {
        d->lost = true;
        message_free(&m);
    }
}

void tl_diag_cut(struct tl_diag *d, size_t count)
{
    while (d->count > count)
        message_free(&d->message[--d->count]);
}

char *tl_diag_text(const struct tl_diag_message *m)
{
    struct tl_text t = {0};
    if (m->file) {
        tl_text_add_visible(&t, m->file);
        if (m->line > 0 && m->column > 0)
            tl_text_addf(&t, ":%u:%u", m->line, m->column);
        else if (m->line > 0)
            tl_text_addf(&t, ":%u", m->line);
        tl_text_add(&t, ": ");
    }
    if (m->level == TL_DIAG_WARNING)
        tl_text_add(&t, "warning: ");
    if (m->key) {
        tl_text_add_visible(&t, m->key);
        tl_text_add(&t, ": ");
    }
    tl_text_add_visible(&t, m->what);
    if (m->expected) {
        tl_text_add(&t, "; expected ");
        tl_text_add_visible(&t, m->expected);
    }
    if (t.failed)
        tl_text_free(&t);
    return t.data;
}
