/* Water chemistry and gas transfer against published values. */
#include "outside.h"

#include <math.h>

#include "towerloop/chem.h"
#include "towerloop/status.h"

#define MMHG_PER_ATM 760.0
#define HPA_PER_ATM  1013.25

static double o2_saturation(const double *in)
{
    return tl_o2_saturation(in[0], in[1], in[2] / MMHG_PER_ATM);
}

static double salinity_factor(const double *in)
{
    return tl_o2_saturation(in[0], in[1], 1.0) / tl_o2_saturation(in[0], 0.0, 1.0);
}

static double air_pressure(const double *in)
{
    return HPA_PER_ATM * tl_pressure_atm(in[0]);
}

static double nh3_percent(const double *in)
{
    return 100.0 * tl_nh3_fraction(in[0], in[1]);
}

static double acute_salmonids(const double *in)
{
    return tl_epa_ammonia_acute(in[0], in[1], true);
}

static double acute_no_salmonids(const double *in)
{
    return tl_epa_ammonia_acute(in[0], in[1], false);
}

static double chronic_mussels(const double *in)
{
    return tl_epa_ammonia_chronic(in[0], in[1], true);
}

static double chronic_no_mussels(const double *in)
{
    return tl_epa_ammonia_chronic(in[0], in[1], false);
}

static struct tl_carbonate constants(double t_degC)
{
    struct tl_carbonate k;

    tl_carbonate_constants(t_degC, &k);
    return k;
}

static double pk1(const double *in)
{
    return -log10(constants(in[0]).k1);
}

static double pk2(const double *in)
{
    return -log10(constants(in[0]).k2);
}

static double pkh(const double *in)
{
    return -log10(constants(in[0]).kh);
}

static double pkw(const double *in)
{
    return -log10(constants(in[0]).kw);
}

static double pka(const double *in)
{
    return -log10(constants(in[0]).ka);
}

static double kh_per_pascal(const double *in)
{
    const struct tl_carbonate k = constants(in[0]);

    return tl_co2_saturation(&k, 1e6, 1.0) / 101325.0;
}

/* pH of water that holds its alkalinity and stands open to the air: the inorganic carbon at which
 * dissolved carbon dioxide is in equilibrium, found by halving. */
static double open_ph(const double *in)
{
    const struct tl_carbonate k = constants(in[0]);
    const double alk = in[1] / TL_CACO3_G_PER_EQ;
    const double target = tl_co2_saturation(&k, in[2] * 1e6, 1.0);
    double h = 1e-8;
    double lo = 0.0;
    double hi = 100.0;

    for (int i = 0; i < 100; i++) {
        const double tic = 0.5 * (lo + hi);

        if (tl_solve_ph(&k, alk, tic, 0.0, &h) != TL_OK)
            return NAN;
        if (tl_co2_mol_m3(&k, h, tic) < target)
            lo = tic;
        else
            hi = tic;
    }
    return -log10(h);
}

static double viscosity_mpa_s(const double *in)
{
    return 1e3 * tl_viscosity_pa_s(in[0]);
}

static double surface_tension_mn_m(const double *in)
{
    return 1e3 * tl_surface_tension_n_m(in[0]);
}

static double diffusivity_o2(const double *in)
{
    return 1e9 * tl_diffusivity_o2_m2_s(in[0]);
}

static double diffusivity_co2(const double *in)
{
    return 1e9 * tl_diffusivity_co2_m2_s(in[0]);
}

static double schmidt_o2(const double *in)
{
    return tl_viscosity_pa_s(in[0]) / 998.2 / tl_diffusivity_o2_m2_s(in[0]);
}

static double schmidt_co2(const double *in)
{
    return tl_viscosity_pa_s(in[0]) / 998.2 / tl_diffusivity_co2_m2_s(in[0]);
}

static double nitrogen(const double *in)
{
    (void)in;
    return TL_N_G_PER_MOL;
}

static double calcium_carbonate(const double *in)
{
    (void)in;
    return TL_CACO3_G_PER_EQ;
}
/* clang-format off */
#define T {"temperature_c", "", " degC"}
#define PH {"ph", "pH ", ""}

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, tested */
    {"do_saturation.csv", NULL, "O2 saturation", "mg/L",
     {T, {"salinity", "", " g/kg"}, {"pressure_mmhg", "", " mmHg"}},
     o2_saturation, "tl_o2_saturation"},
    {"do_salinity_factor.csv", NULL, "O2 saturation over that of fresh water", "",
     {T, {"salinity", "", " g/kg"}}, salinity_factor, "tl_o2_saturation"},
    {"air_pressure.csv", NULL, "air pressure", "hPa",
     {{"elevation_m", "", " m"}}, air_pressure, "tl_pressure_atm"},
    {"ammonia_fraction.csv", NULL, "un-ionised share of ammonia", "%",
     {T, PH}, nh3_percent, "tl_nh3_fraction"},
    {"epa_ammonia_2013.csv", "acute; salmonids present", "acute criterion, salmonids present",
     "mg/L as N", {T, PH}, acute_salmonids, "tl_epa_ammonia_acute"},
    {"epa_ammonia_2013.csv", "acute; salmonids absent", "acute criterion, salmonids absent",
     "mg/L as N", {T, PH}, acute_no_salmonids, "tl_epa_ammonia_acute"},
    {"epa_ammonia_2013.csv", "chronic; mussels present", "chronic criterion, mussels present",
     "mg/L as N", {T, PH}, chronic_mussels, "tl_epa_ammonia_chronic"},
    {"epa_ammonia_2013.csv", "chronic; mussels absent", "chronic criterion, mussels absent",
     "mg/L as N", {T, PH}, chronic_no_mussels, "tl_epa_ammonia_chronic"},
    {"carbonate.csv", "pK1", "pK1 of carbonic acid", "", {T}, pk1, "tl_carbonate_constants"},
    {"carbonate.csv", "pK2", "pK2 of carbonic acid", "", {T}, pk2, "tl_carbonate_constants"},
    {"carbonate.csv", "pKH_CO2", "pKH of CO2", "", {T}, pkh, "tl_carbonate_constants"},
    {"carbonate.csv", "KH_CO2", "KH of CO2", "mol/(m3 Pa)", {T}, kh_per_pascal,
     "tl_co2_saturation"},
    {"carbonate.csv", "pKw", "pKw", "", {T}, pkw, "tl_carbonate_constants"},
    {"carbonate.csv", "pKa_NH4", "pKa of ammonium", "", {T}, pka, "tl_carbonate_constants"},
    {"carbonate.csv", "pH_open", "pH of water open to the air", "",
     {T, {"alkalinity_mg_l_caco3", "", " mg/L as CaCO3"}, {"pco2_atm", "", " atm CO2"}},
     open_ph, "tl_solve_ph"},
    {"water_properties.csv", "viscosity", "viscosity of water", "mPa s", {T}, viscosity_mpa_s,
     "tl_viscosity_pa_s"},
    {"water_properties.csv", "surface tension", "surface tension of water", "mN/m", {T},
     surface_tension_mn_m, "tl_surface_tension_n_m"},
    {"water_properties.csv", "diffusivity of O2", "diffusivity of O2", "1e-9 m2/s", {T},
     diffusivity_o2, "tl_diffusivity_o2_m2_s"},
    {"water_properties.csv", "diffusivity of CO2", "diffusivity of CO2", "1e-9 m2/s", {T},
     diffusivity_co2, "tl_diffusivity_co2_m2_s"},
    {"water_properties.csv", "Schmidt number of O2", "Schmidt number of O2", "", {T}, schmidt_o2,
     "tl_diffusivity_o2_m2_s"},
    {"water_properties.csv", "Schmidt number of CO2", "Schmidt number of CO2", "", {T},
     schmidt_co2, "tl_diffusivity_co2_m2_s"},
    {"constants.csv", "molar mass of N", "molar mass of nitrogen", "g/mol", {{0}}, nitrogen, NULL},
    {"constants.csv", "alkalinity as CaCO3", "alkalinity as CaCO3", "mg/meq", {{0}},
     calcium_carbonate, NULL},
};
/* clang-format on */

const struct outside_group outside_chemistry = {
    "Water chemistry and gas transfer",
    series,
    sizeof series / sizeof series[0],
};
