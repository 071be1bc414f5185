/* A film under water that is held constant, as in a laboratory: for checks on the film alone. */
#ifndef TOWERLOOP_TESTS_OUTSIDE_STILL_FILM_H
#define TOWERLOOP_TESTS_OUTSIDE_STILL_FILM_H

#include "film.h"

struct still_water {
    double t_degC;
    double tan, no2, ss; /* g/m3 */
    double o2;           /* g/m3; NAN: saturated */
    double alk_mg_l;     /* as CaCO3 */
    double ph;
};

/* Clean water of an areal law: oxygen saturated, 3 eq/m3 of alkalinity, pH 7.8. */
struct still_water still_clean(double t_degC, double tan);

struct still_film {
    struct tl_film_model model;
    struct tl_climate climate;
    struct tl_film_switch sw;
    struct tl_film_water water;
    double film[TL_NFILM]; /* gCOD/m2 */
};

/* A mature or a new film; put under water with still_pour(). */
void still_start(struct still_film *f, bool mature);
void still_pour(struct still_film *f, const struct still_water *w);
/* Lets it grow for some days; 0 or -1. */
int still_grow(struct still_film *f, double days);

/* Ammonia and nitrite oxidised, gN/m2/d. */
double still_ammonia_rate(const struct still_film *f);
double still_nitrite_rate(const struct still_film *f);

/* Ammonia oxidised by a film that has come to rest (600 d) under this water, or NAN. */
double still_steady_rate(const struct still_water *w);

#endif
