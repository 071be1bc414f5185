/* What the levers of the advice have in common: their words, figures and events. */
#include "levers.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>

#include "text.h"
#include "towerloop/advice.h"

void tl_lever_say(char *text, const char *format, ...)
{
    struct tl_text t = {0};
    va_list args;
    va_start(args, format);
    tl_text_addv(&t, format, args);
    va_end(args);
    (void)tl_format(text, TL_ADVICE_TEXT, "%s", tl_text_string(&t));
    tl_text_free(&t);
}

double tl_lever_round2(double x)
{
    if (!(x > 0))
        return 0;
    const double step = pow(10, floor(log10(x)) - 1);
    return ceil(x / step) * step;
}

#define SMALL 1e-4

struct tl_lever_figure tl_lever_figure(double x, int digits)
{
    struct tl_lever_figure f;
    if (x > 0 && x < SMALL)
        (void)tl_format(f.text, sizeof f.text, "<0.0001");
    else
        tl_display_text(TL_DIM_NUMBER, TL_METRIC, x, digits, f.text, sizeof f.text);
    return f;
}

struct tl_lever_figure tl_lever_amount(const struct tl_question *q, enum tl_dim dim,
                                       double base_value)
{
    struct tl_lever_figure f;
    tl_display_text(dim, q->units, base_value, 2, f.text, sizeof f.text);
    return f;
}

double tl_lever_aerator_g_d(const struct tl_setup *s)
{
    double biomass_kg = 0;
    for (size_t i = 0; i < s->fish_groups; i++)
        biomass_kg += s->fish[i].count * s->fish[i].mean_mass_g / 1000;
    return fmax(24, tl_lever_round2(2.4 * biomass_kg));
}

struct tl_event *tl_lever_append_event(struct tl_scenario *s)
{
    struct tl_event *more = realloc(s->setup.event, (s->setup.events + 1) * sizeof *s->setup.event);
    if (!more)
        return NULL;
    s->setup.event = more;
    more[s->setup.events] = (struct tl_event){0};
    return &more[s->setup.events++];
}
