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

bool tl_is_plain_text(const char *text)
{
    size_t left = strlen(text);
    for (size_t n; left > 0; text += n, left -= n) {
        const unsigned char *s = (const unsigned char *)text;
        n = tl_utf8_character(text, left);
        unsigned code = n == 1   ? s[0]
                        : n == 2 ? (s[0] & 0x1fu) << 6 | (s[1] & 0x3fu)
                        : n == 3 ? (s[0] & 0x0fu) << 12 | (s[1] & 0x3fu) << 6 | (s[2] & 0x3fu)
                                 : 0x10000; /* nothing to refuse up there */
        if (n == 0 || code < 0x20 || (code >= 0x7f && code < 0xa0) ||
            (code >= 0x2028 && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069) ||
            code == 0xfeff || code == 0xfffe || code == 0xffff)
            return false;
    }
    return true;
}
