/* Charts of a run, drawn by gnuplot from the run's own series.csv.
 *
 * gnuplot is started without a shell and reads no start-up file of the user; titles, event words and
 * paths never reach it as anything but data. */
#ifndef TOWERLOOP_CHART_H
#define TOWERLOOP_CHART_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/limits.h"
#include "towerloop/units.h"

/* The pictures: id, file name without its ending. */
#define TL_CHART_LIST(X)                                                                           \
    X(TL_CHART_NITROGEN, "nitrogen")                                                               \
    X(TL_CHART_AMMONIA, "ammonia")                                                                 \
    X(TL_CHART_OXYGEN, "oxygen")                                                                   \
    X(TL_CHART_PH_ALKALINITY, "ph_alkalinity")                                                     \
    X(TL_CHART_BIOFILM, "biofilm")                                                                 \
    X(TL_CHART_TEMPERATURE, "temperature") /* only of a run in the weather */                      \
    X(TL_CHART_OVERVIEW, "overview")                                                               \
    X(TL_CHART_STARTUP, "startup") /* only of a run whose films start new or seeded */             \
    X(TL_CHART_DAY, "day")         /* only where a full day has enough rows */                     \
    X(TL_CHART_TRAYS, "trays")

enum tl_chart_id {
#define TL_CHART_ENUM(id, name) id,
    TL_CHART_LIST(TL_CHART_ENUM)
#undef TL_CHART_ENUM
        TL_NCHART
};

/* "nitrogen", …: the picture is <out_dir>/<name>.png and so on. */
const char *tl_chart_name(enum tl_chart_id id);

/* File formats, to be or-ed together. */
#define TL_CHART_PNG 1u
#define TL_CHART_SVG 2u
#define TL_CHART_PDF 4u

/* What a limit is about; the unit is that of series.csv. */
enum tl_chart_quantity {
    TL_CHART_OF_NOTHING,
    TL_CHART_OF_TAN, /* mg/L as N */
    TL_CHART_OF_NO2, /* mg/L as N */
    TL_CHART_OF_NO3, /* mg/L as N */
    TL_CHART_OF_NH3, /* mg/L as N */
    TL_CHART_OF_O2,  /* mg/L */
    TL_CHART_OF_PH,
    TL_CHART_OF_ALK,         /* mg/L as CaCO3 */
    TL_CHART_OF_TEMPERATURE, /* degC */
    TL_CHART_OF_CHLORINE     /* mg/L as Cl2 */
};
enum tl_chart_level {
    TL_CHART_CAUTION,
    TL_CHART_DANGER,
    TL_CHART_READY /* no limit of the fish: from there on a filter counts as ready */
};
enum tl_chart_side { TL_CHART_ABOVE, TL_CHART_BELOW }; /* the side on which the limit is broken */

struct tl_chart_limit {
    enum tl_chart_quantity quantity;
    enum tl_chart_level level;
    enum tl_chart_side side;
    double value;     /* NAN for TL_CHART_OF_TAN: the EPA 2013 criterion of the moment is drawn */
    const char *text; /* its name on the chart; NULL: "caution" or "danger" */
    /* danger of nitrite only: > 0: salt moves it to chloride / chloride_ratio (mg/L), but never below
     * `value` nor above `highest` */
    double chloride_ratio;
    double highest;
};

/* Draws up the limits to show, at most `room` of them, and returns how many; TL_CHART_LIMITS is room
 * enough. */
#define TL_CHART_LIMITS 24
size_t tl_chart_limits(const struct tl_limits *l, struct tl_chart_limit *out, size_t room);

/* How far a quantity went in the run, which its rows, when they are far apart, may have missed. */
struct tl_chart_extreme {
    enum tl_chart_quantity quantity;
    enum tl_chart_side side; /* the highest of it, or the lowest */
    bool of_hour;            /* a mean of an hour: the highest moment went higher */
    double value;            /* in the unit of series.csv; NAN: not known */
    double t_d;              /* days since 00:00 of the start date */
};
#define TL_CHART_EXTREMES 16 /* at most so many of a run */

/* Where there is no room for the words of all events, those of the least weight are left out first. */
enum tl_chart_weight {
    TL_CHART_MEAL,
    TL_CHART_DOSE,
    TL_CHART_UPKEEP, /* cleaning, treated water, what puts things back */
    TL_CHART_STOCK,  /* fish in or out, a change of the ration */
    TL_CHART_HARM,   /* to the film or the fish: untreated water, medicine, dead fish */
    TL_CHART_OUTAGE,
    TL_CHART_PHASE /* what the chart is about */
};

struct tl_chart_event {
    double t_d;       /* days since 00:00 of the start date */
    double end_d;     /* > t_d: it lasts until then and is shaded; otherwise it is a moment */
    const char *text; /* a few words, as "pump off" */
    enum tl_chart_weight weight;
};

struct tl_chart_options {
    const char *series_csv;
    const char *out_dir;   /* where the pictures go; made when absent (its parent must exist) */
    const char *plots_dir; /* the gnuplot scripts; NULL: the running program's own */
    const char *title;     /* of the scenario, UTF-8; NULL: none */
    int start_year;        /* the date of day 0 */
    int start_month;       /* 1..12 */
    int start_day;         /* 1..31 */
    enum tl_unit_system units;
    unsigned formats; /* TL_CHART_PNG | …; 0: PNG and SVG */
    const struct tl_chart_event *event;
    size_t events;
    const struct tl_chart_limit *limit;
    size_t limits;
    const struct tl_chart_extreme *extreme; /* drawn and told besides the rows */
    size_t extremes;
    bool starting; /* the films start new or seeded */
    double ready_d,
        ready_tan_mgN_L, /* with that: when the filter is ready, NAN: never; thresholds */
        ready_no2_mgN_L;
    bool day_given; /* `day` is whose 24 h the charts of a day show; false: the last full one */
    long day;
    const double *meal_d; /* clock times of the meals of the ration, as shares of the day */
    size_t meals;
    const struct tl_chart_event *fed; /* meals as they were given, instead; each a moment */
    size_t feds;
    double time_limit_s;             /* for gnuplot, then it is killed; 0: 60 s */
    const volatile int *interrupted; /* non-zero: stop; may be NULL */
};

/* What is missing on this machine, so that the caller can say what to install. */
enum tl_chart_lack {
    TL_CHART_LACKS_NOTHING,
    TL_CHART_LACKS_GNUPLOT, /* Debian: gnuplot-nox */
    TL_CHART_LACKS_FONT     /* Debian: fonts-dejavu-core; the SVG files are written all the same */
};

#define TL_CHART_FAULT_SIZE   512
#define TL_CHART_UNSHOWN_SIZE 48
#define TL_CHART_LEFT_SIZE    24

struct tl_chart_outcome {
    enum tl_chart_lack lacks;
    size_t pictures;                 /* written whole and in place */
    char fault[TL_CHART_FAULT_SIZE]; /* one line for the user; empty on success */
    /* characters of the words that no font here has: "?" stands for each in PNG and PDF; empty: none */
    char unshown[TL_CHART_UNSHOWN_SIZE];
    char left
        [TL_CHART_LEFT_SIZE]; /* a folder beside the pictures that could not be deleted; empty: none */
};

/* Draws all the charts. A picture appears under its name only when it is whole; what stood there
 * before stays otherwise. TL_OK, TL_E_CHART (gnuplot is missing, fails, hangs, draws nothing; or the
 * series cannot be drawn), TL_E_IO, TL_E_INTERRUPTED or TL_E_MEMORY. */
int tl_charts_draw(const struct tl_chart_options *o, struct tl_chart_outcome *outcome);

#endif
