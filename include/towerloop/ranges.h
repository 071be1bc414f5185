/* Watches whether a run leaves the range an equation was published for. Such a run never counts as
 * "within limits": the equation was still evaluated, but nobody has measured what it says there. */
#ifndef TOWERLOOP_RANGES_H
#define TOWERLOOP_RANGES_H

#include <stdbool.h>

#include "towerloop/model.h"

/* Fish suffer from bubbles of gas where all gases together pass their saturation by a tenth: US EPA 1986,
 * Quality Criteria for Water, 110 %. With the others at saturation, as a trickle tower leaves them, oxygen, 20.95 %
 * of the air, does that at 1 + 0.10/0.2095 = 1.477. The gases together are not in the model. Ponds pass it on
 * sunny afternoons without loss (Boyd et al. 1994, Aquacult. Eng. 13:31), so it is no danger, and counts after an
 * hour: judgement. */
#define TL_SUPERSATURATED_PCT 147
#define TL_SUPERSATURATED_D   (1.0 / 24)

/* id, what is bounded, unit, low, high, what depends on it, source */
#define TL_RANGE_LIST(X)                                                                           \
    X(TL_RANGE_O2_TEMPERATURE, "temperature", "degC", 0, 40, "oxygen saturation",                  \
      "Benson & Krause 1980")                                                                      \
    X(TL_RANGE_PRESSURE, "air pressure", "atm", 0.5, 1.1, "oxygen saturation",                     \
      "Benson & Krause 1984")                                                                      \
    X(TL_RANGE_SALINITY, "salinity", "g/kg", 0, 40, "oxygen saturation", "Benson & Krause 1984")   \
    X(TL_RANGE_EPA_TEMPERATURE, "temperature", "degC", 0, 30, "ammonia criteria", "US EPA 2013")   \
    X(TL_RANGE_EPA_PH, "pH", "", 6.5, 9.0, "ammonia criteria", "US EPA 2013")                      \
    X(TL_RANGE_FISH_TEMPERATURE, "temperature", "degC", 15, 30, "oxygen use of fish",              \
      "Yamanaka et al. 2013")                                                                      \
    X(TL_RANGE_LOAD, "hydraulic load", "m/h", 1.25, 40, "wetting of the tower",                    \
      "common practice and published extremes")                                                    \
    X(TL_RANGE_MEDIA_SIZE, "size of the media", "mm", 4, 50, "wetting of the tower",               \
      "Onda et al. 1968")                                                                          \
    X(TL_RANGE_MEDIA_SHAPE, "surface times size of the media", "", 2, 7, "wetting of the tower",   \
      "Onda et al. 1968")                                                                          \
    X(TL_RANGE_PONDING, "water in the voids of the media", "%", 0, 50, "air in the tower",         \
      "Saez & Carbonell 1985; half: judgement")                                                    \
    X(TL_RANGE_FORMALDEHYDE, "formaldehyde", "mg/L", 0, 120, "film killed by medicine",            \
      "Fredricks et al. 2018, Schwartz et al. 2000")                                               \
    X(TL_RANGE_PEROXIDE, "hydrogen peroxide", "mg/L", 0, 100, "film killed by medicine",           \
      "Schwartz et al. 2000")                                                                      \
    X(TL_RANGE_CHLORAMINE_T, "chloramine-T", "mg/L", 0, 24, "film killed by medicine",             \
      "Schwartz et al. 2000")                                                                      \
    X(TL_RANGE_SUPERSATURATION, "oxygen", "% of saturation", 0, TL_SUPERSATURATED_PCT,             \
      "no gas bubble disease", "from US EPA 1986")

enum tl_range_id {
#define TL_RANGE_ENUM(id, what, unit, lo, hi, use, source) id,
    TL_RANGE_LIST(TL_RANGE_ENUM)
#undef TL_RANGE_ENUM
        TL_NRANGE
};

struct tl_range_note {
    const char *what, *unit, *use, *source;
    double low, high;
    bool outside;   /* was it ever? the fields below only count then */
    double value;   /* furthest outside */
    double first_d; /* when it first was, days since day 0 */
};

struct tl_ranges {
    struct tl_range_note note[TL_NRANGE];
    double plan_area_m2; /* of a trickled tower; 0 where the media stand under water */
    double media_size_m, media_m2_m3, void_fraction;
    double may_pond_m_h; /* load at which freezing water, the slowest, fills half of the voids */
    double gas_from_d,
        gas_last_d; /* of the oxygen's time above TL_SUPERSATURATED_PCT; NAN: none yet */
    bool epa;       /* the EPA criteria are in use */
};

/* Nothing outside yet. `epa`: whether the verdict uses the EPA 2013 criteria (not overridden). */
void tl_ranges_init(struct tl_ranges *r, const struct tl_setup *setup, bool epa);
/* A sample, one each TL_VERDICT_PERIOD_D at the latest while oxygen with fish in is above
 * TL_SUPERSATURATED_PCT. */
void tl_ranges_add(struct tl_ranges *r, const struct tl_snapshot *s);
/* How many were ever outside. */
int tl_ranges_outside(const struct tl_ranges *r);

#endif
