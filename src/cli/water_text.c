/* Prints what a sample of water means. */
#include <math.h>
#include <stdio.h>

#include "answer.h"
#include "page.h"
#include "water.h"

void tl_water_paragraph(int indent, struct tl_text *t)
{
    struct tl_page page = {.lines = 0};
    tl_page_put(&page, TL_PAGE_LINES, indent, t);
    tl_answer_page(stdout, &page);
}

struct tl_water_shown tl_water_number(double value)
{
    struct tl_water_shown s;
    if (isnan(value))
        tl_format(s.text, sizeof s.text, "-");
    else if (value > 0 && value < 0.001)
        tl_format(s.text, sizeof s.text, "<0.001");
    else
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, 3, s.text, sizeof s.text);
    return s;
}

struct tl_water_shown tl_water_quantity(const struct tl_water *w, enum tl_dim dim, double base)
{
    struct tl_water_shown s;
    tl_display_text(dim, w->units, base, 3, s.text, sizeof s.text);
    return s;
}

static void add_list(struct tl_text *t, const char *const *name, int names)
{
    for (int i = 0; i < names; i++)
        tl_text_addf(t, "%s%s", i == 0 ? "" : i == names - 1 ? " and " : ", ", name[i]);
}

void tl_water_add_readings(struct tl_text *t, unsigned set)
{
    const char *name[TL_NREADING];
    int names = 0;
    for (int i = 0; i < TL_NREADING; i++)
        if (set >> i & 1)
            name[names++] = tl_reading_name((enum tl_reading_id)i);
    add_list(t, name, names);
}

static void add_figures(struct tl_text *t, unsigned set)
{
    const char *name[TL_NFIGURE];
    int names = 0;
    for (int i = 0; i < TL_NFIGURE; i++)
        if (set >> i & 1)
            name[names++] = tl_figure_row((enum tl_figure_id)i)->name;
    add_list(t, name, names);
}

/* --- verdict and readings ------------------------------------------------------------------- */

static void add_grade(struct tl_text *t, const struct tl_figures *f, enum tl_grade grade)
{
    unsigned set = 0;
    for (int i = 0; i < TL_NFIGURE; i++)
        if (f->figure[i].grade == grade)
            set |= 1u << i;
    if (set == 0)
        return;
    tl_text_addf(t, " Beyond %s: ", tl_grade_text(grade));
    add_figures(t, set);
    tl_text_add(t, ".");
}

bool tl_water_judged(const struct tl_water *w)
{
    for (int i = 0; i < TL_NFIGURE; i++)
        if (w->figures.figure[i].judged || w->figures.figure[i].worst > TL_WITHIN)
            return true;
    return false;
}

/* "ammonia, without temperature and pH; carbon dioxide, without temperature" */
static void add_untold(struct tl_text *t, const struct tl_figures *f)
{
    static const struct {
        enum tl_figure_id id[3];
        const char *name;
    } poison[] = {
        {{TL_FIGURE_NH3, TL_FIGURE_TAN_CHRONIC, TL_FIGURE_TAN_ACUTE}, "ammonia"},
        {{TL_FIGURE_CO2, TL_FIGURE_CO2, TL_FIGURE_CO2}, "carbon dioxide"},
        {{TL_FIGURE_O2_SHARE, TL_FIGURE_O2_SHARE, TL_FIGURE_O2_SHARE}, "excess oxygen"},
    };
    for (size_t i = 0, n = 0; i < sizeof poison / sizeof *poison; i++) {
        const enum tl_figure_id *id = poison[i].id;
        if (!(f->untold & (1u << id[0] | 1u << id[1] | 1u << id[2])))
            continue;
        tl_text_addf(t, "%s%s, without ", n++ ? "; " : "", poison[i].name);
        tl_water_add_readings(t, f->figure[id[0]].missing);
    }
}

static void print_verdict(const struct tl_water *w)
{
    struct tl_text t = {0};
    if (!tl_water_judged(w)) {
        tl_text_add(&t, "Verdict: none. No limit can be judged from these readings alone.");
        tl_water_paragraph(2, &t);
        return;
    }
    if (w->figures.may_be > w->figures.grade) {
        tl_text_add(&t, "Verdict: cannot be told: ");
        add_untold(&t, &w->figures);
        tl_text_addf(&t, ". It counts as %s until that is measured.",
                     tl_grade_text(w->figures.may_be));
    } else {
        tl_text_addf(&t, "Verdict: %s%s.", tl_figures_verdict(&w->figures),
                     w->figures.missing ? ", as far as measured" : "");
    }
    add_grade(&t, &w->figures, TL_DANGER);
    add_grade(&t, &w->figures, TL_CAUTION);
    tl_water_paragraph(2, &t);
}

/* Chemistry reads the same in both systems; test kits say so, too. */
static void print_readings(const struct tl_water *w)
{
    const struct tl_sample *s = &w->in.pond;
    static const enum tl_dim dims[TL_NREADING] = {
#define DIM(id, field, name, dim, least, most) dim,
        TL_READING_LIST(DIM)
#undef DIM
    };
    struct tl_text t = {0};
    tl_text_add(&t, "Sample:");
    int given = 0;
    for (int i = 0; i < TL_NREADING; i++) {
        const double value = tl_sample_reading(s, (enum tl_reading_id)i);
        if (isnan(value))
            continue;
        tl_text_addf(&t, "%s %s ", given++ ? "," : "", tl_reading_name((enum tl_reading_id)i));
        if (dims[i] == TL_DIM_PER_MASS)
            tl_text_addf(&t, "%s g/kg", tl_water_number(1000 * value).text);
        else
            tl_text_add(&t, tl_water_quantity(w, dims[i], value).text);
    }
    tl_text_add(&t, given ? "." : " no reading of the pond was given.");
    tl_water_paragraph(2, &t);
}

/* --- the table ------------------------------------------------------------------------------ */

/* Six places: what is small keeps two digits. */
static struct tl_water_shown in_column(double value)
{
    struct tl_water_shown s = tl_water_number(value);
    if (value >= 0.001 && value < 0.01)
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, 2, s.text, sizeof s.text);
    return s;
}

/* Of the figures only warmth differs between the systems. */
static double shown(enum tl_figure_id id, enum tl_unit_system units, double value)
{
    return id == TL_FIGURE_TEMPERATURE ? tl_display_value(TL_DIM_TEMPERATURE, units, value) : value;
}

static void print_figure(enum tl_figure_id id, enum tl_unit_system units, const struct tl_figure *f)
{
    const struct tl_figure_row *row = tl_figure_row(id);
    const char *source = *row->source ? row->source : row->limits;
    if (isnan(f->value))
        return;
    printf("%-18s %6s %7s %6s %c%-13s %s\n", row->name, in_column(shown(id, units, f->value)).text,
           tl_water_number(shown(id, units, f->caution)).text,
           tl_water_number(shown(id, units, f->danger)).text, f->outside ? '*' : ' ',
           f->judged ? tl_grade_text(f->grade) : "-", source);
}

static bool told(const struct tl_figures *f)
{
    for (int i = 0; i < TL_NFIGURE; i++)
        if (isfinite(f->figure[i].value))
            return true;
    return false;
}

static void print_table(const struct tl_figures *f, enum tl_unit_system units)
{
    printf("\n%-18s %6s %7s %6s  %-13s %s\n", "", "value", "caution", "danger", "judged", "source");
    for (int i = 0; i < TL_NFIGURE; i++)
        print_figure((enum tl_figure_id)i, units, &f->figure[i]);
    printf("mg/L; ammonia, nitrite, nitrate as N, alkalinity as CaCO3; carbon in mmol/L.\n");
    if (f->figure[TL_FIGURE_TEMPERATURE].judged)
        printf("Temperature in %s.\n", units == TL_US ? "degF" : "degC");
    if (f->chloride_from_salinity)
        printf("Chloride as the salinity says: g/kg / 0.00180655, as if all salt were sea salt.\n");
    if (f->figure[TL_FIGURE_TAN_ACUTE].judged)
        printf("EPA criteria: acute (1 hour) without salmonids (koi are none); chronic (30 days)\n"
               "without mussels and young stages of fish. One sample stands for both.\n");
}

/* A meter in air bubbles, or one that is not set, reads more than can be. */
static void print_too_full(const struct tl_figures *f)
{
    const struct tl_figure *share = &f->figure[TL_FIGURE_O2_SHARE];
    struct tl_text t = {0};
    if (share->grade == TL_WITHIN)
        return;
    const double percent = isnan(share->value) ? share->least : share->value;
    if (percent > TL_O2_SHARE_PURE)
        tl_text_addf(&t,
                     "Oxygen at %s %% of full cannot be in a tank under air: even pure oxygen "
                     "brings no more than %s %%. Check the meter, and the temperature. If it "
                     "is true, it kills.",
                     tl_water_number(percent).text, tl_water_number(TL_O2_SHARE_PURE).text);
    else
        tl_text_addf(
            &t,
            "Water too full of gas forms bubbles in gills and blood. US EPA 1986: all gas "
            "together no more than %g %% of full. Where a pump draws in air, oxygen tells of "
            "all of it; where only plants give oxygen, %d %% of it is as much. Danger from "
            "%g %% is judgement.",
            TL_O2_SHARE_CAUTION, TL_SUPERSATURATED_PCT, TL_O2_SHARE_DANGER);
    tl_water_paragraph(2, &t);
}

/* --- what stands behind it ------------------------------------------------------------------ */

static void print_ranges(const struct tl_figures *f)
{
    for (int i = 0; i < TL_NSAMPLE_RANGE; i++) {
        const struct tl_range_row *r = tl_range_row(i);
        struct tl_text t = {0};
        if (!(f->outside >> i & 1))
            continue;
        tl_text_addf(&t, "* outside published range: %s %s%s%s; %s, %s: %s to %s%s%s.", r->what,
                     tl_water_number(f->range_value[i]).text, *r->unit ? " " : "", r->unit,
                     r->source, r->use, tl_water_number(r->low).text, tl_water_number(r->high).text,
                     *r->unit ? " " : "", r->unit);
        tl_water_paragraph(2, &t);
    }
}

static void print_assumed(const struct tl_water *w)
{
    const struct tl_figures *f = &w->figures;
    struct tl_text t = {0}, line = {0};
    if (f->assumed & TL_READING_BIT(ELEVATION))
        tl_text_addf(&t, ", elevation %s", tl_water_quantity(w, TL_DIM_LENGTH, 0).text);
    if (f->assumed & TL_READING_BIT(SALINITY))
        tl_text_addf(&t, ", salinity %s g/kg%s", tl_water_number(f->salinity_g_kg).text,
                     f->salt_from_chloride ? " (from the chloride)" : "");
    if (f->assumed & TL_READING_BIT(CHLORIDE))
        tl_text_add(&t, ", no chloride to hold nitrite off");
    if (f->assumed & TL_READING_BIT(AMMONIA))
        tl_text_add(&t, ", no ammonia in the carbonate balance");
    if (t.length > 0)
        tl_text_addf(&line, "Assumed: %s.", tl_text_string(&t) + 2);
    line.failed = line.failed || t.failed;
    tl_text_free(&t);
    if (line.length > 0 || line.failed)
        tl_water_paragraph(2, &line);
}

/* Between what the figures lie that cannot be told, and what even the mildest case is. */
static void print_bounds(const struct tl_water *w)
{
    static const enum tl_figure_id ids[] = {TL_FIGURE_NH3, TL_FIGURE_CO2, TL_FIGURE_O2_SHARE};
    struct tl_text t = {0};
    for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
        const struct tl_figure *f = &w->figures.figure[ids[i]];
        const struct tl_figure_row *row = tl_figure_row(ids[i]);
        if (isnan(f->least) || f->worst == TL_WITHIN)
            continue;
        tl_text_addf(&t, "Between ");
        if (f->missing & TL_READING_BIT(TEMPERATURE))
            tl_text_addf(&t, "%s and %s%s", tl_water_quantity(w, TL_DIM_TEMPERATURE, 0).text,
                         tl_water_quantity(w, TL_DIM_TEMPERATURE, 40).text,
                         f->missing & TL_READING_BIT(PH) ? ", pH " : "");
        else
            tl_text_add(&t, "pH ");
        if (f->missing & TL_READING_BIT(PH))
            tl_text_addf(&t, "%s and %s", tl_water_number(TL_SAMPLE_PH_LEAST).text,
                         tl_water_number(TL_SAMPLE_PH_MOST).text);
        tl_text_addf(&t, " %s may be %s to %s %s: ", row->name, tl_water_number(f->least).text,
                     tl_water_number(f->most).text, row->unit);
        if (f->grade > TL_WITHIN)
            tl_text_addf(&t, "%s even in the mildest case.", tl_grade_text(f->grade));
        else
            tl_text_addf(&t, "%s in the worst case, counted from caution %s and danger %s.",
                         tl_grade_text(f->worst), tl_water_number(f->caution).text,
                         tl_water_number(f->danger).text);
        tl_water_paragraph(2, &t);
    }
}

/* Whether a figure is a reading itself. */
static bool is_reading(enum tl_figure_id id)
{
    return id == TL_FIGURE_TEMPERATURE || id == TL_FIGURE_NO2 || id == TL_FIGURE_NO3 ||
           id == TL_FIGURE_CHLORIDE || id == TL_FIGURE_O2 || id == TL_FIGURE_PH ||
           id == TL_FIGURE_ALK;
}

/* One line for each set of readings that is lacking. */
static void print_missing(const struct tl_figures *f)
{
    unsigned done = 0;
    struct tl_text all = {0};
    if (f->missing) {
        tl_text_add(&all, "Not measured: ");
        tl_water_add_readings(&all, f->missing);
        tl_text_add(&all, ".");
        tl_water_paragraph(2, &all);
    }
    for (int i = 0; i < TL_NFIGURE; i++) {
        const unsigned missing = f->figure[i].missing;
        unsigned same = 0;
        struct tl_text t = {0};
        if (missing == 0 || done >> i & 1 || is_reading((enum tl_figure_id)i))
            continue;
        for (int k = i; k < TL_NFIGURE; k++)
            if (f->figure[k].missing == missing && !is_reading((enum tl_figure_id)k))
                same |= 1u << k;
        done |= same;
        tl_text_add(&t, "Cannot be told without ");
        tl_water_add_readings(&t, missing);
        tl_text_add(&t, ": ");
        add_figures(&t, same);
        tl_text_add(&t, ".");
        tl_water_paragraph(2, &t);
    }
}

void tl_water_print(const struct tl_water *w)
{
    struct tl_text t = {0};
    print_verdict(w);
    print_readings(w);
    if (told(&w->figures))
        print_table(&w->figures, w->units);
    print_ranges(&w->figures);
    print_assumed(w);
    if (w->figures.contradictory) {
        tl_text_add(&t, "Alkalinity and pH do not go together: a pH so high needs more alkalinity. "
                        "Measure both again; until then carbon dioxide cannot be told.");
        tl_water_paragraph(2, &t);
    }
    print_bounds(w);
    print_too_full(&w->figures);
    print_missing(&w->figures);
}
