/* The emergency card as a page: black on white, one sheet of A4 or Letter. */
#include <stdio.h>

#include "card.h"
#include "card_css.h"
#include "own_file.h"
#include "page_file.h"

/* As of the report: nothing is fetched, run or sent. */
#define POLICY                                                                                     \
    "default-src 'none'; style-src '" TL_CARD_CSS_DIGEST "'; base-uri 'none'; form-action 'none'"

static const struct {
    const char *name, *heading;
    size_t columns;
} part_row[TL_NCARD_PART] = {
#define ROW(id, name, heading, columns) [id] = {name, heading, columns},
    TL_CARD_PART_LIST(ROW)
#undef ROW
};

const char *tl_card_heading(enum tl_card_part_id id)
{
    return part_row[id].heading;
}

size_t tl_card_columns(enum tl_card_part_id id)
{
    return part_row[id].columns;
}

void tl_card_free(struct tl_card *c)
{
    for (size_t p = 0; p < TL_NCARD_PART; p++) {
        tl_text_free(&c->part[p].note);
        for (size_t i = 0; i < TL_CARD_ROWS; i++)
            for (size_t k = 0; k < TL_CARD_COLUMNS; k++)
                tl_text_free(&c->part[p].cell[i][k]);
    }
    tl_text_free(&c->loop);
}

static void meta(struct tl_html *h, const char *key, const char *name, const char *content)
{
    tl_html_void(h, "meta");
    tl_html_attribute(h, key, name);
    if (content)
        tl_html_attribute(h, "content", content);
    tl_html_void_end(h);
}

static void head(struct tl_html *h, const char *title)
{
    tl_html_open(h, "head");
    meta(h, "charset", "utf-8", NULL);
    meta(h, "name", TL_OWN_PAGE_NAME, TL_OWN_PAGE_MARK);
    meta(h, "http-equiv", "Content-Security-Policy", POLICY);
    meta(h, "name", "viewport", "width=device-width, initial-scale=1");
    meta(h, "name", "color-scheme", "light");
    meta(h, "name", "referrer", "no-referrer");
    tl_html_open(h, "title");
    tl_html_textf(h, "%s - emergency card", title);
    tl_html_close(h);
    tl_html_style(h, tl_card_css);
    tl_html_close(h);
}

static void lines(struct tl_html *h, const struct tl_card_part *p)
{
    tl_html_open(h, "ul");
    for (size_t i = 0; i < p->rows; i++)
        tl_html_element(h, "li", tl_text_string(&p->cell[i][0]));
    tl_html_close(h);
}

static void cell(struct tl_html *h, const char *scope, const struct tl_text *text)
{
    tl_html_open(h, scope ? "th" : "td");
    if (scope)
        tl_html_attribute(h, "scope", scope);
    tl_html_text(h, tl_text_string(text));
    tl_html_close(h);
}

static void table(struct tl_html *h, enum tl_card_part_id id, const struct tl_card_part *p)
{
    tl_html_open(h, "table");
    tl_html_attribute(h, "aria-labelledby", part_row[id].name);
    for (size_t i = 0; i < p->rows; i++) {
        const bool top = id == TL_CARD_TIMES && i == 0;
        tl_html_open(h, "tr");
        for (size_t k = 0; k < part_row[id].columns; k++)
            cell(h, top ? "col" : k == 0 ? "row" : NULL, &p->cell[i][k]);
        tl_html_close(h);
    }
    tl_html_close(h);
}

static void part(struct tl_html *h, const struct tl_card *c, enum tl_card_part_id id)
{
    const struct tl_card_part *p = &c->part[id];
    tl_html_open(h, "section");
    tl_html_attribute(h, "class", part_row[id].name);
    tl_html_open(h, "h2");
    tl_html_attribute(h, "id", part_row[id].name);
    tl_html_text(h, part_row[id].heading);
    tl_html_close(h);
    if (part_row[id].columns == 1)
        lines(h, p);
    else
        table(h, id, p);
    if (p->note.length > 0)
        tl_html_classed(h, "p", "note", tl_text_string(&p->note));
    tl_html_close(h);
}

static void blanks(struct tl_html *h)
{
    static const char *const label[] = {
#define LABEL(text) text,
        TL_CARD_BLANK_LIST(LABEL)
#undef LABEL
    };
    tl_html_open(h, "section");
    tl_html_attribute(h, "class", "blanks");
    for (size_t i = 0; i < sizeof label / sizeof *label; i++) {
        tl_html_open(h, "p");
        tl_html_textf(h, "%s:", label[i]);
        tl_html_close(h);
    }
    tl_html_close(h);
}

int tl_card_page(const struct tl_card *c, const char *path)
{
    struct tl_html h = {.depth = 0};
    char why[1]; /* errno says the same */
    tl_html_begin(&h);
    tl_html_open(&h, "html");
    tl_html_attribute(&h, "lang", "en");
    head(&h, c->title);
    tl_html_open(&h, "body");
    tl_html_open(&h, "main");
    tl_html_open(&h, "h1");
    tl_html_text(&h, "Emergency: ");
    tl_html_element(&h, "bdi", c->title);
    tl_html_close(&h);
    tl_html_classed(&h, "p", "loop", tl_text_string(&c->loop));
    for (enum tl_card_part_id id = 0; id < TL_CARD_BASIS; id++)
        part(&h, c, id);
    blanks(&h);
    part(&h, c, TL_CARD_BASIS);
    tl_html_close(&h);
    tl_html_close(&h);
    tl_html_close(&h);
    const int status = tl_page_file_write(&h, path, why, sizeof why);
    tl_html_free(&h);
    return status;
}
