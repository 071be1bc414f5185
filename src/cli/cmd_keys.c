/* towerloop keys [WORD]...: what can stand in a scenario. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "cli.h"
#include "key_pages.h"
#include "text.h"

#define JSON_DIGITS 15

/* Whether a key lies in the section `word` or is it. */
static bool in_section(const char *path, const char *word)
{
    const size_t length = strlen(word);
    return strncmp(path, word, length) == 0 && strchr(".[", path[length]);
}

/* Choose the keys of the section `word`, or else those whose path contains it. How many. */
static size_t choose(const char *word, bool *chosen)
{
    struct tl_key_info key;
    size_t found = 0;
    for (int by_part = 0; by_part < 2 && found == 0 && *word; by_part++) {
        for (size_t i = 0; i < tl_key_list_size(); i++) {
            tl_key_list_at(i, &key);
            if (by_part ? strcasestr(key.path, word) != NULL : in_section(key.path, word)) {
                chosen[i] = true;
                found++;
            }
        }
    }
    return found;
}

static void complain_word(const char *word)
{
    const size_t keys = tl_key_list_size();
    const char **known = calloc(2 * keys, sizeof *known);
    int nearest = -1;
    for (size_t i = 0; known && i < keys; i++) {
        struct tl_key_info key;
        tl_key_list_at(i, &key);
        known[i] = key.name;
        known[keys + i] = key.path;
    }
    if (known)
        nearest = tl_nearest(word, known, 2 * keys);
    if (nearest >= 0)
        tl_complain("no key has '%s' in it (did you mean '%s'?); towerloop keys lists them all",
                    word, known[nearest]);
    else
        tl_complain("no key has '%s' in it; towerloop keys lists them all", word);
    free(known);
}

/* The words are one name ("settling chamber" needs no quotation marks), or several. */
static int choose_all(const struct tl_options *o, bool *chosen)
{
    struct tl_text whole = {0};
    int code = TL_EXIT_DONE;
    for (size_t i = 0; i < o->words; i++)
        tl_text_addf(&whole, "%s%s", i > 0 ? " " : "", o->word[i]);
    const bool one_name = choose(tl_text_string(&whole), chosen) > 0;
    tl_text_free(&whole);
    for (size_t i = 0; i < o->words && !one_name; i++) {
        if (choose(o->word[i], chosen) == 0) {
            complain_word(o->word[i]);
            code = TL_EXIT_USAGE;
        }
    }
    return code;
}

static bool has_media(const bool *chosen)
{
    bool has = false;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        tl_key_list_at(i, &key);
        has = has || (chosen[i] && strcmp(key.path, "tower.media") == 0);
    }
    return has;
}

static int list_keys(const struct tl_options *o)
{
    if (o->schema && (o->json || o->words > 0)) {
        tl_complain("--schema is about the whole file; it takes no WORD and no --json");
        return TL_EXIT_USAGE;
    }
    if (o->schema) {
        tl_answer_json(tl_keys_schema(), JSON_DIGITS);
        return TL_EXIT_DONE;
    }

    bool *chosen = calloc(tl_key_list_size(), sizeof *chosen);
    if (!chosen) {
        tl_complain("out of memory");
        return TL_EXIT_FAILED;
    }
    for (size_t i = 0; i < tl_key_list_size(); i++)
        chosen[i] = o->words == 0;
    int code = choose_all(o, chosen);
    if (code == TL_EXIT_DONE && o->json)
        tl_answer_json(tl_keys_json(chosen, o->units), JSON_DIGITS);
    else if (code == TL_EXIT_DONE) {
        tl_keys_print(chosen, o->words > 0, o->units);
        if (o->words > 0 && has_media(chosen))
            tl_media_print(o->units);
    }
    free(chosen);
    return code;
}

static int cmd_keys(int argc, char **argv)
{
    struct tl_options o;
    bool finished;
    int code = tl_options_read(argc, argv, &tl_command_keys, &o, &finished);
    if (!finished)
        code = list_keys(&o);
    tl_options_free(&o);
    return code;
}

const struct tl_command tl_command_keys = {
    .name = "keys",
    .run = cmd_keys,
    .help = "list what can stand in a scenario",
    .words = "[WORD]...",
    .most_words = SIZE_MAX,
    .takes = TL_TAKES(UNITS) | TL_TAKES(JSON) | TL_TAKES(SCHEMA),
    .more = "WORD is a section, as tank, or a part of a key's name. Keys of items of a list\n"
            "have [] in their name. --set takes a key by its name: --set tower.trays=12.\n"
            "keys tower.media also prints what is known of each kind of media.\n"
            "An editor that knows JSON Schema checks a scenario while you type it:\n"
            "  towerloop keys --schema > towerloop.schema.json\n",
    .prints_only = true,
};
