/* What a reader of results wants and the state does not hold. */
#ifndef TL_DERIVED_H
#define TL_DERIVED_H

#define TL_CO2_G_PER_MOL 44.01

/* Salinity of sea water holding this much chloride (g/m3): 1.80655 x chlorinity, g/kg. The loop's
 * oxygen saturation uses the same. */
static inline double tl_salinity_g_kg(double chloride_g_m3)
{
    return 1.80655e-3 * chloride_g_m3;
}

#endif
