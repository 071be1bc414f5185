/* Heat and vapour between water and air as pure functions: an open surface, and a bed over which water
 * trickles. SI: W, m2, kg/s, Pa; temperatures degC. */
#ifndef TOWERLOOP_HEAT_H
#define TOWERLOOP_HEAT_H

/* --- open water ------------------------------------------------------------------------------- */

/* Evaporation of quiet open water as heat per area and difference of vapour pressure, W/(m2 Pa), at a
 * wind over the water of `wind_m_s`. Smith, Lof & Jones 1994, Solar Energy 53:3: 69.4 + 30.8 v in
 * Btu/(h ft2 inHg) and mph (from memory), fitted outdoors up to 2.2 m/s. */
double tl_evaporation_w_m2_pa(double wind_m_s);
/* What goes with it as sensible heat, W/(m2 K). Bowen 1926, Phys. Rev. 27:779. */
double tl_convection_w_m2_k(double evaporation_w_m2_pa, double pressure_pa);
/* Of the sky, 0..1: Brutsaert 1975, Water Resour. Res. 11:742, for a clear one, and the cloud factor
 * of the Tennessee Valley Authority 1972 (from memory). `cloud`: covered share of the sky. */
double tl_sky_emissivity(double air_degC, double vapour_pa, double cloud);
/* Of a black body, W/m2. */
double tl_black_body_w_m2(double t_degC);

/* --- a trickled bed --------------------------------------------------------------------------- */

struct tl_moist_air {
    double t_degC;
    double humidity_ratio;
    double pressure_pa;
};

/* Gas film of a packing, m/s for water vapour: Onda, Takeuchi & Okumoto 1968, J. Chem. Eng. Japan
 * 1:56 (from memory), fitted at 0.014 to 1.7 kg/m2/s of gas. `air_m_s` is the air's velocity over the
 * empty cross-section. */
double tl_onda_gas_m_s(double area_m2_m3, double size_m, double air_m_s,
                       const struct tl_moist_air *air);

struct tl_bed {      /* one layer of media and the air that crosses it */
    double air_kg_s; /* dry air */
    double
        film_kg_s; /* gas film x wetted area x density of the air: film_kg_s/air_kg_s is the NTU */
};
struct tl_bed_heat {
    double heat_w;      /* enthalpy the air takes from the water; below 0 it warms the water */
    double vapour_kg_s; /* of it as vapour */
};
/* Air of one state crosses a bed over which `water_kg_s` trickle. Merkel 1925 with the Lewis relation:
 * enthalpy is what drives. The air takes 1 - exp(-NTU) of what would saturate it, and the water's
 * cooling on its way is taken at a constant slope of the saturation curve, so that it never falls
 * below the wet bulb. Water below 0 degC counts as 0, above 60 as 60. */
struct tl_bed_heat tl_bed_cool(const struct tl_bed *bed, double water_kg_s, double water_degC,
                               const struct tl_moist_air *air);

#endif
