/* What a struct tl_loop holds, and what the files of the facade share. */
#ifndef TL_LIB_HANDLE_H
#define TL_LIB_HANDLE_H

#include <stdbool.h>

#include "towerloop/advice.h"
#include "towerloop/assess.h"
#include "towerloop/diag.h"
#include "towerloop/scenario.h"
#include "towerloop/series.h"
#include "towerloop/towerloop.h"

struct tl_loop {
    /* as read */
    struct tl_scenario scenario;
    struct tl_diag diag;
    char **message;       /* of diag, as text */
    const char **warning; /* those of them that are warnings, for the summary */
    size_t warnings;
    struct tl_model *model; /* NULL: the scenario could not be read */

    /* the table */
    size_t columns, rows, capacity;
    char (*name)[TL_SERIES_NAME_SIZE];
    double *table; /* column after column, `capacity` rows each; NULL: not begun */
    double *cell;  /* one row */

    /* the run */
    double rtol;
    int (*watch)(void *arg, double t_d, double done);
    void *watch_arg;
    int stop;               /* watch said so */
    bool running;           /* inside tl_loop_advance() */
    int failed;             /* how the run ended before its time; TL_OK: it did not */
    struct tl_trial *trial; /* NULL: not begun */
    struct tl_work *work;   /* of the rows; the judge has its own */
    struct tl_snapshot snapshot;

    /* the judgement */
    bool judged;
    struct tl_assessment assessment;
    struct tl_advice advice;
    char *summary;

    char fault[TL_FAULT_SIZE];
};

/* Remember in words why a call fails; returns `status`. */
int tl_loop_fail(struct tl_loop *l, int status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
struct tl_loop_limit tl_loop_limit_of(const struct tl_limit_verdict *v);
/* Start the run, if it was not begun. */
int tl_loop_begin(struct tl_loop *l);

#endif
