/* Variants side by side in tables. */
#include "abreast.h"

size_t tl_abreast_end(const struct tl_compare_data *d, size_t from)
{
    return from + TL_ABREAST < d->variants ? from + TL_ABREAST : d->variants;
}

void tl_abreast_heads(struct tl_html *h, const struct tl_compare_data *d, const char *first,
                      size_t from, size_t to)
{
    tl_html_open(h, "thead");
    tl_html_open(h, "tr");
    tl_html_open(h, *first ? "th" : "td");
    if (*first)
        tl_html_attribute(h, "scope", "col");
    tl_html_text(h, first);
    tl_html_close(h);
    for (size_t i = from; i < to; i++) {
        tl_html_open(h, "th");
        tl_html_attribute(h, "scope", "col");
        tl_html_element(h, "bdi", d->variant[i].name);
        tl_html_close(h);
    }
    tl_html_close(h);
    tl_html_close(h);
    tl_html_open(h, "tbody");
}

void tl_abreast_begin(struct tl_html *h, const struct tl_compare_data *d, const char *name,
                      const char *caption, size_t from)
{
    char id[64], text[200];
    const size_t to = tl_abreast_end(d, from);
    tl_format(id, sizeof id, "%s-%zu", name, from + 1);
    tl_format(text, sizeof text, "%s, variants %zu to %zu of %zu", caption, from + 1, to,
              d->variants);
    tl_table_begin(h, id, d->variants > TL_ABREAST ? text : caption);
    tl_abreast_heads(h, d, "", from, to);
}
