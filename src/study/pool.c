/* A counter that threads draw jobs from. */
#include "pool.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <threads.h>

#include "posix.h"
#include "towerloop/status.h"

#define MOST_THREADS 256u

struct shared {
    const struct tl_pool *pool;
    mtx_t lock;
    size_t next, done;
    size_t failed_job; /* lowest one that failed */
    int status;
    int reason; /* its errno: each thread has its own */
};

/* The next job, or false when there is none to begin. */
static bool draw(struct shared *s, size_t *i)
{
    const struct tl_pool *p = s->pool;
    bool found = false;
    mtx_lock(&s->lock);
    if (p->interrupted && *p->interrupted && s->next < p->jobs && s->status == TL_OK)
        s->status = TL_E_INTERRUPTED;
    if (s->status == TL_OK && s->next < p->jobs) {
        *i = s->next++;
        found = true;
    }
    mtx_unlock(&s->lock);
    return found;
}

static void account(struct shared *s, size_t i, int status)
{
    const struct tl_pool *p = s->pool;
    const int reason = errno;
    mtx_lock(&s->lock);
    s->done++;
    if (status != TL_OK && i < s->failed_job) {
        s->failed_job = i;
        s->status = status;
        s->reason = reason;
    }
    if (p->progress)
        p->progress(p->progress_arg, s->done, p->jobs);
    mtx_unlock(&s->lock);
}

static int work(void *arg)
{
    struct shared *s = arg;
    size_t i = 0;
    while (draw(s, &i))
        account(s, i, s->pool->job(s->pool->arg, i));
    return 0;
}

unsigned tl_pool_processors(void)
{
    return tl_posix_processors();
}

int tl_pool_run(const struct tl_pool *pool)
{
    struct shared s = {.pool = pool, .failed_job = pool->jobs};
    unsigned wanted = pool->threads ? pool->threads : tl_pool_processors();
    if (wanted > pool->jobs)
        wanted = (unsigned)pool->jobs;
    if (wanted > MOST_THREADS)
        wanted = MOST_THREADS;
    if (pool->jobs == 0)
        return TL_OK;

    thrd_t *thread = calloc(wanted, sizeof *thread);
    if (!thread)
        return TL_E_MEMORY;
    if (mtx_init(&s.lock, mtx_plain) != thrd_success) {
        free(thread);
        return TL_E_MEMORY;
    }
    unsigned started = 0;
    while (started + 1 < wanted && thrd_create(&thread[started], work, &s) == thrd_success)
        started++;
    work(&s); /* the caller's own thread is one of them */
    for (unsigned t = 0; t < started; t++)
        thrd_join(thread[t], NULL);
    mtx_destroy(&s.lock);
    free(thread);
    errno = s.reason;
    return s.status;
}
