/* The right-hand side of the loop out of its parts - tank, settling chamber, tower, fish - in one lane
 * or many (lanes.h). Model document, sections "Loop", "Tank and chamber", "Fish and feed". */
#ifndef TL_MODEL_LOOP_KERNEL_H
#define TL_MODEL_LOOP_KERNEL_H

#include "loop.h"
#include "tower_kernel.h"
#include "towerloop/shock.h"

/* Wall film, hydrolysis of suspended solids and loss of chlorine in a mixed zone: adds to `dmass`
 * (per day, g, eq or mol), fills the film's derivative and the extents. */
static inline int zone(const struct tl_form *form, const struct tl_film_model *f, struct tl_work *w,
                       const real *water, real volume_m3, real wall_m2, const real *film_g, real *h,
                       real *dmass, real *dfilm_g, real *extent, real *chlorine_lost)
{
    const struct tl_climate *c = &w->climate;
    const struct lane_params *p = &f->p;
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    struct tl_film_switch sw;
    const struct tl_film_water at_film = {water[TL_TAN], water[TL_NO2], water[TL_SS], water[TL_O2],
                                          water[TL_NO3]};
    real film[TL_NFILM];
    real rate[TL_NFILM_PROCESS];

    int status = lane_solve_ph(&c->k, water[TL_ALK], water[TL_TIC], water[TL_TAN], h);
    if (status)
        return status;

    for (int i = 0; i < TL_NFILM; i++)
        film[i] = lane_select(wall_m2 > 0, film_g[i] / wall_m2, lane_all(0));
    tl_film_switch_at(f, c, *h, water, &sw);
    tl_film_rates(f, c, &sw, film, p->k_slough_wall, &at_film, rate);
    for (int i = 0; i < TL_NFILM_PROCESS; i++)
        extent[i] = wall_m2 * rate[i];
    extent[TL_HYDROLYSE_WATER] = c->hydrolysis * water[TL_XS] * volume_m3;

    /* the process table's columns, summed by rows that are alike (see tl_film_turnover) */
    const struct tl_film_turnover *of = &f->turnover;
    const real decayed = extent[TL_DECAY_A] + extent[TL_DECAY_N] + extent[TL_DECAY_H];
    const real loosened = extent[TL_DETACH_A] + extent[TL_DETACH_N] + extent[TL_DETACH_H];
    for (int i = TL_GROW_A; i <= TL_GROW_H; i++)
        for (int k = 0; k < TL_CL; k++)
            dmass[k] += nu[i][k] * extent[i];
    for (int k = 0; form->anoxic && k < TL_CL; k++)
        dmass[k] += nu[TL_GROW_H_NO3][k] * extent[TL_GROW_H_NO3];
    dmass[TL_TAN] += of->tan * (decayed + loosened);
    dmass[TL_ALK] += of->alk * (decayed + loosened);
    dmass[TL_SS] += extent[TL_HYDROLYSE_FILM] + extent[TL_HYDROLYSE_WATER];
    dmass[TL_XS] += of->solids * loosened + extent[TL_SLOUGH_S] - extent[TL_HYDROLYSE_WATER];
    dmass[TL_XI] += of->inert * loosened + extent[TL_SLOUGH_I];
    for (int g = 0; g < 3; g++)
        dfilm_g[TL_FA + g] =
            extent[TL_GROW_A + g] - extent[TL_DECAY_A + g] - extent[TL_DETACH_A + g];
    dfilm_g[TL_FH] += extent[TL_GROW_H_NO3];
    dfilm_g[TL_FS] = of->solids * decayed - extent[TL_HYDROLYSE_FILM] - extent[TL_SLOUGH_S];
    dfilm_g[TL_FI] = of->inert * decayed - extent[TL_SLOUGH_I];

    /* chlorine meets the demand and leaves chloride; chloramine does so far more slowly and leaves its
     * ammonia besides, without alkalinity, since the chloride balances the ammonium */
    const real demand = form->chloramine ? p->k_chloramine_demand : p->k_chlorine_demand;
    const real lost = demand * water[TL_HOCL] * volume_m3;
    dmass[TL_HOCL] -= lost;
    dmass[TL_CL] += TL_CHLORIDE_PER_CHLORINE * lost;
    if (form->chloramine)
        dmass[TL_TAN] += TL_CHLORAMINE_N_PER_CHLORINE * lost;
    *chlorine_lost += lost;
    return TL_OK;
}

/* Settling into the sludge and what the sludge gives back. */
static inline void settle(const struct tl_film_model *f, const struct tl_site *site,
                          const struct tl_climate *c, const real *water, const real *sludge,
                          real *dmass, real *dsludge, real *extent)
{
    const struct lane_params *p = &f->p;
    const real(*nu)[TL_NCOLUMN] = f->table.nu;
    const real filled = (sludge[0] + sludge[1]) / (p->film_density * site->chamber_m3);
    const real settle_m3_d = p->v_settle * site->chamber_surface_m2 * tl_positive(1 - filled);
    const real o2 = tl_positive(water[TL_O2]);
    const real m_o2 = o2 / (p->ko2_sludge + o2);
    const real no3 = tl_positive(water[TL_NO3]);
    const real decay = c->hydrolysis * sludge[0];
    const real on_no3 = p->eta_anoxic * (1 - m_o2) * (no3 / (p->k_no3 + no3)) * decay;

    extent[TL_SETTLE_S] = settle_m3_d * water[TL_XS];
    extent[TL_SETTLE_I] = settle_m3_d * water[TL_XI];
    extent[TL_SLUDGE_TO_ORGANICS] = decay * (1 - m_o2) - on_no3;
    extent[TL_SLUDGE_OXIDISED] = decay * m_o2;
    extent[TL_SLUDGE_ON_NO3] = on_no3;
    dsludge[0] = lane_all(0);
    dsludge[1] = lane_all(0);
    for (int i = TL_SETTLE_S; i <= TL_SLUDGE_ON_NO3; i++) {
        for (int k = 0; k < TL_CL; k++)
            dmass[k] += nu[i][k] * extent[i];
        dsludge[0] += nu[i][TL_COLUMN_SLUDGE_S] * extent[i];
        dsludge[1] += nu[i][TL_COLUMN_SLUDGE_I] * extent[i];
    }
}

/* Oxygen and carbon dioxide through a surface or an aerator of this oxygen conductance (m3/d). */
static inline void gas(const struct tl_film_model *f, const struct tl_climate *c, real conductance,
                       real o2_sat, const real *water, real co2, real *o2, real *tic)
{
    *o2 = conductance * (o2_sat - water[TL_O2]);
    *tic = f->p.co2_to_o2 * conductance * (c->co2_sat - co2);
}

/* What the fish take from the water and give to it; guts empty, tissue grows or burns. */
static inline void fish(const struct tl_form *form, const struct tl_film_model *f,
                        const struct tl_site *site, const struct tl_climate *c, const real *water,
                        const real *group, real *dgroup, real *total, real *dmass)
{
    const struct lane_params *p = &f->p;
    const real o2 = tl_positive(water[TL_O2]);
    const real breathe = o2 / (p->ko2_fish + o2);
    real absorbed = lane_all(0);
    real basal = lane_all(0);
    real wanted_o2 = lane_all(0);

    for (size_t i = 0; i < form->groups; i++) {
        const real *g = &group[i * TL_FISH_SLOTS];
        real *d = &dgroup[i * TL_FISH_SLOTS];
        const real biomass = g[TL_FISH_BIOMASS_KG];
        const real taken = c->gut * g[TL_FISH_GUT2_G];
        const real burnt = c->basal_n * biomass;

        d[TL_FISH_GUT1_G] = -c->gut * g[TL_FISH_GUT1_G];
        d[TL_FISH_GUT2_G] = c->gut * (g[TL_FISH_GUT1_G] - g[TL_FISH_GUT2_G]);
        d[TL_FISH_NUMBER] = lane_all(0);
        d[TL_FISH_BIOMASS_KG] = lane_all(0);
        if (form->grows)
            d[TL_FISH_BIOMASS_KG] = taken / (1000 * site->feed_conversion) - burnt / p->n_of_fish;

        absorbed += taken;
        basal += burnt;
        wanted_o2 += p->o2_per_feed * taken;
        const mask any = (g[TL_FISH_NUMBER] > 0) & (biomass > 0);
        if (lane_any(any))
            wanted_o2 += lane_select(
                any,
                c->rest_o2 * lane_pow(1000 * biomass / g[TL_FISH_NUMBER], p->o2_rest_mass) *
                    biomass,
                lane_all(0));
    }

    const real excreted = p->n_feed * site->protein * absorbed + basal;
    const real used_o2 = wanted_o2 * breathe;
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

/* Fish left dead rot as solids do, into solids and the ammonia that these do not hold. */
static inline void rot(const struct tl_form *form, const struct tl_film_model *f,
                       const struct tl_climate *c, const real *dead, real *ddead, real *rotted,
                       real *dmass)
{
    const struct lane_params *p = &f->p;
    const real n = p->n_of_fish / 1000; /* gN/g */
    real sum = lane_all(0);

    for (size_t i = 0; i < form->dead; i++) {
        ddead[i] = -c->hydrolysis * dead[i];
        sum -= ddead[i];
    }
    const real solids = lane_select(p->i_organics * p->cod_of_fish > n, n / p->i_organics,
                                    p->cod_of_fish); /* gCOD/g; no more nitrogen than the fish */
    const real ammonia = 1000 * sum * (n - p->i_organics * solids);
    *rotted = sum;
    dmass[TL_XS] += 1000 * sum * solids;
    dmass[TL_TAN] += ammonia;
    dmass[TL_ALK] += ammonia / TL_N_G_PER_MOL;
}

/* Bacteria burn formaldehyde, with the tank's oxygen; some leaves with water. */
static inline void burn(const struct tl_film_model *f, const struct tl_site *site,
                        const real *water, real trickle_m3_d, real mass, real *dmass_drug,
                        real *burnt, real *dmass)
{
    const struct lane_params *p = &f->p;
    const real o2 = tl_positive(water[TL_O2]);

    *burnt = p->k_formaldehyde * o2 / (p->ko2_sludge + o2) * mass;
    *dmass_drug = -*burnt - trickle_m3_d / (site->tank_m3 + site->chamber_m3) * mass;
    dmass[TL_O2] -= TL_FORMALDEHYDE_O2_G_PER_G * *burnt;
    dmass[TL_TIC] += TL_FORMALDEHYDE_MOL_PER_G * *burnt;
}

/* What is held between two stops. */
struct tl_flows {
    real pump_m3_d, tower_m3_d, bypass_m3_d;
    real aerator_g_d;
    real open;       /* share of the surface that no cover closes */
    real drying_1_d; /* extra decay in a tower that has dried out */
    bool tower_on;   /* water crosses the tower, in all lanes or in none */
};

/* Concentration of a component in the source water. */
static inline real tl_source_at(const struct tl_site *site, const struct tl_climate *c,
                                int component)
{
    if (component == TL_TIC)
        return c->source_tic;
    if (component == TL_O2)
        return c->source_o2;
    return site->source[component];
}

/* dy/dt per day with the work's climate and wetting as they are. Running totals that do not change
 * are left alone. TL_OK or TL_E_SOLVER. */
static inline int tl_loop_rates(const struct tl_form *form, const struct tl_film_model *f,
                                const struct tl_site *site, struct tl_work *w,
                                const struct tl_flows *flows, const real *y, real *dydt)
{
    const struct tl_layout *at = &form->at;
    const struct tl_climate *cl = &w->climate;
    const real *tank = &y[at->tank];
    const real *chamber = &y[at->chamber];
    const real flow = flows->pump_m3_d;
    const real tower_flow = flows->tower_m3_d;
    const real trickle = site->trickle_m3_d;
    real tank_mass[TL_NWATER];
    real chamber_mass[TL_NWATER];
    real *const chlorine_lost = &dydt[at->chlorine_lost];

    memset(tank_mass, 0, sizeof tank_mass);
    memset(chamber_mass, 0, sizeof chamber_mass);
    *chlorine_lost = lane_all(0);
    dydt[at->chlorine_met] = tank[TL_HOCL];

    /* tank */
    int status =
        zone(form, f, w, tank, site->tank_m3, site->tank_wall_m2, &y[at->tank_wall], &w->tank_h,
             tank_mass, &dydt[at->tank_wall], &dydt[at->extent_tank], chlorine_lost);
    if (status)
        return status;
    const real tank_sat = lane_o2_saturation_in(cl, tank);
    const real tank_co2 = lane_co2_mol_m3(&cl->k, w->tank_h, tank[TL_TIC]);
    real *gas_o2 = &dydt[at->gas_o2];
    real *gas_tic = &dydt[at->gas_tic];
    const real k_open = cl->k_surface * flows->open * (1 - w->sky.frozen);
    gas(f, cl, k_open * site->tank_surface_m2, tank_sat, tank, tank_co2,
        &gas_o2[TL_GAS_TANK_SURFACE], &gas_tic[TL_GAS_TANK_SURFACE]);
    gas(f, cl, cl->aerator_m3_per_g * flows->aerator_g_d, tank_sat, tank, tank_co2,
        &gas_o2[TL_GAS_AERATOR], &gas_tic[TL_GAS_AERATOR]);
    tank_mass[TL_O2] += gas_o2[TL_GAS_TANK_SURFACE] + gas_o2[TL_GAS_AERATOR];
    tank_mass[TL_TIC] += gas_tic[TL_GAS_TANK_SURFACE] + gas_tic[TL_GAS_AERATOR];
    fish(form, f, site, cl, tank, &y[at->fish], &dydt[at->fish], &dydt[at->fish_total], tank_mass);
    if (form->dead > 0)
        rot(form, f, cl, &y[at->dead], &dydt[at->dead], &dydt[at->rotted], tank_mass);
    if (form->formaldehyde)
        burn(f, site, tank, trickle, y[at->formaldehyde], &dydt[at->formaldehyde], &dydt[at->burnt],
             tank_mass);
    if (form->green) {
        const real both_m3 = site->tank_m3 + site->chamber_m3;
        const real gone = trickle / both_m3 * y[at->green];
        tl_algae_in_tank(f, cl, flows->open * w->sky.tank, tank, w->tank_h, site->tank_m3,
                         site->tank_surface_m2, both_m3, y[at->green], tank_mass, &dydt[at->green],
                         &dydt[at->extent_green]);
        dydt[at->green] -= gone;
        dydt[at->algae_out + TL_ALGAE_OVERFLOW] = gone;
    }

    /* chamber */
    status = zone(form, f, w, chamber, site->chamber_m3, site->chamber_wall_m2,
                  &y[at->chamber_wall], &w->chamber_h, chamber_mass, &dydt[at->chamber_wall],
                  &dydt[at->extent_chamber], chlorine_lost);
    if (status)
        return status;
    const real chamber_sat = lane_o2_saturation_in(cl, chamber);
    settle(f, site, cl, chamber, &y[at->sludge], chamber_mass, &dydt[at->sludge],
           &dydt[at->extent_chamber]);
    gas(f, cl, k_open * site->chamber_surface_m2, chamber_sat, chamber,
        lane_co2_mol_m3(&cl->k, w->chamber_h, chamber[TL_TIC]), &gas_o2[TL_GAS_CHAMBER_SURFACE],
        &gas_tic[TL_GAS_CHAMBER_SURFACE]);
    chamber_mass[TL_O2] += gas_o2[TL_GAS_CHAMBER_SURFACE];
    chamber_mass[TL_TIC] += gas_tic[TL_GAS_CHAMBER_SURFACE];

    /* tower */
    dydt[at->store] = lane_all(0);
    for (size_t j = 0; j < form->lit; j++)
        dydt[at->mat + j] = lane_all(0);
    if (flows->tower_on) {
        real fed[TL_NWATER];
        const real *top = chamber;
        if (form->lit > 0) {
            tl_tower_top(form, f, site, w, tower_flow, chamber, w->chamber_h, &y[at->mat],
                         &dydt[at->mat], &dydt[at->extent_mat], fed);
            top = fed;
        }
        status = tl_tower_cross(form, f, site, w, tower_flow, top, w->chamber_h, chamber_sat,
                                &y[at->cell], &dydt[at->cell]);
        if (status)
            return status;
        memcpy(&dydt[at->extent_tower], w->tower_extent, sizeof w->tower_extent);
        gas_o2[TL_GAS_TOWER] = w->tower_gas_o2;
        gas_tic[TL_GAS_TOWER] = w->tower_gas_tic;
    } else {
        real *idle = &dydt[at->extent_idle];
        tl_tower_idle(form, f, w, flows->drying_1_d, &y[at->cell], &dydt[at->cell], idle);
        for (int g = 0; g < 3; g++)
            dydt[at->store] += f->table.nu[TL_DECAY_A + g][TL_TAN] * idle[g];
    }

    /* flows between them, source water in, overflow out; what evaporates leaves behind what was in it */
    const real filled = trickle + tl_positive(w->sky.evaporates_m3_d);
    const real spilled = trickle + tl_positive(-w->sky.evaporates_m3_d);
    for (int k = 0; k < TL_NWATER; k++) {
        const real in = filled * tl_source_at(site, cl, k);
        const real out = spilled * tank[k];
        const real back = flows->tower_on ? tower_flow * w->tower_out[k] : lane_all(0);
        tank_mass[k] += back + flows->bypass_m3_d * chamber[k] - flow * tank[k] + in - out;
        chamber_mass[k] += flow * (tank[k] - chamber[k]);
        dydt[at->source_in + (size_t)k] = in;
        dydt[at->water_out + (size_t)k] = out;
        dydt[at->tank + (size_t)k] = tank_mass[k] / site->tank_m3;
        dydt[at->chamber + (size_t)k] = chamber_mass[k] / site->chamber_m3;
    }
    return TL_OK;
}

#endif
