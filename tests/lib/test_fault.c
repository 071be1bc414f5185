/* Runs that the solver cannot finish, with GSL's own error handler in place: it aborts, so it must
 * never be reached. The right-hand side is spoiled by linking with --wrap. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loop.h"
#include "small.h"
#include "towerloop/towerloop.h"

enum spoil { UNSPOILED, REFUSED, NOT_A_NUMBER, INFINITE, WILD, HUGE_JUMP };
static enum spoil spoil;
static double from_d;
static unsigned calls;

int __real_tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y, double *dydt);
int __wrap_tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y, double *dydt);

int __wrap_tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y, double *dydt)
{
    const int status = __real_tl_loop_rhs(m, w, c, t_d, y, dydt);
    calls++;
    if (t_d < from_d)
        return status;
    switch (spoil) {
    case UNSPOILED:
        break;
    case REFUSED:
        return TL_E_SOLVER;
    case NOT_A_NUMBER:
        dydt[TL_NO2] = NAN;
        break;
    case INFINITE:
        dydt[TL_O2] = INFINITY;
        break;
    case WILD: /* no step is short enough for this */
        dydt[TL_TAN] = calls % 2 ? 1e300 : -1e300;
        break;
    case HUGE_JUMP:
        dydt[TL_TAN] = calls % 3 ? 0 : 1e9;
        break;
    }
    return status;
}

static void runs_end_with_a_reason(void **state)
{
    (void)state;
    static const struct {
        enum spoil spoil;
        double from_d;
        const char *fault;
    } row[] = {
        {REFUSED, 0, "at day 0.2500"},
        {REFUSED, 1.5, "at day 1.5"},
        {NOT_A_NUMBER, 0, "not a number at day 0.2500: nitrite"},
        {NOT_A_NUMBER, 2, "nitrite"},
        {INFINITE, 0, "oxygen"},
        {INFINITE, 1.7, "oxygen"},
        {WILD, 0, "day 0.2500"},
        {WILD, 1.1, "day 1.1"},
        {HUGE_JUMP, 1, "day 1.0"},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct tl_loop *l = NULL;
        double v = 0;
        spoil = row[i].spoil;
        from_d = row[i].from_d;
        assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), NULL, NULL, 0, &l),
                         TL_OK);
        assert_int_equal(tl_loop_run(l), TL_E_SOLVER);
        print_message("%s\n", tl_loop_fault(l));
        assert_non_null(strstr(tl_loop_fault(l), row[i].fault));
        assert_null(tl_loop_verdict(l));
        assert_null(tl_loop_summary(l));
        assert_int_equal(tl_loop_rows(l) > 0, row[i].from_d > 0);
        assert_int_equal(tl_loop_run(l), TL_E_SOLVER); /* it stays that way */
        (void)tl_loop_value(l, "tank_tan_mgN_L", &v);  /* whatever it says, it comes back */
        tl_loop_free(l);
    }
    /* and the next run is none the worse */
    struct tl_loop *l = NULL;
    spoil = UNSPOILED;
    assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), NULL, NULL, 0, &l), TL_OK);
    assert_int_equal(tl_loop_run(l), TL_OK);
    tl_loop_free(l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(runs_end_with_a_reason)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
