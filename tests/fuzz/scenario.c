/* The whole text of a scenario: either messages, or a scenario that can be written and comes back the same;
 * its variants are read, too. */
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "towerloop/status.h"

enum { VARIANTS = 3, BYTES = 1 << 20 };

static int read(const void *text, size_t size, const struct tl_variant *v, struct tl_scenario *out)
{
    const struct tl_scenario_options options = {.set = v ? (const char *const *)v->set : NULL,
                                                .sets = v ? v->sets : 0};
    struct tl_diag diag;
    tl_diag_init(&diag);
    const int status = tl_scenario_read_text("pond.yaml", text, size, NULL, &options, out, &diag);
    tl_fuzz_check_messages(&diag, status, "pond.yaml", tl_fuzz_lines(text, size));
    tl_fuzz_require(diag.count < 300, "%zu messages at once", diag.count);
    tl_diag_free(&diag);
    return status;
}

static void write_and_read(const struct tl_scenario *s)
{
    char *written = NULL, *again = NULL;
    struct tl_scenario back;
    tl_fuzz_require(tl_scenario_text(s, &written) == TL_OK, "it cannot be written");
    tl_fuzz_require(strlen(written) > BYTES || read(written, strlen(written), NULL, &back) == TL_OK,
                    "what was written is refused:\n%s", written);
    if (strlen(written) <= BYTES) {
        tl_fuzz_require(tl_scenario_text(&back, &again) == TL_OK && strcmp(written, again) == 0,
                        "it comes back otherwise:\n%s\n%s", written, again);
        tl_scenario_free(&back);
    }
    free(written);
    free(again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_scenario s, changed;
    if (read(data, size, NULL, &s) != TL_OK)
        return 0;
    write_and_read(&s);
    for (size_t i = 0; i < s.variants && i < VARIANTS; i++)
        if (read(data, size, &s.variant[i], &changed) == TL_OK) {
            write_and_read(&changed);
            tl_scenario_free(&changed);
        }
    tl_scenario_free(&s);
    return 0;
}
