/* One run of a scenario from its model to its verdict. */
#ifndef TL_SIMULATE_H
#define TL_SIMULATE_H

#include "towerloop/engine.h"
#include "towerloop/ledger.h"
#include "towerloop/ranges.h"
#include "towerloop/scenario.h"
#include "towerloop/verdict.h"

struct tl_simulation { /* all that a run found out */
    struct tl_verdict verdict;
    struct tl_ranges ranges;
    struct tl_ledger ledger;
    struct tl_engine_stats stats;
    double fish_lost_d;
    double end_d;
    char fault[TL_FAULT_SIZE]; /* one line for the user when the run failed */
};

/* Runs the scenario and writes its rows to `series_path`. TL_OK, or a failure with `fault` set:
 * TL_E_SOLVER, TL_E_LEDGER, TL_E_IO, TL_E_MEMORY, TL_E_INPUT; TL_E_INTERRUPTED. On failure there is
 * no file. `rtol` 0: the default. */
int tl_simulate(const struct tl_scenario *scenario, double rtol, const volatile int *interrupted,
                const char *series_path, struct tl_simulation *out);

#endif
