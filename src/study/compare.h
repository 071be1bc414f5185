/* Variants side by side: each is run, or found done, in the folder of the study. */
#ifndef TL_COMPARE_H
#define TL_COMPARE_H

#include "build_sheet.h"
#include "costs.h"
#include "paired.h"
#include "run_result.h"
#include "study_folder.h"

#define TL_COMPARE_WHY 512

struct tl_compare_row {
    char *name; /* for people; unlike all others */
    struct tl_scenario scenario;
    char *text; /* all of the scenario, to know it again */
    char **set; /* with these, KEY=VALUE, the file reads as it */
    size_t sets;
    bool done;
    bool fresh; /* it had to be run */
    struct tl_run_result result;
    struct tl_amounts amounts, a_month;
    struct tl_bill bill;
    struct tl_build_sheet sheet;
    int status;
    char why[TL_COMPARE_WHY]; /* of a failure */
};

struct tl_compare {
    struct tl_compare_row *row;
    size_t rows;
    char (*run)[TL_STUDY_NAME_SIZE]; /* of each row, its folder in runs/ */
    struct tl_paired *uncertain;     /* of each row, how sure it is; NULL: that was not asked */
};

/* A row more; takes over `scenario`, whatever happens. A name that stands already gets a number. A
 * scenario that is there already makes no row: *twin is then the name of the row that has it, else
 * NULL; the next row may end its life. TL_OK or TL_E_MEMORY. */
int tl_compare_add(struct tl_compare *c, const char *name, struct tl_scenario *scenario,
                   const char **twin);
/* What the last row was read with: `variant`, then `set`. TL_OK or TL_E_MEMORY. */
int tl_compare_note_sets(struct tl_compare *c, const char *const *variant, size_t variants,
                         const char *const *set, size_t sets);
/* Room for how sure each of them is. TL_OK or TL_E_MEMORY. */
int tl_compare_ask_uncertain(struct tl_compare *c);
void tl_compare_free(struct tl_compare *c);

struct tl_compare_options {
    double rtol;
    unsigned threads; /* 0: one a processor */
    const volatile int *interrupted;
    void (*progress)(void *arg, size_t done, size_t rows);
    void *progress_arg;
};

/* Fills the rows. What does not hang on the runs' order is all there is in them. TL_OK;
 * TL_E_INTERRUPTED; else that of the first row that failed, whose `why` says more. Rows that were
 * finished are `done` in any case. */
int tl_compare_run(struct tl_compare *c, const struct tl_study *folder,
                   const struct tl_compare_options *options);

/* Why none of the rows can be called the cheapest, in words that follow "the variants "; NULL when one
 * can: they run for the same time, have the same currency, the same things have a price, and pump and
 * aerator are switched off and on alike. An outage saves energy, but nobody would choose it for that. */
const char *tl_compare_unlike(const struct tl_compare *c);
/* The cheapest, built and run to its end, of those at most so bad; the first of equals; NULL when there
 * is none, no price is given or they are unlike. */
const struct tl_compare_row *tl_compare_cheapest(const struct tl_compare *c, enum tl_grade worst);
/* How many are at most so bad. */
size_t tl_compare_count(const struct tl_compare *c, enum tl_grade worst);

/* The values of a list joined by commas that stand outside of brackets and quotation marks:
 * "600 gal/h,1200 gal/h". Returns the next one, trimmed, "" where a comma has nothing beside it, and
 * moves *list behind it, to NULL after the last one; NULL then, or out of memory. Caller frees. */
char *tl_compare_next_value(const char **list);

#endif
