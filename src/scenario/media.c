/* The table of media. A new kind is a new row; a scenario can override each value.
 *
 * Status: published (seen in a transcription of the named publication), memory (named, not checked),
 * judgement, common practice. Critical surface tensions as the handbooks give them with Onda's formula:
 * ceramic 61, polyethylene 33 mN/m (from memory; Onda, Takeuchi & Okumoto 1968). */
#include "towerloop/media.h"

#include <string.h>

#define P "published"
#define M "memory"
#define J "judgement"

/* clang-format off */
/* name, shape, surface m2/m3, size m, voids, sigma_c N/m, dry kg/m3, water held: value and status */
#define MEDIA_LIST(X)                                                                              \
    /* surface 50 to 300 by size and roughness; scoria gravel weighs 600 to 1000 */                \
    X("lava rock", SOLID, 200, J, 0.03, J, 0.45, J, 0.061, M, 800, M, 0.20, J,                     \
      "broken lava of about 30 mm, rinsed; rough and full of pores")                               \
    /* surface of the same shape at a smaller size */                                              \
    X("fine lava rock", SOLID, 500, J, 0.012, J, 0.45, J, 0.061, M, 800, M, 0.25, J,               \
      "broken lava of about 12 mm; clogs sooner and wants more water")                             \
    /* little more than spheres of that size: stones lie flat on each other */                     \
    X("gravel", SOLID, 150, J, 0.025, J, 0.40, M, 0.061, M, 1550, M, 0.08, J,                      \
      "rounded river gravel of about 25 mm; heavy")                                                \
    /* voids: spheres of 13 and 25 mm, 0.40 and 0.43 (Billet); sold with 250 to 510 kg/m3 */       \
    X("expanded clay", SOLID, 230, J, 0.015, J, 0.43, P, 0.061, M, 350, P, 0.25, J,                \
      "burnt clay balls of 10 to 20 mm; dry ones float: hold them down")                           \
    /* strips of 1 mm: 2 (1 - voids)/thickness; polyethylene of 950 kg/m3 */                       \
    X("cut plastic", WALLED, 300, J, 0.02, J, 0.85, J, 0.033, M, 140, J, 0.08, J,                  \
      "loose strips and offcuts of clean plastic; floats: hold it down")                           \
    /* slotted rings of 50 mm, Billet & Schultes 1999; polypropylene of 905 kg/m3 */               \
    X("plastic rings", WALLED, 111, M, 0.05, M, 0.919, M, 0.033, M, 73, J, 0.06, J,                \
      "slotted rings of 50 mm, poured in; light and wide open")                                    \
    /* Berl saddles of 25 mm, Billet */                                                            \
    X("ceramic saddles", WALLED, 260, P, 0.025, P, 0.68, P, 0.061, M, 720, M, 0.10, J,             \
      "saddles of 25 mm, poured in; what the wetting formula was made for")                        \
    /* a roll of 50 mm: far from the pieces of Onda's formula, which the run says */                      \
    X("plastic netting", THREAD, 200, J, 0.05, J, 0.93, J, 0.033, M, 65, J, 0.06, J,               \
      "knitted or woven net in rolls; its wetting is a guess")
/* clang-format on */

#define ROW(name_, shape_, a, sa, d, sd, e, se, c, sc, m, sm, h, sh, what_)                        \
    {.name = name_,                                                                                \
     .what = what_,                                                                                \
     .value = {a, d, e, c, m, h},                                                                  \
     .status = {sa, sd, se, sc, sm, sh},                                                           \
     .shape = TL_MEDIA_##shape_},
static const struct tl_media media[] = {MEDIA_LIST(ROW)};

#define NAME(name, ...) name,
const char *const tl_media_names[] = {MEDIA_LIST(NAME) NULL};

static const struct {
    const char *what, *key;
} figure_row[TL_NMEDIA_FIGURE] = {
#define FIGURE(id, what, key) [TL_MEDIA_##id] = {what, key},
    TL_MEDIA_FIGURE_LIST(FIGURE)
#undef FIGURE
};

const struct tl_media *tl_media_find(const char *name)
{
    for (size_t i = 0; i < tl_media_count(); i++)
        if (strcmp(media[i].name, name) == 0)
            return &media[i];
    return NULL;
}

const struct tl_media *tl_media_at(size_t i)
{
    return &media[i];
}

size_t tl_media_count(void)
{
    return sizeof media / sizeof *media;
}

const char *tl_media_figure_what(enum tl_media_figure figure)
{
    return figure_row[figure].what;
}

const char *tl_media_figure_key(enum tl_media_figure figure)
{
    return figure_row[figure].key;
}
