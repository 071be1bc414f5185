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
 * tolerance of the iteration. */
#include <math.h>

#include "model_private.h"
#include "towerloop/status.h"

enum { S_TAN, S_NO2, S_SS, S_O2, NSUB };
static const int substrate[NSUB] = {TL_TAN, TL_NO2, TL_SS, TL_O2};

/* Newton steps below this (g/m3) end the iteration; convergence is quadratic. */
#define STEP_SMALL     1e-5
#define MAX_ITERATIONS 60

static struct tl_film_water as_water(const double *s)
{
    return (struct tl_film_water){s[S_TAN], s[S_NO2], s[S_SS], s[S_O2]};
}

/* Solve a x = b (3 x 3) with row pivoting; 0 or -1 when singular. */
static int solve3(double a[3][3], double *b, double *x)
{
    for (int k = 0; k < 3; k++) {
        int pivot = k;
        for (int i = k + 1; i < 3; i++)
            if (fabs(a[i][k]) > fabs(a[pivot][k]))
                pivot = i;
        if (!(fabs(a[pivot][k]) > 0))
            return -1;
        if (pivot != k) {
            for (int j = k; j < 3; j++) {
                double swap = a[k][j];
                a[k][j] = a[pivot][j];
                a[pivot][j] = swap;
            }
            double swap = b[k];
            b[k] = b[pivot];
            b[pivot] = swap;
        }
        for (int i = k + 1; i < 3; i++) {
            double factor = a[i][k] / a[k][k];
            for (int j = k; j < 3; j++)
                a[i][j] -= factor * a[k][j];
            b[i] -= factor * b[k];
        }
    }
    for (int i = 2; i >= 0; i--) {
        double sum = b[i];
        for (int j = i + 1; j < 3; j++)
            sum -= a[i][j] * x[j];
        x[i] = sum / a[i][i];
    }
    return 0;
}

/* Growth rates and substrates of one cell. `s` holds the first guess and gets the answer. */
static int solve_substrates(const struct tl_film_model *f, const double *growth_max,
                            const double *s0, double n[NSUB][3], double *s, double *growth)
{
    for (int iteration = 0; iteration < MAX_ITERATIONS; iteration++) {
        double d[3][4];
        struct tl_film_water w = as_water(s);
        tl_film_growth(f, growth_max, &w, growth, d);

        /* growth = f(s) + D (s_new - s), s_new = s0 + N growth */
        double a[3][3];
        double b[3];
        double g[3];
        for (int i = 0; i < 3; i++) {
            b[i] = growth[i];
            for (int k = 0; k < NSUB; k++)
                b[i] += d[i][k] * (s0[k] - s[k]);
            for (int j = 0; j < 3; j++) {
                a[i][j] = i == j;
                for (int k = 0; k < NSUB; k++)
                    a[i][j] -= d[i][k] * n[k][j];
            }
        }
        if (solve3(a, b, g))
            return TL_E_SOLVER;

        bool small = true;
        for (int k = 0; k < NSUB; k++) {
            double next = s0[k] + n[k][0] * g[0] + n[k][1] * g[1] + n[k][2] * g[2];
            if (!isfinite(next))
                return TL_E_SOLVER;
            /* do not jump over zero, where the rates have their kink */
            if (next < 0 && s[k] > 1e-9)
                next = 0.2 * s[k];
            small = small && fabs(next - s[k]) <= STEP_SMALL * (1 + fabs(next));
            s[k] = next;
        }
        if (small) {
            w = as_water(s);
            tl_film_growth(f, growth_max, &w, growth, NULL);
            return TL_OK;
        }
    }
    return TL_E_SOLVER;
}

/* [H+] of water whose inorganic carbon leaves by the air: W(H) = TIC + gas CO2 = target, where the
 * alkalinity gives TIC and CO2 as functions of H. Concentrations in mol/L, gas = g/Qt. W rises with
 * H; Newton from the last solution, bisection (geometric) as safeguard. */
static int solve_stripped_h(const struct tl_carbonate *k, double alk, double tan, double gas,
                            double target, double *h_inout)
{
    double lo = 1e-14;
    double hi = 1;
    double h = *h_inout;
    const double k12 = k->k1 * k->k2;

    if (!isfinite(alk) || !isfinite(tan) || !isfinite(target))
        return TL_E_SOLVER;
    if (tan < 0)
        tan = 0;
    for (int iteration = 0; iteration < 100; iteration++) {
        const double nh3 = tan * k->ka / (k->ka + h);
        const double carbonate = alk - k->kw / h + h - nh3;
        const double dcarbonate = k->kw / (h * h) + 1 + nh3 / (k->ka + h);
        const double num = h * h * (1 + gas) + k->k1 * h + k12;
        const double dnum = 2 * h * (1 + gas) + k->k1;
        const double den = k->k1 * h + 2 * k12;
        const double ratio = num / den;
        const double residual = carbonate * ratio - target;
        const double slope = dcarbonate * ratio + carbonate * (dnum - ratio * k->k1) / den;

        /* quadratic convergence: a step this small leaves an error near 1e-12 */
        const double step = residual / slope;
        if (fabs(step) <= 1e-6 * h) {
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

/* One cell: `water` is what enters and becomes what leaves; *h likewise. */
static int cross_cell(const struct tl_model *m, struct tl_work *w, struct tl_cell_state *cell,
                      double flow, double slough, double o2_sat, const double *film_g,
                      double *dfilm_g, double *water, double *h)
{
    const struct tl_film_model *f = &m->film;
    const double(*nu)[TL_NCOLUMN] = f->table.nu;
    const double area = w->cell_wet_m2;
    const double per_flow = area / flow;
    const double gas_o2 = w->cell_gas_o2 / flow;
    const double gas_co2 = w->cell_gas_co2 / flow;
    double *rate = cell->rate;
    double film[TL_NFILM];
    double growth_max[3];
    struct tl_film_switch sw;

    for (int i = 0; i < TL_NFILM; i++)
        film[i] = film_g[i] / area;
    tl_film_switch_at(f, &w->climate, *h, water, &sw);
    tl_film_prepare(f, &w->climate, &sw, film, slough, growth_max, rate);

    /* the water if nothing grew, and what growth does to it; the air damps oxygen */
    double s0[NSUB];
    double n[NSUB][3];
    for (int k = 0; k < NSUB; k++) {
        const int c = substrate[k];
        double source = 0;
        for (int p = TL_DECAY_A; p <= TL_HYDROLYSE_FILM; p++)
            source += nu[p][c] * rate[p];
        s0[k] = water[c] + per_flow * source;
        for (int g = 0; g < 3; g++)
            n[k][g] = per_flow * nu[TL_GROW_A + g][c];
    }
    const double damp = 1 / (1 + gas_o2);
    s0[S_O2] = (s0[S_O2] + gas_o2 * o2_sat) * damp;
    for (int g = 0; g < 3; g++)
        n[S_O2][g] *= damp;

    double s[NSUB] = {cell->s.tan, cell->s.no2, cell->s.ss, cell->s.o2};
    if (!isfinite(s[S_TAN] + s[S_NO2] + s[S_SS] + s[S_O2]))
        for (int k = 0; k < NSUB; k++)
            s[k] = s0[k];
    int status = solve_substrates(f, growth_max, s0, n, s, &rate[TL_GROW_A]);
    if (status) {
        cell->s.tan = NAN; /* the next try starts afresh */
        return status;
    }
    cell->s = as_water(s);

    /* outflow by balance, with the rates used; TL_SS comes before solids, chloride is unchanged */
    double source[TL_NWATER] = {0};
    for (int p = 0; p < TL_NFILM_PROCESS; p++)
        for (int c = 0; c < TL_CL; c++)
            source[c] += nu[p][c] * rate[p];
    const double captured_s = m->cell_capture * water[TL_XS];
    const double captured_i = m->cell_capture * water[TL_XI];
    const double o2_gas = gas_o2 * (o2_sat - s[S_O2]);
    const double tic_in = water[TL_TIC];
    for (int c = 0; c < TL_CL; c++)
        water[c] += per_flow * source[c];
    water[TL_O2] += o2_gas;
    water[TL_XS] -= captured_s;
    water[TL_XI] -= captured_i;

    /* carbon dioxide leaves: [H+] from what remains */
    const double target = tic_in + per_flow * source[TL_TIC] + gas_co2 * w->climate.co2_sat;
    if (!(cell->h > 0))
        cell->h = *h;
    status =
        solve_stripped_h(&w->climate.k, water[TL_ALK] * 1e-3, water[TL_TAN] / TL_N_G_PER_MOL * 1e-3,
                         gas_co2, target * 1e-3, &cell->h);
    if (status) {
        cell->h = NAN;
        return status;
    }
    *h = cell->h;
    /* (1 + gas x) TIC = target, x the share of CO2: then the flux, and the outflow by balance */
    const double tic = target / (1 + gas_co2 * tl_co2_mol_m3(&w->climate.k, *h, 1));
    const double co2_gas = gas_co2 * (w->climate.co2_sat - tl_co2_mol_m3(&w->climate.k, *h, tic));
    water[TL_TIC] += co2_gas;
    cell->out_o2 = water[TL_O2];
    cell->out_tan = water[TL_TAN];

    /* the film */
    for (int i = 0; i < TL_NFILM; i++) {
        double sum = 0;
        for (int p = 0; p < TL_NFILM_PROCESS; p++)
            sum += nu[p][TL_COLUMN_FILM + i] * rate[p];
        dfilm_g[i] = area * sum;
    }
    dfilm_g[TL_FS] += flow * captured_s;
    dfilm_g[TL_FI] += flow * captured_i;

    /* running totals */
    for (int p = 0; p < TL_NFILM_PROCESS; p++)
        w->tower_extent[p] += area * rate[p];
    w->tower_extent[TL_NFILM_PROCESS] += flow * captured_s;
    w->tower_extent[TL_NFILM_PROCESS + 1] += flow * captured_i;
    w->tower_gas_o2 += flow * o2_gas;
    w->tower_gas_tic += flow * co2_gas;
    return TL_OK;
}

int tl_tower_pass(const struct tl_model *m, struct tl_work *w, double tower_flow_m3_d,
                  const double *chamber, double chamber_h, double o2_sat, const double *film,
                  double *dfilm)
{
    const double load_m_h = tower_flow_m3_d / 24 / m->setup.tower.plan_area_m2;
    const double slough = m->setup.params.k_slough_tray * load_m_h;
    double h = chamber_h;

    for (int c = 0; c < TL_NWATER; c++)
        w->tower_out[c] = chamber[c];
    for (int p = 0; p < TL_NTOWER_EXTENT; p++)
        w->tower_extent[p] = 0;
    w->tower_gas_o2 = 0;
    w->tower_gas_tic = 0;
    for (int i = 0; i < m->cells; i++) {
        int status = cross_cell(m, w, &w->cell[i], tower_flow_m3_d, slough, o2_sat,
                                &film[i * TL_NFILM], &dfilm[i * TL_NFILM], w->tower_out, &h);
        if (status) {
            w->fault_tray = i / m->cells_per_tray + 1;
            return status;
        }
    }
    w->tower_out_h = h;
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
