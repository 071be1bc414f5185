/* A film on a wetted surface: rates per m2 from what it holds and the water over it. */
#ifndef TOWERLOOP_MODEL_FILM_H
#define TOWERLOOP_MODEL_FILM_H

#include <stddef.h>

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

/* What biomass that decays or comes loose gives: the rows of the process table for decay and for
 * detachment are alike for the three guilds but for the biomass itself (test_process sees to it). */
struct tl_film_turnover {
    double tan, alk; /* freed in the water */
    double solids;   /* stays in the film or enters the water as F_S, XS */
    double inert;    /* as F_I, XI */
};

/* Constants of the film that do not change with temperature. */
struct tl_film_model {
    struct tl_params p;
    struct tl_ph_bell bell_a, bell_n;
    struct tl_process_table table;
    struct tl_film_turnover turnover;
    double per_overlay; /* 1/l_overlay */
    double detach;      /* k_detach/l_detach */
};

void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f);

static inline double tl_positive(double x)
{
    return x > 0 ? x : 0;
}

/* The switches in water of this [H+] (mol/L), alkalinity, TAN and chlorine (g/m3):
 *
 *     a = f_pH,A M_ALK                 f_pH  = scale/(1 + 10^-hi/h + 10^lo h)
 *     n = f_pH,N M_ALK I_FA            M_ALK = ALK^2/(K^2 + ALK^2), I_FA = K_FA/(K_FA + NH3)
 *
 * each brought over one denominator: a division costs as much as all its other arithmetic. */
static inline void tl_film_switch_at(const struct tl_film_model *f, const struct tl_climate *c,
                                     double h, const double *water, struct tl_film_switch *out)
{
    const struct tl_params *p = &f->p;
    const double alk = tl_positive(water[TL_ALK]);
    const double alk2 = alk * alk;
    const double alk_den = p->k_alk * p->k_alk + alk2;
    const double bell_a_den = h + f->bell_a.ten_hi + f->bell_a.ten_lo * h * h;
    const double bell_n_den = h + f->bell_n.ten_hi + f->bell_n.ten_lo * h * h;
    const double acid = c->k.ka + h;
    const double fa_num = p->k_fa * acid;
    const double fa_den = fa_num + tl_positive(water[TL_TAN]) * c->k.ka;

    out->a = f->bell_a.scale * h * alk2 / (bell_a_den * alk_den);
    out->n = f->bell_n.scale * h * alk2 * fa_num / (bell_n_den * alk_den * fa_den);
    out->kill = p->k_chlorine_kill * tl_positive(water[TL_HOCL]);
}

/* Growth rates at the substrates, gCOD/m2/d, from the largest ones (all substrates in plenty), and
 * (d != NULL) their derivatives d[guild][tan, no2, ss, o2]. Substrates count as 0 below zero.
 * M = S/(K + S); its derivative is K/(K + S)^2, and 0 below zero. */
static inline void tl_film_growth(const struct tl_film_model *f, const double *growth_max,
                                  const struct tl_film_water *w, double *growth, double d[3][4])
{
    const struct tl_params *p = &f->p;
    const double tan = tl_positive(w->tan);
    const double no2 = tl_positive(w->no2);
    const double ss = tl_positive(w->ss);
    const double o2 = tl_positive(w->o2);
    const double q_tan = 1 / (p->k_tan + tan);
    const double q_no2 = 1 / (p->k_no2 + no2);
    const double q_ss = 1 / (p->k_ss + ss);
    const double q_t = 1 / (p->k_tan_uptake + tan);
    const double q_oa = 1 / (p->ko2_aob + o2);
    const double q_on = 1 / (p->ko2_nob + o2);
    const double q_oh = 1 / (p->ko2_het + o2);
    const double m_t = tan * q_t;

    /* each rate without one factor after another */
    const double a_o = growth_max[0] * (tan * q_tan);
    const double a_tan = growth_max[0] * (o2 * q_oa);
    const double n_t = growth_max[1] * (no2 * q_no2) * (o2 * q_on);
    const double n_m = growth_max[1] * m_t;
    const double n_o = n_m * (no2 * q_no2);
    const double n_no2 = n_m * (o2 * q_on);
    const double h_t = growth_max[2] * (ss * q_ss) * (o2 * q_oh);
    const double h_m = growth_max[2] * m_t;
    const double h_o = h_m * (ss * q_ss);
    const double h_ss = h_m * (o2 * q_oh);

    growth[0] = a_o * (o2 * q_oa);
    growth[1] = n_t * m_t;
    growth[2] = h_t * m_t;
    if (!d)
        return;

    const double on_tan = w->tan > 0 ? 1 : 0;
    const double on_no2 = w->no2 > 0 ? 1 : 0;
    const double on_ss = w->ss > 0 ? 1 : 0;
    const double on_o2 = w->o2 > 0 ? 1 : 0;
    const double d_t = on_tan * p->k_tan_uptake * q_t * q_t;
    d[0][0] = a_tan * (on_tan * p->k_tan * q_tan * q_tan);
    d[0][1] = 0;
    d[0][2] = 0;
    d[0][3] = a_o * (on_o2 * p->ko2_aob * q_oa * q_oa);
    d[1][0] = n_t * d_t;
    d[1][1] = n_no2 * (on_no2 * p->k_no2 * q_no2 * q_no2);
    d[1][2] = 0;
    d[1][3] = n_o * (on_o2 * p->ko2_nob * q_on * q_on);
    d[2][0] = h_t * d_t;
    d[2][1] = 0;
    d[2][2] = h_ss * (on_ss * p->k_ss * q_ss * q_ss);
    d[2][3] = h_o * (on_o2 * p->ko2_het * q_oh * q_oh);
}

/* All film rates at once, gCOD/m2/d, from the film's content (gCOD/m2) and sloughing rate (1/d). */
void tl_film_rates(const struct tl_film_model *f, const struct tl_climate *c,
                   const struct tl_film_switch *sw, const double *film, double slough,
                   const struct tl_film_water *w, double *rate);

/* --- many films at once -------------------------------------------------------------------- */

/* Films side by side, one a lane: everything that does not hang on the water over them. A lane with
 * no film holds nothing. */
#define TL_LANES 8
struct tl_film_block {
    double growth_max[3][TL_LANES]; /* without the switches of pH and alkalinity */
    double decay[3][TL_LANES];
    double detach[3][TL_LANES];
    double hydrolysis[TL_LANES];
    double slough_s[TL_LANES], slough_i[TL_LANES];
    double tan[TL_LANES], xs[TL_LANES], xi[TL_LANES]; /* their sum, in the water, per m2 */
    /* what the water decides, filled in by its solver */
    double growth[3][TL_LANES];                        /* gCOD/m2/d */
    double captured_s[TL_LANES], captured_i[TL_LANES]; /* gCOD/d */
};

/* From the mass (gCOD, TL_NFILM a film) of `films` films of equal area. */
void tl_film_block_fill(const struct tl_film_model *f, const struct tl_climate *c, double kill,
                        double slough, double area_m2, int films, const double *film_g,
                        struct tl_film_block *b);
/* The films' derivatives (gCOD/d), and each process's total added to `extent`: film processes in
 * their order, then capture S and I. */
void tl_film_block_close(const struct tl_film_model *f, double area_m2, int films,
                         const struct tl_film_block *b, double *dfilm_g, double *extent);

#endif
