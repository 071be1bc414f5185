/* The log of the water's temperature that a scenario names. */
#include "fuzz.h"
#include "towerloop/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_scenario s;
    if (tl_fuzz_read_with_log("temperature: {file: log.csv}\n"
                              "feeding: {ration: 1 %/d, protein: 38 %, meals: [08:00]}",
                              data, size, &s) != TL_OK)
        return 0;
    tl_fuzz_check_table(&s.setup.temperature.readings, "temperature");
    tl_scenario_free(&s);
    return 0;
}
