/* What is uncertain in a scenario, and the scenario of one point. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "distribution.h"
#include "near.h"
#include "spread_inputs.h"
#include "spread_ranges.h"
#include "towerloop/model.h"
#include "towerloop/status.h"

#define NEW  SCENARIO_DIR "/new-filter.yaml"
#define YEAR SCENARIO_DIR "/full-year-outdoors.yaml"
#define OWN                                                                                        \
    "spread={parameters.mu_aob: {uniform: [0.5 1/d, 1 1/d]}, feeding.appetite: {lognormal: "       \
    "{median: 1, factor: 1.3}}, temperature: {normal: {mean: 18 degC, sd: 1.8 degF}}, source "     \
    "water.pH: {triangular: [7, 7.4, 8]}}"

static size_t read_inputs(const char *file, const char *set, enum tl_spread_from from,
                          struct tl_spread_input **in)
{
    size_t n = 0;
    struct tl_diag diag;
    tl_diag_init(&diag);
    assert_int_equal(tl_spread_inputs_read(file, &set, set ? 1 : 0, from, in, &n, &diag), TL_OK);
    assert_int_equal(diag.errors, 0);
    tl_diag_free(&diag);
    return n;
}

static const struct tl_spread_input *find(const struct tl_spread_input *in, size_t n,
                                          const char *path)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(in[i].path, path) == 0)
            return &in[i];
    return NULL;
}

static void the_scenario_has_the_first_word(void **state)
{
    (void)state;
    struct tl_spread_input *in;
    assert_int_equal(read_inputs(NEW, OWN, TL_SPREAD_OWN, &in), 4);
    assert_string_equal(in[0].path, "parameters.mu_aob");
    assert_int_equal(in[0].d.kind, TL_UNIFORM);
    assert_int_equal(in[0].nature, TL_SPREAD_PARAMETER);
    assert_string_equal(in[0].status, "given");
    near(in[0].given, 0.78, 0);
    assert_int_equal(in[1].nature, TL_SPREAD_HAPPENS);
    near(in[1].d.b, 1.3, 0);
    near(in[1].d.max, 5, 0); /* what the key allows */
    near(in[2].d.a, 18, 0);
    near(in[2].d.b, 1, 1e-12); /* degrees of difference, not a temperature */
    near(in[3].d.a, 7, 0);
    near(in[3].d.c, 7.4, 0);
    near(in[3].d.b, 8, 0);
    free(in);

    const size_t n = read_inputs(NEW, OWN, TL_SPREAD_PUBLISHED, &in);
    assert_true(n > 12);
    assert_non_null(find(in, n, "parameters.b_nob"));
    free(in);
}

/* Of every scenario: 12 to 20 ranges around what it has, each with its source. */
static void built_in_ranges_fit_the_scenario(void **state)
{
    (void)state;
    static const char *const file[] = {"new-filter",        "full-year-outdoors",
                                       "restart-in-spring", "compare-seeded",
                                       "full-sun",          "compare-one-or-two-pumps"};
    for (size_t f = 0; f < sizeof file / sizeof *file; f++) {
        char path[512];
        struct tl_spread_input *in;
        (void)snprintf(path, sizeof path, "%s/%s.yaml", SCENARIO_DIR, file[f]);
        const size_t n = read_inputs(path, NULL, TL_SPREAD_OWN, &in);
        assert_in_range(n, 12, 20);
        for (size_t i = 0; i < n; i++) {
            assert_true(strlen(in[i].source) > 8);
            assert_true(strcmp(in[i].status, "published") == 0 ||
                        strcmp(in[i].status, "judgement") == 0);
            const double low = tl_spread_value(&in[i], 1e-6),
                         high = tl_spread_value(&in[i], 1 - 1e-6);
            const double edge = 0.001 * (high - low); /* likeliest may be an end */
            assert_true(low < high && low - edge <= in[i].given && in[i].given <= high + edge);
        }
        free(in);
    }
}

/* The model's document has a line for each row of the list, with its source. */
static void the_document_has_every_range(void **state)
{
    (void)state;
    static const char *const path[] = {
#define ROW(path, nature, where, kind, a, b, status, source, words) path, source,
        TL_SPREAD_LIST(ROW)
#undef ROW
    };
    static char text[400000];
    FILE *f = fopen(MODEL_FILE, "re");
    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    (void)fclose(f);
    for (size_t i = 0; i < sizeof path / sizeof *path; i += 2) {
        char line[128];
        (void)snprintf(line, sizeof line, "| `%s` | ", path[i]);
        const char *at = strstr(text, line);
        assert_non_null(at);
        const char *source = strstr(at, path[i + 1]);
        assert_true(source && source < strchr(at, '\n'));
    }
}

static void each_has_words_for_a_keeper(void **state)
{
    (void)state;
    static const char *const path[] = {
#define ROW(path, nature, where, kind, a, b, status, source, words) path,
        TL_SPREAD_LIST(ROW)
#undef ROW
    };
    char words[TL_SPREAD_WORDS];
    for (size_t i = 0; i < sizeof path / sizeof *path; i++) {
        tl_spread_words(path[i], words);
        assert_true(strlen(words) > 12 && strchr(words, ' ') && !strchr(words, '_'));
    }
    tl_spread_words("parameters.mu_aob", words);
    assert_string_equal(words, "how fast ammonia-eating bacteria grow");
    /* others by the list of keys, without what stands in brackets or behind a semicolon */
    tl_spread_words("parameters.k_gut", words);
    assert_string_equal(words, "passage through each of two gut stages at 20 degC");
    tl_spread_words("fish[3].mean mass", words);
    assert_true(strlen(words) > 0 && strcmp(words, "fish[3].mean mass") != 0);
    tl_spread_words("no.such key", words);
    assert_string_equal(words, "no.such key");
}

static void only_what_applies_is_taken(void **state)
{
    (void)state;
    struct tl_spread_input *in;
    size_t n = read_inputs(NEW, NULL, TL_SPREAD_OWN, &in);
    assert_non_null(find(in, n, "parameters.new_aob"));
    assert_null(find(in, n, "parameters.mature_aob"));
    assert_null(find(in, n, "weather.warmer"));
    free(in);
    n = read_inputs(NEW, "fish=[]", TL_SPREAD_OWN, &in);
    assert_null(find(in, n, "feeding.appetite"));
    assert_null(find(in, n, "parameters.n_feed"));
    free(in);
    n = read_inputs(NEW, "tower.biofilm=mature", TL_SPREAD_OWN, &in);
    assert_null(find(in, n, "parameters.new_aob"));
    assert_non_null(find(in, n, "parameters.mature_nob"));
    free(in);
    n = read_inputs(NEW, "temperature={mean: 15 degC, daily swing: 1 degC}", TL_SPREAD_OWN, &in);
    assert_null(find(in, n, "temperature"));
    near(find(in, n, "temperature.mean")->given, 15, 0);
    free(in);
    n = read_inputs(YEAR, NULL, TL_SPREAD_OWN, &in);
    assert_non_null(find(in, n, "weather.warmer"));
    assert_null(find(in, n, "temperature"));
    assert_null(find(in, n, "temperature.mean"));
    free(in);
    /* a value that was fitted outside of a published range belongs to it */
    n = read_inputs(NEW, "parameters.mu_aob=0.3 1/d", TL_SPREAD_OWN, &in);
    near(find(in, n, "parameters.mu_aob")->d.a, 0.3, 0);
    near(find(in, n, "parameters.mu_aob")->d.c, 0.3, 0);
    free(in);
}

static void a_point_becomes_a_scenario(void **state)
{
    (void)state;
    static const char *const set[] = {OWN};
    const double u[4] = {0.25, 0.5, 0.9, 0.1};
    struct tl_spread_input *in;
    struct tl_scenario s;
    struct tl_diag diag;
    const size_t n = read_inputs(NEW, OWN, TL_SPREAD_OWN, &in);
    tl_diag_init(&diag);
    assert_int_equal(tl_spread_scenario(NEW, set, 1, in, n, u, &s, &diag), TL_OK);
    /* bit for bit: the value goes by way of a text */
    assert_true(s.setup.params.mu_aob == 0.625);
    near(s.setup.feeding.appetite, 1, 1e-9); /* cut at 5, which takes next to nothing */
    assert_true(s.setup.temperature.mean_degC == tl_spread_value(&in[2], 0.9));
    assert_true(s.setup.source.ph == tl_spread_value(&in[3], 0.1));
    assert_int_equal(s.spreads, 4);
    tl_scenario_free(&s);
    tl_diag_free(&diag);
    free(in);
}

/* A written scenario reads back with the same list, and a copy has it too. */
static void the_list_is_written_and_copied(void **state)
{
    (void)state;
    static const char *const set[] = {OWN};
    const struct tl_scenario_options options = {.set = set, .sets = 1};
    struct tl_scenario s, copy, again;
    struct tl_diag diag;
    char *text = NULL;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(NEW, &options, &s, &diag), TL_OK);
    assert_int_equal(tl_scenario_copy(&copy, &s), TL_OK);
    tl_scenario_free(&s);
    assert_int_equal(tl_scenario_text(&copy, &text), TL_OK);
    assert_int_equal(tl_scenario_read_text("again", text, strlen(text), NULL, NULL, &again, &diag),
                     TL_OK);
    assert_int_equal(copy.spreads, 4);
    assert_int_equal(again.spreads, 4);
    for (size_t i = 0; i < 4; i++) {
        const struct tl_distribution *a = &copy.spread[i].d, *b = &again.spread[i].d;
        assert_string_equal(copy.spread[i].path, again.spread[i].path);
        assert_int_equal(a->kind, b->kind);
        assert_true(a->a == b->a && a->b == b->b && a->c == b->c);
    }
    free(text);
    tl_scenario_free(&copy);
    tl_scenario_free(&again);
    tl_diag_free(&diag);
}

static void read_with(const char *file, const char *a, const char *b, struct tl_scenario *s)
{
    const char *const set[] = {a, b};
    const struct tl_scenario_options options = {.set = set, .sets = b ? 2 : 1};
    struct tl_diag diag;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read(file, &options, s, &diag), TL_OK);
    tl_diag_free(&diag);
}

/* `warmer` shifts water and air alike at all times, and water stays water. */
static void warmer_shifts_all_of_it(void **state)
{
    (void)state;
    struct tl_scenario s, w;
    read_with(NEW, "temperature={mean: 15 degC, daily swing: 1 degC}", NULL, &s);
    read_with(NEW, "temperature={mean: 15 degC, daily swing: 1 degC, warmer: 2.5 degC}", NULL, &w);
    for (double t = 0; t < 2; t += 0.1)
        near(tl_water_temperature_at(&w.setup.temperature, t),
             tl_water_temperature_at(&s.setup.temperature, t) + 2.5, 1e-12);
    w.setup.temperature.warmer_degC = -18;
    near(tl_water_temperature_at(&w.setup.temperature, 0.3), 0, 0);
    tl_scenario_free(&s);
    tl_scenario_free(&w);
    read_with(YEAR, "length=20 d", NULL, &s);
    read_with(YEAR, "length=20 d", "weather.warmer=3 degC", &w);
    near(tl_temperature_at(&w.setup.weather.air, 4.2),
         tl_temperature_at(&s.setup.weather.air, 4.2) + 3, 1e-12);
    tl_scenario_free(&s);
    tl_scenario_free(&w);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_scenario_has_the_first_word),
        cmocka_unit_test(built_in_ranges_fit_the_scenario),
        cmocka_unit_test(the_document_has_every_range),
        cmocka_unit_test(each_has_words_for_a_keeper),
        cmocka_unit_test(only_what_applies_is_taken),
        cmocka_unit_test(a_point_becomes_a_scenario),
        cmocka_unit_test(the_list_is_written_and_copied),
        cmocka_unit_test(warmer_shifts_all_of_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
