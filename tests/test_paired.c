/* Scenarios over the same points: the first is a spread of its own, the others take its values. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "paired.h"
#include "posix.h"
#include "spread_merge.h"
#include "tally.h"
#include "text.h"
#include "towerloop/status.h"

#define FILE_NAME DATA_DIR "/section10_parameters.yaml"

enum { RUNS = 100, SCENARIOS = 3 };
static const char *const plain[] = {"length=2 d", "tower.trays=4", "fish[0].count=8"};
/* another film: what it begins with is another input; and more fish than it can bear */
static const char *const fresh[] = {"length=2 d", "tower.trays=4", "tower.biofilm=new",
                                    "fish[0].count=300"};

struct bench {
    struct tl_scenario scenario[SCENARIOS];
    struct tl_paired paired[SCENARIOS];
    char *folder;
};

static void read_one(struct bench *b, size_t i, const char *const *set, size_t sets)
{
    const struct tl_scenario_options options = {.set = set, .sets = sets};
    struct tl_text place = {0};
    struct tl_diag d;
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(FILE_NAME, &options, &b->scenario[i], &d), TL_OK);
    tl_text_addf(&place, "%s/%zu", b->folder, i);
    b->paired[i] = (struct tl_paired){.file = FILE_NAME,
                                      .set = set,
                                      .sets = sets,
                                      .scenario = &b->scenario[i],
                                      .folder = place.data};
    tl_diag_free(&d);
}

static int set_up(void **state)
{
    const struct tl_paired_plan plan = {RUNS, 7, TL_SPREAD_PUBLISHED};
    struct bench *b = calloc(1, sizeof *b);
    struct tl_diag d;
    assert_non_null(b);
    b->folder = tl_posix_new_folder("paired-test");
    assert_non_null(b->folder);
    read_one(b, 0, plain, 3);
    read_one(b, 1, fresh, 4);
    read_one(b, 2, plain, 3);
    tl_diag_init(&d);
    assert_int_equal(tl_paired_prepare(b->paired, SCENARIOS, &plan, &d), TL_OK);
    tl_diag_free(&d);
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    tl_paired_free(b->paired, SCENARIOS);
    for (size_t i = 0; i < SCENARIOS; i++)
        tl_scenario_free(&b->scenario[i]);
    tl_posix_remove_tree(b->folder);
    free(b->folder);
    free(b);
    return 0;
}

static size_t place_of(const struct tl_spread *s, const char *path)
{
    size_t i = 0;
    while (i < s->inputs && strcmp(s->input[i].path, path) != 0)
        i++;
    return i;
}

static void the_first_takes_the_points_of_its_own_spread(void **state)
{
    struct bench *b = *state;
    struct tl_spread alone = b->paired[0].spread;
    alone.coordinate = NULL;
    alone.build = NULL;
    assert_int_equal(tl_spread_prepare(&alone), TL_OK);
    for (size_t k = 0; k < RUNS; k++) {
        double mine[TL_SPREAD_MOST], its[TL_SPREAD_MOST];
        tl_spread_point(&b->paired[0].spread, k, mine);
        tl_spread_point(&alone, k, its);
        assert_memory_equal(mine, its, alone.inputs * sizeof *its);
    }
    assert_true(alone.print == b->paired[0].spread.print); /* its blocks, too */
    tl_spread_free(&alone);
}

static void what_both_have_lies_at_the_same_place(void **state)
{
    struct bench *b = *state;
    const struct tl_spread *a = &b->paired[0].spread, *c = &b->paired[1].spread;
    size_t shared = 0, own = 0;
    for (size_t i = 0; i < c->inputs; i++) {
        const size_t at = place_of(a, c->input[i].path);
        shared += at < a->inputs;
        own += at == a->inputs;
        for (size_t k = 0; k < RUNS && at < a->inputs; k++) {
            double mine[TL_SPREAD_MOST], its[TL_SPREAD_MOST];
            tl_spread_point(a, k, mine);
            tl_spread_point(c, k, its);
            assert_true(mine[at] == its[i]);
        }
    }
    assert_true(shared >= 4 && own >= 1);
    /* its own lie at none of those of the first, in no run */
    const size_t fresh_film = place_of(c, "parameters.new_aob");
    assert_true(fresh_film < c->inputs);
    for (size_t k = 0; k < RUNS; k++) {
        double mine[TL_SPREAD_MOST], its[TL_SPREAD_MOST];
        tl_spread_point(a, k, mine);
        tl_spread_point(c, k, its);
        for (size_t i = 0; i < a->inputs; i++)
            assert_false(mine[i] == its[fresh_film]);
    }
}

static void chances_are_those_of_a_spread(void **state)
{
    struct bench *b = *state;
    const struct tl_paired_course course = {.threads = 2};
    char why[256] = "";
    const volatile int go_on = 0, stop = 1;
    struct tl_tally t;
    assert_int_equal(tl_paired_run(b->paired, SCENARIOS, &course, why, sizeof why), TL_OK);
    for (size_t i = 0; i < SCENARIOS; i++) {
        const char *const folder[] = {b->paired[i].folder};
        const struct tl_paired *p = &b->paired[i];
        assert_int_equal(tl_tally_new(&p->spread, &t), TL_OK);
        assert_int_equal(tl_spread_collect(&p->spread, folder, 1, &go_on, &t, why, sizeof why),
                         TL_OK);
        assert_int_equal(t.runs, RUNS);
        assert_int_equal(tl_spread_collect(&p->spread, folder, 1, &stop, &t, why, sizeof why),
                         TL_E_INTERRUPTED);
        assert_int_equal(t.runs, RUNS);
        assert_int_equal(p->within.runs, t.grade[TL_WITHIN]);
        assert_int_equal(p->danger.runs, t.grade[TL_DANGER] + t.unknown);
        assert_int_equal(p->within.of, RUNS);
        assert_int_equal(p->verdict, tl_tally_verdict(&t));
        tl_tally_free(&t);
    }
    /* the crowd is worse, run for run; the same scenario is neither */
    assert_true(b->paired[1].worse.runs > 0);
    assert_int_equal(b->paired[1].better.runs, 0);
    assert_int_equal(b->paired[2].worse.runs + b->paired[2].better.runs, 0);
    assert_int_equal(b->paired[2].within.runs, b->paired[0].within.runs);
    assert_true(tl_paired_weakest(&b->paired[1], TL_DANGER) != TL_NLIMIT);
}

static void the_weakest_limit_is_that_most_often_broken(void **state)
{
    struct tl_paired p = {.unknown = 1};
    (void)state;
    for (int i = 0; i < TL_NLIMIT; i++)
        p.limit[i][0].runs = p.limit[i][1].runs = 1; /* all of them the one that is not known */
    assert_int_equal(tl_paired_weakest(&p, TL_CAUTION), TL_NLIMIT);
    p.limit[TL_LIMIT_NO2][0].runs = 40;
    p.limit[TL_LIMIT_O2][0].runs = p.limit[TL_LIMIT_O2][1].runs = 3;
    assert_int_equal(tl_paired_weakest(&p, TL_CAUTION), TL_LIMIT_NO2);
    assert_int_equal(tl_paired_weakest(&p, TL_DANGER), TL_LIMIT_O2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_first_takes_the_points_of_its_own_spread, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(what_both_have_lies_at_the_same_place, set_up, tear_down),
        cmocka_unit_test_setup_teardown(chances_are_those_of_a_spread, set_up, tear_down),
        cmocka_unit_test(the_weakest_limit_is_that_most_often_broken),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
