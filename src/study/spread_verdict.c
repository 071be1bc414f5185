/* Reads spread.json and the scenario beside it. */
#include "spread_verdict.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "chance.h"
#include "json.h"
#include "place.h"
#include "spread_runs.h"
#include "tally.h"
#include "text.h"
#include "towerloop/status.h"

_Static_assert(sizeof((struct tl_spread_verdict *)NULL)->but == TL_TALLY_BUT, "it fits");

enum { LINE = 60, SCENARIO_MOST = 4 << 20 };

static bool read_chance(const json_t *all, const char *name, struct tl_spread_chance *out)
{
    const json_t *j = json_object_get(json_object_get(all, "chance"), name);
    json_int_t runs = -1, of = -1;
    double low = 0, high = 0;
    if (json_unpack((json_t *)j, "{s:I, s:I, s:F, s:F}", "runs", &runs, "of", &of, "low", &low,
                    "high", &high) != 0 ||
        runs < 0 || of < 1 || runs > of)
        return false;
    const struct tl_chance c = {(size_t)runs, (size_t)of, low, high};
    *out = (struct tl_spread_chance){.runs = c.runs, .of = c.of, .low = low, .high = high};
    tl_chance_text(&c, out->text);
    return true;
}

static bool read_grade(const json_t *all, enum tl_grade *out)
{
    const char *text = json_string_value(json_object_get(all, "verdict"));
    for (int g = TL_WITHIN; text && g <= TL_DANGER; g++)
        if (strcmp(text, tl_grade_text((enum tl_grade)g)) == 0) {
            *out = (enum tl_grade)g;
            return true;
        }
    return false;
}

static bool is_whole(const json_t *all, struct tl_spread_verdict *out)
{
    out->runs = (size_t)json_integer_value(json_object_get(all, "runs"));
    out->inputs = json_array_size(json_object_get(all, "inputs"));
    struct tl_spread_chance caution;
    if (out->runs == 0 || out->inputs == 0 || !read_grade(all, &out->grade) ||
        !read_chance(all, "within_limits", &out->within) ||
        !read_chance(all, "danger", &out->danger) || !read_chance(all, "caution", &caution))
        return false;
    const struct tl_chance c = {caution.runs, caution.of, caution.low, caution.high};
    const struct tl_chance d = {out->danger.runs, out->danger.of, out->danger.low,
                                out->danger.high};
    tl_tally_but(out->grade, &c, &d, out->but);
    return true;
}

/* --- is it the same? ---------------------------------------------------------------------------- */

/* The first line in which two texts differ, without the blanks before it. */
static void differing(const char *a, const char *b, char line[2][LINE])
{
    const char *from_a = a, *from_b = b;
    for (; *a && *a == *b; a++, b++)
        if (*a == '\n') {
            from_a = a + 1;
            from_b = b + 1;
        }
    from_a += strspn(from_a, " ");
    from_b += strspn(from_b, " ");
    (void)tl_format(line[0], LINE, "%.*s", (int)strcspn(from_a, "\n"), from_a);
    (void)tl_format(line[1], LINE, "%.*s", (int)strcspn(from_b, "\n"), from_b);
}

static int say_other(const char *folder, const struct tl_scenario *scenario, char *why, size_t size)
{
    char *path = tl_place_below(folder, "scenario.yaml"), *there = NULL, *here = NULL;
    char line[2][LINE] = {"", ""};
    size_t length = 0;
    int status = path ? tl_scenario_text(scenario, &here) : TL_E_MEMORY;
    if (status == TL_OK && tl_read_plain_file(path, SCENARIO_MOST, &there, &length) == TL_OK)
        differing(there, here, line);
    if (status == TL_OK && strcmp(line[0], line[1]) != 0)
        (void)tl_format(why, size,
                        "%s is a spread of another scenario; expected this one: there '%s', here "
                        "'%s'",
                        folder, line[0], line[1]);
    else
        (void)tl_format(why, size,
                        "%s is a spread of another scenario; expected this one: a file that it "
                        "names has changed",
                        folder);
    free(path);
    free(there);
    free(here);
    return status == TL_OK ? TL_E_INPUT : status;
}

static int check_scenario(const json_t *all, const char *folder, const struct tl_scenario *scenario,
                          char *why, size_t size)
{
    const char *print = json_string_value(json_object_get(all, "scenario_print"));
    char own[20];
    uint64_t hash = 0;
    const int status = tl_spread_scenario_print(scenario, &hash);
    if (status)
        return status;
    (void)tl_format(own, sizeof own, "%016" PRIx64, hash);
    return print && strcmp(print, own) == 0 ? TL_OK : say_other(folder, scenario, why, size);
}

static int check_build(const json_t *all, const char *folder, char *why, size_t size)
{
    struct tl_build build;
    const char *commit =
        json_string_value(json_object_get(json_object_get(all, "build"), "commit"));
    tl_build_info(&build);
    if (commit && strcmp(commit, build.commit) == 0)
        return TL_OK;
    (void)tl_format(why, size,
                    "%s was made by another version of towerloop, %s; expected %s: run the spread "
                    "again",
                    folder, commit ? commit : "not told", build.commit);
    return TL_E_INPUT;
}

int tl_spread_verdict_read(const char *folder, struct tl_spread_verdict *out, json_t **all,
                           char *why, size_t size)
{
    char *path = tl_place_below(folder, "spread.json");
    if (!path)
        return TL_E_MEMORY;
    *all = tl_json_read(path);
    *out = (struct tl_spread_verdict){.grade = TL_DANGER};
    free(path);
    if (is_whole(*all, out))
        return TL_OK;
    (void)tl_format(why, size,
                    "%s holds no finished spread; expected the folder of towerloop spread, or of "
                    "towerloop merge",
                    *folder ? folder : "''");
    json_decref(*all);
    *all = NULL;
    return TL_E_INPUT;
}

int tl_spread_verdict_load(const char *folder, const struct tl_scenario *scenario,
                           struct tl_spread_verdict *out, char *why, size_t size)
{
    json_t *all = NULL;
    int status = tl_spread_verdict_read(folder, out, &all, why, size);
    if (status == TL_OK)
        status = check_scenario(all, folder, scenario, why, size);
    if (status == TL_OK)
        status = check_build(all, folder, why, size);
    json_decref(all);
    return status;
}
