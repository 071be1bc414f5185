/* Reads summary.json back. */
#include "run_result.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

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

static bool read_summary(const json_t *root, struct tl_run_result *out)
{
    static const char *const name[] = {
#define NAME(id, name_, unit) name_,
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    const json_t *limits = json_object_get(root, "limits");
    const char *verdict = json_string_value(json_object_get(root, "verdict"));
    const json_t *lost = json_object_get(root, "fish_lost_time");
    const json_t *nitrogen = json_object_get(json_object_get(root, "ledger"), "nitrogen");
    const json_t *fed = json_object_get(json_object_get(nitrogen, "in"), "feed");
    if (!grade_of(verdict, &out->grade) || json_array_size(limits) != TL_NLIMIT || !lost ||
        (fed && !json_is_number(fed)) || !number(root, "filter_ready_day", &out->filter_ready_d))
        return false;
    tl_format(out->verdict, sizeof out->verdict, "%s", verdict);
    out->fish_lost = !json_is_null(lost);
    out->fed_g_n = json_number_value(fed);
    for (size_t i = 0; i < TL_NLIMIT; i++)
        if (!read_limit(json_array_get(limits, i), name[i], &out->limit[i]))
            return false;
    return true;
}

int tl_run_result_load(const char *folder, struct tl_run_result *out)
{
    struct tl_text path = {0};
    *out = (struct tl_run_result){.grade = TL_WITHIN};
    tl_text_addf(&path, "%s/summary.json", folder);
    json_t *root = path.failed ? NULL : json_load_file(path.data, 0, NULL);
    int status = path.failed ? TL_E_MEMORY : root && read_summary(root, out) ? TL_OK : TL_E_INPUT;
    json_decref(root);
    tl_text_free(&path);
    return status;
}
