/* The table of media. A new kind is a new row; a scenario can override each value. */
#include "media.h"

#include <string.h>

/* clang-format off */
/* name, a, size, void, sigma_c, bulk density */
#define MEDIA_LIST(X)                                                                              \
    /* a, size, void: judgement (a 50-300); sigma_c: stone and ceramic, Onda et al. 1968 */        \
    /* bulk density: dry, from memory (scoria gravel, 600 to 1000) */                              \
    X("lava rock", 200, 0.03, 0.45, 0.061, 800)
/* clang-format on */

#define ROW(name, a, size, void_fraction, sigma_c, density)                                        \
    {name, a, size, void_fraction, sigma_c, density},
static const struct tl_media media[] = {MEDIA_LIST(ROW)};

#define NAME(name, a, size, void_fraction, sigma_c, density) name,
const char *const tl_media_names[] = {MEDIA_LIST(NAME) NULL};

const struct tl_media *tl_media_find(const char *name)
{
    for (size_t i = 0; i < sizeof media / sizeof *media; i++)
        if (strcmp(media[i].name, name) == 0)
            return &media[i];
    return NULL;
}
