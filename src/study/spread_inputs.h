/* The uncertain inputs of a scenario, and the scenario with one value of each. */
#ifndef TL_STUDY_SPREAD_INPUTS_H
#define TL_STUDY_SPREAD_INPUTS_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/diag.h"
#include "towerloop/distribution.h"
#include "towerloop/scenario.h"
#include "towerloop/units.h"

#define TL_SPREAD_PATH 96
#define TL_SPREAD_MOST 40 /* as many as tl_points has dimensions */

enum tl_spread_from {
    TL_SPREAD_OWN,      /* the scenario's `spread:`; without it the built-in ranges */
    TL_SPREAD_PUBLISHED /* the built-in ranges */
};

enum tl_spread_nature {
    TL_SPREAD_PARAMETER, /* of the model or the filter: not known well, but one value */
    TL_SPREAD_HAPPENS    /* what comes of weather, fish and people: differs from year to year */
};

struct tl_spread_input {
    char path[TL_SPREAD_PATH]; /* of its key, as --set takes it */
    enum tl_dim dim;
    enum tl_spread_nature nature;
    struct tl_distribution d;
    const char *status; /* published, judgement ...; "given": by the scenario. Static */
    const char *source; /* static */
    double given;       /* the scenario's own value; base unit */
    bool beyond;        /* it lies outside of the built-in range, which was widened up to it */
};

/* The inputs of a scenario read with `set` (KEY=VALUE), in the order of the file or of the built-in list:
 * *n of them, at least one, at most TL_SPREAD_MOST. The caller frees *input. All faults go to `diag`:
 * TL_OK; TL_E_IO, TL_E_INPUT, TL_E_MEMORY with *input NULL. */
int tl_spread_inputs_read(const char *file, const char *const *set, size_t sets,
                          enum tl_spread_from from, struct tl_spread_input **input, size_t *n,
                          struct tl_diag *diag);

#define TL_SPREAD_WORDS 96
/* A keeper's words for more of what stands at a path, as "how fast ammonia-eating bacteria grow": of the built-in
 * list, or what the list of keys says of it, or the path itself. */
void tl_spread_words(const char *path, char words[TL_SPREAD_WORDS]);

/* The value of an input at rank `u`, inside (0, 1). */
double tl_spread_value(const struct tl_spread_input *input, double u);

/* The scenario of one point: its inputs set to their values at u[n], on top of the user's sets. As
 * tl_scenario_read(); TL_E_INPUT also where values that are each allowed cannot stand together. */
int tl_spread_scenario(const char *file, const char *const *set, size_t sets,
                       const struct tl_spread_input *input, size_t n, const double *u,
                       struct tl_scenario *out, struct tl_diag *diag);

#endif
