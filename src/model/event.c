/* What happens at a stop: the state and the controls change at once, and what crosses the border of
 * the loop is booked in the running totals. */
#include <math.h>
#include <string.h>

#include "model_private.h"
#include "schedule.h"
#include "towerloop/shock.h"

double tl_model_biomass(const struct tl_model *m, const double *y)
{
    double sum = 0;
    for (size_t i = 0; i < m->groups; i++)
        sum += y[m->at.fish + i * TL_FISH_SLOTS + TL_FISH_BIOMASS_KG];
    return sum;
}

double tl_ration_g_d(const struct tl_ration *r, double biomass_kg, double all_biomass_kg,
                     double t_degC)
{
    switch (r->kind) {
    case TL_RATION_MASS:
        return all_biomass_kg > 0 ? r->value * biomass_kg / all_biomass_kg : 0;
    case TL_RATION_TABLE:
        return tl_table_at(&r->table, t_degC) * 1000 * biomass_kg;
    case TL_RATION_PER_BIOMASS:
    default:
        return r->value * 1000 * biomass_kg;
    }
}

void tl_fish_join(const struct tl_model *m, const struct tl_fish *f, double *y)
{
    double *g = &y[m->at.fish + tl_group_index(m, f->name) * TL_FISH_SLOTS];

    g[TL_FISH_BIOMASS_KG] += f->count * f->mean_mass_g / 1000;
    g[TL_FISH_NUMBER] += f->count;
}

/* Returns the mass of those that leave, kg. */
static double fish_leave(const struct tl_model *m, const struct tl_fish *f, double *y)
{
    const size_t index = tl_group_index(m, f->name);
    if (index == m->groups)
        return 0;
    double *g = &y[m->at.fish + index * TL_FISH_SLOTS];
    if (!(g[TL_FISH_NUMBER] > 0))
        return 0;
    const double share = fmin(1, f->count / g[TL_FISH_NUMBER]);
    const double gone_kg = share * g[TL_FISH_BIOMASS_KG];

    /* they take along what is in their guts */
    y[m->at.fish_total + TL_GUT_LOST_G] += share * (g[TL_FISH_GUT1_G] + g[TL_FISH_GUT2_G]);
    for (int i = 0; i < TL_FISH_SLOTS; i++)
        g[i] *= 1 - share;
    g[TL_FISH_NUMBER] = round(g[TL_FISH_NUMBER]);
    return gone_kg;
}

/* What was in their guts is not counted on: it is a small part of them. */
static void fish_die(const struct tl_model *m, size_t event, double *y)
{
    y[m->at.dead + tl_dead_before(&m->setup, event)] =
        fish_leave(m, &m->setup.event[event].fish, y);
}

/* A meal by this daily ration, `share` of a day's. */
static void feed(const struct tl_model *m, const struct tl_work *w, const struct tl_ration *ration,
                 double share, double *y)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_params *p = &s->params;
    const double all = tl_model_biomass(m, y);
    double left = 0;

    for (size_t i = 0; i < m->groups; i++) {
        double *g = &y[m->at.fish + i * TL_FISH_SLOTS];
        const double meal = s->feeding.appetite * share *
                            tl_ration_g_d(ration, g[TL_FISH_BIOMASS_KG], all, w->climate.t_degC);
        g[TL_FISH_GUT1_G] += (1 - s->feeding.uneaten) * meal;
        y[m->at.fish_total + TL_FED_G] += (1 - s->feeding.uneaten) * meal;
        left += s->feeding.uneaten * meal;
    }

    /* leftovers: solids, and their nitrogen beyond what solids hold becomes ammonia */
    const double solids = p->cod_of_feed * left;
    const double ammonia = p->n_of_protein * s->feeding.protein * left - p->i_organics * solids;
    double *tank = &y[m->at.tank];
    tank[TL_XS] += solids / s->tank.volume_m3;
    tank[TL_TAN] += ammonia / s->tank.volume_m3;
    tank[TL_ALK] += ammonia / TL_N_G_PER_MOL / s->tank.volume_m3;
    y[m->at.fish_total + TL_UNEATEN_G] += left;
}

static void feed_meal(const struct tl_model *m, const struct tl_work *w,
                      const struct tl_controls *c, double *y)
{
    const struct tl_feeding *f = &m->setup.feeding;
    if (w->climate.t_degC >= f->none_below_degC)
        feed(m, w, c->ration, 1 / (double)f->meals, y);
}

/* What was written down was given, whatever the ration or the temperature. */
static void feed_logged(const struct tl_model *m, const struct tl_work *w, double mass_g, double *y)
{
    const struct tl_ration meal = {.kind = TL_RATION_MASS, .value = mass_g};
    feed(m, w, &meal, 1, y);
}

/* What is in all of the water and no component of it leaves with so much. */
static void lose_water(const struct tl_model *m, double volume_m3, double *y)
{
    tl_algae_lose_water(m, volume_m3, y);
    if (m->form.formaldehyde)
        y[m->at.formaldehyde] *=
            1 - volume_m3 / (m->setup.tank.volume_m3 + m->setup.chamber.volume_m3);
}

/* Source water replaces `volume_m3` of the tank's water at once. */
static void change_water(const struct tl_model *m, const struct tl_work *w, double volume_m3,
                         double *y)
{
    const double v = m->setup.tank.volume_m3;
    double *tank = &y[m->at.tank];

    for (int k = 0; k < TL_NWATER; k++) {
        const double in = tl_source_concentration(m, &w->climate, k);
        y[m->at.source_in + (size_t)k] += volume_m3 * in;
        y[m->at.water_out + (size_t)k] += volume_m3 * tank[k];
        tank[k] += volume_m3 / v * (in - tank[k]);
    }
    lose_water(m, volume_m3, y);
}

/* The chamber's water and sludge go; tank water fills it, source water fills the tank. */
static void clean_chamber(const struct tl_model *m, const struct tl_work *w, double *y)
{
    const struct tl_setup *s = &m->setup;
    const double v = s->chamber.volume_m3;
    double *tank = &y[m->at.tank];
    double *chamber = &y[m->at.chamber];

    for (int k = 0; k < TL_NWATER; k++) {
        const double in = tl_source_concentration(m, &w->climate, k);
        y[m->at.source_in + (size_t)k] += v * in;
        y[m->at.water_out + (size_t)k] += v * chamber[k];
        chamber[k] = tank[k];
        tank[k] += v / s->tank.volume_m3 * (in - tank[k]);
    }
    lose_water(m, v, y);
    for (int k = 0; k < 2; k++) {
        y[m->at.sludge_out + (size_t)k] += y[m->at.sludge + (size_t)k];
        y[m->at.sludge + (size_t)k] = 0;
    }
}

/* So much of each part of a tray's film stays. */
static void keep_film(const struct tl_model *m, int tray, const double *keep, double *y)
{
    for (int j = (tray - 1) * m->cells_per_tray; j < tray * m->cells_per_tray; j++) {
        double *film = &y[m->at.cell + (size_t)(j * TL_NFILM)];
        for (int i = 0; i < TL_NFILM; i++) {
            y[m->at.film_out + (size_t)i] += film[i] * (1 - keep[i]);
            film[i] *= keep[i];
        }
    }
}

static void clean_tray(const struct tl_model *m, const struct tl_event *e, int tray, double *y)
{
    const double kept = 1 - m->setup.params.clean_loss;
    const double keep[TL_NFILM] = {[TL_FA] = kept, [TL_FN] = kept, [TL_FH] = kept};

    keep_film(m, tray, keep, y);
    tl_algae_hose(m, (size_t)tray - 1, (size_t)tray, y);
    if (e->tap_water)
        tl_kill_tray(m, tl_chlorine_kill(&m->setup.params, m->tap_chlorine_g_m3, e->contact_d),
                     tray, y);
}

/* The jet takes the mat, and of what lies on the media the share that a rinse takes of the living. */
static void hose_tray(const struct tl_model *m, int tray, double *y)
{
    const double kept = 1 - m->setup.params.clean_loss;
    const double keep[TL_NFILM] = {kept, kept, kept, kept, kept};

    keep_film(m, tray, keep, y);
    tl_algae_hose(m, (size_t)tray - 1, (size_t)tray, y);
}

/* A control takes a new value; the old one is kept for `for:`. */
static void set(double *control, double value, struct tl_saved *saved)
{
    saved->value = *control;
    *control = value;
}

static void apply_event(const struct tl_model *m, const struct tl_work *w, const struct tl_event *e,
                        struct tl_saved *saved, struct tl_controls *c, double *y)
{
    const struct tl_setup *s = &m->setup;

    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW: /* planned: pump_plan.c */
    case TL_EVENT_PUMP_ON:
    case TL_EVENT_PUMPS_RUNNING:
    case TL_EVENT_CLEAN_PUMP:
    case TL_EVENT_HEATER_OFF: /* solved ahead: heat_course.c */
    case TL_EVENT_HEATER_ON:
        break;
    case TL_EVENT_TO_TOWER:
        set(&c->to_tower, e->value, saved);
        break;
    case TL_EVENT_AERATOR:
        set(&c->aerator_g_d, e->value, saved);
        break;
    case TL_EVENT_AERATOR_ON:
        set(&c->aerator_g_d, s->aerator_g_d, saved);
        break;
    case TL_EVENT_COVER:
        set(&c->cover, e->value, saved);
        break;
    case TL_EVENT_COVER_ON:
        set(&c->cover, s->cover, saved);
        break;
    case TL_EVENT_ADD_FISH:
        tl_fish_join(m, &e->fish, y);
        break;
    case TL_EVENT_REMOVE_FISH:
        (void)fish_leave(m, &e->fish, y);
        break;
    case TL_EVENT_RATION:
        saved->ration = c->ration;
        c->ration = &e->ration;
        break;
    case TL_EVENT_WATER_CHANGE:
        change_water(m, w, e->value * s->tank.volume_m3, y);
        break;
    case TL_EVENT_DOSE:
        tl_dose(m, (size_t)(e - s->event), y);
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        clean_chamber(m, w, y);
        break;
    case TL_EVENT_CLEAN_TRAY:
        clean_tray(m, e, e->tray, y);
        break;
    case TL_EVENT_CLEAN_TRAYS:
        for (int tray = 1; tray <= s->tower.trays; tray++)
            clean_tray(m, e, tray, y);
        break;
    case TL_EVENT_HOSE_TRAY:
        hose_tray(m, e->tray, y);
        break;
    case TL_EVENT_HOSE_TRAYS:
        for (int tray = 1; tray <= s->tower.trays; tray++)
            hose_tray(m, tray, y);
        break;
    case TL_EVENT_KNOCK_OUT:
        tl_kill(m, e->value, e->where, y);
        break;
    case TL_EVENT_DEAD_FISH:
        fish_die(m, (size_t)(e - s->event), y);
        break;
    case TL_NEVENT:
    default:
        break;
    }
}

static void restore(const struct tl_model *m, size_t event, const struct tl_saved *saved,
                    struct tl_controls *c, double *y)
{
    const struct tl_event *e = &m->setup.event[event];

    switch (e->kind) {
    case TL_EVENT_TO_TOWER:
        c->to_tower = saved->value;
        break;
    case TL_EVENT_AERATOR:
    case TL_EVENT_AERATOR_ON:
        c->aerator_g_d = saved->value;
        break;
    case TL_EVENT_COVER:
    case TL_EVENT_COVER_ON:
        c->cover = saved->value;
        break;
    case TL_EVENT_RATION:
        c->ration = saved->ration;
        break;
    case TL_EVENT_DEAD_FISH: /* what is left of them is taken out */
        y[m->at.dead + tl_dead_before(&m->setup, event)] = 0;
        break;
    default: /* what happens at once has no `for:` */
        break;
    }
}

double tl_dry_out_d(const struct tl_controls *c)
{
    return isnan(c->dry_since_d) || c->dried_out ? INFINITY : c->dries_d;
}

void tl_water_stops(const struct tl_model *m, double t_d, struct tl_controls *c)
{
    c->dry_since_d = t_d;
    c->dries_d = m->setup.tower.submerged ? INFINITY : t_d + tl_moist_d(m, t_d, c->wetted_at_m_h);
}

/* The tower has stopped or started: keep its wetted area, or give back the nitrogen it freed. */
static void tower_switched(const struct tl_model *m, double t_d, double old_load,
                           struct tl_controls *c, double *y)
{
    const double load = tl_load_m_h(m, c);

    if (load > 0) {
        c->wetted_at_m_h = load;
        c->dry_since_d = NAN;
        c->dries_d = INFINITY;
        c->dried_out = false;
        const double store = y[m->at.store];
        y[m->at.tank + TL_TAN] += store / m->setup.tank.volume_m3;
        y[m->at.tank + TL_ALK] += store / TL_N_G_PER_MOL / m->setup.tank.volume_m3;
        y[m->at.store_out] += store;
        y[m->at.store] = 0;
    } else if (old_load > 0) {
        tl_water_stops(m, t_d, c);
    }
}

bool tl_stop_apply(const struct tl_model *m, struct tl_work *w, const struct tl_stop *stop,
                   struct tl_saved *saved, struct tl_controls *c, double *y)
{
    const double old_flow = c->flow_m3_d;
    const double old_load = tl_load_m_h(m, c);

    tl_work_climate(m, w, tl_model_temperature(m, stop->t_d));
    switch (stop->kind) {
    case TL_STOP_RESTORE:
        restore(m, stop->index, &saved[stop->index], c, y);
        break;
    case TL_STOP_EVENT:
    case TL_STOP_DECHLORINATE:
        apply_event(m, w, &m->setup.event[stop->index], &saved[stop->index], c, y);
        break;
    case TL_STOP_CHANGE:
        change_water(m, w, m->setup.change_amount * m->setup.tank.volume_m3, y);
        break;
    case TL_STOP_EMPTY:
        clean_chamber(m, w, y);
        break;
    case TL_STOP_DOSING:
        tl_dose_hold(m, stop->t_d, y);
        break;
    case TL_STOP_MEAL:
        feed_meal(m, w, c, y);
        break;
    case TL_STOP_LOGGED_MEAL:
        feed_logged(m, w, m->setup.feeding.log.y[stop->index], y);
        break;
    case TL_STOP_FOUL:
    case TL_STOP_LIGHT:
        break;
    }
    c->flow_m3_d = m->stop_flow_m3_d[stop - m->stop];
    if (tl_load_m_h(m, c) != old_load)
        tower_switched(m, stop->t_d, old_load, c, y);
    return c->flow_m3_d != old_flow || tl_load_m_h(m, c) != old_load;
}
