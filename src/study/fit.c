/* The fit: which readings count, which parameters, tried on what is held back, then with all. */
#include "fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit_reading.h"
#include "fit_runs.h"
#include "text.h"
#include "towerloop/status.h"

enum {
    STARTS = 16,    /* places to look at before the search */
    ENOUGH = 4,     /* readings for each parameter that is chosen */
    HELD_LEAST = 10 /* readings, before any are held back */
};
enum { PLACES = 400 /* runs for each fitted value's interval, at most */ };
#define TOLERANCE 1e-3 /* of u */
#define NO_LOWER  1e-4 /* of the loss: a hundredth of a standard error */
#define AT_END    1e-6 /* share of the range: an end of an interval */
#define NEAR_END  1e-2 /* the same: a value that would go further if it might */
#define WILD      0.25 /* weight of a residual of 5.4 standard errors */

/* One fit to some of the readings. */
struct fitting {
    struct tl_fit *f;
    struct tl_fit_runs runs;
    const struct tl_fit_quantity *quantity[TL_SQUARES_MOST];
    struct tl_measured *row; /* those that count */
    size_t *index;           /* of each in the log */
    size_t rows;
};

static const struct tl_fit_quantity *chosen(const struct tl_fit *f, size_t j)
{
    return &f->quantity[f->fitted[j]];
}

/* --- the readings ------------------------------------------------------------------------------- */

static int fitting_new(struct fitting *g, struct tl_fit *f, const struct tl_fit_bench *b,
                       enum tl_fit_use most)
{
    *g = (struct fitting){.f = f,
                          .row = calloc(f->log->rows + 1, sizeof *g->row),
                          .index = calloc(f->log->rows + 1, sizeof *g->index)};
    if (!g->row || !g->index)
        return TL_E_MEMORY;
    for (size_t i = 0; i < f->log->rows; i++)
        if (f->point[i].use <= most) {
            g->row[g->rows] = f->log->row[i];
            g->index[g->rows++] = i;
        }
    g->runs = (struct tl_fit_runs){
        .bench = b, .quantity = g->quantity, .row = g->row, .rows = g->rows, .runs = f->runs};
    return TL_OK;
}

static void fitting_free(struct fitting *g)
{
    if (g->f)
        g->f->runs = g->runs.runs;
    free(g->row);
    free(g->index);
}

static double off(const struct fitting *g, size_t i, double value)
{
    return tl_fit_residual(&g->row[i], g->f->point[g->index[i]].error, value);
}

static int residuals_at(void *arg, size_t points, const double *x, double *r)
{
    struct fitting *g = arg;
    const int status = tl_fit_run(&g->runs, points, x, r);
    for (size_t k = 0; k < points && !status; k++)
        for (size_t i = 0; i < g->rows; i++)
            r[k * g->rows + i] = off(g, i, r[k * g->rows + i]);
    return status;
}

/* Whether a reading stands in the log already, to the last digit. */
static bool is_repeated(const struct tl_measured_log *log, size_t i)
{
    const struct tl_measured *m = &log->row[i];
    for (size_t k = i; k-- > 0 && log->row[k].t_d == m->t_d;) {
        const struct tl_measured *n = &log->row[k];
        if (n->quantity == m->quantity && n->place == m->place && n->kind == m->kind &&
            n->low == m->low && n->high == m->high && strcmp(n->method, m->method) == 0)
            return true;
    }
    return false;
}

/* Whether a reading can be compared with the model at all, and what the scenario's own values say. */
static int sort_readings(struct tl_fit *f, const struct tl_fit_bench *b,
                         const struct tl_scenario *s)
{
    const double start_d = s->start.second / 86400.0;
    struct fitting g;
    double *value = calloc(f->log->rows, sizeof *value);
    int status = value ? fitting_new(&g, f, b, TL_FIT_NO_WATER) : TL_E_MEMORY;
    if (!status)
        status = tl_fit_run(&g.runs, 1, f->result.x, value);
    for (size_t i = 0; i < f->log->rows && !status; i++) {
        const struct tl_measured *m = &f->log->row[i];
        struct tl_fit_point *p = &f->point[i];
        p->error = tl_fit_error(m);
        p->before = value[i];
        p->after = p->off_after = p->tried = NAN;
        p->off_before = isnan(value[i]) ? NAN : tl_fit_residual(m, p->error, value[i]);
        if (isnan(value[i]))
            p->use = m->t_d < start_d || m->t_d > start_d + s->setup.length_d ? TL_FIT_NO_RUN
                                                                              : TL_FIT_NO_WATER;
        else if (is_repeated(f->log, i))
            p->use = TL_FIT_REPEATED;
        f->used += p->use == TL_FIT_USED;
    }
    if (value)
        fitting_free(&g);
    free(value);
    return status;
}

/* The last ones; readings of one time stay together. */
static void hold_back(struct tl_fit *f)
{
    const size_t count = (size_t)(f->question.hold_back * (double)f->used + 0.5);
    double t_d = NAN;
    if (f->used < HELD_LEAST || count == 0)
        return;
    for (size_t i = f->log->rows; i-- > 0;) {
        if (f->point[i].use != TL_FIT_USED)
            continue;
        if (f->held >= count && f->log->row[i].t_d != t_d)
            break;
        f->point[i].use = TL_FIT_HELD;
        t_d = f->log->row[i].t_d;
        f->held++;
    }
    for (size_t i = 0; i < f->log->rows && f->used - f->held <= f->question.keys; i++)
        if (f->point[i].use == TL_FIT_HELD) { /* too few would be left */
            f->point[i].use = TL_FIT_USED;
            f->held--;
        }
}

/* --- the parameters ----------------------------------------------------------------------------- */

static int list_quantities(struct tl_fit *f, const struct tl_scenario *s, char *why, size_t size)
{
    static const char *const known[] = {
#define PATH(path, low, high, source) path,
        TL_FIT_LIST(PATH)
#undef PATH
    };
    const bool asked = f->question.keys > 0;
    const size_t n = asked ? f->question.keys : sizeof known / sizeof *known;
    struct tl_text what = {0};
    char wrong[256], expected[256] = "";

    f->quantity = calloc(n, sizeof *f->quantity);
    if (!f->quantity)
        return TL_E_MEMORY;
    for (size_t i = 0; i < n; i++) {
        const char *path = asked ? f->question.key[i] : known[i];
        struct tl_fit_quantity *q = &f->quantity[f->quantities];
        const int status = tl_fit_quantity(s, path, q, wrong, expected, sizeof wrong);
        if (status == TL_E_MEMORY) {
            tl_text_free(&what);
            return status;
        }
        if (!status && (asked || q->given > 0))
            f->quantities++;
        else if (status && asked)
            tl_text_addf(&what, "%s%s: %s; expected %s", what.length ? "\n" : "", path, wrong,
                         expected);
    }
    const int status = tl_text_is_empty(&what) ? TL_OK : what.failed ? TL_E_MEMORY : TL_E_INPUT;
    if (status == TL_E_INPUT)
        (void)tl_format(why, size, "%s", tl_text_string(&what));
    tl_text_free(&what);
    return status;
}

/* The slopes of all quantities at the scenario's own values, jacobian[*rows][quantities], to be freed. */
static int find_slopes(struct tl_fit *f, const struct tl_fit_bench *b, enum tl_fit_use last,
                       double **jacobian, size_t *rows)
{
    struct tl_squares_axis axis[TL_SQUARES_MOST];
    double start[TL_SQUARES_MOST];
    struct fitting g;
    int status = fitting_new(&g, f, b, last);
    *jacobian = calloc(g.rows * f->quantities + 1, sizeof **jacobian);
    *rows = g.rows;
    if (!*jacobian)
        status = TL_E_MEMORY;
    for (size_t j = 0; j < f->quantities; j++) {
        g.quantity[j] = &f->quantity[j];
        axis[j] = f->quantity[j].range;
        start[j] = f->quantity[j].given;
    }
    g.runs.n = f->quantities;
    const struct tl_squares_problem p = {.axes = f->quantities,
                                         .axis = axis,
                                         .residuals = g.rows,
                                         .at = residuals_at,
                                         .arg = &g,
                                         .start = start,
                                         .step = TL_FIT_STEP};
    if (!status)
        status = tl_squares_slopes(&p, *jacobian);
    fitting_free(&g);
    return status;
}

/* Which are fitted to readings up to some use: what the readings tell, or what was asked for and they
 * do not depend on in vain. */
static int settle_quantities(struct tl_fit *f, const struct tl_fit_bench *b, enum tl_fit_use last)
{
    double *jacobian = NULL;
    size_t rows = 0;
    f->n = 0;
    if (f->used == 0)
        return TL_OK;
    const int status = find_slopes(f, b, last, &jacobian, &rows);
    const size_t most = rows / ENOUGH < TL_FIT_MOST ? rows / ENOUGH : TL_FIT_MOST;
    if (!status)
        f->n = f->question.keys == 0
                   ? tl_fit_choose(f->quantity, f->quantities, jacobian, rows, most, f->fitted)
                   : tl_fit_take_asked(f->quantity, f->quantities, jacobian, rows, f->fitted);
    free(jacobian);
    return status;
}

/* --- fitting ------------------------------------------------------------------------------------ */

static int fit_to(struct tl_fit *f, const struct tl_fit_bench *b, enum tl_fit_use most,
                  bool intervals)
{
    struct tl_squares_axis axis[TL_SQUARES_MOST];
    double start[TL_SQUARES_MOST];
    struct fitting g;
    int status = fitting_new(&g, f, b, most);
    double *weight = calloc(g.rows + 1, sizeof *weight);
    if (!weight)
        status = TL_E_MEMORY;
    for (size_t j = 0; j < f->n; j++) {
        g.quantity[j] = chosen(f, j);
        axis[j] = g.quantity[j]->range;
        start[j] = g.quantity[j]->given;
    }
    g.runs.n = f->n;
    const struct tl_squares_problem p = {.axes = f->n,
                                         .axis = axis,
                                         .residuals = g.rows,
                                         .at = residuals_at,
                                         .arg = &g,
                                         .start = start,
                                         .starts = STARTS,
                                         .step = TL_FIT_STEP,
                                         .tolerance = TOLERANCE,
                                         .enough = NO_LOWER,
                                         .robust = true,
                                         .scaled = true};
    if (!status)
        status = g.rows <= f->n ? TL_E_SOLVER
                 : intervals
                     ? tl_squares_fit_profiled(&p, PLACES * f->n, &f->result, weight, &f->profile)
                     : tl_squares_fit(&p, &f->result, weight);
    for (size_t i = 0; i < g.rows && !status; i++)
        f->point[g.index[i]].weight = weight[i];
    free(weight);
    fitting_free(&g);
    return status;
}

struct tl_fit_interval tl_fit_interval(const struct tl_fit *f, size_t j)
{
    const struct tl_squares_axis *range = &f->quantity[f->fitted[j]].range;
    const struct tl_squares_result *r = &f->result;
    const struct tl_squares_profile *p = &f->profile;
    if (p->complete)
        return (struct tl_fit_interval){p->low[j], p->high[j], p->low_open[j], p->high_open[j]};
    return (struct tl_fit_interval){r->low[j], r->high[j],
                                    tl_squares_share(range, r->low[j]) < AT_END,
                                    tl_squares_share(range, r->high[j]) > 1 - AT_END};
}

/* Leaves out what any value of its range may be. Returns whether anything was. */
static bool take_back(struct tl_fit *f)
{
    size_t left = 0;
    for (size_t j = 0; j < f->n; j++) {
        const struct tl_fit_interval i = tl_fit_interval(f, j);
        struct tl_fit_quantity *q = &f->quantity[f->fitted[j]];
        q->taken_back = i.low_open && i.high_open;
        q->chosen = !q->taken_back;
        if (q->chosen)
            f->fitted[left++] = f->fitted[j];
    }
    const bool any = left < f->n;
    f->n = left;
    return any;
}

/* Fits to all readings, and once more without what they cannot tell. */
static int fit_to_all(struct tl_fit *f, const struct tl_fit_bench *b)
{
    int status = settle_quantities(f, b, TL_FIT_HELD);
    bool again = f->n > 0;
    while (!status && again) {
        status = fit_to(f, b, TL_FIT_HELD, true);
        again = !status && take_back(f) && f->n > 0;
    }
    return status;
}

/* What the model says with the estimates, at all readings that count. */
static int look_back(struct tl_fit *f, const struct tl_fit_bench *b, bool tried)
{
    struct fitting g;
    int status = fitting_new(&g, f, b, TL_FIT_HELD);
    double *value = calloc(g.rows + 1, sizeof *value);
    for (size_t j = 0; j < f->n; j++)
        g.quantity[j] = chosen(f, j);
    g.runs.n = f->n;
    if (!status)
        status = value ? tl_fit_run(&g.runs, 1, f->result.x, value) : TL_E_MEMORY;
    for (size_t i = 0; i < g.rows && !status; i++) {
        struct tl_fit_point *p = &f->point[g.index[i]];
        if (tried && p->use == TL_FIT_HELD)
            p->tried = off(&g, i, value[i]);
        if (!tried) {
            p->after = value[i];
            p->off_after = off(&g, i, value[i]);
        }
    }
    free(value);
    fitting_free(&g);
    return status;
}

/* --- all of it ---------------------------------------------------------------------------------- */

bool tl_fit_is_wild(const struct tl_fit *f, size_t i)
{
    return f->n > 0 && f->point[i].use <= TL_FIT_HELD && f->point[i].weight < WILD;
}

size_t tl_fit_wild_and_worse(const struct tl_fit *f)
{
    size_t n = 0;
    for (size_t i = 0; i < f->log->rows; i++) {
        if (!tl_fit_is_wild(f, i))
            continue;
        const bool more = f->point[i].off_after < 0; /* than the model has */
        switch (f->log->row[i].quantity) {
        case TL_MEASURED_TAN:
        case TL_MEASURED_NH3:
        case TL_MEASURED_NO2:
        case TL_MEASURED_NO3:
        case TL_MEASURED_CO2:
        case TL_MEASURED_CHLORINE:
            n += more;
            break;
        case TL_MEASURED_O2:
        case TL_MEASURED_ALKALINITY:
            n += !more;
            break;
        default:
            break;
        }
    }
    return n;
}

/* Root of the mean square of a member of the points of some use. */
static double rms(const struct tl_fit *f, bool held_only, size_t member)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < f->log->rows; i++) {
        const struct tl_fit_point *p = &f->point[i];
        if (p->use > TL_FIT_HELD || tl_fit_is_wild(f, i) || (held_only && p->use != TL_FIT_HELD))
            continue;
        double value;
        memcpy(&value, (const char *)p + member, sizeof value);
        sum += value * value;
        n++;
    }
    return n > 0 ? sqrt(sum / (double)n) : NAN;
}

bool tl_fit_at_end(const struct tl_fit *f, size_t j)
{
    const double share = tl_squares_share(&f->quantity[f->fitted[j]].range, f->result.x[j]);
    return share < NEAR_END || share > 1 - NEAR_END;
}

bool tl_fit_is_sound(const struct tl_fit *f)
{
    for (size_t j = 0; j < f->n; j++)
        if (tl_fit_at_end(f, j))
            return false;
    return f->n > 0 && f->result.converged && f->held > 0 && f->rms_held_tried < f->rms_held_before;
}

/* What a fit to the other readings makes of those held back. */
static int try_out(struct tl_fit *f, const struct tl_fit_bench *b)
{
    int status = settle_quantities(f, b, TL_FIT_USED);
    if (!status && f->n > 0)
        status = fit_to(f, b, TL_FIT_USED, false);
    return status ? status : look_back(f, b, true);
}

static int solve(const struct tl_fit_bench *b, const struct tl_scenario *s, struct tl_fit *f,
                 char *why, size_t size)
{
    int status = list_quantities(f, s, why, size);
    if (!status)
        status = sort_readings(f, b, s);
    if (!status && f->question.keys >= f->used && f->used > 0) {
        (void)tl_format(
            why, size, "too few readings of the run, %zu; expected at least %zu for %zu value%s",
            f->used, f->question.keys + 1, f->question.keys, f->question.keys == 1 ? "" : "s");
        return TL_E_INPUT;
    }
    if (!status) {
        hold_back(f);
        status = f->held > 0 ? try_out(f, b) : TL_OK;
    }
    if (!status)
        status = fit_to_all(f, b);
    if (status == TL_E_SOLVER)
        (void)tl_format(why, size,
                        "no best values can be found: the readings are too few for what is to be "
                        "fitted, or cannot tell its values from one another; fit fewer at once");
    if (!status)
        status = look_back(f, b, false);
    if (!status && f->question.forecast_d > 0 && f->used > 0)
        status = tl_fit_look_ahead(b, s, f);
    f->rms_before = rms(f, false, offsetof(struct tl_fit_point, off_before));
    f->rms_after = rms(f, false, offsetof(struct tl_fit_point, off_after));
    f->rms_held_before = rms(f, true, offsetof(struct tl_fit_point, off_before));
    f->rms_held_tried = rms(f, true, offsetof(struct tl_fit_point, tried));
    for (size_t j = 0; j < f->n; j++)
        tl_fit_setting(chosen(f, j), f->result.x[j], f->setting[j]);
    return status;
}

int tl_fit_solve(const struct tl_fit_bench *b, const struct tl_measured_log *log,
                 const struct tl_fit_question *q, struct tl_fit *out, char *why, size_t size)
{
    struct tl_scenario s;
    struct tl_diag diag;

    *out =
        (struct tl_fit){.log = log, .question = *q, .point = calloc(log->rows, sizeof *out->point)};
    *why = '\0';
    if (!out->point)
        return TL_E_MEMORY;
    tl_diag_init(&diag);
    int status = tl_fit_read(b, NULL, 0, &s, &diag);
    tl_diag_free(&diag);
    if (status)
        return status;
    status = solve(b, &s, out, why, size);
    tl_scenario_free(&s);
    return status;
}

int tl_fit_scenario(const struct tl_fit_bench *b, const struct tl_fit *f, struct tl_scenario *out,
                    struct tl_diag *diag)
{
    const char *set[TL_SQUARES_MOST];
    for (size_t j = 0; j < f->n; j++)
        set[j] = f->setting[j];
    return tl_fit_read(b, set, f->n, out, diag);
}

void tl_fit_free(struct tl_fit *f)
{
    free(f->quantity);
    free(f->point);
    free(f->forecast);
}
