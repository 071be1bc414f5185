/* Where the sun stands, and what of it reaches the ground. */
#include "towerloop/sun.h"

#include <math.h>

#define PI 3.14159265358979323846

double tl_sun_declination_rad(double day_of_year)
{
    return 0.409 * sin(2 * PI * day_of_year / 365 - 1.39);
}

double tl_sun_sin_height(double latitude_deg, double declination_rad, double noon_d)
{
    const double latitude = latitude_deg * PI / 180;
    return sin(latitude) * sin(declination_rad) +
           cos(latitude) * cos(declination_rad) * cos(2 * PI * noon_d);
}

static double clear_w_m2(double sin_height)
{
    return sin_height > 0 ? 1098 * sin_height * exp(-0.059 / sin_height) : 0;
}

double tl_sun_w_m2(double sin_height, double cloud)
{
    return clear_w_m2(sin_height) * (1 - 0.75 * pow(cloud, 3.4));
}

double tl_sun_mean_w_m2(double sin_height, double mean_cloud)
{
    return clear_w_m2(sin_height) * (0.25 + 0.50 * (1 - mean_cloud)) / 0.75;
}
