/* The table of media. A new kind is a new row; a scenario can override each value. */
#include "media.h"

#include <string.h>

static const struct tl_media media[] = {
    /* name       a     size  void  sigma_c */
    {"lava rock", 200, 0.03, 0.45,
     0.061}, /* a, size, void: judgement (a 50-300); sigma_c: stone and
                                              ceramic, Onda, Takeuchi & Okumoto 1968 */
};

const struct tl_media *tl_media_table(size_t *n)
{
    *n = sizeof media / sizeof *media;
    return media;
}

const struct tl_media *tl_media_find(const char *name)
{
    for (size_t i = 0; i < sizeof media / sizeof *media; i++)
        if (strcmp(media[i].name, name) == 0)
            return &media[i];
    return NULL;
}
