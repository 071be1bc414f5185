/* From the folders of the runs to the values of a lesson's figures and the courses of its chart. */
#include "told.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "place.h"
#include "recorded.h"
#include "run_data.h"
#include "towerloop/params.h"
#include "towerloop/status.h"

/* All of a run, in memory: lessons are short. */
struct table {
    struct tl_recorded file;
    double *cell; /* [rows][columns] */
    size_t time;  /* its column */
    char *path;
    struct tl_run_data data;
    struct tl_report report;
};

/* Times of rows are rounded: about a second. */
#define NEAR_D 1e-5

struct task {
    const struct tl_lesson *l;
    const struct tl_lesson_run *run;
    struct table *table;
    size_t runs;
    struct tl_lesson_told *out;
    char *why;
};

/* --- the runs --------------------------------------------------------------------------------- */

static bool want_all(const char *name)
{
    return strcmp(name, "time_iso") != 0;
}

static int read_table(const char *folder, struct table *t, char *why)
{
    t->report = (struct tl_report){.folder = folder};
    int status = tl_run_data_load(&t->report, &t->data, why, TL_LESSON_WHY);
    t->path = tl_place_below(folder, "series.csv");
    if (status == TL_OK && !t->path)
        status = TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_recorded_open(t->path, want_all, NULL, &t->file, why, TL_LESSON_WHY);
    if (status != TL_OK)
        return status;
    t->cell = calloc(t->file.rows * t->file.columns + 1, sizeof *t->cell);
    t->time = tl_recorded_column(&t->file, "time_d");
    for (size_t i = 0; t->cell && i < t->file.rows && status == TL_OK; i++)
        status = tl_recorded_next(&t->file, &t->cell[i * t->file.columns], why, TL_LESSON_WHY);
    return t->cell ? status : TL_E_MEMORY;
}

static void free_table(struct table *t)
{
    tl_recorded_close(&t->file);
    tl_run_data_free(&t->data);
    free(t->cell);
    free(t->path);
}

/* The table of a run by its name, or NULL with the reason. */
static const struct table *find_run(const struct task *t, const char *name, size_t *index)
{
    for (size_t i = 0; i < t->runs; i++) {
        if (name ? t->run[i].name && strcmp(t->run[i].name, name) == 0 : !t->run[i].name) {
            *index = i;
            return &t->table[i];
        }
    }
    tl_format(t->why, TL_LESSON_WHY, "%s has no variant \"%s\"", t->l->scenario, name ? name : "");
    return NULL;
}

static bool find_column(const struct task *t, const struct table *table, const char *name,
                        size_t *column)
{
    *column = tl_recorded_column(&table->file, name);
    if (*column < table->file.columns)
        return true;
    tl_format(t->why, TL_LESSON_WHY, "there is no column \"%s\" in series.csv of %s", name,
              t->l->scenario);
    return false;
}

static double time_at(const struct table *t, size_t row)
{
    return t->cell[row * t->file.columns + t->time];
}

/* --- the figures ------------------------------------------------------------------------------ */

static double worth(const struct task *t, const struct tl_lesson_operand *o, double otherwise)
{
    if (!o->given)
        return otherwise;
    return o->figure < 0 ? o->number : t->out->value[o->figure];
}

/* What is gathered of a column, row by row. */
struct gathered {
    size_t n;
    double sum, first, last, highest, lowest, when_highest, when_lowest;
    double at, at_off; /* nearest to the day asked for */
    double when_above, when_below;
};

static void gather(struct gathered *g, double day, double value, double at, double level)
{
    if (g->n++ == 0) {
        g->first = value;
        g->highest = g->lowest = value;
        g->when_highest = g->when_lowest = day;
        g->at_off = INFINITY;
    }
    g->sum += value;
    g->last = value;
    if (value > g->highest) {
        g->highest = value;
        g->when_highest = day;
    }
    if (value < g->lowest) {
        g->lowest = value;
        g->when_lowest = day;
    }
    if (fabs(day - at) < g->at_off) {
        g->at_off = fabs(day - at);
        g->at = value;
    }
    if (isnan(g->when_above) && value > level)
        g->when_above = day;
    if (isnan(g->when_below) && value < level)
        g->when_below = day;
}

static double taken(const struct gathered *g, enum tl_lesson_take take)
{
    if (g->n == 0)
        return NAN;
    switch (take) {
    case TL_LESSON_HIGHEST:
        return g->highest;
    case TL_LESSON_LOWEST:
        return g->lowest;
    case TL_LESSON_FIRST:
        return g->first;
    case TL_LESSON_LAST:
        return g->last;
    case TL_LESSON_MEAN:
        return g->sum / (double)g->n;
    case TL_LESSON_WHEN_HIGHEST:
        return g->when_highest;
    case TL_LESSON_WHEN_LOWEST:
        return g->when_lowest;
    case TL_LESSON_AT:
        return g->at;
    case TL_LESSON_WHEN_ABOVE:
        return g->when_above;
    case TL_LESSON_WHEN_BELOW:
        return g->when_below;
    default:
        return NAN;
    }
}

static int take_column(const struct task *t, const struct tl_lesson_figure *f,
                       const struct table *table, double *value)
{
    struct gathered g = {.when_above = NAN, .when_below = NAN};
    const double from = worth(t, &f->from, -INFINITY), to = worth(t, &f->to, INFINITY);
    const double at = worth(t, &f->at, 0), level = worth(t, &f->level, 0);
    size_t column;
    if (!find_column(t, table, f->of, &column))
        return TL_E_INPUT;
    for (size_t i = 0; i < table->file.rows; i++) {
        const double day = time_at(table, i), v = table->cell[i * table->file.columns + column];
        if (day >= from - NEAR_D && day <= to + NEAR_D && isfinite(v))
            gather(&g, day, v, at, level);
    }
    *value = taken(&g, f->take);
    return TL_OK;
}

static double take_limit(const struct tl_lesson_figure *f, const struct table *table)
{
    static const char *const name[TL_NLIMIT] = {
#define NAME(id, name, unit) [id] = name,
        TL_LIMIT_LIST(NAME)
#undef NAME
    };
    int i = 0;
    while (i < TL_NLIMIT && strcmp(name[i], f->of) != 0)
        i++;
    if (i == TL_NLIMIT)
        return NAN;
    const struct tl_run_limit *l = &table->data.result.limit[i];
    return f->take == TL_LESSON_CAUTION         ? l->caution
           : f->take == TL_LESSON_DANGER        ? l->danger
           : f->take == TL_LESSON_HOURS_CAUTION ? l->hours_caution
                                                : l->hours_danger;
}

static double take_parameter(const struct tl_params *p, const char *name)
{
#define FIELD(field, dflt, dim, lo, hi, status, help)                                              \
    if (strcmp(name, #field) == 0)                                                                 \
        return p->field;
    TL_PARAM_LIST(FIELD)
#undef FIELD
    return NAN;
}

/* The number that stands under "tank.volume" in the scenario as it was run; NAN: none. */
static double number_in(const struct tl_node *at, const char *path)
{
    while (at && at->kind == TL_NODE_MAPPING && *path) {
        char key[64];
        const size_t n = strcspn(path, ".");
        tl_format(key, sizeof key, "%.*s", (int)n, path);
        at = tl_node_child(at, key);
        path += n + (path[n] == '.');
    }
    char *end = NULL;
    const double value = at && at->kind == TL_NODE_TEXT && !*path ? tl_strtod(at->text, &end) : NAN;
    return end && end != at->text ? value : NAN;
}

static int take_key(const char *folder, const char *key, double *value)
{
    struct tl_node *root = NULL;
    struct tl_diag diag;
    char *path = tl_place_below(folder, "scenario.yaml"), *text = NULL;
    size_t length = 0;
    bool cut = false;
    tl_diag_init(&diag);
    int status = path ? tl_read_plain_file(path, TL_TREE_BYTES, &text, &length) : TL_E_MEMORY;
    if (status == TL_OK)
        status = tl_tree_parse(path, false, text, length, &root, &cut, &diag);
    *value = status == TL_OK ? number_in(root, key) : NAN;
    tl_tree_free(root);
    tl_diag_free(&diag);
    free(text);
    free(path);
    return status;
}

static double reckon(enum tl_lesson_source how, double a, double b)
{
    switch (how) {
    case TL_LESSON_ADD:
        return a + b;
    case TL_LESSON_SUBTRACT:
        return a - b;
    case TL_LESSON_MULTIPLY:
        return a * b;
    default:
        return a / b;
    }
}

static int take_figure(const struct task *t, const struct tl_lesson_figure *f, double *value)
{
    size_t run;
    const struct table *table = find_run(t, f->run, &run);
    if (!table)
        return TL_E_INPUT;
    switch (f->source) {
    case TL_LESSON_COLUMN:
        return take_column(t, f, table, value);
    case TL_LESSON_LIMIT:
        *value = take_limit(f, table);
        break;
    case TL_LESSON_SUMMARY:
        *value = tl_run_data_number(&table->data, f->of);
        break;
    case TL_LESSON_PARAMETER:
        *value = take_parameter(&t->run[run].scenario->setup.params, f->of);
        break;
    case TL_LESSON_KEY:
        return take_key(t->run[run].folder, f->of, value);
    case TL_LESSON_NUMBER:
        *value = worth(t, &f->side[0], NAN);
        break;
    default:
        *value = reckon(f->source, worth(t, &f->side[0], NAN), worth(t, &f->side[1], NAN));
        break;
    }
    return TL_OK;
}

static int take_figures(const struct task *t)
{
    for (size_t i = 0; i < t->l->figures; i++) {
        const struct tl_lesson_figure *f = &t->l->figure[i];
        const int status = take_figure(t, f, &t->out->value[i]);
        if (status != TL_OK)
            return status;
        if (!isfinite(t->out->value[i])) {
            tl_format(t->why, TL_LESSON_WHY, "the figure \"%s\" has no value in this run", f->name);
            return TL_E_INPUT;
        }
    }
    return TL_OK;
}

/* A text must never say what this run does not show. */
static int check_claims(const struct task *t)
{
    for (size_t i = 0; i < t->l->claims; i++) {
        const struct tl_lesson_claim *c = &t->l->claim[i];
        const double a = worth(t, &c->side[0], NAN), b = worth(t, &c->side[1], NAN);
        if (c->above ? a > b : a < b)
            continue;
        tl_format(t->why, TL_LESSON_WHY,
                  "its run does not show what it teaches: \"%s\" does not hold for %g and %g",
                  c->text, a, b);
        return TL_E_INPUT;
    }
    return TL_OK;
}

/* --- the courses ------------------------------------------------------------------------------ */

static int take_course(const struct task *t, const struct tl_lesson_line *line,
                       struct tl_course *out)
{
    const struct tl_lesson_chart *c = &t->l->chart;
    const double from = worth(t, &c->from, -INFINITY), to = worth(t, &c->to, INFINITY);
    size_t run, column;
    const struct table *table = find_run(t, line->run, &run);
    if (!table || !find_column(t, table, line->column, &column))
        return TL_E_INPUT;
    out->across = calloc(table->file.rows + 1, sizeof *out->across);
    out->value = calloc(table->file.rows + 1, sizeof *out->value);
    if (!out->across || !out->value)
        return TL_E_MEMORY;
    for (size_t i = 0; i < table->file.rows; i++) {
        const double day = time_at(table, i);
        if (day < from - NEAR_D || day > to + NEAR_D)
            continue;
        out->across[out->points] = c->hours ? round(24e3 * (day - fmax(from, 0))) / 1e3 : day;
        out->value[out->points++] = table->cell[i * table->file.columns + column];
    }
    return TL_OK;
}

static int take_courses(const struct task *t)
{
    const struct tl_lesson_chart *c = &t->l->chart;
    struct tl_lesson_told *out = t->out;
    for (size_t k = 0; k < c->lines; k++) {
        const int status = take_course(t, &c->line[k], &out->course[k]);
        if (status != TL_OK)
            return status;
        if (out->course[k].points < 2) {
            tl_format(t->why, TL_LESSON_WHY, "the chart has no row between its from and its to");
            return TL_E_INPUT;
        }
    }
    out->from = out->course[0].across[0];
    out->to = out->course[0].across[out->course[0].points - 1];
    for (size_t k = 0; k < c->levels; k++)
        out->level[k] = worth(t, &c->level[k].at, NAN);
    return TL_OK;
}

int tl_lesson_tell(const struct tl_lesson *l, const struct tl_lesson_run *run, size_t runs,
                   struct tl_lesson_told *out, char why[TL_LESSON_WHY])
{
    struct table *table = calloc(runs + 1, sizeof *table);
    const struct task t = {l, run, table, runs, out, why};
    int status = table ? TL_OK : TL_E_MEMORY;
    *why = '\0';
    *out = (struct tl_lesson_told){.lesson = l};
    for (size_t i = 0; i < runs && status == TL_OK; i++)
        status = read_table(run[i].folder, &table[i], why);
    if (status == TL_OK)
        status = take_figures(&t);
    if (status == TL_OK)
        status = check_claims(&t);
    if (status == TL_OK)
        status = take_courses(&t);
    for (size_t i = 0; table && i < runs; i++)
        free_table(&table[i]);
    free(table);
    return status;
}

void tl_lesson_told_free(struct tl_lesson_told *t)
{
    for (size_t k = 0; k < TL_LESSON_LINES; k++) {
        free(t->course[k].across);
        free(t->course[k].value);
        t->course[k] = (struct tl_course){0};
    }
}

/* --- what is said of it ----------------------------------------------------------------------- */

char *tl_lesson_say(const struct tl_lesson_told *t, const char *text)
{
    struct tl_text out = {0};
    (void)tl_lesson_fill(t->lesson, t->value, text, &out);
    if (out.failed) {
        tl_text_free(&out);
        return NULL;
    }
    return out.data ? out.data : strdup("");
}

double tl_lesson_row(const struct tl_lesson_told *t, size_t row)
{
    return t->from + (t->to - t->from) * (double)row / (double)(t->lesson->chart.rows - 1);
}

double tl_lesson_cell(const struct tl_lesson_told *t, size_t line, size_t row)
{
    const struct tl_course *c = &t->course[line];
    const double across = tl_lesson_row(t, row);
    size_t best = 0;
    for (size_t i = 1; i < c->points; i++)
        if (fabs(c->across[i] - across) < fabs(c->across[best] - across))
            best = i;
    return c->value[best];
}
