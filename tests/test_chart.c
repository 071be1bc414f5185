/* The charts: what stands on them, and what happens when gnuplot, a font or the data are not right. */
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "driver_chart.h"
#include "fan_chart.h"
#include "gnuplot.h"
#include "layout.h"
#include "near.h"
#include "picture.h"
#include "plan.h"
#include "text.h"
#include "thin.h"
#include "towerloop/chart.h"
#include "towerloop/status.h"

/* --- a place to work in -------------------------------------------------------------------- */

static char base[PATH_MAX], real_gnuplot[PATH_MAX];

static void remove_tree(const char *path)
{
    DIR *dir = opendir(path);
    for (struct dirent *e; dir && (e = readdir(dir));) {
        char inner[2 * PATH_MAX];
        struct stat st;
        if (!strcmp(e->d_name, ".") || !strcmp(e->d_name, ".."))
            continue;
        snprintf(inner, sizeof inner, "%s/%s", path, e->d_name);
        if (!lstat(inner, &st) && S_ISDIR(st.st_mode))
            remove_tree(inner);
        else
            unlink(inner);
    }
    if (dir)
        closedir(dir);
    rmdir(path);
}

static const char *at(const char *name)
{
    static char path[4][2 * PATH_MAX];
    static unsigned turn;
    char *p = path[turn++ % 4];
    snprintf(p, sizeof path[0], "%s/%s", base, name);
    return p;
}

static void write_file(const char *path, const char *text)
{
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    assert_int_equal(fclose(f), 0);
}

/* Puts a program named gnuplot alone on the PATH; NULL: an empty PATH. */
static void fake_gnuplot(const char *script)
{
    mkdir(at("bin"), 0755);
    unlink(at("bin/gnuplot"));
    if (script) {
        write_file(at("bin/gnuplot"), script);
        chmod(at("bin/gnuplot"), 0755);
    }
    setenv("PATH", at("bin"), 1);
}

static char *usual_path;

static int setup(void **state)
{
    (void)state;
    strcpy(base, "/tmp/test-chart-XXXXXX");
    if (!mkdtemp(base))
        return -1;
    usual_path = strdup(getenv("PATH") ? getenv("PATH") : "/usr/bin:/bin");
    char *copy = strdup(usual_path), *rest = copy;
    for (char *dir; (dir = strsep(&rest, ":"));) {
        snprintf(real_gnuplot, sizeof real_gnuplot, "%s/gnuplot", dir);
        if (!access(real_gnuplot, X_OK))
            break;
    }
    free(copy);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    remove_tree(base);
    free(usual_path);
    return 0;
}

static int restore_path(void **state)
{
    (void)state;
    setenv("PATH", usual_path, 1);
    unsetenv("FONTCONFIG_FILE");
    return 0;
}

/* --- a run that never was ------------------------------------------------------------------ */

static const char *const water[] = {
    "tan_mgN_L",    "nh3_mgN_L",  "no2_mgN_L", "no3_mgN_L",
    "o2_mg_L",      "o2_sat_pct", "ph",        "alkalinity_mgCaCO3_L",
    "chloride_mg_L"};
static const char *const film[] = {"aob_gCOD_m2", "nob_gCOD_m2", "het_gCOD_m2", "voids_filled_pct"};
enum { WATER = sizeof water / sizeof *water, FILM = sizeof film / sizeof *film, TRAYS = 3 };

static double noise;          /* on the daily waves */
static bool outdoors;         /* with the columns of a run in the weather */
static double colder;         /* so much, degC; water freezes */
static bool detailed;         /* with what the fish excrete and the water of each tray */
static bool growing;          /* ammonia peaks on day 10, nitrite on day 20 */
static double chlorine = NAN; /* on day 1, mg/L; 0: there is a column without any; NAN: no column */

/* Smooth daily waves; the oxygen dips to 2.5 on day 1 at 06:00; the tower's outlet has no value from
 * then until 12:00. `skip` leaves out one column. */
static void write_series(const char *path, double days, double step_d, const char *skip)
{
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fprintf(f, "time_d,time_iso");
    for (int i = 0; i < WATER; i++) {
        char name[64];
        snprintf(name, sizeof name, "tank_%s", water[i]);
        if (!skip || strcmp(skip, name))
            fprintf(f, ",%s", name);
    }
    fprintf(f, ",tower_out_o2_mg_L,temperature_degC,flow_m3_h,feed_g_d");
    for (int t = 1; t <= TRAYS; t++)
        for (int i = 0; i < FILM; i++)
            fprintf(f, ",tray%02d_%s", t, film[i]);
    fprintf(f, "%s", outdoors ? ",air_temperature_degC,evaporation_L_d" : "");
    if (detailed)
        fprintf(f, ",excreted_tan_gN_d,chamber_tan_mgN_L,chamber_no2_mgN_L,chamber_o2_mg_L");
    fprintf(f, "%s", isnan(chlorine) ? "" : ",tank_chlorine_mgCl2_L");
    for (int t = 1; t <= TRAYS && detailed; t++)
        fprintf(f, ",tray%02d_o2_mg_L,tray%02d_tan_mgN_L,tray%02d_no2_mgN_L", t, t, t);
    fprintf(f, "\n");
    long rows = lround(days / step_d);
    for (long k = 0; k <= rows; k++) {
        double t = 0.25 + (double)k * step_d;
        double wave = sin(6.283185307 * t) + noise * sin(12.9898 * (double)(k % 9973) * (double)k);
        double o2 = 7.5 + wave - (fabs(t - 1.25) < 0.6 * step_d ? 6 : 0);
        double value[] = {1 + 0.4 * wave, 0.03 + 0.01 * wave, 0.3 + 0.1 * wave, 10 + t, o2,
                          100 * o2 / 9,   8 + 0.2 * wave,     200 - t,          20};
        if (growing) {
            value[0] = 5 * exp(-pow((t - 10) / 4, 2));
            value[2] = 6 * exp(-pow((t - 20) / 5, 2));
        }
        fprintf(f, "%.9g,2027-05-01T06:00:00", t);
        for (int i = 0; i < WATER; i++) {
            char name[64];
            snprintf(name, sizeof name, "tank_%s", water[i]);
            if (!skip || strcmp(skip, name))
                fprintf(f, ",%.6g", value[i]);
        }
        if (t > 1.25 && t < 1.5)
            fprintf(f, ",");
        else
            fprintf(f, ",%.6g", 8.5 + 0.3 * wave);
        fprintf(f, ",%.6g,4.5,%g", fmax(0, 20 + wave - colder), 400.0);
        for (int i = 0; i < TRAYS * FILM; i++)
            fprintf(f, ",%.6g", 0.1 * (i + 1) * (1 - exp(-t)));
        if (outdoors)
            fprintf(f, ",%.6g,%.6g", 15 + 4 * wave - colder, 50 + 10 * wave - 3 * colder);
        if (detailed)
            fprintf(f, ",%.6g,1,0.3,6", 20 + 5 * wave);
        if (!isnan(chlorine))
            fprintf(f, ",%.6g", t >= 1 ? chlorine * exp(1 - t) : 0);
        for (int tray = 1; tray <= TRAYS && detailed; tray++)
            fprintf(f, ",%.6g,%.6g,%.6g", 6 + 0.5 * tray, 1 - 0.2 * tray, 0.3 + 0.01 * tray);
        fprintf(f, "\n");
    }
    assert_int_equal(fclose(f), 0);
}

static struct tl_chart_options usual_options(struct tl_chart_limit *limits)
{
    struct tl_limits l = {.nh3 = {0.02, 0.05},
                          .tan_caution = NAN,
                          .tan_danger = NAN,
                          .no2 = {0.2, 0.5},
                          .no3 = {40, 100},
                          .o2 = {6, 3},
                          .chlorine = {0.011, 0.019},
                          .ph_low = {7, 6},
                          .ph_high = {8.5, 9},
                          .alk = {70 / 50.04, 40 / 50.04}};
    struct tl_chart_options o = {.plots_dir = PLOTS_DIR,
                                 .title = "A tank in spring",
                                 .start_year = 2027,
                                 .start_month = 5,
                                 .start_day = 1,
                                 .limit = limits};

    o.limits = tl_chart_limits(&l, limits, TL_CHART_LIMITS);
    return o;
}

static char out_dir[2 * PATH_MAX], series[2 * PATH_MAX];

/* Draws into a new, empty folder. */
static int draw(struct tl_chart_options *o, struct tl_chart_outcome *outcome)
{
    snprintf(out_dir, sizeof out_dir, "%s", at("charts"));
    remove_tree(out_dir);
    o->out_dir = out_dir;
    o->series_csv = series;
    return tl_charts_draw(o, outcome);
}

static char *read_out(const char *name)
{
    char path[3 * PATH_MAX], *data = NULL;
    size_t n;
    snprintf(path, sizeof path, "%s/%s", out_dir, name);
    assert_int_equal(tl_read_file(path, 1 << 26, &data, &n), TL_OK);
    return data;
}

static void holds(const char *text, const char *what)
{
    if (!strstr(text, what))
        fail_msg("the picture does not say \"%s\"", what);
}

static size_t files_in(const char *path)
{
    DIR *dir = opendir(path);
    size_t n = 0;
    for (struct dirent *e; dir && (e = readdir(dir));)
        n += strcmp(e->d_name, ".") && strcmp(e->d_name, "..");
    if (dir)
        closedir(dir);
    return n;
}

static void two_days(void)
{
    snprintf(series, sizeof series, "%s", at("series.csv"));
    write_series(series, 2, 1.0 / 96, NULL);
}

/* --- fewer points -------------------------------------------------------------------------- */

static double random_share(unsigned *seed)
{
    *seed = *seed * 1103515245u + 12345u;
    return (*seed >> 16) / 65536.0;
}

/* Is there a point at this time with this value? */
static bool has_point(const struct tl_trace *tr, double t, double value)
{
    for (size_t i = 0; i < tr->points; i++)
        if (tr->point[i].t == t && (tr->point[i].value == value || isnan(value)))
            return isnan(value) == isnan(tr->point[i].value);
    return false;
}

static void thinning_keeps_extremes_ends_and_gaps(void **state)
{
    (void)state;
    enum { N = 100000, MOST = 4000, BUCKETS = (MOST - 2) / 2 };
    double *v = malloc(N * sizeof *v);
    struct tl_trace tr;
    unsigned seed = 1;
    assert_non_null(v);
    for (size_t i = 0; i < N; i++)
        v[i] = random_share(&seed);
    v[31234] = 9;
    v[31235] = -9; /* neighbours: both must stay */
    v[77777] = NAN;
    assert_int_equal(tl_trace_points(&tr, N, MOST), TL_OK);
    for (size_t i = 0; i < N; i++)
        tl_trace_add(&tr, (double)i, v[i]);
    tl_trace_end(&tr, 0, N);
    assert_true(tr.points <= MOST + 1); /* and the gap */
    assert_true(tr.points > MOST * 9 / 10);
    assert_true(has_point(&tr, 0, v[0]));
    assert_true(has_point(&tr, N - 1, v[N - 1]));
    assert_true(has_point(&tr, 31234, 9));
    assert_true(has_point(&tr, 31235, -9));
    assert_true(has_point(&tr, 77777, NAN));
    near(tr.highest, 9, 0);
    near(tr.highest_t, 31234, 0);
    near(tr.lowest, -9, 0);
    near(tr.lowest_t, 31235, 0);
    for (size_t i = 1; i < tr.points; i++)
        assert_true(tr.point[i].t > tr.point[i - 1].t);
    /* every bucket's own extremes stay, so no stretch of the picture changes its outline */
    for (size_t b = 0, k = 0; b < BUCKETS; b++) {
        double low = INFINITY, high = -INFINITY, low_kept = INFINITY, high_kept = -INFINITY;
        for (size_t i = b * N / BUCKETS; i < (b + 1) * N / BUCKETS; i++) {
            low = fmin(low, v[i]);
            high = fmax(high, v[i]);
            if (k < tr.points && tr.point[k].t == (double)i) {
                low_kept = fmin(low_kept, tr.point[k].value);
                high_kept = fmax(high_kept, tr.point[k++].value);
            }
        }
        near(low_kept, low, 0);
        near(high_kept, high, 0);
    }
    tl_trace_free(&tr);
    /* few enough: all stay */
    assert_int_equal(tl_trace_points(&tr, 1000, 1000), TL_OK);
    for (size_t i = 0; i < 1000; i++)
        tl_trace_add(&tr, (double)i, v[i]);
    tl_trace_end(&tr, 0, 1000);
    assert_int_equal(tr.points, 1000);
    tl_trace_free(&tr);
    free(v);
}

static void bands_hold_mean_and_extremes_of_their_days(void **state)
{
    (void)state;
    struct tl_trace tr;
    assert_int_equal(tl_band_count(0, 4, 1), 4);
    assert_int_equal(tl_band_count(0, 0.1, 1), 1);
    assert_int_equal(tl_trace_bands(&tr, 97, 0, 4, 4), TL_OK);
    for (int i = 0; i < 97; i++) /* four days, hourly; day 2 has no values */
        tl_trace_add(&tr, i / 24.0, i / 24 == 2 ? (double)NAN : i % 24 + (i == 30 ? 100 : 0));
    tl_trace_end(&tr, 0, 4);
    assert_int_equal(tr.points, 4);
    near(tr.point[0].value, 11.5, 1e-12);
    near(tr.point[0].low, 0, 0);
    near(tr.point[0].high, 23, 0);
    near(tr.point[0].t, 0.5, 1e-12);
    near(tr.point[1].high, 106, 0);
    near(tr.point[1].value, 11.5 + 100.0 / 24, 1e-12);
    assert_true(isnan(tr.point[2].value));
    near(tr.point[3].high, 23, 0); /* the row at the very end belongs to the last band */
    near(tr.point[3].low, 0, 0);
    near(tr.point[3].value, (11.5 * 24 + 0) / 25, 1e-12);
    near(tr.highest, 106, 0);
    near(tr.highest_t, 1.25, 0);
    tl_trace_free(&tr);
}

/* What a run knows to have happened between its rows is lowest or highest of its band, and no mean. */
static void an_extreme_between_rows_counts(void **state)
{
    (void)state;
    struct tl_trace tr;
    assert_int_equal(tl_trace_bands(&tr, 17, 0, 4, 4), TL_OK);
    for (int i = 0; i < 16; i++) { /* four days, every 6 hours */
        if (i == 6)
            tl_trace_add_extreme(&tr, 1.4, 2);
        tl_trace_add(&tr, i / 4.0, 8);
    }
    tl_trace_end(&tr, 0, 4);
    near(tr.point[1].low, 2, 0);
    near(tr.point[1].high, 8, 0);
    near(tr.point[1].value, 8, 1e-12);
    near(tr.point[2].low, 8, 0);
    near(tr.lowest_t, 1.4, 0);
    tl_trace_free(&tr);
    /* and a point of a curve whose every row is drawn */
    assert_int_equal(tl_trace_points(&tr, 5, 100), TL_OK);
    for (int i = 0; i < 4; i++) {
        if (i == 2)
            tl_trace_add_extreme(&tr, 1.4, 2);
        tl_trace_add(&tr, i, 8);
    }
    tl_trace_end(&tr, 0, 100);
    assert_int_equal(tr.points, 5);
    near(tr.point[2].value, 2, 0);
    near(tr.point[2].t, 1.4, 0);
    near(tr.point[4].t, 3, 0);
    tl_trace_free(&tr);
}

/* The curve's value at `t`, from the two points beside it. */
static double drawn_at(const struct tl_trace *tr, double t)
{
    size_t i = 1;
    while (i + 1 < tr->points && tr->point[i].t < t)
        i++;
    const struct tl_point *a = &tr->point[i - 1], *b = &tr->point[i];
    return a->value + (t - a->t) / (b->t - a->t) * (b->value - a->value);
}

/* Each from where it begins to where it ends: what comes at an edge shows only after it. */
static void steps_show_no_effect_before_its_cause(void **state)
{
    (void)state;
    /* an event at 1.4, written as a hair earlier; none but it between two rows; the last day is a gap */
    static const double edge[] = {0, 1, 1.4, 1.45, 2, 3, 4};
    struct tl_trace tr;
    assert_int_equal(tl_trace_steps(&tr, 41, edge, 6), TL_OK);
    for (int i = 0; i <= 40; i++) {
        const double t = i == 14 ? 1.3999995 : i / 10.0;
        tl_trace_add(&tr, t, i < 14 ? 5 : i == 14 ? 12 : i < 20 ? 9 : i < 30 ? 7.25 : (double)NAN);
    }
    tl_trace_finish(&tr);
    assert_int_equal(tr.points, 2 * 6);
    near(tr.point[3].value, 5, 0); /* until the event */
    near(tr.point[3].t, 1.4, 0);
    near(tr.point[4].value, 12, 0); /* the row at the event belongs to what follows */
    near(tr.point[4].t, 1.4, 0);
    assert_true(isnan(tr.point[11].value));
    /* the highest is where it is drawn */
    near(tr.highest_t, 1.4, 1e-6);
    near(tr.point[4].high, tr.highest, 0);
    tl_trace_free(&tr);

    /* a band without a row takes on what was before it, and the corners stay */
    assert_int_equal(tl_trace_steps(&tr, 40, edge, 6), TL_OK);
    for (int i = 0; i <= 40; i++)
        if (i != 14)
            tl_trace_add(&tr, i / 10.0, i < 14 ? 5 : i < 20 ? 9 : i < 30 ? 7.25 : (double)NAN);
    tl_trace_end(&tr, 0, 1000);
    assert_true(tr.points > 5);
    near(drawn_at(&tr, 1.44), 5, 0);
    near(drawn_at(&tr, 1.46), 9, 0);
    near(drawn_at(&tr, 1.99), 9, 0);
    near(drawn_at(&tr, 2.01), 7.25, 0);
    tl_trace_free(&tr);
}

static void straight_stretches_need_no_points(void **state)
{
    (void)state;
    enum { N = 2000 };
    struct tl_trace tr;

    /* straight up, down, nothing, and level: the corners stay, and the gap */
    assert_int_equal(tl_trace_points(&tr, 401, N), TL_OK);
    for (int i = 0; i <= 400; i++)
        tl_trace_add(&tr, i, i <= 100 ? i : i <= 200 ? 200 - i : i < 300 ? (double)NAN : 50);
    tl_trace_end(&tr, 1e-9, N);
    static const double corner[] = {0, 100, 200, 201, 300, 400};
    assert_int_equal(tr.points, sizeof corner / sizeof *corner);
    for (size_t i = 0; i < tr.points; i++)
        near(tr.point[i].t, corner[i], 0);
    tl_trace_free(&tr);

    /* bent ones are off by the tolerance at most, the extremes not at all */
    for (double tolerance = 1e-4; tolerance < 0.05; tolerance *= 3) {
        assert_int_equal(tl_trace_points(&tr, N, N), TL_OK);
        for (int i = 0; i < N; i++)
            tl_trace_add(&tr, i, sin(0.02 * i) + 0.3 * sin(0.003 * i) - (i == 1234 ? 5 : 0));
        tl_trace_end(&tr, tolerance, N);
        assert_true(tr.points < N / 4);
        assert_true(has_point(&tr, 1234, sin(0.02 * 1234) + 0.3 * sin(0.003 * 1234) - 5));
        assert_true(has_point(&tr, tr.highest_t, tr.highest));
        for (int i = 0; i < N; i++)
            near(drawn_at(&tr, i), sin(0.02 * i) + 0.3 * sin(0.003 * i) - (i == 1234 ? 5 : 0),
                 tolerance * (tr.highest - tr.lowest) * 1.000001);
        tl_trace_free(&tr);
    }

    /* of a band neither the mean nor the lowest nor the highest is off */
    assert_int_equal(tl_trace_bands(&tr, 8 * N, 0, 8.0 * N, N), TL_OK);
    for (int i = 0; i < 8 * N; i++)
        tl_trace_add(&tr, i, 10 + (i == 8 * 777 ? -3 : 0) + (i % 8 == 3 && i < 800));
    tl_trace_end(&tr, 1e-3, N);
    assert_true(tr.points < 10);
    size_t dips = 0;
    for (size_t i = 0; i < tr.points; i++)
        dips += tr.point[i].low == 7 && tr.point[i].t == 8 * 777.5 + 0.0;
    assert_int_equal(dips, 1);
    tl_trace_free(&tr);

    /* too many bends: as many as asked for, the extremes among them */
    unsigned seed = 3;
    assert_int_equal(tl_trace_points(&tr, N, N), TL_OK);
    for (int i = 0; i < N; i++)
        tl_trace_add(&tr, i, random_share(&seed));
    tl_trace_end(&tr, 1e-3, 200);
    assert_true(tr.points <= 200);
    assert_true(has_point(&tr, tr.lowest_t, tr.lowest));
    assert_true(has_point(&tr, tr.highest_t, tr.highest));
    tl_trace_free(&tr);
}

/* --- layout -------------------------------------------------------------------------------- */

static void names_are_spread_apart(void **state)
{
    (void)state;
    double free_ones[] = {10, 40, 90}, close[] = {50, 51, 52}, low[] = {0, 1, 90};
    tl_spread(free_ones, 3, 16, 0, 100);
    near(free_ones[0], 10, 1e-12);
    near(free_ones[1], 40, 1e-12);
    near(free_ones[2], 90, 1e-12);
    tl_spread(close, 3, 16, 0, 100);
    near(close[0], 35, 1e-12);
    near(close[1], 51, 1e-12); /* centred on where they were */
    near(close[2], 67, 1e-12);
    tl_spread(low, 3, 16, 4, 100);
    near(low[0], 4, 1e-12);
    near(low[1], 20, 1e-12);
    near(low[2], 90, 1e-12);
}

/* Text of one in the text of another, or another's line through it? */
static int words_clash(const struct tl_word *a, const struct tl_word *b)
{
    double af = a->to_the_left ? a->x - a->width : a->x, at_ = af + a->width;
    double bf = b->to_the_left ? b->x - b->width : b->x, bt = bf + b->width;
    if (a->row == b->row)
        return af + 1 < bt && bf + 1 < at_;
    return a->row > b->row && a->x > bf + 1 && a->x < bt - 1;
}

static void event_words_do_not_collide(void **state)
{
    (void)state;
    unsigned random = 7;
    size_t placed = 0, all = 0;
    for (int trial = 0; trial < 300; trial++) {
        struct tl_word word[12];
        double x = 76;
        for (int i = 0; i < 12; i++) {
            random = random * 1103515245u + 12345u;
            x += (random >> 16) % 140;
            word[i] = (struct tl_word){.x = fmin(x, 918), .width = 60 + (random >> 20) % 150};
        }
        int rows = tl_place_words(word, 12, 5, 76, 1190);
        assert_true(rows >= 1 && rows <= 5);
        for (int i = 0; i < 12; i++) {
            all++;
            if (word[i].row < 0)
                continue;
            placed++;
            assert_true(word[i].row < rows);
            assert_true(word[i].to_the_left ? word[i].x - word[i].width >= 76
                                            : word[i].x + word[i].width <= 1190);
            for (int k = 0; k < 12; k++)
                assert_false(k != i && word[k].row >= 0 && words_clash(&word[i], &word[k]));
        }
    }
    assert_true(placed > all * 3 / 4);
}

static void dates_agree_with_the_calendar_of_the_system(void **state)
{
    (void)state;
    const struct tl_calendar start = {1900, 1, 1};
    const time_t origin = -2208988800; /* 1900-01-01T00:00Z */
    for (long day = 0; day < 366 * 300; day += 37) {
        struct tm tm;
        time_t t = origin + day * 86400;
        assert_non_null(gmtime_r(&t, &tm));
        struct tl_calendar c = tl_calendar_at(&start, day);
        assert_int_equal(c.year, tm.tm_year + 1900);
        assert_int_equal(c.month, tm.tm_mon + 1);
        assert_int_equal(c.day, tm.tm_mday);
    }
}

static void ticks_suit_hours_weeks_and_years(void **state)
{
    (void)state;
    const struct tl_calendar start = {2027, 5, 1};
    struct tl_tick tick[TL_TICKS];
    size_t n = tl_time_ticks(&start, 0.25, 2.25, 842, tick);
    assert_int_equal(n, 9); /* every 6 h */
    assert_string_equal(tick[0].clock, "06:00");
    assert_string_equal(tick[0].date, "day 0, 1 May");
    assert_string_equal(tick[3].clock, "00:00");
    assert_string_equal(tick[3].date, "day 1, 2 May 2027");
    assert_string_equal(tick[1].date, "");
    n = tl_time_ticks(&start, 0, 60, 842, tick);
    assert_int_equal(n, 7);
    assert_string_equal(tick[0].date, "1 May 2027");
    assert_string_equal(tick[2].clock, "day 20");
    assert_string_equal(tick[2].date, "21 May");
    n = tl_time_ticks(&start, 0, 1095, 842, tick);
    assert_int_equal(n, 6); /* every half year */
    assert_string_equal(tick[1].date, "Jan 2028");
    assert_string_equal(tick[1].clock, "day 245");
    for (double span = 0.02; span < 40000; span *= 1.3) { /* at least 70 px a label */
        n = tl_time_ticks(&start, 0.3, 0.3 + span, 842, tick);
        assert_true(n <= 12);
        for (size_t i = 1; i < n; i++)
            assert_true((tick[i].t_d - tick[i - 1].t_d) / span * 842 >= 70);
        if (span > 0.2)
            assert_true(n >= 2);
    }
}

/* --- text ---------------------------------------------------------------------------------- */

static void text_is_made_fit_for_a_picture(void **state)
{
    (void)state;
    char out[64];
    tl_text_clean("  a\n\tb\x01"
                  "c\x7f  ",
                  100, false, out, sizeof out);
    assert_string_equal(out, "a b c");
    tl_text_clean("Teich f\xc3\xbcr Koi", 100, false, out, sizeof out);
    assert_string_equal(out, "Teich f\xc3\xbcr Koi");
    tl_text_clean("bad \xff\xc3 end \xe2\x80\xae"
                  "rtl",
                  100, false, out, sizeof out);
    assert_string_equal(out, "bad ?? end rtl");
    tl_text_clean("surrogate \xed\xa0\x80", 100, false, out, sizeof out);
    assert_string_equal(out, "surrogate ???");
    char endless[5000];
    memset(endless, 'x', sizeof endless);
    endless[sizeof endless - 1] = '\0';
    tl_text_clean(endless, 20, false, out, sizeof out);
    assert_true(tl_text_width(out) <= 20);
    assert_non_null(strstr(out, "…"));
    tl_text_clean(endless, 1e6, false, out, sizeof out); /* the buffer is the limit */
    assert_true(strlen(out) < sizeof out);
    size_t used = tl_text_clean("one two three", tl_text_width("one two t"), true, out, sizeof out);
    assert_string_equal(out, "one two");
    assert_int_equal(used, 8);
}

/* The width of a text is estimated from above; the picture is 1200 px wide. */
static void our_own_words_fit_the_picture(void **state)
{
    (void)state;
    for (int c = 0; c < TL_NCHART; c++) {
        const struct tl_chart_plan *plan = &tl_chart_plan[c];
        assert_true(!plan->note || 24 + tl_text_width(plan->note) * 15 <= 1190);
        assert_true(24 + tl_text_width(plan->subject) * 20 <= 1000);
        for (int p = 0; p < TL_PANELS && plan->panel[p].heading; p++)
            assert_true(76 + tl_text_width(plan->panel[p].heading) * 17 <= 1190);
    }
}

static void words_run_from_the_left(void **state)
{
    (void)state;
    static const struct {
        const char *text, *quoted;
    } row[] = {{"\u05e9\u05dc\u05d5\u05dd: danger", "'\u200e\u05e9\u05dc\u05d5\u05dd: danger'"},
               {"koi \u0645\u0627\u0621", "'\u200ekoi \u0645\u0627\u0621'"},
               {"Gr\u00f6\u00dfe \u9bc9", "'Gr\u00f6\u00dfe \u9bc9'"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char *text = NULL;
        size_t size;
        FILE *f = open_memstream(&text, &size);
        tl_gnuplot_quote(f, row[i].text, 100);
        fclose(f);
        assert_string_equal(text, row[i].quoted);
        free(text);
    }
}

static void quotes_are_doubled(void **state)
{
    (void)state;
    char *text = NULL;
    size_t size;
    FILE *f = open_memstream(&text, &size);
    tl_gnuplot_quote(f, "it's `x`\n\"y\"", 100);
    fclose(f);
    assert_string_equal(text, "'it''s `x` \"y\"'");
    free(text);
}

/* Thousands of texts full of what means something to gnuplot: each comes back as it was. */
static void any_text_passes_through_gnuplot(void **state)
{
    (void)state;
    static const char letters[] = "''''\"`\\ a;$@#{%!|<";
    enum { TEXTS = 5000, LONGEST = 16 };
    unsigned random = 11;
    char(*text)[LONGEST + 1] = calloc(TEXTS, sizeof *text), clean[64], *data = NULL;
    struct tl_gnuplot_result r;
    size_t n;
    FILE *f = fopen(at("quote.gp"), "w");
    assert_non_null(text);
    assert_non_null(f);
    fprintf(f, "set encoding utf8\na = 'expanded'\nset print 'quote.out'\n");
    for (int i = 0; i < TEXTS; i++) {
        random = random * 1103515245u + 12345u;
        unsigned length = 1 + (random >> 16) % LONGEST;
        for (unsigned k = 0; k < length; k++) {
            random = random * 1103515245u + 12345u;
            text[i][k] = letters[(random >> 16) % (sizeof letters - 1)];
        }
        fprintf(f, "set label 1 ");
        tl_gnuplot_quote(f, text[i], 100);
        fprintf(f, " at screen 0, 0\nprint ");
        tl_gnuplot_quote(f, text[i], 100);
        fprintf(f, "\n");
    }
    fprintf(f, "set print\n");
    assert_int_equal(fclose(f), 0);
    if (tl_gnuplot_run(base, "quote.gp", 60, NULL, &r))
        fail_msg("%s", r.said);
    assert_int_equal(tl_read_file(at("quote.out"), 1 << 26, &data, &n), TL_OK);
    char *rest = data;
    for (int i = 0; i < TEXTS; i++) {
        char *line = strsep(&rest, "\n"), straight[64];
        size_t to = 0;
        assert_non_null(line);
        for (const char *p = line; *p; p++) /* the typographic apostrophe counts as the plain one */
            if (!strncmp(p, "’", 3)) {
                straight[to++] = '\'';
                p += 2;
            } else {
                straight[to++] = *p;
            }
        straight[to] = '\0';
        tl_text_clean(text[i], 100, false, clean, sizeof clean);
        assert_string_equal(straight, clean);
    }
    free(data);
    free(text);
}

/* --- pictures ------------------------------------------------------------------------------ */

static void broken_pictures_are_told_from_whole_ones(void **state)
{
    (void)state;
    char why[64], script[4 * PATH_MAX];
    struct tl_gnuplot_result r;
    snprintf(
        script, sizeof script,
        "set terminal pngcairo size 1200,700\nset output 'blank.png'\nunset border\nunset tics\n"
        "plot [0:1] [0:1] 2 notitle\nset output 'good.png'\nset border\nset tics\n"
        "plot [0:1] [0:1] x\nset terminal svg\nset output 'good.svg'\nreplot\nset output\n");
    write_file(at("p.gp"), script);
    assert_int_equal(tl_gnuplot_run(base, "p.gp", 60, NULL, &r), TL_OK);
    assert_true(tl_picture_whole(at("good.png"), why, sizeof why));
    assert_true(tl_picture_whole(at("good.svg"), why, sizeof why));
    assert_false(tl_picture_whole(at("blank.png"), why, sizeof why));
    assert_string_equal(why, "is blank");
    assert_false(tl_picture_whole(at("none.png"), why, sizeof why));
    assert_string_equal(why, "was not written");
    static const char *const name[] = {"good.png", "good.svg"};
    for (int k = 0; k < 2; k++) {
        char *data = NULL;
        size_t n;
        assert_int_equal(tl_read_file(at(name[k]), 1 << 26, &data, &n), TL_OK);
        for (size_t cut = 0; cut < n - 1; cut += 1 + n / 200) {
            const char *path = at(k ? "cut.svg" : "cut.png");
            FILE *f = fopen(path, "wb");
            fwrite(data, 1, cut, f);
            fclose(f);
            if (tl_picture_whole(path, why, sizeof why))
                fail_msg("%s cut to %zu of %zu bytes passed", name[k], cut, n);
        }
        free(data);
    }
    FILE *f = fopen(at("good.png"), "ab");
    fputc('x', f);
    fclose(f);
    assert_false(tl_picture_whole(at("good.png"), why, sizeof why));
}

/* --- the charts ---------------------------------------------------------------------------- */

static void charts_say_what_they_show(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    const struct tl_chart_event event[] = {{1.25, 1.5, "pump off", TL_CHART_OUTAGE},
                                           {1.75, 0, "baking soda, 500 g", TL_CHART_DOSE},
                                           {9, 0, "beyond the run", TL_CHART_DOSE}};
    struct tl_chart_options o = usual_options(limits);
    outdoors = true;
    two_days();
    outdoors = false;
    o.event = event;
    o.events = 3;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_string_equal(outcome.fault, "");
    assert_int_equal(outcome.pictures, 14);
    assert_int_equal(files_in(out_dir), 14); /* nothing else is left */
    for (int c = 0; c <= TL_CHART_OVERVIEW; c++) {
        char name[64];
        snprintf(name, sizeof name, "%s.svg", tl_chart_name((enum tl_chart_id)c));
        char *svg = read_out(name);
        holds(svg, "width=\"1200\"");
        holds(svg, "<text>A tank in spring</text>");
        holds(svg, "<text>pump off</text>");
        holds(svg, "<text>baking soda, 500 g</text>");
        holds(svg, "day 1, 2 May 2027");
        holds(svg, "06:00");
        assert_null(strstr(svg, "beyond the run"));
        free(svg);
        snprintf(name, sizeof name, "%s.png", tl_chart_name((enum tl_chart_id)c));
        char *png = read_out(name);
        assert_memory_equal(png + 16, "\0\0\x04\xb0", 4); /* 1200 px wide */
        free(png);
    }
    static const char *const words[][2] = {
        {"nitrogen.svg", "Total ammonia, mg/L as N"},
        {"nitrogen.svg", "Nitrite, mg/L as N"},
        {"nitrogen.svg", "ammonia (TAN)"},
        {"nitrogen.svg", "nitrite (NO2-N)"},
        {"nitrogen.svg", "danger above 0.5"},
        {"nitrogen.svg", "caution above 0.2"},
        {"nitrogen.svg", "ammonia danger"},
        {"nitrogen.svg", "ammonia caution"},
        {"nitrogen.svg", "Nitrate, mg/L as N"},
        {"nitrogen.svg", "caution above 40"},
        {"nitrogen.svg", "danger above 100 (off scale)"},
        {"ammonia.svg", "Un-ionised ammonia (NH3-N), mg/L as N"},
        {"ammonia.svg", "caution above 0.02"},
        {"ammonia.svg", "danger above 0.05"},
        {"ammonia.svg", "highest moment in the tank: 0.04 mg/L"},
        {"ammonia.svg", "Limits judge the mean of an hour."},
        {"oxygen.svg", "Oxygen, mg/L"},
        {"oxygen.svg", "tower outlet"},
        {"oxygen.svg", "saturation"},
        {"oxygen.svg", "caution below 6"},
        {"oxygen.svg", "danger below 3"},
        {"oxygen.svg", "lowest in the tank: 2.5 mg/L, day 1 06:00"},
        {"ph_alkalinity.svg", "Alkalinity, mg/L as CaCO3"},
        {"ph_alkalinity.svg", "caution below 70"},
        {"ph_alkalinity.svg", "danger below 40"},
        {"ph_alkalinity.svg", "caution above 8.5"},
        {"biofilm.svg", "tray 1 (top)"},
        {"biofilm.svg", "tray 3 (bottom)"},
        {"biofilm.svg", "Ammonia oxidisers (turn ammonia into nitrite), g COD/m2"},
        {"biofilm.svg", "Voids between the stones filled with film and trapped solids, %"},
        {"temperature.svg", "Temperature, degC"},
        {"temperature.svg", "Evaporation from tank, chamber and tower, L a day"},
        {"nitrogen.svg", "Grey: while an event lasts (pump off)."},
        {"overview.svg", "Total ammonia, mg/L as N"},
        {"overview.svg", "ammonia danger"},
        {"overview.svg", "ammonia caution"},
        {"overview.svg", "Nitrite, mg/L as N"},
        {"overview.svg", "Water temperature, degC"},
        {"overview.svg", "Feed, g/d"},
    };
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        char *svg = read_out(words[i][0]);
        holds(svg, words[i][1]);
        free(svg);
    }
}

/* --- a start-up, a day, a fan -------------------------------------------------------------- */

static bool drawn(const char *name)
{
    char path[3 * PATH_MAX];
    snprintf(path, sizeof path, "%s/%s", out_dir, name);
    return access(path, F_OK) == 0;
}

static void holds_all(const char *name, const char *const *words)
{
    char *svg = read_out(name);
    for (; *words; words++)
        holds(svg, *words);
    free(svg);
}

/* How often a picture has this. */
static int count(const char *name, const char *what)
{
    char *svg = read_out(name);
    int n = 0;
    for (const char *p = svg; (p = strstr(p, what)); p += strlen(what))
        n++;
    free(svg);
    return n;
}

/* Is one of the corners of the n-th thing that gnuplot plotted at this height, px from the top? */
static bool plotted_at(const char *svg, int n, double y)
{
    char from[32], to[32];
    snprintf(from, sizeof from, "id=\"gnuplot_plot_%d\"", n);
    snprintf(to, sizeof to, "id=\"gnuplot_plot_%d\"", n + 1);
    const char *p = strstr(svg, from), *end = p ? strstr(p, to) : NULL;
    assert_non_null(p);
    for (; *p && (!end || p < end); p++)
        if (*p == ',' && fabs(strtod(p + 1, NULL) - y) < 0.6)
            return true;
    return false;
}

static void a_start_up_names_its_phases(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    const struct tl_chart_event event[] = {{40, 0, "10 koi added", TL_CHART_STOCK}};
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("series.csv"));
    growing = true;
    write_series(series, 60, 1 / 24.0, NULL);
    growing = false;
    o.formats = TL_CHART_SVG;
    o.event = event;
    o.events = 1;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_false(drawn("startup.svg")); /* mature films do not start up */
    o.starting = true;
    o.ready_d = 31.5;
    o.ready_tan_mgN_L = 1;
    o.ready_no2_mgN_L = 0.5;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_int_equal(outcome.pictures, 7);
    holds_all("startup.svg",
              (const char *const[]){"<text>A tank in spring</text>",
                                    "How the new filter starts up",
                                    "Total ammonia, mg/L as N",
                                    "Nitrite, mg/L as N",
                                    "Nitrate, mg/L as N",
                                    "ammonia danger",
                                    "ammonia caution",
                                    "danger above 0.5",
                                    "caution above 0.2",
                                    "danger above 0.05",
                                    "caution above 0.02",
                                    "Grey: while an event lasts (nitrite builds up).",
                                    "<text>ammonia builds up</text>",
                                    "<text>ammonia peak, 5 mg/L: nitrite builds up</text>",
                                    "<text>nitrite peak, 6 mg/L: it falls</text>",
                                    "<text>filter ready, day 31</text>",
                                    "ready: ammonia below 1",
                                    "ready: nitrite below 0.5",
                                    "10 koi added",
                                    NULL});
    char *svg = read_out("startup.svg"); /* up to half as long again as it took */
    holds(svg, "<text>day 40</text>");
    assert_null(strstr(svg, "<text>day 50</text>"));
    free(svg);
    o.ready_d = NAN;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    holds_all("startup.svg", (const char *const[]){"nitrite peak, 6 mg/L: it falls",
                                                   "not ready by the end of this run", NULL});
    o.ready_d = 12; /* the peak of nitrite came later: no order to tell of */
    assert_int_equal(draw(&o, &outcome), TL_OK);
    holds_all("startup.svg", (const char *const[]){"<text>ammonia peak, 5 mg/L</text>",
                                                   "<text>nitrite peak, 6 mg/L</text>", NULL});
}

static void a_day_shows_its_meals_and_the_trays(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    const double meal_d[] = {8 / 24.0, 18 / 24.0};
    const struct tl_chart_event event[] = {{0.5, 0, "long ago", TL_CHART_DOSE},
                                           {1.9, 2.2, "pump off", TL_CHART_OUTAGE},
                                           {2.5, 0, "2 kg salt", TL_CHART_DOSE}};
    const struct tl_chart_event fed[] = {{1.3, 0, "meal, 1 g", TL_CHART_MEAL},
                                         {2.3, 0, "meal, 2 g", TL_CHART_MEAL}};
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("series.csv"));
    detailed = true;
    write_series(series, 3, 1 / 24.0, NULL); /* from 06:00 of day 0 to 06:00 of day 3 */
    o.formats = TL_CHART_SVG;
    o.event = event;
    o.events = 3;
    o.meal_d = meal_d;
    o.meals = 2;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_int_equal(outcome.pictures, 8);
    holds_all(
        "day.svg",
        (const char *const[]){
            "<text>A tank in spring</text>",
            "One day of the tank, hour by hour: day 2, 3 May 2027, the last full day of the run",
            "Ammonia that the fish give off, g N a day", "Total ammonia in the tank, mg/L as N",
            "Un-ionised ammonia (NH3-N), mg/L as N", "caution above 0.02", "danger above 0.05",
            "ammonia danger", "ammonia caution", "highest moment in the tank: 0.04 mg/L",
            "Oxygen in the tank, mg/L", "pH in the tank", "<text>meal, 200 g</text>",
            "<text>pump off</text>", "<text>2 kg salt</text>", "caution below 6", "day 2, 3 May",
            "lowest in the tank: 6.5 mg/L, day 2 18:00", NULL});
    char *svg = read_out("day.svg");
    assert_null(strstr(svg, "long ago"));
    free(svg);
    holds_all(
        "trays.svg",
        (const char *const[]){"<text>A tank in spring</text>",
                              "Down the tower, tray by tray: day 2, 3 May 2027, the last full "
                              "day of the run",
                              "<text>water in</text>", "<text>tray 1</text>", "<text>tray 3</text>",
                              "Oxygen", "Ammonia (TAN)", "mg/L as N", "Nitrite (NO2-N)",
                              "Ammonia oxidisers", "Heterotrophs", "g COD/m2", NULL});
    assert_int_equal(count("trays.svg", "<use xlink:href='#gpPt3' tr"),
                     9); /* films of three trays */
    assert_int_equal(count("trays.svg", "<use xlink:href='#gpPt6' tr"), 6 * 3 + 3 + 3 * 4);
    o.units = TL_US;
    o.fed = fed; /* as they were given */
    o.feds = 2;
    o.day_given = true;
    o.day = 1;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    svg = read_out("day.svg");
    holds(svg, "day 1, 2 May");
    holds(svg, "<text>meal, 1 g</text>");
    assert_null(strstr(svg, "meal, 2 g"));
    assert_null(strstr(svg, "meal, 200 g"));
    free(svg);
    holds_all("trays.svg", (const char *const[]){"day 1, 2 May 2027, the one asked for", NULL});
    for (o.day = 0; o.day <= 3; o.day += 3) { /* begun late, and not ended */
        assert_int_equal(draw(&o, &outcome), TL_OK);
        assert_int_equal(outcome.pictures, 6);
        assert_false(drawn("day.svg") || drawn("trays.svg"));
    }
    o.day_given = false;
    write_series(series, 3, 1 / 4.0, NULL); /* five rows do not show a day, but the trays */
    detailed = false;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_false(drawn("day.svg"));
    assert_true(drawn("trays.svg"));
}

/* A panel of it where there is any, never of zeros. */
static void chlorine_has_a_panel(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    o.formats = TL_CHART_SVG;
    for (int any = 0; any <= 1; any++) {
        chlorine = any ? 0.3 : 0;
        two_days();
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *svg = read_out("overview.svg");
        static const char *const words[] = {
            "Chlorine or chloramine in the tank, mg/L", "<text>chlorine</text>",
            "<text>danger above 0.019</text>", "highest moment in the tank: 0.3 mg/L, day 1 00:00"};
        for (size_t i = 0; i < sizeof words / sizeof *words; i++)
            assert_int_equal(strstr(svg, words[i]) != NULL, any);
        free(svg);
    }
    chlorine = NAN;
}

/* So many at one time that not all have room: what harms and what changes the stock stays. */
static void the_lightest_events_go_first(void **state)
{
    (void)state;
    enum { DOSES = 30 };
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    char text[DOSES][32];
    struct tl_chart_event event[DOSES + 3] = {
        {0.9, 1.1, "pump off", TL_CHART_OUTAGE},
        {0.91, 0, "untreated water", TL_CHART_HARM},
        {0.92, 0, "20 koi added", TL_CHART_STOCK},
    };
    for (int i = 0; i < DOSES; i++) {
        snprintf(text[i], sizeof text[i], "dose of number %d", i);
        event[3 + i] = (struct tl_chart_event){
            .t_d = (i % 2 ? 0.75 : 0.93) + 0.004 * i, .text = text[i], .weight = TL_CHART_DOSE};
    }
    two_days();
    o.formats = TL_CHART_SVG;
    o.event = event;
    o.events = DOSES + 3;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    char *svg = read_out("oxygen.svg");
    size_t shown = 0;
    for (size_t i = 0; i < o.events; i++) {
        char words[64];
        snprintf(words, sizeof words, "<text>%s</text>", event[i].text);
        const bool there = strstr(svg, words) != NULL;
        assert_true(there || i >= 3);
        shown += there;
    }
    char more[64];
    assert_in_range(shown, 5, o.events - 1);
    snprintf(more, sizeof more, "and %zu more event", o.events - shown);
    holds(svg, more);
    free(svg);
}

enum { FAN_ROWS = 61 };

static void fill_fan(struct tl_fan_row *row)
{
    static const double normal[TL_FAN_SHARES] = {-1.645, -0.674, 0, 0.674, 1.645};
    for (int i = 0; i < FAN_ROWS; i++) {
        row[i].t_d = i;
        for (int k = 0; k < TL_FAN_SHARES; k++)
            row[i].share[k] = 7 - 0.02 * i + normal[k] * 0.02 * i;
    }
}

/* How often a file has a text. */
static size_t times(const char *name, const char *text)
{
    size_t n = 0;
    char *svg = read_out(name);
    for (const char *at = svg; (at = strstr(at, text)) != NULL; at++)
        n++;
    free(svg);
    return n;
}

static void a_fan_shows_median_and_bands(void **state)
{
    (void)state;
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options((struct tl_chart_limit[TL_CHART_LIMITS]){{0}});
    struct tl_fan_row row[FAN_ROWS];
    struct tl_fan_chart fan[TL_FANS + 1] = {{.name = "spread_oxygen",
                                             .subject = "Oxygen in 1000 runs",
                                             .y_name = "Oxygen in the tank, mg/L",
                                             .row = row,
                                             .rows = FAN_ROWS,
                                             .caution = 6,
                                             .danger = -20,
                                             .side = TL_CHART_BELOW},
                                            {.name = "spread_nitrite",
                                             .subject = "Nitrite in 1000 runs",
                                             .y_name = "Nitrite, mg/L as N",
                                             .row = row,
                                             .rows = FAN_ROWS,
                                             .caution = NAN,
                                             .danger = 9,
                                             .side = TL_CHART_ABOVE,
                                             .from_zero = true}};
    const struct tl_chart_event event[] = {{.t_d = 20, .end_d = 20.3, .text = "pump off, 8 h"},
                                           {.t_d = 45, .end_d = 45, .text = "salt, 2 kg"}};
    fill_fan(row);
    snprintf(out_dir, sizeof out_dir, "%s", at("charts"));
    remove_tree(out_dir);
    o.out_dir = out_dir;
    if (tl_fan_charts_draw(fan, 2, &o, &outcome))
        fail_msg("%s", outcome.fault);
    assert_int_equal(outcome.pictures, 4);
    assert_int_equal(files_in(out_dir), 4);
    holds_all("spread_oxygen.svg",
              (const char *const[]){
                  "<text>A tank in spring</text>", "<text>Oxygen in 1000 runs</text>",
                  "<text>Oxygen in the tank, mg/L</text>", "<text>caution below 6</text>",
                  "<text>danger below -20 (off scale)</text>", "<text>9 in 10 runs</text>",
                  "<text>half of the runs</text>", "<text>median: half below it</text>",
                  "<text>day 20</text>", "<text>21 May</text>", "rgb(195, 211, 226)",
                  "rgb(134, 167, 196)", NULL});
    holds_all("spread_nitrite.svg",
              (const char *const[]){"<text>danger above 9</text>", "<text>0</text>", NULL});
    /* at the end: of the scale of 3.59 to 8.01 on 416 px, with 5 and 95 % at 3.83 and 7.77 */
    char *svg = read_out("spread_oxygen.svg");
    assert_true(plotted_at(svg, 1, 505.7) && plotted_at(svg, 1, 134.3));
    assert_true(plotted_at(svg, 2, 396.1) && plotted_at(svg, 2, 243.9));
    assert_true(plotted_at(svg, 3, 320.0));
    assert_false(plotted_at(svg, 3, 396.1) || plotted_at(svg, 3, 243.9));
    free(svg);
    row[30].share[2] = NAN; /* a gap does no harm */
    o.event = event;
    o.events = 2;
    fan[0].note = "Limits judge means of their own.";
    assert_int_equal(tl_fan_charts_draw(fan, 2, &o, &outcome), TL_OK);
    holds_all("spread_oxygen.svg",
              (const char *const[]){"<text>pump off, 8 h</text>", "<text>salt, 2 kg</text>",
                                    "<text>Limits judge means of their own.</text>",
                                    "height=\"640\"", NULL});
    assert_int_equal(times("spread_nitrite.svg", "<text>pump off, 8 h</text>"), 1);
    /* all runs alike: a line in the middle of 2 % to either side */
    for (int i = 0; i < FAN_ROWS; i++)
        for (int k = 0; k < TL_FAN_SHARES; k++)
            row[i].share[k] = 22;
    fan[0].caution = NAN;
    assert_int_equal(tl_fan_charts_draw(fan, 1, &o, &outcome), TL_OK);
    holds_all("spread_oxygen.svg",
              (const char *const[]){"<text>21.6</text>", "<text>22.4</text>", NULL});
    fan[0].rows = 1;
    assert_int_equal(tl_fan_charts_draw(fan, 1, &o, &outcome), TL_E_CHART);
    holds(outcome.fault, "spread_oxygen: too few rows");
    assert_int_equal(tl_fan_charts_draw(fan, TL_FANS + 1, &o, &outcome), TL_E_CHART);
    holds(outcome.fault, "more than");
}

static const struct tl_driver_bar both_sides[] = {
    {.name = "fish[0].appetite", .value = 0.62, .whole = NAN},
    {.name = "parameters.mu_aob", .value = -0.41, .whole = NAN},
    {.name = "weather.warmer", .value = 0.08, .whole = NAN}};

static void bars_show_what_drives_the_risk(void **state)
{
    (void)state;
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options((struct tl_chart_limit[TL_CHART_LIMITS]){{0}});
    const struct tl_driver_bar shares[] = {{.name = "appetite", .value = 0.5, .whole = 0.75},
                                           {.name = "mu_aob", .value = -0.01, .whole = 0.004}};
    struct tl_driver_panel panel[TL_DRIVER_PANELS + 1] = {
        {"oxygen, beyond danger in 8 of 100 runs", both_sides, 3},
        {"nitrite, beyond caution in 20 of 100 runs", both_sides, 2}};
    struct tl_driver_chart c = {.name = "drivers",
                                .subject = "What drives the risk, in 1000 runs",
                                .panel = panel,
                                .panels = 2,
                                .two_sides = true,
                                .left = "more of it is better",
                                .right = "more of it is worse",
                                .note = "Rank correlations."};
    snprintf(out_dir, sizeof out_dir, "%s", at("charts"));
    remove_tree(out_dir);
    o.out_dir = out_dir;
    if (tl_driver_chart_draw(&c, &o, &outcome))
        fail_msg("%s", outcome.fault);
    assert_int_equal(outcome.pictures, 2);
    holds_all("drivers.svg",
              (const char *const[]){"<text>A tank in spring</text>",
                                    "<text>What drives the risk, in 1000 runs</text>",
                                    "<text>oxygen, beyond danger in 8 of 100 runs</text>",
                                    "<text>nitrite, beyond caution in 20 of 100 runs</text>",
                                    "<text>fish[0].appetite</text>", "<text>+0.62</text>",
                                    "<text>-0.41</text>", "<text>more of it is better</text>",
                                    "<text>more of it is worse</text>",
                                    "<text>Rank correlations.</text>", NULL});
    /* from 510 to 1080 px, -1 to 1: 0 at 795, 0.62 at 971.7, -0.41 at 678.15 */
    char *svg = read_out("drivers.svg");
    assert_non_null(strstr(svg, "971.7"));
    assert_non_null(strstr(svg, "678.1"));
    free(svg);
    /* bars to the right, to the left */
    assert_int_equal(times("drivers.svg", "<polygon fill = 'rgb(194,  87,  26)'"), 3);
    assert_int_equal(times("drivers.svg", "<polygon fill = 'rgb( 95, 143, 191)'"), 2);

    panel[0] = (struct tl_driver_panel){"nitrite", shares, 2};
    c.panels = 1;
    c.two_sides = false;
    c.left = c.right = c.note = NULL;
    assert_int_equal(tl_driver_chart_draw(&c, &o, &outcome), TL_OK);
    svg = read_out("drivers.svg");
    holds_all("drivers.svg",
              (const char *const[]){"<text>50, 75 %</text>", "<text>0, 0 %</text>", NULL});
    assert_null(strstr(svg, "more of it"));
    assert_non_null(strstr(svg, "937.5")); /* 75 % of 570 px */
    free(svg);

    c.panels = TL_DRIVER_PANELS + 1;
    assert_int_equal(tl_driver_chart_draw(&c, &o, &outcome), TL_E_CHART);
    holds(outcome.fault, "drivers: ");
    c.panels = 1;
    panel[0].bars = 0;
    assert_int_equal(tl_driver_chart_draw(&c, &o, &outcome), TL_E_CHART);
}

/* Frost: the line of freezing where the scale reaches it, shade where there is ice, dew below 0. */
static void ice_is_said_and_shaded(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    o.formats = TL_CHART_SVG;
    outdoors = true;
    for (int cold = 0; cold <= 1; cold++)
        for (int us = 0; us <= 1; us++)
            for (int banded = 0; banded <= 1; banded++) {
                colder = cold ? 20 : 0;
                o.units = us ? TL_US : TL_METRIC;
                write_series(series, banded ? 60 : 2, 1 / 24.0, NULL);
                assert_int_equal(draw(&o, &outcome), TL_OK);
                char *svg = read_out("temperature.svg");
                assert_int_equal(strstr(svg, "<text>freezing</text>") != NULL, cold);
                assert_int_equal(
                    strstr(svg, banded ? "<text>shaded blue: ice at some hour of the day</text>"
                                       : "<text>shaded blue: ice on the water</text>") != NULL,
                    cold);
                assert_int_equal(strstr(svg, "rgb(220, 233, 247)") != NULL, cold);
                /* L or gal a day */
                assert_int_equal(strstr(svg, us ? "<text>-4</text>" : "<text>-20</text>") != NULL,
                                 cold);
                free(svg);
            }
    outdoors = false;
    colder = 0;
}

/* Where a picture first has this; its length when it has not. */
static size_t first_of(const char *svg, const char *what)
{
    size_t i = 0;
    while (svg[i] && strncmp(svg + i, what, strlen(what)) != 0)
        i++;
    return i;
}

static bool is_after(const char *svg, size_t from, const char *what)
{
    return svg[from + first_of(svg + from, what)] != '\0';
}

/* Grey and blue lie below the field of danger, which stays red. */
static void nothing_covers_the_field_of_danger(void **state)
{
    (void)state;
    static const char *const red = "fill = 'rgb(243, 228, 222)'";
    static const struct {
        const char *picture, *shade;
    } row[] = {{"ammonia.svg", "fill = 'rgb(154, 154, 154)'"},
               {"temperature.svg", "fill = 'rgb(220, 233, 247)'"}};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    const struct tl_chart_event event[] = {{0.5, 1.5, "pump off", TL_CHART_OUTAGE},
                                           {0.75, 2, "pump off", TL_CHART_OUTAGE},
                                           {1.75, 2, "ration 1 %/d", TL_CHART_STOCK}};
    struct tl_chart_options o = usual_options(limits);
    limits[o.limits++] = (struct tl_chart_limit){.quantity = TL_CHART_OF_TEMPERATURE,
                                                 .level = TL_CHART_DANGER,
                                                 .side = TL_CHART_BELOW,
                                                 .value = 0.5};
    o.formats = TL_CHART_SVG;
    o.event = event;
    o.events = 3;
    outdoors = true;
    colder = 20;
    two_days();
    outdoors = false;
    colder = 0;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char *svg = read_out(row[i].picture);
        assert_true(first_of(svg, red) < strlen(svg));
        assert_true(first_of(svg, row[i].shade) < first_of(svg, red));
        assert_false(is_after(svg, first_of(svg, red), row[i].shade));
        holds(svg, "Grey: while an event lasts (pump off; ration 1 %/d).");
        free(svg);
    }
}

/* What comes with an event goes straight up there, not from the middle of the day before. */
static void effects_begin_at_their_events(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    const struct tl_chart_event event[] = {{1, 0, "20 % water changed", TL_CHART_HARM}};
    struct tl_chart_options o = usual_options(limits);
    o.formats = TL_CHART_SVG;
    chlorine = 0.3;
    snprintf(series, sizeof series, "%s", at("series.csv"));
    write_series(series, 40, 1 / 24.0, NULL); /* from 06:00 of day 0 on */
    chlorine = NAN;
    for (size_t events = 0; events <= 1; events++) {
        o.event = event;
        o.events = events;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *svg = read_out("overview.svg");
        assert_int_equal(strstr(svg, "cut where an event falls") != NULL, events);
        bool upright = false;
        for (const char *p = svg; (p = strstr(p, "L")); p++) {
            double x[2], y[2];
            if (sscanf(p, "L%lf,%lf L%lf,%lf", &x[0], &y[0], &x[1], &y[1]) == 4 &&
                fabs(x[0] - (76 + 832 * 0.75 / 40)) < 0.1 && fabs(x[0] - x[1]) < 0.02)
                upright = upright || fabs(y[0] - y[1]) > 30;
        }
        assert_int_equal(upright, events);
        free(svg);
    }
}

static void salt_moves_the_nitrite_limit(void **state)
{
    (void)state;
    const struct {
        double ratio, highest;
        bool on_scale; /* nitrite reaches 0.4 mg/L, the water holds 20 mg/L of chloride */
    } row[] = {{20, 5, true}, {10, 5, false}, {0.1, 50, false}, {0.1, 1, true}, {1e6, 50, true}};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    two_days();
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct tl_limits l = {.nh3 = {NAN, NAN},
                              .tan_caution = 1,
                              .tan_danger = 2,
                              .no2 = {0.2, 0.5},
                              .no2_chloride_ratio = row[i].ratio,
                              .no2_danger_with_salt = row[i].highest};
        struct tl_chart_options o = usual_options(limits);
        o.limits = tl_chart_limits(&l, limits, TL_CHART_LIMITS);
        o.formats = TL_CHART_SVG;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *svg = read_out("nitrogen.svg");
        holds(svg, row[i].on_scale ? "<text>nitrite danger</text>"
                                   : "<text>nitrite danger (off scale)</text>");
        holds(svg, "<text>danger above 2</text>");
        assert_null(strstr(svg, "danger above 0.5"));
        free(svg);
    }
}

static void us_units_stand_on_the_axes(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    o.units = TL_US;
    o.formats = TL_CHART_SVG;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_int_equal(outcome.pictures, 6);
    char *svg = read_out("overview.svg");
    holds(svg, "Water temperature, degF");
    holds(svg, "<text>68</text>"); /* 20 degC */
    holds(svg, "Oxygen, mg/L");
    free(svg);
    for (int us = 0; us < 2; us++) { /* what evaporates, recorded in L a day */
        outdoors = true;
        two_days();
        outdoors = false;
        o.units = us ? TL_US : TL_METRIC;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        svg = read_out("temperature.svg");
        holds(svg, us ? "Evaporation from tank, chamber and tower, gal a day"
                      : "Evaporation from tank, chamber and tower, L a day");
        holds(svg, us ? "<text>15</text>" : "<text>60</text>"); /* 60 L, the most, are 15.9 gal */
        free(svg);
    }
}

static void pdf_is_drawn_on_request(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    o.formats = TL_CHART_PDF;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    assert_int_equal(outcome.pictures, 6);
    assert_int_equal(files_in(out_dir), 6);
}

static void long_runs_show_days_as_bands(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_event weekly[52];
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("series.csv"));
    write_series(series, 364, 1.0 / 24, NULL);
    for (int i = 0; i < 52; i++)
        weekly[i] = (struct tl_chart_event){.t_d = 7.0 * i + 1, .text = "water change, 15 %"};
    o.event = weekly;
    o.events = 52;
    o.formats = TL_CHART_SVG;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    char *svg = read_out("oxygen.svg");
    holds(svg, "Line: mean of each day. Shaded: the day’s lowest to highest.");
    holds(svg, "water change, 15 % (first of 52)");
    holds(svg, "lowest in the tank: 2.5 mg/L, day 1 06:00"); /* from all rows, not from the means */
    assert_true(strlen(svg) < 300000);
    free(svg);
}

/* Rows of a morning and an evening never see the night: what the run knows of it is drawn and told. */
static void what_the_rows_missed_is_drawn(void **state)
{
    (void)state;
    static const struct tl_chart_extreme extreme[] = {
        {.quantity = TL_CHART_OF_O2, .side = TL_CHART_BELOW, .value = 1.25, .t_d = 5.1},
        {.quantity = TL_CHART_OF_O2, .side = TL_CHART_BELOW, .value = NAN, .t_d = 5.2},
        {.quantity = TL_CHART_OF_NH3,
         .side = TL_CHART_ABOVE,
         .of_hour = true,
         .value = 0.2,
         .t_d = 6.35}};
    static const struct {
        double days, step_d;
        bool sparse;
    } run[] = {{8, 0.5, true}, {40, 0.25, true}, {8, 1.0 / 24, false}};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("series.csv"));
    o.extreme = extreme;
    o.extremes = sizeof extreme / sizeof *extreme;
    o.formats = TL_CHART_SVG;
    for (size_t i = 0; i < sizeof run / sizeof *run; i++) {
        write_series(series, run[i].days, run[i].step_d, NULL);
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *oxygen = read_out("oxygen.svg"), *ammonia = read_out("ammonia.svg");
        holds(oxygen, "lowest in the tank: 1.25 mg/L, day 5 02:24");
        /* an hour's mean says nothing beside rows that show its moments */
        holds(ammonia, run[i].sparse ? "highest mean of an hour: 0.2 mg/L, day 6 08:24"
                                     : "highest moment in the tank: 0.04 mg/L");
        assert_int_equal(strstr(oxygen, "h apart: between them only the lowest and highest of the "
                                        "run are drawn") != NULL,
                         run[i].sparse);
        free(oxygen);
        free(ammonia);
    }
}

static void what_cannot_be_derived_is_left_out(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    o.formats = TL_CHART_SVG;
    for (int without = 0; without < 2; without++) {
        two_days();
        if (without)
            write_series(series, 2, 1.0 / 96, "tank_o2_sat_pct");
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *svg = read_out("oxygen.svg");
        assert_int_equal(strstr(svg, ">saturation<") == NULL, without);
        free(svg);
    }
}

/* Five years in which no day is like the next: the worst case for the size of the pictures. */
static void five_years_make_small_pictures(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("series.csv"));
    noise = 3;
    outdoors = true;
    write_series(series, 1826, 1.0 / 24, NULL);
    outdoors = false;
    noise = 0;
    o.formats = TL_CHART_SVG;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    for (int c = 0; c <= TL_CHART_OVERVIEW; c++) {
        char name[64];
        snprintf(name, sizeof name, "%s.svg", tl_chart_name((enum tl_chart_id)c));
        char *svg = read_out(name);
        assert_true(strlen(svg) < 300000);
        assert_true(strlen(svg) > 20000);
        free(svg);
    }
    char *svg = read_out("overview.svg");
    holds(svg, "lowest in the tank: ");
    free(svg);
}

/* Were any of this executed, the file would be there. */
static void words_of_the_user_are_never_executed(void **state)
{
    (void)state;
    char canary[2 * PATH_MAX], text[8][5 * PATH_MAX];
    static const char *const trick[] = {"`touch %s`",
                                        "'; system('touch %s'); '",
                                        "\"; system(\"touch %s\"); \"",
                                        "x\nsystem('touch %s')\n",
                                        "'\n!touch %s\n'",
                                        "$(touch %s)",
                                        "@{touch %s}",
                                        "\\'`touch %s`"};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_event event[8];
    snprintf(canary, sizeof canary, "%s", at("canary"));
    two_days();
    for (int i = 0; i < 8; i++) {
        snprintf(text[i], sizeof text[i], trick[i], canary);
        event[i] = (struct tl_chart_event){.t_d = 0.3 + 0.2 * i, .text = text[i]};
    }
    for (int i = 0; i < 8; i++) {
        struct tl_chart_options o = usual_options(limits);
        o.title = text[i];
        o.event = event;
        o.events = 8;
        limits[0].value = 1;
        limits[0].text = text[i];
        o.formats = i == 0 ? TL_CHART_PNG | TL_CHART_SVG : TL_CHART_SVG;
        if (draw(&o, &outcome))
            fail_msg("%s", outcome.fault);
        assert_int_not_equal(access(canary, F_OK), 0);
        if (i == 0) { /* and it is shown as it was written */
            char *svg = read_out("nitrogen.svg");
            holds(svg, "<text>`touch ");
            holds(svg, "/canary`</text>");
            free(svg);
        }
    }
    /* the same in the names of folders and files */
    char odd[3 * PATH_MAX], csv[4 * PATH_MAX];
    snprintf(odd, sizeof odd, "%s/`touch canary`'\"<|x", base);
    assert_int_equal(mkdir(odd, 0755), 0);
    snprintf(csv, sizeof csv, "%s/series.csv", odd);
    write_series(csv, 2, 1.0 / 96, NULL);
    struct tl_chart_options o = usual_options(limits);
    o.series_csv = csv;
    o.out_dir = odd;
    o.formats = TL_CHART_SVG;
    assert_int_equal(tl_charts_draw(&o, &outcome), TL_OK);
    assert_int_equal(files_in(odd), 7);
    assert_int_not_equal(access(canary, F_OK), 0);
    assert_int_not_equal(access("canary", F_OK), 0);
}

static void strange_titles_do_no_harm(void **state)
{
    (void)state;
    char *endless = malloc(100001);
    assert_non_null(endless);
    memset(endless, 'W', 100000);
    endless[100000] = '\0';
    const char *const title[] = {
        "",       "\x01\x02\x1b[31m", endless, "\xff\xfe", "% %s %d {/Bold x}^2_3",
        "<&>]]>", "\xe9\xaf\x89 pond"};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    two_days();
    for (size_t i = 0; i < sizeof title / sizeof *title; i++) {
        struct tl_chart_options o = usual_options(limits);
        o.title = title[i];
        o.formats = TL_CHART_SVG;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        char *svg = read_out("oxygen.svg");
        if (i == 4)
            holds(svg, "% %s %d {/Bold x}^2_3");
        if (i == 5)
            holds(svg, "&lt;&amp;");
        free(svg);
    }
    free(endless);
}

/* The list of fonts says what PNG can show; "?" stands for the rest, and SVG keeps all. */
static void what_no_font_has_does_no_harm(void **state)
{
    (void)state;
    static const struct {
        const char *fonts, *title, *plain, *unshown;
    } row[] = {
        {"#!/bin/sh\necho 20-7e a0-2e9\necho 3b1-3c9 9bc8-9bc9\n",
         "\u03b1 \u9bc9 \u6c60 \U0001f41f", "\u03b1 \u9bc9 ? ?", "\u6c60\U0001f41f"},
        {"#!/bin/sh\necho 20-7e 6c5f 6c61-6d00\n", "\u6c60\ufe0f", "?", "\u6c60"},
        {"#!/bin/sh\necho 20-7e 6c60\n", "\u6c60\ufe0f", "\u6c60", ""},
        {NULL, "K\u00f6nig \u9bc9", "K\u00f6nig ?", "\u9bc9"}, /* no such list */
    };
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    two_days();
    fake_gnuplot(NULL);
    assert_int_equal(symlink(real_gnuplot, at("bin/gnuplot")), 0);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct tl_chart_options o = usual_options(limits);
        unlink(at("bin/fc-match"));
        if (row[i].fonts) {
            write_file(at("bin/fc-match"), row[i].fonts);
            chmod(at("bin/fc-match"), 0755);
        }
        o.title = row[i].title;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        assert_int_equal(outcome.pictures, 12);
        assert_string_equal(outcome.unshown, row[i].unshown);
        char *svg = read_out("oxygen.svg"), words[64];
        snprintf(words, sizeof words, "<text>%s</text>", row[i].title);
        holds(svg, words);
        free(svg);
        assert_int_equal(rename(at("charts/oxygen.png"), at("as-is.png")), 0);
        if (!*row[i].unshown)
            continue;
        write_file(at("bin/fc-match"), "#!/bin/sh\necho 20-10ffff\n");
        chmod(at("bin/fc-match"), 0755);
        o.title = row[i].plain;
        assert_int_equal(draw(&o, &outcome), TL_OK);
        assert_string_equal(outcome.unshown, "");
        assert_true(tl_same_bytes(at("as-is.png"), at("charts/oxygen.png")));
    }
    unlink(at("bin/fc-match"));
}

static void a_gap_breaks_the_line(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    o.formats = TL_CHART_SVG;
    assert_int_equal(draw(&o, &outcome), TL_OK);
    char *svg = read_out("oxygen.svg");
    /* the outlet's hue: once as each of two pieces of the curve, once beside its name */
    size_t pieces = 0;
    for (char *p = svg; (p = strstr(p, "stroke='rgb(213,  94,   0)'")); p++)
        for (char *m = strstr(p, "d='"); m; m = NULL)
            for (char *end = strchr(m + 3, '\''), *q = m; (q = strchr(q + 1, 'M')) && q < end;)
                pieces++;
    assert_int_equal(pieces, 3);
    free(svg);
}

/* --- when something is wrong --------------------------------------------------------------- */

static void missing_gnuplot_is_told_apart(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    fake_gnuplot(NULL);
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    assert_int_equal(outcome.lacks, TL_CHART_LACKS_GNUPLOT);
    holds(outcome.fault, "gnuplot is not installed");
    assert_int_equal(files_in(out_dir), 0);
}

static void failing_gnuplot_leaves_what_was_there(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    assert_int_equal(draw(&o, &outcome), TL_OK);
    char *before = read_out("oxygen.svg");
    fake_gnuplot("#!/bin/sh\necho 'warned \"x.gp\" line 1: first' >&2\n"
                 "echo '\"y.gp\" line 7: no such thing' >&2\nexit 3\n");
    assert_int_equal(tl_charts_draw(&o, &outcome), TL_E_CHART);
    assert_int_equal(outcome.lacks, TL_CHART_LACKS_NOTHING);
    assert_string_equal(outcome.fault, "gnuplot failed: \"y.gp\" line 7: no such thing ");
    fake_gnuplot("#!/bin/sh\nkill -SEGV $$\n");
    assert_int_equal(tl_charts_draw(&o, &outcome), TL_E_CHART);
    fake_gnuplot("#!/bin/sh\nexit 0\n"); /* says it went well */
    assert_int_equal(tl_charts_draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "was not written");
    char *after = read_out("oxygen.svg");
    assert_string_equal(before, after);
    assert_int_equal(files_in(out_dir), 12);
    free(before);
    free(after);
}

static void half_a_picture_is_not_put_in_place(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    char script[4 * PATH_MAX];
    two_days();
    snprintf(script, sizeof script,
             "#!/bin/sh\n'%s' \"$@\" || exit\n"
             "/usr/bin/head -c 5000 oxygen.png > short && /bin/mv short oxygen.png\n",
             real_gnuplot);
    fake_gnuplot(script);
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "oxygen.png is cut short");
    assert_int_not_equal(access(at("charts/oxygen.png"), F_OK), 0);
}

static void hanging_gnuplot_is_killed(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    char script[4 * PATH_MAX];
    struct timespec from, to;
    int pid[2] = {0, 0};
    two_days();
    /* with a child of its own that holds the pipe open */
    snprintf(script, sizeof script,
             "#!/bin/sh\n/bin/sleep 100 &\necho $$ $! > '%s'\n"
             "/bin/sleep 100\n",
             at("pids"));
    fake_gnuplot(script);
    o.time_limit_s = 0.5;
    clock_gettime(CLOCK_MONOTONIC, &from);
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    clock_gettime(CLOCK_MONOTONIC, &to);
    assert_in_range(to.tv_sec - from.tv_sec, 0, 20);
    holds(outcome.fault, "did not finish within 0.5 s");
    FILE *f = fopen(at("pids"), "r");
    assert_non_null(f);
    assert_int_equal(fscanf(f, "%d %d", &pid[0], &pid[1]), 2);
    fclose(f);
    for (int i = 0; i < 2; i++) { /* an orphan is gone once somebody has buried it */
        char path[64], stat_[256] = "";
        bool gone = false;
        for (int tries = 0; tries < 200 && !gone; tries++) {
            snprintf(path, sizeof path, "/proc/%d/stat", pid[i]);
            f = fopen(path, "r");
            gone = !f || !fgets(stat_, sizeof stat_, f) || strstr(stat_, ") Z");
            if (f)
                fclose(f);
            if (!gone)
                nanosleep(&(struct timespec){0, 10000000}, NULL);
        }
        assert_true(gone);
    }
    volatile int interrupted = 1;
    o.interrupted = &interrupted;
    o.time_limit_s = 0;
    assert_int_equal(draw(&o, &outcome), TL_E_INTERRUPTED);
    assert_int_equal(files_in(out_dir), 0);
}

static void talkative_gnuplot_does_not_block(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    fake_gnuplot("#!/bin/sh\ni=0\nwhile [ $i -lt 20000 ]; do echo 'this is a long complaint' >&2\n"
                 "i=$((i+1)); done\necho last >&2\nexit 1\n");
    o.time_limit_s = 30;
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "complaint last");
}

static void missing_font_is_noticed(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    two_days();
    write_file(at("fonts.conf"), "<?xml version=\"1.0\"?><!DOCTYPE fontconfig SYSTEM \"fonts.dtd\">"
                                 "<fontconfig><dir>/nonexistent</dir></fontconfig>\n");
    setenv("FONTCONFIG_FILE", at("fonts.conf"), 1);
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    assert_int_equal(outcome.lacks, TL_CHART_LACKS_FONT);
    assert_int_equal(outcome.pictures, 6); /* the SVG files bring no font of their own */
    holds(outcome.fault, "fonts-dejavu-core");
    assert_int_equal(access(at("charts/oxygen.svg"), F_OK), 0);
    assert_int_not_equal(access(at("charts/oxygen.png"), F_OK), 0);
}

static void series_that_cannot_be_drawn_are_refused(void **state)
{
    (void)state;
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    snprintf(series, sizeof series, "%s", at("nothing.csv"));
    assert_int_equal(draw(&o, &outcome), TL_E_IO);
    holds(outcome.fault, "nothing.csv");
    write_file(series, "");
    assert_int_equal(draw(&o, &outcome), TL_E_IO);
    write_file(series, "time_d,tank_ph\n0,7\n");
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "too few rows");
    write_file(series, "time_d,tank_ph\n0,7\nx,7\n");
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "nothing.csv:3:");
    write_file(series, "time_d,tank_ph\n1,7\n0,7\n");
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "nothing.csv:3:");
    write_series(series, 2, 1.0 / 96, NULL); /* lines 1 to 194 */
    FILE *f = fopen(series, "a");
    assert_non_null(f);
    fprintf(f, "2.5,2027-05-03T12:00:00,1,x\n");
    assert_int_equal(fclose(f), 0);
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "nothing.csv:195: this is not a row");
    write_file(series, "day,tank_ph\n1,7\n2,7\n");
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    write_series(series, 2, 1.0 / 96, "tank_no2_mgN_L");
    assert_int_equal(draw(&o, &outcome), TL_E_CHART);
    holds(outcome.fault, "has no column tank_no2_mgN_L");
    two_days();
    o.plots_dir = at("no-plots");
    assert_int_equal(draw(&o, &outcome), TL_E_IO);
    holds(outcome.fault, "no-plots/style.gp");
    o.plots_dir = PLOTS_DIR;
    write_file(at("a-file"), "x");
    o.out_dir = at("a-file/charts");
    o.series_csv = series;
    assert_int_equal(tl_charts_draw(&o, &outcome), TL_E_IO);
}

static void the_locale_does_not_matter(void **state)
{
    (void)state;
    static const char *const name[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE.utf8", "nl_NL.UTF-8"};
    struct tl_chart_limit limits[TL_CHART_LIMITS];
    struct tl_chart_outcome outcome;
    struct tl_chart_options o = usual_options(limits);
    const char *set = NULL;
    for (size_t i = 0; i < sizeof name / sizeof *name && !set; i++)
        set = setlocale(LC_ALL, name[i]);
    if (!set)
        skip(); /* none with a decimal comma on this machine */
    two_days(); /* writes decimal commas now: put the points back for that */
    setlocale(LC_ALL, "C");
    two_days();
    setlocale(LC_ALL, set);
    o.formats = TL_CHART_SVG;
    int status = draw(&o, &outcome);
    char comma[16];
    snprintf(comma, sizeof comma, "%.1f", 0.5);
    setlocale(LC_ALL, "C");
    assert_string_equal(comma, "0,5"); /* the caller's locale is as it was */
    assert_int_equal(status, TL_OK);
    char *svg = read_out("oxygen.svg");
    holds(svg, "lowest in the tank: 2.5 mg/L");
    free(svg);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(thinning_keeps_extremes_ends_and_gaps),
        cmocka_unit_test(bands_hold_mean_and_extremes_of_their_days),
        cmocka_unit_test(an_extreme_between_rows_counts),
        cmocka_unit_test(steps_show_no_effect_before_its_cause),
        cmocka_unit_test(straight_stretches_need_no_points),
        cmocka_unit_test(names_are_spread_apart),
        cmocka_unit_test(event_words_do_not_collide),
        cmocka_unit_test(dates_agree_with_the_calendar_of_the_system),
        cmocka_unit_test(ticks_suit_hours_weeks_and_years),
        cmocka_unit_test(text_is_made_fit_for_a_picture),
        cmocka_unit_test(our_own_words_fit_the_picture),
        cmocka_unit_test(words_run_from_the_left),
        cmocka_unit_test(quotes_are_doubled),
        cmocka_unit_test(any_text_passes_through_gnuplot),
        cmocka_unit_test(broken_pictures_are_told_from_whole_ones),
        cmocka_unit_test(charts_say_what_they_show),
        cmocka_unit_test(a_start_up_names_its_phases),
        cmocka_unit_test(a_day_shows_its_meals_and_the_trays),
        cmocka_unit_test(chlorine_has_a_panel),
        cmocka_unit_test(the_lightest_events_go_first),
        cmocka_unit_test(a_fan_shows_median_and_bands),
        cmocka_unit_test(bars_show_what_drives_the_risk),
        cmocka_unit_test(ice_is_said_and_shaded),
        cmocka_unit_test(nothing_covers_the_field_of_danger),
        cmocka_unit_test(effects_begin_at_their_events),
        cmocka_unit_test(salt_moves_the_nitrite_limit),
        cmocka_unit_test(us_units_stand_on_the_axes),
        cmocka_unit_test(pdf_is_drawn_on_request),
        cmocka_unit_test(long_runs_show_days_as_bands),
        cmocka_unit_test(what_the_rows_missed_is_drawn),
        cmocka_unit_test(what_cannot_be_derived_is_left_out),
        cmocka_unit_test(five_years_make_small_pictures),
        cmocka_unit_test(words_of_the_user_are_never_executed),
        cmocka_unit_test(strange_titles_do_no_harm),
        cmocka_unit_test_teardown(what_no_font_has_does_no_harm, restore_path),
        cmocka_unit_test(a_gap_breaks_the_line),
        cmocka_unit_test_teardown(missing_gnuplot_is_told_apart, restore_path),
        cmocka_unit_test_teardown(failing_gnuplot_leaves_what_was_there, restore_path),
        cmocka_unit_test_teardown(half_a_picture_is_not_put_in_place, restore_path),
        cmocka_unit_test_teardown(hanging_gnuplot_is_killed, restore_path),
        cmocka_unit_test_teardown(talkative_gnuplot_does_not_block, restore_path),
        cmocka_unit_test_teardown(missing_font_is_noticed, restore_path),
        cmocka_unit_test(series_that_cannot_be_drawn_are_refused),
        cmocka_unit_test(the_locale_does_not_matter),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
