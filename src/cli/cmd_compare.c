/* towerloop compare FILE...: variants of one or more scenarios side by side. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "compare_chart.h"
#include "compare_drawing.h"
#include "compare_view.h"
#include "json.h"
#include "out_place.h"
#include "posix.h"
#include "report_file.h"
#include "study_task.h"
#include "text.h"
#include "towerloop/status.h"
#include "uncertain.h"

#define MOST_ROWS 400
#define BASE      "base"
#define FROM_VARY "--vary"

enum { MOST_VARIED = 8 };

static const char *const results[] = {"compare.csv", "compare.json", TL_REPORT_FILE, NULL};
static const char *const charts[] = {"compare", "compare_multiples", NULL};

/* A key and the values it takes. */
struct varied {
    char *key;
    char **value;
    size_t values;
};

/* Everything one comparison holds. */
struct task {
    struct tl_study_task base;
    struct varied varied[MOST_VARIED];
    size_t variations;
    struct tl_compare compare;
};

/* --- what is varied ----------------------------------------------------------------------------- */

static bool has_value(const struct varied *v, const char *value)
{
    for (size_t i = 0; i < v->values; i++)
        if (strcmp(v->value[i], value) == 0)
            return true;
    return false;
}

static int read_vary(const struct task *t, const char *text, struct varied *v)
{
    const char *equals = strchr(text, '=');
    if (!equals || equals == text) {
        tl_complain("--vary: '%s' will not do; expected KEY=VALUE,VALUE, as tower.trays=8,16",
                    text);
        return TL_E_INPUT;
    }
    v->key = strndup(text, (size_t)(equals - text));
    const char *list = equals[1] ? equals + 1 : NULL;
    bool repeated = false;
    for (char *value; v->key && (value = tl_compare_next_value(&list));) {
        if (*value && has_value(v, value)) {
            repeated = true;
            free(value);
            continue;
        }
        char **more = realloc(v->value, (v->values + 1) * sizeof *more);
        if (!more) {
            free(value);
            return TL_E_MEMORY;
        }
        v->value = more;
        v->value[v->values++] = value;
        if (!*value) {
            tl_complain("--vary: '%s': a value is empty", text);
            return TL_E_INPUT;
        }
    }
    if (list)
        return TL_E_MEMORY;
    if (repeated && !t->base.options.quiet)
        tl_tell("--vary: %s has the same value more than once; it is run once.", v->key);
    if (v->key && v->values == 0) {
        tl_complain("--vary: '%s': no value behind the =", text);
        return TL_E_INPUT;
    }
    return v->key ? TL_OK : TL_E_MEMORY;
}

static int read_varied(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    if (o->varies > MOST_VARIED) {
        tl_complain("--vary: given %zu times; expected at most %d", o->varies, MOST_VARIED);
        return TL_E_INPUT;
    }
    int worst = TL_OK;
    for (size_t i = 0; i < o->varies && worst != TL_E_MEMORY; i++, t->variations++) {
        int status = read_vary(t, o->vary[i], &t->varied[i]);
        for (size_t j = 0; j < i && status == TL_OK; j++)
            if (t->varied[j].key && strcmp(t->varied[i].key, t->varied[j].key) == 0) {
                tl_complain("--vary: %s is varied twice", t->varied[i].key);
                status = TL_E_INPUT;
            }
        worst = status == TL_OK ? worst : status;
    }
    return worst;
}

static size_t combinations(const struct task *t)
{
    size_t n = 1;
    for (size_t i = 0; i < t->variations && n <= MOST_ROWS; i++)
        n *= t->varied[i].values;
    return n;
}

/* The last part of a key, unless two of them have the same. */
static const char *short_key(const struct task *t, size_t i)
{
    const char *key = t->varied[i].key;
    const char *point = strrchr(key, '.');
    const char *own = point ? point + 1 : key;
    for (size_t j = 0; j < t->variations; j++) {
        const char *other = strrchr(t->varied[j].key, '.');
        if (j != i && strcmp(other ? other + 1 : t->varied[j].key, own) == 0)
            return key;
    }
    return own;
}

/* Whether it has the first value of all keys but one: these are looked at even after a fault, so that
 * every value is. */
static bool shows_one_value(const struct task *t, size_t combination)
{
    size_t others = 0;
    for (size_t i = 0; i < t->variations; i++) {
        others += combination % t->varied[i].values != 0;
        combination /= t->varied[i].values;
    }
    return others <= 1;
}

/* Whether one of the keys is the other or lies below it. */
static bool keys_overlap(const char *a, size_t a_length, const char *b, size_t b_length)
{
    const char *longer = a_length > b_length ? a : b;
    const size_t shorter = a_length < b_length ? a_length : b_length;
    const bool same = a_length == b_length;
    return strncmp(a, b, shorter) == 0 &&
           (same || longer[shorter] == '.' || longer[shorter] == '[');
}

static size_t key_length(const char *set)
{
    size_t length = strcspn(set, "=");
    while (length > 0 && set[length - 1] == ' ')
        length--;
    return length;
}

/* What the command line sets, a variant must not: its name would tell something else than what is run. */
static int refuse_clash(const char *file, const struct tl_variant *v, const char *option,
                        const char *key, size_t length)
{
    for (size_t i = 0; i < v->sets; i++)
        if (keys_overlap(v->set[i], key_length(v->set[i]), key, length)) {
            tl_complain("%s:%u: variant \"%s\": %.*s: set here and by %s; expected one of the "
                        "two: take it out of the variant, or use a file without it",
                        file, v->line, v->name, (int)length, key, option);
            return TL_E_INPUT;
        }
    return TL_OK;
}

static int refuse_clashes(const struct task *t, const char *file, const struct tl_scenario *s)
{
    const struct tl_options *o = &t->base.options;
    int worst = TL_OK;
    for (size_t i = 0; i < s->variants; i++) {
        const struct tl_variant *v = &s->variant[i];
        for (size_t k = 0; k < t->variations; k++)
            if (refuse_clash(file, v, FROM_VARY, t->varied[k].key, strlen(t->varied[k].key)))
                worst = TL_E_INPUT;
        for (size_t k = 0; k < o->sets; k++)
            if (refuse_clash(file, v, "--set", o->set[k], key_length(o->set[k])))
                worst = TL_E_INPUT;
    }
    return worst;
}

/* --- the rows ----------------------------------------------------------------------------------- */

static void add_part(struct tl_text *name, const char *part)
{
    tl_text_addf(name, "%s%s", name->length > 0 ? ", " : "", part);
}

static void say_twice(const struct task *t, const char *what)
{
    if (!t->base.options.quiet)
        tl_tell("%s is given twice; it is run once.", what);
}

static void say_twin(const struct task *t, const char *name, const char *twin)
{
    if (strcmp(name, twin) == 0)
        say_twice(t, name);
    else if (!t->base.options.quiet)
        tl_tell("\"%s\" is the same as \"%s\"; it is run once.", name, twin);
}

/* One combination of one variant of one file. `v` NULL: the file as it is. */
static int add_row(struct task *t, const char *file, const struct tl_variant *v, bool named,
                   size_t combination)
{
    static const struct tl_variant as_it_is = {.sets = 0};
    const struct tl_options *o = &t->base.options;
    const char **set = calloc(o->sets + t->variations + 1, sizeof *set);
    const char **from = calloc(o->sets + t->variations + 1, sizeof *from);
    char *made[MOST_VARIED] = {NULL};
    struct tl_text name = {0};
    struct tl_scenario scenario = {0};
    struct tl_variant of = v ? *v : as_it_is;
    int status = TL_E_MEMORY;
    if (!set || !from)
        goto done;
    if (o->words > 1)
        tl_add_file_stem(&name, file);
    if (named)
        add_part(&name, v ? v->name : BASE);
    for (size_t i = 0; i < o->sets; i++)
        set[i] = o->set[i];
    for (size_t i = 0; i < t->variations; i++) {
        const struct varied *varied = &t->varied[i];
        struct tl_text own = {0}, part = {0};
        tl_text_addf(&own, "%s=%s", varied->key, varied->value[combination % varied->values]);
        tl_text_addf(&part, "%s %s", short_key(t, i), varied->value[combination % varied->values]);
        combination /= varied->values;
        add_part(&name, tl_text_string(&part));
        name.failed = name.failed || part.failed;
        tl_text_free(&part);
        made[i] = own.data;
        set[o->sets + i] = own.data;
        from[o->sets + i] = FROM_VARY;
        if (own.failed)
            goto done;
    }
    if (tl_text_is_empty(&name))
        add_part(&name, BASE);
    if (name.failed)
        goto done;
    if (!v) /* for messages */
        tl_format(of.name, sizeof of.name, "%s", tl_text_string(&name));
    const struct tl_scenario_options options = {set, o->sets + t->variations, from};
    status = tl_cli_read_variant(file, &options, &of, !o->quiet, &scenario, &t->base.diag);
    const char *twin = NULL;
    if (status == TL_OK)
        status = tl_compare_add(&t->compare, tl_text_string(&name), &scenario, &twin);
    if (status == TL_OK && !twin)
        status = tl_compare_note_sets(&t->compare, (const char *const *)of.set, of.sets, set,
                                      o->sets + t->variations);
    if (twin)
        say_twin(t, tl_text_string(&name), twin);
done:
    for (size_t i = 0; i < MOST_VARIED; i++)
        free(made[i]);
    tl_text_free(&name);
    free(set);
    free(from);
    return status;
}

/* The base goes first unless one of the variants is it. */
static bool wants_base(const struct tl_scenario *s)
{
    for (size_t i = 0; i < s->variants; i++)
        if (s->variant[i].sets == 0)
            return false;
    return true;
}

static int add_file(struct task *t, const char *file)
{
    struct tl_scenario base;
    const size_t each = combinations(t);
    int worst = tl_cli_read_scenario(file, &t->base.options, &base, &t->base.diag);
    if (worst != TL_OK)
        return worst;
    worst = refuse_clashes(t, file, &base);
    if (t->compare.rows + (base.variants + 1) * each > MOST_ROWS) {
        tl_complain("%s: more than %d variants; expected fewer values", file, MOST_ROWS);
        worst = TL_E_INPUT;
    }
    if (worst != TL_OK) {
        tl_scenario_free(&base);
        return worst;
    }
    const bool with_base = wants_base(&base);
    for (size_t i = with_base ? 0 : 1; worst != TL_E_MEMORY && i <= base.variants; i++) {
        const struct tl_variant *v = i > 0 ? &base.variant[i - 1] : NULL;
        for (size_t k = 0; k < each; k++) {
            if (worst != TL_OK && !shows_one_value(t, k))
                continue;
            int status = add_row(t, file, v, base.variants > 0, k);
            if (status != TL_OK)
                worst = status;
        }
        if (worst != TL_OK && t->base.diag.errors == 0)
            break;
    }
    tl_scenario_free(&base);
    return worst;
}

/* Whether the file was named before. */
static bool is_repeated(const struct tl_options *o, size_t word)
{
    for (size_t i = 0; i < word; i++)
        if (strcmp(o->word[i], o->word[word]) == 0)
            return true;
    return false;
}

static int read_rows(struct task *t)
{
    const struct tl_options *o = &t->base.options;
    int worst = read_varied(t);
    for (size_t i = 0; i < o->words && (worst == TL_OK || t->base.diag.errors > 0); i++) {
        if (is_repeated(o, i)) {
            say_twice(t, o->word[i]);
            continue;
        }
        int status = add_file(t, o->word[i]);
        if (status != TL_OK)
            worst = status;
    }
    if (worst == TL_OK && t->compare.rows < 2) {
        tl_complain("there is only one variant; expected several files, --vary, or variants: in "
                    "the file");
        worst = TL_E_INPUT;
    }
    return worst;
}

/* --- running ------------------------------------------------------------------------------------ */

static void say_row(void *arg, size_t done, size_t rows)
{
    tl_progress_say(arg, "comparing: %zu of %zu", done, rows);
}

static void complain_row(const struct task *t, int status)
{
    bool told = false;
    for (size_t i = 0; i < t->compare.rows; i++) {
        const struct tl_compare_row *row = &t->compare.row[i];
        if (row->status == TL_OK || row->status == TL_E_INTERRUPTED)
            continue;
        tl_complain("%s: %s", row->name, *row->why ? row->why : tl_status_text(row->status));
        told = true;
    }
    if (!told)
        tl_complain("%s", tl_status_text(status));
}

static int run(struct task *t)
{
    const struct tl_compare_options options = {.rtol = t->base.options.rtol,
                                               .threads = t->base.options.threads,
                                               .interrupted = &tl_interrupted,
                                               .progress = say_row,
                                               .progress_arg = &t->base.progress};
    int status = tl_compare_run(&t->compare, &t->base.folder, &options);
    size_t done = 0, there = 0;
    tl_progress_clear(&t->base.progress);
    for (size_t i = 0; i < t->compare.rows; i++) {
        done += t->compare.row[i].done;
        there += t->compare.row[i].done && !t->compare.row[i].fresh;
    }
    if (there > 0 && !t->base.options.quiet)
        fprintf(stderr, "%zu of %zu were run already.\n", there, t->compare.rows);
    if (status == TL_E_INTERRUPTED)
        tl_complain("interrupted; %zu of %zu are kept, the same command goes on from there", done,
                    t->compare.rows);
    else if (status != TL_OK)
        complain_row(t, status);
    return status;
}

/* --- how sure ----------------------------------------------------------------------------------- */

/* What the settings of a row do to what varies by itself. */
static int check_row(const struct tl_compare_row *row, const struct tl_spread *s)
{
    struct tl_text whose = {0};
    int status = TL_OK;
    tl_text_addf(&whose, "variant \"%s\":", row->name);
    for (size_t k = 0; status == TL_OK && k < s->sets; k++)
        status = tl_uncertain_clash(s->input, s->inputs, tl_text_string(&whose), s->set[k]);
    tl_text_free(&whose);
    tl_text_addf(&whose, "variant \"%s\"", row->name);
    if (status == TL_OK && s->sets > 0)
        status = tl_uncertain_in_vain(s->input, s->inputs, s->file, tl_text_string(&whose));
    tl_text_free(&whose);
    return status;
}

/* Two files may say the same of a key that differs between them: they were meant to, or copied. */
static void warn_of_hidden(const struct task *t, size_t i)
{
    const struct tl_compare *c = &t->compare;
    const struct tl_spread *s = &c->uncertain[i].spread, *first = &c->uncertain[0].spread;
    const char *path = tl_uncertain_hidden(s->input, s->inputs, first->input, first->inputs);
    if (path && !t->base.options.quiet)
        tl_complain("warning: %s: \"%s\" has another value than \"%s\", but spread: says the same "
                    "of it for both, so that this difference is not in the chances",
                    path, c->row[i].name, c->row[0].name);
}

static void warn_of_edges(const struct tl_compare *c, size_t i)
{
    const struct tl_spread *s = &c->uncertain[i].spread, *before = &c->uncertain[i - 1].spread;
    struct tl_text whose = {0};
    tl_text_addf(&whose, "variant \"%s\": ", c->row[i].name);
    tl_uncertain_warn(s->input, s->inputs, before->input, before->inputs, tl_text_string(&whose));
    tl_text_free(&whose);
}

/* What varies by itself cannot be what the variants differ in. */
static int check_uncertain(const struct task *t)
{
    const struct tl_options *o = &t->base.options;
    const struct tl_compare *c = &t->compare;
    int worst = TL_OK;
    for (size_t i = 0; i < c->rows && worst != TL_E_MEMORY; i++) {
        const struct tl_spread *s = &c->uncertain[i].spread;
        const bool seen = i > 0 && strcmp(s->file, c->uncertain[i - 1].spread.file) == 0;
        if (!seen && tl_uncertain_check(s->input, s->inputs, s->file, o) != TL_OK)
            worst = TL_E_INPUT;
        for (size_t k = 0; k < t->variations && !seen; k++)
            if (tl_uncertain_clash(s->input, s->inputs, FROM_VARY, t->varied[k].key) != TL_OK)
                worst = TL_E_INPUT;
        if (worst == TL_OK)
            worst = check_row(&c->row[i], s);
        if (worst == TL_OK && !seen && i > 0)
            warn_of_hidden(t, i);
        if (worst == TL_OK && seen && !o->quiet)
            warn_of_edges(c, i);
    }
    return worst;
}

static int plan_uncertain(struct task *t)
{
    if (t->base.options.uncertain == 0)
        return TL_OK;
    int status = tl_complain_memory(tl_compare_ask_uncertain(&t->compare));
    if (status == TL_OK)
        status = tl_uncertain_prepare(&t->base, t->compare.uncertain, t->compare.rows);
    return status == TL_OK ? check_uncertain(t) : status;
}

static int run_uncertain(struct task *t)
{
    const struct tl_compare *c = &t->compare;
    const char **name = c->uncertain ? calloc(c->rows, sizeof *name) : NULL;
    if (!c->uncertain)
        return TL_OK;
    if (!name)
        return tl_complain_memory(TL_E_MEMORY);
    for (size_t i = 0; i < c->rows; i++)
        name[i] = c->run[i];
    const int status = tl_uncertain_run(&t->base, c->uncertain, c->rows, name);
    free(name);
    return status;
}

/* --- the answer --------------------------------------------------------------------------------- */

/* With the charts that were drawn just before. */
static int write_report(const struct task *t)
{
    const char *place = t->base.folder.place;
    char *drawn = tl_study_path(&t->base.folder, "charts");
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    if (!drawn)
        return TL_E_MEMORY;
    const bool there =
        t->base.options.charts && tl_posix_look(drawn, &kind) == TL_OK && kind == TL_POSIX_FOLDER;
    struct tl_report report = {.folder = place,
                               .charts = there ? drawn : NULL,
                               .no_charts = t->base.options.charts
                                                ? "No charts: gnuplot is missing or could not draw."
                                                : "Charts were not asked for (--no-charts).",
                               .scenario = &t->compare.row[0].scenario,
                               .units = t->base.options.units};
    const int status = tl_cli_report(&report, TL_REPORT_COMPARE, place);
    free(drawn);
    return status == TL_E_INPUT ? TL_E_IO : status; /* not what the user gave */
}

/* One of an earlier call would tell of what is not so any more. */
static int drop_report(const struct task *t)
{
    char *path = tl_study_path(&t->base.folder, TL_REPORT_FILE);
    if (path)
        (void)remove(path);
    const int status = path ? TL_OK : TL_E_MEMORY;
    free(path);
    return status;
}

static int write_results(void *arg)
{
    const struct task *t = arg;
    const struct tl_study *folder = &t->base.folder;
    char *csv = tl_study_path(folder, results[0]);
    char *json = tl_study_path(folder, results[1]);
    int status = csv && json ? tl_compare_write_csv(&t->compare, csv) : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_compare_write_json(&t->compare, json);
    if (status == TL_OK)
        status = t->base.options.report ? write_report(t) : drop_report(t);
    if (status == TL_OK)
        status = tl_study_finish(folder, (const char(*)[TL_STUDY_NAME_SIZE])t->compare.run,
                                 t->compare.rows);
    free(csv);
    free(json);
    return status;
}

static int draw_charts(void *arg, const char *folder, struct tl_chart_outcome *outcome)
{
    struct task *t = arg;
    const struct tl_compare *c = &t->compare;
    struct tl_compare_shown *shown = calloc(c->rows, sizeof *shown);
    char **path = calloc(c->rows, sizeof *path);
    int status = shown && path ? TL_OK : TL_E_MEMORY;
    for (size_t i = 0; i < c->rows && status == TL_OK; i++) {
        struct tl_text own = {0};
        tl_text_addf(&own, "%s/runs/%s", t->base.folder.place, c->run[i]);
        path[i] = own.data;
        shown[i] = (struct tl_compare_shown){c->row[i].name, own.data, &c->row[i].scenario};
        status = own.failed ? TL_E_MEMORY : TL_OK;
    }
    if (status == TL_OK)
        status = tl_compare_draw(shown, c->rows, folder, t->base.options.formats, &tl_interrupted,
                                 outcome);
    if (status == TL_OK && c->rows > TL_COMPARE_CURVES && !t->base.options.quiet) {
        tl_progress_clear(&t->base.progress);
        fprintf(stderr, "The charts show the first %d and %d variants.\n", TL_COMPARE_CURVES,
                TL_COMPARE_PAGE);
    }
    for (size_t i = 0; path && i < c->rows; i++)
        free(path[i]);
    free(path);
    free(shown);
    return status;
}

static void print(void *arg)
{
    const struct task *t = arg;
    tl_compare_text(&t->compare, t->base.options.units, stdout);
}

/* --fail-on: whether every variant is as bad as that. */
static int judge(void *arg)
{
    const struct task *t = arg;
    const enum tl_grade level = t->base.options.fail_on;
    const bool fails =
        level != TL_WITHIN && tl_compare_count(&t->compare, (enum tl_grade)(level - 1)) == 0;
    return fails ? TL_EXIT_FAIL_ON : TL_EXIT_DONE;
}

static json_t *question_of(const struct tl_options *o)
{
    return json_pack("{s:o, s:o, s:o, s:f}", "files", tl_json_texts(o->word, o->words), "set",
                     tl_json_texts(o->set, o->sets), "vary", tl_json_texts(o->vary, o->varies),
                     "rtol", o->rtol);
}

static int answer(void *arg)
{
    struct task *t = arg;
    int status = read_rows(t);
    if (status == TL_E_MEMORY)
        tl_complain("out of memory");
    if (status == TL_OK)
        status = plan_uncertain(t);
    if (status == TL_OK)
        status = tl_study_open(&t->base, "compare", question_of(&t->base.options), results, charts);
    if (status == TL_OK)
        status = run(t);
    return status == TL_OK ? run_uncertain(t) : status;
}

static void release(void *arg)
{
    struct task *t = arg;
    for (size_t i = 0; i < MOST_VARIED; i++) {
        for (size_t k = 0; k < t->varied[i].values; k++)
            free(t->varied[i].value[k]);
        free(t->varied[i].value);
        free(t->varied[i].key);
    }
    tl_compare_free(&t->compare);
}

static int cmd_compare(int argc, char **argv)
{
    static const struct tl_study_steps steps = {&tl_command_compare,
                                                sizeof(struct task),
                                                answer,
                                                draw_charts,
                                                write_results,
                                                print,
                                                judge,
                                                release};
    return tl_study_command(argc, argv, &steps);
}

const struct tl_command tl_command_compare = {
    .name = "compare",
    .run = cmd_compare,
    .help = "variants side by side: verdicts, worst values, costs, charts",
    .words = "FILE...",
    .least_words = 1,
    .most_words = 100,
    .takes = TL_TAKES(OUT) | TL_TAKES(FORCE) | TL_TAKES(SET) | TL_TAKES(VARY) | TL_TAKES(UNITS) |
             TL_TAKES(RTOL) | TL_TAKES(FAIL_ON) | TL_TAKES(NO_CHARTS) | TL_TAKES(FORMAT) |
             TL_TAKES(THREADS) | TL_TAKES(REPORT) | TL_TAKES(UNCERTAIN) | TL_TAKES(SEED) |
             TL_TAKES(INPUTS) | TL_TAKES(QUIET),
    .more = "Compared are several files, the variants: in a file, and with --vary every value\n"
            "of a key; --vary again crosses them. Without --out the results go to out/ and\n"
            "the name of the first FILE with -compare. What is there from an earlier call is\n"
            "not run again. --fail-on looks at the best of them, by its run with default\n"
            "parameters.\n"
            "--uncertain 1000 says how sure each verdict is: in how many of 100 runs, each\n"
            "with other values for what is uncertain, as towerloop spread makes them. All\n"
            "variants get the same values, so that what differs is their own doing: in how\n"
            "many of 100 one comes off better than the first variant, and worse.\n"
            "Example: towerloop compare pond.yaml --vary \"fish[0].count=80,100,120\"\n",
};
