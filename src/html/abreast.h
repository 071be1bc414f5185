/* Variants side by side in tables; more than paper holds go into the next table. */
#ifndef TL_HTML_ABREAST_H
#define TL_HTML_ABREAST_H

#include "compare_data.h"
#include "document.h"
#include "report_page.h"

enum { TL_ABREAST = 5 };

/* One behind the last variant of the table that begins with `from`. */
size_t tl_abreast_end(const struct tl_compare_data *d, size_t from);
/* Begins the table whose first variant is `from`: caption and heads; rows follow. */
void tl_abreast_begin(struct tl_html *h, const struct tl_compare_data *d, const char *name,
                      const char *caption, size_t from);
/* Heads of columns: `first`, then the names from..to. The body begins. */
void tl_abreast_heads(struct tl_html *h, const struct tl_compare_data *d, const char *first,
                      size_t from, size_t to);

/* In what the variants differ, in words. TL_OK or TL_E_MEMORY. */
int tl_compare_differences(struct tl_html *h, const struct tl_report *r,
                           const struct tl_compare_data *d);

#endif
