/* A plotter's picture, as the report takes it in. */
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "svg.h"
#include "text.h"
#include "towerloop/status.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct tl_svg_names names = {"oxygen", "Oxygen", "Over the run"};
    struct tl_html h = {.depth = 0};
    tl_html_open(&h, "div");
    const int status = tl_html_svg(&h, (const char *)data, size, &names);
    tl_html_close(&h);
    tl_fuzz_require(h.depth == 0 && h.out.data, "an element is left open");
    tl_fuzz_require(tl_utf8_fault(h.out.data, h.out.length) == h.out.length, "not UTF-8");
    if (status == TL_OK)
        tl_fuzz_require(tl_html_whole(&h), "not whole");
    tl_fuzz_require(!strstr(h.out.data, "<script"), "a script in a picture");
    tl_html_free(&h);
    return 0;
}
