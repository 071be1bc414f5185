/* Reads summary.json back. */
#include "run_result.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "json.h"
#include "text.h"
#include "towerloop/status.h"

static bool grade_of(const char *text, enum tl_grade *out)
{
    for (int g = TL_WITHIN; text && g <= TL_DANGER; g++) {
        const char *word = tl_grade_text((enum tl_grade)g);
        const size_t n = strlen(word);
        if (strncmp(text, word, n) == 0 && (text[n] == '\0' || text[n] == ':')) {
            *out = (enum tl_grade)g;
            return true;
        }
    }
    return false;
}

/* JSON knows no NaN. */
static bool number(const json_t *object, const char *key, double *out)
{
    const json_t *value = json_object_get(object, key);
    *out = json_is_null(value) ? NAN : json_number_value(value);
    return json_is_null(value) || json_is_number(value);
}

static bool text_or_null(const json_t *object, const char *key, char *out, size_t size)
{
    const json_t *value = json_object_get(object, key);
    tl_format(out, size, "%s", json_is_string(value) ? json_string_value(value) : "");
    return json_is_null(value) || json_is_string(value);
}

static bool read_limit(const json_t *row, const char *name, struct tl_run_limit *out)
{
    const char *is = json_string_value(json_object_get(row, "name"));
    return is && strcmp(is, name) == 0 && text_or_null(row, "unit", out->unit, sizeof out->unit) &&
           number(row, "caution", &out->caution) && number(row, "danger", &out->danger) &&
           number(row, "worst", &out->worst) && number(row, "hours_caution", &out->hours_caution) &&
           number(row, "hours_danger", &out->hours_danger) &&
           text_or_null(row, "worst_time", out->worst_time, sizeof out->worst_time) &&
           text_or_null(row, "first_breach", out->first_breach, sizeof out->first_breach) &&
           grade_of(json_string_value(json_object_get(row, "verdict")), &out->grade);
}

static bool read_extreme(const json_t *row, const char *name, struct tl_extreme_pair *out)
{
    const char *is = json_string_value(json_object_get(row, "name"));
    return is && strcmp(is, name) == 0 && number(row, "lowest", &out->lowest) &&
           number(row, "highest", &out->highest) &&
           text_or_null(row, "lowest_time", out->lowest_time, sizeof out->lowest_time) &&
           text_or_null(row, "highest_time", out->highest_time, sizeof out->highest_time);
}

static bool read_given(const json_t *object, struct tl_given *out)
{
    return number(object, "feed_g", &out->feed_g) &&
           number(object, "baking_soda_g", &out->dose_g[TL_DOSE_BAKING_SODA]) &&
           number(object, "baking_soda_by_plan_g", &out->held_g) &&
           number(object, "salt_g", &out->dose_g[TL_DOSE_SALT]) &&
           number(object, "ammonium_chloride_g", &out->dose_g[TL_DOSE_AMMONIUM_CHLORIDE]) &&
           number(object, "sodium_thiosulfate_g", &out->dose_g[TL_DOSE_THIOSULFATE]);
}

/* The ranges that were left, in any order. */
static bool read_outside(const json_t *ranges, double outside[TL_NRANGE])
{
    static const struct {
        const char *what, *use;
    } known[TL_NRANGE] = {
#define RANGE(id, what_, unit, lo, hi, use_, source) [id] = {what_, use_},
        TL_RANGE_LIST(RANGE)
#undef RANGE
    };
    for (int k = 0; k < TL_NRANGE; k++)
        outside[k] = NAN;
    for (size_t i = 0; i < json_array_size(ranges); i++) {
        const json_t *row = json_array_get(ranges, i);
        const char *what = json_string_value(json_object_get(row, "what"));
        const char *use = json_string_value(json_object_get(row, "used_for"));
        int k = 0;
        while (what && use && k < TL_NRANGE &&
               (strcmp(known[k].what, what) != 0 || strcmp(known[k].use, use) != 0))
            k++;
        if (!what || !use || k == TL_NRANGE || !number(row, "value", &outside[k]))
            return false;
    }
    return json_is_array(ranges);
}

static bool read_bed(const json_t *bed, struct tl_run_result *out)
{
    const json_t *submerged = json_object_get(bed, "submerged");
    const json_t *sulfide = json_object_get(bed, "hydrogen_sulfide_can_form");
    out->submerged = json_is_true(submerged);
    out->sulfide = json_is_true(sulfide);
    return json_is_boolean(submerged) && json_is_boolean(sulfide) &&
           number(json_object_get(bed, "least_oxygen_mg_L"), "value", &out->least_o2) &&
           number(json_object_get(bed, "most_voids_filled"), "value", &out->most_filled) &&
           number(json_object_get(bed, "most_film_without_oxygen"), "value", &out->most_airless);
}

static bool read_limits(const json_t *limits, struct tl_run_result *out)
{
    static const char *const name[] = {
#define NAME(id, name_, unit) name_,
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    if (json_array_size(limits) != TL_NLIMIT)
        return false;
    for (size_t i = 0; i < TL_NLIMIT; i++)
        if (!read_limit(json_array_get(limits, i), name[i], &out->limit[i]))
            return false;
    return true;
}

static bool read_extremes(const json_t *extremes, struct tl_run_result *out)
{
    static const char *const name[] = {
#define NAME(id, name_, unit) name_,
        TL_EXTREME_LIST(NAME)
#undef NAME
    };
    if (json_array_size(extremes) != TL_NEXTREME)
        return false;
    for (size_t i = 0; i < TL_NEXTREME; i++)
        if (!read_extreme(json_array_get(extremes, i), name[i], &out->extreme[i]))
            return false;
    return true;
}

static bool read_summary(const json_t *root, struct tl_run_result *out)
{
    const char *verdict = json_string_value(json_object_get(root, "verdict"));
    const json_t *lost = json_object_get(root, "fish_lost_time");
    if (!grade_of(verdict, &out->grade) || !lost)
        return false;
    tl_format(out->verdict, sizeof out->verdict, "%s", verdict);
    out->fish_lost = !json_is_null(lost);
    const char *basis = json_string_value(json_object_get(root, "verdict_basis"));
    out->own_limits = basis && strstr(basis, "limits set by the scenario");
    return text_or_null(root, "start", out->start, sizeof out->start) &&
           text_or_null(root, "verdict_cannot_tell", out->cannot_tell, sizeof out->cannot_tell) &&
           number(root, "filter_ready_day", &out->filter_ready_d) &&
           number(root, "hours_without_fish", &out->hours_without_fish) &&
           read_limits(json_object_get(root, "limits"), out) &&
           read_extremes(json_object_get(root, "extremes"), out) &&
           read_bed(json_object_get(root, "bed"), out) &&
           read_outside(json_object_get(root, "ranges"), out->outside) &&
           read_given(json_object_get(root, "given"), &out->given) &&
           read_given(json_object_get(root, "last_month"), &out->given_a_month);
}

int tl_run_result_load(const char *folder, struct tl_run_result *out)
{
    struct tl_text path = {0};
    *out = (struct tl_run_result){.grade = TL_WITHIN};
    tl_text_addf(&path, "%s/summary.json", folder);
    json_t *root = path.failed ? NULL : tl_json_read(path.data);
    const int reason = path.failed ? ENOMEM : root ? 0 : errno;
    const bool there = reason != 0 && reason != ENOENT && reason != ENOTDIR;
    int status = reason == ENOMEM                  ? TL_E_MEMORY
                 : there                           ? TL_E_IO
                 : root && read_summary(root, out) ? TL_OK
                                                   : TL_E_INPUT;
    json_decref(root);
    tl_text_free(&path);
    errno = reason;
    return status;
}
