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

static void add(struct tl_compare *c, const char *name, const char *set)
{
    const char *const sets[] = {"length=2 d", set};
    const struct tl_scenario_options options = {.set = sets, .sets = set ? 2 : 1};
    struct tl_scenario s;
    struct tl_diag d;
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(SCENARIO, &options, &s, &d), TL_OK);
    tl_diag_free(&d);
    assert_int_equal(tl_compare_add(c, name, &s), TL_OK);
}

static void test_names_differ(void **state)
{
    struct tl_compare c = {.rows = 0};
    (void)state;
    add(&c, "base", NULL);
    add(&c, "base", NULL);
    add(&c, "Base", NULL);
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
    check_values("", (const char *const[]){NULL});
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
        cmocka_unit_test(test_threads_change_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
