/* The arithmetic of a handbook, line by line, and the warning that it is no answer. */
#include <math.h>
#include <string.h>

#include "answer.h"
#include "page.h"
#include "size_words.h"

enum { NAME = 40, FIGURE = 11 };
#define ALIKE 0.005 /* figures that differ no more than that need no reason */

/* Units of the lines that a reader in the US writes otherwise. */
static const struct {
    const char *unit;
    enum tl_dim dim;
    double factor; /* to the base unit */
    const char *of;
} us_unit[] = {
    {"kg", TL_DIM_MASS, 1000, ""},           {"g/d", TL_DIM_MASS_FLOW, 1, ""},
    {"gN/d", TL_DIM_MASS_FLOW, 1, " N"},     {"gCaCO3/d", TL_DIM_MASS_FLOW, 1, " CaCO3"},
    {"gVSS/d", TL_DIM_MASS_FLOW, 1, " VSS"}, {"m2", TL_DIM_AREA, 1, ""},
    {"m3/h", TL_DIM_FLOW, 24, ""},           {"m3/d", TL_DIM_FLOW, 1, ""},
};

static void say_line(const struct tl_handbook_line *l, enum tl_unit_system units, FILE *f)
{
    double value = l->value, simulated = l->simulated;
    const char *unit = l->unit, *of = "";
    struct tl_text t = {0};
    for (size_t i = 0; units == TL_US && i < sizeof us_unit / sizeof *us_unit; i++)
        if (strcmp(us_unit[i].unit, l->unit) == 0) {
            unit = tl_display_unit(us_unit[i].dim, units);
            of = us_unit[i].of;
            value = tl_display_value(us_unit[i].dim, units, us_unit[i].factor * value);
            simulated = tl_display_value(us_unit[i].dim, units, us_unit[i].factor * simulated);
        }
    tl_text_addf(&t, "%-*s%*s%*s%s%s%s", NAME, l->name, FIGURE, tl_size_figure(value).text, FIGURE,
                 tl_size_figure(simulated).text, *unit ? "  " : "", unit, of);
    tl_answer_line(f, &t);
    tl_text_addf(&t, "    %s; source: %s.", l->formula, l->source);
    tl_answer_say(f, TL_PAGE_LINES, 4, &t);
    if (*l->why && !(fabs(l->value - l->simulated) <= ALIKE * fabs(l->value))) {
        tl_text_addf(&t, "    Why they differ: %s.", l->why);
        tl_answer_say(f, TL_PAGE_LINES, 4, &t);
    }
}

static double value_of(const struct tl_handbook *h, const char *key)
{
    for (size_t i = 0; i < h->lines; i++)
        if (strcmp(h->line[i].key, key) == 0)
            return h->line[i].value;
    return NAN;
}

static void say_warning(const struct tl_size_view *v, FILE *f)
{
    const struct tl_size_quantity *q = &v->quantity[0];
    struct tl_text t = {0};
    tl_text_add(&t, "WARNING: rules of thumb, not an answer. They know no biofilm, no night and no "
                    "dirt, and can call for far too little: do not build by them.");
    if (v->own.made && !q->most && strcmp(q->path, "tower.trays") == 0)
        tl_text_addf(&t, " They call for %s and %s trays; the simulation needs %s.",
                     tl_size_figure(value_of(&v->hand, "trays_by_law")).text,
                     tl_size_figure(value_of(&v->hand, "trays_by_line")).text,
                     tl_size_value(q, v->one.point[v->one.answer].value).text);
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

void tl_size_by_hand(const struct tl_size_view *v, FILE *f)
{
    struct tl_text t = {0};
    tl_text_addf(&t, "\n%-*s%*s%*s", NAME, "By hand", FIGURE, "by hand", FIGURE, "simulated");
    tl_answer_line(f, &t);
    say_warning(v, f);
    for (size_t i = 0; i < v->hand.lines; i++)
        say_line(&v->hand.line[i], v->units, f);
    tl_text_addf(
        &t,
        "Simulated: means over the whole run%s. By hand: at its warmest, with the most feed "
        "of a day; nothing grows and nothing lags.%s",
        v->own.made ? " with the answer put in" : " of the scenario as it is",
        v->units == TL_US ? " Formulas are metric, as they were published." : "");
    tl_answer_say(f, TL_PAGE_LINES, 0, &t);
}
