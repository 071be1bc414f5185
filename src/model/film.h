/* A film on a wetted surface: rates per m2 from what it holds and the water over it, in one lane or
 * many (lanes.h). Model document, "Process table".
 *
 * Depth is lumped: each guild has an active depth, and organics with heterotrophs lie over the
 * nitrifiers. Substrates are clamped at zero inside the rates only. */
#ifndef TOWERLOOP_MODEL_FILM_H
#define TOWERLOOP_MODEL_FILM_H

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include "climate.h"
#include "process.h"

/* What the water over a film decides besides substrate: one value a zone. */
struct tl_film_switch {
    real a;    /* f_pH,A M_ALK */
    real n;    /* f_pH,N M_ALK I_FA */
    real kill; /* extra decay by chlorine, 1/d */
};

/* Substrates of the water at the film, g/m3. */
struct tl_film_water {
    real tan, no2, ss, o2, no3;
};

/* Keeps a quotient finite where both of its parts are 0; its cube is still a number. */
#define TL_TINY 1e-60

/* What biomass that decays or comes loose gives: the rows of the process table for decay and for
 * detachment are alike for the three guilds but for the biomass itself (test_process sees to it). */
struct tl_film_turnover {
    real tan, alk; /* freed in the water */
    real solids;   /* stays in the film or enters the water as F_S, XS */
    real inert;    /* as F_I, XI */
};

/* Constants of the film that do not change with temperature. */
struct tl_film_model {
    struct lane_params p;
    struct tl_ph_bell bell_a, bell_n;
    struct tl_process_table table;
    struct tl_film_turnover turnover;
    real per_overlay; /* 1/l_overlay */
    real detach;      /* k_detach/l_detach */
    real reach;       /* 2 d_o2_film film_density, see tl_film_reach_at() */
};

#if TL_WIDE == 1
void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f);
#endif

/* The switches in water of this [H+] (mol/L), alkalinity, TAN and chlorine (g/m3):
 *
 *     a = f_pH,A M_ALK                 f_pH  = scale/(1 + 10^-hi/h + 10^lo h)
 *     n = f_pH,N M_ALK I_FA            M_ALK = ALK^2/(K^2 + ALK^2), I_FA = K_FA/(K_FA + NH3)
 *
 * each brought over one denominator: a division costs as much as all its other arithmetic. */
static inline void tl_film_switch_at(const struct tl_film_model *f, const struct tl_climate *c,
                                     real h, const real *water, struct tl_film_switch *out)
{
    const struct lane_params *p = &f->p;
    const real alk = tl_positive(water[TL_ALK]);
    const real alk2 = alk * alk;
    const real alk_den = p->k_alk * p->k_alk + alk2;
    const real bell_a_den = h + f->bell_a.ten_hi + f->bell_a.ten_lo * h * h;
    const real bell_n_den = h + f->bell_n.ten_hi + f->bell_n.ten_lo * h * h;
    const real acid = c->k.ka + h;
    const real fa_num = p->k_fa * acid;
    const real fa_den = fa_num + tl_positive(water[TL_TAN]) * c->k.ka;

    out->a = f->bell_a.scale * h * alk2 / (bell_a_den * alk_den);
    out->n = f->bell_n.scale * h * alk2 * fa_num / (bell_n_den * alk_den * fa_den);
    out->kill = p->k_chlorine_kill * tl_positive(water[TL_HOCL]);
}

/* Growth rates at the substrates, gCOD/m2/d, from the largest ones (all substrates in plenty), and
 * (d != NULL) their derivatives d[guild][tan, no2, ss, o2]. Substrates count as 0 below zero.
 * M = S/(K + S); its derivative is K/(K + S)^2, and 0 below zero. */
static inline void tl_film_growth(const struct tl_film_model *f, const real *growth_max,
                                  const struct tl_film_water *w, real *growth, real d[3][4])
{
    const struct lane_params *p = &f->p;
    const real tan = tl_positive(w->tan);
    const real no2 = tl_positive(w->no2);
    const real ss = tl_positive(w->ss);
    const real o2 = tl_positive(w->o2);
    const real q_tan = 1 / (p->k_tan + tan);
    const real q_no2 = 1 / (p->k_no2 + no2);
    const real q_ss = 1 / (p->k_ss + ss);
    const real q_t = 1 / (p->k_tan_uptake + tan);
    const real q_oa = 1 / (p->ko2_aob + o2);
    const real q_on = 1 / (p->ko2_nob + o2);
    const real q_oh = 1 / (p->ko2_het + o2);
    const real m_t = tan * q_t;

    /* each rate without one factor after another */
    const real a_o = growth_max[0] * (tan * q_tan);
    const real a_tan = growth_max[0] * (o2 * q_oa);
    const real n_t = growth_max[1] * (no2 * q_no2) * (o2 * q_on);
    const real n_m = growth_max[1] * m_t;
    const real n_o = n_m * (no2 * q_no2);
    const real n_no2 = n_m * (o2 * q_on);
    const real h_t = growth_max[2] * (ss * q_ss) * (o2 * q_oh);
    const real h_m = growth_max[2] * m_t;
    const real h_o = h_m * (ss * q_ss);
    const real h_ss = h_m * (o2 * q_oh);

    growth[0] = a_o * (o2 * q_oa);
    growth[1] = n_t * m_t;
    growth[2] = h_t * m_t;
    if (!d)
        return;

    const real on_tan = lane_select(w->tan > 0, lane_all(1), lane_all(0));
    const real on_no2 = lane_select(w->no2 > 0, lane_all(1), lane_all(0));
    const real on_ss = lane_select(w->ss > 0, lane_all(1), lane_all(0));
    const real on_o2 = lane_select(w->o2 > 0, lane_all(1), lane_all(0));
    const real d_t = on_tan * p->k_tan_uptake * q_t * q_t;
    d[0][0] = a_tan * (on_tan * p->k_tan * q_tan * q_tan);
    d[0][1] = lane_all(0);
    d[0][2] = lane_all(0);
    d[0][3] = a_o * (on_o2 * p->ko2_aob * q_oa * q_oa);
    d[1][0] = n_t * d_t;
    d[1][1] = n_no2 * (on_no2 * p->k_no2 * q_no2 * q_no2);
    d[1][2] = lane_all(0);
    d[1][3] = n_o * (on_o2 * p->ko2_nob * q_on * q_on);
    d[2][0] = h_t * d_t;
    d[2][1] = lane_all(0);
    d[2][2] = h_ss * (on_ss * p->k_ss * q_ss * q_ss);
    d[2][3] = h_o * (on_o2 * p->ko2_het * q_oh * q_oh);
}

/* What a film does whatever the water over it holds. */
struct tl_film_at_rest {
    real growth_max[3], decay[3], detach[3], hydrolysis, slough_s, slough_i;
};

static inline struct tl_film_at_rest tl_film_at_rest(const struct tl_film_model *f,
                                                     const struct tl_climate *c, real kill,
                                                     real slough, real f_a, real f_n, real f_h,
                                                     real f_s, real f_i)
{
    const struct lane_params *p = &f->p;
    const real fa = tl_positive(f_a);
    const real fn = tl_positive(f_n);
    const real fh = tl_positive(f_h);
    const real overlay = (fh + tl_positive(f_s) + tl_positive(f_i)) * f->per_overlay;
    const real eta_a = 1 / (1 + fa * c->per_depth_a + overlay);
    const real eta_n = 1 / (1 + fn * c->per_depth_n + overlay);
    const real eta_h = p->l_het / (p->l_het + fh);
    const real detach = f->detach * (fa + fn + fh);

    return (struct tl_film_at_rest){
        .growth_max = {c->mu[0] * eta_a * (fa + p->f_attach), c->mu[1] * eta_n * (fn + p->f_attach),
                       c->mu[2] * eta_h * (fh + p->f_attach)},
        .decay = {(c->decay[0] + kill) * f_a, (c->decay[1] + kill) * f_n,
                  (c->decay[2] + kill) * f_h},
        .detach = {p->detach_nitrifiers * detach * f_a, p->detach_nitrifiers * detach * f_n,
                   detach * f_h},
        .hydrolysis = c->hydrolysis * f_s,
        .slough_s = slough * f_s,
        .slough_i = slough * f_i,
    };
}

/* How much of a film oxygen does not reach: `without`/`all` of it. */
struct tl_film_reach {
    real without, all;
};

/* From what the film holds (gCOD/m2), the growth in it (gCOD/m2/d) and the oxygen S over it. Where oxygen is
 * used at one rate throughout, its profile is a parabola that touches zero at the depth 2 D S/j, j being the
 * flux into the film (Harremoes 1978). Here j is what plenty of oxygen would make of the film's use, j/M(S).
 * As a share of the thickness that depth is y; min(1, y) is rounded off, as oxygen's Monod term does:
 * without/all = 1/(1 + y + y^2 + y^3). A quotient of sums, since a division or a root costs more than
 * all of this. */
static inline struct tl_film_reach tl_film_reach_at(const struct tl_film_model *f, real mass,
                                                    const real *growth, real o2)
{
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    const real s = tl_positive(o2);
    const real used = -(nu[TL_GROW_A][TL_O2] * growth[0] + nu[TL_GROW_N][TL_O2] * growth[1] +
                        nu[TL_GROW_H][TL_O2] * growth[2]);
    const real deep = used * (f->p.ko2_het + s) * mass + TL_TINY;
    const real reached = f->reach * s * s;
    const real deep2 = deep * deep;

    return (struct tl_film_reach){deep * deep2, (deep + reached) * (deep2 + reached * reached)};
}

/* Growth of heterotrophs on nitrate, gCOD/m2/d, with `growth_max` as in tl_film_growth():
 *
 *     growth_max eta M(SS) M(NO3) M_T (1 - (1 - airless) M(O2))
 *
 * without oxygen as fast as ASM1 has it, less by the share that oxygen reaches (Hagedorn-Olsen et al. 1994:
 * in proportion to its depth); with all of the film reached, what is left is the switch of ASM1,
 * K/(K + O2). `drain` is the area over the flow of water (d/m) that cannot give more than it holds: then
 * the rate is the one at what is left, each substrate taken as one on which the rate depends linearly. 0:
 * the water does not change. */
static inline real tl_film_on_nitrate(const struct tl_film_model *f, real growth_max,
                                      struct tl_film_reach reach, const struct tl_film_water *w,
                                      real drain)
{
    const struct lane_params *p = &f->p;
    const real *nu = f->table.nu[TL_GROW_H_NO3];
    const real tan = tl_positive(w->tan);
    const real ss = tl_positive(w->ss);
    const real no3 = tl_positive(w->no3);
    const real o2 = tl_positive(w->o2);
    const real rate = growth_max * p->eta_anoxic * (p->ko2_het * reach.all + reach.without * o2);
    const real saturation = (p->k_tan_uptake + tan) * (p->k_ss + ss) *
                            ((p->k_no3 + no3) * (p->ko2_het + o2)) * reach.all;
    const real emptied =
        tl_positive(-nu[TL_TAN]) * ss * no3 - (nu[TL_SS] * no3 + nu[TL_NO3] * ss) * tan;

    return rate * (tan * ss * no3) / (saturation + drain * rate * emptied);
}

/* All film rates at once, gCOD/m2/d, from the film's content (gCOD/m2) and sloughing rate (1/d). */
static inline void tl_film_rates(const struct tl_film_model *f, const struct tl_climate *c,
                                 const struct tl_film_switch *sw, const real *film, real slough,
                                 const struct tl_film_water *w, real *rate)
{
    const struct tl_film_at_rest r = tl_film_at_rest(
        f, c, sw->kill, slough, film[TL_FA], film[TL_FN], film[TL_FH], film[TL_FS], film[TL_FI]);
    const real growth_max[3] = {sw->a * r.growth_max[0], sw->n * r.growth_max[1], r.growth_max[2]};

    tl_film_growth(f, growth_max, w, &rate[TL_GROW_A], NULL);
    for (int g = 0; g < 3; g++) {
        rate[TL_DECAY_A + g] = r.decay[g];
        rate[TL_DETACH_A + g] = r.detach[g];
    }
    rate[TL_HYDROLYSE_FILM] = r.hydrolysis;
    rate[TL_SLOUGH_S] = r.slough_s;
    rate[TL_SLOUGH_I] = r.slough_i;

    real mass = lane_all(0);
    for (int k = 0; k < TL_NFILM; k++)
        mass += tl_positive(film[k]);
    rate[TL_GROW_H_NO3] = tl_film_on_nitrate(
        f, r.growth_max[2], tl_film_reach_at(f, mass, &rate[TL_GROW_A], w->o2), w, lane_all(0));
}

/* --- many films at once -------------------------------------------------------------------- */

/* Films side by side: everything that does not hang on the water over them. A place with no film holds
 * nothing. Where loops lie side by side already, there is nothing to gain from films that do. */
#if TL_WIDE == 1
#define TL_BLOCK 8
#else
#define TL_BLOCK 1
#endif
struct tl_film_block {
    real growth_max[3][TL_BLOCK]; /* without the switches of pH and alkalinity */
    real decay[3][TL_BLOCK];
    real detach[3][TL_BLOCK];
    real hydrolysis[TL_BLOCK];
    /* all of the film, gCOD/m2; where voids are filled over their share of the area, for the use per m2
     * of clean media to be taken times it */
    real mass[TL_BLOCK];
    real slough_s[TL_BLOCK], slough_i[TL_BLOCK];
    real tan[TL_BLOCK], xs[TL_BLOCK], xi[TL_BLOCK]; /* their sum, in the water, per m2 */
    /* What full voids leave, 1 of clean media; all else is per m2 of what clean media would wet. */
    real spread[TL_BLOCK]; /* share of the wetted area */
    real room[TL_BLOCK];   /* share of the capture */
    bool clogged;          /* any of them is below 1 */
    /* what the water decides, filled in by its solver */
    real growth[3][TL_BLOCK];                        /* gCOD/m2/d */
    real on_nitrate[TL_BLOCK];                       /* growth of heterotrophs, likewise */
    real captured_s[TL_BLOCK], captured_i[TL_BLOCK]; /* gCOD/d */
};

/* The cells in pairs, so that the order does not hang on how wide the machine adds. */
static inline real tl_film_sum(const real *x)
{
#if TL_BLOCK == 8
    return ((x[0] + x[1]) + (x[2] + x[3])) + ((x[4] + x[5]) + (x[6] + x[7]));
#else
    return x[0];
#endif
}

/* What is left where a share x of the voids is filled, with u from 0 at `voids_open` to 1 where they
 * are full: 1 - spread_voids u^2 of the wetted area, 1 - u^4 of the capture of solids. */
static inline void tl_film_clogging(const struct lane_params *p, real filled, real *spread,
                                    real *room)
{
    const real over = tl_positive(filled - p->voids_open) / (1 - p->voids_open);
    const real u = lane_min(over, lane_all(1));
    const real u2 = u * u;
    *spread = 1 - p->spread_voids * u2;
    *room = 1 - u2 * u2;
}

/* The films of a block where voids are filled: the same matter on less area lies thicker. Apart, as the
 * next one, so that what runs on open trays stays short. */
static __attribute__((noinline)) void tl_film_block_clog(const struct tl_film_model *f,
                                                         const real *filled, real (*film)[TL_BLOCK],
                                                         struct tl_film_block *b)
{
    for (int l = 0; l < TL_BLOCK; l++) {
        tl_film_clogging(&f->p, filled[l], &b->spread[l], &b->room[l]);
        for (int k = 0; k < TL_NFILM; k++)
            film[k][l] = film[k][l] / b->spread[l];
    }
}

/* Rates per m2 of film become rates per m2 of what clean media would wet. */
static __attribute__((noinline)) void tl_film_block_narrow(struct tl_film_block *b)
{
    for (int l = 0; l < TL_BLOCK; l++) {
        const real share = b->spread[l];
        for (int g = 0; g < 3; g++) {
            b->growth_max[g][l] *= share;
            b->decay[g][l] *= share;
            b->detach[g][l] *= share;
        }
        b->hydrolysis[l] *= share;
        b->mass[l] /= share;
        b->slough_s[l] *= share;
        b->slough_i[l] *= share;
        b->tan[l] *= share;
        b->xs[l] *= share;
        b->xi[l] *= share;
    }
}

/* From the mass (gCOD, TL_NFILM a film) of `films` films of equal area, in voids that `full_g` of it
 * fills. */
static inline void tl_film_block_fill(const struct tl_film_model *f, const struct tl_climate *c,
                                      real kill, real slough, real area_m2, real full_g, int films,
                                      const real *film_g, struct tl_film_block *b)
{
    const struct tl_film_turnover *of = &f->turnover;
    const real per_area = 1 / area_m2;
    const real per_full = area_m2 / full_g;
    real film[TL_NFILM][TL_BLOCK];
    real filled[TL_BLOCK];
    mask any = lane_every(false);

    memset(film, 0, sizeof film);
    for (int l = 0; l < films; l++)
        for (int k = 0; k < TL_NFILM; k++)
            film[k][l] = film_g[l * TL_NFILM + k] * per_area;
    for (int l = 0; l < TL_BLOCK; l++)
        filled[l] = per_full * (film[TL_FA][l] + film[TL_FN][l] + film[TL_FH][l] + film[TL_FS][l] +
                                film[TL_FI][l]);
    for (int l = 0; l < TL_BLOCK; l++)
        any |= filled[l] > f->p.voids_open;
    b->clogged = lane_any(any);
    if (b->clogged)
        tl_film_block_clog(f, filled, film, b);
    for (int l = 0; l < TL_BLOCK; l++) {
        const struct tl_film_at_rest r =
            tl_film_at_rest(f, c, kill, slough, film[TL_FA][l], film[TL_FN][l], film[TL_FH][l],
                            film[TL_FS][l], film[TL_FI][l]);
        const real loosened = r.detach[0] + r.detach[1] + r.detach[2];

        b->growth_max[0][l] = r.growth_max[0];
        b->growth_max[1][l] = r.growth_max[1];
        b->growth_max[2][l] = r.growth_max[2];
        b->decay[0][l] = r.decay[0];
        b->decay[1][l] = r.decay[1];
        b->decay[2][l] = r.decay[2];
        b->detach[0][l] = r.detach[0];
        b->detach[1][l] = r.detach[1];
        b->detach[2][l] = r.detach[2];
        b->hydrolysis[l] = r.hydrolysis;
        b->mass[l] = tl_positive(film[TL_FA][l]) + tl_positive(film[TL_FN][l]) +
                     tl_positive(film[TL_FH][l]) + tl_positive(film[TL_FS][l]) +
                     tl_positive(film[TL_FI][l]);
        b->on_nitrate[l] = lane_all(0);
        b->slough_s[l] = r.slough_s;
        b->slough_i[l] = r.slough_i;
        b->tan[l] = of->tan * (r.decay[0] + r.decay[1] + r.decay[2] + loosened);
        b->xs[l] = of->solids * loosened + r.slough_s;
        b->xi[l] = of->inert * loosened + r.slough_i;
    }
    if (b->clogged)
        tl_film_block_narrow(b);
}

/* The films' derivatives (gCOD/d), and each process's total added to `extent`: film processes in
 * their order, then capture S and I. */
static inline void tl_film_block_close(const struct tl_film_model *f, real area_m2, int films,
                                       const struct tl_film_block *b, real *dfilm_g, real *extent)
{
    const struct tl_film_turnover *of = &f->turnover;
    real d[TL_NFILM][TL_BLOCK];

    for (int l = 0; l < TL_BLOCK; l++) {
        const real decayed = b->decay[0][l] + b->decay[1][l] + b->decay[2][l];
        d[TL_FA][l] = area_m2 * (b->growth[0][l] - b->decay[0][l] - b->detach[0][l]);
        d[TL_FN][l] = area_m2 * (b->growth[1][l] - b->decay[1][l] - b->detach[1][l]);
        d[TL_FH][l] =
            area_m2 * (b->growth[2][l] + b->on_nitrate[l] - b->decay[2][l] - b->detach[2][l]);
        d[TL_FS][l] =
            area_m2 * (of->solids * decayed - b->hydrolysis[l] - b->slough_s[l]) + b->captured_s[l];
        d[TL_FI][l] = area_m2 * (of->inert * decayed - b->slough_i[l]) + b->captured_i[l];
    }
    for (int l = 0; l < films; l++)
        for (int k = 0; k < TL_NFILM; k++)
            dfilm_g[l * TL_NFILM + k] = d[k][l];

    for (int g = 0; g < 3; g++) {
        extent[TL_GROW_A + g] += area_m2 * tl_film_sum(b->growth[g]);
        extent[TL_DECAY_A + g] += area_m2 * tl_film_sum(b->decay[g]);
        extent[TL_DETACH_A + g] += area_m2 * tl_film_sum(b->detach[g]);
    }
    extent[TL_HYDROLYSE_FILM] += area_m2 * tl_film_sum(b->hydrolysis);
    extent[TL_SLOUGH_S] += area_m2 * tl_film_sum(b->slough_s);
    extent[TL_SLOUGH_I] += area_m2 * tl_film_sum(b->slough_i);
    extent[TL_GROW_H_NO3] += area_m2 * tl_film_sum(b->on_nitrate);
    extent[TL_NFILM_PROCESS] += tl_film_sum(b->captured_s);
    extent[TL_NFILM_PROCESS + 1] += tl_film_sum(b->captured_i);
}

#endif
