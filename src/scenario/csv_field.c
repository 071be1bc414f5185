/* Takes a line of CSV apart. */
#include "csv_field.h"

#include <math.h>
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

size_t tl_csv_quote_fault(const char *s, const char **what)
{
    const char *line = s;
    while (*s && *s != '\n') {
        while (is_blank(*s))
            s++;
        const char *open = s;
        if (*s == '"') {
            for (s++; *s && *s != '\n' && (*s != '"' || s[1] == '"'); s++)
                s += *s == '"';
            *what = "the quotation mark is not closed in this line";
            if (*s != '"')
                return (size_t)(open - line) + 1;
            s++;
            while (is_blank(*s))
                s++;
            *what = "text behind the closing quotation mark";
            if (*s && *s != '\n' && *s != ',')
                return (size_t)(s - line) + 1;
        }
        s += strcspn(s, ",\"\n");
        *what = "a quotation mark inside a field";
        if (*s == '"')
            return (size_t)(s - line) + 1;
        s += *s == ',';
    }
    return 0;
}

bool tl_csv_same_time(double iso_d, double time_d)
{
    return fabs(iso_d - time_d) <= 0.01; /* two decimals of a day */
}
