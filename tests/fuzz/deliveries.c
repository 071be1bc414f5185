/* The log of fish that come and go, which a scenario names. */
#include <math.h>

#include "fuzz.h"
#include "towerloop/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_scenario s;
    if (tl_fuzz_read_with_log("temperature: 20 degC\ndeliveries: {file: log.csv}\n"
                              "feeding: {ration: 1 %/d, protein: 38 %, meals: [08:00]}",
                              data, size, &s) != TL_OK)
        return 0;
    for (size_t i = 0; i < s.setup.events; i++) {
        const struct tl_event *e = &s.setup.event[i];
        tl_fuzz_require(e->fish.count > 0 && isfinite(e->fish.count) && e->fish.mean_mass_g >= 0 &&
                            e->fish.name[0] && e->at_d >= 0 && e->at_d < 30,
                        "event %zu: %g fish of %g g on day %g", i, e->fish.count,
                        e->fish.mean_mass_g, e->at_d);
    }
    tl_scenario_free(&s);
    return 0;
}
