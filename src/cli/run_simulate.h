/* The simulation of a run, with its rows recorded. */
#ifndef TL_RUN_SIMULATE_H
#define TL_RUN_SIMULATE_H

#include "towerloop/assess.h"
#include "towerloop/scenario.h"

/* Runs the scenario and writes its rows to `series_path`, which appears when all went well. The
 * observers of `options` are not looked at: the rows are the observer. TL_OK; TL_E_SOLVER or TL_E_LEDGER with the reason in out->fault; TL_E_IO
 * (errno says why); TL_E_MEMORY; TL_E_INPUT; TL_E_INTERRUPTED. */
int tl_run_simulate(const struct tl_scenario *scenario, const struct tl_assess_options *options,
                    const char *series_path, struct tl_assessment *out);

#endif
