/* What an event does, in words: on the charts and where a scenario is said back. */
#include "event_words.h"

#include "text.h"
#include "towerloop/shock.h"

/* A quantity between words, with three digits and never a power of ten. */
static void say_quantity(struct tl_event_words *w, const char *before, enum tl_dim dim,
                         enum tl_unit_system units, double value, const char *after)
{
    char quantity[40];
    tl_display_text(dim, units, value, 3, quantity, sizeof quantity);
    tl_format(w->text, sizeof w->text, "%s%s%s", before, quantity, after);
}

static void say_content(struct tl_event_words *w, const char *what, enum tl_unit_system units,
                        double value)
{
    char before[40];
    tl_format(before, sizeof before, "%s ", what);
    say_quantity(w, before, TL_DIM_CONC, units, value, "");
}

static void say_dose(struct tl_event_words *w, const struct tl_event *e, enum tl_unit_system units)
{
    static const char *const dose[TL_NDOSE] = {
        [TL_DOSE_BAKING_SODA] = " baking soda",
        [TL_DOSE_SALT] = " salt",
        [TL_DOSE_AMMONIUM_CHLORIDE] = " ammonium chloride",
        [TL_DOSE_THIOSULFATE] = " thiosulfate",
        [TL_DOSE_FORMALDEHYDE] = " formaldehyde",
        [TL_DOSE_PEROXIDE] = " hydrogen peroxide",
        [TL_DOSE_CHLORAMINE_T] = " chloramine-T",
    };
    if (e->by == TL_DOSE_MASS)
        say_quantity(w, "", TL_DIM_MASS, units, e->value, dose[e->dose]);
    else if (e->by == TL_DOSE_TO_RATIO)
        tl_format(w->text, sizeof w->text, "salt to chloride %.3g times nitrite N", e->value);
    else if (tl_dose_is_medicine(e->dose))
        say_content(w, dose[e->dose] + 1, units, e->value);
    else if (e->dose == TL_DOSE_SALT)
        say_quantity(w, "salt to chloride ", TL_DIM_CONC, units, e->value, "");
    else
        say_quantity(w, "soda to alkalinity ", TL_DIM_ALKALINITY, units, e->value, "");
}

static const char *tap(const struct tl_event *e)
{
    return e->tap_water ? " in tap water" : "";
}

struct tl_event_words tl_event_words(const struct tl_event *e, enum tl_unit_system units)
{
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
    case TL_EVENT_COVER:
        if (e->value > 0)
            SAY("%.3g %% of the water covered", 100 * e->value);
        else
            SAY("cover off");
        break;
    case TL_EVENT_COVER_ON:
        SAY("cover on");
        break;
    case TL_EVENT_HEATER_OFF:
        SAY("heater off");
        break;
    case TL_EVENT_HEATER_ON:
        SAY("heater on");
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
        say_dose(&w, e, units);
        break;
    case TL_EVENT_CLEAN_CHAMBER:
        SAY("chamber cleaned");
        break;
    case TL_EVENT_CLEAN_PUMP:
        SAY("pump cleaned");
        break;
    case TL_EVENT_CLEAN_TRAY:
        SAY("tray %d rinsed%s", e->tray, tap(e));
        break;
    case TL_EVENT_CLEAN_TRAYS:
        SAY("all trays rinsed%s", tap(e));
        break;
    case TL_EVENT_HOSE_TRAY:
        SAY("tray %d hosed off", e->tray);
        break;
    case TL_EVENT_HOSE_TRAYS:
        SAY("all trays hosed off");
        break;
    case TL_EVENT_KNOCK_OUT:
        SAY("%.3g %% of film%s killed", 100 * e->value,
            e->where == TL_WHERE_TOWER   ? " in the tower"
            : e->where == TL_WHERE_WALLS ? " on walls"
                                         : "");
        break;
    case TL_EVENT_DEAD_FISH:
        SAY("%.6g %s dead", e->fish.count, e->fish.name);
        break;
    case TL_NEVENT:
        break;
    }
#undef SAY
    return w;
}
