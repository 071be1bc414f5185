/* Doses: a mass that was said, or what tank and chamber lack at that moment. All of it goes into the
 * tank at once, and is booked. */
#include <math.h>

#include "model_private.h"
#include "schedule.h"
#include "towerloop/shock.h"

#define ROUNDING 1e-9 /* what is left of a dose before is no lack */

/* One gram of each substance put into the tank: what it adds. Thiosulfate takes chlorine away. */
static const struct {
    double tan_g, alk_eq, tic_mol, chloride_g;
} per_g[TL_NDOSE] = {
    [TL_DOSE_BAKING_SODA] = {.alk_eq = 1 / TL_BAKING_SODA_G_PER_EQ,
                             .tic_mol = 1 / TL_BAKING_SODA_G_PER_EQ},
    [TL_DOSE_SALT] = {.chloride_g = TL_CHLORIDE_G_PER_G_SALT},
    [TL_DOSE_AMMONIUM_CHLORIDE] = {.tan_g = TL_TAN_G_PER_G_AMMONIUM_CHLORIDE, .chloride_g = 0.6628},
};

/* As where chlorine meets the demand of the water (loop.c), only at once. What is left of the dose is
 * not counted on. */
static void dechlorinate(const struct tl_model *m, double mass_g, double *y)
{
    const struct tl_setup *s = &m->setup;
    const double volume = s->tank.volume_m3;
    double *tank = &y[m->at.tank];
    const double lost = fmin(mass_g / s->params.thiosulfate_per_chlorine, volume * tank[TL_HOCL]);

    if (!(lost > 0))
        return;
    tank[TL_HOCL] = fmax(tank[TL_HOCL] - lost / volume, 0);
    tank[TL_CL] += TL_CHLORIDE_PER_CHLORINE * lost / volume;
    if (s->source.chloramine)
        tank[TL_TAN] += TL_CHLORAMINE_N_PER_CHLORINE * lost / volume;
    y[m->at.chlorine_lost] += lost;
}

static void add(const struct tl_model *m, enum tl_dose kind, double mass_g, double *y)
{
    const double more[TL_NWATER] = {[TL_TAN] = mass_g * per_g[kind].tan_g,
                                    [TL_ALK] = mass_g * per_g[kind].alk_eq,
                                    [TL_TIC] = mass_g * per_g[kind].tic_mol,
                                    [TL_CL] = mass_g * per_g[kind].chloride_g};
    for (int k = 0; k < TL_NWATER; k++) {
        y[m->at.tank + (size_t)k] += more[k] / m->setup.tank.volume_m3;
        y[m->at.dosed + (size_t)k] += more[k];
    }
    if (kind == TL_DOSE_THIOSULFATE)
        dechlorinate(m, mass_g, y);
    if (kind == TL_DOSE_FORMALDEHYDE)
        y[m->at.formaldehyde] += mass_g;
    y[m->at.dosed_g + (size_t)kind] += mass_g;
}

/* What a dose does to films, once it has mixed with tank and chamber. */
static void shock(const struct tl_model *m, enum tl_dose kind, double mass_g, double *y)
{
    const struct tl_setup *s = &m->setup;
    const double both_m3 = s->tank.volume_m3 + s->chamber.volume_m3;
    double killed = tl_medicine_kill(kind, mass_g / both_m3);

    if (kind == TL_DOSE_SALT) {
        const double now = (s->tank.volume_m3 * y[m->at.tank + TL_CL] +
                            s->chamber.volume_m3 * y[m->at.chamber + TL_CL]) /
                           both_m3 / TL_CHLORIDE_G_PER_G_SALT;
        killed = tl_salt_kill(now - mass_g / both_m3, now);
    }
    if (killed > 0)
        tl_kill(m, killed, TL_WHERE_ALL, y);
}

/* How much of a component tank and chamber together lack to hold this much per volume. */
static double lacking(const struct tl_model *m, enum tl_water_component k, double wanted,
                      const double *y)
{
    const struct tl_setup *s = &m->setup;
    const double has =
        s->tank.volume_m3 * y[m->at.tank + k] + s->chamber.volume_m3 * y[m->at.chamber + k];
    const double full = wanted * (s->tank.volume_m3 + s->chamber.volume_m3);
    return full - has > ROUNDING * full ? full - has : 0;
}

static double soda_to_g(const struct tl_model *m, double alkalinity_eq_m3, const double *y)
{
    return lacking(m, TL_ALK, alkalinity_eq_m3, y) * TL_BAKING_SODA_G_PER_EQ;
}

static double mass_of(const struct tl_model *m, const struct tl_event *e, const double *y)
{
    double wanted = e->value;

    if (e->by == TL_DOSE_MASS)
        return e->value;
    if (e->dose == TL_DOSE_BAKING_SODA)
        return soda_to_g(m, wanted, y);
    if (tl_dose_is_medicine(e->dose))
        return wanted * (m->setup.tank.volume_m3 + m->setup.chamber.volume_m3);
    if (e->by == TL_DOSE_TO_RATIO)
        wanted *= fmax(y[m->at.tank + TL_NO2], 0);
    return lacking(m, TL_CL, wanted, y) / TL_CHLORIDE_G_PER_G_SALT;
}

static bool is_measured(const struct tl_event *e)
{
    return e->kind == TL_EVENT_DOSE && e->by != TL_DOSE_MASS;
}

void tl_dose(const struct tl_model *m, size_t event, double *y)
{
    const struct tl_event *e = &m->setup.event[event];
    const double mass_g = mass_of(m, e, y);

    add(m, e->dose, mass_g, y);
    shock(m, e->dose, mass_g, y);
    if (!is_measured(e))
        return;
    size_t before = 0;
    for (size_t i = 0; i < event; i++)
        before += is_measured(&m->setup.event[i]);
    if (before < TL_DOSES_SHOWN)
        y[m->at.measured + before] = mass_g;
}

void tl_dose_hold(const struct tl_model *m, double t_d, double *y)
{
    const struct tl_dosing *d = &m->setup.dosing;
    const double wanted_g = soda_to_g(m, d->hold_alkalinity_eq_m3, y);
    const double mass_g = fmin(wanted_g, d->at_most_g);
    double *plan = &y[m->at.plan];

    if (!(mass_g > 0))
        return;
    add(m, TL_DOSE_BAKING_SODA, mass_g, y);
    plan[TL_PLAN_G] += mass_g;
    plan[TL_PLAN_TIMES] += 1;
    plan[TL_PLAN_SHORT] += mass_g < (1 - ROUNDING) * wanted_g;
    if (mass_g > plan[TL_PLAN_MOST_G]) {
        plan[TL_PLAN_MOST_G] = mass_g;
        plan[TL_PLAN_MOST_D] = t_d;
    }
}

void tl_model_doses(const struct tl_model *m, const double *y, struct tl_doses *out)
{
    const struct tl_setup *s = &m->setup;
    const double *plan = &y[m->at.plan];

    *out = (struct tl_doses){.chlorine_g_d_m3 = fmax(y[m->at.chlorine_met], 0),
                             .held_g = plan[TL_PLAN_G],
                             .held_most_g = plan[TL_PLAN_MOST_G],
                             .held_most_d = plan[TL_PLAN_MOST_D],
                             .held_times = plan[TL_PLAN_TIMES],
                             .held_short = plan[TL_PLAN_SHORT]};
    for (int k = 0; k < TL_NDOSE; k++)
        out->mass_g[k] = y[m->at.dosed_g + (size_t)k];
    for (size_t i = 0; i < s->events; i++) {
        if (!is_measured(&s->event[i]))
            continue;
        if (out->measured < TL_DOSES_SHOWN) {
            out->event[out->measured] = i;
            out->event_g[out->measured] = y[m->at.measured + out->measured];
        }
        out->measured++;
    }
}
