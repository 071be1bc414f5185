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

/* So often another run may be faster. */
enum { TRIES = 100 };

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
    if (status == TL_E_IO && errno == ENOENT)
        return TL_OK; /* gone meanwhile */
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
                  "%s has no summary.json that towerloop can read, so it is left alone; choose "
                  "another folder with --out, or move this one away if it holds earlier results",
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

static int check_once(const struct tl_run_folder *f, bool force, char *why, size_t size)
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

/* Another run may put its results there while they are looked through: then once more. */
static int check_place(const struct tl_run_folder *f, bool force, char *why, size_t size)
{
    unsigned long long number = 0;
    int status = TL_OK, tries = TRIES;
    (void)tl_posix_is_another(f->place, &number);
    do {
        *why = '\0';
        status = check_once(f, force, why, size);
    } while ((status == TL_E_REFUSED || status == TL_E_IO) &&
             tl_posix_is_another(f->place, &number) && --tries > 0);
    return status;
}

/* The folder that a name ends in a dot for, so that the draft can lie beside it. NULL: errno says why. */
static char *without_dots(char *place)
{
    for (;;) {
        char *slash = strrchr(place, '/');
        const char *name = slash ? slash + 1 : place;
        const bool itself = strcmp(name, ".") == 0;
        if (!itself && strcmp(name, "..") != 0)
            return place;
        char *real = tl_posix_resolve(place);
        if (real || errno != ENOENT || !itself || !slash) {
            free(place);
            return real;
        }
        slash[slash == place] = '\0'; /* "new/." is new */
    }
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
    if (f->place)
        f->place = without_dots(f->place);
    if (!f->place && errno == ENOMEM)
        return TL_E_MEMORY;
    if (!f->place) {
        tl_format(why, size, "%s cannot be made: %s", place, strerror(errno));
        return TL_E_IO;
    }
    if (tl_posix_lies_in(".", f->place)) {
        tl_format(why, size,
                  "%s is the folder you are in, or one above it: results that take its place would "
                  "leave you in a folder that is gone; go to another one first, or choose another "
                  "with --out",
                  place);
        return TL_E_REFUSED;
    }
    int status = check_place(f, force, why, size);
    if (status != TL_OK)
        return status;
    status = tl_place_parents(f->place, &f->parents_made);
    if (status == TL_OK) {
        f->draft = make_beside(f->place, "draft");
        if (!f->draft)
            status = errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
        else
            f->locked = tl_posix_keep_own_folder(f->draft, &f->lock) == TL_OK;
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

static int cannot_be_moved(const struct tl_run_folder *f, char *why, size_t size)
{
    tl_format(why, size, "the results cannot be moved to %s: %s", f->place, strerror(errno));
    return TL_E_IO;
}

/* Of earlier results that have been moved to `path`. */
static void remove_old(const char *path, char *why, size_t size)
{
    if (!tl_posix_remove_tree(path))
        tl_format(why, size, "the earlier results could not all be deleted; the rest is in %s",
                  path);
}

/* The draft to where nothing was a moment ago. TL_E_REFUSED: now there is something. */
static int move_there(struct tl_run_folder *f, char *why, size_t size)
{
    if (rename(f->draft, f->place) != 0)
        return errno == EEXIST || errno == ENOTEMPTY || errno == ENOTDIR
                   ? TL_E_REFUSED
                   : cannot_be_moved(f, why, size);
    free(f->draft);
    f->draft = NULL;
    return TL_OK;
}

/* On a disk where two folders cannot change places: the earlier results away first, so that they can come back. */
static int replace_in_steps(struct tl_run_folder *f, char *why, size_t size)
{
    char *old = make_beside(f->place, "old");
    bool away = old && rename(f->place, old) == 0;
    int status = away ? move_there(f, why, size) : cannot_be_moved(f, why, size);
    const bool back = away && status != TL_OK && rename(old, f->place) == 0;
    if (status == TL_OK)
        remove_old(old, why, size);
    else if (away && !back)
        tl_format(why, size,
                  "the results cannot be moved to %s; those that were there before are in %s now",
                  f->place, old);
    else if (old && !back)
        tl_posix_remove_empty(old); /* still the empty one that was made */
    free(old);
    return status == TL_E_REFUSED ? TL_E_IO : status;
}

/* Until it is deleted; waits a while for the run that has just put it there. */
static bool keep_place(const struct tl_run_folder *f, int *kept)
{
    int status = TL_E_REFUSED;
    for (int tries = 0; tries < TRIES && status == TL_E_REFUSED; tries++) {
        if (tries > 0)
            tl_posix_nap(10);
        status = tl_posix_keep_folder(f->place, kept);
    }
    return status == TL_OK;
}

/* The two change places. TL_E_REFUSED: what was there is no longer. */
static int replace(struct tl_run_folder *f, char *why, size_t size)
{
    int kept;
    const bool keeps = keep_place(f, &kept);
    int status = tl_posix_exchange(f->draft, f->place);
    if (status == TL_OK) {
        remove_old(f->draft, why, size);
        free(f->draft);
        f->draft = NULL;
    } else if (status == TL_E_REFUSED) {
        status = replace_in_steps(f, why, size);
    } else if (errno == ENOENT) {
        status = TL_E_REFUSED;
    } else {
        status = cannot_be_moved(f, why, size);
    }
    if (keeps)
        tl_posix_let_go(kept);
    return status;
}

int tl_run_folder_commit(struct tl_run_folder *f, bool force, char *why, size_t size)
{
    int status = TL_E_REFUSED;
    for (int tries = 0; tries < TRIES && status == TL_E_REFUSED; tries++) {
        enum tl_posix_kind kind;
        status = check_place(f, force, why, size);
        if (status != TL_OK)
            return status;
        status = tl_posix_look(f->place, &kind) == TL_OK && kind != TL_POSIX_NOTHING
                     ? replace(f, why, size)
                     : move_there(f, why, size);
    }
    if (f->locked && status == TL_OK) { /* the next run may replace it */
        tl_posix_let_go(f->lock);
        f->locked = false;
    }
    if (status == TL_E_REFUSED)
        tl_format(why, size, "other runs keep putting their results at %s", f->place);
    return status;
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
