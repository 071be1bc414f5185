/* What holds the tower's ammonia oxidisers back: the factors of their growth rate one by one. */
#include <math.h>

#include "model_private.h"
#include "towerloop/status.h"

static double monod(double s, double k)
{
    return s > 0 ? s / (k + s) : 0;
}

void tl_model_limiting(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y, struct tl_limiting *out)
{
    const struct tl_params *p = &m->setup.params;
    const double *chamber = &y[m->at.chamber];
    const double flow = tl_tower_flow_m3_d(m, c);

    *out = (struct tl_limiting){.at_d = flow > 0 ? NAN : t_d};
    if (!(flow > 0))
        return;
    tl_work_climate(m, w, tl_model_temperature(m, t_d));
    tl_work_sky(m, w, t_d);
    tl_work_wetting(m, w, tl_load_m_h(m, c));
    const struct tl_climate *cl = &w->climate;
    if (tl_solve_ph(&cl->k, chamber[TL_ALK], chamber[TL_TIC], chamber[TL_TAN], &w->chamber_h))
        return;
    if (tl_tower_pass(m, w, flow, w->chamber_h, tl_o2_saturation_in(cl, chamber), y))
        return;
    double mass = 0;
    double area_m2 = 0;
    for (int i = 0; i < m->cells; i++) {
        const double *film_g = &y[m->at.cell + (size_t)(i * TL_NFILM)];
        const double wet_m2 = w->spread * w->cell_wet_m2 * tl_voids_spread(m, film_g);
        const double weight = fmax(film_g[TL_FA], 0);
        const double overlay = film_g[TL_FH] + film_g[TL_FS] + film_g[TL_FI];
        const double depth = 1 + (film_g[TL_FA] / cl->depth_a + overlay / p->l_overlay) / wet_m2;

        mass += weight;
        area_m2 += wet_m2;
        out->ammonia += weight * monod(w->cell[i].s.tan, p->k_tan);
        out->oxygen += weight * monod(w->cell[i].s.o2, p->ko2_aob);
        out->depth += weight / depth;
    }
    if (!(mass > 0))
        return;
    out->at_d = t_d;
    out->flow = m->setup.pump_flow_m3_d > 0 ? flow / m->setup.pump_flow_m3_d : 1;
    out->ammonia /= mass;
    out->oxygen /= mass;
    out->depth /= mass;
    out->film = mass / area_m2 / p->mature_aob;
    const double alk = fmax(chamber[TL_ALK], 0);
    out->alkalinity = alk * alk / (p->k_alk * p->k_alk + alk * alk);
    out->ph = tl_ph_bell_at(&m->film.bell_a, w->chamber_h);
}
