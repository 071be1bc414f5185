/* From the option to the runs, and what they say as words and as JSON. */
#include "uncertain.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "posix.h"
#include "spread_drivers.h"
#include "text.h"
#include "towerloop/status.h"

#define WHY_SIZE 1024
#define EDGE     1e-4 /* hardly a run lies further out */

/* --- what is asked ------------------------------------------------------------------------------ */

static bool is_own(const struct tl_spread_input *in)
{
    return strcmp(in->status, "given") == 0;
}

int tl_uncertain_clash(const struct tl_spread_input *input, size_t inputs, const char *option,
                       const char *set)
{
    size_t length = strcspn(set, "=");
    while (length > 0 && set[length - 1] == ' ')
        length--;
    for (size_t i = 0; i < inputs; i++) {
        const char *path = input[i].path;
        if (!is_own(&input[i]) || strlen(path) != length || strncmp(set, path, length) != 0)
            continue;
        if (strcmp(option, "--set") == 0)
            tl_complain("%s %s: the spread takes values of its own for this key, so it would "
                        "change nothing; expected --set spread.%s=..., or the key taken out of "
                        "spread:",
                        option, set, path);
        else
            tl_complain("%s %s: the spread takes values of its own for this key, so it would "
                        "change nothing; expected the key taken out of spread:, or --inputs "
                        "published",
                        option, set);
        return TL_E_INPUT;
    }
    return TL_OK;
}

static bool same_range(const struct tl_distribution *a, const struct tl_distribution *b)
{
    return a->kind == b->kind && !islessgreater(a->a, b->a) && !islessgreater(a->b, b->b) &&
           !islessgreater(a->c, b->c);
}

const char *tl_uncertain_hidden(const struct tl_spread_input *input, size_t inputs,
                                const struct tl_spread_input *other, size_t others)
{
    for (size_t i = 0; i < inputs; i++)
        for (size_t k = 0; k < others; k++)
            if (is_own(&input[i]) && is_own(&other[k]) &&
                strcmp(input[i].path, other[k].path) == 0 &&
                islessgreater(input[i].given, other[k].given) &&
                same_range(&input[i].d, &other[k].d))
                return input[i].path;
    return NULL;
}

void tl_uncertain_warn(const struct tl_spread_input *input, size_t inputs,
                       const struct tl_spread_input *before, size_t befores, const char *whose)
{
    for (size_t i = 0; i < inputs; i++) {
        const struct tl_spread_input *in = &input[i];
        bool told = false;
        for (size_t k = 0; k < befores; k++)
            told |=
                strcmp(before[k].path, in->path) == 0 && !islessgreater(before[k].given, in->given);
        if (!told && in->beyond)
            tl_complain("warning: %s%s: the scenario's own value lies outside of the built-in "
                        "range, so nearly all runs take %s than it, and the chances are not "
                        "those of this value; expected a range of your own for it under spread:",
                        whose, in->path, in->d.c <= in->d.a ? "more" : "less");
    }
}

int tl_uncertain_in_vain(const struct tl_spread_input *input, size_t inputs, const char *file,
                         const char *whose)
{
    struct tl_spread_input *plain = NULL;
    struct tl_diag diag;
    size_t n = 0;
    tl_diag_init(&diag);
    int status = tl_spread_inputs_read(file, NULL, 0, TL_SPREAD_OWN, &plain, &n, &diag);
    tl_diag_free(&diag);
    const char *path = status == TL_OK ? tl_uncertain_hidden(input, inputs, plain, n) : NULL;
    if (path) {
        tl_complain("%s: it sets %s, too, but the spread takes values of its own for this key, so "
                    "that would change nothing; expected the key taken out of spread:, or "
                    "--inputs published",
                    whose, path);
        status = TL_E_INPUT;
    } else if (status != TL_E_MEMORY)
        status = TL_OK; /* only the settings make it a scenario */
    free(plain);
    return tl_complain_memory(status);
}

/* Whether hardly a run comes near to the scenario's own value; an end of the range belongs to it. */
static bool is_left_out(const struct tl_spread_input *in)
{
    if (in->d.kind == TL_UNIFORM || in->d.kind == TL_TRIANGULAR)
        return in->given < in->d.a || in->given > in->d.b;
    return in->given < tl_spread_value(in, EDGE) || in->given > tl_spread_value(in, 1 - EDGE);
}

int tl_uncertain_check(const struct tl_spread_input *input, size_t inputs, const char *file,
                       const struct tl_options *o)
{
    int status = TL_OK;
    for (size_t i = 0; i < inputs; i++)
        if (is_own(&input[i]) && !o->quiet && is_left_out(&input[i]))
            tl_complain(
                "warning: %s: the scenario's own value lies outside of what spread: says of it; "
                "its own value is not used",
                input[i].path);
    if (!o->quiet)
        tl_uncertain_warn(input, inputs, NULL, 0, "");
    for (size_t k = 0; k < o->sets; k++)
        if (tl_uncertain_clash(input, inputs, "--set", o->set[k]) != TL_OK)
            status = TL_E_INPUT;
    return status == TL_OK && o->sets > 0 ? tl_uncertain_in_vain(input, inputs, file, "--set")
                                          : status;
}

int tl_uncertain_prepare(const struct tl_study_task *t, struct tl_paired *p, size_t n)
{
    const struct tl_options *o = &t->options;
    const struct tl_paired_plan plan = {o->uncertain, o->seed,
                                        o->published ? TL_SPREAD_PUBLISHED : TL_SPREAD_OWN};
    struct tl_diag diag;
    tl_diag_init(&diag);
    int status = tl_paired_prepare(p, n, &plan, &diag);
    tl_complain_diag(&diag, false); /* warnings were said when the scenarios were read */
    if (status == TL_E_REFUSED)
        tl_complain("--uncertain: together the scenarios have more than %d uncertain inputs; "
                    "expected so many at most",
                    TL_SPREAD_MOST);
    else if (status != TL_OK && diag.errors == 0)
        tl_complain("%s", tl_status_text(status));
    tl_diag_free(&diag);
    return status == TL_E_REFUSED || status == TL_E_IO ? TL_E_INPUT : status;
}

/* --- running ------------------------------------------------------------------------------------ */

static void say_runs(void *arg, size_t runs, size_t of)
{
    tl_progress_say(arg, "how sure: %zu of %zu runs", runs, of);
}

int tl_uncertain_complain(int status, const char *file, const char *why, int reason)
{
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted; the same command goes on where it was");
    else if (status == TL_E_REFUSED)
        tl_complain("%s, or a file it names, was changed while it was run; the same command begins "
                    "anew",
                    file);
    else if (status != TL_OK)
        tl_complain("the uncertain runs failed: %s", *why                ? why
                                                     : status == TL_E_IO ? strerror(reason)
                                                                         : tl_status_text(status));
    return status;
}

static int place(const struct tl_study *folder, struct tl_paired *p, size_t n,
                 const char *const *name)
{
    char *all = tl_study_path(folder, TL_STUDY_UNCERTAIN);
    int status = all ? tl_posix_make_folder(all, NULL) : TL_E_MEMORY;
    for (size_t i = 0; i < n && !status; i++) {
        struct tl_text own = {0};
        tl_text_addf(&own, "%s/%s", all, name[i]);
        p[i].folder = own.data;
        status = own.failed ? TL_E_MEMORY : TL_OK;
    }
    free(all);
    return status;
}

int tl_uncertain_run(struct tl_study_task *t, struct tl_paired *p, size_t n,
                     const char *const *name)
{
    const struct tl_paired_course course = {.threads = t->options.threads,
                                            .interrupted = &tl_interrupted,
                                            .progress = say_runs,
                                            .progress_arg = &t->progress};
    char why[WHY_SIZE] = "";
    int status = place(&t->folder, p, n, name);
    if (status == TL_OK) {
        t->folder.made = false; /* what is done stays, whatever comes */
        status = tl_paired_run(p, n, &course, why, sizeof why);
    }
    const int reason = errno;
    tl_progress_clear(&t->progress);
    return tl_uncertain_complain(status, p->file, why, reason);
}

/* --- telling ------------------------------------------------------------------------------------ */

void tl_uncertain_add_asked(struct tl_text *t, const struct tl_paired *p, const char *of)
{
    tl_text_addf(
        t, "%zu runs%s, each with other values for %zu uncertain input%s (seed %" PRIu64 ")",
        p->spread.runs, of, p->spread.inputs, p->spread.inputs == 1 ? "" : "s", p->spread.seed);
}

json_t *tl_chance_object(struct tl_chance c)
{
    return json_pack("{s:I, s:I, s:o, s:f, s:f}", "runs", (json_int_t)c.runs, "of",
                     (json_int_t)c.of, "share",
                     tl_json_number(c.of > 0 ? (double)c.runs / (double)c.of : NAN), "low", c.low,
                     "high", c.high);
}

json_t *tl_uncertain_asked_json(const struct tl_spread *s)
{
    json_t *inputs = json_array();
    char seed[24];
    for (size_t i = 0; i < s->inputs; i++)
        tl_json_append(&inputs, json_string(s->input[i].path));
    (void)tl_format(seed, sizeof seed, "%" PRIu64, s->seed);
    return json_pack("{s:I, s:s, s:s, s:o, s:s}", "runs", (json_int_t)s->runs, "seed", seed,
                     "lanes", s->level, "inputs", inputs, "interval",
                     "90 %, Clopper-Pearson; runs that are not known count as danger");
}

json_t *tl_uncertain_json(const struct tl_paired *p, bool first)
{
    json_t *limits = json_array();
    for (int i = 0; i < TL_NLIMIT; i++)
        tl_json_append(&limits, json_pack("{s:s, s:o, s:o}", "name",
                                          tl_spread_limit_name((enum tl_limit_id)i), "caution",
                                          tl_chance_object(p->limit[i][0]), "danger",
                                          tl_chance_object(p->limit[i][1])));
    return json_pack("{s:s, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "verdict",
                     tl_grade_text(p->verdict), "not_known", (json_int_t)p->unknown, "impossible",
                     (json_int_t)p->impossible, "within_limits", tl_chance_object(p->within),
                     "caution", tl_chance_object(p->caution), "danger", tl_chance_object(p->danger),
                     "fish_lost", tl_chance_object(p->lost), "outside_published_range",
                     tl_chance_object(p->outside), "better_than_first",
                     first ? json_null() : tl_chance_object(p->better), "worse_than_first",
                     first ? json_null() : tl_chance_object(p->worse), "limits", limits);
}
