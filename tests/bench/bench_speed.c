/* How fast the engine is, beside solvers of general-purpose libraries on the same right-hand side.
 *
 * usage: bench_speed [year | scenarios | size]: one part alone
 *
 * Every solver gets the loosest tolerance of a ladder at which its error stays within 2e-4: the largest
 * |y - exact|/max(|exact|, 0.05) of hourly ammonia, nitrite and oxygen against GSL's rk8pd at 1e-10.
 * Times are processor seconds, medians of three. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "loops.h"
#include "towerloop/assess.h"
#include "towerloop/engine.h"
#include "towerloop/limits.h"
#include "towerloop/status.h"
#include "walk.h"

#define MOST_ERROR 2e-4
#define YEAR_D     365.0
#define TOO_SLOW_S 40.0 /* a solver that takes longer for one run is tried no further */
enum { TIMES = 3 };

static const double ladder[] = {1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-7};
enum { RUNGS = sizeof ladder / sizeof ladder[0] };

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void must(int status, const char *what)
{
    if (status == TL_OK)
        return;
    fprintf(stderr, "%s: %s\n", what, tl_status_text(status));
    exit(1);
}

/* --- the engine --------------------------------------------------------------------------------- */

static int see_hour(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    (void)t_d;
    (void)c;
    note_hour(arg, y);
    return TL_OK;
}

/* One run of the engine with its hours kept; processor seconds. */
static double by_engine(const struct tl_model *m, double rtol, struct hours *out,
                        unsigned long *evaluations)
{
    const struct tl_observer observer = {HOUR_D, TL_NWATER, see_hour, out};
    const struct tl_engine_options options = {.rtol = rtol, .observer = &observer, .observers = 1};
    struct tl_engine *e = NULL;
    *out = (struct hours){0};
    const double begin = cpu_s();
    must(tl_engine_new(m, &options, &e), "engine");
    must(tl_engine_advance(e, INFINITY), "engine");
    const double took = cpu_s() - begin;
    *evaluations = tl_engine_stats(e)->evaluations;
    tl_engine_free(e);
    return took;
}

/* What a user's run does, into memory: verdict and 15-minute rows. */
struct rows {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot snapshot;
    double sum;
};

static int see_row(void *arg, double t_d, const struct tl_controls *c, const double *y)
{
    struct rows *r = arg;
    const int status = tl_model_snapshot(r->model, r->work, c, t_d, y, &r->snapshot);
    r->sum += r->snapshot.tower_out[TL_TAN];
    return status;
}

static double judged_with_rows(const struct tl_model *m, double rtol, double period_d)
{
    struct tl_limits limits;
    struct tl_assessment out;
    struct rows r = {.model = m};
    tl_limits_default(&limits);
    must(tl_work_new(m, &r.work), "rows");
    must(tl_snapshot_alloc(m, &r.snapshot), "rows");
    const struct tl_observer observer = {.period_d = period_d, .see = see_row, .arg = &r};
    const struct tl_assess_options options = {.rtol = rtol, .observer = &observer, .observers = 1};
    const double begin = cpu_s();
    must(tl_assess(m, &limits, &options, &out), out.fault);
    const double took = cpu_s() - begin;
    tl_snapshot_free(&r.snapshot);
    tl_work_free(r.work);
    return took;
}

static double judged_median(const struct tl_model *m, double rtol, double period_d)
{
    double took[TIMES];
    for (int k = 0; k < TIMES; k++)
        took[k] = judged_with_rows(m, rtol, period_d);
    qsort(took, TIMES, sizeof *took, ascending);
    return took[TIMES / 2];
}

/* --- all solvers on one loop -------------------------------------------------------------------- */

/* One run by `s`, or by the engine where it is NULL. Negative: the solver gave up. */
static double one_run(const struct tl_model *m, const struct solver *s, double rtol,
                      const struct hours *exact, double *error, unsigned long *evaluations)
{
    struct hours hours = {0};
    double took;
    if (s) {
        const double begin = cpu_s();
        const bool done = walk(m, s, rtol, &hours, evaluations);
        took = done ? cpu_s() - begin : -1;
    } else {
        took = by_engine(m, rtol, &hours, evaluations);
    }
    *error = largest_error(&hours, exact);
    free(hours.value);
    return took;
}

/* The median time at the loosest tolerance that is accurate enough, per year; NAN when there is none. */
static double contest(const struct tl_model *m, const char *name, const struct solver *s,
                      const struct hours *exact, double engine_s)
{
    const double days = tl_model_setup(m)->length_d;
    for (int rung = 0; rung < RUNGS; rung++) {
        double took[TIMES], error;
        unsigned long evaluations;
        took[0] = one_run(m, s, ladder[rung], exact, &error, &evaluations);
        if (took[0] > TOO_SLOW_S)
            break;
        if (took[0] < 0 || !(error <= MOST_ERROR))
            continue;
        for (int k = 1; k < TIMES; k++)
            took[k] = one_run(m, s, ladder[rung], exact, &error, &evaluations);
        qsort(took, TIMES, sizeof *took, ascending);
        const double year_s = took[TIMES / 2] * YEAR_D / days;
        printf("  %-32s %7.0e %9.1e %9.0f %8.3f %6.1f\n", name, ladder[rung], error,
               (double)evaluations / days, year_s, year_s / (engine_s > 0 ? engine_s : year_s));
        fflush(stdout);
        return year_s;
    }
    printf("  %-32s %7s %9s %9s %8s\n", name, "-", "-", "-", "too slow or never accurate enough");
    return NAN;
}

static void all_solvers(const char *name, const struct tl_setup *s)
{
    struct tl_model *m = NULL;
    struct hours exact;
    unsigned long evaluations;
    must(tl_model_build(s, &m), name);
    printf("\n%s, %g d\n  %-32s %7s %9s %9s %8s %6s\n", name, s->length_d, "", "rtol", "error",
           "calls/d", "s/year", "ratio");
    if (!walk(m, &gsl_solvers[2], 1e-10, &exact, &evaluations)) {
        printf("  the reference failed\n");
        exit(1);
    }
    const double engine_s = contest(m, "towerloop", NULL, &exact, 0);
    double error;
    (void)one_run(m, NULL, 0, &exact, &error, &evaluations);
    printf("  %-32s %7s %9.1e %9.0f\n", "towerloop, default tolerance", "1e-05", error,
           (double)evaluations / s->length_d);
    for (size_t i = 0; i < gsl_solver_count; i++)
        contest(m, gsl_solvers[i].name, &gsl_solvers[i], &exact, engine_s);
    for (size_t i = 0; i < sundials_solver_count; i++)
        contest(m, sundials_solvers[i].name, &sundials_solvers[i], &exact, engine_s);
    free(exact.value);
    tl_model_free(m);
}

/* --- the loops ---------------------------------------------------------------------------------- */

static void year(void)
{
    struct tl_setup s;
    struct tl_model *m = NULL;
    reference_loop(&s, 40);
    s.length_d = YEAR_D;
    must(tl_model_build(&s, &m), "the reference loop");
    printf("a year of the reference loop with verdict and 15-minute rows in memory:\n");
    printf("  at the default tolerance %.3f s, at 1e-4 %.3f s, at 1e-3 %.3f s (reach: 0.12 s)\n",
           judged_median(m, 0, 15.0 / 1440), judged_median(m, 1e-4, 15.0 / 1440),
           judged_median(m, 1e-3, 15.0 / 1440));
    tl_model_free(m);
    all_solvers("the reference loop", &s);
    free_loop(&s);
}

static void scenarios(void)
{
    struct tl_setup s;

    reference_loop(&s, 40);
    s.length_d = 60;
    s.chamber = (struct tl_basin){.volume_m3 = 0.1, .surface_m2 = 0.3, .walls_m2 = 1};
    s.pump_flow_m3_d = 120;
    all_solvers("a small chamber and a strong pump", &s);
    free_loop(&s);

    reference_loop(&s, 20);
    s.length_d = 60;
    s.tower.biofilm = TL_BIOFILM_NEW;
    s.temperature.mean_degC = 12;
    all_solvers("a cold start", &s);
    free_loop(&s);

    reference_loop(&s, 80);
    s.length_d = 60;
    all_solvers("heavy stock", &s);
    free_loop(&s);

    reference_loop(&s, 40);
    s.length_d = 60;
    s.temperature = (struct tl_temperature){.kind = TL_TEMPERATURE_SINES,
                                            .mean_degC = 20,
                                            .seasonal_swing_degC = 6,
                                            .warmest_noon_d = 85.5,
                                            .daily_swing_degC = 2};
    all_solvers("varying temperature", &s);
    free_loop(&s);

    reference_loop(&s, 40);
    s.length_d = 60;
    for (int d = 1; d < 59; d++)
        add_event(&s, (struct tl_event){.at_d = d, .for_d = 0.25, .kind = TL_EVENT_PUMP_FLOW});
    all_solvers("the pump off for six hours a day", &s);
    free_loop(&s);

    reference_loop(&s, 40);
    s.length_d = 5 * 365.25;
    all_solvers("five years", &s);
    free_loop(&s);
}

/* --- cost against size -------------------------------------------------------------------------- */

static void trays(void)
{
    static const int count[] = {1, 2, 5, 10, 20, 50, 100, 200};
    printf("\ntrays, 60 d, hourly rows, verdict\n  %8s %9s %12s\n", "trays", "s", "ms a tray");
    for (size_t i = 0; i < sizeof count / sizeof *count; i++) {
        struct tl_setup s;
        struct tl_model *m = NULL;
        reference_loop(&s, 40);
        s.length_d = 60;
        s.tower.trays = count[i];
        must(tl_model_build(&s, &m), "trays");
        const double took = judged_median(m, 0, HOUR_D);
        printf("  %8d %9.4f %12.3f\n", count[i], took, 1e3 * took / count[i]);
        tl_model_free(m);
        free_loop(&s);
    }
}

static void events(void)
{
    static const int count[] = {10, 100, 1000, 10000, 100000};
    printf("\nevents, spread over 60 d\n  %8s %9s %12s\n", "events", "s", "us an event");
    for (size_t i = 0; i < sizeof count / sizeof *count; i++) {
        struct tl_setup s;
        struct tl_model *m = NULL;
        reference_loop(&s, 40);
        s.length_d = 60;
        for (int k = 0; k < count[i]; k++)
            add_event(&s, (struct tl_event){.at_d = 60.0 * (k + 0.5) / count[i],
                                            .kind = TL_EVENT_DOSE,
                                            .dose = TL_DOSE_BAKING_SODA,
                                            .value = 1.0 / count[i]});
        must(tl_model_build(&s, &m), "events");
        const double took = judged_median(m, 0, HOUR_D);
        printf("  %8d %9.4f %12.2f\n", count[i], took, 1e6 * took / count[i]);
        tl_model_free(m);
        free_loop(&s);
    }
}

static void row_periods(void)
{
    static const double minutes[] = {1440, 60, 15, 5, 1};
    struct tl_setup s;
    struct tl_model *m = NULL;
    reference_loop(&s, 40);
    s.length_d = 60;
    must(tl_model_build(&s, &m), "rows");
    printf("\nrows in memory, 60 d\n  %8s %9s %9s %12s\n", "every", "rows", "s", "us a row");
    for (size_t i = 0; i < sizeof minutes / sizeof *minutes; i++) {
        const double rows = 60 * 1440 / minutes[i];
        const double took = judged_median(m, 0, minutes[i] / 1440);
        printf("  %4g min %9.0f %9.4f %12.2f\n", minutes[i], rows, took, 1e6 * took / rows);
    }
    tl_model_free(m);
    free_loop(&s);
}

int main(int argc, char **argv)
{
    const char *part = argc > 1 ? argv[1] : "";
    const bool all = *part == '\0';
    if (all || strcmp(part, "year") == 0)
        year();
    if (all || strcmp(part, "scenarios") == 0)
        scenarios();
    if (all || strcmp(part, "size") == 0) {
        trays();
        events();
        row_periods();
    }
    return 0;
}
