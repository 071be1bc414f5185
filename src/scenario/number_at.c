/* Finds a number of a scenario by its path, through the table of keys: the key's own writer says what
 * stands there. */
#include "number_at.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "reader.h"
#include "towerloop/status.h"

#define PATH_SIZE 128

/* "fish[12].count" -> "fish[].count" and 12; false when it is no path of a key. */
static bool without_index(const char *path, char *out, size_t size, size_t *index)
{
    const char *open = strchr(path, '[');
    *index = 0;
    if (!open)
        return (size_t)tl_format(out, size, "%s", path) < size;
    char *end;
    const unsigned long n = strtoul(open + 1, &end, 10);
    const bool plain = open[1] >= '0' && open[1] <= '9' && (open[1] != '0' || end == open + 2);
    if (!plain || *end != ']' || strchr(end, '['))
        return false;
    *index = n;
    return (size_t)tl_format(out, size, "%.*s[]%s", (int)(open - path), path, end + 1) < size;
}

/* What the offset of the key counts from; NULL: there is no such item. */
static const void *base_of(const struct tl_scenario *s, const char *path, size_t index)
{
    static const char joining[] = "events[].add fish.";
    if (strncmp(path, "fish[]", 6) == 0)
        return index < s->setup.fish_groups ? &s->setup.fish[index] : NULL;
    if (strncmp(path, joining, sizeof joining - 1) == 0)
        return index < s->setup.events && s->setup.event[index].kind == TL_EVENT_ADD_FISH
                   ? &s->setup.event[index].fish
                   : NULL;
    return strchr(path, '[') ? NULL : (const void *)s;
}

static const struct tl_key *find(const char *path)
{
    for (size_t i = 0; i < tl_key_count; i++)
        if (strcmp(tl_key_table[i].path, path) == 0)
            return &tl_key_table[i];
    return NULL;
}

const char *tl_number_key_help(const char *path)
{
    char plain[PATH_SIZE];
    size_t index;
    const struct tl_key *key =
        without_index(path, plain, sizeof plain, &index) ? find(plain) : NULL;
    return key ? key->help : NULL;
}

static int no_such_key(const char *path, char *what, char *expected, size_t size)
{
    const char *known[TL_MOST_KEYS];
    for (size_t i = 0; i < tl_key_count; i++)
        known[i] = tl_key_table[i].path;
    const int near = tl_nearest(path, known, tl_key_count);
    tl_format(what, size, "there is no such key");
    if (near >= 0)
        tl_format(expected, size, "perhaps %s", known[near]);
    else
        tl_format(expected, size, "a key with a number, as tower.trays; towerloop keys lists them");
    return TL_E_INPUT;
}

static bool begins(const char *path, const char *with)
{
    return strncmp(path, with, strlen(with)) == 0;
}

/* Whether a key below the temperature is one of the form in which it is given. */
static bool by_shape(const struct tl_temperature *t, const char *path)
{
    return t->kind != TL_TEMPERATURE_WEATHER &&
           (t->kind != TL_TEMPERATURE_READINGS || strcmp(path, "temperature.warmer") == 0);
}

static bool feeds(const struct tl_setup *s)
{
    return tl_setup_ever_fish(s) && (s->feeding.meals > 0 || s->feeding.log.n > 0);
}

/* Whether the water is the same whatever the key says. */
static bool is_idle(const struct tl_setup *s, const char *path)
{
    const bool by_curve = s->pump.curve.n > 0;
    const bool by_height = by_curve && isnan(s->pump.head_m);
    if (strcmp(path, "building.tray gap") == 0 || strcmp(path, "building.lowest tray") == 0)
        return !by_height; /* the height of the stack is what the pump works against */
    if (strcmp(path, "pump.count") == 0 || strcmp(path, "pump.head") == 0 ||
        begins(path, "pump.pipe."))
        return !by_curve;
    return strcmp(path, "length") == 0 || strcmp(path, "report every") == 0 ||
           (begins(path, "weather.") && !s->weather.given) ||
           (begins(path, "temperature.") && !by_shape(&s->temperature, path)) ||
           (strcmp(path, "feeding.appetite") == 0 && !feeds(s)) || begins(path, "costs.") ||
           begins(path, "building.") || (s->feeding.log.n > 0 && begins(path, "feeding.ration"));
}

/* Where the value stands in the file instead; NULL: at the key itself. */
static const char *stands_at(const struct tl_setup *s, const char *path)
{
    return begins(path, "temperature.") && s->temperature.kind == TL_TEMPERATURE_CONSTANT
               ? "temperature"
               : NULL;
}

int tl_number_key(const char *path, struct tl_number_at *out, char *what, char *expected,
                  size_t size)
{
    char plain[PATH_SIZE];
    size_t index;
    if (!without_index(path, plain, sizeof plain, &index))
        return no_such_key(path, what, expected, size);
    const struct tl_key *key = find(plain);
    if (!key)
        return no_such_key(plain, what, expected, size);
    tl_format(expected, size,
              "a key with a number that the loop depends on, as tower.trays, "
              "pump.flow or fish[0].count");
    if (begins(plain, "events[].")) {
        tl_format(what, size, "what an event does cannot be varied here: it happens once in a run");
        tl_format(
            expected, size,
            "a key outside of events; towerloop compare --vary runs values of an event side by "
            "side");
        return TL_E_INPUT;
    }
    if (key->type->form[0].kind != TL_FORM_NUMBER || !key->type->write || key->min >= key->max ||
        strncmp(plain, "limits.", 7) == 0) {
        tl_format(what, size, "it holds no number that can be varied");
        return TL_E_INPUT;
    }
    *out = (struct tl_number_at){.whole = key->type->form[0].whole,
                                 .dim = key->dim,
                                 .min = key->min,
                                 .max = key->max,
                                 .value = NAN};
    return TL_OK;
}

int tl_scenario_number_at(const struct tl_scenario *s, const char *path, struct tl_number_at *out,
                          char *what, char *expected, size_t size)
{
    char plain[PATH_SIZE];
    char ignored[PATH_SIZE];
    size_t index;
    struct tl_text text = {0};

    const int status = tl_number_key(path, out, what, expected, size);
    if (status)
        return status;
    (void)without_index(path, plain, sizeof plain, &index);
    const struct tl_key *key = find(plain);
    if (is_idle(&s->setup, plain)) {
        tl_format(what, size, "the loop does not depend on it");
        return TL_E_INPUT;
    }
    if (stands_at(&s->setup, plain)) {
        tl_format(what, size, "the file gives a single value");
        tl_format(expected, size, "the key %s", stands_at(&s->setup, plain));
        return TL_E_INPUT;
    }
    const void *base = base_of(s, plain, index);
    if (!base) {
        tl_format(what, size, "the scenario has nothing there");
        return TL_E_INPUT;
    }
    const bool written = key->type->write(&text, key, base);
    const bool number = written && tl_parse_quantity(tl_text_string(&text), key->dim, &out->value,
                                                     ignored, ignored, sizeof ignored) == TL_OK;
    const bool failed = text.failed;
    tl_text_free(&text);
    if (failed) {
        tl_format(what, size, "%s", tl_status_text(TL_E_MEMORY));
        return TL_E_MEMORY;
    }
    if (written && !number) {
        tl_format(what, size, "the scenario gives it in another form than one number");
        tl_format(expected, size, "one number in a unit of %s: %s", tl_dim_name(key->dim),
                  tl_dim_units(key->dim));
        return TL_E_INPUT;
    }
    if (!written)
        out->value = key->min;
    return TL_OK;
}
