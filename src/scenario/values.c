/* The types of values that keys have: how each is read and written back. Those of events are in
 * events.c. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "reader.h"
#include "towerloop/media.h"
#include "towerloop/status.h"

#define WHAT_SIZE                 512
#define FIELD(base, key, type)    ((type *)((char *)(base) + (key)->offset))
#define FIELD_OF(base, key, type) ((const type *)((const char *)(base) + (key)->offset))

/* --- helpers ------------------------------------------------------------------------------- */

const char *tl_value_text(struct tl_reader *r, struct tl_node *n, const char *expected)
{
    if (n->kind != TL_NODE_TEXT)
        tl_fault(r, n, expected, n->kind == TL_NODE_LIST ? "this is a list" : "this is a mapping");
    else if (n->text[0] == '\0')
        tl_fault(r, n, expected, "no value");
    else
        return n->text;
    return NULL;
}

static bool is_word(const char *text, const char *word)
{
    return strcmp(text, word) == 0;
}

int tl_word(const struct tl_node *n, const char *const *words)
{
    for (int i = 0; n->kind == TL_NODE_TEXT && words[i]; i++)
        if (is_word(n->text, words[i]))
            return i;
    return -1;
}

static bool in_range(struct tl_reader *r, struct tl_node *n, enum tl_dim dim, double min,
                     double max, double value)
{
    char range[WHAT_SIZE];
    if (value >= min && value <= max)
        return true;
    tl_range_text(dim, TL_METRIC, min, max, range, sizeof range);
    tl_fault_text(r, n, range, "is outside the range");
    return false;
}

bool tl_read_number(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, double *out)
{
    char what[WHAT_SIZE];
    char expected[WHAT_SIZE];
    double value;
    tl_format(expected, sizeof expected, "%s%s%s", tl_dim_name(key->dim),
              key->dim == TL_DIM_NUMBER ? "" : " in ", tl_dim_units(key->dim));
    const char *text = tl_value_text(r, n, expected);
    if (!text)
        return false;
    if (tl_parse_quantity(text, key->dim, &value, what, expected, sizeof what)) {
        tl_fault(r, n, expected, "%s", what);
        return false;
    }
    if (!in_range(r, n, key->dim, key->min, key->max, value))
        return false;
    *out = value;
    return true;
}

bool tl_read_name(struct tl_reader *r, struct tl_node *n, char out[TL_NAME_SIZE])
{
    const char *text = tl_value_text(r, n, "a name");
    if (!text)
        return false;
    if (strlen(text) >= TL_NAME_SIZE) {
        tl_fault(r, n, "at most 127 bytes", "the name is too long");
        return false;
    }
    memcpy(out, text, strlen(text) + 1);
    return true;
}

void tl_write_number(struct tl_text *out, enum tl_dim dim, double value)
{
    const char *unit = tl_dim_base_unit(dim);
    tl_text_addf(out, "%.17g%s%s", value, *unit ? " " : "", unit);
}

void tl_write_quoted(struct tl_text *out, const char *s)
{
    tl_text_add(out, "\"");
    for (; *s; s++) {
        if (*s == '"' || *s == '\\')
            tl_text_add(out, "\\");
        tl_text_add_bytes(out, s, 1);
    }
    tl_text_add(out, "\"");
}

void tl_write_input(struct tl_text *out, const struct tl_scenario *s, enum tl_input which)
{
    const char *file = tl_scenario_input_name(s, which);
    struct tl_text name = {0};
    tl_text_addf(&name, "inputs/%s", file ? file : "");
    tl_write_quoted(out, tl_text_string(&name));
    out->failed |= name.failed;
    tl_text_free(&name);
}

/* A copy of a text value in *out. */
static void read_text(struct tl_reader *r, struct tl_node *n, const char *expected, char **out)
{
    const char *text = tl_value_text(r, n, expected);
    if (!text)
        return;
    char *copy = strdup(text);
    if (!copy) {
        r->out_of_memory = true;
        return;
    }
    free(*out);
    *out = copy;
}

/* --- sections, texts, times ------------------------------------------------------------------ */

static void section_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                         void *base)
{
    if (n->kind == TL_NODE_TEXT && n->text[0] == '\0' && !n->quoted)
        tl_fault(r, n, "keys below it, set in by two blanks", "nothing stands below this key");
    else
        tl_read_section(r, n, key->path, base);
}
static bool always(const struct tl_scenario *s)
{
    (void)s;
    return true;
}
const struct tl_value_type tl_type_section = {
    .name = "keys",
    .read = section_read,
    .stands = always,
    TL_FORMS(TL_KEYS_FORM),
};

/* Sections that change the model by being there. */
static void weather_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                         void *base)
{
    r->draft->s.setup.weather.given = true;
    section_read(r, n, key, base);
}
static bool weather_stands(const struct tl_scenario *s)
{
    return s->setup.weather.given;
}
const struct tl_value_type tl_type_weather = {
    .name = "keys",
    .read = weather_read,
    .stands = weather_stands,
    TL_FORMS(TL_KEYS_FORM),
};

static bool heater_stands(const struct tl_scenario *s)
{
    return s->setup.weather.given && s->setup.heater.power_w > 0;
}
const struct tl_value_type tl_type_heater = {
    .name = "keys",
    .read = section_read,
    .stands = heater_stands,
    TL_FORMS(TL_KEYS_FORM),
};

static const char *const formats[] = {"1", NULL};
static void format_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    (void)key;
    (void)base;
    const char *text = tl_value_text(r, n, formats[0]);
    double version;
    if (!text || tl_word(n, formats) == 0)
        return;
    if (tl_parse_number(text, &version) == strlen(text) && version > 1)
        tl_fault(r, n, formats[0], "this file is written for a newer towerloop");
    else
        tl_fault_text(r, n, formats[0], "is no known format");
}
static bool format_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    (void)key;
    (void)base;
    tl_text_add(out, formats[0]);
    return true;
}
const struct tl_value_type tl_type_format = {
    .name = "1",
    .read = format_read,
    .write = format_write,
    TL_FORMS(TL_WORDS_FORM(formats)),
};

static void text_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    read_text(r, n, "text", FIELD(base, key, char *));
}
static bool text_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const char *text = *FIELD_OF(base, key, char *);
    tl_write_quoted(out, text ? text : "");
    return true;
}
const struct tl_value_type tl_type_text = {
    .name = "text",
    .read = text_read,
    .write = text_write,
    TL_FORMS(TL_TEXT_FORM(NULL)),
};

/* written as part of what the file is for */
const struct tl_value_type tl_type_file = {
    .name = "a file name",
    .read = text_read,
    TL_FORMS(TL_TEXT_FORM(NULL)),
};

/* what is in the file is not written here, but the file goes along */
static bool log_file_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const enum tl_input which = (enum tl_input)key->id;
    if (!((const struct tl_scenario *)base)->input[which])
        return false;
    tl_write_input(out, base, which);
    return true;
}
const struct tl_value_type tl_type_log_file = {
    .name = "a file name",
    .read = text_read,
    .write = log_file_write,
    TL_FORMS(TL_TEXT_FORM(NULL)),
};

static void date_time_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                           void *base)
{
    const char *text = tl_value_text(r, n, TL_DATE_EXPECTED);
    if (text && !tl_date_parse(text, FIELD(base, key, struct tl_date)))
        tl_fault_text(r, n, TL_DATE_EXPECTED, "is not a date");
}
static bool date_time_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    char text[32];
    tl_date_iso(FIELD_OF(base, key, struct tl_date), text, sizeof text);
    tl_text_add(out, text);
    return true;
}
const struct tl_value_type tl_type_date_time = {
    .name = "a date and time",
    .read = date_time_read,
    .write = date_time_write,
    TL_FORMS(TL_TEXT_FORM(TL_DATE_PATTERN)),
};

static int ascending(const void *a, const void *b)
{
    int x = *(const int *)a;
    int y = *(const int *)b;
    return (x > y) - (x < y);
}

#define MOST_MEALS 1440

static void clocks_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    static const char expected[] = "a list of clock times, as [\"08:00\", \"18:00\"]";
    struct tl_feeding *f = FIELD(base, key, struct tl_feeding);
    if (n->kind != TL_NODE_LIST) {
        tl_fault(r, n, expected, "this is not a list");
        return;
    }
    const size_t count = tl_node_count(n);
    if (count > MOST_MEALS) {
        tl_fault(r, n, "at most 1440 meals a day, one a minute", "%zu meals a day", count);
        return;
    }
    f->meal_s = calloc(count + 1, sizeof *f->meal_s);
    if (!f->meal_s) {
        r->out_of_memory = true;
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next) {
        const char *text = tl_value_text(r, c, "a clock time, as 08:00");
        int second;
        if (!text)
            continue;
        if (!tl_clock_parse(text, &second)) {
            tl_fault_text(r, c, "a clock time from 00:00 to 23:59:59, as 08:00",
                          "is not a clock time");
            continue;
        }
        bool known = false;
        for (size_t i = 0; i < f->meals && !known; i++)
            known = f->meal_s[i] == second;
        if (known)
            tl_fault(r, c, NULL, "%s stands here a second time", text);
        else
            f->meal_s[f->meals++] = second;
    }
    qsort(f->meal_s, f->meals, sizeof *f->meal_s, ascending);
}
static bool clocks_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_feeding *f = FIELD_OF(base, key, struct tl_feeding);
    tl_text_add(out, "[");
    for (size_t i = 0; i < f->meals; i++)
        tl_text_addf(out, "%s\"%02d:%02d:%02d\"", i > 0 ? ", " : "", f->meal_s[i] / 3600,
                     f->meal_s[i] / 60 % 60, f->meal_s[i] % 60);
    tl_text_add(out, "]");
    return true;
}
const struct tl_value_type tl_type_clocks = {
    .name = "a list of clock times",
    .read = clocks_read,
    .write = clocks_write,
    TL_FORMS({.kind = TL_FORM_LIST, .pattern = TL_CLOCK_PATTERN}),
};

/* --- numbers and words ----------------------------------------------------------------------- */

static void quantity_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                          void *base)
{
    tl_read_number(r, n, key, FIELD(base, key, double));
}
static bool quantity_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    double value = *FIELD_OF(base, key, double);
    if (isnan(value))
        return false;
    tl_write_number(out, key->dim, value);
    return true;
}
const struct tl_value_type tl_type_quantity = {
    .name = "a quantity",
    .read = quantity_read,
    .write = quantity_write,
    TL_FORMS(TL_NUMBER_FORM),
};

/* of the regular water change, where there is one */
static bool change_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_scenario *s = base;
    return s->setup.change_every_d > 0 && quantity_write(out, key, base);
}
const struct tl_value_type tl_type_change = {
    .name = "a quantity",
    .read = quantity_read,
    .write = change_write,
    TL_FORMS(TL_NUMBER_FORM),
};

/* a side of a basin: its volume, surface and walls are what is written */
const struct tl_value_type tl_type_side = {
    .name = "a quantity",
    .read = quantity_read,
    TL_FORMS(TL_NUMBER_FORM),
};

/* a value of a limit that can be switched off */
static const char *const none[] = {"none", NULL};
static void limit_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    if (tl_word(n, none) == 0)
        *FIELD(base, key, double) = NAN;
    else
        quantity_read(r, n, key, base);
}
static bool limit_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    if (!quantity_write(out, key, base))
        tl_text_add(out, none[0]);
    return true;
}
const struct tl_value_type tl_type_limit = {
    .name = "a quantity, or none",
    .read = limit_read,
    .write = limit_write,
    TL_FORMS(TL_NUMBER_FORM, TL_WORDS_FORM(none)),
};

static bool read_whole(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                       double *out)
{
    double value;
    if (!tl_read_number(r, n, key, &value))
        return false;
    if (value != floor(value)) {
        tl_fault_text(r, n, "a whole number", "is not a whole number");
        return false;
    }
    *out = value;
    return true;
}

static void integer_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                         void *base)
{
    double value;
    if (read_whole(r, n, key, &value))
        *FIELD(base, key, int) = (int)value;
}
static bool integer_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    tl_text_addf(out, "%d", *FIELD_OF(base, key, int));
    return true;
}
const struct tl_value_type tl_type_integer = {
    .name = "a whole number",
    .read = integer_read,
    .write = integer_write,
    TL_FORMS(TL_WHOLE_FORM),
};

static void count_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    read_whole(r, n, key, FIELD(base, key, double));
}
const struct tl_value_type tl_type_count = {
    .name = "a whole number",
    .read = count_read,
    .write = quantity_write,
    TL_FORMS(TL_WHOLE_FORM),
};

static const char *const no_yes[] = {"no", "yes", NULL};
static const char *const false_true[] = {"false", "true", NULL};
static void yes_no_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    if (!tl_value_text(r, n, key->type->name))
        return;
    int word = tl_word(n, no_yes);
    if (word < 0)
        word = tl_word(n, false_true);
    if (word >= 0)
        *FIELD(base, key, bool) = word == 1;
    else
        tl_fault_text(r, n, key->type->name, "is neither yes nor no");
}
static bool yes_no_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    tl_text_add(out, no_yes[*FIELD_OF(base, key, bool)]);
    return true;
}
const struct tl_value_type tl_type_yes_no = {
    .name = "yes or no",
    .read = yes_no_read,
    .write = yes_no_write,
    TL_FORMS(TL_WORDS_FORM(no_yes), TL_ALSO_FORM(false_true)),
};

static void name_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    tl_read_name(r, n, FIELD(base, key, char));
}
static bool name_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const char *name = FIELD_OF(base, key, char);
    if (*name)
        tl_write_quoted(out, name);
    return *name != '\0';
}
const struct tl_value_type tl_type_name = {
    .name = "a name",
    .read = name_read,
    .write = name_write,
    TL_FORMS(TL_TEXT_FORM(NULL)),
};

static void unknown_word(struct tl_reader *r, struct tl_node *n, const char *expected)
{
    tl_fault_text(r, n, expected, "is not known here");
}

/* --- temperature ----------------------------------------------------------------------------- */

static const char *const from_weather[] = {"from weather", NULL};

static void given_temperature_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                   void *base)
{
    struct tl_temperature *t = FIELD(base, key, struct tl_temperature);
    if (n->kind == TL_NODE_MAPPING) {
        t->kind = TL_TEMPERATURE_SINES;
        tl_read_section(r, n, key->path, base);
        const bool file = tl_node_child(n, "file") != NULL;
        const size_t shift = tl_node_child(n, "warmer") ? 1 : 0;
        if (file && tl_node_count(n) > 1 + shift)
            tl_fault(r, n, "mean, swings and warmest day, or a file alone",
                     "a file and something else besides");
        else if (!file && !tl_node_child(n, "mean"))
            tl_fault_missing(r, n, "mean", "the mean temperature, or file: with readings");
        if (file)
            t->kind = TL_TEMPERATURE_READINGS;
        return;
    }
    t->kind = TL_TEMPERATURE_CONSTANT;
    tl_read_number(r, n, key, &t->mean_degC);
}
static bool write_temperature(struct tl_text *out, const struct tl_temperature *t,
                              const struct tl_scenario *s, enum tl_input file)
{
    if (t->kind == TL_TEMPERATURE_CONSTANT) {
        tl_write_number(out, TL_DIM_TEMPERATURE, t->mean_degC);
    } else if (t->kind == TL_TEMPERATURE_SINES) {
        struct tl_date warmest = tl_date_at(&s->start, floor(t->warmest_noon_d));
        tl_text_add(out, "{mean: ");
        tl_write_number(out, TL_DIM_TEMPERATURE, t->mean_degC);
        tl_text_add(out, ", seasonal swing: ");
        tl_write_number(out, TL_DIM_TEMPERATURE_SPAN, t->seasonal_swing_degC);
        tl_text_addf(out, ", warmest day: %02d-%02d, daily swing: ", warmest.month, warmest.day);
        tl_write_number(out, TL_DIM_TEMPERATURE_SPAN, t->daily_swing_degC);
    } else {
        tl_text_add(out, "{file: ");
        tl_write_input(out, s, file);
    }
    if (t->kind != TL_TEMPERATURE_CONSTANT && file == TL_INPUT_TEMPERATURE && t->warmer_degC != 0) {
        tl_text_add(out, ", warmer: ");
        tl_write_number(out, TL_DIM_TEMPERATURE_SPAN, t->warmer_degC);
    }
    if (t->kind != TL_TEMPERATURE_CONSTANT)
        tl_text_add(out, "}");
    return true;
}
static bool air_temperature_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    return write_temperature(out, FIELD_OF(base, key, struct tl_temperature), base,
                             TL_INPUT_WEATHER);
}
const struct tl_value_type tl_type_air_temperature = {
    .name = "a temperature",
    .read = given_temperature_read,
    .write = air_temperature_write,
    TL_FORMS(TL_NUMBER_FORM, TL_KEYS_FORM),
};

static void temperature_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    if (tl_word(n, from_weather) == 0)
        FIELD(base, key, struct tl_temperature)->kind = TL_TEMPERATURE_WEATHER;
    else
        given_temperature_read(r, n, key, base);
}
static bool temperature_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_temperature *t = FIELD_OF(base, key, struct tl_temperature);
    if (t->kind != TL_TEMPERATURE_WEATHER)
        return write_temperature(out, t, base, TL_INPUT_TEMPERATURE);
    tl_text_add(out, from_weather[0]);
    return true;
}
const struct tl_value_type tl_type_temperature = {
    .name = "a temperature",
    .read = temperature_read,
    .write = temperature_write,
    TL_FORMS(TL_NUMBER_FORM, TL_KEYS_FORM, TL_WORDS_FORM(from_weather)),
};

static void warmest_day_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                             void *base)
{
    struct tl_month_day *out = FIELD(base, key, struct tl_month_day);
    const char *text = tl_value_text(r, n, key->type->name);
    if (!text)
        return;
    int month = strlen(text) == 5 && text[2] == '-' ? tl_two_digits(text) : -1;
    int day = month > 0 ? tl_two_digits(text + 3) : -1;
    if (tl_day_exists(2000, month, day)) {
        *out = (struct tl_month_day){month, day};
    } else {
        tl_fault_text(r, n, key->type->name, "is not a day of the year");
    }
}
const struct tl_value_type tl_type_warmest_day = {
    .name = "month-day, as 07-25",
    .read = warmest_day_read,
    TL_FORMS(TL_TEXT_FORM(TL_DAY_OF_YEAR_PATTERN)),
};

/* --- tower and water ------------------------------------------------------------------------- */

static void media_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key, void *base)
{
    struct tl_text known = {0};
    for (size_t i = 0; tl_media_names[i]; i++)
        tl_text_addf(&known, "%s%s", i > 0 ? ", " : "", tl_media_names[i]);
    if (tl_value_text(r, n, known.data)) {
        if (tl_word(n, tl_media_names) >= 0)
            tl_read_name(r, n, FIELD(base, key, char));
        else
            unknown_word(r, n, known.data);
    }
    tl_text_free(&known);
}
static bool media_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    tl_text_add(out, FIELD_OF(base, key, char));
    return true;
}
const struct tl_value_type tl_type_media = {
    .name = "a kind of media",
    .read = media_read,
    .write = media_write,
    TL_FORMS(TL_WORDS_FORM(tl_media_names)),
};

#define SEEDED "seeded"
static const char *const biofilms[] = {"new", "mature", NULL};
static void biofilm_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                         void *base)
{
    const char *expected = key->type->name;
    struct tl_tower *t = FIELD(base, key, struct tl_tower);
    const char *text = tl_value_text(r, n, expected);
    if (!text)
        return;
    const size_t lead = strlen(SEEDED " ");
    char what[WHAT_SIZE];
    char want[WHAT_SIZE];
    double value;
    int word = tl_word(n, biofilms);
    t->biofilm_assumed = false;
    if (word >= 0) {
        t->biofilm = word == 0 ? TL_BIOFILM_NEW : TL_BIOFILM_MATURE;
    } else if (strncmp(text, SEEDED " ", lead) != 0) {
        unknown_word(r, n, expected);
    } else if (tl_parse_quantity(text + lead, key->dim, &value, what, want, sizeof what)) {
        tl_fault(r, n, expected, "%s", what);
    } else if (in_range(r, n, key->dim, key->min, key->max, value)) {
        t->biofilm = TL_BIOFILM_SEEDED;
        t->seeded_share = value;
    }
}
static bool biofilm_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_tower *t = FIELD_OF(base, key, struct tl_tower);
    if (t->biofilm == TL_BIOFILM_SEEDED) {
        tl_text_add(out, SEEDED " ");
        tl_write_number(out, key->dim, t->seeded_share);
    } else {
        tl_text_add(out, biofilms[t->biofilm == TL_BIOFILM_NEW ? 0 : 1]);
    }
    return true;
}
const struct tl_value_type tl_type_biofilm = {
    .name = "new, seeded 30 % (a share of mature) or mature",
    .read = biofilm_read,
    .write = biofilm_write,
    TL_FORMS(TL_WORDS_FORM(biofilms), {.kind = TL_FORM_NUMBER, .lead = SEEDED}),
};

static const char *const saturation[] = {"saturation", NULL};
static const char *const saturated[] = {"saturated", NULL};
static void oxygen_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    struct tl_source *s = FIELD(base, key, struct tl_source);
    s->o2_given = false;
    if (tl_word(n, saturation) == 0 || tl_word(n, saturated) == 0)
        return;
    s->o2_given = tl_read_number(r, n, key, &s->water[TL_O2]);
}
static bool oxygen_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_source *s = FIELD_OF(base, key, struct tl_source);
    if (s->o2_given)
        tl_write_number(out, key->dim, s->water[TL_O2]);
    else
        tl_text_add(out, saturation[0]);
    return true;
}
const struct tl_value_type tl_type_oxygen = {
    .name = "a quantity, or saturation",
    .read = oxygen_read,
    .write = oxygen_write,
    TL_FORMS(TL_NUMBER_FORM, TL_WORDS_FORM(saturation), TL_ALSO_FORM(saturated)),
};

static const char *const free_chloramine[] = {"free", "chloramine", NULL};
static void chlorine_form_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                               void *base)
{
    if (!tl_value_text(r, n, key->type->name))
        return;
    int word = tl_word(n, free_chloramine);
    if (word >= 0)
        *FIELD(base, key, bool) = word == 1;
    else
        unknown_word(r, n, key->type->name);
}
static bool chlorine_form_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    tl_text_add(out, free_chloramine[*FIELD_OF(base, key, bool)]);
    return true;
}
const struct tl_value_type tl_type_chlorine_form = {
    .name = "free or chloramine",
    .read = chlorine_form_read,
    .write = chlorine_form_write,
    TL_FORMS(TL_WORDS_FORM(free_chloramine)),
};

/* --- feeding and fish ------------------------------------------------------------------------ */

static bool growth_none(struct tl_reader *r, struct tl_node *n)
{
    static const char expected[] = "none, or leave it out and give a feed conversion";
    if (!tl_value_text(r, n, expected))
        return false;
    bool is_none = tl_word(n, none) == 0;
    if (!is_none)
        unknown_word(r, n, expected);
    return is_none;
}

static void growth_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    (void)key;
    struct tl_draft *d = base;
    d->growth_none = growth_none(r, n);
}
static bool growth_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    if (*FIELD_OF(base, key, bool))
        return false;
    tl_text_add(out, none[0]);
    return true;
}
const struct tl_value_type tl_type_growth = {
    .name = "none",
    .read = growth_read,
    .write = growth_write,
    TL_FORMS(TL_WORDS_FORM(none)),
};

static void group_growth_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                              void *base)
{
    (void)key;
    (void)base;
    r->draft->growth_none = growth_none(r, n);
}
const struct tl_value_type tl_type_group_growth = {
    .name = "none",
    .read = group_growth_read,
    TL_FORMS(TL_WORDS_FORM(none)),
};

static void conversion_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                            void *base)
{
    struct tl_feeding *f = FIELD(base, key, struct tl_feeding);
    f->grows = tl_read_number(r, n, key, &f->feed_conversion);
}
static bool conversion_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_feeding *f = FIELD_OF(base, key, struct tl_feeding);
    if (!f->grows)
        return false;
    tl_write_number(out, key->dim, f->feed_conversion);
    return true;
}
const struct tl_value_type tl_type_conversion = {
    .name = "a plain number",
    .read = conversion_read,
    .write = conversion_write,
    TL_FORMS(TL_NUMBER_FORM),
};

static void group_conversion_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                                  void *base)
{
    (void)base;
    double value;
    double *group = &r->draft->group_conversion;
    if (!tl_read_number(r, n, key, &value))
        return;
    if (*group > 0 && value != *group)
        tl_fault(r, n, "one feed conversion for all groups", "another group has %.6g", *group);
    *group = value;
}
const struct tl_value_type tl_type_group_conversion = {
    .name = "a plain number",
    .read = group_conversion_read,
    TL_FORMS(TL_NUMBER_FORM),
};

#define RATION_POINT "ration[]"

/* One line of a ration by temperature: {at: 10 degC, ration: 0.5 %/d} in a list, or
 * 10 degC: 0.5 %/d in a mapping. */
static struct tl_ration_point read_ration_point(struct tl_reader *r, struct tl_node *n)
{
    struct tl_ration_point p = {NAN, NAN};
    if (n->key) {
        struct tl_node at = *n; /* the key in the place of a value */
        at.kind = TL_NODE_TEXT;
        at.text = n->key;
        at.line = n->key_line;
        at.column = n->key_column;
        tl_read_number(r, &at, tl_key_find(RATION_POINT, "at"), &p.at_degC);
        tl_read_number(r, n, tl_key_find(RATION_POINT, "ration"), &p.ration_1_d);
    } else {
        tl_read_item(r, n, RATION_POINT, &p);
    }
    return p;
}

static void read_ration_table(struct tl_reader *r, struct tl_node *n, struct tl_ration *out)
{
    struct tl_ration ration = {.kind = TL_RATION_TABLE};
    struct tl_table *t = &ration.table;
    size_t count = tl_node_count(n);
    if (count == 0) {
        tl_fault(r, n, "at least one {at: 10 degC, ration: 0.5 %/d}", "nothing stands in it");
        return;
    }
    t->x = malloc(count * sizeof *t->x);
    t->y = malloc(count * sizeof *t->y);
    if (!t->x || !t->y) {
        r->out_of_memory = true;
        tl_table_free(t);
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next) {
        struct tl_ration_point p = read_ration_point(r, c);
        if (t->n > 0 && p.at_degC <= t->x[t->n - 1])
            tl_fault(r, c, "temperatures that rise from line to line",
                     "not warmer than the one before");
        if (!isnan(p.at_degC) && !isnan(p.ration_1_d)) {
            t->x[t->n] = p.at_degC;
            t->y[t->n++] = p.ration_1_d;
        }
    }
    tl_table_free(&out->table);
    *out = ration;
}

const struct tl_form tl_ration_forms[TL_RATION_FORMS] = {
    [TL_RATION_FORM_SHARE] = TL_NUMBER_FORM,
    [TL_RATION_FORM_MASS] = {.kind = TL_FORM_NUMBER, .dim = TL_DIM_MASS_FLOW, .max = 1e8},
    [TL_RATION_FORM_LIST] = {.kind = TL_FORM_LIST, .below = RATION_POINT, .filled = true},
    [TL_RATION_FORM_TABLE] = {.kind = TL_FORM_TABLE, .below = RATION_POINT, .filled = true},
};

static void ration_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                        void *base)
{
    static const char expected[] = "a share of the mass of the fish a day (%/d), a mass a day "
                                   "(g/d, kg/d, lb/d, oz/d), or a list by temperature";
    const struct tl_form *mass = &tl_ration_forms[TL_RATION_FORM_MASS];
    struct tl_ration *out = FIELD(base, key, struct tl_ration);
    if (n->kind != TL_NODE_TEXT) {
        read_ration_table(r, n, out);
        return;
    }
    const char *text = tl_value_text(r, n, expected);
    char what[WHAT_SIZE];
    char want[WHAT_SIZE];
    double value;
    if (!text)
        return;
    if (tl_parse_quantity(text, mass->dim, &value, what, want, sizeof what) == TL_OK) {
        if (in_range(r, n, mass->dim, mass->min, mass->max, value))
            *out = (struct tl_ration){.kind = TL_RATION_MASS, .value = value};
    } else if (tl_parse_quantity(text, key->dim, &value, what, want, sizeof what) == TL_OK) {
        if (in_range(r, n, key->dim, key->min, key->max, value))
            *out = (struct tl_ration){.kind = TL_RATION_PER_BIOMASS, .value = value};
    } else {
        tl_fault(r, n, expected, "%s", what);
    }
}
static bool ration_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_ration *ration = FIELD_OF(base, key, struct tl_ration);
    if (ration->kind != TL_RATION_TABLE) {
        tl_write_number(out, ration->kind == TL_RATION_MASS ? TL_DIM_MASS_FLOW : TL_DIM_RATE,
                        ration->value);
        return true;
    }
    tl_text_add(out, "[");
    for (size_t i = 0; i < ration->table.n; i++) {
        tl_text_add(out, i > 0 ? ", {at: " : "{at: ");
        tl_write_number(out, TL_DIM_TEMPERATURE, ration->table.x[i]);
        tl_text_add(out, ", ration: ");
        tl_write_number(out, TL_DIM_RATE, ration->table.y[i]);
        tl_text_add(out, "}");
    }
    tl_text_add(out, "]");
    return true;
}
const struct tl_value_type tl_type_ration = {
    .name = "a ration",
    .read = ration_read,
    .write = ration_write,
    .form = tl_ration_forms,
    .forms = TL_RATION_FORMS,
};

static void fish_list_read(struct tl_reader *r, struct tl_node *n, const struct tl_key *key,
                           void *base)
{
    struct tl_setup *s = FIELD(base, key, struct tl_setup);
    size_t count = tl_node_count(n);
    if (n->kind != TL_NODE_LIST) {
        tl_fault(r, n, "a list of groups, as [{name: koi, count: 80, mean mass: 500 g}]",
                 "this is not a list");
        return;
    }
    if (count > 100) {
        tl_fault(r, n, "at most 100 groups", "%zu groups of fish", count);
        return;
    }
    s->fish = calloc(count + 1, sizeof *s->fish);
    if (!s->fish) {
        r->out_of_memory = true;
        return;
    }
    for (struct tl_node *c = n->first; c; c = c->next) {
        struct tl_fish *f = &s->fish[s->fish_groups];
        tl_read_item(r, c, "fish[]", f);
        for (size_t i = 0; i < s->fish_groups; i++)
            if (f->name[0] && is_word(f->name, s->fish[i].name))
                tl_fault(r, c, "another name", "a second group called \"%s\"", f->name);
        s->fish_groups++;
    }
}
static bool fish_list_write(struct tl_text *out, const struct tl_key *key, const void *base)
{
    const struct tl_setup *s = FIELD_OF(base, key, struct tl_setup);
    if (s->fish_groups == 0)
        tl_text_add(out, "[]");
    for (size_t i = 0; i < s->fish_groups; i++) {
        tl_text_add(out, "\n  - ");
        tl_write_item(out, "fish[]", &s->fish[i]);
    }
    return true;
}
const struct tl_value_type tl_type_fish_list = {
    .name = "a list of groups of fish",
    .read = fish_list_read,
    .write = fish_list_write,
    TL_FORMS({.kind = TL_FORM_LIST, .below = "fish[]"}),
};
