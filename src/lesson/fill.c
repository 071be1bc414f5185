/* Puts the numbers of a run into the text of a lesson. */
#include <math.h>
#include <string.h>

#include "document.h"
#include "lesson.h"
#include "text.h"

int tl_lesson_find(const struct tl_lesson *l, const char *name, size_t length)
{
    for (size_t i = 0; i < l->figures; i++)
        if (strlen(l->figure[i].name) == length && strncmp(l->figure[i].name, name, length) == 0)
            return (int)i;
    return -1;
}

static void add_clock(struct tl_text *out, double day)
{
    const long minutes = lround((day - floor(day)) * 1440) % 1440;
    tl_text_addf(out, "%02ld:%02ld", minutes / 60, minutes % 60);
}

/* The form between ":" and "}"; false when there is no such form. */
static bool add_value(struct tl_text *out, double value, const char *form, size_t length)
{
    const bool digit = length == 1 && *form >= '0' && *form <= '4';
    const bool clock = length == 5 && strncmp(form, "clock", 5) == 0;
    if (!out)
        return length == 0 || digit || clock;
    if (length == 0)
        tl_text_add(out, tl_figure_of(value).text);
    else if (digit)
        tl_text_addf(out, "%.*f", *form - '0', value);
    else if (clock)
        add_clock(out, value);
    return length == 0 || digit || clock;
}

const char *tl_lesson_fill(const struct tl_lesson *l, const double *value, const char *text,
                           struct tl_text *out)
{
    for (;;) {
        const size_t plain = strcspn(text, "{}");
        if (value)
            tl_text_add_bytes(out, text, plain);
        text += plain;
        if (!*text)
            return NULL;
        const char *end = *text == '{' ? strchr(text, '}') : NULL;
        const size_t name = end ? strcspn(text + 1, ":}") : 0;
        const int figure = end ? tl_lesson_find(l, text + 1, name) : -1;
        if (figure < 0)
            return text;
        const char *form = text + 1 + name + (text[1 + name] == ':');
        if (!add_value(value ? out : NULL, value ? value[figure] : 0, form, (size_t)(end - form)) ||
            (text[1 + name] == ':' && form == end))
            return text;
        text = end + 1;
    }
}
