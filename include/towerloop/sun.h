/* The sun as pure functions: where it stands, and what reaches the ground. */
#ifndef TOWERLOOP_SUN_H
#define TOWERLOOP_SUN_H

/* Declination in rad; `day_of_year` counts from 1 on 1 January and may have a fraction. Spencer's
 * series shortened to one term: FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), eq. 24. */
double tl_sun_declination_rad(double day_of_year);
/* Sine of the sun's height over the horizon, negative at night. `noon_d`: days since solar noon of
 * the day. Spherical astronomy. */
double tl_sun_sin_height(double latitude_deg, double declination_rad, double noon_d);
/* Sun and sky light on level ground, W/m2; `cloud` is the covered share of the sky, 0..1. Under a
 * clear sky Haurwitz 1945, J. Meteorol. 2:154, in the form of Reno, Hansen & Stein 2012,
 * SAND2012-2389; what clouds leave of it Kasten & Czeplak 1980, Solar Energy 24:177 (both from
 * memory). */
double tl_sun_w_m2(double sin_height, double cloud);

#endif
