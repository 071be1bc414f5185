/* The table of a comparison, in blocks of 80 columns: a line a variant in each of them. */
#include <math.h>
#include <string.h>

#include "answer.h"
#include "compare_view.h"
#include "text.h"
#include "uncertain.h"

enum { NAME = 20, MOST_LINES = 12, CELL = 40 };

/* The name of a row; one that is too long gets lines of its own. */
static void begin_line(FILE *f, const char *name)
{
    struct tl_text t = {0};
    size_t width = tl_utf8_width(name);
    if (width >= NAME) {
        tl_text_add(&t, name);
        tl_answer_say(f, MOST_LINES, 2, &t);
        name = "";
        width = 0;
    }
    fprintf(f, "%s%*s", name, NAME - (int)width, "");
}

/* --- cells ------------------------------------------------------------------------------------ */

struct cell {
    char text[CELL];
};

/* So many significant digits, never a power of ten. */
static struct cell figure(double x, int digits)
{
    struct cell c = {"-"};
    if (isnan(x))
        return c;
    if (x > 0 && x < 0.001)
        tl_format(c.text, sizeof c.text, "<0.001");
    else
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, x, digits, c.text, sizeof c.text);
    return c;
}

/* Whole ones from 100 on, else three digits. */
static struct cell amount(double x)
{
    struct cell c;
    if (!(fabs(x) >= 99.95))
        return figure(x, 3);
    tl_format(c.text, sizeof c.text, "%.0f", x);
    return c;
}

static struct cell in_units(enum tl_dim dim, enum tl_unit_system units, double base_value)
{
    return amount(tl_display_value(dim, units, base_value));
}

static struct cell mass(enum tl_unit_system units, double kg)
{
    return amount(units == TL_US ? tl_display_value(TL_DIM_MASS, units, 1000 * kg) : kg);
}

static struct cell money(double x)
{
    struct cell c = {"-"};
    if (!isnan(x))
        tl_format(c.text, sizeof c.text, fabs(x) < 1000 ? "%.2f" : "%.0f", x);
    return c;
}

static struct cell hours(double caution, double danger)
{
    struct cell c = {"-"};
    if (caution > 0 || danger > 0)
        tl_format(c.text, sizeof c.text, caution < 1e4 ? "%s / %s" : "%s/%s",
                  tl_hours_text(caution).text, tl_hours_text(danger).text);
    /* five figures each leave no room for the blanks */
    return c;
}

static struct cell chance(const struct tl_chance *p)
{
    struct cell c;
    char text[TL_CHANCE_SIZE];
    tl_chance_short(p, text);
    tl_format(c.text, sizeof c.text, "%s", text);
    return c;
}

/* Without its interval. */
static struct cell share(const struct tl_chance *p)
{
    struct cell c = chance(p);
    c.text[strcspn(c.text, " ")] = '\0';
    return c;
}

/* --- blocks ----------------------------------------------------------------------------------- */

static void write_verdicts(const struct tl_compare *c, FILE *f)
{
    static const char *const word[] = {
        [TL_WITHIN] = "ok", [TL_CAUTION] = "caut", [TL_DANGER] = "dang"};
    static const char head[] = "       TAN  TAN                  pH   pH   pH\n";
    static const char foot[] = "  NH3  30d   1h  NO2  NO3   O2  low high  day  alk  CO2   Cl\n";
    struct tl_text t = {0};
    tl_text_add(&t, "Verdict of each limit: ok, caut(ion), dang(er). TAN: total ammonia; pH day: "
                    "its swing in a day; Cl: chlorine or chloride, the worse.");
    tl_answer_say(f, MOST_LINES, 2, &t);
    fprintf(f, "%*s%s%*s%s", NAME, "", head, NAME, "", foot);
    for (size_t i = 0; i < c->rows; i++) {
        begin_line(f, c->row[i].name);
        const struct tl_run_limit *of = c->row[i].result.limit;
        for (int l = 0; l < TL_NLIMIT; l++) {
            enum tl_grade grade = of[l].grade;
            if (l == TL_LIMIT_CHLORIDE || l >= TL_LIMIT_COLD)
                continue; /* shares the column of chlorine; has lines of its own */
            if (l == TL_LIMIT_CHLORINE && of[TL_LIMIT_CHLORIDE].grade > grade)
                grade = of[TL_LIMIT_CHLORIDE].grade;
            fprintf(f, "%5s", isnan(of[l].worst) ? "-" : word[grade]);
        }
        fprintf(f, "\n");
    }
}

static enum tl_grade grade_of_temperature(const struct tl_compare_row *row)
{
    enum tl_grade grade = TL_WITHIN;
    for (int l = TL_LIMIT_COLD; l < TL_NLIMIT; l++)
        if (row->result.limit[l].grade > grade)
            grade = row->result.limit[l].grade;
    return grade;
}

static bool has_ice(const struct tl_compare_row *row)
{
    return row->amounts.outdoors && row->amounts.heat.ice_h > 0;
}

/* Too cold, too warm, too fast; and ice, which is danger to fish by itself. */
static void write_temperature(const struct tl_compare *c, FILE *f)
{
    struct tl_text t = {0};
    for (int grade = TL_DANGER; grade > TL_WITHIN; grade--) {
        int named = 0;
        for (size_t i = 0; i < c->rows; i++)
            if ((int)grade_of_temperature(&c->row[i]) == grade)
                tl_text_addf(&t, "%s%s",
                             named++              ? "; "
                             : grade == TL_DANGER ? "Temperature, danger: "
                                                  : "Temperature, caution: ",
                             c->row[i].name);
        if (named > 0) {
            tl_text_add(&t, ".");
            tl_answer_say(f, MOST_LINES, 2, &t);
        }
    }
    int named = 0;
    for (size_t i = 0; i < c->rows; i++)
        if (has_ice(&c->row[i]))
            tl_text_addf(&t, "%s%s", named++ ? "; " : "Ice on the water: ", c->row[i].name);
    if (named > 0) {
        tl_text_add(&t, ".");
        tl_answer_say(f, MOST_LINES, 2, &t);
    }
}

/* Inputs for which nobody has tested the equations: a caution by itself. */
static void write_outside(const struct tl_compare *c, FILE *f)
{
    static const struct {
        const char *what, *unit, *use;
        double low, high;
    } range[TL_NRANGE] = {
#define RANGE(id, what, unit, low, high, use, source) [id] = {what, unit, use, low, high},
        TL_RANGE_LIST(RANGE)
#undef RANGE
    };
    struct tl_text t = {0};
    for (int k = 0; k < TL_NRANGE; k++) {
        bool any = false;
        for (size_t i = 0; i < c->rows; i++) {
            const double value = c->row[i].result.outside[k];
            if (isnan(value))
                continue;
            if (!any)
                tl_text_addf(&t, "Caution, outside published range: %s, %g to %g%s%s (%s): ",
                             range[k].what, range[k].low, range[k].high, *range[k].unit ? " " : "",
                             range[k].unit, range[k].use);
            tl_text_addf(&t, "%s%s (%s)", any ? "; " : "", figure(value, 3).text, c->row[i].name);
            any = true;
        }
        if (any) {
            tl_text_add(&t, ".");
            tl_answer_say(f, MOST_LINES, 2, &t);
        }
    }
}

static void write_worst(const struct tl_compare *c, FILE *f)
{
    struct tl_text t = {0};
    tl_text_add(&t, "Worst values, mg/L; ammonia, nitrite, nitrate as N, alkalinity as CaCO3. TAN "
                    "and NO2: the highest moment; NH3, alk: means of an hour; NO3: of a day.");
    fprintf(f, "\n");
    tl_answer_say(f, MOST_LINES, 2, &t);
    fprintf(f, "%*s%7s%7s%7s%7s%7s%7s%8s%7s\n", NAME, "", "NH3", "TAN", "NO2", "NO3", "O2",
            "pH low", "pH high", "alk");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_run_limit *limit = c->row[i].result.limit;
        /* their limits move with the water: the worst by its limit need not be the highest */
        const double tan = c->row[i].result.extreme[TL_EXTREME_TAN].highest;
        const double no2 = c->row[i].result.extreme[TL_EXTREME_NO2].highest;
        begin_line(f, c->row[i].name);
        fprintf(f, "%7s%7s%7s%7s", figure(limit[TL_LIMIT_NH3].worst, 3).text, figure(tan, 3).text,
                figure(no2, 3).text, figure(limit[TL_LIMIT_NO3].worst, 3).text);
        fprintf(f, "%7s%7s%8s%7s\n", figure(limit[TL_LIMIT_O2].worst, 3).text,
                figure(limit[TL_LIMIT_PH_LOW].worst, 3).text,
                figure(limit[TL_LIMIT_PH_HIGH].worst, 3).text,
                figure(limit[TL_LIMIT_ALK].worst, 3).text);
    }
}

/* What was not judged. */
static void write_empty(const struct tl_compare *c, FILE *f)
{
    struct tl_text t = {0};
    const double first = c->row[0].result.hours_without_fish;
    bool alike = true;
    for (size_t i = 1; i < c->rows; i++)
        alike = alike && c->row[i].result.hours_without_fish == first;
    if (alike && first > 0)
        tl_text_addf(&t, "%s", tl_hours_span(first).text);
    for (size_t i = 0; i < c->rows && !alike; i++) {
        const double hours = c->row[i].result.hours_without_fish;
        if (hours > 0)
            tl_text_addf(&t, "%s%s (%s)", t.length > 0 ? "; " : "", tl_hours_span(hours).text,
                         c->row[i].name);
    }
    if (tl_text_is_empty(&t))
        return;
    tl_text_add(&t, alike ? " without fish in each of them are not judged and not in these tables; "
                            "the charts show them."
                          : " without fish: not judged and not in these tables; the charts show "
                            "them.");
    tl_answer_say(f, MOST_LINES, 2, &t);
}

static void write_hours(const struct tl_compare *c, FILE *f)
{
    static const enum tl_limit_id shown[] = {TL_LIMIT_NH3, TL_LIMIT_NO2, TL_LIMIT_O2, TL_LIMIT_ALK};
    enum { SHOWN = sizeof shown / sizeof *shown };
    fprintf(f,
            "\nHours beyond caution / danger; others: the worst of the other limits.\n"
            "%*s%12s%12s%12s%12s%12s\n",
            NAME, "", "NH3", "NO2", "O2", "alk", "others");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_run_limit *limit = c->row[i].result.limit;
        double caution = 0, danger = 0;
        begin_line(f, c->row[i].name);
        for (int l = 0; l < TL_NLIMIT; l++) {
            bool own_column = false;
            for (size_t k = 0; k < SHOWN; k++)
                own_column = own_column || (int)shown[k] == l;
            caution = fmax(caution, own_column ? 0 : limit[l].hours_caution);
            danger = fmax(danger, own_column ? 0 : limit[l].hours_danger);
        }
        for (size_t k = 0; k < SHOWN; k++)
            fprintf(f, "%12s",
                    hours(limit[shown[k]].hours_caution, limit[shown[k]].hours_danger).text);
        fprintf(f, "%12s\n", hours(caution, danger).text);
    }
}

/* Only where some of the media lie under water, or have gone foul. */
static void write_beds(const struct tl_compare *c, FILE *f)
{
    bool worth_it = false;
    bool sulfide = false;
    for (size_t i = 0; i < c->rows; i++) {
        worth_it = worth_it || c->row[i].result.submerged || c->row[i].result.sulfide;
        sulfide = sulfide || c->row[i].result.sulfide;
    }
    if (!worth_it)
        return;
    fprintf(f,
            "\nTrays at their worst: oxygen of the water leaving one, mg/L; voids filled and\n"
            "  film without oxygen, %%; whether hydrogen sulfide can form.\n"
            "%*s%12s%12s%12s%12s%12s\n",
            NAME, "", "media in", "oxygen", "filled", "film", "sulfide");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_run_result *r = &c->row[i].result;
        begin_line(f, c->row[i].name);
        fprintf(f, "%12s%12s%12s%12s%12s\n", r->submerged ? "water" : "air",
                amount(round(100 * r->least_o2) / 100).text, amount(100 * r->most_filled).text,
                amount(100 * r->most_airless).text, r->sulfide ? "can form" : "-");
    }
    if (sulfide)
        fputs("Hydrogen sulfide kills fish and people. Keep out of places that smell of rotten\n"
              "  eggs, or did and no longer do; call for ventilation and for help.\n",
              f);
}

static void write_amounts(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    char feed[16], fish[16], water[16];
    struct tl_text t = {0};
    bool never = false;
    const char *kg = units == TL_US ? "lb" : "kg";
    tl_format(fish, sizeof fish, "fish %s", kg);
    tl_format(feed, sizeof feed, "feed %s", kg);
    tl_format(water, sizeof water, "water %s", tl_display_unit(TL_DIM_VOLUME, units));
    fprintf(f,
            "\nOver the whole run; fish: most at a time, as stocked; ready: the filter, on day.\n"
            "%*s%8s%10s%10s%12s%12s%8s\n",
            NAME, "", "days", fish, feed, water, "energy kWh", "ready");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_compare_row *row = &c->row[i];
        begin_line(f, row->name);
        fprintf(f, "%8s%10s%10s%12s%12s%8s\n", amount(row->scenario.setup.length_d).text,
                mass(units, row->amounts.fish_kg).text, mass(units, row->amounts.feed_kg).text,
                in_units(TL_DIM_VOLUME, units, row->amounts.water_m3).text,
                amount(tl_amounts_kwh(&row->amounts)).text,
                amount(floor(row->result.filter_ready_d)).text);
        never = never || isnan(row->result.filter_ready_d);
    }
    if (!never)
        return;
    tl_text_add(&t,
                "Ready -: ammonia and nitrite do not stay within the limits of `filter ready` to "
                "the end, of a new tower or a mature one; or a new one was not shown to keep them "
                "there.");
    tl_answer_say(f, MOST_LINES, 2, &t);
}

/* Where the temperature of the water is worked out from the weather. */
static void write_heat(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    char lost[16], ice[16];
    bool any = false;
    for (size_t i = 0; i < c->rows; i++)
        any = any || c->row[i].amounts.outdoors;
    if (!any)
        return;
    tl_format(lost, sizeof lost, "%s a day", units == TL_US ? "gal" : "L");
    tl_format(ice, sizeof ice, "ice %s", units == TL_US ? "lb" : "kg");
    fprintf(f,
            "\nWater in %s; evaporation; frost: hours with water on the tower; heater.\n"
            "%*s%9s%9s%11s%9s%9s%12s\n",
            tl_display_unit(TL_DIM_TEMPERATURE, units), NAME, "", "coldest", "warmest", lost,
            "frost h", ice, "heater kWh");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_amounts *a = &c->row[i].amounts;
        const double m3_d = a->heat.evaporated_m3 / c->row[i].scenario.setup.length_d;
        begin_line(f, c->row[i].name);
        if (!a->outdoors) {
            fprintf(f, "%9s\n", "given");
            continue;
        }
        fprintf(f, "%9s%9s%11s%9s%9s%12s\n",
                in_units(TL_DIM_TEMPERATURE, units, a->heat.lowest_degC).text,
                in_units(TL_DIM_TEMPERATURE, units, a->heat.highest_degC).text,
                units == TL_US ? in_units(TL_DIM_VOLUME, units, m3_d).text
                               : amount(1000 * m3_d).text,
                tl_hours_text(a->heat.frost_h).text, mass(units, a->heat.most_ice_kg).text,
                amount(a->heater_kwh).text);
    }
}

static bool any_price(const struct tl_compare *c)
{
    for (size_t i = 0; i < c->rows; i++)
        if (!isnan(c->row[i].bill.whole_run))
            return true;
    return false;
}

/* "" when the rows disagree about the money. */
static const char *currency_of(const struct tl_compare *c)
{
    const char *currency = c->row[0].scenario.costs.currency;
    for (size_t i = 1; i < c->rows; i++)
        if (strcmp(c->row[i].scenario.costs.currency, currency) != 0)
            return "";
    return currency;
}

static void write_bills(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    const char *currency = currency_of(c);
    const double kg_a_mass = units == TL_US ? 1000 / tl_display_value(TL_DIM_MASS, units, 1e6) : 1;
    tl_text_addf(
        &t,
        "Cost%s%s; a month: the last 30 days with fish, a heater by its dearest 30, a shorter run "
        "drawn out to 30, its events counted once; whole run: built and run to its end; a %s: of "
        "fish carried within limits, a month.",
        *currency ? " in " : "", currency, units == TL_US ? "lb" : "kg");
    fprintf(f, "\n");
    tl_answer_say(f, MOST_LINES, 2, &t);
    fprintf(f, "%*s%-14s%10s%10s%12s%10s\n", NAME, "", "verdict", "to build", "a month",
            "whole run", units == TL_US ? "a lb" : "a kg");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_compare_row *row = &c->row[i];
        begin_line(f, row->name);
        fprintf(f, "%-14s%10s%10s%12s%10s\n", tl_grade_text(row->result.grade),
                money(row->bill.build).text, money(row->bill.month).text,
                money(row->bill.whole_run).text, money(row->bill.month_per_kg * kg_a_mass).text);
    }
}

static bool same_tower(const struct tl_build_sheet *a, const struct tl_build_sheet *b)
{
    return a->wet_kg == b->wet_kg && a->height_m == b->height_m &&
           a->footprint_m2 == b->footprint_m2 && a->lift_m == b->lift_m &&
           a->flooded_kg == b->flooded_kg;
}

/* Only of pumps given by a curve. */
static void write_duties(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_build_sheet *s = &c->row[i].sheet;
        if (isnan(s->head_m))
            continue;
        tl_text_addf(
            &t, "%s%s %s %s", t.length > 0 ? "; " : "Pumps by their curve, clean: ", c->row[i].name,
            in_units(TL_DIM_FLOW, units, s->pump_m3_d).text, tl_display_unit(TL_DIM_FLOW, units));
        tl_text_addf(&t, " against %s %s", in_units(TL_DIM_LENGTH, units, s->head_m).text,
                     tl_display_unit(TL_DIM_LENGTH, units));
    }
    if (!tl_text_is_empty(&t))
        tl_text_add(&t, ".");
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, MOST_LINES, 2, &t);
    tl_text_free(&t);
}

static void write_sheets(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    const char *kg = units == TL_US ? "lb" : "kg";
    const char *length = tl_display_unit(TL_DIM_LENGTH, units);
    char high[16], lift[16], on[16], rock[16], volume[16];
    struct tl_text t = {0};
    bool alike = true;
    for (size_t i = 1; i < c->rows; i++)
        alike = alike && same_tower(&c->row[0].sheet, &c->row[i].sheet);
    tl_format(volume, sizeof volume, "media %s", units == TL_US ? "gal" : "L");
    tl_format(rock, sizeof rock, "dry %s", kg);
    tl_format(high, sizeof high, "high %s", length);
    tl_format(on, sizeof on, "on %s", tl_display_unit(TL_DIM_AREA, units));
    tl_format(lift, sizeof lift, "lift %s", length);
    fprintf(f,
            "\nTo build it: dry media; wet: running; full: drains clogged; lift: without pipes.\n"
            "%*s%10s%8s%8s%8s%8s%8s%8s\n",
            NAME, "", volume, rock, "wet", "full", high, on, lift);
    for (size_t i = 0; i < (alike ? 1 : c->rows); i++) {
        const struct tl_build_sheet *s = &c->row[i].sheet;
        begin_line(f, alike && c->rows > 1 ? "all of them" : c->row[i].name);
        fprintf(f, "%10s%8s%8s%8s%8s%8s%8s\n",
                units == TL_US ? in_units(TL_DIM_VOLUME, units, s->media_m3).text
                               : amount(1000 * s->media_m3).text,
                mass(units, s->media_kg).text, mass(units, s->wet_kg).text,
                mass(units, s->flooded_kg).text, in_units(TL_DIM_LENGTH, units, s->height_m).text,
                in_units(TL_DIM_AREA, units, s->footprint_m2).text,
                in_units(TL_DIM_LENGTH, units, s->lift_m).text);
    }
    write_duties(c, units, f);
    tl_text_add(&t, "A tall wet stack can topple: level ground, braced, no children on it. Mains "
                    "beside water: residual-current device, licensed electrician, local codes.");
    tl_answer_say(f, MOST_LINES, 2, &t);
}

/* --- the answer ------------------------------------------------------------------------------- */

/* " (so in 83 of 100 runs)" */
static void add_how_sure(struct tl_text *t, const struct tl_paired *p, enum tl_grade grade)
{
    char text[TL_CHANCE_SIZE];
    tl_chance_share_text(grade == TL_WITHIN ? &p->within : &p->danger, text);
    tl_text_addf(t, " (%s in %s)", grade == TL_WITHIN ? "so" : "danger", text);
}

static void add_names(struct tl_text *t, const struct tl_compare *c, enum tl_grade worst)
{
    bool first = true;
    for (size_t i = 0; i < c->rows; i++) {
        if (c->row[i].result.grade > worst)
            continue;
        tl_text_addf(t, "%s%s%s", first ? "" : "; ", c->row[i].name,
                     c->row[i].result.sulfide ? " (hydrogen sulfide can form)" : "");
        if (c->uncertain)
            add_how_sure(t, &c->uncertain[i], worst);
        first = false;
    }
}

/* Whose verdict goes by limits of its own. */
static void add_own_limits(struct tl_text *t, const struct tl_compare *c)
{
    bool first = true;
    for (size_t i = 0; i < c->rows; i++) {
        if (tl_limits_changed(&c->row[i].scenario.limits) == 0)
            continue;
        tl_text_addf(t, "%s%s", first ? " By limits of their own: " : "; ", c->row[i].name);
        first = false;
    }
    if (!first)
        tl_text_add(t, ".");
}

/* What a run says with its verdict, once for all that say it. */
static void write_cannot_tell(const struct tl_compare *c, FILE *f)
{
    struct tl_text t = {0};
    for (size_t i = 0; i < c->rows; i++) {
        const char *text = c->row[i].result.cannot_tell;
        size_t alike = 0, named = 0, before = 0;
        for (size_t k = 0; k < c->rows; k++) {
            const bool same = strcmp(c->row[k].result.cannot_tell, text) == 0;
            alike += same;
            before += same && k < i;
        }
        if (!*text || before > 0)
            continue;
        tl_text_add(&t, text);
        for (size_t k = i; k < c->rows && alike < c->rows; k++)
            if (strcmp(c->row[k].result.cannot_tell, text) == 0)
                tl_text_addf(&t, "%s%s", named++ ? "; " : " That holds for: ", c->row[k].name);
        if (named > 0)
            tl_text_add(&t, ".");
        tl_answer_say(f, MOST_LINES, 2, &t);
    }
}

static void write_cheapest(const struct tl_compare *c, enum tl_grade level, FILE *f)
{
    const char *unlike = tl_compare_unlike(c);
    const struct tl_compare_row *cheapest = tl_compare_cheapest(c, level);
    struct tl_text t = {0};
    if (cheapest) {
        const char *currency = cheapest->scenario.costs.currency;
        tl_text_addf(&t, "Cheapest of these: %s, %s%s%s", cheapest->name,
                     money(cheapest->bill.whole_run).text, *currency ? " " : "", currency);
        tl_text_addf(&t, ", built and run for %s days.",
                     amount(cheapest->scenario.setup.length_d).text);
    } else if (!any_price(c)) {
        tl_text_add(&t, "No prices are given (costs:), so none of them is the cheapest.");
    } else if (unlike) {
        tl_text_addf(&t, "None is called the cheapest: the variants %s.", unlike);
    }
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, MOST_LINES, 2, &t);
    tl_text_free(&t);
}

static void write_answer(const struct tl_compare *c, FILE *f)
{
    const enum tl_grade level = tl_compare_count(c, TL_WITHIN) > 0 ? TL_WITHIN : TL_CAUTION;
    struct tl_text t = {0};
    if (tl_compare_count(c, level) == 0) {
        tl_text_add(&t, "All of them come into danger.");
        add_own_limits(&t, c);
        tl_answer_say(f, MOST_LINES, 2, &t);
        write_cannot_tell(c, f);
        return;
    }
    tl_text_add(&t, level == TL_WITHIN ? "Within limits with default parameters: "
                                       : "None stays within limits. Caution at most with default "
                                         "parameters: ");
    add_names(&t, c, level);
    tl_text_add(&t, ".");
    add_own_limits(&t, c);
    tl_answer_say(f, MOST_LINES, 2, &t);
    write_cannot_tell(c, f);
    write_cheapest(c, level, f);
}

/* A line a variant: in how many of 100 runs, and against the first. */
static void write_uncertain(const struct tl_compare *c, FILE *f)
{
    struct tl_text t = {0};
    const struct tl_chance *none_lost = NULL; /* as many runs of each */
    size_t unknown = 0;
    if (!c->uncertain)
        return;
    tl_text_add(&t, "How sure: ");
    tl_uncertain_add_asked(&t, c->uncertain, " of each variant");
    tl_text_addf(&t,
                 ", the same values for all. Of 100 runs (90 %% sure); better, worse: than %s with "
                 "the same values.",
                 c->row[0].name);
    tl_answer_say(f, MOST_LINES, 2, &t);
    fprintf(f, "%*s%17s%17s%10s%8s%8s\n", NAME, "", "within limits", "danger", "fish lost",
            "better", "worse");
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_paired *p = &c->uncertain[i];
        begin_line(f, c->row[i].name);
        fprintf(f, "%17s%17s%10s%8s%8s\n", chance(&p->within).text, chance(&p->danger).text,
                share(&p->lost).text, i ? share(&p->better).text : "-",
                i ? share(&p->worse).text : "-");
        unknown += p->unknown;
        if (p->lost.runs == 0)
            none_lost = &p->lost;
    }
    if (none_lost) {
        char text[TL_CHANCE_SIZE];
        tl_chance_text(none_lost, text);
        tl_text_addf(&t, "Fish lost 0: in %s.", text);
        tl_answer_say(f, MOST_LINES, 2, &t);
    }
    if (unknown > 0)
        tl_text_addf(&t, "Runs that could not be calculated, and count as danger: %zu.", unknown);
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, MOST_LINES, 2, &t);
    fprintf(f, "\n");
}

void tl_compare_text(const struct tl_compare *c, enum tl_unit_system units, FILE *f)
{
    write_answer(c, f);
    fprintf(f, "\n");
    write_uncertain(c, f);
    write_verdicts(c, f);
    write_temperature(c, f);
    write_outside(c, f);
    write_worst(c, f);
    write_hours(c, f);
    write_empty(c, f);
    write_beds(c, f);
    write_amounts(c, units, f);
    write_heat(c, units, f);
    if (any_price(c))
        write_bills(c, units, f);
    write_sheets(c, units, f);
}
