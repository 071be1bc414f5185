/* Numbers with units as regular expressions, from the same rows that read them. */
#include <string.h>

#include "text.h"
#include "unit_rows.h"

#define BLANK  "[ \\t\xc2\xa0\xe2\x80\xaf]"
#define NUMBER "[+-]?(?:[0-9]+\\.?[0-9]*|\\.[0-9]+)(?:[eE][+-]?[0-9]+)?"

/* `n` bytes, capitals or not. */
static void add_any_case(struct tl_text *t, const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (tl_unit_letter(s[i]))
            tl_text_addf(t, "[%c%c]", s[i] | 0x20, s[i] & ~0x20);
        else
            tl_text_add_bytes(t, &s[i], 1);
    }
}

/* A run of letters, or one other character: itself and all that stands for it. A sign may stand for
 * the begin of a run, as in a degree sign and a C. */
static void add_token(struct tl_text *t, const char *s, size_t n)
{
    tl_text_add(t, "(?:");
    add_any_case(t, s, n);
    for (const struct tl_unit_word *w = tl_unit_words; w->word; w++) {
        if (strlen(w->is) != n || !tl_unit_same(w->is, s, n))
            continue;
        tl_text_add(t, "|");
        add_any_case(t, w->word, strlen(w->word));
    }
    for (const struct tl_unit_word *sign = tl_unit_signs; sign->word; sign++) {
        size_t length = strlen(sign->is);
        if (length == 0 || length > n || !tl_unit_same(sign->is, s, length))
            continue;
        tl_text_addf(t, "|%s", sign->word);
        if (length < n)
            add_token(t, s + length, n - length);
    }
    tl_text_add(t, ")");
}

static void add_unit(struct tl_text *t, const char *normal)
{
    for (const char *s = normal; *s;) {
        size_t n = 0;
        while (tl_unit_letter(s[n]))
            n++;
        if (n == 0)
            n = 1;
        if (*s == ' ') {
            tl_text_add(t, BLANK "+");
        } else if (*s == '/') {
            tl_text_add(t, BLANK "*");
            add_token(t, s, n);
            tl_text_add(t, BLANK "*");
        } else {
            if (s > normal && *s >= '2' && *s <= '3')
                tl_text_add(t, "\\^?");
            add_token(t, s, n);
        }
        s += n;
    }
}

/* Words that stand for nothing, as the "US" of a US gallon. */
static void add_empty_words(struct tl_text *t)
{
    for (const struct tl_unit_word *w = tl_unit_words; w->word; w++) {
        if (*w->is != '\0')
            continue;
        tl_text_add(t, "(?:");
        add_any_case(t, w->word, strlen(w->word));
        tl_text_add(t, BLANK "+)?");
    }
}

char *tl_dim_pattern(enum tl_dim dim)
{
    const struct tl_unit_rows *units = &tl_unit_rows[dim];
    struct tl_text t = {0};
    tl_text_add(&t, NUMBER);
    if (dim != TL_DIM_NUMBER) {
        tl_text_add(&t, BLANK "*");
        add_empty_words(&t);
        tl_text_add(&t, "(?:");
        for (size_t i = 0; i < units->rows; i++) {
            char normal[TL_SPELLING_SIZE];
            if (i > 0)
                tl_text_add(&t, "|");
            if (tl_unit_normalise(units->row[i].spelling, normal))
                add_unit(&t, normal);
        }
        tl_text_add(&t, ")");
    }
    if (t.failed)
        tl_text_free(&t);
    return t.data;
}
