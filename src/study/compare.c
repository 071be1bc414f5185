/* Runs the variants of a comparison on all cores and reckons what each takes. */
#include "compare.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "pool.h"
#include "text.h"
#include "towerloop/status.h"

/* --- the rows --------------------------------------------------------------------------------- */

static bool is_taken(const struct tl_compare *c, const char *name)
{
    for (size_t i = 0; i < c->rows; i++)
        if (strcmp(c->row[i].name, name) == 0)
            return true;
    return false;
}

/* Files of the same name may lie in different places. */
static bool same_inputs(const struct tl_scenario *a, const struct tl_scenario *b)
{
    bool same = true;
    for (enum tl_input i = 0; same && i < TL_NINPUT; i++) {
        char *x = tl_scenario_input_path(a, i);
        char *y = tl_scenario_input_path(b, i);
        same = x && y ? strcmp(x, y) == 0 : !a->input[i] && !b->input[i];
        free(x);
        free(y);
    }
    return same;
}

static const struct tl_compare_row *twin_of(const struct tl_compare *c, const char *text,
                                            const struct tl_scenario *scenario)
{
    for (size_t i = 0; i < c->rows; i++)
        if (strcmp(c->row[i].text, text) == 0 && same_inputs(&c->row[i].scenario, scenario))
            return &c->row[i];
    return NULL;
}

/* Room for one row more. */
static int grow(struct tl_compare *c)
{
    struct tl_compare_row *row = realloc(c->row, (c->rows + 1) * sizeof *row);
    if (row)
        c->row = row;
    char(*run)[TL_STUDY_NAME_SIZE] = realloc(c->run, (c->rows + 1) * sizeof *run);
    if (run)
        c->run = run;
    return row && run ? TL_OK : TL_E_MEMORY;
}

static char *name_of_its_own(const struct tl_compare *c, const char *name)
{
    struct tl_text own = {0};
    tl_text_add(&own, name);
    for (size_t number = 2; !own.failed && is_taken(c, tl_text_string(&own)); number++) {
        tl_text_free(&own);
        tl_text_addf(&own, "%s (%zu)", name, number);
    }
    if (own.failed)
        tl_text_free(&own);
    return own.data;
}

int tl_compare_add(struct tl_compare *c, const char *name, struct tl_scenario *scenario,
                   const char **twin)
{
    char *text = NULL, *own = NULL;
    *twin = NULL;
    int status = tl_scenario_text(scenario, &text);
    const struct tl_compare_row *same = status == TL_OK ? twin_of(c, text, scenario) : NULL;
    if (same)
        *twin = same->name;
    else if (status == TL_OK && (status = grow(c)) == TL_OK)
        status = (own = name_of_its_own(c, name)) ? TL_OK : TL_E_MEMORY;
    if (status != TL_OK || same) {
        free(text);
        tl_scenario_free(scenario);
        return status;
    }
    tl_study_name(own, (const char(*)[TL_STUDY_NAME_SIZE])c->run, c->rows, c->run[c->rows]);
    c->row[c->rows++] = (struct tl_compare_row){.name = own, .scenario = *scenario, .text = text};
    *scenario = (struct tl_scenario){0};
    return TL_OK;
}

int tl_compare_note_sets(struct tl_compare *c, const char *const *variant, size_t variants,
                         const char *const *set, size_t sets)
{
    struct tl_compare_row *row = &c->row[c->rows - 1];
    row->set = calloc(variants + sets + 1, sizeof *row->set);
    if (!row->set)
        return TL_E_MEMORY;
    for (; row->sets < variants + sets; row->sets++) {
        const size_t i = row->sets;
        row->set[i] = strdup(i < variants ? variant[i] : set[i - variants]);
        if (!row->set[i])
            return TL_E_MEMORY;
    }
    return TL_OK;
}

int tl_compare_ask_uncertain(struct tl_compare *c)
{
    c->uncertain = calloc(c->rows, sizeof *c->uncertain);
    for (size_t i = 0; c->uncertain && i < c->rows; i++) {
        const struct tl_compare_row *row = &c->row[i];
        c->uncertain[i] = (struct tl_paired){.file = row->scenario.path,
                                             .set = (const char *const *)row->set,
                                             .sets = row->sets,
                                             .scenario = &row->scenario};
    }
    return c->uncertain ? TL_OK : TL_E_MEMORY;
}

void tl_compare_free(struct tl_compare *c)
{
    if (c->uncertain)
        tl_paired_free(c->uncertain, c->rows);
    free(c->uncertain);
    for (size_t i = 0; i < c->rows; i++) {
        for (size_t k = 0; k < c->row[i].sets; k++)
            free(c->row[i].set[k]);
        free(c->row[i].set);
        free(c->row[i].name);
        free(c->row[i].text);
        tl_scenario_free(&c->row[i].scenario);
    }
    free(c->row);
    free(c->run);
    *c = (struct tl_compare){.rows = 0};
}

/* --- running ---------------------------------------------------------------------------------- */

struct work {
    struct tl_compare *compare;
    const struct tl_study *folder;
    const struct tl_compare_options *options;
};

static int do_row(void *arg, size_t i)
{
    const struct work *w = arg;
    struct tl_compare_row *row = &w->compare->row[i];
    const struct tl_record_options options = {
        .assess = {.rtol = w->options->rtol, .interrupted = w->options->interrupted}, .rows = true};
    row->status = tl_study_run(w->folder, w->compare->run[i], &row->scenario, &options,
                               &row->result, &row->fresh, row->why, sizeof row->why);
    if (row->status == TL_OK)
        row->status = tl_amounts_of(&row->scenario, &row->result.given, &row->amounts);
    if (row->status == TL_OK)
        row->status =
            tl_amounts_of_month(&row->scenario, &row->result.given_a_month, &row->a_month);
    if (row->status != TL_OK)
        return row->status;
    tl_bill_of(&row->scenario, &row->amounts, &row->a_month, row->result.grade == TL_WITHIN,
               &row->bill);
    tl_build_sheet_of(&row->scenario, &row->sheet);
    row->done = true;
    return TL_OK;
}

int tl_compare_run(struct tl_compare *c, const struct tl_study *folder,
                   const struct tl_compare_options *options)
{
    struct work w = {c, folder, options};
    const struct tl_pool pool = {.job = do_row,
                                 .arg = &w,
                                 .jobs = c->rows,
                                 .threads = options->threads,
                                 .interrupted = options->interrupted,
                                 .progress = options->progress,
                                 .progress_arg = options->progress_arg};
    return tl_pool_run(&pool);
}

/* --- choosing --------------------------------------------------------------------------------- */

static bool same_things_priced(const struct tl_costs *a, const struct tl_costs *b)
{
    const double price[][2] = {{a->pump_w, b->pump_w},
                               {a->aerator_w, b->aerator_w},
                               {a->electricity_per_kwh, b->electricity_per_kwh},
                               {a->water_per_m3, b->water_per_m3},
                               {a->feed_per_kg, b->feed_per_kg},
                               {a->baking_soda_per_kg, b->baking_soda_per_kg},
                               {a->salt_per_kg, b->salt_per_kg},
                               {a->media_per_m3, b->media_per_m3},
                               {a->tray_each, b->tray_each},
                               {a->other_once, b->other_once}};
    for (size_t i = 0; i < sizeof price / sizeof *price; i++)
        if (isnan(price[i][0]) != isnan(price[i][1]))
            return false;
    return true;
}

/* From the `i`-th event on, the next that switches pump or aerator off, or on again. */
static const struct tl_event *next_switch(const struct tl_setup *s, size_t *i)
{
    while (*i < s->events) {
        const struct tl_event *e = &s->event[(*i)++];
        const bool off =
            (e->kind == TL_EVENT_PUMP_FLOW || e->kind == TL_EVENT_AERATOR) && !(e->value > 0);
        if (off || e->kind == TL_EVENT_PUMP_ON || e->kind == TL_EVENT_AERATOR_ON ||
            e->kind == TL_EVENT_PUMPS_RUNNING)
            return e;
    }
    return NULL;
}

static bool same_switches(const struct tl_setup *a, const struct tl_setup *b)
{
    size_t i = 0, j = 0;
    const struct tl_event *x, *y;
    do {
        x = next_switch(a, &i);
        y = next_switch(b, &j);
        if (x && y &&
            (x->kind != y->kind || x->at_d != y->at_d || x->for_d != y->for_d ||
             x->value != y->value))
            return false;
    } while (x && y);
    return !x && !y;
}

const char *tl_compare_unlike(const struct tl_compare *c)
{
    const struct tl_scenario *first = &c->row[0].scenario;
    for (size_t i = 1; i < c->rows; i++) {
        const struct tl_scenario *other = &c->row[i].scenario;
        if (other->setup.length_d != first->setup.length_d)
            return "run for different times";
        if (strcmp(other->costs.currency, first->costs.currency) != 0)
            return "have prices in different currencies";
        if (!same_things_priced(&other->costs, &first->costs))
            return "do not have a price for the same things";
        if (!same_switches(&other->setup, &first->setup))
            return "differ in when pump or aerator is off";
    }
    return NULL;
}

const struct tl_compare_row *tl_compare_cheapest(const struct tl_compare *c, enum tl_grade worst)
{
    const struct tl_compare_row *best = NULL;
    if (tl_compare_unlike(c))
        return NULL;
    for (size_t i = 0; i < c->rows; i++) {
        const struct tl_compare_row *row = &c->row[i];
        if (row->result.grade <= worst && !isnan(row->bill.whole_run) &&
            (!best || row->bill.whole_run < best->bill.whole_run))
            best = row;
    }
    return best;
}

size_t tl_compare_count(const struct tl_compare *c, enum tl_grade worst)
{
    size_t n = 0;
    for (size_t i = 0; i < c->rows; i++)
        n += c->row[i].result.grade <= worst;
    return n;
}

char *tl_compare_next_value(const char **list)
{
    const char *s = *list;
    const char *value = s;
    int depth = 0;
    char quote = '\0';
    if (!s)
        return NULL;
    for (; *s && (*s != ',' || depth > 0 || quote); s++) {
        if (quote && *s == quote)
            quote = '\0';
        else if (quote)
            continue;
        else if (*s == '"' || *s == '\'')
            quote = *s;
        else if (*s == '[' || *s == '{')
            depth++;
        else if (*s == ']' || *s == '}')
            depth--;
    }
    const char *from = value + strspn(value, " ");
    size_t length = from < s ? (size_t)(s - from) : 0;
    while (length > 0 && from[length - 1] == ' ')
        length--;
    char *out = strndup(from, length);
    if (out)
        *list = *s ? s + 1 : NULL;
    return out;
}
