/* What one sample of water means, figure by figure. */
#include "towerloop/sample.h"

#include <math.h>

#include "derived.h"
#include "towerloop/chem.h"

void tl_sample_init(struct tl_sample *s)
{
#define NONE(id, field, name, dim, least, most) s->field = NAN;
    TL_READING_LIST(NONE)
#undef NONE
}

double tl_sample_reading(const struct tl_sample *s, enum tl_reading_id id)
{
    const double reading[TL_NREADING] = {
#define VALUE(id, field, name, dim, least, most) s->field,
        TL_READING_LIST(VALUE)
#undef VALUE
    };
    return reading[id];
}

const char *tl_reading_name(enum tl_reading_id id)
{
    static const char *const names[TL_NREADING] = {
#define NAME(id, field, name, dim, least, most) name,
        TL_READING_LIST(NAME)
#undef NAME
    };
    return names[id];
}

const struct tl_figure_row *tl_figure_row(enum tl_figure_id id)
{
    static const struct tl_figure_row rows[TL_NFIGURE] = {
#define ROW(id, key, name, unit, source, limits) {key, name, unit, source, limits},
        TL_FIGURE_LIST(ROW)
#undef ROW
    };
    return &rows[id];
}

const struct tl_range_row *tl_range_row(int id)
{
    static const struct tl_range_row rows[TL_NSAMPLE_RANGE] = {
#define ROW(id, what, unit, low, high, use, source) [id] = {what, unit, use, source, low, high},
        TL_SAMPLE_RANGE_LIST(ROW)
#undef ROW
    };
    return &rows[id];
}

bool tl_sample_carbon(const struct tl_sample *s, double *tic_mol_m3, double *co2_mol_m3)
{
    if (isnan(s->temperature_degC) || isnan(s->ph) || isnan(s->alk_eq_m3))
        return false;
    const double h = pow(10.0, -s->ph);
    const double tan = isnan(s->tan_gN_m3) ? 0 : s->tan_gN_m3;
    struct tl_carbonate k;
    tl_carbonate_constants(s->temperature_degC, &k);
    const double tic = tl_tic_from_h(&k, s->alk_eq_m3, h, tan);
    if (!(tic > 0))
        return false;
    *tic_mol_m3 = tic;
    *co2_mol_m3 = tl_co2_mol_m3(&k, h, tic);
    return true;
}

double tl_sample_nh3(const struct tl_sample *s)
{
    return s->tan_gN_m3 * tl_nh3_fraction(s->temperature_degC, s->ph);
}

/* --- one figure --------------------------------------------------------------------------- */

/* What a figure needs: a value of it counts once all of these were read. */
static const unsigned needs[TL_NFIGURE] = {
    [TL_FIGURE_TEMPERATURE] = TL_READING_BIT(TEMPERATURE),
    [TL_FIGURE_NH3_SHARE] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH),
    [TL_FIGURE_NH3] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(AMMONIA),
    [TL_FIGURE_TAN_CHRONIC] =
        TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(AMMONIA),
    [TL_FIGURE_TAN_ACUTE] =
        TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(AMMONIA),
    [TL_FIGURE_NO2] = TL_READING_BIT(NITRITE),
    [TL_FIGURE_CL_NO2] = TL_READING_BIT(NITRITE) | TL_READING_BIT(CHLORIDE),
    [TL_FIGURE_HNO2] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(NITRITE),
    [TL_FIGURE_NO3] = TL_READING_BIT(NITRATE),
    [TL_FIGURE_CHLORIDE] = TL_READING_BIT(CHLORIDE), /* or salinity */
    [TL_FIGURE_O2] = TL_READING_BIT(OXYGEN),
    [TL_FIGURE_O2_SAT] = TL_READING_BIT(TEMPERATURE),
    [TL_FIGURE_O2_SHARE] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(OXYGEN),
    [TL_FIGURE_PH] = TL_READING_BIT(PH),
    [TL_FIGURE_ALK] = TL_READING_BIT(ALKALINITY),
    [TL_FIGURE_CO2] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(ALKALINITY),
    [TL_FIGURE_TIC] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) | TL_READING_BIT(ALKALINITY),
};

#define RANGE_BIT(id) (1u << TL_RANGE_##id)

/* The published ranges of the equations a figure or its limits come from. */
static const unsigned ranges_of[TL_NFIGURE] = {
    [TL_FIGURE_NH3_SHARE] = RANGE_BIT(NH3_PH) | RANGE_BIT(FRESH),
    [TL_FIGURE_NH3] = RANGE_BIT(NH3_PH) | RANGE_BIT(FRESH),
    [TL_FIGURE_TAN_CHRONIC] = RANGE_BIT(EPA_TEMPERATURE) | RANGE_BIT(EPA_PH) | RANGE_BIT(FRESH),
    [TL_FIGURE_TAN_ACUTE] = RANGE_BIT(EPA_TEMPERATURE) | RANGE_BIT(EPA_PH) | RANGE_BIT(FRESH),
    [TL_FIGURE_O2_SAT] = RANGE_BIT(O2_TEMPERATURE) | RANGE_BIT(PRESSURE) | RANGE_BIT(SALINITY),
    [TL_FIGURE_O2_SHARE] = RANGE_BIT(O2_TEMPERATURE) | RANGE_BIT(PRESSURE) | RANGE_BIT(SALINITY),
    [TL_FIGURE_CO2] = RANGE_BIT(FRESH),
    [TL_FIGURE_TIC] = RANGE_BIT(FRESH),
};

static void set(struct tl_figures *f, enum tl_figure_id id, double value)
{
    f->figure[id].value = f->figure[id].missing ? NAN : value;
}

static void set_judged(struct tl_figures *f, enum tl_figure_id id, double value, double caution,
                       double danger, bool below)
{
    struct tl_figure *g = &f->figure[id];
    set(f, id, value);
    g->below = below;
    g->caution = caution;
    g->danger = danger;
    g->judged = isfinite(g->value);
    if (g->judged)
        g->grade = g->worst = tl_grade_of(g->value, caution, danger, below);
}

/* --- the groups of figures ---------------------------------------------------------------- */

/* Fish are as warm as their water. */
static void judge_temperature(const struct tl_sample *s, const struct tl_limits *l,
                              struct tl_figures *f)
{
    const double t = s->temperature_degC;
    const bool low = t < 0.5 * (l->cold.caution + l->warm.caution);
    const struct tl_limit_pair *side = low ? &l->cold : &l->warm;

    set_judged(f, TL_FIGURE_TEMPERATURE, t, side->caution, side->danger, low);
}

/* The acute criterion without salmonids, which koi are not; the chronic one without mussels and early life
 * stages of fish. */
static void judge_ammonia(const struct tl_sample *s, const struct tl_limits *l,
                          struct tl_figures *f)
{
    const double t = s->temperature_degC, ph = s->ph;
    const double chronic =
        isnan(l->tan_caution) ? tl_epa_ammonia_chronic(t, ph, false) : l->tan_caution;
    const double acute = isnan(l->tan_danger) ? tl_epa_ammonia_acute(t, ph, false) : l->tan_danger;

    set(f, TL_FIGURE_NH3_SHARE, 100 * tl_nh3_fraction(t, ph));
    set_judged(f, TL_FIGURE_NH3, tl_sample_nh3(s), l->nh3.caution, l->nh3.danger, false);
    set_judged(f, TL_FIGURE_TAN_CHRONIC, s->tan_gN_m3, chronic, NAN, false);
    set_judged(f, TL_FIGURE_TAN_ACUTE, s->tan_gN_m3, NAN, acute, false);
}

/* Chloride that was not measured protects nobody. */
static void judge_nitrite(const struct tl_sample *s, const struct tl_limits *l,
                          struct tl_figures *f)
{
    const double chloride = isnan(s->chloride_g_m3) ? 0 : s->chloride_g_m3;

    set_judged(f, TL_FIGURE_NO2, s->no2_gN_m3, l->no2.caution, tl_nitrite_danger(l, chloride),
               false);
    if (isnan(s->chloride_g_m3) && isfinite(s->no2_gN_m3))
        f->assumed |= TL_READING_BIT(CHLORIDE);
    set(f, TL_FIGURE_CL_NO2, s->no2_gN_m3 > 0 ? s->chloride_g_m3 / s->no2_gN_m3 : NAN);
    set(f, TL_FIGURE_HNO2, tl_hno2(s->temperature_degC, s->ph, s->no2_gN_m3));
    set_judged(f, TL_FIGURE_NO3, s->no3_gN_m3, l->no3.caution, l->no3.danger, false);
}

/* Salt is judged by its chloride; a meter that tells salinity does not tell which salt it is. */
static void judge_salt(const struct tl_sample *s, const struct tl_limits *l, struct tl_figures *f)
{
    const double in_salinity = 1000 * s->salinity_g_g / tl_salinity_g_kg(1);
    struct tl_figure *g = &f->figure[TL_FIGURE_CHLORIDE];

    if (!isnan(in_salinity))
        g->missing = 0;
    /* fmax takes the other of the two where one is not a number */
    set_judged(f, TL_FIGURE_CHLORIDE, fmax(s->chloride_g_m3, in_salinity), l->chloride.caution,
               l->chloride.danger, false);
    f->chloride_from_salinity =
        in_salinity > s->chloride_g_m3 || (isnan(s->chloride_g_m3) && !isnan(in_salinity));
}

static void judge_oxygen(const struct tl_sample *s, const struct tl_limits *l, double pressure_atm,
                         struct tl_figures *f)
{
    const double full = tl_o2_saturation(s->temperature_degC, f->salinity_g_kg, pressure_atm);

    set_judged(f, TL_FIGURE_O2, s->o2_g_m3, l->o2.caution, l->o2.danger, true);
    set(f, TL_FIGURE_O2_SAT, full);
    set_judged(f, TL_FIGURE_O2_SHARE, 100 * s->o2_g_m3 / full, TL_O2_SHARE_CAUTION,
               TL_O2_SHARE_DANGER, false);
}

static void judge_carbonate(const struct tl_sample *s, const struct tl_limits *l,
                            struct tl_figures *f)
{
    const bool low = s->ph < 0.5 * (l->ph_low.caution + l->ph_high.caution);
    const struct tl_limit_pair *side = low ? &l->ph_low : &l->ph_high;
    double tic = NAN, co2 = NAN;

    set_judged(f, TL_FIGURE_PH, s->ph, side->caution, side->danger, low);
    set_judged(f, TL_FIGURE_ALK, s->alk_eq_m3 * TL_CACO3_G_PER_EQ,
               l->alk.caution * TL_CACO3_G_PER_EQ, l->alk.danger * TL_CACO3_G_PER_EQ, true);
    f->contradictory = !tl_sample_carbon(s, &tic, &co2) && !f->figure[TL_FIGURE_TIC].missing;
    set(f, TL_FIGURE_TIC, tic);
    set_judged(f, TL_FIGURE_CO2, TL_CO2_G_PER_MOL * co2, l->co2.caution, l->co2.danger, false);
    if (isnan(s->tan_gN_m3) && isfinite(tic))
        f->assumed |= TL_READING_BIT(AMMONIA);
}

/* --- the sample --------------------------------------------------------------------------- */

static void init_figures(const struct tl_sample *s, struct tl_figures *f)
{
    unsigned read = 0;
    for (int i = 0; i < TL_NREADING; i++)
        if (!isnan(tl_sample_reading(s, (enum tl_reading_id)i)))
            read |= 1u << i;

    *f = (struct tl_figures){.grade = TL_WITHIN};
    for (int i = 0; i < TL_NFIGURE; i++) {
        f->figure[i] = (struct tl_figure){
            .value = NAN, .caution = NAN, .danger = NAN, .missing = needs[i] & ~read};
        f->figure[i].least = f->figure[i].most = NAN;
        f->missing |= f->figure[i].missing;
    }
    f->elevation_m = isnan(s->elevation_m) ? 0 : s->elevation_m;
    f->salt_from_chloride = isnan(s->salinity_g_g) && !isnan(s->chloride_g_m3);
    f->salinity_g_kg = !isnan(s->salinity_g_g) ? 1000 * s->salinity_g_g
                       : f->salt_from_chloride ? tl_salinity_g_kg(s->chloride_g_m3)
                                               : 0;
    if (isnan(s->temperature_degC))
        return; /* nothing is left that these go into */
    if (isnan(s->elevation_m))
        f->assumed |= TL_READING_BIT(ELEVATION);
    if (isnan(s->salinity_g_g))
        f->assumed |= TL_READING_BIT(SALINITY);
}

static void look_at_ranges(const struct tl_sample *s, double pressure_atm, struct tl_figures *f)
{
    unsigned outside = 0;
    for (int i = 0; i < TL_NSAMPLE_RANGE; i++)
        f->range_value[i] = NAN;
    f->range_value[TL_RANGE_O2_TEMPERATURE] = s->temperature_degC;
    f->range_value[TL_RANGE_EPA_TEMPERATURE] = s->temperature_degC;
    f->range_value[TL_RANGE_FISH_TEMPERATURE] = s->temperature_degC;
    f->range_value[TL_RANGE_PRESSURE] = pressure_atm;
    f->range_value[TL_RANGE_SALINITY] = f->salinity_g_kg;
    f->range_value[TL_RANGE_FRESH] = f->salinity_g_kg;
    f->range_value[TL_RANGE_EPA_PH] = s->ph;
    f->range_value[TL_RANGE_NH3_PH] = s->ph;
    for (int i = 0; i < TL_NSAMPLE_RANGE; i++) {
        const struct tl_range_row *r = tl_range_row(i);
        if (f->range_value[i] < r->low || f->range_value[i] > r->high)
            outside |= 1u << i;
    }
    for (int i = 0; i < TL_NFIGURE; i++) {
        if (isfinite(f->figure[i].value))
            f->figure[i].outside = ranges_of[i] & outside;
        f->outside |= f->figure[i].outside;
    }
    /* no figure stands for the fish themselves, yet every limit is about them */
    f->outside |= outside & RANGE_BIT(FISH_TEMPERATURE);
}

static void judge_each(const struct tl_sample *s, const struct tl_limits *limits,
                       struct tl_figures *out)
{
    init_figures(s, out);
    const double pressure = tl_pressure_atm(out->elevation_m);
    judge_temperature(s, limits, out);
    judge_ammonia(s, limits, out);
    judge_nitrite(s, limits, out);
    judge_salt(s, limits, out);
    judge_oxygen(s, limits, pressure, out);
    judge_carbonate(s, limits, out);
    look_at_ranges(s, pressure, out);
}

/* --- what cannot be told ------------------------------------------------------------------ */

/* Of which missing readings the ends are tried. Without a pH carbon dioxide may be anything. */
static const unsigned bounded_by[TL_NFIGURE] = {
    [TL_FIGURE_NH3] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH),
    [TL_FIGURE_TAN_CHRONIC] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH),
    [TL_FIGURE_TAN_ACUTE] = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH),
    [TL_FIGURE_O2_SHARE] = TL_READING_BIT(TEMPERATURE),
    [TL_FIGURE_CO2] = TL_READING_BIT(TEMPERATURE),
};

static void bound(struct tl_figure *g, enum tl_figure_id id, const struct tl_figure *cold,
                  const struct tl_figure *warm)
{
    g->least = fmin(cold->value, warm->value);
    g->most = fmax(cold->value, warm->value);
    g->grade = cold->grade < warm->grade ? cold->grade : warm->grade;
    g->worst = cold->grade > warm->grade ? cold->grade : warm->grade;
    if (id == TL_FIGURE_O2_SHARE && g->worst != TL_DANGER)
        g->worst = g->grade; /* water that is full when cold is above full when warm */
}

/* What is judged here rises, or its limit falls, from one end to the other; carbon dioxide falls. */
static void judge_untold(const struct tl_sample *s, const struct tl_limits *limits,
                         struct tl_figures *f)
{
    struct tl_sample cold = *s, warm = *s;
    struct tl_figures at_cold, at_warm;

    if (isnan(s->temperature_degC)) {
        cold.temperature_degC = 0;
        warm.temperature_degC = 40;
    }
    if (isnan(s->ph)) {
        cold.ph = TL_SAMPLE_PH_LEAST;
        warm.ph = TL_SAMPLE_PH_MOST;
    }
    judge_each(&cold, limits, &at_cold);
    judge_each(&warm, limits, &at_warm);
    for (int i = 0; i < TL_NFIGURE; i++)
        if (f->figure[i].missing && !(f->figure[i].missing & ~bounded_by[i]))
            bound(&f->figure[i], (enum tl_figure_id)i, &at_cold.figure[i], &at_warm.figure[i]);
}

void tl_sample_judge(const struct tl_sample *s, const struct tl_limits *limits,
                     struct tl_figures *out)
{
    judge_each(s, limits, out);
    judge_untold(s, limits, out);
    for (int i = 0; i < TL_NFIGURE; i++) {
        const struct tl_figure *g = &out->figure[i];
        if (g->grade > out->grade)
            out->grade = g->grade;
        if (g->worst > out->may_be)
            out->may_be = g->worst;
        if (g->worst > g->grade)
            out->untold |= 1u << i;
    }
}

enum tl_grade tl_figures_grade(const struct tl_figures *f)
{
    return f->may_be == TL_WITHIN && f->outside ? TL_CAUTION : f->may_be;
}

const char *tl_figures_verdict(const struct tl_figures *f)
{
    if (f->may_be > f->grade)
        return "cannot be told";
    if (f->grade == TL_WITHIN && f->outside)
        return "caution: outside published range";
    return tl_grade_text(f->grade);
}
