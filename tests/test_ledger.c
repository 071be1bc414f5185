/* The ledgers close through every kind of event, from the printed lines alone, and notice tampering. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "runs.h"
#include "towerloop/ledger.h"
#include "towerloop/status.h"

#define ACCOUNTS 5

static void accounts_of(const struct tl_ledger *l, const struct tl_ledger_account *a[ACCOUNTS])
{
    a[0] = &l->nitrogen;
    a[1] = &l->oxygen;
    a[2] = &l->alkalinity;
    a[3] = &l->carbon;
    a[4] = &l->charge;
}

static double amount_of(const struct tl_ledger_account *a, enum tl_ledger_side side,
                        const char *key)
{
    for (size_t k = 0; k < a->lines; k++)
        if (a->line[k].side == side && strcmp(a->line[k].key, key) == 0)
            return a->line[k].amount;
    fail_msg("no line %s in the ledger of %s", key, a->name);
    return NAN;
}

static double sum_of_lines(const struct tl_ledger_account *a)
{
    double sum = 0;
    for (size_t k = 0; k < a->lines; k++) {
        if (a->line[k].side == TL_LEDGER_IN)
            sum += a->line[k].amount;
        else if (a->line[k].side != TL_LEDGER_NOTE)
            sum -= a->line[k].amount;
    }
    return sum;
}

static void ledgers_close(void **state)
{
    (void)state;
    static const double rtol[] = {1e-3, 1e-5, 1e-7};
    for (size_t i = 0; i < 3; i++) {
        struct tl_setup s;
        struct tl_ledger l;
        char fault[200] = "";
        eventful_loop(&s);
        struct run r = whole_run(&s, rtol[i], NULL, 0);
        tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, s.length_d, &l);
        if (tl_ledger_check(&l, fault, sizeof fault))
            fail_msg("%s", fault);
        const struct tl_ledger_account *account[ACCOUNTS];
        accounts_of(&l, account);
        for (size_t k = 0; k < ACCOUNTS; k++) {
            print_message("rtol %g: %s %.2g\n", rtol[i], account[k]->name,
                          account[k]->residual_rel);
            /* closes by construction, far below the limit, whatever the solver's tolerance */
            near(account[k]->residual_rel, 0, 1e-9);
            near(sum_of_lines(account[k]), 0, 1e-8 * account[k]->throughput);
        }
        end_run(&r);
        free_loop(&s);
    }
}

/* The books of a loop without life can be drawn up by hand. */
static void lines_are_what_they_say(void **state)
{
    (void)state;
    const double soda = 840.07;
    const double ammonium = 120;
    const double n = 0.2619 * ammonium;
    struct tl_setup s;
    struct tl_ledger l;
    dead_loop(&s);
    s.length_d = 2;
    s.trickle_1_d = 0;
    s.starting.water[TL_SS] = 3;
    s.starting.water[TL_HOCL] = 1;
    s.source.chloramine = true;
    s.params.k_chloramine_demand = 50; /* all gone at the end */
    add_event(&s, (struct tl_event){.at_d = 1, .kind = TL_EVENT_DOSE, .value = soda});
    add_event(&s, (struct tl_event){.at_d = 1,
                                    .kind = TL_EVENT_DOSE,
                                    .dose = TL_DOSE_AMMONIUM_CHLORIDE,
                                    .value = ammonium});
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_CLEAN_CHAMBER});
    struct run r = whole_run(&s, 1e-8, NULL, 0);
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, 2, &l);

    const double *tank = &r.y[r.at->tank];
    const double alk = 4.5 + 10 / 12.8;
    const double chlorine_n = 0.1975 * 12.8;
    near_rel(amount_of(&l.charge, TL_LEDGER_IN, "doses"), n / 14.007 - 10, 1e-9);
    near_rel(amount_of(&l.charge, TL_LEDGER_IN, "chloramine"), chlorine_n / 14.007, 1e-6);
    near_rel(amount_of(&l.charge, TL_LEDGER_IN, "source_water"), -0.8 * (4.5 + 2 / 14.007), 1e-9);
    near_rel(amount_of(&l.charge, TL_LEDGER_OUT, "water"),
             0.8 * ((n + chlorine_n) / 12.8 / 14.007 - 2 / 14.007 - alk), 1e-6);
    near_rel(amount_of(&l.carbon, TL_LEDGER_IN, "doses"), 10, 1e-9);
    near_rel(amount_of(&l.carbon, TL_LEDGER_IN, "source_water"), r.y[r.at->source_in + TL_TIC],
             1e-9);
    near_rel(amount_of(&l.carbon, TL_LEDGER_OUT, "water"),
             r.y[r.at->water_out + TL_TIC] + 0.8 * 3 / 32, 1e-6);
    near_rel(amount_of(&l.carbon, TL_LEDGER_STORED, "water"),
             12 * tank[TL_TIC] + 0.8 * r.y[r.at->chamber + TL_TIC] -
                 12.8 * tl_engine_start_state(r.engine)[r.at->tank + TL_TIC] - 0.8 * 3 / 32,
             1e-6);
    near(amount_of(&l.carbon, TL_LEDGER_STORED, "films"), 0, 1e-12);
    end_run(&r);
    free_loop(&s);
}

/* Feed of known make-up: what it brings in carbon, and what fish breathe out. */
static void carbon_of_fish(void **state)
{
    (void)state;
    struct tl_setup s;
    struct tl_ledger l;
    reference_loop(&s, 20);
    s.length_d = 3;
    s.feeding.uneaten = 0.1;
    struct run r = whole_run(&s, 0, NULL, 0);
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, 3, &l);
    const double *total = &r.y[r.at->fish_total];
    near_rel(total[TL_UNEATEN_G], 60, 1e-9);
    near_rel(amount_of(&l.carbon, TL_LEDGER_IN, "feed"),
             (0.42 * total[TL_ABSORBED_G] + 1.3 * 60) / 32, 1e-9);
    near_rel(amount_of(&l.carbon, TL_LEDGER_IN, "fish"), 0.95 / 32 * total[TL_FISH_O2_G], 1e-9);
    assert_true(amount_of(&l.carbon, TL_LEDGER_OUT, "tower") > 0);
    end_run(&r);
    free_loop(&s);
}

static void ledger_notices(void **state)
{
    (void)state;
    /* where 1e-3 is added at the end of the run, and the account that says so; ammonia and
     * alkalinity in step leave the charge alone, but not the others */
    static const struct {
        size_t offset;
        const char *word;
    } touch[] = {{TL_TAN, "nitrogen"},
                 {TL_O2, "oxygen"},
                 {TL_ALK, "alkalinity"},
                 {TL_TIC, "carbon"},
                 {TL_XI, "nitrogen"}};
    struct tl_setup s;
    struct tl_ledger l;
    char fault[200] = "";
    reference_loop(&s, 20);
    s.length_d = 5;
    struct run r = whole_run(&s, 0, NULL, 0);
    double *y = malloc(r.at->size * sizeof *y);
    for (size_t i = 0; i < sizeof touch / sizeof touch[0]; i++) {
        memcpy(y, r.y, r.at->size * sizeof *y);
        y[r.at->tank + touch[i].offset] += 1e-3;
        tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), y, 5, &l);
        assert_int_equal(tl_ledger_check(&l, fault, sizeof fault), TL_E_LEDGER);
        assert_non_null(strstr(fault, touch[i].word));
    }
    /* a process that moved alkalinity as the table does not say: booked, it closes its own account,
     * and the charge tells */
    memcpy(y, r.y, r.at->size * sizeof *y);
    y[r.at->dosed + TL_TAN] += 1;
    y[r.at->tank + TL_TAN] += 1 / s.tank.volume_m3;
    y[r.at->dosed + TL_ALK] += 0.01;
    y[r.at->tank + TL_ALK] += 0.01 / s.tank.volume_m3;
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), y, 5, &l);
    assert_int_equal(tl_ledger_check(&l, fault, sizeof fault), TL_OK);
    y[r.at->extent_tower + TL_DECAY_H] += 1; /* frees nitrogen and alkalinity into the water */
    y[r.at->cell + TL_FH] -= 1;
    y[r.at->cell + TL_FS] += 0.92;
    y[r.at->cell + TL_FI] += 0.08;
    y[r.at->tank + TL_TAN] += (0.086 - 0.03) / s.tank.volume_m3;
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), y, 5, &l);
    assert_true(fabs(l.nitrogen.residual_rel) < TL_LEDGER_TOLERANCE);
    assert_true(fabs(l.charge.residual_rel) > TL_LEDGER_TOLERANCE);

    memcpy(y, r.y, r.at->size * sizeof *y);
    y[r.at->cell] = NAN;
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), y, 5, &l);
    assert_int_equal(tl_ledger_check(&l, fault, sizeof fault), TL_E_LEDGER);
    assert_non_null(strstr(fault, "films"));
    free(y);
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ledgers_close),
        cmocka_unit_test(lines_are_what_they_say),
        cmocka_unit_test(carbon_of_fish),
        cmocka_unit_test(ledger_notices),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
