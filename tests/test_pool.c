/* The pool: every job once, whatever the number of threads; failure and interruption end it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "pool.h"
#include "towerloop/status.h"

enum { JOBS = 500 };

struct bench {
    int runs[JOBS]; /* each written by its job alone */
    double result[JOBS];
    atomic_size_t begun;
    size_t fails_at, stops_at; /* JOBS: never */
    volatile int interrupted;
    size_t told, last_done;
};

static int job(void *arg, size_t i)
{
    struct bench *b = arg;
    atomic_fetch_add(&b->begun, 1);
    b->runs[i]++;
    double x = (double)i;
    for (int k = 0; k < 1000; k++)
        x = x / 2 + 1 / (x + 1);
    b->result[i] = x;
    if (i == b->stops_at)
        b->interrupted = 1;
    return i == b->fails_at || i == b->fails_at + 3 ? TL_E_SOLVER + (i == b->fails_at) : TL_OK;
}

static void hear(void *arg, size_t done, size_t jobs)
{
    struct bench *b = arg;
    assert_int_equal(jobs, JOBS);
    assert_int_equal(done, b->last_done + 1);
    b->last_done = done;
    b->told++;
}

static int run(struct bench *b, unsigned threads)
{
    const struct tl_pool pool = {.job = job,
                                 .arg = b,
                                 .jobs = JOBS,
                                 .threads = threads,
                                 .interrupted = &b->interrupted,
                                 .progress = hear,
                                 .progress_arg = b};
    return tl_pool_run(&pool);
}

static void test_every_job_once(void **state)
{
    static const unsigned threads[] = {0, 1, 2, 7, 1000};
    static struct bench one;
    (void)state;
    one = (struct bench){.fails_at = JOBS, .stops_at = JOBS};
    assert_int_equal(run(&one, 1), TL_OK);
    for (size_t t = 0; t < sizeof threads / sizeof *threads; t++) {
        static struct bench b;
        b = (struct bench){.fails_at = JOBS, .stops_at = JOBS};
        assert_int_equal(run(&b, threads[t]), TL_OK);
        for (int i = 0; i < JOBS; i++)
            assert_int_equal(b.runs[i], 1);
        assert_int_equal(b.told, JOBS);
        assert_memory_equal(b.result, one.result, sizeof b.result);
    }
}

static void test_failure(void **state)
{
    (void)state;
    for (unsigned threads = 1; threads <= 4; threads++) {
        static struct bench b;
        b = (struct bench){.fails_at = 40, .stops_at = JOBS};
        assert_int_equal(run(&b, threads), TL_E_SOLVER + 1); /* that of the lowest */
        assert_true(b.begun >= 41);
        if (threads == 1)
            assert_int_equal(b.begun, 41);
        for (size_t i = 0; i <= 40; i++)
            assert_int_equal(b.runs[i], 1);
        assert_int_equal(b.told, b.begun); /* what was begun was finished */
    }
}

static void test_interruption(void **state)
{
    (void)state;
    for (unsigned threads = 1; threads <= 4; threads++) {
        static struct bench b;
        b = (struct bench){.fails_at = JOBS, .stops_at = 100};
        assert_int_equal(run(&b, threads), TL_E_INTERRUPTED);
        assert_true(b.begun >= 101); /* others may come far while that thread is held up */
        assert_int_equal(b.told, b.begun);
        if (threads == 1)
            assert_int_equal(b.begun, 101);
    }
}

static void test_interrupted_after_the_last(void **state)
{
    static struct bench b;
    (void)state;
    b = (struct bench){.fails_at = JOBS, .stops_at = JOBS - 1};
    assert_int_equal(run(&b, 1), TL_OK); /* nothing was left undone */
}

static void test_nothing_to_do(void **state)
{
    (void)state;
    assert_int_equal(tl_pool_run(&(struct tl_pool){.job = job}), TL_OK);
    assert_true(tl_pool_processors() >= 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_job_once), cmocka_unit_test(test_failure),
        cmocka_unit_test(test_interruption),   cmocka_unit_test(test_interrupted_after_the_last),
        cmocka_unit_test(test_nothing_to_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
