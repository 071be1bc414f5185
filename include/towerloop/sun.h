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
/* The same as a mean over many days of which only the mean cover is known: what clouds take rises
 * faster than the cover of the hour, so that the line above fed with a mean lets too much through.
 * Angstrom 1924 and Prescott 1940 in the form of FAO Irrigation and Drainage Paper 56, eq. 35:
 * 0.25 + 0.50 n/N of the sun above the air, against 0.75 of it on clear days (eq. 36); that the sun
 * shines for as much of the day as the sky is open is judgement. */
double tl_sun_mean_w_m2(double sin_height, double mean_cloud);

#endif
