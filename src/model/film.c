/* Rates of the film processes; those that a solver asks for again and again stand in film.h. Model
 * document, "Process table".
 *
 * Depth is lumped: each guild has an active depth, and organics with heterotrophs lie over the
 * nitrifiers. Substrates are clamped at zero inside the rates only. */
#include "film.h"

#include <stddef.h>

void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f)
{
    f->p = *p;
    tl_ph_bell_make(p->ph_lo_aob, p->ph_hi_aob, &f->bell_a);
    tl_ph_bell_make(p->ph_lo_nob, p->ph_hi_nob, &f->bell_n);
    tl_process_table_fill(p, &f->table);
    const double *decay = f->table.nu[TL_DECAY_A];
    f->turnover = (struct tl_film_turnover){
        decay[TL_TAN], decay[TL_ALK], decay[TL_COLUMN_FILM + TL_FS], decay[TL_COLUMN_FILM + TL_FI]};
    f->per_overlay = 1 / p->l_overlay;
    f->detach = p->k_detach / p->l_detach;
}

/* What a film does whatever the water over it holds. */
struct at_rest {
    double growth_max[3], decay[3], detach[3], hydrolysis, slough_s, slough_i;
};

static inline struct at_rest at_rest(const struct tl_film_model *f, const struct tl_climate *c,
                                     double kill, double slough, double f_a, double f_n, double f_h,
                                     double f_s, double f_i)
{
    const struct tl_params *p = &f->p;
    const double fa = tl_positive(f_a);
    const double fn = tl_positive(f_n);
    const double fh = tl_positive(f_h);
    const double overlay = (fh + tl_positive(f_s) + tl_positive(f_i)) * f->per_overlay;
    const double eta_a = 1 / (1 + fa * c->per_depth_a + overlay);
    const double eta_n = 1 / (1 + fn * c->per_depth_n + overlay);
    const double eta_h = p->l_het / (p->l_het + fh);
    const double detach = f->detach * (fa + fn + fh);

    return (struct at_rest){
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

void tl_film_rates(const struct tl_film_model *f, const struct tl_climate *c,
                   const struct tl_film_switch *sw, const double *film, double slough,
                   const struct tl_film_water *w, double *rate)
{
    const struct at_rest r = at_rest(f, c, sw->kill, slough, film[TL_FA], film[TL_FN], film[TL_FH],
                                     film[TL_FS], film[TL_FI]);
    const double growth_max[3] = {sw->a * r.growth_max[0], sw->n * r.growth_max[1],
                                  r.growth_max[2]};

    tl_film_growth(f, growth_max, w, &rate[TL_GROW_A], NULL);
    for (int g = 0; g < 3; g++) {
        rate[TL_DECAY_A + g] = r.decay[g];
        rate[TL_DETACH_A + g] = r.detach[g];
    }
    rate[TL_HYDROLYSE_FILM] = r.hydrolysis;
    rate[TL_SLOUGH_S] = r.slough_s;
    rate[TL_SLOUGH_I] = r.slough_i;
}

/* --- many films at once -------------------------------------------------------------------- */

void tl_film_block_fill(const struct tl_film_model *f, const struct tl_climate *c, double kill,
                        double slough, double area_m2, int films, const double *film_g,
                        struct tl_film_block *b)
{
    const struct tl_film_turnover *of = &f->turnover;
    const double per_area = 1 / area_m2;
    double film[TL_NFILM][TL_LANES] = {{0}};

    for (int l = 0; l < films; l++)
        for (int k = 0; k < TL_NFILM; k++)
            film[k][l] = film_g[l * TL_NFILM + k] * per_area;
    for (int l = 0; l < TL_LANES; l++) {
        const struct at_rest r = at_rest(f, c, kill, slough, film[TL_FA][l], film[TL_FN][l],
                                         film[TL_FH][l], film[TL_FS][l], film[TL_FI][l]);
        const double loosened = r.detach[0] + r.detach[1] + r.detach[2];

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
        b->slough_s[l] = r.slough_s;
        b->slough_i[l] = r.slough_i;
        b->tan[l] = of->tan * (r.decay[0] + r.decay[1] + r.decay[2] + loosened);
        b->xs[l] = of->solids * loosened + r.slough_s;
        b->xi[l] = of->inert * loosened + r.slough_i;
    }
}

/* The lanes in pairs, so that the order does not hang on how wide the machine adds. */
static inline double sum_of(const double *x)
{
    return ((x[0] + x[1]) + (x[2] + x[3])) + ((x[4] + x[5]) + (x[6] + x[7]));
}

void tl_film_block_close(const struct tl_film_model *f, double area_m2, int films,
                         const struct tl_film_block *b, double *dfilm_g, double *extent)
{
    const struct tl_film_turnover *of = &f->turnover;
    double d[TL_NFILM][TL_LANES];

    for (int l = 0; l < TL_LANES; l++) {
        const double decayed = b->decay[0][l] + b->decay[1][l] + b->decay[2][l];
        d[TL_FA][l] = area_m2 * (b->growth[0][l] - b->decay[0][l] - b->detach[0][l]);
        d[TL_FN][l] = area_m2 * (b->growth[1][l] - b->decay[1][l] - b->detach[1][l]);
        d[TL_FH][l] = area_m2 * (b->growth[2][l] - b->decay[2][l] - b->detach[2][l]);
        d[TL_FS][l] =
            area_m2 * (of->solids * decayed - b->hydrolysis[l] - b->slough_s[l]) + b->captured_s[l];
        d[TL_FI][l] = area_m2 * (of->inert * decayed - b->slough_i[l]) + b->captured_i[l];
    }
    for (int l = 0; l < films; l++)
        for (int k = 0; k < TL_NFILM; k++)
            dfilm_g[l * TL_NFILM + k] = d[k][l];

    for (int g = 0; g < 3; g++) {
        extent[TL_GROW_A + g] += area_m2 * sum_of(b->growth[g]);
        extent[TL_DECAY_A + g] += area_m2 * sum_of(b->decay[g]);
        extent[TL_DETACH_A + g] += area_m2 * sum_of(b->detach[g]);
    }
    extent[TL_HYDROLYSE_FILM] += area_m2 * sum_of(b->hydrolysis);
    extent[TL_SLOUGH_S] += area_m2 * sum_of(b->slough_s);
    extent[TL_SLOUGH_I] += area_m2 * sum_of(b->slough_i);
    extent[TL_NFILM_PROCESS] += sum_of(b->captured_s);
    extent[TL_NFILM_PROCESS + 1] += sum_of(b->captured_i);
}
