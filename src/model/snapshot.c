/* The state of a run as a row of output shows it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "model_private.h"
#include "towerloop/status.h"

int tl_snapshot_alloc(const struct tl_model *m, struct tl_snapshot *s)
{
    const size_t trays = (size_t)m->setup.tower.trays;

    *s = (struct tl_snapshot){
        .trays = m->setup.tower.trays, .sunny = m->form.lit > 0, .green = m->form.green};
    s->tray = calloc(trays, sizeof *s->tray);
    s->tray_voids_filled = calloc(trays, sizeof *s->tray_voids_filled);
    s->tray_cover = calloc(trays, sizeof *s->tray_cover);
    s->tray_o2 = calloc(trays, sizeof *s->tray_o2);
    s->tray_tan = calloc(trays, sizeof *s->tray_tan);
    s->tray_no2 = calloc(trays, sizeof *s->tray_no2);
    s->tray_airless = calloc(trays, sizeof *s->tray_airless);
    if (!s->tray || !s->tray_voids_filled || !s->tray_cover || !s->tray_o2 || !s->tray_tan ||
        !s->tray_no2 || !s->tray_airless) {
        tl_snapshot_free(s);
        return TL_E_MEMORY;
    }
    return TL_OK;
}

void tl_snapshot_free(struct tl_snapshot *s)
{
    free(s->tray);
    free(s->tray_voids_filled);
    free(s->tray_cover);
    free(s->tray_o2);
    free(s->tray_tan);
    free(s->tray_no2);
    free(s->tray_airless);
    *s = (struct tl_snapshot){0};
}

static double ph_of(double h)
{
    return -log10(h);
}

static void film_per_area(const double *mass, double area, double *film)
{
    for (int i = 0; i < TL_NFILM; i++)
        film[i] = area > 0 ? mass[i] / area : 0;
}

/* A tray is the mean of its cells. */
static void read_trays(const struct tl_model *m, const struct tl_work *w, const double *y,
                       struct tl_snapshot *out)
{
    const double *cell = &y[m->at.cell];

    for (int i = 0; i < m->setup.tower.trays; i++) {
        struct tl_tray_glance g;
        double mass[TL_NFILM] = {0};
        double wet_m2 = 0;
        for (int j = 0; j < m->cells_per_tray; j++) {
            const double *film = &cell[(i * m->cells_per_tray + j) * TL_NFILM];
            for (int k = 0; k < TL_NFILM; k++)
                mass[k] += film[k];
            wet_m2 += tl_voids_spread(m, film) * w->spread * w->cell_wet_m2;
        }
        film_per_area(mass, wet_m2, out->tray[i]);
        tl_model_tray(m, w, y, i + 1, &g);
        out->tray_voids_filled[i] = g.filled;
        out->tray_airless[i] = out->tower_on ? g.airless : NAN;
        const struct tl_cell_state *last = &w->cell[(i + 1) * m->cells_per_tray - 1];
        out->tray_o2[i] = out->tower_on ? last->out_o2 : NAN;
        out->tray_tan[i] = out->tower_on ? last->out_tan : NAN;
        out->tray_no2[i] = out->tower_on ? last->out_no2 : NAN;
    }
}

/* And what they leave of the spread of the water. */
static void read_algae(const struct tl_model *m, struct tl_work *w, const double *y,
                       struct tl_snapshot *out)
{
    for (size_t j = 0; j < m->form.lit; j++)
        out->tray_cover[j] = tl_model_cover(m, y, j);
    if (m->form.lit > 0)
        w->spread = tl_algae_spread(&m->film, m->site.tower_plan_m2, y[m->at.mat]);
    if (m->form.green)
        out->green_g_m3 = y[m->at.green] / (m->site.tank_m3 + m->site.chamber_m3);
}

int tl_model_glance_at(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *tank, double fish_kg, struct tl_snapshot *out)
{
    /* of all that hangs on the temperature only these */
    const double t_degC = tl_model_temperature(m, t_d);
    if (w->glance_degC != t_degC) {
        tl_carbonate_constants(t_degC, &w->glance_k);
        w->glance_degC = t_degC;
    }
    int status = tl_solve_ph(&w->glance_k, tank[TL_ALK], tank[TL_TIC], tank[TL_TAN], &w->tank_h);
    if (status)
        return status;
    out->t_d = t_d;
    out->temperature_degC = t_degC;
    out->pressure_atm = m->pressure_atm;
    out->flow_m3_d = c->flow_m3_d;
    out->tower_flow_m3_d = c->flow_m3_d * c->to_tower;
    out->tower_on = tl_tower_flow_m3_d(m, c) > 0;
    memcpy(out->tank, tank, sizeof out->tank);
    out->tank_ph = ph_of(w->tank_h);
    out->tank_co2_mol_m3 = tl_co2_mol_m3(&w->glance_k, w->tank_h, tank[TL_TIC]);
    out->fish_kg = fish_kg;
    return TL_OK;
}

int tl_model_glance(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                    double t_d, const double *y, struct tl_snapshot *out)
{
    return tl_model_glance_at(m, w, c, t_d, &y[m->at.tank], tl_model_biomass(m, y), out);
}

/* Feed in the log for the day that begins at `day`. */
static double logged_g(const struct tl_table *log, double day)
{
    size_t first = 0;
    size_t past = log->n;
    double sum = 0;
    while (first < past) { /* the first line of that day, by halving */
        const size_t mid = first + (past - first) / 2;
        if (log->x[mid] < day)
            first = mid + 1;
        else
            past = mid;
    }
    for (size_t i = first; i < log->n && log->x[i] < day + 1; i++)
        sum += log->y[i];
    return sum;
}

/* Ammonia that the fish give off, gN/d: from the feed they absorb and from their own tissue, as the loop's
 * kernel has it. */
static double excreted(const struct tl_model *m, const struct tl_climate *c, const double *y)
{
    double absorbed_g_d = 0;
    double basal_gN_d = 0;
    for (size_t i = 0; i < m->groups; i++) {
        const double *group = &y[m->at.fish + i * TL_FISH_SLOTS];
        absorbed_g_d += c->gut * group[TL_FISH_GUT2_G];
        basal_gN_d += c->basal_n * group[TL_FISH_BIOMASS_KG];
    }
    return m->film.p.n_feed * m->site.protein * absorbed_g_d + basal_gN_d;
}

int tl_model_snapshot(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                      double t_d, const double *y, struct tl_snapshot *out)
{
    const struct tl_layout *at = &m->at;
    const double *chamber = &y[at->chamber];

    int status = tl_model_glance(m, w, c, t_d, y, out);
    if (status)
        return status;
    tl_work_climate(m, w, out->temperature_degC);
    const struct tl_climate *cl = &w->climate;
    status = tl_solve_ph(&cl->k, chamber[TL_ALK], chamber[TL_TIC], chamber[TL_TAN], &w->chamber_h);
    if (status)
        return status;
    memcpy(out->chamber, chamber, sizeof out->chamber);
    out->chamber_ph = ph_of(w->chamber_h);

    tl_work_sky(m, w, t_d);
    read_algae(m, w, y, out);
    tl_work_wetting(m, w, c->wetted_at_m_h);
    if (out->tower_on) {
        const double o2_sat =
            cl->o2_sat * exp(-cl->salting_out * TL_SALINITY_PER_CHLORIDE * fmax(chamber[TL_CL], 0));
        status = tl_tower_pass(m, w, out->tower_flow_m3_d, w->chamber_h, o2_sat, y);
        if (status)
            return status;
        memcpy(out->tower_out, w->tower_out, sizeof out->tower_out);
        /* what growth on nitrate did to the pH in the last cell was left to whoever comes next */
        status = tl_solve_ph(&cl->k, w->tower_out[TL_ALK], w->tower_out[TL_TIC],
                             w->tower_out[TL_TAN], &w->tower_out_h);
        if (status)
            return status;
        out->tower_out_ph = ph_of(w->tower_out_h);
    } else {
        for (int k = 0; k < TL_NWATER; k++)
            out->tower_out[k] = NAN;
        out->tower_out_ph = NAN;
    }

    film_per_area(&y[at->tank_wall], m->site.tank_wall_m2, out->tank_wall);
    film_per_area(&y[at->chamber_wall], m->site.chamber_wall_m2, out->chamber_wall);
    read_trays(m, w, y, out);

    out->air_degC = m->heat ? tl_temperature_at(&m->setup.weather.air, t_d) : NAN;
    out->evaporation_m3_d = m->heat ? tl_heat_course_evaporation_m3_d(m->heat, t_d) : NAN;
    out->excreted_gN_d = excreted(m, cl, y);
    out->sludge_gCOD = y[at->sludge] + y[at->sludge + 1];
    out->feed_g_d = logged_g(&m->setup.feeding.log, floor(t_d));
    if (m->setup.feeding.log.n == 0 && m->setup.feeding.meals > 0 &&
        cl->t_degC >= m->setup.feeding.none_below_degC)
        for (size_t i = 0; i < m->groups; i++)
            out->feed_g_d +=
                tl_ration_g_d(c->ration, y[at->fish + i * TL_FISH_SLOTS + TL_FISH_BIOMASS_KG],
                              out->fish_kg, cl->t_degC);
    out->feed_g_d *= m->setup.feeding.appetite;
    return TL_OK;
}
