/* What each chart shows: panels, curves, words. */
#ifndef TOWERLOOP_REPORT_PLAN_H
#define TOWERLOOP_REPORT_PLAN_H

#include <stdbool.h>

#include "towerloop/chart.h"
#include "towerloop/units.h"

enum { TL_PANELS = 9, TL_CURVES = 5 }; /* at most, a chart and a panel */

/* Columns that are not in series.csv but follow from it. */
#define TL_COLUMN_SATURATION  "tank_o2_saturation_mg_L"
#define TL_COLUMN_TAN_CAUTION "tank_tan_caution_mgN_L"
#define TL_COLUMN_TAN_DANGER  "tank_tan_danger_mgN_L"
#define TL_COLUMN_NO2_DANGER  "tank_no2_danger_mgN_L"
#define TL_COLUMN_FREEZING    "freezing_degC"

/* Line styles of plots/style.gp. */
enum {
    TL_STYLE_FIRST = 1,
    TL_STYLE_SECOND,
    TL_STYLE_THIRD,
    TL_STYLE_REFERENCE,
    TL_STYLE_CAUTION = 21,
    TL_STYLE_DANGER,
    TL_STYLE_EVENT,
    TL_STYLE_READY,
    TL_STYLE_TRAY = 100 /* + the number of the tray */
};

struct tl_curve {
    const char *column;
    const char *name;
    int style;
    bool limit; /* a limit that changes with time, or a reference: no reason to stretch the scale */
};

enum tl_panel_range { TL_FROM_ZERO, TL_AROUND_DATA };
/* Of the first curve; ICE: it is a temperature of water, and shaded where that has come down to 0 degC. */
enum tl_panel_mark { TL_MARK_NOTHING, TL_MARK_LOWEST, TL_MARK_HIGHEST, TL_MARK_ICE };

struct tl_panel {
    const char *heading; /* NULL: there is no such panel; %s: the unit of `dim` */
    int height;          /* px */
    enum tl_panel_range range;
    enum tl_panel_mark mark;
    enum tl_dim dim;         /* TL_DIM_NUMBER: drawn in the unit of series.csv */
    bool litres;             /* the dimension is a volume, the column in L: drawn in L, or gal */
    bool optional;           /* the last panel: left out of a run that has none of it */
    bool moments;            /* its limits are judged by means, its mark is of a moment */
    const char *tray_suffix; /* the curves are all trays' columns with this ending */
    enum tl_chart_quantity
        quantity; /* whose limits are drawn: of one alone, so that each line is known */
    struct tl_curve curve[TL_CURVES];
};

/* Which rows a chart shows: all, or those of one day. */
enum tl_chart_view { TL_VIEW_RUN, TL_VIEW_DAY };

struct tl_chart_plan {
    const char *subject;
    const char *note;  /* at the foot, or NULL */
    const char *needs; /* a column without whose values there is no such chart; NULL: none */
    size_t least_rows; /* fewer do not show a day; 0: any */
    enum tl_chart_view view;
    bool starting; /* of runs whose films start new or seeded; its phases are its events */
    bool brief;    /* small panels: limits outside the scale are not mentioned */
    struct tl_panel panel[TL_PANELS]; /* none: what is no plot over time is laid out elsewhere */
};

extern const struct tl_chart_plan tl_chart_plan[TL_NCHART];

/* Its heading with its unit, and a value of its columns in that unit. */
void tl_panel_heading(const struct tl_panel *p, enum tl_unit_system units, char *text, size_t size);
double tl_panel_value(const struct tl_panel *p, enum tl_unit_system units, double value);

/* Is this a column of series.csv that some chart of the whole run needs? One of a day? */
bool tl_plan_wants(const char *column);
bool tl_plan_wants_of_day(const char *column);
/* Of the profile down the tower: of each tray the column with this ending, and of the water that comes
 * down on the first one, NULL: of no water. */
enum { TL_PROFILES = 6 };
extern const struct tl_profile {
    const char *heading, *unit, *tray_suffix, *coming;
} tl_profile[TL_PROFILES];
bool tl_plan_is_profile(const char *column);
/* Is it a curve of one tray? */
bool tl_plan_is_tray(const char *column);
/* What a column of the tank is about: TL_CHART_OF_NOTHING for one that no limit is for. */
enum tl_chart_quantity tl_plan_quantity(const char *column);
/* Does this limit change with the water? Then it is drawn as a curve. */
bool tl_plan_moves(const struct tl_chart_limit *l);
/* Where such a limit is in this water, in the unit of series.csv. */
double tl_plan_limit_in(const struct tl_chart_limit *l, double temperature_degC, double ph,
                        double chloride_mg_L);

#endif
