/* A finished page as a file. */
#include "page_file.h"

#include <errno.h>
#include <string.h>

#include "atomic_file.h"
#include "towerloop/status.h"

int tl_page_file_write(const struct tl_html *h, const char *path, char *why, size_t size)
{
    struct tl_atomic_file file;
    if (!tl_html_whole(h))
        return TL_E_MEMORY;
    int status = tl_atomic_open(&file, path);
    if (status == TL_OK) {
        fwrite(h->out.data, 1, h->out.length, file.f);
        status = tl_atomic_commit(&file);
    }
    if (status == TL_E_IO)
        tl_format(why, size, "%s cannot be written: %s", path, strerror(errno));
    return status;
}
