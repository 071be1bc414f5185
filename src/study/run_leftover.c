/* What runs that were killed have left beside the place of their results. */
#include "run_leftover.h"

#include <stdlib.h>
#include <string.h>

#include "place.h"
#include "posix.h"
#include "text.h"
#include "towerloop/status.h"

struct look {
    char *before; /* the name, up to the last slash */
    const char *name;
    void (*see)(void *arg, const char *path, bool old);
    void *arg;
};

static int look_at(void *arg, const char *name, enum tl_posix_kind kind)
{
    const struct look *l = arg;
    const bool old = tl_place_is_beside(name, l->name, ".old-");
    if (kind != TL_POSIX_FOLDER || (!old && !tl_place_is_beside(name, l->name, ".draft-")))
        return TL_OK;
    struct tl_text path = {0};
    int kept, status;
    tl_text_addf(&path, "%s%s", l->before, name);
    status = path.failed ? TL_E_MEMORY : tl_posix_keep_folder(path.data, &kept);
    if (status == TL_OK) { /* else a run is at work in it */
        tl_posix_let_go(kept);
        if (!tl_place_is_empty(path.data)) /* or is just beginning */
            l->see(l->arg, path.data, old);
    }
    tl_text_free(&path);
    return status == TL_E_MEMORY ? TL_E_MEMORY : TL_OK;
}

int tl_run_leftovers(const char *place, void (*see)(void *arg, const char *path, bool old),
                     void *arg)
{
    const char *slash = strrchr(place, '/');
    const char *name = slash ? slash + 1 : place;
    struct look l = {
        .before = strndup(place, (size_t)(name - place)), .name = name, .see = see, .arg = arg};
    int status = l.before ? tl_posix_list(*l.before ? l.before : ".", look_at, &l) : TL_E_MEMORY;
    free(l.before);
    return status == TL_E_IO ? TL_OK : status;
}
