/* What readings tell of a loop, on a terminal of 80 columns. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "fit_view.h"
#include "text.h"

enum { WORST = 5, LINES = 5, NAME = 23, SHOWN = 48 };
#define ALIKE   0.8 /* correlations worth a word */
#define NO_GOOD 3   /* standard errors, root of mean square: the model does not follow */

static const struct tl_fit_quantity *fitted(const struct tl_fit *f, size_t j)
{
    return &f->quantity[f->fitted[j]];
}

/* "parameters.mu_aob" -> "mu_aob" */
static const char *short_name(const char *path)
{
    static const char before[] = "parameters.";
    return strncmp(path, before, sizeof before - 1) == 0 ? path + sizeof before - 1 : path;
}

/* A number without its unit. */
static void add_number(struct tl_text *t, enum tl_dim dim, enum tl_unit_system units, double value)
{
    char text[SHOWN];
    tl_display_text(TL_DIM_NUMBER, units, tl_display_value(dim, units, value), 3, text,
                    sizeof text);
    tl_text_add(t, text);
}

/* --- the parameters ----------------------------------------------------------------------------- */

static void add_cell(struct tl_text *t, int width, const struct tl_text *cell)
{
    tl_text_add_text(t, width, cell);
}

/* "0.88 to 0.92", "at least 0.88", "at most 0.92" */
static void add_interval(struct tl_text *t, const struct tl_fit *f, size_t j,
                         enum tl_unit_system units)
{
    const struct tl_fit_interval i = tl_fit_interval(f, j);
    const enum tl_dim dim = fitted(f, j)->dim;
    if (i.low_open || i.high_open)
        tl_text_add(t, i.high_open ? "at least " : "at most ");
    if (!i.low_open)
        add_number(t, dim, units, i.low);
    if (!i.low_open && !i.high_open)
        tl_text_add(t, " to ");
    if (!i.high_open)
        add_number(t, dim, units, i.high);
}

static void say_parameter(const struct tl_fit *f, size_t j, enum tl_unit_system units, FILE *out)
{
    const struct tl_fit_quantity *q = fitted(f, j);
    const double value[] = {q->given, f->result.x[j]};
    struct tl_text t = {0}, cell = {0};
    tl_text_addf(&t, "%-*s", NAME, short_name(q->path));
    for (size_t k = 0; k < 2; k++) {
        add_number(&cell, q->dim, units, value[k]);
        add_cell(&t, 10, &cell);
        tl_text_free(&cell);
    }
    add_interval(&cell, f, j, units);
    add_cell(&t, 24, &cell);
    tl_text_free(&cell);
    tl_text_addf(&t, "  %s%s", tl_display_unit(q->dim, units), tl_fit_at_end(f, j) ? " *" : "");
    tl_answer_line(out, &t);
}

static bool is_open(const struct tl_fit *f, size_t j)
{
    const struct tl_fit_interval i = tl_fit_interval(f, j);
    return i.low_open || i.high_open;
}

static bool any_at_end(const struct tl_fit *f)
{
    bool any = false;
    for (size_t j = 0; j < f->n; j++)
        any |= tl_fit_at_end(f, j);
    return any;
}

/* What the intervals are worth. */
static void say_intervals(const struct tl_fit *f, FILE *out)
{
    struct tl_text t = {0};
    bool open = false;
    for (size_t j = 0; j < f->n; j++)
        open |= is_open(f, j);
    if (any_at_end(f))
        tl_text_add(&t, "*: at the end of the range it was sought in. Most likely it makes up for "
                        "something the scenario has wrong (the age of the filter, fish, feed, "
                        "flow) or leaves out. Mend that first; do not plan with such a value. ");
    if (open)
        tl_text_add(&t, "At least, at most: beyond it the readings fit as well, up to the end of "
                        "the range, so do not rely on the value itself; run the scenario with "
                        "the end that is named, too. ");
    tl_text_add(&t, f->profile.complete
                        ? "Within an interval the readings fit hardly worse, the other values "
                          "fitted anew (profile likelihood)."
                        : "The intervals are linearised, a rough guide: how much worse the "
                          "readings fit beside the best values could not be followed far enough.");
    tl_text_add(&t, " They hold if the model is right and the readings are off by chance.");
    if (f->result.scale > 1.5)
        tl_text_addf(&t,
                     " They were widened %.1f times, since readings lie further off than their "
                     "errors say.",
                     sqrt(f->result.scale));
    if (!f->result.converged)
        tl_text_add(&t, " The search did not settle: take the values as a hint only.");
    tl_text_addf(&t, " All this took %zu runs.", f->runs);
    tl_answer_say(out, TL_PAGE_LINES, 0, &t);
}

static void say_parameters(const struct tl_fit *f, enum tl_unit_system units, FILE *out)
{
    struct tl_text t = {0};
    if (f->n == 0)
        return;
    tl_text_addf(&t, "%-*s%10s%10s%24s", NAME, "", "before", "fitted", "90 % interval");
    tl_answer_line(out, &t);
    for (size_t j = 0; j < f->n; j++)
        say_parameter(f, j, units, out);
    say_intervals(f, out);
}

static void say_alike(const struct tl_fit *f, FILE *out)
{
    struct tl_text t = {0};
    for (size_t j = 0; j < f->n; j++)
        for (size_t k = j + 1; k < f->n; k++)
            if (fabs(f->result.correlation[j][k]) > ALIKE)
                tl_text_addf(&t, "%s%s and %s (correlation %.2f)", t.length ? ", " : "",
                             short_name(fitted(f, j)->path), short_name(fitted(f, k)->path),
                             f->result.correlation[j][k]);
    if (!tl_text_is_empty(&t))
        tl_text_add(&t, ": one makes up for the other, so trust what they do together.");
    if (!tl_text_is_empty(&t))
        tl_answer_say(out, TL_PAGE_LINES, 0, &t);
    tl_text_free(&t);
}

/* "sentence: a, b." of the quantities that `which` is true of, behind what is in `t`. */
static void add_fixed(struct tl_text *t, const struct tl_fit *f, const char *sentence,
                      bool (*which)(const struct tl_fit_quantity *))
{
    bool any = false;
    for (size_t j = 0; j < f->quantities; j++) {
        const struct tl_fit_quantity *q = &f->quantity[j];
        if (q->chosen || !which(q))
            continue;
        if (!any)
            tl_text_addf(t, "%s%s", t->length ? " " : "", sentence);
        tl_text_addf(t, "%s%s", any ? ", " : "", short_name(q->path));
        if (q->not_from >= 0)
            tl_text_addf(t, " (from %s)", short_name(f->quantity[q->not_from].path));
        any = true;
    }
    if (any)
        tl_text_add(t, ".");
}

static bool tells_little(const struct tl_fit_quantity *q)
{
    return !q->taken_back && q->not_from < 0;
}

static bool is_like_another(const struct tl_fit_quantity *q)
{
    return !q->taken_back && q->not_from >= 0;
}

static bool is_taken_back(const struct tl_fit_quantity *q)
{
    return q->taken_back;
}

static void say_fixed(const struct tl_fit *f, FILE *out)
{
    struct tl_text t = {0};
    add_fixed(&t, f,
              "Cannot be told, as the readings fit as well with any value in the range; left as "
              "in the scenario: ",
              is_taken_back);
    add_fixed(&t, f, "Left as they are, as the readings tell too little of them: ", tells_little);
    add_fixed(&t, f, "Left, as they cannot be told from another: ", is_like_another);
    if (!tl_text_is_empty(&t))
        tl_answer_say(out, TL_PAGE_LINES, 0, &t);
    tl_text_free(&t);
}

/* --- the readings ------------------------------------------------------------------------------- */

static size_t count(const struct tl_fit *f, enum tl_fit_use use)
{
    size_t n = 0;
    for (size_t i = 0; i < f->log->rows; i++)
        n += f->point[i].use == use;
    return n;
}

static void say_how_well(const struct tl_fit *f, FILE *out)
{
    struct tl_text t = {0};
    size_t wild = 0;
    for (size_t i = 0; i < f->log->rows && f->n > 0; i++)
        wild += tl_fit_is_wild(f, i);
    if (f->n > 0)
        tl_text_addf(&t,
                     "Off by %.1f standard errors before, by %.1f now (root of mean square; 1 "
                     "is as good as the readings are).",
                     f->rms_before, f->rms_after);
    else if (f->used > 0)
        tl_text_addf(&t,
                     "The scenario as it stands is off by %.1f standard errors (root of mean "
                     "square; 1 is as good as the readings are).",
                     f->rms_before);
    if (wild > 0)
        tl_text_addf(&t, " Left out of this: %zu so far off that %s hardly counted; look at %s.",
                     wild, wild == 1 ? "it" : "they", wild == 1 ? "it" : "them");
    const size_t worse = f->n > 0 ? tl_fit_wild_and_worse(f) : 0;
    if (worse > 0)
        tl_text_addf(&t,
                     " %zu of these show%s worse water than the fitted loop has: test again before "
                     "you put that down to chance, as the pond may be worse than the fit says.",
                     worse, worse == 1 ? "s" : "");
    if (f->n > 0 && f->held > 0) {
        tl_text_addf(&t,
                     " Tried on the last %zu readings, fitted without them: off by %.1f, the "
                     "scenario as it was by %.1f.",
                     f->held, f->rms_held_tried, f->rms_held_before);
        tl_text_add(&t, f->rms_held_tried < f->rms_held_before
                            ? any_at_end(f)
                                  ? " So it is better on days it has not seen, but see * above."
                                  : " So it is better on days it has not seen, too."
                            : " So it is no better on days it has not seen: do not rely on it.");
    }
    if (f->n > 0 && f->held == 0)
        tl_text_add(&t, " Not tried on readings it had not seen, so nobody knows whether it holds "
                        "for other days.");
    if (f->n > 0 && f->rms_after > NO_GOOD)
        tl_text_add(&t, " The model does not follow these readings: look for what the scenario "
                        "leaves out, or for readings that are wrong.");
    if (!tl_text_is_empty(&t))
        tl_answer_say(out, TL_PAGE_LINES, 0, &t);
    tl_text_free(&t);
}

static void add_reading(struct tl_text *t, const struct tl_measured *m, enum tl_unit_system units)
{
    const enum tl_dim dim = tl_measured_row(m->quantity)->dim;
    if (m->kind == TL_MEASURED_BELOW || m->kind == TL_MEASURED_ABOVE)
        tl_text_add(t, m->kind == TL_MEASURED_BELOW ? "<" : ">");
    if (m->kind == TL_MEASURED_BETWEEN) {
        add_number(t, dim, units, m->low);
        tl_text_add(t, "-");
    }
    add_number(t, dim, units, m->kind == TL_MEASURED_ABOVE ? m->low : m->high);
}

static void say_reading(const struct tl_fit *f, size_t i, const struct tl_scenario *s,
                        enum tl_unit_system units, FILE *out)
{
    const struct tl_measured *m = &f->log->row[i];
    const struct tl_measured_row *row = tl_measured_row(m->quantity);
    const struct tl_date d = tl_date_at(&s->start, m->t_d);
    struct tl_text t = {0}, cell = {0};
    tl_text_addf(&t, "%04d-%02d-%02d %02d:%02d  %-10s%-19s", d.year, d.month, d.day,
                 d.second / 3600, d.second / 60 % 60, tl_measured_place_word(m->place), row->word);
    add_reading(&cell, m, units);
    add_cell(&t, 12, &cell);
    tl_text_free(&cell);
    add_number(&cell, row->dim, units, f->point[i].after);
    add_cell(&t, 10, &cell);
    tl_text_free(&cell);
    tl_text_addf(&t, "%+9.1f", f->point[i].off_after);
    tl_answer_line(out, &t);
}

/* The units of the rows shown, and what they are off by. */
static void add_worst_units(struct tl_text *t, const struct tl_fit *f, const size_t *shown,
                            size_t n, enum tl_unit_system units)
{
    bool told[TL_NMEASURED] = {false}, any = false;
    for (size_t k = 0; k < n; k++) {
        const enum tl_measured_quantity quantity = f->log->row[shown[k]].quantity;
        const struct tl_measured_row *row = tl_measured_row(quantity);
        if (!told[quantity] && row->dim != TL_DIM_NUMBER) {
            tl_text_addf(t, "%s%s in %s", any ? ", " : "Units: ", row->word,
                         tl_display_unit(row->dim, units));
            any = true;
        }
        told[quantity] = true;
    }
    tl_text_addf(t, "%sOff by: standard errors, + where the model is higher.", any ? ". " : "");
}

/* Those that lie furthest off after the fit. */
static void say_worst(const struct tl_fit *f, const struct tl_scenario *s,
                      enum tl_unit_system units, FILE *out)
{
    struct tl_text t = {0};
    size_t shown[WORST], n = 0;
    while (n < WORST && n < f->used) {
        size_t worst = f->log->rows;
        for (size_t i = 0; i < f->log->rows; i++) {
            bool told = f->point[i].use > TL_FIT_HELD;
            for (size_t k = 0; k < n; k++)
                told |= shown[k] == i;
            if (!told && (worst == f->log->rows ||
                          fabs(f->point[i].off_after) > fabs(f->point[worst].off_after)))
                worst = i;
        }
        shown[n++] = worst;
    }
    if (n == 0)
        return;
    tl_text_addf(&t, "%-18s%-29s%12s%10s%9s", "furthest off", "", "read", "model", "off by");
    tl_answer_line(out, &t);
    for (size_t k = 0; k < n; k++)
        say_reading(f, shown[k], s, units, out);
    add_worst_units(&t, f, shown, n, units);
    tl_answer_say(out, TL_PAGE_LINES, 0, &t);
}

/* --- the forecast --------------------------------------------------------------------------------- */

static void say_forecast(const struct tl_fit *f, const struct tl_scenario *s,
                         enum tl_unit_system units, FILE *out)
{
    struct tl_text t = {0};
    bool known = false, open = false;
    for (size_t i = 0; i < f->forecasts; i++)
        known |= isfinite(f->forecast[i].value);
    if (f->forecasts == 0)
        return;
    fprintf(out, "\n");
    if (!known) {
        tl_text_add(&t, "So far ahead cannot be looked: the scenario's files do not reach there.");
        tl_answer_say(out, TL_PAGE_LINES, 0, &t);
        return;
    }
    tl_text_addf(&t, "%-18s%-29s%12s%19s", "expected", "", "value", "a test may show");
    tl_answer_line(out, &t);
    for (size_t i = 0; i < f->forecasts; i++) {
        const struct tl_fit_forecast *c = &f->forecast[i], *next = c + 1;
        if (i + 1 < f->forecasts && next->quantity == c->quantity && next->place == c->place)
            continue;
        if (!isfinite(c->value))
            continue;
        const struct tl_measured_row *row = tl_measured_row(c->quantity);
        const struct tl_date d = tl_date_at(&s->start, c->t_d);
        struct tl_text cell = {0};
        tl_text_addf(&t, "%04d-%02d-%02d %02d:%02d  %-10s%-19s", d.year, d.month, d.day,
                     d.second / 3600, d.second / 60 % 60, tl_measured_place_word(c->place),
                     row->word);
        add_number(&cell, row->dim, units, c->value);
        add_cell(&t, 12, &cell);
        tl_text_free(&cell);
        add_number(&cell, row->dim, units, c->read_low);
        tl_text_add(&cell, " to ");
        add_number(&cell, row->dim, units, c->read_high);
        add_cell(&t, 19, &cell);
        tl_text_free(&cell);
        tl_answer_line(out, &t);
    }
    tl_text_add(&t, f->n > 0 ? "As planned in the scenario. The range, 90 %, is what the fitted "
                               "values leave open and how far a reading may be off."
                             : "As planned in the scenario. The range, 90 %, is how far a reading "
                               "may be off; how far the scenario is off nobody knows.");
    for (size_t j = 0; j < f->n && !open; j++)
        open = is_open(f, j);
    if (open)
        tl_text_add(&t, " It may lie further off, as an interval above is open.");
    tl_answer_say(out, TL_PAGE_LINES, 0, &t);
}

/* --- all of it ------------------------------------------------------------------------------------ */

/* " Passed over: 3 before or after the run (lines 4, 7 and 9)." */
static void add_passed_over(struct tl_text *t, const struct tl_fit *f, enum tl_fit_use use,
                            const char *why)
{
    const size_t n = count(f, use);
    size_t told = 0;
    if (n == 0)
        return;
    tl_text_addf(t, " Passed over: %zu %s (%s ", n, why, n == 1 ? "line" : "lines");
    for (size_t i = 0; i < f->log->rows && told < LINES; i++)
        if (f->point[i].use == use)
            tl_text_addf(t, "%s%u", told++ ? ", " : "", f->log->row[i].line);
    tl_text_addf(t, "%s of the readings).", n > told ? " ..." : "");
}

static void say_head(const struct tl_fit *f, const struct tl_scenario *s, FILE *out)
{
    struct tl_text t = {0};
    const struct tl_date begin = s->start,
                         end = tl_date_at(&s->start, s->start.second / 86400.0 + s->setup.length_d);
    if (f->n > 0)
        tl_text_addf(&t, "%zu value%s fitted to %zu readings.", f->n, f->n == 1 ? "" : "s",
                     f->used);
    else if (f->used > 0)
        tl_text_addf(&t,
                     "Nothing fitted: %zu reading%s none of the values well enough. More "
                     "of them help, most of all while the water changes.",
                     f->used, f->used == 1 ? " tells" : "s tell");
    else
        tl_text_addf(&t,
                     "Nothing fitted: no reading is of the run, %04d-%02d-%02d to %04d-%02d-%02d.",
                     begin.year, begin.month, begin.day, end.year, end.month, end.day);
    add_passed_over(&t, f, TL_FIT_NO_RUN, "before or after the run");
    add_passed_over(&t, f, TL_FIT_NO_WATER, "below a tower that was off");
    add_passed_over(&t, f, TL_FIT_REPEATED, "written down twice");
    tl_answer_say(out, TL_PAGE_LINES, 0, &t);
    tl_text_add(&t, s->title);
    tl_answer_say(out, 1, 0, &t);
    fprintf(out, "\n");
}

void tl_fit_text(const struct tl_fit *f, const struct tl_scenario *s, enum tl_unit_system units,
                 FILE *out)
{
    struct tl_text t = {0};
    say_head(f, s, out);
    if (f->used > 0) {
        say_parameters(f, units, out);
        say_alike(f, out);
        say_fixed(f, out);
        say_how_well(f, out);
        fprintf(out, "\n");
        say_worst(f, s, units, out);
        say_forecast(f, s, units, out);
        fprintf(out, "\n");
    }
    tl_text_add(&t, "A model is no test kit: test before you add fish or feed more, and act on "
                    "what the test shows. Ailing fish: ask a veterinarian.");
    tl_answer_say(out, TL_PAGE_LINES, 0, &t);
}
