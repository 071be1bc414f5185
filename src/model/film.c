/* Rates of the film processes. Model document, "Process table".
 *
 * Depth is lumped: each guild has an active depth, and organics with heterotrophs lie over the
 * nitrifiers. Substrates are clamped at zero inside the rates only. */
#include "film.h"

void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f)
{
    f->p = *p;
    tl_ph_bell_make(p->ph_lo_aob, p->ph_hi_aob, &f->bell_a);
    tl_ph_bell_make(p->ph_lo_nob, p->ph_hi_nob, &f->bell_n);
    tl_process_table_fill(p, &f->table);
}

static double positive(double x)
{
    return x > 0 ? x : 0;
}

void tl_film_switch_at(const struct tl_film_model *f, const struct tl_climate *c, double h,
                       const double *water, struct tl_film_switch *out)
{
    const struct tl_params *p = &f->p;
    const double alk = positive(water[TL_ALK]);
    const double m_alk = alk * alk / (p->k_alk * p->k_alk + alk * alk);
    const double nh3 = positive(water[TL_TAN]) * c->k.ka / (c->k.ka + h);

    out->a = tl_ph_bell_at(&f->bell_a, h) * m_alk;
    out->n = tl_ph_bell_at(&f->bell_n, h) * m_alk * p->k_fa / (p->k_fa + nh3);
    out->kill = p->k_chlorine_kill * positive(water[TL_HOCL]);
}

void tl_film_prepare(const struct tl_film_model *f, const struct tl_climate *c,
                     const struct tl_film_switch *sw, const double *film, double slough,
                     double *growth_max, double *rate)
{
    const struct tl_params *p = &f->p;
    const double fa = positive(film[TL_FA]);
    const double fn = positive(film[TL_FN]);
    const double fh = positive(film[TL_FH]);
    const double overlay = (fh + positive(film[TL_FS]) + positive(film[TL_FI])) / p->l_overlay;

    const double eta_a = 1 / (1 + fa / c->depth_a + overlay);
    const double eta_n = 1 / (1 + fn / c->depth_n + overlay);
    const double eta_h = p->l_het / (p->l_het + fh);

    growth_max[0] = c->mu[0] * sw->a * eta_a * (fa + p->f_attach);
    growth_max[1] = c->mu[1] * sw->n * eta_n * (fn + p->f_attach);
    growth_max[2] = c->mu[2] * eta_h * (fh + p->f_attach);

    rate[TL_DECAY_A] = (c->decay[0] + sw->kill) * film[TL_FA];
    rate[TL_DECAY_N] = (c->decay[1] + sw->kill) * film[TL_FN];
    rate[TL_DECAY_H] = (c->decay[2] + sw->kill) * film[TL_FH];

    const double detach = p->k_detach * (fa + fn + fh) / p->l_detach;
    rate[TL_DETACH_A] = p->detach_nitrifiers * detach * film[TL_FA];
    rate[TL_DETACH_N] = p->detach_nitrifiers * detach * film[TL_FN];
    rate[TL_DETACH_H] = detach * film[TL_FH];

    rate[TL_HYDROLYSE_FILM] = c->hydrolysis * film[TL_FS];
    rate[TL_SLOUGH_S] = slough * film[TL_FS];
    rate[TL_SLOUGH_I] = slough * film[TL_FI];
}

void tl_film_growth(const struct tl_film_model *f, const double *growth_max,
                    const struct tl_film_water *w, double *growth, double d[3][4])
{
    const struct tl_params *p = &f->p;
    const double tan = positive(w->tan);
    const double no2 = positive(w->no2);
    const double ss = positive(w->ss);
    const double o2 = positive(w->o2);

    /* M = S / (K + S); its derivative is (1 - M) / (K + S), and 0 below zero */
    const double q_tan = 1 / (p->k_tan + tan);
    const double q_no2 = 1 / (p->k_no2 + no2);
    const double q_ss = 1 / (p->k_ss + ss);
    const double q_t = 1 / (p->k_tan_uptake + tan);
    const double q_oa = 1 / (p->ko2_aob + o2);
    const double q_on = 1 / (p->ko2_nob + o2);
    const double q_oh = 1 / (p->ko2_het + o2);
    const double m_tan = tan * q_tan;
    const double m_no2 = no2 * q_no2;
    const double m_ss = ss * q_ss;
    const double m_t = tan * q_t;
    const double m_oa = o2 * q_oa;
    const double m_on = o2 * q_on;
    const double m_oh = o2 * q_oh;

    growth[0] = growth_max[0] * m_tan * m_oa;
    growth[1] = growth_max[1] * m_no2 * m_on * m_t;
    growth[2] = growth_max[2] * m_ss * m_oh * m_t;
    if (!d)
        return;

    const double on_tan = w->tan > 0;
    const double on_no2 = w->no2 > 0;
    const double on_ss = w->ss > 0;
    const double on_o2 = w->o2 > 0;
    const double g0 = growth_max[0];
    const double g1 = growth_max[1];
    const double g2 = growth_max[2];
    d[0][0] = on_tan * g0 * (1 - m_tan) * q_tan * m_oa;
    d[0][1] = 0;
    d[0][2] = 0;
    d[0][3] = on_o2 * g0 * m_tan * (1 - m_oa) * q_oa;
    d[1][0] = on_tan * g1 * m_no2 * m_on * (1 - m_t) * q_t;
    d[1][1] = on_no2 * g1 * (1 - m_no2) * q_no2 * m_on * m_t;
    d[1][2] = 0;
    d[1][3] = on_o2 * g1 * m_no2 * (1 - m_on) * q_on * m_t;
    d[2][0] = on_tan * g2 * m_ss * m_oh * (1 - m_t) * q_t;
    d[2][1] = 0;
    d[2][2] = on_ss * g2 * (1 - m_ss) * q_ss * m_oh * m_t;
    d[2][3] = on_o2 * g2 * m_ss * (1 - m_oh) * q_oh * m_t;
}

void tl_film_rates(const struct tl_film_model *f, const struct tl_climate *c,
                   const struct tl_film_switch *sw, const double *film, double slough,
                   const struct tl_film_water *w, double *rate)
{
    double growth_max[3];

    tl_film_prepare(f, c, sw, film, slough, growth_max, rate);
    tl_film_growth(f, growth_max, w, &rate[TL_GROW_A], NULL);
}
