/* Doses that the water of this loop does not bear. What is too much follows from its volume, its pH
 * and the limits, and the message says the figure. Each dose is looked at by itself, in the water of
 * the start: what was dosed before is not known here. */
#include <math.h>

#include "reader.h"
#include "towerloop/chem.h"
#include "towerloop/shock.h"

struct water {
    double alk_eq_m3, ph, chloride_g_m3;
    double t_degC, warmest_degC; /* the middle of what it comes to, and the most */
    double pressure_atm;
};

static struct water water_of(const struct tl_setup *s, double coldest_degC, double warmest_degC)
{
    return (struct water){.alk_eq_m3 = s->starting.water[TL_ALK],
                          .ph = s->starting.ph,
                          .chloride_g_m3 = s->starting.water[TL_CL],
                          .t_degC = (coldest_degC + warmest_degC) / 2,
                          .warmest_degC = warmest_degC,
                          .pressure_atm = tl_pressure_atm(s->elevation_m)};
}

/* The pH that water of this alkalinity comes to in contact with the air. */
static double ph_in_air(const struct tl_setup *s, const struct water *w, double alk_eq_m3)
{
    struct tl_carbonate k;
    double low = 4;
    double high = 12;
    tl_carbonate_constants(w->t_degC, &k);
    const double co2 = tl_co2_saturation(&k, s->params.co2_in_air, w->pressure_atm);
    for (int i = 0; i < 50; i++) {
        const double ph = (low + high) / 2;
        const double h = pow(10, -ph);
        if (tl_co2_mol_m3(&k, h, tl_tic_from_h(&k, alk_eq_m3, h, 0)) < co2)
            high = ph; /* it would take carbon dioxide up */
        else
            low = ph;
    }
    return (low + high) / 2;
}

/* Baking soda: the pH does not jump when it goes in, but climbs as its carbon dioxide leaves. */
static void check_soda(struct tl_reader *r, struct tl_node *n, const struct water *w,
                       double alk_eq_m3)
{
    const struct tl_limits *l = &r->draft->s.limits;
    const struct tl_setup *s = &r->draft->s.setup;
    const double before = ph_in_air(s, w, w->alk_eq_m3);
    const double after = ph_in_air(s, w, alk_eq_m3);
    const double alk = alk_eq_m3 * TL_CACO3_G_PER_EQ;
    if (after > l->ph_high.danger)
        tl_warn(r, n,
                "this baking soda brings the alkalinity to %.0f mg/L as CaCO3; once the air has "
                "taken its carbon dioxide the pH is %.3g, and %.3g is danger",
                alk, after, l->ph_high.danger);
    else if (after - before > l->ph_swing.danger)
        tl_warn(r, n,
                "this baking soda brings the alkalinity from %.0f to %.0f mg/L as CaCO3 at once, "
                "and the pH in contact with the air from %.3g to %.3g; %.2g within a day is danger",
                w->alk_eq_m3 * TL_CACO3_G_PER_EQ, alk, before, after, l->ph_swing.danger);
}

/* 2 mol of oxygen a mol of pentahydrate, when it is oxidised to sulphate: from atomic masses. */
#define OXYGEN_G_PER_G_THIOSULFATE (2 * 31.998 / 248.186)

static void check_thiosulfate(struct tl_reader *r, struct tl_node *n, const struct water *w,
                              double mass_g)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double volume_m3 = s->tank.volume_m3;
    const double chlorine = fmax(s->source.water[TL_HOCL], s->starting.water[TL_HOCL]);
    const double needed_g = volume_m3 * chlorine * s->params.thiosulfate_per_chlorine;
    const double oxygen = (mass_g - needed_g) * OXYGEN_G_PER_G_THIOSULFATE / volume_m3;
    const double spare =
        tl_o2_saturation(w->t_degC, 0, w->pressure_atm) - r->draft->s.limits.o2.caution;
    if (oxygen > spare)
        tl_warn(r, n,
                "of this sodium thiosulfate %.3g g are enough for all the chlorine a tankful can "
                "hold; the rest can take up to %.3g mg/L of oxygen from the water, which has %.2g "
                "to spare above its caution",
                needed_g, oxygen, fmax(spare, 0));
}

/* Free ammonia at which nitrite oxidisers begin to be held back, 0.1 to 1 mg/L: Anthonisen et al.
 * 1976. The upper end, since who starts a filter doses on purpose. */
#define HELD_BACK_GN_M3 1.0

static bool fish_are_in(const struct tl_setup *s, double t_d)
{
    bool any = false;
    for (size_t i = 0; i < s->fish_groups; i++)
        any = any || s->fish[i].count > 0;
    for (size_t i = 0; i < s->events; i++)
        any = any || (s->event[i].kind == TL_EVENT_ADD_FISH && s->event[i].at_d <= t_d);
    return any;
}

static void check_ammonium(struct tl_reader *r, struct tl_node *n, const struct water *w,
                           const struct tl_event *e)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double danger = r->draft->s.limits.nh3.danger;
    const double tan = e->value * TL_TAN_G_PER_G_AMMONIUM_CHLORIDE / s->tank.volume_m3;
    const double nh3 = tan * tl_nh3_fraction(w->warmest_degC, w->ph);
    const bool fish = fish_are_in(s, e->at_d);
    if (fish && nh3 > danger)
        tl_warn(r, n,
                "this ammonium chloride adds %.3g mg/L of ammonia as N, %.2g of it un-ionised at "
                "pH %.3g; fish are in the water, and %.2g is danger to them",
                tan, nh3, w->ph, danger);
    else if (!fish && nh3 > HELD_BACK_GN_M3)
        tl_warn(r, n,
                "this ammonium chloride adds %.3g mg/L of ammonia as N, %.2g of it un-ionised at "
                "pH %.3g; nitrite oxidisers are held back by that much, so the filter starts later",
                tan, nh3, w->ph);
}

#define KILL_TOLD 0.01 /* of the film */

/* Salt that carp do not bear, by the limit of chloride, and what it does to the filter. */
static void check_salt(struct tl_reader *r, struct tl_node *n, const struct water *w,
                       const struct tl_event *e)
{
    const struct tl_setup *s = &r->draft->s.setup;
    const double limit = r->draft->s.limits.chloride.caution;
    const double both_m3 = s->tank.volume_m3 + s->chamber.volume_m3;
    const double added = e->value * TL_CHLORIDE_G_PER_G_SALT / s->tank.volume_m3;
    const double chloride = e->by == TL_DOSE_MASS         ? w->chloride_g_m3 + added
                            : e->by == TL_DOSE_TO_CONTENT ? e->value
                                                          : 0;
    const double before = w->chloride_g_m3 / TL_CHLORIDE_G_PER_G_SALT;
    const double after = e->by == TL_DOSE_MASS ? before + e->value / both_m3
                                               : fmax(chloride / TL_CHLORIDE_G_PER_G_SALT, before);
    const double killed = tl_salt_kill(before, after);
    if (!(chloride > limit))
        return;
    if (killed >= KILL_TOLD)
        tl_warn(r, n,
                "this salt brings the chloride to %.0f mg/L or more at once and kills about %.0f "
                "%% of the film that cleans the water; koi and carp are in trouble above %.0f, "
                "see the limit of chloride",
                chloride, 100 * killed, limit);
    else
        tl_warn(r, n,
                "this salt brings the chloride to %.0f mg/L or more at once; koi and carp are in "
                "trouble above %.0f, see the limit of chloride",
                chloride, limit);
}

static void check_dose(struct tl_reader *r, struct tl_node *n, const struct water *w,
                       const struct tl_event *e)
{
    const double volume_m3 = r->draft->s.setup.tank.volume_m3;
    switch (e->dose) {
    case TL_DOSE_BAKING_SODA:
        check_soda(r, n, w,
                   e->by == TL_DOSE_MASS
                       ? w->alk_eq_m3 + e->value / TL_BAKING_SODA_G_PER_EQ / volume_m3
                       : e->value);
        break;
    case TL_DOSE_SALT:
        check_salt(r, n, w, e);
        break;
    case TL_DOSE_AMMONIUM_CHLORIDE:
        check_ammonium(r, n, w, e);
        break;
    case TL_DOSE_THIOSULFATE:
        check_thiosulfate(r, n, w, e->value);
        break;
    case TL_NDOSE:
    default:
        break;
    }
}

void tl_check_doses(struct tl_reader *r, double coldest_degC, double warmest_degC)
{
    static const char *const around[] = {"events", "tank",       "source water", "starting water",
                                         "limits", "parameters", "place",        "temperature"};
    const struct tl_setup *s = &r->draft->s.setup;
    const struct water w = water_of(s, coldest_degC, warmest_degC);
    for (size_t i = 0; i < sizeof around / sizeof *around; i++) {
        const struct tl_node *n = tl_place(r, around[i]);
        if (n && n->faulty)
            return;
    }
    if (!tl_place(r, "tank") || !tl_place(r, "source water"))
        return;
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_DOSE)
            check_dose(r, r->event_entry[i], &w, &s->event[i]);
    if (s->dosing.hold_alkalinity_eq_m3 > 0)
        check_soda(r, tl_place(r, "dosing"), &w, s->dosing.hold_alkalinity_eq_m3);
}
