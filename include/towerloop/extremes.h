/* The lowest and the highest the tank's water came to while its animals were in, sample by sample.
 *
 * The verdict's `worst` is a mean over the limit's window, and where the limit moves with the water it
 * is the mean that came nearest to its limit, not the highest. These are plain extremes of what is read
 * off the water itself. Un-ionised ammonia and carbon dioxide have limits that stay; the verdict's
 * `worst` is their highest mean of an hour. */
#ifndef TOWERLOOP_EXTREMES_H
#define TOWERLOOP_EXTREMES_H

#include "towerloop/component.h"

/* id, name, unit */
#define TL_EXTREME_LIST(X)                                                                         \
    X(TL_EXTREME_TAN, "total ammonia", "mg/L as N")                                                \
    X(TL_EXTREME_NO2, "nitrite", "mg/L as N")                                                      \
    X(TL_EXTREME_NO3, "nitrate", "mg/L as N")                                                      \
    X(TL_EXTREME_O2, "oxygen", "mg/L")                                                             \
    X(TL_EXTREME_PH, "pH", "")                                                                     \
    X(TL_EXTREME_ALK, "alkalinity", "mg/L as CaCO3")                                               \
    X(TL_EXTREME_CHLORINE, "chlorine", "mg/L")

enum tl_extreme_id {
#define TL_EXTREME_ENUM(id, name, unit) id,
    TL_EXTREME_LIST(TL_EXTREME_ENUM)
#undef TL_EXTREME_ENUM
        TL_NEXTREME
};

struct tl_extremes {
    struct tl_extreme {                              /* NAN before the first sample */
        double lowest, lowest_d, highest, highest_d; /* in the unit of the list; days since day 0 */
    } of[TL_NEXTREME];
};

void tl_extremes_init(struct tl_extremes *e);
/* A sample of the tank, with animals in it. */
void tl_extremes_add(struct tl_extremes *e, double t_d, const double water[TL_NWATER], double ph);

#endif
