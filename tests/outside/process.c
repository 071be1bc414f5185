/* What the process table, the gas transfer and the chlorine of the model amount to, against
 * published figures. */
#include "outside.h"

#include <math.h>

#include "climate.h"
#include "loops.h"
#include "process.h"
#include "towerloop/chem.h"
#include "towerloop/limits.h"
#include "whole_run.h"

#define COD_PER_VSS     1.42 /* gCOD per g of volatile solids, Metcalf & Eddy (from memory) */
#define NAHCO3_G_PER_EQ 84.007

/* --- nitrification ---------------------------------------------------------------------------- */

struct nitrification {
    struct tl_process_table t;
    const double *a, *n; /* the rows of the two growths */
    double a_per_n;      /* growth A per gN of ammonia taken up, all of it oxidised to nitrate */
    double n_per_n;
};

static void nitrify(struct nitrification *x)
{
    struct tl_setup s;

    tl_setup_default(&s);
    tl_process_table_fill(&s.params, &x->t);
    x->a = x->t.nu[TL_GROW_A];
    x->n = x->t.nu[TL_GROW_N];
    /* what A leaves as nitrite N takes up; both take ammonia for their biomass */
    const double n_per_a = -x->a[TL_NO2] / x->n[TL_NO2];
    x->a_per_n = -1.0 / (x->a[TL_TAN] + n_per_a * x->n[TL_TAN]);
    x->n_per_n = n_per_a * x->a_per_n;
}

/* Oxygen, g per gN oxidised in one step, without and with what goes into biomass. */
static double first_step(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return (x.a[TL_COLUMN_FILM + TL_FA] - x.a[TL_O2]) / x.a[TL_NO2];
}

static double second_step(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return (x.n[TL_COLUMN_FILM + TL_FN] - x.n[TL_O2]) / x.n[TL_NO3];
}

static double both_steps(const double *in)
{
    return first_step(in) + second_step(in);
}

static double first_step_synthesis(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -x.a[TL_O2] / x.a[TL_NO2];
}

static double second_step_synthesis(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -x.n[TL_O2] / x.n[TL_NO3];
}

static double both_steps_synthesis(const double *in)
{
    return first_step_synthesis(in) + second_step_synthesis(in);
}

/* Per gN of ammonia removed, biomass included. */
static double o2_synthesis(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -(x.a_per_n * x.a[TL_O2] + x.n_per_n * x.n[TL_O2]);
}

static double alkalinity_synthesis(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -TL_CACO3_G_PER_EQ * (x.a_per_n * x.a[TL_ALK] + x.n_per_n * x.n[TL_ALK]);
}

static double biomass_synthesis(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return (x.a_per_n * x.a[TL_COLUMN_FILM + TL_FA] + x.n_per_n * x.n[TL_COLUMN_FILM + TL_FN]) /
           COD_PER_VSS;
}

/* Alkalinity when no nitrogen goes into biomass: two equivalents a mol. */
static double alkalinity_alone(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    /* ammonia taken up beyond what becomes nitrite is biomass's; so is its alkalinity */
    const double biomass_n = -x.a[TL_TAN] - x.a[TL_NO2];
    return -TL_CACO3_G_PER_EQ * (x.a[TL_ALK] + biomass_n / TL_N_G_PER_MOL) / x.a[TL_NO2];
}

static double o2_per_biomass_a(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -x.a[TL_O2];
}

static double o2_per_biomass_n(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -x.n[TL_O2];
}

static double alkalinity_per_biomass_a(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    return -x.a[TL_ALK];
}

/* --- denitrification -------------------------------------------------------------------------- */

/* Organic matter burnt, and alkalinity won without what biomass and organic nitrogen do to it, per gN of
 * nitrate. */
static double organics_per_nitrate(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    const double *nu = x.t.nu[TL_GROW_H_NO3];
    return (nu[TL_SS] + nu[TL_COLUMN_FILM + TL_FH]) / nu[TL_NO3];
}

static double alkalinity_per_nitrate(const double *in)
{
    struct nitrification x;

    (void)in;
    nitrify(&x);
    const double *nu = x.t.nu[TL_GROW_H_NO3];
    return -TL_CACO3_G_PER_EQ * (nu[TL_ALK] - nu[TL_TAN] / TL_N_G_PER_MOL) / nu[TL_NO3];
}

/* --- alkalinity over a whole run ---------------------------------------------------------------- */

/* Baking soda that makes good a day's loss of alkalinity, kg per kg of feed, after 60 d; the input
 * is the mass of fish. */
static double baking_soda(const double *in)
{
    struct tl_setup s;
    struct tl_process_table t;
    struct whole_run r;
    double alk[2] = {0, 0};
    double fed[2] = {0, 0};
    double soda = NAN;

    reference_loop(&s, in[0]);
    s.length_d = 60;
    tl_process_table_fill(&s.params, &t);
    if (whole_run_start(&s, NULL, &r) != 0)
        goto done;
    for (int k = 0; k < 2; k++) {
        if (whole_run_to(&r, 59 + k) != 0)
            goto done;
        const double *total = &r.y[r.at->fish_total];
        for (int p = 0; p < TL_NFILM_PROCESS; p++)
            alk[k] -= t.nu[p][TL_ALK] * whole_run_extent(&r, p);
        for (int p = TL_HYDROLYSE_WATER; p < TL_NCHAMBER_PROCESS; p++)
            alk[k] -= t.nu[p][TL_ALK] * r.y[r.at->extent_chamber + (size_t)p];
        alk[k] -=
            (s.params.n_feed * s.feeding.protein * total[TL_ABSORBED_G] + total[TL_BASAL_N_G]) /
            TL_N_G_PER_MOL;
        fed[k] = total[TL_FED_G];
    }
    soda = NAHCO3_G_PER_EQ * (alk[1] - alk[0]) / (fed[1] - fed[0]);
done:
    whole_run_end(&r);
    free_loop(&s);
    return soda;
}

/* --- doses and chlorine, through the engine ----------------------------------------------------- */

/* What component `k` of 12 m3 of lifeless water gains a g of `dose`. */
static double gain_of_dose(enum tl_dose dose, int k)
{
    const double mass = 100;
    struct tl_setup s;
    struct whole_run r;
    double gain = NAN;

    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    add_event(&s,
              (struct tl_event){.at_d = 0.5, .kind = TL_EVENT_DOSE, .dose = dose, .value = mass});
    if (whole_run_start(&s, NULL, &r) == 0 && whole_run_to(&r, 1) == 0)
        gain = (r.y[r.at->tank + (size_t)k] - s.starting.water[k]) * s.tank.volume_m3 / mass;
    whole_run_end(&r);
    free_loop(&s);
    return gain;
}

static double soda_per_caco3(const double *in)
{
    (void)in;
    return 1.0 / (TL_CACO3_G_PER_EQ * gain_of_dose(TL_DOSE_BAKING_SODA, TL_ALK));
}

static double chloride_of_salt(const double *in)
{
    (void)in;
    return gain_of_dose(TL_DOSE_SALT, TL_CL);
}

static double nitrogen_of_ammonium_chloride(const double *in)
{
    (void)in;
    return gain_of_dose(TL_DOSE_AMMONIUM_CHLORIDE, TL_TAN);
}

/* What component `k` gains when `chlorine` mg/L of chloramine is gone. */
static double gain_of_chloramine(double chlorine, int k)
{
    struct tl_setup s;
    struct whole_run r;
    double gain = NAN;

    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.source.chloramine = true;
    s.params.k_chloramine_demand = 50; /* that all is gone within the run */
    s.starting.water[TL_HOCL] = chlorine;
    if (whole_run_start(&s, NULL, &r) == 0 && whole_run_to(&r, 1) == 0)
        gain = r.y[r.at->tank + (size_t)k] - s.starting.water[k];
    whole_run_end(&r);
    free_loop(&s);
    return gain;
}

static double nitrogen_of_chloramine(const double *in)
{
    return gain_of_chloramine(in[0], TL_TAN);
}

static double chloride_of_chlorine(const double *in)
{
    return gain_of_chloramine(in[0], TL_CL);
}

/* Crystals for each g of chlorine that a dose too small for all of it takes away. */
static double crystals_per_chlorine(const double *in)
{
    const double mass = 20;
    struct tl_setup s;
    struct whole_run r;
    double per = NAN;

    (void)in;
    dead_loop(&s);
    s.length_d = 1;
    s.pump_flow_m3_d = 0;
    s.trickle_1_d = 0;
    s.params.k_chlorine_demand = 0;
    s.params.k_chloramine_demand = 0;
    s.starting.water[TL_HOCL] = 1;
    add_event(&s,
              (struct tl_event){
                  .at_d = 0.5, .kind = TL_EVENT_DOSE, .dose = TL_DOSE_THIOSULFATE, .value = mass});
    if (whole_run_start(&s, NULL, &r) == 0 && whole_run_to(&r, 1) == 0)
        per = mass / (s.tank.volume_m3 * (1 - r.y[r.at->tank + TL_HOCL]));
    whole_run_end(&r);
    free_loop(&s);
    return per;
}

/* Per cent of the film on a tray that dies in tap water; what the rinse takes off is not counted. */
static double killed_by_tap_water(const double *in)
{
    struct tl_setup s;
    struct whole_run r;
    double share = NAN;

    reference_loop(&s, 0);
    s.length_d = 1;
    s.params.clean_loss = 0;
    s.source.water[TL_HOCL] = in[0];
    add_event(&s, (struct tl_event){.at_d = 0,
                                    .kind = TL_EVENT_CLEAN_TRAY,
                                    .tray = 1,
                                    .tap_water = true,
                                    .contact_d = in[1] / 1440});
    if (whole_run_start(&s, NULL, &r) == 0) {
        const double before = r.y[r.at->cell + TL_FA];
        if (whole_run_to(&r, 1e-9) == 0)
            share = 100 * (1 - r.y[r.at->cell + TL_FA] / before);
    }
    whole_run_end(&r);
    free_loop(&s);
    return share;
}

/* --- limits ------------------------------------------------------------------------------------- */

static double chlorine_danger(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return 1e3 * l.chlorine.danger;
}

static double chlorine_caution(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return 1e3 * l.chlorine.caution;
}

static double chloride_ratio(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return l.no2_chloride_ratio;
}

static double alkalinity_danger(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return TL_CACO3_G_PER_EQ * l.alk.danger;
}

static double nh3_caution(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return l.nh3.caution;
}

static double nh3_danger(const double *in)
{
    struct tl_limits l;

    (void)in;
    tl_limits_default(&l);
    return l.nh3.danger;
}

/* --- gas transfer ------------------------------------------------------------------------------- */

static void climate(double t_degC, struct tl_setup *s, struct tl_climate *c)
{
    tl_setup_default(s);
    tl_climate_at(s, 1.0, t_degC, c);
}

static double gas_factor(const double *in)
{
    struct tl_setup s;
    struct tl_climate at;
    struct tl_climate at20;

    climate(in[0], &s, &at);
    climate(20.0, &s, &at20);
    return at.aerator_m3_per_g / at20.aerator_m3_per_g;
}

static double gas_base(const double *in)
{
    const double warm = 30.0;

    (void)in;
    return pow(gas_factor(&warm), 0.1);
}

/* Oxygen an aerator gives water that holds some, as a share of its standard transfer. */
static double actual_transfer(const double *in)
{
    struct tl_setup s;
    struct tl_climate c;

    climate(in[0], &s, &c);
    return c.aerator_m3_per_g * (c.o2_sat - in[1]);
}

static double co2_over_o2(const double *in)
{
    struct tl_setup s;

    (void)in;
    tl_setup_default(&s);
    return s.params.co2_to_o2;
}

static double surface_velocity(const double *in)
{
    struct tl_setup s;
    struct tl_climate c;

    climate(in[0], &s, &c);
    return c.k_surface;
}
/* clang-format off */
#define T {"temperature_c", "", " degC"}
#define TABLE "tl_process_table_fill"
#define LIMITS "tl_limits_default"

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, moved */
    {"stoichiometry.csv", "o2 first step", "O2 for ammonia to nitrite, no synthesis", "g/gN", {{0}},
     first_step, TABLE},
    {"stoichiometry.csv", "o2 second step", "O2 for nitrite to nitrate, no synthesis", "g/gN",
     {{0}}, second_step, TABLE},
    {"stoichiometry.csv", "o2 both steps", "O2 for ammonia to nitrate, no synthesis", "g/gN", {{0}},
     both_steps, TABLE},
    {"stoichiometry.csv", "o2 first step synthesis", "O2 for ammonia to nitrite, with synthesis",
     "g/gN", {{0}}, first_step_synthesis, TABLE},
    {"stoichiometry.csv", "o2 second step synthesis", "O2 for nitrite to nitrate, with synthesis",
     "g/gN", {{0}}, second_step_synthesis, TABLE},
    {"stoichiometry.csv", "o2 both steps synthesis", "O2 for ammonia to nitrate, with synthesis",
     "g/gN", {{0}}, both_steps_synthesis, TABLE},
    {"stoichiometry.csv", "o2 synthesis", "O2 for ammonia removed, with synthesis", "g/gN", {{0}},
     o2_synthesis, TABLE},
    {"stoichiometry.csv", "alkalinity", "alkalinity for nitrification, no synthesis",
     "g CaCO3/gN", {{0}}, alkalinity_alone, TABLE},
    {"stoichiometry.csv", "alkalinity synthesis", "alkalinity for nitrification, with synthesis",
     "g CaCO3/gN", {{0}}, alkalinity_synthesis, TABLE},
    {"stoichiometry.csv", "biomass", "biomass from nitrification", "g VSS/gN", {{0}},
     biomass_synthesis, TABLE},
    {"stoichiometry.csv", "o2 per biomass A", "O2 per biomass of ammonia oxidisers", "g/gCOD",
     {{0}}, o2_per_biomass_a, TABLE},
    {"stoichiometry.csv", "o2 per biomass N", "O2 per biomass of nitrite oxidisers", "g/gCOD",
     {{0}}, o2_per_biomass_n, TABLE},
    {"stoichiometry.csv", "alkalinity per biomass A", "alkalinity per biomass of ammonia oxidisers",
     "eq/gCOD", {{0}}, alkalinity_per_biomass_a, TABLE},
    {"stoichiometry.csv", "organics per nitrate", "organic matter that nitrate burns, no synthesis",
     "gCOD/gN", {{0}}, organics_per_nitrate, TABLE},
    {"stoichiometry.csv", "alkalinity per nitrate", "alkalinity from denitrification, no synthesis",
     "g CaCO3/gN", {{0}}, alkalinity_per_nitrate, TABLE},
    {"stoichiometry.csv", "baking soda per feed", "baking soda that holds the alkalinity", "kg/kg",
     {{"fish_kg", "", " kg of fish"}}, baking_soda, NULL},
    {"stoichiometry.csv", "baking soda", "baking soda per alkalinity", "g/g CaCO3", {{0}},
     soda_per_caco3, NULL},
    {"stoichiometry.csv", "chloride of salt", "chloride in salt", "g/g", {{0}}, chloride_of_salt,
     NULL},
    {"stoichiometry.csv", "nitrogen of ammonium chloride", "nitrogen in ammonium chloride", "g/g",
     {{0}}, nitrogen_of_ammonium_chloride, NULL},
    {"chlorine.csv", "nitrogen", "ammonia nitrogen left by chloramine", "mg/L as N",
     {{"chlorine_mg_l", "", " mg/L Cl2"}}, nitrogen_of_chloramine, NULL},
    {"chlorine.csv", "chloride", "chloride left by chlorine", "mg/L",
     {{"chlorine_mg_l", "", " mg/L Cl2"}}, chloride_of_chlorine, NULL},
    {"chlorine.csv", "thiosulfate", "thiosulfate crystals for chlorine", "g/g", {{0}},
     crystals_per_chlorine, "thiosulfate_per_chlorine"},
    {"chlorine.csv", "killed", "film killed in tap water", "%",
     {{"chlorine_mg_l", "", " mg/L Cl2"}, {"contact_min", "", " min"}}, killed_by_tap_water,
     "k_chlorine_kill"},
    {"chlorine.csv", "acute", "limit of chlorine, danger", "ug/L", {{0}}, chlorine_danger, LIMITS},
    {"chlorine.csv", "chronic", "limit of chlorine, caution", "ug/L", {{0}}, chlorine_caution,
     LIMITS},
    {"limits.csv", "chloride ratio", "chloride to nitrite that protects", "g/gN", {{0}},
     chloride_ratio, LIMITS},
    {"limits.csv", "alkalinity", "limit of alkalinity, danger", "mg/L as CaCO3", {{0}},
     alkalinity_danger, LIMITS},
    {"limits.csv", "nh3 caution", "limit of un-ionised ammonia, caution", "mg/L as N", {{0}},
     nh3_caution, LIMITS},
    {"limits.csv", "nh3 danger", "limit of un-ionised ammonia, danger", "mg/L as N", {{0}},
     nh3_danger, LIMITS},
    {"gas_transfer.csv", "base", "temperature base of gas transfer", "", {{0}}, gas_base,
     "theta_gas"},
    {"gas_transfer.csv", "factor", "gas transfer over that at 20 degC", "", {T}, gas_factor,
     "theta_gas"},
    {"gas_transfer.csv", "actual transfer", "transfer of an aerator over its standard one", "",
     {T, {"oxygen_mg_l", "", " mg/L O2"}}, actual_transfer, "tl_o2_saturation"},
    {"gas_transfer.csv", "co2 over o2", "transfer of CO2 over that of O2", "", {{0}}, co2_over_o2,
     "co2_to_o2"},
    {"gas_transfer.csv", "sheltered surface", "transfer velocity of O2, sheltered surface", "m/d",
     {T}, surface_velocity, "k_surface"},
};
/* clang-format on */

const struct outside_group outside_process = {
    "Process table, doses, gas transfer, limits",
    series,
    sizeof series / sizeof series[0],
};
