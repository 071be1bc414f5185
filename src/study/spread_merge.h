/* Shards of one spread, each in its folder, put together again. */
#ifndef TL_SPREAD_MERGE_H
#define TL_SPREAD_MERGE_H

#include "spread_runs.h"
#include "tally.h"
#include "towerloop/scenario.h"

struct tl_merge {
    struct tl_spread spread;
    struct tl_scenario scenario; /* as the shards wrote it */
    json_t *study;               /* study.json of shard 1, which the texts of `spread` point into */
    char **folder;               /* of the blocks of each shard, in their order */
    size_t folders;
    char **input; /* copies of the files that were given, closed by NULL */
    bool read;    /* the scenario was */
};

/* Look at the folders and see that they belong together: one scenario, one question, one build, each shard once.
 * TL_OK; TL_E_INPUT with what is wrong, and in which folder, in `why`; TL_E_MEMORY. tl_merge_close() is due in
 * any case. */
int tl_merge_open(const char *const *folder, size_t folders, struct tl_merge *m, char *why,
                  size_t size);
void tl_merge_close(struct tl_merge *m);

/* A block of the spread out of a folder, into `b`, which has room for it. TL_OK; TL_E_INPUT with what is wrong in
 * `why`; TL_E_MEMORY. */
int tl_spread_read_block(const struct tl_spread *s, const char *folder, size_t index,
                         struct tl_block *b, char *why, size_t size);

/* Add all blocks in their order: block b lies in folder[b % folders]. TL_OK; TL_E_INPUT with the first that is not
 * there or not whole in `why`; TL_E_MEMORY; TL_E_INTERRUPTED once *interrupted (may be NULL). */
int tl_spread_collect(const struct tl_spread *s, const char *const *folder, size_t folders,
                      const volatile int *interrupted, struct tl_tally *t, char *why, size_t size);

#endif
