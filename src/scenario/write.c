/* Writing a complete scenario, by the table of keys: base units, 17 digits, so that reading it back
 * gives the same doubles. */
#include <stdlib.h>

#include "reader.h"
#include "towerloop/status.h"

void tl_write_item(struct tl_text *out, const char *prefix, const void *base)
{
    bool first = true;
    tl_text_add(out, "{");
    for (size_t i = 0; i < tl_key_count; i++) {
        const struct tl_key *key = &tl_key_table[i];
        const char *name;
        if (!key->type->write || !tl_key_in(key, prefix, &name))
            continue;
        tl_text_addf(out, "%s%s: ", first ? "" : ", ", name);
        key->type->write(out, key, base);
        first = false;
    }
    tl_text_add(out, "}");
}

static void write_section(struct tl_text *out, const char *prefix, int indent, const void *base)
{
    for (size_t i = 0; i < tl_key_count; i++) {
        const struct tl_key *key = &tl_key_table[i];
        struct tl_text value = {0};
        const char *name;
        if (!tl_key_in(key, prefix, &name))
            continue;
        if (key->type->stands) {
            if (!key->type->stands(base))
                continue;
            write_section(&value, key->path, indent + 2, base);
            if (value.length > 0)
                tl_text_addf(out, "%*s%s:\n%s", indent, "", name, tl_text_string(&value));
        } else if (key->type->write && key->type->write(&value, key, base)) {
            const char *text = tl_text_string(&value);
            tl_text_addf(out, "%*s%s:%s%s\n", indent, "", name, *text == '\n' ? "" : " ", text);
        }
        out->failed = out->failed || value.failed;
        tl_text_free(&value);
    }
}

int tl_scenario_text(const struct tl_scenario *s, char **text)
{
    struct tl_text out = {0};
    write_section(&out, "", 0, s);
    if (out.failed) {
        tl_text_free(&out);
        return TL_E_MEMORY;
    }
    *text = out.data;
    return TL_OK;
}

int tl_scenario_write(const struct tl_scenario *s, FILE *f)
{
    char *text = NULL;
    int status = tl_scenario_text(s, &text);
    if (status == TL_OK && (fputs(text, f) < 0 || fflush(f) != 0))
        status = TL_E_IO;
    free(text);
    return status;
}
