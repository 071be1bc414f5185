/* A run's calendar.csv, as the report shows it. */
#include "finished.h"
#include "fuzz.h"
#include "report_page.h"
#include "text.h"
#include "towerloop/status.h"

static const struct tl_asked asked = {"Fish", "50 koi"};

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct tl_scenario *s = tl_fuzz_finished();
    char folder[256], page[256], why[512] = "";
    tl_fuzz_put("run/calendar.csv", data, size);
    tl_format(folder, sizeof folder, "%s", tl_fuzz_path("run"));
    tl_format(page, sizeof page, "%s", tl_fuzz_path("report.html"));
    const struct tl_told told = {&asked, 1};
    const struct tl_report r = {
        .told = &told, .folder = folder, .no_charts = "None.", .scenario = s};
    tl_fuzz_require(tl_report_run(&r, page, why, sizeof why) == TL_OK, "no report: %s", why);
    tl_fuzz_check_page(page);
    return 0;
}
