/* A short page of text for the terminal: lines of bounded width, collected, then printed. */
#ifndef TL_PAGE_H
#define TL_PAGE_H

#include <stdbool.h>
#include <stdio.h>

#include "text.h"

#define TL_PAGE_COLUMNS 80
#define TL_PAGE_LINES   80
#define TL_LINE_BYTES   (4 * TL_PAGE_COLUMNS + 1)

struct tl_page {
    char line[TL_PAGE_LINES][TL_LINE_BYTES];
    int lines;
    int most;      /* at most so many of them; 0: TL_PAGE_LINES */
    bool left_out; /* something found no room; kept by whoever fills the page */
    bool failed;   /* a text put here lacked memory for some of it */
};

/* Append `text` broken at blanks into at most `max_lines` lines; lines after the first start with
 * `indent` blanks. What does not fit ends in "...". Control characters become '?'. */
void tl_page_wrap(struct tl_page *p, int max_lines, int indent, const char *text);
/* The same, and empties the text. */
void tl_page_put(struct tl_page *p, int max_lines, int indent, struct tl_text *text);
/* The same, never cut: lines above the `usual` ones make the page longer by as many. For sentences that somebody
 * may act on. */
void tl_page_put_whole(struct tl_page *p, int usual, int indent, struct tl_text *text);
/* How many lines a text takes. */
int tl_page_lines_of(int indent, const char *text);
void tl_page_blank(struct tl_page *p);
void tl_page_print(const struct tl_page *p, FILE *f);

#endif
