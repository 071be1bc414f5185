/* Text that comes from a user, made fit for a picture and harmless for gnuplot. */
#include <stdint.h>
#include <string.h>

#include "gnuplot.h"
#include "text.h"

/* Without it the first letter would turn a whole PNG or PDF label round, but none of an SVG. */
#define FROM_LEFT "\xe2\x80\x8e"

uint32_t tl_text_next(const char **p)
{
    const unsigned char *s = (const unsigned char *)*p;
    size_t n = tl_utf8_character(*p, strnlen(*p, 4));
    uint32_t c = n < 2 ? s[0] : s[0] & (0x7Fu >> n);

    for (size_t i = 1; i < n; i++)
        c = c << 6 | (s[i] & 0x3Fu);
    *p += n ? n : 1;
    return n == 0 || (c & 0xFFFE) == 0xFFFE ? 0xFFFD : c;
}

static double char_width(uint32_t c)
{
    if (c < 128) {
        if (strchr("iljI.,:;'|!` ", (int)c))
            return 0.34;
        if (strchr("ftr()[]/-\"", (int)c))
            return 0.43;
        if (strchr("mwMW@%", (int)c))
            return 0.98;
        if (c >= 'A' && c <= 'Z')
            return 0.72;
        return 0.63;
    }
    return c < 0x1100 || (c >= 0x2000 && c < 0x2030) ? 0.7 : 1.05;
}

static bool is_blank(uint32_t c)
{
    return c <= 0x20 || (c >= 0x7F && c <= 0xA0) || c == 0x2028 || c == 0x2029;
}

/* marks that turn the direction of writing, or have no shape */
static bool is_hidden(uint32_t c)
{
    return (c >= 0x200B && c <= 0x200F) || (c >= 0x202A && c <= 0x202E) ||
           (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF;
}

double tl_text_width(const char *utf8)
{
    const char *p = utf8;
    double width = 0;

    while (*p)
        width += char_width(tl_text_next(&p));
    return width;
}

size_t tl_text_clean(const char *in, double width, bool more, char *out, size_t size)
{
    const char *p = in;
    const double dots = char_width(0x2026);
    size_t n = 0, fits = 0, broken = 0, used_at_break = 0;
    double so_far = 0;

    while (*p) {
        const char *at = p;
        uint32_t c = tl_text_next(&p);
        if (is_hidden(c))
            continue;
        if (is_blank(c)) {
            if (n == 0 || out[n - 1] == ' ')
                continue;
            broken = n;
            used_at_break = (size_t)(p - in);
            c = ' ';
        }
        size_t bytes = c == ' ' || c == 0xFFFD ? 1 : (size_t)(p - at);
        if (so_far + char_width(c) > width || n + bytes + 4 >= size) {
            if (more && broken) {
                out[broken] = '\0';
                return used_at_break;
            }
            strcpy(out + fits, more ? "" : "…");
            return more ? (size_t)(at - in) : strlen(in);
        }
        if (bytes == 1)
            out[n] = (char)(c == 0xFFFD ? '?' : c);
        else
            memcpy(out + n, at, bytes);
        n += bytes;
        so_far += char_width(c);
        if (more || so_far + dots <= width)
            fits = n;
    }
    while (n && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
    return (size_t)(p - in);
}

/* Of a script that runs from the right: Hebrew, Arabic and their kin. */
static bool is_from_right(uint32_t c)
{
    return (c >= 0x590 && c < 0x900) || (c >= 0xFB1D && c < 0xFE00) ||
           (c >= 0xFE70 && c < 0xFEFF) || (c >= 0x10800 && c < 0x11000) ||
           (c >= 0x1E800 && c < 0x1F000);
}

static bool has_from_right(const char *utf8)
{
    const char *p = utf8;
    while (*p)
        if (is_from_right(tl_text_next(&p)))
            return true;
    return false;
}

/* gnuplot takes two apostrophes for one inside a string, but loses count where they meet others or
 * the quotes themselves; those are written as the typographic one, which means nothing to it. */
void tl_gnuplot_quote(FILE *f, const char *text, double width)
{
    char clean[1024];

    tl_text_clean(text, width, false, clean, sizeof clean);
    putc('\'', f);
    if (has_from_right(clean))
        fputs(FROM_LEFT, f);
    for (const char *p = clean; *p; p++) {
        if (*p != '\'')
            putc(*p, f);
        else if (p > clean && p[-1] != '\'' && p[1] && p[1] != '\'')
            fputs("''", f);
        else
            fputs("’", f);
    }
    putc('\'', f);
}
