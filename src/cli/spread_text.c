/* How sure a verdict is, on a terminal of 80 columns. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "page.h"
#include "spread_drivers.h"
#include "spread_view.h"
#include "text.h"
#include "towerloop/run_end.h"
#include "towerloop/shock.h"
#include "towerloop/summary.h"

enum { NAME = 25, CHANCE = 17, MIDDLE = 7, VALUE = 8, DAY = 6, SHOWN = 40, DRIVERS = 3 };
#define WEAK      0.1  /* a correlation that is not worth a word */
#define CHANCE_OF 2.0  /* over the root of the runs: one that chance alone may give */
#define LITTLE    0.02 /* a share that is not */
#define UNSURE    0.1  /* an error too large */
#define ONE_IN_20 0.05 /* of the runs lie further out */

/* As it fits into the table. */
static const char *table_name(enum tl_limit_id id)
{
    return id == TL_LIMIT_HOUR_CHANGE  ? "temperature change, 1 h"
           : id == TL_LIMIT_DAY_CHANGE ? "temperature change, 1 day"
                                       : tl_spread_limit_name(id);
}

static bool is_broken(const struct tl_tally *t, enum tl_limit_id id)
{
    return t->limit[id].caution > 0;
}

/* --- the verdict -------------------------------------------------------------------------------- */

/* What a run says with its verdict, too: whose limits, and what it is too short for. */
static void add_grounds(const struct tl_tally *t, struct tl_text *w)
{
    const struct tl_scenario *s = t->spread->scenario;
    const int changed = tl_limits_changed(&s->limits);
    struct tl_text blind = {0};
    if (changed > 0)
        tl_text_addf(w, " Judged by limits of your own (values changed: %d).", changed);
    if (tl_tally_verdict(t) != TL_DANGER)
        tl_run_cannot_tell(&s->setup, s->setup.length_d, false, false, &blind);
    if (tl_tally_verdict(t) != TL_DANGER && t->unready > 0) {
        const struct tl_chance unready = tl_chance_of(t->unready, t->runs);
        char text[TL_CHANCE_SIZE];
        tl_chance_text(&unready, text);
        tl_text_addf(
            &blind,
            "%sThe new filter is not shown to be ready by the end in %s: ammonia and "
            "nitrite can still rise after it. Make the run longer: a new filter takes weeks.",
            tl_text_is_empty(&blind) ? "" : " ", text);
    }
    tl_overdose_say(&s->setup, &blind);
    tl_run_end_say(&s->setup, &blind);
    if (!tl_text_is_empty(&blind))
        tl_text_add(w, " ");
    tl_text_add_text(w, 0, &blind);
    tl_text_free(&blind);
}

static void say_verdict(const struct tl_tally *t, FILE *out)
{
    const struct tl_chance within = tl_tally_within(t), danger = tl_tally_beyond(t, TL_DANGER);
    const struct tl_chance caution = tl_tally_beyond(t, TL_CAUTION);
    char a[TL_CHANCE_SIZE], b[TL_CHANCE_SIZE], but[TL_TALLY_BUT];
    struct tl_text w = {0};
    tl_chance_text(&within, a);
    tl_chance_text(&danger, b);
    tl_tally_but(tl_tally_verdict(t), &caution, &danger, but);
    tl_text_addf(&w, "Verdict: %s%s. Within limits in %s. Danger in %s.",
                 tl_grade_text(tl_tally_verdict(t)), but, a, b);
    add_grounds(t, &w);
    tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    if (t->lost > 0) {
        const struct tl_chance lost = tl_tally_lost(t);
        tl_chance_text(&lost, a);
        tl_text_addf(&w, "Fish are lost, for want of oxygen, in %s%s.", a,
                     t->unknown > 0 ? ", with those that could not be calculated" : "");
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
    if (t->unknown > 0) {
        tl_text_addf(&w, "%zu run%s could not be calculated", t->unknown,
                     t->unknown == 1 ? "" : "s");
        if (t->impossible == t->unknown)
            tl_text_addf(&w, " because %s values cannot stand together",
                         t->impossible == 1 ? "its" : "their");
        else if (t->impossible > 0)
            tl_text_addf(&w, ", %zu of them because %s values cannot stand together", t->impossible,
                         t->impossible == 1 ? "its" : "their");
        tl_text_addf(&w, "; to be on the safe side %s as danger.",
                     t->unknown == 1 ? "it counts" : "they count");
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
}

/* What alone makes a run one of caution or danger, though no limit is broken. */
static void say_causes(const struct tl_tally *t, FILE *out)
{
    const struct tl_chance ice = tl_chance_of(t->ice, t->runs);
    const struct tl_chance outside = tl_chance_of(t->outside, t->runs);
    struct tl_ranges ranges;
    struct tl_text w = {0};
    char text[TL_CHANCE_SIZE];
    size_t named = 0;
    tl_ranges_init(&ranges, &t->spread->scenario->setup, true);
    if (t->ice > 0) {
        tl_chance_text(&ice, text);
        tl_text_addf(&w, "Ice on the water in %s: %s.", text,
                     t->fish_ice > 0 ? "danger with fish below it" : "caution");
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
    if (t->outside > 0) {
        tl_chance_text(&outside, text);
        tl_text_addf(&w,
                     "An equation is used outside the range it was published for in %s, so these "
                     "are no better than caution: ",
                     text);
        for (size_t i = 0; i < TL_NRANGE; i++)
            if (t->outside_of[i] > 0)
                tl_text_addf(&w, "%s%s (%s)", named++ > 0 ? ", " : "", ranges.note[i].what,
                             ranges.note[i].use);
        tl_text_add(&w, ".");
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
    const struct tl_setup *s = &t->spread->scenario->setup;
    if (tl_setup_gives_medicine(s) && tl_setup_ever_fish(s) && !tl_setup_overdose(s)) {
        tl_text_add(&w, "What the medicine does to fish is not judged: no better than caution.");
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
}

static void say_head(const struct tl_tally *t, FILE *out)
{
    const struct tl_spread *s = t->spread;
    struct tl_text w = {0};
    size_t happens = 0;
    for (size_t i = 0; i < s->inputs; i++)
        happens += s->input[i].nature == TL_SPREAD_HAPPENS;
    say_verdict(t, out);
    say_causes(t, out);
    tl_text_add(&w, s->scenario->title);
    tl_answer_say(out, 1, 0, &w);
    tl_text_addf(&w, "%zu runs; each took other values for %zu uncertain input%s, ", t->runs,
                 s->inputs, s->inputs == 1 ? "" : "s");
    if (happens == 0)
        tl_text_add(&w, "of how the loop works");
    else if (happens == s->inputs)
        tl_text_add(&w, "of what happens from outside");
    else
        tl_text_addf(&w, "%zu of how the loop works and %zu of what happens from outside",
                     s->inputs - happens, happens);
    tl_text_addf(&w, " (seed %" PRIu64 ").", s->seed);
    tl_answer_say(out, TL_PAGE_LINES, 0, &w);
    fprintf(out, "\n");
}

/* --- the limits --------------------------------------------------------------------------------- */

static enum tl_dim dim_of(enum tl_limit_id id)
{
    switch (id) {
    case TL_LIMIT_COLD:
    case TL_LIMIT_WARM:
        return TL_DIM_TEMPERATURE;
    case TL_LIMIT_HOUR_CHANGE:
    case TL_LIMIT_DAY_CHANGE:
        return TL_DIM_TEMPERATURE_SPAN;
    default:
        return TL_DIM_NUMBER;
    }
}

static void add_value(struct tl_text *w, enum tl_limit_id id, enum tl_unit_system units, int width,
                      double value)
{
    char text[SHOWN] = "-";
    if (!isnan(value))
        tl_display_text(TL_DIM_NUMBER, units, tl_display_value(dim_of(id), units, value), 3, text,
                        sizeof text);
    tl_text_addf(w, "%*s", width, text);
}

static void say_limit(const struct tl_tally *t, enum tl_limit_id id, enum tl_unit_system units,
                      FILE *out)
{
    const struct tl_chance caution = tl_tally_limit_beyond(t, id, TL_CAUTION);
    const struct tl_chance danger = tl_tally_limit_beyond(t, id, TL_DANGER);
    const double first_d = tl_tally_first_d(t, id, 0.5);
    char a[TL_CHANCE_SIZE], b[TL_CHANCE_SIZE];
    struct tl_text w = {0};
    tl_chance_short(&caution, a);
    tl_chance_short(&danger, b);
    tl_text_addf(&w, "%-*s%*s%*s", NAME, table_name(id), CHANCE, a, CHANCE, b);
    add_value(&w, id, units, MIDDLE, tl_tally_worst(t, id, 0.5));
    add_value(&w, id, units, VALUE,
              tl_tally_worst(t, id, tl_spread_limit_is_below(id) ? ONE_IN_20 : 1 - ONE_IN_20));
    if (!isnan(first_d)) {
        char day[SHOWN];
        (void)tl_format(day, sizeof day, "d%.0f", floor(first_d));
        tl_text_addf(&w, "%*s", DAY, day);
    }
    tl_answer_line(out, &w);
}

static void say_limits(const struct tl_tally *t, enum tl_unit_system units, FILE *out)
{
    struct tl_text w = {0};
    bool any = false;
    for (int i = 0; i < TL_NLIMIT; i++)
        any |= is_broken(t, (enum tl_limit_id)i);
    if (any) {
        tl_text_addf(&w, "%-*s%*s%*s%*s%*s%*s", NAME, "of 100 runs (90 % sure)", CHANCE, "caution",
                     CHANCE, "danger", MIDDLE, "middle", VALUE, "1 in 20", DAY, "first");
        tl_answer_line(out, &w);
    }
    for (int i = 0; i < TL_NLIMIT; i++)
        if (is_broken(t, (enum tl_limit_id)i))
            say_limit(t, (enum tl_limit_id)i, units, out);
    if (any) {
        tl_text_addf(
            &w,
            "middle, 1 in 20: the worst value of the middle run, and what 1 run in 20 goes "
            "beyond; nitrogen mg/L as N, alkalinity mg/L as CaCO3, temperature %s. first: "
            "the day the limit is broken first, in the middle run of those that break it.",
            tl_display_unit(TL_DIM_TEMPERATURE, units));
        tl_answer_say(out, TL_PAGE_LINES, 0, &w);
    }
}

static void say_kept(const struct tl_tally *t, FILE *out)
{
    struct tl_text w = {0};
    char text[TL_CHANCE_SIZE];
    const struct tl_chance none = tl_chance_of(0, t->runs);
    for (int i = 0; i < TL_NLIMIT; i++)
        if (!is_broken(t, (enum tl_limit_id)i) && t->limit[i].judged > 0)
            tl_text_addf(&w, "%s%s",
                         w.length         ? "; "
                         : t->unknown > 0 ? "Broken in no run that could be calculated: "
                                          : "Broken in no run: ",
                         tl_spread_limit_name((enum tl_limit_id)i));
    tl_chance_text(&none, text);
    if (tl_text_is_empty(&w))
        return;
    if (t->unknown == 0)
        tl_text_addf(&w, ". Each: in %s.", text);
    else
        tl_text_add(&w, ".");
    tl_answer_say(out, TL_PAGE_LINES, 0, &w);
}

/* --- what drives it ----------------------------------------------------------------------------- */

static void add_drivers(struct tl_text *w, const struct tl_tally *t, enum tl_limit_id id)
{
    struct tl_spread_driver driver[DRIVERS];
    const double weak = fmax(WEAK, CHANCE_OF / sqrt((double)t->limit[id].judged));
    const size_t n = tl_spread_drivers(t, id, weak, driver, DRIVERS);
    for (size_t i = 0; i < n; i++) {
        char label[TL_SPREAD_LABEL];
        tl_spread_label(&t->spread->input[driver[i].input], label);
        tl_text_addf(w, "%s%s %+.2f", i ? ", " : "", label, driver[i].worse);
    }
    if (n == 0)
        tl_text_add(w, "none of the inputs by itself, as far as so many runs can tell");
}

static void say_drivers(const struct tl_tally *t, FILE *out)
{
    struct tl_text w = {0};
    bool any = false;
    for (int i = 0; i < TL_NLIMIT; i++) {
        if (!is_broken(t, (enum tl_limit_id)i))
            continue;
        if (!any)
            fprintf(out, "\nWhat drives it (rank correlation; +: more of it is worse)\n");
        any = true;
        tl_text_addf(&w, "%s: ", tl_spread_limit_name((enum tl_limit_id)i));
        add_drivers(&w, t, (enum tl_limit_id)i);
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
}

/* Runs with which an error of that size would come down to UNSURE: it goes by their root. Two digits, upwards. */
static double runs_for(const struct tl_tally *t, double error)
{
    const double needed = (double)t->runs * (error / UNSURE) * (error / UNSURE);
    const double runs = fmin(fmax(needed, TL_SPREAD_POINTS), TL_SPREAD_RUNS_MOST);
    const double step = pow(10, fmax(0, floor(log10(runs)) - 1));
    return ceil(runs / step) * step;
}

static void add_shares(struct tl_text *w, const struct tl_tally *t, enum tl_limit_id id)
{
    struct tl_indices found;
    size_t input[DRIVERS];
    tl_tally_indices(t, id, &found);
    const double error = tl_spread_shares_error(t, &found);
    const size_t n = tl_spread_shares(t, &found, LITTLE, input, DRIVERS);
    for (size_t i = 0; i < n; i++) {
        const struct tl_index *x = &found.input[input[i]];
        char label[TL_SPREAD_LABEL];
        tl_spread_label(&t->spread->input[input[i]], label);
        tl_text_addf(w, "%s%s %.0f %% (%.0f %%)", i ? ", " : "", label,
                     100 * fmin(tl_spread_alone(x), 1), 100 * fmin(x->total, 1));
    }
    if (found.known && !tl_spread_shares_told(t, &found))
        tl_text_addf(w, "so few runs cannot tell; about %.0f would", runs_for(t, error));
    else if (n == 0)
        tl_text_add(w, "not known: the worst value is the same in all runs, or hardly any run gave "
                       "one");
    else if (error > UNSURE)
        tl_text_addf(w, "; each give or take %.0f: for 10, about %.0f runs", ceil(100 * error),
                     runs_for(t, error));
    else
        tl_text_addf(w, "; each give or take %.0f", ceil(100 * error));
    if (found.missed > 0)
        tl_text_addf(w, "; without %zu runs of which one of the others failed", found.missed);
}

static void say_shares(const struct tl_tally *t, FILE *out)
{
    struct tl_text w = {0};
    bool any = false;
    for (int i = 0; i < TL_NLIMIT && t->spread->sensitivity; i++) {
        if (!is_broken(t, (enum tl_limit_id)i))
            continue;
        if (!any)
            fprintf(out, "\nShare of the variance of the worst value: what would go if this input "
                         "were known\n(in brackets: what would stay if all others were)\n");
        any = true;
        tl_text_addf(&w, "%s: ", tl_spread_limit_name((enum tl_limit_id)i));
        add_shares(&w, t, (enum tl_limit_id)i);
        tl_answer_say(out, TL_PAGE_LINES, 2, &w);
    }
}

/* --- all of it ---------------------------------------------------------------------------------- */

static bool any_judged(const struct tl_tally *t)
{
    size_t runs = 0;
    for (size_t i = 0; i < TL_NLIMIT; i++)
        runs += t->limit[i].judged;
    return runs > 0;
}

static void say_foot(const struct tl_tally *t, FILE *out)
{
    struct tl_text w = {0};
    size_t judged = 0;
    for (size_t i = 0; i < t->spread->inputs; i++)
        judged += strcmp(t->spread->input[i].status, "published") != 0;
    if (any_judged(t))
        fprintf(out, "\n");
    tl_text_add(&w, "A grade holds unless it is sure that fewer than 5 of 100 runs reach it. The "
                    "chances are those of the inputs' ranges; what the model leaves out is not in "
                    "them.");
    if (judged > 0)
        tl_text_addf(&w, " Ranges that are not published ones: %zu of %zu; spread.json says which.",
                     judged, t->spread->inputs);
    tl_text_add(&w, " Not looked for here: hydrogen sulfide, and water that stands on clogged "
                    "trays; towerloop run does.");
    tl_answer_say(out, TL_PAGE_LINES, 0, &w);
    tl_text_add(&w, "A chance is no promise: test the water before you add fish or feed more. "
                    "Ailing fish: ask a veterinarian.");
    tl_answer_say(out, TL_PAGE_LINES, 0, &w);
}

void tl_spread_text(const struct tl_tally *t, enum tl_unit_system units, FILE *out)
{
    say_head(t, out);
    say_limits(t, units, out);
    say_kept(t, out);
    say_drivers(t, out);
    say_shares(t, out);
    say_foot(t, out);
}
