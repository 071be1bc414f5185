/* Failures of pump, aerator and power: against the reference figures of the same equations, and what
 * must hold whatever the figures are. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/endure.h"
#include "towerloop/status.h"

#define HOUR_D    (1.0 / 24)
#define REFERENCE DATA_DIR "/section10_parameters.yaml"

static void read_scenario(struct tl_scenario *s, const char *path, const char *const *set)
{
    struct tl_scenario_options options = {.set = set};
    struct tl_diag diag;
    while (set[options.sets])
        options.sets++;
    tl_diag_init(&diag);
    int status = tl_scenario_read(path, &options, s, &diag);
    for (size_t i = 0; i < diag.count; i++)
        print_error("%s: %s\n", diag.message[i].key ? diag.message[i].key : "",
                    diag.message[i].what);
    assert_int_equal(status, TL_OK);
    tl_diag_free(&diag);
}

static struct tl_worst_hour find(const struct tl_scenario *s, double clock_d)
{
    struct tl_worst_hour when;
    char why[TL_FAULT_SIZE];
    assert_int_equal(tl_endure_find(s, clock_d, NULL, &when, why), TL_OK);
    return when;
}

static struct tl_endured run(const struct tl_scenario *s, const struct tl_worst_hour *when,
                             struct tl_endure_case c)
{
    struct tl_endured out;
    assert_int_equal(tl_endure_run(s, when, &c, NULL, &out), TL_OK);
    assert_string_equal(out.fault, "");
    return out;
}

static const struct tl_endure_case night = {.fails = TL_FAILURE_POWER, .outage_d = 0.5, .fish = 1};

/* The reference figures of the model document: oxygen before everything stops at midnight of day 100,
 * and so many hours later; to two digits behind the point as this engine has them. */
static void reference_figures(void **state)
{
    (void)state;
    static const struct {
        const char *count;
        double hours, before, after;
    } stop[] = {{"fish[0].count=80", 6, 6.44, 3.24}, {"fish[0].count=160", 2, 4.69, 2.25}};
    for (size_t i = 0; i < 2; i++) {
        const char *set[] = {stop[i].count, "aerator.oxygen transfer=200 g/d", "length=101 d",
                             NULL};
        struct tl_scenario s;
        read_scenario(&s, REFERENCE, set);
        const struct tl_worst_hour when = find(&s, 0);
        near(when.at_d, 100, 1e-9);
        near(when.flow_m3_d, 4.542 * 24, 1e-9);
        near(when.aerator_g_d, 200, 1e-9);
        struct tl_endured e = run(&s, &when, night);
        const double after = e.curve_o2[(size_t)(stop[i].hours * 60 / TL_ENDURE_CURVE_MIN)];
        print_message("%s: O2 %.3f, after %g h %.3f; caution %.1f, danger %.1f, lost %.1f min\n",
                      stop[i].count, e.o2_before, stop[i].hours, after, e.caution_min, e.danger_min,
                      e.lost_min);
        near(e.o2_before, stop[i].before, 0.02);
        near(after, stop[i].after, 0.02);
        tl_endured_free(&e);
        tl_scenario_free(&s);
    }
}

/* The minutes are where the course passes the limit, between two of its points. */
static void minutes_lie_on_the_course(void **state)
{
    (void)state;
    const char *set[] = {"aerator.oxygen transfer=200 g/d", "length=20 d", NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, NAN);
    struct tl_endured e = run(&s, &when, night);
    const struct {
        double minutes, limit;
    } passed[] = {{e.caution_min, s.limits.o2.caution}, {e.danger_min, s.limits.o2.danger}};
    for (size_t i = 0; i < 2; i++) {
        assert_true(passed[i].minutes > 0 && passed[i].minutes < 720);
        const size_t k = (size_t)floor(passed[i].minutes / TL_ENDURE_CURVE_MIN);
        assert_true(e.curve_o2[k] >= passed[i].limit);
        assert_true(e.curve_o2[k + 1] < passed[i].limit);
        const double share = fmod(passed[i].minutes, TL_ENDURE_CURVE_MIN) / TL_ENDURE_CURVE_MIN;
        near(e.curve_o2[k] + share * (e.curve_o2[k + 1] - e.curve_o2[k]), passed[i].limit, 0.005);
    }
    assert_true(e.caution_min < e.danger_min && e.danger_min < e.lost_min);
    tl_endured_free(&e);
    tl_scenario_free(&s);
}

/* The hour that is chosen has the lowest mean oxygen of the 24. */
static void worst_hour(void **state)
{
    (void)state;
    const char *set[] = {"length=20 d", NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour worst = find(&s, NAN);
    assert_true(worst.at_d >= 19 && worst.at_d < 20);
    for (int hour = 0; hour < 24; hour++) {
        const struct tl_worst_hour other = find(&s, hour * HOUR_D);
        near(other.at_d, 19 + hour * HOUR_D, 1e-9);
        assert_true(other.o2 >= worst.o2);
    }
    tl_scenario_free(&s);
}

static void refusals(void **state)
{
    (void)state;
    struct tl_worst_hour when;
    char why[TL_FAULT_SIZE];
    struct tl_scenario s;
    const char *early[] = {"start=2027-05-01 06:00", "length=1.7 d", NULL};
    read_scenario(&s, REFERENCE, early);
    assert_int_equal(tl_endure_find(&s, NAN, NULL, &when, why), TL_E_INPUT);
    assert_non_null(strstr(why, "no whole day"));
    tl_scenario_free(&s);
    const char *gone[] = {"length=3 d", "events=[{at: day 1, remove fish: {name: koi, count: 80}}]",
                          NULL};
    read_scenario(&s, REFERENCE, gone);
    assert_int_equal(tl_endure_find(&s, NAN, NULL, &when, why), TL_E_INPUT);
    assert_non_null(strstr(why, "no fish"));
    tl_scenario_free(&s);
}

/* What the scenario itself plans does not reach into the failure. */
static void plans_are_left_out(void **state)
{
    (void)state;
    struct tl_scenario plain, busy;
    const char *none[] = {"length=20 d", NULL};
    const char *some[] = {"length=20 d",
                          "events=[{at: day 19 12:00, aerator: 900 g/d, for: 6 h},"
                          " {at: day 19 13:00, pump: off, for: 2 h}]",
                          NULL};
    read_scenario(&plain, REFERENCE, none);
    read_scenario(&busy, REFERENCE, some);
    const struct tl_worst_hour when = find(&plain, 0.25);
    const struct tl_worst_hour same = find(&busy, 0.25);
    struct tl_endured a = run(&plain, &when, night);
    struct tl_endured b = run(&busy, &same, night);
    assert_true(a.danger_min == b.danger_min && a.lowest_o2 == b.lowest_o2);
    tl_endured_free(&a);
    tl_endured_free(&b);
    /* in the middle of them the failure finds pump and aerator as they always are */
    const struct tl_worst_hour amid = find(&busy, 13.5 / 24);
    near(amid.flow_m3_d, 4.542 * 24, 1e-9);
    near(amid.aerator_g_d, 300, 1e-9);
    tl_scenario_free(&plain);
    tl_scenario_free(&busy);
}

static void films(void **state)
{
    (void)state;
    const char *set[] = {"length=20 d", NULL};
    struct tl_scenario s;
    struct tl_endure_case day = night;
    day.outage_d = 1;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, NAN);
    struct tl_endured e = run(&s, &when, day);
    for (int g = 0; g < TL_ENDURE_GUILDS; g++) {
        assert_true(e.stage_left[0][g] < 1);
        for (int i = 1; i < TL_ENDURE_STAGES; i++)
            assert_true(e.stage_left[i][g] < e.stage_left[i - 1][g]);
        assert_true(e.film_left[g] == e.stage_left[3][g]);
    }
    /* for 12 h the media stay moist: decay at 24 degC alone, b 1.04^4 for half a day (b_aob 0.08/d,
     * theta_decay 1.04 of the file); then 5 %/h besides */
    const double decay = exp(-0.5 * 0.08 * pow(1.04, 4));
    near(e.stage_left[2][0], decay, 0.002);
    near(e.stage_left[3][0], decay * decay * exp(-0.05 * 12), 0.01);
    tl_endured_free(&e);

    /* the aerator's failure leaves the tower alone */
    struct tl_endure_case aerator = night;
    aerator.fails = TL_FAILURE_AERATOR;
    e = run(&s, &when, aerator);
    near(e.film_left[0], 1, 0.02);
    assert_true(isnan(e.stage_left[3][0]));
    tl_endured_free(&e);
    tl_scenario_free(&s);
}

static void what_helps(void **state)
{
    (void)state;
    const char *set[] = {"length=20 d", NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, 0.5);
    struct tl_endured none = run(&s, &when, night);
    assert_true(none.danger_min < 720);

    struct tl_endure_case c = night;
    c.feed_stopped = true;
    struct tl_endured fasting = run(&s, &when, c);
    assert_true(fasting.danger_min > none.danger_min);

    c = night;
    c.extra_g_d = 240;
    c.extra_for_d = 0.1;
    struct tl_endured battery = run(&s, &when, c);
    c.extra_for_d = 3;
    struct tl_endured aerator = run(&s, &when, c);
    assert_true(battery.danger_min > none.danger_min);
    assert_true(aerator.danger_min > battery.danger_min);
    /* the two are the same while the battery lasts, and the power's return ends both */
    for (size_t k = 0; (double)k * TL_ENDURE_CURVE_MIN < 0.1 * 1440; k++)
        near(battery.curve_o2[k], aerator.curve_o2[k], 1e-3);
    tl_endured_free(&none);
    tl_endured_free(&fasting);
    tl_endured_free(&battery);
    tl_endured_free(&aerator);

    double need = 0;
    assert_int_equal(tl_endure_need(&s, &when, &night, NULL, &need), TL_OK);
    c = night;
    c.extra_for_d = 1;
    c.extra_g_d = need;
    struct tl_endured enough = run(&s, &when, c);
    c.extra_g_d = 0.98 * need;
    struct tl_endured short_of = run(&s, &when, c);
    assert_true(isinf(enough.danger_min));
    assert_true(short_of.danger_min < 720);
    print_message("needs %.1f g/d\n", need);
    tl_endured_free(&enough);
    tl_endured_free(&short_of);
    tl_scenario_free(&s);
}

/* One of two half-size pumps leaves more oxygen than none, less than both. */
static void half_the_pump(void **state)
{
    (void)state;
    const char *set[] = {"length=20 d", NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, NAN);
    struct tl_endure_case c = night;
    c.fails = TL_FAILURE_PUMP;
    struct tl_endured none = run(&s, &when, c);
    c.fails = TL_FAILURE_HALF;
    struct tl_endured half = run(&s, &when, c);
    /* an aerator that is replaced as it stops: nothing fails at all */
    c.fails = TL_FAILURE_AERATOR;
    c.extra_g_d = when.aerator_g_d;
    c.extra_for_d = 1;
    struct tl_endured both = run(&s, &when, c);
    assert_true(half.lowest_o2 > none.lowest_o2 + 0.1 && half.lowest_o2 < both.lowest_o2 - 0.1);
    tl_endured_free(&both);
    near(half.film_left[0], 1, 0.05);
    tl_endured_free(&none);
    tl_endured_free(&half);
    tl_scenario_free(&s);
}

/* Where the scenario has two pumps, half a pump is one of them: by the curve it moves more than half of
 * the flow, and oxygen stays higher than with half; as the flow is given it is half. */
static void one_of_two_pumps(void **state)
{
    (void)state;
    const char *set[] = {"length=10 d", "pump={count: 2, flow: 4.542 m3/h}", NULL};
    const char *curve[] = {
        "length=10 d",
        "pump={count: 2, curve: [{head: 0 m, flow: 4 m3/h}, {head: 2 m, flow: 3.2 m3/h}, "
        "{head: 6 m, flow: 0 m3/h}], head: 2 m, pipe: {length: 8 m, inner diameter: 36 mm}}",
        NULL};
    struct tl_endure_case c = night;
    double lowest[2];
    for (int by_curve = 0; by_curve < 2; by_curve++) {
        struct tl_scenario s;
        read_scenario(&s, REFERENCE, by_curve ? curve : set);
        const struct tl_worst_hour when = find(&s, NAN);
        c.fails = TL_FAILURE_HALF;
        struct tl_endured two = run(&s, &when, c);
        s.setup.pump.count = 1; /* no second one: half of the flow */
        if (by_curve) {
            s.setup.pump.curve.n = 0;
            s.setup.pump_flow_m3_d = when.flow_m3_d;
        }
        struct tl_endured half = run(&s, &when, c);
        lowest[by_curve] = two.lowest_o2 - half.lowest_o2;
        tl_endured_free(&two);
        tl_endured_free(&half);
        tl_scenario_free(&s);
    }
    near(lowest[0], 0, 1e-9);
    assert_true(lowest[1] > 0.05);
}

/* Half as many fish again get half as much feed again, whichever way the ration is given. */
static void feed_follows_the_fish(void **state)
{
    (void)state;
    double danger[2];
    for (int i = 0; i < 2; i++) {
        const char *set[] = {"length=20 d",
                             i == 0 ? "feeding.ration=1 %/d" : "feeding.ration=400 g/d", NULL};
        struct tl_scenario s;
        struct tl_endure_case c = night;
        c.fish = 1.5;
        read_scenario(&s, REFERENCE, set);
        const struct tl_worst_hour when = find(&s, 0.5);
        struct tl_endured e = run(&s, &when, c);
        danger[i] = e.danger_min;
        tl_endured_free(&e);
        tl_scenario_free(&s);
    }
    print_message("%.2f and %.2f min\n", danger[0], danger[1]);
    near(danger[1], danger[0], 0.5);
}

static void recovery(void **state)
{
    (void)state;
    const char *set[] = {"fish[0].count=60", "length=40 d", NULL};
    struct tl_scenario s;
    struct tl_endure_case c = night;
    c.follow_d = 14;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, NAN);
    struct tl_endured e = run(&s, &when, c);
    assert_true(isinf(e.lost_min));
    assert_true(e.o2_back_d > 0 && e.o2_back_d < 1);
    assert_true(e.nh3_back_d >= 0 && e.no2_back_d >= e.o2_back_d);
    /* without a failure nothing has to come back, and the peaks are lower */
    c.outage_d = 1e-6;
    struct tl_endured quiet = run(&s, &when, c);
    assert_true(quiet.o2_back_d == 0 && quiet.nh3_back_d == 0 && quiet.no2_back_d == 0);
    assert_true(quiet.peak_tan < e.peak_tan && quiet.peak_no2 < e.peak_no2);
    tl_endured_free(&quiet);
    /* who does not wait long enough does not see it come back */
    c = night;
    c.follow_d = 2;
    struct tl_endured hasty = run(&s, &when, c);
    assert_true(isinf(hasty.no2_back_d) && hasty.o2_back_d == e.o2_back_d);
    tl_endured_free(&hasty);
    print_message("back after %.3f, %.3f, %.3f d; peaks %.2f %.3f %.2f\n", e.o2_back_d,
                  e.nh3_back_d, e.no2_back_d, e.peak_tan, e.peak_nh3, e.peak_no2);
    tl_endured_free(&e);
    tl_scenario_free(&s);
}

/* More fish, or warmer water, never last longer. */
static void never_longer(void **state)
{
    (void)state;
    static const char *const path[] = {REFERENCE, SCENARIO_DIR "/pump-failure.yaml",
                                       SCENARIO_DIR "/stocking-increase.yaml",
                                       SCENARIO_DIR "/spring-warm-up.yaml"};
    static const double fish[] = {0.5, 0.75, 1, 1.25, 1.5}, warmer[] = {-4, -2, 0, 2, 4};
    for (size_t p = 0; p < sizeof path / sizeof *path; p++) {
        const char *set[] = {p == 0 ? "length=20 d" : NULL, NULL};
        struct tl_scenario s;
        double danger[5][5];
        read_scenario(&s, path[p], set);
        const struct tl_worst_hour when = find(&s, NAN);
        for (int f = 0; f < 5; f++)
            for (int w = 0; w < 5; w++) {
                struct tl_endure_case c = night;
                c.fish = fish[f];
                c.warmer_degC = warmer[w];
                struct tl_endured e = run(&s, &when, c);
                danger[f][w] = e.danger_min;
                tl_endured_free(&e);
                assert_true(f == 0 || danger[f][w] <= danger[f - 1][w]);
                assert_true(w == 0 || danger[f][w] <= danger[f][w - 1]);
            }
        print_message("%.1f min, at 150 %% and 4 degC more %.1f min\n", danger[2][2], danger[4][4]);
        tl_scenario_free(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reference_figures),  cmocka_unit_test(minutes_lie_on_the_course),
        cmocka_unit_test(worst_hour),         cmocka_unit_test(refusals),
        cmocka_unit_test(plans_are_left_out), cmocka_unit_test(films),
        cmocka_unit_test(what_helps),         cmocka_unit_test(half_the_pump),
        cmocka_unit_test(one_of_two_pumps),   cmocka_unit_test(feed_follows_the_fish),
        cmocka_unit_test(recovery),           cmocka_unit_test(never_longer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
