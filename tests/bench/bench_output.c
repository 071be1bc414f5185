/* How fast and how large the output of a run is, each figure beside its target. By hand:
 *
 *     meson compile -C build bench-output
 *
 * usage: bench_output TOWERLOOP FIVE_YEARS.yaml ONE_DAY.yaml; it works in a folder of its own under
 * /tmp. */
#include <dirent.h>
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "towerloop/assess.h"
#include "towerloop/scenario.h"
#include "towerloop/series.h"
#include "towerloop/status.h"

extern char **environ;

enum { YEAR_ROWS = 365 * 96, KEPT_ROWS = 20 * 96, TURNS = 5, STARTS = 20 };

static char folder[] = "/tmp/bench-output-XXXXXX";
static char run_folder[128], series_csv[128];

static _Noreturn void give_up(const char *what)
{
    fprintf(stderr, "bench_output: %s failed\n", what);
    exit(1);
}

static double seconds(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void say(const char *what, double value, const char *unit, double target)
{
    printf("%-52s %9.4g %-5s", what, value, unit);
    if (target > 0)
        printf("  at most %g%s", target, value <= target ? "" : "  MISSED");
    putchar('\n');
}

/* --- the program as a whole ------------------------------------------------------------------- */

struct usage {
    double clock_s;
    double cpu_s;   /* with what it started */
    double peak_mb; /* without what it started */
};

/* The most memory a running process has had; `before` when it cannot be read any more. */
static double peak_mb(pid_t child, double before)
{
    char path[64], line[256];
    snprintf(path, sizeof path, "/proc/%ld/status", (long)child);
    FILE *f = fopen(path, "re");
    long kb = 0;
    while (f && !kb && fgets(line, sizeof line, f))
        if (!strncmp(line, "VmHWM:", 6))
            kb = strtol(line + 6, NULL, 10);
    if (f)
        fclose(f);
    return fmax(before, (double)kb / 1024);
}

/* Runs a command and waits for it; `watch` its memory, which costs a little time. */
static struct usage run_command(char *const *argv, bool watch)
{
    posix_spawn_file_actions_t files;
    struct rusage r;
    struct usage u = {0};
    pid_t child, gone = 0;
    int state = 0;

    posix_spawn_file_actions_init(&files);
    posix_spawn_file_actions_addopen(&files, 1, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&files, 2, "/dev/null", O_WRONLY, 0);
    double from = seconds(CLOCK_MONOTONIC);
    if (posix_spawn(&child, argv[0], &files, NULL, argv, environ))
        give_up(argv[0]);
    while (watch && !(gone = wait4(child, &state, WNOHANG, &r))) {
        u.peak_mb = peak_mb(child, u.peak_mb);
        usleep(1000);
    }
    if (!watch)
        gone = wait4(child, &state, 0, &r);
    u.clock_s = seconds(CLOCK_MONOTONIC) - from;
    posix_spawn_file_actions_destroy(&files);
    if (gone != child || !WIFEXITED(state) || WEXITSTATUS(state))
        give_up(argv[1]);
    u.cpu_s = (double)(r.ru_utime.tv_sec + r.ru_stime.tv_sec) +
              1e-6 * (double)(r.ru_utime.tv_usec + r.ru_stime.tv_usec);
    return u;
}

static void measure_long_run(char *towerloop, char *scenario)
{
    char *run[] = {towerloop, "run", scenario, "--out", run_folder, "--force", "--no-charts", NULL};
    struct stat st;
    struct usage u = run_command(run, true);

    say("five years without charts: peak memory", u.peak_mb, "MB", 20);
    say("  the same: time", u.clock_s, "s", 0);
    if (stat(series_csv, &st))
        give_up("reading series.csv");
    say("  the same: series.csv", (double)st.st_size / 1e6, "MB", 0);
}

static void measure_charts(char *towerloop)
{
    char *chart[] = {towerloop, "chart", run_folder, NULL};
    char charts[160];
    struct usage u = run_command(chart, true);

    say("charts of five years: time", u.clock_s, "s", 20);
    say("  the same: CPU time, gnuplot's in it", u.cpu_s, "s", 0);
    say("  the same: peak memory without gnuplot", u.peak_mb, "MB", 20);
    snprintf(charts, sizeof charts, "%s/charts", run_folder);
    DIR *dir = opendir(charts);
    for (struct dirent *e; dir && (e = readdir(dir));) {
        struct stat st;
        if (strstr(e->d_name, ".svg") && !fstatat(dirfd(dir), e->d_name, &st, 0)) {
            char what[320];
            snprintf(what, sizeof what, "  the same: %s", e->d_name);
            say(what, (double)st.st_size / 1e3, "kB", 300);
        }
    }
    if (!dir)
        give_up("looking for charts");
    closedir(dir);
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *value, size_t n)
{
    qsort(value, n, sizeof *value, rising);
    return (value[n / 2] + value[(n - 1) / 2]) / 2;
}

static void measure_starts(char *towerloop, char *scenario, const char *what, char *setting,
                           double target_ms)
{
    char *run[] = {towerloop, "run",   scenario, "--out",       run_folder, "--force",
                   "--quiet", "--set", setting,  "--no-charts", NULL};
    double clock_ms[STARTS], cpu_ms[STARTS];
    char line[96];

    for (size_t i = 0; i < STARTS; i++) {
        struct usage u = run_command(run, false);
        clock_ms[i] = 1e3 * u.clock_s;
        cpu_ms[i] = 1e3 * u.cpu_s;
    }
    snprintf(line, sizeof line, "%s: time, median of %d", what, STARTS);
    say(line, median(clock_ms, STARTS), "ms", target_ms);
    say("  the same: CPU time", median(cpu_ms, STARTS), "ms", 0);
}

/* --- series.csv alone ------------------------------------------------------------------------- */

struct kept {
    const struct tl_model *model;
    struct tl_work *work;
    struct tl_snapshot *row;
    size_t rows;
    double snapshot_s;
};

static int keep(void *arg, double t_d, const struct tl_controls *controls, const double *y)
{
    struct kept *k = arg;
    double from = seconds(CLOCK_PROCESS_CPUTIME_ID);
    if (k->rows == KEPT_ROWS)
        return TL_OK;
    struct tl_snapshot *row = &k->row[k->rows++];
    int status = tl_snapshot_alloc(k->model, row);
    if (status == TL_OK)
        status = tl_model_snapshot(k->model, k->work, controls, t_d, y, row);
    k->snapshot_s += seconds(CLOCK_PROCESS_CPUTIME_ID) - from;
    return status;
}

static double write_year(const struct tl_scenario *scenario, struct kept *k)
{
    struct tl_series *s;
    char path[128];
    snprintf(path, sizeof path, "%s/year.csv", folder);
    double from = seconds(CLOCK_MONOTONIC);
    if (tl_series_open(path, &scenario->start, tl_series_shape_of(&k->row[0]), &s) != TL_OK)
        give_up("opening series.csv");
    for (size_t i = 0; i < YEAR_ROWS; i++) {
        struct tl_snapshot *row = &k->row[i % k->rows];
        row->t_d = (double)i / 96;
        tl_series_add(s, row);
    }
    if (tl_series_close(s) != TL_OK)
        give_up("writing series.csv");
    double s_year = seconds(CLOCK_MONOTONIC) - from;
    remove(path);
    return s_year;
}

/* Rows of the first days of the scenario, over and over until a year is full. */
static void measure_series(const char *path)
{
    static const char *const set[] = {"length=20 d", "events=[]"};
    const struct tl_scenario_options options = {.set = set, .sets = sizeof set / sizeof *set};
    struct tl_scenario scenario;
    struct tl_diag diag;
    struct tl_model *model = NULL;
    struct tl_assessment assessment;
    struct kept k = {.row = calloc(KEPT_ROWS, sizeof *k.row)};
    double time_s[TURNS];

    tl_diag_init(&diag);
    if (!k.row || tl_scenario_read(path, &options, &scenario, &diag) != TL_OK ||
        tl_model_build(&scenario.setup, &model) != TL_OK || tl_work_new(model, &k.work) != TL_OK)
        give_up("reading the scenario");
    k.model = model;
    const struct tl_observer observer = {.period_d = 1.0 / 96, .see = keep, .arg = &k};
    const struct tl_assess_options how = {.observer = &observer, .observers = 1};
    if (tl_assess(model, &scenario.limits, &how, &assessment) != TL_OK)
        give_up("running the scenario");

    for (size_t i = 0; i < TURNS; i++)
        time_s[i] = write_year(&scenario, &k);
    double s_year = median(time_s, TURNS);
    say("a year of series.csv, every 15 min", s_year, "s", 0.35);
    say("  the same: rows a second", YEAR_ROWS / s_year, "1/s", 0);
    say("  a year of snapshots for it, by the model", k.snapshot_s * YEAR_ROWS / (double)k.rows,
        "s", 0);

    for (size_t i = 0; i < k.rows; i++)
        tl_snapshot_free(&k.row[i]);
    free(k.row);
    tl_work_free(k.work);
    tl_model_free(model);
    tl_scenario_free(&scenario);
    tl_diag_free(&diag);
}

int main(int argc, char **argv)
{
    if (argc != 4 || !mkdtemp(folder)) {
        fprintf(stderr, "usage: bench_output TOWERLOOP FIVE_YEARS.yaml ONE_DAY.yaml\n");
        return 2;
    }
    snprintf(run_folder, sizeof run_folder, "%s/run", folder);
    snprintf(series_csv, sizeof series_csv, "%s/run/series.csv", folder);
    measure_starts(argv[1], argv[3], "one day, nothing to advise", "tower.biofilm=mature", 20);
    measure_starts(argv[1], argv[3], "one day, with advice", "source water.pH=7.8", 0);
    measure_series(argv[2]);
    measure_long_run(argv[1], argv[2]);
    measure_charts(argv[1]);
    char *clean[] = {"/bin/rm", "-r", folder, NULL};
    run_command(clean, false);
    return 0;
}
