/* What a sizing found, on a terminal of 80 columns. */
#include <math.h>
#include <string.h>

#include "answer.h"
#include "page.h"
#include "size_uncertain.h"
#include "size_words.h"

static const char *word(const struct tl_size_quantity *q)
{
    return q->most ? "most" : "least";
}

/* --- one quantity ------------------------------------------------------------------------------- */

static void say_answer(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_result *r = &v->one;
    const struct tl_size_point *p = &r->point[r->answer];
    const bool outside = tl_size_outside(&p->trial);
    struct tl_text t = {0};

    tl_text_addf(&t, "The %s %s: %s%s. ", word(q), q->path, tl_size_value(q, p->value).text,
                 outside ? ", with caution: outside published range" : "");
    if (v->sure.n > 0) {
        tl_text_add(&t, "T");
        tl_size_uncertain_add(&t, &v->sure.p[0]);
        tl_text_add(&t, " ");
    }
    tl_text_addf(
        &t, "%s default parameters every limit holds there with at least %s %% to spare%s.",
        outside ? "By the equations and with" : "With", tl_size_figure(100 * v->margin).text,
        v->steady ? ", once the filter is ready and the water has settled" : "");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_size_cautions(v, f);
    if (p->trial.tightest >= 0) {
        tl_text_addf(&t, "Tightest: ");
        tl_size_add_limit(&t, &p->trial, p->trial.tightest, v->margin);
        tl_text_add(&t, ".");
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    }
    if (p->trial.next >= 0) {
        tl_text_addf(&t, "Next behind it: ");
        tl_size_add_limit(&t, &p->trial, p->trial.next, v->margin);
        tl_text_add(&t, ".");
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    }
    if (r->outcome == TL_SIZE_FOUND) {
        tl_text_addf(
            &t, "With %s it does not hold: ", tl_size_value(q, r->point[r->neighbour].value).text);
        tl_size_add_failing(&t, &r->point[r->neighbour].trial, v->margin);
        tl_text_add(&t, ".");
        if (v->sure.beside > 0) {
            tl_text_add(&t, " With that t");
            tl_size_uncertain_add(&t, &v->sure.p[v->sure.beside]);
        }
    } else {
        tl_text_addf(&t, "It holds as far as was looked; no value was found at which it fails.");
    }
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

/* Limits that no value tried brings in order. */
static void add_in_the_way(struct tl_text *t, const struct tl_size_view *v)
{
    const struct tl_size_result *r = &v->one;
    size_t found = 0;
    for (int i = 0; i < TL_NSIZE_LIMIT; i++) {
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

static const char *fewer(const struct tl_size_quantity *q)
{
    return q->whole ? "fewer" : "less";
}

/* Why fewer fish can be worse, where that is it. */
static const char *about_few(const struct tl_size_quantity *q, const struct tl_size_trial *trial)
{
    const size_t length = strlen(q->path);
    const bool fish = length > 6 && strcmp(q->path + length - 6, ".count") == 0;
    const bool ph = trial->tightest == TL_LIMIT_PH_HIGH || trial->tightest == TL_LIMIT_PH_SWING;
    return fish && ph ? " Few fish give off little carbon dioxide and use up little alkalinity, so "
                        "the pH climbs higher."
                      : "";
}

#define ALIKE 0.01 /* less to spare than this is no change */

static bool matters_little(const struct tl_size_result *r, size_t first, size_t last)
{
    double least = INFINITY, most = -INFINITY;
    for (size_t i = first; i <= last; i++) {
        least = fmin(least, r->point[i].trial.least);
        most = fmax(most, r->point[i].trial.least);
    }
    return last > first && most - least < ALIKE;
}

/* Both ends of what was tried, where it is best between them; else which way it gets worse. */
static void say_both_sides(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_result *r = &v->one;
    size_t first = 0, last = r->points - 1;
    while (first < last && r->point[first].trial.end == TL_TRIAL_REFUSED)
        first++;
    while (last > first && r->point[last].trial.end == TL_TRIAL_REFUSED)
        last--;
    const struct tl_size_point *low = &r->point[first], *high = &r->point[last];
    const size_t wrong_end = q->most ? last : first;
    struct tl_text t = {0};

    if (matters_little(r, first, last)) {
        tl_text_addf(&t, "It hardly matters here: from %s to %s what is to spare stays the same.",
                     tl_size_value(q, low->value).text, tl_size_value(q, high->value).text);
    } else if (r->best > first && r->best < last) {
        tl_text_addf(&t, "With %s it fails, too (%s: ", fewer(q),
                     tl_size_value(q, low->value).text);
        tl_size_add_failing(&t, &low->trial, v->margin);
        tl_text_addf(&t, "), and with more (%s: ", tl_size_value(q, high->value).text);
        tl_size_add_failing(&t, &high->trial, v->margin);
        tl_text_addf(&t, ").%s", about_few(q, &low->trial));
    } else if (r->best == wrong_end && last > first) {
        tl_text_addf(&t,
                     "With %s of it things get worse, not better: it is not what is wrong here.",
                     q->most ? fewer(q) : "more");
    }
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_free(&t);
}

/* What can be done about it, where something would do. */
static void say_way_out(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_point *best = &v->one.point[v->one.best];
    const double least = floor(100 * best->trial.least);
    const bool less = tl_size_holds(&best->trial, 0) && v->margin > 0;
    const bool settled = !v->steady && !v->obstacle;
    struct tl_text t = {0};

    if (less)
        tl_text_addf(&t, "What to do: ask for less to spare (with --margin %.0f%%, %s will do)",
                     least, tl_size_value(q, best->value).text);
    if (less && settled)
        tl_text_add(&t, ", or");
    else if (settled)
        tl_text_add(&t, "What to do:");
    if (settled)
        tl_text_add(&t, " judge the water once it has settled, not its first days (--steady)");
    tl_text_add(&t, less || settled ? "; else something besides has to change."
                                    : "Something else has to change first.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

static void say_never(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_result *r = &v->one;
    const struct tl_size_point *best = &r->point[r->best];
    struct tl_text t = {0};

    tl_text_addf(&t,
                 "No %s will do: none of %zu values from %s to %s keeps every limit with %s %% to "
                 "spare.",
                 q->path, r->points, tl_size_value(q, r->point[0].value).text,
                 tl_size_value(q, r->point[r->points - 1].value).text,
                 tl_size_figure(100 * v->margin).text);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_addf(&t, "It fails least with %s: ", tl_size_value(q, best->value).text);
    tl_size_add_failing(&t, &best->trial, v->margin);
    tl_text_add(&t, ".");
    add_in_the_way(&t, v);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    say_both_sides(v, f);
    say_way_out(v, f);
}

/* The first value beyond the answer, on the safe side, that fails; NULL: none. */
static const struct tl_size_point *fails_again(const struct tl_size_view *v)
{
    const struct tl_size_result *r = &v->one;
    const bool down = v->quantity[0].most;
    for (size_t i = r->answer; down ? i-- > 0 : ++i < r->points;)
        if (!r->point[i].holds)
            return &r->point[i];
    return NULL;
}

static void say_shape(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_result *r = &v->one;
    const struct tl_size_quantity *q = &v->quantity[0];
    const struct tl_size_point *again = tl_size_found(v) ? fails_again(v) : NULL;
    struct tl_text t = {0};

    if (again) {
        tl_text_addf(&t,
                     "Take care: it fails again with %s. With %s: ", q->most ? fewer(q) : "more",
                     tl_size_value(q, again->value).text);
        tl_size_add_failing(&t, &again->trial, v->margin);
        tl_text_addf(&t, ".%s", q->most ? about_few(q, &again->trial) : "");
    } else if (tl_size_found(v) && !r->one_way) {
        tl_text_addf(&t,
                     "Going on does not always help: most is to spare with %s, and less again "
                     "beyond it.",
                     tl_size_value(q, r->point[r->best].value).text);
    }
    if (!tl_text_is_empty(&t))
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_free(&t);
}

/* --- the day that was judged -------------------------------------------------------------------- */

static void see_draining(const struct tl_size_trial *trial, double *every_d, double *full_d)
{
    *every_d = fmin(*every_d, trial->drain_every_d);
    *full_d = fmin(*full_d, trial->full_after_d);
}

/* The shortest interval that an answer reckons with; INFINITY: there is no answer. */
static double draining(const struct tl_size_view *v, double *full_d)
{
    double every_d = INFINITY;
    *full_d = INFINITY;
    if (v->quantities == 1 && tl_size_found(v))
        see_draining(&v->one.point[v->one.answer].trial, &every_d, full_d);
    for (size_t i = 0; v->quantities == 2 && i < v->front.n; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        if (r->outcome != TL_SIZE_NEVER)
            see_draining(&r->point[r->answer].trial, &every_d, full_d);
    }
    return every_d;
}

static void add_draining(struct tl_text *t, const struct tl_size_view *v)
{
    double full_d;
    const double every_d = draining(v, &full_d);
    if (!isfinite(every_d))
        return;
    tl_text_addf(t, " It holds only if the settling chamber is drained every %.0f day%s", every_d,
                 every_d < 2 ? "" : "s");
    if (isfinite(full_d))
        tl_text_addf(t,
                     "; never drained it would be full after %.0f days, and less would settle all "
                     "the while",
                     full_d);
    tl_text_add(t, ". Other intervals can be tried in a run, with the event clean: settling "
                   "chamber.");
}

static void say_judged(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    if (v->steady) {
        tl_text_add(&t, "Judged by the day that repeats itself in the long run.");
        add_draining(&t, v);
    } else {
        tl_text_addf(&t,
                     "Judged by the worst of the run's %s days, with the parameters as they are.",
                     tl_size_figure(v->scenario->setup.length_d).text);
    }
    tl_text_add(
        &t, " What is to spare is a share of the limit; of pH, of the way from its lower to its "
            "upper limit; of temperature, of 1 degC.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

/* --- tables ------------------------------------------------------------------------------------- */

enum { VALUE_WIDTH = 10, SPARE_WIDTH = 10, NAME_WIDTH = 26, KEY_WIDTH = 9, MOST_KEY_WIDTH = 20 };

static const char *tightest(const struct tl_size_trial *trial)
{
    return trial->fish_lost ? "fish run out of oxygen" : tl_size_limit_name(trial->tightest);
}

static void add_columns(struct tl_text *t, const struct tl_size_trial *trial, double margin)
{
    if (trial->end != TL_TRIAL_RAN)
        tl_text_addf(t, "%*s  %s", SPARE_WIDTH, "-",
                     trial->end == TL_TRIAL_REFUSED ? "there can be no such loop" : "no result");
    else
        tl_text_addf(t, "%*s  %s", SPARE_WIDTH, tl_size_share(trial->least, margin).text,
                     tightest(trial));
}

#define OUTSIDE_NOTE                                                                               \
    "* Outside the published range of an equation: nobody has measured what it says there."

static void say_outside_note(bool any, FILE *f)
{
    struct tl_text t = {0};
    tl_text_add(&t, OUTSIDE_NOTE);
    if (any)
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_text_free(&t);
}

static void say_trials(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_result *r = &v->one;
    char before[VALUE_WIDTH * 4] = "";
    bool outside = false;
    struct tl_text t = {0};
    tl_text_addf(&t, "\n%*s  %-5s%*s  %-*s%s", VALUE_WIDTH,
                 *v->quantity[0].unit ? v->quantity[0].unit : "value", "holds", SPARE_WIDTH,
                 "spare, %", NAME_WIDTH, "tightest limit", "next behind it");
    tl_answer_line(f, &t);
    for (size_t i = 0; i < r->points; i++) {
        const struct tl_size_point *p = &r->point[i];
        char value[sizeof before];
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, p->value, v->quantity[0].whole ? 9 : 4, value,
                        sizeof value);
        /* the search ends among values that look alike */
        if (strcmp(value, before) == 0 && i != r->answer && i != r->neighbour)
            continue;
        strcpy(before, value);
        const bool beyond = tl_size_outside(&p->trial);
        outside = outside || beyond;
        tl_text_addf(&t, "%*s  %-5s", VALUE_WIDTH, value,
                     p->holds ? beyond ? "yes*" : "yes"
                     : beyond ? "no*"
                              : "no");
        const size_t begin = t.length;
        add_columns(&t, &p->trial, v->margin);
        if (p->trial.end == TL_TRIAL_RAN && (p->trial.fish_lost || p->trial.next >= 0)) {
            const int room = SPARE_WIDTH + 2 + NAME_WIDTH - (int)(t.length - begin);
            tl_text_addf(
                &t, "%*s%s", room, "",
                tl_size_limit_name(p->trial.fish_lost ? p->trial.tightest : p->trial.next));
        }
        tl_answer_line(f, &t);
    }
    say_outside_note(outside, f);
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
            tl_size_add_failing(&t, after, v->margin);
        } else {
            const int k = before->tightest;
            tl_text_addf(&t, "%s at worst %s, was %s; %s %% to spare over all, was %s %%",
                         tl_size_limit_name(k), tl_size_figure(after->worst[k]).text,
                         tl_size_figure(before->worst[k]).text,
                         tl_size_share(after->least, v->margin).text,
                         tl_size_share(before->least, v->margin).text);
        }
        tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    }
}

/* --- two quantities ----------------------------------------------------------------------------- */

/* The key above its column: its end only where it is long. */
static void head_of(const struct tl_size_quantity *q, char *text, size_t size)
{
    const char *end = strrchr(q->path, '.');
    tl_format(text, size, "%s", q->path);
    if (tl_utf8_width(text) > MOST_KEY_WIDTH - 2 && end)
        tl_format(text, size, "%s", end + 1);
    text[tl_utf8_cut(text, MOST_KEY_WIDTH - 2)] = '\0';
}

static int width_of(const char *head, const char *unit)
{
    const size_t a = tl_utf8_width(head) + 2, b = tl_utf8_width(unit) + 2;
    const size_t widest = a > b ? a : b;
    return widest > KEY_WIDTH ? (int)widest : KEY_WIDTH;
}

static void say_front_table(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *a = &v->quantity[0], *b = &v->quantity[1];
    char head[2][MOST_KEY_WIDTH * 8];
    bool outside = false;
    struct tl_text t = {0};
    head_of(a, head[0], sizeof head[0]);
    head_of(b, head[1], sizeof head[1]);
    const int width[2] = {width_of(head[0], a->unit), width_of(head[1], b->unit)};

    tl_text_addf(&t, "\n%*s%*s%*s  %s", width[0], head[0], width[1], head[1], SPARE_WIDTH,
                 "spare, %", "tightest limit");
    tl_answer_line(f, &t);
    if (*a->unit || *b->unit) {
        tl_text_addf(&t, "%*s%*s", width[0], a->unit, width[1], b->unit);
        tl_answer_line(f, &t);
    }
    for (size_t i = 0; i < v->front.n; i++) {
        const struct tl_size_result *r = &v->front.second[i];
        const bool found = r->outcome != TL_SIZE_NEVER;
        if (r->points == 0)
            continue;
        const struct tl_size_point *p = &r->point[found ? r->answer : r->best];
        const bool beyond = tl_size_outside(&p->trial);
        outside = outside || beyond;
        tl_text_addf(&t, "%*s%*s", width[0], tl_size_figure(v->front.first[i]).text, width[1],
                     found ? tl_size_figure(p->value).text : "none");
        add_columns(&t, &p->trial, v->margin);
        tl_text_add(&t, beyond ? " *" : "");
        tl_answer_line(f, &t);
    }
    say_outside_note(outside, f);
}

static void say_front(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *a = &v->quantity[0], *b = &v->quantity[1];
    struct tl_text t = {0};

    if (tl_size_found(v))
        tl_text_addf(&t,
                     "The %s %s at each %s, every limit kept, with default parameters, with at "
                     "least %s %% to spare:",
                     word(b), b->path, a->path, tl_size_figure(100 * v->margin).text);
    else
        tl_text_addf(&t,
                     "Nothing will do: no %s keeps every limit with %s %% to spare, at none of "
                     "these %s.",
                     b->path, tl_size_figure(100 * v->margin).text, a->path);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
    tl_size_cautions(v, f);
    say_front_table(v, f);
    tl_text_addf(&t, "Where none will do: what the one that fails least has to spare.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
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
    tl_size_uncertain_text(v, f);
    if (v->quantities > 0)
        say_judged(v, f);
    if (v->quantities == 1) {
        say_trials(v, f);
        if (tl_size_found(v))
            say_buys(v, f);
    }
    if (v->own.made)
        tl_size_bill(v, f);
    if (v->by_hand)
        tl_size_by_hand(v, f);
    fprintf(f, "\n");
    tl_text_addf(&t, "Mains beside water: licensed electrician, local codes. Tall wet stack: brace "
                     "it. Ailing fish: ask a veterinarian.");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}
