/* Chances out of JSON in a table. */
#include "chance_cell.h"

bool tl_chance_read(const json_t *chance, struct tl_chance *out)
{
    json_int_t runs = 0, of = 0;
    *out = (struct tl_chance){.high = 1};
    if (json_unpack((json_t *)chance, "{s:I, s:I, s:F, s:F}", "runs", &runs, "of", &of, "low",
                    &out->low, "high", &out->high) != 0 ||
        runs < 0 || of < runs)
        return false;
    out->runs = (size_t)runs;
    out->of = (size_t)of;
    return of > 0;
}

void tl_chance_cell(struct tl_html *h, const json_t *chance, const char *class)
{
    struct tl_chance c;
    char text[TL_CHANCE_SIZE] = "-";
    if (tl_chance_read(chance, &c))
        tl_chance_short(&c, text);
    tl_html_classed(h, "td", c.runs > 0 && class ? class : "number", text);
}
