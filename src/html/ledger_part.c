/* The ledger as tables. */
#include <math.h>
#include <string.h>

#include "document.h"
#include "parts.h"

#define SCANT 0.005 /* less than this of anything is not told */

/* What the keys of summary.json mean where they do not say it themselves. */
static const char *words_of(const char *key, char *text, size_t size)
{
    static const char *const known[][2] = {
        {"water", "with the water"},
        {"nitrogen_gas", "as nitrogen gas, into the air"},
        {"retained_by_fish", "retained by fish, by difference"},
        {"tower", "air in the tower"},
        {"decay", "decay, less uptake"},
        {"excreted", "excreted by fish as ammonia"},
        {"faeces", "in solids and dissolved organics"},
        {"uneaten", "in uneaten feed"},
        {"oxidised_tower", "ammonia oxidised in the tower"},
        {"oxidised_tank_wall", "ammonia oxidised on the tank's walls"},
        {"oxidised_chamber_wall", "ammonia oxidised on the chamber's walls"},
        {"nitrite_oxidised", "nitrite oxidised, everywhere"},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(key, known[i][0]) == 0)
            return known[i][1];
    tl_format(text, size, "%s", key);
    for (char *c = text; *c; c++)
        if (*c == '_')
            *c = ' ';
    return text;
}

static void add_group(struct tl_html *h, const char *heading)
{
    tl_html_open(h, "tr");
    tl_html_attribute(h, "class", "group");
    tl_html_open(h, "th");
    tl_html_attribute(h, "scope", "rowgroup");
    tl_html_attribute(h, "colspan", "2");
    tl_html_text(h, heading);
    tl_html_close(h);
    tl_html_close(h);
}

static void add_side(struct tl_html *h, const json_t *account, const char *side,
                     const char *heading)
{
    const char *key;
    json_t *amount;
    char text[80];
    bool begun = false;
    json_object_foreach(json_object_get(account, side), key, amount)
    {
        const double value = json_number_value(amount);
        if (!(fabs(value) >= SCANT))
            continue;
        if (!begun)
            add_group(h, heading);
        begun = true;
        tl_table_row(h, words_of(key, text, sizeof text));
        tl_table_number(h, value);
        tl_html_close(h);
    }
}

static void add_account(struct tl_html *h, const struct tl_run_data *d, const char *name,
                        const char *unit)
{
    char path[48], id[48], caption[96];
    tl_format(path, sizeof path, "ledger.%s", name);
    tl_format(id, sizeof id, "ledger-%s", name);
    tl_format(caption, sizeof caption, "%s over the whole run, %s", name, unit);
    caption[0] = (char)(caption[0] - 'a' + 'A');
    const json_t *account = tl_run_data_at(d, path);
    const char *const heading[] = {"What", unit};
    tl_table_begin(h, id, caption);
    tl_table_head(h, heading, 2);
    add_side(h, account, "in", "Came in");
    add_side(h, account, "out", "Went out");
    add_side(h, account, "stored_in", "More in store at the end than at the start");
    add_side(h, account, "notes", "On its way");
    tl_table_end(h);
}

void tl_part_ledger(struct tl_html *h, const struct tl_run_data *d)
{
    tl_html_open(h, "details");
    tl_html_element(h, "summary", "The whole ledger as tables: nitrogen, oxygen, alkalinity");
    add_account(h, d, "nitrogen", "g of nitrogen");
    add_account(h, d, "oxygen", "g of oxygen");
    add_account(h, d, "alkalinity", "eq of alkalinity");
    tl_html_close(h);
}
