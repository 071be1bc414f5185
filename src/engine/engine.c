/* The run: stops, steps, observers, and the end of it when something goes wrong.
 *
 * Integrates with GSL's adaptive steppers from one stop to the next. A stop changes the state, so the
 * evolution is reset there (a stale derivative would spoil the first step after it). Observers are
 * served from inside the accepted steps and never influence them. */
#include "towerloop/engine.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dense_output.h"
#include "exponential_rk4.h"
#include "loop.h"
#include "pi_control.h"
#include "stepping.h"
#include "text.h"
#include "towerloop/status.h"
#include "transient_kernel.h"

struct watcher {
    struct tl_observer o;
    unsigned long shown; /* instants shown so far */
    bool end_shown;
};

struct tl_engine {
    const struct tl_model *model;
    const struct tl_layout *at;
    struct tl_work *work;
    struct tl_controls controls;
    struct tl_saved *saved;
    const struct tl_stop *stop;
    size_t stops;
    size_t next_stop;
    double t_d, start_d, end_d, h_d;
    double until_d;  /* where the steps under way end; INFINITY between them */
    double *y;       /* current */
    double *y_start; /* at the start of the run, before any stop */
    double *y0;      /* at the start of the last step */
    double *seen;    /* interpolated, for observers */
    double *scale;   /* what counts as small, by component; always above zero */
    struct tl_linear_part linear;
    double rtol;
    struct watcher *watcher;
    size_t watchers;
    const volatile int *interrupted;
    void (*progress)(void *arg, double done);
    void *progress_arg;
    double progress_d;
    double fish_lost_d;
    bool begun; /* the stops at the very start have been carried out */
    size_t bad_component;
    gsl_odeiv2_system system;
    gsl_odeiv2_step *step;
    gsl_odeiv2_control *control;
    gsl_odeiv2_evolve *evolve;
    struct tl_engine_stats stats;
    char fault[TL_FAULT_SIZE];
};

/* --- right-hand side for GSL --------------------------------------------------------------- */

/* GSL_SUCCESS, or GSL_FAILURE which asks for a smaller step. */
static int rhs(double t, const double y[], double dydt[], void *params)
{
    struct tl_engine *e = params;

    e->stats.evaluations++;
    if (tl_loop_rhs(e->model, e->work, &e->controls, tl_before_stop_d(t, e->until_d), y, dydt))
        return GSL_FAILURE;
    double sum[4] = {0}; /* four chains of additions side by side */
    size_t n = e->at->core;
    for (; n >= 4; n -= 4)
        for (size_t k = 0; k < 4; k++)
            sum[k] += dydt[n - 4 + k];
    while (n > 0)
        sum[0] += dydt[--n];
    if (isfinite(sum[0] + sum[1] + sum[2] + sum[3]))
        return GSL_SUCCESS;
    for (size_t i = 0; i < e->at->core; i++)
        if (!isfinite(dydt[i]) || !isfinite(y[i])) {
            e->bad_component = i;
            break;
        }
    return GSL_FAILURE;
}

/* The exchange of water between tank and chamber, and the guts. */
static double gut_rate(void *arg, double t_d)
{
    const struct tl_engine *e = arg;
    return tl_model_gut_rate(e->model, tl_before_stop_d(t_d, e->until_d));
}

static struct tl_linear_part linear_part(struct tl_engine *e)
{
    const struct tl_setup *s = tl_model_setup(e->model);
    const struct tl_layout *at = e->at;

    return (struct tl_linear_part){
        .core = at->core,
        .leader = at->tank,
        .follower = at->chamber,
        .pairs = TL_NWATER,
        .follower_share = s->chamber.volume_m3 / (s->tank.volume_m3 + s->chamber.volume_m3),
        .chain = at->fish + TL_FISH_GUT1_G,
        .chains = (at->store - at->fish) / TL_FISH_SLOTS,
        .stride = TL_FISH_SLOTS,
        .chain_rate = gut_rate,
        .arg = e,
    };
}

/* --- construction --------------------------------------------------------------------------- */

int tl_engine_new(const struct tl_model *m, const struct tl_engine_options *options,
                  struct tl_engine **out)
{
    const struct tl_setup *s = tl_model_setup(m);
    const double rtol = options && options->rtol > 0 ? options->rtol : DEFAULT_RTOL;
    const size_t observers = options ? options->observers : 0;
    int status = TL_E_MEMORY;
    struct tl_engine *e = calloc(1, sizeof *e);

    if (!e)
        return TL_E_MEMORY;
    e->rtol = rtol;
    e->model = m;
    e->at = tl_model_layout(m);
    const size_t n = e->at->size;
    e->stop = tl_model_stops(m, &e->stops);
    e->start_d = s->start_d;
    e->end_d = s->start_d + s->length_d;
    e->t_d = e->start_d;
    e->until_d = INFINITY;
    e->h_d = FIRST_STEP_D;
    e->fish_lost_d = NAN;
    e->progress_d = e->start_d;
    if (options) {
        e->interrupted = options->interrupted;
        e->progress = options->progress;
        e->progress_arg = options->progress_arg;
    }

    e->y = calloc(5 * n, sizeof *e->y);
    e->saved = calloc(s->events + 1, sizeof *e->saved);
    e->watcher = calloc(observers + 1, sizeof *e->watcher);
    if (!e->y || !e->saved || !e->watcher)
        goto done;
    e->y_start = e->y + n;
    e->y0 = e->y + 2 * n;
    e->seen = e->y + 3 * n;
    e->scale = e->y + 4 * n;
    e->watchers = observers;
    for (size_t i = 0; i < observers; i++)
        e->watcher[i].o = options->observer[i];

    status = tl_work_new(m, &e->work);
    if (status)
        goto done;
    status = tl_model_start(m, &e->controls, e->y);
    if (status)
        goto done;
    if (options && options->start_state)
        memcpy(e->y, options->start_state, e->at->core * sizeof *e->y);
    memcpy(e->y_start, e->y, n * sizeof *e->y);

    status = TL_E_MEMORY;
    tl_model_scales(m, e->scale);
    e->system = (gsl_odeiv2_system){rhs, NULL, n, e};
    e->step = gsl_odeiv2_step_alloc(tl_step_exponential_rk4, n);
    e->control = tl_pi_control_new(LOCAL_SHARE * rtol, e->scale, e->at->core);
    e->evolve = gsl_odeiv2_evolve_alloc(n);
    e->linear = linear_part(e);
    if (e->step && e->control && e->evolve) {
        memset(e->evolve->yerr, 0, n * sizeof *e->y); /* looked at even if no step was tried */
        status = TL_OK;
    }
done:
    if (status)
        tl_engine_free(e);
    else
        *out = e;
    return status;
}

void tl_engine_free(struct tl_engine *e)
{
    if (!e)
        return;
    if (e->evolve)
        gsl_odeiv2_evolve_free(e->evolve);
    if (e->control)
        gsl_odeiv2_control_free(e->control);
    if (e->step)
        gsl_odeiv2_step_free(e->step);
    tl_work_free(e->work);
    free(e->watcher);
    free(e->saved);
    free(e->y);
    free(e);
}

/* --- faults --------------------------------------------------------------------------------- */

static int fail_at(struct tl_engine *e, const char *what, size_t component)
{
    char name[128];

    tl_model_component_name(e->model, component, name, sizeof name);
    (void)tl_format(e->fault, sizeof e->fault, "%s at day %.4f: %s", what, e->t_d, name);
    return TL_E_SOLVER;
}

/* The first component of the state that is not a number; the length of the state when all are. */
static size_t not_a_number(const struct tl_engine *e, const double *y)
{
    size_t i = 0;
    while (i < e->at->core && isfinite(y[i]))
        i++;
    return i;
}

/* The component whose error estimate is largest against its tolerance. */
static size_t worst_component(const struct tl_engine *e)
{
    size_t worst = 0;
    double most = -1;

    for (size_t i = 0; i < e->at->core; i++) {
        const double level = e->rtol * (fabs(e->y[i]) + e->scale[i]);
        const double ratio = fabs(e->evolve->yerr[i]) / level;
        if (!(ratio <= most)) { /* a NaN is the worst of all */
            most = ratio;
            worst = i;
        }
    }
    return worst;
}

/* --- observers ------------------------------------------------------------------------------ */

/* Serve the instants in [t0, t1), t1 itself belongs to the next step: a stop may come first. */
static int show(struct tl_engine *e, double t0, double t1, const double *f0, const double *f1)
{
    for (size_t i = 0; i < e->watchers; i++) {
        struct watcher *w = &e->watcher[i];
        const size_t need = w->o.need ? w->o.need : e->at->core;

        for (;;) {
            const double t = e->start_d + (double)w->shown * w->o.period_d;
            if (t >= t1 - SAME_INSTANT_D)
                break;
            tl_hermite(t0, t1, e->y0, f0, e->y, f1, t, need, e->seen);
            if (need >= e->at->chamber + TL_NWATER)
                tl_hermite_transient(t0, t1, e->y0, f0, e->y, f1, t, e->linear.exchange_1_d,
                                     e->at->tank, e->at->chamber, TL_NWATER, e->seen);
            w->shown++;
            int status = w->o.see(w->o.arg, t, &e->controls, e->seen);
            if (status)
                return status;
        }
    }
    return TL_OK;
}

static int show_end(struct tl_engine *e)
{
    for (size_t i = 0; i < e->watchers; i++) {
        struct watcher *w = &e->watcher[i];
        if (w->end_shown)
            continue;
        w->end_shown = true;
        int status = w->o.see(w->o.arg, e->t_d, &e->controls, e->y);
        if (status)
            return status;
    }
    return TL_OK;
}

/* Fish are lost once the tank's oxygen falls below the critical: find the instant in the step. */
static void watch_oxygen(struct tl_engine *e, double t0, double t1)
{
    const size_t o2 = e->at->tank + TL_O2;
    const double critical = tl_model_setup(e->model)->params.o2_critical;

    if (!isnan(e->fish_lost_d) || e->y[o2] >= critical || !(tl_model_biomass(e->model, e->y) > 0))
        return;
    e->fish_lost_d = tl_fall_below(t0, t1, e->y0[o2], e->evolve->dydt_in[o2], e->y[o2],
                                   e->evolve->dydt_out[o2], critical);
}

/* --- stepping ------------------------------------------------------------------------------- */

static int step_to(struct tl_engine *e, double t_d)
{
    unsigned long short_steps = 0;

    while (e->t_d < t_d) {
        const double t0 = e->t_d;
        memcpy(e->y0, e->y, e->at->size * sizeof *e->y);
        double h_d = even_step(fmin(e->h_d, tl_longest_step_d(e->model, e->t_d)), t_d - e->t_d);

        tl_work_clear_fault(e->work);
        e->bad_component = e->at->size;
        int gsl = gsl_odeiv2_evolve_apply(e->evolve, e->control, e->step, &e->system, &e->t_d, t_d,
                                          &h_d, e->y);
        if (e->t_d < t_d)
            e->h_d = h_d; /* the step that lands on a stop teaches nothing */
        e->stats.steps++;
        size_t bad = not_a_number(e, e->y);
        if (bad < e->at->core)
            return fail_at(e, "not a number", bad);
        if (gsl != GSL_SUCCESS || !isfinite(h_d)) {
            if (e->bad_component < e->at->size)
                return fail_at(e, "not a number", e->bad_component);
            if (tl_work_fault_tray(e->work) > 0) {
                (void)tl_format(e->fault, sizeof e->fault,
                                "the water in tray %d could not be balanced at day %.4f",
                                tl_work_fault_tray(e->work), e->t_d);
                return TL_E_SOLVER;
            }
            return fail_at(e, "the solver cannot go on", worst_component(e));
        }
        short_steps = e->t_d < t_d && e->t_d - t0 < SHORT_STEP_D ? short_steps + 1 : 0;
        if (short_steps > MAX_SHORT_STEPS)
            return fail_at(e, "the solver has stalled", worst_component(e));

        watch_oxygen(e, t0, e->t_d);
        int status = show(e, t0, e->t_d, e->evolve->dydt_in, e->evolve->dydt_out);
        if (status)
            return status;
        if (e->interrupted && *e->interrupted)
            return TL_E_INTERRUPTED;
        if (e->progress && e->t_d - e->progress_d >= 1) {
            e->progress_d = e->t_d;
            e->progress(e->progress_arg, (e->t_d - e->start_d) / (e->end_d - e->start_d));
        }
    }
    return TL_OK;
}

/* Bound the first step after a sudden change; see transient_kernel.h. */
static void begin_transient(struct tl_engine *e)
{
    const struct tl_layout *at = e->at;
    const struct tl_setup *s = tl_model_setup(e->model);
    const double q = e->controls.flow_m3_d / s->chamber.volume_m3;
    const struct tl_transient change = {.tank = at->tank,
                                        .chamber = at->chamber,
                                        .exchange_1_d = q,
                                        .share = s->chamber.volume_m3 / s->tank.volume_m3,
                                        .rtol = e->rtol};
    double *now = e->seen;
    double *probe = e->y0;
    double *then = e->evolve->dydt_in; /* free before the first step */

    e->linear.exchange_1_d = q;
    tl_exponential_rk4_set(e->step, &e->linear);
    if (!(q > 0))
        return;
    e->h_d = fmin(e->h_d, TRANSIENT_SHARE / q);
    memcpy(probe, e->y, at->size * sizeof *e->y);
    if (rhs(e->t_d, e->y, now, e) != GSL_SUCCESS)
        return;
    tl_transient_end(&change, now, probe);
    if (rhs(e->t_d, probe, then, e) != GSL_SUCCESS)
        return;
    e->h_d = tl_transient_step(&change, e->y, probe, now, then, e->scale, e->h_d);
}

/* Carry out everything that is due now. */
static void carry_out_stops(struct tl_engine *e)
{
    bool any = false;
    bool sudden = !e->begun;
    double before[2 * TL_NWATER];
    const double *water = &e->y[e->at->tank]; /* the chamber's is next to it */

    memcpy(before, water, sizeof before);
    e->begun = true;
    while (e->next_stop < e->stops && e->stop[e->next_stop].t_d <= e->t_d + SAME_INSTANT_D) {
        sudden |=
            tl_stop_apply(e->model, e->work, &e->stop[e->next_stop], e->saved, &e->controls, e->y);
        e->next_stop++;
        e->stats.stops++;
        any = true;
    }
    if (tl_dry_out_d(&e->controls) <= e->t_d + SAME_INSTANT_D) {
        e->controls.dried_out = true;
        any = true;
    }
    if (any) {
        (void)gsl_odeiv2_step_reset(e->step);
        e->stats.rejected += e->evolve->failed_steps;
        (void)gsl_odeiv2_evolve_reset(e->evolve);
        tl_pi_control_forget(e->control);
    }
    for (size_t k = 0; k < 2 * TL_NWATER; k++)
        sudden |= before[k] != water[k];
    if (sudden)
        begin_transient(e);
}

int tl_engine_advance(struct tl_engine *e, double t_d)
{
    if (t_d > e->end_d)
        t_d = e->end_d;
    carry_out_stops(e); /* of the start, or where an interruption came between */
    while (e->t_d < t_d) {
        double until = t_d;
        if (e->next_stop < e->stops)
            until = fmin(until, e->stop[e->next_stop].t_d);
        until = fmin(until, tl_dry_out_d(&e->controls));
        e->until_d = until;
        int status = step_to(e, until);
        e->until_d = INFINITY;
        if (status)
            return status;
        carry_out_stops(e);
    }
    return e->t_d >= e->end_d ? show_end(e) : TL_OK;
}

size_t tl_observer_instants(const struct tl_setup *s, double period_d)
{
    const double end_d = s->start_d + s->length_d;
    size_t n = (size_t)fmax(0, floor(s->length_d / period_d) - 1);
    while (!(s->start_d + (double)n * period_d >= end_d - SAME_INSTANT_D))
        n++;
    return n + 1;
}

/* --- reading -------------------------------------------------------------------------------- */

double tl_engine_time(const struct tl_engine *e)
{
    return e->t_d;
}

double tl_engine_end(const struct tl_engine *e)
{
    return e->end_d;
}

const double *tl_engine_state(const struct tl_engine *e)
{
    return e->y;
}

const double *tl_engine_start_state(const struct tl_engine *e)
{
    return e->y_start;
}

const struct tl_controls *tl_engine_controls(const struct tl_engine *e)
{
    return &e->controls;
}

const struct tl_engine_stats *tl_engine_stats(const struct tl_engine *e)
{
    return &e->stats;
}

const char *tl_engine_fault(const struct tl_engine *e)
{
    return e->fault;
}

double tl_engine_fish_lost_d(const struct tl_engine *e)
{
    return e->fish_lost_d;
}
