/* Handbook arithmetic as lines of data. The formulas stand first, then the lines that put a scenario's
 * numbers into them. */
#include "towerloop/handbook.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

#define HOURS_A_DAY           24.0
#define TAN_PER_PROTEIN       0.092 /* Timmons & Ebeling 2013 */
#define O2_PER_TAN            4.57  /* Metcalf & Eddy, 5th edition: NH4+ to NO3-, no growth */
#define CACO3_PER_TAN         7.14  /* the same */
#define BAKING_SODA_PER_CACO3 (84.0 / 50.0)
#define TAKEN_OUT_PER_PASS    0.5 /* common practice, no source */
#define SLUDGE_STAY_D         5.0 /* as in the example the line follows */
#define LINE_FROM_DEGC        5.0 /* Speece 1973 */
#define LINE_TO_DEGC          22.5
#define LOOKS_A_DAY           24 /* for the warmest hour */

/* --- the formulas ------------------------------------------------------------------------------- */

double tl_handbook_tan_g_d(double feed_g_d, double protein)
{
    return feed_g_d * protein * TAN_PER_PROTEIN;
}

double tl_handbook_areal_rate(double tan_gN_m3, double t_degC)
{
    const double law = 1.859 * (tan_gN_m3 - 0.07) / (tan_gN_m3 + 1.93);
    return fmax(0, law) * pow(1.043, t_degC - 27.2);
}

double tl_handbook_areal_line(double t_degC)
{
    return fmax(0, 0.05368 * t_degC - 0.0859);
}

double tl_handbook_rest_o2_g_kg_d(double mass_g, double t_degC)
{
    /* mg/g/h is g/kg/h */
    return HOURS_A_DAY * 0.0674 * pow(mass_g, -0.193) * exp(0.0562 * t_degC);
}

double tl_handbook_critical_o2(double mass_g)
{
    return 1.35 * pow(mass_g, -0.107);
}

double tl_handbook_flow_m3_d(double load_g_d, double difference_g_m3)
{
    return difference_g_m3 > 0 ? load_g_d / difference_g_m3 : INFINITY;
}

/* Metcalf & Eddy, 5th edition, tables 8-14: yield, half-saturation, death, debris, at 20 degC. */
#define SLUDGE_YIELD  0.45 /* gVSS per g of biodegradable COD */
#define SLUDGE_DEBRIS 0.15

static double sludge_death_1_d(double t_degC)
{
    return 0.12 * pow(1.04, t_degC - 20);
}

void tl_handbook_sludge(struct tl_handbook_sludge *s)
{
    const double ks = 8;
    const double vss_per_tss = 0.85;

    s->mu_1_d = 6 * pow(1.07, s->t_degC - 20);
    s->b_1_d = sludge_death_1_d(s->t_degC);
    const double aged = 1 + s->b_1_d * s->srt_d;
    s->left_bcod_g_m3 = ks * aged / (s->srt_d * (s->mu_1_d - s->b_1_d) - 1);
    s->biomass_g_d = s->flow_m3_d * SLUDGE_YIELD * (s->bcod_g_m3 - s->left_bcod_g_m3) / aged;
    s->debris_g_d = SLUDGE_DEBRIS * s->b_1_d * s->biomass_g_d * s->srt_d;
    const double grown = s->biomass_g_d + s->debris_g_d;
    s->vss_g_d = grown + s->flow_m3_d * s->nbvss_g_m3;
    s->tss_g_d = grown / vss_per_tss + s->flow_m3_d * (s->nbvss_g_m3 + s->inert_tss_g_m3);
}

double tl_handbook_nitrifier_stay_d(double tan_gN_m3, double o2_g_m3, double t_degC, double safety)
{
    const double mu = 0.90 * pow(1.072, t_degC - 20);
    const double b = 0.17 * pow(1.029, t_degC - 20);
    const double net = mu * tan_gN_m3 / (0.5 + tan_gN_m3) * o2_g_m3 / (0.5 + o2_g_m3) - b;
    return net > 0 ? safety / net : INFINITY;
}

double tl_handbook_baking_soda_g_d(double flow_m3_d, double have, double left, double nitrate_gN_m3)
{
    return flow_m3_d * (left - have + CACO3_PER_TAN * nitrate_gN_m3) * BAKING_SODA_PER_CACO3;
}

/* --- the lines ---------------------------------------------------------------------------------- */

/* The numbers of a scenario that the lines share. */
struct sums {
    const struct tl_scenario *s;
    const struct tl_assessment *run; /* NULL: none */
    double margin;
    double t_degC; /* the warmest of the run */
    double ph;     /* the highest of its source and its run */
    double pressure_atm;
    double fish_kg, rest_o2_g_d;
    double feed_g_d, tan_g_d;
    double allowed_tan_g_m3;
    double media_m2; /* wetted, of one tray */
    double wetted_share;
    struct tl_handbook *out;
};

/* Three digits, never a power of ten. */
struct figure {
    char text[40];
};

static struct figure figure(double x)
{
    struct figure f;
    if (isfinite(x))
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, x, 3, f.text, sizeof f.text);
    else
        (void)tl_format(f.text, sizeof f.text, "-");
    return f;
}

static struct tl_handbook_line *add(struct sums *m, const char *key, const char *name, double value,
                                    const char *unit, const char *source, const char *formula, ...)
    __attribute__((format(printf, 7, 8)));

/* The line can be given the simulated figure afterwards. */
static struct tl_handbook_line *add(struct sums *m, const char *key, const char *name, double value,
                                    const char *unit, const char *source, const char *formula, ...)
{
    struct tl_handbook_line *l = &m->out->line[m->out->lines];
    struct tl_text text = {0};
    va_list args;

    if (m->out->lines + 1 < TL_HANDBOOK_LINES)
        m->out->lines++;
    *l = (struct tl_handbook_line){.key = key,
                                   .name = name,
                                   .value = value,
                                   .unit = unit,
                                   .source = source,
                                   .simulated = NAN,
                                   .why = ""};
    va_start(args, formula);
    tl_text_addv(&text, formula, args);
    va_end(args);
    (void)tl_format(l->formula, sizeof l->formula, "%s", tl_text_string(&text));
    tl_text_free(&text);
    return l;
}

static void beside(struct tl_handbook_line *l, double simulated, const char *why)
{
    l->simulated = simulated;
    l->why = isnan(simulated) ? "" : why;
}

/* What an account of the run's ledger has under `key`, a day. */
static double a_day(const struct sums *m, const struct tl_ledger_account *a, const char *key)
{
    for (size_t i = 0; i < a->lines; i++)
        if (strcmp(a->line[i].key, key) == 0)
            return a->line[i].amount / m->run->ledger.length_d;
    return NAN;
}

static double nitrogen_a_day(const struct sums *m, const char *key)
{
    return m->run ? a_day(m, &m->run->ledger.nitrogen, key) : NAN;
}

static double oxygen_a_day(const struct sums *m, const char *key)
{
    return m->run ? a_day(m, &m->run->ledger.oxygen, key) : NAN;
}

/* --- feed --- */

static void count_fish(struct sums *m, const struct tl_fish *f)
{
    const double kg = f->count * f->mean_mass_g / 1000;
    m->fish_kg += kg;
    m->rest_o2_g_d += kg * tl_handbook_rest_o2_g_kg_d(f->mean_mass_g, m->t_degC);
}

static double ration_g_d(const struct sums *m, const struct tl_ration *r)
{
    const double appetite = m->s->setup.feeding.appetite;
    if (!(m->fish_kg > 0))
        return 0;
    if (r->kind == TL_RATION_MASS)
        return appetite * r->value;
    return appetite * 1000 * m->fish_kg *
           (r->kind == TL_RATION_TABLE ? tl_table_at(&r->table, m->t_degC) : r->value);
}

/* The most that is given in one day. */
static double feed_g_d(const struct sums *m)
{
    const struct tl_setup *s = &m->s->setup;
    const struct tl_table *log = &s->feeding.log;
    double most = 0;
    for (size_t i = 0, day_begin = 0; i < log->n; i++) {
        double day = 0;
        while (floor(log->x[day_begin]) < floor(log->x[i]))
            day_begin++;
        for (size_t k = day_begin; k <= i; k++)
            day += s->feeding.appetite * log->y[k];
        most = fmax(most, day);
    }
    if (log->n > 0 || s->feeding.meals == 0)
        return most;
    most = ration_g_d(m, &s->feeding.ration);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_RATION)
            most = fmax(most, ration_g_d(m, &s->event[i].ration));
    return most;
}

static void feed_lines(struct sums *m)
{
    const struct tl_setup *s = &m->s->setup;
    const double protein = s->feeding.protein;
    struct tl_handbook_line *l;

    for (size_t i = 0; i < s->fish_groups; i++)
        count_fish(m, &s->fish[i]);
    for (size_t i = 0; i < s->events; i++)
        if (s->event[i].kind == TL_EVENT_ADD_FISH)
            count_fish(m, &s->event[i].fish);
    m->feed_g_d = feed_g_d(m);
    m->tan_g_d = tl_handbook_tan_g_d(m->feed_g_d, protein);

    add(m, "fish_mass", "fish, all there ever are", m->fish_kg, "kg", "arithmetic",
        "the sum of number x mean mass over the groups");
    l = add(m, "feed", "feed load, the most of a day", m->feed_g_d, "g/d", "arithmetic",
            "%s kg of fish x %s %% a day", figure(m->fish_kg).text,
            figure(m->fish_kg > 0 ? m->feed_g_d / (10 * m->fish_kg) : 0).text);
    const double fed_n = nitrogen_a_day(m, "feed");
    if (protein > 0)
        beside(l, fed_n / (s->params.n_of_protein * protein),
               "the simulation's is the mean over its days");
    l = add(m, "ammonia_from_feed", "ammonia from feed", m->tan_g_d, "gN/d",
            "Timmons & Ebeling 2013, by Hager et al. 2021", "%s g/d x %s protein x %s",
            figure(m->feed_g_d).text, figure(protein).text, figure(TAN_PER_PROTEIN).text);
    beside(l, nitrogen_a_day(m, "excreted"),
           "simulated fish also burn their own tissue, so unfed ones excrete, too");
}

/* --- ammonia and area --- */

/* The total ammonia at which the un-ionised part reaches its limit less the margin. */
static void allowed_lines(struct sums *m)
{
    const struct tl_limits *limit = &m->s->limits;
    const double nh3 = isnan(limit->nh3.caution) ? limit->nh3.danger : limit->nh3.caution;
    const bool climbs = m->ph > m->s->setup.source.ph;
    const double share = tl_nh3_fraction(m->t_degC, m->ph);

    add(m, "unionised_share", "un-ionised share of ammonia", share, "", "Emerson et al. 1975",
        "at %s degC, the warmest, and %s, %s", figure(m->t_degC).text,
        climbs ? "the highest pH of the run" : "the pH of the source water", figure(m->ph).text);
    m->allowed_tan_g_m3 = nh3 * (1 - m->margin) / share;
    struct tl_handbook_line *l =
        add(m, "ammonia_allowed", "ammonia allowed in the tank", m->allowed_tan_g_m3, "mgN/L",
            "mass balance", "limit %s x %s / %s", figure(nh3).text, figure(1 - m->margin).text,
            figure(share).text);
    if (m->run)
        beside(l, m->run->verdict.limit[TL_LIMIT_TAN_ACUTE].worst,
               "the simulation's is the worst hour, which comes after a meal, at the pH of that "
               "hour");
}

static double rate_simulated(const struct sums *m)
{
    return nitrogen_a_day(m, "oxidised_tower") / (m->media_m2 * m->s->setup.tower.trays);
}

/* Area and trays by one areal rate. */
static void area_lines(struct sums *m, double rate, const char *key_area, const char *area,
                       const char *key_trays, const char *trays, const char *source)
{
    const int have = m->s->setup.tower.trays;
    const double need_m2 = rate > 0 ? m->tan_g_d / rate : INFINITY;
    struct tl_handbook_line *l =
        add(m, key_area, area, need_m2, "m2", source, "%s gN/d / %s gN/m2/d",
            figure(m->tan_g_d).text, figure(rate).text);
    if (m->run)
        beside(l, have * m->media_m2, "the simulation's is what its trays have wetted");
    l = add(m, key_trays, trays, ceil(need_m2 / m->media_m2), "trays", "arithmetic",
            "%s m2 / %s m2 a tray, rounded up", figure(need_m2).text, figure(m->media_m2).text);
    if (m->run)
        beside(
            l, have,
            "the simulation's are those it has, not what it needs; by hand every tray works "
            "alike, all day, in clean water, while simulated ones share their film with what eats "
            "dirt, and see ammonia rise after meals");
}

static void tower_lines(struct sums *m)
{
    const struct tl_tower *t = &m->s->setup.tower;
    const double load_m_h =
        m->s->setup.pump_flow_m3_d * m->s->setup.to_tower / HOURS_A_DAY / t->plan_area_m2;
    const struct tl_packing packing = {t->specific_surface_m2_m3, t->media_size_m,
                                       t->critical_surface_tension_n_m};
    struct tl_wetting wetting = {.wetted_fraction = 0};
    if (t->submerged)
        wetting.wetted_fraction = 1;
    else if (load_m_h > 0)
        tl_onda(&packing, load_m_h, m->t_degC, &wetting);
    m->wetted_share = wetting.wetted_fraction;
    m->media_m2 = t->plan_area_m2 * t->media_depth_m * t->specific_surface_m2_m3 * m->wetted_share;

    add(m, "wetted_area", "wetted media of one tray", m->media_m2, "m2",
        "wetted share: Onda et al. 1968", "%s m2 x %s m x %s m2/m3 x %s wetted",
        figure(t->plan_area_m2).text, figure(t->media_depth_m).text,
        figure(t->specific_surface_m2_m3).text, figure(m->wetted_share).text);

    const double law = tl_handbook_areal_rate(m->allowed_tan_g_m3, m->t_degC);
    struct tl_handbook_line *l =
        add(m, "areal_rate", "areal rate by the rate law", law, "gN/m2/d", "Zhu & Chen 1999, 2002",
            "1.859 x (S - 0.07)/(S + 1.93) x 1.043^(T - 27.2); S %s, T %s",
            figure(m->allowed_tan_g_m3).text, figure(m->t_degC).text);
    beside(l, rate_simulated(m), "the simulation's is the mean of all trays over the run");
    area_lines(m, law, "area_by_law", "area by the rate law", "trays_by_law",
               "trays by the rate law", "Zhu & Chen 1999, 2002");

    const double at_degC = fmin(fmax(m->t_degC, LINE_FROM_DEGC), LINE_TO_DEGC);
    const bool inside = at_degC == m->t_degC;
    const double line = m->t_degC < LINE_FROM_DEGC ? tl_handbook_areal_line(m->t_degC)
                                                   : tl_handbook_areal_line(at_degC);
    l = add(m, "areal_line", "areal rate by temperature alone", line, "gN/m2/d", "Speece 1973",
            "0.05368 x %s degC - 0.0859, for 5 to 22.5 degC%s%s%s",
            figure(m->t_degC < LINE_FROM_DEGC ? m->t_degC : at_degC).text,
            inside ? "" : "; the water has ", inside ? "" : figure(m->t_degC).text,
            inside ? "" : " degC, where it was never measured");
    beside(l, rate_simulated(m), "the line knows nothing of how little ammonia there may be");
    area_lines(m, line, "area_by_line", "area by temperature alone", "trays_by_line",
               "trays by temperature alone", "Speece 1973");
}

/* --- oxygen and flow --- */

static void flow_lines(struct sums *m)
{
    const struct tl_limits *limit = &m->s->limits;
    const double o2 = isnan(limit->o2.caution) ? limit->o2.danger : limit->o2.caution;
    const double full = tl_o2_saturation(m->t_degC, 0, m->pressure_atm);
    const double keep = o2 * (1 + m->margin);
    const double pump = m->run ? m->s->setup.pump_flow_m3_d / HOURS_A_DAY : NAN;
    struct tl_handbook_line *l;

    l = add(m, "fish_oxygen", "oxygen that resting fish use", m->rest_o2_g_d, "g/d",
            "Yamanaka et al. 2013",
            "the sum over the groups of 0.0674 W^-0.193 e^(0.0562 T) mg/g/h; T %s",
            figure(m->t_degC).text);
    beside(l, oxygen_a_day(m, "fish"), "simulated fish also move and digest");
    l = add(m, "nitrifier_oxygen", "oxygen that nitrification uses", O2_PER_TAN * m->tan_g_d, "g/d",
            "Metcalf & Eddy, 5th edition", "%s gN/d x %s", figure(m->tan_g_d).text,
            figure(O2_PER_TAN).text);
    beside(l, oxygen_a_day(m, "nitrifiers"),
           "simulated fish excrete more than their feed brings; some of it leaves with the water, "
           "and films take up some to grow");
    l = add(m, "flow_for_oxygen", "flow that brings the fish their oxygen",
            tl_handbook_flow_m3_d(m->rest_o2_g_d, full - keep) / HOURS_A_DAY, "m3/h",
            "mass balance; full water: Benson & Krause 1984", "%s g/d / (%s - %s mg/L) / 24 h",
            figure(m->rest_o2_g_d).text, figure(full).text, figure(keep).text);
    beside(l, pump, "the simulated tank takes oxygen through its surface and its aerator, too");
    l = add(m, "flow_for_ammonia", "flow that takes the ammonia to the tower",
            tl_handbook_flow_m3_d(m->tan_g_d, TAKEN_OUT_PER_PASS * m->allowed_tan_g_m3) /
                HOURS_A_DAY,
            "m3/h", "mass balance; half a pass: common practice, no source",
            "%s gN/d / (half of %s mg/L) / 24 h", figure(m->tan_g_d).text,
            figure(m->allowed_tan_g_m3).text);
    beside(l, pump, "what a simulated pass takes out follows from area, film and flow");
}

/* --- alkalinity, solids, nitrate --- */

static void other_lines(struct sums *m)
{
    const struct tl_setup *s = &m->s->setup;
    const struct tl_limits *limit = &m->s->limits;
    const double caco3_g_d = CACO3_PER_TAN * m->tan_g_d;
    struct tl_handbook_line *l;

    l = add(m, "alkalinity_used", "alkalinity that nitrification uses", caco3_g_d, "gCaCO3/d",
            "Metcalf & Eddy, 5th edition", "%s gN/d x %s", figure(m->tan_g_d).text,
            figure(CACO3_PER_TAN).text);
    if (m->run)
        beside(
            l, TL_CACO3_G_PER_EQ * a_day(m, &m->run->ledger.alkalinity, "nitrification"),
            "simulated films also oxidise what fish burn of themselves and what rots; about half "
            "comes back with the ammonia that fish give off");
    add(m, "baking_soda", "baking soda that makes up for it", BAKING_SODA_PER_CACO3 * caco3_g_d,
        "g/d", "84/50 by molar masses", "%s gCaCO3/d x %s", figure(caco3_g_d).text,
        figure(BAKING_SODA_PER_CACO3).text);

    /* what is eaten of the dissolved organics, at the stay of the example; solids settle */
    const double bcod = s->params.dissolved_per_feed * m->feed_g_d;
    const double aged = sludge_death_1_d(m->t_degC) * SLUDGE_STAY_D;
    add(m, "heterotroph_solids", "heterotrophs grown on dissolved dirt",
        SLUDGE_YIELD * bcod * (1 + SLUDGE_DEBRIS * aged) / (1 + aged), "gVSS/d",
        "Metcalf & Eddy, 5th edition, example 8-3; a stay of 5 d as there",
        "%s gCOD/d x %s x (1 + %s x %s)/(1 + %s)", figure(bcod).text, figure(SLUDGE_YIELD).text,
        figure(SLUDGE_DEBRIS).text, figure(aged).text, figure(aged).text);

    const double no3 = isnan(limit->no3.caution) ? limit->no3.danger : limit->no3.caution;
    const double room = no3 * (1 - m->margin) - s->source.water[TL_NO3];
    l = add(m, "water_change", "water change that holds the nitrate",
            tl_handbook_flow_m3_d(m->tan_g_d, room), "m3/d", "mass balance",
            "%s gN/d / (%s - %s mg/L)", figure(m->tan_g_d).text, figure(no3 * (1 - m->margin)).text,
            figure(s->source.water[TL_NO3]).text);
    if (m->run)
        beside(l,
               s->tank.volume_m3 *
                   (s->trickle_1_d +
                    (s->change_every_d > 0 ? s->change_amount / s->change_every_d : 0)),
               "the simulation's is what the scenario changes; nitrate needs weeks to gather");
}

static double warmest_degC(const struct tl_scenario *s)
{
    const struct tl_setup *setup = &s->setup;
    struct tl_model *m = NULL;
    double most = -INFINITY;
    if (tl_model_build(setup, &m) != TL_OK)
        return setup->temperature.mean_degC + setup->temperature.warmer_degC;
    const int looks = (int)ceil(LOOKS_A_DAY * setup->length_d);
    for (int i = 0; i <= looks; i++)
        most = fmax(most, tl_model_temperature(m, setup->start_d + setup->length_d * i / looks));
    tl_model_free(m);
    return most;
}

void tl_handbook_make(const struct tl_scenario *s, const struct tl_assessment *run, double margin,
                      struct tl_handbook *out)
{
    struct sums m = {.s = s,
                     .run = run,
                     .margin = margin,
                     .t_degC = warmest_degC(s),
                     .ph = s->setup.source.ph,
                     .pressure_atm = tl_pressure_atm(s->setup.elevation_m),
                     .out = out};
    /* fmax() passes over what was not judged */
    if (run)
        m.ph = fmax(m.ph, run->verdict.limit[TL_LIMIT_PH_HIGH].worst);
    out->lines = 0;
    feed_lines(&m);
    allowed_lines(&m);
    tower_lines(&m);
    flow_lines(&m);
    other_lines(&m);
}
