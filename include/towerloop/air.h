/* Moist air as pure functions. Vapour pressure is over water, below 0 degC over undercooled water, as
 * meteorology counts relative humidity. Temperatures degC, pressures Pa, enthalpy J per kg of dry air
 * counted from dry air and liquid water at 0 degC, humidity ratio kg of vapour per kg of dry air. */
#ifndef TOWERLOOP_AIR_H
#define TOWERLOOP_AIR_H

/* Of water, -40 to 50 degC. Buck 1996, improving on Buck 1981, J. Appl. Meteorol. 20:1527. */
double tl_vapour_pressure_pa(double t_degC);
/* Perfect gases; ASHRAE Handbook of Fundamentals 2017, chapter 1, eq. 20. */
double tl_humidity_ratio(double vapour_pa, double pressure_pa);
/* The same, eq. 30. */
double tl_air_enthalpy_j_kg(double t_degC, double humidity_ratio);
/* Moist air, kg of it per m3; the same, eqs. 9 and 26. */
double tl_air_density_kg_m3(double t_degC, double humidity_ratio, double pressure_pa);
/* Heat that takes 1 kg of water at `t_degC` into vapour; 0 to 60 degC, the same, eq. 33. */
double tl_latent_heat_j_kg(double t_degC);
/* What a wet surface cools down to in a wind; the same, eq. 33, solved to 1e-6 degC. `humidity` is a
 * share, 0..1; below 0 degC the surface is undercooled water. */
double tl_wet_bulb_degC(double t_degC, double humidity, double pressure_pa);

#endif
