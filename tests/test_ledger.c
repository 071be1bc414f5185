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
        const struct tl_ledger_account *const account[] = {&l.nitrogen, &l.oxygen, &l.alkalinity};
        for (size_t k = 0; k < 3; k++) {
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

static void ledger_notices(void **state)
{
    (void)state;
    static const struct {
        size_t offset;
        const char *word;
    } touch[] = {{TL_TAN, "nitrogen"}, {TL_O2, "oxygen"}, {TL_ALK, "alkalinity"}};
    struct tl_setup s;
    struct tl_ledger l;
    char fault[200] = "";
    reference_loop(&s, 20);
    s.length_d = 5;
    struct run r = whole_run(&s, 0, NULL, 0);
    double *y = malloc(r.at->size * sizeof *y);
    for (size_t i = 0; i < 3; i++) {
        memcpy(y, r.y, r.at->size * sizeof *y);
        y[r.at->tank + touch[i].offset] += 1e-3;
        tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), y, 5, &l);
        assert_int_equal(tl_ledger_check(&l, fault, sizeof fault), TL_E_LEDGER);
        assert_non_null(strstr(fault, touch[i].word));
    }
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
        cmocka_unit_test(ledger_notices),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
