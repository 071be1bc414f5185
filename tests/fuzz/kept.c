/* What studies keep to go on from: the trials of a sizing, a case of the study of failures. Either is known
 * again by the build that wrote it, so the input's own mark is put in the place of the build's. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "json.h"
#include "size_trial.h"
#include "text.h"
#include "towerloop/endure.h"
#include "towerloop/status.h"
#include "towerloop/summary.h"

static void open_trials(json_t *root)
{
    struct tl_build b;
    struct tl_size_bench bench = {.file = "pond.yaml", .store = tl_fuzz_path("trials.json")};
    json_t *build = tl_json_build();
    tl_build_info(&b);
    json_object_set_new(build, "version", json_string(b.version));
    json_object_set_new(root, "build", build);
    tl_fuzz_require(json_dump_file(root, bench.store, 0) == 0, "no file");
    tl_fuzz_require(tl_size_bench_open(&bench) == TL_OK, "trials cannot be opened");
    tl_size_bench_close(&bench);
}

static void fetch_case(const json_t *root, const uint8_t *data, size_t size)
{
    struct tl_endure_study *s = calloc(1, sizeof *s);
    const char *print = json_string_value(json_object_get(root, "print"));
    tl_fuzz_require(s, "no memory");
    tl_format(s->key[TL_FAILURE_POWER], TL_ENDURE_KEY, "failure_power");
    tl_fuzz_put("case.json", data, size);
    if (tl_endure_fetch(s, TL_FAILURE_POWER, print ? print : "", tl_fuzz_path("case.json")))
        tl_fuzz_require(s->done[TL_FAILURE_POWER] &&
                            (s->result[TL_FAILURE_POWER].curve_points == 0) ==
                                (s->result[TL_FAILURE_POWER].curve_o2 == NULL),
                        "half a case");
    tl_endure_study_free(s);
    free(s);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    json_t *root = json_loadb((const char *)data, size, 0, NULL);
    fetch_case(root, data, size);
    if (json_is_object(root))
        open_trials(root);
    json_decref(root);
    return 0;
}
