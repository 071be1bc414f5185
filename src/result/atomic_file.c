/* Files are written under a temporary name and renamed when whole. */
#include "atomic_file.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/status.h"

static void release(struct tl_atomic_file *a)
{
    free(a->path);
    free(a->partial);
    memset(a, 0, sizeof *a);
}

int tl_atomic_open(struct tl_atomic_file *a, const char *path)
{
    static const char suffix[] = ".partial";
    size_t length = strlen(path);
    memset(a, 0, sizeof *a);
    a->path = malloc(length + 1);
    a->partial = malloc(length + sizeof suffix);
    if (!a->path || !a->partial) {
        release(a);
        return TL_E_MEMORY;
    }
    memcpy(a->path, path, length + 1);
    memcpy(a->partial, path, length);
    memcpy(a->partial + length, suffix, sizeof suffix);
    a->f = fopen(a->partial, "wbe");
    if (!a->f) {
        int why = errno;
        release(a);
        errno = why;
        return why == ENOMEM ? TL_E_MEMORY : TL_E_IO;
    }
    return TL_OK;
}

/* Why a write failed that was not the last one; `last` is what the last one that failed left. */
static int cause_of(int last)
{
    return last == ENOSPC || last == EDQUOT || last == EFBIG ? last : EIO;
}

int tl_atomic_commit(struct tl_atomic_file *a)
{
    const int before = errno;
    errno = 0;
    int failed = fflush(a->f) != 0 || ferror(a->f);
    failed |= fclose(a->f) != 0;
    a->f = NULL;
    if (!failed)
        failed = rename(a->partial, a->path) != 0;
    int why = errno;
    if (failed) {
        remove(a->partial);
        why = why ? why : cause_of(before);
    }
    release(a);
    errno = why;
    return failed ? TL_E_IO : TL_OK;
}

void tl_atomic_abort(struct tl_atomic_file *a)
{
    if (a->f) {
        fclose(a->f);
        remove(a->partial);
    }
    release(a);
}
