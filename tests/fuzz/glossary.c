/* The words of the lessons with their meanings. */
#include "fuzz.h"
#include "lesson.h"
#include "text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tl_glossary g;
    struct tl_diag diag;
    char path[256];
    tl_diag_init(&diag);
    tl_fuzz_put("glossary.terms", data, size);
    tl_format(path, sizeof path, "%s", tl_fuzz_path("glossary.terms"));
    const int status = tl_glossary_read(path, &g, &diag);
    tl_fuzz_check_messages(&diag, status, path, tl_fuzz_lines(data, size));
    tl_tree_free(g.root);
    tl_diag_free(&diag);
    return 0;
}
