/* Loops in vector lanes: the equations and the stepper compiled for TL_WIDE lanes and one level of the
 * processor, TL_LEVEL. This file is compiled once a level. */
#include <stdlib.h>
#include <string.h>

#include "dense_kernel.h"
#include "lane_group.h"
#include "loop_kernel.h"
#include "rk4_kernel.h"
#include "transient_kernel.h"

#define JOINED(a, b)   a##b
#define NAME_OF(level) JOINED(tl_lanes_, level)
#define QUOTED(x)      #x
#define TEXT_OF(x)     QUOTED(x)

_Static_assert(sizeof(struct tl_sky) == TL_LANE_SKY * sizeof(real), "sky");
_Static_assert(offsetof(struct tl_flows, tower_on) == TL_LANE_FLOWS * sizeof(real), "flows");

struct group {
    struct tl_lane_group open; /* first: what the batch sees */
    struct tl_film_model film;
    struct tl_site site;
    struct tl_flows flows;
    struct tl_work work;
    struct tl_rk4 stepper;
    real temperature;
    real gut_degC, gut_1_d; /* what the fish's guts do at a temperature */
    double rtol;
    real *scale, *y, *f0, *f1, *yerr, *spare, *total;
};

static struct group *of(struct tl_lane_group *g)
{
    return (struct group *)g;
}

/* Temperatures and sky of this instant; where nothing changes, those that are there. */
static void warm(struct group *g, double t_d)
{
    if (!g->open.steady || lane_any(lane_nan(g->temperature)))
        g->open.warm(g->open.arg, t_d);
}

static real gut_rate(void *arg, double t_d)
{
    struct group *g = arg;

    warm(g, t_d);
    if (lane_any(lane_not(g->temperature == g->gut_degC))) {
        g->gut_degC = g->temperature;
        g->gut_1_d = lane_gut_rate(&g->film.p, g->temperature);
    }
    return g->gut_1_d;
}

/* Climate and wetting of this instant. */
static void keep_climate(struct group *g, double t_d)
{
    warm(g, t_d);
    if (!lane_any(lane_not(g->temperature == g->work.climate.t_degC)))
        return;
    lane_climate_at(&g->film.p, &g->site.around, g->temperature, &g->work.climate);
    if (g->flows.tower_on)
        lane_wet(&g->site, g->flows.tower_m3_d / 24 / g->site.tower_plan_m2, g->temperature,
                 &g->work);
}

/* The load of the tower may be another one now: climate and wetting are found anew. */
static void flow_anew(struct tl_lane_group *open)
{
    struct group *g = of(open);
    const struct tl_layout *at = &open->form.at;
    g->flows.tower_on = open->tower_on;
    g->work.climate.t_degC = lane_all(NAN);
    /* totals that do not change with these flows are left alone by the rates */
    memset(g->f0 + at->core, 0, (at->size - at->core) * sizeof *g->f0);
    memset(g->f1 + at->core, 0, (at->size - at->core) * sizeof *g->f1);
}

static int rates(void *arg, double t_d, const real *y, real *dydt)
{
    struct group *g = arg;
    keep_climate(g, t_d);
    const int status =
        tl_loop_rates(&g->open.form, &g->film, &g->site, &g->work, &g->flows, y, dydt);
    if (status)
        return status;
    real sum[2] = {dydt[0], dydt[1]};
    for (size_t i = 2; i < g->open.form.at.core; i++)
        sum[i % 2] += dydt[i];
    return lane_any(lane_not(lane_finite(sum[0] + sum[1]))) ? TL_E_SOLVER : TL_OK;
}

static void release(struct tl_lane_group *open)
{
    struct group *g = of(open);
    if (!g)
        return;
    free(g->work.cell);
    free(g->work.block);
    free(g->scale);
    free(g);
}

static struct tl_lane_group *create(const struct tl_form *form, double rtol)
{
    const struct tl_layout *at = &form->at;
    const size_t size = at->size;
    const size_t cells = (size_t)form->cells;
    struct group *g = lane_alloc(sizeof *g);
    if (!g)
        return NULL;
    g->work.cell = lane_alloc(cells * sizeof *g->work.cell);
    g->work.block = lane_alloc(cells * sizeof *g->work.block);
    g->scale = lane_alloc((TL_RK4_VECTORS + 7) * size * sizeof(real));
    if (!g->work.cell || !g->work.block || !g->scale) {
        release(&g->open);
        return NULL;
    }
    g->y = g->scale + size;
    g->f0 = g->scale + 2 * size;
    g->f1 = g->scale + 3 * size;
    g->yerr = g->scale + 4 * size;
    g->spare = g->scale + 5 * size;
    g->total = g->scale + 6 * size;
    tl_rk4_place(&g->stepper, g->scale + 7 * size, size);
    g->rtol = rtol;
    for (size_t i = 0; i < cells; i++)
        g->work.cell[i].h_ratio = lane_all(1);
    g->temperature = g->gut_degC = lane_all(NAN);
    g->work.spread = lane_all(1);
    g->work.tank_h = g->work.chamber_h = lane_all(1e-8);
    g->stepper.linear = (struct tl_linear_part){
        .core = at->core,
        .leader = at->tank,
        .follower = at->chamber,
        .pairs = TL_NWATER,
        .chain = at->fish + TL_FISH_GUT1_G,
        .chains = form->groups,
        .stride = TL_FISH_SLOTS,
        .chain_rate = gut_rate,
        .arg = g,
    };
    g->open = (struct tl_lane_group){.form = *form,
                                     .film = (double *)&g->film,
                                     .site = (double *)&g->site,
                                     .scale = (double *)g->scale,
                                     .flows = (double *)&g->flows,
                                     .temperature = (double *)&g->temperature,
                                     .sky = (double *)&g->work.sky,
                                     .y = (double *)g->y,
                                     .y0 = (double *)g->stepper.y0,
                                     .f0 = (double *)g->f0,
                                     .f1 = (double *)g->f1,
                                     .total = (double *)g->total};
    return &g->open;
}

static int rates_of(struct tl_lane_group *open, double t_d, const double *y, double *dydt)
{
    struct group *g = of(open);
    const size_t bytes = open->form.at.size * sizeof(real);
    memcpy(g->yerr, y, bytes); /* aligned */
    memset(g->spare, 0, bytes);
    const int status = rates(g, t_d, g->yerr, g->spare);
    memcpy(dydt, g->spare, bytes);
    return status;
}

static void begin(struct tl_lane_group *open, double t_d, double *h_d)
{
    struct group *g = of(open);
    struct tl_linear_part *linear = &g->stepper.linear;
    const struct tl_layout *at = &open->form.at;
    const real q = g->flows.pump_m3_d / g->site.chamber_m3;
    const struct tl_transient change = {.tank = at->tank,
                                        .chamber = at->chamber,
                                        .exchange_1_d = q,
                                        .share = g->site.chamber_m3 / g->site.tank_m3,
                                        .rtol = g->rtol};
    real *now = g->spare;
    real *probe = g->stepper.y0;
    real *then = g->f0;

    linear->exchange_1_d = q;
    linear->follower_share = g->site.chamber_m3 / (g->site.tank_m3 + g->site.chamber_m3);
    if (!lane_any(q > 0))
        return;
    real h = lane_all(*h_d);
    h = lane_select(q > 0, lane_min(h, TRANSIENT_SHARE / q), h);
    memcpy(probe, g->y, at->core * sizeof *probe);
    if (rates(g, t_d, g->y, now) == TL_OK) {
        tl_transient_end(&change, now, probe);
        probe = g->stepper.y0;
        if (rates(g, t_d, probe, then) == TL_OK)
            h = lane_select(q > 0, tl_transient_step(&change, g->y, probe, now, then, g->scale, h),
                            h);
    }
    for (int l = 0; l < TL_WIDE; l++)
        *h_d = fmin(*h_d, h[l]);
}

static int start(struct tl_lane_group *open, double t_d)
{
    struct group *g = of(open);
    return rates(g, t_d, g->y, g->f0);
}

static int step(struct tl_lane_group *open, double t_d, double h_d, double *error)
{
    struct group *g = of(open);
    const size_t core = open->form.at.core;

    const int status =
        tl_rk4_apply(&g->stepper, core, t_d, h_d, g->y, g->yerr, g->f0, g->f1, rates, g);
    if (status)
        return status;
    real most = lane_all(0);
    mask numbers = lane_every(true);
    for (size_t i = 0; i < core; i++) {
        const real e = lane_abs(g->yerr[i]) / (lane_abs(g->y[i]) + g->scale[i]);
        numbers &= e >= 0;
        most = lane_max(most, e);
    }
    *error = lane_any(lane_not(numbers)) ? INFINITY : 0;
    for (int l = 0; l < TL_WIDE; l++)
        *error = fmax(*error, most[l] / (LOCAL_SHARE * g->rtol));
    return TL_OK;
}

static void undo(struct tl_lane_group *open)
{
    struct group *g = of(open);
    memcpy(g->y, g->stepper.y0, open->form.at.core * sizeof *g->y);
}

static void book(struct tl_lane_group *open, double h_d)
{
    struct group *g = of(open);
    for (size_t i = open->form.at.core; i < open->form.at.size; i++)
        g->total[i] += 0.5 * h_d * (g->f0[i] + g->f1[i]);
}

static void accept(struct tl_lane_group *open)
{
    struct group *g = of(open);
    real *end = g->f1;
    g->f1 = g->f0;
    g->f0 = end;
    open->f0 = (double *)g->f0;
    open->f1 = (double *)g->f1;
}

static void interpolate(struct tl_lane_group *open, double t0_d, double t1_d, double t_d,
                        size_t need, double *out)
{
    struct group *g = of(open);
    const struct tl_layout *at = &open->form.at;
    const struct tl_dense step = {t0_d, t1_d, g->stepper.y0, g->f0, g->y, g->f1};

    tl_dense_at(&step, t_d, need, (real *)out);
    if (need >= at->chamber + TL_NWATER)
        tl_dense_transient(&step, t_d, g->stepper.linear.exchange_1_d, at->tank, at->chamber,
                           TL_NWATER, (real *)out);
}

const struct tl_lane_level NAME_OF(TL_LEVEL) = {
    .name = TEXT_OF(TL_LEVEL),
    .wide = TL_WIDE,
    .create = create,
    .release = release,
    .rates = rates_of,
    .flow_anew = flow_anew,
    .begin = begin,
    .start = start,
    .step = step,
    .undo = undo,
    .accept = accept,
    .book = book,
    .interpolate = interpolate,
};
