/* Well-formed UTF-8: RFC 3629, section 4 (no overlong forms, no surrogates, at most U+10FFFF). */
#include "text.h"

#include <string.h>

size_t tl_utf8_character(const char *text, size_t left)
{
    const unsigned char *s = (const unsigned char *)text;
    if (left == 0)
        return 0;
    if (s[0] < 0x80)
        return 1;

    size_t n = s[0] >= 0xf0 ? 4 : s[0] >= 0xe0 ? 3 : 2;
    if (s[0] < 0xc2 || s[0] > 0xf4 || left < n)
        return 0;
    for (size_t i = 1; i < n; i++)
        if ((s[i] & 0xc0) != 0x80)
            return 0;
    if ((s[0] == 0xe0 && s[1] < 0xa0) || (s[0] == 0xed && s[1] > 0x9f) ||
        (s[0] == 0xf0 && s[1] < 0x90) || (s[0] == 0xf4 && s[1] > 0x8f))
        return 0;
    return n;
}

size_t tl_utf8_fault(const char *text, size_t length)
{
    size_t i = 0;
    while (i < length) {
        size_t n = tl_utf8_character(text + i, length - i);
        if (n == 0)
            break;
        i += n;
    }
    return i;
}

size_t tl_utf8_cut(const char *text, size_t max)
{
    size_t n = 0;
    while (n < max && text[n])
        n++;
    if (text[n])
        while (n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80)
            n--;
    return n;
}

unsigned tl_utf8_code(const char *text, size_t bytes)
{
    const unsigned char *s = (const unsigned char *)text;
    return bytes == 1   ? s[0]
           : bytes == 2 ? (s[0] & 0x1fu) << 6 | (s[1] & 0x3fu)
           : bytes == 3
               ? (s[0] & 0x0fu) << 12 | (s[1] & 0x3fu) << 6 | (s[2] & 0x3fu)
               : (s[0] & 0x07u) << 18 | (s[1] & 0x3fu) << 12 | (s[2] & 0x3fu) << 6 | (s[3] & 0x3fu);
}

struct span {
    unsigned first, last;
};

/* Blocks of marks that are written over what stands before them, and of nothing that is seen. */
static const struct span none_wide[] = {
    {0x0300, 0x036f}, {0x0483, 0x0489}, {0x0591, 0x05bd},   {0x0610, 0x061a}, {0x064b, 0x065f},
    {0x1ab0, 0x1aff}, {0x1dc0, 0x1dff}, {0x200b, 0x200f},   {0x20d0, 0x20ff}, {0x3099, 0x309a},
    {0xfe00, 0xfe0f}, {0xfe20, 0xfe2f}, {0xe0100, 0xe01ef},
};

/* Blocks of the classes W and F: Unicode Standard Annex 11, by its blocks and from memory. */
static const struct span twice_wide[] = {
    {0x1100, 0x115f},   {0x231a, 0x231b},   {0x2e80, 0x303e},   {0x3041, 0x4dbf},
    {0x4e00, 0xa4cf},   {0xa960, 0xa97f},   {0xac00, 0xd7a3},   {0xf900, 0xfaff},
    {0xfe30, 0xfe6f},   {0xff01, 0xff60},   {0xffe0, 0xffe6},   {0x16fe0, 0x18aff},
    {0x1b000, 0x1b2ff}, {0x1f300, 0x1f64f}, {0x1f680, 0x1f6ff}, {0x1f900, 0x1f9ff},
    {0x20000, 0x3fffd},
};

static bool lies_in(unsigned code, const struct span *span, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (code >= span[i].first && code <= span[i].last)
            return true;
    return false;
}

size_t tl_utf8_columns(const char *text, size_t bytes)
{
    const unsigned code = tl_utf8_code(text, bytes);
    if (lies_in(code, none_wide, sizeof none_wide / sizeof *none_wide))
        return 0;
    return lies_in(code, twice_wide, sizeof twice_wide / sizeof *twice_wide) ? 2 : 1;
}

size_t tl_utf8_width(const char *text)
{
    size_t columns = 0;
    for (size_t left = strlen(text); left > 0;) {
        const size_t n = tl_utf8_character(text, left);
        columns += n ? tl_utf8_columns(text, n) : 1;
        text += n ? n : 1;
        left -= n ? n : 1;
    }
    return columns;
}

bool tl_is_plain_character(unsigned code)
{
    return !(code < 0x20 || (code >= 0x7f && code < 0xa0) || (code >= 0x2028 && code <= 0x202e) ||
             (code >= 0x2066 && code <= 0x2069) || code == 0xfeff || code == 0xfffe ||
             code == 0xffff);
}

bool tl_is_plain_text(const char *text)
{
    size_t left = strlen(text);
    for (size_t n; left > 0; text += n, left -= n) {
        n = tl_utf8_character(text, left);
        if (n == 0 || !tl_is_plain_character(tl_utf8_code(text, n)))
            return false;
    }
    return true;
}
