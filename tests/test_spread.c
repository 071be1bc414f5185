/* Blocks of a spread run for real: against single runs, shared out in every way, gone on with. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "indices.h"
#include "near.h"
#include "place.h"
#include "posix.h"
#include "spread_runs.h"
#include "text.h"
#include "towerloop/assess.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"

#define FILE_NAME DATA_DIR "/section10_parameters.yaml"

enum { RUNS = 150, BLOCKS = 3 };
static const char *const set[] = {"length=2 d", "tower.trays=4"};

struct bench {
    struct tl_scenario scenario;
    struct tl_spread spread;
    char *folder;
};

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    const struct tl_scenario_options options = {.set = set, .sets = 2};
    struct tl_diag d;
    assert_non_null(b);
    tl_diag_init(&d);
    assert_int_equal(tl_scenario_read(FILE_NAME, &options, &b->scenario, &d), TL_OK);
    b->spread = (struct tl_spread){.file = FILE_NAME,
                                   .set = set,
                                   .sets = 2,
                                   .runs = RUNS,
                                   .seed = 1,
                                   .level = tl_ponds_widest(),
                                   .scenario = &b->scenario};
    assert_int_equal(tl_spread_inputs_read(FILE_NAME, set, 2, TL_SPREAD_PUBLISHED, &b->spread.input,
                                           &b->spread.inputs, &d),
                     TL_OK);
    assert_true(b->spread.inputs >= 4);
    assert_int_equal(tl_spread_prepare(&b->spread), TL_OK);
    b->folder = tl_posix_new_folder("spread-test");
    assert_non_null(b->folder);
    tl_diag_free(&d);
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    tl_spread_free(&b->spread);
    free(b->spread.input);
    tl_scenario_free(&b->scenario);
    tl_posix_remove_tree(b->folder);
    free(b->folder);
    free(b);
    return 0;
}

/* --- against single runs -------------------------------------------------------------------------- */

struct course { /* of one run */
    const struct tl_spread *spread;
    const struct tl_model *m;
    struct tl_work *work;
    double *worst; /* as the block's rows */
};

static int see(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct course *k = arg;
    struct tl_snapshot g;
    double value[TL_NWATCHED];
    memset(&g, 0, sizeof g);
    const int status = tl_model_glance(k->m, k->work, c, t_d, y, &g);
    tl_watched_values(&g, value);
    const size_t i = tl_interval_at(&k->spread->intervals, t_d);
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        double *worst = &k->worst[tl_spread_row(k->spread, w, i)];
        if (isnan(*worst) || (tl_watched(w)->below ? value[w] < *worst : value[w] > *worst))
            *worst = value[w];
    }
    return status;
}

static void run_alone(const struct tl_spread *s, size_t run, size_t rows, double *worst,
                      struct tl_assessment *a)
{
    for (size_t i = 0; i < rows; i++)
        worst[i] = NAN;
    double u[TL_SPREAD_MOST];
    struct tl_scenario scenario;
    struct tl_model *m = NULL;
    struct tl_diag d;
    tl_diag_init(&d);
    tl_spread_point(s, run, u);
    assert_int_equal(
        tl_spread_scenario(s->file, s->set, s->sets, s->input, s->inputs, u, &scenario, &d), TL_OK);
    assert_int_equal(tl_model_build(&scenario.setup, &m), TL_OK);
    struct course k = {.spread = s, .m = m, .worst = worst};
    assert_int_equal(tl_work_new(m, &k.work), TL_OK);
    const struct tl_observer observer = {.period_d = s->intervals.sample_d, .see = see, .arg = &k};
    const struct tl_assess_options options = {.observer = &observer, .observers = 1};
    assert_int_equal(tl_assess(m, &scenario.limits, &options, a), TL_OK);
    tl_work_free(k.work);
    tl_model_free(m);
    tl_scenario_free(&scenario);
    tl_diag_free(&d);
}

/* One by itself gives the same doubles, so the same bins and worst values. */
static void a_block_holds_what_its_runs_show(void **state)
{
    enum { FEW = 10 };
    struct bench *b = *state;
    struct tl_block block;
    const size_t rows = TL_NWATCHED * b->spread.intervals.count;
    double *worst = calloc(FEW * rows, sizeof *worst);
    struct tl_assessment *a = calloc(1, sizeof *a);
    b->spread.level = "scalar";
    b->spread.runs = FEW;
    assert_int_equal(tl_block_new(&block, rows), TL_OK);
    assert_int_equal(tl_spread_run_block(&b->spread, 0, 1, NULL, &block), TL_OK);
    assert_int_equal(block.runs, FEW);
    for (size_t k = 0; k < FEW; k++) {
        run_alone(&b->spread, k, rows, worst + k * rows, a);
        assert_true(block.run[k].known);
        for (size_t i = 0; i < TL_NLIMIT; i++) {
            const struct tl_limit_verdict *v = &a->verdict.limit[i];
            assert_int_equal(block.run[k].limit[i].judged, v->judged);
            assert_int_equal(block.run[k].limit[i].grade, v->grade);
            assert_memory_equal(&block.run[k].limit[i].worst, &v->worst, sizeof v->worst);
        }
    }
    for (size_t i = 0; i < rows; i++) {
        const struct tl_bins *bins = &tl_watched(i / b->spread.intervals.count)->bins;
        assert_int_equal(block.filled[i], FEW);
        for (size_t bin = 0; bin < bins->count; bin++) {
            size_t expected = 0, counted = 0;
            for (size_t k = 0; k < FEW; k++) {
                expected += tl_bins_at(bins, worst[k * rows + i]) == bin;
                counted += block.bin[i * TL_BLOCK_RUNS + k] == bin;
            }
            assert_int_equal(counted, expected);
        }
    }
    tl_block_free(&block);
    free(worst);
    free(a);
}

/* --- shared out ----------------------------------------------------------------------------------- */

static char *block_path(const struct bench *b, const char *folder, size_t i)
{
    char name[TL_BLOCK_NAME_SIZE];
    struct tl_text t = {0};
    tl_block_name((uint32_t)i, name);
    tl_text_addf(&t, "%s/%s/%s", b->folder, folder, name);
    assert_non_null(t.data);
    return t.data;
}

static void read_block(const struct bench *b, const char *folder, size_t i, char **data,
                       size_t *length)
{
    char *path = block_path(b, folder, i);
    assert_int_equal(tl_read_file(path, 1u << 20, data, length), TL_OK);
    free(path);
}

static int run(struct bench *b, const char *folder, unsigned index, unsigned of, unsigned threads,
               const volatile int *interrupted)
{
    char *path = tl_place_below(b->folder, folder);
    assert_int_equal(tl_posix_make_folder(path, NULL), TL_OK);
    const struct tl_spread_course course = {
        .folder = path, .shard = {index, of}, .threads = threads, .interrupted = interrupted};
    const int status = tl_spread_run(&b->spread, &course);
    free(path);
    return status;
}

static void same_blocks(const struct bench *b, const char *one, const char *other)
{
    for (size_t i = 0; i < BLOCKS; i++) {
        char *x, *y;
        size_t nx, ny;
        read_block(b, one, i, &x, &nx);
        read_block(b, other, i, &y, &ny);
        assert_int_equal(nx, ny);
        assert_memory_equal(x, y, nx);
        free(x);
        free(y);
        struct tl_block block;
        assert_int_equal(tl_block_new(&block, TL_NWATCHED * b->spread.intervals.count), TL_OK);
        block.index = (uint32_t)i;
        block.runs = tl_spread_block_runs(&b->spread, i);
        char *path = block_path(b, one, i);
        assert_int_equal(tl_block_read(&block, b->spread.print, path), TL_OK);
        free(path);
        tl_block_free(&block);
    }
}

static void all_ways_to_share_out_give_the_same(void **state)
{
    struct bench *b = *state;
    assert_int_equal(tl_spread_blocks(&b->spread), BLOCKS);
    assert_int_equal(run(b, "one", 1, 1, 1, NULL), TL_OK);
    assert_int_equal(run(b, "threads", 1, 1, 5, NULL), TL_OK);
    same_blocks(b, "one", "threads");
    for (unsigned i = 7; i >= 1; i--) /* parts 4 to 7 have nothing to do */
        assert_int_equal(run(b, "parts", i, 7, i, NULL), TL_OK);
    same_blocks(b, "one", "parts");
}

static void another_seed_or_input_gives_others(void **state)
{
    struct bench *b = *state;
    char *x, *y;
    size_t nx, ny;
    const uint64_t print = b->spread.print;
    assert_int_equal(run(b, "one", 1, 3, 1, NULL), TL_OK);
    tl_spread_free(&b->spread);
    b->spread.seed = 2;
    assert_int_equal(tl_spread_prepare(&b->spread), TL_OK);
    assert_true(b->spread.print != print);
    assert_int_equal(run(b, "other", 1, 3, 1, NULL), TL_OK);
    read_block(b, "one", 0, &x, &nx);
    read_block(b, "other", 0, &y, &ny);
    assert_true(nx != ny || memcmp(x, y, nx) != 0);
    free(x);
    free(y);
    tl_spread_free(&b->spread);
    b->spread.seed = 1;
    b->spread.input[0].d.b *= 1.0000001;
    assert_int_equal(tl_spread_prepare(&b->spread), TL_OK);
    assert_true(b->spread.print != print);
}

/* --- a sensitivity -------------------------------------------------------------------------------- */

static int make_sensitive(struct bench *b)
{
    tl_spread_free(&b->spread);
    b->spread.sensitivity = true;
    b->spread.inputs = 3;
    b->spread.runs = 5;
    return tl_spread_prepare(&b->spread);
}

/* The runs themselves are those of a spread without it; of the others each worst value is that of its own run
 * at its own point. */
static void a_sensitivity_adds_others_and_changes_nothing(void **state)
{
    struct bench *b = *state;
    struct tl_block plain, block;
    double u[TL_SPREAD_MOST], v[TL_SPREAD_MOST];
    tl_spread_free(&b->spread);
    b->spread.inputs = 3;
    b->spread.runs = 5;
    b->spread.level = "scalar";
    assert_int_equal(tl_spread_prepare(&b->spread), TL_OK);
    const uint64_t print = b->spread.print;
    assert_int_equal(tl_spread_others(&b->spread), 0);
    assert_int_equal(tl_spread_block_new(&b->spread, &plain), TL_OK);
    assert_int_equal(tl_spread_run_block(&b->spread, 0, 1, NULL, &plain), TL_OK);
    tl_spread_point(&b->spread, 4, u);
    assert_int_equal(make_sensitive(b), TL_OK);
    assert_true(b->spread.print != print);
    tl_spread_point(&b->spread, 4, v);
    assert_memory_equal(u, v, 3 * sizeof *u);
    assert_int_equal(tl_spread_others(&b->spread), 4);
    assert_int_equal(tl_spread_block_new(&b->spread, &block), TL_OK);
    assert_int_equal(tl_spread_run_block(&b->spread, 0, 2, NULL, &block), TL_OK);
    for (size_t k = 0; k < 5; k++)
        for (size_t i = 0; i < TL_NLIMIT; i++)
            assert_memory_equal(&block.run[k].limit[i].worst, &plain.run[k].limit[i].worst,
                                sizeof(double));
    assert_memory_equal(block.bin, plain.bin, plain.rows * TL_BLOCK_RUNS * sizeof *plain.bin);

    /* run 4 with the second input of B: by itself, as a scenario of its own */
    struct tl_scenario scenario;
    struct tl_diag d;
    struct tl_model *m = NULL;
    struct tl_assessment *a = calloc(1, sizeof *a);
    tl_diag_init(&d);
    tl_spread_other_point(&b->spread, 4, 0, v);
    assert_true(v[0] != u[0] && v[1] != u[1] && v[2] != u[2]);
    u[1] = v[1];
    tl_spread_other_point(&b->spread, 4, 2, v);
    assert_memory_equal(u, v, 3 * sizeof *u);
    assert_int_equal(tl_spread_scenario(FILE_NAME, set, 2, b->spread.input, 3, u, &scenario, &d),
                     TL_OK);
    assert_int_equal(tl_model_build(&scenario.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &scenario.limits, NULL, a), TL_OK);
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const double worst = block.other[(4 * 4 + 2) * TL_NLIMIT + i];
        if (a->verdict.limit[i].judged)
            assert_memory_equal(&worst, &a->verdict.limit[i].worst, sizeof worst);
        else
            assert_true(isnan(worst));
    }
    tl_model_free(m);
    tl_scenario_free(&scenario);
    tl_diag_free(&d);
    free(a);
    tl_block_free(&plain);
    tl_block_free(&block);
}

static void a_sensitivity_takes_only_so_many_inputs(void **state)
{
    struct bench *b = *state;
    struct tl_spread_input *own = b->spread.input;
    struct tl_spread_input more[TL_INDEX_INPUTS + 1];
    for (size_t i = 0; i < TL_INDEX_INPUTS + 1; i++)
        more[i] = own[0];
    assert_int_equal(make_sensitive(b), TL_OK);
    tl_spread_free(&b->spread);
    b->spread.input = more;
    b->spread.inputs = TL_INDEX_INPUTS + 1;
    assert_int_equal(tl_spread_prepare(&b->spread), TL_E_INPUT);
    b->spread.inputs = TL_INDEX_INPUTS;
    assert_int_equal(tl_spread_prepare(&b->spread), TL_OK);
    b->spread.input = own;
}

/* --- gone on with --------------------------------------------------------------------------------- */

static void only_what_is_missing_is_run_again(void **state)
{
    struct bench *b = *state;
    assert_int_equal(run(b, "one", 1, 1, 2, NULL), TL_OK);
    assert_int_equal(run(b, "two", 1, 1, 2, NULL), TL_OK);
    /* one is gone, one spoilt */
    char *data, *path = block_path(b, "two", 1);
    size_t length;
    assert_int_equal(remove(path), 0);
    free(path);
    read_block(b, "two", 2, &data, &length);
    data[length / 2] ^= 4;
    path = block_path(b, "two", 2);
    FILE *f = fopen(path, "wbe");
    assert_non_null(f);
    assert_int_equal(fwrite(data, 1, length, f), length);
    assert_int_equal(fclose(f), 0);
    free(path);
    free(data);
    assert_int_equal(run(b, "two", 1, 1, 1, NULL), TL_OK);
    same_blocks(b, "one", "two");
}

static void an_interruption_begins_nothing(void **state)
{
    struct bench *b = *state;
    const volatile int stop = 1;
    assert_int_equal(run(b, "none", 1, 1, 1, &stop), TL_E_INTERRUPTED);
    char *path = block_path(b, "none", 0);
    enum tl_posix_kind kind;
    assert_int_equal(tl_posix_look(path, &kind), TL_OK);
    assert_int_equal(kind, TL_POSIX_NOTHING);
    free(path);
}

static void a_scenario_that_changes_is_refused(void **state)
{
    struct bench *b = *state;
    char *data, *path = tl_place_below(b->folder, "pond.yaml");
    size_t length;
    assert_int_equal(tl_read_file(FILE_NAME, 1u << 20, &data, &length), TL_OK);
    for (int changed = 0; changed < 2; changed++) {
        FILE *f = fopen(path, "wbe");
        assert_non_null(f);
        assert_int_equal(fwrite(data, 1, length, f), length);
        if (changed)
            assert_true(fputs("costs: {feed: 1 per kg}\n", f) >= 0);
        assert_int_equal(fclose(f), 0);
        b->spread.file = path;
        assert_int_equal(run(b, changed ? "after" : "before", 3, 3, 1, NULL),
                         changed ? TL_E_REFUSED : TL_OK);
    }
    assert_int_equal(remove(path), 0); /* gone is changed, too */
    assert_int_equal(run(b, "after", 3, 3, 1, NULL), TL_E_REFUSED);
    free(path);
    free(data);
}

static void a_question_comes_back(void **state)
{
    struct bench *b = *state;
    const struct tl_spread_shard asked = {2, 5};
    struct tl_spread_shard shard;
    struct tl_spread back;
    json_t *q = tl_spread_question(&b->spread, &asked);
    assert_non_null(q);
    assert_int_equal(tl_spread_from_question(q, &back, &shard), TL_OK);
    back.scenario = &b->scenario;
    assert_int_equal(tl_spread_prepare(&back), TL_OK);
    assert_int_equal(shard.index, 2);
    assert_int_equal(shard.of, 5);
    assert_true(back.print == b->spread.print);
    free(back.input);
    tl_spread_free(&back);
    static const char *const missing[] = {"runs", "seed", "lanes", "inputs"};
    for (size_t i = 0; i < 4; i++) {
        json_t *less = json_deep_copy(q);
        json_object_del(less, missing[i]);
        assert_int_equal(tl_spread_from_question(less, &back, &shard), TL_E_INPUT);
        json_decref(less);
    }
    json_object_set_new(q, "shard", json_integer(6));
    assert_int_equal(tl_spread_from_question(q, &back, &shard), TL_E_INPUT);
    json_decref(q);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_block_holds_what_its_runs_show, set_up, tear_down),
        cmocka_unit_test_setup_teardown(all_ways_to_share_out_give_the_same, set_up, tear_down),
        cmocka_unit_test_setup_teardown(another_seed_or_input_gives_others, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_sensitivity_adds_others_and_changes_nothing, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_sensitivity_takes_only_so_many_inputs, set_up, tear_down),
        cmocka_unit_test_setup_teardown(only_what_is_missing_is_run_again, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_interruption_begins_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_scenario_that_changes_is_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_question_comes_back, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
