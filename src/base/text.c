/* A growable string, and formatting and number reading in the C locale. */
#include "text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "posix.h"

struct tl_text tl_text_over(char *buffer, size_t size)
{
    *buffer = '\0';
    return (struct tl_text){.data = buffer, .capacity = size, .lent = true};
}

static bool reserve(struct tl_text *t, size_t more)
{
    if (t->failed)
        return false;
    if (t->data && more < t->capacity - t->length)
        return true;

    size_t capacity = 2 * (t->length + more) + 32;
    char *data = capacity > more && !t->lent ? realloc(t->data, capacity) : NULL;
    if (!data) {
        t->failed = true;
        return false;
    }
    t->data = data;
    t->capacity = capacity;
    return true;
}

void tl_text_add_bytes(struct tl_text *t, const char *bytes, size_t n)
{
    if (!reserve(t, n))
        return;
    if (n > 0)
        memcpy(t->data + t->length, bytes, n);
    t->length += n;
    t->data[t->length] = '\0';
}

void tl_text_add(struct tl_text *t, const char *s)
{
    tl_text_add_bytes(t, s, strlen(s));
}

void tl_text_add_text(struct tl_text *t, int room, const struct tl_text *more)
{
    tl_text_addf(t, "%*s", room, tl_text_string(more));
    t->failed = t->failed || more->failed;
}

static int format_c(char *buffer, size_t size, const char *format, va_list args)
    __attribute__((format(printf, 3, 0)));

static int format_c(char *buffer, size_t size, const char *format, va_list args)
{
    struct tl_posix_locale locale;
    if (!tl_posix_plain_begin(&locale))
        return -1;
    int n = vsnprintf(buffer, size, format, args);
    tl_posix_plain_end(&locale);
    return n;
}

void tl_text_addv(struct tl_text *t, const char *format, va_list args)
{
    va_list again;
    va_copy(again, args);
    int n = format_c(NULL, 0, format, args);
    if (n < 0)
        t->failed = true;
    else if (reserve(t, (size_t)n)) {
        format_c(t->data + t->length, (size_t)n + 1, format, again);
        t->length += (size_t)n;
    }
    va_end(again);
}

void tl_text_addf(struct tl_text *t, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    tl_text_addv(t, format, args);
    va_end(args);
}

void tl_text_add_visible(struct tl_text *t, const char *s)
{
    size_t length = strlen(s);
    for (size_t i = 0, n; i < length; i += n) {
        n = tl_utf8_character(s + i, length - i);
        const unsigned code = n > 0 ? tl_utf8_code(s + i, n) : (unsigned char)s[i];
        if (n > 0 && tl_is_plain_character(code))
            tl_text_add_bytes(t, s + i, n);
        else if (code == '\n')
            tl_text_add(t, "\\n");
        else
            tl_text_addf(t, code < 0x100 ? "\\x%02x" : "\\u%04x", code);
        if (n == 0)
            n = 1;
    }
}

/* The letters are those that the Open Web Application Security Project lists under "CSV injection" (as of memory). */
void tl_text_add_cell(struct tl_text *t, const char *words)
{
    tl_text_add(t, *words && strchr("=+-@\t\r", *words) ? "\"'" : "\"");
    for (; *words; words++)
        tl_text_add_bytes(t, *words == '"' ? "\"\"" : words, *words == '"' ? 2 : 1);
    tl_text_add(t, "\"");
}

bool tl_text_is_empty(const struct tl_text *t)
{
    return t->length == 0 && !t->failed;
}

const char *tl_text_string(const struct tl_text *t)
{
    return t->data ? t->data : "";
}

void tl_text_free(struct tl_text *t)
{
    if (!t->lent)
        free(t->data);
    *t = (struct tl_text){0};
}

int tl_format(char *buffer, size_t size, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    int n = format_c(buffer, size, format, args);
    va_end(args);
    return n;
}

double tl_strtod(const char *text, char **end)
{
    struct tl_posix_locale locale;
    if (!tl_posix_plain_begin(&locale)) {
        *end = (char *)text;
        return NAN;
    }
    double value = strtod(text, end);
    tl_posix_plain_end(&locale);
    return value;
}
