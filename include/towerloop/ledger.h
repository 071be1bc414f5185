/* Where the nitrogen, the oxygen, the alkalinity and the carbon went, and whether charge balances:
 * drawn up from the running totals that the integrator carries, so what is booked is what was
 * integrated. */
#ifndef TOWERLOOP_LEDGER_H
#define TOWERLOOP_LEDGER_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/model.h"

enum tl_ledger_side { TL_LEDGER_IN, TL_LEDGER_OUT, TL_LEDGER_STORED, TL_LEDGER_NOTE };

struct tl_ledger_line {
    enum tl_ledger_side side; /* NOTE: information, not part of the sum (e.g. oxidised in tower) */
    const char *key;          /* for files: "feed", "source_water", … */
    const char *text;         /* for people: "fed", "source water", … */
    double amount;            /* gN, g O2, eq or mol C over the whole run */
};

#define TL_LEDGER_LINES 32

struct tl_ledger_account {
    const char *name; /* "nitrogen", "oxygen", "alkalinity", "carbon", "charge" */
    const char *unit; /* "gN", "g", "eq", "mol", "eq" */
    struct tl_ledger_line line[TL_LEDGER_LINES];
    size_t lines;
    double stored;       /* end minus start */
    double throughput;   /* what the residual is relative to */
    double residual_rel; /* worst of the account's parts (water, films, sludge) */
    const char *worst_part;
};

struct tl_ledger {
    struct tl_ledger_account nitrogen, oxygen, alkalinity;
    struct tl_ledger_account carbon; /* inorganic, and organic at 1/32 mol per gCOD */
    struct tl_ledger_account charge; /* (TAN - NO2 - NO3)/14.007 less ALK: only what crosses the
                                        border changes it */
    double length_d;
};

#define TL_LEDGER_TOLERANCE 1e-6

/* Ammonia nitrogen up to some instant, gN, and what stands there. */
struct tl_ammonia_sums {
    double
        loaded_g; /* from outside: fish, uneaten feed, dead fish, source water, doses, chloramine */
    double freed_g; /* by decay in water, films and sludge, less what heterotrophs took */
    double oxidised_g, nitrite_oxidised_g;
    double aob_g; /* ammonia oxidisers on all surfaces, gCOD */
};

void tl_ledger_draw_up(const struct tl_model *m, const double *y_start, const double *y_end,
                       double length_d, struct tl_ledger *out);
/* From a state with its running totals. */
void tl_ledger_ammonia(const struct tl_model *m, const double *y, struct tl_ammonia_sums *out);
/* TL_OK, or TL_E_LEDGER with the account and part at fault in `fault`. */
int tl_ledger_check(const struct tl_ledger *l, char *fault, size_t size);

#endif
