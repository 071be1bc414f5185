/* Notes which inputs of published equations left the published range. */
#include "towerloop/ranges.h"

#include <math.h>
#include <string.h>

#include "derived.h"
#include "towerloop/chem.h"
#include "towerloop/shock.h"
#include "towerloop/verdict.h"

static void look(struct tl_ranges *r, enum tl_range_id id, double t_d, double value)
{
    struct tl_range_note *n = &r->note[id];
    /* rounding (a pump at exactly 40 m/h) is not outside */
    const double slack = 1e-9 * fabs(n->high);
    double outside = fmax(value - n->high, n->low - value);
    if (!(outside > slack))
        return;
    if (!n->outside) {
        n->outside = true;
        n->first_d = t_d;
        n->value = value;
    } else if (outside > fmax(n->value - n->high, n->low - n->value)) {
        n->value = value;
    }
}

/* All of it is known before the run. */
static void look_at_medicine(struct tl_ranges *r, const struct tl_setup *s)
{
    for (size_t i = 0; i < s->events; i++) {
        const struct tl_event *e = &s->event[i];
        if (e->kind != TL_EVENT_DOSE || !tl_dose_is_medicine(e->dose) || e->at_d < s->start_d ||
            e->at_d > s->start_d + s->length_d)
            continue;
        look(r, (enum tl_range_id)(TL_RANGE_FORMALDEHYDE + (e->dose - TL_DOSE_FORMALDEHYDE)),
             e->at_d, tl_medicine_content_g_m3(s, e));
    }
}

void tl_ranges_init(struct tl_ranges *r, const struct tl_setup *setup, bool epa)
{
    static const struct tl_range_note rows[TL_NRANGE] = {
#define ROW(id, what_, unit_, lo, hi, use_, source_)                                               \
    [id] = {.what = what_,                                                                         \
            .unit = unit_,                                                                         \
            .use = use_,                                                                           \
            .source = source_,                                                                     \
            .low = lo,                                                                             \
            .high = hi,                                                                            \
            .value = NAN,                                                                          \
            .first_d = NAN},
        TL_RANGE_LIST(ROW)
#undef ROW
    };
    memcpy(r->note, rows, sizeof rows);
    r->plan_area_m2 = setup->tower.submerged ? 0 : setup->tower.plan_area_m2;
    r->media_size_m = setup->tower.media_size_m;
    r->media_m2_m3 = setup->tower.specific_surface_m2_m3;
    r->void_fraction = setup->tower.void_fraction;
    r->may_pond_m_h =
        tl_load_that_fills_m_h(r->media_m2_m3, r->void_fraction, TL_MOST_VOIDS_FILLED, 0);
    r->gas_from_d = r->gas_last_d = NAN;
    r->epa = epa;
    look_at_medicine(r, setup);
}

#define SLACK_D 1e-9

static void look_at_gas(struct tl_ranges *r, const struct tl_snapshot *s)
{
    const double pct =
        100 * s->tank[TL_O2] /
        tl_o2_saturation(s->temperature_degC, tl_salinity_g_kg(fmax(0.0, s->tank[TL_CL])),
                         s->pressure_atm);
    if (!(pct > TL_SUPERSATURATED_PCT))
        return;
    if (!(s->t_d - r->gas_last_d <= TL_VERDICT_PERIOD_D + SLACK_D))
        r->gas_from_d = s->t_d;
    r->gas_last_d = s->t_d;
    if (s->t_d - r->gas_from_d >= TL_SUPERSATURATED_D - SLACK_D)
        look(r, TL_RANGE_SUPERSATURATION, s->t_d, pct);
}

void tl_ranges_add(struct tl_ranges *r, const struct tl_snapshot *s)
{
    look(r, TL_RANGE_O2_TEMPERATURE, s->t_d, s->temperature_degC);
    look(r, TL_RANGE_PRESSURE, s->t_d, s->pressure_atm);
    look(r, TL_RANGE_SALINITY, s->t_d, tl_salinity_g_kg(fmax(0.0, s->tank[TL_CL])));
    if (r->epa) {
        look(r, TL_RANGE_EPA_TEMPERATURE, s->t_d, s->temperature_degC);
        look(r, TL_RANGE_EPA_PH, s->t_d, s->tank_ph);
    }
    if (s->fish_kg > 0) {
        look(r, TL_RANGE_FISH_TEMPERATURE, s->t_d, s->temperature_degC);
        look_at_gas(r, s);
    }
    if (s->tower_flow_m3_d > 0 && r->plan_area_m2 > 0) {
        const double load_m_h = s->tower_flow_m3_d / 24.0 / r->plan_area_m2;
        look(r, TL_RANGE_LOAD, s->t_d, load_m_h);
        look(r, TL_RANGE_MEDIA_SIZE, s->t_d, 1000 * r->media_size_m);
        look(r, TL_RANGE_MEDIA_SHAPE, s->t_d, r->media_m2_m3 * r->media_size_m);
        if (load_m_h > r->may_pond_m_h)
            look(r, TL_RANGE_PONDING, s->t_d,
                 100 * tl_water_in_voids(r->media_m2_m3, r->void_fraction, load_m_h,
                                         s->temperature_degC));
    }
}

int tl_ranges_outside(const struct tl_ranges *r)
{
    int n = 0;
    for (int i = 0; i < TL_NRANGE; i++)
        n += r->note[i].outside;
    return n;
}
