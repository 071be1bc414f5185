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

double tl_sun_w_m2(double sin_height, double cloud)
{
    if (!(sin_height > 0))
        return 0;
    const double clear = 1098 * sin_height * exp(-0.059 / sin_height);
    return clear * (1 - 0.75 * pow(cloud, 3.4));
}
