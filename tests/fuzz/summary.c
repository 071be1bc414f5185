/* A run's summary.json, read back and told on the page of its report; also the look whether a folder is ours. */
#include "finished.h"
#include "fuzz.h"
#include "report_page.h"
#include "run_folder.h"
#include "run_result.h"
#include "text.h"
#include "towerloop/status.h"

static const struct tl_asked asked = {"Fish", "50 koi"};

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct tl_scenario *s = tl_fuzz_finished();
    struct tl_run_result result;
    char folder[256], page[256], why[512] = "";
    tl_fuzz_put("run/summary.json", data, size);
    tl_format(folder, sizeof folder, "%s", tl_fuzz_path("run"));
    tl_format(page, sizeof page, "%s", tl_fuzz_path("report.html"));
    const struct tl_told told = {&asked, 1};
    const struct tl_report r = {
        .folder = folder, .told = &told, .no_charts = "None.", .scenario = s, .units = TL_US};
    const int read = tl_run_result_load(folder, &result);
    const int status = tl_report_run(&r, page, why, sizeof why);
    tl_fuzz_require(read == TL_OK || read == TL_E_INPUT, "status %d", read);
    tl_fuzz_require(status == read, "read with %d, told with %d: %s", read, status, why);
    tl_fuzz_require(status == TL_OK || *why, "no reason");
    if (status == TL_OK)
        tl_fuzz_check_page(page);
    tl_run_folder_check(folder, NULL, why, sizeof why);
    return 0;
}
