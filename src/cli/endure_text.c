/* What a study of failures found, on a terminal of 80 columns. */
#include <math.h>

#include "endure_view.h"
#include "page.h"
#include "text.h"

#define MINUTE_D (1.0 / 1440)
#define SHOWN    48

/* What the loop is without, for a sentence. */
static const char *const without[TL_NFAILURE] = {
    [TL_FAILURE_POWER] = "Without pump and aerator",
    [TL_FAILURE_PUMP] = "Without the pump",
    [TL_FAILURE_AERATOR] = "Without the aerator",
    [TL_FAILURE_HALF] = "With one of two half-size pumps",
};

enum tl_grade tl_endure_grade(const struct tl_endure_study *s)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    return isfinite(e->danger_min) || isfinite(e->lost_min) || *e->fault ? TL_DANGER
           : isfinite(e->caution_min)                                    ? TL_CAUTION
                                                                         : TL_WITHIN;
}

/* --- pieces ------------------------------------------------------------------------------------- */

/* "5 h 17 min" */
static void span(char text[SHOWN], double minutes)
{
    const double whole = floor(minutes);
    const double hours = floor(whole / 60);
    if (hours < 1)
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
    else if (isfinite(minutes))
        (void)tl_format(text, sizeof text, "%.0f", floor(minutes));
    else
        (void)tl_format(text, sizeof text, ">%.0f", outage_d / MINUTE_D);
    tl_text_addf(t, "%*s", width, text);
}

static void add_number(struct tl_text *t, int width, int places, double value)
{
    if (isfinite(value))
        tl_text_addf(t, "%*.*f", width, places, value);
    else
        tl_text_addf(t, "%*s", width, "-");
}

/* What is gone of a film; a film that grew has lost nothing. */
static void add_lost(struct tl_text *t, double left)
{
    if (isfinite(left))
        tl_text_addf(t, "%.0f %%", 100 * fmax(0, 1 - left));
    else
        tl_text_addf(t, "an unknown part");
}

static void add_days_back(struct tl_text *t, int width, double days)
{
    char text[SHOWN];
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

static void say_verdict(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_endured *e = &s->result[s->question.fails];
    const struct tl_limits *l = &s->scenario->limits;
    const double critical = s->scenario->setup.params.o2_critical;
    struct tl_text t = {0};
    char long_text[SHOWN], outage[SHOWN];

    span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(&t, "Verdict: %s. ", tl_grade_text(tl_endure_grade(s)));
    if (*e->fault) {
        tl_text_addf(&t, "This could not be reckoned to its end: %s.", e->fault);
        tl_page_say(f, TL_PAGE_LINES, 2, &t);
        return;
    }
    tl_text_addf(&t, "%s the fish ", without[s->question.fails]);
    if (isfinite(e->danger_min)) {
        span(long_text, e->danger_min);
        tl_text_addf(&t, "are in danger after %s: oxygen below %.3g mg/L.", long_text,
                     l->o2.danger);
    } else if (isfinite(e->caution_min)) {
        span(long_text, e->caution_min);
        tl_text_addf(&t,
                     "are under stress after %s, oxygen below %.3g mg/L, but not in danger for "
                     "%s.",
                     long_text, l->o2.caution, outage);
    } else {
        tl_text_addf(&t,
                     "have enough oxygen for %s: it never falls below %.3g mg/L, with default "
                     "parameters.",
                     outage, l->o2.caution);
    }
    if (isfinite(e->lost_min)) {
        span(long_text, e->lost_min);
        tl_text_addf(&t, " After %s it is below %.3g mg/L and they die.", long_text, critical);
    }
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_hour(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    const struct tl_worst_hour *w = &s->when;
    const struct tl_date d = tl_date_at(&s->scenario->start, w->at_d);
    struct tl_text t = {0};
    char outage[SHOWN];

    tl_text_addf(&t, "It fails on %04d-%02d-%02d at %02d:%02d, day %.0f of the scenario, ", d.year,
                 d.month, d.day, d.second / 3600, d.second / 60 % 60, floor(w->at_d));
    tl_text_addf(&t, isnan(s->question.clock_d)
                         ? "the hour of lowest oxygen on its last whole day"
                         : "on its last whole day, at the hour that was asked for");
    tl_text_addf(&t, " (%.2f mg/L); water ", w->o2);
    add_quantity(&t, TL_DIM_TEMPERATURE, units, w->temperature_degC, ", fish ");
    add_quantity(&t, TL_DIM_MASS, units, 1000 * w->fish_kg, ". ");
    span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(&t, "After %s it runs again.", outage);
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

/* --- tables ------------------------------------------------------------------------------------- */

enum { LABEL = 32, COLUMN = 8 };

/* What stands above the columns of a table; `more` and `below` of those behind the lowest oxygen. */
static void head_of_minutes(const struct tl_endure_study *s, const char *first, const char *more,
                            const char *below, FILE *f)
{
    const struct tl_limits *l = &s->scenario->limits;
    struct tl_text t = {0};
    tl_text_addf(&t, "%-*s%*s%*s%*s%*s%s", LABEL, first, COLUMN, "caution", COLUMN, "danger",
                 COLUMN + 1, "fish die", COLUMN, "lowest", more);
    tl_page_line(f, &t);
    tl_text_addf(&t, "%-*s%*.3g%*.3g%*.3g%*s%s", LABEL, "minutes until oxygen below, mg/L", COLUMN,
                 l->o2.caution, COLUMN, l->o2.danger, COLUMN + 1,
                 s->scenario->setup.params.o2_critical, COLUMN, "oxygen", below);
    tl_page_line(f, &t);
}

static void row_of_minutes(const struct tl_endure_study *s, size_t i, const char *label,
                           struct tl_text *t)
{
    const struct tl_endured *e = &s->result[i];
    const double outage_d = s->plan[i].outage_d;
    tl_text_addf(t, "%-*s", LABEL, label);
    add_minutes(t, COLUMN, e, e->caution_min, outage_d);
    add_minutes(t, COLUMN, e, e->danger_min, outage_d);
    add_minutes(t, COLUMN + 1, e, e->lost_min, outage_d);
    add_number(t, COLUMN, 2, e->lowest_o2);
}

static bool runs(const struct tl_endure_study *s, enum tl_failure failure)
{
    switch (failure) {
    case TL_FAILURE_AERATOR:
        return s->when.aerator_g_d > 0;
    case TL_FAILURE_PUMP:
    case TL_FAILURE_HALF:
        return s->when.flow_m3_d > 0;
    case TL_FAILURE_POWER:
    case TL_NFAILURE:
    default:
        return true;
    }
}

/* Days until all of it is back; NAN: no answer. */
static double days_back(const struct tl_endured *e)
{
    if (isnan(e->nh3_back_d) || isnan(e->no2_back_d) || isnan(e->o2_back_d))
        return NAN;
    return fmax(e->nh3_back_d, fmax(e->no2_back_d, e->o2_back_d));
}

static void say_failures(const struct tl_endure_study *s, FILE *f)
{
    struct tl_text t = {0};
    head_of_minutes(s, "failure", " highest   back", "     NH3   days", f);
    for (int i = 0; i < TL_NFAILURE; i++) {
        const struct tl_endured *e = &s->result[i];
        if (!runs(s, (enum tl_failure)i))
            continue;
        row_of_minutes(s, (size_t)i, tl_failure_words((enum tl_failure)i), &t);
        add_number(&t, COLUMN, 3, e->peak_nh3);
        add_days_back(&t, COLUMN - 1, days_back(e));
        tl_page_line(f, &t);
    }
    tl_text_addf(&t, "Oxygen, and NH3, the poisonous part of ammonia, as N: mg/L. Back: ammonia, "
                     "nitrite and oxygen are beyond no caution limit or where they were the day "
                     "before; -: the fish died.");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

static void say_films(const struct tl_endure_study *s, FILE *f)
{
    const double *in = s->result[s->question.fails].film_left;
    const double *day = s->result[TL_ENDURE_FILM].stage_left[TL_ENDURE_STAGES - 1];
    struct tl_text t = {0};
    char outage[SHOWN];

    span(outage, s->question.outage_d / MINUTE_D);
    tl_text_addf(&t, "The trays' film loses in %s ", outage);
    add_lost(&t, in[0]);
    tl_text_addf(&t, " of what oxidises ammonia, ");
    add_lost(&t, in[1]);
    tl_text_addf(&t, " of what oxidises nitrite; in %.0f h ",
                 24 * tl_endure_stage_d[TL_ENDURE_STAGES - 1]);
    add_lost(&t, day[0]);
    tl_text_addf(&t, " and ");
    add_lost(&t, day[1]);
    tl_text_addf(&t, ".");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

static void say_helps(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    const struct tl_endure_question *q = &s->question;
    const struct tl_endured *none = &s->result[q->fails];
    struct tl_text label[TL_NHELP] = {{0}};
    struct tl_text t = {0};

    tl_text_addf(&label[TL_HELP_FEED], "feed stopped at once");
    tl_text_addf(&label[TL_HELP_COOLER], "shade: water ");
    add_quantity(&label[TL_HELP_COOLER], TL_DIM_TEMPERATURE_SPAN, units, TL_HELP_COOLER_DEGC,
                 " cooler");
    tl_text_addf(&label[TL_HELP_BATTERY], "%.4g Wh battery, %.4g W aerator", q->battery_wh,
                 q->battery_w);
    tl_text_addf(&label[TL_HELP_AERATOR], "emergency aerator, %.3g g/h", q->aerator_g_d / 24);

    fprintf(f, "\n");
    head_of_minutes(s, "what helps", "  gained", " minutes", f);
    row_of_minutes(s, q->fails, "nothing done", &t);
    tl_page_line(f, &t);
    for (size_t h = 0; h < TL_NHELP; h++) {
        const struct tl_endured *e = &s->result[TL_ENDURE_HELPS + h];
        row_of_minutes(s, TL_ENDURE_HELPS + h, tl_text_string(&label[h]), &t);
        const double end = q->outage_d / MINUTE_D;
        const double gained = fmin(e->danger_min, end) - fmin(none->danger_min, end);
        char text[SHOWN] = "-";
        if (isfinite(none->danger_min) && !*e->fault)
            (void)tl_format(text, sizeof text, "%s%.0f", isinf(e->danger_min) ? ">" : "", gained);
        tl_text_addf(&t, "%*s", COLUMN, text);
        tl_page_line(f, &t);
        tl_text_free(&label[h]);
    }
}

static void say_need(const struct tl_endure_study *s, FILE *f)
{
    const struct tl_endure_question *q = &s->question;
    struct tl_text t = {0};
    char outage[SHOWN];

    span(outage, q->outage_d / MINUTE_D);
    if (!(s->need_g_d > 0))
        tl_text_addf(&t, "No further aerator is needed to keep out of danger for %s.", outage);
    else if (isinf(s->need_g_d))
        tl_text_addf(&t, "No aerator would keep the fish out of danger for %s.", outage);
    else
        tl_text_addf(&t,
                     "To keep out of danger for %s takes an aerator of %.3g g/h from the first "
                     "minute: %.2g W, %.3g Wh at %.3g kg of oxygen a kWh (diffused air: 0.7 to "
                     "1.2; Boyd 1998, from memory).",
                     outage, s->need_g_d / 24, s->need_g_d / 24 / q->aeration_g_kwh * 1000,
                     s->need_g_d * q->outage_d / q->aeration_g_kwh * 1000,
                     q->aeration_g_kwh / 1000);
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

static void say_table(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "\n%-32s", "minutes to danger, water at");
    for (int w = 0; w < TL_ENDURE_WARMTHS; w++) {
        struct tl_text at = {0};
        add_quantity(&at, TL_DIM_TEMPERATURE, units,
                     s->when.temperature_degC + tl_endure_warmer_degC[w], "");
        tl_text_addf(&t, "%12s", tl_text_string(&at));
        tl_text_free(&at);
    }
    tl_page_line(f, &t);
    for (size_t level = 0; level < TL_ENDURE_FISH; level++) {
        struct tl_text fish = {0};
        tl_text_addf(&fish, "%.0f %% of the fish: ", 100 * tl_endure_fish[level]);
        add_quantity(&fish, TL_DIM_MASS, units, 1000 * s->when.fish_kg * tl_endure_fish[level], "");
        tl_text_addf(&t, "%-32s", tl_text_string(&fish));
        tl_text_free(&fish);
        for (size_t w = 0; w < TL_ENDURE_WARMTHS; w++) {
            const size_t i = TL_ENDURE_TABLE + level * TL_ENDURE_WARMTHS + w;
            add_minutes(&t, 12, &s->result[i], s->result[i].danger_min, s->plan[i].outage_d);
        }
        tl_page_line(f, &t);
    }
    tl_text_addf(&t,
                 "0: it is below before anything fails; ?: cannot be told. More in endure.csv.");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

/* --- all of it ---------------------------------------------------------------------------------- */

static void say_cautions(FILE *f)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "Mains beside water, standby power: licensed electrician, local codes. Never "
                     "run a combustion generator indoors or near a window: its fumes kill. Ailing "
                     "fish: ask a veterinarian.");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

void tl_endure_text(const struct tl_endure_study *s, enum tl_unit_system units, FILE *f)
{
    struct tl_text t = {0};
    say_verdict(s, f);
    tl_text_add(&t, s->scenario->title);
    tl_page_say(f, 1, 0, &t);
    say_hour(s, units, f);
    fprintf(f, "\n");
    say_failures(s, f);
    say_films(s, f);
    say_helps(s, units, f);
    say_need(s, f);
    say_table(s, units, f);
    fprintf(f, "\n");
    say_cautions(f);
}
