/* Breaks text into lines that fit a terminal. Widths count characters, not bytes. */
#include "page.h"

#include <stdbool.h>
#include <string.h>

/* Bytes of the character at `s`, and the columns it takes; at least one, so that a line of marks that take
 * none has an end, too. */
static size_t character(const char *s, int *columns)
{
    const size_t n = tl_utf8_character(s, strnlen(s, 4));
    *columns = n > 0 && tl_utf8_columns(s, n) == 2 ? 2 : 1;
    return n > 0 ? n : 1;
}

static bool is_control(const char *s)
{
    const unsigned char *u = (const unsigned char *)s;
    return *u < 0x20 || *u == 0x7f || (*u == 0xc2 && u[1] >= 0x80 && u[1] < 0xa0);
}

/* The next line of `text` from `*at`: its bytes, without the blank it was broken at. */
static size_t line_bytes(const char *text, int room, size_t *skip)
{
    size_t at = 0, blank = 0;
    int used = 0;
    *skip = 0;
    while (text[at]) {
        int columns;
        size_t n = character(text + at, &columns);
        if (text[at] == ' ')
            blank = at;
        if (used + columns > room) {
            if (blank == 0)
                return at; /* one word longer than a line */
            *skip = 1;
            return blank;
        }
        used += columns;
        at += n;
    }
    return at;
}

static int most_lines(const struct tl_page *p)
{
    return p->most > 0 && p->most < TL_PAGE_LINES ? p->most : TL_PAGE_LINES;
}

void tl_page_wrap(struct tl_page *p, int max_lines, int indent, const char *text)
{
    for (int i = 0; i < max_lines && *text && p->lines < most_lines(p); i++) {
        int lead = i == 0 ? 0 : indent;
        size_t skip;
        size_t n = line_bytes(text, TL_PAGE_COLUMNS - lead, &skip);
        bool cut = i + 1 == max_lines && text[n + skip];
        if (cut)
            n = line_bytes(text, TL_PAGE_COLUMNS - lead - 4, &skip);

        char *to = p->line[p->lines++];
        memset(to, ' ', (size_t)lead);
        to += lead;
        for (size_t k = 0; k < n;) {
            int columns;
            size_t bytes = character(text + k, &columns);
            if (is_control(text + k))
                *to++ = '?';
            else {
                memcpy(to, text + k, bytes);
                to += bytes;
            }
            k += bytes;
        }
        strcpy(to, cut ? " ..." : "");
        text += n + skip;
    }
}

void tl_page_put(struct tl_page *p, int max_lines, int indent, struct tl_text *text)
{
    p->failed = p->failed || text->failed;
    tl_page_wrap(p, max_lines, indent, tl_text_string(text));
    tl_text_free(text);
    *text = (struct tl_text){0};
}

int tl_page_lines_of(int indent, const char *text)
{
    int lines = 0;
    for (size_t skip; *text && lines < TL_PAGE_LINES; lines++)
        text += line_bytes(text, TL_PAGE_COLUMNS - (lines > 0 ? indent : 0), &skip) + skip;
    return lines;
}

void tl_page_put_whole(struct tl_page *p, int usual, int indent, struct tl_text *text)
{
    const int lines = tl_page_lines_of(indent, tl_text_string(text));
    if (p->most > 0 && lines > usual)
        p->most += lines - usual;
    tl_page_put(p, lines, indent, text);
}

void tl_page_blank(struct tl_page *p)
{
    if (p->lines < most_lines(p))
        p->line[p->lines++][0] = '\0';
}

void tl_page_print(const struct tl_page *p, FILE *f)
{
    for (int i = 0; i < p->lines; i++) {
        fputs(p->line[i], f);
        fputc('\n', f);
    }
}
