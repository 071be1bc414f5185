/* A file of the folder, shown as it is. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"
#include "place.h"
#include "text.h"
#include "towerloop/status.h"

#define LARGEST ((size_t)1 << 20) /* as the reader takes them */

int tl_part_file(struct tl_html *h, const char *folder, const char *name, char *why, size_t size)
{
    char *path = tl_place_below(folder, name);
    char *text = NULL;
    size_t length = 0;
    int status = path ? tl_read_plain_file(path, LARGEST, &text, &length) : TL_E_MEMORY;
    if (status != TL_OK && status != TL_E_MEMORY)
        tl_format(why, size, "%s cannot be read: %s", path,
                  status == TL_E_IO ? strerror(errno) : tl_status_text(status));
    if (status == TL_OK) {
        tl_html_open(h, "details");
        tl_html_open(h, "summary");
        tl_html_text(h, "Show ");
        tl_html_element(h, "bdi", name);
        tl_html_close(h);
        tl_html_open(h, "pre");
        tl_html_attribute(h, "dir", "ltr");
        tl_html_open(h, "code");
        tl_html_bytes(h, text, length);
        tl_html_close(h);
        tl_html_close(h);
        tl_html_close(h);
    }
    free(text);
    free(path);
    return status;
}
