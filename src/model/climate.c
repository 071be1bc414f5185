/* The climate of one loop, from its setup; what it is made of stands in climate.h. */
#include "climate.h"

#include <math.h>

void tl_ph_bell_make(double lo, double hi, struct tl_ph_bell *b)
{
    b->ten_hi = pow(10, -hi);
    b->ten_lo = pow(10, lo);
    b->scale = 1 + 2 * pow(10, 0.5 * (lo - hi));
}

double tl_o2_saturation_in(const struct tl_climate *c, const double *water)
{
    return lane_o2_saturation_in(c, water);
}

double tl_gut_rate(const struct tl_params *p, double t_degC)
{
    return lane_gut_rate(p, t_degC);
}

void tl_surroundings_make(const struct tl_setup *s, double pressure_atm,
                          struct tl_surroundings *out)
{
    const struct tl_source *src = &s->source;

    *out = (struct tl_surroundings){.pressure_atm = pressure_atm,
                                    .sunny = s->sun.given,
                                    .source_alk = src->water[TL_ALK],
                                    .source_tan = src->water[TL_TAN],
                                    .source_cl = src->water[TL_CL],
                                    .source_h = pow(10, -src->ph),
                                    .source_o2 = src->o2_given ? src->water[TL_O2] : NAN};
}

void tl_climate_at(const struct tl_setup *s, double pressure_atm, double t_degC,
                   struct tl_climate *out)
{
    struct tl_surroundings around;

    tl_surroundings_make(s, pressure_atm, &around);
    lane_climate_at(&s->params, &around, t_degC, out);
}
