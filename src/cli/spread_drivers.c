/* Inputs in order of what they do to a limit. */
#include "spread_drivers.h"

#include <math.h>
#include <string.h>

#include "text.h"

static const char *const limit_name[TL_NLIMIT] = {
#define NAME_OF(id, name, unit) name,
    TL_LIMIT_LIST(NAME_OF)
#undef NAME_OF
};

const char *tl_spread_limit_name(enum tl_limit_id id)
{
    return limit_name[id];
}

bool tl_spread_limit_is_below(enum tl_limit_id id)
{
    return id == TL_LIMIT_O2 || id == TL_LIMIT_PH_LOW || id == TL_LIMIT_ALK || id == TL_LIMIT_COLD;
}

const char *tl_spread_input_name(const struct tl_spread_input *input)
{
    static const char before[] = "parameters.";
    const size_t n = sizeof before - 1;
    return strncmp(input->path, before, n) == 0 ? input->path + n : input->path;
}

void tl_spread_label(const struct tl_spread_input *input, char label[TL_SPREAD_LABEL])
{
    char words[TL_SPREAD_WORDS];
    tl_spread_words(input->path, words);
    const char *name = tl_spread_input_name(input);
    if (strcmp(words, input->path) == 0)
        (void)tl_format(label, TL_SPREAD_LABEL, "%s", name);
    else
        (void)tl_format(label, TL_SPREAD_LABEL, "%s (%s)", words, name);
}

size_t tl_spread_drivers(const struct tl_tally *t, enum tl_limit_id limit, double weak,
                         struct tl_spread_driver *out, size_t most)
{
    size_t n = 0;
    for (size_t j = 0; j < t->spread->inputs; j++) {
        const double r = tl_tally_correlation(t, limit, j);
        size_t at = n;
        if (!(fabs(r) >= weak))
            continue;
        while (at > 0 && fabs(out[at - 1].worse) < fabs(r))
            at--;
        if (at == most)
            continue;
        n += n < most;
        memmove(&out[at + 1], &out[at], (n - at - 1) * sizeof *out);
        out[at] = (struct tl_spread_driver){j, tl_spread_limit_is_below(limit) ? -r : r};
    }
    return n;
}

double tl_spread_shares_error(const struct tl_tally *t, const struct tl_indices *found)
{
    double error = 0;
    for (size_t j = 0; j < t->spread->inputs && found->known; j++)
        error = fmax(error, fmax(found->input[j].first_error, found->input[j].total_error));
    return error;
}

bool tl_spread_shares_told(const struct tl_tally *t, const struct tl_indices *found)
{
    return found->known && found->points >= TL_SPREAD_POINTS &&
           tl_spread_shares_error(t, found) <= TL_SPREAD_UNKNOWN;
}

size_t tl_spread_shares(const struct tl_tally *t, const struct tl_indices *found, double weak,
                        size_t *out, size_t most)
{
    size_t n = 0;
    const bool told = tl_spread_shares_told(t, found);
    for (size_t j = 0; j < t->spread->inputs && told; j++) {
        const double total = found->input[j].total;
        size_t at = n;
        if (!(total >= weak))
            continue;
        while (at > 0 && found->input[out[at - 1]].total < total)
            at--;
        if (at == most)
            continue;
        n += n < most;
        memmove(&out[at + 1], &out[at], (n - at - 1) * sizeof *out);
        out[at] = j;
    }
    return n;
}

double tl_spread_alone(const struct tl_index *x)
{
    return fmax(0, fmin(x->first, x->total));
}
