/* The study of failures: which cases it is made of, doing them side by side, keeping each. */
#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "endure_case.h"
#include "fingerprint.h"
#include "json.h"
#include "pool.h"
#include "text.h"
#include "towerloop/endure.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define USUAL_AERATOR_G_D 240.0
#define HOTTEST_DEGC      40.0 /* the range of the key `temperature` */

const double tl_endure_fish[TL_ENDURE_FISH] = {0.5, 0.75, 1, 1.25, 1.5};
const double tl_endure_warmer_degC[TL_ENDURE_WARMTHS] = {-4, 0, 2, 4};

void tl_endure_question_default(struct tl_endure_question *q)
{
    *q = (struct tl_endure_question){.fails = TL_FAILURE_POWER,
                                     .outage_d = 0.5,
                                     .day = NAN,
                                     .clock_d = NAN,
                                     .battery_wh = 500,
                                     .battery_w = 40,
                                     .aeration_g_kwh = TL_AERATION_G_KWH};
}

/* --- the plan ----------------------------------------------------------------------------------- */

/* By how much the water can be warmer, of `by_degC`: within the range of the key. */
static double within_range(const struct tl_endure_study *s, double by_degC)
{
    const double now = s->when.temperature_degC;
    return by_degC < 0 ? fmax(by_degC, fmin(-now, 0)) : fmin(by_degC, fmax(HOTTEST_DEGC - now, 0));
}

static void plan_helps(struct tl_endure_study *s, const struct tl_endure_case *usual)
{
    static const char *const key[TL_NHELP] = {
#define ROW(id, key) [id] = (key),
        TL_HELP_LIST(ROW)
#undef ROW
    };
    const struct tl_endure_question *q = &s->question;
    struct tl_endure_case *help = &s->plan[TL_ENDURE_HELPS];

    for (int h = 0; h < TL_NHELP; h++) {
        help[h] = *usual;
        (void)tl_format(s->key[TL_ENDURE_HELPS + h], TL_ENDURE_KEY, "help_%s", key[h]);
    }
    help[TL_HELP_FEED].feed_stopped = true;
    help[TL_HELP_COOLER].warmer_degC = within_range(s, -TL_HELP_COOLER_DEGC);
    help[TL_HELP_BATTERY].extra_g_d = q->battery_w / 1000 * q->aeration_g_kwh * 24;
    help[TL_HELP_BATTERY].extra_for_d = q->battery_wh / q->battery_w / 24;
    help[TL_HELP_AERATOR].extra_g_d = q->aerator_g_d;
    help[TL_HELP_AERATOR].extra_for_d = q->outage_d;
}

static void plan_table(struct tl_endure_study *s, const struct tl_endure_case *usual)
{
    for (int f = 0; f < TL_ENDURE_FISH; f++)
        for (int w = 0; w < TL_ENDURE_WARMTHS; w++) {
            const int i = TL_ENDURE_TABLE + f * TL_ENDURE_WARMTHS + w;
            s->plan[i] = *usual;
            s->plan[i].fish = tl_endure_fish[f];
            s->plan[i].warmer_degC = within_range(s, tl_endure_warmer_degC[w]);
            s->plan[i].follow_d = usual->outage_d / 2;
            (void)tl_format(s->key[i], TL_ENDURE_KEY, "fish_%g_warmer_%g", 100 * tl_endure_fish[f],
                            tl_endure_warmer_degC[w]);
        }
}

size_t tl_endure_row_case(enum tl_endure_row row)
{
    enum { ALL_FISH = 2, MOST_FISH = TL_ENDURE_FISH - 1, AS_IT_IS = 1, WARMEST = 3 };
    switch (row) {
    case TL_ENDURE_ROW_WARMER:
        return TL_ENDURE_TABLE + ALL_FISH * TL_ENDURE_WARMTHS + WARMEST;
    case TL_ENDURE_ROW_FISH:
        return TL_ENDURE_TABLE + MOST_FISH * TL_ENDURE_WARMTHS + AS_IT_IS;
    case TL_ENDURE_ROW_PUMP:
        return TL_FAILURE_PUMP;
    case TL_ENDURE_ROW_AERATOR:
        return TL_FAILURE_AERATOR;
    case TL_ENDURE_ROW_POWER:
    case TL_NENDURE_ROW:
    default:
        return TL_FAILURE_POWER;
    }
}

const struct tl_worst_hour *tl_endure_hour(const struct tl_endure_study *s, size_t i)
{
    const struct tl_endure_starts *starts = &s->starts;
    size_t at = starts->worst;
    if (i == TL_ENDURE_FILM)
        at = starts->film;
    else if (i == TL_ENDURE_AFTER)
        at = starts->warmest;
    return &starts->start[at].when;
}

const struct tl_worst_hour *tl_endure_coldest(const struct tl_endure_study *s,
                                              struct tl_endure_frost *out)
{
    const struct tl_endure_starts *starts = &s->starts;
    if (!s->scenario->setup.weather.given || starts->frost == starts->n)
        return NULL;
    *out = starts->n > 1 ? starts->start[starts->frost].frost
                         : tl_endure_frost_of(&s->result[s->question.fails], &s->scenario->limits);
    return tl_endure_freezes(out) ? &starts->start[starts->frost].when : NULL;
}

static void name_rows(struct tl_endure_study *s)
{
    static const char *const key[TL_NENDURE_ROW] = {
#define ROW(id, key) [id] = (key),
        TL_ENDURE_ROW_LIST(ROW)
#undef ROW
    };
    for (int r = 0; r < TL_NENDURE_ROW; r++) {
        s->plan[TL_ENDURE_ROWS + r] = s->plan[tl_endure_row_case((enum tl_endure_row)r)];
        (void)tl_format(s->key[TL_ENDURE_ROWS + r], TL_ENDURE_KEY, "soonest_%s", key[r]);
    }
}

size_t tl_endure_cases(const struct tl_endure_study *s)
{
    return s->question.rows ? TL_ENDURE_CASES : TL_ENDURE_ROWS;
}

static void plan_cases(struct tl_endure_study *s)
{
    const struct tl_endure_case usual = {
        .fails = s->question.fails, .outage_d = s->question.outage_d, .fish = 1};

    for (int f = 0; f < TL_NFAILURE; f++) {
        s->plan[f] = usual;
        s->plan[f].fails = (enum tl_failure)f;
        s->plan[f].follow_d = TL_ENDURE_FOLLOW_D;
        s->plan[f].judged = true;
        (void)tl_format(s->key[f], TL_ENDURE_KEY, "failure_%s",
                        tl_failure_name((enum tl_failure)f));
    }
    s->plan[TL_ENDURE_FILM] = usual;
    s->plan[TL_ENDURE_FILM].outage_d =
        fmax(usual.outage_d, tl_endure_stage_d[TL_ENDURE_STAGES - 1]);
    (void)tl_format(s->key[TL_ENDURE_FILM], TL_ENDURE_KEY, "film");
    plan_helps(s, &usual);
    plan_table(s, &usual);
    s->plan[TL_ENDURE_AFTER] = s->plan[usual.fails];
    (void)tl_format(s->key[TL_ENDURE_AFTER], TL_ENDURE_KEY, "warmest_hour");
    name_rows(s);
    s->plan[TL_ENDURE_NEED] = usual;
    (void)tl_format(s->key[TL_ENDURE_NEED], TL_ENDURE_KEY, "aerator_needed");
}

/* The scenario, with the weather worked out once for all cases: for as long as the longest is followed. */
static int copy_scenario(struct tl_endure_study *s, const struct tl_scenario *from)
{
    int status = tl_scenario_copy(&s->copy, from);
    if (status)
        return status;
    s->scenario = &s->copy;
    s->copy.setup.length_d += fmax(s->question.outage_d, 1) + TL_ENDURE_FOLLOW_D;
    status = tl_endure_keep_course(&s->copy.setup);
    s->copy.setup.length_d = from->setup.length_d;
    return status;
}

int tl_endure_plan(const struct tl_scenario *s, const struct tl_endure_question *q,
                   const struct tl_endure_options *o, struct tl_endure_study *out,
                   char why[TL_FAULT_SIZE])
{
    *out = (struct tl_endure_study){.question = *q, .need_g_d = NAN};
    *why = '\0';
    int status = copy_scenario(out, s);
    if (!status)
        status = tl_endure_find(out->scenario, q, o, &out->starts, why);
    if (status) {
        tl_endure_study_free(out);
        return status;
    }
    out->when = out->starts.start[out->starts.worst].when;
    if (!(out->question.aerator_g_d > 0))
        out->question.aerator_g_d =
            out->when.aerator_g_d > 0 ? out->when.aerator_g_d : USUAL_AERATOR_G_D;
    plan_cases(out);
    return TL_OK;
}

/* --- doing it ----------------------------------------------------------------------------------- */

struct work {
    struct tl_endure_study *study;
    const struct tl_endure_options *o;
    size_t pending[TL_ENDURE_CASES]; /* numbers of the cases not run yet */
    size_t jobs;
};

static int do_case(void *arg, size_t job)
{
    const struct work *w = arg;
    struct tl_endure_study *s = w->study;
    const size_t i = w->pending[job];
    int status = TL_OK;

    if (i == TL_ENDURE_NEED)
        status =
            tl_endure_need(s->scenario, &s->starts, &s->plan[i], w->o->interrupted, &s->need_g_d);
    else if (i >= TL_ENDURE_ROWS)
        status = tl_endure_try_row(s, (enum tl_endure_row)(i - TL_ENDURE_ROWS), w->o->interrupted,
                                   &s->result[i]);
    else
        status = tl_endure_run(s->scenario, tl_endure_hour(s, i), &s->plan[i], w->o->interrupted,
                               &s->result[i]);
    if (status)
        return status;
    s->done[i] = true;
    return w->o->keep ? w->o->keep(w->o->keep_arg, s, i) : TL_OK;
}

static void say_done(void *arg, size_t done, size_t jobs)
{
    const struct work *w = arg;
    const size_t cases = tl_endure_cases(w->study);
    w->o->progress(w->o->progress_arg, cases - jobs + done, cases);
}

int tl_endure_study_run(struct tl_endure_study *s, const struct tl_endure_options *o)
{
    struct work w = {.study = s, .o = o};
    for (size_t i = tl_endure_cases(s); i-- > 0;) /* the longest first: what takes many tries */
        if (!s->done[i])
            w.pending[w.jobs++] = i;
    const struct tl_pool pool = {.job = do_case,
                                 .arg = &w,
                                 .jobs = w.jobs,
                                 .threads = o->threads,
                                 .interrupted = o->interrupted,
                                 .progress = o->progress ? say_done : NULL,
                                 .progress_arg = &w};
    return tl_pool_run(&pool);
}

void tl_endure_study_free(struct tl_endure_study *s)
{
    for (size_t i = 0; i < TL_ENDURE_CASES; i++)
        tl_endured_free(&s->result[i]);
    tl_scenario_free(&s->copy);
    s->scenario = NULL;
}

/* --- results as files --------------------------------------------------------------------------- */

int tl_endure_print(const struct tl_scenario *s, char text[TL_ENDURE_PRINT])
{
    struct tl_build b;
    char *scenario = NULL;
    uint64_t hash = TL_FINGERPRINT_START;
    int status = tl_scenario_text(s, &scenario);
    if (status)
        return status;
    tl_build_info(&b);
    const char *const part[] = {scenario, b.version, b.commit, b.compiler, b.gsl, b.dispatch};
    for (size_t i = 0; i < sizeof part / sizeof *part; i++)
        hash = tl_fingerprint(hash, part[i], strlen(part[i]) + 1);
    hash = tl_fingerprint_logs(hash, &s->setup);
    (void)tl_format(text, TL_ENDURE_PRINT, "%016llx", (unsigned long long)hash);
    free(scenario);
    return TL_OK;
}

/* A result is numbers up to the course of oxygen. */
enum { FIGURES = offsetof(struct tl_endured, curve_o2) / sizeof(double) };
_Static_assert(FIGURES * sizeof(double) == offsetof(struct tl_endured, curve_o2),
               "nothing else among the numbers of a result");

/* JSON has no infinity: that is "never", and null is not to be told. */
static json_t *number(double x)
{
    return isinf(x) ? json_string("never") : tl_json_number(x);
}

static bool read_number(const json_t *j, double *x)
{
    *x = json_is_number(j) ? json_number_value(j) : json_is_string(j) ? INFINITY : NAN;
    return j != NULL;
}

int tl_endure_keep(const struct tl_endure_study *s, size_t i, const char *print, const char *path)
{
    const struct tl_endured *e = &s->result[i];
    double figure[FIGURES];
    json_t *numbers = json_array(), *course = json_array();

    memcpy(figure, e, sizeof figure);
    for (int k = 0; k < FIGURES; k++)
        tl_json_append(&numbers, number(figure[k]));
    for (size_t k = 0; k < e->curve_points; k++)
        tl_json_append(&course, number(e->curve_o2[k]));
    json_t *all =
        json_pack("{s:s, s:s, s:o, s:o, s:o, s:s}", "case", s->key[i], "print", print, "figures",
                  numbers, "oxygen", course, "need_g_d",
                  i == TL_ENDURE_NEED ? number(s->need_g_d) : json_null(), "fault", e->fault);
    return tl_json_write(all, path, JSON_REAL_PRECISION(17) | JSON_COMPACT);
}

static bool read_course(const json_t *course, struct tl_endured *e)
{
    const size_t n = json_array_size(course);
    e->curve_o2 = n > 0 ? calloc(n, sizeof *e->curve_o2) : NULL;
    for (size_t k = 0; e->curve_o2 && k < n; k++)
        (void)read_number(json_array_get(course, k), &e->curve_o2[k]);
    e->curve_points = e->curve_o2 ? n : 0;
    return n == e->curve_points;
}

bool tl_endure_fetch(struct tl_endure_study *s, size_t i, const char *print, const char *path)
{
    struct tl_endured e = {.curve_points = 0};
    double figure[FIGURES];
    json_t *all = tl_json_read(path);
    const char *key = json_string_value(json_object_get(all, "case"));
    const char *fault = json_string_value(json_object_get(all, "fault"));
    const char *of = json_string_value(json_object_get(all, "print"));
    bool whole = key && fault && of && strcmp(key, s->key[i]) == 0 && strcmp(of, print) == 0;

    for (size_t k = 0; whole && k < FIGURES; k++)
        whole = read_number(json_array_get(json_object_get(all, "figures"), k), &figure[k]);
    whole = whole && read_course(json_object_get(all, "oxygen"), &e);
    if (whole) {
        memcpy(&e, figure, sizeof figure);
        (void)tl_format(e.fault, sizeof e.fault, "%s", fault);
        if (i == TL_ENDURE_NEED)
            (void)read_number(json_object_get(all, "need_g_d"), &s->need_g_d);
        s->result[i] = e;
        s->done[i] = true;
    }
    json_decref(all);
    return whole;
}
