/* Media in air and under water, the use of nitrate where oxygen is lacking, and what is said of both. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "model_private.h"
#include "near.h"
#include "runs.h"
#include "towerloop/bed.h"
#include "towerloop/ledger.h"
#include "towerloop/status.h"

/* A run with the watch on it. */
struct watched {
    const struct tl_model *m;
    struct tl_work *work;
    struct tl_bed_watch bed;
};

static int look(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct watched *w = arg;
    return tl_bed_watch_add(&w->bed, w->m, w->work, c, t_d, y);
}

static struct tl_bed_result watch(const struct tl_setup *s, struct tl_ledger *ledger)
{
    struct watched w = {0};
    struct tl_model *m;
    assert_int_equal(tl_model_build(s, &m), TL_OK);
    w.m = m;
    assert_int_equal(tl_work_new(m, &w.work), TL_OK);
    tl_bed_watch_begin(&w.bed, m);
    struct tl_observer o = {.period_d = 5.0 / 1440, .see = look, .arg = &w};
    struct run r = whole_run(s, 0, &o, 1);
    char fault[200];
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, s->length_d, ledger);
    assert_int_equal(tl_ledger_check(ledger, fault, sizeof fault), TL_OK);
    end_run(&r);
    tl_work_free(w.work);
    tl_model_free(m);
    return w.bed.result;
}

static double booked(const struct tl_ledger_account *a, enum tl_ledger_side side, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (a->line[i].side == side && strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount;
    fail_msg("no line %s", key);
    return NAN;
}

/* The same rock under water gets no air, catches more, and its film loses the oxygen; more nitrogen leaves it
 * as gas. */
static void the_same_rock_under_water(void **state)
{
    (void)state;
    struct tl_bed_result in[2];
    struct tl_ledger ledger[2];
    for (int under = 0; under < 2; under++) {
        struct tl_setup s;
        reference_loop(&s, 30);
        s.tower.submerged = under;
        in[under] = watch(&s, &ledger[under]);
        assert_int_equal(in[under].submerged, under);
        free_loop(&s);
    }
    assert_true(in[0].least_o2.value > 6 && in[1].least_o2.value < 3);
    assert_int_equal(in[1].least_o2.tray, 16); /* where the water has passed all the others */
    assert_true(in[1].most_filled.value > 3 * in[0].most_filled.value);
    assert_int_equal(in[1].most_filled.tray, 1);
    assert_true(in[1].most_airless.value > in[0].most_airless.value + 0.1);
    assert_true(booked(&ledger[1].nitrogen, TL_LEDGER_OUT, "nitrogen_gas") >
                1.5 * booked(&ledger[0].nitrogen, TL_LEDGER_OUT, "nitrogen_gas"));
    for (int under = 0; under < 2; under++) {
        /* one eq of alkalinity a mol of nitrate */
        near_rel(booked(&ledger[under].alkalinity, TL_LEDGER_IN, "denitrification"),
                 booked(&ledger[under].nitrogen, TL_LEDGER_OUT, "nitrogen_gas") / TL_N_G_PER_MOL,
                 1e-12);
        assert_false(tl_bed_sulfide(&in[under]));
    }
}

/* A metre under water catches ten times as much, and a tenth of it comes loose. */
static void what_bed_and_water_do_to_solids(void **state)
{
    (void)state;
    const double cell_m = 0.0762;
    for (int under = 0; under < 2; under++) {
        struct tl_setup s;
        reference_loop(&s, 0);
        s.tower.submerged = under;
        struct run r = start_run(&s, 0, NULL, 0);
        near_rel(r.model->site.cell_capture, 1 - exp(-(under ? 0.5 : 0.05) * cell_m), 1e-9);
        near_rel(r.model->site.slough_per_load, under ? 0.003 : 0.03, 1e-12);
        end_run(&r);
        free_loop(&s);
    }
}

/* Water without nitrate is not foul while there is oxygen in it. */
static void clean_water_is_not_foul(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger ledger;
    reference_loop(&s, 0);
    s.length_d = 2;
    s.tower.submerged = true;
    s.source.water[TL_NO3] = s.starting.water[TL_NO3] = 0;
    const struct tl_bed_result r = watch(&s, &ledger);
    assert_false(tl_bed_sulfide(&r));
    near(r.bed.longest_h + r.chamber.longest_h, 0, 0);
    free_loop(&s);
}

/* Without nitrate's use everything is as it was before there was any. */
static void switched_off(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger ledger;
    reference_loop(&s, 30);
    s.length_d = 3;
    s.params.eta_anoxic = 0;
    watch(&s, &ledger);
    near(booked(&ledger.nitrogen, TL_LEDGER_OUT, "nitrogen_gas"), 0, 0);
    near(booked(&ledger.alkalinity, TL_LEDGER_IN, "denitrification"), 0, 0);
    free_loop(&s);
}

/* A closed bed in which oxygen is gone and organics are plenty: nitrate falls down the cells, never below
 * zero, by what turns to gas. */
static void nitrate_runs_out(void **state)
{
    (void)state;
    struct tl_setup s;
    reference_loop(&s, 0);
    s.tower.submerged = true;
    s.pump_flow_m3_d = 2;
    struct run r = start_run(&s, 0, NULL, 0);
    double *y = (double *)r.y;
    double *chamber = &y[r.at->chamber];
    struct tl_work *w;
    double *dydt = calloc(r.at->size, sizeof *dydt);
    assert_int_equal(tl_work_new(r.model, &w), TL_OK);
    chamber[TL_O2] = 0;
    chamber[TL_SS] = 300;
    chamber[TL_TAN] = 20;
    chamber[TL_NO3] = 8;
    assert_int_equal(tl_loop_rhs(r.model, w, tl_engine_controls(r.engine), 0, y, dydt), TL_OK);

    double above = 8;
    for (int i = 0; i < r.model->cells; i++) {
        assert_true(w->cell[i].out_no3 >= 0 && w->cell[i].out_no3 < above);
        above = w->cell[i].out_no3;
    }
    assert_true(above < 0.05);
    const double *extent = &dydt[r.at->extent_tower];
    const double gas = extent[TL_GROW_H_NO3] * r.model->film.table.nu[TL_GROW_H_NO3][TL_COLUMN_N2];
    near_rel(2 * (8 - above), gas - extent[TL_GROW_N] / s.params.y_nob, 1e-9);
    near_rel(2 * (w->tower_out[TL_SS] - 300),
             extent[TL_HYDROLYSE_FILM] -
                 (extent[TL_GROW_H] + extent[TL_GROW_H_NO3]) / s.params.y_het,
             1e-9);
    tl_work_free(w);
    free(dydt);
    end_run(&r);
    free_loop(&s);
}

/* With the pump off the sludge takes the chamber's oxygen, then its nitrate; hours after that it is warned of.
 * In air the standing tower is no such place, under water it is; there it has caught what would be sludge. */
static void standing_water_turns_foul(void **state)
{
    (void)state;
    for (int under = 0; under < 2; under++) {
        struct tl_setup s;
        struct tl_ledger ledger;
        reference_loop(&s, 40);
        s.length_d = 12;
        s.tower.submerged = under;
        add_event(&s, (struct tl_event){.at_d = 10, .kind = TL_EVENT_PUMP_FLOW, .value = 0});
        const struct tl_bed_result r = watch(&s, &ledger);
        assert_true(tl_bed_sulfide(&r));
        if (under) {
            near(r.bed.first_d, 10, 0.01);
            near(r.bed.longest_h, 48, 0.1);
        } else {
            assert_true(r.chamber.first_d > 10.2 && r.chamber.first_d < 11);
            near(r.chamber.longest_h, 24 * (12 - r.chamber.first_d), 0.2);
            assert_true(isnan(r.bed.first_d));
            near(r.bed.longest_h, 0, 0);
        }
        free_loop(&s);
    }
}

/* A short stop is none of it, and the next one starts anew. */
static void short_stops_do_not_add_up(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger ledger;
    reference_loop(&s, 10);
    s.length_d = 3;
    s.tower.submerged = true;
    for (int i = 0; i < 2; i++)
        add_event(&s, (struct tl_event){.at_d = 1 + 0.2 * i,
                                        .for_d = 2.5 / 24,
                                        .kind = TL_EVENT_PUMP_FLOW,
                                        .value = 0});
    const struct tl_bed_result r = watch(&s, &ledger);
    assert_false(tl_bed_sulfide(&r));
    assert_true(r.bed.longest_h > 2.3 && r.bed.longest_h <= 2.5);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_rock_under_water),
        cmocka_unit_test(what_bed_and_water_do_to_solids),
        cmocka_unit_test(clean_water_is_not_foul),
        cmocka_unit_test(switched_off),
        cmocka_unit_test(nitrate_runs_out),
        cmocka_unit_test(standing_water_turns_foul),
        cmocka_unit_test(short_stops_do_not_add_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
