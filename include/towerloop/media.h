/* Media a tower can be filled with, by name: generic kinds, none of them one product. A scenario can
 * override each figure by its own key. No price: that is an input (costs.media). */
#ifndef TOWERLOOP_MEDIA_H
#define TOWERLOOP_MEDIA_H

#include <stddef.h>

/* field, what it is, its key */
#define TL_MEDIA_FIGURE_LIST(X)                                                                    \
    X(SURFACE, "specific surface", "tower.specific surface")                                       \
    X(SIZE, "nominal size of a piece", "tower.media size")                                         \
    X(VOIDS, "share of the bed between the pieces", "tower.void")                                  \
    X(SIGMA, "critical surface tension of the material", "tower.critical surface tension")         \
    X(DENSITY, "mass of the dry bed by volume", "building.bulk density")                           \
    X(HELD, "water held while it runs, share of the bed", "building.water held")

enum tl_media_figure {
#define TL_MEDIA_ENUM(id, what, key) TL_MEDIA_##id,
    TL_MEDIA_FIGURE_LIST(TL_MEDIA_ENUM)
#undef TL_MEDIA_ENUM
        TL_NMEDIA_FIGURE
};

/* How a piece fills space, for the geometry that the figures must agree with. */
enum tl_media_shape {
    TL_MEDIA_SOLID,  /* stones: surface = 6 (1 - voids)/(sphericity x size) */
    TL_MEDIA_WALLED, /* rings, saddles, chips: surface = 2 (1 - voids)/wall */
    TL_MEDIA_THREAD  /* netting: surface = 4 (1 - voids)/thread */
};

struct tl_media {
    const char *name;
    const char *what;               /* a line for people: what it is and what to mind */
    double value[TL_NMEDIA_FIGURE]; /* m2/m3, m, 0..1, N/m, kg/m3, 0..1 */
    const char *status[TL_NMEDIA_FIGURE];
    enum tl_media_shape shape;
};

/* The names of the rows, closed by NULL. */
extern const char *const tl_media_names[];
/* The row called `name`, or NULL. */
const struct tl_media *tl_media_find(const char *name);
/* The i-th row, in the order of the names. */
const struct tl_media *tl_media_at(size_t i);
size_t tl_media_count(void);
/* What a figure is, and the key that overrides it. */
const char *tl_media_figure_what(enum tl_media_figure figure);
const char *tl_media_figure_key(enum tl_media_figure figure);

#endif
