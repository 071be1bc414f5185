/* The right-hand side of one loop: loop_kernel.h with the climate, the wetting and the controls of the
 * moment put in. */
#include "loop.h"

#include <math.h>
#include <string.h>

#include "model_private.h"
#include "towerloop/status.h"

double tl_tower_flow_m3_d(const struct tl_model *m, const struct tl_controls *c)
{
    const struct tl_tower *t = &m->setup.tower;
    const double flow_m3_d = c->flow_m3_d * c->to_tower;
    return t->submerged || flow_m3_d >= TL_STREAKS_M_H * 24 * t->plan_area_m2 ? flow_m3_d : 0;
}

double tl_load_m_h(const struct tl_model *m, const struct tl_controls *c)
{
    return tl_tower_flow_m3_d(m, c) / 24 / m->setup.tower.plan_area_m2;
}

double tl_source_concentration(const struct tl_model *m, const struct tl_climate *c, int component)
{
    return tl_source_at(&m->site, c, component);
}

void tl_model_flows(const struct tl_model *m, const struct tl_controls *c, struct tl_flows *out)
{
    const double tower = tl_tower_flow_m3_d(m, c);

    *out = (struct tl_flows){.pump_m3_d = c->flow_m3_d,
                             .tower_m3_d = tower,
                             .bypass_m3_d = c->flow_m3_d - tower,
                             .aerator_g_d = c->aerator_g_d,
                             .open = 1 - c->cover,
                             .drying_1_d = c->dried_out ? m->setup.tower.die_off_1_d : 0,
                             .tower_on = tower > 0};
}

const struct tl_form *tl_model_form(const struct tl_model *m)
{
    return &m->form;
}

const struct tl_site *tl_model_site(const struct tl_model *m)
{
    return &m->site;
}

const struct tl_film_model *tl_model_film(const struct tl_model *m)
{
    return &m->film;
}

int tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                double t_d, const double *y, double *dydt)
{
    const struct tl_layout *at = &m->form.at;
    struct tl_flows flows;

    tl_model_flows(m, c, &flows);
    tl_work_climate(m, w, tl_model_temperature(m, t_d));
    tl_work_sky(m, w, t_d);
    if (flows.tower_on)
        tl_work_wetting(m, w, tl_load_m_h(m, c));
    memset(&dydt[at->core], 0, (at->size - at->core) * sizeof *dydt);
    return tl_loop_rates(&m->form, &m->film, &m->site, w, &flows, y, dydt);
}

int tl_tower_pass(const struct tl_model *m, struct tl_work *w, double tower_flow_m3_d,
                  double chamber_h, double o2_sat, const double *y)
{
    const struct tl_layout *at = &m->form.at;
    const double *top = &y[at->chamber];
    double fed[TL_NWATER];
    double dmat[TL_MOST_LIT], extent[TL_NALGAE_PROCESS];

    if (m->form.lit > 0) {
        tl_tower_top(&m->form, &m->film, &m->site, w, tower_flow_m3_d, top, chamber_h, &y[at->mat],
                     dmat, extent, fed);
        top = fed;
    }
    return tl_tower_cross(&m->form, &m->film, &m->site, w, tower_flow_m3_d, top, chamber_h, o2_sat,
                          &y[at->cell], NULL);
}
