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

int tl_compare_add(struct tl_compare *c, const char *name, struct tl_scenario *scenario)
{
    struct tl_text own = {0};
    tl_text_add(&own, name);
    for (size_t number = 2; !own.failed && is_taken(c, tl_text_string(&own)); number++) {
        tl_text_free(&own);
        tl_text_addf(&own, "%s (%zu)", name, number);
    }
    struct tl_compare_row *row = realloc(c->row, (c->rows + 1) * sizeof *row);
    if (row)
        c->row = row;
    char(*run)[TL_STUDY_NAME_SIZE] = realloc(c->run, (c->rows + 1) * sizeof *run);
    if (run)
        c->run = run;
    if (!row || !run || own.failed) {
        tl_text_free(&own);
        tl_scenario_free(scenario);
        return TL_E_MEMORY;
    }
    tl_study_name(tl_text_string(&own), (const char(*)[TL_STUDY_NAME_SIZE])c->run, c->rows,
                  c->run[c->rows]);
    c->row[c->rows++] = (struct tl_compare_row){.name = own.data, .scenario = *scenario};
    *scenario = (struct tl_scenario){0};
    return TL_OK;
}

void tl_compare_free(struct tl_compare *c)
{
    for (size_t i = 0; i < c->rows; i++) {
        free(c->row[i].name);
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
        row->status = tl_amounts_of(&row->scenario, row->result.fed_g_n, &row->amounts);
    if (row->status != TL_OK)
        return row->status;
    tl_bill_of(&row->scenario, &row->amounts, row->result.grade == TL_WITHIN, &row->bill);
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

const struct tl_compare_row *tl_compare_cheapest(const struct tl_compare *c, enum tl_grade worst)
{
    const struct tl_compare_row *best = NULL;
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
    int depth = 0;
    char quote = '\0';
    if (!*s)
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
    const char *from = *list + strspn(*list, " ");
    size_t length = from < s ? (size_t)(s - from) : 0;
    while (length > 0 && from[length - 1] == ' ')
        length--;
    *list = *s ? s + 1 : s;
    return strndup(from, length);
}
