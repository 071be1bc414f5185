/* A film on a wetted surface: rates per m2 from what it holds and the water over it. */
#ifndef TOWERLOOP_MODEL_FILM_H
#define TOWERLOOP_MODEL_FILM_H

#include "climate.h"
#include "process.h"

/* What the water over a film decides besides substrate: one value a zone. */
struct tl_film_switch {
    double a;    /* f_pH,A M_ALK */
    double n;    /* f_pH,N M_ALK I_FA */
    double kill; /* extra decay by chlorine, 1/d */
};

/* Substrates of the water at the film, g/m3. */
struct tl_film_water {
    double tan, no2, ss, o2;
};

/* Constants of the film that do not change with temperature. */
struct tl_film_model {
    struct tl_params p;
    struct tl_ph_bell bell_a, bell_n;
    struct tl_process_table table;
};

void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f);

/* The switches in water of this [H+] (mol/L), alkalinity, TAN and chlorine (g/m3). */
void tl_film_switch_at(const struct tl_film_model *f, const struct tl_climate *c, double h,
                       const double *water, struct tl_film_switch *out);

/* The largest growth rates (all substrates in plenty), gCOD/m2/d, and every other film rate, from
 * the film's content (gCOD/m2) and sloughing rate (1/d). `rate` gets the rows TL_DECAY_A ...
 * TL_SLOUGH_I; its growth rows are left alone. */
void tl_film_prepare(const struct tl_film_model *f, const struct tl_climate *c,
                     const struct tl_film_switch *sw, const double *film, double slough,
                     double *growth_max, double *rate);

/* Growth rates at the substrates, and (d != NULL) their derivatives d[guild][tan, no2, ss, o2]. */
void tl_film_growth(const struct tl_film_model *f, const double *growth_max,
                    const struct tl_film_water *w, double *growth, double d[3][4]);

/* All film rates at once. */
void tl_film_rates(const struct tl_film_model *f, const struct tl_climate *c,
                   const struct tl_film_switch *sw, const double *film, double slough,
                   const struct tl_film_water *w, double *rate);

#endif
