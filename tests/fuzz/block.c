/* A block of a spread as `merge` takes it from somebody's folder: refused, or added up. What the input is
 * put between is the mark, the numbers and the checksum that a whole file has. */
#include <math.h>
#include <string.h>

#include "blocks.h"
#include "fingerprint.h"
#include "fuzz.h"
#include "points.h"
#include "spread_merge.h"
#include "text.h"
#include "towerloop/status.h"

enum { RUNS = 10 }; /* as many as seeds.py asks for */

static void put(struct tl_text *t, uint64_t value, size_t bytes)
{
    for (size_t i = 0; i < bytes; i++) {
        const char byte = (char)(value >> 8 * i & 0xff);
        tl_text_add_bytes(t, &byte, 1);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_spread_input input = {.d = {.a = 0, .b = 1, .min = 0, .max = 1}};
    struct tl_spread s = {.runs = RUNS,
                          .seed = 1,
                          .input = &input,
                          .inputs = 1,
                          .print = 7,
                          .intervals = tl_intervals_of(0, 2)};
    struct tl_tally tally;
    struct tl_block b;
    struct tl_text t = {0};
    char name[TL_BLOCK_NAME_SIZE], why[256] = "", folder[256];
    const char *const folders[] = {folder};
    tl_fuzz_require(tl_points_new(&s.points, 1, 1, 1, RUNS) == TL_OK &&
                        tl_tally_new(&s, &tally) == TL_OK && tl_spread_block_new(&s, &b) == TL_OK,
                    "no memory");
    tl_text_add(&t, "tlblock2");
    put(&t, s.print, 8);
    put(&t, 0, 4);
    put(&t, RUNS, 4);
    put(&t, b.rows, 4);
    tl_text_add_bytes(&t, (const char *)data, size);
    put(&t, tl_fingerprint(TL_FINGERPRINT_START, t.data, t.length), 8);
    tl_block_name(0, name);
    tl_fuzz_put(name, t.data, t.length);
    tl_format(folder, sizeof folder, "%s", tl_fuzz_folder());
    const int status = tl_spread_collect(&s, folders, 1, NULL, &tally, why, sizeof why);
    tl_fuzz_require(status == TL_OK || (status == TL_E_INPUT && *why), "status %d: %s", status,
                    why);
    if (status == TL_OK)
        for (int i = 0; i < TL_NLIMIT; i++)
            tl_fuzz_require(!isinf(tl_tally_worst(&tally, (enum tl_limit_id)i, 0.5)), "limit %d",
                            i);
    tl_block_free(&b);
    tl_tally_free(&tally);
    tl_spread_free(&s);
    tl_text_free(&t);
    return 0;
}
