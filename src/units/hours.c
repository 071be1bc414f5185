/* Hours for people. */
#include <math.h>

#include "text.h"
#include "towerloop/units.h"

#define WHOLE_FROM_H  100
#define MINUTES_BELOW 59.5

struct tl_hours tl_hours_text(double hours)
{
    struct tl_hours t = {"-"};
    if (hours > 0 && isfinite(hours))
        tl_format(t.text, sizeof t.text, "%.10g",
                  hours < WHOLE_FROM_H ? fmax(0.1, round(10 * hours) / 10) : round(hours));
    return t;
}

struct tl_hours tl_hours_span(double hours)
{
    struct tl_hours t = {"0 h"};
    if (hours > 0 && 60 * hours < MINUTES_BELOW)
        tl_format(t.text, sizeof t.text, "%.0f min", fmax(1, round(60 * hours)));
    else if (hours > 0)
        tl_format(t.text, sizeof t.text, "%s h", tl_hours_text(hours).text);
    return t;
}
