/* A comparison's compare.json, as its report reads it; the run it names lies finished there. */
#include <stdlib.h>
#include <string.h>

#include "compare_data.h"
#include "finished.h"
#include "fuzz.h"
#include "posix.h"
#include "report_page.h"
#include "text.h"
#include "towerloop/status.h"

static void copy(const char *name)
{
    static const char *const to[] = {"base", "more-trays"};
    char *data = NULL, path[64];
    size_t length = 0;
    tl_format(path, sizeof path, "run/%s", name);
    tl_fuzz_require(tl_read_file(tl_fuzz_path(path), 1 << 20, &data, &length) == TL_OK, "no %s",
                    path);
    for (size_t i = 0; i < sizeof to / sizeof *to; i++) {
        tl_format(path, sizeof path, "compare/runs/%s/%s", to[i], name);
        tl_fuzz_put(path, data, length);
    }
    free(data);
}

/* The folder of a comparison with two variants in it. */
static void prepare(void)
{
    static bool done;
    static const char study[] = "{\"kind\": \"compare\", \"version\": \"0\"}";
    static const char *const folder[] = {"compare", "compare/runs", "compare/runs/base",
                                         "compare/runs/more-trays"};
    static const char *const file[] = {"summary.json", "series.csv", "scenario.yaml"};
    if (done)
        return;
    done = true;
    (void)tl_fuzz_finished();
    for (size_t i = 0; i < sizeof folder / sizeof *folder; i++)
        tl_fuzz_require(tl_posix_make_folder(tl_fuzz_path(folder[i]), NULL) == TL_OK, "no folder");
    for (size_t i = 0; i < sizeof file / sizeof *file; i++)
        copy(file[i]);
    tl_fuzz_put("compare/study.json", study, strlen(study));
}

/* Each variant's is the same. */
static struct tl_told *tell(const char *folder)
{
    static const struct tl_asked asked = {"Fish", "50 koi"};
    struct tl_compare_data data;
    char why[512] = "";
    struct tl_told *told = NULL;
    if (tl_compare_data_load(folder, &data, why, sizeof why) == TL_OK) {
        told = calloc(data.variants, sizeof *told);
        tl_fuzz_require(told, "no memory");
        for (size_t i = 0; i < data.variants; i++)
            told[i] = (struct tl_told){&asked, 1};
    }
    tl_compare_data_free(&data);
    return told;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char folder[256], page[256], why[512] = "";
    prepare();
    tl_fuzz_put("compare/compare.json", data, size);
    tl_format(folder, sizeof folder, "%s", tl_fuzz_path("compare"));
    tl_format(page, sizeof page, "%s", tl_fuzz_path("report.html"));
    struct tl_told *told = tell(folder);
    const struct tl_report r = {.folder = folder,
                                .told = told,
                                .no_charts = "None.",
                                .scenario = tl_fuzz_finished(),
                                .units = TL_US};
    const int status = tl_report_compare(&r, page, why, sizeof why);
    tl_fuzz_require(status == TL_OK || status == TL_E_INPUT, "status %d: %s", status, why);
    tl_fuzz_require((status == TL_OK) == (told != NULL), "read with and without success: %s", why);
    tl_fuzz_require(status == TL_OK || *why, "no reason");
    if (status == TL_OK)
        tl_fuzz_check_page(page);
    free(told);
    return 0;
}
