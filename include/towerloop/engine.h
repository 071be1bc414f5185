/* Runs a model through its time: integrates from stop to stop (meals, events, the moment media dry
 * out), changes the state there, resets the integrator and goes on. GSL does the stepping. */
#ifndef TOWERLOOP_ENGINE_H
#define TOWERLOOP_ENGINE_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/model.h"

/* Someone who wants to see the state at even instants: start + k * period, and the end. Instants
 * inside a step are interpolated (cubic Hermite); the integrator never stops for them. At the
 * instant of an event the state after it is shown. A non-zero return ends the run with that code. */
struct tl_observer {
    double period_d; /* > 0 */
    size_t need;     /* leading components of y it looks at (TL_NWATER: the tank); 0 = all of the
                        state proper. The running totals are never interpolated. */
    int (*see)(void *arg, double t_d, const struct tl_controls *controls, const double *y);
    void *arg;
};

/* How often such an observer is called in a run that comes to its end. */
size_t tl_observer_instants(const struct tl_setup *s, double period_d);

#define TL_FAULT_SIZE 256

/* Relative tolerances worth asking for. */
#define TL_RTOL_LEAST 1e-10
#define TL_RTOL_MOST  1e-2

struct tl_engine_stats {
    unsigned long steps;
    unsigned long rejected;
    unsigned long evaluations; /* of the right-hand side */
    unsigned long stops;
};

struct tl_engine_options {
    double rtol; /* relative tolerance, 0 = the default 1e-5 */
    const struct tl_observer *observer;
    size_t observers;
    const double *start_state;       /* the state proper to start from; NULL: that of the setup */
    const volatile int *interrupted; /* looked at after every step; may be NULL */
    void (*progress)(void *arg,
                     double done); /* 0..1, at most once per simulated day; may be NULL */
    void *progress_arg;
};

struct tl_engine; /* a run: model, state, integrator */

int tl_engine_new(const struct tl_model *m, const struct tl_engine_options *options,
                  struct tl_engine **out);
/* Go on to `t_d` (days since day 0; clipped to the end of the run). TL_OK; TL_E_SOLVER with
 * tl_engine_fault() naming component, place and time; TL_E_INTERRUPTED; or an observer's code. */
int tl_engine_advance(struct tl_engine *e, double t_d);
double tl_engine_time(const struct tl_engine *e);
double tl_engine_end(const struct tl_engine *e);
const double *tl_engine_state(const struct tl_engine *e);
const double *tl_engine_start_state(const struct tl_engine *e);
const struct tl_controls *tl_engine_controls(const struct tl_engine *e);
const struct tl_engine_stats *tl_engine_stats(const struct tl_engine *e);
const char *tl_engine_fault(const struct tl_engine *e);
/* First instant at which oxygen in the tank fell below the critical one (fish are lost and the run's
 * promise ends), or NAN. */
double tl_engine_fish_lost_d(const struct tl_engine *e);
void tl_engine_free(struct tl_engine *e);

#endif
