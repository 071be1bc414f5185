/* The trickle tower: trays as mixed films in quasi-steady state. Model document, "Tower".
 *
 * Water crosses a cell in seconds while films change over days, so the four substrates of a cell
 * satisfy their balance at once:
 *
 *     0 = Qt (S_in - S) + A r(S) + g (S_sat - S)        TAN, NO2, SS, O2
 *
 * Only the three growth rates depend on S. With S = S_0 + N growth (S_0: the water if nothing grew),
 * Newton's method is a 3 x 3 system in the growth rates instead of a 4 x 4 one in S. The outflow is
 * taken from the balance with the rates and the gas flux actually used: it closes whatever the
 * tolerance of the iteration.
 *
 * First guesses are the last growth rates, and the last ratio of [H+] leaving to [H+] entering: they
 * change far less from call to call than the water does, so one Newton step is the rule. Whatever of a
 * film does not hang on the water is reckoned for many cells at once (tl_film_block). */
#include <math.h>
#include <string.h>

#include "model_private.h"
#include "towerloop/status.h"

/* A Newton step this small ends the iteration. It leaves the square of its relative size times the
 * curvature: some 1e-8 of a tray's effect, and less the closer the calls lie. */
#define STEP_SMALL     2e-3
#define CONC_SMALL     0.05 /* g/m3 */
#define H_STEP_SMALL   1e-3
#define MAX_ITERATIONS 60

/* What growth does to the substrates of a cell, g/m3 per gCOD/m2/d: of the process table times
 * area/flow. Nitrite feels only the nitrifiers, organics only the heterotrophs. */
struct effect {
    double tan[3], no2[2], ss, o2[3];
};

/* Solve a x = b (3 x 3) by cofactors; -1 when singular. */
static inline int solve3(double a[3][3], const double *b, double *x)
{
    const double c00 = a[1][1] * a[2][2] - a[1][2] * a[2][1];
    const double c01 = a[1][2] * a[2][0] - a[1][0] * a[2][2];
    const double c02 = a[1][0] * a[2][1] - a[1][1] * a[2][0];
    const double c10 = a[0][2] * a[2][1] - a[0][1] * a[2][2];
    const double c11 = a[0][0] * a[2][2] - a[0][2] * a[2][0];
    const double c12 = a[0][1] * a[2][0] - a[0][0] * a[2][1];
    const double c20 = a[0][1] * a[1][2] - a[0][2] * a[1][1];
    const double c21 = a[0][2] * a[1][0] - a[0][0] * a[1][2];
    const double c22 = a[0][0] * a[1][1] - a[0][1] * a[1][0];
    const double det = a[0][0] * c00 + a[0][1] * c01 + a[0][2] * c02;

    if (!(fabs(det) > 0))
        return -1;
    const double per_det = 1 / det;
    x[0] = (c00 * b[0] + c10 * b[1] + c20 * b[2]) * per_det;
    x[1] = (c01 * b[0] + c11 * b[1] + c21 * b[2]) * per_det;
    x[2] = (c02 * b[0] + c12 * b[1] + c22 * b[2]) * per_det;
    return 0;
}

/* The substrates once these grow. */
static inline struct tl_film_water grown(const struct tl_film_water *s0, const struct effect *n,
                                         const double *g)
{
    return (struct tl_film_water){
        .tan = s0->tan + n->tan[0] * g[0] + n->tan[1] * g[1] + n->tan[2] * g[2],
        .no2 = s0->no2 + n->no2[0] * g[0] + n->no2[1] * g[1],
        .ss = s0->ss + n->ss * g[2],
        .o2 = s0->o2 + n->o2[0] * g[0] + n->o2[1] * g[1] + n->o2[2] * g[2],
    };
}

/* A step of the iteration does not jump over zero, where the rates have their kink. */
static inline double damped(double next, double now)
{
    return next < 0 && now > 1e-9 ? 0.2 * now : next;
}

static inline bool small_step(double next, double now)
{
    return fabs(next - now) <= STEP_SMALL * (CONC_SMALL + fabs(next));
}

/* Growth rates and substrates of one cell. `growth` holds the first guess and gets the answer. */
static inline int solve_substrates(const struct tl_film_model *f, const double *growth_max,
                                   const struct tl_film_water *s0, const struct effect *n,
                                   double *growth, struct tl_film_water *out)
{
    struct tl_film_water s = grown(s0, n, growth);

    for (int iteration = 0; iteration < MAX_ITERATIONS; iteration++) {
        double rate[3];
        double d[3][4];
        double a[3][3];
        double b[3];
        tl_film_growth(f, growth_max, &s, rate, d);

        /* growth = rate(s) + D (s_new - s), s_new = s0 + N growth */
        const double to_tan = s0->tan - s.tan;
        const double to_o2 = s0->o2 - s.o2;
        b[0] = rate[0] + d[0][0] * to_tan + d[0][3] * to_o2;
        b[1] = rate[1] + d[1][0] * to_tan + d[1][1] * (s0->no2 - s.no2) + d[1][3] * to_o2;
        b[2] = rate[2] + d[2][0] * to_tan + d[2][2] * (s0->ss - s.ss) + d[2][3] * to_o2;
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++)
                a[i][j] = (i == j) - d[i][0] * n->tan[j] - d[i][3] * n->o2[j];
        a[1][0] -= d[1][1] * n->no2[0];
        a[1][1] -= d[1][1] * n->no2[1];
        a[2][2] -= d[2][2] * n->ss;
        if (solve3(a, b, growth))
            return TL_E_SOLVER;

        const struct tl_film_water next = grown(s0, n, growth);
        if (small_step(next.tan, s.tan) && small_step(next.no2, s.no2) &&
            small_step(next.ss, s.ss) && small_step(next.o2, s.o2)) {
            *out = next;
            return TL_OK;
        }
        if (!isfinite(next.tan + next.no2 + next.ss + next.o2))
            return TL_E_SOLVER;
        s = (struct tl_film_water){damped(next.tan, s.tan), damped(next.no2, s.no2),
                                   damped(next.ss, s.ss), damped(next.o2, s.o2)};
    }
    return TL_E_SOLVER;
}

/* [H+] of water whose inorganic carbon leaves by the air: W(H) = TIC + gas CO2 = target, where the
 * alkalinity gives TIC and CO2 as functions of H. Concentrations in mol/L, gas = g/Qt. W rises with
 * H; Newton from the guess, bisection (geometric) as safeguard. */
static inline int solve_stripped_h(const struct tl_carbonate *k, double alk, double tan, double gas,
                                   double target, double *h_inout)
{
    double lo = 1e-14;
    double hi = 1;
    double h = *h_inout;
    const double k12 = k->k1 * k->k2;

    if (!isfinite(alk + tan + target))
        return TL_E_SOLVER;
    tan = tl_positive(tan);
    for (int iteration = 0; iteration < 100; iteration++) {
        const double per_h = 1 / h;
        const double per_acid = 1 / (k->ka + h);
        const double nh3 = tan * k->ka * per_acid;
        const double hydroxide = k->kw * per_h;
        const double carbonate = alk - hydroxide + h - nh3;
        const double dcarbonate = hydroxide * per_h + 1 + nh3 * per_acid;
        const double num = h * h * (1 + gas) + k->k1 * h + k12;
        const double dnum = 2 * h * (1 + gas) + k->k1;
        const double den = k->k1 * h + 2 * k12;
        /* residual and slope of carbonate num/den - target, both times den */
        const double residual = carbonate * num - target * den;
        const double slope = dcarbonate * num + carbonate * (dnum - num * (k->k1 / den));

        /* quadratic convergence: a step this small leaves an error near 1e-6 and mostly below 1e-8 */
        const double step = residual / slope;
        if (fabs(step) <= H_STEP_SMALL * h) {
            *h_inout = h - step;
            return TL_OK;
        }
        if (residual > 0)
            hi = h;
        else
            lo = h;
        h -= step;
        if (!(h > lo && h < hi))
            h = sqrt(lo * hi);
    }
    return TL_E_SOLVER;
}

/* What is the same for all cells of a pass. */
struct pass {
    double per_flow; /* area/flow, d/m */
    double gas_o2, gas_co2;
    double damp; /* of oxygen, by the air */
    double o2_sat;
    struct effect effect;
};

static struct pass begin_pass(const struct tl_model *m, const struct tl_work *w, double flow,
                              double o2_sat)
{
    const double(*nu)[TL_NCOLUMN] = m->film.table.nu;
    struct pass a = {.per_flow = w->cell_wet_m2 / flow,
                     .gas_o2 = w->cell_gas_o2 / flow,
                     .gas_co2 = w->cell_gas_co2 / flow,
                     .o2_sat = o2_sat};

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

/* The water on its way down: by value, so that it stays in registers. Chloride and chlorine cross
 * unchanged. */
struct stream {
    double tan, no2, no3, o2, alk, tic, ss, xs, xi, hocl;
    double h; /* [H+], mol/L */
};

/* One cell, lane `l` of its block: `in` is what enters, `out` what leaves. */
static inline int cross_cell(const struct tl_model *m, const struct tl_work *w,
                             const struct pass *a, struct tl_cell_state *cell,
                             struct tl_film_block *b, int l, struct stream in, struct stream *out)
{
    const struct tl_film_model *f = &m->film;
    const double(*nu)[TL_NCOLUMN] = f->table.nu;
    const struct tl_carbonate *k = &w->climate.k;
    const double seen[TL_NWATER] = {[TL_TAN] = in.tan, [TL_ALK] = in.alk, [TL_HOCL] = in.hocl};
    struct tl_film_switch sw;

    tl_film_switch_at(f, &w->climate, in.h, seen, &sw);
    const double growth_max[3] = {sw.a * b->growth_max[0][l], sw.n * b->growth_max[1][l],
                                  b->growth_max[2][l]};

    /* the water if nothing grew */
    const double freed = a->per_flow * b->tan[l];
    const struct tl_film_water s0 = {in.tan + freed, in.no2, in.ss + a->per_flow * b->hydrolysis[l],
                                     (in.o2 + a->gas_o2 * a->o2_sat) * a->damp};
    double g[3] = {cell->growth[0], cell->growth[1], cell->growth[2]};
    struct tl_film_water s;
    int status = solve_substrates(f, growth_max, &s0, &a->effect, g, &s);
    if (status) {
        cell->growth[0] = cell->growth[1] = cell->growth[2] = 0; /* the next try starts afresh */
        return status;
    }

    /* outflow by balance, with the rates used */
    const double grow[3] = {a->per_flow * g[0], a->per_flow * g[1], a->per_flow * g[2]};
    const double o2_gas = a->gas_o2 * (a->o2_sat - s.o2);
    const double tic = in.tic + (nu[TL_GROW_A][TL_TIC] * grow[0] + nu[TL_GROW_N][TL_TIC] * grow[1] +
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
        .xs = in.xs + a->per_flow * b->xs[l] - m->cell_capture * in.xs,
        .xi = in.xi + a->per_flow * b->xi[l] - m->cell_capture * in.xi,
        .hocl = in.hocl,
    };

    /* carbon dioxide leaves: [H+] from what remains */
    const double target = tic + a->gas_co2 * w->climate.co2_sat;
    double h = in.h * cell->h_ratio;
    status = solve_stripped_h(k, leaves.alk * 1e-3, leaves.tan * (1e-3 / TL_N_G_PER_MOL),
                              a->gas_co2, target * 1e-3, &h);
    if (status) {
        cell->h_ratio = 1;
        return status;
    }
    /* (1 + gas x) TIC = target, x = h2/(h2 + K1 h + K1 K2) the share of CO2: the flux, and the
     * outflow by balance */
    const double co2 = target * (h * h) / (h * h * (1 + a->gas_co2) + k->k1 * (h + k->k2));
    const double co2_gas = a->gas_co2 * (w->climate.co2_sat - co2);
    leaves.tic = tic + co2_gas;
    leaves.h = h;

    for (int i = 0; i < 3; i++)
        b->growth[i][l] = cell->growth[i] = g[i];
    cell->h_ratio = h / in.h;
    cell->s = s;
    cell->out_o2 = leaves.o2;
    cell->out_tan = leaves.tan;
    cell->gas_o2 = o2_gas;
    cell->gas_co2 = co2_gas;
    *out = leaves;
    return TL_OK;
}

int tl_tower_pass(const struct tl_model *m, struct tl_work *w, double tower_flow_m3_d,
                  const double *chamber, double chamber_h, double o2_sat, const double *film,
                  double *dfilm)
{
    const double load_m_h = tower_flow_m3_d / 24 / m->setup.tower.plan_area_m2;
    const double slough = m->setup.params.k_slough_tray * load_m_h;
    const double kill = m->setup.params.k_chlorine_kill * tl_positive(chamber[TL_HOCL]);
    const struct pass a = begin_pass(m, w, tower_flow_m3_d, o2_sat);
    const double captured = tower_flow_m3_d * m->cell_capture;
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
    double o2_gas = 0;
    double co2_gas = 0;

    for (int first = 0; first < m->cells; first += TL_LANES) {
        const int cells = m->cells - first < TL_LANES ? m->cells - first : TL_LANES;
        struct tl_film_block *b = &w->block[first / TL_LANES];

        tl_film_block_fill(&m->film, &w->climate, kill, slough, w->cell_wet_m2, cells,
                           &film[first * TL_NFILM], b);
        for (int l = 0; l < cells; l++) {
            struct tl_cell_state *cell = &w->cell[first + l];
            b->captured_s[l] = captured * water.xs;
            b->captured_i[l] = captured * water.xi;
            int status = cross_cell(m, w, &a, cell, b, l, water, &water);
            if (status) {
                w->fault_tray = (first + l) / m->cells_per_tray + 1;
                return status;
            }
            o2_gas += cell->gas_o2;
            co2_gas += cell->gas_co2;
        }
    }
    const double out[TL_NWATER] = {
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
    for (int first = 0; first < m->cells; first += TL_LANES) {
        const int cells = m->cells - first < TL_LANES ? m->cells - first : TL_LANES;
        tl_film_block_close(&m->film, w->cell_wet_m2, cells, &w->block[first / TL_LANES],
                            &dfilm[first * TL_NFILM], w->tower_extent);
    }
    return TL_OK;
}

void tl_tower_idle(const struct tl_model *m, const struct tl_work *w, bool dried_out,
                   const double *film, double *dfilm, double *rate)
{
    const double(*nu)[TL_NCOLUMN] = m->film.table.nu;
    const double extra = dried_out ? m->setup.tower.die_off_1_d : 0;

    for (int g = 0; g < 3; g++)
        rate[g] = 0;
    for (int i = 0; i < m->cells; i++) {
        double *d = &dfilm[i * TL_NFILM];
        for (int k = 0; k < TL_NFILM; k++)
            d[k] = 0;
        for (int g = 0; g < 3; g++) {
            const double decay = (w->climate.decay[g] + extra) * film[i * TL_NFILM + g];
            for (int k = 0; k < TL_NFILM; k++)
                d[k] += nu[TL_DECAY_A + g][TL_COLUMN_FILM + k] * decay;
            rate[g] += decay;
        }
    }
}
