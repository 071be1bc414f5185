/* The tower's trays are solved in quasi-steady state. Here the same loop runs with the trays' water as
 * a full state (hold-up 6 % of the bed) beside it, and the tank must see no difference. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "runs.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

#define HOLD_UP 0.06

struct full {
    const struct tl_model *m;
    struct tl_work *w;
    struct tl_controls c;
    bool own_switches; /* pH, alkalinity, ammonia of the tray's own water instead of what enters */
    double *h;         /* [H+] of each cell, warm starts */
};

/* What filled voids leave of a cell's wetted area and of its capture: MODEL.md, "Tower". */
static void left_by_voids(const struct tl_model *m, const double *film_g, double *area,
                          double *capture)
{
    const struct tl_params *p = &m->setup.params;
    double all_g = 0;
    for (int k = 0; k < TL_NFILM; k++)
        all_g += film_g[k];
    const double full_g = p->film_density * m->setup.tower.void_fraction *
                          m->setup.tower.plan_area_m2 * m->cell_depth_m;
    const double u = fmin(1, fmax(0, all_g / full_g - p->voids_open) / (1 - p->voids_open));
    *area = 1 - p->spread_voids * pow(u, 2);
    *capture = 1 - pow(u, 4);
}

/* The loop's own right-hand side, then the tower's part of it replaced. */
static int full_rhs(double t, const double y[], double dydt[], void *arg)
{
    struct full *f = arg;
    const struct tl_model *m = f->m;
    const struct tl_layout *at = &m->at;
    const double flow = f->c.flow_m3_d * f->c.to_tower;

    if (tl_loop_rhs(m, f->w, &f->c, t, y, dydt))
        return GSL_FAILURE;

    const struct tl_climate *cl = &f->w->climate;
    const double volume = HOLD_UP * m->setup.tower.plan_area_m2 * m->cell_depth_m;
    const double slough = m->site.slough_per_load * tl_load_m_h(m, &f->c);
    const double *in = &y[at->chamber];
    double in_h = f->w->chamber_h;
    const double o2_sat = cl->o2_sat * exp(-cl->salting_out * TL_SALINITY_PER_CHLORIDE * in[TL_CL]);
    for (int i = 0; i < m->cells; i++) {
        const double *water = &y[at->size + (size_t)(i * TL_NWATER)];
        double *dwater = &dydt[at->size + (size_t)(i * TL_NWATER)];
        const double *film_g = &y[at->cell + (size_t)(i * TL_NFILM)];
        double *dfilm = &dydt[at->cell + (size_t)(i * TL_NFILM)];
        double film[TL_NFILM];
        double rate[TL_NFILM_PROCESS];
        struct tl_film_switch sw;
        struct tl_film_water s = {water[TL_TAN], water[TL_NO2], water[TL_SS], water[TL_O2],
                                  water[TL_NO3]};

        if (tl_solve_ph(&cl->k, water[TL_ALK], water[TL_TIC], water[TL_TAN], &f->h[i]))
            return GSL_FAILURE;
        double share, capture;
        left_by_voids(m, film_g, &share, &capture);
        const double area = share * f->w->cell_wet_m2;
        for (int k = 0; k < TL_NFILM; k++)
            film[k] = film_g[k] / area;
        if (f->own_switches)
            tl_film_switch_at(&m->film, cl, f->h[i], water, &sw);
        else
            tl_film_switch_at(&m->film, cl, in_h, in, &sw);
        tl_film_rates(&m->film, cl, &sw, film, slough, &s, rate);

        double d[TL_NCOLUMN] = {0};
        for (int p = 0; p < TL_NFILM_PROCESS; p++)
            for (int k = 0; k < TL_NCOLUMN; k++)
                d[k] += area * m->film.table.nu[p][k] * rate[p];
        const double caught_s = capture * flow * m->site.cell_capture * in[TL_XS];
        const double caught_i = capture * flow * m->site.cell_capture * in[TL_XI];
        d[TL_XS] -= caught_s;
        d[TL_XI] -= caught_i;
        d[TL_COLUMN_FILM + TL_FS] += caught_s;
        d[TL_COLUMN_FILM + TL_FI] += caught_i;
        d[TL_O2] += share * f->w->cell_gas_o2 * (o2_sat - water[TL_O2]);
        d[TL_TIC] += share * f->w->cell_gas_co2 *
                     (cl->co2_sat - tl_co2_mol_m3(&cl->k, f->h[i], water[TL_TIC]));
        for (int k = 0; k < TL_NWATER; k++)
            dwater[k] = (flow * (in[k] - water[k]) + d[k]) / volume;
        for (int k = 0; k < TL_NFILM; k++)
            dfilm[k] = d[TL_COLUMN_FILM + k];
        in = water;
        in_h = f->h[i];
    }
    for (int k = 0; k < TL_NWATER; k++)
        dydt[at->tank + (size_t)k] += flow * (in[k] - f->w->tower_out[k]) / m->setup.tank.volume_m3;
    return GSL_SUCCESS;
}

struct difference {
    double tan, no2, xi, o2; /* the first three relative */
};

/* Both from the state of day 20 of a loop under load; compared every 2 h for a day without meals'
 * stops: the fish are still digesting. */
static struct difference compare(double fish_kg, bool own_switches, double density_g_m3)
{
    struct tl_setup s;
    reference_loop(&s, fish_kg);
    s.length_d = 21;
    s.params.film_density = density_g_m3;
    struct run r = start_run(&s, 1e-8, NULL, 0);
    assert_int_equal(tl_engine_advance(r.engine, 20 + 18.01 / 24), TL_OK);

    const size_t n = r.at->size + (size_t)(r.model->cells * TL_NWATER);
    double *y = calloc(n, sizeof *y);
    struct full f = {
        .m = r.model, .c = *tl_engine_controls(r.engine), .own_switches = own_switches};
    f.h = calloc((size_t)r.model->cells, sizeof *f.h);
    assert_int_equal(tl_work_new(r.model, &f.w), TL_OK);
    memcpy(y, r.y, r.at->size * sizeof *y);
    for (int i = 0; i < r.model->cells; i++) {
        f.h[i] = 1e-8;
        memcpy(&y[r.at->size + (size_t)(i * TL_NWATER)], &r.y[r.at->chamber],
               TL_NWATER * sizeof *y);
    }

    /* the running totals stay out of error control here, too */
    double *scale = malloc(n * sizeof *scale);
    tl_model_scales(r.model, scale);
    for (size_t i = r.at->size; i < n; i++)
        scale[i] = 0.1;
    gsl_odeiv2_system sys = {full_rhs, NULL, n, &f};
    gsl_odeiv2_driver *d = gsl_odeiv2_driver_alloc_scaled_new(&sys, gsl_odeiv2_step_rkf45, 1e-6,
                                                              1e-6, 1e-6, 1, 0, scale);
    double t = tl_engine_time(r.engine);
    struct difference worst = {0, 0, 0, 0};
    for (int k = 1; k <= 3; k++) {
        double until = 20 + 18.01 / 24 + k * 1.7 / 24;
        assert_int_equal(gsl_odeiv2_driver_apply(d, &t, until, y), GSL_SUCCESS);
        assert_int_equal(tl_engine_advance(r.engine, until), TL_OK);
        const double *q = &r.y[r.at->tank];
        worst.tan = fmax(worst.tan, fabs(y[r.at->tank + TL_TAN] / q[TL_TAN] - 1));
        worst.no2 = fmax(worst.no2, fabs(y[r.at->tank + TL_NO2] / q[TL_NO2] - 1));
        worst.xi = fmax(worst.xi, fabs(y[r.at->tank + TL_XI] / q[TL_XI] - 1));
        worst.o2 = fmax(worst.o2, fabs(y[r.at->tank + TL_O2] - q[TL_O2]));
    }
    print_message(
        "%g kg, %s switches, %g g/m3: TAN %.3f %%, NO2 %.3f %%, inert %.3f %%, O2 %.4f mg/L\n",
        fish_kg, own_switches ? "own" : "same", density_g_m3, 100 * worst.tan, 100 * worst.no2,
        100 * worst.xi, worst.o2);
    gsl_odeiv2_driver_free(d);
    tl_work_free(f.w);
    free(f.h);
    free(scale);
    free(y);
    end_run(&r);
    free_loop(&s);
    return worst;
}

static void quasi_steady_is_steady_enough(void **state)
{
    (void)state;
    struct difference d = compare(40, false, 30000);
    assert_true(d.tan <= 0.005);
    assert_true(d.no2 <= 0.005);
    assert_true(d.o2 <= 0.005);
    d = compare(40, true, 30000);
    assert_true(d.tan <= 0.02);
    assert_true(d.no2 <= 0.05);
}

/* The same with the voids filled by half to four fifths: less area, less air, less capture. */
static void clogged_trays_are_steady_enough(void **state)
{
    (void)state;
    struct difference d = compare(40, false, 2500);
    assert_true(d.tan <= 0.005);
    assert_true(d.no2 <= 0.005);
    assert_true(d.xi <= 0.005);
    assert_true(d.o2 <= 0.005);
}

/* First guesses are the last call's: wherever they come from, the water leaving is the same. */
static void first_guesses_do_not_matter(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 40);
    s.length_d = 20;
    struct run r = whole_run(&s, 0, NULL, 0);
    struct tl_work *w;
    double *water = &((double *)r.y)[r.at->chamber];
    double *dydt = calloc(r.at->size, sizeof *dydt);
    double out[3][TL_NWATER], h[3];
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    /* no guess at all; one from quite other water; the answer itself */
    for (int k = 0; k < 3; k++) {
        if (k == 1) {
            const double tan = water[TL_TAN];
            const double alk = water[TL_ALK];
            water[TL_TAN] *= 3;
            water[TL_ALK] *= 0.7;
            assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 20, r.y, dydt),
                             TL_OK);
            water[TL_TAN] = tan;
            water[TL_ALK] = alk;
        }
        assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 20, r.y, dydt),
                         TL_OK);
        memcpy(out[k], w->tower_out, sizeof out[k]);
        h[k] = w->tower_out_h;
    }
    for (int k = 0; k < 2; k++) {
        for (int c = 0; c < TL_NWATER; c++)
            near(out[k][c], out[2][c], 1e-6 * fabs(out[2][c]));
        near_rel(h[k], h[2], 1e-5);
    }
    tl_work_free(w);
    free(dydt);
    end_run(&r);
    free_loop(&s);
}

/* A tray 0.3 m deep is three cells: the same tower cut the other way gives the same answer. */
static void deep_trays_are_cut(void **state)
{
    (void)state;
    struct tl_setup a;
    struct tl_setup b;
    reference_loop(&a, 30);
    reference_loop(&b, 30);
    a.length_d = b.length_d = 5;
    a.tower.trays = 12;
    a.tower.media_depth_m = 0.1;
    b.tower.trays = 4;
    b.tower.media_depth_m = 0.3;
    struct run ra = whole_run(&a, 0, NULL, 0);
    struct run rb = whole_run(&b, 0, NULL, 0);
    assert_int_equal(rb.model->cells, 12);
    for (size_t i = 0; i < TL_NWATER; i++)
        near_rel(rb.y[i], ra.y[i] + (ra.y[i] == 0), ra.y[i] == 0 ? 1 : 1e-9);
    end_run(&ra);
    end_run(&rb);
    free_loop(&a);
    free_loop(&b);
}

/* Under water there is no air: oxygen falls down the tower, and less ammonia is oxidised. */
static void submerged_media_get_no_air(void **state)
{
    (void)state;
    double oxidised[2];
    for (int wet = 0; wet < 2; wet++) {
        struct tl_setup s;
        struct tl_snapshot now;
        struct tl_work *w;
        reference_loop(&s, 60);
        s.length_d = 20;
        s.tower.submerged = wet;
        struct run r = whole_run(&s, 0, NULL, 0);
        assert_int_equal(tl_work_new(r.model, &w), TL_OK);
        assert_int_equal(tl_snapshot_alloc(r.model, &now), TL_OK);
        assert_int_equal(tl_model_snapshot(r.model, w, tl_engine_controls(r.engine), 20, r.y, &now),
                         TL_OK);
        if (wet)
            assert_true(now.tray_o2[15] < now.tray_o2[0]);
        else
            assert_true(now.tray_o2[15] > now.chamber[TL_O2]);
        near(r.y[r.at->gas_o2 + TL_GAS_TOWER], wet ? 0 : r.y[r.at->gas_o2 + TL_GAS_TOWER], 0);
        oxidised[wet] = r.y[r.at->extent_tower + TL_GROW_A];
        tl_snapshot_free(&now);
        tl_work_free(w);
        end_run(&r);
        free_loop(&s);
    }
    print_message("ammonia oxidised under water: %.2f of what it is in air\n",
                  oxidised[1] / oxidised[0]);
    assert_true(oxidised[1] < oxidised[0]);
}

/* Below each tray the oxygen's deficit shrinks as below a weir, carbon dioxide leaves, and what the air
 * gave is the tower's in the ledger. */
static void falls_aerate_as_weirs(void **state)
{
    (void)state;
    double o2[2], tic[2], h[2];
    for (int on = 0; on < 2; on++) {
        struct tl_setup s;
        struct tl_work *w;
        reference_loop(&s, 60);
        s.length_d = 5;
        s.temperature.mean_degC = 18;
        s.tower.trays = 4;
        s.tower.media_depth_m = 0.15;
        s.params.fall_aeration = on;
        struct run r = start_run(&s, 0, NULL, 0);
        double *dydt = calloc(r.at->size, sizeof *dydt);
        assert_int_equal(tl_work_new(r.model, &w), TL_OK);
        assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 0, r.y, dydt),
                         TL_OK);
        const struct tl_climate *cl = &w->climate;
        const double *in = &r.y[r.at->chamber];
        const double sat =
            cl->o2_sat * exp(-cl->salting_out * TL_SALINITY_PER_CHLORIDE * in[TL_CL]);
        o2[on] = w->tower_out[TL_O2];
        tic[on] = w->tower_out[TL_TIC];
        h[on] = w->tower_out_h;
        near_rel((sat - w->cell[7].out_o2) / (sat - o2[on]),
                 tl_weir_ratio(on, s.tower.lowest_tray_m, 18), 1e-9);

        /* by balance over the tower, growth and air are all that changes oxygen and carbon */
        const double flow = 4.542 * 24;
        for (int k = 0; k < 2; k++) {
            const int component = k ? TL_TIC : TL_O2;
            double made =
                r.model->film.table.nu[TL_GROW_H_NO3][component] * w->tower_extent[TL_GROW_H_NO3];
            for (int i = TL_GROW_A; i <= TL_GROW_H; i++)
                made += r.model->film.table.nu[i][component] * w->tower_extent[i];
            near_rel(flow * (w->tower_out[component] - in[component]),
                     made + (k ? w->tower_gas_tic : w->tower_gas_o2), 1e-9);
        }
        tl_work_free(w);
        free(dydt);
        end_run(&r);
        free_loop(&s);
    }
    print_message("four trays: oxygen %.2f, with their falls %.2f mg/L\n", o2[0], o2[1]);
    assert_true(o2[1] > o2[0] + 0.05);
    assert_true(tic[1] < tic[0]);
    assert_true(h[1] < h[0]);
}

/* Media under water have no falls. */
static void submerged_media_have_no_falls(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 60);
    s.tower.submerged = true;
    s.params.fall_aeration = 1;
    struct run r = start_run(&s, 0, NULL, 0);
    assert_false(tl_model_form(r.model)->falls);
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quasi_steady_is_steady_enough),
        cmocka_unit_test(clogged_trays_are_steady_enough),
        cmocka_unit_test(first_guesses_do_not_matter),
        cmocka_unit_test(deep_trays_are_cut),
        cmocka_unit_test(submerged_media_get_no_air),
        cmocka_unit_test(falls_aerate_as_weirs),
        cmocka_unit_test(submerged_media_have_no_falls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
