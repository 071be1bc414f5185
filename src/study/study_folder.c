/* The folder of a study: opening, going on, looking through before deleting. */
#include "study_folder.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "atomic_file.h"
#include "blocks.h"
#include "json.h"
#include "place.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"
#include "written.h"

#define STUDY          "study.json"
#define FORMAT         1
#define INPUT_FILE_MAX (64u << 20)

char *tl_study_path(const struct tl_study *s, const char *name)
{
    return tl_place_below(s->place, name);
}

static int write_file(const char *path, const char *data, size_t length)
{
    struct tl_atomic_file file;
    int status = tl_atomic_open(&file, path);
    if (status != TL_OK)
        return status;
    fwrite(data, 1, length, file.f);
    return tl_atomic_commit(&file);
}

int tl_study_write(const struct tl_study *s, const char *name, const char *text)
{
    char *path = tl_study_path(s, name);
    int status = path ? write_file(path, text, strlen(text)) : TL_E_MEMORY;
    int reason = errno;
    free(path);
    errno = reason;
    return status;
}

/* --- study.json ------------------------------------------------------------------------------- */

/* That of the study at `place`, or NULL if there is none of ours. TL_OK or TL_E_MEMORY. */
static int read_study(const char *place, json_t **study)
{
    char *path = tl_place_below(place, STUDY);
    json_t *root = path ? tl_json_read(path) : NULL;
    const bool path_known = path != NULL;
    free(path);
    if (json_integer_value(json_object_get(root, "format")) == FORMAT &&
        json_is_string(json_object_get(root, "kind")) &&
        json_is_string(json_object_get(root, "version")) &&
        json_is_object(json_object_get(root, "question"))) {
        *study = root;
        return TL_OK;
    }
    const bool no_memory = !path_known || (!root && errno == ENOMEM);
    json_decref(root);
    *study = NULL;
    return no_memory ? TL_E_MEMORY : TL_OK;
}

int tl_study_kind(const char *folder, char *kind, size_t size)
{
    json_t *study;
    const int status = read_study(folder, &study);
    tl_format(kind, size, "%s", study ? json_string_value(json_object_get(study, "kind")) : "");
    json_decref(study);
    return status;
}

static int write_study(const struct tl_study *s, bool complete)
{
    struct tl_build b;
    tl_build_info(&b);
    char *path = tl_study_path(s, STUDY);
    if (!path)
        return TL_E_MEMORY;
    json_t *inputs = tl_json_texts((const char *const *)s->input_name, s->inputs);
    json_t *root =
        json_pack("{s:i, s:s, s:s, s:o, s:O, s:o, s:O, s:b}", "format", FORMAT, "kind",
                  s->plan->kind, "version", b.version, "build", tl_json_build(), "question",
                  s->plan->question, "inputs", inputs, "written", s->written, "complete", complete);
    int status = tl_json_write(root, path, JSON_INDENT(2));
    int reason = errno;
    free(path);
    errno = reason;
    return status;
}

/* --- looking through -------------------------------------------------------------------------- */

struct look {
    const struct tl_study_plan *plan;
    const json_t *study;
    const char *path;   /* of the folder */
    const char *folder; /* its name in the study; "" for the study's own */
    char *why;
    size_t size;
};

static bool is_one_of(const char *name, const char *const *names)
{
    for (; *names; names++)
        if (strcmp(*names, name) == 0)
            return true;
    return false;
}

/* What a run leaves beside its place when the program is killed. */
static bool is_leftover(const char *name)
{
    return strstr(name, ".draft-") || strstr(name, ".old-");
}

static int look_at(void *arg, const char *name, enum tl_posix_kind kind)
{
    static const char *const folders[] = {
        "runs", "cases", "blocks", "inputs", "charts", TL_STUDY_UNCERTAIN, NULL};
    const struct look *l = arg;
    char *path = tl_place_below(l->path, name), *whole = tl_place_whole_name(name);
    bool ours = tl_place_is_drawing(name, kind);
    int status = path && whole ? TL_OK : TL_E_MEMORY;
    if (status == TL_OK && kind == TL_POSIX_FOLDER && !ours) {
        if (*l->folder == '\0' && is_one_of(name, folders)) {
            struct look inside = *l;
            inside.path = path;
            inside.folder = name;
            ours = true;
            status = tl_posix_list(path, look_at, &inside);
        } else if (strcmp(l->folder, "runs") == 0) {
            ours = true;
            status = is_leftover(name) ? TL_OK : tl_run_folder_check(path, NULL, l->why, l->size);
        } else if (strcmp(l->folder, TL_STUDY_UNCERTAIN) == 0) {
            struct look inside = *l;
            inside.path = path;
            inside.folder = "blocks";
            ours = true;
            status = tl_posix_list(path, look_at, &inside);
        }
    } else if (status == TL_OK && kind == TL_POSIX_FILE) {
        ours = strcmp(l->folder, "cases") == 0    ? is_one_of(whole, l->plan->results)
               : strcmp(l->folder, "blocks") == 0 ? tl_block_is_name(name)
               : *l->folder == '\0'
                   ? strcmp(whole, STUDY) == 0 || is_one_of(whole, l->plan->results)
               : strcmp(l->folder, "inputs") == 0
                   ? tl_place_has_input(l->study, whole)
                   : strcmp(l->folder, "charts") == 0 && tl_is_picture(whole, l->plan->charts);
    }
    free(whole);
    free(path);
    if (status == TL_OK && !ours) {
        tl_format(l->why, l->size,
                  "%s holds %s, which is not towerloop's; it is left alone: move it away, or "
                  "choose another folder with --out",
                  l->path, name);
        return TL_E_REFUSED;
    }
    return status;
}

/* Deletes the earlier study at the place if all of it is ours. */
static int start_anew(const struct tl_study *s, const json_t *study, char *why, size_t size)
{
    struct look l = {s->plan, study, s->place, "", why, size};
    const char *kind = json_string_value(json_object_get(study, "kind"));
    if (strcmp(kind, s->plan->kind) != 0) {
        tl_format(why, size, "%s is the folder of another command, %s; choose another with --out",
                  s->place, kind);
        return TL_E_REFUSED;
    }
    int status = tl_place_apart(s->place, s->plan->input, why, size);
    if (status == TL_OK)
        status = tl_posix_list(s->place, look_at, &l);
    if (status == TL_E_IO && !*why)
        tl_format(why, size, "%s cannot be read: %s", s->place, strerror(errno));
    if (status == TL_OK)
        status = tl_written_check(s->place, study, why, size);
    if (status == TL_OK)
        tl_posix_remove_tree(s->place);
    return status;
}

/* What make_all() makes before study.json is there. */
static int see_begun(void *arg, const char *name, enum tl_posix_kind kind)
{
    const bool folder =
        kind == TL_POSIX_FOLDER && (strcmp(name, "inputs") == 0 || strcmp(name, "runs") == 0);
    char *path = folder ? tl_place_below(arg, name) : NULL;
    const bool ours = folder ? path && tl_place_is_empty(path)
                             : kind == TL_POSIX_FILE && strcmp(name, STUDY ".partial") == 0;
    free(path);
    return ours ? TL_OK : TL_E_REFUSED;
}

/* Whether a study was killed just when it began. */
static bool has_just_begun(const char *place)
{
    return tl_posix_list(place, see_begun, (void *)place) == TL_OK;
}

static int check_place(const struct tl_study *s, bool force, char *why, size_t size)
{
    bool vacant;
    int status = tl_place_look(s->place, &vacant, why, size);
    if (status != TL_OK || vacant)
        return status;
    json_t *study = NULL;
    status = read_study(s->place, &study);
    if (status != TL_OK)
        return status;
    if (!study && has_just_begun(s->place))
        return TL_OK;
    if (!study) {
        tl_format(why, size,
                  "%s is there already and is no study of towerloop; move it away, or choose "
                  "another folder with --out",
                  s->place);
        status = TL_E_REFUSED;
    } else if (force) {
        status = start_anew(s, study, why, size);
    } else if (strcmp(json_string_value(json_object_get(study, "kind")), s->plan->kind) != 0 ||
               !json_equal(json_object_get(study, "question"), s->plan->question)) {
        tl_format(why, size,
                  "%s answers another question; --force starts anew, --out chooses another folder",
                  s->place);
        status = TL_E_REFUSED;
    } else {
        status = tl_written_check(s->place, study, why, size);
    }
    json_decref(study);
    return status;
}

/* --- beginning -------------------------------------------------------------------------------- */

static int remove_leftover(void *arg, const char *name, enum tl_posix_kind kind)
{
    char *path = kind == TL_POSIX_FOLDER && is_leftover(name) ? tl_place_below(arg, name) : NULL;
    if (path)
        tl_posix_remove_tree(path);
    free(path);
    return TL_OK;
}

static int remove_drawing(void *arg, const char *name, enum tl_posix_kind kind)
{
    char *path = tl_place_is_drawing(name, kind) ? tl_place_below(arg, name) : NULL;
    if (path)
        tl_posix_remove_tree(path);
    free(path);
    return TL_OK;
}

/* A program that was killed has left them. */
static void remove_leftovers(const struct tl_study *s)
{
    char *runs = tl_study_path(s, "runs"), *charts = tl_study_path(s, "charts");
    if (runs)
        (void)tl_posix_list(runs, remove_leftover, runs);
    if (charts)
        (void)tl_posix_list(charts, remove_drawing, charts);
    (void)tl_posix_list(s->place, remove_drawing, s->place);
    free(runs);
    free(charts);
}

static int make_folder(const struct tl_study *s, const char *name)
{
    char *path = *name ? tl_study_path(s, name) : strdup(s->place);
    int status = path ? tl_posix_make_folder(path, NULL) : TL_E_MEMORY;
    int reason = errno;
    free(path);
    errno = reason;
    return status;
}

/* The files' own names, as long as they differ. */
static int name_inputs(struct tl_study *s)
{
    while (s->plan->input[s->inputs])
        s->inputs++;
    s->input_name = calloc(s->inputs + 1, sizeof *s->input_name);
    if (!s->input_name)
        return TL_E_MEMORY;
    for (size_t i = 0; i < s->inputs; i++) {
        const char *slash = strrchr(s->plan->input[i], '/');
        const char *name = slash ? slash + 1 : s->plan->input[i];
        struct tl_text t = {0};
        tl_text_add(&t, name);
        for (size_t j = 0; j < i; j++) {
            if (strcmp(s->input_name[j], tl_text_string(&t)) == 0) {
                tl_text_free(&t);
                tl_text_addf(&t, "%zu-%s", i + 1, name);
                break;
            }
        }
        if (t.failed)
            return TL_E_MEMORY;
        s->input_name[i] = t.data;
    }
    return TL_OK;
}

/* Of the files as they are now, which the copies become. */
static int sum_inputs(struct tl_study *s)
{
    s->written = json_object();
    int status = s->written ? TL_OK : TL_E_MEMORY;
    for (size_t i = 0; i < s->inputs && status == TL_OK; i++) {
        struct tl_text name = {0};
        tl_text_addf(&name, "inputs/%s", s->input_name[i]);
        status =
            name.failed ? TL_E_MEMORY : tl_written_add(s->written, name.data, s->plan->input[i]);
        const int reason = errno;
        tl_text_free(&name);
        errno = reason;
    }
    return status;
}

static int copy_input(const struct tl_study *s, size_t i)
{
    struct tl_text to = {0};
    char *data = NULL;
    size_t length = 0;
    tl_text_addf(&to, "%s/inputs/%s", s->place, s->input_name[i]);
    int status = to.failed ? TL_E_MEMORY
                           : tl_read_plain_file(s->plan->input[i], INPUT_FILE_MAX, &data, &length);
    if (status == TL_OK)
        status = write_file(to.data, data, length);
    int reason = errno;
    free(data);
    tl_text_free(&to);
    errno = reason;
    return status;
}

#define NAPS   10
#define NAP_MS 20

/* Two at work in one folder would do everything twice. Where there is no lock to be had it goes without. */
static int be_alone(struct tl_study *s, char *why, size_t size)
{
    int status = tl_posix_keep_folder(s->place, &s->lock);
    /* what a program that was just killed had begun to start keeps its lock for a moment */
    for (int i = 0; i < NAPS && status == TL_E_REFUSED; i++) {
        tl_posix_nap(NAP_MS);
        status = tl_posix_keep_folder(s->place, &s->lock);
    }
    s->alone = status == TL_OK;
    if (status != TL_E_REFUSED)
        return TL_OK;
    s->made = false; /* it is the other one's */
    tl_format(
        why, size,
        "another towerloop is at work in %s; wait for it, or choose another folder with --out",
        s->place);
    return status;
}

static void not_alone(struct tl_study *s)
{
    if (s->alone)
        tl_posix_let_go(s->lock);
    s->alone = false;
}

static int make_all(struct tl_study *s, char *why, size_t size)
{
    int status = tl_place_parents(s->place, &s->parents_made);
    if (status == TL_OK)
        status = make_folder(s, "");
    if (status == TL_OK)
        status = be_alone(s, why, size);
    if (status == TL_OK)
        status = make_folder(s, "inputs");
    if (status == TL_OK)
        status = make_folder(s, "runs");
    if (status == TL_OK)
        status = sum_inputs(s);
    if (status == TL_OK)
        status = write_study(s, false);
    s->began = status == TL_OK;
    for (size_t i = 0; i < s->inputs && status == TL_OK; i++)
        status = copy_input(s, i);
    return status;
}

int tl_study_begin(struct tl_study *s, const struct tl_study_plan *plan, const char *place,
                   bool force, char *why, size_t size)
{
    enum tl_posix_kind kind;
    *s = (struct tl_study){.plan = plan, .place = tl_place_new(place)};
    *why = '\0';
    if (!s->place)
        return TL_E_MEMORY;
    int status = name_inputs(s);
    if (status == TL_OK)
        status = be_alone(s, why, size);
    if (status == TL_OK)
        status = check_place(s, force, why, size);
    not_alone(s); /* the folder may be another one now */
    if (status != TL_OK)
        return status;
    errno = 0;
    s->made = tl_posix_look(s->place, &kind) == TL_OK && kind == TL_POSIX_NOTHING;
    status = make_all(s, why, size);
    if (status == TL_E_IO)
        tl_format(why, size, "%s cannot be made: %s", s->place, strerror(errno));
    if (status == TL_OK)
        remove_leftovers(s);
    return status;
}

/* --- the runs --------------------------------------------------------------------------------- */

void tl_study_name(const char *text, const char (*taken)[TL_STUDY_NAME_SIZE], size_t n,
                   char out[TL_STUDY_NAME_SIZE])
{
    enum { MOST = TL_STUDY_NAME_SIZE - 24 }; /* room for a number behind it */
    size_t length = 0;
    for (; *text && length < MOST; text++) {
        const char c = *text;
        const bool letter = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
        if (letter)
            out[length++] = c;
        else if (c >= 'A' && c <= 'Z')
            out[length++] = (char)(c - 'A' + 'a');
        else if (length > 0 && out[length - 1] != '-')
            out[length++] = '-';
    }
    while (length > 0 && out[length - 1] == '-')
        length--;
    out[length] = '\0';
    if (length == 0)
        length = (size_t)tl_format(out, TL_STUDY_NAME_SIZE, "run");
    for (size_t number = 1, i = 0; i < n; i++) {
        if (strcmp(taken[i], out) == 0) {
            tl_format(out + length, TL_STUDY_NAME_SIZE - length, "-%zu", ++number);
            i = (size_t)-1; /* look at all of them again */
        }
    }
}

/* Whether the file holds just this. */
static bool holds(const char *folder, const char *name, const char *data, size_t length)
{
    char *path = tl_place_below(folder, name);
    char *there = NULL;
    size_t size = 0;
    const bool same = path && tl_read_plain_file(path, INPUT_FILE_MAX, &there, &size) == TL_OK &&
                      size == length && memcmp(there, data, length) == 0;
    free(there);
    free(path);
    return same;
}

static bool same_build(const json_t *summary, double rtol)
{
    struct tl_build b;
    tl_build_info(&b);
    const char *version = json_string_value(json_object_get(summary, "version"));
    const json_t *tolerance = json_object_get(summary, "rtol");
    json_t *build = tl_json_build();
    const bool same = version && strcmp(version, b.version) == 0 &&
                      json_equal(json_object_get(summary, "build"), build);
    json_decref(build);
    return same && (rtol > 0 ? json_number_value(tolerance) == rtol : json_is_null(tolerance));
}

static bool same_input(const char *folder, const struct tl_scenario *s, enum tl_input which)
{
    struct tl_text name = {0};
    char *data = NULL;
    size_t length = 0;
    if (!s->input[which])
        return true;
    char *from = tl_scenario_input_path(s, which);
    tl_text_addf(&name, "inputs/%s", tl_scenario_input_name(s, which));
    const bool same = from && !name.failed &&
                      tl_read_plain_file(from, INPUT_FILE_MAX, &data, &length) == TL_OK &&
                      holds(folder, tl_text_string(&name), data, length);
    free(data);
    free(from);
    tl_text_free(&name);
    return same;
}

/* Whether the run in `folder` is that of the scenario; *same says so. TL_OK or TL_E_MEMORY. */
static int compare_run(const char *folder, const struct tl_scenario *s,
                       const struct tl_record_options *o, bool *same)
{
    char *text = NULL;
    char *path = tl_place_below(folder, "summary.json");
    char *rows = tl_place_below(folder, "series.csv");
    enum tl_posix_kind kind = TL_POSIX_NOTHING;
    int status = path && rows ? tl_scenario_text(s, &text) : TL_E_MEMORY;
    json_t *summary = status == TL_OK ? tl_json_read(path) : NULL;
    *same = summary && same_build(summary, o->assess.rtol) &&
            holds(folder, "scenario.yaml", text, strlen(text)) &&
            (!o->rows || (tl_posix_look(rows, &kind) == TL_OK && kind == TL_POSIX_FILE));
    for (enum tl_input i = 0; *same && i < TL_NINPUT; i++)
        *same = same_input(folder, s, i);
    json_decref(summary);
    free(text);
    free(path);
    free(rows);
    return status;
}

int tl_study_run(const struct tl_study *s, const char *name, const struct tl_scenario *scenario,
                 const struct tl_record_options *options, struct tl_run_result *out, bool *fresh,
                 char *why, size_t size)
{
    struct tl_text place = {0};
    bool same = false;
    *why = '\0';
    tl_text_addf(&place, "%s/runs/%s", s->place, name);
    int status = place.failed ? TL_E_MEMORY : compare_run(place.data, scenario, options, &same);
    if (status == TL_OK && same)
        same = tl_run_result_load(place.data, out) == TL_OK;
    if (fresh)
        *fresh = !same;
    if (status == TL_OK && !same) {
        struct tl_record_options again = *options;
        again.force = true;
        status = tl_record_run(scenario, &again, place.data, why, size);
        if (status == TL_OK)
            status = tl_run_result_load(place.data, out);
    }
    if (status != TL_OK && !*why)
        tl_format(why, size, "%s", tl_status_text(status));
    tl_text_free(&place);
    return status;
}

/* --- the end ---------------------------------------------------------------------------------- */

struct kept {
    const char *runs; /* path */
    const char (*name)[TL_STUDY_NAME_SIZE];
    size_t names;
};

static int remove_other(void *arg, const char *name, enum tl_posix_kind kind)
{
    const struct kept *k = arg;
    char why[256];
    if (kind != TL_POSIX_FOLDER)
        return TL_OK;
    for (size_t i = 0; i < k->names; i++)
        if (strcmp(k->name[i], name) == 0)
            return TL_OK;
    char *path = tl_place_below(k->runs, name);
    if (path && tl_run_folder_check(path, NULL, why, sizeof why) == TL_OK)
        tl_posix_remove_tree(path);
    free(path);
    return TL_OK;
}

int tl_study_finish(const struct tl_study *s, const char (*name)[TL_STUDY_NAME_SIZE], size_t names)
{
    char *runs = tl_study_path(s, "runs");
    struct kept k = {runs, name, names};
    int status = runs ? tl_posix_list(runs, remove_other, &k) : TL_E_MEMORY;
    free(runs);
    return status == TL_OK ? write_study(s, true) : status;
}

void tl_study_end(struct tl_study *s)
{
    if (s->alone &&
        s->began) /* once more: what a killed program had started may have drawn on for a while */
        remove_leftovers(s);
    not_alone(s);
    /* a study that was not begun has no study.json: nothing could go on with it */
    char *runs = s->made && s->began ? tl_study_path(s, "runs") : NULL;
    if ((s->made && !s->began) || (runs && tl_place_is_empty(runs))) {
        tl_posix_remove_tree(s->place);
        tl_place_no_parents(s->place, s->parents_made);
    }
    free(runs);
    for (size_t i = 0; s->input_name && i < s->inputs; i++)
        free(s->input_name[i]);
    free(s->input_name);
    json_decref(s->written);
    free(s->place);
    *s = (struct tl_study){.plan = NULL};
}
