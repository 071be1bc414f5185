/* The recording of a run: its rows on the way, and everything that lies in its folder. */
#ifndef TL_RECORD_H
#define TL_RECORD_H

#include "run_folder.h"
#include "towerloop/assess.h"
#include "towerloop/scenario.h"
#include "towerloop/summary.h"

/* Runs the scenario and writes its rows to `series_path`, which appears when all went well. The
 * observers of `options` are not looked at: the rows are the observer. TL_OK; TL_E_SOLVER or
 * TL_E_LEDGER with the reason in out->fault; TL_E_IO (errno says why); TL_E_MEMORY; TL_E_INPUT;
 * TL_E_INTERRUPTED. */
int tl_record_simulate(const struct tl_scenario *scenario, const struct tl_assess_options *options,
                       const char *series_path, struct tl_assessment *out);

/* Writes into the draft what is known after a run: scenario.yaml, inputs/ and, last, summary.json.
 * TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY. */
int tl_record_fill(const struct tl_run_folder *f, const struct tl_outcome *outcome);

struct tl_record_options {
    struct tl_assess_options assess; /* without observers */
    bool rows;                       /* with series.csv */
    bool force;                      /* replace an earlier run at the place */
};

/* Runs a scenario and puts its whole folder, without charts and advice, to `place`. TL_OK; otherwise
 * nothing is left behind, `why` (`size` bytes) says what went wrong, and the value is one of
 * tl_record_simulate() or TL_E_REFUSED. */
int tl_record_run(const struct tl_scenario *scenario, const struct tl_record_options *options,
                  const char *place, char *why, size_t size);

#endif
