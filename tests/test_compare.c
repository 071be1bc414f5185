/* Comparing variants: names, values of a list, who is the cheapest, and the same from any threads. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "compare.h"
#include "posix.h"
#include "towerloop/status.h"

#define SCENARIO DATA_DIR "/section10_parameters.yaml"

static void read_scenario(const char *set, struct tl_scenario *s)
{
    const char *const sets[] = {"length=2 d", set};
    const struct tl_scenario_options options = {.set = sets, .sets = set ? 2 : 1};
    struct tl_diag d;
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(SCENARIO, &options, s, &d), TL_OK);
    tl_diag_free(&d);
}

static void add(struct tl_compare *c, const char *name, const char *set)
{
    struct tl_scenario s;
    read_scenario(set, &s);
    const char *twin;
    assert_int_equal(tl_compare_add(c, name, &s, &twin), TL_OK);
    assert_null(twin);
}

static void test_the_same_makes_no_row(void **state)
{
    const char *twin = NULL;
    struct tl_compare c = {.rows = 0};
    struct tl_scenario s;
    (void)state;
    add(&c, "base", NULL);
    add(&c, "five trays", "tower.trays=5");
    read_scenario("tower.trays=5.0", &s);
    assert_int_equal(tl_compare_add(&c, "five again", &s, &twin), TL_OK);
    assert_string_equal(twin, "five trays");
    assert_int_equal(c.rows, 2);
    tl_compare_free(&c);
}

static void test_names_differ(void **state)
{
    struct tl_compare c = {.rows = 0};
    (void)state;
    add(&c, "base", NULL);
    add(&c, "base", "tower.trays=5");
    add(&c, "Base", "tower.trays=6");
    assert_string_equal(c.row[0].name, "base");
    assert_string_equal(c.row[1].name, "base (2)");
    assert_string_equal(c.row[2].name, "Base");
    assert_string_equal(c.run[0], "base");
    assert_string_equal(c.run[1], "base-2");
    assert_string_equal(c.run[2], "base-3");
    tl_compare_free(&c);
}

static void check_values(const char *list, const char *const *expected)
{
    char *value;
    for (; (value = tl_compare_next_value(&list)); expected++) {
        assert_non_null(*expected);
        assert_string_equal(value, *expected);
        free(value);
    }
    assert_null(*expected);
}

static void test_values_of_a_list(void **state)
{
    (void)state;
    check_values("", (const char *const[]){"", NULL});
    check_values("8,", (const char *const[]){"8", "", NULL});
    check_values("8, ", (const char *const[]){"8", "", NULL});
    check_values(",8", (const char *const[]){"", "8", NULL});
    check_values("80", (const char *const[]){"80", NULL});
    check_values("80,100 , 120", (const char *const[]){"80", "100", "120", NULL});
    check_values("600 gal/h,1200 gal/h", (const char *const[]){"600 gal/h", "1200 gal/h", NULL});
    check_values("[{a: 1, b: 2}],[]", (const char *const[]){"[{a: 1, b: 2}]", "[]", NULL});
    check_values("\"a,b\",'c],d'", (const char *const[]){"\"a,b\"", "'c],d'", NULL});
    check_values("1,,2", (const char *const[]){"1", "", "2", NULL});
}

static void test_the_cheapest_of_those_that_pass(void **state)
{
    struct tl_compare_row row[] = {
        {.result.grade = TL_DANGER, .bill.whole_run = 10},
        {.result.grade = TL_CAUTION, .bill.whole_run = 20},
        {.result.grade = TL_WITHIN, .bill.whole_run = 50},
        {.result.grade = TL_WITHIN, .bill.whole_run = 40},
        {.result.grade = TL_WITHIN, .bill.whole_run = 40},
        {.result.grade = TL_WITHIN, .bill.whole_run = NAN},
    };
    const struct tl_compare c = {.row = row, .rows = sizeof row / sizeof *row};
    const struct tl_compare danger = {.row = row, .rows = 1};
    (void)state;
    assert_ptr_equal(tl_compare_cheapest(&c, TL_WITHIN), &row[3]);
    assert_ptr_equal(tl_compare_cheapest(&c, TL_CAUTION), &row[1]);
    assert_ptr_equal(tl_compare_cheapest(&c, TL_DANGER), &row[0]);
    assert_null(tl_compare_cheapest(&danger, TL_CAUTION));
    assert_int_equal(tl_compare_count(&c, TL_WITHIN), 4);
    assert_int_equal(tl_compare_count(&c, TL_CAUTION), 5);
}

/* Two that pass; the second is the cheaper one, and is changed so that they cannot be compared. */
static const char *unlike(void (*change)(struct tl_scenario *s))
{
    struct tl_compare_row row[] = {
        {.result.grade = TL_WITHIN, .bill.whole_run = 50},
        {.result.grade = TL_WITHIN, .bill.whole_run = 40},
    };
    const struct tl_compare c = {.row = row, .rows = 2};
    for (int i = 0; i < 2; i++) {
        row[i].scenario.setup.length_d = 60;
        strcpy(row[i].scenario.costs.currency, "EUR");
    }
    change(&row[1].scenario);
    const char *why = tl_compare_unlike(&c);
    const struct tl_compare_row *cheapest = tl_compare_cheapest(&c, TL_WITHIN);
    assert_ptr_equal(cheapest, why ? NULL : &row[1]);
    return why;
}

static struct tl_event event[] = {
    {.kind = TL_EVENT_PUMP_FLOW, .value = 0, .at_d = 4, .for_d = 0.25},
    {.kind = TL_EVENT_AERATOR, .value = 0, .at_d = 4},
    {.kind = TL_EVENT_PUMPS_RUNNING, .value = 1, .at_d = 4},
    {.kind = TL_EVENT_PUMP_FLOW, .value = 20, .at_d = 4},
    {.kind = TL_EVENT_WATER_CHANGE, .value = 0.3, .at_d = 4},
};
static void happen(struct tl_scenario *s, size_t i)
{
    s->setup.event = &event[i];
    s->setup.events = 1;
}

static void nothing(struct tl_scenario *s)
{
    (void)s;
}
static void longer(struct tl_scenario *s)
{
    s->setup.length_d = 61;
}
static void other_money(struct tl_scenario *s)
{
    strcpy(s->costs.currency, "USD");
}
static void no_price_of_water(struct tl_scenario *s)
{
    s->costs.water_per_m3 = NAN;
}
static void other_price(struct tl_scenario *s)
{
    s->costs.tray_each = 3;
}
static void pump_off(struct tl_scenario *s)
{
    happen(s, 0);
}
static void aerator_off(struct tl_scenario *s)
{
    happen(s, 1);
}
static void fewer_pumps(struct tl_scenario *s)
{
    happen(s, 2);
}
static void other_flow(struct tl_scenario *s)
{
    happen(s, 3);
}
static void new_water(struct tl_scenario *s)
{
    happen(s, 4);
}

static void test_unlike_things_have_no_cheapest(void **state)
{
    (void)state;
    assert_null(unlike(nothing));
    assert_null(unlike(other_price));
    assert_null(unlike(other_flow));
    assert_null(unlike(new_water));
    assert_string_equal(unlike(longer), "run for different times");
    assert_string_equal(unlike(other_money), "have prices in different currencies");
    assert_string_equal(unlike(no_price_of_water), "do not have a price for the same things");
    assert_string_equal(unlike(pump_off), "differ in when pump or aerator is off");
    assert_string_equal(unlike(aerator_off), "differ in when pump or aerator is off");
    assert_string_equal(unlike(fewer_pumps), "differ in when pump or aerator is off");
}

static void compare_with(unsigned threads, struct tl_compare *c, const char *place)
{
    static const char *const inputs[] = {SCENARIO, NULL};
    static const char *const results[] = {NULL};
    static const char *const sets[] = {"tower.trays=3", "tower.trays=5", "fish[0].count=3",
                                       "fish[0].count=30", "pump.flow=300 gal/h"};
    const struct tl_compare_options options = {.threads = threads};
    json_t *question = json_object();
    const struct tl_study_plan plan = {"compare", question, inputs, results, results};
    struct tl_study folder;
    char why[256];
    for (size_t i = 0; i < sizeof sets / sizeof *sets; i++)
        add(c, sets[i], sets[i]);
    assert_int_equal(tl_study_begin(&folder, &plan, place, false, why, sizeof why), TL_OK);
    assert_int_equal(tl_compare_run(c, &folder, &options), TL_OK);
    tl_study_end(&folder);
    json_decref(question);
}

static void test_threads_change_nothing(void **state)
{
    struct tl_compare one = {.rows = 0}, four = {.rows = 0};
    char place[128];
    char *folder = tl_posix_new_folder("compare-test");
    (void)state;
    assert_non_null(folder);
    snprintf(place, sizeof place, "%s/one", folder);
    compare_with(1, &one, place);
    snprintf(place, sizeof place, "%s/four", folder);
    compare_with(4, &four, place);
    for (size_t i = 0; i < one.rows; i++) {
        const struct tl_compare_row *a = &one.row[i], *b = &four.row[i];
        assert_true(a->done && a->fresh && b->done && b->fresh);
        assert_memory_equal(&a->result, &b->result, sizeof a->result);
        assert_memory_equal(&a->amounts, &b->amounts, sizeof a->amounts);
        assert_memory_equal(&a->sheet, &b->sheet, sizeof a->sheet);
    }
    assert_true(one.row[0].result.limit[TL_LIMIT_O2].worst !=
                one.row[3].result.limit[TL_LIMIT_O2].worst);
    tl_compare_free(&one);
    tl_compare_free(&four);
    tl_posix_remove_tree(folder);
    free(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_names_differ),
        cmocka_unit_test(test_values_of_a_list),
        cmocka_unit_test(test_the_cheapest_of_those_that_pass),
        cmocka_unit_test(test_unlike_things_have_no_cheapest),
        cmocka_unit_test(test_the_same_makes_no_row),
        cmocka_unit_test(test_threads_change_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
