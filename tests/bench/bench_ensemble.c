/* How many pond-years a core runs and judges in a second, by level of the vector lanes, and what a
 * second core adds. By hand:
 *
 *     meson compile -C build bench-ensemble
 *
 * Every level gets the loosest tolerance of a ladder at which the errors of all ponds compared stay
 * within 2e-4: the largest |y - exact|/max(|exact|, 0.05) of hourly ammonia, nitrite and oxygen against
 * GSL's rk8pd at 1e-10. Each pond is judged; rows are not written. Processor seconds, medians of three;
 * the threads are timed by the clock on the wall, best of five, since others may use the machine. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "batch.h"
#include "loops.h"
#include "towerloop/limits.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"
#include "walk.h"

#define MOST_ERROR 2e-4
#define YEAR_D     365.0
enum { PONDS = 16, COMPARED_PONDS = 4, TIMES = 3, WALL_TIMES = 5 };

static const double ladder[] = {1e-3, 7e-4, 5e-4, 3e-4, 2e-4, 1e-4, 3e-5, 1e-5, 1e-6};
enum { RUNGS = sizeof ladder / sizeof ladder[0] };

struct population {
    struct tl_pond pond[2 * PONDS]; /* the second half for the threads */
    struct tl_limits limits;
    struct hours exact[COMPARED_PONDS];
};

static double seconds(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void must(int status, const char *what)
{
    if (status == TL_OK)
        return;
    fprintf(stderr, "%s: %s\n", what, tl_status_text(status));
    exit(1);
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* --- who is run --------------------------------------------------------------------------------- */

/* -1 .. 1, spread evenly over the ponds and unlike for each property. */
static double spread(size_t pond, size_t property)
{
    const double x = (double)(pond + 1) * (0.6180339887 + 0.1307 * (double)property);
    return 2 * (x - floor(x)) - 1;
}

/* What a keeper does not know to the last: stock, surfaces, source water, growth. */
static void unlike(struct tl_setup *s, size_t i)
{
    s->fish[0].count *= 1 + 0.3 * spread(i, 0);
    s->tank.volume_m3 *= 1 + 0.1 * spread(i, 1);
    s->chamber.volume_m3 *= 1 + 0.2 * spread(i, 2);
    s->pump_flow_m3_d *= 1 + 0.2 * spread(i, 3);
    s->tower.plan_area_m2 *= 1 + 0.1 * spread(i, 4);
    s->source.water[TL_ALK] *= 1 + 0.2 * spread(i, 5);
    s->starting = s->source;
    s->params.mu_aob *= 1 + 0.2 * spread(i, 6);
    s->params.mu_nob *= 1 + 0.2 * spread(i, 7);
    s->params.k_tan *= 1 + 0.3 * spread(i, 8);
}

static void unlike_and_changing(struct tl_setup *s, size_t i)
{
    unlike(s, i);
    s->temperature = (struct tl_temperature){.kind = TL_TEMPERATURE_SINES,
                                             .mean_degC = 20 + 2 * spread(i, 9),
                                             .seasonal_swing_degC = 6,
                                             .warmest_noon_d = 85.5,
                                             .daily_swing_degC = 2};
}

static void populate(struct population *p, void (*change)(struct tl_setup *, size_t))
{
    unsigned long evaluations;
    memset(p, 0, sizeof *p);
    tl_limits_default(&p->limits);
    for (size_t i = 0; i < 2 * PONDS; i++) {
        struct tl_setup s;
        struct tl_model *m;
        reference_loop(&s, 40);
        s.length_d = YEAR_D;
        if (change)
            change(&s, i % PONDS);
        must(tl_model_build(&s, &m), "pond");
        p->pond[i] = (struct tl_pond){.model = m, .limits = &p->limits};
        free_loop(&s);
    }
    for (size_t i = 0; i < COMPARED_PONDS; i++)
        if (!walk(p->pond[i].model, &gsl_solvers[2], 1e-10, &p->exact[i], &evaluations))
            must(TL_E_SOLVER, "the reference");
}

static void clear(struct population *p)
{
    for (size_t i = 0; i < 2 * PONDS; i++)
        tl_model_free((struct tl_model *)p->pond[i].model);
    for (size_t i = 0; i < COMPARED_PONDS; i++)
        free(p->exact[i].value);
}

/* --- errors ------------------------------------------------------------------------------------- */

static int note(void *arg, size_t pond, size_t instant, const struct tl_snapshot *glance)
{
    struct hours *h = arg;
    if (pond < COMPARED_PONDS) {
        if (instant == 0)
            h[pond].n = 0;
        note_hour(&h[pond], glance->tank);
    }
    return TL_OK;
}

static double error_at(struct population *p, const char *level, double rtol)
{
    struct hours hours[COMPARED_PONDS] = {{0}};
    const struct tl_ponds_options o = {
        .rtol = rtol, .threads = 1, .level = level, .period_d = HOUR_D, .see = note, .arg = hours};
    double most = 0;
    must(tl_ponds_run(p->pond, PONDS, &o), level);
    for (size_t i = 0; i < COMPARED_PONDS; i++) {
        most = fmax(most, largest_error(&hours[i], &p->exact[i]));
        free(hours[i].value);
    }
    return most;
}

/* --- times -------------------------------------------------------------------------------------- */

static double run(struct population *p, size_t ponds, const char *level, double rtol,
                  unsigned threads, clockid_t clock)
{
    const struct tl_ponds_options o = {.rtol = rtol, .threads = threads, .level = level};
    const double begin = seconds(clock);
    must(tl_ponds_run(p->pond, ponds, &o), level);
    const double took = seconds(clock) - begin;
    for (size_t i = 0; i < ponds; i++)
        if (p->pond[i].status || strcmp(p->pond[i].level, level) != 0)
            must(TL_E_SOLVER, "a pond that left its lanes");
    return took;
}

/* Pond-years per core-second, and the tolerance they take. */
static double rate(struct population *p, const char *level, double *rtol, double *error)
{
    double took[TIMES];
    size_t rung = 0;
    while ((*error = error_at(p, level, ladder[rung])) > MOST_ERROR && rung + 1 < RUNGS)
        rung++;
    *rtol = ladder[rung];
    for (int k = 0; k < TIMES; k++)
        took[k] = run(p, PONDS, level, *rtol, 1, CLOCK_PROCESS_CPUTIME_ID);
    qsort(took, TIMES, sizeof *took, ascending);
    return PONDS / took[TIMES / 2];
}

static double best_wall(struct population *p, const char *level, double rtol, unsigned threads)
{
    double best = INFINITY;
    for (int k = 0; k < WALL_TIMES; k++)
        best = fmin(best, run(p, 2 * PONDS, level, rtol, threads, CLOCK_MONOTONIC));
    return best;
}

static void say_load(void)
{
    char line[80] = "";
    FILE *f = fopen("/proc/loadavg", "re");
    if (f && fgets(line, sizeof line, f))
        printf("load of the machine (1, 5, 15 min): %s", line);
    if (f)
        fclose(f);
}

static void measure(const char *name, void (*change)(struct tl_setup *, size_t))
{
    static struct population p;
    const size_t levels = tl_batch_levels();
    const char *level = "scalar";
    double rtol, error, scalar = 0;

    populate(&p, change);
    printf("\n%s, %d ponds\n  %-10s %7s %9s %14s %6s\n", name, PONDS, "", "rtol", "error",
           "pond-years/s", "ratio");
    for (size_t k = 0; k <= levels; k++) {
        level = k ? tl_batch_level_name(k - 1) : "scalar";
        const double per_s = rate(&p, level, &rtol, &error);
        scalar = k ? scalar : per_s;
        printf("  %-10s %7.0e %9.1e %14.1f %6.1f\n", level, rtol, error, per_s, per_s / scalar);
        fflush(stdout);
    }
    const double one = best_wall(&p, level, rtol, 1);
    const double two = best_wall(&p, level, rtol, 2);
    printf("  two threads, %s, %d ponds: %.3f s after %.3f s, %.2f times\n", level, 2 * PONDS, two,
           one, one / two);
    clear(&p);
}

int main(void)
{
    say_load();
    measure("a year of the reference loop, all alike", NULL);
    measure("a year, stock, sizes, flow, source and growth unlike", unlike);
    measure("the same with temperatures that change", unlike_and_changing);
    say_load();
    return 0;
}
