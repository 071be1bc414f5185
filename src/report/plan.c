/* The plan of the charts: one table, read by everything that draws. */
#include "plan.h"

#include <math.h>
#include <string.h>

#include "text.h"
#include "towerloop/chem.h"

/* clang-format off */
const struct tl_chart_plan tl_chart_plan[TL_NCHART] = {
    [TL_CHART_NITROGEN] = {
        .subject = "Ammonia, nitrite and nitrate in the tank",
        .note = "1 mg/L as N is 3.28 mg/L NO2 or 4.43 mg/L NO3. Ammonia limits follow pH and "
                "temperature, nitrite danger the salt.",
        .panel = {
            {.heading = "Total ammonia, mg/L as N", .height = 190, .quantity = TL_CHART_OF_TAN,
             .curve = {{"tank_tan_mgN_L", "ammonia (TAN)", TL_STYLE_FIRST, false},
                       {TL_COLUMN_TAN_CAUTION, "ammonia caution", TL_STYLE_CAUTION, true},
                       {TL_COLUMN_TAN_DANGER, "ammonia danger", TL_STYLE_DANGER, true}}},
            {.heading = "Nitrite, mg/L as N", .height = 190, .quantity = TL_CHART_OF_NO2,
             .curve = {{"tank_no2_mgN_L", "nitrite (NO2-N)", TL_STYLE_SECOND, false},
                       {TL_COLUMN_NO2_DANGER, "nitrite danger", TL_STYLE_DANGER, true}}},
            {.heading = "Nitrate, mg/L as N", .height = 150, .quantity = TL_CHART_OF_NO3,
             .curve = {{"tank_no3_mgN_L", "nitrate (NO3-N)", TL_STYLE_THIRD, false}}}}},
    [TL_CHART_AMMONIA] = {
        .subject = "Un-ionised ammonia, the poisonous part, in the tank",
        .note = "The same total ammonia holds more of it the higher the pH and the warmer "
                "the water. Limits judge the mean of an hour.",
        .panel = {
            {.heading = "Un-ionised ammonia (NH3-N), mg/L as N", .height = 400,
             .mark = TL_MARK_HIGHEST, .moments = true, .quantity = TL_CHART_OF_NH3,
             .curve = {{"tank_nh3_mgN_L", "un-ionised ammonia", TL_STYLE_FIRST, false}}}}},
    [TL_CHART_OXYGEN] = {
        .subject = "Dissolved oxygen",
        .note = "Saturation: what the water holds when it is in balance with the air.",
        .panel = {
            {.heading = "Oxygen, mg/L", .height = 420, .mark = TL_MARK_LOWEST,
             .quantity = TL_CHART_OF_O2,
             .curve = {{"tank_o2_mg_L", "tank", TL_STYLE_FIRST, false},
                       {"tower_out_o2_mg_L", "tower outlet", TL_STYLE_SECOND, false},
                       {TL_COLUMN_SATURATION, "saturation", TL_STYLE_REFERENCE, false}}},
            {.heading = "Green water, mg/L as COD", .height = 190, .optional = true,
             .curve = {{"tank_algae_mgCOD_L", "algae afloat", TL_STYLE_THIRD, false}}}}},
    [TL_CHART_PH_ALKALINITY] = {
        .subject = "pH and alkalinity in the tank",
        .note = "Alkalinity holds the pH up; the filter uses it up.",
        .panel = {
            {.heading = "pH", .height = 250, .range = TL_AROUND_DATA, .quantity = TL_CHART_OF_PH,
             .curve = {{"tank_ph", "pH", TL_STYLE_FIRST, false}}},
            {.heading = "Alkalinity, mg/L as CaCO3", .height = 250, .quantity = TL_CHART_OF_ALK,
             .curve = {{"tank_alkalinity_mgCaCO3_L", "alkalinity", TL_STYLE_FIRST, false}}}}},
    [TL_CHART_BIOFILM] = {
        .subject = "The living film in the tower, tray by tray",
        .note = "g COD/m2: organic matter on each square metre of wetted media, measured by the "
                "oxygen it would take to burn it.",
        .panel = {
            {.heading = "Ammonia oxidisers (turn ammonia into nitrite), g COD/m2", .height = 170,
             .tray_suffix = "_aob_gCOD_m2"},
            {.heading = "Nitrite oxidisers (turn nitrite into nitrate), g COD/m2", .height = 170,
             .tray_suffix = "_nob_gCOD_m2"},
            {.heading = "Heterotrophs (live on dissolved waste), g COD/m2", .height = 170,
             .tray_suffix = "_het_gCOD_m2"},
            {.heading = "Voids between the stones filled with film and trapped solids, %",
             .height = 170, .tray_suffix = "_voids_filled_pct"},
            {.heading = "Trays covered by algae, %", .height = 170, .optional = true,
             .tray_suffix = "_algae_cover_pct"}}},
    [TL_CHART_TEMPERATURE] = {
        .subject = "Temperature of the water, and what evaporates",
        .note = "What evaporates chills the water. Where the air is below freezing, ice can form on a "
                "running tower. Evaporation below 0 is dew.",
        .needs = "air_temperature_degC",
        .panel = {
            {.heading = "Temperature, %s", .height = 330, .range = TL_AROUND_DATA,
             .mark = TL_MARK_ICE, .dim = TL_DIM_TEMPERATURE,
             .quantity = TL_CHART_OF_TEMPERATURE,
             .curve = {{"temperature_degC", "water", TL_STYLE_FIRST, false},
                       {"air_temperature_degC", "air", TL_STYLE_SECOND, false},
                       {TL_COLUMN_FREEZING, "freezing", TL_STYLE_REFERENCE, true}}},
            {.heading = "Evaporation from tank, chamber and tower, %s a day", .height = 190,
             .dim = TL_DIM_VOLUME, .litres = true,
             .curve = {{"evaporation_L_d", "evaporation", TL_STYLE_THIRD, false}}}}},
    [TL_CHART_OVERVIEW] = {
        .subject = "Overview of the tank",
        .brief = true,
        .panel = {
            {.heading = "Total ammonia, mg/L as N", .height = 100, .quantity = TL_CHART_OF_TAN,
             .curve = {{"tank_tan_mgN_L", "ammonia (TAN)", TL_STYLE_FIRST, false},
                       {TL_COLUMN_TAN_CAUTION, "ammonia caution", TL_STYLE_CAUTION, true},
                       {TL_COLUMN_TAN_DANGER, "ammonia danger", TL_STYLE_DANGER, true}}},
            {.heading = "Nitrite, mg/L as N", .height = 100, .quantity = TL_CHART_OF_NO2,
             .curve = {{"tank_no2_mgN_L", "nitrite (NO2-N)", TL_STYLE_SECOND, false},
                       {TL_COLUMN_NO2_DANGER, "nitrite danger", TL_STYLE_DANGER, true}}},
            {.heading = "Un-ionised ammonia (NH3-N), mg/L as N", .height = 100,
             .mark = TL_MARK_HIGHEST, .moments = true, .quantity = TL_CHART_OF_NH3,
             .curve = {{"tank_nh3_mgN_L", "un-ionised ammonia", TL_STYLE_FIRST, false}}},
            {.heading = "Oxygen, mg/L", .height = 100, .mark = TL_MARK_LOWEST,
             .quantity = TL_CHART_OF_O2,
             .curve = {{"tank_o2_mg_L", "oxygen", TL_STYLE_FIRST, false}}},
            {.heading = "pH", .height = 84, .range = TL_AROUND_DATA, .quantity = TL_CHART_OF_PH,
             .curve = {{"tank_ph", "pH", TL_STYLE_FIRST, false}}},
            {.heading = "Alkalinity, mg/L as CaCO3", .height = 84, .quantity = TL_CHART_OF_ALK,
             .curve = {{"tank_alkalinity_mgCaCO3_L", "alkalinity", TL_STYLE_FIRST, false}}},
            {.heading = "Water temperature, %s", .height = 84, .range = TL_AROUND_DATA,
             .dim = TL_DIM_TEMPERATURE, .quantity = TL_CHART_OF_TEMPERATURE,
             .curve = {{"temperature_degC", "temperature", TL_STYLE_FIRST, false}}},
            {.heading = "Feed, %s", .height = 84, .dim = TL_DIM_MASS_FLOW,
             .curve = {{"feed_g_d", "feed", TL_STYLE_FIRST, false}}},
            {.heading = "Chlorine or chloramine in the tank, mg/L", .height = 100, .optional = true,
             .mark = TL_MARK_HIGHEST, .moments = true, .quantity = TL_CHART_OF_CHLORINE,
             .curve = {{"tank_chlorine_mgCl2_L", "chlorine", TL_STYLE_FIRST, false}}}}},
    [TL_CHART_STARTUP] = {
        .subject = "How the new filter starts up",
        .note = "First one kind of bacteria grows and turns ammonia into nitrite, then another turns "
                "nitrite into nitrate. Ready is no limit for fish.",
        .starting = true,
        .panel = {
            {.heading = "Total ammonia, mg/L as N", .height = 150, .quantity = TL_CHART_OF_TAN,
             .curve = {{"tank_tan_mgN_L", "ammonia (TAN)", TL_STYLE_FIRST, false},
                       {TL_COLUMN_TAN_CAUTION, "ammonia caution", TL_STYLE_CAUTION, true},
                       {TL_COLUMN_TAN_DANGER, "ammonia danger", TL_STYLE_DANGER, true}}},
            {.heading = "Nitrite, mg/L as N", .height = 150, .quantity = TL_CHART_OF_NO2,
             .curve = {{"tank_no2_mgN_L", "nitrite (NO2-N)", TL_STYLE_SECOND, false},
                       {TL_COLUMN_NO2_DANGER, "nitrite danger", TL_STYLE_DANGER, true}}},
            {.heading = "Un-ionised ammonia (NH3-N), mg/L as N", .height = 120,
             .mark = TL_MARK_HIGHEST, .moments = true, .quantity = TL_CHART_OF_NH3,
             .curve = {{"tank_nh3_mgN_L", "un-ionised ammonia", TL_STYLE_FIRST, false}}},
            {.heading = "Nitrate, mg/L as N", .height = 100, .quantity = TL_CHART_OF_NO3,
             .curve = {{"tank_no3_mgN_L", "nitrate (NO3-N)", TL_STYLE_THIRD, false}}}}},
    [TL_CHART_DAY] = {
        .subject = "One day of the tank, hour by hour",
        .note = "Ammonia leaves the fish hours after a meal; its un-ionised part is the poison. Oxygen falls "
                "while they digest, and with warmth.",
        .view = TL_VIEW_DAY,
        .needs = "excreted_tan_gN_d",
        .least_rows = 13,
        .panel = {
            {.heading = "Ammonia that the fish give off, g N a day", .height = 150,
             .curve = {{"excreted_tan_gN_d", "from the fish", TL_STYLE_SECOND, false}}},
            {.heading = "Total ammonia in the tank, mg/L as N", .height = 130,
             .quantity = TL_CHART_OF_TAN,
             .curve = {{"tank_tan_mgN_L", "ammonia (TAN)", TL_STYLE_FIRST, false},
                       {TL_COLUMN_TAN_CAUTION, "ammonia caution", TL_STYLE_CAUTION, true},
                       {TL_COLUMN_TAN_DANGER, "ammonia danger", TL_STYLE_DANGER, true}}},
            {.heading = "Un-ionised ammonia (NH3-N), mg/L as N", .height = 130,
             .mark = TL_MARK_HIGHEST, .moments = true, .quantity = TL_CHART_OF_NH3,
             .curve = {{"tank_nh3_mgN_L", "un-ionised ammonia", TL_STYLE_FIRST, false}}},
            {.heading = "Oxygen in the tank, mg/L", .height = 150, .range = TL_AROUND_DATA,
             .mark = TL_MARK_LOWEST, .quantity = TL_CHART_OF_O2,
             .curve = {{"tank_o2_mg_L", "oxygen", TL_STYLE_FIRST, false}}},
            {.heading = "pH in the tank", .height = 130, .range = TL_AROUND_DATA,
             .quantity = TL_CHART_OF_PH,
             .curve = {{"tank_ph", "pH", TL_STYLE_FIRST, false}}}}},
    [TL_CHART_TRAYS] = {
        .subject = "Down the tower, tray by tray",
        .note = "Mark: mean of the day. Bar: its lowest to highest. g COD/m2: organic matter of the "
                "film on each square metre.",
        .view = TL_VIEW_DAY,
        .needs = "tray01_tan_mgN_L"},
};

const struct tl_profile tl_profile[TL_PROFILES] = {
    {"Oxygen", "mg/L", "_o2_mg_L", "chamber_o2_mg_L"},
    {"Ammonia (TAN)", "mg/L as N", "_tan_mgN_L", "chamber_tan_mgN_L"},
    {"Nitrite (NO2-N)", "mg/L as N", "_no2_mgN_L", "chamber_no2_mgN_L"},
    {"Ammonia oxidisers", "g COD/m2", "_aob_gCOD_m2", NULL},
    {"Nitrite oxidisers", "g COD/m2", "_nob_gCOD_m2", NULL},
    {"Heterotrophs", "g COD/m2", "_het_gCOD_m2", NULL},
};
/* clang-format on */

const char *tl_chart_name(enum tl_chart_id id)
{
    static const char *const name[] = {
#define TL_CHART_NAME(chart, text) text,
        TL_CHART_LIST(TL_CHART_NAME)
#undef TL_CHART_NAME
    };
    return (unsigned)id < TL_NCHART ? name[id] : "";
}

enum tl_chart_quantity tl_plan_quantity(const char *column)
{
    for (size_t c = 0; c < TL_NCHART; c++)
        for (const struct tl_panel *p = tl_chart_plan[c].panel;
             p < tl_chart_plan[c].panel + TL_PANELS && p->heading; p++)
            if (p->curve[0].column && !strcmp(p->curve[0].column, column))
                return p->quantity;
    return TL_CHART_OF_NOTHING;
}

bool tl_plan_moves(const struct tl_chart_limit *l)
{
    return (l->quantity == TL_CHART_OF_TAN && !isfinite(l->value)) ||
           (l->quantity == TL_CHART_OF_NO2 && l->level == TL_CHART_DANGER && l->chloride_ratio > 0);
}

double tl_plan_limit_in(const struct tl_chart_limit *l, double temperature_degC, double ph,
                        double chloride_mg_L)
{
    if (l->quantity == TL_CHART_OF_NO2)
        return fmin(l->highest, fmax(l->value, chloride_mg_L / l->chloride_ratio));
    return l->level == TL_CHART_CAUTION ? tl_epa_ammonia_chronic(temperature_degC, ph, false)
                                        : tl_epa_ammonia_acute(temperature_degC, ph, false);
}

void tl_panel_heading(const struct tl_panel *p, enum tl_unit_system units, char *text, size_t size)
{
    const char *mark = strstr(p->heading, "%s");
    const bool as_recorded = p->litres && units == TL_METRIC;
    if (mark)
        tl_format(text, size, "%.*s%s%s", (int)(mark - p->heading), p->heading,
                  as_recorded ? "L" : tl_display_unit(p->dim, units), mark + 2);
    else
        tl_format(text, size, "%s", p->heading);
}

double tl_panel_value(const struct tl_panel *p, enum tl_unit_system units, double value)
{
    if (p->dim == TL_DIM_NUMBER || (p->litres && units == TL_METRIC))
        return value;
    return tl_display_value(p->dim, units, p->litres ? value / 1000 : value);
}

bool tl_plan_is_tray(const char *column)
{
    if (strncmp(column, "tray", 4))
        return false;
    const char *suffix = column + 4 + strspn(column + 4, "0123456789");
    const struct tl_panel *p = tl_chart_plan[TL_CHART_BIOFILM].panel;
    for (; p->heading && strcmp(suffix, p->tray_suffix); p++)
        ;
    return p->heading != NULL;
}

static bool is_drawn(enum tl_chart_view view, const char *column)
{
    for (size_t c = 0; c < TL_NCHART; c++)
        for (size_t p = 0; p < TL_PANELS && tl_chart_plan[c].view == view; p++)
            for (size_t k = 0; k < TL_CURVES; k++) {
                const char *drawn = tl_chart_plan[c].panel[p].curve[k].column;
                if (drawn && !strcmp(drawn, column))
                    return true;
            }
    return false;
}

/* What every view needs besides: time, and what limits move with. */
static bool is_common(const char *column)
{
    static const char *const common[] = {"time_d", "temperature_degC", "tank_ph",
                                         "tank_chloride_mg_L"};
    for (size_t i = 0; i < sizeof common / sizeof *common; i++)
        if (!strcmp(column, common[i]))
            return true;
    return false;
}

bool tl_plan_is_profile(const char *column)
{
    const bool tray = !strncmp(column, "tray", 4);
    const char *suffix = tray ? column + 4 + strspn(column + 4, "0123456789") : column;
    for (size_t i = 0; i < TL_PROFILES; i++) {
        const char *of = tray ? tl_profile[i].tray_suffix : tl_profile[i].coming;
        if (of && !strcmp(suffix, of))
            return true;
    }
    return false;
}

bool tl_plan_wants_of_day(const char *column)
{
    return is_common(column) || !strcmp(column, "feed_g_d") || tl_plan_is_profile(column) ||
           is_drawn(TL_VIEW_DAY, column);
}

bool tl_plan_wants(const char *column)
{
    return is_common(column) || !strcmp(column, "tank_o2_sat_pct") || tl_plan_is_tray(column) ||
           is_drawn(TL_VIEW_RUN, column);
}

size_t tl_chart_limits(const struct tl_limits *l, struct tl_chart_limit *out, size_t room)
{
    const struct {
        enum tl_chart_quantity quantity;
        enum tl_chart_side side;
        double caution, danger;
    } row[] = {
        {TL_CHART_OF_TAN, TL_CHART_ABOVE, l->tan_caution, l->tan_danger},
        {TL_CHART_OF_NO2, TL_CHART_ABOVE, l->no2.caution, l->no2.danger},
        {TL_CHART_OF_NO3, TL_CHART_ABOVE, l->no3.caution, l->no3.danger},
        {TL_CHART_OF_NH3, TL_CHART_ABOVE, l->nh3.caution, l->nh3.danger},
        {TL_CHART_OF_O2, TL_CHART_BELOW, l->o2.caution, l->o2.danger},
        {TL_CHART_OF_PH, TL_CHART_BELOW, l->ph_low.caution, l->ph_low.danger},
        {TL_CHART_OF_PH, TL_CHART_ABOVE, l->ph_high.caution, l->ph_high.danger},
        {TL_CHART_OF_ALK, TL_CHART_BELOW, l->alk.caution * TL_CACO3_G_PER_EQ,
         l->alk.danger * TL_CACO3_G_PER_EQ},
        {TL_CHART_OF_CHLORINE, TL_CHART_ABOVE, l->chlorine.caution, l->chlorine.danger},
        {TL_CHART_OF_TEMPERATURE, TL_CHART_BELOW, l->cold.caution, l->cold.danger},
        {TL_CHART_OF_TEMPERATURE, TL_CHART_ABOVE, l->warm.caution, l->warm.danger},
    };
    size_t n = 0;

    for (size_t i = 0; i < sizeof row / sizeof *row; i++)
        for (int level = TL_CHART_CAUTION; level <= TL_CHART_DANGER; level++) {
            double value = level == TL_CHART_CAUTION ? row[i].caution : row[i].danger;
            if ((!isfinite(value) && row[i].quantity != TL_CHART_OF_TAN) || n == room)
                continue;
            out[n] = (struct tl_chart_limit){.quantity = row[i].quantity,
                                             .level = (enum tl_chart_level)level,
                                             .side = row[i].side,
                                             .value = value};
            if (out[n].quantity == TL_CHART_OF_NO2 && level == TL_CHART_DANGER) {
                out[n].chloride_ratio = l->no2_chloride_ratio;
                out[n].highest = l->no2_danger_with_salt;
            }
            n++;
        }
    return n;
}
