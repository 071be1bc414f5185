/* A model: a setup checked and compiled, constant from then on; shared by any number of runs.
 *
 * The state of a run is one vector y: water of tank and chamber, sludge, films, fish, the tower's
 * nitrogen store, then running totals (extents of every process and flux) from which the ledger is
 * drawn up. tl_layout says where everything is. */
#ifndef TOWERLOOP_MODEL_H
#define TOWERLOOP_MODEL_H

#include <stdbool.h>
#include <stddef.h>

#include "towerloop/component.h"
#include "towerloop/setup.h"

struct tl_model;

/* Compile a setup (copied). The setup must be valid: the scenario reader sees to that; a setup made
 * by hand that is not gives TL_E_INPUT. TL_E_MEMORY when memory runs out. Free with tl_model_free. */
int tl_model_build(const struct tl_setup *setup, struct tl_model **out);
void tl_model_free(struct tl_model *m);
const struct tl_setup *tl_model_setup(const struct tl_model *m);
/* What the pump moves at the end of the run, as planned: events, fouling and cleaning. */
double tl_model_last_flow_m3_d(const struct tl_model *m);
/* The least of it while the pumps run, by plan and fouling, m3/d; 0 when they never do. */
double tl_model_least_flow_m3_d(const struct tl_model *m);

/* What is fixed between two stops of the integrator. */
struct tl_controls {
    double flow_m3_d; /* pump, 0 = off */
    double to_tower;  /* share that crosses the tower */
    double aerator_g_d;
    double cover;         /* covered share of the surface */
    double dry_since_d;   /* when the trays lost their water; NAN while it runs */
    double dries_d;       /* when they will be dry; INFINITY while it runs */
    double wetted_at_m_h; /* last hydraulic load of the trays: their wetted area keeps to it */
    bool dried_out;       /* the extra die-off has begun */
    const struct tl_ration *ration;
};

/* Everything a row of output shows, in base units. */
struct tl_snapshot {
    double t_d; /* days since day 0 */
    double temperature_degC;
    double pressure_atm;
    double flow_m3_d; /* pump */
    double tower_flow_m3_d;
    bool tower_on; /* false: tower_out is not meaningful */
    double tank[TL_NWATER];
    double chamber[TL_NWATER];
    double tower_out[TL_NWATER];
    double tank_ph, chamber_ph, tower_out_ph;
    double tank_co2_mol_m3;
    double tank_wall[TL_NFILM]; /* gCOD/m2 of effective wall */
    double chamber_wall[TL_NFILM];
    int trays;
    double (*tray)[TL_NFILM];  /* gCOD/m2 of wetted media, tray 1 first */
    double *tray_voids_filled; /* 0..1 */
    bool sunny, green;         /* there are mats; there is green water */
    double *tray_cover;        /* 0..1, by algae; 0 without sun */
    double green_g_m3;         /* gCOD/m3 */
    double *tray_o2;           /* water leaving each tray, g/m3; NAN while the tower is off */
    double *tray_tan;
    double *tray_no2;
    double *
        tray_airless; /* share of the film that oxygen does not reach; NAN while the tower is off */
    double sludge_gCOD;
    double fish_kg;
    double feed_g_d;      /* the daily ration at this moment */
    double excreted_gN_d; /* ammonia from the fish at this moment */
    double air_degC;      /* NAN where the temperature of the water is given */
    double evaporation_m3_d;
};

/* A workspace for evaluating one model from one thread. */
struct tl_work;
int tl_work_new(const struct tl_model *m, struct tl_work **out);
void tl_work_free(struct tl_work *w);

int tl_snapshot_alloc(const struct tl_model *m, struct tl_snapshot *s);
void tl_snapshot_free(struct tl_snapshot *s);
/* TL_OK or TL_E_SOLVER. */
int tl_model_snapshot(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                      double t_d, const double *y, struct tl_snapshot *out);

/* Only time, temperature, pressure, flows, the tank's water, pH and carbon dioxide, and the mass of fish: what a
 * judge of the tank needs, without a pass down the tower; all else in `out` is left alone. TL_OK or
 * TL_E_SOLVER. */
int tl_model_glance(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                    double t_d, const double *y, struct tl_snapshot *out);

/* The same from the tank's water (TL_NWATER concentrations) and the mass of fish. */
int tl_model_glance_at(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *tank, double fish_kg, struct tl_snapshot *out);

/* What holds the tower's ammonia oxidisers back: factors 0..1 of their growth rate, means over the
 * trays weighted by their mass; alkalinity and pH are those of the water pumped up. */
struct tl_limiting {
    double at_d; /* NAN: not known */
    double
        flow; /* over the tower, against all that the pump is set to move; 0: none, the rest is 0 too */
    double film; /* their mass per area against what mature media start with; may exceed 1 */
    double ammonia;
    double oxygen;
    double alkalinity;
    double ph;
    double depth; /* what crowding in depth and overlying matter leave */
};
void tl_model_limiting(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y, struct tl_limiting *out);

/* A tray, while water crosses it. */
struct tl_tray_glance {
    double o2_g_m3, no3_g_m3; /* of the water leaving */
    double filled;            /* share of the voids taken up by film and what it holds, 0..1 */
    double airless;           /* share of the film that oxygen does not reach, 0..1 */
};
/* Have the water of the state `y` cross the trays once; the tower must be running. TL_OK or TL_E_SOLVER. */
int tl_model_cross_bed(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                       double t_d, const double *y);
/* A tray (1 is the uppermost) after that, or after a snapshot of the same `y`. */
void tl_model_tray(const struct tl_model *m, const struct tl_work *w, const double *y, int tray,
                   struct tl_tray_glance *out);

/* What was dosed up to a moment, from the running totals in the state `y`. */
#define TL_DOSES_SHOWN 8
struct tl_doses {
    double mass_g[TL_NDOSE];      /* of each substance, plan and events together */
    double held_g;                /* baking soda by the plan that holds the alkalinity */
    double held_most_g;           /* at one look */
    double held_most_d;           /* when that was */
    double held_times;            /* looks at which some was given */
    double held_short;            /* of these, looks at which the bound left some missing */
    size_t measured;              /* doses that were no mass in the scenario; the first of them: */
    size_t event[TL_DOSES_SHOWN]; /* index in the setup */
    double event_g[TL_DOSES_SHOWN];
    double
        chlorine_g_d_m3; /* what was not taken away: residual chlorine of the tank over the time */
};
void tl_model_doses(const struct tl_model *m, const double *y, struct tl_doses *out);

/* Trays on which algae may grow, from the top: 0 without sun. Share of one of them, 0 the top, that they
 * cover in the state `y`. Whether there is green water. */
size_t tl_model_lit_trays(const struct tl_model *m);
double tl_model_cover(const struct tl_model *m, const double *y, size_t tray);
bool tl_model_has_green_water(const struct tl_model *m);

/* Share of the voids of a tray, 0 the top, that film and trapped solids fill in the state `y`; and share
 * of the settling chamber that sludge fills. */
double tl_model_voids_filled(const struct tl_model *m, const double *y, int tray);
/* What that leaves of the tray's wetted area, 0..1. */
double tl_model_voids_spread(const struct tl_model *m, const double *y, int tray);
double tl_model_chamber_filled(const struct tl_model *m, const double *y);
/* Ammonia oxidisers of all trays, gCOD. */
double tl_model_oxidisers_g(const struct tl_model *m, const double *y);

/* Temperature of the loop at an instant, degC. */
double tl_model_temperature(const struct tl_model *m, double t_d);

#endif
