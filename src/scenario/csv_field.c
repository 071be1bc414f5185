/* Takes a line of CSV apart. */
#include "csv_field.h"

#include <stdbool.h>
#include <string.h>

#include "text.h"

static bool is_blank(char ch)
{
    return ch == ' ' || ch == '\t' || ch == '\r';
}

const char *tl_csv_field(const char *s, char *field, size_t size)
{
    size_t n = 0;
    while (is_blank(*s))
        s++;
    const bool quoted = *s == '"';
    s += quoted;
    while (*s && *s != '\n' && (quoted || *s != ',')) {
        if (quoted && *s == '"' && s[1] != '"') {
            s += 1 + strcspn(s + 1, ",\n");
            break;
        }
        s += quoted && *s == '"'; /* a doubled mark stands for one */
        if (n < size - 1)
            field[n++] = *s;
        s++;
    }
    while (n > 0 && is_blank(field[n - 1]))
        n--;
    field[n] = '\0';
    field[tl_utf8_cut(field, size - 2)] = '\0';
    return *s == ',' ? s + 1 : NULL;
}
