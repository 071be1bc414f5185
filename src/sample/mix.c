/* The pH of a sample after its alkalinity, carbon or ammonia has changed. */
#include "mix.h"

#include <math.h>

#include "derived.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"

static double ammonia(const struct tl_sample *s)
{
    return isnan(s->tan_gN_m3) ? 0 : s->tan_gN_m3;
}

/* The pH of `s` with this inorganic carbon; false when there is none. */
static bool set_ph(struct tl_sample *s, double tic_mol_m3)
{
    struct tl_carbonate k;
    double h = pow(10.0, -s->ph);
    tl_carbonate_constants(s->temperature_degC, &k);
    if (tl_solve_ph(&k, s->alk_eq_m3, tic_mol_m3, ammonia(s), &h) != TL_OK)
        return false;
    s->ph = -log10(h);
    return true;
}

static double between(double a, double b, double share)
{
    return a + share * (b - a);
}

void tl_mix_source(const struct tl_sample *pond, const struct tl_sample *source, double share,
                   struct tl_sample *out)
{
    double tic = 0, tic_source = 0, co2 = 0;
    const bool balanced =
        tl_sample_carbon(pond, &tic, &co2) && tl_sample_carbon(source, &tic_source, &co2);

    struct tl_sample mixed = *pond;
    mixed.temperature_degC = between(pond->temperature_degC, source->temperature_degC, share);
    mixed.tan_gN_m3 = between(pond->tan_gN_m3, source->tan_gN_m3, share);
    mixed.no2_gN_m3 = between(pond->no2_gN_m3, source->no2_gN_m3, share);
    mixed.no3_gN_m3 = between(pond->no3_gN_m3, source->no3_gN_m3, share);
    mixed.chloride_g_m3 = between(pond->chloride_g_m3, source->chloride_g_m3, share);
    /* of the source water only the salt that goes with its chloride is known */
    mixed.salinity_g_g =
        between(pond->salinity_g_g, tl_salinity_g_kg(source->chloride_g_m3) / 1000, share);
    mixed.alk_eq_m3 = between(pond->alk_eq_m3, source->alk_eq_m3, share);
    if (!balanced || !set_ph(&mixed, between(tic, tic_source, share))) {
        mixed.alk_eq_m3 = NAN;
        mixed.ph = fmax(pond->ph, source->ph);
    }
    *out = mixed;
}

bool tl_mix_soda(const struct tl_sample *pond, double soda_eq_m3, struct tl_sample *out)
{
    double tic = 0, co2 = 0;
    struct tl_sample dosed = *pond;
    *out = *pond;
    if (!tl_sample_carbon(pond, &tic, &co2))
        return false;
    dosed.alk_eq_m3 += soda_eq_m3;
    if (!set_ph(&dosed, tic + soda_eq_m3))
        return false;
    *out = dosed;
    return true;
}

/* With carbon dioxide held, inorganic carbon grows with the pH, and the alkalinity that water and
 * carbon can carry with it: the one that fits is found by halving. */
bool tl_mix_settle(const struct tl_sample *water, double temperature_degC, double co2_mol_m3,
                   struct tl_sample *out)
{
    double low = 2, high = 13;
    struct tl_carbonate k;
    *out = *water;
    out->temperature_degC = temperature_degC;
    if (isnan(temperature_degC) || isnan(water->alk_eq_m3) || !(co2_mol_m3 > 0))
        return false;
    tl_carbonate_constants(temperature_degC, &k);
    for (int i = 0; i < 60; i++) {
        const double ph = 0.5 * (low + high);
        const double h = pow(10.0, -ph);
        const double tic = co2_mol_m3 / tl_co2_mol_m3(&k, h, 1);
        if (tl_tic_from_h(&k, water->alk_eq_m3, h, ammonia(water)) > tic)
            low = ph; /* the alkalinity carries more than the gas gives: less acid */
        else
            high = ph;
    }
    out->ph = 0.5 * (low + high);
    return true;
}
