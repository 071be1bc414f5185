/* Samples after water is changed, baking soda is added, or carbon dioxide comes and goes. Each wants
 * temperature and pH; alkalinity too where the pH has to be worked out. */
#ifndef TL_SAMPLE_MIX_H
#define TL_SAMPLE_MIX_H

#include "towerloop/sample.h"

/* `share` of the pond replaced by source water. Alkalinity, inorganic carbon and what is dissolved
 * mix; oxygen is left as it was. Where the carbonate balance of either water is not known, the
 * alkalinity is not known either, and the pH is the higher of the two: it lies between them. */
void tl_mix_source(const struct tl_sample *pond, const struct tl_sample *source, double share,
                   struct tl_sample *out);
/* eq/m3 of baking soda. False, and *out as the pond, without a carbonate balance. */
bool tl_mix_soda(const struct tl_sample *pond, double soda_eq_m3, struct tl_sample *out);
/* The same water at this temperature, once it holds this much carbon dioxide. False without
 * alkalinity: then the pH stays. */
bool tl_mix_settle(const struct tl_sample *water, double temperature_degC, double co2_mol_m3,
                   struct tl_sample *out);

#endif
