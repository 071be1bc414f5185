/* Loops side by side: the stops, the step that suits all of them, the observers. What is reckoned in
 * lanes is behind lane_group.h. */
#include "batch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dense_output.h"
#include "lane_group.h"
#include "loop.h"
#include "loop_kernel.h"
#include "pi_control.h"
#include "stepping.h"
#include "towerloop/status.h"

#define ORDER 4 /* of the stepper */

struct watcher {
    struct tl_batch_observer o;
    unsigned long shown; /* instants shown so far */
};

/* What is kept of each loop besides its lane. */
struct loop {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_controls controls;
    struct tl_saved *saved;
    const struct tl_stop *stop;
    double fish_kg;
    double fish_lost_d;
};

struct tl_batch {
    const struct tl_lane_level *level;
    size_t loops, groups, lanes; /* lanes beyond the loops repeat the last of them */
    struct loop loop[TL_BATCH_MOST];
    struct tl_lane_group *group[TL_BATCH_MOST];
    struct group_arg {
        struct tl_batch *b;
        size_t first;
    } arg[TL_BATCH_MOST];
    const struct tl_layout *at;
    size_t stops, next_stop;
    bool begun;
    bool steady_climate; /* constant temperatures and no sun */
    bool totals;
    bool started; /* the groups have the rates at the start of the next step */
    double t_d, start_d, end_d, h_d, rtol;
    double until_d; /* where the steps under way end; INFINITY between them */
    struct tl_pi pi;
    double *one;  /* a loop's whole state */
    double *seen; /* a group's, for observers */
    struct watcher *watcher;
    size_t watchers;
    const volatile int *interrupted;
    struct tl_engine_stats stats;
};

/* --- levels ------------------------------------------------------------------------------------- */

static size_t levels(const struct tl_lane_level *out[3])
{
    size_t n = 0;
    out[n++] = &tl_lanes_baseline;
#ifdef __x86_64__
    __builtin_cpu_init();
    if (__builtin_cpu_supports("avx2"))
        out[n++] = &tl_lanes_avx2;
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
        __builtin_cpu_supports("avx512vl"))
        out[n++] = &tl_lanes_avx512;
#endif
    return n;
}

size_t tl_batch_levels(void)
{
    const struct tl_lane_level *level[3];
    return levels(level);
}

const char *tl_batch_level_name(size_t index)
{
    const struct tl_lane_level *level[3];
    return index < levels(level) ? level[index]->name : NULL;
}

static const struct tl_lane_level *find_level(const char *name)
{
    const struct tl_lane_level *level[3];
    size_t n = levels(level);
    while (n > 0 && name && strcmp(level[n - 1]->name, name) != 0)
        n--;
    return n > 0 ? level[n - 1] : NULL;
}

/* --- what fits ---------------------------------------------------------------------------------- */

bool tl_batch_fits(const struct tl_model *a, const struct tl_model *b)
{
    const struct tl_form *f = tl_model_form(a);
    const struct tl_form *g = tl_model_form(b);
    const struct tl_setup *s = tl_model_setup(a);
    const struct tl_setup *r = tl_model_setup(b);
    size_t n, m;
    const struct tl_stop *p = tl_model_stops(a, &n);
    const struct tl_stop *q = tl_model_stops(b, &m);

    if (f->cells != g->cells || f->cells_per_tray != g->cells_per_tray || f->groups != g->groups ||
        f->lit != g->lit || f->dead != g->dead || f->formaldehyde != g->formaldehyde ||
        f->green != g->green || f->grows != g->grows || f->chloramine != g->chloramine ||
        f->falls != g->falls || f->anoxic != g->anoxic || s->start_d != r->start_d ||
        s->length_d != r->length_d || n != m)
        return false;
    for (size_t i = 0; i < n; i++)
        if (p[i].t_d != q[i].t_d || p[i].kind != q[i].kind)
            return false;
    return true;
}

/* --- into the lanes and out --------------------------------------------------------------------- */

static void put(const struct tl_batch *b, double *lanes, size_t lane, const double *value, size_t n)
{
    const size_t wide = (size_t)b->level->wide;
    for (size_t i = 0; i < n; i++)
        lanes[i * wide + lane] = value[i];
}

static void get(const struct tl_batch *b, const double *lanes, size_t lane, double *value, size_t n)
{
    const size_t wide = (size_t)b->level->wide;
    for (size_t i = 0; i < n; i++)
        value[i] = lanes[i * wide + lane];
}

static struct tl_lane_group *group_of(const struct tl_batch *b, size_t lane)
{
    return b->group[lane / (size_t)b->level->wide];
}

static size_t place_in(const struct tl_batch *b, size_t lane)
{
    return lane % (size_t)b->level->wide;
}

static void warm(void *arg, double t_d)
{
    const struct group_arg *a = arg;
    const struct tl_batch *b = a->b;
    const struct tl_lane_group *g = group_of(b, a->first);
    const double at_d = tl_before_stop_d(t_d, b->until_d);

    for (size_t l = 0; l < (size_t)b->level->wide; l++) {
        const struct tl_model *m = b->loop[a->first + l].model;
        struct tl_sky sky;
        g->temperature[l] = tl_model_temperature(m, at_d);
        tl_model_sky(m, at_d, &sky);
        put(b, g->sky, l, (const double *)&sky, TL_LANE_SKY);
    }
}

/* Flows of all lanes from their controls; TL_E_SOLVER when they have parted. */
static int put_flows(struct tl_batch *b)
{
    struct tl_flows flows;
    struct tl_flows first;

    tl_model_flows(b->loop[0].model, &b->loop[0].controls, &first);
    for (size_t lane = 0; lane < b->lanes; lane++) {
        struct loop *o = &b->loop[lane];
        struct tl_lane_group *g = group_of(b, lane);
        tl_model_flows(o->model, &o->controls, &flows);
        if (flows.tower_on != first.tower_on || (flows.pump_m3_d > 0) != (first.pump_m3_d > 0))
            return TL_E_SOLVER;
        g->tower_on = flows.tower_on;
        put(b, g->flows, place_in(b, lane), (const double *)&flows, TL_LANE_FLOWS);
    }
    for (size_t g = 0; g < b->groups; g++)
        b->level->flow_anew(b->group[g]);
    return TL_OK;
}

/* --- construction ------------------------------------------------------------------------------- */

static int start_loop(struct tl_batch *b, size_t lane, const struct tl_model *m)
{
    struct loop *o = &b->loop[lane];
    const struct tl_setup *s = tl_model_setup(m);

    *o = (struct loop){.model = m, .fish_lost_d = NAN};
    size_t stops;
    o->stop = tl_model_stops(m, &stops);
    o->saved = calloc(s->events + 1, sizeof *o->saved);
    if (!o->saved)
        return TL_E_MEMORY;
    int status = tl_work_new(m, &o->work);
    if (!status)
        status = tl_model_start(m, &o->controls, b->one);
    if (status)
        return status;
    b->steady_climate =
        b->steady_climate && s->temperature.kind == TL_TEMPERATURE_CONSTANT && !s->sun.given;
    o->fish_kg = tl_model_biomass(m, b->one);

    const struct tl_lane_group *g = group_of(b, lane);
    const size_t place = place_in(b, lane);
    put(b, g->film, place, (const double *)tl_model_film(m),
        sizeof(struct tl_film_model) / sizeof(double));
    put(b, g->site, place, (const double *)tl_model_site(m),
        sizeof(struct tl_site) / sizeof(double));
    put(b, g->y, place, b->one, b->at->core);
    tl_model_scales(m, b->one);
    put(b, g->scale, place, b->one, b->at->core);
    return TL_OK;
}

static int start(struct tl_batch *b, const struct tl_model *const *model,
                 const struct tl_batch_options *options)
{
    const size_t wide = (size_t)b->level->wide;

    b->one = calloc(b->at->size, sizeof *b->one);
    b->seen = aligned_alloc(64, b->at->core * TL_BATCH_MOST * sizeof *b->seen);
    b->watcher = calloc(options->observers + 1, sizeof *b->watcher);
    if (!b->one || !b->seen || !b->watcher)
        return TL_E_MEMORY;
    b->watchers = options->observers;
    for (size_t i = 0; i < options->observers; i++)
        b->watcher[i].o = options->observer[i];
    for (size_t i = 0; i < b->groups; i++) {
        b->group[i] = b->level->create(tl_model_form(model[0]), b->rtol);
        if (!b->group[i])
            return TL_E_MEMORY;
        b->arg[i] = (struct group_arg){b, i * wide};
        b->group[i]->warm = warm;
        b->group[i]->arg = &b->arg[i];
    }
    int status = TL_OK;
    for (size_t lane = 0; lane < b->lanes && !status; lane++)
        status = start_loop(b, lane, model[lane < b->loops ? lane : b->loops - 1]);
    for (size_t i = 0; i < b->groups; i++)
        b->group[i]->steady = b->steady_climate;
    return status ? status : put_flows(b);
}

int tl_batch_new(const struct tl_model *const *model, size_t loops,
                 const struct tl_batch_options *options, struct tl_batch **out)
{
    static const struct tl_batch_options plain = {0};
    const struct tl_lane_level *level = find_level(options ? options->level : NULL);

    if (!level || loops == 0 || loops > TL_BATCH_MOST)
        return TL_E_INPUT;
    for (size_t i = 1; i < loops; i++)
        if (!tl_batch_fits(model[0], model[i]))
            return TL_E_INPUT;
    struct tl_batch *b = calloc(1, sizeof *b);
    if (!b)
        return TL_E_MEMORY;
    if (!options)
        options = &plain;
    const struct tl_setup *s = tl_model_setup(model[0]);
    const size_t wide = (size_t)level->wide;
    b->level = level;
    b->loops = loops;
    b->groups = (loops + wide - 1) / wide;
    b->lanes = b->groups * wide;
    b->at = tl_model_layout(model[0]);
    (void)tl_model_stops(model[0], &b->stops);
    b->steady_climate = true;
    b->t_d = b->start_d = s->start_d;
    b->until_d = INFINITY;
    b->end_d = s->start_d + s->length_d;
    b->h_d = FIRST_STEP_D;
    b->rtol = options->rtol > 0 ? options->rtol : DEFAULT_RTOL;
    b->totals = options->totals;
    b->interrupted = options->interrupted;
    tl_pi_forget(&b->pi);

    int status = start(b, model, options);
    if (status)
        tl_batch_free(b);
    else
        *out = b;
    return status == TL_E_SOLVER ? TL_E_INPUT : status;
}

void tl_batch_free(struct tl_batch *b)
{
    if (!b)
        return;
    for (size_t i = 0; i < b->groups; i++)
        b->level->release(b->group[i]);
    for (size_t lane = 0; lane < b->lanes; lane++) {
        tl_work_free(b->loop[lane].work);
        free(b->loop[lane].saved);
    }
    free(b->watcher);
    free(b->seen);
    free(b->one);
    free(b);
}

/* --- observers ---------------------------------------------------------------------------------- */

static int see(const struct tl_batch *b, const struct watcher *w, size_t group, double t_d,
               const double *y)
{
    const size_t wide = (size_t)b->level->wide;
    return w->o.see(w->o.arg, b, t_d, group * wide, wide, y);
}

/* Serve the instants in [t0, t1), t1 itself belongs to the next step: a stop may come first. */
static int show(struct tl_batch *b, double t0, double t1)
{
    for (size_t i = 0; i < b->watchers; i++) {
        struct watcher *w = &b->watcher[i];
        const size_t need = w->o.need ? w->o.need : b->at->core;

        for (;;) {
            const double t = b->start_d + (double)w->shown * w->o.period_d;
            if (t >= t1 - SAME_INSTANT_D)
                break;
            w->shown++;
            for (size_t g = 0; g < b->groups; g++) {
                b->level->interpolate(b->group[g], t0, t1, t, need, b->seen);
                const int status = see(b, w, g, t, b->seen);
                if (status)
                    return status;
            }
        }
    }
    return TL_OK;
}

static int show_end(struct tl_batch *b)
{
    for (size_t i = 0; i < b->watchers; i++)
        for (size_t g = 0; g < b->groups; g++) {
            const int status = see(b, &b->watcher[i], g, b->t_d, b->group[g]->y);
            if (status)
                return status;
        }
    return TL_OK;
}

/* As the engine does: the instant in the step at which a tank's oxygen falls below the critical. */
static void watch_oxygen(struct tl_batch *b, double t0, double t1)
{
    const size_t wide = (size_t)b->level->wide;
    const size_t o2 = b->at->tank + TL_O2;

    for (size_t lane = 0; lane < b->loops; lane++) {
        struct loop *o = &b->loop[lane];
        const struct tl_lane_group *g = group_of(b, lane);
        const size_t i = o2 * wide + place_in(b, lane);
        const double critical = tl_model_setup(o->model)->params.o2_critical;

        if (g->y[i] >= critical || !isnan(o->fish_lost_d) || !(o->fish_kg > 0))
            continue;
        o->fish_lost_d = tl_fall_below(t0, t1, g->y0[i], g->f0[i], g->y[i], g->f1[i], critical);
    }
}

/* --- stepping ----------------------------------------------------------------------------------- */

static int start_groups(struct tl_batch *b)
{
    for (size_t g = 0; g < b->groups; g++) {
        const int status = b->level->start(b->group[g], b->t_d);
        if (status)
            return status;
    }
    b->stats.evaluations++;
    b->started = true;
    return TL_OK;
}

/* One try of all groups; none has moved when it fails. */
static int try_step(struct tl_batch *b, double h_d, double *error)
{
    *error = 0;
    for (size_t g = 0; g < b->groups; g++) {
        double e;
        const int status = b->level->step(b->group[g], b->t_d, h_d, &e);
        if (status) {
            while (g-- > 0)
                b->level->undo(b->group[g]);
            return status;
        }
        *error = fmax(*error, e);
    }
    b->stats.evaluations += ORDER;
    return TL_OK;
}

/* One accepted step, at most to `until`: the control of GSL's evolution (gsl_odeiv2_evolve_apply). */
static int step_once(struct tl_batch *b, double until_d, double *stepped_d)
{
    double most = INFINITY;
    for (size_t lane = 0; lane < b->lanes; lane++)
        most = fmin(most, tl_longest_step_d(b->loop[lane].model, b->t_d));
    double h = even_step(fmin(b->h_d, most), until_d - b->t_d);

    for (;;) {
        const bool last = h > until_d - b->t_d;
        if (last)
            h = until_d - b->t_d;
        const double tried = h;
        double error;
        bool good = false;
        if (try_step(b, h, &error)) {
            h *= 0.5;
        } else {
            good = tl_pi_adjust(&b->pi, ORDER, error, &h);
            if (!good)
                for (size_t g = 0; g < b->groups; g++)
                    b->level->undo(b->group[g]);
        }
        if (good) {
            *stepped_d = last ? until_d : b->t_d + tried;
            if (!last)
                b->h_d = h; /* the step that lands on a stop teaches nothing */
            b->stats.steps++;
            return TL_OK;
        }
        b->stats.rejected++;
        if (!(h < tried) || b->t_d + h == b->t_d)
            return TL_E_SOLVER;
    }
}

static int step_to(struct tl_batch *b, double until_d)
{
    unsigned long short_steps = 0;

    while (b->t_d < until_d) {
        const double t0 = b->t_d;
        double t1 = t0;
        int status = b->started ? TL_OK : start_groups(b);
        if (!status)
            status = step_once(b, until_d, &t1);
        if (status)
            return status;
        short_steps = t1 < until_d && t1 - t0 < SHORT_STEP_D ? short_steps + 1 : 0;
        if (short_steps > MAX_SHORT_STEPS)
            return TL_E_SOLVER;
        b->t_d = t1;
        watch_oxygen(b, t0, t1);
        for (size_t g = 0; g < b->groups && b->totals; g++)
            b->level->book(b->group[g], t1 - t0);
        status = show(b, t0, t1);
        if (status)
            return status;
        for (size_t g = 0; g < b->groups; g++)
            b->level->accept(b->group[g]);
        if (b->interrupted && *b->interrupted)
            return TL_E_INTERRUPTED;
    }
    return TL_OK;
}

/* --- stops -------------------------------------------------------------------------------------- */

static double next_dry_out_d(const struct tl_batch *b)
{
    double next = INFINITY;
    for (size_t lane = 0; lane < b->lanes; lane++)
        next = fmin(next, tl_dry_out_d(&b->loop[lane].controls));
    return next;
}

/* The stops from `first` to before `end` for one lane; whether they set off a transient. */
static bool carry_out(struct tl_batch *b, size_t lane, size_t first, size_t end)
{
    struct loop *o = &b->loop[lane];
    struct tl_lane_group *g = group_of(b, lane);
    double before[2 * TL_NWATER];
    const double *water = &b->one[b->at->tank]; /* the chamber's is next to it */
    bool sudden = false;

    if (tl_dry_out_d(&o->controls) <= b->t_d + SAME_INSTANT_D)
        o->controls.dried_out = true;
    if (first == end)
        return false;
    get(b, g->y, place_in(b, lane), b->one, b->at->core);
    memcpy(before, water, sizeof before);
    if (b->totals)
        memset(b->one + b->at->core, 0, (b->at->size - b->at->core) * sizeof *b->one);
    for (size_t i = first; i < end; i++)
        sudden |= tl_stop_apply(o->model, o->work, &o->stop[i], o->saved, &o->controls, b->one);
    for (size_t k = 0; k < 2 * TL_NWATER; k++)
        sudden |= before[k] != water[k];
    o->fish_kg = tl_model_biomass(o->model, b->one);
    put(b, g->y, place_in(b, lane), b->one, b->at->core);
    for (size_t i = b->at->core; i < b->at->size && b->totals; i++)
        g->total[i * (size_t)b->level->wide + place_in(b, lane)] += b->one[i];
    return sudden;
}

static int carry_out_stops(struct tl_batch *b)
{
    const struct tl_stop *stop = b->loop[0].stop;
    const size_t first = b->next_stop;
    const bool any_dry = next_dry_out_d(b) <= b->t_d + SAME_INSTANT_D;
    bool sudden = !b->begun;

    while (b->next_stop < b->stops && stop[b->next_stop].t_d <= b->t_d + SAME_INSTANT_D)
        b->next_stop++;
    if (b->begun && b->next_stop == first && !any_dry)
        return TL_OK;
    b->begun = true;
    for (size_t lane = 0; lane < b->lanes; lane++)
        sudden |= carry_out(b, lane, first, b->next_stop);
    b->stats.stops += b->next_stop - first;
    b->started = false;
    if (b->next_stop > first || any_dry)
        tl_pi_forget(&b->pi);
    const int status = put_flows(b);
    if (status || !sudden)
        return status;
    for (size_t g = 0; g < b->groups; g++)
        b->level->begin(b->group[g], b->t_d, &b->h_d);
    b->stats.evaluations += 2;
    return TL_OK;
}

int tl_batch_run(struct tl_batch *b)
{
    int status = carry_out_stops(b);

    while (!status && b->t_d < b->end_d) {
        double until = fmin(b->end_d, next_dry_out_d(b));
        if (b->next_stop < b->stops)
            until = fmin(until, b->loop[0].stop[b->next_stop].t_d);
        b->until_d = until;
        status = step_to(b, until);
        b->until_d = INFINITY;
        if (!status)
            status = carry_out_stops(b);
    }
    return status ? status : show_end(b);
}

/* --- reading ------------------------------------------------------------------------------------ */

size_t tl_batch_loops(const struct tl_batch *b)
{
    return b->loops;
}

const char *tl_batch_level(const struct tl_batch *b)
{
    return b->level->name;
}

double tl_batch_time_d(const struct tl_batch *b)
{
    return b->t_d;
}

const struct tl_model *tl_batch_model(const struct tl_batch *b, size_t loop)
{
    return b->loop[loop].model;
}

const struct tl_controls *tl_batch_controls(const struct tl_batch *b, size_t loop)
{
    return &b->loop[loop].controls;
}

double tl_batch_fish_kg(const struct tl_batch *b, size_t loop)
{
    return b->loop[loop].fish_kg;
}

double tl_batch_fish_lost_d(const struct tl_batch *b, size_t loop)
{
    return b->loop[loop].fish_lost_d;
}

void tl_batch_state(const struct tl_batch *b, size_t loop, double *y)
{
    get(b, group_of(b, loop)->y, place_in(b, loop), y, b->at->core);
}

void tl_batch_totals(const struct tl_batch *b, size_t loop, double *y)
{
    tl_batch_state(b, loop, y);
    const size_t wide = (size_t)b->level->wide;
    for (size_t i = b->at->core; i < b->at->size; i++)
        y[i] = group_of(b, loop)->total[i * wide + place_in(b, loop)];
}

const struct tl_engine_stats *tl_batch_stats(const struct tl_batch *b)
{
    return &b->stats;
}

int tl_batch_rates(struct tl_batch *b, double t_d, const double *const *y, double *const *dydt)
{
    const size_t wide = (size_t)b->level->wide;
    int status = TL_OK;
    double *in = calloc(2 * b->at->size * wide, sizeof *in);
    if (!in)
        return TL_E_MEMORY;
    double *out = in + b->at->size * wide;
    for (size_t g = 0; g < b->groups && !status; g++) {
        for (size_t l = 0; l < wide; l++)
            put(b, in, l, y[g * wide + l < b->loops ? g * wide + l : b->loops - 1], b->at->core);
        status = b->level->rates(b->group[g], t_d, in, out);
        for (size_t l = 0; l < wide && g * wide + l < b->loops; l++)
            get(b, out, l, dydt[g * wide + l], b->at->core);
    }
    free(in);
    return status;
}
