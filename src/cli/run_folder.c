/* The folder of a run. Everything is written into a draft beside its place, so an error, an
 * interruption or a crash never leaves half a result under the name the user gave. */
#include "run_folder.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "text.h"
#include "towerloop/chart.h"
#include "towerloop/status.h"

/* A new string "<a><b>"; NULL when out of memory. */
static char *join(const char *a, const char *b)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "%s%s", a, b);
    if (t.failed)
        tl_text_free(&t);
    return t.data;
}

/* --- what lies in a folder -------------------------------------------------------------------- */

static bool is_chart(const char *name)
{
    static const char *const ending[] = {".png", ".svg", ".pdf"};
    for (int c = 0; c < TL_NCHART; c++) {
        const char *chart = tl_chart_name((enum tl_chart_id)c);
        size_t n = strlen(chart);
        for (int e = 0; e < 3; e++) {
            if (strncmp(name, chart, n) == 0 && strcmp(name + n, ending[e]) == 0)
                return true;
        }
    }
    return false;
}

static bool is_input(const json_t *summary, const char *name)
{
    const json_t *inputs = json_object_get(summary, "inputs");
    for (size_t i = 0; i < json_array_size(inputs); i++) {
        const char *input = json_string_value(json_array_get(inputs, i));
        if (input && strcmp(input, name) == 0)
            return true;
    }
    return false;
}

/* May a folder of results hold this? `folder` is "" for the folder itself. */
static bool is_ours(const json_t *summary, const char *folder, const char *name, mode_t mode)
{
    if (S_ISDIR(mode))
        return *folder == '\0' && (strcmp(name, "charts") == 0 || strcmp(name, "inputs") == 0);
    if (!S_ISREG(mode))
        return false;
    if (strcmp(folder, "charts") == 0)
        return is_chart(name);
    if (strcmp(folder, "inputs") == 0)
        return is_input(summary, name);
    return strcmp(name, "summary.json") == 0 || strcmp(name, "series.csv") == 0 ||
           strcmp(name, "scenario.yaml") == 0;
}

/* Walks the folder `path`, known as `folder` below the results ("" for themselves). The first thing
 * that is not ours goes to `why` and gives TL_E_REFUSED. */
static int look_through(const char *path, const char *folder, const json_t *summary, char *why,
                        size_t size)
{
    int status = TL_OK;
    DIR *d = opendir(path);
    if (!d) {
        tl_format(why, size, "%s cannot be read: %s", path, strerror(errno));
        return TL_E_IO;
    }
    const struct dirent *entry;
    while (status == TL_OK && (entry = readdir(d)) != NULL) {
        const char *name = entry->d_name;
        struct stat st;
        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
            continue;
        if (fstatat(dirfd(d), name, &st, AT_SYMLINK_NOFOLLOW) != 0 ||
            !is_ours(summary, folder, name, st.st_mode)) {
            tl_format(why, size, "%s holds %s, which is not towerloop's; it is left alone", path,
                      name);
            status = TL_E_REFUSED;
        } else if (S_ISDIR(st.st_mode)) {
            struct tl_text sub = {0};
            tl_text_addf(&sub, "%s/%s", path, name);
            status = sub.failed ? TL_E_MEMORY
                                : look_through(tl_text_string(&sub), name, summary, why, size);
            tl_text_free(&sub);
        }
    }
    closedir(d);
    return status;
}

/* The summary of earlier results at `place`, or NULL if there is none of ours. */
static json_t *read_summary(const char *place)
{
    char *path = join(place, "/summary.json");
    json_t *root = path ? json_load_file(path, 0, NULL) : NULL;
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

static bool is_empty(const char *path)
{
    DIR *d = opendir(path);
    bool empty = d != NULL;
    const struct dirent *entry;
    while (empty && (entry = readdir(d)) != NULL)
        empty = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
    if (d)
        closedir(d);
    return empty;
}

static int check_place(const char *place, bool force, char *why, size_t size)
{
    struct stat st;
    if (lstat(place, &st) != 0) {
        if (errno == ENOENT)
            return TL_OK;
        tl_format(why, size, "%s: %s", place, strerror(errno));
        return TL_E_IO;
    }
    if (!S_ISDIR(st.st_mode)) {
        tl_format(why, size, "%s is there already and is no folder; choose another with --out",
                  place);
        return TL_E_REFUSED;
    }
    if (is_empty(place))
        return TL_OK;
    if (!force) {
        tl_format(why, size,
                  "%s is there already; --force replaces earlier results, --out chooses another "
                  "folder",
                  place);
        return TL_E_REFUSED;
    }
    json_t *summary = read_summary(place);
    if (!summary) {
        tl_format(why, size, "%s has no summary.json of towerloop; it is left alone", place);
        return TL_E_REFUSED;
    }
    int status = look_through(place, "", summary, why, size);
    json_decref(summary);
    return status;
}

/* --- making, moving, deleting ----------------------------------------------------------------- */

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *at)
{
    (void)st;
    (void)kind;
    (void)at;
    remove(path);
    return 0;
}

static void remove_tree(const char *path)
{
    nftw(path, remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

/* A new folder "<place>.<word>-XXXXXX" with the permissions of any new folder. */
static char *make_beside(const char *place, const char *word)
{
    struct tl_text name = {0};
    tl_text_addf(&name, "%s.%s-XXXXXX", place, word);
    if (name.failed || !mkdtemp(name.data)) {
        int reason = name.failed ? ENOMEM : errno;
        tl_text_free(&name);
        errno = reason;
        return NULL;
    }
    mode_t mask = umask(0);
    umask(mask);
    chmod(name.data, 0777 & ~mask);
    return name.data;
}

/* Make the folders above `path` that are missing, and count them. */
static int make_parents(const char *path, int *made)
{
    char *copy = join(path, "");
    int status = copy ? TL_OK : TL_E_MEMORY;
    for (char *p = copy; status == TL_OK && (p = strchr(p + 1, '/')) != NULL;) {
        *p = '\0';
        if (mkdir(copy, 0777) == 0)
            (*made)++;
        else if (errno != EEXIST)
            status = TL_E_IO;
        *p = '/';
    }
    int reason = errno;
    free(copy);
    errno = reason;
    return status;
}

static void remove_parents(char *path, int made)
{
    for (; made > 0; made--) {
        char *slash = strrchr(path, '/');
        if (!slash)
            return;
        *slash = '\0';
        if (rmdir(path) != 0)
            return;
    }
}

int tl_run_folder_begin(struct tl_run_folder *f, const char *place, bool force, char *why,
                        size_t size)
{
    memset(f, 0, sizeof *f);
    f->place = join(place, "");
    if (!f->place)
        return TL_E_MEMORY;
    for (size_t n = strlen(f->place); n > 1 && f->place[n - 1] == '/'; n--)
        f->place[n - 1] = '\0';
    int status = check_place(f->place, force, why, size);
    if (status != TL_OK)
        return status;
    status = make_parents(f->place, &f->parents_made);
    if (status == TL_OK) {
        f->draft = make_beside(f->place, "draft");
        if (!f->draft)
            status = errno == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    }
    if (status == TL_E_IO)
        tl_format(why, size, "%s cannot be made: %s", f->place, strerror(errno));
    return status;
}

char *tl_run_folder_path(const struct tl_run_folder *f, const char *name)
{
    struct tl_text path = {0};
    tl_text_addf(&path, "%s/%s", f->draft, name);
    if (path.failed)
        tl_text_free(&path);
    return path.data;
}

int tl_run_folder_sub(const struct tl_run_folder *f, const char *name)
{
    char *path = tl_run_folder_path(f, name);
    if (!path)
        return TL_E_MEMORY;
    int failed = mkdir(path, 0777);
    free(path);
    return failed ? TL_E_IO : TL_OK;
}

int tl_run_folder_commit(struct tl_run_folder *f, bool force, char *why, size_t size)
{
    char *old = NULL;
    struct stat st;
    int status = check_place(f->place, force, why, size);
    if (status != TL_OK)
        return status;

    if (lstat(f->place, &st) == 0) { /* move it away first, so that it can come back */
        old = make_beside(f->place, "old");
        if (!old || rename(f->place, old) != 0)
            goto failed;
    }
    if (rename(f->draft, f->place) != 0)
        goto failed;
    free(f->draft);
    f->draft = NULL;
    if (old)
        remove_tree(old);
    free(old);
    return TL_OK;

failed:
    tl_format(why, size, "the results cannot be moved to %s: %s", f->place, strerror(errno));
    if (old && rename(old, f->place) != 0)
        rmdir(old); /* still the empty one that was made */
    free(old);
    return TL_E_IO;
}

void tl_run_folder_end(struct tl_run_folder *f)
{
    if (f->draft) {
        remove_tree(f->draft);
        remove_parents(f->place, f->parents_made);
    }
    free(f->place);
    free(f->draft);
    memset(f, 0, sizeof *f);
}
