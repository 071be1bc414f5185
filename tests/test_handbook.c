/* The handbook arithmetic against worked examples of handbooks (tests/data/worked_examples.csv), and
 * its lines for a scenario against the same sums done here by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "outside/data.h"
#include "towerloop/chem.h"
#include "towerloop/handbook.h"
#include "towerloop/status.h"

/* --- the worked examples ------------------------------------------------------------------------ */

enum { INPUTS = 4 };

static double tan_from_feed(const double *in)
{
    return tl_handbook_tan_g_d(in[0], in[1]);
}

/* Metcalf & Eddy, example 8-3: everything but the temperature as there. */
static struct tl_handbook_sludge example(const double *in)
{
    struct tl_handbook_sludge s = {.flow_m3_d = 22700,
                                   .bcod_g_m3 = 1.6 * 140,
                                   .nbvss_g_m3 = 20,
                                   .inert_tss_g_m3 = 70 - 60,
                                   .srt_d = 5,
                                   .t_degC = in[0]};
    tl_handbook_sludge(&s);
    return s;
}

static double mu(const double *in)
{
    return example(in).mu_1_d;
}

static double death(const double *in)
{
    return example(in).b_1_d;
}

static double bcod_left(const double *in)
{
    return example(in).left_bcod_g_m3;
}

static double biomass(const double *in)
{
    return example(in).biomass_g_d / 1000;
}

static double debris(const double *in)
{
    return example(in).debris_g_d / 1000;
}

static double grown(const double *in)
{
    return biomass(in) + debris(in);
}

static double vss(const double *in)
{
    return example(in).vss_g_d / 1000;
}

static double tss(const double *in)
{
    return example(in).tss_g_d / 1000;
}

static double stay(const double *in)
{
    return tl_handbook_nitrifier_stay_d(in[0], in[1], in[2], in[3]);
}

static double baking_soda(const double *in)
{
    return tl_handbook_baking_soda_g_d(in[0], in[1], in[2], in[3]);
}

static double areal_rate(const double *in)
{
    return tl_handbook_areal_rate(in[0], in[1]);
}

static double areal_line(const double *in)
{
    return tl_handbook_areal_line(in[0]);
}

static double resting_oxygen(const double *in)
{
    return tl_handbook_rest_o2_g_kg_d(in[0], in[1]) * 1000 / 24;
}

static double critical_oxygen(const double *in)
{
    return tl_handbook_critical_o2(in[0]);
}

static double share(const double *in)
{
    return tl_nh3_fraction(in[0], in[1]);
}

/* 25 mg of ammonia per 100 g of fish a day: a rule of the trade that the program does not use. */
static double by_fish_mass(const double *in)
{
    return in[0] * in[1];
}

static const struct {
    const char *quantity;
    double (*value)(const double *in);
} example_of[] = {
    {"tan from feed", tan_from_feed},
    {"mu of heterotrophs", mu},
    {"death of heterotrophs", death},
    {"bcod left", bcod_left},
    {"biomass", biomass},
    {"debris", debris},
    {"biomass and debris", grown},
    {"vss", vss},
    {"tss", tss},
    {"nitrifier stay", stay},
    {"baking soda", baking_soda},
    {"areal rate", areal_rate},
    {"areal line", areal_line},
    {"resting oxygen", resting_oxygen},
    {"critical oxygen", critical_oxygen},
    {"un-ionised share", share},
    {"ammonia of fish mass", by_fish_mass},
};
enum { EXAMPLES = sizeof example_of / sizeof *example_of };

static void check_row(const struct data_file *d, size_t row)
{
    static const char *const input[INPUTS] = {"a", "b", "c", "d"};
    double in[INPUTS];
    char what[128];
    size_t i = 0;

    for (size_t k = 0; k < INPUTS; k++)
        in[k] = strtod(d->cell[row][data_column(d, input[k])], NULL);
    const char *quantity = d->cell[row][data_column(d, "quantity")];
    while (i < EXAMPLES && strcmp(example_of[i].quantity, quantity) != 0)
        i++;
    if (i == EXAMPLES)
        fail_msg("nothing reckons %s", quantity);
    snprintf(what, sizeof what, "%s (%s)", quantity, d->cell[row][data_column(d, "source")]);
    near_at(example_of[i].value(in), strtod(d->cell[row][data_column(d, "value")], NULL),
            strtod(d->cell[row][data_column(d, "tolerance")], NULL), what, __FILE__, __LINE__);
}

static void test_worked_examples_come_out(void **state)
{
    struct data_file *d = calloc(1, sizeof *d);
    (void)state;
    assert_non_null(d);
    assert_int_equal(data_read(DATA_DIR, "worked_examples.csv", d), 0);
    assert_true(d->rows >= 40);
    for (size_t row = 0; row < d->rows; row++)
        check_row(d, row);
    data_free(d);
    free(d);
}

/* --- the edges ---------------------------------------------------------------------------------- */

static void test_what_cannot_be_is_infinite_or_nothing(void **state)
{
    (void)state;
    assert_true(tl_handbook_areal_rate(0.07, 20) == 0);
    assert_true(tl_handbook_areal_rate(0, 20) == 0);
    assert_true(tl_handbook_areal_line(1) == 0);
    assert_true(isinf(tl_handbook_flow_m3_d(10, 0)));
    assert_true(isinf(tl_handbook_flow_m3_d(10, -1)));
    assert_true(isinf(tl_handbook_nitrifier_stay_d(0.01, 2, 12, 1)));
    near(tl_handbook_flow_m3_d(48, 2), 24, 1e-12);
}

/* --- the lines of a scenario -------------------------------------------------------------------- */

#define SCENARIO                                                                                   \
    "format: 1\ntitle: t\nstart: 2027-06-01\nlength: 2 d\ntemperature: 20 degC\n"                  \
    "tank: {volume: 10 m3, surface: 8 m2, wetted walls: 20 m2}\n"                                  \
    "settling chamber: {volume: 500 L, surface: 1 m2, wetted walls: 3 m2}\n"                       \
    "pump: {flow: 4 m3/h}\n"                                                                       \
    "tower: {trays: 10, media depth: 0.1 m, plan area: 0.25 m2, biofilm: mature}\n"                \
    "source water: {alkalinity: 3 meq/L, pH: 7.8, nitrate: 4 mg/L as N}\n"                         \
    "fish: [{name: a, count: 20, mean mass: 500 g}, {name: b, count: 10, mean mass: 1 kg}]\n"      \
    "feeding: {ration: 1 %/d, protein: 40 %, meals: [\"08:00\"]}\n"                                \
    "events: [{at: day 1, add fish: {name: c, count: 5, mean mass: 2 kg}}]\n"

static void read_scenario(const char *text, struct tl_scenario *s)
{
    struct tl_diag diag;
    tl_diag_init(&diag);
    assert_int_equal(tl_scenario_read_text("t", text, strlen(text), NULL, NULL, s, &diag), TL_OK);
    tl_diag_free(&diag);
}

static const struct tl_handbook_line *line(const struct tl_handbook *h, const char *key)
{
    for (size_t i = 0; i < h->lines; i++)
        if (strcmp(h->line[i].key, key) == 0)
            return &h->line[i];
    fail_msg("no line %s", key);
    return NULL;
}

static void test_lines_put_the_numbers_of_the_scenario_in(void **state)
{
    struct tl_scenario s;
    struct tl_handbook h;
    (void)state;
    read_scenario(SCENARIO, &s);
    tl_handbook_make(&s, NULL, 0.1, &h);

    near(line(&h, "fish_mass")->value, 10 + 10 + 10, 1e-9);
    near(line(&h, "feed")->value, 300, 1e-9);
    near(line(&h, "ammonia_from_feed")->value, 300 * 0.4 * 0.092, 1e-9);
    /* Masser's table gives 0.0244 at 20 degC and pH 7.8; the limit is 0.02 */
    near(line(&h, "ammonia_allowed")->value, 0.02 * 0.9 / 0.0244, 0.003);
    const double tan = line(&h, "ammonia_allowed")->value;
    near_rel(line(&h, "areal_rate")->value, 1.859 * (tan - 0.07) / (tan + 1.93) * pow(1.043, -7.2),
             1e-12);
    near_rel(line(&h, "area_by_law")->value, 11.04 / line(&h, "areal_rate")->value, 1e-9);
    near_rel(line(&h, "area_by_line")->value, 11.04 / 0.9877, 1e-9);
    /* 0.1 m x 0.25 m2 x 200 m2/m3 is 5 m2, about half of it wetted */
    assert_true(line(&h, "wetted_area")->value > 2 && line(&h, "wetted_area")->value < 4);
    near(line(&h, "trays_by_line")->value, ceil(11.04 / 0.9877 / line(&h, "wetted_area")->value),
         0);
    near_rel(line(&h, "alkalinity_used")->value, 7.14 * 11.04, 1e-9);
    near_rel(line(&h, "baking_soda")->value, 7.14 * 11.04 * 1.68, 1e-9);
    near_rel(line(&h, "water_change")->value, 11.04 / (0.9 * 40 - 4), 1e-9);
    near_rel(line(&h, "nitrifier_oxygen")->value, 4.57 * 11.04, 1e-9);
    for (size_t i = 0; i < h.lines; i++) {
        assert_true(isnan(h.line[i].simulated));
        assert_string_equal(h.line[i].why, "");
        assert_true(*h.line[i].source && *h.line[i].formula);
    }
    tl_scenario_free(&s);
}

static void test_the_run_stands_beside(void **state)
{
    struct tl_scenario s;
    struct tl_handbook h;
    struct tl_model *m;
    static struct tl_assessment a;
    (void)state;
    read_scenario(SCENARIO, &s);
    assert_int_equal(tl_model_build(&s.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &s.limits, NULL, &a), TL_OK);
    tl_handbook_make(&s, &a, 0.1, &h);
    /* day 0: 20 kg fed 1 %; day 1: 30 kg */
    near(line(&h, "feed")->simulated, 250, 1e-6);
    near(line(&h, "trays_by_law")->simulated, 10, 0);
    near(line(&h, "flow_for_oxygen")->simulated, 4, 1e-9);
    assert_true(line(&h, "fish_oxygen")->simulated > line(&h, "fish_oxygen")->value);
    for (size_t i = 0; i < h.lines; i++)
        if (!isnan(h.line[i].simulated))
            assert_true(*h.line[i].why);
    tl_model_free(m);
    tl_scenario_free(&s);
}

static void test_without_fish_nothing_is_needed(void **state)
{
    static const char text[] =
        "format: 1\ntitle: t\nstart: 2027-06-01\nlength: 2 d\ntemperature: 20 degC\n"
        "tank: {volume: 10 m3, surface: 8 m2, wetted walls: 20 m2}\n"
        "settling chamber: {volume: 500 L, surface: 1 m2, wetted walls: 3 m2}\n"
        "pump: {flow: 0 m3/h}\n"
        "tower: {trays: 10, media depth: 0.1 m, plan area: 0.25 m2}\n"
        "source water: {alkalinity: 3 meq/L, pH: 7.8}\n";
    struct tl_scenario s;
    struct tl_handbook h;
    (void)state;
    read_scenario(text, &s);
    tl_handbook_make(&s, NULL, 0.1, &h);
    assert_true(line(&h, "feed")->value == 0);
    assert_true(line(&h, "area_by_law")->value == 0);
    assert_true(line(&h, "wetted_area")->value == 0); /* the pump stands still */
    tl_scenario_free(&s);
}

/* The arithmetic takes what is worst: the warmest hour, the highest pH, the day of most feed. */
static void test_the_worst_goes_in(void **state)
{
    static const char text[] =
        "format: 1\ntitle: t\nstart: 2027-05-01\nlength: 100 d\n"
        "temperature: {mean: 16 degC, seasonal swing: 8 degC, warmest day: 07-25, daily swing: 1 "
        "degC}\n"
        "tank: {volume: 10 m3, surface: 8 m2, wetted walls: 20 m2}\n"
        "settling chamber: {volume: 500 L, surface: 1 m2, wetted walls: 3 m2}\n"
        "pump: {flow: 4 m3/h}\n"
        "tower: {trays: 10, media depth: 0.1 m, plan area: 0.25 m2, biofilm: mature}\n"
        "source water: {alkalinity: 3 meq/L, pH: 7.8, nitrate: 4 mg/L as N}\n"
        "fish: [{name: a, count: 20, mean mass: 500 g}]\n"
        "feeding: {ration: 0.6 %/d, protein: 40 %, meals: [\"08:00\"]}\n"
        "events: [{at: day 60, ration: 1 %/d}]\n";
    struct tl_scenario s;
    struct tl_handbook h;
    static struct tl_assessment a;
    (void)state;
    read_scenario(text, &s);
    a.verdict.limit[TL_LIMIT_PH_HIGH].worst = 8.3;
    a.ledger.length_d = 100;
    tl_handbook_make(&s, &a, 0, &h);
    near(line(&h, "feed")->value, 100, 1e-9);
    near_rel(line(&h, "unionised_share")->value, tl_nh3_fraction(25, 8.3), 1e-3);
    assert_non_null(strstr(line(&h, "unionised_share")->formula, "highest pH of the run, 8.3"));
    /* the line ends at 22.5 degC */
    near(line(&h, "areal_line")->value, 0.05368 * 22.5 - 0.0859, 1e-12);
    assert_non_null(strstr(line(&h, "areal_line")->formula, "the water has 25 degC"));
    a.verdict.limit[TL_LIMIT_PH_HIGH].worst = 7.5; /* the source is higher */
    tl_handbook_make(&s, &a, 0, &h);
    near_rel(line(&h, "unionised_share")->value, tl_nh3_fraction(25, 7.8), 1e-3);
    tl_scenario_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_examples_come_out),
        cmocka_unit_test(test_what_cannot_be_is_infinite_or_nothing),
        cmocka_unit_test(test_lines_put_the_numbers_of_the_scenario_in),
        cmocka_unit_test(test_the_run_stands_beside),
        cmocka_unit_test(test_without_fish_nothing_is_needed),
        cmocka_unit_test(test_the_worst_goes_in),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
