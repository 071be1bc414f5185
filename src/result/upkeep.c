/* Follows what has to do with upkeep, day by day. */
#include "towerloop/upkeep.h"

#include <math.h>
#include <stdlib.h>

#include "loop.h"
#include "towerloop/chem.h"
#include "towerloop/heat_course.h"
#include "towerloop/status.h"

#define ROUNDING_D 1e-6
#define LEAST_G    1e-6 /* less is rounding of the totals */

int tl_upkeep_begin(struct tl_upkeep *u, const struct tl_model *m)
{
    const struct tl_setup *s = tl_model_setup(m);
    *u = (struct tl_upkeep){.days = (size_t)ceil(s->start_d + s->length_d) + 1};
    u->day = calloc(u->days, sizeof *u->day);
    u->trays = s->tower.trays;
    u->voids_filled = calloc(u->days * (size_t)u->trays + 1, sizeof *u->voids_filled);
    if (!u->day || !u->voids_filled) {
        tl_upkeep_free(u);
        return TL_E_MEMORY;
    }
    for (size_t i = 0; i < u->days; i++)
        u->day[i] = (struct tl_upkeep_day){.alk_least_eq_m3 = INFINITY,
                                           .water_least_degC = INFINITY,
                                           .water_most_degC = -INFINITY,
                                           .air_least_degC = INFINITY};
    return TL_OK;
}

void tl_upkeep_free(struct tl_upkeep *u)
{
    free(u->day);
    free(u->voids_filled);
    free(u->dose);
    *u = (struct tl_upkeep){0};
}

double tl_upkeep_voids_filled(const struct tl_upkeep *u, size_t day, int tray)
{
    double filled = 0;
    for (int i = 0; u->voids_filled && day < u->days && i < u->trays; i++)
        if (tray == 0 || i + 1 == tray)
            filled = fmax(filled, u->voids_filled[day * (size_t)u->trays + (size_t)i]);
    return filled;
}

static double top_up_m3(const struct tl_model *m, double day)
{
    const struct tl_heat_course *h = tl_model_heat(m);
    return h ? tl_heat_course_total(h, h->top_up_m3, day + 1) -
                   tl_heat_course_total(h, h->top_up_m3, day)
             : 0;
}

static void begin_day(struct tl_upkeep *u, const struct tl_model *m, size_t day, const double *y)
{
    struct tl_upkeep_day *d = &u->day[day];
    d->top_up_m3 = top_up_m3(m, (double)day);
    d->chamber_filled = tl_model_chamber_filled(m, y);
    for (int i = 0; i < u->trays; i++)
        u->voids_filled[day * (size_t)u->trays + (size_t)i] = tl_model_voids_filled(m, y, i);
    d->top_cover = tl_model_lit_trays(m) > 0 ? tl_model_cover(m, y, 0) : 0;
}

/* The look that a dose seen by `t_d` was given at. */
static double look_d(const struct tl_dosing *d, double t_d)
{
    if (!(d->every_d > 0))
        return t_d;
    const double first = d->at_s / 86400.0;
    return first + floor((t_d + ROUNDING_D - first) / d->every_d) * d->every_d;
}

static int note_dose(struct tl_upkeep *u, struct tl_upkeep_dose dose)
{
    if (!(dose.mass_g > LEAST_G))
        return TL_OK;
    if (u->doses == u->room) {
        const size_t room = u->room ? 2 * u->room : 32;
        struct tl_upkeep_dose *grown = realloc(u->dose, room * sizeof *grown);
        if (!grown)
            return TL_E_MEMORY;
        u->dose = grown;
        u->room = room;
    }
    u->dose[u->doses++] = dose;
    return TL_OK;
}

static int see_doses(struct tl_upkeep *u, const struct tl_model *m, double t_d,
                     const double *totals)
{
    const struct tl_layout *at = tl_model_layout(m);
    const double held_g = totals[at->plan + TL_PLAN_G] - u->held_g;
    int status =
        note_dose(u, (struct tl_upkeep_dose){.at_d = look_d(&tl_model_setup(m)->dosing, t_d),
                                             .mass_g = held_g,
                                             .dose = TL_DOSE_BAKING_SODA,
                                             .held = true});
    u->held_g += held_g;
    for (int k = 0; k < TL_NDOSE && !status; k++) {
        const double mass_g = totals[at->dosed_g + (size_t)k] - u->dosed_g[k];
        u->dosed_g[k] += mass_g;
        status = note_dose(
            u, (struct tl_upkeep_dose){.at_d = t_d,
                                       .mass_g = mass_g - (k == TL_DOSE_BAKING_SODA ? held_g : 0),
                                       .dose = (enum tl_dose)k});
    }
    return status;
}

int tl_upkeep_see(struct tl_upkeep *u, const struct tl_model *m, const struct tl_snapshot *glance,
                  const double *y, const double *totals)
{
    const struct tl_setup *s = tl_model_setup(m);
    const struct tl_layout *at = tl_model_layout(m);
    const size_t today = (size_t)fmax(floor(glance->t_d + ROUNDING_D), 0);
    const double fed_g = totals[at->fish_total + TL_FED_G] + totals[at->fish_total + TL_UNEATEN_G];

    if (today >= u->days)
        return TL_OK;
    struct tl_upkeep_day *d = &u->day[today];
    if (d->samples++ == 0)
        begin_day(u, m, today, y);
    d->alk_least_eq_m3 = fmin(d->alk_least_eq_m3, glance->tank[TL_ALK]);
    d->tan_most_gN_m3 = fmax(d->tan_most_gN_m3, glance->tank[TL_TAN]);
    d->nh3_most_gN_m3 =
        fmax(d->nh3_most_gN_m3,
             glance->tank[TL_TAN] * tl_nh3_fraction(glance->temperature_degC, glance->tank_ph));
    d->no2_most_gN_m3 = fmax(d->no2_most_gN_m3, glance->tank[TL_NO2]);
    d->ph_most = fmax(d->ph_most, glance->tank_ph);
    d->water_least_degC = fmin(d->water_least_degC, glance->temperature_degC);
    d->water_most_degC = fmax(d->water_most_degC, glance->temperature_degC);
    if (tl_model_heat(m) && glance->tower_on)
        d->air_least_degC =
            fmin(d->air_least_degC, tl_temperature_at(&s->weather.air, glance->t_d));
    d->fed_g += fed_g - u->fed_g;
    u->fed_g = fed_g;
    d->fish_kg = fmax(d->fish_kg, glance->fish_kg);
    return see_doses(u, m, glance->t_d, totals);
}
