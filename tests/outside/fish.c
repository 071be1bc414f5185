/* Fish: what they excrete, when, how much oxygen they use and how much feed only keeps them. */
#include "outside.h"

#include <math.h>

#include "loops.h"
#include "towerloop/chem.h"
#include "whole_run.h"

#define PROTEIN         0.38
#define JOULE_PER_MG_O2 13.6 /* oxycaloric equivalent, from memory */

/* Fish in 12 m3 of well aired water without life: the pump is off, so only the tank matters. */
static void fish_alone(struct tl_setup *s, double t_degC, double mass_g, double fish_kg)
{
    dead_loop(s);
    s->temperature.mean_degC = t_degC;
    s->pump_flow_m3_d = 0.0;
    s->trickle_1_d = 0.0;
    s->aerator_g_d = 1e5;
    s->fish_groups = 1;
    s->fish[0].count = 1000.0 * fish_kg / mass_g;
    s->fish[0].mean_mass_g = mass_g;
    s->feeding.ration.value = 0.0;
    s->feeding.protein = PROTEIN;
    s->length_d = 30.0;
}

/* One meal at 00:00 of every day, or only of day 0 (the ration stops at noon). */
static void feed(struct tl_setup *s, double share_of_biomass, bool daily)
{
    s->feeding.ration.value = share_of_biomass;
    s->feeding.meals = 1;
    s->feeding.meal_s[0] = 0;
    if (!daily)
        add_event(s, (struct tl_event){.at_d = 0.5, .kind = TL_EVENT_RATION});
}

/* What component `index` of the state gains from day `from` to day `to`, times `scale`. */
static double gain(struct whole_run *r, size_t index, double scale, double from, double to)
{
    if (whole_run_to(r, from) != 0)
        return NAN;
    const double before = r->y[index];
    if (whole_run_to(r, to) != 0)
        return NAN;
    return scale * (r->y[index] - before);
}

/* Tank water gained on the tenth day of daily meals and no excretion beyond them, g/d. */
static double from_feed(double feed_g_d, double protein, int component)
{
    struct tl_setup s;
    struct whole_run r;
    double g = NAN;

    fish_alone(&s, 20.0, 500.0, 100.0);
    feed(&s, 0.0, true);
    s.feeding.ration.kind = TL_RATION_MASS;
    s.feeding.ration.value = feed_g_d;
    s.feeding.protein = protein;
    s.params.n_basal = 0.0;
    if (whole_run_start(&s, NULL, &r) == 0)
        g = gain(&r, r.at->tank + (size_t)component, s.tank.volume_m3, 9.0, 10.0);
    whole_run_end(&r);
    free_loop(&s);
    return g;
}

static double tan_from_feed(const double *in)
{
    return from_feed(in[0], in[1] / 100.0, TL_TAN);
}

/* %; shares of the nitrogen in feed. */
static double excreted_share(const double *in)
{
    (void)in;
    return 100.0 * from_feed(1000.0, PROTEIN, TL_TAN) / (0.16 * PROTEIN * 1000.0);
}

static double organic_share(int component)
{
    struct tl_setup s;

    tl_setup_default(&s);
    return 100.0 * s.params.i_organics * from_feed(1000.0, PROTEIN, component) /
           (0.16 * PROTEIN * 1000.0);
}

static double solids_share(const double *in)
{
    (void)in;
    return organic_share(TL_XS) + organic_share(TL_XI);
}

static double retained_share(const double *in)
{
    return 100.0 - excreted_share(in) - solids_share(in) - organic_share(TL_SS);
}

/* --- oxygen ------------------------------------------------------------------------------------- */

/* mg/kg/h of unfed fish; activity 1: at rest. */
static double oxygen_use(double t_degC, double mass_g, double activity)
{
    struct tl_setup s;
    struct whole_run r;
    double g = NAN;

    fish_alone(&s, t_degC, mass_g, 10.0);
    if (activity > 0.0)
        s.params.o2_activity = activity;
    if (whole_run_start(&s, NULL, &r) == 0)
        g = gain(&r, r.at->fish_total + TL_FISH_O2_G, 1000.0 / 10.0 / 24.0, 1.0, 2.0);
    whole_run_end(&r);
    free_loop(&s);
    return g;
}

static double resting_oxygen(const double *in)
{
    return oxygen_use(in[0], in[1], 1.0);
}

static double resting_energy(const double *in)
{
    return JOULE_PER_MG_O2 * oxygen_use(in[0], in[1], 1.0);
}

/* Exponent of body mass in the use of a whole fish, from 100 g to 1 kg. */
static double mass_exponent(const double *in)
{
    return 1.0 + log10(oxygen_use(in[0], 1000.0, 0.0) / oxygen_use(in[0], 100.0, 0.0));
}

static double oxygen_30_over_26(const double *in)
{
    return oxygen_use(30.0, in[0], 0.0) / oxygen_use(26.0, in[0], 0.0);
}

static double critical_oxygen(const double *in)
{
    struct tl_setup s;

    (void)in;
    tl_setup_default(&s);
    return s.params.o2_critical;
}

/* kg of oxygen per kg of feed at this ration, %/d. */
static double oxygen_per_feed(const double *in)
{
    struct tl_setup s;
    struct whole_run r;
    double g = NAN;

    fish_alone(&s, in[0], in[1], 10.0);
    feed(&s, in[2] / 100.0, true);
    if (whole_run_start(&s, NULL, &r) == 0)
        g = gain(&r, r.at->fish_total + TL_FISH_O2_G, 1.0 / (in[2] / 100.0 * 10e3), 9.0, 10.0);
    whole_run_end(&r);
    free_loop(&s);
    return g;
}

/* --- excretion in time -------------------------------------------------------------------------- */

/* mgN/kg/h excreted over the hour before `hour` after a meal of `share` of the biomass. */
static double excretion(double t_degC, double share, double hour)
{
    struct tl_setup s;
    struct whole_run r;
    double g = NAN;

    fish_alone(&s, t_degC, 500.0, 10.0);
    feed(&s, share, false);
    if (whole_run_start(&s, NULL, &r) == 0)
        g = gain(&r, r.at->tank + TL_TAN, s.tank.volume_m3 * 1000.0 / 10.0, (hour - 1.0) / 24.0,
                 hour / 24.0);
    whole_run_end(&r);
    free_loop(&s);
    return g;
}

/* Hours from a meal to the peak of excretion. */
static double time_of_peak(const double *in)
{
    struct tl_setup s;
    struct whole_run r;
    const double step = 0.1 / 24.0;
    double rate[3] = {0.0, 0.0, 0.0};
    double before = 0.0;
    double peak = NAN;

    fish_alone(&s, in[0], 500.0, 10.0);
    feed(&s, 0.01, false);
    if (whole_run_start(&s, NULL, &r) != 0)
        goto done;
    for (int i = 1; i < 480; i++) {
        if (whole_run_to(&r, i * step) != 0)
            goto done;
        const double now = r.y[r.at->tank + TL_TAN];
        rate[0] = rate[1];
        rate[1] = rate[2];
        rate[2] = now - before;
        before = now;
        if (i > 3 && rate[2] < rate[1]) {
            /* top of the parabola through the last three, each at the middle of its step */
            const double bend = rate[0] - 2.0 * rate[1] + rate[2];
            peak = 24.0 * step * (i - 1.5 + 0.5 * (rate[0] - rate[2]) / bend);
            break;
        }
    }
done:
    whole_run_end(&r);
    free_loop(&s);
    return peak;
}

static double starved_excretion(const double *in)
{
    return excretion(in[0], 0.0, 24.0);
}

/* Protein burnt by unfed fish, g/kg/d. */
static double protein_burnt(const double *in)
{
    return starved_excretion(in) * 24e-3 / 0.16;
}

/* Excretion this many days after a meal of 1.5 % over that of fish never fed. */
static double after_days(const double *in)
{
    return excretion(in[0], 0.015, 24.0 * in[1]) / excretion(in[0], 0.0, 24.0);
}

static double peak_over_starved(const double *in)
{
    return excretion(in[0], 0.015, time_of_peak(in) + 0.5) / excretion(in[0], 0.0, 24.0);
}

/* --- maintenance -------------------------------------------------------------------------------- */

/* Growth, 1/d, at a daily ration, from day 10 to 15. */
static double growth(double t_degC, double ration)
{
    struct tl_setup s;
    struct whole_run r;
    double g = NAN;

    fish_alone(&s, t_degC, 500.0, 10.0);
    feed(&s, ration, true);
    s.feeding.grows = true;
    if (whole_run_start(&s, NULL, &r) == 0 && whole_run_to(&r, 10.0) == 0) {
        const double before = tl_model_biomass(r.model, r.y);
        if (whole_run_to(&r, 15.0) == 0)
            g = log(tl_model_biomass(r.model, r.y) / before) / 5.0;
    }
    whole_run_end(&r);
    free_loop(&s);
    return g;
}

/* %/d at which the biomass stays; growth is linear in the ration near there. */
static double maintenance(const double *in)
{
    double a = 0.005;
    double b = 0.02;
    double ga = growth(in[0], a);
    double gb = growth(in[0], b);

    for (int i = 0; i < 4; i++) {
        const double c = b - gb * (b - a) / (gb - ga);
        a = b;
        ga = gb;
        b = c;
        gb = growth(in[0], b);
        if (fabs(b - a) < 1e-6)
            break;
    }
    return 100.0 * b;
}
/* clang-format off */
#define T {"temperature_c", "", " degC"}
#define MASS {"mass_g", "", " g"}

static const struct outside_series series[] = {
    /* file, quantity, what, unit, inputs, value, moved */
    {"fish.csv", "tan from feed", "TAN from feed", "g/d",
     {{"feed_g_d", "", " g/d"}, {"protein_percent", "", " % protein"}}, tan_from_feed, "n_feed"},
    {"fish.csv", "excreted", "feed nitrogen excreted", "%", {{0}}, excreted_share, "n_feed"},
    {"fish.csv", "solids", "feed nitrogen in solids", "%", {{0}}, solids_share, "solids_per_feed"},
    {"fish.csv", "retained", "feed nitrogen retained, by difference", "%", {{0}}, retained_share,
     "n_feed"},
    {"fish.csv", "resting oxygen", "oxygen use at rest", "mg/kg/h", {T, MASS}, resting_oxygen,
     "o2_rest"},
    {"fish.csv", "resting energy", "energy use at rest", "J/kg/h", {T, MASS}, resting_energy,
     "o2_rest"},
    {"fish.csv", "mass exponent", "exponent of body mass in oxygen use", "", {T}, mass_exponent,
     "o2_rest_mass"},
    {"fish.csv", "oxygen when hot", "oxygen use at 30 degC over that at 26", "", {MASS},
     oxygen_30_over_26, NULL},
    {"fish.csv", "critical oxygen", "critical oxygen", "mg/L", {MASS}, critical_oxygen,
     "o2_critical"},
    {"fish.csv", "oxygen per feed", "oxygen use per feed", "kg/kg",
     {T, MASS, {"ration_percent_d", "ration ", " %/d"}}, oxygen_per_feed, "o2_per_feed"},
    {"fish.csv", "peak", "excretion peaks after a meal", "h", {T}, time_of_peak, "k_gut"},
    {"fish.csv", "peak height", "peak of excretion over that unfed, meal of 1.5 %", "", {T},
     peak_over_starved, NULL},
    {"fish.csv", "days after", "excretion after a meal of 1.5 % over that unfed", "",
     {T, {"days", "", " d"}}, after_days, NULL},
    {"fish.csv", "unfed", "excretion of unfed fish", "mgN/kg/h", {T}, starved_excretion,
     "n_basal"},
    {"fish.csv", "protein burnt", "protein burnt by unfed fish", "g/kg/d", {T}, protein_burnt,
     NULL},
    {"fish.csv", "maintenance", "ration that keeps the biomass", "%/d", {T}, maintenance,
     "n_basal"},
};
/* clang-format on */

const struct outside_group outside_fish = {
    "Fish",
    series,
    sizeof series / sizeof series[0],
};
