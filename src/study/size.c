/* The search for the least or the most. */
#include "size.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "pool.h"
#include "text.h"
#include "towerloop/status.h"

enum {
    SCAN = 3,     /* doublings each way of the first grid */
    WIDER_UP = 2, /* how often the grid is widened by as many again */
    WIDER_DOWN = 4,
    BATCH = 2 * SCAN + 1,
    ROOT_STEPS = 40,
    ROUNDS = 6,  /* of looking between values that all fail */
    NUDGES = 12, /* last digits to go on if the root is not where the rounded value holds */
};
#define FEEBLE     0.005 /* three doublings that gain no more than this lead nowhere */
#define FALLS      0.01  /* less to spare than this is no fall */
#define ROOT_REL   1e-4
#define SAME_REL   1e-12
#define DIGITS     3
#define SEED_SHARE 1e-3 /* of the range, where the scenario has none of the quantity */

/* --- the quantity ------------------------------------------------------------------------------- */

/* A rate is spoken of in percent a day. */
static const char *unit_of(enum tl_dim dim, enum tl_unit_system units)
{
    return dim == TL_DIM_RATE ? "%/d" : tl_display_unit(dim, units);
}

static double shown(enum tl_dim dim, enum tl_unit_system units, double base)
{
    return dim == TL_DIM_RATE ? 100 * base : tl_display_value(dim, units, base);
}

int tl_size_quantity(const struct tl_scenario *s, const char *path, bool most,
                     enum tl_unit_system units, struct tl_size_quantity *out, char *why,
                     char *expected, size_t size)
{
    struct tl_number_at at;
    const int status = tl_scenario_number_at(s, path, &at, why, expected, size);
    if (status)
        return status;
    *out = (struct tl_size_quantity){.path = path,
                                     .most = most,
                                     .whole = at.whole,
                                     .unit = unit_of(at.dim, units),
                                     .low = shown(at.dim, units, at.min),
                                     .high = shown(at.dim, units, at.max),
                                     .given = shown(at.dim, units, at.value)};
    return TL_OK;
}

void tl_size_setting(const struct tl_size_quantity *q, double value, char text[TL_SIZE_SETTING])
{
    const int digits = q->whole ? 10 : 15;
    tl_format(text, TL_SIZE_SETTING, "%s=%.*g%s%s", q->path, digits, value, *q->unit ? " " : "",
              q->unit);
}

void tl_size_value_text(const struct tl_size_quantity *q, double value, char *text, size_t size)
{
    char number[40];
    tl_display_text(TL_DIM_NUMBER, TL_METRIC, value, q->whole ? 9 : DIGITS, number, sizeof number);
    tl_format(text, size, "%s%s%s", number, *q->unit ? " " : "", q->unit);
}

/* --- points ------------------------------------------------------------------------------------- */

struct search {
    const struct tl_size_task *task;
    const struct tl_size_quantity *q;
    struct tl_size_result *r;
    int status; /* kept here where a callback of GSL cannot return it */
};

static size_t find(const struct tl_size_result *r, double value)
{
    size_t i = 0;
    while (i < r->points && r->point[i].value != value)
        i++;
    return i;
}

struct batch {
    const struct search *s;
    double value[BATCH];
    struct tl_size_trial trial[BATCH];
    size_t n;
};

static int try_one(void *arg, size_t i)
{
    struct batch *b = arg;
    char text[TL_SIZE_SETTING];
    const char *set[2] = {text, b->s->task->also};
    tl_size_setting(b->s->q, b->value[i], text);
    return tl_size_try(b->s->task->bench, set, b->s->task->also ? 2 : 1, &b->trial[i]);
}

static int insert(struct search *s, double value, const struct tl_size_trial *t)
{
    struct tl_size_result *r = s->r;
    struct tl_size_point *more = realloc(r->point, (r->points + 1) * sizeof *more);
    if (!more)
        return TL_E_MEMORY;
    r->point = more;
    size_t at = r->points++;
    for (; at > 0 && more[at - 1].value > value; at--)
        more[at] = more[at - 1];
    more[at] = (struct tl_size_point){value, *t, tl_size_holds(t, s->task->margin)};
    return TL_OK;
}

/* Runs the values that are new and within the range, all at once. */
static int evaluate(struct search *s, const double *value, size_t n)
{
    struct batch b = {.s = s};
    for (size_t i = 0; i < n && b.n < BATCH; i++) {
        bool known = find(s->r, value[i]) < s->r->points;
        for (size_t k = 0; k < b.n; k++)
            known = known || b.value[k] == value[i];
        if (!known && value[i] >= s->q->low && value[i] <= s->q->high)
            b.value[b.n++] = value[i];
    }
    const struct tl_pool pool = {.job = try_one,
                                 .arg = &b,
                                 .jobs = b.n,
                                 .threads = s->task->threads,
                                 .interrupted = s->task->bench->interrupted};
    int status = tl_pool_run(&pool);
    for (size_t i = 0; i < b.n && status == TL_OK; i++)
        status = insert(s, b.value[i], &b.trial[i]);
    return status;
}

/* --- order: from the side where it should fail to the side where it should hold ------------------ */

static const struct tl_size_point *ordered(const struct search *s, size_t j)
{
    return &s->r->point[s->q->most ? s->r->points - 1 - j : j];
}

/* The first that holds; the number of points when none does. */
static size_t first_holding(const struct search *s)
{
    size_t j = 0;
    while (j < s->r->points && !ordered(s, j)->holds)
        j++;
    return j;
}

static double safe_sign(const struct search *s)
{
    return s->q->most ? -1 : 1;
}

/* --- the wide grid ------------------------------------------------------------------------------ */

static double tidy(const struct tl_size_quantity *q, double value)
{
    value = fmin(fmax(value, q->low), q->high);
    return q->whole ? round(value) : value;
}

/* A share has two ends, and doubling a small one never comes near the upper. */
static bool is_share(const struct tl_size_quantity *q)
{
    return !q->whole && strcmp(q->unit, "%") == 0 && q->low == 0 && q->high == 100;
}
static const double share_grid[BATCH] = {0, 10, 25, 50, 75, 90, 100};

static int scan(struct search *s)
{
    const struct tl_size_quantity *q = s->q;
    double value[BATCH];
    double middle = q->given;
    if (is_share(q)) {
        int status = evaluate(s, &q->given, 1);
        return status ? status : evaluate(s, share_grid, BATCH);
    }
    if (!(middle > 0))
        middle = q->whole ? 8 : fmax(q->low, SEED_SHARE * q->high);
    if (!q->whole && q->given <= 0 && q->given >= q->low) {
        int status = evaluate(s, &q->given, 1);
        if (status)
            return status;
    }
    for (int k = 0; k < BATCH; k++)
        value[k] = tidy(q, middle * pow(2, k - SCAN));
    return evaluate(s, value, BATCH);
}

/* Whether the range or what a scenario can be ends there. */
static bool at_end(const struct search *s, bool up)
{
    const struct tl_size_result *r = s->r;
    if (r->points == 0)
        return true;
    const struct tl_size_point *p = &r->point[up ? r->points - 1 : 0];
    return p->trial.end == TL_TRIAL_REFUSED ||
           (up ? p->value >= s->q->high : p->value <= s->q->low);
}

static int widen(struct search *s, bool up, bool to_the_end)
{
    const double from = s->r->point[up ? s->r->points - 1 : 0].value;
    double value[SCAN + 1];
    size_t n = 0;
    for (int k = 1; k <= SCAN; k++)
        value[n++] = tidy(s->q, from * pow(2, up ? k : -k));
    if (to_the_end)
        value[n++] = up ? s->q->high : s->q->low;
    return evaluate(s, value, n);
}

/* Whether going on to the safe side still helps. */
static bool gains(const struct search *s)
{
    const size_t n = s->r->points;
    if (n < SCAN + 1)
        return true;
    return ordered(s, n - 1)->trial.least > ordered(s, n - 1 - SCAN)->trial.least + FEEBLE;
}

/* Index of the value with most to spare. */
static size_t best_point(const struct tl_size_result *r)
{
    size_t best = 0;
    double most = -INFINITY;
    for (size_t i = 0; i < r->points; i++)
        if (r->point[i].trial.least > most) {
            most = r->point[i].trial.least;
            best = i;
        }
    return best;
}

/* None holds, but between two that fail there may be some that do: look where most is to spare. */
static int look_around_best(struct search *s)
{
    int status = TL_OK;
    for (int round = 0; round < ROUNDS && status == TL_OK; round++) {
        const size_t best = best_point(s->r), before = s->r->points;
        double value[4];
        size_t n = 0;
        if (first_holding(s) < before || best == 0 || best + 1 == before)
            break;
        const struct tl_size_point *p = &s->r->point[best];
        for (int k = 1; k <= 2; k++) {
            value[n++] = tidy(s->q, p->value + k * (p[-1].value - p->value) / 3);
            value[n++] = tidy(s->q, p->value + k * (p[1].value - p->value) / 3);
        }
        status = evaluate(s, value, n);
        if (s->r->points == before)
            break;
    }
    return status;
}

/* Both kinds of value, one beside the other, or the end of what can be looked at. */
static int bracket(struct search *s)
{
    int status = scan(s);
    int ups = 0, downs = 0;
    while (status == TL_OK && s->r->points > 0) {
        const size_t j = first_holding(s);
        const bool none = j == s->r->points;
        if (!none && j > 0)
            return TL_OK;
        /* none holds: on to the safe side; all hold: on to the other */
        const bool up = none != s->q->most;
        int *tries = up ? &ups : &downs;
        if (at_end(s, up) || *tries >= (up ? WIDER_UP : WIDER_DOWN) || (none && !gains(s)))
            return TL_OK;
        ++*tries;
        status = widen(s, up, !up && *tries == WIDER_DOWN);
    }
    return status;
}

/* --- closing in --------------------------------------------------------------------------------- */

static int close_in_whole(struct search *s)
{
    for (;;) {
        const size_t j = first_holding(s);
        const double fails = ordered(s, j - 1)->value;
        const double width = ordered(s, j)->value - fails;
        double value[3];
        size_t n = 0;
        if (fabs(width) <= 1)
            return TL_OK;
        for (int k = 1; k <= 3; k++) {
            const double v = round(fails + k * width / 4);
            if (v != fails && v != fails + width)
                value[n++] = v;
        }
        int status = evaluate(s, value, n);
        if (status)
            return status;
    }
}

/* What is to spare beyond the margin, over the logarithm of the quantity where that can be. */
struct slope {
    struct search *s;
    double end[2]; /* of the bracket: run already, and not to be run again for a rounding */
    bool log;
};

static double spare_at(double x, void *arg)
{
    const struct slope *f = arg;
    double value = f->log ? exp(x) : x;
    for (int i = 0; i < 2; i++)
        if (fabs(value - f->end[i]) <= SAME_REL * fabs(f->end[i]))
            value = f->end[i];
    if (f->s->status == TL_OK)
        f->s->status = evaluate(f->s, &value, 1);
    const size_t i = find(f->s->r, value);
    if (f->s->status || i == f->s->r->points)
        return NAN;
    return f->s->r->point[i].trial.least - f->s->task->margin;
}

/* The root between a value that fails and one that holds. */
static int close_in_root(struct search *s, double *root)
{
    const size_t j = first_holding(s);
    const double a = ordered(s, j - 1)->value, b = ordered(s, j)->value;
    struct slope f = {s, {a, b}, a > 0 && b > 0};
    gsl_function g = {spare_at, &f};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (!solver)
        return TL_E_MEMORY;
    double low = f.log ? log(fmin(a, b)) : fmin(a, b);
    double high = f.log ? log(fmax(a, b)) : fmax(a, b);
    int gsl = gsl_root_fsolver_set(solver, &g, low, high);
    for (int i = 0; i < ROOT_STEPS && gsl == GSL_SUCCESS && s->status == TL_OK; i++) {
        gsl = gsl_root_fsolver_iterate(solver);
        low = gsl_root_fsolver_x_lower(solver);
        high = gsl_root_fsolver_x_upper(solver);
        const double width = f.log ? high - low : (high - low) / fmax(fabs(high), fabs(low));
        if (width < ROOT_REL)
            break;
    }
    gsl_root_fsolver_free(solver);
    /* the end that holds; where the solver went astray, that of the bracket */
    *root = ordered(s, first_holding(s))->value;
    return s->status;
}

static double last_digit(double value)
{
    return pow(10, floor(log10(fabs(value))) - (DIGITS - 1));
}

/* The multiple of the last of three digits at or behind `value` on the safe side, without the noise of
 * its division. */
static double round_to_safety(const struct search *s, double value)
{
    const double step = last_digit(value);
    const double n =
        s->q->most ? floor(value / step * (1 + 1e-12)) : ceil(value / step * (1 - 1e-12));
    char text[40];
    tl_format(text, sizeof text, "%.*g", DIGITS + 1, n * step);
    return tl_strtod(text, NULL);
}

/* Rounds and runs the rounded value and the one beside it, until the one holds and the other fails. */
static int settle(struct search *s, double root)
{
    double value = tidy(s->q, round_to_safety(s, root));
    for (int i = 0; i < NUDGES; i++) {
        const double step = last_digit(value) * safe_sign(s);
        const double beside = tidy(s->q, round_to_safety(s, value - step));
        const double safer = tidy(s->q, round_to_safety(s, value + step));
        const double pair[2] = {value, beside};
        int status = evaluate(s, pair, 2);
        if (status)
            return status;
        const bool holds = s->r->point[find(s->r, value)].holds;
        const bool beside_holds = s->r->point[find(s->r, beside)].holds;
        if (holds && (!beside_holds || beside == value))
            break;
        value = holds ? beside : safer;
    }
    s->r->answer = find(s->r, value);
    const double beside = tidy(s->q, round_to_safety(s, value - last_digit(value) * safe_sign(s)));
    s->r->neighbour = find(s->r, beside);
    return TL_OK;
}

/* --- what to say of it -------------------------------------------------------------------------- */

static void describe(struct search *s)
{
    struct tl_size_result *r = s->r;
    size_t turns = 0;
    double most = -INFINITY;

    r->one_way = true;
    r->best = best_point(r);
    for (size_t j = 0; j < r->points; j++) {
        const struct tl_size_point *p = ordered(s, j);
        turns += j > 0 && p->holds != ordered(s, j - 1)->holds;
        most = fmax(most, p->trial.least);
        if (p->trial.least < most - FALLS)
            r->one_way = false;
    }
    r->one_turn = turns <= 1;
}

/* Nothing of it holds, and there can be no loop with any: rations where there are no meals. */
static bool only_none(const struct search *s, size_t j)
{
    return ordered(s, j)->value == 0 && ordered(s, j - 1)->trial.end == TL_TRIAL_REFUSED;
}

static int search(struct search *s)
{
    struct tl_size_result *r = s->r;
    double root = 0;
    int status = bracket(s);
    if (status == TL_OK)
        status = look_around_best(s);
    if (status)
        return status;
    const size_t j = first_holding(s);
    r->outcome = TL_SIZE_NEVER;
    if (j < r->points && j > 0 && !only_none(s, j)) {
        r->outcome = TL_SIZE_FOUND;
        if (s->q->whole)
            status = close_in_whole(s);
        else if ((status = close_in_root(s, &root)) == TL_OK)
            status = settle(s, root);
        if (s->q->whole && status == TL_OK) {
            const size_t first = first_holding(s);
            r->answer = (size_t)(ordered(s, first) - r->point);
            r->neighbour = (size_t)(ordered(s, first - 1) - r->point);
        }
    } else if (j < r->points) {
        r->outcome = TL_SIZE_AT_END;
        r->answer = (size_t)(ordered(s, j) - r->point);
    }
    if (status == TL_OK)
        describe(s);
    return status;
}

int tl_size_solve(const struct tl_size_task *task, struct tl_size_result *out)
{
    struct search s = {.task = task, .q = task->quantity, .r = out};
    *out = (struct tl_size_result){.outcome = TL_SIZE_NEVER};
    return search(&s);
}

void tl_size_result_free(struct tl_size_result *r)
{
    free(r->point);
    *r = (struct tl_size_result){.outcome = TL_SIZE_NEVER};
}

/* --- two quantities ----------------------------------------------------------------------------- */

struct front_job {
    const struct tl_size_task *task;
    const struct tl_size_quantity *first;
    struct tl_size_front *front;
};

static int solve_second(void *arg, size_t i)
{
    const struct front_job *job = arg;
    char text[TL_SIZE_SETTING];
    struct tl_size_task task = *job->task;
    tl_size_setting(job->first, job->front->first[i], text);
    task.also = text;
    task.threads = 1;
    const int status = tl_size_solve(&task, &job->front->second[i]);
    if (status == TL_OK)
        tl_size_bench_count(task.bench);
    return status;
}

int tl_size_solve_front(const struct tl_size_task *task, const struct tl_size_quantity *first,
                        struct tl_size_front *out)
{
    static const double share[TL_SIZE_FRONT] = {0.5, 0.7, 0.85, 1, 1.2, 1.5, 2};
    const double middle = first->given > 0 ? first->given
                          : first->whole   ? 8
                                           : fmax(first->low, SEED_SHARE * first->high);
    struct front_job job = {task, first, out};
    *out = (struct tl_size_front){.n = 0};
    for (size_t i = 0; i < TL_SIZE_FRONT; i++) {
        char text[40];
        tl_format(text, sizeof text, "%.*g", DIGITS, share[i] * middle);
        const double value =
            is_share(first) ? share_grid[i]
                            : tidy(first, first->whole ? share[i] * middle : tl_strtod(text, NULL));
        if (out->n == 0 || value > out->first[out->n - 1])
            out->first[out->n++] = value;
    }
    task->bench->of = out->n;
    const struct tl_pool pool = {.job = solve_second,
                                 .arg = &job,
                                 .jobs = out->n,
                                 .threads = task->threads,
                                 .interrupted = task->bench->interrupted};
    return tl_pool_run(&pool);
}

void tl_size_front_free(struct tl_size_front *f)
{
    for (size_t i = 0; i < f->n; i++)
        tl_size_result_free(&f->second[i]);
    f->n = 0;
}
