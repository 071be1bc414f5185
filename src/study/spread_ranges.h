/* Built-in ranges of what is uncertain, where a scenario has no list of its own. */
#ifndef TL_STUDY_SPREAD_RANGES_H
#define TL_STUDY_SPREAD_RANGES_H

/* What a range is for. */
enum tl_spread_where {
    TL_SPREAD_ALL,
    TL_SPREAD_FISH,     /* with fish */
    TL_SPREAD_READINGS, /* the water's temperature is a file */
    TL_SPREAD_FLOW,     /* the pump's flow is given, not its curve */
    TL_SPREAD_NEW,      /* films begin new */
    TL_SPREAD_GROWN     /* films begin seeded or mature */
};

/* key, nature, where, kind, a, b, status, source, a keeper's words for more of it. Base units, by kind:
 *   TRIANGULAR  least and greatest; likeliest is the scenario's own value, and it widens the range where
 *               it lies outside
 *   LOGNORMAL   factor; the median is the scenario's own value
 *   NORMAL      standard deviation; the mean is the scenario's own value
 * Growth rates were published up to 2.1 1/d. Above the default they reach no further than below it: a
 * filter better than the default is not to be counted on. No more than 20 rows apply to any one scenario,
 * so that indices of all of them can be had from 40 dimensions. */
/* clang-format off */
#define TL_SPREAD_LIST(X)                                                                          \
    X("parameters.mu_aob", PARAMETER, ALL, TRIANGULAR, 0.5, 1.2, "published", "Sin et al. 2008, from 0.5 1/d; up to 1.2 1/d of their 2.1: as far above the default as below", "how fast ammonia-eating bacteria grow") \
    X("parameters.b_aob", PARAMETER, ALL, TRIANGULAR, 0.07, 0.30, "published", "Sin et al. 2008", "how fast ammonia-eating bacteria die off") \
    X("parameters.ko2_aob", PARAMETER, ALL, TRIANGULAR, 0.1, 1.45, "published", "Sin et al. 2008", "how much oxygen ammonia-eating bacteria need") \
    X("parameters.k_tan", PARAMETER, ALL, TRIANGULAR, 0.14, 1.93, "published", "Sin et al. 2008, from 0.14 mg/L; Zhu & Chen 1999, 1.93 mg/L in a film", "the ammonia at which its bacteria work at half speed") \
    X("parameters.mu_nob", PARAMETER, ALL, TRIANGULAR, 0.4, 1.05, "published", "Sin et al. 2008", "how fast nitrite-eating bacteria grow") \
    X("parameters.b_nob", PARAMETER, ALL, TRIANGULAR, 0.08, 0.20, "published", "Sin et al. 2008", "how fast nitrite-eating bacteria die off") \
    X("parameters.ko2_nob", PARAMETER, ALL, TRIANGULAR, 0.3, 1.5, "published", "Sin et al. 2008", "how much oxygen nitrite-eating bacteria need") \
    X("parameters.k_no2", PARAMETER, ALL, TRIANGULAR, 0.1, 3, "published", "Sin et al. 2008", "the nitrite at which its bacteria work at half speed") \
    X("parameters.n_feed", PARAMETER, FISH, TRIANGULAR, 0.085, 0.109, "published", "Kajimura et al. 2004: 53 to 68 % of the nitrogen as ammonia, of 0.16 gN/g protein; trout", "how much ammonia the fish make of their feed") \
    X("parameters.n_basal", PARAMETER, FISH, TRIANGULAR, 0.05, 0.16, "judgement", "from the nitrogen that maintenance takes and the oxygen used at rest", "how much ammonia unfed fish give off") \
    X("parameters.o2_activity", PARAMETER, FISH, LOGNORMAL, 1.2, 0, "judgement", "how lively the fish are", "how lively the fish are") \
    X("parameters.k_surface", PARAMETER, ALL, TRIANGULAR, 0.04, 1.2, "judgement", "without wind 0.04 m/d (Crusius & Wanninkhof 2003) to 0.5 m/d (Cole & Caraco 1998); the pump stirs", "how well the pond's surface takes up oxygen") \
    X("tower.specific surface", PARAMETER, ALL, LOGNORMAL, 1.4, 0, "judgement", "what of the media is wetted and has film", "how much surface the media give the film") \
    X("parameters.l_aob", PARAMETER, ALL, LOGNORMAL, 1.3, 0, "judgement", "how deep the film works", "how deep in the film ammonia-eating bacteria work") \
    X("parameters.new_aob", PARAMETER, NEW, LOGNORMAL, 3, 0, "judgement", "what new media begin with", "how many ammonia-eating bacteria on new media") \
    X("parameters.new_nob", PARAMETER, NEW, LOGNORMAL, 3, 0, "judgement", "what new media begin with", "how many nitrite-eating bacteria on new media") \
    X("parameters.mature_aob", PARAMETER, GROWN, LOGNORMAL, 1.4, 0, "judgement", "what the film begins with", "how many ammonia-eating bacteria at the start") \
    X("parameters.mature_nob", PARAMETER, GROWN, LOGNORMAL, 1.4, 0, "judgement", "what the film begins with", "how many nitrite-eating bacteria at the start") \
    X("pump.flow", HAPPENS, FLOW, LOGNORMAL, 1.1, 0, "judgement", "flows are mostly read off the pump, not measured", "how much water the pump moves") \
    X("temperature", HAPPENS, ALL, NORMAL, 1, 0, "judgement", "thermometers, and years, differ", "how warm the water is") \
    X("temperature.mean", HAPPENS, ALL, NORMAL, 1, 0, "judgement", "years differ", "how warm the water is over the year") \
    X("temperature.warmer", HAPPENS, READINGS, NORMAL, 0.5, 0, "judgement", "thermometers, and where they hang", "how warm the water is") \
    X("weather.warmer", HAPPENS, ALL, NORMAL, 1.5, 0, "judgement", "years differ", "how warm the air is") \
    X("feeding.appetite", HAPPENS, FISH, LOGNORMAL, 1.15, 0, "judgement", "hands and appetites differ", "how much the fish are fed") \
    X("source water.alkalinity", HAPPENS, ALL, LOGNORMAL, 1.15, 0, "judgement", "tap water changes with the season", "the alkalinity of the tap water")
/* clang-format on */

#endif
