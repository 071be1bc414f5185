/* What a study of failures found, on a terminal of 80 columns. */
#include <math.h>

#include "answer.h"
#include "endure_sure.h"
#include "endure_view.h"
#include "page.h"
#include "text.h"
#include "towerloop/bed.h"

#define MINUTE_D (1.0 / 1440)
#define SHOWN    TL_ENDURE_SHOWN

static bool has_pump(const struct tl_endure_study *s)
{
    return s->when.flow_m3_d > 0;
}

static bool has_aerator(const struct tl_endure_study *s)
{
    return s->when.aerator_g_d > 0;
}

bool tl_endure_tells(const struct tl_endure_study *s, enum tl_failure f)
{
    switch (f) {
    case TL_FAILURE_PUMP: /* with only one of the two it is that of the power */
    case TL_FAILURE_AERATOR:
        return has_pump(s) && has_aerator(s);
    case TL_FAILURE_HALF:
        return has_pump(s);
    case TL_FAILURE_POWER:
    case TL_NFAILURE:
    default:
        return true;
    }
}

const char *tl_endure_words(const struct tl_endure_study *s, enum tl_failure f)
{
    if (f != TL_FAILURE_HALF && !has_aerator(s))
        return "the pump stops";
    if (f != TL_FAILURE_HALF && !has_pump(s))
        return "the aerator stops";
    return tl_failure_words(f);
}

/* What the loop is without, for a sentence. */
static const char *without(const struct tl_endure_study *s)
{
    switch (s->question.fails) {
    case TL_FAILURE_PUMP:
        return "Without the pump";
    case TL_FAILURE_AERATOR:
        return "Without the aerator";
    case TL_FAILURE_HALF:
        return "With one of two equal pumps";
    case TL_FAILURE_POWER:
    case TL_NFAILURE:
    default:
        return !has_aerator(s) ? "Without the pump"
               : !has_pump(s)  ? "Without the aerator"
                               : "Without pump and aerator";
    }
}

/* --- the verdict ---------------------------------------------------------------------------------- */

/* Nothing is held against a limit that was not judged. */
static enum tl_grade grade_of(double grade)
{
    return isnan(grade) ? TL_WITHIN : (enum tl_grade)grade;
}

static enum tl_grade grade_of_limits(const struct tl_endured *e)
{
    enum tl_grade worst = TL_WITHIN;
    for (int i = 0; i < TL_NLIMIT; i++)
        if (grade_of(e->limit[i].grade) > worst)
            worst = grade_of(e->limit[i].grade);
    return worst;
}

static bool left_ranges(const struct tl_endured *e)
{
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(e->outside[i]))
            return true;
    return false;
}

/* Media under water that stand use up oxygen and nitrate; how fast is not followed here. */
static bool sulfide(const struct tl_endure_study *s)
{
    return has_pump(s) && s->scenario->setup.tower.submerged &&
           s->question.fails != TL_FAILURE_AERATOR && s->question.fails != TL_FAILURE_HALF &&
           24 * s->question.outage_d >= TL_WITHOUT_H;
}

/* Ice or a temperature beyond danger at another hour than the one that was taken; NULL: none. */
static const struct tl_worst_hour *colder_elsewhere(const struct tl_endure_study *s,
                                                    struct tl_endure_frost *f)
{
    const struct tl_worst_hour *when = tl_endure_coldest(s, f);
    return when && when->at_d != s->when.at_d ? when : NULL;
}

enum tl_grade tl_endure_grade(const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const enum tl_grade limits = grade_of_limits(e);
    struct tl_endure_frost frost;
    if (isfinite(e->danger_min) || isfinite(e->lost_min) || isfinite(e->ice_min) || *e->fault ||
        limits == TL_DANGER || tl_endure_coldest(s, &frost))
        return TL_DANGER;
    return isfinite(e->caution_min) || limits == TL_CAUTION || sulfide(s) || left_ranges(e)
               ? TL_CAUTION
               : TL_WITHIN;
}

const char *tl_endure_verdict(const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const enum tl_grade grade = tl_endure_grade(s);
    return grade == TL_CAUTION && grade_of_limits(e) == TL_WITHIN && !isfinite(e->caution_min) &&
                   left_ranges(e)
               ? "caution: outside published range"
               : tl_grade_text(grade);
}

/* --- pieces ------------------------------------------------------------------------------------- */

/* "5 h 17 min" */
void tl_endure_span(char text[TL_ENDURE_SHOWN], double minutes)
{
    const double whole = floor(minutes + 1e-6); /* days that were hours leave crumbs */
    const double hours = floor(whole / 60);
    if (minutes > 0 && minutes < 1 - 1e-6)
        (void)tl_format(text, SHOWN, "%.0f s", fmax(1, floor(60 * minutes + 1e-4)));
    else if (hours < 1)
        (void)tl_format(text, SHOWN, "%.0f min", whole);
    else if (whole > 60 * hours)
        (void)tl_format(text, SHOWN, "%.0f h %.0f min", hours, whole - 60 * hours);
    else
        (void)tl_format(text, SHOWN, "%.0f h", hours);
}

/* Minutes for a table: whole ones that have passed, never more than there are. */
static void add_minutes(struct tl_text *t, int width, const struct tl_endured *e, double minutes,
                        double outage_d)
{
    char text[SHOWN];
    if (*e->fault)
        (void)tl_format(text, sizeof text, "?");
    else if (isfinite(e->lost_before_d))
        (void)tl_format(text, sizeof text, "-");
    else if (isfinite(minutes))
        (void)tl_format(text, sizeof text, "%.0f", floor(minutes));
    else
        (void)tl_format(text, sizeof text, outage_d < MINUTE_D ? ">%.1g" : ">%.0f",
                        outage_d / MINUTE_D);
    tl_text_addf(t, "%*s", width, text);
}

static void add_limit(struct tl_text *t, int width, double value)
{
    if (isfinite(value))
        tl_text_addf(t, "%*.3g", width, value);
    else
        tl_text_addf(t, "%*s", width, "none");
}

static void add_number(struct tl_text *t, int width, int places, double value)
{
    if (isfinite(value))
        tl_text_addf(t, "%*.*f", width, places, value);
    else
        tl_text_addf(t, "%*s", width, "-");
}

/* What is gone of a film; one that grew has lost nothing. */
static void add_lost(struct tl_text *t, double left)
{
    if (isfinite(left))
        tl_text_addf(t, "%.1f %%", 100 * fmax(0, 1 - left));
    else
        tl_text_addf(t, "nobody knows what");
}

/* Until all three are back. */
static void add_days_back(struct tl_text *t, int width, const struct tl_endured *e)
{
    char text[SHOWN];
    const double days = fmax(fmax(e->nh3_back_d, e->no2_back_d), e->o2_back_d);
    if (isinf(days)) {
        (void)tl_format(text, sizeof text, ">%.0f", TL_ENDURE_FOLLOW_D - 1);
        tl_text_addf(t, "%*s", width, text);
    } else {
        add_number(t, width, 1, days);
    }
}

static void add_quantity(struct tl_text *t, enum tl_dim dim, enum tl_unit_system units,
                         double value, const char *behind)
{
    char shown[SHOWN];
    tl_display_text(dim, units, value, 3, shown, sizeof shown);
    tl_text_addf(t, "%s%s", shown, behind);
}

/* --- the answer in sentences -------------------------------------------------------------------- */

/* What besides oxygen in the outage is beyond a limit of that grade, and whether it was so before. */
static void add_limits(struct tl_text *t, const struct tl_endured *e, enum tl_grade grade,
                       bool before, const char *lead)
{
    static const char *const name[TL_NLIMIT] = {
#define ROW(id, name, unit) [id] = (name),
        TL_LIMIT_LIST(ROW)
#undef ROW
    };
    const bool o2_told = isfinite(e->caution_min) || isfinite(e->danger_min);
    int items = 0;
    for (int i = 0; i < TL_NLIMIT; i++) {
        const struct tl_endured_limit *l = &e->limit[i];
        if (grade_of(l->grade) != grade || (grade_of(l->before) >= grade) != before ||
            (i == TL_LIMIT_O2 && o2_told))
            continue;
        tl_text_addf(t, "%s %s %.3g", items++ ? "," : lead, name[i], l->worst);
    }
    if (items)
        tl_text_addf(t, ".");
}

static void add_ranges(struct tl_text *t, const struct tl_endured *e)
{
    static const struct {
        const char *what, *unit, *use;
        double low, high;
    } range[TL_NRANGE] = {
#define ROW(id, what, unit, low, high, use, source) [id] = {what, unit, use, low, high},
        TL_RANGE_LIST(ROW)
#undef ROW
    };
    int items = 0;
    for (int i = 0; i < TL_NRANGE; i++)
        if (!isnan(e->outside[i]))
            tl_text_addf(t, "%s %s %.3g%s%s (%s: %g to %g)",
                         items++ ? "," : " Outside published range:", range[i].what, e->outside[i],
                         *range[i].unit ? " " : "", range[i].unit, range[i].use, range[i].low,
                         range[i].high);
    if (items)
        tl_text_addf(t, ".");
}

static void add_oxygen(struct tl_text *t, const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const struct tl_limits *l = &s->scenario->limits;
    char lasts[SHOWN], outage[SHOWN];

    tl_endure_span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(t, "%s the fish ", without(s));
    const bool dies_first = isnan(e->lost_before_d) && e->lost_min <= e->danger_min;
    if (dies_first && isfinite(e->lost_min)) {
        tl_endure_span(lasts, e->lost_min);
        tl_text_addf(
            t, "die after %s, of oxygen below %.3g mg/L; no limit for danger is passed before.",
            lasts, s->scenario->setup.params.o2_critical);
    } else if (isfinite(e->danger_min)) {
        tl_endure_span(lasts, e->danger_min);
        tl_text_addf(t, "are in danger after %s: oxygen below %.3g mg/L.", lasts, l->o2.danger);
    } else if (isfinite(e->caution_min)) {
        tl_endure_span(lasts, e->caution_min);
        tl_text_addf(t, "are under stress after %s, oxygen below %.3g mg/L", lasts, l->o2.caution);
        if (isfinite(l->o2.danger))
            tl_text_addf(t, ", but not below %.3g mg/L for %s", l->o2.danger, outage);
        tl_text_addf(t, ".");
    } else if (isinf(e->lost_min)) {
        tl_text_addf(t, "have enough oxygen for %s: it never falls below %.3g mg/L.", outage,
                     isfinite(l->o2.caution)  ? l->o2.caution
                     : isfinite(l->o2.danger) ? l->o2.danger
                                              : s->scenario->setup.params.o2_critical);
    } else {
        tl_text_addf(t, "run out of oxygen.");
    }
    if (isfinite(e->lost_before_d)) {
        tl_text_addf(t,
                     " In the run they are lost already on day %.1f, before it fails: see "
                     "`towerloop run`.",
                     e->lost_before_d);
    } else if (isfinite(e->lost_min) && !dies_first) {
        tl_endure_span(lasts, e->lost_min);
        tl_text_addf(t, " After %s it is below %.3g mg/L and they die.", lasts,
                     s->scenario->setup.params.o2_critical);
    }
}

/* What the outage does to water that follows from the weather. */
static void add_water(struct tl_text *t, const struct tl_endure_study *s, enum tl_unit_system units)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const bool heater =
        s->question.fails == TL_FAILURE_POWER && s->scenario->setup.heater.power_w > 0;
    char lasts[SHOWN];
    if (isfinite(e->ice_min)) {
        tl_endure_span(lasts, e->ice_min);
        if (e->ice_min > 0)
            tl_text_addf(t, " After %s the water freezes, ", lasts);
        else
            tl_text_addf(t, " There is ice on the water from the start, ");
        add_quantity(t, TL_DIM_MASS, units, 1000 * e->most_ice_kg, "");
        tl_text_addf(t, " at most: keep a hole open. No air comes through the ice, which is "
                        "reckoned with.");
    }
    if (isnan(e->water_back_degC))
        return;
    tl_text_addf(t, " %she water is at ", heater ? "With the heater off as well t" : "T");
    add_quantity(t, TL_DIM_TEMPERATURE, units, e->water_back_degC, " when the power is back.");
}

static void say_verdict(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    struct tl_text t = {0};

    tl_text_addf(&t, "Verdict: %s%s%s. ", tl_endure_verdict(s),
                 tl_endure_grade(s) == TL_WITHIN ? ", with default parameters" : "",
                 tl_limits_changed(&s->scenario->limits) > 0 ? ", by limits of your own" : "");
    if (*e->fault) {
        tl_text_addf(&t, "This could not be reckoned to its end: %s.", e->fault);
    } else {
        add_oxygen(&t, s);
        add_water(&t, s, units);
        add_limits(&t, e, TL_DANGER, false, " Beyond danger besides:");
        add_limits(&t, e, TL_CAUTION, false, " Beyond caution besides:");
        add_limits(&t, e, TL_DANGER, true, " Beyond danger, as on the day before:");
        add_limits(&t, e, TL_CAUTION, true, " Beyond caution, as on the day before:");
        add_ranges(&t, e);
    }
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

static void add_if_then(struct tl_text *t, const struct tl_endure_study *s,
                        const struct tl_worst_hour *w)
{
    const struct tl_date d = tl_date_at(&s->scenario->start, w->at_d);
    if (floor(w->at_d) == floor(s->when.at_d)) {
        tl_text_addf(t, " If it fails at %02d:%02d", d.second / 3600, d.second / 60 % 60);
    } else {
        tl_text_add(t, " If it fails on ");
        tl_endure_add_moment(t, s, w->at_d);
    }
}

/* The soonest in danger is not always the one that ends worst. */
static void add_lowest(struct tl_text *t, const struct tl_endure_study *s)
{
    const struct tl_endure_starts *starts = &s->starts;
    const struct tl_endure_start *worst = &starts->start[starts->worst], *least = worst;
    for (size_t i = 0; i < starts->n; i++) {
        const struct tl_endure_start *one = &starts->start[i];
        const bool lost = isfinite(one->lost_min) || isfinite(least->lost_min);
        if (lost ? one->lost_min < least->lost_min : one->lowest_o2 < least->lowest_o2)
            least = one;
    }
    if (!(least->lost_min < worst->lost_min - 1 || least->lowest_o2 < worst->lowest_o2 - 0.005))
        return;
    add_if_then(t, s, &least->when);
    if (isfinite(least->lost_min)) {
        char lasts[SHOWN];
        tl_endure_span(lasts, least->lost_min);
        tl_text_addf(t, " they die soonest, after %s.", lasts);
    } else {
        tl_text_addf(t, " oxygen falls lowest, to %.2f mg/L.", least->lowest_o2);
    }
}

/* Where no hour is danger, the time that counts is that of stress; the hour of lowest oxygen need not be its. */
static void add_soonest_stress(struct tl_text *t, const struct tl_endure_study *s)
{
    const struct tl_endure_starts *starts = &s->starts;
    const struct tl_endure_start *worst = &starts->start[starts->worst];
    const struct tl_endure_start *soonest = &starts->start[starts->caution];
    char lasts[SHOWN];
    if (isfinite(worst->danger_min) || !(soonest->caution_min < worst->caution_min - 1))
        return;
    add_if_then(t, s, &soonest->when);
    tl_endure_span(lasts, soonest->caution_min);
    tl_text_addf(t, " they are under stress soonest, after %s.", lasts);
}

static void say_hour(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    const struct tl_worst_hour *w = &s->when;
    const struct tl_endure_starts *starts = &s->starts;
    const struct tl_date d = tl_date_at(&s->scenario->start, w->at_d);
    struct tl_endure_frost frost;
    const struct tl_worst_hour *colder = colder_elsewhere(s, &frost);
    struct tl_text t = {0};
    char outage[SHOWN];

    tl_endure_span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(&t, "It fails for %s on %04d-%02d-%02d at %02d:%02d, day %.0f", outage, d.year,
                 d.month, d.day, d.second / 3600, d.second / 60 % 60, floor(w->at_d));
    if (isnan(s->question.day) || isnan(s->question.clock_d))
        tl_text_addf(&t, ", %s", tl_endure_day_words(starts->start[starts->worst].day));
    if (starts->n > 1 && starts->days > 1)
        tl_text_addf(&t, ": the worst of %zu hours tried on %zu days", starts->n, starts->days);
    else if (starts->n > 1)
        tl_text_addf(&t, ": the worst of its %zu hours", starts->n);
    if (!isnan(s->question.clock_d))
        tl_text_addf(&t, ", as was asked for");
    tl_text_addf(&t, ".");
    tl_text_addf(&t, " Oxygen then %.2f mg/L, water ", w->o2);
    add_quantity(&t, TL_DIM_TEMPERATURE, units, w->temperature_degC, ", fish ");
    add_quantity(&t, TL_DIM_MASS, units, 1000 * w->fish_kg, ".");
    add_lowest(&t, s);
    add_soonest_stress(&t, s);
    if (colder) {
        tl_text_add(&t, " ");
        tl_endure_add_frost(&t, s, colder, &frost, units, "");
    }
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

/* --- tables ------------------------------------------------------------------------------------- */

enum { LABEL = 28, CAUTION = 8, DANGER = 7, DIE = 9, LOWEST = 7 };

static void add_moments(struct tl_text *t, const struct tl_endure_study *s, size_t i)
{
    const struct tl_endured *e = &s->result[i];
    const double outage_d = s->plan[i].outage_d;
    add_minutes(t, CAUTION, e, e->caution_min, outage_d);
    add_minutes(t, DANGER, e, e->danger_min, outage_d);
    add_minutes(t, DIE, e, e->lost_min, outage_d);
    add_number(t, LOWEST, 2, e->lowest_o2);
}

static void say_failures(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_limits *l = &s->scenario->limits;
    struct tl_text t = {0};

    tl_text_addf(&t, "%-*s%*s%*s%*s%*s%15s%6s", LABEL, "failure", CAUTION, "caution", DANGER,
                 "danger", DIE, "fish die", LOWEST, "lowest", "highest after", "back");
    tl_answer_line(f, &t);
    tl_text_addf(&t, "%-*s", LABEL, "minutes until oxygen below");
    add_limit(&t, CAUTION, l->o2.caution);
    add_limit(&t, DANGER, l->o2.danger);
    add_limit(&t, DIE, s->scenario->setup.params.o2_critical);
    tl_text_addf(&t, "%*s%7s%8s%6s", LOWEST, "oxygen", "NH3", "nitrite", "days");
    tl_answer_line(f, &t);
    for (int i = 0; i < TL_NFAILURE; i++) {
        const struct tl_endured *e = &s->result[i];
        if (!tl_endure_tells(s, (enum tl_failure)i))
            continue;
        tl_text_addf(&t, "%-*s", LABEL, tl_endure_words(s, (enum tl_failure)i));
        add_moments(&t, s, (size_t)i);
        add_number(&t, 7, 3, e->peak_nh3);
        add_number(&t, 8, 2, e->peak_no2);
        add_days_back(&t, 6, e);
        tl_answer_line(f, &t);
    }
    tl_text_addf(&t, "mg/L, nitrogen as N; NH3: the poisonous part of ammonia. Back: all three are "
                     "as on the day before, or beyond no caution limit; -: the fish died.");
    if (!(l->o2.danger > s->scenario->setup.params.o2_critical))
        tl_text_addf(&t, " Danger is when they die, as no limit is passed before.");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

static void say_films(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_endure_start *start = &s->starts.start[s->starts.film];
    const double *in = s->starts.n > 1 ? start->film_left : s->result[s->question.fails].film_left;
    const double *day = s->result[TL_ENDURE_FILM].stage_left[TL_ENDURE_STAGES - 1];
    struct tl_text t = {0};
    char outage[SHOWN];

    tl_endure_span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(&t, "The trays' film loses%s in %s ", s->starts.n > 1 ? " at worst" : "", outage);
    add_lost(&t, in[0]);
    tl_text_addf(&t, " of what oxidises ammonia, ");
    add_lost(&t, in[1]);
    tl_text_addf(&t, " of what oxidises nitrite");
    if (fabs(s->question.outage_d - 1) > MINUTE_D) {
        tl_text_addf(&t, "; in 24 h ");
        add_lost(&t, day[0]);
        tl_text_addf(&t, " and ");
        add_lost(&t, day[1]);
    }
    tl_text_addf(&t, ".");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

#define WORTH_SHADING_DEGC 15.0 /* colder water is short of warmth, not of shade; judgement */

static void say_helps(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    enum { WIDE = 34, GAINED = 13 };
    const struct tl_endure_question *q = &s->question;
    const struct tl_endured *none = &s->result[q->fails];
    const double end = q->outage_d / MINUTE_D;
    struct tl_text label[TL_NHELP] = {{0}};
    struct tl_text t = {0};

    tl_text_addf(&label[TL_HELP_FEED], "no feed from the failure on");
    tl_text_addf(&label[TL_HELP_COOLER], "always shaded: water ");
    add_quantity(&label[TL_HELP_COOLER], TL_DIM_TEMPERATURE_SPAN, units, TL_HELP_COOLER_DEGC,
                 " less");
    tl_text_addf(&label[TL_HELP_BATTERY], "%.4g Wh battery, %.4g W aerator", q->battery_wh,
                 q->battery_w);
    tl_text_addf(&label[TL_HELP_AERATOR], "emergency aerator, %.3g g/h", q->aerator_g_d / 24);

    tl_text_addf(&t, "\n%-*s%*s%*s%*s%*s%*s", WIDE, "what helps, minutes as above", CAUTION,
                 "caution", DANGER, "danger", DIE, "fish die", LOWEST, "lowest", GAINED,
                 "min gained");
    tl_answer_line(f, &t);
    for (size_t h = 0; h < TL_NHELP; h++) {
        const struct tl_endured *e = &s->result[TL_ENDURE_HELPS + h];
        if (h == TL_HELP_COOLER && s->when.temperature_degC < WORTH_SHADING_DEGC) {
            tl_text_free(&label[h]);
            continue;
        }
        const double gained = fmin(e->danger_min, end) - fmin(none->danger_min, end);
        char text[SHOWN] = "-";
        tl_text_add_text(&t, -WIDE, &label[h]);
        add_moments(&t, s, TL_ENDURE_HELPS + h);
        if (isfinite(none->danger_min) && !*e->fault)
            (void)tl_format(text, sizeof text, "%s%.0f", isinf(e->danger_min) ? ">" : "", gained);
        tl_text_addf(&t, "%*s", GAINED, text);
        tl_answer_line(f, &t);
        tl_text_free(&label[h]);
    }
}

/* Three digits, never less than it is. */
static double rounded_up(double x)
{
    const double digit = pow(10, floor(log10(x)) - 2);
    return digit * ceil(x / digit);
}

double tl_endure_need_g_h(const struct tl_endure_study *s)
{
    return isinf(s->need_g_d) ? INFINITY : s->need_g_d > 0 ? rounded_up(s->need_g_d / 24) : 0;
}

static void say_need(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_endure_question *q = &s->question;
    const double g_h = tl_endure_need_g_h(s);
    const double watts = g_h / q->aeration_g_kwh * 1000;
    struct tl_text t = {0};
    char outage[SHOWN], need[SHOWN], power[SHOWN], energy[SHOWN];

    tl_endure_span(outage, q->outage_d / MINUTE_D);
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, g_h, 3, need, sizeof need);
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, watts, 2, power, sizeof power);
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, watts * 24 * q->outage_d, 3, energy, sizeof energy);
    if (!(s->need_g_d > 0))
        tl_text_addf(&t, "No further aerator is needed");
    else if (isinf(s->need_g_d))
        tl_text_addf(&t, "No aerator would do");
    else
        tl_text_addf(&t, "It takes an aerator of %s g/h from the first minute", need);
    tl_text_addf(&t, " to keep oxygen %g mg/L above %s for %s, %s.", TL_ENDURE_MARGIN_O2,
                 isnan(s->scenario->limits.o2.danger) ? "what kills" : "danger", outage,
                 s->starts.n > 1 ? "whichever hour of that day it fails" : "if it fails then");
    if (g_h > 0 && isfinite(g_h))
        tl_text_addf(&t,
                     " That is %s W and %s Wh at %.3g kg of oxygen a kWh; a weak air stone "
                     "brings less.",
                     power, energy, q->aeration_g_kwh / 1000);
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

static void say_table(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    bool unknown = false, lost = false;
    tl_text_addf(&t, "\n%-32s", "minutes to danger, water at");
    for (int w = 0; w < TL_ENDURE_WARMTHS; w++) {
        struct tl_text at = {0};
        add_quantity(&at, TL_DIM_TEMPERATURE, units,
                     s->when.temperature_degC + s->plan[TL_ENDURE_TABLE + w].warmer_degC, "");
        tl_text_add_text(&t, 12, &at);
        tl_text_free(&at);
    }
    tl_answer_line(f, &t);
    for (size_t level = 0; level < TL_ENDURE_FISH; level++) {
        struct tl_text fish = {0};
        tl_text_addf(&fish, "%.0f %% of the fish: ", 100 * tl_endure_fish[level]);
        add_quantity(&fish, TL_DIM_MASS, units, 1000 * s->when.fish_kg * tl_endure_fish[level], "");
        tl_text_add_text(&t, -32, &fish);
        tl_text_free(&fish);
        for (size_t w = 0; w < TL_ENDURE_WARMTHS; w++) {
            const size_t i = TL_ENDURE_TABLE + level * TL_ENDURE_WARMTHS + w;
            unknown |= *s->result[i].fault != '\0';
            lost |= isfinite(s->result[i].lost_before_d);
            add_minutes(&t, 12, &s->result[i], s->result[i].danger_min, s->plan[i].outage_d);
        }
        tl_answer_line(f, &t);
    }
    tl_text_addf(&t,
                 "Runs with so many fish, so much feed, that water. 0: below before it fails%s%s.",
                 unknown ? "; ?: cannot be told" : "",
                 lost ? "; -: the scenario kills so many fish before it fails" : "");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

/* --- all of it ---------------------------------------------------------------------------------- */

static void say_cautions(const struct tl_endure_study *s, FILE *f)
{
    struct tl_text t = {0};
    /* no process of the model turns standing water foul; common practice, no source */
    if (sulfide(s))
        tl_text_add(&t, "Hydrogen sulfide can form in media under water that stand: it kills fish "
                        "and people. Where it smells of rotten eggs, or did and no longer does, "
                        "keep out, call for ventilation and for help. ");
    if (has_pump(s))
        tl_text_addf(&t,
                     "Water that stood in chamber, pipes and media goes foul: drain it to waste "
                     "before the pump starts again, then start slowly and test. ");
    tl_text_addf(&t, "Mains beside water: licensed electrician, local codes. "
                     "Never run a combustion generator indoors or near a window: its fumes kill. "
                     "Ailing fish: ask a veterinarian.");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}

void tl_endure_text(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    say_verdict(s, units, f);
    tl_text_add(&t, s->scenario->title);
    tl_answer_say(f, 1, 0, &t);
    say_hour(s, units, f);
    tl_endure_sure_text(s, f);
    fprintf(f, "\n");
    say_failures(s, f);
    say_films(s, f);
    say_helps(s, units, f);
    say_need(s, f);
    say_table(s, units, f);
    fprintf(f, "\n");
    say_cautions(s, f);
}
