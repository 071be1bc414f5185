/* Writes HTML element by element: every text and every value of an attribute is escaped on its way, so
 * nothing that a scenario says can become markup. */
#ifndef TL_HTML_WRITER_H
#define TL_HTML_WRITER_H

#include <stdbool.h>
#include <stddef.h>

#include "text.h"

enum { TL_HTML_DEPTH = 64 };

/* All zero is an empty page. */
struct tl_html {
    struct tl_text out;
    struct tl_html_open {
        const char *tag;
        size_t from;    /* how long the page was before it */
        bool in_parent; /* and whether its parent's start tag still took attributes */
    } open[TL_HTML_DEPTH];
    size_t depth;
    bool in_tag; /* a start tag still takes attributes */
    bool wrong;  /* closed more than was open, or too deep: a fault of the program */
};

/* "<!DOCTYPE html>" */
void tl_html_begin(struct tl_html *h);
/* Start an element; `tag` is static. Attributes follow, then what it holds. */
void tl_html_open(struct tl_html *h, const char *tag);
/* An attribute of the element just started. NULL: it has no value. */
void tl_html_attribute(struct tl_html *h, const char *name, const char *value);
void tl_html_attributef(struct tl_html *h, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void tl_html_text(struct tl_html *h, const char *text);
void tl_html_textf(struct tl_html *h, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* So many bytes, which need no NUL behind them. */
void tl_html_bytes(struct tl_html *h, const char *text, size_t n);
/* End the innermost element. */
void tl_html_close(struct tl_html *h);
/* Take the innermost element back if there is nothing in it, else end it. */
void tl_html_close_or_drop(struct tl_html *h);
/* An element that never holds anything: meta, br. */
void tl_html_void(struct tl_html *h, const char *tag);
/* End the void element. */
void tl_html_void_end(struct tl_html *h);

/* <tag>text</tag>, and with a class */
void tl_html_element(struct tl_html *h, const char *tag, const char *text);
void tl_html_classed(struct tl_html *h, const char *tag, const char *class_name, const char *text);
/* <tag><bdi>text</bdi></tag>: words of the user, whose direction stays their own. */
void tl_html_users(struct tl_html *h, const char *tag, const char *text);

/* Our own style sheet, as it is. */
void tl_html_style(struct tl_html *h, const char *css);

/* Whether the page is whole: all that was opened is closed, and memory was enough. */
bool tl_html_whole(const struct tl_html *h);
void tl_html_free(struct tl_html *h);

#endif
