/* What the runs of a spread add up to: whole numbers in fixed bins, so that neither their order nor the way they
 * were shared out can change a result, and their number not the room they take. */
#ifndef TL_TALLY_H
#define TL_TALLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "chance.h"
#include "indices.h"
#include "spread_runs.h"

enum { TL_TALLY_GROUPS = 32 }; /* of consecutive runs, for the errors of sensitivity indices */

struct tl_tally {
    const struct tl_spread *spread;
    size_t runs;          /* added so far */
    size_t unknown;       /* of them, those that could not be run */
    size_t impossible;    /* of these, those whose values cannot stand together */
    size_t lost;          /* lost fish */
    size_t unready;       /* filter not shown to be ready */
    size_t ice, fish_ice; /* ice on the water; with fish below it */
    size_t outside;       /* left the range for which an equation was published */
    size_t outside_of[TL_NRANGE];
    size_t grade[TL_DANGER + 1]; /* of those that are known */
    uint32_t *lost_in;           /* [intervals], first */
    struct tl_tally_limit {
        size_t judged, caution, danger; /* caution: beyond it, those beyond danger with them */
        uint32_t *first_in; /* [intervals]: beyond caution or danger for the first time */
        uint32_t *worst;    /* [bins] */
        double least, most; /* worst value of all judged runs */
        uint64_t
            *place; /* [bins][inputs]: sum of the inputs' places, in 2^-20, of the runs in a bin */
        uint64_t *square; /* [inputs]: sum of the squares of the places of all judged runs */
    } limit[TL_NLIMIT];
    struct tl_index_sums
        *sums;     /* of a sensitivity: [TL_NLIMIT][TL_TALLY_GROUPS]; NULL: there is none */
    uint32_t *fan; /* [rows][most bins of a watched quantity] */
    void *room;    /* all of these arrays */
};

/* Nothing counted yet; `s` must outlive it. TL_OK or TL_E_MEMORY. Free with tl_tally_free() in any case. */
int tl_tally_new(const struct tl_spread *s, struct tl_tally *out);
void tl_tally_free(struct tl_tally *t);
void tl_tally_add(struct tl_tally *t, const struct tl_block *b);

/* A run that is not known counts as one in danger. */
struct tl_chance tl_tally_beyond(const struct tl_tally *t, enum tl_grade grade); /* this or worse */
struct tl_chance tl_tally_within(const struct tl_tally *t);
struct tl_chance tl_tally_lost(const struct tl_tally *t); /* fish */
struct tl_chance tl_tally_limit_beyond(const struct tl_tally *t, enum tl_limit_id limit,
                                       enum tl_grade grade);

/* The verdict on a spread: a grade is left out of account only where fewer than TL_TALLY_RARE of the runs reach
 * it, by the upper end of the 90 % interval: with too few runs to be sure of that it holds. */
#define TL_TALLY_RARE 0.05 /* judgement */
enum tl_grade tl_tally_verdict(const struct tl_tally *t);

/* What has to be said in one breath with a verdict: ", but …" where too few runs were made to show a better one, or
 * where some reach a worse one; else "". */
#define TL_TALLY_BUT 96
void tl_tally_but(enum tl_grade verdict, const struct tl_chance *caution,
                  const struct tl_chance *danger, char but[TL_TALLY_BUT]);

/* Below it `share` of the runs lie; the middle of a bin, but of a limit no lower and no higher than any run had it, NAN: there are none. Of a watched quantity in an interval;
 * of a limit's worst value; of the time when a limit is first broken, of the runs that break it; of the time
 * when fish are lost, of the runs that lose them. */
double tl_tally_fan(const struct tl_tally *t, size_t watched, size_t interval, double share);
double tl_tally_worst(const struct tl_tally *t, enum tl_limit_id limit, double share);
double tl_tally_first_d(const struct tl_tally *t, enum tl_limit_id limit, double share);
double tl_tally_lost_d(const struct tl_tally *t, double share);

/* Spearman's correlation of an input with a limit's worst value: of the input's place in its distribution, which is
 * its rank among very many runs, with the rank of the worst value, equal within a bin. -1..1, positive where
 * more of the input makes the worst value greater; NAN: all runs lie in one bin. */
double tl_tally_correlation(const struct tl_tally *t, enum tl_limit_id limit, size_t input);

/* The sensitivity indices of a limit's worst value; not known where there is no sensitivity. */
void tl_tally_indices(const struct tl_tally *t, enum tl_limit_id limit, struct tl_indices *out);

#endif
