/* Where results go: what lies there already, the folders above, paths below. */
#include "place.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "own_file.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

char *tl_place_new(const char *path)
{
    char *place = strdup(path);
    for (size_t n = place ? strlen(place) : 0; n > 1 && place[n - 1] == '/'; n--)
        place[n - 1] = '\0';
    return place;
}

char *tl_place_below(const char *folder, const char *name)
{
    struct tl_text path = {0};
    tl_text_addf(&path, "%s/%s", folder, name);
    if (path.failed)
        tl_text_free(&path);
    return path.data;
}

/* --- what lies there -------------------------------------------------------------------------- */

/* Stops at the first thing that is there. */
static int see_anything(void *arg, const char *name, enum tl_posix_kind kind)
{
    (void)arg;
    (void)name;
    (void)kind;
    return TL_E_REFUSED;
}

bool tl_place_is_empty(const char *folder)
{
    return tl_posix_list(folder, see_anything, NULL) == TL_OK;
}

int tl_place_look(const char *place, bool *vacant, char *why, size_t size)
{
    enum tl_posix_kind kind;
    *vacant = false;
    if (tl_posix_look(place, &kind) != TL_OK) {
        tl_format(why, size, "%s: %s", place, strerror(errno));
        return TL_E_IO;
    }
    if (kind != TL_POSIX_NOTHING && kind != TL_POSIX_FOLDER) {
        tl_format(why, size, "%s is there already and is no folder; choose another with --out",
                  place);
        return TL_E_REFUSED;
    }
    *vacant = kind == TL_POSIX_NOTHING || tl_place_is_empty(place);
    return TL_OK;
}

int tl_place_file(const char *path, bool force, bool known, char *why, size_t size)
{
    enum tl_posix_kind kind;
    bool own = false;
    int status = tl_posix_look(path, &kind);
    if (status == TL_OK && kind == TL_POSIX_NOTHING)
        return TL_OK;
    if (status == TL_OK && kind == TL_POSIX_FILE && !known)
        status = tl_own_file_look(path, &own);
    if (status != TL_OK)
        tl_format(why, size, "%s cannot be read: %s", path, strerror(errno));
    else if (kind != TL_POSIX_FILE)
        tl_format(why, size, "%s is no file, so it is left alone", path);
    else if (!known && !own)
        tl_format(why, size,
                  "%s is there already and bears no mark of towerloop, so it is left alone; move "
                  "it away, or choose another place (old versions of towerloop set no mark)",
                  path);
    else if (!force)
        tl_format(why, size, "%s is there already; --force replaces it", path);
    else
        return TL_OK;
    return status != TL_OK ? status : TL_E_REFUSED;
}

int tl_place_apart(const char *place, const char *const *file, char *why, size_t size)
{
    for (; *file; file++) {
        if (!tl_posix_lies_in(*file, place))
            continue;
        tl_format(
            why, size,
            "%s, which is to be read, lies in %s, which --force would replace; choose another "
            "folder with --out",
            *file, place);
        return TL_E_REFUSED;
    }
    return TL_OK;
}

/* "<stem>xxxxxx", as tl_posix_new_folder() names it. */
static bool is_made_from(const char *name, const char *stem)
{
    const size_t n = strlen(stem);
    return strncmp(name, stem, n) == 0 && strlen(name + n) == 6 && !strchr(name + n, '.');
}

/* Beside the pictures, or beside the report. */
bool tl_place_is_drawing(const char *name, enum tl_posix_kind kind)
{
    return kind == TL_POSIX_FOLDER &&
           (is_made_from(name, ".drawing-") || is_made_from(name, ".charts-"));
}

bool tl_place_is_beside(const char *name, const char *place_name, const char *stem)
{
    const size_t n = strlen(place_name);
    return strncmp(name, place_name, n) == 0 && is_made_from(name + n, stem);
}

char *tl_place_whole_name(const char *name)
{
    static const char partial[] = ".partial";
    const size_t n = strlen(name), tail = sizeof partial - 1;
    return strndup(name, n > tail && strcmp(name + n - tail, partial) == 0 ? n - tail : n);
}

bool tl_place_has_input(const json_t *json, const char *name)
{
    const json_t *inputs = json_object_get(json, "inputs");
    for (size_t i = 0; i < json_array_size(inputs); i++) {
        const char *input = json_string_value(json_array_get(inputs, i));
        if (input && strcmp(input, name) == 0)
            return true;
    }
    return false;
}

/* --- the folders above ------------------------------------------------------------------------ */

int tl_place_parents(const char *path, int *made)
{
    char *copy = strdup(path);
    int status = copy ? TL_OK : TL_E_MEMORY;
    for (char *p = copy; status == TL_OK && (p = strchr(p + 1, '/')) != NULL;) {
        bool new = false;
        *p = '\0';
        status = tl_posix_make_folder(copy, &new);
        *made += new;
        *p = '/';
    }
    int reason = errno;
    free(copy);
    errno = reason;
    return status;
}

void tl_place_no_parents(char *path, int made)
{
    for (; made > 0; made--) {
        char *slash = strrchr(path, '/');
        if (!slash)
            return;
        *slash = '\0';
        if (!tl_posix_remove_empty(path))
            return;
    }
}
