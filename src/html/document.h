/* What every page is made of: head, contents, sections, tables, foot. */
#ifndef TL_HTML_DOCUMENT_H
#define TL_HTML_DOCUMENT_H

#include "towerloop/units.h"
#include "writer.h"

struct tl_document_part {
    const char *id, *heading; /* static */
};

/* What the pages of one kind call themselves. */
struct tl_document_kind {
    const char *name;     /* "report"; the class of the main part, too */
    const char *skip;     /* "Skip to the answer" */
    const char *on_paper; /* what is not printed, and where it stands */
};
extern const struct tl_document_kind tl_document_report;

/* Head, skip link, title, `lead` below it, contents of `n` parts; then the main part begins. `title` is the
 * user's. */
void tl_document_begin_as(struct tl_html *h, const struct tl_document_kind *kind, const char *title,
                          const char *lead, const struct tl_document_part *part, size_t n);
/* Ends the main part; "version" and "commit" say what made the page. */
void tl_document_end_as(struct tl_html *h, const struct tl_document_kind *kind, const char *version,
                        const char *commit);
/* The same of a report. */
void tl_document_begin(struct tl_html *h, const char *title, const char *lead,
                       const struct tl_document_part *part, size_t n);
void tl_document_end(struct tl_html *h, const char *version, const char *commit);

void tl_document_section(struct tl_html *h, const struct tl_document_part *part);

/* A table that scrolls by itself where it is wider than the screen; `id` is its caption's. A head of columns
 * and rows of cells follow. */
void tl_table_begin(struct tl_html *h, const char *id, const char *caption);
void tl_table_head(struct tl_html *h, const char *const *heading, size_t n);
void tl_table_end(struct tl_html *h);
/* <tr><th scope="row">; the row is closed by tl_html_close(). */
void tl_table_row(struct tl_html *h, const char *heading);
/* A cell with a number, or "-" where there is none. */
void tl_table_number(struct tl_html *h, double value);

/* "0.0604": three digits, large numbers written out, "-" for none. */
struct tl_figure {
    char text[64];
};
struct tl_figure tl_figure_of(double value);

/* "12 m3" in the reader's units */
struct tl_figure tl_figure_with_unit(enum tl_dim dim, enum tl_unit_system units, double base);

#endif
