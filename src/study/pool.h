/* Many independent jobs on a few threads. */
#ifndef TL_STUDY_POOL_H
#define TL_STUDY_POOL_H

#include <stddef.h>

struct tl_pool {
    /* Job `i` of `jobs`; called from any thread, in rising order of i but several at once. Its result
     * goes where only job i writes, so that nothing depends on the number of threads. A non-zero
     * return is kept as the pool's status and no further job is begun. */
    int (*job)(void *arg, size_t i);
    void *arg;
    size_t jobs;
    unsigned threads;                /* 0: one a processor */
    const volatile int *interrupted; /* non-zero: begin no further job; may be NULL */
    /* Called after each job, by one thread at a time; may be NULL. */
    void (*progress)(void *arg, size_t done, size_t jobs);
    void *progress_arg;
};

/* TL_OK once all jobs are done; the status of the first (lowest) failed job, and its errno; TL_E_INTERRUPTED;
 * TL_E_MEMORY when no thread can be started. Jobs that were begun are always finished. */
int tl_pool_run(const struct tl_pool *pool);

/* Processors this process may use, at least 1. */
unsigned tl_pool_processors(void);

#endif
