/* The public list of keys against the reader it is drawn from: what the list says a key takes, the
 * reader takes; what it says holds without a key, holds. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "reader.h"
#include "towerloop/keys.h"
#include "towerloop/status.h"

#define TEXT_SIZE 256

/* The least that can be run, without a temperature and with swings of one. */
#define LEAST                                                                                      \
    "length: 60 d\n"                                                                               \
    "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}\n"                                 \
    "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"                       \
    "pump: {flow: 4.5 m3/h}\n"                                                                     \
    "tower: {trays: 16, media depth: 3 in, plan area: 0.27 m2}\n"                                  \
    "source water: {alkalinity: 225 mg/L as CaCO3, pH: 7.8}\n"
static const char least[] = LEAST;
static const char swinging[] = LEAST "temperature: {mean: 18 degC}\n";
static const char dosing[] = LEAST "water change: {every: 7 d, amount: 10 %}\n"
                                   "dosing: {baking soda: {hold alkalinity: 2 meq/L}}\n";
static const char outdoors[] =
    LEAST "weather: {air temperature: {mean: 10 degC}, latitude: 48 deg}\n"
          "heater: {keep at: 10 degC}\n";

/* Read with one edit (or NULL). Returns the number of faults; the complete scenario in *written. */
static size_t read_with(const char *text, const char *set, char **written)
{
    struct tl_diag diag;
    struct tl_scenario s;
    const struct tl_scenario_options options = {.set = &set, .sets = set ? 1 : 0};
    size_t length = 0;
    tl_diag_init(&diag);
    int status = tl_scenario_read_text("x.yaml", text, strlen(text), NULL, &options, &s, &diag);
    for (size_t i = 0; i < diag.count; i++) {
        char *message = tl_diag_text(&diag.message[i]);
        print_message("  %s\n", message);
        free(message);
    }
    const size_t errors = diag.errors;
    tl_diag_free(&diag);
    assert_int_equal(status, errors > 0 ? TL_E_INPUT : TL_OK);
    if (written)
        *written = NULL;
    if (status == TL_OK && written) {
        FILE *f = open_memstream(written, &length);
        assert_non_null(f);
        assert_int_equal(tl_scenario_write(&s, f), TL_OK);
        fclose(f);
    }
    tl_scenario_free(&s);
    return errors;
}

static bool in_item(const struct tl_key_info *key)
{
    return strstr(key->path, "[]") != NULL;
}

static const char *text_for(const struct tl_key_info *key)
{
    static const char *const for_outdoors[] = {"weather", "heater", "source water.temperature",
                                               "starting water.temperature"};
    for (size_t i = 0; i < sizeof for_outdoors / sizeof *for_outdoors; i++)
        if (strncmp(key->path, for_outdoors[i], strlen(for_outdoors[i])) == 0)
            return outdoors;
    if (strncmp(key->path, "temperature.", strlen("temperature.")) == 0)
        return swinging;
    return strncmp(key->path, "dosing.", strlen("dosing.")) == 0 ? dosing : least;
}

static void every_row_is_listed_once(void **state)
{
    (void)state;
    assert_int_equal(tl_key_list_size(), tl_key_count);
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key, other;
        tl_key_list_at(i, &key);
        assert_string_equal(key.path, tl_key_table[i].path);
        assert_string_equal(key.path + (key.section > 0 ? key.section + 1 : 0), key.name);
        assert_true(key.help[0] && key.type[0] && key.forms > 0);
        for (size_t j = 0; j < i; j++) {
            tl_key_list_at(j, &other);
            assert_string_not_equal(key.path, other.path);
        }
    }
}

/* Naming a key with its default changes nothing. */
static void defaults_read_back(void **state)
{
    size_t defaults = 0;
    (void)state;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        char value[TEXT_SIZE], set[2 * TEXT_SIZE];
        char *without, *with;
        tl_key_list_at(i, &key);
        const bool known = tl_key_default(i, value, sizeof value);
        assert_int_equal(known, value[0] != '\0');
        if (!known)
            continue;
        tl_format(set, sizeof set, "%s=%s", key.path, value);
        assert_int_equal(read_with(text_for(&key), NULL, &without), 0);
        if (read_with(text_for(&key), set, &with) > 0)
            fail_msg("%s: its default cannot be read", set);
        assert_string_equal(with, without);
        free(with);
        free(without);
        defaults++;
    }
    assert_true(defaults > 100);
}

/* Leaving out a required key is a fault, leaving out any other is none. */
static void only_required_keys_are_needed(void **state)
{
    (void)state;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        char shown[TEXT_SIZE];
        tl_key_list_at(i, &key);
        tl_key_shown_default(i, TL_METRIC, shown, sizeof shown);
        assert_int_equal(strcmp(shown, "needed") == 0, key.required);
        if (key.required && !in_item(&key) && key.section == 0) {
            char line[TEXT_SIZE], *cut = strdup(least);
            tl_format(line, sizeof line, "%s:", key.path);
            char *at = strstr(cut, line);
            assert_non_null(at);
            *at = '#';
            assert_true(read_with(cut, NULL, NULL) > 0);
            free(cut);
        }
    }
}

/* A scenario in which `key`, be it in a list or not, has a value. */
static size_t faults_of(const struct tl_key_info *key, const char *value)
{
    struct tl_text text = {0};
    const bool of_water = strcmp(key->path, "temperature") == 0;
    tl_text_add(&text, of_water ? outdoors : text_for(key));
    if (strncmp(key->path, "events[].", 9) == 0)
        tl_text_addf(&text, "events: [{at: day 1, %s%s: %s}]\n",
                     strcmp(key->name, "rinsed in") == 0 ? "clean: all trays, "
                     : strcmp(key->name, "where") == 0   ? "knock out: 10 %, "
                                                         : "",
                     key->name, value);
    else if (strncmp(key->path, "fish[].", 7) == 0)
        tl_text_addf(&text, "fish: [{name: a, count: 1, mean mass: 1 g, %s: %s}]\n", key->name,
                     value);
    char set[2 * TEXT_SIZE];
    tl_format(set, sizeof set, "%s=%s", key->path, value);
    const size_t faults = read_with(text.data, in_item(key) ? NULL : set, NULL);
    tl_text_free(&text);
    return faults;
}

static void words_are_read(void **state)
{
    size_t words = 0;
    (void)state;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        tl_key_list_at(i, &key);
        for (size_t f = 0; f < key.forms; f++) {
            struct tl_form form;
            char value[TEXT_SIZE];
            tl_key_list_form(i, f, &form);
            for (size_t w = 0; form.kind == TL_FORM_WORDS && form.words[w]; w++, words++)
                if (faults_of(&key, form.words[w]) > 0)
                    fail_msg("%s: %s is not read", key.path, form.words[w]);
            if (!form.lead)
                continue;
            tl_format(value, sizeof value, "%s %.17g%s%s", form.lead, form.max > 1 ? 2 : form.max,
                      *tl_dim_base_unit(form.dim) ? " " : "", tl_dim_base_unit(form.dim));
            if (faults_of(&key, value) > 0)
                fail_msg("%s: %s is not read", key.path, value);
            tl_format(value, sizeof value, "%s %.17g%s%s", form.lead, form.max + 1,
                      *tl_dim_base_unit(form.dim) ? " " : "", tl_dim_base_unit(form.dim));
            assert_true(faults_of(&key, value) > 0);
        }
    }
    assert_true(words > 30);
    struct tl_key_info media = {.path = "tower.media", .name = "media"};
    assert_true(faults_of(&media, "no such word") > 0);
}

/* The ends of a range are read, what lies beyond is not. Alone: cross-checks are of no interest. */
static void ranges_are_those_of_the_reader(void **state)
{
    size_t ranges = 0;
    (void)state;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        struct tl_form form;
        tl_key_list_at(i, &key);
        tl_key_list_form(i, 0, &form);
        if (tl_key_table[i].type != &tl_type_quantity || form.kind != TL_FORM_NUMBER)
            continue;
        const double at[] = {form.min, form.max, form.min - 1, form.max * 2 + 1};
        for (size_t n = 0; n < sizeof at / sizeof *at; n++) {
            struct tl_diag diag;
            struct tl_reader r = {.diag = &diag};
            char text[TEXT_SIZE];
            double value[1];
            struct tl_key alone = tl_key_table[i];
            alone.offset = 0;
            tl_format(text, sizeof text, "%.17g %s", at[n], tl_dim_base_unit(form.dim));
            struct tl_node node = {.kind = TL_NODE_TEXT, .text = text};
            tl_diag_init(&diag);
            alone.type->read(&r, &node, &alone, value);
            assert_int_equal(diag.errors, n < 2 ? 0 : 1);
            tl_diag_free(&diag);
        }
        ranges++;
    }
    assert_true(ranges > 100);
}

/* `for:` goes with the lasting actions and no others; every action has a sample here. */
static void lasting_actions_can_be_put_back(void **state)
{
    static const struct {
        const char *name, *value;
    } sample[] = {
        {"pump", "off"},
        {"flow", "3 m3/h"},
        {"pumps running", "0"},
        {"to tower", "50 %"},
        {"aerator", "off"},
        {"heater", "off"},
        {"power", "off"},
        {"cover", "50 %"},
        {"dead fish", "{name: a, count: 1}"},
        {"knock out", "10 %"},
        {"add fish", "{name: b, count: 1, mean mass: 1 kg}"},
        {"remove fish", "{name: a, count: 1}"},
        {"ration", "0 %/d"},
        {"change water", "10 %"},
        {"dose", "{salt: 1 kg}"},
        {"clean", "all trays"},
        {"hose", "all trays"},
    };
    (void)state;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        struct tl_key_info key;
        size_t n = 0;
        tl_key_list_at(i, &key);
        if (key.action == TL_KEY_NO_ACTION)
            continue;
        assert_true(strncmp(key.path, "events[].", 9) == 0);
        while (n < sizeof sample / sizeof *sample && strcmp(sample[n].name, key.name) != 0)
            n++;
        if (n == sizeof sample / sizeof *sample)
            fail_msg("give %s a sample here", key.path);
        for (int lasts = 0; lasts < 2; lasts++) {
            struct tl_text text = {0};
            tl_text_addf(&text,
                         "%sfish: [{name: a, count: 3, mean mass: 1 kg}]\n"
                         "events: [{at: day 1, %s: %s%s}]\n",
                         least, key.name, sample[n].value, lasts ? ", for: 2 h" : "");
            const bool sound = read_with(text.data, NULL, NULL) == 0;
            assert_int_equal(sound, !lasts || key.action == TL_KEY_LASTING_ACTION);
            tl_text_free(&text);
        }
    }
}

static size_t index_of(const char *path)
{
    struct tl_key_info key;
    for (size_t i = 0; i < tl_key_list_size(); i++) {
        tl_key_list_at(i, &key);
        if (strcmp(key.path, path) == 0)
            return i;
    }
    fail_msg("no key %s", path);
    return 0;
}

static void check_shown(const char *path, enum tl_unit_system system, const char *without,
                        const char *values)
{
    char text[TEXT_SIZE];
    tl_key_shown_default(index_of(path), system, text, sizeof text);
    assert_string_equal(text, without);
    tl_key_shown_values(index_of(path), system, text, sizeof text);
    assert_string_equal(text, values);
}

static void shown_to_people(void **state)
{
    (void)state;
    check_shown("tank.volume", TL_METRIC, "from the sides", "0.001 to 1000000 m3");
    check_shown("temperature", TL_US, "68 degF", "32 to 104 degF; keys; from weather");
    check_shown("report every", TL_METRIC, "15 min", "1 s to 366 d");
    check_shown("feeding.protein", TL_METRIC, "38 %", "0 to 100 %");
    check_shown("tower.biofilm", TL_METRIC, "mature", "new, mature; seeded 0 to 100 %");
    check_shown("tower.media", TL_METRIC, "lava rock",
                "lava rock, fine lava rock, gravel, expanded clay, cut plastic, plastic rings, "
                "ceramic saddles, plastic netting");
    check_shown("tower.submerged", TL_METRIC, "no", "no, yes");
    check_shown("tower.stays moist", TL_METRIC, "12 h, sooner in sun or dry wind", "0 to 30 d");
    check_shown("tower.trays", TL_METRIC, "needed", "whole, 1 to 200");
    check_shown("limits.oxygen.caution", TL_METRIC, "6 mg/L", "0 to 40 mg/L; none");
    check_shown("fish", TL_METRIC, "none", "list of fish[]");
    check_shown("starting water.pH", TL_METRIC, "as source water", "4 to 11");
    check_shown("place", TL_METRIC, "its defaults", "keys");
    check_shown("events[].clean", TL_METRIC, "none",
                "settling chamber, all trays, pump; tray 1 to 200");
    check_shown("pump.flow", TL_US, "needed, or a curve", "0 to 11010000 gal/h");
}

static void a_file_is_asked_which_keys_it_names(void **state)
{
    static const char *const set[] = {"place.elevation=3 m"};
    const struct tl_scenario_options options = {.set = set, .sets = 1};
    bool given[TL_MOST_KEYS] = {false};
    char name[] = "/tmp/towerloop-keys-XXXXXX";
    struct tl_scenario s;
    struct tl_diag diag;
    (void)state;
    int fd = mkstemp(name);
    assert_true(fd >= 0);
    FILE *f = fdopen(fd, "w");
    assert_non_null(f);
    fputs(swinging, f);
    fclose(f);
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read_given(name, &options, given, &s, &diag), TL_OK);
    remove(name);
    assert_true(given[index_of("tank")] && given[index_of("tank.volume")]);
    assert_true(given[index_of("temperature.mean")] && given[index_of("place.elevation")]);
    assert_false(given[index_of("tank.length")] || given[index_of("fish")]);
    assert_false(given[index_of("temperature.daily swing")]);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_is_listed_once),
        cmocka_unit_test(defaults_read_back),
        cmocka_unit_test(only_required_keys_are_needed),
        cmocka_unit_test(words_are_read),
        cmocka_unit_test(ranges_are_those_of_the_reader),
        cmocka_unit_test(lasting_actions_can_be_put_back),
        cmocka_unit_test(shown_to_people),
        cmocka_unit_test(a_file_is_asked_which_keys_it_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
