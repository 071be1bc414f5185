/* Four threads with a handle each find what the same four runs find one after the other. */
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "small.h"
#include "towerloop/towerloop.h"

enum { THREADS = 4 };

struct job {
    const char *set[2];
    struct tl_loop *loop;
    int status;
};

static void *work(void *arg)
{
    struct job *j = arg;
    j->status = tl_loop_read_text(small_text, strlen(small_text), NULL, j->set, 2, &j->loop);
    if (!j->status)
        j->status = tl_loop_run(j->loop);
    if (!j->status)
        j->status = tl_loop_advise(j->loop);
    return NULL;
}

static void threads_do_not_meet(void **state)
{
    (void)state;
    static const struct job jobs[THREADS] = {
        {.set = {"fish[0].count=12", "temperature=20 degC"}},
        {.set = {"fish[0].count=60", "temperature=26 degC"}},
        {.set = {"fish[0].count=5", "tower.biofilm=new"}},
        {.set = {"fish[0].count=12", "temperature=20 degC"}}, /* the first once more */
    };
    struct job alone[THREADS], together[THREADS];
    pthread_t thread[THREADS];
    memcpy(alone, jobs, sizeof jobs);
    memcpy(together, jobs, sizeof jobs);
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_create(&thread[i], NULL, work, &together[i]), 0);
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_join(thread[i], NULL), 0);
    for (int i = 0; i < THREADS; i++) {
        struct tl_loop *a = NULL, *b = together[i].loop;
        work(&alone[i]);
        a = alone[i].loop;
        assert_int_equal(alone[i].status, TL_OK);
        assert_int_equal(together[i].status, TL_OK);
        assert_string_equal(tl_loop_summary(a), tl_loop_summary(b));
        assert_int_equal(tl_loop_rows(a), tl_loop_rows(b));
        for (size_t c = 0; c < tl_loop_columns(a); c++)
            assert_memory_equal(tl_loop_column(a, c), tl_loop_column(b, c),
                                tl_loop_rows(a) * sizeof(double));
    }
    assert_string_not_equal(tl_loop_summary(alone[0].loop), tl_loop_summary(alone[1].loop));
    for (int i = 0; i < THREADS; i++) {
        tl_loop_free(alone[i].loop);
        tl_loop_free(together[i].loop);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(threads_do_not_meet)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
