/* Pumps: the operating point against answers in closed form, how it must move, what fouling, failures
 * and cleanings make of the flow, and that the ledgers close through all of it. Published values of the
 * pipe are in tests/outside. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "loops.h"
#include "near.h"
#include "runs.h"
#include "towerloop/ledger.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"

#define POINTS 4

/* Falls from 9 m3/h without head to nothing at 5.5 m. */
static void give_curve(struct tl_setup *s)
{
    static const double head[POINTS] = {0, 1.8, 3.7, 5.5};
    static const double flow_m3_h[POINTS] = {9, 7.3, 4.9, 0};
    s->pump.curve.x = calloc(POINTS, sizeof(double));
    s->pump.curve.y = calloc(POINTS, sizeof(double));
    assert_true(s->pump.curve.x && s->pump.curve.y);
    for (s->pump.curve.n = 0; s->pump.curve.n < POINTS; s->pump.curve.n++) {
        s->pump.curve.x[s->pump.curve.n] = head[s->pump.curve.n];
        s->pump.curve.y[s->pump.curve.n] = 24 * flow_m3_h[s->pump.curve.n];
    }
    s->pump.head_m = 2.8;
    s->pump.pipe.length_m = 6;
    s->pump.pipe.diameter_m = 0.04;
    s->pump.pipe.fittings = 5;
}

static struct tl_duty duty_of(const struct tl_setup *s, double pumps)
{
    struct tl_duty d;
    assert_int_equal(tl_pump_duty(s, pumps, &d), TL_OK);
    return d;
}

static double flow_of(const struct tl_setup *s, double pumps)
{
    return duty_of(s, pumps).flow_m3_d;
}

/* --- the operating point -------------------------------------------------------------------- */

/* A straight line Q = Q0 (1 - H/H0) against H = h + K v^2/2g is a quadratic equation in Q. */
static void a_straight_line_meets_a_parabola(void **state)
{
    struct tl_setup s;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    s.pump.curve.n = 2;
    s.pump.curve.x[1] = 4;
    s.pump.curve.y[1] = 0;
    s.pump.pipe.length_m = 0;
    for (double n = 1; n <= 3; n++)
        for (double lift = 0; lift < 4; lift += 0.5) {
            const double area = M_PI / 4 * 0.04 * 0.04;
            const double k = 5 / (2 * TL_GRAVITY_M_S2) / pow(area * 86400, 2);
            /* a Q^2 + Q = c */
            const double a = n * 216 / 4 * k;
            const double c = n * 216 * (1 - lift / 4);
            s.pump.head_m = lift;
            near(flow_of(&s, n), (sqrt(1 + 4 * a * c) - 1) / (2 * a), 1e-9 * c);
        }
    free_loop(&s);
}

/* Without a pipe the flow is that of the curve, and the curve goes through its points. */
static void the_curve_goes_through_its_points(void **state)
{
    struct tl_setup s;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    s.pump.pipe.length_m = NAN;
    for (size_t i = 0; i < POINTS; i++) {
        s.pump.head_m = s.pump.curve.x[i];
        near(flow_of(&s, 1), s.pump.curve.y[i], 1e-9);
        near(flow_of(&s, 3), 3 * s.pump.curve.y[i], 1e-9);
    }
    s.pump.head_m = 7; /* more than it lifts */
    near(flow_of(&s, 2), 0, 0);
    free_loop(&s);
}

static void the_answer_lies_on_both_curves(void **state)
{
    struct tl_setup s;
    struct tl_setup bare;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    const struct tl_duty d = duty_of(&s, 2);
    near(d.head_m, 2.8 + tl_pipe_loss_m(&s.pump.pipe, d.flow_m3_d, TL_PIPE_WATER_DEGC), 1e-9);
    near(d.head_m, d.lift_m + d.friction_m, 1e-12);
    near(d.velocity_m_s, d.flow_m3_d / 86400 / (M_PI / 4 * 0.04 * 0.04), 1e-9);
    dead_loop(&bare);
    give_curve(&bare);
    bare.pump.pipe.length_m = NAN;
    bare.pump.head_m = d.head_m;
    near(flow_of(&bare, 2), d.flow_m3_d, 1e-6);
    free_loop(&s);
    free_loop(&bare);
}

/* The lift is that of the tower unless the setup says another. */
static void the_lift_follows_the_tower(void **state)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    s.pump.head_m = NAN;
    near(duty_of(&s, 1).lift_m, 0.3 + 16 * (0.0762 + 0.1), 1e-12);
    const double low = flow_of(&s, 1);
    s.tower.trays = 20;
    assert_true(flow_of(&s, 1) < low);
    s.pump_flow_m3_d = 12345; /* of no account */
    assert_int_equal(tl_model_build(&s, &m), TL_OK);
    near(tl_model_setup(m)->pump_flow_m3_d, flow_of(&s, 1), 0);
    tl_model_free(m);
    free_loop(&s);
}

static void beyond_the_curve_its_end_holds(void **state)
{
    struct tl_setup s;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    s.pump.curve.x[0] = 1;
    s.pump.head_m = 0.2;
    s.pump.pipe.diameter_m = 0.2;
    assert_true(duty_of(&s, 1).beyond);
    near(flow_of(&s, 1), s.pump.curve.y[0], 1e-9);
    s.pump.head_m = 2.8;
    assert_false(duty_of(&s, 1).beyond);
    free_loop(&s);
}

/* --- how it moves --------------------------------------------------------------------------- */

/* The flow falls with the head, with a longer, narrower or rougher pipe; and n pumps move more than
 * one, but no more than n-fold, which is reached without friction. */
static void flow_falls_with_head_and_friction(void **state)
{
    static const double diameter[] = {0.02, 0.03, 0.05, 0.1};
    struct tl_setup s;
    (void)state;
    dead_loop(&s);
    give_curve(&s);
    for (size_t d = 0; d < sizeof diameter / sizeof *diameter; d++)
        for (double length = 1; length < 100; length *= 3) {
            double before = INFINITY;
            s.pump.pipe.diameter_m = diameter[d];
            for (double lift = 0; lift < 5.4; lift += 0.1) {
                s.pump.head_m = lift;
                s.pump.pipe.length_m = length;
                const double one = flow_of(&s, 1);
                assert_true(one < before && one > 0);
                before = one;
                for (int n = 2; n <= TL_MOST_PUMPS; n++) {
                    const double many = flow_of(&s, n);
                    assert_true(many > flow_of(&s, n - 1) * (1 + 1e-12));
                    assert_true(many < n * one * (1 - 1e-12));
                }
                s.pump.pipe.length_m = 1.1 * length;
                assert_true(flow_of(&s, 1) < one);
                s.pump.pipe.length_m = length;
                s.pump.pipe.roughness_m = 1e-3;
                assert_true(flow_of(&s, 1) <= one * (1 + 1e-9)); /* laminar flow does not feel it */
                if (duty_of(&s, 1).velocity_m_s * diameter[d] > 0.01)
                    assert_true(flow_of(&s, 1) < one);
                s.pump.pipe.roughness_m = TL_PIPE_SMOOTH_M;
                s.pump.pipe.length_m = NAN;
                near(flow_of(&s, 7), 7 * flow_of(&s, 1), 1e-9);
            }
        }
    free_loop(&s);
}

/* The head lost never falls as the flow rises, not even where the flow becomes turbulent. */
static void friction_rises_with_the_flow(void **state)
{
    const struct tl_pipe rough = {10, 0.04, 1e-3, 0};
    const struct tl_pipe smooth = {10, 0.04, 0, 0};
    double before[2] = {0, 0};
    (void)state;
    near(tl_pipe_loss_m(&smooth, 0, 20), 0, 0);
    for (double flow = 0.01; flow < 500; flow *= 1.01) {
        const double loss[2] = {tl_pipe_loss_m(&smooth, flow, 20),
                                tl_pipe_loss_m(&rough, flow, 20)};
        assert_true(loss[0] > before[0] && loss[1] > before[1] && loss[1] >= loss[0]);
        before[0] = loss[0];
        before[1] = loss[1];
    }
    /* no jump at the ends of the straight line */
    near(tl_friction_factor(2000 - 1e-6, 0), tl_friction_factor(2000 + 1e-6, 0), 1e-9);
    near(tl_friction_factor(4000 - 1e-6, 0.01), tl_friction_factor(4000 + 1e-6, 0.01), 1e-9);
    near(tl_friction_factor(0, 0), 0, 0);
}

static void unsound_pumps_are_refused(void **state)
{
    struct tl_model *m = NULL;
    (void)state;
    for (int fault = 0; fault < 8; fault++) {
        struct tl_setup s;
        dead_loop(&s);
        give_curve(&s);
        s.pump.count = fault == 0 ? 0 : fault == 1 ? TL_MOST_PUMPS + 1 : 1;
        s.pump.fouling_1_d = fault == 2 ? -0.1 : 0;
        if (fault == 3)
            s.pump.curve.y[3] = 1; /* does not end */
        if (fault == 4)
            s.pump.curve.y[1] = s.pump.curve.y[0];
        if (fault == 5)
            s.pump.curve.x[1] = s.pump.curve.x[2];
        if (fault == 6)
            s.pump.curve.n = 1;
        if (fault == 7)
            s.pump.pipe.diameter_m = 0;
        assert_false(tl_pump_valid(&s.pump));
        assert_int_equal(tl_model_build(&s, &m), TL_E_INPUT);
        free_loop(&s);
    }
}

/* --- the plan ------------------------------------------------------------------------------- */

#define SAMPLES 400

struct course {
    double t_d[SAMPLES], flow[SAMPLES];
    size_t n;
};

static int look(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct course *k = arg;
    (void)y;
    assert_true(k->n < SAMPLES);
    k->t_d[k->n] = t_d;
    k->flow[k->n++] = c->flow_m3_d;
    return TL_OK;
}

/* The flow in the course of a run, a sample every two hours; ends the loop. */
static struct course course_of(struct tl_setup *s)
{
    struct course k = {.n = 0};
    const struct tl_observer o = {.period_d = 1.0 / 12, .see = look, .arg = &k};
    struct run r = whole_run(s, 0, &o, 1);
    near(tl_model_last_flow_m3_d(r.model), k.flow[k.n - 1], 0);
    double least = INFINITY;
    for (size_t i = 0; i < k.n; i++)
        if (k.flow[i] > 0)
            least = fmin(least, k.flow[i]);
    near(tl_model_least_flow_m3_d(r.model), least, 0);
    end_run(&r);
    free_loop(s);
    return k;
}

static double at(const struct course *k, double t_d)
{
    size_t i = 0;
    while (i + 1 < k->n && k->t_d[i + 1] <= t_d + 1e-9)
        i++;
    return k->flow[i];
}

static void steps_are_as_fine_as_the_effect(void **state)
{
    struct tl_pump p = {.count = 1};
    (void)state;
    near(tl_pump_step_d(&p), 0, 0);
    for (double f = 1e-5; f < 1; f *= 1.3) {
        p.fouling_1_d = f;
        const double step = tl_pump_step_d(&p);
        assert_true(step > 0 && step <= 7 && step * f <= 0.005 * (1 + 1e-9));
        /* whole days, or a whole number of steps a day */
        near(step >= 1 ? step : 1 / step, round(step >= 1 ? step : 1 / step), 1e-9);
    }
    p.fouling_1_d = 0.05 / 30;
    near(tl_pump_step_d(&p), 3, 1e-12);
    near(tl_pump_kept(&p, 60), 0.9, 1e-12);
    near(tl_pump_kept(&p, 1e4), 0, 0);
}

static void fouling_takes_and_cleaning_gives_back(void **state)
{
    struct tl_setup s;
    (void)state;
    for (int curve = 0; curve < 2; curve++) {
        dead_loop(&s);
        if (curve)
            give_curve(&s);
        s.length_d = 20;
        s.pump.fouling_1_d = 0.01;
        add_event(&s, (struct tl_event){.at_d = 10.2, .kind = TL_EVENT_CLEAN_PUMP});
        const double clean = flow_of(&s, 1);
        const double fouled = flow_of(&s, 1 - 0.01 * 10);
        const struct course k = course_of(&s);
        near(at(&k, 0), clean, 1e-9);
        near(at(&k, 10), fouled, 1e-6 * clean);
        near(at(&k, 10.3), clean, 1e-9);
        for (size_t i = 1; i < k.n; i++)
            if (k.t_d[i] < 10.2 || k.t_d[i - 1] > 10.3)
                assert_true(k.flow[i] <= k.flow[i - 1]);
        assert_true(at(&k, 20) < 0.95 * clean);
    }
}

/* As it is given, the flow is halved; by the curve it is more than half, for friction falls. */
static void one_of_two_fails(void **state)
{
    struct tl_setup s;
    (void)state;
    for (int curve = 0; curve < 2; curve++) {
        dead_loop(&s);
        if (curve)
            give_curve(&s);
        s.length_d = 4;
        s.pump.count = 2;
        add_event(&s, (struct tl_event){
                          .at_d = 1, .for_d = 1, .kind = TL_EVENT_PUMPS_RUNNING, .value = 1});
        add_event(&s, (struct tl_event){.at_d = 3, .kind = TL_EVENT_PUMPS_RUNNING, .value = 0});
        const double both = flow_of(&s, 2);
        const struct course k = course_of(&s);
        near(at(&k, 0.9), both, 0);
        if (curve)
            assert_true(at(&k, 1) > 0.55 * both && at(&k, 1) < 0.9 * both);
        else
            near(at(&k, 1), both / 2, 1e-12 * both);
        near(at(&k, 2), both, 0);
        near(at(&k, 3), 0, 0);
    }
}

/* A flow that an event names holds, until fewer pumps or fouled ones can no longer keep it up. */
static void a_named_flow_is_a_ceiling(void **state)
{
    struct tl_setup s;
    (void)state;
    dead_loop(&s);
    s.length_d = 10;
    s.pump.count = 2;
    s.pump_flow_m3_d = 100;
    s.pump.fouling_1_d = 0.005;
    add_event(&s, (struct tl_event){.at_d = 2, .kind = TL_EVENT_PUMP_FLOW, .value = 60});
    add_event(&s,
              (struct tl_event){.at_d = 3, .for_d = 1, .kind = TL_EVENT_PUMPS_RUNNING, .value = 1});
    add_event(&s, (struct tl_event){.at_d = 5, .kind = TL_EVENT_CLEAN_PUMP});
    add_event(&s, (struct tl_event){.at_d = 6, .for_d = 1, .kind = TL_EVENT_PUMP_FLOW});
    add_event(&s, (struct tl_event){.at_d = 8, .kind = TL_EVENT_PUMP_ON});
    const struct course k = course_of(&s);
    near(at(&k, 1), 99.5, 1e-9);
    near(at(&k, 2), 60, 0);
    near(at(&k, 3), 60 * 0.5 * 0.985 / 0.99, 1e-9);
    near(at(&k, 4), 60 * 0.98 / 0.99, 1e-9);
    near(at(&k, 5), 60, 0);
    near(at(&k, 6), 0, 0);
    near(at(&k, 7), 60, 1e-9); /* it could do 99 % by itself, as on day 2 */
    near(at(&k, 8), 98.5, 1e-9);
}

/* --- the ledgers ---------------------------------------------------------------------------- */

static void ledgers_close_through_it_all(void **state)
{
    struct tl_setup s;
    struct tl_ledger l;
    char fault[200] = "";
    (void)state;
    eventful_loop(&s);
    give_curve(&s);
    s.pump.count = 2;
    s.pump.fouling_1_d = 0.02;
    add_event(&s,
              (struct tl_event){.at_d = 9, .for_d = 1, .kind = TL_EVENT_PUMPS_RUNNING, .value = 1});
    add_event(&s, (struct tl_event){.at_d = 15, .kind = TL_EVENT_CLEAN_PUMP});
    struct run r = whole_run(&s, 0, NULL, 0);
    tl_ledger_draw_up(r.model, tl_engine_start_state(r.engine), r.y, 30, &l);
    const int status = tl_ledger_check(&l, fault, sizeof fault);
    if (status)
        print_error("%s\n", fault);
    assert_int_equal(status, TL_OK);
    end_run(&r);
    free_loop(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_straight_line_meets_a_parabola),
        cmocka_unit_test(the_curve_goes_through_its_points),
        cmocka_unit_test(the_answer_lies_on_both_curves),
        cmocka_unit_test(the_lift_follows_the_tower),
        cmocka_unit_test(beyond_the_curve_its_end_holds),
        cmocka_unit_test(flow_falls_with_head_and_friction),
        cmocka_unit_test(friction_rises_with_the_flow),
        cmocka_unit_test(unsound_pumps_are_refused),
        cmocka_unit_test(steps_are_as_fine_as_the_effect),
        cmocka_unit_test(fouling_takes_and_cleaning_gives_back),
        cmocka_unit_test(one_of_two_fails),
        cmocka_unit_test(a_named_flow_is_a_ceiling),
        cmocka_unit_test(ledgers_close_through_it_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
