/* Finds the day that repeats itself: days mixed by Anderson acceleration, kept in bounds, with plain
 * days to fall back on. */
#include "steady.h"

#include <gsl/gsl_multifit.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loop.h"
#include "towerloop/status.h"

#define DEFAULT_RTOL  1e-7
#define FIRST_DAYS    10   /* plain ones, in which the water comes to terms with the films */
#define CALM          0.02 /* and at least until a day changes less than this */
#define DEPTH         12   /* earlier days that are mixed */
#define SINGULAR      1e-8 /* smaller singular values are rounding and leave the fit */
#define STRETCH       4.0  /* no component changes by more than this factor at once */
#define WORSE         3.0 /* a mixture that changes this much more than the best day was a mistake */
#define DAYS_IN_A_ROW 2   /* that must be good enough */
#define NUDGE         0.01 /* by which the films are moved to see whether they come back */
#define NUDGE_DAYS    10
#define AWAY          2.0 /* times the nudge: they do not */
#define JUDGED_D      180 /* at least, of drainings one after the other */

const char *tl_steady_obstacle(const struct tl_setup *s)
{
    if (s->temperature.kind == TL_TEMPERATURE_WEATHER)
        return "its temperature follows from the weather";
    if (s->temperature.kind == TL_TEMPERATURE_READINGS)
        return "its temperature follows a file of readings";
    if (s->temperature.kind == TL_TEMPERATURE_SINES && s->temperature.seasonal_swing_degC != 0)
        return "its temperature follows the seasons";
    if (s->events > 0)
        return "it has events";
    if (s->change_every_d > 0 && s->change_amount > 0)
        return "its water is changed at intervals";
    if (s->feeding.log.n > 0)
        return "its meals follow a file";
    if (s->dosing.hold_alkalinity_eq_m3 > 0 && s->dosing.every_d > 0 &&
        fmod(1 + 1e-9, s->dosing.every_d) > 1e-6)
        return "its alkalinity is looked at on some days only";
    if (s->feeding.grows && s->fish_groups > 0)
        return "its fish grow";
    if (s->pump.fouling_1_d > 0)
        return "its pump fouls";
    return NULL;
}

/* --- one day ------------------------------------------------------------------------------------ */

struct search {
    struct tl_setup day; /* the loop, one day long */
    struct tl_model *model;
    struct tl_engine_options run;
    size_t n;
    double *scale; /* what counts as small, by component */
    /* the present day: its start, its end, and what it changed */
    double *x, *g, *f;
    double *best; /* end of the day that changed least */
    double best_change;
    /* earlier days, newest first: differences of g and of f from one to the next */
    double *dg[DEPTH], *df[DEPTH], *g_before, *f_before;
    size_t depth;
    bool have_before;
    bool calm;            /* the films no longer grow fast: mixing may begin */
    double sludge_room_g; /* gCOD in the chamber when it is full */
    bool planned;         /* the setup says how often it is drained; else: */
    double drain_most_d;  /* at least as often as that, */
    double filled_most;   /* and when it is filled by this share */
    double sludge_g_d;    /* inert sludge that the present day has brought */
    size_t plain_left;    /* plain days to come */
    size_t plain_again;   /* how many the next mistake will cost */
};

/* Inert sludge just before a draining, at what a day brings now; see steady.h. */
static double sludge_to_drain(const struct search *s, double biodegradable_g)
{
    const double room_g = s->filled_most * s->sludge_room_g - biodegradable_g;
    return fmin(s->drain_most_d * s->sludge_g_d, fmax(s->sludge_g_d, room_g));
}

static int simulate_day(struct search *s)
{
    struct tl_engine *e = NULL;
    s->run.start_state = s->x;
    int status = tl_engine_new(s->model, &s->run, &e);
    if (status)
        return status;
    status = tl_engine_advance(e, tl_engine_end(e));
    memcpy(s->g, tl_engine_state(e), s->n * sizeof *s->g);
    tl_engine_free(e);
    const size_t sludge = tl_model_layout(s->model)->sludge;
    s->sludge_g_d = fmax(0, s->g[sludge + 1] - s->x[sludge + 1]);
    s->g[sludge + 1] = sludge_to_drain(s, s->g[sludge]);
    for (size_t i = 0; i < s->n; i++)
        s->f[i] = s->g[i] - s->x[i];
    return status;
}

/* Relative to what is there, and for what is hardly there to what counts as small. */
static double weight(const struct search *s, size_t i)
{
    return 1 / (fabs(s->g[i]) + s->scale[i]);
}

static double largest(const struct search *s, const double *from, const double *to)
{
    double most = 0;
    for (size_t i = 0; i < s->n; i++)
        most = fmax(most, fabs(to[i] - from[i]) * weight(s, i));
    return most;
}

/* --- mixing days -------------------------------------------------------------------------------- */

static void forget(struct search *s)
{
    s->depth = 0;
    s->have_before = false;
}

/* Keep the difference of this day from the one before. */
static void remember(struct search *s)
{
    if (s->have_before) {
        double *g = s->dg[DEPTH - 1], *f = s->df[DEPTH - 1];
        memmove(&s->dg[1], &s->dg[0], (DEPTH - 1) * sizeof *s->dg);
        memmove(&s->df[1], &s->df[0], (DEPTH - 1) * sizeof *s->df);
        s->dg[0] = g;
        s->df[0] = f;
        for (size_t i = 0; i < s->n; i++) {
            g[i] = s->g[i] - s->g_before[i];
            f[i] = s->f[i] - s->f_before[i];
        }
        if (s->depth < DEPTH)
            s->depth++;
    }
    memcpy(s->g_before, s->g, s->n * sizeof *s->g);
    memcpy(s->f_before, s->f, s->n * sizeof *s->f);
    s->have_before = true;
}

/* Into `next`: the end of this day, less the mixture of differences that takes most of its change
 * away. */
static int mix(const struct search *s, double *next)
{
    const size_t m = s->depth;
    int status = TL_E_MEMORY;
    gsl_matrix *a = gsl_matrix_alloc(s->n, m);
    gsl_matrix *covariance = gsl_matrix_alloc(m, m);
    gsl_vector *b = gsl_vector_alloc(s->n);
    gsl_vector *c = gsl_vector_alloc(m);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(s->n, m);
    double left;
    size_t rank;

    if (!a || !covariance || !b || !c || !work)
        goto done;
    for (size_t i = 0; i < s->n; i++) {
        const double w = weight(s, i);
        gsl_vector_set(b, i, w * s->f[i]);
        for (size_t k = 0; k < m; k++)
            gsl_matrix_set(a, i, k, w * s->df[k][i]);
    }
    status = gsl_multifit_linear_tsvd(a, b, SINGULAR, c, covariance, &left, &rank, work)
                 ? TL_E_SOLVER
                 : TL_OK;
    for (size_t i = 0; i < s->n; i++) {
        next[i] = s->g[i];
        for (size_t k = 0; k < m; k++)
            next[i] -= gsl_vector_get(c, k) * s->dg[k][i];
    }
done:
    gsl_multifit_linear_free(work);
    gsl_vector_free(c);
    gsl_vector_free(b);
    gsl_matrix_free(covariance);
    gsl_matrix_free(a);
    return status;
}

/* No film and no substance below zero, nothing blown up or wiped out at once. */
static void keep_in_bounds(const struct search *s, double *next)
{
    for (size_t i = 0; i < s->n; i++) {
        const double room = (STRETCH - 1) * fabs(s->g[i]) + s->scale[i];
        next[i] = fmin(next[i], s->g[i] + room);
        next[i] = fmax(next[i], s->g[i] >= 0 ? s->g[i] / STRETCH : s->g[i] - room);
    }
}

/* --- the search --------------------------------------------------------------------------------- */

static void free_search(struct search *s)
{
    tl_model_free(s->model);
    tl_setup_free(&s->day);
    free(s->scale);
}

static int begin_search(struct search *s, const struct tl_setup *setup,
                        const struct tl_steady_options *o)
{
    struct tl_controls controls;
    enum { VECTORS = 7 + 2 * DEPTH };

    memset(s, 0, sizeof *s);
    int status = tl_setup_copy(&s->day, setup);
    if (status)
        return status;
    s->day.length_d = 1;
    s->day.tower.biofilm = TL_BIOFILM_MATURE;
    status = tl_model_build(&s->day, &s->model);
    if (status)
        return status;
    const struct tl_layout *at = tl_model_layout(s->model);
    s->n = at->core;
    s->run = (struct tl_engine_options){.rtol = o->rtol > 0 ? o->rtol : DEFAULT_RTOL,
                                        .interrupted = o->interrupted};
    s->sludge_room_g = setup->params.film_density * setup->chamber.volume_m3;
    s->planned = setup->emptying.every_d > 0;
    s->drain_most_d = s->planned ? setup->emptying.every_d : TL_STEADY_DRAIN_D;
    s->filled_most = s->planned ? 1 : TL_STEADY_FILLED;
    s->best_change = INFINITY;
    s->plain_left = FIRST_DAYS;
    s->plain_again = 1;
    /* scales and the start are as long as the whole state */
    s->scale = calloc(2 * at->size + VECTORS * s->n, sizeof *s->scale);
    if (!s->scale)
        return TL_E_MEMORY;
    s->x = s->scale + at->size;
    double *next = s->x + at->size;
    double **const vector[] = {&s->g, &s->f, &s->best, &s->g_before, &s->f_before};
    for (size_t k = 0; k < sizeof vector / sizeof *vector; k++, next += s->n)
        *vector[k] = next;
    for (size_t k = 0; k < DEPTH; k++, next += 2 * s->n) {
        s->dg[k] = next;
        s->df[k] = next + s->n;
    }
    tl_model_scales(s->model, s->scale);
    return tl_model_start(s->model, &controls, s->x);
}

/* Mixing went wrong: on from `from` on foot, each time for longer. */
static void walk_from(struct search *s, const double *from, double *next)
{
    memcpy(next, from, s->n * sizeof *next);
    forget(s);
    s->plain_left = s->plain_again;
    s->plain_again *= 2;
    s->best_change = INFINITY;
}

/* Where the next day starts. *step becomes how far that is from where this day started. */
static int choose_next(struct search *s, double change, bool plain, double *next, double *step)
{
    *step = INFINITY;
    if (!plain && change > WORSE * s->best_change && s->plain_left == 0) {
        walk_from(s, s->best, next);
        return TL_OK;
    }
    if (change <= s->best_change) {
        s->best_change = change;
        memcpy(s->best, s->g, s->n * sizeof *s->best);
    }
    memcpy(next, s->g, s->n * sizeof *next);
    if (s->plain_left > 0 && (s->calm || s->plain_left > 1 || change < CALM))
        s->plain_left--;
    s->calm = s->calm || s->plain_left == 0;
    if (!plain)
        remember(s);
    if (!plain && s->plain_left == 0 && s->depth > 0) {
        int status = mix(s, next);
        if (status)
            return status;
        keep_in_bounds(s, next);
    }
    *step = largest(s, s->x, next);
    return TL_OK;
}

/* A state that films leave once they are a little larger is one that no loop stays in: media on which
 * nothing grows yet, for instance. Moves the films and looks; leaves the end of its days in g. */
static int films_come_back(struct search *s, size_t *days, bool *back)
{
    const struct tl_layout *at = tl_model_layout(s->model);
    const size_t films = at->fish - at->tank_wall;
    double *was = malloc(films * sizeof *was);
    int status = was ? TL_OK : TL_E_MEMORY;

    if (was)
        memcpy(was, &s->x[at->tank_wall], films * sizeof *was);
    for (size_t i = at->tank_wall; i < at->fish; i++)
        s->x[i] += NUDGE * (s->x[i] + s->scale[i]);
    for (int day = 0; status == TL_OK && day < NUDGE_DAYS; day++) {
        status = simulate_day(s);
        memcpy(s->x, s->g, s->n * sizeof *s->x);
        ++*days;
    }
    double off = 0;
    for (size_t i = 0; status == TL_OK && i < films; i++) {
        const size_t k = at->tank_wall + i;
        off = fmax(off, fabs(s->g[k] - was[i]) / (was[i] + s->scale[k]));
    }
    *back = off <= AWAY * NUDGE;
    free(was);
    return status;
}

static int search_days(struct search *s, const struct tl_steady_options *o, struct tl_steady *out)
{
    const double tolerance = o->tolerance > 0 ? o->tolerance : TL_STEADY_TOLERANCE;
    const size_t most = o->most_days ? o->most_days : TL_STEADY_DAYS;
    double *next = malloc(s->n * sizeof *next);
    size_t good = 0;
    int status = next ? TL_OK : TL_E_MEMORY;

    while (status == TL_OK && !out->converged && out->days < most) {
        double step = INFINITY;
        status = simulate_day(s);
        out->days++;
        if (status)
            break;
        out->change = largest(s, s->x, s->g);
        status = choose_next(s, out->change, o->plain, next, &step);
        /* the mixture's step is how far it takes the steady state to be */
        good = step <= tolerance ? good + 1 : 0;
        memcpy(s->x, next, s->n * sizeof *next);
        if (status || good < DAYS_IN_A_ROW || s->plain_left > 0)
            continue;
        if (o->plain)
            out->converged = true;
        else
            status = films_come_back(s, &out->days, &out->converged);
        if (out->converged)
            memcpy(s->x, next, s->n * sizeof *next);
        else
            walk_from(s, s->g, s->x);
        good = 0;
    }
    free(next);
    return status;
}

static void reckon_draining(const struct search *s, struct tl_steady *out)
{
    const double *sludge = &s->x[tl_model_layout(s->model)->sludge];
    const double room_g = s->filled_most * s->sludge_room_g - sludge[0];
    out->drain_every_d = s->drain_most_d;
    if (!s->planned && room_g < s->drain_most_d * s->sludge_g_d)
        out->drain_every_d = fmax(1, floor(room_g / s->sludge_g_d));
    out->full_after_d =
        s->sludge_g_d > 0 ? fmax(0, s->sludge_room_g - sludge[0]) / s->sludge_g_d : INFINITY;
}

int tl_steady_find(const struct tl_setup *s, const struct tl_steady_options *options,
                   struct tl_steady *out)
{
    static const struct tl_steady_options usual;
    struct search search;

    *out = (struct tl_steady){.change = INFINITY};
    if (tl_steady_obstacle(s))
        return TL_E_INPUT;
    int status = begin_search(&search, s, options ? options : &usual);
    if (status == TL_OK)
        status = search_days(&search, options ? options : &usual, out);
    if (status == TL_OK) {
        reckon_draining(&search, out);
        out->core = search.n;
        out->state = malloc(search.n * sizeof *out->state);
        if (out->state)
            memcpy(out->state, search.x, search.n * sizeof *out->state);
        else
            status = TL_E_MEMORY;
    }
    free_search(&search);
    return status;
}

/* The loop with a steady day at its start and then the drainings. */
static int drained_loop(const struct tl_setup *s, double every_d, struct tl_setup *out)
{
    const size_t drainings = (size_t)fmax(2, ceil(JUDGED_D / every_d));
    int status = tl_setup_copy(out, s);
    if (status)
        return status;
    out->tower.biofilm = TL_BIOFILM_MATURE; /* the steady day's */
    out->emptying.every_d = 0;              /* by the drainings, which go on from the steady day */
    /* a loop with a steady day has no events of its own */
    out->event = calloc(drainings, sizeof *out->event);
    if (!out->event) {
        tl_setup_free(out);
        return TL_E_MEMORY;
    }
    for (; out->events < drainings; out->events++) {
        const double hour_d = out->events % 2 ? 0.5 : 0; /* at night and at noon */
        out->event[out->events] = (struct tl_event){
            .at_d = 1 + (double)out->events * every_d + hour_d, .kind = TL_EVENT_CLEAN_CHAMBER};
    }
    out->length_d = 1 + (double)drainings * every_d;
    return TL_OK;
}

int tl_steady_assess(const struct tl_setup *s, const struct tl_limits *limits,
                     const struct tl_steady *steady, const struct tl_assess_options *options,
                     struct tl_assessment *out)
{
    struct tl_assess_options run = options ? *options : (struct tl_assess_options){.rtol = 0};
    struct tl_setup days;
    struct tl_model *m = NULL;

    if (tl_steady_obstacle(s))
        return TL_E_INPUT;
    int status = drained_loop(s, steady->drain_every_d, &days);
    if (status)
        return status;
    run.start_state = steady->state;
    status = tl_model_build(&days, &m);
    if (status == TL_OK)
        status = tl_assess(m, limits, &run, out);
    tl_model_free(m);
    tl_setup_free(&days);
    return status;
}

void tl_steady_free(struct tl_steady *s)
{
    free(s->state);
    s->state = NULL;
}
