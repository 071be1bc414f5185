/* Finds a folder from where the program lies, so that an installed program never takes the files of a source
 * tree, nor a freshly built one those of an installation. */
#include "own_folder.h"

#include <stdio.h>
#include <string.h>

#include "posix.h"
#include "towerloop/status.h"

/* Takes the last part of a path off. */
static bool cut(char *path)
{
    char *slash = strrchr(path, '/');
    if (slash)
        *slash = '\0';
    return slash != NULL;
}

/* Installed as bin/towerloop, built as src/cli/towerloop. */
bool tl_own_folder(const char *installed, const char *built, const char *probe, char *path,
                   size_t size)
{
    const char *const places[] = {installed, built};
    char above[TL_PATH_SIZE], file[TL_PATH_SIZE + 128];

    if (!tl_posix_program(above, sizeof above) || !cut(above) || !cut(above))
        return false;
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        snprintf(file, sizeof file, "%s/%s/%s", above, places[i], probe);
        enum tl_posix_kind kind = TL_POSIX_NOTHING;
        if (tl_posix_look(file, &kind) == TL_OK && kind != TL_POSIX_NOTHING) {
            snprintf(path, size, "%s/%s", above, places[i]);
            return true;
        }
    }
    return false;
}
