/* In what variants differ: what is said of each, compared label by label. */
#include <string.h>

#include "abreast.h"
#include "text.h"
#include "towerloop/status.h"

#define BUILD_SHEET "Build sheet" /* it has a table of its own */

/* All that is said under a label, "" where it does not stand. */
static void gather(const struct tl_told *told, const char *label, struct tl_text *out)
{
    bool under = false;
    for (size_t i = 0; i < told->lines; i++) {
        const struct tl_asked *line = &told->line[i];
        under = *line->label ? strcmp(line->label, label) == 0 : under;
        if (under)
            tl_text_addf(out, "%s%s", out->length > 0 ? "; " : "", line->text);
    }
}

static bool differs(const struct tl_report *r, size_t variants, const char *label, bool *failed)
{
    struct tl_text first = {0};
    bool found = false;
    gather(&r->told[0], label, &first);
    for (size_t i = 1; i < variants && !found; i++) {
        struct tl_text other = {0};
        gather(&r->told[i], label, &other);
        found = strcmp(tl_text_string(&first), tl_text_string(&other)) != 0;
        *failed = *failed || other.failed;
        tl_text_free(&other);
    }
    *failed = *failed || first.failed;
    tl_text_free(&first);
    return found;
}

/* Whether the label stands in one of the variants before. */
static bool is_known(const struct tl_report *r, size_t variant, const char *label)
{
    for (size_t i = 0; i < variant; i++)
        for (size_t k = 0; k < r->told[i].lines; k++)
            if (strcmp(r->told[i].line[k].label, label) == 0)
                return true;
    return false;
}

static void add_row(struct tl_html *h, const struct tl_report *r, const char *label, size_t from,
                    size_t to)
{
    tl_table_row(h, label);
    for (size_t i = from; i < to; i++) {
        struct tl_text text = {0};
        gather(&r->told[i], label, &text);
        tl_html_users(h, "td", text.length > 0 ? tl_text_string(&text) : "-");
        h->out.failed = h->out.failed || text.failed;
        tl_text_free(&text);
    }
    tl_html_close(h);
}

int tl_compare_differences(struct tl_html *h, const struct tl_report *r,
                           const struct tl_compare_data *d)
{
    bool failed = false;
    for (size_t from = 0; from < d->variants; from = tl_abreast_end(d, from)) {
        tl_abreast_begin(h, d, "differ", "In what the variants differ", from);
        for (size_t i = 0; i < d->variants; i++)
            for (size_t k = 0; k < r->told[i].lines; k++) {
                const char *label = r->told[i].line[k].label;
                if (*label && strcmp(label, BUILD_SHEET) != 0 && !is_known(r, i, label) &&
                    differs(r, d->variants, label, &failed))
                    add_row(h, r, label, from, tl_abreast_end(d, from));
            }
        tl_table_end(h);
    }
    return failed ? TL_E_MEMORY : TL_OK;
}
