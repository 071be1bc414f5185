/* Works out the plan, step by step, on the water as each step leaves it. */
#include "towerloop/remedy.h"

#include <math.h>

#include "loop.h"
#include "mix.h"
#include "towerloop/chem.h"

#define PERCENT    0.01
#define TOLERANCE  1e-9
#define LEAST_GAIN 0.1 /* of ln(value/aim): a change of water has to bring about 10 % */
#define SODA_PARTS 20  /* a dose is this many parts of what is lacking, or fewer */
#define SODA_DOSES 10
#define LEAST_SODA 0.04 /* eq/m3: 2 mg/L as CaCO3 */

/* What a change of water, and what stopping the feed, can work against. */
static const unsigned by_change = TL_FIGURE_BIT(NH3) | TL_FIGURE_BIT(TAN_CHRONIC) |
                                  TL_FIGURE_BIT(TAN_ACUTE) | TL_FIGURE_BIT(NO2) |
                                  TL_FIGURE_BIT(NO3) | TL_FIGURE_BIT(CHLORIDE);
static const unsigned by_fasting =
    TL_FIGURE_BIT(NH3) | TL_FIGURE_BIT(TAN_CHRONIC) | TL_FIGURE_BIT(TAN_ACUTE) |
    TL_FIGURE_BIT(NO2) | TL_FIGURE_BIT(O2) | TL_FIGURE_BIT(CO2) | TL_FIGURE_BIT(TEMPERATURE);
static const unsigned ammonia =
    TL_FIGURE_BIT(NH3) | TL_FIGURE_BIT(TAN_CHRONIC) | TL_FIGURE_BIT(TAN_ACUTE);

struct planner {
    const struct tl_remedy_input *in;
    const struct tl_limits *limits;
    struct tl_remedy *plan;
    struct tl_sample now; /* settled */
    double nh3_cap;       /* gN/m3 */
    double co2_mol_m3;    /* what the pond held at the start; NAN: not known */
    double wait_d;        /* before the next step that moves the pH */
    double lowest_ph;     /* the pH may be as low, where it is only known by bounds */
    double aim;           /* of the caution level: where changes of water are to take ammonia */
    bool air_wanted;
};

const char *tl_remedy_key(enum tl_remedy_kind kind)
{
    static const char *const keys[TL_NREMEDY] = {
#define KEY(id, key, dim) key,
        TL_REMEDY_LIST(KEY)
#undef KEY
    };
    return keys[kind];
}

enum tl_dim tl_remedy_dim(enum tl_remedy_kind kind)
{
    static const enum tl_dim dims[TL_NREMEDY] = {
#define DIM(id, key, dim) dim,
        TL_REMEDY_LIST(DIM)
#undef DIM
    };
    return dims[kind];
}

/* --- judging ------------------------------------------------------------------------------ */

static struct tl_figures judge(const struct planner *p, const struct tl_sample *s)
{
    struct tl_figures f;
    tl_sample_judge(s, p->limits, &f);
    return f;
}

static unsigned beyond(const struct tl_figures *f)
{
    unsigned set = 0;
    for (int i = 0; i < TL_NFIGURE; i++)
        if (f->figure[i].grade > TL_WITHIN)
            set |= 1u << i;
    return set;
}

/* How far past its danger level, as a ratio. */
static double severity(const struct tl_figure *f)
{
    return f->below ? f->danger / fmax(f->value, TOLERANCE) : f->value / f->danger;
}

static bool is_worse(const struct tl_figure *before, const struct tl_figure *after)
{
    if (!before->judged || !after->judged)
        return false;
    if (after->grade != before->grade)
        return after->grade > before->grade;
    return after->grade == TL_DANGER && before->below == after->below &&
           severity(after) > severity(before) * (1 + TL_REMEDY_WORSE);
}

/* The first figure that is worse, or TL_NFIGURE. */
static enum tl_figure_id worse_figure(const struct planner *p, const struct tl_sample *before,
                                      const struct tl_sample *after)
{
    const struct tl_figures was = judge(p, before), is = judge(p, after);
    int i = 0;
    while (i < TL_NFIGURE && !is_worse(&was.figure[i], &is.figure[i]))
        i++;
    return (enum tl_figure_id)i;
}

/* Gas and warmth go back to where they were. */
static void settle(const struct planner *p, const struct tl_sample *mixed,
                   struct tl_sample *settled)
{
    (void)tl_mix_settle(mixed, p->in->pond.temperature_degC, p->co2_mol_m3, settled);
}

/* Whether fish may be taken from `before` through `mixed` to `settled`, and the figures stay as good
 * as those of `baseline`; and, lest small losses add up, as those before the plan. */
static enum tl_obstacle obstacle(const struct planner *p, const struct tl_sample *baseline,
                                 const struct tl_sample *before, const struct tl_sample *mixed,
                                 const struct tl_sample *settled, enum tl_figure_id *figure)
{
    const double ph[] = {before->ph, mixed->ph, settled->ph};
    const double highest = fmax(ph[0], fmax(ph[1], ph[2]));
    const double lowest = fmin(ph[0], fmin(ph[1], ph[2]));

    if (fmax(tl_sample_nh3(mixed), tl_sample_nh3(settled)) > p->nh3_cap)
        return TL_OBSTACLE_AMMONIA;
    if (highest - lowest > TL_REMEDY_PH_STEP + TOLERANCE)
        return TL_OBSTACLE_PH;
    if (fabs(mixed->temperature_degC - before->temperature_degC) > TL_REMEDY_T_STEP + TOLERANCE)
        return TL_OBSTACLE_TEMPERATURE;
    *figure = worse_figure(p, baseline, mixed);
    if (*figure == TL_NFIGURE)
        *figure = worse_figure(p, baseline, settled);
    if (*figure == TL_NFIGURE)
        *figure = worse_figure(p, &p->in->pond, mixed);
    if (*figure == TL_NFIGURE)
        *figure = worse_figure(p, &p->in->pond, settled);
    return *figure == TL_NFIGURE ? TL_OBSTACLE_NONE : TL_OBSTACLE_FIGURE;
}

/* How far the figures of a set are from where water changes aim: 0 when all are there. */
static double score(const struct planner *p, const struct tl_sample *s, unsigned set)
{
    const struct tl_figures f = judge(p, s);
    double sum = 0;
    for (int i = 0; i < TL_NFIGURE; i++) {
        const struct tl_figure *g = &f.figure[i];
        const double limit = isnan(g->caution) ? g->danger : g->caution;
        if (set >> i & 1 && g->judged && g->value > 0)
            sum += fmax(0, log(g->value / (p->aim * limit)));
    }
    return sum;
}

/* --- steps -------------------------------------------------------------------------------- */

static struct tl_remedy_step *add(struct planner *p, enum tl_remedy_kind kind, double amount,
                                  unsigned because)
{
    struct tl_remedy_step *s = &p->plan->step[p->plan->steps++];
    *s = (struct tl_remedy_step){.kind = kind,
                                 .amount = amount,
                                 .because = because,
                                 .before = p->now,
                                 .mixed = p->now,
                                 .settled = p->now};
    return s;
}

/* A step that moves the water: the next one has to wait. */
static void move(struct planner *p, struct tl_remedy_step *s, const struct tl_sample *mixed,
                 const struct tl_sample *settled)
{
    const double ph = fmax(fabs(mixed->ph - s->before.ph), fabs(settled->ph - s->before.ph));
    const double t = fabs(mixed->temperature_degC - s->before.temperature_degC);

    s->mixed = *mixed;
    s->settled = *settled;
    p->now = *settled;
    p->wait_d = ph > 0.5 * TL_REMEDY_PH_STEP || t > 0.5 * TL_REMEDY_T_STEP ? TL_REMEDY_LONG_WAIT_D
                                                                           : TL_REMEDY_WAIT_D;
}

static void hold(struct tl_remedy_held *h, enum tl_obstacle why, enum tl_figure_id figure,
                 double amount, const struct tl_sample *before, const struct tl_sample *mixed,
                 const struct tl_sample *settled)
{
    *h = (struct tl_remedy_held){.obstacle = why,
                                 .figure = figure,
                                 .amount = amount,
                                 .before = *before,
                                 .mixed = *mixed,
                                 .settled = *settled};
}

/* --- air ---------------------------------------------------------------------------------- */

static bool too_warm(const struct planner *p)
{
    const struct tl_figure *t = &p->plan->start.figure[TL_FIGURE_TEMPERATURE];
    return t->grade > TL_WITHIN && !t->below;
}

/* The most that more air can do to the pH: carbon dioxide as in the air above. */
static bool aired(const struct planner *p, struct tl_sample *out)
{
    struct tl_params params;
    struct tl_carbonate k;
    const double pressure = tl_pressure_atm(p->plan->start.elevation_m);

    *out = p->now;
    if (isnan(p->now.temperature_degC) || isnan(p->co2_mol_m3))
        return false;
    tl_params_default(&params);
    tl_carbonate_constants(p->now.temperature_degC, &k);
    return tl_mix_settle(&p->now, p->now.temperature_degC,
                         tl_co2_saturation(&k, params.co2_in_air, pressure), out);
}

/* In danger of oxygen, or within a third of the way from caution to it: a night takes the rest. Judgement. */
static bool suffocates(const struct planner *p)
{
    const struct tl_limit_pair *o2 = &p->limits->o2;
    const double room = isnan(o2->caution) ? 0 : (o2->caution - o2->danger) / 3;
    return p->in->pond.o2_g_m3 <= o2->danger + room;
}

/* More air now, if it is wanted and does no harm; or if there is too little oxygen to live on. */
static void try_air(struct planner *p)
{
    struct tl_sample open;
    enum tl_figure_id figure = TL_NFIGURE;
    const unsigned because = beyond(&p->plan->start) &
                             (TL_FIGURE_BIT(O2) | TL_FIGURE_BIT(O2_SHARE) | TL_FIGURE_BIT(NO2) |
                              TL_FIGURE_BIT(CO2) | (too_warm(p) ? TL_FIGURE_BIT(TEMPERATURE) : 0));

    if (!p->air_wanted)
        return;
    const bool known = aired(p, &open);
    if (!known && p->plan->air.obstacle != TL_OBSTACLE_NONE)
        return; /* held back while it could still be told */
    const enum tl_obstacle why =
        known ? obstacle(p, &p->in->pond, &p->now, &open, &open, &figure) : TL_OBSTACLE_NONE;
    /* what nitrite does to the blood salt mends as well; what a rise of the pH makes of much ammonia
     * nothing does */
    if (why == TL_OBSTACLE_NONE && known && because == TL_FIGURE_BIT(NO2) &&
        tl_sample_nh3(&open) > fmax(p->limits->nh3.caution, tl_sample_nh3(&p->now))) {
        hold(&p->plan->air, TL_OBSTACLE_AMMONIA, TL_FIGURE_NH3, NAN, &p->now, &open, &open);
        return;
    }
    /* only fish that suffocate cannot wait for the ammonia to be thinned first */
    if (why != TL_OBSTACLE_NONE && !suffocates(p)) {
        hold(&p->plan->air, why, figure, NAN, &p->now, &open, &open);
        return;
    }
    struct tl_remedy_step *s = add(p, TL_REMEDY_MORE_AIR, NAN, because);
    s->mixed = s->settled = open;
    s->harsh = why != TL_OBSTACLE_NONE;
    p->air_wanted = false;
    p->plan->air.obstacle = TL_OBSTACLE_NONE;
}

/* --- temperature -------------------------------------------------------------------------- */

/* Slowly either way: fish bear neither the temperature nor a quick change of it. */
static void plan_temperature(struct planner *p)
{
    if (p->plan->start.figure[TL_FIGURE_TEMPERATURE].grade > TL_WITHIN)
        add(p, too_warm(p) ? TL_REMEDY_COOL : TL_REMEDY_WARM, TL_REMEDY_T_STEP,
            TL_FIGURE_BIT(TEMPERATURE));
}

/* --- salt --------------------------------------------------------------------------------- */

static void try_salt(struct planner *p)
{
    const double chloride = isnan(p->now.chloride_g_m3) ? 0 : p->now.chloride_g_m3;
    const struct tl_figures f = judge(p, &p->now);
    const double room_g_m3 = 1000 * (TL_REMEDY_SALT_G_KG - f.salinity_g_kg);

    if (f.figure[TL_FIGURE_NO2].grade == TL_WITHIN)
        return;
    /* a hair more, so that rounding cannot leave it short of the ratio */
    const double wanted = p->limits->no2_chloride_ratio * p->now.no2_gN_m3 * (1 + TOLERANCE);
    const double lacking = wanted - chloride;
    const double dose_g_m3 = fmin(lacking / TL_CHLORIDE_G_PER_G_SALT, room_g_m3);
    if (!(dose_g_m3 > 1e-6 * wanted))
        return;
    struct tl_remedy_step *s =
        add(p, TL_REMEDY_SALT, dose_g_m3 * p->in->volume_m3, TL_FIGURE_BIT(NO2));
    p->now.chloride_g_m3 = chloride + dose_g_m3 * TL_CHLORIDE_G_PER_G_SALT;
    p->now.salinity_g_g += 1e-6 * dose_g_m3;
    s->mixed = s->settled = p->now;
}

/* --- water changes ------------------------------------------------------------------------ */

struct trial {
    double share;
    enum tl_obstacle obstacle;
    enum tl_figure_id figure;
    double score;
    struct tl_sample mixed, settled;
};

static void try_change(const struct planner *p, double share, unsigned targets, struct trial *t)
{
    const struct tl_sample *source = &p->plan->source;

    t->share = share;
    t->figure = TL_NFIGURE;
    tl_mix_source(&p->now, source, share, &t->mixed);
    settle(p, &t->mixed, &t->settled);
    t->obstacle = obstacle(p, &p->now, &p->now, &t->mixed, &t->settled, &t->figure);
    if (p->plan->by_bounds && t->obstacle == TL_OBSTACLE_NONE) {
        /* the pH may also be the lowest of all */
        struct tl_sample low = t->mixed;
        low.ph = fmin(p->lowest_ph, source->ph);
        t->obstacle = obstacle(p, &p->now, &p->now, &low, &low, &t->figure);
    }
    t->score = fmax(score(p, &t->mixed, targets), score(p, &t->settled, targets));
}

/* The smallest change that brings the targets where they should be, or the one that helps most. */
static bool best_change(const struct planner *p, unsigned targets, struct trial *best)
{
    const struct tl_figures f = judge(p, &p->now);
    const bool salty = f.figure[TL_FIGURE_CHLORIDE].grade > TL_WITHIN;
    const int least = (int)lround(TL_REMEDY_LEAST / PERCENT);
    const int most = (int)lround((salty ? TL_REMEDY_SALT_SHARE : TL_REMEDY_MOST) / PERCENT);
    struct trial t;
    const double now = score(p, &p->now, targets);
    *best = (struct trial){.score = now - LEAST_GAIN};
    bool found = false;

    for (int percent = least; percent <= most && best->score > 0; percent++) {
        try_change(p, percent * PERCENT, targets, &t);
        if (t.obstacle == TL_OBSTACLE_NONE && t.score < best->score) {
            *best = t;
            found = true;
        }
    }
    return found;
}

/* Why no change is any good: what stands in the way of a quarter, or of the smallest one. */
static void hold_change(struct planner *p, unsigned targets)
{
    struct trial t;
    try_change(p, 0.25, targets, &t);
    if (t.obstacle == TL_OBSTACLE_NONE)
        try_change(p, TL_REMEDY_LEAST, targets, &t);
    if (t.obstacle == TL_OBSTACLE_NONE) {
        t.obstacle = TL_OBSTACLE_NO_USE;
        for (int i = TL_NFIGURE - 1; i >= 0; i--)
            if (targets >> i & 1)
                t.figure = (enum tl_figure_id)i;
    }
    hold(&p->plan->change, t.obstacle, t.figure, t.share, &p->now, &t.mixed, &t.settled);
}

/* What this much ammonia does cannot be told without pH and temperature, or it may be a poison. */
static bool is_much_ammonia(const struct planner *p)
{
    return (p->in->pond.tan_gN_m3 > p->limits->ready_tan &&
            p->plan->start.figure[TL_FIGURE_NH3].missing) ||
           (p->plan->start.untold & ammonia) != 0;
}

/* Air and salt come right after the first change, which makes both safer and the salt cheaper. */
static void plan_changes(struct planner *p)
{
    const unsigned targets = beyond(&p->plan->start) & by_change;
    const bool blind = isnan(p->now.temperature_degC) || isnan(p->now.ph) ||
                       isnan(p->now.tan_gN_m3) || isnan(p->plan->source.ph);
    bool salted = false;

    if (blind && (targets || is_much_ammonia(p)))
        hold(&p->plan->change, TL_OBSTACLE_READINGS, TL_NFIGURE, NAN, &p->now, &p->now, &p->now);
    for (int n = 0; n < TL_REMEDY_CHANGES && targets && !blind; n++) {
        struct trial t;
        const struct tl_figures now = judge(p, &p->now);
        const unsigned because = beyond(&now) & targets;
        if (!because && score(p, &p->now, targets) < -log(TL_REMEDY_AIM) + TOLERANCE)
            break;
        if (!best_change(p, targets, &t)) {
            hold_change(p, targets);
            break;
        }
        const double wait_d = p->wait_d;
        if (p->plan->source_chlorine_g_m3 > 0) {
            const double cl2_g = t.share * p->in->volume_m3 * p->plan->source_chlorine_g_m3;
            add(p, TL_REMEDY_DECHLORINATE, TL_REMEDY_THIOSULFATE * cl2_g, because)->wait_d = wait_d;
        }
        struct tl_remedy_step *s = add(p, TL_REMEDY_CHANGE_WATER, t.share, because);
        s->wait_d = p->plan->source_chlorine_g_m3 > 0 ? 0 : wait_d;
        move(p, s, &t.mixed, &t.settled);
        p->lowest_ph = fmin(p->lowest_ph, p->plan->source.ph);
        if (n == 0) {
            try_air(p);
            try_salt(p);
            salted = true;
        }
    }
    if (!salted)
        try_salt(p);
    try_air(p);
}

/* --- baking soda -------------------------------------------------------------------------- */

static enum tl_obstacle try_soda(const struct planner *p, double dose_eq_m3,
                                 struct tl_sample *mixed, struct tl_sample *settled,
                                 enum tl_figure_id *figure)
{
    if (isnan(p->now.tan_gN_m3) || !tl_mix_soda(&p->now, dose_eq_m3, mixed))
        return TL_OBSTACLE_READINGS;
    settle(p, mixed, settled);
    const double nh3 =
        fmax(tl_sample_nh3(&p->now), fmax(tl_sample_nh3(mixed), tl_sample_nh3(settled)));
    if (nh3 > p->limits->nh3.caution)
        return TL_OBSTACLE_AMMONIA;
    return obstacle(p, &p->now, &p->now, mixed, settled, figure);
}

static void plan_soda(struct planner *p)
{
    if (judge(p, &p->now).figure[TL_FIGURE_ALK].grade == TL_WITHIN)
        return;
    for (int n = 0; n < SODA_DOSES; n++) {
        const double lacking = TL_REMEDY_ALK_EQ_M3 - p->now.alk_eq_m3;
        struct tl_sample mixed = p->now, settled = p->now;
        enum tl_figure_id figure = TL_NFIGURE;
        enum tl_obstacle why = TL_OBSTACLE_NONE;
        double dose = 0;

        if (lacking < LEAST_SODA)
            return;
        for (int part = SODA_PARTS; part > 0; part--) {
            dose = lacking * part / SODA_PARTS;
            why = try_soda(p, dose, &mixed, &settled, &figure);
            if (why == TL_OBSTACLE_NONE || dose < LEAST_SODA)
                break;
        }
        if (why != TL_OBSTACLE_NONE) {
            (void)try_soda(p, lacking, &mixed, &settled, &figure);
            hold(&p->plan->soda, why, figure, lacking * TL_BAKING_SODA_G_PER_EQ * p->in->volume_m3,
                 &p->now, &mixed, &settled);
            return;
        }
        struct tl_remedy_step *s =
            add(p, TL_REMEDY_BAKING_SODA, dose * TL_BAKING_SODA_G_PER_EQ * p->in->volume_m3,
                TL_FIGURE_BIT(ALK));
        s->wait_d = p->wait_d;
        move(p, s, &mixed, &settled);
    }
}

/* --- testing ------------------------------------------------------------------------------ */

/* Four hours after danger, or where danger cannot be told, twelve after caution, two with little oxygen (common
 * practice, no source); sooner where unfed fish without a filter would bring un-ionised ammonia back to its caution
 * level before. */
static void plan_test(struct planner *p)
{
    struct tl_remedy *plan = p->plan;
    const bool urgent = plan->start.may_be == TL_DANGER || is_much_ammonia(p);
    const double longest_h = beyond(&plan->start) & TL_FIGURE_BIT(O2) ? 2 : urgent ? 4 : 12;
    struct tl_sample after = p->in->pond;
    double hours = longest_h;

    for (int i = plan->steps - 1; i >= 0; i--)
        if (plan->step[i].kind == TL_REMEDY_CHANGE_WATER)
            after = plan->step[i].settled;
    const double room = p->limits->nh3.caution - tl_sample_nh3(&after);
    const double rise_d = plan->fish_tan_g_m3_d * tl_nh3_fraction(after.temperature_degC, after.ph);
    if (room > 0 && rise_d > 0)
        hours = fmax(2, fmin(longest_h, floor(24 * room / rise_d)));
    add(p, TL_REMEDY_TEST_AGAIN, hours / 24, beyond(&plan->start));
    /* it stands before the first step that has to wait */
    struct tl_remedy_step test = plan->step[plan->steps - 1];
    int place = 0;
    while (place < plan->steps - 1 && !(plan->step[place].wait_d > 0))
        place++;
    for (int i = plan->steps - 1; i > place; i--) {
        plan->step[i] = plan->step[i - 1];
        test.before = test.mixed = test.settled = plan->step[i].before;
    }
    plan->step[place] = test;
}

/* --- the plan ----------------------------------------------------------------------------- */

/* What is not known of the source water: ammonia, nitrite and nitrate count as none, chlorine as the
 * most that is allowed, and as chloramine, which leaves ammonia behind. */
static void assume_source(const struct tl_remedy_input *in, struct tl_remedy *plan)
{
    static const unsigned asked = TL_READING_BIT(TEMPERATURE) | TL_READING_BIT(PH) |
                                  TL_READING_BIT(AMMONIA) | TL_READING_BIT(NITRITE) |
                                  TL_READING_BIT(ALKALINITY);
    const bool salty = plan->start.figure[TL_FIGURE_CHLORIDE].grade > TL_WITHIN;
    struct tl_sample *s = &plan->source;

    *s = in->source;
    for (int i = 0; i < TL_NREADING; i++)
        if (asked >> i & 1 && isnan(tl_sample_reading(s, (enum tl_reading_id)i)))
            plan->measure_source |= 1u << i;
    if (salty && isnan(s->chloride_g_m3))
        plan->measure_source |= TL_READING_BIT(CHLORIDE);
    plan->chlorine_assumed = isnan(in->source_chlorine_g_m3);
    plan->source_chlorine_g_m3 =
        plan->chlorine_assumed ? TL_REMEDY_CHLORINE_G_M3 : in->source_chlorine_g_m3;
    plan->chloramine_assumed = in->form == TL_CHLORINE_UNKNOWN && plan->source_chlorine_g_m3 > 0;
    if (isnan(s->temperature_degC))
        s->temperature_degC = in->pond.temperature_degC;
    if (isnan(s->tan_gN_m3))
        s->tan_gN_m3 = 0;
    if (isnan(s->no2_gN_m3))
        s->no2_gN_m3 = 0;
    if (isnan(s->no3_gN_m3))
        s->no3_gN_m3 = 0;
    if (isnan(s->chloride_g_m3))
        s->chloride_g_m3 = 0;
    if (in->form != TL_CHLORINE_FREE)
        s->tan_gN_m3 += TL_CHLORAMINE_N_PER_CHLORINE * plan->source_chlorine_g_m3;
}

static void assume(struct planner *p)
{
    const struct tl_remedy_input *in = p->in;
    struct tl_remedy *plan = p->plan;
    struct tl_params params;
    double tic = 0, co2 = 0;

    assume_source(in, plan);
    p->co2_mol_m3 = tl_sample_carbon(&in->pond, &tic, &co2) ? co2 : NAN;
    plan->by_bounds = isnan(p->co2_mol_m3) || !tl_sample_carbon(&plan->source, &tic, &co2);
    p->lowest_ph = in->pond.ph;
    /* baking soda raises the share of un-ionised ammonia about as it raises the alkalinity */
    p->aim = TL_REMEDY_AIM;
    if (plan->start.figure[TL_FIGURE_ALK].grade > TL_WITHIN)
        p->aim *= fmax(0.2, in->pond.alk_eq_m3 / TL_REMEDY_ALK_EQ_M3);
    const double floor_gN_m3 = TL_REMEDY_NH3_FLOOR * p->limits->nh3.caution;
    p->nh3_cap = fmax(floor_gN_m3, tl_sample_nh3(&in->pond)) * (1 + TOLERANCE);

    tl_params_default(&params);
    plan->fish_tan_g_m3_d = in->fish_g / 1000 * params.n_basal *
                            pow(params.theta_basal, in->pond.temperature_degC - 20) / in->volume_m3;
}

/* Fish and filter apart, which the plan does not reckon. Air that is a step of it may have driven the carbon
 * dioxide out by then; where fish cannot bear that the step asks for less. */
static void look_at_end(struct planner *p)
{
    struct tl_remedy *plan = p->plan;
    const struct tl_figures settled = judge(p, &p->now);
    struct tl_sample open;
    bool air = false;
    plan->end = p->now;
    plan->left = beyond(&settled);
    for (int i = 0; i < plan->steps; i++) {
        const struct tl_remedy_step *s = &plan->step[i];
        air = air || (s->kind == TL_REMEDY_MORE_AIR && !s->harsh);
        if (s->kind == TL_REMEDY_CHANGE_WATER || s->kind == TL_REMEDY_BAKING_SODA) {
            const struct tl_figures mixed = judge(p, &s->mixed);
            plan->left = beyond(&settled) | beyond(&mixed); /* of the last one */
        }
    }
    if (air && aired(p, &open) && open.ph > p->now.ph) {
        const struct tl_figures gone = judge(p, &open);
        plan->end = open;
        plan->left |= beyond(&gone);
    }
}

void tl_remedy_plan(const struct tl_remedy_input *in, const struct tl_limits *limits,
                    struct tl_remedy *out)
{
    struct planner p = {.in = in, .limits = limits, .plan = out, .now = in->pond};
    *out = (struct tl_remedy){.steps = 0};
    tl_sample_judge(&in->pond, limits, &out->start);
    out->measure = out->start.missing;
    assume(&p);

    const unsigned bad = beyond(&out->start);
    const bool much_ammonia = is_much_ammonia(&p);
    out->needed = bad != 0 || much_ammonia || out->start.untold;
    out->end = p.now;
    if (!out->needed)
        return;
    /* in acid water the filter stands still */
    if ((bad & by_fasting) || much_ammonia || in->pond.ph < TL_REMEDY_SLOW_PH)
        add(&p, TL_REMEDY_STOP_FEEDING, NAN, bad & by_fasting);
    p.air_wanted = (bad & (TL_FIGURE_BIT(O2) | TL_FIGURE_BIT(O2_SHARE) | TL_FIGURE_BIT(NO2) |
                           TL_FIGURE_BIT(CO2))) != 0 ||
                   too_warm(&p);
    try_air(&p);
    plan_temperature(&p);
    plan_changes(&p);
    plan_soda(&p);
    plan_test(&p);
    look_at_end(&p);
}
