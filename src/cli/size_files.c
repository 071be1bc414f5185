/* A sizing as files: names are only ever added. */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "atomic_file.h"
#include "json.h"
#include "number.h"
#include "size_uncertain.h"
#include "size_words.h"
#include "towerloop/ranges.h"
#include "towerloop/status.h"

#define SIZE_FORMAT 1
#define DIGITS      10

static const struct {
    const char *name, *unit;
} limit_row[TL_NSIZE_LIMIT] = {
#define ROW(id, name, unit) [id] = {name, unit},
    TL_LIMIT_LIST(ROW) TL_SIZE_OWN_LIST(ROW)
#undef ROW
};

static const struct {
    const char *what, *unit, *use;
    double low, high;
} range_row[TL_NRANGE] = {
#define ROW(id, what, unit, low, high, use, source) [id] = {what, unit, use, low, high},
    TL_RANGE_LIST(ROW)
#undef ROW
};

const char *tl_size_limit_name(int limit)
{
    return limit < 0 ? "-" : limit_row[limit].name;
}

bool tl_size_found(const struct tl_size_view *v)
{
    if (v->quantities == 1)
        return v->one.outcome != TL_SIZE_NEVER;
    for (size_t i = 0; i < v->front.n; i++)
        if (v->front.second[i].outcome != TL_SIZE_NEVER)
            return true;
    return v->quantities == 0;
}

/* --- the table ---------------------------------------------------------------------------------- */

static void put_number(FILE *f, double value)
{
    char text[TL_NUMBER_SIZE];
    (void)tl_number_write(text, value);
    fprintf(f, ",%s", text);
}

/* A name of a limit may hold a comma. */
static void put_name(FILE *f, int limit)
{
    if (limit < 0)
        fprintf(f, ",");
    else
        fprintf(f, ",\"%s\"", limit_row[limit].name);
}

static void put_row(FILE *f, double first, const struct tl_size_point *p, bool answer)
{
    char text[TL_NUMBER_SIZE];
    (void)tl_number_write(text, first);
    fprintf(f, "%s", text);
    put_number(f, p->value);
    fprintf(f, ",%d,%d", p->holds, answer);
    put_number(f, 100 * p->trial.least);
    put_name(f, p->trial.tightest);
    put_name(f, p->trial.next);
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        put_number(f, p->trial.worst[i]);
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        put_number(f, 100 * p->trial.spare[i]);
    fprintf(f, ",%d", tl_size_outside(&p->trial));
    put_number(f, p->trial.drain_every_d);
    fprintf(f, "\n");
}

static void put_rows(FILE *f, double first, const struct tl_size_result *r)
{
    for (size_t i = 0; i < r->points; i++)
        put_row(f, first, &r->point[i], r->outcome != TL_SIZE_NEVER && i == r->answer);
}

int tl_size_write_csv(const struct tl_size_view *v, const char *path)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "first_value,value,holds,answer,to_spare_pct,tightest,next");
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        fprintf(file.f, ",\"worst: %s\"", limit_row[i].name);
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        fprintf(file.f, ",\"to spare, %%: %s\"", limit_row[i].name);
    fprintf(file.f, ",outside_range,drain_every_d\n");
    if (v->quantities == 1)
        put_rows(file.f, NAN, &v->one);
    for (size_t i = 0; v->quantities == 2 && i < v->front.n; i++)
        put_rows(file.f, v->front.first[i], &v->front.second[i]);
    return tl_atomic_commit(&file);
}

/* --- JSON --------------------------------------------------------------------------------------- */

static json_t *limit_object(const struct tl_size_trial *t, int i)
{
    if (i < 0)
        return json_null();
    return json_pack("{s:s, s:s, s:o, s:o, s:o}", "name", limit_row[i].name, "unit",
                     limit_row[i].unit, "worst", tl_json_number(t->worst[i]), "limit",
                     tl_json_number(t->level[i]), "to_spare_pct",
                     tl_json_number(100 * t->spare[i]));
}

static json_t *ranges_array(const struct tl_size_trial *t)
{
    json_t *array = json_array();
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(t->outside[i]))
            tl_json_append(&array, json_pack("{s:s, s:s, s:o, s:f, s:f, s:s}", "what",
                                             range_row[i].what, "unit", range_row[i].unit, "value",
                                             tl_json_number(t->outside[i]), "low", range_row[i].low,
                                             "high", range_row[i].high, "use", range_row[i].use));
    return array;
}

static json_t *trial_object(const struct tl_size_trial *t)
{
    json_t *limits = json_array();
    for (int i = 0; i < TL_NSIZE_LIMIT; i++)
        if (!isnan(t->spare[i]))
            tl_json_append(&limits, limit_object(t, i));
    return json_pack("{s:o, s:o, s:o, s:b, s:i, s:o, s:o, s:o, s:o, s:o}", "to_spare_pct",
                     tl_json_number(100 * t->least), "tightest", limit_object(t, t->tightest),
                     "next", limit_object(t, t->next), "fish_lost", t->fish_lost, "steady_days",
                     (int)t->steady_days, "fault", *t->why ? json_string(t->why) : json_null(),
                     "limits", limits, "outside_range", ranges_array(t), "drain_every_d",
                     tl_json_number(t->drain_every_d), "full_after_d",
                     tl_json_number(t->full_after_d));
}

static json_t *point_object(const struct tl_size_point *p)
{
    json_t *o = trial_object(&p->trial);
    tl_json_put(&o, "value", tl_json_number(p->value));
    tl_json_put(&o, "holds", json_boolean(p->holds));
    return o;
}

static json_t *result_object(const struct tl_size_quantity *q, const struct tl_size_result *r)
{
    static const char *const outcome[] = {"found", "no end found", "never"};
    const bool found = r->outcome != TL_SIZE_NEVER;
    json_t *points = json_array();
    char setting[TL_SIZE_SETTING] = "";
    for (size_t i = 0; i < r->points; i++)
        tl_json_append(&points, point_object(&r->point[i]));
    if (found)
        tl_size_setting(q, r->point[r->answer].value, setting);
    return json_pack("{s:s, s:o, s:o, s:o, s:b, s:b, s:o}", "outcome", outcome[r->outcome],
                     "answer", found ? point_object(&r->point[r->answer]) : json_null(), "set",
                     found ? json_string(setting) : json_null(), "fails_beside",
                     r->outcome == TL_SIZE_FOUND ? point_object(&r->point[r->neighbour])
                                                 : json_null(),
                     "one_turn", r->one_turn, "one_way", r->one_way, "trials", points);
}

static json_t *sure_json(const struct tl_size_view *v, size_t i, bool there)
{
    return there ? tl_uncertain_json(&v->sure.p[i], i == 0) : json_null();
}

static json_t *answers_array(const struct tl_size_view *v)
{
    json_t *array = json_array();
    size_t sure = 0;
    if (v->quantities == 1) {
        json_t *o = result_object(&v->quantity[0], &v->one);
        tl_json_put(&o, "uncertain", sure_json(v, 0, v->sure.n > 0));
        tl_json_put(&o, "uncertain_beside", sure_json(v, v->sure.beside, v->sure.beside > 0));
        tl_json_append(&array, o);
    }
    for (size_t i = 0; v->quantities == 2 && i < v->front.n; i++) {
        json_t *o = result_object(&v->quantity[1], &v->front.second[i]);
        const bool is_next = sure < v->sure.n && v->sure.row[sure] == i;
        tl_json_put(&o, "first_value", tl_json_number(v->front.first[i]));
        tl_json_put(&o, "uncertain", sure_json(v, sure, is_next));
        sure += is_next;
        tl_json_append(&array, o);
    }
    return array;
}

static json_t *question_object(const struct tl_size_view *v)
{
    json_t *quantities = json_array();
    for (size_t i = 0; i < v->quantities; i++) {
        const struct tl_size_quantity *q = &v->quantity[i];
        tl_json_append(&quantities, json_pack("{s:s, s:s, s:s, s:o}", "key", q->path, "wanted",
                                              q->most ? "most" : "least", "unit", q->unit, "given",
                                              tl_json_number(q->given)));
    }
    return json_pack("{s:o, s:f, s:s}", "quantities", quantities, "margin_pct", 100 * v->margin,
                     "judged", v->steady ? "the day that repeats itself" : "the worst of the run");
}

static json_t *buys_array(const struct tl_size_view *v)
{
    json_t *array = json_array();
    for (size_t i = 0; i < v->buys; i++) {
        json_t *o = trial_object(&v->buy[i].trial);
        tl_json_put(&o, "what", json_string(v->buy[i].what));
        tl_json_put(&o, "set", json_string(v->buy[i].setting));
        tl_json_append(&array, o);
    }
    return array;
}

static json_t *hand_array(const struct tl_size_view *v)
{
    json_t *array = json_array();
    for (size_t i = 0; v->by_hand && i < v->hand.lines; i++) {
        const struct tl_handbook_line *l = &v->hand.line[i];
        tl_json_append(&array,
                       json_pack("{s:s, s:s, s:s, s:o, s:s, s:s, s:o, s:s}", "key", l->key, "name",
                                 l->name, "formula", l->formula, "value", tl_json_number(l->value),
                                 "unit", l->unit, "source", l->source, "simulated",
                                 tl_json_number(l->simulated), "why", l->why));
    }
    return array;
}

static json_t *own_run_object(const struct tl_size_own_run *own)
{
    if (!own->made)
        return json_null();
    const struct tl_build_sheet *s = &own->sheet;
    return json_pack("{s:s, s:o, s:s, s:o, s:o, s:o, s:{s:o, s:o, s:o, s:o, s:o, s:o, s:o}}",
                     "verdict", own->result.verdict, "length_d",
                     tl_json_number(own->scenario.setup.length_d), "currency",
                     own->scenario.costs.currency, "cost_build", tl_json_number(own->bill.build),
                     "cost_month", tl_json_number(own->bill.month), "energy_month_kwh",
                     tl_json_number(tl_amounts_kwh(&own->month)), "build_sheet", "media_m3",
                     tl_json_number(s->media_m3), "media_kg", tl_json_number(s->media_kg), "wet_kg",
                     tl_json_number(s->wet_kg), "flooded_kg", tl_json_number(s->flooded_kg),
                     "height_m", tl_json_number(s->height_m), "footprint_m2",
                     tl_json_number(s->footprint_m2), "lift_m", tl_json_number(s->lift_m));
}

/* null where there is nothing to say. */
static json_t *cannot_tell(const struct tl_size_view *v)
{
    struct tl_text text = {0};
    tl_size_add_cannot_tell(&text, v);
    json_t *o = text.failed               ? NULL
                : tl_text_is_empty(&text) ? json_null()
                                          : json_string(tl_text_string(&text));
    tl_text_free(&text);
    return o;
}

int tl_size_write_json(const struct tl_size_view *v, const char *path)
{
    json_t *root = tl_json_result(
        SIZE_FORMAT,
        json_pack("{s:s, s:o, s:b, s:o, s:o, s:o, s:o, s:o, s:o}", "scenario", v->scenario->title,
                  "verdict_cannot_tell", cannot_tell(v), "own_limits",
                  tl_limits_changed(&v->scenario->limits) > 0, "question", question_object(v),
                  "answers", answers_array(v), "buys", buys_array(v), "by_hand", hand_array(v),
                  "own_run", own_run_object(&v->own), "uncertain",
                  v->sure.n > 0 ? tl_uncertain_asked_json(&v->sure.p->spread) : json_null()));
    return tl_json_write(root, path, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS));
}
