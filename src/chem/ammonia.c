/* The un-ionised shares of ammonia and nitrous acid. */
#include "towerloop/chem.h"

#include <math.h>

#include "water_kernel.h"

#define KELVIN 273.15

double tl_ammonia_pka(double t_degC)
{
    return lane_ammonia_pka(t_degC);
}

/* Same source, pH 6-10: f = 1/(1 + 10^(pKa - pH)). */
double tl_nh3_fraction(double t_degC, double ph)
{
    return 1.0 / (1.0 + pow(10.0, tl_ammonia_pka(t_degC) - ph));
}

/* Anthonisen et al. 1976, J. Water Pollut. Control Fed. 48:835, from memory:
 *     HNO2-N = NO2-N/(Ka 10^pH), Ka = exp(-2300/T), T in K.
 * The 1 in the sum keeps the acid below the whole in very acid water; above pH 6 it changes the
 * result by less than 0.4 %. No range is given; nitrification plants, about 5-30 degC. */
double tl_hno2(double t_degC, double ph, double no2_gN_m3)
{
    return no2_gN_m3 / (1.0 + exp(-2300.0 / (t_degC + KELVIN)) * pow(10.0, ph));
}
