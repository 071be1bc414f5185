/* A study's study.json: its folder is gone on with, refused, or begun anew; and always with a reason. */
#include <jansson.h>

#include "fuzz.h"
#include "posix.h"
#include "study_folder.h"
#include "towerloop/status.h"

static void begin(const struct tl_study_plan *plan, bool force)
{
    struct tl_study s;
    char why[512] = "";
    const int status = tl_study_begin(&s, plan, tl_fuzz_path("study"), force, why, sizeof why);
    tl_fuzz_require(status == TL_OK || status == TL_E_REFUSED, "status %d: %s", status, why);
    tl_fuzz_require(status == TL_OK || *why, "no reason");
    tl_study_end(&s);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const none[] = {NULL};
    json_t *question = json_pack("{s:s}", "least", "tower.trays");
    const struct tl_study_plan plan = {
        .kind = "size", .question = question, .input = none, .results = none, .charts = none};
    tl_fuzz_require(tl_posix_make_folder(tl_fuzz_path("study"), NULL) == TL_OK, "no folder");
    tl_fuzz_put("study/study.json", data, size);
    begin(&plan, false);
    tl_fuzz_put("study/study.json", data, size);
    begin(&plan, true);
    tl_posix_remove_tree(tl_fuzz_path("study"));
    json_decref(question);
    return 0;
}
