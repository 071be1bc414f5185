/* Ensembles through the facade: what they give is what the handles give one by one. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "small.h"
#include "towerloop/ensemble.h"

enum { PONDS = 10, MOST_INSTANTS = 1000 };

static void read_loops(struct tl_loop *loop[PONDS])
{
    for (int i = 0; i < PONDS; i++) {
        char count[40];
        (void)snprintf(count, sizeof count, "fish[0].count=%d", 2 + 30 * i);
        const char *set[] = {count};
        assert_int_equal(tl_loop_read_text(small_text, strlen(small_text), NULL, set, 1, &loop[i]),
                         TL_OK);
    }
}

static void free_loops(struct tl_loop *loop[PONDS])
{
    for (int i = 0; i < PONDS; i++)
        tl_loop_free(loop[i]);
}

struct book {
    struct tl_ensemble_tank tank[PONDS][MOST_INSTANTS];
    size_t instants[PONDS];
};

static int note(void *arg, size_t pond, size_t instant, const struct tl_ensemble_tank *tank)
{
    struct book *b = arg;
    if (instant >= MOST_INSTANTS)
        return 1;
    b->tank[pond][instant] = *tank;
    b->instants[pond] = instant + 1;
    return 0;
}

static void ensembles_give_what_handles_give(void **state)
{
    (void)state;
    struct tl_loop *loop[PONDS];
    struct tl_ensemble *e;
    struct book *book = calloc(1, sizeof *book);
    size_t unlike = 0;

    read_loops(loop);
    assert_int_equal(tl_ensemble_new(loop, PONDS, &e), TL_OK);
    assert_int_equal(tl_ensemble_ponds(e), PONDS);
    assert_int_equal(tl_ensemble_set_rtol(e, 1e-7), TL_OK);
    tl_ensemble_set_threads(e, 2);
    assert_int_equal(tl_ensemble_watch(e, 0.25, note, book), TL_OK);
    assert_int_equal(tl_ensemble_run(e), TL_OK);
    for (size_t i = 0; i < PONDS; i++) {
        assert_int_equal(tl_loop_set_rtol(loop[i], 1e-7), TL_OK);
        assert_int_equal(tl_loop_run(loop[i]), TL_OK);
        assert_int_equal(tl_ensemble_status(e, i), TL_OK);
        assert_string_equal(tl_ensemble_verdict(e, i), tl_loop_verdict(loop[i]));
        unlike += strcmp(tl_ensemble_verdict(e, i), tl_ensemble_verdict(e, 0)) != 0;
        for (size_t k = 0; k < tl_loop_limits(); k++) {
            struct tl_loop_limit a, b;
            assert_int_equal(tl_ensemble_limit(e, i, k, &a), TL_OK);
            assert_int_equal(tl_loop_limit(loop[i], k, &b), TL_OK);
            assert_string_equal(a.name, b.name);
            assert_int_equal(a.grade, b.grade);
            near(a.hours_danger, b.hours_danger, 0.2);
            if (!isnan(b.worst))
                near(a.worst, b.worst, 1e-4 * (1 + fabs(b.worst)));
        }
        const double lost = tl_loop_fish_lost_d(loop[i]);
        if (isnan(lost))
            assert_true(isnan(tl_ensemble_fish_lost_d(e, i)) != 0);
        else
            near(tl_ensemble_fish_lost_d(e, i), lost, 1e-3);
        assert_int_equal(isnan(tl_ensemble_ready_d(e, i)) != 0,
                         isnan(tl_loop_ready_d(loop[i])) != 0);

        /* the last instant, against the handle at its end */
        assert_int_equal(book->instants[i], tl_ensemble_instants(e, i));
        const struct tl_ensemble_tank *end = &book->tank[i][book->instants[i] - 1];
        double value;
        near(end->t_d, tl_loop_end_d(loop[i]), 1e-9);
        assert_int_equal(tl_loop_value(loop[i], "tank_tan_mgN_L", &value), TL_OK);
        near(end->ammonia_gN_m3, value, 1e-4);
        assert_int_equal(tl_loop_value(loop[i], "tank_nh3_mgN_L", &value), TL_OK);
        near(end->nh3_gN_m3, value, 1e-4);
        assert_int_equal(tl_loop_value(loop[i], "tank_o2_mg_L", &value), TL_OK);
        near(end->oxygen_g_m3, value, 1e-4);
        assert_int_equal(tl_loop_value(loop[i], "tank_ph", &value), TL_OK);
        near(end->ph, value, 1e-4);
    }
    assert_true(unlike > 0);
    tl_ensemble_free(e);
    free_loops(loop);
    free(book);
}

static void the_level_used_is_said(void **state)
{
    (void)state;
    struct tl_loop *loop[PONDS];
    struct tl_ensemble *e;

    read_loops(loop);
    assert_int_equal(tl_ensemble_new(loop, PONDS, &e), TL_OK);
    assert_true(tl_ensemble_levels() >= 1);
    assert_string_equal(tl_ensemble_level_name(0), "baseline");
    for (size_t k = 0; k <= tl_ensemble_levels(); k++) {
        const char *level = k ? tl_ensemble_level_name(k - 1) : "scalar";
        assert_int_equal(tl_ensemble_set_level(e, level), TL_OK);
        assert_int_equal(tl_ensemble_run(e), TL_OK);
        for (size_t i = 0; i < PONDS; i++) {
            assert_ptr_equal(strstr(tl_ensemble_dispatch(e, i), level), tl_ensemble_dispatch(e, i));
            assert_int_equal(tl_ensemble_dispatch(e, i)[strlen(level)], ',');
        }
    }
    assert_int_equal(tl_ensemble_run(e), TL_OK);
    tl_ensemble_free(e);
    free_loops(loop);
}

static int stop(void *arg, size_t pond, size_t instant, const struct tl_ensemble_tank *tank)
{
    (void)arg;
    (void)tank;
    return pond == 1 && instant == 2 ? 5 : 0;
}

static void nothing_comes_of_nothing(void **state)
{
    (void)state;
    struct tl_loop *loop[PONDS];
    struct tl_loop *bad = NULL;
    struct tl_ensemble *e;
    struct tl_loop_limit limit;

    read_loops(loop);
    assert_int_equal(tl_ensemble_new(loop, 0, &e), TL_E_INPUT);
    assert_null(e);
    assert_int_equal(tl_loop_read_text("format: 1\n", 10, NULL, NULL, 0, &bad), TL_E_INPUT);
    assert_int_equal(tl_ensemble_new(&bad, 1, &e), TL_E_INPUT);
    tl_loop_free(bad);

    assert_int_equal(tl_ensemble_new(loop, 2, &e), TL_OK);
    assert_int_equal(tl_ensemble_set_rtol(e, 0.5), TL_E_INPUT);
    assert_int_equal(tl_ensemble_set_level(e, "avx1024"), TL_E_INPUT);
    assert_int_equal(tl_ensemble_watch(e, 0, stop, NULL), TL_E_INPUT);
    assert_null(tl_ensemble_level_name(99));
    for (int turn = 0; turn < 2; turn++) { /* before a run, and after one that was stopped */
        assert_int_equal(tl_ensemble_status(e, 0), TL_E_INPUT);
        assert_null(tl_ensemble_verdict(e, 0));
        assert_null(tl_ensemble_dispatch(e, 0));
        assert_int_equal(tl_ensemble_limit(e, 0, 0, &limit), TL_E_INPUT);
        assert_true(isnan(tl_ensemble_fish_lost_d(e, 0)) && isnan(tl_ensemble_ready_d(e, 0)));
        assert_int_equal(tl_ensemble_watch(e, 0.1, stop, NULL), TL_OK);
        assert_int_equal(tl_ensemble_run(e), 5);
    }
    assert_int_equal(tl_ensemble_watch(e, 0, NULL, NULL), TL_OK);
    assert_int_equal(tl_ensemble_instants(e, 0), 0);
    assert_int_equal(tl_ensemble_run(e), TL_OK);
    assert_non_null(tl_ensemble_verdict(e, 1));
    assert_null(tl_ensemble_verdict(e, 2));
    tl_ensemble_free(e);
    tl_ensemble_free(NULL);
    free_loops(loop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ensembles_give_what_handles_give),
        cmocka_unit_test(the_level_used_is_said),
        cmocka_unit_test(nothing_comes_of_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
