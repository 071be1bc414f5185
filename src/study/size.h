/* The least or the most of a quantity of a scenario that keeps every limit with a margin to spare. */
#ifndef TL_STUDY_SIZE_H
#define TL_STUDY_SIZE_H

#include "number_at.h"
#include "size_trial.h"

/* What is asked for. Values are in `unit` throughout. */
struct tl_size_quantity {
    const char *path; /* of its key */
    bool most;        /* else the least */
    bool whole;
    const char *unit; /* "" for none */
    double low, high; /* its range */
    double given;     /* the scenario's own */
};

#define TL_SIZE_SETTING 160
/* From the key; `why` and `expected` as tl_scenario_number_at(). */
int tl_size_quantity(const struct tl_scenario *s, const char *path, bool most,
                     enum tl_unit_system units, struct tl_size_quantity *out, char *why,
                     char *expected, size_t size);
/* "tower.trays=12", for --set. */
void tl_size_setting(const struct tl_size_quantity *q, double value, char text[TL_SIZE_SETTING]);
/* "12", "4.21 m3/h". */
void tl_size_value_text(const struct tl_size_quantity *q, double value, char *text, size_t size);

struct tl_size_point {
    double value;
    struct tl_size_trial trial;
    bool holds;
};

enum tl_size_outcome {
    TL_SIZE_FOUND,  /* the neighbour on the wrong side fails */
    TL_SIZE_AT_END, /* it holds as far as was looked: there is no neighbour */
    TL_SIZE_NEVER   /* no value that was tried will do */
};

struct tl_size_result {
    enum tl_size_outcome outcome;
    struct tl_size_point *point; /* every value that was run, rising */
    size_t points;
    size_t answer;    /* unless TL_SIZE_NEVER */
    size_t neighbour; /* of TL_SIZE_FOUND */
    size_t best;      /* with most to spare */
    bool one_turn;    /* what holds and what fails lie on two sides of one value */
    bool one_way;     /* what is to spare does not fall again on the way to the safe side */
};

struct tl_size_task {
    struct tl_size_bench *bench;
    const struct tl_size_quantity *quantity;
    double margin;
    unsigned threads; /* 0: one a processor; the result does not depend on it */
    const char *also; /* one more setting, or NULL */
};

/* Searches: a wide grid around the scenario's own value (of a share: from 0 to 100 %), wider until what holds and what fails are both
 * met, then bisection for whole numbers, and the root of what is to spare (Brent) for others, rounded to
 * three digits on the safe side. Every value claimed was run itself. TL_OK or as tl_size_try(). Free with
 * tl_size_result_free(), whatever came of it. */
int tl_size_solve(const struct tl_size_task *task, struct tl_size_result *out);
void tl_size_result_free(struct tl_size_result *r);

/* Two quantities: the second one's answer at each of some values of the first. */
#define TL_SIZE_FRONT 7
struct tl_size_front {
    double first[TL_SIZE_FRONT]; /* rising */
    struct tl_size_result second[TL_SIZE_FRONT];
    size_t n;
};
int tl_size_solve_front(const struct tl_size_task *task, const struct tl_size_quantity *first,
                        struct tl_size_front *out);
void tl_size_front_free(struct tl_size_front *f);

#endif
