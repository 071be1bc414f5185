/* The right-hand side of the loop, and what happens at the stops. Used by the engine. */
#ifndef TOWERLOOP_MODEL_LOOP_H
#define TOWERLOOP_MODEL_LOOP_H

#include <stdbool.h>
#include <stddef.h>

#include "layout.h"
#include "towerloop/model.h"

#define TL_CHLORIDE_PER_CHLORINE     0.5    /* g Cl- per g Cl2, HOCL to Cl- */
#define TL_CHLORAMINE_N_PER_CHLORINE 0.1975 /* gN per g Cl2: 14.007 / 70.905 */

/* loop_kernel.h, film.h */
struct tl_flows;
struct tl_form;
struct tl_site;
struct tl_film_model;

const struct tl_layout *tl_model_layout(const struct tl_model *m);

/* dy/dt, all of it, per day. TL_OK or TL_E_SOLVER (a tray or a pH could not be solved: try a smaller
 * step). Nothing is allocated. */
int tl_loop_rhs(const struct tl_model *m, struct tl_work *w, const struct tl_controls *c,
                double t_d, const double *y, double *dydt);

/* What crosses the tower, m3/d. A trickle too small to wet trays counts as none: it runs past the media. */
double tl_tower_flow_m3_d(const struct tl_model *m, const struct tl_controls *c);
/* What the controls hold between two stops. */
void tl_model_flows(const struct tl_model *m, const struct tl_controls *c, struct tl_flows *out);

/* For who reckons many loops at once: what the right-hand side is made from. */
const struct tl_form *tl_model_form(const struct tl_model *m);
const struct tl_site *tl_model_site(const struct tl_model *m);
const struct tl_film_model *tl_model_film(const struct tl_model *m);

/* The sky at an instant. */
struct tl_sky;
void tl_model_sky(const struct tl_model *m, double t_d, struct tl_sky *out);

/* The tray whose water could not be balanced since the fault was cleared, 1-based; 0 = none. */
int tl_work_fault_tray(const struct tl_work *w);
void tl_work_clear_fault(struct tl_work *w);

/* The state and the controls at the start of the run. */
int tl_model_start(const struct tl_model *m, struct tl_controls *c, double *y);

/* A scale of each component for the absolute tolerance (times the relative one); running totals get
 * a huge one, which takes them out of error control. */
void tl_model_scales(const struct tl_model *m, double *scale);

/* "ammonia (TAN) in the tank" for component i of the state. */
void tl_model_component_name(const struct tl_model *m, size_t i, char *text, size_t size);

/* Rate at which each gut stage empties at an instant, 1/d: the guts hang on nothing else. */
double tl_model_gut_rate(const struct tl_model *m, double t_d);

/* --- stops -------------------------------------------------------------------------------- */

/* What happens at one instant, in this order when several fall together. */
enum tl_stop_kind {
    TL_STOP_RESTORE,
    TL_STOP_EVENT,
    TL_STOP_CHANGE,
    TL_STOP_EMPTY,        /* the settling chamber, by plan */
    TL_STOP_DECHLORINATE, /* a dose that has to meet the water let in just now */
    TL_STOP_DOSING,       /* a look at the alkalinity */
    TL_STOP_MEAL,
    TL_STOP_LOGGED_MEAL,
    TL_STOP_FOUL,
    TL_STOP_LIGHT /* the sun comes or goes: nothing changes but the slope of the light */
};

struct tl_stop {
    double t_d;
    enum tl_stop_kind kind;
    size_t index; /* of the event, or of the line of the log */
};

const struct tl_stop *tl_model_stops(const struct tl_model *m, size_t *count);

/* What `for:` brings back, one slot an event. */
struct tl_saved {
    double value;
    const struct tl_ration *ration;
};

/* Carry out a stop of tl_model_stops(): changes y and the controls, books what passes the border in the running totals.
 * Returns whether the flows changed, so that the integrator should start with a small step. */
bool tl_stop_apply(const struct tl_model *m, struct tl_work *w, const struct tl_stop *stop,
                   struct tl_saved *saved, struct tl_controls *c, double *y);

/* When media that stand without water begin to die off; INFINITY while water runs, and when they did. */
double tl_dry_out_d(const struct tl_controls *c);

/* Mass of feed a day at this biomass and temperature, g/d, of one group. */
double tl_ration_g_d(const struct tl_ration *r, double biomass_kg, double all_biomass_kg,
                     double t_degC);

/* Share of a film killed by this much residual chlorine in this time. */
double tl_chlorine_kill(const struct tl_params *p, double chlorine_g_m3, double contact_d);

double tl_model_biomass(const struct tl_model *m, const double *y);

#endif
