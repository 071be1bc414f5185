/* A quantity as text, in each dimension: a finite value that its own spelling gives back, or what is wrong and
 * what was expected. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "text.h"
#include "towerloop/status.h"
#include "towerloop/units.h"

enum { SIZE = 512 };

static void display(enum tl_dim dim, double value)
{
    for (int system = TL_METRIC; system <= TL_US; system++) {
        char text[SIZE], what[SIZE], expected[SIZE];
        double back;
        tl_display_text(dim, (enum tl_unit_system)system, value, 17, text, sizeof text);
        if (strlen(text) + 1 == sizeof text ||
            !isfinite(tl_display_value(dim, (enum tl_unit_system)system, value)))
            continue;
        tl_fuzz_require(tl_parse_quantity(text, dim, &back, what, expected, sizeof what) == TL_OK,
                        "%s, shown as \"%s\", is refused: %s", tl_dim_name(dim), text, what);
        /* ten digits are shown; a temperature has an offset */
        tl_fuzz_require(fabs(back - value) <= 1e-8 * (fabs(value) + 1000),
                        "%.17g became \"%s\", %.17g", value, text, back);
    }
}

static void parse(const char *text, enum tl_dim dim)
{
    char what[SIZE] = "", expected[SIZE] = "";
    double value = NAN;
    const int status = tl_parse_quantity(text, dim, &value, what, expected, sizeof what);
    tl_fuzz_require(status == TL_OK || status == TL_E_INPUT, "status %d", status);
    if (status == TL_OK) {
        tl_fuzz_require(isfinite(value), "\"%s\" became %g", text, value);
        display(dim, value);
        return;
    }
    tl_fuzz_require(*what && strlen(what) < sizeof what && strlen(expected) < sizeof expected,
                    "no reason");
    if (tl_utf8_fault(text, strlen(text)) == strlen(text))
        tl_fuzz_require(tl_utf8_fault(what, strlen(what)) == strlen(what), "a character is cut: %s",
                        what);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    double number;
    char *text = malloc(size + 1);
    tl_fuzz_require(text, "no memory");
    memcpy(text, data, size);
    text[size] = '\0';
    tl_fuzz_require(tl_parse_number(text, &number) <= strlen(text),
                    "a number longer than its text");
    for (int dim = 0; dim < TL_NDIM; dim++)
        parse(text, (enum tl_dim)dim);
    free(text);
    return 0;
}
