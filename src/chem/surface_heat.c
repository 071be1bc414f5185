/* What an open water surface exchanges with air and sky. */
#include "towerloop/heat.h"

#include <math.h>

#define STEFAN_BOLTZMANN 5.670374e-8
#define KELVIN           273.15
#define BOWEN_PA_K       61.0 /* 0.61 mb per degC at the pressure below */
#define BOWEN_AT_PA      1e5

/* The coefficients are brought over from British units: 1 Btu/(h ft2) is 3.154591 W/m2, 1 inHg is
 * 3386.39 Pa, 1 mph is 0.44704 m/s. */
double tl_evaporation_w_m2_pa(double wind_m_s)
{
    return (69.4 + 30.8 * wind_m_s / 0.44704) * (3.154591 / 3386.39);
}

double tl_convection_w_m2_k(double evaporation_w_m2_pa, double pressure_pa)
{
    return evaporation_w_m2_pa * BOWEN_PA_K * pressure_pa / BOWEN_AT_PA;
}

/* The power law goes to nothing in dry air, which still has carbon dioxide: Prata 1996 (Q J R Meteorol Soc
 * 122:1127-1151, from memory) comes to 1 - exp(-sqrt(1.2)) = 0.67 there. Bounded below that, where the law
 * is of use in hard frost. */
#define DRIEST_SKY 0.55

double tl_sky_emissivity(double air_degC, double vapour_pa, double cloud)
{
    const double law = 1.24 * pow(vapour_pa / 100 / (air_degC + KELVIN), 1.0 / 7);
    const double clear = fmax(DRIEST_SKY, law);
    return fmin(1, clear * (1 + 0.17 * cloud * cloud));
}

double tl_black_body_w_m2(double t_degC)
{
    const double k = t_degC + KELVIN;
    return STEFAN_BOLTZMANN * k * k * k * k;
}
