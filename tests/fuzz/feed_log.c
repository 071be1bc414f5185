/* The log of meals that a scenario names. */
#include "fuzz.h"
#include "towerloop/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_scenario s;
    if (tl_fuzz_read_with_log("temperature: 20 degC\n"
                              "feeding: {log: {file: log.csv}, protein: 38 %}",
                              data, size, &s) != TL_OK)
        return 0;
    tl_fuzz_check_table(&s.setup.feeding.log, "meals");
    tl_scenario_free(&s);
    return 0;
}
