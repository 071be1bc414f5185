/* A study of failures as files: names are only ever added. */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "atomic_file.h"
#include "endure_sure.h"
#include "endure_view.h"
#include "json.h"
#include "number.h"
#include "towerloop/status.h"

#define ENDURE_FORMAT 1
#define DIGITS        10
#define MINUTE_D      (1.0 / 1440)

/* key, expression in e (result) and c (case); "never" within the time followed is an empty field of the
 * table and null in JSON */
#define FIGURE_LIST(X)                                                                             \
    X("fish_pct", 100 * c->fish)                                                                   \
    X("warmer_degC", c->warmer_degC)                                                               \
    X("outage_h", 24 * c->outage_d)                                                                \
    X("extra_aerator_g_h", c->extra_g_d / 24)                                                      \
    X("extra_aerator_for_h", 24 * c->extra_for_d)                                                  \
    X("oxygen_before_mg_L", e->o2_before)                                                          \
    X("minutes_to_caution", e->caution_min)                                                        \
    X("minutes_to_danger", e->danger_min)                                                          \
    X("minutes_to_fish_loss", e->lost_min)                                                         \
    X("lowest_oxygen_mg_L", e->lowest_o2)                                                          \
    X("aob_left_pct", 100 * e->film_left[0])                                                       \
    X("nob_left_pct", 100 * e->film_left[1])                                                       \
    X("het_left_pct", 100 * e->film_left[2])                                                       \
    X("highest_tan_mgN_L", e->peak_tan)                                                            \
    X("highest_nh3_mgN_L", e->peak_nh3)                                                            \
    X("highest_no2_mgN_L", e->peak_no2)                                                            \
    X("nh3_back_d", e->nh3_back_d)                                                                 \
    X("no2_back_d", e->no2_back_d)                                                                 \
    X("oxygen_back_d", e->o2_back_d)                                                               \
    X("minutes_to_ice", e->ice_min)                                                                \
    X("most_ice_kg", e->most_ice_kg)                                                               \
    X("water_when_back_degC", e->water_back_degC)                                                  \
    X("tan_at_highest_nh3_mgN_L", e->nh3_tan)                                                      \
    X("pH_at_highest_nh3", e->nh3_ph)                                                              \
    X("lost_before_d", e->lost_before_d)

enum {
#define ONE(key, value) +1
    FIGURES = 0 FIGURE_LIST(ONE)
#undef ONE
};

static const char *const figure_key[FIGURES] = {
#define KEY(key, value) key,
    FIGURE_LIST(KEY)
#undef KEY
};

static void read_figures(const struct tl_endure_case *c, const struct tl_endured *e,
                         double figure[FIGURES])
{
    const double all[FIGURES] = {
#define VALUE(key, value) value,
        FIGURE_LIST(VALUE)
#undef VALUE
    };
    memcpy(figure, all, sizeof all);
}

static void put_number(FILE *f, double value)
{
    char text[TL_NUMBER_SIZE];
    (void)tl_number_write(text, value);
    fprintf(f, ",%s", text);
}

int tl_endure_write_csv(const struct tl_endure_study *s, const char *path)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "case,fails,feed_stopped");
    for (int k = 0; k < FIGURES; k++)
        fprintf(file.f, ",%s", figure_key[k]);
    fprintf(file.f, ",at_d\n");
    for (size_t i = 0; i < tl_endure_cases(s); i++) {
        double figure[FIGURES];
        if (i == TL_ENDURE_NEED)
            continue;
        read_figures(&s->plan[i], &s->result[i], figure);
        fprintf(file.f, "%s,%s,%d", s->key[i], tl_failure_name(s->plan[i].fails),
                s->plan[i].feed_stopped);
        for (int k = 0; k < FIGURES; k++)
            put_number(file.f, figure[k]);
        put_number(file.f, i < TL_ENDURE_ROWS ? tl_endure_hour(s, i)->at_d : NAN);
        fprintf(file.f, "\n");
    }
    return tl_atomic_commit(&file);
}

int tl_endure_write_courses(const struct tl_endure_study *s, const char *path)
{
    struct tl_atomic_file file;
    size_t points = 0;
    int status = tl_atomic_open(&file, path);
    if (status)
        return status;
    fprintf(file.f, "hours");
    for (size_t level = 0; level < TL_ENDURE_FISH; level++) {
        const struct tl_endured *e = &s->result[tl_endure_course(level)];
        fprintf(file.f, ",oxygen_mg_L_fish_%.0f_pct", 100 * tl_endure_fish[level]);
        points = e->curve_points > points ? e->curve_points : points;
    }
    fprintf(file.f, "\n");
    for (size_t k = 0; k < points; k++) {
        char text[TL_NUMBER_SIZE];
        (void)tl_number_write(text, (double)k * TL_ENDURE_CURVE_MIN / 60);
        fprintf(file.f, "%s", text);
        for (size_t level = 0; level < TL_ENDURE_FISH; level++) {
            const struct tl_endured *e = &s->result[tl_endure_course(level)];
            put_number(file.f, k < e->curve_points ? e->curve_o2[k] : NAN);
        }
        fprintf(file.f, "\n");
    }
    return tl_atomic_commit(&file);
}

/* --- JSON --------------------------------------------------------------------------------------- */

static json_t *case_object(const struct tl_endure_study *s, size_t i)
{
    double figure[FIGURES];
    read_figures(&s->plan[i], &s->result[i], figure);
    json_t *o =
        json_pack("{s:s, s:s, s:b}", "case", s->key[i], "fails", tl_failure_name(s->plan[i].fails),
                  "feed_stopped", (int)s->plan[i].feed_stopped);
    for (int k = 0; k < FIGURES; k++)
        tl_json_put(&o, figure_key[k], tl_json_number(figure[k]));
    /* each time of a row has an hour of its own */
    tl_json_put(&o, "at_d",
                i < TL_ENDURE_ROWS ? json_real(tl_endure_hour(s, i)->at_d) : json_null());
    tl_json_put(&o, "fault", *s->result[i].fault ? json_string(s->result[i].fault) : json_null());
    return o;
}

static json_t *films_array(const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[TL_ENDURE_FILM];
    json_t *array = json_array();
    for (int i = 0; i < TL_ENDURE_STAGES; i++)
        tl_json_append(&array,
                       json_pack("{s:f, s:o, s:o, s:o}", "hours", 24 * tl_endure_stage_d[i],
                                 "aob_left_pct", tl_json_number(100 * e->stage_left[i][0]),
                                 "nob_left_pct", tl_json_number(100 * e->stage_left[i][1]),
                                 "het_left_pct", tl_json_number(100 * e->stage_left[i][2])));
    return array;
}

static json_t *iso(const struct tl_endure_study *s, double at_d)
{
    const struct tl_date d = tl_date_at(&s->scenario->start, at_d);
    char text[32];
    tl_date_iso(&d, text, sizeof text);
    return json_string(text);
}

static json_t *question_object(const struct tl_endure_study *s)
{
    const struct tl_endure_question *q = &s->question;
    const struct tl_endure_start *start = &s->starts.start[s->starts.worst];
    return json_pack(
        "{s:s, s:o, s:f, s:s, s:b, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:o, s:o, s:f}", "fails",
        tl_failure_name(q->fails), "at", iso(s, s->when.at_d), "at_d", s->when.at_d, "day_is",
        tl_endure_day_name(start->day), "worst_hour", (int)isnan(q->clock_d), "outage_h",
        24 * q->outage_d, "oxygen_mg_L", s->when.o2, "temperature_degC", s->when.temperature_degC,
        "fish_kg", s->when.fish_kg, "emergency_aerator_g_h", q->aerator_g_d / 24, "battery_Wh",
        q->battery_wh, "battery_W", q->battery_w, "aeration_g_kWh", q->aeration_g_kwh,
        "caution_mg_L", tl_json_number(s->scenario->limits.o2.caution), "danger_mg_L",
        tl_json_number(s->scenario->limits.o2.danger), "critical_mg_L",
        s->scenario->setup.params.o2_critical);
}

/* The starts that were tried for the failure that is asked about. */
static json_t *starts_array(const struct tl_endure_study *s)
{
    json_t *array = json_array();
    for (size_t i = 0; i < s->starts.n; i++) {
        const struct tl_endure_start *one = &s->starts.start[i];
        tl_json_append(&array,
                       json_pack("{s:o, s:s, s:f, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "at",
                                 iso(s, one->when.at_d), "day_is", tl_endure_day_name(one->day),
                                 "temperature_degC", one->when.temperature_degC,
                                 "minutes_to_caution", tl_json_number(one->caution_min),
                                 "minutes_to_danger", tl_json_number(one->danger_min),
                                 "minutes_to_fish_loss", tl_json_number(one->lost_min),
                                 "lowest_oxygen_mg_L", tl_json_number(one->lowest_o2),
                                 "aob_left_pct", tl_json_number(100 * one->film_left[0]),
                                 "nob_left_pct", tl_json_number(100 * one->film_left[1]),
                                 "minutes_to_ice", tl_json_number(one->frost.ice_min)));
    }
    return array;
}

static json_t *grade_text(double grade)
{
    return isnan(grade) ? json_null() : json_string(tl_grade_text((enum tl_grade)grade));
}

/* What the failure that is asked about does to each limit. */
static json_t *limits_array(const struct tl_endure_study *s)
{
    static const char *const name[TL_NLIMIT][2] = {
#define ROW(id, name, unit) [id] = {name, unit},
        TL_LIMIT_LIST(ROW)
#undef ROW
    };
    json_t *array = json_array();
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_endured_limit *l = &s->result[s->question.fails].limit[i];
        tl_json_append(&array, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o}", "name", name[i][0],
                                         "unit", name[i][1], "caution", tl_json_number(l->caution),
                                         "danger", tl_json_number(l->danger), "worst",
                                         tl_json_number(l->worst), "verdict", grade_text(l->grade),
                                         "verdict_day_before", grade_text(l->before)));
    }
    return array;
}

static json_t *outside_array(const struct tl_endure_study *s)
{
    static const char *const name[TL_NRANGE][2] = {
#define ROW(id, what, unit, low, high, use, source) [id] = {what, use},
        TL_RANGE_LIST(ROW)
#undef ROW
    };
    json_t *array = json_array();
    for (int i = 0; i < TL_NRANGE; i++) {
        const double value = s->result[s->question.fails].outside[i];
        if (!isnan(value))
            tl_json_append(&array, json_pack("{s:s, s:s, s:f}", "what", name[i][0], "use",
                                             name[i][1], "value", value));
    }
    return array;
}

int tl_endure_write_json(const struct tl_endure_study *s, const char *path)
{
    json_t *cases = json_array();
    for (size_t i = 0; i < tl_endure_cases(s); i++)
        if (i != TL_ENDURE_NEED)
            tl_json_append(&cases, case_object(s, i));
    json_t *root = tl_json_result(
        ENDURE_FORMAT,
        json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:f, s:o}", "scenario",
                  s->scenario->title, "verdict", tl_endure_verdict(s), "question",
                  question_object(s), "starts", starts_array(s), "limits", limits_array(s),
                  "outside_published_range", outside_array(s), "cases", cases, "film",
                  films_array(s), "aerator_needed_g_h", tl_json_number(s->need_g_d / 24),
                  "aerator_margin_mg_L", TL_ENDURE_MARGIN_O2, "uncertain", tl_endure_sure_json(s)));
    return tl_json_write(root, path, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS));
}
