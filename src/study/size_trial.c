/* Runs trials, judges what limits have to spare, and keeps what was found. */
#include "size_trial.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "deadly.h"
#include "fingerprint.h"
#include "json.h"
#include "settings.h"
#include "steady.h"
#include "text.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

#define FORMAT     5
#define FAR_BEYOND (-10.0)
#define LOST       (-1.0)
#define PH_BAND    1.0  /* where only one side has a limit */
#define SHORT_MOST 0.01 /* of the hours a heater may be too weak in; common practice, no source */
#define HASH_SIZE  20
#define MOST_DAYS  600 /* a loop that takes longer to settle is no answer to wait for */

/* --- judging ------------------------------------------------------------------------------------ */

static double ph_band(const struct tl_limits *l)
{
    const double band = l->ph_high.caution - l->ph_low.caution;
    return band > 0 ? band : PH_BAND;
}

static double spare_of(const struct tl_limit_verdict *v, int id, double level, double band)
{
    const double away = v->below ? v->worst - level : level - v->worst;
    double spare = away / level;
    if (id == TL_LIMIT_PH_LOW || id == TL_LIMIT_PH_HIGH)
        spare = away / band;
    else if (id == TL_LIMIT_COLD || id == TL_LIMIT_WARM)
        spare = fmin(1, away / TL_SIZE_HEAT_BAND_DEGC);
    else if (!(level > 0))
        spare = away >= 0 ? 1 : FAR_BEYOND;
    return fmax(spare, FAR_BEYOND);
}

static void rank(struct tl_size_trial *t)
{
    t->tightest = t->next = -1;
    for (int i = 0; i < TL_NSIZE_LIMIT; i++) {
        if (isnan(t->spare[i]))
            continue;
        if (t->tightest < 0 || t->spare[i] < t->spare[t->tightest]) {
            t->next = t->tightest;
            t->tightest = i;
        } else if (t->next < 0 || t->spare[i] < t->spare[t->next]) {
            t->next = i;
        }
    }
    t->least = t->tightest < 0 ? NAN : t->spare[t->tightest];
    if (t->fish_lost || t->end != TL_TRIAL_RAN)
        t->least = isnan(t->least) ? LOST : fmin(t->least, LOST);
}

static void clear(struct tl_size_trial *t, enum tl_trial_end end)
{
    *t = (struct tl_size_trial){.end = end};
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        t->spare[i] = t->worst[i] = t->level[i] = NAN;
    for (int i = 0; i < TL_NRANGE; i++)
        t->outside[i] = NAN;
    t->drain_every_d = t->full_after_d = NAN;
    rank(t);
}

static void note_ranges(const struct tl_ranges *r, struct tl_size_trial *t)
{
    for (int i = 0; i < TL_NRANGE; i++)
        t->outside[i] = r->note[i].outside ? r->note[i].value : NAN;
}

static void judge_limit(const struct tl_verdict *v, int i, double band, struct tl_size_trial *out)
{
    const struct tl_limit_verdict *l = &v->limit[i];
    const double own = isnan(l->caution) ? l->danger : l->caution;
    const double deadly =
        tl_deadly_from((enum tl_limit_id)i); /* no limit of one's own goes beyond it */
    const double level = l->below ? fmax(own, deadly) : fmin(own, deadly);
    if (!l->judged || isnan(level) || isnan(l->worst))
        return;
    out->worst[i] = l->worst;
    out->level[i] = level;
    out->spare[i] = spare_of(l, i, level, band);
}

void tl_size_judge(const struct tl_verdict *v, const struct tl_limits *limits, bool fish_lost,
                   struct tl_size_trial *out)
{
    clear(out, TL_TRIAL_RAN);
    out->fish_lost = fish_lost;
    for (int i = 0; i < TL_NLIMIT; i++)
        judge_limit(v, i, ph_band(limits), out);
    rank(out);
}

void tl_size_judge_heat(const struct tl_heat_summary *h, bool keeps, double length_d,
                        struct tl_size_trial *out)
{
    const double hours = 24 * length_d;
    if (out->tightest < 0) /* no fish, nothing to judge for */
        return;
    out->worst[TL_SIZE_ICE] = h->ice_h;
    out->level[TL_SIZE_ICE] = 0;
    /* no jump where the first ice forms: the search goes by the slope */
    out->spare[TL_SIZE_ICE] = h->ice_h > 0 ? FAR_BEYOND * fmin(1, h->ice_h / hours)
                                           : fmin(1, h->lowest_degC / TL_SIZE_HEAT_BAND_DEGC);
    if (keeps) {
        const double most = SHORT_MOST * hours;
        out->worst[TL_SIZE_HEATER_SHORT] = h->heater_short_h;
        out->level[TL_SIZE_HEATER_SHORT] = most;
        out->spare[TL_SIZE_HEATER_SHORT] = fmax(FAR_BEYOND, 1 - h->heater_short_h / most);
    }
    rank(out);
}

static void judge_upper(int i, double worst, double level, struct tl_size_trial *out)
{
    out->worst[i] = worst;
    out->level[i] = level;
    out->spare[i] = fmax(FAR_BEYOND, 1 - worst / level);
}

void tl_size_judge_media(const struct tl_bed_result *bed, const struct tl_solids_result *solids,
                         struct tl_size_trial *out)
{
    if (out->tightest < 0)
        return;
    judge_upper(TL_SIZE_SULFIDE, fmax(bed->bed.longest_h, bed->chamber.longest_h), TL_WITHOUT_H,
                out);
    judge_upper(TL_SIZE_PONDED, 100 * solids->most_voids, 100 * TL_VOIDS_PONDING, out);
    rank(out);
}

void tl_size_judge_medicine(const struct tl_setup *s, struct tl_size_trial *out)
{
    const struct tl_event *e = tl_setup_overdose(s);
    if (!e || out->tightest < 0)
        return;
    judge_upper(TL_SIZE_MEDICINE, tl_medicine_content_g_m3(s, e), tl_medicine_known_to(e->dose),
                out);
    rank(out);
}

bool tl_size_holds(const struct tl_size_trial *t, double margin)
{
    return t->end == TL_TRIAL_RAN && !t->fish_lost && t->least >= margin;
}

bool tl_size_outside(const struct tl_size_trial *t)
{
    bool outside = false;
    for (int i = 0; i < TL_NRANGE; i++)
        outside = outside || !isnan(t->outside[i]);
    return outside;
}

/* --- keeping ------------------------------------------------------------------------------------ */

static json_t *numbers(const double *x, int n)
{
    json_t *array = json_array();
    for (int i = 0; i < n; i++)
        tl_json_append(&array, tl_json_number(x[i]));
    return array;
}

static void read_numbers(const json_t *array, double *x, int n)
{
    for (int i = 0; i < n; i++) {
        const json_t *v = json_array_get(array, (size_t)i);
        x[i] = json_is_number(v) ? json_number_value(v) : NAN;
    }
}

static double read_number(const json_t *o, const char *key)
{
    const json_t *v = json_object_get(o, key);
    return json_is_number(v) ? json_number_value(v) : NAN;
}

static json_t *to_json(const struct tl_size_trial *t)
{
    return json_pack("{s:i, s:b, s:b, s:o, s:o, s:o, s:o, s:I, s:o, s:o, s:s}", "end", (int)t->end,
                     "fish_lost", t->fish_lost, "unready", t->unready, "spare",
                     numbers(t->spare, TL_NSIZE_LIMIT), "worst", numbers(t->worst, TL_NSIZE_LIMIT),
                     "level", numbers(t->level, TL_NSIZE_LIMIT), "outside",
                     numbers(t->outside, TL_NRANGE), "steady_days", (json_int_t)t->steady_days,
                     "drain_every_d", tl_json_number(t->drain_every_d), "full_after_d",
                     tl_json_number(t->full_after_d), "why", t->why);
}

static void from_json(const json_t *o, struct tl_size_trial *t)
{
    clear(t, (enum tl_trial_end)json_integer_value(json_object_get(o, "end")));
    t->fish_lost = json_is_true(json_object_get(o, "fish_lost"));
    t->unready = json_is_true(json_object_get(o, "unready"));
    read_numbers(json_object_get(o, "spare"), t->spare, TL_NSIZE_LIMIT);
    read_numbers(json_object_get(o, "worst"), t->worst, TL_NSIZE_LIMIT);
    read_numbers(json_object_get(o, "level"), t->level, TL_NSIZE_LIMIT);
    read_numbers(json_object_get(o, "outside"), t->outside, TL_NRANGE);
    t->steady_days = (size_t)json_integer_value(json_object_get(o, "steady_days"));
    t->drain_every_d = read_number(o, "drain_every_d");
    t->full_after_d = read_number(o, "full_after_d");
    const char *why = json_string_value(json_object_get(o, "why"));
    tl_format(t->why, sizeof t->why, "%s", why ? why : "");
    rank(t);
}

static json_t *build_json(void)
{
    struct tl_build b;
    tl_build_info(&b);
    json_t *build = tl_json_build();
    tl_json_put(&build, "version", json_string(b.version));
    return build;
}

int tl_size_bench_open(struct tl_size_bench *b)
{
    json_t *build = build_json();
    json_t *file = b->store ? tl_json_read(b->store) : NULL;
    json_t *trials = json_object_get(file, "trials");
    if (json_integer_value(json_object_get(file, "format")) == FORMAT && json_is_object(trials) &&
        json_equal(json_object_get(file, "build"), build))
        b->kept = json_incref(trials);
    else
        b->kept = json_object();
    json_decref(file);
    json_decref(build);
    b->trials = b->runs = b->done = b->of = 0;
    if (!b->kept)
        return TL_E_MEMORY;
    if (mtx_init(&b->lock, mtx_plain) == thrd_success)
        return TL_OK;
    json_decref(b->kept);
    b->kept = NULL;
    return TL_E_MEMORY;
}

void tl_size_bench_close(struct tl_size_bench *b)
{
    if (!b->kept)
        return;
    mtx_destroy(&b->lock);
    json_decref(b->kept);
    b->kept = NULL;
}

/* Under the lock. */
static int store(const struct tl_size_bench *b)
{
    json_t *root =
        json_pack("{s:i, s:o, s:O}", "format", FORMAT, "build", build_json(), "trials", b->kept);
    return tl_json_write(root, b->store, JSON_SORT_KEYS | JSON_INDENT(1));
}

/* The same for the same scenario, what it has from files included, and the same way to run it. */
static int name_trial(const struct tl_size_bench *b, const struct tl_scenario *s,
                      char name[HASH_SIZE])
{
    char *text = NULL;
    int status = tl_scenario_text(s, &text);
    if (status)
        return status;
    uint64_t h = tl_fingerprint(TL_FINGERPRINT_START, text, strlen(text));
    h = tl_fingerprint_logs(h, &s->setup);
    h = tl_fingerprint(h, &b->rtol, sizeof b->rtol);
    h = tl_fingerprint(h, &b->steady, sizeof b->steady);
    free(text);
    tl_format(name, HASH_SIZE, "%016" PRIx64, h);
    return TL_OK;
}

static bool recall(struct tl_size_bench *b, const char *name, struct tl_size_trial *out)
{
    mtx_lock(&b->lock);
    const json_t *found = json_object_get(b->kept, name);
    if (found)
        from_json(found, out);
    mtx_unlock(&b->lock);
    return found != NULL;
}

static int account(struct tl_size_bench *b, const char *name, bool fresh,
                   const struct tl_size_trial *t)
{
    int status = TL_OK;
    mtx_lock(&b->lock);
    b->trials++;
    b->runs += fresh;
    if (fresh && *name) {
        if (json_object_set_new(b->kept, name, to_json(t)))
            status = TL_E_MEMORY;
        else if (b->store)
            status = store(b);
    }
    if (b->progress)
        b->progress(b->progress_arg, b);
    mtx_unlock(&b->lock);
    return status;
}

void tl_size_bench_count(struct tl_size_bench *b)
{
    mtx_lock(&b->lock);
    b->done++;
    if (b->progress)
        b->progress(b->progress_arg, b);
    mtx_unlock(&b->lock);
}

/* --- trying ------------------------------------------------------------------------------------- */

int tl_size_read(const struct tl_size_bench *b, const char *const *set, size_t sets,
                 struct tl_scenario *out, struct tl_diag *diag)
{
    return tl_settings_read(b->file, b->set, b->sets, set, sets, out, diag);
}

static int judge_run(const struct tl_size_bench *b, const struct tl_scenario *s,
                     struct tl_assessment *a)
{
    const struct tl_assess_options options = {.rtol = b->rtol, .interrupted = b->interrupted};
    struct tl_model *m = NULL;
    int status = tl_model_build(&s->setup, &m);
    if (status == TL_OK)
        status = tl_assess(m, &s->limits, &options, a);
    tl_model_free(m);
    return status;
}

/* Leaves the state in `steady` whatever comes of it. */
static int judge_steady_day(const struct tl_size_bench *b, const struct tl_scenario *s,
                            struct tl_assessment *a, struct tl_steady *steady)
{
    const struct tl_assess_options options = {.rtol = b->rtol, .interrupted = b->interrupted};
    const struct tl_steady_options find = {.most_days = MOST_DAYS, .interrupted = b->interrupted};
    int status = tl_steady_find(&s->setup, &find, steady);
    if (status == TL_OK && !steady->converged) {
        status = TL_E_SOLVER;
        tl_format(a->fault, sizeof a->fault, "its days do not come to be alike within %zu days",
                  steady->days);
    }
    if (status == TL_OK)
        status = tl_steady_assess(&s->setup, &s->limits, steady, &options, a);
    return status;
}

/* Groups of fish with nobody in them: a run judges such water as if there were fish, a sizing does not take it for
 * an answer. */
static bool nobody_left(const struct tl_setup *s)
{
    bool planned = s->fish_groups > 0;
    for (size_t i = 0; i < s->events; i++)
        planned = planned || s->event[i].kind == TL_EVENT_ADD_FISH;
    return planned && !tl_setup_ever_fish(s);
}

static int run(const struct tl_size_bench *b, const struct tl_scenario *s,
               struct tl_size_trial *out)
{
    struct tl_assessment *a = calloc(1, sizeof *a);
    struct tl_steady steady = {.drain_every_d = NAN, .full_after_d = NAN};
    if (!a)
        return TL_E_MEMORY;
    int status = b->steady ? judge_steady_day(b, s, a, &steady) : judge_run(b, s, a);
    if (status == TL_OK && nobody_left(&s->setup)) {
        clear(out, TL_TRIAL_RAN);
    } else if (status == TL_OK) {
        tl_size_judge(&a->verdict, &s->limits, !isnan(a->fish_lost_d), out);
        if (a->outdoors)
            tl_size_judge_heat(&a->heat, !isnan(s->setup.heater.keep_degC), s->setup.length_d, out);
        tl_size_judge_media(&a->bed, &a->solids, out);
        if (!b->steady)
            tl_size_judge_medicine(&s->setup, out);
        note_ranges(&a->ranges, out);
        out->unready = !b->steady && tl_filter_unready(&s->setup, a->verdict.filter_ready_d);
        out->steady_days = steady.days;
        out->drain_every_d = steady.drain_every_d;
        out->full_after_d = steady.full_after_d;
    } else if (status != TL_E_INTERRUPTED && status != TL_E_MEMORY) {
        clear(out, TL_TRIAL_FAILED);
        tl_format(out->why, sizeof out->why, "%s", *a->fault ? a->fault : tl_status_text(status));
        status = TL_OK;
    }
    tl_steady_free(&steady);
    free(a);
    return status;
}

static void refuse(const struct tl_diag *diag, struct tl_size_trial *out)
{
    clear(out, TL_TRIAL_REFUSED);
    for (size_t i = 0; i < diag->count; i++) {
        char *text =
            diag->message[i].level == TL_DIAG_ERROR ? tl_diag_text(&diag->message[i]) : NULL;
        if (!text)
            continue;
        out->why[tl_utf8_cut(text, sizeof out->why - 1)] = '\0';
        memcpy(out->why, text, tl_utf8_cut(text, sizeof out->why - 1));
        free(text);
        return;
    }
}

int tl_size_try(struct tl_size_bench *b, const char *const *set, size_t sets,
                struct tl_size_trial *out)
{
    struct tl_scenario s;
    struct tl_diag diag;
    char name[HASH_SIZE] = "";
    bool fresh = true;

    tl_diag_init(&diag);
    int status = tl_size_read(b, set, sets, &s, &diag);
    if (status == TL_E_INPUT) {
        refuse(&diag, out);
        status = account(b, name, false, out);
    } else if (status == TL_OK) {
        status = name_trial(b, &s, name);
        if (status == TL_OK && recall(b, name, out))
            fresh = false;
        else if (status == TL_OK)
            status = run(b, &s, out);
        if (status == TL_OK)
            status = account(b, name, fresh, out);
        tl_scenario_free(&s);
    }
    tl_diag_free(&diag);
    return status;
}
