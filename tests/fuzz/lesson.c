/* A lesson: read, filled with the numbers of a run, written as a page. */
#include <string.h>

#include "finished.h"
#include "fuzz.h"
#include "lesson.h"
#include "lesson_page.h"
#include "text.h"
#include "told.h"
#include "towerloop/status.h"

static void tell(const struct tl_lesson *l)
{
    char folder[256], page[256], why[TL_LESSON_WHY] = "", command[] = "towerloop run pond.yaml";
    char *const commands[] = {command};
    struct tl_lesson_told told;
    tl_format(folder, sizeof folder, "%s", tl_fuzz_path("run"));
    tl_format(page, sizeof page, "%s", tl_fuzz_path("lesson.html"));
    const struct tl_lesson_run run = {.scenario = tl_fuzz_finished(), .folder = folder};
    const int status = tl_lesson_tell(l, &run, 1, &told, why);
    tl_fuzz_require(status == TL_OK || *why, "status %d without a reason", status);
    if (status == TL_OK) {
        const struct tl_lesson_page p = {.told = &told, .command = commands, .lessons = 1};
        tl_fuzz_require(tl_lesson_page_write(&p, page, why) == TL_OK, "no page: %s", why);
        tl_fuzz_check_page(page);
    }
    tl_lesson_told_free(&told);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_lesson l;
    struct tl_diag diag;
    char path[256];
    tl_diag_init(&diag);
    tl_fuzz_put("pump.lesson", data, size);
    tl_format(path, sizeof path, "%s", tl_fuzz_path("pump.lesson"));
    const int status = tl_lesson_read(path, &l, &diag);
    tl_fuzz_check_messages(&diag, status, path, tl_fuzz_lines(data, size));
    if (status == TL_OK)
        tell(&l);
    tl_lesson_free(&l);
    tl_diag_free(&diag);
    return 0;
}
