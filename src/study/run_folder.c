/* The folder of a run. Everything is written into a draft beside its place, so an error, an
 * interruption or a crash never leaves half a result under the name the user gave. */
#include "run_folder.h"

#include <errno.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "place.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"
#include "written.h"

/* --- what lies in a folder -------------------------------------------------------------------- */

bool tl_is_picture(const char *name, const char *const *charts)
{
    static const char *const ending[] = {".png", ".svg", ".pdf"};
    for (; charts && *charts; charts++) {
        size_t n = strlen(*charts);
        for (int e = 0; e < 3; e++) {
            if (strncmp(name, *charts, n) == 0 && strcmp(name + n, ending[e]) == 0)
                return true;
        }
    }
    return false;
}

/* A folder of results that is looked through. */
struct look {
    const json_t *summary;
    const char *const *charts;
    const char *path;   /* of the folder */
    const char *folder; /* its name below the results; "" for themselves */
    char *why;          /* what is in the way */
    size_t size;
};

/* May a folder of results hold this? */
static bool is_ours(const struct look *l, const char *name, enum tl_posix_kind kind)
{
    if (kind == TL_POSIX_FOLDER)
        return *l->folder == '\0' && (strcmp(name, "charts") == 0 || strcmp(name, "inputs") == 0);
    if (kind != TL_POSIX_FILE)
        return false;
    if (strcmp(l->folder, "charts") == 0)
        return tl_is_picture(name, l->charts);
    if (strcmp(l->folder, "inputs") == 0)
        return tl_place_has_input(l->summary, name);
    static const char *const ours[] = {"summary.json", "series.csv",   "scenario.yaml",
                                       "report.html",  "calendar.csv", "calendar.ics"};
    for (size_t i = 0; i < sizeof ours / sizeof *ours; i++)
        if (strcmp(name, ours[i]) == 0)
            return true;
    return false;
}

static int look_at(void *arg, const char *name, enum tl_posix_kind kind);

/* The first thing that is not ours goes to `why` and gives TL_E_REFUSED. */
static int look_through(struct look *l)
{
    int status = tl_posix_list(l->path, look_at, l);
    if (status == TL_E_IO && !*l->why)
        tl_format(l->why, l->size, "%s cannot be read: %s", l->path, strerror(errno));
    return status;
}

static int look_at(void *arg, const char *name, enum tl_posix_kind kind)
{
    const struct look *l = arg;
    if (tl_place_is_drawing(name, kind))
        return TL_OK;
    char *whole = tl_place_whole_name(name);
    if (!whole)
        return TL_E_MEMORY;
    const bool ours = is_ours(l, whole, kind);
    free(whole);
    if (!ours) {
        tl_format(l->why, l->size,
                  "%s holds %s, which is not towerloop's; it is left alone: move it away, or "
                  "choose another folder with --out",
                  l->path, name);
        return TL_E_REFUSED;
    }
    if (kind != TL_POSIX_FOLDER)
        return TL_OK;
    char *path = tl_place_below(l->path, name);
    struct look below = *l;
    below.path = path;
    below.folder = name;
    int status = path ? look_through(&below) : TL_E_MEMORY;
    free(path);
    return status;
}

/* The summary of earlier results at `place`, or NULL if there is none of ours. */
static json_t *read_summary(const char *place)
{
    char *path = tl_place_below(place, "summary.json");
    json_t *root = path ? tl_json_read(path) : NULL;
    free(path);
    const json_t *build = json_object_get(root, "build");
    if (json_is_integer(json_object_get(root, "format")) &&
        json_is_string(json_object_get(root, "version")) &&
        json_is_string(json_object_get(root, "verdict")) &&
        json_is_string(json_object_get(build, "commit")))
        return root;
    json_decref(root);
    return NULL;
}

bool tl_run_folder_is_ours(const char *place)
{
    json_t *summary = read_summary(place);
    json_decref(summary);
    return summary != NULL;
}

int tl_run_folder_check(const char *place, const char *const *charts, char *why, size_t size)
{
    json_t *summary = read_summary(place);
    if (!summary) {
        tl_format(why, size,
                  "%s has no summary.json that towerloop can read, so it is left alone; if it is "
                  "an earlier result, delete that folder and run the same command again",
                  place);
        return TL_E_REFUSED;
    }
    struct look l = {.summary = summary,
                     .charts = charts,
                     .path = place,
                     .folder = "",
                     .why = why,
                     .size = size};
    *why = '\0';
    int status = look_through(&l);
    if (status == TL_OK)
        status = tl_written_check(place, summary, why, size);
    json_decref(summary);
    return status;
}

static int check_place(const struct tl_run_folder *f, bool force, char *why, size_t size)
{
    bool vacant;
    int status = tl_place_look(f->place, &vacant, why, size);
    if (status != TL_OK || vacant)
        return status;
    if (!force) {
        tl_format(why, size,
                  "%s is there already; --force replaces earlier results, --out chooses another "
                  "folder",
                  f->place);
        return TL_E_REFUSED;
    }
    return tl_run_folder_check(f->place, f->charts, why, size);
}

/* --- making, moving, deleting ----------------------------------------------------------------- */

/* A new folder "<place>.<word>-xxxxxx". */
static char *make_beside(const char *place, const char *word)
{
    struct tl_text stem = {0};
    tl_text_addf(&stem, "%s.%s", place, word);
    char *made = stem.failed ? NULL : tl_posix_new_folder(stem.data);
    const int reason = stem.failed ? ENOMEM : errno;
    tl_text_free(&stem);
    errno = reason;
    return made;
}

int tl_run_folder_begin(struct tl_run_folder *f, const char *place, const char *const *charts,
                        bool force, char *why, size_t size)
{
    *f = (struct tl_run_folder){.charts = charts};
    f->place = tl_place_new(place);
    if (!f->place)
        return TL_E_MEMORY;
    int status = check_place(f, force, why, size);
    if (status != TL_OK)
        return status;
    status = tl_place_parents(f->place, &f->parents_made);
    if (status == TL_OK) {
        f->draft = make_beside(f->place, "draft");
        if (!f->draft)
            status = errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
        else
            f->locked = tl_posix_keep_folder(f->draft, &f->lock) == TL_OK;
    }
    if (status == TL_E_IO)
        tl_format(why, size, "%s cannot be made: %s", f->place, strerror(errno));
    return status;
}

char *tl_run_folder_path(const struct tl_run_folder *f, const char *name)
{
    return tl_place_below(f->draft, name);
}

int tl_run_folder_sub(const struct tl_run_folder *f, const char *name)
{
    char *path = tl_run_folder_path(f, name);
    if (!path)
        return TL_E_MEMORY;
    int status = tl_posix_make_folder(path, NULL);
    free(path);
    return status;
}

int tl_run_folder_commit(struct tl_run_folder *f, bool force, char *why, size_t size)
{
    char *old = NULL;
    enum tl_posix_kind kind;
    int status = check_place(f, force, why, size);
    if (status != TL_OK)
        return status;

    if (tl_posix_look(f->place, &kind) == TL_OK &&
        kind != TL_POSIX_NOTHING) { /* move it away first, so that it can come back */
        old = make_beside(f->place, "old");
        if (!old || rename(f->place, old) != 0)
            goto failed;
    }
    if (rename(f->draft, f->place) != 0)
        goto failed;
    free(f->draft);
    f->draft = NULL;
    if (old) {
        if (!tl_posix_remove_tree(old))
            tl_format(why, size, "the earlier results could not all be deleted; the rest is in %s",
                      old);
    }
    free(old);
    return TL_OK;

failed:
    tl_format(why, size, "the results cannot be moved to %s: %s", f->place, strerror(errno));
    if (old && rename(old, f->place) != 0)
        tl_posix_remove_empty(old); /* still the empty one that was made */
    free(old);
    return TL_E_IO;
}

void tl_run_folder_end(struct tl_run_folder *f)
{
    if (f->draft) {
        tl_posix_remove_tree(f->draft);
        tl_place_no_parents(f->place, f->parents_made);
    }
    if (f->locked)
        tl_posix_let_go(f->lock);
    free(f->place);
    free(f->draft);
    memset(f, 0, sizeof *f);
}
