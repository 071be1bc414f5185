/* A spread as files: names are only ever added. Nothing in them hangs on when, where, by how many threads or in
 * how many parts the runs were made. */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "atomic_file.h"
#include "json.h"
#include "number.h"
#include "report_page.h"
#include "spread_view.h"
#include "text.h"
#include "towerloop/shock.h"
#include "towerloop/status.h"
#include "uncertain.h"

#define SPREAD_FORMAT 1
#define DIGITS        10

enum { SHARES = 5 };
static const double share[SHARES] = {0.05, 0.25, 0.5, 0.75, 0.95};
static const char *const share_name[SHARES] = {"q05", "q25", "q50", "q75", "q95"};

enum { RESULT_JSON, RESULT_FAN, RESULT_CHANCES, RESULT_SCENARIO, RESULT_PAGE };
const char *const tl_spread_results[] = {
    [RESULT_JSON] = "spread.json",    [RESULT_FAN] = "spread.csv",
    [RESULT_CHANCES] = "chances.csv", [RESULT_SCENARIO] = "scenario.yaml",
    [RESULT_PAGE] = TL_REPORT_FILE,   NULL};

static const struct {
    const char *name, *unit;
} limit_row[TL_NLIMIT] = {
#define ROW(id, name, unit) [id] = {name, unit},
    TL_LIMIT_LIST(ROW)
#undef ROW
};

static const char *worst_of(const struct tl_watched *w)
{
    return w->below ? "lowest" : "highest";
}

/* --- JSON --------------------------------------------------------------------------------------- */

/* The numbers that a distribution has, by their names. */
static json_t *input_json(const struct tl_spread_input *in)
{
    static const char *const names[][3] = {[TL_UNIFORM] = {"least", "greatest"},
                                           [TL_NORMAL] = {"mean", "standard_deviation"},
                                           [TL_LOGNORMAL] = {"median", "factor"},
                                           [TL_TRIANGULAR] = {"least", "greatest", "likeliest"}};
    const double number[] = {in->d.a, in->d.b, in->d.c};
    char words[TL_SPREAD_WORDS];
    tl_spread_words(in->path, words);
    json_t *j = json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:o, s:s}", "key", in->path, "words",
                          words, "unit", tl_dim_base_unit(in->dim), "nature",
                          in->nature == TL_SPREAD_HAPPENS ? "what happens" : "parameter", "status",
                          in->status, "source", in->source, "given", tl_json_number(in->given),
                          "distribution", tl_spread_kind(in->d.kind));
    for (size_t i = 0; i < 3; i++)
        if (names[in->d.kind][i])
            tl_json_put(&j, names[in->d.kind][i], tl_json_number(number[i]));
    tl_json_put(&j, "cut_below", tl_json_number(in->d.min));
    tl_json_put(&j, "cut_above", tl_json_number(in->d.max));
    return j;
}

/* Raw estimates: by chance they may lie a little below 0. */
static json_t *sensitivity_json(const struct tl_tally *t, enum tl_limit_id id)
{
    struct tl_indices found;
    json_t *inputs = json_object();
    tl_tally_indices(t, id, &found);
    for (size_t j = 0; j < t->spread->inputs && found.known; j++) {
        const struct tl_index *x = &found.input[j];
        tl_json_put(&inputs, t->spread->input[j].path,
                    json_pack("{s:o, s:o, s:o, s:o}", "first_order", tl_json_number(x->first),
                              "first_order_error", tl_json_number(x->first_error), "total",
                              tl_json_number(x->total), "total_error",
                              tl_json_number(x->total_error)));
    }
    return json_pack("{s:b, s:I, s:I, s:o, s:o}", "known", found.known, "base_points",
                     (json_int_t)found.points, "missed", (json_int_t)found.missed,
                     "standard_deviation", tl_json_number(found.points > 0 ? found.deviation : NAN),
                     "indices", inputs);
}

static json_t *limit_json(const struct tl_tally *t, enum tl_limit_id id)
{
    json_t *worst = json_object(), *first = json_object(), *ranks = json_object();
    for (size_t i = 0; i < SHARES; i++) {
        tl_json_put(&worst, share_name[i], tl_json_number(tl_tally_worst(t, id, share[i])));
        tl_json_put(&first, share_name[i], tl_json_number(tl_tally_first_d(t, id, share[i])));
    }
    for (size_t j = 0; j < t->spread->inputs; j++)
        tl_json_put(&ranks, t->spread->input[j].path,
                    tl_json_number(tl_tally_correlation(t, id, j)));
    json_t *limit =
        json_pack("{s:s, s:s, s:I, s:o, s:o, s:f, s:o, s:o, s:o}", "name", limit_row[id].name,
                  "unit", limit_row[id].unit, "judged", (json_int_t)t->limit[id].judged, "caution",
                  tl_chance_object(tl_tally_limit_beyond(t, id, TL_CAUTION)), "danger",
                  tl_chance_object(tl_tally_limit_beyond(t, id, TL_DANGER)), "bin_width",
                  tl_limit_bins(id)->width, "worst", worst, "first_breach_d", first,
                  "rank_correlation", ranks);
    if (t->spread->sensitivity)
        tl_json_put(&limit, "sensitivity", sensitivity_json(t, id));
    return limit;
}

static json_t *watched_json(void)
{
    json_t *array = json_array();
    for (size_t i = 0; i < TL_NWATCHED; i++) {
        const struct tl_watched *w = tl_watched(i);
        tl_json_append(&array, json_pack("{s:s, s:s, s:s, s:f, s:s}", "quantity", w->name, "unit",
                                         w->unit, "worst", worst_of(w), "bin_width", w->bins.width,
                                         "bin_width_of", w->bins.log ? "the value" : "the unit"));
    }
    return array;
}

/* What alone makes a run one of caution or danger, though no limit is broken. */
static json_t *causes_json(const struct tl_tally *t)
{
    const struct tl_setup *s = &t->spread->scenario->setup;
    json_t *ranges = json_array();
    struct tl_ranges all;
    tl_ranges_init(&all, s, true);
    for (size_t i = 0; i < TL_NRANGE; i++)
        if (t->outside_of[i] > 0)
            tl_json_append(&ranges,
                           json_pack("{s:s, s:s, s:I}", "what", all.note[i].what, "used_for",
                                     all.note[i].use, "runs", (json_int_t)t->outside_of[i]));
    return json_pack("{s:o, s:o, s:o, s:o, s:b}", "outside_published_range",
                     tl_chance_object(tl_chance_of(t->outside, t->runs)), "ranges", ranges, "ice",
                     tl_chance_object(tl_chance_of(t->ice, t->runs)), "ice_with_fish",
                     tl_chance_object(tl_chance_of(t->fish_ice, t->runs)), "medicine_not_judged",
                     tl_setup_gives_medicine(s) && tl_setup_ever_fish(s));
}

json_t *tl_spread_json(const struct tl_tally *t)
{
    const struct tl_spread *s = t->spread;
    json_t *inputs = json_array(), *limits = json_array(), *lost_d = json_object();
    char seed[24];
    for (size_t i = 0; i < s->inputs; i++)
        tl_json_append(&inputs, input_json(&s->input[i]));
    for (int i = 0; i < TL_NLIMIT; i++)
        tl_json_append(&limits, limit_json(t, (enum tl_limit_id)i));
    for (size_t i = 0; i < SHARES; i++)
        tl_json_put(&lost_d, share_name[i], tl_json_number(tl_tally_lost_d(t, share[i])));
    (void)tl_format(seed, sizeof seed, "%" PRIu64, s->seed);
    json_t *question = tl_spread_question(s, NULL);
    json_t *root = json_pack(
        "{s:s, s:O, s:s, s:I, s:I, s:I, s:s, s:s, s:{s:o, s:o, s:o, s:o, s:o}, s:s, s:o, s:o, "
        "s:{s:f, s:f, s:I, s:o}}",
        "scenario", s->scenario->title, "scenario_print", json_object_get(question, "scenario"),
        "verdict", tl_grade_text(tl_tally_verdict(t)), "runs", (json_int_t)t->runs, "not_known",
        (json_int_t)t->unknown, "impossible", (json_int_t)t->impossible, "seed", seed, "lanes",
        s->level, "chance", "within_limits", tl_chance_object(tl_tally_within(t)), "caution",
        tl_chance_object(tl_tally_beyond(t, TL_CAUTION)), "danger",
        tl_chance_object(tl_tally_beyond(t, TL_DANGER)), "fish_lost",
        tl_chance_object(tl_tally_lost(t)), "fish_lost_d", lost_d, "interval",
        "90 %, Clopper-Pearson; runs that are not known count as danger", "inputs", inputs,
        "limits", limits, "fan", "interval_d", s->intervals.length_d, "sample_d",
        s->intervals.sample_d, "intervals", (json_int_t)s->intervals.count, "quantities",
        watched_json());
    json_decref(question);
    tl_json_put(&root, "besides_limits", causes_json(t));
    json_t *result = tl_json_result(SPREAD_FORMAT, root);
    json_t *build = json_copy(s->build);
    json_object_del(build, "version");
    if (result && build) {
        json_object_set(result, "version", json_object_get(s->build, "version"));
        json_object_set(result, "build", build);
    }
    json_decref(build);
    return result;
}

static int write_json(const struct tl_tally *t, const char *path)
{
    return tl_json_write(tl_spread_json(t), path, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS));
}

void tl_spread_print(const struct tl_tally *t, bool json, enum tl_unit_system units)
{
    if (json)
        tl_answer_json(tl_spread_json(t), DIGITS);
    else
        tl_spread_text(t, units, stdout);
}

/* --- tables ------------------------------------------------------------------------------------- */

static void put_number(FILE *f, double value)
{
    char text[TL_NUMBER_SIZE];
    (void)tl_number_write(text, value);
    fprintf(f, ",%s", text);
}

static int write_fan(const struct tl_tally *t, const char *path)
{
    const struct tl_intervals *v = &t->spread->intervals;
    struct tl_atomic_file file;
    const int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "quantity,unit,worst,t_d,q05,q25,q50,q75,q95\n");
    for (size_t w = 0; w < TL_NWATCHED; w++) {
        for (size_t i = 0; i < v->count; i++) {
            fprintf(file.f, "%s,%s,%s", tl_watched(w)->name, tl_watched(w)->unit,
                    worst_of(tl_watched(w)));
            put_number(file.f, tl_interval_middle(v, i));
            for (size_t k = 0; k < SHARES; k++)
                put_number(file.f, tl_tally_fan(t, w, i, share[k]));
            fprintf(file.f, "\n");
        }
    }
    return tl_atomic_commit(&file);
}

static void put_chance(FILE *f, struct tl_chance c)
{
    fprintf(f, ",%zu,%zu", c.runs, c.of);
    put_number(f, c.of > 0 ? (double)c.runs / (double)c.of : NAN);
    put_number(f, c.low);
    put_number(f, c.high);
}

static int write_chances(const struct tl_tally *t, const char *path)
{
    struct tl_atomic_file file;
    const int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "limit,unit,caution_runs,caution_of,caution_share,caution_low,caution_high,"
                    "danger_runs,danger_of,danger_share,danger_low,danger_high,"
                    "worst_q05,worst_q50,worst_q95,first_breach_q05_d,first_breach_q50_d,"
                    "first_breach_q95_d\n");
    for (int i = 0; i < TL_NLIMIT; i++) {
        const enum tl_limit_id id = (enum tl_limit_id)i;
        const bool comma = strchr(limit_row[i].name, ',') != NULL;
        fprintf(file.f, "%s%s%s,%s", comma ? "\"" : "", limit_row[i].name, comma ? "\"" : "",
                limit_row[i].unit);
        put_chance(file.f, tl_tally_limit_beyond(t, id, TL_CAUTION));
        put_chance(file.f, tl_tally_limit_beyond(t, id, TL_DANGER));
        for (size_t k = 0; k < SHARES; k += 2)
            put_number(file.f, tl_tally_worst(t, id, share[k]));
        for (size_t k = 0; k < SHARES; k += 2)
            put_number(file.f, tl_tally_first_d(t, id, share[k]));
        fprintf(file.f, "\n");
    }
    return tl_atomic_commit(&file);
}

int tl_spread_write_scenario(const struct tl_scenario *s, const struct tl_study *folder)
{
    char *text = NULL;
    int status = tl_scenario_text(s, &text);
    if (status == TL_OK)
        status = tl_study_write(folder, tl_spread_results[RESULT_SCENARIO], text);
    const int reason = errno;
    free(text);
    errno = reason;
    return status;
}

int tl_spread_write(const struct tl_tally *t, const struct tl_study *folder)
{
    static int (*const writer[])(const struct tl_tally *, const char *) = {
        [RESULT_FAN] = write_fan, [RESULT_CHANCES] = write_chances, [RESULT_JSON] = write_json};
    int status = TL_OK;
    for (size_t i = sizeof writer / sizeof *writer; i-- > 0 && status == TL_OK;) {
        char *path = tl_study_path(folder, tl_spread_results[i]);
        status = path ? writer[i](t, path) : TL_E_MEMORY;
        free(path);
    }
    return status == TL_OK ? tl_study_finish(folder, NULL, 0) : status;
}
