/* What a reader of results wants and the state does not hold. */
#ifndef TL_DERIVED_H
#define TL_DERIVED_H

#define TL_CO2_G_PER_MOL 44.01

#define TL_SALINITY_PER_CHLORIDE_G 1.80655e-3 /* g/kg per g/m3 of chloride */

/* Salinity of sea water holding this much chloride (g/m3): 1.80655 x chlorinity, g/kg. The loop's
 * oxygen saturation uses the same. */
static inline double tl_salinity_g_kg(double chloride_g_m3)
{
    return TL_SALINITY_PER_CHLORIDE_G * chloride_g_m3;
}

#endif
