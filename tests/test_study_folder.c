/* The folder of a study: going on, starting anew, what is refused, and results read back. */
#include <errno.h>
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
#include "posix.h"
#include "study_folder.h"
#include "text.h"
#include "towerloop/assess.h"
#include "towerloop/status.h"

#define SCENARIO DATA_DIR "/section10_parameters.yaml"

static const char *const inputs[] = {SCENARIO, NULL};
static const char *const results[] = {"compare.csv", NULL};
static const char *const charts[] = {"compare", NULL};

struct bench {
    char *folder;    /* ours to delete */
    char place[512]; /* of the study */
    char why[512];
    json_t *question;
    struct tl_study_plan plan;
    struct tl_study study;
    struct tl_scenario scenario;
};

static void read_scenario(struct tl_scenario *s, const char *set)
{
    const char *const sets[] = {set, "length=2 d"};
    const struct tl_scenario_options options = {.set = sets, .sets = 2};
    struct tl_diag d;
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(SCENARIO, &options, s, &d), TL_OK);
    tl_diag_free(&d);
}

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    b->folder = tl_posix_new_folder("study-test");
    assert_non_null(b->folder);
    snprintf(b->place, sizeof b->place, "%s/deep/study", b->folder);
    b->question = json_pack("{s:s}", "vary", "trays");
    b->plan = (struct tl_study_plan){"compare", b->question, inputs, results, charts};
    read_scenario(&b->scenario, "tower.trays=4");
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    tl_study_end(&b->study);
    tl_posix_remove_tree(b->folder);
    free(b->folder);
    json_decref(b->question);
    tl_scenario_free(&b->scenario);
    free(b);
    return 0;
}

static int begin(struct bench *b, bool force)
{
    tl_study_end(&b->study);
    return tl_study_begin(&b->study, &b->plan, b->place, force, b->why, sizeof b->why);
}

/* Whether it had to be run. */
static bool run(struct bench *b, const char *name, const struct tl_scenario *s, double rtol,
                struct tl_run_result *out)
{
    const struct tl_record_options options = {.assess.rtol = rtol, .rows = true};
    bool fresh = false;
    assert_int_equal(tl_study_run(&b->study, name, s, &options, out, &fresh, b->why, sizeof b->why),
                     TL_OK);
    return fresh;
}

static bool there(const struct bench *b, const char *name)
{
    char path[600];
    enum tl_posix_kind kind;
    snprintf(path, sizeof path, "%s/%s", b->place, name);
    assert_int_equal(tl_posix_look(path, &kind), TL_OK);
    return kind != TL_POSIX_NOTHING;
}

static void put(const struct bench *b, const char *name, const char *text)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", b->place, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}

static void test_result_is_that_of_the_run(void **state)
{
    struct bench *b = *state;
    struct tl_run_result got;
    struct tl_assessment a;
    struct tl_model *m = NULL;
    assert_int_equal(begin(b, false), TL_OK);
    assert_true(run(b, "one", &b->scenario, 0, &got));
    assert_int_equal(tl_model_build(&b->scenario.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &b->scenario.limits, NULL, &a), TL_OK);
    tl_model_free(m);
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *v = &a.verdict.limit[i];
        assert_true(got.limit[i].worst == v->worst ||
                    (isnan(got.limit[i].worst) && isnan(v->worst)));
        assert_true(got.limit[i].hours_caution == v->hours_caution);
        assert_true(got.limit[i].hours_danger == v->hours_danger);
        assert_int_equal(got.limit[i].grade, v->grade);
        assert_string_equal(got.limit[i].unit, v->unit);
    }
    assert_int_equal(got.fish_lost, !isnan(a.fish_lost_d));
    assert_string_equal(a.ledger.nitrogen.line[0].key, "feed");
    near(got.given.feed_g * b->scenario.setup.feeding.protein *
             b->scenario.setup.params.n_of_protein,
         a.ledger.nitrogen.line[0].amount, 1e-12);
    near(got.given_a_month.feed_g, got.given.feed_g, 1e-12); /* the run is shorter */
    for (int i = 0; i < TL_NEXTREME; i++) {
        assert_true(got.extreme[i].lowest == a.extremes.of[i].lowest);
        assert_true(got.extreme[i].highest == a.extremes.of[i].highest);
    }
    assert_true(got.extreme[TL_EXTREME_TAN].highest > got.extreme[TL_EXTREME_TAN].lowest);
    near(got.hours_without_fish, 0, 0);
    for (int i = 0; i < TL_NRANGE; i++)
        assert_true(isnan(got.outside[i]));
    assert_true(there(b, "runs/one/series.csv"));
    assert_true(there(b, "inputs/section10_parameters.yaml"));
}

/* What lay outside a published range comes back by its name. */
static void test_ranges_are_read_back(void **state)
{
    struct bench *b = *state;
    struct tl_run_result got;
    struct tl_scenario other;
    read_scenario(&other, "pump.flow=200 L/h");
    assert_int_equal(begin(b, false), TL_OK);
    assert_true(run(b, "one", &other, 0, &got));
    near(got.outside[TL_RANGE_LOAD], 0.2 / other.setup.tower.plan_area_m2, 1e-12);
    for (int i = 0; i < TL_NRANGE; i++)
        assert_true(i == TL_RANGE_LOAD || isnan(got.outside[i]));
    tl_scenario_free(&other);
    read_scenario(&other, "temperature=12 degC"); /* three ranges are of temperature */
    assert_true(run(b, "two", &other, 0, &got));
    near(got.outside[TL_RANGE_FISH_TEMPERATURE], 12, 1e-12);
    for (int i = 0; i < TL_NRANGE; i++)
        assert_true(i == TL_RANGE_FISH_TEMPERATURE || isnan(got.outside[i]));
    tl_scenario_free(&other);
}

static void test_goes_on(void **state)
{
    struct bench *b = *state;
    struct tl_run_result first, second;
    struct tl_scenario other;
    assert_int_equal(begin(b, false), TL_OK);
    assert_true(run(b, "one", &b->scenario, 0, &first));
    assert_int_equal(begin(b, false), TL_OK); /* the same question again */
    assert_false(run(b, "one", &b->scenario, 0, &second));
    assert_memory_equal(&first, &second, sizeof first);
    assert_true(run(b, "one", &b->scenario, 1e-6, &second)); /* another tolerance */
    assert_true(run(b, "one", &b->scenario, 0, &second));
    read_scenario(&other, "tower.trays=5");
    assert_true(run(b, "one", &other, 0, &second)); /* another scenario */
    assert_true(second.limit[TL_LIMIT_O2].worst != first.limit[TL_LIMIT_O2].worst);
    tl_scenario_free(&other);
}

static void test_another_build_runs_again(void **state)
{
    struct bench *b = *state;
    struct tl_run_result r;
    char path[600];
    char *text = NULL;
    size_t length;
    assert_int_equal(begin(b, false), TL_OK);
    assert_true(run(b, "one", &b->scenario, 0, &r));
    snprintf(path, sizeof path, "%s/runs/one/summary.json", b->place);
    assert_int_equal(tl_read_file(path, 1u << 20, &text, &length), TL_OK);
    char *commit = strstr(text, "\"commit\": \"");
    assert_non_null(commit);
    commit[strlen("\"commit\": \"")] ^= 1;
    put(b, "runs/one/summary.json", text);
    free(text);
    assert_true(run(b, "one", &b->scenario, 0, &r));
    put(b, "runs/one/summary.json", "{\"format\": 1"); /* cut off: by what else is not ours */
    const struct tl_record_options options = {.rows = true};
    assert_int_equal(
        tl_study_run(&b->study, "one", &b->scenario, &options, &r, NULL, b->why, sizeof b->why),
        TL_E_REFUSED);
    assert_non_null(strstr(b->why, "left alone"));
    assert_non_null(strstr(b->why, "move this one away if it holds earlier results"));
}

static void test_without_rows(void **state)
{
    struct bench *b = *state;
    struct tl_run_result light, whole;
    const struct tl_record_options options = {.rows = false};
    bool fresh;
    assert_int_equal(begin(b, false), TL_OK);
    assert_int_equal(tl_study_run(&b->study, "one", &b->scenario, &options, &light, &fresh, b->why,
                                  sizeof b->why),
                     TL_OK);
    assert_false(there(b, "runs/one/series.csv"));
    assert_true(run(b, "one", &b->scenario, 0, &whole)); /* the rows are wanted now */
    assert_memory_equal(&light, &whole, sizeof light);
}

static void test_another_question_is_refused(void **state)
{
    struct bench *b = *state;
    struct tl_run_result r;
    assert_int_equal(begin(b, false), TL_OK);
    (void)run(b, "one", &b->scenario, 0, &r);
    json_object_set_new(b->question, "vary", json_string("fish"));
    assert_int_equal(begin(b, false), TL_E_REFUSED);
    assert_non_null(strstr(b->why, "another question"));
    assert_true(there(b, "runs/one/summary.json"));
    assert_int_equal(begin(b, true), TL_OK);
    assert_false(there(b, "runs/one"));
    b->plan.kind = "size";
    (void)run(b, "one", &b->scenario, 0, &r);
    assert_int_equal(begin(b, false), TL_E_REFUSED);
    assert_int_equal(begin(b, true), TL_E_REFUSED);
    assert_non_null(strstr(b->why, "another command"));
    assert_true(there(b, "runs/one/summary.json"));
}

static void test_foreign_things_stay(void **state)
{
    static const char *const foreign[] = {"notes.txt", "runs/notes.txt", "inputs/x.yaml",
                                          "runs/one/photo.jpg"};
    struct bench *b = *state;
    struct tl_run_result r;
    char path[600];
    for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++) {
        assert_int_equal(begin(b, false), TL_OK);
        (void)run(b, "one", &b->scenario, 0, &r);
        put(b, foreign[i], "mine");
        assert_int_equal(begin(b, true), TL_E_REFUSED);
        assert_non_null(strstr(b->why, "left alone: move it away"));
        assert_true(there(b, foreign[i]));
        assert_true(there(b, "runs/one/summary.json"));
        snprintf(path, sizeof path, "%s/%s", b->place, foreign[i]);
        assert_int_equal(remove(path), 0);
    }
    put(b, "study.json", "{}"); /* not ours */
    assert_int_equal(begin(b, false), TL_E_REFUSED);
    assert_int_equal(begin(b, true), TL_E_REFUSED);
    assert_true(there(b, "runs/one/summary.json"));
}

static void test_finish_deletes_what_is_no_more_asked(void **state)
{
    struct bench *b = *state;
    struct tl_run_result r;
    const char kept[1][TL_STUDY_NAME_SIZE] = {"one"};
    assert_int_equal(begin(b, false), TL_OK);
    (void)run(b, "one", &b->scenario, 0, &r);
    (void)run(b, "two", &b->scenario, 0, &r);
    assert_int_equal(tl_study_write(&b->study, "compare.csv", "x\n"), TL_OK);
    assert_int_equal(tl_study_finish(&b->study, kept, 1), TL_OK);
    assert_true(there(b, "runs/one/summary.json"));
    assert_false(there(b, "runs/two"));
    assert_true(there(b, "compare.csv"));
}

static void test_nothing_done_leaves_nothing(void **state)
{
    struct bench *b = *state;
    enum tl_posix_kind kind;
    char path[600];
    assert_int_equal(begin(b, false), TL_OK);
    assert_true(there(b, "study.json"));
    tl_study_end(&b->study);
    snprintf(path, sizeof path, "%s/deep", b->folder);
    assert_int_equal(tl_posix_look(path, &kind), TL_OK);
    assert_int_equal(kind, TL_POSIX_NOTHING);
}

static void test_names(void **state)
{
    static const struct {
        const char *text, *name;
    } row[] = {
        {"20 now, 40 in three weeks", "20-now-40-in-three-weeks"},
        {"fish[0].count=80", "fish-0-count-80"},
        {"Base", "base"},
        {"BASE!", "base-2"},
        {"base", "base-3"},
        {"\xe6\xb0\xb4", "run"},
        {"../..", "run-2"},
        {"", "run-3"},
    };
    enum { ROWS = sizeof row / sizeof *row };
    char taken[ROWS][TL_STUDY_NAME_SIZE];
    (void)state;
    for (size_t i = 0; i < ROWS; i++) {
        tl_study_name(row[i].text, taken, i, taken[i]);
        assert_string_equal(taken[i], row[i].name);
    }
    char endless[500];
    memset(endless, 'x', sizeof endless - 1);
    endless[sizeof endless - 1] = '\0';
    tl_study_name(endless, taken, 0, taken[0]);
    tl_study_name(endless, taken, 1, taken[1]);
    assert_true(strlen(taken[1]) < TL_STUDY_NAME_SIZE);
    assert_string_not_equal(taken[0], taken[1]);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_result_is_that_of_the_run),
        TEST(test_ranges_are_read_back),
        TEST(test_goes_on),
        TEST(test_another_build_runs_again),
        TEST(test_without_rows),
        TEST(test_another_question_is_refused),
        TEST(test_foreign_things_stay),
        TEST(test_finish_deletes_what_is_no_more_asked),
        TEST(test_nothing_done_leaves_nothing),
        cmocka_unit_test(test_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
