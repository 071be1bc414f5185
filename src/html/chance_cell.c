/* Chances out of JSON in a table. */
#include "chance_cell.h"

/* Without json_unpack(), which asks for memory and says the same where there is none. */
bool tl_chance_read(const json_t *chance, struct tl_chance *out)
{
    const json_t *low = json_object_get(chance, "low"), *high = json_object_get(chance, "high");
    const json_int_t runs = json_integer_value(json_object_get(chance, "runs"));
    const json_int_t of = json_integer_value(json_object_get(chance, "of"));
    *out = (struct tl_chance){.high = 1};
    if (!json_is_number(low) || !json_is_number(high) || runs < 0 || of < 1 || runs > of)
        return false;
    *out = (struct tl_chance){(size_t)runs, (size_t)of, json_number_value(low),
                              json_number_value(high)};
    return true;
}

void tl_chance_cell(struct tl_html *h, const json_t *chance, const char *class)
{
    struct tl_chance c;
    char text[TL_CHANCE_SIZE] = "-";
    if (tl_chance_read(chance, &c))
        tl_chance_short(&c, text);
    tl_html_classed(h, "td", c.runs > 0 && class ? class : "number", text);
}
