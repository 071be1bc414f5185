/* towerloop as a library: read a scenario, run it, ask it for figures.
 *
 *     struct tl_loop *loop;
 *     if (tl_loop_read("my-pond.yaml", NULL, 0, &loop) == TL_OK && tl_loop_run(loop) == TL_OK)
 *         puts(tl_loop_verdict(loop));
 *     tl_loop_free(loop);
 *
 * Handles.   Everything hangs off a struct tl_loop: one scenario and one run of it. Nothing is global.
 *            The same scenario can be read any number of times.
 * Threads.   Different handles may be used in different threads at the same time; one handle by one
 *            thread at a time.
 * Ownership. Texts and arrays that are returned belong to the handle and stay as they are until it is
 *            freed, unless the function says less. Texts that are given are copied.
 * Errors.    A function that can fail returns TL_OK (0) or a negative TL_E_* of status.h;
 *            tl_loop_fault() says in words what the last one that failed met with. Nothing prints,
 *            exits, changes the locale or catches signals. The GNU Scientific Library calls its error
 *            handler, whose default aborts, in one case that is left: when it gets no memory. Who has
 *            to live through that calls gsl_set_error_handler_off() before the first thread starts.
 * Units.     Times are days since 00:00 of the scenario's start date, local standard time ("day 0").
 *            Columns are in the unit their name ends with: tank_nh3_mgN_L is mg/L, as nitrogen.
 * Handles that are passed must not be NULL, except to tl_loop_free(). */
#ifndef TOWERLOOP_TOWERLOOP_H
#define TOWERLOOP_TOWERLOOP_H

#include <stddef.h>

#include "towerloop/api.h"
#include "towerloop/status.h"

#ifdef __cplusplus
extern "C" {
#endif

struct tl_loop;

/* --- what is linked ------------------------------------------------------------------------------ */

/* "0.1.0", and the commit it was built from or "unknown". Never NULL; static. */
TL_API const char *tl_version(void);
TL_API const char *tl_commit(void);

/* --- reading ------------------------------------------------------------------------------------- */

/* Read a scenario file. `set` holds `sets` changes "KEY=VALUE" with a dotted path, as
 * "tower.trays=12" or "fish[0].count=100"; it may be NULL when `sets` is 0.
 *
 * TL_OK; TL_E_IO: the file cannot be read; TL_E_INPUT: the scenario has faults; TL_E_MEMORY.
 * *loop is a handle even then, to ask for its messages and to free, but it cannot be run; only when
 * there is no memory for a handle, *loop is NULL. */
TL_API int tl_loop_read(const char *path, const char *const *set, size_t sets,
                        struct tl_loop **loop);
/* The same with the scenario's text, `length` bytes of UTF-8 that need no NUL. Files it names, the
 * temperatures, are looked for in `folder` ("." the current one); NULL refuses them. */
TL_API int tl_loop_read_text(const char *text, size_t length, const char *folder,
                             const char *const *set, size_t sets, struct tl_loop **loop);
/* Also ends a run that is half done. NULL does nothing. */
TL_API void tl_loop_free(struct tl_loop *loop);

/* What the reader had to say, faults and warnings, in the order of the file. */
TL_API size_t tl_loop_messages(const struct tl_loop *loop);
/* One of them, `file:line:column: key: what is wrong; expected …` on one line of UTF-8 without control
 * characters; NULL when there are not that many. */
TL_API const char *tl_loop_message(const struct tl_loop *loop, size_t index);
/* 1: it is a fault, 0: a warning, or there are not that many. */
TL_API int tl_loop_message_is_fault(const struct tl_loop *loop, size_t index);

/* Title of the scenario; "" when it could not be read. */
TL_API const char *tl_loop_title(const struct tl_loop *loop);
/* First and last instant of the run, days; 0 when the scenario could not be read. */
TL_API double tl_loop_start_d(const struct tl_loop *loop);
TL_API double tl_loop_end_d(const struct tl_loop *loop);
/* The date and time of day `t_d` (-100 000 .. 100 000), rounded to the second, as
 * "2027-05-01T06:00:00", into `text` of `size` bytes, at least 20. TL_OK, or TL_E_INPUT: not read, too
 * far off, or too small a buffer. */
TL_API int tl_loop_date(struct tl_loop *loop, double t_d, char *text, size_t size);

/* --- running ------------------------------------------------------------------------------------- */

/* Relative tolerance of the solver, 1e-10 .. 1e-2, 1e-5 when never called; only before the run has
 * begun. TL_OK or TL_E_INPUT. */
TL_API int tl_loop_set_rtol(struct tl_loop *loop, double rtol);
/* Have `watch` called once a simulated day while the loop runs, in the thread that runs it, with the
 * day it is at and the share done, 0..1. A return other than 0 stops the run within a step. It may
 * ask its handle for figures; it must not run or free it. NULL: nobody watches. */
TL_API void tl_loop_watch(struct tl_loop *loop, int (*watch)(void *arg, double t_d, double done),
                          void *arg);
/* Go on to day `t_d`, at most to the end of the run, where it is judged; a day that is behind does
 * nothing. The solver ends a step where it is held, so a run in pieces and one in a single go differ
 * in their last digits, by less than the tolerance; an interruption changes nothing.
 *
 * TL_OK; TL_E_INTERRUPTED: watch said so, and the run may be gone on with; TL_E_SOLVER, TL_E_LEDGER,
 * TL_E_MEMORY: the run is over, what was recorded can still be read; TL_E_INPUT: t_d is not a number,
 * the scenario was not read, or watch calls. After a failure each further call returns it again. */
TL_API int tl_loop_advance(struct tl_loop *loop, double t_d);
/* tl_loop_advance() to the end. */
TL_API int tl_loop_run(struct tl_loop *loop);
/* Where the run is: its start before it was begun. */
TL_API double tl_loop_time_d(const struct tl_loop *loop);
/* What the last call that failed met with, in one line; "" while nothing failed. It may change with
 * the next call that fails. */
TL_API const char *tl_loop_fault(const struct tl_loop *loop);

/* --- the table ----------------------------------------------------------------------------------- */

/* The columns of series.csv, less time_iso; time_d is the first. 0 when the scenario was not read. */
TL_API size_t tl_loop_columns(const struct tl_loop *loop);
/* NULL when there are not that many. */
TL_API const char *tl_loop_column_name(const struct tl_loop *loop, size_t column);
/* The column of that name, or -1. */
TL_API int tl_loop_find_column(const struct tl_loop *loop, const char *name);
/* Rows recorded so far: one each `report every` from the start, and one at the end. The row of the
 * very instant the run is held at comes when it goes on. */
TL_API size_t tl_loop_rows(const struct tl_loop *loop);
/* Rows there will be at the end. */
TL_API size_t tl_loop_rows_planned(const struct tl_loop *loop);
/* The rows of one column, tl_loop_rows() of them; NAN where series.csv has an empty cell (the outlet
 * of a tower that is off). The numbers are not rounded as they are in series.csv. The array stays in
 * place while the run goes on, which adds to it. NULL before the run began or when there are not that
 * many columns. */
TL_API const double *tl_loop_column(const struct tl_loop *loop, size_t column);
/* A column's value at this moment of the run, whatever `report every`. TL_OK; TL_E_INPUT: no such
 * column, or not read; TL_E_SOLVER, TL_E_MEMORY. */
TL_API int tl_loop_value(struct tl_loop *loop, const char *column, double *value);

/* --- the judgement, once the run has come to its end ---------------------------------------------- */

/* "within limits", "caution", "danger", or "caution: " and why where no limit was passed: "outside published
 * range", "effect of medicine not judged", "ends in the middle of an event"; there may be more. NULL before
 * the end and after a failure. */
TL_API const char *tl_loop_verdict(const struct tl_loop *loop);

struct tl_loop_limit {
    const char *name;     /* "un-ionised ammonia", …; static */
    const char *unit;     /* "mg/L as N", …, "" for pH; static */
    double caution;       /* NAN: there is none */
    double danger;        /* NAN: there is none */
    double worst;         /* NAN: the run was too short to judge it */
    double worst_d;       /* when, days; NAN */
    double hours_caution; /* beyond caution, including those beyond danger */
    double hours_danger;
    double first_breach_d; /* NAN: never */
    int grade;             /* 0 within, 1 caution, 2 danger */
};
/* How many limits there are, and their names; always the same. NULL: there are not that many. */
TL_API size_t tl_loop_limits(void);
TL_API const char *tl_loop_limit_name(size_t index);
/* TL_OK, or TL_E_INPUT: not that many, or no verdict yet. */
TL_API int tl_loop_limit(struct tl_loop *loop, size_t index, struct tl_loop_limit *limit);

/* Day on which the tank's oxygen first was too low for fish to live; NAN: never so far. */
TL_API double tl_loop_fish_lost_d(const struct tl_loop *loop);
/* Day from which the filter is ready: ammonia and nitrite stay low to the end, and films that began new or seeded
 * were shown to keep them so; NAN: there is none, or no verdict yet. */
TL_API double tl_loop_ready_d(const struct tl_loop *loop);

/* Try what would help, each lever in a run of its own: up to some ten times the time of the run, and
 * watch is not called. The answer is part of the summary from then on. TL_OK; TL_E_INPUT: no verdict
 * yet; TL_E_MEMORY. */
TL_API int tl_loop_advise(struct tl_loop *loop);
/* The text of summary.json: what the program writes for the same scenario, with advice once
 * tl_loop_advise() was called. Valid until the next call of either. NULL: no verdict yet, or out of
 * memory. */
TL_API const char *tl_loop_summary(struct tl_loop *loop);

#ifdef __cplusplus
}
#endif

#endif
