/* What runs add up to, against the runs themselves. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "tally.h"
#include "towerloop/status.h"

enum { RUNS = 300, INPUTS = 2, BLOCKS = (RUNS + TL_BLOCK_RUNS - 1) / TL_BLOCK_RUNS };

struct bench {
    struct tl_spread_input input[INPUTS];
    struct tl_spread spread;
    struct tl_block block[BLOCKS];
    struct tl_tally tally;
    double u[RUNS][INPUTS];
};

/* Rising with the first input, falling with both, the second alone, and always the same. */
static double worst_of(const double u[INPUTS], size_t limit)
{
    switch (limit) {
    case TL_LIMIT_NH3:
        return 0.001 * exp(5 * u[0]);
    case TL_LIMIT_O2:
        return 9 - 3 * u[0] - 2 * u[1] * u[1];
    case TL_LIMIT_WARM:
        return 10 + 15 * u[1];
    default:
        return 1;
    }
}

static double value_of(size_t run, size_t row)
{
    return 5 + (double)((run * 7919 + row * 31) % 1000) / 250;
}

static void fill(struct bench *b, struct tl_block *block, size_t index)
{
    block->index = (uint32_t)index;
    block->runs = tl_spread_block_runs(&b->spread, index);
    for (size_t k = 0; k < block->runs; k++) {
        const size_t run = index * TL_BLOCK_RUNS + k;
        struct tl_spread_run *r = &block->run[k];
        *r = (struct tl_spread_run){.known = true, .grade = TL_WITHIN, .lost_d = NAN};
        for (size_t i = 0; i < TL_NLIMIT; i++)
            r->limit[i] = (struct tl_spread_limit){true, TL_WITHIN, worst_of(b->u[run], i), NAN};
    }
    for (size_t i = 0; i < block->rows; i++) {
        const struct tl_bins *bins = &tl_watched(i / b->spread.intervals.count)->bins;
        block->filled[i] = (uint8_t)block->runs;
        for (size_t k = 0; k < block->runs; k++)
            block->bin[i * TL_BLOCK_RUNS + k] =
                (uint16_t)tl_bins_at(bins, value_of(index * TL_BLOCK_RUNS + k, i));
    }
}

static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    b->spread = (struct tl_spread){
        .runs = RUNS, .input = b->input, .inputs = INPUTS, .intervals = tl_intervals_of(0, 20)};
    assert_int_equal(tl_points_new(&b->spread.points, 3, INPUTS, INPUTS, RUNS), TL_OK);
    for (size_t k = 0; k < RUNS; k++)
        tl_spread_point(&b->spread, k, b->u[k]);
    assert_int_equal(tl_spread_blocks(&b->spread), BLOCKS);
    for (size_t i = 0; i < BLOCKS; i++) {
        assert_int_equal(tl_block_new(&b->block[i], TL_NWATCHED * b->spread.intervals.count),
                         TL_OK);
        fill(b, &b->block[i], i);
    }
    assert_int_equal(tl_tally_new(&b->spread, &b->tally), TL_OK);
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    struct bench *b = *state;
    for (size_t i = 0; i < BLOCKS; i++)
        tl_block_free(&b->block[i]);
    tl_tally_free(&b->tally);
    tl_spread_free(&b->spread);
    free(b);
    return 0;
}

static void add_all(struct bench *b)
{
    for (size_t i = 0; i < BLOCKS; i++)
        tl_tally_add(&b->tally, &b->block[i]);
}

/* --- quantiles ---------------------------------------------------------------------------------- */

static int rising(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void quantiles_are_off_by_half_a_bin_at_most(void **state)
{
    static const double share[] = {0.05, 0.25, 0.5, 0.75, 0.95};
    struct bench *b = *state;
    double value[RUNS];
    add_all(b);
    for (size_t w = 0; w < TL_NWATCHED; w++)
        for (size_t i = 0; i < b->spread.intervals.count; i += 7) {
            for (size_t k = 0; k < RUNS; k++)
                value[k] = value_of(k, tl_spread_row(&b->spread, w, i));
            qsort(value, RUNS, sizeof *value, rising);
            const struct tl_bins *bins = &tl_watched(w)->bins;
            for (size_t q = 0; q < 5; q++) {
                const double exact = value[(size_t)ceil(share[q] * RUNS) - 1];
                const double half = bins->width / 2 * (bins->log ? exact : 1);
                near(tl_tally_fan(&b->tally, w, i, share[q]), exact, half * 1.001);
            }
        }
    for (size_t k = 0; k < RUNS; k++)
        value[k] = worst_of(b->u[k], TL_LIMIT_NH3);
    qsort(value, RUNS, sizeof *value, rising);
    near_rel(tl_tally_worst(&b->tally, TL_LIMIT_NH3, 0.95), value[284], 0.00501);
    assert_true(isnan(tl_tally_first_d(&b->tally, TL_LIMIT_NH3, 0.5))); /* never broken */
    assert_true(isnan(tl_tally_lost_d(&b->tally, 0.5)));
}

/* --- ranks -------------------------------------------------------------------------------------- */

/* Pearson's correlation of the input with the rank of the limit's bin, by its definition. */
static double correlation(const struct bench *b, enum tl_limit_id limit, size_t input)
{
    double rank[RUNS], x = 0, y = 0, xx = 0, yy = 0, xy = 0;
    for (size_t k = 0; k < RUNS; k++) {
        const size_t mine = tl_bins_at(tl_limit_bins(limit), worst_of(b->u[k], limit));
        rank[k] = 0.5;
        for (size_t i = 0; i < RUNS; i++) {
            const size_t other = tl_bins_at(tl_limit_bins(limit), worst_of(b->u[i], limit));
            rank[k] += other < mine ? 1 : other == mine ? 0.5 : 0;
        }
        x += b->u[k][input] / RUNS;
        y += rank[k] / RUNS;
    }
    for (size_t k = 0; k < RUNS; k++) {
        const double p = b->u[k][input] - x, q = rank[k] - y;
        xx += p * p;
        yy += q * q;
        xy += p * q;
    }
    return xy / sqrt(xx * yy);
}

static void ranks_are_correlated_by_definition(void **state)
{
    static const enum tl_limit_id limit[] = {TL_LIMIT_NH3, TL_LIMIT_O2, TL_LIMIT_WARM};
    struct bench *b = *state;
    add_all(b);
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < INPUTS; j++)
            near(tl_tally_correlation(&b->tally, limit[i], j), correlation(b, limit[i], j), 1e-5);
    assert_true(tl_tally_correlation(&b->tally, TL_LIMIT_NH3, 0) > 0.999);
    assert_true(fabs(tl_tally_correlation(&b->tally, TL_LIMIT_NH3, 1)) < 0.1);
    assert_true(tl_tally_correlation(&b->tally, TL_LIMIT_O2, 0) < -0.7);
    assert_true(tl_tally_correlation(&b->tally, TL_LIMIT_WARM, 1) > 0.999);
    assert_true(isnan(tl_tally_correlation(&b->tally, TL_LIMIT_NO2, 0)));
}

/* --- order -------------------------------------------------------------------------------------- */

static void the_order_of_blocks_changes_nothing(void **state)
{
    struct bench *b = *state;
    struct tl_tally back;
    add_all(b);
    assert_int_equal(tl_tally_new(&b->spread, &back), TL_OK);
    for (size_t i = BLOCKS; i-- > 0;)
        tl_tally_add(&back, &b->block[i]);
    for (int i = 0; i < TL_NLIMIT; i++) {
        const enum tl_limit_id id = (enum tl_limit_id)i;
        const double one[] = {tl_tally_correlation(&b->tally, id, 0),
                              tl_tally_correlation(&b->tally, id, 1),
                              tl_tally_worst(&b->tally, id, 0.3)};
        const double other[] = {tl_tally_correlation(&back, id, 0),
                                tl_tally_correlation(&back, id, 1), tl_tally_worst(&back, id, 0.3)};
        assert_memory_equal(one, other, sizeof one);
    }
    for (size_t w = 0; w < TL_NWATCHED; w++)
        for (size_t i = 0; i < b->spread.intervals.count; i++)
            near(tl_tally_fan(&b->tally, w, i, 0.4), tl_tally_fan(&back, w, i, 0.4), 0);
    tl_tally_free(&back);
}

/* --- chances ------------------------------------------------------------------------------------ */

static void what_is_not_known_is_danger(void **state)
{
    struct bench *b = *state;
    b->block[0].run[0].grade = TL_CAUTION;
    b->block[0].run[0].limit[TL_LIMIT_NO2].grade = TL_CAUTION;
    b->block[0].run[0].limit[TL_LIMIT_NO2].first_d = 7.3;
    b->block[0].run[1].grade = TL_DANGER;
    b->block[0].run[1].limit[TL_LIMIT_NO2].grade = TL_DANGER;
    b->block[0].run[1].limit[TL_LIMIT_NO2].first_d = 12.9;
    b->block[0].run[1].limit[TL_LIMIT_O2].judged = false;
    b->block[1].run[5].known = false;
    b->block[1].run[5].impossible = true;
    b->block[2].run[3].lost = true;
    b->block[2].run[3].lost_d = 4.4;
    add_all(b);
    const struct tl_tally *t = &b->tally;
    assert_int_equal(t->runs, RUNS);
    assert_int_equal(t->unknown, 1);
    assert_int_equal(t->impossible, 1);
    assert_int_equal(t->lost, 1);
    near(tl_tally_lost_d(t, 0.5), 4.5, 1e-12);
    assert_int_equal(tl_tally_within(t).runs, RUNS - 3);
    assert_int_equal(tl_tally_within(t).of, RUNS);
    assert_int_equal(tl_tally_beyond(t, TL_CAUTION).runs, 3);
    assert_int_equal(tl_tally_beyond(t, TL_DANGER).runs, 2);
    assert_int_equal(tl_tally_limit_beyond(t, TL_LIMIT_NO2, TL_CAUTION).runs, 3);
    assert_int_equal(tl_tally_limit_beyond(t, TL_LIMIT_NO2, TL_DANGER).runs, 2);
    assert_int_equal(tl_tally_limit_beyond(t, TL_LIMIT_NO2, TL_DANGER).of, RUNS);
    assert_int_equal(tl_tally_limit_beyond(t, TL_LIMIT_O2, TL_DANGER).runs, 1);
    assert_int_equal(tl_tally_limit_beyond(t, TL_LIMIT_O2, TL_DANGER).of, RUNS - 1);
    near(tl_tally_first_d(t, TL_LIMIT_NO2, 0.5), 7.5, 1e-12);
    near(tl_tally_first_d(t, TL_LIMIT_NO2, 0.95), 12.5, 1e-12);
}

/* A block can come from anywhere. */
static void a_bin_that_there_is_not_is_the_last(void **state)
{
    struct bench *b = *state;
    for (size_t i = 0; i < b->block[0].rows; i++)
        b->block[0].bin[i * TL_BLOCK_RUNS] = UINT16_MAX;
    add_all(b);
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        const struct tl_bins *bins = &tl_watched(w)->bins;
        near(tl_tally_fan(&b->tally, w, b->spread.intervals.count - 1, 1),
             tl_bins_middle(bins, bins->count - 1u), 0);
    }
}

/* A grade is out of the question only where its interval ends below 5 of 100. */
static void a_verdict_is_on_the_side_of_warning(void **state)
{
    struct bench *b = *state;
    struct tl_tally t = {.spread = &b->spread};
    t.runs = t.grade[TL_WITHIN] = 1000;
    assert_int_equal(tl_tally_verdict(&t), TL_WITHIN);
    t.runs = t.grade[TL_WITHIN] = 20; /* too few to say so */
    assert_int_equal(tl_tally_verdict(&t), TL_DANGER);
    t = (struct tl_tally){.spread = &b->spread, .runs = 1000, .grade = {0, 970, 30}};
    assert_int_equal(tl_tally_verdict(&t), TL_CAUTION);
    t = (struct tl_tally){.spread = &b->spread, .runs = 1000, .grade = {0, 955, 45}};
    assert_int_equal(tl_tally_verdict(&t), TL_DANGER);
    t = (struct tl_tally){.spread = &b->spread, .runs = 1000, .grade = {955, 0, 0}, .unknown = 45};
    assert_int_equal(tl_tally_verdict(&t), TL_DANGER);
    t = (struct tl_tally){.spread = &b->spread, .runs = 1000, .grade = {940, 60, 0}};
    assert_int_equal(tl_tally_verdict(&t), TL_CAUTION);
}

/* Results of a straight line, 3 u_0 + u_1: its variance is 9 to 1 made by the two, alone and in all. */
static void sensitivity_is_that_of_the_results(void **state)
{
    struct bench *b = *state;
    struct tl_tally tally;
    struct tl_indices found;
    tl_tally_indices(&b->tally, TL_LIMIT_NH3, &found);
    assert_false(found.known);
    tl_points_free(b->spread.points);
    b->spread.sensitivity = true;
    assert_int_equal(tl_points_new(&b->spread.points, 3, 2 * INPUTS, INPUTS, RUNS), TL_OK);
    assert_int_equal(tl_tally_new(&b->spread, &tally), TL_OK);
    const size_t others = tl_spread_others(&b->spread);
    for (size_t i = 0; i < BLOCKS; i++) {
        struct tl_block *block = &b->block[i];
        assert_int_equal(tl_block_add_others(block, others), TL_OK);
        for (size_t k = 0; k < block->runs; k++) {
            const size_t run = i * TL_BLOCK_RUNS + k;
            double u[TL_SPREAD_MOST];
            tl_spread_point(&b->spread, run, u);
            block->run[k].limit[TL_LIMIT_NH3].worst = 3 * u[0] + u[1];
            block->run[k].limit[TL_LIMIT_NO2].judged = run != 7;
            for (size_t j = 0; j < others; j++) {
                double *worst = block->other + (k * others + j) * TL_NLIMIT;
                tl_spread_other_point(&b->spread, run, j, u);
                for (size_t l = 0; l < TL_NLIMIT; l++)
                    worst[l] = 3 * u[0] + u[1];
            }
        }
        tl_tally_add(&tally, block);
    }
    tl_tally_indices(&tally, TL_LIMIT_NH3, &found);
    assert_true(found.known);
    assert_int_equal(found.points, RUNS);
    near(found.deviation, sqrt(10.0 / 12), 0.02);
    for (size_t j = 0; j < INPUTS; j++) {
        const double exact = j == 0 ? 0.9 : j == 1 ? 0.1 : 0;
        near(found.input[j].first, exact, 0.05);
        near(found.input[j].total, exact, 0.02);
    }
    tl_tally_indices(&tally, TL_LIMIT_NO2, &found);
    assert_int_equal(found.points, RUNS - 1);
    assert_int_equal(found.missed, 1);
    tl_tally_free(&tally);
}

static void check_but(enum tl_grade verdict, size_t caution, size_t danger, size_t of,
                      const char *expected)
{
    const struct tl_chance c = tl_chance_of(caution, of), d = tl_chance_of(danger, of);
    char but[TL_TALLY_BUT];
    tl_tally_but(verdict, &c, &d, but);
    assert_string_equal(but, expected);
}

static void a_verdict_says_what_it_lacks(void **state)
{
    (void)state;
    check_but(TL_WITHIN, 0, 0, 1000, "");
    check_but(TL_WITHIN, 30, 0, 1000, ", but caution in 3 of 100 runs");
    check_but(TL_WITHIN, 36, 36, 1000, ", but danger in 3.6 of 100 runs");
    check_but(TL_CAUTION, 400, 36, 1000, ", but danger in 3.6 of 100 runs");
    check_but(TL_CAUTION, 400, 0, 1000, "");
    check_but(TL_DANGER, 700, 500, 1000, "");
    check_but(TL_DANGER, 0, 0, 58, ", but so few runs can show no better; it takes 59");
    check_but(TL_CAUTION, 0, 0, 59, ", but only as these runs are too few to be sure of better");
    check_but(TL_DANGER, 20, 3, 58, ", but so few runs can show no better; it takes 59");
    check_but(TL_DANGER, 40, 30, 58, "");
}

/* Wilks' numbers for 95 % of the population at 95 %: 59 values where the first counts, 93 where the second does, 124
 * the third. Published in N. W. Porter 2019, "Wilks' formula applied to computational tools", Annals of Nuclear
 * Energy 133:129-137; from memory. */
static void the_value_that_is_surely_below_a_share(void **state)
{
    static const size_t least[] = {59, 93, 124};
    (void)state;
    assert_int_equal(tl_chance_least(0.05), 59);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(tl_chance_rank(least[i], 0.05), i + 1);
        assert_int_equal(tl_chance_rank(least[i] - 1, 0.05), i);
    }
    /* it is where the interval of the count below it just reaches the share */
    for (size_t n = 5; n < 3000; n = n * 3 / 2)
        for (double share = 0.05; share < 0.6; share += 0.15) {
            const size_t r = tl_chance_rank(n, share);
            if (r > 0)
                assert_true(tl_chance_of(r - 1, n).high <= share + 1e-12);
            assert_true(tl_chance_of(r, n).high > share);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_verdict_says_what_it_lacks),
        cmocka_unit_test(the_value_that_is_surely_below_a_share),
        cmocka_unit_test_setup_teardown(quantiles_are_off_by_half_a_bin_at_most, set_up, tear_down),
        cmocka_unit_test_setup_teardown(ranks_are_correlated_by_definition, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_order_of_blocks_changes_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_not_known_is_danger, set_up, tear_down),
        cmocka_unit_test_setup_teardown(sensitivity_is_that_of_the_results, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_bin_that_there_is_not_is_the_last, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_verdict_is_on_the_side_of_warning, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
