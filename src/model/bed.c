/* The trays one by one: what leaves them, what fills them, how deep oxygen reaches into their film. */
#include <math.h>

#include "model_private.h"
#include "towerloop/status.h"

int tl_model_cross_bed(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y)
{
    const double *chamber = &y[m->at.chamber];

    tl_work_climate(m, w, tl_model_temperature(m, t_d));
    tl_work_sky(m, w, t_d);
    tl_work_wetting(m, w, tl_load_m_h(m, c));
    const struct tl_climate *cl = &w->climate;
    int status =
        tl_solve_ph(&cl->k, chamber[TL_ALK], chamber[TL_TIC], chamber[TL_TAN], &w->chamber_h);
    if (status)
        return status;
    return tl_tower_pass(m, w, tl_tower_flow_m3_d(m, c), w->chamber_h,
                         tl_o2_saturation_in(cl, chamber), y);
}

void tl_model_tray(const struct tl_model *m, const struct tl_work *w, const double *y, int tray,
                   struct tl_tray_glance *out)
{
    const int first = (tray - 1) * m->cells_per_tray;
    const struct tl_cell_state *last = &w->cell[first + m->cells_per_tray - 1];
    double all_g = 0;
    double airless_g = 0;

    for (int i = first; i < first + m->cells_per_tray; i++) {
        const double *film_g = &y[m->at.cell + (size_t)(i * TL_NFILM)];
        double mass_g = 0;
        for (int k = 0; k < TL_NFILM; k++)
            mass_g += fmax(film_g[k], 0);
        const struct tl_film_reach r =
            tl_film_reach_at(&m->film, w->block[i / TL_BLOCK].mass[i % TL_BLOCK], w->cell[i].growth,
                             w->cell[i].s.o2);
        all_g += mass_g;
        airless_g += mass_g * r.without / r.all;
    }
    *out = (struct tl_tray_glance){
        .o2_g_m3 = last->out_o2,
        .no3_g_m3 = last->out_no3,
        .filled = tl_model_voids_filled(m, y, tray - 1),
        .airless = all_g > 0 ? airless_g / all_g : 0,
    };
}
