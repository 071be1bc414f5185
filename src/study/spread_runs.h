/* A spread: a scenario run many times over its uncertain inputs, in blocks of runs that stand for themselves.
 *
 * Run k takes point k of a seeded sequence, whatever the number of runs, threads and shards; block b holds the
 * runs from b * TL_BLOCK_RUNS on; shard i of n takes every block with b % n == i - 1. So all ways to share out
 * a spread give the same blocks, byte for byte, on one kind of processor with one build. */
#ifndef TL_SPREAD_RUNS_H
#define TL_SPREAD_RUNS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "blocks.h"
#include "points.h"
#include "spread_inputs.h"
#include "watched.h"

#define TL_SPREAD_BLOCKS "blocks" /* the folder they lie in */

#define TL_SPREAD_RUNS_LEAST 10
#define TL_SPREAD_RUNS_MOST  1000000

struct tl_spread {
    /* what is asked */
    const char *file;
    const char *const *set;
    size_t sets;
    size_t runs;
    uint64_t seed;
    bool sensitivity;  /* besides each run those of its base point, see indices.h */
    const char *level; /* of the lanes, as tl_ponds_level() names it */
    struct tl_spread_input *input;
    size_t inputs;
    /* Which coordinate of a point each input takes, of `coordinates` in all; NULL: its own place. Not with a
     * sensitivity. */
    const unsigned char *coordinate;
    size_t coordinates;
    const struct tl_scenario *scenario; /* without the inputs' values */
    /* follows from it */
    struct tl_intervals intervals;
    struct tl_points *points;
    json_t *build;  /* version, commit, compiler, gsl, dispatch: of this program, unless given */
    uint64_t print; /* of the question and the build: the number in the blocks */
};

struct tl_spread_shard {
    unsigned index, of; /* 1..of */
};

/* Fill in what follows from what is asked, `build` if it is NULL. TL_OK, TL_E_INPUT (too many inputs or runs), TL_E_MEMORY. Free with
 * tl_spread_free() in any case. */
int tl_spread_prepare(struct tl_spread *s);
void tl_spread_free(struct tl_spread *s);

/* What was asked, as far as results hang on it: an object. `shard` may be NULL. NULL: out of memory. */
json_t *tl_spread_question(const struct tl_spread *s, const struct tl_spread_shard *shard);
/* The number of a scenario, its values and those of the files it names. TL_OK or TL_E_MEMORY. */
int tl_spread_scenario_print(const struct tl_scenario *s, uint64_t *print);
/* Whether the file still reads as the scenario. TL_OK; TL_E_REFUSED: it was changed; TL_E_MEMORY. */
int tl_spread_check_unchanged(const struct tl_spread *s);
/* The other way: runs, seed, level and inputs out of a question, with the build of a study.json; texts of the
 * result point into `question`, its inputs are freed by the caller. TL_OK, TL_E_INPUT, TL_E_MEMORY. */
int tl_spread_from_question(const json_t *question, struct tl_spread *out,
                            struct tl_spread_shard *shard);

/* "uniform" … */
const char *tl_spread_kind(enum tl_distribution_kind kind);

size_t tl_spread_blocks(const struct tl_spread *s);
/* Of a block of this spread. */
size_t tl_spread_block_runs(const struct tl_spread *s, size_t block);
/* Where run k lies among its inputs: u[inputs], each inside (0, 1); the same with and without a
 * sensitivity. */
void tl_spread_point(const struct tl_spread *s, size_t run, double *u);
/* Runs besides of each run: 0, or inputs + 1 of a sensitivity. Their points: 0 is B of the base point, 1 + i
 * the run itself with the i-th input of B. */
size_t tl_spread_others(const struct tl_spread *s);
void tl_spread_other_point(const struct tl_spread *s, size_t run, size_t other, double *u);
/* Room for a block of it. TL_OK or TL_E_MEMORY; tl_block_free() in any case. */
int tl_spread_block_new(const struct tl_spread *s, struct tl_block *b);
/* The rows of its blocks, see blocks.h: that of a watched quantity in an interval. */
static inline size_t tl_spread_row(const struct tl_spread *s, size_t watched, size_t interval)
{
    return watched * s->intervals.count + interval;
}

struct tl_spread_course {
    const char *folder; /* of the blocks; must be there */
    struct tl_spread_shard shard;
    unsigned threads; /* 0: one a processor */
    const volatile int *interrupted;
    void (*progress)(void *arg, size_t runs, size_t of); /* by one thread at a time; may be NULL */
    void *progress_arg;
};

/* Run the blocks of a shard that do not lie in the folder whole. TL_OK; TL_E_IO (errno says why);
 * TL_E_REFUSED: the scenario is no longer the one that was read; TL_E_INTERRUPTED; TL_E_MEMORY. A run that fails is kept as one that is not known. */
int tl_spread_run(const struct tl_spread *s, const struct tl_spread_course *course);

/* The block's runs into `b`, which has room for them. As tl_spread_run(). */
int tl_spread_run_block(const struct tl_spread *s, size_t block, unsigned threads,
                        const volatile int *interrupted, struct tl_block *b);

#endif
