/* The heat of the loop, worked out from the weather when a model is built: temperature of the water,
 * what evaporates, ice. One temperature for tank, chamber and trays; the chemistry has no part in it.
 *
 * Evaporated water is replaced by source water as it goes. */
#ifndef TOWERLOOP_HEAT_COURSE_H
#define TOWERLOOP_HEAT_COURSE_H

#include <stddef.h>

struct tl_model;

/* Heat the water gained over the run, J; losses are negative. They add up to `stored`. */
#define TL_HEAT_FLOW_LIST(X)                                                                       \
    X(SUN, sun)                   /* taken up by tank and chamber */                               \
    X(LONG_WAVE, long_wave)       /* of the sky, less what the water radiates */                   \
    X(EVAPORATION, evaporation)   /* from tank and chamber */                                      \
    X(CONVECTION, convection)     /* at tank and chamber */                                        \
    X(WALLS, walls)               /* of tank and chamber */                                        \
    X(TOWER, tower)               /* to the air that crosses the trays, evaporation included */    \
    X(SOURCE_WATER, source_water) /* trickle and changes, for the water they push out */           \
    X(TOP_UP, top_up)             /* source water for what evaporated */                           \
    X(HEATER, heater)

enum tl_heat_flow {
#define TL_HEAT_FLOW_ENUM(id, name) TL_HEAT_##id,
    TL_HEAT_FLOW_LIST(TL_HEAT_FLOW_ENUM)
#undef TL_HEAT_FLOW_ENUM
        TL_NHEAT_FLOW
};

/* Instants are days since day 0, NAN: never. */
struct tl_heat_summary {
    double flow_j[TL_NHEAT_FLOW];
    double stored_j;
    double lowest_degC, lowest_d;
    double highest_degC, highest_d;
    double evaporated_m3;        /* from surfaces and tower, less dew; over the run */
    double tower_evaporated_m3;  /* of it in the tower */
    double top_up_m3;            /* source water that replaced it */
    double most_evaporated_m3_d; /* of a day from midnight to midnight */
    double most_evaporated_d;    /* that day's midnight */
    double heater_short_h;       /* hours at full power, below what it should keep, warm-up apart */
    double frost_h, frost_d;     /* air below 0 degC while water crosses the tower: hours, first */
    double tray_ice_h;   /* water freezes in the trays; dry air takes its heat above 0 degC, too */
    double ice_h, ice_d; /* ice on tank and chamber: hours, first */
    double fish_ice_h;   /* of them with fish in, as far as the scenario says */
    double most_ice_kg, most_ice_d;
    /* The tank alone takes new water before it mixes with the chamber: by how much that changes it within an
     * hour, degC, fish in or never any; the most of the run and when. An upper bound; 0: no change of water. */
    double tank_jump_degC, tank_jump_d;
    double frozen_d;  /* the first instant with hardly any liquid water: frozen to the bottom */
    double mean_degC; /* over the run */
    double air_lowest_degC, air_highest_degC;
};

struct tl_heat_course {
    size_t n; /* nodes, in the order of time; two at an instant where the water changes at once */
    double *t_d;
    double *water_degC;
    double *evaporated_m3; /* since the start */
    double *ice_kg;
    double *frozen;               /* share of the surface that it closes to gas */
    double *top_up_m3, *heater_j; /* since the start, as the summary has them at the end */
    struct tl_heat_summary summary;
};

/* The course of a model; NULL unless its temperature follows from the weather. */
const struct tl_heat_course *tl_model_heat(const struct tl_model *m);
/* Interpolated; constant beyond the ends, and after a change at its instant. */
double tl_heat_course_degC(const struct tl_heat_course *c, double t_d);
/* One of the totals of the course at an instant. */
double tl_heat_course_total(const struct tl_heat_course *c, const double *total, double t_d);
/* Water that evaporates, m3/d; below 0: dew. */
double tl_heat_course_evaporation_m3_d(const struct tl_heat_course *c, double t_d);

#endif
