/* A run that lies finished in a folder. */
#include "finished.h"

#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "record.h"
#include "text.h"
#include "towerloop/status.h"

static const char text[] =
    "format: 1\nstart: 2027-05-01\nlength: 2 d\nreport every: 3 h\ntemperature: 20 degC\n"
    "tank: {volume: 12 m3, surface: 10 m2, wetted walls: 28 m2}\n"
    "settling chamber: {volume: 800 L, surface: 1 m2, wetted walls: 4 m2}\n"
    "pump: {flow: 1200 gal/h}\n"
    "tower: {trays: 2, media depth: 3 in, plan area: 4 ft2, media: lava rock, biofilm: new}\n"
    "source water: {alkalinity: 120 mg/L as CaCO3, pH: 7.8}\n"
    "fish: [{name: koi, count: 50, mean mass: 500 g}]\n"
    "feeding: {ration: 1 %/d, protein: 38 %, meals: [08:00]}\n"
    "events: [{at: day 1, change water: 10 %}]\n";

const struct tl_scenario *tl_fuzz_finished(void)
{
    static struct tl_scenario s;
    const struct tl_record_options options = {.rows = true};
    struct tl_diag diag;
    char why[256] = "";
    if (s.path)
        return &s;
    tl_diag_init(&diag);
    tl_fuzz_require(tl_scenario_read_text("pond.yaml", text, strlen(text), NULL, NULL, &s, &diag) ==
                        TL_OK,
                    "the pond is refused: %s", diag.count > 0 ? diag.message[0].what : "");
    tl_diag_free(&diag);
    tl_fuzz_require(tl_record_run(&s, &options, tl_fuzz_path("run"), why, sizeof why) == TL_OK,
                    "the pond does not run: %s", why);
    return &s;
}

void tl_fuzz_check_page(const char *path)
{
    char *page = NULL;
    size_t length = 0;
    tl_fuzz_require(tl_read_file(path, (size_t)64 << 20, &page, &length) == TL_OK, "no page");
    tl_fuzz_require(tl_utf8_fault(page, length) == length, "a page that is not UTF-8");
    tl_fuzz_require(strlen(page) == length, "a NUL byte in a page");
    for (size_t i = 0; i < length; i++)
        tl_fuzz_require((unsigned char)page[i] >= 0x20 || page[i] == '\n' || page[i] == '\t',
                        "a control character in a page");
    tl_fuzz_require(!strstr(page, "<script"), "a script in a page");
    free(page);
}
