/* What a sizing found, on a terminal of 80 columns. */
#include <math.h>
#include <string.h>

#include "page.h"
#include "size_view.h"
#include "text.h"

#define SHOWN 64

/* Three digits, never a power of ten. */
struct shown {
    char text[SHOWN];
};

static struct shown show(double value)
{
    struct shown s;
    if (isfinite(value))
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, 3, s.text, sizeof s.text);
    else
        (void)tl_format(s.text, sizeof s.text, "-");
    return s;
}

static struct shown show_value(const struct tl_size_quantity *q, double value)
{
    struct shown s;
    tl_size_value_text(q, value, s.text, sizeof s.text);
    return s;
}

/* Percent, one place where that says more. */
static struct shown show_share(double share)
{
    struct shown s;
    const double percent = 100 * share;
    if (isnan(share))
        (void)tl_format(s.text, sizeof s.text, "-");
    else if (percent < -100)
        (void)tl_format(s.text, sizeof s.text, "<-100");
    else
        (void)tl_format(s.text, sizeof s.text, "%.*f", fabs(percent) < 99.95 ? 1 : 0,
                        fabs(percent) < 0.05 ? 0 : percent);
    return s;
}

static const char *word(const struct tl_size_quantity *q)
{
    return q->most ? "most" : "least";
}

/* --- limits ------------------------------------------------------------------------------------- */

static const char *const limit_unit[TL_NLIMIT] = {
#define UNIT(id, name, unit) unit,
    TL_LIMIT_LIST(UNIT)
#undef UNIT
};

/* "nitrite, at worst 0.18 mg/L as N, its limit 0.2: 10.5 % to spare" */
static void add_limit(struct tl_text *t, const struct tl_size_trial *trial, int i)
{
    tl_text_addf(t, "%s, at worst %s%s%s, its limit %s: %s %% to spare", tl_size_limit_name(i),
                 show(trial->worst[i]).text, *limit_unit[i] ? " " : "", limit_unit[i],
                 show(trial->level[i]).text, show_share(trial->spare[i]).text);
}

/* Why a trial does not hold, in a clause. */
static void add_failing(struct tl_text *t, const struct tl_size_trial *trial)
{
    if (trial->end == TL_TRIAL_REFUSED)
        tl_text_addf(t, "there can be no such loop: %s", trial->why);
    else if (trial->end == TL_TRIAL_FAILED)
        tl_text_addf(t, "it cannot be told: %s", trial->why);
    else if (trial->fish_lost)
        tl_text_addf(t, "the fish run out of oxygen");
    else
        add_limit(t, trial, trial->tightest);
}

/* --- one quantity ------------------------------------------------------------------------------- */

static void say_answer(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_result *r = &v->one;
    const struct tl_size_point *p = &r->point[r->answer];
    struct tl_text t = {0};

    tl_text_addf(&t, "The %s %s: %s. Every limit holds there with at least %s %% to spare.",
                 word(q), q->path, show_value(q, p->value).text, show(100 * v->margin).text);
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
    if (p->trial.tightest >= 0) {
        tl_text_addf(&t, "Tightest: ");
        add_limit(&t, &p->trial, p->trial.tightest);
        tl_text_add(&t, ".");
        tl_page_say(f, TL_PAGE_LINES, 2, &t);
    }
    if (p->trial.next >= 0) {
        tl_text_addf(&t, "Next behind it: ");
        add_limit(&t, &p->trial, p->trial.next);
        tl_text_add(&t, ".");
        tl_page_say(f, TL_PAGE_LINES, 2, &t);
    }
    if (r->outcome == TL_SIZE_FOUND) {
        tl_text_addf(
            &t, "With %s it does not hold: ", show_value(q, r->point[r->neighbour].value).text);
        add_failing(&t, &r->point[r->neighbour].trial);
        tl_text_add(&t, ".");
    } else {
        tl_text_addf(&t, "It holds as far as was looked; no value was found at which it fails.");
    }
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
}

/* Limits that no value tried brings in order. */
static void add_in_the_way(struct tl_text *t, const struct tl_size_view *v)
{
    const struct tl_size_result *r = &v->one;
    size_t found = 0;
    for (int i = 0; i < TL_NLIMIT; i++) {
        bool always = r->points > 0;
        for (size_t k = 0; k < r->points; k++)
            always = always && (r->point[k].trial.end != TL_TRIAL_RAN ||
                                r->point[k].trial.spare[i] < v->margin);
        if (always)
            tl_text_addf(t, "%s%s",
                         found++ ? ", " : " In its way at every value: ", tl_size_limit_name(i));
    }
    if (found)
        tl_text_add(t, ".");
}

static void say_never(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_result *r = &v->one;
    struct tl_text t = {0};

    tl_text_addf(&t,
                 "No %s will do: none of %zu values from %s to %s keeps every limit with %s %% to "
                 "spare.",
                 q->path, r->points, show_value(q, r->point[0].value).text,
                 show_value(q, r->point[r->points - 1].value).text, show(100 * v->margin).text);
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_addf(&t, "Nearest to it comes %s: ", show_value(q, r->point[r->best].value).text);
    add_failing(&t, &r->point[r->best].trial);
    tl_text_add(&t, ".");
    add_in_the_way(&t, v);
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_addf(&t, "Something else has to change first, or ask for less with --margin.");
    if (!v->steady && !v->obstacle)
        tl_text_add(&t, " Where only the first days are in the way, --steady judges the day that "
                        "repeats itself.");
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_shape(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_result *r = &v->one;
    const struct tl_size_quantity *q = &v->quantity[0];
    struct tl_text t = {0};

    if (!r->one_turn)
        tl_text_addf(&t,
                     "Take care: what holds and what fails do not lie on two sides of one value; "
                     "the table below shows where.");
    else if (!r->one_way)
        tl_text_addf(&t,
                     "Going on does not always help: most is to spare with %s, and less again "
                     "beyond it.",
                     show_value(q, r->point[r->best].value).text);
    if (t.length > 0)
        tl_page_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_free(&t);
}

static void say_judged(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    if (v->steady)
        tl_text_addf(&t, "Judged by the day that repeats itself in the long run, with a settling "
                         "chamber that is drained before it fills.");
    else
        tl_text_addf(&t,
                     "Judged by the worst of the run's %s days, with the parameters as they are.",
                     show(v->scenario->setup.length_d).text);
    tl_text_add(
        &t, " What is to spare is a share of the limit; of pH, of the way from its lower to its "
            "upper limit.");
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
}

enum { VALUE_WIDTH = 10, FRONT_WIDTH = 9, SPARE_WIDTH = 10, NAME_WIDTH = 26 };

static void add_columns(struct tl_text *t, const struct tl_size_trial *trial)
{
    if (trial->end != TL_TRIAL_RAN)
        tl_text_addf(t, "%*s  %s", SPARE_WIDTH, "-",
                     trial->end == TL_TRIAL_REFUSED ? "there can be no such loop" : "no result");
    else
        tl_text_addf(t, "%*s  %-*s%s", SPARE_WIDTH, show_share(trial->least).text, NAME_WIDTH,
                     trial->fish_lost ? "fish run out of oxygen"
                                      : tl_size_limit_name(trial->tightest),
                     tl_size_limit_name(trial->fish_lost ? trial->tightest : trial->next));
}

static void say_trials(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_result *r = &v->one;
    char before[SHOWN] = "";
    struct tl_text t = {0};
    tl_text_addf(&t, "\n%*s  %-5s%*s  %-*s%s", VALUE_WIDTH,
                 *v->quantity[0].unit ? v->quantity[0].unit : "value", "holds", SPARE_WIDTH,
                 "spare, %", NAME_WIDTH, "tightest limit", "next behind it");
    tl_page_line(f, &t);
    for (size_t i = 0; i < r->points; i++) {
        const struct tl_size_point *p = &r->point[i];
        char value[SHOWN];
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, p->value, v->quantity[0].whole ? 9 : 4, value,
                        sizeof value);
        /* the search ends among values that look alike */
        if (strcmp(value, before) == 0 && i != r->answer && i != r->neighbour)
            continue;
        strcpy(before, value);
        tl_text_addf(&t, "%*s  %-5s", VALUE_WIDTH, value, p->holds ? "yes" : "no");
        add_columns(&t, &p->trial);
        tl_page_line(f, &t);
    }
}

static void say_buys(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_trial *before = &v->one.point[v->one.answer].trial;
    struct tl_text t = {0};
    if (v->buys == 0)
        return;
    fprintf(f, "\nWhat one step more buys (each in a run of its own):\n");
    for (size_t i = 0; i < v->buys; i++) {
        const struct tl_size_trial *after = &v->buy[i].trial;
        tl_text_addf(&t, "- %s: ", v->buy[i].what);
        if (after->end != TL_TRIAL_RAN || after->fish_lost || before->tightest < 0) {
            add_failing(&t, after);
        } else {
            const int k = before->tightest;
            tl_text_addf(&t, "%s at worst %s, was %s; %s %% to spare over all, was %s %%",
                         tl_size_limit_name(k), show(after->worst[k]).text,
                         show(before->worst[k]).text, show_share(after->least).text,
                         show_share(before->least).text);
        }
        tl_page_say(f, TL_PAGE_LINES, 2, &t);
    }
}

/* --- two quantities ----------------------------------------------------------------------------- */

static void say_front(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *a = &v->quantity[0], *b = &v->quantity[1];
    struct tl_text t = {0};

    if (tl_size_found(v))
        tl_text_addf(&t, "The %s %s at each %s, every limit kept with at least %s %% to spare:",
                     word(b), b->path, a->path, show(100 * v->margin).text);
    else
        tl_text_addf(&t,
                     "Nothing will do: no %s keeps every limit with %s %% to spare, at none of "
                     "these %s.",
                     b->path, show(100 * v->margin).text, a->path);
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_addf(&t, "\n%*s%*s%*s  %-*s%s", FRONT_WIDTH, "first", FRONT_WIDTH, "second",
                 SPARE_WIDTH, "spare, %", NAME_WIDTH, "tightest limit", "next");
    tl_page_line(f, &t);
    for (size_t i = 0; i < v->front.n; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        const bool found = r->outcome != TL_SIZE_NEVER;
        if (r->points == 0)
            continue;
        const struct tl_size_point *p = &r->point[found ? r->answer : r->best];
        tl_text_addf(&t, "%*s%*s", FRONT_WIDTH, show(v->front.first[i]).text, FRONT_WIDTH,
                     found ? show(p->value).text : "none");
        add_columns(&t, &p->trial);
        tl_page_line(f, &t);
    }
    tl_text_addf(&t,
                 "First: %s%s%s. Second: %s%s%s; where none will do, what the nearest one has to "
                 "spare.",
                 a->path, *a->unit ? ", " : "", a->unit, b->path, *b->unit ? ", " : "", b->unit);
    tl_page_say(f, TL_PAGE_LINES, 2, &t);
}

/* --- by hand ------------------------------------------------------------------------------------ */

enum { NAME = 42, FIGURE = 11 };
#define ALIKE 0.005 /* figures that differ no more than that need no reason */

static void say_by_hand(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "\n%-*s%*s%*s", NAME, "By hand", FIGURE, "by hand", FIGURE, "simulated");
    tl_page_line(f, &t);
    for (size_t i = 0; i < v->hand.lines; i++) {
        const struct tl_handbook_line *l = &v->hand.line[i];
        tl_text_addf(&t, "%-*s%*s%*s  %s", NAME, l->name, FIGURE, show(l->value).text, FIGURE,
                     show(l->simulated).text, l->unit);
        tl_page_line(f, &t);
        tl_text_addf(&t, "    %s; source: %s.", l->formula, l->source);
        tl_page_say(f, TL_PAGE_LINES, 4, &t);
        if (*l->why && !(fabs(l->value - l->simulated) <= ALIKE * fabs(l->value))) {
            tl_text_addf(&t, "    Why they differ: %s.", l->why);
            tl_page_say(f, TL_PAGE_LINES, 4, &t);
        }
    }
    tl_text_addf(&t,
                 "Simulated: means over the whole run%s. By hand nothing grows, nothing lags and "
                 "no day is worse than the next.",
                 v->quantities == 1 && tl_size_found(v) ? " with the answer put in"
                                                        : " of the scenario as it is");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}

/* --- all of it ---------------------------------------------------------------------------------- */

void tl_size_text(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};

    if (v->quantities == 1 && tl_size_found(v))
        say_answer(v, f);
    else if (v->quantities == 1)
        say_never(v, f);
    if (v->quantities == 1)
        say_shape(v, f);
    if (v->quantities == 2)
        say_front(v, f);
    if (v->quantities > 0)
        say_judged(v, f);
    if (v->quantities == 1) {
        say_trials(v, f);
        if (tl_size_found(v))
            say_buys(v, f);
    }
    if (v->by_hand)
        say_by_hand(v, f);
    fprintf(f, "\n");
    tl_text_addf(&t, "Mains beside water: licensed electrician, local codes. Tall wet stack: brace "
                     "it. Ailing fish: ask a veterinarian.");
    tl_page_say(f, TL_PAGE_LINES, 0, &t);
}
