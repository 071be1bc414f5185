/* What an event does, in words: on the charts and where a scenario is said back. */
#include "event_words.h"

#include "text.h"

/* A quantity between words, with three digits and never a power of ten. */
static void say_quantity(struct tl_event_words *w, const char *before, enum tl_dim dim,
                         enum tl_unit_system units, double value, const char *after)
{
    char quantity[40];
    tl_display_text(dim, units, value, 3, quantity, sizeof quantity);
    tl_format(w->text, sizeof w->text, "%s%s%s", before, quantity, after);
}

struct tl_event_words tl_event_words(const struct tl_event *e, enum tl_unit_system units)
{
    static const char *const dose[TL_NDOSE] = {
        [TL_DOSE_BAKING_SODA] = " baking soda",
        [TL_DOSE_SALT] = " salt",
        [TL_DOSE_AMMONIUM_CHLORIDE] = " ammonium chloride",
    };
    struct tl_event_words w = {""};
#define SAY(...) tl_format(w.text, sizeof w.text, __VA_ARGS__)
    switch (e->kind) {
    case TL_EVENT_PUMP_FLOW:
        if (e->value > 0)
            say_quantity(&w, "pump ", TL_DIM_FLOW, units, e->value, "");
        else
            SAY("pump off");
        break;
    case TL_EVENT_PUMP_ON:
        SAY("pump on");
        break;
    case TL_EVENT_PUMPS_RUNNING:
        SAY("%.0f pump%s running", e->value, e->value == 1 ? "" : "s");
        break;
    case TL_EVENT_TO_TOWER:
        SAY("%.3g %% to the tower", 100 * e->value);
        break;
    case TL_EVENT_AERATOR:
        if (e->value > 0)
            say_quantity(&w, "aerator ", TL_DIM_MASS_FLOW, units, e->value, "");
        else
            SAY("aerator off");
        break;
    case TL_EVENT_AERATOR_ON:
        SAY("aerator on");
        break;
    case TL_EVENT_ADD_FISH:
        SAY("%.6g %s added", e->fish.count, e->fish.name);
        break;
    case TL_EVENT_REMOVE_FISH:
        SAY("%.6g %s removed", e->fish.count, e->fish.name);
        break;
    case TL_EVENT_RATION:
        if (e->ration.kind == TL_RATION_PER_BIOMASS)
            SAY("ration %.3g %%/d", 100 * e->ration.value);
        else if (e->ration.kind == TL_RATION_MASS)
            say_quantity(&w, "ration ", TL_DIM_MASS_FLOW, units, e->ration.value, "");
        else
            SAY("ration by temperature");
        break;
    case TL_EVENT_WATER_CHANGE:
        SAY("%.3g %% water changed", 100 * e->value);
        break;
    case TL_EVENT_DOSE:
        say_quantity(&w, "", TL_DIM_MASS, units, e->value, dose[e->dose]);
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        SAY("chamber cleaned");
        break;
    case TL_EVENT_CLEAN_PUMP:
        SAY("pump cleaned");
        break;
    case TL_EVENT_CLEAN_TRAY:
        SAY("tray %d rinsed", e->tray);
        break;
    case TL_EVENT_CLEAN_TRAYS:
        SAY("all trays rinsed");
        break;
    case TL_NEVENT:
        break;
    }
#undef SAY
    return w;
}
