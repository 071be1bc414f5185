/* A spread's spread.json, as the report tells it. */
#include <stdlib.h>

#include "finished.h"
#include "fuzz.h"
#include "report_page.h"
#include "text.h"
#include "towerloop/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct tl_asked asked = {"Fish", "50 koi"};
    static const struct tl_told told = {&asked, 1};
    char folder[256], page[256], why[512] = "";
    const struct tl_scenario *s = tl_fuzz_finished();
    tl_fuzz_put("spread.json", data, size);
    tl_format(folder, sizeof folder, "%s", tl_fuzz_folder());
    tl_format(page, sizeof page, "%s", tl_fuzz_path("report.html"));
    const struct tl_report r = {
        .folder = folder, .told = &told, .no_charts = "None.", .scenario = s, .units = TL_US};
    const int status = tl_report_spread(&r, page, why, sizeof why);
    tl_fuzz_require(status == TL_OK || status == TL_E_INPUT, "status %d: %s", status, why);
    tl_fuzz_require(status == TL_OK || *why, "no reason");
    if (status == TL_OK)
        tl_fuzz_check_page(page);
    return 0;
}
