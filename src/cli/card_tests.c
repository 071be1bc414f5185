/* What to do in this tank when a test is bad: the plans of `water --fix`, for readings at the limits. */
#include <math.h>

#include "card_view.h"
#include "towerloop/chem.h"
#include "water.h"

#define HOUR_D (1.0 / 24)

struct tests {
    const struct tl_endure_study *study;
    struct tl_card *card;
    struct tl_water water; /* of good readings; each row makes one of them bad */
    double co2_mol_m3;
    bool put_right;      /* the run's alkalinity was low */
    bool short_of_water; /* the source water cannot put all of it right */
};

static double rounded(double x, double unit)
{
    return round(x / unit) * unit;
}

/* --- the tank's water ----------------------------------------------------------------------------- */

/* pH of water with this much carbon dioxide. */
static double ph_at(double t_degC, double alk_eq_m3, double co2_mol_m3)
{
    struct tl_carbonate k;
    double low = 4, high = 11; /* carbon dioxide falls as the pH rises */
    tl_carbonate_constants(t_degC, &k);
    for (int i = 0; i < 60; i++) {
        const double ph = 0.5 * (low + high), h = pow(10, -ph);
        const double co2 = tl_co2_mol_m3(&k, h, tl_tic_from_h(&k, alk_eq_m3, h, 0));
        if (co2 > co2_mol_m3)
            low = ph;
        else
            high = ph;
    }
    return 0.5 * (low + high);
}

/* Water whose alkalinity is low itself is reckoned as set right: one reading at a time is bad. */
static void set_right(struct tests *t)
{
    struct tl_sample *s = &t->water.in.pond;
    const double least = t->water.limits.alk.caution;
    if (!(s->alk_eq_m3 < least))
        return;
    t->put_right = true;
    s->alk_eq_m3 =
        rounded(fmax(least, TL_REMEDY_ALK_EQ_M3) * TL_CACO3_G_PER_EQ, 1) / TL_CACO3_G_PER_EQ;
    s->ph = rounded(ph_at(s->temperature_degC, s->alk_eq_m3, t->co2_mol_m3), 0.1);
}

/* Warm water makes ammonia more poisonous: the card is for all hours that were tried, and for the warmest
 * water that it has a row for. */
static double warmest_degC(const struct tl_endure_study *s)
{
    double degC = s->when.temperature_degC;
    for (size_t i = 0; i < s->starts.n; i++)
        degC = fmax(degC, s->starts.start[i].when.temperature_degC);
    return fmax(degC, tl_card_warmest_row_degC(s));
}

/* Readings as a kit shows them, so that who types them into `water --fix` gets the same plan. */
static void read_pond(struct tests *t)
{
    const struct tl_worst_hour *w = &t->study->when;
    struct tl_sample *s = &t->water.in.pond;
    struct tl_carbonate k;
    double h = 1e-8;

    tl_sample_init(s);
    s->elevation_m = t->study->scenario->setup.elevation_m;
    s->temperature_degC = rounded(warmest_degC(t->study), 0.1);
    tl_carbonate_constants(w->temperature_degC, &k);
    (void)tl_solve_ph(&k, w->water[TL_ALK], w->water[TL_TIC], w->water[TL_TAN], &h);
    t->co2_mol_m3 = tl_co2_mol_m3(&k, h, w->water[TL_TIC]);
    s->ph = rounded(-log10(h), 0.1);
    s->alk_eq_m3 = rounded(w->water[TL_ALK] * TL_CACO3_G_PER_EQ, 1) / TL_CACO3_G_PER_EQ;
    s->chloride_g_m3 = rounded(fmax(0, w->water[TL_CL]), 1);
    s->tan_gN_m3 = s->no2_gN_m3 = 0;
    set_right(t);
}

static void read_source(struct tests *t)
{
    const struct tl_setup *p = &t->study->scenario->setup;
    struct tl_remedy_input *in = &t->water.in;
    struct tl_sample *s = &in->source;

    tl_sample_init(s);
    s->temperature_degC = isnan(p->source_degC) ? in->pond.temperature_degC : p->source_degC;
    s->ph = p->source.ph;
    s->tan_gN_m3 = p->source.water[TL_TAN];
    s->no2_gN_m3 = p->source.water[TL_NO2];
    s->no3_gN_m3 = p->source.water[TL_NO3];
    s->alk_eq_m3 = p->source.water[TL_ALK];
    s->chloride_g_m3 = p->source.water[TL_CL];
    in->source_chlorine_g_m3 = p->source.water[TL_HOCL];
    in->form = p->source.chloramine ? TL_CHLORINE_CHLORAMINE : TL_CHLORINE_FREE;
    in->volume_m3 = p->tank.volume_m3 + p->chamber.volume_m3;
    in->fish_g = 1000 * t->study->when.fish_kg;
}

/* --- a plan in a sentence ------------------------------------------------------------------------- */

static void add_step(struct tl_text *x, const struct tl_water *w, const struct tl_remedy_step *s)
{
    switch (s->kind) {
    case TL_REMEDY_STOP_FEEDING:
        tl_text_add(x, "Stop feeding. ");
        break;
    case TL_REMEDY_MORE_AIR:
        tl_text_add(x, "More air. ");
        break;
    case TL_REMEDY_COOL:
    case TL_REMEDY_WARM:
        tl_text_addf(x, "%s the water by at most %s a day. ",
                     s->kind == TL_REMEDY_COOL ? "Cool" : "Warm",
                     tl_water_quantity(w, TL_DIM_TEMPERATURE_SPAN, s->amount).text);
        break;
    case TL_REMEDY_DECHLORINATE:
        tl_text_addf(x, "Thiosulfate: %s into the new water. ", tl_water_mass(w, s->amount).text);
        break;
    case TL_REMEDY_CHANGE_WATER:
        tl_text_addf(x, "Change %s %%, %s. ", tl_water_number(100 * s->amount).text,
                     tl_water_quantity(w, TL_DIM_VOLUME, s->amount * w->in.volume_m3).text);
        break;
    case TL_REMEDY_SALT:
        tl_text_addf(x, "Salt: %s, dissolved, over 2 h. ", tl_water_mass(w, s->amount).text);
        break;
    case TL_REMEDY_BAKING_SODA:
        tl_text_addf(x, "Baking soda: %s, dissolved, over 2 h. ", tl_water_mass(w, s->amount).text);
        break;
    case TL_REMEDY_TEST_AGAIN:
        tl_text_addf(x, "Test after %s h.", tl_water_number(s->amount / HOUR_D).text);
        break;
    case TL_NREMEDY:
        break;
    }
}

/* What comes after the test, if it still calls for it: steps of one kind, in sum. */
static void add_later(struct tl_text *x, const struct tl_water *w, int from,
                      enum tl_remedy_kind kind, const char *what)
{
    double sum = 0, wait_d = 0;
    int n = 0;
    for (int i = from; i < w->plan.steps; i++) {
        const struct tl_remedy_step *s = &w->plan.step[i];
        wait_d = fmax(wait_d, s->wait_d);
        if (s->kind != kind)
            continue;
        sum += s->amount;
        n++;
    }
    if (n == 0)
        return;
    tl_text_addf(x, " Then up to %d more %s%s, %.0f h apart", n, what, n > 1 ? "s" : "",
                 wait_d / HOUR_D);
    if (kind == TL_REMEDY_BAKING_SODA)
        tl_text_addf(x, ", another %s", tl_water_mass(w, sum).text);
    tl_text_add(x, ".");
}

/* As far as the first test all of it, the rest in sum. */
static void add_plan(struct tests *t, struct tl_text *x, const struct tl_sample *pond)
{
    struct tl_water w = t->water;
    int i = 0;
    w.in.pond = *pond;
    tl_remedy_plan(&w.in, &w.limits, &w.plan);
    while (i < w.plan.steps && w.plan.step[i].kind != TL_REMEDY_TEST_AGAIN)
        add_step(x, &w, &w.plan.step[i++]);
    if (i < w.plan.steps)
        add_step(x, &w, &w.plan.step[i++]);
    add_later(x, &w, i, TL_REMEDY_CHANGE_WATER, "change");
    add_later(x, &w, i, TL_REMEDY_BAKING_SODA, "dose");
    if (w.plan.left & ~(TL_FIGURE_BIT(O2) | TL_FIGURE_BIT(TEMPERATURE))) { /* not reckoned */
        tl_text_add(x, " Not enough: see below.");
        t->short_of_water = true;
    }
}

/* --- rows ----------------------------------------------------------------------------------------- */

static struct tl_text *row(struct tests *t)
{
    return tl_card_row(t->card, TL_CARD_TESTS);
}

static void say_oxygen(struct tests *t)
{
    const struct tl_limit_pair *l = &t->water.limits.o2;
    const double reading = isfinite(l->danger) ? l->danger : l->caution;
    struct tl_sample pond = t->water.in.pond;
    if (!isfinite(reading))
        return;
    struct tl_text *cell = row(t);
    pond.o2_g_m3 = 0.9 * reading;
    tl_text_addf(&cell[0], "Oxygen below %.3g mg/L", isfinite(l->caution) ? l->caution : l->danger);
    add_plan(t, &cell[1], &pond);
    if (isfinite(l->danger))
        tl_text_addf(&cell[1], " Below %.3g every minute counts.", l->danger);
}

/* Total ammonia that is danger at a pH: as un-ionised ammonia, or by the EPA's criterion. */
static double most_ammonia(const struct tests *t, double ph)
{
    struct tl_sample s = t->water.in.pond;
    struct tl_figures f;
    s.ph = ph;
    s.tan_gN_m3 = 1;
    tl_sample_judge(&s, &t->water.limits, &f);
    return fmin(f.figure[TL_FIGURE_NH3].danger / tl_nh3_fraction(s.temperature_degC, ph),
                f.figure[TL_FIGURE_TAN_ACUTE].danger);
}

/* The last place of two digits. */
static double second_digit(double x)
{
    return pow(10, floor(log10(x)) - 1);
}

static double two_digits_down(double x)
{
    return second_digit(x) * floor(x / second_digit(x) + 1e-9);
}

static double two_digits_up(double x)
{
    return second_digit(x) * ceil(x / second_digit(x) - 1e-9);
}

/* "from 12 at pH 7, ..." */
static void say_ammonia_levels(struct tests *t)
{
    static const double ph[] = {7, 7.5, 8, 8.5, 9};
    struct tl_text *cell = row(t);
    tl_text_add(&cell[0], "Ammonia is danger");
    tl_text_add(&cell[1], "from");
    for (size_t i = 0; i < sizeof ph / sizeof *ph; i++)
        tl_text_addf(&cell[1], "%s %.2g at pH %g", i ? "," : "",
                     two_digits_down(most_ammonia(t, ph[i])), ph[i]);
    tl_text_add(&cell[1], "; mg/L as N.");
}

static void say_ammonia(struct tests *t)
{
    struct tl_sample pond = t->water.in.pond;
    const double danger = most_ammonia(t, pond.ph);
    if (!(danger > 0 && isfinite(danger)))
        return;
    say_ammonia_levels(t);
    for (int times = 1; times <= 3; times += 2) {
        struct tl_text *cell = row(t);
        pond.tan_gN_m3 = two_digits_up(times * danger);
        tl_text_addf(&cell[0], "Ammonia %.3g mg/L as N", pond.tan_gN_m3);
        add_plan(t, &cell[1], &pond);
    }
}

/* Chloride keeps nitrite out of the blood, so the levels move with it. */
static void say_nitrite_levels(struct tests *t)
{
    struct tl_sample s = t->water.in.pond;
    struct tl_figures f;
    s.no2_gN_m3 = 0;
    tl_sample_judge(&s, &t->water.limits, &f);
    const struct tl_figure *no2 = &f.figure[TL_FIGURE_NO2];
    if (!isfinite(no2->danger))
        return;
    struct tl_text *cell = row(t);
    tl_text_add(&cell[0], "Nitrite is danger");
    tl_text_addf(&cell[1], "from %.2g, with chloride at %.0f mg/L", two_digits_down(no2->danger),
                 s.chloride_g_m3);
    if (isfinite(no2->caution))
        tl_text_addf(&cell[1], "; from %.2g caution: stop feeding", two_digits_down(no2->caution));
    tl_text_add(&cell[1], "; mg/L as N.");
}

static void say_nitrite(struct tests *t)
{
    const struct tl_limit_pair *l = &t->water.limits.no2;
    const double danger = isfinite(l->danger) ? l->danger : l->caution;
    struct tl_sample pond = t->water.in.pond;
    if (!isfinite(danger))
        return;
    say_nitrite_levels(t);
    for (int k = 0; k < 2; k++) {
        struct tl_text *cell = row(t);
        pond.no2_gN_m3 = two_digits_up((k ? 4 : 1.2) * danger);
        tl_text_addf(&cell[0], "Nitrite %.3g mg/L as N", pond.no2_gN_m3);
        add_plan(t, &cell[1], &pond);
    }
}

static void say_alkalinity(struct tests *t)
{
    const struct tl_limit_pair *l = &t->water.limits.alk;
    const double danger = isfinite(l->danger) ? l->danger : l->caution;
    struct tl_sample pond = t->water.in.pond;
    if (!(danger > 0 && isfinite(danger)))
        return;
    for (int part = 1; part <= 2; part++) {
        struct tl_text *cell = row(t);
        const double mg_L = rounded(0.99 * danger * TL_CACO3_G_PER_EQ / part, 1);
        pond.alk_eq_m3 = mg_L / TL_CACO3_G_PER_EQ;
        pond.ph = rounded(ph_at(pond.temperature_degC, pond.alk_eq_m3, t->co2_mol_m3), 0.1);
        tl_text_addf(&cell[0], "Alkalinity %.3g mg/L, pH %.1f", mg_L, pond.ph);
        add_plan(t, &cell[1], &pond);
    }
}

/* The scenario may have no chlorine because the water has none, or because nobody looked. */
static void say_chlorine(struct tests *t)
{
    const struct tl_water *w = &t->water;
    const double given = w->in.source_chlorine_g_m3;
    const double tap_g_m3 = given > 0 ? given : TL_REMEDY_CHLORINE_G_M3;
    const double new_m3 = w->units == TL_US ? 0.378541 : 1; /* 100 gal */
    const double new_g = TL_REMEDY_THIOSULFATE * tap_g_m3 * new_m3;
    char grams[32] = ""; /* a tenth of an ounce is read off in grams */
    if (w->units == TL_US)
        (void)tl_format(grams, sizeof grams, ", %.3g g,", new_g);
    struct tl_text *cell = row(t);
    tl_text_add(&cell[0], "Tap water ran in");
    tl_text_addf(&cell[1],
                 "Close the tap. Sodium thiosulfate over the tank: %s for each 1 mg/L of chlorine. "
                 "New tap water: %s%s for each %s, at %s mg/L%s.",
                 tl_water_mass(w, TL_REMEDY_THIOSULFATE * w->in.volume_m3).text,
                 tl_water_mass(w, new_g).text, grams,
                 tl_water_quantity(w, TL_DIM_VOLUME, new_m3).text, tl_water_number(tap_g_m3).text,
                 given > 0 ? "" : ", the most US tap water may hold");
}

/* --- all of it ------------------------------------------------------------------------------------ */

static void say_basis(struct tests *t)
{
    const struct tl_water *w = &t->water;
    const struct tl_sample *s = &w->in.pond;
    struct tl_text *x = tl_card_row(t->card, TL_CARD_BASIS);
    tl_text_addf(
        x,
        "Amounts: for %s of water, chamber included, at %s, the warmest reckoned with, pH %.1f, "
        "alkalinity %.0f mg/L as CaCO3, chloride %.0f mg/L%s, and the scenario's source water; one "
        "reading is bad. Other readings: the next worse row, or towerloop water --fix.",
        tl_water_quantity(w, TL_DIM_VOLUME, w->in.volume_m3).text,
        tl_water_quantity(w, TL_DIM_TEMPERATURE, s->temperature_degC).text, s->ph,
        s->alk_eq_m3 * TL_CACO3_G_PER_EQ, s->chloride_g_m3,
        t->put_right ? " (the run's alkalinity is too low)" : " as in the run");
}

/* Of the run's days and of the hour that the card is about the strictest holds. */
static void say_note(struct tests *t, double calendar_most_gN_m3)
{
    const struct tl_sample *s = &t->water.in.pond;
    const double most = fmin(calendar_most_gN_m3,
                             tl_soda_most_tan_gN_m3(&t->water.limits, s->temperature_degC, s->ph));
    struct tl_text *note = &t->card->part[TL_CARD_TESTS].note;
    const int own = tl_limits_changed(&t->water.limits);
    if (own > 0)
        tl_text_addf(
            note, "Danger and caution here are limits of the scenario's own (values changed: %d). ",
            own);
    if (most > 0)
        tl_text_addf(note,
                     "No baking soda while ammonia is over %.2g mg/L as N, even if a calendar "
                     "allows more. ",
                     two_digits_down(most));
    if (t->short_of_water) /* as the plan itself says then */
        tl_text_add(note, "Not enough: bring other water, near this in pH and warmth, without "
                          "ammonia and chlorine, or move the fish into it, and go on testing. ");
    tl_text_add(note, "Test twice before you dose; weigh. Thiosulfate: crystals; another "
                      "dechlorinator: by its label. Salt: plain sodium chloride. Alkalinity: as "
                      "CaCO3.");
}

void tl_card_add_tests(const struct tl_endure_study *s, double soda_most_tan_gN_m3,
                       enum tl_unit_system units, struct tl_card *out)
{
    struct tests t = {
        .study = s,
        .card = out,
        .water = {.units = units, .limits = s->scenario->limits, .volume_given = true}};
    read_pond(&t);
    read_source(&t);
    say_oxygen(&t);
    say_ammonia(&t);
    say_nitrite(&t);
    say_alkalinity(&t);
    say_chlorine(&t);
    say_note(&t, soda_most_tan_gN_m3);
    say_basis(&t);
}
