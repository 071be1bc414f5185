/* What is uncertain in a scenario: its own list or the built-in one, each found in the scenario. */
#include "spread_inputs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "distribution.h"
#include "number_at.h"
#include "settings.h"
#include "spread_ranges.h"
#include "text.h"
#include "towerloop/status.h"

_Static_assert(TL_SPREAD_MOST == TL_UNCERTAIN_MOST && TL_SPREAD_PATH == TL_UNCERTAIN_PATH,
               "a scenario's list fits");

#define SETTING   (TL_SPREAD_PATH + 64)
#define WHAT_SIZE 512

struct row {
    const char *path;
    enum tl_spread_nature nature;
    enum tl_spread_where where;
    enum tl_distribution_kind kind;
    double a, b;
    const char *status, *source;
    const char *words;
};

static const struct row built_in[] = {
#define ROW(path, nature, where, kind, a, b, status, source, words)                                \
    {path, TL_SPREAD_##nature, TL_SPREAD_##where, TL_##kind, a, b, status, source, words},
    TL_SPREAD_LIST(ROW)
#undef ROW
};

#define BUILT_IN (sizeof built_in / sizeof *built_in)
_Static_assert(BUILT_IN <= TL_SPREAD_MOST, "all ranges fit");

static bool applies(const struct tl_setup *s, enum tl_spread_where where)
{
    const bool begins_new = s->tower.biofilm == TL_BIOFILM_NEW;
    return where == TL_SPREAD_FISH       ? tl_setup_ever_fish(s)
           : where == TL_SPREAD_READINGS ? s->temperature.kind == TL_TEMPERATURE_READINGS
           : where == TL_SPREAD_FLOW     ? s->pump.curve.n == 0
           : where == TL_SPREAD_NEW      ? begins_new
           : where == TL_SPREAD_GROWN    ? !begins_new
                                         : true;
}

/* The row around what the scenario has. */
static struct tl_distribution around(const struct row *row, const struct tl_number_at *at)
{
    struct tl_distribution d = {.kind = row->kind, .min = at->min, .max = at->max};
    if (row->kind == TL_TRIANGULAR) {
        d.a = fmin(row->a, at->value);
        d.b = fmax(row->b, at->value);
        d.c = at->value;
    } else {
        d.a = at->value;
        d.b = row->a;
    }
    return d;
}

static int take_built_in(const struct tl_scenario *s, struct tl_spread_input *input, size_t *n)
{
    char what[WHAT_SIZE], expected[WHAT_SIZE];
    struct tl_number_at at;
    for (size_t i = 0; i < BUILT_IN; i++) {
        const struct row *row = &built_in[i];
        if (!applies(&s->setup, row->where))
            continue;
        const int status = tl_scenario_number_at(s, row->path, &at, what, expected, sizeof what);
        if (status == TL_E_MEMORY)
            return status;
        if (status != TL_OK || (row->kind == TL_LOGNORMAL && !(at.value > 0)))
            continue;
        struct tl_spread_input *in = &input[(*n)++];
        *in = (struct tl_spread_input){.dim = at.dim,
                                       .nature = row->nature,
                                       .d = around(row, &at),
                                       .status = row->status,
                                       .source = row->source,
                                       .given = at.value,
                                       .beyond = row->kind == TL_TRIANGULAR &&
                                                 (at.value < row->a || at.value > row->b)};
        (void)tl_format(in->path, sizeof in->path, "%s", row->path);
    }
    return TL_OK;
}

/* What differs from year to year is outside of the model's parameters and of how the loop is built. */
static enum tl_spread_nature nature_of(const char *path)
{
    static const char *const built[] = {"parameters.", "tower.", "tank.", "settling chamber."};
    for (size_t i = 0; i < sizeof built / sizeof *built; i++)
        if (strncmp(path, built[i], strlen(built[i])) == 0)
            return TL_SPREAD_PARAMETER;
    return TL_SPREAD_HAPPENS;
}

static int take_own(const struct tl_scenario *s, struct tl_spread_input *input, size_t *n)
{
    char what[WHAT_SIZE], expected[WHAT_SIZE];
    struct tl_number_at at;
    for (size_t i = 0; i < s->spreads; i++) {
        const struct tl_uncertain *u = &s->spread[i];
        /* the reader found it fit */
        const int status = tl_scenario_number_at(s, u->path, &at, what, expected, sizeof what);
        if (status == TL_E_MEMORY)
            return status;
        input[i] = (struct tl_spread_input){.dim = u->dim,
                                            .nature = nature_of(u->path),
                                            .d = u->d,
                                            .status = "given",
                                            .source = "the scenario",
                                            .given = status == TL_OK ? at.value : NAN};
        memcpy(input[i].path, u->path, sizeof u->path);
    }
    *n = s->spreads;
    return TL_OK;
}

int tl_spread_inputs_read(const char *file, const char *const *set, size_t sets,
                          enum tl_spread_from from, struct tl_spread_input **input, size_t *n,
                          struct tl_diag *diag)
{
    struct tl_scenario s;
    *n = 0;
    *input = NULL;
    int status = tl_settings_read(file, set, sets, NULL, 0, &s, diag);
    if (status)
        return status;
    *input = calloc(TL_SPREAD_MOST, sizeof **input);
    if (!*input)
        status = TL_E_MEMORY;
    else if (from == TL_SPREAD_OWN && s.spreads > 0)
        status = take_own(&s, *input, n);
    else
        status = take_built_in(&s, *input, n);
    tl_scenario_free(&s);
    return status;
}

void tl_spread_words(const char *path, char words[TL_SPREAD_WORDS])
{
    const char *text = NULL;
    for (size_t i = 0; i < BUILT_IN && !text; i++)
        if (strcmp(built_in[i].path, path) == 0)
            text = built_in[i].words;
    const bool own = text != NULL;
    if (!own && !(text = tl_number_key_help(path)))
        text = path;
    const size_t length = own ? strlen(text) : strcspn(text, ";([");
    const size_t room = length < TL_SPREAD_WORDS ? length : TL_SPREAD_WORDS - 1;
    memcpy(words, text, room);
    words[tl_utf8_cut(text, room)] = '\0';
    for (size_t n = strlen(words); n > 0 && words[n - 1] == ' '; n--)
        words[n - 1] = '\0';
}

double tl_spread_value(const struct tl_spread_input *input, double u)
{
    return tl_distribution_at(&input->d, u);
}

int tl_spread_scenario(const char *file, const char *const *set, size_t sets,
                       const struct tl_spread_input *input, size_t n, const double *u,
                       struct tl_scenario *out, struct tl_diag *diag)
{
    char text[TL_SPREAD_MOST][SETTING];
    const char *study[TL_SPREAD_MOST];
    *out = (struct tl_scenario){0};
    if (n > TL_SPREAD_MOST)
        return TL_E_INPUT;
    for (size_t i = 0; i < n; i++) {
        const char *unit = tl_dim_base_unit(input[i].dim);
        (void)tl_format(text[i], SETTING, "%s=%.17g%s%s", input[i].path,
                        tl_spread_value(&input[i], u[i]), *unit ? " " : "", unit);
        study[i] = text[i];
    }
    return tl_settings_read(file, set, sets, study, n, out, diag);
}
