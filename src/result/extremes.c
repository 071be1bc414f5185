/* Keeps the lowest and the highest. */
#include "towerloop/extremes.h"

#include <math.h>

#include "towerloop/chem.h"

void tl_extremes_init(struct tl_extremes *e)
{
    for (int i = 0; i < TL_NEXTREME; i++)
        e->of[i] = (struct tl_extreme){NAN, NAN, NAN, NAN};
}

static void see(struct tl_extreme *x, double t_d, double value)
{
    if (!(value >= x->lowest)) {
        x->lowest = value;
        x->lowest_d = t_d;
    }
    if (!(value <= x->highest)) {
        x->highest = value;
        x->highest_d = t_d;
    }
}

void tl_extremes_add(struct tl_extremes *e, double t_d, const double water[TL_NWATER], double ph)
{
    see(&e->of[TL_EXTREME_TAN], t_d, water[TL_TAN]);
    see(&e->of[TL_EXTREME_NO2], t_d, water[TL_NO2]);
    see(&e->of[TL_EXTREME_NO3], t_d, water[TL_NO3]);
    see(&e->of[TL_EXTREME_O2], t_d, water[TL_O2]);
    see(&e->of[TL_EXTREME_PH], t_d, ph);
    see(&e->of[TL_EXTREME_ALK], t_d, water[TL_ALK] * TL_CACO3_G_PER_EQ);
    see(&e->of[TL_EXTREME_CHLORINE], t_d, water[TL_HOCL]);
}
