/* The trickle tower: trays as mixed films in quasi-steady state, in one lane or many (lanes.h). Model
 * document, "Tower".
 *
 * Water crosses a cell in seconds while films change over days, so the four substrates of a cell
 * satisfy their balance at once:
 *
 *     0 = Qt (S_in - S) + A r(S) + g (S_sat - S)        TAN, NO2, SS, O2
 *
 * Only the three growth rates depend on S. With S = S_0 + N growth (S_0: the water if nothing grew),
 * Newton's method is a 3 x 3 system in the growth rates instead of a 4 x 4 one in S. The outflow is
 * taken from the balance with the rates and the gas flux actually used: it closes whatever the
 * tolerance of the iteration. Growth on nitrate comes after, in the water that this leaves: where there
 * is oxygen it is small, and where there is none nothing else takes the organics.
 *
 * First guesses are the last growth rates, and the last ratio of [H+] leaving to [H+] entering: they
 * change far less from call to call than the water does, so one Newton step is the rule. Whatever of a
 * film does not hang on the water is reckoned for many cells at once (tl_film_block). */
#ifndef TL_MODEL_TOWER_KERNEL_H
#define TL_MODEL_TOWER_KERNEL_H

#include <string.h>

#include "algae_kernel.h"
#include "film.h"
#include "layout.h"
#include "packing_kernel.h"
#include "towerloop/status.h"

/* What loops must have in common to lie side by side. */
struct tl_form {
    struct tl_layout at;
    int cells;
    int cells_per_tray;
    size_t groups;     /* of fish, at the start and added */
    size_t lit;        /* trays with algae, from the top; 0 without sun */
    size_t dead;       /* events that leave dead fish */
    bool formaldehyde; /* is dosed at some time */
    bool green;        /* green water */
    bool grows;
    bool chloramine; /* the source's residual chlorine is chloramine */
    bool falls;      /* the falls below the trays aerate */
    bool anoxic;     /* films and sludge use nitrate where oxygen is lacking */
};

/* Size and surroundings of a loop: reals only, and each may differ from lane to lane. */
struct tl_site {
    real tank_m3, tank_surface_m2, tank_wall_m2; /* the wall that counts */
    real chamber_m3, chamber_surface_m2, chamber_wall_m2;
    real tower_plan_m2;
    real cell_capture;      /* share of the solids a cell holds back */
    real cell_full_g;       /* gCOD that fills the voids of a cell */
    real slough_per_load;   /* sloughing of trapped solids, 1/d per m/h */
    real trickle_m3_d;      /* source water flowing in */
    real source[TL_NWATER]; /* but for oxygen and inorganic carbon, which hang on the temperature */
    real protein, feed_conversion;
    struct tl_surroundings around;
    struct lane_packing media;
    real cell_media_m2; /* media surface of a cell, wet or not */
    real submerged;     /* 1: the media stand under water, 0: they are trickled over */
    real tray_drop_m;   /* what counts of the fall to the next tray (lane_weir_drop()) */
    real last_drop_m;   /* and of that to the tank */
};

/* The water leaving a cell, and what the cell did. */
struct tl_cell_state {
    real growth[3];                         /* last growth rates, gCOD/m2/d: the next first guess */
    real h_ratio;                           /* [H+] leaving over [H+] entering, likewise */
    struct tl_film_water s;                 /* at the film */
    real out_o2, out_tan, out_no2, out_no3; /* of the water leaving */
    real gas_o2, gas_co2;                   /* taken up from the air, g and mol per m3 of water */
};

/* What is kept from call to call, and the parts of a right-hand side. */
struct tl_work {
    struct tl_climate climate; /* of climate.t_degC; NAN at first */
    /* wetting of the media, of (temperature, load) */
    real wet_t_degC, wet_load_m_h;
    real cell_wet_m2;
    real cell_gas_o2; /* m3/d */
    real cell_gas_co2;
    real spread; /* share of the wetted area that algae leave */
    struct tl_sky sky;
    real tank_h, chamber_h;
    struct lane_carbonate glance_k;
    real tower_out[TL_NWATER];
    real tower_out_h;
    real tower_extent[TL_NTOWER_EXTENT];
    real tower_gas_o2, tower_gas_tic;
    double glance_degC; /* temperature of glance_k; NAN at first */
    struct tl_cell_state *cell;
    struct tl_film_block *block; /* the cells' films, TL_BLOCK a block */
    int fault_tray;              /* 1-based tray of the last failure, 0 = none */
};

/* A Newton step this small ends the iteration. It leaves the square of its relative size times the
 * curvature: some 1e-8 of a tray's effect, and less the closer the calls lie. */
#define STEP_SMALL     2e-3
#define CONC_SMALL     0.05 /* g/m3 */
#define H_STEP_SMALL   1e-3
#define MAX_ITERATIONS 60

/* Wetted area of the cells and their gas exchange at this hydraulic load, m/h. */
static inline void lane_wet(const struct tl_site *s, real load_m_h, real t_degC, struct tl_work *w)
{
    const mask under = s->submerged > 0;
    struct lane_wetting wet;

    lane_onda(&s->media, load_m_h, t_degC, &wet);
    w->cell_wet_m2 = lane_select(under, s->cell_media_m2, s->cell_media_m2 * wet.wetted_fraction);
    w->cell_gas_o2 = lane_select(under, lane_all(0), wet.kl_o2_m_s * 86400 * w->cell_wet_m2);
    w->cell_gas_co2 = lane_select(under, lane_all(0), wet.kl_co2_m_s * 86400 * w->cell_wet_m2);
}

/* What growth does to the substrates of a cell, g/m3 per gCOD/m2/d: of the process table times
 * area/flow. Nitrite feels only the nitrifiers, organics only the heterotrophs. */
struct effect {
    real tan[3], no2[2], ss, o2[3];
};

/* Solve a x = b (3 x 3) by cofactors in the open lanes; -1 when one is singular. */
static inline int solve3(real a[3][3], const real *b, mask open, real *x)
{
    const real c00 = a[1][1] * a[2][2] - a[1][2] * a[2][1];
    const real c01 = a[1][2] * a[2][0] - a[1][0] * a[2][2];
    const real c02 = a[1][0] * a[2][1] - a[1][1] * a[2][0];
    const real c10 = a[0][2] * a[2][1] - a[0][1] * a[2][2];
    const real c11 = a[0][0] * a[2][2] - a[0][2] * a[2][0];
    const real c12 = a[0][1] * a[2][0] - a[0][0] * a[2][1];
    const real c20 = a[0][1] * a[1][2] - a[0][2] * a[1][1];
    const real c21 = a[0][2] * a[1][0] - a[0][0] * a[1][2];
    const real c22 = a[0][0] * a[1][1] - a[0][1] * a[1][0];
    const real det = a[0][0] * c00 + a[0][1] * c01 + a[0][2] * c02;

    if (lane_any(open & lane_not(lane_abs(det) > 0)))
        return -1;
    const real per_det = 1 / det;
    x[0] = (c00 * b[0] + c10 * b[1] + c20 * b[2]) * per_det;
    x[1] = (c01 * b[0] + c11 * b[1] + c21 * b[2]) * per_det;
    x[2] = (c02 * b[0] + c12 * b[1] + c22 * b[2]) * per_det;
    return 0;
}

/* The substrates once these grow. */
static inline struct tl_film_water grown(const struct tl_film_water *s0, const struct effect *n,
                                         const real *g)
{
    return (struct tl_film_water){
        .tan = s0->tan + n->tan[0] * g[0] + n->tan[1] * g[1] + n->tan[2] * g[2],
        .no2 = s0->no2 + n->no2[0] * g[0] + n->no2[1] * g[1],
        .ss = s0->ss + n->ss * g[2],
        .o2 = s0->o2 + n->o2[0] * g[0] + n->o2[1] * g[1] + n->o2[2] * g[2],
    };
}

/* A step of the iteration does not jump over zero, where the rates have their kink. */
static inline real damped(real next, real now)
{
    return lane_select((next < 0) & (now > 1e-9), 0.2 * now, next);
}

static inline mask small_step(real next, real now)
{
    return lane_abs(next - now) <= STEP_SMALL * (CONC_SMALL + lane_abs(next));
}

/* Growth rates and substrates of one cell. `growth` holds the first guess and gets the answer. */
static inline int solve_substrates(const struct tl_film_model *f, const real *growth_max,
                                   const struct tl_film_water *s0, const struct effect *n,
                                   real *growth, struct tl_film_water *out)
{
    struct tl_film_water s = grown(s0, n, growth);
    mask open = lane_every(true);

    for (int iteration = 0; iteration < MAX_ITERATIONS; iteration++) {
        real rate[3];
        real d[3][4];
        real a[3][3];
        real b[3];
        real g[3];
        tl_film_growth(f, growth_max, &s, rate, d);

        /* growth = rate(s) + D (s_new - s), s_new = s0 + N growth */
        const real to_tan = s0->tan - s.tan;
        const real to_o2 = s0->o2 - s.o2;
        b[0] = rate[0] + d[0][0] * to_tan + d[0][3] * to_o2;
        b[1] = rate[1] + d[1][0] * to_tan + d[1][1] * (s0->no2 - s.no2) + d[1][3] * to_o2;
        b[2] = rate[2] + d[2][0] * to_tan + d[2][2] * (s0->ss - s.ss) + d[2][3] * to_o2;
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++)
                a[i][j] = (i == j) - d[i][0] * n->tan[j] - d[i][3] * n->o2[j];
        a[1][0] -= d[1][1] * n->no2[0];
        a[1][1] -= d[1][1] * n->no2[1];
        a[2][2] -= d[2][2] * n->ss;
        if (solve3(a, b, open, g))
            return TL_E_SOLVER;

        const struct tl_film_water next = grown(s0, n, g);
        for (int i = 0; i < 3; i++)
            growth[i] = lane_select(open, g[i], growth[i]);
        out->tan = lane_select(open, next.tan, out->tan);
        out->no2 = lane_select(open, next.no2, out->no2);
        out->ss = lane_select(open, next.ss, out->ss);
        out->o2 = lane_select(open, next.o2, out->o2);
        open &= lane_not(small_step(next.tan, s.tan) & small_step(next.no2, s.no2) &
                         small_step(next.ss, s.ss) & small_step(next.o2, s.o2));
        if (!lane_any(open))
            return TL_OK;
        if (lane_any(open & lane_not(lane_finite(next.tan + next.no2 + next.ss + next.o2))))
            return TL_E_SOLVER;
        s = (struct tl_film_water){damped(next.tan, s.tan), damped(next.no2, s.no2),
                                   damped(next.ss, s.ss), damped(next.o2, s.o2), s.no3};
    }
    return TL_E_SOLVER;
}

/* [H+] of water whose inorganic carbon leaves by the air: W(H) = TIC + gas CO2 = target, where the
 * alkalinity gives TIC and CO2 as functions of H. Concentrations in mol/L, gas = g/Qt. W rises with
 * H; Newton from the guess, bisection (geometric) as safeguard. */
static inline int solve_stripped_h(const struct lane_carbonate *k, real alk, real tan, real gas,
                                   real target, real *h_inout)
{
    real lo = lane_all(1e-14);
    real hi = lane_all(1);
    real h = *h_inout;
    const real k12 = k->k1 * k->k2;
    mask open = lane_every(true);

    if (lane_any(lane_not(lane_finite(alk + tan + target))))
        return TL_E_SOLVER;
    tan = tl_positive(tan);
    for (int iteration = 0; iteration < 100; iteration++) {
        const real per_h = 1 / h;
        const real per_acid = 1 / (k->ka + h);
        const real nh3 = tan * k->ka * per_acid;
        const real hydroxide = k->kw * per_h;
        const real carbonate = alk - hydroxide + h - nh3;
        const real dcarbonate = hydroxide * per_h + 1 + nh3 * per_acid;
        const real num = h * h * (1 + gas) + k->k1 * h + k12;
        const real dnum = 2 * h * (1 + gas) + k->k1;
        const real den = k->k1 * h + 2 * k12;
        /* residual and slope of carbonate num/den - target, both times den */
        const real residual = carbonate * num - target * den;
        const real slope = dcarbonate * num + carbonate * (dnum - num * (k->k1 / den));

        /* quadratic convergence: a step this small leaves an error near 1e-6 and mostly below 1e-8 */
        const real step = residual / slope;
        const mask small = lane_abs(step) <= H_STEP_SMALL * h;
        *h_inout = lane_select(open & small, h - step, *h_inout);
        open &= lane_not(small);
        if (!lane_any(open))
            return TL_OK;
        hi = lane_select(residual > 0, h, hi);
        lo = lane_select(residual > 0, lo, h);
        h = h - step;
        const mask wild = lane_not((h > lo) & (h < hi));
        if (lane_any(wild))
            h = lane_select(wild, lane_sqrt(lo * hi), h);
    }
    return TL_E_SOLVER;
}

/* Carbon dioxide leaves water of so much inorganic carbon by the air: *h, a guess, becomes the [H+] of
 * what remains, *co2 the mol/m3 taken up. `gas`: conductance over flow. */
static inline int strip(const struct tl_climate *c, real alk, real tan, real gas, real tic, real *h,
                        real *co2)
{
    const struct lane_carbonate *k = &c->k;
    const real target = tic + gas * c->co2_sat;
    const int status =
        solve_stripped_h(k, alk * 1e-3, tan * (1e-3 / TL_N_G_PER_MOL), gas, target * 1e-3, h);

    /* (1 + gas x) TIC = target, x = h2/(h2 + K1 h + K1 K2) the share of CO2: the flux, and the
     * outflow by balance */
    const real left = target * (*h * *h) / (*h * *h * (1 + gas) + k->k1 * (*h + k->k2));
    *co2 = gas * (c->co2_sat - left);
    return status;
}

/* What is the same for all cells of a pass in which the water spreads. */
struct pass {
    real per_flow; /* area/flow, d/m */
    real gas_o2, gas_co2;
    real damp; /* of oxygen, by the air */
    real o2_sat;
    real capture; /* share of the solids held back */
    struct effect effect;
};

static inline struct pass begin_pass(const struct tl_film_model *f, const struct tl_work *w,
                                     const struct tl_site *site, real wet_m2, real flow,
                                     real o2_sat)
{
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    struct pass a = {.per_flow = wet_m2 / flow,
                     .gas_o2 = w->spread * w->cell_gas_o2 / flow,
                     .gas_co2 = w->spread * w->cell_gas_co2 / flow,
                     .o2_sat = o2_sat,
                     .capture = site->cell_capture};

    a.damp = 1 / (1 + a.gas_o2);
    for (int g = 0; g < 3; g++) {
        a.effect.tan[g] = a.per_flow * nu[TL_GROW_A + g][TL_TAN];
        a.effect.o2[g] = a.per_flow * nu[TL_GROW_A + g][TL_O2] * a.damp;
    }
    a.effect.no2[0] = a.per_flow * nu[TL_GROW_A][TL_NO2];
    a.effect.no2[1] = a.per_flow * nu[TL_GROW_N][TL_NO2];
    a.effect.ss = a.per_flow * nu[TL_GROW_H][TL_SS];
    return a;
}

/* The pass through a cell whose voids are filled: less area meets the air, and less room is left for
 * solids. What the film does is in its rates already. */
static __attribute__((noinline)) struct pass narrowed(const struct tl_film_model *f,
                                                      const struct pass *open,
                                                      const struct tl_film_block *b, int l)
{
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    struct pass a = *open;

    a.gas_o2 = open->gas_o2 * b->spread[l];
    a.gas_co2 = open->gas_co2 * b->spread[l];
    a.damp = 1 / (1 + a.gas_o2);
    for (int g = 0; g < 3; g++)
        a.effect.o2[g] = a.per_flow * nu[TL_GROW_A + g][TL_O2] * a.damp;
    a.capture = open->capture * b->room[l];
    return a;
}

/* The water on its way down: by value, so that it stays in registers. Chloride and chlorine cross
 * unchanged. */
struct stream {
    real tan, no2, no3, o2, alk, tic, ss, xs, xi, hocl;
    real h; /* [H+], mol/L */
};

/* One cell, lane `l` of its block: `in` is what enters, `out` what leaves. */
static inline int cross_cell(const struct tl_form *form, const struct tl_film_model *f,
                             const struct tl_work *w, const struct pass *a,
                             struct tl_cell_state *cell, struct tl_film_block *b, int l,
                             struct stream in, struct stream *out)
{
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    const real seen[TL_NWATER] = {[TL_TAN] = in.tan, [TL_ALK] = in.alk, [TL_HOCL] = in.hocl};
    struct tl_film_switch sw;

    tl_film_switch_at(f, &w->climate, in.h, seen, &sw);
    const real growth_max[3] = {sw.a * b->growth_max[0][l], sw.n * b->growth_max[1][l],
                                b->growth_max[2][l]};

    /* the water if nothing grew */
    const real freed = a->per_flow * b->tan[l];
    const struct tl_film_water s0 = {in.tan + freed, in.no2, in.ss + a->per_flow * b->hydrolysis[l],
                                     (in.o2 + a->gas_o2 * a->o2_sat) * a->damp, in.no3};
    real g[3] = {cell->growth[0], cell->growth[1], cell->growth[2]};
    struct tl_film_water s = s0;
    int status = solve_substrates(f, growth_max, &s0, &a->effect, g, &s);
    if (status) {
        cell->growth[0] = cell->growth[1] = cell->growth[2] = lane_all(0); /* try afresh */
        return status;
    }

    /* outflow by balance, with the rates used */
    const real grow[3] = {a->per_flow * g[0], a->per_flow * g[1], a->per_flow * g[2]};
    const real o2_gas = a->gas_o2 * (a->o2_sat - s.o2);
    const real tic = in.tic + (nu[TL_GROW_A][TL_TIC] * grow[0] + nu[TL_GROW_N][TL_TIC] * grow[1] +
                               nu[TL_GROW_H][TL_TIC] * grow[2]);
    struct stream leaves = {
        .tan = s.tan,
        .no2 = s.no2,
        .no3 = in.no3 + nu[TL_GROW_N][TL_NO3] * grow[1],
        .o2 = in.o2 + (nu[TL_GROW_A][TL_O2] * grow[0] + nu[TL_GROW_N][TL_O2] * grow[1] +
                       nu[TL_GROW_H][TL_O2] * grow[2] + o2_gas),
        .alk = in.alk + (freed * (1 / TL_N_G_PER_MOL) + nu[TL_GROW_A][TL_ALK] * grow[0] +
                         nu[TL_GROW_N][TL_ALK] * grow[1] + nu[TL_GROW_H][TL_ALK] * grow[2]),
        .ss = s.ss,
        .xs = in.xs + a->per_flow * b->xs[l] - a->capture * in.xs,
        .xi = in.xi + a->per_flow * b->xi[l] - a->capture * in.xi,
        .hocl = in.hocl,
    };

    /* growth on nitrate in the water that this leaves; the pH it makes is the next cell's, so that the two
     * need not wait for one another */
    s.no3 = leaves.no3;
    real on_nitrate = lane_all(0);
    if (form->anoxic)
        on_nitrate = tl_film_on_nitrate(f, growth_max[2], tl_film_reach_at(f, b->mass[l], g, s.o2),
                                        &s, a->per_flow);

    real co2_gas;
    real h = in.h * cell->h_ratio;
    status = strip(&w->climate, leaves.alk, leaves.tan, a->gas_co2, tic, &h, &co2_gas);
    if (status) {
        cell->h_ratio = lane_all(1);
        return status;
    }
    leaves.tic = tic + co2_gas;
    leaves.h = h;

    if (form->anoxic) {
        const real *on_no3 = nu[TL_GROW_H_NO3];
        const real added = a->per_flow * on_nitrate;
        b->on_nitrate[l] = on_nitrate;
        leaves.tan += on_no3[TL_TAN] * added;
        leaves.no3 += on_no3[TL_NO3] * added;
        leaves.alk += on_no3[TL_ALK] * added;
        leaves.ss += on_no3[TL_SS] * added;
        leaves.tic += on_no3[TL_TIC] * added;
    }
    for (int i = 0; i < 3; i++)
        b->growth[i][l] = cell->growth[i] = g[i];
    cell->h_ratio = h / in.h;
    cell->s = s;
    cell->out_o2 = leaves.o2;
    cell->out_tan = leaves.tan;
    cell->out_no2 = leaves.no2;
    cell->out_no3 = leaves.no3;
    cell->gas_o2 = o2_gas;
    cell->gas_co2 = co2_gas;
    *out = leaves;
    return TL_OK;
}

/* The fall below a tray: a mixed cell without media whose conductance makes the oxygen's deficit shrink
 * as below a weir. `gain`: deficit ratio less 1. Carbon dioxide follows as at a surface. Adds what the
 * air gave. Seldom wanted: apart, it costs nothing where it is not. */
static __attribute__((noinline)) int fall(const struct tl_film_model *f, const struct tl_work *w,
                                          real gain, real o2_sat, struct stream *water,
                                          real *o2_gas, real *co2_gas)
{
    const real o2 = gain * (o2_sat - water->o2) / (1 + gain);
    real co2;
    const int status = strip(&w->climate, water->alk, water->tan, f->p.co2_to_o2 * gain, water->tic,
                             &water->h, &co2);

    water->o2 += o2;
    water->tic += co2;
    *o2_gas += o2;
    *co2_gas += co2;
    return status;
}

/* One pass down the trays. `chamber` is the water pumped up, `film` the cells' masses, `dfilm` gets
 * their derivatives and w->tower_extent the totals of the processes; where it is NULL they are left
 * out. Fills w->tower_*; TL_OK or TL_E_SOLVER. */
static inline int tl_tower_cross(const struct tl_form *form, const struct tl_film_model *f,
                                 const struct tl_site *site, struct tl_work *w,
                                 real tower_flow_m3_d, const real *chamber, real chamber_h,
                                 real o2_sat, const real *film, real *dfilm)
{
    const real load_m_h = tower_flow_m3_d / 24 / site->tower_plan_m2;
    const real slough = site->slough_per_load * load_m_h;
    const real kill = f->p.k_chlorine_kill * tl_positive(chamber[TL_HOCL]);
    const real wet_m2 = w->spread * w->cell_wet_m2;
    const struct pass a = begin_pass(f, w, site, wet_m2, tower_flow_m3_d, o2_sat);
    struct stream water = {.tan = chamber[TL_TAN],
                           .no2 = chamber[TL_NO2],
                           .no3 = chamber[TL_NO3],
                           .o2 = chamber[TL_O2],
                           .alk = chamber[TL_ALK],
                           .tic = chamber[TL_TIC],
                           .ss = chamber[TL_SS],
                           .xs = chamber[TL_XS],
                           .xi = chamber[TL_XI],
                           .hocl = chamber[TL_HOCL],
                           .h = chamber_h};
    const real tray_gain =
        f->p.fall_aeration * lane_weir_gain(site->tray_drop_m, w->climate.t_degC);
    const real last_gain =
        f->p.fall_aeration * lane_weir_gain(site->last_drop_m, w->climate.t_degC);
    real o2_gas = lane_all(0);
    real co2_gas = lane_all(0);

    for (int first = 0; first < form->cells; first += TL_BLOCK) {
        const int cells = form->cells - first < TL_BLOCK ? form->cells - first : TL_BLOCK;
        struct tl_film_block *b = &w->block[first / TL_BLOCK];

        tl_film_block_fill(f, &w->climate, kill, slough, wet_m2, site->cell_full_g, cells,
                           &film[first * TL_NFILM], b);
        for (int l = 0; l < cells; l++) {
            struct tl_cell_state *cell = &w->cell[first + l];
            const struct pass *here = &a;
            struct pass narrow;
            if (b->clogged) {
                narrow = narrowed(f, &a, b, l);
                here = &narrow;
            }
            b->captured_s[l] = tower_flow_m3_d * here->capture * water.xs;
            b->captured_i[l] = tower_flow_m3_d * here->capture * water.xi;
            int status = cross_cell(form, f, w, here, cell, b, l, water, &water);
            if (status) {
                w->fault_tray = (first + l) / form->cells_per_tray + 1;
                return status;
            }
            o2_gas += cell->gas_o2;
            co2_gas += cell->gas_co2;
            if (form->falls && (first + l + 1) % form->cells_per_tray == 0) {
                struct stream below = water; /* copies: the originals stay in registers */
                real gas[2] = {o2_gas, co2_gas};
                status = fall(f, w, first + l + 1 < form->cells ? tray_gain : last_gain, o2_sat,
                              &below, &gas[0], &gas[1]);
                water = below;
                o2_gas = gas[0];
                co2_gas = gas[1];
                if (status) {
                    w->fault_tray = (first + l) / form->cells_per_tray + 1;
                    return status;
                }
            }
        }
    }
    const real out[TL_NWATER] = {
        [TL_TAN] = water.tan, [TL_NO2] = water.no2,     [TL_NO3] = water.no3,  [TL_O2] = water.o2,
        [TL_ALK] = water.alk, [TL_TIC] = water.tic,     [TL_SS] = water.ss,    [TL_XS] = water.xs,
        [TL_XI] = water.xi,   [TL_CL] = chamber[TL_CL], [TL_HOCL] = water.hocl};
    memcpy(w->tower_out, out, sizeof out);
    w->tower_out_h = water.h;
    w->tower_gas_o2 = tower_flow_m3_d * o2_gas;
    w->tower_gas_tic = tower_flow_m3_d * co2_gas;
    if (!dfilm)
        return TL_OK;

    memset(w->tower_extent, 0, sizeof w->tower_extent);
    for (int first = 0; first < form->cells; first += TL_BLOCK) {
        const int cells = form->cells - first < TL_BLOCK ? form->cells - first : TL_BLOCK;
        tl_film_block_close(f, wet_m2, cells, &w->block[first / TL_BLOCK], &dfilm[first * TL_NFILM],
                            w->tower_extent);
    }
    return TL_OK;
}

/* The water that comes down on the first tray: what is pumped up, `chamber`, and what the algae on the
 * trays do to it. They stand in all of the tower's water, so that the trays' air and films have a part
 * in it. Sets w->spread; derivatives and extents as tl_algae_on_trays(). */
static inline void tl_tower_top(const struct tl_form *form, const struct tl_film_model *f,
                                const struct tl_site *site, struct tl_work *w, real flow_m3_d,
                                const real *chamber, real chamber_h, const real *mat, real *dmat,
                                real *extent, real *top)
{
    real dmass[TL_NWATER];

    for (int k = 0; k < TL_NWATER; k++)
        dmass[k] = lane_all(0);
    w->spread = tl_algae_spread(f, site->tower_plan_m2, mat[0]);
    tl_algae_on_trays(f, &w->climate, site->tower_plan_m2, w->sky.tower, chamber, chamber_h,
                      form->lit, mat, dmass, dmat, extent);
    for (int k = 0; k < TL_NWATER; k++)
        top[k] = chamber[k] + dmass[k] / flow_m3_d;
}

/* Decay in a tower that stands still, `extra_1_d` of it by drying out; `rate` gets the total of the
 * three decays, gCOD/d. */
static inline void tl_tower_idle(const struct tl_form *form, const struct tl_film_model *f,
                                 const struct tl_work *w, real extra_1_d, const real *film,
                                 real *dfilm, real *rate)
{
    const real(*nu)[TL_NCOLUMN] = f->table.nu;

    for (int g = 0; g < 3; g++)
        rate[g] = lane_all(0);
    for (int i = 0; i < form->cells; i++) {
        real *d = &dfilm[i * TL_NFILM];
        for (int k = 0; k < TL_NFILM; k++)
            d[k] = lane_all(0);
        for (int g = 0; g < 3; g++) {
            const real decay = (w->climate.decay[g] + extra_1_d) * film[i * TL_NFILM + g];
            for (int k = 0; k < TL_NFILM; k++)
                d[k] += nu[TL_DECAY_A + g][TL_COLUMN_FILM + k] * decay;
            rate[g] += decay;
        }
    }
}

#endif
