/* Compiling a setup into a model: geometry, layout of the state, schedule; the state at the start. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "heat_course.h"
#include "model_private.h"
#include "schedule.h"
#include "towerloop/pump.h"
#include "towerloop/status.h"

/* Cells no deeper than this; the small allowance keeps 0.3 m at three cells. */
#define CELL_DEPTH_M 0.1
/* A tray whose open face is less than this share of its plan area has no algae. */
#define LEAST_OPEN 1e-6

static void lay_out(const struct tl_model *m, struct tl_layout *at)
{
    const size_t cells = (size_t)m->cells;
    const size_t lit = m->form.lit;
    const size_t green = m->form.green ? 1 : 0;
    const size_t formaldehyde = m->form.formaldehyde ? 1 : 0;
    size_t n = 0;
#define PLACE(field, count)                                                                        \
    at->field = n;                                                                                 \
    n += (count)
    PLACE(tank, TL_NWATER);
    PLACE(chamber, TL_NWATER);
    PLACE(sludge, 2);
    PLACE(tank_wall, TL_NFILM);
    PLACE(chamber_wall, TL_NFILM);
    PLACE(cell, cells * TL_NFILM);
    PLACE(fish, m->groups * TL_FISH_SLOTS);
    PLACE(store, 1);
    PLACE(dead, m->form.dead);
    PLACE(formaldehyde, formaldehyde);
    PLACE(mat, lit);
    PLACE(green, green);
    at->core = n;
    PLACE(extent_tank, TL_NWATER_PROCESS);
    PLACE(extent_chamber, TL_NCHAMBER_PROCESS);
    PLACE(extent_tower, TL_NTOWER_EXTENT);
    PLACE(extent_idle, 3);
    PLACE(extent_mat, lit > 0 ? TL_NALGAE_PROCESS : 0);
    PLACE(extent_green, green * TL_NALGAE_PROCESS);
    PLACE(gas_o2, TL_GAS_PATHS);
    PLACE(gas_tic, TL_GAS_PATHS);
    PLACE(source_in, TL_NWATER);
    PLACE(water_out, TL_NWATER);
    PLACE(dosed, TL_NWATER);
    PLACE(dosed_g, TL_NDOSE);
    PLACE(plan, TL_PLAN_SLOTS);
    PLACE(measured, TL_DOSES_SHOWN);
    PLACE(chlorine_lost, 1);
    PLACE(chlorine_met, 1);
    PLACE(fish_total, TL_FISH_TOTALS);
    PLACE(rotted, m->form.dead > 0 ? 1 : 0);
    PLACE(burnt, formaldehyde);
    PLACE(film_out, TL_NFILM);
    PLACE(sludge_out, 2);
    PLACE(store_out, 1);
    PLACE(algae_out, lit > 0 ? TL_ALGAE_OUTS : 0);
#undef PLACE
    at->size = n;
}

/* Names of all groups, those of the start first; a group added under a known name joins it. */
static int collect_groups(struct tl_model *m)
{
    const struct tl_setup *s = &m->setup;

    m->group = calloc(s->fish_groups + s->events + 1, sizeof *m->group);
    if (!m->group)
        return TL_E_MEMORY;
    for (size_t i = 0; i < s->fish_groups + s->events; i++) {
        const struct tl_fish *f;
        if (i < s->fish_groups)
            f = &s->fish[i];
        else if (s->event[i - s->fish_groups].kind == TL_EVENT_ADD_FISH)
            f = &s->event[i - s->fish_groups].fish;
        else
            continue;
        if (tl_group_index(m, f->name) == m->groups)
            memcpy(m->group[m->groups++], f->name, TL_NAME_SIZE);
    }
    return TL_OK;
}

size_t tl_group_index(const struct tl_model *m, const char *name)
{
    size_t i = 0;
    while (i < m->groups && strncmp(m->group[i], name, TL_NAME_SIZE) != 0)
        i++;
    return i;
}

static bool valid_basin(const struct tl_basin *b)
{
    return b->volume_m3 > 0 && isfinite(b->volume_m3) && b->surface_m2 >= 0 &&
           isfinite(b->surface_m2) && b->walls_m2 >= 0 && isfinite(b->walls_m2);
}

static bool valid_sun(const struct tl_setup *s)
{
    const struct tl_sun *sun = &s->sun;

    return sun->hours_d > 0 && sun->hours_d <= 1 && sun->noon_w_m2 >= 0 &&
           isfinite(sun->noon_w_m2) && sun->shaded >= 0 && sun->shaded <= 1 &&
           sun->tank_shaded >= 0 && sun->tank_shaded <= 1 && s->green_g_m3 >= 0 &&
           isfinite(s->green_g_m3);
}

static bool valid(const struct tl_setup *s)
{
    const struct tl_tower *t = &s->tower;

    return valid_basin(&s->tank) && valid_basin(&s->chamber) &&
           (s->emptying.every_d == 0 || s->emptying.every_d >= 1) && t->trays >= 1 &&
           t->media_depth_m > 0 && isfinite(t->media_depth_m) && t->plan_area_m2 > 0 &&
           isfinite(t->plan_area_m2) && t->specific_surface_m2_m3 > 0 && t->media_size_m > 0 &&
           t->void_fraction > 0 && tl_pump_valid(&s->pump) &&
           (s->pump.curve.n > 0 || (s->pump_flow_m3_d >= 0 && isfinite(s->pump_flow_m3_d))) &&
           (!s->sun.given || valid_sun(s)) && s->to_tower >= 0 && s->to_tower <= 1 &&
           s->length_d > 0 && isfinite(s->length_d) && s->start_d >= 0 && s->start_d < 1 &&
           (s->temperature.kind != TL_TEMPERATURE_WEATHER ||
            (s->weather.given && s->weather.air.kind != TL_TEMPERATURE_WEATHER));
}

/* Trays whose open face is worth looking at. */
static size_t lit_trays(const struct tl_setup *s)
{
    size_t lit = 0;
    for (double open = 1;
         s->sun.given && lit < (size_t)s->tower.trays && lit < TL_MOST_LIT && open >= LEAST_OPEN;
         open *= s->params.edge_algae)
        lit++;
    return lit;
}

static bool doses_formaldehyde(const struct tl_setup *s)
{
    bool any = false;
    for (size_t i = 0; i < s->events; i++)
        any =
            any || (s->event[i].kind == TL_EVENT_DOSE && s->event[i].dose == TL_DOSE_FORMALDEHYDE);
    return any;
}

/* What the right-hand side asks for. */
static void compile(struct tl_model *m)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_params *p = &s->params;
    const bool under = s->tower.submerged;
    const double capture = under ? p->capture_submerged : p->capture;
    const double slough = p->k_slough_tray * (under ? p->slough_submerged : 1);

    m->form = (struct tl_form){.cells = m->cells,
                               .cells_per_tray = m->cells_per_tray,
                               .groups = m->groups,
                               .lit = lit_trays(s),
                               .dead = tl_dead_before(s, s->events),
                               .formaldehyde = doses_formaldehyde(s),
                               .green = s->sun.given && s->green_g_m3 > 0,
                               .grows = s->feeding.grows,
                               .chloramine = s->source.chloramine,
                               .falls = s->params.fall_aeration > 0 && !s->tower.submerged,
                               .anoxic = s->params.eta_anoxic > 0};
    lay_out(m, &m->at);
    m->form.at = m->at;
    m->site = (struct tl_site){.tank_m3 = s->tank.volume_m3,
                               .tank_surface_m2 = s->tank.surface_m2,
                               .tank_wall_m2 = s->params.wall_share * s->tank.walls_m2,
                               .chamber_m3 = s->chamber.volume_m3,
                               .chamber_surface_m2 = s->chamber.surface_m2,
                               .chamber_wall_m2 = s->params.wall_share * s->chamber.walls_m2,
                               .tower_plan_m2 = s->tower.plan_area_m2,
                               .cell_capture = -expm1(-capture * m->cell_depth_m),
                               .cell_full_g = s->params.film_density * s->tower.void_fraction *
                                              s->tower.plan_area_m2 * m->cell_depth_m,
                               .slough_per_load = slough,
                               .trickle_m3_d = s->trickle_1_d * s->tank.volume_m3,
                               .protein = s->feeding.protein,
                               .feed_conversion = s->feeding.feed_conversion,
                               .media = {s->tower.specific_surface_m2_m3, s->tower.media_size_m,
                                         s->tower.critical_surface_tension_n_m},
                               .cell_media_m2 = m->cell_media_m2,
                               .submerged = s->tower.submerged,
                               .tray_drop_m = lane_weir_drop(s->tower.tray_gap_m),
                               .last_drop_m = lane_weir_drop(s->tower.lowest_tray_m)};
    tl_surroundings_make(s, m->pressure_atm, &m->site.around);
    memcpy(m->site.source, s->source.water, sizeof m->site.source);
}

/* Thiosulfate turns chlorine into chloride; of chloramine the ammonia stays. As where it meets the
 * demand of the water, the acid is left out. */
static void dechlorinate(struct tl_source *source)
{
    const double chlorine = source->water[TL_HOCL];

    if (!source->dechlorinated)
        return;
    source->water[TL_HOCL] = 0;
    source->water[TL_CL] += TL_CHLORIDE_PER_CHLORINE * chlorine;
    if (source->chloramine)
        source->water[TL_TAN] += TL_CHLORAMINE_N_PER_CHLORINE * chlorine;
}

int tl_model_build(const struct tl_setup *setup, struct tl_model **out)
{
    int status = TL_E_MEMORY;
    struct tl_model *m = calloc(1, sizeof *m);

    if (!m)
        return TL_E_MEMORY;
    if (!valid(setup)) {
        status = TL_E_INPUT;
        goto done;
    }
    status = tl_setup_copy(&m->setup, setup);
    if (status)
        goto done;
    status = collect_groups(m);
    if (status)
        goto done;
    struct tl_duty duty;
    status = tl_pump_duty(&m->setup, m->setup.pump.count, &duty);
    if (status)
        goto done;
    m->setup.pump_flow_m3_d = duty.flow_m3_d;

    m->tap_chlorine_g_m3 = m->setup.source.water[TL_HOCL];
    dechlorinate(&m->setup.source);
    const struct tl_setup *s = &m->setup;
    const struct tl_tower *t = &s->tower;
    tl_film_model_make(&s->params, &m->film);
    m->pressure_atm = tl_pressure_atm(s->elevation_m);
    m->cells_per_tray = (int)ceil(t->media_depth_m / CELL_DEPTH_M - 1e-9);
    if (m->cells_per_tray < 1)
        m->cells_per_tray = 1;
    m->cells = m->cells_per_tray * t->trays;
    m->cell_depth_m = t->media_depth_m / m->cells_per_tray;
    m->cell_media_m2 = t->plan_area_m2 * m->cell_depth_m * t->specific_surface_m2_m3;
    compile(m);

    status = tl_schedule_make(m);
    if (!status && s->temperature.kind == TL_TEMPERATURE_WEATHER)
        status = tl_heat_solve(m, TL_HEAT_STEP_D);
done:
    if (status)
        tl_model_free(m);
    else
        *out = m;
    return status;
}

void tl_model_free(struct tl_model *m)
{
    if (!m)
        return;
    tl_setup_free(&m->setup);
    free(m->group);
    free(m->stop);
    free(m->stop_flow_m3_d);
    tl_heat_course_free(m->heat);
    free(m);
}

const struct tl_setup *tl_model_setup(const struct tl_model *m)
{
    return &m->setup;
}

double tl_model_last_flow_m3_d(const struct tl_model *m)
{
    return m->stops > 0 ? m->stop_flow_m3_d[m->stops - 1] : m->setup.pump_flow_m3_d;
}

double tl_model_least_flow_m3_d(const struct tl_model *m)
{
    double least_m3_d = m->setup.pump_flow_m3_d;
    for (size_t i = 0; i < m->stops; i++)
        if (m->stop_flow_m3_d[i] > 0 && !(least_m3_d > 0 && least_m3_d <= m->stop_flow_m3_d[i]))
            least_m3_d = m->stop_flow_m3_d[i];
    return least_m3_d;
}

const struct tl_layout *tl_model_layout(const struct tl_model *m)
{
    return &m->at;
}

double tl_model_temperature(const struct tl_model *m, double t_d)
{
    return m->heat ? tl_heat_course_degC(m->heat, t_d)
                   : tl_water_temperature_at(&m->setup.temperature, t_d);
}

const struct tl_heat_course *tl_model_heat(const struct tl_model *m)
{
    return m->heat;
}

double tl_model_gut_rate(const struct tl_model *m, double t_d)
{
    return tl_gut_rate(&m->setup.params, tl_model_temperature(m, t_d));
}

/* --- workspace ---------------------------------------------------------------------------- */

int tl_work_new(const struct tl_model *m, struct tl_work **out)
{
    struct tl_work *w = calloc(1, sizeof *w);

    if (!w)
        return TL_E_MEMORY;
    w->cell = calloc((size_t)m->cells, sizeof *w->cell);
    w->block = calloc((size_t)m->cells / TL_BLOCK + 1, sizeof *w->block);
    if (!w->cell || !w->block) {
        tl_work_free(w);
        return TL_E_MEMORY;
    }
    for (int i = 0; i < m->cells; i++)
        w->cell[i].h_ratio = 1;
    w->climate.t_degC = NAN;
    w->wet_t_degC = NAN;
    w->glance_degC = NAN;
    w->spread = 1;
    w->tank_h = 1e-8;
    w->chamber_h = 1e-8;
    *out = w;
    return TL_OK;
}

void tl_work_free(struct tl_work *w)
{
    if (!w)
        return;
    free(w->cell);
    free(w->block);
    free(w);
}

int tl_work_fault_tray(const struct tl_work *w)
{
    return w->fault_tray;
}

void tl_work_clear_fault(struct tl_work *w)
{
    w->fault_tray = 0;
}

void tl_work_climate(const struct tl_model *m, struct tl_work *w, double t_degC)
{
    if (w->climate.t_degC != t_degC)
        lane_climate_at(&m->film.p, &m->site.around, t_degC, &w->climate);
}

void tl_work_wetting(const struct tl_model *m, struct tl_work *w, double load_m_h)
{
    if (w->wet_t_degC == w->climate.t_degC && w->wet_load_m_h == load_m_h)
        return;
    w->wet_t_degC = w->climate.t_degC;
    w->wet_load_m_h = load_m_h;
    lane_wet(&m->site, load_m_h, w->climate.t_degC, w);
}

/* --- start -------------------------------------------------------------------------------- */

/* Load for the wetted area while nothing flows and nothing has flowed: common practice calls
 * 1.25 m/h the least that wets a tower. */
#define LEAST_LOAD_M_H 1.25

static void start_film(const struct tl_setup *s, double *film)
{
    const struct tl_params *p = &s->params;
    const double mature[TL_NFILM] = {p->mature_aob, p->mature_nob, p->mature_het, p->mature_trapped,
                                     p->mature_inert};
    const double fresh[TL_NFILM] = {p->new_aob, p->new_nob, p->new_het, 0, 0};

    for (int i = 0; i < TL_NFILM; i++) {
        if (s->tower.biofilm == TL_BIOFILM_NEW)
            film[i] = fresh[i];
        else if (s->tower.biofilm == TL_BIOFILM_SEEDED)
            film[i] = s->tower.seeded_share * mature[i];
        else
            film[i] = mature[i];
    }
}

int tl_model_start(const struct tl_model *m, struct tl_controls *c, double *y)
{
    const struct tl_setup *s = &m->setup;
    const struct tl_layout *at = &m->at;
    struct tl_work *w;
    double film[TL_NFILM];

    int status = tl_work_new(m, &w);
    if (status)
        return status;
    memset(y, 0, at->size * sizeof *y);
    *c = (struct tl_controls){.flow_m3_d = s->pump_flow_m3_d,
                              .to_tower = s->to_tower,
                              .aerator_g_d = s->aerator_g_d,
                              .cover = s->cover,
                              .dry_since_d = NAN,
                              .dries_d = INFINITY,
                              .wetted_at_m_h = LEAST_LOAD_M_H,
                              .ration = &s->feeding.ration};
    if (tl_load_m_h(m, c) > 0)
        c->wetted_at_m_h = tl_load_m_h(m, c);
    else
        tl_water_stops(m, s->start_d, c);

    /* both waters as the scenario says */
    tl_work_climate(m, w, tl_model_temperature(m, s->start_d));
    const struct tl_source *src = &s->starting;
    double water[TL_NWATER];
    memcpy(water, src->water, sizeof water);
    water[TL_TIC] =
        tl_tic_from_h(&w->climate.k, src->water[TL_ALK], pow(10, -src->ph), src->water[TL_TAN]);
    if (!src->o2_given)
        water[TL_O2] = tl_o2_saturation_in(&w->climate, water);
    memcpy(&y[at->tank], water, sizeof water);
    memcpy(&y[at->chamber], water, sizeof water);

    /* films on all wetted surfaces */
    start_film(s, film);
    tl_work_wetting(m, w, c->wetted_at_m_h);
    for (int i = 0; i < TL_NFILM; i++) {
        y[at->tank_wall + (size_t)i] = film[i] * m->site.tank_wall_m2;
        y[at->chamber_wall + (size_t)i] = film[i] * m->site.chamber_wall_m2;
        for (int j = 0; j < m->cells; j++)
            y[at->cell + (size_t)(j * TL_NFILM + i)] = film[i] * w->cell_wet_m2;
    }

    for (size_t i = 0; i < s->fish_groups; i++)
        tl_fish_join(m, &s->fish[i], y);
    if (m->form.green)
        y[at->green] = s->green_g_m3 * (s->tank.volume_m3 + s->chamber.volume_m3);
    tl_work_free(w);
    return TL_OK;
}

/* Algae, dead fish and formaldehyde that hardly matter. */
#define SMALL_MAT_G_M2   0.1
#define SMALL_GREEN_G_M3 0.1
#define SMALL_DEAD_KG    0.01
#define SMALL_DRUG_G_M3  0.1

void tl_model_scales(const struct tl_model *m, double *scale)
{
    static const double water[TL_NWATER] = {
        [TL_TAN] = 0.05, [TL_NO2] = 0.05, [TL_NO3] = 0.5,    [TL_O2] = 0.5,
        [TL_ALK] = 0.1,  [TL_TIC] = 0.1,  [TL_SS] = 2,       [TL_XS] = 5,
        [TL_XI] = 5,     [TL_CL] = 1,     [TL_HOCL] = 0.001,
    };
    static const double film[TL_NFILM] = {1e-4, 1e-4, 1e-3, 1e-2, 1e-2};
    const struct tl_layout *at = &m->at;

    for (size_t i = 0; i < at->core; i++)
        scale[i] = 1;
    for (size_t i = at->core; i < at->size; i++)
        scale[i] = 1e30;
    for (size_t i = 0; i < TL_NWATER; i++) {
        scale[at->tank + i] = water[i];
        scale[at->chamber + i] = water[i];
    }
    for (size_t i = 0; i < TL_NFILM; i++) {
        scale[at->tank_wall + i] = film[i] * fmax(m->site.tank_wall_m2, 0.01);
        scale[at->chamber_wall + i] = film[i] * fmax(m->site.chamber_wall_m2, 0.01);
        for (size_t j = 0; j < (size_t)m->cells; j++)
            scale[at->cell + j * TL_NFILM + i] = film[i] * 0.5 * m->cell_media_m2;
    }
    scale[at->store] = 0.1;
    for (size_t j = 0; j < m->form.dead; j++)
        scale[at->dead + j] = SMALL_DEAD_KG;
    if (m->form.formaldehyde)
        scale[at->formaldehyde] = SMALL_DRUG_G_M3 * (m->site.tank_m3 + m->site.chamber_m3);
    double open_m2 = m->site.tower_plan_m2;
    for (size_t j = 0; j < m->form.lit; j++) {
        scale[at->mat + j] = SMALL_MAT_G_M2 * open_m2;
        open_m2 *= m->setup.params.edge_algae;
    }
    if (m->form.green)
        scale[at->green] = SMALL_GREEN_G_M3 * (m->site.tank_m3 + m->site.chamber_m3);
}

/* --- names -------------------------------------------------------------------------------- */

void tl_model_component_name(const struct tl_model *m, size_t i, char *text, size_t size)
{
    static const char *const water[TL_NWATER] = {
#define WATER_NAME(id, name, longname, unit) longname,
        TL_WATER_LIST(WATER_NAME)
#undef WATER_NAME
    };
    static const char *const film[TL_NFILM] = {
#define FILM_NAME(id, name, longname) longname,
        TL_FILM_LIST(FILM_NAME)
#undef FILM_NAME
    };
    const struct tl_layout *at = &m->at;

    if (i < at->chamber)
        (void)snprintf(text, size, "%s in the tank", water[i - at->tank]);
    else if (i < at->sludge)
        (void)snprintf(text, size, "%s in the settling chamber", water[i - at->chamber]);
    else if (i < at->tank_wall)
        (void)snprintf(text, size, "sludge in the settling chamber");
    else if (i < at->chamber_wall)
        (void)snprintf(text, size, "%s on the tank's walls", film[i - at->tank_wall]);
    else if (i < at->cell)
        (void)snprintf(text, size, "%s on the settling chamber's walls",
                       film[i - at->chamber_wall]);
    else if (i < at->fish)
        (void)snprintf(text, size, "%s in tray %zu", film[(i - at->cell) % TL_NFILM],
                       (i - at->cell) / TL_NFILM / (size_t)m->cells_per_tray + 1);
    else if (i < at->store)
        (void)snprintf(text, size, "fish group '%s'", m->group[(i - at->fish) / TL_FISH_SLOTS]);
    else if (i < at->dead)
        (void)snprintf(text, size, "nitrogen freed in the standing tower");
    else if (i < at->formaldehyde)
        (void)snprintf(text, size, "dead fish in the tank");
    else if (i < at->mat)
        (void)snprintf(text, size, "formaldehyde");
    else if (i < at->green)
        (void)snprintf(text, size, "algae on tray %zu", i - at->mat + 1);
    else if (i < at->core)
        (void)snprintf(text, size, "green water");
    else
        (void)snprintf(text, size, "a running total");
}
