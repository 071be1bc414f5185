/* Failures of pump, aerator and power: against the reference figures of the same equations, and what
 * must hold whatever the figures are. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "towerloop/assess.h"
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

static struct tl_endure_question ask(double day, double clock_d)
{
    struct tl_endure_question q;
    tl_endure_question_default(&q);
    q.day = day;
    q.clock_d = clock_d;
    return q;
}

static struct tl_endure_starts find_all(const struct tl_scenario *s,
                                        const struct tl_endure_question *q)
{
    struct tl_endure_starts starts;
    char why[TL_FAULT_SIZE];
    const int status = tl_endure_find(s, q, NULL, &starts, why);
    if (status)
        print_error("%s\n", why);
    assert_int_equal(status, TL_OK);
    return starts;
}

static struct tl_worst_hour find_at(const struct tl_scenario *s, double day, double clock_d)
{
    const struct tl_endure_question q = ask(day, clock_d);
    const struct tl_endure_starts starts = find_all(s, &q);
    return starts.start[starts.worst].when;
}

/* At that time of the last day; NAN: at the worst hour of the worst day. */
static struct tl_worst_hour find(const struct tl_scenario *s, double clock_d)
{
    return find_at(s, isnan(clock_d) ? NAN : floor(s->setup.length_d + 1e-9) - 1, clock_d);
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

/* The start that is chosen: no full hour of its day is sooner in danger, each tried by itself; the hour
 * of lowest oxygen is not it, and the loop is as a run with the failure finds it. */
static void worst_hour(void **state)
{
    (void)state;
    const char *set[] = {"length=12 d", NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_endure_question q = ask(NAN, NAN);
    const struct tl_endure_starts starts = find_all(&s, &q);
    const struct tl_worst_hour worst = starts.start[starts.worst].when;
    struct tl_endured e = run(&s, &worst, night);
    const double danger_min = e.danger_min;
    double lowest_hour_o2 = INFINITY, at_lowest_min = NAN;
    tl_endured_free(&e);
    assert_true(danger_min == starts.start[starts.worst].danger_min);
    for (int hour = 0; hour < 24; hour++) {
        const struct tl_worst_hour other = find_at(&s, floor(worst.at_d), hour * HOUR_D);
        near(other.at_d, floor(worst.at_d) + hour * HOUR_D, 1e-9);
        e = run(&s, &other, night);
        assert_true(e.danger_min >= danger_min);
        if (other.o2 < lowest_hour_o2) {
            lowest_hour_o2 = other.o2;
            at_lowest_min = e.danger_min;
        }
        tl_endured_free(&e);
    }
    print_message("in danger after %.0f min; from the hour of lowest oxygen %.0f min\n", danger_min,
                  at_lowest_min);
    assert_true(at_lowest_min > danger_min + 5);
    tl_scenario_free(&s);
}

/* A run through summer into autumn is tested in summer, one that ends warm on its last days. */
static void worst_day(void **state)
{
    (void)state;
    static const struct {
        const char *start;
        double from, to; /* days the answer must lie between */
    } season[] = {{"start=2027-06-15", 20, 60}, {"start=2027-03-15", 115, 120}};
    for (size_t i = 0; i < 2; i++) {
        const char *set[] = {
            season[i].start, "length=120 d", "feeding.ration=0.5 %/d",
            "temperature={mean: 15 degC, seasonal swing: 10 degC, warmest day: 07-25}", NULL};
        struct tl_scenario s;
        read_scenario(&s, REFERENCE, set);
        const struct tl_endure_question q = ask(NAN, NAN);
        const struct tl_endure_starts starts = find_all(&s, &q);
        const double at_d = starts.start[starts.worst].when.at_d;
        print_message("%s: day %.1f, %zu days, %zu starts\n", season[i].start, at_d, starts.days,
                      starts.n);
        assert_true(at_d >= season[i].from && at_d <= season[i].to);
        assert_true(starts.days >= 2 || i == 1);
        tl_scenario_free(&s);
    }
}

/* The hours of the scenario's own outage and the day after it do not count, nor do days without fish. */
static void own_plans(void **state)
{
    (void)state;
    const char *outage[] = {"length=10 d",
                            "events=[{at: day 7 22:30, pump: off, for: 8 h},"
                            " {at: day 2 10:00, pump: off}, {at: day 2 16:00, pump: on},"
                            " {at: day 4, aerator: 250 g/d, for: 6 d}]",
                            NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, outage);
    const struct tl_endure_question q = ask(NAN, NAN);
    struct tl_endure_starts starts = find_all(&s, &q);
    for (size_t i = 0; i < starts.n; i++) {
        const double at_d = starts.start[i].when.at_d;
        assert_false(at_d > 7 + 21.5 / 24 && at_d < 9 + 6.4 / 24);
        assert_false(at_d > 2 + 9.5 / 24 && at_d < 3 + 15.5 / 24);
    }
    assert_true(starts.n >= 12);
    tl_scenario_free(&s);
    const char *gone[] = {"length=6 d",
                          "events=[{at: day 3 10:00, remove fish: {name: koi, count: 80}}]", NULL};
    read_scenario(&s, REFERENCE, gone);
    starts = find_all(&s, &q);
    for (size_t i = 0; i < starts.n; i++) {
        assert_true(starts.start[i].when.at_d < 3 + 10.0 / 24);
        assert_true(starts.start[i].when.fish_kg > 0);
    }
    tl_scenario_free(&s);
}

/* Whatever the last day leaves in the tank is tried, also where it ends before midnight or in its last hour. */
static void fish_that_come_last(void **state)
{
    (void)state;
    static const struct {
        const char *length, *events;
    } last[] = {
        {"length=6 d",
         "events=[{at: day 5 23:00, add fish: {name: late, count: 40, mean mass: 1 kg}}]"},
        {"length=6.9 d",
         "events=[{at: day 6 01:00, add fish: {name: late, count: 40, mean mass: 1 kg}}]"},
        {"length=6 d",
         "events=[{at: day 5 23:59, add fish: {name: late, count: 40, mean mass: 1 kg}}]"},
    };
    for (size_t i = 0; i < sizeof last / sizeof *last; i++) {
        const char *set[] = {last[i].length, last[i].events, NULL};
        struct tl_scenario s;
        read_scenario(&s, REFERENCE, set);
        const double end_d = s.setup.start_d + s.setup.length_d;
        struct tl_endure_question q = ask(NAN, NAN);
        struct tl_endure_starts starts = find_all(&s, &q);
        const struct tl_endure_start *worst = &starts.start[starts.worst];
        size_t after = 0;
        for (size_t k = 0; k < starts.n; k++)
            after += starts.start[k].when.at_d >= end_d - 1e-6;
        assert_int_equal(after, 24);
        assert_int_equal(worst->day, TL_ENDURE_DAY_END);
        assert_true(worst->when.fish_kg > 40);
        assert_true(worst->when.at_d >= end_d - 1e-6 && worst->when.at_d < end_d + 1 + HOUR_D);
        if (i == 0) { /* at the very hour that is asked for */
            struct tl_endured e;
            const struct tl_worst_hour when = find_at(&s, 5, 23 * HOUR_D);
            assert_int_equal(tl_endure_run(&s, &when, &night, NULL, &e), TL_OK);
            assert_true(when.fish_kg > 70 && e.danger_min < 250);
            tl_endured_free(&e);
        }
        q.clock_d = 23.5 * HOUR_D;
        starts = find_all(&s, &q);
        assert_true(starts.start[starts.worst].when.fish_kg > 40);
        assert_true(fabs(fmod(starts.start[starts.worst].when.at_d, 1) - q.clock_d) < 1e-6);
        tl_scenario_free(&s);
    }
}

/* An afternoon's visit after the worst hour of a day in the middle. */
static void fish_that_come_and_go(void **state)
{
    (void)state;
    const char *set[] = {
        "length=6 d",
        "events=[{at: day 3 14:30, add fish: {name: guest, count: 40, mean mass: 1 kg}},"
        " {at: day 3 20:30, remove fish: {name: guest, count: 40}}]",
        NULL};
    struct tl_scenario s;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find_at(&s, NAN, NAN);
    assert_true(when.fish_kg > 40);
    assert_true(when.at_d > 3 + 14.5 * HOUR_D && when.at_d < 3 + 20.5 * HOUR_D);
    tl_scenario_free(&s);
}

static void refused(const char *const *set, const struct tl_endure_question *q, const char *words)
{
    struct tl_endure_starts starts;
    struct tl_scenario s;
    char why[TL_FAULT_SIZE];
    read_scenario(&s, REFERENCE, set);
    assert_int_equal(tl_endure_find(&s, q, NULL, &starts, why), TL_E_INPUT);
    if (!strstr(why, words))
        print_error("%s\n", why);
    assert_non_null(strstr(why, words));
    tl_scenario_free(&s);
}

static void refusals(void **state)
{
    (void)state;
    struct tl_endure_question q = ask(NAN, NAN);
    const char *early[] = {"start=2027-05-01 06:00", "length=1.7 d", NULL};
    refused(early, &q, "no whole day");
    const char *empty[] = {"length=3 d", "fish=[]", NULL};
    refused(empty, &q, "no fish");
    const char *gone[] = {"length=3 d", "events=[{at: day 1, remove fish: {name: koi, count: 80}}]",
                          NULL};
    q = ask(2, NAN);
    refused(gone, &q, "no fish in the tank on day 2");
    q = ask(3, 0.5);
    refused(gone, &q, "not within");
    const char *still[] = {"length=3 d", "aerator.oxygen transfer=0 g/d", NULL};
    q = ask(NAN, NAN);
    q.fails = TL_FAILURE_AERATOR;
    refused(still, &q, "no aerator runs");
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

    tl_scenario_free(&s);
}

/* The aerator that is said to do holds oxygen 0.5 mg/L above danger from every full hour of the day, and
 * hardly a smaller one would. */
static void aerator_needed(void **state)
{
    (void)state;
    const char *set[] = {"length=12 d", NULL};
    struct tl_scenario s;
    double need = 0, least = INFINITY, less = INFINITY;
    read_scenario(&s, REFERENCE, set);
    const struct tl_endure_question q = ask(NAN, NAN);
    const struct tl_endure_starts starts = find_all(&s, &q);
    const double day = floor(starts.start[starts.worst].when.at_d);
    const double level = s.limits.o2.danger + TL_ENDURE_MARGIN_O2;
    assert_int_equal(tl_endure_need(&s, &starts, &night, NULL, &need), TL_OK);
    for (int hour = 0; hour < 24; hour++) {
        const struct tl_worst_hour when = find_at(&s, day, hour * HOUR_D);
        struct tl_endure_case c = night;
        c.extra_for_d = 1;
        c.extra_g_d = need;
        struct tl_endured enough = run(&s, &when, c);
        c.extra_g_d = 0.98 * need;
        struct tl_endured short_of = run(&s, &when, c);
        least = fmin(least, enough.lowest_o2);
        less = fmin(less, short_of.lowest_o2);
        tl_endured_free(&enough);
        tl_endured_free(&short_of);
    }
    print_message("needs %.1f g/d: oxygen at least %.3f mg/L\n", need, least);
    assert_true(least >= level && less < level);

    /* nothing to add where nothing is missing, and one hour alone needs no more than the worst */
    struct tl_endure_case brief = night;
    double none = 1, alone = 0;
    brief.outage_d = 1.0 / 1440;
    struct tl_endure_starts one = {.n = 1, .days = 1};
    one.start[0] = starts.start[starts.worst];
    one.start[0].lowest_o2 = NAN;
    assert_int_equal(tl_endure_need(&s, &one, &brief, NULL, &none), TL_OK);
    assert_true(none == 0);
    assert_int_equal(tl_endure_need(&s, &one, &night, NULL, &alone), TL_OK);
    assert_true(alone > 0 && alone <= 1.01 * need);
    tl_scenario_free(&s);
}

/* All limits are judged as a run with the same outage in it judges them. */
static void judged_as_a_run(void **state)
{
    (void)state;
    const char *set[] = {"fish[0].count=60", "length=12 d", NULL};
    const char *same[] = {"fish[0].count=60", "length=25.5 d",
                          "events=[{at: day 11, pump: off, for: 12 h},"
                          " {at: day 11, aerator: off, for: 12 h}]",
                          NULL};
    struct tl_scenario s, with;
    struct tl_model *m = NULL;
    struct tl_assessment a;
    struct tl_endure_case c = night;
    c.follow_d = 14;
    c.judged = true;
    read_scenario(&s, REFERENCE, set);
    const struct tl_worst_hour when = find(&s, 0);
    struct tl_endured e = run(&s, &when, c);
    read_scenario(&with, REFERENCE, same);
    assert_int_equal(tl_model_build(&with.setup, &m), TL_OK);
    assert_int_equal(tl_assess(m, &with.limits, NULL, &a), TL_OK);
    /* what is worst after the failure is so in the run from its start, too */
    static const enum tl_limit_id moved[] = {TL_LIMIT_NH3, TL_LIMIT_NO2, TL_LIMIT_O2, TL_LIMIT_CO2};
    for (size_t i = 0; i < sizeof moved / sizeof *moved; i++) {
        const struct tl_limit_verdict *v = &a.verdict.limit[moved[i]];
        const struct tl_endured_limit *l = &e.limit[moved[i]];
        print_message("%s: %.4f, in a run %.4f on day %.2f\n", v->name, l->worst, v->worst,
                      v->worst_d);
        if (v->worst_d > 11)
            near(l->worst, v->worst, 0.01 * v->worst);
        assert_true((enum tl_grade)l->grade <= v->grade);
        assert_true(l->grade >= l->before || l->before > 0);
    }
    assert_true(a.verdict.limit[TL_LIMIT_NH3].worst_d > 11);
    assert_true(a.verdict.limit[TL_LIMIT_O2].worst_d > 11);
    assert_true((enum tl_grade)e.limit[TL_LIMIT_NH3].grade == a.verdict.limit[TL_LIMIT_NH3].grade);
    tl_endured_free(&e);
    tl_model_free(m);
    tl_scenario_free(&with);
    tl_scenario_free(&s);

    /* warmer than the fish's oxygen use was measured */
    const char *hot[] = {"fish[0].count=5", "length=4 d", "temperature=33 degC", NULL};
    read_scenario(&s, REFERENCE, hot);
    const struct tl_worst_hour noon = find(&s, 0.5);
    e = run(&s, &noon, c);
    near(e.outside[TL_RANGE_FISH_TEMPERATURE], 33, 1e-9);
    tl_endured_free(&e);
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

/* The ration as a log of the meals that were given. */
static void write_down(struct tl_setup *s, double feed_g_d, int days)
{
    struct tl_table *log = &s->feeding.log;
    log->n = s->feeding.meals * (size_t)days;
    log->x = calloc(log->n, sizeof *log->x);
    log->y = calloc(log->n, sizeof *log->y);
    assert_non_null(log->x);
    assert_non_null(log->y);
    for (size_t i = 0; i < log->n; i++) {
        const size_t day = i / s->feeding.meals;
        log->x[i] = (double)day + s->feeding.meal_s[i % s->feeding.meals] / 86400.0;
        log->y[i] = feed_g_d / (double)s->feeding.meals;
    }
}

/* Half as many fish again get half as much feed again, whichever way the ration is given; and none of it
 * is given when feed is stopped. */
static void feed_follows_the_fish(void **state)
{
    (void)state;
    enum { WAYS = 3 };
    double danger[WAYS], fasting[WAYS];
    for (int i = 0; i < WAYS; i++) {
        const char *set[] = {"length=20 d",
                             i == 0 ? "feeding.ration=1 %/d" : "feeding.ration=400 g/d", NULL};
        struct tl_scenario s;
        struct tl_endure_case c = night;
        c.fish = 1.5;
        read_scenario(&s, REFERENCE, set);
        if (i == 2)
            write_down(&s.setup, 400, 21);
        const struct tl_worst_hour when = find(&s, 0.25);
        struct tl_endured e = run(&s, &when, c);
        danger[i] = e.danger_min;
        tl_endured_free(&e);
        c.feed_stopped = true;
        e = run(&s, &when, c);
        fasting[i] = e.danger_min;
        tl_endured_free(&e);
        tl_scenario_free(&s);
    }
    for (int i = 1; i < WAYS; i++) {
        print_message("%.2f and %.2f min, without feed %.2f and %.2f\n", danger[0], danger[i],
                      fasting[0], fasting[i]);
        near(danger[i], danger[0], 0.5);
        near(fasting[i], fasting[0], 0.5);
    }
    assert_true(fasting[0] > danger[0] + 5);
}

/* Where the water follows the weather, a study works the weather out once; a case is as it is with the
 * weather itself, and as warm. */
static void weather_once(void **state)
{
    (void)state;
    const char *set[] = {"length=30 d", NULL};
    struct tl_endure_study study;
    struct tl_endure_question q = ask(NAN, NAN);
    struct tl_scenario s;
    char why[TL_FAULT_SIZE];
    read_scenario(&s, SCENARIO_DIR "/full-year-outdoors.yaml", set);
    assert_int_equal(s.setup.temperature.kind, TL_TEMPERATURE_WEATHER);
    assert_int_equal(tl_endure_plan(&s, &q, NULL, &study, why), TL_OK);
    assert_int_equal(study.scenario->setup.temperature.kind, TL_TEMPERATURE_READINGS);
    near(study.scenario->setup.length_d, 30, 1e-9);
    q = ask(floor(study.when.at_d), study.when.at_d - floor(study.when.at_d));
    const struct tl_endure_starts direct = find_all(&s, &q);
    near(study.when.temperature_degC, direct.start[0].when.temperature_degC, 1e-3);
    struct tl_endured once = run(study.scenario, &study.when, night);
    struct tl_endured each = run(&s, &direct.start[0].when, night);
    near(once.lowest_o2, each.lowest_o2, 1e-3);
    tl_endured_free(&once);
    tl_endured_free(&each);
    tl_endure_study_free(&study);
    tl_endure_study_free(&study); /* harmless */
    tl_scenario_free(&s);
}

/* Without power there is neither heater nor cooling by the tower, and the frozen tank is a danger. */
static void water_goes_its_own_way(void **state)
{
    (void)state;
    const char *cold[] = {"length=100 d", "heater={power: 40 kW, keep at: 8 degC}", NULL};
    const char *warm[] = {"length=110 d", NULL};
    struct tl_scenario s;
    struct tl_endure_case c = {.outage_d = 8, .fish = 1};
    struct tl_endured by[TL_NFAILURE];

    read_scenario(&s, SCENARIO_DIR "/winter-tower.yaml", cold);
    struct tl_worst_hour when = find_at(&s, 95, 0);
    assert_true(when.temperature_degC > 7);
    for (int f = 0; f < TL_NFAILURE; f++) {
        c.fails = (enum tl_failure)f;
        by[f] = run(&s, &when, c);
        print_message("%s: %.2f degC, ice after %.0f min, %.0f kg\n", tl_failure_name(c.fails),
                      by[f].water_back_degC, by[f].ice_min, by[f].most_ice_kg);
    }
    assert_true(by[TL_FAILURE_POWER].water_back_degC < by[TL_FAILURE_PUMP].water_back_degC - 1);
    assert_true(by[TL_FAILURE_PUMP].water_back_degC > 7);
    assert_true(by[TL_FAILURE_AERATOR].water_back_degC > 7);
    assert_true(isfinite(by[TL_FAILURE_POWER].ice_min) && isinf(by[TL_FAILURE_PUMP].ice_min));
    assert_true(by[TL_FAILURE_POWER].most_ice_kg > 0);
    for (int f = 0; f < TL_NFAILURE; f++)
        tl_endured_free(&by[f]);
    tl_scenario_free(&s);

    read_scenario(&s, SCENARIO_DIR "/full-year-outdoors.yaml", warm);
    when = find_at(&s, 105, 0.7);
    for (int f = 0; f < TL_NFAILURE; f++) {
        c.fails = (enum tl_failure)f;
        c.outage_d = 0.5;
        by[f] = run(&s, &when, c);
        print_message("%s: %.2f degC\n", tl_failure_name(c.fails), by[f].water_back_degC);
    }
    assert_true(by[TL_FAILURE_POWER].water_back_degC >
                by[TL_FAILURE_AERATOR].water_back_degC + 0.3);
    for (int f = 0; f < TL_NFAILURE; f++)
        tl_endured_free(&by[f]);
    tl_scenario_free(&s);
}

/* Fish that an earlier outage of the scenario killed do not die of the one that is asked about. */
static void fish_lost_before(void **state)
{
    (void)state;
    struct tl_scenario s;
    const char *hot[] = {"temperature={mean: 31 degC, daily swing: 2 degC}", NULL};
    const struct tl_worst_hour when = {.at_d = 11.5};
    const struct tl_endure_case c = {.fails = TL_FAILURE_PUMP, .outage_d = 2 * HOUR_D, .fish = 1};
    struct tl_endured e;
    read_scenario(&s, SCENARIO_DIR "/pump-failure.yaml", hot);
    assert_int_equal(tl_endure_run(&s, &when, &c, NULL, &e), TL_OK);
    near(e.lost_before_d, 10.3, 0.1);
    near(e.lost_min, 0, 0);
    assert_true(e.lowest_o2 > 3);
    tl_endured_free(&e);
    tl_scenario_free(&s);
}

/* A few fish that a night without air does not harm, in little water that a heater keeps open: frost is told of
 * the hour at which it is worst, and all else of the warmest day. */
static void frost_has_an_hour_of_its_own(void **state)
{
    (void)state;
    const char *set[] = {"length=150 d",
                         "tank.volume=2 m3",
                         "settling chamber.volume=200 L",
                         "fish[0].count=1",
                         "heater={power: 20 kW, keep at: 6 degC}",
                         NULL};
    struct tl_scenario s;
    struct tl_endure_question q = {
        .fails = TL_FAILURE_POWER, .outage_d = 2, .day = NAN, .clock_d = NAN};
    read_scenario(&s, SCENARIO_DIR "/winter-tower.yaml", set);
    struct tl_endure_starts starts = find_all(&s, &q);
    const struct tl_endure_start *worst = &starts.start[starts.worst];
    const struct tl_endure_start *frost = &starts.start[starts.frost];
    print_message("%s, day %.2f: ice after %.0f min; %s, day %.2f\n",
                  tl_endure_day_name(frost->day), frost->when.at_d, frost->frost.ice_min,
                  tl_endure_day_name(worst->day), worst->when.at_d);
    assert_int_equal(frost->day, TL_ENDURE_DAY_COLDEST);
    assert_true(isfinite(frost->frost.ice_min) && frost->frost.ice_min > 0);
    assert_true(floor(worst->when.at_d) == floor(starts.start[starts.warmest].when.at_d));
    for (size_t i = 0; i < starts.n; i++) {
        assert_true(isinf(starts.start[i].danger_min));
        assert_true(frost->frost.ice_min <= starts.start[i].frost.ice_min);
        assert_true(starts.start[i].when.temperature_degC <=
                    starts.start[starts.warmest].when.temperature_degC);
    }

    /* water kept warm falls furthest in frost, though it neither freezes nor wants for oxygen */
    tl_scenario_free(&s);
    const char *warm[] = {"length=100 d",
                          "tank.volume=0.5 m3",
                          "settling chamber.volume=50 L",
                          "fish[0].count=1",
                          "heater={power: 40 kW, keep at: 18 degC}",
                          NULL};
    read_scenario(&s, SCENARIO_DIR "/winter-tower.yaml", warm);
    q.outage_d = 2 * HOUR_D;
    starts = find_all(&s, &q);
    frost = &starts.start[starts.frost];
    print_message("%s, day %.2f: chill %.2f, limit %.0f\n", tl_endure_day_name(frost->day),
                  frost->when.at_d, frost->frost.chill, frost->frost.limit);
    assert_true(isinf(frost->frost.ice_min) && frost->frost.chill >= 1);
    assert_true(frost->frost.before == 0);
    assert_int_equal((int)frost->frost.limit, TL_LIMIT_HOUR_CHANGE);
    assert_true(frost->frost.worst >= s.limits.hour_change.danger);
    for (size_t i = 0; i < starts.n; i++)
        assert_true(frost->frost.chill >= starts.start[i].frost.chill);

    /* frost does not hide the summer evening on which oxygen runs short */
    tl_scenario_free(&s);
    const char *many[] = {"fish[0].count=70", NULL};
    read_scenario(&s, SCENARIO_DIR "/full-year-outdoors.yaml", many);
    q.outage_d = 0.5;
    starts = find_all(&s, &q);
    worst = &starts.start[starts.worst];
    print_message("%s, day %.2f: lowest oxygen %.2f, chill %.2f\n", tl_endure_day_name(worst->day),
                  worst->when.at_d, worst->lowest_o2, worst->frost.chill);
    assert_true(isinf(worst->danger_min) && worst->lowest_o2 < s.limits.o2.caution);
    assert_true(worst->day != TL_ENDURE_DAY_COLDEST && worst->frost.chill < 1);
    q.outage_d = 2 * HOUR_D;

    /* water whose temperature is given is not looked at on its coldest day */
    tl_scenario_free(&s);
    const char *given[] = {
        "temperature={mean: 15 degC, seasonal swing: 8 degC, warmest day: 07-25}", "length=110 d",
        NULL};
    read_scenario(&s, SCENARIO_DIR "/pump-failure.yaml", given);
    starts = find_all(&s, &q);
    assert_int_equal(starts.frost, starts.n);
    for (size_t i = 0; i < starts.n; i++)
        assert_true(starts.start[i].day != TL_ENDURE_DAY_COLDEST &&
                    isinf(starts.start[i].frost.ice_min));
    tl_scenario_free(&s);
}

/* Each matter has the hour that is worst for it: no other that was tried is worse, and there is not one hour
 * for all. The film lasts less long in warm water. */
static void each_matter_by_its_own_hour(void **state)
{
    (void)state;
    const char *none[] = {NULL};
    struct tl_scenario s;
    const struct tl_endure_question q = ask(NAN, NAN);
    read_scenario(&s, SCENARIO_DIR "/pump-failure.yaml", none);
    const struct tl_endure_starts starts = find_all(&s, &q);
    const struct tl_endure_start *x = starts.start;
    print_message("caution day %.2f, danger %.2f, lost %.2f, film %.2f\n",
                  x[starts.caution].when.at_d, x[starts.worst].when.at_d, x[starts.lost].when.at_d,
                  x[starts.film].when.at_d);
    for (size_t i = 0; i < starts.n; i++) {
        assert_true(x[i].caution_min >= x[starts.caution].caution_min);
        assert_true(x[i].danger_min >= x[starts.worst].danger_min);
        assert_true(x[i].lost_min >= x[starts.lost].lost_min);
        for (int g = 0; g < 2; g++)
            assert_true(x[i].film_left[g] >=
                        fmin(x[starts.film].film_left[0], x[starts.film].film_left[1]));
        assert_true(x[i].stage_left[0] > x[i].stage_left[1]);
        assert_true(x[i].stage_left[2] <= x[i].film_left[0]);
    }
    assert_true(x[starts.lost].lost_min < x[starts.worst].lost_min - 10);
    assert_true(x[starts.caution].caution_min < x[starts.worst].caution_min);
    struct tl_endured e = run(&s, &x[starts.lost].when, night);
    near(e.lost_min, x[starts.lost].lost_min, 1e-6);
    tl_endured_free(&e);
    tl_scenario_free(&s);
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

/* Limits of one's own below what kills, or none: danger, caution too, is no later than death. */
static void danger_is_no_later_than_death(void **state)
{
    (void)state;
    static const char *const own[] = {"limits.oxygen={caution: 3 mg/L, danger: 0.5 mg/L}",
                                      "limits.oxygen={caution: none, danger: none}",
                                      "parameters.o2_critical=5 mg/L"};
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) {
        const char *set[] = {"length=3 d", "fish[0].count=100", own[i], NULL};
        struct tl_scenario s;
        read_scenario(&s, REFERENCE, set);
        const struct tl_worst_hour when = find_at(&s, 2, 0.2);
        const struct tl_endure_case c = {.fails = TL_FAILURE_POWER, .outage_d = 1, .fish = 1};
        struct tl_endured e;
        assert_int_equal(tl_endure_run(&s, &when, &c, NULL, &e), TL_OK);
        assert_true(isfinite(e.lost_min) && e.lost_min > 0);
        near(e.danger_min, e.lost_min, 0);
        assert_true(e.caution_min <= e.danger_min);
        tl_endured_free(&e);
        tl_scenario_free(&s);
    }
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
        cmocka_unit_test(fish_lost_before),
        cmocka_unit_test(reference_figures),
        cmocka_unit_test(minutes_lie_on_the_course),
        cmocka_unit_test(worst_hour),
        cmocka_unit_test(worst_day),
        cmocka_unit_test(own_plans),
        cmocka_unit_test(fish_that_come_last),
        cmocka_unit_test(fish_that_come_and_go),
        cmocka_unit_test(danger_is_no_later_than_death),
        cmocka_unit_test(refusals),
        cmocka_unit_test(aerator_needed),
        cmocka_unit_test(judged_as_a_run),
        cmocka_unit_test(plans_are_left_out),
        cmocka_unit_test(films),
        cmocka_unit_test(what_helps),
        cmocka_unit_test(half_the_pump),
        cmocka_unit_test(one_of_two_pumps),
        cmocka_unit_test(feed_follows_the_fish),
        cmocka_unit_test(weather_once),
        cmocka_unit_test(water_goes_its_own_way),
        cmocka_unit_test(frost_has_an_hour_of_its_own),
        cmocka_unit_test(each_matter_by_its_own_hour),
        cmocka_unit_test(recovery),
        cmocka_unit_test(never_longer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
