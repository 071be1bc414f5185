/* What a failure does to the water's temperature, in sentences. */
#include <math.h>

#include "endure_view.h"

static void add_degC(struct tl_text *t, enum tl_dim dim, enum tl_unit_system units, double degC)
{
    char shown[TL_ENDURE_SHOWN];
    tl_display_text(dim, units, degC, 3, shown, sizeof shown);
    tl_text_add(t, shown);
}

void tl_endure_add_moment(struct tl_text *t, const struct tl_endure_study *s, double at_d)
{
    const struct tl_date d = tl_date_at(&s->scenario->start, at_d);
    tl_text_addf(t, "%04d-%02d-%02d at %02d:%02d", d.year, d.month, d.day, d.second / 3600,
                 d.second / 60 % 60);
}

/* Until when; nothing for what was so before. */
static void add_after(struct tl_text *t, double minutes)
{
    char after[TL_ENDURE_SHOWN];
    if (!(minutes > 0 && isfinite(minutes)))
        return;
    tl_endure_span(after, minutes);
    tl_text_addf(t, " after %s", after);
}

static void add_ice(struct tl_text *t, const struct tl_endure_frost *f, const char *mark)
{
    if (f->ice_min > 0) {
        tl_text_add(t, "the water freezes");
        add_after(t, f->ice_min);
    } else {
        tl_text_add(t, "there is ice on the water from the start");
    }
    tl_text_addf(t,
                 ": keep a hole open, with warm water, never with blows.%s No air comes through "
                 "ice, which is reckoned with.",
                 mark);
}

static void add_limit(struct tl_text *t, const struct tl_endure_frost *f, enum tl_unit_system units,
                      const char *mark)
{
    const enum tl_limit_id limit = (enum tl_limit_id)f->limit;
    const bool change = limit == TL_LIMIT_HOUR_CHANGE || limit == TL_LIMIT_DAY_CHANGE;
    const bool cold = limit == TL_LIMIT_COLD;
    const enum tl_dim dim = change ? TL_DIM_TEMPERATURE_SPAN : TL_DIM_TEMPERATURE;
    if (change)
        tl_text_add(t, "the water's temperature changes by ");
    else
        tl_text_addf(t, "the water %s too %s", f->before > 0 ? "is already" : "gets",
                     cold ? "cold" : "warm");
    if (!change) {
        if (!(f->before > 0))
            add_after(t, f->passed_min);
        tl_text_add(t, ": ");
    }
    add_degC(t, dim, units, f->worst);
    if (change)
        tl_text_addf(t, " within %s", limit == TL_LIMIT_DAY_CHANGE ? "a day" : "an hour");
    tl_text_addf(t, ", danger %s ", cold ? "below" : "above");
    add_degC(t, dim, units, f->danger);
    tl_text_addf(t, ". %s%s",
                 cold     ? "Cover the tank, feed nothing, warm it slowly."
                 : change ? "Cover the tank, feed nothing, bring it back slowly."
                          : "Shade the tank, feed nothing, cool it slowly.",
                 mark);
}

void tl_endure_add_frost(struct tl_text *t, const struct tl_endure_study *s,
                         const struct tl_worst_hour *when, const struct tl_endure_frost *f,
                         enum tl_unit_system units, const char *mark)
{
    const bool made = isfinite(f->ice_min) ? f->ice_min > 0 : !(f->before > 0);
    tl_text_add(t, made ? "If it fails on " : "On ");
    tl_endure_add_moment(t, s, when->at_d);
    if (made) {
        tl_text_add(t, ", water then ");
        add_degC(t, TL_DIM_TEMPERATURE, units, when->temperature_degC);
        tl_text_add(t, ",");
    }
    tl_text_add(t, " ");
    if (isfinite(f->ice_min))
        add_ice(t, f, mark);
    else
        add_limit(t, f, units, mark);
}
