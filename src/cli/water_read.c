/* Reads the readings of `towerloop water` from its arguments. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "reader.h"
#include "towerloop/status.h"
#include "water.h"

#define TEXT_SIZE 512
#define NAME_SIZE 64
#define HOW       "KEY=VALUE, as \"ammonia=2 mg/L as N\""

struct key {
    const char *name;
    double least, most;
    size_t offset; /* of a double in struct tl_water */
    enum tl_dim dim;
    bool fix; /* only --fix uses it */
};

static const char chlorine_name[] = "source chlorine";
static const char as_cl2[] = " as Cl2"; /* the only way to count it */

#define AT(member) offsetof(struct tl_water, in.member)

/* clang-format off */
static const struct key keys[] = {
#define POND(id, field, name, dim, least, most) {name, least, most, AT(pond.field), dim, false},
    TL_READING_LIST(POND)
#undef POND
    {"volume", 0.001, 1e6, AT(volume_m3), TL_DIM_VOLUME, true},
    {"fish", 0, 1e9, AT(fish_g), TL_DIM_MASS, true},
    {"source temperature", 0, 40, AT(source.temperature_degC), TL_DIM_TEMPERATURE, true},
    {"source pH", 4, 11, AT(source.ph), TL_DIM_NUMBER, true},
    {"source ammonia", 0, 1000, AT(source.tan_gN_m3), TL_DIM_CONC_N, true},
    {"source nitrite", 0, 1000, AT(source.no2_gN_m3), TL_DIM_CONC_N, true},
    {"source nitrate", 0, 10000, AT(source.no3_gN_m3), TL_DIM_CONC_N, true},
    {"source alkalinity", 0, 50, AT(source.alk_eq_m3), TL_DIM_ALKALINITY, true},
    {"source chloride", 0, 20000, AT(source.chloride_g_m3), TL_DIM_CONC, true},
    {chlorine_name, 0, 20, AT(source_chlorine_g_m3), TL_DIM_CONC, true},
};
/* clang-format on */
enum { KEYS = sizeof keys / sizeof *keys, FORM = KEYS, WORDS };

static const char form_name[] = "source chlorine form";

static const char *name_of(int key)
{
    return key == FORM ? form_name : keys[key].name;
}

struct reader {
    struct tl_water *water;
    struct tl_diag *diag;
    bool fix;
    size_t seen[WORDS]; /* number of the argument, 0: none */
};

static void message(struct reader *r, enum tl_diag_level level, size_t number, const char *key,
                    const char *expected, const char *format, ...)
    __attribute__((format(printf, 6, 7)));

static void message(struct reader *r, enum tl_diag_level level, size_t number, const char *key,
                    const char *expected, const char *format, ...)
{
    char place[NAME_SIZE];
    struct tl_text what = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&what, format, args);
    va_end(args);
    tl_format(place, sizeof place, "argument %zu", number);
    tl_diag_add(r->diag, level, place, 0, 0, key, tl_text_string(&what), expected);
    tl_text_free(&what);
}

/* At most 40 bytes of what the user wrote. */
static int cut(const char *text)
{
    return (int)tl_utf8_cut(text, 40);
}

static int find(const char *name)
{
    for (int i = 0; i < WORDS; i++)
        if (strcmp(name_of(i), name) == 0)
            return i;
    return -1;
}

static void unknown_key(struct reader *r, size_t number, const char *name)
{
    const char *known[WORDS];
    struct tl_text all = {0};
    for (int i = 0; i < WORDS; i++) {
        known[i] = name_of(i);
        tl_text_addf(&all, "%s%s", i ? ", " : "one of ", known[i]);
    }
    const int nearest = tl_nearest(name, known, WORDS);
    if (nearest >= 0)
        message(r, TL_DIAG_ERROR, number, name, NULL, "unknown key (did you mean \"%s\"?)",
                known[nearest]);
    else
        message(r, TL_DIAG_ERROR, number, name, tl_text_string(&all), "unknown key");
    tl_text_free(&all);
}

static void read_form(struct reader *r, size_t number, const char *value)
{
    enum tl_chlorine_form *form = &r->water->in.form;
    if (strcmp(value, "chlorine") == 0)
        *form = TL_CHLORINE_FREE;
    else if (strcmp(value, "chloramine") == 0)
        *form = TL_CHLORINE_CHLORAMINE;
    else if (strcmp(value, "unknown") == 0)
        *form = TL_CHLORINE_UNKNOWN;
    else
        message(r, TL_DIAG_ERROR, number, form_name, "chlorine, chloramine or unknown",
                "\"%.*s\" is none", cut(value), value);
}

static void read_number(struct reader *r, size_t number, const struct key *k, const char *value)
{
    char what[TEXT_SIZE], expected[TEXT_SIZE];
    double base = NAN;
    const bool salinity = k->dim == TL_DIM_PER_MASS;
    const bool chlorine = strcmp(k->name, chlorine_name) == 0;

    if (chlorine && strcmp(value, "unknown") == 0)
        return;
    if (*value == '\0') {
        message(r, TL_DIAG_ERROR, number, k->name, HOW, "no value");
        return;
    }
    char plain[NAME_SIZE];
    const size_t length = strlen(value);
    if (chlorine && length > strlen(as_cl2) && length < sizeof plain &&
        strcmp(value + length - strlen(as_cl2), as_cl2) == 0) {
        tl_format(plain, sizeof plain, "%.*s", (int)(length - strlen(as_cl2)), value);
        value = plain;
    }
    if (tl_parse_quantity(value, k->dim, &base, what, expected, sizeof what)) {
        if (salinity)
            tl_format(expected, sizeof expected, "a salinity in g/kg");
        if (chlorine)
            tl_format(expected, sizeof expected, "mg/L as Cl2, or unknown");
        message(r, TL_DIAG_ERROR, number, k->name, expected, "%s", what);
        return;
    }
    if (base < k->least || base > k->most) {
        if (salinity)
            tl_format(expected, sizeof expected, "%g to %g g/kg", 1e3 * k->least, 1e3 * k->most);
        else
            tl_range_text(k->dim, r->water->units, k->least, k->most, expected, sizeof expected);
        message(r, TL_DIAG_ERROR, number, k->name, expected, "\"%.*s\" is outside the range",
                cut(value), value);
        return;
    }
    *(double *)((char *)r->water + k->offset) = base;
}

static void read_word(struct reader *r, size_t number, const char *word)
{
    char name[NAME_SIZE];
    const char *equals = strchr(word, '=');
    const size_t length = equals ? (size_t)(equals - word) : strlen(word);
    const size_t kept = length < sizeof name ? length : tl_utf8_cut(word, sizeof name - 1);

    memcpy(name, word, kept);
    name[kept] = '\0';
    if (length == 0) {
        message(r, TL_DIAG_ERROR, number, NULL, HOW,
                *word ? "no key before the =" : "the argument is empty");
        return;
    }
    const int key = length == kept ? find(name) : -1;
    if (key < 0) {
        unknown_key(r, number, name);
    } else if (!equals) {
        message(r, TL_DIAG_ERROR, number, name, HOW, "no value");
    } else if (r->seen[key]) {
        message(r, TL_DIAG_ERROR, number, name, NULL,
                "this key stands here a second time (the first is argument %zu)", r->seen[key]);
    } else {
        r->seen[key] = number;
        if (!r->fix && (key == FORM || keys[key].fix))
            message(r, TL_DIAG_WARNING, number, name, NULL, "only --fix uses it");
        if (key == FORM)
            read_form(r, number, equals + 1);
        else
            read_number(r, number, &keys[key], equals + 1);
    }
}

int tl_water_read(const char *const *word, size_t words, bool fix, struct tl_water *w,
                  struct tl_diag *diag)
{
    struct reader r = {.water = w, .diag = diag, .fix = fix};
    tl_sample_init(&w->in.pond);
    tl_sample_init(&w->in.source);
    w->in.volume_m3 = w->in.fish_g = w->in.source_chlorine_g_m3 = NAN;
    w->in.form = TL_CHLORINE_UNKNOWN;
    for (size_t i = 0; i < words; i++)
        read_word(&r, i + 1, word[i]);

    w->volume_given = !isnan(w->in.volume_m3);
    if (!w->volume_given)
        w->in.volume_m3 = w->units == TL_US ? 1000 / tl_display_value(TL_DIM_VOLUME, TL_US, 1) : 1;
    if (!w->volume_given && !isnan(w->in.fish_g)) {
        if (fix)
            message(&r, TL_DIAG_WARNING, r.seen[find("fish")], "fish", NULL,
                    "not used: how fast they raise ammonia takes the volume");
        w->in.fish_g = NAN;
    }
    return diag->errors > 0 ? TL_E_INPUT : TL_OK;
}
