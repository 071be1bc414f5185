/* What became of the film after it was knocked out: how much died, when it was back, how far ammonia and
 * nitrite rose.
 *
 * Shocks that come before the ammonia oxidisers are back are one story: a treatment of four days is four
 * doses of one. */
#ifndef TOWERLOOP_SHOCK_WATCH_H
#define TOWERLOOP_SHOCK_WATCH_H

#include "towerloop/shock.h"

#define TL_SHOCKS_SHOWN 4
#define TL_SHOCK_BACK   0.9 /* of before counts as back */

struct tl_shock {
    size_t event; /* the first of them, index in the setup */
    size_t times; /* events that killed */
    double at_d;  /* of the first, days since day 0 */
    double
        killed; /* of the ammonia oxidisers before it, 0..1: the most that one left dead of them */
    double
        oxidation_d; /* after the last, until a day's ammonia oxidation was back; NAN: it was not */
    double oxidisers_d; /* the same of the ammonia oxidisers themselves */
    double tan, tan_d;  /* most in the tank from then on, gN/m3, and when */
    double no2, no2_d;
};
struct tl_shocks {
    size_t count; /* of them, the first TL_SHOCKS_SHOWN: */
    struct tl_shock of[TL_SHOCKS_SHOWN];
};

#define TL_SHOCK_SAMPLES 300 /* of a day, and some */
/* Gathers it from samples in the order of time, no more than TL_SHOCK_SAMPLES a day. */
struct tl_shock_watch {
    struct tl_shocks result;
    bool any;                /* there is a shock in the setup; if not nothing below is used */
    bool open;               /* the oxidisers are not back */
    double seen_d, living_g; /* of the last sample; NAN: none yet */
    double before_g;         /* oxidisers before the story that is open, gCOD */
    double before_g_d;       /* ammonia oxidised a day before it, gN/d; NAN: not known */
    double last_d;           /* the last shock of it */
    double t_d[TL_SHOCK_SAMPLES], oxidised_g[TL_SHOCK_SAMPLES];
    size_t samples;
};

void tl_shock_watch_begin(struct tl_shock_watch *w, const struct tl_setup *s);
/* Tank of `glance` and the state proper `y` of its instant; `totals`, the whole state as it stood at
 * `totals_d`, not before that instant. */
void tl_shock_watch_add(struct tl_shock_watch *w, const struct tl_model *m,
                        const struct tl_snapshot *glance, const double *y, double totals_d,
                        const double *totals);

#endif
