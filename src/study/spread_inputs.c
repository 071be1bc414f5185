/* What is uncertain in a scenario: its own list or the built-in one, each found in the scenario. */
#include "spread_inputs.h"

#include <stdlib.h>
#include <string.h>

#include "distribution.h"
#include "number_at.h"
#include "settings.h"
#include "spread_ranges.h"
#include "text.h"
#include "towerloop/status.h"

#define SETTING (TL_SPREAD_PATH + 64)

static const struct {
    const char *path;
    enum tl_spread_nature nature;
    struct tl_distribution d;
    const char *status, *source;
} built_in[] = {
#define ROW(path, nature, kind, a, b, c, status, source)                                           \
    {path, TL_SPREAD_##nature, {TL_##kind, a, b, c, 0, 0}, status, source},
    TL_SPREAD_LIST(ROW)
#undef ROW
};

#define BUILT_IN (sizeof built_in / sizeof *built_in)

int tl_spread_inputs_read(const char *file, const char *const *set, size_t sets,
                          enum tl_spread_from from, struct tl_spread_input **input, size_t *n,
                          struct tl_diag *diag)
{
    struct tl_scenario s;
    char what[256];
    char expected[256];
    (void)from;
    *n = 0;
    *input = NULL;
    const int status = tl_settings_read(file, set, sets, NULL, 0, &s, diag);
    if (status)
        return status;
    struct tl_spread_input *all = calloc(BUILT_IN, sizeof *all);
    for (size_t i = 0; all && i < BUILT_IN; i++) {
        struct tl_number_at at;
        struct tl_spread_input *in = &all[*n];
        if (tl_scenario_number_at(&s, built_in[i].path, &at, what, expected, sizeof what))
            continue;
        *in = (struct tl_spread_input){.dim = at.dim,
                                       .nature = built_in[i].nature,
                                       .d = built_in[i].d,
                                       .status = built_in[i].status,
                                       .source = built_in[i].source,
                                       .given = at.value};
        in->d.min = at.min;
        in->d.max = at.max;
        (void)tl_format(in->path, sizeof in->path, "%s", built_in[i].path);
        (*n)++;
    }
    tl_scenario_free(&s);
    *input = all;
    return all ? TL_OK : TL_E_MEMORY;
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
