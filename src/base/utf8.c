/* Well-formed UTF-8: RFC 3629, section 4 (no overlong forms, no surrogates, at most U+10FFFF). */
#include "text.h"

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
