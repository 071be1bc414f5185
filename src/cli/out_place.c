/* Where a command's results go. */
#include "out_place.h"

#include <string.h>

void tl_add_file_stem(struct tl_text *t, const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    const char *dot = strrchr(name, '.');
    tl_text_add_bytes(t, name, dot && dot != name ? (size_t)(dot - name) : strlen(name));
}

char *tl_out_place(const struct tl_options *o, const char *ending)
{
    struct tl_text place = {0};
    tl_text_add(&place, o->out ? o->out : "out/");
    if (!o->out) {
        tl_add_file_stem(&place, o->word[0]);
        tl_text_add(&place, ending);
    }
    if (place.failed)
        tl_text_free(&place);
    return place.data;
}
