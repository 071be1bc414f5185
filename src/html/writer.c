/* Writes HTML element by element. */
#include "writer.h"

#include <string.h>

static void end_tag(struct tl_html *h)
{
    if (h->in_tag)
        tl_text_add(&h->out, ">");
    h->in_tag = false;
}

/* --- escaping ----------------------------------------------------------------------------------- */

static const char replacement[] = "\xef\xbf\xbd"; /* U+FFFD */

/* Marks that turn the direction of what follows, outside of the element they stand in, and what is no
 * character of HTML: C0 and C1 controls but tab and line feed, noncharacters, U+FEFF. */
static bool is_banned(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
    if (n == 1)
        return (u[0] < 0x20 && u[0] != '\n' && u[0] != '\t') || u[0] == 0x7f;
    if (n == 2) /* U+0080..9F, U+061C */
        return (u[0] == 0xc2 && u[1] < 0xa0) || (u[0] == 0xd8 && u[1] == 0x9c);
    if (n == 3) /* U+200E, 200F, 2028..202E, 2066..2069, FEFF, FFFE, FFFF */
        return (u[0] == 0xe2 && u[1] == 0x80 &&
                (u[2] == 0x8e || u[2] == 0x8f || (u[2] >= 0xa8 && u[2] <= 0xae))) ||
               (u[0] == 0xe2 && u[1] == 0x81 && u[2] >= 0xa6 && u[2] <= 0xa9) ||
               (u[0] == 0xef && u[1] == 0xbb && u[2] == 0xbf) ||
               (u[0] == 0xef && u[1] == 0xbf && u[2] >= 0xbe);
    return false;
}

static const char *entity_for(char c)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

static void add_escaped(struct tl_text *t, const char *text, size_t left)
{
    while (left > 0) {
        const size_t n = tl_utf8_character(text, left);
        const char *entity = n == 1 ? entity_for(*text) : NULL;
        if (n == 0 || is_banned(text, n))
            tl_text_add(t, replacement);
        else if (entity)
            tl_text_add(t, entity);
        else
            tl_text_add_bytes(t, text, n);
        text += n ? n : 1;
        left -= n ? n : 1;
    }
}

/* --- elements ----------------------------------------------------------------------------------- */

void tl_html_begin(struct tl_html *h)
{
    tl_text_add(&h->out, "<!DOCTYPE html>\n");
}

void tl_html_open(struct tl_html *h, const char *tag)
{
    if (h->depth == TL_HTML_DEPTH) {
        h->wrong = true;
        return;
    }
    h->open[h->depth++] = (struct tl_html_open){tag, h->out.length, h->in_tag};
    end_tag(h);
    tl_text_add(&h->out, "<");
    tl_text_add(&h->out, tag);
    h->in_tag = true;
}

void tl_html_attribute(struct tl_html *h, const char *name, const char *value)
{
    if (!h->in_tag) {
        h->wrong = true;
        return;
    }
    tl_text_add(&h->out, " ");
    tl_text_add(&h->out, name);
    tl_text_add(&h->out, "=\"");
    if (value)
        add_escaped(&h->out, value, strlen(value));
    tl_text_add(&h->out, "\"");
}

void tl_html_attributef(struct tl_html *h, const char *name, const char *format, ...)
{
    struct tl_text value = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&value, format, args);
    va_end(args);
    tl_html_attribute(h, name, tl_text_string(&value));
    h->out.failed = h->out.failed || value.failed;
    tl_text_free(&value);
}

void tl_html_bytes(struct tl_html *h, const char *text, size_t n)
{
    end_tag(h);
    add_escaped(&h->out, text, n);
}

void tl_html_text(struct tl_html *h, const char *text)
{
    tl_html_bytes(h, text, strlen(text));
}

void tl_html_textf(struct tl_html *h, const char *format, ...)
{
    struct tl_text text = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&text, format, args);
    va_end(args);
    tl_html_text(h, tl_text_string(&text));
    h->out.failed = h->out.failed || text.failed;
    tl_text_free(&text);
}

/* Elements that stand in lines: a line feed behind them would be seen as a blank. */
static bool is_inline(const char *tag)
{
    static const char *const inlines[] = {"a",     "abbr", "b",    "bdi", "code",
                                          "small", "span", "time", "pre", "tspan"};
    for (size_t i = 0; i < sizeof inlines / sizeof *inlines; i++)
        if (strcmp(tag, inlines[i]) == 0)
            return true;
    return false;
}

void tl_html_close(struct tl_html *h)
{
    end_tag(h);
    if (h->depth == 0) {
        h->wrong = true;
        return;
    }
    const char *tag = h->open[--h->depth].tag;
    tl_text_add(&h->out, "</");
    tl_text_add(&h->out, tag);
    tl_text_add(&h->out, is_inline(tag) ? ">" : ">\n");
}

void tl_html_close_or_drop(struct tl_html *h)
{
    if (!h->in_tag || h->depth == 0 || h->out.failed) {
        tl_html_close(h);
        return;
    }
    const struct tl_html_open *dropped = &h->open[--h->depth];
    h->out.length = dropped->from;
    h->out.data[h->out.length] = '\0';
    h->in_tag = dropped->in_parent;
}

void tl_html_void(struct tl_html *h, const char *tag)
{
    tl_html_open(h, tag);
}

void tl_html_void_end(struct tl_html *h)
{
    end_tag(h);
    if (h->depth == 0)
        h->wrong = true;
    else
        h->depth--;
}

void tl_html_element(struct tl_html *h, const char *tag, const char *text)
{
    tl_html_open(h, tag);
    tl_html_text(h, text);
    tl_html_close(h);
}

void tl_html_classed(struct tl_html *h, const char *tag, const char *class_name, const char *text)
{
    tl_html_open(h, tag);
    tl_html_attribute(h, "class", class_name);
    tl_html_text(h, text);
    tl_html_close(h);
}

void tl_html_users(struct tl_html *h, const char *tag, const char *text)
{
    tl_html_open(h, tag);
    tl_html_element(h, "bdi", text);
    tl_html_close(h);
}

void tl_html_style(struct tl_html *h, const char *css)
{
    tl_html_open(h, "style");
    end_tag(h);
    tl_text_add(&h->out, css);
    tl_html_close(h);
}

bool tl_html_whole(const struct tl_html *h)
{
    return h->depth == 0 && !h->wrong && !h->out.failed;
}

void tl_html_free(struct tl_html *h)
{
    tl_text_free(&h->out);
    *h = (struct tl_html){.depth = 0};
}
