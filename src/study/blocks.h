/* A block: the results of a few consecutive runs of a spread, and its file. Blocks are what a spread is made
 * of: a shard is some of them, an interrupted study goes on from those that are whole.
 *
 * A file is written under another name and renamed. It begins with a mark, the number of the study it belongs
 * to and that of the block, and ends with a checksum (FNV-1a, 64 bits) of everything before; all numbers are
 * little-endian, doubles as IEEE 754. */
#ifndef TL_BLOCKS_H
#define TL_BLOCKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "towerloop/limits.h"
#include "towerloop/ranges.h"
#include "towerloop/verdict.h"

enum { TL_BLOCK_RUNS = 64 }; /* at most */

struct tl_spread_run {   /* what is kept of one run */
    bool known;          /* false: it could not be run; nothing below counts */
    bool impossible;     /* not known, as its values cannot stand together in a scenario */
    bool lost;           /* fish */
    bool ice, fish_ice;  /* on the water; with fish below it */
    bool unready;        /* its filter, which began new or seeded, is not shown to be ready */
    uint32_t outside;    /* published ranges that were left: bits of TL_RANGE_LIST */
    enum tl_grade grade; /* over everything that is followed, as tl_outcome_grade() */
    double lost_d;       /* NAN: never */
    struct tl_spread_limit {
        bool judged;
        enum tl_grade grade;
        double worst;   /* in the limit's unit; NAN: not judged */
        double first_d; /* first beyond caution or danger, days since day 0; NAN: never */
    } limit[TL_NLIMIT];
};

/* The bins in which the values of a block's known runs lie: `rows` rows (a quantity in an interval), each
 * `runs` sorted bins. */
struct tl_block {
    uint32_t index;
    size_t runs;
    struct tl_spread_run run[TL_BLOCK_RUNS];
    size_t rows;
    uint16_t
        *bin; /* [rows][TL_BLOCK_RUNS], each row rising; those of a row that count come first */
    uint8_t *filled; /* [rows], how many of them count */
    size_t others;   /* runs besides, of each: those of a sensitivity */
    double *other; /* [TL_BLOCK_RUNS][others][TL_NLIMIT], worst values; NAN: not known or judged */
};

/* Room for the rows. TL_OK or TL_E_MEMORY. Free with tl_block_free() in any case. */
int tl_block_new(struct tl_block *b, size_t rows);
/* Room for so many others; once. TL_OK or TL_E_MEMORY. */
int tl_block_add_others(struct tl_block *b, size_t others);
void tl_block_free(struct tl_block *b);

#define TL_BLOCK_NAME_SIZE 32
/* "000012.block"; and whether a file's name is one, or that of one under way. */
void tl_block_name(uint32_t index, char name[TL_BLOCK_NAME_SIZE]);
bool tl_block_is_name(const char *name);

/* Into a file at `path`. `study`: the number of the study. TL_OK, TL_E_IO (errno says why), TL_E_MEMORY. */
int tl_block_write(const struct tl_block *b, uint64_t study, const char *path);
/* The block at `path`, for which `b` has room and b->index says which it is, b->runs how many runs. TL_OK;
 * TL_E_INPUT: there is none, or it is not whole, or of another study; TL_E_MEMORY. */
int tl_block_read(struct tl_block *b, uint64_t study, const char *path);

#endif
