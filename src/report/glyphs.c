/* Asks fontconfig, which the PNG and PDF pictures get their fonts from, what these can show. */
#include "glyphs.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gnuplot.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

#define LARGEST      ((size_t)16 << 20)
#define TIME_LIMIT_S 20.0

/* Latin letters and the punctuation that goes with them are in every font for text; the marks that turn
 * the direction of writing have no shape. */
static bool is_common(uint32_t c)
{
    return c < 0x250 || (c >= 0x200B && c <= 0x2026);
}

/* Chooses among the looks of the character before it; a picture does without. */
static bool is_selector(uint32_t c)
{
    return (c >= 0xFE00 && c <= 0xFE0F) || (c >= 0xE0100 && c <= 0xE01EF);
}

/* --- the scripts of a folder --------------------------------------------------------------------- */

struct walk {
    const char *folder;
    struct tl_glyphs *found;         /* looking */
    const struct tl_glyphs *missing; /* taking out */
    int (*visit)(const struct walk *w, const char *path, const char *text);
};

static int see(void *arg, const char *name, enum tl_posix_kind kind)
{
    const struct walk *w = arg;
    const char *ending = strrchr(name, '.');
    struct tl_text path = {0};
    char *text = NULL;
    size_t length;
    if (kind != TL_POSIX_FILE || !ending || strcmp(ending, ".gp") != 0)
        return TL_OK;
    tl_text_addf(&path, "%s/%s", w->folder, name);
    int status = path.failed ? TL_E_MEMORY : tl_read_file(path.data, LARGEST, &text, &length);
    if (status == TL_OK)
        status = w->visit(w, path.data, text);
    free(text);
    tl_text_free(&path);
    return status;
}

static size_t place_of(const struct tl_glyphs *g, uint32_t c)
{
    size_t i = 0;
    while (i < g->n && g->glyph[i].character != c)
        i++;
    return i;
}

static int look(const struct walk *w, const char *path, const char *text)
{
    struct tl_glyphs *g = w->found;
    (void)path;
    for (const char *p = text; *p;) {
        const uint32_t c = tl_text_next(&p);
        if (is_common(c) || is_selector(c) || place_of(g, c) < g->n)
            continue;
        if (g->n < TL_GLYPHS)
            g->glyph[g->n++].character = c;
        else
            g->beyond = true;
    }
    return TL_OK;
}

static bool is_missing(const struct tl_glyphs *g, uint32_t c)
{
    const size_t i = place_of(g, c);
    return !is_common(c) && (i == g->n || !g->glyph[i].covered);
}

static int take_out(const struct walk *w, const char *path, const char *text)
{
    FILE *f = fopen(path, "we");
    for (const char *p = text; f && *p;) {
        const char *from = p;
        const uint32_t c = tl_text_next(&p);
        if (is_selector(c))
            continue;
        if (is_missing(w->missing, c))
            putc('?', f);
        else
            fwrite(from, 1, (size_t)(p - from), f);
    }
    const bool bad = !f || ferror(f);
    return (f && fclose(f)) || bad ? TL_E_IO : TL_OK;
}

int tl_glyphs_take_out(const struct tl_glyphs *g, const char *folder)
{
    struct walk w = {.folder = folder, .missing = g, .visit = take_out};
    return tl_posix_list(folder, see, &w);
}

/* --- the fonts ------------------------------------------------------------------------------------ */

/* Reading "20-7e a0-2e9 2f3", in pieces cut anywhere. */
struct ranges {
    struct tl_glyphs *g;
    uint32_t from, number;
    bool digits, begun; /* of a number; of a range */
};

static void end_range(struct ranges *r)
{
    const uint32_t from = r->begun ? r->from : r->number;
    for (size_t i = 0; r->digits && i < r->g->n; i++) {
        struct tl_glyph *glyph = &r->g->glyph[i];
        glyph->covered =
            glyph->covered || (glyph->character >= from && glyph->character <= r->number);
    }
}

static void hear(void *arg, const char *bytes, size_t n)
{
    static const char hex[] = "0123456789abcdef";
    struct ranges *r = arg;
    for (size_t i = 0; i < n; i++) {
        const char *digit = bytes[i] ? strchr(hex, bytes[i]) : NULL;
        if (digit) {
            r->number = (r->digits ? r->number << 4 : 0) + (uint32_t)(digit - hex);
            r->digits = true;
            continue;
        }
        if (bytes[i] == '-') {
            r->from = r->number;
        } else {
            end_range(r);
        }
        r->begun = bytes[i] == '-';
        r->digits = false;
    }
}

/* In the order in which one stands in for the other, each only if it has something to add. */
static int ask(struct tl_glyphs *g, const char *folder, const volatile int *interrupted)
{
    static const char *const argument[] = {"fc-match", "-s", "--format=%{charset}\n", "sans-serif",
                                           NULL};
    static const char *const unset[] = {"LC_", "LANG", "FC_DEBUG", NULL};
    struct ranges r = {.g = g};
    const struct tl_posix_command command = {.argument = argument,
                                             .folder = folder,
                                             .unset = unset,
                                             .set = "LC_ALL=C",
                                             .time_limit_s = TIME_LIMIT_S,
                                             .interrupted = interrupted,
                                             .output = true,
                                             .hear = hear,
                                             .hear_arg = &r};
    enum tl_posix_end end;
    return tl_posix_run(&command, &end); /* whatever its end: what it has said is so */
}

int tl_glyphs_find(const char *folder, const volatile int *interrupted, struct tl_glyphs *out)
{
    struct walk w = {.folder = folder, .found = out, .visit = look};
    *out = (struct tl_glyphs){.n = 0};
    const int status = tl_posix_list(folder, see, &w);
    return status == TL_OK && out->n > 0 ? ask(out, folder, interrupted) : status;
}

bool tl_glyphs_any_missing(const struct tl_glyphs *g)
{
    bool any = g->beyond;
    for (size_t i = 0; i < g->n; i++)
        any = any || !g->glyph[i].covered;
    return any;
}

/* At most 4 bytes. */
static size_t put_utf8(uint32_t c, char *to)
{
    const size_t more = c < 0x80 ? 0 : c < 0x800 ? 1 : c < 0x10000 ? 2 : 3;
    static const unsigned char lead[] = {0, 0xC0, 0xE0, 0xF0};
    for (size_t i = more; i > 0; i--, c >>= 6)
        to[i] = (char)(0x80 | (c & 0x3F));
    to[0] = (char)(lead[more] | c);
    return more + 1;
}

void tl_glyphs_tell(const struct tl_glyphs *g, char *utf8, size_t size)
{
    size_t n = 0;
    for (size_t i = 0; i < g->n && n + 4 < size; i++)
        if (!g->glyph[i].covered)
            n += put_utf8(g->glyph[i].character, utf8 + n);
    utf8[n] = '\0';
}
