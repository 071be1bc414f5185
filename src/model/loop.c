/* One right-hand side out of the parts: tank, settling chamber, tower, fish. Model document,
 * sections "Loop", "Tank and chamber", "Fish and feed". */
#include "loop.h"

#include <math.h>
#include <string.h>

#include "model_private.h"
#include "towerloop/status.h"

double tl_load_m_h(const struct tl_model *m, const struct tl_controls *c)
{
    return c->flow_m3_d * c->to_tower / 24 / m->setup.tower.plan_area_m2;
}

double tl_source_concentration(const struct tl_model *m, const struct tl_climate *c, int component)
{
    if (component == TL_TIC)
        return c->source_tic;
    if (component == TL_O2)
        return c->source_o2;
    return m->setup.source.water[component];
}

/* Wall film, hydrolysis of suspended solids and loss of chlorine in a mixed zone: adds to `dmass`
 * (per day, g, eq or mol), fills the film's derivative and the extents. */
static int zone(const struct tl_model *m, struct tl_work *w, const double *water, double volume_m3,
                double wall_m2, const double *film_g, double *h, double *dmass, double *dfilm_g,
                double *extent, double *chlorine_lost)
{
    const struct tl_climate *c = &w->climate;
    const struct tl_params *p = &m->setup.params;
    const double(*nu)[TL_NCOLUMN] = m->film.table.nu;
    struct tl_film_switch sw;
    const struct tl_film_water at_film = {water[TL_TAN], water[TL_NO2], water[TL_SS], water[TL_O2]};
    double film[TL_NFILM];
    double rate[TL_NFILM_PROCESS];

    int status = tl_solve_ph(&c->k, water[TL_ALK], water[TL_TIC], water[TL_TAN], h);
    if (status)
        return status;

    for (int i = 0; i < TL_NFILM; i++)
        film[i] = wall_m2 > 0 ? film_g[i] / wall_m2 : 0;
    tl_film_switch_at(&m->film, c, *h, water, &sw);
    tl_film_rates(&m->film, c, &sw, film, p->k_slough_wall, &at_film, rate);
    for (int i = 0; i < TL_NFILM_PROCESS; i++)
        extent[i] = wall_m2 * rate[i];
    extent[TL_HYDROLYSE_WATER] = c->hydrolysis * water[TL_XS] * volume_m3;

    /* the process table's columns, summed by rows that are alike (see tl_film_turnover) */
    const struct tl_film_turnover *of = &m->film.turnover;
    const double decayed = extent[TL_DECAY_A] + extent[TL_DECAY_N] + extent[TL_DECAY_H];
    const double loosened = extent[TL_DETACH_A] + extent[TL_DETACH_N] + extent[TL_DETACH_H];
    for (int i = TL_GROW_A; i <= TL_GROW_H; i++)
        for (int k = 0; k < TL_CL; k++)
            dmass[k] += nu[i][k] * extent[i];
    dmass[TL_TAN] += of->tan * (decayed + loosened);
    dmass[TL_ALK] += of->alk * (decayed + loosened);
    dmass[TL_SS] += extent[TL_HYDROLYSE_FILM] + extent[TL_HYDROLYSE_WATER];
    dmass[TL_XS] += of->solids * loosened + extent[TL_SLOUGH_S] - extent[TL_HYDROLYSE_WATER];
    dmass[TL_XI] += of->inert * loosened + extent[TL_SLOUGH_I];
    for (int g = 0; g < 3; g++)
        dfilm_g[TL_FA + g] =
            extent[TL_GROW_A + g] - extent[TL_DECAY_A + g] - extent[TL_DETACH_A + g];
    dfilm_g[TL_FS] = of->solids * decayed - extent[TL_HYDROLYSE_FILM] - extent[TL_SLOUGH_S];
    dfilm_g[TL_FI] = of->inert * decayed - extent[TL_SLOUGH_I];

    /* chlorine meets the demand and leaves chloride; chloramine leaves its ammonia besides, without
     * alkalinity, since the chloride balances the ammonium */
    const double lost = p->k_chlorine_demand * water[TL_HOCL] * volume_m3;
    dmass[TL_HOCL] -= lost;
    dmass[TL_CL] += TL_CHLORIDE_PER_CHLORINE * lost;
    if (m->setup.source.chloramine)
        dmass[TL_TAN] += TL_CHLORAMINE_N_PER_CHLORINE * lost;
    *chlorine_lost += lost;
    return TL_OK;
}

/* Settling into the sludge and what the sludge gives back. */
static void settle(const struct tl_model *m, const struct tl_climate *c, const double *water,
                   const double *sludge, double *dmass, double *dsludge, double *extent)
{
    const struct tl_params *p = &m->setup.params;
    const double(*nu)[TL_NCOLUMN] = m->film.table.nu;
    const struct tl_basin *b = &m->setup.chamber;
    const double filled = (sludge[0] + sludge[1]) / (p->film_density * b->volume_m3);
    const double settle_m3_d = p->v_settle * b->surface_m2 * tl_positive(1 - filled);
    const double o2 = tl_positive(water[TL_O2]);
    const double m_o2 = o2 / (p->ko2_sludge + o2);
    const double decay = c->hydrolysis * sludge[0];

    extent[TL_SETTLE_S] = settle_m3_d * water[TL_XS];
    extent[TL_SETTLE_I] = settle_m3_d * water[TL_XI];
    extent[TL_SLUDGE_TO_ORGANICS] = decay * (1 - m_o2);
    extent[TL_SLUDGE_OXIDISED] = decay * m_o2;
    dsludge[0] = 0;
    dsludge[1] = 0;
    for (int i = TL_SETTLE_S; i <= TL_SLUDGE_OXIDISED; i++) {
        for (int k = 0; k < TL_CL; k++)
            dmass[k] += nu[i][k] * extent[i];
        dsludge[0] += nu[i][TL_COLUMN_SLUDGE_S] * extent[i];
        dsludge[1] += nu[i][TL_COLUMN_SLUDGE_I] * extent[i];
    }
}

/* Oxygen and carbon dioxide through a surface or an aerator of this oxygen conductance (m3/d). */
static void gas(const struct tl_model *m, const struct tl_climate *c, double conductance,
                double o2_sat, const double *water, double co2, double *o2, double *tic)
{
    *o2 = conductance * (o2_sat - water[TL_O2]);
    *tic = m->setup.params.co2_to_o2 * conductance * (c->co2_sat - co2);
}

/* What the fish take from the water and give to it; guts empty, tissue grows or burns. */
static void fish(const struct tl_model *m, const struct tl_climate *c, const double *water,
                 const double *group, double *dgroup, double *total, double *dmass)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_params *p = &s->params;
    const double o2 = tl_positive(water[TL_O2]);
    const double breathe = o2 / (p->ko2_fish + o2);
    double absorbed = 0;
    double basal = 0;
    double wanted_o2 = 0;

    for (size_t i = 0; i < m->groups; i++) {
        const double *g = &group[i * TL_FISH_SLOTS];
        double *d = &dgroup[i * TL_FISH_SLOTS];
        const double biomass = g[TL_FISH_BIOMASS_KG];
        const double taken = c->gut * g[TL_FISH_GUT2_G];
        const double burnt = c->basal_n * biomass;

        d[TL_FISH_GUT1_G] = -c->gut * g[TL_FISH_GUT1_G];
        d[TL_FISH_GUT2_G] = c->gut * (g[TL_FISH_GUT1_G] - g[TL_FISH_GUT2_G]);
        d[TL_FISH_NUMBER] = 0;
        d[TL_FISH_BIOMASS_KG] = 0;
        if (s->feeding.grows)
            d[TL_FISH_BIOMASS_KG] =
                taken / (1000 * s->feeding.feed_conversion) - burnt / p->n_of_fish;

        absorbed += taken;
        basal += burnt;
        wanted_o2 += p->o2_per_feed * taken;
        if (g[TL_FISH_NUMBER] > 0 && biomass > 0)
            wanted_o2 +=
                c->rest_o2 * pow(1000 * biomass / g[TL_FISH_NUMBER], p->o2_rest_mass) * biomass;
    }

    const double excreted = p->n_feed * s->feeding.protein * absorbed + basal;
    const double used_o2 = wanted_o2 * breathe;
    dmass[TL_TAN] += excreted;
    dmass[TL_ALK] += excreted / TL_N_G_PER_MOL;
    dmass[TL_O2] -= used_o2;
    dmass[TL_TIC] += p->respiratory_quotient / 32 * used_o2;
    dmass[TL_XS] += p->solids_per_feed * absorbed;
    dmass[TL_XI] += p->inert_per_feed * absorbed;
    dmass[TL_SS] += p->dissolved_per_feed * absorbed;

    total[TL_ABSORBED_G] = absorbed;
    total[TL_BASAL_N_G] = basal;
    total[TL_FISH_O2_G] = used_o2;
}

int tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                double t_d, const double *y, double *dydt)
{
    const struct tl_layout *at = &m->at;
    const struct tl_setup *s = &m->setup;
    const double *tank = &y[at->tank];
    const double *chamber = &y[at->chamber];
    const double flow = c->flow_m3_d;
    const double tower_flow = flow * c->to_tower;
    const double bypass = flow - tower_flow;
    const double trickle = s->trickle_1_d * s->tank.volume_m3;
    double tank_mass[TL_NWATER] = {0};
    double chamber_mass[TL_NWATER] = {0};
    double *const chlorine_lost = &dydt[at->chlorine_lost];

    tl_work_climate(m, w, tl_model_temperature(m, t_d));
    const struct tl_climate *cl = &w->climate;
    memset(&dydt[at->core], 0, (at->size - at->core) * sizeof *dydt);

    /* tank */
    int status = zone(m, w, tank, s->tank.volume_m3, m->tank_wall_m2, &y[at->tank_wall], &w->tank_h,
                      tank_mass, &dydt[at->tank_wall], &dydt[at->extent_tank], chlorine_lost);
    if (status)
        return status;
    const double tank_sat = tl_o2_saturation_in(cl, tank);
    const double tank_co2 = tl_co2_mol_m3(&cl->k, w->tank_h, tank[TL_TIC]);
    double *gas_o2 = &dydt[at->gas_o2];
    double *gas_tic = &dydt[at->gas_tic];
    gas(m, cl, cl->k_surface * s->tank.surface_m2, tank_sat, tank, tank_co2,
        &gas_o2[TL_GAS_TANK_SURFACE], &gas_tic[TL_GAS_TANK_SURFACE]);
    gas(m, cl, cl->aerator_m3_per_g * c->aerator_g_d, tank_sat, tank, tank_co2,
        &gas_o2[TL_GAS_AERATOR], &gas_tic[TL_GAS_AERATOR]);
    tank_mass[TL_O2] += gas_o2[TL_GAS_TANK_SURFACE] + gas_o2[TL_GAS_AERATOR];
    tank_mass[TL_TIC] += gas_tic[TL_GAS_TANK_SURFACE] + gas_tic[TL_GAS_AERATOR];
    fish(m, cl, tank, &y[at->fish], &dydt[at->fish], &dydt[at->fish_total], tank_mass);

    /* chamber */
    status = zone(m, w, chamber, s->chamber.volume_m3, m->chamber_wall_m2, &y[at->chamber_wall],
                  &w->chamber_h, chamber_mass, &dydt[at->chamber_wall], &dydt[at->extent_chamber],
                  chlorine_lost);
    if (status)
        return status;
    const double chamber_sat = tl_o2_saturation_in(cl, chamber);
    settle(m, cl, chamber, &y[at->sludge], chamber_mass, &dydt[at->sludge],
           &dydt[at->extent_chamber]);
    gas(m, cl, cl->k_surface * s->chamber.surface_m2, chamber_sat, chamber,
        tl_co2_mol_m3(&cl->k, w->chamber_h, chamber[TL_TIC]), &gas_o2[TL_GAS_CHAMBER_SURFACE],
        &gas_tic[TL_GAS_CHAMBER_SURFACE]);
    chamber_mass[TL_O2] += gas_o2[TL_GAS_CHAMBER_SURFACE];
    chamber_mass[TL_TIC] += gas_tic[TL_GAS_CHAMBER_SURFACE];

    /* tower */
    dydt[at->store] = 0;
    if (tower_flow > 0) {
        tl_work_wetting(m, w, tl_load_m_h(m, c));
        status = tl_tower_pass(m, w, tower_flow, chamber, w->chamber_h, chamber_sat, &y[at->cell],
                               &dydt[at->cell]);
        if (status)
            return status;
        memcpy(&dydt[at->extent_tower], w->tower_extent, sizeof w->tower_extent);
        gas_o2[TL_GAS_TOWER] = w->tower_gas_o2;
        gas_tic[TL_GAS_TOWER] = w->tower_gas_tic;
    } else {
        double *idle = &dydt[at->extent_idle];
        tl_tower_idle(m, w, c->dried_out, &y[at->cell], &dydt[at->cell], idle);
        for (int g = 0; g < 3; g++)
            dydt[at->store] += m->film.table.nu[TL_DECAY_A + g][TL_TAN] * idle[g];
    }

    /* flows between them, source water in, overflow out */
    for (int k = 0; k < TL_NWATER; k++) {
        const double in = trickle * tl_source_concentration(m, cl, k);
        const double back = tower_flow > 0 ? tower_flow * w->tower_out[k] : 0;
        tank_mass[k] += back + bypass * chamber[k] - flow * tank[k] + in - trickle * tank[k];
        chamber_mass[k] += flow * (tank[k] - chamber[k]);
        dydt[at->source_in + (size_t)k] = in;
        dydt[at->water_out + (size_t)k] = trickle * tank[k];
        dydt[at->tank + (size_t)k] = tank_mass[k] / s->tank.volume_m3;
        dydt[at->chamber + (size_t)k] = chamber_mass[k] / s->chamber.volume_m3;
    }
    return TL_OK;
}
