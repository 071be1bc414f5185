/* From the points to scenarios, models, runs and their block; the blocks drawn by threads. */
#include "spread_runs.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "fingerprint.h"
#include "indices.h"
#include "json.h"
#include "place.h"
#include "pool.h"
#include "settings.h"
#include "text.h"
#include "towerloop/heat_course.h"
#include "towerloop/ponds.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

/* --- what is asked ------------------------------------------------------------------------------ */

enum { KINDS = 4, NATURES = 2, NUMBERS = 6 };
static const char *const kind_name[KINDS] = {[TL_UNIFORM] = "uniform",
                                             [TL_NORMAL] = "normal",
                                             [TL_LOGNORMAL] = "lognormal",
                                             [TL_TRIANGULAR] = "triangular"};
static const char *const nature_name[NATURES] = {
    [TL_SPREAD_PARAMETER] = "parameter", [TL_SPREAD_HAPPENS] = "happens"};

const char *tl_spread_kind(enum tl_distribution_kind kind)
{
    return kind_name[kind];
}

/* Doubles bit for bit: digits of a JSON number are not settled. */
static json_t *exact(double value)
{
    char text[40];
    (void)tl_format(text, sizeof text, "%.17g", value);
    return json_string(text);
}

static json_t *input_json(const struct tl_spread_input *in)
{
    const struct tl_distribution *d = &in->d;
    return json_pack("{s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:s, s:s, s:s}", "key",
                     in->path, "unit", tl_dim_base_unit(in->dim), "distribution",
                     tl_spread_kind(d->kind), "a", exact(d->a), "b", exact(d->b), "c", exact(d->c),
                     "min", exact(d->min), "max", exact(d->max), "given", exact(in->given),
                     "nature", nature_name[in->nature], "status", in->status, "source", in->source);
}

/* Of the scenario and of the files it names. */
int tl_spread_scenario_print(const struct tl_scenario *s, uint64_t *print)
{
    char *text = NULL;
    const int status = tl_scenario_text(s, &text);
    if (status)
        return status;
    *print = tl_fingerprint(TL_FINGERPRINT_START, text, strlen(text));
    *print = tl_fingerprint_logs(*print, &s->setup);
    free(text);
    return TL_OK;
}

/* Whether an input takes another coordinate than that of its own place. */
static bool has_other_places(const struct tl_spread *s)
{
    for (size_t i = 0; s->coordinate && i < s->inputs; i++)
        if (s->coordinate[i] != i)
            return true;
    return false;
}

static json_t *coordinates_json(const struct tl_spread *s)
{
    json_t *array = json_array();
    for (size_t i = 0; i < s->inputs; i++)
        tl_json_append(&array, json_integer(s->coordinate[i]));
    return array;
}

json_t *tl_spread_question(const struct tl_spread *s, const struct tl_spread_shard *shard)
{
    char print[20], seed[24];
    uint64_t hash;
    json_t *inputs = json_array();
    if (tl_spread_scenario_print(s->scenario, &hash)) {
        json_decref(inputs);
        return NULL;
    }
    (void)tl_format(print, sizeof print, "%016" PRIx64, hash);
    (void)tl_format(seed, sizeof seed, "%" PRIu64, s->seed);
    for (size_t i = 0; i < s->inputs; i++)
        tl_json_append(&inputs, input_json(&s->input[i]));
    json_t *q = json_pack("{s:s, s:I, s:s, s:s, s:o}", "scenario", print, "runs",
                          (json_int_t)s->runs, "seed", seed, "lanes", s->level, "inputs", inputs);
    if (s->sensitivity)
        tl_json_put(&q, "sensitivity", json_true());
    if (has_other_places(s))
        tl_json_put(&q, "coordinates", coordinates_json(s));
    if (q && shard && shard->of > 1) {
        tl_json_put(&q, "shard", json_integer((json_int_t)shard->index));
        tl_json_put(&q, "shards", json_integer((json_int_t)shard->of));
    }
    return q;
}

/* --- and back ----------------------------------------------------------------------------------- */

static bool read_exact(const json_t *object, const char *name, double *value)
{
    const char *text = json_string_value(json_object_get(object, name));
    char *end = NULL;
    *value = text ? tl_strtod(text, &end) : NAN;
    return text && end != text && *end == '\0' && isfinite(*value);
}

/* The place of a name among some; `n`: it is none of them. */
static size_t find(const char *name, const char *const *among, size_t n)
{
    size_t i = 0;
    while (i < n && !(name && strcmp(name, among[i]) == 0))
        i++;
    return i;
}

static bool read_input(const json_t *j, struct tl_spread_input *in)
{
    static const char *const number[NUMBERS] = {"a", "b", "c", "min", "max", "given"};
    double *const value[NUMBERS] = {&in->d.a,   &in->d.b,   &in->d.c,
                                    &in->d.min, &in->d.max, &in->given};
    const char *dim_name[TL_NDIM];
    const char *path = json_string_value(json_object_get(j, "key"));
    bool good = path && strlen(path) < sizeof in->path;
    for (size_t i = 0; i < NUMBERS; i++)
        good &= read_exact(j, number[i], value[i]);
    for (size_t i = 0; i < TL_NDIM; i++)
        dim_name[i] = tl_dim_base_unit((enum tl_dim)i);
    const size_t dim = find(json_string_value(json_object_get(j, "unit")), dim_name, TL_NDIM);
    const size_t kind =
        find(json_string_value(json_object_get(j, "distribution")), kind_name, KINDS);
    const size_t nature =
        find(json_string_value(json_object_get(j, "nature")), nature_name, NATURES);
    in->status = json_string_value(json_object_get(j, "status"));
    in->source = json_string_value(json_object_get(j, "source"));
    if (!good || dim == TL_NDIM || kind == KINDS || nature == NATURES || !in->status || !in->source)
        return false;
    (void)tl_format(in->path, sizeof in->path, "%s", path);
    in->dim = (enum tl_dim)dim;
    in->d.kind = (enum tl_distribution_kind)kind;
    in->nature = (enum tl_spread_nature)nature;
    return true;
}

int tl_spread_from_question(const json_t *q, struct tl_spread *out, struct tl_spread_shard *shard)
{
    const json_t *inputs = json_object_get(q, "inputs");
    const json_int_t runs = json_integer_value(json_object_get(q, "runs"));
    const json_t *index = json_object_get(q, "shard"), *of = json_object_get(q, "shards");
    const char *seed = json_string_value(json_object_get(q, "seed"));
    const char *level = json_string_value(json_object_get(q, "lanes"));
    char *end = NULL;
    const size_t n = json_array_size(inputs);
    *out = (struct tl_spread){.level = level,
                              .sensitivity = json_is_true(json_object_get(q, "sensitivity"))};
    *shard = (struct tl_spread_shard){index ? (unsigned)json_integer_value(index) : 1,
                                      of ? (unsigned)json_integer_value(of) : 1};
    if (runs < 1 || runs > TL_SPREAD_RUNS_MOST || n < 1 || n > TL_SPREAD_MOST || !seed || !level ||
        shard->of < 1 || shard->index < 1 || shard->index > shard->of)
        return TL_E_INPUT;
    out->runs = (size_t)runs;
    out->seed = strtoull(seed, &end, 10);
    if (end == seed || *end)
        return TL_E_INPUT;
    struct tl_spread_input *input = calloc(n, sizeof *input);
    bool good = input != NULL;
    for (size_t i = 0; i < n && good; i++)
        good = read_input(json_array_get(inputs, i), &input[i]);
    if (!good) {
        const int status = input ? TL_E_INPUT : TL_E_MEMORY;
        free(input);
        return status;
    }
    out->input = input;
    out->inputs = n;
    return TL_OK;
}

static int take_print(struct tl_spread *s)
{
    struct tl_build b;
    tl_build_info(&b);
    if (!s->build)
        s->build = tl_json_build();
    if (s->build && !json_object_get(s->build, "version"))
        tl_json_put(&s->build, "version", json_string(b.version));
    json_t *q = tl_spread_question(s, NULL);
    json_t *all = q && s->build ? json_pack("[O, O]", q, s->build) : NULL;
    char *text = all ? json_dumps(all, JSON_COMPACT | JSON_SORT_KEYS) : NULL;
    json_decref(q);
    json_decref(all);
    if (!text)
        return TL_E_MEMORY;
    s->print = tl_fingerprint(TL_FINGERPRINT_START, text, strlen(text));
    free(text);
    return TL_OK;
}

int tl_spread_prepare(struct tl_spread *s)
{
    const struct tl_setup *u = &s->scenario->setup;
    s->points = NULL;
    if (s->runs < 1 || s->runs > TL_SPREAD_RUNS_MOST || s->inputs > TL_SPREAD_MOST ||
        (s->sensitivity && s->inputs > TL_INDEX_INPUTS))
        return TL_E_INPUT;
    s->intervals = tl_intervals_of(u->start_d, u->length_d);
    const size_t orders = s->coordinate ? s->coordinates : s->inputs;
    const size_t coordinates = s->sensitivity ? 2 * s->inputs : orders;
    const int status =
        tl_points_new(&s->points, s->seed, (unsigned)coordinates, (unsigned)orders, s->runs);
    return status ? status : take_print(s);
}

void tl_spread_free(struct tl_spread *s)
{
    tl_points_free(s->points);
    json_decref(s->build);
    s->points = NULL;
    s->build = NULL;
}

size_t tl_spread_blocks(const struct tl_spread *s)
{
    return (s->runs + TL_BLOCK_RUNS - 1) / TL_BLOCK_RUNS;
}

size_t tl_spread_block_runs(const struct tl_spread *s, size_t block)
{
    const size_t first = block * TL_BLOCK_RUNS;
    return s->runs - first < TL_BLOCK_RUNS ? s->runs - first : TL_BLOCK_RUNS;
}

/* The runs of a base point, in the order of tl_index_point(). */
static void point_of(const struct tl_spread *s, size_t run, size_t of_base, double *u)
{
    double base[TL_POINTS_DIMENSIONS];
    tl_points_at(s->points, run, base);
    for (size_t i = 0; s->coordinate && i < s->inputs; i++)
        u[i] = base[s->coordinate[i]];
    if (!s->coordinate)
        tl_index_point(base, s->inputs, of_base, u);
}

void tl_spread_point(const struct tl_spread *s, size_t run, double *u)
{
    point_of(s, run, 0, u);
}

size_t tl_spread_others(const struct tl_spread *s)
{
    return s->sensitivity ? TL_INDEX_RUNS(s->inputs) - 1 : 0;
}

void tl_spread_other_point(const struct tl_spread *s, size_t run, size_t other, double *u)
{
    point_of(s, run, 1 + other, u);
}

int tl_spread_block_new(const struct tl_spread *s, struct tl_block *b)
{
    const int status = tl_block_new(b, TL_NWATCHED * s->intervals.count);
    return status ? status : tl_block_add_others(b, tl_spread_others(s));
}

/* --- one block ---------------------------------------------------------------------------------- */

struct runs { /* of a block */
    const struct tl_spread *spread;
    size_t of_base; /* which of the runs of each base point */
    size_t count;
    struct tl_limits limits[TL_BLOCK_RUNS];
    struct tl_model *model[TL_BLOCK_RUNS]; /* NULL: its scenario cannot be run */
    struct tl_pond pond[TL_BLOCK_RUNS];    /* of those that can */
    size_t of_pond[TL_BLOCK_RUNS];
    size_t ponds;
    double *worst; /* [count][rows]; NAN: not seen */
    size_t rows;
};

static int see(void *arg, size_t pond, size_t instant, const struct tl_snapshot *glance)
{
    const struct runs *r = arg;
    double *worst = r->worst + r->of_pond[pond] * r->rows;
    double value[TL_NWATCHED];
    if (instant == 0)
        for (size_t i = 0; i < r->rows; i++)
            worst[i] = NAN;
    tl_watched_values(glance, value);
    const size_t interval = tl_interval_at(&r->spread->intervals, glance->t_d);
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        double *kept = &worst[tl_spread_row(r->spread, w, interval)];
        *kept = tl_watched(w)->below ? fmin(*kept, value[w]) : fmax(*kept, value[w]);
    }
    return TL_OK;
}

/* The scenario of run k of the block as a model. A scenario that cannot be is no failure of ours. */
static int build(struct runs *r, size_t first, size_t k)
{
    const struct tl_spread *s = r->spread;
    struct tl_scenario scenario;
    struct tl_diag diag;
    double u[TL_SPREAD_MOST];

    point_of(s, first + k, r->of_base, u);
    tl_diag_init(&diag);
    int status =
        tl_spread_scenario(s->file, s->set, s->sets, s->input, s->inputs, u, &scenario, &diag);
    if (status == TL_OK) {
        status = tl_model_build(&scenario.setup, &r->model[k]);
        r->limits[k] = scenario.limits;
        tl_scenario_free(&scenario);
    }
    tl_diag_free(&diag);
    if (status == TL_OK) {
        r->pond[r->ponds] = (struct tl_pond){.model = r->model[k], .limits = &r->limits[k]};
        r->of_pond[r->ponds++] = k;
    }
    if (status == TL_E_IO)
        return TL_E_REFUSED; /* gone meanwhile */
    return status == TL_E_INPUT || status == TL_E_SOLVER ? TL_OK : status;
}

/* The file is read anew for every run. One that was changed meanwhile would make two studies of one. */
int tl_spread_check_unchanged(const struct tl_spread *s)
{
    struct tl_scenario now;
    struct tl_diag diag;
    uint64_t was = 0, is = 1;
    tl_diag_init(&diag);
    int status = tl_settings_read(s->file, s->set, s->sets, NULL, 0, &now, &diag);
    tl_diag_free(&diag);
    if (status == TL_E_MEMORY)
        return status;
    if (status == TL_OK) {
        status = tl_spread_scenario_print(&now, &is);
        if (status == TL_OK)
            status = tl_spread_scenario_print(s->scenario, &was);
        tl_scenario_free(&now);
    }
    return status == TL_E_MEMORY ? status : was == is ? TL_OK : TL_E_REFUSED;
}

/* Of the scenario only its events and whether there are fish are asked for, which no input changes. */
static void keep(const struct tl_spread *s, const struct tl_pond *p, struct tl_spread_run *out)
{
    const struct tl_heat_course *heat = tl_model_heat(p->model);
    const struct tl_outcome outcome = {.scenario = s->scenario,
                                       .verdict = &p->verdict,
                                       .ranges = &p->ranges,
                                       .heat = heat ? &heat->summary : NULL,
                                       .fish_lost_d = p->fish_lost_d};
    *out = (struct tl_spread_run){.known = p->status == TL_OK, .lost_d = NAN};
    if (!out->known)
        return;
    out->grade = tl_outcome_grade(&outcome);
    out->lost_d = p->fish_lost_d;
    out->lost = !isnan(p->fish_lost_d);
    out->unready = tl_filter_unready(&s->scenario->setup, p->verdict.filter_ready_d);
    out->ice = heat && heat->summary.ice_h > 0;
    out->fish_ice = heat && heat->summary.fish_ice_h > 0;
    for (unsigned i = 0; i < TL_NRANGE; i++)
        out->outside |= (uint32_t)p->ranges.note[i].outside << i;
    for (size_t i = 0; i < TL_NLIMIT; i++) {
        const struct tl_limit_verdict *v = &p->verdict.limit[i];
        out->limit[i] = (struct tl_spread_limit){v->judged, v->grade, v->worst, v->first_breach_d};
    }
}

static int rising(const void *a, const void *b)
{
    const uint16_t x = *(const uint16_t *)a, y = *(const uint16_t *)b;
    return (x > y) - (x < y);
}

static void sort_into_bins(const struct runs *r, struct tl_block *b)
{
    for (size_t i = 0; i < r->rows; i++) {
        const struct tl_watched *w = tl_watched(i / r->spread->intervals.count);
        uint16_t *bin = b->bin + i * TL_BLOCK_RUNS;
        uint8_t filled = 0;
        for (size_t k = 0; k < r->count; k++) {
            const double value = r->worst[k * r->rows + i];
            if (b->run[k].known && !isnan(value))
                bin[filled++] = (uint16_t)tl_bins_at(&w->bins, value);
        }
        qsort(bin, filled, sizeof *bin, rising);
        b->filled[i] = filled;
    }
}

/* The worst values of the runs at hand, as those of the `other`-th of each. */
static void keep_other(const struct runs *r, size_t other, struct tl_block *b)
{
    for (size_t k = 0; k < r->count; k++)
        for (size_t i = 0; i < TL_NLIMIT; i++)
            b->other[(k * b->others + other) * TL_NLIMIT + i] = NAN;
    for (size_t i = 0; i < r->ponds; i++) {
        double *worst = b->other + (r->of_pond[i] * b->others + other) * TL_NLIMIT;
        const struct tl_pond *p = &r->pond[i];
        for (size_t k = 0; k < TL_NLIMIT && p->status == TL_OK; k++)
            if (p->verdict.limit[k].judged)
                worst[k] = p->verdict.limit[k].worst;
    }
}

static void keep_runs(const struct runs *r, struct tl_block *b)
{
    for (size_t k = 0; k < r->count; k++)
        b->run[k] = (struct tl_spread_run){.impossible = !r->model[k], .lost_d = NAN};
    for (size_t i = 0; i < r->ponds; i++)
        keep(r->spread, &r->pond[i], &b->run[r->of_pond[i]]);
    sort_into_bins(r, b);
}

/* Of each base point of the block the run that r->of_base says. */
static int run_all(struct runs *r, size_t block, const struct tl_ponds_options *options)
{
    const volatile int *interrupted = options->interrupted;
    int status = TL_OK;
    r->ponds = 0;
    for (size_t k = 0; k < r->count && !status; k++)
        status =
            interrupted && *interrupted ? TL_E_INTERRUPTED : build(r, block * TL_BLOCK_RUNS, k);
    if (!status)
        status = tl_spread_check_unchanged(r->spread);
    return !status && r->ponds > 0 ? tl_ponds_run(r->pond, r->ponds, options) : status;
}

static void forget_models(struct runs *r)
{
    for (size_t k = 0; k < r->count; k++) {
        tl_model_free(r->model[k]);
        r->model[k] = NULL;
    }
}

int tl_spread_run_block(const struct tl_spread *s, size_t block, unsigned threads,
                        const volatile int *interrupted, struct tl_block *b)
{
    struct runs *r = calloc(1, sizeof *r);
    if (!r)
        return TL_E_MEMORY;
    r->spread = s;
    r->rows = b->rows;
    r->count = tl_spread_block_runs(s, block);
    r->worst = calloc(r->count * r->rows, sizeof *r->worst);
    b->index = (uint32_t)block;
    b->runs = r->count;
    struct tl_ponds_options options = {.threads = threads,
                                       .level = s->level,
                                       .period_d = s->intervals.sample_d,
                                       .see = see,
                                       .arg = r,
                                       .interrupted = interrupted};
    int status = r->worst ? run_all(r, block, &options) : TL_E_MEMORY;
    if (!status)
        keep_runs(r, b);
    options.see = NULL; /* of the others only the worst is asked for */
    for (size_t other = 0; other < b->others && !status; other++) {
        forget_models(r);
        r->of_base = 1 + other;
        status = run_all(r, block, &options);
        if (!status)
            keep_other(r, other, b);
    }
    forget_models(r);
    free(r->worst);
    free(r);
    return status;
}

/* --- all of a shard ------------------------------------------------------------------------------ */

struct shared {
    const struct tl_spread *spread;
    const struct tl_spread_course *course;
    unsigned threads;  /* of each block */
    atomic_int reason; /* errno of one that could not be written */
};

static size_t of_shard(const struct shared *w, size_t job)
{
    return job * w->course->shard.of + w->course->shard.index - 1;
}

static int do_block(void *arg, size_t job)
{
    struct shared *w = arg;
    const size_t index = of_shard(w, job);
    char name[TL_BLOCK_NAME_SIZE];
    struct tl_block b;

    tl_block_name((uint32_t)index, name);
    char *path = tl_place_below(w->course->folder, name);
    int status = tl_spread_block_new(w->spread, &b);
    b.index = (uint32_t)index;
    b.runs = tl_spread_block_runs(w->spread, index);
    if (!status)
        status = path ? tl_block_read(&b, w->spread->print, path) : TL_E_MEMORY;
    if (status == TL_E_INPUT) {
        status = tl_spread_run_block(w->spread, index, w->threads, w->course->interrupted, &b);
        if (!status)
            status = tl_block_write(&b, w->spread->print, path);
    }
    if (status == TL_E_IO)
        w->reason = errno;
    tl_block_free(&b);
    free(path);
    return status;
}

static void say_done(void *arg, size_t done, size_t jobs)
{
    const struct shared *w = arg;
    const size_t runs = done * TL_BLOCK_RUNS, of = jobs * TL_BLOCK_RUNS;
    const size_t most = w->spread->runs < of ? w->spread->runs : of;
    w->course->progress(w->course->progress_arg, runs < most ? runs : most, most);
}

int tl_spread_run(const struct tl_spread *s, const struct tl_spread_course *course)
{
    struct shared w = {.spread = s, .course = course, .threads = 1};
    const size_t blocks = tl_spread_blocks(s), skipped = course->shard.index - 1u;
    const size_t jobs =
        blocks > skipped ? (blocks - skipped + course->shard.of - 1) / course->shard.of : 0;
    const unsigned threads = course->threads ? course->threads : tl_pool_processors();
    if (jobs > 0 && jobs < threads)
        w.threads = (threads + (unsigned)jobs - 1) / (unsigned)jobs;
    const struct tl_pool pool = {.job = do_block,
                                 .arg = &w,
                                 .jobs = jobs,
                                 .threads = threads,
                                 .interrupted = course->interrupted,
                                 .progress = course->progress ? say_done : NULL,
                                 .progress_arg = &w};
    const int status = tl_pool_run(&pool);
    errno = w.reason;
    return status;
}
