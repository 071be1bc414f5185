/* What an answer costs and what has to be built for it. */
#include <math.h>

#include "answer.h"
#include "page.h"
#include "size_words.h"

static void add_money(struct tl_text *t, const char *lead, double amount, const char *behind)
{
    if (!isnan(amount))
        tl_text_addf(t, "%s%.2f%s", lead, amount, behind);
}

static void say_costs(const struct tl_size_own_run *own, FILE *f)
{
    const struct tl_bill *b = &own->bill;
    char currency[sizeof own->scenario.costs.currency + 2];
    struct tl_text t = {0};

    if (isnan(b->build) && isnan(b->month))
        return;
    tl_format(currency, sizeof currency, "%s%s", *own->scenario.costs.currency ? " " : "",
              own->scenario.costs.currency);
    tl_text_add(&t, "The answer costs");
    add_money(&t, " ", b->build, currency);
    if (!isnan(b->build))
        tl_text_addf(&t, " to build%s", isnan(b->month) ? "" : ", and");
    add_money(&t, " ", b->month, currency);
    if (!isnan(b->month))
        tl_text_addf(&t, " a month of 30 days, as its run of %s days ends",
                     tl_size_figure(own->scenario.setup.length_d).text);
    const double kwh = tl_amounts_kwh(&own->month);
    if (!isnan(kwh))
        tl_text_addf(&t, " (%s kWh)", tl_size_figure(kwh).text);
    tl_text_add(&t, "; what has no price under costs: is not counted.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

struct words {
    char text[40];
};

static struct words in_units(enum tl_dim dim, enum tl_unit_system units, double value)
{
    struct words w;
    tl_display_text(dim, units, value, 3, w.text, sizeof w.text);
    return w;
}

static void say_sheet(const struct tl_size_own_run *own, enum tl_unit_system units, FILE *f)
{
    const struct tl_build_sheet *s = &own->sheet;
    struct tl_text t = {0};
    tl_text_addf(&t, "To build it: %d tray%s with %s of media, %s dry",
                 own->scenario.setup.tower.trays, own->scenario.setup.tower.trays == 1 ? "" : "s",
                 in_units(TL_DIM_VOLUME, units, s->media_m3).text,
                 in_units(TL_DIM_MASS, units, 1000 * s->media_kg).text);
    tl_text_addf(&t, "; %s wet and running, %s with clogged drains",
                 in_units(TL_DIM_MASS, units, 1000 * s->wet_kg).text,
                 in_units(TL_DIM_MASS, units, 1000 * s->flooded_kg).text);
    tl_text_addf(&t, "; %s high on %s; the pump lifts %s. ",
                 in_units(TL_DIM_LENGTH, units, s->height_m).text,
                 in_units(TL_DIM_AREA, units, s->footprint_m2).text,
                 in_units(TL_DIM_LENGTH, units, s->lift_m).text);
    tl_text_add(&t,
                "A tall wet stack can topple: level ground, braced, no children on it. Pump and "
                "aerator belong on a residual-current device.");
    tl_answer_say(f, TL_PAGE_LINES, 2, &t);
}

void tl_size_bill(const struct tl_size_view *v, FILE *f)
{
    fprintf(f, "\n");
    say_costs(&v->own, f);
    say_sheet(&v->own, v->units, f);
}
