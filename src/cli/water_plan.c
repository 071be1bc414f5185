/* Prints the plan out of bad water: each step with its arithmetic and its source. */
#include <math.h>
#include <stdio.h>

#include "towerloop/chem.h"
#include "water.h"

#define CUSTOM "common practice, no source"

static struct tl_water_shown num(double value)
{
    return tl_water_number(value);
}

/* A line of arithmetic or of reasons below a step. */
static void line(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void line(const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    tl_text_add(&t, "   ");
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    tl_water_paragraph(5, &t);
}

/* A sentence at the margin. */
static void say(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void say(const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    tl_water_paragraph(2, &t);
}

/* The first sentence of a step, set in by its number. */
static void step(const char *format, ...) __attribute__((format(printf, 1, 2)));

static void step(const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    tl_water_paragraph(3, &t);
}

static double nh3_share(const struct tl_sample *s)
{
    return 100 * tl_nh3_fraction(s->temperature_degC, s->ph);
}

static double alk_mg_L(const struct tl_sample *s)
{
    return s->alk_eq_m3 * TL_CACO3_G_PER_EQ;
}

/* Heavy masses read better in the larger unit, light ones in the smaller. */
struct tl_water_shown tl_water_mass(const struct tl_water *w, double g)
{
    struct tl_water_shown s;
    const double lb = tl_display_value(TL_DIM_MASS, TL_US, g);
    if (w->units == TL_US && lb >= 1)
        tl_format(s.text, sizeof s.text, "%s lb", num(lb).text);
    else if (w->units == TL_US)
        tl_format(s.text, sizeof s.text, "%s oz", num(16 * lb).text);
    else if (g >= 1000)
        tl_format(s.text, sizeof s.text, "%s kg", num(g / 1000).text);
    else
        tl_format(s.text, sizeof s.text, "%s g", num(g).text);
    return s;
}

/* "12 m3", and in US units how a gallon comes into a formula of grams per cubic metre. */
static struct tl_water_shown volume(const struct tl_water *w, double m3)
{
    return tl_water_quantity(w, TL_DIM_VOLUME, m3);
}

static struct tl_water_shown volume_in_formula(const struct tl_water *w, double m3)
{
    struct tl_water_shown s = volume(w, m3);
    if (w->units == TL_US)
        tl_format(s.text, sizeof s.text, "%s x 0.003785 m3/gal", volume(w, m3).text);
    return s;
}

/* "= 148 g", or "= 148 g (5.22 oz)" */
static struct tl_water_shown mass_result(const struct tl_water *w, double g)
{
    struct tl_water_shown s;
    tl_format(s.text, sizeof s.text, "%s g", num(g).text);
    if (w->units == TL_US)
        tl_format(s.text, sizeof s.text, "%s g (%s)", num(g).text, tl_water_mass(w, g).text);
    return s;
}

/* "pH 8.4 -> 8.35, settling at 8.38" and what that makes of the ammonia. */
static void print_ph(const char *lead, const struct tl_sample *before,
                     const struct tl_sample *mixed, const struct tl_sample *settled)
{
    struct tl_text t = {0};
    const double most = fmax(tl_sample_nh3(mixed), tl_sample_nh3(settled));
    const struct tl_sample *worst = tl_sample_nh3(settled) > tl_sample_nh3(mixed) ? settled : mixed;

    tl_text_addf(&t, "%spH %.2f -> %.2f", lead, before->ph, mixed->ph);
    if (fabs(settled->ph - mixed->ph) >= 0.02)
        tl_text_addf(&t, ", then %.2f as carbon dioxide settles", settled->ph);
    if (!isnan(most))
        tl_text_addf(&t,
                     "; un-ionised ammonia %s x %s %% = %s -> %s x %s %% = %s mg/L as N "
                     "(Emerson et al. 1975)",
                     num(before->tan_gN_m3).text, num(nh3_share(before)).text,
                     num(tl_sample_nh3(before)).text, num(worst->tan_gN_m3).text,
                     num(nh3_share(worst)).text, num(most).text);
    line("%s.", tl_text_string(&t));
    tl_text_free(&t);
}

/* --- the steps ------------------------------------------------------------------------------ */

static void print_fasting(int n)
{
    step(
        "%d. Stop feeding. Begin again, with little, when two tests a day apart are within limits.",
        n);
    line("Fish that are not fed give off less ammonia and use less oxygen (" CUSTOM ").");
}

static void print_air(const struct tl_water *w, int n, const struct tl_remedy_step *s)
{
    const struct tl_figure *o2 = &w->plan.start.figure[TL_FIGURE_O2];

    step("%d. More air, %sby day and night.", n,
         s->because & TL_FIGURE_BIT(O2) ? "at once and then " : "");
    if (s->because & TL_FIGURE_BIT(O2))
        line("Oxygen is %s mg/L: caution below %s, danger below %s.", num(o2->value).text,
             num(o2->caution).text, num(o2->danger).text);
    if (s->because & TL_FIGURE_BIT(O2_SHARE))
        line("Open air drives out what is too much: move the surface, let water fall and splash. "
             "Look for air that the pump draws in and presses into the water; turn pure oxygen off "
             "(" CUSTOM ").");
    if (s->because & TL_FIGURE_BIT(NO2))
        line("Nitrite keeps the blood from carrying oxygen (" CUSTOM ").");
    if (s->because & TL_FIGURE_BIT(CO2))
        line("Air drives carbon dioxide out.");
    if (s->because & TL_FIGURE_BIT(TEMPERATURE))
        line("Warm water holds less oxygen, and fish use more of it (" CUSTOM ").");
    if (s->mixed.ph > s->before.ph)
        print_ph("If all carbon dioxide above that of the air leaves: ", &s->before, &s->mixed,
                 &s->settled);
    else if (isnan(s->before.alk_eq_m3))
        line("Air drives carbon dioxide out, which raises the pH. How far cannot be told without "
             "alkalinity: test the pH after an hour.");
    if (s->harsh)
        line("That is more than fish should meet, but fish that suffocate cannot wait: give the "
             "air that brings oxygen over %s mg/L, no more, and test the pH every hour.",
             num(o2->caution).text);
}

static void print_temperature(const struct tl_water *w, int n, const struct tl_remedy_step *s)
{
    const struct tl_figure *t = &w->plan.start.figure[TL_FIGURE_TEMPERATURE];
    const bool cool = s->kind == TL_REMEDY_COOL;

    step("%d. %s the water slowly, by no more than %s a day.", n, cool ? "Cool" : "Warm",
         tl_water_quantity(w, TL_DIM_TEMPERATURE_SPAN, s->amount).text);
    line("It is %s: caution %s %s, danger %s %s.",
         tl_water_quantity(w, TL_DIM_TEMPERATURE, t->value).text, cool ? "above" : "below",
         tl_water_quantity(w, TL_DIM_TEMPERATURE, t->caution).text, cool ? "above" : "below",
         tl_water_quantity(w, TL_DIM_TEMPERATURE, t->danger).text);
    if (cool)
        line(
            "Shade tank and tower, let air blow through the tower, and see that no heater is stuck "
            "on. Pour in no cold water and no ice: a sudden change harms fish by itself (" CUSTOM
            ").");
    else
        line("Cover tank and tower against wind and frost, or use a heater with a thermostat. Pour "
             "in no hot water. Keep a hole in the ice for air; never hammer on ice, and leave fish "
             "that rest undisturbed (" CUSTOM ").");
}

static void print_dechlorination(const struct tl_water *w, int n, const struct tl_remedy_step *s,
                                 bool first)
{
    const struct tl_remedy *p = &w->plan;
    const double new_m3 = s->amount / (TL_REMEDY_THIOSULFATE * p->source_chlorine_g_m3);

    step(
        "%d. Stir %s of sodium thiosulfate crystals into the next %s of new water, before the fish "
        "meet it.",
        n, tl_water_mass(w, s->amount).text, volume(w, new_m3).text);
    line("%s x %s g/m3 chlorine x %s = %s", volume_in_formula(w, new_m3).text,
         num(p->source_chlorine_g_m3).text, num(TL_REMEDY_THIOSULFATE).text,
         mass_result(w, s->amount).text);
    if (first)
        line("%s g of crystals (pentahydrate) for each g of chlorine: 2 mol a mol, 2 x 248.19 / "
             "70.91, from atomic masses. That is the most any of its reactions needs.",
             num(TL_REMEDY_THIOSULFATE).text);
}

static void print_change(const struct tl_water *w, int n, const struct tl_remedy_step *s,
                         bool first)
{
    const struct tl_remedy *p = &w->plan;
    const struct tl_sample *a = &s->before, *b = &s->mixed, *in = &p->source;
    const double f = s->amount;

    step("%d. Change %s %% of the water%s%s.", n, num(100 * f).text, w->volume_given ? ": " : "",
         w->volume_given ? volume(w, f * w->in.volume_m3).text : "");
    if (!s->because)
        line("The water may be within limits by now: this makes room for the baking soda below.");
    line("ammonia: %s x %s + %s x %s = %s mg/L as N", num(a->tan_gN_m3).text, num(1 - f).text,
         num(in->tan_gN_m3).text, num(f).text, num(b->tan_gN_m3).text);
    if (s->because & TL_FIGURE_BIT(NO2))
        line("nitrite: %s x %s + %s x %s = %s mg/L as N", num(a->no2_gN_m3).text, num(1 - f).text,
             num(in->no2_gN_m3).text, num(f).text, num(b->no2_gN_m3).text);
    if (s->because & TL_FIGURE_BIT(NO3))
        line("nitrate: %s x %s + %s x %s = %s mg/L as N", num(a->no3_gN_m3).text, num(1 - f).text,
             num(in->no3_gN_m3).text, num(f).text, num(b->no3_gN_m3).text);
    if (s->because & TL_FIGURE_BIT(CHLORIDE)) {
        struct tl_figures was, is;
        tl_sample_judge(a, &w->limits, &was);
        tl_sample_judge(b, &w->limits, &is);
        line("chloride: %s -> %s mg/L. Slowly, %s %% at a time: fish that have taken up salt bear "
             "no "
             "quick change back to fresh water (" CUSTOM ").",
             num(was.figure[TL_FIGURE_CHLORIDE].value).text,
             num(is.figure[TL_FIGURE_CHLORIDE].value).text, num(100 * TL_REMEDY_SALT_SHARE).text);
    }
    if (isnan(b->alk_eq_m3)) {
        print_ph("at most: ", a, b, b);
        return;
    }
    line("alkalinity: %s x %s + %s x %s = %s mg/L as CaCO3%s", num(alk_mg_L(a)).text,
         num(1 - f).text, num(alk_mg_L(in)).text, num(f).text, num(alk_mg_L(b)).text,
         first ? "; inorganic carbon mixes alike (Plummer & Busenberg 1982)" : "");
    print_ph("", a, b, &s->settled);
    if (fabs(b->temperature_degC - a->temperature_degC) >= 0.1)
        line("temperature: %s -> %s",
             tl_water_quantity(w, TL_DIM_TEMPERATURE, a->temperature_degC).text,
             tl_water_quantity(w, TL_DIM_TEMPERATURE, b->temperature_degC).text);
}

static void print_salt(const struct tl_water *w, int n, const struct tl_remedy_step *s)
{
    const struct tl_sample *a = &s->before;
    const double chloride = isnan(a->chloride_g_m3) ? 0 : a->chloride_g_m3;
    const double g_m3 = s->amount / w->in.volume_m3;
    const double aim = chloride + g_m3 * TL_CHLORIDE_G_PER_G_SALT;

    step("%d. Add %s of plain salt (sodium chloride, nothing else in it), dissolved, over two "
         "hours.",
         n, tl_water_mass(w, s->amount).text);
    line("chloride wanted: %s x %s = %s mg/L (chloride 10 times nitrite: SRAC publication 462)",
         num(w->limits.no2_chloride_ratio).text, num(a->no2_gN_m3).text,
         num(w->limits.no2_chloride_ratio * a->no2_gN_m3).text);
    line("(%s - %s) / %.4f x %s = %s (%.4f g chloride a g of salt)", num(aim).text,
         num(chloride).text, TL_CHLORIDE_G_PER_G_SALT, volume_in_formula(w, w->in.volume_m3).text,
         mass_result(w, s->amount).text, TL_CHLORIDE_G_PER_G_SALT);
    if (aim < 0.999 * w->limits.no2_chloride_ratio * a->no2_gN_m3)
        line("More would take the salinity over %s g/kg (" CUSTOM ").",
             num(TL_REMEDY_SALT_G_KG).text);
    line("Weigh it. It stays until water is changed: salinity rises by %s g/kg. Plants and fish "
         "that bear no salt suffer first (" CUSTOM ").",
         num(g_m3 / 1000).text);
}

static void print_soda(const struct tl_water *w, int n, const struct tl_remedy_step *s, bool first)
{
    step("%d. Add %s of baking soda (sodium bicarbonate), dissolved, over two hours.", n,
         tl_water_mass(w, s->amount).text);
    line("alkalinity %s -> %s mg/L as CaCO3: (%s - %s) / 50.04 x %.3f x %s = %s (84.007 g an eq)",
         num(alk_mg_L(&s->before)).text, num(alk_mg_L(&s->mixed)).text,
         num(alk_mg_L(&s->mixed)).text, num(alk_mg_L(&s->before)).text, TL_BAKING_SODA_G_PER_EQ,
         volume_in_formula(w, w->in.volume_m3).text, mass_result(w, s->amount).text);
    print_ph("", &s->before, &s->mixed, &s->settled);
    if (!first)
        return;
    line("Soda raises the pH and makes ammonia more poisonous: test ammonia first, and leave this "
         "out while un-ionised ammonia is over %s mg/L as N.",
         num(w->limits.nh3.caution).text);
}

static void print_test(const struct tl_water *w, int n, const struct tl_remedy_step *s)
{
    const struct tl_remedy *p = &w->plan;
    const struct tl_sample *a = &w->in.pond;

    step(
        "%d. Test again %s h from now, then before every further step: temperature, pH, ammonia, "
        "nitrite, alkalinity, oxygen. Give the new readings to this command: the plan changes with "
        "them (" CUSTOM ").",
        n, num(24 * s->amount).text);
    if (!isnan(p->fish_tan_g_m3_d))
        line("Unfed fish: %s kg x 0.12 g/kg/d x 1.09^(%s - 20) / %s m3 = %s mg/L as N of ammonia a "
             "day where no filter takes it up (judgement; published 0.05 to 0.16).",
             num(w->in.fish_g / 1000).text, num(a->temperature_degC).text,
             num(w->in.volume_m3).text, num(p->fish_tan_g_m3_d).text);
}

/* The first step of its kind: what is said there is not said again. */
static bool is_first(const struct tl_water *w, const struct tl_remedy_step *s)
{
    const struct tl_remedy_step *first = w->plan.step;
    while (first->kind != s->kind)
        first++;
    return first == s;
}

static void print_step(const struct tl_water *w, int n, const struct tl_remedy_step *s)
{
    if (s->wait_d > 0)
        step("   Wait %s h and test. Go on only if the readings still call for it.",
             num(24 * s->wait_d).text);
    switch (s->kind) {
    case TL_REMEDY_STOP_FEEDING:
        print_fasting(n);
        break;
    case TL_REMEDY_MORE_AIR:
        print_air(w, n, s);
        break;
    case TL_REMEDY_COOL:
    case TL_REMEDY_WARM:
        print_temperature(w, n, s);
        break;
    case TL_REMEDY_DECHLORINATE:
        print_dechlorination(w, n, s, is_first(w, s));
        break;
    case TL_REMEDY_CHANGE_WATER:
        print_change(w, n, s, is_first(w, s));
        break;
    case TL_REMEDY_SALT:
        print_salt(w, n, s);
        break;
    case TL_REMEDY_BAKING_SODA:
        print_soda(w, n, s, is_first(w, s));
        break;
    case TL_REMEDY_TEST_AGAIN:
        print_test(w, n, s);
        break;
    case TL_NREMEDY:
        break;
    }
}

static bool has_step(const struct tl_water *w, enum tl_remedy_kind kind)
{
    for (int i = 0; i < w->plan.steps; i++)
        if (w->plan.step[i].kind == kind)
            return true;
    return false;
}

/* --- what is not in the plan, and why --------------------------------------------------------- */

/* Of two states of one figure the worse. */
static const struct tl_figure *worse(const struct tl_figure *a, const struct tl_figure *b)
{
    if (a->grade != b->grade)
        return a->grade > b->grade ? a : b;
    return (a->below ? a->value < b->value : a->value > b->value) ? a : b;
}

static double last_level(const struct tl_figure *f)
{
    return isnan(f->danger) ? f->caution : f->danger;
}

static void add_worse(struct tl_text *t, const struct tl_water *w, const struct tl_remedy_held *h)
{
    const struct tl_figure_row *row = tl_figure_row(h->figure);
    struct tl_figures before, mixed, settled;
    tl_sample_judge(&h->before, &w->limits, &before);
    tl_sample_judge(&h->mixed, &w->limits, &mixed);
    tl_sample_judge(&h->settled, &w->limits, &settled);
    const struct tl_figure *was = &before.figure[h->figure];
    const struct tl_figure *is = worse(&settled.figure[h->figure], &mixed.figure[h->figure]);
    /* the limits of ammonia fall as the pH rises */
    const bool stricter = last_level(is) < 0.995 * last_level(was);

    tl_text_addf(t, "%s would ", row->name);
    if (is->grade > was->grade)
        tl_text_addf(t, "go beyond %s: ", tl_grade_text(is->grade));
    else
        tl_text_add(t, "get worse: ");
    tl_text_addf(t, "%sfrom %s to %s%s%s", stricter ? "its limit falls " : "",
                 num(stricter ? last_level(was) : was->value).text,
                 num(stricter ? last_level(is) : is->value).text, *row->unit ? " " : "", row->unit);
}

static void add_why(struct tl_text *t, const struct tl_water *w, const struct tl_remedy_held *h)
{
    const struct tl_sample *a = &h->before, *b = &h->mixed;
    const double most = fmax(tl_sample_nh3(b), tl_sample_nh3(&h->settled));
    const double ph = fabs(h->settled.ph - a->ph) > fabs(b->ph - a->ph) ? h->settled.ph : b->ph;

    switch (h->obstacle) {
    case TL_OBSTACLE_AMMONIA:
        tl_text_addf(t,
                     "the pH would go from %.2f to %.2f, and un-ionised ammonia from %s to %s mg/L "
                     "as N",
                     a->ph, ph, num(tl_sample_nh3(a)).text, num(most).text);
        break;
    case TL_OBSTACLE_PH:
        tl_text_addf(t, "the pH would go from %.2f to %.2f, more than %s at once (" CUSTOM ")",
                     a->ph, ph, num(TL_REMEDY_PH_STEP).text);
        break;
    case TL_OBSTACLE_TEMPERATURE:
        tl_text_addf(t, "the temperature would go from %s to %s, more than %s at once (" CUSTOM ")",
                     tl_water_quantity(w, TL_DIM_TEMPERATURE, a->temperature_degC).text,
                     tl_water_quantity(w, TL_DIM_TEMPERATURE, b->temperature_degC).text,
                     tl_water_quantity(w, TL_DIM_TEMPERATURE_SPAN, TL_REMEDY_T_STEP).text);
        break;
    case TL_OBSTACLE_FIGURE:
        add_worse(t, w, h);
        break;
    case TL_OBSTACLE_NO_USE:
        if (h->figure == TL_FIGURE_CHLORIDE) {
            tl_text_addf(t,
                         "it would hardly help: the source water holds %s mg/L of chloride itself",
                         num(w->plan.source.chloride_g_m3).text);
            break;
        }
        tl_text_addf(t,
                     "it would hardly help: the source water holds %s mg/L as N of ammonia and "
                     "%s of nitrite, at pH %.2f",
                     num(w->plan.source.tan_gN_m3).text, num(w->plan.source.no2_gN_m3).text,
                     w->plan.source.ph);
        break;
    case TL_OBSTACLE_NONE:
    case TL_OBSTACLE_READINGS:
        break;
    }
}

/* Of what a change of water is reckoned from. */
static unsigned lacking_of_pond(const struct tl_sample *s)
{
    static const enum tl_reading_id asked[] = {TL_READING_TEMPERATURE, TL_READING_PH,
                                               TL_READING_AMMONIA};
    unsigned lacking = 0;
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++)
        if (isnan(tl_sample_reading(s, asked[i])))
            lacking |= 1u << asked[i];
    return lacking;
}

static void print_held_change(const struct tl_water *w)
{
    const struct tl_remedy_held *h = &w->plan.change;
    struct tl_text t = {0};
    const bool changed = has_step(w, TL_REMEDY_CHANGE_WATER);

    if (h->obstacle == TL_OBSTACLE_READINGS) {
        const unsigned lacking = lacking_of_pond(&w->in.pond);
        const bool source = isnan(w->plan.source.ph);
        tl_text_add(&t, "No change of water can be reckoned yet: it takes ");
        if (lacking) {
            tl_text_add(&t, "the ");
            tl_water_add_readings(&t, lacking);
            tl_text_addf(&t, " of the pond%s", source ? ", and " : "");
        }
        tl_text_addf(&t, "%s. A change to a higher pH can poison. Test that first.",
                     source ? "the pH of the source water" : "");
        tl_water_paragraph(2, &t);
        if (w->plan.start.figure[TL_FIGURE_CHLORIDE].grade > TL_WITHIN)
            say("Salt leaves only with the water: change up to %s %% of it for fresh water of the "
                "same temperature and pH, free of chlorine, wait half a day, test and do it again "
                "until chloride is below %s mg/L (" CUSTOM "). Add no salt and no medicine.",
                num(100 * TL_REMEDY_SALT_SHARE).text, num(w->limits.chloride.caution).text);
        return;
    }
    tl_text_addf(&t, "No %swater change with this source water: with %s %% ",
                 changed ? "further " : "", num(100 * h->amount).text);
    add_why(&t, w, h);
    tl_text_add(&t, ".");
    tl_water_paragraph(2, &t);
    say("What then: use other water, free of ammonia and chlorine, near the pond in pH and "
        "temperature; or move fish to such water, as gently as a change. Leave the feed off and "
        "the filter on.");
}

static void print_held(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;
    struct tl_text t = {0};
    const bool dosed = has_step(w, TL_REMEDY_BAKING_SODA);

    if (p->change.obstacle != TL_OBSTACLE_NONE)
        print_held_change(w);
    if (p->soda.obstacle == TL_OBSTACLE_READINGS) {
        say("No baking soda yet, though alkalinity is low: without temperature, pH and ammonia it "
            "cannot be told what it would make of the ammonia.");
    } else if (p->soda.obstacle != TL_OBSTACLE_NONE) {
        tl_text_addf(&t, "No %sbaking soda now, though alkalinity is low: with the %s it takes ",
                     dosed ? "more " : "", tl_water_mass(w, p->soda.amount).text);
        add_why(&t, w, &p->soda);
        tl_text_add(&t, p->soda.obstacle == TL_OBSTACLE_AMMONIA
                            ? ". Ammonia has to come down first."
                            : ".");
        tl_water_paragraph(2, &t);
    }
    const struct tl_figure *ph = &p->start.figure[TL_FIGURE_PH];
    if (ph->grade > TL_WITHIN && !ph->below)
        say("Nothing is added against a high pH. Algae and plants raise it by day: test again at "
            "sunrise, when it is lowest, and shade the water (" CUSTOM ").");
    if (p->air.obstacle != TL_OBSTACLE_NONE) {
        tl_text_add(&t, "Leave the air as it is: if more of it drove the carbon dioxide out, ");
        add_why(&t, w, &p->air);
        tl_text_add(&t, ". If fish gasp at the surface, give more air all the same.");
        tl_water_paragraph(2, &t);
    }
}

/* --- around the steps ------------------------------------------------------------------------- */

static void print_acid_water(const struct tl_water *w)
{
    const struct tl_sample *s = &w->in.pond;
    struct tl_sample neutral = *s;
    if (!(s->ph < TL_REMEDY_SLOW_PH))
        return;
    say("Below pH %s the filter stands still and the pH may crash. Do not hurry it up again: a "
        "quick rise of the pH harms fish by itself (" CUSTOM ").",
        num(TL_REMEDY_SLOW_PH).text);
    neutral.ph = 8;
    if (!isnan(tl_sample_nh3(s)))
        line(
            "Of the ammonia only %s %% is un-ionised now, %s mg/L as N; at pH 8 it would be %s %%, "
            "%s mg/L (Emerson et al. 1975).",
            num(nh3_share(s)).text, num(tl_sample_nh3(s)).text, num(nh3_share(&neutral)).text,
            num(tl_sample_nh3(&neutral)).text);
}

static void add_names(struct tl_text *t, unsigned set)
{
    for (int i = 0, n = 0; i < TL_NFIGURE; i++)
        if (set >> i & 1)
            tl_text_addf(t, "%s%s", n++ ? ", " : "", tl_figure_row((enum tl_figure_id)i)->name);
}

/* As the last step but air leaves it. */
static double last_ph(const struct tl_water *w)
{
    double ph = w->in.pond.ph;
    for (int i = 0; i < w->plan.steps; i++)
        if (w->plan.step[i].kind != TL_REMEDY_MORE_AIR)
            ph = w->plan.step[i].settled.ph;
    return ph;
}

static void print_end(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;
    const struct tl_sample *e = &p->end;
    struct tl_text t = {0};

    if (!has_step(w, TL_REMEDY_CHANGE_WATER) && !has_step(w, TL_REMEDY_BAKING_SODA))
        return;
    tl_text_addf(&t, "At the end, if fish and filter stood still meanwhile%s: ",
                 e->ph > last_ph(w) ? " and the air had driven all carbon dioxide out" : "");
    const struct {
        const char *name, *unit;
        double value;
    } row[] = {
        {"un-ionised ammonia", " mg/L as N", tl_sample_nh3(e)},
        {"nitrite", " mg/L as N", e->no2_gN_m3},
        {"pH", "", e->ph},
        {"alkalinity", " mg/L as CaCO3", alk_mg_L(e)},
    };
    for (size_t i = 0, n = 0; i < sizeof row / sizeof *row; i++)
        if (!isnan(row[i].value))
            tl_text_addf(&t, "%s%s %s%s", n++ ? ", " : "", row[i].name, num(row[i].value).text,
                         row[i].unit);
    tl_text_add(&t, ".");
    if (p->left) {
        tl_text_add(&t, " Still beyond caution then: ");
        add_names(&t, p->left);
        tl_text_add(&t, ".");
    } else {
        tl_text_add(&t, " All that was measured is within its limits then.");
    }
    tl_water_paragraph(2, &t);
}

static void print_assumed(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;
    struct tl_text t = {0};
    const bool changes = has_step(w, TL_REMEDY_CHANGE_WATER);

    const bool reckoned =
        p->change.obstacle != TL_OBSTACLE_NONE && p->change.obstacle != TL_OBSTACLE_READINGS;

    if (!changes && !reckoned)
        return;
    if (p->chlorine_assumed)
        say("The source water's chlorine is not known: %s mg/L as Cl2 is counted, the most that "
            "40 CFR 141.65 allows US tap water.",
            num(p->source_chlorine_g_m3).text);
    if (p->chloramine_assumed)
        say("It may be chloramine, which leaves ammonia behind: %s x 0.1975 = %s mg/L as N is "
            "counted. Ask your supplier; \"source chlorine form=chlorine\" takes it out.",
            num(p->source_chlorine_g_m3).text, num(0.1975 * p->source_chlorine_g_m3).text);
    struct tl_figures source;
    tl_sample_judge(&p->source, &w->limits, &source);
    if (source.contradictory)
        say("Alkalinity and pH of the source water do not go together: measure both again.");
    if (p->by_bounds && changes)
        say("Without the alkalinity of both waters the pH after a change is only known to lie "
            "between theirs; the worse end is counted.");
    const double apart = fabs(p->source.temperature_degC - w->in.pond.temperature_degC);
    if (apart * TL_REMEDY_MOST > TL_REMEDY_T_STEP)
        say("With new water nearer the pond's temperature larger changes are safe: warm it, or let "
            "it stand.");
    if (p->measure_source & TL_READING_BIT(TEMPERATURE))
        say("Bring the new water to within %s of the pond's temperature.",
            tl_water_quantity(w, TL_DIM_TEMPERATURE_SPAN, TL_REMEDY_T_STEP).text);
    const unsigned none = p->measure_source & (TL_READING_BIT(AMMONIA) | TL_READING_BIT(NITRITE) |
                                               TL_READING_BIT(CHLORIDE));
    if (none) {
        tl_text_add(&t, "The source water was taken to hold no ");
        tl_water_add_readings(&t, none);
        tl_text_add(&t, ": test it.");
        tl_water_paragraph(2, &t);
    }
}

static void print_measure(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;
    struct tl_text t = {0};
    if (p->measure) {
        tl_text_add(&t, "Measure too, for a better plan: ");
        tl_water_add_readings(&t, p->measure);
        tl_text_add(&t, ".");
        tl_water_paragraph(2, &t);
    }
    if (p->measure_source && p->needed) {
        tl_text_add(&t, "And of the source water: ");
        tl_water_add_readings(&t, p->measure_source);
        tl_text_add(&t, ".");
        tl_water_paragraph(2, &t);
    }
}

static void print_care(const struct tl_water *w)
{
    say("Keep the pump and the tower running all the time. Leave the media where they are: what "
        "lives on them dies when it dries out or stands still. Nothing else goes into the water: "
        "no acid, no lime, no medicine.");
    bool harsh = false;
    for (int i = 0; i < w->plan.steps; i++)
        harsh = harsh || w->plan.step[i].harsh;
    say("No step%s moves the pH by more than %s or the temperature by more than %s, and no change "
        "is over %s %% (" CUSTOM ").",
        harsh ? " but the air that cannot wait" : "", num(TL_REMEDY_PH_STEP).text,
        tl_water_quantity(w, TL_DIM_TEMPERATURE_SPAN, TL_REMEDY_T_STEP).text,
        num(100 * TL_REMEDY_MOST).text);
    say("Call a veterinarian when fish gasp, roll over, lie on the bottom or die, or are not "
        "better "
        "a day after the readings are.");
    say("Mains beside water: residual-current device, licensed electrician, local codes. "
        "Chemicals: "
        "gloves, label, weigh, small doses. Local rules on water and drains come first.");
}

void tl_water_print_plan(const struct tl_water *w)
{
    const struct tl_remedy *p = &w->plan;

    printf("\n");
    if (!p->needed) {
        say("%s", !tl_water_judged(w) ? "Nothing was measured that could be judged: no plan yet."
                  : p->measure        ? "Nothing that was measured needs fixing."
                                      : "Nothing needs fixing: every figure is within its limits.");
        print_measure(w);
        return;
    }
    if (w->volume_given)
        say("What to do now, in this order; amounts for %s of water.",
            volume(w, w->in.volume_m3).text);
    else
        say("What to do now, in this order; amounts for every %s of water, as no volume was given.",
            w->units == TL_US ? "1000 gal" : "1000 L");
    printf("\n");
    print_acid_water(w);
    for (int i = 0; i < p->steps; i++)
        print_step(w, i + 1, &p->step[i]);
    printf("\n");
    print_end(w);
    print_held(w);
    print_assumed(w);
    print_measure(w);
    printf("\n");
    print_care(w);
}
